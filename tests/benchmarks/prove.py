"""How long proofs take, beside what else could be done: plain grids, overlays, general solvers, more features, packs.

Run by its own command, on a quiet machine: `python tests/benchmarks/prove.py`.
Everything happens in one process on sites that are in memory; medians of several rounds.
It prints a table with the versions it depends on, and exits 1 when a target is missed.
"""

import platform
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

import run
from conftest import WORDS, feature, new, pack, plot, site

from siting import arrangement, feasible
from siting.assess import assess
from siting.candidates import best_places
from siting.clearance import lay_out
from siting.cli.options import read
from siting.demands import demands
from siting.installation import disc, rectangle
from siting.io import packs as pack_files
from siting.layout import _copies, _wanted
from siting.requirements import Question
from siting.site import Ground, Request, WaterLevel
from siting.sizes import size
from siting.spot_search import SpotSearch

ROUNDS = 5
SIDE_M = 400.0
SOLVER_SECONDS = 30.0
KESSA_HILL = Path(__file__).parents[2] / "sample_sites" / "kessa-hill"
LIMITS_M = {
    "well": 30, "stream": 30, "ward": 15, "kitchen": 15, "dwelling": 10, "school": 15, "tapstand": 10, "road": 5,
    "store": 3, "tree": 3,
}  # fmt: skip
SHARES = {"well": 12, "stream": 4, "ward": 20, "kitchen": 10, "dwelling": 120, "school": 4, "tapstand": 30, "road": 4,
          "store": 40, "tree": 55}  # fmt: skip
"Of 299 features; with the boundary they are 300."
FIVE = ("placenta pit", "ash pit", "sharps pit", "incinerator", "pit latrine")
TWELVE = (
    "health-care-waste", "groundwater-travel-time", "ontario-8-2-1-5", "minnesota-4725-4450", "new-york-5b",
    "victoria-891", "clark-county-iv", "hesperian-burial-pit", "msf-excreta-pit", "who-unicef-2014-latrine",
    "montana-setbacks", "latrine-two-sided",
)  # fmt: skip


@dataclass(frozen=True)
class Result:
    """One line of the table."""

    label: str
    value: float
    unit: str
    most: float | None = None
    note: str = ""

    @property
    def missed(self) -> bool:
        """Whether a target is missed; a line without one misses nothing."""
        return self.most is not None and not self.value <= self.most


def median_s(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Median time of some work, after one round to warm up."""
    work()
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def yard(times: int, seed: int = 1854):
    """300 features (or times as many on as much more ground) on a square, always the same."""
    chance, side_m = np.random.default_rng(seed), SIDE_M * times**0.5
    things = [plot(shapely.box(0.0, 0.0, side_m, side_m))]
    for kind, share in SHARES.items():
        for number in range(share * times):
            x, y = chance.uniform(0.0, side_m, 2)
            length_m, width_m = chance.uniform(3.0, 15.0, 2)
            if kind in ("stream", "road"):
                # As long at ten times the ground, so that there are as many of them to a hectare.
                east = np.clip(x + np.linspace(-150.0, 150.0, 15), 0.0, side_m)
                shape = shapely.LineString(np.column_stack([east, y + np.cumsum(chance.normal(0.0, 6.0, 15))]))
            elif kind in ("well", "tapstand", "tree"):
                shape = shapely.Point(x, y)
            else:
                shape = shapely.box(x, y, x + length_m, y + width_m)
            things.append(feature(kind, f"{kind} {number}", shape))
    assert 300 * times - times + 1 == len(things)
    return site(*things)


def code():
    """Ten rules of distance and the boundary."""
    rules = [
        f'id = "{kind}"\nfor = ["pit"]\nfrom = ["{kind}"]\nat_least_m = {limit}' for kind, limit in LIMITS_M.items()
    ]
    return pack('id = "land"\nfor = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"', *rules)


ROUND = new("placenta pit", pit=disc(1.5), enclosure=disc(1.5))
LONG = new("placenta pit", pit=rectangle(5.0, 3.4), enclosure=rectangle(5.0, 3.4))


def asked(of, installation):
    """Requirements and land."""
    question = Question(site=of, packs=(code(),), words=WORDS)
    return demands(question, installation).requirements, question.land


def proved(of, installation) -> tuple[float, float]:
    """Seconds to prove the best place to 5 cm, and its margin."""
    requirements, land = asked(of, installation)
    (best,) = best_places(requirements, installation, land, count=1, gap_m=0.05)
    assert best.bound_m - best.margin_m <= 0.05 + 1e-9
    taken = median_s(lambda: best_places(requirements, installation, land, count=1, gap_m=0.05))
    return taken, best.margin_m


def proofs() -> list[Result]:
    """The best place, proved; ten times the features; a plain grid that proves nothing."""
    of = yard(1)
    circle_s, margin_m = proved(of, ROUND)
    turned_s, _ = proved(of, LONG)
    wide_s, _ = proved(yard(10), ROUND)
    requirements, _ = asked(of, ROUND)
    laid = lay_out([r for r in requirements if r.sense == "outside"], ROUND)

    def plain() -> float:
        x, y = (g.ravel() for g in np.meshgrid(*[np.arange(0.25, SIDE_M, 0.5)] * 2))
        tree = shapely.STRtree(laid.geometry)
        left = np.ones(len(x), dtype=bool)
        # One query for each limit: dwithin takes a distance for each point, not for each feature.
        for limit_m in np.unique(laid.limit_m):
            at = np.flatnonzero(left)
            near, which = tree.query(shapely.points(x[at], y[at]), predicate="dwithin", distance=limit_m + 0.75)
            left[at[near[laid.limit_m[which] >= limit_m]]] = False
        return float(left.sum())

    plain_s = median_s(plain, 1)
    return [
        Result("proof to 0.05 m, circle, 300 features, 10 rules", circle_s, "s", 0.2, f"margin {margin_m:.2f} m"),
        Result("proof to 0.05 m, free angle", turned_s, "s", 0.5),
        Result("3000 features against 300", wide_s / circle_s, "x", 15.0, f"{wide_s:.3f} s"),
        Result("grid of 0.5 m with dwithin against the proof", plain_s / circle_s, "x", None, f"{plain_s:.2f} s"),
    ]


def grounds() -> list[Result]:
    """Feasible ground beside one vectorised buffer, union and difference, and beside a loop of overlays."""
    requirements, land = asked(yard(1), ROUND)
    away = [r for r in requirements if r.sense == "outside"]
    shapes = np.array([r.geometry for r in away], dtype=object)
    reach = np.array([r.limit_m for r in away]) + 0.75

    def once() -> object:
        zones = shapely.union_all(shapely.buffer(shapes, reach, quad_segs=feasible.QUAD_SEGS))
        return shapely.difference(shapely.buffer(land, -0.75), zones)

    def overlays() -> object:
        left = gpd.GeoDataFrame(geometry=[land], crs=32736)
        for limit_m in np.unique(reach):
            zones = gpd.GeoDataFrame(geometry=shapely.buffer(shapes[reach == limit_m], limit_m), crs=32736)
            left = gpd.overlay(left, zones, how="difference")
        return left

    must = [r for r in requirements if r.is_must]
    one_s = median_s(lambda: feasible.ground_left(must, ROUND, land, (0.0,), factor=0.0))
    both_s = median_s(lambda: feasible.feasible_ground(must, ROUND, land, confidence=0.95))
    plain_s, overlay_s = median_s(once), median_s(overlays, 2)
    return [
        Result("feasible ground against one buffer-union-difference", one_s / plain_s, "x", 1.2, f"{one_s:.3f} s"),
        Result("both grounds (nominal, confident) against two of them", both_s / plain_s / 2.0, "x", 1.2),
        Result("loop of overlays against feasible ground", overlay_s / one_s, "x", None, f"{overlay_s:.2f} s"),
    ]


class Five:
    """Five installations on the larger sample, as `arrange` sees them, and the same model for general solvers."""

    def __init__(self) -> None:
        model, packs = read(KESSA_HILL, (), None)
        self.question = Question(site=model, packs=packs, words=WORDS)
        requests = [Request(kind=kind, pit_depth_m=2.0, serve_from="Delivery room") for kind in FIVE]
        self.wanted = [_wanted(request, name, self.question) for request, name in _copies(requests)]

    def place(self):
        """The whole job."""
        return arrangement.arrange(self.wanted, self.question)

    def model(self):
        """Spots and pairs on the grid."""
        land = self.question.land
        step_m = arrangement._step(land, arrangement.MOST_SPOTS)
        laid = [lay_out([r for r in w.demands.requirements if r.is_must], w.installation) for w in self.wanted]
        spots = [arrangement._spots(w, c, land, step_m) for w, c in zip(self.wanted, laid, strict=True)]
        between = {}
        for b, other in enumerate(self.wanted):
            for a, one in enumerate(self.wanted[:b]):
                pairs = arrangement._pairs(one.installation, other.installation, self.question, arrangement.STRIP_M)
                between[a, b] = arrangement._pair_margins(spots[a].places, spots[b].places, pairs)
        return [s.margin for s in spots], [np.minimum(s.walk, 1e4) for s in spots], between


def by_milp(own, walks, between, margin_m: float) -> tuple[float, float | None]:
    """Seconds and least walk by HiGHS: one row a spot and pair of kinds."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix, vstack

    start = np.r_[0, np.cumsum([len(m) for m in own])]
    blocks = [
        csr_matrix((np.ones(len(m)), (np.zeros(len(m)), start[k] + np.arange(len(m)))), shape=(1, start[-1]))
        for k, m in enumerate(own)
    ]
    for (a, b), m in between.items():
        i, j = np.nonzero(m < margin_m)
        n = len(own[a])
        rows = np.r_[i, np.arange(n)]
        columns = np.r_[start[b] + j, start[a] + np.arange(n)]
        blocks.append(csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(n, start[-1])))
    matrix = vstack(blocks).tocsr()
    least = np.r_[np.ones(len(own)), np.zeros(matrix.shape[0] - len(own))]
    begun = time.perf_counter()
    solved = milp(
        np.concatenate(walks),
        constraints=LinearConstraint(matrix, least, np.ones(len(least))),
        bounds=Bounds(0.0, (np.concatenate(own) >= margin_m).astype(float)),
        integrality=np.ones(start[-1]),
        options={"time_limit": SOLVER_SECONDS},
    )
    return time.perf_counter() - begun, float(solved.fun) if solved.status == 0 else None


def by_cp_sat(own, walks, between, margin_m: float) -> tuple[float, float | None]:
    """Seconds and least walk by CP-SAT on the same rows; walks in centimetres."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    kept = [m >= margin_m for m in own]
    x = [[model.new_bool_var("") if ok else None for ok in each] for each in kept]
    for each in x:
        model.add_exactly_one([v for v in each if v is not None])
    for (a, b), m in between.items():
        for i in np.flatnonzero(kept[a]):
            barred = np.flatnonzero((m[i] < margin_m) & kept[b])
            if len(barred):
                model.add_at_most_one([x[a][i], *(x[b][j] for j in barred)])
    model.minimize(
        sum(
            round(100 * w) * v
            for each, walk in zip(x, walks, strict=True)
            for v, w in zip(each, walk, strict=True)
            if v is not None
        )
    )
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = SOLVER_SECONDS
    begun = time.perf_counter()
    status = solver.solve(model)
    taken = time.perf_counter() - begun
    return taken, solver.objective_value / 100.0 if status == cp_model.OPTIMAL else None


def arrangements() -> list[Result]:
    """Five at once on the larger sample, and the walk at the same margin by general solvers."""
    five = Five()
    found = five.place()
    whole_s = median_s(five.place, 2)
    own, walks, between = five.model()
    best_m, _ = SpotSearch(own, walks, between).largest_margin(most_m=None)
    margin_m = max(0.0, min(best_m, found.margin_m)) / 2.0
    own_walk = []

    def search() -> None:
        chosen = SpotSearch(own, walks, between).least_walk(margin_m, [])
        own_walk[:] = [sum(walks[k][spot] for k, spot in enumerate(chosen))]

    search_s = median_s(search, 2)
    gap = (found.bound_m - found.margin_m) / found.margin_m if found.margin_m > 0.0 else float("inf")
    told = f"margin {found.margin_m:.2f} m, bound {found.bound_m:.2f} m, step {found.step_m:.1f} m"
    results = [
        Result("arrange of five on kessa-hill, all of it", whole_s, "s", 5.0, told + ("" if found.proved else ", CUT")),
        Result("its gap between margin and bound", 100.0 * gap, "%", 2.0),
        Result(f"least walk at a margin of {margin_m:.1f} m, this search", search_s, "s", 5.0, f"{own_walk[0]:.1f} m"),
    ]
    for name, solve in (("HiGHS (scipy milp)", by_milp), ("CP-SAT (ortools)", by_cp_sat)):
        try:
            taken, walk_m = solve(own, walks, between, margin_m)
        except ImportError:
            print(f"{name} is not installed: not measured")
            continue
        agrees = "not solved in time" if walk_m is None else f"{walk_m:.1f} m"
        results.append(Result(f"this search against {name}", search_s / taken, "x", 1.0, f"{taken:.2f} s, {agrees}"))
    return results


def packs_and_wells() -> list[Result]:
    """Twelve packs against one, and three wells against none, on the larger sample with 300 features around."""
    model, _ = read(KESSA_HILL, (), None)
    one, twelve = (pack_files.in_force(names, beside=KESSA_HILL) for names in (TWELVE[:1], TWELVE))
    wide = replace(yard(1), survey=model.survey, absent=model.absent)
    extra = [feature("pit latrine", f"Latrine {n}", (20.0 + 35.0 * n, 200.0), radius_m=0.75) for n in range(10)]
    wide = replace(wide, features=(*wide.features, *extra), confidence=model.confidence)
    check = {len(packs): median_s(lambda p=packs: assess(wide, p, WORDS)) for packs in (one, twelve)}
    one_s, twelve_s = check.values()
    with tempfile.TemporaryDirectory() as name:
        folder = run.prepared(Path(name))
        out = ("--no-map", "-q", "--overwrite", "--out", Path(name) / "out")
        commands = {
            str(len(names)): ("-m", "siting", "check", folder, *(x for n in names for x in ("--rules", n)), *out)
            for names in (TWELVE[:1], TWELVE)
        }
        whole = run.measured(commands)
    request = Request(kind="placenta pit", pit_depth_m=1.0)
    wells = tuple(
        WaterLevel(name=f"W{n}", x_m=x, y_m=y, level_m=95.0 - 0.01 * x)
        for n, (x, y) in enumerate(((0.0, 0.0), (300.0, 0.0), (0.0, 300.0)))
    )
    known = Ground(conductivity_m_per_day=5.0, porosity=0.2)
    by = (code(), *pack_files.in_force(("groundwater-travel-time",), beside=KESSA_HILL))
    base = replace(yard(1), ground=known)
    levelled = replace(base, ground=replace(known, levels=wells))
    without_s, with_s = (
        median_s(lambda s=s: assess(s, by, WORDS, request=request, size=size(request), count=1))
        for s in (base, levelled)
    )
    return [
        Result("check of 300 features under 12 packs against 1, whole command", whole["12"] / whole["1"], "x", 2.0,
               f"{whole['1']:.2f} and {whole['12']:.2f} s"),
        Result("the same without reading and writing", twelve_s / one_s, "x", None,
               f"{one_s:.3f} and {twelve_s:.3f} s"),
        Result("three wells add to a find", 1000.0 * (with_s - without_s), "ms", 50.0, f"{without_s:.2f} s without"),
    ]  # fmt: skip


def main() -> int:
    """Measure, print, and say whether the targets are met."""
    results = [*proofs(), *grounds(), *arrangements(), *packs_and_wells()]
    versions = []
    for name in ("numpy", "shapely", "geopandas", "scipy", "ortools"):
        try:
            versions.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            versions.append(f"{name} not installed")
    print(f"Python {platform.python_version()}, {platform.machine()}, medians; " + ", ".join(versions))
    for r in results:
        verdict = "" if r.most is None else f"(at most {r.most:g}): {'MISSED' if r.missed else 'met'}"
        print(f"{r.label:62} {r.value:9.3f} {r.unit:2} {verdict:24} {r.note}")
    return 1 if any(r.missed for r in results) else 0


if __name__ == "__main__":
    sys.exit(main())
