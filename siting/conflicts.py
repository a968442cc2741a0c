"""Why there is no place: requirements that cannot hold together, proved, and the ways out of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.candidates import Candidate, any_place
from siting.clearance import lay_out, margins, one_place
from siting.errors import NoPlaceError
from siting.feasible import feasible_ground
from siting.installation import Installation
from siting.kinds import INSTALLATION, Vocabulary
from siting.requirements import Requirement, Sense
from siting.site import Status

STEP_M = 0.01
"A limit is changed by steps of a centimetre when the smallest change that opens ground is sought."
FINE_GAP_M = 0.001
"With a place to spare as little as this the least change is found: a gap of a step would miss it by one."
PHYSICAL = "ground"
"The pack whose rules no authority can waive: two things cannot stand on one spot."


CHANGEABLE = frozenset({INSTALLATION, "water source", "water point", "water store", "building"})
"Groups of things that people can close or move; land, water and roads stay where they are."


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """One change that opens ground, and how much of it."""

    change: str
    gains_m2: float
    rank: int
    "0 close something, 1 move something, 2 change a limit by the least that helps, 3 leave a requirement out."
    rule: str = ""
    feature: str = ""
    by_m: float | None = None
    "The least change of the limit that opens any ground."


def irreducible(
    requirements: Sequence[Requirement], installation: Installation, ground: BaseGeometry, best: Candidate
) -> tuple[Requirement, ...]:
    """A set of requirements that cannot hold together, of which none can be left out.

    It is grown: a place that keeps all of the set is asked for, the requirement it breaks worst is added, until there
    is no such place; then every member without which there is still none is dropped.
    Each answer "there is none" is a proof by branch and bound.
    Precondition: the requirements taken together leave no place; `best` is the best compromise.
    """
    laid = lay_out(requirements, installation)
    pool = laid.requirements
    at = margins(laid, one_place(best.x_m, best.y_m, best.orientation_deg))[0]
    chosen = {int(np.argmin(at))}
    while True:
        place = any_place([pool[i] for i in sorted(chosen)], installation, ground)
        if place is None:
            break
        at = margins(laid, one_place(place.x_m, place.y_m, place.orientation_deg))[0]
        worst = int(np.argmin(at))
        if worst in chosen:
            # The set has a place and yet nothing outside it is broken: it is feasible after all.
            return ()
        chosen.add(worst)
    for member in sorted(chosen):
        rest = chosen - {member}
        if rest and any_place([pool[i] for i in sorted(rest)], installation, ground) is None:
            chosen = rest
    return tuple(pool[i] for i in sorted(chosen))


def ways_out(
    conflict: Sequence[Requirement],
    requirements: Sequence[Requirement],
    installation: Installation,
    ground: BaseGeometry,
    words: Vocabulary,
    *,
    confidence: float,
) -> tuple[WayOut, ...]:
    """Changes that open ground, cheapest first.

    The order is a project judgement: what can be closed, what can be moved, the least change of a limit, and last
    leaving a requirement out; within each, more ground comes first.
    Nothing is ever relaxed by itself: a changed limit needs the authority whose rule it is.
    """
    must = [r for r in requirements if r.is_must]
    ways: list[WayOut] = []
    for feature in {r.feature.name: r.feature for r in conflict if r.feature is not None}.values():
        kind = words.kinds.get(feature.kind)
        if kind is None or not CHANGEABLE & frozenset(kind.groups):
            continue
        without = [r for r in must if r.feature is not feature]
        gained = _area(without, installation, ground, confidence)
        closable = words.is_installation(feature.kind)
        what = "close and remove" if closable else "move"
        note = " (closed alone, it stays a hazard)" if closable and feature.status is not Status.CLOSED else ""
        ways.append(WayOut(change=f"{what} {feature.name}{note}", gains_m2=gained, rank=0 if closable else 1,
                           feature=feature.name))  # fmt: skip
    for requirement in conflict:
        if requirement.rule.pack == PHYSICAL:
            continue
        ways += _of_limit(requirement, must, installation, ground, confidence)
    return tuple(
        sorted(
            (w for w in ways if w.gains_m2 > 0.0 or w.rank > 1),
            key=lambda w: (w.rank, w.by_m or 0.0, -w.gains_m2, w.change),
        )
    )


def _of_limit(
    requirement: Requirement,
    must: Sequence[Requirement],
    installation: Installation,
    ground: BaseGeometry,
    confidence: float,
) -> list[WayOut]:
    others = [r for r in must if r is not requirement]
    name = (
        f"{requirement.rule.full_id} against {requirement.feature.name}"
        if requirement.feature
        else requirement.rule.full_id
    )
    rule, feature = requirement.rule.full_id, requirement.feature.name if requirement.feature else ""
    gained = _area(others, installation, ground, confidence)
    ways = [WayOut(change=f"leave out {name}", gains_m2=gained, rank=3, rule=rule, feature=feature)]
    by_m = _least_change(requirement, others, installation, ground) if not requirement.sided else None
    if by_m is not None:
        down = requirement.sense is not Sense.WITHIN
        to = requirement.limit_m - by_m if down else requirement.limit_m + by_m
        eased = replace(requirement, limit_m=to)
        ways.append(
            WayOut(
                change=f"change the limit of {name} from {requirement.limit_m:g} m to {to:.2f} m",
                gains_m2=_area([*others, eased], installation, ground, confidence), rank=2, by_m=by_m, rule=rule,
                feature=feature,
            )
        )  # fmt: skip
    return ways


def _least_change(
    requirement: Requirement, others: Sequence[Requirement], installation: Installation, ground: BaseGeometry
) -> float | None:
    """The least change [m] of one limit that leaves a place, to the centimetre, rounded up; None if none helps."""
    sign = 1.0 if requirement.sense is Sense.WITHIN else -1.0
    most = (
        requirement.limit_m
        if sign < 0
        else float(np.hypot(*np.subtract(*np.split(np.array(shapely.bounds(ground)), 2))))
    )

    def opens(steps: int, gap_m: float = STEP_M) -> bool:
        eased = replace(requirement, limit_m=requirement.limit_m + sign * steps * STEP_M)
        return any_place([*others, eased], installation, ground, gap_m=gap_m) is not None

    low, high = 0, round(most / STEP_M)
    if high == 0 or not opens(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if opens(middle) else (middle, high)
    # A place with less than the gap to spare may have been missed, so the last step is looked at closely.
    try:
        closely = high > 1 and opens(high - 1, FINE_GAP_M)
    except NoPlaceError:
        closely = False
    return (high - closely) * STEP_M


def _area(
    requirements: Sequence[Requirement], installation: Installation, ground: BaseGeometry, confidence: float
) -> float:
    return float(feasible_ground(requirements, installation, ground, confidence=confidence).nominal.area)
