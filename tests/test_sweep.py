"""Shapes swept by shapes, and how far a buffer has to be drawn outward."""

from math import cos, pi, radians, sin

import pytest
import shapely
from shapely import affinity
from shapely.geometry import GeometryCollection, LineString, MultiPoint, Point, Polygon

from siting.sweep import convex_pieces, outward, swept, swept_pieces

ROUNDING_M, ROUNDING_M2 = 1e-9, 1e-9
UNIT = shapely.box(0.0, 0.0, 1.0, 1.0)
L_SHAPE = Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
RING = Polygon(shapely.box(0, 0, 20, 20).exterior, [shapely.box(5, 5, 15, 15).exterior.coords])


@pytest.mark.parametrize("quad_segs", [8, 16, 32, 64])
@pytest.mark.parametrize("turn_deg", [0.0, 1.0, 4.2, 8.4, 16.8, 20.0, 30.0, 77.0, 90.0, 179.0])
def test_a_buffer_drawn_outward_covers_the_true_zone(quad_segs, turn_deg):
    """No place outside it is nearer than 30 m to a ditch that turns, and few beyond are taken.

    A turn that is one and a half pieces wide is drawn as one piece: the worst case for its width.
    """
    turn = radians(turn_deg)
    ditch = LineString([(-100, 0), (0, 0), (100 * cos(turn), 100 * sin(turn))])
    edge = ditch.buffer(30.0 * outward(quad_segs), quad_segs=quad_segs).boundary

    assert 30.0 - ROUNDING_M <= shapely.distance(edge, ditch)
    assert outward(quad_segs) <= 1.0 + 0.71 / quad_segs**2


@pytest.mark.parametrize(
    "geometry",
    [
        Point(1, 2),
        MultiPoint([(0, 0), (3, 4)]),
        LineString([(0, 0), (10, 0), (10, 5)]),
        RING.exterior,
        UNIT,
        L_SHAPE,
        RING,
        GeometryCollection([UNIT, Point(5, 5), LineString([(0, 0), (3, 3)])]),
    ],
    ids=lambda geometry: geometry.geom_type,
)
def test_convex_pieces_make_up_the_geometry(geometry):
    """Every piece is its own hull, and together they are the geometry, no more and no less."""
    pieces = convex_pieces(geometry)

    assert all(piece.equals(piece.convex_hull) for piece in pieces)
    assert shapely.union_all(shapely.get_parts(geometry)).equals(shapely.union_all(pieces))


def test_a_convex_polygon_is_left_whole():
    """Triangles of a convex shape would only cost time."""
    assert [UNIT] == convex_pieces(UNIT)
    assert 1 < len(convex_pieces(L_SHAPE))


@pytest.mark.parametrize(
    ("geometry", "area"),
    [
        (Point(50, 50), 1.0),
        (LineString([(0, 0), (10, 0)]), 11.0),
        (LineString([(0, 0), (10, 0), (10, 10)]), 11.0 + 11.0 - 1.0),
        (shapely.box(0, 0, 4, 2), 5.0 * 3.0),
        (L_SHAPE, 21.0 * 21.0 - 10.0 * 10.0),
        (RING, 21.0 * 21.0 - 9.0 * 9.0),
        (MultiPoint([(0, 0), (100, 0)]), 2.0),
    ],
    ids=str,
)
def test_a_shape_swept_by_a_unit_square_grows_by_one_each_way(geometry, area):
    """Own closed forms: a hole of 10 shrinks to 9, the notch of an L keeps its corner."""
    assert area == pytest.approx(swept(geometry, UNIT).area, abs=ROUNDING_M2)


def test_pieces_overlap_and_add_up_to_the_sum():
    """The pieces may overlap; their union is what `swept` gives."""
    pieces = swept_pieces(L_SHAPE, UNIT)

    assert len(convex_pieces(L_SHAPE)) == len(pieces)
    assert swept(L_SHAPE, UNIT).equals(shapely.union_all(pieces))


def test_sweeping_with_a_many_sided_disc_is_a_buffer():
    """A + P r + pi r^2 to the roundness of the disc (Steiner)."""
    disc = Point(0, 0).buffer(2.0, quad_segs=64)
    box = affinity.rotate(shapely.box(0, 0, 10, 20), 33.0)

    assert 200.0 + 60.0 * 2.0 + pi * 4.0 == pytest.approx(swept(box, disc).area, rel=1e-4)
