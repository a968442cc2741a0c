"""Privies from kitchens and sleeping places: 20 CFR 654.411 and Mississippi rule 15-11-55-4.8.3, in feet.

Sources (seen): https://www.law.cornell.edu/cfr/text/20/654.411;
https://casetext.com/regulation/mississippi-administrative-code/title-15-mississippi-department-of-health/
part-11-bureau-of-child-care-facilities/subpart-55-child-care-facilities-licensure/ (rule 15-11-55-4.8.3).
"""

import pytest
from printed import cell, rules

CFR, MISSISSIPPI = "us-20-cfr-654-411", "mississippi-15-11-55"


@pytest.mark.parametrize("kind", ["pit latrine", "vault latrine"])
@pytest.mark.parametrize(
    ("printed", "code", "feature"),
    [
        ("50 ft", CFR, "kitchen"),
        ("50 ft", CFR, "dining area"),
        ("200 ft", MISSISSIPPI, "kitchen"),
        ("50 ft", MISSISSIPPI, "ward"),
        ("50 ft", MISSISSIPPI, "dwelling"),
        ("100 ft", MISSISSIPPI, "well"),
        ("100 ft", MISSISSIPPI, "stream"),
        ("100 ft", MISSISSIPPI, "lake"),
    ],
)
def test_least_distances(printed, code, feature, kind):
    """From kitchens, sleeping places and water."""
    assert printed == cell(code, kind, feature)


def test_a_toilet_is_neither_too_near_a_living_unit_nor_too_far_from_all():
    """Not closer than 50 ft (h), and within 200 ft (g), both inclusive."""
    found = {
        (limit.relation, limit.as_written) for rule in rules(CFR, "pit latrine", "dwelling") for limit in rule.limits
    }

    assert {("at_least", "50 ft"), ("at_most", "200 ft")} == found
