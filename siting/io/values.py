"""Cells as numbers, flags, dates and states; what cannot be one is said, never guessed."""

import re
from collections.abc import Mapping
from datetime import date, datetime

from siting.kinds import folded
from siting.site import Status

_NUMBER = re.compile(r"-?(0|[1-9]\d*)(\.\d+)?([eE][+-]?\d+)?", re.ASCII)
_LENGTH = re.compile(r"(?:±|\+/-)?\s*(-?\d+(?:[.,]\d+)?)\s*m?", re.ASCII)

_LARGEST = 1e300
"Whole numbers beyond it are no float; nothing measured is."

_STATUS_WORDS: Mapping[Status, tuple[str, ...]] = {
    Status.EXISTING: (
        "existing",
        "in use",
        "open",
        "active",
        "functional",
        "working",
        "built",
        "existant",
        "existante",
        "en service",
        "existente",
        "em uso",
        "en uso",
        "ipo",
        "inatumika",
    ),
    Status.PROPOSED: (
        "proposed",
        "planned",
        "future",
        "design",
        "propose",
        "proposee",
        "prevu",
        "prevue",
        "proposto",
        "planeado",
        "propuesto",
        "planificado",
        "imependekezwa",
    ),
    Status.CLOSED: (
        "closed",
        "abandoned",
        "disused",
        "filled",
        "sealed off",
        "decommissioned",
        "ferme",
        "fermee",
        "abandonne",
        "fechado",
        "abandonado",
        "encerrado",
        "cerrado",
        "imefungwa",
    ),
}
_STATUS = {word: status for status, words in _STATUS_WORDS.items() for word in words}


def is_blank(value: object) -> bool:
    """Whether a cell says nothing."""
    return value is None or (isinstance(value, str) and not value.strip()) or value != value


def typed(value: object) -> object:
    """A free attribute: numbers as float, true and false as bool, anything else as text.

    >>> typed("6.50"), typed("TRUE"), typed("0712")
    (6.5, True, '0712')
    """
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float) and abs(value) < _LARGEST:
        return float(value)
    if isinstance(value, date):
        return value.isoformat()
    text = str(value).strip()
    if text.lower() in ("true", "false"):
        return text.lower() == "true"
    return float(text) if _NUMBER.fullmatch(text) else text


def length_m(value: object) -> float:
    """Metres from a cell such as 5, "5 m" or "±5"; raises ValueError.

    >>> length_m("±4,5 m")
    4.5
    """
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _LARGEST:
        number = float(value)
    else:
        found = _LENGTH.fullmatch(str(value).strip())
        if not found:
            raise ValueError(f"{str(value)[:40]!r} is not a length in metres")
        number = float(found[1].replace(",", "."))
    if not abs(number) < 1e7:
        raise ValueError(f"{str(value)[:40]!r} is not a length in metres")
    return number


def share(value: object) -> float:
    """A share from 0.95 or "95 %"; raises ValueError."""
    text = str(value).strip()
    try:
        number = float(text.removesuffix("%")) / (100.0 if text.endswith("%") else 1.0)
    except ValueError:
        raise ValueError(f"{text[:40]!r} is not a share between 0 and 1") from None
    if not 0 < number < 1:
        raise ValueError(f"{text[:40]!r} is not a share between 0 and 1")
    return number


def status_of(value: object) -> Status | None:
    """The state a word means, or None where the word is not known."""
    return _STATUS.get(folded(str(value)))


def day_of(value: object) -> date | None:
    """The day of a date, a date with a time, or text in the form 2026-05-14; None where it is none of these."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(str(value).strip()[:10])
    except ValueError:
        return None


def refused_characters(text: str) -> str | None:
    """What makes a text unfit to be shown: control characters, or marks that turn the reading order round."""
    for character in text:
        code = ord(character)
        if 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069:
            return f"a mark that changes the reading order (U+{code:04X})"
        if (code < 0x20 and character not in "\t\n\r") or 0x7F <= code <= 0x9F:
            return f"a control character (U+{code:04X})"
        if 0xD800 <= code <= 0xDFFF:
            return f"half a character (U+{code:04X})"
    return None
