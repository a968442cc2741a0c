"""Which paper and which standard scale a site fits, and where a place of the ground lies on that paper."""

from dataclasses import dataclass
from math import ceil

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from siting.assess import Assessment
from siting.outputs.page.window import NEIGHBOURS_M

STANDARD_SCALES = (100, 200, 250, 500, 1000, 1250, 2000, 2500)
"Of plans of sites: 1:1,250 and 1:2,500 are those that a Ghanaian district asks for (permit service page, seen)."
SMALLER_SCALES = (5000, 10_000, 20_000, 50_000, 100_000)
"Only where the ground fits no paper otherwise; the sheet then says so."
LARGEST_ON_A4 = 500
"A larger sheet is taken where A4 would make the scale smaller than 1 : this."
STRIP_MM = 15.0
"Below the ground, for the bar."
FREE_MM = 7.0
"Left round what has to be shown, for names and lengths."


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet lying on its long side."""

    name: str
    width_mm: float
    height_mm: float
    margin_mm: float
    panel_mm: float
    "Width of the panel at the right."

    @property
    def field_mm(self) -> tuple[float, float, float, float]:
        """Left, top, width and height of the drawing of the ground."""
        return (
            self.margin_mm,
            self.margin_mm,
            self.width_mm - 2.0 * self.margin_mm - self.panel_mm,
            self.height_mm - 2.0 * self.margin_mm - STRIP_MM,
        )


A4 = Paper(name="A4", width_mm=297.0, height_mm=210.0, margin_mm=8.0, panel_mm=80.0)
A3 = Paper(name="A3", width_mm=420.0, height_mm=297.0, margin_mm=10.0, panel_mm=104.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A paper, a scale 1 : n, and the ground that the field shows."""

    paper: Paper
    scale: int
    west_m: float
    north_m: float

    @property
    def mm_per_m(self) -> float:
        """Millimetres of paper to a metre of ground."""
        return 1000.0 / self.scale

    @property
    def ground_m(self) -> Polygon:
        """The ground that the field shows."""
        _, _, width, height = self.paper.field_mm
        east_m, south_m = self.west_m + width / self.mm_per_m, self.north_m - height / self.mm_per_m
        return shapely.box(self.west_m, south_m, east_m, self.north_m)

    @property
    def field(self) -> Polygon:
        """The field on the paper."""
        left, top, width, height = self.paper.field_mm
        return shapely.box(left, top, left + width, top + height)

    def point(self, x_m: float, y_m: float) -> tuple[float, float]:
        """A place of the ground on the paper [mm], from its left upper corner."""
        left, top, _, _ = self.paper.field_mm
        return left + (x_m - self.west_m) * self.mm_per_m, top + (self.north_m - y_m) * self.mm_per_m

    def drawn(self, geometry: BaseGeometry) -> BaseGeometry:
        """A geometry of the ground on the paper [mm], whole."""
        left, top, _, _ = self.paper.field_mm
        origin, step = np.array([self.west_m, self.north_m]), self.mm_per_m
        return shapely.transform(geometry, lambda xy: (xy - origin) * [step, -step] + [left, top])

    def shown(self, geometry: BaseGeometry) -> BaseGeometry:
        """What of a geometry of the ground lies in the field, on the paper [mm]."""
        return shapely.intersection(self.drawn(geometry), self.field)

    @property
    def is_standard(self) -> bool:
        """Whether the scale is one that plans of sites are drawn at."""
        return self.scale in STANDARD_SCALES


def sheet_for(assessment: Assessment) -> Sheet:
    """The smallest paper and the largest standard scale that show the grounds with their neighbours."""
    bounds_m = extent_m(assessment)
    on_a4, on_a3 = _scale(bounds_m, A4), _scale(bounds_m, A3)
    paper, scale = (A4, on_a4) if on_a4 <= LARGEST_ON_A4 or on_a4 == on_a3 else (A3, on_a3)
    west, south, east, north = bounds_m
    _, _, width_mm, height_mm = paper.field_mm
    metres = scale / 1000.0
    return Sheet(
        paper=paper,
        scale=scale,
        # To whole metres, so that a point added far away does not shift the sheet by a hair.
        west_m=round((west + east - width_mm * metres) / 2.0),
        north_m=round((south + north + height_mm * metres) / 2.0),
    )


def _scale(bounds_m: tuple[float, float, float, float], paper: Paper) -> int:
    west, south, east, north = bounds_m
    _, _, width_mm, height_mm = paper.field_mm
    need = max((east - west) / (width_mm - 2.0 * FREE_MM), (north - south) / (height_mm - 2.0 * FREE_MM)) * 1000.0
    return next((scale for scale in (*STANDARD_SCALES, *SMALLER_SCALES) if scale >= need), ceil(need))


def extent_m(assessment: Assessment) -> tuple[float, float, float, float]:
    """West, south, east and north [m] of what the sheet has to show: the grounds, what is near, every place."""
    site = assessment.site
    shapes = [feature.geometry for feature in site.features]
    if site.boundaries:
        land = shapely.union_all([feature.geometry for feature in site.boundaries])
        reach = shapely.box(*shapely.bounds(shapely.buffer(land, NEIGHBOURS_M)))
        near = [shape for shape in shapes if shapely.dwithin(shape, land, NEIGHBOURS_M)]
        # A road or a river runs on far beyond what matters here.
        shapes = [land, *(shapely.intersection(shape, reach) for shape in near)]
    finding = assessment.finding
    if finding is not None:
        shapes += [shapely.Point(p.candidate.x_m, p.candidate.y_m).buffer(5.0) for p in finding.placed]
        if finding.conflict is not None:
            shapes.append(shapely.Point(finding.conflict.x_m, finding.conflict.y_m).buffer(5.0))
    west, south, east, north = (float(v) for v in shapely.total_bounds(np.array(shapes, dtype=object)))
    return west, south, east, north
