"""What a screening leaves behind: a row a hazard, the pairs closer than their rule, what was refused, and totals.

Files grow part by part beside their place and get their names together at the end, so that an interrupted run
leaves nothing half.
"""

import csv
import heapq
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from siting import arrow
from siting.assess import CAUTIONS
from siting.layer import Layer
from siting.outputs.growing import Files
from siting.outputs.overview.map import ORDER, Area, Place, page
from siting.outputs.results import as_json
from siting.screening.lines import Line
from siting.screening.screen import TOO_CLOSE, VERDICTS, Reason, Receptors, Screened
from siting.uncertainty import Verdict

SCHEMA = "siting-screen/1"
WORST = 2_000
"Places that the overview and results.json keep: the least likely to meet."
LISTED = 100
"Of them, those that results.json lists."
WITHOUT_AREA = "no area recorded"
_TEXTS = ("verdict", "rule", "reason", "kind", "area", "decided_by")
_REASONS = {
    Reason.NONE: None,
    Reason.NO_RULE: "no rule in force keeps this kind away from anything in a registry",
    Reason.NO_RECEPTOR: "the other table holds nothing that its rules name",
    Reason.NOT_RECORDED: "an attribute that a rule needs is not recorded",
}


class Totals:
    """Counts by area and verdict, with how many of them rest on suspect data."""

    def __init__(self) -> None:
        self.verdicts: Counter[tuple[str, str]] = Counter()
        self.suspect: Counter[str] = Counter()
        self.pairs = 0

    def add(self, layer: Layer, screened: Screened, suspect: np.ndarray) -> None:
        """Count one part."""
        names = [WITHOUT_AREA] if layer.area is None else [WITHOUT_AREA, *(str(v) for v in layer.area.values)]
        code = np.zeros(len(layer), np.int64) if layer.area is None else layer.area.code.astype(np.int64) + 1
        table = np.bincount(code * 4 + screened.verdict, minlength=4 * len(names)).reshape(-1, 4)
        doubtful = np.bincount(code[suspect], minlength=len(names))
        for name, counts, doubt in zip(names, table.tolist(), doubtful.tolist(), strict=True):
            for verdict, count in zip(VERDICTS, counts, strict=True):
                if count:
                    self.verdicts[(name, verdict)] += count
            if doubt:
                self.suspect[name] += doubt
        self.pairs += len(screened.pair_m)

    def areas(self) -> list[Area]:
        """The total of all, then each area, that with most failures first."""
        names = sorted({name for name, _ in self.verdicts})
        by_name = [
            Area(name=n, counts={str(v): self.verdicts[(n, v)] for v in VERDICTS}, suspect=self.suspect[n])
            for n in names
        ]
        by_name.sort(key=lambda a: (-a.counts[Verdict.FAILS], -a.counts[Verdict.TOO_CLOSE], a.name))
        total = {str(v): sum(a.counts[v] for a in by_name) for v in VERDICTS}
        return [Area(name="all", counts=total, suspect=sum(self.suspect.values())), *by_name]


class Tables:
    """The tables of a screening, written as parts arrive."""

    def __init__(self, files: Files, receptors: Receptors, receptor_ids: Any, *, as_csv: bool):
        self.files, self.receptors, self.receptor_ids, self.as_csv = files, receptors, receptor_ids, as_csv
        self.totals = Totals()
        self.worst: list[tuple[float, float, int, Place]] = []
        self._count = 0
        self._refused = files["refused.csv"].open("w", newline="", encoding="utf-8-sig")
        files.open_files.append(self._refused)
        self._refused_rows = csv.writer(self._refused)
        self._refused_rows.writerow(("table", "row", "id", "reason"))
        self._screened: Any = None
        self._pairs: Any = None

    @staticmethod
    def names(*, as_csv: bool, with_map: bool) -> tuple[str, ...]:
        """The files a screening writes."""
        end = "csv" if as_csv else "parquet"
        return (f"screened.{end}", f"pairs.{end}", "refused.csv", "results.json", *(["map.html"] if with_map else []))

    def refused(self, table: str, refused: Iterable[Any]) -> None:
        """Rows that could not be placed."""
        for row in refused:
            self._refused_rows.writerow((table, row.row if row.row > 0 else "", _plain(row.id), _plain(row.reason)))

    def part(self, layer: Layer, ids: Any, screened: Screened, suspect: np.ndarray) -> None:
        """One part of the hazards with what it came to."""
        if not len(layer):
            return
        rows = rows_of(layer, ids, screened, self.receptors, self.receptor_ids)
        pairs = pairs_of(ids, screened, self.receptors, self.receptor_ids)
        if self._screened is None:
            self._screened = self._writer("screened", rows)
            self._pairs = self._writer("pairs", pairs)
        self._screened.write(_for_csv(rows) if self.as_csv else rows)
        self._pairs.write(_for_csv(pairs) if self.as_csv else pairs)
        self.totals.add(layer, screened, suspect)
        self._remember(layer, ids, screened)

    def _writer(self, name: str, table: Any) -> Any:
        if self.as_csv:
            import pyarrow.csv as pacsv

            return pacsv.CSVWriter(self.files[f"{name}.csv"], _for_csv(table).schema)
        import pyarrow.parquet as pq

        dictionary = [column for column in (*_TEXTS, "nearest", "receptor") if column in table.schema.names]
        return pq.ParquetWriter(
            self.files[f"{name}.parquet"], table.schema, compression="snappy", use_dictionary=dictionary,
            write_statistics=["verdict"] if "verdict" in table.schema.names else False,
        )  # fmt: skip

    def _remember(self, layer: Layer, ids: Any, screened: Screened) -> None:
        """Keep the worst so far; ties go to the one that came first."""
        open_ = np.flatnonzero((screened.verdict > 0) & (screened.verdict <= TOO_CLOSE))
        if len(open_) > WORST:
            order = np.lexsort((open_, screened.margin_m[open_], screened.probability[open_]))
            open_ = open_[order[:WORST]]
        for at in open_.tolist():
            key = (-float(screened.probability[at]), -float(screened.margin_m[at]), -(self._count + at))
            if len(self.worst) < WORST or key > self.worst[0][:3]:
                item = (*key, self._place(layer, ids, screened, at))
                (heapq.heappush if len(self.worst) < WORST else heapq.heappushpop)(self.worst, item)
        self._count += len(layer)

    def _place(self, layer: Layer, ids: Any, screened: Screened, at: int) -> Place:
        line = self.receptors.lines[screened.line[at]]
        cells = (
            str(ids[at].as_py()),
            str(self.receptor_ids[int(screened.governs[at])].as_py()),
            f"{_floored(screened.governs_m[at]):.2f}",
            f"{screened.required_m[at]:g}",
            f"{screened.probability[at]:.3f}",
            line.rule.full_id,
            "" if layer.area is None else str(layer.area.get(int(layer.area.code[at])) or ""),
        )
        lon, lat = layer.lonlat[at].tolist()
        return Place(lon=lon, lat=lat, verdict=VERDICTS[screened.verdict[at]], cells=cells)

    def close(self, results: dict[str, object], *, title: str, with_map: bool) -> dict[str, object]:
        """End the tables and write totals and the overview; returns what results.json holds."""
        self._refused.close()
        if self._screened is None:
            self._empty()
        self._screened.close()
        self._pairs.close()
        worst = [place for *_, place in sorted(self.worst, key=lambda item: item[:3], reverse=True)]
        areas = self.totals.areas()
        whole = {**results, **totals(areas), "pairs": self.totals.pairs, "worst": [_worst(p) for p in worst[:LISTED]]}
        self.files["results.json"].write_text(as_json(whole), "utf-8")
        if with_map:
            self.files["map.html"].write_text(overview(title, whole, areas, worst), "utf-8")
        return whole

    def _empty(self) -> None:
        import pyarrow as pa

        text, number = pa.string(), pa.float64()
        rows = pa.table(
            {name: pa.array([], text if name in ("id", "nearest", *_TEXTS) else number) for name in COLUMNS}
        )
        pairs = pa.table({name: pa.array([], number if name.endswith("_m") else text) for name in PAIR_COLUMNS})
        self._screened, self._pairs = self._writer("screened", rows), self._writer("pairs", pairs)


COLUMNS = (
    "id", "nearest", "distance_m", "required_m", "margin_m", "sigma_m", "probability", "verdict", "decided_by", "rule",
    "reason", "kind", "area", "lon", "lat",
)  # fmt: skip
"""Of `screened`: the nearest receptor and its distance, then what the deciding one comes to.

The nearest decides, unless `decided_by` names another (one that needs a longer distance, or is known less well)."""
PAIR_COLUMNS = ("hazard", "receptor", "distance_m", "required_m", "rule")


def rows_of(layer: Layer, ids: Any, screened: Screened, receptors: Receptors, receptor_ids: Any) -> Any:
    """The table `screened` of one part, as Arrow; lengths rounded down to the millimetre."""
    import pyarrow as pa

    decided_by = np.where(screened.governs != screened.nearest, screened.governs, -1)
    rules = [line.rule.full_id for line in receptors.lines]
    columns = {
        "id": ids,
        "nearest": _taken(receptor_ids, screened.nearest),
        "distance_m": _number(_floored(screened.distance_m)),
        "required_m": _number(screened.required_m),
        "margin_m": _number(_floored(screened.margin_m)),
        "sigma_m": _number(np.round(screened.sigma_m, 4)),
        "probability": _number(np.round(screened.probability, 6)),
        "verdict": _worded([str(v) for v in VERDICTS], screened.verdict),
        "decided_by": _taken(receptor_ids, decided_by),
        "rule": _worded(rules or [""], screened.line),
        "reason": _worded([str(r) for r in _REASONS.values()], np.where(screened.reason == 0, -1, screened.reason)),
        "kind": _worded([str(v) for v in layer.kind.values] or [""], layer.kind.code),
        "area": _worded(
            [str(v) for v in layer.area.values] or [""] if layer.area is not None else [""],
            layer.area.code if layer.area is not None else np.full(len(layer), -1),
        ),
        "lon": arrow.column(layer.lonlat[:, 0]),
        "lat": arrow.column(layer.lonlat[:, 1]),
    }
    return pa.table(columns)


def pairs_of(ids: Any, screened: Screened, receptors: Receptors, receptor_ids: Any) -> Any:
    """The table `pairs` of one part, as Arrow, in the order of the hazards and then of distance."""
    import pyarrow as pa

    order = np.lexsort((screened.pair_receptor, screened.pair_m, screened.pair_hazard))
    line = screened.pair_line[order]
    return pa.table(
        {
            "hazard": ids.take(arrow.column(screened.pair_hazard[order].astype(np.int64))),
            "receptor": receptor_ids.take(arrow.column(screened.pair_receptor[order].astype(np.int64))),
            "distance_m": arrow.column(_floored(screened.pair_m[order].astype(float))),
            "required_m": _number(screened.pair_required_m[order].astype(float)),
            "rule": _worded([each.rule.full_id for each in receptors.lines] or [""], line),
        }
    )


def _taken(texts: Any, at: np.ndarray) -> Any:
    """Texts by position, nothing for -1: as positions into the texts, which costs no copy of them."""
    import pyarrow as pa

    if not len(texts):
        return pa.nulls(len(at), pa.string())
    mask = at < 0
    return texts.take(arrow.column(np.where(mask, 0, at).astype(np.int64), mask))


def _worded(values: list[str], code: np.ndarray) -> Any:
    import pyarrow as pa

    code = np.asarray(code, dtype=np.int32)
    mask = code < 0
    return pa.DictionaryArray.from_arrays(
        arrow.column(np.where(mask, 0, code).astype(np.int32), mask), pa.array(values)
    )


def _number(values: np.ndarray) -> Any:
    return arrow.column(values, ~np.isfinite(values))


def _floored(length_m: Any) -> Any:
    return np.floor(np.asarray(length_m) * 1e3 + 1e-6) / 1e3


def _for_csv(table: Any) -> Any:
    """Text that a spreadsheet would take for a formula gets an apostrophe before it; numbers are left alone."""
    import pyarrow as pa
    import pyarrow.compute as pc

    columns = {}
    for name in table.schema.names:
        column = table.column(name)
        if pa.types.is_dictionary(column.type):
            column = pc.cast(column, pa.string())
        if pa.types.is_string(column.type):
            column = pc.replace_substring_regex(column, r"^([=+\-@\t\r])", r"'\1")
        columns[name] = column
    return pa.table(columns)


def _plain(text: str) -> str:
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def totals(areas: Sequence[Area]) -> dict[str, object]:
    """Counts as results.json has them."""
    return {
        "totals": _counts(areas[0]),
        "by_area": [{"area": area.name, **_counts(area)} for area in areas[1:]],
    }


def _counts(area: Area) -> dict[str, object]:
    share = round(area.suspect / area.count, 4) if area.count else 0.0
    return {
        **{str(v): area.counts.get(v, 0) for v in VERDICTS},
        "judged": area.count, "suspect": area.suspect, "suspect_share": share,
    }  # fmt: skip


def _worst(place: Place) -> dict[str, object]:
    name, receptor, distance, required, probability, rule, area = place.cells
    return {
        "id": name, "receptor": receptor, "distance_m": float(distance), "required_m": float(required),
        "probability": float(probability), "rule": rule, "area": area, "verdict": str(place.verdict),
        "lon": round(place.lon or 0.0, 7), "lat": round(place.lat or 0.0, 7),
    }  # fmt: skip


def rule_row(line: Line) -> dict[str, object]:
    """A rule that was screened, with its citation."""
    return {
        "rule": line.rule.full_id,
        "limit": f"{line.limit.relation.replace('_', ' ')} "
        + (line.limit.as_written or "a distance that depends on attributes"),
        "from": sorted(line.receptor_kinds),
        "citation": str(line.rule.citation),
    }


def overview(title: str, results: dict[str, Any], areas: Sequence[Area], worst: Sequence[Place]) -> str:
    """The page of the worst places."""
    total, rows = areas[0], results["rows"]
    ranked = sorted(worst, key=lambda p: ORDER.index(p.verdict))
    listed = total.counts[Verdict.FAILS] + total.counts[Verdict.TOO_CLOSE]
    texts = [
        f"{rows['hazards']['read']} rows read, {rows['hazards']['judged']} judged, {rows['hazards']['refused']} "
        "refused (refused.csv says why).",
        f"The map shows the {len(worst)} least likely to meet of {listed} that fail or are too close to call.",
        "Distances are horizontal, from edge to edge, and rounded down. A registry tells of the receptors that "
        "somebody recorded: a distance kept here is kept to those.",
    ]
    subtitle = ", ".join(f"{total.counts[v]} {v}" for v in VERDICTS) + f"; suspect data {total.suspect_text}"
    columns = ("place", "receptor", "distance m", "required m", "probability", "rule", "area")
    return page(title, subtitle, columns=columns, places=ranked, areas=areas, texts=texts, cautions=CAUTIONS)
