"""Packs as text for the terminal."""

from collections.abc import Iterable

from siting.kinds import Vocabulary
from siting.rules import Limit, Measure, Pack, Rule


def listed(packs: Iterable[Pack]) -> str:
    """One line a pack: name, number of rules, title and edition."""
    lines = [f"{p.id:28} {len(p.rules):3} rules  {p.title}, edition {p.edition}" for p in packs]
    return "\n".join([*lines, "", "Print one with its citations: siting rules PACK"])


def kinds(words: Vocabulary) -> str:
    """Every kind with its groups."""
    return "\n".join(f"{k.name:22} {', '.join(k.groups)}" for k in words.kinds.values())


def printed(pack: Pack) -> str:
    """A pack in full: documents with their read marks, then every rule with its citation."""
    lines = [f"{pack.title}", f"edition {pack.edition}   [{pack.id}]", ""]
    lines += [f"note: {note}" for note in pack.notes]
    lines += ["documents:"]
    for d in pack.documents:
        year = f" ({d.year})" if d.year else ""
        lines += [f"  {d.title}{year}. {d.publisher} [{d.read}]"] + ([f"    {d.url}"] if d.url else [])
    lines += ["", "rules:"]
    for rule in pack.rules:
        lines += _rule(rule)
    return "\n".join(lines)


def _rule(rule: Rule) -> list[str]:
    lines = [f"  {rule.id}  ({rule.strength}{', risk flag' if rule.flag else ''})", f"    {sentence(rule)}"]
    for word, condition in (("when", rule.when), ("unless", rule.unless)):
        if condition:
            lines.append(f"    {word} {condition}")
    lines.append(f"    {rule.citation}")
    if rule.citation.says:
        lines.append(f"    sense: {rule.citation.says}")
    if rule.note:
        lines.append(f"    note: {rule.note}")
    return lines


def sentence(rule: Rule) -> str:
    """What a rule demands, as a sentence."""
    who = _some(sorted(rule.for_kinds))
    whom = " or ".join(rule.from_words)
    limits = " and ".join(limit_text(limit) for limit in rule.limits)
    match rule.measure:
        case Measure.DISTANCE:
            where = f", {rule.side} of it" if rule.side else ""
            return f"{who}: {limits} from {whom}{where} (from the {rule.outline})"
        case Measure.INSIDE:
            return f"{who}: {rule.outline} inside {whom}"
        case Measure.SIDE:
            return f"{who}: {'never ' + rule.never if rule.never else rule.must_be} of {whom}"
        case Measure.ATTRIBUTE:
            return f"{who}: {rule.require}"
        case Measure.ABOVE_WATER:
            return f"{who}: {rule.datum} {limits} above the highest water"
        case _:
            return f"{who}: {rule.measure} {limits}" + (f" to {whom}" if whom else "")


def limit_text(limit: Limit) -> str:
    """A limit in the document's own unit, with metres beside feet."""
    relation = limit.relation.replace("_", " ")
    if limit.constant is not None:
        own = limit.as_written
        metres = "" if own.endswith(" m") or limit.unit != "m" else f" ({limit.constant:.2f} m)"
        return f"{relation} {own}{metres}"
    if limit.by:
        points = ", ".join(f"{x:g} gives {y:g} {limit.unit}" for x, y in limit.points)
        return f"{relation} by {_plain(limit.by)}: {points}, straight lines between"
    larger = " or ".join(_plain(name) for name in limit.of)
    less = f" less {_plain(limit.less)}" if limit.less else ""
    return f"{relation} {limit.times:g} x ({'the larger of ' if len(limit.of) > 1 else ''}{larger}{less})"


def _plain(attribute: str) -> str:
    return attribute.replace(".", " ").replace("_", " ")


def _some(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more kinds"


def compared(one: Pack, other: Pack) -> str:
    """Where two packs differ: for each installation and each kind it is measured from, the largest distance of each."""
    tables = [_largest(pack) for pack in (one, other)]
    lines = [f"{'installation':20} {'from':20} {one.id[:24]:>24} {other.id[:24]:>24}"]
    for key in sorted(set(tables[0]) | set(tables[1])):
        values = [table.get(key) for table in tables]
        if values[0] != values[1]:
            shown = ["-" if v is None else f"{v:.2f} m" for v in values]
            lines.append(f"{key[0]:20} {key[1]:20} {shown[0]:>24} {shown[1]:>24}")
    return "\n".join([*lines, "", "Largest fixed minimum distance of each pack, whatever its conditions; - is none."])


def _largest(pack: Pack) -> dict[tuple[str, str], float]:
    largest: dict[tuple[str, str], float] = {}
    for rule in pack.rules:
        for limit in rule.limits:
            if rule.measure is Measure.DISTANCE and limit.is_minimum and limit.constant:
                for key in ((a, b) for a in rule.for_kinds for b in rule.from_kinds):
                    largest[key] = max(largest.get(key, 0.0), limit.constant)
    return largest
