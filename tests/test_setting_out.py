"""Pegs, tape ties, stations, checks and the accuracy that the verdicts need."""

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from conftest import LIMITS_10, LIMITS_30, ON_THE_LAND, WORDS, asked, feature, judged, new, pack, plot, site
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from siting.errors import InputError
from siting.installation import disc, rectangle
from siting.requirements import Question
from siting.setting_out.card import set_out
from siting.setting_out.lines import along_slope_m, polar
from siting.setting_out.pegs import OFFSET_M, WORKING_STRIP_M, checks, pegs, squares
from siting.setting_out.points import TiePoint, sighted, tie_points
from siting.setting_out.stations import best_stations, rays
from siting.setting_out.ties import all_ties, peg_ties, worst_sigma_m
from siting.setting_out.tolerance import TOLERANCE_M, accuracy_needed
from siting.site import Status
from siting.uncertainty import Verdict, coverage_factor

ROUNDING_M = 1e-9
STRIP_M = WORKING_STRIP_M + OFFSET_M
PIT = new("placenta pit", pit=disc(1.46), enclosure=rectangle(4.0, 3.0))


def placed(x_m=0.0, y_m=0.0, orientation_deg=0.0, **more):
    """The pegs of the pit by name."""
    found = pegs(replace(PIT, **more), x_m=x_m, y_m=y_m, orientation_deg=orientation_deg)
    return {peg.name: peg for peg in found}


def test_corners_and_rim_stand_where_the_outlines_are():
    """A pit of 1.46 m in an enclosure of 4 x 3 m facing north: numbered clockwise from north."""
    by_name = placed(10.0, 20.0)

    assert (10.0, 20.0) == by_name["P"].xy
    assert [(10.0, 20.73), (10.73, 20.0), (10.0, 19.27), (9.27, 20.0)] == [
        pytest.approx(by_name[f"R{k}"].xy, abs=ROUNDING_M) for k in (1, 2, 3, 4)
    ]
    assert [(11.5, 22.0), (11.5, 18.0), (8.5, 18.0), (8.5, 22.0)] == [
        pytest.approx(by_name[f"E{k}"].xy, abs=ROUNDING_M) for k in (1, 2, 3, 4)
    ]


@pytest.mark.parametrize("turn_deg", [0.0, 33.0, 90.0, 251.5])
def test_offset_pegs_stand_beyond_the_working_strip_on_the_diagonals(turn_deg):
    """0.6 m from the strip's edge, and a string between opposite ones crosses both corners and the centre."""
    by_name = placed(5.0, -7.0, turn_deg)
    strip = PIT.enclosure.drawn_at(5.0, -7.0, turn_deg).buffer(WORKING_STRIP_M, join_style="mitre")

    for k in (1, 2, 3, 4):
        peg, corner, opposite = by_name[f"O{k}"], by_name[f"E{k}"], by_name[f"O{(k + 1) % 4 + 1}"]
        string = shapely.linestrings([peg.xy, opposite.xy])
        assert OFFSET_M == pytest.approx(strip.distance(Point(peg.xy)), abs=1e-6)
        assert 0.0 == pytest.approx(string.distance(Point(corner.xy)), abs=1e-6)
        assert 0.0 == pytest.approx(string.distance(Point(by_name["P"].xy)), abs=1e-6)


def test_a_round_enclosure_gets_four_marks_and_offsets():
    """Offset pegs at its radius, the strip and the offset."""
    by_name = placed(enclosure=disc(5.0))

    assert [2.5] * 4 == [pytest.approx(math.hypot(*by_name[f"E{k}"].xy)) for k in (1, 2, 3, 4)]
    assert [2.5 + STRIP_M] * 4 == [pytest.approx(math.hypot(*by_name[f"O{k}"].xy), abs=1e-3) for k in (1, 2, 3, 4)]


@settings(max_examples=30, deadline=None)
@given(turn_deg=st.floats(0, 360), x_m=st.floats(-500, 500), y_m=st.floats(-500, 500))
def test_turning_and_moving_a_place_moves_its_pegs_with_it(turn_deg, x_m, y_m):
    """Lengths between pegs do not depend on where they stand."""
    here = checks(tuple(placed().values()))
    there = checks(tuple(placed(x_m, y_m, turn_deg).values()))

    assert [c.length_m for c in here] == pytest.approx([c.length_m for c in there], abs=1e-6)


def test_diagonals_and_strings_are_given_to_check():
    """3 x 4 m: diagonals 5 m; strings over the centre are twice the way to an offset peg."""
    lengths = {(c.start, c.end): c.length_m for c in checks(tuple(placed().values()))}
    offset = placed()["O1"].xy

    assert 5.0 == lengths["E1", "E3"] == pytest.approx(lengths["E2", "E4"])
    assert 1.46 == pytest.approx(lengths["R1", "R3"])
    assert 2.0 * math.hypot(*offset) == pytest.approx(lengths["O1", "O3"], abs=1e-6)
    assert math.hypot(*offset) - 2.5 == pytest.approx(lengths["O1", "E1"], abs=1e-6)


@pytest.mark.parametrize(
    ("size", "legs"),
    [((4.0, 3.0), {(3.0, 4.0, 5.0), (4.0, 3.0, 5.0)}), ((2.0, 1.5), {(1.5, 2.0, 2.5), (2.0, 1.5, 2.5)}),
     ((5.0, 2.0), {(1.8, 2.4, 3.0), (2.4, 1.8, 3.0)})],
)  # fmt: skip
def test_the_largest_three_four_five_that_fits(size, legs):
    """In steps of 0.1 m a unit; at all four corners."""
    found = squares(tuple(placed(enclosure=rectangle(*size)).values()))

    assert ["E1", "E2", "E3", "E4"] == [s.corner for s in found]
    assert legs == {(round(s.one_m, 9), round(s.other_m, 9), round(s.across_m, 9)) for s in found}


WARD = shapely.box(0, 0, 30, 12)
"Long and narrow: its corners are still north-east, south-east and so on."


def yard(**more):
    """A ward, a kitchen that is to come down, a well and a building that is only a point."""
    return site(
        feature("ward", "Ward A", WARD, sigma_m=0.05),
        feature("kitchen", "Old kitchen", shapely.box(40, 0, 48, 8), status=Status.CLOSED),
        feature("borehole", "Borehole", (50, 30), radius_m=0.1),
        feature("office", "Office", (60, 0)),
        plot(shapely.box(-40, -40, 80, 80), "Fence"),
        **more,
    )


def test_tie_points_are_what_two_people_find_alike():
    """Corners of buildings that stay, the middle of a well, corners of the fence; no points for buildings."""
    points = {p.name: p.xy for p in tie_points(yard(), WORDS, home="survey")}

    assert (30.0, 12.0) == points["Ward A, north-east corner"]
    assert (0.0, 0.0) == points["Ward A, south-west corner"]
    assert (50.0, 30.0) == points["Borehole, middle"]
    assert (-40.0, 80.0) == points["Fence, north-west corner"]
    assert 9 == len(points)


def test_blunt_corners_and_short_walls_are_no_tie_points():
    """A round house drawn with many sides, and a step of 0.3 m in a wall."""
    stepped = Polygon([(0, 0), (10, 0), (10, 5), (10.3, 5), (10.3, 9), (0, 9)])
    where = site(feature("ward", "Round", Point(50, 50).buffer(4)), feature("ward", "Stepped", stepped))

    assert {(0.0, 0.0), (10.0, 0.0), (10.3, 9.0), (0.0, 9.0)} == {p.xy for p in tie_points(where, WORDS, home="survey")}


def test_a_tie_point_of_another_source_carries_what_its_source_shares():
    """0.05 m of its own, 0.3 m and 0.4 m of the two sources."""
    two = site(feature("ward", "Ward A", WARD, sigma_m=0.05, source="plan"), shared_m={"plan": 0.3, "survey": 0.4})

    assert math.sqrt(0.05**2 + 0.3**2 + 0.4**2) == pytest.approx(tie_points(two, WORDS, home="survey")[0].sigma_m)
    assert 0.05 == tie_points(two, WORDS, home="plan")[0].sigma_m


def at(x_m, y_m, name=""):
    """A tie point."""
    return TiePoint(name=name or f"({x_m}, {y_m})", feature="", x_m=x_m, y_m=y_m)


CENTRE = placed()["P"]


def test_ties_are_chosen_to_meet_well():
    """Among points in one direction and three all round, the three all round; each at its own distance."""
    bunch = [at(10 + 0.2 * k, 0.3 * k) for k in range(5)]
    round_ = [at(0, 20), at(-17, -10), at(17, -10)]

    ties = peg_ties(CENTRE, [*bunch, *round_])

    assert {p.name for p in round_} == {tie.point.name for tie in ties.ties}
    assert [120.0] * 3 == pytest.approx(ties.angles_deg, abs=1.0)
    assert {20.0, math.hypot(17, 10)} == {tie.distance_m for tie in ties.ties}
    assert () == ties.cautions


@settings(max_examples=60, deadline=None)
@given(bearings=st.lists(st.floats(0, 359), min_size=3, max_size=7, unique=True), near_m=st.floats(3, 30))
def test_ties_that_all_meet_well_are_taken_where_there_are_any(bearings, near_m):
    """Whatever three would fix the peg best: the third is there to find a misreading of either of the others."""
    points = [
        at((near_m + k) * math.sin(math.radians(b)), (near_m + k) * math.cos(math.radians(b)))
        for k, b in enumerate(bearings)
    ]

    def meet_well(trio):
        apart = [abs(one - other) for one, other in combinations(trio, 2)]
        return all(30.0 <= min(a, 360.0 - a) <= 150.0 for a in apart)

    chosen = peg_ties(CENTRE, points).angles_deg

    assert all(29.999 <= angle <= 150.001 for angle in chosen) or not any(map(meet_well, combinations(bearings, 3)))


def test_how_well_ties_fix_a_peg():
    """Two at a right angle: the tape's own; three all round: sqrt(2/3) of it; 30 degrees: 1 / sqrt(1 - cos 30)."""
    fan = [at(10, 0), at(10 * math.cos(math.radians(30)), 5.0)]

    assert 0.02 == pytest.approx(worst_sigma_m((0, 0), [at(10, 0), at(0, 10)], 0.02))
    assert 0.02 * math.sqrt(2 / 3) == pytest.approx(
        worst_sigma_m((0, 0), [at(0, 2), at(-math.sqrt(3), -1), at(math.sqrt(3), -1)], 0.02)
    )
    assert 0.02 / math.sqrt(1 - math.cos(math.radians(30))) == pytest.approx(worst_sigma_m((0, 0), fan, 0.02))
    assert math.inf == worst_sigma_m((0, 0), [at(10, 0), at(-10, 0)], 0.02)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 1000))
def test_the_uncertainty_is_what_repeated_taping_shows(seed):
    """Many tapings with the tape's error, each brought to a place: the spread is the one stated, within 15 percent."""
    rng = np.random.default_rng(seed)
    points = [at(*rng.uniform(-30, 30, 2)) for _ in range(3)]
    steps = np.array([p.xy for p in points])
    directions = -steps / np.hypot(*steps.T)[:, None]
    errors = rng.normal(0.0, 0.02, (4000, 3))
    places = np.linalg.lstsq(directions, errors.T, rcond=None)[0].T
    spread = math.sqrt(np.linalg.eigvalsh(np.cov(places.T))[-1])

    assert spread == pytest.approx(worst_sigma_m((0.0, 0.0), points, 0.02), rel=0.15)


def test_a_tape_does_not_pass_through_a_building():
    """A point behind the ward is not used, one on the near wall is."""
    seen = sighted((15.0, -10.0), [at(15, 20), at(30, 0), at(0, 0)], [WARD], 50.0)

    assert [(0.0, 0.0), (30.0, 0.0)] == sorted(p.xy for p in seen)


def test_ties_on_one_line_are_told():
    """Three corners along one wall fit as well on the wall's other side; with a fourth off the line they do not."""
    row = [at(-8, 5), at(0, 5), at(8, 5)]

    assert any("one line" in caution for caution in peg_ties(CENTRE, row).cautions)
    assert () == peg_ties(CENTRE, [*row, at(9, -9)]).cautions


@pytest.mark.parametrize(
    ("points", "said"),
    [([], "0 of 3"), ([at(5, 0)], "tapes alone do not fix it"), ([at(5, 0), at(0, 5)], "a misreading goes unseen"),
     ([at(5, 0), at(6, 0.5), at(7, -0.3)], "no two ties meet between 30 and 150 degrees")],
)  # fmt: skip
def test_weak_ties_are_told(points, said):
    """Too few in sight, or all in one direction."""
    assert any(said in caution for caution in peg_ties(CENTRE, points).cautions)


def test_one_three_serves_all_pegs_where_it_can():
    """A card with three points is easier to tape than one with thirty."""
    everyone = tuple(placed().values())
    points = [at(0, 20), at(-17, -10), at(17, -10), at(3, 25), at(-20, 2), at(14, 14)]

    ties = all_ties(everyone, points)

    assert 1 == len({frozenset(tie.point.name for tie in t.ties) for t in ties})
    assert [peg.name for peg in everyone] == [t.peg for t in ties]
    for peg, of_peg in zip(everyone, ties, strict=True):
        assert [math.dist(peg.xy, t.point.xy) for t in of_peg.ties] == [t.distance_m for t in of_peg.ties]


@pytest.mark.parametrize(("percent", "plan_m"), [(10, 29.85), (20, 29.42), (30, 28.73)])
def test_along_the_slope(percent, plan_m):
    """30 m along a slope of 10, 20 and 30 percent is 29.85, 29.42 and 28.73 m in plan (own, Pythagoras)."""
    taped = along_slope_m((0, 0), (plan_m, 0), levels=lambda xy: percent / 100.0 * xy[:, 0])

    assert 30.0 == pytest.approx(taped, abs=0.006)
    assert 30.0 == along_slope_m((0, 0), (0, 30), levels=lambda xy: percent / 100.0 * xy[:, 0])


def test_along_an_unknown_slope_there_is_no_length():
    """No heights, or a place beyond them."""
    assert along_slope_m((0, 0), (30, 0), levels=None) is None
    assert along_slope_m((0, 0), (30, 0), levels=lambda xy: np.full(len(xy), np.nan)) is None


def test_stations_see_the_place_and_one_another():
    """Of a corner behind the ward, one far to the side and two near: the two that meet best."""
    points = [at(15, 40), at(0, 0), at(30, 0), at(15, -60)]

    found = best_stations((15.0, -15.0), points, walls=[WARD])

    assert {(0.0, 0.0), (30.0, 0.0)} == {p.xy for p in found}
    assert () == best_stations((15.0, -15.0), points[:2], walls=[WARD])


def test_rays_give_bearing_distance_and_the_angle_turned():
    """Station at the origin, the other due east: a peg due north is turned 270 degrees, 10 m away."""
    peg = replace(CENTRE, x_m=0.0, y_m=10.0)

    one, other = rays([peg], [at(0, 0), at(20, 0)])

    assert (10.0, 0.0, 270.0) == (one.distance_m, one.bearing_deg, one.turned_deg)
    assert math.hypot(20, 10) == other.distance_m
    assert math.degrees(math.atan2(10, 20)) == pytest.approx(other.turned_deg)
    assert rays([peg], [at(0, 0)])[0].turned_deg is None


def question(where, *bodies):
    """A site with one pack in force."""
    return Question(site=where, packs=(pack(*bodies),), words=WORDS)


WELL = feature("well", "Well", (0, 0), radius_m=0.0)
GROUNDS = plot(shapely.box(-100, -100, 100, 100), "Land")


@pytest.mark.parametrize(
    ("distance_m", "sigma_m", "allowed_m"), [(40.0, 0.0, 10.0), (30.1, 0.0, 0.1), (31.0, 0.5, 1.0 - 1.6448536 * 0.5)]
)
def test_the_smallest_margin_left_sets_the_tolerance(distance_m, sigma_m, allowed_m):
    """The margin less the guard band at 95 percent; never more than is asked of record drawings."""
    where = site(replace(WELL, sigma_m=sigma_m))
    demands = asked(where, pack(LIMITS_30), new())

    needed = accuracy_needed(demands, x_m=distance_m, y_m=0, orientation_deg=0, confidence=0.95)

    assert allowed_m == pytest.approx(needed.allowed_m, abs=1e-6)
    assert min(TOLERANCE_M, math.floor(allowed_m * 100 + 1e-6) / 100) == needed.within_m
    assert ("code/well", "Well", ()) == (needed.rule, needed.feature, needed.unsettled)


@settings(max_examples=40, deadline=None)
@given(
    y_m=st.floats(37.0, 60.0),
    turn_deg=st.floats(0, 180),
    seed=st.integers(0, 10_000),
    sigma_m=st.sampled_from([0.0, 1.0]),
)
def test_no_verdict_is_lost_within_the_tolerance(y_m, turn_deg, seed, sigma_m):
    """Any move and turn that keeps every corner within what is allowed leaves every rule that met met."""
    where = site(
        replace(WELL, sigma_m=sigma_m), feature("ward", "Ward", shapely.box(14, 30, 40, 70)),
        plot(shapely.box(-30, -30, 60, 75)),
    )  # fmt: skip
    by, pit = pack(LIMITS_30, LIMITS_10, ON_THE_LAND), new("placenta pit", pit=disc(1.4), enclosure=rectangle(4, 3))
    here = (0.0, y_m, turn_deg)
    needed = accuracy_needed(asked(where, by, pit), x_m=0, y_m=y_m, orientation_deg=turn_deg, confidence=0.95)
    allowed_m = min(needed.allowed_m, 3.0)
    rng = np.random.default_rng(seed)
    turn = rng.uniform(-1, 1) * math.degrees(2 * math.asin(min(1.0, allowed_m / 5.0))) / 2
    moved_m = allowed_m - 2 * 2.5 * math.sin(math.radians(abs(turn)) / 2)
    angle = rng.uniform(0, 2 * math.pi)
    there = (moved_m * math.sin(angle), y_m + moved_m * math.cos(angle), turn_deg + turn)

    before = {row.rule.full_id: row.verdict for row in judged(where, by, pit, here)}
    after = {row.rule.full_id: row.verdict for row in judged(where, by, pit, there)}

    assert [] == [rule for rule, verdict in before.items() if verdict is Verdict.MEETS and after[rule] is not verdict]


def test_what_does_not_meet_is_named_and_does_not_set_the_tolerance():
    """Too close to call from the well; from the boundary 5 m are left."""
    where = site(replace(WELL, sigma_m=2.0), GROUNDS)
    demands = asked(where, pack(LIMITS_30, ON_THE_LAND), new())

    needed = accuracy_needed(demands, x_m=31, y_m=0, orientation_deg=0, confidence=0.95)

    assert ("code/well",) == needed.unsettled
    assert "code/land" == needed.rule
    assert 64.0 == pytest.approx(needed.allowed_m, abs=0.01)


def test_advice_is_kept_apart():
    """A rule that advises sets only `advised_m`."""
    should = LIMITS_30 + '\n    strength = "should"'

    needed = accuracy_needed(asked(site(WELL), pack(should), new()), x_m=34, y_m=0, orientation_deg=0, confidence=0.95)

    assert (4.0, math.inf, TOLERANCE_M, "") == (needed.advised_m, needed.allowed_m, needed.within_m, needed.rule)


def test_the_card_holds_everything_for_every_peg():
    """Pegs, rays from two stations, ties, checks; and a caution for each thing that is wrong on the ground."""
    where = yard()
    asking = question(where, LIMITS_30, LIMITS_10)
    demands = asked(where, asking.packs, PIT)

    card = set_out(asking, demands, x_m=15, y_m=-20, orientation_deg=30)

    assert 13 == len(card.pegs) == len(card.ties)
    assert 26 == len(card.rays)
    assert {"code/building", "Ward A"} == {card.tolerance.rule, card.tolerance.feature}
    assert {peg.name for peg in card.pegs} == {end for check in card.checks for end in (check.start, check.end)} | {"P"}
    assert 4 == len(card.squares)
    assert all(0.05 <= t.sigma_m < 0.2 for t in card.ties)


def test_the_card_warns_of_pegs_in_buildings_and_of_thin_margins():
    """Beside the ward an offset peg falls into it; 3 cm left after the guard band are more than a tape can hold."""
    where = yard()
    asking = question(where, 'for = ["pit"]\nfrom = ["building"]\noutline = "enclosure"\nat_least_m = 1.08')
    demands = asked(where, asking.packs, PIT)

    card = set_out(asking, demands, x_m=15, y_m=-3.2, orientation_deg=0)

    assert {"Ward A"} == {peg.stands_in for peg in card.pegs} - {""}
    assert any("falls in Ward A" in caution for caution in card.cautions)
    assert any("less than a tape can promise" in caution for caution in card.cautions)


def test_a_card_with_nothing_to_measure_from_says_so_once():
    """No corners and no wells in sight: one line for all pegs, and what to do."""
    where = site(feature("office", "Office", (60, 0)))
    asking = question(where, LIMITS_10)

    card = set_out(asking, asked(where, asking.packs, PIT), x_m=0, y_m=0, orientation_deg=0)

    assert () == card.stations == card.rays
    assert 2 == len(card.cautions)
    assert "survey the corners of the nearest buildings" in card.cautions[0]


def test_guard_band_constant():
    """The factor used above: 1.6448536 (JCGM 106:2012, Table 1, one-sided 95 %, from memory)."""
    assert 1.6448536 == pytest.approx(coverage_factor(0.95), abs=1e-7)


def test_negative_allowances_are_refused():
    """A working strip or an offset below zero."""
    with pytest.raises(InputError) as caught:
        pegs(PIT, x_m=0, y_m=0, orientation_deg=0, working_strip_m=-1.0, offset_m=-0.1)

    assert ["working_strip_m is -1", "offset_m is -0.1"] == [fault.found for fault in caught.value.faults]


def test_bearings_run_clockwise_from_north():
    """North, east, south, west."""
    assert [0.0, 90.0, 180.0, 270.0] == [polar((0, 0), end)[1] for end in ((0, 1), (1, 0), (0, -1), (-1, 0))]
