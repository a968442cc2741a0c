"""Hesperian, A Community Guide to Environmental Health (2012 printing), ch. 19, pp. 438-439, as printed.

Source: https://en.hesperian.org/hhg/A_Community_Guide_to_Environmental_Health:Burying_Health_Care_Waste (seen).
"""

import pytest
from printed import cell, sides

PACK = "hesperian-burial-pit"


@pytest.mark.parametrize(
    ("printed", "feature", "measure"),
    [
        ("50 m", "river", "distance"),
        ("50 m", "spring", "distance"),
        ("50 m", "well", "distance"),
        ("50 m", "ward", "distance"),
        ("1.5 m", "", "above water table"),
        ("2 m and <= 5 m", "", "depth"),
    ],
)
def test_every_line_is_as_printed(printed, feature, measure):
    """50 m from water and buildings, 1½ m above the highest groundwater, 2 to 5 m deep."""
    assert printed == cell(PACK, "burial pit", feature, measure=measure)


def test_downhill_from_a_well():
    """50 meters downhill from a well: on no other side of it."""
    downhill = {"must be down-slope"}

    assert downhill == sides(PACK, "burial pit", "well")
