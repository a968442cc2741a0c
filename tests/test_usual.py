"""Typed values outside the usual: refused, with the reading that was perhaps meant."""

import pytest

from siting.errors import InputError
from siting.usual import USUAL, checked, not_negative, positive


@pytest.mark.parametrize(
    ("quantity", "typed", "reading"),
    [
        ("wall_m", 0.0022, "did you mean 0.22 m (220 mm), if the decimal point slipped"),
        ("vent_pipe_m", 0.004, "did you mean 0.1016 m (101.6 mm), if inches were read as millimetres"),
        ("pit_depth_m", 200.0, "did you mean 2 m, if it was typed in centimetres"),
        ("wall_m", 230.0, "did you mean 0.23 m (230 mm), if it was typed in millimetres"),
        ("porosity", 30.0, "did you mean 0.3 as a share of 1, if it was typed in percent"),
        ("conductivity_m_per_day", 2e-4, "did you mean 17.28 m/day, if it was typed in m/s"),
        ("births_per_day", 4000.0, "did you mean 131.4 births a day, if it was counted by the month"),
        ("births_per_day", 4000.0, "; or 10.95 births a day, if it was counted by the year"),
        ("life_years", 730.0, "did you mean 1.999 years, if it was typed in days"),
    ],
)
def test_a_slip_is_recognised_and_not_repaired(quantity, typed, reading):
    """The error says what the value would be had the usual slip been made."""
    with pytest.raises(InputError) as caught:
        checked(quantity, typed)
    assert reading in caught.value.faults[0].do_next
    assert quantity in caught.value.faults[0].found


@pytest.mark.parametrize("quantity", sorted(USUAL))
def test_the_ends_of_every_range_are_usual(quantity):
    """Both ends belong to the range; beyond them, and for nan, there is an error."""
    usual = USUAL[quantity]
    assert usual.low == checked(quantity, usual.low)
    assert usual.high == checked(quantity, usual.high)
    for beyond in (usual.low * 0.999, usual.high * 1.001, float("nan"), 0.0, -usual.low):
        with pytest.raises(InputError):
            checked(quantity, beyond)


def test_every_wrong_number_is_named_at_once():
    """Two wrong values give two faults; zero is refused by one check and taken by the other."""
    with pytest.raises(InputError) as caught:
        positive(thickness_m=0.0, pumping_m3_per_day=-1.0, days=3.0)
    assert ["thickness_m is 0", "pumping_m3_per_day is -1"] == [f.found for f in caught.value.faults]
    not_negative(thickness_m=0.0)
    with pytest.raises(InputError, match="days is -1"):
        not_negative(thickness_m=0.0, days=-1.0)
    with pytest.raises(InputError, match="days is inf"):
        positive(days=float("inf"))
