"""Ireland: percolation areas, wells and the thickness of soil.

Sources: a note of the Geological Survey quoted at https://www.askaboutmoney.com/threads/
drilling-water-well-on-my-1-2-acre-site-distance-from-well-to-septic-tank-perc-area.139143/latest (seen, second hand);
http://www.gsi.ie/Programmes/Groundwater/Projects/One+off+Housing+Wastewater+Summary.htm (seen);
https://sepcon.ie/septic-tank-and-percolation-distance-from-boundary/ (seen, second hand).
"""

import pytest
from printed import cell, requirement

PACK = "ireland-percolation"


@pytest.mark.parametrize(
    ("thickness_m", "distance_m"),
    [(1.2, 40), (3.0, 30), (5.0, 30), (2.1, 35)],  # the last is the middle of the straight line, reckoned by us
)
def test_distance_to_a_domestic_well_follows_the_soil(thickness_m, distance_m):
    """40 m where silty sandy clay is 1.2 m thick, 30 m where it is 3.0 m thick, in proportion between."""
    assert f"{distance_m} m" == cell(PACK, "drain field", "well", site__soil_thickness_m=thickness_m)


def test_thinner_soil_has_no_distance():
    """Below 1.2 m the note gives none, so the thickness itself is asked for."""
    answers = [requirement(PACK, "drain field", "soil-thickness", site__soil_thickness_m=t) for t in (1.19, 1.2)]

    assert [False, True] == answers


@pytest.mark.parametrize(("treatment", "printed"), [("primary", "2 m"), ("secondary", "1.2 m"), (None, "2 m")])
def test_unsaturated_soil_below_the_trench(treatment, printed):
    """2 m for septic tank effluent, 1.2 m for treated effluent; unknown treatment counts as none."""
    assert printed == cell(PACK, "drain field", measure="above water table", installation__treatment=treatment)


@pytest.mark.parametrize("kind", ["septic tank", "drain field"])
def test_road_and_boundary(kind):
    """Tank or percolation area: 4 m from a road, 3 m from a boundary."""
    printed = ("4 m", "3 m")

    assert printed == (cell(PACK, kind, "road"), cell(PACK, kind, "boundary"))
