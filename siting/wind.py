"""How often the wind carries smoke from one place to another."""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, isfinite

from siting.errors import InputError

NAMES_16 = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)
NAMES_8 = NAMES_16[::2]
CALM = "calm"
SUM_TOLERANCE_PERCENT = 1.0
"Sixteen shares rounded to a tenth add up to within 0.8 of 100."


@dataclass(frozen=True, slots=True, kw_only=True)
class Rose:
    """Share of all hours [percent] that the wind blows *from* each of 8 or 16 sectors, and that it is calm.

    Source: AMS *Glossary of Meteorology*, "wind rose" (seen): 8 or 16 lines, calms given separately.
    """

    shares_percent: tuple[float, ...]
    "Clockwise from north."
    calm_percent: float = 0.0

    @property
    def names(self) -> tuple[str, ...]:
        """The names of its sectors, clockwise from north."""
        return NAMES_8 if len(self.shares_percent) == len(NAMES_8) else NAMES_16

    @property
    def prevailing(self) -> tuple[str, ...]:
        """The sector the wind most often comes from; several when they are equal."""
        most = max(self.shares_percent)
        return tuple(n for n, share in zip(self.names, self.shares_percent, strict=True) if share == most)

    @property
    def prevailing_from_deg(self) -> float | None:
        """Bearing [degrees] of the middle of the prevailing sector; None when several are equal."""
        if len(self.prevailing) != 1:
            return None
        return self.names.index(self.prevailing[0]) * 360.0 / len(self.names)


def rose(frequencies_percent: Mapping[str, float]) -> Rose:
    """A rose from sector names and percent of all hours; `calm` may be among the names.

    All 8 or all 16 sectors are named, none may be left out, and with the calm hours they add up to 100,
    give or take 1 for rounding.
    """
    given = {name.strip().upper(): float(value) for name, value in frequencies_percent.items()}
    calm = given.pop(CALM.upper(), 0.0)
    names = NAMES_8 if len(given) <= len(NAMES_8) and not set(given) - set(NAMES_8) else NAMES_16
    _refuse_names(given, names)
    for name, value in {**given, CALM: calm}.items():
        if not (isfinite(value) and value >= 0):
            raise InputError.of(
                f"the wind blows {value:g} percent of the time from {name}",
                needed="a share of zero or more for every sector",
                do_next="mend that share",
            )
    _refuse_sum(sum(given.values()) + calm, calm)
    return Rose(shares_percent=tuple(given[name] for name in names), calm_percent=calm)


def sector_of(direction_deg: float, *, sectors: int = 16) -> str:
    """The name of the sector that a direction lies in; each begins at its anticlockwise edge.

    sectors: 8 or 16.
    Source: sixteen sectors of 22.5 degrees, the first centred on north (AMS *Glossary of Meteorology*, seen).

    >>> sector_of(105)
    'ESE'
    """
    names = {8: NAMES_8, 16: NAMES_16}[sectors]
    width = 360.0 / sectors
    # The last step folds what rounding makes of a direction just below the edge.
    return names[floor(((direction_deg + width / 2) % 360.0) / width) % sectors]


def share_downwind(wind: Rose, *, bearing_deg: float, calm_counts: bool = True) -> float:
    """Share of time, 0 to 1, that the wind blows from a source to a receptor.

    bearing_deg: from the source to the receptor, so the wind comes from the opposite direction.
    calm_counts: of all hours; else of the hours with wind.
    Valid for: one sector wide; smoke near the edge of a sector reaches the neighbouring one too.
    Source: the definition of a wind rose (AMS *Glossary of Meteorology*, seen).
    """
    name = sector_of(bearing_deg + 180.0, sectors=len(wind.names))
    hours = sum(wind.shares_percent) + (wind.calm_percent if calm_counts else 0.0)
    return wind.shares_percent[wind.names.index(name)] / hours if hours else 0.0


def _refuse_names(given: Mapping[str, float], names: tuple[str, ...]) -> None:
    strange = [name for name in given if name not in NAMES_16]
    if strange:
        close = difflib.get_close_matches(strange[0], NAMES_16, n=1, cutoff=0.5)
        meant = f"did you mean {close[0]}? " if close else ""
        raise InputError.of(
            f"a wind direction {strange[0]!r}",
            needed=f"one of {', '.join(NAMES_16)}, or {CALM}",
            do_next=f"{meant}Write the direction that the wind comes from",
        )
    missing = [name for name in names if name not in given]
    if missing:
        raise InputError.of(
            f"no share of the wind for {', '.join(missing)}",
            needed=f"a share for each of the {len(names)} directions: {', '.join(names)}",
            do_next="write 0 where the wind never comes from",
        )


def _refuse_sum(total: float, calm: float) -> None:
    if abs(total - 100.0) <= SUM_TOLERANCE_PERCENT:
        return
    if abs(total - 1.0) <= SUM_TOLERANCE_PERCENT / 100:
        advice = "these look like shares of 1: multiply them by 100"
    elif total < 100 and calm == 0:
        advice = f"if it is calm for the other {100 - total:g} percent, write {CALM} = {100 - total:g}"
    else:
        advice = "go back to the record and mend the shares"
    raise InputError.of(
        f"the shares of the wind add up to {total:g} percent",
        needed=f"100 percent, give or take {SUM_TOLERANCE_PERCENT:g}, calm hours included",
        do_next=advice,
    )
