"""One table of places as arrays: where they are, what they are, how surely, and what rules may ask of them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

NONE = -1
"Code of a cell that says nothing, and index of a place that is not there."


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of few different values: each cell is the position of its value."""

    values: tuple[object, ...]
    code: np.ndarray
    "Position in `values` (n,), or -1 where nothing was recorded."

    def taken(self, at: np.ndarray) -> "Column":
        """The column of some rows."""
        return Column(values=self.values, code=self.code[at])

    def get(self, code: int) -> object:
        """The value of a code; None for -1."""
        return None if code == NONE else self.values[code]


def constant(value: object, count: int) -> Column:
    """A column that says the same in every row."""
    return Column(values=(value,), code=np.zeros(count, dtype=np.int32))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Places (n) of one table or of a part of it, on WGS 84."""

    lonlat: np.ndarray
    "Degrees (n, 2); of a line or an area, a point of it."
    kind: Column
    sigma_m: np.ndarray
    "Standard uncertainty per axis of each position."
    radius_m: np.ndarray
    "Of places that are discs; zero for the others."
    shapes: np.ndarray | None = None
    "Lines and areas in degrees (n,) as geometries, None where the place is a point; None when all are points."
    row: np.ndarray | None = None
    "Row in the table, so that a place is not measured to itself."
    source: str = ""
    "What file or layer it comes from."
    shared_sigma_m: float = 0.0
    "What all positions of the source share, per axis; it counts between sources and cancels within one."
    attributes: Mapping[str, Column] = field(default_factory=dict)
    area: Column | None = None
    "District, camp or other unit that totals are counted by."

    def __len__(self) -> int:
        return len(self.lonlat)

    @property
    def is_shape(self) -> np.ndarray:
        """Which places are lines or areas (n,)."""
        if self.shapes is None:
            return np.zeros(len(self), dtype=bool)
        return np.array([shape is not None for shape in self.shapes], dtype=bool)
