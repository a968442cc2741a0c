"""`siting verify`: what was measured, against what was set out, and every rule asked again of what stands."""

import csv
import io
import json
from shutil import copytree

import pytest
import yards
from click.testing import CliRunner
from shapely.geometry import box

from siting.cli import group
from siting.errors import InputError

CENTIMETRE_M = 0.01
SHIFT_M = 0.05
NAME = "placenta pit A"


def run(*arguments):
    """A run of a command; errors of this package come through."""
    result = CliRunner().invoke(group, list(map(str, arguments)))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture(scope="module")
def set_out(tmp_path_factory):
    """A yard where everything meets, with corners to tape from, and the rows of its setting-out table."""
    folder = tmp_path_factory.mktemp("verify")
    blocks = {"Laundry": box(30, 60, 40, 68), "Mortuary": box(80, 24, 88, 30), "Clinic": box(70, 68, 82, 74)}
    buildings = [yards.feature(name.lower(), name, shape) for name, shape in blocks.items()]
    site = yards.write(folder / "yard", yards.fence(), yards.well(), yards.latrine(40.0), *buildings)
    run("setout", site, "--for", "placenta pit", "--out", folder / "card", "-q")
    return site, list(csv.DictReader(io.StringIO((folder / "card/setout.csv").read_text("utf-8-sig"))))


@pytest.fixture
def yard(set_out, tmp_path):
    """The yard and its rows, for a test to change."""
    copytree(set_out[0], tmp_path / "yard")
    return tmp_path / "yard", [dict(row) for row in set_out[1]]


def verify(site, measured, *more):
    """The command for the pit of the yard."""
    return run("verify", site, measured, "--for", "placenta pit", *more)


def places(path, rows, *, east_m=0.0, accuracy="0.02", only="RE"):
    """A file of measured coordinates, all moved east."""
    metres_a_degree = 111_320.0 * 0.97038  # at 13.98 degrees south, to 0.1 %: the shift is 5 cm
    lines = ["peg,lat,lon,accuracy_m"]
    for row in rows:
        if row["peg"][0] in only:
            lines.append(f"{row['peg']},{row['lat']},{float(row['lon']) + east_m / metres_a_degree:.9f},{accuracy}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def tapes(path, rows, *, wrong=None, only="RE"):
    """A file of tape lengths as set out; `wrong` adds metres to one of (peg, number)."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["peg", "from", "distance_m"])
    for row in rows:
        for number in "123":
            if row["peg"][0] in only and row[f"tie_{number}"]:
                off = wrong[2] if wrong and wrong[:2] == (row["peg"], number) else 0.0
                writer.writerow([row["peg"], row[f"tie_{number}"], float(row[f"length_{number}_m"]) + off])
    path.write_text(text.getvalue(), encoding="utf-8")
    return path


def block(ran):
    """The as-built block of results on standard output."""
    return json.loads(ran.stdout)["as_built"]


def test_pegs_five_centimetres_off_meet_the_tolerance(yard, tmp_path):
    """The pit stands 0.05 m east, its rim fits, the tolerance and every rule are met: status 0 and all files."""
    site, rows = yard
    ran = verify(site, places(tmp_path / "m.csv", rows, east_m=SHIFT_M), "--out", tmp_path / "out", "--json")
    found = block(ran)

    assert 0 == ran.exit_code
    assert "meets" == found["within_tolerance"]
    middle = next(d for d in found["deviations"] if d["name"] == "P")
    assert pytest.approx(SHIFT_M, abs=CENTIMETRE_M) == middle["distance_m"]
    assert pytest.approx(90.0, abs=3.0) == middle["bearing_deg"]
    assert pytest.approx(0.73, abs=CENTIMETRE_M) == found["pit"]["radius_m"]
    files = ["as-built.csv", "compliance.csv", "compliance.xlsx", "map.html", "pits-register.csv", "results.json"]
    assert files == sorted(path.name for path in (tmp_path / "out").iterdir())


def test_every_rule_is_asked_of_what_stands(yard, tmp_path):
    """The compliance table holds the pit as built against the well, 30 m asked for."""
    site, rows = yard
    ran = verify(site, places(tmp_path / "m.csv", rows), "--json", "--name", "Pit 1")

    separations = json.loads(ran.stdout)["separations"]
    mine = [s for s in separations if s["installation"] == "Pit 1" and s["feature"] == "Well"]
    assert ["meets"] == [s["verdict"] for s in mine]
    assert [30.0] == [s["required_m"] for s in mine]


def test_a_pit_half_a_metre_off_fails(yard, tmp_path):
    """Outside the 0.15 m: status 1, although every rule is met."""
    site, rows = yard
    ran = verify(site, places(tmp_path / "m.csv", rows, east_m=0.5), "--json")

    assert 1 == ran.exit_code
    assert "fails" == block(ran)["within_tolerance"]


def test_a_phone_cannot_tell_and_is_not_believed(yard, tmp_path):
    """Five metres of accuracy show neither that a peg is within 0.15 m nor that it is not; the caution says so."""
    site, rows = yard
    ran = verify(site, places(tmp_path / "m.csv", rows, accuracy="5"), "--json")

    assert 3 == ran.exit_code
    assert "too close to call" == block(ran)["within_tolerance"]
    assert any("too coarse to tell" in caution for caution in block(ran)["cautions"])


def test_tapes_as_set_out_lead_back_to_the_plan(yard, tmp_path):
    """Within a centimetre, with residuals of millimetres."""
    site, rows = yard
    found = block(verify(site, tapes(tmp_path / "t.csv", rows), "--json"))

    assert all(d["distance_m"] < CENTIMETRE_M for d in found["deviations"])
    assert all(abs(r) < CENTIMETRE_M for p in found["pegs"] for r in p["residuals_m"])


def test_a_misread_tape_is_told(yard, tmp_path):
    """One length of three a metre too long: the peg's lengths disagree, and the caution says so."""
    site, rows = yard
    found = block(verify(site, tapes(tmp_path / "t.csv", rows, wrong=("R2", "1", 1.0)), "--json"))

    assert ["R2"] == [p["name"] for p in found["pegs"] if not p["agrees"]]
    assert any(c.startswith("peg R2: the lengths disagree") for c in found["cautions"])


def test_the_card_filled_in_is_read_as_lengths_not_as_its_own_plan(yard, tmp_path):
    """Only the measured columns count; with none filled in there is nothing to judge."""
    site, rows = yard
    card = tmp_path / "setout.csv"

    def write():
        with card.open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, rows[0].keys())
            writer.writeheader()
            writer.writerows(rows)

    write()
    with pytest.raises(InputError, match="no length is filled in"):
        verify(site, card, "--json")
    for row in rows:
        for number in "123":
            if row["peg"][0] in "RE" and row[f"tie_{number}"]:
                row[f"measured_tie_{number}_m"] = row[f"length_{number}_m"]
    write()

    assert 8 == len(block(verify(site, card, "--json"))["pegs"])


@pytest.mark.parametrize(
    ("text", "saying"),
    [
        ("peg,from,distance_m\nR1,Nowhere,12\n", "no tie point is called 'Nowhere'"),
        ('peg,from,distance_m\nR1,"Fence, north-east corner",long\n', "not a length in metres"),
        ("peg,lat,lon\nR1,-13.98,34.1\nR1,-13.98,34.1\n", "is there 2 times"),
        ("peg,lat,lon\nE1,-13.98,34.1\n", "points of the pit's rim"),
        ("peg,colour\nR1,red\n", "no headings that give a position"),
        (
            'peg,from,distance_m,along_slope\nR1,"Fence, north-east corner",50,yes\n',
            "heights of its ends",
        ),
    ],
)
def test_measurements_that_cannot_be_used_are_refused(text, saying, yard, tmp_path):
    """In three parts, each naming what was found."""
    (tmp_path / "m.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=saying) as caught:
        verify(yard[0], tmp_path / "m.csv", "--json")
    assert all(fault.needed and fault.do_next for fault in caught.value.faults)


def test_x_and_y_with_a_crs_column_are_read_in_that_grid(yard, tmp_path):
    """The same pegs in UTM 36 south."""
    from pyproj import Transformer

    site, rows = yard
    grid = Transformer.from_crs("EPSG:4326", "EPSG:32736", always_xy=True)
    lines = ["peg,x,y,crs,accuracy_m"]
    for row in rows:
        if row["peg"][0] in "RE":
            x, y = grid.transform(float(row["lon"]), float(row["lat"]))
            lines.append(f"{row['peg']},{x:.3f},{y:.3f},EPSG:32736,0.02")
    (tmp_path / "m.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")

    found = block(verify(site, tmp_path / "m.csv", "--json"))

    assert all(d["distance_m"] < CENTIMETRE_M for d in found["deviations"])


def test_the_register_is_read_by_the_next_check_and_kept_by_the_next_verify(yard, tmp_path):
    """The pit appears as a feature; closing it later keeps its contents and day of opening, and it stays a hazard."""
    site, rows = yard
    measured, register = places(tmp_path / "m.csv", rows), site / "pits-register.csv"
    toml = (site / "site.toml").read_text("utf-8")
    (site / "site.toml").write_text(toml + '[[source]]\nfile = "pits-register.csv"\n', encoding="utf-8")
    register.write_text("name,kind,lat,lon,radius_m\nOld pit,ash pit,-13.9793,34.1007,0.5\n", encoding="utf-8")
    more = ("--register", register, "--out", tmp_path / "out", "--overwrite", "-q")

    verify(site, measured, "--opened", "2026-06-01", "--contents", "placentas", *more)
    checked = json.loads(run("check", site, "--json", "--no-map").stdout)
    verify(site, measured, "--closed", "2027-06-01", *more)

    assert any(s["installation"] == NAME for s in checked["separations"])
    kept = {r["name"]: r for r in csv.DictReader(io.StringIO(register.read_text("utf-8-sig")))}
    assert ["Old pit", NAME] == sorted(kept)
    assert ("2026-06-01", "2027-06-01", "placentas", "closed") == tuple(
        kept[NAME][key] for key in ("opened", "closed", "contents", "status")
    )


@pytest.mark.parametrize("suffix", ["gpx", "geojson", "xlsx"])
def test_other_formats_say_the_same(suffix, yard, tmp_path):
    """Waypoints by name, points with a peg, and a workbook: the same places within a centimetre."""
    site, rows = yard
    pegs = [(r["peg"], float(r["lat"]), float(r["lon"])) for r in rows if r["peg"][0] in "RE"]
    measured = tmp_path / f"m.{suffix}"
    if suffix == "gpx":
        points = "".join(f'<wpt lat="{lat}" lon="{lon}"><name>{peg}</name></wpt>' for peg, lat, lon in pegs)
        measured.write_text(f'<gpx version="1.1" creator="x">{points}</gpx>', encoding="utf-8")
    elif suffix == "geojson":
        features = [
            {"type": "Feature", "properties": {"peg": peg}, "geometry": {"type": "Point", "coordinates": [lon, lat]}}
            for peg, lat, lon in pegs
        ]
        measured.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    else:
        import xlsxwriter

        with xlsxwriter.Workbook(measured) as book:
            sheet = book.add_worksheet()
            for line, cells in enumerate([("peg", "lat", "lon"), *pegs]):
                sheet.write_row(line, 0, cells)

    found = block(verify(site, measured, "--json"))

    assert all(d["distance_m"] < CENTIMETRE_M for d in found["deviations"])
    assert 8 == len(found["pegs"])


def test_a_table_that_is_no_register_is_never_written_over(yard, tmp_path):
    """It is refused before anything of the register is written."""
    site, rows = yard
    other = tmp_path / "other.csv"
    other.write_text("peg,lat,lon\n1,2,3\n", encoding="utf-8")

    with pytest.raises(InputError, match="without the headings name and kind"):
        verify(site, places(tmp_path / "m.csv", rows), "--register", other, "--out", tmp_path / "out")
    assert "peg,lat,lon\n1,2,3\n" == other.read_text("utf-8")
    assert not (tmp_path / "out").exists()


def test_a_name_that_is_taken_is_refused(yard, tmp_path):
    """Names identify features in every output."""
    site, rows = yard
    with pytest.raises(InputError, match="called 'Latrine' already"):
        verify(site, places(tmp_path / "m.csv", rows), "--name", "Latrine", "--json")


def test_a_pit_with_corners_is_a_rectangle_everywhere(tmp_path):
    """Its corners are set out, fitted, and kept in the register as an outline that the next check reads."""
    place = '[[place]]\nkind = "placenta pit"\npit_m = [2.0, 1.5]\npit_depth_m = 2.0\nwall_m = 0.25\n'
    site = yards.write(tmp_path / "yard", yards.fence(), yards.well(), yards.latrine(40.0), more=place)
    run("setout", site, "--out", tmp_path / "card", "-q")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "card/setout.csv").read_text("utf-8-sig"))))
    register = site / "pits-register.csv"

    ran = verify(site, places(tmp_path / "m.csv", rows), "--register", register, "--out", tmp_path / "out", "--json")
    toml = (site / "site.toml").read_text("utf-8")
    (site / "site.toml").write_text(toml + '[[source]]\nfile = "pits-register.csv"\n', encoding="utf-8")
    checked = json.loads(run("check", site, "--json", "--no-map").stdout)

    assert "rectangle" == block(ran)["pit"]["shape"]
    assert pytest.approx(2.5, abs=CENTIMETRE_M) == block(ran)["pit"]["length_m"]
    assert pytest.approx(2.0, abs=CENTIMETRE_M) == block(ran)["pit"]["width_m"]
    again = [s["distance_m"] for s in checked["separations"] if s["installation"] == NAME and s["feature"] == "Well"]
    first = [
        s["distance_m"]
        for s in json.loads(ran.stdout)["separations"]
        if s["installation"] == NAME and s["feature"] == "Well"
    ]
    assert pytest.approx(first, abs=CENTIMETRE_M) == again
    assert 1 == len(again)
