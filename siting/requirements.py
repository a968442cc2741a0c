"""The waist: rules made concrete on one site.

Left of it, makers turn what a rule says (a distance, a side, a depth) into requirements.
Right of it, everything only asks for the margin of a place against requirements.
A requirement in plan says "stay at least so far outside (or inside, or within) this geometry", so a margin
changes by at most one metre for each metre walked; one that is the same everywhere carries its value.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.conditions import holds, missing
from siting.directions import OPPOSITE, Towards, bearing_of_side, ground_on_side
from siting.installation import Installation, known_attributes
from siting.kinds import BOUNDARY, Vocabulary
from siting.rules import Limit, Measure, Pack, Rule
from siting.site import Feature, Site
from siting.uncertainty import combined


class Sense(StrEnum):
    """How a margin is reckoned."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    WITHIN = "within"
    FIXED = "fixed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One rule against one feature (or against the ground itself) for one installation."""

    rule: Rule
    limit: Limit
    sense: Sense
    limit_m: float
    "What the margin is reckoned from, in metres; in the unit of the limit when the sense is fixed."
    required: float
    "The limit as it is printed, in the unit of the limit."
    feature: Feature | None = None
    geometry: BaseGeometry | None = None
    gap_m: float = 0.0
    "Radius of a feature that is a disc."
    value: float | None = None
    "The value where it is the same everywhere (sense fixed)."
    plane: tuple[float, float, float] | None = None
    "value = a x + b y + c where it varies over the ground and is not a distance."
    sigma: float = 0.0
    "Standard uncertainty of the margin: metres, or the unit of the limit when fixed."
    value_sigma: float = 0.0
    "Standard uncertainty of the value where `plane` gives it."
    sided: bool = False
    "The geometry is the ground on one side of the feature, not the feature itself."
    because: str = ""
    "What was assumed, in a sentence, when something was not known."

    @property
    def in_plan(self) -> bool:
        """Whether walking changes the margin."""
        return self.sense is not Sense.FIXED

    @property
    def is_must(self) -> bool:
        """Whether it decides."""
        return self.rule.strength == "must"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unassessed:
    """A rule that could not be applied, with what to look for and how far out."""

    rule: Rule
    reason: str
    look_for: str
    radius_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Attested:
    """A rule met because somebody looked far enough and there is nothing."""

    rule: Rule
    statement: str
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """Everything the packs in force ask of one installation on this site."""

    installation: Installation
    requirements: tuple[Requirement, ...]
    unassessed: tuple[Unassessed, ...]
    attested: tuple[Attested, ...]


@dataclass(frozen=True, kw_only=True)
class Question:
    """A site with the rules in force and what is derived from it once: the makers' common ground."""

    site: Site
    packs: tuple[Pack, ...]
    words: Vocabulary
    towards: Towards = field(default_factory=dict)
    more_makers: "Mapping[Measure, Maker]" = field(default_factory=dict)
    "Makers of measures that need more than the plan: water, slope, depth."

    @cached_property
    def land(self) -> BaseGeometry | None:
        """The facility's own ground: the union of its boundaries."""
        return shapely.union_all([f.geometry for f in self.site.boundaries]) if self.site.boundaries else None

    @cached_property
    def home(self) -> str:
        """The source a new place is drawn on: that of the boundary, else of the first feature."""
        features = self.site.boundaries or self.site.features
        return features[0].source if features else ""

    @cached_property
    def site_attributes(self) -> dict[str, object]:
        """What rules may ask about the site, as `site.<name>`."""
        ground = self.site.ground
        known = {
            "highest_water_depth_m": ground.highest_water_depth_m,
            "material": ground.material,
            "conductivity_m_per_day": ground.conductivity_m_per_day,
            "porosity": ground.porosity,
            **ground.attributes,
        }
        return {f"site.{name}": value for name, value in known.items() if value is not None}

    @cached_property
    def feature_attributes(self) -> dict[str, dict[str, object]]:
        """Attributes of each feature by its name."""
        return {f.name: known_attributes(f, self.words) for f in self.site.features}

    @cached_property
    def attested_kinds(self) -> dict[str, str]:
        """Kind to the words in which its absence is attested."""
        return {kind: statement for word, statement in self.site.absent.items() for kind in self.words.expand([word])}

    def sigma_to(self, installation: Installation, feature: Feature) -> float:
        """Standard uncertainty of the distance between an installation and a feature."""
        if installation.stands_as is not None:
            return self.site.separation_sigma_m(installation.stands_as, feature)
        if feature.source == self.home:
            return feature.sigma_m
        shared = self.site.shared_sigma_m
        return combined(feature.sigma_m, shared(feature.source), shared(self.home))

    def is_a_neighbours(self, installation: Installation) -> bool:
        """Whether it stands wholly beyond the boundary, so that the facility's own line binds it to nothing."""
        stands = installation.stands_as
        return stands is not None and self.land is not None and not self.land.intersects(stands.geometry)


Outcome = Requirement | Unassessed | Attested
Maker = Callable[[Question, Rule, Installation], Iterable[Outcome]]


def demands(question: Question, installation: Installation) -> Demands:
    """What every rule in force asks of one installation.

    Rules are read in both directions for something that is still to be placed: a rule for a latrine near a well
    sites a new latrine among wells and a new well among latrines.
    """
    outcomes: list[Outcome] = []
    for pack in question.packs:
        for rule in pack.rules:
            if installation.kind in rule.for_kinds:
                outcomes += _made(question, rule, installation)
            if installation.stands_as is None and installation.kind in rule.from_kinds:
                outcomes += _reversed(question, rule, installation)
    return Demands(
        installation=installation,
        requirements=tuple(o for o in outcomes if isinstance(o, Requirement)),
        unassessed=tuple(o for o in outcomes if isinstance(o, Unassessed)),
        attested=tuple(o for o in outcomes if isinstance(o, Attested)),
    )


def _made(question: Question, rule: Rule, installation: Installation) -> Iterable[Outcome]:
    maker = _MAKERS.get(rule.measure) or question.more_makers.get(rule.measure)
    if maker is None:
        return [_nobody_looked(rule, f"nothing on this site tells {rule.measure}", str(rule.measure))]
    return maker(question, rule, installation)


# --- rules that need no feature ------------------------------------------------------------------------------


def without_feature(question: Question, rule: Rule, installation: Installation) -> Iterator[Unassessed] | None:
    """None when a rule about the ground or the installation itself applies; else why it does not."""
    applies, unknown = _applies(rule, _attributes(question, installation, None))
    if applies:
        return None
    return iter([_not_known(rule, unknown, installation.name)] if unknown else [])


def _attribute_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
        return
    assert rule.require is not None
    attributes = _attributes(question, installation, None)
    answer = holds(rule.require, attributes)
    if answer is None and not rule.strict_if_unknown:
        yield _not_known(rule, missing(rule.require, attributes), installation.name)
        return
    yield Requirement(
        rule=rule,
        limit=Limit(relation="at_least", unit="", constant=1.0, as_written=str(rule.require)),
        sense=Sense.FIXED,
        limit_m=1.0,
        required=1.0,
        value=float(bool(answer)),
        because="" if answer is not None else f"{_named(missing(rule.require, attributes))} not recorded",
    )


def _depth_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
        return
    if installation.depth_m is None:
        yield _not_known(rule, ("installation.pit_depth_m",), installation.name)
        return
    attributes = _attributes(question, installation, None)
    for limit in rule.limits:
        required = limit_value(limit, attributes, strict=rule.strict_if_unknown)
        if required is None:
            yield _not_known(rule, limit.needs, installation.name)
            continue
        yield Requirement(
            rule=rule, limit=limit, sense=Sense.FIXED, limit_m=required, required=required,
            value=installation.depth_m,
        )  # fmt: skip


# --- rules between an installation and features ----------------------------------------------------------------


def _distance_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    others = _others(question, rule.from_kinds, installation)
    if not others:
        yield from _nothing_recorded(question, rule, installation)
        return
    within: dict[int, list[tuple[Feature, float]]] = {}
    for feature in others:
        attributes = _attributes(question, installation, feature)
        applies, unknown = _applies(rule, attributes)
        if not applies:
            if unknown:
                yield _not_known(rule, unknown, feature.name)
            continue
        for number, limit in enumerate(rule.limits):
            required = limit_value(limit, attributes, strict=rule.strict_if_unknown)
            if required is None:
                yield _not_known(rule, limit.needs, feature.name)
            elif limit.is_minimum:
                yield from _keep_away(question, rule, limit, required, feature, installation, rule.side, unknown)
            else:
                within.setdefault(number, []).append((feature, required))
    for number, near in within.items():
        yield _stay_within(question, rule, rule.limits[number], near, installation)


def _keep_away(
    question: Question,
    rule: Rule,
    limit: Limit,
    required_m: float,
    feature: Feature,
    installation: Installation,
    side: str,
    unknown: tuple[str, ...],
) -> Iterator[Outcome]:
    """At least `required_m` from a feature, on every side of it or on one."""
    if feature.kind == BOUNDARY:
        if not question.is_a_neighbours(installation):
            yield _inside(question, rule, limit, required_m, feature, installation)
        return
    geometry, gap_m, limit_m, sided = feature.geometry, feature.radius_m or 0.0, required_m, False
    because = f"{_named(unknown)} not recorded: the stricter branch applies" if unknown else ""
    if side:
        bearing = bearing_of_side(side, question.towards)
        if bearing is None and not rule.strict_if_unknown:
            yield _no_direction(rule, side, required_m)
            return
        if bearing is None:
            because = f"which way is {side} is not known: taken as if on every side"
        else:
            geometry = ground_on_side(geometry, bearing, sector_deg=rule.sector_deg, reach_m=required_m + gap_m)
            gap_m, limit_m, sided = 0.0, 0.0, True
    yield Requirement(
        rule=rule,
        limit=limit,
        sense=Sense.OUTSIDE,
        feature=feature,
        geometry=geometry,
        gap_m=gap_m,
        limit_m=limit_m,
        required=required_m,
        sigma=question.sigma_to(installation, feature),
        sided=sided,
        because=because,
    )


def _stay_within(
    question: Question,
    rule: Rule,
    limit: Limit,
    near: list[tuple[Feature, float]],
    installation: Installation,
) -> Requirement:
    """At most so far from the nearest of several features: being near one of them is enough."""
    # A buffer is inscribed, so a disc that counts as near is never drawn too large.
    shapes = [f.geometry.buffer(f.radius_m) if f.radius_m else f.geometry for f, _ in near]
    return Requirement(
        rule=rule,
        limit=limit,
        sense=Sense.WITHIN,
        feature=near[0][0] if len(near) == 1 else None,
        geometry=shapely.geometrycollections(shapes),
        limit_m=max(required for _, required in near),
        required=max(required for _, required in near),
        sigma=max(question.sigma_to(installation, feature) for feature, _ in near),
    )


def _inside_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    others = _others(question, rule.from_kinds, installation)
    if not others:
        yield from _nothing_recorded(question, rule, installation)
        return
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
    elif not question.is_a_neighbours(installation):
        limit = rule.limits[0]
        required = limit_value(limit, _attributes(question, installation, others[0]), strict=True)
        yield _inside(question, rule, limit, required or 0.0, others[0], installation, among=others)


def _inside(
    question: Question,
    rule: Rule,
    limit: Limit,
    required_m: float,
    feature: Feature,
    installation: Installation,
    *,
    among: tuple[Feature, ...] = (),
) -> Requirement:
    """Inside the land (or one of several zones) by at least `required_m`."""
    if feature.kind == BOUNDARY:
        assert question.land is not None
        ground = question.land
    else:
        ground = shapely.union_all([zone.geometry for zone in among or (feature,)])
    return Requirement(
        rule=rule,
        limit=limit,
        sense=Sense.INSIDE,
        feature=feature,
        geometry=ground,
        limit_m=required_m,
        required=required_m,
        sigma=question.sigma_to(installation, feature),
    )


FAR_M = 100_000.0
"How far a side reaches where a rule gives it no end: beyond any site."


def _side_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    others = _others(question, rule.from_kinds, installation)
    if not others:
        yield from _nothing_recorded(question, rule, installation)
        return
    side = rule.never or OPPOSITE[rule.must_be]
    for feature in others:
        applies, unknown = _applies(rule, _attributes(question, installation, feature))
        bearing = bearing_of_side(side, question.towards)
        if applies and bearing is None:
            yield _no_direction(rule, side, None)
            return
        if not applies:
            if unknown:
                yield _not_known(rule, unknown, feature.name)
            continue
        assert bearing is not None
        reach_m = limit_value(rule.limits[0], {}, strict=True) if rule.limits else None
        yield Requirement(
            rule=rule,
            limit=rule.limits[0] if rule.limits else Limit(relation="at_least", unit="m", constant=0.0),
            sense=Sense.OUTSIDE,
            feature=feature,
            geometry=ground_on_side(feature.geometry, bearing, sector_deg=rule.sector_deg, reach_m=reach_m or FAR_M),
            limit_m=0.0,
            required=0.0,
            sigma=question.sigma_to(installation, feature),
            sided=True,
        )


def _reversed(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """What a rule for things that stand already asks of something new that it is measured from."""
    if rule.measure is not Measure.DISTANCE or installation.kind in rule.for_kinds:
        return
    for feature in _others(question, rule.for_kinds, installation):
        attributes = {
            **question.site_attributes,
            **_owned("installation", question.feature_attributes[feature.name]),
            **_owned("feature", installation.attributes),
        }
        applies, unknown = _applies(rule, attributes)
        if not applies:
            if unknown:
                yield _not_known(rule, unknown, feature.name)
            continue
        side = OPPOSITE[rule.side] if rule.side else ""
        for limit in rule.limits:
            required = limit_value(limit, attributes, strict=rule.strict_if_unknown)
            if required is not None and limit.is_minimum:
                yield from _keep_away(question, rule, limit, required, feature, installation, side, unknown)


_MAKERS: dict[Measure, Maker] = {
    Measure.DISTANCE: _distance_rule,
    Measure.INSIDE: _inside_rule,
    Measure.SIDE: _side_rule,
    Measure.ATTRIBUTE: _attribute_rule,
    Measure.DEPTH: _depth_rule,
}


# --- what makers share -------------------------------------------------------------------------------------------


def limit_value(limit: Limit, attributes: Mapping[str, object], *, strict: bool) -> float | None:
    """The limit in its unit; None when an attribute it needs is not known and nothing stricter is agreed."""
    if limit.constant is not None:
        return limit.constant
    if limit.by:
        at, ends = attributes.get(limit.by), [y for _, y in limit.points]
        if not isinstance(at, int | float):
            return (max(ends) if limit.is_minimum else min(ends)) if strict else None
        return float(np.interp(at, *zip(*limit.points, strict=True)))
    values = [attributes.get(name) for name in limit.of]
    numbers = [float(value) for value in values if isinstance(value, int | float)]
    less = attributes.get(limit.less, limit.less_if_unknown) if limit.less else 0.0
    if len(numbers) < len(values) or not isinstance(less, int | float):
        return None
    assert limit.times is not None
    return limit.times * max(0.0, max(numbers) - float(less))


def _others(question: Question, kinds: frozenset[str], installation: Installation) -> tuple[Feature, ...]:
    return tuple(f for f in question.site.of_kinds(kinds) if f is not installation.stands_as)


def _owned(owner: str, attributes: Mapping[str, object]) -> dict[str, object]:
    return {f"{owner}.{name}": value for name, value in attributes.items()}


def _attributes(question: Question, installation: Installation, feature: Feature | None) -> dict[str, object]:
    return {
        **question.site_attributes,
        **_owned("installation", installation.attributes),
        **(_owned("feature", question.feature_attributes[feature.name]) if feature else {}),
    }


def _applies(rule: Rule, attributes: Mapping[str, object]) -> tuple[bool, tuple[str, ...]]:
    """Whether a rule applies, and the attributes that would tell but are not known.

    With `if_unknown = "strict"` an unknown attribute leaves the rule in force.
    """
    unknown: tuple[str, ...] = ()
    for condition, wanted in ((rule.when, True), (rule.unless, False)):
        if condition is None:
            continue
        answer = holds(condition, attributes)
        if answer is None:
            unknown += missing(condition, attributes)
        elif answer is not wanted:
            return False, ()
    return (not unknown or rule.strict_if_unknown), unknown


def _named(attributes: Iterable[str]) -> str:
    return ", ".join(name.split(".", 1)[1] for name in attributes)


def _radius(rule: Rule) -> float | None:
    reaches = [
        max((limit.constant or 0.0, *(y for _, y in limit.points)))
        for limit in rule.limits
        if limit.unit == "m" and limit.is_minimum
    ]
    return max(reaches, default=None)


def _not_known(rule: Rule, attributes: Iterable[str], whose: str) -> Unassessed:
    names = _named(attributes)
    return Unassessed(
        rule=rule, reason=f"{names} of {whose} not recorded", look_for=f"{names} of {whose}", radius_m=None
    )


def _nobody_looked(rule: Rule, reason: str, look_for: str) -> Unassessed:
    return Unassessed(rule=rule, reason=reason, look_for=look_for, radius_m=_radius(rule))


def _no_direction(rule: Rule, side: str, radius_m: float | None) -> Unassessed:
    tells = {
        "gradient": "water levels in three wells or more",
        "slope": "spot heights",
        "wind": "wind frequencies",
    }
    word = next(
        name for end, name in (("gradient", "gradient"), ("slope", "slope"), ("wind", "wind")) if side.endswith(end)
    )
    return Unassessed(rule=rule, reason=f"which way is {side} is not known", look_for=tells[word], radius_m=radius_m)


def _nothing_recorded(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """Nothing of the kinds a rule names is on the plan: attested absent far enough out, or not assessed."""
    if rule.where_marked or (question.is_a_neighbours(installation) and BOUNDARY in rule.from_kinds):
        return
    refused = (
        None if "feature." in str(rule.when and rule.when.attributes) else without_feature(question, rule, installation)
    )
    if refused is not None:
        yield from refused
        return
    words, radius_m = " or ".join(rule.from_words), _radius(rule)
    unlooked = sorted(rule.from_kinds - question.attested_kinds.keys())
    if unlooked:
        looked_for = words if len(unlooked) == len(rule.from_kinds) else " or ".join(unlooked)
        yield Unassessed(
            rule=rule,
            reason=f"no {words} recorded, and nobody attests that there is none",
            look_for=looked_for,
            radius_m=radius_m,
        )
        return
    searched_m = question.site.survey.radius_m
    if searched_m is None or searched_m < (radius_m or 0.0):
        how_far = "how far was looked is not stated" if searched_m is None else f"looked only {searched_m:g} m out"
        yield Unassessed(rule=rule, reason=f"{words} attested absent, but {how_far}", look_for=words, radius_m=radius_m)
        return
    statement = question.attested_kinds[min(rule.from_kinds)]
    yield Attested(rule=rule, statement=statement, radius_m=searched_m)
