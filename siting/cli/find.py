"""`siting find`: where may it go, and which place is best?"""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from siting.cli.options import Metres, deliver, read, refuse_early, shared_options, site_argument

if TYPE_CHECKING:
    from siting.site import Request, Site


@click.command(name="find")
@site_argument
@click.option("--for", "kind", metavar="KIND", help="What is to be placed; default: the first [[place]] of site.toml.")
@click.option("--places", "count", default=5, show_default=True, type=click.IntRange(1, 26), help="Places to list.")
@click.option("--spacing", default=5.0, show_default=True, type=Metres(0.5), help="Metres between them.")
@click.option("--gap", default=0.05, show_default=True, type=Metres(0.001), help="Gap of the proof, m.")
@shared_options
@click.pass_context
def command(
    ctx: click.Context, site: Path, kind: str | None, count: int, spacing: float, gap: float, packs: tuple[str, ...],
    assume_crs: str | None, out: Path | None, overwrite: bool, as_json: bool, no_map: bool, quiet: bool,
    verbose: bool,
) -> None:  # fmt: skip
    """Find the best places for a new installation, each with a proved bound, and check what stands.

    SITE is a folder with site.toml, or one file.
    Example: siting find sample_sites/marula-ridge --for "placenta pit"
    """
    from siting.assess import assess
    from siting.kinds import vocabulary
    from siting.sizes import size

    model, in_force = read(site, packs, assume_crs)
    request = request_for(model, kind)
    refuse_early(model, out, overwrite=overwrite, as_json=as_json)
    assessment = assess(
        model, in_force, vocabulary(), request=request, size=size(request), count=count, spacing_m=spacing,
        gap_m=gap,
    )  # fmt: skip
    ctx.exit(
        deliver(assessment, out=out, no_map=no_map, overwrite=overwrite, as_json=as_json, quiet=quiet, verbose=verbose)
    )


def request_for(site: "Site", word: str | None) -> "Request":
    """The wanted place: of the kind named, with whatever site.toml says of it."""
    from siting.errors import InputError
    from siting.kinds import vocabulary
    from siting.site import Request
    from siting.sizes import can_be_placed

    if word is None:
        if not site.requests:
            raise InputError.of(
                f"{site.name}: nothing is wanted",
                needed="what is to be placed",
                do_next='add --for "placenta pit", or a [[place]] with kind = ... to site.toml',
            )
        word = site.requests[0].kind
    words = vocabulary()
    kind = words.recognise(word)
    if not can_be_placed(kind, words):
        near = [k for k in words.nearest(word) if can_be_placed(k, words)]
        raise InputError.of(
            f"{word!r} is wanted: not a kind that can be placed",
            needed="something that can be placed, such as 'placenta pit', 'pit latrine' or 'well'",
            do_next=f"did you mean {' or '.join(map(repr, near))}?" if near else "see `siting rules --kinds`",
        )
    return next((replace(r) for r in site.requests if r.kind == kind), Request(kind=kind))
