"""`report.pdf`: the decision on one page, the plan, the compliance table with room to write, and what it rests on."""

from collections.abc import Iterator
from importlib.resources import files

from siting.assess import Assessment
from siting.outputs.page import answers, rows
from siting.outputs.page.rows import Cited, Line
from siting.outputs.plan import plan_svg
from siting.outputs.plan_sheet.inset import utm
from siting.outputs.plan_sheet.paper import sheet_for
from siting.outputs.typeset import Printed, typeset
from siting.rules import Measure
from siting.separations import Separation, ceiled, floored
from siting.site import Feature
from siting.uncertainty import Verdict

TIGHTEST = 3
MOST_LINES = 6
"Of a list on the first page; the table holds all."
SIGNED = ("Prepared by", "Checked by (environmental health)", "For the facility")
DEFERS = (
    "This report screens a site against published rules. It is no permit: the local code and a licensed engineer, "
    "surveyor or environmental health officer decide. Cautions are on the last pages."
)
METHOD = (
    "Positions are brought to one plane of the site, in metres, on which lengths agree with the ground to a millimetre "
    "over the site. Distances are horizontal, from nearest edge to nearest edge (an undercut pit counts by its "
    "vertical projection), and printed rounded down; needed lengths are rounded up.",
    "Every position carries a standard uncertainty from the accuracy stated for it, or from what such a source is "
    "usually good to. What a whole source shares counts between sources and cancels within one. A separation meets its "
    "limit when the probability that the true value keeps it is at least the confidence asked for, fails when that is "
    "at most the complement, and is too close to call between (decision rule after JCGM 106:2012).",
    "A rule whose kind of feature was neither recorded nor attested absent over a searched radius that covers it is "
    "not assessed. A recorded feature does not prove that there is no nearer one.",
    "The best places are found by branch and bound over place and orientation. A margin changes by at most one metre "
    "per metre walked, so a cell of ground cannot hold a better place than its middle's margin plus its half diagonal; "
    "the bound printed beside a place is proved in this way. Every place is confirmed by exact distances; drawn zones "
    "are rounded outward and only picture them.",
    "Several packs of rules may be in force; every row names its own, and the strictest governs. Each number is a "
    "document's, with its clause and how far it was followed to its source.",
)


def report_pdf(assessment: Assessment) -> Printed:
    """The report on A4, with the plan sheet at its exact scale as its second page.

    Raises OutputError where the extra [pdf] is not installed.
    """
    sheet = sheet_for(assessment)
    template = (files("siting.outputs") / "report.typ").read_text("utf-8")
    left, top, width_mm, height_mm = sheet.paper.field_mm
    middle = _middle(assessment)
    about = report_data(assessment) | {
        "plan_width_mm": sheet.paper.width_mm,
        "plan_height_mm": sheet.paper.height_mm,
        "plan_field_mm": [left + width_mm, top + height_mm],
        "plan_scale": f"1 : {sheet.scale:,}",
        "middle_mm": list(sheet.point(*middle)) if middle else None,
    }
    return typeset(template, data=about, drawings={"plan": plan_svg(assessment, sheet)}, name="report.pdf")


def report_data(assessment: Assessment) -> dict[str, object]:
    """Everything the report says, as plain texts in the order of its pages."""
    site = assessment.site
    numbers = rows.cited(assessment)
    day = site.survey.on
    tight = _tightest(assessment)
    return {
        "title": site.name,
        "day": [day.year, day.month, day.day] if day else None,
        "foot": f"{site.name}: screening report; the local code and licensed practice decide",
        "question": _question(assessment),
        "answer": _answer(assessment),
        "whole": _whole(assessment),
        "facts": list(_facts(assessment)),
        "tightest_title": _tightest_title(assessment),
        "tightest": [_tight_row(s) for s in tight],
        "against": list(_against(assessment)),
        "fails": _shortened(list(_fails(assessment))),
        "unlooked": _shortened(list(_unlooked(assessment))),
        "tape": list(_tape(assessment, tight)),
        "defers": DEFERS,
        "head": list(_head(assessment)),
        "groups": list(_groups(assessment, numbers)),
        "table_note": _table_note(assessment),
        "signed": list(SIGNED),
        "inputs": list(_inputs(assessment)),
        "findings": [{"code": n.code, "place": _where(n.file, n.row), "message": n.message} for n in site.notices],
        "method": list(METHOD),
        "cautions": list(assessment.cautions),
        "sources": list(_sources(numbers)),
    }


def _middle(assessment: Assessment) -> tuple[float, float] | None:
    """What the picture on the first page shows the middle of; none where there is no one place."""
    finding = assessment.finding
    if finding is not None and finding.placed:
        return finding.placed[0].candidate.x_m, finding.placed[0].candidate.y_m
    if finding is not None and finding.conflict is not None:
        return finding.conflict.x_m, finding.conflict.y_m
    return None


def _question(assessment: Assessment) -> str:
    if assessment.finding is not None:
        return f"Where may a {assessment.finding.installation.kind} be dug?"
    if assessment.arrangement is not None:
        return "Where may several installations stand at once?"
    return "Does what stands comply?"


def _answer(assessment: Assessment) -> str:
    finding, made = assessment.finding, assessment.arrangement
    if finding is not None and finding.placed:
        first = finding.placed[0]
        return f"Place {first.candidate.name}: {first.verdict}"
    if finding is not None and finding.conflict is not None:
        short_m = finding.conflict.shortfall_m
        return "No place" + (f": the best compromise is {ceiled(short_m)} m short" if short_m > 0 else "")
    if made is not None:
        if not made.stands:
            return "No arrangement keeps every rule"
        return f"Arranged: smallest margin {floored(made.margin_m)} m"
    return f"What stands: {assessment.verdict}"


def _whole(assessment: Assessment) -> str:
    """The verdict of the whole site beside that of a place, with its reason."""
    finding = assessment.finding
    if finding is None and assessment.arrangement is None:
        return ""
    reasons = []
    standing = [s for s in assessment.separations if s.is_must]
    for verdict in (Verdict.FAILS, Verdict.TOO_CLOSE):
        count = sum(s.verdict is verdict for s in standing)
        if count:
            reasons.append(f"{count} of what stands {'fail' if verdict is Verdict.FAILS else 'too close to call'}")
    return f"The site as a whole: {assessment.verdict}" + (f" ({'; '.join(reasons)})" if reasons else "")


def _facts(assessment: Assessment) -> Iterator[tuple[str, str]]:
    site, finding = assessment.site, assessment.finding
    if finding is not None and finding.placed:
        placed = finding.placed[0]
        told, c = answers.place(placed, assessment), placed.candidate
        turn = f"; {told['orientation']}" if told["orientation"] else ""
        yield "at", f"{told['at']}{_utm(assessment, c.x_m, c.y_m)}{turn}"
        yield (
            "margin",
            (
                f"{told['margin']} m to the tightest rule that must hold ({told['binding']}); proved: no place on the "
                f"site has more than {told['bound']} m"
            ),
        )
        for label, key in (("walk", "walk"), ("successor", "reserve"), ("wells", "no_well")):
            if told[key]:
                yield label, told[key]
        yield "size", "; ".join(answers.size(assessment)[:2])
        others = [f"{p.candidate.name} {floored(p.candidate.margin_m)} m ({p.verdict})" for p in finding.placed[1:]]
        if others:
            yield "other places", "margins: " + ", ".join(others)
    elif finding is not None:
        yield "size", "; ".join(answers.size(assessment)[:2])
    for stand in assessment.arrangement.stands if assessment.arrangement else ():
        at = answers.coordinates(assessment, stand.x_m, stand.y_m)
        yield stand.installation.name, f"{at}, margin {floored(stand.margin_m)} m"
    survey = site.survey
    looked = "how far out was not stated" if survey.radius_m is None else f"looked {survey.radius_m:g} m beyond it"
    yield "surveyed", f"{survey.on or 'date not stated'}, by {survey.by or 'nobody named'}, {looked}"
    yield "rules", "; ".join(f"{p.title}, edition {p.edition}" for p in assessment.packs)


def _utm(assessment: Assessment, x_m: float, y_m: float) -> str:
    import numpy as np

    frame = assessment.site.frame
    if not frame.on_earth:
        return ""
    lon, lat = frame.to_world(np.array([[x_m, y_m]]))[0]
    zone, east_m, north_m = utm(float(lon), float(lat))
    return f" (WGS 84); UTM {zone} {east_m:.2f} E {north_m:.2f} N"


def _tightest_title(assessment: Assessment) -> str:
    finding = assessment.finding
    if finding is not None and finding.placed:
        return f"The {TIGHTEST} tightest separations of place {finding.placed[0].candidate.name}"
    if finding is not None:
        return f"The {TIGHTEST} worst separations of the best compromise (not a place)"
    return f"The {TIGHTEST} tightest separations"


def _tightest(assessment: Assessment) -> list[Separation]:
    """Of the rules that must hold and lead in metres to a feature, one a feature."""
    finding = assessment.finding
    held = assessment.separations
    if finding is not None:
        held = finding.placed[0].separations if finding.placed else ()
        held = finding.conflict.separations if finding.conflict is not None else held
    elif assessment.arrangement is not None and assessment.arrangement.stands:
        own = {s.installation.name for s in assessment.arrangement.stands}
        held = tuple(s for s in held if s.installation in own)
    by_pair: dict[tuple[str, str], Separation] = {}
    lengths = [
        s for s in held if s.is_must and s.margin_m is not None and s.distance_m is not None and s.feature
        and s.measure != Measure.SIDE
    ]  # fmt: skip
    for s in sorted(lengths, key=lambda s: (s.margin_m or 0.0, s.rule.full_id)):
        by_pair.setdefault((s.installation, s.feature), s)
    return list(by_pair.values())[:TIGHTEST]


def _tight_row(s: Separation) -> dict[str, str]:
    return {
        "between": f"{s.installation} and {s.feature or s.measure} [{s.rule.id}]",
        "value": rows.value_text(s),
        "limit": rows.side_text(s.rule) or rows.limit_text(s.limit, s.required),
        "margin": f"{rows.signed(s.margin)} {s.unit}",
        "spread": _spread(s),
        "result": str(s.verdict),
    }


def _spread(s: Separation) -> str:
    return f"± {s.sigma:.2f} {s.unit}, p {rows.probability_text(s.probability)}"


def _against(assessment: Assessment) -> Iterator[str]:
    told = answers.compromise(assessment)
    if told is None:
        return
    against, ways = told["against"], told["ways_out"]
    assert isinstance(against, list) and isinstance(ways, list)
    yield f"cannot hold together: {'; '.join(against)}"
    if told["is_short"]:
        yield f"proved: nowhere on the site is a place less than {told['bound']} m short; the best is at {told['at']}"
    yield from (f"way out: {way}" for way in ways[:MOST_LINES])


def _fails(assessment: Assessment) -> Iterator[str]:
    held = [s for s in assessment.separations if s.is_must and s.verdict is Verdict.FAILS]
    for s in sorted(held, key=lambda s: s.margin):
        yield (
            f"{s.installation} / {s.feature or s.measure}: {rows.value_text(s)}, "
            f"{rows.side_text(s.rule) or rows.limit_text(s.limit, s.required)} [{s.rule.id}]; {s.action}"
        )
    yield from answers.mendings(assessment)


def _unlooked(assessment: Assessment) -> Iterator[str]:
    """What to look for, once each, with the largest radius and how many rules wait for it."""
    wanted: dict[str, tuple[float, int, str]] = {}
    for name, row in assessment.unassessed:
        if row.rule.strength == "must":
            radius_m, count, whose = wanted.get(row.look_for, (0.0, 0, name))
            wanted[row.look_for] = (max(radius_m, row.radius_m or 0.0), count + 1, whose)
    for what, (radius_m, count, _) in sorted(wanted.items(), key=lambda item: (-item[1][1], item[0])):
        out = f" within {radius_m:g} m" if radius_m else ""
        yield f"look for {what}{out}; {count} {'row waits' if count == 1 else 'rows wait'} for it"
    advice = sum(row.rule.strength != "must" for _, row in assessment.unassessed)
    if advice:
        yield f"rows of rules that only advise: {advice}, see the table"


def _tape(assessment: Assessment, tight: list[Separation]) -> Iterator[str]:
    """What would settle a doubt first, then the tightest lengths of the place, so that the plan itself is tried."""
    finding = assessment.finding
    own = finding.placed[0].separations if finding is not None and finding.placed else ()
    doubtful = [s for s in (*own, *assessment.separations) if s.is_must and s.verdict is Verdict.TOO_CLOSE and s.action]
    said = list(dict.fromkeys(s.action for s in doubtful))
    yield from said[:MOST_LINES]
    if len(said) > MOST_LINES:
        yield f"and {len(said) - MOST_LINES} more lengths, under action in the table"
    for s in tight:
        if s.verdict is Verdict.MEETS and s.distance_m is not None and s.required_m is not None and s.feature:
            needed = "at least" if s.limit.is_minimum else "at most"
            yield (
                f"{s.installation} to {s.feature}, nearest edges: {floored(s.distance_m)} m on the plan; {needed} "
                f"{ceiled(s.required_m)} m is needed"
            )


def _shortened(lines: list[str]) -> list[str]:
    if len(lines) <= MOST_LINES:
        return lines
    return [*lines[: MOST_LINES - 1], f"and {len(lines) - MOST_LINES + 1} more, in the compliance table"]


def _head(assessment: Assessment) -> Iterator[tuple[str, str]]:
    from siting.outputs.table import head

    yield from head(assessment)
    yield "plot, permit no.", "................................................................"


def _groups(assessment: Assessment, numbers: dict[str, Cited]) -> Iterator[dict[str, object]]:
    """The rows of the first place, of what stands, and of what was not looked at, numbered through."""
    finding = assessment.finding
    skipped = {f"place-{p.candidate.name}" for p in finding.placed[1:]} if finding else set()
    groups = [group for group in rows.groups(assessment, numbers) if group.key not in skipped]
    groups.sort(key=lambda group: not group.key.startswith(("place-", "compromise")))
    named = {feature.name: feature for feature in assessment.site.features}
    number = 0
    for group in groups:
        made = []
        for line in group.lines:
            number += 1
            made.append(_row(number, line, assessment, named))
        yield {"title": group.title, "rows": made}


def _row(number: int, line: Line, assessment: Assessment, named: dict[str, Feature]) -> dict[str, object]:
    rule, citation = line.cited.rule, line.cited.rule.citation
    feature = named.get(line.feature)
    said = f"{rule.id}: {citation.says}" if citation.says else rule.id
    return {
        "no": number,
        "mark": line.cited.mark,
        "requirement": said + ("" if line.weight == "must" else f" ({rows.WEIGHTS[line.weight]})"),
        "source": f"{rule.pack}: {citation.clause} [{citation.read}]",
        "limit": line.limit,
        "feature": f"{line.installation} / {line.feature}" if line.feature else line.installation,
        "value": line.value,
        "spread": line.spread,
        "how": "" if feature is None else _how(feature, assessment),
        "letter": line.mark,
        "result": str(line.verdict),
        "because": line.because,
        "action": line.action,
    }


def _how(feature: Feature, assessment: Assessment) -> str:
    """Where the position of a feature comes from, how good it is, and when it was seen."""
    seen = feature.seen_on or assessment.site.survey.on
    origin = str(feature.origin) if feature.origin else feature.source
    return f"{origin}, ± {feature.sigma_m:.2f} m" + (f", {seen}" if seen else "")


def _table_note(assessment: Assessment) -> str:
    finding = assessment.finding
    others = ""
    if finding is not None and len(finding.placed) > 1:
        names = ", ".join(p.candidate.name for p in finding.placed[1:])
        others = f" The rows of the other places ({names}) are in compliance.csv and compliance.xlsx."
    return (
        "M meets, F fails, ? too close to call, N not assessed; R numbers are those of the sources. A row that is "
        f"advice decides nothing.{others} Horizontal distances, nearest edges, rounded down."
    )


def _inputs(assessment: Assessment) -> Iterator[dict[str, str]]:
    site = assessment.site
    for source in site.sources.values():
        count = sum(f.source == source.name for f in site.features)
        notes = "; ".join([*source.notes, *([source.operation] if source.operation else [])])
        counted = f"{count} feature{'' if count == 1 else 's'}"
        yield {"name": source.name, "sha256": _broken(source.sha256), "count": counted, "notes": notes}
    for pack in assessment.packs:
        about = f"{pack.title}, edition {pack.edition}"
        yield {"name": pack.id, "sha256": _broken(pack.sha256), "count": f"{len(pack.rules)} rules", "notes": about}


def _broken(sha256: str) -> str:
    """A checksum in groups of eight, which wrap and can be compared by eye."""
    return " ".join(sha256[start : start + 8] for start in range(0, len(sha256), 8))


def _where(file: str | None, row: int | None) -> str:
    if file is None:
        return ""
    return file if row is None else f"{file}, row {row}"


def _sources(numbers: dict[str, Cited]) -> Iterator[dict[str, object]]:
    """Each document with the rules that rest on it."""
    held: dict[tuple[str, str], list[Cited]] = {}
    for cited in numbers.values():
        document = cited.rule.citation.document
        held.setdefault((document.title, document.publisher), []).append(cited)
    for group in held.values():
        document = group[0].rule.citation.document
        parts = [document.publisher, str(document.year) if document.year else "", document.url]
        yield {
            "title": document.title,
            "about": ". ".join(part for part in parts if part) + f" [{document.read}]",
            "rules": [{"mark": c.mark, "text": _cited_text(c)} for c in group],
        }


def _cited_text(cited: Cited) -> str:
    rule, citation = cited.rule, cited.rule.citation
    said = f": {citation.says}" if citation.says else ""
    note = f" Note: {rule.note}" if rule.note else ""
    return f"{rule.pack}/{rule.id}, {citation.clause}{said} [{citation.read}].{note}"
