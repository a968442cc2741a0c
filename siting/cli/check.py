"""`siting check`: does what stands comply?"""

from pathlib import Path

import click

from siting.cli.options import deliver, read, refuse_early, shared_options, site_argument


@click.command(name="check")
@site_argument
@shared_options
@click.pass_context
def command(
    ctx: click.Context, site: Path, packs: tuple[str, ...], assume_crs: str | None, out: Path | None, overwrite: bool,
    as_json: bool, no_map: bool, quiet: bool, verbose: bool,
) -> None:  # fmt: skip
    """Check every pit, latrine, tank and burner on a site against the rules in force.

    SITE is a folder with site.toml, or one file. Example: siting check sample_sites/marula-ridge
    """
    from siting.assess import assess
    from siting.kinds import vocabulary

    model, in_force = read(site, packs, assume_crs)
    refuse_early(model, out, overwrite=overwrite, as_json=as_json)
    assessment = assess(model, in_force, vocabulary())
    ctx.exit(
        deliver(assessment, out=out, no_map=no_map, overwrite=overwrite, as_json=as_json, quiet=quiet, verbose=verbose)
    )
