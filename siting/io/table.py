"""Rows of cells, from whatever kind of sheet, to records."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

import shapely
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.finding import Finding, Sure, address
from siting.io.angle import NotAnAngle, angle, is_unmarked
from siting.io.headings import FEATURE_ROLES, Headings, headings, sorted_out, word
from siting.io.plain import crs_missing, crs_of_plain
from siting.io.records import Document, Reading, Record

Cell = object
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
DECIMAL_COMMA = "decimal comma"
UNMARKED = "unmarked degrees"


class Doubtful(ValueError):
    """A cell that a common slip explains."""

    def __init__(self, code: str, message: str, *, accept: str):
        super().__init__(message)
        self.code = code
        self.accept = accept


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One table: its rows as they stand, the heading row found."""

    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    "Row number, counted from 1 as a spreadsheet counts, and cells; without the heading row."
    names: tuple[str, ...]
    "The headings."
    layer: str = ""
    decimal_comma: bool = False

    def properties(self, cells: Sequence[Cell]) -> dict[str, Cell]:
        """Heading to cell; a number with a decimal comma gets its point."""
        cells = (*cells, *("",) * (len(self.names) - len(cells)))
        return {name: self._pointed(cell) for name, cell in zip(self.names, cells, strict=False) if name}

    def _pointed(self, cell: Cell) -> Cell:
        if self.decimal_comma and isinstance(cell, str) and _COMMA_NUMBER.fullmatch(cell.strip()):
            return cell.strip().replace(",", ".")
        return cell


def sheet(rows: Iterable[Sequence[Cell]], *, layer: str = "", decimal_comma: bool = False) -> Sheet | None:
    """The table below the first row that is not blank; None where all rows are blank."""
    numbered = [(row, tuple(cells)) for row, cells in enumerate(rows, start=1) if not _blank(cells)]
    if not numbered:
        return None
    names = tuple(word(cell) if cell is not None else "" for cell in numbered[0][1])
    return Sheet(rows=tuple(numbered[1:]), names=names, layer=layer, decimal_comma=decimal_comma)


def _blank(cells: Sequence[Cell]) -> bool:
    return all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in cells)


def places(taken: Headings) -> str:
    """How a table gives positions: `lonlat`, `xy`, `wkt`, or nothing."""
    column = taken.column
    if "lat" in column and "lon" in column:
        return "lonlat"
    if "x" in column and "y" in column:
        return "xy"
    return "wkt" if "wkt" in column else ""


def records(document: Document, table: Sheet) -> Reading:
    """The records of a table that has headings of position."""
    taken = _headings(document, table)
    way = places(taken)
    found: list[tuple[int, dict[str, Cell], BaseGeometry, float | None]] = []
    faults: list[Fault] = []
    for row, cells in table.rows:
        properties = table.properties(cells)
        try:
            _as_many_as_headings(cells, table, row, document)
            geometry, decimals = position(properties, taken, way, unmarked=document.accepts(UNMARKED))
        except ValueError as bad:
            faults.append(bad_cell(document, bad, needed=_NEEDED[way], row=row))
        else:
            found.append((row, properties, geometry, decimals))
    crs, notes = crs_of_table(document, way, [geometry for _, _, geometry, _ in found])
    findings = (*_left_over(document, table), *_as_accepted(document, table))
    said = [note for note in (taken.said, _hdop(table.names)) if note]
    made = tuple(
        Record(
            geometry=geometry,
            crs=crs,
            layer=table.layer,
            row=row,
            decimals=decimals,
            hints=(table.layer,) if table.layer else (),
            **sorted_out(properties, taken),
        )
        for row, properties, geometry, decimals in found
    )
    return Reading(records=made, notes=(*said, *notes), faults=tuple(faults), findings=findings)


def bad_cell(document: Document, bad: ValueError, *, needed: str, row: int) -> Fault:
    """The fault of a cell that cannot be read, with its code and the way to accept it where a slip explains it."""
    do_next = "correct the cell or remove the row"
    if isinstance(bad, Doubtful):
        return document.doubt(bad.code, str(bad), needed=needed, do_next=do_next, row=row, accept=bad.accept)
    return document.fault(str(bad), needed=needed, do_next=do_next, row=row)


def _surplus(cells: Sequence[Cell], table: Sheet) -> list[str]:
    return [word(cell) for cell in cells[len(table.names) :] if not _blank((cell,))]


def _as_many_as_headings(cells: Sequence[Cell], table: Sheet, row: int, document: Document) -> None:
    """Refuse a row that commas within its numbers have torn apart."""
    if len(cells) <= len(table.names) or table.decimal_comma:
        return
    texts = [word(cell) for cell in cells if cell is not None]
    torn = sum(
        re.fullmatch(r"[+-]?\d{1,3}", one) is not None and re.fullmatch(r"\d{3,}", other) is not None
        for one, other in pairwise(texts)
    )
    if torn >= 2:
        raise Doubtful(
            "decimal-comma",
            f"{len(texts)} cells under {len(table.names)} headings: numbers with a decimal comma, torn apart at it",
            accept="",
        )


def _left_over(document: Document, table: Sheet) -> tuple[Finding, ...]:
    over = [(row, left) for row, cells in table.rows if (left := _surplus(cells, table))]
    if not over:
        return ()
    rows = tuple(row for row, _ in over)
    return (
        Finding(
            code="cells-too-many",
            seen=f"{len(over)} rows have more cells than headings; {over[0][1][0][:40]!r} has none above it",
            file=document.name,
            row=rows[0],
            value=over[0][1][0][:40],
            sure=Sure.POSSIBLE,
            repair="put texts that hold a comma in quotation marks",
            accept=address("cells without heading", file=document.name),
            stops=False,
        ),
    )


def _as_accepted(document: Document, table: Sheet) -> Iterator[Finding]:
    """What was read in a way that somebody accepts, so that every output can say it."""
    ways = (
        (DECIMAL_COMMA, "decimal-comma", "numbers read with a decimal comma", _COMMA_NUMBER.fullmatch),
        (UNMARKED, "degrees-unmarked", "figures in a row read as degrees, minutes and seconds", is_unmarked),
    )
    for words, code, seen, slipped in ways:
        rows = [row for row, cells in table.rows if any(isinstance(c, str) and slipped(c.strip()) for c in cells)]
        if rows and document.accepts(words):
            yield Finding(
                code=code,
                seen=f"{seen} in {len(rows)} rows, as accepted in site.toml",
                file=document.name,
                row=rows[0],
                repair="write the numbers plainly",
                accept=address(words, file=document.name),
                stops=False,
                accepted=True,
            )


def crs_of_table(document: Document, way: str, geometries: Sequence[BaseGeometry]) -> tuple[str, tuple[str, ...]]:
    """The CRS of a table's positions, and notes."""
    if way == "xy" and not (document.stated_crs or document.assumed_crs):
        raise InputError(crs_missing(document, "columns of x and y, and no crs"))
    if way == "xy":
        crs = str(document.stated_crs or document.assumed_crs)
        return crs, (f"x and y in {crs}, as stated for the site",)
    return crs_of_plain(document, geometries, degrees=way == "lonlat")


_NEEDED = {
    "lonlat": "latitude and longitude in degrees, such as -13.98765 and 34.12345",
    "xy": "x (east) and y (north) as plain numbers",
    "wkt": "well-known text, such as POLYGON ((34.1 -13.9, ...))",
}


def _headings(document: Document, table: Sheet) -> Headings:
    taken = headings(table.names, roles=FEATURE_ROLES)
    for role, claims in taken.doubled.items():
        raise InputError(
            document.fault(
                f"{len(claims)} headings for {role}: {', '.join(map(repr, claims))}",
                needed="one column for each coordinate",
                do_next="remove or rename the columns that do not hold",
                row=1,
            )
        )
    if not places(taken):
        shown = ", ".join(repr(name) for name in table.names[:20])
        raise InputError(
            document.fault(
                f"no headings that give a position (found {shown})",
                needed="lat and lon, or x and y with a crs, or wkt, as headings in the first row",
                do_next="name the columns so, in the first row of the table",
                row=1,
            )
        )
    return taken


def position(
    properties: Mapping[str, Cell], taken: Headings, way: str, *, unmarked: bool = False
) -> tuple[BaseGeometry, float | None]:
    """The geometry of a row and its decimals as written; raises ValueError saying what was found.

    `unmarked`: figures in a row are degrees, minutes and seconds.
    """
    column = taken.column
    if "wkt" in column and word(properties.get(column["wkt"]) or ""):
        text = word(properties[column["wkt"]])
        try:
            geometry = shapely.from_wkt(text)
        except shapely.errors.GEOSException:
            raise ValueError(f"{text[:60]!r} is not well-known text") from None
        if geometry is None or geometry.is_empty:
            raise ValueError(f"{text[:60]!r} is an empty geometry")
        return geometry, None
    if way == "wkt":
        raise ValueError(f"no geometry under {column['wkt']!r}")
    first, second = ("lon", "lat") if way == "lonlat" else ("x", "y")
    east, more = _number(properties.get(column[first]), column[first], role=first, unmarked=unmarked)
    north, most = _number(properties.get(column[second]), column[second], role=second, unmarked=unmarked)
    decimals = None if more is None or most is None else max(more, most)
    return shapely.Point(east, north), decimals


def _number(cell: Cell, heading: str, *, role: str, unmarked: bool = False) -> tuple[float, float | None]:
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        raise ValueError(f"nothing under {heading!r}")
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        if not isfinite(cell):
            raise ValueError(f"{cell} under {heading!r} is not a finite number")
        return float(cell), None
    text = str(cell).strip()
    if re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", text, re.ASCII):
        number = float(text)
        if not isfinite(number):
            raise ValueError(f"{text[:40]!r} under {heading!r} is not a finite number")
        places = None if "e" in text.lower() else float(len(text.partition(".")[2]))
        return number, places
    said = f"{text[:40]!r} under {heading!r}"
    if role in ("lat", "lon"):
        try:
            return angle(text.replace(":", " ") if unmarked else text, axis=role, unmarked=unmarked)
        except NotAnAngle as bad:
            reason = f": {bad}"
    else:
        reason = " is not a number"
    if _COMMA_NUMBER.fullmatch(text):
        raise Doubtful("decimal-comma", f"{said}{reason}, but one with a decimal comma", accept=DECIMAL_COMMA)
    if role in ("lat", "lon") and is_unmarked(text):
        raise Doubtful("degrees-unmarked", f"{said}{reason}: minutes and seconds without marks", accept=UNMARKED)
    raise ValueError(f"{said}{reason}")


def _hdop(names: Iterable[str]) -> str:
    held = [name for name in names if "dop" in name.lower()]
    return f"{', '.join(map(repr, held))} kept as it is: a dilution of precision is not a length" if held else ""
