"""Bad input is refused in three parts, with file and row, all faults of a file at once; hostile input stays shut."""

import json
import re
import zipfile

import pytest

from siting.errors import InputError, SitingError
from siting.io.limits import Limits
from siting.io.read import read_site

GOOD = "lat,lon,kind,name\n-13.9870017,34.1240013,well,W1\n-13.9865023,34.1245021,latrine,L1\n"
SQUARE = [[34.1230001, -13.9880001], [34.1250001, -13.9880001], [34.1250001, -13.9860001], [34.1230001, -13.9860001]]


def refused(path, **options) -> SitingError:
    """The error that reading a path raises, every fault of it complete in its three parts."""
    with pytest.raises(SitingError) as caught:
        read_site(path, **options)
    for fault in caught.value.faults:
        assert fault.found
        assert fault.needed
        assert fault.do_next
    return caught.value


def collection(*geometries, **properties):
    """GeoJSON text of geometries that share their properties."""
    features = [{"type": "Feature", "properties": properties, "geometry": each} for each in geometries]
    return json.dumps({"type": "FeatureCollection", "features": features})


# --- what is not there, or not a file ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "nowhere.csv",
        "http://127.0.0.1/a.geojson",
        "/vsicurl/http://127.0.0.1/a.gpkg",
        "/vsizip/a.zip",
        "<kml/>",
        '{"type": "Point", "coordinates": [1, 2]}',
        "a\0b",
        "x" * 5000,
    ],
)
def test_only_what_is_on_this_machine_is_read(text):
    """Addresses, virtual paths and text in place of a path are no files."""
    assert "there is no file or folder" in str(refused(text))


def test_a_device_is_no_file():
    """Something that is neither folder nor ordinary file is refused before it is opened."""
    assert "neither a folder nor an ordinary file" in str(refused("/dev/null"))


def test_a_folder_without_a_site_file_says_how_to_make_one(tmp_path):
    """The next step names the command."""
    error = refused(tmp_path)

    assert f"siting new {tmp_path.name}" in error.faults[0].do_next


def test_an_unknown_extension_lists_what_is_read(tmp_path):
    """All extensions are named."""
    (tmp_path / "a.docx").write_bytes(b"PK\x03\x04")

    assert ".geojson" in refused(tmp_path / "a.docx").faults[0].needed


def test_a_drawing_is_told_apart(tmp_path):
    """A drawing gets its own words, not 'unknown extension'."""
    (tmp_path / "plan.dwg").write_bytes(b"AC1032\0\0")

    fault = refused(tmp_path / "plan.dwg").faults[0]

    assert "drawings named .dwg are not read" in fault.found
    assert "save as DXF" in fault.do_next


@pytest.mark.parametrize("name", ["../secret.csv", "/etc/hostname", "sub/../../secret.csv", "link.csv"])
def test_a_named_file_must_lie_in_the_folder(name, tmp_path):
    """Dots, absolute paths and links that lead out are refused even where the file exists."""
    folder = tmp_path / "site"
    (folder / "sub").mkdir(parents=True)
    (tmp_path / "secret.csv").write_text(GOOD)
    (folder / "link.csv").symlink_to(tmp_path / "secret.csv")
    (folder / "site.toml").write_text(f'[[source]]\nfile = "{name}"')

    assert "leads out of the folder" in str(refused(folder))


def test_a_missing_file_is_named_with_those_that_are_there(tmp_path):
    """A mistyped name shows the files beside it."""
    (tmp_path / "points.csv").write_text(GOOD)
    (tmp_path / "site.toml").write_text('[[source]]\nfile = "pionts.csv"')

    error = refused(tmp_path)

    assert "pionts.csv" in error.faults[0].found
    assert "points.csv" in error.faults[0].needed


# --- content that is not what the name says -------------------------------------------------------------------


@pytest.mark.parametrize("extension", ["geojson", "gpx", "kml", "csv", "gpkg", "shp", "fgb", "kmz", "xlsx", "json"])
def test_a_virtual_layer_in_disguise_opens_nothing(extension, tmp_path):
    """A GDAL VRT document under any name is refused for what it is and the file it points to stays shut."""
    (tmp_path / "other.csv").write_text(GOOD)
    vrt = (
        f'<OGRVRTDataSource><OGRVRTLayer name="other"><SrcDataSource>{tmp_path / "other.csv"}</SrcDataSource>'
        "</OGRVRTLayer></OGRVRTDataSource>"
    )
    (tmp_path / f"a.{extension}").write_text(vrt)

    assert "root element 'ogrvrtdatasource'" in str(refused(tmp_path / f"a.{extension}"))


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.gpkg", b"PK\x03\x04 not a database"),
        ("a.shp", b"plain text"),
        ("a.kmz", b"<kml/>"),
        ("a.xlsx", b"lat,lon\n1,2\n"),
        ("a.csv", b"SQLite format 3\0"),
        ("a.csv", b"\x89PNG\r\n\x1a\n\0\0"),
        ("a.geojson", b"lat,lon\n1,2\n"),
        ("a.gpx", b'<?xml version="1.0"?><!-- <gpx> --><kml></kml>'),
        ("a.kml", b"<gpx></gpx>"),
    ],
)
def test_content_must_be_what_the_name_says(name, data, tmp_path):
    """Magic bytes and root elements decide, not extensions."""
    (tmp_path / name).write_bytes(data)

    assert "but the content is" in str(refused(tmp_path / name))


@pytest.mark.parametrize("name", ["a.csv", "a.geojson", "a.gpx", "a.kml", "a.kmz", "a.xlsx", "a.gpkg", "a.shp"])
@pytest.mark.parametrize("data", [b"", b" \n\t\n"], ids=["nothing", "blanks"])
def test_an_empty_file_is_told(name, data, tmp_path):
    """Nothing in it is nothing passed."""
    (tmp_path / name).write_bytes(data)

    assert "the file is empty" in str(refused(tmp_path / name))


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.geojson", b'{"type": "FeatureCollection", "features": ['),
        ("a.gpx", b'<gpx><wpt lat="1" lon="2"><name>a'),
        ("a.kml", b"<kml><Placemark>"),
        ("a.kmz", b"PK\x03\x04\x14\0\0\0"),
        ("a.xlsx", b"PK\x03\x04\x14\0\0\0"),
        ("a.gpkg", b"SQLite format 3\0" + b"\x10\x00\x01\x01" + b"\0" * 80),
        ("a.shp", b"\x00\x00\x27\x0a" + b"\0" * 30),
        ("a.fgb", b"fgb\x03fgb\x00\xff\xff"),
        ("a.csv", b'lat,lon,name\n1,2,"unclosed\n'),
    ],
)
def test_a_file_that_breaks_off_is_told(name, data, tmp_path):
    """A copy that stopped half-way is refused in words, never with a traceback."""
    (tmp_path / name).write_bytes(data)

    assert name == refused(tmp_path / name).faults[0].file


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.geojson", '{"type": "FeatureCollection", "features": []}'),
        ("a.csv", "lat,lon,kind\n"),
        ("a.gpx", "<gpx></gpx>"),
        ("a.kml", "<kml><Document/></kml>"),
    ],
)
def test_no_features_is_told(name, data, tmp_path):
    """A file in order but without a feature is no pass."""
    (tmp_path / name).write_text(data)

    assert "no features" in str(refused(tmp_path / name))


# --- XML and zip bombs ---------------------------------------------------------------------------------------

BOMB = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
OUTSIDE = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>'


@pytest.mark.parametrize("prolog", [BOMB, OUTSIDE], ids=["bomb", "external"])
@pytest.mark.parametrize("extension", ["gpx", "kml"])
def test_entities_are_refused(prolog, extension, tmp_path):
    """Neither expanded nor fetched."""
    body = {"gpx": '<gpx><wpt lat="1" lon="2"><name>&b;&a;</name></wpt></gpx>', "kml": "<kml>&a;</kml>"}[extension]
    (tmp_path / f"a.{extension}").write_text(prolog + body)

    assert "declares a document type or entities" in str(refused(tmp_path / f"a.{extension}"))


def test_deep_nesting_is_refused_or_read(tmp_path):
    """Nesting beyond Python's recursion ends in words."""
    (tmp_path / "a.geojson").write_text("[" * 100_000)
    deep = '{"type":"GeometryCollection","geometries":[' * 50 + "]}" * 50
    (tmp_path / "b.geojson").write_text(deep)
    (tmp_path / "c.kml").write_text("<kml>" + "<Folder>" * 5000 + "</Folder>" * 5000 + "</kml>")

    for name in ("a.geojson", "b.geojson", "c.kml"):
        assert isinstance(refused(tmp_path / name), InputError)


def zipped(path, **members):
    """A zip archive of texts."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in members.items():
            archive.writestr(name.replace("__", "/").replace("_", "."), text)


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        (Limits(unpacked_bytes=1_000_000), "Limits.unpacked_bytes"),
        (Limits(unpack_ratio=50), "Limits.unpack_ratio"),
        (Limits(members=1), "Limits.members"),
        (Limits(file_bytes=100), "Limits.file_bytes"),
    ],
)
@pytest.mark.parametrize("extension", ["kmz", "xlsx"])
def test_an_archive_must_not_swell(limits, said, extension, tmp_path):
    """Size, ratio and number of files inside have ceilings, and the message names the one to raise."""
    path = tmp_path / f"a.{extension}"
    zipped(path, doc_kml="<kml>" + " " * 2_000_000 + "</kml>", xl__workbook_xml="<workbook/>")

    assert said in str(refused(path, limits=limits))


def test_an_archive_that_lies_about_its_size_is_stopped(tmp_path):
    """The directory says 10 bytes; reading stops at what it really holds."""
    path = tmp_path / "a.kmz"
    zipped(path, doc_kml="<kml>" + " " * 300_000 + "</kml>")
    data = bytearray(path.read_bytes())
    at = data.rindex(b"PK\x01\x02")
    data[at + 24 : at + 28] = (10).to_bytes(4, "little")
    path.write_bytes(data)

    assert isinstance(refused(path, limits=Limits(unpacked_bytes=1000)), InputError)


@pytest.mark.parametrize(
    ("limits", "said"), [(Limits(features=1), "Limits.features"), (Limits(vertices=1), "Limits.vertices")]
)
def test_too_much_content_is_refused(limits, said, tmp_path):
    """Features and vertices are counted."""
    (tmp_path / "a.csv").write_text(GOOD)

    assert said in str(refused(tmp_path / "a.csv", limits=limits))


# --- values ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ("95,34.12,well,W,,", "latitude 95"),
        ("134.12,-13.98,well,W,,", "exchanged they would fit"),
        ("NaN,34.12,well,W,,", "'NaN'"),
        ("inf,34.12,well,W,,", "'inf'"),
        ("1e999,34.12,well,W,,", "not a finite number"),
        (",34.12,well,W,,", "nothing under 'lat'"),
        ('"-13,98",34.12,well,W,,', "not a number of degrees"),
        ("13°70'S,34.12,well,W,,", "below 60"),
        ("13°10'E,34.12,well,W,,", "belongs to the other coordinate"),
        ("0,0,well,W,,", "stands for an empty cell"),
        ("89,34,well,W,,", "closer to a pole"),
        ("-13.98,34.12,well,W,about 5,", "'about 5' is not a length"),
        ("-13.98,34.12,well,W,,-1", "-1 is below zero"),
        ("-13.98,34.12,well,a\x07b,,", "control character (U+0007)"),
        ("-13.98,34.12,well,a\u202eb,,", "reading order (U+202E)"),
        ("-13.98,34.12,we\u2066ll,W,,", "reading order (U+2066)"),
        ("-13.98,34.12,well," + "n" * 301 + ",,", "a name of 301 characters"),
    ],
)
def test_a_bad_cell_is_told_with_its_row(cells, said, tmp_path):
    """Each fault names the file, the row as a spreadsheet counts it, and what was found."""
    text = f"lat,lon,kind,name,accuracy_m,radius_m\n-13.9870017,34.1240013,well,W0,5,1\n{cells}\n"
    (tmp_path / "a.csv").write_text(text, "utf-8")

    error = refused(tmp_path / "a.csv")

    assert [("a.csv", 3)] == [(fault.file, fault.row) for fault in error.faults]
    assert said in error.faults[0].found


def test_all_faults_come_at_once(tmp_path):
    """Three rows wrong in three ways give three faults; fifty give twenty and a count."""
    (tmp_path / "a.csv").write_text(
        GOOD + "95,34.1,well,A\nx,34.1,well,B\n-13.9,34.1,well,C\x00\n".replace("\x00", "\x01")
    )
    (tmp_path / "b.csv").write_text(GOOD + "95,34.1,well,A\n" * 50)

    few, many = refused(tmp_path / "a.csv"), refused(tmp_path / "b.csv")

    assert [4, 5, 6] == [fault.row for fault in few.faults]
    assert 21 == len(many.faults)
    assert "... and 30 more" == many.faults[-1].found


def test_faults_of_all_files_come_at_once(tmp_path):
    """A folder is mended in one go, too."""
    (tmp_path / "site.toml").write_text("")
    (tmp_path / "a.csv").write_text("lat,lon\n95,34\n")
    (tmp_path / "b.geojson").write_text("{")

    assert {"a.csv", "b.geojson"} == {fault.file for fault in refused(tmp_path).faults}


@pytest.mark.parametrize(
    ("geometry", "said"),
    [
        (None, "it is null"),
        ({"type": "Point", "coordinates": [34.1, float("nan")]}, "not finite"),
        ({"type": "Point", "coordinates": [34.1, float("inf")]}, "not finite"),
        ({"type": "Point", "coordinates": ["34.1", "-13.9"]}, "not a position of numbers"),
        ({"type": "Point", "coordinates": [True, False]}, "not a position of numbers"),
        ({"type": "Point", "coordinates": [34.1]}, "not a position"),
        ({"type": "Point", "coordinates": []}, "no coordinates"),
        ({"type": "Point"}, "no coordinates"),
        ({"type": "LineString", "coordinates": [[34.1, -13.9]]}, "2 or more positions"),
        ({"type": "Polygon", "coordinates": [SQUARE]}, "does not end where it starts"),
        ({"type": "Circle", "coordinates": [1, 2]}, "'Circle'"),
        ({"type": "Polygon", "coordinates": 5}, "polygon without rings"),
        ({"type": "GeometryCollection", "geometries": []}, "GeometryCollection"),
        ("POINT (1 2)", "not an object"),
    ],
)
def test_a_bad_geometry_is_told_with_its_feature(geometry, said, tmp_path):
    """The position of the feature stands in place of a row."""
    good = {"type": "Point", "coordinates": [34.1240013, -13.9870017]}
    (tmp_path / "a.geojson").write_text(collection(good, geometry, kind="well"))

    error = refused(tmp_path / "a.geojson")

    assert [2] == [fault.row for fault in error.faults]
    assert said in error.faults[0].found


def test_doubled_keys_are_refused(tmp_path):
    """Two values under one key: nobody can say which holds."""
    (tmp_path / "a.geojson").write_text('{"type": "Point", "coordinates": [1, 2], "coordinates": [3, 4]}')

    assert "'coordinates' stands twice" in str(refused(tmp_path / "a.geojson"))


@pytest.mark.parametrize("name", ["a.gpx", "a.kml"])
def test_a_bad_point_in_xml_is_told(name, tmp_path):
    """Waypoints without latitude and placemarks without coordinates are faults with their number."""
    text = {
        "a.gpx": '<gpx><wpt lat="-13.98" lon="34.1"/><wpt lon="34.1"/>'
        '<trk><trkseg><trkpt lat="1" lon="1"/></trkseg></trk></gpx>',
        "a.kml": "<kml><Placemark><Point><coordinates>34.1,-13.98</coordinates></Point></Placemark>"
        "<Placemark><Point><coordinates>x,y</coordinates></Point></Placemark><Placemark/></kml>",
    }[name]
    (tmp_path / name).write_text(text)

    assert [2, 3] == [fault.row for fault in refused(tmp_path / name).faults]


def test_an_empty_cell_of_a_workbook_is_a_fault(tmp_path):
    """A blank coordinate, and a formula that was never calculated, are told with the row a spreadsheet shows."""
    import xlsxwriter

    book = xlsxwriter.Workbook(tmp_path / "a.xlsx")
    page = book.add_worksheet()
    page.write_row(1, 0, ["lat", "lon", "kind"])
    page.write_row(2, 0, [-13.9870017, 34.1240013, "well"])
    page.write_row(3, 0, ["", 34.1240013, "well"])
    page.write_formula(4, 0, "=A3", value="")
    page.write_row(4, 1, [34.1240013, "well"])
    book.close()

    assert [4, 5] == [fault.row for fault in refused(tmp_path / "a.xlsx").faults]


@pytest.mark.parametrize("corner", [("A", 1048576 * 9), ("XFD", 1048576), ("ZZZZZZ", 1)])
def test_a_stray_cell_in_the_last_corner_is_refused(corner, tmp_path):
    """The reader would allot every cell up to the farthest one, and end the process."""
    import xlsxwriter

    book = xlsxwriter.Workbook(tmp_path / "a.xlsx")
    book.add_worksheet().write_row(0, 0, ["lat", "lon", "kind"])
    book.close()
    with zipfile.ZipFile(tmp_path / "a.xlsx") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    sheet = "xl/worksheets/sheet1.xml"
    letters, row = corner
    stray = f'<row r="{row}"><c r="{letters}{row}"><v>1</v></c></row></sheetData>'.encode()
    parts[sheet] = parts[sheet].replace(b"</sheetData>", stray)
    with zipfile.ZipFile(tmp_path / "a.xlsx", "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)

    assert "Limits.cells" in refused(tmp_path / "a.xlsx").faults[0].do_next


@pytest.mark.parametrize("value", [10**400, [], {}, None, True, 1e308])
@pytest.mark.parametrize("key", ["type", "coordinates", "name", "kind", "accuracy_m", "radius_m", "free"])
def test_values_of_the_wrong_sort_never_end_in_a_traceback(key, value, tmp_path):
    """Numbers beyond any float, lists and flags anywhere are read or refused."""
    geometry = {"type": "Point", "coordinates": [34.1240013, -13.9870017]}
    properties = {"name": "W", "kind": "well", "accuracy_m": 5, "radius_m": 1, "free": 2}
    (geometry if key in geometry else properties)[key] = value
    (tmp_path / "a.geojson").write_text(collection(geometry, **properties))

    try:
        assert len(read_site(tmp_path / "a.geojson").features) == 1
    except SitingError as error:
        assert error.faults[0].file == "a.geojson"


# --- tables ---------------------------------------------------------------------------------------------------


def test_headings_without_a_position_are_told(tmp_path):
    """The headings that are there are shown."""
    (tmp_path / "a.csv").write_text("name,kind,where\nW,well,there\n")

    assert "'where'" in str(refused(tmp_path / "a.csv"))


def test_two_latitudes_are_no_choice(tmp_path):
    """Two columns for one coordinate are a fault that names both."""
    (tmp_path / "a.csv").write_text("lat,latitude,lon\n1,2,3\n")

    assert "'lat', 'latitude'" in str(refused(tmp_path / "a.csv"))


def test_metres_without_a_system_are_refused(tmp_path):
    """x and y need a crs; the next step names both ways of giving it."""
    (tmp_path / "a.csv").write_text("x,y,kind\n600000,8450000,well\n")

    error = refused(tmp_path / "a.csv")

    assert "--assume-crs" in error.faults[0].do_next
    assert 1 == len(read_site(tmp_path / "a.csv", assume_crs="EPSG:32736").features)


def test_a_layer_without_a_system_is_refused(tmp_path):
    """A shapefile without its .prj is not guessed at."""
    import numpy as np
    import shapely

    from siting.io.vector import _pyogrio

    with pytest.warns(UserWarning, match="crs"):
        _pyogrio().raw.write(
            tmp_path / "wells.shp",
            shapely.to_wkb(np.array([shapely.Point(34.1, -13.9)])),
            field_data=[np.array(["W"], dtype=object)],
            fields=["name"],
            geometry_type="Point",
            driver="ESRI Shapefile",
            crs=None,
        )

    assert 'crs = "EPSG:..."' in str(refused(tmp_path / "wells.shp"))
    assert "well" == read_site(tmp_path / "wells.shp", assume_crs="EPSG:4326").features[0].kind


# --- shapes ---------------------------------------------------------------------------------------------------


def test_an_open_boundary_is_not_closed_silently(tmp_path):
    """The gap is told in metres: 0.002 degrees of latitude at 13.987 S are 221.3 m (WGS 84 meridian, own)."""
    (tmp_path / "a.geojson").write_text(collection({"type": "LineString", "coordinates": SQUARE}, kind="boundary"))

    assert "not closed: its ends are 221.28 m apart" in str(refused(tmp_path / "a.geojson"))


def test_a_boundary_of_points_is_refused(tmp_path):
    """Corner points are no outline."""
    (tmp_path / "a.geojson").write_text(collection({"type": "Point", "coordinates": SQUARE[0]}, kind="boundary"))

    assert "is a Point" in str(refused(tmp_path / "a.geojson"))


def test_a_boundary_that_crosses_itself_is_told_with_both_repairs(tmp_path):
    """The crossing of a bow tie lies in the middle of the square, and each wing is a quarter of it.

    The square is 216.08 m by 221.28 m (WGS 84 radii of curvature, own): two wings hold half of its 47,814 m2.
    """
    bow = [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3], SQUARE[0]]
    (tmp_path / "a.geojson").write_text(collection({"type": "Polygon", "coordinates": [bow]}, kind="boundary"))

    found = refused(tmp_path / "a.geojson").faults[0].found

    assert "crosses itself at latitude -13.987000, longitude 34.124000" in found
    areas_m2 = [float(area) for area in re.findall(r"([\d.]+) m2", found)]
    assert [23907.1, 23907.1] == pytest.approx(areas_m2, abs=2.0)


def test_several_sites_in_one_are_refused(tmp_path):
    """A latitude and longitude exchanged in one row is found and said."""
    rows = "".join(f"-13.98{n}0017,34.12{n}0013,well,W{n}\n" for n in range(4))
    (tmp_path / "a.csv").write_text("lat,lon,kind,name\n" + rows + "34.1240013,-13.9870017,latrine,Far\n")

    fault = refused(tmp_path / "a.csv").faults[0]

    assert "Far" in fault.found
    assert "fits when latitude and longitude are exchanged" in fault.found
    assert 6 == fault.row


def test_a_line_without_length_is_refused(tmp_path):
    """Two equal points are no line."""
    line = {"type": "LineString", "coordinates": [SQUARE[0], SQUARE[0]]}
    (tmp_path / "a.geojson").write_text(collection(line, kind="river"))

    assert "has no length" in str(refused(tmp_path / "a.geojson"))
