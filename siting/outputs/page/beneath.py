"""What lies beneath and above the plan, as values to draw: level lines of the water, spot heights, the rose."""

from dataclasses import dataclass
from math import ceil, cos, floor, log10, radians, sin

import numpy as np
import shapely
from shapely.geometry import MultiLineString
from shapely.geometry.base import BaseGeometry

from siting.assess import Assessment
from siting.plane import Plane
from siting.terrain import MIN_GRADIENT
from siting.wind import Rose

MOST_LINES = 8
"Level lines across the land: as many as can be told apart and numbered."
ROSE_RADIUS = 30.0
"Of the longest petal, in the units of the drawing."
LEAST_PRINTED = {8: 0.0, 16: 4.0}
"Percent from which a petal carries its number, by how many petals there are."
MOST_HEIGHTS = 400
"Spot heights on a page: about 15 kB."


@dataclass(frozen=True, slots=True, kw_only=True)
class Contour:
    """Where the water stands at one level."""

    level_m: float
    text: str
    "The level as it is written beside the line."
    line: MultiLineString


def water_contours(plane: Plane | None, land: BaseGeometry) -> tuple[Contour, ...]:
    """Level lines of the water across the land, in steps of 1, 2 or 5 times a power of ten: three to eight of them.

    None when there is no plane, or it is as good as level.
    Valid for: a water table taken as one plane; a pumped well or a stream bends the true lines.
    Source: a plane has straight, parallel, evenly spaced level lines (own).
    """
    if plane is None or plane.gradient < MIN_GRADIENT or land.is_empty:
        return ()
    levels = plane.level_at(shapely.get_coordinates(land))
    low, high = float(levels.min()), float(levels.max())
    step = contour_step(low, high)
    up = np.array([plane.a, plane.b]) / plane.gradient
    across = np.array([-up[1], up[0]])
    middle = np.array(plane.centre)
    reach = float(np.abs(shapely.get_coordinates(land) - middle).max()) * 2.0 + 1.0
    digits = max(0, -floor(log10(step)))
    made = []
    for number in range(ceil(low / step), floor(high / step) + 1):
        level = number * step
        at = middle + up * (level - plane.level_at_centre_m) / plane.gradient
        drawn = shapely.intersection(shapely.linestrings([at - across * reach, at + across * reach]), land)
        parts = [part for part in shapely.get_parts(drawn) if part.geom_type == "LineString" and part.length > 0.0]
        if parts:
            made.append(Contour(level_m=level, text=f"{level:.{digits}f} m", line=MultiLineString(parts)))
    return tuple(made)


def contour_step(low_m: float, high_m: float) -> float:
    """The least of 1, 2, 5 times a power of ten that gives at most eight levels between two.

    >>> contour_step(1003.1, 1005.9)
    0.5
    """
    power = 10.0 ** floor(log10((high_m - low_m) / MOST_LINES))
    steps = (power * factor for factor in (1.0, 2.0, 5.0, 10.0, 20.0))
    return next(s for s in steps if floor(high_m / s) - ceil(low_m / s) + 1 <= MOST_LINES)


def land_of(assessment: Assessment) -> BaseGeometry:
    """The facility's own ground; without a boundary, the hull of what stands."""
    site = assessment.site
    shapes = [f.geometry for f in site.boundaries if shapely.get_dimensions(f.geometry) == 2]
    if shapes:
        return shapely.union_all(shapes)
    return shapely.convex_hull(shapely.geometrycollections([f.geometry for f in site.features]))


def contours_of(assessment: Assessment) -> tuple[Contour, ...]:
    """The level lines of the water of one site."""
    return water_contours(assessment.terrain.water, land_of(assessment))


def flow_of(assessment: Assessment) -> tuple[float, float, float, float, str] | None:
    """The arrow of the groundwater on the map: tail and head [m], and what it says; None when there is no direction."""
    towards = assessment.terrain.towards.get("gradient")
    if towards is None:
        return None
    land = land_of(assessment)
    middle = shapely.point_on_surface(land)
    west, south, east, north = shapely.bounds(land)
    half = 0.09 * max(east - west, north - south)
    dx, dy = half * sin(radians(towards)), half * cos(radians(towards))
    text = f"groundwater flows towards {towards:.0f}°"
    return float(middle.x - dx), float(middle.y - dy), float(middle.x + dx), float(middle.y + dy), text


def heights_of(assessment: Assessment) -> list[tuple[float, float, float]]:
    """Spot heights to show [m]; evenly fewer of them where there are very many."""
    spots = assessment.site.ground.spot_heights
    every = ceil(len(spots) / MOST_HEIGHTS) if spots else 1
    return [(s.x_m, s.y_m, s.height_m) for s in spots[::every]]


def rose_text(rose: Rose) -> str:
    """The rose in words."""
    shares = ", ".join(f"{name} {share:g}" for name, share in zip(rose.names, rose.shares_percent, strict=True))
    return f"wind blows from, in percent of all hours: {shares}, calm {rose.calm_percent:g}"


def rose_drawing(rose: Rose) -> str:
    """The rose as SVG: a petal towards each sector that the wind comes from, as long as its share, with its percent."""
    count, most = len(rose.shares_percent), max(rose.shares_percent)
    half = 0.7 * 180.0 / count
    petals, numbers = [], []
    for number, share in enumerate(rose.shares_percent):
        bearing = number * 360.0 / count
        long = ROSE_RADIUS * share / most if most else 0.0
        left, right = (_around(bearing + turn, long) for turn in (-half, half))
        petals.append(f"M0 0L{left}L{right}Z")
        if share and share >= LEAST_PRINTED[count]:
            x, y = _around(bearing, max(long, 11.0) + 7.0).split()
            numbers.append(f'<text x="{x}" y="{float(y) + 3.0:.1f}">{share:.0f}</text>')
    letters = "".join(
        f'<text class="sector" x="{x}" y="{float(y) + 3.5:.1f}">{name}</text>'
        for name, bearing in (("N", 0), ("E", 90), ("S", 180), ("W", 270))
        for x, y in (_around(bearing, 49.0).split(),)
    )
    return (
        f'<svg class="rose" role="img" aria-label="{rose_text(rose)}" width="108" height="108" '
        f'viewBox="-54 -54 108 108" '
        f'font-family="sans-serif" font-size="8.5" text-anchor="middle" fill="#22282b">'
        f'<circle r="{ROSE_RADIUS:g}" fill="none" stroke="#5b574f" stroke-width="0.6" stroke-dasharray="2 2"/>'
        f'<path d="{"".join(petals)}" fill="#fff" stroke="#22282b" stroke-width="1" stroke-linejoin="round"/>'
        f'<g stroke="#fff" stroke-width="2" paint-order="stroke">{"".join(numbers)}</g>'
        f'<g font-weight="bold" fill="#5b574f">{letters}</g></svg>'
    )


def _around(bearing_deg: float, out: float) -> str:
    return f"{out * sin(radians(bearing_deg)):.1f} {-out * cos(radians(bearing_deg)):.1f}"
