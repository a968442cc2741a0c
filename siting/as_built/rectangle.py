"""The rectangle of an enclosure or a straight-sided pit, from its four corners as measured."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, degrees, hypot, radians, sin

import numpy as np
from shapely.geometry import Polygon

from siting.errors import InputError
from siting.installation import Outline

CORNER_SIGMA_M = 0.02
"What a corner is measured to with tapes (*common practice*)."

Point2 = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """The rectangle that fits four corners best."""

    x_m: float
    y_m: float
    length_m: float
    width_m: float
    orientation_deg: float
    "Bearing of the long side, 0 to 180."
    residuals_m: tuple[float, ...]
    "How far each measured corner is from the rectangle's, in the order given."
    diagonals_m: tuple[float, float]
    "As measured: equal in a rectangle."
    sigma_m: float
    "Standard uncertainty of the middle, per axis."
    measured: tuple[Point2, ...]
    "The corners, clockwise."

    @property
    def outline(self) -> Outline:
        """What stands, as measured and not as it should be: the outline of its four corners."""
        return Outline(geometry=Polygon(self.measured))

    @property
    def corners(self) -> tuple[Point2, ...]:
        """Of the fitted rectangle, clockwise from the right end of its forward short side."""
        angle = radians(self.orientation_deg)
        half_length, half_width = self.length_m / 2.0, self.width_m / 2.0
        return tuple(
            (
                self.x_m + right * half_width * cos(angle) + ahead * half_length * sin(angle),
                self.y_m - right * half_width * sin(angle) + ahead * half_length * cos(angle),
            )
            for right, ahead in ((1, 1), (1, -1), (-1, -1), (-1, 1))
        )


def fit_rectangle(corners: Sequence[Point2], *, sigma_m: float = CORNER_SIGMA_M) -> Rectangle:
    """The rectangle of any size and direction with the smallest sum of squared distances from four corners.

    corners: in any order; sigma_m: standard uncertainty of each, per axis.
    Valid for: four corners of something convex; others raise InputError.
    Source: least squares in closed form (own): with z the corners as complex numbers round the middle,
    p = (z1 + z2 - z3 - z4) / 4 and q = (z2 + z3 - z4 - z1) / 4, the direction is half the argument of p^2 - q^2.
    """
    xy = np.asarray(corners, dtype=float).reshape(-1, 2)
    order = _clockwise(xy)
    z = (xy[order, 0] + 1j * xy[order, 1]) - complex(*xy.mean(axis=0))
    p, q = (z[0] + z[1] - z[2] - z[3]) / 4.0, (z[1] + z[2] - z[3] - z[0]) / 4.0
    turn = np.exp(0.5j * np.angle(p * p - q * q))
    along, across = float((p / turn).real), float((q / turn).imag)
    fitted = turn * np.array([along - 1j * across, along + 1j * across, -along + 1j * across, -along - 1j * across])
    off = np.empty(4)
    off[order] = np.abs(z - fitted)
    direction = turn if abs(along) >= abs(across) else 1j * turn
    return Rectangle(
        x_m=float(xy[:, 0].mean()),
        y_m=float(xy[:, 1].mean()),
        length_m=2.0 * max(abs(along), abs(across)),
        width_m=2.0 * min(abs(along), abs(across)),
        orientation_deg=float((90.0 - degrees(np.angle(direction))) % 180.0),
        residuals_m=tuple(float(one) for one in off),
        diagonals_m=(_apart(xy[order[0]], xy[order[2]]), _apart(xy[order[1]], xy[order[3]])),
        sigma_m=sigma_m / 2.0,
        measured=tuple((float(x), float(y)) for x, y in xy[order]),
    )


def _apart(one: np.ndarray, other: np.ndarray) -> float:
    return hypot(*(other - one))


def _clockwise(xy: np.ndarray) -> np.ndarray:
    if xy.shape != (4, 2) or not np.isfinite(xy).all():
        raise InputError.of(
            f"{len(xy)} corners of a rectangle" if len(xy) != 4 else "a corner that is not a number",
            needed="four corners, each with two numbers",
            do_next="measure the missing corner",
        )
    arm = xy - xy.mean(axis=0)
    order = np.argsort(np.arctan2(arm[:, 0], arm[:, 1]))
    ring = Polygon(xy[order])
    if not ring.is_valid or ring.area <= 0.0 or ring.convex_hull.area > ring.area * (1.0 + 1e-9):
        raise InputError.of(
            "four corners that do not go round anything",
            needed="four corners of a shape without an inward bend",
            do_next="look for a corner that was measured twice or mistyped",
        )
    return order
