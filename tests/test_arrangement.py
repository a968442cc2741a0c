"""Several installations at once: the search against brute force and a general solver, bounds, walks and conflicts."""

from itertools import combinations, product
from math import ceil, sqrt

import numpy as np
import pytest
import shapely
from conftest import WORDS, asked, feature, new, pack, plot, site
from hypothesis import given, settings
from hypothesis import strategies as st

from siting import arrangement, spot_search
from siting.arrangement import Wanted, arrange
from siting.clearance import lay_out, margins, one_place
from siting.demands import demands
from siting.installation import disc, rectangle
from siting.requirements import Question
from siting.spot_search import MARGIN_STEP_M, SpotSearch
from siting.walking import Walks

ROUNDING_M = 1e-6
LAND = shapely.box(0.0, 0.0, 40.0, 30.0)
INSIDE = 'for = ["pit", "burner"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
SPOTS = 60
PLACENTA, ASH, LATRINE = "placenta pit", "ash pit", "pit latrine"


def _apart(one, other, metres, outline="pit"):
    return f'for = ["{one}"]\nfrom = ["{other}"]\nat_least_m = {metres}\noutline = "{outline}"'


def _question(*rules, land=LAND, things=()):
    return Question(site=site(plot(land), *things), packs=(pack(INSIDE, *rules),), words=WORDS)


def _wanted(question, *installations, serve=None):
    served = question.site.named(serve) if serve else None
    walks = Walks(served=served, site=question.site, land=question.land, words=WORDS) if served else None
    return [Wanted(demands=demands(question, each), walks=walks) for each in installations]


def _pit(kind, *, length_m=3.0, width_m=2.0, orientation_deg=0.0):
    return new(kind, pit=disc(1.4), enclosure=rectangle(length_m, width_m), orientation_deg=orientation_deg)


def _drawn(stand, which):
    outline = getattr(stand.installation, which)
    shape = outline.at(np.array([stand.x_m]), np.array([stand.y_m]), np.array([stand.orientation_deg]))[0]
    return shape, outline.radius_m


def _between(one, other, which="pit"):
    """Metres from edge to edge, measured apart from the code that placed them."""
    (a, radius_a), (b, radius_b) = _drawn(one, which), _drawn(other, which)
    return a.distance(b) - radius_a - radius_b


# --- the search, against every combination ------------------------------------------------------------------------


def _model(seed, counts):
    chance = np.random.default_rng(seed)
    own = [chance.uniform(-2.0, 8.0, n) for n in counts]
    walks = [np.round(chance.uniform(0.0, 50.0, n), 1) for n in counts]
    between = {
        (a, b): chance.uniform(-6.0, 12.0, (counts[a], counts[b])) for a, b in combinations(range(len(counts)), 2)
    }
    return own, walks, between


def _margin(own, between, chosen):
    """The smallest margin of one combination."""
    singles = [own[k][spot] for k, spot in enumerate(chosen)]
    return min([*singles, *(m[chosen[a], chosen[b]] for (a, b), m in between.items())])


def _all(counts):
    return list(product(*(range(n) for n in counts)))


counts = st.lists(st.integers(1, 5), min_size=1, max_size=4)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), counts=counts)
def test_the_largest_margin_is_that_of_every_combination_tried(seed, counts):
    """The bisection finds the best of all combinations, to the centimetre and never above it."""
    own, walks, between = _model(seed, counts)
    best = max(_margin(own, between, chosen) for chosen in _all(counts))
    search = SpotSearch(own, walks, between)
    found, chosen = search.largest_margin(most_m=None)

    assert search.proved
    assert best - MARGIN_STEP_M <= found <= best + ROUNDING_M
    assert _margin(own, between, chosen) >= found - ROUNDING_M


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), counts=counts, asked_m=st.sampled_from([-4.0, 0.0, 1.0]))
def test_the_least_walk_is_that_of_every_combination_tried(seed, counts, asked_m):
    """Among the combinations that keep a margin, the sum of the walks is the smallest there is."""
    own, walks, between = _model(seed, counts)
    kept = [chosen for chosen in _all(counts) if _margin(own, between, chosen) >= asked_m]
    search = SpotSearch(own, walks, between)
    if not kept:
        assert search.any_spots(asked_m) is None
        return
    shortest = min(sum(walks[k][spot] for k, spot in enumerate(chosen)) for chosen in kept)
    chosen = search.least_walk(asked_m, [])

    assert tuple(chosen) in kept
    assert shortest == pytest.approx(sum(walks[k][spot] for k, spot in enumerate(chosen)))


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), spots=st.integers(3, 6))
def test_searching_alike_ones_in_one_order_loses_nothing(seed, spots):
    """Three of the same make: the answer is that of the search which tries every order."""
    chance = np.random.default_rng(seed)
    at = chance.uniform(0.0, 20.0, (spots, 2))
    own, walk = chance.uniform(0.0, 8.0, spots), chance.uniform(0.0, 50.0, spots)
    apart = np.hypot(*(at[:, None] - at).transpose(2, 0, 1)) - 5.0
    pairs = list(combinations(range(3), 2))
    between = dict.fromkeys(pairs, apart)
    every, ordered = (SpotSearch([own] * 3, [walk] * 3, between, alike=frozenset(alike)) for alike in ((), pairs))
    (wide, _), (narrow, chosen) = every.largest_margin(most_m=None), ordered.largest_margin(most_m=None)
    walked = [sum(walk[search.least_walk(wide, chosen)]) for search in (every, ordered)]

    assert wide == pytest.approx(narrow, abs=2.0 * MARGIN_STEP_M)
    assert walked[0] == pytest.approx(walked[1])


def test_a_search_cut_short_says_so(monkeypatch):
    """With one node to spend nothing is proved, and no bound of the grid is claimed."""
    monkeypatch.setattr(spot_search, "MOST_NODES", 1)
    search = SpotSearch(*_model(1, (4, 4, 4)))
    search.largest_margin(most_m=None)
    question = _question(_apart(PLACENTA, ASH, 10))
    found = arrange(_wanted(question, _pit(PLACENTA), _pit(ASH)), question, most_spots=SPOTS)

    assert not search.proved
    assert not found.proved
    # Alone in the middle of 40 by 30 m, an enclosure of 3 m northward keeps 13.5 m from the lines (own).
    assert found.bound_m == pytest.approx(13.5, abs=0.06)


def _solved(own, walks, between, asked_m):
    """The least sum of walks by a general solver of mixed-integer models: one row a pair of spots too near."""
    milp = pytest.importorskip("scipy.optimize")
    from scipy.sparse import lil_matrix

    start = np.r_[0, np.cumsum([len(m) for m in own])]
    barred = [(start[a] + i, start[b] + j) for (a, b), m in between.items() for i, j in np.argwhere(m < asked_m)]
    rows = lil_matrix((len(own) + len(barred), start[-1]))
    for k in range(len(own)):
        rows[k, start[k] : start[k + 1]] = 1.0
    for number, pair in enumerate(barred, start=len(own)):
        rows[number, list(pair)] = 1.0
    least = np.r_[np.ones(len(own)), np.zeros(len(barred))]
    return milp.milp(
        np.concatenate(walks),
        constraints=milp.LinearConstraint(rows.tocsr(), least, np.ones(len(least))),
        bounds=milp.Bounds(0.0, (np.concatenate(own) >= asked_m).astype(float)),
        integrality=np.ones(start[-1]),
    )


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_a_general_solver_finds_the_same_least_walk(seed):
    """Four installations with 25 spots each: HiGHS and the search agree on the sum, or on that there is none."""
    own, walks, between = _model(seed, (25, 25, 25, 25))
    solved = _solved(own, walks, between, 6.0)
    chosen = SpotSearch(own, walks, between).least_walk(6.0, [])

    assert bool(chosen) is solved.success
    if chosen:
        assert solved.fun == pytest.approx(sum(walks[k][spot] for k, spot in enumerate(chosen)))


# --- places on the ground -----------------------------------------------------------------------------------------


def test_every_rule_between_them_is_kept_read_both_ways():
    """A rule for one near the other binds the pair, whichever of the two it is written for; measured apart."""
    question = _question(_apart(PLACENTA, ASH, 12), _apart(LATRINE, PLACENTA, 15), _apart(ASH, LATRINE, 9))
    found = arrange(_wanted(question, _pit(PLACENTA), _pit(ASH), _pit(LATRINE)), question, most_spots=SPOTS)
    placenta, ash, latrine = found.stands

    assert found.margin_m >= 0.0
    assert _between(placenta, ash) >= 12.0 + found.margin_m - ROUNDING_M
    assert _between(placenta, latrine) >= 15.0 + found.margin_m - ROUNDING_M
    assert _between(ash, latrine) >= 9.0 + found.margin_m - ROUNDING_M


@pytest.mark.parametrize("strip_m", [0.0, 1.2, 6.0])
def test_a_strip_is_left_between_enclosures(strip_m):
    """Where no rule keeps them apart, somebody still walks between them."""
    question = _question(land=shapely.box(0.0, 0.0, 14.0, 3.2))
    found = arrange(_wanted(question, _pit(PLACENTA), _pit(ASH)), question, strip_m=strip_m, most_spots=SPOTS)

    assert 2 == len(found.stands)
    assert _between(*found.stands, "enclosure") >= strip_m - ROUNDING_M


def test_each_keeps_what_it_says_to_what_stands():
    """The margin of a stand is no more than it has to every requirement, measured at its place."""
    question = _question(
        _apart(PLACENTA, "well", 12), _apart(ASH, "well", 8), things=[feature("well", "Well", (5.0, 5.0))]
    )
    found = arrange(_wanted(question, _pit(PLACENTA), _pit(ASH)), question, most_spots=SPOTS)

    for stand in found.stands:
        laid = lay_out(asked(question.site, question.packs, stand.installation).requirements, stand.installation)
        at = margins(laid, one_place(stand.x_m, stand.y_m, stand.orientation_deg))
        assert stand.margin_m <= at.min() + ROUNDING_M
    assert found.margin_m == min(stand.margin_m for stand in found.stands)


@pytest.mark.parametrize("orientation_deg", [0.0, None])
@pytest.mark.parametrize("apart_m", [4, 14, 26])
def test_no_arrangement_of_a_finer_grid_beats_the_bound(orientation_deg, apart_m):
    """Brute force: every pair of places of a grid of 1.5 m, in every 15 degrees, measured edge to edge."""
    long = {"length_m": 7.0, "width_m": 2.0, "orientation_deg": orientation_deg}
    question = _question(_apart(PLACENTA, ASH, apart_m, "enclosure"), land=shapely.box(0, 0, 24, 15))
    wanted = _wanted(question, _pit(PLACENTA, **long), _pit(ASH, **long))
    found = arrange(wanted, question, most_spots=20)
    turns = (0.0,) if orientation_deg == 0.0 else np.arange(0.0, 180.0, 15.0)
    x, y, turn = (g.ravel() for g in np.meshgrid(np.arange(0.75, 24, 1.5), np.arange(0.75, 15, 1.5), turns))
    one, two = (w.installation.enclosure.at(x, y, turn) for w in wanted)
    pit_two = shapely.points(x, y)
    own = np.where(shapely.covers(question.land, one), shapely.distance(one, question.land.exterior), -np.inf)
    good = own >= found.margin_m
    apart = shapely.distance(one[good][:, None], pit_two[good]) - 0.7 - apart_m
    strip = shapely.distance(one[good][:, None], two[good]) - 1.2
    best = np.minimum(np.minimum(apart, strip), np.minimum(own[good][:, None], own[good])).max(initial=-np.inf)

    assert best <= found.bound_m + ROUNDING_M


def test_the_bound_of_the_grid_allows_for_corners():
    """A centimetre, a diagonal of the grid, and of two outlines of 3 by 2 m what corners stand out beyond edges.

    sqrt(1.5^2 + 1^2) - 1 = 0.803 m each (own); of discs nothing.
    """
    one, other = rectangle(3.0, 2.0), disc(1.4)
    cornered, round_ = (
        {(0, 1): (arrangement._Pair(one=outline, other=outline, required_m=5.0),)} for outline in (one, other)
    )

    assert 1.0 + MARGIN_STEP_M + 2.0 * sqrt(2.0) + 2.0 * (sqrt(3.25) - 1.0) == pytest.approx(
        arrangement._bound_on_grid(1.0, 2.0, cornered)
    )
    assert 1.0 + MARGIN_STEP_M + 2.0 * sqrt(2.0) == pytest.approx(arrangement._bound_on_grid(1.0, 2.0, round_))


def test_the_bound_is_the_worst_placed_alone_where_that_is_sharper():
    """A strip of 6 m keeps what is 3 m wide within 1.5 m of its edges, however far apart they stand (own)."""
    question = _question(land=shapely.box(0.0, 0.0, 120.0, 6.0))
    wide = {"length_m": 3.0, "width_m": 3.0}
    found = arrange(_wanted(question, _pit(PLACENTA, **wide), _pit(ASH, **wide)), question, most_spots=SPOTS)

    assert 1.5 == pytest.approx(found.margin_m, abs=0.01)
    assert 1.5 - ROUNDING_M <= found.bound_m <= 1.5 + 0.06


def test_the_same_question_has_the_same_answer():
    """Twice the same places, to the last digit."""
    question = _question(_apart(PLACENTA, ASH, 12))
    wanted = _wanted(question, _pit(PLACENTA), _pit(ASH))

    assert arrange(wanted, question, most_spots=SPOTS) == arrange(wanted, question, most_spots=SPOTS)


# --- walks --------------------------------------------------------------------------------------------------------

WARD = feature("ward", "Ward", shapely.box(0.0, 0.0, 6.0, 6.0))


def test_with_a_margin_to_keep_the_walk_is_the_least_of_the_grid():
    """Brute force over the grid of places: no two that keep the margin have shorter walks together."""
    question = _question(_apart(PLACENTA, ASH, 10), _apart(PLACENTA, "ward", 9), things=[WARD])
    wanted = _wanted(question, new(PLACENTA), new(ASH), serve="Ward")
    found = arrange(wanted, question, strip_m=0.0, keep_m=1.0, most_spots=SPOTS)
    step_m = sqrt(LAND.area / SPOTS)
    columns, rows = ceil(40.0 / step_m), ceil(30.0 / step_m)
    x, y = (
        g.ravel()
        for g in np.meshgrid((np.arange(columns) + 0.5) * 40.0 / columns, (np.arange(rows) + 0.5) * 30.0 / rows)
    )
    points = shapely.points(x, y)
    edge = shapely.distance(points, LAND.exterior)
    ward = shapely.distance(points, WARD.geometry)
    walk = np.where(ward > 0.0, ward, np.inf)
    one = np.where((edge >= 1.0) & (ward >= 10.0), walk, np.inf)
    two = np.where(edge >= 1.0, walk, np.inf)
    apart = np.hypot(x[:, None] - x, y[:, None] - y) >= 11.0
    # Nothing stands on the ground that is built over.
    shortest = np.where(apart, one[:, None] + two, np.inf).min()

    assert found.proved
    assert found.margin_m >= 1.0 - ROUNDING_M
    assert shortest == pytest.approx(found.walk_m, abs=ROUNDING_M)


def test_keeping_less_walks_less():
    """The margin that is kept pays for the walk; without one to keep, the margin comes first."""
    question = _question(_apart(PLACENTA, "ward", 5), things=[WARD])
    wanted = _wanted(question, _pit(PLACENTA), _pit(ASH), serve="Ward")
    little, more, most = (arrange(wanted, question, keep_m=m, most_spots=SPOTS) for m in (0.5, 3.0, None))

    assert little.walk_m < more.walk_m < most.walk_m
    assert 0.5 <= little.margin_m < 3.0 <= more.margin_m < most.margin_m
    assert little.bound_m >= most.margin_m


def test_asking_to_keep_more_than_there_is_keeps_what_there_is():
    """A hundred metres cannot be kept on 40 by 30 m: the largest margin is kept, and it is said how large."""
    question = _question()
    wanted = _wanted(question, _pit(PLACENTA), _pit(ASH), serve=None)
    found = arrange(wanted, question, keep_m=100.0, most_spots=SPOTS)

    assert 2 == len(found.stands)
    assert 0.0 < found.margin_m <= found.bound_m < 100.0


# --- why there is none --------------------------------------------------------------------------------------------


def test_two_that_cannot_stand_together_are_named_and_the_third_is_not():
    """60 m apart on a plot of 40 by 30 m: the two are the conflict; either alone, and the third with it, fits."""
    question = _question(_apart(PLACENTA, ASH, 60))
    wanted = _wanted(question, _pit(PLACENTA), _pit(LATRINE), _pit(ASH))
    found = arrange(wanted, question, most_spots=SPOTS)

    assert () == found.stands
    assert ("new placenta pit", "new ash pit") == found.conflict
    assert found.margin_m < 0.0
    assert found.bound_m < 0.0


def test_every_group_smaller_than_the_conflict_can_stand():
    """Three pits 38 m apart on 40 by 30 m are one too many: each two of them are placed, and a fourth is not blamed."""
    question = _question(*(_apart(a, b, 38) for a, b in combinations((PLACENTA, ASH, LATRINE), 2)))
    pits = [_pit(PLACENTA), _pit(ASH), _pit(LATRINE), _pit("sharps pit")]
    found = arrange(_wanted(question, *pits), question, most_spots=SPOTS)

    assert {"new placenta pit", "new ash pit", "new pit latrine"} == set(found.conflict)
    for fewer in combinations(pits[:3], 2):
        assert arrange(_wanted(question, *fewer), question, most_spots=SPOTS).stands


def test_one_that_cannot_stand_anywhere_is_the_conflict():
    """It is not the others' fault."""
    question = _question(_apart(ASH, "well", 60), things=[feature("well", "Well", (20.0, 15.0))])
    found = arrange(_wanted(question, _pit(PLACENTA), _pit(ASH)), question, most_spots=SPOTS)

    assert ("new ash pit",) == found.conflict
    assert found.margin_m <= found.bound_m
    # No corner is farther than 25 m from the well, and only off the land by half a cell is it a little less bad (own).
    assert -35.7 <= found.bound_m < -30.0


def test_a_place_between_the_spots_is_found_before_it_is_refused():
    """Two points 49.9 m apart on a plot whose diagonal is 50 m: only off the grid, in opposite corners."""
    question = _question(_apart(PLACENTA, ASH, 49.9))
    found = arrange(_wanted(question, new(PLACENTA), new(ASH)), question, strip_m=0.0, most_spots=SPOTS)

    assert 2 == len(found.stands)
    assert _between(*found.stands) >= 49.9 - ROUNDING_M
