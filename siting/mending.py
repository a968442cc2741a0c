"""Standing installations that fail: the nearest place where each would meet every rule that must hold."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from siting.clearance import lay_out, margins, one_place
from siting.feasible import ground_left
from siting.frame import bearing_deg
from siting.installation import Installation, Outline
from siting.requirements import Demands, Requirement, Sense

FIRST_CIRCLE_M = 40.0
"Most installations that fail could stand within this of where they are."


@dataclass(frozen=True, slots=True, kw_only=True)
class Mending:
    """Where an installation would have to stand."""

    installation: str
    x_m: float
    y_m: float
    moved_m: float
    bearing_deg: float
    margin_m: float


def nearest_place(demands: Demands, land: BaseGeometry) -> Mending | None:
    """The nearest place on the land where a standing installation, not turned, keeps every rule that must hold.

    The ground it may move to is rounded outward, so the move may be longer than the least one by millimetres.
    None when there is no such place, or when what it fails is the same everywhere.
    """
    standing = demands.installation
    middle = shapely.get_coordinates(shapely.centroid(standing.pit.geometry))[0]
    movable = _freed(standing, middle)
    must = [r for r in demands.requirements if r.is_must]
    place = _nearest_ground(must, movable, land, middle)
    if place is None:
        return None
    margin = float(margins(lay_out(must, movable), one_place(*place)).min())
    if margin < 0.0:
        return None
    east, north = place[0] - middle[0], place[1] - middle[1]
    return Mending(
        installation=standing.name,
        x_m=place[0],
        y_m=place[1],
        moved_m=float(np.hypot(east, north)),
        bearing_deg=bearing_deg(east, north),
        margin_m=margin,
    )


def _nearest_ground(
    must: Sequence[Requirement], movable: Installation, land: BaseGeometry, middle: np.ndarray
) -> tuple[float, float] | None:
    """The nearest point of the ground that keeps every requirement.

    Looked for in widening circles, since only what reaches into a circle can forbid ground in it.
    """
    here = Point(middle)
    farthest_m = float(shapely.distance(shapely.points(shapely.get_coordinates(land)), here).max())
    reach_m = FIRST_CIRCLE_M
    while True:
        near = _reaching(must, movable, here, reach_m)
        circle = land.intersection(here.buffer(reach_m))
        ground = ground_left(near, movable, circle, (0.0,), factor=0.0)
        if not ground.is_empty:
            x, y = shapely.get_coordinates(shapely.shortest_line(here, ground))[-1]
            return float(x), float(y)
        if reach_m >= farthest_m:
            return None
        reach_m *= 3.0


def _reaching(
    requirements: Sequence[Requirement], movable: Installation, here: BaseGeometry, reach_m: float
) -> list[Requirement]:
    """Those whose zone comes into the circle, and all that are not zones to stay out of.

    Of several zones of one feature only the widest counts: both outlines of what stands are the same.
    """
    widest: dict[tuple[int, float], Requirement] = {}
    for r in requirements:
        if r.sense is Sense.OUTSIDE:
            key = (id(r.geometry), r.gap_m)
            widest[key] = max(r, widest.get(key, r), key=lambda one: one.limit_m)
    zones = list(widest.values())
    rest = [r for r in requirements if r.sense is not Sense.OUTSIDE]
    reach = np.array([r.limit_m + r.gap_m for r in zones]) + movable.pit.circumradius_m
    geometries = np.array([r.geometry for r in zones], dtype=object)
    near = shapely.distance(geometries, here) <= reach_m + 1.01 * reach
    return [*rest, *(zones[i] for i in np.flatnonzero(near))]


def _freed(standing: Installation, middle: Sequence[float]) -> Installation:
    """The same installation with its outline (or the hull of it) round the origin, free to move and not to turn."""
    shape = affinity.translate(standing.pit.geometry, -middle[0], -middle[1])
    outline = Outline(geometry=shapely.convex_hull(shape), radius_m=standing.pit.radius_m)
    return replace(standing, pit=outline, enclosure=outline, orientation_deg=0.0)
