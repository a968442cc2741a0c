"""How much a file may hold before reading stops."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Ceilings that keep a hostile or mistaken file from filling the memory; each can be raised."""

    file_bytes: int = 200_000_000
    "Size of one file on disk."
    features: int = 200_000
    "Features of one file."
    vertices: int = 5_000_000
    "Vertices of all geometries of one file."
    unpacked_bytes: int = 500_000_000
    "Size of a KMZ or XLSX once unpacked."
    unpack_ratio: float = 200.0
    "Unpacked size over packed size of one member of a KMZ or XLSX."
    members: int = 1_000
    "Files inside a KMZ or XLSX."
    cells: int = 5_000_000
    "Rows times columns of one sheet of a workbook, empty cells between them included."
    name_length: int = 300
    "Characters of a feature's name."
