"""Walking ground and the shortest ways over it, held to closed forms and to properties."""

import math
from time import perf_counter

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from siting.errors import InputError
from siting.routes import BARRIER_M, Gate, lengths_from, route, routes_from, walking_ground, way_out

ROUNDING_M = 1e-8
LAND = shapely.box(0, 0, 40, 40)
BLOCK = shapely.box(10, 10, 20, 30)
"A building in the middle of the land."


def test_a_clear_way_is_straight():
    """Nothing in the way: start, end, and the distance between them."""
    way = route(LAND, (1, 1), (4, 5))

    assert ((1.0, 1.0), (4.0, 5.0)) == way.points
    assert 5.0 == pytest.approx(way.length_m, abs=ROUNDING_M)
    assert math.degrees(math.atan2(3, 4)) == pytest.approx(way.bearings_deg[0])


def test_a_way_bends_at_the_corners_of_a_building():
    """From one side of a block to the other: round the nearer end, by both its corners."""
    way = route(LAND.difference(BLOCK), (5, 28), (25, 28))

    assert ((5.0, 28.0), (10.0, 30.0), (20.0, 30.0), (25.0, 28.0)) == way.points
    assert 10.0 + 2.0 * math.hypot(5, 2) == pytest.approx(way.length_m, abs=ROUNDING_M)


def test_a_way_out_of_a_building_leaves_square_to_its_edge():
    """The door is not known: the nearest point of the edge, here straight east of the middle of a wall."""
    way = route(LAND.difference(BLOCK), BLOCK, (27, 15))

    assert ((20.0, 15.0), (27.0, 15.0)) == way.points
    assert 7.0 == way.length_m


def test_a_way_out_of_a_building_leaves_by_the_edge_that_sees():
    """The nearest edge looks on a wall: the way leaves round the wall's end, from the corner of the building."""
    wall = shapely.box(22, 0, 23, 38)

    way = route(LAND.difference(shapely.union_all([BLOCK, wall])), BLOCK, (25, 15))

    corner_to_wall, wall_to_end = math.hypot(2, 8), math.hypot(2, 23)
    assert ((20.0, 30.0), (22.0, 38.0), (23.0, 38.0), (25.0, 15.0)) == way.points
    assert corner_to_wall + 1.0 + wall_to_end == pytest.approx(way.length_m, abs=ROUNDING_M)


def test_a_built_up_edge_is_no_way_out():
    """Another building stands against the edge that faces the place: the way starts where that edge is open."""
    against = shapely.box(20, 10, 22, 26)
    ground = LAND.difference(shapely.union_all([BLOCK, against]))

    way = route(ground, BLOCK, (30, 26))

    assert ((20.0, 26.0), (30.0, 26.0)) == way.points


def test_a_start_in_the_open_counts_from_its_edge():
    """A waiting area that may be walked through: from its edge, and zero inside it."""
    waiting = shapely.box(2, 2, 8, 8)

    assert 4.0 == route(LAND, waiting, (12, 5)).length_m
    assert 0.0 == route(LAND, waiting, (5, 5)).length_m


def test_no_way_is_no_number():
    """A closed yard, a place inside a building, and a place off the land."""
    yard = LineString([(30, 30), (38, 30), (38, 38), (30, 38), (30, 30)])
    ground = walking_ground(LAND, [BLOCK], barriers=[yard])

    lengths = lengths_from(ground.free, (1, 1), np.array([(34, 34), (15, 20), (50, 50), (35, 5)]))

    assert [np.inf, np.inf, np.inf] == lengths[:3].tolist()
    assert math.hypot(34, 4) == pytest.approx(lengths[3], abs=ROUNDING_M)


def test_a_gate_opens_a_fence_by_its_width():
    """Straight through a gate that faces the way; without it, round the end of the fence."""
    fence = LineString([(0, 20), (30, 20)])
    shut = walking_ground(LAND, barriers=[fence])
    open_ = walking_ground(LAND, barriers=[fence], gates=[Gate(x_m=10, y_m=20, width_m=1.2)])

    assert 20.0 == pytest.approx(route(open_.free, (10, 10), (10, 30)).length_m, abs=ROUNDING_M)
    end, half = 30.0 + BARRIER_M / 2, BARRIER_M / 2
    assert 2 * math.hypot(end - 10, 10 - half) + BARRIER_M == pytest.approx(
        route(shut.free, (10, 10), (10, 30)).length_m, abs=ROUNDING_M
    )
    beside = route(open_.free, (7, 19), (7, 21))
    corner_m = 10.0 - math.sqrt(0.6**2 - half**2) - 7.0
    assert 2 * math.hypot(corner_m, 1 - half) + BARRIER_M == pytest.approx(beside.length_m, abs=0.001)


def test_a_gate_that_stands_on_no_fence_is_told():
    """It opens nothing, and nobody has to guess."""
    off = Gate(x_m=10, y_m=25, width_m=1.2)

    ground = walking_ground(LAND, barriers=[LineString([(0, 20), (40, 20)])], gates=[off])

    assert (off,) == ground.idle_gates
    assert route(ground.free, (10, 10), (10, 30)) is None


def test_a_gate_needs_a_width():
    """Zero is refused in three parts."""
    with pytest.raises(InputError) as caught:
        Gate(x_m=0, y_m=0, width_m=0.0)

    assert "width_m above zero" == caught.value.faults[0].needed


@pytest.mark.parametrize(("gap_m", "bends"), [(0.0, True), (0.1, True), (0.5, True), (0.7, False)])
def test_a_gap_too_narrow_to_walk_through_is_closed_and_listed(gap_m, bends):
    """A fence drawn short of a building by less than a passage; a wider gap is walked through."""
    fence = LineString([(0, 20), (10 - gap_m, 20)])

    ground = walking_ground(LAND, [BLOCK], barriers=[fence])
    way = route(ground.free, (9.8 - gap_m / 2, 15), (9.8 - gap_m / 2, 25))

    assert bends is (way.length_m > 20.0)
    assert [gap_m] * (gap_m > 0 and bends) == [round(line.length, 9) for line in ground.closed_gaps]


def test_a_fence_short_of_one_building_at_both_ends_is_closed_at_both():
    """A yard against a wall: neither end lets anyone in."""
    fence = LineString([(20.2, 12), (26, 12), (26, 20), (20.2, 20)])

    ground = walking_ground(LAND, [BLOCK], barriers=[fence])

    assert route(ground.free, (35, 15), (23, 15)) is None
    assert route(walking_ground(LAND, [BLOCK], barriers=[fence], passage_m=0.1).free, (35, 15), (23, 15))


def test_a_ring_of_fence_drawn_not_quite_closed_is_closed():
    """Its two ends 0.1 m apart."""
    fence = LineString([(25, 5), (35, 5), (35, 9), (25, 9), (25, 5.1)])

    assert route(walking_ground(LAND, barriers=[fence]).free, (1, 1), (30, 7)) is None


def test_two_buildings_that_touch_at_a_corner_let_nobody_through():
    """In plan the corner is a passage of no width; on the ground it is none."""
    pair = [shapely.box(0, 0, 20, 20), shapely.box(20, 20, 40, 40)]

    assert route(walking_ground(LAND, pair).free, (10, 30), (30, 10)) is None
    assert math.hypot(20, 20) == pytest.approx(
        route(walking_ground(LAND, pair, passage_m=0.0).free, (10, 30), (30, 10)).length_m
    )


def test_a_way_bends_either_way_where_two_grounds_touch_in_a_point():
    """In plan alone: both grounds have a plain right angle there, and still the way turns at it."""
    free = LAND.difference(shapely.union_all([shapely.box(0, 0, 20, 20), shapely.box(20, 20, 40, 40)]))

    for end in ((35, 15), (24, 2)):
        way = route(free, (10, 30), end)
        assert (20.0, 20.0) == way.points[1]
        assert math.hypot(10, 10) + math.dist((20, 20), end) == pytest.approx(way.length_m, abs=ROUNDING_M)


def test_a_room_inside_a_building_is_left_by_its_doors_or_by_its_edge():
    """A point in the plan of a building; a door 0.2 m off its wall counts, one elsewhere does not."""
    assert BLOCK == way_out(Point(12, 12), [BLOCK])
    assert [(10.0, 12.0)] == [(p.x, p.y) for p in way_out(Point(12, 12), [BLOCK], doors=[(9.8, 12), (30, 30)]).geoms]
    assert Point(5, 5) == way_out(Point(5, 5), [BLOCK], doors=[(9.8, 12)])
    assert BLOCK == way_out(BLOCK, [LAND.buffer(10), BLOCK])


def test_many_ends_give_what_each_gives_alone():
    """One search or many: the same lengths."""
    ground = yard(seed=3, count=15)
    ends = np.array([(x + 0.5, y + 0.5) for x in range(0, 40, 8) for y in range(0, 40, 8)])

    together = lengths_from(ground, BLOCK, ends)
    alone = [lengths_from(ground, BLOCK, end[None])[0] for end in ends]

    assert alone == pytest.approx(together.tolist(), abs=ROUNDING_M)


def yard(*, seed: int, count: int, size_m: float = 40.0) -> Polygon:
    """Land with turned boxes in the way, some overlapping, and the block among them."""
    rng = np.random.default_rng(seed)
    boxes = [
        affinity.rotate(shapely.box(x, y, x + w, y + h), turn)
        for x, y, w, h, turn in rng.uniform([0, 0, 1, 1, 0], [size_m, size_m, 6, 6, 90], (count, 5))
    ]
    return shapely.box(0, 0, size_m, size_m).difference(shapely.union_all([BLOCK, *boxes]))


def every_pair(ground, start, end):
    """The shortest way over all pairs of all corners: slow, and nothing left out."""
    xy = np.vstack([start, end, np.unique(shapely.get_coordinates(ground), axis=0)])
    i, k = np.triu_indices(len(xy), 1)
    seen = shapely.covers(ground.buffer(1e-7, join_style="mitre"), shapely.linestrings(np.stack([xy[i], xy[k]], 1)))
    step = np.full((len(xy), len(xy)), np.inf)
    step[i[seen], k[seen]] = step[k[seen], i[seen]] = np.hypot(*(xy[i] - xy[k]).T)[seen]
    length = step[0]
    for _ in xy:
        length = np.minimum(length, (length[:, None] + step).min(axis=0))
    return length[1]


@pytest.mark.parametrize("seed", range(12))
def test_leaving_corners_out_loses_no_way(seed):
    """Only tangents round the bend are tried; trying every pair of corners finds nothing shorter."""
    ground = yard(seed=seed, count=14)
    rng = np.random.default_rng(100 + seed)
    points = [p for p in rng.uniform(0, 40, (60, 2)) if ground.contains(Point(p))][:4]

    for start, end in zip(points[::2], points[1::2], strict=True):
        assert every_pair(ground, start, end) == pytest.approx(
            lengths_from(ground, tuple(start), end[None])[0], abs=ROUNDING_M
        )


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 500), turn_deg=st.floats(0, 360), east_m=st.floats(-3000, 3000))
def test_turning_and_moving_the_ground_changes_no_length(seed, turn_deg, east_m):
    """A walk is as long wherever the plan lies."""
    ground = yard(seed=seed, count=10)
    start, ends = Point(0.3, 0.2), np.array([(39.5, 39.7), (39.1, 0.6)])

    def moved(geometry):
        return affinity.translate(affinity.rotate(geometry, turn_deg, origin=(0, 0)), east_m, -east_m)

    ends_moved = shapely.get_coordinates(moved(shapely.multipoints(ends)))
    here, there = lengths_from(ground, start, ends), lengths_from(moved(ground), moved(start), ends_moved)
    assert here.tolist() == pytest.approx(there.tolist(), abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 500))
def test_a_way_is_walkable_and_no_shorter_than_the_straight_line(seed):
    """Every leg lies on the ground, the legs add up, and a further obstacle never shortens a walk."""
    ground = yard(seed=seed, count=12)
    end = (39.5, 39.7)
    way = route(ground, (0.3, 0.2), end)
    fewer = route(yard(seed=seed, count=8), (0.3, 0.2), end)
    if way is None:
        return

    assert ground.buffer(1e-5).covers(way.line)
    assert way.line.length == pytest.approx(way.length_m, abs=ROUNDING_M)
    assert way.length_m >= math.dist((0.3, 0.2), end) - ROUNDING_M
    assert fewer.length_m <= way.length_m + ROUNDING_M


def test_three_hundred_obstacles_and_five_ends_are_quick():
    """A large compound: well under a second, also on a slow machine (0.22 s where it was written)."""
    rng = np.random.default_rng(1)
    boxes = [
        affinity.rotate(shapely.box(x, y, x + w, y + h), turn)
        for x, y, w, h, turn in rng.uniform([5, 5, 4, 4, 0], [385, 385, 14, 14, 90], (300, 5))
    ]
    ground = walking_ground(shapely.box(0, 0, 400, 400), boxes).free
    ends = np.array([p for p in rng.uniform(0, 400, (40, 2)) if ground.contains(Point(p))][:5])

    began = perf_counter()
    ways = routes_from(ground, boxes[0], ends)
    took_s = perf_counter() - began

    assert 5 == sum(way is not None for way in ways)
    assert took_s < 1.0
