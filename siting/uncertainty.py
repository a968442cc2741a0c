"""How far off a position may be, and what that does to a verdict.

A position error is taken as circular normal: the same standard uncertainty (sigma) east and north.
A separation is decided by the probability that the true value keeps the limit
(JCGM 106:2012, clause 7.4: one-sided tolerance interval, normal distribution).
"""

from enum import StrEnum
from math import erfc, log, pi, sqrt
from statistics import NormalDist

import numpy as np

DEFAULT_CONFIDENCE = 0.95

UNSTATED = {
    "imagery": (10.0, 0.63),
    "receiver": (4.9, 0.68),
    "drawing": (0.25, 0.68),
}
"""Radius in metres, and the share of fixes it holds, where a source states none.

receiver: 4.9 m, phones under open sky (van Diggelen & Enge, ION GNSS+ 2015, as quoted by GPS.gov; the share
is not stated there and is taken as 68 %, what phones report: project judgement).
imagery: points picked from web imagery, RMSE of ten cities 7.9 to 11.1 m (CIESIN 2013), taken as 10 m at 63 %,
the share an RMSE radius holds when the error is circular normal.
drawing: half a millimetre on paper at 1:500, project judgement.
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


def probabilities(margins: np.ndarray, sigmas: np.ndarray, *, strict: np.ndarray | bool = False) -> np.ndarray:
    """`probability` for arrays of any one shape, to 1e-14 without scipy; `strict` for all, or one for each."""
    margins, sigmas, strict = np.broadcast_arrays(np.asarray(margins, float), np.asarray(sigmas, float), strict)
    met = ((margins > 0.0) | ((margins == 0.0) & ~strict)).astype(float)
    ratio = np.divide(margins, sigmas, out=np.full(margins.shape, np.inf), where=sigmas > 0.0)
    # Beyond nine standard uncertainties the probability is 0 or 1 to the last digit of a double.
    open_ = np.abs(ratio) < 9.0
    met[open_] = 0.5 * _erfc(-ratio[open_] / sqrt(2.0))
    return met


_NEAR = (
    (1.85777706184603153e-1, 3.16112374387056560e0, 1.13864154151050156e2, 3.77485237685302021e2,
     3.20937758913846947e3),
    (1.0, 2.36012909523441209e1, 2.44024637934444173e2, 1.28261652607737228e3, 2.84423683343917062e3),
)  # fmt: skip
_MIDDLE = (
    (2.15311535474403846e-8, 5.64188496988670089e-1, 8.88314979438837594e0, 6.61191906371416295e1,
     2.98635138197400131e2, 8.81952221241769090e2, 1.71204761263407058e3, 2.05107837782607147e3,
     1.23033935479799725e3),
    (1.0, 1.57449261107098347e1, 1.17693950891312499e2, 5.37181101862009858e2, 1.62138957456669019e3,
     3.29079923573345963e3, 4.36261909014324716e3, 3.43936767414372164e3, 1.23033935480374942e3),
)  # fmt: skip
_FAR = (
    (1.63153871373020978e-2, 3.05326634961232344e-1, 3.60344899949804439e-1, 1.25781726111229246e-1,
     1.60837851487422766e-2, 6.58749161529837803e-4),
    (1.0, 2.56852019228982242e0, 1.87295284992346047e0, 5.27905102951428412e-1, 6.05183413124413191e-2,
     2.33520497626869185e-3),
)  # fmt: skip


def _erfc(x: np.ndarray) -> np.ndarray:
    """Complementary error function of an array (n,).

    Source: W. J. Cody, "Rational Chebyshev approximations for the error function", Mathematics of Computation 23
    (1969); coefficients from memory, and compared with `math.erfc` over the whole range by a test.
    """
    size = np.abs(x)
    near, far = size <= 0.46875, size > 4.0
    middle = ~(near | far)
    result = np.empty_like(size)
    result[near] = 1.0 - size[near] * _ratio(_NEAR, size[near] ** 2)
    result[middle] = np.exp(-(size[middle] ** 2)) * _ratio(_MIDDLE, size[middle])
    inverse = 1.0 / size[far] ** 2
    tail = (1.0 / sqrt(pi) - inverse * _ratio(_FAR, inverse)) / size[far]
    result[far] = np.exp(-(size[far] ** 2)) * tail
    return np.where(x < 0.0, 2.0 - result, result)


def _ratio(coefficients: tuple[tuple[float, ...], tuple[float, ...]], x: np.ndarray) -> np.ndarray:
    """Two polynomials, highest power first, one over the other."""
    over, under = (np.full(len(x), first) for first, *_ in coefficients)
    for a, b in zip(coefficients[0][1:], coefficients[1][1:], strict=True):
        over = over * x + a
        under = under * x + b
    return np.asarray(over / under)


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
