"""Records to features: words to kinds, statements to uncertainties, cells to typed attributes."""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.io import units
from siting.io.accuracy import Accuracy
from siting.io.faults import refuse
from siting.io.place import Placed, placed
from siting.io.plan import PLAN
from siting.io.plan import placed as placed_plan
from siting.io.records import Document, Reading, Record
from siting.io.stated import Stated
from siting.io.values import day_of, is_blank, length_m, refused_characters, status_of, typed
from siting.kinds import UNKNOWN, folded, vocabulary
from siting.site import Feature, Notice, Origin, Source, Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """The features of one file, in degrees (a plan without control: in its own metres), and what is to be said."""

    features: tuple[Feature, ...]
    sources: tuple[Source, ...]
    notices: tuple[Notice, ...]
    on_earth: bool = True


def gathered(
    reading: Reading, document: Document, *, stated: Stated, default: str, unit_m: float | None = None
) -> Gathered:
    """The features of one file; raises every fault of it at once.

    `default` is the key of `uncertainty.UNSTATED` that holds where nobody states an accuracy.
    `unit_m`: metres of one unit of a drawing, in which its control points are given.
    """
    _within_limits(reading, document)
    placing = _placing(reading, document, stated=stated, unit_m=unit_m)
    places, off = placing.places, placing.faults
    maker = _Maker(document=document, stated=stated, accuracy=Accuracy(stated=stated, default=default))
    features = [maker.feature(place, source) for place, source in _with_sources(places, document)]
    faults = (*reading.faults, *off, *maker.faults)
    if faults:
        refuse(sorted(faults, key=lambda fault: fault.row or 0))
    if not features:
        raise InputError(
            document.fault(
                "no features",
                needed="at least one feature with a position",
                do_next="check that the right layer was exported, or leave the file out",
            )
        )
    notes = (*reading.notes, *maker.accuracy.notes, *maker.notes)
    return Gathered(
        features=tuple(feature for feature in features if feature is not None),
        sources=_sources(places, document, notes),
        notices=(*reading.notices, *placing.notices, *maker.notices, *_unstated(maker.accuracy, document)),
        on_earth=placing.on_earth,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placing:
    places: tuple[Placed, ...]
    faults: tuple[Fault, ...] = ()
    notices: tuple[Notice, ...] = ()
    on_earth: bool = True


def _placing(reading: Reading, document: Document, *, stated: Stated, unit_m: float | None) -> _Placing:
    if unit_m is None or not reading.records or any(record.crs != PLAN for record in reading.records):
        places, off = placed(reading.records, document)
        return _Placing(places=places, faults=off)
    if reading.faults:
        # a coordinate that is no number would spoil the uncertainty of the whole plan
        refuse(reading.faults)
    on = placed_plan(reading.records, stated.control, document=document, unit_m=unit_m)
    return _Placing(places=on.places, notices=on.notices, on_earth=on.frame.on_earth)


def _within_limits(reading: Reading, document: Document) -> None:
    limits = document.limits
    vertices = int(shapely.get_num_coordinates(np.array([r.geometry for r in reading.records], dtype=object)).sum())
    for count, most, noun, option in (
        (len(reading.records), limits.features, "features", "features"),
        (vertices, limits.vertices, "vertices", "vertices"),
    ):
        if count > most:
            raise InputError(
                document.fault(
                    f"{count} {noun}",
                    needed=f"at most {most} {noun} in one file",
                    do_next=f"cut out the part around the site, or raise Limits.{option}",
                )
            )


def _source_name(place: Placed, document: Document, *, several: bool) -> str:
    return f"{document.name} [{place.record.crs}]" if several else document.name


def _with_sources(places: tuple[Placed, ...], document: Document) -> Iterator[tuple[Placed, str]]:
    several = len({place.record.crs for place in places}) > 1
    return ((place, _source_name(place, document, several=several)) for place in places)


def _sources(places: tuple[Placed, ...], document: Document, notes: tuple[str, ...]) -> tuple[Source, ...]:
    # Layers in different systems share different errors, so each system is a source of its own.
    made: dict[str, Source] = {}
    for place, name in _with_sources(places, document):
        if name not in made:
            made[name] = Source(
                name=name,
                sha256=document.sha256,
                shared_sigma_m=place.operation.shared_sigma_m,
                operation=str(place.operation),
                notes=(*notes, *place.operation.notes),
            )
    return tuple(made.values())


def _unstated(accuracy: Accuracy, document: Document) -> tuple[Notice, ...]:
    if not accuracy.unstated:
        return ()
    return (Notice(code="accuracy-unstated", message=accuracy.notes[-1], file=document.name),)


@dataclass(slots=True)
class _Maker:
    """Makes features of one file and collects what is wrong with them."""

    document: Document
    stated: Stated
    accuracy: Accuracy
    faults: list[Fault] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    hinted: Counter[str] = field(default_factory=Counter)

    @property
    def notes(self) -> tuple[str, ...]:
        return tuple(f"kind of {count} features taken from {where}" for where, count in self.hinted.items())

    def feature(self, place: Placed, source: str) -> Feature | None:
        record = place.record
        before = len(self.faults)
        sigma_m = self._read(record, "accuracy", lambda: self.accuracy.sigma_m(record, step_m=place.step_m))
        radius_m = self._read(record, "radius_m", lambda: _radius(record.radius_m))
        level_m = self._read(record, "ground_level_m", lambda: _level(record))
        self._fit_to_show(record)
        kind, word = self._kind(record)
        attributes = {key: typed(value) for key, value in record.attributes.items() if not is_blank(value)}
        if level_m is not None:
            attributes["ground_level_m"] = level_m
        if kind == UNKNOWN:
            attributes["kind_as_written"] = word
        status = self._status(record, attributes)
        seen_on = self._seen_on(record, attributes)
        if len(self.faults) > before:
            return None
        return Feature(
            kind=kind,
            name=re.sub(r"\s+", " ", record.name).strip(),
            geometry=_unwrapped(place.lonlat),
            source=source,
            sigma_m=sigma_m or 0.0,
            radius_m=radius_m,
            status=status,
            seen_on=seen_on,
            origin=Origin(file=self.document.name, layer=record.layer, row=record.row),
            attributes=attributes,
        )

    def _read(self, record: Record, what: str, read: Callable[[], float | None]) -> float | None:
        try:
            return read()
        except ValueError as bad:
            said, do_next = f"{what} of {record.name[:60]!r}: {bad}", "correct the cell, or leave it empty"
            code = units.code_of(getattr(record, "accuracy_m" if what == "accuracy" else what))
            self.faults.append(
                self.document.doubt(
                    code, said, needed=_NEEDED[what], do_next=do_next, row=record.row, accept=units.ACCEPT
                )
                if code
                else self.document.fault(said, needed=_NEEDED[what], do_next=do_next, row=record.row)
            )
            return None

    def _fit_to_show(self, record: Record) -> None:
        texts = {"name": record.name, "kind": record.kind}
        texts |= {key: value for key, value in record.attributes.items() if isinstance(value, str)}
        for where, text in texts.items():
            held = refused_characters(text) or refused_characters(where)
            if held:
                self.faults.append(
                    self.document.fault(
                        f"{where!r} holds {held}",
                        needed="text without hidden characters",
                        do_next="type the text again",
                        row=record.row,
                    )
                )
        if len(record.name) > self.document.limits.name_length:
            self.faults.append(
                self.document.fault(
                    f"a name of {len(record.name)} characters",
                    needed=f"at most {self.document.limits.name_length} characters",
                    do_next="shorten the name, or raise Limits.name_length",
                    row=record.row,
                )
            )

    def _kind(self, record: Record) -> tuple[str, str]:
        if record.kind:
            kind = self._recognised(record.kind)
            if kind == UNKNOWN:
                self._tell_unknown(record, record.kind)
            return kind, record.kind
        if self.stated.kind:
            return self.stated.kind, ""
        hints = [(hint, "a layer, folder, type or symbol") for hint in record.hints]
        hints.append((re.sub(r"[\s_-]*(\d+|\b[A-Z])$", "", record.name), "its name"))
        for hint, where in hints:
            kind = self._recognised(hint)
            if hint and kind != UNKNOWN:
                self.hinted[where] += 1
                return kind, hint
        word = next((hint for hint in record.hints if hint), "")
        self._tell_unknown(record, word)
        return UNKNOWN, word

    def _recognised(self, word: str) -> str:
        return self.stated.kinds.get(folded(word)) or vocabulary().recognise(word)

    def _tell_unknown(self, record: Record, word: str) -> None:
        nearest = vocabulary().nearest(word) if word else ()
        close = f"; nearest known kinds: {', '.join(nearest)}" if nearest else ""
        said = f"kind {word[:60]!r} is not known" if word else "no kind given"
        self.notices.append(
            Notice(
                code="kind-unknown",
                message=f"{said} for {record.name[:60]!r}: no rule looks at it{close}",
                file=self.document.name,
                row=record.row,
            )
        )

    def _status(self, record: Record, attributes: dict[str, object]) -> Status:
        if is_blank(record.status):
            return Status.EXISTING
        status = status_of(record.status)
        if status is None:
            attributes["status_as_written"] = str(record.status)
            self.notices.append(
                Notice(
                    code="status-unknown",
                    message=f"status {str(record.status)[:60]!r} of {record.name[:60]!r} is not known: "
                    "taken as existing (known: existing, proposed, closed)",
                    file=self.document.name,
                    row=record.row,
                )
            )
        return status or Status.EXISTING

    def _seen_on(self, record: Record, attributes: dict[str, object]) -> date | None:
        if is_blank(record.seen_on):
            return None
        day = day_of(record.seen_on)
        if day is None:
            attributes["seen_on_as_written"] = str(record.seen_on)
            self.notices.append(
                Notice(
                    code="date-not-read",
                    message=f"date {str(record.seen_on)[:40]!r} of {record.name[:60]!r} left out: "
                    "write it as 2026-05-14 (day and month could be exchanged)",
                    file=self.document.name,
                    row=record.row,
                )
            )
        return day


_NEEDED = {
    "accuracy": 'a radius in metres such as 5, or "exact"; the level a share such as 0.68',
    "radius_m": "a radius in metres, 0 or more",
    "ground_level_m": "a height in metres",
}


def _radius(value: object) -> float | None:
    if is_blank(value):
        return None
    radius_m = length_m(value)
    if radius_m < 0:
        raise ValueError(f"{radius_m:g} is below zero")
    return radius_m


def _level(record: Record) -> float | None:
    if not is_blank(record.ground_level_m):
        return length_m(record.ground_level_m)
    if record.geometry.geom_type == "Point" and record.geometry.has_z:
        z = float(shapely.get_z(record.geometry))
        return z if z == z and z != 0.0 else None
    return None


def _unwrapped(geometry: BaseGeometry) -> BaseGeometry:
    # Some formats know only collections; one part alone is that part.
    parts = getattr(geometry, "geoms", (geometry,))
    return parts[0] if len(parts) == 1 else geometry
