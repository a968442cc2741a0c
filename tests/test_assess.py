"""One site, from files to answers: placing, reserves, conflicts, and doubtful input refused at the command line."""

import re
import sys

import numpy as np
import pytest
import shapely
import yards
from conftest import WORDS, feature, pack, plot, site

from siting.assess import assess
from siting.cli import main
from siting.errors import InputError, NoPlaceError
from siting.site import Ground, Request
from siting.sizes import size
from siting.uncertainty import Verdict

ON_THE_LAND = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
OFF_WELLS = 'id = "well"\nfor = ["pit"]\nfrom = ["well"]\nat_least_m = 20'
APART = 'id = "apart"\nfor = ["pit"]\nfrom = ["pit"]\nat_least_m = 6'
ROUNDING_M = 1e-6


def _found(of, *rules, **wanted):
    request = Request(kind="placenta pit", **wanted)
    return assess(of, (pack(*rules),), WORDS, request=request, size=size(request), count=3)


def _plot(width_m=60.0, height_m=40.0, *more, **about):
    return site(plot(shapely.box(0.0, 0.0, width_m, height_m)), *more, **about)


def test_what_stands_is_checked_without_a_boundary():
    """A check needs no land; a place does."""
    open_ground = site(feature("well", "Well", (0.0, 0.0)), feature("pit latrine", "Latrine", (10.0, 0.0)))
    checked = assess(open_ground, (pack(OFF_WELLS),), WORDS)

    assert Verdict.FAILS is checked.verdict
    assert [("Latrine", "Well", 10.0)] == [(r.installation, r.feature, r.value) for r in checked.separations]
    assert () == checked.mendings
    with pytest.raises(NoPlaceError) as error:
        _found(open_ground, OFF_WELLS)
    assert "draw" in error.value.faults[0].do_next or "boundary" in error.value.faults[0].do_next


def test_every_place_on_the_list_is_judged_and_the_first_decides():
    """Each candidate carries the rows of its own place."""
    found = _found(_plot(60.0, 40.0, feature("well", "Well", (0.0, 0.0))), ON_THE_LAND, OFF_WELLS)

    assert found.finding.conflict is None
    assert found.verdict is found.finding.placed[0].verdict is Verdict.MEETS
    for placed in found.finding.placed:
        assert placed.candidate.margin_m == pytest.approx(min(r.margin for r in placed.separations), abs=ROUNDING_M)


def test_a_standing_pit_that_fails_is_told_where_it_would_meet():
    """A latrine 10 m east of a well fails; 10 m farther from it there is the nearest place."""
    of = _plot(60.0, 40.0, feature("well", "Well", (20.0, 20.0)), feature("pit latrine", "L", (30.0, 20.0)))
    (mending,) = assess(of, (pack(OFF_WELLS, ON_THE_LAND),), WORDS).mendings

    assert "L" == mending.installation
    assert 10.0 == pytest.approx(mending.moved_m, abs=0.02)
    # The ground is drawn with straight edges round the well, so the nearest point is the middle of one of them.
    assert 90.0 == pytest.approx(mending.bearing_deg, abs=1.5)


def test_a_neighbours_failing_pit_is_not_moved_about():
    """What stands beyond the boundary is judged and not mended."""
    of = _plot(20.0, 20.0, feature("well", "Well", (10.0, 10.0)), feature("pit latrine", "L", (25.0, 10.0)))
    checked = assess(of, (pack(OFF_WELLS),), WORDS)

    assert Verdict.FAILS is checked.verdict
    assert () == checked.mendings


def test_a_reserve_is_shown_with_every_place():
    """The successor keeps every rule with the first one standing: 6 m between the two pits."""
    found = _found(_plot(), ON_THE_LAND, APART, keep_reserve=True)

    assert found.finding.placed
    for placed in found.finding.placed:
        between = np.hypot(placed.reserve.x_m - placed.candidate.x_m, placed.reserve.y_m - placed.candidate.y_m)
        assert between >= 6.0 + 2.0 * 0.73 - ROUNDING_M


def test_no_room_for_the_successor_is_a_conflict():
    """On 6 m by 5 m one pit has room and a second one 6 m from it has none."""
    alone, with_reserve = (
        _found(_plot(6.0, 5.0), ON_THE_LAND, APART, keep_reserve=keep, enclosure_m=(3.0, 3.0)) for keep in (False, True)
    )

    assert alone.finding.placed
    assert () == with_reserve.finding.placed
    assert Verdict.FAILS is with_reserve.verdict
    assert "code/apart" in {r.rule.full_id for r in with_reserve.finding.conflict.requirements}


def test_water_too_near_is_a_conflict_and_other_pits_are_offered():
    """The same everywhere: 3.5 m of pit over water at 4 m keep 0.5 m of the 1.5 m asked; 2.5 m of depth are left."""
    rule = 'id = "water"\nfor = ["pit"]\nmeasure = "above water table"\nat_least_m = 1.5'
    found = _found(_plot(ground=Ground(highest_water_depth_m=4.0)), ON_THE_LAND, rule, births_per_day=6)

    assert () == found.finding.placed
    assert Verdict.FAILS is found.verdict
    assert ["code/water"] == [r.rule.full_id for r in found.finding.conflict.requirements]
    assert found.finding.alternatives
    assert all(a.depth_m <= 2.5 + ROUNDING_M for a in found.finding.alternatives)
    assert any(a.fits for a in found.finding.alternatives)


def test_serving_from_nobody_is_told():
    """A name that no feature has is refused with those that there are."""
    with pytest.raises(InputError) as error:
        _found(_plot(), ON_THE_LAND, serve_from="Delivery")

    assert "serve_from = 'Delivery'" in error.value.faults[0].found
    assert "Plot" in error.value.faults[0].do_next


# --- doubtful input, through the command -----------------------------------------------------------------------------

GROUND = "[ground]\n"
PIT = '[[place]]\nkind = "placenta pit"\n'
ALL_ROUND = "[wind]\nfrom = { N = %g, NE = 20, E = 40, SE = 25, S = 5, SW = 2, W = 2, NW = 1 }\n"
HEIGHTS = ((0, 0, 100.0), (100, 0, 101.0), (0, 80, 100.5), (100, 80, 101.5))
HIGH_UP = tuple((x, y, z + 1100.0) for x, y, z in HEIGHTS)
FOOT_M = 0.3048
"By definition."


def _points(path, rows, heading):
    """A table of levels or heights at places on the plane of the yard."""
    degrees = yards.CENTRE.to_world(np.array([row[:2] for row in rows], dtype=float))
    lines = [
        f"P{n},{lat:.8f},{lon:.8f},{row[2]}" for n, ((lon, lat), row) in enumerate(zip(degrees, rows, strict=True))
    ]
    path.write_text("\n".join([f"name,lat,lon,{heading}", *lines]) + "\n", encoding="utf-8")


def _in_feet(rows):
    return tuple((x, y, round(z / FOOT_M, 2)) for x, y, z in rows)


LEVELS = ((10, 10, 1195.0), (90, 10, 1195.4), (10, 70, 1194.8))

DOUBTFUL = {
    "three wells in a line": (
        GROUND + 'levels = "levels.csv"\n', ((0, 0, 95), (50, 0, 95.5), (100, 0.1, 96)), None,
        r"the 3 wells lie within a strip 100\.0 m long", r"add a level at least 5\.0 m to the side of that line",
    ),
    "two wells": (
        GROUND + 'levels = "levels.csv"\n', ((0, 0, 95), (50, 0, 95.5)), None,
        "levels of 2 wells", "measure a third one",
    ),
    "levels in feet": (
        GROUND + 'levels = "levels.csv"\nspot_heights = "heights.csv"\n', _in_feet(LEVELS), HIGH_UP,
        "the levels are in feet", r"write the levels in metres \(feet times 0\.3048\)",
    ),
    "levels in metres, heights in feet": (
        GROUND + 'levels = "levels.csv"\nspot_heights = "heights.csv"\n', LEVELS, _in_feet(HIGH_UP),
        "the spot heights are in feet", r"write the spot heights in metres",
    ),
    "water above the ground": (
        GROUND + 'levels = "levels.csv"\nspot_heights = "heights.csv"\n',
        ((0, 0, 95), (50, 0, 103), (100, 50, 96)), HEIGHTS,
        r"the water in P1 stands at 103 m, 2\.5 m above the ground", "correct the level or the spot heights",
    ),
    "depths for levels": (
        GROUND + 'levels = "levels.csv"\nspot_heights = "heights.csv"\n',
        ((10, 10, 6.0), (90, 10, 5.6), (10, 70, 6.2)), HIGH_UP,
        "depths below the ground, not levels", "ground height less depth",
    ),
    "porosity in percent": (
        GROUND + "porosity = 30\nconductivity_m_per_day = 5\n", None, None,
        r"ground\.porosity = 30\n", r"did you mean 0\.3 as a share of 1, if it was typed in percent",
    ),
    "conductivity in m/s": (
        GROUND + "porosity = 0.3\nconductivity_m_per_day = 2e-5\n", None, None,
        r"ground\.conductivity_m_per_day = 2e-05\n",
        r"1\.728 m/day, if it was typed in m/s; or 0\.01728 m/day, if it was typed in cm/s",
    ),
    "negative depth to water": (
        GROUND + "highest_water_depth_m = -1\n", None, None,
        r"ground\.highest_water_depth_m = -1\n", "correct the value",
    ),
    "no births": (PIT + "births_per_day = 0\n", None, None, r"place 1\.births_per_day = 0\n", "correct the value"),
    "births of a year": (
        PIT + "births_per_day = 4000\n", None, None,
        r"place 1\.births_per_day = 4000\n", r"10\.95 births a day, if it was counted by the year",
    ),
    "negative pit": (PIT + "pit_depth_m = -3\n", None, None, r"place 1\.pit_depth_m = -3\n", "correct the value"),
    "a pit of 200 m": (
        PIT + "pit_depth_m = 200\n", None, None,
        r"place 1\.pit_depth_m = 200\n", "did you mean 2 m, if it was typed in centimetres",
    ),
    "a wall of 2.2 mm": (
        PIT + "wall_m = 0.0022\n", None, None,
        r"place 1\.wall_m = 0\.0022\n", r"did you mean 0\.22 m \(220 mm\), if the decimal point slipped",
    ),
    "a vent pipe of 4 mm": (
        PIT + "[place.attributes]\nvent_pipe_m = 0.004\n", None, None,
        r"place 1\.attributes\.vent_pipe_m = 0\.004\n",
        r"did you mean 0\.1016 m \(101\.6 mm\), if inches were read as millimetres",
    ),
    "a trench in millimetres": (
        PIT + "pit_m = [2000, 1500]\n", None, None,
        r"place 1\.pit_m = \[2000, 1500\]\n", "did you mean 2 m, if it was typed in millimetres",
    ),
    "wind over 100": (ALL_ROUND % 25, None, None, "120 percent in all", "correct the value"),
    "wind under 100": (
        "[wind]\nfrom = { N = 5, NE = 20, E = 20, SE = 25, S = 5, SW = 2, W = 2, NW = 1 }\n", None, None,
        "add up to 80 percent", "if it is calm for the other 20 percent, write calm = 20",
    ),
    "wind as shares": (
        "[wind]\nfrom = { N = 0.05, NE = 0.2, E = 0.4, SE = 0.25, S = 0.05, SW = 0.02, W = 0.02, NW = 0.01 }\n",
        None, None, "add up to 1 percent", "these look like shares of 1: multiply them by 100",
    ),
}  # fmt: skip


def _ran(monkeypatch, capsys, *arguments):
    monkeypatch.setattr(sys, "argv", ["siting", *map(str, arguments)])
    with pytest.raises(SystemExit) as ended:
        main()
    said = capsys.readouterr()
    return ended.value.code, said.out, said.err


def _folder(tmp_path, said, levels, heights):
    folder = yards.write(tmp_path / "yard", yards.fence(), yards.well())
    with (folder / "site.toml").open("a") as file:
        file.write(said)
    if levels:
        _points(folder / "levels.csv", levels, "level_m")
    if heights:
        _points(folder / "heights.csv", heights, "height_m")
    return folder


@pytest.mark.parametrize("command", [("check",), ("find", "--for", "placenta pit")], ids=["check", "find"])
@pytest.mark.parametrize("case", DOUBTFUL)
def test_doubtful_input_stops_with_the_plausible_reading(case, command, tmp_path, monkeypatch, capsys):
    """Status 2, found, needed and do next on standard error, no table and no file."""
    said, levels, heights, found, reading = DOUBTFUL[case]
    folder, out = _folder(tmp_path, said, levels, heights), tmp_path / "out"
    status, printed, err = _ran(monkeypatch, capsys, command[0], folder, *command[1:], "--out", out)

    assert 2 == status, err
    assert "" == printed
    assert not out.exists()
    assert err == "".join(re.findall(r"^siting: .+\n  needed: .+\n  do next: .+\n", err, re.M))
    assert re.search(found, err), err
    assert re.search(reading, err), err


def test_the_same_site_in_the_right_units_is_answered(tmp_path, monkeypatch, capsys):
    """What is refused above is refused for its numbers, not for its shape."""
    said = (
        GROUND + 'levels = "levels.csv"\nspot_heights = "heights.csv"\nporosity = 0.3\nconductivity_m_per_day = 5\n'
        'levels_season = "highest"\n' + ALL_ROUND % 5
        + PIT + "births_per_day = 2\nwall_m = 0.22\n[place.attributes]\nvent_pipe_m = 0.1\n"
    )  # fmt: skip
    folder = _folder(tmp_path, said, LEVELS, HIGH_UP)
    status, printed, err = _ran(
        monkeypatch, capsys, "find", folder, "--for", "placenta pit", "--out", tmp_path / "out", "--no-map"
    )

    assert "" == err
    assert status in (0, 3), printed
