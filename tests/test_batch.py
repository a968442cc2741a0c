"""Many sites: a row each whatever is wrong, worst first, resumable, the same bytes whoever ran them."""

import json
import os
import signal
import time
from contextlib import closing

import pytest
import yards

from siting.batch import COLUMNS, GAP_M, REFUSED, counted, ranked
from siting.engine import run_here
from siting.errors import InputError, OutputError
from siting.io.sites import Entry, entries, sha256_of
from siting.job import Job
from siting.outputs.batch import LOG, Log, as_csv, write
from siting.runs import run_batch
from siting.uncertainty import Verdict

WORKERS = 2


def folder_of_sites(top):
    """Two districts with a meeting, a failing, an unlooked and an unreadable site, and a file that is one by itself."""
    yards.meeting(top / "North/a")
    yards.failing(top / "North/b")
    yards.unlooked(top / "South/c")
    bad = yards.meeting(top / "South/d")
    (bad / "plan.geojson").write_text("{")
    for path in bad.iterdir():
        if path.suffix == ".geojson":
            path.write_text("{")
    return top


@pytest.fixture(scope="module")
def sites(tmp_path_factory):
    """A folder of four sites in two districts."""
    return folder_of_sites(tmp_path_factory.mktemp("sites"))


@pytest.fixture(scope="module")
def ran(sites, tmp_path_factory):
    """One batch of them, with the map of the failing one."""
    out = tmp_path_factory.mktemp("out")
    job = Job(maps="failing", maps_folder=str(out / "sites"))
    results, _ = run_batch(sites, job, folder=out, workers=WORKERS)
    return out, results


def rows_of(out):
    """Rows of results.jsonl by path."""
    return {row["path"]: row for row in map(json.loads, (out / LOG).read_text("utf-8").splitlines())}


# --- which sites ---------------------------------------------------------------------------------------------------


def test_folders_with_a_site_file_and_lone_files_are_sites(sites):
    """In alphabetical order, with the first folder as district; files inside a site are not sites of their own."""
    (sites / "South/e.csv").write_text("lat,lon,kind\n-13.1,34.1,well\n")
    try:
        found = entries(sites)
    finally:
        (sites / "South/e.csv").unlink()

    assert ["North/a", "North/b", "South/c", "South/d", "South/e.csv"] == [entry.shown for entry in found]
    assert ["North", "North", "South", "South", "South"] == [entry.district for entry in found]


def test_a_list_of_paths_may_tell_the_district(sites, tmp_path):
    """A line a path, or columns; paths as seen from the list."""
    listed = sites / "list.csv"
    listed.write_text("path,district\nSouth/c,Far\nNorth/a,Near\n")
    try:
        found = entries(listed)
    finally:
        listed.unlink()

    assert [("North/a", "Near"), ("South/c", "Far")] == [(entry.shown, entry.district) for entry in found]


def test_every_path_that_is_not_there_is_told(tmp_path):
    """All at once, with their lines."""
    (tmp_path / "list.txt").write_text("one\ntwo\n")

    with pytest.raises(InputError) as refused:
        entries(tmp_path / "list.txt")

    assert [1, 2] == [fault.row for fault in refused.value.faults]


def test_a_folder_without_sites_is_refused(tmp_path):
    """And says what a site is."""
    with pytest.raises(InputError, match="no sites"):
        entries(tmp_path)


def test_a_checksum_changes_with_any_byte_and_any_name(sites, tmp_path):
    """And with nothing else."""
    site = yards.meeting(tmp_path / "x")
    before = sha256_of(site)
    os.utime(site / "site.toml", (0, 0))
    assert before == sha256_of(site)

    (site / "site.toml").write_text((site / "site.toml").read_text() + "\n")
    assert before != sha256_of(site)


# --- rows ----------------------------------------------------------------------------------------------------------


def test_every_site_has_its_row_and_a_bad_one_its_reason(ran):
    """Nothing stops at a site that cannot be read."""
    rows = rows_of(ran[0])

    assert ["meets", "fails", "not assessed", REFUSED] == [row["verdict"] for _, row in sorted(rows.items())]
    assert "not JSON" in rows["South/d"]["reason"] and "needed:" in rows["South/d"]["reason"]
    assert rows["North/b"]["worst_margin_m"] < 0
    assert set(COLUMNS) | {"settings"} == set(rows["North/a"])


def test_totals_by_district_with_the_share_of_suspect_data(ran):
    """The refused site counts as suspect."""
    results = json.loads((ran[0] / "results.json").read_text("utf-8"))
    south = next(row for row in results["by_district"] if row["district"] == "South")

    assert (4, 1, 1) == (results["totals"]["sites"], results["totals"]["fails"], results["totals"][REFUSED])
    assert (2, 1, 0.5) == (south["sites"], south["suspect"], south["suspect_share"])


def test_the_summary_is_worst_first_in_every_format(ran):
    """CSV, XLSX and GeoParquet hold the same rows in the same order."""
    import csv

    import geopandas
    from python_calamine import CalamineWorkbook

    out, _ = ran
    texts = list(csv.DictReader((out / "summary.csv").read_text("utf-8-sig").splitlines()))
    book = CalamineWorkbook.from_path(out / "summary.xlsx").get_sheet_by_index(0).to_python()
    frame = geopandas.read_parquet(out / "summary.parquet")

    assert ["North/b", "South/c", "South/d", "North/a"] == [row["path"] for row in texts]
    assert [row["path"] for row in texts] == [row[1] for row in book[1:]] == frame["path"].tolist()
    assert "EPSG:4326" == frame.crs.to_string() or "OGC:CRS84" == frame.crs.to_string()
    assert "Point" == frame.geometry.iloc[0].geom_type


def test_only_failing_sites_get_a_map_of_their_own(ran):
    """With --maps failing."""
    made = sorted(path.parent.name[:7] for path in (ran[0] / "sites").rglob("map.html"))

    assert ["North-b"] == made


def test_one_overview_of_all(ran):
    """Every site is on the page, and nothing is fetched."""
    page = (ran[0] / "map.html").read_text("utf-8")

    assert 'src="http' not in page
    assert page.count("Yard") >= 3
    assert "local code" in page


def test_ten_thousand_sites_on_one_page_stay_small():
    """Under 4 MB, so that a phone opens it."""
    from siting.outputs.batch import overview

    rows = [
        made_up(f"d{n % 40}/s{n}", Verdict.FAILS, lon=30 + n % 100 / 10, lat=-10 - n // 100 / 10) for n in range(10_000)
    ]

    assert len(overview("A country", rows, counted(rows)).encode()) < 4_000_000


def made_up(path, verdict, **more):
    """A row."""
    row = {"site": path, "path": path, "district": path.split("/")[0], "verdict": str(verdict), "suspect": False,
           "reason": "a reason of ordinary length for the list", "doubts": "", "sha256": "0" * 64, **more}  # fmt: skip
    return {name: row.get(name) for name in COLUMNS}


def test_worst_first():
    """Fails before too close before not assessed before refused before meets; the larger shortfall first."""
    rows = [
        made_up("a/1", Verdict.MEETS),
        made_up("a/2", REFUSED),
        made_up("a/3", Verdict.FAILS, worst_margin_m=-1.0),
        made_up("a/4", Verdict.FAILS, worst_margin_m=2.0, shortfall_m=9.0),
        made_up("a/5", Verdict.NOT_ASSESSED),
        made_up("a/6", Verdict.TOO_CLOSE),
    ]

    assert ["a/4", "a/3", "a/6", "a/5", "a/2", "a/1"] == [row["path"] for row in ranked(rows)]


def test_a_text_that_looks_like_a_formula_is_no_formula():
    """An apostrophe before it; numbers stay numbers."""
    text = as_csv([made_up("a/1", Verdict.FAILS, reason="=HYPERLINK(1)", worst_margin_m=-4.5)]).decode("utf-8-sig")

    assert ",'=HYPERLINK(1)," in text
    assert ",-4.5," in text


@pytest.mark.parametrize("reserve", [False, True])
@pytest.mark.parametrize("name", ["meeting", "cramped"])
def test_a_row_says_of_the_best_place_what_find_says(tmp_path, name, reserve):
    """Margin within the gap of the proof, verdict and area; with a successor to fit, the whole search is made."""
    site = getattr(yards, name)(tmp_path / "a")
    wanted = '\n[[place]]\nkind = "placenta pit"\n' + ("keep_reserve = true\n" if reserve else "")
    (site / "site.toml").write_text((site / "site.toml").read_text() + wanted)
    job = Job()

    row = job(Entry(path=str(site), shown="a"))
    finding = job.assessed(*job.examined(site)).finding

    assert bool(finding.placed) == row["place"]
    best = finding.placed[0].candidate.margin_m if finding.placed else -finding.conflict.shortfall_m
    assert best - GAP_M - 0.002 <= row["best_margin_m"] <= best + GAP_M
    assert row["best_margin_m"] <= row["bound_m"]
    assert 0.9 * finding.ground.nominal.area - 1.0 <= row["ground_m2"] <= finding.ground.nominal.area + 1.0
    assert (row["verdict"] == "fails") == (not finding.placed)


# --- going on ------------------------------------------------------------------------------------------------------


def test_a_finished_site_is_not_done_again(sites, tmp_path, monkeypatch):
    """Under the same rules and unchanged; a changed one is, and so are all under other rules."""
    out, states = tmp_path / "out", []
    run_batch(sites, Job(), folder=out, workers=1)
    first = {path.name: path.read_bytes() for path in out.iterdir()}

    run_batch(sites, Job(), folder=out, workers=1, progress=states.append)
    assert [] == [state for state in states if state.done > state.kept and state.kept < 3]
    assert first == {path.name: path.read_bytes() for path in out.iterdir()}

    states.clear()
    run_batch(sites, Job(packs=("ground",)), folder=out, workers=1, progress=states.append)
    assert [0] * 4 == [state.kept for state in states]


def test_a_changed_site_is_done_again(tmp_path):
    """Its checksum tells."""
    top = tmp_path / "sites"
    yards.meeting(top / "a")
    yards.meeting(top / "b")
    run_batch(top, Job(), folder=tmp_path / "out", workers=1)
    yards.failing(top / "b")
    states = []

    run_batch(top, Job(), folder=tmp_path / "out", workers=1, progress=states.append)

    assert [(1, 2)] == [(state.kept, state.done) for state in states]
    assert "fails" == rows_of(tmp_path / "out")["b"]["verdict"]


def test_a_line_torn_by_a_killed_run_is_cut_off(tmp_path):
    """The rows before it are kept, the next one starts a line of its own."""
    log = Log(tmp_path, "s")
    log.add(made_up("a/1", Verdict.MEETS))
    log.close()
    with (tmp_path / LOG).open("ab") as file:
        file.write(b'{"site": "half')

    log = Log(tmp_path, "s")
    log.add(made_up("a/2", Verdict.MEETS))
    found = log.finished()
    log.close()

    assert ["a/1", "a/2"] == list(found)
    with closing(Log(tmp_path, "other")) as other:
        assert {} == other.finished()


def test_a_full_disk_is_said_in_three_parts(tmp_path, monkeypatch):
    """And what is done is kept."""
    log = Log(tmp_path, "s")

    class Full:
        def write(self, data):
            """No room."""
            raise OSError(28, "No space left on device")

    log.close()
    monkeypatch.setattr(log, "_file", Full())
    with pytest.raises(OutputError, match="No space left"):
        log.add(made_up("a/1", Verdict.MEETS))


def test_the_same_rows_give_the_same_bytes_in_any_order(tmp_path):
    """Whoever finished first."""
    rows = [made_up(f"d/{n}", Verdict.FAILS, worst_margin_m=-float(n % 5), lon=30.0, lat=-10.0) for n in range(12)]
    written = []
    for name, order in (("one", rows), ("two", rows[::-1])):
        write(tmp_path / name, order, settings="s", title="t", packs=[], with_map=True)
        written.append({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()})

    assert written[0] == written[1]


# --- workers that die ----------------------------------------------------------------------------------------------


class Deadly:
    """A job whose worker is killed on some sites: each time, or only the first time."""

    def __init__(self, always, once, folder):
        self.always, self.once, self.folder = always, once, folder

    def __call__(self, entry):
        """Kill the own process, or give a row."""
        mark = os.path.join(self.folder, entry.shown)
        if entry.shown in self.always or (entry.shown in self.once and not os.path.exists(mark)):
            with open(mark, "w"):
                pass
            os.kill(os.getpid(), signal.SIGKILL)
        return made_up(f"x/{entry.shown}", Verdict.MEETS)


def test_a_killed_worker_loses_nothing(tmp_path):
    """Sites that were in hand are run again; one that kills its worker twice is a row that says so."""
    told = [Entry(path=str(n), shown=str(n)) for n in range(24)]

    rows = list(run_here(Deadly({"7"}, {"13"}, str(tmp_path)), told, workers=WORKERS))

    assert sorted(["7", *(f"x/{n}" for n in range(24) if n != 7)]) == sorted(str(row["path"]) for row in rows)
    assert [("7", REFUSED)] == [(row["path"], row["verdict"]) for row in rows if row["verdict"] == REFUSED]
    assert "killed twice" in next(row["reason"] for row in rows if row["path"] == "7")


def test_a_run_that_is_given_up_leaves_no_process(tmp_path):
    """Closing the rows ends the workers at once, without waiting for what they have in hand."""
    import multiprocessing

    before = time.monotonic()
    rows = run_here(quick_then_sleepy, [Entry(path=str(n), shown=str(n)) for n in range(6)], workers=WORKERS)
    next(rows)
    rows.close()

    assert time.monotonic() - before < 20
    assert [] == multiprocessing.active_children()


def quick_then_sleepy(entry):
    """The first is done at once."""
    if entry.shown != "0":
        time.sleep(30)
    return made_up("x/0", Verdict.MEETS)


def test_a_defect_is_told_in_the_row_of_its_site(sites, monkeypatch):
    """One site that makes the program fail does not stop the others, and its row names the error."""
    from siting import job

    def broken(*_, **__):
        raise ZeroDivisionError("by nought")

    monkeypatch.setattr(job, "assess", broken)
    row = Job()(Entry(path=str(sites / "North/a"), shown="North/a"))

    assert (REFUSED, True) == (row["verdict"], "ZeroDivisionError" in str(row["reason"]))
