"""Clark County (Washington) 24.17.120, Table IV, as printed, in feet.

Source: https://www.codepublishing.com/WA/ClarkCounty/html/ClarkCounty24/ClarkCounty2417/ClarkCounty2417120.html (seen).
"""

import pytest
from printed import cell, rules

PACK = "clark-county-iv"

OPEN = {"feature__status": "existing"}
TABLE_IV = [
    # receptor, soil dispersal edge, sewage tank
    ("well", OPEN | {"feature__public": False}, 100, 50),
    ("well", OPEN | {"feature__public": True}, 100, 100),
    ("well", OPEN, 100, 100),
    ("well", {"feature__status": "closed"}, 10, None),
    ("spring", {"feature__public": True}, 200, 200),
    ("spring", {"feature__public": False}, 100, 50),
    ("lake", {}, 100, 50),
    ("sea", {}, 100, 50),
    ("water pipe", {}, 10, 10),
    ("office", {}, 10, 5),
    ("boundary", {}, 5, 5),
    ("field drain", {"side": "up-gradient"}, 30, 5),
    ("field drain", {"side": "down-gradient"}, 10, None),
    ("cut", {"side": "up-gradient", "site__restrictive_layer_depth_m": 1.524}, 25, None),
    ("cut", {"side": "up-gradient", "site__restrictive_layer_depth_m": 1.523}, 50, None),
    ("cut", {"side": "up-gradient"}, 50, None),
    ("cut", {"side": "down-gradient"}, None, None),
    ("soakaway", {}, 10, None),
]


def _ft(number):
    return None if number is None else f"{number} ft"


@pytest.mark.parametrize(("feature", "known", "dispersal", "tank"), TABLE_IV)
def test_every_cell_is_as_printed(feature, known, dispersal, tank):
    """Both columns of each row; what is down-gradient of the field has the field up-gradient of it."""
    assert _ft(dispersal) == cell(PACK, "drain field", feature, **known)
    assert _ft(tank) == cell(PACK, "septic tank", feature, **known)


def test_a_well_in_use_is_not_a_decommissioned_one():
    """Only one row holds for a field and a well in use."""
    found = rules(PACK, "drain field", "well", **OPEN)

    assert ["dispersal-to-well"] == [rule.id for rule in found]
