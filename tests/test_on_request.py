"""Plan, report and exchange files are written where they are asked for, with the rest or not at all."""

import re
import sys

import pytest
import yards
from click.testing import CliRunner

from siting.cli import group, main
from siting.cli.options import EXPORTS
from siting.outputs import typeset
from siting.outputs.exchange import FORMATS
from siting.outputs.on_request import SVG

pytest.importorskip("typst", reason="the extra [pdf]")


@pytest.fixture
def siting(monkeypatch, capsys, tmp_path):
    """Run the command as a shell would, in a folder of its own; status, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["siting", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return run


def names(folder):
    """Files of a folder."""
    return {path.name for path in folder.iterdir()}


def test_find_writes_all_that_is_asked_for(siting, tmp_path):
    """Plan, report and two formats beside the usual files, each of them told."""
    site = yards.meeting(tmp_path / "yard")

    status, out, err = siting(
        "find", site, "--for", "placenta pit", "--no-map", "--out", "out", "--plan", "--report", "--export", "gpx",
        "--export", "geojson",
    )  # fmt: skip

    assert status in (0, 3), err
    wanted = {"plan.svg", "plan.pdf", "report.pdf", "site.gpx", "places.gpx", "site.geojson", "places.geojson"}
    assert wanted | {"results.json", "compliance.csv", "compliance.xlsx"} == names(tmp_path / "out")
    for name in wanted:
        assert re.search(rf"^wrote out.{re.escape(name)}$", out, re.M), name
    assert (tmp_path / "out/plan.pdf").read_bytes().startswith(b"%PDF-")


def test_check_writes_them_too(siting, tmp_path):
    """What stands has a plan, and no places."""
    site = yards.meeting(tmp_path / "yard")

    siting("check", site, "--no-map", "--out", "out", "--export", "svg", "--export", "csv")

    assert {"plan.svg", "site.csv"} <= names(tmp_path / "out")
    assert set() == {"plan.pdf", "report.pdf", "places.csv"} & names(tmp_path / "out")


def test_arrange_offers_them():
    """The options stand in the help of all three commands."""
    for command in ("find", "check", "arrange"):
        said = CliRunner().invoke(group, [command, "--help"]).output
        for option in ("--plan", "--report", "--export FORMAT"):
            assert option in said, command


def test_the_formats_offered_are_those_that_can_be_written():
    """The command line names them without loading the writers."""
    assert (*FORMATS, SVG) == EXPORTS


def test_nothing_is_written_where_the_library_is_missing(siting, tmp_path, monkeypatch):
    """Three parts on standard error before any work, and no file."""
    monkeypatch.setattr(typeset, "find_spec", lambda name: None)
    site = yards.meeting(tmp_path / "yard")

    status, out, err = siting("check", site, "--no-map", "--out", "out", "--plan")

    assert (2, "") == (status, out)
    assert re.fullmatch(r"siting: plan\.pdf .+\n  needed: .+\[pdf\]\n  do next: .+--export svg.+\n", err), err
    assert not (tmp_path / "out").exists()


def test_files_that_stand_in_the_way_are_kept(siting, tmp_path):
    """An old plan is not replaced, and nothing else is written then."""
    site = yards.meeting(tmp_path / "yard")
    (tmp_path / "out").mkdir()
    (tmp_path / "out/plan.svg").write_text("old", "utf-8")

    status, _, err = siting("check", site, "--no-map", "--out", "out", "--export", "svg")

    assert 2 == status
    assert "plan.svg" in err
    assert {"plan.svg"} == names(tmp_path / "out")
    assert "old" == (tmp_path / "out/plan.svg").read_text("utf-8")


def test_results_on_standard_output_have_nowhere_to_put_files(siting, tmp_path):
    """--json alone writes no files; asking for them needs a folder."""
    site = yards.meeting(tmp_path / "yard")

    status, out, err = siting("check", site, "--json", "--report")

    assert (2, "") == (status, out)
    assert "--out FOLDER" in err
