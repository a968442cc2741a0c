"""Every hazard of a table against the receptors of another: nearest, all pairs within their rule, and a verdict.

The receptors are laid out once; hazards may come in parts of any size, each judged by itself, so that memory does
not grow with their number.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import shapely

from siting.kinds import Vocabulary
from siting.layer import NONE, Layer
from siting.rules import Pack
from siting.screening.earth import geocentric
from siting.screening.lines import Line, Unanswered, answerable, longest_m
from siting.screening.pairs import HAIR_M, Judge, Judged
from siting.screening.points import BLOCK, PointGroup, in_cells
from siting.screening.shapes import ShapeGroup
from siting.uncertainty import Verdict, probabilities

VERDICTS = (Verdict.MEETS, Verdict.FAILS, Verdict.TOO_CLOSE, Verdict.NOT_ASSESSED)
"What the codes of `Screened.verdict` stand for."
MEETS, FAILS, TOO_CLOSE, NOT_ASSESSED = range(4)
TELLING = 3.09
"""Standard uncertainties beyond the limit within which every pair is judged (probability 0.999).

Where receptors are known unequally well, one that is a little farther may be the more doubtful one; one beyond this is
surely no failure, and the nearest stands for it.
"""
MOST_TELLING_M = 1_000.0
"Positions known worse than to some 300 m are judged by their nearest receptor and by all within this."
MAX_RADII = 8
"So many different radii have a tree each; more are gathered by powers of two."


class Reason(IntEnum):
    """Why a hazard is not assessed."""

    NONE = 0
    NO_RULE = 1
    "No rule in force keeps its kind away from anything a registry can hold."
    NO_RECEPTOR = 2
    "The other table holds nothing that its rules name."
    NOT_RECORDED = 3
    "An attribute that a rule needs is missing within the reach of that rule."


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """What the hazards of one part (n) came to; indices are rows of the layer of receptors, -1 for none."""

    nearest: np.ndarray
    "The nearest receptor that a rule for this kind of hazard names."
    distance_m: np.ndarray
    "To its edge; infinite where there is none."
    governs: np.ndarray
    "The receptor that decides: nearly always the nearest."
    governs_m: np.ndarray
    line: np.ndarray
    "The rule that decides, as a position in `Receptors.lines`."
    required_m: np.ndarray
    margin_m: np.ndarray
    sigma_m: np.ndarray
    probability: np.ndarray
    verdict: np.ndarray
    "Position in `VERDICTS`."
    reason: np.ndarray
    pair_hazard: np.ndarray
    "Of every pair (k) closer than its rule: row of the hazard in this part."
    pair_receptor: np.ndarray
    pair_m: np.ndarray
    pair_line: np.ndarray
    pair_required_m: np.ndarray

    def __len__(self) -> int:
        return len(self.verdict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Receptors:
    """Receptors laid out for search, with the rules that look at them."""

    layer: Layer
    lines: tuple[Line, ...]
    unanswered: tuple[Unanswered, ...]
    words: Vocabulary
    groups: "tuple[_Group, ...]"

    @property
    def rules_without_receptors(self) -> tuple[Line, ...]:
        """Lines none of whose kinds stands in the table."""
        kinds = {str(v) for v in self.layer.kind.values}
        return tuple(line for line in self.lines if not line.receptor_kinds & kinds)


@dataclass(slots=True, kw_only=True)
class _Group:
    """Receptors that the same lines look at, equally well known and equally large, as far as that can be."""

    lines: frozenset[int]
    index: np.ndarray
    geometry: np.ndarray | None
    "Lines and areas in degrees; None where all are points."
    lonlat: np.ndarray
    radius_m: np.ndarray
    max_sigma_m: float
    max_radius_m: float
    is_even: bool
    "All of them are known equally well, so that the nearest is the most doubtful one."
    position: np.ndarray
    "Position in the group of each receptor of the layer, -1 for others: empty unless the layer is its own hazards."
    _points: PointGroup | None = None
    _shapes: ShapeGroup | None = None

    @property
    def points(self) -> PointGroup | None:
        """The group as points, with its tree; None where it holds lines or areas."""
        if self._points is None and self.geometry is None:
            self._points = PointGroup(self.index, self.lonlat, self.radius_m)
        return self._points

    @property
    def shapes(self) -> ShapeGroup:
        """The group as geometries, laid out when something is first asked of them."""
        if self._shapes is None:
            geometry = np.asarray(shapely.points(self.lonlat)) if self.geometry is None else self.geometry
            self._shapes = ShapeGroup(self.index, geometry, self.radius_m)
        return self._shapes


def lay_out(layer: Layer, packs: Sequence[Pack], words: Vocabulary, *, measured_to_itself: bool = False) -> Receptors:
    """Receptors ready to be searched under the rules of some packs.

    `measured_to_itself`: the hazards come from the same table, and a place is no receptor of its own.
    """
    lines, unanswered = answerable(packs)
    groups = tuple(_groups(layer, lines, keep_position=measured_to_itself))
    return Receptors(layer=layer, lines=lines, unanswered=unanswered, words=words, groups=groups)


def _groups(layer: Layer, lines: Sequence[Line], *, keep_position: bool) -> Iterator[_Group]:
    of_kind = [
        frozenset(number for number, line in enumerate(lines) if str(value) in line.receptor_kinds)
        for value in layer.kind.values
    ]
    distinct = sorted(set(of_kind) - {frozenset()}, key=sorted)
    signature = np.array([distinct.index(s) if s else -1 for s in of_kind] or [-1])
    code = np.where(layer.kind.code == NONE, -1, signature[layer.kind.code])
    is_shape = layer.is_shape
    sigma = np.where(layer.sigma_m > 0.0, np.ceil(np.log2(np.maximum(layer.sigma_m, 1e-3))), -99.0)
    radii, radius = np.unique(layer.radius_m, return_inverse=True)
    if len(radii) > MAX_RADII:
        radius = np.where(layer.radius_m > 0.0, np.ceil(np.log2(np.maximum(layer.radius_m, 1e-3))), -99.0)
    keys = np.column_stack([code, is_shape, sigma, radius])[code >= 0]
    members = np.flatnonzero(code >= 0)
    found, of = np.unique(keys, axis=0, return_inverse=True)
    for number, (which, drawn, *_) in enumerate(found):
        index = members[np.ravel(of) == number]
        geometry = layer.shapes[index] if drawn and layer.shapes is not None else None
        position = np.zeros(0, dtype=np.intp)
        if keep_position:
            position = np.full(len(layer), -1, dtype=np.intp)
            position[index] = np.arange(len(index))
        yield _Group(
            lines=distinct[int(which)],
            index=index,
            geometry=geometry,
            lonlat=layer.lonlat[index],
            radius_m=layer.radius_m[index],
            max_sigma_m=float(layer.sigma_m[index].max()),
            max_radius_m=float(layer.radius_m[index].max()),
            is_even=bool(np.ptp(layer.sigma_m[index]) == 0.0),
            position=position,
        )


def screen(hazards: Layer, receptors: Receptors, *, confidence: float, first_row: int = 0) -> Screened:
    """What each hazard comes to, under the rules for its kind.

    `first_row` is the row of the first hazard in the layer of receptors, where both are the same table.
    """
    run = _Run(hazards, receptors, confidence, first_row)
    for code, kind in enumerate(hazards.kind.values):
        rows = np.flatnonzero(hazards.kind.code == code)
        lines = frozenset(n for n, line in enumerate(receptors.lines) if str(kind) in line.rule.for_kinds)
        if len(rows):
            run.kind(rows, lines)
    return run.screened()


class _Run:
    """The screening of one part: arrays that are filled kind by kind and group by group."""

    def __init__(self, hazards: Layer, receptors: Receptors, confidence: float, first_row: int):
        self.hazards, self.receptors, self.confidence, self.first_row = hazards, receptors, confidence, first_row
        self.judge = Judge(hazards, receptors.layer, receptors.lines, receptors.words)
        n = len(hazards)
        self.xyz = geocentric(hazards.lonlat)
        self.is_shape = hazards.is_shape
        self.nearest, self.distance_m = np.full(n, -1, dtype=np.intp), np.full(n, np.inf)
        self.governs, self.governs_m = np.full(n, -1, dtype=np.intp), np.full(n, np.nan)
        self.line = np.full(n, NONE, dtype=np.int32)
        self.required_m, self.margin_m = np.full(n, np.nan), np.full(n, np.inf)
        self.sigma_m, self.probability = np.full(n, np.nan), np.full(n, np.inf)
        self.reason = np.full(n, Reason.NO_RULE, dtype=np.int8)
        self.pairs: list[tuple[np.ndarray, ...]] = []

    def kind(self, rows: np.ndarray, lines: frozenset[int]) -> None:
        """All hazards of one kind."""
        if not lines:
            return
        self.reason[rows] = Reason.NO_RECEPTOR
        by_points, by_shapes = rows[~self.is_shape[rows]], rows[self.is_shape[rows]]
        if len(by_points):
            by_points = by_points[in_cells(self.hazards.lonlat[by_points])]
        for group in self.receptors.groups:
            active = sorted(lines & group.lines)
            if active:
                self._group(by_points, group, active)
                self._group(by_shapes, group, active)
        self._at_most(rows, sorted(lines))

    def _group(self, rows: np.ndarray, group: _Group, active: list[int]) -> None:
        if not len(rows):
            return
        at, centre_m = self._nearest(rows, group)
        there = at >= 0
        rows, receptor, centre_m = rows[there], group.index[at[there]], centre_m[there]
        self._nearer(rows, receptor, centre_m)
        away = [n for n in active if self.receptors.lines[n].keeps_away]
        if not away or not len(rows):
            return
        layers = (self.hazards, self.receptors.layer)
        reaches = [longest_m(self.receptors.lines[n], layers) for n in away]
        self._take(rows, receptor, centre_m, self.judge.judged(rows, receptor, centre_m, away, reaches))
        telling = TELLING * np.sqrt(
            self.hazards.sigma_m[rows] ** 2 + group.max_sigma_m**2 + self.judge.shared_sigma_m**2
        )
        even = group.is_even and all(self._is_plain(n) for n in away)
        reach = max(reaches) + self.hazards.radius_m[rows] + group.max_radius_m
        reach = reach + (0.0 if even else np.minimum(telling, MOST_TELLING_M))
        self._all_within(rows[centre_m <= reach], reach[centre_m <= reach], group, away, reaches)

    def _is_plain(self, number: int) -> bool:
        line = self.receptors.lines[number]
        return line.limit.constant is not None and not line.needs and not line.rule.side

    def _all_within(
        self, rows: np.ndarray, reach: np.ndarray, group: _Group, away: list[int], reaches: list[float]
    ) -> None:
        """Judge every pair within reach, hazards of like reach together so that one poor fix widens no other's."""
        likeness = np.ceil(np.log2(np.maximum(reach, 1.0)))
        for like in np.unique(likeness):
            alike = rows[likeness == like]
            widest = float(reach[likeness == like].max())
            for start in range(0, len(alike), BLOCK):
                block = alike[start : start + BLOCK]
                asked, at, centre_m = self._within(block, group, widest)
                hazard, receptor = block[asked], group.index[at]
                if group.position.size:
                    other = receptor != hazard + self.first_row
                    hazard, receptor, centre_m = hazard[other], receptor[other], centre_m[other]
                judged = self.judge.judged(hazard, receptor, centre_m, away, reaches)
                self._take_worst(hazard, receptor, centre_m, judged)
                self._keep_pairs(hazard, receptor, centre_m, judged)

    def _nearest(self, rows: np.ndarray, group: _Group) -> tuple[np.ndarray, np.ndarray]:
        itself = np.full(len(rows), -1, dtype=np.intp)
        if group.position.size:
            itself = group.position[rows + self.first_row]
        if group.points is not None and not self.is_shape[rows[0]]:
            return group.points.nearest(self.hazards.lonlat[rows], self.xyz[rows], itself)
        return group.shapes.nearest(self._geometry(rows), itself)

    def _within(self, rows: np.ndarray, group: _Group, reach_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        if group.points is not None and not self.is_shape[rows[0]]:
            return group.points.within(self.hazards.lonlat[rows], self.xyz[rows], reach_m)
        return group.shapes.within(self._geometry(rows), reach_m)

    def _geometry(self, rows: np.ndarray) -> np.ndarray:
        if self.hazards.shapes is not None and self.is_shape[rows[0]]:
            return self.hazards.shapes[rows]
        return np.asarray(shapely.points(self.hazards.lonlat[rows]))

    def _edge_m(self, hazard: np.ndarray, receptor: np.ndarray, centre_m: np.ndarray) -> np.ndarray:
        gap = self.hazards.radius_m[hazard] + self.receptors.layer.radius_m[receptor]
        return np.maximum(centre_m - gap, 0.0)

    def _nearer(self, rows: np.ndarray, receptor: np.ndarray, centre_m: np.ndarray) -> None:
        edge_m = self._edge_m(rows, receptor, centre_m)
        nearer = edge_m < self.distance_m[rows]
        self.nearest[rows[nearer]], self.distance_m[rows[nearer]] = receptor[nearer], edge_m[nearer]
        self.reason[rows[self.reason[rows] == Reason.NO_RECEPTOR]] = Reason.NONE

    def _take_worst(self, hazard: np.ndarray, receptor: np.ndarray, centre_m: np.ndarray, judged: Judged) -> None:
        """Of several pairs of one hazard the one least likely to meet, then the one with the smallest margin."""
        self.reason[hazard[judged.unknown >= 0]] = Reason.NOT_RECORDED
        order = np.lexsort((receptor, judged.margin_m, judged.probability, hazard))
        first = order[np.flatnonzero(np.diff(hazard[order], prepend=-1))]
        self._take(hazard[first], receptor[first], centre_m[first], _some(judged, first))

    def _take(self, hazard: np.ndarray, receptor: np.ndarray, centre_m: np.ndarray, judged: Judged) -> None:
        """Hazards, each once, whose pair is worse than the one held so far."""
        self.reason[hazard[judged.unknown >= 0]] = Reason.NOT_RECORDED
        held = self.probability[hazard]
        worse = (judged.line >= 0) & (
            (judged.probability < held) | ((judged.probability == held) & (judged.margin_m < self.margin_m[hazard]))
        )
        to = hazard[worse]
        self.governs[to] = receptor[worse]
        self.governs_m[to] = self._edge_m(to, receptor[worse], centre_m[worse])
        self.line[to], self.required_m[to] = judged.line[worse], judged.required_m[worse]
        self.margin_m[to], self.sigma_m[to] = judged.margin_m[worse], judged.sigma_m[worse]
        self.probability[to] = judged.probability[worse]

    def _keep_pairs(self, hazard: np.ndarray, receptor: np.ndarray, centre_m: np.ndarray, judged: Judged) -> None:
        strict = np.array([line.limit.is_strict for line in self.receptors.lines])
        short = (judged.line >= 0) & ((judged.margin_m < 0.0) | ((judged.margin_m == 0.0) & strict[judged.line]))
        self.pairs.append(
            (
                hazard[short],
                receptor[short],
                self._edge_m(hazard, receptor, centre_m)[short],
                judged.line[short],
                judged.required_m[short],
            )
        )

    def _at_most(self, rows: np.ndarray, lines: list[int]) -> None:
        """Rules that ask for one of some kinds within a distance: the nearest of them decides."""
        for number in (n for n in lines if not self.receptors.lines[n].keeps_away):
            limit_m = self.receptors.lines[number].limit.constant
            assert limit_m is not None
            best, best_m = np.full(len(rows), -1, dtype=np.intp), np.full(len(rows), np.inf)
            for group in (g for g in self.receptors.groups if number in g.lines):
                for drawn in (False, True):
                    mine = np.flatnonzero(self.is_shape[rows] == drawn)
                    if not len(mine):
                        continue
                    at, centre_m = self._nearest(rows[mine], group)
                    receptor = group.index[np.maximum(at, 0)]
                    edge_m = np.where(at >= 0, self._edge_m(rows[mine], receptor, centre_m), np.inf)
                    nearer = edge_m < best_m[mine]
                    best[mine[nearer]], best_m[mine[nearer]] = receptor[nearer], edge_m[nearer]
            there = best >= 0
            hazard, receptor, edge_m = rows[there], best[there], best_m[there]
            margin = np.round((limit_m - edge_m) / HAIR_M) * HAIR_M
            sigma = self.judge.sigma_m(hazard, receptor)
            strict = self.receptors.lines[number].limit.is_strict
            judged = Judged(
                line=np.full(len(hazard), number, dtype=np.int32), required_m=np.full(len(hazard), limit_m),
                margin_m=margin, sigma_m=sigma, probability=probabilities(margin, sigma, strict=strict),
                unknown=np.full(len(hazard), NONE, dtype=np.int32),
            )  # fmt: skip
            gap = self.hazards.radius_m[hazard] + self.receptors.layer.radius_m[receptor]
            self._take(hazard, receptor, edge_m + gap, judged)

    def screened(self) -> Screened:
        """All hazards with their verdicts."""
        bound = self.line >= 0
        verdict = np.full(len(self.line), TOO_CLOSE, dtype=np.int8)
        verdict[self.probability >= self.confidence] = MEETS
        verdict[self.probability <= 1.0 - self.confidence] = FAILS
        verdict[(self.reason != Reason.NONE) & (~bound | (verdict == MEETS))] = NOT_ASSESSED
        # Something stands there that its rules name, and none of them binds it as it is.
        verdict[~bound & (self.reason == Reason.NONE)] = MEETS
        pairs = [np.concatenate(parts) for parts in zip(*self.pairs, strict=True)] or [np.zeros(0, dtype=np.intp)] * 5
        return Screened(
            nearest=self.nearest, distance_m=self.distance_m, governs=self.governs, governs_m=self.governs_m,
            line=self.line, required_m=self.required_m, margin_m=np.where(bound, self.margin_m, np.nan),
            sigma_m=self.sigma_m, probability=np.where(bound, self.probability, np.nan), verdict=verdict,
            reason=self.reason, pair_hazard=pairs[0], pair_receptor=pairs[1], pair_m=pairs[2], pair_line=pairs[3],
            pair_required_m=pairs[4],
        )  # fmt: skip


def _some(judged: Judged, at: np.ndarray) -> Judged:
    return Judged(
        line=judged.line[at], required_m=judged.required_m[at], margin_m=judged.margin_m[at],
        sigma_m=judged.sigma_m[at], probability=judged.probability[at], unknown=judged.unknown[at],
    )  # fmt: skip
