"""Round the field: its frame with the metres of the plan, the north arrow, and the bar of 100 mm below."""

from collections.abc import Iterator
from math import ceil, floor

import shapely

from siting.assess import Assessment
from siting.outputs.page.window import round_step
from siting.outputs.plan_sheet.marks import BLACK, Room, line, number, outline, text, wrapped
from siting.outputs.plan_sheet.paper import Sheet

BAR_MM = 100.0
"Long enough that a copier's shrinking shows under any ruler."
IF_COPIED = "If the bar measures anything else, take no length from this sheet: it was copied at another size."
DEFERS = (
    "A screening aid: the local code and a licensed engineer, surveyor or environmental health officer decide. Zones "
    "are drawn for the edge that their rule measures from. Before digging, locate buried services, old pits and graves."
)


def frame(sheet: Sheet) -> Iterator[str]:
    """The edge of the field with ticks every round step of the plan's own metres."""
    left, top, width, height = sheet.paper.field_mm
    paper, margin = sheet.paper, sheet.paper.margin_mm
    yield outline(sheet.field, weight_mm=0.35)
    whole = shapely.box(margin, margin, paper.width_mm - margin, paper.height_mm - margin)
    yield outline(whole, weight_mm=0.5)
    step = round_step(40.0 / sheet.mm_per_m)
    west, south, east, north = sheet.ground_m.bounds
    for index in range(ceil(west / step), floor(east / step) + 1):
        x, _ = sheet.point(index * step, north)
        yield line((x, top), (x, top + 1.6)) + line((x, top + height), (x, top + height - 1.6))
        if left + 12.0 < x < left + width - 4.0:
            yield text(x + 0.4, top + height - 0.7, f"E {index * step:g}", size_mm=1.7, halo=True)
    for index in range(ceil(south / step), floor(north / step) + 1):
        _, y = sheet.point(west, index * step)
        yield line((left, y), (left + 1.6, y)) + line((left + width, y), (left + width - 1.6, y))
        if top + 3.0 < y < top + height - 6.0:
            yield text(left + 0.6, y - 0.5, f"N {index * step:g}", size_mm=1.7, halo=True)


def keep_off(sheet: Sheet, room: Room) -> None:
    """Names and lengths stay off the north arrow and the numbers along the edge."""
    left, top, width, height = sheet.paper.field_mm
    room.take(shapely.box(left + width - 16.0, top, left + width, top + 22.0))
    room.take(shapely.box(left, top, left + 7.0, top + height))
    room.take(shapely.box(left, top + height - 2.6, left + width, top + height))


def north(assessment: Assessment, sheet: Sheet) -> Iterator[str]:
    """The arrow; it says when the north is only the plan's own."""
    left, top, width, _ = sheet.paper.field_mm
    x, y = left + width - 8.0, top + 11.5
    yield (
        f'<g transform="translate({number(x)} {number(y)})" stroke="{BLACK}" stroke-width="0.25">'
        f'<circle r="7.4" fill="#fff" stroke="none"/><path d="M0 -9L2.8 3.4L0 1.4Z" fill="{BLACK}"/>'
        '<path d="M0 -9L-2.8 3.4L0 1.4Z" fill="#fff"/></g>'
    )
    words = "true north" if assessment.site.frame.on_earth else "north of the plan"
    yield text(x, y + 6.6, "N", size_mm=3.2, bold=True, anchor="middle")
    yield text(x, y + 9.2, words, size_mm=1.9, anchor="middle", halo=True)


def bar(sheet: Sheet) -> Iterator[str]:
    """The bar in ten parts, with the ground it stands for."""
    left, top, _, height = sheet.paper.field_mm
    x, y, high = left + 5.0, top + height + 6.2, 2.0
    parts, part_mm = 10, BAR_MM / 10.0
    for index in range(parts):
        fill = BLACK if index % 2 == 0 else "#fff"
        yield (
            f'<rect x="{number(x + index * part_mm)}" y="{number(y)}" width="{number(part_mm)}" '
            f'height="{number(high)}" fill="{fill}"/>'
        )
    yield outline(shapely.box(x, y, x + BAR_MM, y + high), weight_mm=0.18)
    for index in (0, 2, 4, 6, 8, 10):
        metres = index * part_mm * sheet.scale / 1000.0
        words = f"{metres:g} m" if index == parts else f"{metres:g}"
        yield text(x + index * part_mm, y - 1.0, words, size_mm=2.2, anchor="middle")
    yield text(x, y + high + 3.4, f"This bar is 100 mm. Scale 1 : {sheet.scale:,} on {sheet.paper.name}.",
               size_mm=2.5, bold=True)  # fmt: skip
    room_mm = left + sheet.paper.field_mm[2] - (x + BAR_MM + 8.0) - 1.5
    said = [*wrapped(IF_COPIED, wide_mm=room_mm, size_mm=2.0), *wrapped(DEFERS, wide_mm=room_mm, size_mm=2.0)]
    for index, words in enumerate(said):
        yield text(x + BAR_MM + 8.0, top + height + 2.6 + 2.35 * index, words, size_mm=2.0)
