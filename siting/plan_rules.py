"""Makers of requirements from the plan: distances, ground to stay inside, sides, and what an installation is."""

from collections.abc import Iterator

import shapely

from siting.applicability import (
    limit_value,
    named,
    no_direction,
    none_of,
    not_known,
    nothing_recorded,
    others_of,
    owned,
    rule_applies,
    rule_attributes,
    without_feature,
)
from siting.conditions import holds, missing
from siting.directions import OPPOSITE, bearing_of_side, ground_on_side
from siting.installation import Installation
from siting.kinds import BOUNDARY
from siting.requirements import FAR_M, Maker, Outcome, Question, Requirement, Sense
from siting.rules import Limit, Measure, Rule
from siting.site import Feature

# --- rules that need no feature ------------------------------------------------------------------------------


def _attribute_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
        return
    assert rule.require is not None
    attributes = rule_attributes(question, installation, None)
    answer = holds(rule.require, attributes)
    if answer is None and not rule.strict_if_unknown:
        yield not_known(rule, missing(rule.require, attributes), installation.name)
        return
    yield Requirement(
        rule=rule,
        limit=Limit(relation="at_least", unit="", constant=1.0, as_written=str(rule.require)),
        sense=Sense.FIXED,
        limit_m=1.0,
        required=1.0,
        value=float(bool(answer)),
        because="" if answer is not None else f"{named(missing(rule.require, attributes))} not recorded",
    )


def _depth_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
        return
    if installation.depth_m is None:
        yield not_known(rule, ("installation.pit_depth_m",), installation.name)
        return
    attributes = rule_attributes(question, installation, None)
    for limit in rule.limits:
        required = limit_value(limit, attributes, strict=rule.strict_if_unknown)
        if required is None:
            yield not_known(rule, limit.needs, installation.name)
            continue
        yield Requirement(
            rule=rule, limit=limit, sense=Sense.FIXED, limit_m=required, required=required,
            value=installation.depth_m,
        )  # fmt: skip


# --- rules between an installation and features ----------------------------------------------------------------


def _distance_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    others = others_of(question, rule.from_kinds, installation)
    if not others:
        yield from nothing_recorded(question, rule, installation)
        return
    within: dict[int, list[tuple[Feature, float]]] = {}
    asks = rule.asks_of_features
    attributes = rule_attributes(question, installation, None)
    applies, unknown = rule_applies(rule, attributes)
    for feature in others:
        if asks:
            attributes = rule_attributes(question, installation, feature)
            applies, unknown = rule_applies(rule, attributes)
        if not applies:
            if unknown:
                yield not_known(rule, unknown, feature.name)
            continue
        for number, limit in enumerate(rule.limits):
            required = limit_value(limit, attributes, strict=rule.strict_if_unknown)
            if required is None:
                yield not_known(rule, limit.needs, feature.name)
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
    if feature.kind == BOUNDARY and question.is_a_neighbours(installation):
        return
    if feature.kind == BOUNDARY and not side:
        yield _inside(question, rule, limit, required_m, feature, installation)
        return
    geometry = shapely.boundary(feature.geometry) if feature.kind == BOUNDARY else feature.geometry
    gap_m, limit_m, sided = feature.radius_m or 0.0, required_m, False
    because = f"{named(unknown)} not recorded: the stricter branch applies" if unknown else ""
    bearing = None
    if side:
        bearing = bearing_of_side(side, question.towards)
        if bearing is None and not rule.strict_if_unknown:
            yield no_direction(rule, side, required_m)
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
        side_bearing_deg=bearing if sided else None,
        of_those_recorded=question.not_searched(required_m),
        because=because,
    )


def _stay_within(
    question: Question,
    rule: Rule,
    limit: Limit,
    near: list[tuple[Feature, float]],
    installation: Installation,
) -> Requirement:
    """At most so far from the nearest of several features, each with its own limit: being near one is enough."""
    least_m = min(required for _, required in near)
    # A feature that allows more is grown by the difference; a buffer is inscribed, so never drawn too large.
    grown = [(f, (f.radius_m or 0.0) + required - least_m) for f, required in near]
    shapes = [f.geometry.buffer(by_m) if by_m > 0.0 else f.geometry for f, by_m in grown]
    return Requirement(
        rule=rule,
        limit=limit,
        sense=Sense.WITHIN,
        feature=near[0][0] if len(near) == 1 else None,
        geometry=shapely.union_all(shapes),
        limit_m=least_m,
        required=least_m,
        sigma=max(question.sigma_to(installation, feature) for feature, _ in near),
    )


def _inside_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    others = others_of(question, rule.from_kinds, installation)
    if not others:
        yield from nothing_recorded(question, rule, installation)
        return
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
    elif not question.is_a_neighbours(installation):
        limit = rule.limits[0]
        required = limit_value(limit, rule_attributes(question, installation, others[0]), strict=True)
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


def _side_rule(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    others = others_of(question, rule.from_kinds, installation)
    if not others:
        yield from nothing_recorded(question, rule, installation)
        return
    side = rule.never or OPPOSITE[rule.must_be]
    for feature in others:
        applies, unknown = rule_applies(rule, rule_attributes(question, installation, feature))
        bearing = bearing_of_side(side, question.towards)
        if applies and bearing is None:
            yield no_direction(rule, side, None)
            return
        if not applies:
            if unknown:
                yield not_known(rule, unknown, feature.name)
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
            side_bearing_deg=bearing,
        )


def reversed_distance(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """What a rule for things that stand already asks of something new that it is measured from."""
    if rule.measure is not Measure.DISTANCE or installation.kind in rule.for_kinds:
        return
    holders = others_of(question, rule.for_kinds, installation)
    if not holders:
        yield from none_of(question, rule, rule.for_kinds, rule.for_words)
    for feature in holders:
        attributes = {
            **question.site_attributes,
            **owned("installation", question.feature_attributes[feature.name]),
            **owned("feature", installation.attributes),
        }
        applies, unknown = rule_applies(rule, attributes)
        if not applies:
            if unknown:
                yield not_known(rule, unknown, feature.name)
            continue
        side = OPPOSITE[rule.side] if rule.side else ""
        for limit in rule.limits:
            required = limit_value(limit, attributes, strict=rule.strict_if_unknown) if limit.is_minimum else 0.0
            if required is None:
                yield not_known(rule, limit.needs, feature.name)
            elif limit.is_minimum:
                yield from _keep_away(question, rule, limit, required, feature, installation, side, unknown)


MAKERS: dict[Measure, Maker] = {
    Measure.DISTANCE: _distance_rule,
    Measure.INSIDE: _inside_rule,
    Measure.SIDE: _side_rule,
    Measure.ATTRIBUTE: _attribute_rule,
    Measure.DEPTH: _depth_rule,
}
