"""Siting of a small incinerator, from a chapter whose issuing body is not shown.

Source: https://pt.scribd.com/document/336734573/1 (seen).
"""

import pytest
from printed import cell, sides

PACK = "small-incinerator"


@pytest.mark.parametrize(
    ("printed", "kind", "feature", "about"),
    [
        ("30 m", "incinerator", "ward", {}),
        ("300 m", "incinerator", "crops", {"side": "upwind"}),
        (None, "incinerator", "crops", {"side": "downwind"}),
        (None, "incinerator", "store", {}),
        ("> 0 m", "ash pit", "", {"measure": "above water table"}),
    ],
)
def test_every_line_is_as_printed(printed, kind, feature, about):
    """30 m from occupied buildings, 300 m from crops where the wind blows towards them, ash above the water."""
    assert printed == cell(PACK, kind, feature, **about)


def test_smoke_blows_away_from_occupied_places():
    """The incinerator is never upwind of an occupied building."""
    never = {"never upwind"}

    assert never == sides(PACK, "incinerator", "ward")
