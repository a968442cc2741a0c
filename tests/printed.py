"""Reads a pack the way a person reads the printed table: which limit governs one cell.

It knows conditions and numbers only, so the packs are tested as data, apart from any geometry.
"""

from itertools import pairwise

from siting.conditions import Condition, holds
from siting.io.packs import load
from siting.kinds import vocabulary
from siting.rules import Limit, Measure, Rule

SIGNS = {"at_least": "", "more_than": "> ", "at_most": "<= ", "less_than": "< "}
"A least distance is printed as its bare number; the other relations carry their sign."


def rules(
    pack: str,
    kind: str,
    feature: str = "",
    *,
    measure: str = "distance",
    side: str = "",
    strength: str = "",
    **known: object,
) -> tuple[Rule, ...]:
    """The rules of a pack that hold for an installation kind and a feature kind.

    Attributes are given as `feature__casing_m=7`; `side` is the side of the feature the installation lies on.
    """
    return tuple(
        rule
        for rule in load(pack).for_kind(kind)
        if rule.measure is Measure(measure)
        and (not feature or feature in rule.from_kinds)
        and rule.side in ("", side)
        and strength in ("", rule.strength)
        and _applies(rule, _attributes(kind, known))
    )


def cell(pack: str, kind: str, feature: str = "", **about: object) -> str | None:
    """What stands in one cell: the governing limit in the document's own unit, None where no rule holds.

    Of several rules the strictest governs, as it does on the ground; a row with two limits prints both.
    """
    known = {name: value for name, value in about.items() if "__" in name}
    rows = [
        tuple((_value(limit, kind, known), limit) for limit in rule.limits)
        for rule in rules(pack, kind, feature, **about)
    ]
    if not rows:
        return None
    strictest = max(rows, key=lambda row: row[0][0])
    return " and ".join(f"{SIGNS[limit.relation]}{limit.as_written or f'{value:g} m'}" for value, limit in strictest)


def sides(pack: str, kind: str, feature: str, **known: object) -> set[str]:
    """What the rules about sides say of an installation kind and a feature kind."""
    found = rules(pack, kind, feature, measure="side", **known)
    return {f"never {rule.never}" if rule.never else f"must be {rule.must_be}" for rule in found}


def requirement(pack: str, kind: str, rule_id: str, **known: object) -> bool | None:
    """Whether what a rule about an attribute requires is so; None when the attribute is not known."""
    (rule,) = (rule for rule in rules(pack, kind, measure="attribute", **known) if rule.id == rule_id)
    assert rule.require is not None
    return holds(rule.require, _attributes(kind, known))


def _attributes(kind: str, known: dict[str, object]) -> dict[str, object]:
    return {
        **{f"installation.{name}": value for name, value in vocabulary().kinds[kind].assumed.items()},
        **{name.replace("__", "."): value for name, value in known.items()},
    }


def _value(limit: Limit, kind: str, known: dict[str, object]) -> float:
    """The limit in metres (percent, degrees), reckoned here on purpose and not by the engine."""
    if limit.constant is not None:
        return limit.constant
    attributes = _attributes(kind, known)
    if limit.times is not None:
        return limit.times * max(attributes[name] for name in limit.of)
    at, (first, *_), last = attributes[limit.by], limit.points, limit.points[-1]
    for (x0, y0), (x1, y1) in pairwise(limit.points):
        if x0 <= at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return first[1] if at < first[0] else last[1]


def _applies(rule: Rule, attributes: dict[str, object]) -> bool:
    return _holds(rule, rule.when, attributes, wanted=True) and _holds(rule, rule.unless, attributes, wanted=False)


def _holds(rule: Rule, condition: Condition | None, attributes: dict[str, object], *, wanted: bool) -> bool:
    """A condition nobody can decide leaves the rule in force where the rule says so, and is a fault elsewhere."""
    if condition is None:
        return True
    answer = holds(condition, attributes)
    if answer is None:
        assert rule.strict_if_unknown, f"{rule.full_id} cannot be decided: {condition}"
        return True
    return answer is wanted
