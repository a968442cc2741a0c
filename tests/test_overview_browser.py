"""The overview page in Chromium: ten thousand places, no request, no name that runs, filters and list that work."""

import shutil
import time

import pytest
from screenshots import chromium
from test_batch import made_up

from siting.batch import REFUSED, counted, ranked
from siting.outputs.batch import overview
from siting.uncertainty import Verdict

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium on this machine"),
]
COUNT = 10_000
PATIENCE_S = 5.0
"For opening the page, and for a filter, on a shared machine; about 0.6 s and 0.2 s when nothing else runs."
HOSTILE = "</script><img src=x onerror=window.ran=1>${window.ran=1}"


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """The page, what it asked for, what went wrong, and how long it took to open."""
    verdicts = (Verdict.FAILS, Verdict.MEETS, Verdict.TOO_CLOSE, REFUSED)
    rows = [
        made_up(
            f"d{n % 40}/s{n}", verdicts[n % 4], lon=30 + n % 100 / 10, lat=-10 - n // 100 / 10, worst_margin_m=-n / 100
        )
        for n in range(COUNT)
    ]
    rows[0] |= {"site": HOSTILE, "reason": HOSTILE, "worst_margin_m": -1e6}
    path = tmp_path_factory.mktemp("overview") / "map.html"
    path.write_text(overview("A country", ranked(rows), counted(rows)), "utf-8")
    asked, wrong = [], []
    with chromium() as browser:
        tab = browser.new_page(viewport={"width": 1300, "height": 900})
        tab.on("request", lambda request: asked.append(request.url))
        tab.on("pageerror", lambda error: wrong.append(str(error)))
        tab.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        began = time.monotonic()
        tab.goto(path.as_uri())
        tab.wait_for_selector("#rows tr")
        yield tab, asked, wrong, time.monotonic() - began


def test_ten_thousand_places_open_without_a_network(opened):
    """One request, that of the page itself; nothing goes wrong; it opens within a few seconds."""
    tab, asked, wrong, took_s = opened

    assert 1 == len(asked)
    assert [] == wrong
    assert took_s < PATIENCE_S
    assert f"{COUNT} of {COUNT} listed places" in tab.inner_text("#shown")


def test_a_name_is_text_and_never_runs(opened):
    """In the list and in the note on the map."""
    tab, *_ = opened
    tab.click("#rows tr >> nth=0")

    assert HOSTILE in tab.inner_text("#rows tr >> nth=0")
    assert HOSTILE in tab.inner_text(".leaflet-popup-content")
    assert tab.evaluate("window.ran === undefined")


def test_filters_narrow_list_and_map(opened):
    """Leaving out a verdict, and looking for a name, each within a few seconds."""
    tab, *_ = opened
    began = time.monotonic()
    tab.uncheck("input[name=verdict] >> nth=0")
    without = tab.inner_text("#shown")
    tab.check("input[name=verdict] >> nth=0")
    tab.fill("input[name=text]", "d7/s9")

    assert time.monotonic() - began < 2 * PATIENCE_S
    assert f"7500 of {COUNT}" in without
    assert "d7/s9" in tab.inner_text("#rows tr >> nth=0")
