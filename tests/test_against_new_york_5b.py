"""New York State, 10 NYCRR Appendix 5-B, Table 1, as printed, in feet.

Source: https://regulations.justia.com/states/new-york/title-10/appendices/appendix-5-b/table-1/ (seen).
"""

import pytest
from printed import cell

PACK = "new-york-5b"

TABLE_1 = [
    ("300 ft", "burial pit", {}),  # hazardous waste disposal area
    ("300 ft", "refuse pit", {}),  # landfill
    ("200 ft", "cesspool", {}),
    ("200 ft", "drain field", {"site__material": "coarse gravel"}),
    ("200 ft", "drain field", {"site__material": "loam", "side": "up-slope"}),  # direct path of drainage to the well
    ("150 ft", "seepage pit", {}),
    ("100 ft", "drain field", {"site__material": "loam"}),
    ("100 ft", "pit latrine", {}),
    ("100 ft", "septic tank", {"installation__sealed": False}),
    ("100 ft", "grave", {}),
    ("100 ft", "placenta pit", {}),  # any source not listed
    ("100 ft", "sharps pit", {}),  # any source not listed
    ("50 ft", "vault latrine", {}),
    ("50 ft", "septic tank", {}),
]


@pytest.mark.parametrize(("printed", "kind", "known"), TABLE_1)
def test_every_row_is_as_printed(printed, kind, known):
    """From a well to each source of contamination."""
    assert printed == cell(PACK, kind, "well", **known)
