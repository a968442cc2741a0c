"""The shape of the ground: how steep, which way it falls, who stands higher, and how near a footing one may dig."""

from dataclasses import dataclass
from math import atan2, degrees, hypot, nan, sqrt

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from siting.errors import InputError
from siting.plane import MIN_BREADTH, Plane, fit_levels
from siting.uncertainty import DEFAULT_CONFIDENCE, Verdict, combined, decide, probability
from siting.usual import not_negative, positive

STEEP_45_DEG = 1.0
"Run per fall of a line at 45 degrees down from a footing: a rule of thumb (seen-2, two builders' guides)."
STEEP_10_IN_6 = 10.0 / 6.0
"The more cautious line, 10 horizontal to 6 vertical (seen-2, engineers' forum)."

Corner = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Ground as triangles between spot heights."""

    triangles: tuple[tuple[Corner, Corner, Corner], ...]
    "Corners east, north, level [m]."

    def height_at(self, xy: ArrayLike) -> NDArray[np.float64]:
        """Level of the ground [m] at places (..., 2); nan outside the triangles."""
        places = np.asarray(xy, dtype=float)
        flat = places.reshape(-1, 2)
        tree = shapely.STRtree([_outline(triangle) for triangle in self.triangles])
        which, triangle = tree.query(shapely.points(flat), predicate="intersects")
        heights = np.full(len(flat), nan)
        for place, index in zip(which, triangle, strict=True):
            a, b, c = _plane(self.triangles[index])
            heights[place] = a * flat[place, 0] + b * flat[place, 1] + c
        return heights.reshape(places.shape[:-1])

    @property
    def slope_percent(self) -> tuple[float, ...]:
        """Steepest fall of each triangle [percent]."""
        return tuple(100.0 * hypot(*_plane(triangle)[:2]) for triangle in self.triangles)

    @property
    def falls_towards_deg(self) -> tuple[float | None, ...]:
        """Bearing that each triangle falls towards [degrees]; None where it is level."""
        falls = (_plane(triangle) for triangle in self.triangles)
        return tuple(degrees(atan2(-a, -b)) % 360.0 if hypot(a, b) > 0 else None for a, b, _ in falls)


def surface(points: ArrayLike, levels: ArrayLike) -> Surface:
    """The triangles between spot heights (Delaunay: no other height lies inside a triangle's circle).

    points: (n, 2) [m]; levels: (n,) [m].
    Slivers along the edge of the survey, narrower than `plane.MIN_BREADTH` of their length, are left out: a
    centimetre of error makes a bank of them.
    Valid for: heights read where the ground bends; banks and walls between them are not seen.
    """
    xy, z = np.asarray(points, dtype=float), np.asarray(levels, dtype=float)
    # Refuses what leaves the slope open, in the words of spot heights.
    fit_levels(xy, z, what="spot heights")
    known: dict[tuple[float, float], float] = {}
    for (x, y), level in zip(xy.tolist(), z.tolist(), strict=True):
        if known.setdefault((x, y), level) != level:
            raise InputError.of(
                f"two spot heights at one place ({x:g}, {y:g}): {known[x, y]:g} m and {level:g} m",
                needed="one level for each place",
                do_next="find out which of them holds, and leave the other out",
            )
    parts = shapely.get_parts(shapely.delaunay_triangles(shapely.multipoints(list(known))))
    broad = [part for part in parts if _breadth(part) >= MIN_BREADTH] or list(parts)
    return Surface(triangles=tuple(sorted(_with_levels(part, known) for part in broad)))


def _breadth(triangle: BaseGeometry) -> float:
    """Height of a triangle over its longest side, as a share of that side."""
    corners = shapely.get_coordinates(triangle)
    longest = float(np.hypot(*np.diff(corners, axis=0).T).max())
    return 2.0 * float(triangle.area) / longest**2


def steeper_than(ground: Surface, *, slope_percent: float) -> BaseGeometry:
    """The ground whose triangles fall by more than `slope_percent`."""
    not_negative(slope_percent=slope_percent)
    pairs = zip(ground.triangles, ground.slope_percent, strict=True)
    return shapely.union_all([_outline(triangle) for triangle, fall in pairs if fall > slope_percent])


def slope_percent(ground: Plane) -> float:
    """Steepest fall of ground taken as one plane [percent]."""
    return 100.0 * ground.gradient


def falls_towards_deg(ground: Plane) -> float | None:
    """Bearing that ground taken as one plane falls towards [degrees]; None when it is level."""
    return ground.flow_towards_deg


def height_difference_m(ground: Surface, *, here: tuple[float, float], there: tuple[float, float]) -> float:
    """How much higher the ground is here than there [m]; nan when either lies outside the surface."""
    first, second = ground.height_at([here, there])
    return float(first - second)


def up_slope(
    difference_m: float, *, sigmas_m: tuple[float, ...] = (), confidence: float = DEFAULT_CONFIDENCE
) -> Verdict:
    """Whether the first of two places is higher, from the difference of their levels (first minus second).

    sigmas_m: standard uncertainties of the two levels, taken as independent.
    Equal levels known without error are not up slope; an unknown level (nan) is not assessed.
    Source: JCGM 106:2012, clause 8.3, as in `uncertainty.decide`.
    """
    if np.isnan(difference_m):
        return Verdict.NOT_ASSESSED
    met = probability(difference_m, combined(*sigmas_m), strict=True)
    return decide(met, confidence=confidence)


def down_slope(
    difference_m: float, *, sigmas_m: tuple[float, ...] = (), confidence: float = DEFAULT_CONFIDENCE
) -> Verdict:
    """Whether the first of two places is lower: `up_slope` seen from the other one."""
    return up_slope(-difference_m, sigmas_m=sigmas_m, confidence=confidence)


def horizontal_m(along_slope_m: float, *, slope_percent: float) -> float:
    """Horizontal distance [m] of a tape laid along even ground that falls by `slope_percent`.

    Valid for: a tape laid straight down the fall; across it the two are equal.

    >>> round(horizontal_m(5.0, slope_percent=75.0), 9)
    4.0
    """
    not_negative(along_slope_m=along_slope_m)
    return along_slope_m / sqrt(1.0 + (slope_percent / 100.0) ** 2)


def clear_of_footing_m(pit_depth_m: float, *, footing_depth_m: float, run_per_fall: float = STEEP_45_DEG) -> float:
    """Distance [m] from a footing that keeps a pit above the line down from the footing's bottom edge.

    max(0, D - F) x run_per_fall, both depths below one ground level; where F is not known, take 0.
    run_per_fall: `STEEP_45_DEG`, or the more cautious `STEEP_10_IN_6`.
    Valid for: ground that stands by itself; room for spoil and diggers comes on top.
    Source: rule of thumb that the line is not to be cut (seen-2); the arithmetic is own.

    >>> round(clear_of_footing_m(3.0, footing_depth_m=0.6), 9)
    2.4
    """
    positive(pit_depth_m=pit_depth_m, run_per_fall=run_per_fall)
    not_negative(footing_depth_m=footing_depth_m)
    return max(0.0, pit_depth_m - footing_depth_m) * run_per_fall


def _with_levels(triangle: BaseGeometry, known: dict[tuple[float, float], float]) -> tuple[Corner, Corner, Corner]:
    first, second, third = ((x, y, known[x, y]) for x, y in shapely.get_coordinates(triangle)[:3].tolist())
    return first, second, third


def _outline(triangle: tuple[Corner, Corner, Corner]) -> Polygon:
    return Polygon([corner[:2] for corner in triangle])


def _plane(triangle: tuple[Corner, Corner, Corner]) -> tuple[float, float, float]:
    """a, b, c of level = a x + b y + c through three corners."""
    (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = triangle
    area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
    a = ((z1 - z0) * (y2 - y0) - (z2 - z0) * (y1 - y0)) / area
    b = ((x1 - x0) * (z2 - z0) - (x2 - x0) * (z1 - z0)) / area
    return a, b, z0 - a * x0 - b * y0
