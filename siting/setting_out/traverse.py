"""A chain of measured legs that ends where it began, or on a known point: how stations are brought to a site."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, inf

import numpy as np

from siting.errors import InputError
from siting.setting_out.lines import Point2
from siting.usual import positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One side of a traverse, as measured."""

    bearing_deg: float
    distance_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Traverse:
    """A chain of legs, closed by the compass rule."""

    points: tuple[Point2, ...]
    "Start, then the end of each leg, adjusted."
    misclosure_east_m: float
    misclosure_north_m: float
    "Where the legs end, less where they should: before adjustment."
    length_m: float

    @property
    def misclosure_m(self) -> float:
        """How far the end misses."""
        return hypot(self.misclosure_east_m, self.misclosure_north_m)

    @property
    def one_in(self) -> float:
        """Length over misclosure: 2500 means one part in 2500; infinite when it closes."""
        return self.length_m / self.misclosure_m if self.misclosure_m else inf


def closed_traverse(legs: Sequence[Leg], *, start: Point2 = (0.0, 0.0), end: Point2 | None = None) -> Traverse:
    """Points of a traverse that ends where it began, or on a known point, with the misclosure shared out by length.

    Valid for: angles and lengths of like quality; a misclosure without a blunder in it.
    Source: compass rule (Bowditch); worked in Purdue University, ASM 215, *Traverse calculations* (seen).
    """
    if len(legs) < 2:
        raise InputError.of(
            f"a traverse of {len(legs)} legs",
            needed="at least two legs, that end on the first point or on another known one",
            do_next="add the legs that close the traverse",
        )
    positive(**{f"distance_m of leg {number}": leg.distance_m for number, leg in enumerate(legs, 1)})
    bearings = np.radians([leg.bearing_deg for leg in legs])
    lengths = np.array([leg.distance_m for leg in legs])
    steps = lengths[:, None] * np.column_stack([np.sin(bearings), np.cos(bearings)])
    missed = steps.sum(axis=0) - np.subtract(end or start, start)
    adjusted = steps - missed * (lengths / lengths.sum())[:, None]
    chain = np.array(start) + np.vstack([np.zeros(2), np.cumsum(adjusted, axis=0)])
    return Traverse(
        points=tuple((float(x), float(y)) for x, y in chain),
        misclosure_east_m=float(missed[0]),
        misclosure_north_m=float(missed[1]),
        length_m=float(lengths.sum()),
    )
