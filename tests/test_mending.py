"""Where a standing installation would meet: the nearest such place, by closed forms and by brute force."""

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest
import shapely
from conftest import WORDS, feature, grid, pack, plot, site

from siting.clearance import Places, lay_out, margins, one_place
from siting.demands import demands
from siting.installation import Outline, standing
from siting.mending import nearest_place
from siting.requirements import Question
from siting.site import Ground

ON_THE_LAND = 'id = "land"\nfor = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"'
OFF_WELL = 'id = "well"\nfor = ["pit"]\nfrom = ["well"]\nat_least_m = 20'
NEAR_WARD = 'id = "near"\nfor = ["pit"]\nfrom = ["ward"]\nat_most_m = 15'
OUTWARD_M = 0.03
"A zone of some twenty metres is drawn outward by up to 0.7 mm a metre."
LAND = shapely.box(0.0, 0.0, 100.0, 60.0)


def _nearest(latrine, *things, rules=(ON_THE_LAND, OFF_WELL), land=LAND, **about):
    of = site(plot(land), latrine, *things, **about)
    asked = demands(Question(site=of, packs=(pack(*rules),), words=WORDS), standing(latrine, WORDS))
    return nearest_place(asked, land), asked


def _latrine(where, **more):
    return feature("pit latrine", "Latrine", where, **more)


@pytest.mark.parametrize(("at", "moved_m"), [((50.0, 30.0), 20.0), ((55.0, 30.0), 15.0), ((53.0, 34.0), 15.0)])
def test_one_well_is_left_straight_away(at, moved_m):
    """A point 0, 5 and 5 m from a well has 20, 15 and 15 m to go (closed form)."""
    mending, _ = _nearest(_latrine(at), feature("well", "Well", (50.0, 30.0)))

    assert "Latrine" == mending.installation
    assert moved_m <= mending.moved_m <= moved_m + OUTWARD_M
    assert mending.moved_m == pytest.approx(hypot(mending.x_m - at[0], mending.y_m - at[1]))
    assert 0.0 <= mending.margin_m <= OUTWARD_M


def test_the_radius_of_pit_and_well_count():
    """0.75 m of pit and 0.6 m of well are as much farther to go."""
    mending, _ = _nearest(_latrine((55.0, 30.0), radius_m=0.75), feature("well", "Well", (50.0, 30.0), radius_m=0.6))

    assert 16.35 <= mending.moved_m <= 16.35 + OUTWARD_M


def test_between_two_wells_the_way_leads_out_sideways():
    """Wells 24 m apart: from the middle, sqrt(20^2 - 12^2) = 16 m square to the line between them (closed form)."""
    wells = (feature("well", "One", (38.0, 30.0)), feature("well", "Two", (62.0, 30.0)))
    mending, _ = _nearest(_latrine((50.0, 30.0)), *wells)

    assert sqrt(20.0**2 - 12.0**2) <= mending.moved_m <= 16.0 + 2.0 * OUTWARD_M
    assert min(abs(mending.bearing_deg - b) for b in (0.0, 180.0, 360.0)) <= 2.0


def test_far_away_is_found_in_wider_circles():
    """A row of wells shuts all ground for 90 m: the place beyond is found, though the first circle holds none."""
    wells = [feature("well", f"W{n}", (x, 10.0)) for n, x in enumerate(range(0, 100, 10))]
    land = shapely.box(0.0, 0.0, 200.0, 20.0)
    mending, _ = _nearest(_latrine((0.0, 10.0)), *wells, land=land)

    # The last well at x = 90, a corner of the land 10 m off its line: 90 + sqrt(20^2 - 10^2) east (closed form).
    exact_m = hypot(90.0 + sqrt(300.0), 10.0)
    assert exact_m - 0.001 <= mending.moved_m <= exact_m + 2.0 * OUTWARD_M


def test_what_is_drawn_keeps_its_orientation():
    """A long outline that lies east to west is moved and not turned: half its length is kept clear too."""
    long = _latrine(shapely.box(46.0, 29.0, 54.0, 31.0))
    mending, asked = _nearest(long, feature("well", "Well", (50.0, 22.0)))

    # Northward its whole south side keeps 20 m: from y = 29 to 42.
    assert 13.0 <= mending.moved_m <= 13.0 + OUTWARD_M
    moved = shapely.transform(long.geometry, lambda xy: xy + np.array([mending.x_m - 50.0, mending.y_m - 30.0]))
    assert shapely.distance(moved, shapely.Point(50.0, 22.0)) >= 20.0
    assert asked.installation.pit.geometry.equals(long.geometry)


def test_no_place_is_no_answer():
    """On a plot too small for it there is nothing to say."""
    mending, _ = _nearest(_latrine((5.0, 5.0)), feature("well", "Well", (6.0, 5.0)), land=shapely.box(0, 0, 12, 10))

    assert mending is None


def test_what_is_the_same_everywhere_cannot_be_walked_away_from():
    """Too little depth to water stays so wherever it stands."""
    latrine = _latrine((50.0, 30.0), attributes={"pit_depth_m": 3.0})
    water = 'id = "water"\nfor = ["pit"]\nmeasure = "above water table"\nat_least_m = 1.5'
    mending, _ = _nearest(latrine, rules=(ON_THE_LAND, water), ground=Ground(highest_water_depth_m=3.0))

    assert mending is None


def test_near_and_far_at_once():
    """At least 20 m from a well and at most 15 m from a ward: the lens that is left is gone to."""
    mending, _ = _nearest(
        _latrine((40.0, 30.0)), feature("well", "Well", (40.0, 30.0)),
        feature("ward", "Ward", shapely.box(70.0, 25.0, 80.0, 35.0)), rules=(ON_THE_LAND, OFF_WELL, NEAR_WARD),
    )  # fmt: skip

    assert 20.0 <= mending.moved_m <= 20.0 + OUTWARD_M
    assert shapely.distance(shapely.box(70.0, 25.0, 80.0, 35.0), shapely.Point(mending.x_m, mending.y_m)) <= 15.0


@pytest.mark.parametrize("seed", range(5))
def test_no_place_of_a_dense_grid_is_nearer(seed):
    """Brute force over every half metre, and the place itself keeps every rule."""
    chance = np.random.default_rng(seed)
    wells = [feature("well", f"W{n}", tuple(chance.uniform((10, 10), (90, 50)))) for n in range(3)]
    at = chance.uniform((20, 20), (80, 40))
    latrine = _latrine(tuple(at), radius_m=0.75)
    mending, asked = _nearest(latrine, *wells)
    free = Outline(geometry=shapely.Point(0.0, 0.0), radius_m=0.75)

    movable = replace(asked.installation, pit=free, enclosure=free)
    laid = lay_out(asked.requirements, movable)
    spots = grid(LAND, 0.5)
    clear = margins(laid, Places(x_m=spots[:, 0], y_m=spots[:, 1], orientation_deg=np.zeros(len(spots)))).min(axis=1)
    away = np.hypot(*(spots - at).T)[clear >= 0.0]

    assert mending.moved_m <= away.min() + OUTWARD_M
    assert mending.margin_m >= 0.0
    assert margins(laid, one_place(mending.x_m, mending.y_m)).min() == pytest.approx(mending.margin_m, abs=1e-9)
