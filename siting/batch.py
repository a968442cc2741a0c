"""Many sites: what one of them comes to as a row, which rows are worst, and what they add up to."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from siting.assess import Assessment
from siting.errors import SitingError
from siting.finding import apart
from siting.separations import Separation
from siting.uncertainty import Verdict

REFUSED = "refused"
"In place of a verdict: the site could not be read, or is too doubtful to be judged."
GRAVITY = (Verdict.FAILS, Verdict.TOO_CLOSE, Verdict.NOT_ASSESSED, REFUSED, Verdict.MEETS)
COLUMNS = (
    "site", "path", "district", "verdict", "reason", "meets", "fails", "too_close_to_call", "not_assessed",
    "installations", "features", "worst_rule", "worst_installation", "worst_feature", "worst_margin_m",
    "worst_probability", "wanted", "places", "best_margin_m", "bound_m", "ground_m2", "shortfall_m", "suspect",
    "doubts", "lon", "lat", "sha256",
)  # fmt: skip
"Of a row, in the order in which tables have them."

Row = dict[str, object]


def row(assessment: Assessment, *, path: str, district: str, sha256: str) -> Row:
    """What a site comes to."""
    site, finding = assessment.site, assessment.finding
    must = [s for s in assessment.separations if s.is_must]
    counts = Counter(s.verdict for s in must)
    worst = min(must, key=_badness, default=None)
    unlooked = sum(1 for _, u in assessment.unassessed if u.rule.strength == "must")
    made: Row = {
        "site": site.name,
        "path": path,
        "district": district,
        "verdict": str(assessment.verdict),
        "reason": _reason(assessment, worst),
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
    if finding is not None:
        placed = finding.placed
        made |= {
            "wanted": finding.installation.kind,
            "places": len(placed),
            "best_margin_m": _floored(placed[0].candidate.margin_m) if placed else None,
            "bound_m": round(placed[0].candidate.bound_m, 3) if placed else None,
            "ground_m2": _floored(finding.ground.nominal.area),
            "shortfall_m": None if finding.conflict is None else round(finding.conflict.shortfall_m, 3),
        }
    return {name: made.get(name) for name in COLUMNS}


def _badness(separation: Separation) -> tuple[float, float]:
    margin = separation.margin_m
    return separation.probability, separation.margin if margin is None else margin


def _floored(length_m: float | None) -> float | None:
    from math import floor

    return None if length_m is None else floor(length_m * 1e3 + 1e-6) / 1e3


def _reason(assessment: Assessment, worst: Separation | None) -> str:
    verdict, finding = assessment.verdict, assessment.finding
    if finding is not None and finding.conflict is not None:
        return f"no place for a {finding.installation.kind}"
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
