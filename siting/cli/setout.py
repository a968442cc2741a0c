"""`siting setout`: where exactly are the pegs?"""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from siting.cli.chosen import Chosen, chosen, none_found, place_options
from siting.cli.options import folder_for, site_argument

if TYPE_CHECKING:
    from siting.outputs.setout import Card
    from siting.setting_out.points import TiePoint


@click.command(name="setout")
@site_argument
@click.option("--station", "stations", multiple=True, metavar="NAME", help="Tie point to measure from; given twice.")
@place_options
@click.pass_context
def command(
    ctx: click.Context, site: Path, stations: tuple[str, ...], letter: str, kind: str | None, packs: tuple[str, ...],
    assume_crs: str | None, out: Path | None, overwrite: bool, as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Set out a place that `find` gives: every peg by coordinates, by bearing and distance, and by tape.

    SITE is a folder with site.toml, or one file.
    Example: siting setout sample_sites/kessa-hill --candidate B
    """
    from siting.outputs.files import refuse_to_replace, write_all
    from siting.outputs.results import as_json as text_of
    from siting.outputs.results import results
    from siting.outputs.setout import block
    from siting.outputs.summary import EXIT_STATUS

    found = chosen(site, letter=letter, kind=kind, packs=packs, assume_crs=assume_crs)
    if not isinstance(found, Chosen):
        ctx.exit(none_found(found, as_json=as_json))
    card = _card(found, stations, site, assume_crs)
    if as_json:
        click.echo(text_of({**results(found.assessment), "setout": block(card)}), nl=False)
    if not as_json or out is not None:
        folder = folder_for(found.assessment.site, out)
        refuse_to_replace(folder, ("setout.csv",), overwrite=overwrite)
        contents, notes = _files(card)
        written = write_all(folder, contents, overwrite=overwrite)
        if not quiet and not as_json:
            _say(card, [*notes, *(f"wrote {path}" for path in written)])
    ctx.exit(EXIT_STATUS[found.placed.verdict])


def _card(found: Chosen, stations: tuple[str, ...], site: Path, assume_crs: str | None) -> "Card":
    from siting.io.grid import is_grid, on_grid, stated_grid
    from siting.outputs.setout import Card
    from siting.setting_out.card import set_out

    place = found.placed.candidate
    out = set_out(
        found.question, found.finding.demands, x_m=place.x_m, y_m=place.y_m, orientation_deg=place.orientation_deg,
        stations=_stations(found, stations),
    )  # fmt: skip
    card = Card(assessment=found.assessment, placed=found.placed, out=out)
    grid = stated_grid(site) or (assume_crs if assume_crs and is_grid(assume_crs) else None)
    lonlat = card.lonlat
    if grid is None or lonlat is None:
        return card
    there = tuple((float(x), float(y)) for x, y in on_grid(grid, lonlat))
    return Card(assessment=found.assessment, placed=found.placed, out=out, grid=grid, grid_xy=there)


def _stations(found: Chosen, names: tuple[str, ...]) -> "tuple[TiePoint, ...]":
    """The tie points of these names; none named leaves the choice to the search."""
    from siting.errors import InputError
    from siting.setting_out.points import tie_points

    known = {p.name: p for p in tie_points(found.question.site, found.question.words, home=found.question.home)}
    missing = [name for name in names if name not in known]
    if missing or len(set(names)) not in (0, 2):
        found_there = f"no tie point is called {missing[0]!r}" if missing else f"{len(set(names))} station"
        raise InputError.of(
            f"--station: {found_there}",
            needed="two different tie points: corners of buildings, tanks and the boundary, middles of wells",
            do_next=f"use two of {'; '.join(sorted(known)[:24]) or 'none on this site'}",
        )
    return tuple(known[name] for name in names)


def _files(card: "Card") -> tuple[dict[str, bytes], tuple[str, ...]]:
    """The files by name, and what has to be said of those that could not be written."""
    from importlib.util import find_spec

    from siting.outputs import setout
    from siting.outputs.setout_dxf import dxf
    from siting.outputs.setout_sheet import sheet_pdf, sheet_svg

    printed = sheet_pdf(card) if find_spec("typst") else None
    made = {
        "setout.csv": setout.pegs_csv(card),
        "setout-checks.csv": setout.checks_csv(card),
        "setout.svg": sheet_svg(card).encode(),
        "setout.pdf": printed.data if printed else None,
        "setout.gpx": setout.gpx(card),
        "setout.dxf": dxf(card),
    }
    why = {
        "setout.gpx": "the plan has no place on earth",
        "setout.pdf": "pip install 'siting[pdf]' for it",
        "setout.dxf": "pip install 'siting[dxf]' for it",
    }
    notes = tuple(f"not written: {name} ({why[name]})" for name, data in made.items() if data is None)
    more = printed.notes if printed else ()
    return {name: data for name, data in made.items() if data is not None}, (*notes, *more)


def _say(card: "Card", more: list[str]) -> None:
    click.echo(f"{card.title}: {card.placed.verdict}")
    click.echo(card.accuracy)
    for caution in card.out.cautions:
        click.echo(f"caution: {caution}")
    for line in more:
        click.echo(line)
    click.echo("The local code and licensed practice decide; see the cautions on the sheet.")
