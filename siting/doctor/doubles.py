"""One thing entered twice."""

from collections.abc import Iterator

import numpy as np
import shapely

from siting.finding import Finding, Sure, length
from siting.kinds import BOUNDARY, UNKNOWN
from siting.site import Feature, Site

SAME_M = 0.05
NEAR_M = 1.0
"Two things of one kind and different names stand farther apart than this: project judgement."
SAME_NAME_M = 10.0
"Two things of one kind and one name nearer than this are perhaps one."
SHARE = 0.5
"So much of the smaller outline in common makes two outlines one."


def findings(site: Site) -> tuple[Finding, ...]:
    """Duplicates and near-duplicates: a rule sees both, so the nearer one governs and a moved copy can mislead."""
    held = [
        feature
        for feature in site.features
        if feature.kind not in (BOUNDARY, UNKNOWN) and feature.geometry.geom_type in ("Point", "Polygon")
    ]
    if len(held) < 2:
        return ()
    names = {feature.name for feature in site.features}
    shapes = np.array([feature.geometry for feature in held], dtype=object)
    one, other = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=SAME_NAME_M)
    return tuple(
        finding
        for i, j in zip(one, other, strict=True)
        if i < j and held[i].kind == held[j].kind
        for finding in _of_pair(held[i], held[j], names)
    )


def _stem(name: str, names: set[str]) -> str:
    stem, _, number = name.rpartition(" ")
    return stem if number.isdigit() and stem in names else name


def _of_pair(one: Feature, other: Feature, names: set[str]) -> Iterator[Finding]:
    both_points = one.geometry.geom_type == other.geometry.geom_type == "Point"
    apart_m = float(shapely.distance(shapely.centroid(one.geometry), shapely.centroid(other.geometry)))
    named_alike = _stem(one.name, names) == _stem(other.name, names) and one.name != one.kind
    if both_points:
        same = apart_m <= SAME_M
        if not (same or apart_m <= NEAR_M or (named_alike and apart_m <= SAME_NAME_M)):
            return
    else:
        common = shapely.intersection(one.geometry, other.geometry).area
        areas = [g.area for g in (one.geometry, other.geometry) if g.area > 0.0]
        if common < SHARE * min(areas):
            return
        same = common > 0.98 * max(areas)
    origin = other.origin
    yield Finding(
        code="duplicate" if same else "near-duplicate",
        seen=f"{other.kind} {other.name!r} stands {'where' if same else length(apart_m) + ' from where'} "
        f"{one.name!r} stands ({one.origin or one.source}): one thing entered twice?",
        file=origin.file if origin else other.source,
        row=origin.row if origin else None,
        layer=origin.layer if origin else "",
        value=other.name,
        sure=Sure.LIKELY if same or named_alike else Sure.POSSIBLE,
        effect_m=apart_m,
        repair="remove one of the two, if it is one thing",
        accept=f"two things: {one.name} and {other.name}",
        stops=False,
    )
