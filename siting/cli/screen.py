"""`siting screen`: one table of hazards against one of receptors, at the size of a country."""

from pathlib import Path

import click

from siting.cli.options import DEFAULT_PACK


@click.command(name="screen")
@click.argument("hazards", type=click.Path(path_type=Path))
@click.argument("receptors", type=click.Path(path_type=Path))
@click.option("--hazard-kind", metavar="KIND", help="Kind of every hazard, such as 'pit latrine'.")
@click.option("--receptor-kind", metavar="KIND", help="Kind of every receptor, such as well.")
@click.option("--rules", "packs", multiple=True, metavar="PACK", help="Pack of rules in force; may be repeated.")
@click.option("--confidence", default=0.95, show_default=True, type=click.FloatRange(0.5, 1.0, min_open=True,
              max_open=True), help="Probability from which a distance meets its rule.")  # fmt: skip
@click.option("--area", metavar="COLUMN", help="Column to count by, such as district.")
@click.option("--assume-crs", metavar="CRS", help="CRS of both tables where they state none.")
@click.option("--hazard-crs", metavar="CRS", help="CRS of the hazards.")
@click.option("--receptor-crs", metavar="CRS", help="CRS of the receptors.")
@click.option("--hazard-layer", metavar="NAME", help="Layer of the hazards, in a file with several.")
@click.option("--receptor-layer", metavar="NAME", help="Layer of the receptors.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder to write to.")
@click.option("--csv", "as_csv", is_flag=True, help="Write CSV in place of Parquet.")
@click.option("--no-map", is_flag=True, help="Leave the map out.")
@click.option("--overwrite", is_flag=True, help="Replace files that are there.")
@click.option("--json", "as_json", is_flag=True, help="Print results.json as well.")
@click.option("-q", "--quiet", is_flag=True, help="Print nothing but errors.")
@click.pass_context
def command(
    ctx: click.Context, hazards: Path, receptors: Path, hazard_kind: str | None, receptor_kind: str | None,
    packs: tuple[str, ...], confidence: float, area: str | None, assume_crs: str | None, hazard_crs: str | None,
    receptor_crs: str | None, hazard_layer: str | None, receptor_layer: str | None, out: Path | None, as_csv: bool,
    no_map: bool, overwrite: bool, as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Screen HAZARDS against RECEPTORS: the nearest of each, every pair closer than its rule, and totals.

    Both are CSV, Parquet, GeoParquet, GeoPackage or GeoJSON, of points, lines or areas.
    Example: siting screen latrines.parquet wells.csv --hazard-kind "pit latrine" --receptor-kind well --out screened
    """
    from siting.io import packs as pack_files
    from siting.io.parts import Told
    from siting.io.read import existing
    from siting.kinds import vocabulary
    from siting.outputs import registry_text
    from siting.outputs.results import as_json as text_of
    from siting.registries import screen_files

    results = screen_files(
        existing(hazards), existing(receptors), pack_files.in_force(packs or (DEFAULT_PACK,)), vocabulary(),
        folder=out or Path("maps") / f"{hazards.stem}-screened", confidence=confidence,
        hazards_told=Told(kind=hazard_kind, crs=hazard_crs or assume_crs, area=area, layer=hazard_layer),
        receptors_told=Told(kind=receptor_kind, crs=receptor_crs or assume_crs, layer=receptor_layer),
        as_csv=as_csv, with_map=not no_map, overwrite=overwrite,
        progress=registry_text.progress(quiet=quiet or as_json),
    )  # fmt: skip
    if as_json:
        click.echo(text_of(results), nl=False)
    elif not quiet:
        click.echo(registry_text.summary(results))
    ctx.exit(registry_text.exit_status(results))
