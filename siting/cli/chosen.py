"""The chore `setout` and `verify` share: the same search as `find`, and one of its places."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from siting.cli.find import request_for
from siting.cli.options import as_of_option, read

if TYPE_CHECKING:
    from siting.assess import Assessment, Finding, Placed
    from siting.requirements import Question

REGISTER = "pits-register.csv"
"The register of pits, which `siting check` reads beside a site's other files."

_OPTIONS = (
    click.option("--candidate", "letter", default="A", show_default=True, help="Which place of `siting find`."),
    click.option("--for", "kind", metavar="KIND", help="What is placed; default: the first [[place]] of site.toml."),
    click.option("--rules", "packs", multiple=True, metavar="PACK", help="Pack of rules in force; may be repeated."),
    click.option("--assume-crs", metavar="CRS", help="CRS of files that state none, such as EPSG:32736."),
    as_of_option,
    click.option("--out", type=click.Path(path_type=Path), help="Folder to write to."),
    click.option("--overwrite", is_flag=True, help="Replace files that are there."),
    click.option("--json", "as_json", is_flag=True, help="Print the results; write files only with --out."),
    click.option("-q", "--quiet", is_flag=True, help="Print nothing but errors."),
)


def place_options(command: Callable[..., object]) -> Callable[..., object]:
    """The options of every command about one place."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """One place of a finding, with what it was found from."""

    question: "Question"
    assessment: "Assessment"
    finding: "Finding"
    placed: "Placed"
    name: str
    "Of what is built there."


def chosen(
    path: Path,
    *,
    letter: str,
    kind: str | None,
    packs: tuple[str, ...],
    assume_crs: str | None,
    built_as: str | None = None,
) -> "Chosen | Assessment":  # fmt: skip
    """The place of a letter; where the search finds no place at all, what it found instead.

    built_as: name of what was built there; a pit of that name in the register was not there when it was planned, and
    is left out of the search. Empty for the usual name.
    Raises InputError when there is no place of that letter.
    """
    from siting.assess import assess
    from siting.errors import InputError
    from siting.kinds import vocabulary
    from siting.requirements import Question
    from siting.sizes import size

    site, in_force = read(path, packs, assume_crs)
    request = request_for(site, kind)
    name = built_as or f"{request.kind} {letter.strip().upper()}"
    if built_as is not None:
        kept = tuple(f for f in site.features if not (f.name == name and f.origin and f.origin.file == REGISTER))
        site = replace(site, features=kept)
    assessment = assess(site, in_force, vocabulary(), request=request, size=size(request))
    finding = assessment.finding
    if finding is None or not finding.placed:
        return assessment
    placed = next((p for p in finding.placed if p.candidate.name == letter.strip().upper()), None)
    if placed is None:
        raise InputError.of(
            f"--candidate {letter!r}: the search gives no such place",
            needed=f"one of {', '.join(p.candidate.name for p in finding.placed)}",
            do_next="look at the places with `siting find`, and name one of them",
        )
    question = Question(site=site, packs=tuple(in_force), words=vocabulary())
    return Chosen(question=question, assessment=assessment, finding=finding, placed=placed, name=name)


def none_found(assessment: "Assessment", *, as_json: bool) -> int:
    """Say on standard error that there is no place and why, and return the exit status."""
    from siting.outputs import results, summary

    if as_json:
        click.echo(results.as_json(results.results(assessment)), nl=False)
    click.echo(summary.text(assessment, verbose=False), err=True)
    return 1
