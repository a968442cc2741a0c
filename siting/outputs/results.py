"""`results.json`: the whole assessment as plain data, for programs.

Coordinates are WGS 84 longitude and latitude, lengths are metres.
On a plan without a place on earth coordinates are null, and `x_m`, `y_m` give metres of the plan beside them.
Lengths are rounded to the millimetre in the direction that flatters nobody, everything else to fixed digits, and
keys are sorted, so that the same input gives the same bytes.
"""

import json
from collections import Counter
from collections.abc import Mapping
from math import ceil, floor

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.arrangement import Arrangement
from siting.assess import Assessment, Conflict, Finding, Placed
from siting.frame import Frame
from siting.no_well_ground import NoWellGround
from siting.pits import support_wanted
from siting.requirements import Attested, Requirement, Unassessed
from siting.separations import Separation

SCHEMA = "siting/1"
DEGREE_DIGITS = 8
"About 1 mm on the ground."


def results(assessment: Assessment) -> dict[str, object]:
    """The assessment as a dictionary that is ready for JSON."""
    site, frame = assessment.site, assessment.site.frame
    finding = assessment.finding
    rows = [separation_row(s, frame) for s in assessment.separations]
    return {
        "schema": SCHEMA,
        "site": {
            "name": site.name,
            "centre": [frame.lon, frame.lat],
            "frame": frame.proj,
            "features": len(site.features),
            "by_kind": dict(sorted(Counter(f.kind for f in site.features).items())),
        },
        "rules": [{"pack": p.id, "title": p.title, "edition": p.edition, "sha256": p.sha256} for p in assessment.packs],
        "confidence": site.confidence,
        "inputs": [
            {
                "file": source.name,
                "sha256": source.sha256,
                "features": sum(f.source == source.name for f in site.features),
                "notes": [*source.notes, *([source.operation] if source.operation else [])],
            }
            for source in site.sources.values()
        ],
        "warnings": [{"code": n.code, "message": n.message, "file": n.file, "row": n.row} for n in site.notices],
        "separations": rows,
        "not_assessed": [_unassessed_row(name, row) for name, row in assessment.unassessed],
        "attested_absent": [_attested_row(name, row) for name, row in assessment.attested],
        "feasible": _feasible(finding, frame),
        "candidates": [_candidate(p, finding, frame) for p in finding.placed] if finding else [],
        "size": _size(finding) if finding else None,
        "terrain": _terrain(assessment),
        "arrangement": _arrangement(assessment.arrangement, frame) if assessment.arrangement else None,
        "mending": [
            {
                "installation": m.installation,
                **_at("lon_lat", (m.x_m, m.y_m), frame),
                "moved_m": _unflattered(m.moved_m, down=False),
                "bearing_deg": round(m.bearing_deg, 1) % 360.0,
                "margin_m": _unflattered(m.margin_m, down=True),
            }
            for m in assessment.mendings
        ],
        "conflict": _conflict(finding.conflict, frame) if finding and finding.conflict else None,
        "verdict": str(assessment.verdict),
        "cautions": list(assessment.cautions),
    }


def as_json(data: Mapping[str, object]) -> str:
    """Sorted keys, two spaces, UTF-8 text, a newline at the end; not-a-number never passes."""
    return json.dumps(data, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n"


def separation_row(separation: Separation, frame: Frame) -> dict[str, object]:
    """One separation as plain data."""
    minimum = separation.limit.is_minimum
    length = separation.unit == "m"
    value = _unflattered(separation.value, down=minimum)
    margin = _unflattered(separation.margin, down=True)
    return {
        "rule": separation.rule.id,
        "pack": separation.rule.pack,
        "installation": separation.installation,
        "feature": separation.feature,
        "measure": separation.measure,
        "relation": separation.limit.relation.replace("_", " "),
        "value": value,
        "limit": round(separation.required, 6),
        "unit": separation.unit,
        "distance_m": value if length else _or_none(separation.distance_m, down=True),
        "required_m": None if separation.required_m is None else round(separation.required_m, 6),
        "margin": margin,
        "margin_m": margin if length else _or_none(separation.margin_m, down=True),
        "sigma_m": round(separation.sigma, 4),
        "probability": floor(separation.probability * 1e6) / 1e6,
        "verdict": str(separation.verdict),
        "strength": str(separation.rule.strength),
        "because": separation.because,
        "action": separation.action,
        "citation": str(separation.rule.citation),
        "note": separation.rule.note,
        "read": str(separation.rule.citation.read),
        **_at("from", separation.start_xy, frame),
        **_at("to", separation.end_xy, frame),
        "bearing_deg": None if separation.bearing_deg is None else round(separation.bearing_deg, 2) % 360.0,
    }


def _or_none(length_m: float | None, *, down: bool) -> float | None:
    return None if length_m is None else _unflattered(length_m, down=down)


def _unflattered(length_m: float, *, down: bool) -> float:
    thousandths = floor(length_m * 1e3 + 1e-6) if down else ceil(length_m * 1e3 - 1e-6)
    return thousandths / 1e3


def _at(key: str, xy: tuple[float, float] | None, frame: Frame) -> dict[str, object]:
    """A place under `key`: degrees, or null and metres of the plan beside it where it has no place on earth."""
    if xy is None:
        return {key: None}
    if not frame.on_earth:
        before = "" if key == "lon_lat" else f"{key}_"
        return {key: None, f"{before}x_m": _millimetres(xy[0]), f"{before}y_m": _millimetres(xy[1])}
    lon, lat = frame.to_world(np.array([xy]))[0]
    return {key: [_degrees(lon), _degrees(lat)]}


def _millimetres(value_m: float) -> float:
    return round(float(value_m), 3) + 0.0


def _degrees(value: float) -> float:
    return round(float(value), DEGREE_DIGITS) + 0.0


def geojson(geometry: BaseGeometry, frame: Frame) -> dict[str, object]:
    """A geometry of the plane as GeoJSON in WGS 84; its coordinates null, and `x_y_m` beside them, on a plan alone."""
    if not frame.on_earth:
        plan = json.loads(shapely.to_geojson(shapely.transform(geometry, lambda xy: np.round(xy, 3) + 0.0)))
        return {"type": plan["type"], "coordinates": None, "x_y_m": plan.get("coordinates")}
    moved = frame.geometry_to_world(geometry) if not geometry.is_empty else geometry
    rounded = shapely.transform(moved, lambda xy: np.round(xy, DEGREE_DIGITS) + 0.0)
    return json.loads(shapely.to_geojson(rounded))


def _unassessed_row(installation: str, row: Unassessed) -> dict[str, object]:
    return {
        "rule": row.rule.id,
        "pack": row.rule.pack,
        "installation": installation,
        "reason": row.reason,
        "look_for": row.look_for,
        "radius_m": row.radius_m,
        "strength": str(row.rule.strength),
        "citation": str(row.rule.citation),
    }


def _attested_row(installation: str, row: Attested) -> dict[str, object]:
    return {
        "rule": row.rule.id,
        "pack": row.rule.pack,
        "installation": installation,
        "statement": row.statement,
        "radius_m": row.radius_m,
        "citation": str(row.rule.citation),
    }


def _feasible(finding: Finding | None, frame: Frame) -> dict[str, object] | None:
    if finding is None:
        return None
    ground = finding.ground
    return {
        "for": finding.installation.kind,
        "area_m2": floor(ground.nominal.area * 10.0) / 10.0,
        "area_confident_m2": floor(ground.confident.area * 10.0) / 10.0,
        "geometry": geojson(ground.nominal, frame),
        "geometry_confident": geojson(ground.confident, frame),
    }


def _candidate(placed: Placed, finding: Finding | None, frame: Frame) -> dict[str, object]:
    assert finding is not None
    c, installation = placed.candidate, finding.installation
    return {
        "name": c.name,
        **_lon_and_lat((c.x_m, c.y_m), frame),
        "orientation_deg": round(c.orientation_deg, 2),
        "margin_m": _unflattered(c.margin_m, down=True),
        "bound_m": _unflattered(c.bound_m, down=False),
        "probability": floor(placed.probability * 1e6) / 1e6,
        "walk_m": None if placed.walk_m is None else _unflattered(placed.walk_m, down=False),
        "why": placed.why,
        "route": geojson(placed.route.line, frame) if placed.route else None,
        "facts": {
            "public_m": _or_none(placed.facts.public_m, down=True),
            "seen_from": list(placed.facts.seen_from),
            "slope_percent": None if placed.facts.slope_percent is None else round(placed.facts.slope_percent, 2),
            "fall_m": None if placed.facts.fall_m is None else round(placed.facts.fall_m, 2),
            "vehicle_m": _or_none(placed.facts.vehicle_m, down=False),
        },
        **_at("reserve", (placed.reserve.x_m, placed.reserve.y_m) if placed.reserve else None, frame),
        "binding": _binding(c.binding),
        "pit": geojson(installation.pit.drawn_at(c.x_m, c.y_m, c.orientation_deg), frame),
        "enclosure": geojson(installation.enclosure.drawn_at(c.x_m, c.y_m, c.orientation_deg), frame),
        "depth_m": installation.depth_m,
        "separations": [separation_row(s, frame) for s in placed.separations],
        "verdict": str(placed.verdict),
        "no_well_ground": _no_well(placed.no_well, frame) if placed.no_well else None,
    }


def _lon_and_lat(xy: tuple[float, float], frame: Frame) -> dict[str, object]:
    told = _at("lon_lat", xy, frame)
    lonlat = told.pop("lon_lat")
    lon, lat = lonlat if isinstance(lonlat, list) else (None, None)
    return {"lon": lon, "lat": lat, **told}


def _no_well(ground: NoWellGround, frame: Frame) -> dict[str, object]:
    return {
        "rule": ground.rule.id,
        "pack": ground.rule.pack,
        "radius_m": round(ground.radius_m, 6),
        "area_m2": ceil(ground.area_m2 * 10.0) / 10.0,
        "beyond_boundary_m2": ceil(ground.beyond_boundary_m2 * 10.0) / 10.0,
        "geometry": geojson(ground.geometry, frame),
    }


def _size(finding: Finding) -> dict[str, object]:
    """The sizes that were placed, why, and what else holds the same where the depth is limited."""
    dimensions, sizing = finding.size.dimensions, finding.size.sizing
    return {
        "for": finding.installation.kind,
        "pit_length_m": dimensions.pit_length_m,
        "pit_width_m": dimensions.pit_width_m,
        "wall_m": dimensions.wall_m,
        "depth_m": dimensions.depth_m,
        "enclosure_m": [round(dimensions.enclosure_length_m, 3), round(dimensions.enclosure_width_m, 3)],
        "volume_kept_m3": round(sizing.volume_m3, 3) if sizing else None,
        "life_years": sizing.life_years if sizing else None,
        "reasons": list(finding.size.reasons),
        "support": [
            {"country": s.country, "from_m": s.depth_m, "source": s.source}
            for s in (support_wanted(dimensions.depth_m) if dimensions.depth_m else ())
        ],
        "alternatives": [
            {
                "what": a.what,
                "fits": a.fits,
                "pits": a.pits,
                "diameter_m": round(a.diameter_m, 3),
                "depth_m": round(a.depth_m, 3),
                "collar_m": round(a.collar_m, 3),
                "because": a.because,
            }
            for a in finding.alternatives
        ],
    }


def _arrangement(arrangement: Arrangement, frame: Frame) -> dict[str, object]:
    return {
        "margin_m": _unflattered(arrangement.margin_m, down=True),
        "bound_m": _unflattered(arrangement.bound_m, down=False),
        "walk_m": _unflattered(arrangement.walk_m, down=False),
        "step_m": round(arrangement.step_m, 3),
        "proved": arrangement.proved,
        "conflict": list(arrangement.conflict),
        "stands": [
            {
                "name": s.installation.name,
                "kind": s.installation.kind,
                **_at("lon_lat", (s.x_m, s.y_m), frame),
                "orientation_deg": round(s.orientation_deg, 2),
                "margin_m": _unflattered(s.margin_m, down=True),
                "walk_m": None if s.walk_m is None else _unflattered(s.walk_m, down=False),
                "pit": geojson(s.installation.pit.drawn_at(s.x_m, s.y_m, s.orientation_deg), frame),
                "enclosure": geojson(s.installation.enclosure.drawn_at(s.x_m, s.y_m, s.orientation_deg), frame),
            }
            for s in arrangement.stands
        ],
    }


def _terrain(assessment: Assessment) -> dict[str, object]:
    """Which way water, ground and wind go, and how steeply."""
    terrain = assessment.terrain
    water, heights, rose = terrain.water, terrain.heights, terrain.rose
    return {
        "water": None if water is None else {
            "gradient": round(water.gradient, 7),
            "flow_towards_deg": None if water.flow_towards_deg is None else round(water.flow_towards_deg, 2),
            "flow_sigma_deg": round(water.flow_sigma_deg, 2),
            "residual_m": round(water.residual_m, 4),
            "wells": water.n,
            "season": assessment.site.ground.levels_season,
        },
        "slope": None if heights is None else {
            "percent": round(100.0 * heights.gradient, 3),
            "falls_towards_deg": None if heights.flow_towards_deg is None else round(heights.flow_towards_deg, 2),
            "spot_heights": heights.n,
        },
        "wind": None if rose is None else {
            "from_percent": dict(zip(rose.names, rose.shares_percent, strict=True)),
            "calm_percent": rose.calm_percent,
            "prevailing_from": list(rose.prevailing),
        },
    }  # fmt: skip


def _binding(requirement: Requirement) -> dict[str, str]:
    return {"rule": requirement.rule.id, "feature": requirement.feature.name if requirement.feature else ""}


def _conflict(conflict: Conflict, frame: Frame) -> dict[str, object]:
    return {
        "shortfall_m": _unflattered(conflict.shortfall_m, down=False),
        **_at("best", (conflict.x_m, conflict.y_m), frame),
        "bound_m": _unflattered(conflict.bound_m, down=False),
        "requirements": [
            {
                **_binding(r),
                "pack": r.rule.pack,
                "required": round(r.required, 6),
                "unit": r.limit.unit,
                "citation": str(r.rule.citation),
            }
            for r in conflict.requirements
        ],
        "separations": [separation_row(s, frame) for s in conflict.separations],
        "ways_out": [
            {
                "change": way.change,
                "gains_m2": floor(way.gains_m2 * 10.0) / 10.0,
                "rule": way.rule,
                "feature": way.feature,
                "by_m": way.by_m,
            }
            for way in conflict.ways_out
        ],
    }
