"""Where the sheet lies: everything recorded, far or near, with the frame of the sheet, and its coordinates."""

from collections.abc import Iterator
from math import floor
from typing import Protocol

import numpy as np
import shapely

from siting.assess import Assessment
from siting.outputs.page.symbols import symbol_of
from siting.outputs.plan_sheet.marks import BLACK, number, outline, text
from siting.outputs.plan_sheet.paper import Sheet

SIDE_MM = 24.0
_MARKED = ("source", "surface", "pit", "latrine")


class Column(Protocol):
    """What the panel is written down."""

    x: float
    y: float
    wide: float

    def head(self, words: str) -> Iterator[str]:
        """A heading."""


def inset(assessment: Assessment, sheet: Sheet, column: Column) -> Iterator[str]:
    """A sketch of all features with the frame of the sheet, and the coordinates of its middle."""
    yield from column.head("Location")
    shapes = np.array([f.geometry for f in assessment.site.features] + [sheet.ground_m], dtype=object)
    west, south, east, north = (float(v) for v in shapely.total_bounds(shapes))
    side_m = max(east - west, north - south) * 1.04
    mm, x, y = SIDE_MM / side_m, column.x, column.y + 0.6
    middle = np.array([(west + east) / 2.0, (south + north) / 2.0])
    box = shapely.box(x, y, x + SIDE_MM, y + SIDE_MM)
    yield outline(box, weight_mm=0.18)
    for feature in assessment.site.features:
        moved = shapely.transform(
            feature.geometry, lambda xy: (xy - middle) * [mm, -mm] + [x + SIDE_MM / 2.0, y + SIDE_MM / 2.0]
        )
        if moved.geom_type.endswith("Point"):
            for px, py in shapely.get_coordinates(moved):
                r = 0.5 if symbol_of(feature.kind).key in _MARKED else 0.25
                yield f'<circle cx="{number(px)}" cy="{number(py)}" r="{r}" fill="{BLACK}"/>'
        else:
            yield outline(shapely.simplify(moved, 0.05).intersection(box), weight_mm=0.15)
    frame = shapely.transform(
        sheet.ground_m, lambda xy: (xy - middle) * [mm, -mm] + [x + SIDE_MM / 2.0, y + SIDE_MM / 2.0]
    )
    yield outline(frame, weight_mm=0.35, dash="1 0.6")
    for index, words in enumerate(_words(assessment, side_m)):
        yield text(x + SIDE_MM + 2.0, y + 2.6 + 3.0 * index, words, size_mm=1.95)
    column.y = y + SIDE_MM


def _words(assessment: Assessment, side_m: float) -> list[str]:
    frame = assessment.site.frame
    drawn = f"sketch {side_m:.0f} m across; dashes: this sheet"
    if frame.lon is None or frame.lat is None:
        return [drawn, "a plan without a place on earth:", "its own metres, its own north"]
    zone, east_m, north_m = utm(frame.lon, frame.lat)
    return [
        drawn,
        "origin of the local metres (E 0, N 0):",
        f"latitude {frame.lat:.6f}",
        f"longitude {frame.lon:.6f} (WGS 84)",
        f"UTM {zone}: {east_m:,.0f} E".replace(",", " "),
        f"{north_m:,.0f} N".replace(",", " "),
    ]


def utm(lon: float, lat: float) -> tuple[str, float, float]:
    """Zone with its hemisphere, easting and northing [m] of the plain six-degree zones (those of the north apart).

    Source: EPSG Guidance Note 7-2, UTM zones (from memory); the arithmetic is PROJ's.
    """
    from pyproj import Transformer

    number_ = floor((lon + 180.0) / 6.0) % 60 + 1
    south = " +south" if lat < 0 else ""
    to_grid = Transformer.from_pipeline(
        f"+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=utm +zone={number_}{south} "
        "+ellps=WGS84"
    )
    east_m, north_m = to_grid.transform(lon, lat)
    return f"{number_}{'S' if lat < 0 else 'N'}", float(east_m), float(north_m)
