"""The panel at the right of the sheet: what it is, the measured lines, the key, where it lies, rules, signatures."""

from collections.abc import Iterator
from dataclasses import dataclass

from siting.assess import Assessment
from siting.outputs.page import rows
from siting.outputs.page.answers import coordinates
from siting.outputs.page.drawing import symbol
from siting.outputs.page.layers import is_point
from siting.outputs.page.symbols import SYMBOLS, symbol_of
from siting.outputs.plan_sheet.dimensions import Dimensioned
from siting.outputs.plan_sheet.ground import fill_of, inked, statuses
from siting.outputs.plan_sheet.inset import inset
from siting.outputs.plan_sheet.marks import cut, line, number, text, wrapped
from siting.outputs.plan_sheet.paper import Sheet
from siting.outputs.plan_sheet.zone_lines import ZoneLine
from siting.separations import floored
from siting.uncertainty import Verdict

BODY_MM, HEAD_MM, LEADING = 2.15, 2.5, 1.28
SIGNED = ("Prepared by", "Checked by (environmental health)", "For the facility")
SIGN_MM = 9.2
WIDTHS_MM = (80.0, 88.0, 96.0, 106.0, 118.0)
"Of the panel as it is drawn, before it is brought to the width it has on the paper."
ROOM_FOR_REMARKS_MM = 12.0
MOST_PACKS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the field left to be said in words."""

    sides_without_length: int = 0
    names_left_out: tuple[str, ...] = ()
    zones_left_out: int = 0
    contour_step_m: float | None = None


@dataclass(slots=True)
class _Column:
    """Writes down the panel; `y` is where the next line hangs."""

    x: float
    y: float
    wide: float

    def write(self, words: str, *, size_mm: float = BODY_MM, bold: bool = False, most: int = 99) -> Iterator[str]:
        for each in wrapped(words, wide_mm=self.wide, size_mm=size_mm * (1.06 if bold else 1.0), most=most):
            self.y += size_mm * LEADING
            yield text(self.x, self.y - 0.28 * size_mm, each, size_mm=size_mm, bold=bold)

    def head(self, words: str) -> Iterator[str]:
        self.y += 0.9
        yield line((self.x, self.y), (self.x + self.wide, self.y), weight_mm=0.18)
        self.y += 0.3
        yield from self.write(words, size_mm=HEAD_MM, bold=True)


def panel(
    assessment: Assessment, sheet: Sheet, dimensions: Dimensioned, lines: tuple[ZoneLine, ...], said: Said
) -> list[str]:
    """All of the panel; the signatures stand at its foot, and the letters are as small as the rest demands."""
    paper = sheet.paper
    left, top, width, _ = paper.field_mm
    for wide in WIDTHS_MM:
        # Drawn at one size and enlarged or reduced to the paper, letters and all.
        larger = paper.panel_mm / wide
        foot = (paper.height_mm - 2.0 * paper.margin_mm) / larger - 0.8
        column = _Column(x=2.2, y=0.6, wide=wide - 4.4)
        body = [
            *_title(assessment, sheet, column),
            *_table(dimensions, column),
            *_key(assessment, lines, said, column),
            *inset(assessment, sheet, column),
            *_rules(assessment, column),
        ]
        free = foot - SIGN_MM * len(SIGNED) - column.y
        if free >= 0.0:
            break
    remarks = column.head("Remarks") if free > ROOM_FOR_REMARKS_MM else ()
    return [
        f'<g transform="translate({number(left + width)} {number(top)}) scale({number(larger)})">',
        *body,
        *remarks,
        *_signatures(column.x, foot, column.wide),
        "</g>",
    ]


def _title(assessment: Assessment, sheet: Sheet, column: _Column) -> Iterator[str]:
    site, finding = assessment.site, assessment.finding
    yield from column.write(site.name, size_mm=4.2, bold=True, most=2)
    what = "Site plan: what stands"
    if finding is not None and finding.placed:
        c = finding.placed[0].candidate
        what = f"Site plan: place {c.name} for a {finding.installation.kind}"
    elif finding is not None:
        what = f"Site plan: no place for a {finding.installation.kind}"
    elif assessment.arrangement is not None:
        what = "Site plan: several installations arranged"
    yield from column.write(what, size_mm=2.8, bold=True, most=2)
    off = "" if sheet.is_standard else ", smaller than the usual 1 : 2,500: the grounds fit no sheet at that"
    yield from column.write(f"Scale 1 : {sheet.scale:,} on {sheet.paper.name}{off}", size_mm=2.8, bold=True, most=3)
    if finding is not None and finding.placed:
        first = finding.placed[0]
        c = first.candidate
        turn = f", long side {c.orientation_deg:.1f}° from north" if first.installation.turns else ""
        yield from column.write(f"{c.name} at {coordinates(assessment, c.x_m, c.y_m)}{turn}", most=2)
        yield from column.write(f"Place {c.name}: {first.verdict}. Whole site: {assessment.verdict}.")
    else:
        yield from column.write(f"Whole site: {assessment.verdict}.")
    yield from column.write(f"Surveyed {_survey(assessment)}", most=2)
    yield from column.write("Plot or title no.: ..............................   Job no.: ................")


def _survey(assessment: Assessment) -> str:
    survey = assessment.site.survey
    looked = "how far was looked not stated" if survey.radius_m is None else f"looked {survey.radius_m:g} m beyond it"
    return f"{survey.on or '(date not stated)'} by {survey.by or '(nobody named)'}; {looked}"


def _table(dimensions: Dimensioned, column: _Column) -> Iterator[str]:
    if not dimensions.dimensions:
        return
    yield from column.head(f"{dimensions.title}: horizontal, nearest edges, rounded down")
    x, wide = column.x, column.wide
    stops = (x + 3.4, x + wide * 0.545, x + wide * 0.765, x + wide)
    column.y += BODY_MM * LEADING
    for stop, words, anchor in zip(stops, ("to", "m", "limit", "result"), ("start", "end", "end", "end"), strict=True):
        yield text(stop, column.y - 0.6, words, size_mm=1.9, anchor=anchor, italic=True)
    for each in dimensions.dimensions:
        s = each.separation
        column.y += BODY_MM * LEADING
        y = column.y - 0.6
        name = cut(f"{s.installation}: {s.feature}" if dimensions.of_several else s.feature, wide_mm=wide * 0.42,
                   size_mm=BODY_MM)  # fmt: skip
        limit = rows.side_text(s.rule) or f"{s.limit.relation.replace('_', ' ')} {s.required:.4g} {s.unit}"
        yield text(x, y, str(each.number), size_mm=BODY_MM, bold=True)
        yield text(stops[0], y, name, size_mm=BODY_MM)
        assert s.distance_m is not None
        yield text(stops[1], y, floored(s.distance_m), size_mm=BODY_MM, anchor="end")
        yield text(stops[2], y, cut(limit, wide_mm=wide * 0.24, size_mm=1.9), size_mm=1.9, anchor="end")
        bold = s.verdict is not Verdict.MEETS
        yield text(stops[3], y, str(s.verdict), size_mm=BODY_MM, anchor="end", bold=bold)
    if dimensions.more:
        yield from column.write(f"and {dimensions.more} more, in the compliance table")


def _key(assessment: Assessment, lines: tuple[ZoneLine, ...], said: Said, column: _Column) -> Iterator[str]:
    yield from column.head("Key")
    entries = [*_symbols(assessment), *_signs(assessment)]
    half, high = column.wide / 2.0, 3.55
    for index, (swatch, words) in enumerate(entries):
        x, y = column.x + (index % 2) * half, column.y + (index // 2) * high
        yield f'<g transform="translate({number(x)} {number(y + 0.4)})">{swatch}</g>'
        yield text(x + 8.2, y + 2.4, cut(words, wide_mm=half - 8.6, size_mm=1.95), size_mm=1.95)
    column.y += -(-len(entries) // 2) * high + 0.4
    for each in lines:
        column.y += 2.0 * LEADING
        y = column.y - 0.6
        yield line((column.x, y - 0.6), (column.x + 7.2, y - 0.6), weight_mm=0.2, dash=each.dash)
        words = cut(f"{each.key} {each.words}", wide_mm=column.wide - 8.2, size_mm=1.9)
        yield text(column.x + 8.2, y, words, size_mm=1.9)
    yield from column.write(_left_over(said), size_mm=1.9, most=3)


def _left_over(said: Said) -> str:
    parts = []
    if said.contour_step_m is not None:
        parts.append(f"Lines of one height every {said.contour_step_m:g} m; crosses are levelled heights.")
    if said.zones_left_out:
        parts.append(f"Zones left out here, to be seen on the map: {said.zones_left_out}.")
    if said.sides_without_length:
        parts.append(f"Sides of the boundary too short for their length: {said.sides_without_length}.")
    if said.names_left_out:
        parts.append(f"No room for the names of: {', '.join(said.names_left_out)}.")
    return " ".join(parts)


def _symbols(assessment: Assessment) -> Iterator[tuple[str, str]]:
    """A swatch, 7.4 mm by 3 mm, and a label for each class that is drawn."""
    held = assessment.site.features
    for drawn in SYMBOLS:
        own = [f for f in held if symbol_of(f.kind) is drawn]
        if not own:
            continue
        black = inked(own[0].kind)
        solid = [f for f in own if not is_point(f)]
        parts = []
        if solid:
            areal = any(f.geometry.geom_type.endswith("Polygon") for f in solid) and drawn.key != "boundary"
            fill = fill_of(drawn.hatch) if areal and drawn.hatch else "none"
            shape = "M0.2 0.2H4.4V2.7H0.2Z" if areal else "M0.2 1.5H7"
            dash = " ".join(number(float(step) * 0.13) for step in drawn.dash.split())
            dashes = f' stroke-dasharray="{dash}"' if dash else ""
            parts.append(
                f'<path d="{shape}" fill="{fill}" stroke="#000" stroke-width="{number(drawn.weight * 0.26)}"{dashes}/>'
            )
        if any(is_point(f) for f in own):
            parts.append(symbol(black, 6.2 if solid else 2.4, 1.5, 0.15))
        yield "".join(parts), drawn.label


def _signs(assessment: Assessment) -> Iterator[tuple[str, str]]:
    for status in sorted(statuses(assessment)):
        dash = "1.8 1" if status == "proposed" else "0.5 1"
        yield f'<path d="M0.2 1.5H7" stroke="#000" stroke-width="0.36" stroke-dasharray="{dash}"/>', str(status)
    finding = assessment.finding
    if finding is None:
        return
    box = '<path d="M0.2 0.2H4.4V2.7H0.2Z" stroke="#000" stroke-width="0.12" fill="{}"/>'
    if not finding.ground.nominal.is_empty:
        yield box.format(fill_of("ground")), "ground left, at even odds"
    if not finding.ground.confident.is_empty:
        yield box.format(fill_of("ground-sure")), f"ground left, at {assessment.site.confidence * 100:g}%"
    if finding.placed:
        yield (
            '<path d="M0.2 0.2H4.4V2.7H0.2Z" stroke="#000" stroke-width="0.25" fill="#fff" '
            'stroke-dasharray="1.2 0.6"/><circle cx="2.3" cy="1.45" r="0.7"/>',
            "place: pit in its enclosure",
        )
        first = finding.placed[0]
        if first.route is not None:
            yield '<path d="M0.2 1.5H7" stroke="#000" stroke-width="0.35" stroke-dasharray="0.1 1"/>', "way to it"
        if first.no_well is not None:
            yield (
                '<path d="M0.2 1.5H7" stroke="#000" stroke-width="0.22" stroke-dasharray="4 0.8 0.5 0.8 0.5 0.8"/>',
                "closed to wells once it stands",
            )


def _rules(assessment: Assessment, column: _Column) -> Iterator[str]:
    yield from column.head("Rules in force")
    for pack in assessment.packs[:MOST_PACKS]:
        yield from column.write(f"{pack.title}, edition {pack.edition} [{pack.id}]", size_mm=1.95, most=2)
    if len(assessment.packs) > MOST_PACKS:
        yield from column.write(f"and {len(assessment.packs) - MOST_PACKS} more, in the compliance table", size_mm=1.95)


def _signatures(x: float, foot: float, wide: float) -> Iterator[str]:
    top = foot - SIGN_MM * len(SIGNED)
    for index, who in enumerate(SIGNED):
        y = top + index * SIGN_MM
        yield line((x, y), (x + wide, y), weight_mm=0.18)
        yield text(x, y + 2.4, who, size_mm=1.95, bold=True)
        yield text(x, y + 7.6, "name, registration no.", size_mm=1.7, italic=True)
        yield text(x + wide * 0.45, y + 7.6, "signature", size_mm=1.7, italic=True)
        yield text(x + wide * 0.8, y + 7.6, "date", size_mm=1.7, italic=True)
