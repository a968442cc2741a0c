"""Three tape lengths to a peg: no datum, no north and no receiver, and the third one finds a misreading."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import inf, sqrt

import numpy as np
from shapely.geometry.base import BaseGeometry

from siting.frame import bearing_deg
from siting.separations import STEEL_TAPE_SIGMA_M
from siting.setting_out.lines import Levels, Point2, along_slope_m, apart
from siting.setting_out.pegs import Peg
from siting.setting_out.points import TiePoint, sighted
from siting.usual import positive

TAPE_M = 50.0
"Length of the tape (*common practice*)."
TIES = 3
FLATTEST_DEG, BLUNTEST_DEG = 30.0, 150.0
"Two ties that meet at less or more fix a peg badly along one direction (*common practice*)."
MIRROR_M = 0.5
"A third length that would change by less than this on the far side does not tell the sides apart."


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """A tape length from a point to a peg."""

    point: TiePoint
    peg: str
    distance_m: float
    along_slope_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PegTies:
    """The tape lengths of one peg, how they meet, and how well they fix it."""

    peg: str
    ties: tuple[Tie, ...]
    angles_deg: tuple[float, ...]
    "Between each two of them, at the peg."
    sigma_m: float
    "Standard uncertainty of the peg against the plan, in its worst direction; infinite with fewer than two ties."
    cautions: tuple[str, ...] = ()


def all_ties(
    pegs: Sequence[Peg],
    points: Sequence[TiePoint],
    *,
    walls: Sequence[BaseGeometry] = (),
    tape_m: float = TAPE_M,
    tape_sigma_m: float = STEEL_TAPE_SIGMA_M,
    levels: Levels | None = None,
) -> tuple[PegTies, ...]:
    """The ties of several pegs: from the same three points for all where three serve all well, else each its own.

    Three serve when every peg sees them, all of them meet well at every peg, and they stand on no one line.
    """
    seen = [set(sighted(peg.xy, points, walls, tape_m)) for peg in pegs]
    shared = sorted(set.intersection(*seen), key=lambda p: p.name) if seen else []

    def worst(trio: Sequence[TiePoint]) -> tuple[int, bool, float]:
        return max(_worth(peg.xy, trio, tape_sigma_m) for peg in pegs)

    best = min(combinations(shared, TIES), key=worst, default=())
    serves = bool(best) and worst(best)[:2] == (0, False)
    return tuple(
        peg_ties(peg, best if serves else points, walls=walls, tape_m=tape_m, tape_sigma_m=tape_sigma_m, levels=levels)
        for peg in pegs
    )


def peg_ties(
    peg: Peg,
    points: Sequence[TiePoint],
    *,
    walls: Sequence[BaseGeometry] = (),
    tape_m: float = TAPE_M,
    tape_sigma_m: float = STEEL_TAPE_SIGMA_M,
    levels: Levels | None = None,
) -> PegTies:
    """Three tape lengths to a peg, chosen so that they meet well and the third tells a misreading.

    walls: what a tape cannot be stretched through.
    Of all threes in reach of the tape: first those of which most meet between 30 and 150 degrees, then those not on
    one line (the same three lengths fit on its other side), then the three that fix the peg best.
    Source: least squares, covariance (A' W A)^-1 with the unit directions as rows of A (own).
    """
    positive(tape_m=tape_m, tape_sigma_m=tape_sigma_m)
    seen = sighted(peg.xy, points, walls, tape_m)
    best = min(
        combinations(seen, min(TIES, len(seen))), key=lambda trio: _worth(peg.xy, trio, tape_sigma_m), default=()
    )
    ordered = sorted(best, key=lambda p: bearing_deg(p.x_m - peg.x_m, p.y_m - peg.y_m))
    ties = tuple(
        Tie(
            point=point,
            peg=peg.name,
            distance_m=apart(point.xy, peg.xy),
            along_slope_m=along_slope_m(point.xy, peg.xy, levels=levels),
        )
        for point in ordered
    )
    return PegTies(
        peg=peg.name,
        ties=ties,
        angles_deg=_angles(peg.xy, ordered),
        sigma_m=worst_sigma_m(peg.xy, ordered, tape_sigma_m),
        cautions=_tie_cautions(peg.xy, ordered, tape_m),
    )


def _worth(xy: Point2, trio: Sequence[TiePoint], tape_sigma_m: float) -> tuple[int, bool, float]:
    poor = sum(not FLATTEST_DEG <= angle <= BLUNTEST_DEG for angle in _angles(xy, trio))
    return poor, _mirrored(xy, trio), worst_sigma_m(xy, trio, tape_sigma_m)


def _angles(xy: Point2, points: Sequence[TiePoint]) -> tuple[float, ...]:
    bearings = [bearing_deg(p.x_m - xy[0], p.y_m - xy[1]) for p in points]
    return tuple(180.0 - abs(180.0 - abs(one - other)) for one, other in combinations(bearings, 2))


def worst_sigma_m(xy: Point2, points: Sequence[TiePoint], tape_sigma_m: float) -> float:
    """Standard uncertainty [m], in its worst direction, of a place fixed by lengths from points; may be infinite."""
    if len(points) < 2:
        return inf
    steps = np.array([(p.x_m - xy[0], p.y_m - xy[1]) for p in points])
    directions = steps / np.hypot(*steps.T)[:, None]
    weights = np.array([1.0 / (tape_sigma_m**2 + p.sigma_m**2) for p in points])
    least = float(np.linalg.eigvalsh(directions.T @ (directions * weights[:, None]))[0])
    return 1.0 / sqrt(least) if least > 1e-12 * float(weights.max()) else inf


def _mirrored(xy: Point2, points: Sequence[TiePoint]) -> bool:
    """Whether the lengths fit as well on the far side of the line that the points stand on."""
    for one, other in combinations(points, 2):
        along = np.subtract(other.xy, one.xy)
        length = np.hypot(*along)
        if length == 0.0:
            continue
        step = np.subtract(xy, one.xy)
        image = np.array(one.xy) + 2.0 * (step @ along) / length**2 * along - step
        if np.hypot(*(image - xy)) <= 2.0 * MIRROR_M:
            continue
        if all(abs(apart(p.xy, xy) - apart(p.xy, tuple(image))) < MIRROR_M for p in points):
            return True
    return False


def _tie_cautions(xy: Point2, points: Sequence[TiePoint], tape_m: float) -> tuple[str, ...]:
    cautions = []
    if len(points) < TIES:
        cautions.append(
            f"{len(points)} of {TIES} tie points are in sight within {tape_m:g} m of tape: "
            + ("a misreading goes unseen" if len(points) == 2 else "tapes alone do not fix it")
        )
    if points[1:] and not any(FLATTEST_DEG <= angle <= BLUNTEST_DEG for angle in _angles(xy, points)):
        cautions.append(
            f"no two ties meet between {FLATTEST_DEG:.0f} and {BLUNTEST_DEG:.0f} degrees: "
            "it may be off along the tapes' common direction"
        )
    if _mirrored(xy, points):
        cautions.append("its tie points stand on one line: look on which side of it the peg is")
    return tuple(cautions)
