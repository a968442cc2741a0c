"""France, non-collective sanitation: order of 7 September 2009 (revised 2012) and DTU 64.1, in metres.

Sources (seen): https://www.spanc66.fr/particuliers/regles-de-base/ ,
https://assea.fr/reglementation-assainissement-individuel ,
https://siarnc.fr/pour-un-systeme-efficace-les-clefs-de-la-conception .
"""

import pytest
from printed import cell

PACK = "france-anc"


@pytest.mark.parametrize("kind", ["septic tank", "drain field"])
@pytest.mark.parametrize(
    ("printed", "feature", "strength"),
    [
        ("35 m", "well", "must"),
        ("5 m", "dwelling", "should"),
        ("3 m", "boundary", "should"),
        ("3 m", "tree", "should"),
        ("> 0 m", "parking", "must"),
        ("> 0 m", "crops", "must"),
        (None, "dwelling", "must"),
        (None, "boundary", "must"),
    ],
)
def test_law_and_advice_are_told_apart(printed, feature, strength, kind):
    """Only the 35 m from drinking water and the areas kept free bind; DTU 64.1 advises."""
    assert printed == cell(PACK, kind, feature, strength=strength)


def test_a_well_that_is_not_drunk_from_asks_nothing():
    """The 35 m are those of a drinking-water abstraction."""
    known = cell(PACK, "drain field", "well", feature__potable=False)

    assert known is None
