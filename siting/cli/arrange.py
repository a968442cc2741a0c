"""`siting arrange`: where do several installations go at once?"""

from pathlib import Path

import click

from siting.cli.options import Metres, deliver, read, refuse_early, shared_options, site_argument


@click.command(name="arrange")
@site_argument
@click.option("--keep", "keep_m", type=Metres(0.0), help="Margin to keep, m; the walk decides beyond it.")
@click.option("--strip", "strip_m", default=1.2, show_default=True, type=Metres(0.0),
              help="Metres left between enclosures.")  # fmt: skip
@shared_options
@click.pass_context
def command(
    ctx: click.Context, site: Path, keep_m: float | None, strip_m: float, packs: tuple[str, ...],
    assume_crs: str | None, out: Path | None, overwrite: bool, as_json: bool, no_map: bool, quiet: bool,
    verbose: bool,
) -> None:  # fmt: skip
    """Place everything that site.toml wants at once, apart from what stands and from one another.

    The smallest margin is made as large as it can be; then the walks are made short. With --keep the walks decide.
    Example: siting arrange sample_sites/kessa-hill --keep 2
    """
    from siting.kinds import vocabulary
    from siting.layout import lay_out_site

    model, in_force = read(site, packs, assume_crs)
    refuse_early(model, out, overwrite=overwrite, as_json=as_json)
    assessment = lay_out_site(model, in_force, vocabulary(), model.requests, strip_m=strip_m, keep_m=keep_m)
    ctx.exit(
        deliver(
            assessment, out=out, no_map=no_map, overwrite=overwrite,
            as_json=as_json, quiet=quiet, verbose=verbose,
        )
    )  # fmt: skip
