"""Inscribed and empty circles, swept areas, buffers and plots, against closed forms and published fixtures.

own: constructed for this project, closed form given, agreed with an independent computation.
JTS / GEOS: coordinates and radii of the fixtures `MaximumInscribedCircleTest` and `LargestEmptyCircleTest`
of the open geometry libraries JTS (locationtech/jts, commits 5b7fdbb5 and 07178029) and GEOS (libgeos/geos,
15102e99 and 03a63eba), seen; their radii are printed to 0.001 to 0.02, the digits beyond are own.
"""

from math import acos, cos, pi, radians, sin, sqrt, tan

import pytest
import shapely
from conftest import asked, feature, new, pack, plot, site
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from siting.candidates import best_places
from siting.feasible import feasible_ground
from siting.installation import disc, rectangle
from siting.sweep import swept

INSIDE = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"'
APART = 'for = ["pit"]\nfrom = ["well", "stream"]\nat_least_m = 0'
ROUNDING = 1e-6
"The digits shown."
PLACE_SHARE = 0.02
"A place within the gap of the best margin lies this near, where depth falls off on every side."
SHARE = 0.002
"Zones are drawn outward: never smaller than the exact one, and at most 0.2 % larger."


def _best(land, *things, bodies=(INSIDE,), share=2e-4):
    """The best place for a point, to within a share of the size of the land."""
    of = site(plot(land), *things)
    gap_m = share * sqrt(land.area)
    best, *_ = best_places(asked(of, pack(*bodies), new()).requirements, new(), land, count=1, gap_m=gap_m)
    assert best.bound_m - best.margin_m <= gap_m
    return best


def _holds(radius, best):
    """The true optimum lies between the place found and its bound."""
    assert best.margin_m - ROUNDING <= radius <= best.bound_m + ROUNDING


# --- largest inscribed circle ---

L_SHAPE = Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
HEXAGON = Polygon([(10 * cos(radians(60 * k)), 10 * sin(radians(60 * k))) for k in range(6)])
KITE = [(100, 0), (200, 200), (300, 200), (300, 100)]
INSCRIBED = [
    ("square 10", shapely.box(0, 0, 10, 10), 5.0, (5, 5)),  # own
    ("rectangle 20 x 10", shapely.box(0, 0, 20, 10), 5.0, None),  # own; anywhere on the middle line
    ("triangle 3-4-5", Polygon([(0, 0), (4, 0), (0, 3)]), 1.0, (1, 1)),  # own, r = 2 A / P
    ("triangle 13-14-15", Polygon([(0, 0), (14, 0), (5, 12)]), 4.0, (6, 4)),  # own, r = 2 A / P
    ("equilateral, side 6", Polygon([(0, 0), (6, 0), (3, 3 * sqrt(3))]), sqrt(3), (3, sqrt(3))),  # own
    ("hexagon, side 10", HEXAGON, 5 * sqrt(3), (0, 0)),  # own
    ("rhombus, diagonals 8 and 6", Polygon([(4, 0), (0, 3), (-4, 0), (0, -3)]), 2.4, (0, 0)),  # own
    ("trapezium", Polygon([(0, 0), (18, 0), (13, 12), (5, 12)]), 6.0, (9, 6)),  # own
    ("L of 20", L_SHAPE, 10 * (2 - sqrt(2)), (5.857864, 5.857864)),  # own
    ("triangle", Polygon([(1, 1), (1, 7), (9, 1)]), 2.0, (3, 3)),  # JTS
    ("sharp triangle", Polygon([(1, 1), (1, 9), (2, 2)]), 0.4852814, (1.485281, 2.171573)),  # JTS
    ("square 100 to 200", shapely.box(100, 100, 200, 200), 50.0, (150, 150)),  # JTS, GEOS
    ("wedge", Polygon([(1, 2), (9, 3), (9, 1), (1, 1)]), 0.9377423, (8.062258, 1.937742)),  # JTS
    # JTS, GEOS
    ("diamond", Polygon([(150, 250), (50, 150), (150, 50), (250, 150)]), 50 * sqrt(2), (150, 150)),
    ("chevron", Polygon([(1, 1), (6, 9), (3.7, 2.5), (9, 1)]), 1.0084405, (2.819476, 2.008441)),  # JTS
    ("fat chevron", Polygon([(1, 1), (6, 9), (5.9, 5), (9, 1)]), 2.0809458, (4.7545, 3.0809)),  # JTS
    ("kite", Polygon(KITE), 100 * 2 / (1 + sqrt(5)), (238.196601, 138.196601)),  # JTS
    # JTS
    ("kite with a hole", Polygon(KITE, [[(200, 150), (200, 100), (260, 100)]]), 42.5300043, (257.47, 157.47)),
    (
        "the larger of two kites",  # JTS, GEOS
        shapely.union_all(
            [Polygon([(400, 250), (300, 150), (400, 50), (560, 150)]),
             Polygon([(900, 250), (860, 210), (900, 170), (940, 210)])]
        ),
        78.7637773,
        (411.388802, 150),
    ),
    # JTS
    ("a corner in a straight line", Polygon([(1, 5), (5, 5), (9, 5), (5, 1)]), 1.6568542, (5, 3.343146)),
    # JTS, GEOS
    ("a many-sided disc", Point(100, 100).buffer(100, quad_segs=20), 100 * cos(pi / 80), (100, 100)),
]  # fmt: skip


@pytest.mark.parametrize(("land", "radius", "centre"), [row[1:] for row in INSCRIBED], ids=[r[0] for r in INSCRIBED])
def test_the_place_deepest_inside_is_the_centre_of_the_largest_inscribed_circle(land, radius, centre):
    """The radius lies between margin and bound; where the centre is the only one, the place is near it."""
    best = _best(land)

    _holds(radius, best)
    if centre is not None:
        assert shapely.distance(Point(best.x_m, best.y_m), Point(centre)) <= PLACE_SHARE * sqrt(land.area)


@pytest.mark.parametrize(
    ("hole", "radius"),
    [
        (shapely.box(3, 3, 7, 7), 3 * sqrt(2) / (1 + sqrt(2))),
        (None, (5 * sqrt(2) - 3) / (1 + sqrt(2))),
    ],
    ids=["square hole", "disc"],
)
def test_four_corners_are_equally_good_around_an_obstacle_in_the_middle(hole, radius):
    """Square of 10 with a square of 4 or a disc of radius 3 in its middle (own)."""
    square = shapely.box(0, 0, 10, 10)
    if hole is None:
        best = _best(square, feature("well", "Disc", (5.0, 5.0), radius_m=3.0), bodies=(INSIDE, APART))
    else:
        best = _best(Polygon(square.exterior, [hole.exterior.coords]))

    _holds(radius, best)


# --- largest empty circle ---


def _points(*spots):
    return [feature("well", f"P{number}", spot) for number, spot in enumerate(spots)]


def _segments(*pairs):
    return [feature("stream", f"S{number}", LineString(pair)) for number, pair in enumerate(pairs)]


SQUARE_CORNERS = ((100.0, 100.0), (200.0, 100.0), (100.0, 200.0), (200.0, 200.0))
FOUR = (
    [(50, 100), (150, 50)], [(250, 50), (350, 100)], [(350, 150), (250, 200)], [(50, 150), (150, 200)],
)  # fmt: skip
EMPTY = [
    ("three points", _points((100.0, 100.0), (300.0, 100.0), (200.0, 250.0)), (200, 141.6667), 108.3333333),
    ("corners of a square", _points(*SQUARE_CORNERS), (150, 150), 50 * sqrt(2)),
    ("four segments", _segments(*FOUR), (200, 125), 90.138782),
]  # fmt: skip


@pytest.mark.parametrize(("things", "centre", "radius"), [row[1:] for row in EMPTY], ids=[row[0] for row in EMPTY])
def test_the_place_farthest_from_everything_is_the_centre_of_the_largest_empty_circle(things, centre, radius):
    """JTS, GEOS fixtures whose optimum lies within the hull of the obstacles; printed to 0.02."""
    hull = shapely.union_all([thing.geometry for thing in things]).convex_hull
    best = _best(hull, *things, bodies=(APART,))

    _holds(radius, best)
    assert shapely.distance(Point(best.x_m, best.y_m), Point(centre)) <= 0.5


def test_a_boundary_may_be_one_of_the_obstacles():
    """Square 1 to 9 with points (4, 3) and (7, 6): exactly 3 at (4, 6) (JTS, GEOS)."""
    best = _best(shapely.box(1, 1, 9, 9), *_points((4.0, 3.0), (7.0, 6.0)), bodies=(INSIDE, APART))

    _holds(3.0, best)
    assert (4.0, 6.0) == pytest.approx((best.x_m, best.y_m), abs=0.05)


# --- shapes swept by shapes ---

TRIANGLE = Polygon([(0, 0), (3, 0), (0, 4)])
SIDE = shapely.box(-1.5, -1.0, 1.5, 1.0)
SWEPT = [
    ("square 10 by 3 x 2", shapely.box(0, 0, 10, 10), 0.0, 13.0 * 12.0),
    ("triangle by 3 x 2", TRIANGLE, 0.0, 30.0),
    ("triangle by 3 x 2 turned by 30", TRIANGLE, 30.0, 32.0884573),
    ("hexagon by 3 x 2, long side along its corners", HEXAGON, 0.0, 357.7691454),
]


@pytest.mark.parametrize(("shape", "turn", "area"), [row[1:] for row in SWEPT], ids=[row[0] for row in SWEPT])
def test_a_convex_shape_swept_by_a_rectangle_has_its_area(shape, turn, area):
    """A(P) + a b + a w + b w', with the widths of P across the sides a and b (own)."""
    assert area == pytest.approx(swept(shape, affinity.rotate(SIDE, turn)).area, abs=1e-6)


# --- ground that is left ---

WIDE = shapely.box(-200, -200, 300, 300)


def _left(land, *things, body, installation):
    requirements = asked(site(plot(land), *things), pack(*body), installation).requirements
    return feasible_ground(requirements, installation, land, confidence=0.95).nominal.area


def _away(limit_m):
    return f'for = ["pit"]\nfrom = ["ward", "well", "stream"]\nat_least_m = {limit_m}'


BUFFERS = [
    ("rectangle 10 x 20, 5 m", shapely.box(0, 0, 10, 20), 5, 578.5398163),
    ("rectangle 8 x 12, 30 m", shapely.box(0, 0, 8, 12), 30, 4123.4333882),
    ("triangle 3-4-5, 2 m", Polygon([(0, 0), (4, 0), (0, 3)]), 2, 42.5663706),
]


@pytest.mark.parametrize(("shape", "limit_m", "area"), [row[1:] for row in BUFFERS], ids=[row[0] for row in BUFFERS])
def test_a_zone_around_a_convex_building_has_its_area_and_a_little_more(shape, limit_m, area):
    """A + P r + pi r^2 (Steiner; own)."""
    taken = WIDE.area - _left(WIDE, feature("ward", "Ward", shape), body=[_away(limit_m)], installation=new())

    assert area <= taken <= area * (1.0 + SHARE)


def test_a_zone_along_a_ditch_has_its_area_and_a_little_more():
    """2 L r + pi r^2 for a segment of 100 m at 30 m (own)."""
    ditch = feature("stream", "Ditch", LineString([(0, 0), (100, 0)]))
    taken = WIDE.area - _left(WIDE, ditch, body=[_away(30)], installation=new())

    assert 8827.4333882 <= taken <= 8827.4333882 * (1.0 + SHARE)


def test_a_pit_of_corners_beside_a_round_well_sweeps_its_rectangle_round_it():
    """Disc of radius 5 and a pit of 3 by 2 m: 25 pi + 30 + 20 + 6 (own)."""
    well = feature("well", "Well", (50.0, 50.0), radius_m=5.0)
    installation = new(pit=rectangle(3.0, 2.0), orientation_deg=20.0)
    taken = WIDE.area - _left(WIDE, well, body=[_away(0)], installation=installation)

    assert 134.5398163 <= taken <= 134.5398163 * (1.0 + SHARE)


@pytest.mark.parametrize(
    ("land", "limit_m", "area"),
    [
        (shapely.box(0, 0, 60, 40), 5, 1500.0),
        (Polygon([(0, 0), (40, 0), (0, 30)]), 4, 600.0 * (1.0 - 4.0 / 10.0) ** 2),
    ],
    ids=["rectangle 60 x 40", "triangle 30-40-50"],
)
def test_the_ground_within_a_setback_has_its_area_and_a_little_less(land, limit_m, area):
    """A convex plot set back on all sides (own)."""
    left = _left(land, body=[f"{INSIDE}\nat_least_m = {limit_m}"], installation=new())

    assert area * (1.0 - SHARE) <= left <= area


PLOT = shapely.box(0, 0, 100, 80)
PLOTS = [
    ("well in the middle", 5, (50.0, 40.0), 6300.0 - 900.0 * pi),
    ("well at a corner", 0, (0.0, 0.0), 8000.0 - 225.0 * pi),
    ("well on the line", 5, (50.0, 0.0), 6300.0 - (900.0 * acos(1.0 / 6.0) - 5.0 * sqrt(875.0))),
]


@pytest.mark.parametrize(("setback_m", "well", "area"), [row[1:] for row in PLOTS], ids=[row[0] for row in PLOTS])
def test_a_plot_with_a_well_leaves_its_area_and_a_little_less(setback_m, well, area):
    """100 by 80 m, set back, less a disc of 30 m round the well (own): never more than is there."""
    of = feature("well", "Well", well)
    left = _left(PLOT, of, body=[f"{INSIDE}\nat_least_m = {setback_m}", _away(30)], installation=new())

    assert area * (1.0 - SHARE) <= left <= area


@pytest.mark.parametrize(
    ("radius_m", "apart_m", "union"), [(1.0, 1.0, 5.0548156), (30.0, 30.0, 2.0 * 900.0 * pi - 1105.5327287)]
)
def test_two_zones_that_overlap_are_taken_once(radius_m, apart_m, union):
    """Two discs less their overlap 2 r^2 acos(d / 2 r) - d/2 sqrt(4 r^2 - d^2) (own)."""
    wells = _points((0.0, 0.0), (apart_m, 0.0))
    taken = WIDE.area - _left(WIDE, *wells, body=[_away(0)], installation=new(pit=disc(2.0 * radius_m)))

    assert union <= taken <= union * (1.0 + SHARE)


# --- the best place for something that turns ---


def _turned(land, length_m, width_m, gap_m=0.02):
    installation = new(enclosure=rectangle(length_m, width_m))
    body = f'{INSIDE}\noutline = "enclosure"'
    asked_ = asked(site(plot(land)), pack(body), installation)
    best, *_ = best_places(asked_.requirements, installation, land, count=1, gap_m=gap_m)
    assert best.bound_m - best.margin_m <= gap_m
    return best


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 37.0, 45.0, 80.0])
def test_a_rectangle_lies_lengthwise_in_a_rectangle(turn_deg):
    """8 by 4 in 20 by 10 m: (10 - 4) / 2 = 3 m, since it is narrowest across the plot when parallel (own)."""
    best = _turned(affinity.rotate(shapely.box(-10, -5, 10, 5), -turn_deg), 8.0, 4.0)

    _holds(3.0, best)
    off_deg = (best.orientation_deg - 90.0 - turn_deg + 90.0) % 180.0 - 90.0
    assert 0.0 == pytest.approx(off_deg, abs=2.0)


@pytest.mark.parametrize(("length_m", "width_m"), [(6.0, 4.0), (12.0, 1.0), (5.0, 5.0)])
@pytest.mark.parametrize("turn_deg", [0.0, 25.0])
def test_a_rectangle_in_a_triangle_lies_along_one_of_its_sides(length_m, width_m, turn_deg):
    """Triangle 30-40-50, radius 10: margin = 10 (1 - s), s the least of a / side + b / height (own).

    A similar triangle round a rectangle turned by t has the scale s(t) = sum of side x support / (2 x area).
    It is concave in t between orientations at which two sides are parallel: so the least is at one of them.
    """
    triangle = affinity.rotate(Polygon([(0, 0), (40, 0), (0, 30)]), turn_deg, origin=(0, 0))
    scale = min(
        a / side + b / (2.0 * 600.0 / side)
        for side in (30.0, 40.0, 50.0)
        for a, b in ((length_m, width_m), (width_m, length_m))
    )

    _holds(10.0 * (1.0 - scale), _turned(triangle, length_m, width_m))


def test_a_square_in_a_disc_is_held_by_its_corners():
    """2 by 2 m in a disc of 10 m of radius: about 10 - sqrt(2) in the middle, any way turned (own)."""
    best = _turned(Point(0, 0).buffer(10.0, quad_segs=90), 2.0, 2.0, gap_m=0.05)

    assert 10.0 - sqrt(2.0) == pytest.approx(best.margin_m, abs=0.06)
    assert tan(radians(1.0)) > abs(best.x_m) / 10.0
