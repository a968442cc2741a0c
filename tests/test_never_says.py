"""Nothing this program prints calls a place or a pit safe, approved or certified."""

import ast
import io
import re
import sys
import tomllib
from pathlib import Path

import pytest
import yards

import siting
from siting.cli import main

PACKAGE = Path(siting.__file__).parent
WORDS = re.compile(r"\b(safe|safely|approved|certified)\b", re.IGNORECASE)


def said(text):
    """The forbidden words of a text with their surroundings."""
    return [text[max(0, hit.start() - 30) : hit.end() + 30] for hit in WORDS.finditer(text)]


def test_the_words_are_found_where_they_stand():
    """The search itself: in any case, whole words only."""
    assert 1 == len(said("The place is SAFE."))
    assert 2 == len(said("approved container, certified place"))
    assert [] == said("unsafe ground, safety distance, approval")


def strings(path):
    """Every text of a module that could be shown: its constants but for docstrings."""
    tree = ast.parse(path.read_text("utf-8"))
    for node in ast.walk(tree):
        body = getattr(node, "body", [])
        for child in body if isinstance(body, list) else []:
            if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
                child.value.value = ""
    return [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)]


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_text_of_the_package_says_it(path):
    """The texts in the code."""
    assert [] == [hit for text in strings(path) for hit in said(text)]


def texts(value):
    """Every text within a TOML document."""
    if isinstance(value, dict):
        return [text for inner in value.values() for text in texts(inner)]
    if isinstance(value, list):
        return [text for inner in value for text in texts(inner)]
    return [value] if isinstance(value, str) else []


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.toml")), ids=lambda p: p.name)
def test_no_text_of_a_pack_says_it(path):
    """Packs, the vocabulary and the templates: a document's own words are its citation, not a verdict."""
    assert [] == [hit for text in texts(tomllib.loads(path.read_text("utf-8"))) for hit in said(text)]


OWN_PAGES = [
    path
    for path in sorted(PACKAGE.rglob("*"))
    if path.suffix in (".js", ".css", ".html", ".jinja", ".j2", ".csv", ".typ") and "leaflet" not in path.parts
]


@pytest.mark.parametrize("path", OWN_PAGES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_page_says_it(path):
    """What the map and the reports are made of; a CSS keyword such as `safe-area` is no sentence."""
    text = path.read_text("utf-8").replace("|safe", "").replace("| safe", "").replace("safe-area", "")

    assert [] == said(text)


@pytest.fixture(scope="module")
def outputs(tmp_path_factory):
    """Everything that checks and searches of every yard print and write, as one text each."""
    folder = tmp_path_factory.mktemp("never")
    runs = [
        *(("check", name) for name in ("meeting", "failing", "close", "unlooked")),
        *(("find", name, "--for", "placenta pit") for name in ("meeting", "cramped")),
        ("find", "meeting", "--for", "pit latrine", "--rules", "health-care-waste"),
    ]
    made = {}
    for number, (command, name, *more) in enumerate(runs):
        site, out = getattr(yards, name)(folder / f"site{number}"), folder / f"out{number}"
        printed = run(command, str(site), "--no-map", "-v", "--out", str(out), *more)
        written = {path.name: path.read_bytes() for path in out.iterdir()}
        made[f"{command} {name} {' '.join(more)}"] = "\n".join(
            [printed, written["results.json"].decode(), written["compliance.csv"].decode("utf-8-sig"), book(written)]
        )
    return made


def run(*arguments):
    """What a command prints on both streams."""
    out, err, argv = io.StringIO(), io.StringIO(), sys.argv
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr, sys.argv = out, err, ["siting", *arguments]
    try:
        with pytest.raises(SystemExit):
            main()
    finally:
        (sys.stdout, sys.stderr), sys.argv = before, argv
    return out.getvalue() + err.getvalue()


def book(written):
    """All text of the workbook."""
    from python_calamine import CalamineWorkbook

    sheet = CalamineWorkbook.from_filelike(io.BytesIO(written["compliance.xlsx"])).get_sheet_by_index(0)
    return "\n".join(str(cell) for row in sheet.to_python() for cell in row)


def test_no_run_says_it(outputs):
    """Screen, results and tables, whatever the answer."""
    assert {} == {name: hits for name, text in outputs.items() if (hits := said(text))}


def test_every_run_leaves_the_decision_to_others(outputs):
    """Local codes and licensed practice are named on the screen and in both files."""
    for name, text in outputs.items():
        assert "local code and licensed practice decide" in text, name
        assert "local code and a licensed engineer" in text, name


def test_no_printed_pack_says_it():
    """`siting rules` and every pack in full."""
    from siting.io.packs import names

    printed = "\n".join([run("rules"), run("rules", "--kinds"), run("--help"), *(run("rules", n) for n in names())])

    assert "health-care-waste" in printed
    assert [] == said(printed)
