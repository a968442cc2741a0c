"""The command line: one short file a command, loaded only when it is called."""

import sys
from importlib import import_module

import click

from siting import __version__
from siting.errors import SitingError

COMMANDS = ("check", "find", "setout", "verify", "inspect", "arrange", "batch", "screen", "rules", "new")


class _Lazy(click.Group):
    """A group whose commands are imported when they are used, so that --help costs click alone."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"siting.cli.{cmd_name}").command
        return command


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="siting")
def group() -> None:
    """Decide where a hazardous pit may be dug, prove it, and peg it out.

    Exit status: 0 everything meets; 1 something fails, or there is no place; 3 nothing fails but something is too
    close to call or not assessed; 2 the command or an input is wrong.
    """


def main() -> None:
    """Run the command line; the one place where an error of this package becomes a message."""
    try:
        group(standalone_mode=True)
    except SitingError as error:
        for fault in error.faults:
            click.echo(f"siting: {fault}", err=True)
        sys.exit(2)
