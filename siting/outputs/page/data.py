"""What the script of the page knows: one value, in metres on the site's own plane, written into the page as JSON.

Texts stay in the table of the page; the script refers to its rows by number.
"""

import json
from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from siting.assess import Assessment, Placed
from siting.frame import Frame
from siting.outputs.page.answers import directions, mendings
from siting.outputs.page.beneath import contours_of, flow_of, heights_of
from siting.outputs.page.drawing import anchor_xy, label
from siting.outputs.page.layers import EXACT_DIGITS, is_point, rounded_geojson
from siting.outputs.page.rows import WEIGHTS, Cited, Group, side_text, signed
from siting.outputs.page.symbols import OUTLINES, symbol_of
from siting.outputs.page.thinning import LEAST_M, thinned_outward
from siting.outputs.page.window import window
from siting.outputs.zones import Zone
from siting.requirements import Requirement
from siting.rules import Measure
from siting.separations import ceiled
from siting.site import Feature, Status
from siting.slope import Surface
from siting.uncertainty import coverage_factor

WORLD_TERMS = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3))
"Powers of east and north in the polynomial from the plane to degrees."


def embedded(value: object) -> str:
    """JSON that can stand inside a script element: nothing in it can end one."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def page_data(
    assessment: Assessment, groups: Sequence[Group], numbers: dict[str, Cited], zones: Iterable[Zone]
) -> dict[str, object]:
    """Everything the script draws, lists and reckons with."""
    site, finding = assessment.site, assessment.finding
    index = {feature.name: number for number, feature in enumerate(site.features)}
    bounds = window(assessment)
    return {
        "window": list(bounds),
        "world": world_terms(site.frame, bounds),
        "confidence": site.confidence,
        "symbols": {
            s.key: {"letter": s.letter, "path": OUTLINES[s.shape], "colour": s.colour}
            for s in {symbol_of(f.kind).key: symbol_of(f.kind) for f in site.features}.values()
        },
        "features": [_feature(feature) for feature in site.features],
        "groups": [_group(group, index) for group in groups],
        "places": [_place(p) for p in (finding.placed if finding else ())],
        "mendings": [
            {
                "of": index[m.installation],
                "from": _middle(site.features[index[m.installation]]),
                "x": _m(m.x_m),
                "y": _m(m.y_m),
                "moved": ceiled(m.moved_m),
                "text": text,
            }
            for m, text in zip(assessment.mendings, mendings(assessment), strict=True)
        ],
        "directions": [list(pair) for pair in directions(assessment)],
        "water": [
            [c.text, [[[_m(x), _m(y)] for x, y in part.coords] for part in c.line.geoms]]
            for c in contours_of(assessment)
        ],
        "flow": flow_of(assessment),
        "heights": [[_m(x), _m(y), round(h, 2)] for x, y, h in heights_of(assessment)],
        "compromise": _compromise(assessment),
        "zones": [{"rule": z.rule.id} for z in zones],
        "trial": _trial(assessment, index, numbers),
    }


def _m(value: float) -> float:
    return round(float(value), EXACT_DIGITS) + 0.0


def _middle(feature: Feature) -> list[float]:
    middle = shapely.centroid(feature.geometry)
    return [_m(middle.x), _m(middle.y)]


def _feature(feature: Feature) -> dict[str, object]:
    x, y = anchor_xy(feature)
    drawn: dict[str, object] = {
        "name": feature.name,
        "kind": feature.kind,
        "symbol": symbol_of(feature.kind).key,
        "sigma": round(feature.sigma_m, 3),
        "at": [_m(x), _m(y)],
    }
    if feature.status is not Status.EXISTING:
        drawn |= {"label": label(feature), "status": str(feature.status)}
    if is_point(feature):
        drawn["points"] = [[_m(px), _m(py)] for px, py in shapely.get_coordinates(feature.geometry)]
    if feature.radius_m is not None:
        drawn["radius"] = _m(feature.radius_m)
    if feature.enclosure is not None:
        drawn["enclosure"] = rounded_geojson(feature.enclosure, digits=2)
    if feature.origin is not None:
        drawn["origin"] = str(feature.origin)
    return drawn


def _place(placed: Placed) -> dict[str, object]:
    c = placed.candidate
    made: dict[str, object] = {
        "name": c.name,
        "x": _m(c.x_m),
        "y": _m(c.y_m),
        "degrees": round(c.orientation_deg, 4),
        "about": f"{placed.verdict}; smallest margin {signed(c.margin_m)} m. {placed.why}",
    }
    if placed.reserve is not None:
        r = placed.reserve
        outlines = (placed.installation.enclosure, placed.installation.pit)
        drawn = [outline.drawn_at(r.x_m, r.y_m, r.orientation_deg) for outline in outlines]
        made["reserve"] = rounded_geojson(shapely.geometrycollections(drawn), digits=2)
        made["reserveAt"] = [_m(r.x_m), _m(r.y_m)]
    if placed.route is not None:
        made["walk"] = [[_m(x), _m(y)] for x, y in placed.route.points]
        made["walkLength"] = f"{placed.route.length_m:.0f}"
    if placed.no_well is not None:
        made["noWell"] = rounded_geojson(thinned_outward(placed.no_well.geometry, by_m=LEAST_M), digits=2)
    return made


def _group(group: Group, index: dict[str, int]) -> dict[str, object]:
    """The rows of one place: verdict, what stands, what it is measured to, and the line between them."""
    rows = []
    for line in group.lines:
        s = line.separation
        ends = [] if s is None or s.start_xy is None or s.end_xy is None else [*s.start_xy, *s.end_xy]
        rows.append(
            [
                line.css,
                index.get(line.installation, -1),
                index.get(s.feature, -1) if s else -1,
                [round(v, 3) for v in ends],
                round(s.margin, 3) if s and s.unit == "m" and s.is_must else None,
                int(line.weight == "must"),
            ]
        )
    return {"key": group.key, "title": group.title, "rows": rows}


def _compromise(assessment: Assessment) -> dict[str, float] | None:
    finding = assessment.finding
    if finding is None or finding.conflict is None:
        return None
    radius = finding.installation.enclosure.circumradius_m
    return {"x": _m(finding.conflict.x_m), "y": _m(finding.conflict.y_m), "radius": _m(radius)}


def world_terms(frame: Frame, bounds: tuple[float, float, float, float]) -> dict[str, object] | None:
    """A cubic from the plane to degrees, fitted over the window: within a millimetre for sites up to 2 km across."""
    if frame.lon is None or frame.lat is None:
        return None
    west, south, east, north = bounds
    unit = max(abs(west), abs(south), abs(east), abs(north), 100.0)
    xx, yy = (grid.ravel() for grid in np.meshgrid(np.linspace(-unit, unit, 7), np.linspace(-unit, unit, 7)))
    lonlat = frame.to_world(np.column_stack([xx, yy]))
    # A site across the antimeridian has longitudes on both sides of the cut.
    lon = frame.lon + (lonlat[:, 0] - frame.lon + 180.0) % 360.0 - 180.0
    design = np.column_stack([(xx / unit) ** i * (yy / unit) ** j for i, j in WORLD_TERMS])
    fitted = np.linalg.lstsq(design, np.column_stack([lon - frame.lon, lonlat[:, 1] - frame.lat]), rcond=None)[0]
    return {
        "unit": unit,
        "lon": [frame.lon, *(float(f"{v:.9e}") for v in fitted[:, 0])],
        "lat": [frame.lat, *(float(f"{v:.9e}") for v in fitted[:, 1])],
    }


def _trial(assessment: Assessment, index: dict[str, int], numbers: dict[str, Cited]) -> dict[str, object] | None:
    """What is needed to judge a place that somebody tries on the page, as `separations.judge` does it here."""
    finding = assessment.finding
    if finding is None:
        return None
    wanted = finding.installation
    extra: list[dict[str, object]] = []
    shared: list[dict[str, object]] = []
    requirements = []
    for r in finding.demands.requirements:
        common = _common(r, numbers[r.rule.full_id].number)
        if common not in shared:
            shared.append(common)
        requirements.append({"of": shared.index(common), **_own(r, assessment, index, extra)})
    start = finding.placed[0].candidate if finding.placed else None
    west, south, east, north = window(assessment)
    conflict, rose = finding.conflict, assessment.terrain.rose
    x, y = ((west + east) / 2, (south + north) / 2) if conflict is None else (conflict.x_m, conflict.y_m)
    return {
        "installation": wanted.name,
        "outlines": {
            name: {
                "radius": _m(outline.radius_m),
                "corners": [[_m(a), _m(b)] for a, b in shapely.get_coordinates(outline.geometry)],
            }
            for name, outline in (("pit", wanted.pit), ("enclosure", wanted.enclosure))
        },
        "turns": wanted.turns,
        "orientation": round(start.orientation_deg if start else wanted.orientation_deg or 0.0, 4),
        "start": [_m(start.x_m if start else x), _m(start.y_m if start else y)],
        "faces": _faces(assessment.terrain.surface) if any("onFaces" in r for r in requirements) else None,
        "rose": None if rose is None else {"shares": list(rose.shares_percent), "calm": rose.calm_percent},
        "factor": coverage_factor(assessment.site.confidence),
        "geometries": extra,
        "shared": shared,
        "requirements": requirements,
    }


def _faces(surface: Surface | None) -> dict[str, object] | None:
    """The triangles between spot heights: corners once, then three numbers and the slope [percent] of each."""
    if surface is None:
        return None
    corners = sorted({corner[:2] for triangle in surface.triangles for corner in triangle})
    number = {corner: n for n, corner in enumerate(corners)}
    return {
        "corners": [[_m(x), _m(y)] for x, y in corners],
        "triangles": [
            [*(number[corner[:2]] for corner in triangle), round(slope, 6)]
            for triangle, slope in zip(surface.triangles, surface.slope_percent, strict=True)
        ],
    }


def _common(r: Requirement, number: int) -> dict[str, object]:
    """What a requirement shares with others of its rule."""
    return {
        "rule": number,
        "id": r.rule.id,
        "sense": str(r.sense),
        "outline": r.rule.outline,
        "relation": r.limit.relation,
        "unit": r.limit.unit,
        "written": r.limit.as_written if r.rule.measure is Measure.ATTRIBUTE else side_text(r.rule),
        "measure": str(r.rule.measure),
        "strength": WEIGHTS["flag" if r.rule.flag else str(r.rule.strength)],
        "limitM": round(r.limit_m, 6),
        "required": round(r.required, 6),
        "perUnit": r.metres_per_unit,
        "side": r.rule.side,
        "sector": r.rule.sector_deg,
        "gap": _m(r.gap_m),
        "because": r.because,
        "recorded": r.of_those_recorded,
    }


def _own(
    r: Requirement, assessment: Assessment, index: dict[str, int], extra: list[dict[str, object]]
) -> dict[str, object]:
    """What is of this requirement alone: its feature, its uncertainty, and a geometry that is not the feature's."""
    row: dict[str, object] = {"sigma": round(r.sigma, 6)}
    if r.feature is not None:
        row["feature"] = index[r.feature.name]
    if r.value is not None:
        row["value"] = round(r.value, 6)
    if r.plane is not None:
        row["plane"] = [float(f"{v:.12e}") for v in r.plane]
        row["valueSigma"] = round(r.value_sigma, 6)
    elif r.value_at is not None and r.rule.measure is Measure.SLOPE:
        row["onFaces"] = True
    elif r.value_at is not None and r.feature is not None:
        row["smokeTo"] = _middle(r.feature)
    if r.side_bearing_deg is not None and r.feature is not None:
        middle = shapely.centroid(r.feature.geometry)
        row["sideBearing"] = [round(r.side_bearing_deg, 6), _m(middle.x), _m(middle.y)]
    if r.sided:
        row["sided"] = True
    if r.geometry is not None and (r.feature is None or not r.geometry.equals_exact(r.feature.geometry)):
        row["geometry"] = len(extra)
        extra.append(rounded_geojson(r.geometry, digits=EXACT_DIGITS))
    if r.feature is None and r.geometry is not None:
        row["among"] = [i for i, f in enumerate(assessment.site.features) if f.kind in r.rule.from_kinds]
    return row
