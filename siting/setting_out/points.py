"""Points that stay and that two people find alike: where tapes and instruments start from."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from siting.frame import bearing_deg
from siting.kinds import Vocabulary
from siting.setting_out.lines import Point2, apart
from siting.site import Feature, Site, Status
from siting.uncertainty import combined

PERMANENT = ("building", "water source", "water store", "boundary")
"Kinds, and groups of them, that are still there when the pit is looked for again."
NEAREST_POINTS = 16
"Of the points that can be sighted, so many of the nearest are kept."
SHORTEST_WALL_M = 0.5
SHARPEST_DEG, BLUNTEST_DEG = 45.0, 135.0
"A corner between these is found to the centimetre; a blunter one is not (project judgement)."
_COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True, slots=True, kw_only=True)
class TiePoint:
    """A point of something that stays and that two people find alike: a building's corner, a well's middle."""

    name: str
    feature: str
    x_m: float
    y_m: float
    sigma_m: float = 0.0
    "Standard uncertainty per axis of its place against the plan that the pegs are drawn on."

    @property
    def xy(self) -> Point2:
        """Its place."""
        return self.x_m, self.y_m


def tie_points(site: Site, words: Vocabulary, *, home: str) -> tuple[TiePoint, ...]:
    """Points to measure from: sharp corners of buildings, tanks and the boundary, the middle of wells drawn as points.

    Their uncertainty leaves out what their source shares with the plan of the pegs (`home`), as for separations.
    """
    kinds = words.expand(PERMANENT)
    points: list[TiePoint] = []
    for feature in site.features:
        if feature.kind not in kinds or feature.status is not Status.EXISTING:
            continue
        shared = () if feature.source == home else (site.shared_sigma_m(feature.source), site.shared_sigma_m(home))
        sigma_m = combined(feature.sigma_m, *shared)
        points += [
            TiePoint(name=name, feature=feature.name, x_m=x, y_m=y, sigma_m=sigma_m)
            for name, (x, y) in _named_points(feature, words)
        ]
    return tuple(points)


def _named_points(feature: Feature, words: Vocabulary) -> list[tuple[str, Point2]]:
    if isinstance(feature.geometry, Point):
        # A building that is a point has no point that can be found on it.
        found = feature.kind not in words.expand(["building"])
        return [(f"{feature.name}, middle", (feature.geometry.x, feature.geometry.y))] if found else []
    if not isinstance(feature.geometry, Polygon):
        return []
    west, south, east, north = feature.geometry.bounds
    middle, half = np.array([west + east, south + north]) / 2.0, np.array([east - west, north - south]) / 2.0
    names: dict[str, int] = {}
    named = []
    for corner in _sharp_corners(feature.geometry):
        sector = _COMPASS[round(bearing_deg(*((corner - middle) / half)) / 45.0) % 8]
        names[sector] = names.get(sector, 0) + 1
        number = f" {names[sector]}" if names[sector] > 1 else ""
        named.append((f"{feature.name}, {sector} corner{number}", (float(corner[0]), float(corner[1]))))
    return named


def _sharp_corners(polygon: Polygon) -> np.ndarray:
    ring = shapely.get_coordinates(shapely.orient_polygons(polygon, exterior_cw=True).exterior)[:-1]
    back, ahead = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(*back.T), np.hypot(*ahead.T)
    with np.errstate(divide="ignore", invalid="ignore"):
        angle = np.degrees(np.arccos(np.clip((back * ahead).sum(axis=1) / (lengths[0] * lengths[1]), -1.0, 1.0)))
    sharp = (angle >= SHARPEST_DEG) & (angle <= BLUNTEST_DEG) & (np.minimum(*lengths) >= SHORTEST_WALL_M)
    return np.asarray(ring[sharp])


def sighted(
    xy: Point2, points: Sequence[TiePoint], walls: Sequence[BaseGeometry], reach_m: float
) -> tuple[TiePoint, ...]:
    """The nearest points that a straight line reaches without passing through a wall."""
    near = sorted((p for p in points if 0.1 < apart(p.xy, xy) <= reach_m), key=lambda p: apart(p.xy, xy))
    # A line from a building's own corner may run along its wall.
    solid = np.array([wall.buffer(-0.01) for wall in walls if shapely.get_dimensions(wall) == 2], dtype=object)
    seen = []
    for point in near:
        if not shapely.intersects(solid, shapely.linestrings([point.xy, xy])).any():
            seen.append(point)
        if len(seen) == NEAREST_POINTS:
            break
    return tuple(seen)
