"""Shapes swept by shapes (Minkowski sums), exact for straight-edged ones.

Sweeping a feature by the reflected outline of a pit gives the places at which the outline would touch the feature.
"""

from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry


def outward(quad_segs: int) -> float:
    """How much longer a buffer has to be for its straight pieces to run outside the true arc.

    A buffer's corners lie on the arc and its edges inside it, short by r (1 - cos(pi / 4q)).
    Round a corner the turn is divided into the nearest whole number of pieces, so that one piece may be half as
    long again as that (a turn of 8.4 degrees stays one piece at 16 to the quarter): hence 1.5.
    """
    return float(1.0 / np.cos(1.5 * np.pi / (4.0 * quad_segs)))


def convex_pieces(geometry: BaseGeometry) -> list[BaseGeometry]:
    """Convex pieces whose union is the geometry: points, segments, and convex polygons or triangles."""
    pieces: list[BaseGeometry] = []
    for part in shapely.get_parts(geometry):
        if isinstance(part, Point):
            pieces.append(part)
        elif isinstance(part, Polygon):
            pieces += [part] if _is_convex(part) else list(_triangles(part))
        elif hasattr(part, "geoms"):
            pieces += convex_pieces(part)
        else:
            pieces += [LineString(pair) for pair in pairwise(shapely.get_coordinates(part))]
    return pieces


def _is_convex(polygon: Polygon) -> bool:
    return not polygon.interiors and polygon.area >= (1.0 - 1e-12) * polygon.convex_hull.area


def _triangles(polygon: Polygon) -> np.ndarray:
    return shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))


def swept(geometry: BaseGeometry, convex: BaseGeometry) -> BaseGeometry:
    """The Minkowski sum of any geometry and a convex polygon."""
    return shapely.union_all(swept_pieces(geometry, convex))


def swept_pieces(geometry: BaseGeometry, convex: BaseGeometry) -> np.ndarray:
    """The Minkowski sum as overlapping convex pieces: each the hull of all sums of corners."""
    corners = shapely.get_coordinates(convex)
    sums = [
        shapely.multipoints((shapely.get_coordinates(piece)[:, None, :] + corners[None, :, :]).reshape(-1, 2))
        for piece in convex_pieces(geometry)
    ]
    return shapely.convex_hull(np.array(sums, dtype=object))
