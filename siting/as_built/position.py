"""Where a peg stands, from tape lengths to it: least squares, with what each length is off."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, isfinite, sqrt

import numpy as np

from siting.as_built.misfit import agree, suspected
from siting.errors import Fault, InputError, SitingError
from siting.separations import STEEL_TAPE_SIGMA_M
from siting.uncertainty import combined

STEPS = 50
SETTLED_M = 1e-8
BESIDE_SIGMAS = 3.0
"Two lengths that miss one another by more than this do not meet."

Point2 = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredTie:
    """A horizontal length taped from a known point."""

    point: str
    x_m: float
    y_m: float
    distance_m: float
    sigma_m: float = STEEL_TAPE_SIGMA_M
    "Of the tape."
    point_sigma_m: float = 0.0
    "Of the point it was taped from, per axis."

    @property
    def weight(self) -> float:
        """One over the variance of the length."""
        return 1.0 / combined(self.sigma_m, self.point_sigma_m) ** 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """A peg's place as measured."""

    name: str
    x_m: float
    y_m: float
    sigma_m: float
    "Standard uncertainty in its worst direction."
    residuals_m: tuple[float, ...]
    "Length taped less length computed, in the order of the ties."
    agrees: bool
    "Whether the lengths agree within their uncertainty; True also for two, which always do."
    wrong: str = ""
    "The point whose length is a blunder, when one can be named; the place is then that without it."
    off_m: float | None = None
    "By how much that length is too long; negative when too short."
    cautions: tuple[str, ...] = ()

    @property
    def xy(self) -> Point2:
        """Its place."""
        return self.x_m, self.y_m


def from_ties(name: str, ties: Sequence[MeasuredTie], *, near: Point2) -> Position:
    """The place of a peg from two or more tape lengths, on the side where it is expected.

    near: where it should be; of two places that fit, the one there.
    One blunder among four lengths or more is named and left out; among three it shows, but has no name.
    When the lengths disagree and none is named, the uncertainty grows by what they disagree (Birge's ratio).
    Valid for: horizontal lengths; points that do not lie in one direction from the peg.
    Source: Gauss-Newton on the lengths; covariance (A' W A)^-1 (own).
    """
    _refuse(name, ties)
    fit = _fit(ties, near)
    spare = len(ties) - 2
    if spare == 0 and fit.misfit > BESIDE_SIGMAS**2:
        raise _apart(name, *ties)
    rest = [_fit([*ties[:k], *ties[k + 1 :]], near) for k in range(len(ties))] if spare else []
    suspects = suspected(fit.misfit, [one.misfit for one in rest], spare)
    blamed = suspects[0] if len(suspects) == 1 else None
    good = agree(fit.misfit, spare)
    kept = list(ties) if blamed is None else [*ties[:blamed], *ties[blamed + 1 :]]
    if blamed is not None:
        fit = rest[blamed]
    off = [tie.distance_m - hypot(tie.x_m - fit.xy[0], tie.y_m - fit.xy[1]) for tie in ties]
    ratio = sqrt(fit.misfit / spare) if spare and not good and blamed is None else 1.0
    return Position(
        name=name,
        x_m=fit.xy[0],
        y_m=fit.xy[1],
        sigma_m=fit.sigma_m * max(1.0, ratio),
        residuals_m=tuple(off),
        agrees=good,
        wrong=ties[blamed].point if blamed is not None else "",
        off_m=off[blamed] if blamed is not None else None,
        cautions=_cautions(name, ties, kept, fit, off, agrees=good, suspects=suspects),
    )


@dataclass(frozen=True, slots=True)
class _Fit:
    xy: Point2
    misfit: float
    sigma_m: float


def _refuse(name: str, ties: Sequence[MeasuredTie]) -> None:
    faults = [
        Fault(
            found=f"peg {name}: length {tie.distance_m:g} m from {tie.point}",
            needed="a length above zero with an uncertainty above zero",
            do_next="correct the length, or leave that tie out",
        )
        for tie in ties
        if not (isfinite(tie.distance_m) and tie.distance_m > 0 and combined(tie.sigma_m, tie.point_sigma_m) > 0)
    ]
    if len({(tie.x_m, tie.y_m) for tie in ties}) < 2:
        faults.append(
            Fault(
                found=f"peg {name}: tape lengths from {len({(t.x_m, t.y_m) for t in ties})} point",
                needed="lengths from two points at least, and a third to find a misreading",
                do_next="tape it from further corners",
            )
        )
    if faults:
        raise InputError(*faults)


def _apart(name: str, one: MeasuredTie, other: MeasuredTie) -> SitingError:
    return InputError.of(
        f"peg {name}: {one.distance_m:.2f} m from {one.point} and {other.distance_m:.2f} m from {other.point} "
        f"do not meet; the points are {hypot(other.x_m - one.x_m, other.y_m - one.y_m):.2f} m apart",
        needed="two lengths whose arcs cross",
        do_next="tape both again, and a third one",
    )


def _fit(ties: Sequence[MeasuredTie], near: Point2) -> _Fit:
    points = np.array([(tie.x_m, tie.y_m) for tie in ties])
    lengths = np.array([tie.distance_m for tie in ties])
    weights = np.array([tie.weight for tie in ties])
    place = _started(np.array(near, dtype=float), points)
    damping = 1e-6
    for _ in range(STEPS):
        step = place - points
        reach = np.maximum(np.hypot(*step.T), SETTLED_M)
        directions = step / reach[:, None]
        normal = directions.T @ (directions * weights[:, None])
        pull = directions.T @ (weights * (lengths - reach))
        move = np.linalg.solve(normal + damping * np.trace(normal) * np.eye(2), pull)
        better = _misfit(place + move, points, lengths, weights) <= _misfit(place, points, lengths, weights)
        place, damping = (place + move, max(damping / 10.0, 1e-12)) if better else (place, damping * 10.0)
        if np.hypot(*move) < SETTLED_M:
            break
    step = place - points
    directions = step / np.maximum(np.hypot(*step.T), SETTLED_M)[:, None]
    least = float(np.linalg.eigvalsh(directions.T @ (directions * weights[:, None]))[0])
    misfit = _misfit(place, points, lengths, weights)
    sigma_m = 1.0 / sqrt(least) if least > 1e-9 * float(weights.max()) else float("inf")
    return _Fit((float(place[0]), float(place[1])), misfit, sigma_m)


def _started(near: np.ndarray, points: np.ndarray) -> np.ndarray:
    # On a tie point a length has no direction.
    on_one = np.hypot(*(near - points).T).min() < 0.01
    return near + np.array([0.013, 0.017]) if on_one else near


def _misfit(place: np.ndarray, points: np.ndarray, lengths: np.ndarray, weights: np.ndarray) -> float:
    return float((weights * (lengths - np.hypot(*(place - points).T)) ** 2).sum())


def _cautions(
    name: str,
    ties: Sequence[MeasuredTie],
    kept: Sequence[MeasuredTie],
    fit: _Fit,
    off: Sequence[float],
    *,
    agrees: bool,
    suspects: tuple[int, ...],
) -> tuple[str, ...]:
    cautions = []
    if len(suspects) == 1:
        blamed = suspects[0]
        too = "long" if off[blamed] > 0 else "short"
        cautions.append(
            f"peg {name}: the length from {ties[blamed].point} is {abs(off[blamed]):.2f} m too {too} and was left out; "
            "tape it again"
        )
    elif not agrees:
        worst = max(abs(one) for one in off)
        which = (
            f"one of those from {', '.join(ties[k].point for k in suspects)} is wrong"
            if suspects
            else ("no single one explains it")
        )
        cautions.append(f"peg {name}: the lengths disagree by up to {worst:.2f} m; {which}; tape them again")
    if len(ties) == 2:
        cautions.append(f"peg {name}: two lengths only; a misreading goes unseen")
    image = _image(fit.xy, kept)
    if image is not None:
        cautions.append(
            f"peg {name}: the lengths fit as well on the far side of the tie points, at "
            f"{hypot(image[0] - fit.xy[0], image[1] - fit.xy[1]):.1f} m; look on which side it is"
        )
    return tuple(cautions)


def _image(xy: Point2, ties: Sequence[MeasuredTie]) -> Point2 | None:
    """The place across the line of the tie points, where the lengths agree as well there."""
    points = np.array([(tie.x_m, tie.y_m) for tie in ties])
    along = np.linalg.svd(points - points.mean(axis=0))[2][0]
    arm = np.array(xy) - points.mean(axis=0)
    image = points.mean(axis=0) + 2.0 * (arm @ along) * along - arm
    lengths, weights = np.array([t.distance_m for t in ties]), np.array([t.weight for t in ties])
    apart = float(np.hypot(*(image - xy)))
    if apart < 0.5 or not agree(_misfit(image, points, lengths, weights), max(1, len(ties) - 2)):
        return None
    return float(image[0]), float(image[1])
