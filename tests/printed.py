"""Reads a pack the way a person reads the printed table: which limit governs one cell.

It knows conditions and numbers only, so the packs are tested as data, apart from any geometry.
"""

from siting.conditions import Condition, holds
from siting.io.packs import load
from siting.kinds import vocabulary
from siting.rules import Limit, Measure, Rule

WORDS = {"at_least": "", "more_than": "> ", "at_most": "<= ", "less_than": "< "}
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
    words = vocabulary()
    attributes = {
        **{f"installation.{name}": value for name, value in words.kinds[kind].assumed.items()},
        **{name.replace("__", "."): value for name, value in known.items()},
    }
    return tuple(
        rule
        for rule in load(pack).for_kind(kind)
        if rule.measure is Measure(measure)
        and (not feature or feature in rule.from_kinds)
        and rule.side in ("", side)
        and strength in ("", rule.strength)
        and _applies(rule, attributes)
    )


def cell(
    pack: str, kind: str, feature: str = "", *, measure: str = "distance", **about: object
) -> str | None:
    """What stands in one cell: the governing limit in the document's own unit, None where no rule holds.

    Of several rules the strictest governs, as it does on the ground; a row with two limits prints both.
    """
    found = rules(pack, kind, feature, measure=measure, **about)
    if not found:
        return None
    strictest = max(found, key=lambda rule: rule.limits[0].constant)
    return " and ".join(_printed(limit) for limit in strictest.limits)


def _printed(limit: Limit) -> str:
    return f"{WORDS[limit.relation]}{limit.as_written}"


def _applies(rule: Rule, attributes: dict[str, object]) -> bool:
    return _holds(rule, rule.when, attributes, otherwise=True) and not _holds(
        rule, rule.unless, attributes, otherwise=False
    )


def _holds(
    rule: Rule, condition: Condition | None, attributes: dict[str, object], *, otherwise: bool
) -> bool:
    """A condition nobody can decide counts as its stricter branch where the rule says so."""
    if condition is None:
        return otherwise
    answer = holds(condition, attributes)
    if answer is None:
        assert rule.strict_if_unknown, f"{rule.full_id} cannot be decided: {condition}"
        return otherwise
    return answer
