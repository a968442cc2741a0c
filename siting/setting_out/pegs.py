"""What is driven into the ground for an installation at a place, and the lengths that have to come out between."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor

import numpy as np
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from siting.installation import Installation, Outline
from siting.setting_out.lines import Point2, apart, corner_deg
from siting.site import Feature
from siting.usual import not_negative

WORKING_STRIP_M = 1.0
"Outside the enclosure, for digging and spoil: as `ground_taken`, which says where it comes from."
OFFSET_M = 0.6
"""How far offset pegs stand beyond the working strip.

A builder's guide to profiles keeps them at least 0.6 m outside the dig (seen second-hand); to keep them beyond the
spoil as well is *common practice*.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Peg:
    """A mark to drive: `P` the pit's centre, `R` its rim, `E` the enclosure's corners, `O` offset pegs."""

    name: str
    part: str
    x_m: float
    y_m: float
    stands_in: str = ""
    "Name of a feature that is in the way of the peg."

    @property
    def xy(self) -> Point2:
        """Its place."""
        return self.x_m, self.y_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A length between two pegs that has to come out when all stand."""

    what: str
    start: str
    end: str
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SquareCheck:
    """A right angle by three lengths: along two sides of a corner, and across."""

    corner: str
    one_m: float
    other_m: float
    across_m: float


def pegs(
    installation: Installation,
    *,
    x_m: float,
    y_m: float,
    orientation_deg: float,
    working_strip_m: float = WORKING_STRIP_M,
    offset_m: float = OFFSET_M,
) -> tuple[Peg, ...]:
    """The pegs of an installation at a place, each group numbered clockwise from its long side's bearing.

    Offset pegs stand on the lines from the centre through the enclosure's corners, `offset_m` beyond the working
    strip: a string between two opposite ones crosses both corners and the centre, so that all of them are found
    again when the digging has taken their pegs.
    """
    not_negative(working_strip_m=working_strip_m, offset_m=offset_m)
    place = (x_m, y_m, orientation_deg)
    rim, corners = _marks(installation.pit, place), _marks(installation.enclosure, place)
    strip = _grown(installation.enclosure, place, working_strip_m)
    centre = np.array([x_m, y_m])
    offsets = np.array([_beyond(centre, corner, strip, offset_m) for corner in corners])
    groups = (
        ("P", "pit centre", centre[None]),
        ("R", "pit rim" if installation.pit.is_disc else "pit corner", rim),
        ("E", "enclosure corner", corners),
        ("O", "offset peg", offsets),
    )
    return tuple(
        Peg(name=letter if letter == "P" else f"{letter}{number}", part=part, x_m=float(x), y_m=float(y))
        for letter, part, points in groups
        for number, (x, y) in enumerate(points, 1)
    )


def _marks(outline: Outline, place: tuple[float, float, float]) -> np.ndarray:
    """Corners of an outline, or four points of a round one, clockwise from the bearing of its long side."""
    x, y, turn = place
    if outline.is_disc:
        angles = np.radians(turn + np.arange(4) * 90.0)
        return np.column_stack([x + outline.radius_m * np.sin(angles), y + outline.radius_m * np.cos(angles)])
    shape = outline.at(np.array([x]), np.array([y]), np.array([turn]))[0]
    corners = shapely.get_coordinates(shapely.convex_hull(shape).exterior)[:-1]
    towards = np.degrees(np.arctan2(corners[:, 0] - x, corners[:, 1] - y)) - turn
    return corners[np.argsort(np.round(towards, 6) % 360.0)]


def _grown(outline: Outline, place: tuple[float, float, float], by_m: float) -> BaseGeometry:
    """The outline with a strip round it: square-cornered, or a disc."""
    x, y, turn = place
    if outline.is_disc:
        return Point(x, y).buffer(outline.radius_m + by_m, quad_segs=64)
    return outline.drawn_at(x, y, turn).convex_hull.buffer(by_m, join_style="mitre")


def _beyond(centre: np.ndarray, mark: np.ndarray, strip: BaseGeometry, offset_m: float) -> np.ndarray:
    """The point on the line from the centre through a mark that is `offset_m` from the strip."""
    step = (mark - centre) / np.hypot(*(mark - centre))
    low, high = 0.0, float(np.hypot(*(shapely.get_coordinates(strip) - centre).T).max()) + offset_m
    for _ in range(60):
        middle = (low + high) / 2.0
        near = shapely.distance(strip, Point(centre + middle * step)) < offset_m or middle == 0.0
        low, high = (middle, high) if near else (low, middle)
    return np.asarray(centre + high * step)


def obstructed(peg: Peg, in_the_way: Sequence[Feature]) -> Peg:
    """The peg, with the name of what stands where it should be driven."""
    here = Point(peg.xy)
    held = next((f.name for f in in_the_way if f.geometry.distance(here) <= (f.radius_m or 0.0)), "")
    return replace(peg, stands_in=held) if held else peg


def checks(pegs: Sequence[Peg]) -> tuple[Check, ...]:
    """Lengths between pegs that catch a wrong one: sides, diagonals, and strings across."""
    found: list[Check] = []
    for letter in "REO":
        ring = [peg for peg in pegs if peg.name.startswith(letter)]
        n = len(ring)
        found += [_check(f"{ring[k].part} to the next", ring[k], ring[(k + 1) % n]) for k in range(n)]
        across = "string over the centre" if letter == "O" else f"{ring[0].part}, diagonal"
        found += [_check(across, ring[k], ring[k + n // 2]) for k in range(n // 2) if n % 2 == 0]
    by_name = {peg.name: peg for peg in pegs}
    found += [
        _check("along the string, to the corner", peg, by_name[f"E{peg.name[1:]}"])
        for peg in pegs
        if peg.name.startswith("O")
    ]
    return tuple(found)


def _check(what: str, start: Peg, end: Peg) -> Check:
    return Check(what=what, start=start.name, end=end.name, length_m=apart(start.xy, end.xy))


def squares(pegs: Sequence[Peg]) -> tuple[SquareCheck, ...]:
    """The largest 3-4-5 triangle, in steps of 0.1 m a unit, that fits each right corner of the enclosure.

    Source: 3-4-5 method, FAO, *Irrigation Water Management Training Manual 2* (1985), chapter 4 (contents seen).
    """
    ring = [peg for peg in pegs if peg.name.startswith("E")]
    found = []
    for k, peg in enumerate(ring):
        one, other = apart(peg.xy, ring[k - 1].xy), apart(peg.xy, ring[(k + 1) % len(ring)].xy)
        if abs(corner_deg(one, other, apart(ring[k - 1].xy, ring[(k + 1) % len(ring)].xy)) - 90.0) > 0.01:
            continue
        unit = floor(10.0 * min(min(one, other) / 3.0, max(one, other) / 4.0) + 1e-6) / 10.0
        legs = (3.0 * unit, 4.0 * unit) if one <= other else (4.0 * unit, 3.0 * unit)
        if unit:
            found.append(SquareCheck(corner=peg.name, one_m=legs[0], other_m=legs[1], across_m=5.0 * unit))
    return tuple(found)
