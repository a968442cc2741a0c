"""The compliance table, as officers file it: CSV and XLSX of the same rows.

Head block, one numbered row a rule, blanks for remarks and initials, and a foot with limits and signatures
(the layout of site-plan reviews; see practice of published forms).
Text never becomes a formula: in CSV it is marked with an apostrophe, in XLSX it is written as text.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from siting.assess import Assessment
from siting.finding import Finding as Doubt
from siting.finding import effect
from siting.no_well_ground import NoWellGround
from siting.rules import Rule
from siting.separations import Separation, floored
from siting.uncertainty import Verdict

COLUMNS = (
    "No.", "place", "requirement", "pack", "source and clause", "read", "strength", "measure", "relation", "limit",
    "unit", "feature", "measured", "margin", "sigma", "probability", "result", "because", "action", "remarks",
    "by, date",
)  # fmt: skip
_WIDTHS = (5, 22, 42, 18, 42, 12, 9, 12, 10, 9, 6, 22, 10, 9, 8, 11, 16, 34, 44, 24, 16)
CSV_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table; numbers stay numbers."""

    cells: tuple[str | float | None, ...]
    result: str


def rows(assessment: Assessment) -> tuple[Row, ...]:
    """Every separation of what stands and of each candidate, then what was not assessed or attested absent."""
    lines = []
    for number, (place, source) in enumerate(_sources(assessment), start=1):
        cells, result = source
        lines.append(Row(cells=(number, place, *cells), result=result))
    return tuple(lines)


_Source = tuple[tuple[str | float | None, ...], str]


def _sources(assessment: Assessment) -> Iterator[tuple[str, _Source]]:
    for separation in assessment.separations:
        yield separation.installation, _separation(separation)
    finding = assessment.finding
    if finding is not None:
        for placed in finding.placed:
            for separation in placed.separations:
                yield f"candidate {placed.candidate.name}", _separation(separation)
            if placed.no_well is not None:
                yield f"candidate {placed.candidate.name}", _no_well(placed.no_well)
        for separation in finding.conflict.separations if finding.conflict else ():
            yield "no place: best compromise", _separation(separation)
    for installation, unassessed in assessment.unassessed:
        out = "" if unassessed.radius_m is None else f" within {unassessed.radius_m:g} m"
        yield (
            installation,
            _without(
                unassessed.rule, "", Verdict.NOT_ASSESSED, unassessed.reason, f"look for {unassessed.look_for}{out}"
            ),
        )
    for installation, attested in assessment.attested:
        because = f"attested absent over {attested.radius_m:g} m: {attested.statement}"
        yield installation, _without(attested.rule, "none recorded", Verdict.MEETS, because, "")
    for doubt in assessment.site.findings:
        yield "input", _doubt(doubt)


def _rule_cells(rule: Rule) -> tuple[str, str, str, str, str, str]:
    citation = rule.citation
    requirement = f"{rule.id}: {citation.says}" if citation.says else rule.id
    note = f" ({rule.note})" if rule.note else ""
    year = f" ({citation.document.year})" if citation.document.year else ""
    return (
        requirement + note,
        rule.pack,
        f"{citation.document.title}{year}, {citation.clause}",
        str(citation.read),
        "flag" if rule.flag else str(rule.strength),
        str(rule.measure),
    )


def _separation(s: Separation) -> _Source:
    return (
        *_rule_cells(s.rule),
        s.limit.relation.replace("_", " "),
        round(s.required, 3),
        s.unit,
        s.feature,
        float(floored(s.value)) if s.limit.is_minimum else -float(floored(-s.value)),
        float(floored(s.margin)),
        round(s.sigma, 2),
        floor(s.probability * 1e4) / 1e4,
        str(s.verdict),
        s.because,
        s.action,
        "",
        "",
    ), str(s.verdict)


def _no_well(ground: NoWellGround) -> _Source:
    """The reverse of the rule: what the pit does to the ground around it, a neighbour's too."""
    because = (
        f"once the pit stands, no well may be sunk within {ground.radius_m:g} m: {ceil(ground.area_m2)} m2, "
        f"{ceil(ground.beyond_boundary_m2)} m2 of it beyond the boundary"
    )
    cells, _ = _without(ground.rule, "ground closed to wells", Verdict.NOT_ASSESSED, because, "tell the neighbours")
    return (*cells[:-5], "", *cells[-4:]), ""


def _doubt(doubt: Doubt) -> _Source:
    """What is doubtful about the input, so that whoever reviews the table sees it with the rows it bears on."""
    where = "" if doubt.file is None else doubt.file if doubt.row is None else f"{doubt.file}, row {doubt.row}"
    state = "accepted" if doubt.accepted else "warning"
    because = f"{doubt.seen} [{doubt.sure}{effect(doubt)}]"
    blanks = (None, None, None, None)
    cells = (f"{state}: {doubt.code}", "", "", "", "", "", "", None, "", where, *blanks, "", because, doubt.repair)
    return (*cells, "", ""), ""


def _without(rule: Rule, feature: str, verdict: Verdict, because: str, action: str) -> _Source:
    limit = rule.limits[0] if rule.limits else None
    relation = limit.relation.replace("_", " ") if limit else ""
    number = limit.constant if limit else None
    return (
        *_rule_cells(rule), relation, None if number is None else round(number, 3), limit.unit if limit else "",
        feature, None, None, None, None, str(verdict), because, action, "", "",
    ), str(verdict)  # fmt: skip


def head(assessment: Assessment) -> tuple[tuple[str, str], ...]:
    """What the table is about: label and text."""
    site = assessment.site
    survey = site.survey
    looked = "not stated" if survey.radius_m is None else f"{survey.radius_m:g} m beyond the boundary"
    return (
        ("facility", site.name),
        ("result", str(assessment.verdict)),
        ("rules", "; ".join(f"{p.title}, edition {p.edition} [{p.id}]" for p in assessment.packs)),
        ("surveyed", f"{survey.on or 'date not stated'}, by {survey.by or 'nobody named'}, looked {looked}"),
        (
            "confidence",
            f"{site.confidence * 100:g}% that a limit is kept; between that and its complement it is too close to call",
        ),
        ("distances", "horizontal, nearest edge to nearest edge, rounded down"),
    )


def as_csv(assessment: Assessment) -> bytes:
    """UTF-8 with a byte-order mark, so that spreadsheets read accents; one header line, then the rows."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for row in rows(assessment):
        writer.writerow([_plain(cell) for cell in row.cells])
    return text.getvalue().encode("utf-8-sig")


def _plain(cell: str | float | None) -> str | float:
    if cell is None:
        return ""
    if isinstance(cell, str) and cell.startswith(CSV_FORMULA_STARTS):
        return "'" + cell
    return cell


def as_xlsx(assessment: Assessment) -> bytes:
    """A workbook that prints on A3 landscape, its head repeated on every page."""
    import datetime

    import xlsxwriter

    data = io.BytesIO()
    book = xlsxwriter.Workbook(
        data, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    )
    # A fixed date: the same input has to give the same bytes.
    book.set_properties(
        {"title": f"Compliance table: {assessment.site.name}", "created": datetime.datetime(2000, 1, 1)}
    )
    _fill(book, assessment)
    book.close()
    return data.getvalue()


def _fill(book, assessment: Assessment) -> None:  # type: ignore[no-untyped-def]  # xlsxwriter has no types
    sheet = book.add_worksheet("compliance")
    bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "border": 1})
    cell = book.add_format({"text_wrap": True, "valign": "top", "border": 1})
    fails = book.add_format({"text_wrap": True, "valign": "top", "border": 1, "bold": True})
    for line, (label, text) in enumerate(head(assessment)):
        sheet.write_string(line, 1, label, book.add_format({"bold": True}))
        sheet.write_string(line, 2, text)
    top = len(head(assessment)) + 1
    for column, (name, width) in enumerate(zip(COLUMNS, _WIDTHS, strict=True)):
        sheet.set_column(column, column, width)
        sheet.write_string(top, column, name, bold)
    body = rows(assessment)
    for line, row in enumerate(body, start=top + 1):
        form = fails if row.result == Verdict.FAILS else cell
        for column, value in enumerate(row.cells):
            if value is None or value == "":
                sheet.write_blank(line, column, None, form)
            elif isinstance(value, str):
                sheet.write_string(line, column, value, form)
            else:
                sheet.write_number(line, column, value, form)
    last = top + 1 + len(body)
    for line, caution in enumerate(assessment.cautions, start=last + 1):
        sheet.write_string(line, 2, caution)
    for line, label in enumerate(
        ("Prepared by, date:", "Reviewed by, date:"), start=last + 2 + len(assessment.cautions)
    ):
        sheet.write_string(line, 2, label)
    sheet.freeze_panes(top + 1, 3)
    sheet.autofilter(top, 0, max(last - 1, top), len(COLUMNS) - 1)
    sheet.set_landscape()
    sheet.set_paper(8)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(top)
