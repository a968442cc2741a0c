"""The decision rule against JCGM 106:2012, *The role of measurement uncertainty in conformity assessment*.

The answers of the examples of clause 7 and the factors of Table 1 are from memory; each was recomputed from its
closed form, and the recomputed value is what is compared.
The three-zone tables are published ones: see each test.
"""

import pytest

from siting.uncertainty import Verdict, coverage_factor, decide, probability

PROBABILITY_TOLERANCE = 5e-7
FACTOR_TOLERANCE = 5e-5
"Table 1 prints four decimals."


def test_upper_limit():
    """Breakdown voltage of a Zener diode: -5.47 V, u 0.05 V, limit -5.40 V gives 0.92 (clause 7, from memory)."""
    met = probability(-5.40 - -5.47, 0.05)

    assert 0.919243 == pytest.approx(met, abs=PROBABILITY_TOLERANCE)
    assert "0.92" == f"{met:.2f}"


def test_lower_limit():
    """Burst pressure: 509.7 kPa, u 8.6 kPa, at least 490 kPa gives 0.99 (clause 7, from memory).

    It is the pattern of a measured separation and a minimum.
    """
    met = probability(509.7 - 490.0, 8.6)

    assert 0.989010 == pytest.approx(met, abs=PROBABILITY_TOLERANCE)
    assert "0.99" == f"{met:.2f}"
    assert Verdict.MEETS is decide(met)


def test_interval():
    """Oil viscosity: 13.6, u 1.8, between 12.5 and 16.3 gives 0.66 = 0.93 - 0.27 (clause 7, from memory)."""
    upper, below = probability(16.3 - 13.6, 1.8), probability(12.5 - 13.6, 1.8)

    assert 0.933193 == pytest.approx(upper, abs=PROBABILITY_TOLERANCE)
    assert 0.270563 == pytest.approx(below, abs=PROBABILITY_TOLERANCE)
    assert 0.662630 == pytest.approx(upper - below, abs=PROBABILITY_TOLERANCE)


def test_speed_limit():
    """Limit 100 km/h, relative u 0.02, 99.9 % sure: acted upon above 106.5876, printed 107 (from memory)."""
    threshold = 100.0 / (1.0 - coverage_factor(0.999) * 0.02)

    assert 106.5876 == pytest.approx(threshold, abs=1e-4)
    assert 0.999 == pytest.approx(probability(threshold - 100.0, 0.02 * threshold), abs=PROBABILITY_TOLERANCE)


@pytest.mark.parametrize(
    ("confidence", "factor"),
    [
        (0.80, 0.8416),
        (0.90, 1.2816),
        (0.95, 1.6449),
        (0.975, 1.9600),
        (0.99, 2.3263),
        (0.995, 2.5758),
        (0.999, 3.0902),
    ],
)
def test_table_1(confidence, factor):
    """One-sided factors (Table 1, from memory, recomputed), and the way back from factor to confidence."""
    assert factor == pytest.approx(coverage_factor(confidence), abs=FACTOR_TOLERANCE)
    assert confidence == pytest.approx(probability(coverage_factor(confidence), 1.0), abs=PROBABILITY_TOLERANCE)


@pytest.mark.parametrize(
    ("band_in_u", "risk", "tolerance", "bound"),
    [
        (0.0, 0.5, 1e-6, 0.5),  # simple acceptance
        (1.66, 0.048457, 1e-6, 0.05),  # 0.83 U, ISO 14253-1:2017
        (1.64485, 0.050000, 1e-6, 0.0501),  # exact 95 %
        (2.0, 0.022750, 1e-6, 0.025),  # w = U
        (3.0, 0.00134990, 1e-8, 0.0016),  # 1.5 U
        (6.0, 9.866e-10, 1e-12, 1e-6),  # 3 U
    ],
)
def test_guard_bands(band_in_u, risk, tolerance, bound):
    """Risk of accepting what misses the limit, at the edge of each guard band.

    Bounds: ILAC-G8:09/2019, Table 1 (seen-2); risks recomputed.
    """
    missed = probability(-band_in_u, 1.0)

    assert risk == pytest.approx(missed, abs=tolerance)
    assert missed <= bound


TWO_U = probability(2.0, 1.0)
"The confidence at which a guard band of U = 2 u decides."


@pytest.mark.parametrize(
    ("error", "verdict"),
    [(0, Verdict.MEETS), (2, Verdict.MEETS), (3, Verdict.TOO_CLOSE), (5, Verdict.FAILS)],
)
def test_the_caliper_table(error, verdict):
    """Limit 0.03 mm, U 0.01 mm, here in hundredths: 0.00 and 0.02 in, 0.03 undecided, 0.05 out.

    Source: a calibration laboratory's table after APLAC TC 004 and JIS B 7507 (seen).
    Its row 0.04 lies exactly on the far edge and is undecided there; here such a value counts as failing, which
    is the cautious side, so the row is not compared.
    """
    assert verdict is decide(probability(3.0 - error, 0.5), confidence=TWO_U)


@pytest.mark.parametrize(
    ("measured_m", "verdict"),
    [
        (34.0, Verdict.MEETS),
        (33.99, Verdict.TOO_CLOSE),
        (30.0, Verdict.TOO_CLOSE),
        (26.01, Verdict.TOO_CLOSE),
        (25.99, Verdict.FAILS),
    ],
)
def test_the_caliper_table_carried_over_to_a_distance(measured_m, verdict):
    """At least 30 m with U 4 m: met from 34.00 m on, not met below 26 m, undecided between (own, the mirror image)."""
    assert verdict is decide(probability(measured_m - 30.0, 2.0), confidence=TWO_U)


@pytest.mark.parametrize(
    ("error", "verdict"), [(0.0017, Verdict.MEETS), (0.0025, Verdict.TOO_CLOSE), (0.0041, Verdict.FAILS)]
)
def test_the_micrometer(error, verdict):
    """Largest error 0.003 mm, U 0.0010 mm: 0.0017 conforms, 0.0025 is grey (an ILAC-G8 tutorial, seen).

    0.0041 lies beyond both the limit and U (own).
    """
    assert verdict is decide(probability(0.003 - error, 0.0005), confidence=TWO_U)
