"""Comma-separated text, also with semicolons or tabs."""

import csv
from dataclasses import replace

from siting.errors import InputError
from siting.io.headings import FEATURE_ROLES, headings
from siting.io.records import Document, Reading
from siting.io.table import DECIMAL_COMMA, Sheet, records, sheet
from siting.io.text import decoded

LONGEST_CELL = 20_000_000
"A boundary as well-known text may be long; the standard library stops at 131,072 characters."
_WORDS = {",": "commas", ";": "semicolons", "\t": "tabs"}


def read(document: Document) -> Reading:
    """The records of a table in a text file."""
    table, notes = read_sheet(document)
    reading = records(document, table)
    return replace(reading, notes=(*notes, *reading.notes))


def read_sheet(document: Document, *, roles: tuple[str, ...] = FEATURE_ROLES) -> tuple[Sheet, tuple[str, ...]]:
    """The table of a text file, and notes."""
    text, notes = decoded(document)
    hint, text = _separator_line(text)
    delimiter = hint or _delimiter(text, roles)
    previous = csv.field_size_limit(LONGEST_CELL)
    try:
        rows = list(csv.reader(text.splitlines(keepends=True), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise InputError(
            document.fault(
                f"the table breaks off: {error}",
                needed="rows of cells, every quotation mark closed",
                do_next="open it in a spreadsheet, look for a lone quotation mark, and save it again",
            )
        ) from None
    finally:
        csv.field_size_limit(previous)
    table = sheet(
        ([] if not hint else [[""]]) + rows, decimal_comma=delimiter != "," or document.accepts(DECIMAL_COMMA)
    )
    if table is None:
        raise InputError(
            document.fault("no rows", needed="a heading row and one row a feature", do_next="export the table again")
        )
    said = () if delimiter == "," else (f"cells separated by {_WORDS[delimiter]}",)
    return table, (*notes, *said)


def _separator_line(text: str) -> tuple[str, str]:
    # Spreadsheets write "sep=;" above a table to tell each other how it is separated.
    first, _, rest = text.partition("\n")
    mark = first.strip().strip('"').lower()
    if mark.startswith("sep=") and mark[4:] in _WORDS:
        return mark[4:], rest
    return "", text


def _delimiter(text: str, roles: tuple[str, ...]) -> str:
    line = next((line for line in text.splitlines() if line.strip()), "")

    def worth(delimiter: str) -> tuple[int, int]:
        cells = next(csv.reader([line], delimiter=delimiter), [])
        return len(headings(cells, roles=roles).column), len(cells)

    return max(_WORDS, key=worth)
