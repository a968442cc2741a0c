"""GPX 1.0 and 1.1: waypoints, routes and tracks."""

from xml.etree.ElementTree import Element

import shapely
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.io.headings import attribute_name
from siting.io.markup import children, parsed, tag, text
from siting.io.records import Document, Reading, Record

_PLAIN = ("hdop", "vdop", "pdop", "sat", "fix")


class _Bad(ValueError):
    """A point that has no position; the message says what was found."""


def read(document: Document) -> Reading:
    """Waypoints as points, routes and tracks as lines."""
    if document.stated_crs and document.stated_crs != "EPSG:4326":
        raise InputError(
            document.fault(
                f"crs = {document.stated_crs!r} for a GPX file",
                needed="no crs: GPX is WGS 84 by definition",
                do_next="remove the crs; if the receiver was set to another datum, export again in WGS 84",
            )
        )
    root = parsed(document)
    made: list[Record] = []
    faults: list[Fault] = []
    for row, element in enumerate(children(root, "wpt", "rte", "trk"), start=1):
        try:
            made.append(_record(element, row))
        except _Bad as bad:
            faults.append(
                document.fault(
                    f"{_WORDS[tag(element)]} {text(element, 'name')!r}: {bad}",
                    needed="lat and lon in degrees for every point, and two points for a line",
                    do_next="correct or remove it",
                    row=row,
                )
            )
    return Reading(records=tuple(made), notes=_notes(made), faults=tuple(faults))


_WORDS = {"wpt": "waypoint", "rte": "route", "trk": "track"}


def _notes(made: list[Record]) -> tuple[str, ...]:
    notes = []
    if any("hdop" in record.attributes for record in made):
        notes.append("hdop kept as it is: a dilution of precision is not a length")
    if any(record.ground_level_m for record in made):
        notes.append("ele kept as ground_level_m: the height is the receiver's own, not a levelled one")
    return tuple(notes)


def _record(element: Element, row: int) -> Record:
    extensions = _extensions(element)
    words = [text(element, key) for key in ("type", "sym", "desc", "cmt")]
    attributes: dict[str, object] = {key: text(element, key) for key in _PLAIN if text(element, key)}
    attributes |= {key: value for key, value in extensions.items() if key not in _ROLES}
    geometry = _geometry(element)
    return Record(
        geometry=geometry,
        layer=_WORDS[tag(element)] + "s",
        row=row,
        name=text(element, "name"),
        kind=extensions.get("kind", ""),
        hints=tuple(word for word in words if word),
        accuracy_m=extensions.get("accuracy_m", extensions.get("accuracy")),
        accuracy_level=extensions.get("accuracy_level"),
        status=extensions.get("status"),
        seen_on=extensions.get("seen_on") or text(element, "time") or None,
        radius_m=extensions.get("radius_m"),
        ground_level_m=extensions.get("ground_level_m") or text(element, "ele") or None,
        attributes=attributes,
    )


_ROLES = ("kind", "accuracy", "accuracy_m", "accuracy_level", "status", "seen_on", "radius_m", "ground_level_m")


def _extensions(element: Element) -> dict[str, str]:
    found = {}
    for holder in children(element, "extensions"):
        for each in holder.iter():
            if each is not holder and (each.text or "").strip():
                found[attribute_name(tag(each))] = (each.text or "").strip()
    return found


def _geometry(element: Element) -> BaseGeometry:
    if tag(element) == "wpt":
        return shapely.Point(_position(element))
    if tag(element) == "rte":
        return _line(children(element, "rtept"))
    segments = [_line(children(segment, "trkpt")) for segment in children(element, "trkseg") if len(segment)]
    if not segments:
        raise _Bad("it has no points")
    return segments[0] if len(segments) == 1 else shapely.MultiLineString(segments)


def _line(points: list[Element]) -> shapely.LineString:
    if len(points) < 2:
        raise _Bad(f"a line of {len(points)} points")
    return shapely.LineString([_position(point) for point in points])


def _position(element: Element) -> tuple[float, float]:
    try:
        return float(element.attrib["lon"]), float(element.attrib["lat"])
    except (KeyError, ValueError):
        raise _Bad(f"lat {element.get('lat')!r}, lon {element.get('lon')!r} is not a position") from None
