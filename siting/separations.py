"""What a place or a standing installation amounts to, rule by rule: value, limit, margin, verdict, and what to do."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import floor

import numpy as np
import shapely

from siting import clearance
from siting.clearance import IN_PLACE, Places
from siting.frame import bearing_deg
from siting.installation import Installation
from siting.requirements import Demands, Requirement, Sense
from siting.rules import Limit, Measure, Rule, Strength
from siting.site import Feature, Status
from siting.uncertainty import Verdict, coverage_factor, decide, gravest, probability

STEEL_TAPE_SIGMA_M = 0.02
"What a taped length of some tens of metres is good to on easy ground (*common practice*)."
HAIR_M = 1e-6
"Margins are decided to the micrometre: finer differences are rounding noise of the arithmetic."


@dataclass(frozen=True, slots=True, kw_only=True)
class Separation:
    """One rule at one installation: measured, demanded, and what follows."""

    rule: Rule
    limit: Limit
    installation: str
    feature: str
    measure: str
    value: float
    "What was measured, in the unit of the limit."
    required: float
    unit: str
    distance_m: float | None
    "Set for every measure that is a length."
    required_m: float | None
    margin: float
    "Better than the limit by so much, in the unit of the limit."
    sigma: float
    probability: float
    verdict: Verdict
    because: str
    action: str
    start_xy: tuple[float, float] | None = None
    "Nearest point of the installation, on the plane."
    end_xy: tuple[float, float] | None = None
    "Nearest point of the feature."

    @property
    def is_must(self) -> bool:
        """Whether it decides."""
        return self.rule.strength is Strength.MUST

    @property
    def bearing_deg(self) -> float | None:
        """Direction from the installation to the feature."""
        if self.start_xy is None or self.end_xy is None or self.start_xy == self.end_xy:
            return None
        return bearing_deg(self.end_xy[0] - self.start_xy[0], self.end_xy[1] - self.start_xy[1])


def judge(
    demands: Demands, features: Sequence[Feature], *, confidence: float, place: Places = IN_PLACE
) -> tuple[Separation, ...]:
    """Every rule against its governing feature, for one installation at one place.

    `features` are those of the site, among which the nearest is named where a rule asks for any one of several.
    The governing feature of a rule is the one with the smallest probability of meeting it, then the smallest margin.
    """
    laid = clearance.lay_out(demands.requirements, demands.installation)
    margins = clearance.margins(laid, place)[0] if laid.requirements else np.zeros(0)
    best: dict[tuple[str, int], tuple[tuple[float, float], Requirement, float]] = {}
    counts: dict[tuple[str, int], int] = {}
    plan = zip(laid.requirements, (float(value) for value in margins), strict=True)
    fixed = ((r, fixed_margin(r)) for r in demands.requirements if not r.in_plan)
    for requirement, margin in (*plan, *fixed):
        margin = _settled(margin)
        key = (
            requirement.rule.full_id,
            requirement.rule.limits.index(requirement.limit) if requirement.limit in requirement.rule.limits else 0,
        )
        met = probability(margin, requirement.sigma, strict=requirement.limit.is_strict)
        counts[key] = counts.get(key, 0) + (decide(met, confidence=confidence) is Verdict.FAILS)
        rank = (met, margin)
        if key not in best or rank < best[key][0]:
            best[key] = (rank, requirement, margin)
    return tuple(
        _separation(requirement, margin, demands.installation, place, features, confidence, counts[key])
        for key, (_, requirement, margin) in best.items()
    )


def overall(separations: Iterable[Separation], *, unassessed: bool) -> Verdict:
    """The verdict of a whole: rules that only advise decide nothing."""
    verdicts = [s.verdict for s in separations if s.is_must]
    return gravest([*verdicts, *([Verdict.NOT_ASSESSED] if unassessed else [])] or [Verdict.MEETS])


def _settled(margin: float) -> float:
    return round(margin / HAIR_M) * HAIR_M


def fixed_margin(requirement: Requirement) -> float:
    """The margin of a requirement that is the same everywhere, in the unit of its limit."""
    assert requirement.value is not None
    difference = requirement.value - requirement.limit_m
    return difference if requirement.limit.is_minimum else -difference


def _separation(
    requirement: Requirement,
    margin: float,
    installation: Installation,
    place: Places,
    features: Sequence[Feature],
    confidence: float,
    failing: int,
) -> Separation:
    start, end, feature, distance = _measured(requirement, margin, installation, place, features)
    # Overlapping counts as no distance at all; the margin is then the whole of the limit.
    if distance is not None and not requirement.sided:
        margin = max(margin, -requirement.required) if requirement.sense is Sense.OUTSIDE else margin
    value, margin_shown, sigma = _reading(requirement, margin, distance, place)
    met = probability(margin, requirement.sigma, strict=requirement.limit.is_strict)
    verdict = decide(met, confidence=confidence)
    length = requirement.limit.unit == "m"
    return Separation(
        rule=requirement.rule,
        limit=requirement.limit,
        installation=installation.name,
        feature=feature.name if feature else "",
        measure=str(requirement.rule.measure),
        value=value,
        required=requirement.required,
        unit=requirement.limit.unit,
        distance_m=value if length else None,
        required_m=requirement.required if length else None,
        margin=margin_shown,
        sigma=sigma,
        probability=met,
        verdict=verdict,
        because=_because(requirement, feature, failing),
        action=_action(requirement, verdict, value, margin_shown, sigma, confidence, installation, feature),
        start_xy=start,
        end_xy=end,
    )


Point2 = tuple[float, float]


def _measured(
    requirement: Requirement, margin: float, installation: Installation, place: Places, features: Sequence[Feature]
) -> tuple[Point2 | None, Point2 | None, Feature | None, float | None]:
    """The shortest line to the governing feature: its ends, the feature, and its length [m]."""
    if requirement.geometry is None:
        return None, None, None, None
    outline = installation.outline(requirement.rule.outline)
    shape = outline.at(place.x_m, place.y_m, place.orientation_deg)[0]
    feature = requirement.feature
    if feature is None and requirement.sense is Sense.WITHIN:
        feature = _nearest(shape, requirement, features, installation)
    if feature is None:
        return None, None, None, None
    inside = requirement.sense is Sense.INSIDE
    target = shapely.boundary(requirement.geometry) if inside else feature.geometry
    gap = feature.radius_m or 0.0
    start, end = clearance.nearest_line(outline, shape, target, 0.0 if inside else gap)
    if inside:
        distance = margin + requirement.limit_m
    elif requirement.sided:
        distance = max(0.0, float(shapely.distance(shape, target)) - outline.radius_m - gap)
    elif requirement.sense is Sense.WITHIN:
        distance = requirement.limit_m - margin
    else:
        distance = max(0.0, margin + requirement.limit_m)
    return _pair(start), _pair(end), feature, distance


def _pair(point: np.ndarray) -> Point2:
    return float(point[0]), float(point[1])


def _nearest(
    shape: object, requirement: Requirement, features: Sequence[Feature], installation: Installation
) -> Feature | None:
    near = [f for f in features if f.kind in requirement.rule.from_kinds and f is not installation.stands_as]
    return min(near, key=lambda f: (shapely.distance(shape, f.geometry) - (f.radius_m or 0.0), f.name), default=None)


def _reading(
    requirement: Requirement, margin: float, distance: float | None, place: Places
) -> tuple[float, float, float]:
    """Value, margin and sigma as they are printed, in the unit of the limit."""
    if requirement.plane is not None:
        a, b, c = requirement.plane
        value = float(a * place.x_m[0] + b * place.y_m[0] + c)
        difference = value - requirement.required
        return value, difference if requirement.limit.is_minimum else -difference, requirement.value_sigma
    if distance is None:
        assert requirement.value is not None
        return requirement.value, margin, requirement.sigma
    if requirement.sided:
        # On the side it binds, the margin is that of the distance; off it, how far away that side begins.
        return (
            distance,
            (margin if margin >= 0.0 else max(distance - requirement.required, -requirement.required)),
            requirement.sigma,
        )
    return distance, margin, requirement.sigma


def floored(length_m: float) -> str:
    """A length to the centimetre, rounded down so that rounding never flatters."""
    return f"{floor(length_m * 100.0 + 1e-6) / 100.0:.2f}"


def _because(requirement: Requirement, feature: Feature | None, failing: int) -> str:
    parts = [requirement.because] if requirement.because else []
    if requirement.sided and feature is not None and requirement.rule.side:
        parts.append(f"applies {requirement.rule.side} of {feature.name}")
    if feature is not None and feature.is_bare_point:
        parts.append(f"{feature.name} has no size given and counts as a point")
    if feature is not None and feature.status is Status.CLOSED:
        parts.append(f"{feature.name} is closed but stays a hazard")
    if failing > 1:
        parts.append(f"{failing} features fail this rule; the worst is shown")
    return "; ".join(parts)


def _action(
    requirement: Requirement,
    verdict: Verdict,
    value: float,
    margin: float,
    sigma: float,
    confidence: float,
    installation: Installation,
    feature: Feature | None,
) -> str:
    if verdict is Verdict.MEETS:
        return ""
    unit = requirement.limit.unit
    if requirement.rule.measure is Measure.ATTRIBUTE:
        return f"needed: {requirement.limit.as_written}"
    to = feature.name if feature else "its limit"
    if verdict is Verdict.FAILS:
        more = f"{floored(-margin + 0.00999)} {unit}"
        away = {Sense.OUTSIDE: "farther from", Sense.INSIDE: "farther inside", Sense.WITHIN: "nearer to"}
        if requirement.sense is Sense.FIXED or requirement.plane is not None:
            return f"short by {more}"
        return f"must stand {more} {away[requirement.sense]} {to}"
    return _what_to_tape(requirement, value, margin, confidence, installation, to)


def _what_to_tape(
    requirement: Requirement, value: float, margin: float, confidence: float, installation: Installation, to: str
) -> str:
    """Which length to tape, how well, and at which reading it is settled."""
    factor = coverage_factor(confidence)
    needed_sigma = max(abs(margin) / factor, STEEL_TAPE_SIGMA_M)
    reading = requirement.required + factor * STEEL_TAPE_SIGMA_M
    if not requirement.limit.is_minimum:
        reading = requirement.required - factor * STEEL_TAPE_SIGMA_M
    if requirement.plane is not None or requirement.sense is Sense.FIXED:
        return f"measure it to within {floored(2.0 * needed_sigma)} {requirement.limit.unit} (95 %)"
    if requirement.sided:
        return f"settle on which side of {to} it stands, or tape the distance (about {floored(value)} m)"
    relation = "at least" if requirement.limit.is_minimum else "at most"
    return (
        f"tape {installation.name} to {to}, nearest edges (about {floored(value)} m), to within "
        f"{floored(2.0 * needed_sigma)} m; with a steel tape it meets at a reading of {relation} {reading:.2f} m"
    )
