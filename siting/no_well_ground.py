"""The reverse of a distance rule: the ground, a neighbour's too, where no well may be sunk once a pit stands."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from siting.applicability import limit_value
from siting.installation import Installation
from siting.rules import Measure, Rule, Strength
from siting.sweep import outward

WATER_KINDS = frozenset({"well", "borehole"})
QUAD_SEGS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class NoWellGround:
    """Ground closed to wells by one pit, and the rule that closes the most of it."""

    rule: Rule
    radius_m: float
    geometry: MultiPolygon
    "Rounded outward."
    beyond_boundary_m2: float
    "How much of it is not the facility's own."

    @property
    def area_m2(self) -> float:
        """All of it."""
        return float(self.geometry.area)


def no_well_ground(
    rules: Sequence[Rule], installation: Installation, pit: BaseGeometry, land: BaseGeometry | None
) -> NoWellGround | None:
    """Ground within the largest distance that a rule in force keeps wells from this pit.

    A condition on a well that is not yet sunk cannot be known: the stricter reading is taken, and a rule that holds
    on one side only counts on every side.
    None when no rule in force keeps wells away from it.
    """
    attributes = {f"installation.{name}": value for name, value in installation.attributes.items()}
    reach = [
        (radius, rule)
        for rule in rules
        if rule.measure is Measure.DISTANCE and rule.strength is Strength.MUST
        and installation.kind in rule.for_kinds and rule.from_kinds & WATER_KINDS
        for limit in rule.limits
        if limit.is_minimum and (radius := limit_value(limit, attributes, strict=True))
    ]  # fmt: skip
    if not reach:
        return None
    radius, rule = max(reach, key=lambda pair: (pair[0], pair[1].full_id))
    zone = shapely.buffer(pit, radius * outward(QUAD_SEGS), quad_segs=QUAD_SEGS)
    beyond = shapely.difference(zone, land).area if land is not None else zone.area
    parts = [part for part in shapely.get_parts(np.array([zone])) if isinstance(part, Polygon)]
    return NoWellGround(rule=rule, radius_m=radius, geometry=MultiPolygon(parts), beyond_boundary_m2=float(beyond))
