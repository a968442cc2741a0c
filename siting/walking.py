"""How far staff walk with what they carry: round buildings, walls and water, through gates, not among the public."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from siting.kinds import Vocabulary
from siting.routes import Gate, Route, WalkingGround, lengths_from, route, walking_ground
from siting.site import Feature, Site, Status

GATE_M = 1.2
"Width of a gate when none is given: a person with a barrow (project judgement)."
_BATCH = 32


@dataclass(frozen=True, kw_only=True)
class Walks:
    """Ways on foot from one feature over the facility's own ground."""

    served: Feature
    site: Site
    land: BaseGeometry
    words: Vocabulary

    @cached_property
    def ground(self) -> WalkingGround:
        """The land less buildings, water and places of the public; fences and walls open at gates."""
        gates = [
            Gate(x_m=float(x), y_m=float(y), width_m=_width_m(gate))
            for gate in self._standing("opening")
            for x, y in [shapely.get_coordinates(shapely.centroid(gate.geometry))[0]]
        ]
        areas = [f.geometry for f in self._standing("building", "surface water", "public area")]
        return walking_ground(
            self.land,
            [area for area in areas if shapely.get_dimensions(area) == 2],
            barriers=[f.geometry for f in self._standing("barrier")],
            gates=gates,
        )

    def _standing(self, *groups: str) -> list[Feature]:
        return [f for f in self.site.of_kinds(self.words.expand(groups)) if f.status is Status.EXISTING]

    def straight(self, xy: np.ndarray) -> np.ndarray:
        """Straight distances [m] to places (n, 2): no way on foot is shorter."""
        gap_m = self.served.radius_m or 0.0
        return np.maximum(shapely.distance(self.served.geometry, shapely.points(xy)) - gap_m, 0.0)

    def lengths(self, xy: np.ndarray) -> np.ndarray:
        """Lengths [m] of the shortest ways to places (n, 2), infinite where there is none.

        From the edge of the feature served: which of its doors is used is not known.
        """
        gap_m = self.served.radius_m or 0.0
        return np.maximum(lengths_from(self.ground.free, self._start, xy) - gap_m, 0.0)

    def nearest(self, xy: np.ndarray) -> tuple[int, float] | None:
        """Which of the places (n, 2) has the shortest way, and its length [m]; None when none can be reached.

        Asked in the order of the straight distances, until they are longer than the best way found.
        """
        straight = self.straight(xy)
        order = np.argsort(straight, kind="stable")
        best: tuple[int, float] | None = None
        for start in range(0, len(order), _BATCH):
            batch = order[start : start + _BATCH]
            if best is not None and straight[batch[0]] >= best[1]:
                break
            lengths = self.lengths(xy[batch])
            at = int(np.argmin(lengths))
            if np.isfinite(lengths[at]) and (best is None or lengths[at] < best[1]):
                best = int(batch[at]), float(lengths[at])
        return best

    def route_to(self, x_m: float, y_m: float) -> Route | None:
        """The shortest way to one place."""
        return route(self.ground.free, self._start, (x_m, y_m))

    @property
    def _start(self) -> BaseGeometry:
        inside = [
            f.geometry
            for f in self._standing("building")
            if shapely.get_dimensions(f.geometry) == 2 and f.geometry.contains(self.served.geometry)
        ]
        # A room marked by a point inside its building is left over the building's edge.
        return min(inside, key=lambda g: g.area) if inside else self.served.geometry


def _width_m(gate: Feature) -> float:
    width = gate.attributes.get("width_m")
    if isinstance(width, int | float) and width > 0:
        return float(width)
    if not isinstance(gate.geometry, Point) and gate.geometry.length > 0:
        return float(gate.geometry.length)
    return 2.0 * gate.radius_m if gate.radius_m else GATE_M
