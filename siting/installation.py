"""What is to be placed, or already stands: its two outlines, and what rules may ask about it.

The pit outline is where contamination starts; the enclosure outline is all the ground the installation occupies.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from siting.kinds import Vocabulary
from siting.site import Feature, Request, Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A shape that can be moved and turned: a disc, or a polygon drawn round the origin.

    A disc is a point with a radius, so that its distances are exact rather than those of a many-sided polygon.
    """

    geometry: BaseGeometry
    "Drawn round the origin with its long side pointing north; a Point for a disc."
    radius_m: float = 0.0

    @property
    def is_disc(self) -> bool:
        """Whether turning it changes nothing."""
        return isinstance(self.geometry, Point)

    @property
    def reach_m(self) -> float:
        """Distance from the place to the farthest corner: how far a corner moves when the outline turns."""
        return float(np.hypot(*shapely.get_coordinates(self.geometry).T).max())

    @property
    def circumradius_m(self) -> float:
        """Radius of the disc round the place that holds the outline whichever way it is turned."""
        return self.reach_m + self.radius_m

    def at(self, x_m: np.ndarray, y_m: np.ndarray, orientation_deg: np.ndarray) -> np.ndarray:
        """The outline moved to each place (n,) and turned clockwise: an array (n,) of geometries without radius."""
        corners = shapely.get_coordinates(self.geometry)
        angle = np.radians(orientation_deg)[:, None]
        east = x_m[:, None] + np.cos(angle) * corners[:, 0] + np.sin(angle) * corners[:, 1]
        north = y_m[:, None] - np.sin(angle) * corners[:, 0] + np.cos(angle) * corners[:, 1]
        moved = np.stack([east, north], axis=-1)
        if isinstance(self.geometry, Point):
            return np.asarray(shapely.points(moved[:, 0]), dtype=object)
        if isinstance(self.geometry, Polygon) and not self.geometry.interiors:
            return np.asarray(shapely.polygons(moved), dtype=object)
        # What stands may be drawn as anything: a line, several parts, a ring with a hole.
        return shapely.set_coordinates(np.full(len(moved), self.geometry, dtype=object), moved.reshape(-1, 2))

    def drawn_at(self, x_m: float, y_m: float, orientation_deg: float) -> BaseGeometry:
        """The outline at one place as a polygon to draw; a disc becomes a polygon of 64 sides."""
        moved = self.at(np.array([x_m]), np.array([y_m]), np.array([orientation_deg]))[0]
        return moved.buffer(self.radius_m, quad_segs=16) if self.radius_m else moved


def disc(diameter_m: float) -> Outline:
    """A round outline."""
    return Outline(geometry=Point(0.0, 0.0), radius_m=_positive(diameter_m, "diameter_m") / 2.0)


def rectangle(length_m: float, width_m: float) -> Outline:
    """A rectangular outline, its length pointing north until it is turned."""
    half_length, half_width = _positive(length_m, "length_m") / 2.0, _positive(width_m, "width_m") / 2.0
    return Outline(geometry=shapely.box(-half_width, -half_length, half_width, half_length))


def _positive(value: float, name: str) -> float:
    if not value > 0:
        raise ValueError(f"{name} must be > 0 (got {value})")
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Installation:
    """Something dug or built: wanted (free to be moved and turned) or standing (a feature of the site)."""

    kind: str
    name: str
    pit: Outline
    enclosure: Outline
    depth_m: float | None = None
    "From the ground to the bottom of the pit."
    orientation_deg: float | None = None
    "Bearing of the long side where it is fixed; None leaves it free."
    stands_as: Feature | None = None
    "The feature it is, when it stands on the plan already; its outlines are then in place."
    attributes: Mapping[str, object] = field(default_factory=dict)

    @property
    def turns(self) -> bool:
        """Whether it has a direction to search for."""
        return self.orientation_deg is None and not (self.pit.is_disc and self.enclosure.is_disc)

    @property
    def status(self) -> Status:
        """Wanted installations count as proposed."""
        return self.stands_as.status if self.stands_as else Status.PROPOSED

    def outline(self, which: str) -> Outline:
        """The outline a rule names: `pit` or `enclosure`."""
        return self.pit if which == "pit" else self.enclosure


def as_feature(
    installation: Installation, *, name: str, source: str, x_m: float, y_m: float, orientation_deg: float
) -> Feature:
    """A wanted installation put down at a place: a proposed feature that keeps both its outlines."""
    place = np.array([x_m]), np.array([y_m]), np.array([orientation_deg])
    return Feature(
        kind=installation.kind,
        name=name,
        geometry=installation.pit.at(*place)[0],
        radius_m=installation.pit.radius_m or None,
        enclosure=installation.enclosure.drawn_at(x_m, y_m, orientation_deg),
        source=source,
        status=Status.PROPOSED,
        attributes={k: v for k, v in installation.attributes.items() if k not in ("kind", "status")},
    )


def known_attributes(feature: Feature, words: Vocabulary) -> dict[str, object]:
    """What rules may ask about a feature: what its kind takes for granted, then what was recorded."""
    kind = words.kinds.get(feature.kind)
    return {
        **(kind.assumed if kind else {}),
        **feature.attributes,
        "kind": feature.kind,
        "status": str(feature.status),
    }


def standing(feature: Feature, words: Vocabulary) -> Installation:
    """An installation that is a feature of the site: both outlines are the feature as drawn, unless it has two."""
    outline = Outline(geometry=feature.geometry, radius_m=feature.radius_m or 0.0)
    enclosure = outline if feature.enclosure is None else Outline(geometry=feature.enclosure)
    attributes = known_attributes(feature, words)
    depth = attributes.get("pit_depth_m", attributes.get("depth_m"))
    return Installation(
        kind=feature.kind,
        name=feature.name,
        pit=outline,
        enclosure=enclosure,
        depth_m=float(depth) if isinstance(depth, int | float) else None,
        stands_as=feature,
        attributes=attributes,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimensions:
    """Sizes that go into the outlines of something wanted, all of them inputs."""

    pit_length_m: float
    "Inside the lining; the diameter when the pit is round."
    pit_width_m: float | None
    "None for a round pit."
    wall_m: float
    depth_m: float | None
    enclosure_length_m: float
    enclosure_width_m: float


def wanted(request: Request, size: Dimensions, words: Vocabulary, *, name: str = "") -> Installation:
    """An installation to be placed, its outlines drawn round the origin.

    The pit outline runs round the outside of its wall: the wall stands in the dug hole.
    """
    if size.pit_width_m is None:
        pit = disc(size.pit_length_m + 2.0 * size.wall_m)
    else:
        pit = rectangle(size.pit_length_m + 2.0 * size.wall_m, size.pit_width_m + 2.0 * size.wall_m)
    kind = words.kinds.get(request.kind)
    attributes = {
        **(kind.assumed if kind else {}),
        "pit_diameter_m": size.pit_length_m if size.pit_width_m is None else None,
        "pit_depth_m": size.depth_m,
        "births_per_day": request.births_per_day,
        "users": request.users,
        **request.attributes,
        "kind": request.kind,
        "status": str(Status.PROPOSED),
    }
    return Installation(
        kind=request.kind,
        name=name or f"new {request.kind}",
        pit=pit,
        enclosure=rectangle(size.enclosure_length_m, size.enclosure_width_m),
        depth_m=size.depth_m,
        orientation_deg=request.orientation_deg,
        attributes={key: value for key, value in attributes.items() if value is not None},
    )
