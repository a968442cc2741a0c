"""From a folder or a file to a `Site`: the one way in."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from siting.errors import InputError, SitingError
from siting.finding import Finding
from siting.io.assemble import on_plane
from siting.io.doubts import Opened, examined, with_findings
from siting.io.faults import refuse_errors
from siting.io.features import Gathered, gathered
from siting.io.formats import FORMATS, format_of, read_document
from siting.io.ground import HEIGHTS, LEVELS, HeightTable, read_heights, spot_heights, water_levels
from siting.io.limits import Limits
from siting.io.records import Document
from siting.io.site_file import SiteFile, parsed
from siting.io.stated import Stated
from siting.io.text import decoded
from siting.site import Feature, Ground, Notice, Request, Site

SITE_FILE = "site.toml"
_NOT_SOURCES = (
    "results.json", "compliance.csv", "compliance.xlsx", "setout.csv", "setout-checks.csv", "setout.gpx", "setout.dxf",
    "as-built.csv",
)  # fmt: skip
"What this program writes; in a folder of inputs they are left alone."
_COMPANIONS = (".toml", ".md", ".txt", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".html", ".pdf", ".svg")


def read_site(path: Path | str, *, limits: Limits | None = None, assume_crs: str | None = None) -> Site:
    """All that a folder with a `site.toml`, or one file, tells of a site.

    `assume_crs` holds for files that name no coordinate reference system.
    Raises InputError with every fault of the files at once.
    """
    limits = limits or Limits()
    found = existing(path)
    if found.is_file() and found.name == SITE_FILE:
        found = found.parent
    if found.is_dir():
        return _read_folder(found, limits=limits, assume_crs=assume_crs)
    document = _document(found, name=found.name, limits=limits, assumed_crs=assume_crs)
    said = parsed("", file=SITE_FILE)
    return _examined_site([_taken_apart(document, Stated(file=found.name))], {}, [], name=found.stem, said=said)


def existing(path: Path | str, *, needed: str = "a folder with a site.toml, or one file on this machine") -> Path:
    """The real path of a folder or an ordinary file that is there; never a URL, a device or text in its place."""
    shown = str(path)[:200]
    try:
        found = Path(path).resolve(strict=True)
    except (OSError, ValueError, RuntimeError):
        raise InputError.of(
            f"there is no file or folder {shown!r}",
            needed=needed,
            do_next="check the spelling and the folder you are in",
        ) from None
    if not (found.is_dir() or found.is_file()):
        raise InputError.of(
            f"{shown!r} is neither a folder nor an ordinary file",
            needed="a folder with a site.toml, or one file",
            do_next="copy the data into an ordinary file",
        )
    return found


def _document(
    path: Path,
    *,
    name: str,
    limits: Limits,
    stated_crs: str | None = None,
    assumed_crs: str | None = None,
    accept: tuple[str, ...] = (),
) -> Document:
    try:
        size = path.stat().st_size
        if size > limits.file_bytes:
            raise InputError.of(
                f"the file holds {size} bytes",
                needed=f"at most {limits.file_bytes} bytes",
                do_next="cut out the part around the site, or raise Limits.file_bytes",
                file=name,
            )
        data = path.read_bytes()
    except OSError as error:
        raise InputError.of(
            f"the file cannot be read: {error.strerror}",
            needed="a file this user may read",
            do_next="check its permissions and the disk",
            file=name,
        ) from None
    return Document(
        path=path, name=name, data=data, limits=limits, stated_crs=stated_crs, assumed_crs=assumed_crs, accept=accept
    )


def _taken_apart(document: Document, stated: Stated) -> Opened:
    if format_of(document).module == "dxf":
        return _drawing(document, stated)
    reading, found = read_document(document)
    return Opened(document=document, stated=stated, reading=reading, default=found.default)


def _drawing(document: Document, stated: Stated) -> Opened:
    from siting.io.dxf import read_drawing

    drawing = read_drawing(
        document, unit=stated.unit, known_length=stated.known_length, kinds=stated.kinds, kind=stated.kind
    )
    return Opened(
        document=document,
        stated=stated,
        reading=drawing.reading,
        default=format_of(document).default,
        unit_m=drawing.unit_m,
    )


def _read_folder(folder: Path, *, limits: Limits, assume_crs: str | None) -> Site:
    if not (folder / SITE_FILE).is_file():
        raise InputError.of(
            f"the folder {folder.name!r} has no {SITE_FILE}",
            needed=f"a {SITE_FILE} beside the files of the site",
            do_next=f"make one with: siting new {folder.name}   (or give one single file)",
        )
    document = _document(folder / SITE_FILE, name=SITE_FILE, limits=limits)
    text, _ = decoded(document)
    said = parsed(text, file=SITE_FILE)
    assumed = said.crs or assume_crs

    errors: list[SitingError] = []
    files: list[Opened] = []
    for stated in said.sources or [Stated(file=name) for name in _data_files(folder, said)]:
        try:
            document = _opened(
                folder, stated.file, limits=limits, stated_crs=stated.crs, assumed_crs=assumed, accept=said.accept
            )
            files.append(_taken_apart(document, stated))
        except SitingError as error:
            errors.append(error)
    tables: dict[str, HeightTable] = {}
    for role, name in ((LEVELS, said.levels_file), (HEIGHTS, said.spot_heights_file)):
        try:
            if name:
                document = _opened(folder, name, limits=limits, assumed_crs=assumed, accept=said.accept)
                tables[role] = read_heights(document, role=role)
        except SitingError as error:
            errors.append(error)
    if not files and not errors:
        raise InputError.of(
            f"no file to read in the folder {folder.name!r} (there: {_listed(folder)})",
            needed=f"one of {' '.join(FORMATS)}",
            do_next="put the points of the site into the folder",
        )
    return _examined_site(files, tables, errors, name=folder.name, said=said, unread=_unread(folder, said))


def _examined_site(
    files: list[Opened],
    tables: dict[str, HeightTable],
    errors: list[SitingError],
    *,
    name: str,
    said: SiteFile,
    unread: tuple[str, ...] = (),
) -> Site:
    """The site, with what is doubtful about its files; a doubt is told before the fault that it explains."""
    seen = examined(files, tables, accept=said.accept, near=said.near)
    parts: list[Gathered] = []
    for each in seen.files:
        try:
            parts.append(
                gathered(
                    each.reading, each.document, stated=each.stated, default=each.default, unit_m=each.unit_m
                )
            )  # fmt: skip
        except SitingError as error:
            errors.append(error)
    if not errors:
        try:
            return _site(parts, name=name, said=said, tables=seen.tables, unread=unread, findings=seen.findings)
        except SitingError as error:
            errors.append(error)
    if len(errors) == 1 and not any(finding.stops for finding in seen.findings):
        raise errors[0]
    if not any(finding.stops for finding in seen.findings):
        refuse_errors(errors)
    raise InputError(*with_findings(errors, seen.findings))


def _opened(
    folder: Path,
    name: str,
    *,
    limits: Limits,
    stated_crs: str | None = None,
    assumed_crs: str | None = None,
    accept: tuple[str, ...] = (),
) -> Document:
    """A file named in `site.toml`, which must lie in the folder."""
    try:
        path = (folder / name).resolve()
        inside = path.is_relative_to(folder)
        there = inside and path.is_file()
    except (OSError, ValueError, RuntimeError):
        inside, there = True, False
    if not inside:
        raise InputError.of(
            f"file = {name!r} leads out of the folder",
            needed="a file inside the folder of the site",
            do_next="copy the file into the folder and name it there",
            file=SITE_FILE,
        )
    if not there:
        raise InputError.of(
            f"there is no file {name[:200]!r}",
            needed=f"one of the files that are there: {_listed(folder)}",
            do_next="correct the name, or put the file into the folder",
            file=SITE_FILE,
        )
    return _document(
        path, name=name, limits=limits, stated_crs=stated_crs, assumed_crs=assumed_crs, accept=accept
    )  # fmt: skip


def _listed(folder: Path) -> str:
    names = sorted(path.name for path in folder.iterdir() if path.is_file() and path.name != SITE_FILE)
    return ", ".join(names[:30]) + (f" and {len(names) - 30} more" if len(names) > 30 else "") or "none"


def _visible(folder: Path) -> list[str]:
    return sorted(
        path.name
        for path in folder.iterdir()
        if path.is_file() and not path.name.startswith((".", "~$")) and path.name not in _NOT_SOURCES
    )


def _data_files(folder: Path, said: SiteFile) -> list[str]:
    others = {said.levels_file, said.spot_heights_file}
    return [
        name
        for name in _visible(folder)
        if Path(name).suffix.lower() in FORMATS and Path(name).suffix.lower() != ".txt" and name not in others
    ]


def _unread(folder: Path, said: SiteFile) -> tuple[str, ...]:
    # What is there and was not looked at has to be said.
    read = {source.file for source in said.sources} or set(_data_files(folder, said))
    read |= {said.levels_file or "", said.spot_heights_file or ""}
    return tuple(name for name in _visible(folder) if name not in read and Path(name).suffix.lower() not in _COMPANIONS)


def _site(
    parts: Iterable[Gathered],
    *,
    name: str,
    said: SiteFile,
    tables: Mapping[str, HeightTable],
    unread: tuple[str, ...],
    findings: tuple[Finding, ...],
) -> Site:
    parts = tuple(parts)
    given = [feature for part in parts for feature in part.features]
    plan = next((part.sources[0].name for part in parts if not part.on_earth), None)
    laid = on_plane(given, accept=said.accept, plan=plan)
    frame, features = laid.frame, laid.features
    if plan is not None:
        _refuse_on_plan(plan, tables, near=said.near is not None)
    _served(said.requests, features)
    ground: Ground = replace(
        said.ground,
        levels=water_levels(tables[LEVELS], frame=frame) if LEVELS in tables else (),
        spot_heights=spot_heights(tables[HEIGHTS], frame=frame) if HEIGHTS in tables else (),
    )
    notices = [notice for part in parts for notice in part.notices]
    notices += _numbered(given, features)
    notices += [_alone(plan)] if plan is not None else []
    notices += [
        Notice(code="file-not-read", message=f"{file} is in the folder and was not read", file=file) for file in unread
    ]
    return Site(
        name=said.name or name,
        frame=frame,
        features=features,
        sources={source.name: source for part in parts for source in part.sources},
        packs=said.rules,
        confidence=said.confidence,
        survey=said.survey,
        absent=said.absent,
        requests=said.requests,
        ground=ground,
        wind_from_percent=said.wind_from_percent,
        notices=tuple(notices),
        findings=(*findings, *laid.findings),
        accept=said.accept,
    )


def _refuse_on_plan(plan: str, tables: Mapping[str, HeightTable], *, near: bool) -> None:
    beside = [table.document.name for table in tables.values()] + ["near in site.toml"] * near
    if beside:
        raise InputError.of(
            f"the drawing has no place on earth, and stands beside {', '.join(beside)}",
            needed="control points that tie the drawing to the ground",
            do_next="add control points to its [[source]] in site.toml, or leave the others out",
            file=plan,
        )


def _alone(plan: str) -> Notice:
    return Notice(
        code="no-place-on-earth",
        message="the drawing has no control points: all is given in its own metres, and bearings and winds are "
        "taken as if up on the drawing were north",
        file=plan,
    )


def _served(requests: tuple[Request, ...], features: tuple[Feature, ...]) -> None:
    names = [feature.name for feature in features]
    for request in requests:
        if request.serve_from is not None and request.serve_from not in names:
            raise InputError.of(
                f"serve_from = {request.serve_from!r}, but no feature has that name",
                needed=f"one of {', '.join(names[:30])}",
                do_next="correct the name, or add the feature",
                file=SITE_FILE,
            )


def _numbered(given: list[Feature], features: tuple[Feature, ...]) -> list[Notice]:
    changed = [new.name for old, new in zip(given, features, strict=True) if old.name and old.name != new.name]
    if not changed:
        return []
    return [
        Notice(
            code="name-repeated",
            message=f"repeated names were numbered: {', '.join(changed[:10])}"
            + (f" and {len(changed) - 10} more" if len(changed) > 10 else ""),
        )
    ]
