"""Several installations at once: each with its rules to what stands and to one another.

The search is over spots: a grid of places for each installation, each spot with the orientation that serves it best.
First the smallest margin is made as large as it can be on the grid, by bisection over depth-first searches that are
each a proof; then, keeping that margin, the sum of the walks is made as small as it can be, by depth-first branch and
bound (bound: the walks so far and the shortest walk left for each of the rest).
Last, every place is moved off the grid as long as the smallest margin grows.

Off the grid no arrangement has a smallest margin larger than the grid's by more than sqrt(2) steps and what turning
and rounding off corners can lose: moving two places to their nearest spots takes each at most half a diagonal, and so
their distance at most a whole one.
Nor has any a larger one than the worst placed of them would have alone, which is proved apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.applicability import limit_value, owned, rule_applies
from siting.candidates import best_places
from siting.clearance import Clearances, Places, lay_out, margins
from siting.feasible import ORIENTATIONS_DEG
from siting.installation import Installation, Outline
from siting.requirements import Demands, Question
from siting.rules import Measure, Strength
from siting.spot_search import MARGIN_STEP_M, SpotSearch
from siting.walking import Walks

MOST_SPOTS = 600
"Spots of one installation: the grid is made as fine as that allows."
STRIP_M = 1.2
"Left between two enclosures for a person with a load (project judgement)."


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One of the installations to arrange, with all that is asked of it by what stands."""

    demands: Demands
    walks: Walks | None = None

    @property
    def installation(self) -> Installation:
        """What is to be placed."""
        return self.demands.installation


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where one of them goes."""

    installation: Installation
    x_m: float
    y_m: float
    orientation_deg: float
    margin_m: float
    "Its own smallest margin, to what stands and to the others."
    walk_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """All of them placed, or why they cannot be."""

    stands: tuple[Stand, ...]
    "Empty when there is no arrangement on the grid."
    margin_m: float
    "The smallest margin of the arrangement; the best that was reached on the land when it is negative."
    bound_m: float
    "No arrangement on the land, on the grid or off it, has a larger smallest margin."
    walk_m: float
    "Sum of the walks."
    step_m: float
    proved: bool
    "False when a search of the grid was cut short: better may be on it, and the bound is of the worst placed alone."
    conflict: tuple[str, ...] = ()
    "Installations that cannot stand together on the grid, though any fewer of them can."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """How far apart two outlines of two installations have to stay."""

    one: Outline
    other: Outline
    required_m: float


@dataclass(frozen=True, slots=True)
class _Spots:
    places: Places
    margin: np.ndarray
    walk: np.ndarray


def arrange(
    wanted: Sequence[Wanted],
    question: Question,
    *,
    strip_m: float = STRIP_M,
    keep_m: float | None = None,
    most_spots: int = MOST_SPOTS,
) -> Arrangement:
    """Place several installations: the largest smallest margin first, then the least walking.

    With `keep_m` the margin is not made larger than that: the walk decides among arrangements that keep it.
    """
    assert question.land is not None
    laid = [lay_out([r for r in w.demands.requirements if r.is_must], w.installation) for w in wanted]
    step_m = _step(question.land, most_spots)
    spots = [_spots(w, c, question.land, step_m) for w, c in zip(wanted, laid, strict=True)]
    pairs = {
        (a, b): _pairs(wanted[a].installation, wanted[b].installation, question, strip_m)
        for a in range(len(wanted)) for b in range(a + 1, len(wanted))
    }  # fmt: skip
    between = {key: _pair_margins(spots[key[0]].places, spots[key[1]].places, pair) for key, pair in pairs.items()}
    search = SpotSearch([s.margin for s in spots], [s.walk for s in spots], between, alike=_alike(wanted, spots))
    margin_m, chosen = search.largest_margin(most_m=keep_m)
    bound_m = _bound_alone(wanted, question.land)
    if search.proved and (keep_m is None or margin_m < keep_m):
        bound_m = min(bound_m, _bound_on_grid(margin_m, step_m, pairs))
    if margin_m >= 0.0:
        chosen = search.least_walk(margin_m, chosen)
    stands = _polished(wanted, laid, pairs, spots, chosen, step_m, grow=keep_m is None or margin_m < 0.0)
    reached_m = min(s.margin_m for s in stands)
    if reached_m < 0.0:
        return Arrangement(
            stands=(), margin_m=min(reached_m, bound_m), bound_m=bound_m, walk_m=0.0, step_m=step_m,
            proved=search.proved, conflict=_conflict(wanted, spots, between),
        )  # fmt: skip
    return Arrangement(
        stands=stands,
        margin_m=reached_m,
        bound_m=max(bound_m, reached_m),
        walk_m=sum(s.walk_m or 0.0 for s in stands),
        step_m=step_m,
        proved=search.proved,
    )


def _step(land: BaseGeometry, most_spots: int) -> float:
    return float(np.sqrt(land.area / most_spots))


def _bound_alone(wanted: Sequence[Wanted], land: BaseGeometry) -> float:
    """What the worst placed of them would have with the site to itself."""
    return min(
        best_places([r for r in w.demands.requirements if r.is_must], w.installation, land, count=1)[0].bound_m
        for n, w in enumerate(wanted)
        if not any(_same(w, other) for other in wanted[:n])
    )


def _bound_on_grid(margin_m: float, step_m: float, pairs: dict[tuple[int, int], tuple[_Pair, ...]]) -> float:
    """The best margin of the grid and what leaving the grid may gain.

    On the grid an outline keeps the orientation that suits it alone, and one that is far from another counts as the
    disc around it: turned and measured it may be farther by what its corners stand out.
    """
    corners_m = max((_corners_m(p.one) + _corners_m(p.other) for each in pairs.values() for p in each), default=0.0)
    bound_m = margin_m + MARGIN_STEP_M + float(np.sqrt(2.0)) * step_m + corners_m
    # Spots that are short by more than a step were left out; half a diagonal from them nothing reaches this.
    return bound_m if margin_m >= 0.0 else max(bound_m, -(1.0 - float(np.sqrt(0.5))) * step_m)


def _corners_m(outline: Outline) -> float:
    """How much farther the farthest corner of an outline is from its place than its nearest edge."""
    if outline.is_disc:
        return 0.0
    here = shapely.Point(0.0, 0.0)
    edge_m = shapely.distance(shapely.boundary(outline.geometry), here) if outline.geometry.covers(here) else 0.0
    return outline.reach_m - float(edge_m)


def _same(one: Wanted, other: Wanted) -> bool:
    """Whether two are wanted alike, as a pit and its reserve: exchanging them changes nothing."""
    a, b = one.installation, other.installation
    alike = (a.kind, a.pit, a.enclosure, a.orientation_deg) == (b.kind, b.pit, b.enclosure, b.orientation_deg)
    return alike and dict(a.attributes) == dict(b.attributes)


def _alike(wanted: Sequence[Wanted], spots: Sequence[_Spots]) -> frozenset[tuple[int, int]]:
    return frozenset(
        (a, b)
        for b in range(len(wanted))
        for a in range(b)
        if _same(wanted[a], wanted[b])
        and np.array_equal(spots[a].margin, spots[b].margin)
        and np.array_equal(spots[a].walk, spots[b].walk)
    )


def _spots(wanted: Wanted, laid: Clearances, land: BaseGeometry, step_m: float) -> _Spots:
    """A grid over the land, each spot with its best orientation; those a diagonal short are kept for the bound."""
    west, south, east, north = shapely.bounds(land)
    x, y = (grid.ravel() for grid in np.meshgrid(_middles(west, east, step_m), _middles(south, north, step_m)))
    on = shapely.dwithin(shapely.points(x, y), land, step_m)
    x, y = x[on], y[on]
    turns = wanted.installation.turns
    angles = ORIENTATIONS_DEG if turns else (wanted.installation.orientation_deg or 0.0,)
    by_angle = np.stack([
        margins(laid, Places(x_m=x, y_m=y, orientation_deg=np.full(len(x), angle))).min(axis=1) for angle in angles
    ])  # fmt: skip
    best = by_angle.argmax(axis=0)
    margin = by_angle.max(axis=0)
    near = margin >= -step_m
    if not near.any():
        near = margin >= margin.max()
    places = Places(x_m=x[near], y_m=y[near], orientation_deg=np.array(angles)[best[near]])
    walk = wanted.walks.lengths(np.column_stack([places.x_m, places.y_m])) if wanted.walks else np.zeros(len(places))
    return _Spots(places, margin[near], walk)


def _middles(start_m: float, end_m: float, step_m: float) -> np.ndarray:
    """Middles of the fewest equal cells, none longer than a step, that cover a length."""
    count = max(1, ceil((end_m - start_m) / step_m))
    return start_m + (np.arange(count) + 0.5) * (end_m - start_m) / count


def _pairs(one: Installation, other: Installation, question: Question, strip_m: float) -> tuple[_Pair, ...]:
    """What the packs ask between the two, read both ways, and ground to walk between their enclosures."""
    found = [_Pair(one=one.enclosure, other=other.enclosure, required_m=strip_m)]
    for a, b in ((one, other), (other, one)):
        attributes = {
            **question.site_attributes,
            **owned("installation", a.attributes),
            **owned("feature", b.attributes),
        }
        for rule in (rule for pack in question.packs for rule in pack.rules):
            if rule.measure is not Measure.DISTANCE or rule.strength is not Strength.MUST:
                continue
            if a.kind not in rule.for_kinds or b.kind not in rule.from_kinds or not rule_applies(rule, attributes)[0]:
                continue
            for limit in rule.limits:
                required = limit_value(limit, attributes, strict=True)
                if required is not None and limit.is_minimum:
                    outlines = (a.outline(rule.outline), b.pit) if a is one else (b.pit, a.outline(rule.outline))
                    found.append(_Pair(one=outlines[0], other=outlines[1], required_m=required))
    return tuple(found)


def _pair_margins(a: Places, b: Places, pairs: Sequence[_Pair]) -> np.ndarray:
    """Smallest margin (n, m) between spots of two installations.

    Straight-edged outlines that are far apart are taken as the discs around them, which errs to the cautious side;
    near ones are measured.
    """
    centres = np.hypot(a.x_m[:, None] - b.x_m, a.y_m[:, None] - b.y_m)
    smallest = np.full(centres.shape, np.inf)
    for pair in pairs:
        margin = centres - pair.one.circumradius_m - pair.other.circumradius_m - pair.required_m
        if not (pair.one.is_disc and pair.other.is_disc):
            near = np.nonzero(margin < 2.0 * (pair.one.circumradius_m + pair.other.circumradius_m))
            margin[near] = _measured(a, b, pair, *near)
        np.minimum(smallest, margin, out=smallest)
    return smallest


def _measured(a: Places, b: Places, pair: _Pair, i: np.ndarray, j: np.ndarray) -> np.ndarray:
    one = pair.one.at(a.x_m, a.y_m, a.orientation_deg)[i]
    other = pair.other.at(b.x_m, b.y_m, b.orientation_deg)[j]
    return shapely.distance(one, other) - pair.one.radius_m - pair.other.radius_m - pair.required_m


def _conflict(
    wanted: Sequence[Wanted], spots: Sequence[_Spots], between: dict[tuple[int, int], np.ndarray]
) -> tuple[str, ...]:
    """A smallest group that cannot stand together on the grid: leave out one after another as long as it fails."""
    group = list(range(len(wanted)))

    def fits(chosen: Sequence[int]) -> bool:
        index = {k: n for n, k in enumerate(chosen)}
        sub = {(index[a], index[b]): m for (a, b), m in between.items() if a in index and b in index}
        margins_, walks = [spots[k].margin for k in chosen], [spots[k].walk for k in chosen]
        return not chosen or SpotSearch(margins_, walks, sub).any_spots(0.0) is not None

    for k in list(group):
        rest = [one for one in group if one != k]
        if rest and not fits(rest):
            group = rest
    return tuple(wanted[k].installation.name for k in group)


def _polished(
    wanted: Sequence[Wanted], laid: Sequence[Clearances], pairs: dict[tuple[int, int], tuple[_Pair, ...]],
    spots: Sequence[_Spots], chosen: Sequence[int], step_m: float, *, grow: bool,
) -> tuple[Stand, ...]:  # fmt: skip
    """Off the grid: one place after another is moved to where its own smallest margin is larger."""
    at = [
        Places(x_m=s.places.x_m[[k]], y_m=s.places.y_m[[k]], orientation_deg=s.places.orientation_deg[[k]])
        for s, k in zip(spots, chosen, strict=True)
    ]  # fmt: skip

    def own(k: int, places: Places) -> np.ndarray:
        smallest = margins(laid[k], places).min(axis=1)
        for other in range(len(wanted)):
            if other < k:
                smallest = np.minimum(smallest, _pair_margins(at[other], places, pairs[(other, k)])[0])
            elif other > k:
                smallest = np.minimum(smallest, _pair_margins(places, at[other], pairs[(k, other)])[:, 0])
        return smallest

    reach = step_m / 2.0
    while grow and reach > MARGIN_STEP_M / 2.0:
        for k in range(len(wanted)):
            offsets = np.linspace(-reach, reach, 5)
            dx, dy = (grid.ravel() for grid in np.meshgrid(offsets, offsets))
            tried = Places(
                x_m=at[k].x_m[0] + dx, y_m=at[k].y_m[0] + dy, orientation_deg=np.full(len(dx), at[k].orientation_deg[0])
            )
            values = own(k, tried)
            if values.max() > own(k, at[k])[0]:
                top = int(values.argmax())
                at[k] = Places(x_m=tried.x_m[[top]], y_m=tried.y_m[[top]], orientation_deg=at[k].orientation_deg)
        reach /= 2.0
    return tuple(
        Stand(
            installation=w.installation,
            x_m=float(p.x_m[0]),
            y_m=float(p.y_m[0]),
            orientation_deg=float(p.orientation_deg[0]) % 360.0,
            margin_m=float(own(k, p)[0]),
            walk_m=float(w.walks.lengths(np.column_stack([p.x_m, p.y_m]))[0]) if w.walks else None,
        )
        for k, (w, p) in enumerate(zip(wanted, at, strict=True))
    )
