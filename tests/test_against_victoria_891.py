"""EPA Victoria Code of Practice 891, setback distances, as printed.

Source: Pyrenees Shire (seen),
https://www.pyrenees.vic.gov.au/Residents/Wastewater-and-Septic-Tanks/Wastewater-system-setback-distances .
"""

import pytest
from printed import cell

PACK = "victoria-891"
TREATMENTS = ("primary", "secondary", "advanced secondary")

TABLE = [
    ("lake", "up-slope", {"feature__potable": True}, (300, 300, 150)),
    ("reservoir", "up-slope", {"feature__potable": True}, (300, 300, 150)),
    ("river", "", {"feature__potable": True}, (100, 100, 50)),
    ("stream", "", {"feature__potable": False}, (60, 30, 30)),
    ("wetland", "", {}, (60, 30, 30)),
    ("pond", "up-slope", {"feature__potable": False}, (60, 30, 30)),
    ("ward", "up-slope", {}, (6, 3, 3)),
    ("ward", "down-slope", {}, (3, 1.5, 1.5)),
    ("cut", "up-slope", {}, (15, 15, 15)),
    ("boundary", "up-slope", {}, (6, 3, 1)),
    ("boundary", "down-slope", {}, (3, 1.5, 0.5)),
    ("water pipe", "", {}, (3, 1.5, 1.5)),
    ("canal", "up-slope", {"feature__potable": True}, (300, 150, 150)),
    ("canal", "down-slope", {"feature__potable": True}, (20, 10, 10)),
    ("canal", "up-slope", {"feature__potable": False}, (60, 30, 30)),
    ("lake", "down-slope", {"feature__potable": True}, (60, 30, 30)),
    ("gas pipe", "", {}, (3, 1.5, 1.5)),
]
"Receptor, where the field lies, metres for primary, secondary and advanced secondary effluent."


@pytest.mark.parametrize(("feature", "side", "known", "printed"), TABLE)
def test_every_cell_is_as_printed(feature, side, known, printed):
    """The three columns of each row."""
    found = tuple(
        cell(PACK, "drain field", feature, side=side, installation__treatment=treatment, **known)
        for treatment in TREATMENTS
    )

    assert tuple(f"{metres:g} m" for metres in printed) == found


@pytest.mark.parametrize(("feature", "side", "known", "printed"), TABLE)
def test_an_unrecorded_treatment_takes_the_primary_column(feature, side, known, printed):
    """The primary column is the longest of the three."""
    assert f"{printed[0]:g} m" == cell(PACK, "drain field", feature, side=side, **known)


def test_a_cut_above_the_field_asks_nothing():
    """The row is for a field up-slope of the cutting."""
    found = cell(PACK, "drain field", "cut", side="down-slope")

    assert found is None


def test_in_ground_water_tank():
    """15 m from a tank in the ground; one above the ground asks nothing."""
    printed = ("15 m", "15 m", None)

    assert printed == tuple(
        cell(PACK, "drain field", "water tank", feature__above_ground=a) for a in (False, None, True)
    )
