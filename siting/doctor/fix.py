"""One feature's coordinates as its file has them: what the doctor looks at before anything is projected."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError
from shapely.geometry.base import BaseGeometry

WGS84 = "EPSG:4326"
AREA_SLACK_DEG = 2.0
"How far outside the area of use of its CRS a place may lie before that is doubtful: project judgement."


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """Coordinates of one row, x or longitude first."""

    file: str
    layer: str = ""
    row: int = 0
    name: str = ""
    kind: str = ""
    geometry: BaseGeometry
    crs: str = WGS84
    decimals: float | None = None
    "Decimal places as written; None lets the numbers speak."
    accuracy_m: float | None = None
    trust: int = 0
    "How seldom this kind of file has its coordinates exchanged: 0 is the most trusted."

    @property
    def middle(self) -> tuple[float, float]:
        """The middle of its extent."""
        west, south, east, north = self.geometry.bounds
        return (west + east) / 2.0, (south + north) / 2.0


def middles(fixes: Sequence[Fix]) -> np.ndarray:
    """The middles (n, 2) in the coordinates of the files."""
    bounds = shapely.bounds(np.array([fix.geometry for fix in fixes], dtype=object))
    return np.column_stack([(bounds[:, 0] + bounds[:, 2]) / 2.0, (bounds[:, 1] + bounds[:, 3]) / 2.0])


@lru_cache(maxsize=64)
def system(crs: str) -> CRS | None:
    """The CRS a text names, without heights; None where there is none."""
    try:
        found = CRS.from_user_input(crs)
    except CRSError:
        return None
    return found.sub_crs_list[0] if found.is_compound else found


def is_geographic(crs: str) -> bool:
    """Whether coordinates are degrees."""
    found = system(crs)
    return crs == WGS84 or (found is not None and found.is_geographic)


@lru_cache(maxsize=64)
def _to_wgs84(crs: str) -> Transformer | None:
    found = system(crs)
    try:
        return None if found is None else Transformer.from_crs(found, CRS.from_epsg(4326), always_xy=True)
    except ProjError:
        return None


def lonlat(xy: np.ndarray, crs: str) -> np.ndarray:
    """Coordinates (n, 2) as longitude and latitude, good to a kilometre; NaN where there is no such place.

    A place far outside the area of use of its CRS counts as none.
    """
    if crs == WGS84:
        moved = np.array(xy, dtype=float)
    else:
        transformer = _to_wgs84(crs)
        if transformer is None:
            return np.full(np.shape(xy), np.nan)
        moved = np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
    wrong = ~np.isfinite(moved).all(axis=1) | (np.abs(moved[:, 1]) > 90.0) | (np.abs(moved[:, 0]) > 360.0)
    moved[wrong] = np.nan
    moved[_outside_area(moved, crs)] = np.nan
    moved[:, 0] = (moved[:, 0] + 180.0) % 360.0 - 180.0
    return moved


def _outside_area(places: np.ndarray, crs: str) -> np.ndarray:
    found = system(crs)
    area = None if crs == WGS84 or found is None else found.area_of_use
    if area is None:
        return np.zeros(len(places), bool)
    width = (area.east - area.west) % 360.0 or 360.0
    east_of = (places[:, 0] - area.west + AREA_SLACK_DEG) % 360.0
    with np.errstate(invalid="ignore"):
        beyond = (places[:, 1] < area.south - AREA_SLACK_DEG) | (places[:, 1] > area.north + AREA_SLACK_DEG)
        return beyond | (east_of > width + 2.0 * AREA_SLACK_DEG)


def apart_m(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Distances between places given as longitude, latitude: great circle, good to half a percent."""
    lon1, lat1, lon2, lat2 = (np.radians(a) for a in (one[..., 0], one[..., 1], other[..., 0], other[..., 1]))
    half = np.sin((lat2 - lat1) / 2.0) ** 2 + np.cos(lat1) * np.cos(lat2) * np.sin((lon2 - lon1) / 2.0) ** 2
    return np.asarray(2.0 * 6_371_000.0 * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))
