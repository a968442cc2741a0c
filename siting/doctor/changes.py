"""Repairs of coordinates: each takes an array (n, 2), x or longitude first, and returns a new one."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.finding import Change


def swapped(xy: np.ndarray) -> np.ndarray:
    """Both columns exchanged."""
    return xy[:, ::-1].copy()


def from_minutes(xy: np.ndarray) -> np.ndarray:
    """12.18577, typed for 12 degrees 18.577 minutes, as degrees; NaN where the minutes would be 60 or more.

    >>> from_minutes(np.array([[37.30, -12.15]])).tolist()
    [[37.5, -12.25]]
    """
    whole, minutes = _split(np.abs(xy), 100.0)
    return np.sign(xy) * np.where(minutes < 60.0, np.round(whole + minutes / 60.0, 10), np.nan)


def from_seconds(xy: np.ndarray) -> np.ndarray:
    """1.1730, typed for 1 degree 17 minutes 30 seconds, as degrees; NaN where a part would be 60 or more.

    >>> from_seconds(np.array([[36.4500, -1.1730]])).round(6).tolist()
    [[36.75, -1.291667]]
    """
    whole, hundredths = _split(np.abs(xy), 100.0)
    minutes, seconds = _split(hundredths, 100.0)
    fits = (minutes < 60.0) & (seconds < 60.0)
    return np.sign(xy) * np.where(fits, np.round(whole + minutes / 60.0 + seconds / 3600.0, 10), np.nan)


def _split(values: np.ndarray, base: float) -> tuple[np.ndarray, np.ndarray]:
    # what is typed in decimals has no exact binary form: 0.18 * 100 must not become 17 and 99.999
    scaled = np.round(values * base, 9)
    whole = np.floor(np.round(values, 11))
    return whole, scaled - whole * base


CHANGES: Mapping[str, Callable[[np.ndarray], np.ndarray]] = MappingProxyType(
    {"swap": swapped, "minutes": from_minutes, "seconds": from_seconds}
)


def changed(xy: np.ndarray, change: Change) -> np.ndarray:
    """Coordinates after a change; the same where the change is one of CRS."""
    make = CHANGES.get(change.what)
    return make(xy) if make else xy * np.array(change.by)


def changed_geometry(geometry: BaseGeometry, change: Change) -> BaseGeometry:
    """A geometry after a change."""
    return shapely.transform(geometry, lambda xy: changed(xy, change))
