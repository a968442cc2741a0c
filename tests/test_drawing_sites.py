"""A site whose survey is a drawing: on the ground by its control points, alone in its own metres without them."""

import builtins
import json

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from siting.cli import group
from siting.errors import InputError
from siting.frame import Frame
from siting.io.read import read_site

ezdxf = pytest.importorskip("ezdxf", reason="the extra [dxf]")

GROUND = Frame(lon=33.9, lat=-13.5)
TURN_DEG = 25.0
"The drawing's up is turned on the ground, so that a plan laid down unturned is found out."
MILLIMETRE_M = 0.001
YARD = ((0.0, 0.0), (90.0, 0.0), (90.0, 70.0), (0.0, 70.0))
"The fence in metres of the plan; invented, like all of this site."
POINTS = {"borehole": (8.0, 10.0), "placenta pit": (70.0, 52.0), "tree": (30.0, 44.0)}
LAYERS = 'kinds = { "W-01" = "borehole", "P-01" = "placenta pit", "V-01" = "tree", "F-01" = "boundary" }'
LAYER_OF = {"borehole": "W-01", "placenta pit": "P-01", "tree": "V-01"}
SAID = """
name = "Thornfield"
rules = ["health-care-waste"]
[surveyed]
on = 2026-05-14
radius_m = 80
[[place]]
kind = "placenta pit"
"""


def turned(xy):
    """Metres of the plan to metres on the ground."""
    angle = np.radians(TURN_DEG)
    x, y = np.asarray(xy, float).T
    return np.column_stack([x * np.cos(angle) - y * np.sin(angle) + 12.0, x * np.sin(angle) + y * np.cos(angle) - 7.0])


def lonlat(xy):
    """Degrees of places on the plan."""
    return GROUND.to_world(turned(xy))


def draw(path, *, units=4, per_m=1000.0):
    """The yard as a drawing: points as blocks on layers that only the mapping explains, the fence as a polyline."""
    made = ezdxf.new("R2010", units=units)
    mark = made.blocks.new("MARK")
    mark.add_point((0, 0))
    space = made.modelspace()
    for kind, (x, y) in POINTS.items():
        space.add_blockref("MARK", (x * per_m, y * per_m), dxfattribs={"layer": LAYER_OF[kind]})
    space.add_lwpolyline([(x * per_m, y * per_m) for x, y in YARD], close=True, dxfattribs={"layer": "F-01"})
    made.saveas(path)


def control(per_m=1000.0):
    """The corners of the fence as control points, as site.toml has them."""
    rows = [
        f"{{ plan = [{x * per_m}, {y * per_m}], lonlat = [{lon:.10f}, {lat:.10f}], accuracy_m = 0.05 }}"
        for (x, y), (lon, lat) in zip(YARD, lonlat(YARD), strict=True)
    ]
    return "control = [" + ", ".join(rows) + "]"


def drawing_site(folder, *stated, more="", **how):
    """A folder with the drawing, and what is said of it."""
    folder.mkdir()
    draw(folder / "plan.dxf", **how)
    lines = "\n".join(["[[source]]", 'file = "plan.dxf"', "accuracy_m = 0.1", LAYERS, *stated])
    (folder / "site.toml").write_text(f"{SAID}\n{lines}\n{more}")
    return folder


def mapped_site(folder):
    """The same yard as GeoJSON."""
    folder.mkdir()
    features = [
        {"type": "Feature", "properties": {"kind": kind},
         "geometry": {"type": "Point", "coordinates": lonlat([xy])[0].tolist()}}
        for kind, xy in POINTS.items()
    ]  # fmt: skip
    ring = lonlat([*YARD, YARD[0]]).tolist()
    features.append(
        {"type": "Feature", "properties": {"kind": "boundary"}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    )
    (folder / "map.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (folder / "site.toml").write_text(f'{SAID}\n[[source]]\nfile = "map.geojson"\naccuracy_m = 0.1\n')
    return folder


def run(command, folder, out, *more):
    """The command line on a folder, and its results."""
    done = CliRunner().invoke(group, [command, str(folder), "--out", str(out), *more])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.output
    assert (out / "results.json").is_file(), done.output
    return done.output, json.loads((out / "results.json").read_text())


def lengths_m(found):
    """Distance of each rule and feature kind."""
    return {(row["rule"], row["feature"]): row["distance_m"] for row in found["separations"]}


@pytest.mark.parametrize("command", ["check", "find"])
def test_a_drawing_with_control_gives_the_distances_of_the_map(command, tmp_path):
    """Millimetres on layers with invented names, turned on the ground, come out as the same site drawn in degrees."""
    _, drawn = run(command, drawing_site(tmp_path / "drawn", control()), tmp_path / "one", "--no-map")
    _, mapped = run(command, mapped_site(tmp_path / "mapped"), tmp_path / "two", "--no-map")

    expected, actual = lengths_m(mapped), lengths_m(drawn)
    assert expected
    assert list(expected) == list(actual)
    for key, length_m in expected.items():
        assert length_m == pytest.approx(actual[key], abs=1.5 * MILLIMETRE_M), key


def test_the_drawing_lands_where_the_map_has_it(tmp_path):
    """Every point is in its place on earth to the millimetre, and carries what the fit leaves as shared uncertainty."""
    site = read_site(drawing_site(tmp_path / "drawn", control()))

    for kind, xy in POINTS.items():
        feature = site.of_kinds([kind])[0]
        expected = site.frame.to_local(lonlat([xy]))[0]
        assert expected == pytest.approx(shapely.get_coordinates(feature.geometry.centroid)[0], abs=MILLIMETRE_M)
    assert 0.0 < site.sources["plan.dxf"].shared_sigma_m < 0.1


def test_a_drawing_alone_is_checked_in_its_own_metres(tmp_path):
    """Distances are those of the plan, and nothing claims a place on earth."""
    _, found = run("check", drawing_site(tmp_path / "drawn"), tmp_path / "out")

    mapped = mapped_site(tmp_path / "mapped")
    _, expected = run("check", mapped, tmp_path / "two", "--no-map")
    for key, length_m in lengths_m(expected).items():
        assert length_m == pytest.approx(lengths_m(found)[key], abs=1.5 * MILLIMETRE_M), key
    assert [None, None] == found["site"]["centre"]
    assert "no-place-on-earth" in [warning["code"] for warning in found["warnings"]]
    row = next(row for row in found["separations"] if row["to_x_m"] is not None)
    assert row["from"] is None
    assert row["to"] is None
    page = (tmp_path / "out" / "map.html").read_text()
    assert '"world":null' in page


@pytest.mark.parametrize("how", [(), ("--no-map",)])
def test_a_place_on_a_drawing_alone_is_given_in_x_and_y(how, tmp_path):
    """A found place has metres of the plan in the results and on the screen, inside the fence as drawn."""
    out, found = run("find", drawing_site(tmp_path / "drawn"), tmp_path / "out", *how)

    best = found["candidates"][0]
    assert (None, None) == (best["lon"], best["lat"])
    assert shapely.Polygon(YARD).contains(shapely.Point(best["x_m"], best["y_m"]))
    assert f"x {best['x_m']:.2f} m, y {best['y_m']:.2f} m of the plan" in out
    assert found["feasible"]["geometry"]["coordinates"] is None
    assert found["feasible"]["geometry"]["x_y_m"]


def test_a_drawing_alone_stands_beside_nothing_else(tmp_path):
    """Metres of a plan and degrees of a receiver never meet on one plane by accident."""
    folder = drawing_site(tmp_path / "drawn", more='[[source]]\nfile = "wells.csv"\n')
    (folder / "wells.csv").write_text("kind,name,lat,lon\nborehole,B2,-13.5,33.9\n")

    with pytest.raises(InputError) as refusal:
        read_site(folder)

    assert "stands beside wells.csv" in refusal.value.faults[0].found
    assert "control" in refusal.value.faults[0].do_next


def test_a_table_of_levels_beside_a_drawing_alone_is_refused(tmp_path):
    """Degrees of water levels are not taken for metres of the plan."""
    folder = drawing_site(tmp_path / "drawn", more='[ground]\nlevels = "levels.csv"\n')
    (folder / "levels.csv").write_text("name,lat,lon,level_m\na,-13.5,33.9,10\nb,-13.501,33.9,11\n")

    with pytest.raises(InputError) as refusal:
        read_site(folder)

    assert "stands beside levels.csv" in refusal.value.faults[0].found


def test_a_unit_the_drawing_denies_is_refused(tmp_path):
    """Metres stated for a drawing that says millimetres: one of them is wrong, and the sizes show which."""
    with pytest.raises(InputError) as refusal:
        read_site(drawing_site(tmp_path / "drawn", 'unit = "m"'))

    assert "the drawing says millimetres" in refusal.value.faults[0].found


def test_a_unit_the_control_points_deny_is_refused(tmp_path):
    """A drawing without a unit, called centimetres, while its control points say millimetres."""
    folder = drawing_site(tmp_path / "drawn", 'unit = "cm"', control(), units=0)

    with pytest.raises(InputError) as refusal:
        read_site(folder)

    assert 'unit = "mm"' in str(refusal.value)


def test_a_known_length_decides_for_the_stated_unit(tmp_path):
    """Drawn in metres although its header says millimetres: the length measured in both settles it."""
    stated = ('unit = "m"', "known_length = { drawn = 90.0, metres = 90.0 }")
    site = read_site(drawing_site(tmp_path / "drawn", *stated, per_m=1.0))

    assert shapely.Polygon(YARD).area == pytest.approx(site.boundaries[0].geometry.area, abs=1e-3)


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("known_length = { drawn = 12000 }", "known_length.metres"),
        ("control = [{ plan = [0], lonlat = [33.9, -13.5] }]", "control 1.plan"),
        ("control = [{ plan = [0, 0] }]", "control 1.lonlat"),
        ('control = [{ plan = [0, 0], lonlat = [33.9, -13.5], colour = "red" }]', "control 1.colour"),
        ("unit = 1000", "unit = 1000"),
        ('crs = "EPSG:32736"\ncontrol = [{ plan = [0, 0], lonlat = [33.9, -13.5] }]', "crs = 'EPSG:32736'"),
    ],
)
def test_what_is_said_of_a_drawing_is_checked(line, found, tmp_path):
    """A half-told length, a point without its pair and a crs beside control points are named."""
    with pytest.raises(InputError) as refusal:
        read_site(drawing_site(tmp_path / "drawn", line))

    assert found in str(refusal.value)


def test_control_points_of_a_table_are_refused(tmp_path):
    """Control points of a file that is no drawing would be left unused; that is said."""
    folder = mapped_site(tmp_path / "mapped")
    with (folder / "site.toml").open("a") as file:
        file.write(control() + "\n")

    with pytest.raises(InputError) as refusal:
        read_site(folder)

    assert "DXF drawing" in refusal.value.faults[0].needed


def test_without_the_library_the_extra_is_named(tmp_path, monkeypatch):
    """A bare install says which extra reads drawings."""
    folder, real = drawing_site(tmp_path / "drawn"), builtins.__import__

    def bare(name, *args, **kwargs):
        if name.split(".")[0] == "ezdxf":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", bare)
    with pytest.raises(InputError) as refusal:
        read_site(folder)

    assert "siting[dxf]" in refusal.value.faults[0].do_next


def test_an_unstated_accuracy_of_a_drawing_is_half_a_millimetre_at_1_to_500(tmp_path):
    """Where nobody states an accuracy a drawing is not taken for a phone (0.25 m holding 68 %: project judgement)."""
    folder = drawing_site(tmp_path / "drawn")
    text = (folder / "site.toml").read_text().replace("accuracy_m = 0.1\n", "")
    (folder / "site.toml").write_text(text)

    site = read_site(folder)

    # 0.25 / sqrt(-2 ln 0.32), the Rayleigh quantile
    assert 0.1656 == pytest.approx(site.features[0].sigma_m, abs=1e-4)
    assert any("half a millimetre at 1:500" in notice.message for notice in site.notices)
