"""Records to longitude and latitude: every coordinate checked, every system transformed once."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, SitingError
from siting.finding import Finding, FindingFault
from siting.frame import MAX_LATITUDE_DEG
from siting.io.crs import Operation, horizontal_crs, step_m, to_wgs84
from siting.io.faults import refuse_errors
from siting.io.records import Document, Record

NOT_ON_EARTH = "not-on-earth"
"Code of a position that is none."
MOST_DECIMALS = 9
LOST_ZEROS = 2
"""A number cell does not keep the zeros at its end.

Both coordinates of a point lose k of them once in 100^k rows, so a row that is up to two places shorter than the
longest of its file is taken as written like the others; a shorter one is coarser: project judgement.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A record whose geometry is in degrees."""

    record: Record
    lonlat: BaseGeometry
    step_m: float
    "The step its coordinates were written in."
    operation: Operation


def placed(records: Sequence[Record], document: Document) -> tuple[tuple[Placed, ...], tuple[Fault, ...]]:
    """The records in degrees, in their own order, and a fault for each that has no place on earth."""
    found: dict[int, Placed] = {}
    faults: list[Fault] = []
    for crs in dict.fromkeys(record.crs for record in records):
        at = [position for position, record in enumerate(records) if record.crs == crs]
        try:
            group, wrong = _group([records[position] for position in at], crs, document)
        except SitingError as error:
            refuse_errors([_named(error, document)])
        faults.extend(wrong)
        found |= {at[index]: each for index, each in group.items()}
    return tuple(found[position] for position in sorted(found)), tuple(faults)


def _named(error: SitingError, document: Document) -> SitingError:
    faults = [document.fault(f.found, needed=f.needed, do_next=f.do_next) for f in error.faults]
    return type(error)(*faults)


def _group(records: list[Record], crs: str, document: Document) -> tuple[dict[int, Placed], list[Fault]]:
    flat = shapely.force_2d(np.array([record.geometry for record in records], dtype=object))
    faults: list[Fault] = []
    geographic = crs == "EPSG:4326" or horizontal_crs(crs).is_geographic
    wrong = _wrong(flat, geographic=geographic)
    good = [index for index in range(len(records)) if index not in wrong]
    faults += [_fault(document, records[index], said) for index, said in sorted(wrong.items())]
    if not good:
        return {}, faults
    operation = to_wgs84(crs, shapely.get_coordinates(flat[good]))
    lonlat = shapely.transform(flat[good], operation.to_lonlat)
    off = _off_earth(lonlat)
    faults += [_fault(document, records[good[index]], said) for index, said in sorted(off.items())]
    steps = _decimals(flat[good], [records[index] for index in good])
    made = {}
    for index, (at, geometry, decimals) in enumerate(zip(good, lonlat, steps, strict=True)):
        if index not in off:
            lat = (geometry.bounds[1] + geometry.bounds[3]) / 2
            step = step_m(decimals, operation=operation, lat=lat)
            made[at] = Placed(record=records[at], lonlat=geometry, step_m=step, operation=operation)
    return made, faults


def _fault(document: Document, record: Record, found: str) -> Fault:
    whose = f" of {record.name[:60]!r}" if record.name else ""
    said = f"the position{whose} cannot be used: {found}"
    do_next = "correct the coordinates; look for exchanged columns, a lost decimal point or a wrong zone"
    return FindingFault(
        found=said,
        needed="a place on earth: latitude from -84 to 84, longitude from -180 to 180, or metres of the stated crs",
        do_next=do_next,
        file=document.name,
        row=record.row,
        finding=Finding(
            code=NOT_ON_EARTH, seen=said, file=document.name, row=record.row, repair=do_next, stops=True
        ),
    )  # fmt: skip


def _wrong(geometries: np.ndarray, *, geographic: bool) -> dict[int, str]:
    xy, at = shapely.get_coordinates(geometries, return_index=True)
    found: dict[int, str] = {}
    finite = np.isfinite(xy).all(axis=1)
    for index in at[~finite]:
        found.setdefault(int(index), "a coordinate that is not a finite number")
    if geographic:
        bad = finite & ((np.abs(xy[:, 1]) > 90.0) | (np.abs(xy[:, 0]) > 360.0))
        for index, (lon, lat) in zip(at[bad], xy[bad], strict=True):
            found.setdefault(int(index), f"latitude {lat:g}, longitude {lon:g}{_exchanged(lon, lat)}")
        zero = (xy == 0.0).all(axis=1)
        for index in at[zero]:
            found.setdefault(int(index), "latitude 0, longitude 0, which stands for an empty cell")
    empty = np.flatnonzero(shapely.is_empty(geometries))
    return {**{int(index): "an empty geometry" for index in empty}, **found}


def _exchanged(lon: float, lat: float) -> str:
    return " (exchanged they would fit)" if abs(lon) <= 90.0 < abs(lat) <= 180.0 else ""


def _off_earth(lonlat: np.ndarray) -> dict[int, str]:
    degrees, at = shapely.get_coordinates(lonlat, return_index=True)
    found: dict[int, str] = {}
    for index in at[~np.isfinite(degrees).all(axis=1)]:
        found.setdefault(int(index), "it lies where the crs is not defined")
    polar = np.abs(degrees[:, 1]) > MAX_LATITUDE_DEG
    for index, lat in zip(at[polar], degrees[polar, 1], strict=True):
        found.setdefault(int(index), f"latitude {lat:.5f}, closer to a pole than a site's plane goes")
    return found


def _decimals(geometries: np.ndarray, records: Sequence[Record]) -> list[float]:
    xy, at = shapely.get_coordinates(geometries, return_index=True)
    places = np.full(len(xy), float(MOST_DECIMALS))
    # fewest decimals that give each vertex back; doubles hold about 15 figures, so large numbers stop early
    for decimals in range(MOST_DECIMALS - 1, -1, -1):
        scaled = xy * 10.0**decimals
        fits = np.abs(scaled - np.rint(scaled)).max(axis=1) <= 1e-4
        fits |= np.abs(scaled).max(axis=1) > 2e11
        places[fits] = decimals
    own = np.zeros(len(geometries))
    np.maximum.at(own, at, places)
    for index, record in enumerate(records):
        if record.decimals is not None:
            own[index] = record.decimals
    longest = own.max(initial=0.0)
    return [float(longest if longest - each <= LOST_ZEROS else each) for each in own]
