"""Tables of water levels and spot heights, named by `[ground]` in `site.toml`."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.doctor.fix import Fix, is_geographic
from siting.errors import Fault, InputError
from siting.frame import Frame
from siting.io.assemble import TOO_WIDE
from siting.io.crs import to_wgs84
from siting.io.faults import refuse
from siting.io.headings import headings, word
from siting.io.place import NOT_ON_EARTH
from siting.io.records import Document
from siting.io.table import UNMARKED, Sheet, bad_cell, crs_of_table, places, position
from siting.io.values import length_m
from siting.site import SpotHeight, WaterLevel

_PLACE = ("lat", "lon", "x", "y")


LEVELS = "level_m"
HEIGHTS = "height_m"
_LEAST_TRUSTED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightRow:
    """One row of a table of levels or heights, its position as the file has it."""

    row: int
    name: str
    geometry: BaseGeometry
    crs: str
    decimals: float | None
    height_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightTable:
    """A table of levels or heights, read but not yet on the plane."""

    document: Document
    rows: tuple[HeightRow, ...]

    @property
    def fixes(self) -> tuple[Fix, ...]:
        """Its positions for the doctor to look at."""
        return tuple(
            Fix(
                file=self.document.name,
                row=row.row,
                name=row.name,
                kind="height",
                geometry=row.geometry,
                crs=row.crs,
                decimals=row.decimals,
                trust=_LEAST_TRUSTED,
            )
            for row in self.rows
        )


def water_levels(table: HeightTable, *, frame: Frame) -> tuple[WaterLevel, ...]:
    """Levels of the water in wells."""
    return tuple(
        WaterLevel(name=row.name, x_m=x, y_m=y, level_m=row.height_m) for row, (x, y) in _on_plane(table, frame)
    )


def spot_heights(table: HeightTable, *, frame: Frame) -> tuple[SpotHeight, ...]:
    """Heights of the ground."""
    return tuple(SpotHeight(x_m=x, y_m=y, height_m=row.height_m) for row, (x, y) in _on_plane(table, frame))


def read_heights(document: Document, *, role: str) -> HeightTable:
    """A table with the columns lat and lon (or x and y), perhaps name, and `level_m` or `height_m`."""
    roles = ("name", *_PLACE, role)
    table = _sheet(document, roles)
    taken = headings(table.names, roles=roles)
    way = places(taken)
    if not way or role not in taken.column or taken.doubled:
        raise InputError(
            document.fault(
                f"headings {', '.join(map(repr, table.names[:20]))}",
                needed=f"lat and lon, or x and y with a crs, and {role}, each once",
                do_next="name the columns so, in the first row of the table",
                row=1,
            )
        )
    faults: list[Fault] = []
    found = []
    for row, cells in table.rows:
        properties = table.properties(cells)
        try:
            point, decimals = position(properties, taken, way, unmarked=document.accepts(UNMARKED))
            height = length_m(properties.get(taken.column[role]))
        except ValueError as bad:
            faults.append(bad_cell(document, bad, needed=f"a position and a number under {role}", row=row))
        else:
            found.append((row, word(properties.get(taken.column.get("name", "")) or ""), point, decimals, height))
    crs, _ = crs_of_table(document, way, [each[2] for each in found])
    if faults or not found:
        refuse(faults or [document.fault("no rows", needed="one row a point", do_next="fill the table")])
    return HeightTable(
        document=document,
        rows=tuple(
            HeightRow(row=row, name=name, geometry=point, crs=crs, decimals=decimals, height_m=height)
            for row, name, point, decimals, height in found
        ),
    )


def _on_plane(table: HeightTable, frame: Frame) -> list[tuple[HeightRow, tuple[float, float]]]:
    document, found = table.document, table.rows
    if not found:
        return []
    xy = shapely.get_coordinates([row.geometry for row in found])
    crs = found[0].crs
    beyond = (np.abs(xy) > [360.0, 90.0]).any(axis=1) & is_geographic(crs)
    if beyond.any():
        refuse(_beyond(document, found[i], xy[i]) for i in np.flatnonzero(beyond))
    local = frame.to_local(to_wgs84(crs, xy).to_lonlat(xy))
    away = np.hypot(local[:, 0], local[:, 1])
    faults = [
        document.doubt(
            TOO_WIDE,
            f"a point {away[i] / 1000:.0f} km from the site",
            needed="points on and around the site",
            do_next="look for exchanged or mistyped coordinates",
            row=found[i].row,
        )
        for i in np.flatnonzero(~(away <= 50_000.0))
    ]
    if faults:
        refuse(faults)
    return [(row, (float(x), float(y))) for row, (x, y) in zip(found, local, strict=True)]


def _beyond(document: Document, row: HeightRow, xy: np.ndarray) -> Fault:
    return document.doubt(
        NOT_ON_EARTH,
        f"latitude {xy[1]:g}, longitude {xy[0]:g}",
        needed="degrees of a place on earth",
        do_next="correct the coordinates",
        row=row.row,
    )


def _sheet(document: Document, roles: tuple[str, ...]) -> Sheet:
    reader: Callable[..., tuple[Sheet, tuple[str, ...]]]
    if document.path.suffix.lower() == ".xlsx":
        from siting.io.xlsx import read_sheet as reader
    else:
        from siting.io.csv import read_sheet as reader
    return reader(document, roles=roles)[0]
