"""The ground each rule forbids, drawn for what is wanted: pictures beside the verdicts, never verdicts.

A zone is drawn for the edge of the outline that its rule measures from: nothing of the pit (or of the enclosure)
may come into it.
Zones are rounded outward, so that a drawn zone is never smaller than the true one.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from siting.requirements import Requirement, Sense
from siting.rules import Rule
from siting.sweep import outward

QUAD_SEGS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """The ground one rule forbids (or, where nearness is asked for, leaves)."""

    rule: Rule
    geometry: MultiPolygon
    limits_m: tuple[float, float]
    "The least and the largest limit of the rule on this site."
    is_where_it_must_be: bool = False
    "The rule asks for nearness: the drawn ground is where it must be."


def zones(requirements: Sequence[Requirement], *, within: BaseGeometry) -> tuple[Zone, ...]:
    """One zone for each rule that is a matter of place, in the order of the requirements, cut to a window."""
    by_rule: dict[str, list[Requirement]] = {}
    for requirement in requirements:
        if requirement.in_plan and requirement.geometry is not None:
            by_rule.setdefault(requirement.rule.full_id, []).append(requirement)
    drawn = (_zone(group, within) for group in by_rule.values())
    return tuple(zone for zone in drawn if not zone.geometry.is_empty)


def _zone(group: Sequence[Requirement], window: BaseGeometry) -> Zone:
    ground: BaseGeometry = shapely.union_all([_forbidden(r, window) for r in group])
    parts: list[Polygon] = [p for p in shapely.get_parts(ground.intersection(window)) if isinstance(p, Polygon)]
    limits = [r.required for r in group]
    return Zone(
        rule=group[0].rule,
        geometry=MultiPolygon(_largest_first(parts)),
        limits_m=(min(limits), max(limits)),
        is_where_it_must_be=group[0].sense is Sense.WITHIN,
    )


def _largest_first(parts: list[Polygon]) -> list[Polygon]:
    return sorted(parts, key=lambda part: (-part.area, part.bounds))


def _forbidden(requirement: Requirement, window: BaseGeometry) -> BaseGeometry:
    geometry, reach_m = requirement.geometry, requirement.gap_m + requirement.limit_m
    assert geometry is not None
    if requirement.sense is Sense.WITHIN:
        # Ground that is allowed is rounded inward: a buffer's straight pieces lie inside the arc.
        return geometry.buffer(max(reach_m, 0.0), quad_segs=QUAD_SEGS)
    if requirement.sense is Sense.INSIDE:
        beyond = window.difference(geometry)
        if reach_m <= 0.0:
            return beyond
        strip = geometry.boundary.buffer(reach_m * outward(QUAD_SEGS), quad_segs=QUAD_SEGS)
        return beyond.union(strip)
    if reach_m <= 0.0:
        return geometry
    return geometry.buffer(reach_m * outward(QUAD_SEGS), quad_segs=QUAD_SEGS)
