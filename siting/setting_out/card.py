"""Everything that goes to the ground on one card, for an installation at a chosen place.

Every peg has a bearing and distance from two stations, and three tape lengths from features that stay.
Lengths are horizontal; where the ground is known, the length along the slope stands beside them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from siting.requirements import Demands, Question
from siting.separations import STEEL_TAPE_SIGMA_M
from siting.setting_out.pegs import (
    OFFSET_M,
    WORKING_STRIP_M,
    Check,
    Peg,
    SquareCheck,
    checks,
    obstructed,
    pegs,
    squares,
)
from siting.setting_out.points import TiePoint, tie_points
from siting.setting_out.stations import Ray, best_stations, rays
from siting.setting_out.ties import TAPE_M, PegTies, all_ties
from siting.setting_out.tolerance import PegTolerance, accuracy_needed
from siting.site import Status

IN_THE_WAY = ("building", "surface water", "water source", "water store", "installation")
"Groups of kinds that no peg can be driven into."


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingOut:
    """Everything for the card that goes to the ground."""

    pegs: tuple[Peg, ...]
    stations: tuple[TiePoint, ...]
    rays: tuple[Ray, ...]
    ties: tuple[PegTies, ...]
    checks: tuple[Check, ...]
    squares: tuple[SquareCheck, ...]
    tolerance: PegTolerance
    cautions: tuple[str, ...]


def set_out(
    question: Question,
    demands: Demands,
    *,
    x_m: float,
    y_m: float,
    orientation_deg: float,
    stations: Sequence[TiePoint] = (),
    working_strip_m: float = WORKING_STRIP_M,
    offset_m: float = OFFSET_M,
    tape_m: float = TAPE_M,
) -> SettingOut:
    """All that is needed to peg an installation out at a place of the site.

    stations: two points to measure from; chosen among the tie points when none are given.
    """
    site, words = question.site, question.words
    surface = question.terrain.surface
    levels = surface.height_at if surface is not None else None
    placed = pegs(
        demands.installation, x_m=x_m, y_m=y_m, orientation_deg=orientation_deg,
        working_strip_m=working_strip_m, offset_m=offset_m,
    )  # fmt: skip
    standing = [f for f in site.features if f.status is Status.EXISTING]
    in_the_way = [f for f in standing if f.kind in words.expand(IN_THE_WAY)]
    placed = tuple(obstructed(peg, in_the_way) for peg in placed)
    points = tie_points(site, words, home=question.home)
    walls = [f.geometry for f in standing if f.kind in words.expand(["building"])]
    ties = all_ties(placed, points, walls=walls, tape_m=tape_m, levels=levels)
    chosen = tuple(stations) or best_stations((x_m, y_m), points, walls=walls)
    tolerance = accuracy_needed(demands, x_m=x_m, y_m=y_m, orientation_deg=orientation_deg, confidence=site.confidence)
    return SettingOut(
        pegs=placed,
        stations=chosen,
        rays=rays(placed, chosen, levels=levels),
        ties=ties,
        checks=checks(placed),
        squares=squares(placed),
        tolerance=tolerance,
        cautions=_cautions(placed, chosen, ties, tolerance),
    )


def _cautions(
    pegs: Sequence[Peg], stations: Sequence[TiePoint], ties: Sequence[PegTies], tolerance: PegTolerance
) -> tuple[str, ...]:
    cautions = [
        f"peg {peg.name} falls in {peg.stands_in}: move it along its line and note how far"
        for peg in pegs
        if peg.stands_in
    ]
    if len(stations) < 2:
        cautions.append(
            "no two tie points see the place and one another: survey the corners of the nearest buildings, or set up "
            "two marks and tie them in first"
        )
    concerned: dict[str, list[str]] = {}
    for of_peg in ties:
        for caution in of_peg.cautions:
            concerned.setdefault(caution, []).append(of_peg.peg)
    cautions += [f"peg {', '.join(names)}: {caution}" for caution, names in concerned.items()]
    worst_m = max((tie.point.sigma_m for of_peg in ties for tie in of_peg.ties), default=0.0)
    if worst_m > tolerance.within_m:
        cautions.append(
            f"the features that the ties start from are known to {ceil(worst_m * 100.0) / 100.0:.2f} m only: pegs set "
            "out from them stand right against these features, but may differ so much from the plan; tape the "
            "distances of the compliance table as well"
        )
    if tolerance.within_m < STEEL_TAPE_SIGMA_M * 2.0:
        cautions.append(
            f"{tolerance.rule} leaves {tolerance.within_m:.2f} m: less than a tape can promise; set out with an "
            "instrument, or choose a place with more margin"
        )
    return tuple(cautions)
