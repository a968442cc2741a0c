"""A setting-out sheet of a sample, worked with pencil, square roots and one table of tangents.

The place is chosen for its numbers: (118, 76) on the plan of sample_sites/kessa-hill/NOTES.md, long side to the north.
All values are own, derived in the docstrings; the coordinates they start from stand in that file.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from siting.cli.chosen import chosen
from siting.outputs.setout import Card
from siting.setting_out.card import set_out
from siting.setting_out.points import tie_points

SITE = Path(__file__).parents[1] / "sample_sites/kessa-hill"
PLACE = (118.0, 76.0)
CORNER = (106.0, 70.0)
"The Delivery room's south-east corner."
S1, S2 = "Delivery room, south-east corner", "Isolation ward, south-west corner"
MILLIMETRE, WRITTEN_M = 0.001, 0.005
"Worked to the millimetre; the plan's own coordinates are written to some millimetres of longitude and latitude."
HUNDREDTH_DEG = 0.01
CENTIMETRE_DEG = 1e-7


@pytest.fixture(scope="module")
def card():
    """The card of the place."""
    found = chosen(SITE, letter="A", kind=None, packs=(), assume_crs=None)
    points = {p.name: p for p in tie_points(found.question.site, found.question.words, home=found.question.home)}
    x, y = (points[S1].xy[k] + PLACE[k] - CORNER[k] for k in (0, 1))
    out = set_out(
        found.question, found.finding.demands, x_m=x, y_m=y, orientation_deg=0.0, stations=(points[S1], points[S2])
    )
    candidate = replace(found.placed.candidate, x_m=x, y_m=y, orientation_deg=0.0)
    return Card(assessment=found.assessment, placed=replace(found.placed, candidate=candidate), out=out)


@pytest.fixture(scope="module")
def pegs(card):
    """Pegs by name, from the pit's centre."""
    centre = card.out.pegs[0]
    return {p.name: (p.x_m - centre.x_m, p.y_m - centre.y_m) for p in card.out.pegs}


@pytest.mark.parametrize(
    ("peg", "east_m", "north_m"),
    [("R1", 0.0, 0.730), ("R2", 0.730, 0.0), ("E1", 1.5, 2.0), ("E3", -1.5, -2.0), ("O1", 2.679, 3.573)],
)
def test_pegs_stand_where_the_hand_puts_them(peg, east_m, north_m, pegs):
    """Rim: half of 1.00 m and two walls of 0.23 m. Corners: half of 3 m and of 4 m.

    Offset peg: on the line through the corner, (0.6, 0.8) t from the centre, 0.6 m from the corner (2.5, 3.0) of the
    working strip: t^2 - 7.8 t + 14.89 = 0, t = (7.8 + sqrt(1.28)) / 2 = 4.4657, so (2.679, 3.573).
    """
    assert pytest.approx(east_m, abs=MILLIMETRE) == pegs[peg][0]
    assert pytest.approx(north_m, abs=MILLIMETRE) == pegs[peg][1]


@pytest.mark.parametrize(
    ("start", "end", "length_m"),
    [("E1", "E3", 5.0), ("R1", "R2", 1.032), ("O1", "O3", 8.931), ("O1", "O2", 7.145), ("O1", "E1", 1.966)],
)
def test_lengths_come_out_as_by_hand(start, end, length_m, card):
    """3-4-5 over the enclosure; 0.73 sqrt 2; 2 t; 1.6 t; t less 2.5, with t = 4.4657."""
    lengths = {(c.start, c.end): c.length_m for c in card.out.checks}

    assert pytest.approx(length_m, abs=MILLIMETRE) == lengths[start, end]


def test_the_corner_is_squared_by_three_four_and_five(card):
    """The whole enclosure is one such triangle: 3 m, 4 m and 5 m across."""
    assert (3.0, 4.0, 5.0) == (card.out.squares[0].one_m, card.out.squares[0].other_m, card.out.squares[0].across_m)


@pytest.mark.parametrize(
    ("station", "distance_m", "bearing_deg", "turned_deg", "along_slope_m"),
    [(S1, 13.416, 63.43, 40.24, 13.422), (S2, 10.0, 143.13, 299.93, 10.0)],
)
def test_stations_see_the_centre_as_by_hand(station, distance_m, bearing_deg, turned_deg, along_slope_m, card):
    """From (106, 70): (12, 6), sqrt 180, arctan 2; from (112, 84): (6, -8), 10, 180 - arctan 0.75.

    One station bears from the other arctan (6 / 14) = 23.20 degrees, 203.20 back: 63.43 - 23.20, 143.13 - 203.20.
    The ground rises 0.024 a metre east and 0.018 north: 0.396 m over the first, 0.144 - 0.144 = 0 over the second.
    """
    ray = next(r for r in card.out.rays if r.station == station and r.peg == "P")

    assert pytest.approx(distance_m, abs=WRITTEN_M) == ray.distance_m
    assert pytest.approx(bearing_deg, abs=HUNDREDTH_DEG * 2) == ray.bearing_deg
    assert pytest.approx(turned_deg, abs=HUNDREDTH_DEG * 2) == ray.turned_deg
    assert pytest.approx(along_slope_m, abs=WRITTEN_M) == ray.along_slope_m


def test_longitude_and_latitude_are_those_of_the_plan(card):
    """37.53 + 118 / 108797.2 = 37.5310846; -12.26 + 76 / 110624.4 = -12.2593130, with the notes' metres a degree."""
    lon, lat = card.lonlat[0]

    assert pytest.approx(37.5310846, abs=CENTIMETRE_DEG) == lon
    assert pytest.approx(-12.2593130, abs=CENTIMETRE_DEG) == lat


def test_tapes_meet_well_and_agree_with_the_plan(card):
    """Tapes of the centre are roots of two squared steps on the plan; two at least meet at 30 to 150 degrees."""
    corners = {
        S1: (12.0, 6.0), S2: (6.0, -8.0), "Isolation ward, south-east corner": (-10.0, -8.0),
        "Delivery room, north-east corner": (12.0, -2.0), "Isolation ward, north-west corner": (6.0, -16.0),
    }  # fmt: skip
    ties = card.out.ties[0]

    assert 3 == len(ties.ties)
    for tie in ties.ties:
        east, north = corners[tie.point.name]
        assert pytest.approx((east**2 + north**2) ** 0.5, abs=WRITTEN_M) == tie.distance_m
    assert any(30.0 <= angle <= 150.0 for angle in ties.angles_deg)
