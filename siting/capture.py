"""The ground that a pumped well draws its water from within so many days."""

from collections.abc import Mapping
from dataclasses import dataclass

from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from siting.groundwater import capture_outline, fixed_radius_m, upstream_distance_m
from siting.terrain import Terrain, has_slope

PUMPING = "feature.pumping_m3_per_day"
THICKNESS = ("feature.aquifer_thickness_m", "site.aquifer_thickness_m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    """The zone round a well, how far it reaches, and what it rests on."""

    zone: BaseGeometry
    "Rounded outward."
    reach_m: float
    "Straight upstream; all round where no flow is known."
    because: str


def capture(well: Point, terrain: Terrain, attributes: Mapping[str, object], *, days: float) -> Capture | None:
    """The capture zone of a well: by uniform flow, else by a fixed radius; None where its pumping is not known.

    Needs the pumping rate of the well [m3/day], the thickness of the aquifer [m], and the flow of the site.
    Source: uniform flow, Bear & Jacobs (1965); calculated fixed radius, US EPA 440/6-87-010 (1987), both as in
    `groundwater`.
    """
    pumping = attributes.get(PUMPING)
    thickness = next((attributes[name] for name in THICKNESS if name in attributes), None)
    if not isinstance(pumping, int | float) or not isinstance(thickness, int | float) or terrain.flow is None:
        return None
    conductivity, porosity, source = terrain.flow
    water = terrain.water
    if water is None or not has_slope(water):
        radius_m = fixed_radius_m(pumping, days=days, porosity=porosity, thickness_m=thickness)
        because = f"fixed radius of a well that pumps {pumping:g} m3/day, no flow known; {source}"
        return Capture(zone=well.buffer(radius_m * 1.001, quad_segs=32), reach_m=radius_m, because=because)
    shared = {
        "pumping_m3_per_day": float(pumping), "conductivity_m_per_day": conductivity, "thickness_m": float(thickness),
        "gradient": water.gradient, "porosity": porosity,
    }  # fmt: skip
    outline = capture_outline(days, **shared, flow_towards_deg=water.flow_towards_deg, well=(well.x, well.y))
    because = f"uniform flow to a well that pumps {pumping:g} m3/day from {thickness:g} m of ground; {source}"
    return Capture(zone=Polygon(outline), reach_m=upstream_distance_m(days, **shared), because=because)
