"""Ramsey (Minnesota), seepage pits, as printed, in feet.

Source: https://weblink.cityoframsey.com/WebLink/0/doc/25902/Page222.aspx (seen).
"""

import pytest
from printed import cell, requirement

PACK = "ramsey-seepage-pits"
SHALLOW = {"feature__depth_m": 15.0, "feature__impervious_layer_m": 3.0}

TABLE = [
    ("150 ft", "well", SHALLOW),
    ("150 ft", "well", {}),
    ("75 ft", "well", SHALLOW | {"feature__depth_m": 15.24}),
    ("75 ft", "well", SHALLOW | {"feature__impervious_layer_m": 3.048}),
    ("75 ft", "water pipe", {"feature__suction": True}),
    ("10 ft", "water pipe", {"feature__suction": False}),
    ("20 ft", "dwelling", {}),
    ("10 ft", "boundary", {}),
]


@pytest.mark.parametrize(("printed", "feature", "known"), TABLE)
def test_every_cell_is_as_printed(printed, feature, known):
    """Shallow wells 150 ft, others and suction pipes 75 ft, buildings 20 ft, lines and pressure pipes 10 ft."""
    assert printed == cell(PACK, "seepage pit", feature, **known)


@pytest.mark.parametrize(("own_m", "other_m", "printed"), [(1.5, 2.0, "6 m"), (2.0, 1.5, "6 m"), (1.5, 1.5, "4.5 m")])
def test_pit_to_pit(own_m, other_m, printed):
    """3 x the diameter of the larger pit, edge to edge (the arithmetic is ours)."""
    known = {"installation__pit_diameter_m": own_m, "feature__pit_diameter_m": other_m}

    assert printed == cell(PACK, "seepage pit", "seepage pit", **known)


def test_inside_diameter_and_soil():
    """An inside diameter of 5 ft (1.524 m) or more, and no soil faster than 0.5 min/in."""
    wide = [requirement(PACK, "seepage pit", "inside-diameter", installation__pit_diameter_m=d) for d in (1.52, 1.524)]
    slow = [requirement(PACK, "seepage pit", "percolation", site__percolation_min_per_in=t) for t in (0.49, 0.5)]

    assert ([False, True], [False, True]) == (wide, slow)
