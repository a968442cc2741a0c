"""The site's plane against geodesics on the WGS 84 ellipsoid.

Source: C. F. F. Karney, *Algorithms for geodesics*, J. Geodesy 87:43-55 (2013); the rows are those of the GeodTest
set as carried by the test file of geographiclib for Python, test_geodesic.py (seen).
The first tests hold the yardstick (PROJ's geodesic) to the published rows; the others hold the plane to it.
"""

import numpy as np
import pytest
from pyproj import Geod

from siting.frame import Frame, centred_on

GEOD = Geod(ellps="WGS84")
LINE_TOLERANCE_M = 1e-8
AZIMUTH_TOLERANCE_DEG = 1e-13
"Both as in the test file; an azimuth is compared to a few units of its last place."
MILLIMETRE_M = 1e-3
HUNDREDTH_MM_M = 1e-5

GEODTEST = [
    # lat1, lon1, azi1, lat2, lon2, azi2, s12 in metres
    (
        35.60777,
        -139.44815,
        111.098748429560326,
        -11.17491,
        -69.95921,
        129.289270889708762,
        8935244.5604818305,
    ),
    (1.74708, 128.32011, -101.584843631173858, -11.16617, 11.87109, -86.325793296437476, 12942901.1241347408),
    (6.96833, 52.74123, 92.581585386317712, -7.39675, 206.17291, 90.721692165923907, 17102477.2496958388),
    (
        -19.79938,
        -174.47484,
        71.167275780171533,
        -11.99349,
        -154.35109,
        65.589099775199228,
        2319004.8601169389,
    ),
    (-41.22777, 122.32875, 14.285113402275739, -7.57291, 130.37946, 10.805303085187369, 3812686.035106021),
]


@pytest.mark.parametrize(("lat1", "lon1", "azi1", "lat2", "lon2", "azi2", "s12_m"), GEODTEST)
def test_the_yardstick_agrees_with_the_published_rows(lat1, lon1, azi1, lat2, lon2, azi2, s12_m):
    """Length and both azimuths of five long geodesics."""
    start, end, length_m = GEOD.inv(lon1, lat1, lon2, lat2)

    assert s12_m == pytest.approx(length_m, abs=LINE_TOLERANCE_M)
    assert azi1 == pytest.approx(start, abs=100 * AZIMUTH_TOLERANCE_DEG)
    assert azi2 == pytest.approx((end + 360.0) % 360.0 - 180.0, abs=100 * AZIMUTH_TOLERANCE_DEG)


@pytest.mark.parametrize(
    ("lat1", "lon1", "lat2", "lon2", "s12_m", "tolerance_m"),
    [
        (40.6, -73.8, 49.01666667, 2.55, 5853226, 0.5),
        (36.493349428792, 0, 36.49334942879201, 0.0000008, 0.072, 0.5e-3),
        (1, 1, 2, 2, 156876.149, 0.5e-3),
    ],
)
def test_the_yardstick_agrees_with_the_other_lengths(lat1, lon1, lat2, lon2, s12_m, tolerance_m):
    """Further lengths of the same file, down to seven centimetres, within its tolerances."""
    assert s12_m == pytest.approx(GEOD.inv(lon1, lat1, lon2, lat2)[2], abs=tolerance_m)


PLACES = [
    ("equator", 36.8, 0.0),
    ("southern hemisphere", 34.12345, -13.98765),
    ("northern hemisphere", 85.3, 27.7),
    ("70 N", 25.0, 70.0),
    ("70 S", -60.0, -70.0),
    ("84 N", 10.0, 84.0),
    ("antimeridian", 179.9999, -16.8),
    ("antimeridian from the west", -179.9999, 65.0),
    ("zero meridian", 0.0, 5.6),
]
ROUND = np.arange(0.0, 360.0, 15.0)


@pytest.mark.parametrize(("lon", "lat"), [row[1:] for row in PLACES], ids=[row[0] for row in PLACES])
def test_five_kilometres_from_the_centre_are_right_within_a_millimetre(lon, lat):
    """In every direction the length on the plane is that of the geodesic, and so is its direction."""
    n = len(ROUND)
    ends = np.column_stack(GEOD.fwd([lon] * n, [lat] * n, ROUND, [5000.0] * n)[:2])

    xy = Frame(lon=lon, lat=lat).to_local(ends)
    turned = (np.degrees(np.arctan2(xy[:, 0], xy[:, 1])) - ROUND + 180.0) % 360.0 - 180.0

    assert [5000.0] * n == pytest.approx(list(np.hypot(xy[:, 0], xy[:, 1])), abs=MILLIMETRE_M)
    # 1 mm across at 5 km
    assert [0.0] * n == pytest.approx(list(turned), abs=np.degrees(MILLIMETRE_M / 5000.0))


@pytest.mark.parametrize(("lon", "lat"), [row[1:] for row in PLACES], ids=[row[0] for row in PLACES])
def test_thirty_metres_at_two_kilometres_are_thirty_metres(lon, lat):
    """A setback anywhere on a large site is true to a hundredth of a millimetre, whichever way it runs."""
    frame, n = Frame(lon=lon, lat=lat), len(ROUND)
    starts = frame.to_world(2000.0 * np.column_stack([np.sin(np.radians(ROUND)), np.cos(np.radians(ROUND))]))
    for bearing in (0.0, 60.0, 90.0):
        ends = np.column_stack(GEOD.fwd(starts[:, 0], starts[:, 1], [bearing] * n, [30.0] * n)[:2])

        steps = frame.to_local(ends) - frame.to_local(starts)

        assert [30.0] * n == pytest.approx(list(np.hypot(steps[:, 0], steps[:, 1])), abs=HUNDREDTH_MM_M)


@pytest.mark.parametrize(("lon", "lat"), [row[1:] for row in PLACES], ids=[row[0] for row in PLACES])
def test_a_frame_found_from_corners_measures_the_corners(lon, lat):
    """The frame that a site gets from its own corners gives their distances within a millimetre."""
    east = (lon + 0.02 + 180.0) % 360.0 - 180.0
    corners = np.array([[lon, lat - 0.01], [east, lat - 0.01], [east, lat], [lon, lat]])

    xy = centred_on(corners).to_local(corners)

    for one in range(4):
        for other in range(one):
            _, _, length_m = GEOD.inv(*corners[one], *corners[other])
            assert length_m == pytest.approx(float(np.hypot(*(xy[one] - xy[other]))), abs=MILLIMETRE_M)
