"""Which sentences of the packs a registry can answer, and what each asks of one pair of places."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from siting.applicability import limit_value, rule_applies
from siting.kinds import BOUNDARY, Vocabulary
from siting.layer import NONE, Layer
from siting.rules import Limit, Measure, Pack, Rule, Strength

OFF, ON, UNKNOWN = 0, 1, 2
"Whether a rule binds a pair: it does not, it does, or an attribute that would tell is not recorded."
TOWARDS = {"gradient": "flow_towards_deg", "slope": "falls_towards_deg", "wind": "wind_towards_deg"}
"Column of either table in which a bearing tells where groundwater, ground and wind lead to."
_TABLE_LIMIT = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One limit of one rule: the distance from what it sites to what it names."""

    rule: Rule
    limit: Limit
    receptor_kinds: frozenset[str]

    @property
    def keeps_away(self) -> bool:
        """Whether it asks for at least some distance rather than at most."""
        return self.limit.is_minimum

    @property
    def needs(self) -> frozenset[str]:
        """Attributes it looks at, each with its owner."""
        asked = frozenset(self.limit.needs) | ({self.limit.less} if self.limit.less else frozenset())
        for condition in (self.rule.when, self.rule.unless):
            asked |= condition.attributes if condition is not None else frozenset()
        return asked


@dataclass(frozen=True, slots=True, kw_only=True)
class Unanswered:
    """A rule that a registry of places cannot answer, with the reason."""

    rule: Rule
    reason: str


_NEEDS_GROUND = {
    Measure.INSIDE: "needs the outline of the ground it is to lie inside",
    Measure.SIDE: "forbids a side however far away, which needs the site",
    Measure.ABOVE_WATER: "needs the depth of the water table",
    Measure.TRAVEL_TIME: "needs the ground between the two",
    Measure.SLOPE: "needs the slope of the ground",
    Measure.DEPTH: "needs the depth of the pit",
    Measure.DOWNWIND: "needs the winds of the place",
    Measure.ATTRIBUTE: "looks at the installation alone",
}


def answerable(packs: Iterable[Pack]) -> tuple[tuple[Line, ...], tuple[Unanswered, ...]]:
    """The distances that must be kept, and the musts of the packs that only a site of its own can answer."""
    lines, left = [], []
    for rule in (rule for pack in packs for rule in pack.rules if rule.strength is Strength.MUST):
        if rule.measure is not Measure.DISTANCE:
            left.append(Unanswered(rule=rule, reason=_NEEDS_GROUND[rule.measure]))
            continue
        kinds = rule.from_kinds - {BOUNDARY}
        if kinds != rule.from_kinds:
            left.append(Unanswered(rule=rule, reason="needs the boundary of the facility's ground"))
        for limit in rule.limits if kinds else ():
            line = Line(rule=rule, limit=limit, receptor_kinds=kinds)
            if not line.keeps_away and (line.needs or rule.side):
                left.append(Unanswered(rule=rule, reason="a greatest distance that depends on attributes"))
            else:
                lines.append(line)
    return tuple(lines), tuple(left)


def longest_m(line: Line, layers: Sequence[Layer]) -> float:
    """The most that a line can ask for among the values recorded [m]."""
    limit = line.limit
    if limit.constant is not None:
        return limit.constant
    if limit.by:
        return max(y for _, y in limit.points)
    values = [
        float(value)
        for name in limit.of
        for layer in layers
        for value in getattr(layer.attributes.get(name.split(".", 1)[1]), "values", ())
        if isinstance(value, int | float)
    ]
    return (limit.times or 0.0) * max(values, default=0.0)


@dataclass(slots=True)
class Binding:
    """Whether a line binds pairs of places and how far it keeps them apart, each combination reckoned once."""

    line: Line
    hazards: Layer
    receptors: Layer
    words: Vocabulary
    _hazard: tuple[np.ndarray, list[tuple[int, ...]]] = field(init=False)
    _receptor: tuple[np.ndarray, list[tuple[int, ...]]] = field(init=False)

    def __post_init__(self) -> None:
        names = sorted(self.line.needs)
        self._hazard = _classes(self.hazards, [n for n in names if not n.startswith("feature.")])
        self._receptor = _classes(self.receptors, [n for n in names if n.startswith("feature.")])

    def of(self, hazard: np.ndarray, receptor: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """State (k,) and required distance [m] (k,) of pairs; the distance is nan where it is not known."""
        codes, classes = self._hazard
        other_codes, other_classes = self._receptor
        if len(classes) * len(other_classes) == 1:
            alone = self._reckoned(0, 0)
            return np.full(len(hazard), alone[0], dtype=np.int8), np.full(len(hazard), alone[1])
        both = codes[hazard] * np.int64(len(other_classes)) + other_codes[receptor]
        if len(classes) * len(other_classes) <= _TABLE_LIMIT:
            wanted, position = np.arange(len(classes) * len(other_classes)), both
        else:
            wanted, position = np.unique(both, return_inverse=True)
        table = [self._reckoned(*divmod(int(one), len(other_classes))) for one in wanted]
        state = np.array([one for one, _ in table], dtype=np.int8)
        required = np.array([one for _, one in table])
        return state[position], required[position]

    def _reckoned(self, hazard_class: int, receptor_class: int) -> tuple[int, float]:
        names = sorted(self.line.needs)
        attributes = {
            **_known(self.hazards, [n for n in names if not n.startswith("feature.")],
                     self._hazard[1][hazard_class], self.words),
            **_known(self.receptors, [n for n in names if n.startswith("feature.")],
                     self._receptor[1][receptor_class], self.words),
        }  # fmt: skip
        rule, limit = self.line.rule, self.line.limit
        applies, unknown = rule_applies(rule, attributes)
        required = limit_value(limit, attributes, strict=rule.strict_if_unknown)
        if not applies:
            # What an attribute would decide matters only as far as the limit could reach.
            return (UNKNOWN if unknown else OFF), np.nan if required is None else required
        return (UNKNOWN, np.nan) if required is None else (ON, required)


def _columns(layer: Layer, names: Sequence[str]) -> list[tuple[str, object]]:
    return [(name, layer.attributes.get(name.split(".", 1)[1])) for name in names]


def _classes(layer: Layer, names: Sequence[str]) -> tuple[np.ndarray, list[tuple[int, ...]]]:
    """The class of each place by the attributes asked for, and the codes that each class stands for."""
    if not names:
        return np.zeros(len(layer), dtype=np.int64), [()]
    # The kind goes in as well: what it takes for granted holds where nothing was recorded.
    codes = [layer.kind.code]
    codes += [
        getattr(column, "code", np.full(len(layer), NONE, dtype=np.int32)) for _, column in _columns(layer, names)
    ]
    sizes = [len(layer.kind.values) + 1, *(len(getattr(c, "values", ())) + 1 for _, c in _columns(layer, names))]
    mixed = np.zeros(len(layer), dtype=np.int64)
    for code, size in zip(codes, sizes, strict=True):
        mixed = mixed * size + (code + 1)
    found, position = np.unique(mixed, return_inverse=True)
    return position.astype(np.int64), [_unmixed(int(value), sizes) for value in found]


def _unmixed(value: int, sizes: Sequence[int]) -> tuple[int, ...]:
    codes = []
    for size in reversed(sizes):
        value, code = divmod(value, size)
        codes.append(code - 1)
    return tuple(reversed(codes))


def _known(layer: Layer, names: Sequence[str], codes: tuple[int, ...], words: Vocabulary) -> dict[str, object]:
    """Attributes of one class: what its kind takes for granted, then what was recorded."""
    if not names:
        return {}
    kind = str(layer.kind.get(codes[0]))
    held = words.kinds.get(kind)
    known: dict[str, object] = {}
    for (name, column), code in zip(_columns(layer, names), codes[1:], strict=True):
        bare = name.split(".", 1)[1]
        value = column.get(code) if column is not None and code != NONE else None  # type: ignore[attr-defined]  # `_columns` types them as objects
        if bare == "kind":
            value = kind
        elif bare == "status" and value is None:
            value = "existing"
        elif value is None and held is not None and not name.startswith("site."):
            value = held.assumed.get(bare)
        if value is not None:
            known[name] = value
    return known
