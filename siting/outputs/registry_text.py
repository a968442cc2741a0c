"""What the terminal shows of a screening: totals, then what was refused, then what was not looked at."""

from collections.abc import Callable
from typing import Any

from siting.uncertainty import Verdict

SHOWN = 8


def exit_status(results: dict[str, Any]) -> int:
    """0 all meet, 1 something fails, 3 something is too close to call, not assessed or refused."""
    totals = results["totals"]
    if totals[Verdict.FAILS]:
        return 1
    doubtful = totals[Verdict.TOO_CLOSE] + totals[Verdict.NOT_ASSESSED] + results["rows"]["hazards"]["refused"]
    return 3 if doubtful else 0


def summary(results: dict[str, Any]) -> str:
    """The totals and what has to be known to read them."""
    total, rows = results["totals"], results["rows"]
    lines = [
        ", ".join(f"{total[v]} {v}" for v in Verdict) + f" of {total['judged']} judged",
        f"{results['pairs']} pairs closer than their rule; suspect data in {_share(total)} of the rows judged",
    ]
    for role in ("hazards", "receptors"):
        lines.append(f"{role}: {rows[role]['read']} rows read, {rows[role]['refused']} refused")
    for table in results["inputs"]:
        lines += [f"  {table['file']}: {count} x {reason}" for reason, count in table["reasons"].items()][:SHOWN]
        if table["repeated_ids"]:
            lines.append(f"  {table['file']}: {table['repeated_ids']} rows repeat an id")
        lines += [f"  {table['file']}: {note}" for note in table["notes"]]
    for area in results["by_area"][:SHOWN] if len(results["by_area"]) > 1 else ():
        lines.append(f"  {area['area']}: {area[Verdict.FAILS]} fail of {area['judged']}, suspect {_share(area)}")
    for key, said in (("no_receptors", "nothing recorded for"), ("not_screened", "not for a registry")):
        if results[key]:
            named = [row["rule"] for row in results[key]]
            more = f" and {len(named) - SHOWN} more" if len(named) > SHOWN else ""
            lines.append(f"{said}: {', '.join(named[:SHOWN])}{more}")
    lines.append("The local code and licensed practice decide; see the cautions on the map.")
    return "\n".join(lines)


def _share(counts: dict[str, Any]) -> str:
    return f"{100.0 * counts['suspect_share']:.1f} %"


def progress(*, quiet: bool) -> Callable[[int], None]:
    """Tells on the screen how many hazards are done, where the screen is one that somebody watches."""
    import sys

    if quiet or not sys.stderr.isatty():
        return lambda done: None
    return lambda done: print(f"\r{done} hazards", end="", file=sys.stderr, flush=True)
