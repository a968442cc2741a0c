"""The fit of a plan to the ground against a worked example of a textbook.

Source: C. Ghilani, *Adjustment Computations: Spatial Data Analysis* (Wiley), chapter 18, Example 18.1, two-dimensional
conformal coordinate transformation (inputs, parameters and check points seen-2: open scripts that reproduce the
example; residuals and the standard error recomputed from them: own).
"""

import numpy as np
import pytest

from siting.control_points import fit

PARAMETER_TOLERANCE = 1e-5
COORDINATE_TOLERANCE_M = 1e-3
RESIDUAL_TOLERANCE_M = 1e-4
SECOND_OF_ARC_DEG = 1.0 / 3600.0

PLAN = np.array([[121.622, -128.066], [141.228, 187.718], [175.802, 135.728]])
"Points A, B and C in the system of the photograph (seen-2)."
GROUND_M = np.array([[1049422.40, 51089.20], [1049413.95, 49659.30], [1049244.95, 49884.95]])
"The same points on the ground grid (seen-2)."


@pytest.fixture
def example_18_1():
    """The fit of the example."""
    return fit(PLAN, GROUND_M)


def test_parameters(example_18_1):
    """a, b, Tx and Ty as printed (seen-2)."""
    assert -4.51249 == pytest.approx(example_18_1.a, abs=PARAMETER_TOLERANCE)
    assert -0.25371 == pytest.approx(example_18_1.b, abs=PARAMETER_TOLERANCE)
    assert 1050003.715 == pytest.approx(example_18_1.tx_m, abs=COORDINATE_TOLERANCE_M)
    assert 50542.131 == pytest.approx(example_18_1.ty_m, abs=COORDINATE_TOLERANCE_M)


def test_scale_and_rotation(example_18_1):
    """Scale and rotation as printed (seen-2); the bearing of the plan's y axis is the rest of the circle."""
    assert 4.51962 == pytest.approx(example_18_1.scale, abs=PARAMETER_TOLERANCE)
    assert 183 + 13 / 60 + 5 / 3600 == pytest.approx(example_18_1.rotation_deg, abs=SECOND_OF_ARC_DEG)
    assert 360 - (183 + 13 / 60 + 5 / 3600) == pytest.approx(example_18_1.plan_up_bearing_deg, abs=SECOND_OF_ARC_DEG)


def test_residuals_and_standard_error(example_18_1):
    """Fitted less given, point by point, and the standard error of unit weight with two degrees of freedom (own)."""
    expected = np.array([[0.0038, -0.0291], [0.1009, -0.0767], [-0.1047, 0.1059]])

    assert expected == pytest.approx(np.array(example_18_1.residuals_m), abs=RESIDUAL_TOLERANCE_M)
    assert 2 == example_18_1.degrees_of_freedom
    assert 0.13982 == pytest.approx(example_18_1.sigma0_m, abs=PARAMETER_TOLERANCE)
    assert np.hypot(-0.1047, 0.1059) == pytest.approx(example_18_1.largest_residual_m, abs=RESIDUAL_TOLERANCE_M)


@pytest.mark.parametrize(
    ("x", "y", "east_m", "north_m"),
    [
        (174.148, -120.262, 1049187.361, 51040.629),
        (513.520, -192.130, 1047637.713, 51278.829),
        (754.444, -67.706, 1046582.113, 50656.241),
        (972.788, 120.994, 1045644.713, 49749.336),
    ],
)
def test_check_points(example_18_1, x, y, east_m, north_m):
    """The four points that were not used for the fit arrive where the book puts them (seen-2)."""
    east, north = example_18_1.to_ground_m(np.array([[x, y]]))[0]

    assert east_m == pytest.approx(east, abs=COORDINATE_TOLERANCE_M)
    assert north_m == pytest.approx(north, abs=COORDINATE_TOLERANCE_M)


def test_uncertainty_is_that_of_the_full_normal_equations(example_18_1):
    """sigma_at_m equals sigma0 sqrt(diag(A N^-1 A^T)), the propagation written out with the book's own matrices."""
    design = np.array([row for x, y in PLAN for row in ([x, -y, 1, 0], [y, x, 0, 1])])
    inverse = np.linalg.inv(design.T @ design)
    x, y = 972.788, 120.994
    at_point = np.array([[x, -y, 1, 0], [y, x, 0, 1]])
    expected = 0.13982 * np.sqrt(np.diag(at_point @ inverse @ at_point.T))

    found = example_18_1.sigma_at_m(np.array([[x, y]]))[0]

    assert [found, found] == pytest.approx(expected, abs=RESIDUAL_TOLERANCE_M)
