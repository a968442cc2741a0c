"""What words, statements and cells become, whatever the format."""

import json

import pytest

from siting.io.headings import ROLES, headings
from siting.io.read import read_site
from siting.site import Status
from siting.uncertainty import combined, sigma_from_radius, sigma_from_step

SIGMA_TOLERANCE_M = 1e-4
# One step of 1e-7 degrees of latitude, 11 mm: in every sigma below.
ROUNDING_M = sigma_from_step(0.0110626)


def table(tmp_path, text, **toml):
    """A site of one table, with what its source states."""
    (tmp_path / "p.csv").write_text(text, "utf-8")
    lines = "".join(f"{key} = {json.dumps(value)}\n" for key, value in toml.items())
    (tmp_path / "site.toml").write_text(f'[[source]]\nfile = "p.csv"\n{lines}')
    return read_site(tmp_path)


def codes(site):
    """Codes of the notices."""
    return [notice.code for notice in site.notices]


@pytest.mark.parametrize(
    ("cell", "level", "stated", "radius_m", "share"),
    [
        ("5", "", {}, 5.0, 0.68),
        ("5", "0.95", {}, 5.0, 0.95),
        ("5", "95 %", {}, 5.0, 0.95),
        ("±5 m", "", {"accuracy_m": 9}, 5.0, 0.68),
        ("", "", {"accuracy_m": 9}, 9.0, 0.68),
        ("", "", {"accuracy_m": 9, "accuracy_level": 0.5}, 9.0, 0.5),
        ("0", "", {"accuracy_m": 9}, 9.0, 0.68),
        ("0.0", "", {}, 4.9, 0.68),
        ("-1", "", {}, 4.9, 0.68),
        ("", "", {}, 4.9, 0.68),
    ],
)
def test_the_nearest_statement_of_accuracy_holds(cell, level, stated, radius_m, share, tmp_path):
    """The row, else the file, else the default of receivers (4.9 m at 68 %, GPS.gov quoting ION 2015, seen-2).

    Zero, less than zero and blank mean unknown.
    """
    text = f"lat,lon,kind,accuracy_m,accuracy_level\n-13.9870017,34.1240013,well,{cell},{level}\n"

    sigma_m = table(tmp_path, text, **stated).features[0].sigma_m

    assert combined(sigma_from_radius(radius_m, level=share), ROUNDING_M) == pytest.approx(
        sigma_m, abs=SIGMA_TOLERANCE_M
    )


def test_an_assumed_accuracy_is_said(tmp_path):
    """Which default, and for how many; unknown zeros are counted too."""
    text = "lat,lon,kind,accuracy_m\n-13.9870017,34.1240013,well,0\n-13.9870117,34.1240113,ward,\n"

    site = table(tmp_path, text)
    notice = next(notice for notice in site.notices if notice.code == "accuracy-unstated")

    assert "2 features: taken as 4.9 m holding 68%" in notice.message
    assert any("0 or less means unknown: 1 features" in note for note in site.sources["p.csv"].notes)


def test_points_picked_from_imagery_have_their_own_default(tmp_path):
    """KML: 10 m holding 63 % (CIESIN 2013, RMSE of ten cities)."""
    (tmp_path / "a.kml").write_text(
        "<kml><Placemark><name>Well 1</name><Point><coordinates>34.1240013,-13.9870017</coordinates></Point>"
        "</Placemark></kml>"
    )

    site = read_site(tmp_path / "a.kml")

    assert combined(sigma_from_radius(10.0, level=0.63), ROUNDING_M) == pytest.approx(
        site.features[0].sigma_m, abs=SIGMA_TOLERANCE_M
    )
    assert "imagery" in next(n.message for n in site.notices if n.code == "accuracy-unstated")


@pytest.mark.parametrize("where", ["row", "source"])
def test_exact_means_without_uncertainty(where, tmp_path):
    """The word `exact`, of a row or a file, leaves not even the digits."""
    cell, stated = ("exact", {}) if where == "row" else ("", {"accuracy_m": "exact"})

    site = table(tmp_path, f"lat,lon,kind,accuracy_m\n-13.98,34.12,well,{cell}\n", **stated)

    assert site.features[0].sigma_m == 0.0
    assert "accuracy-unstated" not in codes(site)


def test_few_decimals_widen_the_position(tmp_path):
    """Three decimals are steps of 110.6 m (own, radii of curvature): 110.6 / sqrt(12) on top of the receiver."""
    site = table(tmp_path, "lat,lon,kind,accuracy_m\n-13.987,34.124,well,5\n-13.986,34.125,ward,5\n")

    step_m = 110.63
    expected = combined(sigma_from_radius(5.0, level=0.68), sigma_from_step(step_m))
    assert [expected] * 2 == pytest.approx([f.sigma_m for f in site.features], abs=0.01)


def test_zeros_lost_at_the_end_do_not_widen(tmp_path):
    """A number cell drops its last zeros: 34.12400 among five decimals is still five decimals."""
    rows = "-13.98712,34.12413,well,5\n-13.987,34.124,ward,5\n-13.9,34.1,ward,5\n"

    sigmas = [f.sigma_m for f in table(tmp_path, "lat,lon,kind,accuracy_m\n" + rows).features]

    assert sigmas[0] == pytest.approx(sigmas[1], abs=SIGMA_TOLERANCE_M)
    assert sigmas[2] > 1000


def test_seconds_of_arc_have_their_own_step(tmp_path):
    """Whole seconds are steps of 30.7 m (own): marks are read, and the step enters."""
    site = table(tmp_path, "lat,lon,kind,accuracy_m\n13°59'13\"S,34°07'26\"E,well,5\n13°59'14\"S,34°07'27\"E,ward,5\n")

    place = site.frame.geometry_to_world(site.features[0].geometry)
    assert (-13.986944, 34.123889) == pytest.approx((place.y, place.x), abs=1e-6)
    expected = combined(sigma_from_radius(5.0, level=0.68), sigma_from_step(30.73))
    assert expected == pytest.approx(site.features[0].sigma_m, abs=0.01)


def test_dilution_of_precision_is_never_a_length(tmp_path):
    """HDOP stays an attribute, the accuracy is unstated, and the note says why."""
    (tmp_path / "a.gpx").write_text(
        '<gpx><wpt lat="-13.9870017" lon="34.1240013"><type>well</type><hdop>1.2</hdop></wpt></gpx>'
    )

    site = read_site(tmp_path / "a.gpx")

    assert site.features[0].attributes["hdop"] == 1.2
    assert sigma_from_radius(4.9, level=0.68) == pytest.approx(site.features[0].sigma_m, abs=1e-3)
    assert any("dilution of precision is not a length" in note for note in site.sources["a.gpx"].notes)


def test_an_unknown_kind_is_kept_and_told(tmp_path):
    """The word as written stays, and the nearest known kinds are named."""
    site = table(tmp_path, "lat,lon,kind,name\n-13.9870017,34.1240013,borehol,B\n")
    notice = next(notice for notice in site.notices if notice.code == "kind-unknown")

    assert site.features[0].kind == "unknown"
    assert site.features[0].attributes["kind_as_written"] == "borehol"
    assert "borehole" in notice.message
    assert (notice.file, notice.row) == ("p.csv", 2)


def test_the_site_may_say_what_its_words_mean(tmp_path):
    """`kinds` maps a word, `kind` holds for rows that name none."""
    text = "lat,lon,kind\n-13.9870017,34.1240013,HP-2\n-13.9870117,34.1240113,\n"

    site = table(tmp_path, text, kind="grave")

    assert [f.kind for f in site.features] == ["unknown", "grave"]
    (tmp_path / "site.toml").write_text('[[source]]\nfile = "p.csv"\nkinds = { "hp 2" = "handpump" }')
    assert read_site(tmp_path).features[0].kind == "borehole"


def test_a_folder_hints_at_the_kind(tmp_path):
    """The innermost folder of a KML counts where the placemark names no kind, and its data do where it does."""
    point = "<Point><coordinates>34.12400{n}3,-13.9870017</coordinates></Point>"
    data = '<ExtendedData><SchemaData><SimpleData name="kind">latrine</SimpleData></SchemaData></ExtendedData>'
    (tmp_path / "a.kml").write_text(
        "<kml><Document><Folder><name>Survey</name><Folder><name>Wells</name>"
        f"<Placemark><name>A</name>{point.format(n=1)}</Placemark>"
        f"<Placemark><name>B</name>{data}{point.format(n=2)}</Placemark>"
        "</Folder></Folder><NetworkLink/></Document></kml>"
    )

    site = read_site(tmp_path / "a.kml")

    assert [f.kind for f in site.features] == ["well", "pit latrine"]
    assert "network-link-ignored" in codes(site)
    assert site.features[0].origin.layer == "Survey/Wells"


def test_collections_become_one_feature_a_part(tmp_path):
    """Nested collections are flattened; repeated names are numbered and that is said."""
    inner = {
        "type": "GeometryCollection",
        "geometries": [
            {"type": "Point", "coordinates": [34.1240013, -13.9870017]},
            {"type": "LineString", "coordinates": [[34.1240013, -13.9870017], [34.1250013, -13.9870017]]},
        ],
    }
    outer = {"type": "GeometryCollection", "geometries": [inner, {"type": "Point", "coordinates": [34.1241, -13.9871]}]}
    (tmp_path / "a.geojson").write_text(
        json.dumps({"type": "Feature", "properties": {"name": "N", "kind": "river"}, "geometry": outer})
    )

    site = read_site(tmp_path / "a.geojson")

    assert [f.name for f in site.features] == ["N", "N 2", "N 3"]
    assert [f.geometry.geom_type for f in site.features] == ["Point", "LineString", "Point"]
    assert "name-repeated" in codes(site)


def test_a_multigeometry_of_one_sort_stays_together(tmp_path):
    """Two polygons of one placemark are one feature of two parts."""
    ring = (
        "<Polygon><outerBoundaryIs><LinearRing><coordinates>{c}</coordinates></LinearRing></outerBoundaryIs></Polygon>"
    )
    one = ring.format(c="34.1,-13.9 34.1001,-13.9 34.1001,-13.8999 34.1,-13.9")
    two = ring.format(c="34.101,-13.9 34.1011,-13.9 34.1011,-13.8999 34.101,-13.9")
    (tmp_path / "a.kml").write_text(
        f"<kml><Placemark><name>Ward</name><MultiGeometry>{one}{two}</MultiGeometry></Placemark></kml>"
    )

    site = read_site(tmp_path / "a.kml")

    assert [f.geometry.geom_type for f in site.features] == ["MultiPolygon"]


def test_a_closed_line_is_a_boundary_polygon(tmp_path):
    """A walked track that ends where it starts is the same as a polygon."""
    corners = [(34.123, -13.988), (34.125, -13.988), (34.125, -13.986), (34.123, -13.988)]
    points = "".join(f'<trkpt lat="{lat}" lon="{lon}"/>' for lon, lat in corners)
    (tmp_path / "a.gpx").write_text(f"<gpx><trk><name>Boundary</name><trkseg>{points}</trkseg></trk></gpx>")

    site = read_site(tmp_path / "a.gpx")

    assert ["Polygon"] == [f.geometry.geom_type for f in site.boundaries]


def test_heights_are_kept_beside_the_plane(tmp_path):
    """The third coordinate becomes ground_level_m unless it is 0; shapes stay flat."""
    features = [
        {
            "type": "Feature",
            "properties": {"kind": "well"},
            "geometry": {"type": "Point", "coordinates": [34.1, -13.9, z]},
        }
        for z in (1050.5, 0.0)
    ]
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))

    site = read_site(tmp_path / "a.geojson")

    assert [f.attributes.get("ground_level_m") for f in site.features] == [1050.5, None]
    assert not any(f.geometry.has_z for f in site.features)


@pytest.mark.parametrize(
    ("word", "status"),
    [
        ("Closed", Status.CLOSED),
        ("abandoned", Status.CLOSED),
        ("Planned", Status.PROPOSED),
        ("en service", Status.EXISTING),
        ("", Status.EXISTING),
    ],
)
def test_states_in_everyday_words(word, status, tmp_path):
    """Known words are recognised without a notice."""
    site = table(tmp_path, f"lat,lon,kind,status\n-13.9870017,34.1240013,well,{word}\n")

    assert status == site.features[0].status
    assert "status-unknown" not in codes(site)


def test_a_state_or_date_nobody_can_read_is_told(tmp_path):
    """An unknown state counts as existing, 05/06/2026 is left out, and both are said."""
    site = table(tmp_path, "lat,lon,kind,status,seen_on\n-13.9870017,34.1240013,well,odd,05/06/2026\n")

    assert {"status-unknown", "date-not-read"} <= set(codes(site))
    assert (site.features[0].status, site.features[0].seen_on) == (Status.EXISTING, None)


@pytest.mark.parametrize(
    "heads",
    [
        "Latitude,Longitude,Type,Nom",
        "LAT,LNG,category,Name",
        "latitud,longitud,tipo,nombre",
        "Latitude,Longitude,Tipo,Nome",
        "latitudo,longitudo,aina,jina",
        "gps_latitude,gps_longitude,feature type,label",
    ],
)
def test_headings_in_everyday_spellings(heads, tmp_path):
    """English, French, Portuguese, Spanish and Swahili headings are taken, and the note says which for what."""
    site = table(tmp_path, f"{heads}\n-13.9870017,34.1240013,well,W\n")

    assert [("well", "W")] == [(f.kind, f.name) for f in site.features]
    assert heads.split(",")[0] in " ".join(site.sources["p.csv"].notes)


def test_no_spelling_plays_two_roles_of_a_feature():
    """One spelling under two roles would make the order of a list decide in silence."""
    roles = [role for role in ROLES if role not in ("level_m", "height_m")]
    spellings = [spelling for role in roles for spelling in ROLES[role]]

    assert len(spellings) == len(set(spellings))
    assert all(headings([spelling]).column for spelling in spellings)


def test_a_file_in_an_old_encoding_is_read_and_said(tmp_path):
    """Windows-1252 text keeps its accents, with a note."""
    (tmp_path / "a.csv").write_bytes("lat,lon,kind,name\n-13.9870017,34.1240013,well,Bé\n".encode("cp1252"))

    site = read_site(tmp_path / "a.csv")

    assert site.features[0].name == "Bé"
    assert any("Windows-1252" in note for note in site.sources["a.csv"].notes)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_delimiters_are_found(delimiter, tmp_path):
    """Commas, semicolons and tabs; the decimal comma only where it cannot be a delimiter."""
    row = (
        ["lat", "lon", "kind", "casing_m"],
        ["-13.9870017", "34.1240013", "well", "6.5" if delimiter == "," else "6,5"],
    )
    (tmp_path / "a.csv").write_text("\n".join(delimiter.join(cells) for cells in row))

    assert read_site(tmp_path / "a.csv").features[0].attributes["casing_m"] == 6.5


def test_a_legacy_crs_member_is_honoured(tmp_path):
    """GeoJSON of 2008 may name a grid; the same place comes out as from degrees."""
    from pyproj import Transformer

    x, y = Transformer.from_crs(4326, 32736, always_xy=True).transform(34.1240013, -13.9870017)
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32736"}}
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "Point", "coordinates": [x, y], "crs": crs}))

    site = read_site(tmp_path / "a.geojson")

    assert (34.1240013, -13.9870017) == pytest.approx((site.frame.lon, site.frame.lat), abs=1e-6)
    assert "UTM zone 36S" in site.sources["a.geojson"].operation


def test_the_plane_stands_in_the_middle_of_the_boundary(tmp_path):
    """A well far from the plot does not move the frame."""
    ring = [[34.123, -13.988], [34.125, -13.988], [34.125, -13.986], [34.123, -13.986], [34.123, -13.988]]
    features = [
        {"type": "Feature", "properties": {"kind": "plot"}, "geometry": {"type": "Polygon", "coordinates": [ring]}},
        {
            "type": "Feature",
            "properties": {"kind": "well"},
            "geometry": {"type": "Point", "coordinates": [34.2, -13.9]},
        },
    ]
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))

    assert (34.124, -13.987) == (lambda frame: (frame.lon, frame.lat))(read_site(tmp_path / "a.geojson").frame)
