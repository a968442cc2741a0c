"""What holds on every site: moving it changes nothing, rules only take, doubt never helps, proofs stand."""

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
import shapely
from conftest import WORDS, asked, grid, judged, pack
from hypothesis import assume
from hypothesis import strategies as st
from shapely import affinity
from strategies import bearings_deg, held, places, rule_bodies, sites, spots, wanted

from siting.candidates import best_places
from siting.clearance import Places, lay_out, margins, one_place
from siting.demands import demands
from siting.feasible import ORIENTATIONS_DEG, feasible_ground
from siting.installation import standing
from siting.requirements import Question
from siting.separations import judge
from siting.site import Ground, WaterLevel
from siting.uncertainty import Verdict, coverage_factor

CLEAR_M = 1e-4
"Nearer to a limit than this, rounding may decide; such cases are set aside."
ARC_M = 1e-3
"The ground on a side is drawn with an arc of pieces, up to 0.4 mm outside the true one in 10 m; here it reaches 20 m."
ROUNDING_M, ROUNDING_M2 = 1e-6, 1e-3
ON_THE_LAND = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
UP_GRADIENT = 'for = ["pit"]\nfrom = ["well"]\nat_least_m = 20\nside = "up-gradient"\noutline = "enclosure"'
FALLS_EAST = tuple(
    WaterLevel(name=name, x_m=x, y_m=y, level_m=10.0 - 0.01 * x)
    for name, x, y in (("a", 0.0, 0.0), ("b", 100.0, 0.0), ("c", 0.0, 100.0))
)
WATERED = Ground(levels=FALLS_EAST)
bodies = st.lists(rule_bodies(), min_size=1, max_size=4)


def _land(of):
    return shapely.union_all([boundary.geometry for boundary in of.boundaries])


def _smallest(of, by, installation, x, y, turn):
    """The smallest margin that must hold at each of several places."""
    laid = lay_out([r for r in asked(of, by, installation).requirements if r.is_must], installation)
    return margins(laid, Places(x_m=x, y_m=y, orientation_deg=turn)).min(axis=1)


def _turned(x, y, turn_deg, shift):
    """A point turned clockwise about the origin and moved."""
    t = radians(turn_deg)
    return x * cos(t) + y * sin(t) + shift[0], -x * sin(t) + y * cos(t) + shift[1]


def _moved(of, turn_deg, shift):
    """The whole site turned clockwise and moved, with its water."""

    def move(geometry):
        return affinity.translate(affinity.rotate(geometry, -turn_deg, origin=(0, 0)), *shift)

    levels = []
    for level in of.ground.levels:
        x, y = _turned(level.x_m, level.y_m, turn_deg, shift)
        levels.append(replace(level, x_m=x, y_m=y))
    features = tuple(replace(f, geometry=move(f.geometry)) for f in of.features)
    return replace(of, features=features, ground=replace(of.ground, levels=tuple(levels)))


@held(
    of=sites(ground=WATERED), installation=wanted(), some=bodies, at=places,
    turn_deg=bearings_deg, shift=st.tuples(st.floats(-2000.0, 2000.0), st.floats(-2000.0, 2000.0)),
)  # fmt: skip
def test_moving_or_turning_the_whole_site_changes_no_verdict(of, installation, some, at, turn_deg, shift):
    """Boundary, buildings, water and place together: every row stays what it was."""
    by = pack(*some, UP_GRADIENT)
    laid = lay_out(asked(of, by, installation).requirements, installation)
    assume(all(abs(m) > CLEAR_M for m in margins(laid, one_place(*at))[0]))
    there = (*_turned(at[0], at[1], turn_deg, shift), at[2] + turn_deg)
    before, after = (
        judged(of, by, installation, at),
        judged(_moved(of, turn_deg, shift), by, installation, there),
    )

    assert [(r.rule.id, r.verdict) for r in before] == [(r.rule.id, r.verdict) for r in after]
    assert [r.margin for r in before] == pytest.approx([r.margin for r in after], abs=ARC_M)


@held(
    of=sites(ground=WATERED), some=bodies, turn_deg=bearings_deg,
    shift=st.tuples(st.floats(-2000.0, 2000.0), st.floats(-2000.0, 2000.0)),
)  # fmt: skip
def test_moving_or_turning_changes_no_verdict_of_what_stands(of, some, turn_deg, shift):
    """The same for latrines that stand already, drawn as points or outlines."""
    by = pack(*some, UP_GRADIENT)

    def rows(this):
        question = Question(site=this, packs=(by,), words=WORDS)
        latrines = [standing(f, WORDS) for f in this.features if f.kind == "pit latrine"]
        asked_ = [demands(question, latrine) for latrine in latrines]
        # On the very line rounding decides whether it is a neighbour's.
        assume(all(shapely.distance(_land(this).boundary, d.installation.pit.geometry) > CLEAR_M for d in asked_))
        for one in asked_:
            laid = lay_out(one.requirements, one.installation)
            if laid.requirements:
                assume(all(abs(m) > CLEAR_M for m in margins(laid, one_place(0.0, 0.0))[0]))
        return [row for one in asked_ for row in judge(one, this.features, confidence=this.confidence)]

    before, after = rows(of), rows(_moved(of, turn_deg, shift))

    # Of two features that are equally near, rounding says which one governs.
    assert [(r.rule.id, r.verdict) for r in before] == [(r.rule.id, r.verdict) for r in after]


@held(of=sites(ground=WATERED), installation=wanted(), some=bodies, one_more=rule_bodies(), sided=st.booleans())
def test_a_rule_more_never_enlarges_the_ground(of, installation, some, one_more, sided):
    """A rule takes ground or leaves it, nominal and confident alike."""
    land = _land(of)
    first = [*some, UP_GRADIENT] if sided else some
    fewer, more = (
        feasible_ground(asked(of, pack(*these), installation).requirements, installation, land, confidence=0.95)
        for these in (first, [*first, one_more])
    )

    assert more.nominal.difference(fewer.nominal).area <= ROUNDING_M2
    assert more.confident.difference(fewer.confident).area <= ROUNDING_M2
    assert more.confident.difference(more.nominal).area <= ROUNDING_M2


@held(of=sites(), installation=wanted(), some=bodies, at=places, factor=st.sampled_from([0.0, 1.5, 10.0]))
def test_more_doubt_never_turns_a_failure_into_a_pass_or_back(of, installation, some, at, factor):
    """Larger errors move verdicts towards too close to call, and never across it."""
    by = pack(*some)
    doubtful = replace(of, features=tuple(replace(f, sigma_m=0.5 + f.sigma_m * factor) for f in of.features))
    certain = replace(of, features=tuple(replace(f, sigma_m=0.0) for f in of.features))
    for sharp, vague in ((certain, of), (certain, doubtful)):
        pairs = zip(judged(sharp, by, installation, at), judged(vague, by, installation, at), strict=True)
        for before, after in pairs:
            assert (before.rule.id, before.limit.relation) == (after.rule.id, after.limit.relation)
            assert {Verdict.MEETS, Verdict.FAILS} != {before.verdict, after.verdict}


@held(of=sites(), installation=wanted(), some=bodies)
def test_candidates_pass_and_their_bound_is_never_beaten(of, installation, some):
    """Every candidate passes the exact check; no place of a dense grid is better than the bound.

    Where the best margin is negative, the bound says whether that is proved.
    """
    land, by = _land(of), pack(*some, ON_THE_LAND)
    found = best_places(
        asked(of, by, installation).requirements, installation, land, count=2, gap_m=0.5, spacing_m=10.0
    )
    best = found[0]
    for candidate in found if best.margin_m > CLEAR_M else ():
        rows = judged(of, by, installation, (candidate.x_m, candidate.y_m, candidate.orientation_deg))
        assert candidate.margin_m <= min(row.margin for row in rows) + ROUNDING_M
    dense = grid(land, 5.0)
    turns = ORIENTATIONS_DEG if installation.turns else (installation.orientation_deg or 0.0,)
    top = max(
        _smallest(of, by, installation, dense[:, 0], dense[:, 1], np.full(len(dense), turn)).max() for turn in turns
    )

    assert top <= best.bound_m + ROUNDING_M
    assert best.margin_m <= best.bound_m <= best.margin_m + 0.5 + ROUNDING_M


@held(of=sites(ground=WATERED), installation=wanted(), some=bodies, sided=st.booleans())
def test_no_place_inside_the_ground_drawn_fails(of, installation, some, sided):
    """Up to its very corners every place drawn keeps every requirement, in some orientation that was tried.

    Of the confident ground it keeps the guard bands as well.
    """
    by = pack(*some, ON_THE_LAND, *([UP_GRADIENT] if sided else []))
    asked_ = asked(of, by, installation)
    ground = feasible_ground(asked_.requirements, installation, _land(of), confidence=0.95)
    laid = lay_out(asked_.requirements, installation)
    turns = ORIENTATIONS_DEG if installation.turns else (installation.orientation_deg or 0.0,)
    for drawn, factor in ((ground.nominal, 0.0), (ground.confident, coverage_factor(0.95))):
        corners = shapely.get_coordinates(drawn)
        if not len(corners):
            continue
        kept = [_least(laid, corners, turn, factor) for turn in turns]
        assert np.max(kept, axis=0).min() >= -ROUNDING_M - laid.jump_m


def _least(laid, corners, turn_deg, factor):
    """The smallest margin at each corner, less the guard band."""
    turn = np.full(len(corners), turn_deg)
    margin = margins(laid, Places(x_m=corners[:, 0], y_m=corners[:, 1], orientation_deg=turn))
    return (margin - factor * laid.sigma_m).min(axis=1)


@held(of=sites(), installation=wanted(), some=bodies, spot=spots)
def test_a_place_that_clearly_meets_everything_is_drawn(of, installation, some, spot):
    """Rounding outward costs little: what keeps 0.2 m to spare in a tried orientation is on the ground."""
    by = pack(*some, ON_THE_LAND)
    ground = feasible_ground(asked(of, by, installation).requirements, installation, _land(of), confidence=0.95)
    turns = ORIENTATIONS_DEG if installation.turns else (installation.orientation_deg or 0.0,)
    x, y = (np.full(len(turns), value) for value in spot)
    spare_m = _smallest(of, by, installation, x, y, np.array(turns)).max()

    assert spare_m < 0.2 or ground.nominal.covers(shapely.points(*spot))


PROPERTIES = [
    test_moving_or_turning_the_whole_site_changes_no_verdict,
    test_moving_or_turning_changes_no_verdict_of_what_stands,
    test_a_rule_more_never_enlarges_the_ground,
    test_more_doubt_never_turns_a_failure_into_a_pass_or_back,
    test_candidates_pass_and_their_bound_is_never_beaten,
    test_no_place_inside_the_ground_drawn_fails,
    test_a_place_that_clearly_meets_everything_is_drawn,
]


@pytest.mark.slow
@pytest.mark.parametrize("check", PROPERTIES, ids=lambda check: check.__name__)
def test_properties_hold_on_many_more_sites(check):
    """Each of the above on hundreds of sites."""
    check.thorough()
