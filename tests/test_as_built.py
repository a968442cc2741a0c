"""Where things stand, as measured: positions from tapes, rims, corners, and how far they are from the plan."""

import math

import numpy as np
import pytest
from conftest import LIMITS_10, LIMITS_30, WORDS, asked, feature, judged, new, pack, site
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from siting.as_built import misfit
from siting.as_built.built import built_feature
from siting.as_built.circle import fit_circle
from siting.as_built.deviation import deviations, position_tolerance_m, shift, within
from siting.as_built.position import MeasuredTie, from_ties
from siting.as_built.rectangle import fit_rectangle
from siting.errors import InputError
from siting.installation import disc, rectangle, standing
from siting.setting_out.pegs import pegs
from siting.uncertainty import Verdict

ROUNDING_M = 1e-7
"Least squares by steps: settled to less than a micrometre."
POINTS = [(0.0, 0.0), (20.0, 0.0), (10.0, 25.0), (-12.0, 12.0)]
PEG = (9.0, 8.0)


def taped(peg=PEG, points=POINTS, **wrong_m):
    """Lengths from points A, B, ... to a peg, some of them wrong by so much."""
    return [
        MeasuredTie(point=name, x_m=x, y_m=y, distance_m=math.dist((x, y), peg) + wrong_m.get(name, 0.0))
        for name, (x, y) in zip("ABCDEF", points, strict=False)
    ]


@pytest.mark.parametrize("count", [2, 3, 4])
def test_right_lengths_give_the_place_back(count):
    """Whatever the number of lengths, and wherever the search begins on the peg's side."""
    for near in (PEG, (12.0, 4.0), (8.0, 12.0), POINTS[0]):
        found = from_ties("P", taped()[:count], near=near if count > 2 or near[1] > 0 else PEG)
        assert PEG == pytest.approx(found.xy, abs=ROUNDING_M)
        assert found.agrees


def test_two_places_fit_two_lengths_and_the_near_one_is_taken():
    """Across the line from A to B stands the other; the caution says how far."""
    above = from_ties("P", taped()[:2], near=(9, 5))
    below = from_ties("P", taped()[:2], near=(9, -5))

    assert (9.0, 8.0) == pytest.approx(above.xy, abs=ROUNDING_M)
    assert (9.0, -8.0) == pytest.approx(below.xy, abs=ROUNDING_M)
    assert any("a misreading goes unseen" in c for c in above.cautions)
    assert any("far side of the tie points, at 16.0 m" in c for c in above.cautions)


def test_three_points_off_one_line_leave_no_second_place():
    """The third length settles the side; three on one line do not."""
    assert () == from_ties("P", taped()[:3], near=PEG).cautions
    row = taped(points=[(0, 0), (10, 0), (20, 0)])
    assert any("far side" in c for c in from_ties("P", row, near=PEG).cautions)


@pytest.mark.parametrize("point", "ABCD")
@pytest.mark.parametrize("wrong_m", [1.0, -1.0, 0.3])
def test_one_blunder_among_four_is_named_and_left_out(point, wrong_m):
    """A tape read wrong by a metre or by 0.3 m: the place is that of the others, the blunder is told with its size."""
    found = from_ties("P", taped(**{point: wrong_m}), near=PEG)

    assert (point, False) == (found.wrong, found.agrees)
    assert wrong_m == pytest.approx(found.off_m, abs=ROUNDING_M)
    assert PEG == pytest.approx(found.xy, abs=ROUNDING_M)
    assert f"{abs(wrong_m):.2f} m too {'long' if wrong_m > 0 else 'short'}" in found.cautions[0]


def test_one_blunder_among_three_shows_but_has_no_name():
    """Any two lengths meet, so each of the three is suspected; the uncertainty grows."""
    good, bad = (from_ties("P", taped(A=off)[:3], near=PEG) for off in (0.0, 1.0))

    assert (False, "", None) == (bad.agrees, bad.wrong, bad.off_m)
    assert "one of those from A, B, C is wrong" in bad.cautions[0]
    assert bad.sigma_m > 5.0 * good.sigma_m


def test_opposite_points_cannot_tell_which_of_them_is_wrong():
    """Too long from A is too short from C when the peg stands between them: both are suspected."""
    cross = [(0.0, 0.0), (20.0, 0.0), (22.0, 15.0), (-3.0, 14.0)]

    found = from_ties("P", taped(points=cross, A=0.2), near=PEG)

    assert "" == found.wrong
    assert "one of those from A, C is wrong" in found.cautions[0]


def test_two_blunders_among_four_are_told_without_a_name():
    """Leaving out any single one leaves the other."""
    found = from_ties("P", taped(A=1.0, B=-2.0), near=PEG)

    assert "" == found.wrong
    assert "no single one explains it" in found.cautions[0]


def test_lengths_within_the_tape_s_own_error_are_no_blunder():
    """2 cm on one of four."""
    found = from_ties("P", taped(A=0.02), near=PEG)

    assert (True, "", ()) == (found.agrees, found.wrong, found.cautions)
    assert max(abs(r) for r in found.residuals_m) < 0.02


def test_the_uncertainty_of_two_lengths_at_a_right_angle_is_the_tape_s():
    """From (10, 0) and (0, 10) to the origin; a point known to 0.3 m makes it that with the tape."""
    ties = [MeasuredTie(point=p, x_m=x, y_m=y, distance_m=10.0) for p, x, y in (("A", 10, 0), ("B", 0, 10))]
    unsure = [MeasuredTie(point=t.point, x_m=t.x_m, y_m=t.y_m, distance_m=10.0, point_sigma_m=0.3) for t in ties]

    assert 0.02 == pytest.approx(from_ties("P", ties, near=(1, 1)).sigma_m, abs=1e-6)
    assert math.hypot(0.02, 0.3) == pytest.approx(from_ties("P", unsure, near=(1, 1)).sigma_m, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    x_m=st.floats(2, 18),
    y_m=st.floats(2, 12),
    off=st.tuples(*[st.floats(-0.05, 0.05)] * 4),
)
def test_the_place_is_the_one_of_least_squares(seed, x_m, y_m, off):
    """No place near it has a smaller sum of squared residuals."""
    ties = taped((x_m, y_m), A=off[0], B=off[1], C=off[2], D=off[3])
    found = from_ties("P", ties, near=(x_m, y_m))
    if found.wrong:
        return

    def squares(x, y):
        return sum((t.distance_m - math.hypot(x - t.x_m, y - t.y_m)) ** 2 for t in ties)

    here = squares(*found.xy)
    for east, north in np.random.default_rng(seed).uniform(-0.01, 0.01, (20, 2)):
        assert here <= squares(found.x_m + east, found.y_m + north) + 1e-12


def test_lengths_that_cannot_meet_are_refused():
    """5 m and 5 m from points 20 m apart."""
    ties = [MeasuredTie(point=p, x_m=x, y_m=0, distance_m=5.0) for p, x in (("A", 0), ("B", 20))]

    with pytest.raises(InputError) as caught:
        from_ties("P", ties, near=(10, 0))

    assert "do not meet; the points are 20.00 m apart" in caught.value.faults[0].found


def test_a_gross_blunder_among_three_is_told_and_not_refused():
    """The length from A so short that its arc meets neither of the others: the three disagree."""
    found = from_ties("P", taped(A=-11.0)[:3], near=PEG)

    assert not found.agrees
    assert "the lengths disagree by up to" in found.cautions[0]


def test_bad_ties_are_refused_all_at_once():
    """A length of zero, and a single point."""
    with pytest.raises(InputError) as caught:
        from_ties("P", [MeasuredTie(point="A", x_m=0, y_m=0, distance_m=0.0)], near=PEG)

    assert ["peg P: length 0 m from A", "peg P: tape lengths from 1 point"] == [f.found for f in caught.value.faults]


@pytest.mark.parametrize("spare", [1, 2, 3, 5, 10, 30])
def test_the_limit_of_disagreement_is_that_of_chi_square(spare):
    """At 1 in 100: exact for one and two to spare, within 1 percent beyond."""
    assert stats.chi2.ppf(0.99, spare) == pytest.approx(misfit.limit(spare), rel=1e-9 if spare < 3 else 0.01)


def test_good_measurements_are_suspected_once_in_a_hundred():
    """600 pegs taped with the tape's own error, four lengths each: 1 percent disagree, within sampling."""
    rng = np.random.default_rng(5)
    disagree = sum(
        not from_ties("P", taped(**dict(zip("ABCD", rng.normal(0, 0.02, 4), strict=True))), near=PEG).agrees
        for _ in range(600)
    )

    assert 1 <= disagree <= 15


def rim(count=8, radius_m=0.73, centre=(3.0, 4.0), arc_deg=360.0):
    """Points on a circle."""
    angles = np.radians(np.arange(count) * arc_deg / count)
    return [(centre[0] + radius_m * math.sin(a), centre[1] + radius_m * math.cos(a)) for a in angles]


def test_a_rim_gives_centre_and_radius_back():
    """Eight exact points."""
    circle = fit_circle(rim())

    assert (3.0, 4.0, 0.73) == pytest.approx((circle.x_m, circle.y_m, circle.radius_m), abs=ROUNDING_M)
    assert 315.0 == pytest.approx(circle.arc_deg, abs=1e-4)
    assert 0.02 / math.sqrt(4) == pytest.approx(circle.sigma_m, abs=1e-6)
    assert 0.02 / math.sqrt(8) == pytest.approx(circle.radius_sigma_m, abs=1e-6)
    assert (True, None, ()) == (circle.agrees, circle.wrong, circle.cautions)


def test_a_point_off_the_rim_is_named_and_left_out():
    """The third of eight measured 0.4 m outside."""
    points = rim()
    points[2] = (points[2][0] + 0.4, points[2][1])

    circle = fit_circle(points)

    assert (2, False) == (circle.wrong, circle.agrees)
    assert (3.0, 4.0, 0.73) == pytest.approx((circle.x_m, circle.y_m, circle.radius_m), abs=ROUNDING_M)
    assert "point 3 does not lie on the rim" in circle.cautions[0]


def test_a_short_arc_and_three_points_carry_cautions():
    """70 degrees of the rim; and three points, that always fit."""
    short = fit_circle(rim(count=7, arc_deg=70.0))
    three = fit_circle(rim(count=3))

    assert any("of the rim only" in caution for caution in short.cautions)
    assert short.sigma_m > 5.0 * fit_circle(rim(count=7)).sigma_m
    assert ("three points only: any three lie on a circle, so a wrong one goes unseen",) == three.cautions


@pytest.mark.parametrize(
    ("points", "found"),
    [
        ([(0, 0), (1, 0), (2, 0), (3, 0)], "4 points over 3.00 m lie nearly on a straight line"),
        ([(0, 0), (1, 0.001), (2, 0)], "3 points over 2.00 m lie nearly on a straight line"),
        ([(0, 0), (1, 0), (0, 0), (1, 0)], "2 different points of a rim"),
        ([(0, 0), (1, 0), (math.nan, 0)], "a point of the rim is not a number"),
    ],
)
def test_points_that_are_no_rim_are_refused(points, found):
    """On a line, nearly on a line, too few, not numbers."""
    with pytest.raises(InputError) as caught:
        fit_circle(points)

    assert found == caught.value.faults[0].found


@settings(max_examples=30, deadline=None)
@given(turn_deg=st.floats(0, 360), x_m=st.floats(-4000, 4000), y_m=st.floats(-4000, 4000), seed=st.integers(0, 1000))
def test_turning_and_moving_the_points_moves_the_circle(turn_deg, x_m, y_m, seed):
    """The same radius and residuals anywhere on the plane."""
    z = np.array([complex(*p) for p in rim(count=6)]) + np.random.default_rng(seed).normal(0, 0.01, (6, 2)) @ [1, 1j]
    moved = z * np.exp(1j * math.radians(turn_deg)) + complex(x_m, y_m)

    here, there = (fit_circle([(one.real, one.imag) for one in of]) for of in (z, moved))

    assert here.radius_m == pytest.approx(there.radius_m, abs=1e-6)
    assert list(here.residuals_m) == pytest.approx(list(there.residuals_m), abs=1e-6)


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (3, 2, 1, 0), (2, 0, 3, 1)])
@pytest.mark.parametrize("turn_deg", [0.0, 27.5, 90.0, 151.0])
def test_four_corners_give_the_rectangle_back(turn_deg, order):
    """A 4 x 3 m enclosure at any turn, its corners in any order; sizes, bearing, and equal diagonals."""
    planned = pegs(new(pit=disc(1.0), enclosure=rectangle(4.0, 3.0)), x_m=50.0, y_m=-20.0, orientation_deg=turn_deg)
    corners = [peg.xy for peg in planned if peg.name.startswith("E")]

    found = fit_rectangle([corners[k] for k in order])

    assert (50.0, -20.0, 4.0, 3.0) == pytest.approx((found.x_m, found.y_m, found.length_m, found.width_m))
    assert 0.0 == pytest.approx((found.orientation_deg - turn_deg + 90.0) % 180.0 - 90.0, abs=1e-6)
    assert (5.0, 5.0) == pytest.approx(found.diagonals_m)
    assert 0.0 == pytest.approx(max(found.residuals_m), abs=1e-9)
    assert sorted(corners) == [pytest.approx(corner) for corner in sorted(found.corners)]


def test_a_rectangle_is_the_one_of_least_squares():
    """No turn or size near it fits four skewed corners better; the residuals are those of the corners given."""
    corners = [(0.0, 0.0), (3.1, 0.05), (3.0, 2.0), (-0.08, 2.1)]
    found = fit_rectangle(corners)
    z = np.array([complex(*c) for c in corners]) - complex(found.x_m, found.y_m)

    def squares(turn_deg, length, width):
        angle = np.exp(1j * math.radians(90.0 - turn_deg))
        ideal = np.array([a * length / 2 + 1j * b * width / 2 for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))]) * angle
        return (np.abs(z[:, None] - ideal).min(axis=1) ** 2).sum()

    here = squares(found.orientation_deg, found.length_m, found.width_m)
    assert here == pytest.approx(sum(r * r for r in found.residuals_m))
    for turn, length, width in np.random.default_rng(1).uniform(-0.02, 0.02, (200, 3)):
        assert here <= squares(found.orientation_deg + 10 * turn, found.length_m + length, found.width_m + width)


@pytest.mark.parametrize(
    ("corners", "found"),
    [
        ([(0, 0), (1, 0), (1, 1)], "3 corners of a rectangle"),
        ([(0, 0), (1, 0), (1, 1), (math.nan, 1)], "a corner that is not a number"),
        ([(0, 0), (4, 0), (1, 1), (0, 4)], "four corners that do not go round anything"),
        ([(0, 0), (1, 0), (2, 0), (3, 0)], "four corners that do not go round anything"),
    ],
)
def test_corners_that_make_no_rectangle_are_refused(corners, found):
    """Too few, not numbers, bent inward, on a line."""
    with pytest.raises(InputError) as caught:
        fit_rectangle(corners)

    assert found == caught.value.faults[0].found


PLAN = {"P": (0.0, 0.0), "E1": (1.5, 2.0), "E2": (1.5, -2.0), "E3": (-1.5, -2.0), "E4": (-1.5, 2.0)}


def test_points_are_held_to_the_tolerance():
    """0.10, 0.15 and 0.20 m off with 0.15 m allowed: exactly at the limit counts as met when nothing is unsure."""
    off = {
        name: (PLAN[name][0] + 0.6 * d, PLAN[name][1] + 0.8 * d) for name, d in (("P", 0.1), ("E1", 0.0), ("E2", 0.2))
    }

    found = {d.name: d for d in deviations(PLAN, off)}

    assert ["P", "E1", "E2"] == list(found)
    assert [Verdict.MEETS, Verdict.MEETS, Verdict.FAILS] == [d.verdict for d in found.values()]
    assert 0.2 == pytest.approx(found["E2"].distance_m)
    assert math.degrees(math.atan2(0.6, 0.8)) == pytest.approx(found["E2"].bearing_deg)
    assert found["E1"].bearing_deg is None
    assert 1.0 == within(0.15, tolerance_m=0.15, sigma_m=0.0)


def test_unsure_points_near_the_tolerance_are_too_close_to_call():
    """0.12 m off, known to 0.05 m; the same known to 0.01 m meets."""
    measured = {"P": (0.12, 0.0), "E1": (1.62, 2.0)}

    found = deviations(PLAN, measured, sigma_m={"P": 0.05, "E1": 0.01})

    assert [Verdict.TOO_CLOSE, Verdict.MEETS] == [d.verdict for d in found]


@pytest.mark.parametrize("distance_m", [0.0, 0.05, 0.149, 0.15, 0.4, 2.0])
@pytest.mark.parametrize("sigma_m", [0.001, 0.02, 0.15, 1.0])
def test_the_probability_within_is_that_of_the_rice_distribution(distance_m, sigma_m):
    """The distance of a normal point from a fixed one, by a second library (scipy)."""
    expected = stats.rice.cdf(0.15 / sigma_m, distance_m / sigma_m)

    assert expected == pytest.approx(within(distance_m, tolerance_m=0.15, sigma_m=sigma_m), abs=1e-7)


def test_names_that_are_not_on_the_plan_are_refused():
    """E9 is no peg."""
    with pytest.raises(InputError) as caught:
        deviations(PLAN, {"E9": (0.0, 0.0)})

    assert "measured points E9 are not on the plan" == caught.value.faults[0].found


@pytest.mark.parametrize(
    ("length_m", "k_mm", "allowed_m"), [(25, 10, 0.050), (25, 5, 0.025), (100, 10, 0.100), (1, 5, 0.010)]
)
def test_the_form_of_the_standard_s_tolerance(length_m, k_mm, allowed_m):
    """K times the root of the length, from 4 m on: arithmetic of ISO 4463-1's form (from memory, K not read)."""
    assert allowed_m == pytest.approx(position_tolerance_m(length_m, k_mm=k_mm))


def moved(east_m, north_m, turn_deg, names=PLAN):
    """The plan turned clockwise round its middle and shifted."""
    turn = np.exp(-1j * math.radians(turn_deg))
    z = {name: complex(*PLAN[name]) * turn + complex(east_m, north_m) for name in names}
    return {name: (one.real, one.imag) for name, one in z.items()}


@pytest.mark.parametrize("turn_deg", [0.0, 3.0, -40.0, 170.0])
def test_a_shift_and_a_turn_are_found(turn_deg):
    """0.3 m east, 0.4 m north, turned: nothing is left."""
    found = shift(PLAN, moved(0.3, 0.4, turn_deg))

    assert (0.3, 0.4, 0.5) == pytest.approx((found.east_m, found.north_m, found.distance_m))
    assert turn_deg == pytest.approx(found.turned_deg, abs=1e-9)
    assert 0.0 == pytest.approx(found.rms_m, abs=1e-9)
    assert not found.mirrored


def test_a_mirrored_plan_is_seen():
    """Set out with east and west exchanged."""
    mirrored = {name: (-x, y) for name, (x, y) in moved(0.3, 0.4, 25.0).items()}

    assert shift(PLAN, mirrored).mirrored
    assert shift(PLAN, mirrored).rms_m > 1.0
    nearly = {n: (x + 0.05 * (n == "E1"), y) for n, (x, y) in PLAN.items()}
    assert not shift(PLAN, nearly).mirrored


def test_one_point_tells_no_turn():
    """Refused, with what to measure."""
    with pytest.raises(InputError) as caught:
        shift(PLAN, {"P": (0.0, 0.0)})

    assert "1 point measured of those on the plan" == caught.value.faults[0].found


def test_what_was_built_is_judged_where_it_stands():
    """Planned to meet 30 m from a well and 10 m from a ward; dug 3 m too near to the well, it fails that rule only."""
    where = site(feature("well", "Well", (0, 0), radius_m=0.0), feature("ward", "Ward", (60, 0), radius_m=0.0))
    rules = pack(LIMITS_30, LIMITS_10)
    planned = new("placenta pit", pit=disc(1.46), enclosure=rectangle(4.0, 3.0), orientation_deg=0.0)
    pit = fit_circle(rim(centre=(29.0, 0.0)))
    walls = fit_rectangle([(27.5, -2), (30.5, -2), (30.5, 2), (27.5, 2)])

    before = {row.rule.id: row.verdict for row in judged(where, rules, planned, (32.0, 0.0, 0.0))}
    stands = standing(built_feature(planned, name="As built", source="survey", pit=pit, enclosure=walls), WORDS)
    after = {row.rule.id: row for row in judged(where, rules, stands)}

    assert {"well": Verdict.MEETS, "building": Verdict.MEETS} == before
    assert (Verdict.FAILS, Verdict.MEETS) == (after["well"].verdict, after["building"].verdict)
    assert 29.0 - 0.73 == pytest.approx(after["well"].distance_m, abs=1e-6)
    assert 29.5 == pytest.approx(after["building"].distance_m, abs=1e-6)
    assert pit.sigma_m == pytest.approx(after["well"].sigma)
    assert asked(where, rules, stands).requirements


def test_an_enclosure_not_measured_is_the_planned_one_round_the_pit():
    """Where its direction is known; where the plan left it free it has to be measured."""
    pit = fit_circle(rim(centre=(10.0, 20.0)))
    planned = new(pit=disc(1.46), enclosure=rectangle(4.0, 3.0), orientation_deg=90.0)
    free = new(pit=disc(1.46), enclosure=rectangle(4.0, 3.0))

    stands = built_feature(planned, name="As built", source="survey", pit=pit)

    assert (8.0, 18.5, 12.0, 21.5) == pytest.approx(stands.enclosure.bounds, abs=1e-6)
    assert 0.73 == pytest.approx(stands.radius_m)
    with pytest.raises(ValueError, match="direction"):
        built_feature(free, name="As built", source="survey", pit=pit)
