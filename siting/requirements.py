"""The waist: rules made concrete on one site.

Left of it, makers (`plan_rules`, `ground_rules`) turn what a rule says (a distance, a side, a depth) into requirements.
Right of it, everything only asks for the margin of a place against requirements.
A requirement in plan says "stay at least so far outside (or inside, or within) this geometry", so a margin
changes by at most one metre for each metre walked; one that is the same everywhere carries its value.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import shapely
from shapely.geometry.base import BaseGeometry

from siting.directions import Towards
from siting.installation import Installation, known_attributes
from siting.kinds import Vocabulary
from siting.rules import Limit, Pack, Rule
from siting.site import Feature, Site
from siting.terrain import Terrain
from siting.uncertainty import combined

FAR_M = 100_000.0
"How far a side reaches where a rule gives it no end: beyond any site."


class Sense(StrEnum):
    """How a margin is reckoned."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    WITHIN = "within"
    FIXED = "fixed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One rule against one feature (or against the ground itself) for one installation."""

    rule: Rule
    limit: Limit
    sense: Sense
    limit_m: float
    "What the margin is reckoned from, in metres; in the unit of the limit when the sense is fixed."
    required: float
    "The limit as it is printed, in the unit of the limit."
    feature: Feature | None = None
    geometry: BaseGeometry | None = None
    gap_m: float = 0.0
    "Radius of a feature that is a disc."
    value: float | None = None
    "The value where it is the same everywhere (sense fixed)."
    value_at: Callable[[tuple[float, float]], float] | None = None
    "The value at a place (x, y) where it varies over the ground and is not a distance."
    plane: tuple[float, float, float] | None = None
    "The same as a x + b y + c, where it is one: for a page that has to reckon it again."
    metres_per_unit: float = 1.0
    "Metres of distance that one unit of the limit stands for: the velocity of groundwater when it is days."
    sigma: float = 0.0
    "Standard uncertainty of the margin: metres, or the unit of the limit when fixed."
    value_sigma: float = 0.0
    "Standard uncertainty of the value where `value_at` gives it."
    sided: bool = False
    "The geometry is the ground on one side of the feature, not the feature itself."
    side_bearing_deg: float | None = None
    "From the feature to the middle of the side that binds, when only a side does."
    of_those_recorded: bool = False
    "Nobody stated that they looked far enough for a nearer feature."
    because: str = ""
    "What was assumed, in a sentence, when something was not known."

    @property
    def in_plan(self) -> bool:
        """Whether walking changes the margin."""
        return self.sense is not Sense.FIXED

    @property
    def is_must(self) -> bool:
        """Whether it decides."""
        return self.rule.strength == "must"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unassessed:
    """A rule that could not be applied, with what to look for and how far out."""

    rule: Rule
    reason: str
    look_for: str
    radius_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Attested:
    """A rule met because somebody looked far enough and there is nothing."""

    rule: Rule
    statement: str
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """Everything the packs in force ask of one installation on this site."""

    installation: Installation
    requirements: tuple[Requirement, ...]
    unassessed: tuple[Unassessed, ...]
    attested: tuple[Attested, ...]


@dataclass(frozen=True, kw_only=True)
class Question:
    """A site with the rules in force and what is derived from it once: the makers' common ground."""

    site: Site
    packs: tuple[Pack, ...]
    words: Vocabulary

    @cached_property
    def terrain(self) -> Terrain:
        """What levels, heights and winds tell."""
        return Terrain(site=self.site)

    @property
    def towards(self) -> Towards:
        """Bearings that groundwater, ground and prevailing wind lead to."""
        return self.terrain.towards

    @cached_property
    def land(self) -> BaseGeometry | None:
        """The facility's own ground: the union of its boundaries."""
        return shapely.union_all([f.geometry for f in self.site.boundaries]) if self.site.boundaries else None

    @cached_property
    def home(self) -> str:
        """The source a new place is drawn on: that of the boundary, else of the first feature."""
        features = self.site.boundaries or self.site.features
        return features[0].source if features else ""

    @cached_property
    def site_attributes(self) -> dict[str, object]:
        """What rules may ask about the site, as `site.<name>`."""
        ground = self.site.ground
        known = {
            "highest_water_depth_m": ground.highest_water_depth_m,
            "material": ground.material,
            "conductivity_m_per_day": ground.conductivity_m_per_day,
            "porosity": ground.porosity,
            **ground.attributes,
        }
        return {f"site.{name}": value for name, value in known.items() if value is not None}

    @cached_property
    def feature_attributes(self) -> dict[str, dict[str, object]]:
        """Attributes of each feature by its name."""
        return {f.name: known_attributes(f, self.words) for f in self.site.features}

    @cached_property
    def attested_kinds(self) -> dict[str, str]:
        """Kind to the words in which its absence is attested."""
        return {kind: statement for word, statement in self.site.absent.items() for kind in self.words.expand([word])}

    def sigma_to(self, installation: Installation, feature: Feature) -> float:
        """Standard uncertainty of the distance between an installation and a feature."""
        if installation.stands_as is not None:
            return self.site.separation_sigma_m(installation.stands_as, feature)
        if feature.source == self.home:
            return feature.sigma_m
        shared = self.site.shared_sigma_m
        return combined(feature.sigma_m, shared(feature.source), shared(self.home))

    def not_searched(self, radius_m: float) -> bool:
        """Whether nobody states having looked as far beyond the boundary as a rule reaches."""
        searched_m = self.site.survey.radius_m
        return searched_m is None or searched_m < radius_m

    def is_a_neighbours(self, installation: Installation) -> bool:
        """Whether it stands wholly beyond the boundary, so that the facility's own line binds it to nothing."""
        stands = installation.stands_as
        return stands is not None and self.land is not None and not self.land.intersects(stands.geometry)


Outcome = Requirement | Unassessed | Attested
Maker = Callable[[Question, Rule, Installation], Iterable[Outcome]]
