"""Tables of water levels and spot heights, named by `[ground]` in `site.toml`."""

from collections.abc import Callable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.frame import Frame
from siting.io.crs import to_wgs84
from siting.io.faults import refuse
from siting.io.headings import headings, word
from siting.io.records import Document
from siting.io.table import Sheet, crs_of_table, places, position
from siting.io.values import length_m
from siting.site import SpotHeight, WaterLevel

_PLACE = ("lat", "lon", "x", "y")


def water_levels(document: Document, *, frame: Frame) -> tuple[WaterLevel, ...]:
    """Levels of the water in wells: columns name, lat and lon (or x and y), level_m."""
    return tuple(
        WaterLevel(name=name, x_m=x, y_m=y, level_m=level)
        for name, x, y, level in _heights(document, role="level_m", frame=frame)
    )


def spot_heights(document: Document, *, frame: Frame) -> tuple[SpotHeight, ...]:
    """Heights of the ground: columns lat and lon (or x and y), height_m."""
    return tuple(
        SpotHeight(x_m=x, y_m=y, height_m=height)
        for _, x, y, height in _heights(document, role="height_m", frame=frame)
    )


def _heights(document: Document, *, role: str, frame: Frame) -> list[tuple[str, float, float, float]]:
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
            point, _ = position(properties, taken, way)
            height = length_m(properties.get(taken.column[role]))
        except ValueError as bad:
            faults.append(
                document.fault(
                    str(bad),
                    needed=f"a position and a number under {role}",
                    do_next="correct the cell or remove the row",
                    row=row,
                )
            )
        else:
            found.append((row, word(properties.get(taken.column.get("name", "")) or ""), point, height))
    crs, _ = crs_of_table(document, way, [point for _, _, point, _ in found])
    xy = shapely.get_coordinates([point for _, _, point, _ in found])
    beyond = (np.abs(xy) > [360.0, 90.0]).any(axis=1) if way == "lonlat" else np.zeros(len(xy), bool)
    faults += [
        document.fault(
            f"latitude {xy[i, 1]:g}, longitude {xy[i, 0]:g}",
            needed="degrees of a place on earth",
            do_next="correct the coordinates",
            row=found[i][0],
        )
        for i in np.flatnonzero(beyond)
    ]
    if faults or not found:
        refuse(faults or [document.fault("no rows", needed="one row a point", do_next="fill the table")])
    return _on_plane(document, found, xy, crs, frame)


_Found = tuple[int, str, BaseGeometry, float]
"Row, name, point, height."


def _on_plane(
    document: Document, found: list[_Found], xy: np.ndarray, crs: str, frame: Frame
) -> list[tuple[str, float, float, float]]:
    local = frame.to_local(to_wgs84(crs, xy).to_lonlat(xy))
    away = np.hypot(local[:, 0], local[:, 1])
    faults = [
        document.fault(
            f"a point {away[i] / 1000:.0f} km from the site",
            needed="points on and around the site",
            do_next="look for exchanged or mistyped coordinates",
            row=found[i][0],
        )
        for i in np.flatnonzero(~(away <= 50_000.0))
    ]
    if faults:
        refuse(faults)
    return [(name, float(x), float(y), height) for (_, name, _, height), (x, y) in zip(found, local, strict=True)]


def _sheet(document: Document, roles: tuple[str, ...]) -> Sheet:
    reader: Callable[..., tuple[Sheet, tuple[str, ...]]]
    if document.path.suffix.lower() == ".xlsx":
        from siting.io.xlsx import read_sheet as reader
    else:
        from siting.io.csv import read_sheet as reader
    return reader(document, roles=roles)[0]
