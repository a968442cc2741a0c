"""From accuracy statements to standard uncertainties, and from those to verdicts."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from siting.uncertainty import (
    DEFAULT_CONFIDENCE,
    UNSTATED,
    Verdict,
    combined,
    coverage_factor,
    decide,
    gravest,
    probabilities,
    probability,
    sigma_from_radius,
    sigma_from_step,
)

MICROMETRE_M = 1e-6
NEGLIGIBLE = 1e-9
"Of a probability."
DIGITS = 1e-14
"Of a probability: what a double holds of it, with two digits to spare."

margins = st.floats(-100.0, 100.0)
sigmas = st.floats(0.001, 50.0)
confidences = st.floats(0.51, 0.999)


def test_a_phone_that_says_five_metres():
    """5 m holding 68 % of fixes is 3.312153 m an axis (own: closed form of the circular normal)."""
    assert 3.312153 == pytest.approx(sigma_from_radius(5.0, level=0.68), abs=MICROMETRE_M)


def test_a_radius_of_zero_is_no_uncertainty():
    """An exact position stays exact."""
    assert 0.0 == sigma_from_radius(0.0, level=0.95)


@pytest.mark.parametrize("level", [0.0, 1.0, 68.0, -0.1, float("nan")])
def test_a_level_that_is_no_share_is_refused(level):
    """Percent in place of a share, certainty and not-a-number are refused, and the value is named."""
    with pytest.raises(ValueError, match=r"level must lie between 0 and 1 \(got"):
        sigma_from_radius(5.0, level=level)


@pytest.mark.parametrize("radius_m", [-0.001, float("nan")])
def test_a_radius_below_zero_is_refused(radius_m):
    """A negative radius and not-a-number are refused, and the value is named."""
    with pytest.raises(ValueError, match=r"radius_m must be >= 0 \(got"):
        sigma_from_radius(radius_m, level=0.68)


def test_what_counts_where_a_source_states_nothing():
    """A receiver: 4.9 m at 68 % (van Diggelen & Enge, ION GNSS+ 2015, as quoted by GPS.gov, seen-2).

    Imagery: 10 m at the share an RMSE radius holds (RMSE 7.9 to 11.1 m, CIESIN 2013; the choice of 10 m is a
    project judgement).
    """
    assert 3.245910 == pytest.approx(sigma_from_radius(4.9, level=0.68), abs=MICROMETRE_M)
    assert (4.9, 0.68) == UNSTATED["receiver"]
    assert 7.09 == pytest.approx(sigma_from_radius(UNSTATED["imagery"][0], level=UNSTATED["imagery"][1]), abs=0.01)


def test_rounding_to_a_step_is_a_uniform_error():
    """One step is sqrt(12) standard uncertainties (JCGM 100:2008, 4.3.7, from memory)."""
    assert 0.321350 == pytest.approx(sigma_from_step(1.11319), abs=MICROMETRE_M)


@pytest.mark.parametrize(
    ("one_m", "other_m", "both_m", "accepted_at_m"),
    [(3.0, 3.0, 4.242641, 36.978523), (5.0, 5.0, 7.071068, 41.630871), (1.5, 3.0, 3.354102, 35.517007)],
)
def test_two_uncertain_points(one_m, other_m, both_m, accepted_at_m):
    """Root sum of squares, and the distance at which a minimum of 30 m is met at 95 % (own, first order)."""
    sigma_m = combined(one_m, other_m)

    assert both_m == pytest.approx(sigma_m, abs=MICROMETRE_M)
    assert accepted_at_m == pytest.approx(30.0 + coverage_factor(0.95) * sigma_m, abs=MICROMETRE_M)
    assert Verdict.MEETS is decide(probability(accepted_at_m + 1e-5 - 30.0, sigma_m))
    assert Verdict.TOO_CLOSE is decide(probability(accepted_at_m - 1e-5 - 30.0, sigma_m))


def test_35_m_where_30_are_demanded():
    """Both ends 3 m an axis: 0.880704 (own, first order; exact circular errors give 0.893269, so this is cautious)."""
    met = probability(5.0, combined(3.0, 3.0))

    assert 0.880704 == pytest.approx(met, abs=MICROMETRE_M)
    assert Verdict.TOO_CLOSE is decide(met)


@pytest.mark.parametrize(
    ("margin", "strict", "expected"),
    [(0.0, False, 1.0), (0.0, True, 0.0), (1e-9, True, 1.0), (-1e-9, False, 0.0), (5.0, False, 1.0)],
)
def test_without_uncertainty_the_measured_value_is_the_true_one(margin, strict, expected):
    """Exactly at the limit counts as met, unless the limit is strict."""
    assert expected == probability(margin, 0.0, strict=strict)


def test_far_out_the_probability_neither_overflows_nor_leaves_its_range():
    """A kilometre and a millimetre of sigma give 1 and 0, not an error."""
    assert 1.0 == probability(1000.0, 0.001)
    assert 0.0 == probability(-1000.0, 0.001)


@given(margin=margins, sigma=sigmas)
def test_a_margin_and_its_negative_share_the_whole(margin, sigma):
    """What is met at one side of the limit is missed at the other."""
    assert 1.0 == pytest.approx(probability(margin, sigma) + probability(-margin, sigma), abs=NEGLIGIBLE)


@given(margin=margins, more=st.floats(0.0, 100.0), sigma=sigmas)
def test_farther_away_is_never_less_probable(margin, more, sigma):
    """The probability grows with the margin."""
    assert probability(margin, sigma) <= probability(margin + more, sigma)


@given(margin=st.floats(-100.0, 0.0), sigma=sigmas, worse=st.floats(1.0, 10.0), confidence=confidences)
def test_uncertainty_never_makes_a_pass_of_a_miss(margin, sigma, worse, confidence):
    """However poor the receiver, a distance measured too short is never said to meet the limit."""
    assert Verdict.MEETS is not decide(probability(margin, sigma * worse), confidence=confidence)


@given(margin=st.floats(0.0, 100.0), sigma=sigmas, worse=st.floats(1.0, 10.0), confidence=confidences)
def test_uncertainty_never_makes_a_miss_of_a_pass(margin, sigma, worse, confidence):
    """A distance measured long enough is never said to fail."""
    assert Verdict.FAILS is not decide(probability(margin, sigma * worse), confidence=confidence)


@given(margin=margins, sigma=sigmas, confidence=confidences, more=st.floats(0.0, 0.0009))
def test_more_confidence_never_decides_more(margin, sigma, confidence, more):
    """What is too close to call stays so when more confidence is asked for."""
    met = probability(margin, sigma)
    if decide(met, confidence=confidence) is Verdict.TOO_CLOSE:
        assert Verdict.TOO_CLOSE is decide(met, confidence=confidence + more)


@pytest.mark.parametrize(
    ("met", "verdict"),
    [
        (1.0, Verdict.MEETS),
        (0.95, Verdict.MEETS),
        (0.9499, Verdict.TOO_CLOSE),
        (0.5, Verdict.TOO_CLOSE),
        (0.0501, Verdict.TOO_CLOSE),
        (0.05, Verdict.FAILS),
        (0.0, Verdict.FAILS),
    ],
)
def test_three_zones_at_the_default_confidence(met, verdict):
    """At or above 0.95 it meets, at or below 0.05 it fails, and between the two it is too close to call."""
    assert 0.95 == DEFAULT_CONFIDENCE
    assert verdict is decide(met)


def test_arrays_are_reckoned_as_single_values_are():
    """Same numbers, same shape, and zero sigma with the limit inclusive."""
    margin = np.array([[-1.0, 0.0, 2.0], [0.0, 5.0, -3.0]])
    sigma = np.array([[0.5, 1.0, 2.0], [0.0, 0.0, 0.0]])

    together = probabilities(margin, sigma)

    assert (2, 3) == together.shape
    one_by_one = [probability(m, s) for m, s in zip(margin.ravel(), sigma.ravel(), strict=True)]
    assert one_by_one == pytest.approx(together.ravel().tolist(), abs=DIGITS)
    assert 0.841345 == pytest.approx(together[0, 2], abs=MICROMETRE_M)  # one standard deviation


def test_arrays_keep_fourteen_digits_over_the_whole_range():
    """Against the error function of the standard library: the middle, both tails, and where the formulas join."""
    joins = np.array([0.46875, 4.0]) * np.sqrt(2.0)
    ratio = np.concatenate([np.linspace(-12.0, 12.0, 4801), joins, -joins, np.nextafter(joins, 0.0)])

    together = probabilities(ratio * 3.0, np.full(len(ratio), 3.0))

    assert [probability(3.0 * r, 3.0) for r in ratio] == pytest.approx(together.tolist(), abs=DIGITS)


def test_a_strict_limit_is_not_kept_by_reaching_it():
    """With no uncertainty, exactly at the limit: inclusive limits are met and strict ones are not, one by one."""
    strict = np.array([False, True, True])

    assert [1.0, 0.0, 1.0] == probabilities(np.array([0.0, 0.0, 0.1]), np.zeros(3), strict=strict).tolist()


def test_the_gravest_verdict_speaks_for_all():
    """Fails before too close to call before not assessed before meets; nothing at all is not assessed."""
    order = [Verdict.FAILS, Verdict.TOO_CLOSE, Verdict.NOT_ASSESSED, Verdict.MEETS]

    for place, verdict in enumerate(order):
        assert verdict is gravest(order[place:])
        assert verdict is gravest(order[place:][::-1])
    assert Verdict.NOT_ASSESSED is gravest([])
