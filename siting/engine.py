"""Running a job on many sites: on the cores of this machine, or on a cluster; rows come as they are done.

Only an entry (two paths and a district) goes to a worker and only a row comes back.
A worker that dies takes nothing along but the sites it had in hand: those are run again, one by one, and one that
kills its worker a second time becomes a row that says so.
"""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from importlib import import_module
from itertools import islice
from typing import Any

from siting.batch import Row, lost
from siting.io.sites import Entry

Work = Callable[[Entry], Row]
IN_HAND = 4
"Sites given out for each worker: enough that none waits, few enough that little is in flight."


def run_here(work: Work, entries: Sequence[Entry], *, workers: int) -> Iterator[Row]:
    """Rows of all entries, as they are done, from processes on this machine."""
    waiting: Iterator[Entry] = iter(entries)
    suspects: list[Entry] = []
    while True:
        broke = yield from _pool(work, waiting, workers=workers, held=suspects)
        if not broke:
            return
        # One of those in hand killed its worker, or the machine did: each gets a worker to itself.
        for entry in suspects:
            yield from _alone(work, entry)
        suspects.clear()


def _pool(work: Work, waiting: Iterator[Entry], *, workers: int, held: list[Entry]) -> Generator[Row, None, bool]:
    """Run until all is done (gives False) or the pool breaks (gives True, with what was in hand left in `held`)."""
    pool = ProcessPoolExecutor(workers, mp_context=_context(), initializer=_quiet)
    running: dict[Future[Row], Entry] = {}

    def give(count: int) -> None:
        for entry in islice(waiting, count):
            held.append(entry)
            running[pool.submit(work, entry)] = entry
            held.remove(entry)

    try:
        give(workers * IN_HAND)
        while running:
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            for future in done:
                result = future.result()
                del running[future]
                yield result
                give(1)
    except BrokenProcessPool:
        # What was done before the pool broke is kept; the rest is in doubt.
        for future, entry in running.items():
            if future.done() and future.exception() is None:
                yield future.result()
            else:
                held.append(entry)
        return True
    finally:
        _stop(pool)
    return False


def _alone(work: Work, entry: Entry) -> Iterator[Row]:
    """A site with a worker to itself, twice if need be: it may not have been its fault the first time."""
    for _ in range(2):
        pool = ProcessPoolExecutor(1, mp_context=_context(), initializer=_quiet)
        try:
            yield pool.submit(work, entry).result()
            return
        except BrokenProcessPool:
            continue
        finally:
            _stop(pool)
    reason = "its worker was killed twice while it had this site in hand (out of memory?)"
    yield lost(reason, name=entry.name, path=entry.shown, district=entry.district, sha256="")


def _stop(pool: ProcessPoolExecutor) -> None:
    """End the workers without waiting for what they have in hand; nothing they would say is wanted any more."""
    processes = list((pool._processes or {}).values())
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.terminate()
    for process in processes:
        process.join()


def _context() -> Any:
    # Forking a process that has threads (PROJ, Arrow) can lock up; a server that is forked early has none.
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["siting.job"])
    return context


def _quiet() -> None:
    """Leave an interrupt to the process that gave the work, and do not outlive it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def run_there(work: Work, entries: Sequence[Entry], *, address: str) -> Iterator[Row]:
    """The same rows from a cluster of `dask.distributed`: the address of a scheduler, or `local` for one made here.

    The scheduler gives a site whose worker died to another; one that kills several becomes a row.
    Workers have to see the files at the same paths and have the same version of this package.
    """
    distributed: Any = import_module("distributed")  # its functions carry no types

    cluster = (
        distributed.LocalCluster(processes=True, threads_per_worker=1, dashboard_address=":0")
        if address == "local"
        else None
    )
    client = distributed.Client(cluster or address, set_as_default=False)
    try:
        workers = max(len(client.scheduler_info(n_workers=-1)["workers"]), 1)
        waiting = iter(entries)
        entry_of: dict[str, Entry] = {}

        def give(some: Iterable[Entry]) -> list[Any]:
            futures = []
            for entry in some:
                future = client.submit(work, entry, pure=False)
                entry_of[future.key] = entry
                futures.append(future)
            return futures

        running = distributed.as_completed(give(islice(waiting, workers * IN_HAND)), loop=client.loop)
        for future in running:
            entry = entry_of.pop(future.key)
            try:
                result = future.result()
            except distributed.KilledWorker:
                reason = "its workers were killed while they had this site in hand (out of memory?)"
                result = lost(reason, name=entry.name, path=entry.shown, district=entry.district, sha256="")
            yield result
            running.update(give(islice(waiting, 1)))
    finally:
        client.close()
        if cluster is not None:
            cluster.close()
