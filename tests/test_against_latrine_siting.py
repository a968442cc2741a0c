"""Hygiene and Environmental Health (Ethiopia, about 2011), latrine siting session, as printed.

Source: https://content.oppia-mobile.org/mod/page/view.php?id=1425 (seen).
"""

import pytest
from printed import cell, requirement, sides

PACK = "latrine-two-sided"


@pytest.mark.parametrize(
    ("printed", "feature", "about"),
    [
        ("15 m", "well", {"strength": "must"}),
        ("30 m", "well", {"strength": "should"}),
        ("6 m and <= 50 m", "dwelling", {}),
        ("> 0 m", "", {"measure": "above water table"}),
        ("3 m", "", {"measure": "depth"}),
    ],
)
def test_every_line_is_as_printed(printed, feature, about):
    """Two tiers from water, two sides from a house, the whole pit above the water."""
    assert printed == cell(PACK, "pit latrine", feature, **about)


def test_sides():
    """On the downhill side of a well, and not upwind of the house."""
    found = (sides(PACK, "pit latrine", "well"), sides(PACK, "pit latrine", "dwelling"))

    assert ({"must be down-slope"}, {"never upwind"}) == found


def test_diameter():
    """Above 1.5 m the risk of collapse grows."""
    answers = [requirement(PACK, "pit latrine", "diameter", installation__pit_diameter_m=d) for d in (1.5, 1.51)]

    assert [True, False] == answers
