"""`siting screen`: rows in are rows judged and rows refused with their reason, in every format, and nothing half."""

import csv
import html
import json
import sys

import numpy as np
import pytest
import shapely
from pyproj import Geod, Transformer

from siting.cli import main

pa = pytest.importorskip("pyarrow")
pytest.importorskip("scipy")
import pyarrow.parquet as pq  # noqa: E402  # after the check that it is there

CENTIMETRE_M = 0.01
GEOD = Geod(ellps="WGS84")
FILES = ["map.html", "pairs.parquet", "refused.csv", "results.json", "screened.parquet"]
CODE = """
id = "code"
title = "A code for tests"
edition = "1"
[document.code]
title = "A code for tests"
read = "project judgement"
[[rule]]
id = "water"
for = ["pit latrine"]
from = ["well"]
at_least_m = 30
cite = { document = "code", clause = "1", says = "made up" }
"""
LON, LAT = 34.0001237, -13.0004321
WELLS = [("W1", LON, LAT), ("W2", 34.0200457, -13.0100123)]


def latrines(*distances_m):
    """Latrines L1, L2, ... at distances to the north-east of W1."""
    spots = [GEOD.fwd(LON, LAT, 45.0, d)[:2] for d in distances_m]
    return [(f"L{n}", lon, lat) for n, (lon, lat) in enumerate(spots, start=1)]


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """Run `siting screen` in a folder of its own; gives status and both streams."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "code.toml").write_text(CODE)

    def screen(hazards, receptors, *more):
        arguments = ["siting", "screen", str(hazards), str(receptors), "--out", "out"]
        if "--rules" not in more:
            arguments += ["--rules", "code.toml"]
        monkeypatch.setattr(sys, "argv", [*arguments, *map(str, more)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        return ended.value.code, said.out, said.err

    return screen


def sheet(path, rows, head="id,lon,lat,kind", kind=""):
    """A CSV table of places."""
    lines = [
        head,
        *(
            ",".join([*(f"{c:.8f}" if isinstance(c, float) else str(c) for c in row), *([kind] * bool(kind))])
            for row in rows
        ),
    ]
    path.write_text("\n".join(lines) + "\n")
    return path


def both(tmp_path, *distances_m):
    """Two CSV tables: latrines and wells."""
    return (
        sheet(tmp_path / "latrines.csv", latrines(*distances_m), kind="pit latrine"),
        sheet(tmp_path / "wells.csv", WELLS, kind="well"),
    )


def screened(tmp_path):
    """The rows of screened.parquet."""
    return pq.read_table(tmp_path / "out/screened.parquet").to_pylist()


def results(tmp_path):
    """What results.json holds."""
    return json.loads((tmp_path / "out/results.json").read_text("utf-8"))


def refused(tmp_path):
    """The rows of refused.csv."""
    return list(csv.DictReader((tmp_path / "out/refused.csv").read_text("utf-8-sig").splitlines()))


# --- what is written -----------------------------------------------------------------------------------------------


def test_a_row_a_hazard_with_the_nearest_and_the_verdict(run, tmp_path):
    """Sigma of two unstated receivers is 4.59 m: 20 m is too near to call surely, 10 m fails, 60 m meets."""
    status, out, err = run(*both(tmp_path, 60.0, 25.0, 10.0))

    rows = screened(tmp_path)
    assert (1, "") == (status, err)
    assert ["meets", "too close to call", "fails"] == [row["verdict"] for row in rows]
    assert ["L1", "L2", "L3"] == [row["id"] for row in rows]
    assert ["W1"] * 3 == [row["nearest"] for row in rows]
    assert [60.0, 25.0, 10.0] == pytest.approx([row["distance_m"] for row in rows], abs=CENTIMETRE_M)
    assert [30.0, -5.0, -20.0] == pytest.approx([row["margin_m"] for row in rows], abs=CENTIMETRE_M)
    assert [4.590, 4.590, 4.590] == pytest.approx([row["sigma_m"] for row in rows], abs=0.001)
    assert {"code/water"} == {row["rule"] for row in rows}
    assert FILES == sorted(path.name for path in (tmp_path / "out").iterdir())
    assert "1 meets, 1 fails, 1 too close to call, 0 not assessed of 3 judged" in out


def test_every_pair_closer_than_its_rule_is_listed(run, tmp_path):
    """Hazard, receptor, distance; those at or beyond the limit are not."""
    run(*both(tmp_path, 60.0, 25.0, 10.0))

    pairs = pq.read_table(tmp_path / "out/pairs.parquet").to_pylist()
    assert [("L2", "W1"), ("L3", "W1")] == [(row["hazard"], row["receptor"]) for row in pairs]
    assert [25.0, 10.0] == pytest.approx([row["distance_m"] for row in pairs], abs=CENTIMETRE_M)


@pytest.mark.parametrize(("distances_m", "status"), [((60.0,), 0), ((60.0, 10.0), 1), ((60.0, 31.0), 3)])
def test_the_status_is_the_gravest_verdict(run, tmp_path, distances_m, status):
    """0 all meet, 1 something fails, 3 something is too close to call."""
    assert status == run(*both(tmp_path, *distances_m))[0]


def test_the_same_input_gives_the_same_bytes(run, tmp_path):
    """Two runs, file by file."""
    run(*both(tmp_path, 60.0, 25.0, 10.0))
    first = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    run(*both(tmp_path, 60.0, 25.0, 10.0), "--overwrite")

    assert first == {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}


def test_csv_in_place_of_parquet(run, tmp_path):
    """--csv; a name that a spreadsheet would take for a formula gets an apostrophe, negative numbers stay numbers."""
    hazards = sheet(tmp_path / "l.csv", [("=1+1", *latrines(10.0)[0][1:])], kind="pit latrine")
    run(hazards, sheet(tmp_path / "w.csv", WELLS, kind="well"), "--csv", "--no-map")

    row = next(csv.DictReader((tmp_path / "out/screened.csv").read_text("utf-8").splitlines()))
    assert "'=1+1" == row["id"]
    assert float(row["lat"]) < 0 > float(row["margin_m"])
    assert ["pairs.csv", "refused.csv", "results.json", "screened.csv"] == sorted(
        path.name for path in (tmp_path / "out").iterdir()
    )


def test_totals_by_area_with_the_share_of_suspect_data(run, tmp_path):
    """Counted by district; a position of three decimals is suspect."""
    rows = [(name, lon, lat, "North" if n < 2 else "South") for n, (name, lon, lat) in enumerate(latrines(60, 10, 10))]
    rows.append(("L4", "34.001", "-13.001", "South"))
    hazards = sheet(tmp_path / "l.csv", [(*r, "pit latrine") for r in rows], head="id,lon,lat,District,kind")
    run(hazards, sheet(tmp_path / "w.csv", WELLS, kind="well"))

    areas = {row["area"]: row for row in results(tmp_path)["by_area"]}
    assert {"North", "South"} == set(areas)
    assert (1, 1, 0) == (areas["North"]["meets"], areas["North"]["fails"], areas["North"]["suspect"])
    assert (1, 0.5) == (areas["South"]["suspect"], areas["South"]["suspect_share"])
    assert 4 == results(tmp_path)["totals"]["judged"]


def test_the_overview_asks_for_nothing_from_the_network(run, tmp_path):
    """No address is fetched, and a name that looks like markup stays text."""
    hazards = sheet(tmp_path / "l.csv", [("</script><b>x", *latrines(10.0)[0][1:])], kind="pit latrine")
    run(hazards, sheet(tmp_path / "w.csv", WELLS, kind="well"))

    page = (tmp_path / "out/map.html").read_text("utf-8")
    assert "default-src 'none'" in html.unescape(page)
    assert "</script><b>x" not in page
    assert 'src="http' not in page and "@import" not in page
    assert "local code" in page


def test_what_a_registry_cannot_answer_is_listed(run, tmp_path):
    """Musts about the water table or the boundary, and rules whose receptors the table does not hold."""
    run(*both(tmp_path, 60.0), "--rules", "health-care-waste")

    data = results(tmp_path)
    assert "health-care-waste/latrine-above-water-table" in [row["rule"] for row in data["not_screened"]]
    assert "health-care-waste/latrine-to-food-place" in [row["rule"] for row in data["no_receptors"]]
    assert ["health-care-waste/latrine-to-water-source"] == [
        row["rule"] for row in data["screened"] if row["rule"].startswith("health")
    ]


# --- formats and systems -------------------------------------------------------------------------------------------


def frame(rows, crs="EPSG:4326", **columns):
    """Places as a GeoDataFrame."""
    import geopandas

    points = [shapely.Point(lon, lat) for _, lon, lat in rows]
    return geopandas.GeoDataFrame(
        {"id": [r[0] for r in rows], **columns}, geometry=points, crs="EPSG:4326"
    ).to_crs(crs)  # fmt: skip


@pytest.mark.parametrize("suffix", ["parquet", "gpkg", "geojson", "fgb", "shp"])
def test_every_format_gives_the_same_distances(run, tmp_path, suffix):
    """The same latrines as GeoParquet, GeoPackage, GeoJSON, FlatGeobuf and shapefile, beside wells as CSV."""
    path = tmp_path / f"latrines.{suffix}"
    data = frame(latrines(60.0, 25.0, 10.0))
    # Once a reader has run in this process, the driver that would write GeoJSON is switched off for good.
    if suffix == "geojson":
        path.write_text(data.to_json(), encoding="utf-8")
    else:
        data.to_parquet(path) if suffix == "parquet" else data.to_file(path)

    status, _, err = run(path, sheet(tmp_path / "w.csv", WELLS, kind="well"), "--hazard-kind", "pit latrine")

    assert (1, "") == (status, err)
    assert {"L1": 60.0, "L2": 25.0, "L3": 10.0} == pytest.approx(
        {row["id"]: row["distance_m"] for row in screened(tmp_path)}, abs=CENTIMETRE_M
    )


def test_two_tables_in_different_systems(run, tmp_path):
    """Latrines on a UTM grid as GeoParquet, wells in degrees: both come to WGS 84."""
    frame(latrines(60.0, 25.0), "EPSG:32736").to_parquet(tmp_path / "l.parquet")

    run(tmp_path / "l.parquet", sheet(tmp_path / "w.csv", WELLS, kind="well"), "--hazard-kind", "latrine")

    assert [60.0, 25.0] == pytest.approx([row["distance_m"] for row in screened(tmp_path)], abs=CENTIMETRE_M)


def test_x_and_y_need_a_crs_of_their_own(run, tmp_path):
    """Without one the run is refused; with one for that table it goes on."""
    to_utm = Transformer.from_crs(4326, 32736, always_xy=True).transform
    rows = [(name, *map(float, to_utm(lon, lat))) for name, lon, lat in latrines(60.0)]
    hazards = sheet(tmp_path / "l.csv", rows, head="id,x,y,kind", kind="latrine")
    wells = sheet(tmp_path / "w.csv", WELLS, kind="well")

    status, _, err = run(hazards, wells)
    assert 2 == status and "no crs" in err and "Traceback" not in err

    run(hazards, wells, "--hazard-crs", "EPSG:32736")
    assert [60.0] == pytest.approx([row["distance_m"] for row in screened(tmp_path)], abs=CENTIMETRE_M)


def test_a_datum_shift_adds_its_uncertainty(run, tmp_path):
    """Latrines on Arc 1950: the operation's accuracy counts between the tables, and is named."""
    frame(latrines(60.0), "EPSG:20936").to_parquet(tmp_path / "l.parquet")

    run(tmp_path / "l.parquet", sheet(tmp_path / "w.csv", WELLS, kind="well"), "--hazard-kind", "latrine")

    assert screened(tmp_path)[0]["sigma_m"] > 5.0
    assert any("stated accuracy" in note for note in results(tmp_path)["inputs"][0]["notes"])


def test_layers_of_one_file(run, tmp_path):
    """A GeoPackage with two layers is refused until it is said which, and each is a source of its own."""
    path = tmp_path / "all.gpkg"
    frame(latrines(10.0)).to_file(path, layer="latrines")
    frame(WELLS).to_file(path, layer="wells")
    kinds = ("--hazard-kind", "pit latrine", "--receptor-kind", "well")

    status, _, err = run(path, path, *kinds)
    assert 2 == status and "'latrines', 'wells'" in err

    run(path, path, *kinds, "--hazard-layer", "latrines", "--receptor-layer", "wells")
    assert ["fails"] == [row["verdict"] for row in screened(tmp_path)]


def test_rivers_are_receptors_too(run, tmp_path):
    """Lines in a GeoPackage: nearest point of the line."""
    import geopandas

    line = shapely.LineString([GEOD.fwd(LON, LAT, b, 500.0)[:2] for b in (135.0, 315.0)])
    geopandas.GeoDataFrame({"name": ["Main"]}, geometry=[line], crs=4326).to_file(tmp_path / "rivers.gpkg")
    (tmp_path / "code.toml").write_text(CODE.replace('"well"', '"river"'))

    run(sheet(tmp_path / "l.csv", latrines(40.0), kind="latrine"), tmp_path / "rivers.gpkg", "--receptor-kind", "river")

    assert [("Main", 40.0)] == [
        (r["nearest"], pytest.approx(r["distance_m"], abs=CENTIMETRE_M)) for r in screened(tmp_path)
    ]


# --- rows that cannot be judged ------------------------------------------------------------------------------------

WRONG = {
    "missing": ("L9,,-13.0,latrine", "nothing under 'lon'"),
    "not a number": ("L9,east,-13.0,latrine", "'east' under 'lon'"),
    "placeholder": ("L9,0,0,latrine", "stands for an empty cell"),
    "out of range": ("L9,-13.0,134.0,latrine", "exchanged they would fit"),
    "swapped": ("L9,-13.0001,34.0001,latrine", "exchanged they fit the rest"),
    "no kind": ("L9,34.0,-13.0,", "no kind given"),
    "unknown kind": ("L9,34.0,-13.0,latrinne pitt", "is not known"),
    "short": ("L9,34.0", "2 cells where the heading has 4"),
    "not finite": ("L9,inf,-13.0,latrine", "not finite"),
}


@pytest.mark.parametrize("fault", WRONG)
def test_a_row_that_cannot_be_judged_is_refused_with_its_reason(run, tmp_path, fault):
    """Rows in are rows judged and rows refused; the row number is that of a spreadsheet, and the run ends with 3."""
    line, reason = WRONG[fault]
    hazards = sheet(tmp_path / "l.csv", latrines(60.0, 70.0), kind="latrine")
    text = hazards.read_text().splitlines()
    hazards.write_text("\n".join([*text[:2], line, *text[2:]]) + "\n")

    status, _, err = run(hazards, sheet(tmp_path / "w.csv", WELLS, kind="well"))

    rows = results(tmp_path)["rows"]["hazards"]
    assert (3, "") == (status, err)
    assert (3, 2, 1) == (rows["read"], rows["judged"], rows["refused"])
    assert [("l.csv", "3")] == [(row["table"], row["row"]) for row in refused(tmp_path)]
    assert reason in refused(tmp_path)[0]["reason"]
    assert ["L1", "L2"] == [row["id"] for row in screened(tmp_path)]


def test_one_row_in_a_hundred_swapped(run, tmp_path):
    """All of them are found, and none of the others is touched."""
    chance = np.random.default_rng(5)
    rows = [(f"L{n}", *GEOD.fwd(LON, LAT, b, d)[:2]) for n, (b, d) in
            enumerate(zip(chance.uniform(0, 360, 1000), chance.uniform(50, 90_000, 1000), strict=True))]  # fmt: skip
    rows = [(name, lat, lon) if n % 100 == 17 else (name, lon, lat) for n, (name, lon, lat) in enumerate(rows)]

    run(sheet(tmp_path / "l.csv", rows, kind="latrine"), sheet(tmp_path / "w.csv", WELLS, kind="well"))

    assert [f"L{n}" for n in range(17, 1000, 100)] == [row["id"] for row in refused(tmp_path)]
    assert 990 == len(screened(tmp_path))


def test_repeated_ids_are_judged_and_counted(run, tmp_path):
    """Nothing is dropped because its name is taken."""
    rows = [("L1", *r[1:]) for r in latrines(60.0, 70.0)]
    _, out, _ = run(sheet(tmp_path / "l.csv", rows, kind="latrine"), sheet(tmp_path / "w.csv", WELLS, kind="well"))

    assert 2 == len(screened(tmp_path))
    assert 1 == results(tmp_path)["inputs"][0]["repeated_ids"]
    assert "1 rows repeat an id" in out


def test_a_file_that_ends_in_the_middle_of_a_row(run, tmp_path):
    """The half row is refused, and the missing line break is told."""
    hazards, wells = both(tmp_path, 60.0, 70.0)
    hazards.write_text(hazards.read_text()[:-25])

    _, out, _ = run(hazards, wells)

    assert 1 == results(tmp_path)["rows"]["hazards"]["refused"]
    assert "not ended by a line break" in out


def test_semicolons_and_decimal_commas(run, tmp_path):
    """As a spreadsheet in French or Portuguese writes them."""
    (name, lon, lat), *_ = latrines(25.0)
    text = f"id;longitude;latitude;type;précision\n{name};{lon:.7f};{lat:.7f};latrine;3,5 m\n".replace(".", ",")
    (tmp_path / "l.csv").write_text(text)
    run(tmp_path / "l.csv", sheet(tmp_path / "w.csv", WELLS, kind="well"))

    assert [25.0] == pytest.approx([row["distance_m"] for row in screened(tmp_path)], abs=CENTIMETRE_M)
    assert 3.989 == pytest.approx(screened(tmp_path)[0]["sigma_m"], abs=0.001)  # 3.5 m and 4.9 m at 68 %


def test_attributes_of_the_tables_reach_the_rules(run, tmp_path):
    """A well cased to 8 m and one to 3 m, under a rule that asks for more when it is below 6 m."""
    (tmp_path / "code.toml").write_text(
        CODE.replace("at_least_m = 30", 'at_least_m = 30\nwhen = { "feature.casing_m" = { below = 6 } }')
    )
    wells = sheet(
        tmp_path / "w.csv",
        [("W1", LON, LAT, 8), ("W2", LON + 0.02, LAT, 3)],
        head="id,lon,lat,Casing (m),kind",
        kind="well",
    )
    spots = [("L1", *GEOD.fwd(LON, LAT, 0.0, 5.0)[:2]), ("L2", *GEOD.fwd(LON + 0.02, LAT, 0.0, 5.0)[:2])]

    run(sheet(tmp_path / "l.csv", spots, kind="latrine"), wells)

    assert ["meets", "fails"] == [row["verdict"] for row in screened(tmp_path)]


# --- what stops a run ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "Empty CSV"),
        (b"a,b,c\n1,2,3\n", "no headings that give a position"),
        (b"lat,lon,latitude,kind\n1,2,3,well\n", "2 headings for lat"),
        (b"lat,lon\n-13.0,34.0\n", "no column of kinds"),
        (b"PK\x03\x04 not a table", "not text"),
        (b'lat,lon,kind\n-13.0,34.0,"well\n', "one is not closed"),
    ],
)
def test_a_table_that_is_none_is_refused_in_three_parts(run, tmp_path, content, said):
    """Status 2, found, needed, do next; no traceback and no file."""
    import re

    path = tmp_path / "bad.csv"
    path.write_bytes(content)

    status, out, err = run(path, sheet(tmp_path / "w.csv", WELLS, kind="well"))

    assert (2, "") == (status, out), err
    assert re.search(said, err), err
    assert "needed:" in err and "do next:" in err and "Traceback" not in err
    assert not (tmp_path / "out").exists() or [] == list((tmp_path / "out").iterdir())


def test_a_parquet_file_that_was_cut(run, tmp_path):
    """Half a file is no file."""
    frame(latrines(60.0)).to_parquet(tmp_path / "whole.parquet")
    data = (tmp_path / "whole.parquet").read_bytes()
    (tmp_path / "cut.parquet").write_bytes(data[: len(data) // 2])

    status, _, err = run(tmp_path / "cut.parquet", sheet(tmp_path / "w.csv", WELLS, kind="well"))

    assert 2 == status and "whole Parquet file" in err


def test_files_that_are_there_are_not_replaced(run, tmp_path):
    """Unless it is said."""
    run(*both(tmp_path, 60.0))

    status, _, err = run(*both(tmp_path, 60.0))

    assert 2 == status and "already holds" in err


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError(28, "No space left on device")])
def test_an_interrupt_or_a_full_disk_leaves_nothing_half(run, tmp_path, monkeypatch, error):
    """Neither the tables nor their temporary files stay behind."""
    from siting.outputs.registry import Tables

    def fails(*_, **__):
        raise error

    monkeypatch.setattr(Tables, "close", fails)
    status, _, err = run(*both(tmp_path, 60.0))

    assert status in (1, 2)
    assert "Traceback" not in err
    assert [] == list((tmp_path / "out").iterdir())
    assert error is KeyboardInterrupt or "No space left on device" in err


def test_the_same_table_on_both_sides(run, tmp_path):
    """A mixed registry: latrines are judged against the wells in it; wells are no hazards and say so."""
    rows = [(*r, "latrine") for r in latrines(10.0)] + [(*w, "well") for w in WELLS]
    table = sheet(tmp_path / "all.csv", rows)

    run(table, table)

    assert [("L1", "fails"), ("W1", "not assessed"), ("W2", "not assessed")] == [
        (row["id"], row["verdict"]) for row in screened(tmp_path)
    ]
    assert 4.590 == pytest.approx(screened(tmp_path)[0]["sigma_m"], abs=0.001)
