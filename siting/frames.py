"""Screening and checking of what is in memory: GeoDataFrames in, GeoDataFrames out."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from siting.batch import COLUMNS, Row, ranked, refusal
from siting.engine import run_here
from siting.errors import InputError, SitingError
from siting.io import packs as pack_files
from siting.io.frames import rows_of_frame, site_of_frame
from siting.io.parts import Part, Told
from siting.io.registry import Registry
from siting.io.sites import Entry, entries
from siting.job import Job
from siting.kinds import vocabulary
from siting.outputs.registry import pairs_of, rows_of
from siting.registries import asked_of, joined, joined_ids
from siting.screening.screen import Receptors, Screened, lay_out
from siting.screening.screen import screen as screened_part

DEFAULT_PACKS = ("health-care-waste",)
_ADDED = (
    "nearest", "distance_m", "required_m", "margin_m", "sigma_m", "probability", "verdict", "decided_by", "rule",
    "reason",
)  # fmt: skip


def screen(
    hazards: Any, receptors: Any, *, rules: Sequence[str] = DEFAULT_PACKS, hazard_kind: str | None = None,
    receptor_kind: str | None = None, confidence: float = 0.95,
) -> Any:  # fmt: skip
    """The hazards with what each comes to: one row in, one row out, in the same order and with the same index.

    hazards, receptors: GeoDataFrames of points, lines or areas with a crs; kinds from a column `kind` or as told.
    rules: names of packs, or paths of TOML files.
    Columns added: nearest (id of the receptor), distance_m, required_m, margin_m, sigma_m, probability, verdict,
    decided_by (where not the nearest decides), rule, reason; a row that cannot be judged has the verdict `refused`.
    Lengths in metres on the ground, edge to edge, rounded down.
    A partition of a larger frame comes to what it comes to in the whole, so `dask_geopandas` can hand them out:
    `hazards.map_partitions(screen, receptors, hazard_kind="pit latrine", receptor_kind="well", meta=screen(
    hazards.partitions[0].compute().head(1), receptors, hazard_kind="pit latrine", receptor_kind="well"))`.
    """
    columns: dict[str, list[Any]] = {name: [None] * len(hazards) for name in _ADDED}
    for part, screened, laid, ids in _parts(hazards, receptors, rules, hazard_kind, receptor_kind, confidence):
        made = rows_of(part.layer, part.ids, screened, laid, ids)
        rows = np.zeros(0, dtype=np.int64) if part.layer.row is None else part.layer.row - 1
        for name in _ADDED:
            for at, value in zip(rows.tolist(), made.column(name).to_pylist(), strict=True):
                columns[name][at] = value
        for refused in part.refused:
            columns["verdict"][refused.row - 1] = "refused"
            columns["reason"][refused.row - 1] = refused.reason
    numbers = [name for name in _ADDED if name.endswith("_m") or name == "probability"]
    added = {name: np.array(columns[name], dtype=float) if name in numbers else columns[name] for name in _ADDED}
    return hazards.assign(**added)


def pairs(
    hazards: Any, receptors: Any, *, rules: Sequence[str] = DEFAULT_PACKS, hazard_kind: str | None = None,
    receptor_kind: str | None = None,
) -> Any:  # fmt: skip
    """Every pair closer than its rule, as a DataFrame: hazard, receptor (their ids), distance_m, required_m, rule."""
    import pandas

    made = [
        pairs_of(part.ids, screened, laid, ids).to_pandas()
        for part, screened, laid, ids in _parts(hazards, receptors, rules, hazard_kind, receptor_kind, 0.95)
    ]
    empty = pandas.DataFrame({name: [] for name in ("hazard", "receptor", "distance_m", "required_m", "rule")})
    return pandas.concat(made, ignore_index=True) if made else empty


def _parts(
    hazards: Any, receptors: Any, rules: Sequence[str], hazard_kind: str | None, receptor_kind: str | None,
    confidence: float,
) -> Iterator[tuple[Part, Screened, Receptors, Any]]:  # fmt: skip
    if not len(hazards):
        return
    packs, words = pack_files.in_force(tuple(rules)), vocabulary()
    asked = asked_of(packs)
    itself = hazards is receptors
    other_name = "hazards" if itself else "receptors"
    other = Registry(
        None, replace(Told(kind=receptor_kind), attributes=asked), words, rows_of_frame(receptors, other_name)
    )
    one = Registry(None, replace(Told(kind=hazard_kind), attributes=asked), words, rows_of_frame(hazards, "hazards"))
    held = list(other.parts())
    one.expected = other.bulk
    ids = joined_ids([part.ids for part in held])
    layer = joined([part.layer for part in held], source=other.source)
    laid = lay_out(layer, packs, words, measured_to_itself=itself)
    first = 0
    for part in one.parts():
        yield part, screened_part(part.layer, laid, confidence=confidence, first_row=first), laid, ids
        first += len(part.layer)


def check_many(
    sites: Any, *, rules: Sequence[str] = (), wanted: str | None = None, by: str = "site", workers: int = 1
) -> Any:
    """What each of many sites comes to, as a GeoDataFrame with a row a site, worst first.

    sites: a folder of sites, a list file, a sequence of paths; or a GeoDataFrame of the features of all of them, where
    the column `by` tells which site a feature belongs to.
    rules: packs in force; empty leaves them to each site, and the default pack where it names none.
    wanted: a kind to find a place for on each site that has a boundary.
    workers: processes, for sites on disk.
    A site that cannot be judged is a row with the verdict `refused` and its reason.
    """
    import geopandas
    import shapely

    job = Job(packs=tuple(rules), beside=str(Path.cwd()), wanted=wanted, find=wanted is not None)
    if hasattr(sites, "geometry"):
        rows = list(_of_frame(sites, job, by))
    else:
        told = entries(Path(sites)) if isinstance(sites, str | Path) else tuple(_entry(path) for path in sites)
        rows = [job(entry) for entry in told] if workers == 1 else list(run_here(job, told, workers=workers))
    rows = list(ranked(rows))
    points: Any = [
        None if r["lon"] is None else shapely.Point(float(str(r["lon"])), float(str(r["lat"]))) for r in rows
    ]
    return geopandas.GeoDataFrame({name: [r[name] for r in rows] for name in COLUMNS}, geometry=points, crs="EPSG:4326")


def _entry(path: Any) -> Entry:
    return Entry(path=str(Path(path).resolve()), shown=Path(path).as_posix())


def _of_frame(features: Any, job: Job, by: str) -> Iterator[Row]:
    if by not in features.columns:
        raise InputError.of(
            f"no column {by!r}", needed="a column that tells which site a feature belongs to",
            do_next="name it with by=",
        )  # fmt: skip
    for name, own in features.groupby(by, sort=True):
        try:
            site = site_of_frame(own.drop(columns=by), str(name))
            site, in_force = job.examined_site(site, beside=None)
            yield job.of_site(site, in_force, path=str(name), district="", sha256="")
        except SitingError as error:
            yield refusal(error, name=str(name), path=str(name), district="", sha256="")
