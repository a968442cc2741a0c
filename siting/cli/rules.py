"""`siting rules`: which packs there are, and what one of them says."""

import click


@click.command(name="rules")
@click.argument("pack", required=False)
@click.option("--kinds", is_flag=True, help="List the kinds and groups that rules and files may name.")
@click.option("--compare", nargs=2, metavar="A B", help="Show where two packs differ.")
def command(pack: str | None, kinds: bool, compare: tuple[str, str] | None) -> None:
    """List the packs of rules, or print one with its citations.

    PACK is a name from the list or the path of a TOML file. Example: siting rules ontario-8-2-1-5
    """
    from siting.io import packs
    from siting.outputs import rule_text

    if kinds:
        from siting.kinds import vocabulary

        click.echo(rule_text.kinds(vocabulary()))
    elif compare:
        click.echo(rule_text.compared(packs.load(compare[0]), packs.load(compare[1])))
    elif pack:
        click.echo(rule_text.printed(packs.load(pack)))
    else:
        click.echo(rule_text.listed(packs.load(name) for name in packs.names()))
