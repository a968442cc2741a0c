"""What the terminal shows, and the exit status that goes with it."""

import re
from dataclasses import replace

import pytest
import yards
from hypothesis import given
from hypothesis import strategies as st

from siting.outputs.summary import exit_status, text
from siting.site import Notice
from siting.uncertainty import Verdict

CENTIMETRE_M = 0.01
HAIR_M = 1e-8


@pytest.fixture(scope="module")
def assessed(tmp_path_factory):
    """Assess a yard of the collection by its name, each once."""
    made = {}

    def of(name, *, kind=None):
        if (name, kind) not in made:
            folder = getattr(yards, name)(tmp_path_factory.mktemp(name))
            made[name, kind] = yards.assessed(folder, kind=kind)
        return made[name, kind]

    return of


@pytest.mark.parametrize(
    ("name", "verdict", "status"),
    [
        ("meeting", Verdict.MEETS, 0),
        ("failing", Verdict.FAILS, 1),
        ("close", Verdict.TOO_CLOSE, 3),
        ("unlooked", Verdict.NOT_ASSESSED, 3),
    ],
)
def test_the_answer_comes_first_and_is_the_exit_status(name, verdict, status, assessed):
    """The first line names the site and its verdict; 0, 1 and 3 follow from it."""
    assessment = assessed(name)

    assert f"Yard: {verdict}" == text(assessment, verbose=False).splitlines()[0]
    assert status == exit_status(assessment)


def test_what_fails_is_named_with_its_distance_and_its_way_out(assessed):
    """Installation, feature, distance, limit, rule with its pack, and how much farther it must stand."""
    shown = text(assessed("failing"), verbose=False)

    assert "fails (1):" in shown
    assert re.search(
        r"Latrine / Well: (20\.00|19\.99) m, at least 30 m \[yard-code/latrine-to-well\]\n"
        r"    must stand (10\.00|10\.01) m farther from Well",
        shown,
    )


def test_what_is_too_close_to_call_says_what_to_tape(assessed):
    """The row names both ends and the reading that settles it."""
    shown = text(assessed("close"), verbose=False)

    assert "too close to call (1):" in shown
    assert "tape Latrine to Well, nearest edges (about 3" in shown


def test_what_nobody_looked_at_says_what_to_look_for_and_how_far(assessed):
    """A rule without a feature sends somebody out, once however many rows ask for it."""
    lines = text(assessed("unlooked"), verbose=False).splitlines()

    assert "not assessed (1 rows):" in lines
    assert 1 == lines.count("  look for well within 30 m")


def test_only_a_verbose_summary_lists_what_meets(assessed):
    """Every row and what was assumed of the files, when asked for."""
    short, long = (text(assessed("meeting"), verbose=verbose) for verbose in (False, True))

    assert "meets (" not in short
    assert "meets (2):" in long
    assert "Latrine / Well: " in long
    assert "yard.geojson: crs not stated: taken as WGS 84" in long


def test_advice_not_kept_is_counted_and_decides_nothing(assessed):
    """A should that fails leaves the verdict alone."""
    assessment = assessed("failing")
    rows = tuple(replace(s, verdict=Verdict.FAILS if not s.is_must else Verdict.MEETS) for s in assessment.separations)
    advised = sum(not s.is_must for s in rows)

    shown = text(replace(assessment, separations=rows), verbose=False)

    assert advised > 0
    assert f"{advised} advisory distances are not kept" in shown
    assert 0 == exit_status(replace(assessment, separations=rows))


def test_places_are_listed_with_margin_and_proof(assessed):
    """One line a place, in degrees, with its margin never above its bound; the ground that is left above them."""
    shown = text(assessed("meeting", kind="placenta pit"), verbose=False)

    assert re.search(r"ground left for a placenta pit: \d+ m2, \d+ m2 of it at the confidence asked for", shown)
    found = re.findall(r"^  ([AB])  (-\d+\.\d{6}), (\d+\.\d{6})  margin (\S+) m \(proved bound (\S+) m\)", shown, re.M)
    assert ["A", "B"] == [row[0] for row in found]
    for _, lat, lon, margin, bound in found:
        assert -13.98 <= float(lat) <= -13.979
        assert 34.1 <= float(lon) <= 34.101
        assert float(margin) <= float(bound)


def test_no_place_is_told_with_its_shortfall_and_what_stands_against_it(assessed):
    """How short the best compromise is, that nothing is better, and the requirements that cannot hold together."""
    assessment = assessed("cramped", kind="placenta pit")
    shown = text(assessment, verbose=False)

    short_m, proved_m = map(
        float, re.search(r"is (\S+) m short \(proved: nowhere is better than (\S+) m short\)", shown).groups()
    )
    assert proved_m <= short_m
    assert assessment.finding.conflict.shortfall_m <= short_m + HAIR_M
    assert "latrine-to-well (Well)" in shown
    assert 1 == exit_status(assessment)


def test_many_rows_are_cut_short_and_counted(assessed):
    """Eight are shown; the rest is counted, with the way to see it."""
    one = next(s for s in assessed("failing").separations if s.verdict is Verdict.FAILS)
    many = replace(assessed("failing"), separations=tuple(replace(one, installation=f"L{n}") for n in range(11)))

    assert "and 3 more (-v shows all)" in text(many, verbose=False)
    assert "L10 / Well" not in text(many, verbose=False)
    assert "L10 / Well" in text(many, verbose=True)


def test_notices_of_the_site_are_shown(assessed):
    """What a reader has to know reaches the terminal."""
    site = assessed("meeting").site
    told = replace(site, notices=(Notice(code="x", message="two wells share one name"),))

    assert "note: two wells share one name" in text(replace(assessed("meeting"), site=told), verbose=False)


def test_it_ends_by_leaving_the_decision_to_others(assessed):
    """The local code and licensed practice decide."""
    assert "local code and licensed practice decide" in text(assessed("meeting"), verbose=False).splitlines()[-1]


@given(value=st.floats(0.0, 1e4))
def test_rounding_never_flatters(assessed, value):
    """A least distance is cut down and a greatest one rounded up, as in the table."""
    rows = {s.limit.relation: s for s in assessed("failing").separations if s.rule.id == "latrine-to-ward"}
    must = next(s for s in assessed("failing").separations if s.rule.id == "latrine-to-well")

    for relation, row in rows.items():
        failing = replace(row, rule=must.rule, value=value, verdict=Verdict.FAILS, installation="X")
        shown = text(replace(assessed("failing"), separations=(failing,)), verbose=False)
        printed = float(re.search(r"  X / Ward: (\S+) m", shown)[1])
        low, high = (-CENTIMETRE_M, HAIR_M) if relation == "at_least" else (-HAIR_M, CENTIMETRE_M)
        assert value + low <= printed <= value + high
