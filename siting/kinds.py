"""What a feature can be: one vocabulary, its groups, and the everyday spellings people use.

The words live in `kinds.toml`, beside this module, so that a language is added without touching code.
"""

import difflib
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

UNKNOWN = "unknown"
BOUNDARY = "boundary"
INSTALLATION = "installation"
"The group of kinds that can be placed, and that rules are written for."


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of feature, with the groups it belongs to."""

    name: str
    groups: tuple[str, ...]
    spellings: Mapping[str, tuple[str, ...]]
    "Language code to words; the first word of a language is its label."
    assumed: Mapping[str, object]
    "Attributes taken for granted unless a feature says otherwise."

    def label(self, language: str) -> str:
        """The word to show in a language; the English one where it is missing."""
        return self.spellings.get(language, self.spellings["en"])[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """All kinds, and the way from a word in a table to one of them."""

    kinds: Mapping[str, Kind]
    words: Mapping[str, str]
    "Folded spelling to kind name."

    def recognise(self, word: str) -> str:
        """The kind a word means, or `unknown`."""
        key = folded(word)
        return self.words.get(key) or self.words.get(_singular(key), UNKNOWN)

    def nearest(self, word: str, *, count: int = 3) -> tuple[str, ...]:
        """Kinds whose spellings look most like a word that is not recognised."""
        close = difflib.get_close_matches(folded(word), self.words, n=count * 3, cutoff=0.6)
        return tuple(dict.fromkeys(self.words[key] for key in close))[:count]

    def expand(self, names: Iterable[str]) -> frozenset[str]:
        """Kinds named one by one or by their group; raises KeyError with the first name that is neither."""
        found: set[str] = set()
        for name in names:
            members = {kind.name for kind in self.kinds.values() if name == kind.name or name in kind.groups}
            if not members:
                raise KeyError(name)
            found |= members
        return frozenset(found)

    def is_installation(self, kind: str) -> bool:
        """Whether a kind is something that can be placed."""
        return kind in self.kinds and INSTALLATION in self.kinds[kind].groups

    @property
    def groups(self) -> frozenset[str]:
        """Every group name."""
        return frozenset(group for kind in self.kinds.values() for group in kind.groups)


def folded(word: str) -> str:
    """A word without case, accents, punctuation or doubled spaces.

    >>> folded("  Latrine à fosse-simple ")
    'latrine a fosse simple'
    """
    plain = unicodedata.normalize("NFKD", word.casefold())
    letters = "".join(c if c.isalnum() else " " for c in plain if not unicodedata.combining(c))
    return " ".join(letters.split())


def _singular(word: str) -> str:
    return word.removesuffix("s")


@lru_cache(maxsize=1)
def vocabulary() -> Vocabulary:
    """The vocabulary that comes with the package."""
    table = tomllib.loads(files("siting").joinpath("kinds.toml").read_text("utf-8"))
    return parse(table["kind"])


def parse(table: Mapping[str, Mapping[str, Any]]) -> Vocabulary:
    """A vocabulary from a table of kinds; raises ValueError when one spelling means two kinds."""
    kinds = {name: _kind(name, entry) for name, entry in table.items()}
    words: dict[str, str] = {}
    for kind in kinds.values():
        for spelling in (kind.name, *(word for words_ in kind.spellings.values() for word in words_)):
            holder = words.setdefault(folded(spelling), kind.name)
            if holder != kind.name:
                raise ValueError(f"{spelling!r} means both {holder!r} and {kind.name!r}")
    return Vocabulary(kinds=MappingProxyType(kinds), words=MappingProxyType(words))


def _kind(name: str, entry: Mapping[str, Any]) -> Kind:
    languages = {key: tuple(value) for key, value in entry.items() if key not in ("groups", "assumed")}
    return Kind(
        name=name,
        groups=tuple(entry["groups"]),
        spellings=MappingProxyType(languages),
        assumed=MappingProxyType(dict(entry.get("assumed", {}))),
    )
