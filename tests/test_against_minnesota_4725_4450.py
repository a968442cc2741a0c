"""Minnesota Rules 4725.4450, isolation distances of wells, as printed.

Source: https://casetext.com/regulation/minnesota-administrative-rules/agency-144-health-department/
chapter-4725-wells-and-borings/water-supply-wells/part-47254450-water-supply-well-distances-from-contamination (seen).
"""

import pytest
from printed import cell, sides

PACK = "minnesota-4725-4450"

TABLE = [
    # ordinary, sensitive well
    ("50 ft", "100 ft", {"installation__pathological": False, "installation__flow_gal_per_day": 10000}),
    ("150 ft", "300 ft", {"installation__pathological": True, "installation__flow_gal_per_day": 10000}),
    ("300 ft", "600 ft", {"installation__pathological": False, "installation__flow_gal_per_day": 10001}),
]
"Soil dispersal: up to 10,000 gal a day, with infectious or pathological wastes, more than 10,000 gal a day."


@pytest.mark.parametrize(("ordinary", "sensitive", "known"), TABLE)
def test_every_cell_is_as_printed(ordinary, sensitive, known):
    """The distance follows what is dispersed, and doubles at a sensitive well."""
    assert ordinary == cell(PACK, "drain field", "well", feature__sensitive=False, **known)
    assert sensitive == cell(PACK, "drain field", "well", feature__sensitive=True, **known)


@pytest.mark.parametrize("sensitive", [True, False, None])
def test_a_septic_tank_is_not_doubled(sensitive):
    """A watertight tank keeps 50 ft, whatever the well."""
    printed = "50 ft"

    assert printed == cell(PACK, "septic tank", "well", feature__sensitive=sensitive)


def test_what_nobody_recorded_takes_the_stricter_cell():
    """At a health facility, with a well of unknown casing, 300 ft govern."""
    printed = "300 ft"

    assert printed == cell(PACK, "soakaway", "borehole", installation__flow_gal_per_day=500)


def test_a_well_is_not_down_slope_nor_down_gradient_of_a_source():
    """Seen from the well, the source lies neither up-slope nor up-gradient."""
    both = {"never up-slope", "never up-gradient"}

    assert both == sides(PACK, "drain field", "well")
