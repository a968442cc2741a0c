"""The order in which modules may import one another, written down; the core touches no file, screen or clock."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

import siting

PACKAGE = Path(siting.__file__).parent
ORDER = (
    "errors sweep conditions kinds spot_search arrow",
    "materials frame uncertainty usual directions plane finding",
    "groundwater wind slope pits ground_taken site control_points",
    "installation rules layer",
    "pack_text",
    "sizes terrain doctor",
    "requirements facts capture",
    "applicability",
    "ground_rules plan_rules",
    "demands",
    "clearance no_well_ground",
    "separations feasible candidates screening routes",
    "walking",
    "ranking",
    "conflicts arrangement mending",
    "setting_out as_built",
    "assess",
    "batch layout",
    "io outputs",
    "registries job engine",
    "runs frames",
    "cli api",
    "__main__",
)
"Each line imports only from the lines above it; a new module takes the first line where it fits."
LEVEL = {name: level for level, line in enumerate(ORDER) for name in line.split()}
RESULTS = {name for name in LEVEL if LEVEL["clearance"] <= LEVEL[name] < LEVEL["io"]}
"What comes out of margins."
EDGES = ("io", "outputs", "registries", "job", "engine", "runs", "frames", "cli", "api", "__main__")
SMALL = {"kinds"}
"Reads the vocabulary that lies beside it in the package."


def modules():
    """Every module with its dotted name and its syntax tree."""
    for path in sorted(PACKAGE.rglob("*.py")):
        dotted = ".".join(path.relative_to(PACKAGE).with_suffix("").parts).removesuffix(".__init__")
        if dotted != "__init__":
            yield dotted, ast.parse(path.read_text("utf-8"))


MODULES = dict(modules())


def is_for_types_only(node):
    """Whether a statement is the `if TYPE_CHECKING:` that no running program enters."""
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def imported(tree):
    """Modules of this package that a module imports, at its top or inside a function, as dotted names."""
    found, waiting = set(), [tree]
    while waiting:
        node = waiting.pop()
        if is_for_types_only(node):
            continue
        waiting.extend(ast.iter_child_nodes(node))
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the order"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        found |= {dotted for name in names if (dotted := known(name))}
    return found


def known(name):
    """The module of this package that a dotted import name leads to, or None."""
    parts = name.split(".")
    if parts[0] != "siting":
        return None
    for end in range(len(parts), 1, -1):
        if ".".join(parts[1:end]) in MODULES:
            return ".".join(parts[1:end])
    return None


def top(dotted):
    """The module or folder directly below the package."""
    return dotted.partition(".")[0]


def test_every_module_has_its_place():
    """A new module is put into the order; folders count as one."""
    assert set() == {top(name) for name in MODULES} - LEVEL.keys()


@pytest.mark.parametrize("name", [name for name in MODULES if top(name) in LEVEL])
def test_modules_import_only_from_above(name):
    """No module imports from its own line or from one below."""
    own = LEVEL[top(name)]

    wrong = {other for other in imported(MODULES[name]) if top(other) != top(name) and LEVEL.get(top(other), -1) >= own}

    assert set() == wrong


@pytest.mark.parametrize("folder", ["io", "outputs"])
def test_no_two_files_of_a_folder_import_each_other(folder):
    """Within a folder there is an order too: following imports never comes back."""
    graph = {n: {o for o in imported(t) if top(o) == folder} for n, t in MODULES.items() if top(n) == folder}
    while free := {name for name, others in graph.items() if not others & graph.keys()}:
        graph = {name: others for name, others in graph.items() if name not in free}

    assert {} == graph


def test_readers_know_nothing_of_results_and_writers_nothing_of_readers():
    """What a file holds does not depend on what is done with it, nor a picture on where the data came from."""
    for name, tree in MODULES.items():
        if top(name) == "io":
            assert set() == {o for o in imported(tree) if top(o) in {*RESULTS, "outputs", "cli"}}, name
        if top(name) == "outputs":
            assert set() == {o for o in imported(tree) if top(o) in ("io", "cli")}, name


FORBIDDEN_CALLS = {"open", "print", "input", "breakpoint", "exec", "eval"}
FORBIDDEN_METHODS = {
    "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "unlink", "iterdir", "now", "today", "utcnow",
    "perf_counter", "getenv", "urlopen",
}  # fmt: skip
FORBIDDEN_IMPORTS = {
    "click", "os", "sys", "io", "logging", "time", "random", "subprocess", "socket", "urllib", "pathlib", "tempfile",
    "folium", "geopandas", "pandas", "pyogrio", "typst", "xlsxwriter", "python_calamine",
}  # fmt: skip


@pytest.mark.parametrize("name", [name for name in MODULES if top(name) not in EDGES])
def test_the_core_touches_neither_files_nor_screen_nor_clock(name):
    """Arrays, geometries and frozen values in, new values out."""
    found = set()
    for node in ast.walk(MODULES[name]):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            found |= {node.func.id} & FORBIDDEN_CALLS
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            found |= {node.func.attr} & FORBIDDEN_METHODS
        elif isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names} & FORBIDDEN_IMPORTS
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module.partition(".")[0]} & FORBIDDEN_IMPORTS
        elif isinstance(node, ast.Global):
            found |= {f"global {', '.join(node.names)}"}
    allowed = {"read_text"} if name in SMALL else set()

    assert set() == found - allowed


@pytest.mark.parametrize("name", ["", "io", "outputs", "cli.options"])
def test_package_files_import_nothing_heavy(name):
    """The package's own file, and those of its folders, load no libraries at their top."""
    path = PACKAGE / "__init__.py" if not name else PACKAGE / (name.replace(".", "/") + ".py")
    tree = ast.parse((path if path.exists() else PACKAGE / name / "__init__.py").read_text("utf-8"))

    found = {
        alias.name.partition(".")[0]
        for node in tree.body
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in ([ast.alias(node.module or "")] if isinstance(node, ast.ImportFrom) else node.names)
    }

    assert found <= {"click", "collections", "dataclasses", "importlib", "math", "pathlib", "sys", "typing", "siting"}


ALONE = """
import importlib, os, sys
for name in sys.argv[1:]:
    child = os.fork()
    if child == 0:
        try:
            importlib.import_module(name)
        except BaseException as error:
            print(name, repr(error))
            sys.stdout.flush()
            os._exit(1)
        os._exit(0)
    os.waitpid(child, 0)
"""


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_every_module_can_be_imported_first():
    """Each in an interpreter that has imported nothing of the package: no module leans on another's import."""
    names = ["siting", *(f"siting.{name}" for name in MODULES if name != "__main__")]

    run = subprocess.run(
        [sys.executable, "-c", "import numpy, shapely, pyproj, click, folium\n" + ALONE, *names],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )

    assert "" == run.stdout
    assert 0 == run.returncode, run.stderr
