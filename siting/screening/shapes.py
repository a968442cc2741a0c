"""Nearest places and all places within a reach, where one of the two is a line or an area.

Each tile of ground has a plane of its own (`frame`), on which distances up to a few kilometres are right to a
millimetre; longer ones are measured again by the geodesic between their two ends.
A side between two corners is straight on the plane of the tile.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

from siting.frame import Frame
from siting.screening.earth import between_m

TILE_DEG = 0.1
WINDOWS_M = (2_000.0, 20_000.0, 200_000.0)
"How far round a tile is looked, one after another, until the nearest is sure; beyond the last there is none."
ON_PLANE_M = 1_000.0
"Up to here the plane of a tile is right to a millimetre: its scale is out by at most 1 in a million."
M_PER_DEGREE = 110_000.0
"A little less than a degree of latitude, so that a window is never too small."


@dataclass(slots=True)
class ShapeGroup:
    """Receptors that the same rules look at, of which some or all are lines or areas; or points asked for by them."""

    index: np.ndarray
    "Positions (m,) in the layer of receptors."
    geometry: np.ndarray
    "In degrees (m,); a geometry across the antimeridian is turned to one side of it."
    radius_m: np.ndarray
    tree: Any = field(init=False)

    def __post_init__(self) -> None:
        self.geometry = turned(self.geometry)
        bounds = shapely.bounds(self.geometry)
        self.tree = shapely.STRtree(np.asarray(shapely.box(*bounds.T)))

    def nearest(self, geometry: np.ndarray, itself: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Position in the group (n,) and distance [m] (n,) of the nearest edge, radii left out of account.

        -1 and infinity where there is none within the last window.
        """
        at, distance_m = np.full(len(geometry), -1, dtype=np.intp), np.full(len(geometry), np.inf)
        for frame, rows in tiles(geometry):
            shapes = shapely.transform(turned(geometry[rows]), frame.to_local)
            open_ = np.arange(len(rows))
            for window_m in WINDOWS_M:
                others = self._around(frame, geometry[rows[open_]], window_m)
                if not len(others):
                    continue
                placed = shapely.transform(self.geometry[others], frame.to_local)
                found, length = _nearest(shapes[open_], placed, others, itself[rows[open_]])
                sure = length <= window_m
                done = open_[sure]
                at[rows[done]] = others[found[sure]]
                distance_m[rows[done]] = self._measured(frame, shapes[done], placed[found[sure]], length[sure])
                open_ = open_[~sure]
                if not len(open_):
                    break
        return at, distance_m

    def within(self, geometry: np.ndarray, reach_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Pairs (k,) at most `reach_m` apart: place asked for, position in the group, distance [m]."""
        asked: list[np.ndarray] = [np.zeros(0, dtype=np.intp)]
        at: list[np.ndarray] = [np.zeros(0, dtype=np.intp)]
        distance_m: list[np.ndarray] = [np.zeros(0)]
        for frame, rows in tiles(geometry):
            others = self._around(frame, geometry[rows], reach_m)
            if not len(others):
                continue
            shapes = shapely.transform(turned(geometry[rows]), frame.to_local)
            placed = shapely.transform(self.geometry[others], frame.to_local)
            one, other = shapely.STRtree(placed).query(shapes, predicate="dwithin", distance=reach_m)
            asked.append(rows[one])
            at.append(others[other])
            length = np.asarray(shapely.distance(shapes[one], placed[other]))
            distance_m.append(self._measured(frame, shapes[one], placed[other], length))
        return np.concatenate(asked), np.concatenate(at), np.concatenate(distance_m)

    def _around(self, frame: Frame, geometry: np.ndarray, window_m: float) -> np.ndarray:
        """Receptors whose bounds come within a window of the bounds of places."""
        bounds = shapely.bounds(turned(geometry))
        assert frame.lon is not None
        west, east = (frame.lon + (bounds[:, i] - frame.lon + 180.0) % 360.0 - 180.0 for i in (0, 2))
        south, north = bounds[:, 1].min() - window_m / M_PER_DEGREE, bounds[:, 3].max() + window_m / M_PER_DEGREE
        widest = max(np.cos(np.radians(min(max(abs(south), abs(north)), 89.0))), 0.017)
        wide = window_m / (M_PER_DEGREE * widest)
        boxes = [
            shapely.box(west.min() - wide + turn, south, east.max() + wide + turn, north)
            for turn in (-360.0, 0.0, 360.0)
        ]
        return np.unique(np.concatenate([self.tree.query(box) for box in boxes]))

    def _measured(self, frame: Frame, shapes: np.ndarray, placed: np.ndarray, length_m: np.ndarray) -> np.ndarray:
        long = np.flatnonzero(length_m > ON_PLANE_M)
        if not len(long):
            return length_m
        ends = shapely.get_coordinates(shapely.shortest_line(shapes[long], placed[long]))
        world = frame.to_world(ends)
        length_m = length_m.copy()
        length_m[long] = between_m(world[0::2], world[1::2])
        return length_m


def _nearest(
    shapes: np.ndarray, placed: np.ndarray, others: np.ndarray, itself: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Position in `placed` and length for each shape, leaving out the shape itself."""
    found, length = np.zeros(len(shapes), dtype=np.intp), np.full(len(shapes), np.inf)
    alone = itself < 0
    if alone.any():
        (one, other), measured = shapely.STRtree(placed).query_nearest(
            shapes[alone], return_distance=True, all_matches=False
        )
        rows = np.flatnonzero(alone)[one]
        found[rows], length[rows] = other, measured
    for row in np.flatnonzero(~alone):
        lengths = np.where(others == itself[row], np.inf, shapely.distance(shapes[row], placed))
        found[row], length[row] = int(np.argmin(lengths)), float(lengths.min())
    return found, length


def turned(geometry: np.ndarray) -> np.ndarray:
    """Geometries whose longitudes leap from one side of the antimeridian to the other, brought to one side."""
    bounds = shapely.bounds(geometry)
    across = np.flatnonzero(bounds[:, 2] - bounds[:, 0] > 180.0)
    if not len(across):
        return geometry
    geometry = geometry.copy()
    geometry[across] = shapely.transform(
        geometry[across], lambda lonlat: np.column_stack([lonlat[:, 0] % 360.0, lonlat[:, 1]])
    )
    return geometry


def tiles(geometry: np.ndarray) -> Iterator[tuple[Frame, np.ndarray]]:
    """The plane of each tile that places lie in, and the positions (k,) of those places."""
    bounds = shapely.bounds(turned(geometry))
    lon, lat = (bounds[:, 0] + bounds[:, 2]) / 2.0, (bounds[:, 1] + bounds[:, 3]) / 2.0
    lon = (lon + 180.0) % 360.0 - 180.0
    # Tiles are as wide as they are high, so that a plane stays right near the poles.
    row = np.floor(lat / TILE_DEG).astype(np.int64)
    wide = TILE_DEG / np.maximum(np.cos(np.radians((row + 0.5) * TILE_DEG)), 0.05)
    column = np.floor(lon / wide).astype(np.int64)
    order = np.lexsort((column, row))
    edges = np.flatnonzero((np.diff(row[order]) != 0) | (np.diff(column[order]) != 0)) + 1
    for rows in np.split(order, edges):
        if len(rows):
            yield Frame(lon=float(lon[rows].mean()), lat=float(lat[rows].mean())), rows
