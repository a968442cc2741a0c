"""The ground where an installation may stand: a picture, never a verdict.

Every forbidden zone is rounded outward, so that no place inside the drawn ground fails;
some places within 0.7 mm a metre of the limit would pass and are left out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from siting.installation import Installation, Outline
from siting.requirements import Requirement, Sense
from siting.sweep import outward, swept_pieces
from siting.uncertainty import coverage_factor

QUAD_SEGS = 32
ORIENTATIONS_DEG = tuple(22.5 * step for step in range(8))
"Orientations tried for an outline that is free to turn: the drawn ground is where it fits in some of them."


NEAR_DEG = 2.0
"An orientation this near to one tried moves a corner 2 m away by 7 cm: no ground worth drawing."


def with_orientations(more_deg: Iterable[float]) -> tuple[float, ...]:
    """The orientations tried, and those of `more_deg` that differ from all before them; half a turn is no turn."""
    tried = list(ORIENTATIONS_DEG)
    for angle in more_deg:
        if all(abs((angle - one + 90.0) % 180.0 - 90.0) > NEAR_DEG for one in tried):
            tried.append(angle)
    return tuple(tried)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """Where the middle of the pit may be."""

    nominal: MultiPolygon
    "Every requirement is met if every position is right."
    confident: MultiPolygon
    "Every requirement is met at the confidence asked for."


def feasible_ground(
    requirements: Sequence[Requirement],
    installation: Installation,
    land: BaseGeometry,
    *,
    confidence: float,
    orientations_deg: Sequence[float] = ORIENTATIONS_DEG,
) -> Ground:
    """The places that keep every requirement that must hold, for some orientation where it is free to turn."""
    must = [r for r in requirements if r.is_must]
    angles = tuple(orientations_deg) if installation.turns else (installation.orientation_deg or 0.0,)
    factor = coverage_factor(confidence)
    return Ground(
        nominal=ground_left(must, installation, land, angles, factor=0.0),
        confident=ground_left(must, installation, land, angles, factor=factor),
    )


def ground_left(
    must: Sequence[Requirement],
    installation: Installation,
    land: BaseGeometry,
    angles: Sequence[float],
    *,
    factor: float,
) -> MultiPolygon:
    """The places that keep requirements with `factor` standard uncertainties to spare, for some of the angles."""
    if any(_fixed_fails(r, factor) for r in must if not r.in_plan):
        return MultiPolygon()
    in_plan = [r for r in must if r.in_plan]
    round_ = [r for r in in_plan if installation.outline(r.rule.outline).is_disc]
    left = _left(land, round_, installation, 0.0, factor)
    turning = _not_covered(
        [r for r in in_plan if not installation.outline(r.rule.outline).is_disc], round_, installation
    )
    if turning:
        left = shapely.union_all([_left(left, turning, installation, angle, factor) for angle in angles])
    return _polygons(left)


def _not_covered(
    turning: Sequence[Requirement], round_: Sequence[Requirement], installation: Installation
) -> list[Requirement]:
    """Without those whose zone lies within the round zone of the same feature, whichever way the outline is turned."""
    reach: dict[str, float] = {}
    for r in round_:
        if r.sense is Sense.OUTSIDE and r.feature is not None and not r.sided:
            reach_m = installation.outline(r.rule.outline).radius_m + r.limit_m
            reach[r.feature.name] = max(reach.get(r.feature.name, 0.0), reach_m)
    return [
        r
        for r in turning
        if r.sense is not Sense.OUTSIDE
        or r.feature is None
        or r.sided
        or reach.get(r.feature.name, -1.0) < installation.outline(r.rule.outline).circumradius_m + r.limit_m
    ]


def _fixed_fails(requirement: Requirement, factor: float) -> bool:
    assert requirement.value is not None
    margin = requirement.value - requirement.limit_m
    if not requirement.limit.is_minimum:
        margin = -margin
    short = margin - factor * requirement.sigma
    return short <= 0.0 if requirement.limit.is_strict else short < 0.0


def _left(
    land: BaseGeometry, requirements: Sequence[Requirement], installation: Installation, angle: float, factor: float
) -> BaseGeometry:
    """What is left of the land when every zone is taken away, for one orientation."""
    away = [r for r in requirements if r.sense is not Sense.WITHIN]
    shapes: list[BaseGeometry] = []
    radii: list[float] = []
    for requirement in away:
        assert requirement.geometry is not None
        outline = installation.outline(requirement.rule.outline)
        base = shapely.boundary(requirement.geometry) if requirement.sense is Sense.INSIDE else requirement.geometry
        pieces = _touching(base, outline, angle)
        shapes += pieces
        reach_m = outline.radius_m + requirement.gap_m + requirement.limit_m + factor * requirement.sigma
        radii += [reach_m * outward(QUAD_SEGS)] * len(pieces)
        if requirement.sense is Sense.INSIDE:
            land = shapely.intersection(land, requirement.geometry)
    if shapes:
        zones, reach = np.array(shapes, dtype=object), np.array(radii)
        grown = np.flatnonzero(reach > 0.0)
        zones[grown] = shapely.buffer(zones[grown], reach[grown], quad_segs=QUAD_SEGS)
        land = shapely.difference(land, shapely.union_all(zones))
    for requirement in requirements:
        if requirement.sense is Sense.WITHIN:
            assert requirement.geometry is not None
            outline = installation.outline(requirement.rule.outline)
            reach_m = outline.radius_m + requirement.gap_m + requirement.limit_m - factor * requirement.sigma
            near = shapely.union_all(_touching(requirement.geometry, outline, angle))
            land = shapely.intersection(land, shapely.buffer(near, max(reach_m, 0.0), quad_segs=QUAD_SEGS))
    return land


def _touching(base: BaseGeometry, outline: Outline, angle: float) -> list[BaseGeometry]:
    """Places at which the outline, without its radius, touches a geometry: as pieces."""
    if outline.is_disc:
        return [base]
    # A place p touches G when G meets p + outline: p lies in G swept by the outline turned about the origin.
    reflected = affinity.rotate(outline.geometry, 180.0 - angle, origin=(0.0, 0.0))
    return list(swept_pieces(base, reflected))


def _polygons(geometry: BaseGeometry) -> MultiPolygon:
    every: list[BaseGeometry] = list(shapely.get_parts(geometry))
    parts = [part for part in every if isinstance(part, Polygon) and part.area > 1e-4]
    parts.sort(key=lambda part: (-part.area, part.bounds))
    return MultiPolygon(parts)
