"""Options and chores that several commands share, each declared once."""

from collections.abc import Callable
from dataclasses import replace
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from datetime import date, datetime

    from siting.assess import Assessment
    from siting.outputs.on_request import Asked
    from siting.rules import Pack
    from siting.site import Site

site_argument = click.argument("site", type=click.Path(path_type=Path))
DEFAULT_PACK = "health-care-waste"

_AS_OF = "siting.as_of"


def _keep_day(ctx: click.Context, _: click.Parameter, value: "datetime | None") -> None:
    # kept beside the parameters, so that a command needs no parameter that only the doctor uses
    ctx.meta[_AS_OF] = value.date() if value else None


as_of_option = click.option(
    "--as-of",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    expose_value=False,
    callback=_keep_day,
    help="Day that ages are reckoned from, such as 2026-07-01; without it no age is judged.",
)

_ON_REQUEST = "siting.on_request"
EXPORTS = ("geojson", "gpkg", "kml", "gpx", "dxf", "csv", "svg")


def _keep_request(ctx: click.Context, param: click.Parameter, value: object) -> None:
    # kept beside the parameters, as all commands hand them on unread
    ctx.meta.setdefault(_ON_REQUEST, {})[param.name] = value


_SHARED = (
    click.option("--out", type=click.Path(path_type=Path), help="Folder to write to."),
    click.option("--rules", "packs", multiple=True, metavar="PACK", help="Pack of rules in force; may be repeated."),
    click.option("--assume-crs", metavar="CRS", help="CRS of files that state none, such as EPSG:32736."),
    as_of_option,
    click.option("--no-map", is_flag=True, help="Leave the map out."),
    click.option(
        "--plan",
        is_flag=True,
        expose_value=False,
        callback=_keep_request,
        help="Also write the plan sheet to scale: plan.svg, plan.pdf.",
    ),
    click.option(
        "--report", is_flag=True, expose_value=False, callback=_keep_request, help="Also write report.pdf for the file."
    ),
    click.option(
        "--export",
        "exports",
        multiple=True,
        type=click.Choice(EXPORTS),
        metavar="FORMAT",
        expose_value=False,
        callback=_keep_request,
        help=f"Also write site and places as {', '.join(EXPORTS[:-1])}, or the plan as svg; may be repeated.",
    ),
    click.option("--overwrite", is_flag=True, help="Replace files that are there."),
    click.option("--json", "as_json", is_flag=True, help="Print results.json; write files only with --out."),
    click.option("-q", "--quiet", is_flag=True, help="Print nothing but errors."),
    click.option("-v", "--verbose", is_flag=True, help="Print every row, and what was assumed."),
)


class Metres(click.FloatRange):
    """A length: a range that not-a-number does not slip through."""

    name = "metres"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number, or click's own message."""
        number = super().convert(value, param, ctx)
        if not isfinite(number):
            self.fail(f"{value} is not a length.", param, ctx)
        return float(number)


def shared_options(command: Callable[..., object]) -> Callable[..., object]:
    """The options of every command that assesses a site."""
    for option in reversed(_SHARED):
        command = option(command)
    return command


def day_of(ctx: click.Context | None) -> "date | None":
    """The day given with --as-of."""
    day: date | None = ctx.meta.get(_AS_OF) if ctx else None
    return day


def read(site: Path, packs: tuple[str, ...], assume_crs: str | None) -> "tuple[Site, tuple[Pack, ...]]":
    """The site with what is doubtful about it as warnings, and the packs in force.

    Raises InputError with every finding that could flip a verdict and that nobody accepts.
    """
    from siting.doctor.examine import examined

    model, in_force = read_without_judging(site, packs, assume_crs)
    return examined(model, in_force, today=day_of(click.get_current_context(silent=True))), in_force


def read_without_judging(site: Path, packs: tuple[str, ...], assume_crs: str | None) -> "tuple[Site, tuple[Pack, ...]]":
    """The site, and the packs in force: those named here, else the site's own, else the default."""
    from siting.io import packs as pack_files
    from siting.io.read import read_site

    model = read_site(site, assume_crs=assume_crs)
    wanted = packs or model.packs or (DEFAULT_PACK,)
    beside = site if site.is_dir() else site.parent
    return replace(model, packs=wanted), pack_files.in_force(wanted, beside=beside)


def folder_for(site: "Site", out: Path | None) -> Path:
    """Where results go: what was asked for, else a folder named like the site under `maps`."""
    name = "".join(c if c.isalnum() or c in " -_.'" else "-" for c in site.name).strip(" .") or "site"
    return out or Path("maps") / name


def deliver(
    assessment: "Assessment", *, out: Path | None, no_map: bool, overwrite: bool, as_json: bool, quiet: bool,
    verbose: bool,
) -> int:  # fmt: skip
    """Write the files, say what was written and found, and return the exit status."""
    from siting.outputs import results, summary, table
    from siting.outputs.files import write_all
    from siting.outputs.on_request import files_on_request

    text = results.as_json(results.results(assessment))
    if as_json:
        click.echo(text, nl=False)
    if not as_json or out is not None:
        contents = {
            "results.json": text.encode(),
            "compliance.csv": table.as_csv(assessment),
            "compliance.xlsx": table.as_xlsx(assessment),
        }
        if not no_map:
            from siting.outputs.map import map_page

            contents["map.html"] = map_page(assessment).encode()
        more, notes = files_on_request(assessment, _asked())
        contents |= more
        written = write_all(folder_for(assessment.site, out), contents, overwrite=overwrite)
        if not quiet and not as_json:
            click.echo(summary.text(assessment, verbose=verbose))
            for line in (*(f"note: {note}" for note in notes), *(f"wrote {path}" for path in written)):
                click.echo(line)
    return summary.exit_status(assessment)


def _asked() -> "Asked":
    """What is written on request, as the options say."""
    from siting.outputs.on_request import Asked

    ctx = click.get_current_context(silent=True)
    return Asked(**(ctx.meta.get(_ON_REQUEST, {}) if ctx else {}))


def refuse_early(site: "Site", out: Path | None, *, overwrite: bool, as_json: bool) -> None:
    """Say that files stand in the way, or cannot be written at all, before any work is done."""
    from siting.errors import OutputError
    from siting.outputs.files import refuse_to_replace

    asked = _asked()
    if asked and as_json and out is None:
        raise OutputError.of(
            "--plan, --report or --export with --json, and nowhere to write",
            needed="a folder for the files",
            do_next="add --out FOLDER, or leave out --json",
        )
    asked.refuse_early()
    if not as_json or out is not None:
        refuse_to_replace(folder_for(site, out), ("results.json",), overwrite=overwrite)
