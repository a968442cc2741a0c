"""Map projections against the worked examples of the EPSG guidance note, and the two traps of printed grids.

Source: IOGP Publication 373-7-2, *Geomatics Guidance Note 7, part 2* (September 2019), Transverse Mercator example
pp. 54-55; Ordnance Survey, *A guide to coordinate systems in Great Britain*, annex C (both seen-2).
"""

import json
import re

import numpy as np
import pytest
from pyproj import Geod, Transformer

from siting.frame import _pipeline
from siting.io.crs import to_wgs84
from siting.io.read import read_site

GEOD = Geod(ellps="WGS84")
MILLIMETRE_M = 1e-3


def degrees(whole, minutes, seconds):
    """Degrees from degrees, minutes and seconds."""
    return whole + minutes / 60.0 + seconds / 3600.0


@pytest.mark.parametrize(
    ("lat", "lon", "east_m", "north_m", "tolerance_m"),
    [
        (degrees(50, 30, 0), degrees(0, 30, 0), 577274.99, 69740.50, 0.01),  # GN 7-2
        (degrees(52, 39, 27.2531), degrees(1, 43, 4.5177), 651409.903, 313177.270, 0.001),  # OS, annex C
        (degrees(52, 34, 26.8915), degrees(1, 20, 21.1080), 626238.248, 302646.412, 0.001),  # OS, annex C
    ],
)
def test_transverse_mercator(lat, lon, east_m, north_m, tolerance_m):
    """The operation behind a site's plane, given the constants of the British grid, gives the printed grid."""
    definition = _pipeline(-2.0, 49.0).definition
    british = (
        ("ellps=WGS84", "a=6377563.396 rf=299.3249646"),
        ("k=1", "k=0.9996012717"),
        ("x_0=0", "x_0=400000"),
        ("y_0=0", "y_0=-100000"),
    )
    for ours, theirs in british:
        definition, changed = re.subn(rf"\b{ours}(?=\s|$)", theirs, definition)
        assert 1 == changed, ours

    east, north = Transformer.from_pipeline(definition).transform(lon, lat)

    assert east_m == pytest.approx(east, abs=tolerance_m)
    assert north_m == pytest.approx(north, abs=tolerance_m)


@pytest.mark.parametrize(
    ("place", "crs", "lon", "lat", "scale"),
    [
        ("Nairobi", "EPSG:32737", 36.8172, -1.2864, 1.000330367),
        ("equator on the central meridian", "EPSG:32737", 39.0, 0.0, 0.9996),
        ("equator 3 degrees from it", "EPSG:32737", 36.0, 0.0, 1.000981061),
        ("Abuja", "EPSG:32632", 7.49, 9.06, 0.999940853),
        ("Delhi", "EPSG:32643", 77.21, 28.61, 1.000176280),
    ],
)
def test_the_scale_of_a_grid_is_taken_out(place, crs, lon, lat, scale):
    """A hundred metres of UTM grid are 100 / k metres of ground (scale factors: own, PROJ; places of EPSG zones)."""
    x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat)
    ends = np.array([[x - 50.0, y], [x + 50.0, y]])

    lonlat = to_wgs84(crs, ends).to_lonlat(ends)

    assert 100.0 / scale == pytest.approx(GEOD.inv(*lonlat[0], *lonlat[1])[2], abs=MILLIMETRE_M), place


@pytest.mark.parametrize(
    ("lat", "east_west_m", "north_south_m"),
    [(0, 30.0000, 29.7992), (10, 29.5472, 29.3553), (25, 27.2055, 27.0557), (40, 23.0132, 22.9225)],
)
def test_a_file_in_web_mercator_is_measured_on_the_ground(lat, east_west_m, north_south_m, tmp_path):
    """30 m of EPSG:3857 centred at a latitude arrive on the site's plane as metres of ground, not as 30 m.

    True lengths: own, Karney's inverse at longitude 36 degrees.
    """
    x, y = Transformer.from_crs(4326, 3857, always_xy=True).transform(36.0, lat)
    points = {"west": (x - 15, y), "east": (x + 15, y), "south": (x, y - 15), "north": (x, y + 15)}
    features = [
        {
            "type": "Feature",
            "properties": {"kind": "well", "name": name},
            "geometry": {"type": "Point", "coordinates": list(place)},
        }
        for name, place in points.items()
    ]
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3857"}}
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": features}))

    site = read_site(tmp_path / "a.geojson")

    across = site.named("west").geometry.distance(site.named("east").geometry)
    along = site.named("south").geometry.distance(site.named("north").geometry)
    assert east_west_m == pytest.approx(across, abs=MILLIMETRE_M)
    assert north_south_m == pytest.approx(along, abs=MILLIMETRE_M)
