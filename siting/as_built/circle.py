"""The circle of a round pit, from points measured on its rim."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from shapely.geometry import Point

from siting.as_built.misfit import agree, suspected
from siting.errors import InputError
from siting.installation import Outline

POINT_SIGMA_M = 0.02
"What a point on a rim is measured to with tapes (*common practice*)."
FLATTEST = 10.0
"""A radius above this many times the spread of the points is no radius: an arc under 6 degrees (project judgement).

Points nearly on a line have two best circles, on opposite sides, and noise decides between them.
"""
SHORT_ARC_DEG = 90.0
"Below this much of the rim the centre is little surer than a guess across the pit: project judgement."
STEPS = 200
SETTLED = 1e-12
"Of the radius."

Point2 = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle through points, as near as they allow."""

    x_m: float
    y_m: float
    radius_m: float
    residuals_m: tuple[float, ...]
    "Each point's distance from the centre, less the radius."
    arc_deg: float
    "How much of the rim the points span."
    sigma_m: float
    "Standard uncertainty of the centre in its worst direction."
    radius_sigma_m: float
    agrees: bool
    "Whether the points lie on a circle within their uncertainty."
    wrong: int | None = None
    "Which point does not, when one can be named; the circle is then that of the others."
    cautions: tuple[str, ...] = ()

    @property
    def rms_m(self) -> float:
        """Root mean square of the residuals."""
        return sqrt(sum(r * r for r in self.residuals_m) / len(self.residuals_m))

    @property
    def outline(self) -> Outline:
        """As the outline of something that stands."""
        return Outline(geometry=Point(self.x_m, self.y_m), radius_m=self.radius_m)


def fit_circle(points: Sequence[Point2], *, sigma_m: float = POINT_SIGMA_M) -> Circle:
    """The circle with the smallest sum of squared distances from three points or more.

    sigma_m: standard uncertainty of the points, per axis.
    With one point that spoils it among five or more, that one is named and left out.
    Valid for: points on a good part of a rim; nearly straight sets raise InputError, arcs under 90 degrees carry a
    caution.
    Source: geometric fit, Gander, Golub & Strebel, BIT 34:558-578 (1994), by Gauss-Newton from the linear fit.

    >>> c = fit_circle([(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)])
    >>> round(c.x_m, 6), round(c.y_m, 6), round(c.radius_m, 6)
    (2.0, 1.5, 2.5)
    """
    if not sigma_m > 0:
        raise ValueError(f"sigma_m must be > 0 (got {sigma_m})")
    xy = np.asarray(points, dtype=float).reshape(-1, 2)
    _refuse(xy)
    fit = _fit(xy)
    _refuse_straight(xy, fit)
    spare = len(xy) - 3
    # Some sets of all points but one may be too straight to stand alone; they then clear nobody.
    rest = [_fit_or_none(np.delete(xy, k, axis=0)) for k in range(len(xy))] if spare >= 2 else []
    misfit = _misfit(xy, fit) / sigma_m**2
    without = [
        inf if one is None else _misfit(np.delete(xy, k, axis=0), one) / sigma_m**2 for k, one in enumerate(rest)
    ]
    suspects = suspected(misfit, without, spare)
    blamed = suspects[0] if len(suspects) == 1 else None
    kept = xy if blamed is None else np.delete(xy, blamed, axis=0)
    if blamed is not None:
        better = rest[blamed]
        assert better is not None
        fit = better
    return _circle(xy, kept, fit, sigma_m, agrees=agree(misfit, spare), blamed=blamed)


def _circle(
    xy: np.ndarray, kept: np.ndarray, fit: np.ndarray, sigma_m: float, *, agrees: bool, blamed: int | None
) -> Circle:
    spare = len(kept) - 3
    scatter_m = sqrt(_misfit(kept, fit) / spare) if spare else 0.0
    covariance = np.linalg.inv(_slopes(kept, fit).T @ _slopes(kept, fit)) * max(sigma_m, scatter_m) ** 2
    arc = _arc_deg(kept, fit)
    cautions = []
    if blamed is not None:
        cautions.append(f"point {blamed + 1} does not lie on the rim of the others and was left out; measure it again")
    elif not agrees:
        cautions.append("the points do not lie on one circle, and no single one explains it; measure them again")
    if spare == 0:
        cautions.append("three points only: any three lie on a circle, so a wrong one goes unseen")
    if arc < SHORT_ARC_DEG:
        cautions.append(f"the points span {arc:.0f} degrees of the rim only; measure some on the far side")
    return Circle(
        x_m=float(fit[0]),
        y_m=float(fit[1]),
        radius_m=float(fit[2]),
        residuals_m=tuple(float(r) for r in _residuals(xy, fit)),
        arc_deg=arc,
        sigma_m=sqrt(float(np.linalg.eigvalsh(covariance[:2, :2])[-1])),
        radius_sigma_m=sqrt(float(covariance[2, 2])),
        agrees=agrees,
        wrong=blamed,
        cautions=tuple(cautions),
    )


def _refuse(xy: np.ndarray) -> None:
    if not np.isfinite(xy).all():
        raise InputError.of(
            "a point of the rim is not a number",
            needed="two numbers for every point",
            do_next="fill in the missing value, or leave that point out",
        )
    if len(np.unique(xy, axis=0)) < 3:
        raise InputError.of(
            f"{len(np.unique(xy, axis=0))} different points of a rim",
            needed="three points at least, spread round it; four or more show a wrong one",
            do_next="measure further points on the rim",
        )


def _refuse_straight(xy: np.ndarray, fit: np.ndarray) -> None:
    spread = float(np.hypot(*(xy[:, None] - xy[None]).T).max())
    # A line is the limit of circles, so a circle that fits worse is not the best one.
    line = float(np.linalg.svd(xy - xy.mean(axis=0), compute_uv=False)[1] ** 2)
    if not np.isfinite(fit).all() or fit[2] > FLATTEST * spread or line < _misfit(xy, fit):
        raise InputError.of(
            f"{len(xy)} points over {spread:.2f} m lie nearly on a straight line",
            needed=f"points on a rim: a radius below {FLATTEST:g} times their spread",
            do_next="measure points on all sides of the rim",
        )


def _fit_or_none(xy: np.ndarray) -> np.ndarray | None:
    try:
        _refuse(xy)
        fit = _fit(xy)
        _refuse_straight(xy, fit)
    except InputError:
        return None
    return fit


def _fit(xy: np.ndarray) -> np.ndarray:
    """Centre and radius; infinite where the points lie on one line."""
    middle = xy.mean(axis=0)
    arm = xy - middle
    if np.linalg.svd(arm, compute_uv=False)[1] < 1e-9 * np.abs(arm).max():
        return np.full(3, inf)
    design = np.column_stack([2.0 * arm, np.ones(len(arm))])
    east, north, rest = np.linalg.lstsq(design, (arm**2).sum(axis=1), rcond=None)[0]
    fit = np.array([east, north, sqrt(max(rest + east**2 + north**2, 0.0))])
    damping = 1e-6
    for _ in range(STEPS):
        slopes = _slopes(arm, fit)
        normal = slopes.T @ slopes
        move = np.linalg.solve(normal + damping * np.eye(3), slopes.T @ _residuals(arm, fit))
        better = _misfit(arm, fit + move) <= _misfit(arm, fit)
        fit, damping = (fit + move, max(damping / 10.0, 1e-15)) if better else (fit, damping * 10.0)
        if np.abs(move).max() < SETTLED * abs(fit[2]):
            break
    return fit + np.array([middle[0], middle[1], 0.0])


def _residuals(xy: np.ndarray, fit: np.ndarray) -> np.ndarray:
    return np.asarray(np.hypot(xy[:, 0] - fit[0], xy[:, 1] - fit[1]) - fit[2])


def _slopes(xy: np.ndarray, fit: np.ndarray) -> np.ndarray:
    """How each residual falls as centre and radius grow."""
    arm = xy - fit[:2]
    reach = np.maximum(np.hypot(*arm.T), 1e-12)
    return np.column_stack([arm / reach[:, None], np.ones(len(xy))])


def _misfit(xy: np.ndarray, fit: np.ndarray) -> float:
    return float((_residuals(xy, fit) ** 2).sum())


def _arc_deg(xy: np.ndarray, fit: np.ndarray) -> float:
    """The full turn less the widest gap between neighbouring points."""
    angles = np.sort(np.degrees(np.arctan2(xy[:, 0] - fit[0], xy[:, 1] - fit[1])))
    return float(360.0 - np.diff(angles, append=angles[0] + 360.0).max())
