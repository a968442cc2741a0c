"""Which reader takes a file: by its extension, and only if the content is what the extension promises."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

from siting.errors import InputError
from siting.io.records import Document, Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """One kind of file."""

    module: str
    "Reader within `siting.io`, imported when needed; its `read` takes a Document and gives a Reading."
    content: tuple[str, ...]
    "What `content` may say of it."
    default: str = "receiver"
    "Key of `uncertainty.UNSTATED` where no accuracy is stated."
    words: str


FORMATS = {
    ".geojson": Format(module="geojson", content=("json",), words="GeoJSON"),
    ".json": Format(module="geojson", content=("json",), words="GeoJSON"),
    ".csv": Format(module="csv", content=("text",), words="a table as text"),
    ".tsv": Format(module="csv", content=("text",), words="a table as text"),
    ".txt": Format(module="csv", content=("text",), words="a table as text"),
    ".gpx": Format(module="gpx", content=("xml gpx",), words="GPX"),
    ".kml": Format(module="kml", content=("xml kml",), default="imagery", words="KML"),
    ".kmz": Format(module="kml", content=("zip",), default="imagery", words="KMZ, a zipped KML"),
    ".xlsx": Format(module="xlsx", content=("zip",), words="an XLSX workbook"),
    ".gpkg": Format(module="vector", content=("sqlite",), words="a GeoPackage"),
    ".shp": Format(module="vector", content=("shapefile",), words="a shapefile"),
    ".fgb": Format(module="vector", content=("flatgeobuf",), words="FlatGeobuf"),
    ".dxf": Format(module="dxf", content=("text", "binary"), default="drawing", words="a DXF drawing"),
}
"A further format is one line here and a module with `read`."

DRAWINGS = (".dwg", ".dgn")


def format_of(document: Document) -> Format:
    """The format of a file; raises InputError when it is unknown or the content is something else."""
    extension = document.path.suffix.lower()
    found = FORMATS.get(extension)
    if extension in DRAWINGS:
        raise InputError(
            document.fault(
                f"drawings named {extension} are not read",
                needed="a drawing in an open format, or points and outlines with coordinates",
                do_next="save as DXF in the drawing program, or export the layers as GeoJSON or GeoPackage",
            )
        )
    if found is None:
        raise InputError(
            document.fault(
                f"the extension {extension!r} is not known",
                needed=f"one of {' '.join(FORMATS)}",
                do_next="export the file in one of these formats",
            )
        )
    if not document.data.strip():
        raise InputError(
            document.fault("the file is empty", needed=found.words, do_next="export or copy the file again")
        )
    held = content(document.data)
    if held not in found.content:
        raise InputError(
            document.fault(
                f"named {extension} but the content is {_said(held)}",
                needed=found.words,
                do_next="give the file its right extension, or export it again",
            )
        )
    return found


def read_document(document: Document) -> tuple[Reading, Format]:
    """The records of a file, and its format."""
    found = format_of(document)
    read: Callable[[Document], Reading] = import_module(f"siting.io.{found.module}").read
    try:
        return read(document), found
    except RecursionError:
        raise InputError(
            document.fault("nested deeper than any map is", needed=found.words, do_next="export the file again")
        ) from None


_WORDS = {
    "json": "JSON",
    "text": "plain text",
    "zip": "a zip archive",
    "sqlite": "an SQLite database",
    "shapefile": "a shapefile",
    "flatgeobuf": "FlatGeobuf",
    "binary": "binary and unknown",
    "xml": "XML",
}


def _said(held: str) -> str:
    if held.startswith("xml "):
        return f"XML with the root element {held[4:44]!r}"
    return _WORDS[held]


_ROOT = re.compile(rb"<([A-Za-z_][\w.-]*:)?([A-Za-z_][\w.-]*)")


def content(data: bytes) -> str:
    """What the first bytes say a file is: `xml` is followed by the name of its root element."""
    if data.startswith(b"SQLite format 3\0"):
        return "sqlite"
    if data.startswith(b"\x00\x00\x27\x0a"):
        return "shapefile"
    if data.startswith(b"fgb\x03"):
        return "flatgeobuf"
    if data.startswith(b"PK\x03\x04"):
        return "zip"
    head = _narrow(data[:20_000])
    if head.startswith(b"<"):
        return _xml(head)
    if head.startswith((b"{", b"[")):
        return "json"
    return "binary" if b"\0" in head else "text"


def _narrow(head: bytes) -> bytes:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")) or head[:40].count(0) > 10:
        head = head.replace(b"\0", b"")
    for mark in (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff"):
        head = head.removeprefix(mark)
    return head.lstrip()


def _xml(head: bytes) -> str:
    bare = re.sub(rb"<\?.*?\?>|<!--.*?-->", b"", head, flags=re.DOTALL)
    bare = re.sub(rb"<!DOCTYPE[^>\[]*(\[.*?\])?[^>]*>", b"", bare, flags=re.DOTALL)
    root = _ROOT.search(bare)
    return f"xml {root[2].decode('ascii', 'replace').lower()}" if root else "xml"
