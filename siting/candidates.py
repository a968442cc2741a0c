"""The best places on a site, each with a proof that no place anywhere has a larger smallest margin.

Branch and bound over cells of place and orientation.
A margin changes by at most one metre a metre walked, so nowhere in a cell can a margin exceed that at its centre
by more than the half-diagonal, plus the way the farthest corner moves when the outline turns through half the
cell's angle (a chord, 2 R sin(angle / 2)).
A cell whose bound does not beat the best place found so far by more than the gap is dropped; when none is left,
the largest bound dropped is proved for the whole site.
All cells of a level are evaluated in one vectorised call, and a cell hands down to its children only the
requirements that can still matter inside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.clearance import Clearances, Places, lay_out, pair_margins
from siting.errors import NoPlaceError
from siting.installation import Installation
from siting.requirements import Requirement, Sense

DEFAULT_GAP_M = 0.05
FIRST_CELLS = 400
"Cells of the first level: enough that most of them are dropped at once, few enough to cost nothing."
MAX_CELLS = 400_000
"Cells of one level beyond which a search is refused rather than left to fill the memory."


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A proposed place with what is proved of it."""

    name: str
    x_m: float
    y_m: float
    orientation_deg: float
    margin_m: float
    "Smallest margin over the requirements that must hold."
    bound_m: float
    "Proved: no place left in the search has a larger smallest margin."
    binding: Requirement
    "The requirement with the smallest margin."


@dataclass(frozen=True, slots=True)
class _Cells:
    """Square cells (n,) with an arc of orientations each, and the requirements that still matter in them."""

    x: np.ndarray
    y: np.ndarray
    half: np.ndarray
    angle: np.ndarray
    "Orientation at the middle, degrees."
    half_angle: np.ndarray
    cell: np.ndarray
    "With `requirement`: pairs (k,) of a cell and a requirement that can matter in it, ordered by cell."
    requirement: np.ndarray


def best_places(
    requirements: Sequence[Requirement],
    installation: Installation,
    ground: BaseGeometry,
    *,
    count: int = 5,
    spacing_m: float = 5.0,
    gap_m: float = DEFAULT_GAP_M,
) -> tuple[Candidate, ...]:
    """The best places on `ground`, best first, each at least `spacing_m` from those before it.

    `ground` bounds the search; what keeps a place on it is a requirement like any other.
    The first is the best of the site to within `gap_m`; the next is the best of what lies beyond the spacing, and
    so on.
    When even the first margin is negative there is no place: it is returned alone, as the best compromise, and
    its negative bound is the proof.

    Raises NoPlaceError when there is nothing to measure from.
    """
    laid = lay_out(_governing([r for r in requirements if r.is_must]), installation)
    if not laid.requirements:
        raise NoPlaceError.of(
            "no requirement binds the place",
            needed="a boundary or at least one feature that a rule measures from",
            do_next="draw the boundary of the facility (kind: boundary)",
        )
    first = _first_level(laid, installation, ground)
    found: list[Candidate] = []
    taken = np.empty((0, 2))
    for number in range(count):
        best = _search(laid, installation, first, gap_m=gap_m, taken=taken, spacing_m=spacing_m)
        if best is None or (number and best.margin_m < 0.0):
            break
        found.append(_named(best, number))
        if best.margin_m < 0.0:
            break
        taken = np.vstack([taken, [best.x_m, best.y_m]])
    return tuple(found)


def any_place(
    requirements: Sequence[Requirement], installation: Installation, ground: BaseGeometry, *, gap_m: float = 0.01
) -> Candidate | None:
    """A place with no negative margin, or None when it is proved that there is none (to within `gap_m`).

    Stops at the first place found: the question is only whether there is one.
    """
    laid = lay_out(_governing(requirements), installation)
    if not laid.requirements:
        raise ValueError("no requirement binds the place")
    first = _first_level(laid, installation, ground)
    best = _search(laid, installation, first, gap_m=gap_m, taken=np.empty((0, 2)), spacing_m=0.0, enough_m=0.0)
    return best if best is not None and best.margin_m >= 0.0 else None


def _governing(requirements: Sequence[Requirement]) -> list[Requirement]:
    """Without those that another one of the same feature, outline and shape outdoes everywhere."""
    kept: dict[tuple[object, ...], Requirement] = {}
    for r in requirements:
        key = (r.sense, r.rule.outline, id(r.geometry), r.gap_m)
        held = kept.get(key)
        outdone = held is not None and (r.limit_m > held.limit_m) is (r.sense is not Sense.WITHIN)
        if held is None or outdone:
            kept[key] = r
    return list(kept.values())


def _named(candidate: Candidate, number: int) -> Candidate:
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return Candidate(**{f: getattr(candidate, f) for f in candidate.__slots__} | {"name": letters})


def _search(
    laid: Clearances,
    installation: Installation,
    first: "_Level",
    *,
    gap_m: float,
    taken: np.ndarray,
    spacing_m: float,
    enough_m: float | None = None,
) -> Candidate | None:
    """The best place; with `enough_m`, any place as good as that, and cells that cannot be are dropped."""
    reach_m = laid.reach_m if installation.turns else 0.0
    cells, evaluated = first
    best, place, binding, proved = -np.inf, None, -1, -np.inf
    while len(cells.x):
        margin, governing, pairs = evaluated or _evaluate(laid, cells)
        evaluated = None
        slack = _slack(cells, reach_m)
        free, hopeless = _spacing(cells, taken, spacing_m)
        if (free & (margin > best)).any():
            top = int(np.argmax(np.where(free, margin, -np.inf)))
            best, binding = float(margin[top]), int(governing[top])
            place = (float(cells.x[top]), float(cells.y[top]), float(cells.angle[top]) % 360.0)
        bound = _bounds(laid, cells, pairs, slack + laid.jump_m)
        if enough_m is not None and best >= enough_m:
            break
        alive = ~hopeless & (bound > best + gap_m) & (bound >= (-np.inf if enough_m is None else enough_m))
        dropped = bound[~alive & ~hopeless]
        proved = max(proved, float(dropped.max(initial=-np.inf)))
        cells = _split(cells, alive, pairs, margin, slack + laid.jump_m, reach_m)
        if len(cells.x) > MAX_CELLS:
            raise NoPlaceError.of(
                f"the search for the best place grew beyond {MAX_CELLS} cells",
                needed="a site and a gap for which it ends",
                do_next=f"ask for a wider gap than {gap_m} m (--gap)",
            )
    if place is None:
        return None
    return Candidate(
        name="",
        x_m=place[0],
        y_m=place[1],
        orientation_deg=place[2],
        margin_m=best,
        bound_m=max(best, proved),
        binding=laid.requirements[binding],
    )


_Level = tuple[_Cells, tuple[np.ndarray, np.ndarray, np.ndarray] | None]


def _first_level(laid: Clearances, installation: Installation, ground: BaseGeometry) -> _Level:
    """The coarse cells with their margins: most of the work, and the same for every further candidate."""
    cells = _first_cells(laid, installation, ground)
    return cells, _evaluate(laid, cells)


def _first_cells(laid: Clearances, installation: Installation, ground: BaseGeometry) -> _Cells:
    west, south, east, north = shapely.bounds(ground)
    width, height = max(east - west, 1e-3), max(north - south, 1e-3)
    side = max((width * height / FIRST_CELLS) ** 0.5, max(width, height) / FIRST_CELLS)
    columns, rows = ceil(width / side), ceil(height / side)
    x = west + (np.arange(columns) + 0.5) * side
    y = south + (np.arange(rows) + 0.5) * side
    xx, yy = (grid.ravel() for grid in np.meshgrid(x, y))
    # Cells wholly off the ground hold no place: the boundary is a requirement, and this only saves work.
    near = shapely.dwithin(shapely.points(xx, yy), ground, side * hypot(0.5, 0.5))
    xx, yy = xx[near], yy[near]
    angles, half_angle = _first_angles(installation)
    n, a, m = len(xx), len(angles), len(laid.requirements)
    return _Cells(
        np.repeat(xx, a),
        np.repeat(yy, a),
        np.full(n * a, side / 2.0),
        np.tile(angles, n),
        np.full(n * a, half_angle),
        np.repeat(np.arange(n * a), m),
        np.tile(np.arange(m), n * a),
    )


def _first_angles(installation: Installation) -> tuple[np.ndarray, float]:
    if not installation.turns:
        return np.array([installation.orientation_deg or 0.0]), 0.0
    # A rectangle turned by 180 degrees is itself, so half a turn holds every orientation.
    return np.array([45.0, 135.0]), 45.0


def _evaluate(laid: Clearances, cells: _Cells) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Smallest margin of each cell's centre, the requirement that gives it, and the margins of all pairs."""
    places = Places(x_m=cells.x, y_m=cells.y, orientation_deg=cells.angle)
    pairs = pair_margins(laid, places, cells.cell, cells.requirement)
    starts = np.flatnonzero(np.r_[True, cells.cell[1:] != cells.cell[:-1]])
    smallest = np.minimum.reduceat(pairs, starts)
    at_smallest = pairs == smallest[cells.cell]
    first = np.full(len(cells.x), len(pairs))
    np.minimum.at(first, cells.cell[at_smallest], np.flatnonzero(at_smallest))
    return smallest, cells.requirement[first], pairs


def _bounds(laid: Clearances, cells: _Cells, pairs: np.ndarray, slack: np.ndarray) -> np.ndarray:
    """The most that the smallest margin can be anywhere in each cell."""
    most = np.minimum(pairs + slack[cells.cell], laid.most_m[cells.requirement])
    return np.minimum.reduceat(most, np.flatnonzero(np.r_[True, cells.cell[1:] != cells.cell[:-1]]))


def _slack(cells: _Cells, reach_m: float) -> np.ndarray:
    return cells.half * np.sqrt(2.0) + 2.0 * reach_m * np.sin(np.radians(cells.half_angle) / 2.0)


def _spacing(cells: _Cells, taken: np.ndarray, spacing_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Which centres are far enough from places already taken, and which cells lie wholly too near."""
    if not len(taken):
        return np.ones(len(cells.x), dtype=bool), np.zeros(len(cells.x), dtype=bool)
    away = np.hypot(cells.x[:, None] - taken[:, 0], cells.y[:, None] - taken[:, 1]).min(axis=1)
    return away >= spacing_m, away + cells.half * np.sqrt(2.0) < spacing_m


def _split(
    cells: _Cells, alive: np.ndarray, pairs: np.ndarray, margin: np.ndarray, slack: np.ndarray, reach_m: float
) -> _Cells:
    """Children of the cells kept: four quarters, or two halves of the arc where turning adds more slack."""
    # A margin that is larger than the smallest by twice the slack cannot be the smallest anywhere in the cell.
    matters = alive[cells.cell] & (pairs <= (margin + 2.0 * slack)[cells.cell])
    cell, requirement = cells.cell[matters], cells.requirement[matters]
    by_angle = 2.0 * reach_m * np.sin(np.radians(cells.half_angle) / 2.0) > cells.half * np.sqrt(2.0)
    children = []
    for chosen, moves in ((alive & ~by_angle, _QUARTERS), (alive & by_angle, _HALVES)):
        index = np.flatnonzero(chosen)
        if not len(index):
            continue
        renumber = np.full(len(cells.x), -1)
        renumber[index] = np.arange(len(index))
        own = chosen[cell]
        children += [(index, renumber[cell[own]], requirement[own], move) for move in moves]
    if not children:
        nothing, no_pair = np.empty(0), np.empty(0, dtype=np.intp)
        return _Cells(nothing, nothing, nothing, nothing, nothing, no_pair, no_pair)
    return _joined(cells, children)


_QUARTERS = ((-1, -1, 0), (1, -1, 0), (-1, 1, 0), (1, 1, 0))
_HALVES = ((0, 0, -1), (0, 0, 1))


def _joined(
    cells: _Cells, children: Sequence[tuple[np.ndarray, np.ndarray, np.ndarray, tuple[int, int, int]]]
) -> _Cells:
    parts: list[list[np.ndarray]] = [[] for _ in range(7)]
    count = 0
    for index, cell, requirement, (east, north, turn) in children:
        half = cells.half[index] / (1.0 if turn else 2.0)
        half_angle = cells.half_angle[index] / (2.0 if turn else 1.0)
        columns = (
            cells.x[index] + east * half,
            cells.y[index] + north * half,
            half,
            cells.angle[index] + turn * half_angle,
            half_angle,
            cell + count,
            requirement,
        )
        for part, column in zip(parts, columns, strict=True):
            part.append(column)
        count += len(index)
    return _Cells(*(np.concatenate(part) for part in parts))
