"""Faults are collected while reading and raised together, so that a sheet is mended in one go."""

from collections.abc import Iterable
from typing import NoReturn

from siting.errors import DatumError, Fault, InputError, SitingError

SHOWN = 20


def refuse(faults: Iterable[Fault], *, error: type[SitingError] = InputError) -> NoReturn:
    """Raise all faults at once; beyond the first twenty only their number is told."""
    found = tuple(faults)
    if len(found) > SHOWN:
        rest = Fault(
            found=f"... and {len(found) - SHOWN} more",
            needed="the same as above",
            do_next="mend those listed first and run again",
            file=found[0].file,
        )
        found = (*found[:SHOWN], rest)
    raise error(*found)


def refuse_errors(errors: Iterable[SitingError]) -> NoReturn:
    """Raise the faults of several errors as one: a `DatumError` when nothing else is wrong."""
    held = tuple(errors)
    kind = DatumError if all(isinstance(error, DatumError) for error in held) else InputError
    refuse((fault for error in held for fault in error.faults), error=kind)
