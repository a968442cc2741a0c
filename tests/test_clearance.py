"""Margins of places: the one distance function, against closed forms, and how fast a margin may change."""

from math import cos, hypot, radians, sin, sqrt

import numpy as np
import pytest
import shapely
from conftest import HOLED, POINT, SQUARE, ZOO, asked, feature, new, pack, plot, site
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon
from strategies import held, outlines, places, shapes

from siting.clearance import JUMP_M, Places, lay_out, margins, nearest_line, one_place, pair_margins
from siting.installation import Outline, disc, rectangle

EXACT_M = 1e-9
AWAY = 'for = ["pit"]\nfrom = ["ward", "well", "stream"]\nat_least_m = {}\n'
INSIDE = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\nat_least_m = {}\n'
NEAR = 'for = ["pit"]\nfrom = ["ward", "well"]\nat_most_m = {}\n'


def _margin(body, what, installation, at):
    of = site(*(what if isinstance(what, tuple) else (what,)))
    ((margin,),) = margins(lay_out(asked(of, pack(body), installation).requirements, installation), one_place(*at))
    return margin


def _ward(geometry):
    return feature("ward", "Ward", geometry)


# --- outside ---


@pytest.mark.parametrize("limit_m", [0, 30])
@pytest.mark.parametrize(("pit_m", "well_m"), [(0.0, 0.0), (1.5, 0.0), (0.0, 0.6), (1.5, 0.6)])
def test_two_discs_are_apart_by_their_centres_less_both_radii(pit_m, well_m, limit_m):
    """3-4-5: 50 m between centres, less half the diameter of the pit, less the well, less the limit."""
    installation = new(pit=disc(pit_m) if pit_m else POINT)
    well = feature("well", "Well", (30.0, 40.0), radius_m=well_m)

    assert 50.0 - pit_m / 2.0 - well_m - limit_m == pytest.approx(
        _margin(AWAY.format(limit_m), well, installation, (0.0, 0.0)), abs=EXACT_M
    )


@pytest.mark.parametrize(
    ("at", "distance_m"),
    [
        ((-10.0, 5.0), 10.0 - 1.0),
        ((-3.0, -4.0), 5.0 - 1.0),
        ((5.0, 9.0), -1.0 - 1.0),
        ((4.0, 5.0), -4.0 - 1.0),
        ((5.0, 5.0), -5.0 - 1.0),
    ],
    ids=["beside", "off a corner", "just inside", "deep inside", "in the middle"],
)
def test_a_round_pit_in_a_building_is_wrong_by_how_deep_it_lies(at, distance_m):
    """A square of 10 and a pit of 2 across: edge to edge outside, minus depth minus radius inside."""
    ward = _ward(shapely.box(0, 0, 10, 10))

    assert distance_m == pytest.approx(_margin(AWAY.format(0), ward, new(pit=disc(2.0)), at), abs=EXACT_M)


@pytest.mark.parametrize("bearing_deg", [0.0, 30.0, 90.0, 123.4, 210.0])
@pytest.mark.parametrize(("aside_deg", "half_m"), [(0.0, 5.0), (90.0, 1.0), (180.0, 5.0), (270.0, 1.0)])
def test_a_turned_rectangle_reaches_half_its_length_ahead_and_half_its_width_aside(bearing_deg, aside_deg, half_m):
    """10 by 2 m: a point 30 m off is 25 m from its end, 29 m from its side, whichever way it is turned."""
    direction = radians(bearing_deg + aside_deg)
    well = feature("well", "Well", (7.0 + 30.0 * sin(direction), 9.0 + 30.0 * cos(direction)))

    assert 30.0 - half_m == pytest.approx(
        _margin(AWAY.format(0), well, new(pit=rectangle(10.0, 2.0)), (7.0, 9.0, bearing_deg)), abs=EXACT_M
    )


@pytest.mark.parametrize("bearing_deg", [0.0, 20.0, 45.0, 70.0, 160.0])
def test_a_turned_rectangle_beside_a_wall_is_as_wide_as_its_corners(bearing_deg):
    """A wall 20 m east of a 4 by 3 m rectangle: 20 less (4 |sin| + 3 |cos|) / 2."""
    wall = feature("stream", "Stream", LineString([(20.0, -500.0), (20.0, 500.0)]))
    turn = radians(bearing_deg)
    half_m = (4.0 * abs(sin(turn)) + 3.0 * abs(cos(turn))) / 2.0

    assert 20.0 - half_m == pytest.approx(
        _margin(AWAY.format(0), wall, new(pit=rectangle(4.0, 3.0)), (0.0, 0.0, bearing_deg)), abs=EXACT_M
    )


@pytest.mark.parametrize(
    ("at", "deep_m"),
    [((-2.0, 5.0), 0.0), ((-1.0, 5.0), 1.0), ((2.0, 5.0), 4.0 - 1.0), ((5.0, 5.0), 3.0)],
    ids=["edges touch", "a metre in", "most of it", "all of it"],
)
def test_a_square_in_a_building_is_wrong_by_its_deepest_corner(at, deep_m):
    """4 by 4 m in 10 by 10 m: touching is no overlap, and beyond that the deepest corner counts."""
    margin = _margin(AWAY.format(0), _ward(shapely.box(0, 0, 10, 10)), new(pit=rectangle(4.0, 4.0)), at)

    assert -(deep_m + (JUMP_M if deep_m else 0.0)) == pytest.approx(margin, abs=EXACT_M)


def test_edges_that_cross_without_a_corner_inside_still_overlap():
    """A long rectangle laid across a narrow one: no corner of either is inside the other, and it fails."""
    across = _ward(shapely.box(-1, -50, 1, 50))

    assert -JUMP_M == pytest.approx(_margin(AWAY.format(0), across, new(pit=rectangle(2.0, 30.0)), (0.0, 0.0)))


def test_a_rectangle_over_a_well_is_wrong_by_how_deep_the_well_lies_in_it():
    """The well is 1 m from the long edge of a 10 by 4 m pit."""
    well = feature("well", "Well", (1.0, 0.0))

    assert -1.0 - JUMP_M == pytest.approx(
        _margin(AWAY.format(0), well, new(pit=rectangle(10.0, 4.0)), (0.0, 0.0)), abs=EXACT_M
    )


# --- inside ---


@pytest.mark.parametrize("bearing_deg", [0.0, 30.0, 45.0, 90.0])
def test_an_enclosure_in_a_plot_is_as_far_in_as_its_nearest_corner(bearing_deg):
    """A 4 by 3 m enclosure 20 m from the west side of the plot."""
    turn = radians(bearing_deg)
    half_m = (4.0 * abs(sin(turn)) + 3.0 * abs(cos(turn))) / 2.0
    installation = new(enclosure=rectangle(4.0, 3.0))
    body = INSIDE.format(5) + 'outline = "enclosure"'

    assert 20.0 - half_m - 5.0 == pytest.approx(
        _margin(body, plot(SQUARE), installation, (20.0, 50.0, bearing_deg)), abs=EXACT_M
    )


@pytest.mark.parametrize(
    ("at", "depth_m"),
    [
        ((20.0, 50.0), 20.0),
        ((0.0, 50.0), 0.0),
        ((-3.0, -4.0), -5.0),
        ((55.0, 50.0), -10.0),
        ((75.0, 50.0), 5.0),
    ],
    ids=["inside", "on the line", "off the corner", "in the hole", "beside the hole"],
)
def test_a_round_pit_is_inside_by_its_depth_less_its_radius(at, depth_m):
    """Out of the plot, or in a neighbour's ground within it, it is wrong by the way back and the radius."""
    assert depth_m - 1.0 == pytest.approx(_margin(INSIDE.format(0), plot(HOLED), new(pit=disc(2.0)), at), abs=EXACT_M)


@pytest.mark.parametrize(
    ("at", "out_m"), [((1.0, 50.0), 0.5), ((-20.0, 50.0), 21.5), ((-20.0, -30.0), hypot(21.5, 32.0))]
)
def test_an_enclosure_that_sticks_out_is_wrong_by_its_farthest_corner(at, out_m):
    """3 m wide and 4 m long: the corner farthest out tells how far it has to move at least."""
    assert -out_m - JUMP_M == pytest.approx(
        _margin(INSIDE.format(0), plot(SQUARE), new(pit=rectangle(4.0, 3.0)), at), abs=EXACT_M
    )


def test_an_enclosure_around_a_hole_in_the_plot_is_not_inside():
    """All its corners stand on the facility's ground, and a square metre of a neighbour's lies under it."""
    land = Polygon(SQUARE.exterior, [shapely.box(49.5, 49.5, 50.5, 50.5).exterior.coords])

    assert -JUMP_M == pytest.approx(
        _margin(INSIDE.format(0), plot(land), new(pit=rectangle(3.0, 3.0)), (50.0, 50.0)), abs=EXACT_M
    )


# --- within ---


@pytest.mark.parametrize(
    ("at", "distance_m"), [((-31.0, 5.0), 30.0), ((-51.0, 5.0), 50.0), ((5.0, 5.0), 0.0), ((-0.5, 5.0), 0.0)]
)
def test_near_enough_is_the_limit_less_the_distance(at, distance_m):
    """A pit of 2 m across and a ward of 10 by 10: overlapping or touching counts as no distance."""
    ward = _ward(shapely.box(0, 0, 10, 10))

    assert 50.0 - distance_m == pytest.approx(_margin(NEAR.format(50), ward, new(pit=disc(2.0)), at), abs=EXACT_M)


def test_near_enough_is_to_the_nearest_of_several():
    """Two wards, and the nearer one counts."""
    wards = (_ward(shapely.box(0, 0, 10, 10)), feature("ward", "Far", shapely.box(100, 0, 110, 10)))

    assert 50.0 - 30.0 == pytest.approx(_margin(NEAR.format(50), wards, new(), (70.0, 5.0)), abs=EXACT_M)


# --- many places at once ---


def test_many_places_in_one_call_are_the_places_one_by_one(zoo_site, code, placenta_pit):
    """Vectorised or not, a margin is the same number, in every column of every site of the zoo."""
    laid = lay_out(asked(zoo_site, code, placenta_pit).requirements, placenta_pit)
    x, y, bearing = (np.array(column) for column in zip(*((i * 7.3, i * 3.1, i * 40.0) for i in range(9)), strict=True))
    together = margins(laid, Places(x_m=x, y_m=y, orientation_deg=bearing))

    assert (9, len(laid.requirements)) == together.shape
    assert together.tolist() == [margins(laid, one_place(*at))[0].tolist() for at in zip(x, y, bearing, strict=True)]


def test_chosen_pairs_are_those_of_the_whole_table(code, placenta_pit):
    """Pairs of a place and a requirement, in any order."""
    laid = lay_out(asked(ZOO["square plot"](), code, placenta_pit).requirements, placenta_pit)
    some = Places(x_m=np.array([50.0, 5.0]), y_m=np.array([50.0, 70.0]), orientation_deg=np.array([0.0, 33.0]))
    place, requirement = np.array([1, 0, 1, 0]), np.array([2, 0, 0, 1])

    assert margins(laid, some)[place, requirement].tolist() == pair_margins(laid, some, place, requirement).tolist()


def test_only_what_lies_in_plan_is_laid_out():
    """Requirements that are the same everywhere have no margin of a place; none at all is an empty table."""
    fixed = asked(
        site(),
        pack('for = ["pit"]\nmeasure = "attribute"\nrequire = { "installation.sealed" = true }'),
        new(),
    )

    assert (1, 0) == margins(lay_out(fixed.requirements, new()), one_place(0.0, 0.0)).shape


def test_each_rule_measures_from_its_own_outline():
    """The pit of one rule, the enclosure of the other."""
    bodies = [AWAY.format(0) + f'outline = "{which}"' for which in ("pit", "enclosure")]
    installation = new(pit=disc(2.0), enclosure=rectangle(6.0, 8.0))
    of = site(feature("well", "Well", (50.0, 0.0)))
    laid = lay_out(asked(of, pack(*bodies), installation).requirements, installation)

    assert [49.0, 46.0] == pytest.approx(margins(laid, one_place(0.0, 0.0))[0].tolist(), abs=EXACT_M)
    assert 5.0 == laid.reach_m


# --- the shortest line ---


def test_the_shortest_line_runs_from_edge_to_edge():
    """A pit of radius 1 and a well of radius 2 at 3-4-5: from 1 m to 48 m along the line of centres."""
    start, end = nearest_line(disc(2.0), Point(0, 0), Point(30, 40), 2.0)

    assert [0.6, 0.8] == pytest.approx(start.tolist(), abs=EXACT_M)
    assert [28.8, 38.4] == pytest.approx(end.tolist(), abs=EXACT_M)


@pytest.mark.parametrize("apart_m", [0.0, 0.5, 2.9])
def test_the_shortest_line_of_overlapping_discs_runs_between_their_centres(apart_m):
    """There is no edge between; it never turns back on itself."""
    start, end = nearest_line(disc(2.0), Point(0, 0), Point(apart_m, 0), 2.0)

    assert ([0.0, 0.0], [apart_m, 0.0]) == (start.tolist(), end.tolist())


# --- how fast a margin may change ---


@held(
    what=shapes,
    pit=outlines,
    one=places,
    other=places,
    body=st.sampled_from([AWAY, NEAR, INSIDE]),
    share=st.floats(0, 1),
)
def test_a_margin_changes_no_faster_than_one_walks_and_turns(what, pit, one, other, body, share):
    """By the metres walked, the chord a corner moves, and a millimetre where edges begin to overlap.

    The proof of the best place rests on it.
    """
    kind = {AWAY: "ward", NEAR: "ward", INSIDE: "boundary"}[body]
    what = what.buffer(5.0) if kind == "boundary" and what.area == 0.0 else what
    other = tuple(a + share * (b - a) for a, b in zip(one, other, strict=True))
    here, there = (_margin(body.format(10), feature(kind, "It", what), new(pit=pit), at) for at in (one, other))
    walked_m = hypot(other[0] - one[0], other[1] - one[1])
    chord_m = 2.0 * pit.reach_m * abs(sin(radians(other[2] - one[2]) / 2.0))
    jump_m = 0.0 if pit.is_disc else JUMP_M

    assert abs(there - here) <= walked_m + chord_m + jump_m + EXACT_M


@pytest.mark.slow
def test_a_margin_changes_no_faster_on_many_more_cases():
    """The same on hundreds of cases."""
    test_a_margin_changes_no_faster_than_one_walks_and_turns.thorough()


def test_the_reach_of_an_outline_counts_its_corners_and_not_its_radius():
    """Turning a disc moves nothing; a rectangle moves its corners."""
    assert 0.0 == disc(3.0).reach_m
    assert sqrt(13.0) == pytest.approx(rectangle(4.0, 6.0).reach_m)
    assert 0.0 == Outline(geometry=Point(0.0, 0.0)).reach_m
