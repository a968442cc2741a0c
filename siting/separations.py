"""What a place or a standing installation amounts to, rule by rule: value, limit, margin, verdict, and what to do."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting import clearance
from siting.clearance import IN_PLACE, Places
from siting.frame import bearing_deg
from siting.installation import Installation
from siting.kinds import BOUNDARY
from siting.requirements import Demands, Requirement, Sense
from siting.rules import Limit, Measure, Rule, Strength
from siting.site import Feature, Status
from siting.uncertainty import Verdict, coverage_factor, decide, gravest, probability

Point2 = tuple[float, float]

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
    def margin_m(self) -> float | None:
        """The margin in metres, for every measure that is a length or stands for one."""
        if self.required_m is None:
            return None
        return self.margin if self.unit == "m" or not self.required else self.margin * self.required_m / self.required

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
    The governing feature of a rule is the one with the smallest probability of meeting it, then one on the side that
    binds before one that is not, then the smallest margin.
    """
    laid = clearance.lay_out(demands.requirements, demands.installation)
    margins = clearance.margins(laid, place)[0] if laid.requirements else np.zeros(0)
    in_plan = dict(zip(map(id, laid.requirements), margins.tolist(), strict=True))
    governing: dict[tuple[str, str], _Judged] = {}
    for requirement in demands.requirements:
        margin = in_plan[id(requirement)] if requirement.in_plan else fixed_margin(requirement)
        judged = _Judged(
            requirement, _settled(margin), confidence, off_side=margin > 0.0 and _off_side(requirement, demands, place)
        )
        key = (requirement.rule.full_id, requirement.limit.relation)
        held = governing.setdefault(key, judged)
        judged.failing = held.failing + (judged.verdict is Verdict.FAILS) * (held is not judged)
        if judged.rank < held.rank:
            governing[key] = judged
        else:
            held.failing = judged.failing
    return tuple(
        _separation(judged, demands.installation, place, features, confidence) for judged in governing.values()
    )


def _off_side(requirement: Requirement, demands: Demands, place: Places) -> bool:
    """Whether an installation lies on the other side of a feature than the one that binds."""
    if requirement.side_bearing_deg is None or requirement.feature is None:
        return False
    shape = demands.installation.pit.at(place.x_m, place.y_m, place.orientation_deg)[0]
    here, there = (shapely.get_coordinates(shapely.centroid(g))[0] for g in (requirement.feature.geometry, shape))
    turn = (bearing_deg(*(there - here)) - requirement.side_bearing_deg + 180.0) % 360.0 - 180.0
    return abs(turn) > requirement.rule.sector_deg / 2.0


class _Judged:
    """A requirement with its margin in plan, how likely it is met, and how many of its rule fail."""

    def __init__(self, requirement: Requirement, margin: float, confidence: float, *, off_side: bool):
        self.requirement, self.margin = requirement, margin
        self.probability = probability(margin, requirement.sigma, strict=requirement.limit.is_strict)
        self.verdict = decide(self.probability, confidence=confidence)
        self.failing = int(self.verdict is Verdict.FAILS)
        self.rank = (self.probability, off_side, margin)


def overall(separations: Iterable[Separation], *, unassessed: bool) -> Verdict:
    """The verdict of a whole: rules that only advise decide nothing."""
    verdicts = [s.verdict for s in separations if s.is_must]
    return gravest([*verdicts, *([Verdict.NOT_ASSESSED] if unassessed else [])] or [Verdict.MEETS])


def ceiled(length_m: float) -> str:
    """A length to the centimetre, rounded up: what is missing is never understated."""
    return f"{ceil(length_m * 100.0 - 1e-6) / 100.0:.2f}"


def _settled(margin: float) -> float:
    return round(margin / HAIR_M) * HAIR_M


def fixed_margin(requirement: Requirement) -> float:
    """The margin of a requirement that is the same everywhere, in the unit of its limit."""
    assert requirement.value is not None
    difference = requirement.value - requirement.limit_m
    return difference if requirement.limit.is_minimum else -difference


def _separation(
    judged: _Judged, installation: Installation, place: Places, features: Sequence[Feature], confidence: float
) -> Separation:
    requirement = judged.requirement
    start, end, feature, distance = _measured(requirement, judged.margin, installation, place, features)
    reading = _reading(requirement, judged.margin, distance, installation, place)
    length = requirement.limit.unit == "m"
    verdict = decide(reading.probability, confidence=confidence)
    return Separation(
        rule=requirement.rule,
        limit=requirement.limit,
        installation=installation.name,
        feature=feature.name if feature else "",
        measure=str(requirement.rule.measure),
        value=reading.value,
        required=requirement.required,
        unit=requirement.limit.unit,
        distance_m=reading.value if length else distance,
        required_m=None if not length and distance is None else requirement.required * requirement.metres_per_unit,
        margin=reading.margin,
        sigma=reading.sigma,
        probability=reading.probability,
        verdict=verdict,
        because=_because(requirement, feature, judged.failing),
        action=_action(requirement, verdict, reading, confidence, installation, feature),
        start_xy=start,
        end_xy=end,
    )


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
    target = feature.geometry
    if inside or feature.kind == BOUNDARY:
        target = shapely.boundary(requirement.geometry if inside else feature.geometry)
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
    shape: BaseGeometry, requirement: Requirement, features: Sequence[Feature], installation: Installation
) -> Feature | None:
    near = [f for f in features if f.kind in requirement.rule.from_kinds and f is not installation.stands_as]
    return min(near, key=lambda f: (shapely.distance(shape, f.geometry) - (f.radius_m or 0.0), f.name), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """Value, margin and sigma in the unit of the limit, and the probability that the limit is kept."""

    value: float
    margin: float
    sigma: float
    probability: float


def _reading(
    requirement: Requirement, margin: float, distance: float | None, installation: Installation, place: Places
) -> _Reading:
    strict, per_unit = requirement.limit.is_strict, requirement.metres_per_unit
    if requirement.value_at is not None:
        value = _worst_value(requirement, installation, place)
        difference = _settled(value - requirement.required)
        margin = difference if requirement.limit.is_minimum else -difference
        sigma = requirement.value_sigma
        return _Reading(value=value, margin=margin, sigma=sigma, probability=probability(margin, sigma, strict=strict))
    if distance is None:
        assert requirement.value is not None
        met = probability(margin, requirement.sigma, strict=strict)
        return _Reading(value=requirement.value, margin=margin, sigma=requirement.sigma, probability=met)
    decisive = margin
    if requirement.sense is Sense.OUTSIDE:
        required_m = requirement.required * per_unit
        if not requirement.sided:
            # Overlapping counts as no distance at all: the margin is then the whole of the limit.
            margin = max(margin, -required_m)
        elif margin <= 0.0 and required_m > 0.0:
            # On the side that it binds the plain distance is shown; off it, how far away that side begins.
            # What decides is the least move that would end it: farther off, or over to the other side.
            decisive = max(distance - required_m, margin)
            margin = distance - required_m
    margin = _settled(margin)
    return _Reading(
        value=distance / per_unit,
        margin=margin / per_unit,
        sigma=requirement.sigma / per_unit,
        probability=probability(_settled(decisive) if requirement.sided else margin, requirement.sigma, strict=strict),
    )


def _worst_value(requirement: Requirement, installation: Installation, place: Places) -> float:
    """The value at the corner of the outline (or at eight points of its rim) where it is worst."""
    assert requirement.value_at is not None
    outline = installation.outline(requirement.rule.outline)
    shape = outline.at(place.x_m, place.y_m, place.orientation_deg)[0]
    rim = shapely.buffer(shape, outline.radius_m, quad_segs=2) if outline.radius_m else shape
    values = [requirement.value_at(_pair(corner)) for corner in shapely.get_coordinates(rim)]
    return min(values) if requirement.limit.is_minimum else max(values)


def floored(length_m: float) -> str:
    """A length to the centimetre, rounded down so that rounding never flatters."""
    return f"{floor(length_m * 100.0 + 1e-6) / 100.0:.2f}"


def _because(requirement: Requirement, feature: Feature | None, failing: int) -> str:
    parts = [requirement.because] if requirement.because else []
    if requirement.sided and feature is not None and requirement.rule.side:
        parts.append(f"applies {requirement.rule.side} of {feature.name}")
    if requirement.of_those_recorded:
        parts.append("nearest of those recorded: how far was looked does not cover this rule")
    if feature is not None and feature.is_bare_point:
        parts.append(f"{feature.name} has no size given and counts as a point")
    if feature is not None and feature.status is Status.CLOSED:
        parts.append(f"{feature.name} is closed but stays a hazard")
    if failing > 1:
        parts.append(f"{failing} features fail this rule; the worst is shown")
    return "; ".join(parts)


_AWAY = {Sense.OUTSIDE: "farther from", Sense.INSIDE: "farther inside", Sense.WITHIN: "nearer to"}


def _action(
    requirement: Requirement,
    verdict: Verdict,
    reading: _Reading,
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
    if verdict is Verdict.TOO_CLOSE:
        return _what_to_tape(requirement, reading, confidence, installation, to)
    if requirement.rule.measure is Measure.SIDE:
        return f"must not stand {requirement.rule.never or 'on this side'} of {to}"
    if unit == "m" and requirement.value_at is None and requirement.sense is not Sense.FIXED:
        return f"must stand {ceiled(-reading.margin)} m {_AWAY[requirement.sense]} {to}"
    return (
        f"short by {ceiled(-reading.margin)} {unit}"
        if requirement.limit.is_minimum
        else (f"over by {ceiled(-reading.margin)} {unit}")
    )


def _what_to_tape(
    requirement: Requirement, reading: _Reading, confidence: float, installation: Installation, to: str
) -> str:
    """Which length to tape, how well, and at which reading it is settled."""
    factor = coverage_factor(confidence)
    needed_sigma = max(abs(reading.margin) / factor, STEEL_TAPE_SIGMA_M)
    if requirement.value_at is not None or requirement.sense is Sense.FIXED or requirement.limit.unit != "m":
        what = "the depth of the water" if requirement.rule.measure is Measure.ABOVE_WATER else requirement.rule.measure
        return f"measure {what} to within {floored(2.0 * needed_sigma)} {requirement.limit.unit} (95 %)"
    if requirement.sided:
        return f"settle on which side of {to} it stands, or tape the distance (about {floored(reading.value)} m)"
    allowance = factor * STEEL_TAPE_SIGMA_M
    minimum = requirement.limit.is_minimum
    at = ceiled(requirement.required + allowance) if minimum else floored(requirement.required - allowance)
    relation = "at least" if requirement.limit.is_minimum else "at most"
    return (
        f"tape {installation.name} to {to}, nearest edges (about {floored(reading.value)} m), to within "
        f"{floored(2.0 * needed_sigma)} m; with a steel tape it meets at a reading of {relation} {at} m"
    )
