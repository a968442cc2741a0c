"""Drawings written in the test and read back: units, versions, shapes, blocks, letters, names, and what is left out."""

import builtins
import io
import logging
import math
import os
import time
from pathlib import Path

import numpy as np
import pytest
import shapely

from siting.errors import InputError
from siting.io.drawing_units import INSUNITS
from siting.io.dxf import read, read_drawing
from siting.io.limits import Limits
from siting.io.records import Document
from siting.kinds import folded

ezdxf = pytest.importorskip("ezdxf", reason="the extra [dxf]")

SAGITTA_M = 0.0011
"Chords stay within a millimetre of the arc; a tenth more for rounding."
ROUNDING_M = 1e-6
VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")


def drawing(version="R2010", units=6):
    """A new drawing and its model space."""
    made = ezdxf.new(version, units=units)
    return made, made.modelspace()


def document(made, *, encoding=None, binary=False, **more):
    """The bytes of a drawing, as a reader gets them."""
    if binary:
        stream = io.BytesIO()
        made.write(stream, fmt="bin")
        data = stream.getvalue()
    elif isinstance(made, bytes):
        data = made
    else:
        text = io.StringIO()
        made.write(text)
        data = text.getvalue().encode(encoding or made.output_encoding, errors="surrogateescape")
    return Document(path=Path("plan.dxf"), name="plan.dxf", data=data, **more)


def records(made, **more):
    """The records of a drawing; `kinds` may have unfolded words."""
    return drawn(made, **more).reading.records


def drawn(made, **more):
    """All that a drawing gives."""
    held = {key: more.pop(key) for key in ("encoding", "binary", "limits", "stated_crs", "assumed_crs") if key in more}
    if "kinds" in more:
        more["kinds"] = {folded(word): kind for word, kind in more["kinds"].items()}
    return read_drawing(document(made, **held), **more)


def only(made, **more):
    """The one record of a drawing."""
    (record,) = records(made, **more)
    return record


def refusal(made, **more):
    """The one fault of a drawing that is refused, as text."""
    with pytest.raises(InputError) as caught:
        drawn(made, **more)
    (fault,) = caught.value.faults
    assert "plan.dxf" == fault.file
    assert fault.needed
    assert fault.do_next
    return str(fault)


def ward_and_well(version="R2010", units=6, *, size=1.0):
    """A ward of 12 by 8 m and a well 30 m east of its corner, in a unit of `size` metres."""
    made, space = drawing(version, units)
    corners = np.array([(0, 0), (12, 0), (12, 8), (0, 8)]) / size
    if version == "R12":
        space.add_polyline2d(corners, close=True, dxfattribs={"layer": "WARD"})
    else:
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "WARD"})
    space.add_circle((42 / size, 0), 0.75 / size, dxfattribs={"layer": "WELL"})
    return made


SITE_SIZED = [code for code, (_, metres) in INSUNITS.items() if 1e-7 < metres < 1e5]


# --- units ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", SITE_SIZED)
def test_every_unit_of_the_header_is_metres_in_the_end(code):
    """The same ward and well, drawn in any unit that a site can be drawn in, come out in metres."""
    found = drawn(ward_and_well(units=code, size=INSUNITS[code][1]))

    ward, well = found.reading.records
    assert (0.0, 0.0, 12.0, 8.0) == pytest.approx(ward.geometry.bounds, abs=ROUNDING_M)
    assert 96.0 == pytest.approx(ward.geometry.area, abs=1e-4)
    assert 30.0 == pytest.approx(ward.geometry.distance(well.geometry), abs=ROUNDING_M)
    assert 0.75 == pytest.approx(well.radius_m, abs=ROUNDING_M)
    assert INSUNITS[code][1] == found.unit_m
    assert any(INSUNITS[code][0] in note for note in found.reading.notes)


@pytest.mark.parametrize("code", [code for code in INSUNITS if code not in SITE_SIZED])
def test_units_of_atoms_and_stars_are_read_as_such_and_refused(code):
    """A unit no site is drawn in gives a size no site has: refused with that size, not repaired."""
    assert "m across" in refusal(ward_and_well(units=code))


def test_the_lengths_of_units_are_those_of_the_library():
    """Our table of $INSUNITS agrees with the one ezdxf carries, to the digits that one has (own comparison)."""
    from ezdxf.units import METER_FACTOR

    for code, factor in enumerate(METER_FACTOR):
        if factor is not None:
            assert 1.0 == pytest.approx(INSUNITS[code][1] * factor, rel=2e-3), code
    assert 0.304800609601 == pytest.approx(INSUNITS[21][1], rel=1e-12)


def test_a_drawing_without_a_unit_is_refused():
    """No metre is assumed: the error gives the size in several units and asks for the unit and one known length."""
    text = refusal(ward_and_well(units=0, size=0.001))

    assert "$INSUNITS is 0" in text
    assert 'in "mm" it is 42.75 m by' in text
    assert 'unit = "mm"' in text
    assert "known_length = {" in text


@pytest.mark.parametrize(("unit", "size"), [("mm", 0.001), ("cm", 0.01), ("ft", 0.3048), ("Metres", 1.0)])
def test_the_site_may_state_the_unit(unit, size):
    """Where the drawing says nothing, what the site says counts."""
    ward, _ = records(ward_and_well(units=0, size=size), unit=unit)

    assert 12.0 == pytest.approx(ward.geometry.bounds[2], abs=ROUNDING_M)


def test_drawing_and_site_may_not_contradict():
    """Millimetres in the header and metres in site.toml: refused with both sizes; the same unit twice is welcome."""
    text = refusal(ward_and_well(units=4), unit="m")

    assert "42.75 m by" in text
    assert "0.04275 m by" in text
    assert "millimetres" in text
    assert 2 == len(records(ward_and_well(units=4, size=0.001), unit="mm"))


def test_one_known_length_decides():
    """Measured 12 m, drawn 12 units: metres, whatever a template wrote into the header; and it is said."""
    found = drawn(ward_and_well(units=4), unit="m", known_length=(12.0, 12.03))

    assert 12.0 == pytest.approx(found.reading.records[0].geometry.bounds[2])
    assert any("although the drawing says millimetres" in note for note in found.reading.notes)


def test_a_known_length_that_denies_the_unit_is_refused():
    """12 m drawn 12 units long is no millimetre drawing: the error says which unit it would be."""
    text = refusal(ward_and_well(units=4), known_length=(12.0, 12.0))

    assert "would be 0.012 m" in text
    assert 'unit = "m"' in text
    assert 'unit = "m"?' in refusal(ward_and_well(units=0), known_length=(12.0, 12.0))
    assert "above zero" in refusal(ward_and_well(units=0), unit="m", known_length=(0.0, 12.0))


def test_an_unknown_unit_is_refused():
    """`unit` is one of the known words."""
    assert "one of mm, cm" in refusal(ward_and_well(units=0), unit="cubit")


def test_a_plan_of_no_site_is_refused():
    """Metres in a drawing that says millimetres make a site of centimetres: refused."""
    assert "0.042 m across" in refusal(ward_and_well(units=4))
    assert "known_length" in refusal(ward_and_well(units=7))


# --- versions and letters ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("binary", [False, True])
def test_every_version_gives_the_same_records(version, binary):
    """R12 to R2018, as text and as binary; R12 has no unit of its own."""
    unit = "m" if version == "R12" else None

    ward, well = records(ward_and_well(version), unit=unit, binary=binary)

    assert ("ward", "well") == (ward.kind, well.kind)
    assert ("WARD", "WELL") == (ward.layer, well.layer)
    assert 96.0 == pytest.approx(ward.geometry.area)
    assert 0.75 == pytest.approx(well.radius_m)
    assert (1, 2) == (ward.row, well.row)
    assert {"plan"} == {ward.crs, well.crs}


@pytest.mark.parametrize("line_end", [b"\n", b"\r\n"])
def test_both_line_ends_are_read(line_end):
    """Files from any system."""
    data = document(ward_and_well()).data.replace(b"\r\n", b"\n").replace(b"\n", line_end)

    assert 2 == len(records(data))


@pytest.mark.parametrize(
    ("version", "code_page", "word"),
    [
        ("R2000", "cp1252", "Dépôt"),
        ("R2000", "cp1251", "Колодец"),
        ("R2000", "cp1253", "Πηγάδι"),
        ("R2004", "cp1256", "بئر"),
        ("R2000", "cp932", "井戸"),
        ("R2000", "gbk", "水井"),
        ("R12", "cp1252", "Poço"),
        ("R2007", "utf-8", "ጉድጓድ"),
        ("R2018", "utf-8", "कुआँ"),
    ],
)
def test_letters_of_every_code_page(version, code_page, word):
    """A name keeps its letters, whatever code page an old drawing states."""
    made = ward_and_well(version)
    made.encoding = code_page
    made.modelspace().add_text(word, dxfattribs={"insert": (43, 0), "height": 0.5})

    _, well = records(made, unit="m" if version == "R12" else None, encoding=code_page)

    assert word == well.name


def test_an_old_drawing_in_utf_8_is_noticed():
    """Some programs write utf-8 whatever they state; the letters are right and it is said."""
    made = ward_and_well("R2000")
    made.modelspace().add_text("Dépôt", dxfattribs={"insert": (43, 0), "height": 0.5})

    found = drawn(made, encoding="utf-8")

    assert "Dépôt" == found.reading.records[1].name
    assert any("although the drawing says cp1252" in note for note in found.reading.notes)


def test_letters_that_are_none_are_shown_and_said():
    """A byte that means nothing in the drawing's code page does not stop the reading, and does not pass unseen."""
    made = ward_and_well("R2010")
    made.modelspace().add_text("Dep?t", dxfattribs={"insert": (43, 0), "height": 0.5})
    data = document(made).data.replace(b"Dep?t", b"Dep\xf4t")

    found = drawn(data)

    assert "Dep�t" == found.reading.records[1].name
    assert any("letters that are none there" in note for note in found.reading.notes)


# --- shapes ---------------------------------------------------------------------------------------------------------


def test_a_half_round_outline_keeps_its_arc():
    """A polyline with a bulge of 1 is a half disc, of the right size and on the right side, to the chord."""
    made, space = drawing()
    space.add_lwpolyline([(0, 0, 1.0), (10, 0, 0.0)], format="xyb", close=True, dxfattribs={"layer": "POND"})

    shape = only(made, kinds={"POND": "pond"}).geometry

    assert math.pi * 25 / 2 == pytest.approx(shape.area, abs=SAGITTA_M * math.pi * 5)
    assert (0.0, -5.0, 10.0, 0.0) == pytest.approx(shape.bounds, abs=SAGITTA_M)
    assert SAGITTA_M > shapely.hausdorff_distance(shape, half_disc(clockwise=False))


def half_disc(*, clockwise):
    """A half disc of radius 5 around (5, 0), above the x axis when its arc runs clockwise."""
    angle = np.linspace(0.0, math.pi, 2001) * (1 if clockwise else -1)
    return shapely.Polygon(np.column_stack([5 + 5 * np.cos(angle), 5 * np.sin(angle)]))


def test_a_bulge_the_other_way_lies_on_the_other_side():
    """Negative bulges run clockwise; small ones make flat arcs of a large radius."""
    made, space = drawing()
    space.add_lwpolyline([(0, 0, -1.0), (10, 0, 0.0)], format="xyb", close=True, dxfattribs={"layer": "POND"})
    space.add_lwpolyline([(100, 0, 0.1), (110, 0, 0.0)], format="xyb", dxfattribs={"layer": "RIVER"})
    space.add_lwpolyline([(200, 0, -0.1), (210, 0, 0.0)], format="xyb", dxfattribs={"layer": "RIVER"})

    pond, river, other = records(made, kinds={"POND": "pond", "RIVER": "river"})

    assert SAGITTA_M > shapely.hausdorff_distance(pond.geometry, half_disc(clockwise=True))
    # the height of an arc is its bulge times half the chord (geometry)
    assert -0.5 == pytest.approx(river.geometry.bounds[1], abs=SAGITTA_M)
    assert (200.0, 0.0, 210.0, 0.5) == pytest.approx(other.geometry.bounds, abs=SAGITTA_M)
    assert "LineString" == river.geometry.geom_type


@pytest.mark.parametrize(("start", "end", "length_deg"), [(0, 90, 90), (270, 45, 135), (10, 10, 360)])
def test_arcs_run_anticlockwise(start, end, length_deg):
    """An arc across zero degrees and one that closes on itself have their right lengths."""
    made, space = drawing()
    space.add_arc((5, 5), 20, start, end, dxfattribs={"layer": "ROAD"})

    shape = only(made).geometry

    assert math.radians(length_deg) * 20 == pytest.approx(shape.length, abs=0.02)
    points = shapely.get_coordinates(shape) - (5, 5)
    assert 20.0 == pytest.approx(np.hypot(*points.T).min(), abs=ROUNDING_M)
    assert (20 * math.cos(math.radians(start)), 20 * math.sin(math.radians(start))) == pytest.approx(points[0])


def test_chords_follow_a_large_arc_within_a_millimetre():
    """Whatever the radius and the drawing unit."""
    made, space = drawing(units=4)
    space.add_arc((0, 0), 300_000, 0, 80, dxfattribs={"layer": "RIVER"})

    shape = only(made).geometry

    middles = shapely.get_coordinates(shape)
    middles = (middles[1:] + middles[:-1]) / 2
    assert 300.0 - SAGITTA_M < np.hypot(*middles.T).min() < 300.0


def test_a_circle_is_a_point_with_a_radius():
    """A well drawn as a circle is a point of that radius."""
    record = records(ward_and_well())[1]

    assert "Point" == record.geometry.geom_type
    assert 0.75 == record.radius_m


def test_ellipses_have_their_area():
    """Whole and turned; an ellipse is no disc."""
    made, space = drawing()
    space.add_ellipse((50, 50), major_axis=(3, 4), ratio=0.5, dxfattribs={"layer": "POND"})

    shape = only(made).geometry

    assert math.pi * 5 * 2.5 == pytest.approx(shape.area, abs=SAGITTA_M * 2 * math.pi * 5)
    assert (50, 50) == pytest.approx(shape.centroid.coords[0])


def test_a_quarter_ellipse_is_a_line():
    """From its parameter zero to a quarter turn."""
    made, space = drawing()
    space.add_ellipse((0, 0), (10, 0), 0.5, 0, math.pi / 2, dxfattribs={"layer": "ROAD"})

    shape = only(made).geometry

    assert (10, 0) == pytest.approx(shape.coords[0], abs=ROUNDING_M)
    assert (0, 5) == pytest.approx(shape.coords[-1], abs=ROUNDING_M)


def test_a_spline_with_fit_points_passes_through_them():
    """Fit points alone are enough."""
    through = [(0, 0), (10, 5), (20, -5), (35, 0)]
    made, space = drawing()
    space.add_spline(through, dxfattribs={"layer": "STREAM"})

    shape = only(made).geometry

    assert 4 < len(shape.coords)
    for point in through:
        assert SAGITTA_M > shape.distance(shapely.Point(point))


def test_a_closed_spline_is_an_outline():
    """By control points, closed: a pond with an inside."""
    made, space = drawing()
    space.add_spline(dxfattribs={"layer": "POND"}).set_closed([(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0)])

    shape = only(made).geometry

    assert "Polygon" == shape.geom_type
    assert shape.covers(shapely.Point(5, 5))
    assert 50 < shape.area < 100


def test_hatches_with_holes():
    """A hatched yard with an island, the island by an edge path of lines and an arc."""
    made, space = drawing()
    hatch = space.add_hatch(dxfattribs={"layer": "POND"})
    hatch.paths.add_polyline_path([(0, 0), (20, 0), (20, 10), (0, 10)], is_closed=True)
    edges = hatch.paths.add_edge_path()
    edges.add_line((8, 5), (12, 5))
    edges.add_arc((10, 5), 2, 0, 180)

    shape = only(made).geometry

    assert 200 - math.pi * 2 == pytest.approx(shape.area, abs=SAGITTA_M * 10)
    assert not shape.covers(shapely.Point(10, 6))
    assert shape.covers(shapely.Point(10, 4))


def test_hatch_edges_of_every_sort_and_either_direction():
    """Lines drawn backwards, an ellipse and a spline close one ring."""
    made, space = drawing()
    hatch = space.add_hatch(dxfattribs={"layer": "POND"})
    edges = hatch.paths.add_edge_path()
    edges.add_line((0, 0), (10, 0))
    edges.add_line((10, 6), (10, 0))
    edges.add_ellipse((5, 6), (5, 0), 0.5, 0, 180)
    edges.add_spline(control_points=[(0, 6), (0, 4), (0, 2), (0, 0)], degree=3, knot_values=[0, 0, 0, 0, 1, 1, 1, 1])

    shape = only(made).geometry

    assert shape.is_valid
    assert 60 + math.pi * 5 * 2.5 / 2 == pytest.approx(shape.area, abs=SAGITTA_M * 20)


def test_filled_corners_and_old_polylines():
    """SOLID has its last two corners exchanged; a smoothed R12 polyline leaves out its steering points."""
    made, space = drawing("R12")
    space.add_solid([(0, 0), (4, 0), (0, 3), (4, 3)], dxfattribs={"layer": "KITCHEN"})
    line = space.add_polyline2d([(20, 0), (30, 9), (40, 0)], dxfattribs={"layer": "ROAD"})
    line.vertices[1].dxf.flags |= 16

    kitchen, road = records(made, unit="m")

    assert 12.0 == pytest.approx(kitchen.geometry.area)
    assert [(20.0, 0.0), (40.0, 0.0)] == list(road.geometry.coords)


def test_points_and_polylines_in_space_lose_their_height():
    """Distances are horizontal: what hangs at a height is on the plan."""
    made, space = drawing()
    space.add_point((3, 4, 99), dxfattribs={"layer": "WELL"})
    space.add_polyline3d([(10, 0, 5), (20, 0, 50)], dxfattribs={"layer": "ROAD"})

    well, road = records(made)

    assert (3.0, 4.0) == well.geometry.coords[0]
    assert 10.0 == road.geometry.length
    assert not road.geometry.has_z


def test_things_drawn_from_below_stand_where_they_show():
    """An extrusion of (0, 0, -1) mirrors x: circle, polyline and arc follow."""
    made, space = drawing()
    over = {"extrusion": (0, 0, -1)}
    space.add_circle((-5, 2), 1, dxfattribs={"layer": "WELL", **over})
    space.add_lwpolyline([(-20, 0), (-10, 0), (-10, 5)], close=True, dxfattribs={"layer": "WARD", **over})
    space.add_arc((-40, 0), 5, 0, 90, dxfattribs={"layer": "ROAD", **over})

    well, ward, road = records(made)

    assert (5.0, 2.0) == well.geometry.coords[0]
    assert (10.0, 0.0, 20.0, 5.0) == pytest.approx(ward.geometry.bounds)
    assert (35.0, 0.0, 40.0, 5.0) == pytest.approx(road.geometry.bounds, abs=ROUNDING_M)


def test_lines_that_meet_close_an_outline():
    """Four lines in any order and direction are a boundary; a gap of a centimetre is none of our business."""
    made, space = drawing()
    corners = [(0, 0), (50, 0), (50, 40), (0, 40)]
    for start, end in [(0, 1), (2, 1), (3, 0), (2, 3)]:
        space.add_line(corners[start], corners[end], dxfattribs={"layer": "BOUNDARY"})
    space.add_line((100, 0), (110, 0), dxfattribs={"layer": "ROAD"})
    space.add_line((110.01, 0), (120, 0), dxfattribs={"layer": "ROAD"})

    found = drawn(made)

    boundary, *roads = found.reading.records
    assert 2000.0 == pytest.approx(boundary.geometry.area)
    assert ["road", "road"] == [road.kind for road in roads]
    assert any("1 outlines closed from lines" in note for note in found.reading.notes)


def test_crossing_lines_stay_whole():
    """Two roads that cross are two roads."""
    made, space = drawing()
    space.add_line((0, 0), (20, 0), dxfattribs={"layer": "ROAD"})
    space.add_line((10, -10), (10, 10), dxfattribs={"layer": "ROAD"})

    assert [20.0, 20.0] == [record.geometry.length for record in records(made)]


def test_an_open_building_is_said():
    """A ward drawn as an open line has no inside, and a notice says so."""
    made, space = drawing()
    space.add_lwpolyline([(0, 0), (10, 0), (10, 8)], dxfattribs={"layer": "WARD"})

    assert ["outline-open"] == [notice.code for notice in drawn(made).reading.notices]


def test_things_drawn_twice_are_taken_once():
    """A hatch over an outline on one layer is one pond, and it is said."""
    made, space = drawing()
    corners = [(0, 0), (20, 0), (20, 10), (0, 10)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "POND"})
    space.add_hatch(dxfattribs={"layer": "POND"}).paths.add_polyline_path(corners, is_closed=True)

    found = drawn(made)

    assert 1 == len(found.reading.records)
    assert any("1 things drawn twice" in note for note in found.reading.notes)


# --- blocks --------------------------------------------------------------------------------------------------------


def symbol(made, name="WELL", *, layer="0"):
    """A block of a cross in a circle of radius 1."""
    block = made.blocks.new(name)
    block.add_circle((0, 0), 1, dxfattribs={"layer": layer})
    block.add_line((-1, 0), (1, 0), dxfattribs={"layer": layer})
    return block


def test_an_insert_is_a_point_with_its_attributes():
    """A symbol named like a kind is that kind at its insertion point; attributes give name, roles and the rest."""
    made, space = drawing()
    symbol(made).add_attdef("NAME", (0, 0))
    insert = space.add_blockref("WELL", (30, 40), dxfattribs={"layer": "SYMBOLS", "xscale": 3, "yscale": 3})
    for tag, value in {"CASING_M": "6.5", "NAME": "Old well", "STATUS": "closed"}.items():
        insert.add_attrib(tag, value, (0, 0))

    record = only(made)

    assert ("well", "Old well", "closed") == (record.kind, record.name, record.status)
    assert (30.0, 40.0) == record.geometry.coords[0]
    assert record.radius_m is None, "the circle of a symbol is no size of a well"
    assert {"casing_m": "6.5", "block": "WELL"} == record.attributes
    assert "SYMBOLS" == record.layer


@pytest.mark.parametrize(
    ("attributes", "name"),
    [
        ({"DEPTH": "12.5", "LABEL": "W7"}, "W7"),
        ({"NO": "7", "OWNER": "council"}, "7"),
        ({"LEVEL": "98.20", "REMARK": "By the gate"}, "By the gate"),
        ({"LEVEL": "98.20"}, ""),
    ],
)
def test_names_of_inserts(attributes, name):
    """By the attribute that is a name, else the first one that can be; numbers of levels are no names."""
    made, space = drawing()
    symbol(made)
    insert = space.add_blockref("WELL", (0, 0))
    for tag, value in attributes.items():
        insert.add_attrib(tag, value)

    assert name == only(made).name


def test_a_block_with_an_outline_on_a_mapped_layer_is_that_outline():
    """Base point, scale, turn and mirror of the insert all count."""
    made, space = drawing()
    block = made.blocks.new("B1", base_point=(1, 1))
    block.add_lwpolyline([(1, 1), (5, 1), (5, 3), (1, 3)], close=True, dxfattribs={"layer": "BLDG-WARD"})
    block.add_lwpolyline([(2, 2), (3, 2), (3, 3)], close=True, dxfattribs={"layer": "FURNITURE"})
    turned = {"xscale": 2, "yscale": -3, "rotation": 90, "layer": "INSERTS"}
    space.add_blockref("B1", (100, 200), dxfattribs=turned)

    record = only(made, kinds={"BLDG-WARD": "ward", "B1": "ward"})

    # (4, 2) becomes (8, -6) by the scales and (6, 8) by the quarter turn (own, by hand)
    assert (100.0, 200.0, 106.0, 208.0) == pytest.approx(record.geometry.bounds)
    assert 48.0 == pytest.approx(record.geometry.area)


def test_an_outline_of_circles_is_a_disc():
    """One circle on a mapped layer inside a block gives the radius, scaled."""
    made, space = drawing()
    symbol(made, "TANK-01", layer="TANKS")
    space.add_blockref("TANK-01", (5, 5), dxfattribs={"xscale": 2, "yscale": 2})

    record = only(made, kinds={"TANKS": "water tank", "TANK-01": "water tank"})

    assert "Point" == record.geometry.geom_type
    assert 2.0 == pytest.approx(record.radius_m)


def test_blocks_within_blocks_are_spelled_out():
    """Scales multiply and turns add: a well in a yard in a site, drawn in millimetres and inserted in metres."""
    made, space = drawing()
    symbol(made)
    yard = made.blocks.new("YARD")
    yard.add_blockref("WELL", (10_000, 0))
    yard.add_lwpolyline([(0, 0), (4_000, 0), (4_000, 2_000)], close=True, dxfattribs={"layer": "KITCHEN"})
    made.blocks.new("SITE").add_blockref("YARD", (0, 5_000), dxfattribs={"rotation": 90})
    space.add_blockref("SITE", (100, 100), dxfattribs={"xscale": 0.001, "yscale": 0.001, "zscale": 0.001})

    kitchen, well = sorted(records(made), key=lambda record: record.kind)

    assert (100.0, 115.0) == pytest.approx(well.geometry.coords[0])
    assert (98.0, 105.0, 100.0, 109.0) == pytest.approx(kitchen.geometry.bounds)
    assert {1} == {kitchen.row, well.row}


def test_what_stands_inside_a_feature_is_a_feature_too():
    """A ward's block that holds a latrine gives both; its doors and walls are part of it."""
    made, space = drawing()
    symbol(made, "LATRINE")
    ward = made.blocks.new("WARD")
    ward.add_lwpolyline([(0, 0), (10, 0), (10, 8), (0, 8)], close=True, dxfattribs={"layer": "WARD"})
    ward.add_blockref("LATRINE", (9, 7))
    ward.add_line((0, 4), (10, 4))
    space.add_blockref("WARD", (0, 0), dxfattribs={"layer": "BUILDINGS"})

    found = drawn(made)

    assert {"ward": 80.0, "pit latrine": 0.0} == {each.kind: each.geometry.area for each in found.reading.records}
    assert not any(notice.code == "layers-left-out" for notice in found.reading.notices)


def test_layer_0_of_a_block_is_the_layer_of_its_insert():
    """A block of no known name on the well layer is a well, with the outline it brings."""
    made, space = drawing()
    symbol(made, "SYM-7")
    space.add_blockref("SYM-7", (5, 5), dxfattribs={"layer": "WELL"})

    record = only(made)

    assert "well" == record.kind
    assert 1.0 == record.radius_m


def test_a_squeezed_circle_is_an_outline():
    """Unequal scales make an ellipse of the right area."""
    made, space = drawing()
    symbol(made, "SYM-7", layer="POND")
    space.add_blockref("SYM-7", (0, 0), dxfattribs={"xscale": 20, "yscale": 10})

    pond = max(records(made), key=lambda record: record.geometry.area)

    assert math.pi * 200 == pytest.approx(pond.geometry.area, abs=SAGITTA_M * 2 * math.pi * 20)


def test_rows_and_columns_of_inserts():
    """A grid of inserts is as many features."""
    made, space = drawing()
    symbol(made, "LATRINE")
    space.add_blockref(
        "LATRINE",
        (0, 0),
        dxfattribs={"row_count": 2, "column_count": 3, "row_spacing": 5, "column_spacing": 4},
    )

    places = {record.geometry.coords[0] for record in records(made)}

    assert {(x, y) for x in (0.0, 4.0, 8.0) for y in (0.0, 5.0)} == places


def test_a_bomb_of_blocks_is_refused():
    """Blocks that multiply beyond the limit are stopped, not spelled out; so are grids of a billion."""
    made, space = drawing()
    made.blocks.new("B0").add_point((0, 0))
    for level in range(1, 10):
        block = made.blocks.new(f"B{level}")
        for _ in range(10):
            block.add_blockref(f"B{level - 1}", (1, 1))
    space.add_blockref("B9", (0, 0))
    start = time.monotonic()

    text = refusal(made, limits=Limits(features=5000))

    assert "more than 5000 things drawn" in text
    assert 5.0 > time.monotonic() - start


def test_a_grid_of_millions_is_refused_at_once():
    """Rows and columns are multiplied before anything is made of them."""
    made, space = drawing()
    symbol(made)
    many = {"row_count": 2000, "column_count": 1000, "row_spacing": 5, "column_spacing": 4}
    space.add_blockref("WELL", (0, 0), dxfattribs=many)
    start = time.process_time()

    assert "things drawn" in refusal(made)
    assert 2.0 > time.process_time() - start


def test_a_block_within_itself_ends():
    """A drawing that holds itself is left out from some depth on, and it is said."""
    made, space = drawing()
    symbol(made).add_blockref("LOOP", (1, 1))
    made.blocks.new("LOOP").add_blockref("WELL", (1, 1))
    space.add_blockref("LOOP", (0, 0))

    assert any("nested deeper" in note for note in drawn(made).reading.notes)


def test_external_and_missing_blocks_are_said():
    """A drawing that is only referred to was not looked at: a notice; a missing block is counted."""
    made = ward_and_well()
    made.add_xref_def("neighbours.dxf", "NEIGHBOURS")
    made.modelspace().add_blockref("NEIGHBOURS", (0, 0))
    made.modelspace().add_blockref("NOWHERE", (0, 0), dxfattribs={"layer": "WELL"})

    notices = {notice.code: notice.message for notice in drawn(made).reading.notices}

    assert "'NEIGHBOURS'" in notices["external-drawing"]
    assert "INSERT of a block that is missing on layer 'WELL'" in notices["not-usable"]


# --- kinds and names ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layer", "kind"), [("WELL", "well"), ("Wards", "ward"), ("Puits_2", "well"), ("cuisine", "kitchen")]
)
def test_everyday_spellings_of_layers(layer, kind):
    """In several languages, any case, plural, with a number behind."""
    made, space = drawing()
    space.add_circle((0, 0), 1, dxfattribs={"layer": layer})

    assert kind == only(made).kind


def test_the_mapping_of_the_site_wins():
    """Over a spelling that means something else; by layer, by block and by writing."""
    made, space = drawing()
    symbol(made, "S-12")
    space.add_circle((0, 0), 1, dxfattribs={"layer": "WELL"})
    space.add_blockref("S-12", (20, 0))
    space.add_circle((40, 0), 1)
    space.add_text("DW", dxfattribs={"insert": (42, 0), "height": 0.5})

    found = records(made, kinds={"WELL": "septic tank", "S-12": "borehole", "dw": "dwelling"})

    assert ["septic tank", "borehole", "dwelling"] == [record.kind for record in found]


def test_one_kind_for_the_rest():
    """`kind` holds for what no layer tells, but not for pieces of symbols."""
    made, space = drawing()
    space.add_circle((0, 0), 1, dxfattribs={"layer": "WELL"})
    space.add_lwpolyline([(10, 0), (20, 0), (20, 5)], close=True, dxfattribs={"layer": "XYZ"})

    assert ["well", "dwelling"] == [record.kind for record in records(made, kind="dwelling")]


def test_a_part_of_a_word_is_asked_for_not_taken():
    """LIGHT-WELL is no well: left out by name and count, with the line that would take it."""
    made = ward_and_well()
    made.modelspace().add_circle((5, 5), 1, dxfattribs={"layer": "LIGHT-WELL"})
    made.modelspace().add_line((5, 5), (9, 9), dxfattribs={"layer": "DIM"})

    found = drawn(made)

    assert 2 == len(found.reading.records)
    (notice,) = found.reading.notices
    assert "layers-left-out" == notice.code
    assert "'LIGHT-WELL'" in notice.message
    assert 'kinds = { "LIGHT-WELL" = "well" }' in notice.message
    assert "left out on layer 'LIGHT-WELL': 1 CIRCLE" in found.reading.notes
    assert "left out on layer 'DIM': 1 LINE" in found.reading.notes


def test_a_drawing_without_any_kind_is_refused():
    """The error lists layers with counts and blocks, and the line to write."""
    made, space = drawing()
    symbol(made, "SYM-7", layer="PT-WELL")
    space.add_blockref("SYM-7", (0, 0))

    text = refusal(made)

    assert "'PT-WELL': 1 CIRCLE, 1 LINE" in text
    assert "SYM-7" in text
    assert 'kinds = { "PT-WELL" = "well" }' in text


def test_the_nearest_writing_is_the_name():
    """Within 3 m, once for one thing; dimensions, remarks and writing inside a neighbour are no names."""
    made = ward_and_well()
    space = made.modelspace()
    space.add_mtext("{\\fArial|b1;Maternity}\\PWing", dxfattribs={"insert": (2, 4), "char_height": 0.7})
    space.add_text("12.00 x 8.00", dxfattribs={"insert": (2, 2), "height": 0.9})
    space.add_text("By the gate", dxfattribs={"insert": (43.5, 0), "height": 0.3})
    space.add_text("Too far", dxfattribs={"insert": (47, 3), "height": 0.3})

    ward, well = records(made)

    assert ("Maternity Wing", "By the gate") == (ward.name, well.name)
    assert "" == records(made, label_m=0.5)[1].name


def test_the_taller_of_two_writings_is_the_name_and_the_smaller_outline_has_it():
    """A room's name in a room within a ward belongs to the room."""
    made, space = drawing()
    for layer, size in (("WARD", 20), ("KITCHEN", 5)):
        corners = [(0, 0), (size, 0), (size, size), (0, size)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    for words, place, height in (("Staff only", (1, 1), 0.3), ("Tea", (1, 3), 0.8), ("East", (10, 10), 0.5)):
        space.add_text(words, dxfattribs={"insert": place, "height": height})

    assert {"ward": "East", "kitchen": "Tea"} == {record.kind: record.name for record in records(made)}


def test_a_word_for_another_kind_is_no_name():
    """ "Latrine" beside a ward does not call the ward a latrine."""
    made = ward_and_well()
    made.modelspace().add_text("Latrine", dxfattribs={"insert": (0, -1), "height": 0.5})

    found = drawn(made)

    assert ["", ""] == [record.name for record in found.reading.records]
    (notice,) = found.reading.notices
    assert "writing-alone" == notice.code
    assert "'Latrine' at 0, -1" in notice.message


@pytest.mark.parametrize(("place", "align"), [((13, 5), "LEFT"), ((9, 5), "RIGHT"), ((11, 7), "BOTTOM_CENTER")])
def test_writing_reaches_as_far_as_its_letters(place, align):
    """The near end of the letters counts, however the writing is anchored."""
    from ezdxf.enums import TextEntityAlignment

    made, space = drawing()
    space.add_circle((11, 5), 0.5, dxfattribs={"layer": "WELL"})
    space.add_text("Lower pump", height=1.0).set_placement(place, align=TextEntityAlignment[align])

    assert "Lower pump" == only(made, label_m=1.6).name


def test_writing_makes_kinds_of_what_it_stands_in_or_by():
    """A building around its name, a well beside it; each with a notice, because it is a guess."""
    made, space = drawing()
    space.add_lwpolyline([(0, 0), (12, 0), (12, 8), (0, 8)], close=True, dxfattribs={"layer": "OUTLINES"})
    space.add_circle((6.5, 4), 0.4, dxfattribs={"layer": "OUTLINES"})
    space.add_circle((42, 0), 0.75, dxfattribs={"layer": "OUTLINES"})
    space.add_text("Ward 2", dxfattribs={"insert": (3, 4), "height": 0.5})
    space.add_text("Well", dxfattribs={"insert": (43.5, 0), "height": 0.5})

    found = drawn(made)

    ward, well = found.reading.records
    assert ("ward", "Ward 2", 96.0) == (ward.kind, ward.name, ward.geometry.area)
    assert ("well", "Well", 0.75) == (well.kind, well.name, well.radius_m)
    assert 2 == sum(notice.code == "kind-from-writing" for notice in found.reading.notices)


def test_a_frame_around_everything_is_no_feature():
    """Two different words in one frame name neither the frame; both are told."""
    made = ward_and_well()
    space = made.modelspace()
    frame = [(-100, -100), (200, -100), (200, 200), (-100, 200)]
    space.add_lwpolyline(frame, close=True, dxfattribs={"layer": "FRAME"})
    space.add_text("Latrine", dxfattribs={"insert": (100, 100), "height": 0.5})
    space.add_text("Kitchen", dxfattribs={"insert": (150, 100), "height": 0.5})

    found = drawn(made)

    assert ["ward", "well"] == [record.kind for record in found.reading.records]
    assert {"'Latrine'", "'Kitchen'"} == {
        word
        for notice in found.reading.notices
        if notice.code == "writing-alone"
        for word in ("'Latrine'", "'Kitchen'")
        if word in notice.message
    }


def test_hostile_writing_stays_writing():
    """Markup and code in a name are kept as the letters they are; nothing is interpreted."""
    words = '<img src=x onerror="alert(1)"> ${7*7}'
    made = ward_and_well()
    made.modelspace().add_text(words, dxfattribs={"insert": (43, 0), "height": 0.2})

    assert words == records(made)[1].name


# --- what is left out -----------------------------------------------------------------------------------------------


def test_paper_space_is_left_out_and_said():
    """A title block is no ground."""
    made = ward_and_well()
    made.layout("Layout1").add_circle((0, 0), 5, dxfattribs={"layer": "WELL"})

    found = drawn(made)

    assert 2 == len(found.reading.records)
    assert any("paper space 'Layout1' left out" in note for note in found.reading.notes)


def test_hidden_layers_are_read_and_said():
    """A layer that is switched off may hold the old well."""
    made = ward_and_well()
    made.layers.add("WELL").off()

    found = drawn(made)

    assert "well" == found.reading.records[1].kind
    assert any("switched off or frozen were read all the same: WELL" in note for note in found.reading.notes)


def test_sorts_that_cannot_be_used_are_said():
    """A surface on the ward layer is told as a notice; one on another layer as a note."""
    made = ward_and_well()
    for layer in ("WARD", "TERRAIN"):
        with made.modelspace().add_mesh(dxfattribs={"layer": layer}).edit_data() as mesh:
            mesh.add_face([(0, 0, 0), (5, 0, 0), (5, 5, 1)])

    found = drawn(made)

    assert "1 MESH on layer 'WARD' cannot be used" in [notice.message for notice in found.reading.notices]
    assert "left out on layer 'TERRAIN': 1 MESH" in found.reading.notes


def test_outlines_without_area_are_counted_not_made():
    """A closed polyline back and forth has no inside and no place."""
    made = ward_and_well()
    made.modelspace().add_lwpolyline([(0, 0), (5, 0), (0, 0)], close=True, dxfattribs={"layer": "WARD"})

    assert any("without length or area" in notice.message for notice in drawn(made).reading.notices)


def test_coordinates_that_are_no_numbers_are_faults():
    """Kept as a fault of the reading, with layer and row."""
    made = ward_and_well()
    made.modelspace().add_point((float("inf"), 0), dxfattribs={"layer": "WELL"})

    (fault,) = drawn(made).reading.faults

    assert "not a finite number" in fault.found
    assert 3 == fault.row


@pytest.mark.parametrize("seed", range(40))
def test_damaged_drawings_are_refused_not_crashed(seed):
    """Cut short, bytes changed, lines lost: records or an InputError, never another exception."""
    rng = np.random.default_rng(seed)
    data = bytearray(document(ward_and_well("R2000" if seed % 2 else "R2010")).data)
    if seed % 3 == 0:
        del data[int(rng.integers(100, len(data))) :]
    for at in rng.integers(0, len(data), 30):
        data[at] = int(rng.integers(0, 256))
    try:
        drawn(bytes(data))
    except InputError as error:
        assert "plan.dxf" == error.faults[0].file


def test_no_drawing_at_all_is_refused():
    """Text that is no DXF."""
    assert "cannot be read" in refusal(b"0\nSECTION\n")
    assert "cannot be read" in refusal(b"kind,lat,lon\nwell,1,2\n")


def test_too_many_entities_are_refused_before_they_are_made():
    """Counted in the bytes."""
    made, space = drawing()
    for index in range(300):
        space.add_point((index, 0), dxfattribs={"layer": "WELL"})

    assert "entities" in refusal(made, limits=Limits(features=100))
    assert 300 == len(records(made, limits=Limits(features=1000)))


def test_without_the_library_the_extra_is_named(monkeypatch):
    """The failure says which extra to install."""
    real = builtins.__import__

    def without(name, *rest, **more):
        if name.partition(".")[0] == "ezdxf":
            raise ImportError(name)
        return real(name, *rest, **more)

    made = document(ward_and_well())
    monkeypatch.setattr(builtins, "__import__", without)

    with pytest.raises(InputError) as caught:
        read(made)

    assert "siting[dxf]" in str(caught.value)


def test_the_library_says_nothing_on_the_screen():
    """What ezdxf thinks of a file has somewhere to go, or logging would print it to standard error."""
    records(ward_and_well())

    assert logging.getLogger("ezdxf").handlers


# --- grids ----------------------------------------------------------------------------------------------------------


def test_a_stated_grid_is_kept():
    """A drawing in millimetres of a grid in metres, or of one in US feet, has coordinates of that grid."""
    made = ward_and_well(units=4, size=0.001)

    metres, feet = (records(made, stated_crs=crs)[1] for crs in ("EPSG:32736", "EPSG:2229"))

    assert ("EPSG:32736", (42.0, 0.0)) == (metres.crs, metres.geometry.coords[0])
    assert 42.0 * 3937 / 1200 == pytest.approx(feet.geometry.x)
    assert 0.75 == pytest.approx(feet.radius_m)


def test_degrees_are_no_grid_of_a_drawing():
    """A geographic crs is refused; the crs assumed for a whole site is not put on a drawing."""
    assert "a plane grid" in refusal(ward_and_well(), stated_crs="EPSG:4326")
    found = drawn(ward_and_well(), assumed_crs="EPSG:32736")
    assert {"plan"} == {record.crs for record in found.reading.records}
    assert any("not applied" in note for note in found.reading.notes)


# --- size ------------------------------------------------------------------------------------------------------------


def crowd(count):
    """A drawing of that many entities of five sorts, as bytes."""
    made, space = drawing(units=4)
    symbol(made).add_attdef("NAME", (0, 0))
    for index in range(count // 5):
        x, y = (index % 100) * 9000, (index // 100) * 9000
        space.add_blockref("WELL", (x, y)).add_auto_attribs({"NAME": f"W{index}"})
        corners = [(x, y), (x + 4000, y), (x + 4000, y + 4000)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "WARD"})
        space.add_line((x, y), (x + 5000, y + 500), dxfattribs={"layer": "DIM"})
        space.add_text(f"Ward {index}", dxfattribs={"insert": (x + 1500, y + 1000), "height": 300})
        space.add_arc((x, y), 700, 0, 90, dxfattribs={"layer": "ROAD"})
    return document(made).data


def test_five_thousand_entities_take_a_moment():
    """A tenth of the promise, so that every run holds it: 50,000 entities in 10 s."""
    data = crowd(5_000)
    start = time.process_time()

    found = records(data)

    assert 3_000 == len(found)
    assert 30.0 > time.process_time() - start


@pytest.mark.slow
def test_fifty_thousand_entities_in_500_megabytes(tmp_path):
    """In a process of its own, libraries and all."""
    import subprocess
    import sys

    (tmp_path / "plan.dxf").write_bytes(crowd(50_000))
    code = (
        "import re, sys; from pathlib import Path; from siting.io.dxf import read; "
        "from siting.io.records import Document; p = Path(sys.argv[1]); "
        "r = read(Document(path=p, name=p.name, data=p.read_bytes())); "
        # Not ru_maxrss: that is handed down from the process that starts this one.
        "print(len(r.records), int(re.search(r'VmHWM:\\s+(\\d+)', Path('/proc/self/status').read_text())[1]) / 1024)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "plan.dxf")],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])},
    )

    count, megabytes = run.stdout.split()
    assert "30000" == count
    assert 500 > float(megabytes)
