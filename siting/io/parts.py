"""What is told of a registry, and what its reader hands on of it, some rows at a time."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from siting.layer import Layer


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is said of a table beside it."""

    kind: str | None = None
    "Kind of every row, where the table has no column for it."
    crs: str | None = None
    area: str | None = None
    "Heading of the unit to count by."
    layer: str | None = None
    attributes: frozenset[str] = frozenset()
    "Attributes that rules in force ask for, without their owner."


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A row that could not be placed."""

    row: int
    id: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Some rows of a registry: those that could be placed, and those that could not."""

    layer: Layer
    ids: Any
    "Arrow array of text (n,)."
    suspect: np.ndarray
    "Rows (n,) whose position deserves a doubt: few decimals, or known poorly."
    refused: tuple[Refused, ...]
