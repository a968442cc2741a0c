"""How well pegs have to stand so that no verdict is lost."""

from dataclasses import dataclass
from math import floor, inf

import numpy as np

from siting import clearance
from siting.requirements import Demands, Requirement
from siting.uncertainty import Verdict, coverage_factor, decide, probability

TOLERANCE_M = 0.15
"Half a foot, 0.152 m: what record drawings are held to by Washington State, WAC 246-272A-0265 (seen)."


@dataclass(frozen=True, slots=True, kw_only=True)
class PegTolerance:
    """How far off any peg may stand before a verdict is lost."""

    within_m: float
    "What to work to, to the centimetre: the least of what the margins allow and of `TOLERANCE_M`."
    allowed_m: float
    "What the margins of the rules that must hold allow; infinite when none is measured in plan."
    advised_m: float
    "The same for the rules that advise."
    rule: str
    "The rule that allows least, with the feature it is measured from."
    feature: str
    unsettled: tuple[str, ...]
    "Rules that must hold and do not clearly meet: no peg, however well it stands, settles these."


def accuracy_needed(
    demands: Demands, *, x_m: float, y_m: float, orientation_deg: float, confidence: float
) -> PegTolerance:
    """How far off pegs may stand so that every rule that now meets still does.

    When each peg is within e of its place, so is every point between them, and no margin changes by more than e.
    So e is the smallest margin after the guard band at the confidence, over the rules that now meet.
    Source: margins change by at most a metre a metre moved (module `clearance`); guard band, JCGM 106:2012, 8.3.
    """
    laid = clearance.lay_out(demands.requirements, demands.installation)
    place = clearance.one_place(x_m, y_m, orientation_deg)
    margins_m = clearance.margins(laid, place)[0] if laid.requirements else np.zeros(0)
    factor = coverage_factor(confidence)
    spare: dict[bool, tuple[float, Requirement | None]] = {True: (inf, None), False: (inf, None)}
    unsettled: dict[str, None] = {}
    for requirement, margin_m in zip(laid.requirements, margins_m.tolist(), strict=True):
        met = probability(margin_m, requirement.sigma, strict=requirement.limit.is_strict)
        if decide(met, confidence=confidence) is not Verdict.MEETS:
            unsettled |= {requirement.rule.full_id: None} if requirement.is_must else {}
            continue
        left_m = max(0.0, margin_m - factor * requirement.sigma - laid.jump_m)
        spare[requirement.is_must] = min(spare[requirement.is_must], (left_m, requirement), key=lambda pair: pair[0])
    allowed_m, binding = spare[True]
    return PegTolerance(
        within_m=floor(min(allowed_m, TOLERANCE_M) * 100.0 + 1e-6) / 100.0,
        allowed_m=allowed_m,
        advised_m=spare[False][0],
        rule=binding.rule.full_id if binding else "",
        feature=binding.feature.name if binding and binding.feature else "",
        unsettled=tuple(unsettled),
    )
