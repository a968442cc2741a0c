"""Bytes to text, saying which encoding was taken."""

import codecs

from siting.errors import Fault, InputError
from siting.io.records import Document

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def decoded(document: Document) -> tuple[str, tuple[str, ...]]:
    """The text of a file, and a note where its encoding had to be guessed.

    UTF-8 and UTF-16 are recognised; anything else is read as Windows-1252, which is said.
    """
    data = document.data
    marked = next((name for mark, name in _MARKS if data.startswith(mark)), None)
    try:
        return _checked(document, data.decode(marked or _unmarked(data))), ()
    except UnicodeDecodeError as error:
        if marked:
            raise InputError(_not_text(document, f"the text breaks off at byte {error.start}")) from None
    text = data.decode("cp1252", errors="replace")
    return _checked(document, text), ("read as Windows-1252 text, as it is not UTF-8: check accented letters",)


def _checked(document: Document, text: str) -> str:
    if "\0" in text:
        raise InputError(_not_text(document, "NUL characters in it"))
    return text


def _unmarked(data: bytes) -> str:
    # Plain letters in UTF-16 have a zero in every other byte.
    head = data[:400]
    if len(head) >= 4 and head[1::2].count(0) > 0.6 * len(head[1::2]):
        return "utf-16-le"
    if len(head) >= 4 and head[0::2].count(0) > 0.6 * len(head[0::2]):
        return "utf-16-be"
    return "utf-8"


def _not_text(document: Document, found: str) -> Fault:
    return document.fault(
        f"not readable as text: {found}",
        needed="a text file in UTF-8",
        do_next="save it again as UTF-8 text, or check that the file was copied whole",
    )
