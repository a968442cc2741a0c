"""MSF medical guidelines, cholera, technical sheet 14, as printed.

Source: https://medicalguidelines.msf.org/es/node/925 (seen).
"""

import pytest
from printed import cell

PACK = "msf-excreta-pit"

SHEET_14 = [
    ("30 m", "well", "distance"),
    ("30 m", "borehole", "distance"),
    ("30 m", "stream", "distance"),
    ("5 m", "ward", "distance"),
    ("5 m", "kitchen", "distance"),
    ("5 m", "septic tank", "distance"),
    ("5 m", "tapstand", "distance"),
    ("1.5 m", "", "above water table"),
    ("0.9 m and <= 1.5 m", "", "depth"),
]


@pytest.mark.parametrize(("printed", "feature", "measure"), SHEET_14)
def test_every_line_is_as_printed(printed, feature, measure):
    """30 m from water, 5 m from all other facilities, 1.5 m above the water table, 0.90 m to 1.50 m deep."""
    assert printed == cell(PACK, "pit latrine", feature, measure=measure)
