"""The default pack against the documents it was compiled from, each number beside its source and mark.

Analogues are named in the pack's own rows; here only the numbers are held to what was read.
"""

import pytest
from printed import cell, sides

from siting.io.packs import load
from siting.rules import Measure

PACK = "health-care-waste"

MUST = [
    # WHO/UNICEF 2014, answer on latrines (seen): 30 m from any groundwater source, 1.5 m above the water table
    ("30 m", "placenta pit", "well", {}),
    ("30 m", "burial pit", "borehole", {}),
    ("30 m", "pit latrine", "spring", {}),
    ("30 m", "sharps pit", "well", {"installation__sealed": False}),
    ("1.5 m", "pit latrine", "", {"measure": "above water table"}),
    # HEAT session 23, Ethiopia (seen): 1.5 m above the groundwater table; a placenta pit at least 1 m deep
    ("1.5 m", "placenta pit", "", {"measure": "above water table"}),
    ("1.5 m", "ash pit", "", {"measure": "above water table", "installation__sealed": False}),
    ("1 m", "placenta pit", "", {"measure": "depth"}),
    # HEAT latrine siting session (seen): not nearer than 6 m to a house
    ("6 m", "pit latrine", "dwelling", {}),
    # Environment Agency, withdrawn page (seen): watercourse 30 m, field drain or dry ditch 10 m
    ("30 m", "placenta pit", "river", {}),
    ("10 m", "placenta pit", "field drain", {}),
    # MSF cholera, technical sheet 14 (seen): 5 m from all other facilities
    ("5 m", "placenta pit", "store", {}),
    # Connecticut 22-324a-2 (seen): human habitation 50 ft, lot line 10 ft
    ("50 ft", "placenta pit", "ward", {}),
    ("50 ft", "placenta pit", "dwelling", {}),
    ("10 ft", "placenta pit", "boundary", {}),
    # 20 CFR 654.411(h) (seen): privy 50 ft from any place where food is prepared or served
    ("50 ft", "placenta pit", "kitchen", {}),
    ("50 ft", "vault latrine", "dining area", {}),
    # Ontario Table 8.2.1.5 (seen): vault 15 / 10 / 3 m, earth pit privy to surface water 15 m, greywater 15 / 15 / 3 m
    ("15 m", "sharps pit", "well", {}),
    ("15 m", "ash pit", "spring", {}),
    ("10 m", "sharps pit", "stream", {}),
    ("3 m", "ash pit", "boundary", {}),
    ("15 m", "vault latrine", "well", {}),
    ("10 m", "vault latrine", "lake", {}),
    ("15 m", "pit latrine", "lake", {}),
    ("3 m", "pit latrine", "boundary", {}),
    ("15 m", "greywater soakaway", "well", {}),
    ("15 m", "greywater soakaway", "river", {}),
    ("3 m", "greywater soakaway", "boundary", {}),
    # Small incinerator chapter (seen): ash pit above the maximum water level, 30 m from occupied buildings
    ("> 0 m", "ash pit", "", {"measure": "above water table"}),
    ("30 m", "incinerator", "ward", {}),
    # Solid waste compendium U.8 (seen): 15 m from dwellings and water, 1.5 m above the highest groundwater
    ("15 m", "refuse pit", "well", {}),
    ("15 m", "refuse pit", "stream", {}),
    ("15 m", "refuse pit", "dwelling", {}),
    ("1.5 m", "refuse pit", "", {"measure": "above water table"}),
    # New York Appendix 5-B Table 1 (seen): septic tank 50 ft, seepage pit 150 ft, cesspool 200 ft
    ("50 ft", "septic tank", "well", {}),
    ("150 ft", "seepage pit", "borehole", {}),
    ("200 ft", "cesspool", "well", {}),
    # Montana Table 1 (seen at a mirror): sealed 50 / 10 / 10 / 10 ft, absorption 100 / 100 / 10 / 10 / 25 ft
    ("50 ft", "septic tank", "river", {}),
    ("10 ft", "holding tank", "store", {}),
    ("10 ft", "septic tank", "boundary", {}),
    ("10 ft", "septic tank", "water pipe", {}),
    ("100 ft", "drain field", "spring", {}),
    ("100 ft", "soakaway", "lake", {}),
    ("10 ft", "soakaway", "ward", {}),
    ("25 ft", "soakaway", "cut", {}),
    ("10 ft", "placenta pit", "water pipe", {}),
    # Emergency sanitation compendium, indicator 2.1 (seen): 1.5 m above the water table
    ("1.5 m", "soakaway", "", {"measure": "above water table"}),
    # Loudoun County 1066 (seen): sinkhole, cave 100 ft
    ("100 ft", "placenta pit", "sinkhole", {}),
    # India, rules of 1998 (seen): not prone to flooding or erosion
    ("> 0 m", "placenta pit", "flood-prone land", {}),
    ("> 0 m", "sharps pit", "erosion-prone land", {}),
    # Fire code as adopted by Murray KY (seen): container 15 ft, open fire 50 ft from any structure
    ("15 ft", "incinerator", "store", {}),
    ("50 ft", "burning place", "store", {}),
]

SHOULD = [
    # Hesperian 2012, pp. 438-439 (seen): 50 m from water and buildings
    ("50 m", "placenta pit", "well", {}),
    ("50 m", "burial pit", "river", {}),
    ("50 m", "burial pit", "store", {}),
    # NetRegs (seen): 10 degrees or more rejected
    ("< 10 deg", "placenta pit", "", {"measure": "slope"}),
    # MSF sheet 14 (seen): 5 m from all other facilities
    ("5 m", "sharps pit", "ward", {}),
    ("5 m", "placenta pit", "waiting area", {}),
    # Field sanitation text (seen, second hand): food waste 30 m from food preparation and the water source
    ("30 m", "refuse pit", "kitchen", {}),
    ("30 m", "refuse pit", "well", {}),
    # 20 CFR 654.411(h) (seen): privy 50 ft from any living unit
    ("50 ft", "pit latrine", "dwelling", {}),
    # Approved Document H (seen, second hand): tank 7 m from habitable parts, field 15 m from any building
    ("7 m", "septic tank", "ward", {}),
    ("15 m", "drain field", "store", {}),
    # Minnesota 4725.4450 (seen): soil dispersal of a facility with infectious wastes 150 ft
    ("150 ft", "soakaway", "well", {}),
    # Montana Table 1 (seen at a mirror): absorption to cistern 50 ft
    ("50 ft", "placenta pit", "water tank", {}),
    (None, "placenta pit", "water tank", {"feature__above_ground": True}),
    # Clark County Table IV (seen): other dispersal component 10 ft
    ("10 ft", "placenta pit", "pit latrine", {}),
    # Small incinerator chapter (seen): crops 300 m downwind
    ("300 m", "incinerator", "crops", {"side": "upwind"}),
    (None, "incinerator", "crops", {"side": "downwind"}),
    # Project judgement
    ("5 m", "incinerator", "path", {}),
]


@pytest.mark.parametrize(("printed", "kind", "feature", "about"), MUST)
def test_what_must_hold_is_what_was_read(printed, kind, feature, about):
    """The governing must of each pair is the number of its document."""
    assert printed == cell(PACK, kind, feature, strength="must", **about)


@pytest.mark.parametrize(("printed", "kind", "feature", "about"), SHOULD)
def test_what_should_hold_is_what_was_read(printed, kind, feature, about):
    """The governing should of each pair is the number of its document."""
    assert printed == cell(PACK, kind, feature, strength="should", **about)


def test_sides():
    """Hesperian (seen): downhill from a well; small incinerator chapter (seen): smoke blows away."""
    found = (sides(PACK, "placenta pit", "well"), sides(PACK, "incinerator", "ward"))

    assert ({"never up-slope"}, {"never upwind"}) == found


def test_a_must_on_water_never_exceeds_what_a_compound_can_hold():
    """No must of a dry pit asks for more than 30 m: a longer one leaves no place on 100 m by 80 m."""
    longest_m = max(
        rule.limits[0].constant
        for kind in ("placenta pit", "sharps pit", "ash pit", "pit latrine")
        for rule in load(PACK).for_kind(kind)
        if rule.measure is Measure.DISTANCE and rule.strength == "must" and "sinkhole" not in rule.from_kinds
    )

    assert 30.0 == longest_m
