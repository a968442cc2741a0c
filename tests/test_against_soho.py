"""Real points in a treacherous projection: the public pumps of Soho, 1854, as libpysal carries them.

Source: John Snow, *On the Mode of Communication of Cholera* (1854/55), map of Golden Square and Broad Street, as the
data set snow_maps of libpysal (4.14.1 seen): 13 pumps as a shapefile in EPSG:3857, where a degree of longitude has
the same length everywhere and a metre at 51.5 N is drawn 1.6 m long.
"""

import shutil
from importlib.resources import files
from itertools import combinations
from math import cos, radians

import pytest
import shapely
from pyproj import Geod, Transformer

from siting.io.read import read_site

pytest.importorskip("libpysal")
pytest.importorskip("pyogrio")

GEOD = Geod(ellps="WGS84")
MILLIMETRE_M = 1e-3
PUMPS = 13
LATITUDE_DEG = 51.513
PARTS = (".shp", ".shx", ".dbf", ".prj")


@pytest.fixture(scope="module")
def carried():
    """The folder of the data set within the installed package; nothing is fetched."""
    folder = files("libpysal").joinpath("examples", "snow_maps")
    if not folder.joinpath("SohoWater.shp").is_file():
        pytest.skip("this libpysal carries no snow_maps")
    return folder


@pytest.fixture(scope="module")
def site(carried, tmp_path_factory):
    """The pumps read as wells."""
    folder = tmp_path_factory.mktemp("soho")
    for part in PARTS:
        shutil.copy(str(carried.joinpath(f"SohoWater{part}")), folder / f"pumps{part}")
    (folder / "site.toml").write_text(
        'name = "Golden Square"\n[[source]]\nfile = "pumps.shp"\nkind = "well"\naccuracy_m = "exact"\n'
    )
    return read_site(folder)


@pytest.fixture(scope="module")
def as_drawn(carried):
    """The same points in the metres of their file, read without this package."""
    import pyogrio.raw

    _, _, geometry, _ = pyogrio.raw.read(str(carried.joinpath("SohoWater.shp")), columns=[])
    return shapely.get_coordinates(shapely.from_wkb(geometry))


def test_every_pump_is_a_well(site, as_drawn):
    """Thirteen, each with a name of its own, at its place on earth."""
    assert PUMPS == len(site.features) == len(as_drawn)
    assert {"well"} == {f.kind for f in site.features}
    assert PUMPS == len({f.name for f in site.features})
    assert LATITUDE_DEG == pytest.approx(site.frame.lat, abs=0.005)
    assert -0.137 == pytest.approx(site.frame.lon, abs=0.005)


def test_distances_are_those_of_the_ellipsoid(site, as_drawn):
    """All 78 pairs on the site's plane against the geodesic between the same points (PROJ), within a millimetre."""
    degrees = Transformer.from_crs(3857, 4326, always_xy=True).transform(*as_drawn.T)
    pairs = list(combinations(range(PUMPS), 2))

    geodesic_m = [GEOD.inv(degrees[0][a], degrees[1][a], degrees[0][b], degrees[1][b])[2] for a, b in pairs]
    plane_m = [site.features[a].geometry.distance(site.features[b].geometry) for a, b in pairs]

    assert 78 == len(pairs)
    assert geodesic_m == pytest.approx(plane_m, abs=MILLIMETRE_M)
    assert 300.0 < max(geodesic_m) < 1500.0


def test_the_metres_of_the_file_are_none(site, as_drawn):
    """Taken as they stand, the coordinates make every distance 1.6 times too long (1 / cos of the latitude)."""
    shapes = shapely.points(as_drawn)
    stretch = [
        shapes[a].distance(shapes[b]) / site.features[a].geometry.distance(site.features[b].geometry)
        for a, b in combinations(range(PUMPS), 2)
    ]

    assert "1.6" == f"{min(stretch):.1f}" == f"{max(stretch):.1f}"
    # The ellipsoid adds up to 0.4 % to the sphere's 1 / cos, depending on the direction.
    assert [1.0 / cos(radians(LATITUDE_DEG))] * len(stretch) == pytest.approx(stretch, rel=0.004)


def test_the_projection_costs_no_uncertainty(site):
    """Web Mercator is WGS 84 drawn badly: undoing it changes no datum, and the source says so."""
    (source,) = site.sources.values()

    assert 0.0 == source.shared_sigma_m
    assert "no change of datum" in source.operation
