"""A country that does not exist: settlements of heavy-tailed size with latrines and wells, and a registry's faults.

Everything comes from one seed, so that two runs, and two engines, screen the same rows.
Faults are injected at stated rates and their rows are kept, so that what is caught can be counted.
"""

from dataclasses import dataclass

import numpy as np

SEED = 1854
SETTLEMENTS = 20_000
WIDE_DEG, HIGH_DEG = 4.2, 4.0
"Extent of the country, about 450 by 440 km."
WEST, SOUTH = 31.0, -15.0
DISTRICTS = 40
TAIL = 1.2
"Exponent of the Pareto law that sizes of settlements follow; the smaller, the heavier the tail (own choice)."
SPREAD_M = 160.0
"Standard deviation of places round the middle of a settlement of mean size; it grows with the root of the size."

RATES = {
    "swapped": 0.01,
    "missing": 0.01,
    "placeholder": 0.005,
    "few decimals": 0.02,
    "repeated id": 0.005,
    "unknown kind": 0.005,
    "out of range": 0.002,
}
"""Share of rows with each fault, one fault a row at most.

Together 5.7 %: audits of world-wide records flag 3.7 to 6.3 % (Methods in Ecology and Evolution 10(5), 2019, doi
10.1111/2041-210X.13152, seen); how they are split is our own choice."""


@dataclass(frozen=True)
class Registry:
    """One table with what was done to it."""

    id: np.ndarray
    lon: list
    lat: list
    kind: list
    district: np.ndarray
    accuracy_m: np.ndarray
    faults: dict
    "Fault to the rows that have it, counted from 0."

    def __len__(self):
        return len(self.id)


def settlements(seed=SEED, count=SETTLEMENTS):
    """Middles (n, 2) in degrees and shares (n,) of all places."""
    chance = np.random.default_rng(seed)
    middles = np.column_stack([
        WEST + WIDE_DEG * chance.uniform(0, 1, count), SOUTH + HIGH_DEG * chance.uniform(0, 1, count)
    ])  # fmt: skip
    sizes = chance.pareto(TAIL, count) + 1.0
    return middles, sizes / sizes.sum()


def places(count, *, seed, of=None):
    """Degrees (count, 2) and settlement (count,) of places strewn over the settlements."""
    middles, shares = of if of is not None else settlements()
    chance = np.random.default_rng(seed)
    where = chance.choice(len(middles), count, p=shares)
    spread_m = SPREAD_M * np.sqrt(shares[where] * len(middles))
    step_m = chance.normal(0, 1, (count, 2)) * spread_m[:, None]
    per_degree = np.column_stack([111_320.0 * np.cos(np.radians(middles[where, 1])), np.full(count, 110_600.0)])
    return middles[where] + step_m / per_degree, where


def registry(count, kind, *, seed, rates=RATES):
    """A table of places of one kind with the faults of registries, as the texts and numbers that a file holds."""
    lonlat, where = places(count, seed=seed)
    chance = np.random.default_rng(seed + 1)
    lonlat = np.round(lonlat, 7)
    row = chance.permutation(count)
    ids = np.array([f"{kind[0].upper()}{n}" for n in range(count)], dtype=object)
    lon, lat = lonlat[:, 0].astype(object), lonlat[:, 1].astype(object)
    kinds = np.full(count, kind, dtype=object)
    faults, start = {}, 0
    for fault, rate in rates.items():
        rows = np.sort(row[start : start + round(rate * count)])
        start += len(rows)
        faults[fault] = rows
        if fault == "swapped":
            lon[rows], lat[rows] = lat[rows], lon[rows]
        elif fault == "missing":
            lon[rows] = None
        elif fault == "placeholder":
            lon[rows] = lat[rows] = 0.0
        elif fault == "few decimals":
            lon[rows] = [round(v, 2) for v in lon[rows]]
            lat[rows] = [round(v, 2) for v in lat[rows]]
        elif fault == "repeated id":
            ids[rows] = ids[(rows + 1) % count]
        elif fault == "unknown kind":
            kinds[rows] = "n/a 7"
        elif fault == "out of range":
            lat[rows] = [v * 10.0 for v in lat[rows]]
    return Registry(
        id=ids, lon=list(lon), lat=list(lat), kind=list(kinds), faults=faults,
        district=np.array([f"District {d:02d}" for d in where % DISTRICTS]),
        accuracy_m=np.round(chance.lognormal(np.log(5.0), 0.5, count), 1),
    )  # fmt: skip


def as_csv(table):
    """The registry as the text of a CSV file."""
    lines = ["id,lon,lat,kind,district,accuracy_m"]
    for cells in zip(table.id, table.lon, table.lat, table.kind, table.district, table.accuracy_m, strict=True):
        lines.append(",".join("" if cell is None else str(cell) for cell in cells))
    return "\n".join(lines) + "\n"
