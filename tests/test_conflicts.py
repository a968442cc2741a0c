"""Why there is no place: conflicts that are ones, found minimal, and ways out that open what they say."""

from dataclasses import replace
from math import ceil, sqrt

import numpy as np
import pytest
import shapely
from conftest import LIMITS_30, WORDS, asked, feature, grid, impossible_plot, new, pack, plot, site

from siting.candidates import any_place, best_places
from siting.clearance import Places, lay_out, margins, one_place
from siting.conflicts import STEP_M, irreducible, ways_out
from siting.feasible import feasible_ground
from siting.installation import disc, rectangle
from siting.requirements import Sense
from siting.site import Status

ON_THE_LAND = 'id = "land"\nfor = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
KEEP_WARD = 'id = "ward"\nfor = ["pit"]\nfrom = ["ward"]\nat_least_m = 15'
NEAR_WARD = 'id = "near"\nfor = ["pit"]\nfrom = ["ward"]\nat_most_m = 12'
STEP_OF_GRID_M = 0.5
FOUND_M = 0.002
"A place with less than this to spare may be missed."
TURNS_DEG = tuple(range(0, 180, 15))
PIT = new("pit latrine", pit=disc(1.0), enclosure=rectangle(3.0, 2.0))
CROWDED = ["well", "ward", "kitchen", "dwelling"]


def _must(of, installation, *rules):
    return [r for r in asked(of, pack(*rules), installation).requirements if r.is_must]


def _land(of):
    return shapely.union_all([f.geometry for f in of.boundaries])


def _best(must, installation, land):
    (best, *_) = best_places(must, installation, land, count=1)
    return best


def _conflict(of, installation, *rules):
    must, land = _must(of, installation, *rules), _land(of)
    return irreducible(must, installation, land, _best(must, installation, land)), must, land


def _ways(of, installation, *rules):
    conflict, must, land = _conflict(of, installation, *rules)
    return ways_out(conflict, must, installation, land, WORDS, confidence=0.95), must, land


def _densest(requirements, installation, land):
    """The largest smallest margin over a dense grid of places and angles."""
    laid = lay_out(requirements, installation)
    at = grid(land, STEP_OF_GRID_M)
    turns = TURNS_DEG if installation.turns else (installation.orientation_deg or 0.0,)
    return max(
        margins(laid, Places(x_m=at[:, 0], y_m=at[:, 1], orientation_deg=np.full(len(at), float(turn))))
        .min(axis=1)
        .max()
        for turn in turns
    )


def _crowded(seed):
    """A plot of 40 by 30 m with more on it than leaves room."""
    chance = np.random.default_rng(seed)
    things = []
    for number in range(6):
        kind = CROWDED[number % len(CROWDED)]
        x, y = chance.uniform(0.0, 34.0), chance.uniform(0.0, 24.0)
        shape = (x, y) if kind == "well" else shapely.box(x, y, x + 6.0, y + 5.0)
        things.append(feature(kind, f"{kind} {number}", shape))
    return site(plot(shapely.box(0.0, 0.0, 40.0, 30.0)), *things)


RULES = (
    ON_THE_LAND,
    'id = "well"\nfor = ["pit"]\nfrom = ["well"]\nat_least_m = 22',
    'id = "ward"\nfor = ["pit"]\nfrom = ["ward"]\nat_least_m = 14',
    'id = "kitchen"\nfor = ["pit"]\nfrom = ["kitchen"]\nat_least_m = 15\noutline = "enclosure"',
    'id = "house"\nfor = ["pit"]\nfrom = ["dwelling"]\nat_most_m = 12',
)


@pytest.mark.parametrize("seed", range(5))
def test_a_conflict_is_one_and_none_of_it_can_be_left_out(seed):
    """All together leave no place, not on a dense grid either; without any one of them there is a place, shown."""
    of = _crowded(seed)
    must, land = _must(of, PIT, *RULES), _land(of)
    best = _best(must, PIT, land)
    if best.bound_m >= 0.0:
        pytest.skip("this draw has a place")
    conflict = irreducible(must, PIT, land, best)

    assert conflict
    assert set(map(id, conflict)) <= set(map(id, must))
    assert any_place(conflict, PIT, land) is None
    assert _densest(conflict, PIT, land) < 0.0
    for member in conflict:
        rest = [r for r in conflict if r is not member]
        if not rest:
            continue
        place = any_place(rest, PIT, land)
        assert place is not None
        assert margins(lay_out(rest, PIT), one_place(place.x_m, place.y_m, place.orientation_deg)).min() >= 0.0


def test_enough_of_the_draws_above_have_no_place():
    """The test before this one does not pass by skipping."""
    short = 0
    for seed in range(5):
        of = _crowded(seed)
        short += _best(_must(of, PIT, *RULES), PIT, _land(of)).bound_m < 0.0

    assert short >= 3


def test_one_requirement_alone_may_be_the_conflict():
    """No corner of 30 by 30 m is 30 m from its middle, whatever else is asked."""
    conflict, _, _ = _conflict(impossible_plot(), new(), ON_THE_LAND, LIMITS_30)

    assert ["code/well"] == [r.rule.full_id for r in conflict] or {"code/well", "code/land"} == {
        r.rule.full_id for r in conflict
    }
    assert "code/well" in {r.rule.full_id for r in conflict}


def test_too_near_and_too_far_are_the_conflict_and_bystanders_are_not():
    """At least 15 and at most 12 m from the same ward; the well far away has no part in it."""
    of = site(
        plot(shapely.box(0, 0, 200, 200)),
        feature("ward", "Ward", shapely.box(90, 90, 110, 110)),
        feature("well", "Well", (5.0, 5.0)),
    )
    conflict, _, _ = _conflict(of, new(), ON_THE_LAND, LIMITS_30, KEEP_WARD, NEAR_WARD)

    assert {"code/ward", "code/near"} == {r.rule.full_id for r in conflict}


def test_where_there_is_a_place_there_is_no_conflict():
    """Asked by mistake, it answers that nothing stands against anything."""
    of = site(plot(shapely.box(0, 0, 100, 100)), feature("well", "Well", (0.0, 0.0)))
    must, land = _must(of, new(), ON_THE_LAND, LIMITS_30), _land(of)

    assert () == irreducible(must, new(), land, _best(must, new(), land))


# --- ways out -------------------------------------------------------------------------------------------------------


def test_the_least_change_of_a_limit_solves_the_closed_form():
    """A corner is 15 sqrt(2) = 21.2132 m from the middle: 30 m less 8.79 m opens it, to the centimetre (own)."""
    ways, _, _ = _ways(impossible_plot(), new(), ON_THE_LAND, LIMITS_30)
    (change,) = [way for way in ways if way.by_m is not None]

    assert ceil((30.0 - 15.0 * sqrt(2.0)) / STEP_M) * STEP_M == pytest.approx(change.by_m)
    assert change.change.endswith("from 30 m to 21.21 m")


@pytest.mark.parametrize("seed", range(5))
def test_the_least_change_opens_a_place_and_a_centimetre_less_does_not(seed):
    """Each changed limit, tried: by so much there is a place; by one step less there is none."""
    of = _crowded(seed)
    must, land = _must(of, PIT, *RULES), _land(of)
    best = _best(must, PIT, land)
    if best.bound_m >= 0.0:
        pytest.skip("this draw has a place")
    conflict = irreducible(must, PIT, land, best)
    ways = ways_out(conflict, must, PIT, land, WORDS, confidence=0.95)
    changes = [way for way in ways if way.by_m is not None]
    for way in changes:
        (member,) = (
            r for r in conflict if (r.rule.full_id, r.feature.name if r.feature else "") == (way.rule, way.feature)
        )
        sign = 1.0 if member.sense is Sense.WITHIN else -1.0

        def eased(by_m, member=member, sign=sign):
            others = [r for r in must if r is not member]
            changed = [*others, replace(member, limit_m=member.limit_m + sign * by_m)]
            return any_place(changed, PIT, land, gap_m=FOUND_M)

        assert eased(way.by_m) is not None
        assert eased(way.by_m - STEP_M - 2.0 * FOUND_M) is None


def test_what_is_cheaper_comes_first():
    """Close what can be closed, move what can be moved, change a limit, leave a requirement out; more ground first."""
    latrine = feature("pit latrine", "Old latrine", (15.0, 5.0))
    of = site(plot(shapely.box(0, 0, 30, 20)), latrine, feature("well", "Well", (15.0, 16.0)))
    rules = (
        ON_THE_LAND,
        'id = "pits"\nfor = ["pit"]\nfrom = ["pit latrine"]\nat_least_m = 17',
        'id = "well"\nfor = ["pit"]\nfrom = ["well"]\nat_least_m = 18',
    )
    ways, must, land = _ways(of, new(), *rules)
    ranks = [way.rank for way in ways]

    assert sorted(ranks) == ranks
    assert {0, 1, 3} <= set(ranks)
    assert "close and remove Old latrine (closed alone, it stays a hazard)" == ways[0].change
    assert ["move Well"] == [way.change for way in ways if way.rank == 1]
    for way in ways:
        if way.rank > 1:
            continue
        rest = [r for r in must if r.feature is None or r.feature.name != way.feature]
        left = feasible_ground(rest, new(), land, confidence=0.95).nominal
        assert left.area == pytest.approx(way.gains_m2)
        assert left.area > 0.0


def test_a_closed_latrine_needs_no_word_about_closing_it():
    """It is a hazard already: only removing helps."""
    closed = feature("pit latrine", "Old", (15.0, 10.0), status=Status.CLOSED)
    of = site(plot(shapely.box(0, 0, 30, 20)), closed)
    ways, _, _ = _ways(of, new(), ON_THE_LAND, 'id = "p"\nfor = ["pit"]\nfrom = ["pit latrine"]\nat_least_m = 20')

    assert "close and remove Old" == ways[0].change


def test_land_and_water_stay_where_they_are():
    """Nobody moves a stream or a boundary: only their limits can change."""
    stream = feature("stream", "Stream", shapely.LineString([(0, 10), (30, 10)]))
    of = site(plot(shapely.box(0, 0, 30, 20)), stream)
    ways, _, _ = _ways(of, new(), ON_THE_LAND, 'id = "s"\nfor = ["pit"]\nfrom = ["stream"]\nat_least_m = 20')

    assert {2, 3} >= {way.rank for way in ways}
    # The edges are 10 m from the stream (own): a centimetre more leaves more than a line.
    assert 10.01 == pytest.approx(min(way.by_m for way in ways if way.rule == "code/s" and way.by_m))


def test_two_things_on_one_spot_are_never_waived():
    """What any ground demands is no authority's rule: no way out leaves it out."""
    from siting.io.packs import load

    house = feature("dwelling", "House", shapely.box(1, 1, 29, 19))
    of = site(plot(shapely.box(0, 0, 30, 20)), house)
    installation = new("placenta pit", pit=disc(1.4), enclosure=rectangle(4.0, 3.0))
    must = [r for r in asked(of, load("ground"), installation).requirements if r.is_must]
    land = _land(of)
    conflict = irreducible(must, installation, land, _best(must, installation, land))
    ways = ways_out(conflict, must, installation, land, WORDS, confidence=0.95)

    assert conflict
    assert ["move House"] == [way.change for way in ways]


def test_a_limit_that_alone_opens_nothing_is_not_offered_as_a_change():
    """Two wells 30 m off each: easing one of them leaves the other's, and the plot stays shut."""
    wells = [feature("well", name, (15.0, 15.0)) for name in ("One", "Two")]
    of = site(plot(shapely.box(0, 0, 30, 30)), *wells)
    ways, _, _ = _ways(of, new(), ON_THE_LAND, LIMITS_30)

    assert [] == [way for way in ways if way.by_m is not None]
    assert all(way.gains_m2 == 0.0 for way in ways)
