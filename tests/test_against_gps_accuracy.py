"""Accuracy statements of receivers: every customary measure leads to the same uncertainty an axis.

Sources: National Research Council, *The Global Positioning System: A Shared National Asset* (1995), chapter on
accuracy measures (seen); F. van Diggelen, GPS World, January 1998, conversion table (seen in a copy);
NovAtel APN-029 (2003) (seen).
The factors to six figures are recomputed for the circular normal distribution.
"""

from math import exp

import pytest

from siting.uncertainty import sigma_from_radius

FACTOR_TOLERANCE = 5e-5
"The tables print four decimals."
SIX_FIGURES = 5e-7

LEVELS = {
    "sigma": 1.0 - exp(-0.5),
    "CEP": 0.5,
    "DRMS": 1.0 - exp(-1.0),
    "R68": 0.68,
    "R95": 0.95,
    "2DRMS": 1.0 - exp(-4.0),
    "R99": 0.99,
    "3DRMS": 1.0 - exp(-9.0),
}
"Share of fixes that each measure holds; those of sigma and DRMS follow from its definition as a length."


@pytest.mark.parametrize(
    ("measure", "share", "radius_over_sigma"),
    [
        ("sigma", 0.393469, 1.0),
        ("CEP", 0.5, 1.177410),
        ("DRMS", 0.632121, 1.414214),
        ("R68", 0.68, 1.509592),
        ("R95", 0.95, 2.447747),
        ("2DRMS", 0.981684, 2.828427),
        ("R99", 0.99, 3.034854),
        ("3DRMS", 0.999877, 4.242641),
    ],
)
def test_radius_of_each_measure(measure, share, radius_over_sigma):
    """A radius of so many sigma at its share gives back one metre an axis."""
    assert share == pytest.approx(LEVELS[measure], abs=SIX_FIGURES)
    assert 1.0 == pytest.approx(sigma_from_radius(radius_over_sigma, level=LEVELS[measure]), abs=SIX_FIGURES)


def factor(one, other):
    """What to multiply a radius of one measure by to have the other of the same receiver."""
    return sigma_from_radius(1.0, level=LEVELS[one]) / sigma_from_radius(1.0, level=LEVELS[other])


COLUMNS = ("sigma", "CEP", "R68", "DRMS", "R95", "2DRMS")
CROSS_FACTORS = {
    "CEP": (0.8493, 1, 1.2821, 1.2011, 2.0789, 2.4022),
    "R68": (0.6624, 0.7800, 1, 0.9368, 1.6215, 1.8736),
    "DRMS": (0.7071, 0.8326, 1.0674, 1, 1.7308, 2),
    "R95": (0.4085, 0.4810, 0.6167, 0.5778, 1, 1.1555),
    "2DRMS": (0.3536, 0.4163, 0.5337, 0.5, 0.8654, 1),
}


@pytest.mark.parametrize("row", CROSS_FACTORS)
def test_from_one_measure_to_another(row):
    """The table of factors between measures."""
    assert list(CROSS_FACTORS[row]) == pytest.approx([factor(row, column) for column in COLUMNS], abs=FACTOR_TOLERANCE)


@pytest.mark.parametrize(
    ("one", "other", "printed"),
    [
        ("CEP", "DRMS", "1.2"),
        ("CEP", "R95", "2.1"),
        ("CEP", "2DRMS", "2.4"),
        ("DRMS", "R95", "1.7"),
        ("R95", "2DRMS", "1.2"),
    ],
)
def test_printed_factors(one, other, printed):
    """The rounded factors as printed (van Diggelen 1998, seen in a copy)."""
    assert printed == f"{factor(one, other):.1f}"


def test_rmse_to_95_percent():
    """Accuracy_r = 1.7308 RMSE_r = 2.4477 RMSE_x (FGDC-STD-007.3-1998, from memory)."""
    assert 1.7308 == pytest.approx(factor("DRMS", "R95"), abs=FACTOR_TOLERANCE)
    assert 2.4477 == pytest.approx(factor("sigma", "R95"), abs=FACTOR_TOLERANCE)
