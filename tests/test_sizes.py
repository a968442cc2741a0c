"""How large a wanted installation is: what is asked for, else what its use asks, else the defaults."""

import pytest
from conftest import WORDS

from siting.errors import InputError
from siting.installation import wanted
from siting.pits import placenta_pit
from siting.site import Request
from siting.sizes import can_be_placed, size

WALL_M = 0.23
"One brick round the pit (*common practice*)."


@pytest.mark.parametrize(
    ("kind", "can"),
    [("placenta pit", True), ("incinerator", True), ("well", True), ("borehole", True), ("ward", False)],
)
def test_what_can_be_placed(kind, can):
    """Installations, and wells or boreholes among them; buildings stand where they stand."""
    assert can is can_be_placed(kind, WORDS)


@pytest.mark.parametrize(
    ("births_per_day", "depth_m"),
    [
        (2, 1.5),  # common practice, table of depths by births a day
        (6, 3.5),  # common practice
        (9, 4.5),  # common practice
        (11, 5.5),  # common practice
    ],
)
def test_depth_follows_the_births_of_common_practice(births_per_day, depth_m):
    """A pit of 1 m across is at least so deep, and the installation made of it has its wall round it."""
    made = size(Request(kind="placenta pit", births_per_day=births_per_day))
    installation = wanted(Request(kind="placenta pit"), made.dimensions, WORDS)

    assert (1.0, depth_m, WALL_M) == (
        made.dimensions.pit_length_m,
        made.dimensions.depth_m,
        made.dimensions.wall_m,
    )
    assert placenta_pit(births_per_day) == made.sizing
    assert 0.5 + WALL_M == pytest.approx(installation.pit.radius_m)
    assert depth_m == installation.depth_m


def test_what_is_asked_for_goes_before_what_the_use_asks():
    """Stated sizes are taken as they are, the sizing is still shown."""
    made = size(
        Request(
            kind="placenta pit", births_per_day=6, pit_diameter_m=1.2, pit_depth_m=2.0, wall_m=0.15,
            enclosure_m=(5.0, 4.0),
        )
    )  # fmt: skip
    d = made.dimensions

    assert (1.2, None, 0.15, 2.0, 5.0, 4.0) == (
        d.pit_length_m, d.pit_width_m, d.wall_m, d.depth_m, d.enclosure_length_m, d.enclosure_width_m,
    )  # fmt: skip
    assert 1.2 == made.sizing.diameter_m


def test_a_latrine_is_sized_for_its_users():
    """20 users for 5 years at 0.06 m3 a person and year fill 6 m3 (autonopedia.org, Latrines, seen; product own)."""
    made = size(Request(kind="pit latrine", users=20))

    assert 6.0 == pytest.approx(made.sizing.volume_m3)
    assert made.sizing.depth_m == made.dimensions.depth_m


def test_without_its_use_the_depth_stays_unknown():
    """Nothing is invented: a rule that needs the depth is then not assessed."""
    made = size(Request(kind="placenta pit"))

    assert made.sizing is None
    assert made.dimensions.depth_m is None
    assert made.reasons


def test_a_well_has_no_wall_of_a_pit():
    """A dug well is 1.2 m across (*common practice*) and its lining counts as part of it."""
    d = size(Request(kind="well")).dimensions

    assert (1.2, 0.0) == (d.pit_length_m, d.wall_m)


def test_a_rectangular_pit_keeps_both_sides():
    """A trench of 2 by 1 m with a wall of 0.2 m takes 2.4 by 1.4 m."""
    request = Request(kind="ash pit", pit_m=(2.0, 1.0), wall_m=0.2)
    installation = wanted(request, size(request).dimensions, WORDS)

    assert (-0.7, -1.2, 0.7, 1.2) == pytest.approx(installation.pit.geometry.bounds)


@pytest.mark.parametrize(
    ("sizes", "found", "reading"),
    [
        ({"pit_depth_m": 200.0}, "pit_depth_m is 200 m", "did you mean 2 m, if it was typed in centimetres?"),
        ({"wall_m": 0.0022}, "wall_m is 0.0022 m (2.2 mm)", "did you mean 0.22 m (220 mm), if the decimal"),
        ({"births_per_day": 4000.0}, "births_per_day is 4000", "10.95 births a day, if it was counted by the year"),
        ({"pit_m": (2000.0, 1500.0)}, "pit_m is 2000 m", "did you mean 2 m, if it was typed in millimetres"),
        ({"enclosure_m": (4000.0, 3000.0)}, "enclosure_m is 4000 m", "did you mean 4 m, if it was typed in millim"),
        ({"pit_depth_m": -3.0}, "pit_depth_m is -3 m", "Write the value in m"),
        ({"births_per_day": 0.0}, "births_per_day is 0", "Write the value in births a day"),
    ],
)
def test_sizes_that_nobody_digs_are_refused_with_what_was_meant(sizes, found, reading):
    """Found, needed, and the reading that was probably meant; nothing is repaired."""
    with pytest.raises(InputError) as error:
        size(Request(kind="placenta pit", **sizes))
    (fault,) = error.value.faults

    assert fault.found.startswith(found)
    assert "between" in fault.needed
    assert reading in fault.do_next


def test_an_enclosure_must_hold_its_pit():
    """1.0 m and twice a wall of 0.23 m are 1.46 m: 1.4 m is refused, 1.46 m is not."""
    with pytest.raises(InputError) as error:
        size(Request(kind="placenta pit", enclosure_m=(4.0, 1.4)))

    assert "an enclosure that holds the pit" == error.value.faults[0].needed
    assert 1.46 == size(Request(kind="placenta pit", enclosure_m=(4.0, 1.46))).dimensions.enclosure_width_m
    # Sides are compared long with long: a trench across its enclosure is turned, not refused.
    assert size(Request(kind="ash pit", pit_m=(1.0, 2.0), enclosure_m=(4.0, 2.0)))
