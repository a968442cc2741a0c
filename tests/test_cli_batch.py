"""`siting batch`: status, progress, going on after an interrupt or a killed run, and the same bytes in the end."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest
import yards
from test_batch import folder_of_sites

from siting.cli import main
from siting.outputs.batch_text import state

SUMMARIES = ["map.html", "results.json", "results.jsonl", "summary.csv", "summary.parquet", "summary.xlsx"]


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """Run `siting batch` as a shell would; gives status and both streams."""
    monkeypatch.chdir(tmp_path)

    def batch(*arguments):
        monkeypatch.setattr(sys, "argv", ["siting", "batch", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return batch


def test_a_batch_from_the_command_line(run, tmp_path):
    """Status 1 as something fails; totals on the screen, by district; every file written is named."""
    folder_of_sites(tmp_path / "sites")

    status, out, err = run("sites", "--out", "out", "--workers", "1")

    assert (1, "") == (status, err)
    assert out.startswith("4 sites: 1 fails, 1 not assessed, 1 refused, 1 meets; suspect data")
    assert "  North: 2 sites: 1 fails, 1 meets; suspect data 0.0 %" in out
    assert SUMMARIES == sorted(path.name for path in (tmp_path / "out").iterdir())
    assert "local code and licensed practice decide" in out


def test_status_of_a_batch(run, tmp_path):
    """0 where all meet; 3 where a site was refused and none fails."""
    yards.meeting(tmp_path / "sites/a")
    assert 0 == run("sites", "--out", "one", "-q", "--workers", "1")[0]

    (tmp_path / "sites/b.csv").write_text("no,table\n1,2\n")
    assert 3 == run("sites", "--out", "two", "-q", "--workers", "1")[0]


def test_finding_a_place_in_every_site(run, tmp_path):
    """--for adds what is wanted and its best place; --check-only leaves it out."""
    yards.meeting(tmp_path / "sites/a")
    run("sites", "--out", "one", "--for", "placenta pit", "--workers", "1")
    run("sites", "--out", "two", "--check-only", "--workers", "1")

    one, two = (json.loads((tmp_path / name / "results.jsonl").read_text()) for name in ("one", "two"))
    assert ("placenta pit", True) == (one["wanted"], one["place"])
    assert one["best_margin_m"] <= one["bound_m"]
    assert (None, None) == (two["wanted"], two["place"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("nowhere",), "there is no file or folder"),
        (("sites", "--for", "castle"), "not a kind that can be placed"),
        (("sites", "--rules", "no-such-pack"), "unknown pack"),
    ],
)
def test_a_wrong_command_is_told_in_three_parts(run, tmp_path, arguments, said):
    """Status 2, and nothing is written."""
    yards.meeting(tmp_path / "sites/a")

    status, out, err = run(*arguments, "--out", "out")

    assert (2, "") == (status, out)
    assert said in err and "needed:" in err and "do next:" in err
    assert not (tmp_path / "out").exists()


def test_what_somebody_else_wrote_is_not_replaced(run, tmp_path):
    """A summary without the log of a batch beside it is somebody else's."""
    yards.meeting(tmp_path / "sites/a")
    (tmp_path / "out").mkdir()
    (tmp_path / "out/summary.csv").write_text("mine")

    assert 2 == run("sites", "--out", "out")[0]
    assert "mine" == (tmp_path / "out/summary.csv").read_text()


def test_time_left_is_told_in_words():
    """Seconds, minutes, hours."""
    told = [state(1, 2, per_second=1.0, seconds_left=s, refused=0) for s in (5.2, 600.0, 9_000.0)]

    assert ["6 s left", "10 min left", "2 h 30 min left"] == [text.rpartition(", ")[2] for text in told]


def many(top, count):
    """Sites enough to be interrupted."""
    for number in range(count):
        yards.meeting(top / f"s{number:03}")
    return top


def start(tmp_path, out):
    """The command as a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "siting", "batch", "sites", "--out", out, "--workers", "2", "--no-map", "-q"],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip


def lines(path):
    """Whole lines written so far."""
    return path.read_bytes().count(b"\n") if path.exists() else 0


@pytest.mark.slow
@pytest.mark.parametrize("how", ["interrupt", "kill"])
def test_a_stopped_run_goes_on_where_it_was(tmp_path, how):
    """Ctrl-C ends it with status 130 and a sentence, SIGKILL without one; either way what is done is kept.

    The second run ends in the same bytes as one that was never stopped.
    """
    many(tmp_path / "sites", 120)
    whole = start(tmp_path, "whole")
    whole.communicate(timeout=120)
    stopped = start(tmp_path, "stopped")
    log = tmp_path / "stopped/results.jsonl"
    deadline = time.monotonic() + 60
    while lines(log) < 5 and time.monotonic() < deadline:
        time.sleep(0.01)
    if how == "interrupt":
        os.killpg(stopped.pid, signal.SIGINT)
    else:
        os.kill(stopped.pid, signal.SIGKILL)
    _, err = stopped.communicate(timeout=60)
    done = lines(log)

    assert 5 <= done < 120
    assert (130 if how == "interrupt" else -signal.SIGKILL) == stopped.returncode
    assert how == "kill" or "the same command goes on from there" in err
    assert "Traceback" not in err
    assert not (tmp_path / "stopped/summary.csv").exists()

    again = start(tmp_path, "stopped")
    again.communicate(timeout=120)
    assert 0 == again.returncode == whole.returncode
    assert {path.name: path.read_bytes() for path in (tmp_path / "whole").iterdir()} == {
        path.name: path.read_bytes() for path in (tmp_path / "stopped").iterdir()
    }
