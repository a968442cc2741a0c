"""Pairs of places judged: required distance, margin, probability, for all rules that look at both."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from siting.kinds import Vocabulary
from siting.layer import NONE, Layer
from siting.screening.lines import OFF, ON, UNKNOWN, Binding, Line
from siting.screening.side import off_side_m, towards_deg
from siting.uncertainty import probabilities

HAIR_M = 1e-6
"Margins are decided to the micrometre, as everywhere: finer differences are rounding noise."


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """For each pair (k,) the rule that binds it most; `line` is -1 where none binds."""

    line: np.ndarray
    required_m: np.ndarray
    margin_m: np.ndarray
    sigma_m: np.ndarray
    probability: np.ndarray
    unknown: np.ndarray
    "Line of a rule within whose reach the pair is and that could not be applied, -1 where there is none."


@dataclass(slots=True)
class Judge:
    """Two layers with the rules between them."""

    hazards: Layer
    receptors: Layer
    lines: Sequence[Line]
    words: Vocabulary
    _bindings: dict[int, Binding] = field(default_factory=dict)
    _towards: dict[tuple[str, bool], np.ndarray] = field(default_factory=dict)

    @property
    def shared_sigma_m(self) -> float:
        """What separates two sources besides the errors of their own places."""
        if self.hazards.source == self.receptors.source:
            return 0.0
        return float(np.hypot(self.hazards.shared_sigma_m, self.receptors.shared_sigma_m))

    def sigma_m(self, hazard: np.ndarray, receptor: np.ndarray) -> np.ndarray:
        """Standard uncertainty [m] of the distances of pairs (k,)."""
        own = self.hazards.sigma_m[hazard] ** 2 + self.receptors.sigma_m[receptor] ** 2
        return np.asarray(np.sqrt(own + self.shared_sigma_m**2))

    def judged(
        self,
        hazard: np.ndarray,
        receptor: np.ndarray,
        centre_m: np.ndarray,
        lines: Sequence[int],
        reach_m: Sequence[float],
    ) -> Judged:
        """Pairs (k,), `centre_m` apart (radii left out of account), against the lines that keep them apart.

        `reach_m` is the most that each of the lines can ask for.
        """
        count = len(hazard)
        best = Judged(
            line=np.full(count, NONE, dtype=np.int32), required_m=np.full(count, np.nan),
            margin_m=np.full(count, np.inf), sigma_m=self.sigma_m(hazard, receptor), probability=np.full(count, np.inf),
            unknown=np.full(count, NONE, dtype=np.int32),
        )  # fmt: skip
        gap_m = self.hazards.radius_m[hazard] + self.receptors.radius_m[receptor]
        distance_m = np.maximum(centre_m - gap_m, 0.0)
        for number, reach in zip(lines, reach_m, strict=True):
            line = self.lines[number]
            state, required = self._binding(number).of(hazard, receptor)
            margin = decisive = np.round((distance_m - required) / HAIR_M) * HAIR_M
            if line.rule.side:
                state, margin, decisive = self._on_its_side(line, state, margin, required, centre_m, hazard, receptor)
            met = probabilities(decisive, best.sigma_m, strict=line.limit.is_strict)
            on = state == ON
            worse = on & ((met < best.probability) | ((met == best.probability) & (margin < best.margin_m)))
            best.line[worse] = number
            for held, value in (
                (best.required_m, required), (best.margin_m, margin), (best.probability, met),
            ):  # fmt: skip
                held[worse] = value[worse]
            within = distance_m - np.where(np.isnan(required), reach, required) < 2.0 * best.sigma_m
            best.unknown[(state == UNKNOWN) & within] = number
        return best

    def _binding(self, number: int) -> Binding:
        if number not in self._bindings:
            self._bindings[number] = Binding(self.lines[number], self.hazards, self.receptors, self.words)
        return self._bindings[number]

    def _on_its_side(
        self, line: Line, state: np.ndarray, margin: np.ndarray, required: np.ndarray, centre_m: np.ndarray,
        hazard: np.ndarray, receptor: np.ndarray,
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:  # fmt: skip
        """State, margin and deciding margin of pairs against a rule for one side.

        Off that side the margin is how far away it begins; on it, the plain distance less the limit, and what
        decides is the least move that would end it: farther off, or over to the other side.
        """
        side = line.rule.side
        bearing = self._side(side, of_receptor=True)[receptor]
        other = self._side(side, of_receptor=False)[hazard]
        bearing = np.where(np.isnan(bearing), other, bearing)
        drawn = self.hazards.is_shape[hazard] | self.receptors.is_shape[receptor]
        told = ~np.isnan(bearing) & ~drawn & (state != OFF)
        state, margin, decisive = state.copy(), margin.copy(), margin.copy()
        if not line.rule.strict_if_unknown:
            state[(state == ON) & ~told] = UNKNOWN
        reach = required + self.receptors.radius_m[receptor]
        off = off_side_m(
            self.receptors.lonlat[receptor[told]], self.hazards.lonlat[hazard[told]], centre_m[told], bearing[told],
            sector_deg=line.rule.sector_deg, reach_m=reach[told],
        ) - self.hazards.radius_m[hazard[told]]  # fmt: skip
        off = np.round(off / HAIR_M) * HAIR_M
        decisive[told] = np.where(off > 0.0, off, np.maximum(margin[told], off))
        margin[told] = np.where(off > 0.0, off, margin[told])
        return state, margin, decisive

    def _side(self, side: str, *, of_receptor: bool) -> np.ndarray:
        key = (side, of_receptor)
        if key not in self._towards:
            self._towards[key] = towards_deg(self.receptors if of_receptor else self.hazards, side)
        return self._towards[key]
