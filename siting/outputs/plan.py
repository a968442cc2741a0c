"""`plan.svg`: the site plan as a sheet of paper, true to scale, black on white, in millimetres.

It carries what published checklists of site plans ask for: stated scale, north, legend, the boundary with the length
of each side, buildings and neighbours' features, heights, zones, measured distances, survey, rules and their editions,
a sketch of the location, and room for signatures (Elkhart County, Indiana, sewage and wells; Collingwood, Ontario,
septic drawings; Nebraska DEQ 12-062; Washtenaw County, Michigan, site plans: all seen; north, legend and bar from
memory).
"""

from html import escape

from siting.assess import Assessment
from siting.outputs.plan_sheet import dimensions, frame_marks, ground, zone_lines
from siting.outputs.plan_sheet.marks import FONTS, Room, number
from siting.outputs.plan_sheet.panel import Said, panel
from siting.outputs.plan_sheet.paper import Sheet, sheet_for


def plan_svg(assessment: Assessment, sheet: Sheet | None = None) -> str:
    """The sheet as an SVG whose user unit is the millimetre; the paper and scale that fit, unless they are given."""
    sheet = sheet or sheet_for(assessment)
    paper = sheet.paper
    lines, more_zones = zone_lines.zone_lines(assessment, sheet)
    measured = dimensions.dimensioned(assessment)
    room = Room(within=sheet.field)
    frame_marks.keep_off(sheet, room)
    ground.keep_off(assessment, sheet, room)
    # What is written first has its place first; what is drawn first lies below.
    placed, letters = ground.places(assessment, sheet, room)
    dimensioned = [*dimensions.lines(measured.dimensions, sheet, room)]
    sides, without = ground.side_lengths(assessment, sheet, room)
    keys = zone_lines.labelled(lines, room)
    names, left_out = ground.names(assessment, sheet, room)
    contours, step_m = ground.contours(assessment, sheet, room)
    said = Said(
        sides_without_length=without, names_left_out=tuple(left_out), zones_left_out=more_zones, contour_step_m=step_m
    )
    body = [
        *ground.ground_left(assessment, sheet),
        *contours,
        *zone_lines.drawn(lines),
        *ground.features(assessment, sheet),
        *placed,
        *dimensioned,
        *sides,
        *keys,
        *names,
        *letters,
        *ground.spot_levels(assessment, sheet, room),
        *frame_marks.frame(sheet),
        *frame_marks.north(assessment, sheet),
        *frame_marks.bar(sheet),
        *panel(assessment, sheet, measured, lines, said),
    ]
    width, height = number(paper.width_mm), number(paper.height_mm)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" font-family="{FONTS}" data-scale="{sheet.scale}" '
        f'aria-label="Plan of {escape(assessment.site.name)}, 1 : {sheet.scale} on {paper.name}">'
        f"<title>{escape(assessment.site.name)}, site plan, 1 : {sheet.scale:,} on {paper.name}</title>"
        f'<rect width="{width}" height="{height}" fill="#fff"/>{ground.hatches(assessment)}{"".join(body)}</svg>\n'
    )
