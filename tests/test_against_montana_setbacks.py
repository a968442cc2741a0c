"""Montana, setback distances, Table 1, as printed, in feet.

Source: rule version 29135, ShowRuleVersionFile.asp?RVID=29135 (seen at a mirror; rule number from memory).
"""

import pytest
from printed import cell

PACK = "montana-setbacks"

TABLE_1 = [
    # receptor, sealed components, absorption systems
    ("well", {"feature__public": True}, 100, 100),
    ("well", {}, 100, 100),
    ("well", {"feature__public": False}, 50, 100),
    ("spring", {"feature__public": True}, 100, 100),
    ("spring", {"feature__public": False}, 50, 100),
    ("water pipe", {"feature__suction": True}, 50, 100),
    ("water pipe", {"feature__suction": False}, 10, 10),
    ("water tank", {}, 25, 50),
    ("cut", {}, 10, 25),
    ("boundary", {}, 10, 10),
    ("field drain", {}, 10, 10),
    ("drain field", {}, 10, None),
    ("store", {}, 10, 10),
    ("lake", {}, 50, 100),
]


def _ft(number):
    return None if number is None else f"{number} ft"


@pytest.mark.parametrize(("feature", "known", "sealed", "absorption"), TABLE_1)
def test_every_cell_is_as_printed(feature, known, sealed, absorption):
    """Tanks and sealed privies in one column, fields, seepage pits and unsealed privies in the other."""
    assert {_ft(sealed)} == {cell(PACK, k, feature, **known) for k in ("septic tank", "holding tank", "vault latrine")}
    assert {_ft(absorption)} == {
        cell(PACK, k, feature, **known) for k in ("drain field", "soakaway", "seepage pit", "pit latrine")
    }


@pytest.mark.parametrize(
    ("printed", "kind", "opening_m"),
    [
        ("100 ft", "pit latrine", None),
        ("100 ft", "drain field", 5.0),
        ("10 ft", "vault latrine", None),
        ("10 ft", "vault latrine", 0.6),
        (None, "vault latrine", 0.6096),
        ("10 ft", "holding tank", None),
        (None, "septic tank", None),
    ],
)
def test_floodplain(printed, kind, opening_m):
    """10 ft outside it, or the opening at least 2 ft (0.6096 m) above the flood level; absorption 100 ft."""
    assert printed == cell(PACK, kind, "flood-prone land", installation__opening_above_flood_m=opening_m)
