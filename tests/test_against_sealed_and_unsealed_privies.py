"""Sealed against unsealed privies: five codes, each in its own unit.

Sources (all seen): Ohio OAC 3701-29-15 (2007), http://codes.ohio.gov/oac/3701-29-15;
Whitehall OH 913 (1966), https://codelibrary.amlegal.com/codes/whitehall/latest/whitehall_oh/0-0-0-16243 and -16294;
Quebec Q-2, r. 6, s. 5, http://legisquebec.gouv.qc.ca/en/showversion/cr/q-2,%20r.%206?code=se:5&pointInTime=20210304;
New York 10 NYCRR 127.64 (Manhasset) and 127.61 (Hicksville), casetext.com.
"""

import pytest
from printed import cell, requirement, rules

WELLS = [
    # code, sealed, unsealed, what is known
    ("ohio-3701-29-15", "50 ft", "100 ft", {}),
    ("whitehall-913", "50 ft", "100 ft", {}),
    ("quebec-q2-r6", "15 m", "30 m", {}),
    ("quebec-q2-r6", "15 m", "15 m", {"feature__built_to_higher_standard": True}),
    ("manhasset-127-64", "50 ft", "300 ft", {"feature__public": True}),
    ("manhasset-127-64", "50 ft", "300 ft", {}),
    ("manhasset-127-64", None, None, {"feature__public": False}),
    ("hicksville-127-61", None, "200 ft", {"feature__public": True}),
    ("hicksville-127-61", None, None, {"feature__public": False}),
]


@pytest.mark.parametrize(("code", "sealed", "unsealed", "known"), WELLS)
def test_distance_to_a_well(code, sealed, unsealed, known):
    """A vault latrine takes the shorter figure, a pit latrine the longer one."""
    assert sealed == cell(code, "vault latrine", "well", **known)
    assert unsealed == cell(code, "pit latrine", "well", **known)


@pytest.mark.parametrize("code", ["ohio-3701-29-15", "whitehall-913", "quebec-q2-r6", "manhasset-127-64"])
def test_the_attribute_overrules_the_kind(code):
    """A vault that leaks is unsealed, a lined pit that does not is sealed."""
    leaking = cell(code, "vault latrine", "well", installation__sealed=False)
    lined = cell(code, "pit latrine", "well", installation__sealed=True)

    assert (cell(code, "pit latrine", "well"), cell(code, "vault latrine", "well")) == (leaking, lined)


def test_ohio():
    """Water 4 ft below an unsealed vault; 20 ft from building, lot line and right of way."""
    water = tuple(cell("ohio-3701-29-15", k, measure="above water table") for k in ("pit latrine", "vault latrine"))
    plan = {cell("ohio-3701-29-15", "pit latrine", feature) for feature in ("ward", "boundary", "road")}

    assert (("4 ft", None), {"20 ft"}) == (water, plan)


@pytest.mark.parametrize(
    ("printed", "kind", "feature"),
    [
        ("20 ft", "pit latrine", "dwelling"),
        ("20 ft", "vault latrine", "road"),
        ("5 ft", "pit latrine", "boundary"),
        ("500 ft", "animal burial pit", "road"),
        ("500 ft", "animal burial pit", "well"),
        ("500 ft", "animal burial pit", "dwelling"),
        ("500 ft", "animal burial pit", "stream"),
        ("500 ft", "animal burial pit", "lake"),
    ],
)
def test_whitehall(printed, kind, feature):
    """One town, two facilities: a privy 20 ft from a street, a carcass 500 ft from a road."""
    assert printed == cell("whitehall-913", kind, feature)


@pytest.mark.parametrize(("material", "allowed"), [("limestone", False), ("sandstone", False), ("clay", True)])
def test_whitehall_rock(material, allowed):
    """An unsealed privy does not lead into limestone, sandstone or shale."""
    assert allowed is requirement("whitehall-913", "pit latrine", "unsealed-privy-not-in-rock", site__material=material)


def test_whitehall_asks_nothing_of_the_rock_under_a_sealed_vault():
    """The sentence on rock is about vaults that are not watertight."""
    found = rules("whitehall-913", "vault latrine", measure="attribute")

    assert () == found
