"""Philippines, PD 856 section 90, and the cemetery rules on the water table.

Sources: http://www.jecoconstruction.net/Sanitation_Code_of_the_Philippines_Building_Specifications_Properties_Rules_
Page_21.html (seen); https://www.coursehero.com/file/8212490/ (seen, second hand).
"""

import pytest
from printed import cell

PACK = "philippines-burial"
DEEP, SHALLOW = {"site__highest_water_depth_m": 4.25}, {"site__highest_water_depth_m": 4.24}


@pytest.mark.parametrize(
    ("printed", "feature", "about"),
    [
        ("25 m", "dwelling", {}),
        ("50 m", "river", {}),
        ("50 m", "well", DEEP | {"side": "up-slope"}),
        ("300 m", "well", SHALLOW | {"side": "down-slope"}),
        ("1000 m", "well", SHALLOW | {"side": "up-slope"}),
        ("1000 m", "well", {"side": "up-slope"}),
        ("300 m", "spring", {}),
    ],
)
def test_every_line_is_as_printed(printed, feature, about):
    """25 m from dwellings, 50 m from water; a shallow water table asks for 300 m downhill and 1,000 m uphill."""
    assert printed == cell(PACK, "grave", feature, **about)
