"""The rows of the page: separations, what nobody looked at, what is attested absent, as text ready to be set."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import floor

from siting.assess import Assessment
from siting.requirements import Attested, Unassessed
from siting.rules import Limit, Measure, Rule
from siting.separations import Separation, ceiled, floored
from siting.uncertainty import Verdict

MARKS = {Verdict.MEETS: "M", Verdict.FAILS: "F", Verdict.TOO_CLOSE: "?", Verdict.NOT_ASSESSED: "N"}
"The letter shown beside the word of a verdict."
CLASSES = {
    Verdict.MEETS: "meets",
    Verdict.FAILS: "fails",
    Verdict.TOO_CLOSE: "close",
    Verdict.NOT_ASSESSED: "blank",
}
WEIGHTS = {"must": "must", "should": "advice", "flag": "risk flag"}
"How a rule binds, in the words of the page."
ORDER = (Verdict.FAILS, Verdict.TOO_CLOSE, Verdict.NOT_ASSESSED, Verdict.MEETS)
_NAMES_SHOWN = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Cited:
    """A rule with the number by which the rows of the page refer to it."""

    number: int
    rule: Rule

    @property
    def mark(self) -> str:
        """The reference printed in a row."""
        return f"R{self.number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One row: plain text in every cell."""

    verdict: Verdict
    cited: Cited
    installation: str
    feature: str
    value: str = ""
    limit: str = ""
    margin: str = ""
    spread: str = ""
    "Plus and minus one sigma, and the probability."
    because: str = ""
    action: str = ""
    separation: Separation | None = None

    @property
    def mark(self) -> str:
        """The letter of the verdict."""
        return MARKS[self.verdict]

    @property
    def css(self) -> str:
        """The class of the verdict in the style sheet."""
        return CLASSES[self.verdict]

    @property
    def weight(self) -> str:
        """How the rule binds."""
        return "flag" if self.cited.rule.flag else str(self.cited.rule.strength)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Rows of one place, under one heading."""

    key: str
    title: str
    lines: tuple[Line, ...]


def cited(assessment: Assessment) -> dict[str, Cited]:
    """Every rule that a row names, numbered in the order of first appearance."""
    rules: dict[str, Rule] = {}
    for rule in _rules(assessment):
        rules.setdefault(rule.full_id, rule)
    return {key: Cited(number=number, rule=rule) for number, (key, rule) in enumerate(rules.items(), start=1)}


def _rules(assessment: Assessment) -> Iterator[Rule]:
    finding = assessment.finding
    if finding is not None:
        yield from (r.rule for r in finding.demands.requirements)
    yield from (s.rule for s in assessment.separations)
    yield from (u.rule for _, u in assessment.unassessed)
    yield from (a.rule for _, a in assessment.attested)


def groups(assessment: Assessment, numbers: dict[str, Cited]) -> tuple[Group, ...]:
    """What stands, each place proposed, the best compromise, what is not assessed, what is attested absent."""
    made = [Group(key="standing", title="What stands", lines=_lines(assessment.separations, numbers))]
    finding = assessment.finding
    if finding is not None:
        for placed in finding.placed:
            name = placed.candidate.name
            made.append(Group(key=f"place-{name}", title=f"Place {name}", lines=_lines(placed.separations, numbers)))
        if finding.conflict is not None:
            lines = _lines(finding.conflict.separations, numbers)
            made.append(Group(key="compromise", title="Best compromise (not a place)", lines=lines))
    made.append(Group(key="unlooked", title="Not assessed", lines=_unlooked(assessment.unassessed, numbers)))
    made.append(Group(key="attested", title="Attested absent", lines=_attested(assessment.attested, numbers)))
    return tuple(group for group in made if group.lines)


def _lines(separations: Iterable[Separation], numbers: dict[str, Cited]) -> tuple[Line, ...]:
    lines = [_line(s, numbers[s.rule.full_id]) for s in separations]
    return tuple(sorted(lines, key=lambda line: (ORDER.index(line.verdict), line.weight != "must")))


def _line(s: Separation, number: Cited) -> Line:
    attribute = s.rule.measure is Measure.ATTRIBUTE
    return Line(
        verdict=s.verdict,
        cited=number,
        installation=s.installation,
        feature=s.feature or str(s.measure),
        value=("kept" if s.margin >= 0 else "not kept") if attribute else value_text(s),
        limit=s.limit.as_written if attribute else side_text(s.rule) or limit_text(s.limit, s.required),
        margin="" if attribute else f"{signed(s.margin)} {s.unit}",
        spread="" if attribute else f"± {s.sigma:.2f} {s.unit}, p {probability_text(s.probability)}",
        because=s.because,
        action=s.action,
        separation=s,
    )


def value_text(s: Separation) -> str:
    """What was measured, rounded so that it flatters nobody."""
    return f"{floored(s.value) if s.limit.is_minimum else ceiled(s.value)} {s.unit}"


def side_text(rule: Rule) -> str:
    """Where a rule about sides wants something; nothing for other rules."""
    if rule.measure is not Measure.SIDE:
        return ""
    return f"never {rule.never}" if rule.never else rule.must_be


def limit_text(limit: Limit, required: float) -> str:
    """The limit in words and in its unit."""
    return f"{limit.relation.replace('_', ' ')} {round(required, 3):g} {limit.unit}"


def signed(length_m: float) -> str:
    """A margin rounded down to the centimetre, with a sign that cannot be overlooked."""
    text = floored(length_m)
    return f"\N{MINUS SIGN}{text.removeprefix('-')}" if text.startswith("-") else f"+{text}"


def probability_text(value: float) -> str:
    """A probability to three digits, rounded down; never a bare 0 or 1 that is not exact.

    >>> probability_text(0.99999), probability_text(1.0), probability_text(1e-9)
    ('> 0.999', '1', '< 0.001')
    """
    if value in (0.0, 1.0):
        return f"{value:.0f}"
    if value < 0.001:
        return "< 0.001"
    return "> 0.999" if value > 0.999 else f"{floor(value * 1000.0) / 1000.0:.3f}"


def _unlooked(rows: Sequence[tuple[str, Unassessed]], numbers: dict[str, Cited]) -> tuple[Line, ...]:
    """One row a rule and a reason: the same is often missing for many installations."""
    gathered: dict[tuple[str, str, str], list[tuple[str, Unassessed]]] = {}
    for name, row in rows:
        gathered.setdefault((row.rule.full_id, row.reason, row.look_for), []).append((name, row))
    lines = []
    for held in gathered.values():
        row = held[0][1]
        out = "" if row.radius_m is None else f" within {row.radius_m:g} m"
        lines.append(
            Line(
                verdict=Verdict.NOT_ASSESSED,
                cited=numbers[row.rule.full_id],
                installation=some([name for name, _ in held]),
                feature="",
                because=row.reason,
                action=f"look for {row.look_for}{out}",
            )
        )
    return tuple(lines)


def _attested(rows: Sequence[tuple[str, Attested]], numbers: dict[str, Cited]) -> tuple[Line, ...]:
    gathered: dict[tuple[str, str], list[tuple[str, Attested]]] = {}
    for name, row in rows:
        gathered.setdefault((row.rule.full_id, row.statement), []).append((name, row))
    return tuple(
        Line(
            verdict=Verdict.MEETS,
            cited=numbers[held[0][1].rule.full_id],
            installation=some([name for name, _ in held]),
            feature="",
            because=f"attested absent over {held[0][1].radius_m:g} m: {held[0][1].statement}",
        )
        for held in gathered.values()
    )


def some(names: Sequence[str]) -> str:
    """A list of names that stays short.

    >>> some(["a", "b"])
    'a, b'
    """
    names = list(dict.fromkeys(names))
    if len(names) <= _NAMES_SHOWN:
        return ", ".join(names)
    return f"{', '.join(names[: _NAMES_SHOWN - 1])} and {len(names) - _NAMES_SHOWN + 1} more"
