"""Rules as data: one pack a document edition, every number with a citation of its own.

These are the values; `pack_text` reads them from TOML. Nothing here knows what any document says.
"""

from dataclasses import dataclass
from enum import StrEnum

from siting.conditions import Condition


class Measure(StrEnum):
    """What a rule measures."""

    DISTANCE = "distance"
    INSIDE = "inside"
    SIDE = "side"
    ABOVE_WATER = "above water table"
    TRAVEL_TIME = "travel time"
    SLOPE = "slope"
    DEPTH = "depth"
    DOWNWIND = "downwind"
    ATTRIBUTE = "attribute"


class Strength(StrEnum):
    """Whether a rule decides or advises."""

    MUST = "must"
    SHOULD = "should"


class Read(StrEnum):
    """How far the number was followed to its source; printed beside it."""

    SEEN = "seen"
    SECOND_HAND = "second-hand"
    RECALLED = "recalled"
    JUDGEMENT = "project judgement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A published document that rules cite."""

    key: str
    title: str
    publisher: str
    year: int | None
    url: str
    read: Read


@dataclass(frozen=True, slots=True, kw_only=True)
class Citation:
    """Where one number stands: document, clause, its sense in our own words, and how it was read."""

    document: Document
    clause: str
    says: str
    read: Read

    def __str__(self) -> str:
        year = f" ({self.document.year})" if self.document.year else ""
        return f"{self.document.title}{year}, {self.clause} [{self.read}]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit: a number, or straight lines over an attribute, or a multiple of attributes."""

    relation: str
    "at_least, more_than, at_most or less_than."
    unit: str
    constant: float | None = None
    by: str = ""
    "Attribute that `points` are drawn over."
    points: tuple[tuple[float, float], ...] = ()
    times: float | None = None
    of: tuple[str, ...] = ()
    "Attributes of which the largest is multiplied."
    less: str = ""
    "Attribute taken from the largest before it is multiplied; the result is never below zero."
    less_if_unknown: float | None = None
    as_written: str = ""
    "The limit in the document's own unit, such as `50 ft`."

    @property
    def is_strict(self) -> bool:
        """Whether a value exactly at the limit fails."""
        return self.relation in ("more_than", "less_than")

    @property
    def is_minimum(self) -> bool:
        """Whether more is better."""
        return self.relation in ("at_least", "more_than")

    @property
    def needs(self) -> tuple[str, ...]:
        """Attributes without which the limit has no value."""
        less = (self.less,) if self.less and self.less_if_unknown is None else ()
        return (*((self.by,) if self.by else ()), *self.of, *less)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One sentence of a document that can be measured."""

    id: str
    pack: str
    for_kinds: frozenset[str]
    from_kinds: frozenset[str]
    for_words: tuple[str, ...]
    from_words: tuple[str, ...]
    "The kinds and groups as the pack names them, for people."
    measure: Measure
    limits: tuple[Limit, ...]
    outline: str
    "`pit` or `enclosure`: which outline of the installation it is measured from."
    strength: Strength
    citation: Citation
    when: Condition | None = None
    unless: Condition | None = None
    require: Condition | None = None
    side: str = ""
    "The rule holds only where the installation lies on this side of the feature."
    never: str = ""
    must_be: str = ""
    sector_deg: float = 180.0
    "Full width of the sector that counts as the side."
    datum: str = "pit bottom"
    "What a height above water is measured from: `pit bottom` or `ground surface`."
    strict_if_unknown: bool = False
    where_marked: bool = False
    "Holds only where such a feature is on the plan; its absence leaves nothing to look for."
    flag: bool = False
    "A risk flag of an inspection form, not a permitted distance."
    note: str = ""

    @property
    def asks_of_features(self) -> bool:
        """Whether it depends on an attribute of the feature that it is measured from."""
        asked = {name for condition in (self.when, self.unless) if condition for name in condition.attributes}
        asked.update(name for limit in self.limits for name in (limit.by, limit.less, *limit.of))
        return any(name.startswith("feature.") for name in asked)

    @property
    def full_id(self) -> str:
        """Pack and rule, as every output names it."""
        return f"{self.pack}/{self.id}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """One document edition, or one local code, as a list of rules."""

    id: str
    title: str
    edition: str
    rules: tuple[Rule, ...]
    documents: tuple[Document, ...]
    sha256: str
    notes: tuple[str, ...] = ()

    def for_kind(self, kind: str) -> tuple[Rule, ...]:
        """The rules that site this kind."""
        return tuple(rule for rule in self.rules if kind in rule.for_kinds)
