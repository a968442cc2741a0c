"""`siting setout`: the same search as `find`, one of its places, and everything to peg it out."""

import csv
import io
import json

import pytest
import yards
from click.testing import CliRunner

from siting.cli import group
from siting.errors import InputError, OutputError

FILES = ("setout-checks.csv", "setout.csv", "setout.dxf", "setout.gpx", "setout.pdf", "setout.svg")


def setout(site, *more):
    """A run of the command; errors of this package come through."""
    result = CliRunner().invoke(group, ["setout", str(site), "--for", "placenta pit", *map(str, more)])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def table(path):
    """Rows of a CSV by heading."""
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


def test_a_place_that_meets_is_set_out_whole(tmp_path):
    """Status 0, every file, the accuracy in words, and the decision left to others."""
    ran = setout(yards.meeting(tmp_path / "yard"), "--out", tmp_path / "out")

    assert 0 == ran.exit_code
    assert list(FILES) == sorted(path.name for path in (tmp_path / "out").iterdir())
    assert "placenta pit, place A: meets" in ran.stdout
    assert "Pegs within 0.15 m of their places" in ran.stdout
    assert "local code and licensed practice decide" in ran.stdout


def test_the_place_is_the_one_that_find_gives(tmp_path):
    """Peg P of each letter stands where `find` puts that candidate, to the last figure of both."""
    site = yards.meeting(tmp_path / "yard")
    found = json.loads(CliRunner().invoke(group, ["find", str(site), "--for", "placenta pit", "--json"]).stdout)
    letters = [place["name"] for place in found["candidates"]]

    assert len(letters) >= 2
    for place in found["candidates"][:2]:
        ran = json.loads(setout(site, "--json", "--candidate", place["name"]).stdout)
        peg = ran["setout"]["pegs"][0]
        assert "P" == peg["name"]
        assert [round(place["lon"], 8), round(place["lat"], 8)] == peg["lon_lat"]


@pytest.mark.parametrize(("name", "status"), [("meeting", 0), ("unlooked", 3), ("cramped", 1)])
def test_the_status_is_that_of_the_place(name, status, tmp_path):
    """0 meets, 3 not assessed, 1 no place; without a place nothing is written."""
    ran = setout(getattr(yards, name)(tmp_path / "yard"), "--out", tmp_path / "out", "-q")

    assert status == ran.exit_code
    assert "" == ran.stdout
    assert (status != 1) == (tmp_path / "out").exists()


def test_a_letter_that_is_not_there_is_refused(tmp_path):
    """With the letters there are."""
    with pytest.raises(InputError, match="no such place") as caught:
        setout(yards.meeting(tmp_path / "yard"), "--candidate", "Z")
    assert "A" in caught.value.faults[0].needed


@pytest.mark.parametrize("names", [["Fence, north corner"], ["Fence, north-east corner"]])
def test_stations_that_are_not_there_or_alone_are_refused(names, tmp_path):
    """With the tie points there are."""
    options = [word for name in names for word in ("--station", name)]
    with pytest.raises(InputError, match="--station") as caught:
        setout(yards.meeting(tmp_path / "yard"), *options)
    assert "Fence, north-east corner" in caught.value.faults[0].do_next


def test_stations_that_are_named_are_the_ones_used(tmp_path):
    """Both, for every peg."""
    names = ["Fence, south-west corner", "Fence, north-west corner"]
    setout(
        yards.meeting(tmp_path / "yard"), "--out", tmp_path / "out", "--station", names[0], "--station", names[1]
    )  # fmt: skip

    rows = table(tmp_path / "out/setout.csv")
    assert 13 == len(rows)
    assert {tuple(names)} == {(row["station_1"], row["station_2"]) for row in rows}


def test_files_in_the_way_are_kept_until_told_otherwise(tmp_path):
    """And with --overwrite the same bytes come again."""
    site, out = yards.meeting(tmp_path / "yard"), tmp_path / "out"
    setout(site, "--out", out, "-q")
    before = {path.name: path.read_bytes() for path in out.iterdir()}

    with pytest.raises(OutputError, match="already holds"):
        setout(site, "--out", out)
    setout(site, "--out", out, "--overwrite", "-q")

    assert before == {path.name: path.read_bytes() for path in out.iterdir()}
