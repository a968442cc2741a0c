"""Layers of the map beside what stands: water beneath, wind, heights, the walk, the successor's place, enclosures."""

import json
import re
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from map_sites import BREEZE_8, BREEZE_16, LEVELS, arranged, found, hilly

from siting.assess import Assessment
from siting.outputs.map import map_page
from siting.outputs.page import answers, beneath
from siting.outputs.page.drawing import plan
from siting.plane import fit_levels
from siting.wind import rose

SVG = "{http://www.w3.org/2000/svg}"
HAIR_M = 1e-9


@pytest.fixture(scope="module")
def hill() -> Assessment:
    """A site with everything beneath it known."""
    return hilly()


@pytest.fixture(scope="module")
def page(hill: Assessment) -> str:
    """Its page."""
    return map_page(hill)


def _data(page: str) -> dict:
    return json.loads(page.split('id="sheet-data">')[1].split("</script>")[0])


def _plan(assessment: Assessment, css: str) -> list[ElementTree.Element]:
    return ElementTree.fromstring(plan(assessment)).findall(f".//{SVG}path[@class='{css}']")


@pytest.mark.parametrize("fall", [0.0004, 0.003, 0.0077, 0.02, 0.31])
@pytest.mark.parametrize("bearing_deg", [0.0, 37.0, 122.0])
def test_three_to_eight_level_lines_cross_the_land(fall: float, bearing_deg: float) -> None:
    """However steep the water lies, the lines are 1, 2 or 5 times a power of ten apart, each at its own level."""
    land = shapely.Polygon([(0, 0), (120, 0), (140, 90), (10, 100)])
    a, b = -fall * np.sin(np.radians(bearing_deg)), -fall * np.cos(np.radians(bearing_deg))
    xy = np.array([(0, 0), (100, 0), (0, 100), (90, 80)])
    plane = fit_levels(xy, xy @ np.array([a, b]) + 1094.37, level_sigma_m=0.05)

    lines = beneath.water_contours(plane, land)
    steps = np.diff([line.level_m for line in lines])
    mantissa = float(f"{steps[0]:.6e}".split("e")[0])

    assert 3 <= len(lines) <= 8
    assert steps == pytest.approx(np.full(len(steps), steps[0]), rel=1e-9)
    assert mantissa in (1.0, 2.0, 5.0)
    for line in lines:
        ends = shapely.get_coordinates(line.line)
        assert np.full(len(ends), line.level_m) == pytest.approx(ends @ np.array([a, b]) + 1094.37, abs=1e-6)
        assert shapely.distance(land.boundary, shapely.points(ends)).max() <= 1e-6
        assert line.level_m == pytest.approx(float(line.text.removesuffix(" m")), abs=1e-9)


def test_level_water_has_no_lines() -> None:
    """Where water stands as good as level, or nothing is known of it, no line and no arrow is drawn."""
    level = fit_levels(np.array([(0, 0), (100, 0), (0, 100)]), np.full(3, 12.0), level_sigma_m=0.05)

    assert () == beneath.water_contours(level, shapely.box(0, 0, 50, 50))
    assert () == beneath.water_contours(None, shapely.box(0, 0, 50, 50))
    assert beneath.flow_of(found()) is None
    assert [] == _data(map_page(found()))["water"]


def test_arrow_points_down_the_levels(hill: Assessment) -> None:
    """The arrow runs from higher to lower water, square to the level lines."""
    x1, y1, x2, y2, text = beneath.flow_of(hill)
    line = shapely.get_coordinates(beneath.contours_of(hill)[0].line)
    water = hill.terrain.water

    assert water.level_at(np.array([[x1, y1]]))[0] > water.level_at(np.array([[x2, y2]]))[0]
    assert 0.0 == pytest.approx(float(np.dot(line[1] - line[0], (x2 - x1, y2 - y1))), abs=1e-6)
    # The Well stands 1.6 m higher than the augered hole 80 m east and 10 m south of it.
    assert LEVELS["Well"][2] > LEVELS["Augered"][2]
    assert re.fullmatch(r"groundwater flows towards 1[0-7]\d°", text)


@pytest.mark.parametrize(("wind", "petals"), [(BREEZE_8, 8), (BREEZE_16, 16)])
def test_rose_has_a_petal_a_sector_and_says_it_in_words(wind: dict[str, float], petals: int) -> None:
    """The longest petal points to where the wind comes from most; every share is in the words."""
    made = rose(wind)
    drawn = ElementTree.fromstring(beneath.rose_drawing(made))
    tips = [
        np.mean([list(map(float, corner.split())) for corner in petal.rstrip("Z").split("L")[1:]], axis=0)
        for petal in drawn.find("path").get("d").split("M")[1:]
    ]
    longest = max(tips, key=lambda tip: float(np.hypot(*tip)))

    assert petals == len(tips)
    # North-east is right and up.
    assert longest[0] > 0 > longest[1]
    assert longest[0] == pytest.approx(-longest[1], abs=0.1)
    for name in made.names:
        assert f"{name} {wind[name]:g}" in drawn.get("aria-label")
    assert "calm 12" in drawn.get("aria-label")
    assert "30" in [text.text for text in drawn.iter("text")] or petals == 16


def test_page_says_what_the_layers_show(hill: Assessment, page: str) -> None:
    """Levels, shares of the wind, facts of a place and the walk are text, and each layer has a switch."""
    text = page.split("<script type")[0]
    placed = hill.finding.placed[0]

    for word in ("level lines of the water across the grounds: 100 m", "percent of all hours: N 5, NE 30"):
        assert word in text
    assert f"{abs(placed.facts.fall_m):.1f} m {'lower' if placed.facts.fall_m >= 0 else 'higher'} than Ward" in text
    assert f"slope {placed.facts.slope_percent:.1f} %" in text
    assert f"its successor fits at {placed.candidate.name}\N{PRIME}" in text
    switches = set(re.findall(r'data-layer="(\w+)"', text))
    assert {"water", "heights", "walk", "reserves", "wells", "mendings"} <= switches
    assert "checked" not in re.search(r'data-layer="mendings"[^>]*', text)[0]
    assert "enclosures" not in switches
    key, below_plan = (
        part.split("</ul>")[0] for part in (text.split('id="key"')[1], text.split('<section class="plan-sheet"')[1])
    )
    for label in ("level line of the water", "where the groundwater flows", "way on foot", "kept for the successor"):
        assert label in key
        assert label in below_plan


def test_a_site_without_them_offers_no_such_layers() -> None:
    """Nothing is offered to be shown that is not there."""
    switches = set(re.findall(r'data-layer="(\w+)"', map_page(found()).split("<script type")[0]))

    assert set() == switches & {"water", "heights", "reserves", "enclosures"}


def test_facts_say_only_what_is_known(hill: Assessment) -> None:
    """Without spot heights and places of the public, the card of a place says nothing of them."""
    assert "" == answers.place(found(serve_from=None).finding.placed[0], found())["facts"]
    assert "slope" in answers.place(hill.finding.placed[0], hill)["facts"]


def test_places_carry_walk_and_successor(hill: Assessment, page: str) -> None:
    """The walk of every place ends at its middle, is as long as it says, and its successor lies where it was found."""
    for placed, drawn in zip(hill.finding.placed, _data(page)["places"], strict=True):
        walked = shapely.LineString(drawn["walk"])

        assert (drawn["x"], drawn["y"]) == tuple(drawn["walk"][-1])
        assert placed.route.length_m == pytest.approx(walked.length, abs=0.01)
        assert f"{walked.length:.0f}" == drawn["walkLength"]
        assert [placed.reserve.x_m, placed.reserve.y_m] == pytest.approx(drawn["reserveAt"], abs=1e-4)
        assert placed.candidate.name == drawn["name"]


def test_mended_places_lie_where_they_are_said_to(hill: Assessment, page: str) -> None:
    """The arrow of a mending is as long as the move that it says."""
    for mended, drawn in zip(hill.mendings, _data(page)["mendings"], strict=True):
        x, y = drawn["from"]

        assert mended.moved_m == pytest.approx(np.hypot(drawn["x"] - x, drawn["y"] - y), abs=0.001)
        assert f" {drawn['moved']} m away" in drawn["text"]


def test_plan_without_scripts_shows_the_layers(hill: Assessment) -> None:
    """Level lines, arrow, walk and successors are on the plan, in lines that differ without colour."""
    counts = {css: len(_plan(hill, css)) for css in ("contour", "flow", "walk", "reserve", "enclosure")}
    dashes = {css: _plan(hill, css)[0].get("stroke-dasharray") for css in ("contour", "walk", "reserve")}
    texts = [text.text for text in ElementTree.fromstring(plan(hill)).iter(f"{SVG}text")]
    successors = sum(p.reserve is not None for p in hill.finding.placed)

    assert {
        "contour": len(beneath.contours_of(hill)), "flow": 1, "walk": 1, "reserve": 2 * successors, "enclosure": 0
    } == counts  # fmt: skip
    assert 3 == len(set(dashes.values()))
    assert "A\N{PRIME}" in texts
    assert "101 m" in texts


def test_arranged_installations_show_their_enclosures() -> None:
    """All the ground that each arranged installation occupies is on the map and on the plan."""
    assessment = arranged()
    own = [f for f in assessment.site.features if f.enclosure is not None]
    drawn = [f["enclosure"] for f in _data(map_page(assessment))["features"] if "enclosure" in f]

    assert 3 == len(own) == len(_plan(assessment, "enclosure"))
    for feature, shape in zip(own, drawn, strict=True):
        assert feature.enclosure.area == pytest.approx(shapely.from_geojson(json.dumps(shape)).area, abs=0.1)


def test_heights_are_no_more_than_a_page_can_carry(hill: Assessment, page: str) -> None:
    """Every spot height of a small survey is in the page."""
    spots = hill.site.ground.spot_heights

    assert len(spots) == len(_data(page)["heights"])
    assert [spots[0].x_m, spots[0].y_m] == _data(page)["heights"][0][:2]
