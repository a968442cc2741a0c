"""One entity of a drawing as points of a plane: arcs, ellipses and splines become chords.

Chords are inscribed: an outline bulging outwards comes out too small by at most the sagitta asked for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import acos, atan, cos, hypot, isfinite, pi, radians, sin, tau
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

COARSEST_RAD = pi / 32.0
FINEST_RAD = pi / 2048.0
"Bounds of one chord's angle, whatever the sagitta."
SPLINE_PARTS = (8, 512)
"Fewest and most chords between two knots of a spline; even, so that every other point is the middle of a chord."
SPLINE_FRAME = 16
"Flag of a vertex that steers a smoothed polyline and does not lie on it."
MESH = 16 | 64
"Flags of a polyline that is a surface."


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What one entity draws, in the plane of the block or space that holds it."""

    sort: str
    "`point`, `line`, `area` or `circle`."
    rings: tuple[np.ndarray, ...]
    "Points (n, 2); more than one for an area of several rings, filled even-odd."
    radius: float | None = None
    "Of a circle, whose only point is its centre."

    def moved(self, affine: np.ndarray, sagitta: float) -> "Piece":
        """The piece under an affine map (2, 3); a circle that is squeezed becomes an outline."""
        rings = tuple(ring @ affine[:, :2].T + affine[:, 2] for ring in self.rings)
        if self.radius is None:
            return Piece(sort=self.sort, rings=rings)
        right, up = affine[:, 0], affine[:, 1]
        size, other = hypot(*right), hypot(*up)
        if abs(size - other) <= 1e-6 * size and abs(right @ up) <= 1e-6 * size * size:
            return Piece(sort="circle", rings=rings, radius=self.radius * size)
        around = arc(self.rings[0][0], self.radius, 0.0, tau, sagitta / max(size, other))[:-1]
        return Piece(sort="area", rings=(around @ affine[:, :2].T + affine[:, 2],))

    def geometry(self) -> BaseGeometry | None:
        """The piece as a geometry; None where nothing with an extent is left of a line or an area."""
        first = self.rings[0]
        if self.sort in ("point", "circle"):
            return shapely.Point(first[0])
        if self.sort == "line":
            return shapely.LineString(first) if len(first) > 1 and np.ptp(first, axis=0).any() else None
        polygons = [shapely.Polygon(ring) for ring in self.rings if len(ring) > 2 and shapely.Polygon(ring).area > 0]
        if not polygons:
            return None
        filled: BaseGeometry = polygons[0]
        for polygon in polygons[1:]:
            filled = shapely.symmetric_difference(filled, polygon)
        return None if filled.is_empty else filled


def _xy(vector: Any) -> tuple[float, float]:
    return float(vector.x), float(vector.y)


def step_rad(radius: float, sagitta: float) -> float:
    """The angle of chords that stay within `sagitta` of an arc of `radius`, both in one unit.

    Source: sagitta of a circular arc, r (1 - cos(angle / 2)) (geometry).
    """
    ratio = sagitta / radius if radius > 0 else 1.0
    return min(max(2.0 * acos(1.0 - min(ratio, 1.0)), FINEST_RAD), COARSEST_RAD)


def arc(centre: Sequence[float] | np.ndarray, radius: float, start: float, end: float, sagitta: float) -> np.ndarray:
    """Points (n, 2) on a circular arc from the angle `start` to `end` [rad], anticlockwise when end > start."""
    count = max(1, int(np.ceil(abs(end - start) / step_rad(radius, sagitta) - 1e-9)))
    angle = np.linspace(start, end, count + 1)
    return np.column_stack([centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)])


def bulged(points: Sequence[tuple[float, float, float]], *, closed: bool, sagitta: float) -> np.ndarray:
    """Points (n, 2) along a polyline of x, y, bulge; a bulge is the tangent of a quarter of the arc's angle."""
    if not any(bulge for _, _, bulge in points):
        return np.array([(x, y) for x, y, _ in points], float).reshape(-1, 2)
    made: list[np.ndarray] = []
    ends = [*points[1:], points[0]] if closed else points[1:]
    for (x, y, bulge), (x2, y2, _) in zip(points, ends, strict=False):
        chord = hypot(x2 - x, y2 - y)
        if not bulge or not chord:
            made.append(np.array([[x, y]]))
            continue
        angle = 4.0 * atan(bulge)
        radius = chord / 2.0 / abs(sin(angle / 2.0))
        # the centre lies on the perpendicular through the middle of the chord, left of it for less than a half turn
        off = radius * cos(angle / 2.0) * (1.0 if bulge > 0 else -1.0)
        centre = ((x + x2) / 2.0 - off * (y2 - y) / chord, (y + y2) / 2.0 + off * (x2 - x) / chord)
        start = float(np.arctan2(y - centre[1], x - centre[0]))
        made.append(arc(centre, radius, start, start + angle, sagitta)[:-1])
    if not closed:
        made.append(np.array([points[-1][:2]]))
    return np.vstack(made)


def piece(entity: Any, sagitta: float) -> Piece | None:
    """What an entity draws, chords within `sagitta` (drawing units); None for sorts that cannot be used."""
    make = _MAKE.get(entity.dxftype())
    made: Piece | None = make(entity, sagitta) if make else None
    return made


def _flat(points: np.ndarray, entity: Any, *, z: float = 0.0) -> np.ndarray:
    """Points of an entity's own system on the plane; drawings turned over keep their numbers mirrored."""
    ocs = entity.ocs()
    if not ocs.transform:
        return points
    return np.array([_xy(ocs.to_wcs((x, y, z))) for x, y in points], float).reshape(-1, 2)


def _joined(points: np.ndarray, *, closed: bool, sagitta: float) -> Piece:
    ends_meet = len(points) > 3 and hypot(*(points[0] - points[-1])) <= min(sagitta, 1e-3 * np.ptp(points))
    return Piece(sort="area" if (closed and len(points) > 2) or ends_meet else "line", rings=(points,))


def _point(entity: Any, _: float) -> Piece:
    return Piece(sort="point", rings=(np.array([_xy(entity.dxf.location)]),))


def _line(entity: Any, _: float) -> Piece:
    return Piece(sort="line", rings=(np.array([_xy(entity.dxf.start), _xy(entity.dxf.end)]),))


def _lwpolyline(entity: Any, sagitta: float) -> Piece | None:
    held = entity.get_points("xyb")
    if not held:
        return None
    points = bulged(held, closed=entity.closed, sagitta=sagitta)
    return _joined(_flat(points, entity, z=entity.dxf.elevation), closed=entity.closed, sagitta=sagitta)


def _polyline(entity: Any, sagitta: float) -> Piece | None:
    if entity.dxf.flags & MESH:
        return None
    held = [vertex for vertex in entity.vertices if not vertex.dxf.flags & SPLINE_FRAME]
    if not held:
        return None
    points = bulged(
        [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in held], closed=entity.is_closed, sagitta=sagitta
    )
    if not entity.is_3d_polyline:
        points = _flat(points, entity, z=held[0].dxf.location.z)
    return _joined(points, closed=entity.is_closed, sagitta=sagitta)


def _circle(entity: Any, _: float) -> Piece | None:
    radius = abs(entity.dxf.radius)
    if not radius or abs(abs(entity.dxf.extrusion.z) - 1.0) > 1e-6:
        return None
    centre = _flat(np.array([_xy(entity.dxf.center)]), entity, z=entity.dxf.center.z)
    return Piece(sort="circle", rings=(centre,), radius=radius)


def _arc(entity: Any, sagitta: float) -> Piece:
    start, end = radians(entity.dxf.start_angle), radians(entity.dxf.end_angle)
    points = arc(_xy(entity.dxf.center), abs(entity.dxf.radius), start, start + ((end - start) % tau or tau), sagitta)
    return _joined(_flat(points, entity, z=entity.dxf.center.z), closed=False, sagitta=sagitta)


def _around_ellipse(tool: Any, sagitta: float) -> np.ndarray:
    start, end = tool.start_param, tool.end_param
    span = (end - start) % tau or tau
    major, minor = np.array(_xy(tool.major_axis)), np.array(_xy(tool.minor_axis))
    # an ellipse is a circle of its major radius, squeezed: its chords err no more than the circle's
    step = step_rad(hypot(*major), sagitta)
    count = max(1, int(np.ceil(span / step - 1e-9)))
    t = np.linspace(start, start + span, count + 1)[:, None]
    points: np.ndarray = np.array(_xy(tool.center)) + np.cos(t) * major + np.sin(t) * minor
    return points


def _ellipse(entity: Any, sagitta: float) -> Piece:
    return _joined(_around_ellipse(entity.construction_tool(), sagitta), closed=False, sagitta=sagitta)


def _along_spline(tool: Any, sagitta: float) -> np.ndarray:
    """Points (n, 2) on a B-spline, more of them until none between two strays from its chord.

    A spline whose knots do not pile up at its ends is defined only between the knots of its degree and of its
    count; beyond them its formula runs away.
    """
    knots = np.array(tool.knots())
    first, last = knots[tool.degree], knots[tool.count]
    spans = np.unique(knots[(knots >= first) & (knots <= last)])
    parts = SPLINE_PARTS[0]
    while True:
        at = np.concatenate([np.linspace(a, b, parts, endpoint=False) for a, b in pairwise(spans)] + [spans[-1:]])
        points = np.array([_xy(point) for point in tool.points(at)])
        strayed = np.linalg.norm(points[1:-1:2] - (points[:-2:2] + points[2::2]) / 2.0, axis=1)
        if parts >= SPLINE_PARTS[1] or strayed.max(initial=0.0) <= sagitta:
            return points
        parts *= 2


def _spline(entity: Any, sagitta: float) -> Piece | None:
    if entity.control_point_count() < 2 and entity.fit_point_count() < 2:
        return None
    points = _along_spline(entity.construction_tool(), sagitta)
    return _joined(points, closed=entity.closed, sagitta=sagitta)


def _corners(entity: Any, _: float) -> Piece:
    names = ("vtx0", "vtx1", "vtx3", "vtx2") if entity.dxftype() != "3DFACE" else ("vtx0", "vtx1", "vtx2", "vtx3")
    points = np.array([_xy(entity.dxf.get(name, entity.dxf.vtx2)) for name in names])
    if entity.dxftype() != "3DFACE":
        points = _flat(points, entity, z=entity.dxf.vtx0.z)
    return Piece(sort="area", rings=(points,))


def _hatch(entity: Any, sagitta: float) -> Piece | None:
    rings = [ring for path in entity.paths if len(ring := _hatch_ring(path, sagitta)) > 2]
    if not rings:
        return None
    z = entity.dxf.elevation.z
    return Piece(sort="area", rings=tuple(_flat(ring, entity, z=z) for ring in rings))


def _hatch_ring(path: Any, sagitta: float) -> np.ndarray:
    if hasattr(path, "vertices"):
        return bulged([(v[0], v[1], v[2] if len(v) > 2 else 0.0) for v in path.vertices], closed=True, sagitta=sagitta)
    parts = [points for edge in path.edges if len(points := _hatch_edge(edge, sagitta))]
    made: list[np.ndarray] = []
    for index, points in enumerate(parts):
        # edges are kept in order but each may be drawn from either end
        before = made[-1][-1] if made else None
        if before is None and len(parts) > 1:
            following = parts[index + 1]
            forward = min(hypot(*(points[-1] - end)) for end in following[[0, -1]])
            backward = min(hypot(*(points[0] - end)) for end in following[[0, -1]])
            points = points[::-1] if backward < forward else points
        elif before is not None and hypot(*(points[-1] - before)) < hypot(*(points[0] - before)):
            points = points[::-1]
        made.append(points)
    return np.vstack(made) if made else np.empty((0, 2))


def _hatch_edge(edge: Any, sagitta: float) -> np.ndarray:
    if hasattr(edge, "start") and hasattr(edge, "end"):
        return np.array([_xy(edge.start), _xy(edge.end)])
    if hasattr(edge, "radius"):
        start = radians(edge.start_angle)
        span = (radians(edge.end_angle) - start) % tau or tau
        return arc(_xy(edge.center), edge.radius, start, start + span, sagitta)
    tool = edge.construction_tool()
    if hasattr(edge, "major_axis"):
        return _around_ellipse(tool, sagitta)
    return _along_spline(tool, sagitta)


_MAKE = {
    "POINT": _point,
    "LINE": _line,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "SOLID": _corners,
    "TRACE": _corners,
    "3DFACE": _corners,
    "HATCH": _hatch,
    "MPOLYGON": _hatch,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A line of writing: where it stands and what it says."""

    ends: np.ndarray
    "Start and end (2, 2) of its base line."
    words: str
    height: float
    layer: str


WIDTH = 0.6
"Width of a letter over its height; common practice for drawing alphabets."


def text(entity: Any) -> Text | None:
    """The writing of a TEXT, MTEXT or attribute; None when it says nothing."""
    is_block = entity.dxftype() == "MTEXT"
    words = " ".join(str(entity.plain_text()).split())
    if not words:
        return None
    height = float(entity.dxf.char_height if is_block else entity.dxf.height)
    if not isfinite(height):
        return None
    if is_block:
        place, turn = np.array([_xy(entity.dxf.insert)]), radians(entity.get_rotation())
        back = ((entity.dxf.attachment_point - 1) % 3) / 2.0
        length = min(WIDTH * height * len(words), entity.dxf.get("width", 0.0) or np.inf)
    else:
        aligned = entity.dxf.halign and entity.dxf.hasattr("align_point")
        at = entity.dxf.align_point if aligned else entity.dxf.insert
        place, turn = np.array([_xy(at)]), radians(entity.dxf.rotation)
        back = {1: 0.5, 2: 1.0, 4: 0.5}.get(entity.dxf.halign, 0.0) if aligned else 0.0
        length = WIDTH * height * len(words)
    along = length * np.array([cos(turn), sin(turn)])
    ends = np.vstack([place - back * along, place + (1.0 - back) * along])
    if not is_block:
        ends = _flat(ends, entity, z=entity.dxf.insert.z)
    return Text(ends=ends, words=words, height=height, layer=entity.dxf.layer)
