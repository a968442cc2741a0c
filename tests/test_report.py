"""The report: a decision on one page, the table officers know, what it rests on; the same bytes for the same input."""

import io
import re
from dataclasses import replace

import map_sites
import pytest

from siting.errors import OutputError
from siting.outputs import report, typeset
from siting.outputs.report import report_data, report_pdf
from siting.rules import Strength
from siting.separations import floored
from siting.uncertainty import Verdict

pdfplumber = pytest.importorskip("pdfplumber", reason="an independent reader of PDF")
pypdfium2 = pytest.importorskip("pypdfium2", reason="another one, quicker with text")
pytest.importorskip("typst", reason="the extra [pdf]")

SHARE = 0.002
"Lengths on the plan page may be off by 0.2 %."
MM_PER_POINT = 25.4 / 72.0


@pytest.fixture(scope="module")
def found():
    """A facility with three places."""
    return map_sites.found()


@pytest.fixture(scope="module")
def pages(found):
    """The text of each page, in one line each."""
    return texts(report_pdf(found).data)


def texts(pdf):
    """The text of each page, spaces made even."""
    document = pypdfium2.PdfDocument(pdf)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def test_the_first_page_decides(found, pages):
    """Place, verdict of the place and of the site, coordinates, margin with its proof, not assessed, what to tape."""
    first, placed = pages[0], found.finding.placed[0]

    for wanted in (
        "Two Fields Clinic", "Where may a placenta pit be dug?", f"Place A: {placed.verdict}",
        f"The site as a whole: {found.verdict}", "WGS 84", "UTM 36S", "proved: no place on the site",
        "The 3 tightest separations of place A", "Not assessed", "look for", "What to tape before anything is dug",
        "read:", "It is no permit", "licensed engineer",
    ):  # fmt: skip
        assert wanted in first, wanted


def test_the_three_tightest_separations_are_those_with_the_least_margin(found):
    """Only rules that must hold, one row a feature, none tighter left out."""
    told = report_data(found)["tightest"]
    rows = [s for s in found.finding.placed[0].separations if s.is_must and s.feature and s.distance_m is not None]
    least = {}
    for s in rows:
        least[s.feature] = min(least.get(s.feature, s.margin_m), s.margin_m)

    assert 3 == len(told)
    assert [f"+{floored(m)} m" for m in sorted(least.values())[:3]] == [row["margin"] for row in told]


def test_what_to_tape_begins_with_what_would_settle_a_doubt():
    """Then the tightest lengths of the place, with the plan's length and the limit; needed lengths are rounded up."""
    told = report_data(map_sites.found())["tape"]
    doubtful = [s.action for s in map_sites.checked().separations if s.is_must and s.verdict is Verdict.TOO_CLOSE]

    assert doubtful == told[: len(doubtful)]
    assert re.search(r"Kitchen, nearest edges: \d+\.\d\d m on the plan; at least 15\.24 m is needed", "\n".join(told))


def test_not_assessed_tells_each_thing_once_with_the_widest_radius(found):
    """Several rules that wait for one look are one line."""
    told = report_data(found)["unlooked"]
    must = {u.look_for for _, u in found.unassessed if u.rule.strength is Strength.MUST}

    assert len(set(told)) == len(told)
    assert all(any(what in line for line in told) or len(told) == report.MOST_LINES for what in must)


def test_advice_that_is_not_assessed_is_not_passed_over():
    """A rule that only advises and was not assessed is counted on the first page."""
    found = map_sites.found()
    (name, row) = found.unassessed[0]
    advice = replace(row, rule=replace(row.rule, strength=Strength.SHOULD))
    only = replace(found, unassessed=((name, advice),))

    assert ["rows of rules that only advise: 1, see the table"] == report_data(only)["unlooked"]


def test_the_plan_is_the_second_page_at_its_exact_scale(found):
    """The bar of 100 mm is measured there."""
    with pdfplumber.open(io.BytesIO(report_pdf(found).data)) as document:
        page = document.pages[1]
        parts = [r for r in page.rects if abs((r["bottom"] - r["top"]) * MM_PER_POINT - 2.0) < 0.01]
        length = (max(r["x1"] for r in parts) - min(r["x0"] for r in parts)) * MM_PER_POINT

    assert 420.0 == pytest.approx(float(page.width) * MM_PER_POINT, rel=1e-4)
    assert 100.0 == pytest.approx(length, rel=SHARE)


def test_the_table_holds_every_row_of_the_first_place_and_of_what_stands(found, pages):
    """Numbered through; rows of the other places are said to be elsewhere; columns for hand-writing stay empty."""
    groups = report_data(found)["groups"]
    rows = [row for group in groups for row in group["rows"]]
    table = " ".join(pages[2:])

    assert "Place A" == groups[0]["title"]
    assert list(range(1, len(rows) + 1)) == [row["no"] for row in rows]
    assert len(found.finding.placed[0].separations) == len(groups[0]["rows"])
    standing = next(group for group in groups if group["title"] == "What stands")
    assert len(found.separations) == len(standing["rows"])
    assert not any(group["title"] == "Place B" for group in groups)
    for wanted in ("remarks", "by, date", "signature", "Prepared by", "compliance.xlsx", "how, when", "source and"):
        assert wanted in table, wanted


def test_a_row_says_how_and_when_its_feature_was_measured(found):
    """File and row, uncertainty, and the day it was seen or surveyed."""
    rows = [row for group in report_data(found)["groups"] for row in group["rows"]]

    assert "plan.geojson row 1, ± 0.30 m, 2026-05-14" in {row["how"] for row in rows}


def test_inputs_stand_with_their_checksums(found, pages):
    """Files and packs, in groups of eight that can be compared by eye."""
    assert "abababab abababab" in " ".join(pages)
    told = {entry["name"]: entry["sha256"].replace(" ", "") for entry in report_data(found)["inputs"]}
    assert "ab" * 32 == told["plan.geojson"]
    assert {pack.id: pack.sha256 for pack in found.packs}.items() <= told.items()


def test_what_the_doctor_found_is_printed(found, pages):
    """Each notice with its code and where."""
    assert "unknown-kind plan.geojson, row 10 one kind is not known" in " ".join(pages)


def test_without_findings_that_is_said():
    """An empty table is not left to be guessed at."""
    site = map_sites.site()
    clean = map_sites.found(replace(site, notices=()), serve_from=None)

    assert "Nothing doubtful was found." in " ".join(texts(report_pdf(clean).data))


def test_every_caution_and_every_source_is_printed(found, pages):
    """Cautions word for word; each cited document with how it was read."""
    whole = " ".join(pages)
    squeezed = re.sub(r"\s", "", whole)

    for entry in report_data(found)["sources"]:
        assert re.sub(r"\s", "", entry["title"]) in squeezed
    assert len(found.cautions) == len(report_data(found)["cautions"])
    for word in ("seen", "second-hand", "recalled", "project judgement"):
        assert word in whole


def test_the_method_fills_half_a_page_and_no_more():
    """About 250 words."""
    assert 150 < len(" ".join(report.METHOD).split()) < 350


def test_the_same_input_gives_the_same_bytes(found):
    """The date in the file is that of the survey, not of the day it was printed."""
    first, second = report_pdf(found), report_pdf(map_sites.found())

    assert first.data == second.data
    assert b"D:20260514" in first.data


def test_no_place_is_told_with_its_proof_and_ways_out():
    """The compromise is never called a place."""
    first = texts(report_pdf(map_sites.hopeless()).data)[0]

    assert "No place: the best compromise is" in first
    assert "proved: nowhere on the site" in first
    assert "way out:" in first
    assert "Place A" not in first


def test_what_is_only_checked_has_its_report():
    """The verdict of what stands, and what fails first."""
    checked = map_sites.checked()
    first = texts(report_pdf(checked).data)[0]

    assert "Does what stands comply?" in first
    assert f"What stands: {checked.verdict}" in first


def test_names_of_strangers_stay_text():
    """Neither markup of typst nor of SVG is made of a name."""
    names = {"Ward": '#panic("x")', "Kitchen": "*bold* _it_ $x$ @ref <l>", "Well": map_sites.HOSTILE[1]}
    printed = report_pdf(map_sites.found(map_sites.site(names=names), serve_from=None))
    whole = " ".join(texts(printed.data))

    assert '#panic("x")' in whole
    assert "*bold* _it_ $x$ @ref <l>" in whole


def test_it_never_decides_for_the_authority(pages):
    """No page says that a place is safe, approved or certified; titles of cited documents are their own."""
    whole = " ".join(page.partition("Sources How far")[0] for page in pages)

    assert None is re.search(r"\b(safe|safely|approved|certified)\b", whole, re.IGNORECASE)
    assert "local code and licensed practice decide" in whole


def test_letters_without_a_font_are_told(monkeypatch):
    """The note names the report, and the page the script."""
    monkeypatch.setattr(typeset, "_without_glyph", lambda letters, **fonts: "".join(c for c in letters if c in "ጉድጓ"))
    named = map_sites.found(map_sites.site(names={"Well": "ጉድጓድ"}), serve_from=None)

    printed = report_pdf(named)

    assert printed.notes[0].startswith("report.pdf: no font on this machine has 3 of its letters (Ethiopic")
    assert "[Ethiopic letters]" in " ".join(texts(printed.data))


def test_without_the_library_three_parts_say_what_to_install(monkeypatch, found):
    """What was found, what was needed, what to do."""
    monkeypatch.setattr(typeset, "find_spec", lambda name: None)

    with pytest.raises(OutputError) as refused:
        report_pdf(found)

    assert "report.pdf cannot be written" in refused.value.faults[0].found
