"""The command starts at once: heavy libraries are imported only by what needs them."""

import subprocess
import sys

import pytest
import yards

HEAVY = {"pandas", "geopandas", "folium", "scipy", "shapely", "numpy", "pyproj", "pyogrio", "matplotlib", "typst"}
FOR_TABLES_AND_MAPS = {"pandas", "geopandas", "folium", "scipy", "pyogrio", "matplotlib", "typst"}


def imported(*arguments, status=(0,)):
    """Top-level packages that a run of the command imports, as the interpreter tells."""
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "siting", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert run.returncode in status, run.stderr[-500:]
    lines = (line for line in run.stderr.splitlines() if line.startswith("import time:"))
    return {line.rpartition("|")[2].strip().partition(".")[0] for line in lines}


@pytest.mark.parametrize("arguments", [("--help",), ("--version",), ("check", "--help"), ("find", "--help")])
def test_help_costs_click_alone(arguments):
    """Neither arrays nor geometry nor maps are loaded to print a page of help."""
    found = imported(*arguments)

    assert "click" in found
    assert set() == found & HEAVY


def test_a_check_without_a_map_loads_no_data_frames_and_no_map(tmp_path):
    """Reading GeoJSON, checking and writing the tables need geometry only."""
    site = yards.meeting(tmp_path / "a")

    found = imported("check", site, "--no-map", "--out", tmp_path / "out")

    assert {"shapely", "pyproj"} <= found
    assert set() == found & FOR_TABLES_AND_MAPS


def test_finding_a_place_without_a_map_loads_no_data_frames_and_no_map(tmp_path):
    """Neither does the search."""
    site = yards.meeting(tmp_path / "a")

    found = imported("find", site, "--for", "placenta pit", "--no-map", "--json")

    assert set() == found & FOR_TABLES_AND_MAPS


def test_a_new_folder_needs_no_geometry(tmp_path):
    """Writing two templates loads neither arrays nor geometry."""
    assert set() == imported("new", tmp_path / "clinic") & HEAVY
