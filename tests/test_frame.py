"""The site's own plane: metres that mean metres, north that is north, and the way back to degrees."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from siting.frame import MAX_LATITUDE_DEG, Frame, bearing_deg, centred_on

HAIR_M = 1e-6
HAIR_DEG = 1e-10
"About 0.01 mm on the ground."
MILLIMETRE_M = 1e-3


@pytest.mark.parametrize("lat", [-80.0, -13.98, 0.0, 51.5, 84.0])
def test_the_origin_is_zero_and_the_axes_point_east_and_north(lat):
    """The centre lies at (0, 0); a step east grows x alone, a step north grows y alone."""
    frame = Frame(lon=34.1, lat=lat)

    centre, east, north = frame.to_local(np.array([[34.1, lat], [34.1001, lat], [34.1, lat - 0.0001]]))

    assert [0.0, 0.0] == pytest.approx(list(centre), abs=HAIR_M)
    assert east[0] > 1.0
    assert 0.0 == pytest.approx(east[1], abs=1e-4)
    assert 0.0 == pytest.approx(north[0], abs=HAIR_M)
    assert north[1] < -11.0


@given(
    lon=st.floats(-180.0, 180.0),
    lat=st.floats(-MAX_LATITUDE_DEG, MAX_LATITUDE_DEG),
    x_m=st.floats(-5000.0, 5000.0),
    y_m=st.floats(-5000.0, 5000.0),
)
def test_there_and_back_is_the_same_place(lon, lat, x_m, y_m):
    """Metres to degrees and back give the same metres, wherever on earth the site lies."""
    frame = Frame(lon=lon, lat=lat)

    lonlat = frame.to_world(np.array([[x_m, y_m]]))
    back = frame.to_local(lonlat)[0]

    assert -180.0 <= lonlat[0, 0] <= 180.0
    assert [x_m, y_m] == pytest.approx(list(back), abs=HAIR_M)


@pytest.mark.parametrize("lonlat", [[[34.123456, -13.987654]], [[-179.999, 5.0]], [[0.001, 0.0]]])
def test_the_plane_printed_in_the_results_is_the_plane_used(lonlat):
    """Whoever feeds the PROJ text of the results to PROJ gets the same metres."""
    frame = centred_on(np.array([[lonlat[0][0] - 0.004, lonlat[0][1] + 0.003], lonlat[0]]))
    theirs = Transformer.from_crs("OGC:CRS84", frame.proj, always_xy=True).transform(*lonlat[0])

    ours = frame.to_local(np.array(lonlat))[0]

    assert list(theirs) == pytest.approx(list(ours), abs=MILLIMETRE_M)


def test_a_site_across_the_antimeridian_has_its_centre_there():
    """The middle of 179.999 and -179.999 is 180, not 0, and the two sides are neighbours."""
    corners = np.array([[179.999, -17.0], [-179.999, -17.0]])

    frame = centred_on(corners)
    xy = frame.to_local(corners)

    assert 180.0 == abs(frame.lon)
    assert 212.9 == pytest.approx(xy[1, 0] - xy[0, 0], abs=0.1)  # 0.002 degrees of the parallel at 17 S
    assert corners == pytest.approx(frame.to_world(xy), abs=HAIR_DEG)


def test_longitudes_beyond_180_are_the_same_places():
    """181 degrees east and 179 degrees west are one place, with one frame and one spot on it."""
    frame = centred_on(np.array([[181.0, -17.0], [181.002, -17.0]]))

    assert -178.999 == pytest.approx(frame.lon, abs=HAIR_DEG)
    here, there = frame.to_local(np.array([[181.0, -17.0], [-179.0, -17.0]]))
    assert list(here) == pytest.approx(list(there), abs=HAIR_M)


def test_the_centre_is_the_middle_of_the_extent_and_rounded():
    """Many points on one side do not draw the centre over; it carries six decimals, so that bytes stay the same."""
    frame = centred_on(np.array([[34.0, -14.0], [34.0000001, -14.0], [34.0, -14.0], [34.0010006, -13.9990006]]))

    assert (34.0005, -13.9995) == (frame.lon, frame.lat)


def test_a_plan_without_a_place_on_earth_keeps_its_metres():
    """Its coordinates pass unchanged, as a copy, and its PROJ text says so."""
    frame = Frame(lon=None, lat=None)
    xy = np.array([[12.5, -3.0]])

    moved = frame.to_local(xy)

    assert not frame.on_earth
    assert [[12.5, -3.0]] == moved.tolist()
    assert moved is not xy
    assert "no place on earth" in frame.proj


@pytest.mark.parametrize(
    ("lon", "lat"), [(34.0, None), (None, -14.0), (34.0, 84.1), (34.0, -90.0), (34.0, float("nan"))]
)
def test_a_frame_that_cannot_be_is_refused(lon, lat):
    """Half a centre, a pole, and not-a-number make no plane."""
    with pytest.raises(ValueError, match="lat"):
        Frame(lon=lon, lat=lat)


def test_geometries_move_as_their_points_do():
    """A polygon with a hole keeps its rings, and comes back to where it was."""
    frame = Frame(lon=34.1, lat=-13.98)
    plot = shapely.box(-30.0, -20.0, 30.0, 20.0) - shapely.box(-5.0, -5.0, 5.0, 5.0)

    world = frame.geometry_to_world(plot)
    back = frame.geometry_to_local(world)

    assert 1 == len(world.interiors)
    assert frame.to_world(shapely.get_coordinates(plot)) == pytest.approx(shapely.get_coordinates(world))
    assert shapely.get_coordinates(plot) == pytest.approx(shapely.get_coordinates(back), abs=HAIR_M)


@pytest.mark.parametrize(
    ("dx_m", "dy_m", "bearing"),
    [(0, 1, 0), (1, 1, 45), (1, 0, 90), (1, -1, 135), (0, -1, 180), (-1, 0, 270), (-1, 1, 315)],
)
def test_bearings_run_clockwise_from_north(dx_m, dy_m, bearing):
    """North is 0, east 90, south 180, west 270."""
    assert bearing == pytest.approx(bearing_deg(dx_m, dy_m))


@given(dx_m=st.floats(-100.0, 100.0), dy_m=st.floats(-100.0, 100.0))
def test_a_bearing_is_never_negative(dx_m, dy_m):
    """Every direction lies within 0 to 360 degrees."""
    assert 0.0 <= bearing_deg(dx_m, dy_m) <= 360.0
