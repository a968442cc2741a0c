"""The list to choose from: margin against walk, none beaten twice, each with its reason, each shown to keep it."""

import numpy as np
import pytest
import shapely
from conftest import WORDS, asked, feature, grid, new, pack, plot, site

from siting.candidates import best_places
from siting.clearance import Places, lay_out, margins, one_place
from siting.installation import disc, rectangle
from siting.ranking import EDGE_STEP_M, ranked
from siting.uncertainty import coverage_factor
from siting.walking import Walks

ON_THE_LAND = 'id = "land"\nfor = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
OFF_WARD = 'id = "ward"\nfor = ["pit"]\nfrom = ["ward"]\nat_least_m = 10'
OFF_WELL = 'id = "well"\nfor = ["pit"]\nfrom = ["well"]\nat_least_m = 30'
LAND = shapely.box(0.0, 0.0, 120.0, 80.0)
WARD = feature("ward", "Ward", shapely.box(10.0, 10.0, 22.0, 22.0), sigma_m=0.2)
WELL = feature("well", "Well", (20.0, 60.0), sigma_m=0.5)
BLOCK = feature("store", "Store", shapely.box(40.0, 0.0, 44.0, 60.0), sigma_m=0.2)
PIT = new("placenta pit", pit=disc(1.4), enclosure=rectangle(4.0, 3.0))
FAST = new("placenta pit", pit=disc(1.4), enclosure=rectangle(4.0, 3.0), orientation_deg=0.0)
CONFIDENCE, SPACING_M = 0.95, 5.0
ROUNDING_M = 1e-6


def _listed(installation=FAST, *, walk=True, land=LAND, things=(WARD, WELL, BLOCK), confidence=CONFIDENCE, count=4):
    of = site(plot(land), *things)
    requirements = asked(of, pack(ON_THE_LAND, OFF_WARD, OFF_WELL), installation).requirements
    found = best_places(requirements, installation, land, count=count, spacing_m=SPACING_M)
    walks = Walks(served=WARD, site=of, land=land, words=WORDS) if walk else None
    rows = ranked(found, requirements, installation, land, confidence=confidence, spacing_m=SPACING_M, walks=walks)
    return rows, found, requirements, walks


def _clear(requirements, installation, candidate, factor):
    laid = lay_out([r for r in requirements if r.is_must], installation)
    at = margins(laid, one_place(candidate.x_m, candidate.y_m, candidate.orientation_deg))[0]
    return float((at - factor * laid.sigma_m).min())


def test_without_a_walk_the_list_is_that_of_the_margins():
    """Nobody said where staff walk from: the places as found, each with its reason."""
    rows, found, *_ = _listed(walk=False)

    assert list(found) == [r.candidate for r in rows]
    assert {None} == {r.walk_m for r in rows}
    assert "largest margin anywhere on the site" == rows[0].why
    assert {"largest margin that is at least 5 m from the places before it"} == {r.why for r in rows[1:]}


@pytest.mark.parametrize("installation", [FAST, PIT], ids=["lies fast", "turns"])
def test_the_best_margin_stays_first_and_none_is_beaten(installation):
    """Of any two on the list the one with more margin walks farther; they are lettered, and keep their spacing."""
    rows, found, *_ = _listed(installation)
    first = rows[0].candidate

    assert (found[0].x_m, found[0].y_m, found[0].margin_m) == (first.x_m, first.y_m, first.margin_m)
    assert [chr(ord("A") + n) for n in range(len(rows))] == [r.candidate.name for r in rows]
    assert len(rows) > 1
    for one in rows:
        for other in rows:
            if one is other:
                continue
            a, b = one.candidate, other.candidate
            assert (a.margin_m > b.margin_m) is (one.walk_m > other.walk_m)
            assert np.hypot(a.x_m - b.x_m, a.y_m - b.y_m) >= SPACING_M


@pytest.mark.parametrize("installation", [FAST, PIT], ids=["lies fast", "turns"])
def test_every_place_keeps_what_its_reason_says(installation):
    """`at 95%` with every requirement, `1.2 m to spare` with so much more; the margins are those of the place."""
    rows, _, requirements, _ = _listed(installation)
    factor = coverage_factor(CONFIDENCE)

    assert any("shortest walk" in r.why for r in rows)
    for r in rows:
        assert r.candidate.margin_m == pytest.approx(
            _clear(requirements, installation, r.candidate, 0.0), abs=ROUNDING_M
        )
        if "shortest walk" in r.why:
            kept_m = float(r.why.split("keeps ")[1].split(" m")[0]) if "to spare" in r.why else 0.0
            assert _clear(requirements, installation, r.candidate, factor) >= kept_m - 0.05 - ROUNDING_M
            assert "at 95%" in r.why


def test_the_shortest_walk_is_the_shortest_of_a_dense_grid():
    """Brute force over every metre: no place that keeps every margin at 95 % has a shorter way by half an edge step."""
    rows, _, requirements, walks = _listed()
    (shortest,) = [r for r in rows if r.why == "shortest walk that keeps every margin at 95%"]
    at = grid(LAND, 1.0)
    laid = lay_out([r for r in requirements if r.is_must], FAST)
    clear = margins(laid, Places(x_m=at[:, 0], y_m=at[:, 1], orientation_deg=np.zeros(len(at))))
    kept = at[(clear - coverage_factor(CONFIDENCE) * laid.sigma_m).min(axis=1) >= 0.0]
    best_m = walks.nearest(kept)[1]

    assert best_m - 1.0 <= shortest.walk_m <= best_m + EDGE_STEP_M / 2.0
    assert shortest.walk_m == pytest.approx(
        walks.lengths(np.array([[shortest.candidate.x_m, shortest.candidate.y_m]]))[0]
    )


def test_a_third_and_two_thirds_of_what_the_best_has_to_spare_are_offered():
    """Between the largest margin and the shortest walk: a third and two thirds of the margin at the confidence."""
    rows, found, requirements, _ = _listed()
    spare_m = _clear(requirements, FAST, found[0], coverage_factor(CONFIDENCE))
    kept_m = [float(r.why.split("keeps ")[1].split(" m")[0]) for r in rows if "to spare" in r.why]

    assert kept_m
    assert set(kept_m) <= {round(spare_m / 3.0, 1), round(2.0 * spare_m / 3.0, 1)}
    for r in rows:
        if "to spare" in r.why:
            clear_m = _clear(requirements, FAST, r.candidate, coverage_factor(CONFIDENCE))
            assert clear_m >= spare_m / 3.0 - 0.05


@pytest.mark.parametrize("spacing_m", [15.0, 30.0, 45.0])
def test_short_walks_keep_the_spacing_too(spacing_m):
    """A shorter walk beside a place already listed is left out."""
    of = site(plot(LAND), WARD, WELL, BLOCK)
    requirements = asked(of, pack(ON_THE_LAND, OFF_WARD, OFF_WELL), FAST).requirements
    found = best_places(requirements, FAST, LAND, count=4, spacing_m=spacing_m)
    walks = Walks(served=WARD, site=of, land=LAND, words=WORDS)
    rows = ranked(found, requirements, FAST, LAND, confidence=CONFIDENCE, spacing_m=spacing_m, walks=walks)
    at = np.array([(r.candidate.x_m, r.candidate.y_m) for r in rows])
    apart = np.hypot(*(at[:, None] - at).transpose(2, 0, 1))[~np.eye(len(at), dtype=bool)]

    assert apart.min(initial=np.inf) >= spacing_m


def test_a_walk_goes_round_what_stands_in_the_way():
    """A place behind the store is as far as the way round its end."""
    rows, *_ = _listed()
    behind = [r for r in rows if r.candidate.x_m > 44.0]

    assert behind
    for r in behind:
        straight = shapely.distance(WARD.geometry, shapely.Point(r.candidate.x_m, r.candidate.y_m))
        assert r.walk_m > straight or r.candidate.y_m > 60.0


def test_when_not_even_the_best_is_sure_the_reason_says_so():
    """Where no place keeps the confidence, the short walks are those that hold if every position is right."""
    doubtful = feature("well", "Well", (60.0, 40.0), sigma_m=30.0)
    rows, *_ = _listed(things=(WARD, doubtful))
    walked = [r.why for r in rows if "shortest" in r.why]

    assert walked
    assert all("if every position is right" in why for why in walked)


def test_bounds_are_those_of_the_whole_site():
    """A shorter walk changes nothing about what is proved of the margin."""
    rows, found, *_ = _listed()

    assert all(r.candidate.bound_m == found[0].bound_m for r in rows if "shortest" in r.why)


def test_the_same_site_has_the_same_list():
    """Twice, to the last digit."""
    assert _listed()[0] == _listed()[0]
