"""What a batch leaves behind: a line a site while it runs, then summary tables, totals and one overview map."""

import csv
import io
import json
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from siting.assess import CAUTIONS
from siting.batch import COLUMNS, GRAVITY, Count, Row, counted, ranked
from siting.errors import OutputError, SitingError
from siting.outputs.files import write_all
from siting.outputs.overview.map import Area, Place, page
from siting.outputs.results import as_json

LOG = "results.jsonl"
SCHEMA = "siting-batch/1"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def line(row: Row, settings: str) -> bytes:
    """A row as one line of the log, with the settings it was reckoned under."""
    whole = {**row, "settings": settings}
    return (json.dumps(whole, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n").encode()


class Log:
    """`results.jsonl` while a batch runs: whole lines are appended, and a torn last line is cut off."""

    def __init__(self, folder: Path, settings: str):
        self.path, self.settings = folder / LOG, settings
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._file = self.path.open("ab", buffering=0)
            self._mend()
        except OSError as error:
            raise _cannot(folder, error) from error

    def _mend(self) -> None:
        """Cut off what a killed run left of its last line."""
        data = self.path.read_bytes()
        if data and not data.endswith(b"\n"):
            os.truncate(self.path, data.rfind(b"\n") + 1)

    def finished(self) -> dict[str, Row]:
        """Rows of an earlier run under the same settings, by path; the last one of a path holds."""
        rows: dict[str, Row] = {}
        for text in self.path.read_bytes().splitlines():
            try:
                held = json.loads(text)
            except ValueError:
                continue
            if isinstance(held, dict) and held.get("settings") == self.settings and set(COLUMNS) <= held.keys():
                rows[str(held["path"])] = {name: held[name] for name in COLUMNS}
        return rows

    def add(self, row: Row) -> None:
        """Append one row; it is there whole or not at all."""
        try:
            self._file.write(line(row, self.settings))
        except OSError as error:
            raise _cannot(self.path.parent, error) from error

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()


def _cannot(folder: Path, error: OSError) -> SitingError:
    return OutputError.of(
        f"{folder} cannot be written: {error.strerror or error}",
        needed="a folder that can be written, on a disk with room",
        do_next="make room and run again: sites that are done are not done again",
    )


def write(
    folder: Path, rows: Iterable[Row], *, settings: str, title: str, packs: Sequence[dict[str, str]], with_map: bool
) -> tuple[dict[str, Any], tuple[Path, ...]]:
    """Everything that is said of all sites, written whole; returns what results.json holds, and the paths.

    The same rows give the same bytes, in whatever order they came.
    """
    by_path = sorted(rows, key=lambda one: str(one["path"]))
    worst_first = ranked(by_path)
    counts = counted(by_path)
    results = _results(counts, title=title, packs=packs)
    contents = {
        LOG: b"".join(line(one, settings) for one in by_path),
        "summary.csv": as_csv(worst_first),
        "summary.xlsx": as_xlsx(worst_first),
        "results.json": as_json(results).encode(),
    }
    parquet = as_geoparquet(worst_first)
    if parquet is not None:
        contents["summary.parquet"] = parquet
    if with_map:
        contents["map.html"] = overview(title, worst_first, counts).encode()
    return results, write_all(folder, contents, overwrite=True)


def _results(counts: Sequence[Count], *, title: str, packs: Sequence[dict[str, str]]) -> dict[str, Any]:
    return {
        "schema": SCHEMA,
        "title": title,
        "rules": list(packs),
        "totals": _totals(counts[0]),
        "by_district": [{"district": count.district, **_totals(count)} for count in counts[1:]],
        "cautions": list(CAUTIONS),
    }


def _totals(count: Count) -> dict[str, object]:
    share = round(count.suspect / count.sites, 4) if count.sites else 0.0
    return {
        "sites": count.sites, **{str(v): count.verdicts.get(str(v), 0) for v in GRAVITY}, "suspect": count.suspect,
        "suspect_share": share, "doubts": count.doubts,
    }  # fmt: skip


def as_csv(rows: Iterable[Row]) -> bytes:
    """The summary as UTF-8 with a byte-order mark, worst first; texts that look like formulas get an apostrophe."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for one in rows:
        writer.writerow([_cell(one[name]) for name in COLUMNS])
    return text.getvalue().encode("utf-8-sig")


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return "" if value is None else value


def as_xlsx(rows: Iterable[Row]) -> bytes:
    """The summary as a workbook, with nothing in it that a spreadsheet would run or follow."""
    import datetime

    import xlsxwriter

    data = io.BytesIO()
    options = {
        "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False
    }  # fmt: skip
    book = xlsxwriter.Workbook(data, options)
    # A fixed date: the same rows have to give the same bytes.
    book.set_properties({"title": "Summary of sites", "created": datetime.datetime(2000, 1, 1)})
    sheet = book.add_worksheet("sites")
    bold = book.add_format({"bold": True})
    for column, name in enumerate(COLUMNS):
        sheet.write_string(0, column, name.replace("_", " "), bold)
    count = 0
    for count, one in enumerate(rows, start=1):
        for column, name in enumerate(COLUMNS):
            value = one[name]
            if isinstance(value, bool):
                sheet.write_string(count, column, "yes" if value else "no")
            elif isinstance(value, int | float):
                sheet.write_number(count, column, value)
            elif value is not None and value != "":
                sheet.write_string(count, column, str(value)[:32_000])
    sheet.freeze_panes(1, 2)
    sheet.autofilter(0, 0, max(count, 1), len(COLUMNS) - 1)
    book.close()
    return data.getvalue()


def as_geoparquet(rows: Sequence[Row]) -> bytes | None:
    """The summary as GeoParquet 1.0, a point a site; None where pyarrow is not installed."""
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        return None
    import shapely

    columns: dict[str, Any] = {}
    for name in COLUMNS:
        values = [one[name] for one in rows]
        numeric = any(isinstance(v, int | float) and not isinstance(v, bool) for v in values)
        kind = pa.bool_() if name in ("suspect", "place") else pa.float64() if numeric else pa.string()
        columns[name] = pa.array([None if v is None else v if kind != pa.string() else str(v) for v in values], kind)
    points = [
        None if one["lon"] is None else shapely.Point(float(str(one["lon"])), float(str(one["lat"]))).wkb
        for one in rows
    ]
    columns["geometry"] = pa.array(points, pa.binary())
    geo = {
        "version": "1.0.0",
        "primary_column": "geometry",
        "columns": {"geometry": {"encoding": "WKB", "geometry_types": ["Point"]}},
    }
    table = pa.table(columns).replace_schema_metadata({"geo": json.dumps(geo, sort_keys=True)})
    data = io.BytesIO()
    pq.write_table(table, data)
    return data.getvalue()


def overview(title: str, rows: Sequence[Row], counts: Sequence[Count]) -> str:
    """One page with all sites, worst first."""
    places = [
        Place(
            lon=_number(one["lon"]), lat=_number(one["lat"]), verdict=str(one["verdict"]),
            cells=tuple(
                "" if one[name] is None else str(one[name])
                for name in ("site", "district", "worst_margin_m", "best_margin_m", "reason")
            ),
        )
        for one in rows
    ]  # fmt: skip
    areas = [Area(name=c.district or "no district", counts=c.verdicts, suspect=c.suspect) for c in counts]
    total = areas[0]
    subtitle = ", ".join(f"{n} {v}" for v, n in total.counts.items()) + f"; suspect data {total.suspect_text}"
    texts = ["Each site has a row in summary.csv, with its worst separation and its best place."]
    columns = ("site", "district", "worst margin m", "best place m", "reason")
    return page(title, subtitle, columns=columns, places=places, areas=areas, texts=texts, cautions=CAUTIONS)


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
