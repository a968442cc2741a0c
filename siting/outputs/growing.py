"""Files that grow part by part and appear together at the end, or not at all."""

import os
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

from siting.errors import OutputError, SitingError
from siting.outputs.files import refuse_to_replace


class Files:
    """Files that are written part by part and appear together; none appears when anything goes wrong."""

    def __init__(self, folder: Path, names: Sequence[str], *, overwrite: bool):
        refuse_to_replace(folder, names, overwrite=overwrite)
        self.folder, self.names = folder, tuple(names)
        self.open_files: list[Any] = []
        "Closed at the latest when the run ends, however it ends."
        self._temporary = {name: folder / f".{name}.{os.getpid()}.part" for name in names}

    def __enter__(self) -> "Files":
        with _told(self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
        return self

    def __getitem__(self, name: str) -> Path:
        return self._temporary[name]

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                with _told(self.folder):
                    for path in self._temporary.values():
                        with path.open("rb") as file:
                            os.fsync(file.fileno())
                    for name, path in self._temporary.items():
                        os.replace(path, self.folder / name)
        finally:
            for file in self.open_files:
                file.close()
            for path in self._temporary.values():
                path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise _cannot(self.folder, error) from error


class _told:  # used as a statement
    """Turns an error of the disk into one of this package."""

    def __init__(self, folder: Path):
        self.folder = folder

    def __enter__(self) -> None:
        return None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(error, OSError):
            raise _cannot(self.folder, error) from error


def _cannot(folder: Path, error: OSError) -> SitingError:
    return OutputError.of(
        f"{folder} cannot be written: {error.strerror or error}",
        needed="a folder that can be written, on a disk with room",
        do_next="make room, or name another folder with --out",
    )
