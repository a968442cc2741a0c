"""Pegs from two stations: distance, bearing, and the angle turned from one station to the other."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from shapely.geometry.base import BaseGeometry

from siting.frame import bearing_deg
from siting.separations import STEEL_TAPE_SIGMA_M
from siting.setting_out.lines import Levels, Point2, along_slope_m, polar
from siting.setting_out.pegs import Peg
from siting.setting_out.points import TiePoint, sighted
from siting.setting_out.ties import worst_sigma_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Ray:
    """A peg seen from a station."""

    station: str
    peg: str
    distance_m: float
    bearing_deg: float
    turned_deg: float | None
    "Angle turned clockwise from the other station: no compass needed."
    along_slope_m: float | None = None


def best_stations(
    xy: Point2, points: Sequence[TiePoint], *, walls: Sequence[BaseGeometry] = (), reach_m: float = 100.0
) -> tuple[TiePoint, ...]:
    """The two points from which a place is seen best: both see it, one sees the other, and they fix it best.

    Empty when no two do.
    """
    pairs = [
        pair
        for pair in combinations(sighted(xy, points, walls, reach_m), 2)
        if sighted(pair[0].xy, pair[1:], walls, 2.0 * reach_m)
    ]
    return min(pairs, key=lambda pair: worst_sigma_m(xy, pair, STEEL_TAPE_SIGMA_M), default=())


def rays(pegs: Sequence[Peg], stations: Sequence[TiePoint], *, levels: Levels | None = None) -> tuple[Ray, ...]:
    """Every peg from every station: distance, bearing, and the angle turned from the other station."""
    found = []
    for number, station in enumerate(stations):
        other = stations[1 - number] if len(stations) == 2 else None
        zero = None if other is None else bearing_deg(other.x_m - station.x_m, other.y_m - station.y_m)
        for peg in pegs:
            distance_m, bearing = polar(station.xy, peg.xy)
            found.append(
                Ray(
                    station=station.name, peg=peg.name, distance_m=distance_m, bearing_deg=bearing,
                    turned_deg=None if zero is None else (bearing - zero) % 360.0,
                    along_slope_m=along_slope_m(station.xy, peg.xy, levels=levels),
                )
            )  # fmt: skip
    return tuple(found)
