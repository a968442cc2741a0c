"""Conditions on attributes: the `when`, `unless` and `require` of a rule, true, false or unknown.

An attribute is named with its owner: `feature.casing_m`, `installation.sealed`, `site.material`.
An attribute nobody recorded makes a condition unknown, never false.
"""

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

ATTRIBUTE = re.compile(r"^(feature|installation|site)\.[a-z][a-z0-9_]*$")

OPERATORS: Mapping[str, Callable[[Any, Any], bool]] = {
    "is": lambda value, wanted: _same(value, wanted),
    "is_not": lambda value, wanted: not _same(value, wanted),
    "in": lambda value, wanted: any(_same(value, one) for one in wanted),
    "not_in": lambda value, wanted: not any(_same(value, one) for one in wanted),
    "below": lambda value, wanted: float(value) < wanted,
    "at_most": lambda value, wanted: float(value) <= wanted,
    "above": lambda value, wanted: float(value) > wanted,
    "at_least": lambda value, wanted: float(value) >= wanted,
}
_WORDS = {
    "is": "is", "is_not": "is not", "in": "is one of", "not_in": "is none of", "below": "is below",
    "at_most": "is at most", "above": "is above", "at_least": "is at least",
}  # fmt: skip


class ConditionError(ValueError):
    """A condition that cannot be read, in three parts; the pack parser adds file and rule."""

    def __init__(self, found: str, needed: str, do_next: str):
        super().__init__(found)
        self.found, self.needed, self.do_next = found, needed, do_next


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One attribute compared with one value."""

    attribute: str
    operator: str
    wanted: object

    def __str__(self) -> str:
        name = self.attribute.replace(".", " ").replace("_", " ")
        wanted = ", ".join(map(str, self.wanted)) if isinstance(self.wanted, tuple) else _plain(self.wanted)
        return f"{name} {_WORDS[self.operator]} {wanted}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """Alternatives, each of which is a list of tests that all have to hold."""

    alternatives: tuple[tuple[Test, ...], ...]

    @property
    def attributes(self) -> frozenset[str]:
        """Every attribute the condition looks at."""
        return frozenset(test.attribute for tests in self.alternatives for test in tests)

    def __str__(self) -> str:
        return " or ".join(" and ".join(map(str, tests)) for tests in self.alternatives)


def holds(condition: Condition, attributes: Mapping[str, object]) -> bool | None:
    """Whether a condition holds; None when an attribute that decides it is not known."""
    answers = [_all(tests, attributes) for tests in condition.alternatives]
    if True in answers:
        return True
    return None if None in answers else False


def missing(condition: Condition, attributes: Mapping[str, object]) -> tuple[str, ...]:
    """The attributes that a condition needs and nobody recorded."""
    return tuple(sorted(name for name in condition.attributes if attributes.get(name) is None))


def _all(tests: tuple[Test, ...], attributes: Mapping[str, object]) -> bool | None:
    answers = [_test(test, attributes.get(test.attribute)) for test in tests]
    if False in answers:
        return False
    return None if None in answers else True


def _test(test: Test, value: object) -> bool | None:
    if value is None:
        return None
    try:
        return OPERATORS[test.operator](value, test.wanted)
    except (TypeError, ValueError):
        return None  # a word where a number belongs tells nothing


def _same(value: object, wanted: object) -> bool:
    if isinstance(value, str) and isinstance(wanted, str):
        return value.strip().casefold() == wanted.strip().casefold()
    return value == wanted


def _plain(value: object) -> str:
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


def parse_condition(value: Any) -> Condition:
    """A condition from a TOML table, or from a list of tables of which any one suffices."""
    tables = value if isinstance(value, list) else [value]
    if not tables or not all(isinstance(table, dict) and table for table in tables):
        raise ConditionError(
            f"{value!r}", 'a table such as { "feature.casing_m" = { below = 6 } }', "write it in that form"
        )
    return Condition(alternatives=tuple(tuple(_tests(table)) for table in tables))


def _tests(table: Mapping[str, object]) -> list[Test]:
    tests = []
    for attribute, wanted in table.items():
        if not ATTRIBUTE.match(attribute):
            raise ConditionError(
                f"attribute {attribute!r}",
                "feature.<name>, installation.<name> or site.<name>",
                "say whose attribute it is",
            )
        comparisons = wanted if isinstance(wanted, dict) else {"is": wanted}
        tests += [_one_test(attribute, operator, value) for operator, value in comparisons.items()]
    return tests


def _one_test(attribute: str, operator: str, value: object) -> Test:
    if operator not in OPERATORS:
        close = difflib.get_close_matches(operator, OPERATORS, n=1)
        raise ConditionError(
            f"comparison {operator!r}",
            f"one of {', '.join(OPERATORS)}",
            f"did you mean {close[0]!r}?" if close else "use one of them",
        )
    if operator in ("in", "not_in"):
        if not isinstance(value, list):
            raise ConditionError(f"{operator} = {value!r}", "a list", f"write {operator} = [...]")
        value = tuple(value)
    elif operator in ("is", "is_not") and not isinstance(value, str | int | float | bool):
        raise ConditionError(f"{operator} = {value!r}", "a word, a number, true or false", "use `in` for a list")
    elif operator in ("below", "at_most", "above", "at_least") and (
        isinstance(value, bool) or not isinstance(value, int | float)
    ):
        raise ConditionError(f"{operator} = {value!r}", "a number", "write the number without a unit")
    return Test(attribute=attribute, operator=operator, wanted=value)
