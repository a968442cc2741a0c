"""What goes into a file for other programs: geometries on the site's plane, with plain properties."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import floor, log, sqrt

from shapely.geometry.base import BaseGeometry

from siting.assess import Assessment, Placed
from siting.installation import Installation
from siting.kinds import UNKNOWN
from siting.outputs.zones import zones
from siting.separations import floored
from siting.site import Feature, Site, Status
from siting.uncertainty import combined

LEVEL = 0.68
"Of the accuracy written beside a position: the share of fixes that the radius holds, as phones state it."
_RADIUS_FACTOR = sqrt(-2.0 * log(1.0 - LEVEL))
"Of a circular normal error: what `uncertainty.sigma_from_radius` divides by."
_ROLES = ("kind", "name", "status", "accuracy_m", "accuracy_level", "radius_m", "seen_on", "origin")

Value = str | float | bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing for other programs."""

    layer: str
    name: str
    geometry: BaseGeometry
    "On the plane of the site [m]."
    properties: Mapping[str, Value]


def site_items(assessment: Assessment) -> tuple[Item, ...]:
    """What stands and what is proposed, so that reading it again gives the same features.

    What a whole source shares cannot be said of a single feature: where a site has several sources it is added to
    each position, which is then never surer than it was.
    """
    site = assessment.site
    several = len({feature.source for feature in site.features}) > 1
    return tuple(_feature(feature, site, several=several) for feature in site.features)


def _feature(feature: Feature, site: Site, *, several: bool) -> Item:
    shared_m = site.shared_sigma_m(feature.source) if several else 0.0
    sigma_m = combined(feature.sigma_m, shared_m)
    kind = feature.kind
    if kind == UNKNOWN:
        kind = str(feature.attributes.get("kind_as_written") or UNKNOWN)
    properties: dict[str, Value] = {
        "kind": kind,
        "name": feature.name,
        "status": str(feature.status),
        "accuracy_m": "exact" if sigma_m == 0.0 else round(sigma_m * _RADIUS_FACTOR, 5),
        "accuracy_level": LEVEL,
    }
    if feature.radius_m is not None:
        properties["radius_m"] = round(feature.radius_m, 6)
    if feature.seen_on is not None:
        properties["seen_on"] = feature.seen_on.isoformat()
    if feature.origin is not None:
        properties["origin"] = str(feature.origin)
    for key, value in sorted(feature.attributes.items()):
        if key not in properties and key not in ("kind_as_written",) and isinstance(value, str | float | int | bool):
            properties[key] = value
    return Item(layer="site", name=feature.name, geometry=feature.geometry, properties=properties)


def place_items(assessment: Assessment) -> tuple[Item, ...]:
    """The answer: places with their outlines, what was arranged, the ground left and the zones of the rules."""
    return tuple(
        item
        for item in (*_places(assessment), *_arranged(assessment), *_ground(assessment))
        if not item.geometry.is_empty
    )


def _places(assessment: Assessment) -> Iterator[Item]:
    finding = assessment.finding
    for placed in finding.placed if finding else ():
        c = placed.candidate
        yield from _outlines(placed.installation, c.name, c.x_m, c.y_m, c.orientation_deg, _about(placed, assessment))
        if placed.reserve is not None:
            r = placed.reserve
            about: dict[str, Value] = {"kind": placed.installation.kind, "status": str(Status.PROPOSED)}
            yield from _outlines(placed.installation, f"{c.name} successor", r.x_m, r.y_m, r.orientation_deg, about)
        if placed.route is not None:
            walk: dict[str, Value] = {} if placed.walk_m is None else {"walk_m": round(placed.walk_m, 2)}
            yield Item(layer="ways", name=f"{c.name} way", geometry=placed.route.line, properties=walk)
        if placed.no_well is not None:
            told: dict[str, Value] = {"rule": placed.no_well.rule.full_id, "radius_m": placed.no_well.radius_m}
            yield Item(layer="zones", name=f"{c.name} no well", geometry=placed.no_well.geometry, properties=told)


def _about(placed: Placed, assessment: Assessment) -> dict[str, Value]:
    c = placed.candidate
    return {
        "kind": placed.installation.kind,
        "status": str(Status.PROPOSED),
        "verdict": str(placed.verdict),
        "margin_m": float(floored(c.margin_m)),
        "bound_m": round(c.bound_m + 0.005, 2),
        "orientation_deg": round(c.orientation_deg, 2),
        "binding": c.binding.rule.full_id,
        "x_m": round(c.x_m, 3),
        "y_m": round(c.y_m, 3),
    }


def _arranged(assessment: Assessment) -> Iterator[Item]:
    for stand in assessment.arrangement.stands if assessment.arrangement else ():
        about: dict[str, Value] = {
            "kind": stand.installation.kind,
            "status": str(Status.PROPOSED),
            "margin_m": float(floored(stand.margin_m)),
            "orientation_deg": round(stand.orientation_deg, 2),
        }
        yield from _outlines(
            stand.installation, stand.installation.name, stand.x_m, stand.y_m, stand.orientation_deg, about
        )


def _outlines(
    installation: Installation, name: str, x_m: float, y_m: float, orientation_deg: float, about: Mapping[str, Value]
) -> Iterator[Item]:
    from shapely.geometry import Point

    yield Item(layer="places", name=name, geometry=Point(x_m, y_m), properties=about)
    for which in ("pit", "enclosure"):
        drawn = installation.outline(which).drawn_at(x_m, y_m, orientation_deg)
        yield Item(layer="outlines", name=f"{name} {which}", geometry=drawn, properties={**about, "outline": which})


def _ground(assessment: Assessment) -> Iterator[Item]:
    finding = assessment.finding
    if finding is None:
        return
    for name, geometry, odds in (
        ("ground left", finding.ground.nominal, 0.5),
        ("ground left, confident", finding.ground.confident, assessment.site.confidence),
    ):
        told: dict[str, Value] = {"probability": odds, "area_m2": floor(geometry.area * 10.0) / 10.0}
        yield Item(layer="ground", name=name, geometry=geometry, properties=told)
    land = assessment.site.boundaries
    if not land:
        return
    import shapely

    from siting.outputs.page.window import NEIGHBOURS_M

    window = shapely.box(*shapely.bounds(shapely.union_all([f.geometry for f in land]).buffer(NEIGHBOURS_M)))
    for zone in zones(finding.demands.requirements, within=window):
        told = {
            "rule": zone.rule.full_id,
            "strength": str(zone.rule.strength),
            "limit_m": round(zone.limits_m[1], 4),
            "must_be_within": zone.is_where_it_must_be,
            "citation": str(zone.rule.citation),
        }
        yield Item(layer="zones", name=zone.rule.id, geometry=zone.geometry, properties=told)
