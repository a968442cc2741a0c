"""What the terminal shows of a batch: progress while it runs, then totals and the worst."""

from typing import Any

from siting.batch import GRAVITY, REFUSED
from siting.uncertainty import Verdict

SHOWN = 8


def exit_status(results: dict[str, Any]) -> int:
    """0 all meet, 1 something fails, 3 nothing fails but something is open or was refused."""
    totals = results["totals"]
    if totals[Verdict.FAILS]:
        return 1
    return 3 if totals[Verdict.TOO_CLOSE] + totals[Verdict.NOT_ASSESSED] + totals[REFUSED] else 0


def summary(results: dict[str, Any]) -> str:
    """The totals, district by district, with the share of suspect data beside each."""
    total = results["totals"]
    lines = [f"{total['sites']} sites: {_counts(total)}"]
    districts = [row for row in results["by_district"] if row["district"]]
    for row in districts[:SHOWN]:
        lines.append(f"  {row['district']}: {row['sites']} sites: {_counts(row)}")
    if len(districts) > SHOWN:
        lines.append(f"  and {len(districts) - SHOWN} more districts (results.json has all)")
    if total["doubts"]:
        lines.append("doubts: " + ", ".join(f"{code} {count}" for code, count in total["doubts"].items()))
    lines.append("The local code and licensed practice decide; see the cautions on the map.")
    return "\n".join(lines)


def _counts(row: dict[str, Any]) -> str:
    counts = ", ".join(f"{row[str(v)]} {v}" for v in GRAVITY if row[str(v)])
    return f"{counts}; suspect data {100.0 * row['suspect_share']:.1f} %"


def state(done: int, count: int, *, per_second: float, seconds_left: float | None, refused: int) -> str:
    """One line of progress.

    >>> state(120, 1000, per_second=61.3, seconds_left=14.4, refused=2)
    '120 of 1000 sites, 61.3 a second, 15 s left, 2 refused'
    """
    left = "" if seconds_left is None else f", {_time(seconds_left)} left"
    told = f", {refused} refused" if refused else ""
    return f"{done} of {count} sites, {per_second:.1f} a second{left}{told}"


def _time(seconds: float) -> str:
    from math import ceil

    if seconds < 90:
        return f"{ceil(seconds)} s"
    minutes = ceil(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"
