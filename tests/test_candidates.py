"""The best places and their proof: bounds, gap, spacing, repeatability, and a proof where there is none."""

from itertools import pairwise
from math import hypot

import numpy as np
import pytest
import shapely
from conftest import (
    LIMITS_10,
    LIMITS_30,
    ON_THE_LAND,
    POINT,
    SQUARE,
    ZOO,
    asked,
    grid,
    judged,
    new,
    pack,
    plot,
    site,
)

from siting.candidates import DEFAULT_GAP_M, best_places
from siting.clearance import Places, lay_out, margins
from siting.errors import NoPlaceError
from siting.installation import disc, rectangle
from siting.uncertainty import Verdict

ROUNDING_M = 1e-6
"Rows are settled to the micrometre."
CODE = pack(LIMITS_30, LIMITS_10, ON_THE_LAND)
PLACED = [name for name in ZOO if ZOO[name]().boundaries and name != "impossible"]
PIT = new("placenta pit", pit=disc(1.5), enclosure=rectangle(4.0, 3.0))
FAST = new("placenta pit", pit=disc(1.5), enclosure=rectangle(4.0, 3.0), orientation_deg=30.0)
SQUARE_PIT = new("ash pit", pit=rectangle(2.0, 1.0), enclosure=rectangle(8.0, 3.0))


def _land(of):
    return shapely.union_all([boundary.geometry for boundary in of.boundaries])


def _find(of, installation=PIT, by=CODE, **more):
    return best_places(asked(of, by, installation).requirements, installation, _land(of), **more)


def _densest(of, installation, step_m, turns_deg, by=CODE):
    """The best smallest margin on a grid of places and orientations: a check by brute force."""
    laid = lay_out([r for r in asked(of, by, installation).requirements if r.is_must], installation)
    spots = grid(_land(of), step_m)
    return max(
        margins(laid, Places(x_m=spots[:, 0], y_m=spots[:, 1], orientation_deg=np.full(len(spots), turn)))
        .min(axis=1)
        .max()
        for turn in turns_deg
    )


@pytest.mark.parametrize("name", PLACED)
@pytest.mark.parametrize("installation", [PIT, FAST, SQUARE_PIT], ids=["round", "lies fast", "square"])
def test_no_place_of_a_dense_grid_beats_the_bound(name, installation):
    """Brute force over places and orientations finds nothing above the bound of the best candidate."""
    best, *_ = _find(ZOO[name](), installation)
    turns_deg = range(0, 180, 15) if installation.turns else (installation.orientation_deg,)

    assert _densest(ZOO[name](), installation, 2.5, turns_deg) <= best.bound_m + ROUNDING_M


@pytest.mark.parametrize("gap_m", [0.02, DEFAULT_GAP_M, 1.0])
@pytest.mark.parametrize("name", PLACED)
def test_bound_and_margin_lie_no_farther_apart_than_the_gap(name, gap_m):
    """Every candidate is the best of what was left, to within the gap asked for."""
    found = _find(ZOO[name](), FAST, gap_m=gap_m)

    assert found
    assert all(0.0 <= c.bound_m - c.margin_m <= gap_m + ROUNDING_M for c in found)


def test_the_gap_of_a_kilometre_is_only_a_look_round():
    """With a gap wider than the site the first look decides, and the bound says how little that proves."""
    rough, fine = (_find(ZOO["square plot"](), FAST, count=1, gap_m=gap)[0] for gap in (1000.0, 0.02))

    assert rough.margin_m <= fine.margin_m <= rough.bound_m


@pytest.mark.parametrize("spacing_m", [1.0, 5.0, 25.0])
def test_candidates_keep_their_spacing(spacing_m):
    """No two stand nearer to one another than asked, and the best comes first."""
    found = _find(ZOO["square plot"](), spacing_m=spacing_m, count=5, gap_m=0.2)
    apart = [hypot(a.x_m - b.x_m, a.y_m - b.y_m) for a in found for b in found if a is not b]

    assert 5 == len(found)
    assert min(apart) >= spacing_m
    assert all(after.margin_m <= before.bound_m for before, after in pairwise(found))


def test_candidates_are_lettered_in_their_order():
    """A, B, C, and after Z comes AA."""
    wide = site(plot(shapely.box(0, 0, 1000, 1000)))
    found = _find(wide, new(), by=pack(ON_THE_LAND), count=28, spacing_m=50.0, gap_m=20.0)

    assert ["A", "B", "Z", "AA", "AB"] == [found[n].name for n in (0, 1, 25, 26, 27)]


@pytest.mark.parametrize("name", PLACED)
@pytest.mark.parametrize("installation", [PIT, FAST, SQUARE_PIT], ids=["round", "lies fast", "square"])
def test_every_candidate_passes_the_exact_check(name, installation):
    """Judged where it stands: nothing that must hold is short, and the binding rule has the tightest row."""
    of = ZOO[name]()
    for candidate in _find(of, installation, count=3, gap_m=0.2):
        rows = judged(of, CODE, installation, (candidate.x_m, candidate.y_m, candidate.orientation_deg))

        assert Verdict.FAILS not in [row.verdict for row in rows]
        # A row shows the feature least likely to keep its distance, which need not be the nearest.
        assert 0.0 <= candidate.margin_m <= min(row.margin for row in rows) + ROUNDING_M
        if {0.0} == {row.sigma for row in rows}:
            tightest = min(rows, key=lambda row: row.margin)
            assert candidate.margin_m == pytest.approx(tightest.margin, abs=ROUNDING_M)
            assert tightest.rule is candidate.binding.rule


@pytest.mark.parametrize("name", PLACED)
def test_the_same_question_has_the_same_answer(name):
    """Twice the same list, to the last digit."""
    assert _find(ZOO[name](), gap_m=0.2) == _find(ZOO[name](), gap_m=0.2)


def test_an_impossible_site_is_proved_impossible():
    """No corner of 30 by 30 m is 30 m from its middle: one compromise with a negative bound, and no list."""
    of = ZOO["impossible"]()
    (only,) = _find(of, new(), count=5)

    assert only.margin_m <= only.bound_m < 0.0
    assert _densest(of, new(), 0.5, (0.0,)) <= only.bound_m + ROUNDING_M
    assert "code/well" == only.binding.rule.full_id


def test_the_best_compromise_of_an_impossible_site_is_known():
    """A corner, 15 sqrt(2) from the well: 8.79 m are missing, more than the 5 m to the line (own)."""
    (only,) = _find(ZOO["impossible"](), new(), gap_m=0.005)

    assert only.margin_m - ROUNDING_M <= 15.0 * 2.0**0.5 - 30.0 <= only.bound_m + ROUNDING_M


def test_places_end_where_margins_turn_negative():
    """A list holds places that are met only: fewer than asked for when there is no room for more."""
    tight = site(plot(shapely.box(0.0, 0.0, 12.0, 12.0)))
    found = _find(tight, new(), by=pack(ON_THE_LAND), count=5, spacing_m=2.0)

    assert 1 <= len(found) < 5
    assert all(c.margin_m >= 0.0 for c in found)


def test_advice_does_not_bind_a_place():
    """A rule that only advises changes neither the place nor its margin."""
    of = ZOO["square plot"]()
    advice = pack(LIMITS_30.replace("30", "90") + 'strength = "should"', id="advice")

    assert _find(of, FAST, count=1) == _find(of, FAST, by=[CODE, advice], count=1)


def test_a_stated_orientation_is_kept():
    """It lies fast at 30 degrees; what is free to turn is given an orientation below half a turn."""
    assert {30.0} == {c.orientation_deg for c in _find(ZOO["square plot"](), FAST, gap_m=0.2)}
    assert all(0.0 <= c.orientation_deg < 180.0 for c in _find(ZOO["square plot"](), PIT, gap_m=0.2))


def test_turning_is_never_worse_than_lying_fast():
    """The best of all orientations is at least as good as any single one."""
    strip = site(plot(shapely.affinity.rotate(shapely.box(0, 0, 60, 12), 20.0)))
    free, fast = new(enclosure=rectangle(8.0, 3.0)), new(enclosure=rectangle(8.0, 3.0), orientation_deg=0.0)
    by = pack(ON_THE_LAND.replace("at_least_m = 5", "at_least_m = 1"))

    assert _find(strip, free, by=by, count=1)[0].bound_m >= _find(strip, fast, by=by, count=1)[0].margin_m + 1.0


def test_without_anything_to_measure_from_there_is_no_best_place():
    """Three parts: nothing binds, draw the boundary."""
    with pytest.raises(NoPlaceError) as error:
        best_places((), new(), SQUARE)

    assert "no requirement binds the place" == error.value.faults[0].found
    assert "draw the boundary" in error.value.faults[0].do_next


def test_a_search_that_grows_too_large_is_refused():
    """A gap that no computer resolves ends in an error with the way out, not in a full memory."""
    land = pack('for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"')
    with pytest.raises(NoPlaceError) as error:
        _find(site(plot(shapely.box(0, 0, 1000, 20))), new(), by=land, count=1, gap_m=1e-5)

    assert "a wider gap than 1e-05 m" in error.value.faults[0].do_next


def test_a_point_has_no_orientation_to_search():
    """What is round is searched in place only: its orientation stays as it was."""
    round_ = new(pit=disc(1.5), enclosure=POINT)

    assert {0.0} == {c.orientation_deg for c in _find(ZOO["square plot"](), round_, gap_m=0.2)}
