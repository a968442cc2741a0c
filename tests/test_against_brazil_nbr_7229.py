"""Brazil, ABNT NBR 7229:1993, septic tanks, in metres.

Source: https://pt.scribd.com/document/693359653/DIMENSIONAMENTO-DE-FOSSA (training slides; seen, second hand).
"""

import pytest
from printed import cell

PACK = "brazil-nbr-7229"


@pytest.mark.parametrize(
    ("printed", "feature", "known"),
    [
        ("1.5 m", "dwelling", {}),
        ("1.5 m", "boundary", {}),
        ("1.5 m", "soakaway", {}),
        ("1.5 m", "drain field", {}),
        ("1.5 m", "water pipe", {"feature__public": False}),
        ("3 m", "water pipe", {"feature__public": True}),
        ("3 m", "water pipe", {}),
        ("3 m", "tree", {}),
        ("15 m", "well", {}),
        ("15 m", "river", {}),
        ("15 m", "lake", {}),
    ],
)
def test_every_line_is_as_restated(printed, feature, known):
    """1.50 m from works, 3.0 m from trees and the public main, 15.0 m from wells and water."""
    assert printed == cell(PACK, "septic tank", feature, **known)
