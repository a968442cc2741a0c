"""Nearest places and all places within a reach, where both are points: a tree of chords for the whole earth."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from siting.screening.earth import between_m, geocentric, geodesic_m

CELL_DEG = 0.005
"Queries are asked cell by cell of this size (about 500 m), so that one finds the tree warm from the one before."
FAR_M = 50_000.0
"""Beyond this chord several candidates are compared by their geodesics.

Up to here the order of chords is the order of geodesics to within 2 mm: c^3 / (24 R^2) is 0.13 m, R^2 right to 1.2 %.
"""
FAR_CANDIDATES = 8
BLOCK = 50_000


@dataclass(slots=True)
class PointGroup:
    """Receptors that the same rules look at, with their tree."""

    index: np.ndarray
    "Positions (m,) in the layer of receptors."
    lonlat: np.ndarray
    radius_m: np.ndarray
    tree: Any = field(init=False)
    spread_m: float = field(init=False)

    def __post_init__(self) -> None:
        from scipy.spatial import cKDTree

        self.tree = cKDTree(geocentric(self.lonlat), balanced_tree=False)
        self.spread_m = float(np.ptp(self.radius_m))

    def nearest(self, lonlat: np.ndarray, xyz: np.ndarray, itself: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Position in the group (n,) and distance from centre to centre [m] (n,) of the nearest by its edge.

        `itself` (n,) is the position in the group of the place asked for, -1 where it is not one of the group;
        a place is never the nearest of itself.
        """
        held = itself >= 0
        chord, at = self.tree.query(xyz, workers=-1)
        if held.any():
            two, both = self.tree.query(xyz[held], k=2, workers=-1)
            second = both[:, 0] == itself[held]
            chord[held] = np.where(second, two[:, 1], two[:, 0])
            at[held] = np.where(second, both[:, 1], both[:, 0])
        missing = ~np.isfinite(chord)
        at[missing] = 0
        if self.spread_m > 0.0:
            self._larger(xyz, chord, at, itself)
        distance_m = geodesic_m(chord, lonlat, self.lonlat[at])
        far = np.flatnonzero((chord > FAR_M) & ~missing & ~held)
        if len(far) and len(self.index) > 1:
            at[far], distance_m[far] = self._by_geodesic(lonlat[far], xyz[far])
        at[missing], distance_m[missing] = -1, np.inf
        return at, distance_m

    def _larger(self, xyz: np.ndarray, chord: np.ndarray, at: np.ndarray, itself: np.ndarray) -> None:
        """Where a larger disc whose centre is farther has the nearer edge, take that one."""
        reach = np.where(np.isfinite(chord), chord, 0.0) + self.spread_m
        for one, around in enumerate(self.tree.query_ball_point(xyz, reach, workers=-1)):
            others = np.array([o for o in around if o != itself[one]], dtype=np.intp)
            if len(others) > 1:
                length = np.linalg.norm(self.tree.data[others] - xyz[one], axis=1)
                best = int(np.argmin(length - self.radius_m[others]))
                chord[one], at[one] = length[best], others[best]

    def _by_geodesic(self, lonlat: np.ndarray, xyz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        count = min(FAR_CANDIDATES, len(self.index))
        _, at = self.tree.query(xyz, k=count, workers=-1)
        lengths = between_m(np.repeat(lonlat, count, axis=0), self.lonlat[at.ravel()]).reshape(at.shape)
        best = np.argmin(lengths - self.radius_m[at], axis=1)
        rows = np.arange(len(at))
        return at[rows, best], lengths[rows, best]

    def within(self, lonlat: np.ndarray, xyz: np.ndarray, reach_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Pairs (k,) with centres at most `reach_m` apart: place asked for, position in the group, distance [m].

        A chord is never longer than its geodesic, so none is missed.
        """
        from scipy.spatial import cKDTree

        found = cKDTree(xyz, balanced_tree=False).sparse_distance_matrix(
            self.tree, reach_m, output_type="ndarray"
        )  # fmt: skip
        asked, at = found["i"].astype(np.intp), found["j"].astype(np.intp)
        return asked, at, geodesic_m(found["v"].astype(float), lonlat[asked], self.lonlat[at])


def in_cells(lonlat: np.ndarray) -> np.ndarray:
    """An order (n,) in which neighbours stand together."""
    row = np.floor(lonlat[:, 1] / CELL_DEG).astype(np.int64)
    return np.argsort(row * 1_000_000 + np.floor(lonlat[:, 0] / CELL_DEG).astype(np.int64))
