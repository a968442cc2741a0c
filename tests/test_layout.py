"""A site with several places wanted: reserves, the waste zone, and the plan checked like any that is handed in."""

from itertools import combinations

import pytest
import shapely
from conftest import WORDS, feature, pack, plot, site

from siting.errors import NoPlaceError
from siting.io.packs import load
from siting.layout import lay_out_site
from siting.site import Request
from siting.uncertainty import Verdict

LAND = shapely.box(0.0, 0.0, 60.0, 40.0)
ZONE = shapely.box(34.0, 4.0, 58.0, 36.0)
APART = 'id = "apart"\nfor = ["pit", "burner"]\nfrom = ["pit", "burner"]\nat_least_m = 5'
OFF_WELL = 'id = "well"\nfor = ["pit"]\nfrom = ["well"]\nat_least_m = 30'
HAIR_M = 1e-6


def _wanted(*kinds, **more):
    return tuple(Request(kind=kind, pit_depth_m=2.0, enclosure_m=(3.0, 2.5), **more) for kind in kinds)


def _laid(requests, *things, rules=(APART,), land=LAND, **more):
    of = site(plot(land), *things)
    return lay_out_site(of, (pack(*rules), load("ground")), WORDS, requests, **more)


def _stands(assessment):
    """The features that were put down, by name."""
    return {f.name: f for f in assessment.site.features if f.status == "proposed"}


def test_every_request_is_put_down_with_a_name_of_its_own():
    """Two of a kind are numbered; the plan then carries all of them as proposed, with both outlines."""
    laid = _laid(_wanted("ash pit", "sharps pit", "ash pit"))
    stands = _stands(laid)

    assert {"new ash pit", "new sharps pit", "new ash pit 2"} == set(stands)
    assert all(LAND.covers(f.enclosure) for f in stands.values())
    assert all(a.enclosure.distance(b.enclosure) >= 1.2 - HAIR_M for a, b in combinations(stands.values(), 2))


def test_a_reserve_is_kept_for_each_that_asks():
    """The successor stands on the plan too, as far from the first one as the code asks between pits."""
    laid = _laid((*_wanted("placenta pit", keep_reserve=True), *_wanted("ash pit")))
    stands = _stands(laid)

    assert {"new placenta pit", "reserve of new placenta pit", "new ash pit"} == set(stands)
    for a, b in combinations(stands.values(), 2):
        assert a.geometry.distance(b.geometry) - a.radius_m - b.radius_m >= 5.0 - HAIR_M


def test_a_marked_waste_zone_is_kept_to():
    """Its rule only advises, and a whole layout keeps to it nevertheless; without a zone the ground is free."""
    zone = feature("waste zone", "Zone", ZONE)
    kept, free = _laid(_wanted("ash pit", "sharps pit"), zone), _laid(_wanted("ash pit", "sharps pit"))

    assert 2 == len(_stands(kept))
    assert all(ZONE.covers(f.enclosure) for f in _stands(kept).values())
    assert not all(ZONE.covers(f.enclosure) for f in _stands(free).values())


def test_a_zone_too_small_is_a_conflict_and_is_not_left():
    """Three pits do not go into 6 m by 5 m: nothing is put down, and the verdict says so."""
    zone = feature("waste zone", "Zone", shapely.box(50, 30, 56, 35))
    laid = _laid(_wanted("ash pit", "sharps pit", "burial pit"), zone)

    assert {} == _stands(laid)
    assert Verdict.FAILS is laid.verdict
    assert 2 <= len(laid.arrangement.conflict)
    assert () == laid.arrangement.stands


def test_the_plan_is_checked_like_any_other():
    """Every rule of every pack has its row for each that was put down, and each keeps it."""
    well = feature("well", "Well", (5.0, 5.0))
    laid = _laid(_wanted("ash pit", "sharps pit"), well, rules=(APART, OFF_WELL))
    rows = [r for r in laid.separations if r.is_must]

    assert {"new ash pit", "new sharps pit"} == {r.installation for r in rows}
    assert {"code/apart", "code/well"} <= {r.rule.full_id for r in rows}
    assert {Verdict.MEETS} == {r.verdict for r in rows}
    smallest_m = min(r.margin_m for r in rows if r.margin_m is not None)
    assert laid.arrangement.margin_m <= smallest_m + HAIR_M


def test_what_is_the_same_everywhere_is_told_by_the_check():
    """A pit too deep for the water is put down by its distances, and fails where it is checked."""
    water = 'id = "water"\nfor = ["pit"]\nmeasure = "depth"\nat_most_m = 1.5'
    laid = _laid(_wanted("ash pit", "sharps pit"), rules=(APART, water))

    assert 2 == len(_stands(laid))
    assert Verdict.FAILS is laid.verdict


def test_keeping_a_margin_and_a_wider_strip_are_handed_on():
    """`keep_m` and `strip_m` reach the search."""
    kept = _laid(_wanted("ash pit", "sharps pit"), keep_m=1.0)
    wide = _laid(_wanted("ash pit", "sharps pit"), strip_m=9.0)
    a, b = _stands(wide).values()

    assert 1.0 <= kept.arrangement.margin_m < _laid(_wanted("ash pit", "sharps pit")).arrangement.margin_m
    assert a.enclosure.distance(b.enclosure) >= 9.0 - HAIR_M


@pytest.mark.parametrize("missing", ["boundary", "requests"])
def test_without_land_or_wishes_there_is_nothing_to_lay_out(missing):
    """Three parts, and which of the two is missing."""
    of = site(feature("well", "Well", (0, 0))) if missing == "boundary" else site(plot(LAND))
    with pytest.raises(NoPlaceError) as error:
        lay_out_site(of, (load("ground"),), WORDS, _wanted("ash pit") if missing == "boundary" else ())
    found = {"boundary": "no boundary is drawn", "requests": "nothing is wanted"}[missing]

    assert error.value.faults[0].found.endswith(found)


def test_nothing_of_the_site_is_changed_but_added_to():
    """What stood stands as it stood, in its order, before what is new."""
    well = feature("well", "Well", (5.0, 5.0))
    laid = _laid(_wanted("ash pit", "sharps pit"), well)

    assert ("Plot", "Well") == tuple(f.name for f in laid.site.features[:2])
    assert well is laid.site.features[1]
