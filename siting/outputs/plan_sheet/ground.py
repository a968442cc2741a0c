"""The ground in the field of the sheet: what stands, the boundary with its lengths, heights, what is left, places."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import floor, hypot

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from siting.assess import Assessment, Conflict, Finding, Placed
from siting.kinds import BOUNDARY
from siting.outputs.page.drawing import anchor_xy, label, symbol
from siting.outputs.page.layers import feature_style, is_point
from siting.outputs.page.symbols import Symbol, pattern_id, patterns, symbol_of
from siting.outputs.plan_sheet.marks import (
    BLACK,
    Room,
    beside,
    length_mm,
    letters_box,
    line,
    number,
    outline,
    readable_deg,
    text,
    width_mm,
)
from siting.outputs.plan_sheet.paper import Sheet
from siting.site import Feature, Status

PREFIX = "s"
"Of the ids of the sheet's hatches."
NAME_MM, SMALL_MM = 2.5, 2.0
PIXEL_MM = 0.26
"Of the weights and dashes that the map's symbols are given in."
PATTERN_MM, SYMBOL_MM = 0.28, 0.2
"One unit of a pattern and of a symbol on paper."
STRAIGHT_DEG = 3.0
"Corners of a boundary that turn less than this are on one side of it."
SHORTEST_SIDE_MM = 7.0
"A side that is shorter on paper has no room for its length."
WELL_KNOWN_M = 0.1
"A boundary known better than this has its lengths to the centimetre, another one to the decimetre."
MOST_CONTOURS = 12
CONTOUR_STEPS_M = (0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def inked(kind: str) -> Symbol:
    """How a kind is drawn on the sheet: as on the map, in black."""
    return replace(symbol_of(kind), colour=BLACK)


def hatches(assessment: Assessment) -> str:
    """The definitions of all hatches that the sheet uses."""
    used = {(s.hatch, BLACK) for s in (symbol_of(f.kind) for f in assessment.site.features) if s.hatch}
    return patterns(PREFIX, tuple(used | {("ground", BLACK), ("ground-sure", BLACK)}), scale=PATTERN_MM)


def fill_of(hatch: str) -> str:
    """The paint of a hatch."""
    return f"url(#{pattern_id(PREFIX, hatch, BLACK)})"


def ground_left(assessment: Assessment, sheet: Sheet) -> Iterator[str]:
    """The ground where it may stand: widely hatched at even odds, closely at the confidence asked for."""
    if assessment.finding is None:
        return
    ground = assessment.finding.ground
    # One hatch over another would be a third one that the key does not know.
    only_even = shapely.difference(ground.nominal, ground.confident)
    for geometry, hatch, dash in ((only_even, "ground", "1.2 0.8"), (ground.confident, "ground-sure", "")):
        shown = shapely.simplify(sheet.shown(geometry), 0.02)
        yield outline(shown, weight_mm=0.12, dash=dash, fill=fill_of(hatch))


def features(assessment: Assessment, sheet: Sheet) -> Iterator[str]:
    """What stands and what is proposed: areas from the largest, then lines, then points by their symbols."""
    held = assessment.site.features
    for feature in sorted((f for f in held if not is_point(f)), key=lambda f: (-f.geometry.area, f.name)):
        yield _shape(feature, sheet)
    for feature in held:
        if feature.enclosure is not None:
            yield outline(sheet.shown(feature.enclosure), weight_mm=0.2, dash="1.2 0.6")
        if is_point(feature):
            yield from _point(feature, sheet)


def _shape(feature: Feature, sheet: Sheet) -> str:
    style, drawn = feature_style(feature), inked(feature.kind)
    dash = " ".join(number(float(step) * PIXEL_MM) for step in str(style.get("dashArray", "")).split())
    fill = fill_of(drawn.hatch) if style["fill"] and drawn.hatch else "none"
    geometry = feature.geometry
    if feature.kind == BOUNDARY:
        geometry = shapely.boundary(geometry) if geometry.area else geometry
    weight_mm = float(str(style["weight"])) * PIXEL_MM
    return outline(sheet.shown(geometry), weight_mm=weight_mm, dash=dash, fill=fill)


def _point(feature: Feature, sheet: Sheet) -> Iterator[str]:
    shown = sheet.shown(feature.geometry)
    for x, y in shapely.get_coordinates(shown):
        if feature.radius_m:
            yield outline(Point(x, y).buffer(feature.radius_m * sheet.mm_per_m, quad_segs=16), weight_mm=0.15)
        yield symbol(inked(feature.kind), float(x), float(y), SYMBOL_MM, feature.status)


def places(assessment: Assessment, sheet: Sheet, room: Room) -> tuple[list[str], list[str]]:
    """The places found, the first with its reserve, its way and the ground it closes to wells; and their letters."""
    finding = assessment.finding
    if finding is None:
        return [], []
    made, letters = [], []
    for placed in finding.placed:
        c, installation = placed.candidate, placed.installation
        enclosure = sheet.drawn(installation.enclosure.drawn_at(c.x_m, c.y_m, c.orientation_deg))
        pit = sheet.drawn(installation.pit.drawn_at(c.x_m, c.y_m, c.orientation_deg))
        made.append(outline(enclosure, weight_mm=0.25, dash="1.2 0.6", fill="#fff"))
        made.append(outline(pit, weight_mm=0.1, fill=BLACK))
        room.take(enclosure)
        letters.append(_letter(c.name, enclosure, room))
    if finding.placed:
        made[:0] = _about_first(finding.placed[0], sheet, room)
    if finding.conflict is not None:
        made += _compromise(finding, finding.conflict, sheet, room)
    return made, letters


def _compromise(finding: Finding, conflict: Conflict, sheet: Sheet, room: Room) -> Iterator[str]:
    """A struck circle where the rules are broken least."""
    x, y = sheet.point(conflict.x_m, conflict.y_m)
    r = max(2.5, finding.installation.enclosure.circumradius_m * sheet.mm_per_m)
    yield outline(Point(x, y).buffer(r), weight_mm=0.3, dash="0.8 0.8")
    yield line((x - r, y - r), (x + r, y + r), weight_mm=0.3)
    yield line((x - r, y + r), (x + r, y - r), weight_mm=0.3)
    words = "best compromise, not a place"
    room.take(letters_box(x, y + r + 3.2, words, size_mm=NAME_MM, anchor="middle"))
    yield text(x, y + r + 3.2, words, size_mm=NAME_MM, anchor="middle", halo=True, italic=True)


def _letter(name: str, enclosure: BaseGeometry, room: Room) -> str:
    """The letter of a place, clear of its pit and of other letters."""
    west, south, east, north = enclosure.bounds
    size, (x, y) = 4.0, ((west + east) / 2.0, (south + north) / 2.0)
    spots = [(x, south - 0.8), (x, north + 3.4), (east + 2.2, y + 1.4), (west - 2.2, y + 1.4)]
    at = room.first(letters_box(*spot, name, size_mm=size, anchor="middle", bold=True) for spot in spots) or 0
    return text(*spots[at], name, size_mm=size, bold=True, anchor="middle", halo=True)


def _about_first(placed: Placed, sheet: Sheet, room: Room) -> Iterator[str]:
    if placed.no_well is not None:
        ring = shapely.intersection(shapely.boundary(sheet.drawn(placed.no_well.geometry)), sheet.field)
        yield outline(ring, weight_mm=0.22, dash="4 0.8 0.5 0.8 0.5 0.8")
        words = f"no well within {placed.no_well.radius_m:.4g} m of {placed.candidate.name}"
        yield along(ring, words, room, size_mm=SMALL_MM, italic=True)
    if placed.route is not None:
        way = sheet.shown(placed.route.line)
        yield outline(way, weight_mm=0.35, dash="0.1 1")
        if placed.walk_m is not None:
            yield along(way, f"walk {placed.walk_m:.0f} m", room, size_mm=SMALL_MM, italic=True)
    if placed.reserve is not None:
        c, installation = placed.reserve, placed.installation
        for drawn in (installation.enclosure, installation.pit):
            yield outline(
                sheet.shown(drawn.drawn_at(c.x_m, c.y_m, c.orientation_deg)), weight_mm=0.2, dash="0.5 0.5", fill="#fff"
            )
        x, y = sheet.point(c.x_m, c.y_m)
        below = y + installation.enclosure.circumradius_m * sheet.mm_per_m + 2.0
        words = f"{placed.candidate.name}′ (its successor)"
        room.take(letters_box(x, below, words, size_mm=SMALL_MM, anchor="middle"))
        yield text(x, below, words, size_mm=SMALL_MM, anchor="middle", halo=True)


def along(shape: BaseGeometry, words: str, room: Room, *, size_mm: float, italic: bool = False) -> str:
    """Words written along a line where there is room; nothing where there is none."""
    wide = width_mm(words, size_mm)
    for part in sorted(shapely.get_parts(shape), key=lambda part: -part.length):
        if not isinstance(part, LineString) or part.length < wide:
            continue
        for share in (0.5, 0.3, 0.7, 0.15, 0.85, 0.4, 0.6, 0.05, 0.95):
            middle = share * part.length
            ends = [part.interpolate(min(max(at, 0.0), part.length)) for at in (middle - wide / 2, middle + wide / 2)]
            start, end = (ends[0].x, ends[0].y), (ends[1].x, ends[1].y)
            if length_mm(start, end) < 0.9 * wide:
                continue
            turn = readable_deg(start, end)
            x, y = beside(start, end, along=0.5, off_mm=-0.3 * size_mm)
            area = letters_box(x, y, words, size_mm=size_mm, anchor="middle", turned_deg=turn)
            if room.first([area]) is not None:
                return text(x, y, words, size_mm=size_mm, anchor="middle", turned_deg=turn, halo=True, italic=italic)
    return ""


def side_lengths(assessment: Assessment, sheet: Sheet, room: Room) -> tuple[list[str], int]:
    """The length of each side of the boundary, along it on the outside; and how many sides had no room for it."""
    made: list[str] = []
    without = 0
    for feature in assessment.site.boundaries:
        for ring in _rings(feature.geometry):
            for start_m, end_m in sides(ring):
                start, end = sheet.point(*start_m), sheet.point(*end_m)
                # No more figures than the survey of the boundary is good for.
                digits = 1 if feature.sigma_m > WELL_KNOWN_M else 2
                words = f"{hypot(end_m[0] - start_m[0], end_m[1] - start_m[1]):.{digits}f}"
                spot = _side_spot(start, end, words, ring, sheet, room)
                if spot is None:
                    without += 1
                else:
                    x, y, turn = spot
                    made.append(
                        text(x, y, words, size_mm=SMALL_MM, anchor="middle", turned_deg=turn, halo=True, bold=True)
                    )
    return made, without


def _side_spot(
    start: tuple[float, float], end: tuple[float, float], words: str, ring: LineString, sheet: Sheet, room: Room
) -> tuple[float, float, float] | None:
    if length_mm(start, end) < max(SHORTEST_SIDE_MM, width_mm(words, SMALL_MM)):
        return None
    turn = readable_deg(start, end)
    grounds = sheet.drawn(shapely.Polygon(ring))
    for share in (0.5, 0.35, 0.65, 0.2, 0.8):
        spots = [beside(start, end, along=share, off_mm=off) for off in (0.9, -2.2)]
        spots.sort(key=lambda spot: bool(shapely.contains_xy(grounds, *spot)))
        for x, y in spots:
            area = letters_box(x, y, words, size_mm=SMALL_MM, anchor="middle", turned_deg=turn, bold=True)
            if room.first([area]) is not None:
                return x, y, turn
    return None


def _rings(geometry: BaseGeometry) -> Iterator[LineString]:
    for part in shapely.get_parts(geometry):
        yield from (part.exterior, *part.interiors) if isinstance(part, shapely.Polygon) else ()


def sides(ring: LineString) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The sides of a ring, corner to corner; points on a straight side are no corners."""
    xy = shapely.get_coordinates(ring)[:-1]
    ahead = np.roll(xy, -1, axis=0) - xy
    bearing = np.degrees(np.arctan2(ahead[:, 0], ahead[:, 1]))
    turn = np.abs((bearing - np.roll(bearing, 1) + 180.0) % 360.0 - 180.0)
    corners = xy[turn > STRAIGHT_DEG] if (turn > STRAIGHT_DEG).sum() >= 3 else xy
    pairs = zip(corners.tolist(), np.roll(corners, -1, axis=0).tolist(), strict=True)
    return [((a[0], a[1]), (b[0], b[1])) for a, b in pairs]


def contours(assessment: Assessment, sheet: Sheet, room: Room) -> tuple[list[str], float | None]:
    """Lines of one height with their levels, and the step between them [m]; None where no heights are known."""
    surface = assessment.terrain.surface
    if surface is None:
        return [], None
    levels = [corner[2] for triangle in surface.triangles for corner in triangle]
    low, high = min(levels), max(levels)
    step_m = next((s for s in CONTOUR_STEPS_M if (high - low) / s <= MOST_CONTOURS), CONTOUR_STEPS_M[-1])
    made = []
    for index in range(floor(low / step_m) + 1, floor(high / step_m) + 1):
        drawn = sheet.shown(shapely.line_merge(_level_line(surface.triangles, index * step_m)))
        made.append(outline(drawn, weight_mm=0.1))
        made.append(along(drawn, f"{index * step_m:.4g}", room, size_mm=1.8))
    return made, step_m


def _level_line(triangles: Iterable[Sequence[Sequence[float]]], level_m: float) -> BaseGeometry:
    pieces = []
    for triangle in triangles:
        crossings = []
        for (x0, y0, z0), (x1, y1, z1) in zip(triangle, (*triangle[1:], triangle[0]), strict=True):
            # Half open, so that a line through a corner crosses one of the two edges there and not both.
            if (z0 < level_m) != (z1 < level_m):
                t = (level_m - z0) / (z1 - z0)
                crossings.append((round(x0 + t * (x1 - x0), 6), round(y0 + t * (y1 - y0), 6)))
        if len(crossings) == 2 and crossings[0] != crossings[1]:
            pieces.append(LineString(crossings))
    return shapely.union_all(pieces) if pieces else LineString()


def spot_levels(assessment: Assessment, sheet: Sheet, room: Room) -> Iterator[str]:
    """Levelled heights: a cross and a number each, as far as there is room."""
    for spot in assessment.site.ground.spot_heights:
        x, y = sheet.point(spot.x_m, spot.y_m)
        words = f"{spot.height_m:.2f}"
        if room.first([letters_box(x + 0.8, y + 0.6, words, size_mm=1.7)]) is not None:
            yield line((x - 0.5, y), (x + 0.5, y), weight_mm=0.12) + line((x, y - 0.5), (x, y + 0.5), weight_mm=0.12)
            yield text(x + 0.8, y + 0.6, words, size_mm=1.7, halo=True)


def names(assessment: Assessment, sheet: Sheet, room: Room) -> tuple[list[str], list[str]]:
    """The names of what is drawn, what hurts or is hurt first; and the names for which there was no room."""
    made, left_out = [], []
    for feature in _by_importance(assessment.site.features):
        if not shapely.intersects(sheet.drawn(feature.geometry), sheet.field):
            continue
        words = label(feature)
        x, y = sheet.point(*anchor_xy(feature))
        spots = list(_name_spots(feature, x, y, words, sheet))
        at = room.first(letters_box(*spot, words, size_mm=NAME_MM) for spot in spots)
        if at is None:
            left_out.append(words)
        else:
            made.append(text(*spots[at], words, size_mm=NAME_MM, halo=True))
    return made, left_out


def _name_spots(feature: Feature, x: float, y: float, words: str, sheet: Sheet) -> Iterator[tuple[float, float]]:
    """Where a name may start, best first: beside a symbol, over an area, along a line, then outside."""
    wide, level = width_mm(words, NAME_MM), y + 0.35 * NAME_MM
    if is_point(feature):
        gap = max(2.4, (feature.radius_m or 0.0) * sheet.mm_per_m + 0.6)
        yield from ((x + gap, level), (x - gap - wide, level))
        yield from ((x - wide / 2, y - gap - 0.4), (x - wide / 2, y + gap + NAME_MM))
        for up in (-gap - 0.2, gap + 1.8):
            yield from ((x + 1.0, y + up), (x - 1.0 - wide, y + up))
        return
    shown = sheet.shown(feature.geometry)
    if not shown.geom_type.endswith("Polygon"):
        middle = shapely.line_interpolate_point(shapely.get_parts(shown)[0], 0.5, normalized=True)
        x, y = float(middle.x), float(middle.y)
        level = y + 0.35 * NAME_MM
    yield from ((x - wide / 2, level), (x - wide / 2, level - NAME_MM), (x - wide / 2, level + NAME_MM))
    west, south, east, north = shown.bounds
    yield from ((x - wide / 2, south - 0.9), (x - wide / 2, north + NAME_MM), (east + 0.8, level))
    yield (west - 0.8 - wide, level)


_FIRST = ("source", "pit", "latrine", "sewage", "burner", "surface", "stored")


def _by_importance(held: Iterable[Feature]) -> list[Feature]:
    drawn = [f for f in held if f.kind != BOUNDARY]
    return sorted(drawn, key=lambda f: (symbol_of(f.kind).key not in _FIRST, -f.geometry.area, f.name))


def keep_off(assessment: Assessment, sheet: Sheet, room: Room) -> None:
    """Letters stay off the symbols of points."""
    for feature in assessment.site.features:
        if is_point(feature):
            for x, y in shapely.get_coordinates(sheet.shown(feature.geometry)):
                room.take(Point(x, y).buffer(1.9, quad_segs=2))


def statuses(assessment: Assessment) -> set[Status]:
    """Which statuses the legend has to explain."""
    return {feature.status for feature in assessment.site.features} - {Status.EXISTING}
