"""How long the command takes, beside a plain script that does the same job and beside an empty interpreter.

Run by its own command, on a quiet machine: `python tests/benchmarks/run.py`.
A site of 300 features and 10 rules; whole processes, taken in turn, medians.
It prints a table with the versions it depends on, and exits 1 when a target is missed.
"""

import json
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from importlib.metadata import version
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[1]))

import yards

ROUNDS = 7
SIDE_M = 400.0
SIZES = {
    "ward": (20, 12, 8),
    "kitchen": (10, 6, 5),
    "dwelling": (120, 9, 6),
    "school": (4, 20, 10),
    "store": (40, 5, 4),
}
"How many, and length and width in metres."
POINTS = {"well": 12, "tapstand": 30, "tree": 28, "pit latrine": 20, "septic tank": 5}
LINES = {"stream": 4, "road": 4, "drain": 2}
RULES = (
    ("well", 30), ("stream", 30), ("ward", 15), ("kitchen", 15), ("dwelling", 10), ("school", 15), ("tapstand", 10),
    ("road", 5), ("drain", 10), ("tree", 5),
)  # fmt: skip
FOR = ("pit latrine", "placenta pit", "septic tank")


def features(seed=1854):
    """300 features on a plot of 400 m by 400 m, always the same."""
    chance = np.random.default_rng(seed)
    made = [yards.feature("boundary", "Fence", shapely.box(0, 0, SIDE_M, SIDE_M))]
    for kind, (count, length_m, width_m) in SIZES.items():
        for number, (x, y) in enumerate(chance.uniform(20, SIDE_M - 20, (count, 2)), start=1):
            made.append(yards.feature(kind, f"{kind} {number}", shapely.box(x, y, x + length_m, y + width_m)))
    for kind, count in POINTS.items():
        for number, (x, y) in enumerate(chance.uniform(10, SIDE_M - 10, (count, 2)), start=1):
            made.append(yards.feature(kind, f"{kind} {number}", shapely.Point(x, y), radius_m=0.75))
    for kind, count in LINES.items():
        for number in range(1, count + 1):
            x = np.linspace(0, SIDE_M, 15)
            y = chance.uniform(0, SIDE_M) + np.cumsum(chance.normal(0, 6, 15))
            made.append(yards.feature(kind, f"{kind} {number}", shapely.LineString(np.column_stack([x, y]))))
    assert len(made) == 300
    return made


def code():
    """The ten rules as a pack."""
    text = yards.CODE[: yards.CODE.index("[[rule]]")]
    for kind, least_m in RULES:
        text += (
            f'[[rule]]\nid = "to-{kind}"\nfor = {json.dumps(FOR)}\nfrom = ["{kind}"]\nmeasure = "distance"\n'
            f'at_least_m = {least_m}\noutline = "pit"\nstrength = "must"\n'
            'cite = { document = "code", clause = "1", says = "invented" }\n\n'
        )
    return text


def prepared(folder: Path) -> Path:
    """The site, its code, and the same rules for the plain script."""
    site = yards.write(folder / "site", *features())
    (site / "yard-code.toml").write_text(code())
    limits = [{"id": f"to-{kind}", "for": FOR, "from": [kind], "at_least_m": least} for kind, least in RULES]
    (folder / "rules.json").write_text(json.dumps(limits))
    return site


def seconds(command, *, allowed=(0, 1, 3)) -> float:
    """Wall time of one whole process; only statuses that are an answer count."""
    start = time.perf_counter()
    run = subprocess.run([sys.executable, *map(str, command)], capture_output=True, text=True, check=False)
    taken = time.perf_counter() - start
    if run.returncode not in allowed:
        raise SystemExit(f"{' '.join(map(str, command))}\n{run.stderr}")
    return taken


def measured(commands: dict) -> dict:
    """Medians of several rounds in which every command has its turn, after one round to warm the disk."""
    times: dict = {name: [] for name in commands}
    for number in range(ROUNDS + 1):
        for name, command in commands.items():
            taken = seconds(command, allowed=(0,) if "plain" in name else (0, 1, 3))
            if number:
                times[name].append(taken)
    return {name: statistics.median(taken) for name, taken in times.items()}


def proof_seconds(site: Path) -> float:
    """Time to prove the best place to a centimetre, from a site that is in memory."""
    from siting import candidates
    from siting.cli.options import read
    from siting.demands import demands
    from siting.installation import wanted
    from siting.kinds import vocabulary
    from siting.requirements import Question
    from siting.site import Request
    from siting.sizes import size

    model, packs = read(site, (), None)
    words, request = vocabulary(), Request(kind="placenta pit")
    taken = []
    for _ in range(ROUNDS):
        question = Question(site=model, packs=packs, words=words)
        installation = wanted(request, size(request).dimensions, words)
        asked = demands(question, installation)
        start = time.perf_counter()
        (best,) = candidates.best_places(asked.requirements, installation, question.land, count=1, gap_m=0.01)
        taken.append(time.perf_counter() - start)
        assert best.bound_m - best.margin_m <= 0.01 + 1e-9
        assert best.margin_m > 0.0, "the site is meant to have a place"
    return statistics.median(taken)


def main() -> int:
    """Measure, print, and say whether the targets are met."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        site = prepared(folder)
        naive, data = Path(__file__).with_name("naive.py"), site / "yard.geojson"
        out = ("--out", folder / "out", "--overwrite", "-q")
        took = measured(
            {
                "python -c 'import click'": ("-c", "import click"),
                "siting --help": ("-m", "siting", "--help"),
                "siting check --no-map": ("-m", "siting", "check", site, "--no-map", *out),
                "plain script, check": (naive, data, folder / "rules.json", folder / "plain", "check"),
                "siting find": ("-m", "siting", "find", site, "--for", "placenta pit", *out),
                "plain script, find with map": (naive, data, folder / "rules.json", folder / "plain", "find"),
            }
        )
        took["proof of the best place to 1 cm"] = proof_seconds(site)
    targets = (
        ("siting --help", "python -c 'import click'", 3.0),
        ("siting check --no-map", "plain script, check", 0.5),
        ("siting find", "plain script, find with map", 1.0),
        ("proof of the best place to 1 cm", None, 1.0),
    )
    print(f"Python {platform.python_version()}, {platform.machine()}, medians of {ROUNDS}; "
          + ", ".join(f"{p} {version(p)}" for p in ("shapely", "pyproj", "geopandas", "folium", "click")))  # fmt: skip
    for label, taken in took.items():
        print(f"{label:34} {taken:7.3f} s")
    missed = 0
    for label, beside, most in targets:
        ratio = took[label] / (took[beside] if beside else 1.0)
        verdict = "met" if ratio <= most else "MISSED"
        missed += ratio > most
        print(f"{label:34} {ratio:7.2f} {'x ' + beside if beside else 's'}  (at most {most:g}): {verdict}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
