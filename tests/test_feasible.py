"""The ground where an installation may stand: rounded outward, nominal and confident, in some orientation."""

from math import pi

import pytest
import shapely
from conftest import (
    HOLED,
    LIMITS_10,
    LIMITS_30,
    ON_THE_LAND,
    POINT,
    SQUARE,
    ZOO,
    asked,
    feature,
    grid,
    judged,
    new,
    pack,
    plot,
    site,
)
from shapely.geometry import LineString, Point

from siting.feasible import ORIENTATIONS_DEG, feasible_ground
from siting.installation import disc, rectangle
from siting.site import Ground, WaterLevel
from siting.uncertainty import Verdict

ROUNDING_M2 = 1e-6
SHARE = 0.002
"A zone drawn outward is at most 0.2 % larger than the true one."
WELL_30 = 'for = ["pit"]\nfrom = ["well"]\nat_least_m = 30\n'
CENTRE = feature("well", "Well", (50.0, 50.0))


def _ground(of, body, installation=None, land=SQUARE, **more):
    by = body if hasattr(body, "rules") else pack(body)
    installation = installation or new()
    return feasible_ground(asked(of, by, installation).requirements, installation, land, confidence=0.95, **more)


def _zone(exact_m2: float, ground, land_m2: float = 10_000.0) -> None:
    """The ground taken away is the exact zone, rounded outward by no more than a share of it."""
    taken = land_m2 - ground.area

    assert exact_m2 - ROUNDING_M2 <= taken <= exact_m2 * (1.0 + SHARE)


def test_without_a_rule_all_the_land_is_left():
    """Nothing asked, nothing taken."""
    assert SQUARE.equals(_ground(site(), 'for = ["grave"]\nfrom = ["well"]\nat_least_m = 1').nominal)


@pytest.mark.parametrize(("pit", "radius_m"), [(POINT, 0.0), (disc(1.5), 0.75), (disc(4.0), 2.0)])
def test_a_well_takes_a_disc_of_the_limit_its_own_radius_and_that_of_the_pit(pit, radius_m):
    """pi (30 + 0.6 + r)^2, drawn outward."""
    of = site(feature("well", "Well", (50.0, 50.0), radius_m=0.6))

    _zone(pi * (30.6 + radius_m) ** 2, _ground(of, WELL_30, new(pit=pit)).nominal)


@pytest.mark.parametrize("sigma_m", [0.0, 0.5, 3.0])
def test_the_confident_ground_keeps_the_guard_band_off_too(sigma_m):
    """30 m and 1.6449 sigma; without an error it is the nominal ground."""
    ground = _ground(site(feature("well", "Well", (50.0, 50.0), sigma_m=sigma_m)), WELL_30)

    _zone(pi * (30.0 + 1.644854 * sigma_m) ** 2, ground.confident)
    _zone(pi * 30.0**2, ground.nominal)
    assert ground.nominal.covers(ground.confident)


def test_a_hole_in_the_land_is_kept_off_as_its_edge_is():
    """90 by 90 m within the plot, less the hole of 30 by 20 grown by 5: 30 x 20 + 100 x 5 + 25 pi."""
    _zone(1900.0 + 600.0 + 500.0 + 25.0 * pi, _ground(site(plot(HOLED)), ON_THE_LAND, land=HOLED).nominal)


@pytest.mark.parametrize("bearing_deg", [0.0, 90.0])
def test_a_rectangle_that_lies_fast_is_kept_in_by_its_own_sides(bearing_deg):
    """An enclosure of 8 by 4 m within the line: 92 by 96 m are left for its middle, exactly."""
    body = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
    installation = new(enclosure=rectangle(8.0, 4.0), orientation_deg=bearing_deg)

    assert 92.0 * 96.0 == pytest.approx(_ground(site(plot(SQUARE)), body, installation).nominal.area, abs=1e-6)


def test_a_rectangle_around_a_small_hole_is_kept_off_it():
    """A hole of a square metre under an enclosure of 3 by 3: 4 by 4 m around it are taken."""
    land = SQUARE.difference(shapely.box(49.5, 49.5, 50.5, 50.5))
    body = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
    installation = new(enclosure=rectangle(3.0, 3.0), orientation_deg=0.0)
    ground = _ground(site(plot(land)), body, installation, land).nominal

    assert 97.0 * 97.0 - 16.0 == pytest.approx(ground.area, abs=1e-6)


def test_near_enough_is_drawn_inward():
    """Within 20 m of a ditch of 40 m: 40 x 40 + pi 20^2 or a little less, and less again with an error."""
    of = site(feature("stream", "Ditch", LineString([(30, 50), (70, 50)]), sigma_m=1.0))
    ground = _ground(of, 'for = ["pit"]\nfrom = ["stream"]\nat_most_m = 20')
    exact, confident = 1600.0 + 400.0 * pi, 40.0 * 2.0 * 18.355 + pi * 18.355**2

    assert exact * (1.0 - SHARE) <= ground.nominal.area <= exact
    assert confident * (1.0 - SHARE) <= ground.confident.area <= confident + 0.1


def test_what_is_free_to_turn_may_stand_where_it_fits_in_some_orientation():
    """A strip of 6 m takes an enclosure of 8 by 4 lengthwise only."""
    strip = shapely.box(0.0, 0.0, 100.0, 6.0)
    body = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
    areas = [
        _ground(site(plot(strip)), body, new(enclosure=rectangle(8.0, 4.0), orientation_deg=turn), strip).nominal.area
        for turn in (None, 90.0, 0.0)
    ]

    assert 90.0 in ORIENTATIONS_DEG
    assert [92.0 * 2.0, 92.0 * 2.0, 0.0] == pytest.approx(areas, abs=1e-6)


def test_an_orientation_of_a_candidate_is_drawn_too():
    """Tilted by 10 degrees, the strip is too narrow for every orientation but its own."""
    strip = shapely.affinity.rotate(shapely.box(-50.0, -2.05, 50.0, 2.05), -10.0, origin=(0, 0))
    body = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\noutline = "enclosure"'
    of, installation = site(plot(strip)), new(enclosure=rectangle(8.0, 4.0))

    assert _ground(of, body, installation, strip).nominal.is_empty
    assert 9.0 < _ground(of, body, installation, strip, orientations_deg=(100.0,)).nominal.area


@pytest.mark.parametrize(
    ("body", "left"),
    [
        ('for = ["pit"]\nmeasure = "attribute"\nrequire = { "installation.sealed" = true }', False),
        ('for = ["pit"]\nmeasure = "attribute"\nrequire = { "installation.sealed" = false }', True),
        ('for = ["pit"]\nmeasure = "depth"\nat_least_m = 3', True),
        ('for = ["pit"]\nmeasure = "depth"\nmore_than_m = 3', False),
        ('for = ["pit"]\nmeasure = "depth"\nat_most_m = 2.9', False),
        ('for = ["pit"]\nmeasure = "depth"\nat_most_m = 2.9\nstrength = "should"', True),
    ],
)
def test_what_fails_everywhere_leaves_no_ground(body, left):
    """A must that is the same everywhere and fails empties the picture; advice does not."""
    assert left is not _ground(site(), body, new(depth_m=3.0)).nominal.is_empty


def test_advice_takes_no_ground():
    """Only what must hold is drawn."""
    assert SQUARE.equals(_ground(site(CENTRE), WELL_30 + 'strength = "should"').nominal)


def test_a_side_of_the_enclosure_is_kept_off_beside_a_distance_of_the_pit():
    """Ten metres round a well for the pit, thirty up-gradient of it for the enclosure: both are taken."""
    levels = tuple(
        WaterLevel(name=name, x_m=x, y_m=y, level_m=10.0 - 0.01 * x)
        for name, x, y in (("a", 0.0, 0.0), ("b", 100.0, 0.0), ("c", 0.0, 100.0))
    )
    of = site(plot(SQUARE), CENTRE, ground=Ground(levels=levels))
    around = 'for = ["pit"]\nfrom = ["well"]\nat_least_m = 10'
    above = 'for = ["pit"]\nfrom = ["well"]\nat_least_m = 30\nside = "up-gradient"\noutline = "enclosure"'
    installation = new(enclosure=rectangle(4.0, 3.0), orientation_deg=0.0)
    ground = _ground(of, pack(around, above), installation).nominal

    assert not ground.covers(Point(30.0, 50.0))
    assert not ground.covers(Point(59.0, 50.0))
    assert ground.covers(Point(65.0, 50.0))
    assert ground.area == pytest.approx(
        _ground(of, around, installation).nominal.intersection(_ground(of, above, installation).nominal).area
    )


def test_parts_come_largest_first_and_slivers_not_at_all():
    """The order does not depend on the order of the features; a square centimetre is no ground."""
    wall = feature("ward", "Wall", shapely.box(30.0, -1.0, 31.0, 101.0))
    ground = _ground(site(wall), 'for = ["pit"]\nfrom = ["ward"]\nat_least_m = 0').nominal

    assert [69.0 * 100.0, 30.0 * 100.0] == pytest.approx([part.area for part in ground.geoms])
    almost = shapely.box(0.0, 0.0, 30.001, 0.05)
    assert _ground(site(wall), 'for = ["pit"]\nfrom = ["ward"]\nat_least_m = 30', land=almost).nominal.is_empty


def test_no_ground_is_left_where_no_place_is():
    """The impossible site of the zoo is empty."""
    of = ZOO["impossible"]()
    ground = _ground(of, pack(LIMITS_30), land=of.boundaries[0].geometry)

    assert ground.nominal.is_empty
    assert ground.confident.is_empty


@pytest.mark.parametrize("turn_deg", [0.0, 20.0])
def test_ground_and_verdicts_agree_on_a_grid(turn_deg):
    """On the square plot of the zoo: no place drawn fails, and hardly any that meets is left out."""
    of, code = ZOO["square plot"](), pack(LIMITS_30, LIMITS_10, ON_THE_LAND)
    installation = new("placenta pit", pit=disc(1.5), enclosure=rectangle(4.0, 3.0), orientation_deg=turn_deg)
    ground = _ground(of, code, installation).nominal
    wrong = []
    for x, y in grid(SQUARE, 5.0):
        fails = any(row.margin < 0.0 for row in judged(of, code, installation, (x, y, turn_deg)))
        if fails is ground.covers(Point(x, y)) and shapely.distance(ground.boundary, Point(x, y)) > 0.05:
            wrong.append((x, y))

    assert [] == wrong
    assert (
        Verdict.MEETS is judged(of, code, installation, (*ground.representative_point().coords[0], turn_deg))[0].verdict
    )
