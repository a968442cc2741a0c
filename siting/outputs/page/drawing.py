"""The plan as an SVG, true to scale: its user unit is the metre, x east and y south of the origin.

It needs no script: it is what the page prints, and what it shows where scripts are off.
"""

from collections.abc import Iterable, Iterator, Sequence
from html import escape

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from siting.assess import Assessment, Placed
from siting.outputs.page import plan_layers
from siting.outputs.page.layers import feature_style, is_point
from siting.outputs.page.plan_layers import PRIME
from siting.outputs.page.svg import path, text
from siting.outputs.page.symbols import GROUND, INK, OUTLINES, Symbol, pattern_id, patterns, symbol_of
from siting.outputs.page.thinning import LEAST_M, thinned_inward, thinned_to
from siting.outputs.page.window import as_box, paper_scale, round_step, window
from siting.site import Feature, Status

PREFIX = "p"
"Of the ids of the hatches that the plan uses."
TEXT_MM = 2.5
MOST_CORNERS = 5000
"Of the ground left."
PATTERN_MM = 0.28
"One unit of a pattern on paper."
SYMBOL_MM = 0.2
"One unit of a symbol on paper."
LETTER_WIDTH = 0.56
"Of the height of the text: a wide guess, so that labels keep apart."


def plan(assessment: Assessment) -> str:
    """The plan of one assessment."""
    bounds = window(assessment)
    west, south, east, north = bounds
    scale = paper_scale(bounds)
    mm = scale / 1000.0
    frame = as_box(bounds)
    levels = plan_layers.water_levels(assessment, frame, mm)
    kept_clear = [*(box for _, box in levels), *_letter_boxes(assessment, mm)]
    width, height = east - west, north - south
    hatches = {(s.hatch, s.colour) for s in (symbol_of(f.kind) for f in assessment.site.features) if s.hatch}
    hatches |= {("ground", GROUND), ("ground-sure", GROUND)}
    body = [
        *_grid(bounds, mm),
        *_ground(assessment, mm),
        *plan_layers.water(assessment, frame, mm),
        *_features(assessment, frame, mm),
        *plan_layers.enclosures(assessment, frame, mm),
        *plan_layers.walk(assessment, frame, mm, kept_clear),
        *plan_layers.reserves(assessment, mm),
        *_places(assessment, mm),
        *(written for written, _ in levels),
        _group(_labels(assessment, bounds, mm, kept_clear), TEXT_MM * mm),
        *_scale_bar(bounds, mm),
        *_north(bounds, mm),
    ]
    return (
        f'<svg class="plan" role="img" aria-label="Plan of {escape(assessment.site.name)}, 1 : {scale}" '
        f'xmlns="http://www.w3.org/2000/svg" viewBox="{west:g} {-north:g} {width:g} {height:g}" '
        f'width="{width / mm:.2f}mm" height="{height / mm:.2f}mm" font-family="Georgia, serif" '
        f'font-size="{TEXT_MM * mm:.3f}">'
        f"{patterns(PREFIX, tuple(hatches), scale=PATTERN_MM * mm)}"
        f'<rect x="{west:g}" y="{-north:g}" width="{width:g}" height="{height:g}" fill="#fff" stroke="{INK}" '
        f'stroke-width="{0.5 * mm:.3f}"/>{"".join(body)}</svg>'
    )


def bar(assessment: Assessment) -> tuple[float, float, int]:
    """The scale bar of the plan: its length on the ground [m] and on paper [mm], and the scale 1 : n."""
    bounds = window(assessment)
    scale = paper_scale(bounds)
    mm = scale / 1000.0
    length_m = round_step(min(50.0 * mm, (bounds[2] - bounds[0]) * 0.4))
    return length_m, length_m / mm, scale


def _grid(bounds: tuple[float, float, float, float], mm: float) -> Iterator[str]:
    west, south, east, north = bounds
    step = round_step(max(40.0 * mm, 1.0))
    lines = [f"M{x:g} {-north:g}V{-south:g}" for x in np.arange(np.ceil(west / step), np.floor(east / step) + 1) * step]
    lines += [f"M{west:g} {-y:g}H{east:g}" for y in np.arange(np.ceil(south / step), np.floor(north / step) + 1) * step]
    yield f'<path d="{"".join(lines)}" fill="none" stroke="#b9b2a3" stroke-width="{0.12 * mm:.3f}"/>'


def _ground(assessment: Assessment, mm: float) -> Iterator[str]:
    if assessment.finding is None:
        return
    ground = assessment.finding.ground
    by_m = max(LEAST_M, 0.2 * mm)
    drawn = thinned_to((ground.nominal, ground.confident), thinned_inward, by_m=by_m, most_corners=MOST_CORNERS)
    dashes = (f' stroke-dasharray="{0.9 * mm:.3f} {0.7 * mm:.3f}"', "")
    for geometry, hatch, dash in zip(drawn, ("ground", "ground-sure"), dashes, strict=True):
        if not geometry.is_empty:
            fill = pattern_id(PREFIX, hatch, GROUND)
            yield (
                f'<path d="{path(geometry)}" fill="url(#{fill})" fill-rule="evenodd" stroke="{GROUND}" '
                f'stroke-width="{0.15 * mm:.3f}"{dash}/>'
            )


def _features(assessment: Assessment, frame: Polygon, mm: float) -> Iterator[str]:
    features = assessment.site.features
    for feature in sorted((f for f in features if not is_point(f)), key=lambda f: -f.geometry.area):
        shown = shapely.intersection(feature.geometry, frame)
        if not shown.is_empty:
            yield _shape(feature, shown, mm)
    points = [f for f in features if is_point(f)]
    kept = sorted({(symbol_of(f.kind).key, f.status) for f in points})
    by_key = {symbol_of(f.kind).key: symbol_of(f.kind) for f in points}
    yield "<defs>"
    for key, status in kept:
        yield f'<g id="{PREFIX}-{key}-{status}">{symbol(by_key[key], 0, 0, SYMBOL_MM * mm, status)}</g>'
    yield "</defs>"
    for feature in points:
        if feature.radius_m:
            x, y = anchor_xy(feature)
            yield (
                f'<circle cx="{x:.2f}" cy="{-y:.2f}" r="{feature.radius_m:.2f}" fill="none" '
                f'stroke="{by_key[symbol_of(feature.kind).key].colour}" stroke-width="{0.2 * mm:.3f}"/>'
            )
        name = f"{PREFIX}-{symbol_of(feature.kind).key}-{feature.status}"
        for x, y in shapely.get_coordinates(shapely.intersection(feature.geometry, frame)):
            yield f'<use href="#{name}" x="{x:.2f}" y="{-y:.2f}"/>'


def _shape(feature: Feature, shown: BaseGeometry, mm: float) -> str:
    style = feature_style(feature)
    colour, weight = style["color"], float(str(style["weight"])) * 0.26 * mm
    drawn = symbol_of(feature.kind)
    fill = "none"
    if style["fill"]:
        fill = f"url(#{pattern_id(PREFIX, drawn.hatch, drawn.colour)})" if drawn.hatch else "none"
    dash = ""
    if "dashArray" in style:
        steps = " ".join(f"{float(n) * 0.26 * mm:.3f}" for n in str(style["dashArray"]).split())
        dash = f' stroke-dasharray="{steps}"'
    return (
        f'<path d="{path(shown)}" fill="{fill}" fill-rule="evenodd" stroke="{colour}" '
        f'stroke-width="{weight:.3f}"{dash}/>'
    )


def symbol(drawn: Symbol, x: float, y: float, unit: float, status: Status = Status.EXISTING) -> str:
    """The symbol of a point, `unit` user units to one of its own: dashed when proposed, struck when closed."""
    dash = ' stroke-dasharray="3 2"' if status is Status.PROPOSED else ""
    struck = '<path d="M-10 10L10 -10"/>' if status is Status.CLOSED else ""
    return (
        f'<g transform="translate({x:.2f} {y:.2f}) scale({unit:.4f})" stroke="{drawn.colour}" stroke-width="1.5" '
        f'fill="#fff"><path d="{OUTLINES[drawn.shape]}"{dash}/>'
        f'<text y="3.6" text-anchor="middle" font-size="10" font-weight="bold" font-family="sans-serif" '
        f'fill="{drawn.colour}" stroke="none">{drawn.letter}</text>{struck}</g>'
    )


def _places(assessment: Assessment, mm: float) -> Iterator[str]:
    finding = assessment.finding
    if finding is None:
        return
    thin = f'stroke="{INK}" stroke-width="{0.3 * mm:.3f}"'
    for placed in finding.placed:
        c = placed.candidate
        enclosure = placed.installation.enclosure.drawn_at(c.x_m, c.y_m, c.orientation_deg)
        pit = placed.installation.pit.drawn_at(c.x_m, c.y_m, c.orientation_deg)
        yield f'<path d="{path(enclosure)}" fill="#fff" {thin} stroke-dasharray="{1.2 * mm:.3f} {0.6 * mm:.3f}"/>'
        yield f'<path d="{path(pit)}" fill="{INK}" stroke="none"/>'
    for (name, _, _), (x, y) in zip(_lettered(finding.placed), _letter_spots(finding.placed, mm), strict=True):
        yield text(x, y, name, size=3.6 * mm, bold=True, anchor="middle")
    if finding.conflict is not None:
        x, y = finding.conflict.x_m, -finding.conflict.y_m
        r = max(2.5 * mm, finding.installation.enclosure.circumradius_m)
        yield (
            f'<g fill="none" {thin}><circle cx="{x:.2f}" cy="{y:.2f}" r="{r:.2f}" '
            f'stroke-dasharray="{0.8 * mm:.3f} {0.8 * mm:.3f}"/>'
            f'<path d="M{x - r:.2f} {y - r:.2f}l{2 * r:.2f} {2 * r:.2f}m0 {-2 * r:.2f}l{-2 * r:.2f} {2 * r:.2f}"/></g>'
        )
        yield text(x, y + r + 3.0 * mm, "best compromise, not a place", size=TEXT_MM * mm, anchor="middle")


def _lettered(placed: Sequence[Placed]) -> list[tuple[str, float, float]]:
    """The letter of every place, then of every place kept for a successor, with the middle of its pit."""
    first = [(p.candidate.name, p.candidate.x_m, p.candidate.y_m) for p in placed]
    return first + [(p.candidate.name + PRIME, p.reserve.x_m, p.reserve.y_m) for p in placed if p.reserve is not None]


def _letter_spots(placed: Sequence[Placed], mm: float) -> list[tuple[float, float]]:
    """Where the letters of places go: above, beside or below their pits, clear of one another's."""
    pits = [(x, -y) for _, x, y in _lettered(placed)]
    taken = [_box(x, y + 1.2 * mm, mm) for x, y in pits]
    spots = []
    for (x, y), own in zip(pits, list(taken), strict=True):
        around = [(0.0, -2.4), (4.0, 1.2), (-4.0, 1.2), (0.0, 5.4), (5.0, -3.0), (-5.0, -3.0), (5.0, 5.4), (-5.0, 5.4)]
        places = [(x + dx * mm, y + dy * mm) for dx, dy in around]
        best = next((p for p in places if not any(_meet(_box(*p, mm), t) for t in taken if t is not own)), places[0])
        taken.append(_box(*best, mm))
        spots.append(best)
    return spots


def _letter_boxes(assessment: Assessment, mm: float) -> list[tuple[float, float, float, float]]:
    """The room that places and their letters take."""
    placed = assessment.finding.placed if assessment.finding is not None else ()
    pits = [_box(x, -y + 1.2 * mm, mm) for _, x, y in _lettered(placed)]
    return pits + [_box(x, y, mm) for x, y in _letter_spots(placed, mm)]


def _box(x: float, y: float, mm: float) -> tuple[float, float, float, float]:
    return x - 1.5 * mm, y - 2.8 * mm, x + 1.5 * mm, y + 0.4 * mm


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _labels(
    assessment: Assessment,
    bounds: tuple[float, float, float, float],
    mm: float,
    written: Sequence[tuple[float, float, float, float]],
) -> Iterator[str]:
    """Names where there is room: of what hurts or is hurt first, then from the largest to the smallest."""
    west, south, east, north = bounds
    size = TEXT_MM * mm
    taken: list[tuple[float, float, float, float]] = [(west, -south - 9.0 * mm, west + 60.0 * mm, -south), *written]
    for feature in _by_importance(assessment.site.features):
        name = label(feature)
        x, y = anchor_xy(feature)
        wide = LETTER_WIDTH * size * len(name)
        for left, base in _spots(x, -y, wide, size, gap=2.4 * mm if is_point(feature) else 0.0):
            own = (left, base - size, left + wide, base + 0.25 * size)
            inside = own[0] > west and own[2] < east and own[1] > -north and own[3] < -south
            if inside and not any(_meet(own, other) for other in taken):
                taken.append(own)
                yield f'<text x="{left:.2f}" y="{base:.2f}">{escape(name)}</text>'
                break


def _spots(x: float, y: float, wide: float, size: float, *, gap: float) -> tuple[tuple[float, float], ...]:
    """Where a name may start, best first: beside a symbol, over an area or a line."""
    level = y + 0.35 * size
    if gap:
        beside = ((x + gap, level), (x - gap - wide, level))
        return (*beside, (x - wide / 2, y - gap - 0.4 * size), (x - wide / 2, y + gap + size))
    return ((x - wide / 2, level), (x - wide / 2, y - size), (x - wide / 2, y + 1.6 * size))


def _group(labels: Iterable[str], size: float) -> str:
    return (
        f'<g fill="{INK}" stroke="#fff" stroke-width="{0.22 * size:.3f}" paint-order="stroke" stroke-linejoin="round">'
        f"{''.join(labels)}</g>"
    )


def label(feature: Feature) -> str:
    """The name as it is written on the plan, with the status where it is not simply there."""
    return feature.name if feature.status is Status.EXISTING else f"{feature.name} ({feature.status})"


def anchor_xy(feature: Feature) -> tuple[float, float]:
    """Where the name of a feature goes."""
    point = shapely.point_on_surface(feature.geometry)
    if not is_point(feature) and feature.geometry.geom_type in ("Polygon", "MultiPolygon"):
        centre = shapely.centroid(feature.geometry)
        point = centre if shapely.contains(feature.geometry, centre) else point
    return float(point.x), float(point.y)


_FIRST = ("source", "pit", "latrine", "sewage", "burner", "surface", "stored")


def _by_importance(features: Iterable[Feature]) -> list[Feature]:
    drawn = [f for f in features if symbol_of(f.kind).key != "boundary"]
    return sorted(drawn, key=lambda f: (symbol_of(f.kind).key not in _FIRST, -f.geometry.area, f.name))


def _scale_bar(bounds: tuple[float, float, float, float], mm: float) -> Iterator[str]:
    west, south, east, _ = bounds
    length = round_step(min(50.0 * mm, (east - west) * 0.4))
    x, y, high = west + 5.0 * mm, -south - 4.0 * mm, 1.4 * mm
    wide, tall = length + 16 * mm, 8 * mm
    yield f'<rect x="{x - 3 * mm:.2f}" y="{y - 5 * mm:.2f}" width="{wide:.2f}" height="{tall:.2f}" fill="#fff"/>'
    for part in range(5):
        fill = INK if part % 2 == 0 else "#fff"
        yield (
            f'<rect x="{x + part * length / 5:.3f}" y="{y:.3f}" width="{length / 5:.3f}" height="{high:.3f}" '
            f'fill="{fill}" stroke="{INK}" stroke-width="{0.15 * mm:.3f}"/>'
        )
    yield text(x, y - 1.0 * mm, "0", size=2.4 * mm, anchor="middle")
    yield text(x + length, y - 1.0 * mm, f"{length:g} m", size=2.4 * mm, anchor="middle")


def _north(bounds: tuple[float, float, float, float], mm: float) -> Iterator[str]:
    _, _, east, north = bounds
    x, y = east - 8.0 * mm, -north + 14.0 * mm
    yield (
        f'<g transform="translate({x:.2f} {y:.2f}) scale({mm:.4f})" stroke="{INK}" stroke-width="0.25">'
        f'<path d="M0 -9L2.6 3L0 1.2Z" fill="{INK}"/><path d="M0 -9L-2.6 3L0 1.2Z" fill="#fff"/></g>'
    )
    yield text(x, y + 6.4 * mm, "N", size=3.2 * mm, bold=True, anchor="middle")
