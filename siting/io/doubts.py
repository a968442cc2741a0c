"""What is doubtful about files before they are projected; accepted repairs are made here, and said."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log10
from pathlib import Path

from siting.doctor import digits, places
from siting.doctor.changes import changed_geometry
from siting.doctor.fix import Fix
from siting.doctor.places import Near
from siting.errors import Fault, SitingError
from siting.finding import Change, Finding, FindingFault, faults, marked
from siting.io import units
from siting.io.assemble import TOO_WIDE
from siting.io.ground import HeightRow, HeightTable
from siting.io.place import NOT_ON_EARTH
from siting.io.plan import PLAN
from siting.io.records import Document, Reading, Record
from siting.io.stated import Stated
from siting.io.values import is_blank, length_m

ROUNDS = 4
"One accepted repair may uncover another; more than a few is no repair."
_TRUST = {".gpx": 0, ".kml": 0, ".kmz": 0, ".gpkg": 1, ".shp": 1, ".fgb": 1, ".geojson": 2, ".json": 2}
"How seldom each kind of file has its coordinates exchanged: receivers label them, people name columns."
_LEAST = 3
_POSITION = (NOT_ON_EARTH, TOO_WIDE, "placeholder")


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """One file taken apart, with what the site says of it."""

    document: Document
    stated: Stated
    reading: Reading
    default: str
    unit_m: float | None = None
    "Metres of one unit, of a drawing."


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """Files after the repairs that somebody accepts, and everything doubtful about them."""

    files: tuple[Opened, ...]
    tables: Mapping[str, HeightTable]
    findings: tuple[Finding, ...]


def examined(
    files: Sequence[Opened], tables: Mapping[str, HeightTable], *, accept: Sequence[str], near: Near | None
) -> Examined:
    """The files with accepted repairs made, and what is doubtful about them."""
    files, tables = tuple(files), dict(tables)
    told = [finding for each in files for finding in marked(each.reading.findings, accept)]
    told += [finding for each in files for finding in units.findings(each.reading.records, each.document)]
    files = tuple(_in_metres(each) for each in files)
    repaired: list[Finding] = []
    found: tuple[Finding, ...] = ()
    for _ in range(ROUNDS):
        found = marked(_findings(files, tables, near), accept)
        repairs = [f for f in found if f.accepted and f.change and f.accept not in {r.accept for r in repaired}]
        if not repairs:
            break
        for repair in repairs:
            files = tuple(_repaired(each, repair) for each in files)
            tables = {key: _table_repaired(table, repair) for key, table in tables.items()}
        repaired += repairs
    return Examined(files=files, tables=tables, findings=(*told, *repaired, *found))


def _findings(files: Sequence[Opened], tables: Mapping[str, HeightTable], near: Near | None) -> tuple[Finding, ...]:
    fixes = [fix for each in files for fix in _fixes(each)]
    fixes += [fix for table in tables.values() for fix in table.fixes]
    if not fixes:
        return ()
    settled = [fix for fix in fixes if not digits.is_placeholder(fix)]
    return (*places.findings(settled, near=near), *digits.findings(fixes))


def _fixes(opened: Opened) -> list[Fix]:
    trust = _TRUST.get(Path(opened.document.name).suffix.lower(), _LEAST)
    return [
        Fix(
            file=opened.document.name,
            layer=record.layer,
            row=record.row or 0,
            name=record.name,
            kind=record.kind or next(iter(record.hints), ""),
            geometry=record.geometry,
            crs=record.crs,
            decimals=record.decimals,
            accuracy_m=_accuracy_m(record),
            trust=trust,
        )
        for record in opened.reading.records
        # metres of a plan say nothing of where on earth it is
        if not record.geometry.is_empty and record.crs != PLAN
    ]


def _accuracy_m(record: Record) -> float | None:
    if is_blank(record.accuracy_m):
        return None
    try:
        return length_m(record.accuracy_m)
    except ValueError:
        return None


def _in_metres(opened: Opened) -> Opened:
    if not opened.document.accepts(units.ACCEPT):
        return opened
    records = tuple(units.in_metres(record) for record in opened.reading.records)
    return replace(opened, reading=replace(opened.reading, records=records))


def _concerns(repair: Finding, layer: str, row: int | None) -> bool:
    return (not repair.layer or repair.layer == layer or not repair.rows) and (
        not repair.rows or (row or 0) in repair.rows
    )


def _repaired(opened: Opened, repair: Finding) -> Opened:
    if opened.document.name != repair.file or repair.change is None:
        return opened
    reading, change = opened.reading, repair.change
    touched = [_concerns(repair, record.layer, record.row) for record in reading.records]
    if change.what == "leave out":
        kept = tuple(r for r, hit in zip(reading.records, touched, strict=True) if not hit)
    else:
        kept = tuple(_moved(r, change) if hit else r for r, hit in zip(reading.records, touched, strict=True))
    said = f"repaired as accepted in site.toml: {repair.accept} ({sum(touched)} features)"
    return replace(opened, reading=replace(reading, records=kept, notes=(*reading.notes, said)))


def _moved(record: Record, change: Change) -> Record:
    if change.what == "crs":
        return replace(record, crs=change.crs)
    decimals = record.decimals
    if decimals is None and change.what in ("minutes", "seconds"):
        decimals = digits.decimals([Fix(file="", geometry=record.geometry, crs=record.crs)])[0]
    return replace(
        record, geometry=changed_geometry(record.geometry, change), decimals=_decimals_after(decimals, change)
    )


def _decimals_after(decimals: float | None, change: Change) -> float | None:
    """Decimal places that the figures stand for once their unit is right."""
    if decimals is None:
        return None
    powers = {"minutes": 1, "seconds": 2}.get(change.what)
    if powers:
        return max(0.0, decimals - 2.0 * powers) + powers * log10(60.0)
    return decimals - log10(max(abs(factor) for factor in change.by))


def _table_repaired(table: HeightTable, repair: Finding) -> HeightTable:
    if table.document.name != repair.file or repair.change is None:
        return table
    change = repair.change
    rows = [row for row in table.rows if change.what != "leave out" or not _concerns(repair, "", row.row)]
    return replace(
        table, rows=tuple(_row_moved(row, change) if _concerns(repair, "", row.row) else row for row in rows)
    )


def _row_moved(row: HeightRow, change: Change) -> HeightRow:
    if change.what == "crs":
        return replace(row, crs=change.crs)
    return replace(row, geometry=changed_geometry(row.geometry, change), decimals=_decimals_after(row.decimals, change))


def with_findings(errors: Iterable[SitingError], found: Sequence[Finding]) -> tuple[Fault, ...]:
    """The faults of errors, those that a finding explains put better by it."""
    stopping = [finding for finding in found if finding.stops]
    rest = [
        each
        for error in errors
        for each in error.faults
        if not (isinstance(each, FindingFault) and _is_explained(each.finding, stopping))
    ]
    told = {(each.file, each.row) for each in rest}
    # a row that cannot be read at all need not be called far away as well
    return (*faults(f for f in stopping if f.change or (f.file, f.row) not in told), *rest)


def _is_explained(finding: Finding, by: Sequence[Finding]) -> bool:
    if finding.code in units.CODES:
        return any(other.code == finding.code and other.file == finding.file for other in by)
    if finding.code not in _POSITION:
        return False
    if finding.code == TOO_WIDE:
        return any(other.change is not None or other.code.startswith("far-") for other in by)
    return any(
        other.file == finding.file and (not other.rows or finding.row in other.rows) and other.change is not None
        for other in by
    )
