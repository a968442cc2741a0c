"""Pit volumes against published examples; each value names its source and how it was read."""

import pytest

from siting.pits import (
    FREEBOARD_M,
    REST_YEARS,
    RETAINED_SHARE,
    SLUDGE_M3_PER_PERSON_YEAR,
    cylinder_m3,
    kept_m3,
    latrine_life_years,
    latrine_pit,
    placenta_pit,
    prismoid_m3,
)

LITRE_M3 = 0.001


def test_family_latrine():
    """autonopedia.org, Latrines (seen): 1 x 1 x 3 m, five people, two thirds full after about 6 years."""
    years = latrine_life_years(2.0, users=5, rate_m3_per_person_year=SLUDGE_M3_PER_PERSON_YEAR)
    assert 6.667 == pytest.approx(years, abs=1e-3)
    assert 6 == int(years)


def test_single_pit_of_the_compendium():
    """Eawag *Compendium of Sanitation Systems*, Single Pit (inputs seen, answer own): 1000 L, 5 users, 60 L."""
    assert 3.333 == pytest.approx(latrine_life_years(1.0, users=5, rate_m3_per_person_year=0.06), abs=1e-3)


def test_latrine_volume_formula():
    """WHO 1992, V = N P R (from memory), own numbers: 10 years, 6 users, 60 L; on 1.2 m: 3.6831 m deep."""
    size = latrine_pit(6, life_years=10, diameter_m=1.2, rate_m3_per_person_year=0.06)
    assert 3.6 == pytest.approx(size.volume_m3, abs=LITRE_M3)
    assert 3.6831 == pytest.approx(size.least_depth_m, abs=1e-4)
    assert 4.0 == size.depth_m


def test_blog_latrine_volume():
    """loofactory.blogspot.com, 2006 (seen, weak): 65 L, 6 persons, 6 years need 2340 L."""
    size = latrine_pit(6, life_years=6, rate_m3_per_person_year=0.065)
    assert 2.340 == pytest.approx(size.volume_m3, abs=LITRE_M3)


def test_placenta_pit_specification():
    """HCWH / UNDP GEF doc. 575 (seen): about 90 % soaks away, and a full pit rests 2 years."""
    assert 0.90 == pytest.approx(1 - RETAINED_SHARE, abs=1e-12)
    assert 2.0 == REST_YEARS
    # Latrines are given up 0.5 m below the top: Wikipedia, Pit latrine, citing WHO (seen).
    assert 0.5 == FREEBOARD_M


@pytest.mark.parametrize(("share", "volume_m3"), [(0.10, 0.600), (1.0, 6.000)])  # own
def test_fifty_deliveries_a_month(share, volume_m3):
    """50 deliveries a month of 5 L for 24 months keep 0.600 m3, or 6.000 if nothing soaks away (own)."""
    assert volume_m3 == pytest.approx(kept_m3(50 * 5.0 * 24, retained_share=share), abs=LITRE_M3)
    assert 0.763944 == pytest.approx(0.600 / cylinder_m3(1.0, depth_m=1.0), abs=1e-6)


def test_thirty_births_a_month():
    """30 births a month of 5 L for 24 months: 0.46 m of a 1 m ring, plus freeboard (own, not published)."""
    size = placenta_pit(30 * 12 / 365.25, litres_per_birth=5.0)
    assert 0.360 == pytest.approx(size.volume_m3, abs=LITRE_M3)
    assert 0.46 + 0.5 == pytest.approx(size.least_depth_m, abs=0.005)
    # Raised to the least depth in use, 1.5 m (common practice).
    assert 1.5 == size.depth_m


@pytest.mark.parametrize(("diameter_m", "per_metre_m3"), [(1.0, 0.785398), (1.2, 1.130973), (1.5, 1.767146)])  # own
def test_round_pits(diameter_m, per_metre_m3):
    """Volume of a metre of round pit."""
    assert per_metre_m3 == pytest.approx(cylinder_m3(diameter_m, depth_m=1.0), abs=1e-6)


def test_sloping_pit():
    """Top 3 x 2, base 2 x 1, middle 2.5 x 1.5, depth 2 m: 7.666667 m3 by the prismoidal formula (own)."""
    volume_m3 = prismoid_m3(6.0, middle_m2=3.75, base_m2=2.0, depth_m=2.0)
    assert 7.666667 == pytest.approx(volume_m3, abs=1e-6)


def test_the_default_keeps_less_than_one_placenta():
    """Placentas weigh 545 g (Eur. J. Obstet. Gynecol. Reprod. Biol. 2006, seen); the default keeps 0.46 L a birth."""
    kept_litres = placenta_pit(1).volume_m3 * 1000 / (2 * 365.25)
    assert 0.46 == pytest.approx(kept_litres, abs=1e-9)
    assert kept_litres < 0.545
