"""`siting arrange`: status, files, numbers on the screen and in the results, and what it refuses."""

import json
import re
import sys

import pytest
import yards

from siting.cli import main

TWO = (
    '[[place]]\nkind = "placenta pit"\npit_depth_m = 2\nserve_from = "Ward"\nenclosure_m = [4, 3]\n'
    '[[place]]\nkind = "pit latrine"\npit_depth_m = 2\nserve_from = "Ward"\nenclosure_m = [4, 3]\n'
)
APART = """
[[rule]]
id = "latrine-to-pit"
for = ["pit latrine"]
from = ["placenta pit"]
measure = "distance"
at_least_m = %g
outline = "pit"
strength = "must"
cite = { document = "code", clause = "3", says = "so far from one another" }
"""


@pytest.fixture
def siting(monkeypatch, capsys, tmp_path):
    """Run the command as a shell would, in a folder of its own."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["siting", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return run


def _yard(tmp_path, *, apart_m=8.0, places=TWO):
    folder = yards.write(tmp_path / "yard", yards.fence(), yards.well(), yards.ward())
    with (folder / "yard-code.toml").open("a") as file:
        file.write(APART % apart_m)
    with (folder / "site.toml").open("a") as file:
        file.write(places)
    return folder


def _arranged(run, folder, *more):
    status, out, err = run("arrange", folder, "--json", *more)
    assert "" == err
    return status, json.loads(out)


def test_two_are_placed_and_everything_is_met(siting, tmp_path):
    """Status 0, their places with margin and walk, and rows for both in the check."""
    status, told = _arranged(siting, _yard(tmp_path))
    arrangement = told["arrangement"]

    assert 0 == status
    assert "meets" == told["verdict"]
    assert ["new placenta pit", "new pit latrine"] == [s["name"] for s in arrangement["stands"]]
    assert 0.0 < arrangement["margin_m"] <= arrangement["bound_m"]
    assert arrangement["proved"]
    assert arrangement["step_m"] > 0.0
    assert arrangement["walk_m"] == pytest.approx(sum(s["walk_m"] for s in arrangement["stands"]), abs=0.01)
    rows = {(r["installation"], r["rule"]) for r in told["separations"]}
    assert ("new pit latrine", "latrine-to-pit") in rows


def test_the_screen_says_margin_walk_and_grid(siting, tmp_path):
    """One line for the whole, one for each, with coordinates; the files are named."""
    status, out, err = siting("arrange", _yard(tmp_path), "--out", tmp_path / "out", "--no-map")

    assert (0, "") == (status, err)
    assert re.search(r"arranged: smallest margin \d+\.\d\d m, walks \d+\.\d\d m in all \(grid step \d+\.\d m\)", out)
    assert re.search(r"new placenta pit: -?\d+\.\d{6}, \d+\.\d{6}  margin \d+\.\d\d m, walk \d+ m", out)
    assert {"compliance.csv", "compliance.xlsx", "results.json"} == {p.name for p in (tmp_path / "out").iterdir()}


def test_a_margin_to_keep_makes_the_walks_shorter(siting, tmp_path):
    """With --keep 1 the walk decides beyond a metre; both are told."""
    folder = _yard(tmp_path)
    (_, far), (_, near) = _arranged(siting, folder), _arranged(siting, folder, "--keep", "1")

    assert near["arrangement"]["walk_m"] < far["arrangement"]["walk_m"]
    assert 1.0 <= near["arrangement"]["margin_m"] < far["arrangement"]["margin_m"]


def test_a_wider_strip_is_kept(siting, tmp_path):
    """--strip moves enclosures apart where nothing else does."""
    from shapely.geometry import shape

    folder = _yard(tmp_path, apart_m=1.0)
    _, told = _arranged(siting, folder, "--strip", "30", "--keep", "0")
    one, two = (yards.CENTRE.geometry_to_local(shape(s["enclosure"])) for s in told["arrangement"]["stands"])

    assert one.distance(two) >= 30.0 - 0.02


def test_two_that_cannot_stand_together_are_told(siting, tmp_path):
    """500 m apart inside a yard of 100 m: status 1, no places, both named, and not a word more than the grid shows."""
    status, out, err = siting("arrange", _yard(tmp_path, apart_m=500.0), "--out", tmp_path / "out", "--no-map")

    assert (1, "") == (status, err)
    assert re.search(r"no arrangement on the grid \(grid step .*cannot stand together: new .*, new ", out)
    told = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))
    assert [] == told["arrangement"]["stands"]
    assert {"new placenta pit", "new pit latrine"} == set(told["arrangement"]["conflict"])
    assert told["arrangement"]["bound_m"] < 0.0


def test_reserves_stand_on_the_plan(siting, tmp_path):
    """keep_reserve of a [[place]] is a third place."""
    folder = _yard(tmp_path, places=TWO.replace('"placenta pit"\n', '"placenta pit"\nkeep_reserve = true\n'))
    _, told = _arranged(siting, folder)

    assert ["new placenta pit", "reserve of new placenta pit", "new pit latrine"] == [
        s["name"] for s in told["arrangement"]["stands"]
    ]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [(("--keep", "-1"), "--keep"), (("--strip", "nan"), "--strip"), (("--keep", "wide"), "--keep")],
)
def test_lengths_are_lengths(siting, tmp_path, arguments, said):
    """Negative, not a number, not a number at all: status 2, and the option is named."""
    status, out, err = siting("arrange", _yard(tmp_path), *arguments)

    assert (2, "") == (status, out)
    assert said in err


def test_nothing_wanted_is_told(siting, tmp_path):
    """Three parts and how to say what is wanted."""
    status, out, err = siting("arrange", _yard(tmp_path, places=""))

    assert (2, "") == (status, out)
    assert re.fullmatch(r"siting: .*nothing is wanted\n  needed: .+\n  do next: .*\[\[place\]\].*\n", err)


def test_files_in_the_way_are_not_replaced(siting, tmp_path):
    """Twice into one folder: the second time only with --overwrite, and then with the same bytes."""
    folder, out = _yard(tmp_path), tmp_path / "out"
    common = ("arrange", folder, "--out", out, "--no-map", "-q")
    first = siting(*common)
    before = {p.name: p.read_bytes() for p in out.iterdir()}

    assert (0, "", "") == first
    assert 2 == siting(*common)[0]
    assert 0 == siting(*common, "--overwrite")[0]
    assert before == {p.name: p.read_bytes() for p in out.iterdir()}


def test_the_example_of_the_help_works_on_the_larger_sample(siting, monkeypatch):
    """Kessa Hill with --keep 2: the pit and its reserve are placed and the walk is the shorter for it."""
    from pathlib import Path

    sample = Path(__file__).parents[1] / "sample_sites" / "kessa-hill"
    _, told = _arranged(siting, sample, "--keep", "2")
    _, wide = _arranged(siting, sample)

    assert 2 == len(told["arrangement"]["stands"])
    assert 2.0 <= told["arrangement"]["margin_m"]
    assert told["arrangement"]["walk_m"] < wide["arrangement"]["walk_m"]
