"""Rules that hold on one side of a place only: how far another place is from the ground on that side."""

import numpy as np

from siting.layer import NONE, Layer
from siting.screening.earth import bearing_deg
from siting.screening.lines import TOWARDS


def towards_deg(layer: Layer, side: str) -> np.ndarray:
    """Bearing (n,) of the ground on a side, from a column of the layer; nan where nothing was recorded."""
    quantity = next(name for name in TOWARDS if side.endswith(name))
    column = layer.attributes.get(TOWARDS[quantity])
    if column is None or not column.values:
        return np.full(len(layer), np.nan)
    values = np.array([v if isinstance(v, int | float) else np.nan for v in column.values], dtype=float)
    bearing = np.where(column.code == NONE, np.nan, values[column.code])
    against = side in ("up-gradient", "up-slope", "upwind")
    return np.asarray((bearing + (180.0 if against else 0.0)) % 360.0)


def off_side_m(
    centre: np.ndarray, place: np.ndarray, distance_m: np.ndarray, bearing_of_side: np.ndarray, *, sector_deg: float,
    reach_m: np.ndarray,
) -> np.ndarray:  # fmt: skip
    """Distance [m] (k,) of places from the sector of ground on one side of centres; on it, how deep, below zero.

    centre, place: degrees (k, 2), `distance_m` apart; the sector has its middle at `bearing_of_side` and the
    full width `sector_deg` (at most 180), and reaches `reach_m` out.
    """
    turn = np.radians(np.abs((bearing_deg(centre, place) - bearing_of_side + 180.0) % 360.0 - 180.0))
    beside = turn - np.radians(sector_deg / 2.0)
    along, across = distance_m * np.cos(beside), distance_m * np.sin(np.abs(beside))
    past = np.where(along < 0.0, distance_m, np.where(along > reach_m, np.hypot(along - reach_m, across), across))
    edge = np.where(beside < -np.pi / 2.0, distance_m, across)
    inside = np.where(distance_m > reach_m, distance_m - reach_m, -np.minimum(edge, reach_m - distance_m))
    return np.asarray(np.where(beside <= 0.0, inside, past))
