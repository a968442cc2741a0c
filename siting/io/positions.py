"""Positions of a large table at once: geometries taken apart, and what cannot be a place on earth."""

from math import sqrt
from typing import Any

import numpy as np
import shapely

from siting.frame import MAX_LATITUDE_DEG
from siting.io.cells import Wrong
from siting.io.crs import Operation, step_m

Bulk = tuple[float, float, float, float]
"West, south, east, north within which places are expected."
ENOUGH = 100
"Rows from which a table tells by itself where it lies."
BULK = (2.5, 97.5)
"Percentiles of coordinates that are taken as where a registry lies; twice their width round them is still plausible."


def geometries(held: Any, *, as_text: bool, wrong: Wrong) -> tuple[np.ndarray, np.ndarray | None]:
    """Positions (n, 2) of well-known text or binary; and its lines and areas (n,), None where all are points."""
    read = shapely.from_wkt if as_text else shapely.from_wkb
    geometry = shapely.force_2d(read(held, on_invalid="ignore"))
    kind = shapely.get_type_id(geometry)
    empty = shapely.is_missing(geometry) | shapely.is_empty(geometry)
    for row in np.flatnonzero(empty).tolist():
        wrong.setdefault(row, "no geometry that can be used")
    single = (kind == 4) & (shapely.get_num_geometries(geometry) == 1)
    geometry[single] = shapely.get_geometry(geometry[single], 0)
    is_point = (kind == 0) | single
    xy = np.full((len(geometry), 2), np.nan)
    points = is_point & ~empty
    xy[points] = shapely.get_coordinates(geometry[points])
    drawn = ~is_point & ~empty
    if not drawn.any():
        return xy, None
    for row in np.flatnonzero(drawn & ~shapely.is_valid(geometry)).tolist():
        wrong.setdefault(row, f"the outline is not one: {shapely.is_valid_reason(geometry[row])[:80]}")
    xy[drawn] = shapely.get_coordinates(shapely.point_on_surface(geometry[drawn]))
    shapes = np.full(len(geometry), None, dtype=object)
    shapes[drawn] = geometry[drawn]
    return xy, shapes


def too_polar(lonlat: np.ndarray, shapes: np.ndarray | None, wrong: Wrong) -> None:
    """Lines and areas need a plane, which ends near the poles; points do not."""
    if shapes is not None:
        for row in np.flatnonzero(np.abs(lonlat[:, 1]) > MAX_LATITUDE_DEG).tolist():
            if shapes[row] is not None:
                wrong.setdefault(row, "a line or an area closer to a pole than a plane goes")


def exchanged(lonlat: np.ndarray, bulk: Bulk, wrong: Wrong) -> None:
    """Rows far outside the rest that would lie within it with latitude and longitude exchanged."""
    good = np.ones(len(lonlat), dtype=bool)
    good[list(wrong)] = False
    west, south, east, north = bulk
    lon, lat = (lonlat[:, 0] - west) % 360.0, lonlat[:, 1]
    outside = good & ((lon > east - west) | (lat < south) | (lat > north))
    if not outside.any():
        return
    turned_lon = (lonlat[:, 1] - west) % 360.0
    fits = outside & (turned_lon <= east - west) & (lonlat[:, 0] >= south) & (lonlat[:, 0] <= north)
    for row in np.flatnonzero(fits).tolist():
        lon_, lat_ = lonlat[row].tolist()
        wrong.setdefault(row, f"latitude {lat_:.5f}, longitude {lon_:.5f}: exchanged they fit the rest")


def bulk_of(lonlat: np.ndarray) -> Bulk:
    """Where a registry lies (west, south, east, north), generously: its middle with twice its width on each side."""
    middle = lonlat[len(lonlat) // 2, 0]
    turned = (lonlat[:, 0] - middle + 180.0) % 360.0 - 180.0 + middle
    (west, east), (south, north) = np.percentile(turned, BULK), np.percentile(lonlat[:, 1], BULK)
    wide, high = max(east - west, 0.5), max(north - south, 0.5)
    return float(west - 2 * wide), float(south - 2 * high), float(east + 2 * wide), float(north + 2 * high)


def off_range(xy: np.ndarray, wrong: Wrong) -> None:
    """Degrees that are none, and the empty cell that became a place in the Gulf of Guinea."""
    lon, lat = xy[:, 0], xy[:, 1]
    with np.errstate(invalid="ignore"):
        bad = (np.abs(lat) > 90.0) | (np.abs(lon) > 360.0)
    for row in np.flatnonzero(bad).tolist():
        hint = " (exchanged they would fit)" if abs(lon[row]) <= 90.0 < abs(lat[row]) <= 180.0 else ""
        wrong.setdefault(row, f"latitude {lat[row]:g}, longitude {lon[row]:g}{hint}")
    for row in np.flatnonzero((lon == 0.0) & (lat == 0.0)).tolist():
        wrong.setdefault(row, "latitude 0, longitude 0, which stands for an empty cell")


def step_sigmas_m(places_: np.ndarray, lonlat: np.ndarray, operation: Operation | None) -> np.ndarray:
    """Standard uncertainty [m] (n,) of coordinates written in so many decimals."""
    if operation is None:
        return np.zeros(len(places_))
    result = np.zeros(len(places_))
    for count in np.unique(places_):
        rows = places_ == count
        lat = float(np.mean(lonlat[rows, 1]))
        result[rows] = step_m(float(count), operation=operation, lat=lat) / sqrt(12.0)
    return result
