"""The compliance table: the same rows as CSV and XLSX, numbers as numbers, and no text that becomes a formula."""

import csv
import io
import zipfile
from dataclasses import replace

import pytest
import yards
from hypothesis import given
from hypothesis import strategies as st

from siting.outputs.table import COLUMNS, as_csv, as_xlsx, head, rows

CENTIMETRE_M = 0.01
HAIR_M = 1e-8
FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "\r=1+1", "=cmd|' /C calc'!A0", "https://example.org/x")
NUMERIC = ("No.", "limit", "measured", "margin", "sigma", "probability")


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    """A yard with a latrine too near its well, and a rule that nobody looked for."""
    return yards.assessed(yards.failing(tmp_path_factory.mktemp("failing")))


@pytest.fixture(scope="module")
def everything(tmp_path_factory):
    """A yard whose table has every sort of row: separations, candidates, not assessed, attested absent."""
    folder = tmp_path_factory.mktemp("everything")
    yards.write(
        folder, yards.fence(), yards.latrine(40.0), yards.ward(), more='[absent]\nwell = "asked at every house"\n'
    )
    second = yards.CODE.replace("latrine-to-ward", "latrine-to-kitchen").replace('"ward"', '"kitchen"')
    (folder / "yard-code.toml").write_text(second.replace("where_marked = true", ""))
    return yards.assessed(folder, kind="placenta pit")


def hostile(assessment):
    """The same assessment with formulas wherever a person's words go."""
    one = assessment.separations[0]
    return replace(
        assessment,
        separations=tuple(replace(one, feature=f, installation=f, because=f, action=f) for f in FORMULAS),
        site=replace(assessment.site, name="=1+1"),
    )


def csv_rows(data: bytes):
    """The table as a program reads it."""
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def sheet(data: bytes):
    """The first sheet as rows of values, read by an independent library."""
    from python_calamine import CalamineWorkbook

    return CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_index(0).to_python()


def body(data: bytes):
    """The heading and the rows below it, without the head block and the foot."""
    cells = sheet(data)
    top = next(n for n, row in enumerate(cells) if row[0] == "No.")
    held = [row for row in cells[top + 1 :] if isinstance(row[0], float)]
    return cells[top], held


def test_every_row_has_a_cell_for_every_column(everything):
    """Rows are numbered from 1, and of one width."""
    lines = rows(everything)

    assert {len(COLUMNS)} == {len(line.cells) for line in lines}
    assert list(range(1, len(lines) + 1)) == [line.cells[0] for line in lines]


def test_every_sort_of_row_is_there(everything):
    """What stands, each candidate, what was not assessed with what to look for, what was attested absent."""
    lines = [dict(zip(COLUMNS, line.cells, strict=True)) for line in rows(everything)]

    assert {"Latrine", "candidate A", "candidate B", "new placenta pit"} <= {line["place"] for line in lines}
    unlooked = [line for line in lines if line["result"] == "not assessed" and "kitchen" in line["requirement"]]
    assert unlooked
    assert {"look for kitchen within 12 m"} == {line["action"] for line in unlooked}
    (absent, *_) = (line for line in lines if line["feature"] == "none recorded")
    assert "asked at every house" in absent["because"]
    assert "60 m" in absent["because"]


def test_csv_holds_the_rows(checked):
    """A byte-order mark for spreadsheets, the heading, then each row in order; blanks are blank."""
    data = as_csv(checked)
    lines = csv_rows(data)

    assert data.startswith(b"\xef\xbb\xbf")
    assert list(COLUMNS) == lines[0]
    assert len(rows(checked)) == len(lines) - 1
    for expected, line in zip(rows(checked), lines[1:], strict=True):
        assert ["" if cell is None else str(cell) for cell in expected.cells] == line


@pytest.mark.parametrize("column", NUMERIC)
def test_numbers_stay_numbers(column, checked):
    """Negative ones too: no apostrophe before them in CSV, and number cells in XLSX."""
    at = COLUMNS.index(column)
    expected = [row.cells[at] for row in rows(checked) if row.cells[at] is not None]

    in_csv = [float(line[at]) for line in csv_rows(as_csv(checked))[1:] if line[at] != ""]
    in_xlsx = [row[at] for row in body(as_xlsx(checked))[1] if row[at] != ""]

    assert expected == in_csv
    assert expected == in_xlsx
    assert {float} == {type(value) for value in in_xlsx}


def test_the_margin_of_what_fails_is_a_negative_number(checked):
    """20 m where 30 m are demanded: 20.00 and -10.00, worked out by hand, within the centimetre cut off."""
    (line,) = (row for row in csv_rows(as_csv(checked)) if row[2].startswith("latrine-to-well"))

    assert 20.0 == pytest.approx(float(line[COLUMNS.index("measured")]), abs=CENTIMETRE_M)
    assert -10.0 == pytest.approx(float(line[COLUMNS.index("margin")]), abs=CENTIMETRE_M)
    assert "fails" == line[COLUMNS.index("result")]


def test_text_in_csv_never_begins_like_a_formula(checked):
    """A name that begins with = + - @, a tab or a return is marked with an apostrophe, and nothing is lost of it."""
    lines = csv_rows(as_csv(hostile(checked)))[1:]

    for name, line in zip(FORMULAS, lines, strict=False):
        marked = name if name.startswith("https") else "'" + name
        assert marked == line[COLUMNS.index("place")] == line[COLUMNS.index("feature")]
        assert marked == line[COLUMNS.index("because")] == line[COLUMNS.index("action")]
    for cell in (cell for line in lines for cell in line):
        if cell.startswith(("=", "+", "-", "@", "\t", "\r")):
            float(cell)


def test_text_in_xlsx_is_text(checked):
    """The same names arrive unchanged as text; the file holds no formula and no link."""
    data = as_xlsx(hostile(checked))

    names = [row[COLUMNS.index("feature")] for row in body(data)[1]]
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        parts = {name: book.read(name) for name in book.namelist() if name.endswith((".xml", ".rels"))}
    assert [name.replace("\r", "\n") for name in FORMULAS] == [
        name.replace("_x000D_", "\n").replace("\r", "\n") for name in names[: len(FORMULAS)]
    ]
    assert [] == [name for name, part in parts.items() if b"<f>" in part or b"<hyperlink" in part]
    assert not any(b"example.org" in part for name, part in parts.items() if name.endswith(".rels"))


def test_the_workbook_holds_the_rows_of_the_csv(everything):
    """Heading and rows are the same in both, and the head block says what the table is about."""
    heading, held = body(as_xlsx(everything))
    cells = sheet(as_xlsx(everything))

    assert list(COLUMNS) == heading
    assert len(rows(everything)) == len(held)
    for expected, row in zip(rows(everything), held, strict=True):
        assert ["" if cell is None else cell for cell in expected.cells] == row
    labels = {row[1]: row[2] for row in cells[: len(head(everything))]}
    assert dict(head(everything)) == labels
    assert {"facility", "result", "rules", "surveyed", "confidence"} <= set(labels)


def test_a_confidence_is_not_rounded_to_certainty(checked):
    """99.9 % is printed as it was asked for."""
    asked = replace(checked, site=replace(checked.site, confidence=0.999))

    assert dict(head(asked))["confidence"].startswith("99.9% that a limit is kept")
    assert dict(head(checked))["confidence"].startswith("95% that a limit is kept")


def test_every_caution_and_a_line_to_sign_stand_at_the_foot(checked):
    """The foot carries what no number can say."""
    text = {cell for row in sheet(as_xlsx(checked)) for cell in row if isinstance(cell, str)}

    assert set(checked.cautions) <= text
    assert any(cell.startswith("Reviewed by") for cell in text)


def test_the_same_assessment_gives_the_same_bytes(checked):
    """No clock goes into either file."""
    assert as_csv(checked) == as_csv(checked)
    assert as_xlsx(checked) == as_xlsx(checked)
    with zipfile.ZipFile(io.BytesIO(as_xlsx(checked))) as book:
        assert {(1980, 1, 1, 0, 0, 0)} == {member.date_time for member in book.infolist()}
        assert b"2000-01-01T00:00:00Z" in book.read("docProps/core.xml")


values = st.floats(-1e4, 1e4)


@given(value=values, margin=values)
def test_rounding_never_flatters(checked, value, margin):
    """A least distance is cut down, a greatest one rounded up, no margin made larger; all within a centimetre."""
    least, most = (
        replace(next(s for s in checked.separations if s.limit.relation == relation), value=value, margin=margin)
        for relation in ("at_least", "at_most")
    )
    shown = [dict(zip(COLUMNS, r.cells, strict=True)) for r in rows(replace(checked, separations=(least, most)))]

    assert value - CENTIMETRE_M <= shown[0]["measured"] <= value + HAIR_M
    assert value - HAIR_M <= shown[1]["measured"] <= value + CENTIMETRE_M
    for line in shown[:2]:
        assert margin - CENTIMETRE_M <= line["margin"] <= margin + HAIR_M
