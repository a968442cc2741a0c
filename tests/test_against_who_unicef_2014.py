"""WHO and UNICEF 2014, pit latrines at a health facility.

Source: https://knowledgepoint.org/en/questions/2020/what-kind-of-sanitation-facilities-should-be-provided-
in-health-facilities-treating-ebola-cases/ (seen).
"""

import pytest
from printed import cell

PACK = "who-unicef-2014-latrine"


@pytest.mark.parametrize("feature", ["well", "borehole", "spring"])
def test_thirty_metres_from_any_groundwater_source(feature):
    """At least 30 metres horizontally from any groundwater source."""
    printed = "30 m"

    assert printed == cell(PACK, "pit latrine", feature)


def test_pit_bottom_above_water():
    """1.5 metres between the bottom of the pit and the groundwater table."""
    printed = "1.5 m"

    assert printed == cell(PACK, "pit latrine", measure="above water table")
