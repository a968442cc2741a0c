"""How fast a registry is screened and a folder of sites judged, beside other engines, in one run.

Run by its own command, on a quiet machine: `python tests/benchmarks/screen.py`
    --rows N      latrines (default 1,000,000) against N / 10 wells
    --all         also the slow rivals (scikit-learn's haversine tree)
    --growth      10^7 rows as well, time and peak memory beside those of 10^6; --huge goes to 10^8
    --batch N     a folder of N sites of 30 features: one process, two, dask, and a plain geopandas script
Every engine is a process of its own that reads Parquet, finds the nearest well of every latrine and all pairs within
30 m; ours also judges and writes. The tables come from the fictional country (`tests/country.py`), from one seed, so
that every engine has to find the same pairs. It prints a table with versions and exits 1 when a target is missed.
"""

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

ROUNDS = 3
LIMIT_M = 30.0
UTM = 32736
CODE = """
id = "thirty"
title = "Thirty metres"
edition = "1"
[document.code]
title = "A code for benchmarks"
read = "project judgement"
[[rule]]
id = "water"
for = ["pit latrine"]
from = ["well"]
at_least_m = 30
cite = { document = "code", clause = "1", says = "made up" }
"""


# --- engines: each reads two Parquet files and returns the pairs and the sum of the nearest distances ---------------


def tables(folder):
    """Degrees (n, 2) and (m, 2) as read."""
    import pyarrow.parquet as pq

    return [
        np.column_stack([t["lon"].to_numpy(), t["lat"].to_numpy()])
        for t in (pq.read_table(folder / name) for name in ("latrines.parquet", "wells.parquet"))
    ]


def on_grid(folder):
    """The same on the UTM grid [m]."""
    from pyproj import Transformer

    project = Transformer.from_crs(4326, UTM, always_xy=True).transform
    return [np.column_stack(project(t[:, 0], t[:, 1])) for t in tables(folder)]


def ours(folder):
    """The whole command, from Parquet to Parquet."""
    from siting.io import packs
    from siting.io.parts import Told
    from siting.kinds import vocabulary
    from siting.registries import screen_files

    results = screen_files(
        folder / "latrines.parquet", folder / "wells.parquet", packs.in_force((str(folder / "code.toml"),)),
        vocabulary(), folder=folder / "out", confidence=0.95, hazards_told=Told(kind="pit latrine"),
        receptors_told=Told(kind="well"), overwrite=True, with_map=False,
    )  # fmt: skip
    return results["pairs"], None


def floor(folder):
    """What cannot be saved: read, project, a bare tree with its nearest and pairs, and a table of the same rows."""
    import pyarrow as pa
    import pyarrow.parquet as pq
    from scipy.spatial import cKDTree

    latrines, wells = on_grid(folder)
    tree = cKDTree(wells)
    length, nearest = tree.query(latrines, workers=-1)
    near = cKDTree(latrines[length <= LIMIT_M]).sparse_distance_matrix(tree, LIMIT_M, output_type="ndarray")
    ids = np.char.mod("%d", np.arange(len(latrines)))
    pq.write_table(pa.table({"id": ids, "nearest": nearest, "distance_m": length}), folder / "floor.parquet")
    return len(near), float(length.sum())


def geopandas(folder):
    """`sjoin_nearest` and `sjoin(dwithin)`."""
    import geopandas as gpd

    frames = [
        gpd.GeoDataFrame(geometry=gpd.points_from_xy(t[:, 0], t[:, 1], crs=4326)).to_crs(UTM) for t in tables(folder)
    ]
    nearest = gpd.sjoin_nearest(*frames, distance_col="distance_m")
    pairs = gpd.sjoin(*frames, predicate="dwithin", distance=LIMIT_M)
    return len(pairs), float(nearest["distance_m"].sum())


def strtree(folder):
    """shapely's tree."""
    import shapely

    latrines, wells = (shapely.points(t) for t in on_grid(folder))
    tree = shapely.STRtree(wells)
    _, length = tree.query_nearest(latrines, return_distance=True, all_matches=False)
    return tree.query(latrines, predicate="dwithin", distance=LIMIT_M).shape[1], float(length.sum())


def balltree(folder):
    """scikit-learn's tree on a sphere: slow, and not exact."""
    from sklearn.neighbors import BallTree

    latrines, wells = (np.radians(t[:, ::-1]) for t in tables(folder))
    tree = BallTree(wells, metric="haversine")
    length, _ = tree.query(latrines, k=1)
    count = tree.query_radius(latrines, LIMIT_M / 6_371_008.8, count_only=True).sum()
    return int(count), float(length.sum() * 6_371_008.8)


def polars_st(folder):
    """polars-st: pairs only."""
    import polars_st as st
    import shapely

    latrines, wells = (st.GeoDataFrame([st.GeoSeries("geometry", shapely.points(t))]) for t in on_grid(folder))
    return len(latrines.st.sjoin(wells, predicate="dwithin", distance=LIMIT_M)), None


def duckdb(folder):
    """DuckDB with its spatial extension, where that is installed: pairs only."""
    import duckdb as engine

    con = engine.connect()
    con.load_extension("spatial")
    for name, xy in zip(("h", "r"), on_grid(folder), strict=True):
        con.register(f"{name}_xy", import_module("pyarrow").table({"x": xy[:, 0], "y": xy[:, 1]}))
        con.execute(f"create table {name} as select st_point(x, y) g from {name}_xy")
    return con.execute(f"select count(*) from h join r on st_dwithin(h.g, r.g, {LIMIT_M})").fetchone()[0], None


def sedonadb(folder):
    """SedonaDB: pairs only."""
    import sedonadb as engine

    con = engine.connect()
    for name, xy in zip(("h", "r"), on_grid(folder), strict=True):
        con.create_data_frame(import_module("pandas").DataFrame({"x": xy[:, 0], "y": xy[:, 1]})).to_view(name)
    text = f"select count(*) n from h join r on st_dwithin(st_point(h.x, h.y), st_point(r.x, r.y), {LIMIT_M})"
    return int(con.sql(text).to_pandas()["n"][0]), None


ENGINES = {
    "siting": (ours, "scipy"), "floor": (floor, "scipy"), "geopandas": (geopandas, "geopandas"),
    "shapely STRtree": (strtree, "shapely"), "polars-st": (polars_st, "polars_st"), "DuckDB": (duckdb, "duckdb"),
    "sedonadb": (sedonadb, "sedonadb"), "scikit-learn": (balltree, "sklearn"),
}  # fmt: skip
SLOW = ("scikit-learn",)
PAIRS_ONLY = ("polars-st", "DuckDB", "sedonadb")
"Engines that are asked for half of the work: their nearest takes many times as long, or is not offered."


def run(name, folder):
    """One engine in a process of its own: seconds of the whole process, pairs, peak memory [MB]; None if it fails."""
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, __file__, "--engine", name, "--folder", str(folder)],
        capture_output=True,
        text=True,
        check=False,
    )
    seconds = time.perf_counter() - began
    if done.returncode:
        return None
    return {"seconds": seconds, **json.loads(done.stdout.splitlines()[-1])}


def make(folder, rows, *, parts=1):
    """The two tables, and the code."""
    import country
    import pyarrow as pa
    import pyarrow.parquet as pq

    folder.mkdir(parents=True, exist_ok=True)
    (folder / "code.toml").write_text(CODE)
    of = country.settlements()
    first, writer = 0, None
    for part in range(parts):
        lonlat, _ = country.places(rows // parts, seed=101 + part, of=of)
        table = pa.table({"id": np.arange(first, first + len(lonlat)), "lon": lonlat[:, 0], "lat": lonlat[:, 1]})
        writer = writer or pq.ParquetWriter(folder / "latrines.parquet", table.schema)
        writer.write_table(table)
        first += len(lonlat)
    writer.close()
    lonlat, _ = country.places(max(rows // 10, 100) if parts == 1 else 100_000, seed=100, of=of)
    wells = pa.table({"id": np.arange(len(lonlat)), "lon": lonlat[:, 0], "lat": lonlat[:, 1]})
    pq.write_table(wells, folder / "wells.parquet")


def compare(rows, *, slow):
    """Every engine that is installed, in turn; the best of a few rounds each. Returns misses of the targets."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make(folder, rows)
        names = [n for n, (_, library) in ENGINES.items() if installed(library) and (slow or n not in SLOW)]
        runs = {n: [] for n in names}
        for round_ in range(ROUNDS):
            for n in names:
                if round_ == 0 or n in ("siting", "floor"):
                    runs[n].append(run(n, folder))
    best = {n: min((r for r in got if r), key=lambda r: r["seconds"], default=None) for n, got in runs.items()}
    print(
        f"\n{rows:,} latrines against {rows // 10:,} wells: nearest and all pairs within {LIMIT_M:g} m, whole process"
    )
    print(f"{'engine':<18}{'s':>8}{'ratio':>8}{'pairs':>10}{'peak MB':>10}")
    for n, got in best.items():
        if got is None:
            print(f"{n:<18}    failed")
            continue
        ratio = got["seconds"] / best["siting"]["seconds"]
        print(
            f"{n:<18}{got['seconds']:>8.2f}{ratio:>8.1f}{got['pairs']:>10}{got['peak_mb']:>10.0f}"
            + "  pairs only" * (n in PAIRS_ONLY)
        )
    siting, ground = best["siting"], best["floor"]
    misses = []
    if best.get("geopandas") and best["geopandas"]["seconds"] < 5.0 * siting["seconds"]:
        misses.append("less than 5 times as fast as geopandas")
    if siting["seconds"] > 2.0 * ground["seconds"]:
        misses.append(f"{siting['seconds'] / ground['seconds']:.2f} times the floor, more than 2")
    misses += [
        f"{n} is faster"
        for n, got in best.items()
        if got and n not in ("siting", "floor", *PAIRS_ONLY) and got["seconds"] < siting["seconds"]
    ]
    # The grid stretches 30 m by up to a centimetre, so a pair at the limit may fall on either side of it.
    exact = abs(siting["pairs"] - ground["pairs"]) <= max(3, 1e-3 * ground["pairs"])
    return misses + ([] if exact else [f"{siting['pairs']} pairs, the floor finds {ground['pairs']}"])


def verdicts(rows):
    """What probabilities and verdicts add to the bare distances of the same rows, in one process."""
    import country

    from siting.screening.earth import geocentric
    from siting.screening.points import PointGroup, in_cells
    from siting.uncertainty import probabilities

    of = country.settlements()
    (latrines, _), (wells, _) = country.places(rows, seed=101, of=of), country.places(rows // 10, seed=100, of=of)
    group, nobody = PointGroup(np.arange(len(wells)), wells, np.zeros(len(wells))), np.full(rows, -1)
    bare, judged = [], []
    for _ in range(ROUNDS):
        began = time.process_time()
        order = in_cells(latrines)
        _, length_m = group.nearest(latrines[order], geocentric(latrines[order]), nobody)
        bare.append(time.process_time() - began)
        began = time.process_time()
        met = probabilities(length_m - LIMIT_M, np.full(rows, 4.59))
        np.where(met >= 0.95, 0, np.where(met <= 0.05, 1, 2))
        judged.append(time.process_time() - began)
    share = min(judged) / min(bare)
    print(
        f"\nverdicts of {rows:,} distances: {min(judged):.3f} s of processor time beside {min(bare):.3f} s, {share:.0%}"
    )
    return [] if share <= 0.2 else [f"verdicts add {share:.0%} to the distances, more than 20 %"]


def growth(sizes):
    """Time and peak memory as the hazards grow tenfold, the wells staying 100,000."""
    print(f"\ngrowth against 100,000 wells\n{'rows':>12}{'s':>8}{'us a row':>10}{'peak MB':>10}")
    misses, before = [], None
    for rows in sizes:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            make(folder, rows, parts=rows // 1_000_000)
            got = run("siting", folder)
        print(f"{rows:>12,}{got['seconds']:>8.1f}{1e6 * got['seconds'] / rows:>10.2f}{got['peak_mb']:>10.0f}")
        if got["peak_mb"] > 600:
            misses.append(f"{got['peak_mb']:.0f} MB at {rows:,} rows, more than 600")
        if before and got["seconds"] > 1.1 * before * 10:
            misses.append(f"time grew by {got['seconds'] / before:.1f} for ten times the rows")
        before = got["seconds"]
    return misses


# --- a folder of sites -------------------------------------------------------------------------------------------


def make_sites(top, count):
    """Sites of 30 features on 130 m by 110 m."""
    for number in range(count):
        chance = np.random.default_rng(number)
        lon, lat = chance.uniform(30, 38), chance.uniform(-15, -8)
        features = []

        def at(x, y, lon=lon, lat=lat):
            return [round(lon + x / 108_500, 7), round(lat + y / 110_600, 7)]

        def add(kind, name, shape, coordinates, features=features):
            properties = {"kind": kind, "name": name, "accuracy_m": 3}
            features.append(
                {"type": "Feature", "properties": properties, "geometry": {"type": shape, "coordinates": coordinates}}
            )

        def box(x, y, w, h, at=at):
            return [[at(x, y), at(x + w, y), at(x + w, y + h), at(x, y + h), at(x, y)]]

        add("boundary", "Fence", "Polygon", box(0, 0, 130, 110))
        for kind, many, w, h in (("ward", 3, 12, 8), ("kitchen", 1, 6, 5), ("store", 2, 5, 4), ("dwelling", 6, 8, 6)):
            for k in range(many):
                add(kind, f"{kind} {k + 1}", "Polygon", box(chance.uniform(5, 110), chance.uniform(5, 95), w, h))
        for kind, many in (("well", 1), ("pit latrine", 3), ("tapstand", 3), ("tree", 8), ("septic tank", 1)):
            for k in range(many):
                add(kind, f"{kind} {k + 1}", "Point", at(chance.uniform(5, 120), chance.uniform(5, 105)))
        add("stream", "Stream", "LineString", [at(-20, -30), at(60, -40), at(150, -25)])
        folder = top / f"s{number:05}"
        folder.mkdir(parents=True)
        (folder / "plan.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
        (folder / "site.toml").write_text(
            f'name = "Site {number}"\n[surveyed]\nradius_m = 100\n[ground]\nhighest_water_depth_m = 8\n'
            '[[place]]\nkind = "placenta pit"\nbirths_per_day = 2\n'
        )


def naive(top):
    """What a plain script does with each site: read, project, buffer, overlay, and distances to a few kinds."""
    import geopandas as gpd

    for folder in sorted(top.iterdir()):
        frame = gpd.read_file(folder / "plan.geojson")
        frame = frame.to_crs(frame.estimate_utm_crs())
        land = frame[frame.kind == "boundary"]
        for kind, metres in (("well", 30), ("stream", 30), ("ward", 15), ("kitchen", 15), ("dwelling", 15)):
            near = frame[frame.kind == kind]
            for place in frame[frame.kind == "pit latrine"].geometry:
                near.distance(place).min()
            land = gpd.overlay(land, gpd.GeoDataFrame(geometry=near.buffer(metres), crs=frame.crs), how="difference")


def batch(count):
    """Sites a second by one process, two, and dask, and what a plain script takes. Returns misses of the targets."""
    from siting.job import Job
    from siting.runs import run_batch

    with tempfile.TemporaryDirectory() as name:
        top = Path(name) / "sites"
        make_sites(top, count)
        seconds = {}

        def timed(label, **how):
            began = time.perf_counter()
            run_batch(top, Job(), folder=Path(name) / label.replace(" ", "-"), with_map=False, **how)
            seconds[label] = time.perf_counter() - began

        timed("one process", workers=1)
        timed("two processes", workers=2)
        if installed("distributed"):
            timed("dask, two workers", workers=2, cluster="local")
        few = Path(name) / "few"
        make_sites(few, max(count // 10, 5))
        began = time.perf_counter()
        naive(few)
        seconds["plain geopandas"] = (time.perf_counter() - began) * count / max(count // 10, 5)
    print(f"\n{count:,} sites of 30 features: check, ground, best place, no maps")
    print(f"{'how':<20}{'s':>8}{'sites/s':>10}")
    for label, took in seconds.items():
        print(f"{label:<20}{took:>8.1f}{count / took:>10.1f}")
    one, two = seconds["one process"], seconds["two processes"]
    misses = []
    if count / two < 60:
        misses.append(f"{count / two:.0f} sites a second on two processes, fewer than 60")
    if one / two / 2 < 0.8:
        misses.append(f"parallel efficiency {one / two / 2:.2f}, less than 0.8")
    if seconds["plain geopandas"] < 5 * two:
        misses.append(f"{seconds['plain geopandas'] / two:.1f} times a plain script, less than 5")
    if seconds.get("dask, two workers", 0.0) > 1.25 * two:
        misses.append(f"dask takes {seconds['dask, two workers'] / two:.2f} times as long, more than 1.25")
    return misses


def installed(library):
    """Whether a library can be imported here."""
    from importlib.util import find_spec

    return find_spec(library) is not None


def versions():
    """What the figures depend on."""
    names = ("siting", "numpy", "scipy", "pyarrow", "geopandas", "shapely", "pyproj", "scikit-learn", "polars-st",
             "duckdb", "sedonadb", "distributed")  # fmt: skip
    held = []
    for name in names:
        try:
            held.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            held.append(f"{name} not installed")
    machine = f"Python {platform.python_version()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"
    return f"{machine}; {', '.join(held)}"


def main():
    """Run what is asked for and say which targets are missed."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--rows", type=int, default=1_000_000)
    options.add_argument("--all", action="store_true")
    options.add_argument("--growth", action="store_true")
    options.add_argument("--huge", action="store_true")
    options.add_argument("--batch", type=int, default=0)
    options.add_argument("--engine")
    options.add_argument("--folder", type=Path)
    told = options.parse_args()
    if told.engine:
        pairs, length_m = ENGINES[told.engine][0](told.folder)
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(json.dumps({"pairs": int(pairs), "length_m": length_m, "peak_mb": peak_mb}))
        return 0
    print(versions())
    misses = compare(told.rows, slow=told.all) if told.rows else []
    misses += verdicts(told.rows) if told.rows else []
    if told.growth or told.huge:
        misses += growth([1_000_000, 10_000_000, *([100_000_000] if told.huge else [])])
    if told.batch:
        misses += batch(told.batch)
    for miss in misses:
        print(f"missed: {miss}")
    return 1 if misses else 0


if __name__ == "__main__":
    sys.exit(main())
