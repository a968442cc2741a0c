"""The ground a pit closes to wells: the largest distance in force, rounded outward, a neighbour's land told apart."""

from math import pi

import pytest
import shapely
from conftest import new, pack
from shapely.geometry import Point

from siting.installation import disc, rectangle
from siting.no_well_ground import no_well_ground

LAND = shapely.box(0.0, 0.0, 100.0, 100.0)
THIRTY = 'id = "thirty"\nfor = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 30'
OUTWARD = 1.0007
"A drawn zone reaches at most 0.7 mm a metre beyond the true one."


def _closed(*rules, at=(50.0, 50.0), pit=None, land=LAND, **attributes):
    installation = new(pit=pit or disc(1.5), **attributes)
    drawn = installation.pit.drawn_at(*at, 0.0)
    return no_well_ground(pack(*rules).rules, installation, drawn, land)


def test_a_disc_of_the_limit_and_the_pit_is_closed():
    """30 m round a pit of 0.75 m: a disc of 30.75 m, never smaller."""
    closed = _closed(THIRTY)

    assert 30.0 == closed.radius_m
    # The pit is drawn with 64 straight sides; the zone is rounded outward.
    assert closed.area_m2 == pytest.approx(pi * 30.75**2, rel=2e-3)
    assert Point(50.0, 50.0).buffer(30.74).within(closed.geometry)
    assert 0.0 == closed.beyond_boundary_m2


def test_a_round_polygon_of_a_rectangle_keeps_its_corners():
    """Steiner: area + perimeter times radius + a disc (convex outlines; closed form)."""
    closed = _closed(THIRTY, pit=rectangle(4.0, 2.0))
    exact = 8.0 + 12.0 * 30.0 + pi * 900.0

    assert exact <= closed.area_m2 <= exact * OUTWARD**2


def test_ground_of_the_neighbour_is_counted_apart():
    """A pit in the very corner closes three quarters beyond the wall; without a wall, all of it is beyond."""
    corner = _closed(THIRTY, at=(0.0, 0.0))

    assert corner.beyond_boundary_m2 == pytest.approx(0.75 * corner.area_m2, rel=1e-6)
    open_ground = _closed(THIRTY, land=None)
    assert open_ground.beyond_boundary_m2 == open_ground.area_m2


def test_the_largest_limit_in_force_governs():
    """Of several rules the one that closes most is named."""
    closed = _closed(THIRTY, THIRTY.replace("30", "50").replace("thirty", "fifty"))

    assert ("code/fifty", 50.0) == (closed.rule.full_id, closed.radius_m)


@pytest.mark.parametrize(
    "rule",
    [
        THIRTY + '\nstrength = "should"',
        THIRTY.replace("well", "ward"),
        THIRTY.replace("pit latrine", "septic tank"),
        THIRTY.replace("at_least", "at_most"),
    ],
    ids=["advice", "another feature", "another installation", "a most"],
)
def test_what_keeps_no_well_away_closes_nothing(rule):
    """Advice, other kinds and limits the other way round close no ground."""
    assert _closed(rule) is None


def test_a_condition_on_the_unsunk_well_takes_the_stricter_reading():
    """Nobody knows the casing of a well that is not there: 50 m for the short one counts."""
    by_casing = 'id = "casing"\nfor = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 50\n'
    closed = _closed(THIRTY, by_casing + 'when = { "feature.casing_m" = { below = 6 } }')

    assert 50.0 == closed.radius_m


def test_a_table_over_the_unsunk_well_is_taken_at_its_largest():
    """A limit interpolated over an attribute of the well: the most of the table."""
    by_soil = (
        'id = "soil"\nfor = ["pit latrine"]\nfrom = ["well"]\n'
        'at_least_m_by = { attribute = "feature.soil_depth_m", points = [[1.2, 40], [3.0, 30]] }'
    )

    assert 40.0 == _closed(by_soil).radius_m


def test_a_side_counts_on_every_side():
    """A rule for the ground up-gradient of a well closes all round: where the well will be is not known."""
    closed = _closed(THIRTY + '\nside = "up-gradient"')

    assert 30.0 == closed.radius_m
    assert shapely.Point(50.0, 80.0).within(closed.geometry)
    assert shapely.Point(50.0, 20.0).within(closed.geometry)
