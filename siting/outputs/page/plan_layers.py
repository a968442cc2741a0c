"""On the plan beside what stands: the water beneath, the walk, the successor's place, enclosures.

Line styles are those of the map: what is dash-dotted there is dash-dotted on paper.
"""

from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry import MultiLineString, Polygon

from siting.assess import Assessment
from siting.outputs.page.beneath import contours_of, flow_of
from siting.outputs.page.svg import path, text
from siting.outputs.page.symbols import INK

WATER = "#1b4f72"
TEXT_MM = 2.3
PRIME = "\N{PRIME}"
Box = tuple[float, float, float, float]


def water(assessment: Assessment, frame: Polygon, mm: float) -> Iterator[str]:
    """Level lines of the water and the arrow of its flow."""
    style = f'fill="none" stroke="{WATER}" stroke-width="{0.3 * mm:.3f}"'
    dash = f'stroke-dasharray="{3.6 * mm:.3f} {1.0 * mm:.3f} {0.5 * mm:.3f} {1.0 * mm:.3f}"'
    for contour in contours_of(assessment):
        yield f'<path class="contour" d="{path(shapely.intersection(contour.line, frame))}" {style} {dash}/>'
    flow = flow_of(assessment)
    if flow is not None:
        x1, y1, x2, y2, _ = flow
        style = f'fill="#fff" stroke="{WATER}" stroke-width="{0.4 * mm:.3f}"'
        yield f'<path class="flow" d="{_arrow(x1, y1, x2, y2)}" {style}/>'


def water_levels(assessment: Assessment, frame: Polygon, mm: float) -> list[tuple[str, Box]]:
    """The levels written on their lines, each with the room it takes."""
    made = []
    size = TEXT_MM * mm
    for contour in contours_of(assessment):
        x, y = _on(contour.line, 0.8)
        wide = 0.56 * size * len(contour.text)
        if frame.contains(shapely.Point(x, y)):
            written = text(x, -y + 0.35 * size, contour.text, size=size, anchor="middle", colour=WATER)
            made.append((written, (x - wide / 2, -y - size, x + wide / 2, -y + size)))
    return made


def _on(line: MultiLineString, share: float) -> tuple[float, float]:
    longest = max(line.geoms, key=lambda part: part.length)
    point = longest.interpolate(share, normalized=True)
    return float(point.x), float(point.y)


def _arrow(x1: float, y1: float, x2: float, y2: float) -> str:
    long = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
    ux, uy = (x2 - x1) / long, (y2 - y1) / long

    def at(share: float, out: float) -> tuple[float, float]:
        return x1 + share * long * ux - out * long * uy, y1 + share * long * uy + out * long * ux

    corners = [(0, 0.07), (0.68, 0.07), (0.68, 0.17), (1, 0), (0.68, -0.17), (0.68, -0.07), (0, -0.07)]
    return path(Polygon([at(share, out) for share, out in corners]))


def enclosures(assessment: Assessment, frame: Polygon, mm: float) -> Iterator[str]:
    """All the ground that what stands or is arranged occupies, where that is known."""
    for feature in assessment.site.features:
        if feature.enclosure is not None:
            shown = shapely.intersection(feature.enclosure, frame)
            yield (
                f'<path class="enclosure" d="{path(shown)}" fill="none" stroke="{INK}" stroke-width="{0.3 * mm:.3f}" '
                f'stroke-dasharray="{1.6 * mm:.3f} {0.8 * mm:.3f}"/>'
            )


def walk(assessment: Assessment, frame: Polygon, mm: float, kept_clear: Sequence[Box]) -> Iterator[str]:
    """The way on foot to the first place, with its length where there is room."""
    finding = assessment.finding
    route = finding.placed[0].route if finding is not None and finding.placed else None
    if route is None:
        return
    yield (
        f'<path class="walk" d="{path(shapely.intersection(route.line, frame))}" fill="none" stroke="{INK}" '
        f'stroke-width="{0.9 * mm:.3f}" stroke-linecap="round" stroke-dasharray="0.001 {1.9 * mm:.3f}"/>'
    )
    words = f"{route.length_m:.0f} m on foot"
    size = TEXT_MM * mm
    wide = 0.56 * size * len(words)
    for share in (0.5, 0.35, 0.65, 0.2, 0.8):
        on = route.line.interpolate(share, normalized=True)
        for x, y in ((on.x + 1.5 * mm, -on.y), (on.x - 1.5 * mm - wide, -on.y)):
            own = shapely.box(x, y - size, x + wide, y + 0.25 * size)
            if not any(own.intersects(shapely.box(*box)) for box in kept_clear):
                yield text(x, y, words, size=size)
                return


def reserves(assessment: Assessment, mm: float) -> Iterator[str]:
    """Outlines of where the successors fit."""
    finding = assessment.finding
    for placed in finding.placed if finding is not None else ():
        if placed.reserve is None:
            continue
        r = placed.reserve
        for outline in (placed.installation.enclosure, placed.installation.pit):
            drawn = path(outline.drawn_at(r.x_m, r.y_m, r.orientation_deg))
            yield (
                f'<path class="reserve" d="{drawn}" fill="none" stroke="{INK}" stroke-width="{0.3 * mm:.3f}" '
                f'stroke-dasharray="{0.5 * mm:.3f} {0.8 * mm:.3f}"/>'
            )
