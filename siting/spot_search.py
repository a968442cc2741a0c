"""One spot for each of several installations, so that all keep their distance: searches that are proofs.

Depth first, the installation with the fewest spots left before the others; what a choice forbids is struck from the
spots of the rest at once.
"""

from collections.abc import Mapping, Sequence

import numpy as np

MOST_NODES = 500_000
"Nodes of one search; beyond them the answer is called unproved rather than awaited."
MARGIN_STEP_M = 0.01


class SpotSearch:
    """Depth-first searches over one spot for each installation; `proved` turns false when one is cut short."""

    def __init__(
        self,
        margins: Sequence[np.ndarray],
        walks: Sequence[np.ndarray],
        between: Mapping[tuple[int, int], np.ndarray],
        *,
        alike: frozenset[tuple[int, int]] = frozenset(),
    ):
        """`margins` and `walks` of the spots of each installation; `between`: margins (n, m) of two of them.

        `alike`: pairs that can be exchanged without changing anything.
        """
        self.margins, self.walks, self.between, self.alike = margins, walks, between, alike
        self.proved = True
        self._nodes = 0

    def largest_margin(self, *, most_m: float | None) -> tuple[float, list[int]]:
        """The largest smallest margin to the centimetre, rounded down, and spots that reach it."""
        high = min(float(m.max()) for m in self.margins)
        high = high if most_m is None else min(high, most_m)
        top = self.any_spots(high)
        if top is not None:
            return high, top
        low = min(float(m.min()) for m in (*self.margins, *self.between.values()))
        low = min(low, high - MARGIN_STEP_M)
        # Nothing is worse than that, so any spots will do.
        chosen = self.any_spots(low) or [0] * len(self.margins)
        while high - low > MARGIN_STEP_M:
            middle = (low + high) / 2.0
            found = self.any_spots(middle)
            if found is None:
                high = middle
            else:
                low, chosen = middle, found
        return low, chosen

    def any_spots(self, margin_m: float) -> list[int] | None:
        """Spots that all keep a margin, or None."""
        allowed = [_bits(m[None] >= margin_m)[0] for m in self.margins]
        rows: dict[tuple[int, int], list[int]] = {}
        for (a, b), kept in self._together(margin_m).items():
            rows[a, b], rows[b, a] = _bits(kept), _bits(kept.T)
        self._nodes = 0
        found = self._fits({}, allowed, rows)
        return None if found is None else [found[k] for k in range(len(self.margins))]

    def _together(self, margin_m: float) -> dict[tuple[int, int], np.ndarray]:
        """Which spots of two installations keep a margin.

        Of those that are alike the earlier takes the earlier spot: every other order is the same arrangement.
        """
        return {
            key: np.triu(margin >= margin_m) if key in self.alike else margin >= margin_m
            for key, margin in self.between.items()
        }

    def _fits(
        self, placed: dict[int, int], allowed: list[int], rows: dict[tuple[int, int], list[int]]
    ) -> dict[int, int] | None:
        """The rest placed too, each on one of its spots, which are the bits of a number; or None."""
        left = [k for k in range(len(allowed)) if k not in placed]
        if not left:
            return placed
        # The one with the fewest spots left is the hardest to place, so it goes first.
        k = min(left, key=lambda one: allowed[one].bit_count())
        left.remove(k)
        options = allowed[k]
        while options:
            lowest = options & -options
            options ^= lowest
            spot = lowest.bit_length() - 1
            self._nodes += 1
            if self._nodes > MOST_NODES:
                self.proved = False
                return None
            narrowed = list(allowed)
            for one in left:
                narrowed[one] &= rows[k, one][spot]
                if not narrowed[one]:
                    break
            else:
                found = self._fits({**placed, k: spot}, narrowed, rows)
                if found is not None:
                    return found
        return None

    def least_walk(self, margin_m: float, fallback: list[int]) -> list[int]:
        """Spots that keep the margin with the least sum of walks."""
        self._nodes = 0
        best: list[float | list[int] | None] = [np.inf, None]
        allowed = [m >= margin_m for m in self.margins]
        self._shorter({}, 0.0, allowed, self._together(margin_m), best)
        return best[1] if isinstance(best[1], list) else fallback

    def _shorter(
        self, placed: dict[int, int], walked_m: float, allowed: list[np.ndarray],
        together: dict[tuple[int, int], np.ndarray], best: list[float | list[int] | None],
    ) -> bool:  # fmt: skip
        """Place one more where the walks may still come out shorter than the best; true when the search is cut."""
        assert isinstance(best[0], float)
        left = [k for k in range(len(self.margins)) if k not in placed]
        if not left:
            best[:] = [walked_m, [placed[k] for k in range(len(self.margins))]]
            return False
        if any(not allowed[k].any() for k in left):
            return False
        shortest_m = {k: float(self.walks[k][allowed[k]].min()) for k in left}
        k = min(left, key=lambda one: int(allowed[one].sum()))
        others_m = sum(walk_m for one, walk_m in shortest_m.items() if one != k)
        walk = self.walks[k]
        options = np.flatnonzero(allowed[k])
        for spot in options[np.argsort(walk[options], kind="stable")]:
            self._nodes += 1
            if self._nodes > MOST_NODES:
                self.proved = False
                return True
            if walked_m + float(walk[spot]) + others_m >= best[0]:
                break
            narrowed = list(allowed)
            for one in left:
                if one != k:
                    row = together[(k, one)][spot] if k < one else together[(one, k)][:, spot]
                    narrowed[one] = allowed[one] & row
            if self._shorter({**placed, k: int(spot)}, walked_m + float(walk[spot]), narrowed, together, best):
                return True
            assert isinstance(best[0], float)
        return False


def _bits(kept: np.ndarray) -> list[int]:
    """Each row of a Boolean matrix as the bits of one number: sets of spots are then met in one step."""
    packed = np.packbits(kept, axis=1, bitorder="little")
    return [int.from_bytes(row.tobytes(), "little") for row in packed]
