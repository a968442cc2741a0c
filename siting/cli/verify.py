"""`siting verify`: does what was built still comply?"""

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from siting.cli.chosen import REGISTER, Chosen, chosen, none_found, place_options
from siting.cli.options import folder_for, site_argument

if TYPE_CHECKING:
    from siting.as_built.position import Position
    from siting.as_built.survey import Built
    from siting.assess import Assessment
    from siting.io.measured import Measured, Taped
    from siting.setting_out.card import SettingOut
    from siting.setting_out.points import TiePoint

_DAY = click.DateTime(["%Y-%m-%d"])


@click.command(name="verify")
@site_argument
@click.argument("measured", type=click.Path(path_type=Path))
@click.option("--name", help="Name of the pit in the register; default: its kind and place.")
@click.option("--opened", type=_DAY, metavar="DATE", help="Day it was opened, for the register.")
@click.option("--closed", type=_DAY, metavar="DATE", help="Day it was closed, for the register.")
@click.option("--contents", default="", help="What goes into it, for the register.")
@click.option("--register", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help=f"Register to update; default {REGISTER} among the results.")  # fmt: skip
@place_options
@click.pass_context
def command(
    ctx: click.Context, site: Path, measured: Path, name: str | None, opened: datetime | None,
    closed: datetime | None, contents: str, register: Path | None, letter: str, kind: str | None,
    packs: tuple[str, ...], assume_crs: str | None, out: Path | None, overwrite: bool, as_json: bool, quiet: bool,
) -> None:  # fmt: skip
    """Compare what was built with its setting out, and ask every rule again of what is really there.

    SITE is as for `setout`. MEASURED holds pegs (peg, lat, lon, accuracy_m; or x, y with a crs), tape lengths (peg,
    from, distance_m), or is setout.csv with its measured columns filled in.
    Example: siting verify sample_sites/kessa-hill measured.csv --candidate B
    """
    from siting.io.measured import read_measured
    from siting.outputs import results, verify
    from siting.outputs.files import refuse_to_replace
    from siting.outputs.summary import EXIT_STATUS
    from siting.uncertainty import gravest

    found = chosen(site, letter=letter, kind=kind, packs=packs, assume_crs=assume_crs, built_as=name or "")
    if not isinstance(found, Chosen):
        ctx.exit(none_found(found, as_json=as_json))
    if not as_json or out is not None:
        refuse_to_replace(folder_for(found.assessment.site, out), ("results.json",), overwrite=overwrite)
    held = read_measured(measured, frame=found.question.site.frame, assume_crs=assume_crs)
    built, assessment = _judged(found, held)
    cautions = [*built.cautions, *held.notes]
    text = results.as_json({
        **results.results(assessment),
        "as_built": verify.block(
            built, assessment.site.frame, candidate=found.placed.candidate.name, cautions=cautions
        ),
    })  # fmt: skip
    if as_json:
        click.echo(text, nl=False)
    days = {key: day.date().isoformat() if day else "" for key, day in (("opened", opened), ("closed", closed))}
    if not as_json or out is not None:
        wrote = _write(found, built, assessment, text, out, register, {**days, "contents": contents}, overwrite)
        if not quiet and not as_json:
            _say(built, assessment, [*(f"caution: {c}" for c in cautions), *wrote])
    ctx.exit(EXIT_STATUS[gravest([assessment.verdict, verify.stands_as_planned(built)])])


def _judged(found: Chosen, held: "Measured") -> "tuple[Built, Assessment]":
    """What stands, and the whole site with it in place of the plan."""
    from siting.as_built.survey import built as as_built
    from siting.assess import assess
    from siting.errors import InputError
    from siting.setting_out.card import set_out

    question, place, name = found.question, found.placed.candidate, found.name
    site = question.site
    if any(f.name == name for f in site.features):
        raise InputError.of(
            f"a feature of the site is called {name!r} already",
            needed="a name of its own for what was built",
            do_next="give one with --name",
        )
    out = set_out(
        question, found.finding.demands, x_m=place.x_m, y_m=place.y_m, orientation_deg=place.orientation_deg
    )  # fmt: skip
    positions = _positions(found, out, held)
    installation = replace(found.placed.installation, orientation_deg=place.orientation_deg)
    planned = {peg.name: peg.xy for peg in out.pegs}
    source = held.source.name if held.located else question.home
    built = as_built(positions, planned, installation, name=name, source=source, confidence=site.confidence)
    sources = {**site.sources, held.source.name: held.source}
    stands = replace(site, features=(*site.features, built.feature), sources=sources)
    return built, assess(stands, question.packs, question.words)


def _positions(found: Chosen, out: "SettingOut", held: "Measured") -> "list[Position]":
    from siting.as_built.position import MeasuredTie, Position, from_ties

    placed = [
        Position(name=one.peg, x_m=one.x_m, y_m=one.y_m, sigma_m=one.sigma_m, residuals_m=(), agrees=True)
        for one in held.located
    ]
    planned = {peg.name: peg.xy for peg in out.pegs}
    points = _starts(found, out)
    tapes: dict[str, list[MeasuredTie]] = {}
    for taped in held.taped:
        point = _start(taped, points)
        near = planned.get(taped.peg, planned["P"])
        tapes.setdefault(taped.peg, []).append(
            MeasuredTie(
                point=point.name, x_m=point.x_m, y_m=point.y_m, distance_m=_horizontal_m(found, taped, point, near),
                point_sigma_m=point.sigma_m,
            )
        )  # fmt: skip
    return [*placed, *(from_ties(peg, ties, near=planned.get(peg, planned["P"])) for peg, ties in tapes.items())]


def _starts(found: Chosen, out: "SettingOut") -> "dict[str, TiePoint]":
    """Points that a tape may start from, under their names and those of the card."""
    from siting.outputs.setout import Card
    from siting.setting_out.points import tie_points

    question = found.question
    named = {p.name: p for p in tie_points(question.site, question.words, home=question.home)}
    return named | Card(assessment=found.assessment, placed=found.placed, out=out).points


def _start(taped: "Taped", points: "dict[str, TiePoint]") -> "TiePoint":
    from difflib import get_close_matches

    from siting.errors import InputError

    if taped.start not in points:
        near = get_close_matches(taped.start, points, n=3, cutoff=0.5) or sorted(points)[:12]
        raise InputError.of(
            f"peg {taped.peg}: no tie point is called {taped.start!r}",
            needed="a point as the setting-out sheet names it, such as T1 or 'Ward, north-east corner'",
            do_next=f"use one of {'; '.join(near)}",
            row=taped.row,
        )
    return points[taped.start]


def _horizontal_m(found: Chosen, taped: "Taped", point: "TiePoint", near: tuple[float, float]) -> float:
    """The length in plan; along a slope, less what the heights of its ends take from it."""
    from math import isfinite, sqrt

    import numpy as np

    from siting.errors import InputError

    if not taped.along_slope:
        return taped.length_m
    surface = found.question.terrain.surface
    heights = surface.height_at(np.array([point.xy, near])) if surface is not None else np.full(2, np.nan)
    rise_m = float(heights[1] - heights[0])
    if not isfinite(rise_m) or abs(rise_m) >= taped.length_m:
        raise InputError.of(
            f"peg {taped.peg}: a length along the slope from {taped.start}, where the heights of its ends "
            + ("are not known" if not isfinite(rise_m) else f"differ by {abs(rise_m):.2f} m"),
            needed="heights of the ground round both ends, or a level tape",
            do_next="add spot heights to the site, or measure the length with the tape held level",
            row=taped.row,
        )
    return sqrt(taped.length_m**2 - rise_m**2)


def _write(
    found: Chosen, built: "Built", assessment: "Assessment", text: str, out: Path | None, register: Path | None,
    told: dict[str, str], overwrite: bool,
) -> list[str]:  # fmt: skip
    """Write the files; what was written, and what has to be known of it."""
    from siting.io.register import read_register
    from siting.outputs import table, verify
    from siting.outputs.files import write_all
    from siting.outputs.map import map_page

    folder = folder_for(assessment.site, out)
    contents = {
        "results.json": text.encode(),
        "compliance.csv": table.as_csv(assessment),
        "compliance.xlsx": table.as_xlsx(assessment),
        "as-built.csv": verify.pegs_csv(built),
        "map.html": map_page(assessment).encode(),
    }
    kept = register or folder / REGISTER
    row = verify.register_row(built, assessment.site.frame, ties=_ties(found, built), **told)
    entered = {} if row is None else {kept.name: verify.register(read_register(kept), row)}
    written = list(write_all(folder, contents, overwrite=overwrite))
    # Its other rows are kept, so that it never stands in the way.
    written += write_all(kept.parent, entered, overwrite=True)
    notes = [f"wrote {path}" for path in written]
    if row is None:
        notes.append(f"not written: {REGISTER} (the plan has no place on earth)")
    return notes


def _ties(found: Chosen, built: "Built") -> str:
    """Tape lengths by which the pit's middle is found again when nothing of it is to be seen."""
    from siting.setting_out.pegs import Peg
    from siting.setting_out.points import tie_points
    from siting.setting_out.ties import peg_ties
    from siting.site import Status

    question = found.question
    walls = [
        f.geometry
        for f in question.site.features
        if f.status is Status.EXISTING and f.kind in question.words.expand(["building"])
    ]
    middle = Peg(name="P", part="pit centre", x_m=built.pit.x_m, y_m=built.pit.y_m)
    points = tie_points(question.site, question.words, home=question.home)
    return "; ".join(f"{t.distance_m:.2f} m from {t.point.name}" for t in peg_ties(middle, points, walls=walls).ties)


def _say(built: "Built", assessment: "Assessment", more: list[str]) -> None:
    from siting.outputs import summary
    from siting.outputs.verify import stands_as_planned

    click.echo(f"{built.feature.name}, within the tolerance of its place: {stands_as_planned(built)}")
    for off in built.deviations:
        away = f"{off.distance_m:.2f} m off" + (f" towards {off.bearing_deg:.0f} degrees" if off.bearing_deg else "")
        click.echo(f"  {off.name}: {away} (tolerance {off.tolerance_m:g} m): {off.verdict}")
    click.echo(summary.text(assessment, verbose=False))
    for line in more:
        click.echo(line)
