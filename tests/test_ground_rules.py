"""Requirements from what lies beneath: water below the pit, days of travel, slope, and hours of wind."""

from math import sqrt

import numpy as np
import pytest
import shapely
from conftest import SQUARE, asked, feature, judged, new, pack, plot, site, sloping_plot

from siting.requirements import Sense
from siting.site import Ground, SpotHeight, WaterLevel
from siting.uncertainty import Verdict

ROUNDING_M = 1e-6
CORNERS = ((0.0, 0.0), (100.0, 0.0), (0.0, 100.0), (100.0, 100.0))
ABOVE = 'id = "water"\nfor = ["pit"]\nmeasure = "above water table"\nat_least_m = 1.5'
DAYS = 'id = "days"\nfor = ["pit"]\nfrom = ["well"]\nmeasure = "travel time"\nat_least_days = 25'
SLOPE = 'id = "slope"\nfor = ["pit"]\nmeasure = "slope"\nat_most_percent = 15'
SMOKE = 'id = "smoke"\nfor = ["burner"]\nfrom = ["ward"]\nmeasure = "downwind"\nat_most_percent = 10'


def _levels(a, b, c):
    return tuple(WaterLevel(name=f"W{n}", x_m=x, y_m=y, level_m=a * x + b * y + c) for n, (x, y) in enumerate(CORNERS))


def _heights(a, b, c):
    return tuple(SpotHeight(x_m=x, y_m=y, height_m=a * x + b * y + c) for x, y in CORNERS)


def _on(*things, **ground):
    return site(plot(SQUARE), *things, ground=Ground(**ground))


def _one(of, rule, installation=None, at=(50.0, 50.0)):
    (row,) = judged(of, pack(rule), installation or new(depth_m=2.0), at)
    return row


def _missing(of, rule, installation=None):
    (row,) = asked(of, pack(rule), installation or new(depth_m=2.0)).unassessed
    return row


# --- the water table ------------------------------------------------------------------------------------------


def test_the_same_water_everywhere_is_one_value():
    """Water at 4 m, a pit of 2 m: 2 m between them, half a metre more than asked, wherever it is dug."""
    of = _on(highest_water_depth_m=4.0, water_depth_sigma_m=0.2)
    (requirement,) = asked(of, pack(ABOVE), new(depth_m=2.0)).requirements
    row = _one(of, ABOVE)

    assert Sense.FIXED is requirement.sense
    assert (2.0, 1.5, 0.5, 0.2, Verdict.MEETS) == (row.value, row.required, row.margin, row.sigma, row.verdict)


def test_doubt_about_the_water_is_doubt_about_the_verdict():
    """10 cm to spare with 20 cm of doubt is too close to call."""
    of = _on(highest_water_depth_m=3.6, water_depth_sigma_m=0.2)

    assert Verdict.TOO_CLOSE is _one(of, ABOVE).verdict
    assert "its uncertainty is not stated" in _one(_on(highest_water_depth_m=3.6), ABOVE).because


def test_from_the_ground_the_depth_of_the_pit_does_not_count():
    """A rule whose datum is the ground asks for the depth of the water itself."""
    of = _on(highest_water_depth_m=4.0)

    assert 4.0 == _one(of, ABOVE + '\ndatum = "ground surface"', new()).value


def test_a_pit_of_unknown_depth_is_not_assessed():
    """Nothing is assumed of it."""
    assert "pit_depth_m" in _missing(_on(highest_water_depth_m=4.0), ABOVE, new()).look_for


@pytest.mark.parametrize(
    ("ground", "reason"),
    [
        ({}, "the depth of the water is not known"),
        ({"dry_season_water_depth_m": 6.0}, "only a level that is not the highest is known"),
        ({"levels": _levels(0, 0, 95.0), "levels_season": "dry"}, "only a level that is not the highest is known"),
    ],
)
def test_a_level_that_is_not_the_highest_decides_nothing(ground, reason):
    """A dry-season reading is not the design level: ask for the highest."""
    row = _missing(_on(**ground), ABOVE)

    assert reason == row.reason
    assert "the highest water level anyone knows of" == row.look_for


def test_even_water_under_sloping_ground_is_a_line():
    """Ground falls by 1 in 10 eastward from 100 m, water stands at 92 m: at x the pit's bottom is 6 - x / 10 above.

    1.5 m are left at x = 45; so many metres of plan are missing as the place lies east of it.
    """
    of = _on(
        levels=_levels(0, 0, 92.0), levels_season="highest", water_depth_sigma_m=0.01,
        spot_heights=_heights(-0.1, 0.0, 100.0), height_sigma_m=0.01,
    )  # fmt: skip
    (requirement,) = asked(of, pack(ABOVE), new(depth_m=2.0)).requirements
    west, east = (_one(of, ABOVE, at=(x, 20.0)) for x in (40.0, 50.0))

    assert Sense.OUTSIDE is requirement.sense
    assert (2.0, 1.0) == pytest.approx((west.value, east.value))
    assert (0.5, -0.5) == pytest.approx((west.margin, east.margin))
    assert (Verdict.MEETS, Verdict.FAILS) == (west.verdict, east.verdict)
    assert 45.0 == pytest.approx(shapely.bounds(shapely.intersection(requirement.geometry, SQUARE))[0])


def test_doubt_of_both_planes_adds_up():
    """At the corners, where four levels on a square tell least: each plane is known there to sqrt(3) / 2 of a level.

    Variance at a corner of a square of n = 4: 1/4 + 1/4 + 1/4 of the level's (least squares, own).
    """
    of = _on(
        levels=_levels(-0.01, 0, 92.0), levels_season="highest", water_depth_sigma_m=0.04,
        spot_heights=_heights(0, 0, 100.0), height_sigma_m=0.03,
    )  # fmt: skip
    row = _one(of, ABOVE)

    assert sqrt(0.75) * 0.05 == pytest.approx(row.sigma)


def test_without_heights_levels_alone_do_not_tell_the_depth():
    """How deep water lies below the ground needs both."""
    of = _on(levels=_levels(-0.01, 0, 92.0), levels_season="highest")

    assert "only a level that is not the highest is known" == _missing(of, ABOVE).reason


# --- time of travel ---------------------------------------------------------------------------------------------

SAND = {"conductivity_m_per_day": 30.0, "porosity": 0.25, "water_depth_sigma_m": 0.001}
EAST = _levels(-0.01, 0.0, 95.0)
WELL = feature("well", "Well", (80.0, 50.0))


def test_time_is_distance_over_velocity():
    """v = 30 x 0.01 / 0.25 = 1.2 m/day: from 36 m west the water takes 30 days (closed form)."""
    row = _one(_on(WELL, levels=EAST, **SAND), DAYS, at=(44.0, 50.0))

    assert 30.0 == pytest.approx(row.value, rel=1e-3)
    assert (25.0, "days") == (row.required, row.unit)
    assert 30.0 == pytest.approx(row.required_m)
    assert 6.0 == pytest.approx(row.margin_m, abs=0.01)
    assert Verdict.MEETS is row.verdict


def test_only_ground_above_the_well_drains_to_it():
    """5 m down the gradient of the well a pit is not in the way of its water."""
    of = _on(WELL, levels=EAST, **SAND)

    assert Verdict.FAILS is _one(of, DAYS, at=(75.0, 50.0)).verdict
    assert Verdict.MEETS is _one(of, DAYS, at=(85.0, 50.0)).verdict


def test_the_radius_of_a_well_counts():
    """Of a well of 0.6 m the edge is reached first, also where its direction is known."""
    disc = feature("well", "Well", (80.0, 50.0), radius_m=0.6)
    point, edge = (_one(_on(each, levels=EAST, **SAND), DAYS, at=(44.0, 50.0)) for each in (WELL, disc))

    assert point.margin_m - 0.6 == pytest.approx(edge.margin_m, abs=0.01)


@pytest.mark.parametrize(
    ("ground", "reason"),
    [
        ({"material": "fractured rock", "levels": EAST}, "no distance is protective"),
        ({**SAND}, "the slope of the water table is not known"),
        ({"levels": EAST}, "what the ground is made of is not known"),
        ({"levels": _levels(0, 0, 95.0), **SAND}, "it cannot be told from level water"),
        (
            {"levels": _levels(-0.0005, 0, 95.0), **SAND, "water_depth_sigma_m": 0.05},
            "it cannot be told from level water",
        ),
    ],
    ids=["cracks", "no levels", "no material", "level", "as good as level"],
)
def test_without_a_velocity_nothing_is_said(ground, reason):
    """No time is invented, and none is taken for endless because levels happen to be equal."""
    assert reason in _missing(_on(WELL, **ground), DAYS).reason


def test_doubt_of_the_gradient_is_doubt_of_the_reach():
    """Levels to 5 cm over 100 m know 1 in 100 to 5 %: 30 m to 1.5 m (four levels: 0.05 / 100 = 0.0005, own)."""
    row = _one(_on(WELL, levels=EAST, **{**SAND, "water_depth_sigma_m": 0.05}), DAYS, at=(44.0, 50.0))

    assert 1.5 / 1.2 == pytest.approx(row.sigma, rel=1e-3)


def test_no_well_is_nothing_recorded():
    """A travel time needs somewhere to travel to: not recorded is not a pass."""
    assert "no well recorded" in _missing(_on(levels=EAST, **SAND), DAYS).reason


# --- slope --------------------------------------------------------------------------------------------------------


def test_even_ground_has_one_slope():
    """1 in 10 everywhere: a fixed value, met at 15 % and short at 5 %."""
    of = sloping_plot()
    gentle, steep = (_one(of, SLOPE.replace("15", str(most))) for most in (15, 5))

    assert 10.0 == pytest.approx(gentle.value)
    assert (Verdict.MEETS, Verdict.FAILS) == (gentle.verdict, steep.verdict)


def test_a_bank_is_ground_to_keep_off():
    """Level to x = 50, then 1 in 2: the pit is fine west of it, and the row says how steep it is where it stands."""
    at = (0.0, 50.0, 100.0)
    spots = tuple(SpotHeight(x_m=x, y_m=y, height_m=max(0.0, x - 50.0) / 2) for x in at for y in at)
    of = _on(spot_heights=spots)
    west, east = (_one(of, SLOPE, at=(x, 30.0)) for x in (30.0, 70.0))

    assert (0.0, 50.0) == pytest.approx((west.value, east.value))
    assert (Verdict.MEETS, Verdict.FAILS) == (west.verdict, east.verdict)


def test_a_strict_limit_forbids_ground_as_steep_as_it():
    """Less than 10 % is not met by 10 %; at most 10 % is."""
    strict = SLOPE.replace("at_most_percent = 15", "less_than_percent = 10")

    assert Verdict.MEETS is _one(sloping_plot(), SLOPE.replace("15", "10")).verdict
    assert Verdict.FAILS is _one(sloping_plot(), strict).verdict


def test_degrees_are_turned_into_percent():
    """45 degrees are 100 percent."""
    row = _one(sloping_plot(), SLOPE.replace("at_most_percent = 15", "at_most_deg = 45"))

    assert (100.0, "%") == (pytest.approx(row.required), row.unit)


def test_without_heights_the_slope_is_not_assessed():
    """Spot heights are what to look for."""
    assert "spot heights of the ground" == _missing(_on(), SLOPE).look_for


# --- the hours of the wind -----------------------------------------------------------------------------------------

WIND = {"N": 4, "NE": 12, "E": 34, "SE": 22, "S": 8, "SW": 4, "W": 3, "NW": 3, "calm": 10}
WARD = feature("ward", "Ward", (50.0, 50.0))


def _blown(at, wind=WIND, rule=SMOKE):
    of = site(plot(SQUARE), WARD, wind_from_percent=wind)
    (row,) = judged(of, pack(rule), new("incinerator"), at)
    return row


@pytest.mark.parametrize(
    ("bearing_deg", "percent"),
    [(0, 4), (45, 12), (90, 34), (135, 22), (180, 8), (225, 4), (270, 3), (315, 3), (112.4, 34), (112.6, 22)],
)
def test_smoke_comes_from_the_sector_the_burner_stands_in(bearing_deg, percent):
    """Seen from the ward: the wind from that side carries it there so many hours in a hundred."""
    east, north = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    row = _blown((50.0 + 20.0 * east, 50.0 + 20.0 * north))

    assert percent == pytest.approx(row.value)
    assert (Verdict.MEETS if percent <= 10 else Verdict.FAILS) is row.verdict


def test_a_wind_that_never_blows_too_often_forbids_nothing():
    """All sectors below the limit: met everywhere."""
    row = _blown((60.0, 50.0), rule=SMOKE.replace("10", "40"))

    assert (34.0, Verdict.MEETS) == (row.value, row.verdict)


def test_without_a_wind_rose_smoke_is_not_assessed():
    """Frequencies are what to look for."""
    of = site(plot(SQUARE), WARD)

    assert "wind frequencies by sector" == _missing(of, SMOKE, new("incinerator")).look_for
