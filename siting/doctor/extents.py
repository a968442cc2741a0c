"""Things larger or smaller than such things are, and things that stand in each other."""

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from siting.errors import InputError
from siting.finding import Finding, Sure, address, length
from siting.kinds import BOUNDARY, vocabulary
from siting.site import Feature, Site
from siting.usual import USUAL, checked

USUAL_M: Mapping[str, tuple[float, float, float, float]] = MappingProxyType(
    {
        "ward": (2.0, 4.0, 70.0, 150.0),
        "building": (1.0, 1.8, 90.0, 250.0),
        "groundwater source": (0.05, 0.08, 6.0, 15.0),
        "water store": (0.3, 0.5, 40.0, 100.0),
        "latrine": (0.5, 0.8, 40.0, 100.0),
        "pit": (0.3, 0.5, 12.0, 40.0),
        "sealed containment": (0.5, 0.8, 25.0, 60.0),
        "infiltrating": (0.3, 0.5, 60.0, 200.0),
        "burner": (0.2, 0.4, 15.0, 60.0),
        BOUNDARY: (5.0, 12.0, 1500.0, 10_000.0),
    }
)
"""Long side of a kind or group: below the first or above the last it stops, outside the middle two it warns.

Project judgement: wide enough for what is built, narrow enough for a slipped point or a wrong unit.
"""
UNITS = (
    (0.3048, "feet taken for metres would do that"),
    (0.001, "millimetres taken for metres would do that"),
    (0.01, "centimetres taken for metres would do that"),
)
OVERLAPS_OF_FEET = 2
"So many discs of one file reach into each other as metres and do not as feet: project judgement."
OVERLAP_M = 1.0


def findings(site: Site) -> tuple[Finding, ...]:
    """What is too large, too small, or where something else stands."""
    return (*_sizes(site), *_depths(site), *_overlaps(site))


def long_sides_m(features: Sequence[Feature]) -> np.ndarray:
    """The long side of each outline, the diameter of each disc; NaN for lines and bare points."""
    geometries = np.array([feature.geometry for feature in features], dtype=object)
    sides = np.full(len(features), np.nan)
    areal = np.isin(shapely.get_type_id(geometries), (3, 6))
    boxes = shapely.oriented_envelope(geometries[areal])
    corners = [shapely.get_coordinates(box) for box in boxes]
    sides[areal] = [float(np.hypot(*np.diff(c, axis=0).T).max()) for c in corners]
    radii = np.array([feature.radius_m or np.nan for feature in features], dtype=float)
    discs = ~areal & ~np.isnan(radii)
    sides[discs] = 2.0 * radii[discs]
    return sides


def usual_of(kind: str) -> tuple[float, float, float, float] | None:
    """The usual long sides of a kind: the first row of the table that names it or one of its groups."""
    known = vocabulary().kinds.get(kind)
    named = {kind, *(known.groups if known else ())}
    return next((sides for name, sides in USUAL_M.items() if name in named), None)


def _sizes(site: Site) -> Iterator[Finding]:
    sides = long_sides_m(site.features)
    odd = [
        (feature, float(side), usual)
        for feature, side in zip(site.features, sides, strict=True)
        if not np.isnan(side) and (usual := usual_of(feature.kind)) is not None and not usual[1] <= side <= usual[2]
    ]
    for feature, side_m, (least, low, high, most) in odd:
        unit = next((u for u in UNITS if side_m > high and low <= side_m * u[0] <= high), None)
        small = side_m < low
        nearest = low if small else high
        yield _finding(
            feature,
            code="size",
            seen=f"{feature.kind} {feature.name!r} is {length(side_m)} long, usual is {low:g} to {high:g} m"
            + (f" ({unit[1]})" if unit else ""),
            value=f"{side_m:.3g} m",
            sure=Sure.LIKELY if not least <= side_m <= most else Sure.POSSIBLE,
            effect_m=abs(side_m - nearest) / 2.0,
            repair="correct its outline or radius_m (metres, half the width)",
            words="size",
            stops=not least <= side_m <= most,
        )


def _depths(site: Site) -> Iterator[Finding]:
    for feature in site.features:
        for quantity in ("pit_depth_m", "pit_diameter_m", "wall_m"):
            value = feature.attributes.get(quantity)
            if quantity not in USUAL or not isinstance(value, float):
                continue
            try:
                checked(quantity, value)
            except InputError as error:
                said = error.faults[0]
                usual = said.needed.rpartition(" between ")[2]
                limit = USUAL[quantity].low if value < USUAL[quantity].low else USUAL[quantity].high
                yield _finding(
                    feature,
                    code="size",
                    seen=f"{feature.kind} {feature.name!r}: {said.found}, usual is {usual}",
                    value=f"{value:g}",
                    sure=Sure.LIKELY,
                    effect_m=abs(value - limit),
                    repair=said.do_next,
                    words=quantity,
                    stops=True,
                )


def _finding(
    feature: Feature,
    *,
    code: str,
    seen: str,
    value: str,
    sure: Sure,
    effect_m: float,
    repair: str,
    words: str,
    stops: bool,
) -> Finding:
    origin = feature.origin
    file = origin.file if origin else feature.source
    return Finding(
        code=code,
        seen=seen,
        file=file,
        layer=origin.layer if origin else "",
        row=origin.row if origin else None,
        value=value,
        sure=sure,
        effect_m=effect_m,
        repair=repair,
        accept=f"{words}: {feature.name}",
        stops=stops,
    )


def _overlaps(site: Site) -> Iterator[Finding]:
    groups = vocabulary().kinds
    solid = [
        f for f in site.features if f.kind in groups and {"building", "groundwater source"} & set(groups[f.kind].groups)
    ]
    shapes = np.array([_shape(feature) for feature in solid], dtype=object)
    if len(shapes) < 2:
        return
    tree = shapely.STRtree(shapes)
    one, other = tree.query(shapes, predicate="intersects")
    pairs = [
        (solid[i], solid[j], depth_m)
        for i, j in zip(one, other, strict=True)
        if i < j and (depth_m := _depth_m(site, solid[i], solid[j], shapes[i], shapes[j])) > 0.0
    ]
    for file in dict.fromkeys(a.source for a, _, _ in pairs):
        of_file = [pair for pair in pairs if pair[0].source == file]
        if len(of_file) >= OVERLAPS_OF_FEET and all(_apart_in_feet(a, b) for a, b, _ in of_file):
            yield _feet(of_file)
            continue
        for a, b, depth_m in of_file:
            yield _finding(
                b,
                code="overlap",
                seen=f"{b.kind} {b.name!r} reaches {length(depth_m)} into {a.kind} {a.name!r}",
                value=f"{depth_m:.2f} m",
                sure=Sure.POSSIBLE,
                effect_m=depth_m,
                repair="correct the position or the size of one of them",
                words=f"overlap with {a.name}",
                stops=False,
            )


def _shape(feature: Feature) -> BaseGeometry:
    return feature.geometry.buffer(feature.radius_m, quad_segs=8) if feature.radius_m else feature.geometry


def _depth_m(
    site: Site,
    a: Feature,
    b: Feature,
    shape_a: BaseGeometry,
    shape_b: BaseGeometry,
) -> float:
    """How far two things reach into each other beyond what their positions are good for; 0 for a room in a building."""
    wells = [shape for feature, shape in ((a, shape_a), (b, shape_b)) if _is_well(feature)]
    if len(wells) == 1:
        # of a well its middle tells: it is smaller than any building it may stand in
        holder = shape_b if wells[0] is shape_a else shape_a
        middle = shapely.centroid(wells[0])
        deep = float(shapely.distance(middle, shapely.boundary(holder))) if shapely.covers(holder, middle) else 0.0
    elif wells or a.is_bare_point or b.is_bare_point or shape_a.covers(shape_b) or shape_b.covers(shape_a):
        # a room within a building is a matter of course
        return 0.0
    else:
        common = [p for p in shapely.get_parts(shapely.intersection(shape_a, shape_b)) if isinstance(p, Polygon)]
        deep = max((2.0 * float(shapely.maximum_inscribed_circle(part).length) for part in common), default=0.0)
    allowed = OVERLAP_M + 2.0 * site.separation_sigma_m(a, b)
    return deep if deep > allowed else 0.0


def _is_well(feature: Feature) -> bool:
    return "groundwater source" in vocabulary().kinds[feature.kind].groups


def _apart_in_feet(a: Feature, b: Feature) -> bool:
    if not (a.radius_m or b.radius_m):
        return False
    gap_m = float(shapely.distance(a.geometry, b.geometry))
    return gap_m >= 0.3048 * ((a.radius_m or 0.0) + (b.radius_m or 0.0))


def _feet(pairs: Sequence[tuple[Feature, Feature, float]]) -> Finding:
    first = pairs[0][0]
    deepest_m = max(depth_m for _, _, depth_m in pairs)
    file = first.origin.file if first.origin else first.source
    radii = [f.radius_m or 0.0 for pair in pairs for f in pair[:2]]
    return Finding(
        code="feet-as-metres",
        seen=f"{len(pairs)} pairs of buildings reach into each other by up to {length(deepest_m)}, "
        f"such as {first.name!r} and {pairs[0][1].name!r}; with radii in feet none would",
        file=file,
        value=f"radii up to {max(radii):g}",
        sure=Sure.LIKELY,
        effect_m=max(radii) * (1.0 - 0.3048),
        repair="write radius_m in metres (feet times 0.3048)",
        accept=address("overlaps", file=file),
        stops=True,
    )
