"""The public names in one import line.

>>> from siting.api import check, check_many, screen   # doctest: +SKIP
"""

from collections.abc import Sequence
from pathlib import Path

from siting.assess import Assessment, assess
from siting.errors import Fault, InputError, SitingError
from siting.frames import check_many, pairs, screen
from siting.io.packs import in_force, load
from siting.io.read import read_site
from siting.job import Job, placeable
from siting.outputs.map import map_page
from siting.outputs.results import results
from siting.registries import screen_files
from siting.runs import run_batch
from siting.site import Feature, Request, Site
from siting.sizes import size
from siting.uncertainty import Verdict, probability, sigma_from_radius

__all__ = [
    "Assessment",
    "Fault",
    "Feature",
    "InputError",
    "Job",
    "Request",
    "Site",
    "SitingError",
    "Verdict",
    "assess",
    "check",
    "check_many",
    "find",
    "in_force",
    "load",
    "map_page",
    "pairs",
    "probability",
    "read_site",
    "results",
    "run_batch",
    "screen",
    "screen_files",
    "sigma_from_radius",
    "size",
]


def check(site: Path | str, *, rules: Sequence[str] = ()) -> Assessment:
    """What stands on a site, judged: a folder with site.toml or one file; `results` and `map_page` show it."""
    job = Job(packs=tuple(rules), find=False)
    return job.assessed(*job.examined(Path(site)))


def find(site: Path | str, *, wanted: str | None = None, rules: Sequence[str] = ()) -> Assessment:
    """The same, with the best places for what is wanted: a kind, or the first [[place]] of the site."""
    job = Job(packs=tuple(rules), wanted=placeable(wanted) if wanted else None)
    return job.assessed(*job.examined(Path(site)))
