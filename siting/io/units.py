"""Lengths in another unit than the metre: seen in headings and cells, turned into metres only when that is accepted."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from siting.finding import Finding, Sure, address
from siting.io.records import Document, Record

ACCEPT = "units"
_ROLES = ("radius_m", "accuracy_m", "ground_level_m")
_UNITS = {"ft": 0.3048, "feet": 0.3048, "foot": 0.3048, "'": 0.3048, "mm": 0.001, "cm": 0.01}
_CELL = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(ft|feet|foot|'|mm|cm)\.?", re.IGNORECASE | re.ASCII)
_HEADING = re.compile(r"(.+)_(ft|feet|foot|mm|cm)")
_CODES = {0.3048: "feet-as-metres", 0.001: "millimetres-as-metres", 0.01: "centimetres-as-metres"}
CODES = tuple(_CODES.values())


def metres(value: object) -> tuple[float, float] | None:
    """A cell that names its unit, in metres, and metres of the unit; None for any other.

    >>> metres("20 ft")
    (6.096, 0.3048)
    """
    found = _CELL.fullmatch(str(value).strip()) if isinstance(value, str) else None
    if not found:
        return None
    unit_m = _UNITS[found[2].lower()]
    return round(float(found[1].replace(",", ".")) * unit_m, 9), unit_m


def findings(records: Sequence[Record], document: Document) -> tuple[Finding, ...]:
    """One finding for each unit other than the metre."""
    held: dict[float, list[tuple[Record, str, object, float]]] = {}
    for record in records:
        for where, value, in_m, unit_m in _lengths(record):
            held.setdefault(unit_m, []).append((record, where, value, in_m))
    accepted = document.accepts(ACCEPT)
    return tuple(_finding(document, _CODES[unit_m], found, accepted=accepted) for unit_m, found in held.items())


def _finding(
    document: Document, code: str, found: list[tuple[Record, str, object, float]], *, accepted: bool
) -> Finding:
    record, where, value, _ = found[0]
    size = max(abs(in_m) for _, _, _, in_m in found)
    return Finding(
        code=code,
        seen=f"{where} = {str(value)[:40]!r} of {record.name[:60]!r}"
        + (f" and {len(found) - 1} more" if len(found) > 1 else "")
        + (": turned into metres, as accepted in site.toml" if accepted else ": not in metres, so no rule reads it"),
        file=document.name,
        row=record.row,
        layer=record.layer,
        value=str(value)[:40],
        sure=Sure.CERTAIN,
        effect_m=size,
        repair="write it in metres under a heading that ends in _m",
        accept=address(ACCEPT, file=document.name),
        stops=not accepted,
        accepted=accepted,
    )


def _lengths(record: Record) -> Iterator[tuple[str, object, float, float]]:
    """Where, the cell, metres, and metres of the unit."""
    cells = {role: getattr(record, role) for role in _ROLES} | dict(record.attributes)
    for where, value in cells.items():
        named = _HEADING.fullmatch(where)
        if named and isinstance(number := _number(value), float):
            unit_m = _UNITS[named[2]]
            yield where, value, round(number * unit_m, 9), unit_m
        elif where.endswith("_m") and (found := metres(value)):
            yield where, value, *found


def _number(value: object) -> float | None:
    if isinstance(value, bool):
        return None
    try:
        return float(str(value))
    except ValueError:
        return None


def code_of(value: object) -> str:
    """The code of a cell that names another unit; nothing for any other."""
    found = metres(value)
    return _CODES[found[1]] if found else ""


def in_metres(record: Record) -> Record:
    """The record with such lengths in metres, under headings that say so."""
    fields: dict[str, object] = {}
    attributes = dict(record.attributes)
    for where, _, in_m, _ in _lengths(record):
        named = _HEADING.fullmatch(where)
        target = f"{named[1]}_m" if named else where
        attributes.pop(where, None)
        if target in _ROLES:
            fields[target] = in_m
        else:
            attributes[target] = in_m
    return replace(record, attributes=attributes, **fields)  # type: ignore[arg-type]  # only roles of a record
