"""Whether measurements agree with one another, and which one does not."""

from collections.abc import Sequence
from math import log, sqrt
from statistics import NormalDist

CHANCE = 0.01
"How often a set of good measurements may be suspected; *common practice* for such tests."


def limit(spare: int, *, chance: float = CHANCE) -> float:
    """The sum of squared residuals, each over its sigma, that good measurements exceed with this chance.

    spare: how many measurements there are beyond what fixes the result.
    Source: quantile of chi-square; exact for one and two, else Wilson & Hilferty, PNAS 17:684-688 (1931; from
    memory), within 1 percent.

    >>> round(limit(1), 3), round(limit(2), 3)
    (6.635, 9.21)
    """
    if spare == 1:
        return NormalDist().inv_cdf(1.0 - chance / 2.0) ** 2
    if spare == 2:
        return -2.0 * log(chance)
    share = 2.0 / (9.0 * spare)
    return float(spare * (1.0 - share + NormalDist().inv_cdf(1.0 - chance) * sqrt(share)) ** 3)


def agree(misfit: float, spare: int) -> bool:
    """Whether measurements agree; with none to spare they cannot disagree."""
    return spare <= 0 or misfit <= limit(spare)


def suspected(misfit: float, without: Sequence[float], spare: int) -> tuple[int, ...]:
    """Which measurements may be to blame: those without which all the others agree; one alone is the blunder.

    misfit: of all; without: of all but each in turn; spare: as in `limit`, for all.
    None when they agree, and none when leaving out any single one does not help.
    With one measurement to spare the rest fits whichever is left out: all are suspected, and none is named.
    Source: leave-one-out (own).
    """
    if agree(misfit, spare):
        return ()
    return tuple(number for number, rest in enumerate(without) if agree(rest, spare - 1))
