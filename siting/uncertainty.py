"""How far off a position may be, and what that does to a verdict.

A position error is taken as circular normal: the same standard uncertainty (sigma) east and north.
A separation is decided by the probability that the true value keeps the limit
(JCGM 106:2012, clause 7.4: one-sided tolerance interval, normal distribution).
"""

from enum import StrEnum
from math import erfc, log, sqrt
from statistics import NormalDist

import numpy as np

DEFAULT_CONFIDENCE = 0.95

UNSTATED = {
    "imagery": (10.0, 0.63),
    "receiver": (4.9, 0.68),
}
"""Radius in metres, and the share of fixes it holds, where a source states none.

receiver: 4.9 m, phones under open sky (van Diggelen & Enge, ION GNSS+ 2015, as quoted by GPS.gov; the share
is not stated there and is taken as 68 %, what phones report: project judgement).
imagery: points picked from web imagery, RMSE of ten cities 7.9 to 11.1 m (CIESIN 2013), taken as 10 m at 63 %,
the share an RMSE radius holds when the error is circular normal.
"""


class Verdict(StrEnum):
    """The four answers; the last two always carry a reason."""

    MEETS = "meets"
    FAILS = "fails"
    TOO_CLOSE = "too close to call"
    NOT_ASSESSED = "not assessed"


_GRAVITY = (Verdict.FAILS, Verdict.TOO_CLOSE, Verdict.NOT_ASSESSED, Verdict.MEETS)


def gravest(verdicts: "list[Verdict]") -> Verdict:
    """The verdict that decides a whole: fails, then too close to call, then not assessed, then meets.

    >>> gravest([Verdict.MEETS, Verdict.NOT_ASSESSED])
    <Verdict.NOT_ASSESSED: 'not assessed'>
    """
    return min(verdicts, key=_GRAVITY.index, default=Verdict.NOT_ASSESSED)


def sigma_from_radius(radius_m: float, *, level: float) -> float:
    """Standard uncertainty per axis [m] of fixes of which the share `level` lies within `radius_m`.

    Valid for: circular normal errors; radius_m >= 0; 0 < level < 1.
    Source: quantile of the Rayleigh distribution, Q(F) = sigma sqrt(-2 ln(1 - F));
    factors in National Research Council, *The Global Positioning System: A Shared National Asset* (1995).

    >>> round(sigma_from_radius(5.0, level=0.68), 6)
    3.312153
    """
    if not 0 < level < 1:
        raise ValueError(f"level must lie between 0 and 1 (got {level})")
    if not radius_m >= 0:
        raise ValueError(f"radius_m must be >= 0 (got {radius_m})")
    return radius_m / sqrt(-2.0 * log(1.0 - level))


def sigma_from_step(step_m: float) -> float:
    """Standard uncertainty [m] of a coordinate rounded to steps of `step_m`: a uniform error, step / sqrt(12).

    Source: JCGM 100:2008, 4.3.7.
    """
    return step_m / sqrt(12.0)


def combined(*sigmas_m: float) -> float:
    """Root sum of squares of independent standard uncertainties [m] (JCGM 100:2008, 5.1.2)."""
    return sqrt(sum(sigma * sigma for sigma in sigmas_m))


def coverage_factor(confidence: float) -> float:
    """How many standard uncertainties a one-sided guard band holds at `confidence` (JCGM 106:2012, Table 1).

    >>> round(coverage_factor(0.95), 4)
    1.6449
    """
    return NormalDist().inv_cdf(confidence)


def probability(margin: float, sigma: float, *, strict: bool = False) -> float:
    """Probability that the true margin is not negative, given the measured one.

    With sigma zero the measured value is the true one, and exactly at the limit counts as met
    unless the limit is strict.
    Source: JCGM 106:2012, equation for a single lower limit, p = Phi((y - T_L) / u).

    >>> round(probability(509.7 - 490.0, 8.6), 6)   # burst pressure, JCGM 106 clause 7 (from memory)
    0.98901
    """
    if sigma > 0:
        return 0.5 * erfc(-margin / (sigma * sqrt(2.0)))
    return 1.0 if margin > 0 or (margin == 0 and not strict) else 0.0


def probabilities(margins: np.ndarray, sigmas: np.ndarray) -> np.ndarray:
    """`probability` for arrays of any one shape, limits inclusive: to 1e-7 without scipy."""
    flat = [probability(float(m), float(s)) for m, s in zip(np.ravel(margins), np.ravel(sigmas), strict=True)]
    return np.reshape(np.array(flat), np.shape(margins))


def decide(probability_met: float, *, confidence: float = DEFAULT_CONFIDENCE) -> Verdict:
    """The verdict of one separation.

    It meets at or above the confidence, fails at or below its complement, and is too close to call between.
    Source: decision rule with guard bands on both sides of the limit, JCGM 106:2012, clause 8.3.
    """
    if probability_met >= confidence:
        return Verdict.MEETS
    if probability_met <= 1.0 - confidence:
        return Verdict.FAILS
    return Verdict.TOO_CLOSE
