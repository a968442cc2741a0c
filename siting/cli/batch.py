"""`siting batch`: every site of a folder or a list, worst first."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from siting.runs import State

STOPPED = 130
"Exit status of a run that was interrupted, as shells have it."


@click.command(name="batch")
@click.argument("source", type=click.Path(path_type=Path), metavar="FOLDER|LIST")
@click.option("--for", "kind", metavar="KIND", help="Also find a place for this; default: what each site.toml wants.")
@click.option("--check-only", is_flag=True, help="Check what stands; find nothing.")
@click.option("--maps", type=click.Choice(("none", "failing", "all")), default="none", show_default=True,
              help="Sites that get a map, a table and results of their own.")  # fmt: skip
@click.option("--workers", type=click.IntRange(1), help="Processes; default: one a core.")
@click.option("--cluster", metavar="ADDRESS", help="Scheduler of dask.distributed, or 'local' to start one here.")
@click.option("--rules", "packs", multiple=True, metavar="PACK", help="Pack of rules in force; may be repeated.")
@click.option("--assume-crs", metavar="CRS", help="CRS of files that state none, such as EPSG:32736.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder to write to, and to resume in.")
@click.option("--no-map", is_flag=True, help="Leave the overview map out.")
@click.option("--anew", is_flag=True, help="Do again what an earlier run has finished.")
@click.option("--json", "as_json", is_flag=True, help="Print results.json as well.")
@click.option("-q", "--quiet", is_flag=True, help="Print nothing but errors.")
@click.pass_context
def command(
    ctx: click.Context, source: Path, kind: str | None, check_only: bool, maps: str, workers: int | None,
    cluster: str | None, packs: tuple[str, ...], assume_crs: str | None, out: Path | None, no_map: bool, anew: bool,
    as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Judge every site of a FOLDER, or of a LIST of paths, on all cores; a run that was stopped goes on where it was.

    A site that cannot be judged is a row with its reason. Example: siting batch sites --rules health-care-waste
    """
    import os

    from siting.io.read import existing
    from siting.job import Job, placeable
    from siting.outputs import batch_text
    from siting.outputs.results import as_json as text_of
    from siting.runs import run_batch

    found = existing(source)
    folder = (out or Path("maps") / f"{found.stem}-batch").resolve()
    job = Job(
        packs=packs, beside=str(Path.cwd()), wanted=placeable(kind) if kind else None, find=not check_only,
        assume_crs=assume_crs, maps=maps, maps_folder=str(folder / "sites"),
    )  # fmt: skip
    try:
        results, written = run_batch(
            found, job, folder=folder, workers=workers or os.cpu_count() or 1, cluster=cluster, with_map=not no_map,
            anew=anew, progress=_progress(quiet=quiet or as_json),
        )  # fmt: skip
    except KeyboardInterrupt:
        click.echo("\nstopped; what is done is kept in results.jsonl: the same command goes on from there", err=True)
        ctx.exit(STOPPED)
    if as_json:
        click.echo(text_of(results), nl=False)
    elif not quiet:
        click.echo(batch_text.summary(results))
        for path in written:
            click.echo(f"wrote {path}")
    ctx.exit(batch_text.exit_status(results))


def _progress(*, quiet: bool) -> "Callable[[State], None]":
    """A line that renews itself where somebody watches; nothing elsewhere."""
    import sys

    from siting.outputs import batch_text

    if quiet or not sys.stderr.isatty():
        return lambda state: None

    def tell(state: "State") -> None:
        text = batch_text.state(
            state.done, state.count, per_second=state.per_second, seconds_left=state.seconds_left, refused=state.refused
        )
        click.echo(f"\r{text:<78}", nl=state.done == state.count, err=True)

    return tell
