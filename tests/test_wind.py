"""The wind: its sectors, its shares, and who gets the smoke."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from siting.errors import InputError
from siting.wind import NAMES_8, NAMES_16, rose, sector_of, share_downwind

ROUNDING = 1e-9
# Shares N to NNW clockwise, sum 90, calm 10: own figures.
OWN = dict(zip(NAMES_16, (4, 3, 5, 8, 12, 10, 7, 4, 5, 3, 2, 2, 6, 8, 6, 5), strict=True)) | {"calm": 10}
EIGHT = {"N": 5, "NE": 20, "E": 40, "SE": 25, "S": 5, "SW": 2, "W": 2, "NW": 1}


@pytest.mark.parametrize(
    ("direction_deg", "sectors", "name"),
    [
        # Sixteen sectors of 22.5 degrees centred on north (AMS Glossary of Meteorology, seen); edges own.
        (11.25, 16, "NNE"),
        (11.24, 16, "N"),
        (348.75, 16, "N"),
        (348.74, 16, "NNW"),
        (105.0, 16, "ESE"),
        (22.5, 8, "NE"),
        (22.49, 8, "N"),
        (337.5, 8, "N"),
        (337.49, 8, "NW"),
        (-1e-17, 16, "N"),
        (-11.25 - 1e-15, 16, "N"),
        (720.0, 8, "N"),
    ],
)
def test_edges_of_sectors(direction_deg, sectors, name):
    """A sector begins at its anticlockwise edge."""
    assert name == sector_of(direction_deg, sectors=sectors)


@given(turns=st.integers(-3, 3), index=st.integers(0, 15))
def test_the_middle_of_a_sector_has_its_name(turns, index):
    """The middles of the sectors carry the sixteen names, whatever the number of turns."""
    assert NAMES_16[index] == sector_of(index * 22.5 + 360 * turns)
    assert NAMES_8[index // 2] == sector_of(index // 2 * 45.0 + 360 * turns, sectors=8)


def test_the_receptor_gets_the_opposite_wind():
    """Bearing 285 is reached by wind from 105, ESE: 0.10 of all hours, 0.1111 of those with wind (own)."""
    wind = rose(OWN)
    assert 0.10 == pytest.approx(share_downwind(wind, bearing_deg=285.0), abs=ROUNDING)
    assert 1 / 9 == pytest.approx(share_downwind(wind, bearing_deg=285.0, calm_counts=False), abs=ROUNDING)
    assert 0.04 == pytest.approx(share_downwind(wind, bearing_deg=180.0), abs=ROUNDING)


@given(bearing_deg=st.floats(0, 360))
def test_eight_sectors_are_enough(bearing_deg):
    """With eight sectors the share is that of the opposite one, 45 degrees wide."""
    opposite = sector_of(bearing_deg + 180.0, sectors=8)
    assert EIGHT[opposite] / 100 == pytest.approx(share_downwind(rose(EIGHT), bearing_deg=bearing_deg), abs=ROUNDING)


def test_the_prevailing_wind():
    """The largest share is the prevailing wind; equal shares are all named and give no single bearing."""
    assert rose(EIGHT).prevailing == ("E",)
    assert rose(EIGHT).prevailing_from_deg == 90.0
    assert rose(OWN).prevailing_from_deg == 90.0
    even = rose(dict.fromkeys(NAMES_8, 12.5))
    assert even.prevailing == NAMES_8
    assert even.prevailing_from_deg is None


def test_a_calm_year_carries_nothing():
    """All hours calm: no hour with wind, and no share of it."""
    still = rose(dict.fromkeys(NAMES_8, 0) | {"Calm": 100})
    assert share_downwind(still, bearing_deg=10.0) == 0.0
    assert share_downwind(still, bearing_deg=10.0, calm_counts=False) == 0.0


@pytest.mark.parametrize(
    ("change", "found", "advice"),
    [
        ({"E": 30}, "add up to 90 percent", "write calm = 10"),
        ({"E": 50}, "add up to 110 percent", "go back to the record"),
        ({"E": 30, "calm": 5}, "add up to 95 percent", "go back to the record"),
        ({"E": 41.01}, "add up to 101.01 percent", "go back"),
        ({"E": -5}, "blows -5 percent of the time from E", "mend that share"),
        ({"E": float("nan")}, "blows nan percent", "mend that share"),
        ({"EES": 1}, "a wind direction 'EES'", "did you mean ESE"),
    ],
)
def test_wrong_shares_are_refused(change, found, advice):
    """Sums, signs and names that cannot be are refused, with what to do."""
    with pytest.raises(InputError) as caught:
        rose(EIGHT | change)
    assert found in caught.value.faults[0].found
    assert advice in caught.value.faults[0].do_next


def test_sums_within_rounding_pass_unchanged():
    """A sum of 101 or 99 passes, and no share is altered."""
    assert rose(EIGHT | {"E": 41}).shares_percent[2] == 41
    assert rose(EIGHT | {"E": 39}).shares_percent[2] == 39


def test_shares_of_one_are_told_from_percent():
    """Shares that add up to 1 are recognised, and not multiplied in silence."""
    with pytest.raises(InputError, match="multiply them by 100"):
        rose({name: share / 100 for name, share in EIGHT.items()})


def test_a_missing_direction_is_named():
    """A rose with a direction left out is refused, also a sixteen-part one."""
    with pytest.raises(InputError, match="no share of the wind for NW"):
        rose({name: share for name, share in EIGHT.items() if name != "NW"})
    with pytest.raises(InputError, match="no share of the wind for NNW"):
        rose({name: share for name, share in OWN.items() if name != "NNW"})
