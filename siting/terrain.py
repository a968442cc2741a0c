"""What levels, heights and winds tell of one site: which way water, ground and smoke go."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from siting.directions import Towards
from siting.materials import Material, material
from siting.plane import Plane, fit_levels
from siting.site import Notice, Site
from siting.slope import Surface, surface
from siting.wind import Rose, rose

LEVEL_SIGMA_M = 0.05
"Of a levelled height or a dipped water level when none is stated (project judgement)."
HIGHEST = "highest"
"The season that makes levels the design levels; any other reading is not the highest water."
MIN_GRADIENT = 1e-6
"Flatter than one millimetre in a kilometre, a water table or a slope has no direction to speak of."
SURE_OF_SLOPE = 2.0
"Standard uncertainties by which a slope must exceed none before it has a direction (project judgement)."


@dataclass(frozen=True, kw_only=True)
class Terrain:
    """Planes, surface, material and wind of a site, each made once and only when asked for."""

    site: Site

    @cached_property
    def water(self) -> Plane | None:
        """The plane through the water levels."""
        levels = self.site.ground.levels
        if not levels:
            return None
        xy = np.array([(level.x_m, level.y_m) for level in levels])
        sigma_m = self.site.ground.water_depth_sigma_m or LEVEL_SIGMA_M
        return fit_levels(xy, np.array([level.level_m for level in levels]), level_sigma_m=sigma_m)

    @cached_property
    def heights(self) -> Plane | None:
        """The plane through the spot heights."""
        spots = self.site.ground.spot_heights
        if not spots:
            return None
        xy, z = self._spots
        return fit_levels(xy, z, level_sigma_m=self.site.ground.height_sigma_m or LEVEL_SIGMA_M, what="spot heights")

    @cached_property
    def surface(self) -> Surface | None:
        """The triangles between the spot heights."""
        return surface(*self._spots) if self.site.ground.spot_heights else None

    @property
    def _spots(self) -> tuple[np.ndarray, np.ndarray]:
        spots = self.site.ground.spot_heights
        return np.array([(s.x_m, s.y_m) for s in spots]), np.array([s.height_m for s in spots])

    @cached_property
    def rose(self) -> Rose | None:
        """The wind rose."""
        return rose(self.site.wind_from_percent) if self.site.wind_from_percent else None

    @cached_property
    def material(self) -> Material | None:
        """The ground that the water moves in, by the name the site gives it."""
        return material(self.site.ground.material) if self.site.ground.material else None

    @cached_property
    def towards(self) -> Towards:
        """Bearings that groundwater, ground and prevailing wind lead to."""
        return {
            "gradient": self._flow(self.water),
            "slope": self._flow(self.heights),
            "wind": self._downwind,
        }

    @staticmethod
    def _flow(plane: Plane | None) -> float | None:
        return plane.flow_towards_deg if plane is not None and has_slope(plane) else None

    @property
    def _downwind(self) -> float | None:
        from_deg = self.rose.prevailing_from_deg if self.rose else None
        return None if from_deg is None else (from_deg + 180.0) % 360.0

    @cached_property
    def flow(self) -> tuple[float, float, str] | None:
        """Conductivity [m/day], effective porosity and where they come from; None when nothing tells them.

        With only a material named, the pair that carries water farthest of its published ranges is taken:
        an average would be too slow on half of all such sites.
        """
        ground = self.site.ground
        if ground.conductivity_m_per_day is not None and ground.porosity is not None:
            return ground.conductivity_m_per_day, ground.porosity, "conductivity and porosity as stated"
        if self.material is None:
            return None
        conductivity, porosity = self.material.fastest
        source = (
            f"{self.material.name}: the fastest of the published ranges, {conductivity:g} m/day "
            f"({self.material.conductivity_source}) and porosity {porosity:g} ({self.material.porosity_source})"
        )
        return conductivity, porosity, source

    @cached_property
    def notices(self) -> tuple[Notice, ...]:
        """What a reader has to know of the ground."""
        found = []
        ground = self.site.ground
        if self.material is not None and not self.material.distance_protects:
            found.append(
                Notice(
                    code="no-distance-protects",
                    message=f"{self.material.name}: {self.material.note}; no distance can be relied on there, "
                    "whatever the rows say",
                )
            )
        if ground.levels and ground.levels_season != HIGHEST:
            season = ground.levels_season or "season not stated"
            found.append(
                Notice(
                    code="levels-not-highest",
                    message=f"the water levels are not the highest known ones ({season}): they give the direction of "
                    "flow only; ask for the highest known level",
                )
            )
        return tuple(found)


def has_slope(plane: Plane) -> bool:
    """Whether a plane can be told from a level one: what was read is never surer than its readings."""
    return plane.gradient >= max(MIN_GRADIENT, SURE_OF_SLOPE * plane.gradient_sigma)
