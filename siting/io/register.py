"""The register of pits as it stands, so that a row can be added without losing another."""

from pathlib import Path

from siting.errors import InputError
from siting.io.csv import read_sheet
from siting.io.records import Document


def read_register(path: Path) -> tuple[dict[str, str], ...]:
    """Its rows by heading; none where there is no register yet.

    Raises InputError where it is no register, so that nothing is ever written over another table.
    """
    if not path.is_file():
        return ()
    document = Document(path=path, name=path.name, data=path.read_bytes())
    table, _ = read_sheet(document)
    if "name" not in table.names or "kind" not in table.names:
        raise InputError(
            document.fault(
                "a table without the headings name and kind",
                needed="a register of pits",
                do_next="name another file with --register",
                row=1,
            )
        )
    rows = (table.properties(cells) for _, cells in table.rows)
    return tuple({key: "" if cell is None else str(cell) for key, cell in row.items()} for row in rows)
