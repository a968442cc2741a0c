"""From the coordinates a file uses to longitude and latitude on WGS 84, with the accuracy that costs."""

import warnings
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]  # missing from its stubs
from pyproj.transformer import AreaOfInterest, TransformerGroup

from siting.errors import DatumError, InputError
from siting.io.records import WGS84

AROUND_DEG = 0.05
UNKNOWN_ACCURACY_M = 999.0
"The EPSG dataset writes 999 where nobody knows."


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One way from a CRS to WGS 84, chosen for a place."""

    name: str
    accuracy_m: float
    "As the EPSG dataset states it; 0 where the datum stays the same."
    is_geographic: bool
    unit_m: float
    "Metres of one unit of a projected CRS; of no use for degrees."
    notes: tuple[str, ...] = ()
    _transformer: Transformer | None = field(default=None, repr=False, compare=False)

    def to_lonlat(self, xy: np.ndarray) -> np.ndarray:
        """Coordinates (n, 2), x or longitude first, to lon, lat degrees; infinite where there is no answer."""
        if self._transformer is None:
            return np.array(xy, dtype=float)
        return np.column_stack(self._transformer.transform(xy[:, 0], xy[:, 1]))

    @property
    def shared_sigma_m(self) -> float:
        """Standard uncertainty per axis [m] that all points moved by this operation share.

        The EPSG dataset does not say which share of points its accuracy holds.
        It is read as the root mean square of the horizontal distance, so a single axis has 1/sqrt(2) of it:
        project judgement.
        """
        return self.accuracy_m / sqrt(2.0)

    def __str__(self) -> str:
        if self.accuracy_m == 0:
            return f"{self.name} (no change of datum)"
        return f"{self.name} (stated accuracy {self.accuracy_m:g} m)"


def horizontal_crs(text: str) -> CRS:
    """The plane or geographic CRS that a text names; heights are left out."""
    try:
        crs = CRS.from_user_input(text)
    except CRSError as error:
        raise InputError.of(
            f"no coordinate reference system is known as {text[:80]!r}",
            needed='a code such as "EPSG:32736", or the text of a .prj file',
            do_next="look up the EPSG code of the survey's grid and write it as crs",
        ) from error
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    if not (crs.is_projected or crs.is_geographic):
        raise InputError.of(
            f"{crs.name!r} is neither a plane grid nor latitude and longitude",
            needed='a horizontal coordinate reference system such as "EPSG:32736"',
            do_next="write the EPSG code of the grid the coordinates are in",
        )
    return crs


def to_wgs84(crs_text: str, xy: np.ndarray) -> Operation:
    """The best operation PROJ has from a CRS to WGS 84 at the place of the coordinates.

    `xy` (n, 2) are coordinates in that CRS, x or longitude first.
    Operations without a stated accuracy are refused: PROJ answers with a *ballpark* operation, which leaves
    the datum out, wherever the EPSG dataset has none for the place.
    """
    if crs_text == WGS84:
        return Operation(name="WGS 84", accuracy_m=0.0, is_geographic=True, unit_m=1.0)
    crs = horizontal_crs(crs_text)
    group, missing = _operations(crs, xy)
    stated = [each for each in group if 0 <= each.accuracy < UNKNOWN_ACCURACY_M and "allpark" not in each.description]
    if not stated:
        raise DatumError.of(
            f"from {crs.name} to WGS 84 there is no operation with a stated accuracy at this place "
            f"(PROJ offers {_offered(group)}; a datum left out moves points by up to several hundred metres)",
            needed="coordinates whose datum can be brought to WGS 84 with a stated accuracy",
            do_next="check the crs and the place; else measure again in WGS 84, or have the national survey "
            "convert the points",
        )
    best = stated[0]
    return Operation(
        name=_plain(best.description),
        accuracy_m=float(best.accuracy),
        is_geographic=crs.is_geographic,
        unit_m=float(crs.axis_info[0].unit_conversion_factor) if crs.axis_info else 1.0,
        notes=tuple(f"better, but its grid file is not on this machine: {name}" for name in missing[:1]),
        _transformer=best,
    )


def _operations(crs: CRS, xy: np.ndarray) -> tuple[list[Transformer], list[str]]:
    lonlat = _roughly(crs, xy)
    if not len(lonlat):
        raise InputError.of(
            f"none of the coordinates lies where {crs.name} is defined",
            needed="coordinates of that grid, x (east) and y (north) not exchanged",
            do_next="check the crs, the zone and the order of the columns",
        )
    (west, south), (east, north) = lonlat.min(axis=0), lonlat.max(axis=0)
    if east - west > 180:
        west, east = east, west
    area = AreaOfInterest(
        (west - AROUND_DEG + 180) % 360 - 180,
        max(south - AROUND_DEG, -90.0),
        (east + AROUND_DEG + 180) % 360 - 180,
        min(north + AROUND_DEG, 90.0),
    )
    # grids are never fetched, whatever the environment says
    set_network_enabled(active=False)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        group = TransformerGroup(crs, CRS.from_epsg(4326), always_xy=True, area_of_interest=area)
    return list(group.transformers), [each.name for each in group.unavailable_operations]


def _roughly(crs: CRS, xy: np.ndarray) -> np.ndarray:
    # On the CRS's own datum: good enough to say in which country the points lie.
    base = crs.geodetic_crs
    try:
        moved = Transformer.from_crs(crs, base, always_xy=True).transform(xy[:, 0], xy[:, 1])
    except ProjError:
        return np.empty((0, 2))
    lonlat = np.column_stack(moved)
    sane = np.isfinite(lonlat).all(axis=1) & (np.abs(lonlat[:, 1]) <= 90)
    kept: np.ndarray = lonlat[sane]
    return kept


def _plain(description: str) -> str:
    steps = [step for step in description.split(" + ") if not step.startswith("axis order change")]
    return " + ".join(steps) or description


def _offered(group: list[Transformer]) -> str:
    return ", ".join(f"{_plain(each.description)!r}" for each in group[:3]) or "none"


def step_m(decimals: float, *, operation: Operation, lat: float) -> float:
    """The step [m] of coordinates written with `decimals` places; the larger of the two axes for degrees.

    Source: radii of curvature of the WGS 84 ellipsoid, meridian M and prime vertical N.

    >>> from siting.io.records import WGS84
    >>> wgs84 = to_wgs84(WGS84, np.empty((0, 2)))
    >>> round(step_m(5, operation=wgs84, lat=0.0), 5)
    1.11319
    """
    step = 10.0**-decimals
    if not operation.is_geographic:
        return float(step * operation.unit_m)
    a, e2 = 6378137.0, 0.0066943799901413165
    sine2 = np.sin(np.radians(lat)) ** 2
    prime = a / sqrt(1 - e2 * sine2)
    meridian = a * (1 - e2) / (1 - e2 * sine2) ** 1.5
    return float(np.radians(step) * max(meridian, prime * sqrt(1 - sine2)))
