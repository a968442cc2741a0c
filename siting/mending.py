"""Standing installations that fail: the nearest place where each would meet every rule that must hold."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from siting.clearance import lay_out, margins, one_place
from siting.feasible import feasible_ground
from siting.installation import Installation, Outline
from siting.requirements import Demands


@dataclass(frozen=True, slots=True, kw_only=True)
class Mending:
    """Where an installation would have to stand."""

    installation: str
    x_m: float
    y_m: float
    moved_m: float
    bearing_deg: float
    margin_m: float


def nearest_place(demands: Demands, land: BaseGeometry, *, confidence: float) -> Mending | None:
    """The nearest place on the land where a standing installation, not turned, keeps every rule that must hold.

    The ground it may move to is rounded outward, so the move may be longer than the least one by millimetres.
    None when there is no such place, or when what it fails is the same everywhere.
    """
    standing = demands.installation
    middle = shapely.get_coordinates(shapely.centroid(standing.pit.geometry))[0]
    movable = _freed(standing, middle)
    ground = feasible_ground(demands.requirements, movable, land, confidence=confidence).nominal
    if ground.is_empty:
        return None
    line = shapely.shortest_line(shapely.points(middle), ground)
    x, y = shapely.get_coordinates(line)[-1]
    must = [r for r in demands.requirements if r.is_must]
    margin = float(margins(lay_out(must, movable), one_place(x, y)).min())
    if margin < 0.0:
        return None
    east, north = x - middle[0], y - middle[1]
    return Mending(
        installation=standing.name,
        x_m=float(x),
        y_m=float(y),
        moved_m=float(np.hypot(east, north)),
        bearing_deg=float(np.degrees(np.arctan2(east, north)) % 360.0),
        margin_m=margin,
    )


def _freed(standing: Installation, middle: Sequence[float]) -> Installation:
    """The same installation with its outline (or the hull of it) round the origin, free to move and not to turn."""
    shape = affinity.translate(standing.pit.geometry, -middle[0], -middle[1])
    outline = Outline(geometry=shapely.convex_hull(shape), radius_m=standing.pit.radius_m)
    return replace(standing, pit=outline, enclosure=outline, orientation_deg=0.0)
