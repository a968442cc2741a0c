"""The files of `setout`, opened by readers that are not ours."""

import csv
import io
from dataclasses import replace
from math import hypot
from xml.etree import ElementTree

import numpy as np
import pytest
import yards

from siting.cli.chosen import chosen
from siting.frame import Frame
from siting.outputs.setout import Card, block, checks_csv, gpx, pegs_csv
from siting.outputs.setout_dxf import dxf
from siting.outputs.setout_sheet import scale_of, sheet_pdf, sheet_svg
from siting.setting_out.card import set_out

CENTIMETRE_M = 0.01
HALF_MM = 0.5


@pytest.fixture(scope="module")
def card(tmp_path_factory):
    """The card of the best place in the yard."""
    found = chosen(
        yards.meeting(tmp_path_factory.mktemp("card") / "yard"), letter="A", kind="placenta pit", packs=(),
        assume_crs=None,
    )  # fmt: skip
    place = found.placed.candidate
    out = set_out(
        found.question, found.finding.demands, x_m=place.x_m, y_m=place.y_m, orientation_deg=place.orientation_deg
    )
    return Card(assessment=found.assessment, placed=found.placed, out=out)


def rows(data):
    """Rows of a CSV by heading."""
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))


def test_the_table_has_every_peg_where_it_is_set_out(card):
    """Metres to the millimetre, and degrees that lead back to the same centimetre."""
    frame = card.assessment.site.frame
    for peg, row in zip(card.out.pegs, rows(pegs_csv(card)), strict=True):
        assert peg.name == row["peg"]
        assert pytest.approx(peg.x_m, abs=0.0006) == float(row["east_m"])
        x, y = frame.to_local(np.array([[float(row["lon"]), float(row["lat"])]]))[0]
        assert hypot(x - peg.x_m, y - peg.y_m) < CENTIMETRE_M
        assert "" == row["measured_tie_1_m"] == row["set_by"] == row["checked_by"]


def test_the_checks_hold_sides_diagonals_and_right_angles(card):
    """With blanks for what is measured."""
    found = rows(checks_csv(card))

    assert {"pit rim, diagonal", "enclosure corner, diagonal", "string over the centre"} <= {r["check"] for r in found}
    assert any(r["check"].startswith("3-4-5") for r in found)
    assert {""} == {r["measured_m"] for r in found}


def test_a_name_that_looks_like_a_formula_is_told_as_text(card):
    """Spreadsheets run what begins with an equals sign; a negative number stays one."""
    ties = card.out.ties[0]
    bad = replace(ties.ties[0], point=replace(ties.ties[0].point, name="=1+1"))
    out = replace(card.out, ties=(replace(ties, ties=(bad, *ties.ties[1:])), *card.out.ties[1:]))

    row = rows(pegs_csv(replace(card, out=out)))[0]

    assert "'=1+1" == row["tie_1"]
    assert float(row["lat"]) < 0


def test_gpxpy_reads_every_peg_by_name(card):
    """Waypoints in order, to 8 decimals."""
    gpxpy = pytest.importorskip("gpxpy")
    read = gpxpy.parse(gpx(card).decode())

    assert [p.name for p in card.out.pegs] == [w.name for w in read.waypoints]
    for waypoint, (lon, lat) in zip(read.waypoints, card.lonlat, strict=True):
        assert (round(lon, 8), round(lat, 8)) == (waypoint.longitude, waypoint.latitude)


def test_ezdxf_reads_pit_enclosure_and_pegs_in_metres(card):
    """A closed polyline of four corners, a circle of the pit's radius, a point for each peg."""
    ezdxf = pytest.importorskip("ezdxf")
    drawing = ezdxf.read(io.StringIO(dxf(card).decode()))
    space = drawing.modelspace()
    pit = space.query("CIRCLE")[0]

    assert 6 == drawing.units
    assert pytest.approx(card.placed.installation.pit.radius_m) == pit.dxf.radius
    assert pytest.approx(card.out.pegs[0].x_m) == pit.dxf.center.x
    assert [True] == [line.closed for line in space.query("LWPOLYLINE")]
    assert 4 == len(space.query("LWPOLYLINE")[0])
    assert len(card.out.pegs) == len(space.query("POINT"))
    assert {p.name for p in card.out.pegs} == {t.dxf.text for t in space.query("TEXT")}


def test_the_pdf_has_two_pages_of_a4_with_every_peg_and_caution(card):
    """Read by pdfplumber: page size, words, and the circle of the pit true to the scale that the sheet states."""
    pdfplumber = pytest.importorskip("pdfplumber")
    pytest.importorskip("typst")
    with pdfplumber.open(io.BytesIO(sheet_pdf(card).data)) as read:
        pages = [page.extract_text() for page in read.pages]
        sizes = [(round(float(p.width) / 72 * 25.4), round(float(p.height) / 72 * 25.4)) for p in read.pages]
        wide_mm = [abs(c["x1"] - c["x0"]) / 72 * 25.4 for c in read.pages[0].curves]
    expected_mm = 2000.0 * card.placed.installation.pit.radius_m / scale_of(card)

    assert [(210, 297), (210, 297)] == sizes
    assert any(abs(w - expected_mm) < HALF_MM for w in wide_mm)
    for name in ("P", "R1", "E4", "O3"):
        assert name in pages[1].split()
    assert "licensed engineer" in " ".join(pages[1].split())
    assert "Never enter a used pit" in " ".join(pages[1].split())
    assert "Checked by, date" in pages[0]


def test_the_svg_is_well_formed_and_says_how_well_pegs_must_stand(card):
    """Both pages on one sheet, in millimetres."""
    svg = sheet_svg(card)
    root = ElementTree.fromstring(svg)

    assert ("420mm", "297mm") == (root.get("width"), root.get("height"))
    assert "Pegs within 0.15 m of their places" in " ".join(root.itertext())


def test_a_plan_without_a_place_on_earth_has_no_waypoints_but_all_else(card):
    """Nothing invents longitude and latitude."""
    site = replace(card.assessment.site, frame=Frame(lon=None, lat=None))
    nowhere = replace(card, assessment=replace(card.assessment, site=site))

    assert gpx(nowhere) is None
    assert {""} == {row["lat"] for row in rows(pegs_csv(nowhere))}
    assert {None} == {peg["lon_lat"] for peg in block(nowhere)["pegs"]}
