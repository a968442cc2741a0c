"""Something doubtful about the input: what was seen, how sure, what it does, how it is mended or accepted.

The doctor (`siting.doctor`) and the readers make findings; the command line stops at those that could flip a verdict.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from siting.errors import Fault, InputError, SitingError

SHOWN = 20


class Sure(StrEnum):
    """How sure the doctor is that something is wrong."""

    CERTAIN = "certain"
    LIKELY = "likely"
    POSSIBLE = "possible"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A repair of coordinates, as data: applied only when somebody accepts it."""

    what: str
    "A key of `doctor.changes.CHANGES`, or `crs`, or `leave out`."
    by: tuple[float, float] = (1.0, 1.0)
    "Factors of x (longitude) and y (latitude), where the change is a scale."
    crs: str = ""
    "The CRS to take instead, where the change is one of zone or hemisphere."


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One doubtful thing."""

    code: str
    "The word for programs, such as `swapped`."
    seen: str
    "What was seen, in words."
    file: str | None = None
    row: int | None = None
    "The first row it concerns."
    value: str = ""
    "What stands there."
    sure: Sure = Sure.LIKELY
    effect_m: float | None = None
    "By how much positions, sizes or depths are wrong if it is as it seems [m]; None where no length tells."
    repair: str
    "What to correct in the files."
    accept: str = ""
    "The text that accepts it under `accept` in `site.toml`; empty where it can only be corrected."
    instead: str = ""
    "A second such text, where there are two repairs."
    stops: bool
    "Whether it could flip a verdict, so that nothing is decided before it is accepted or corrected."
    layer: str = ""
    rows: tuple[int, ...] = ()
    "All rows that the change is for; empty for the whole file."
    change: Change | None = None
    "What accepting does to the coordinates; None where it only lets them pass."
    accepted: bool = False

    @property
    def accept_line(self) -> str:
        """The line to add to `site.toml`."""
        return f'accept = ["{self.accept}"]' if self.accept else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingFault(Fault):
    """A finding as a fault in three parts, so that errors carry it to programs."""

    finding: Finding


def fault(finding: Finding) -> FindingFault:
    """What was found with its code and effect, what was needed, and both ways on: correct, or accept."""
    return FindingFault(
        found=f"{finding.seen} [{finding.code}, {finding.sure}{effect(finding)}]",
        needed="input without doubt, before any distance is printed",
        do_next=_do_next(finding),
        file=finding.file,
        row=finding.row,
        finding=finding,
    )


def effect(finding: Finding) -> str:
    """The effect in words: nothing where no length tells."""
    if finding.effect_m is None:
        return ""
    return f", effect {length(finding.effect_m)}"


def length(metres: float) -> str:
    """A length in two or three figures.

    >>> length(668_123.0), length(5.57)
    ('668 km', '5.6 m')
    """
    if metres >= 10_000.0:
        return f"{metres / 1000.0:.0f} km"
    return f"{metres:.0f} m" if metres >= 100.0 else f"{metres:.2g} m" if metres < 10.0 else f"{metres:.0f} m"


def _do_next(finding: Finding) -> str:
    ways = [finding.repair]
    if finding.accept:
        ways.append(f"or accept it with this line in site.toml: {finding.accept_line}")
    if finding.instead:
        ways.append(f'or, for the other repair: accept = ["{finding.instead}"]')
    return "; ".join(ways)


def marked(findings: Iterable[Finding], accepted: Sequence[str]) -> tuple[Finding, ...]:
    """The findings, those that somebody accepts turned into warnings."""
    said = {_folded(text) for text in accepted}
    return tuple(
        replace(finding, accepted=True, stops=False) if said & _lines(finding) else finding for finding in findings
    )


def unused(accepted: Sequence[str], findings: Sequence[Finding], *, file: str) -> tuple[Finding, ...]:
    """A warning for each accepted thing that is not found."""
    used = {line for finding in findings for line in _lines(finding)}
    return tuple(
        Finding(
            code="accept-unused",
            seen=f"accepted, but not found: {text!r}",
            file=file,
            value=text,
            sure=Sure.CERTAIN,
            repair="remove the text from accept, or correct its spelling",
            stops=False,
        )
        for text in accepted
        if _folded(text) not in used
    )


def accepts(accepted: Sequence[str], text: str) -> bool:
    """Whether somebody accepts this very thing."""
    return _folded(text) in {_folded(each) for each in accepted}


def _lines(finding: Finding) -> set[str]:
    return {_folded(text) for text in (finding.accept, finding.instead) if text}


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def faults(findings: Iterable[Finding]) -> tuple[Fault, ...]:
    """The findings that stop, each as a fault; beyond the first twenty only their number is told."""
    held = [fault(finding) for finding in findings if finding.stops]
    if len(held) <= SHOWN:
        return tuple(held)
    rest = Fault(
        found=f"... and {len(held) - SHOWN} more doubts",
        needed="the same as above",
        do_next="settle those listed first and run again",
    )
    return (*held[:SHOWN], rest)


def apart(error: SitingError) -> tuple[tuple[Finding, ...], tuple[Fault, ...]]:
    """The findings that an error carries, and its other faults."""
    told = tuple(each.finding for each in error.faults if isinstance(each, FindingFault))
    return told, tuple(each for each in error.faults if not isinstance(each, FindingFault))


def refuse_to_decide(findings: Iterable[Finding]) -> None:
    """Raise InputError with every finding that stops; nothing happens where none does."""
    held = faults(findings)
    if held:
        raise InputError(*held)


def address(words: str, *, file: str, layer: str = "", rows: Sequence[int] = ()) -> str:
    """The text that accepts something: what is done, to which file, layer and rows.

    >>> address("swap lat/lon", file="points.csv", rows=(3, 7))
    'swap lat/lon: points.csv rows 3, 7'
    """
    where = f"{file} [{layer}]" if layer else file
    if not rows:
        return f"{words}: {where}"
    return f"{words}: {where} row{'s' if len(rows) > 1 else ''} {', '.join(map(str, rows))}"
