"""GeoJSON (RFC 7946), read with the standard library."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.finding import Finding, address
from siting.frame import centred_on
from siting.io.headings import PROPERTY_ROLES, headings, sorted_out
from siting.io.plain import crs_of_plain
from siting.io.records import Document, Reading, Record
from siting.io.text import decoded

CLOSE = "close rings"


class _Bad(ValueError):
    """A geometry that is not one; the message says what was found."""


class _Open(_Bad):
    """A ring whose ends do not meet."""


def read(document: Document) -> Reading:
    """The records of a FeatureCollection, a Feature or a bare geometry."""
    top = _parsed(document)
    items = _items(top, document)
    taken = headings(dict.fromkeys(key for item in items for key in _properties(item)), roles=PROPERTY_ROLES)
    layer = top["name"] if isinstance(top.get("name"), str) and top["type"] == "FeatureCollection" else ""
    found: list[tuple[int, Mapping[str, Any], BaseGeometry]] = []
    faults: list[Fault] = []
    close = document.accepts(CLOSE)
    closed: list[int] = []
    for row, item in enumerate(items, start=1):
        if close and _has_open_ring(item):
            closed.append(row)
        try:
            found.extend((row, item, part) for part in _parts(item.get("geometry", item), depth=0, close=close))
        except _Open as bad:
            faults.append(
                document.doubt(
                    "boundary-open",
                    f"the outline of feature {row} is not closed: {bad}",
                    needed="a ring that ends exactly where it starts (RFC 7946)",
                    do_next="add the first corner again as the last one",
                    row=row,
                    accept=CLOSE,
                )
            )
        except _Bad as bad:
            faults.append(
                document.fault(
                    f"the geometry of feature {row} cannot be used: {bad}",
                    needed="a GeoJSON geometry whose positions are finite numbers, longitude first",
                    do_next="correct or remove the feature",
                    row=row,
                )
            )
    crs, notes = crs_of_plain(document, [part for _, _, part in found], named=_legacy_crs(top, document))
    records = tuple(
        Record(
            geometry=part,
            crs=crs,
            layer=layer,
            row=row,
            hints=(layer,) if layer else (),
            **sorted_out(_properties(item), taken),
        )
        for row, item, part in found
    )
    said = (taken.said,) if taken.said else ()
    return Reading(records=records, notes=(*said, *notes), faults=tuple(faults), findings=_closed(document, closed))


def _has_open_ring(item: Mapping[str, Any]) -> bool:
    try:
        list(_parts(item.get("geometry", item), depth=0, close=False))
    except _Open:
        return True
    except _Bad:
        return False
    return False


def _closed(document: Document, rows: list[int]) -> tuple[Finding, ...]:
    if not rows:
        return ()
    return (
        Finding(
            code="boundary-open",
            seen=f"{len(rows)} outlines closed by a straight line, as accepted in site.toml",
            file=document.name,
            row=rows[0],
            repair="add the first corner again as the last one",
            accept=address(CLOSE, file=document.name),
            stops=False,
            accepted=True,
        ),
    )


def _parsed(document: Document) -> dict[str, Any]:
    text, guessed = decoded(document)
    if guessed:
        raise InputError(
            document.fault(
                "not UTF-8 text", needed="GeoJSON in UTF-8 (RFC 7946)", do_next="save the file again as UTF-8"
            )
        )
    try:
        top = json.loads(text, object_pairs_hook=_without_doubles)
    except json.JSONDecodeError as error:
        raise InputError(
            document.fault(
                f"not JSON: {error.msg} at line {error.lineno}, column {error.colno}",
                needed="a whole GeoJSON document",
                do_next="check that the file was copied to its end, or export it again",
            )
        ) from None
    except ValueError as error:
        raise InputError(
            document.fault(
                f"not usable JSON: {error}",
                needed="each key once in an object, and numbers of ordinary size",
                do_next="remove one of the two, or export the file again",
            )
        ) from None
    if not isinstance(top, dict) or not isinstance(top.get("type"), str):
        raise InputError(_not_geojson(document, "JSON without a type"))
    return top


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) != len(pairs):
        keys = [key for key, _ in pairs]
        raise ValueError(f"the key {next(key for key in keys if keys.count(key) > 1)!r} stands twice in one object")
    return table


def _not_geojson(document: Document, found: str) -> Fault:
    return document.fault(
        found,
        needed="a FeatureCollection, a Feature or a geometry of GeoJSON (RFC 7946)",
        do_next="export the layer as GeoJSON",
    )


def _items(top: dict[str, Any], document: Document) -> list[dict[str, Any]]:
    if top["type"] == "FeatureCollection":
        items = top.get("features")
        if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
            raise InputError(_not_geojson(document, "a FeatureCollection without a list of features"))
        return items
    if top["type"] == "Feature":
        return [top]
    if top["type"] in (*_MAKE, "GeometryCollection"):
        return [{"geometry": top}]
    raise InputError(_not_geojson(document, f"JSON of the type {top['type'][:40]!r}"))


def _properties(item: Mapping[str, Any]) -> dict[str, Any]:
    properties = item.get("properties")
    return properties if isinstance(properties, dict) else {}


def _legacy_crs(top: dict[str, Any], document: Document) -> str | None:
    """The `crs` member of the 2008 form of GeoJSON."""
    member = top.get("crs")
    if member is None:
        return None
    try:
        name = member["properties"]["name"]
    except (TypeError, KeyError):
        name = None
    if not isinstance(name, str):
        raise InputError(
            document.fault(
                "a crs member that names no coordinate reference system",
                needed='"crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32736"}}, or none',
                do_next="remove the crs member if the coordinates are WGS 84, else name the system",
            )
        )
    return name


def _parts(geometry: Any, *, depth: int, close: bool) -> Iterator[BaseGeometry]:
    if geometry is None:
        raise _Bad("it is null")
    if not isinstance(geometry, dict):
        raise _Bad("it is not an object")
    kind = geometry.get("type")
    if kind == "GeometryCollection":
        members = geometry.get("geometries")
        if depth > 20 or not isinstance(members, list) or not members:
            raise _Bad("a GeometryCollection that is empty, nested too deep or not a list")
        for member in members:
            yield from _parts(member, depth=depth + 1, close=close)
        return
    if not isinstance(kind, str) or kind not in _MAKE:
        raise _Bad(f"its type is {str(kind)[:40]!r}")
    if not geometry.get("coordinates"):
        raise _Bad("it has no coordinates")
    coordinates = (
        _with_rings_closed(geometry["coordinates"]) if close and "Polygon" in kind else geometry["coordinates"]
    )
    made: BaseGeometry = _MAKE[kind](coordinates)
    yield made


def _with_rings_closed(value: Any) -> Any:
    """The same nested lists with the first position of each open ring again at its end."""
    if not isinstance(value, list) or not value:
        return value
    is_ring = isinstance(value[0], list) and value[0] and not isinstance(value[0][0], list)
    if is_ring:
        return value if value[0] == value[-1] or len(value) < 3 else [*value, value[0]]
    return [_with_rings_closed(each) for each in value]


def _position(value: Any) -> tuple[float, ...]:
    if not isinstance(value, list) or not 2 <= len(value) <= 4:
        raise _Bad(f"{str(value)[:60]} is not a position")
    for number in value:
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise _Bad(f"{str(value)[:60]} is not a position of numbers")
        if not abs(number) < 1e12:
            raise _Bad(f"{str(value)[:60]} is not finite")
    return tuple(float(number) for number in value[:3])


def _positions(value: Any, *, at_least: int) -> list[tuple[float, ...]]:
    if not isinstance(value, list) or len(value) < at_least:
        raise _Bad(f"{at_least} or more positions are missing")
    positions = [_position(each) for each in value]
    depth = min(len(each) for each in positions)
    return [each[:depth] for each in positions]


def _line(value: Any) -> shapely.LineString:
    return shapely.LineString(_positions(value, at_least=2))


def _polygon(value: Any) -> shapely.Polygon:
    if not isinstance(value, list):
        raise _Bad("a polygon without rings")
    rings = [_positions(ring, at_least=3) for ring in value]
    for ring in rings:
        if ring[0][:2] != ring[-1][:2]:
            raise _Open(f"a ring that does not end where it starts ({ring[0][:2]} and {ring[-1][:2]}){_area(ring)}")
        if len(ring) < 4:
            raise _Bad("4 or more positions are missing")
    return shapely.Polygon(rings[0], rings[1:])


def _area(ring: list[tuple[float, ...]]) -> str:
    """What the ring would hold if it were closed by a straight line, where its positions are degrees."""
    xy = np.array([position[:2] for position in ring])
    if len(ring) < 3 or (np.abs(xy) > [180.0, 80.0]).any():
        return ""
    area_m2 = shapely.Polygon(centred_on(xy).to_local(xy)).area
    return f"; closed by a straight line it holds {area_m2:.1f} m2"


def _many(make: Any, collect: Any) -> Any:
    def made(value: Any) -> BaseGeometry:
        if not isinstance(value, list):
            raise _Bad("its coordinates are not a list")
        made: BaseGeometry = collect([make(each) for each in value])
        return made

    return made


def _point(value: Any) -> shapely.Point:
    return shapely.Point(_position(value))


_MAKE = {
    "Point": _point,
    "LineString": _line,
    "Polygon": _polygon,
    "MultiPoint": _many(_point, shapely.MultiPoint),
    "MultiLineString": _many(_line, shapely.MultiLineString),
    "MultiPolygon": _many(_polygon, shapely.MultiPolygon),
}
