"""Which way is down: the three directions that rules speak of, and the ground that lies on a side of a feature.

up-gradient and down-gradient follow the groundwater, up-slope and down-slope the ground,
upwind and downwind the prevailing wind.
"""

from collections.abc import Mapping
from math import ceil, cos, radians, sin

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from siting.sweep import swept

Towards = Mapping[str, float | None]
"Bearing in degrees that each of `gradient`, `slope`, `wind` leads towards; None where it is not known."

_LEADING = {"down-gradient": "gradient", "down-slope": "slope", "downwind": "wind"}
_AGAINST = {"up-gradient": "gradient", "up-slope": "slope", "upwind": "wind"}

OPPOSITE = {
    "up-gradient": "down-gradient",
    "down-gradient": "up-gradient",
    "up-slope": "down-slope",
    "down-slope": "up-slope",
    "upwind": "downwind",
    "downwind": "upwind",
}


def bearing_of_side(side: str, towards: Towards) -> float | None:
    """The bearing from a feature to the ground on one side of it; None where the direction is not known."""
    leading = towards.get(_LEADING.get(side, ""))
    against = towards.get(_AGAINST.get(side, ""))
    if leading is not None:
        return leading % 360.0
    return None if against is None else (against + 180.0) % 360.0


def ground_on_side(geometry: BaseGeometry, bearing_deg: float, *, sector_deg: float, reach_m: float) -> BaseGeometry:
    """The ground within `reach_m` of a geometry and on one side of it, rounded outward.

    It is the geometry swept over a sector of full width `sector_deg` (at most 180) round `bearing_deg`.
    Outward: the arc runs outside the true circle by at most 0.4 mm in 10 m, so a verdict takes the plain distance.
    """
    return swept(geometry, _sector(bearing_deg, sector_deg, reach_m))


def _sector(bearing_deg: float, sector_deg: float, reach_m: float) -> Polygon:
    steps = max(2, ceil(sector_deg))
    radius = reach_m / cos(radians(sector_deg / steps / 2.0))
    start = bearing_deg - sector_deg / 2.0
    arc = [radians(start + sector_deg * step / steps) for step in range(steps + 1)]
    return Polygon([(0.0, 0.0), *((radius * sin(a), radius * cos(a)) for a in arc)])
