"""Indiana Department of Natural Resources, recommended distances from private wells, in feet.

Source: http://in.gov./dnr/water/3564.htm (seen; the last row of the page is cut off).
"""

import pytest
from printed import cell

from siting.io.packs import load

PACK = "indiana-dnr-private-wells"


@pytest.mark.parametrize(
    ("feet", "kind"),
    [
        (50, "septic tank"),
        (50, "holding tank"),
        (50, "vault latrine"),
        (100, "cesspool"),
        (100, "rain soakaway"),
        (100, "seepage pit"),
        (100, "pit latrine"),
        (100, "drain field"),
    ],
)
def test_every_row_is_as_printed(feet, kind):
    """Solid-wall tanks 50 ft, porous linings and fields 100 ft."""
    assert f"{feet} ft" == cell(PACK, kind, "well")


def test_they_are_recommendations():
    """The page recommends; it does not require."""
    strengths = {str(rule.strength) for rule in load(PACK).rules}

    assert {"should"} == strengths
