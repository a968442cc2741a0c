"""Which sites a folder or a list holds, and the checksum that tells whether one has changed."""

import csv
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from siting.errors import Fault, InputError
from siting.io.faults import refuse
from siting.io.formats import FORMATS
from siting.io.read import SITE_FILE
from siting.kinds import folded

_OURS = ("summary.csv", "summary.xlsx", "results.json", "results.jsonl", "compliance.csv", "compliance.xlsx")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One site of a batch."""

    path: str
    "As it is opened."
    shown: str
    "As every output names it: below the folder, or as the list has it."
    district: str = ""

    @property
    def name(self) -> str:
        """What to call it before it is read."""
        return Path(self.shown).stem


def entries(source: Path) -> tuple[Entry, ...]:
    """The sites of a folder, or of a list of paths, in alphabetical order.

    In a folder every folder with a site.toml is a site, and so is every file of a known format that does not lie in
    one; the first folder below the top, where there is one between, is the district.
    A list is a text file with a path a line, or a CSV with columns `path` and, if wanted, `district`.
    """
    found = tuple(sorted(_in_folder(source), key=_by_name)) if source.is_dir() else _listed(source)
    if not found:
        raise InputError.of(
            f"no sites in {source.name!r}",
            needed=f"folders with a {SITE_FILE}, or files of one of {' '.join(FORMATS)}",
            do_next="name the folder above them, or give a list of paths",
        )
    return found


def _by_name(entry: Entry) -> str:
    return entry.shown


def _in_folder(top: Path) -> Iterator[Entry]:
    for folder, names, files in top.walk() if hasattr(top, "walk") else _walk(top):
        names[:] = sorted(name for name in names if not name.startswith("."))
        if SITE_FILE in files:
            names[:] = []
            yield _entry(top, folder)
            continue
        for name in sorted(files):
            if Path(name).suffix.lower() in FORMATS and not name.startswith((".", "~$")) and name not in _OURS:
                yield _entry(top, folder / name)


def _walk(top: Path) -> Iterator[tuple[Path, list[str], list[str]]]:
    import os

    for folder, names, files in os.walk(top):
        yield Path(folder), names, files


def _entry(top: Path, path: Path) -> Entry:
    shown = path.relative_to(top).as_posix()
    parts = Path(shown).parts
    return Entry(path=str(path.resolve()), shown=shown or path.name, district=parts[0] if len(parts) > 1 else "")


def _listed(source: Path) -> tuple[Entry, ...]:
    try:
        lines = source.read_text("utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError.of(
            f"the list cannot be read: {error}", needed="a text file with a path a line", do_next="save it as UTF-8",
            file=source.name,
        ) from None  # fmt: skip
    rows = [(number, cells) for number, cells in enumerate(csv.reader(lines), start=1) if any(map(str.strip, cells))]
    heads = [folded(cell) for cell in rows[0][1]] if rows else []
    at = {name: heads.index(name) for name in ("path", "district") if name in heads}
    if "path" in at:
        rows = rows[1:]
    made, faults = [], []
    for number, cells in rows:
        told = cells[at.get("path", 0)].strip() if len(cells) > at.get("path", 0) else ""
        path = source.parent / told
        if not told or not path.exists():
            faults.append(
                Fault(found=f"there is no {told[:120]!r}", needed="the path of a site, as seen from the list",
                      do_next="correct the line", file=source.name, row=number)
            )  # fmt: skip
            continue
        district = cells[at["district"]].strip() if "district" in at and len(cells) > at["district"] else ""
        made.append(Entry(path=str(path.resolve()), shown=Path(told).as_posix(), district=district))
    if faults:
        refuse(faults)
    return tuple({entry.path: entry for entry in sorted(made, key=_by_name)}.values())


def sha256_of(path: Path) -> str:
    """Checksum of a site: of every file it may be read from, with their names; nothing of times or places."""
    digest = hashlib.sha256()
    files = [path] if path.is_file() else sorted(p for p in path.rglob("*") if p.is_file())
    for file in files:
        name = file.relative_to(path).as_posix() if path.is_dir() else file.suffix
        data = file.read_bytes()
        digest.update(f"{name}\0{len(data)}\0".encode())
        digest.update(data)
    return digest.hexdigest()
