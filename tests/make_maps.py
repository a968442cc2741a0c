"""Makes the files under maps/ again from the sample sites; run it when a change of the output is meant.

    python tests/make_maps.py [SAMPLE ...]

Look at the difference before committing: these files are what the tests compare with.
"""

import sys
from pathlib import Path

import click

from siting.cli import group

HERE = Path(__file__).parents[1]


def make(sample: str) -> None:
    """Results, tables, map and picture of one sample."""
    out = HERE / "maps" / sample
    arguments = ["find", str(HERE / "sample_sites" / sample), "--out", str(out), "--overwrite", "-q"]
    status = group.main(arguments, standalone_mode=False)
    picture(out)
    click.echo(f"{sample}: exit status {status or 0}")


def picture(out: Path) -> None:
    """map.png from map.html, where a browser and its driver are there."""
    try:
        from screenshots import screenshot
    except ImportError as missing:
        click.echo(f"no picture: {missing}")
        return
    screenshot(out / "map.html", out / "map.png")


if __name__ == "__main__":
    for each in sys.argv[1:] or sorted(folder.name for folder in (HERE / "sample_sites").iterdir()):
        make(each)
