"""Many sites: what one of them comes to as a row, which rows are worst, and what they add up to."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

from siting.assess import Assessment, Finding
from siting.candidates import best_places
from siting.clearance import one_place
from siting.demands import demands
from siting.errors import SitingError
from siting.feasible import ground_left
from siting.finding import apart
from siting.installation import wanted
from siting.requirements import Question
from siting.separations import Separation, fixed_margin, judge, overall
from siting.site import Request
from siting.sizes import Size
from siting.uncertainty import Verdict, gravest

REFUSED = "refused"
"In place of a verdict: the site could not be read, or is too doubtful to be judged."
GRAVITY = (Verdict.FAILS, Verdict.TOO_CLOSE, Verdict.NOT_ASSESSED, REFUSED, Verdict.MEETS)
COLUMNS = (
    "site", "path", "district", "verdict", "reason", "meets", "fails", "too_close_to_call", "not_assessed",
    "installations", "features", "worst_rule", "worst_installation", "worst_feature", "worst_margin_m",
    "worst_probability", "wanted", "place", "best_margin_m", "bound_m", "ground_m2", "shortfall_m", "suspect",
    "doubts", "lon", "lat", "sha256",
)  # fmt: skip
"Of a row, in the order in which tables have them."

Row = dict[str, object]


GAP_M = 0.25
"A batch proves its best place to a quarter of a metre; `siting find` then goes finer."
ORIENTATIONS_DEG = (0.0, 45.0, 90.0, 135.0)
"In which the ground left is reckoned: half as many as on a map, so that the area errs towards too little."


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """The best place of a site in a few numbers: what a table of thousands has room for."""

    kind: str
    margin_m: float
    "Smallest margin over the requirements that must hold; below zero where there is no place."
    bound_m: float
    "Proved: no place has a larger one."
    ground_m2: float
    "Where it may stand if every position is right."
    verdict: Verdict
    "Of the place, or fails where there is none."

    @property
    def is_place(self) -> bool:
        """Whether it may stand there."""
        return self.verdict is not Verdict.FAILS


def best_place(question: Question, request: Request, size: Size) -> Best:
    """The best place for what is wanted, on a site that has a boundary; no more is reckoned than a row shows."""
    assert question.land is not None
    installation = wanted(request, size.dimensions, question.words)
    demanded = demands(question, installation)
    must = [r for r in demanded.requirements if r.is_must]
    first = best_places(demanded.requirements, installation, question.land, count=1, gap_m=GAP_M)[0]
    unmet = any(not r.in_plan and fixed_margin(r) < 0 for r in must)
    angles = (
        (*ORIENTATIONS_DEG, first.orientation_deg) if installation.turns else (installation.orientation_deg or 0.0,)
    )
    verdict = Verdict.FAILS
    if first.margin_m >= 0.0 and not unmet:
        place = one_place(first.x_m, first.y_m, first.orientation_deg)
        rows = judge(demanded, question.site.features, confidence=question.site.confidence, place=place)
        verdict = overall(rows, unassessed=any(u.rule.strength == "must" for u in demanded.unassessed))
    return Best(
        kind=installation.kind,
        margin_m=first.margin_m,
        bound_m=first.bound_m,
        ground_m2=ground_left(must, installation, question.land, angles, factor=0.0).area,
        verdict=verdict,
    )


def found(finding: Finding) -> Best:
    """The same numbers from a whole finding, where a row needs one: a successor has to fit as well."""
    conflict, placed = finding.conflict, finding.placed
    margin_m = placed[0].candidate.margin_m if placed else -conflict.shortfall_m if conflict else 0.0
    bound_m = placed[0].candidate.bound_m if placed else conflict.bound_m if conflict else 0.0
    return Best(
        kind=finding.installation.kind,
        margin_m=margin_m,
        bound_m=bound_m,
        ground_m2=finding.ground.nominal.area,
        verdict=placed[0].verdict if placed else Verdict.FAILS,
    )


def row(assessment: Assessment, best: Best | None, *, path: str, district: str, sha256: str) -> Row:
    """What a site comes to: what stands on it, and the best place for what is wanted."""
    site = assessment.site
    must = [s for s in assessment.separations if s.is_must]
    counts = Counter(s.verdict for s in must)
    worst = min(must, key=_badness, default=None)
    unlooked = sum(1 for _, u in assessment.unassessed if u.rule.strength == "must")
    made: Row = {
        "site": site.name,
        "path": path,
        "district": district,
        "verdict": str(gravest([assessment.verdict, *([best.verdict] if best else [])])),
        "reason": _reason(assessment, best, worst),
        "meets": counts[Verdict.MEETS],
        "fails": counts[Verdict.FAILS],
        "too_close_to_call": counts[Verdict.TOO_CLOSE],
        "not_assessed": unlooked,
        "installations": len({s.installation for s in assessment.separations}),
        "features": len(site.features),
        "suspect": bool(site.findings),
        "doubts": ", ".join(sorted({f.code for f in site.findings})),
        "lon": None if site.frame.lon is None else round(site.frame.lon, 6),
        "lat": None if site.frame.lat is None else round(site.frame.lat, 6),
        "sha256": sha256,
    }
    if worst is not None:
        made |= {
            "worst_rule": worst.rule.full_id,
            "worst_installation": worst.installation,
            "worst_feature": worst.feature,
            "worst_margin_m": _floored(worst.margin_m),
            "worst_probability": round(worst.probability, 6),
        }
    if best is not None:
        made |= {
            "wanted": best.kind,
            "place": best.is_place,
            "best_margin_m": _floored(best.margin_m),
            "bound_m": ceil(best.bound_m * 1e3 - 1e-6) / 1e3,
            "ground_m2": floor(best.ground_m2 * 10.0) / 10.0,
            "shortfall_m": ceil(max(0.0, -best.margin_m) * 1e3 - 1e-6) / 1e3,
        }
    return {name: made.get(name) for name in COLUMNS}


def _badness(separation: Separation) -> tuple[float, float]:
    margin = separation.margin_m
    return separation.probability, separation.margin if margin is None else margin


def _floored(length_m: float | None) -> float | None:
    return None if length_m is None else floor(length_m * 1e3 + 1e-6) / 1e3


def _reason(assessment: Assessment, best: Best | None, worst: Separation | None) -> str:
    verdict = assessment.verdict
    if best is not None and not best.is_place:
        return f"no place for a {best.kind}"
    if verdict is Verdict.NOT_ASSESSED:
        wanted = {u.look_for: None for _, u in assessment.unassessed if u.rule.strength == "must"}
        return f"look for {', '.join(list(wanted)[:4])}" + (f" and {len(wanted) - 4} more" if len(wanted) > 4 else "")
    if verdict is not Verdict.MEETS and worst is not None:
        return f"{worst.installation} / {worst.feature or worst.measure} [{worst.rule.full_id}]"
    return ""


def refusal(error: SitingError, *, name: str, path: str, district: str, sha256: str) -> Row:
    """The row of a site that could not be judged: its first fault, and how many more."""
    told, _ = apart(error)
    first = error.faults[0]
    more = f" (and {len(error.faults) - 1} more)" if len(error.faults) > 1 else ""
    made: Row = {
        "site": name,
        "path": path,
        "district": district,
        "verdict": REFUSED,
        "reason": f"{first.where}{first.found}{more}; needed: {first.needed}",
        "suspect": True,
        "doubts": ", ".join(sorted({f.code for f in told})),
        "sha256": sha256,
    }
    return {column: made.get(column) for column in COLUMNS}


def lost(reason: str, *, name: str, path: str, district: str, sha256: str) -> Row:
    """The row of a site whose worker died on it."""
    error = SitingError.of(reason, needed="a site that one worker can hold", do_next="run it alone with siting check")
    return refusal(error, name=name, path=path, district=district, sha256=sha256)


def ranked(rows: Iterable[Row]) -> tuple[Row, ...]:
    """Worst first: failing by most, then too close to call, not assessed, refused; ties by path."""

    def key(one: Row) -> tuple[int, float, float, str]:
        shortfall, margin = one["shortfall_m"], one["worst_margin_m"]
        worst = min(
            -float(shortfall) if isinstance(shortfall, int | float) else 0.0,
            float(margin) if isinstance(margin, int | float) else 0.0,
        )
        probability = one["worst_probability"]
        likely = float(probability) if isinstance(probability, int | float) else 1.0
        return GRAVITY.index(str(one["verdict"])), worst, likely, str(one["path"])

    return tuple(sorted(rows, key=key))


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """Sites of one district by verdict and by the reason they were refused for, and how many rest on suspect data."""

    district: str
    verdicts: dict[str, int]
    doubts: dict[str, int]
    "Code of a doubt to the sites that have it."
    suspect: int

    @property
    def sites(self) -> int:
        """How many in all."""
        return sum(self.verdicts.values())


def counted(rows: Sequence[Row]) -> tuple[Count, ...]:
    """All sites, then each district, that with most failures first."""
    names = sorted({str(one["district"] or "") for one in rows})
    by_name = [_count(name, [one for one in rows if str(one["district"] or "") == name]) for name in names]
    by_name.sort(key=lambda c: (-c.verdicts.get(Verdict.FAILS, 0), c.district))
    return (_count("all", rows), *by_name)


def _count(district: str, rows: Sequence[Row]) -> Count:
    verdicts = Counter(str(one["verdict"]) for one in rows)
    doubts = Counter(code for one in rows for code in str(one["doubts"] or "").split(", ") if code)
    return Count(
        district=district,
        verdicts={v: verdicts[v] for v in map(str, GRAVITY) if verdicts[v]},
        doubts=dict(sorted(doubts.items())),
        suspect=sum(bool(one["suspect"]) for one in rows),
    )
