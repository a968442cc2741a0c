"""What people weigh beside distances: who sees the place, how the ground lies there, how a vehicle gets near."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.kinds import Vocabulary
from siting.site import Feature, Site, Status
from siting.terrain import Terrain

EMPTIED = frozenset({"septic tank", "holding tank", "vault latrine"})
"Kinds that a vehicle has to reach."


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Of one place; what the site does not tell is None."""

    public_m: float | None
    "To the nearest place of the public."
    seen_from: tuple[str, ...]
    "Public places with a straight line of sight that no building cuts (trees and walls are not counted)."
    slope_percent: float | None
    fall_m: float | None
    "How much lower the place lies than the feature served."
    vehicle_m: float | None
    "To the nearest road or parking, for what has to be emptied."


def facts(
    site: Site, terrain: Terrain, words: Vocabulary, *, kind: str, x_m: float, y_m: float, served: Feature | None
) -> Facts:
    """What the plan tells of a place beside its distances."""
    here = shapely.points(x_m, y_m)
    public = site.of_kinds(words.expand(["public area"]))
    roads = site.of_kinds(("road", "parking")) if kind in EMPTIED else ()
    walls = [f.geometry for f in site.of_kinds(words.expand(["building"])) if f.status is not Status.PROPOSED]
    return Facts(
        public_m=_nearest_m(here, public),
        seen_from=tuple(f.name for f in public if not _hidden(here, f, walls)),
        slope_percent=_slope_percent(terrain, x_m, y_m),
        fall_m=_fall_m(terrain, x_m, y_m, served),
        vehicle_m=_nearest_m(here, roads),
    )


def _nearest_m(here: shapely.Point, features: tuple[Feature, ...]) -> float | None:
    return min((float(shapely.distance(here, f.geometry)) - (f.radius_m or 0.0) for f in features), default=None)


def _hidden(here: shapely.Point, public: Feature, walls: list[BaseGeometry]) -> bool:
    sight = shapely.shortest_line(here, public.geometry)
    between = [wall for wall in walls if wall is not public.geometry]
    return bool(shapely.crosses(sight, np.array(between, dtype=object)).any()) if between else False


def _slope_percent(terrain: Terrain, x_m: float, y_m: float) -> float | None:
    if terrain.surface is None:
        return None
    faces = shapely.polygons([[corner[:2] for corner in triangle] for triangle in terrain.surface.triangles])
    on = np.flatnonzero(shapely.intersects(faces, shapely.points(x_m, y_m)))
    return max((terrain.surface.slope_percent[i] for i in on), default=None)


def _fall_m(terrain: Terrain, x_m: float, y_m: float, served: Feature | None) -> float | None:
    if terrain.heights is None or served is None:
        return None
    middle = shapely.get_coordinates(shapely.centroid(served.geometry))[0]
    there, here = terrain.heights.level_at(np.array([middle, (x_m, y_m)]))
    return float(there - here)
