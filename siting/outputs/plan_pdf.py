"""`plan.pdf`: the plan sheet as vectors on paper of its own size, so that a ruler laid on it tells the truth."""

from siting.assess import Assessment
from siting.outputs.plan import plan_svg
from siting.outputs.plan_sheet.paper import sheet_for
from siting.outputs.typeset import Printed, typeset

TEMPLATE = """#let about = json(bytes(sys.inputs.data))
#set document(title: about.title, date: none)
#set page(width: about.width_mm * 1mm, height: about.height_mm * 1mm, margin: 0mm)
#image(bytes(sys.inputs.plan), format: "svg", width: about.width_mm * 1mm, alt: about.title)
"""


def plan_pdf(assessment: Assessment) -> Printed:
    """The sheet of `plan_svg` at its exact scale.

    Raises OutputError where the extra [pdf] is not installed.
    """
    sheet = sheet_for(assessment)
    title = f"{assessment.site.name}, site plan, 1 : {sheet.scale:,} on {sheet.paper.name}"
    about = {"title": title, "width_mm": sheet.paper.width_mm, "height_mm": sheet.paper.height_mm}
    return typeset(TEMPLATE, data=about, drawings={"plan": plan_svg(assessment, sheet)}, name="plan.pdf")
