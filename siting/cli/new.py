"""`siting new`: a folder to fill in."""

from pathlib import Path

import click


@click.command(name="new")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--name", help="Name of the facility; default: the folder's own.")
def command(folder: Path, name: str | None) -> None:
    """Make a FOLDER with a commented site.toml and a points table to fill in.

    Example: siting new hill-clinic
    """
    import json
    from importlib.resources import files

    from siting.outputs.files import write_all

    template = files("siting").joinpath("templates")
    told = json.dumps(name or folder.name.replace("-", " ").replace("_", " ").title(), ensure_ascii=False)
    contents = {
        "site.toml": template.joinpath("site.toml").read_text("utf-8").replace('"NAME"', told).encode(),
        "points.csv": template.joinpath("points.csv").read_bytes(),
    }
    for path in write_all(folder, contents, overwrite=False):
        click.echo(f"wrote {path}")
    click.echo("Fill in points.csv and the lines that apply in site.toml, then: siting find " + str(folder))
