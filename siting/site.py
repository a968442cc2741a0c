"""One facility's ground: what stands on it and near it, who looked, how far, and what is wanted.

Everything here is a value: readers make it, the rest of the package only reads it.
Geometries lie on the site's own plane (`frame`), in metres.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from shapely.geometry.base import BaseGeometry

from siting.finding import Finding
from siting.frame import Frame
from siting.kinds import BOUNDARY, UNKNOWN
from siting.uncertainty import DEFAULT_CONFIDENCE, combined


class Status(StrEnum):
    """Whether a feature stands, is planned, or is no longer in use (a closed pit stays a hazard)."""

    EXISTING = "existing"
    PROPOSED = "proposed"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a feature was read: file, layer within it, row or position counted from 1."""

    file: str
    layer: str = ""
    row: int | None = None

    def __str__(self) -> str:
        layer = f" [{self.layer}]" if self.layer else ""
        return f"{self.file}{layer}" + (f" row {self.row}" if self.row is not None else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One file or drawing: what its features share."""

    name: str
    sha256: str = ""
    shared_sigma_m: float = 0.0
    "Per axis; a datum operation, a control-point fit: it moves all features of the source together."
    operation: str = ""
    "The coordinate operation applied, with its stated accuracy, in words."
    notes: tuple[str, ...] = ()
    "What was taken for what, and what was assumed; printed with the inputs."


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """Something that stands on the site or near it."""

    kind: str
    name: str
    geometry: BaseGeometry
    source: str
    "Name of the `Source` it was read from."
    sigma_m: float = 0.0
    "Standard uncertainty per axis of its own position, without what its whole source shares."
    radius_m: float | None = None
    "A point counts as a disc of this radius; None when none was given, and it counts as a point."
    enclosure: BaseGeometry | None = None
    "All the ground it occupies, where that is known apart from its own outline (the pit)."
    status: Status = Status.EXISTING
    seen_on: date | None = None
    origin: Origin | None = None
    attributes: Mapping[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.geometry.is_empty:
            raise ValueError(f"geometry must not be empty for {self.kind} {self.name!r}")
        if not self.sigma_m >= 0:
            raise ValueError(f"sigma_m must be >= 0 (got {self.sigma_m}) for {self.kind} {self.name!r}")
        if self.radius_m is not None and not self.radius_m >= 0:
            raise ValueError(f"radius_m must be >= 0 (got {self.radius_m}) for {self.kind} {self.name!r}")

    @property
    def is_bare_point(self) -> bool:
        """Whether it is a point whose size nobody gave."""
        return self.geometry.geom_type in ("Point", "MultiPoint") and self.radius_m is None


STALE_AFTER_YEARS = 3.0
"""Project judgement.

Of the wells of 61 villages in Bangladesh 7 % were given up each year while their number doubled in twelve years
(Arai, PMC4043877, seen; the year 2014 from memory): in three years a fifth of an inventory is gone.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Who looked, when, and how far beyond the boundary."""

    on: date | None = None
    by: str = ""
    radius_m: float | None = None
    stale_after_years: float = STALE_AFTER_YEARS
    "A survey older than this is doubtful, where somebody says which day it is."


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A place that is wanted: `[[place]]` in `site.toml`, or `--for KIND`."""

    kind: str
    births_per_day: float | None = None
    users: float | None = None
    serve_from: str | None = None
    "Name of the feature that staff walk from."
    keep_reserve: bool = False
    pit_diameter_m: float | None = None
    pit_m: tuple[float, float] | None = None
    "Length and width inside the lining."
    pit_depth_m: float | None = None
    wall_m: float | None = None
    enclosure_m: tuple[float, float] | None = None
    "Length and width over all."
    orientation_deg: float | None = None
    "Bearing of the long side; None leaves it free."
    attributes: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterLevel:
    """The water level seen in one well, on the plane of the site."""

    name: str
    x_m: float
    y_m: float
    level_m: float
    "Height of the water surface above the datum of the levels."


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotHeight:
    """The height of the ground at one point."""

    x_m: float
    y_m: float
    height_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What is known of soil, water and slope beneath the site."""

    highest_water_depth_m: float | None = None
    "Depth from the ground down to the highest known water level."
    water_depth_sigma_m: float | None = None
    dry_season_water_depth_m: float | None = None
    levels: tuple[WaterLevel, ...] = ()
    levels_season: str = ""
    "`highest` when the levels are the highest known ones, else what season they are."
    material: str | None = None
    conductivity_m_per_day: float | None = None
    porosity: float | None = None
    "Effective porosity, a fraction."
    spot_heights: tuple[SpotHeight, ...] = ()
    height_sigma_m: float | None = None
    attributes: Mapping[str, object] = field(default_factory=dict)
    "Anything else a rule may ask for as `site.<name>`."


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something a reader of the results has to know: a warning with a code, where from, and what it does."""

    code: str
    message: str
    file: str | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """All that is known of one facility's ground."""

    name: str
    frame: Frame
    features: tuple[Feature, ...]
    sources: Mapping[str, Source] = field(default_factory=dict)
    packs: tuple[str, ...] = ()
    "Names of packs or paths of TOML files, as the site states them."
    confidence: float = DEFAULT_CONFIDENCE
    survey: Survey = Survey()
    absent: Mapping[str, str] = field(default_factory=dict)
    "Kind or group to the words in which somebody attests that it was looked for and is not there."
    requests: tuple[Request, ...] = ()
    ground: Ground = Ground()
    wind_from_percent: Mapping[str, float] = field(default_factory=dict)
    "Compass sector the wind blows from, to percent of all hours; `calm` may be one of them."
    notices: tuple[Notice, ...] = ()
    findings: tuple[Finding, ...] = ()
    "What is doubtful about the files themselves, as the readers saw it; `doctor.examine` adds what the site shows."
    accept: tuple[str, ...] = ()
    "Findings that somebody accepts, in the words that the finding gives."

    def __post_init__(self) -> None:
        if not 0.5 < self.confidence < 1.0:
            raise ValueError(f"confidence must lie between 0.5 and 1 (got {self.confidence})")
        names = [feature.name for feature in self.features]
        if len(set(names)) != len(names):
            raise ValueError("feature names must differ; number them first (named_apart)")

    def of_kinds(self, kinds: Iterable[str]) -> tuple[Feature, ...]:
        """The features whose kind is one of those given, in the order read."""
        wanted = frozenset(kinds)
        return tuple(feature for feature in self.features if feature.kind in wanted)

    def named(self, name: str) -> Feature:
        """The feature of that name; raises KeyError."""
        for feature in self.features:
            if feature.name == name:
                return feature
        raise KeyError(name)

    @property
    def boundaries(self) -> tuple[Feature, ...]:
        """The features of kind `boundary`."""
        return self.of_kinds((BOUNDARY,))

    @property
    def unknown(self) -> tuple[Feature, ...]:
        """The features whose kind nobody recognised; they are kept, drawn and counted."""
        return self.of_kinds((UNKNOWN,))

    def shared_sigma_m(self, source: str) -> float:
        """What all positions of a source share, per axis."""
        held = self.sources.get(source)
        return held.shared_sigma_m if held else 0.0

    def separation_sigma_m(self, one: Feature, other: Feature) -> float:
        """Standard uncertainty of the distance between two features.

        To first order the error of a distance is that of the two ends along the line between them;
        what a source shares counts between sources and cancels within one.
        """
        own = combined(one.sigma_m, other.sigma_m)
        if one.source == other.source:
            return own
        return combined(own, self.shared_sigma_m(one.source), self.shared_sigma_m(other.source))


def named_apart(features: Iterable[Feature]) -> tuple[Feature, ...]:
    """The same features with repeated names numbered: `Well`, `Well 2`, `Well 3`.

    A feature without a name is called by its kind.
    """
    taken: set[str] = set()
    result = []
    for feature in features:
        base = re.sub(r"\s+", " ", feature.name).strip() or feature.kind
        name, number = base, 1
        while name in taken:
            number += 1
            name = f"{base} {number}"
        taken.add(name)
        result.append(feature if name == feature.name else replace(feature, name=name))
    return tuple(result)
