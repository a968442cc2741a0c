"""`site.toml`: every key read, every wrong one told with its nearest spelling."""

from datetime import date

import pytest

from siting.errors import InputError
from siting.io.read import read_site
from siting.io.site_file import parsed
from siting.site import Request, SpotHeight, WaterLevel

POINTS = "lat,lon,kind,name\n-13.9870017,34.1240013,well,W1\n-13.9865023,34.1245021,ward,Delivery room\n"

WHOLE = """
name = "Marula Ridge Health Centre"
rules = ["health-care-waste", "local.toml"]
confidence = 0.9
crs = "EPSG:4326"
accept = ["open boundary"]

[surveyed]
on = 2026-05-14
by = "A. Surveyor"
radius_m = 100

[absent]
"surface water" = "walked 100 m beyond the fence"
"Boreholes" = "asked the district"

[[source]]
file = "points.csv"
accuracy_m = 5
accuracy_level = 0.95
kinds = { "HP" = "handpump" }

[[place]]
kind = "Placenta pit"
births_per_day = 3
serve_from = "Delivery room"
keep_reserve = true
pit_m = [1.2, 1.0]
orientation_deg = 45
attributes = { lined = true, lid_m = 0.1 }

[ground]
highest_water_depth_m = 6.5
levels = "levels.csv"
levels_season = "highest"
spot_heights = "heights.csv"
material = "medium sand"
porosity = 0.2
attributes = { soil_thickness_m = 2 }

[wind]
from = { N = 50, ne = 40 }
calm = 10
"""


@pytest.fixture
def folder(tmp_path):
    """A folder that uses every key."""
    (tmp_path / "site.toml").write_text(WHOLE)
    (tmp_path / "points.csv").write_text(POINTS)
    (tmp_path / "levels.csv").write_text("name,lat,lon,level_m\nW1,-13.9870017,34.1240013,101.5\n")
    (tmp_path / "heights.csv").write_text("Latitude;Longitude;Altitude\n-13,9870017;34,1240013;108,25\n")
    (tmp_path / "photo.jpg").write_bytes(b"x")
    return tmp_path


def test_every_key_arrives(folder):
    """Each key of the contract is found again in the Site."""
    site = read_site(folder)

    assert site.name == "Marula Ridge Health Centre"
    assert site.packs == ("health-care-waste", "local.toml")
    assert site.confidence == 0.9
    assert (site.survey.on, site.survey.by, site.survey.radius_m) == (date(2026, 5, 14), "A. Surveyor", 100.0)
    assert dict(site.absent) == {
        "surface water": "walked 100 m beyond the fence",
        "borehole": "asked the district",
    }
    assert site.requests == (
        Request(
            kind="placenta pit",
            births_per_day=3.0,
            serve_from="Delivery room",
            keep_reserve=True,
            pit_m=(1.2, 1.0),
            orientation_deg=45.0,
            attributes={"lined": True, "lid_m": 0.1},
        ),
    )
    assert site.ground.highest_water_depth_m == 6.5
    assert site.ground.levels_season == "highest"
    assert dict(site.ground.attributes) == {"soil_thickness_m": 2.0}
    assert dict(site.wind_from_percent) == {"N": 50.0, "NE": 40.0, "calm": 10.0}


def test_levels_and_heights_lie_on_the_plane(folder):
    """The level of W1 and the spot height stand where the well stands."""
    site = read_site(folder)
    well = site.named("W1").geometry

    assert site.ground.levels == (WaterLevel(name="W1", x_m=well.x, y_m=well.y, level_m=101.5),)
    assert site.ground.spot_heights == (SpotHeight(x_m=well.x, y_m=well.y, height_m=108.25),)


def test_what_is_there_and_not_read_is_said(folder):
    """A file in the folder that no source names is told of; text, pictures of output and levels are not sources."""
    notices = [notice for notice in read_site(folder).notices if notice.code == "file-not-read"]

    assert [notice.file for notice in notices] == ["photo.jpg"]


def test_without_sources_every_data_file_is_read(tmp_path):
    """Sorted by name; not the site file, levels, read-me or what this program writes."""
    (tmp_path / "site.toml").write_text('[ground]\nlevels = "levels.csv"')
    (tmp_path / "levels.csv").write_text("lat,lon,level_m\n-13.987,34.124,1\n")
    (tmp_path / "README.md").write_text("# read me")
    (tmp_path / "results.json").write_text("{}")
    (tmp_path / "compliance.csv").write_text("rule\n")
    (tmp_path / "b.csv").write_text(POINTS)
    (tmp_path / "a.geojson").write_text('{"type": "Point", "coordinates": [34.1241113, -13.9871117]}')

    assert list(read_site(tmp_path).sources) == ["a.geojson", "b.csv"]


def test_broken_toml_names_its_line(tmp_path):
    """The line is the row of the fault."""
    with pytest.raises(InputError) as caught:
        parsed('name = "x"\nrules = [\nconfidence 3', file="site.toml")

    assert caught.value.faults[0].row == 3
    assert caught.value.faults[0].file == "site.toml"


@pytest.mark.parametrize(
    ("text", "found", "next_step"),
    [
        ('nmae = "x"', "nmae", "write 'name'"),
        ("[surveyed]\nradius = 3", "surveyed.radius", "write 'radius_m'"),
        ('[[source]]\nfile = "a"\nacuracy_m = 5', "source 1.acuracy_m", "write 'accuracy_m'"),
        ('[[place]]\nkind = "ash pit"\nbirths = 5', "place 1.births", "write 'births_per_day'"),
        ("[ground]\nsoil = 3", "ground.soil", "remove the key"),
        ("[wind]\nfrm = {}", "wind.frm", "write 'from'"),
        ("[wind]\nfrom = { NXE = 3 }", "wind.from.NXE", "correct"),
        ("[wind]\nfrom = { N = 70, S = 60 }", "130 percent in all", "correct"),
        ("[wind]\nfrom = { N = -1 }", "wind.from.N = -1", "correct"),
        ('[absent]\nwels = "none"', "absent.wels", "well"),
        ("[absent]\nwell = true", "absent.well", "correct"),
        ('[[place]]\nkind = "placnta pit"', "place 1.kind", "placenta pit"),
        ("[[place]]\nbirths_per_day = 3", "place 1.kind", "correct"),
        ('[[place]]\nkind = "ash pit"\nbirths_per_day = 0', "births_per_day = 0", "correct"),
        ('[[place]]\nkind = "ash pit"\npit_m = [1]', "pit_m = [1]", "correct"),
        ('[[place]]\nkind = "ash pit"\norientation_deg = 400', "orientation_deg = 400", "correct"),
        ('[[place]]\nkind = "ash pit"\nkeep_reserve = "yes"', "keep_reserve = 'yes'", "correct"),
        ('[place]\nkind = "ash pit"', "place = ", "correct"),
        ("confidence = 0.5", "confidence = 0.5", "correct"),
        ("confidence = true", "confidence = True", "correct"),
        ("confidence = nan", "confidence = nan", "correct"),
        ('rules = "a"', "rules = 'a'", "correct"),
        ("name = 5", "name = 5", "correct"),
        ('[surveyed]\non = "May"', "surveyed.on = 'May'", "correct"),
        ('[[source]]\nfile = "a"\nkind = "wel"', "source 1.kind", "well"),
        ('[[source]]\nfile = "a"\nkinds = { a = "wel" }', "source 1.kinds.a", "well"),
        ('[[source]]\nfile = "a"\naccuracy_level = 68', "accuracy_level = 68", "correct"),
        ("[[source]]\naccuracy_m = 5", "source 1.file", "correct"),
        ("[ground]\nporosity = 25", "ground.porosity = 25", "correct"),
    ],
)
def test_a_wrong_key_or_value_is_told(text, found, next_step):
    """The fault names the key with its table and, where one is close, the spelling that is known."""
    with pytest.raises(InputError) as caught:
        parsed(text, file="site.toml")

    faults = caught.value.faults
    assert len(faults) == 1
    assert found in faults[0].found
    assert next_step in faults[0].do_next


def test_all_wrong_keys_come_at_once():
    """Three mistakes, three faults."""
    with pytest.raises(InputError) as caught:
        parsed('nmae = "x"\nconfidence = 2\n[wind]\nfrm = 1', file="site.toml")

    assert len(caught.value.faults) == 3


def test_serving_from_nowhere_is_told(folder):
    """A feature to walk from that does not exist cannot be walked from."""
    (folder / "site.toml").write_text(WHOLE.replace('"Delivery room"', '"Labour ward"'))

    with pytest.raises(InputError, match="no feature has that name"):
        read_site(folder)


def test_a_level_far_away_is_told(folder):
    """A swapped coordinate in the levels does not bend the water table."""
    (folder / "levels.csv").write_text("name,lat,lon,level_m\nW1,34.1240013,-13.9870017,101.5\n")

    with pytest.raises(InputError, match="km from the site"):
        read_site(folder)
