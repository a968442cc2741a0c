"""`results.json`: the whole assessment as plain data, for programs.

Coordinates are WGS 84 longitude and latitude, lengths are metres.
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

from siting.assess import Assessment, Conflict, Finding, Placed
from siting.frame import Frame
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
        "rules": [
            {"pack": p.id, "title": p.title, "edition": p.edition, "sha256": p.sha256} for p in assessment.packs
        ],
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
        "warnings": [
            {"code": n.code, "message": n.message, "file": n.file, "row": n.row} for n in site.notices
        ],
        "separations": rows,
        "not_assessed": [_unassessed_row(name, row) for name, row in assessment.unassessed],
        "attested_absent": [_attested_row(name, row) for name, row in assessment.attested],
        "feasible": _feasible(finding, frame),
        "candidates": [_candidate(p, finding, frame) for p in finding.placed] if finding else [],
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
        "distance_m": value if length else None,
        "required_m": round(separation.required, 6) if length else None,
        "margin_m": _unflattered(separation.margin, down=True),
        "sigma_m": round(separation.sigma, 4),
        "probability": round(separation.probability, 6),
        "verdict": str(separation.verdict),
        "strength": str(separation.rule.strength),
        "because": separation.because,
        "action": separation.action,
        "citation": str(separation.rule.citation),
        "note": separation.rule.note,
        "read": str(separation.rule.citation.read),
        "from": _lonlat(separation.start_xy, frame),
        "to": _lonlat(separation.end_xy, frame),
        "bearing_deg": None if separation.bearing_deg is None else round(separation.bearing_deg, 2) % 360.0,
    }


def _unflattered(length_m: float, *, down: bool) -> float:
    thousandths = floor(length_m * 1e3 + 1e-6) if down else ceil(length_m * 1e3 - 1e-6)
    return thousandths / 1e3


def _lonlat(xy: tuple[float, float] | None, frame: Frame) -> list[float] | None:
    if xy is None:
        return None
    lon, lat = frame.to_world(np.array([xy]))[0]
    return [_degrees(lon), _degrees(lat)]


def _degrees(value: float) -> float:
    return round(float(value), DEGREE_DIGITS) + 0.0


def geojson(geometry: BaseGeometry, frame: Frame) -> dict[str, object]:
    """A geometry of the plane as GeoJSON in WGS 84."""
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
    lonlat = _lonlat((c.x_m, c.y_m), frame)
    assert lonlat is not None
    return {
        "name": c.name,
        "lon": lonlat[0],
        "lat": lonlat[1],
        "orientation_deg": round(c.orientation_deg, 2),
        "margin_m": _unflattered(c.margin_m, down=True),
        "bound_m": _unflattered(c.bound_m, down=False),
        "probability": round(placed.probability, 6),
        "walk_m": None if placed.walk_m is None else _unflattered(placed.walk_m, down=False),
        "binding": _binding(c.binding),
        "pit": geojson(installation.pit.drawn_at(c.x_m, c.y_m, c.orientation_deg), frame),
        "enclosure": geojson(installation.enclosure.drawn_at(c.x_m, c.y_m, c.orientation_deg), frame),
        "depth_m": installation.depth_m,
        "separations": [separation_row(s, frame) for s in placed.separations],
        "verdict": str(placed.verdict),
    }


def _binding(requirement: Requirement) -> dict[str, str]:
    return {"rule": requirement.rule.id, "feature": requirement.feature.name if requirement.feature else ""}


def _conflict(conflict: Conflict, frame: Frame) -> dict[str, object]:
    return {
        "shortfall_m": _unflattered(conflict.shortfall_m, down=False),
        "best": _lonlat((conflict.x_m, conflict.y_m), frame),
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
        "ways_out": [dict(way) for way in conflict.ways_out],
    }
