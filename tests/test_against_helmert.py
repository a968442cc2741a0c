"""PROJ, which moves every coordinate here from datum to datum, against printed geocentric examples.

Source: IOGP Publication 373-7-2, *Geomatics Guidance Note 7, part 2*, methods 9602, 9603, 9606 and 9607 (seen-2);
Ordnance Survey worked example of the position vector method (seen-2). All recomputed.
The operations that this package asks PROJ for are made of these steps; a wrong sign convention shows here.
"""

import pytest
from pyproj import Transformer

CENTIMETRE_M = 0.01
MILLIMETRE_M = 1e-3
HALF_CENTIMETRE_M = 0.005
THOUSANDTH_SECOND_DEG = 0.001 / 3600.0


def degrees(whole, minutes, seconds):
    """Degrees from degrees, minutes and seconds."""
    return whole + minutes / 60.0 + seconds / 3600.0


PLACE = (degrees(2, 7, 46.380), degrees(53, 48, 33.820), 73.0)
"Longitude, latitude and ellipsoidal height of the example of method 9602."
GEOCENTRIC_M = (3771793.97, 140253.34, 5124304.35)
SHIFTED_M = (3771878.84, 140349.83, 5124421.30)
SHIFT = "+proj=helmert +x=84.87 +y=96.49 +z=116.95"
TO_RADIANS = "+step +proj=unitconvert +xy_in=deg +xy_out=rad"


def test_geographic_to_geocentric():
    """Method 9602 on WGS 84."""
    cart = Transformer.from_pipeline(f"+proj=pipeline {TO_RADIANS} +step +proj=cart +ellps=WGS84")

    assert GEOCENTRIC_M == pytest.approx(cart.transform(*PLACE), abs=CENTIMETRE_M)


def test_geocentric_translation():
    """Method 9603: the three shifts of WGS 84 to ED50."""
    assert SHIFTED_M == pytest.approx(Transformer.from_pipeline(SHIFT).transform(*GEOCENTRIC_M), abs=HALF_CENTIMETRE_M)


def test_geocentric_translation_to_ed50():
    """The same example to the end: latitude, longitude and height on the International 1924 ellipsoid."""
    pipeline = Transformer.from_pipeline(
        f"+proj=pipeline {TO_RADIANS} +step +proj=cart +ellps=WGS84 +step {SHIFT} "
        "+step +inv +proj=cart +ellps=intl +step +proj=unitconvert +xy_in=rad +xy_out=deg"
    )

    lon, lat, height_m = pipeline.transform(*PLACE)

    assert degrees(53, 48, 36.565) == pytest.approx(lat, abs=THOUSANDTH_SECOND_DEG)
    assert degrees(2, 7, 51.477) == pytest.approx(lon, abs=THOUSANDTH_SECOND_DEG)
    assert 28.02 == pytest.approx(height_m, abs=0.02)


@pytest.mark.parametrize(
    ("convention", "rz_seconds"),
    [("position_vector", 0.554), ("coordinate_frame", -0.554)],
    ids=["method 9606", "method 9607"],
)
def test_the_two_sign_conventions(convention, rz_seconds):
    """WGS 72 to WGS 84: position vector and coordinate frame differ by the sign of the rotation, and agree."""
    step = Transformer.from_pipeline(
        f"+proj=helmert +z=4.5 +rz={rz_seconds} +s=0.219 +convention={convention}",
    )

    found = step.transform(3657660.66, 255768.55, 5201382.11)

    assert (3657660.78, 255778.43, 5201387.75) == pytest.approx(found, abs=CENTIMETRE_M)


@pytest.mark.parametrize(
    ("given_m", "expected_m"),
    [
        ((3790644.900, -110149.210, 5111482.970), (3790269.549, -110038.064, 5111050.261)),
        ((3909833.018, -147097.138, 5020322.478), (3909460.068, -146987.302, 5019888.070)),
    ],
)
def test_seven_parameters(given_m, expected_m):
    """Both points of the worked example, position vector, all seven parameters."""
    step = Transformer.from_pipeline(
        "+proj=helmert +x=-446.448 +y=125.157 +z=-542.060 +rx=-0.1502 +ry=-0.2470 +rz=-0.8421 +s=20.4894 "
        "+convention=position_vector"
    )

    assert expected_m == pytest.approx(step.transform(*given_m), abs=MILLIMETRE_M)
