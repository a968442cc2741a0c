"""The boundary and what lies on which side of it."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.finding import Finding, Sure, address, length
from siting.kinds import BOUNDARY, folded
from siting.rules import Measure, Pack
from siting.site import Feature, Site, Status

OWN = (
    "ward", "treatment room", "clinic", "laboratory", "kitchen", "laundry", "mortuary", "placenta pit", "sharps pit",
    "ash pit", "incinerator", "waste zone",
)  # fmt: skip
"What a facility has within its own ground as a matter of course."
OTHERS = ("sea", "river", "lake", "reservoir")
"What no facility has within its ground."
NEIGHBOUR_WORDS = frozenset(
    (
        *("neighbour", "neighbours", "neighbor", "neighbors", "voisin", "voisine", "voisins"),
        *("vecino", "vecina", "vizinho", "vizinha", "jirani"),
    )
)
SLACK_M = 1.0
PLAINLY_M = 5.0
"So far beyond what the positions are good for it is no matter of a fence post: project judgement."
MANY = 3


def findings(site: Site, packs: Sequence[Pack]) -> tuple[Finding, ...]:
    """What is on the wrong side of the boundary, and whether anybody looked beyond it."""
    if not site.boundaries:
        return ()
    return (*_outside(site), *_inside(site), *_beyond(site, largest_radius_m(packs)))


def largest_radius_m(packs: Iterable[Pack]) -> float:
    """The largest distance that a rule which decides asks for [m]; 0 where none does."""
    limits = [
        limit
        for pack in packs
        for rule in pack.rules
        if rule.measure is Measure.DISTANCE and rule.strength == "must" and not rule.flag
        for limit in rule.limits
        if limit.unit == "m" and limit.is_minimum
    ]
    return max((max(limit.constant or 0.0, *(y for _, y in limit.points), 0.0) for limit in limits), default=0.0)


def _land(site: Site) -> BaseGeometry:
    return shapely.union_all([feature.geometry for feature in site.boundaries])


def _slack_m(site: Site, feature: Feature) -> float:
    return SLACK_M + 3.0 * max(site.separation_sigma_m(feature, boundary) for boundary in site.boundaries)


def _outside(site: Site) -> Iterator[Finding]:
    land = _land(site)
    own = [f for f in site.features if f.kind in OWN and not _is_a_neighbours(f)]
    if not own:
        return
    away_m = shapely.distance(np.array([f.geometry for f in own], dtype=object), land)
    off = [(f, float(d)) for f, d in zip(own, away_m, strict=True) if d > _slack_m(site, f)]
    if len(off) >= MANY and 2 * len(off) > len(own):
        yield _apart(site, off, len(own), land)
        return
    for feature, distance_m in off:
        plain = distance_m > _slack_m(site, feature) + PLAINLY_M
        yield Finding(
            code="outside-boundary",
            seen=f"{feature.kind} {feature.name!r} lies {length(distance_m)} outside the boundary",
            file=feature.origin.file if feature.origin else feature.source,
            row=feature.origin.row if feature.origin else None,
            layer=feature.origin.layer if feature.origin else "",
            value=f"{distance_m:.1f} m outside",
            sure=Sure.LIKELY if plain else Sure.POSSIBLE,
            effect_m=distance_m,
            repair="correct its position, or the boundary",
            accept=f"outside the boundary: {feature.name}",
            stops=plain,
        )


def _apart(site: Site, off: Sequence[tuple[Feature, float]], count: int, land: BaseGeometry) -> Finding:
    first = off[0][0]
    middle = np.mean([shapely.get_coordinates(shapely.centroid(f.geometry))[0] for f, _ in off], axis=0)
    step = shapely.get_coordinates(shapely.centroid(land))[0] - middle
    boundary = site.boundaries[0]
    return Finding(
        code="outside-boundary",
        seen=f"{len(off)} of {count} things that a facility has within its ground lie outside the boundary of "
        f"{boundary.source}, by up to {length(max(d for _, d in off))}; moved by {length(float(np.hypot(*step)))} "
        "they would lie within: two datums, or a boundary of another place",
        file=first.source,
        row=first.origin.row if first.origin else None,
        value=f"{len(off)} of {count}",
        sure=Sure.LIKELY,
        effect_m=float(np.hypot(*step)),
        repair="find out in which datum each file was measured, and write it as crs of its [[source]]",
        accept=address("outside the boundary", file=first.source),
        stops=True,
    )


def _is_a_neighbours(feature: Feature) -> bool:
    texts = [feature.name, *(v for v in feature.attributes.values() if isinstance(v, str))]
    return any(NEIGHBOUR_WORDS & set(folded(text).split()) for text in texts)


def _inside(site: Site) -> Iterator[Finding]:
    land = _land(site)
    for feature in site.features:
        beyond = _is_a_neighbours(feature)
        if feature.kind == BOUNDARY or not (beyond or feature.kind in OTHERS):
            continue
        slack_m = _slack_m(site, feature)
        within = shapely.intersection(feature.geometry, land.buffer(-slack_m))
        if within.is_empty:
            continue
        corners = shapely.points(shapely.get_coordinates(within))
        deep_m = float(shapely.distance(corners, shapely.boundary(land)).max())
        whose = "is named a neighbour's" if beyond else f"is a {feature.kind}"
        yield Finding(
            code="inside-boundary",
            seen=f"{feature.name!r} {whose} and lies {length(deep_m)} inside the boundary",
            file=feature.origin.file if feature.origin else feature.source,
            row=feature.origin.row if feature.origin else None,
            layer=feature.origin.layer if feature.origin else "",
            value=f"{deep_m:.1f} m inside",
            sure=Sure.POSSIBLE,
            effect_m=deep_m,
            repair="correct its position or kind, or the boundary",
            accept=f"inside the boundary: {feature.name}",
            stops=False,
        )


def _beyond(site: Site, radius_m: float) -> Iterator[Finding]:
    """Nothing recorded beyond the fence is doubtful only where nobody says how far they looked."""
    if radius_m <= 0.0 or site.survey.radius_m is not None:
        return
    land = _land(site)
    others = [f.geometry for f in site.features if f.kind != BOUNDARY and f.status is not Status.PROPOSED]
    if not others or not shapely.covers(land.buffer(SLACK_M), np.array(others, dtype=object)).all():
        return
    yield Finding(
        code="nothing-beyond",
        seen=f"nothing is recorded beyond the boundary, and nobody says how far out was looked; "
        f"rules reach {radius_m:g} m",
        file=site.boundaries[0].origin.file if site.boundaries[0].origin else None,
        sure=Sure.POSSIBLE,
        effect_m=radius_m,
        repair=f"walk {radius_m:g} m beyond the fence, record what is there, and write radius_m under [surveyed]",
        accept="nothing beyond the boundary",
        stops=False,
    )
