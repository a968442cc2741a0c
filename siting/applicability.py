"""Whether a rule applies here, what its limit comes to, and what to say when that cannot be known."""

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from siting.conditions import holds, missing
from siting.installation import Installation
from siting.kinds import BOUNDARY
from siting.requirements import Attested, Outcome, Question, Unassessed
from siting.rules import Limit, Rule
from siting.site import Feature


def without_feature(question: Question, rule: Rule, installation: Installation) -> Iterator[Unassessed] | None:
    """None when a rule about the ground or the installation itself applies; else why it does not."""
    applies, unknown = rule_applies(rule, rule_attributes(question, installation, None))
    if applies:
        return None
    return iter([not_known(rule, unknown, installation.name)] if unknown else [])


def limit_value(limit: Limit, attributes: Mapping[str, object], *, strict: bool) -> float | None:
    """The limit in its unit; None when an attribute it needs is not known and nothing stricter is agreed."""
    if limit.constant is not None:
        return limit.constant
    if limit.by:
        at, ends = attributes.get(limit.by), [y for _, y in limit.points]
        if not isinstance(at, int | float):
            return (max(ends) if limit.is_minimum else min(ends)) if strict else None
        return float(np.interp(at, [x for x, _ in limit.points], ends))
    values = [attributes.get(name) for name in limit.of]
    numbers = [float(value) for value in values if isinstance(value, int | float)]
    less = attributes.get(limit.less, limit.less_if_unknown) if limit.less else 0.0
    if len(numbers) < len(values) or not isinstance(less, int | float):
        return None
    assert limit.times is not None
    return limit.times * max(0.0, max(numbers) - float(less))


def others_of(question: Question, kinds: frozenset[str], installation: Installation) -> tuple[Feature, ...]:
    """The features of some kinds, without the installation itself."""
    return tuple(f for f in question.site.of_kinds(kinds) if f is not installation.stands_as)


def owned(owner: str, attributes: Mapping[str, object]) -> dict[str, object]:
    """Attributes with the name of their owner before each."""
    return {f"{owner}.{name}": value for name, value in attributes.items()}


def rule_attributes(question: Question, installation: Installation, feature: Feature | None) -> dict[str, object]:
    """What a rule may ask about the site, the installation and the feature, each name with its owner."""
    return {
        **question.site_attributes,
        **owned("installation", installation.attributes),
        **(owned("feature", question.feature_attributes[feature.name]) if feature else {}),
    }


def rule_applies(rule: Rule, attributes: Mapping[str, object]) -> tuple[bool, tuple[str, ...]]:
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


def named(attributes: Iterable[str]) -> str:
    """Attributes without their owners, for a sentence."""
    return ", ".join(name.split(".", 1)[1] for name in attributes)


def _radius(rule: Rule) -> float | None:
    reaches = [
        max((limit.constant or 0.0, *(y for _, y in limit.points)))
        for limit in rule.limits
        if limit.unit == "m" and limit.is_minimum
    ]
    return max(reaches, default=None)


def not_known(rule: Rule, attributes: Iterable[str], whose: str) -> Unassessed:
    """The row of a rule that needs attributes nobody recorded; those of the site are said to be the site's."""
    of_site = [name for name in attributes if name.startswith("site.")]
    others = [name for name in attributes if name not in of_site]
    missed = [f"{named(names)} of {owner}" for names, owner in ((others, whose), (of_site, "the site")) if names]
    look_for = " and ".join(missed)
    return Unassessed(rule=rule, reason=f"{look_for} not recorded", look_for=look_for, radius_m=None)


def nobody_looked(rule: Rule, reason: str, look_for: str) -> Unassessed:
    """The row of a rule that nothing on the site lets us apply."""
    return Unassessed(rule=rule, reason=reason, look_for=look_for, radius_m=_radius(rule))


def no_direction(rule: Rule, side: str, radius_m: float | None) -> Unassessed:
    """The row of a rule for one side when nothing tells which way that is."""
    tells = {
        "gradient": "water levels in three wells or more",
        "slope": "spot heights",
        "wind": "wind frequencies",
    }
    word = next(
        name for end, name in (("gradient", "gradient"), ("slope", "slope"), ("wind", "wind")) if side.endswith(end)
    )
    return Unassessed(rule=rule, reason=f"which way is {side} is not known", look_for=tells[word], radius_m=radius_m)


def nothing_recorded(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """Nothing of the kinds a rule names is on the plan: attested absent far enough out, or not assessed."""
    if question.is_a_neighbours(installation) and BOUNDARY in rule.from_kinds:
        return
    if not rule.asks_of_features:
        refused = without_feature(question, rule, installation)
        if refused is not None:
            yield from refused
            return
    yield from none_of(question, rule, rule.from_kinds, rule.from_words)


def none_of(question: Question, rule: Rule, kinds: frozenset[str], kind_words: tuple[str, ...]) -> Iterator[Outcome]:
    """What a rule comes to when none of some kinds is on the plan."""
    if rule.where_marked:
        return
    words, radius_m = " or ".join(kind_words), _radius(rule)
    unlooked = sorted(kinds - question.attested_kinds.keys())
    if unlooked:
        yield Unassessed(
            rule=rule,
            reason=f"no {words} recorded, and nobody attests that there is none",
            look_for=words if len(unlooked) == len(kinds) else " or ".join(unlooked),
            radius_m=radius_m,
        )
        return
    searched_m = question.site.survey.radius_m
    if searched_m is None or searched_m < (radius_m or 0.0):
        how_far = "how far was looked is not stated" if searched_m is None else f"looked only {searched_m:g} m out"
        yield Unassessed(rule=rule, reason=f"{words} attested absent, but {how_far}", look_for=words, radius_m=radius_m)
        return
    yield Attested(rule=rule, statement=question.attested_kinds[min(kinds)], radius_m=searched_m)
