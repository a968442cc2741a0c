"""XLSX workbooks: the first sheet whose headings give positions."""

import io
import re
from dataclasses import replace

from siting.errors import Fault, InputError
from siting.io.archive import opened, unpacked
from siting.io.headings import FEATURE_ROLES, headings
from siting.io.records import Document, Reading
from siting.io.table import DECIMAL_COMMA, Sheet, places, records, sheet


def read(document: Document) -> Reading:
    """The records of a workbook."""
    table, notes = read_sheet(document)
    reading = records(document, table)
    return replace(reading, notes=(*notes, *reading.notes))


def read_sheet(document: Document, *, roles: tuple[str, ...] = FEATURE_ROLES) -> tuple[Sheet, tuple[str, ...]]:
    """The first sheet with headings of position, and notes naming the others."""
    found = _sheets(document)
    if not found:
        raise InputError(
            document.fault("no rows", needed="a heading row and one row a feature", do_next="fill the first sheet")
        )
    fit = next((each for each in found if places(headings(each.names, roles=roles))), found[0])
    others = [each.layer for each in found if each is not fit]
    notes = (f"sheet {fit.layer!r} read",) if others else ()
    return fit, (*notes, *(f"sheet {name!r} not read" for name in others))


def _sheets(document: Document) -> list[Sheet]:
    import python_calamine

    # Every member is unpacked once under count, because the directory of an archive may lie about sizes.
    archive = opened(document)
    for name in archive.namelist():
        _sane_extent(document, unpacked(document, archive, name), is_xml=name.lower().endswith(".xml"))
    if "xl/workbook.xml" not in archive.namelist():
        raise InputError(
            document.fault("a zip archive without a workbook", needed="XLSX", do_next="save it as XLSX again")
        )
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(document.data))
        pages = [
            # empty rows at the top count: row numbers are those a spreadsheet shows
            sheet(
                book.get_sheet_by_name(name).to_python(skip_empty_area=False),
                layer=name,
                decimal_comma=document.accepts(DECIMAL_COMMA),
            )
            for name in book.sheet_names
        ]
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        raise InputError(
            document.fault(
                f"the workbook cannot be read: {str(error)[:120]}",
                needed="a whole XLSX without a password",
                do_next="open it in a spreadsheet and save it as XLSX again",
            )
        ) from None
    return [page for page in pages if page is not None]


_REFERENCE = re.compile(rb"""[\s:]r\s*=\s*(["'])(.*?)\1""", re.DOTALL)
_CELL = re.compile(rb"([A-Za-z]*)([0-9]+)")


def _sane_extent(document: Document, part: bytes, *, is_xml: bool) -> None:
    """Refuse a sheet whose farthest cell spans more than the limit.

    The reader allots every cell up to the farthest one at once: a single stray cell in the last corner
    would take 400 GB and end the process.
    """
    if is_xml and (part.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in part[:100]):
        raise InputError(_too_wide(document, "parts that are not UTF-8"))
    columns = rows = 1
    for found in _REFERENCE.finditer(part):
        cell = _CELL.fullmatch(found[2])
        if cell is None:
            continue  # the radius of a circle in a picture, say
        if len(found[2]) > 20:
            raise InputError(_too_wide(document, "a cell reference too long to be one"))
        letters = cell[1].upper()
        columns = max(columns, sum((ord(letters[-1 - n : len(letters) - n]) - 64) * 26**n for n in range(len(letters))))
        rows = max(rows, int(cell[2]))
    if columns * rows > document.limits.cells:
        raise InputError(_too_wide(document, f"a sheet of {columns} columns and {rows} rows"))


def _too_wide(document: Document, found: str) -> Fault:
    return document.fault(
        found,
        needed=f"sheets of at most {document.limits.cells} cells, counted to the farthest one",
        do_next="delete the stray cells below and beside the table and save it again, or raise Limits.cells",
    )
