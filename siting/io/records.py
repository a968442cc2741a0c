"""What a reader hands on: plain records in the file's own coordinates, and what it noticed on the way.

Readers only take files apart.
Words become kinds and numbers become uncertainties in one place for all formats (`features`).
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shapely.geometry.base import BaseGeometry

from siting.errors import Fault
from siting.finding import Finding, FindingFault, accepts, address
from siting.io.limits import Limits
from siting.site import Notice

WGS84 = "EPSG:4326"


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """One file, read into memory once, with what the site says about it."""

    path: Path
    name: str
    "As it is shown: the path within the site's folder."
    data: bytes
    limits: Limits = field(default_factory=Limits)
    stated_crs: str | None = None
    "CRS given for this very file; it overrides what the file says."
    assumed_crs: str | None = None
    "CRS given for the whole site; it counts where a file says nothing."

    accept: tuple[str, ...] = ()
    "Findings that somebody accepts."

    @property
    def sha256(self) -> str:
        """Checksum of the file."""
        return hashlib.sha256(self.data).hexdigest()

    def fault(self, found: str, *, needed: str, do_next: str, row: int | None = None) -> Fault:
        """A fault of this file."""
        return Fault(found=found, needed=needed, do_next=do_next, file=self.name, row=row)

    def doubt(
        self, code: str, found: str, *, needed: str, do_next: str, row: int | None = None, accept: str = ""
    ) -> FindingFault:
        """A fault of this file that the doctor knows; `accept` is what accepting it would do."""
        text = address(accept, file=self.name) if accept else ""
        held = Finding(
            code=code, seen=found, file=self.name, row=row, repair=do_next, accept=text, stops=True
        )  # fmt: skip
        way = f"; or accept it with this line in site.toml: {held.accept_line}" if text else ""
        return FindingFault(
            found=found, needed=needed, do_next=do_next + way, file=self.name, row=row, finding=held
        )  # fmt: skip

    def accepts(self, words: str) -> bool:
        """Whether somebody accepts this for the whole of the file."""
        return accepts(self.accept, address(words, file=self.name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One feature as its file has it: nothing recognised, nothing projected."""

    geometry: BaseGeometry
    "In the coordinates of `crs`: x or longitude first."
    crs: str = WGS84
    layer: str = ""
    row: int | None = None
    name: str = ""
    kind: str = ""
    "The word the file uses."
    hints: tuple[str, ...] = ()
    "Words that may tell the kind where none is given: a folder, a layer, a symbol."
    accuracy_m: object = None
    accuracy_level: object = None
    status: object = None
    seen_on: object = None
    radius_m: object = None
    ground_level_m: object = None
    decimals: float | None = None
    "Decimal places of the coordinates as written; None lets the numbers speak for themselves."
    attributes: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """All that one file gave."""

    records: tuple[Record, ...] = ()
    notes: tuple[str, ...] = ()
    notices: tuple[Notice, ...] = ()
    faults: tuple[Fault, ...] = ()
    findings: tuple[Finding, ...] = ()
