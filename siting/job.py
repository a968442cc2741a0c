"""One site from its path to plain data: all that an engine needs to run many of them, here or elsewhere.

A job is a frozen value that can be called; it is pickled with its settings, and a worker needs nothing else but the
files, at the same path.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from siting import __version__
from siting.assess import Assessment, assess
from siting.batch import Row, best_place, found, refusal, row
from siting.doctor.examine import examined
from siting.errors import InputError, SitingError
from siting.io import packs as pack_files
from siting.io.read import read_site
from siting.io.sites import Entry, sha256_of
from siting.kinds import vocabulary
from siting.requirements import Question
from siting.rules import Pack
from siting.site import Request, Site
from siting.sizes import can_be_placed, size
from siting.uncertainty import Verdict

MAPS = ("none", "failing", "all")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is done to each site."""

    packs: tuple[str, ...] = ()
    "Packs in force; empty leaves them to each site."
    default_pack: str = "health-care-waste"
    "Where neither the command nor the site names one."
    beside: str | None = None
    "Folder that paths of packs named on the command line are looked up in."
    wanted: str | None = None
    "Kind to place; None takes the first [[place]] of each site, where it has one."
    find: bool = True
    assume_crs: str | None = None
    maps: str = "none"
    maps_folder: str = ""
    "Folder that maps of single sites go to, each below its own name."

    @property
    def settings(self) -> str:
        """Checksum of all that decides a result but the site itself: maps and folders do not."""
        packs = "".join(pack.sha256 for pack in _packs(self.packs or (self.default_pack,), self.beside))
        told = (__version__, self.packs, self.default_pack, packs, self.wanted, self.find, self.assume_crs)
        return sha256(repr(told).encode()).hexdigest()[:16]

    def __call__(self, entry: Entry) -> Row:
        """The row of one site; whatever is wrong with it is a row with its reason."""
        path = Path(entry.path)
        told = {"path": entry.shown, "district": entry.district, "sha256": ""}
        try:
            told["sha256"] = sha256_of(path)
            site, in_force = self.examined(path)
            made = self.of_site(site, in_force, **told)
        except SitingError as error:
            return refusal(error, name=entry.name, **told)
        except OSError as error:
            fault = SitingError.of(
                f"cannot be read: {error.strerror}", needed="files this user may read", do_next="check the disk"
            )
            return refusal(fault, name=entry.name, **told)
        except Exception as error:
            # A defect of this program is told in its row, so that one site does not stop ten thousand.
            fault = SitingError.of(
                f"a defect of this program: {type(error).__name__}: {str(error)[:200]}",
                needed="a site that it can judge",
                do_next="report it with the site",
            )
            return refusal(fault, name=entry.name, **told)
        if self.maps == "all" or (self.maps == "failing" and made["verdict"] == Verdict.FAILS):
            self._draw(entry, site, in_force)
        return made

    def examined(self, path: Path) -> tuple[Site, tuple[Pack, ...]]:
        """A site read and examined, and the packs in force on it."""
        site = read_site(path, assume_crs=self.assume_crs)
        return self.examined_site(site, beside=str(path if path.is_dir() else path.parent))

    def examined_site(self, site: Site, *, beside: str | None) -> tuple[Site, tuple[Pack, ...]]:
        """A site examined, and the packs in force; `beside` is where packs that it names itself are looked up."""
        wanted = self.packs or site.packs or (self.default_pack,)
        beside = self.beside if self.packs else beside
        in_force = _packs(wanted, beside if any(name.endswith(".toml") for name in wanted) else None)
        return examined(replace(site, packs=wanted), in_force), in_force

    def of_site(self, site: Site, in_force: tuple[Pack, ...], *, path: str, district: str, sha256: str) -> Row:
        """The row of a site that is read and examined."""
        request, best = self._request(site), None
        if request is not None and request.keep_reserve:
            assessment = self.assessed(site, in_force)
            assert assessment.finding is not None
            best = found(assessment.finding)
            return row(assessment, best, path=path, district=district, sha256=sha256)
        assessment = assess(site, in_force, vocabulary())
        if request is not None:
            question = Question(site=site, packs=in_force, words=vocabulary())
            best = best_place(question, request, size(request))
        return row(assessment, best, path=path, district=district, sha256=sha256)

    def assessed(self, site: Site, in_force: tuple[Pack, ...]) -> Assessment:
        """The same site with everything that its map and table show."""
        request = self._request(site)
        if request is None:
            return assess(site, in_force, vocabulary())
        return assess(site, in_force, vocabulary(), request=request, size=size(request))

    def _request(self, site: Site) -> Request | None:
        if not self.find or not site.boundaries:
            return None
        if self.wanted is None:
            return site.requests[0] if site.requests else None
        return next((r for r in site.requests if r.kind == self.wanted), Request(kind=self.wanted))

    def _draw(self, entry: Entry, site: Site, in_force: tuple[Pack, ...]) -> None:
        from siting.outputs import results, table
        from siting.outputs.files import write_all
        from siting.outputs.map import map_page

        assessment = self.assessed(site, in_force)
        contents: Mapping[str, bytes] = {
            "map.html": map_page(assessment).encode(),
            "compliance.csv": table.as_csv(assessment),
            "results.json": results.as_json(results.results(assessment)).encode(),
        }
        write_all(Path(self.maps_folder) / _flat(entry.shown), contents, overwrite=True)


def placeable(word: str) -> str:
    """The kind that a word means, when it can be placed; raises InputError."""
    words = vocabulary()
    kind = words.recognise(word)
    if can_be_placed(kind, words):
        return kind
    near = [k for k in words.nearest(word) if can_be_placed(k, words)]
    raise InputError.of(
        f"{word!r} is wanted: not a kind that can be placed",
        needed="something that can be placed, such as 'placenta pit', 'pit latrine' or 'well'",
        do_next=f"did you mean {' or '.join(map(repr, near))}?" if near else "see `siting rules --kinds`",
    )


def _flat(shown: str) -> str:
    """A folder name of a site's own, made of its path and told apart from every other by a few figures."""
    plain = "".join(c if c.isalnum() or c in "-_." else "-" for c in shown).strip(".")[:80]
    return f"{plain}-{sha256(shown.encode()).hexdigest()[:6]}"


@lru_cache(maxsize=16)
def _packs(wanted: tuple[str, ...], beside: str | None) -> tuple[Pack, ...]:
    return pack_files.in_force(wanted, beside=Path(beside) if beside else None)
