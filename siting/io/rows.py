"""A large table as it comes off the disk: part by part, only the columns that are wanted, in bounded memory.

CSV is read as text; Parquet row group by row group; GeoPackage, shapefile and FlatGeobuf through GDAL in batches;
every other format whole, by the readers of single sites.
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from siting.errors import InputError, SitingError
from siting.io.formats import content, read_document
from siting.io.headings import headings
from siting.io.limits import Limits
from siting.io.records import WGS84, Document
from siting.io.vector import _pyogrio

PART_ROWS = 131_072
"Rows handed on at once: enough for arrays to pay, few enough for an old laptop."
CSV_BLOCK_BYTES = 1 << 24
WHOLE = Limits(features=5_000_000, vertices=50_000_000, file_bytes=2_000_000_000)
"Ceilings for formats that can only be read whole."
GEOMETRY = "geometry"


@dataclass(slots=True, kw_only=True)
class Rows:
    """An open table: its headings, its CRS where the file states one, and its parts in order."""

    name: str
    headings: tuple[str, ...]
    crs: str | None
    geometry: str | None
    "Heading of the column that holds geometries (well-known binary), where there is one."
    parts: "Iterator[Any]"
    "Arrow record batches; those of CSV hold text."
    decimal_comma: bool = False
    notes: list[str] = field(default_factory=list)
    broken: dict[int, str] = field(default_factory=dict)
    "Rows of text that are no rows of the table, by their number; complete once all parts are read."
    blank: list[int] = field(default_factory=list)
    "Numbers of rows that hold nothing at all."
    first_row: int = 1
    "Number of the first row after the heading: 2 in a text file, where the heading is row 1."


def open_rows(path: Path, *, layer: str | None = None) -> Rows:
    """A table ready to be read; raises InputError when it is none that can be read.

    `layer` names one of several layers.
    """
    suffix = path.suffix.lower()
    if suffix in (".parquet", ".geoparquet", ".pq"):
        return _parquet(path)
    if suffix in (".csv", ".tsv", ".txt"):
        return _csv(path)
    if suffix in (".gpkg", ".fgb", ".shp"):
        return _vector(path, layer)
    return _whole(path)


def needs(extra: str, error: ImportError) -> SitingError:
    """The error of a library that is not installed."""
    return InputError.of(
        f"{error.name} is not installed",
        needed=f"the extra '{extra}' of this package",
        do_next=f"pip install 'siting[{extra}]'",
    )


def _unreadable(name: str, error: Exception, needed: str) -> SitingError:
    reason = (str(error).splitlines() or ["no reason given"])[0][:200]
    return InputError.of(
        f"the file cannot be read: {reason}",
        needed=needed,
        do_next="check that it was copied to its end, or export it again",
        file=name,
    )


# --- Parquet ---------------------------------------------------------------------------------------------------


def _parquet(path: Path) -> Rows:
    import json

    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        file = pq.ParquetFile(path)
        schema = file.schema_arrow
        geo = json.loads((schema.metadata or {}).get(b"geo", b"{}"))
    except (pa.ArrowException, OSError, ValueError) as error:
        raise _unreadable(path.name, error, "a whole Parquet file") from None
    geometry = geo.get("primary_column")
    crs = _crs_of_geoparquet(geo["columns"][geometry]) if geometry else None

    def parts() -> Iterator[Any]:
        try:
            yield from file.iter_batches(batch_size=PART_ROWS)
        except (pa.ArrowException, OSError) as error:
            raise _unreadable(path.name, error, "a whole Parquet file") from None

    return Rows(name=path.name, headings=tuple(schema.names), crs=crs, geometry=geometry, parts=parts())


def _crs_of_geoparquet(column: dict[str, Any]) -> str | None:
    import json

    if "crs" not in column:
        return WGS84  # the format's default: longitude and latitude on WGS 84
    return None if column["crs"] is None else _short(json.dumps(column["crs"]))


def _short(text: str) -> str:
    from pyproj import CRS

    crs = CRS.from_user_input(text)
    authority = crs.to_authority()
    if authority == ("OGC", "CRS84"):
        return WGS84
    return ":".join(authority) if authority else text


# --- CSV -------------------------------------------------------------------------------------------------------


def _csv(path: Path) -> Rows:
    import pyarrow as pa
    import pyarrow.csv as pacsv

    with path.open("rb") as file:
        head = file.read(1 << 20)
        file.seek(0, 2)
        size = file.tell()
        file.seek(max(size - 1, 0))
        last = file.read(1)
    if content(head[:20_000]) != "text":
        raise InputError.of(
            f"named {path.suffix.lower()} but the content is not text", needed="a table as text",
            do_next="give the file its right extension, or export it again", file=path.name,
        )  # fmt: skip
    _quotes_closed(path)
    encoding, notes = _encoding(head)
    first = head.decode(encoding, errors="replace").lstrip("\ufeff").splitlines()[0] if head.strip() else ""
    delimiter = max(",;\t", key=lambda d: _worth(first, d))
    names = next(csv.reader([first], delimiter=delimiter), [])
    broken: dict[int, str] = {}

    blank: list[int] = []

    def handle(row: Any) -> str:
        if not row.text.strip():
            blank.append(row.number or 0)
            return "skip"
        broken[row.number if row.number is not None else -1 - len(broken)] = (
            f"{row.actual_columns} cells where the heading has {row.expected_columns}"
        )
        return "skip"

    keep = [name for name in names if name]
    try:
        reader = pacsv.open_csv(
            path,
            read_options=pacsv.ReadOptions(block_size=CSV_BLOCK_BYTES, encoding=encoding, use_threads=False),
            parse_options=pacsv.ParseOptions(
                delimiter=delimiter, newlines_in_values=True, invalid_row_handler=handle, ignore_empty_lines=False
            ),
            convert_options=pacsv.ConvertOptions(
                include_columns=keep, column_types={name: pa.string() for name in names}, strings_can_be_null=False
            ),
        )
    except (pa.ArrowException, OSError) as error:
        raise _unreadable(path.name, error, "rows of cells in one encoding, every quotation mark closed") from None
    if delimiter != ",":
        notes.append(f"cells separated by {'tabs' if delimiter == chr(9) else 'semicolons'}")
    if size and last not in (b"\n", b"\r"):
        notes.append("the last row is not ended by a line break: check that the file was copied to its end")

    def parts() -> Iterator[Any]:
        try:
            yield from reader
        except (pa.ArrowException, OSError) as error:
            raise _unreadable(path.name, error, "rows of cells in one encoding, every quotation mark closed") from None

    return Rows(
        name=path.name, headings=tuple(names), crs=None, geometry=None, parts=parts(), notes=notes, broken=broken,
        decimal_comma=delimiter != ",", first_row=2, blank=blank,
    )  # fmt: skip


def _quotes_closed(path: Path) -> None:
    """Refuse a text whose quotation marks do not come in pairs: the rest of it would be taken for one cell."""
    marks = 0
    with path.open("rb") as file:
        while block := file.read(1 << 22):
            marks += block.count(b'"')
    if marks % 2:
        raise InputError.of(
            f"{marks} quotation marks, so that one is not closed and the rows after it would be lost",
            needed="rows of cells, every quotation mark closed",
            do_next="open it in a spreadsheet, look for a lone quotation mark, and save it again",
            file=path.name,
        )


def _encoding(head: bytes) -> tuple[str, list[str]]:
    for encoding, mark in (("utf-16", b"\xff\xfe"), ("utf-16", b"\xfe\xff")):
        if head.startswith(mark):
            return encoding, []
    try:
        # The last character of the head may be cut through.
        head[: len(head) - 4 if len(head) >= 1 << 20 else None].decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", ["read as Windows-1252 text, as it is not UTF-8: check accented letters"]
    return "utf-8", []


def _worth(line: str, delimiter: str) -> tuple[int, int]:
    cells = next(csv.reader([line], delimiter=delimiter), [])
    return len(headings(cells).column), len(cells)


# --- layers ----------------------------------------------------------------------------------------------------


def _vector(path: Path, layer: str | None) -> Rows:
    pyogrio = _pyogrio()
    with path.open("rb") as file:
        held = content(file.read(20_000))
    expected = {".gpkg": "sqlite", ".fgb": "flatgeobuf", ".shp": "shapefile"}[path.suffix.lower()]
    if held != expected:
        raise InputError.of(
            f"named {path.suffix.lower()} but the content is something else",
            needed=f"a {expected} file", do_next="export it again", file=path.name,
        )  # fmt: skip
    failures = (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError)
    try:
        layers = [str(name) for name, kind in pyogrio.list_layers(path) if kind is not None]
        chosen = _chosen(path.name, layers, layer)
        info = pyogrio.read_info(path, layer=chosen)
    except failures as error:
        raise _unreadable(path.name, error, f"a whole {expected} file") from None
    fields = [str(name) for name in info["fields"]]

    def parts() -> Iterator[Any]:
        with pyogrio.raw.open_arrow(path, layer=chosen, batch_size=PART_ROWS, use_pyarrow=True) as (
            meta,
            reader,
        ):
            given = meta["geometry_name"] or "wkb_geometry"
            for batch in reader:
                yield batch.rename_columns([GEOMETRY if n == given else n for n in batch.schema.names])

    return Rows(
        name=f"{path.name} [{chosen}]" if len(layers) > 1 else path.name, headings=tuple(fields),
        crs=_short(info["crs"]) if info["crs"] else None, geometry=GEOMETRY, parts=parts(),
    )  # fmt: skip


def _chosen(name: str, layers: list[str], layer: str | None) -> str:
    if layer is not None and layer in layers:
        return layer
    if layer is None and len(layers) == 1:
        return layers[0]
    raise InputError.of(
        f"the layer {layer!r} is not there" if layer else f"{len(layers)} layers with geometries",
        needed=f"one of {', '.join(map(repr, layers[:20]))}" if layers else "a layer with geometries",
        do_next="name it with --hazard-layer or --receptor-layer",
        file=name,
    )


# --- whole files -----------------------------------------------------------------------------------------------


def _whole(path: Path) -> Rows:
    import pyarrow as pa
    import shapely

    size = path.stat().st_size
    if size > WHOLE.file_bytes:
        raise InputError.of(
            f"the file holds {size} bytes, and its format is read whole",
            needed=f"at most {WHOLE.file_bytes} bytes", do_next="convert it to GeoParquet, GeoPackage or CSV",
            file=path.name,
        )  # fmt: skip
    document = Document(path=path, name=path.name, data=path.read_bytes(), limits=WHOLE)
    try:
        reading, _ = read_document(document)
    except InputError as error:
        if not any("crs" in fault.needed or "reference system" in fault.needed for fault in error.faults):
            raise
        raise InputError.of(
            error.faults[0].found, needed=error.faults[0].needed, file=path.name,
            do_next="convert it to GeoParquet or GeoPackage with its crs, or to CSV and give the crs",
        ) from None  # fmt: skip
    records = reading.records
    systems = sorted({record.crs for record in records})
    if len(systems) > 1:
        raise InputError.of(
            f"positions in {len(systems)} coordinate reference systems: {', '.join(systems)[:120]}",
            needed="one system in a table", do_next="split the file, or convert it to one system", file=path.name,
        )  # fmt: skip
    roles = ("kind", "name", "accuracy_m", "accuracy_level", "status", "radius_m")
    columns = {role: [_cell(getattr(record, role)) for record in records] for role in roles}
    free = dict.fromkeys(key for record in records for key in record.attributes)
    columns |= {key: [_cell(record.attributes.get(key)) for record in records] for key in free}
    columns = {k: v for k, v in columns.items() if any(v)}
    table = pa.table({key: pa.array(cells, pa.string()) for key, cells in columns.items()})
    table = table.append_column(GEOMETRY, pa.array(shapely.to_wkb([r.geometry for r in records]), pa.binary()))
    broken = {fault.row or -1 - n: fault.found for n, fault in enumerate(reading.faults)}
    return Rows(
        name=path.name, headings=tuple(columns), crs=systems[0] if systems else WGS84, geometry=GEOMETRY,
        parts=iter(table.to_batches(max_chunksize=PART_ROWS)), notes=list(reading.notes), broken=broken,
    )  # fmt: skip


def _cell(value: object) -> str | None:
    return None if value is None or value == "" else str(value)
