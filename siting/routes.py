"""Walking routes of staff round buildings, water, walls and fences: the shortest way there is, and its length.

The ground that can be walked is made first, as the land less the union of everything in the way.
Testing obstacle by obstacle lets a path slip between an obstacle and the edge of the land that it touches.
A shortest path is a taut string: it bends only at corners that jut into the ground, round the corner and never away
from it.
So a search from the start (Dijkstra) tries, from each corner it has reached, only the corners that lie on a tangent
and round the bend, nearest first, and looks whether one sees the other only when its turn comes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from siting.frame import bearing_deg
from siting.usual import not_negative, positive

PASSAGE_M = 0.6
"A gap narrower than this is taken as closed: nobody carries a bucket through it (project judgement)."
BARRIER_M = 0.02
"A wall or fence drawn as a line gets this thickness, enough that arithmetic cannot slip through it."
HAIR_M = 1e-6
"A sight line may cut a corner by a micrometre, so that one along a wall is not lost to rounding."
GRID_M = 1e-9
"Corners nearer together than this are one: overlays leave such crumbs."
STRAIGHT = 1e-9
"Sine of the turn below which three points count as lying on one line."

Point2 = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """An opening in a wall or fence."""

    x_m: float
    y_m: float
    width_m: float

    def __post_init__(self) -> None:
        positive(width_m=self.width_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkingGround:
    """The ground that can be walked, and what was assumed to make it."""

    free: BaseGeometry
    closed_gaps: tuple[LineString, ...]
    "Gaps too narrow to walk through, each with the line that closes it; of no length where two things touch."
    idle_gates: tuple[Gate, ...]
    "Gates that stand on no wall or fence and so open nothing."


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A way walked."""

    points: tuple[Point2, ...]
    "From start to end, with every bend."
    length_m: float

    @property
    def line(self) -> LineString:
        """To draw."""
        return LineString(self.points if len(self.points) > 1 else self.points * 2)

    @property
    def bearings_deg(self) -> tuple[float, ...]:
        """Direction of each leg."""
        steps = zip(self.points, self.points[1:], strict=False)
        return tuple(bearing_deg(x2 - x1, y2 - y1) for (x1, y1), (x2, y2) in steps)


def walking_ground(
    land: BaseGeometry,
    obstacles: Sequence[BaseGeometry] = (),
    *,
    barriers: Sequence[BaseGeometry] = (),
    gates: Sequence[Gate] = (),
    passage_m: float = PASSAGE_M,
) -> WalkingGround:
    """The land less everything in the way.

    obstacles: areas that nobody walks through, or through which waste is not carried (buildings, water, public areas);
    barriers: walls and fences, as lines or areas, which gates open by their width;
    passage_m: narrower gaps between any two of these, or to the edge of the land, are closed and listed.
    Valid for: a plan that shows doors through buildings as gaps; a building is walked round, never through.
    """
    not_negative(passage_m=passage_m)
    lines = _closing_lines(land, obstacles, barriers, passage_m)
    walls = [*(_thick(barrier) for barrier in barriers), *(_thick(line) for line in lines)]
    openings, idle = _openings(gates, [*barriers, *lines])
    opened = shapely.union_all(walls).difference(shapely.union_all(openings)) if openings else shapely.union_all(walls)
    blocked = shapely.union_all([*obstacles, opened])
    return WalkingGround(free=land.difference(blocked), closed_gaps=tuple(lines), idle_gates=idle)


def _thick(barrier: BaseGeometry) -> BaseGeometry:
    # Square ends reach into what a wall is built against; flat ones would leave a gap of one rounding error.
    if shapely.get_dimensions(barrier) == 2:
        return barrier
    if barrier.length == 0.0:
        barrier = Point(shapely.get_coordinates(barrier)[0])
    return barrier.buffer(BARRIER_M / 2.0, cap_style="square", join_style="mitre")


def _openings(gates: Sequence[Gate], barriers: Sequence[BaseGeometry]) -> tuple[list[BaseGeometry], tuple[Gate, ...]]:
    """What gates cut out of each barrier within half their width, centred on it; and the gates that cut nothing."""
    openings: list[BaseGeometry] = []
    idle = []
    for gate in gates:
        place, half_m = Point(gate.x_m, gate.y_m), gate.width_m / 2.0
        cut = [
            shapely.get_point(shapely.shortest_line(barrier, place), 0).buffer(half_m, quad_segs=16)
            for barrier in barriers
            if barrier.distance(place) <= half_m
        ]
        openings += cut
        if not cut:
            idle.append(gate)
    return openings, tuple(idle)


def _closing_lines(
    land: BaseGeometry, obstacles: Sequence[BaseGeometry], barriers: Sequence[BaseGeometry], passage_m: float
) -> list[LineString]:
    if passage_m == 0.0:
        return []
    things = np.array([*obstacles, land.boundary, *barriers], dtype=object)
    walls_from = len(obstacles) + 1
    tree = shapely.STRtree(things)
    near = [(int(i), int(k)) for i, k in tree.query(things, "dwithin", passage_m).T if i < k]
    pairs = [(things[i], things[k]) for i, k in near]
    for number, barrier in enumerate(barriers, walls_from):
        ends = _loose_ends(barrier)
        # A fence can stop short of one building at both ends: the shortest line of the pair closes only one.
        pairs += [(end, things[k]) for end in ends for k in tree.query(end, "dwithin", passage_m) if k != number]
        pairs += [(ends[0], ends[-1])] if len(ends) == 2 and barrier.length > 2.0 * passage_m else []
    narrow = [line for one, other in pairs if 0.0 < (line := shapely.shortest_line(one, other)).length < passage_m]
    corners = [shapely.shortest_line(things[i], things[k]) for i, k in near if k < walls_from and _meet(i, k, things)]
    return list({line.normalize().wkb: line for line in (*narrow, *corners)}.values())


def _meet(i: int, k: int, things: np.ndarray) -> bool:
    """Whether two things touch in single points only."""
    if not things[i].touches(things[k]):
        return False
    return bool(shapely.get_dimensions(things[i].intersection(things[k])) == 0)


def _loose_ends(barrier: BaseGeometry) -> list[BaseGeometry]:
    parts = shapely.get_parts(barrier)
    return [end for part in parts if part.geom_type == "LineString" for end in shapely.get_parts(part.boundary)]


def way_out(
    start: BaseGeometry, obstacles: Sequence[BaseGeometry], *, doors: Sequence[Point2] = (), reach_m: float = 0.5
) -> BaseGeometry:
    """Where a walk from `start` sets out.

    A room marked by a point inside a building is left through the doors on that building's edge (points within
    `reach_m` of it), or anywhere along the edge when no door is known.
    A start in the open is itself.
    """
    held = [o for o in obstacles if o.equals(start) or o.contains(start)]
    building = min(held, key=lambda o: o.area) if held else start
    if shapely.get_dimensions(building) < 2:
        return building
    edge = building.boundary
    own = [Point(door) for door in doors if edge.distance(Point(door)) <= reach_m]
    on_edge = [shapely.get_point(shapely.shortest_line(edge, door), 0) for door in own]
    return shapely.multipoints(on_edge) if on_edge else building


def route(free: BaseGeometry, start: BaseGeometry | Point2, end: Point2) -> Route | None:
    """The shortest way over `free` ground from a point, or from anywhere on the edge of a feature, to a place.

    None where there is no way.
    Valid for: level ground; on a slope of 20 percent the way walked is 2 percent longer.
    Source: a shortest path among polygons bends only at their corners (Lozano-Pérez & Wesley, Communications of the
    ACM 22:560-570, 1979; from memory).

    >>> wall = shapely.box(4, 0, 6, 8)
    >>> round(route(shapely.box(0, 0, 10, 10).difference(wall), (4, 5), (6, 5)).length_m, 6)
    8.0
    """
    return routes_from(free, start, np.array([end], dtype=float))[0]


def lengths_from(free: BaseGeometry, start: BaseGeometry | Point2, ends: np.ndarray) -> np.ndarray:
    """Lengths [m] of the shortest ways from one start to many places (n, 2); infinite where there is none."""
    return np.array([np.inf if way is None else way.length_m for way in routes_from(free, start, ends)])


def routes_from(free: BaseGeometry, start: BaseGeometry | Point2, ends: np.ndarray) -> tuple[Route | None, ...]:
    """The shortest ways from one start to many places (n, 2), found in one search."""
    where = start if isinstance(start, BaseGeometry) else Point(start)
    ground = shapely.set_precision(free, GRID_M)
    if ground.is_empty or not len(ends):
        return (None,) * len(ends)
    search = _Search(ground, where, np.asarray(ends, dtype=float).reshape(-1, 2))
    search.run()
    return tuple(search.way_to(number) for number in range(len(ends)))


@dataclass(frozen=True, slots=True)
class _Corners:
    """Corners (n, 2) that jut into the ground, with the directions (n, 2) of the edges on either side."""

    xy: np.ndarray
    before: np.ndarray
    after: np.ndarray
    any_turn: np.ndarray
    "Where rings touch: a path may bend either way there."


def _corners(ground: BaseGeometry) -> _Corners:
    rings = [_ring(ring) for ring in _rings(ground)]
    xy = np.vstack([ring[0] for ring in rings])
    before, after = np.vstack([ring[1] for ring in rings]), np.vstack([ring[2] for ring in rings])
    juts = _cross(-before, after) < -STRAIGHT
    _, first, where, count = np.unique(xy, axis=0, return_index=True, return_inverse=True, return_counts=True)
    shared = count[where.ravel()] > 1
    single = np.zeros(len(xy), dtype=bool)
    single[first] = True
    kept = (juts | shared) & single
    return _Corners(xy[kept], before[kept], after[kept], shared[kept])


def _rings(ground: BaseGeometry) -> Iterator[np.ndarray]:
    """Rings without their closing corner, the ground on the left."""
    for polygon in shapely.get_parts(shapely.orient_polygons(ground, exterior_cw=False)):
        if shapely.get_dimensions(polygon) == 2:
            for ring in (polygon.exterior, *polygon.interiors):
                yield shapely.get_coordinates(ring)[:-1]


def _ring(ring: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return ring, _unit(np.roll(ring, 1, axis=0) - ring), _unit(np.roll(ring, -1, axis=0) - ring)


def _unit(steps: np.ndarray) -> np.ndarray:
    length = np.hypot(steps[..., 0], steps[..., 1])[..., None]
    return np.divide(steps, length, out=np.zeros_like(steps), where=length > 0.0)


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


_Queue = Iterator[tuple[float, int, Point2 | int]]
"Length, node, and where it is seen from: another node or a point of the start; shortest first."


class _Search:
    """Dijkstra over the corners that jut into the ground, then the ends; sight lines are looked at only when due."""

    def __init__(self, ground: BaseGeometry, start: BaseGeometry, ends: np.ndarray):
        corners = _corners(ground)
        edges = _start_edges(ground, start)
        sources = np.unique(edges.reshape(-1, 2), axis=0)
        self.n, self.first_end = len(corners.xy), len(corners.xy) + len(sources)
        self.corners, self.edges = corners, edges
        self.xy = np.vstack([corners.xy, sources, ends])
        self.sight = ground.buffer(HAIR_M, join_style="mitre")
        shapely.prepare(self.sight)
        self.length = np.full(len(self.xy), np.inf)
        self.bend: list[Point2 | int | None] = [None] * len(self.xy)
        "Where each node was reached from: another node, or a point of the start."
        self.due: list[tuple[float, int, int, Point2 | int, _Queue]] = []
        "The next node of each queue; the number settles draws."
        self.number = count()
        self.inside = shapely.get_dimensions(start) == 2 and shapely.intersects(start, shapely.points(ends))
        self.reachable = shapely.intersects(self.sight, shapely.points(ends))

    def run(self) -> None:
        """Lengths and bends of everything up to the farthest end that can be reached."""
        for end in self.first_end + np.flatnonzero(self.inside & self.reachable):
            self.length[end] = 0.0
        waiting = set((self.first_end + np.flatnonzero(self.reachable & ~self.inside)).tolist())
        for queue in (self._from_edges(), *map(self._from_source, range(self.n, self.first_end))):
            self._push(queue)
        while self.due and waiting:
            length, _, node, bend, queue = heappop(self.due)
            self._push(queue)
            if np.isfinite(self.length[node]) or not self._sees(bend, node):
                continue
            self.length[node], self.bend[node] = length, bend
            waiting.discard(node)
            if node < self.n:
                self._push(self._from_corner(node))

    def way_to(self, number: int) -> Route | None:
        """The way to an end, read backwards."""
        node: Point2 | int | None = self.first_end + number
        length_m = float(self.length[self.first_end + number])
        if not np.isfinite(length_m):
            return None
        points: list[Point2] = []
        while node is not None:
            point = self._at(node)
            if not points or point != points[-1]:
                points.append(point)
            node = self.bend[node] if isinstance(node, int) else None
        return Route(points=tuple(reversed(points)), length_m=length_m)

    def _push(self, queue: _Queue) -> None:
        """Puts the next node of a queue that has no length yet among those that are due."""
        for length, node, bend in queue:
            if not np.isfinite(self.length[node]):
                heappush(self.due, (length, next(self.number), node, bend, queue))
                return

    def _at(self, bend: Point2 | int) -> Point2:
        if isinstance(bend, tuple):
            return bend
        return (float(self.xy[bend, 0]), float(self.xy[bend, 1]))

    def _sees(self, bend: Point2 | int, node: int) -> bool:
        line = shapely.linestrings([self._at(bend), self._at(node)])
        return bool(shapely.covers(self.sight, line))

    def _from_edges(self) -> _Queue:
        """Straight from the inside of an edge of the start, square to it, nearest first."""
        a, b = self.edges[:, 0], self.edges[:, 1]
        along = b - a
        squared = (along**2).sum(axis=1)
        share = np.einsum("nei,ei->ne", self.xy[:, None] - a, along) / np.where(squared > 0.0, squared, 1.0)
        node, edge = np.nonzero((share > 0.0) & (share < 1.0) & (squared > 0.0))
        foot = a[edge] + share[node, edge, None] * along[edge]
        length = np.hypot(*(self.xy[node] - foot).T)
        for k in np.argsort(length, kind="stable"):
            yield float(length[k]), int(node[k]), (float(foot[k, 0]), float(foot[k, 1]))

    def _from_source(self, source: int) -> _Queue:
        """Straight from a corner or point of the start."""
        point = self._at(source)
        return self._ahead(point, 0.0, self._tangent_at(self.xy[source]), point)

    def _from_corner(self, corner: int) -> _Queue:
        """From a corner reached: along a tangent to it, round the bend."""
        here = self.xy[corner]
        chosen = self._tangent_at(here)
        bend = self.bend[corner]
        if not self.corners.any_turn[corner] and bend is not None:
            came = _unit(here - np.array(self._at(bend)))
            out = _unit(self.xy - here)
            before, after = self.corners.before[corner], self.corners.after[corner]
            side = np.sign(_cross(came, before) + _cross(came, after))
            chosen &= _tangent(out, before, after) & (side * _cross(came, out) >= -STRAIGHT)
        return self._ahead(corner, float(self.length[corner]), chosen, corner)

    def _ahead(self, start: Point2 | int, so_far: float, chosen: np.ndarray, bend: Point2 | int) -> _Queue:
        node = np.flatnonzero(chosen & ~np.isfinite(self.length))
        length = so_far + np.hypot(*(self.xy[node] - np.array(self._at(start))).T)
        order = np.argsort(length, kind="stable")
        return ((far, to, bend) for far, to in zip(length[order].tolist(), node[order].tolist(), strict=True))

    def _tangent_at(self, here: np.ndarray) -> np.ndarray:
        """Which nodes can be walked to from here on the way to somewhere else, or are ends."""
        chosen = np.ones(len(self.xy), dtype=bool)
        chosen[self.n : self.first_end] = False
        corners = self.corners
        step = _unit(corners.xy - here)
        chosen[: self.n] = corners.any_turn | _tangent(step, corners.before, corners.after)
        return chosen


def _tangent(step: np.ndarray, before: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Whether a straight line through a corner leaves both its edges on one side."""
    one, other = _cross(step, before), _cross(step, after)
    same = (np.minimum(one, other) >= -STRAIGHT) | (np.maximum(one, other) <= STRAIGHT)
    return np.asarray(same)


def _start_edges(ground: BaseGeometry, start: BaseGeometry) -> np.ndarray:
    """Segments (n, 2, 2) from which a walk may set out; a point is a segment without length."""
    if shapely.get_dimensions(start) == 2 and start.intersection(ground).area <= HAIR_M:
        # It is in the way itself: of the ground's own edges, those that run along it.
        segments = np.vstack([np.stack([r, np.roll(r, -1, axis=0)], axis=1) for r in _rings(ground)])
        along = np.stack([segments[:, 0], segments.mean(axis=1), segments[:, 1]], axis=1)
        apart = np.asarray(shapely.distance(shapely.points(along), start))
        return segments[apart.max(axis=1) <= HAIR_M]
    outline = start.boundary if shapely.get_dimensions(start) == 2 else start
    parts = shapely.get_parts(shapely.intersection(outline, ground.buffer(HAIR_M)))
    lines = [np.repeat(c, 2, axis=0) if len(c) == 1 else c for c in map(shapely.get_coordinates, parts)]
    return np.vstack([np.empty((0, 2, 2)), *(np.stack([line[:-1], line[1:]], axis=1) for line in lines)])
