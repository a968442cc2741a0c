"""The map page as text: what it holds, that nothing in it can run or be fetched, and that it repeats byte for byte."""

import hashlib
import re
import subprocess
import sys
from collections import Counter
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from map_sites import HOSTILE, checked, crowded, found, hopeless, site
from markupsafe import escape

from siting.frame import Frame
from siting.outputs.map import map_page
from siting.outputs.page.data import embedded, world_terms
from siting.outputs.page.drawing import bar, plan
from siting.outputs.page.rows import probability_text
from siting.outputs.page.svg import path
from siting.outputs.page.symbols import SYMBOLS, symbol_of
from siting.outputs.page.thinning import thinned_inward, thinned_outward, thinned_to
from siting.outputs.page.window import as_box, paper_scale, round_step, window
from siting.outputs.zones import zones

LEAFLET = {
    "LICENSE": "53e8dc25862014e4324741ca18fbe3611e11d42ef69f59f86ea8c5389647d4cb",
    "leaflet.css": "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6",
    "leaflet.js": "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
}
"SHA-256 of the files of leaflet 1.9.4 as the npm registry gives them."
DRAWN = ("text", "tspan")
"Labels of the plan: how many find room depends on how long the names are."
MOST_BYTES = 1_000_000
DEGREE_TOLERANCE = 1e-8
"About a millimetre on the ground."


@pytest.fixture(scope="module")
def page() -> str:
    """The page of a site with places."""
    return map_page(found())


class _Reader(HTMLParser):
    """Collects the elements of a page, and the text outside script and style."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self._skip = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._skip = tag in ("script", "style")

    def handle_endtag(self, tag: str) -> None:
        self._skip = False

    def handle_data(self, data: str) -> None:
        if not self._skip:
            self.text.append(data)


def _read(page: str) -> _Reader:
    reader = _Reader()
    reader.feed(page)
    return reader


@pytest.mark.parametrize(("name", "sha256"), sorted(LEAFLET.items()))
def test_vendored_files_are_unchanged(name: str, sha256: str) -> None:
    """The files of Leaflet are those that were published, to the byte."""
    data = (files("siting.outputs") / "leaflet" / name).read_bytes()

    assert sha256 == hashlib.sha256(data).hexdigest()


def test_nothing_is_fetched(page: str) -> None:
    """No element of the page names anything outside it, and the style sheets name no file."""
    named = [
        (tag, key, value)
        for tag, attributes in _read(page).elements
        for key, value in attributes.items()
        if key in ("src", "href", "srcset", "action", "data") and value and not value.startswith(("#", "data:"))
    ]
    sheets = "".join(re.findall(r"<style>(.*?)</style>", page, re.S))

    assert [] == named
    assert [] == re.findall(r"url\((?!#)[^)]*\)|@import", sheets)
    assert "sourceMappingURL" not in page


def test_policy_forbids_fetching(page: str) -> None:
    """The content policy comes before any script or style and allows no source but the page itself."""
    policy = next(a["content"] for tag, a in _read(page).elements if a.get("http-equiv") == "Content-Security-Policy")

    assert "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:" in policy
    assert page.index("Content-Security-Policy") < min(page.index("<script"), page.index("<style"))


def test_title_language_and_landmarks(page: str) -> None:
    """The page says its language, its site with the verdict, and can be zoomed by hand."""
    elements = _read(page).elements
    viewport = next(a["content"] for _, a in elements if a.get("name") == "viewport")

    assert ("html", {"lang": "en"}) in elements
    assert "<title>Two Fields Clinic: fails</title>" in page
    assert "user-scalable" not in viewport
    assert {"header", "main", "section"} <= {tag for tag, _ in elements}


def test_everything_is_in_the_page_without_scripts(page: str) -> None:
    """Every separation, what is not assessed, what is attested absent, the plan and the cautions are plain HTML."""
    assessment = found()
    text = " ".join(" ".join(_read(page).text).split())
    rows = re.findall(r'<tr class="(?:meets|fails|close|blank)(?: advice)?">', page)
    standing = len(assessment.separations) + sum(len(p.separations) for p in assessment.finding.placed)

    assert standing < len(rows)
    for word in (*assessment.cautions, "attested absent over 60 m: none within the fence", "one kind is not known"):
        assert word in text
    for packed in assessment.packs:
        assert f"{packed.title}, edition {packed.edition}" in text
    assert "abababababab" in text
    assert '<svg class="plan"' in page


def test_rows_tell_limit_margin_and_citation(page: str) -> None:
    """A failing row shows what was measured, the limit, the margin with its spread, what to do, and its rule."""
    row = next(s for s in found().separations if s.feature == "Borehole" and s.rule.id == "latrine-to-water-source")
    html = next(part for part in page.split("<tr ") if "Latrines → Borehole" in part and row.rule.id in part)

    # The latrine's nearest wall is 4 m east of the borehole and 5 m below its height to the top edge: hypot(4, 5).
    assert "6.40 m" in html
    assert "at least 30 m" in html
    assert "\N{MINUS SIGN}23.60 m" in html
    assert "± 0.42 m, p 0" in html or "± 0.42 m, p &lt; 0.001" in html
    assert row.action in html
    assert re.search(r'<li id="R\d+"><b>R\d+</b> <span><b>latrine-to-water-source</b>', page)
    assert str(row.rule.citation) in page


def test_words_of_authority_are_not_used(page: str) -> None:
    """Apart from titles of documents, the page never says that something is safe, approved or certified."""
    text = " ".join(_read(page).text + _read(map_page(hopeless())).text)
    for packed in found().packs:
        for document in packed.documents:
            text = text.replace(document.title, "")

    assert [] == re.findall(r"\b(safe|approved|certified)\b", text, re.I)


def test_no_place_is_said_and_proved() -> None:
    """Where there is no place the banner gives the shortfall, the proof and what stands against it, and lists none."""
    assessment = hopeless()
    page = map_page(assessment)
    text = " ".join(" ".join(_read(page).text).split())
    conflict = assessment.finding.conflict

    assert "No place for a placenta pit" in text
    assert f"{-np.floor(-conflict.shortfall_m * 100) / 100:.2f} m short" in text
    assert "Proved: nowhere on them is better than" in text
    assert all(r.rule.id in text for r in conflict.requirements)
    assert 'class="places"' not in page
    assert "It is not a place to dig." in text


def test_check_alone_has_no_places() -> None:
    """Without a wish the page shows what stands and offers neither places nor zones nor a trial."""
    page = map_page(checked())

    assert "What stands" in page
    assert 'class="places"' not in page
    assert "data-zone" not in page.split("<script")[0] and '"trial":null' in page


@pytest.mark.parametrize("name", HOSTILE)
def test_names_stay_text(name: str) -> None:
    """A name made to run as script appears in every output as the text it is, and adds no element."""
    words = ("Grounds", "Ward", "Well", "Latrines", "Old pit", "Mill")
    plain = _read(map_page(found(site("Site"), serve_from=None)))
    page = map_page(found(site(name, names={word: f"{name}{n}" for n, word in enumerate(words)}), serve_from=None))
    struck = _read(page)

    assert Counter(tag for tag, _ in plain.elements if tag not in DRAWN) == Counter(
        tag for tag, _ in struck.elements if tag not in DRAWN
    )
    assert name in " ".join(struck.text)
    assert f"<title>{escape(name)}" in page


def test_json_cannot_end_its_script() -> None:
    """Whatever a text holds, the JSON of the page has no sign that could end or open an element."""
    text = embedded({"name": "</script><!--\u2028&"})

    assert '{"name":"\\u003c/script\\u003e\\u003c!--\\u2028\\u0026"}' == text


def test_same_input_same_bytes() -> None:
    """Two processes with different hash seeds write the same page."""
    code = (
        "import hashlib; from map_sites import found; "
        "from siting.outputs.map import map_page; print(hashlib.sha256(map_page(found()).encode()).hexdigest())"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", code], env={"PYTHONHASHSEED": seed}, cwd=Path(__file__).parent,
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip

    assert 1 == len(digests)


def test_page_of_300_features_stays_small() -> None:
    """Three hundred features stay under a megabyte."""
    assert len(map_page(crowded()).encode()) < MOST_BYTES


def test_a_plan_without_a_place_on_earth_has_metres() -> None:
    """Where coordinates are not on earth, places are given in metres of the plan and no degrees are made up."""
    page = map_page(found(site(frame=Frame(lon=None, lat=None))))

    assert re.search(r"<code>x \d+\.\d\d m, y \d+\.\d\d m</code>", page)
    assert '"world":null' in page


def test_symbols_differ_without_colour() -> None:
    """No two classes share letter, shape, hatch and line, so that a black and white copy tells them apart."""
    looks = [(s.letter, s.shape, s.hatch, s.dash) for s in SYMBOLS]

    assert len(looks) == len(set(looks))


@pytest.mark.parametrize(
    ("kind", "key"),
    [("well", "source"), ("ward", "beds"), ("placenta pit", "pit"), ("pit latrine", "latrine"),
     ("boundary", "boundary"), ("septic tank", "sewage"), ("incinerator", "burner"), ("kitchen", "food"),
     ("nobody knows", "unknown")],
)  # fmt: skip
def test_kinds_have_the_symbol_of_their_class(kind: str, key: str) -> None:
    """A kind is drawn as the class its groups say; one that is not known is drawn too."""
    assert key == symbol_of(kind).key


@pytest.mark.parametrize("ground", ["#fbf9f4", "#ffffff", "#fdfcf8", "#f0ebe0"])
@pytest.mark.parametrize("ink", ["#22282b", "#5b574f", "#1b4f72", *sorted({s.colour for s in SYMBOLS})])
def test_inks_stand_out(ink: str, ground: str) -> None:
    """Every ink on every ground has a contrast of at least 4.5 to 1 (WCAG 2.2, criterion 1.4.3, from memory)."""
    lighter, darker = sorted((_luminance(ink), _luminance(ground)), reverse=True)

    assert (lighter + 0.05) / (darker + 0.05) >= 4.5


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition, from memory)."""
    parts = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def test_style_sheet_has_no_other_ink() -> None:
    """The inks and grounds of the style sheet are those whose contrast is tested."""
    sheet = (files("siting.outputs") / "page" / "page.css").read_text("utf-8")
    used = set(re.findall(r"(?<![-\w])(?:color|fill): (#[0-9a-f]{3,6})", sheet))

    assert used <= {"#fff", "#000", "#333", "#6d675d"}


def test_key_lists_only_what_is_present() -> None:
    """The key names the classes on this map and no other."""
    key = map_page(hopeless()).split('<ul class="swatches shelf" id="key" aria-label="Key">')[1].split("</ul>")[0]

    assert "well, borehole, spring" in key
    assert "building where people sleep" in key
    assert "latrine" not in key
    assert "incinerator" not in key


def test_plan_is_true_to_scale() -> None:
    """A metre of the plan's view box is 1000 / n mm of its printed width, and the bar says the same."""
    assessment = found()
    svg = ElementTree.fromstring(plan(assessment))
    _, _, width, height = (float(v) for v in svg.get("viewBox").split())
    length_m, on_paper_mm, scale = bar(assessment)

    assert width * 1000.0 / scale == pytest.approx(float(svg.get("width").removesuffix("mm")), abs=0.01)
    assert height * 1000.0 / scale == pytest.approx(float(svg.get("height").removesuffix("mm")), abs=0.01)
    assert length_m * 1000.0 / scale == pytest.approx(on_paper_mm, abs=1e-9)
    assert scale == paper_scale(window(assessment))


def test_path_turns_north_up() -> None:
    """Path data is in metres with y downwards, rings closed and holes kept."""
    square = shapely.Polygon([(0, 0), (4, 0), (4, 3), (0, 3)], [[(1, 1), (2, 1), (2, 2)]])

    outer, hole = path(square).split("M")[1:]

    assert [(0, 0), (4, 0), (4, -3), (0, -3)] == [tuple(map(float, p.split())) for p in outer.rstrip("Z").split("L")]
    assert [(1, -1), (2, -1), (2, -2)] == [tuple(map(float, p.split())) for p in hole.rstrip("Z").split("L")]
    assert outer.endswith("Z") and hole.endswith("Z")


def test_zones_are_never_too_small() -> None:
    """Every point nearer to the feature than its limit lies in the drawn zone of the rule."""
    finding = found().finding
    drawn = {z.rule.id: z for z in zones(finding.demands.requirements, within=as_box((-60.0, -60.0, 180.0, 160.0)))}
    zone = drawn["tissue-pit-to-water-source"]
    angle = np.radians(np.arange(0.0, 360.0, 0.5))
    # The well of 0.6 m radius at (30, 20) and the limit of 30 m, to the edge of the pit.
    ring = shapely.points(30.0 + 30.6 * np.sin(angle), 20.0 + 30.6 * np.cos(angle))

    assert (30.0, 30.0) == zone.limits_m
    assert shapely.covers(zone.geometry.buffer(1e-9), ring).all()


def test_thinned_ground_promises_nothing() -> None:
    """Written to the centimetre, ground left never reaches beyond the true outline, forbidden ground always does."""
    discs = shapely.union_all(shapely.buffer(shapely.points([20, 50, 75], 30), 14.0, quad_segs=64))
    true = shapely.box(0, 0, 90, 60).difference(discs)
    left, forbidden = thinned_inward(true, by_m=0.05), thinned_outward(true, by_m=0.05)
    written = [shapely.transform(g, lambda xy: np.round(xy, 2)) for g in (left, forbidden)]

    assert 0.0 == shapely.difference(written[0], true).area
    assert 0.0 == shapely.difference(true, written[1]).area
    assert shapely.get_num_coordinates(left) < shapely.get_num_coordinates(true)


def test_thinning_stops_at_what_a_page_can_carry() -> None:
    """Outlines get no more corners in all than are allowed, whatever that takes."""
    rings = [shapely.Point(n * 50.0, 0.0).buffer(20.0, quad_segs=64) for n in range(4)]
    drawn = thinned_to(rings, thinned_outward, by_m=0.02, most_corners=100)

    assert 100 >= sum(int(shapely.get_num_coordinates(g)) for g in drawn)
    assert all(shapely.covers(thinned, true) for thinned, true in zip(drawn, rings, strict=True))


@pytest.mark.parametrize("lat", [0.0, -13.25, 45.0, 68.0])
def test_degrees_on_the_page_are_those_of_the_frame(lat: float) -> None:
    """The polynomial of the page gives the degrees of the site's own plane within a millimetre."""
    frame = Frame(lon=179.9995, lat=lat)
    terms = world_terms(frame, (-400.0, -500.0, 600.0, 450.0))
    xy = np.array([[-380.0, 440.0], [590.0, -480.0], [3.0, 7.0]])
    u, v = xy[:, 0] / terms["unit"], xy[:, 1] / terms["unit"]
    powers = [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3)]
    made = {
        key: terms[key][0] + sum(t * u**i * v**j for t, (i, j) in zip(terms[key][1:], powers, strict=True))
        for key in ("lon", "lat")
    }
    lon = (made["lon"] + 180.0) % 360.0 - 180.0
    expected = frame.to_world(xy)

    assert expected[:, 0] == pytest.approx(lon, abs=DEGREE_TOLERANCE / np.cos(np.radians(lat)))
    assert expected[:, 1] == pytest.approx(made["lat"], abs=DEGREE_TOLERANCE)


def test_probabilities_never_flatter() -> None:
    """A probability is rounded down, and 1 is printed only where it is exact."""
    assert "0.949" == probability_text(0.94999)
    assert "> 0.999" == probability_text(0.999999)
    assert "1" == probability_text(1.0)
    assert "< 0.001" == probability_text(1e-30)


def test_steps_are_round() -> None:
    """A step is 1, 2 or 5 times a power of ten and never longer than what was asked."""
    assert [0.5, 1.0, 20.0, 50.0] == [round_step(v) for v in (0.99, 1.0, 49.9, 50.0)]
