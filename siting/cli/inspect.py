"""`siting inspect`: is the input what it seems to be?"""

from pathlib import Path

import click

from siting.cli.options import as_of_option, day_of, read_without_judging, site_argument


@click.command(name="inspect")
@site_argument
@click.option("--rules", "packs", multiple=True, metavar="PACK", help="Pack of rules in force; may be repeated.")
@click.option("--assume-crs", metavar="CRS", help="CRS of files that state none, such as EPSG:32736.")
@as_of_option
@click.pass_context
def command(ctx: click.Context, site: Path, packs: tuple[str, ...], assume_crs: str | None) -> None:
    """Look for exchanged coordinates, wrong zones and units, doubles and whatever else is doubtful about a site.

    SITE is a folder with site.toml, or one file. Each finding says what was seen, how sure, how many metres it is
    worth, how to correct it, and the line for site.toml that accepts it.
    Exit status: 0 nothing found; 3 warnings only; 2 something that every command stops at.

    Example: siting inspect sample_sites/marula-ridge --as-of 2026-07-01
    """
    from siting.doctor.examine import findings
    from siting.errors import InputError
    from siting.finding import apart
    from siting.outputs import finding_text

    try:
        model, in_force = read_without_judging(site, packs, assume_crs)
    except InputError as error:
        # no site can be made of the files: what is doubtful about them is told all the same
        told, others = apart(error)
        if told:
            click.echo(finding_text.text(site.name, told))
        if others:
            raise InputError(*others) from None
        ctx.exit(finding_text.exit_status(told))
    found = findings(model, in_force, today=day_of(ctx))
    click.echo(finding_text.text(model.name, found))
    ctx.exit(finding_text.exit_status(found))
