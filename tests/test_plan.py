"""The plan sheet is true to scale, fits a standard scale and paper, and carries what site-plan checklists ask for."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import conftest
import map_sites
import pytest
import shapely

from siting.assess import assess
from siting.frame import Frame
from siting.kinds import vocabulary
from siting.outputs.plan import plan_svg
from siting.outputs.plan_sheet.dimensions import dimensioned
from siting.outputs.plan_sheet.ground import sides
from siting.outputs.plan_sheet.inset import utm
from siting.outputs.plan_sheet.marks import Room, letters_box, readable_deg, width_mm, wrapped
from siting.outputs.plan_sheet.paper import A3, A4, STANDARD_SCALES, sheet_for
from siting.outputs.plan_sheet.zone_lines import zone_lines
from siting.separations import floored
from siting.site import Ground, Site, SpotHeight
from siting.uncertainty import Verdict

HAIR_MM = 0.002
"What rounding to a thousandth of a millimetre may do."
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def found():
    """A facility of 120 m by 100 m with three places."""
    return map_sites.found()


@pytest.fixture(scope="module")
def drawn(found):
    """Its sheet."""
    return plan_svg(found)


def words(svg):
    """All text of a sheet, one line an element."""
    return "\n".join("".join(each.itertext()) for each in ET.fromstring(svg).iter(f"{SVG}text"))


def checked(*features, **more):
    """A site that is only checked."""
    return assess(conftest.site(*features, **more), (conftest.pack(conftest.LIMITS_30),), conftest.WORDS)


def test_the_unit_of_the_drawing_is_the_millimetre(drawn):
    """Width, height and view box say one and the same size of paper."""
    root = ET.fromstring(drawn)

    assert ("420mm", "297mm", "0 0 420 297") == (root.get("width"), root.get("height"), root.get("viewBox"))


def test_the_bar_is_a_hundred_millimetres_long(drawn):
    """Ten parts of ten millimetres stand end to end, and the words beside them say so."""
    bars = [(float(r.get("x")), float(r.get("width"))) for r in ET.fromstring(drawn).iter(f"{SVG}rect")
            if r.get("height") == "2"]  # fmt: skip

    assert [10.0] * 10 == [width for _, width in bars]
    assert 90.0 == pytest.approx(bars[-1][0] - bars[0][0], abs=HAIR_MM)
    assert "This bar is 100 mm. Scale 1 : 1,000 on A3." in words(drawn)


def test_a_boundary_of_120_metres_is_120_millimetres_at_one_to_a_thousand(drawn):
    """The outline of the grounds is found on the sheet in its true size."""
    boxes = [shapely.MultiPoint([(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", d)]).bounds
             for d in re.findall(r'd="(M[^"]+)"', drawn) if d.count("L") == 4]  # fmt: skip

    assert any(
        abs(east - west - 120.0) < HAIR_MM and abs(south - north - 100.0) < HAIR_MM
        for west, north, east, south in boxes
    )


@pytest.mark.parametrize(
    ("width_m", "height_m", "paper", "scale"),
    [
        # own arithmetic: A4 holds 187 by 165 mm of ground, A3 282 by 248 mm (paper less margins, panel, strip, 7 mm
        # free on each side)
        (18.0, 16.0, A4, 100),
        (37.0, 20.0, A4, 200),
        (20.0, 41.0, A4, 250),
        (93.0, 80.0, A4, 500),
        (94.0, 80.0, A3, 500),
        (280.0, 240.0, A3, 1000),
        (350.0, 300.0, A3, 1250),
        (700.0, 600.0, A3, 2500),
    ],
)
def test_the_largest_standard_scale_that_fits_is_taken(width_m, height_m, paper, scale):
    """A larger paper is taken where A4 would make the drawing smaller than 1 : 500."""
    sheet = sheet_for(checked(conftest.plot(shapely.box(0.0, 0.0, width_m, height_m))))

    assert (paper.name, scale) == (sheet.paper.name, sheet.scale)
    assert sheet.is_standard
    assert sheet.ground_m.contains(shapely.box(0.0, 0.0, width_m, height_m))


def test_grounds_that_fit_no_standard_scale_are_drawn_smaller_and_the_sheet_says_so():
    """Two kilometres do not fit at 1 : 2,500."""
    svg = plan_svg(checked(conftest.plot(shapely.box(0.0, 0.0, 2000.0, 900.0))))

    assert "Scale 1 : 10,000 on A3, smaller than the usual" in words(svg).replace("\n", " ")
    assert 10_000 not in STANDARD_SCALES


def test_what_checklists_ask_for_is_on_the_sheet(found, drawn):
    """Scale, north, key, survey, who, rules with editions, place, verdict, location and three signatures."""
    said = words(drawn)

    for wanted in (
        "Two Fields Clinic", "place A for a placenta pit", "true north", "Key", "boundary of the grounds",
        "well, borehole, spring", "2026-05-14 by District office", "looked 60 m", "Rules in force", "Location",
        "latitude -13.250000", "Prepared by", "Checked by (environmental health)", "For the facility", "signature",
        "Plot or title no.", "Remarks", "licensed engineer", "closed", "proposed", "New store (proposed)",
        "Old pit (closed)", "Stream",
    ):  # fmt: skip
        assert wanted in said.replace("\n", " "), wanted
    for pack in found.packs:
        assert f"edition {pack.edition}" in said


def test_each_side_of_the_boundary_has_its_length(drawn):
    """A rectangle of 120 m by 100 m surveyed to 0.3 m: four lengths, to the decimetre."""
    lengths = re.findall(r"^(\d+\.\d)$", words(drawn), re.M)

    assert ["100.0", "100.0", "120.0", "120.0"] == sorted(lengths)


def test_points_on_a_straight_side_are_no_corners():
    """A rectangle walked with a point in the middle of each side has four sides."""
    ring = shapely.LinearRing([(0, 0), (10, 0), (20, 0.1), (20, 15), (10, 15), (0, 15), (0, 7)])

    assert [20.0, 14.9, 20.0, 15.0] == [round(shapely.LineString(s).length, 3) for s in sides(ring)]


def test_the_first_place_is_dimensioned_and_rounded_down(found, drawn):
    """One line a feature, the tightest rule first, and its length beside the line and in the table."""
    held = dimensioned(found)
    features = [d.separation.feature for d in held.dimensions]
    margins = [d.separation.margin_m for d in held.dimensions if d.separation.is_must]

    assert len(set(features)) == len(features) >= 5
    assert sorted(margins) == margins
    for each in held.dimensions:
        assert f"{each.number}: {floored(each.separation.distance_m)} m" in words(drawn)


def test_a_measured_line_is_as_long_on_paper_as_on_the_ground(found, drawn):
    """The line to each feature in the field, in millimetres at the scale of the sheet."""
    sheet = sheet_for(found)
    lengths = [((float(x1) - float(x0)) ** 2 + (float(y1) - float(y0)) ** 2) ** 0.5 for x0, y0, x1, y1 in re.findall(
        r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)" fill="none" stroke="#000" stroke-width="0.22"', drawn)]  # fmt: skip

    assert len(dimensioned(found).dimensions) == len(lengths)
    for each, length in zip(dimensioned(found).dimensions, lengths, strict=True):
        assert each.separation.distance_m * sheet.mm_per_m == pytest.approx(length, abs=2 * HAIR_MM)


def test_without_a_place_the_best_compromise_is_dimensioned_and_called_none():
    """It is never shown as a place."""
    said = words(plan_svg(map_sites.hopeless()))

    assert "no place for a placenta pit" in said
    assert "best compromise, not a place" in said
    assert "From the best compromise (not a place)" in said.replace("\n", " ")


def test_what_is_only_checked_shows_what_is_not_kept():
    """Rows that fail or are too close to call, each naming its own installation."""
    held = dimensioned(map_sites.checked())

    assert held.of_several
    assert {Verdict.FAILS, Verdict.TOO_CLOSE} >= {d.separation.verdict for d in held.dimensions}


def test_zones_with_one_edge_share_one_line(found):
    """Keys are told apart by number and dashes, rules that must hold come first."""
    lines, more = zone_lines(found, sheet_for(found))

    assert [f"Z{n}" for n in range(1, len(lines) + 1)] == [each.key for each in lines]
    assert len(lines) == len({each.dash for each in lines})
    assert more >= 0
    strengths = [each.rules[0].rule.strength == "must" for each in lines]
    assert sorted(strengths, reverse=True) == strengths


def test_heights_give_lines_of_one_level_and_spot_levels():
    """Ground that falls one in ten to the east: north-south lines at round levels."""
    spots = tuple(SpotHeight(x_m=x, y_m=y, height_m=50.0 - 0.1 * x) for x in (0.0, 50.0, 100.0) for y in (0.0, 100.0))
    svg = plan_svg(checked(conftest.plot(conftest.SQUARE), ground=Ground(spot_heights=spots)))

    said = words(svg)
    assert "Lines of one height every 1 m" in said.replace("\n", " ")
    assert "50.00" in said
    lines = re.findall(r'd="(M[^"]+)" fill="none" fill-rule="evenodd" stroke="#000" stroke-width="0.1"/>', svg)
    # own: levels 41 to 49 lie within 40 to 50, and 1 m of level is 10 m of ground
    assert 9 <= len(lines) <= 10
    for each in lines:
        eastings = [float(x) for x in re.findall(r"[ML]([\d.]+) ", each)]
        assert max(eastings) - min(eastings) < 2 * HAIR_MM


def test_it_is_black_on_white(drawn):
    """A photocopier loses nothing: no colour but black and white."""
    assert {"#000", "#fff"} == set(re.findall(r"#[0-9a-f]{3,6}\b", drawn))


def test_names_of_strangers_stay_text():
    """Names that would be markup are written as letters, and the sheet stays a well-formed document."""
    names = dict(zip(("Ward", "Kitchen", "Well", "Latrines", "Old pit"), map_sites.HOSTILE, strict=True))
    root = ET.fromstring(plan_svg(map_sites.found(map_sites.site(names=names), serve_from=None)))

    assert set() == {each.tag for each in root.iter()} & {f"{SVG}script", f"{SVG}img"}
    assert any(map_sites.HOSTILE[0] in "".join(each.itertext()) for each in root.iter(f"{SVG}text"))


def test_it_never_decides_for_the_authority(drawn):
    """No sheet says that a place is safe, approved or certified."""
    assert None is re.search(r"\b(safe|safely|approved|certified)\b", words(drawn), re.IGNORECASE)


def test_the_same_input_gives_the_same_sheet(found, drawn):
    """Byte for byte."""
    assert drawn == plan_svg(replace(found))


def test_a_plan_without_a_place_on_earth_claims_no_true_north():
    """Its north is the plan's own, and no latitude is printed."""
    said = words(plan_svg(map_sites.found(map_sites.site(frame=Frame(lon=None, lat=None)))))

    assert "north of the plan" in said
    assert "true north" not in said
    assert "latitude" not in said


def test_names_and_lengths_keep_clear_of_one_another():
    """On a crowded site no two names overlap, and those without room are told."""
    room = Room(within=A4_FIELD)

    placed = [room.first([letters_box(10.0 + n, 20.0, "Maternity ward", size_mm=2.5)]) for n in range(40)]

    boxes = [letters_box(10.0 + n, 20.0, "Maternity ward", size_mm=2.5) for n, at in enumerate(placed) if at == 0]
    assert 2 <= len(boxes) < 40
    assert not any(a.intersects(b) for i, a in enumerate(boxes) for b in boxes[:i])


A4_FIELD = shapely.box(8.0, 8.0, 209.0, 187.0)


@pytest.mark.parametrize(("end", "turn"), [((10, 0), 0), ((-10, 0), 0), ((0, 10), 90), ((0, -10), 90), ((-5, 5), -45)])
def test_words_along_a_line_stand_upright(end, turn):
    """Nobody has to stand on the head: between -90 and 90 degrees."""
    assert turn == pytest.approx(readable_deg((0, 0), end))


def test_long_words_are_broken_and_cut():
    """Lines keep to their column, and what is left out shows."""
    lines = wrapped("a name that is much longer than the column it has to stand in", wide_mm=20.0, size_mm=2.0, most=2)

    assert 2 == len(lines)
    assert all(width_mm(each, 2.0) <= 20.0 for each in lines)
    assert lines[-1].endswith("…")


def test_utm_of_the_inset_agrees_with_the_textbook_point():
    """On the middle meridian of zone 37 at the equator: 500 000 m east and 0 m north.

    Source: definition of UTM, false easting 500 000 m, false northing 10 000 000 m in the south (from memory).
    """
    assert ("37N", 500_000.0, 0.0) == tuple(v if isinstance(v, str) else round(v, 3) for v in utm(39.0, 0.0))
    assert 10_000_000.0 > utm(39.0, -0.001)[2] > 9_999_800.0


def test_a_site_of_one_feature_has_a_sheet():
    """A well alone, without boundary."""
    alone = Site(name="Well", frame=map_sites.FRAME, features=(conftest.feature("well", "W", (0.0, 0.0)),))
    svg = plan_svg(assess(alone, (conftest.pack(conftest.LIMITS_30),), vocabulary()))

    assert "Scale 1 : 100 on A4" in words(svg)
