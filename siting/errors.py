"""What can be wrong with the things people hand over, said in three parts.

Every error says what was found and where, what was needed, and what to do next.
The message is for people; the attributes are for programs.
Anything that is not a `SitingError` is a defect of this program and shows its traceback.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong: what was found and where, what was needed, what to do next."""

    found: str
    needed: str
    do_next: str
    file: str | None = None
    row: int | None = None
    "Row of a table (the heading is row 1), or the position of a feature in its layer, counted from 1."

    def __str__(self) -> str:
        return f"{self.where}{self.found}\n  needed: {self.needed}\n  do next: {self.do_next}"

    @property
    def where(self) -> str:
        """The file and row as a prefix, or nothing."""
        if self.file is None:
            return ""
        return f"{self.file}: " if self.row is None else f"{self.file}, row {self.row}: "


class SitingError(Exception):
    """Base of every error this package raises on purpose.

    Holds one or more faults, so that somebody can mend a whole sheet in one go.
    """

    def __init__(self, *faults: Fault):
        super().__init__(*faults)
        self.faults = faults

    @classmethod
    def of(
        cls, found: str, *, needed: str, do_next: str, file: str | None = None, row: int | None = None
    ) -> "SitingError":
        """An error with a single fault."""
        return cls(Fault(found=found, needed=needed, do_next=do_next, file=file, row=row))

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class InputError(SitingError):
    """A file or a value that was handed in cannot be used as it is."""


class DatumError(InputError):
    """Coordinates cannot be brought to WGS 84 with a stated accuracy."""


class PackError(SitingError):
    """A pack of rules does not load: the fault names file, rule and key."""


class NoPlaceError(SitingError):
    """A question that has no meaning on this site, such as ground inside a boundary that is not drawn."""


class OutputError(SitingError):
    """A result cannot be written where it was asked for."""
