"""From two tables on disk to the files of a screening: receptors whole, hazards part by part."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from siting.assess import CAUTIONS
from siting.io.parts import Told
from siting.io.registry import Registry, repeated_ids
from siting.io.rows import needs
from siting.kinds import Vocabulary
from siting.layer import Column, Layer
from siting.outputs.growing import Files
from siting.outputs.registry import SCHEMA, Tables, rule_row
from siting.rules import Pack
from siting.screening.lines import TOWARDS, answerable
from siting.screening.screen import Receptors, lay_out, screen

Progress = Callable[[int], None]
"Told how many hazards are done."


def screen_files(
    hazards: Path,
    receptors: Path,
    packs: Sequence[Pack],
    words: Vocabulary,
    *,
    folder: Path,
    confidence: float,
    hazards_told: Told | None = None,
    receptors_told: Told | None = None,
    as_csv: bool = False,
    with_map: bool = True,
    overwrite: bool = False,
    progress: Progress = lambda done: None,
) -> dict[str, Any]:
    """Screen one table of hazards against one of receptors and write what comes of it; returns results.json.

    Hazards are streamed: memory does not grow with their number. Receptors are held whole (about 200 bytes each).
    Raises InputError and OutputError; no file appears unless all do.
    """
    try:
        import pyarrow  # noqa: F401  # only whether it is there
        import scipy  # noqa: F401  # only whether it is there
    except ImportError as error:
        raise needs("screen", error) from None
    asked = asked_of(packs)
    one = Registry(hazards, replace(hazards_told or Told(), attributes=asked), words)
    other = Registry(receptors, replace(receptors_told or Told(), attributes=asked), words)
    names = Tables.names(as_csv=as_csv, with_map=with_map)
    with Files(folder, names, overwrite=overwrite) as files:
        parts = list(other.parts())
        one.expected = other.bulk
        ids = joined_ids([part.ids for part in parts])
        layer = joined([part.layer for part in parts], source=other.source)
        itself = one.source == other.source
        laid = lay_out(layer, packs, words, measured_to_itself=itself)
        tables = Tables(files, laid, ids, as_csv=as_csv)
        tables.refused(other.name, [r for part in parts for r in part.refused])
        suspect_receptors = sum(int(part.suspect.sum()) for part in parts)
        del parts
        done = first = 0
        kinds: set[str] = set()
        for part in one.parts():
            screened = screen(part.layer, laid, confidence=confidence, first_row=first)
            tables.part(part.layer, part.ids, screened, part.suspect)
            tables.refused(one.name, part.refused)
            kinds |= {str(v) for v in part.layer.kind.values}
            first += len(part.layer)
            done += len(part.layer) + len(part.refused)
            progress(done)
        whole = _results(one, other, packs, laid, confidence, kinds, suspect_receptors)
        title = f"{one.name} against {other.name}"
        return tables.close(whole, title=title, with_map=with_map)


def _results(
    one: Registry, other: Registry, packs: Sequence[Pack], laid: Receptors, confidence: float, kinds: set[str],
    suspect_receptors: int,
) -> dict[str, object]:  # fmt: skip
    without = {id(line) for line in laid.rules_without_receptors}
    asked = [line for line in laid.lines if line.rule.for_kinds & kinds]
    return {
        "schema": SCHEMA,
        "rules": [{"pack": p.id, "title": p.title, "edition": p.edition, "sha256": p.sha256} for p in packs],
        "confidence": confidence,
        "inputs": [
            {
                "file": table.name, "sha256": table.sha256, "rows": table.count, "notes": list(table.notes),
                "repeated_ids": repeated_ids(table), "reasons": dict(sorted(table.reasons.items())),
            }
            for table in (one, other)
        ],
        "rows": {
            role: {
                "read": table.count, "judged": table.count - table.refused, "refused": table.refused,
                "suspect": suspect, "accuracy_unstated": table.unstated,
            }
            for role, table, suspect in (("hazards", one, one.suspect), ("receptors", other, suspect_receptors))
        },
        "screened": [rule_row(line) for line in asked if id(line) not in without],
        "no_receptors": [rule_row(line) for line in asked if id(line) in without],
        "not_screened": [
            {"rule": u.rule.full_id, "reason": u.reason, "citation": str(u.rule.citation)}
            for u in laid.unanswered
            if u.rule.for_kinds & kinds
        ],
        "of_those_recorded": True,
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def asked_of(packs: Sequence[Pack]) -> frozenset[str]:
    """Attributes that the packs ask for, without their owner, and the bearings that tell sides."""
    return frozenset(n.split(".", 1)[1] for line in answerable(packs)[0] for n in line.needs) | set(TOWARDS.values())


def joined_ids(parts: Sequence[Any]) -> Any:
    """The ids of several parts as one Arrow array."""
    import pyarrow as pa

    return pa.concat_arrays([p.combine_chunks() if isinstance(p, pa.ChunkedArray) else p for p in parts])


def joined(layers: Sequence[Layer], *, source: str) -> Layer:
    """Several parts of one table as one layer."""
    names = sorted({name for layer in layers for name in layer.attributes})
    drawn = any(layer.shapes is not None for layer in layers)
    return Layer(
        lonlat=np.concatenate([layer.lonlat for layer in layers]),
        kind=_columns([layer.kind for layer in layers], [len(layer) for layer in layers]),
        sigma_m=np.concatenate([layer.sigma_m for layer in layers]),
        radius_m=np.concatenate([layer.radius_m for layer in layers]),
        shapes=np.concatenate([_shapes(layer) for layer in layers]) if drawn else None,
        source=source,
        shared_sigma_m=max(layer.shared_sigma_m for layer in layers),
        attributes={
            name: _columns([layer.attributes.get(name) for layer in layers], [len(layer) for layer in layers])
            for name in names
        },
    )


def _shapes(layer: Layer) -> np.ndarray:
    return np.full(len(layer), None, dtype=object) if layer.shapes is None else layer.shapes


def _columns(columns: Sequence[Column | None], lengths: Sequence[int]) -> Column:
    place: dict[tuple[type, object], int] = {}
    codes = []
    for column, length in zip(columns, lengths, strict=True):
        if column is None:
            codes.append(np.full(length, -1, dtype=np.int32))
            continue
        to = [place.setdefault((type(value), value), len(place)) for value in column.values]
        codes.append(np.array([*to, -1], dtype=np.int32)[column.code])
    return Column(values=tuple(value for _, value in place), code=np.concatenate(codes))
