"""The doctor: what stops, what warns, what accepting does, where it is told, and what it costs."""

import pickle
import re
import shutil
import time
from datetime import date

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from pyproj import Transformer
from test_doctor_table import (
    NAMES,
    SAMPLES,
    SLIPS,
    bound,
    few,
    first_of,
    in_grid,
    laid_out,
    minutes,
    packs,
    put,
    seen,
    swap,
)

from siting.cli import group
from siting.doctor import places, surroundings
from siting.doctor.changes import from_minutes, from_seconds
from siting.doctor.examine import examined, findings
from siting.doctor.fix import Fix
from siting.doctor.places import Near
from siting.errors import InputError, SitingError
from siting.finding import Change, Finding, FindingFault, Sure, address, fault, length, marked, unused
from siting.frame import Frame
from siting.io.read import read_site
from siting.kinds import vocabulary
from siting.rules import Pack
from siting.site import Feature, Ground, Site, SpotHeight, Survey, WaterLevel
from siting.uncertainty import combined, sigma_from_radius, sigma_from_step

SAME_PLACE_M = 0.05
"Coordinates to seven or eight decimals, once there and back."
SECONDS_M = 0.4
"Hundredths of a second of arc (own: 0.01 x 30.9 m), both axes."
COST_S = 0.100
ACCEPTED_WITHOUT_REPAIR = (
    "datum-shift", "turned", "size", "outside-boundary", "displaced-points", "placeholder", "levels-as-depths",
    "level-above-ground", "height-outlier", "water-depths-exchanged",
)  # fmt: skip


def site(*features: Feature, **more) -> Site:
    """A site on its own plane."""
    return Site(name="Test", frame=Frame(lon=34.0, lat=-13.0), features=features, **more)


def feature(kind: str, name: str, where, **more) -> Feature:
    """A feature at a point (x, y) or of a geometry."""
    geometry = shapely.Point(where) if isinstance(where, tuple) else where
    return Feature(kind=kind, name=name, geometry=geometry, source=more.pop("source", "survey"), **more)


def codes(found) -> list[str]:
    """The codes of findings."""
    return [finding.code for finding in found]


# --- what a finding is ---------------------------------------------------------------------------------------


def test_a_finding_becomes_a_fault_in_three_parts():
    """What was seen with code, sureness and metres; what was needed; how to correct and the line that accepts."""
    finding = Finding(
        code="swapped", seen="Well at 34, -13", file="a.csv", row=3, effect_m=668_000.0, repair="exchange the columns",
        accept="swap lat/lon: a.csv row 3", stops=True,
    )  # fmt: skip

    told = str(fault(finding))

    assert told.startswith("a.csv, row 3: Well at 34, -13 [swapped, likely, effect 668 km]")
    assert (
        'exchange the columns; or accept it with this line in site.toml: accept = ["swap lat/lon: a.csv row 3"]' in told
    )


def test_a_fault_carries_its_finding_across_processes():
    """A batch over several processes keeps the code."""
    finding = Finding(code="size", seen="a ward of 500 m", repair="correct it", stops=True)

    error = pickle.loads(pickle.dumps(InputError(fault(finding))))

    assert finding == error.faults[0].finding


def test_case_and_spaces_do_not_matter_to_accepting():
    """What is accepted no longer stops; anything else does."""
    one = Finding(code="a", seen="", repair="", accept="swap lat/lon: a.csv", stops=True)
    other = Finding(code="b", seen="", repair="", accept="close: b.gpx row 1", instead="mend: b.gpx row 1", stops=True)

    found = marked((one, other), ["Swap  LAT/lon: a.csv"])

    assert [(True, False), (False, True)] == [(f.accepted, f.stops) for f in found]
    assert marked((other,), ["mend: b.gpx row 1"])[0].accepted


def test_what_is_accepted_but_not_there_is_told():
    """A line left in site.toml after the file was corrected is a warning, never applied."""
    found = unused(["swap lat/lon: a.csv"], (), file="site.toml")

    assert [("accept-unused", False)] == [(f.code, f.stops) for f in found]


@pytest.mark.parametrize(
    ("metres", "said"), [(0.256, "0.26 m"), (55.7, "56 m"), (1234.0, "1234 m"), (13_700.0, "14 km")]
)
def test_lengths_in_few_figures(metres, said):
    """Nobody needs the centimetres of a slip of kilometres."""
    assert said == length(metres)


def test_rows_are_named_as_a_spreadsheet_counts_them():
    """One row, several rows, a layer, a whole file."""
    assert "far: a.csv row 3" == address("far", file="a.csv", rows=(3,))
    assert "far: a.gpkg [wells] rows 3, 4" == address("far", file="a.gpkg", layer="wells", rows=(3, 4))
    assert "far: a.csv" == address("far", file="a.csv")


# --- positions -----------------------------------------------------------------------------------------------


def fixes(*lonlats, file="a.csv", crs="EPSG:4326", trust=3) -> list[Fix]:
    """Rows of one file."""
    return [
        Fix(file=file, row=n, name=f"P{n}", geometry=shapely.Point(at), crs=crs, trust=trust)
        for n, at in enumerate(lonlats, start=2)
    ]


SQUARE = ((34.1230, -13.9880), (34.1250, -13.9880), (34.1250, -13.9860), (34.1230, -13.9860))


def test_points_of_one_place_are_in_order():
    """Nothing is found where everything lies together."""
    assert () == places.findings(fixes(*SQUARE))
    assert () == places.findings(fixes(*SQUARE), near=Near(lon=34.12, lat=-13.99))
    assert () == places.findings([])


def test_a_site_across_the_antimeridian_lies_together():
    """179.999 and -179.999 degrees are 0.2 km apart."""
    assert () == places.findings(fixes((179.9990, -16.5), (-179.9990, -16.5), (179.9995, -16.501)))


def test_the_file_that_labels_its_coordinates_is_believed():
    """A track against twelve points of a table: the table is the one that was exchanged, whatever their number."""
    track = [Fix(file="b.gpx", row=1, geometry=shapely.LineString(SQUARE), trust=0)]
    points = fixes(*((lat, lon) for lon, lat in SQUARE))

    found = places.findings([*points, *track])

    assert [("swapped", "a.csv", "swap lat/lon: a.csv")] == [(f.code, f.file, f.accept) for f in found]
    assert Change(what="swap") == found[0].change


def test_a_stated_place_tells_when_all_is_exchanged_alike():
    """Without another source only the place stated for the facility can."""
    everything = fixes(*((lat, lon) for lon, lat in SQUARE))

    assert () == places.findings(everything)
    assert ["swapped"] == codes(places.findings(everything, near=Near(lon=34.12, lat=-13.99)))
    assert Sure.CERTAIN is places.findings(everything, near=Near(lon=34.12, lat=-13.99))[0].sure


def test_latitudes_beyond_the_pole_tell_by_themselves():
    """Longitude 134 under latitude is no place on earth; exchanged it is one."""
    found = places.findings(fixes((-13.98, 134.1), (-13.99, 134.1)))

    assert [("swapped", Sure.CERTAIN)] == [(f.code, f.sure) for f in found]
    assert "exchanged they would fit" in found[0].seen


def test_the_effect_is_the_length_of_the_move():
    """Zone 36 read as 37 near the equator moves a point 668 km (own: two central meridians 6 degrees apart)."""
    lon, lat = 36.8172, -1.2864
    x, y = Transformer.from_crs(4326, 32737, always_xy=True).transform(lon, lat)
    wrong = fixes((x, y), (x + 10, y), file="grid.csv", crs="EPSG:32736")

    found = places.findings([*fixes((lon, lat), (lon, lat + 0.0003), file="b.gpx", trust=0), *wrong])

    assert ["wrong-zone"] == codes(found)
    assert 668_000.0 == pytest.approx(found[0].effect_m, rel=0.005)


def test_one_minute_reading_against_another():
    """1 degree 17 minutes 30 seconds typed as 1.1730 is 13 km off (own: 0.1187 degrees of latitude)."""
    true = -(1 + 17 / 60 + 30 / 3600)
    found = places.findings(
        [*fixes((36.8, true), (36.8, true + 0.0003), file="b.gpx", trust=0), *fixes((36.48, -1.1730))]
    )

    assert ["minutes-as-decimals"] == codes(found)
    assert "seconds" == found[0].change.what


def test_minutes_and_seconds_of_sixty_or_more_are_none():
    """12.75 degrees cannot be 12 degrees 75 minutes."""
    assert np.isnan(from_minutes(np.array([[12.75, 12.30]]))).tolist() == [[True, False]]
    assert np.isnan(from_seconds(np.array([[12.3075, 12.3059]]))).tolist() == [[True, False]]


def test_a_camp_of_ten_kilometres_is_one_place():
    """Features every kilometre belong together, however long the row."""
    row = fixes(*((34.0 + 0.008 * n, -13.0) for n in range(12)))

    assert () == places.findings(row)


def test_a_village_well_two_kilometres_off_only_warns():
    """Between one and five kilometres it may well be meant."""
    found = places.findings(fixes(*SQUARE, (34.1450, -13.9870)))

    assert [("far-from-the-rest", False, (6,))] == [(f.code, f.stops, f.rows) for f in found]


# --- accepting -----------------------------------------------------------------------------------------------


def settled(folder, rounds: int = 4) -> Site:
    """The site after every finding that stops was accepted by its own line."""
    lines: list[str] = []
    text = folder.toml
    for _ in range(rounds):
        stopping = [finding for finding in seen(folder.path) if finding.stops]
        if not stopping:
            return read_site(folder.path)
        lines += [finding.accept for finding in stopping]
        assert all(lines), "a finding that nothing accepts"
        (folder.path / "site.toml").write_text(f"accept = {lines!r}\n" + text)
    raise AssertionError(f"still stopped after {lines}")


REPAIRED = (
    "columns exchanged", "one row exchanged", "exchanged in every file", "minus sign lost",
    "minus sign lost everywhere", "zone 36 for 37", "northern zone", "minutes as decimals", "seconds as decimals",
    "degrees without marks", "decimal comma", "point lost", "point slipped", "grid in feet", "grid in millimetres",
    "heading in feet", "ring open",
)  # fmt: skip


@pytest.mark.parametrize("slip", REPAIRED)
def test_an_accepted_repair_gives_the_clean_site(slip, tmp_path):
    """Each feature stands where it stands in the clean sample, and the result says what was done."""
    clean = read_site(laid_out("marula-ridge", tmp_path / "clean").path)
    folder = laid_out("marula-ridge", tmp_path / "slip")
    SLIPS[slip][1](folder)

    mended = settled(folder)

    tolerance_m = SECONDS_M if "seconds" in slip or "marks" in slip else SAME_PLACE_M
    for one, other in zip(clean.features, mended.features, strict=True):
        moved = mended.frame.geometry_to_local(clean.frame.geometry_to_world(one.geometry))
        assert one.name == other.name
        assert shapely.hausdorff_distance(moved, other.geometry) < tolerance_m
        assert one.radius_m == pytest.approx(other.radius_m, abs=SAME_PLACE_M) or slip == "heading in feet"
    assert any(finding.accepted for finding in mended.findings)
    assert not any(finding.stops for finding in findings(mended, packs()))


@pytest.mark.parametrize("slip", [slip for slip, (code, _) in SLIPS.items() if code in ACCEPTED_WITHOUT_REPAIR])
def test_what_no_repair_can_mend_passes_as_a_warning(slip, tmp_path):
    """Accepted it no longer stops, and it stays among the warnings."""
    folder = laid_out("kessa-hill", tmp_path)
    SLIPS[slip][1](folder)

    accepted = settled(folder)

    assert any(finding.accepted for finding in findings(accepted, packs()))


def test_a_repair_accepted_for_a_file_since_corrected_changes_nothing(tmp_path):
    """The line is told as unused; the right coordinates are not exchanged."""
    folder = laid_out("old-market", tmp_path)
    before = read_site(folder.path)
    (folder.path / "site.toml").write_text('accept = ["swap lat/lon: points.csv"]\n' + folder.toml)

    after = read_site(folder.path)

    assert before.features == after.features
    assert ["accept-unused"] == codes(findings(after, packs()))


def test_an_accepted_repair_is_said_with_the_inputs(tmp_path):
    """The note of the source names the line, so that results.json carries it."""
    folder = laid_out("old-market", tmp_path)
    folder.each(swap)

    notes = settled(folder).sources["points.csv"].notes

    assert any("repaired as accepted in site.toml: swap lat/lon: points.csv" in note for note in notes)


def test_seconds_keep_the_step_they_were_written_in(tmp_path):
    """12.1830 for 12 degrees 18 minutes 30 seconds is a step of a second, 30.7 m, not of 1e-4 degrees, 11 m (own)."""
    folder = laid_out("marula-ridge", tmp_path)
    folder.near()
    SLIPS["seconds as decimals"][1](folder)
    folder.each(lambda row: row.update(lat=row["lat"][:-2], lon=row["lon"][:-2]))

    ward = settled(folder).named("Maternity ward")

    expected = combined(sigma_from_radius(4.0, level=0.68), sigma_from_step(30.8))
    assert expected == pytest.approx(ward.sigma_m, abs=0.1)


@pytest.mark.parametrize(("words", "area_m2"), [("mended by its lines", 500.0), ("mended by its rings", 500.0)])
def test_a_crossed_boundary_is_mended_in_the_way_accepted(words, area_m2, tmp_path):
    """Two triangles of 10 m by 50 m are left of a bow tie either way (own); an outline drawn twice would differ."""
    frame = Frame(lon=34.124, lat=-13.987)
    tie = shapely.Polygon([(0, 0), (20, 50), (20, 0), (0, 50)])
    ring = [[round(x, 9), round(y, 9)] for x, y in frame.geometry_to_world(tie).exterior.coords]
    ring[-1] = ring[0]
    folder = laid_out("old-market", tmp_path)
    folder.each(put(lat="-13.987", lon="34.124"), only=0)
    folder.rows = folder.rows[:1]
    folder.write()
    bound(folder, ring)
    stopping = [finding for finding in seen(folder.path) if finding.stops]
    assert ["crosses-itself"] == codes(stopping)
    assert stopping[0].accept.startswith("mended by its lines")
    assert stopping[0].instead.startswith("mended by its rings")
    (folder.path / "site.toml").write_text(f'accept = ["{words}: boundary.geojson row 1"]\n' + folder.toml)

    land = read_site(folder.path).boundaries[0].geometry

    assert area_m2 == pytest.approx(land.area, abs=1.0)


OPEN = """<gpx><trk><name>Fence</name><type>boundary</type><trkseg>
<trkpt lat="-13.000" lon="34.000"/><trkpt lat="-13.000" lon="34.001"/><trkpt lat="-12.999" lon="34.001"/>
<trkpt lat="-12.999" lon="34.000"/></trkseg></trk></gpx>"""


def test_an_open_track_is_closed_only_when_that_is_accepted(tmp_path):
    """The gap of 110.63 m and the area of 108.48 m by 110.63 m (own: length of a degree at 13 S) are told before."""
    (tmp_path / "fence.gpx").write_text(OPEN)
    (tmp_path / "site.toml").write_text("")

    stopping = seen(tmp_path)
    assert ["boundary-open"] == codes(stopping)
    assert "110.63 m apart" in stopping[0].seen
    told_m2 = float(re.search(r"it holds ([\d.]+) m2", stopping[0].seen)[1])
    assert 108.48 * 110.63 == pytest.approx(told_m2, rel=1e-3)
    (tmp_path / "site.toml").write_text(stopping[0].accept_line)
    land = read_site(tmp_path).boundaries[0].geometry
    assert told_m2 == pytest.approx(land.area, abs=0.1)


# --- what the site shows -------------------------------------------------------------------------------------


def test_few_decimals_enter_sigma_and_only_warn(tmp_path):
    """Three decimals: half a step of 0.001 degrees is 55.7 m at the equator (own), told and not decided upon."""
    folder = laid_out("kessa-hill", tmp_path)
    folder.each(few(3))

    found = [finding for finding in seen(folder.path) if finding.code == "few-decimals"]

    assert [False] == [finding.stops for finding in found]
    assert 55.7 == pytest.approx(found[0].effect_m, abs=0.1)
    assert read_site(folder.path).features[0].sigma_m > 30.0


def test_rooms_within_a_building_are_in_order():
    """A delivery room drawn inside a ward is no overlap; a ward that cuts another is."""
    ward = feature("ward", "Ward", shapely.box(0, 0, 30, 10))
    room = feature("treatment room", "Delivery room", shapely.box(2, 2, 8, 8))
    cut = feature("kitchen", "Kitchen", shapely.box(25, 2, 40, 12))

    assert [] == codes(findings(site(ward, room)))
    assert ["overlap"] == codes(findings(site(ward, cut)))


def test_two_stalls_of_a_latrine_are_two():
    """A metre and a half apart under two names they are no double; half a metre apart they may be."""
    first = feature("pit latrine", "Stall A", (0.0, 0.0))

    assert [] == codes(findings(site(first, feature("pit latrine", "Stall B", (1.5, 0.0)))))
    assert ["near-duplicate"] == codes(findings(site(first, feature("pit latrine", "Stall B", (0.5, 0.0)))))
    assert ["duplicate"] == codes(findings(site(first, feature("pit latrine", "Stall B", (0.0, 0.01)))))


def test_one_drift_common_to_all_is_a_datum():
    """Two features 250 m apart between two files, the same way: a shift; each its own way: none."""
    plan = [
        feature("ward", "Long ward", (0.0, 0.0), source="a"),
        feature("well", "South well", (60.0, 0.0), source="a"),
    ]
    alike = [
        feature("ward", "Long ward 2", (150.0, 200.0), source="b"),
        feature("well", "South well 2", (210.0, 200.0), source="b"),
    ]
    apart = [alike[0], feature("well", "South well 2", (60.0, -250.0), source="b")]

    found = findings(site(*plan, *alike))
    assert [("datum-shift", Sure.LIKELY)] == [(f.code, f.sure) for f in found]
    assert 250.0 == pytest.approx(found[0].effect_m, abs=0.1)
    assert "datum-shift" not in codes(findings(site(*plan, *apart)))


def test_the_datum_is_named_where_its_shift_fits():
    """At Nairobi Arc 1960 is 300.7 m towards 162.1 degrees (EPSG dataset, operation 1284; own)."""
    at = {"frame": Frame(lon=36.8172, lat=-1.2864), "name": "Test"}
    x, y = 300.7 * np.sin(np.radians(162.1)), 300.7 * np.cos(np.radians(162.1))
    known = [
        feature("well", "Hill well", (0.0, 0.0), source="a"),
        feature("ward", "Long ward", (50.0, 0.0), source="a"),
    ]
    moved = [
        feature("well", "Hill well 2", (x, y), source="b"),
        feature("ward", "Long ward 2", (50.0 + x, y), source="b"),
    ]

    found = findings(Site(features=(*known, *moved), **at))

    assert "Arc 1960, EPSG:4210" in found[0].seen


def test_two_latrines_of_one_plain_name_are_not_one():
    """`Latrine` in two files may be two latrines."""
    found = findings(
        site(
            feature("pit latrine", "Latrine", (0.0, 0.0), source="a"),
            feature("pit latrine", "Latrine 2", (40.0, 0.0), source="b"),
        )
    )

    assert [] == codes(found)


def test_nobody_looked_is_told_only_where_nobody_says(code_pack):
    """Without a stated radius and with nothing beyond the fence; a radius, or one thing beyond, is evidence."""
    land = feature("boundary", "Fence", shapely.box(0, 0, 80, 80))
    well = feature("well", "Well", (40.0, 40.0))
    beyond = feature("stream", "Stream", shapely.LineString([(90, 0), (90, 80)]))

    found = findings(site(land, well), code_pack)
    assert [("nothing-beyond", False)] == [(f.code, f.stops) for f in found]
    assert surroundings.largest_radius_m(code_pack) == found[0].effect_m
    assert [] == codes(findings(site(land, well, survey=Survey(radius_m=10.0)), code_pack))
    assert [] == codes(findings(site(land, well, beyond), code_pack))


@pytest.fixture
def code_pack() -> tuple[Pack, ...]:
    """The default pack."""
    return packs()


def test_the_largest_radius_is_of_a_rule_that_decides(code_pack):
    """It is a distance that some rule of the pack asks for."""
    asked = {
        limit.constant
        for pack in code_pack
        for rule in pack.rules
        for limit in rule.limits
        if limit.unit == "m" and rule.strength == "must"
    }

    assert surroundings.largest_radius_m(code_pack) in asked
    assert 0.0 == surroundings.largest_radius_m(())


def test_kinds_that_belong_within_or_without_exist():
    """A misspelt kind would never be looked at."""
    assert set() == {*surroundings.OWN, *surroundings.OTHERS} - vocabulary().kinds.keys()


def test_a_ward_just_outside_the_line_warns_and_one_far_outside_stops():
    """Three metres may be the fence post; thirty are not."""
    land = feature("boundary", "Fence", shapely.box(0, 0, 80, 80))
    near, far = (feature("ward", "Ward", shapely.box(x, 0, x + 10, 10)) for x in (83.0, 110.0))

    assert [("outside-boundary", False)] == [(f.code, f.stops) for f in findings(site(land, near))]
    assert [("outside-boundary", True)] == [(f.code, f.stops) for f in findings(site(land, far))]


def test_age_is_judged_only_by_a_stated_day():
    """Three years unless the site says otherwise, and never by a clock."""
    surveyed = site(feature("well", "Well", (0.0, 0.0)), survey=Survey(on=date(2022, 5, 1)))
    patient = site(feature("well", "Well", (0.0, 0.0)), survey=Survey(on=date(2022, 5, 1), stale_after_years=5.0))

    assert [] == codes(findings(surveyed))
    assert [] == codes(findings(surveyed, today=date(2025, 4, 30)))
    assert ["survey-old"] == codes(findings(surveyed, today=date(2025, 5, 3)))
    assert [] == codes(findings(patient, today=date(2025, 5, 3)))
    assert ["date-in-future"] == codes(findings(surveyed, today=date(2022, 4, 30)))


GRID = tuple((x, y) for x in (0.0, 50.0, 100.0) for y in (0.0, 50.0, 100.0))


def spots(*changes: tuple[int, float]) -> tuple[SpotHeight, ...]:
    """Even ground that rises by one metre in a hundred to the east, with some heights changed."""
    heights = {n: 1100.0 + 0.01 * x for n, (x, _) in enumerate(GRID)} | dict(changes)
    return tuple(SpotHeight(x_m=x, y_m=y, height_m=heights[n]) for n, (x, y) in enumerate(GRID))


def test_a_slipped_height_is_told_and_does_not_tilt_the_rest():
    """One of nine heights a tenth of what it should be is found, alone."""
    ground = Ground(spot_heights=spots((4, 110.05)))

    found = findings(site(feature("well", "Well", (0.0, 0.0)), ground=ground))

    assert [("height-outlier", "110.05")] == [(f.code, f.value) for f in found]
    assert 990.45 == pytest.approx(found[0].effect_m, abs=1.0)


def test_levels_against_the_ground():
    """Below it nothing; as depths, in feet and above it each has its code."""

    def told(*levels_m):
        levels = tuple(WaterLevel(name=f"D{n}", x_m=50.0 * n, y_m=0.0, level_m=z) for n, z in enumerate(levels_m))
        ground = Ground(spot_heights=spots(), levels=levels, levels_season="highest")
        return codes(findings(site(feature("well", "Well", (0.0, 0.0)), ground=ground)))

    assert [] == told(1094.0, 1094.5, 1095.0)
    assert ["levels-as-depths"] == told(6.0, 6.0, 6.0)
    assert ["feet-as-metres"] == told(3589.2, 3590.9, 3592.5)
    assert ["level-above-ground"] == told(1094.0, 1104.5, 1095.0)


# --- where it is told ----------------------------------------------------------------------------------------


def run(*arguments):
    """The command line in this process; an error of the package comes back as the exception."""
    return CliRunner().invoke(group, [str(each) for each in arguments])


def test_inspect_says_nothing_of_a_clean_sample():
    """Exit status 0."""
    ran = run("inspect", SAMPLES / "marula-ridge", "--as-of", "2026-07-01")

    assert 0 == ran.exit_code
    assert "nothing doubtful found" in ran.output


def test_inspect_tells_warnings_with_status_3(tmp_path):
    """An old survey is told with its effect unknown, the correction and the line that accepts it."""
    shutil.copytree(SAMPLES / "old-market", tmp_path / "site")

    ran = run("inspect", tmp_path / "site", "--as-of", "2031-01-01")

    assert 3 == ran.exit_code
    assert re.search(r"warning: survey-old \(certain\): site\.toml", ran.output)
    assert 'accept = ["age: the survey"]' in ran.output


@pytest.mark.parametrize(
    "slip", ["columns exchanged", "one row exchanged", "point lost", "ward of 500 m", "grid in feet"]
)
def test_inspect_tells_what_stops_with_status_2(slip, tmp_path):
    """Also where no site can be made of the files."""
    folder = laid_out("marula-ridge", tmp_path)
    SLIPS[slip][1](folder)

    ran = run("inspect", folder.path)

    assert 2 == ran.exit_code
    assert f"stops: {SLIPS[slip][0]}" in ran.output
    assert "to accept, in site.toml: accept = [" in ran.output


@pytest.mark.parametrize("command", ["check", "find"])
def test_commands_stop_until_it_is_accepted(command, tmp_path):
    """Nothing is decided or written; with the line from the message the run goes on, and the results carry it."""
    folder = laid_out("marula-ridge", tmp_path / "site")
    folder.each(put(radius_m="250"), only=first_of(folder, "ward"))
    arguments = [command, folder.path, "--no-map", "--out", tmp_path / "out"]
    arguments += ["--for", "placenta pit", "--gap", "5", "--places", "1"] if command == "find" else []

    stopped = run(*arguments)

    assert isinstance(stopped.exception, SitingError)
    held = [each.finding for each in stopped.exception.faults if isinstance(each, FindingFault)]
    assert ["size"] == codes(held)
    assert not (tmp_path / "out").exists()
    (folder.path / "site.toml").write_text(held[0].accept_line + "\n" + folder.toml)
    assert run(*arguments).exit_code in (0, 1, 3)
    assert '"code": "size"' in (tmp_path / "out" / "results.json").read_text()
    assert "accepted: size" in (tmp_path / "out" / "compliance.csv").read_text("utf-8-sig")


def test_warnings_reach_the_map(tmp_path):
    """A near-duplicate is shown beside the map."""
    folder = laid_out("old-market", tmp_path / "site")
    SLIPS["nearly twice"][1](folder)

    assert run("check", folder.path, "--out", tmp_path / "out").exit_code in (0, 1, 3)

    assert "one thing entered twice?" in (tmp_path / "out" / "map.html").read_text()


@pytest.mark.parametrize("sample", NAMES)
def test_clean_samples_are_the_same_after_the_doctor(sample):
    """No notice is added where nothing is found."""
    before = read_site(SAMPLES / sample)

    assert before == examined(before, packs())


def test_a_single_file_in_a_wrong_zone_names_both_ways_on(tmp_path):
    """Also without a site.toml: the message has the correction and the line to accept."""
    folder = laid_out("marula-ridge", tmp_path)
    in_grid(folder, "EPSG:32736")

    found = seen(folder.path)

    assert {"wrong-zone"} == set(codes(found))
    assert 'write the crs of zone 37S ("WGS 84 / UTM zone 37S") for this file' == found[0].repair


def test_minutes_are_told_apart_from_seconds(tmp_path):
    """Degrees and decimal minutes are repaired as that, not as seconds."""
    folder = laid_out("kessa-hill", tmp_path)
    folder.each(minutes)

    assert {"minutes"} == {finding.change.what for finding in seen(folder.path) if finding.change}


# --- cost ----------------------------------------------------------------------------------------------------


def large_site(count: int = 300) -> Site:
    """Three hundred features on a grid, a third of them drawn."""
    kinds = ("ward", "pit latrine", "well", "dwelling", "kitchen")
    made = [feature("boundary", "Fence", shapely.box(-20, -20, 620, 480))]
    for n in range(count - 1):
        x, y = 30.0 * (n % 20), 30.0 * (n // 20)
        kind = kinds[n % len(kinds)]
        drawn = kind in ("ward", "dwelling")
        where = shapely.box(x, y, x + 12, y + 8) if drawn else (x, y)
        radius_m = None if drawn else 3.0 if kind == "kitchen" else 0.6
        made.append(feature(kind, f"{kind} no {n}", where, radius_m=radius_m, sigma_m=0.5))
    return site(*made)


def test_the_doctor_costs_a_tenth_of_a_second():
    """On a site of 300 features, positions included: the best of five runs."""
    big = large_site()
    world = [big.frame.geometry_to_world(f.geometry) for f in big.features]
    rows = [
        Fix(file="a.csv", row=n, name=f.name, kind=f.kind, geometry=g)
        for n, (f, g) in enumerate(zip(big.features, world, strict=True))
    ]
    findings(big, packs())

    def once() -> float:
        began = time.perf_counter()
        assert () == places.findings(rows)
        assert [] == [f for f in findings(big, packs()) if f.code != "nothing-beyond"]
        return time.perf_counter() - began

    assert min(once() for _ in range(5)) < COST_S
