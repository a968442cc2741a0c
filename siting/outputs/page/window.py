"""How much ground the map and the plan show, and at which scale the plan prints."""

from math import ceil, floor, log10

import numpy as np
import shapely
from shapely.geometry import Polygon

from siting.assess import Assessment

MARGIN = 0.12
"Of the larger side, left free round what is shown."
NEIGHBOURS_M = 40.0
"Features so near the grounds are always shown; farther ones are on the map, beyond the edge of the plan."
SCALES = (50, 100, 200, 250, 500, 1000, 1250, 2000, 2500, 5000, 10_000, 20_000, 50_000, 100_000)
PAPER_MM = (186.0, 170.0)
"Room for the plan on an upright A4 sheet."


def window(assessment: Assessment) -> tuple[float, float, float, float]:
    """West, south, east, north [m] of the ground to show: the grounds with their neighbours, else every feature."""
    site = assessment.site
    shapes = [f.geometry for f in site.features]
    if site.boundaries:
        land = shapely.union_all([f.geometry for f in site.boundaries])
        shapes = [land, *(g for g in shapes if shapely.dwithin(g, land, NEIGHBOURS_M))]
        reach = shapely.box(*shapely.bounds(shapely.buffer(land, NEIGHBOURS_M)))
        # A road or a river runs on far beyond what matters here.
        shapes = [shapely.intersection(g, reach) for g in shapes]
    if assessment.finding is not None:
        conflict = assessment.finding.conflict
        shapes += [shapely.Point(p.candidate.x_m, p.candidate.y_m) for p in assessment.finding.placed]
        shapes += [shapely.Point(conflict.x_m, conflict.y_m)] if conflict else []
    west, south, east, north = (float(v) for v in shapely.total_bounds(np.array(shapes, dtype=object)))
    free = max(4.0, MARGIN * max(east - west, north - south))
    return floor(west - free), floor(south - free), ceil(east + free), ceil(north + free)


def as_box(bounds_m: tuple[float, float, float, float]) -> Polygon:
    """The window as a rectangle."""
    return shapely.box(*bounds_m)


def paper_scale(bounds_m: tuple[float, float, float, float]) -> int:
    """The largest usual scale (1 : n) at which the window fits the sheet."""
    width_m, height_m = bounds_m[2] - bounds_m[0], bounds_m[3] - bounds_m[1]
    need = max(width_m * 1000.0 / PAPER_MM[0], height_m * 1000.0 / PAPER_MM[1])
    return next((scale for scale in SCALES if scale >= need), ceil(need))


def round_step(length_m: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not longer.

    >>> round_step(37.0), round_step(5.0), round_step(0.7)
    (20.0, 5.0, 0.5)
    """
    power = 10.0 ** floor(log10(length_m))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= length_m * (1.0 + 1e-9))
