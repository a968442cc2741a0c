"""Datum operations chosen for a place, against values computed once with PROJ 9.5.1 and the EPSG dataset v11.022.

Status of all values here: own (computed with PROJ, not printed in a document).
The accuracies are those the EPSG dataset states for the operation.
"""

import numpy as np
import pytest
from pyproj import CRS, Geod, Transformer

from siting.errors import DatumError, InputError
from siting.io.crs import step_m, to_wgs84

SHIFT_TOLERANCE_M = 0.1
BEARING_TOLERANCE_DEG = 0.1
LENGTH_TOLERANCE_M = 1e-3
GEOD = Geod(ellps="WGS84")

IGNORED_DATUMS = [
    # place, lat, lon, geographic CRS of the datum, shift m, towards deg, stated accuracy m
    ("Nairobi", -1.2864, 36.8172, "EPSG:4210", 300.7, 162.1, 6),
    ("Dar es Salaam", -6.80, 39.28, "EPSG:4210", 254.3, 158.6, 15),
    ("Lusaka", -15.42, 28.28, "EPSG:4209", 138.0, 178.1, 41),
    ("Lilongwe", -13.98, 33.78, "EPSG:4209", 188.6, 171.2, 27),
    ("Addis Ababa", 9.03, 38.74, "EPSG:4201", 150.3, 39.1, 6),
    ("Khartoum", 15.60, 32.53, "EPSG:4201", 93.1, 53.5, 7),
    ("Abuja", 9.06, 7.49, "EPSG:4263", 85.1, 289.5, 15),
    ("Kuala Lumpur", 3.14, 101.69, "EPSG:4245", 163.0, 262.7, 15),
    ("Bangkok", 13.75, 100.50, "EPSG:4240", 584.7, 293.7, 3),
    ("Dhaka", 23.81, 90.41, "EPSG:4682", 299.4, 285.1, 1),
    ("Delhi", 28.61, 77.21, "EPSG:4146", 124.8, 272.2, 22),
    ("Colombo", 6.93, 79.86, "EPSG:4244", 237.1, 80.8, 35),
    ("Kumasi", 6.69, -1.62, "EPSG:4250", 297.2, 4.9, 5),
    ("Jakarta", -6.20, 106.85, "EPSG:4211", 168.0, 82.6, 5),
    ("Pretoria", -25.75, 28.19, "EPSG:4222", 71.4, 205.7, 9),
    ("Manila", 14.60, 120.98, "EPSG:4253", 226.0, 137.2, 17),
]


@pytest.mark.parametrize(
    ("lat", "lon", "crs", "shift_m", "towards_deg", "accuracy_m"),
    [row[1:] for row in IGNORED_DATUMS],
    ids=[row[0] for row in IGNORED_DATUMS],
)
def test_sixteen_places_move_as_their_datum_demands(lat, lon, crs, shift_m, towards_deg, accuracy_m):
    """The best operation for the place is chosen, moves the point right, and says how sure it is."""
    here = np.array([[lon, lat]])

    operation = to_wgs84(crs, here)
    there = operation.to_lonlat(here)[0]
    bearing_deg, _, moved_m = GEOD.inv(lon, lat, there[0], there[1])

    assert shift_m == pytest.approx(moved_m, abs=SHIFT_TOLERANCE_M)
    assert towards_deg == pytest.approx(bearing_deg % 360.0, abs=BEARING_TOLERANCE_DEG)
    assert accuracy_m == operation.accuracy_m
    assert operation.shared_sigma_m == pytest.approx(accuracy_m / 2**0.5)


@pytest.mark.parametrize(("lat", "lon"), [(12.64, -8.00), (14.69, -17.44)], ids=["Mali", "Senegal"])
@pytest.mark.parametrize("crs", ["EPSG:4201", "EPSG:20135"])
def test_a_ballpark_operation_is_refused(lat, lon, crs):
    """Adindan in Mali and Senegal: PROJ offers only a ballpark operation of shift 0; it must not be taken.

    A grid on that datum (UTM 35N) must be refused as well as its degrees.
    """
    xy = np.array([[lon, lat]])
    if crs == "EPSG:20135":
        xy = np.column_stack(Transformer.from_crs(4201, 20135, always_xy=True).transform(xy[:, 0], xy[:, 1]))

    with pytest.raises(DatumError, match="no operation with a stated accuracy"):
        to_wgs84(crs, xy)


@pytest.mark.parametrize(
    "text",
    ["+proj=utm +zone=37 +south +ellps=clrk80 +units=m", "EPSG:4243"],
    ids=["an ellipsoid without a datum", "Kalianpur 1880"],
)
def test_a_datum_nobody_tied_to_wgs84_is_refused(text):
    """An ellipsoid alone, and a datum for which the EPSG dataset has no operation, are no way to WGS 84."""
    xy = np.array([[300000.0, 9857000.0]]) if text.startswith("+") else np.array([[77.2, 28.6]])

    with pytest.raises(DatumError):
        to_wgs84(text, xy)


@pytest.mark.parametrize("crs", ["EPSG:4326", "OGC:CRS84", "EPSG:3857", "EPSG:32737", "EPSG:9707"])
def test_no_change_of_datum_costs_nothing(crs):
    """Projections of WGS 84, and heights beside it, add no shared uncertainty."""
    xy = np.array([[36.8172, -1.2864]])
    if CRS.from_user_input(crs).is_projected:
        xy = np.column_stack(Transformer.from_crs(4326, crs, always_xy=True).transform(xy[:, 0], xy[:, 1]))

    operation = to_wgs84(crs, xy)

    assert 0.0 == operation.shared_sigma_m
    assert [36.8172, -1.2864] == pytest.approx(list(operation.to_lonlat(xy)[0]), abs=1e-9)
    assert "no change of datum" in str(operation)


@pytest.mark.parametrize(
    ("lat", "east_west_m", "north_south_m"),
    [
        (0, 30.0000, 29.7992),
        (10, 29.5472, 29.3553),
        (20, 28.2018, 28.0350),
        (25, 27.2055, 27.0557),
        (30, 26.0025, 25.8718),
        (40, 23.0132, 22.9225),
    ],
)
def test_web_mercator_is_undone(lat, east_west_m, north_south_m):
    """30 m on the map of EPSG:3857 are the true ground length, not 30 m (status: own, Karney inverse)."""
    x, y = Transformer.from_crs(4326, 3857, always_xy=True).transform(36.0, lat)
    ends = np.array([[x - 15, y], [x + 15, y], [x, y - 15], [x, y + 15]])

    lonlat = to_wgs84("EPSG:3857", ends).to_lonlat(ends)
    _, _, across_m = GEOD.inv(*lonlat[0], *lonlat[1])
    _, _, along_m = GEOD.inv(*lonlat[2], *lonlat[3])

    assert east_west_m == pytest.approx(across_m, abs=LENGTH_TOLERANCE_M)
    assert north_south_m == pytest.approx(along_m, abs=LENGTH_TOLERANCE_M)


@pytest.mark.parametrize(
    ("lat", "north_south_m", "east_west_m"),
    [
        (0, 1.10574, 1.11319),
        (5, 1.10583, 1.10899),
        (10, 1.10608, 1.09639),
        (20, 1.10704, 1.04647),
        (30, 1.10852, 0.96486),
    ],
)
def test_the_step_of_five_decimals(lat, north_south_m, east_west_m):
    """One step of 0.00001 degrees is the larger of its two lengths (status: own, Karney geodesic)."""
    wgs84 = to_wgs84("EPSG:4326", np.array([[36.0, lat]]))

    assert max(north_south_m, east_west_m) == pytest.approx(step_m(5, operation=wgs84, lat=lat), abs=1e-5)


def test_a_step_in_feet_is_told_in_metres():
    """A grid in feet has steps of a foot (international foot, 0.3048 m exactly)."""
    text = "+proj=utm +zone=37 +south +datum=WGS84 +units=ft"

    operation = to_wgs84(text, np.array([[850000.0, 32300000.0]]))

    assert 0.03048 == pytest.approx(step_m(1, operation=operation, lat=-1.3), abs=1e-9)


def test_a_system_nobody_knows_is_an_input_error():
    """A mistyped code is told in three parts."""
    with pytest.raises(InputError, match="no coordinate reference system is known as 'EPSG:9999999'"):
        to_wgs84("EPSG:9999999", np.array([[0.0, 0.0]]))
