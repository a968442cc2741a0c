"""KML 2.2 and 2.3, bare or zipped as KMZ."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element

import shapely
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.io.archive import opened, unpacked
from siting.io.headings import PROPERTY_ROLES, headings, sorted_out
from siting.io.markup import child, children, parsed, tag, text
from siting.io.records import Document, Reading, Record
from siting.site import Notice


class _Bad(ValueError):
    """A geometry that cannot be used; the message says what was found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placemark:
    element: Element
    row: int
    folders: tuple[str, ...]
    "From the outermost to the innermost."


def read(document: Document) -> Reading:
    """The records of all placemarks."""
    if document.stated_crs and document.stated_crs != "EPSG:4326":
        raise InputError(
            document.fault(
                f"crs = {document.stated_crs!r} for a KML file",
                needed="no crs: KML is WGS 84 by definition",
                do_next="remove the crs",
            )
        )
    root = parsed(document, data=_main_part(document))
    marks = [_Placemark(element=e, row=n, folders=f) for n, (e, f) in enumerate(_placemarks(root), start=1)]
    data = {mark.row: _data(mark.element) for mark in marks}
    taken = headings(dict.fromkeys(key for held in data.values() for key in held), roles=PROPERTY_ROLES)
    made: list[Record] = []
    faults: list[Fault] = []
    for mark in marks:
        try:
            made.extend(_record(mark, part, sorted_out(data[mark.row], taken)) for part in _geometry(mark.element))
        except _Bad as bad:
            name = text(mark.element, "name")
            faults.append(
                document.fault(
                    f"placemark {name[:60]!r}: {bad}",
                    needed="a Point, LineString, Polygon, Track or MultiGeometry with lon,lat coordinates",
                    do_next="correct or remove the placemark",
                    row=mark.row,
                )
            )
    return Reading(
        records=tuple(made),
        notes=(taken.said,) if taken.said else (),
        notices=_links(root, document),
        faults=tuple(faults),
    )


def _main_part(document: Document) -> bytes:
    if not document.data.startswith(b"PK"):
        return document.data
    archive = opened(document)
    names = [name for name in archive.namelist() if name.lower().endswith(".kml")]
    # the KML specification takes the first one; doc.kml is the customary name
    main = next((name for name in names if name.lower() == "doc.kml"), names[0] if names else None)
    if main is None:
        raise InputError(
            document.fault("no .kml inside", needed="a KMZ with a doc.kml", do_next="export the file again")
        )
    return unpacked(document, archive, main)


def _placemarks(root: Element) -> Iterator[tuple[Element, tuple[str, ...]]]:
    # a stack of its own: a hostile file may be nested deeper than Python recurses
    waiting: list[tuple[Element, tuple[str, ...]]] = [(root, ())]
    while waiting:
        element, folders = waiting.pop()
        if tag(element) == "Placemark":
            yield element, folders
            continue
        if tag(element) == "Folder":
            folders = (*folders, text(element, "name"))
        inner = children(element, "Placemark", "Folder", "Document")
        waiting.extend((each, folders) for each in reversed(inner))


def _links(root: Element, document: Document) -> tuple[Notice, ...]:
    count = sum(1 for each in root.iter() if tag(each) == "NetworkLink")
    if not count:
        return ()
    said = f"{count} network links were not followed: what they hold was not looked at"
    return (Notice(code="network-link-ignored", message=said, file=document.name),)


def _data(placemark: Element) -> dict[str, object]:
    found: dict[str, object] = {}
    for holder in children(placemark, "ExtendedData"):
        for each in children(holder, "Data"):
            found[each.get("name", "")] = text(each, "value")
        for schema in children(holder, "SchemaData"):
            for each in children(schema, "SimpleData"):
                found[each.get("name", "")] = (each.text or "").strip()
    return {key: value for key, value in found.items() if key and value != ""}


def _record(mark: _Placemark, geometry: BaseGeometry, fields: dict[str, Any]) -> Record:
    fields["name"] = text(mark.element, "name") or fields["name"]
    if not fields.get("seen_on"):
        stamp = child(mark.element, "TimeStamp")
        fields["seen_on"] = text(stamp, "when") if stamp is not None else None
    folders = tuple(name for name in reversed(mark.folders) if name)
    return Record(geometry=geometry, layer="/".join(mark.folders), row=mark.row, hints=folders[:1], **fields)


def _geometry(placemark: Element) -> list[BaseGeometry]:
    found = [part for element in children(placemark, *_MAKE, "MultiGeometry") for part in _parts(element, 0)]
    if not found:
        raise _Bad("it has no geometry")
    sorts = {part.geom_type for part in found}
    if len(found) == 1 or len(sorts) > 1:
        return found
    return [_COLLECT[sorts.pop()](found)]


def _parts(element: Element, depth: int) -> Iterator[BaseGeometry]:
    if tag(element) != "MultiGeometry":
        yield _MAKE[tag(element)](element)
        return
    if depth > 20:
        raise _Bad("geometries nested too deep")
    for each in children(element, *_MAKE, "MultiGeometry"):
        yield from _parts(each, depth + 1)


def _coordinates(words: list[str], *, separator: str | None = ",") -> list[tuple[float, ...]]:
    try:
        found = [tuple(float(number) for number in word.split(separator)[:3]) for word in words]
    except ValueError:
        raise _Bad(f"coordinates {' '.join(words)[:60]!r} are not numbers") from None
    if any(len(each) < 2 for each in found):
        raise _Bad(f"coordinates {' '.join(words)[:60]!r} are not lon,lat")
    depth = min((len(each) for each in found), default=2)
    return [each[:depth] for each in found]


def _listed(element: Element, *, at_least: int) -> list[tuple[float, ...]]:
    found = _coordinates(text(element, "coordinates").split())
    if len(found) < at_least:
        raise _Bad(f"{tag(element)} of {len(found)} positions")
    return found


def _point(element: Element) -> BaseGeometry:
    return shapely.Point(_listed(element, at_least=1)[0])


def _line(element: Element) -> BaseGeometry:
    return shapely.LineString(_listed(element, at_least=2))


def _closed_line(element: Element) -> BaseGeometry:
    return shapely.LineString(_ring(element))


def _ring(element: Element) -> list[tuple[float, ...]]:
    ring = _listed(element, at_least=4)
    if ring[0][:2] != ring[-1][:2]:
        raise _Bad(f"a ring that does not end where it starts ({ring[0][:2]} and {ring[-1][:2]})")
    return ring


def _polygon(element: Element) -> BaseGeometry:
    rings = {
        side: [_ring(ring) for holder in children(element, side) for ring in children(holder, "LinearRing")]
        for side in ("outerBoundaryIs", "innerBoundaryIs")
    }
    if len(rings["outerBoundaryIs"]) != 1:
        raise _Bad("a polygon without one outer ring")
    return shapely.Polygon(rings["outerBoundaryIs"][0], rings["innerBoundaryIs"])


def _track(element: Element) -> BaseGeometry:
    found = _coordinates([(each.text or "").strip() for each in children(element, "coord")], separator=None)
    if len(found) < 2:
        raise _Bad(f"a track of {len(found)} positions")
    return shapely.LineString(found)


_MAKE = {
    "Point": _point,
    "LineString": _line,
    "LinearRing": _closed_line,
    "Polygon": _polygon,
    "Track": _track,
}
_COLLECT: dict[str, Callable[[Any], BaseGeometry]] = {
    "Point": shapely.MultiPoint,
    "LineString": shapely.MultiLineString,
    "Polygon": shapely.MultiPolygon,
}
