"""One small site written in every format must be read as one and the same site."""

import json
import zipfile
from dataclasses import dataclass
from datetime import date
from io import StringIO

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from siting.io.crs import to_wgs84
from siting.io.read import read_site
from siting.site import Site, Status

GEOMETRY_TOLERANCE_M = 0.001
SIGMA_TOLERANCE_M = 0.001

OUTLINE = [(34.1234501, -13.9876501), (34.1254503, -13.9876502), (34.1254507, -13.9860503), (34.1234509, -13.9860504)]


@dataclass(frozen=True)
class Item:
    kind: str
    name: str
    geometry: BaseGeometry
    accuracy_m: float
    status: str
    casing_m: float


ITEMS = (
    Item("boundary", "Plot", shapely.Polygon(OUTLINE), 2, "existing", 0.0),
    Item("well", "Old well", shapely.Point(34.1240013, -13.9870017), 5, "closed", 6.5),
    Item("pit latrine", "Latrine A", shapely.Point(34.1245021, -13.9865023), 3, "existing", 0.5),
    Item(
        "river", "Mbewe", shapely.LineString([(34.1230031, -13.9850037), (34.1260041, -13.9852043)]), 8, "existing", 1.5
    ),
    Item("gizmo", "Thing", shapely.Point(34.1250047, -13.9869053), 4, "proposed", 2.5),
)
DAY = "2026-05-14"


def properties(item: Item) -> dict[str, object]:
    """The columns of one item."""
    return {
        "kind": item.kind,
        "name": item.name,
        "accuracy_m": item.accuracy_m,
        "status": item.status,
        "seen_on": DAY,
        "radius_m": 1.5,
        "casing_m": item.casing_m,
        "lined": True,
    }


def write_geojson(path):
    """The site as GeoJSON."""
    features = [
        {"type": "Feature", "properties": properties(i), "geometry": json.loads(shapely.to_geojson(i.geometry))}
        for i in ITEMS
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))


def write_csv(path, *, delimiter=",", comma=False, encoding="utf-8"):
    """The site as a table with well-known text."""
    held = [{**properties(i), "wkt": i.geometry.wkt} for i in ITEMS]
    lines = StringIO()
    lines.write(delimiter.join(held[0]) + "\r\n")
    for row in held:
        cells = [str(cell) for cell in row.values()]
        if comma:
            cells = [c.replace(".", ",") if c.replace(".", "").isdigit() else c for c in cells]
        lines.write(delimiter.join(f'"{cell}"' for cell in cells) + "\r\n")
    path.write_bytes(lines.getvalue().encode(encoding))


def write_gpx(path):
    """The site as waypoints and tracks; the boundary a closed track."""

    def point(tag, lon, lat, inner=""):
        return f'<{tag} lat="{lat!r}" lon="{lon!r}">{inner}</{tag}>'

    parts = []
    for item in ITEMS:
        extra = "".join(
            f"<{key}>{value}</{key}>"
            for key, value in properties(item).items()
            if key not in ("kind", "name", "seen_on")
        )
        head = f"<name>{item.name}</name>"
        tail = f"<type>{item.kind}</type><extensions>{extra}<seen_on>{DAY}</seen_on></extensions>"
        if item.geometry.geom_type == "Point":
            parts.append(point("wpt", item.geometry.x, item.geometry.y, head + tail))
            continue
        line = item.geometry.exterior if item.geometry.geom_type == "Polygon" else item.geometry
        points = "".join(point("trkpt", x, y) for x, y in line.coords)
        parts.append(f"<trk>{head}{tail}<trkseg>{points}</trkseg></trk>")
    path.write_text(f'<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1">{"".join(parts)}</gpx>')


def kml():
    """The site as KML."""

    def coordinates(line):
        return "<coordinates>" + " ".join(f"{x!r},{y!r}" for x, y in line.coords) + "</coordinates>"

    parts = []
    for item in ITEMS:
        data = "".join(
            f'<Data name="{key}"><value>{value}</value></Data>'
            for key, value in properties(item).items()
            if key != "name"
        )
        shape = {
            "Point": lambda g: f"<Point>{coordinates(g)}</Point>",
            "LineString": lambda g: f"<LineString>{coordinates(g)}</LineString>",
            "Polygon": lambda g: (
                "<Polygon><outerBoundaryIs><LinearRing>"
                f"{coordinates(g.exterior)}</LinearRing></outerBoundaryIs></Polygon>"
            ),
        }[item.geometry.geom_type](item.geometry)
        parts.append(f"<Placemark><name>{item.name}</name><ExtendedData>{data}</ExtendedData>{shape}</Placemark>")
    return (
        f'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{"".join(parts)}</Document></kml>'
    )


def write_kmz(path):
    """The site as KMZ."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", kml())


def write_xlsx(path):
    """The site as the second sheet of a workbook."""
    import xlsxwriter

    book = xlsxwriter.Workbook(path)
    book.add_worksheet("cover").write(0, 0, "Survey of May")
    page = book.add_worksheet("points")
    held = [{**properties(i), "wkt": i.geometry.wkt} for i in ITEMS]
    page.write_row(0, 0, list(held[0]))
    for row, each in enumerate(held, start=1):
        page.write_row(row, 0, list(each.values()))
    book.close()


def write_layers(path, driver, *, split=False):
    """Through the reader's own door, so that the drivers are switched off first."""
    from siting.io.vector import _pyogrio

    pyogrio = _pyogrio()
    wanted = {"Point": [], "LineString": [], "Polygon": []}
    for item in ITEMS:
        wanted[item.geometry.geom_type if split else "Point"].append(item)
    for sort, items in wanted.items():
        if not items:
            continue
        held = [properties(item) for item in items]
        fields = list(held[0])
        pyogrio.raw.write(
            path,
            shapely.to_wkb(np.array([item.geometry for item in items], dtype=object)),
            field_data=[
                np.array([row[f] for row in held], dtype=object if isinstance(held[0][f], str) else None)
                for f in fields
            ],
            fields=fields,
            geometry_type=sort if split else "Unknown",
            crs="EPSG:4326",
            driver=driver,
            layer=sort.lower() if split else path.stem,
            append=split and path.exists(),
        )


WRITERS = {
    "site.geojson": write_geojson,
    "site.csv": write_csv,
    "site.tsv": lambda path: write_csv(path, delimiter="\t"),
    "semicolons.csv": lambda path: write_csv(path, delimiter=";", comma=True, encoding="utf-8-sig"),
    "wide.csv": lambda path: write_csv(path, delimiter="\t", encoding="utf-16"),
    "site.gpx": write_gpx,
    "site.kml": lambda path: path.write_text(kml()),
    "site.kmz": write_kmz,
    "site.xlsx": write_xlsx,
    "site.gpkg": lambda path: write_layers(path, "GPKG", split=True),
    "site.fgb": lambda path: write_layers(path, "FlatGeobuf"),
}


@pytest.fixture(scope="module")
def expected(tmp_path_factory) -> Site:
    """The site as its GeoJSON is read."""
    path = tmp_path_factory.mktemp("expected") / "site.geojson"
    write_geojson(path)
    return read_site(path)


@pytest.mark.parametrize("name", WRITERS)
def test_every_format_gives_the_same_site(name, expected, tmp_path):
    """Kinds, names, shapes (1 mm), sigmas, states, dates and attributes do not depend on the format."""
    path = tmp_path / name
    WRITERS[name](path)

    site = read_site(path)

    assert expected.frame == site.frame
    assert {f.name for f in expected.features} == {f.name for f in site.features}
    for one in expected.features:
        other = site.named(one.name)
        assert one.kind == other.kind
        assert 0.0 == pytest.approx(one.geometry.hausdorff_distance(other.geometry), abs=GEOMETRY_TOLERANCE_M)
        assert one.geometry.geom_type == other.geometry.geom_type
        assert one.sigma_m == pytest.approx(other.sigma_m, abs=SIGMA_TOLERANCE_M)
        assert (one.status, one.seen_on, one.radius_m) == (other.status, other.seen_on, other.radius_m)
        assert dict(one.attributes) == dict(other.attributes)


def test_the_site_read_is_the_site_written(expected):
    """The values themselves, once: kind, state, date, radius, typed attributes and the shape's size."""
    well = expected.named("Old well")

    assert ("well", Status.CLOSED, date(2026, 5, 14), 1.5) == (well.kind, well.status, well.seen_on, well.radius_m)
    assert {"casing_m": 6.5, "lined": True} == dict(well.attributes)
    assert "unknown" == expected.named("Thing").kind
    assert "gizmo" == expected.named("Thing").attributes["kind_as_written"]
    # R68 = 1.509592 sigma (Rayleigh quantile; recomputed), so 5 m at 68 % are 3.312153 m; digits add under 1 mm
    assert 3.312153 == pytest.approx(well.sigma_m, abs=SIGMA_TOLERANCE_M)
    plot = expected.boundaries[0].geometry
    # 0.0020002 x 0.0016 degrees at 13.987 S: 216.1 m x 177.0 m (WGS 84 radii of curvature, own)
    assert 216.1 * 177.0 == pytest.approx(plot.area, rel=0.002)


def test_a_shapefile_gives_the_same_points(expected, tmp_path):
    """A shapefile holds one sort of geometry and ten letters of a heading; points must survive that."""
    from siting.io.vector import _pyogrio

    points = [item for item in ITEMS if item.geometry.geom_type == "Point"]
    held = [properties(item) for item in points]
    _pyogrio().raw.write(
        tmp_path / "points.shp",
        shapely.to_wkb(np.array([item.geometry for item in points], dtype=object)),
        field_data=[
            np.array([row[f] for row in held], dtype=object if isinstance(held[0][f], str) else None) for f in held[0]
        ],
        fields=list(held[0]),
        geometry_type="Point",
        crs="EPSG:4326",
        driver="ESRI Shapefile",
    )

    site = read_site(tmp_path / "points.shp")

    for item in points:
        there = expected.frame.geometry_to_world(expected.named(item.name).geometry)
        here = site.frame.geometry_to_world(site.named(item.name).geometry)
        assert 0.0 == pytest.approx(there.distance(here), abs=1e-8)
        assert expected.named(item.name).kind == site.named(item.name).kind
        assert item.casing_m == site.named(item.name).attributes["casing_m"]
        assert expected.named(item.name).sigma_m == pytest.approx(site.named(item.name).sigma_m, abs=SIGMA_TOLERANCE_M)


def test_a_grid_on_wgs84_gives_the_same_places(expected, tmp_path):
    """x and y of UTM 36S to the millimetre are the same places, without shared uncertainty."""
    from pyproj import Transformer

    utm = Transformer.from_crs(4326, 32736, always_xy=True)
    rows = ["x,y,kind,name,accuracy_m"]
    points = [item for item in ITEMS if item.geometry.geom_type == "Point"]
    for item in points:
        x, y = utm.transform(item.geometry.x, item.geometry.y)
        rows.append(f"{x:.4f},{y:.4f},{item.kind},{item.name},{item.accuracy_m}")
    (tmp_path / "grid.csv").write_text("\n".join(rows))
    (tmp_path / "site.toml").write_text('crs = "EPSG:32736"')

    site = read_site(tmp_path)

    assert 0.0 == site.sources["grid.csv"].shared_sigma_m
    assert "UTM zone 36S" in site.sources["grid.csv"].operation
    for item in points:
        there = expected.frame.geometry_to_world(expected.named(item.name).geometry)
        here = site.frame.geometry_to_world(site.named(item.name).geometry)
        assert 0.0 == pytest.approx(there.distance(here), abs=1e-8)


def test_a_local_datum_is_shifted_and_shared(tmp_path):
    """Arc 1960 degrees move 300.7 m at Nairobi (own, PROJ) and carry 6 m / sqrt(2) (EPSG operation 1284)."""
    (tmp_path / "p.csv").write_text("lat,lon,kind,name\n-1.2864000,36.8172000,well,W")
    (tmp_path / "site.toml").write_text('[[source]]\nfile = "p.csv"\ncrs = "EPSG:4210"\naccuracy_m = 5')

    site = read_site(tmp_path)
    place = site.frame.geometry_to_world(site.named("W").geometry)

    assert 6 / 2**0.5 == pytest.approx(site.sources["p.csv"].shared_sigma_m)
    assert "Arc 1960 to WGS 84 (2)" in site.sources["p.csv"].operation
    moved = to_wgs84("EPSG:4210", np.array([[36.8172, -1.2864]])).to_lonlat(np.array([[36.8172, -1.2864]]))[0]
    assert list(moved) == pytest.approx([place.x, place.y], abs=1e-8)


def test_the_common_formats_need_nothing_heavy():
    """GeoJSON, CSV, GPX and KML are read without pandas, geopandas or pyogrio: they cost half a second."""
    import subprocess
    import sys

    code = (
        "import sys; from siting.io import read, geojson, csv, gpx, kml, table, vector, xlsx\n"
        "print(sorted({'pandas', 'geopandas', 'pyogrio', 'python_calamine', 'scipy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert "[]" == done.stdout.strip()


def test_other_drivers_are_off():
    """Once the reader has imported it, GDAL has no driver but those of the three formats read through it."""
    import subprocess
    import sys

    code = "from siting.io.vector import _pyogrio; print(sorted(_pyogrio().list_drivers()))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert "['ESRI Shapefile', 'FlatGeobuf', 'GPKG']" == done.stdout.strip()
