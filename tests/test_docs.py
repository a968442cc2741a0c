"""What README and DEVELOPERS promise is there."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from siting.cli import COMMANDS, group

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_stands_in_readme(name):
    """Each command explains itself in a sentence, gives an example, and README shows it."""
    result = CliRunner().invoke(group, [name, "--help"])

    assert 0 == result.exit_code
    assert "Example: siting" in " ".join(result.output.split())
    assert re.search(rf"siting {name}\b", README)


def test_readme_opens_with_the_job_then_a_picture_then_two_commands():
    """One paragraph on the job comes first, the picture is there, and exactly two commands are marked."""
    paragraphs = README.split("\n\n")

    assert paragraphs[1].startswith("`siting` decides where a hazardous pit may be dug")
    picture = re.search(r"!\[[^\]]+\]\(([^)]+)\)", paragraphs[2])
    assert picture is not None
    assert (ROOT / picture[1]).is_file()
    assert ["1", "2"] == re.findall(r"<!-- command (\d) -->", README)


def test_files_that_developers_are_sent_to_exist():
    """A path in back quotes in DEVELOPERS that looks like one of ours is one."""
    named = re.findall(r"`((?:siting|tests|sample_sites|\.ci)/[\w./-]+)`", DEVELOPERS)

    missing = [path for path in named if not (ROOT / path).exists()]

    assert named
    assert [] == missing


def test_developers_shows_the_import_order_that_is_tested():
    """The list in DEVELOPERS is the one the test holds."""
    from test_import_order import ORDER

    assert "\n".join(ORDER) in DEVELOPERS
