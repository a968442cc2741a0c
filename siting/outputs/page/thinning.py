"""Outlines of drawn ground with fewer corners, moved only to the side that promises nothing."""

from collections.abc import Callable, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

SHARE = 1 / 3000
"Of the larger side of what is shown: a third of a pixel on a screen that shows all of it."
LEAST_M = 0.02
ROUNDING_M = 0.008
"How far a corner moves when both coordinates are written to the centimetre."


def tolerance_m(bounds_m: tuple[float, float, float, float]) -> float:
    """How far a drawn outline may lie from the true one."""
    west, south, east, north = bounds_m
    return max(LEAST_M, max(east - west, north - south) * SHARE)


def thinned_inward(geometry: BaseGeometry, *, by_m: float) -> BaseGeometry:
    """Ground where something may stand: never drawn larger than it is.

    Moved in by the tolerance first, so that thinning by as much again cannot reach beyond the true outline.
    """
    return _thinned(shapely.buffer(geometry, -by_m, quad_segs=2, join_style="mitre"), by_m)


def thinned_outward(geometry: BaseGeometry, *, by_m: float) -> BaseGeometry:
    """Ground that is forbidden: never drawn smaller than it is."""
    return _thinned(shapely.buffer(geometry, by_m, quad_segs=2, join_style="mitre"), by_m)


def thinned_to(
    geometries: Sequence[BaseGeometry],
    thinned: Callable[..., BaseGeometry],
    *,
    by_m: float,
    most_corners: int,
) -> list[BaseGeometry]:
    """Several outlines with no more corners in all than a page can carry, thinned as little as that allows."""
    while True:
        made = [thinned(geometry, by_m=by_m) for geometry in geometries]
        if sum(int(shapely.get_num_coordinates(g)) for g in made) <= most_corners:
            return made
        by_m *= 1.5


def _thinned(geometry: BaseGeometry, by_m: float) -> BaseGeometry:
    return shapely.simplify(geometry, by_m - ROUNDING_M, preserve_topology=True)
