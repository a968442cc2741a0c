"""Points as far apart as a square lets them be: the optima that are proved, through `arrange`.

Largest smallest distance of n points in the unit square.
Source: OEIS A281065, comments, which cites Finch, Mathematical Constants (2003), 8.2, and de Groot, Peikert and
Wuertz (1990): exact values seen there, and recomputed by a multistart search (own).
"""

from math import sqrt

import pytest
import shapely
from conftest import WORDS, new, pack, plot, site

from siting.arrangement import Wanted, arrange
from siting.demands import demands
from siting.requirements import Question

SIDE_M = 100.0
OPTIMA = {
    2: sqrt(2.0),  # OEIS A281065 (seen)
    3: sqrt(6.0) - sqrt(2.0),  # OEIS A281065 (seen)
    4: 1.0,  # OEIS A281065 (seen)
    5: sqrt(2.0) / 2.0,  # OEIS A281065 (seen)
    6: sqrt(13.0) / 6.0,  # OEIS A281065 (seen)
}
SPOTS = 120
"A coarse grid: the proof on it takes a moment only."
ROUNDING_M = 1e-6
ON_THE_LAND = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'


def _placed(number, apart_m):
    """Points in the square that have to keep a distance from one another."""
    apart = f'for = ["pit latrine"]\nfrom = ["pit latrine"]\nat_least_m = {apart_m!r}'
    square = site(plot(shapely.box(0.0, 0.0, SIDE_M, SIDE_M)))
    question = Question(site=square, packs=(pack(ON_THE_LAND, apart),), words=WORDS)
    wanted = [Wanted(demands=demands(question, new())) for _ in range(number)]
    return arrange(wanted, question, strip_m=0.0, most_spots=SPOTS)


def _nearest_two(arrangement):
    at = [shapely.Point(stand.x_m, stand.y_m) for stand in arrangement.stands]
    return min(one.distance(other) for n, one in enumerate(at) for other in at[:n])


@pytest.mark.parametrize("number", OPTIMA)
def test_the_optimum_less_a_diagonal_of_the_grid_is_reached(number):
    """Asked for the published distance less sqrt(2) steps, n points are placed and keep it."""
    step_m = SIDE_M / sqrt(SPOTS)
    apart_m = SIDE_M * OPTIMA[number] - sqrt(2.0) * step_m
    arrangement = _placed(number, apart_m)

    assert number == len(arrangement.stands)
    assert step_m == pytest.approx(arrangement.step_m)
    assert apart_m - ROUNDING_M <= _nearest_two(arrangement) <= SIDE_M * OPTIMA[number]


@pytest.mark.parametrize("number", OPTIMA)
def test_nothing_beats_the_optimum_by_more_than_the_grid(number):
    """Asked for more than the published distance there is no arrangement; asked for sqrt(2) steps more, a proof."""
    step_m = SIDE_M / sqrt(SPOTS)
    beyond = _placed(number, SIDE_M * OPTIMA[number] + 0.01)
    far_beyond = _placed(number, SIDE_M * OPTIMA[number] + 2.0 * sqrt(2.0) * step_m)

    assert () == beyond.stands
    assert beyond.margin_m < 0.0
    assert () == far_beyond.stands
    assert far_beyond.proved
    assert far_beyond.bound_m < 0.0


@pytest.mark.parametrize("number", OPTIMA)
def test_the_bound_is_never_below_the_optimum(number):
    """Points that keep m from the edge and a d less m from one another: m is (d side - asked) / (1 + 2 d) (own).

    That margin is reachable, so no bound may lie below it.
    """
    apart_m = SIDE_M * OPTIMA[number] - 20.0
    largest_m = (SIDE_M * OPTIMA[number] - apart_m) / (1.0 + 2.0 * OPTIMA[number])
    arrangement = _placed(number, apart_m)

    assert arrangement.bound_m >= largest_m - ROUNDING_M
    assert arrangement.margin_m <= largest_m + ROUNDING_M
