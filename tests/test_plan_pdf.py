"""The plan as PDF: a ruler laid on the page tells the truth, the bytes repeat, and no letter becomes a box."""

import io

import map_sites
import pytest

from siting.errors import OutputError
from siting.outputs import typeset
from siting.outputs.plan_pdf import plan_pdf
from siting.outputs.plan_sheet.dimensions import dimensioned
from siting.outputs.plan_sheet.paper import sheet_for

pdfplumber = pytest.importorskip("pdfplumber", reason="an independent reader of PDF")
pytest.importorskip("typst", reason="the extra [pdf]")

SHARE = 0.002
"A length in the PDF may be off by 0.2 %: what the planner was promised, and less than paper moves with the weather."
MM_PER_POINT = 25.4 / 72.0


@pytest.fixture(scope="module")
def found():
    """A facility of 120 m by 100 m with three places."""
    return map_sites.found()


@pytest.fixture(scope="module")
def page(found):
    """The only page."""
    with pdfplumber.open(io.BytesIO(plan_pdf(found).data)) as document:
        assert 1 == len(document.pages)
        yield document.pages[0]


def shapes(page):
    """Width and height [mm] of everything drawn."""
    return [
        ((each["x1"] - each["x0"]) * MM_PER_POINT, (each["bottom"] - each["top"]) * MM_PER_POINT)
        for each in (*page.rects, *page.lines, *page.curves)
    ]


def test_the_page_is_the_paper(found, page):
    """A3 lying on its long side."""
    paper = sheet_for(found).paper

    assert (paper.width_mm, paper.height_mm) == pytest.approx(
        (float(page.width) * MM_PER_POINT, float(page.height) * MM_PER_POINT), rel=1e-4
    )


def test_the_bar_measures_a_hundred_millimetres(page):
    """From the first of its ten parts to the last."""
    parts = [r for r in page.rects if abs((r["bottom"] - r["top"]) * MM_PER_POINT - 2.0) < 0.01]

    length = (max(r["x1"] for r in parts) - min(r["x0"] for r in parts)) * MM_PER_POINT
    assert 100.0 == pytest.approx(length, rel=SHARE)


def test_the_boundary_measures_true_at_the_scale_that_is_printed(found, page):
    """120 m by 100 m at the scale on the sheet."""
    mm = sheet_for(found).mm_per_m

    assert any((120.0 * mm, 100.0 * mm) == pytest.approx(size, rel=SHARE) for size in shapes(page)), (
        "no outline of that size"
    )


def test_every_dimension_measures_what_its_number_says(found, page):
    """Lines from the first place, by their two ends."""
    mm = sheet_for(found).mm_per_m
    ends = [each["pts"] for each in (*page.lines, *page.curves) if len(each.get("pts", ())) == 2]
    lengths = [((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 * MM_PER_POINT for a, b in ends]

    for each in dimensioned(found).dimensions:
        assert any(each.separation.distance_m * mm == pytest.approx(length, rel=SHARE) for length in lengths), each


def test_the_text_can_be_searched(page):
    """Letters are letters, not drawings of them."""
    text = page.extract_text()

    assert "Two Fields Clinic" in text
    assert "This bar is 100 mm" in text


def test_the_same_input_gives_the_same_bytes(found):
    """No clock and no chance in the file."""
    assert plan_pdf(found).data == plan_pdf(found).data


def test_letters_without_a_font_are_told_and_named_by_their_script(monkeypatch):
    """A name in a script that no font here has: reported, and its script in its place; others stay whole."""
    plain = typeset._without_glyph
    monkeypatch.setattr(
        typeset, "_without_glyph",
        lambda letters, **fonts: "".join(sorted({*plain(letters, **fonts), *(c for c in letters if c in "ጉድጓ")})),
    )  # fmt: skip
    named = map_sites.found(map_sites.site(names={"Well": "ጉድጓድ 2", "Kitchen": "Łaźnia"}), serve_from=None)

    printed = plan_pdf(named)

    with pdfplumber.open(io.BytesIO(printed.data)) as document:
        text = document.pages[0].extract_text()
    assert 1 == len(printed.notes)
    assert "Ethiopic" in printed.notes[0]
    assert "results.json" in printed.notes[0]
    assert "[Ethiopic letters] 2" in text
    assert "Łaźnia" in text
    assert "(cid:0)" not in text


def test_typst_itself_is_asked_which_letters_it_can_draw():
    """Ethiopic and Hangul are not in the font that comes along; Latin, Greek and Cyrillic are."""
    typeset._without_glyph.cache_clear()

    assert "ጉ한" == typeset._without_glyph("ŵΩжጉ한", ignore_system_fonts=True)


def test_letters_that_join_are_not_set_in_a_font_that_cannot_join_them(monkeypatch):
    """Without a font made for their script they count as missing; with one, it is named for these words alone."""
    monkeypatch.setattr(typeset, "_families", lambda scripts: {})
    bare = plan_pdf(map_sites.found(map_sites.site(names={"Ward": "मातृ कक्ष"}), serve_from=None))
    named = typeset._in_their_fonts("<text>Ward मातृ</text>", {"Devanagari": "Some Devanagari"})

    assert "Devanagari" in bare.notes[0]
    assert "<text>Ward <tspan font-family=\"'Some Devanagari'\">मातृ</tspan></text>" == named


def test_without_the_library_three_parts_say_what_to_install(monkeypatch, found):
    """What was found, what was needed, what to do."""
    monkeypatch.setattr(typeset, "find_spec", lambda name: None)

    with pytest.raises(OutputError) as refused:
        plan_pdf(found)

    (fault,) = refused.value.faults
    assert "plan.pdf" in fault.found
    assert "[pdf]" in fault.needed
    assert "pip install 'siting[pdf]'" in fault.do_next
