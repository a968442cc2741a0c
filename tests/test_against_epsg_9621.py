"""The plane similarity against the worked example of the EPSG guidance note.

Source: IOGP Publication 373-7-2, *Geomatics Guidance Note 7, part 2*, method 9621, similarity transformation,
example ED50 / UTM zone 31N to ETRS89 / UTM zone 31N (seen-2; the parameters are those of operation 5166 of the EPSG
dataset).
"""

from math import cos, radians, sin

import numpy as np
import pytest
from pyproj import Transformer

from siting.control_points import fit

X0_M, Y0_M, K, THETA_SECONDS = -129.549, -208.185, 1.00000155, 1.56504
COORDINATE_TOLERANCE_M = 0.01
"The note prints centimetres."
SOURCE = np.array([[300000.0, 4500000.0]])
TARGET_M = (299905.06, 4499796.51)
ROUNDING_M = 1e-5


def formula(points):
    """The formula as the note prints it: XT = XT0 + XS k cos + YS k sin, YT = YT0 - XS k sin + YS k cos."""
    theta = radians(THETA_SECONDS / 3600.0)
    x, y = points.T
    return np.column_stack(
        [X0_M + x * K * cos(theta) + y * K * sin(theta), Y0_M - x * K * sin(theta) + y * K * cos(theta)]
    )


@pytest.fixture
def fitted():
    """The fit to four corners moved by the printed parameters."""
    corners = np.array([[290000.0, 4490000.0], [310000.0, 4492000.0], [305000.0, 4512000.0], [291000.0, 4509000.0]])
    return fit(corners, formula(corners))


def test_the_example_point(fitted):
    """A fit to four points moved by the printed parameters moves the example's point to the printed place."""
    assert TARGET_M == pytest.approx(tuple(fitted.to_ground_m(SOURCE)[0]), abs=COORDINATE_TOLERANCE_M)


def test_the_parameters_come_back(fitted):
    """Scale, turn and shift are found again; theta of the note turns the axes, so it is the plan's turn reversed."""
    assert K == pytest.approx(fitted.scale, abs=1e-11)
    assert THETA_SECONDS == pytest.approx(fitted.plan_up_bearing_deg * 3600.0, abs=1e-5)
    assert (X0_M, Y0_M) == pytest.approx((fitted.tx_m, fitted.ty_m), abs=1e-3)
    assert 0.0 == pytest.approx(fitted.largest_residual_m, abs=ROUNDING_M)


def test_proj_has_the_same_similarity(fitted):
    """PROJ's plane Helmert step, given the fit's own parameters, agrees with it (own comparison)."""
    proj = Transformer.from_pipeline(
        f"+proj=helmert +x={fitted.tx_m:.9f} +y={fitted.ty_m:.9f} +s={fitted.scale:.12f} "
        f"+theta={fitted.plan_up_bearing_deg * 3600.0:.9f}"
    )

    assert proj.transform(300000.0, 4500000.0) == pytest.approx(tuple(fitted.to_ground_m(SOURCE)[0]), abs=1e-3)
