"""Finding and reading packs of rules: those that come with the package, and local files."""

from importlib.resources import files
from pathlib import Path

from siting.errors import PackError
from siting.kinds import vocabulary
from siting.pack_text import parse
from siting.rules import Pack

GROUND = "ground"
"The pack that is always in force: two things cannot stand on one spot."


def names() -> tuple[str, ...]:
    """Names of the packs that come with the package, in alphabetical order."""
    folder = files("siting").joinpath("packs")
    return tuple(sorted(p.name.removesuffix(".toml") for p in folder.iterdir() if p.name.endswith(".toml")))


def load(name: str, *, beside: Path | None = None) -> Pack:
    """A pack by name, or by the path of a TOML file (relative paths are looked up beside the site)."""
    if name in names():
        return _parse(files("siting").joinpath("packs", f"{name}.toml").read_text("utf-8"), f"{name}.toml")
    if not name.endswith(".toml"):
        raise PackError.of(
            f"unknown pack {name!r}",
            needed=f"one of {', '.join(names())}, or the path of a .toml file",
            do_next=_nearest(name),
        )
    path = Path(name) if beside is None or Path(name).is_absolute() else beside / name
    try:
        text = path.read_text("utf-8")
    except (OSError, ValueError) as error:
        raise PackError.of(
            f"pack {name!r} cannot be read: {error}",
            needed="a TOML file in UTF-8",
            do_next="check the path; it is looked up beside site.toml",
        ) from error
    return _parse(text, path.name)


def in_force(wanted: tuple[str, ...], *, beside: Path | None = None) -> tuple[Pack, ...]:
    """The packs named, each once, with the one that is always in force at the end."""
    return tuple(load(name, beside=beside) for name in dict.fromkeys((*wanted, GROUND)))


def _parse(text: str, file: str) -> Pack:
    return parse(text, vocabulary(), file=file)


def _nearest(name: str) -> str:
    import difflib

    close = difflib.get_close_matches(name, names(), n=1, cutoff=0.5)
    return f"did you mean {close[0]!r}?" if close else "list them with `siting rules`"
