"""A plane through levels: what it says, how well it knows it, and what it refuses."""

from math import inf, isinf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from siting.errors import InputError
from siting.plane import fit_levels

ROUNDING_M = 1e-9
ROUNDING_DEG = 1e-6
YARD = np.array([(0.0, 0.0), (60.0, 5.0), (20.0, 70.0), (75.0, 80.0)])


@given(
    a=st.floats(-0.2, 0.2),
    b=st.floats(-0.2, 0.2),
    c=st.floats(-50, 500),
    shift=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)),
)
def test_a_true_plane_is_found_again(a, b, c, shift):
    """Levels taken from a plane give that plane back, wherever on the map they were taken."""
    points = YARD + np.array(shift)
    plane = fit_levels(points, points @ np.array([a, b]) + c)
    assert a == pytest.approx(plane.a, abs=1e-9)
    assert b == pytest.approx(plane.b, abs=1e-9)
    assert c == pytest.approx(plane.c, abs=1e-5)
    assert plane.residual_m == pytest.approx(0.0, abs=1e-8)
    here = shift + np.array([30.0, 40.0])
    assert here @ np.array([a, b]) + c == pytest.approx(float(plane.level_at(here)), abs=1e-6)


@given(turn_deg=st.floats(0.0, 360.0), towards_deg=st.floats(0.0, 360.0))
def test_turning_the_levels_turns_the_flow(turn_deg, towards_deg):
    """Turning the wells about the origin turns the flow by the same angle and keeps the gradient."""
    bearing = np.radians(towards_deg)
    levels = 50.0 - 0.01 * YARD @ np.array([np.sin(bearing), np.cos(bearing)])
    t = np.radians(turn_deg)
    turned = YARD @ np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
    plane = fit_levels(turned, levels)
    off = (plane.flow_towards_deg - towards_deg - turn_deg + 180.0) % 360.0 - 180.0
    assert 0.0 == pytest.approx(off, abs=ROUNDING_DEG)
    assert 0.01 == pytest.approx(plane.gradient, abs=1e-9)


def test_a_level_plane_has_no_direction():
    """Levels all alike give a gradient of zero, no direction, and no knowledge of one."""
    plane = fit_levels(YARD[:3], [10.0, 10.0, 10.0], level_sigma_m=0.01)
    assert plane.gradient == pytest.approx(0.0, abs=1e-15)
    flat = fit_levels(YARD[:3], [0.0, 0.0, 0.0], level_sigma_m=0.01)
    assert flat.flow_towards_deg is None
    assert flat.flow_sigma_deg == 180.0
    assert flat.gradient_sigma > 0


def test_levels_read_with_an_error_give_an_uncertain_slope():
    """On a square of 100 m, a centimetre at each corner leaves 0.0001 of slope: sigma / sqrt(sum x^2)."""
    square = np.array([(0, 0), (100, 0), (0, 100), (100, 100)], dtype=float)
    plane = fit_levels(square, [1.0, 0.0, 1.0, 0.0], level_sigma_m=0.01)
    assert 90.0 == pytest.approx(plane.flow_towards_deg, abs=ROUNDING_DEG)
    assert 0.01 / 100.0 == pytest.approx(plane.gradient_sigma, rel=1e-9)
    assert np.degrees(0.0001 / 0.01) == pytest.approx(plane.flow_sigma_deg, rel=1e-9)
    assert 0.005 == pytest.approx(float(plane.level_sigma_at((50.0, 50.0))), rel=1e-9)
    far = float(plane.level_sigma_at((150.0, 50.0)))
    assert np.hypot(0.005, 0.01) == pytest.approx(far, rel=1e-9)


def test_three_levels_without_sigma_say_nothing_of_their_error():
    """Three points fit any plane, so its uncertainty is infinite and not zero."""
    plane = fit_levels(YARD[:3], [3.0, 2.0, 1.0])
    assert plane.covariance is None
    assert isinf(plane.gradient_sigma)
    assert plane.flow_sigma_deg == 180.0
    assert [inf, inf] == plane.level_sigma_at(YARD[:2]).tolist()


def test_residuals_tell_the_sigma_when_none_is_given():
    """One corner of a square 4 cm off leaves residuals of 1 cm, and sigma of 2 cm for one spare level."""
    square = np.array([(0, 0), (100, 0), (0, 100), (100, 100)], dtype=float)
    levels = np.array([1.0, 0.0, 1.0, 0.04])
    plane = fit_levels(square, levels)
    assert 0.01 == pytest.approx(plane.residual_m, abs=ROUNDING_M)
    assert [0.01, -0.01, -0.01, 0.01] == pytest.approx(list(plane.residuals_m), abs=ROUNDING_M)
    assert 0.02 / 100.0 == pytest.approx(plane.gradient_sigma, rel=1e-6)


def test_a_poor_fit_is_not_known_as_well_as_it_was_read():
    """Residuals larger than the stated sigma enlarge the uncertainty; small ones never shrink it."""
    square = np.array([(0, 0), (100, 0), (0, 100), (100, 100)], dtype=float)
    bent = fit_levels(square, [1.0, 0.0, 1.0, 0.04], level_sigma_m=0.001)
    assert 0.02 / 100.0 == pytest.approx(bent.gradient_sigma, rel=1e-6)
    even = fit_levels(square, [1.0, 0.0, 1.0, 0.0], level_sigma_m=0.001)
    assert 0.001 / 100.0 == pytest.approx(even.gradient_sigma, rel=1e-6)


def test_a_level_read_more_surely_counts_more():
    """The plane passes closer to the level with the smaller sigma."""
    square = np.array([(0, 0), (100, 0), (0, 100), (100, 100)], dtype=float)
    plane = fit_levels(square, [1.0, 0.0, 1.0, 0.04], level_sigma_m=[0.001, 0.1, 0.1, 0.1])
    assert abs(plane.residuals_m[0]) < 0.001 < abs(plane.residuals_m[3])


@pytest.mark.parametrize(
    ("points", "levels", "found"),
    [
        ([(0, 0), (50, 0)], [1, 2], "levels of 2 wells"),
        ([(0, 0), (50, 50), (100, 100.5)], [1, 2, 3], "strip 141.8 m long"),
        ([(9000, 0), (9050, 50), (9100, 100.5)], [1, 2, 3], "strip 141.8 m long and 0.18 m broad"),
        ([(5, 5), (5, 5), (5, 5)], [1, 2, 3], "strip 0.0 m long"),
        ([(0, 0), (50, 0), (0, 50)], [1, 2, float("nan")], "not a number"),
    ],
)
def test_points_that_leave_the_slope_open_are_refused(points, levels, found):
    """Too few points, points on a line, and missing numbers are refused with what was found."""
    with pytest.raises(InputError) as caught:
        fit_levels(points, levels)
    assert found in caught.value.faults[0].found


def test_a_level_without_error_is_refused():
    """A sigma of zero would claim a perfect reading."""
    with pytest.raises(InputError, match="level_sigma_m above zero"):
        fit_levels(YARD, [1, 2, 3, 4], level_sigma_m=0.0)
