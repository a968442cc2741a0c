"""A registry of places as arrays: every row either placed, with what rules may ask of it, or refused with a reason."""

import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from siting import arrow
from siting.errors import InputError
from siting.io import cells, positions
from siting.io.crs import Operation, horizontal_crs, to_wgs84
from siting.io.headings import Headings, attribute_name, headings
from siting.io.parts import Part, Refused, Told
from siting.io.plain import crs_missing
from siting.io.records import WGS84, Document
from siting.io.rows import Rows, open_rows
from siting.io.table import places
from siting.kinds import BOUNDARY, UNKNOWN, Vocabulary, folded
from siting.layer import Column, Layer, constant
from siting.site import Status

AREAS = ("area", "district", "camp", "block", "zone", "region", "province", "county", "county name", "admin2", "admin1",
         "distrito", "departement", "wilaya", "wilayah")  # fmt: skip
"Headings taken for the unit that totals are counted by, the first that is there."
FEW_DECIMALS = 3
"So few places leave half a step of 56 m at the equator (practice: computed), more than any distance asked for."
POOR_SIGMA_M = 30.0
"A position known worse than this says nothing about a distance of 30 m: project judgement."


@dataclass(slots=True)
class Registry:
    """An open registry; its counts are complete once all parts are read."""

    path: Path | None
    "None where the rows do not come from a file."
    told: Told
    words: Vocabulary
    given: Rows | None = None
    "Rows that are open already."
    rows: Rows = field(init=False)
    taken: Headings = field(init=False)
    way: str = field(init=False)
    crs: str = field(init=False)
    bulk: positions.Bulk | None = None
    "West, south, east, north within which places are expected; None until it is known."
    expected: positions.Bulk | None = None
    "The same of the other table, for one of so few rows that it does not tell."
    operation: Operation | None = None
    count: int = 0
    refused: int = 0
    unstated: int = 0
    "Rows whose accuracy nobody states."
    suspect: int = 0
    reasons: Counter[str] = field(default_factory=Counter)
    "What was wrong, without the value found, and how often."
    ids_seen: list[Any] = field(default_factory=list)
    _sha256: str = ""

    def __post_init__(self) -> None:
        self.rows = self.given or open_rows(self._file, layer=self.told.layer)
        self._reopen()

    @property
    def name(self) -> str:
        """File, and layer where it has several."""
        return self.rows.name

    @property
    def _file(self) -> Path:
        assert self.path is not None
        return self.path

    @property
    def sha256(self) -> str:
        """Checksum of the file."""
        if not self._sha256:
            with self._file.open("rb") as file:
                self._sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        return self._sha256

    @property
    def source(self) -> str:
        """What tells this table from another: the file and the layer."""
        if self.path is None:
            return self.rows.name
        return f"{self.path.resolve()} {self.told.layer or ''}"

    @property
    def notes(self) -> tuple[str, ...]:
        """What was taken for what, and what was assumed."""
        said = [self.taken.said, *self.rows.notes]
        if self.operation is not None and self.operation.accuracy_m:
            said.append(str(self.operation))
        if self.unstated:
            said.append(f"accuracy not stated in {self.unstated} rows: taken as 4.9 m holding 68 % of fixes")
        return tuple(text for text in said if text)

    def _reopen(self) -> None:
        rows = self.rows
        self.taken = headings(rows.headings)
        for role, claims in self.taken.doubled.items():
            raise InputError.of(
                f"{len(claims)} headings for {role}: {', '.join(map(repr, claims))}",
                needed="one column for each coordinate", do_next="remove or rename the columns that do not hold",
                file=rows.name, row=1,
            )  # fmt: skip
        self.way = "wkb" if rows.geometry else places(self.taken)
        if not self.way:
            raise InputError.of(
                f"no headings that give a position (found {', '.join(map(repr, rows.headings[:20]))})",
                needed="lat and lon, or x and y with a crs, or wkt, or a geometry column",
                do_next="name the columns so in the first row of the table", file=rows.name,
            )  # fmt: skip
        self.crs = self._system()
        if self.told.kind is None and "kind" not in self.taken.column:
            raise InputError.of(
                "no column of kinds",
                needed="a column 'kind', or one kind for the whole table",
                do_next='give --hazard-kind "pit latrine" or --receptor-kind well', file=rows.name,
            )  # fmt: skip
        if self.told.kind is not None and self.words.recognise(self.told.kind) == UNKNOWN:
            near = self.words.nearest(self.told.kind)
            raise InputError.of(
                f"the kind {self.told.kind!r} is not known",
                needed="a kind of the vocabulary",
                do_next=f"did you mean {' or '.join(map(repr, near))}?" if near else "see `siting rules --kinds`",
            )
        if self.told.area is not None and self.told.area not in rows.headings:
            raise InputError.of(
                f"no column {self.told.area!r}", needed=f"one of {', '.join(map(repr, rows.headings[:20]))}",
                do_next="correct --area", file=rows.name,
            )  # fmt: skip

    def _system(self) -> str:
        """The CRS of the positions; what the command says wins over the file, and that is noted."""
        told, stated = self.told.crs, self.rows.crs
        if self.way == "lonlat":
            if told and not horizontal_crs(told).is_geographic:
                raise InputError.of(
                    f"columns of latitude and longitude, but crs = {told!r} is a plane grid",
                    needed="degrees with a geographic crs, or metres under the headings x and y",
                    do_next="correct the crs given for this table", file=self.rows.name,
                )  # fmt: skip
            return told or WGS84
        if told and stated and told != stated:
            self.rows.notes.append(f"crs {told} as told, although the file says {stated[:60]}")
        if told or stated:
            return str(told or stated)
        document = Document(path=Path(self.rows.name), name=self.rows.name, data=b"")
        raise InputError(crs_missing(document, f"positions as {self.way}, and no crs"))

    # --- parts ---------------------------------------------------------------------------------------------------

    def parts(self) -> Iterator[Part]:
        """The registry part by part; the sum of placed and refused rows is `count`."""
        next_row = self.rows.first_row
        for batch in self.rows.parts:
            number, next_row = self._numbers(len(batch), next_row)
            if len(batch):
                yield self._part(batch, number)
        yield from self._broken()
        if self.count == 0:
            raise InputError.of(
                "no rows", needed="one row a place", do_next="export the table again", file=self.rows.name
            )

    def _numbers(self, count: int, first: int) -> tuple[np.ndarray, int]:
        """Row numbers as a spreadsheet counts them, past rows that were no rows."""
        number = np.arange(first, first + count)
        for skipped in sorted(n for n in (*self.rows.broken, *self.rows.blank) if n >= first):
            number[number >= skipped] += 1
        return number, int(number[-1]) + 1 if count else first

    def _broken(self) -> Iterator[Part]:
        if self.rows.broken:
            refused = tuple(Refused(row=row, id="", reason=reason) for row, reason in sorted(self.rows.broken.items()))
            self._counted(refused, 0)
            yield Part(layer=_empty(self.source), ids=_texts([]), suspect=np.zeros(0, dtype=bool), refused=refused)

    def _part(self, batch: Any, number: np.ndarray) -> Part:
        wrong: cells.Wrong = {}
        lonlat, shapes, places_ = self._places(batch, wrong)
        kind = self._kind(batch, wrong)
        accuracy, level = self._column(batch, "accuracy_m"), self._column(batch, "accuracy_level")
        sigma_m, unstated = cells.sigmas_m(accuracy, level, count=len(batch), wrong=wrong)
        self.unstated += unstated
        radius_m = np.zeros(len(batch))
        if (radius := self._column(batch, "radius_m")) is not None:
            heading = self.taken.column["radius_m"]
            radius_m = cells.lengths_m(radius, heading, decimal_comma=self.rows.decimal_comma, wrong=wrong)
        sigma_m = np.hypot(sigma_m, positions.step_sigmas_m(places_, lonlat, self.operation))
        good = np.ones(len(batch), dtype=bool)
        good[list(wrong)] = False
        ids = self._ids(batch, number)
        refused = tuple(
            Refused(row=int(number[at]), id=str(ids[at].as_py())[:80], reason=wrong[at]) for at in sorted(wrong)
        )
        kept = np.flatnonzero(good)
        everything = not wrong
        suspect = (places_ <= FEW_DECIMALS) | (sigma_m > POOR_SIGMA_M)
        layer = Layer(
            lonlat=lonlat if everything else lonlat[kept],
            kind=kind if everything else kind.taken(kept),
            sigma_m=sigma_m if everything else sigma_m[kept],
            radius_m=radius_m if everything else radius_m[kept],
            shapes=None if shapes is None else shapes[kept],
            row=number if everything else number[kept],
            source=self.source,
            shared_sigma_m=self.operation.shared_sigma_m if self.operation else 0.0,
            attributes={
                name: c if everything else c.taken(kept) for name, c in self._attributes(batch).items()
            },
            area=self._area(batch, kept),
        )  # fmt: skip
        ids = ids if everything else ids.take(arrow.column(kept.astype(np.int64)))
        self._counted(refused, len(kept))
        self.suspect += int(suspect[kept].sum())
        return Part(layer=layer, ids=ids, suspect=suspect[kept], refused=refused)

    def _counted(self, refused: tuple[Refused, ...], kept: int) -> None:
        self.count += kept + len(refused)
        self.refused += len(refused)
        for each in refused:
            self.reasons[_in_general(each.reason)] += 1

    def _column(self, batch: Any, role: str) -> Any:
        heading = self.taken.column.get(role)
        return None if heading is None else batch.column(heading)

    def _kind(self, batch: Any, wrong: cells.Wrong) -> Column:
        if self.told.kind is not None:
            return constant(self.words.recognise(self.told.kind), len(batch))
        return cells.kinds(self._column(batch, "kind"), self.words, wrong=wrong)

    def _ids(self, batch: Any, number: np.ndarray) -> Any:
        import pyarrow as pa
        import pyarrow.compute as pc

        own = next((name for name in batch.schema.names if folded(name) in ("id", "code", "fid")), None)
        heading = own or self.taken.column.get("name")
        if heading is None:
            return pa.array([f"row {n}" for n in number], pa.string())
        held = batch.column(heading)
        held = held.dictionary_decode() if pa.types.is_dictionary(held.type) else held
        self._remember(held)
        texts = pc.cast(held, pa.string())
        if texts.null_count or pc.any(pc.equal(texts, "")).as_py():
            blank = pc.fill_null(pc.equal(texts, ""), True)
            texts = pc.if_else(blank, pa.array([f"row {n}" for n in number], pa.string()), texts)
        return texts

    def _remember(self, ids: Any) -> None:
        """Keep ids to be compared at the end, as they are: whole numbers cost little then."""
        if sum(len(each) for each in self.ids_seen) < MOST_IDS:
            self.ids_seen.append(ids)

    def _area(self, batch: Any, kept: np.ndarray) -> Column | None:
        names = {folded(name): name for name in reversed(batch.schema.names)}
        heading = self.told.area or next((names[word] for word in AREAS if word in names), None)
        return None if heading is None else cells.words_of(batch.column(heading)).taken(kept)

    def _attributes(self, batch: Any) -> dict[str, Column]:
        wanted = self.told.attributes
        found = {
            attribute_name(name): cells.attribute(batch.column(name))
            for name in batch.schema.names
            if attribute_name(name) in wanted and name not in self.taken.column.values()
        }
        status = self._column(batch, "status")
        if status is None:
            found["status"] = constant(str(Status.EXISTING), len(batch))
        else:
            found["status"], unknown = cells.status_column(status)
            if unknown:
                self.reasons["status not known, taken as existing (not refused)"] += unknown
        return found

    # --- positions -----------------------------------------------------------------------------------------------

    def _places(self, batch: Any, wrong: cells.Wrong) -> tuple[np.ndarray, np.ndarray | None, np.ndarray]:
        """Degrees (n, 2), geometries that are no points, and decimal places as written (n,)."""
        if self.way in ("wkb", "wkt"):
            heading = self.rows.geometry or self.taken.column["wkt"]
            held = batch.column(heading).to_numpy(zero_copy_only=False)
            xy, shapes = positions.geometries(held, as_text=self.way == "wkt", wrong=wrong)
        else:
            first, second = ("lon", "lat") if self.way == "lonlat" else ("x", "y")
            xy = np.column_stack([
                cells.numbers(self._column(batch, role), self.taken.column[role], role=role,
                              decimal_comma=self.rows.decimal_comma, wrong=wrong)
                for role in (first, second)
            ])  # fmt: skip
            shapes = None
        geographic = self.crs == WGS84 or horizontal_crs(self.crs).is_geographic
        if geographic:
            positions.off_range(xy, wrong)
        good = np.isfinite(xy).all(axis=1)
        good[list(wrong)] = False
        if self.operation is None and good.any():
            self.operation = to_wgs84(self.crs, xy[good])
        places_ = self._decimals(batch, np.where(good[:, None], xy, 0.0))
        if self.crs == WGS84:
            lonlat = xy
        else:
            lonlat = np.full(xy.shape, np.nan)
            if self.operation is not None:
                lonlat[good] = self.operation.to_lonlat(xy[good])
                shapes = self._moved(shapes)
        for row in np.flatnonzero(good & ~np.isfinite(lonlat).all(axis=1)).tolist():
            wrong.setdefault(row, "it lies where the crs is not defined")
        lonlat = np.where(np.isfinite(lonlat), lonlat, 0.0)
        if np.any(np.abs(lonlat[:, 0]) > 180.0):
            lonlat[:, 0] -= 360.0 * np.round(lonlat[:, 0] / 360.0)
        positions.too_polar(lonlat, shapes, wrong)
        self._settle_bulk(lonlat, wrong)
        if self.bulk is not None:
            positions.exchanged(lonlat, self.bulk, wrong)
        return lonlat, shapes, places_

    def _decimals(self, batch: Any, xy: np.ndarray) -> np.ndarray:
        """Decimal places (n,): as written where the table is text, else as the numbers tell."""
        if self.way not in ("lonlat", "xy"):
            return cells.decimals(xy)
        held = [self._column(batch, role) for role in (("lon", "lat") if self.way == "lonlat" else ("x", "y"))]
        if not all(str(column.type) == "string" for column in held):
            return cells.decimals(xy)
        one, other = (cells.written_decimals(column, decimal_comma=self._comma(column)) for column in held)
        written = np.fmax(one, other)
        return np.where(np.isnan(written), float(cells.MOST_DECIMALS), written)

    def _comma(self, column: Any) -> bool:
        import pyarrow.compute as pc

        return self.rows.decimal_comma and bool(pc.any(pc.match_substring(column, ",")).as_py())

    def _moved(self, shapes: np.ndarray | None) -> np.ndarray | None:
        if shapes is None or self.operation is None:
            return shapes
        held = np.array([s is not None for s in shapes])
        shapes[held] = shapely.transform(shapes[held], self.operation.to_lonlat)
        return shapes

    def _settle_bulk(self, lonlat: np.ndarray, wrong: cells.Wrong) -> None:
        """Where the places of this table are expected, from its first part, or from the other table."""
        good = np.ones(len(lonlat), dtype=bool)
        good[list(wrong)] = False
        if self.bulk is None and good.any():
            few = int(good.sum()) < positions.ENOUGH and self.expected is not None
            self.bulk = self.expected if few else positions.bulk_of(lonlat[good])


MOST_IDS = 5_000_000
"Ids are compared for repetitions up to here, so that memory stays bounded."


def repeated_ids(registry: Registry) -> int:
    """How many rows carry an id that another row has too, among those compared."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if not registry.ids_seen:
        return 0
    ids = pa.concat_arrays(registry.ids_seen)
    if pa.types.is_integer(ids.type) and ids.null_count == 0:
        numbers = arrow.values(ids)
        rising = bool(np.all(numbers[1:] > numbers[:-1]))
        return 0 if rising else len(numbers) - len(np.unique(numbers))
    blank = pc.fill_null(pc.equal(pc.cast(ids, pa.string()), ""), True)
    ids = ids.filter(pc.invert(blank))
    return len(ids) - int(pc.count_distinct(ids).as_py())


def _in_general(reason: str) -> str:
    """A reason without the value it was found in, to count by."""
    import re

    return re.sub(r"'[^']*'|-?\d+(\.\d+)?", "...", reason.partition(" (nearest known")[0])


def _texts(values: list[str]) -> Any:
    import pyarrow as pa

    return pa.array(values, pa.string())


def _empty(source: str) -> Layer:
    return Layer(
        lonlat=np.zeros((0, 2)), kind=constant(BOUNDARY, 0), sigma_m=np.zeros(0), radius_m=np.zeros(0), source=source
    )
