"""Straight lines between points of the plane: how long, which way, and what a tape on a slope reads."""

from collections.abc import Callable
from math import acos, degrees, hypot

import numpy as np

from siting.errors import InputError
from siting.frame import bearing_deg
from siting.usual import positive

Point2 = tuple[float, float]
Levels = Callable[[np.ndarray], np.ndarray]
"Heights of the ground [m] at places (n, 2); nan where they are not known."


def apart(one: Point2, other: Point2) -> float:
    """Distance between two points [m]."""
    return hypot(other[0] - one[0], other[1] - one[1])


def polar(start: Point2, end: Point2) -> tuple[float, float]:
    """Distance [m] and bearing [degrees clockwise from grid north] of a line.

    >>> tuple(round(value, 4) for value in polar((1341.50, 937.77), (850.04, 1127.37)))
    (526.7647, 291.0961)
    """
    return apart(start, end), bearing_deg(end[0] - start[0], end[1] - start[1])


def along_slope_m(start: Point2, end: Point2, *, levels: Levels | None) -> float | None:
    """Length of a straight tape between two points of the ground [m]; None where a height is not known.

    Source: Pythagoras; a tape of 30 m on a slope of 20 percent spans 29.42 m in plan (own).

    >>> round(along_slope_m((0.0, 0.0), (29.42, 0.0), levels=lambda xy: 0.2 * xy[:, 0]), 2)
    30.0
    """
    if levels is None:
        return None
    rise_m = float(np.diff(levels(np.array([start, end])))[0])
    return hypot(apart(start, end), rise_m) if np.isfinite(rise_m) else None


def corner_deg(one_m: float, other_m: float, across_m: float) -> float:
    """The angle [degrees] at a corner from two lengths along its sides and the length across.

    Valid for: three lengths that close a triangle; others raise InputError.
    Source: cosine rule.

    >>> round(corner_deg(3.0, 4.0, 5.01), 5)
    90.23897
    """
    positive(one_m=one_m, other_m=other_m, across_m=across_m)
    cosine = (one_m**2 + other_m**2 - across_m**2) / (2.0 * one_m * other_m)
    if abs(cosine) > 1.0 + 1e-12:
        raise InputError.of(
            f"lengths of {one_m:g}, {other_m:g} and {across_m:g} m",
            needed="three lengths that close a triangle: each at most the sum of the others",
            do_next="measure the three lengths again",
        )
    return degrees(acos(max(-1.0, min(1.0, cosine))))
