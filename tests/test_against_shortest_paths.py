"""Shortest ways held to the published fixtures of open libraries, and to one of those libraries itself.

Sources (each seen, coordinates and lengths only, all recomputed by an independent visibility graph to 1e-9):
- P, O, G, S: extremitypathfinder (J. Michelfeit, MIT), tests/test_cases.py;
- square with a notched hole: shortest-path-polygon-area (Kouty), test/ShortestPath.test.js;
- square with a square hole: polygon_coverage_planning (ETH Zurich, ASL), visibility_graph-test.cpp.
"""

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from siting.routes import lengths_from, route

ROUNDING_M = 1e-9
"The fixtures carry 15 digits; coordinates are kept to a nanometre, so corners off that grid may move by one."

P = Polygon([(0, 0), (10, 0), (9, 5), (10, 10), (0, 10)], [[(3, 7), (5, 9), (4.6, 7), (5, 4)]])
P_WAYS = [
    ((9.1, 4), (9.1, 6), 2.009975124224178),
    ((4, 4.5), (6, 4.5), 2.23606797749979),
    ((4, 8.5), (6, 8.5), 2.23606797749979),
    ((9, 4), (9, 6), 2.0),
]

O_EDGE = Polygon(
    [
        (9.5, 10.5), (25.5, 10.5), (25.5, 0.5), (49.5, 0.5), (49.5, 49.5), (0.5, 49.5), (0.5, 16.5), (9.5, 16.5),
        (9.5, 45.5), (10, 45.5), (10, 30.5), (35.5, 30.5), (35.5, 14.5), (0.5, 14.5), (0.5, 0.5), (9.5, 0.5),
    ]
)  # fmt: skip
O_HOLES = [
    shapely.box(29.5, 4.5, 40.5, 15),
    Polygon([(45.4, 14.5), (44.6, 14.5), (43.4, 20.5), (46.6, 20.5)]),
    shapely.box(10.5, 34, 40, 40),
    shapely.box(5, 34, 9, 40),
    Polygon(
        [
            (31.5, 5.390098048839718), (31.5, 10.909901951439679),
            (42.5, 13.109901951160282), (42.5, 7.590098048560321),
        ]
    ),
]  # fmt: skip
O_GROUND = O_EDGE.difference(shapely.union_all(O_HOLES))
O_WAYS = [
    ((1, 1), (5, 20), 138.23115155299263),
    ((2, 38), (45, 45), 46.11017296417249),
    ((2, 38), (45, 2), 77.99506635830616),
    ((2, 38), (38, 2), 79.34355163003127),
    ((2, 38), (28, 2), 88.55556650808049),
]

G_CELLS = [
    *((column, 1) for column in range(4)),
    *((17, row) for row in range(6)),
    *((17, row) for row in range(7, 10)),
    *((5, 5), (5, 6), (6, 6), (6, 7), (7, 7), (7, 5)),
]
G = shapely.box(0, 0, 19, 10).difference(shapely.union_all([shapely.box(x, y, x + 1, y + 1) for x, y in G_CELLS]))
G_WAYS = [
    ((0.5, 6), (18.5, 0.5), 23.18783787537749),
    ((0.5, 6), (9, 5.5), 8.727806217396338),
    ((0.5, 6), (18.5, 9), 19.869364068640845),
    ((6.9, 4), (7, 9), 5.830925564196269),
    ((6.5, 4), (7, 9), 5.889979937555021),
    ((0.5, 0.5), (0.5, 2.5), 8.071067811865476),
    ((16.5, 0.5), (18.5, 0.5), 12.045361017187261),
    ((16.5, 9.5), (18.5, 9.5), 6.0990195135927845),
    ((6.5, 5.5), (7.5, 6.5), 1.4142135623730951),
]
"The last one runs through the point where two cells touch: in plan that is ground."


@pytest.mark.parametrize(
    ("ground", "start", "end", "length"),
    [(name, *way) for name, ways in (("P", P_WAYS), ("O", O_WAYS), ("G", G_WAYS)) for way in ways],
)
def test_lengths_of_the_fixtures(ground, start, end, length):
    """Each published length, there and back."""
    free = {"P": P, "O": O_GROUND, "G": G}[ground]

    assert length == pytest.approx(route(free, start, end).length_m, abs=ROUNDING_M)
    assert length == pytest.approx(route(free, end, start).length_m, abs=ROUNDING_M)


def test_bends_of_the_fixtures():
    """The corners that the published ways pass."""
    assert ((9.1, 4.0), (9.0, 5.0), (9.1, 6.0)) == route(P, (9.1, 4), (9.1, 6)).points
    assert ((4.0, 4.5), (5.0, 4.0), (6.0, 4.5)) == route(P, (4, 4.5), (6, 4.5)).points
    assert ((4.0, 8.5), (5.0, 9.0), (6.0, 8.5)) == route(P, (4, 8.5), (6, 8.5)).points


def test_a_way_may_bend_where_two_cells_touch():
    """On the ground of G: in by the point (7, 6) between two cells and sharply on (own, two straight legs)."""
    way = route(G, (6.1, 5.2), (7.1, 6.9))

    assert np.hypot(0.9, 0.8) + np.hypot(0.1, 0.9) == pytest.approx(way.length_m, abs=ROUNDING_M)
    assert (7.0, 6.0) == way.points[1]


def test_a_bar_across_the_whole_ground_leaves_no_way():
    """S: the hole sticks out of the square on both sides."""
    bar = Polygon([(-5.1, 1), (-5.1, 2), (5.1, 2), (5.1, 1)])

    assert route(shapely.box(-5, -5, 5, 5).difference(bar), (0, 0), (0, 4)) is None


def test_a_notched_hole():
    """Square of 10 with a hole (4,4)(4,6)(5,5)(5,4): by the corner (5,4), length 5 + sqrt(41)."""
    free = Polygon(shapely.box(0, 0, 10, 10).exterior, [[(4, 4), (4, 6), (5, 5), (5, 4)]])

    way = route(free, (1, 1), (9, 9))

    assert 11.403124237 == pytest.approx(way.length_m, abs=1e-9)
    assert (5.0, 4.0) == way.points[1]


def test_a_square_hole():
    """Square of 2 with a hole [0.5, 1] x [1.25, 1.75], corner to corner by (0.5, 1.25)."""
    free = shapely.box(0, 0, 2, 2).difference(shapely.box(0.5, 1.25, 1, 1.75))

    way = route(free, (0, 2), (2, 0))

    assert 2.853950238 == pytest.approx(way.length_m, abs=1e-9)
    assert (0.5, 1.25) == way.points[1]


def random_ground(rng):
    """A convex plot with star-shaped holes that keep apart."""
    holes = []
    while len(holes) < 6:
        x, y = rng.uniform(12, 88, 2)
        if all(np.hypot(x - a, y - b) > 18.5 for a, b, _ in holes):
            angles = np.sort(rng.uniform(0, 2 * np.pi, 8))
            if np.diff(angles, append=angles[0] + 2 * np.pi).max() < np.pi * 0.9:
                reach = rng.uniform(3, 9, 8)
                holes.append((x, y, np.c_[x + reach * np.cos(angles), y + reach * np.sin(angles)]))
    return [(0, 0), (100, 0), (100, 100), (0, 100)], [hole for _, _, hole in holes]


@pytest.mark.parametrize("seed", range(8))
def test_agreement_with_a_second_library(seed):
    """Random holes: extremitypathfinder (MIT) finds the same lengths, by another method."""
    finder = pytest.importorskip("extremitypathfinder").PolygonEnvironment()
    rng = np.random.default_rng(seed)
    edge, holes = random_ground(rng)
    free = Polygon(edge, holes)
    points = [tuple(p) for p in rng.uniform(1, 99, (60, 2)) if free.contains(shapely.Point(p))][:6]
    # The library wants the edge counterclockwise and holes clockwise.
    finder.store(edge, [hole[::-1] for hole in holes], validate=False)
    finder.prepare()

    theirs = [finder.find_shortest_path(points[0], end)[1] for end in points[1:]]

    assert theirs == pytest.approx(lengths_from(free, points[0], np.array(points[1:])).tolist(), abs=1e-8)
