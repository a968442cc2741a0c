"""`setout.svg` and `setout.pdf`: the setting-out card on paper, two pages of A4, black on white, in millimetres.

The first page has the sketch to scale and the lengths that have to come out, the second every peg three ways over;
both leave room for what was measured and for the initials of two people (the second measures anew).
"""

from collections.abc import Callable, Iterator, Sequence
from html import escape
from math import cos, radians, sin

import shapely
from shapely.geometry import LineString

from siting.outputs.plan_sheet.marks import BLACK, FONTS, Room, cut, line, number, outline, text, width_mm, wrapped
from siting.outputs.setout import DEGREE_DIGITS, Card
from siting.outputs.typeset import Printed, typeset
from siting.setting_out.lines import Point2, polar

WIDE_MM, HIGH_MM, MARGIN_MM = 210.0, 297.0, 12.0
FIELD_MM = (MARGIN_MM, 52.0, WIDE_MM - 2 * MARGIN_MM, 104.0)
SCALES = (20, 25, 50, 100, 200, 500)
BODY_MM, ROW_MM = 2.75, 4.5
CAUTION_MM = (2.6, 2.3, 2.0, 1.7)
"Cautions are never cut: many of them are written smaller."
MOST_POINTS = 15
BAR_MM = 50.0
TEMPLATE = """#let about = json(bytes(sys.inputs.data))
#set document(title: about.title, date: none)
#set page(paper: "a4", margin: 0mm)
#image(bytes(sys.inputs.first), format: "svg", width: 210mm, alt: about.title)
#image(bytes(sys.inputs.second), format: "svg", width: 210mm, alt: about.title)
"""


def sheet_svg(card: Card) -> str:
    """Both pages side by side, so that an A3 sheet or two of A4 hold them at their true size."""
    second = "".join(_second(card))
    return _svg(card, f'{"".join(_first(card))}<g transform="translate({number(WIDE_MM)} 0)">{second}</g>', 2 * WIDE_MM)


def sheet_pdf(card: Card) -> Printed:
    """The two pages. Raises OutputError where the extra [pdf] is not installed."""
    pages = {"first": _svg(card, "".join(_first(card)), WIDE_MM), "second": _svg(card, "".join(_second(card)), WIDE_MM)}
    return typeset(TEMPLATE, data={"title": f"{card.title}, setting out"}, drawings=pages, name="setout.pdf")


def _svg(card: Card, body: str, wide_mm: float) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{number(wide_mm)}mm" height="{number(HIGH_MM)}mm" '
        f'viewBox="0 0 {number(wide_mm)} {number(HIGH_MM)}" font-family="{FONTS}" data-scale="{scale_of(card)}">'
        f"<title>{escape(card.title)}, setting out</title>"
        f'<rect width="{number(wide_mm)}" height="{number(HIGH_MM)}" fill="#fff"/>{body}</svg>\n'
    )


def scale_of(card: Card) -> int:
    """The largest standard scale at which all pegs lie in the field of the sketch."""
    x, y = card.placed.candidate.x_m, card.placed.candidate.y_m
    half = [max(abs(p.x_m - x) for p in card.out.pegs), max(abs(p.y_m - y) for p in card.out.pegs)]
    room = (FIELD_MM[2] / 2.0 - 12.0, FIELD_MM[3] / 2.0 - 10.0)
    fits = (s for s in SCALES if all(1000.0 * h / s <= r for h, r in zip(half, room, strict=True)))
    return next(fits, SCALES[-1])


def _first(card: Card) -> Iterator[str]:
    place, depth_m = card.placed.candidate, card.placed.installation.depth_m
    yield text(MARGIN_MM, 18.0, f"Setting out: {cut(card.title, wide_mm=150.0, size_mm=5.0)}", size_mm=5.0, bold=True)
    deep = "" if not depth_m else f", {depth_m:g} m deep"
    about = [
        f"Verdict on paper: {card.placed.verdict}. {card.accuracy}",
        f"Long side of the enclosure towards {place.orientation_deg % 360.0:.1f} degrees{deep}. "
        "All lengths are horizontal; in brackets, along the slope of the ground as far as it is known.",
        f"North is {_north(card)}. P pit centre, R pit rim, E enclosure corners, O offset pegs outside dig and "
        "spoil: a string over two opposite ones crosses two corners and the centre.",
    ]
    y = 24.0
    for each in about:
        for part in wrapped(each, wide_mm=WIDE_MM - 2 * MARGIN_MM, size_mm=2.7):
            yield text(MARGIN_MM, y, part, size_mm=2.7)
            y += 3.6
    yield from _sketch(card)
    yield from _points(card, 164.0)
    yield from _checks(card, 193.0)
    yield from _signatures(282.0)


def _north(card: Card) -> str:
    return "true north at the site" if card.assessment.site.frame.on_earth else "that of the plan"


def _sketch(card: Card) -> Iterator[str]:
    left, top, wide, high = FIELD_MM
    mm_per_m = 1000.0 / scale_of(card)
    centre = card.placed.candidate

    def paper(xy: Point2) -> Point2:
        return (left + wide / 2.0 + (xy[0] - centre.x_m) * mm_per_m, top + high / 2.0 - (xy[1] - centre.y_m) * mm_per_m)

    field = shapely.box(left, top, left + wide, top + high)
    yield outline(field, weight_mm=0.35)
    yield from _sightings(card, field, paper)
    at = {p.name: paper(p.xy) for p in card.out.pegs}
    corners = [at[n] for n in at if n.startswith("E")]
    yield outline(shapely.Polygon(corners), weight_mm=0.35, dash="3 1")
    pit = card.placed.installation.pit
    rim = [at[n] for n in at if n.startswith("R")]
    round_pit = shapely.Point(at["P"]).buffer(pit.radius_m * mm_per_m, quad_segs=32)
    yield outline(round_pit if pit.is_disc else shapely.Polygon(rim), weight_mm=0.6)
    for name, (x, y) in at.items():
        yield line((x - 1.2, y), (x + 1.2, y), weight_mm=0.25) + line((x, y - 1.2), (x, y + 1.2), weight_mm=0.25)
        yield text(x + 1.2, y - 1.0, name, size_mm=2.8, bold=True, halo=True)
    yield from _north_arrow(left + wide - 8.0, top + 14.0)
    yield from _bar(card, left + 4.0, top + high - 5.0)


def _sightings(card: Card, field: shapely.Polygon, paper: Callable[[Point2], Point2]) -> Iterator[str]:
    """From the pit's centre towards what it is measured from, with the length."""
    start = card.placed.candidate.x_m, card.placed.candidate.y_m
    inner, room = field.buffer(-5.0, join_style="mitre"), Room(within=field)
    room.take(shapely.union_all([shapely.Point(paper(p.xy)).buffer(3.5) for p in card.out.pegs]))
    tied = {tie.point.name for of_peg in card.out.ties if of_peg.peg == "P" for tie in of_peg.ties}
    for short, point in card.points.items():
        if not (short.startswith("S") or point.name in tied):
            continue
        length_m, towards = polar(start, point.xy)
        way = LineString([paper(start), _stepped(paper(start), towards, 1000.0)]).intersection(inner)
        end = (
            paper(point.xy)
            if inner.contains(shapely.Point(paper(point.xy)))
            else (way.coords[-1][0], way.coords[-1][1])
        )
        yield line(paper(start), end, weight_mm=0.13, dash="0.6 0.9")
        words = f"{short}  {length_m:.2f} m"
        half_mm = width_mm(words, BODY_MM) / 2.0 + 0.5
        at = [LineString([paper(start), end]).interpolate(share, normalized=True) for share in (1.0, 0.9, 0.8, 0.7)]
        taken = room.first(shapely.box(p.x - half_mm, p.y - 2.2, p.x + half_mm, p.y + 1.0) for p in at)
        if taken is not None:
            yield text(at[taken].x, at[taken].y, words, size_mm=BODY_MM, anchor="middle", halo=True)


def _stepped(start: Point2, towards_deg: float, by_mm: float) -> Point2:
    return start[0] + by_mm * sin(radians(towards_deg)), start[1] - by_mm * cos(radians(towards_deg))


def _north_arrow(x: float, y: float) -> Iterator[str]:
    yield f'<path d="M{number(x)} {number(y - 9)}L{number(x + 2.4)} {number(y)}H{number(x - 2.4)}Z" fill="{BLACK}"/>'
    yield text(x, y + 3.2, "N", size_mm=3.2, bold=True, anchor="middle")


def _bar(card: Card, x: float, y: float) -> Iterator[str]:
    yield line((x, y), (x + BAR_MM, y), weight_mm=0.5)
    yield "".join(line((x + part * BAR_MM / 5, y - 1.2), (x + part * BAR_MM / 5, y)) for part in range(6))
    words = f"sketch 1 : {scale_of(card)}; this bar is {BAR_MM:g} mm, {BAR_MM * scale_of(card) / 1000.0:g} m"
    yield text(x, y + 3.2, words, size_mm=2.3, halo=True)


def _points(card: Card, y: float) -> Iterator[str]:
    yield text(MARGIN_MM, y, "Measured from", size_mm=3.2, bold=True)
    points = list(card.points.items())
    column = (WIDE_MM - 2 * MARGIN_MM) / 3.0
    for index, (short, point) in enumerate(points[:MOST_POINTS]):
        x = MARGIN_MM + column * (index % 3)
        words = f"{short}  {point.name}"
        yield text(x, y + 4.5 + 4.0 * (index // 3), cut(words, wide_mm=column - 2.0, size_mm=BODY_MM), size_mm=BODY_MM)
    if len(points) > MOST_POINTS:
        yield text(MARGIN_MM + 40.0, y, "the others stand in setout.csv", size_mm=BODY_MM)
    if not points:
        yield text(MARGIN_MM, y + 4.5, "nothing that stays is in sight: survey the nearest corners", size_mm=BODY_MM)


def _checks(card: Card, y: float) -> Iterator[str]:
    yield text(MARGIN_MM, y, "Lengths that have to come out", size_mm=3.2, bold=True)
    rows = [(c.what, f"{c.start} to {c.end}", f"{c.length_m:.2f}") for c in card.out.checks] + [
        (f"3-4-5: {s.one_m:.1f} and {s.other_m:.1f}, across", f"at {s.corner}", f"{s.across_m:.2f}")
        for s in card.out.squares
    ]
    half = (len(rows) + 1) // 2
    wide = (WIDE_MM - 2 * MARGIN_MM - 4.0) / 2.0
    widths = (wide - 50.0, 15.0, 11.0, 15.0, 9.0)
    heads = ("check", "from, to", "metres", "measured", "by")
    for index, part in enumerate((rows[:half], rows[half:])):
        cells = [(*row, "", "") for row in part]
        yield from _table(MARGIN_MM + index * (wide + 4.0), y + 2.0, widths, heads, cells)


def _second(card: Card) -> Iterator[str]:
    yield text(MARGIN_MM, 16.0, cut(card.title, wide_mm=180.0, size_mm=4.0), size_mm=4.0, bold=True)
    y = 20.0
    for heads, widths, rows in (_coordinates(card), _tapes(card), _seen(card)):
        yield from _table(MARGIN_MM, y, widths, heads, rows)
        y += ROW_MM * (len(rows) + 1) + 4.0
    y += 1.0
    yield text(MARGIN_MM, y, "Cautions", size_mm=3.0, bold=True)
    y += 3.6
    said = [f"- {caution}" for caution in (*card.out.cautions, *card.assessment.cautions)]
    for size_mm in CAUTION_MM:
        parts = [p for each in said for p in wrapped(each, wide_mm=WIDE_MM - 2 * MARGIN_MM, size_mm=size_mm)]
        if y + len(parts) * size_mm * 1.25 < HIGH_MM - 5.0:
            break
    for index, part in enumerate(parts):
        yield text(MARGIN_MM, y + index * size_mm * 1.25, part, size_mm=size_mm)


_Table = tuple[Sequence[str], Sequence[float], list[Sequence[str]]]


def _coordinates(card: Card) -> _Table:
    lonlat = card.lonlat
    heads = ["peg", "what", "east m", "north m", "latitude", "longitude"]
    widths = [10.0, 31.0, 20.0, 20.0, 26.0, 26.0]
    if card.grid:
        heads += [f"{card.grid} east", "north"]
        widths += [27.0, 26.0]
    rows: list[Sequence[str]] = []
    for index, peg in enumerate(card.out.pegs):
        world = ("", "") if lonlat is None else tuple(f"{lonlat[index, axis]:.{DEGREE_DIGITS - 1}f}" for axis in (1, 0))
        on_grid = tuple(f"{v:.2f}" for v in card.grid_xy[index]) if card.grid else ()
        rows.append((peg.name, peg.part, f"{peg.x_m:.2f}", f"{peg.y_m:.2f}", *world, *on_grid))
    return heads, widths, rows


def _tapes(card: Card) -> _Table:
    short = {p.name: s for s, p in reversed(card.points.items()) if s.startswith("T")}
    rows: list[Sequence[str]] = []
    for of_peg in card.out.ties:
        tapes = [
            cell
            for tie in of_peg.ties
            for cell in (f"{short[tie.point.name]}  {_both(tie.distance_m, tie.along_slope_m)}", "")
        ]
        rows.append((of_peg.peg, *tapes, *[""] * (6 - len(tapes)), "", ""))
    heads = ("peg", "tape from, m", "measured", "tape from, m", "measured", "tape from, m", "measured", "by", "second")
    return heads, (10.0, 33.0, 18.0, 33.0, 18.0, 33.0, 18.0, 11.0, 12.0), rows


def _seen(card: Card) -> _Table:
    names = [s.name for s in card.out.stations]
    rays = {(r.station, r.peg): r for r in card.out.rays}
    rows: list[Sequence[str]] = []
    for peg in card.out.pegs:
        cells: list[str] = []
        for name in names:
            ray = rays[name, peg.name]
            turned = "" if ray.turned_deg is None else f"{ray.turned_deg:.2f}"
            cells += [_both(ray.distance_m, ray.along_slope_m), f"{ray.bearing_deg % 360.0:.2f}", turned]
        rows.append((peg.name, *cells, *[""] * (6 - len(cells)), "", ""))
    heads = ["peg"]
    for number_of in (1, 2):
        other = 3 - number_of
        heads += [f"from S{number_of}, m", "bearing, deg", f"from S{other}, deg"]
    return [*heads, "by", "second"], (10.0, 35.0, 20.0, 21.0, 35.0, 20.0, 21.0, 12.0, 12.0), rows


def _both(length_m: float, slope_m: float | None) -> str:
    sloped = slope_m is not None and f"{slope_m:.2f}" != f"{length_m:.2f}"
    return f"{length_m:.2f} ({slope_m:.2f})" if sloped else f"{length_m:.2f}"


def _table(
    x: float, y: float, widths: Sequence[float], heads: Sequence[str], rows: Sequence[Sequence[str]]
) -> Iterator[str]:
    """Rows in thin lines; the first one in bold."""
    wide, high = sum(widths), ROW_MM * (len(rows) + 1)
    for index in range(len(rows) + 2):
        yield line((x, y + ROW_MM * index), (x + wide, y + ROW_MM * index), weight_mm=0.3 if index < 2 else 0.1)
    edge = x
    for width in (*widths, 0.0):
        yield line((edge, y), (edge, y + high), weight_mm=0.1)
        edge += width
    for index, row in enumerate((heads, *rows)):
        edge = x
        for cell, width in zip(row, widths, strict=True):
            words = cut(cell, wide_mm=width - 1.2, size_mm=BODY_MM * (1.08 if index == 0 else 1.0))
            yield text(edge + 0.8, y + ROW_MM * (index + 0.72), words, size_mm=BODY_MM, bold=index == 0)
            edge += width


def _signatures(y: float) -> Iterator[str]:
    for index, words in enumerate(("Set out by, date", "Checked by, date", "Tape and instrument, last compared")):
        x = MARGIN_MM + index * 64.0
        yield line((x, y), (x + 58.0, y))
        yield text(x, y + 3.2, words, size_mm=2.3)
