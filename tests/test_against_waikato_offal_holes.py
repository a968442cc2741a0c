"""Waikato Regional Council (New Zealand), good practice guide 5.2.12, dumps and offal holes, in metres.

Source: http://waikatoregion.govt.nz/Council/Policy-and-plans/Rules-and-regulation/Regional-Plan/Waikato-Regional-Plan/
5-Land-and-Soil-Module/52-Discharges-Onto-or-Into-Land/ (5.2.12, seen).
"""

import pytest
from printed import cell

PACK = "waikato-offal-holes"


@pytest.mark.parametrize("kind", ["animal burial pit", "refuse pit"])
@pytest.mark.parametrize(
    ("printed", "feature", "measure"),
    [
        ("100 m", "borehole", "distance"),
        ("100 m", "river", "distance"),
        ("100 m", "sea", "distance"),
        ("100 m", "habitat", "distance"),
        ("10 m", "sinkhole", "distance"),
        ("50 m", "boundary", "distance"),
        ("300 m", "public building", "distance"),
        ("300 m", "public area", "distance"),
        ("> 0 m", "flood-prone land", "distance"),
        ("> 0 m", "erosion-prone land", "distance"),
        ("> 0 m", "", "above water table"),
    ],
)
def test_every_line_is_as_printed(printed, feature, measure, kind):
    """Water and habitat 100 m, boundary 50 m, public places 300 m, caves 10 m, excluded land not at all."""
    assert printed == cell(PACK, kind, feature, measure=measure)
