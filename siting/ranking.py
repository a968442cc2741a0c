"""Places people can argue about: margin weighed against the walk, each with one sentence why it is there."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.candidates import Candidate
from siting.clearance import Places, lay_out, margins
from siting.feasible import ORIENTATIONS_DEG, ground_left
from siting.installation import Installation
from siting.requirements import Requirement, Sense
from siting.uncertainty import coverage_factor
from siting.walking import Walks

SHARES = (0.0, 1.0 / 3.0, 2.0 / 3.0)
"Of the margin that the best place keeps at the confidence: what the shorter walks still have to keep."


EDGE_STEP_M = 2.0
"The edge of the ground is looked at every so often: a walk listed as shortest may be longer by half of it."


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """A candidate, the walk to it, and why it is on the list."""

    candidate: Candidate
    walk_m: float | None
    why: str


def ranked(
    found: Sequence[Candidate],
    requirements: Sequence[Requirement],
    installation: Installation,
    land: BaseGeometry,
    *,
    confidence: float,
    spacing_m: float,
    walks: Walks | None,
) -> tuple[Ranked, ...]:
    """The list to choose from: the largest margin, then shorter walks that still keep something, none beaten twice.

    Without a walk, the places found by margin stand as they are.
    With one, a place is left out when another on the list has both more margin and a shorter walk.
    The best place of all always stays first, and every bound is that of the whole site.
    """
    if walks is None:
        return tuple(Ranked(candidate=c, walk_m=None, why=_why_by_margin(n, spacing_m)) for n, c in enumerate(found))
    shorter = _shorter_walks(found[0], requirements, installation, land, confidence=confidence, walks=walks)
    lengths = walks.lengths(np.array([(c.x_m, c.y_m) for c in found]))
    by_margin = [
        Ranked(candidate=c, walk_m=float(m), why=_why_by_margin(n, spacing_m))
        for n, (c, m) in enumerate(zip(found, lengths, strict=True))
    ]
    listed = [by_margin[0]]
    for one in sorted((*shorter, *by_margin[1:]), key=lambda r: (r.walk_m, -r.candidate.margin_m)):
        if all(_apart(one, other, spacing_m) and not _beaten(one, other) for other in listed):
            listed.append(one)
    kept = [one for one in listed if not any(_beaten(one, other) for other in listed if other is not one)]
    return tuple(
        replace(one, candidate=replace(one.candidate, name=chr(ord("A") + number)))
        for number, one in enumerate(kept[: max(len(found), len(SHARES) + 1)])
    )


def _why_by_margin(number: int, spacing_m: float) -> str:
    if number == 0:
        return "largest margin anywhere on the site"
    return f"largest margin that is at least {spacing_m:g} m from the places before it"


def _apart(one: Ranked, other: Ranked, spacing_m: float) -> bool:
    a, b = one.candidate, other.candidate
    return bool(np.hypot(a.x_m - b.x_m, a.y_m - b.y_m) >= spacing_m)


def _beaten(one: Ranked, other: Ranked) -> bool:
    assert one.walk_m is not None and other.walk_m is not None
    return other.candidate.margin_m >= one.candidate.margin_m and other.walk_m <= one.walk_m


def _shorter_walks(
    best: Candidate,
    requirements: Sequence[Requirement],
    installation: Installation,
    land: BaseGeometry,
    *,
    confidence: float,
    walks: Walks,
) -> list[Ranked]:
    """For each share of the margin to spare: the place with the shortest walk that keeps it."""
    must = [r for r in requirements if r.is_must]
    laid = lay_out(must, installation)
    factor = coverage_factor(confidence)
    angles = np.array(ORIENTATIONS_DEG if installation.turns else (installation.orientation_deg or 0.0,))
    at_best = margins(laid, _turned(best.x_m, best.y_m, np.array([best.orientation_deg])))[0]
    to_spare_m = float((at_best - factor * laid.sigma_m).min())
    shown = f"at {confidence:.0%}"
    if to_spare_m <= 0.0:
        factor, to_spare_m, shown = 0.0, best.margin_m, "if every position is right"
    shorter = []
    for share in SHARES:
        kept_m = share * to_spare_m
        stricter = [_stricter(r, kept_m) for r in must]
        ground = ground_left(stricter, installation, land, tuple(angles), factor=factor)
        place = _nearest(ground, walks)
        if place is None:
            continue
        (x, y), walk_m = place
        at = margins(laid, _turned(x, y, angles))
        turn = int(np.argmax((at - factor * laid.sigma_m).min(axis=1)))
        binding = int(np.argmin(at[turn]))
        if at[turn, binding] < 0.0:
            continue
        why = f"shortest walk that keeps every margin {shown}"
        if share:
            why = f"shortest walk that keeps {kept_m:.1f} m to spare {shown}"
        candidate = Candidate(
            name="", x_m=x, y_m=y, orientation_deg=float(angles[turn]) % 360.0, margin_m=float(at[turn, binding]),
            bound_m=best.bound_m, binding=laid.requirements[binding],
        )  # fmt: skip
        shorter.append(Ranked(candidate=candidate, walk_m=walk_m, why=why))
    return shorter


def _turned(x: float, y: float, angles: np.ndarray) -> Places:
    return Places(x_m=np.full(len(angles), x), y_m=np.full(len(angles), y), orientation_deg=angles)


def _stricter(requirement: Requirement, by_m: float) -> Requirement:
    """The same requirement with that much more asked of it."""
    if not requirement.in_plan:
        return requirement
    more = -by_m if requirement.sense is Sense.WITHIN else by_m
    return replace(requirement, limit_m=requirement.limit_m + more)


def _nearest(ground: BaseGeometry, walks: Walks) -> tuple[tuple[float, float], float] | None:
    """The corner of the ground with the shortest way: a shortest way ends on the edge, and edges are finely cut."""
    if ground.is_empty:
        return None
    corners = shapely.get_coordinates(shapely.segmentize(ground, EDGE_STEP_M))
    nearest = walks.nearest(corners)
    return None if nearest is None else ((float(corners[nearest[0], 0]), float(corners[nearest[0], 1])), nearest[1])
