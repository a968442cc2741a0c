"""A whole batch: which sites are left to do, running them, and what is written of all."""

import time
from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from siting.batch import REFUSED, Row
from siting.engine import run_here, run_there
from siting.errors import InputError
from siting.io import packs as pack_files
from siting.io.sites import Entry, entries, sha256_of
from siting.job import Job
from siting.outputs import batch as out
from siting.outputs.files import refuse_to_replace


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How far a batch is."""

    done: int
    count: int
    refused: int
    kept: int
    "Taken over from an earlier run."
    per_second: float

    @property
    def seconds_left(self) -> float | None:
        """At the speed so far."""
        return (self.count - self.done) / self.per_second if self.per_second > 0 else None


Progress = Callable[[State], None]


def run_batch(
    source: Path, job: Job, *, folder: Path, workers: int, cluster: str | None = None, with_map: bool = True,
    anew: bool = False, progress: Progress = lambda state: None,
) -> tuple[dict[str, Any], tuple[Path, ...]]:  # fmt: skip
    """Judge every site of a folder or list and write what comes of it; returns results.json and the paths written.

    Sites that an earlier run in the same folder finished under the same rules, and that have not changed since, are
    taken over; `anew` does all of them again.
    """
    told = entries(source)
    if not (folder / out.LOG).exists():
        refuse_to_replace(folder, ("summary.csv", "results.json"), overwrite=False)
    settings = job.settings
    with closing(out.Log(folder, settings)) as log:
        rows = {} if anew else _unchanged(log.finished(), told)
        left = [entry for entry in told if entry.shown not in rows]
        kept, refused = len(rows), sum(one["verdict"] == REFUSED for one in rows.values())
        began = time.monotonic()
        with closing(_rows(job, left, workers=workers, cluster=cluster)) as made:
            for number, one in enumerate(made, start=1):
                log.add(one)
                rows[str(one["path"])] = one
                refused += one["verdict"] == REFUSED
                speed = number / max(time.monotonic() - began, 1e-9)
                progress(
                    State(done=kept + number, count=len(told), refused=refused, kept=kept, per_second=speed)
                )  # fmt: skip
    packs = [
        {"pack": pack.id, "title": pack.title, "edition": pack.edition, "sha256": pack.sha256}
        for pack in pack_files.in_force(job.packs or (job.default_pack,), beside=_beside(job))
    ]
    return out.write(folder, rows.values(), settings=settings, title=source.name, packs=packs, with_map=with_map)


def _beside(job: Job) -> Path | None:
    return Path(job.beside) if job.beside else None


def _unchanged(finished: dict[str, Row], told: Sequence[Entry]) -> dict[str, Row]:
    """Rows of sites that are as they were when the row was made."""
    kept = {}
    for entry in told:
        row = finished.get(entry.shown)
        if row is not None and row["sha256"] and row["district"] == entry.district:
            try:
                same = row["sha256"] == sha256_of(Path(entry.path))
            except OSError:
                same = False
            if same:
                kept[entry.shown] = row
    return kept


def _rows(job: Job, left: Sequence[Entry], *, workers: int, cluster: str | None) -> Generator[Row, None, None]:
    if cluster is None:
        if left:
            yield from run_here(job, left, workers=min(workers, len(left)))
        return
    try:
        import distributed  # noqa: F401  # only whether it is there
    except ImportError as error:
        raise InputError.of(
            f"{error.name} is not installed", needed="the extra 'cluster' of this package",
            do_next="pip install 'siting[cluster]', or leave --cluster out",
        ) from None  # fmt: skip
    if left:
        yield from run_there(job, left, address=cluster)
