"""What is placed or stands: outlines that move and turn, sizes, and the attributes rules ask for."""

from math import hypot

import numpy as np
import pytest
import shapely
from conftest import WORDS, feature
from shapely.geometry import Point

from siting.installation import Dimensions, disc, known_attributes, rectangle, standing, wanted
from siting.site import Request, Status

ROUNDING_M = 1e-9
SIZE = Dimensions(
    pit_length_m=1.0, pit_width_m=None, wall_m=0.23, depth_m=3.0,
    enclosure_length_m=4.0, enclosure_width_m=3.0,
)  # fmt: skip


def _moved(outline, x_m, y_m, bearing_deg):
    return outline.at(np.array([x_m]), np.array([y_m]), np.array([bearing_deg]))[0]


def test_a_rectangle_points_north_until_it_is_turned():
    """Its length lies north-south at bearing 0 and east-west at 90."""
    north, east = _moved(rectangle(4.0, 2.0), 10.0, 20.0, 0.0), _moved(rectangle(4.0, 2.0), 10.0, 20.0, 90.0)

    assert (9.0, 18.0, 11.0, 22.0) == pytest.approx(north.bounds, abs=ROUNDING_M)
    assert (8.0, 19.0, 12.0, 21.0) == pytest.approx(east.bounds, abs=ROUNDING_M)


def test_an_outline_turns_clockwise():
    """At bearing 30 the northern end of a long narrow shape has moved to the east."""
    corners = shapely.get_coordinates(_moved(rectangle(20.0, 0.01), 0.0, 0.0, 30.0))
    tip = corners[np.argmax(corners[:, 1])]

    assert (5.0, 8.66025) == pytest.approx(tuple(tip), abs=0.01)


def test_a_disc_is_a_point_with_a_radius():
    """Turning changes nothing of it, and no straight pieces come between it and its distances."""
    pit = disc(1.5)

    assert pit.is_disc
    assert (0.75, 0.0, 0.75) == (pit.radius_m, pit.reach_m, pit.circumradius_m)
    assert Point(3.0, 4.0) == _moved(pit, 3.0, 4.0, 77.0)


def test_the_reach_is_that_of_the_farthest_corner():
    """Half the diagonal of a rectangle."""
    assert hypot(2.0, 1.5) == pytest.approx(rectangle(4.0, 3.0).reach_m, abs=ROUNDING_M)
    assert not rectangle(4.0, 3.0).is_disc


def test_what_is_drawn_has_the_size_of_the_outline():
    """A disc is drawn as 64 sides; a rectangle as it is."""
    assert 0.75**2 * np.pi == pytest.approx(disc(1.5).drawn_at(5.0, 6.0, 0.0).area, rel=0.002)
    assert 65 == len(disc(1.5).drawn_at(5.0, 6.0, 0.0).exterior.coords)
    assert 12.0 == pytest.approx(rectangle(4.0, 3.0).drawn_at(5.0, 6.0, 33.0).area, abs=ROUNDING_M)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_a_size_that_cannot_be_is_refused(bad):
    """Nothing has a diameter or a side of zero, less, or not a number."""
    with pytest.raises(ValueError, match=r"diameter_m must be > 0"):
        disc(bad)
    with pytest.raises(ValueError, match=r"width_m must be > 0"):
        rectangle(1.0, bad)
    with pytest.raises(ValueError, match=r"length_m must be > 0"):
        rectangle(bad, 1.0)


def test_the_wall_stands_in_the_dug_hole():
    """The pit outline runs round the outside of the wall, round or rectangular."""
    round_ = wanted(Request(kind="placenta pit"), SIZE, WORDS)
    square = wanted(
        Request(kind="ash pit"),
        Dimensions(pit_length_m=2.0, pit_width_m=1.0, wall_m=0.25, depth_m=None,
                   enclosure_length_m=4.0, enclosure_width_m=3.0),
        WORDS,
    )  # fmt: skip

    assert 0.73 == pytest.approx(round_.outline("pit").radius_m, abs=ROUNDING_M)
    assert (-0.75, -1.25, 0.75, 1.25) == square.outline("pit").geometry.bounds
    assert (-1.5, -2.0, 1.5, 2.0) == round_.outline("enclosure").geometry.bounds


def test_what_is_wanted_knows_what_rules_ask_of_it():
    """What its kind takes for granted, what was asked for, and nothing that nobody said."""
    request = Request(kind="placenta pit", births_per_day=3.0, attributes={"lined": True, "sealed": True})
    installation = wanted(request, SIZE, WORDS)

    assert {
        "sealed": True, "lined": True, "births_per_day": 3.0, "pit_diameter_m": 1.0, "pit_depth_m": 3.0,
        "kind": "placenta pit", "status": "proposed",
    } == dict(installation.attributes)  # fmt: skip
    assert ("new placenta pit", 3.0, None, Status.PROPOSED) == (
        installation.name, installation.depth_m, installation.orientation_deg, installation.status,
    )  # fmt: skip


def test_only_something_free_and_not_round_turns():
    """A stated orientation, or outlines that are both discs, leave no direction to search for."""
    assert wanted(Request(kind="ash pit"), SIZE, WORDS).turns
    assert not wanted(Request(kind="ash pit", orientation_deg=0.0), SIZE, WORDS).turns
    round_ = wanted(Request(kind="ash pit"), SIZE, WORDS)
    assert not type(round_)(kind="ash pit", name="Pit", pit=round_.pit, enclosure=round_.pit).turns


def test_what_stands_has_both_outlines_where_it_is_drawn():
    """Pit and enclosure are the feature, with its radius; it keeps its name, status and attributes."""
    latrine = feature("pit latrine", "Old latrine", (3.0, 4.0), radius_m=0.8, status=Status.CLOSED)
    installation = standing(latrine, WORDS)

    assert installation.pit == installation.enclosure
    assert (Point(3.0, 4.0), 0.8) == (installation.pit.geometry, installation.pit.radius_m)
    assert ("Old latrine", Status.CLOSED) == (installation.name, installation.status)
    assert latrine is installation.stands_as
    assert {"sealed": False, "kind": "pit latrine", "status": "closed"} == dict(installation.attributes)


@pytest.mark.parametrize(
    ("attributes", "depth_m"),
    [
        ({}, None),
        ({"depth_m": 2}, 2.0),
        ({"depth_m": 2.0, "pit_depth_m": 3.5}, 3.5),
        ({"depth_m": "deep"}, None),
    ],
)
def test_the_depth_of_what_stands_is_a_recorded_number(attributes, depth_m):
    """`pit_depth_m` before `depth_m`; a word is no depth."""
    assert depth_m == standing(feature("pit latrine", "L", (0.0, 0.0), attributes=attributes), WORDS).depth_m


def test_what_was_recorded_overrules_what_is_taken_for_granted():
    """A pit latrine counts as unsealed until somebody says otherwise; an unknown kind assumes nothing."""
    assert known_attributes(feature("pit latrine", "L", (0.0, 0.0)), WORDS)["sealed"] is False
    sealed = feature("pit latrine", "L", (0.0, 0.0), attributes={"sealed": True})
    assert known_attributes(sealed, WORDS)["sealed"] is True
    odd = feature("unknown", "?", (0.0, 0.0))
    assert {"kind": "unknown", "status": "existing"} == known_attributes(odd, WORDS)
