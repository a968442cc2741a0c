"""Margins of places against requirements: the one distance function of the package.

A margin is how much better than its limit a place is, in metres of plan.
Outside: distance from outline to geometry, less the limit; where they overlap the distance counts as negative, by
how deep the centre of a round outline, or the deepest corner of a straight-edged one, lies within the geometry.
Inside: the least distance from outline to the edge of the ground, less the limit; negative when it sticks out.
Within: the limit less the distance.
It changes by at most one metre for each metre walked, and for each metre that the farthest corner turns
(and by `JUMP_M` where a straight-edged outline begins to overlap).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.installation import Installation, Outline
from siting.requirements import Requirement, Sense


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where an installation might stand: n places, each with an orientation."""

    x_m: np.ndarray
    y_m: np.ndarray
    orientation_deg: np.ndarray

    def __len__(self) -> int:
        return len(self.x_m)


def one_place(x_m: float, y_m: float, orientation_deg: float = 0.0) -> Places:
    """A single place."""
    return Places(x_m=np.array([x_m]), y_m=np.array([y_m]), orientation_deg=np.array([orientation_deg]))


JUMP_M = 0.001
"""A straight-edged outline that overlaps by however little is this much worse than one that touches.

So the margin of such outlines changes by at most a millimetre more than the metres walked, and a proof adds it.
"""

IN_PLACE = one_place(0.0, 0.0)
"The place of an installation that stands already: its outlines are drawn where it is."

_SENSES = (Sense.OUTSIDE, Sense.INSIDE, Sense.WITHIN)


@dataclass(frozen=True, slots=True)
class Clearances:
    """Requirements in plan, laid out as arrays once so that margins of many places come in one call."""

    requirements: tuple[Requirement, ...]
    outlines: tuple[Outline, Outline]
    which: np.ndarray
    "0 where a requirement is measured from the pit outline, 1 from the enclosure."
    sense: np.ndarray
    geometry: np.ndarray
    edge: np.ndarray
    "Boundary of each geometry that has an inside, for depth within it."
    has_inside: np.ndarray
    limit_m: np.ndarray
    gap_m: np.ndarray
    sigma_m: np.ndarray
    most_m: np.ndarray
    "The largest that each margin can be anywhere: that of standing where the limit is counted from."

    @property
    def jump_m(self) -> float:
        """By how much more than the metres walked a margin may change."""
        return 0.0 if all(outline.is_disc for outline in self.outlines) else JUMP_M

    @property
    def reach_m(self) -> float:
        """How far the farthest corner of either outline is from the place."""
        return max(outline.reach_m for outline in self.outlines)


def lay_out(requirements: Sequence[Requirement], installation: Installation) -> Clearances:
    """The requirements that are distances in plan, ready for margins."""
    kept = tuple(r for r in requirements if r.in_plan)
    geometry = np.array([r.geometry for r in kept], dtype=object)
    # A collection has no boundary; only polygons have an inside.
    areal = np.isin(shapely.get_type_id(geometry), (3, 6)) if len(kept) else np.zeros(0, dtype=bool)
    return Clearances(
        requirements=kept,
        outlines=(installation.pit, installation.enclosure),
        which=np.array([0 if r.rule.outline == "pit" else 1 for r in kept], dtype=np.intp),
        sense=np.array([_SENSES.index(r.sense) for r in kept], dtype=np.intp),
        geometry=geometry,
        edge=np.where(areal, shapely.boundary(geometry), geometry) if len(kept) else geometry,
        has_inside=areal,
        limit_m=np.array([r.limit_m for r in kept], dtype=float),
        gap_m=np.array([r.gap_m for r in kept], dtype=float),
        sigma_m=np.array([r.sigma for r in kept], dtype=float),
        most_m=np.array([r.limit_m if r.sense is Sense.WITHIN else np.inf for r in kept], dtype=float),
    )


def margins(clearances: Clearances, places: Places) -> np.ndarray:
    """Margins [m] of n places against m requirements, as an array (n, m)."""
    n, m = len(places), len(clearances.requirements)
    place = np.repeat(np.arange(n), m)
    requirement = np.tile(np.arange(m), n)
    return pair_margins(clearances, places, place, requirement).reshape(n, m)


def pair_margins(clearances: Clearances, places: Places, place: np.ndarray, requirement: np.ndarray) -> np.ndarray:
    """Margins [m] of chosen pairs (k,) of a place and a requirement, given as indices."""
    result = np.empty(len(place))
    which, sense = clearances.which[requirement], clearances.sense[requirement]
    for number, outline in enumerate(clearances.outlines):
        of_outline = which == number
        if not of_outline.any():
            continue
        shapes = outline.at(places.x_m, places.y_m, places.orientation_deg)
        for code, measured in enumerate((_outside, _inside, _within)):
            chosen = np.flatnonzero(of_outline & (sense == code))
            if len(chosen):
                result[chosen] = measured(clearances, outline, shapes[place[chosen]], requirement[chosen])
    return result


def _outside(c: Clearances, outline: Outline, shapes: np.ndarray, r: np.ndarray) -> np.ndarray:
    distance = shapely.distance(shapes, c.geometry[r])
    touching = np.flatnonzero(distance == 0.0)
    if outline.is_disc:
        within = touching[c.has_inside[r[touching]]]
        distance[within] = -shapely.distance(shapes[within], c.edge[r[within]])
    else:
        over = touching[~shapely.touches(shapes[touching], c.geometry[r[touching]])]
        distance[over] = -_overlap(shapes[over], c.geometry[r[over]], c.edge[r[over]])
    return distance - outline.radius_m - c.gap_m[r] - c.limit_m[r]


def _overlap(shapes: np.ndarray, geometry: np.ndarray, edge: np.ndarray) -> np.ndarray:
    """How far two shapes that overlap reach into one another: by the corner of either that is deepest in the other.

    At least `JUMP_M`, since edges may cross where no corner is inside.
    """
    deep = np.maximum(_depth(shapes, geometry, edge), _depth(geometry, shapes, shapely.boundary(shapes)))
    return JUMP_M + deep


def _depth(shapes: np.ndarray, geometry: np.ndarray, edge: np.ndarray) -> np.ndarray:
    """Depth in each geometry of the corner of the shape that is deepest in it; zero where none is inside."""
    corners, owner = shapely.get_coordinates(shapes, return_index=True)
    points = np.asarray(shapely.points(corners))
    inside = np.flatnonzero(shapely.contains(geometry[owner], points))
    deepest = np.zeros(len(shapes))
    np.maximum.at(deepest, owner[inside], shapely.distance(points[inside], edge[owner[inside]]))
    return deepest


def _inside(c: Clearances, outline: Outline, shapes: np.ndarray, r: np.ndarray) -> np.ndarray:
    depth = shapely.distance(shapes, c.edge[r])
    out = np.flatnonzero(~shapely.covers(c.geometry[r], shapes))
    jump = 0.0 if outline.is_disc else JUMP_M
    depth[out] = -jump - _protrusion(shapes[out], c.geometry[r[out]])
    return depth - outline.radius_m - c.limit_m[r]


def _protrusion(shapes: np.ndarray, ground: np.ndarray) -> np.ndarray:
    """How far the farthest corner of each shape is out of its ground."""
    corners, owner = shapely.get_coordinates(shapes, return_index=True)
    far = np.zeros(len(shapes))
    np.maximum.at(far, owner, shapely.distance(shapely.points(corners), ground[owner]))
    return far


def _within(c: Clearances, outline: Outline, shapes: np.ndarray, r: np.ndarray) -> np.ndarray:
    distance = shapely.distance(shapes, c.geometry[r]) - outline.radius_m - c.gap_m[r]
    return c.limit_m[r] - np.maximum(distance, 0.0)


def nearest_line(
    outline: Outline, shape: BaseGeometry, to: BaseGeometry, gap_m: float
) -> tuple[np.ndarray, np.ndarray]:
    """The ends (2,), (2,) of the shortest line from an outline in place to a geometry, edges to edges."""
    ends = shapely.get_coordinates(shapely.shortest_line(shape, to))
    start, end = ends[0], ends[-1]
    length = float(np.hypot(*(end - start)))
    if length <= outline.radius_m + gap_m or length == 0.0:
        return start, end if length else start
    step = (end - start) / length
    return start + step * outline.radius_m, end - step * gap_m
