"""What somebody measured on the ground: pegs by coordinates, or tape lengths to them, or the card filled in.

Whatever the file, what comes out is the same: pegs placed on the site's plane, and lengths with where they start.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import shapely

from siting.errors import Fault, InputError
from siting.frame import Frame
from siting.io import csv, xlsx
from siting.io.faults import refuse
from siting.io.features import gathered
from siting.io.formats import format_of, read_document
from siting.io.headings import word
from siting.io.limits import Limits
from siting.io.read import existing
from siting.io.records import Document, Record
from siting.io.stated import Stated
from siting.io.table import Sheet
from siting.io.values import is_blank, length_m
from siting.kinds import folded
from siting.site import Source

PEG = ("peg", "point", "name", "mark")
FROM = ("from", "tie", "measured from", "tape from")
LENGTH = ("distance m", "distance", "length m", "length", "measured m")
SLOPED = ("along slope", "sloped", "on the slope")
RETURNED = "measured tie 1 m"
"A heading of the setting-out table: that table filled in holds planned coordinates, which nobody measured."
_YES, _NO = ("yes", "true", "1", "y", "x", "oui", "sim", "si", "ndiyo"), ("", "no", "false", "0", "n", "non", "nao")


@dataclass(frozen=True, slots=True, kw_only=True)
class Located:
    """A peg with measured coordinates, on the site's plane."""

    peg: str
    x_m: float
    y_m: float
    sigma_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Taped:
    """A tape length to a peg."""

    peg: str
    start: str
    "Name of the point it starts from."
    length_m: float
    along_slope: bool
    row: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """All that one file of measurements holds."""

    source: Source
    located: tuple[Located, ...] = ()
    taped: tuple[Taped, ...] = ()
    notes: tuple[str, ...] = ()


def read_measured(path: Path | str, *, frame: Frame, assume_crs: str | None = None) -> Measured:
    """The measurements of a file: a table, GeoJSON, GPX, or any other that holds named points.

    A column `crs` of a table holds for its x and y.
    Raises InputError with every fault of the file at once.
    """
    document = _document(existing(path, needed="a table or file of what was measured"), assume_crs)
    table = _table(document)
    columns = {folded(name): name for name in reversed(table.names)} if table else {}
    if table and RETURNED in columns:
        return _from_lengths(document, _returned(document, table, columns))
    if table and _first(columns, FROM) and _first(columns, LENGTH):
        return _from_lengths(document, _lengths(document, table, columns))
    if not frame.on_earth:
        raise InputError(
            document.fault(
                "coordinates, for a plan without a place on earth",
                needed="tape lengths: peg, from, distance_m",
                do_next="tape the pegs from corners that are on the plan",
            )
        )
    return _from_places(_with_crs(document, table, columns), frame)


def _document(path: Path, assume_crs: str | None) -> Document:
    limits = Limits()
    if path.is_dir() or path.stat().st_size > limits.file_bytes:
        raise InputError.of(
            f"{path.name!r} is {'a folder' if path.is_dir() else 'larger than any list of pegs'}",
            needed="one file of measured pegs",
            do_next="name the file",
        )
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError.of(
            f"the file cannot be read: {error.strerror}",
            needed="a file this user may read",
            do_next="check its permissions and the disk",
            file=path.name,
        ) from None
    return Document(path=path, name=path.name, data=data, limits=limits, assumed_crs=assume_crs)


def _table(document: Document) -> Sheet | None:
    module = format_of(document).module
    if module not in ("csv", "xlsx"):
        return None
    return (csv if module == "csv" else xlsx).read_sheet(document)[0]


def _first(columns: Mapping[str, str], spellings: tuple[str, ...]) -> str | None:
    return next((columns[name] for name in spellings if name in columns), None)


def _with_crs(document: Document, table: Sheet | None, columns: Mapping[str, str]) -> Document:
    if table is None or "crs" not in columns:
        return document
    stated = {word(table.properties(cells).get(columns["crs"]) or "") for _, cells in table.rows} - {""}
    if len(stated) > 1:
        raise InputError(
            document.fault(
                f"several crs in one table: {', '.join(sorted(stated))}",
                needed="one crs for all rows",
                do_next="write a table for each",
            )
        )
    return replace(document, stated_crs=stated.pop()) if stated else document


# --- coordinates -------------------------------------------------------------------------------------------------


def _from_places(document: Document, frame: Frame) -> Measured:
    reading, form = read_document(document)
    named = replace(reading, records=tuple(replace(r, name=_peg_of(r), kind="") for r in reading.records))
    held = gathered(named, document, stated=Stated(file=document.name), default=form.default)
    faults: list[Fault] = []
    located: list[Located] = []
    for feature in held.features:
        row = feature.origin.row if feature.origin else None
        if feature.geometry.geom_type != "Point":
            faults.append(_fault(document, f"peg {feature.name!r} is no point", row, "one point for each peg"))
            continue
        x, y = frame.to_local(shapely.get_coordinates(feature.geometry))[0]
        located.append(Located(peg=feature.name, x_m=float(x), y_m=float(y), sigma_m=feature.sigma_m))
    faults += _twice(document, [one.peg for one in located])
    if faults:
        refuse(faults)
    # Nobody asks here what kind of thing a peg is.
    notes = tuple(n.message for n in held.notices if not n.code.startswith("kind"))
    return Measured(source=held.sources[0], located=tuple(located), notes=notes)


def _peg_of(record: Record) -> str:
    given = next((record.attributes[k] for k in record.attributes if folded(k) in PEG), None)
    return (word(given) if given is not None else record.name).strip().upper()


def _twice(document: Document, pegs: list[str]) -> Iterator[Fault]:
    for peg in sorted({peg for peg in pegs if pegs.count(peg) > 1 or not peg}):
        found = f"peg {peg} is there {pegs.count(peg)} times" if peg else "a point without a name"
        yield _fault(document, found, None, "each peg once, with its name")


# --- lengths -----------------------------------------------------------------------------------------------------


def _from_lengths(document: Document, taped: tuple[Taped, ...]) -> Measured:
    if not taped:
        raise InputError(_fault(document, "no length is filled in", None, "tape lengths of the pegs that stand"))
    return Measured(source=Source(name=document.name, sha256=document.sha256), taped=taped)


def _lengths(document: Document, table: Sheet, columns: Mapping[str, str]) -> tuple[Taped, ...]:
    peg, start, length, sloped = (_first(columns, names) for names in (PEG, FROM, LENGTH, SLOPED))
    if peg is None or start is None or length is None:
        raise InputError(_fault(document, "no heading for the name of the peg", 1, "peg, from, distance_m"))

    def taped(cells: Mapping[str, object], row: int) -> Iterator[Taped]:
        yield _one(cells, row, peg, start, length, sloped)

    return _rows(document, table, taped)


def _returned(document: Document, table: Sheet, columns: Mapping[str, str]) -> tuple[Taped, ...]:
    def taped(cells: Mapping[str, object], row: int) -> Iterator[Taped]:
        for number in (1, 2, 3):
            length = columns.get(f"measured tie {number} m", "")
            if not is_blank(cells.get(length)):
                yield _one(cells, row, columns["peg"], columns[f"tie {number}"], length, None)

    return _rows(document, table, taped)


def _one(cells: Mapping[str, object], row: int, peg: str, start: str, length: str, sloped: str | None) -> Taped:
    names = [word(cells.get(column) or "").strip() for column in (peg, start)]
    if not all(names):
        raise ValueError(f"nothing under {(peg, start)[names.index('')]!r}")
    said = folded(word(cells.get(sloped) or "")) if sloped else ""
    if said not in (*_YES, *_NO):
        raise ValueError(f"{said!r} under {sloped!r} is neither yes nor no")
    return Taped(
        peg=names[0].upper(), start=names[1], length_m=length_m(cells.get(length)), along_slope=said in _YES, row=row
    )


def _rows(
    document: Document, table: Sheet, taped: Callable[[Mapping[str, object], int], Iterator[Taped]]
) -> tuple[Taped, ...]:
    found: list[Taped] = []
    faults: list[Fault] = []
    for row, cells in table.rows:
        try:
            found += taped(table.properties(cells), row)
        except ValueError as bad:
            faults.append(_fault(document, str(bad), row, "a peg, the point it was taped from, and a length in metres"))
    if faults:
        refuse(faults)
    return tuple(found)


def _fault(document: Document, found: str, row: int | None, needed: str) -> Fault:
    return document.fault(found, needed=needed, do_next="correct the file", row=row)
