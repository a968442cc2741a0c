"""The shape of the ground: slope, direction, height, footings."""

from math import isnan, nan

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from siting.errors import InputError
from siting.plane import fit_levels
from siting.slope import (
    STEEP_10_IN_6,
    clear_of_footing_m,
    down_slope,
    falls_towards_deg,
    height_difference_m,
    horizontal_m,
    slope_percent,
    steeper_than,
    surface,
    up_slope,
)
from siting.uncertainty import Verdict

ROUNDING_M = 1e-9
PERCENT = 1e-6
DEGREE = 1e-6
# A yard of 40 m by 20 m: level in the west half, falling by 20 percent to the east in the other.
BENT = ([(0, 0), (0, 20), (20, 0), (20, 20), (40, 0), (40, 20)], [10.0, 10.0, 10.0, 10.0, 6.0, 6.0])


@pytest.mark.parametrize(
    ("points", "levels", "percent", "towards_deg"),
    [
        ([(0, 0), (30, 0), (0, 40)], [100, 97, 104], 14.142136, 135.0),  # own
        ([(0, 0), (100, 0), (0, 100)], [10, 9, 9], 1.414214, 45.0),  # own
    ],
)
def test_slope_of_three_heights(points, levels, percent, towards_deg):
    """Three heights give the slope and the direction it falls, as one plane and as one triangle."""
    plane = fit_levels(points, levels)
    assert percent == pytest.approx(slope_percent(plane), abs=PERCENT)
    assert towards_deg == pytest.approx(falls_towards_deg(plane), abs=DEGREE)
    ground = surface(points, levels)
    assert (percent,) == pytest.approx(ground.slope_percent, abs=PERCENT)
    assert (towards_deg,) == pytest.approx(ground.falls_towards_deg, abs=DEGREE)


def test_steep_ground_is_the_steep_triangles():
    """The ground steeper than 10 percent is the east half; 20 percent itself is not steeper than 20."""
    ground = surface(*BENT)
    steep = steeper_than(ground, slope_percent=10.0)
    assert shapely.equals(shapely.box(20, 0, 40, 20), steep)
    assert steeper_than(ground, slope_percent=20.0 + PERCENT).is_empty
    assert shapely.equals(shapely.box(20, 0, 40, 20), steeper_than(ground, slope_percent=0.0))
    assert ground.falls_towards_deg.count(None) == 2
    assert ground.falls_towards_deg.count(90.0) == 2


def test_height_between_the_spot_heights():
    """Heights run straight between the spot heights, hold on an edge, and are unknown outside."""
    ground = surface(*BENT)
    heights = ground.height_at([[(10, 10), (30, 5)], [(20, 7), (41, 5)]])
    assert (2, 2) == heights.shape
    assert [10.0, 8.0, 10.0] == pytest.approx(heights.ravel()[:3].tolist(), abs=ROUNDING_M)
    assert isnan(heights[1, 1])
    assert 2.0 == pytest.approx(height_difference_m(ground, here=(5, 5), there=(30, 5)), abs=ROUNDING_M)
    assert isnan(height_difference_m(ground, here=(5, 5), there=(50, 5)))


@given(
    a=st.floats(-0.5, 0.5),
    b=st.floats(-0.5, 0.5),
    place=st.tuples(st.floats(1, 39), st.floats(1, 19)),
)
def test_a_surface_of_one_plane_is_that_plane(a, b, place):
    """Triangles between heights of a plane give the plane's height everywhere."""
    points = np.array(BENT[0], dtype=float)
    ground = surface(points, points @ np.array([a, b]) + 7.0)
    assert a * place[0] + b * place[1] + 7.0 == pytest.approx(float(ground.height_at(place)), abs=ROUNDING_M)
    assert 100 * np.hypot(a, b) == pytest.approx(max(ground.slope_percent), abs=PERCENT)


def test_two_heights_at_one_place_are_refused():
    """One place has one level; the same level twice is no contradiction."""
    points, levels = BENT
    with pytest.raises(InputError, match="two spot heights at one place"):
        surface([*points, (20, 0)], [*levels, 10.5])
    assert surface(*BENT) == surface([*points, (20, 0)], [*levels, 10.0])


def test_heights_on_a_line_are_refused_by_their_name():
    """Spot heights on a line leave the slope open, and the message calls them spot heights."""
    with pytest.raises(InputError, match="the 3 spot heights lie within a strip"):
        surface([(0, 0), (10, 10), (20, 20)], [1, 2, 3])


@pytest.mark.parametrize(
    ("difference_m", "sigmas_m", "verdict"),
    [
        (0.5, (), Verdict.MEETS),
        (0.0, (), Verdict.FAILS),
        (-0.5, (), Verdict.FAILS),
        # Limit at 1.6449 sigma of the difference: 0.1 m on each level gives 0.1414 m, and 0.2326 m.
        (0.234, (0.1, 0.1), Verdict.MEETS),
        (0.231, (0.1, 0.1), Verdict.TOO_CLOSE),
        (-0.231, (0.1, 0.1), Verdict.TOO_CLOSE),
        (-0.234, (0.1, 0.1), Verdict.FAILS),
        (nan, (0.1,), Verdict.NOT_ASSESSED),
    ],
)
def test_higher_is_decided_with_its_uncertainty(difference_m, sigmas_m, verdict):
    """Up slope at 95 percent; down slope is the same seen from the other place."""
    assert verdict == up_slope(difference_m, sigmas_m=sigmas_m)
    assert verdict == down_slope(-difference_m, sigmas_m=sigmas_m)


def test_a_stricter_confidence_leaves_more_open():
    """What meets at 95 percent may be too close to call at 99."""
    assert Verdict.MEETS == up_slope(0.2, sigmas_m=(0.1,))
    assert Verdict.TOO_CLOSE == up_slope(0.2, sigmas_m=(0.1,), confidence=0.99)


@pytest.mark.parametrize(
    ("depth_m", "footing_m", "run_per_fall", "distance_m"),
    [
        # Line at 45 degrees, and at 10 H : 6 V, down from the footing (both seen-2); distances own.
        (3.0, 0.6, 1.0, 2.4),
        (3.0, 0.6, STEEP_10_IN_6, 4.0),
        (3.0, 0.0, 1.0, 3.0),
        (3.0, 0.0, STEEP_10_IN_6, 5.0),
        (0.5, 0.6, 1.0, 0.0),
    ],
)
def test_clear_of_a_footing(depth_m, footing_m, run_per_fall, distance_m):
    """A pit keeps above the line down from the footing; one shallower than it may be close."""
    assert distance_m == pytest.approx(
        clear_of_footing_m(depth_m, footing_depth_m=footing_m, run_per_fall=run_per_fall), abs=ROUNDING_M
    )
    assert clear_of_footing_m(3.0, footing_depth_m=0.6) == pytest.approx(2.4, abs=ROUNDING_M)


def test_depths_that_cannot_be_are_refused():
    """A negative footing depth, or a pit of no depth, is refused."""
    with pytest.raises(InputError, match="footing_depth_m is -1"):
        clear_of_footing_m(3.0, footing_depth_m=-1.0)
    with pytest.raises(InputError, match="pit_depth_m is 0"):
        clear_of_footing_m(0.0, footing_depth_m=1.0)


def test_a_tape_on_a_slope_reads_too_long():
    """On a slope of 3 in 4, five metres of tape are four on the plan (Pythagoras); on level ground all five."""
    assert 4.0 == pytest.approx(horizontal_m(5.0, slope_percent=75.0), abs=ROUNDING_M)
    assert 4.0 == pytest.approx(horizontal_m(5.0, slope_percent=-75.0), abs=ROUNDING_M)
    assert 5.0 == horizontal_m(5.0, slope_percent=0.0)
