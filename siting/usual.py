"""One table of the values that people usually type, and what a value outside it was perhaps meant to be.

The ranges are project judgement: wide enough for every published example in the tests, narrow enough to
catch a slipped decimal point or the wrong unit.
A value outside is refused with the readings that would fit; it is never repaired.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from siting.errors import Fault, InputError

_LENGTH = (
    (0.001, "if it was typed in millimetres"),
    (0.01, "if it was typed in centimetres"),
    (0.3048, "if it was typed in feet"),
    (100.0, "if the decimal point slipped"),
    (25.4, "if inches were read as millimetres"),
)
_SHARE = ((0.01, "if it was typed in percent"),)
_DAILY = ((12 / 365.25, "if it was counted by the month"), (1 / 365.25, "if it was counted by the year"))
_CONDUCTIVITY = ((86400.0, "if it was typed in m/s"), (864.0, "if it was typed in cm/s"))
_YEARS = ((1 / 12, "if it was typed in months"), (1 / 365.25, "if it was typed in days"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """The usual range of one quantity, its unit, and the slips it suffers from."""

    low: float
    high: float
    unit: str
    slips: tuple[tuple[float, str], ...] = ()
    "Factor from the typed value to the meant one, and when it applies."
    instead: str = ""
    "What to do when the typed value is meant."


USUAL: Mapping[str, Usual] = MappingProxyType(
    {
        "births_per_day": Usual(low=0.03, high=200.0, unit="births a day", slips=_DAILY),
        "users": Usual(low=1.0, high=2000.0, unit="persons"),
        "life_years": Usual(low=0.1, high=50.0, unit="years", slips=_YEARS),
        "litres_per_birth": Usual(low=0.5, high=50.0, unit="litres", slips=((1000.0, "if it was typed in m3"),)),
        "litres_per_month": Usual(low=0.1, high=20000.0, unit="litres a month"),
        "pit_diameter_m": Usual(low=0.5, high=6.0, unit="m", slips=_LENGTH),
        "pit_m": Usual(low=0.5, high=6.0, unit="m", slips=_LENGTH),
        "enclosure_m": Usual(low=0.8, high=60.0, unit="m", slips=_LENGTH),
        "pit_depth_m": Usual(low=0.3, high=12.0, unit="m", slips=_LENGTH),
        "freeboard_m": Usual(low=0.1, high=1.5, unit="m", slips=_LENGTH),
        "wall_m": Usual(low=0.05, high=0.8, unit="m", slips=_LENGTH),
        "vent_pipe_m": Usual(low=0.05, high=0.3, unit="m", slips=_LENGTH),
        "door_m": Usual(low=0.5, high=2.5, unit="m", slips=_LENGTH),
        "conductivity_m_per_day": Usual(
            low=0.01,
            high=5000.0,
            unit="m/day",
            slips=_CONDUCTIVITY,
            instead="if the ground is as tight as that, name the material ('clay', 'deep clay', 'till')",
        ),
        "porosity": Usual(low=0.001, high=0.6, unit="as a share of 1", slips=_SHARE),
    }
)


def checked(quantity: str, value: float) -> float:
    """The value itself, when it lies in the usual range of its quantity; else an error with other readings.

    >>> checked("wall_m", 0.23)
    0.23
    """
    usual = USUAL[quantity]
    if usual.low <= value <= usual.high:
        return value
    readings = _readings(usual, value)
    meant = f"did you mean {'; or '.join(readings)}? " if readings else ""
    raise InputError.of(
        f"{quantity} is {_printed(value, usual.unit)}",
        needed=f"{quantity} between {usual.low:g} and {usual.high:g} {usual.unit}",
        do_next=f"{meant}Write the value in {usual.unit.removeprefix('as ')}"
        + (f"; {usual.instead}" if usual.instead else ""),
    )


def positive(**values: float) -> None:
    """Refuses, all at once, every value that is not a finite number above zero."""
    faults = [
        Fault(
            found=f"{name} is {value:g}",
            needed=f"{name} above zero",
            do_next=f"give {name} as a number above zero, in the unit its name ends with",
        )
        for name, value in values.items()
        if not (math.isfinite(value) and value > 0)
    ]
    if faults:
        raise InputError(*faults)


def not_negative(**values: float) -> None:
    """Refuses, all at once, every value that is not a finite number of zero or more."""
    faults = [
        Fault(
            found=f"{name} is {value:g}",
            needed=f"{name} of zero or more",
            do_next=f"give {name} as a number, without a minus sign",
        )
        for name, value in values.items()
        if not (math.isfinite(value) and value >= 0)
    ]
    if faults:
        raise InputError(*faults)


def _readings(usual: Usual, value: float) -> list[str]:
    return [
        f"{_printed(value * factor, usual.unit)}, {slip}"
        for factor, slip in usual.slips
        if usual.low <= value * factor <= usual.high
    ]


def _printed(value: float, unit: str) -> str:
    text = f"{value:.4g} {unit}"
    return f"{text} ({value * 1000:.4g} mm)" if unit == "m" and abs(value) < 1 else text
