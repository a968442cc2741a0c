"""A plane through levels: the water table between wells, or the ground between spot heights."""

from dataclasses import dataclass
from math import atan2, degrees, hypot, inf, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from siting.errors import InputError

MIN_BREADTH = 0.05
"""How broad a group of points must be, as a share of its length.

Narrower, and the slope across is more than 20 times less certain than the slope along: project judgement.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """level = a x + b y + c, with x east and y north [m], and how well it is known."""

    a: float
    "Rise per metre east."
    b: float
    "Rise per metre north."
    centre: tuple[float, float]
    "Mean position of the points [m]."
    level_at_centre_m: float
    covariance: tuple[tuple[float, ...], ...] | None
    "Of a, b and the level at the centre; None when nothing is known about the errors of the levels."
    residuals_m: tuple[float, ...]
    "Given level minus the plane's, in the order of the points."

    @property
    def n(self) -> int:
        """How many levels it rests on."""
        return len(self.residuals_m)

    @property
    def c(self) -> float:
        """Level at the origin [m]."""
        return self.level_at_centre_m - self.a * self.centre[0] - self.b * self.centre[1]

    @property
    def gradient(self) -> float:
        """Steepest fall [m per m]."""
        return hypot(self.a, self.b)

    @property
    def flow_towards_deg(self) -> float | None:
        """Bearing of the steepest fall [degrees clockwise from north]; None when the plane is level."""
        if self.gradient == 0:
            return None
        return degrees(atan2(-self.a, -self.b)) % 360.0

    @property
    def gradient_sigma(self) -> float:
        """Standard uncertainty of the gradient [m per m]; infinite when nothing is known of it.

        Source: law of propagation, JCGM 100:2008, 5.2.2.
        """
        if self.covariance is None:
            return inf
        slopes = np.array(self.covariance)[:2, :2]
        if self.gradient == 0:
            return sqrt(max(float(np.linalg.eigvalsh(slopes)[-1]), 0.0))
        along = np.array([self.a, self.b]) / self.gradient
        return sqrt(max(float(along @ slopes @ along), 0.0))

    @property
    def flow_sigma_deg(self) -> float:
        """Standard uncertainty of the direction [degrees], at most 180; 180 also when nothing is known of it.

        Valid for: up to about 30 degrees; beyond, it only says that the direction is not known.
        Source: law of propagation, JCGM 100:2008, 5.2.2.
        """
        if self.covariance is None or self.gradient == 0:
            return 180.0
        across = np.array([-self.b, self.a]) / self.gradient
        slopes = np.array(self.covariance)[:2, :2]
        turn = sqrt(max(float(across @ slopes @ across), 0.0)) / self.gradient
        return min(degrees(turn), 180.0)

    @property
    def residual_m(self) -> float:
        """Root mean square of the residuals [m]; zero for three points, which any plane fits."""
        return sqrt(sum(r * r for r in self.residuals_m) / self.n)

    def level_at(self, xy: ArrayLike) -> NDArray[np.float64]:
        """Level [m] at places (..., 2), also outside the points."""
        return np.asarray(self.level_at_centre_m + self._arms(xy)[..., :2] @ np.array([self.a, self.b]))

    def level_sigma_at(self, xy: ArrayLike) -> NDArray[np.float64]:
        """Standard uncertainty [m] of the level at places (..., 2); infinite when nothing is known of it."""
        arms = self._arms(xy)
        if self.covariance is None:
            return np.full(arms.shape[:-1], inf)
        variance = np.einsum("...i,ij,...j->...", arms, np.array(self.covariance), arms)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def _arms(self, xy: ArrayLike) -> NDArray[np.float64]:
        offset = np.asarray(xy, dtype=float) - np.array(self.centre)
        return np.concatenate([offset, np.ones((*offset.shape[:-1], 1))], axis=-1)


def fit_levels(
    points: ArrayLike, levels: ArrayLike, *, level_sigma_m: ArrayLike | None = None, what: str = "wells"
) -> Plane:
    """The plane that fits levels best, by least squares.

    points: positions (n, 2) [m]; levels: (n,) [m] above one datum;
    level_sigma_m: standard uncertainty of the levels, one for all or one for each;
    what: the word for the points in messages.
    With no sigma given, that of the levels is taken from the residuals, which needs four points or more.
    With sigma given and residuals larger than it explains, the covariance grows by their ratio squared
    (never shrinks): levels that do not lie on a plane are not known as well as they were read.
    Valid for: three points or more that do not lie on one line; ground or water that is nearly a plane.
    Source: weighted least squares; the ratio is Birge's (Physical Review 40, 1932; from memory).
    The three-point case: US EPA On-line Tools for Site Assessment, "Three Point Gradient Calculator" (seen).
    """
    xy, z = np.asarray(points, dtype=float), np.asarray(levels, dtype=float)
    _refuse_unusable(xy, z, what)
    centre = xy.mean(axis=0)
    design = np.column_stack([xy - centre, np.ones(len(z))])
    sigma = np.broadcast_to(1.0 if level_sigma_m is None else np.asarray(level_sigma_m, dtype=float), z.shape)
    if not np.all(np.isfinite(sigma) & (sigma > 0)):
        raise InputError.of(
            f"the uncertainty of a level among the {what} is zero, negative or not a number",
            needed="level_sigma_m above zero",
            do_next="give the uncertainty of the levels in metres, or leave it out",
        )
    # The scale of the coordinates is taken out, so that one tolerance serves a yard and a valley.
    scale = np.array([1.0 / np.abs(design[:, :2]).max()] * 2 + [1.0])
    weighted = design * scale / sigma[:, None]
    solution = np.linalg.lstsq(weighted, z / sigma, rcond=None)[0] * scale
    residuals = z - design @ solution
    inverse = np.linalg.inv(weighted.T @ weighted) * np.outer(scale, scale)
    covariance = _covariance(inverse, residuals / sigma, known=level_sigma_m is not None)
    return Plane(
        a=float(solution[0]),
        b=float(solution[1]),
        centre=(float(centre[0]), float(centre[1])),
        level_at_centre_m=float(solution[2]),
        covariance=covariance,
        residuals_m=tuple(float(r) for r in residuals),
    )


def _covariance(
    inverse: NDArray[np.float64], residuals: NDArray[np.float64], *, known: bool
) -> tuple[tuple[float, ...], ...] | None:
    spare = len(residuals) - 3
    if spare == 0 and not known:
        return None
    misfit = float(residuals @ residuals) / spare if spare else 0.0
    factor = max(1.0, misfit) if known else misfit
    return tuple(tuple(float(value) for value in row) for row in inverse * factor)


def _refuse_unusable(xy: NDArray[np.float64], z: NDArray[np.float64], what: str) -> None:
    if xy.ndim != 2 or xy.shape[1] != 2 or z.shape != (len(xy),):
        raise ValueError(f"points must be (n, 2) and levels (n,), got {xy.shape} and {z.shape}")
    if len(z) < 3:
        raise InputError.of(
            f"levels of {len(z)} {what}",
            needed=f"levels of at least three {what} that do not stand on one line: two leave the slope open",
            do_next="measure a third one, well to the side of the line through the first two",
        )
    if not (np.isfinite(xy).all() and np.isfinite(z).all()):
        raise InputError.of(
            f"a position or level among the {what} is not a number",
            needed="a number for every position and level",
            do_next="fill in the missing value, or leave that point out",
        )
    length, breadth = _spread(xy)
    if breadth < MIN_BREADTH * length or length == 0:
        raise InputError.of(
            f"the {len(z)} {what} lie within a strip {length:.1f} m long and {breadth:.2f} m broad",
            needed=f"{what} spread over a strip at least {MIN_BREADTH:g} times as broad as it is long",
            do_next=f"add a level at least {max(MIN_BREADTH * length, 1.0):.1f} m to the side of that line",
        )


def _spread(xy: NDArray[np.float64]) -> tuple[float, float]:
    """Length and breadth [m] of a group of points along its own axes."""
    offset = xy - xy.mean(axis=0)
    axes = np.linalg.svd(offset, full_matrices=False)[2]
    length, breadth = np.ptp(offset @ axes.T, axis=0)
    return float(length), float(breadth)
