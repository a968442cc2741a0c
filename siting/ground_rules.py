"""Makers of requirements from what lies beneath: water table, time of travel, slope, and the hours of the wind."""

from collections.abc import Iterator
from dataclasses import replace
from math import radians, sqrt, tan

import numpy as np
import shapely
from shapely.geometry import Polygon

from siting.applicability import (
    limit_value,
    not_known,
    nothing_recorded,
    others_of,
    rule_applies,
    rule_attributes,
    without_feature,
)
from siting.capture import Capture, capture
from siting.directions import bearing_of_side, ground_on_side
from siting.installation import Installation
from siting.requirements import FAR_M, Maker, Outcome, Question, Requirement, Sense, Unassessed
from siting.rules import Limit, Measure, Rule
from siting.site import Feature
from siting.slope import steeper_than
from siting.terrain import HIGHEST, MIN_GRADIENT, has_slope
from siting.uncertainty import combined
from siting.wind import share_downwind

# --- the water table ---------------------------------------------------------------------------------------------


def above_water(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """Pit bottom (or ground) above the highest water: the same everywhere, or falling towards where water is near."""
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
        return
    from_bottom = rule.datum == "pit bottom"
    if from_bottom and installation.depth_m is None:
        yield not_known(rule, ("installation.pit_depth_m",), installation.name)
        return
    depth_m = installation.depth_m if from_bottom and installation.depth_m is not None else 0.0
    for limit in rule.limits:
        required = limit_value(limit, rule_attributes(question, installation, None), strict=rule.strict_if_unknown)
        if required is None:
            yield not_known(rule, limit.needs, installation.name)
        else:
            yield _clearance(question, rule, limit, required, depth_m)


def _clearance(question: Question, rule: Rule, limit: Limit, required_m: float, depth_m: float) -> Outcome:
    ground, terrain = question.site.ground, question.terrain
    if ground.levels_season == HIGHEST and terrain.water is not None and terrain.heights is not None:
        return _over_planes(question, rule, limit, required_m, depth_m)
    if ground.highest_water_depth_m is None:
        dry = ground.dry_season_water_depth_m is not None or bool(ground.levels)
        reason = "only a level that is not the highest is known" if dry else "the depth of the water is not known"
        return Unassessed(rule=rule, reason=reason, look_for="the highest water level anyone knows of")
    stated = ground.water_depth_sigma_m
    return Requirement(
        rule=rule,
        limit=limit,
        sense=Sense.FIXED,
        limit_m=required_m,
        required=required_m,
        value=ground.highest_water_depth_m - depth_m,
        sigma=stated or 0.0,
        because=f"highest known water {ground.highest_water_depth_m:g} m below ground, taken as the same everywhere"
        + ("" if stated else "; its uncertainty is not stated"),
    )


def _over_planes(question: Question, rule: Rule, limit: Limit, required_m: float, depth_m: float) -> Requirement:
    water, heights = question.terrain.water, question.terrain.heights
    assert water is not None and heights is not None
    a, b = heights.a - water.a, heights.b - water.b
    c = heights.c - water.c - depth_m
    corners = shapely.get_coordinates(question.land) if question.land is not None else np.zeros((1, 2))
    # The largest over the corners of the land: nowhere inside is it larger, since it grows from the centre outward.
    sigma = float(np.hypot(heights.level_sigma_at(corners), water.level_sigma_at(corners)).max())
    because = (
        f"from {water.n} water levels and {heights.n} spot heights, each as a plane "
        f"(residuals {water.residual_m:.2f} m and {heights.residual_m:.2f} m)"
    )
    return _over_plane(rule, limit, required_m, (a, b, c), sigma, because)


def _over_plane(
    rule: Rule, limit: Limit, required: float, plane: tuple[float, float, float], sigma: float, because: str
) -> Requirement:
    """A value that changes evenly over the ground, as the half-plane where it is too small."""
    a, b, c = plane
    gradient = sqrt(a * a + b * b)
    even = Requirement(
        rule=rule, limit=limit, sense=Sense.FIXED, limit_m=required, required=required, value=c, sigma=sigma,
        because=because,
    )  # fmt: skip
    if gradient < MIN_GRADIENT:
        return even
    up = np.array([a, b]) / gradient
    edge = up * (required - c) / gradient
    across = np.array([-up[1], up[0]]) * FAR_M
    too_low = Polygon([edge + across, edge - across, edge - across - up * FAR_M, edge + across - up * FAR_M])
    return replace(
        even,
        sense=Sense.OUTSIDE,
        geometry=too_low,
        limit_m=0.0,
        sigma=sigma / gradient,
        value_at=lambda xy: a * xy[0] + b * xy[1] + c,
        plane=plane,
        value_sigma=sigma,
    )


# --- time of travel ------------------------------------------------------------------------------------------------


def travel_time(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """Days that groundwater takes from a pit to a water source: v = K i / n, over the distance down the gradient."""
    others = others_of(question, rule.from_kinds, installation)
    if not others:
        yield from nothing_recorded(question, rule, installation)
        return
    speed = _speed(question, rule)
    if isinstance(speed, Unassessed) and not _protects(question):
        yield speed
        return
    told = False
    for feature in others:
        attributes = rule_attributes(question, installation, feature)
        applies, unknown = rule_applies(rule, attributes)
        if not applies:
            if unknown:
                yield not_known(rule, unknown, feature.name)
            continue
        for limit in rule.limits:
            days = limit_value(limit, attributes, strict=rule.strict_if_unknown)
            if days is None:
                yield not_known(rule, limit.needs, feature.name)
                continue
            well = shapely.centroid(feature.geometry)
            drawn = capture(well, question.terrain, attributes, days=days)
            if drawn is not None:
                yield _drawn_from(question, rule, limit, days, feature, installation, drawn)
            elif not isinstance(speed, Unassessed):
                yield _days_away(question, rule, limit, days, feature, installation, *speed)
            elif not told:
                told = True
                yield speed


def _protects(question: Question) -> bool:
    """Whether distance means anything in the ground that is named."""
    material = question.terrain.material
    return material is None or material.distance_protects


def _drawn_from(
    question: Question, rule: Rule, limit: Limit, days: float, feature: Feature, installation: Installation,
    drawn: Capture,
) -> Requirement:  # fmt: skip
    """Outside the ground that a pumped well draws from within the days asked for.

    The time shown grows evenly with distance up to the reach; nearer the well water moves faster, so a time below
    the limit is shown longer than it is, and never as long as the limit.
    """
    return Requirement(
        rule=rule,
        limit=limit,
        sense=Sense.OUTSIDE,
        feature=feature,
        geometry=drawn.zone,
        limit_m=0.0,
        required=days,
        metres_per_unit=drawn.reach_m / days,
        sigma=question.sigma_to(installation, feature),
        sided=True,
        side_bearing_deg=bearing_of_side("up-gradient", question.towards),
        of_those_recorded=question.not_searched(drawn.reach_m),
        because=drawn.because,
    )


def _speed(question: Question, rule: Rule) -> tuple[float, float, str] | Unassessed:
    """Velocity [m/day], the share of it that is its standard uncertainty, and what it rests on."""
    terrain = question.terrain
    if terrain.material is not None and not terrain.material.distance_protects:
        return Unassessed(
            rule=rule,
            reason=f"{terrain.material.name}: {terrain.material.note}; no distance is protective",
            look_for="another site, or a hydrogeologist's judgement",
        )
    if terrain.water is None:
        return Unassessed(rule=rule, reason="the slope of the water table is not known",
                          look_for="water levels in three wells or more")  # fmt: skip
    if terrain.flow is None:
        return Unassessed(rule=rule, reason="what the ground is made of is not known",
                          look_for="the material of the ground, or its conductivity and porosity")  # fmt: skip
    if not has_slope(terrain.water):
        fall, known_to = terrain.water.gradient, terrain.water.gradient_sigma
        return Unassessed(
            rule=rule,
            reason=f"the water table falls by {fall:.2g}, known to {known_to:.2g}: it cannot be told from level water",
            look_for="water levels in wells farther apart, or read more closely",
        )
    conductivity, porosity, source = terrain.flow
    gradient = terrain.water.gradient
    share = terrain.water.gradient_sigma / gradient
    because = f"v = K i / n = {conductivity * gradient / porosity:.3g} m/day with i = {gradient:.3g}; {source}"
    return conductivity * gradient / porosity, share, because


def _days_away(
    question: Question, rule: Rule, limit: Limit, days: float, feature: Feature, installation: Installation,
    velocity: float, share: float, because: str,
) -> Requirement:  # fmt: skip
    reach_m = days * velocity
    gap_m = feature.radius_m or 0.0
    bearing = bearing_of_side("up-gradient", question.towards)
    geometry, limit_m, sided = feature.geometry, reach_m, False
    if bearing is not None:
        geometry = ground_on_side(geometry, bearing, sector_deg=180.0, reach_m=max(reach_m + gap_m, 1e-3))
        gap_m, limit_m, sided = 0.0, 0.0, True
    return Requirement(
        rule=rule,
        limit=limit,
        sense=Sense.OUTSIDE,
        feature=feature,
        geometry=geometry,
        gap_m=gap_m,
        limit_m=limit_m,
        required=days,
        metres_per_unit=velocity,
        sigma=combined(question.sigma_to(installation, feature), reach_m * share),
        sided=sided,
        side_bearing_deg=bearing,
        of_those_recorded=question.not_searched(reach_m),
        because=because,
    )


# --- slope ----------------------------------------------------------------------------------------------------------


def slope(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """Ground no steeper than a limit, by the triangles between spot heights."""
    refused = without_feature(question, rule, installation)
    if refused is not None:
        yield from refused
        return
    terrain = question.terrain
    if terrain.surface is None:
        yield Unassessed(rule=rule, reason="no spot heights", look_for="spot heights of the ground")
        return
    faces = shapely.polygons([[corner[:2] for corner in triangle] for triangle in terrain.surface.triangles])
    steepness = np.array(terrain.surface.slope_percent)

    def steepness_at(xy: tuple[float, float]) -> float:
        # Beyond the surveyed heights the nearest triangle is taken.
        return float(steepness[int(np.argmin(shapely.distance(faces, shapely.points(xy))))])

    for limit in rule.limits:
        required = limit_value(limit, rule_attributes(question, installation, None), strict=True)
        assert required is not None
        percent = 100.0 * tan(radians(required)) if limit.unit == "deg" else required
        # A limit that is strict forbids ground exactly as steep as it.
        steep = steeper_than(terrain.surface, slope_percent=percent * (1.0 - 1e-9) if limit.is_strict else percent)
        shown = Limit(relation=limit.relation, unit="%", constant=percent, as_written=limit.as_written)
        everywhere = Requirement(
            rule=rule, limit=shown, sense=Sense.FIXED, limit_m=percent, required=percent,
            value=float(steepness.max()), because="slope between spot heights",
        )  # fmt: skip
        if steep.is_empty:
            yield everywhere
        else:
            yield replace(everywhere, sense=Sense.OUTSIDE, geometry=steep, limit_m=0.0, value_at=steepness_at)


# --- the hours of the wind -------------------------------------------------------------------------------------------


def downwind(question: Question, rule: Rule, installation: Installation) -> Iterator[Outcome]:
    """At most such a share of all hours may the wind blow from the installation to a feature."""
    others = others_of(question, rule.from_kinds, installation)
    if not others:
        yield from nothing_recorded(question, rule, installation)
        return
    rose = question.terrain.rose
    if rose is None:
        yield Unassessed(rule=rule, reason="no wind frequencies", look_for="wind frequencies by sector")
        return
    width = 360.0 / len(rose.names)
    for feature in others:
        for limit in rule.limits:
            assert limit.constant is not None
            everywhere = Requirement(
                rule=rule, limit=limit, sense=Sense.FIXED, limit_m=limit.constant, required=limit.constant,
                value=max(rose.shares_percent), because="the largest share of any sector",
            )  # fmt: skip
            if max(rose.shares_percent) <= limit.constant:
                yield everywhere
                return
            sectors = [
                ground_on_side(feature.geometry, number * width, sector_deg=width, reach_m=FAR_M)
                for number, share in enumerate(rose.shares_percent)
                if share > limit.constant
            ]

            def share_at(xy: tuple[float, float], feature: Feature = feature) -> float:
                to = shapely.get_coordinates(shapely.centroid(feature.geometry))[0]
                bearing = float(np.degrees(np.arctan2(to[0] - xy[0], to[1] - xy[1])) % 360.0)
                return 100.0 * share_downwind(rose, bearing_deg=bearing)

            yield Requirement(
                rule=rule, limit=limit, sense=Sense.OUTSIDE, feature=feature, limit_m=0.0, sided=True,
                geometry=shapely.union_all(sectors), required=limit.constant,
                value_at=share_at, sigma=question.sigma_to(installation, feature),
            )  # fmt: skip


MAKERS: dict[Measure, Maker] = {
    Measure.ABOVE_WATER: above_water,
    Measure.TRAVEL_TIME: travel_time,
    Measure.SLOPE: slope,
    Measure.DOWNWIND: downwind,
}
