"""The command line: exit status, files, and errors in three parts on standard error, never a traceback."""

import json
import re
import sys

import click
import pytest
import yards
from click.testing import CliRunner

from siting import __version__
from siting.cli import COMMANDS, group, main

GOOD_CSV = "lat,lon,kind,name\n-13.9870017,34.1240013,well,W1\n-13.9865023,34.1245021,latrine,L1\n"
THREE = ("compliance.csv", "compliance.xlsx", "results.json")


class Ran:
    """What a run of the command left behind."""

    def __init__(self, status, out, err):
        self.status, self.out, self.err = status, out, err


@pytest.fixture
def siting(monkeypatch, capsys, tmp_path):
    """Run the command as a shell would, in a folder of its own."""
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["siting", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        return Ran(ended.value.code, said.out, said.err)

    return run


def everything(folder):
    """Every file below a folder."""
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def refused(ran, *, saying):
    """A run that ended with status 2 and whole faults of three parts on standard error, and nothing else."""
    assert 2 == ran.status, ran.err
    assert "" == ran.out
    assert "Traceback" not in ran.err
    faults = re.findall(r"^siting: .+\n  needed: .+\n  do next: .+\n", ran.err, re.M)
    assert ran.err == "".join(faults)
    assert re.search(saying, ran.err), ran.err
    return faults


# --- exit status -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "status", "verdict"),
    [
        ("meeting", 0, "meets"),
        ("failing", 1, "fails"),
        ("close", 3, "too close to call"),
        ("unlooked", 3, "not assessed"),
    ],
)
def test_check_ends_with_the_status_of_its_verdict(name, status, verdict, siting, tmp_path):
    """0 everything meets, 1 something fails, 3 too close to call or not assessed; the same word in both places."""
    site = getattr(yards, name)(tmp_path / name)

    ran = siting("check", site, "--no-map", "--out", "out")

    assert status == ran.status
    assert "" == ran.err
    assert ran.out.startswith(f"Yard: {verdict}\n")
    assert verdict == json.loads((tmp_path / "work/out/results.json").read_text("utf-8"))["verdict"]
    assert list(THREE) == everything(tmp_path / "work/out")


@pytest.mark.parametrize(("name", "status"), [("meeting", 0), ("cramped", 1)])
def test_find_ends_with_the_status_of_its_answer(name, status, siting, tmp_path):
    """0 where a place meets everything, 1 where there is none."""
    site = getattr(yards, name)(tmp_path / name)

    ran = siting("find", site, "--for", "placenta pit", "--no-map", "--out", "out")

    assert status == ran.status, ran.err
    assert (status == 1) == ("no place for a placenta pit" in ran.out)


def test_find_takes_what_the_site_asks_for(siting, tmp_path):
    """Without --for the first [[place]] is placed, with the sizes stated there."""
    site = yards.meeting(tmp_path / "a")
    with (site / "site.toml").open("a") as file:
        file.write('[[place]]\nkind = "placenta pit"\npit_diameter_m = 1.2\npit_depth_m = 2.5\n')

    ran = siting("find", site, "--no-map", "--json")
    data = json.loads(ran.out)

    assert 0 == ran.status
    assert 2.5 == data["candidates"][0]["depth_m"]
    assert "placenta pit" == data["feasible"]["for"]


# --- what is written and printed ---------------------------------------------------------------------------------


def test_results_go_to_a_folder_named_like_the_site(siting, tmp_path):
    """`maps/<site name>` below the folder one is in; each path written is told."""
    ran = siting("check", yards.meeting(tmp_path / "a"), "--no-map")

    assert [f"maps/Yard/{name}" for name in THREE] == everything(tmp_path / "work")
    assert [f"wrote maps/Yard/{name}" for name in sorted(THREE)] == sorted(
        line for line in ran.out.splitlines() if line.startswith("wrote ")
    )


def test_a_site_name_cannot_lead_elsewhere(siting, tmp_path):
    """Slashes and dots in a name stay within `maps`."""
    site = yards.write(tmp_path / "a", yards.fence(), yards.well(), yards.latrine(40.0), name="../../up/./..")

    siting("check", site, "--no-map")

    assert 3 == len(everything(tmp_path / "work" / "maps"))
    assert [] == [path for path in everything(tmp_path) if "up" in path and not path.startswith("work/maps")]


def test_json_goes_to_standard_output_and_nothing_to_disk(siting, tmp_path):
    """The results alone, readable by a program; with --out the files as well."""
    site = yards.failing(tmp_path / "a")

    ran = siting("check", site, "--no-map", "--json")
    assert 1 == ran.status
    assert "siting/1" == json.loads(ran.out)["schema"]
    assert [] == everything(tmp_path / "work")

    ran = siting("check", site, "--no-map", "--json", "--out", "out")
    assert (tmp_path / "work/out/results.json").read_text("utf-8") == ran.out


def test_quiet_prints_nothing(siting, tmp_path):
    """Only the status and the files speak."""
    ran = siting("check", yards.failing(tmp_path / "a"), "--no-map", "-q")

    assert (1, "", "") == (ran.status, ran.out, ran.err)
    assert 3 == len(everything(tmp_path / "work"))


def test_verbose_prints_what_meets(siting, tmp_path):
    """The rows that meet are listed when asked for."""
    assert "meets (" in siting("check", yards.meeting(tmp_path / "a"), "--no-map", "-v").out


def test_the_same_input_gives_the_same_files(siting, tmp_path):
    """Two runs, byte for byte."""
    site = yards.meeting(tmp_path / "a")
    for out in ("one", "two"):
        siting("find", site, "--for", "placenta pit", "--no-map", "--out", out)

    one, two = ({name: (tmp_path / "work" / out / name).read_bytes() for name in THREE} for out in ("one", "two"))
    assert one == two


def test_the_rules_named_replace_those_of_the_site(siting, tmp_path):
    """--rules counts before the site's own, may be repeated, and the ground pack stays in force."""
    site = yards.meeting(tmp_path / "a")

    ran = siting("check", site, "--no-map", "--json", "--rules", "ontario-8-2-1-5", "--rules", "el-dorado")

    assert ["ontario-8-2-1-5", "el-dorado", "ground"] == [rule["pack"] for rule in json.loads(ran.out)["rules"]]


def test_a_map_is_written_unless_left_out(siting, tmp_path):
    """One more file, that needs no network to open."""
    pytest.importorskip("siting.outputs.map")

    siting("check", yards.meeting(tmp_path / "a"), "--out", "out")

    assert ["compliance.csv", "compliance.xlsx", "map.html", "results.json"] == everything(tmp_path / "work/out")


# --- input that cannot be used -----------------------------------------------------------------------------------


def geojson(geometry, kind="latrine"):
    """A file of one feature whose geometry is given as text."""
    feature = f'{{"type": "Feature", "properties": {{"kind": "{kind}", "name": "X"}}, "geometry": {geometry}}}'
    return f'{{"type": "FeatureCollection", "features": [{feature}]}}'.encode()


POINT = '{"type": "Point", "coordinates": [34.1, -13.98]}'
RING = "[34.1,-13.98],[34.101,-13.981],[34.101,-13.98],[34.1,-13.981],[34.1,-13.98]"
BOW_TIE = f'{{"type": "Polygon", "coordinates": [[{RING}]]}}'
BAD_FILES = [
    # name, bytes, words of the message
    ("empty.csv", b"", "the file is empty"),
    ("empty.geojson", b"  \n", "the file is empty"),
    ("table.xlsx", b"lat,lon\n1,2\n", "named .xlsx but the content is plain text"),
    ("track.gpx", b"<kml></kml>", "XML with the root element 'kml'"),
    ("picture.csv", b"\x89PNG\r\n\x1a\n\0\0", "binary and unknown"),
    ("plan.docx", b"PK\x03\x04", "extension '.docx' is not known"),
    ("cut.geojson", geojson(POINT)[:80], r"not JSON: .+ at line 1, column"),
    ("cut.csv", b'lat,lon,kind,name\n-13.98,34.1,well,"W1\n', "breaks off"),
    ("cut.xlsx", b"PK\x03\x04\x14\x00\x00", "cut.xlsx"),
    ("cut.gpx", b'<?xml version="1.0"?><gpx version="1.1"><wpt lat="-13.98" lon="34.1">', "cut.gpx"),
    ("latin.geojson", geojson(POINT, "caf\u00e9").decode().encode("latin-1"), "not UTF-8"),
    ("nan.geojson", geojson('{"type": "Point", "coordinates": [34.1, NaN]}'), "is not finite"),
    ("null.geojson", geojson("null"), "feature 1 cannot be used: it is null"),
    ("nan.csv", b"lat,lon,kind,name\nNaN,34.1,well,W1\n", "nan.csv, row 2"),
    ("blank.csv", b"lat,lon,kind,name\n,34.1,well,W1\n", "blank.csv, row 2"),
    ("bow.geojson", geojson(BOW_TIE, "boundary"), "crosses itself at latitude"),
    ("pole.csv", b"lat,lon,kind,name\n95,34.1,well,W1\n", r"pole.csv, row 2: .+latitude 95"),
    ("swapped.csv", b"lat,lon,kind,name\n134.1,-13.98,well,W1\n", "exchanged they would fit"),
    ("none.geojson", b'{"type": "FeatureCollection", "features": []}', "no features"),
    ("heading.csv", b"lat,lon,kind,name\n", "heading.csv: no "),
    ("array.geojson", b"[1, 2]", "JSON without a type"),
]  # fmt: skip


@pytest.mark.parametrize("command", ["check", "find"])
@pytest.mark.parametrize(("name", "data", "saying"), BAD_FILES, ids=[row[0] for row in BAD_FILES])
def test_a_file_that_cannot_be_used(command, name, data, saying, siting, tmp_path):
    """Named with its row, in three parts, status 2, and nothing is written."""
    (tmp_path / name).write_bytes(data)

    ran = siting(command, tmp_path / name, "--no-map", *(("--for", "placenta pit") if command == "find" else ()))

    refused(ran, saying=saying)
    assert name in ran.err
    assert [] == everything(tmp_path / "work")


def test_every_fault_of_a_sheet_is_told_at_once(siting, tmp_path):
    """Two bad rows are two faults, each with its row."""
    (tmp_path / "a.csv").write_text(GOOD_CSV + "95,34.1,well,W2\n-13.98,none,well,W3\n")

    faults = refused(siting("check", tmp_path / "a.csv", "--no-map"), saying="latitude 95")

    assert ["a.csv, row 4", "a.csv, row 5"] == [re.search(r"a\.csv, row \d+", fault)[0] for fault in faults]


def test_a_file_that_is_not_there(siting, tmp_path):
    """A mistyped path is named."""
    refused(siting("check", "pionts.csv", "--no-map"), saying="no file or folder 'pionts.csv'")


def test_a_folder_without_a_site_file(siting, tmp_path):
    """The next step is the command that makes one."""
    (tmp_path / "a").mkdir()

    refused(siting("check", tmp_path / "a", "--no-map"), saying="siting new a")


@pytest.mark.parametrize(
    ("line", "saying"),
    [
        ("name = Yard", r"site.toml, row 1: not TOML: .+line 1"),
        ('name = "Yard"\nconfidence = 95', r"site.toml: confidence = 95\n  needed: a number above 0.5 and below 1"),
        ('nmae = "Yard"', r"nmae = 'Yard'\n.+\n  do next: write 'name'"),
        ('rules = ["health-care-wast"]', r"unknown pack 'health-care-wast'\n.+\n.+did you mean 'health-care-waste'"),
        ('rules = ["nowhere.toml"]', r"pack 'nowhere.toml' cannot be read"),
        ('[[place]]\nkind = "placneta pit"', r"placneta pit.+\n.+\n  do next: write one of placenta pit"),
        ("[surveyed]\non = 14.05.2026", r"not TOML: .+line 2"),
    ],
)  # fmt: skip
def test_a_site_file_that_cannot_be_used(line, saying, siting, tmp_path):
    """A broken line is told with its number, a wrong key or word with the nearest right one."""
    (tmp_path / "points.csv").write_text(GOOD_CSV)
    (tmp_path / "site.toml").write_text(line)

    refused(siting("check", tmp_path, "--no-map"), saying=saying)
    assert [] == everything(tmp_path / "work")


@pytest.mark.parametrize(
    ("text", "saying"),
    [
        ("[[rule]\n", r"code.toml: not TOML: .+line 1"),
        (yards.CODE.replace("at_least_m", "atleast_m"), r"'atleast_m'\n"),
        (yards.CODE.replace('from = ["well"]', 'from = ["wel"]'), r"did you mean 'well'"),
        (yards.CODE.replace('document = "code"', 'document = "cod"'), r"cod"),
        (yards.CODE.replace('id = "yard-code"\n', ""), r"no 'id'"),
    ],
)
def test_a_pack_that_does_not_load(text, saying, siting, tmp_path):
    """The fault names the file and the nearest spelling."""
    site = yards.meeting(tmp_path / "a")
    (site / "code.toml").write_text(text)

    ran = siting("check", site, "--no-map", "--rules", "code.toml")

    refused(ran, saying=saying)
    assert "code.toml" in ran.err
    assert [] == everything(tmp_path / "work")


def test_find_needs_a_boundary_and_check_does_not(siting, tmp_path):
    """Without a fence there is no ground to look in; what stands can be checked all the same."""
    site = yards.write(tmp_path / "a", yards.well(), yards.latrine(40.0))

    refused(siting("find", site, "--for", "placenta pit", "--no-map"), saying="no boundary is drawn")
    assert [] == everything(tmp_path / "work")
    assert siting("check", site, "--no-map").status in (0, 3)


@pytest.mark.parametrize(
    ("arguments", "saying"),
    [
        ((), r"nothing is wanted\n.+\n  do next: add --for"),
        (("--for", "placneta pit"), r"did you mean 'placenta pit'"),
        (("--for", "xyzzy"), r"not a kind that can be placed"),
    ],
)
def test_find_needs_to_know_what_is_wanted(arguments, saying, siting, tmp_path):
    """Nothing wanted, and a word nobody knows, are told with the way out."""
    refused(siting("find", yards.meeting(tmp_path / "a"), "--no-map", *arguments), saying=saying)


@pytest.mark.parametrize("kind", ["ward", "boundary", "stream"])
def test_only_what_can_be_placed_is_looked_for(kind, siting, tmp_path):
    """A ward is a kind, but nothing this program places."""
    refused(siting("find", yards.meeting(tmp_path / "a"), "--no-map", "--for", kind), saying=kind)


# --- where results go --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", [("check",), ("find", "--for", "placenta pit")])
def test_results_in_the_way_stay_as_they_are(command, siting, tmp_path):
    """An earlier run is not replaced without leave; with leave it is."""
    site = yards.meeting(tmp_path / "a")
    out = tmp_path / "work" / "out"
    out.mkdir()
    (out / "results.json").write_text("mine")

    refused(siting(*command, site, "--no-map", "--out", out), saying="already holds results.json\n.+\n.+--overwrite")
    assert "mine" == (out / "results.json").read_text()
    assert ["results.json"] == everything(out)

    assert 0 == siting(*command, site, "--no-map", "--out", out, "--overwrite").status
    assert list(THREE) == everything(out)


def test_a_folder_that_cannot_be_made(siting, tmp_path):
    """A file stands where the folder would be: three parts, and the file stays."""
    (tmp_path / "work" / "maps").write_text("mine")

    refused(siting("check", yards.meeting(tmp_path / "a"), "--no-map"), saying="cannot be written")

    assert ["maps"] == everything(tmp_path / "work")


def test_a_name_no_disk_takes(siting, tmp_path):
    """A facility's name may be longer than a folder's."""
    site = yards.write(tmp_path / "a", yards.fence(), yards.well(), yards.latrine(40.0), name="M" * 300)

    refused(siting("check", site, "--no-map"), saying="cannot be written: File name too long")


# --- the other commands ------------------------------------------------------------------------------------------


def test_a_new_folder_can_be_filled_in_and_checked(siting, tmp_path):
    """The name comes from the folder; with points in the table it is a site."""
    ran = siting("new", "hill-clinic")
    assert 0 == ran.status
    assert ["hill-clinic/points.csv", "hill-clinic/site.toml"] == everything(tmp_path / "work")

    with open("hill-clinic/points.csv", "a") as table:
        table.write("well,W1,-13.987001,34.124001,5,0.6,,,\n")
    ran = siting("check", "hill-clinic", "--no-map")
    assert "" == ran.err
    assert ran.out.startswith("Hill Clinic: ")


def test_a_new_folder_replaces_nothing(siting, tmp_path):
    """Files of a site that is there stay."""
    site = yards.meeting(tmp_path / "a")
    before = (site / "site.toml").read_bytes()

    refused(siting("new", site), saying="already holds site.toml")
    assert before == (site / "site.toml").read_bytes()


def test_rules_are_listed_and_printed_with_their_citations(siting):
    """The list names every pack; one pack prints its documents, how they were read, and each limit."""
    from siting.io.packs import names

    listed, printed = siting("rules").out, siting("rules", "ontario-8-2-1-5").out

    assert [] == [name for name in names() if name not in listed]
    assert "Ontario Building Code" in printed
    assert "[seen]" in printed
    assert 0 == siting("rules", "--compare", "ontario-8-2-1-5", "el-dorado").status
    assert re.search(r"^placenta pit +.*installation", siting("rules", "--kinds").out, re.M)


def test_a_pack_nobody_knows(siting):
    """The nearest name is proposed."""
    refused(siting("rules", "ontari-8-2-1-5"), saying="did you mean 'ontario-8-2-1-5'")


# --- help --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    """One sentence, every option described, one line to copy."""
    run = CliRunner().invoke(group, [name, "--help"])
    command = group.get_command(click.Context(group), name)

    assert 0 == run.exit_code
    assert f"siting {name} " in run.output.split("Example:")[1].replace("\n", " ")
    options = [p for p in command.params if isinstance(p, click.Option) and p.name != "help"]
    assert [] == [option.name for option in options if not option.help]


def test_help_and_version(siting):
    """All commands are listed; the version is that of the package."""
    ran = siting("--help")

    assert 0 == ran.status
    assert [] == [name for name in COMMANDS if f"\n  {name} " not in ran.out]
    assert __version__ in siting("--version").out


@pytest.mark.parametrize(
    "arguments", [("chekc",), ("check",), ("check", "a", "--nonsense"), ("find", "a", "--places", "0")]
)
def test_a_command_line_that_cannot_be_is_status_2(arguments, siting):
    """An unknown command, a missing site, an unknown option, a value out of range."""
    ran = siting(*arguments)

    assert 2 == ran.status
    assert "Error: " in ran.err
    assert "Traceback" not in ran.err
