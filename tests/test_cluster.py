"""The same batch on a cluster: a real scheduler and two workers, byte for byte what one machine makes."""

import os
import signal
import subprocess
import sys
import time

import pytest
from test_batch import folder_of_sites, made_up

from siting.batch import REFUSED
from siting.engine import run_there
from siting.io.sites import Entry
from siting.job import Job
from siting.runs import run_batch
from siting.uncertainty import Verdict

pytest.importorskip("distributed")
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """A scheduler and two workers with nannies, each a process of its own, as on three machines."""
    folder = tmp_path_factory.mktemp("cluster")
    told = folder / "scheduler.json"
    environment = {**os.environ, "PYTHONPATH": os.path.dirname(__file__), "DASK_DISTRIBUTED__WORKER__DAEMON": "False"}

    def start(*arguments):
        return subprocess.Popen(
            [sys.executable, "-m", "distributed.cli." + arguments[0], *arguments[1:], "--scheduler-file", str(told)],
            cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip

    scheduler = start("dask_scheduler", "--port", "0", "--host", "127.0.0.1", "--no-dashboard")
    workers = [start("dask_worker", "--nthreads", "1", "--no-dashboard", "--host", "127.0.0.1") for _ in range(2)]
    from distributed import Client

    deadline = time.monotonic() + 60
    while not told.exists() and time.monotonic() < deadline:
        time.sleep(0.1)
    with Client(scheduler_file=str(told), set_as_default=False) as client:
        client.wait_for_workers(2, timeout=60)
        address = client.scheduler.address
    yield address
    for process in (*workers, scheduler):
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(timeout=30)


def files(folder):
    """Every file of a folder."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_a_cluster_gives_the_same_bytes_as_this_machine(cluster, tmp_path):
    """Rows, tables, totals and the overview."""
    sites = folder_of_sites(tmp_path / "sites")

    run_batch(sites, Job(), folder=tmp_path / "here", workers=2)
    run_batch(sites, Job(), folder=tmp_path / "there", workers=2, cluster=cluster)

    assert files(tmp_path / "here") == files(tmp_path / "there")


class Deadly:
    """A job that kills its worker on some sites, each time or only the first time."""

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


def test_a_killed_worker_loses_nothing(cluster, tmp_path):
    """The site in hand goes to the other worker; one that kills every worker becomes a row."""
    told = [Entry(path=str(n), shown=str(n)) for n in range(20)]

    rows = list(run_there(Deadly({"7"}, {"13"}, str(tmp_path)), told, address=cluster))

    assert sorted(["7", *(f"x/{n}" for n in range(20) if n != 7)]) == sorted(str(row["path"]) for row in rows)
    assert ["7"] == [row["path"] for row in rows if row["verdict"] == REFUSED]


def test_a_cluster_started_for_the_run(tmp_path):
    """`--cluster local` needs nothing running beforehand."""
    sites = folder_of_sites(tmp_path / "sites")

    results, _ = run_batch(sites, Job(find=False), folder=tmp_path / "out", workers=2, cluster="local")

    assert 4 == results["totals"]["sites"]
