"""Files for other programs: our own readers find the same site in them, and independent readers open them."""

import io
import sys
from dataclasses import replace
from pathlib import Path

import map_sites
import numpy as np
import pytest
import shapely

from siting.assess import assess
from siting.errors import OutputError
from siting.frame import Frame
from siting.io.assemble import on_plane
from siting.io.dxf import read_drawing
from siting.io.features import gathered
from siting.io.packs import in_force
from siting.io.read import read_site
from siting.io.records import Document
from siting.io.stated import Stated
from siting.kinds import vocabulary
from siting.outputs.exchange import FORMATS, exchange_files
from siting.outputs.exchange_formats.dxf import proj
from siting.site import Status

pytest.importorskip("ezdxf", reason="the extra [dxf]")

SAMPLES = Path(__file__).parents[1] / "sample_sites"
PLACE_M = 0.001
"Coordinates are written to a tenth of a millimetre; what is read again stands within a millimetre."
MARGIN_M = 0.005
"A margin is the same within the 5 mm that page and package agree to."
SIGMA_M = 0.0005
"An accuracy of written digits adds the rounding of its coordinates."
WITH_OUTLINES = ("geojson", "gpkg", "kml", "csv")
"Formats that keep areas as areas and every property."


@pytest.fixture(scope="module")
def found():
    """Two fields with every sort of geometry and status, and three places."""
    return map_sites.found()


@pytest.fixture(scope="module")
def files(found):
    """Every format of it."""
    return exchange_files(found, FORMATS)


def again(data, name, folder):
    """A file of the site read by our own reader."""
    path = folder / name
    path.write_bytes(data)
    return read_site(path)


def sample(name):
    """A sample site as it is read, with the rules it names."""
    model = read_site(SAMPLES / name)
    return model, in_force(model.packs, beside=SAMPLES / name)


def rows(model, packs):
    """What a check says, in the order of names that reading again may not change."""
    held = assess(model, packs, vocabulary()).separations
    return sorted((s.installation, s.rule.full_id, s.limit.relation, s.feature, s.verdict, s.margin) for s in held)


@pytest.mark.parametrize("form", WITH_OUTLINES)
def test_the_site_is_read_again_as_it_was(form, found, files, tmp_path):
    """Kinds, names, shapes, accuracy, radius, status and attributes of every feature."""
    model = again(files[f"site.{form}"], f"site.{form}", tmp_path)
    read = {feature.name: feature for feature in model.features}

    assert {f.name for f in found.site.features} == read.keys()
    for feature in found.site.features:
        own = read[feature.name]
        world = found.site.frame.geometry_to_world(feature.geometry)
        assert (feature.kind, feature.status) == (own.kind, own.status)
        assert feature.radius_m == own.radius_m
        assert feature.sigma_m == pytest.approx(own.sigma_m, abs=SIGMA_M)
        assert PLACE_M > shapely.hausdorff_distance(model.frame.geometry_to_local(world), own.geometry)


@pytest.mark.parametrize("form", ["geojson", "gpkg", "kml", "gpx", "csv"])
@pytest.mark.parametrize("name", ["marula-ridge", "kessa-hill", "old-market"])
def test_a_sample_read_again_has_the_same_rows(form, name, tmp_path):
    """Every separation of what stands: same feature, same verdict, margin within 5 mm; outlines as tracks too."""
    model, packs = sample(name)
    data = exchange_files(assess(model, packs, vocabulary()), [form])[f"site.{form}"]

    read = again(data, f"site.{form}", tmp_path)
    same = replace(model, features=read.features, frame=read.frame, sources=read.sources)

    assert model.frame == read.frame
    expected, actual = rows(model, packs), rows(same, packs)
    assert [row[:5] for row in expected] == [row[:5] for row in actual]
    for one, other in zip(expected, actual, strict=True):
        assert one[5] == pytest.approx(other[5], abs=max(MARGIN_M, 1e-4 * abs(one[5]))), one


@pytest.mark.parametrize("name", ["marula-ridge", "old-market"])
def test_a_drawing_read_again_has_the_same_rows(name, tmp_path):
    """Layers give the kinds, writing and attributes the names; the rest of an outline the site has to state itself."""
    model, packs = sample(name)
    sigma_m = {f.sigma_m for f in model.features if f.geometry.geom_type != "Point"}.pop()
    data = exchange_files(assess(model, packs, vocabulary()), ["dxf"])["site.dxf"]
    document = Document(path=Path("site.dxf"), name="site.dxf", data=data, stated_crs=proj(model.frame))
    stated = Stated(file="site.dxf", accuracy_m=sigma_m * 1.50959, accuracy_level=0.68)

    parts = gathered(read_drawing(document).reading, document, stated=stated, default="receiver")
    laid = on_plane(parts.features)
    # Writing names no boundary: it may stand by anything inside.
    (boundary,) = model.boundaries
    order = [f.name for f in model.features if f.kind != "unknown"]
    known = {boundary.name if f.kind == "boundary" else f.name: f for f in laid.features}
    known = {name: replace(f, name=name) for name, f in known.items()}
    for feature in model.features:
        if feature.geometry.geom_type != "Point" and feature.name in known:
            told = {"attributes": feature.attributes, "status": feature.status}
            known[feature.name] = replace(known[feature.name], **told)
    same = replace(
        model, frame=laid.frame, sources={s.name: s for s in parts.sources},
        features=tuple(known[name] for name in order),
    )  # fmt: skip
    kept = replace(model, features=tuple(f for f in model.features if f.kind != "unknown"))

    assert sorted(order) == sorted(known)
    expected, actual = rows(kept, packs), rows(same, packs)
    assert [row[:4] for row in expected] == [row[:4] for row in actual]
    for one, other in zip(expected, actual, strict=True):
        assert one[5] == pytest.approx(other[5], abs=MARGIN_M), one


def test_geopandas_opens_what_is_in_degrees(found, files):
    """GeoJSON and GeoPackage: WGS 84, one row a feature, columns by the names of the contract."""
    import geopandas

    json = geopandas.read_file(io.BytesIO(files["site.geojson"]))
    packed = geopandas.read_file(io.BytesIO(files["site.gpkg"]), layer="site_areas")

    assert "EPSG:4326" == json.crs.to_string() == packed.crs.to_string()
    assert len(found.site.features) == len(json)
    assert {"kind", "name", "status", "accuracy_m", "accuracy_level"} <= set(json.columns) & set(packed.columns)
    areas = [f for f in found.site.features if f.geometry.geom_type == "Polygon"]
    assert sorted(f.name for f in areas) == sorted(packed["name"])


def test_geopandas_finds_places_outlines_ground_and_zones(found, files):
    """Layers of the answer, with lengths that are true once they are projected."""
    import geopandas
    import pyogrio

    names = {str(name) for name, _ in pyogrio.list_layers(io.BytesIO(files["places.gpkg"]))}
    outlines = geopandas.read_file(io.BytesIO(files["places.gpkg"]), layer="outlines_areas")
    pit = outlines[outlines["name"] == "A pit"].to_crs("EPSG:32736").geometry.iloc[0]

    assert {"places_points", "outlines_areas", "ground_areas", "zones_areas", "ways_lines"} <= names
    # scale of UTM 36S at longitude 34.5, 1.5 degrees off its middle: 0.9996 (1 + 0.026^2 / 2), own arithmetic
    across = 2.0 * found.finding.installation.pit.radius_m * 0.99993
    assert across == pytest.approx(pit.bounds[2] - pit.bounds[0], rel=2e-3)


def test_gpxpy_finds_places_and_their_outlines(found, files):
    """Waypoints by the letters of the places, tracks for the outlines that are walked round."""
    gpxpy = pytest.importorskip("gpxpy", reason="an independent reader of GPX")
    gpx = gpxpy.parse(files["places.gpx"].decode())
    frame = found.site.frame

    assert {p.candidate.name for p in found.finding.placed} <= {w.name for w in gpx.waypoints}
    first = next(w for w in gpx.waypoints if w.name == "A")
    xy = frame.to_local(np.array([[first.longitude, first.latitude]]))[0]
    c = found.finding.placed[0].candidate
    assert PLACE_M > float(np.hypot(*(xy - (c.x_m, c.y_m))))
    walked = next(t for t in gpx.tracks if t.name == "A enclosure").segments[0].points
    assert 5 == len(walked)
    assert (walked[0].latitude, walked[0].longitude) == (walked[-1].latitude, walked[-1].longitude)


def test_ezdxf_finds_metres_layers_and_closed_polylines(found, files):
    """An audit without errors, $INSUNITS metres, a layer a kind, and outlines in true size."""
    import ezdxf

    drawing = ezdxf.read(io.StringIO(files["site.dxf"].decode()))
    space = drawing.modelspace()
    (boundary,) = space.query('LWPOLYLINE[layer=="BOUNDARY"]')
    corners = np.array(boundary.get_points("xy"))

    assert [] == drawing.audit().errors
    assert 6 == drawing.header["$INSUNITS"]
    assert boundary.closed
    assert (120.0, 100.0) == pytest.approx(tuple(np.ptp(corners, axis=0)), abs=1e-9)
    assert {"BOUNDARY", "WARD", "WELL", "PIT-LATRINE", "STREAM", "CONTROL"} <= {
        layer.dxf.name for layer in drawing.layers
    }
    (well,) = space.query('INSERT[layer=="WELL"]')
    assert {"NAME": "Well", "KIND": "well", "STATUS": "existing"}.items() <= {
        a.dxf.tag: a.dxf.text for a in well.attribs
    }.items()


def test_the_plane_of_the_drawing_is_told_by_control_points(found, files):
    """Four points whose writing is their latitude and longitude."""
    import ezdxf

    space = ezdxf.read(io.StringIO(files["site.dxf"].decode())).modelspace()
    texts = [t.dxf for t in space.query('TEXT[layer=="CONTROL"]')]
    degrees = [(t.insert, [float(v) for v in t.text.split()]) for t in texts if not t.text.startswith("+proj")]

    assert 4 == len(degrees)
    for at, (lat, lon) in degrees:
        x, y = found.site.frame.to_local(np.array([[lon, lat]]))[0]
        assert (at.x, at.y) == pytest.approx((x, y), abs=2 * PLACE_M)


def test_outlines_of_a_place_are_polylines_apart_from_what_stands(found, files):
    """Drawn in their own file, on layers that no reader takes for something standing."""
    import ezdxf

    space = ezdxf.read(io.StringIO(files["places.dxf"].decode())).modelspace()
    enclosures = space.query('LWPOLYLINE[layer=="PLAN-OUTLINES-ENCLOSURE"]')

    assert len(found.finding.placed) == len(enclosures)
    assert all(each.closed for each in enclosures)


@pytest.mark.parametrize("form", WITH_OUTLINES)
def test_places_are_read_again_as_proposed(form, files, tmp_path):
    """A place is never taken for something that stands."""
    model = again(files[f"places.{form}"], f"places.{form}", tmp_path)
    pits = [f for f in model.features if f.kind == "placenta pit"]

    assert pits
    assert {Status.PROPOSED} == {f.status for f in pits}


def test_the_table_leaves_numbers_alone_and_makes_no_formula(tmp_path):
    """Negative longitudes stay numbers; a name that begins with an equals sign is marked as text."""
    named = map_sites.checked()
    features = tuple(replace(f, name="=1+1") if f.name == "Mill" else f for f in named.site.features)
    west = replace(named, site=replace(named.site, features=features, frame=Frame(lon=-70.5, lat=-13.25)))

    table = exchange_files(west, ["csv"])["site.csv"].decode("utf-8-sig")

    assert "'=1+1" in table
    assert ",-70.499" in table
    assert "'-" not in table


def test_what_a_source_shares_is_added_where_sites_have_several(found):
    """A position read again is never surer than it was."""
    site = found.site
    sources = dict(site.sources) | {
        "other.gpx": replace(site.sources["plan.geojson"], name="other.gpx", shared_sigma_m=0.4)
    }
    features = (replace(site.features[3], source="other.gpx"), *site.features[4:])
    mixed = replace(found, site=replace(site, features=features, sources=sources), finding=None)

    written = exchange_files(mixed, ["csv"])["site.csv"].decode("utf-8-sig").splitlines()

    # own: sqrt(0.3^2 + 0.4^2) = 0.5 per axis, times sqrt(-2 ln(1 - 0.68)) = 1.50959
    assert f"{0.5 * 1.50959:.3f}" == f"{float(written[1].split(',')[5]):.3f}"


@pytest.mark.parametrize("form", FORMATS)
def test_the_same_input_gives_the_same_bytes(form, found, files):
    """No clock and no chance in any format."""
    made = exchange_files(found, [form])

    assert {name: files[name] for name in made} == made


def test_names_of_strangers_survive_every_format(tmp_path):
    """Markup in names stays text and comes back letter for letter."""
    names = dict(zip(("Ward", "Kitchen", "Well", "Latrines"), map_sites.HOSTILE[:4], strict=True))
    hostile = map_sites.found(map_sites.site(names=names), serve_from=None)

    for form in ("geojson", "gpkg", "kml", "gpx", "csv"):
        model = again(exchange_files(hostile, [form])[f"site.{form}"], f"site.{form}", tmp_path)
        assert set(names.values()) <= {f.name for f in model.features}, form


def test_a_plan_without_a_place_on_earth_is_exported_in_metres_only():
    """No latitude is made up; the drawing is written all the same."""
    floating = map_sites.found(map_sites.site(frame=Frame(lon=None, lat=None)))

    with pytest.raises(OutputError) as refused:
        exchange_files(floating, ["kml"])

    assert "no place on earth" in refused.value.faults[0].found
    assert b"CONTROL" not in exchange_files(floating, ["dxf"])["site.dxf"]


def test_without_the_library_for_drawings_three_parts_say_what_to_install(monkeypatch, found):
    """What was found, what was needed, what to do."""
    monkeypatch.setitem(sys.modules, "ezdxf", None)

    with pytest.raises(OutputError) as refused:
        exchange_files(found, ["dxf"])

    assert "siting[dxf]" in refused.value.faults[0].do_next


def test_what_is_only_checked_has_no_file_of_places():
    """Nothing is written that says nothing."""
    assert ["site.geojson"] == list(exchange_files(map_sites.checked(), ["geojson"]))


def test_an_arrangement_is_among_the_places(found):
    """Each installation with its outlines."""
    from siting.arrangement import Arrangement, Stand

    c, installation = found.finding.placed[0].candidate, found.finding.installation
    stand = Stand(installation=installation, x_m=c.x_m, y_m=c.y_m, orientation_deg=0.0, margin_m=1.239, walk_m=None)
    arranged = Arrangement(stands=(stand,), margin_m=1.239, bound_m=2.0, walk_m=0.0, step_m=1.0, proved=True)

    table = exchange_files(replace(found, finding=None, arrangement=arranged), ["csv"])["places.csv"].decode()

    assert "new placenta pit enclosure" in table
    assert ",1.23," in table
