"""Setting out held to worked examples of surveying texts."""

import math

import pytest

from siting.errors import InputError
from siting.setting_out.lines import corner_deg, polar
from siting.setting_out.pegs import Peg, checks
from siting.setting_out.traverse import Leg, closed_traverse

TENTH_MM = 1e-4
HUNDREDTH_OF_A_SECOND_DEG = 1e-5
PRINTED_FT = 0.02
"Purdue rounds latitudes and departures to two decimals before it adds them."
PRINTED_MAHUN = 1e-3


def deg(degrees, minutes, seconds=0.0):
    """Degrees from degrees, minutes and seconds."""
    return degrees + minutes / 60.0 + seconds / 3600.0


STATION = (110.383, 81.334)
CORNERS = {
    "A": ((117.984, 92.849), 13.7975, deg(33, 25, 43.0)),
    "B": ((82.629, 128.204), 54.4709, deg(329, 22, 5.4)),
    "C": ((33.132, 78.707), 77.2957, deg(268, 3, 8.4)),
    "D": ((68.487, 43.352), 56.5500, deg(227, 48, 18.8)),
}
"""Textbook exercise: the four corners of a building from one station (coordinates seen, askfilo.com, "The four
corners A, B, C and D of a rectangular building"); distances and bearings recomputed, since the page's own slip."""


@pytest.mark.parametrize("corner", CORNERS)
def test_polar_setting_out_of_a_rectangle(corner):
    """Distance and bearing of each corner."""
    place, distance_m, bearing = CORNERS[corner]

    found = polar(STATION, place)

    assert distance_m == pytest.approx(found[0], abs=TENTH_MM)
    assert bearing == pytest.approx(found[1], abs=2 * HUNDREDTH_OF_A_SECOND_DEG)


def test_checks_of_the_same_rectangle():
    """Sides 49.9995 and 69.9993 m (nominal 50 x 70), both diagonals 86.0224 m (recomputed from the same page)."""
    pegs = [
        Peg(name=f"{letter}{k}", part="corner", x_m=x, y_m=y)
        for letter in "REO"
        for k, ((x, y), _, _) in enumerate(CORNERS.values(), 1)
    ]

    lengths = {(c.start, c.end): c.length_m for c in checks(pegs)}

    assert 49.9995 == pytest.approx(lengths["E1", "E2"], abs=TENTH_MM)
    assert 69.9993 == pytest.approx(lengths["E2", "E3"], abs=TENTH_MM)
    assert 86.0224 == pytest.approx(lengths["E1", "E3"], abs=TENTH_MM)
    assert 86.0224 == pytest.approx(lengths["E2", "E4"], abs=TENTH_MM)


def test_rectangular_to_polar():
    """P (1341.50, 937.77) to Q (850.04, 1127.37): inputs seen (scribd.com/doc/47890622, Coordinates), recomputed."""
    there = polar((1341.50, 937.77), (850.04, 1127.37))
    back = polar((850.04, 1127.37), (1341.50, 937.77))

    assert 526.7647 == pytest.approx(there[0], abs=TENTH_MM)
    assert deg(291, 5, 45.9) == pytest.approx(there[1], abs=2 * HUNDREDTH_OF_A_SECOND_DEG)
    assert 111.09608 == pytest.approx(back[1], abs=HUNDREDTH_OF_A_SECOND_DEG)


PURDUE = (
    Leg(bearing_deg=deg(26, 10), distance_m=285.10),
    Leg(bearing_deg=180 - deg(75, 25), distance_m=610.45),
    Leg(bearing_deg=180 + deg(15, 30), distance_m=720.48),
    Leg(bearing_deg=360 - deg(1, 42), distance_m=203.00),
    Leg(bearing_deg=360 - deg(53, 6), distance_m=647.02),
)
"Purdue University, ASM 215, Traverse calculations, engineering.purdue.edu/~asm215/topics/travcalc.html (seen; feet)."
PURDUE_BALANCED = [
    (10000.00, 10000.00),
    (10125.66, 10255.96),
    (10716.31, 10102.44),
    (10523.62, 9408.37),
    (10517.55, 9611.34),
    (10000.00, 10000.00),
]
"East, north."


def test_a_closed_traverse_by_the_compass_rule():
    """Misclosure, perimeter and balanced coordinates as printed; lengths in feet."""
    traverse = closed_traverse(PURDUE, start=(10000.0, 10000.0))

    assert -0.71 == pytest.approx(traverse.misclosure_north_m, abs=PRINTED_FT)
    assert 0.53 == pytest.approx(traverse.misclosure_east_m, abs=PRINTED_FT)
    assert 2466.05 == pytest.approx(traverse.length_m)
    assert 2771 == pytest.approx(traverse.one_in, rel=0.01)
    for printed, found in zip(PURDUE_BALANCED, traverse.points, strict=True):
        assert printed == pytest.approx(found, abs=PRINTED_FT)


MAHUN = (
    Leg(bearing_deg=180 + deg(68, 5, 35), distance_m=472.68),
    Leg(bearing_deg=360 - deg(19, 46, 0), distance_m=216.13),
    Leg(bearing_deg=deg(45, 55, 20), distance_m=276.52),
    Leg(bearing_deg=180 - deg(54, 59, 15), distance_m=382.24),
)
"J. Mahun, open-access surveying, Traverse computations, chapter I, jerrymahun.com (seen)."
MAHUN_LATITUDES = (-176.357, 203.395, 192.357, -219.312)
MAHUN_DEPARTURES = (-438.548, -73.093, 198.651, 313.065)


def test_latitudes_and_departures_of_a_second_text():
    """Sums +0.083 and +0.075 as printed, perimeter 1347.57; each leg adjusted by its share of the length."""
    traverse = closed_traverse(MAHUN)

    assert 0.083 == pytest.approx(traverse.misclosure_north_m, abs=PRINTED_MAHUN)
    assert 0.075 == pytest.approx(traverse.misclosure_east_m, abs=PRINTED_MAHUN)
    assert 1347.57 == pytest.approx(traverse.length_m)
    for k, leg in enumerate(MAHUN):
        share = leg.distance_m / 1347.57
        (x1, y1), (x2, y2) = traverse.points[k], traverse.points[k + 1]
        assert MAHUN_DEPARTURES[k] - 0.0745 * share == pytest.approx(x2 - x1, abs=PRINTED_MAHUN)
        assert MAHUN_LATITUDES[k] - 0.083 * share == pytest.approx(y2 - y1, abs=PRINTED_MAHUN)


def test_a_traverse_onto_another_known_point():
    """Two legs that miss the point by (0.3, -0.1), a third of the way along: a third of it is taken off there."""
    legs = (Leg(bearing_deg=90, distance_m=100), Leg(bearing_deg=90, distance_m=200))

    traverse = closed_traverse(legs, end=(299.7, 0.1))

    assert (99.9, 0.1 / 3) == pytest.approx(traverse.points[1])
    assert (299.7, 0.1) == pytest.approx(traverse.points[2])
    assert math.hypot(0.3, 0.1) == pytest.approx(traverse.misclosure_m)


def test_a_traverse_of_one_leg_or_of_no_length_is_refused():
    """Neither can close."""
    with pytest.raises(InputError) as one:
        closed_traverse((Leg(bearing_deg=0, distance_m=5),))
    with pytest.raises(InputError) as flat:
        closed_traverse((Leg(bearing_deg=0, distance_m=5), Leg(bearing_deg=180, distance_m=0)))

    assert "a traverse of 1 legs" == one.value.faults[0].found
    assert "distance_m of leg 2 is 0" == flat.value.faults[0].found


def test_three_four_five():
    """FAO, Irrigation Water Management Training Manual 2 (1985), ch. 4 (contents seen): a right angle."""
    assert 90.0 == corner_deg(3.0, 4.0, 5.0)


def test_a_hypotenuse_read_a_centimetre_long():
    """5.01 for 5.00 m: 90.23897 degrees (own, cosine rule)."""
    assert 90.23897 == pytest.approx(corner_deg(3.0, 4.0, 5.01), abs=HUNDREDTH_OF_A_SECOND_DEG)


@pytest.mark.parametrize(
    ("slid_m", "difference_m", "off_deg"),
    [(0.01, 0.016641, 0.28648), (0.02, 0.033282, 0.57294), (0.05, 0.083203, 1.43210)],
)
def test_diagonals_of_a_pit_pushed_out_of_square(slid_m, difference_m, off_deg):
    """3 x 2 m with its far side slid along: difference of the diagonals and angle error (own, exact)."""
    one, other = math.hypot(3.0 + slid_m, 2.0), math.hypot(3.0 - slid_m, 2.0)

    assert difference_m == pytest.approx(one - other, abs=1e-6)
    assert off_deg == pytest.approx(corner_deg(3.0, math.hypot(slid_m, 2.0), one) - 90.0, abs=1e-5)


def test_lengths_that_close_no_triangle_are_refused():
    """3 and 4 m with 8 m across."""
    with pytest.raises(InputError) as caught:
        corner_deg(3.0, 4.0, 8.0)

    assert "lengths of 3, 4 and 8 m" == caught.value.faults[0].found


@pytest.mark.parametrize(("sides", "diagonal"), [((3, 2), 3.605551), ((2, 1.5), 2.5), ((5, 2), 5.385165)])
def test_diagonals_of_pits(sides, diagonal):
    """Diagonals of 3 x 2, 2 x 1.5 and 5 x 2 m (own)."""
    assert 90.0 == pytest.approx(corner_deg(*sides, diagonal), abs=1e-4)
