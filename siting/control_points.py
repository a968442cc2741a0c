"""A plan's own grid tied to the ground: points known on both, the fit through them, and what the fit leaves.

The plane similarity has four parameters: a turn, one scale and a shift; shapes are kept.
A plan that has to be stretched, mirrored or shrunk a thousandfold to fit is refused, not bent.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, inf, isfinite, sin, sqrt

import numpy as np

from siting.errors import InputError, SitingError

UNITS_M: Mapping[str, float] = {
    "mm": 0.001,
    "cm": 0.01,
    "in": 0.0254,
    "dm": 0.1,
    "ft": 0.3048,
    "yd": 0.9144,
    "m": 1.0,
    "km": 1000.0,
}
"Metres of one unit of length; the international inch, foot and yard are exact (agreement of 1959, from memory)."

FLOOR_M = 0.01
"Control points are not called wrong by comparison with others that agree better than this; project judgement."
BLUNDER_CHANCE = 0.05
"How often a set of good control points may be suspected; the usual level of such tests, common practice."
SCALE_TOLERANCE = 0.02
"""A scale this near to the expected one is never a mistaken unit: project judgement.

Grids differ from the ground by 0.1 %, copies of paper by 1 % (both common practice); the nearest pair of units,
yard and metre, by 9 %.
"""
SCALE_LIMIT = 0.25
"However poor the control points, a plan that seems larger or smaller by this share is refused; project judgement."


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Plan to ground: E = a x - b y + tx, N = b x + a y + ty (Ghilani's symbols)."""

    a: float
    b: float
    tx_m: float
    ty_m: float
    residuals_m: tuple[tuple[float, float], ...]
    "Of each control point, fitted less given, east and north."
    sigma0_m: float | None
    "Standard error of unit weight, per axis; None where nothing is left over to tell it (two points, free scale)."
    is_scale_fixed: bool
    centre: tuple[float, float]
    "Mean of the control points on the plan, in its own units."
    spread: float
    "Sum of the squared distances of the control points from that mean, in plan units squared."

    @property
    def n(self) -> int:
        """How many control points."""
        return len(self.residuals_m)

    @property
    def degrees_of_freedom(self) -> int:
        """Coordinates given less parameters found."""
        return 2 * self.n - (3 if self.is_scale_fixed else 4)

    @property
    def scale(self) -> float:
        """Metres of ground for one unit of the plan."""
        return hypot(self.a, self.b)

    @property
    def rotation_deg(self) -> float:
        """How far the plan is turned to lie on the ground: degrees anticlockwise, 0 to 360."""
        return degrees(atan2(self.b, self.a)) % 360.0

    @property
    def plan_up_bearing_deg(self) -> float:
        """Bearing on the ground of the plan's y axis: degrees clockwise from north, 0 to 360."""
        return -degrees(atan2(self.b, self.a)) % 360.0

    @property
    def largest_residual_m(self) -> float:
        """The longest distance between a control point and where the fit puts it."""
        return max(hypot(east_m, north_m) for east_m, north_m in self.residuals_m)

    def to_ground_m(self, plan: np.ndarray) -> np.ndarray:
        """Plan coordinates (n, 2) as metres (n, 2) east and north."""
        x, y = np.asarray(plan, float).T
        return np.column_stack([self.a * x - self.b * y + self.tx_m, self.b * x + self.a * y + self.ty_m])

    def sigma_at_m(self, plan: np.ndarray, *, control_sigma_m: float | None = None) -> np.ndarray:
        """Standard uncertainty per axis [m] of plan points (n, 2) on the ground, from the control points alone.

        `control_sigma_m`: standard uncertainty per axis of a control point on the ground, as stated.
        The larger of that and of what the residuals show counts: few residuals may be small by chance, and an
        error that all control points share leaves none.

        Valid for: control points of equal weight.
        Source: covariance of the parameters, sigma0^2 N^-1, carried to a point (Ghilani, *Adjustment Computations*,
        ch. 18, seen-2); about the mean of the points N is diagonal, and a point at distance r has the variance
        sigma0^2 (1/n + r^2 / S) per axis, S being their spread. With the scale fixed that is the axis across the
        radius; along the radius it is sigma0^2 / n, and the larger of the two is given.
        """
        known = [sigma for sigma in (self.sigma0_m, control_sigma_m) if sigma is not None]
        if not known:
            raise ValueError("control_sigma_m must be stated: two points leave no residuals to tell it from")
        from_centre = np.asarray(plan, float) - self.centre
        sigma: np.ndarray = max(known) * np.sqrt(1.0 / self.n + (from_centre**2).sum(axis=1) / self.spread)
        return sigma


def fit(plan: np.ndarray, ground_m: np.ndarray, *, scale: float | None = None) -> Fit:
    """The similarity that brings plan points nearest to their places on the ground, by least squares.

    `plan` (n, 2): coordinates in the plan's own units; `ground_m` (n, 2): metres east and north, in the same order.
    `scale`: metres of one plan unit where it is known; None finds it.
    Returns the fit; its residuals are in metres, fitted less given.

    Valid for: two different points or more, equal weights; two points with a free scale leave no check.
    Source: C. Ghilani, *Adjustment Computations: Spatial Data Analysis*, ch. 18, two-dimensional conformal
    coordinate transformation (seen-2); EPSG method 9621, similarity transformation (IOGP Publication 373-7-2,
    seen-2), whose k cos(theta) is `a` and k sin(theta) is `-b`.

    >>> turned = fit(np.array([[0.0, 0.0], [0.0, 10.0]]), np.array([[500.0, 200.0], [510.0, 200.0]]))
    >>> round(turned.scale, 9), round(turned.plan_up_bearing_deg, 9)
    (1.0, 90.0)
    """
    plan, ground_m = _pairs(plan, ground_m)
    plan_mean, ground_mean = plan.mean(axis=0), ground_m.mean(axis=0)
    x, y = (plan - plan_mean).T
    east, north = (ground_m - ground_mean).T
    spread = float((x * x + y * y).sum())
    a = float((x * east + y * north).sum()) / spread
    b = float((x * north - y * east).sum()) / spread
    if scale is not None:
        # the best turn does not depend on the scale
        turn = atan2(b, a)
        a, b = scale * cos(turn), scale * sin(turn)
    residuals = np.column_stack([a * x - b * y - east, b * x + a * y - north])
    freedom = 2 * len(plan) - (4 if scale is None else 3)
    return Fit(
        a=a,
        b=b,
        tx_m=float(ground_mean[0] - a * plan_mean[0] + b * plan_mean[1]),
        ty_m=float(ground_mean[1] - b * plan_mean[0] - a * plan_mean[1]),
        residuals_m=tuple((float(e), float(n)) for e, n in residuals),
        sigma0_m=sqrt(float((residuals**2).sum()) / freedom) if freedom else None,
        is_scale_fixed=scale is not None,
        centre=(float(plan_mean[0]), float(plan_mean[1])),
        spread=spread,
    )


def _pairs(plan: np.ndarray, ground_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    plan, ground_m = np.asarray(plan, float).reshape(-1, 2), np.asarray(ground_m, float).reshape(-1, 2)
    if len(plan) != len(ground_m):
        raise ValueError(f"plan and ground_m must pair up (got {len(plan)} and {len(ground_m)} points)")
    if not (np.isfinite(plan).all() and np.isfinite(ground_m).all()):
        raise _refused("a control point whose coordinates are not finite numbers", "numbers", "correct the point")
    if len(plan) < 2:
        raise _refused(
            f"{len(plan)} control point{'s' * (len(plan) != 1)}",
            "two points or more, far apart; three or more are checked against each other",
            "add points that can be found both on the plan and on the ground: corners of buildings, wells",
        )
    for places, where in ((plan, "on the plan"), (ground_m, "on the ground")):
        extent = np.ptp(places, axis=0).max()
        if extent <= 1e-9 * max(1.0, float(np.abs(places).max())):
            raise _refused(
                f"all {len(plan)} control points lie at one place {where}",
                "two different places or more, far apart",
                "correct their coordinates; the same number may have been copied",
            )
    return plan, ground_m


def _refused(found: str, needed: str, do_next: str) -> SitingError:
    return InputError.of(found, needed=needed, do_next=do_next)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """One control point as the others see it."""

    index: int
    miss_m: float
    "Distance from where it is given to where the other points put it."
    others_sigma0_m: float | None
    "Standard error of unit weight of the fit without it."
    chance: float
    "Probability of a miss this large if it were as good as the others; 1 where they cannot tell."


def left_out(plan: np.ndarray, ground_m: np.ndarray, *, scale: float | None = None) -> tuple[LeftOut, ...]:
    """Each control point against the fit through all the others.

    Valid for: independent normal errors, the same for every point; four points or more tell which one is wrong.
    Source: the squared miss over its variance, two axes together, follows F(2, v), v the degrees of freedom of the
    others (prediction of a point not used in the adjustment; common practice); its upper tail has the closed
    form (1 + 2 f / v)^(-v / 2).
    """
    plan, ground_m = _pairs(plan, ground_m)
    found = []
    for index in range(len(plan)):
        kept = np.arange(len(plan)) != index
        if kept.sum() < 2 or np.ptp(plan[kept], axis=0).max() == 0 or np.ptp(ground_m[kept], axis=0).max() == 0:
            found.append(LeftOut(index=index, miss_m=inf, others_sigma0_m=None, chance=1.0))
            continue
        others = fit(plan[kept], ground_m[kept], scale=scale)
        miss_m = float(np.linalg.norm(others.to_ground_m(plan[[index]])[0] - ground_m[index]))
        found.append(
            LeftOut(
                index=index,
                miss_m=miss_m,
                others_sigma0_m=others.sigma0_m,
                chance=_chance(others, plan[[index]], miss_m),
            )
        )
    return tuple(found)


def _chance(others: Fit, place: np.ndarray, miss_m: float) -> float:
    if others.sigma0_m is None:
        return 1.0
    sigma_m = max(others.sigma0_m, FLOOR_M)
    variance = sigma_m**2 + float(others.sigma_at_m(place, control_sigma_m=sigma_m)[0]) ** 2
    freedom = others.degrees_of_freedom
    return float((1.0 + miss_m**2 / variance / freedom) ** (-freedom / 2.0))


def suspect(seen: Sequence[LeftOut]) -> LeftOut | None:
    """The one control point that does not belong to the others, or None.

    Each of n points is allowed the n-th part of `BLUNDER_CHANCE`; with fewer than four nobody can tell which is wrong.
    """
    if len(seen) < 4:
        return None
    worst = min(seen, key=lambda each: each.chance)
    return worst if worst.chance * len(seen) < BLUNDER_CHANCE else None


def is_mirrored(plan: np.ndarray, ground_m: np.ndarray) -> bool:
    """Whether the plan fits the ground only when it is turned over, as when x and y are exchanged.

    Points on one line fit both ways and tell nothing.
    """
    plan, ground_m = _pairs(plan, ground_m)
    if len(plan) < 3:
        return False
    straight, over = (
        sqrt(sum(e * e + n * n for e, n in fit(points, ground_m).residuals_m))
        for points in (plan, plan * np.array([1.0, -1.0]))
    )
    extent_m = float(np.linalg.norm(ground_m - ground_m.mean(axis=0)))
    return straight > 0.05 * extent_m and over < straight / 5.0


def likely_unit(metres_per_unit: float) -> str | None:
    """The unit of length that is this long within a tenth, or None.

    >>> likely_unit(0.00101), likely_unit(0.305), likely_unit(0.5)
    ('mm', 'ft', None)
    """
    if not (metres_per_unit > 0 and isfinite(metres_per_unit)):
        return None
    nearest = min(UNITS_M, key=lambda unit: abs(np.log(UNITS_M[unit] / metres_per_unit)))
    return nearest if abs(np.log(UNITS_M[nearest] / metres_per_unit)) < 0.1 else None


def checked_fit(
    plan: np.ndarray,
    ground_m: np.ndarray,
    *,
    names: Sequence[str] = (),
    scale: float | None = None,
    control_sigma_m: float = 0.0,
) -> Fit:
    """The fit, refused with an InputError where the plan is mirrored, in another unit, or one point is wrong.

    `scale`: metres that one plan unit is said to be; it is kept, and the points are asked whether they agree.
    `control_sigma_m`: standard uncertainty per axis of a control point on the ground, as stated.
    `names`: what to call the points in messages; their numbers from 1 otherwise.
    """
    plan, ground_m = _pairs(plan, ground_m)
    names = [f"{number} ({names[number - 1]})" if names else str(number) for number in range(1, len(plan) + 1)]
    if is_mirrored(plan, ground_m):
        raise _refused(
            "the control points fit only when the plan is turned over (mirrored)",
            "x to the right and y up on the plan, longitude before latitude on the ground",
            "look for exchanged x and y, exchanged lon and lat, or a plan drawn from below",
        )
    # before the scale: one point far off spoils the scale as well
    odd = suspect(left_out(plan, ground_m))
    if odd is not None:
        raise _refused(
            f"control point {names[odd.index]} lies {odd.miss_m:.2f} m from where the other {len(plan) - 1} put it; "
            f"they agree within {max(odd.others_sigma0_m or 0.0, FLOOR_M):.2f} m",
            "control points that belong together",
            f"correct both coordinates of control point {names[odd.index]}, or leave it out",
        )
    if scale is not None:
        _refuse_other_scale(fit(plan, ground_m), scale=scale, control_sigma_m=control_sigma_m)
    return fit(plan, ground_m, scale=scale)


def scale_sigma(free: Fit, *, control_sigma_m: float = 0.0) -> float:
    """Standard uncertainty of the scale of a fit with a free one, as a share of that scale."""
    return max(free.sigma0_m or 0.0, control_sigma_m) / sqrt(free.spread) / free.scale


def _refuse_other_scale(free: Fit, *, scale: float, control_sigma_m: float) -> None:
    ratio = free.scale / scale
    allowed = min(max(SCALE_TOLERANCE, 3.0 * scale_sigma(free, control_sigma_m=control_sigma_m)), SCALE_LIMIT)
    if abs(ratio - 1.0) <= allowed:
        return
    unit, said = likely_unit(free.scale), likely_unit(scale)
    as_if = f', as if its unit were "{unit}"' if unit and unit != said else ""
    raise _refused(
        f"by its control points one unit of the plan is {free.scale:.6g} m long, where {scale:.6g} m was expected"
        f"{as_if}",
        f"a plan and control points that agree on lengths within {allowed:.0%}",
        (f'write unit = "{unit}" for the plan' if as_if else "correct the control points or the unit of the plan")
        + "; check one known length, such as the side of a building",
    )
