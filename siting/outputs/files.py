"""Files that appear whole or not at all."""

import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from siting.errors import OutputError


def write_all(folder: Path, contents: Mapping[str, bytes], *, overwrite: bool) -> tuple[Path, ...]:
    """Write several files into a folder, each of them old or new and whole at every moment.

    Everything is written beside its place first; only when all of it is on disk are the names put in place.
    Raises OutputError, leaving what was there, when a file stands in the way or cannot be written.
    """
    paths = tuple(folder / name for name in contents)
    refuse_to_replace(folder, contents, overwrite=overwrite)
    made: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, data in zip(paths, contents.values(), strict=True):
            made.append(_beside(path, data))
        for temporary, path in zip(made, paths, strict=True):
            os.replace(temporary, path)
    except OSError as error:
        raise OutputError.of(
            f"{folder} cannot be written: {error.strerror or error}",
            needed="a folder that can be written, on a disk with room",
            do_next="name another folder with --out",
        ) from error
    finally:
        for temporary in made:
            temporary.unlink(missing_ok=True)
    return paths


def refuse_to_replace(folder: Path, names: Iterable[str], *, overwrite: bool) -> None:
    """Raises OutputError when files stand in the way and may not be replaced."""
    # os.path answers for a name too long for any disk, where Path raises; writing then tells it in three parts.
    standing = [name for name in names if os.path.exists(folder / name)]
    if standing and not overwrite:
        raise OutputError.of(
            f"{folder} already holds {', '.join(standing)}",
            needed="a folder without them, or leave to replace them",
            do_next="name another folder with --out, or add --overwrite",
        )


def _beside(path: Path, data: bytes) -> Path:
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary
