"""`results.json` keeps its contract: every key, its type, the same bytes, and rounding that flatters nobody."""

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import replace
from math import floor

import numpy as np
import pytest
import yards
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Point, box

from siting.frame import Frame
from siting.outputs.results import as_json, results, separation_row
from siting.separations import floored

MILLIMETRE_M = 1e-3
HAIR_M = 1e-8
"What a double may be off by when it is cut to a millimetre."

NUMBER, TEXT = (int, float), str
OPTIONAL_NUMBER = (int, float, type(None))
LONLAT = [NUMBER, NUMBER]

SEPARATION = {
    "rule": TEXT, "pack": TEXT, "installation": TEXT, "feature": TEXT, "measure": TEXT,
    "distance_m": OPTIONAL_NUMBER, "required_m": OPTIONAL_NUMBER, "margin_m": OPTIONAL_NUMBER, "sigma_m": NUMBER,
    "probability": NUMBER, "verdict": TEXT, "strength": TEXT, "because": TEXT, "action": TEXT, "citation": TEXT,
    "from": (list, type(None)), "to": (list, type(None)), "bearing_deg": OPTIONAL_NUMBER,
    "value": NUMBER, "limit": NUMBER, "unit": TEXT,
}  # fmt: skip
GEOMETRY = {"type": TEXT, "coordinates": list}
CANDIDATE = {
    "name": TEXT, "lon": NUMBER, "lat": NUMBER, "orientation_deg": NUMBER, "margin_m": NUMBER, "bound_m": NUMBER,
    "probability": NUMBER, "walk_m": OPTIONAL_NUMBER, "binding": {"rule": TEXT, "feature": TEXT}, "pit": GEOMETRY,
    "enclosure": GEOMETRY, "depth_m": OPTIONAL_NUMBER, "separations": [SEPARATION, ...],
}  # fmt: skip
CONTRACT = {
    "schema": TEXT,
    "site": {"name": TEXT, "centre": LONLAT, "frame": TEXT, "features": int, "by_kind": dict},
    "rules": [{"pack": TEXT, "title": TEXT, "edition": TEXT, "sha256": TEXT}, ...],
    "confidence": NUMBER,
    "inputs": [{"file": TEXT, "sha256": TEXT, "features": int, "notes": [TEXT, ...]}, ...],
    "warnings": [{"code": TEXT, "message": TEXT, "file": (str, type(None)), "row": (int, type(None))}, ...],
    "separations": [SEPARATION, ...],
    "not_assessed": [
        {
            "rule": TEXT,
            "pack": TEXT,
            "installation": TEXT,
            "reason": TEXT,
            "look_for": TEXT,
            "radius_m": OPTIONAL_NUMBER,
        },
        ...,
    ],
    "feasible": (dict, type(None)),
    "candidates": [CANDIDATE, ...],
    "conflict": (dict, type(None)),
    "verdict": TEXT,
    "cautions": [TEXT, ...],
}
FEASIBLE = {"area_m2": NUMBER, "area_confident_m2": NUMBER, "geometry": GEOMETRY, "geometry_confident": GEOMETRY}
CONFLICT = {"shortfall_m": NUMBER, "best": LONLAT, "requirements": list, "ways_out": list}
VERDICTS = {"meets", "fails", "too close to call", "not assessed"}


def breaches(value, shape, where="results"):
    """Every place where a value is not of the shape agreed; keys beyond the contract are allowed."""
    if isinstance(shape, dict):
        if not isinstance(value, dict):
            return [f"{where} is no object"]
        missing = [f"{where}.{key} is missing" for key in shape if key not in value]
        held = [breaches(value[key], inner, f"{where}.{key}") for key, inner in shape.items() if key in value]
        return missing + [breach for inner in held for breach in inner]
    if isinstance(shape, list):
        if not isinstance(value, list):
            return [f"{where} is no list"]
        inner = [shape[0]] * len(value) if shape[-1] is ... else shape
        if len(inner) != len(value):
            return [f"{where} has {len(value)} members"]
        return [b for n, (v, s) in enumerate(zip(value, inner, strict=True)) for b in breaches(v, s, f"{where}[{n}]")]
    fits = isinstance(value, shape) and (not isinstance(value, bool) or shape is bool)
    return [] if fits else [f"{where} is {value!r}"]


def written(assessment):
    """What a program reads back from the text."""
    return json.loads(as_json(results(assessment)))


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    """A yard with a latrine too near its well."""
    return yards.assessed(yards.failing(tmp_path_factory.mktemp("failing")))


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """A yard with room for a pit."""
    return yards.assessed(yards.meeting(tmp_path_factory.mktemp("meeting")), kind="placenta pit")


@pytest.fixture(scope="module")
def stuck(tmp_path_factory):
    """A yard with no room for a pit."""
    return yards.assessed(yards.cramped(tmp_path_factory.mktemp("cramped")), kind="placenta pit")


@pytest.mark.parametrize("which", ["checked", "found", "stuck"])
def test_every_key_of_the_contract_is_there_with_its_type(which, request):
    """Whatever the answer is, a program finds what it was promised."""
    data = written(request.getfixturevalue(which))

    assert [] == breaches(data, CONTRACT)
    assert "siting/1" == data["schema"]
    assert {data["verdict"], *(row["verdict"] for row in data["separations"])} <= VERDICTS


def test_a_check_has_nothing_of_a_find(checked):
    """No ground, no candidates, no conflict where nothing was wanted."""
    data = written(checked)

    assert data["feasible"] is None
    assert data["conflict"] is None
    assert [] == data["candidates"]
    assert "fails" == data["verdict"]


def test_a_find_shows_its_ground_and_its_places(found):
    """Areas, two multipolygons and candidates in order, each with the verdict of its own rows."""
    data = written(found)

    assert [] == breaches(data["feasible"], FEASIBLE)
    assert {"MultiPolygon"} == {data["feasible"][key]["type"] for key in ("geometry", "geometry_confident")}
    assert 0.0 < data["feasible"]["area_confident_m2"] <= data["feasible"]["area_m2"] <= 8000.0
    assert ["A", "B"] == [c["name"] for c in data["candidates"]]
    margins = [c["margin_m"] for c in data["candidates"]]
    assert sorted(margins, reverse=True) == margins
    for c in data["candidates"]:
        assert c["margin_m"] <= c["bound_m"]
        assert c["margin_m"] == min(row["margin_m"] for row in c["separations"] if row["strength"] == "must")


def test_no_place_is_told_with_its_shortfall(stuck):
    """What is missing, where the best compromise is, and what stands against it."""
    data = written(stuck)

    assert [] == breaches(data["conflict"], CONFLICT)
    assert data["conflict"]["shortfall_m"] > 0.0
    assert [] == data["candidates"]
    assert 0.0 == data["feasible"]["area_m2"]
    assert "latrine-to-well" in {r["rule"] for r in data["conflict"]["requirements"]}
    assert "fails" == data["verdict"]


def test_distances_worked_out_by_hand(checked):
    """The well's edge is 20 m west of the latrine's, on the same parallel; 30 m were demanded."""
    data = written(checked)
    (row,) = (r for r in data["separations"] if r["rule"] == "latrine-to-well")

    assert 20.0 == pytest.approx(row["distance_m"], abs=2 * MILLIMETRE_M)
    assert row["distance_m"] == row["value"]
    assert 30.0 == row["required_m"] == row["limit"]
    assert -10.0 == pytest.approx(row["margin_m"], abs=2 * MILLIMETRE_M)
    assert 270.0 == pytest.approx(row["bearing_deg"], abs=0.02)
    assert ("m", 0.0, 0.0, "fails", "must") == tuple(
        row[k] for k in ("unit", "sigma_m", "probability", "verdict", "strength")
    )
    ends = yards.CENTRE.to_local(np.array([row["from"], row["to"]]))
    assert [30.6, 10.0] == pytest.approx(list(ends[0]), abs=2 * MILLIMETRE_M)  # 10 + 0.6 + 20
    assert [10.6, 10.0] == pytest.approx(list(ends[1]), abs=2 * MILLIMETRE_M)


@pytest.mark.parametrize(
    "shape",
    [
        Point(60.0, 10.0),
        MultiPoint([(60.0, 10.0), (80.0, 10.0)]),
        LineString([(60.0, 10.0), (70.0, 10.0)]),
        LineString([(60.0, 10.0), (70.0, 10.0), (70.0, 60.0)]),
        box(60.0, 5.0, 80.0, 30.0),
        box(60.0, 5.0, 80.0, 30.0) - box(65.0, 10.0, 75.0, 20.0),
        MultiPolygon([box(60.0, 5.0, 65.0, 15.0), box(80.0, 5.0, 85.0, 15.0)]),
    ],
    ids=["point", "points", "line", "bent line", "area", "area with a hole", "areas"],
)
def test_what_stands_is_measured_where_it_stands(shape, tmp_path):
    """However a latrine is drawn, its edge 50 m east of the middle of the well is 49.4 m from the well's own."""
    site = yards.write(tmp_path / "a", yards.fence(), yards.well(), yards.feature("pit latrine", "Latrine", shape))

    rows = written(yards.assessed(site))["separations"]

    assert [49.4] == pytest.approx(
        [r["distance_m"] for r in rows if r["rule"] == "latrine-to-well"], abs=2 * MILLIMETRE_M
    )


def test_inputs_and_rules_carry_checksums(checked):
    """SHA-256 of the very bytes read, and how many features came of each file."""
    data = written(checked)

    (source,) = data["inputs"]
    assert ("yard.geojson", 4) == (source["file"], source["features"])
    assert 64 == len(source["sha256"])
    packs = {rule["pack"]: rule["sha256"] for rule in data["rules"]}
    assert hashlib.sha256(yards.CODE.encode()).hexdigest() == packs["yard-code"]
    assert {"boundary": 1, "pit latrine": 1, "ward": 1, "well": 1} == data["site"]["by_kind"]


def test_keys_are_sorted_at_every_depth(found):
    """Two results can be compared line by line."""

    def sorted_all_through(value):
        if isinstance(value, dict):
            return list(value) == sorted(value) and all(map(sorted_all_through, value.values()))
        return not isinstance(value, list) or all(map(sorted_all_through, value))

    assert sorted_all_through(written(found))


def test_text_is_kept_as_people_write_it(tmp_path):
    """Accents and other scripts are text, not escapes, and the file ends in a newline."""
    site = yards.write(tmp_path / "a", yards.fence(), yards.well("Puits de Béa ዋ"), yards.latrine(40.0))

    text = as_json(results(yards.assessed(site)))

    assert "Puits de Béa ዋ" in text
    assert text.endswith("}\n")


def test_not_a_number_never_passes():
    """A value that is no number is a defect, not a result."""
    with pytest.raises(ValueError, match="JSON compliant"):
        as_json({"distance_m": float("nan")})


def test_the_same_input_gives_the_same_bytes(tmp_path):
    """Two processes whose sets and dictionaries are ordered differently write the same text."""
    site = yards.meeting(tmp_path / "yard")
    command = [sys.executable, "-c", "from siting.cli import main; main()", "find", str(site), "--for", "placenta pit"]
    run = [
        subprocess.run(
            [*command, "--json"],
            capture_output=True,
            timeout=60,
            check=False,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        for seed in ("1", "2")
    ]

    assert b'"schema": "siting/1"' in run[0].stdout, run[0].stderr.decode()
    assert run[0].stdout == run[1].stdout


values = st.floats(-1e4, 1e4)


@given(value=values, margin=values)
def test_rounding_never_flatters(checked, value, margin):
    """A least distance is cut down, a greatest one rounded up, and no margin is made larger; all within 1 mm."""
    rows = {s.limit.relation: s for s in checked.separations if s.rule.id == "latrine-to-ward"}

    least = separation_row(replace(rows["at_least"], value=value, margin=margin), checked.site.frame)
    most = separation_row(replace(rows["at_most"], value=value, margin=margin), checked.site.frame)

    assert value - MILLIMETRE_M <= least["distance_m"] <= value + HAIR_M
    assert value - HAIR_M <= most["distance_m"] <= value + MILLIMETRE_M
    for row in (least, most):
        assert margin - MILLIMETRE_M <= row["margin_m"] <= margin + HAIR_M


@given(value=values)
def test_printed_distances_are_cut_to_the_centimetre(value):
    """What people read is never longer than what was measured."""
    assert value - 0.01 <= float(floored(value)) <= value + HAIR_M


@given(st.integers(-(10**6), 10**6))
def test_whole_centimetres_are_printed_as_they_are(hundredths):
    """Cutting does not take a centimetre off a value that has no more digits."""
    assert f"{hundredths / 100:.2f}" == floored(hundredths / 100.0)


def test_a_candidate_is_rounded_against_itself(found):
    """Its margin down, its bound up, the ground down."""
    data = written(found)
    c, printed = found.finding.placed[0].candidate, data["candidates"][0]

    assert c.margin_m - MILLIMETRE_M <= printed["margin_m"] <= c.margin_m + HAIR_M
    assert c.bound_m - HAIR_M <= printed["bound_m"] <= c.bound_m + MILLIMETRE_M
    area_m2 = found.finding.ground.nominal.area
    assert floor(area_m2 * 10.0) / 10.0 == data["feasible"]["area_m2"]


def test_a_plan_without_a_place_on_earth_has_no_centre(checked):
    """Its coordinates stay the plan's own metres."""
    site = replace(checked.site, frame=Frame(lon=None, lat=None))

    data = written(replace(checked, site=site))

    assert [None, None] == data["site"]["centre"]
    assert "no place on earth" in data["site"]["frame"]
