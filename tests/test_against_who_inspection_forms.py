"""WHO sanitary inspection forms: where a well or spring scores a risk.

Source: Guidelines for drinking-water quality, volume 3 (1997), annex 2, as restated word for word in two public
survey files (seen, second hand); the forms themselves were not read.
"""

import pytest
from printed import cell, sides

from siting.io.packs import load

PACK = "who-inspection-forms"

HANDPUMP, MECHANISED = {"feature__mechanised": False}, {"feature__mechanised": True}
FORMS = [
    ("> 10 m", "pit latrine", "well", HANDPUMP),
    ("> 10 m", "pit latrine", "borehole", HANDPUMP),
    ("> 100 m", "pit latrine", "borehole", MECHANISED),
    ("> 10 m", "refuse pit", "borehole", HANDPUMP),
    ("> 50 m", "refuse pit", "borehole", MECHANISED),
    ("> 100 m", "septic tank", "borehole", MECHANISED),
    ("> 30 m", "pit latrine", "spring", {}),
]


@pytest.mark.parametrize(("printed", "kind", "feature", "known"), FORMS)
def test_every_question_is_as_restated(printed, kind, feature, known):
    """Within so many metres raises the flag, so only more than that clears it."""
    assert printed == cell(PACK, kind, feature, **known)


@pytest.mark.parametrize("feature", ["well", "borehole", "spring"])
def test_uphill_raises_the_flag_at_any_distance(feature):
    """A latrine uphill of a source is a risk however far."""
    never = {"never up-slope"}

    assert never == sides(PACK, "pit latrine", feature)


def test_nothing_in_the_forms_is_a_permitted_distance():
    """Every row is a flag, and none decides."""
    kinds_of_row = {(rule.flag, str(rule.strength)) for rule in load(PACK).rules}

    assert {(True, "should")} == kinds_of_row
