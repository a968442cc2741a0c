"""What is written only where somebody asks for it: the plan sheet, the report, and files for other programs."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from siting.assess import Assessment

SVG = "svg"
"Among the formats to export: the plan sheet alone, which needs no library for PDF."


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What somebody asked for."""

    plan: bool = False
    report: bool = False
    exports: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return self.plan or self.report or bool(self.exports)

    def refuse_early(self) -> None:
        """Raise OutputError where the library of a format is missing, before any work is done."""
        from siting.outputs.typeset import refuse_without_typst

        if self.plan:
            refuse_without_typst("plan.pdf", instead=f"ask for --export {SVG}, which writes plan.svg alone")
        if self.report:
            refuse_without_typst("report.pdf", instead="leave out --report")


def files_on_request(assessment: "Assessment", asked: Asked) -> tuple[dict[str, bytes], tuple[str, ...]]:
    """The contents of the files by name, and what their readers have to be told."""
    contents: dict[str, bytes] = {}
    notes: list[str] = []
    if asked.plan or SVG in asked.exports:
        from siting.outputs.plan import plan_svg

        contents["plan.svg"] = plan_svg(assessment).encode()
    if asked.plan:
        from siting.outputs.plan_pdf import plan_pdf

        printed = plan_pdf(assessment)
        contents["plan.pdf"] = printed.data
        notes += printed.notes
    if asked.report:
        from siting.outputs.report import report_pdf

        printed = report_pdf(assessment)
        contents["report.pdf"] = printed.data
        notes += printed.notes
    formats = [each for each in asked.exports if each != SVG]
    if formats:
        from siting.outputs.exchange import exchange_files

        contents |= exchange_files(assessment, formats)
    return contents, tuple(notes)
