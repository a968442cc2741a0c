"""How big a pit must be, what else is possible, and the ground it takes."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from siting.errors import InputError
from siting.ground_taken import outline_dimensions
from siting.pits import (
    MAX_DIAMETER_M,
    alternatives,
    cylinder_m3,
    filled_pit,
    kept_m3,
    latrine_pit,
    placenta_pit,
    support_wanted,
)

ROUNDING_M = 1e-9
DEPTHS_IN_USE_M = {2: 1.5, 6: 3.5, 9: 4.5, 11: 5.5}
"Births a day to least depth, inside diameter 1.0 m: common practice."


@pytest.mark.parametrize("litres", [4.49, 4.6, 4.77])
@pytest.mark.parametrize("births", DEPTHS_IN_USE_M)
def test_the_depths_in_use_come_out(births, litres):
    """Any value of the calibrated range gives all four rows of common practice."""
    assert DEPTHS_IN_USE_M[births] == placenta_pit(births, litres_per_birth=litres).depth_m


@pytest.mark.parametrize("litres", [4.47, 4.79])
def test_outside_the_range_a_row_differs(litres):
    """The calibrated range is as narrow as the docstring says."""
    found = {births: placenta_pit(births, litres_per_birth=litres).depth_m for births in DEPTHS_IN_USE_M}
    assert found != DEPTHS_IN_USE_M


def test_the_default_is_the_calibrated_one_and_says_so():
    """Without litres given, the result says that no source was published; with litres given it does not."""
    assert 3.5 == placenta_pit(6).depth_m
    assert "no published source" in placenta_pit(6).because[0]
    assert "no published source" not in placenta_pit(6, litres_per_birth=5.0).because[0]
    assert placenta_pit(6, litres_per_birth=5.0).because[0].startswith("5 litres a birth")


@given(births=st.floats(0.1, 40), more=st.floats(0.0, 20), diameter_m=st.floats(0.8, 1.5))
def test_a_pit_holds_what_it_must(births, more, diameter_m):
    """Below the freeboard there is room for what is kept, in less than one step more; births only deepen it."""
    size = placenta_pit(births, diameter_m=diameter_m)
    room_m3 = cylinder_m3(diameter_m, depth_m=size.depth_m - 0.5)
    assert room_m3 >= size.volume_m3 * (1 - 1e-6)
    assert size.depth_m == 1.5 or size.depth_m - size.least_depth_m < 0.5
    assert placenta_pit(births + more, diameter_m=diameter_m).depth_m >= size.depth_m
    assert (size.depth_m / 0.5) % 1 == pytest.approx(0.0, abs=ROUNDING_M)


@given(births=st.floats(1, 10))
def test_ground_that_holds_water_needs_ten_times_the_room(births):
    """With nothing soaking away the volume is ten times that of the default, and time scales it too."""
    volume_m3 = placenta_pit(births).volume_m3
    assert 10 * volume_m3 == pytest.approx(placenta_pit(births, retained_share=1.0).volume_m3, rel=1e-9)
    assert 2 * volume_m3 == pytest.approx(placenta_pit(births, life_years=4.0).volume_m3, rel=1e-9)


def test_other_ways_for_a_high_water_table():
    """9 births a day want 4.5 m; where 3.0 m are allowed: 1.3 m wide, two pits of 1.0 m, but no collar of 1.5 m."""
    wider, two, raised = alternatives(placenta_pit(9), allowed_depth_m=3.0)
    # 9 x 365.25 x 2 x 4.6 x 0.1 / 1000 = 3.0243 m3 over 2.5 m: diameter 1.2411 m; half of it: 0.8776 m.
    assert (True, 1.3, 3.0) == (wider.fits, wider.diameter_m, wider.depth_m)
    assert (True, 1.0, 3.0, 2) == (two.fits, two.diameter_m, two.depth_m, two.pits)
    assert (False, 1.5, 3.0) == (raised.fits, raised.collar_m, raised.depth_m)
    assert cylinder_m3(wider.diameter_m, depth_m=2.5) >= placenta_pit(9).volume_m3
    assert 2 * cylinder_m3(two.diameter_m, depth_m=2.5) >= placenta_pit(9).volume_m3


def test_where_nothing_fits_every_way_says_so():
    """With half a metre allowed there is no room below the freeboard, and no collar is high enough."""
    ways = alternatives(placenta_pit(9), allowed_depth_m=0.5)
    assert [False, False, False] == [way.fits for way in ways]
    assert MAX_DIAMETER_M == ways[0].diameter_m


def test_enough_depth_needs_nothing_else():
    """Where the depth is allowed, the wider pit is no wider and the raised one is not raised."""
    wider, two, raised = alternatives(placenta_pit(6), allowed_depth_m=3.5)
    assert (True, 1.0, 3.5) == (wider.fits, wider.diameter_m, wider.depth_m)
    assert (True, 0.0) == (raised.fits, raised.collar_m)
    assert 2 == two.pits
    assert 1.0 == alternatives(placenta_pit(6), allowed_depth_m=2.5)[2].collar_m
    assert alternatives(placenta_pit(6), allowed_depth_m=2.5)[2].fits


@pytest.mark.parametrize(
    ("depth_m", "countries"),
    [
        # UK ICE above 1.2 m (seen-2); Canada above 1.2 m, New Zealand above 1.5 m, US from 1.52 m (seen)
        (1.2, ()),
        (1.21, ("United Kingdom", "Canada")),
        (1.5, ("United Kingdom", "Canada")),
        (1.51, ("United Kingdom", "Canada", "New Zealand")),
        (1.52, ("United Kingdom", "Canada", "New Zealand", "United States")),
    ],
)
def test_depths_that_want_support(depth_m, countries):
    """Guidance of each country counts from its own depth."""
    assert countries == tuple(rule.country for rule in support_wanted(depth_m))


def test_sharps_and_ash_fill_by_volume():
    """100 litres a month for 5 years are 6 m3; on 1.5 m that is 3.395 m, plus 0.5 m, so 4.0 m (own)."""
    size = filled_pit(100.0, life_years=5.0, diameter_m=1.5)
    assert 6.0 == pytest.approx(size.volume_m3, abs=ROUNDING_M)
    assert 6.0 / (pi / 4 * 2.25) + 0.5 == pytest.approx(size.least_depth_m, abs=ROUNDING_M)
    assert 4.0 == size.depth_m


def test_a_depth_on_a_step_is_not_rounded_to_the_next():
    """A pit that needs exactly 2.0 m is 2.0 m deep."""
    litres = pi / 4 * 1.5 * 1000 / 12
    assert 2.0 == filled_pit(litres, life_years=1.0, diameter_m=1.0).depth_m
    assert 2.5 == filled_pit(litres * 1.001, life_years=1.0, diameter_m=1.0).depth_m


@pytest.mark.parametrize(
    "call",
    [
        lambda: placenta_pit(0),
        lambda: placenta_pit(4000),
        lambda: placenta_pit(3, diameter_m=1000.0),
        lambda: placenta_pit(3, freeboard_m=5.0),
        lambda: placenta_pit(3, life_years=0.0),
        lambda: placenta_pit(3, litres_per_birth=0.005),
        lambda: placenta_pit(3, retained_share=10.0),
        lambda: placenta_pit(3, retained_share=0.0),
        lambda: latrine_pit(0, life_years=5),
        lambda: filled_pit(-1.0, life_years=5, diameter_m=1.0),
        lambda: outline_dimensions(1.0, wall_m=0.0022),
        lambda: outline_dimensions(1.0, enclosure_wall_m=15.0),
        lambda: outline_dimensions(1.0, door_m=90.0),
        lambda: outline_dimensions(1.0, apron_m=-0.5),
        lambda: support_wanted(0.0),
        lambda: alternatives(placenta_pit(3), allowed_depth_m=0.0),
        lambda: kept_m3(-1.0, retained_share=0.5),
    ],
)
def test_values_that_cannot_be_meant_are_refused(call):
    """Slips of unit and impossible values are refused and never repaired."""
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.faults[0].do_next


def test_the_ground_a_pit_takes():
    """Walls 0.23 and 0.15 m (common practice) and the default room give 1.46, 3.46 by 2.76 and 5.46 by 4.76 m (own)."""
    ground = outline_dimensions(1.0)
    assert 1.46 == pytest.approx(ground.pit_outer_diameter_m, abs=ROUNDING_M)
    assert 2.46 == pytest.approx(ground.apron_diameter_m, abs=ROUNDING_M)
    assert 0.15 * 2 + 1.2 + 1.46 + 0.5 == pytest.approx(ground.enclosure_length_m, abs=ROUNDING_M)
    assert 0.15 * 2 + 1.46 + 2 * 0.5 == pytest.approx(ground.enclosure_width_m, abs=ROUNDING_M)
    assert 5.46 == pytest.approx(ground.working_length_m, abs=ROUNDING_M)
    assert 4.76 == pytest.approx(ground.working_width_m, abs=ROUNDING_M)
    assert len(ground.reasons) == 4


def test_a_wider_door_or_apron_takes_more_ground():
    """A door wider than the standing room, or an apron wider than the passage, decides the length."""
    plain = outline_dimensions(1.0)
    door = outline_dimensions(1.0, door_m=1.5)
    apron = outline_dimensions(1.0, apron_m=0.8)
    assert plain.enclosure_length_m + 0.3 == pytest.approx(door.enclosure_length_m, abs=ROUNDING_M)
    assert plain.enclosure_width_m == pytest.approx(door.enclosure_width_m, abs=ROUNDING_M)
    assert plain.enclosure_length_m + 0.3 == pytest.approx(apron.enclosure_length_m, abs=ROUNDING_M)
    assert plain.enclosure_width_m + 0.6 == pytest.approx(apron.enclosure_width_m, abs=ROUNDING_M)


def test_the_working_strip_runs_along_both_sides():
    """A strip of 0.7 m adds 1.4 m to length and width."""
    ground = outline_dimensions(1.2, working_strip_m=0.7)
    assert ground.enclosure_length_m + 1.4 == pytest.approx(ground.working_length_m, abs=ROUNDING_M)
    assert ground.enclosure_width_m + 1.4 == pytest.approx(ground.working_width_m, abs=ROUNDING_M)
