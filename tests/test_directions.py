"""Which way is down, and the ground on one side of a feature."""

from math import cos, hypot, pi, radians, sin

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from siting.directions import OPPOSITE, bearing_of_side, ground_on_side

ROUNDING_M = 1e-9
OUTWARD_SHARE = 4e-5
"Chords of a degree, lengthened to touch the circle, have corners outside it by 1 / cos(0.5 deg) - 1."
TOWARDS = {"gradient": 100.0, "slope": 200.0, "wind": 300.0}


@pytest.mark.parametrize(
    ("side", "bearing"),
    [
        ("down-gradient", 100.0),
        ("up-gradient", 280.0),
        ("down-slope", 200.0),
        ("up-slope", 20.0),
        ("downwind", 300.0),
        ("upwind", 120.0),
    ],
)
def test_a_side_lies_where_water_ground_or_wind_leads_or_comes_from(side, bearing):
    """Down is where it leads to, up is the opposite; north comes out as zero and not as 360."""
    assert bearing == bearing_of_side(side, TOWARDS)
    assert 0.0 == bearing_of_side(side, dict.fromkeys(TOWARDS, 360.0 if side.startswith("down") else 180.0))


@pytest.mark.parametrize("side", OPPOSITE)
def test_an_unknown_direction_has_no_sides(side):
    """None stays None, whether it is stated so or absent."""
    assert bearing_of_side(side, {}) is None
    assert bearing_of_side(side, dict.fromkeys(TOWARDS)) is None


@pytest.mark.parametrize("side", OPPOSITE)
def test_opposite_sides_are_half_a_turn_apart(side):
    """The other side of the other side is the side itself."""
    one, other = bearing_of_side(side, TOWARDS), bearing_of_side(OPPOSITE[side], TOWARDS)

    assert side == OPPOSITE[OPPOSITE[side]]
    assert 180.0 == (one - other) % 360.0


@given(bearing=st.floats(0, 360), sector=st.floats(10, 180), off=st.floats(-1, 1), at=st.floats(0, 1))
@settings(max_examples=50, deadline=None)
def test_the_ground_on_a_side_holds_the_whole_sector(bearing, sector, off, at):
    """No place of the true sector is left out, up to its arc and its edges."""
    ground = ground_on_side(Point(7.0, 9.0), bearing, sector_deg=sector, reach_m=30.0)
    direction = radians(bearing + off * sector / 2.0)
    place = Point(7.0 + 30.0 * at * sin(direction), 9.0 + 30.0 * at * cos(direction))

    assert shapely.distance(ground, place) <= ROUNDING_M


@given(bearing=st.floats(0, 360), sector=st.floats(10, 180))
@settings(max_examples=50, deadline=None)
def test_the_ground_on_a_side_reaches_hardly_farther_than_asked(bearing, sector):
    """Rounded outward, but by no more than 0.4 mm in 10 m, and nothing of it lies off the sector."""
    ground = ground_on_side(Point(0.0, 0.0), bearing, sector_deg=sector, reach_m=30.0)
    behind = radians(bearing + sector / 2.0 + 1.0)
    far = max(hypot(x, y) for x, y in shapely.get_coordinates(ground))

    assert 30.0 <= far <= 30.0 * (1.0 + OUTWARD_SHARE)
    assert not ground.covers(Point(10.0 * sin(behind), 10.0 * cos(behind)))


def test_a_half_disc_has_its_area_and_lies_uphill():
    """180 degrees round north of a point: pi r^2 / 2, all of it north of the point."""
    ground = ground_on_side(Point(0.0, 0.0), 0.0, sector_deg=180.0, reach_m=30.0)
    exact = pi * 30.0**2 / 2.0

    assert exact <= ground.area <= exact * 1.001
    assert -ROUNDING_M <= ground.bounds[1]


def test_the_side_of_a_long_feature_is_a_side_of_all_of_it():
    """North of an east-west ditch of 100 m: a strip and two quarter discs, and nothing south of it."""
    ground = ground_on_side(LineString([(0, 0), (100, 0)]), 0.0, sector_deg=180.0, reach_m=10.0)
    exact = 100.0 * 10.0 + pi * 10.0**2 / 2.0

    assert exact == pytest.approx(ground.area, rel=2e-3)
    assert -ROUNDING_M <= ground.bounds[1]
