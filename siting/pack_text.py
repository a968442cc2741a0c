"""The language of a pack: from the text of its TOML file to rules.

A pack that does not fit the language does not load: the error names file, rule, key and the nearest spelling.
"""

import difflib
import hashlib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from math import isfinite
from typing import Any

from siting.conditions import ATTRIBUTE, Condition, ConditionError, parse_condition
from siting.errors import Fault, PackError
from siting.kinds import Vocabulary
from siting.rules import Citation, Document, Limit, Measure, Pack, Read, Rule, Strength

FOOT_M = 0.3048
UNITS = {
    "m": ("m", 1.0),
    "ft": ("m", FOOT_M),
    "in": ("m", FOOT_M / 12.0),
    "yd": ("m", 3.0 * FOOT_M),
    "days": ("days", 1.0),
    "percent": ("%", 1.0),
    "deg": ("deg", 1.0),
}
"Unit suffix of a key: the unit reckoned in, and the factor to it (feet by the international foot, exact)."

RELATIONS = ("at_least", "more_than", "at_most", "less_than")
SIDES = ("up-gradient", "down-gradient", "up-slope", "down-slope", "upwind", "downwind")
_LIMIT_KEY = re.compile(rf"^({'|'.join(RELATIONS)})_({'|'.join(UNITS)})(_by|_times)?$")


@dataclass(slots=True)
class _Reading:
    """Where the parser is, and what it has found wrong so far."""

    file: str
    words: Vocabulary
    faults: list[Fault] = field(default_factory=list)

    def fault(self, found: str, *, needed: str, do_next: str) -> None:
        self.faults.append(Fault(found=found, needed=needed, do_next=do_next, file=self.file))

    def known_keys(self, table: Mapping[str, object], allowed: Iterable[str], where: str) -> None:
        allowed = tuple(allowed)
        for key in table:
            if key not in allowed:
                self.fault(
                    f"{where}: unknown key {key!r}",
                    needed=f"one of {', '.join(sorted(allowed))}",
                    do_next=_did_you_mean(key, allowed, "remove the key or mend its spelling"),
                )

    def one_of(self, value: object, allowed: Iterable[str], where: str, default: str) -> str:
        allowed = tuple(allowed)
        if value in allowed:
            return str(value)
        self.fault(
            f"{where}: {value!r}",
            needed=f"one of {', '.join(allowed)}",
            do_next=_did_you_mean(str(value), allowed, "choose one of them"),
        )
        return default


def _did_you_mean(word: str, allowed: Iterable[str], otherwise: str) -> str:
    close = difflib.get_close_matches(word, tuple(allowed), n=1, cutoff=0.6)
    return f"did you mean {str(close[0])!r}?" if close else otherwise


def parse(text: str, words: Vocabulary, *, file: str) -> Pack:
    """A pack from the text of its TOML file; every fault is collected, then raised as one PackError."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PackError.of(
            f"not TOML: {error}", needed="a pack of rules in TOML", do_next="mend the line named", file=file
        ) from error
    reading = _Reading(file=file, words=words)
    reading.known_keys(table, ("id", "title", "edition", "document", "rule", "notes"), "top level")
    for key in ("id", "title", "edition"):
        if not isinstance(table.get(key), str) or not table[key]:
            reading.fault(f"no {key!r}", needed=f'{key} = "..." at the top', do_next="add the line")
    _shaped(table, reading)
    documents = _documents(table.get("document", {}), reading)
    pack_id = str(table.get("id", file))
    rules = tuple(_rules(table.get("rule", []), pack_id, documents, reading))
    if reading.faults:
        raise PackError(*reading.faults)
    return Pack(
        id=pack_id,
        title=table["title"],
        edition=table["edition"],
        rules=rules,
        documents=tuple(documents.values()),
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        notes=tuple(table.get("notes", ())),
    )


def _shaped(table: Mapping[str, object], reading: _Reading) -> None:
    """Faults of the outer shape: tables where tables belong, and lists where lists belong."""
    rules, documents, notes = table.get("rule", []), table.get("document", {}), table.get("notes", [])
    if not isinstance(rules, list) or not rules or not all(isinstance(rule, dict) for rule in rules):
        reading.fault("no [[rule]]", needed="one [[rule]] or more, in double brackets", do_next="add or mend them")
    if not isinstance(documents, dict) or not all(isinstance(entry, dict) for entry in documents.values()):
        reading.fault("[document] without a key", needed="[document.<key>] for each document", do_next="name its key")
    if not isinstance(notes, list) or not all(isinstance(note, str) for note in notes):
        reading.fault(f"notes = {notes!r}", needed="a list of sentences", do_next='write notes = ["..."]')


def _documents(table: object, reading: _Reading) -> dict[str, Document]:
    documents = {}
    entries = table.items() if isinstance(table, dict) else ()
    for key, entry in ((key, entry) for key, entry in entries if isinstance(entry, dict)):
        where = f"document {key!r}"
        reading.known_keys(entry, ("title", "publisher", "year", "url", "read"), where)
        if not entry.get("title"):
            reading.fault(f"{where}: no title", needed='title = "..."', do_next="name the document")
        documents[key] = Document(
            key=key,
            title=str(entry.get("title", key)),
            publisher=str(entry.get("publisher", "")),
            year=entry.get("year"),
            url=str(entry.get("url", "")),
            read=Read(reading.one_of(entry.get("read"), tuple(Read), f"{where}: read", Read.RECALLED)),
        )
    return documents


_RULE_KEYS = (
    "id", "for", "from", "measure", "outline", "strength", "when", "unless", "require", "side", "never",
    "must_be", "sector_deg", "datum", "if_unknown", "where_marked", "flag",
    "note", "cite",
)  # fmt: skip


def _rules(entries: object, pack: str, documents: Mapping[str, Document], reading: _Reading) -> Iterable[Rule]:
    seen: set[str] = set()
    listed = [entry for entry in entries if isinstance(entry, dict)] if isinstance(entries, list) else []
    for number, entry in enumerate(listed, start=1):
        where = f"rule {entry.get('id', number)!r}"
        if not isinstance(entry.get("id"), str):
            reading.fault(f"{where}: no id", needed='id = "..."', do_next="give the rule a name of its own")
        elif entry["id"] in seen:
            reading.fault(f"{where}: id used twice", needed="ids that differ", do_next="rename one of them")
        seen.add(str(entry.get("id")))
        before = len(reading.faults)
        rule = _rule(entry, where, pack, documents, reading)
        if rule is not None and len(reading.faults) == before:
            yield rule


def _rule(
    entry: Mapping[str, Any], where: str, pack: str, documents: Mapping[str, Document], reading: _Reading
) -> Rule | None:
    limit_keys = [key for key in entry if _LIMIT_KEY.match(key)]
    reading.known_keys({k: v for k, v in entry.items() if k not in limit_keys}, _RULE_KEYS, where)
    measure = Measure(reading.one_of(entry.get("measure", "distance"), tuple(Measure), f"{where}: measure", "distance"))
    limits = tuple(limit for key in limit_keys if (limit := _limit(key, entry[key], where, reading)))
    citation = _citation(entry.get("cite"), where, documents, reading)
    rule_sides = {key: str(entry.get(key, "")) for key in ("side", "never", "must_be")}
    for key, value in rule_sides.items():
        if value:
            reading.one_of(value, SIDES, f"{where}: {key}", "")
    conditions = {key: _condition(entry.get(key), f"{where}: {key}", reading) for key in ("when", "unless", "require")}
    _fits_measure(measure, limits, entry, where, reading)
    _plain_values(entry, where, reading)
    if citation is None:
        return None
    return Rule(
        id=str(entry.get("id")),
        pack=pack,
        for_kinds=_kinds(entry.get("for"), f"{where}: for", reading),
        from_kinds=_kinds(entry.get("from", []), f"{where}: from", reading),
        for_words=_words(entry.get("for")),
        from_words=_words(entry.get("from")),
        measure=measure,
        limits=limits or ((Limit(relation="at_least", unit="m", constant=0.0),) if measure is Measure.INSIDE else ()),
        outline=reading.one_of(entry.get("outline", "pit"), ("pit", "enclosure"), f"{where}: outline", "pit"),
        strength=Strength(
            reading.one_of(entry.get("strength", "must"), tuple(Strength), f"{where}: strength", "must")
        ),
        citation=citation,
        sector_deg=_number(entry.get("sector_deg"), 90.0 if "wind" in "".join(rule_sides.values()) else 180.0),
        datum=reading.one_of(
            entry.get("datum", "pit bottom"), ("pit bottom", "ground surface"), f"{where}: datum", "pit bottom"
        ),
        strict_if_unknown=reading.one_of(
            entry.get("if_unknown", "not assessed"), ("not assessed", "strict"), f"{where}: if_unknown", "strict"
        ) == "strict",
        where_marked=bool(entry.get("where_marked", False)),
        flag=bool(entry.get("flag", False)),
        note=str(entry.get("note", "")),
        side=rule_sides["side"],
        never=rule_sides["never"],
        must_be=rule_sides["must_be"],
        when=conditions["when"],
        unless=conditions["unless"],
        require=conditions["require"],
    )  # fmt: skip


_FROM_NEEDED = (Measure.DISTANCE, Measure.INSIDE, Measure.SIDE, Measure.TRAVEL_TIME, Measure.DOWNWIND)
_UNIT_OF = {Measure.TRAVEL_TIME: "days", Measure.SLOPE: "%", Measure.DOWNWIND: "%"}
_ONE_WAY = {Measure.TRAVEL_TIME: True, Measure.SLOPE: False, Measure.DOWNWIND: False}
"Whether the limit of a measure has to be a minimum."


def _fits_measure(
    measure: Measure, limits: tuple[Limit, ...], entry: Mapping[str, object], where: str, reading: _Reading
) -> None:
    if measure in _FROM_NEEDED and not entry.get("from"):
        reading.fault(f"{where}: no 'from'", needed="kinds or groups it is measured from", do_next="add from = [...]")
    if measure is Measure.ATTRIBUTE and not entry.get("require"):
        reading.fault(f"{where}: no 'require'", needed="what the attribute has to be", do_next="add require = {...}")
    if measure is Measure.SIDE and not (entry.get("never") or entry.get("must_be")):
        reading.fault(f"{where}: no side", needed="never = or must_be = a side", do_next="add one of them")
    if measure is Measure.INSIDE and any(not limit.is_minimum for limit in limits):
        reading.fault(f"{where}: at most, inside", needed="at_least or more_than", do_next="turn the limit round")
    if measure in (Measure.INSIDE, Measure.SIDE, Measure.ATTRIBUTE):
        return
    if not limits and not any(_LIMIT_KEY.match(key) for key in entry):
        reading.fault(
            f"{where}: no limit",
            needed="a limit with its unit, such as at_least_m = 30 or more_than_ft = 50",
            do_next="add the limit and its unit",
        )
    for limit in limits:
        if _ONE_WAY.get(measure, limit.is_minimum) is not limit.is_minimum:
            wanted = "at_least or more_than" if _ONE_WAY[measure] else "at_most or less_than"
            reading.fault(f"{where}: {limit.relation} for {measure}", needed=wanted, do_next="turn the limit round")
        unit = _UNIT_OF.get(measure, "m")
        if limit.unit != unit and not (measure is Measure.SLOPE and limit.unit == "deg"):
            reading.fault(
                f"{where}: limit in {limit.unit}", needed=f"a limit in {unit} for measure {measure}",
                do_next="mend the unit in the key",
            )  # fmt: skip


def _plain_values(entry: Mapping[str, Any], where: str, reading: _Reading) -> None:
    """Faults of values that have one sensible form."""
    sector = entry.get("sector_deg", 180.0)
    if isinstance(sector, bool) or not isinstance(sector, int | float) or not 0 < sector <= 180:
        reading.fault(f"{where}: sector_deg = {sector!r}", needed="degrees above 0, at most 180", do_next="mend it")
    for key in ("flag", "where_marked"):
        if not isinstance(entry.get(key, False), bool):
            reading.fault(f"{where}: {key} = {entry[key]!r}", needed="true or false", do_next="write it without quotes")
    if entry.get("for") == []:
        reading.fault(f"{where}: no 'for'", needed="kinds or groups that it sites", do_next="add for = [...]")
    if entry.get("never") and entry.get("must_be"):
        reading.fault(f"{where}: never and must_be together", needed="one of them", do_next="leave one out")


def _words(names: object) -> tuple[str, ...]:
    return tuple(map(str, names)) if isinstance(names, list) else ()


def _number(value: object, default: float) -> float:
    return float(value) if isinstance(value, int | float) else default


def _kinds(names: object, where: str, reading: _Reading) -> frozenset[str]:
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        reading.fault(f"{where}: {names!r}", needed="a list of kinds or groups", do_next='write for = ["pit latrine"]')
        return frozenset()
    found: set[str] = set()
    for name in names:
        try:
            found |= reading.words.expand([name])
        except KeyError:
            allowed = (*reading.words.kinds, *reading.words.groups)
            reading.fault(
                f"{where}: unknown kind or group {name!r}",
                needed="a kind or group of the vocabulary",
                do_next=_did_you_mean(name, allowed, "list them with `siting rules --kinds`"),
            )
    return frozenset(found)


def _limit(key: str, value: object, where: str, reading: _Reading) -> Limit | None:
    match = _LIMIT_KEY.match(key)
    assert match is not None
    relation, suffix, form = match.groups()
    unit, factor = UNITS[suffix]
    if form is None:
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < 1e5:
            reading.fault(f"{where}: {key} = {value!r}", needed="a number, zero or more", do_next="mend the number")
            return None
        return Limit(relation=relation, unit=unit, constant=value * factor, as_written=f"{value:g} {suffix}")
    try:
        return _by(relation, unit, factor, value) if form == "_by" else _times(relation, unit, value)
    except (KeyError, TypeError, ValueError) as error:
        needed = (
            'a table such as { attribute = "site.soil_thickness_m", points = [[1.2, 40], [3.0, 30]] }'
            if form == "_by"
            else 'a table such as { times = 4, of = ["feature.cut_height_m"] }'
        )
        reading.fault(f"{where}: {key}: {error}", needed=needed, do_next="mend the table")
        return None


def _by(relation: str, unit: str, factor: float, value: object) -> Limit:
    if not isinstance(value, dict) or set(value) != {"attribute", "points"}:
        raise ValueError("needs 'attribute' and 'points'")
    points = tuple((float(x), float(y) * factor) for x, y in value["points"])
    if not all(isfinite(x) and 0 <= y < 1e5 for x, y in points):
        raise ValueError("points must be numbers, and limits zero or more")
    if len(points) < 2 or any(a[0] >= b[0] for a, b in pairwise(points)):
        raise ValueError("points must number two or more and rise")
    return Limit(relation=relation, unit=unit, by=_attribute(value["attribute"]), points=points)


def _times(relation: str, unit: str, value: object) -> Limit:
    if not isinstance(value, dict) or not {"times", "of"} <= set(value) <= {
        "times",
        "of",
        "less",
        "less_if_unknown",
    }:
        raise ValueError("needs 'times' and 'of', and may have 'less' and 'less_if_unknown'")
    of = [value["of"]] if isinstance(value["of"], str) else value["of"]
    if not of or not 0 < float(value["times"]) < 1e4:
        raise ValueError("'times' must be above zero, and 'of' name an attribute")
    return Limit(
        relation=relation,
        unit=unit,
        times=float(value["times"]),
        of=tuple(_attribute(name) for name in of),
        less=_attribute(value["less"]) if "less" in value else "",
        less_if_unknown=float(value["less_if_unknown"]) if "less_if_unknown" in value else None,
    )


def _attribute(name: str) -> str:
    if not ATTRIBUTE.match(name):
        raise ValueError(f"{name!r} is not an attribute of feature, installation or site")
    return name


def _condition(value: object, where: str, reading: _Reading) -> Condition | None:
    if value is None:
        return None
    try:
        return parse_condition(value)
    except ConditionError as error:
        reading.fault(f"{where}: {error.found}", needed=error.needed, do_next=error.do_next)
        return None


def _citation(entry: object, where: str, documents: Mapping[str, Document], reading: _Reading) -> Citation | None:
    if not isinstance(entry, dict) or not entry.get("clause") or not entry.get("document"):
        reading.fault(
            f"{where}: no citation of its own",
            needed='cite = { document = "...", clause = "...", says = "..." }',
            do_next="add it: a number without a source does not load",
        )
        return None
    reading.known_keys(entry, ("document", "clause", "says", "read"), f"{where}: cite")
    document = documents.get(str(entry["document"]))
    if document is None:
        reading.fault(
            f"{where}: cites unknown document {entry['document']!r}",
            needed=f"one of {', '.join(sorted(documents)) or 'the documents (none is listed)'}",
            do_next=_did_you_mean(str(entry["document"]), documents, "add [document.<key>]"),
        )
        return None
    read = reading.one_of(entry.get("read", document.read), tuple(Read), f"{where}: cite: read", Read.RECALLED)
    return Citation(document=document, clause=str(entry["clause"]), says=str(entry.get("says", "")), read=Read(read))
