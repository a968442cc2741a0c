"""A place tried on the page is judged as the package judges it: the same rows, to within 5 mm."""

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import shapely
from map_sites import BREEZE_16, found, hilly, hopeless

from siting import clearance, separations
from siting.assess import Assessment, assess
from siting.io import packs
from siting.io.read import read_site
from siting.kinds import vocabulary
from siting.outputs.page import rows
from siting.outputs.page.data import page_data
from siting.outputs.page.layers import is_point
from siting.sizes import size

ROOT = Path(__file__).parent.parent
AGREEMENT_M = 0.005

pytestmark = pytest.mark.skipif(shutil.which("node") is None, reason="no node on this machine")

RUN = """
const plane = require(process.argv[1]);
const { trial, features, places, confidence } = JSON.parse(require("fs").readFileSync(0, "utf8"));
for (const f of features) { f.parts = plane.taken_apart(f.geometry); f.status ??= "existing"; }
trial.requirements = trial.requirements.map((r) => ({ ...trial.shared[r.of], ...r }));
trial.parts = trial.geometries.map(plane.taken_apart);
process.stdout.write(JSON.stringify(places.map((place) => plane.judge(trial, features, place, confidence))));
"""


def _sample(name: str) -> Assessment:
    model = read_site(ROOT / "sample_sites" / name)
    request = model.requests[0]
    return assess(model, packs.in_force(model.packs), vocabulary(), request=request, size=size(request), count=1)


def _on_page(assessment: Assessment, places: list[dict[str, float]]) -> list[list[dict[str, object]]]:
    """The rows that the script of the page makes for each place."""
    numbers = rows.cited(assessment)
    data = json.loads(json.dumps(page_data(assessment, (), numbers, ())))
    for drawn, feature in zip(data["features"], assessment.site.features, strict=True):
        exact = shapely.transform(feature.geometry, lambda xy: np.round(xy, 4))
        points = {"type": "MultiPoint", "coordinates": drawn.get("points")}
        drawn["geometry"] = points if is_point(feature) else json.loads(shapely.to_geojson(exact))
    given = {
        "trial": data["trial"], "features": data["features"], "places": places,
        "confidence": assessment.site.confidence,
    }  # fmt: skip
    done = subprocess.run(
        ["node", "-e", RUN, str(ROOT / "siting" / "outputs" / "page" / "plane.js")],
        input=json.dumps(given), capture_output=True, text=True, check=True,
    )  # fmt: skip
    return json.loads(done.stdout)


@pytest.mark.parametrize(
    "name", ["found", "well", "hopeless", "hilly", "breezy", "kessa-hill", "marula-ridge", "old-market"]
)
def test_tried_places_agree_with_the_package(name: str) -> None:
    """At sixty places, on and off the grounds and over what stands, value, margin and verdict of every row agree."""
    made = {
        "found": found, "hopeless": hopeless, "well": lambda: found(kind="pit latrine"),
        "hilly": hilly, "breezy": lambda: hilly(BREEZE_16, reserve=False),
    }  # fmt: skip
    assessment = made[name]() if name in made else _sample(name)
    finding, site = assessment.finding, assessment.site
    rng = np.random.default_rng(7)
    west, south, east, north = shapely.total_bounds([f.geometry for f in site.boundaries])
    places = [
        {"x": float(x), "y": float(y), "degrees": float(turn)}
        for x, y, turn in zip(
            rng.uniform(west - 10, east + 10, 60), rng.uniform(south - 10, north + 10, 60), rng.uniform(0, 180, 60),
            strict=True,
        )
    ]  # fmt: skip
    if not finding.installation.turns:
        places = [place | {"degrees": finding.installation.orientation_deg or 0.0} for place in places]

    compared = 0
    for place, shown in zip(places, _on_page(assessment, places), strict=True):
        at = clearance.one_place(place["x"], place["y"], place["degrees"])
        expected = separations.judge(finding.demands, site.features, confidence=site.confidence, place=at)

        assert [(s.rule.id, s.limit.relation) for s in expected] == [(r["r"]["id"], r["r"]["relation"]) for r in shown]
        for s, row in zip(expected, shown, strict=True):
            named = site.features[row["feature"]].name if row["feature"] >= 0 else ""
            assert (s.rule.id, s.feature) == (s.rule.id, named)
            assert s.value == pytest.approx(row["value"], abs=AGREEMENT_M)
            assert s.margin == pytest.approx(row["margin"], abs=AGREEMENT_M)
            assert s.sigma == pytest.approx(row["sigma"], abs=AGREEMENT_M)
            assert s.because == row["because"]
            if min(abs(s.probability - site.confidence), abs(1 - s.probability - site.confidence)) > 1e-2:
                assert (s.rule.id, str(s.verdict)) == (s.rule.id, row["verdict"])
            compared += 1

    assert compared > 60


@pytest.mark.parametrize("wind", [None, BREEZE_16])
def test_slope_and_smoke_are_reckoned_on_the_page(wind: dict[str, float] | None) -> None:
    """Rules on slope and on hours of wind are among those that the page judges, and both turn out either way."""
    assessment = hilly(wind, reserve=False)
    places = [{"x": x, "y": y, "degrees": 0.0} for x in (5.0, 28.0, 64.0, 97.0, 112.0) for y in (8.0, 47.0, 93.0)]
    verdicts: dict[str, set[str]] = {"gentle": set(), "smoke": set()}
    for shown in _on_page(assessment, places):
        for row in shown:
            if row["r"]["id"] in verdicts:
                verdicts[row["r"]["id"]].add(row["verdict"])

    assert {"gentle": {"meets", "fails"}, "smoke": {"meets", "fails"}} == verdicts
