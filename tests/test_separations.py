"""Rows: value, limit, margin, verdict, the feature that governs, what it rests on, and what to do next."""

from math import nextafter

import pytest
import shapely
from conftest import HOLED, SQUARE, ZOO, asked, feature, judged, new, pack, plot, site
from shapely.geometry import LineString, Point

from siting.clearance import IN_PLACE
from siting.demands import demands
from siting.installation import disc, rectangle, standing
from siting.kinds import vocabulary
from siting.requirements import Question
from siting.separations import ceiled, floored, judge, overall
from siting.site import Ground, Status, Survey, WaterLevel
from siting.uncertainty import Verdict

EXACT = 1e-9
MEETS, FAILS, TOO_CLOSE = Verdict.MEETS, Verdict.FAILS, Verdict.TOO_CLOSE
AT_LEAST = 'for = ["pit"]\nfrom = ["well"]\nat_least_m = 30\n'
MORE_THAN = 'for = ["pit"]\nfrom = ["well"]\nmore_than_m = 30\n'
AT_MOST = 'for = ["pit"]\nfrom = ["ward"]\nat_most_m = 50\n'
LESS_THAN = 'for = ["pit"]\nfrom = ["ward"]\nless_than_m = 50\n'
INSIDE = 'for = ["pit"]\nfrom = ["boundary"]\nat_least_m = 5\n'
UP_GRADIENT = AT_LEAST + 'side = "up-gradient"\n'
FALLS_EAST = Ground(
    levels=tuple(
        WaterLevel(name=name, x_m=x, y_m=y, level_m=10.0 - 0.01 * x)
        for name, x, y in (("a", 0.0, 0.0), ("b", 100.0, 0.0), ("c", 0.0, 100.0))
    )
)
LOOKED = Survey(radius_m=100.0)


def _row(what, body, at=(0.0, 0.0), installation=None, **more):
    of = what if hasattr(what, "features") else site(*what, survey=LOOKED, **more)
    (row,) = judged(of, pack(body), installation or new(), at)
    return row


def _well(x_m, **more):
    return [feature("well", "Well", (x_m, 0.0), **more)]


def _ward(x_m):
    return [feature("ward", "Ward", (x_m, 0.0))]


# --- verdicts ---


@pytest.mark.parametrize(
    ("body", "things", "exactly", "above", "below"),
    [
        (AT_LEAST, _well, MEETS, MEETS, FAILS),
        (MORE_THAN, _well, FAILS, MEETS, FAILS),
        (AT_MOST, _ward, MEETS, FAILS, MEETS),
        (LESS_THAN, _ward, FAILS, FAILS, MEETS),
    ],
    ids=["at least", "more than", "at most", "less than"],
)
def test_exactly_at_the_limit_is_met_unless_the_limit_is_strict(body, things, exactly, above, below):
    """With sigma zero the measured distance is the true one; a hundredth of a millimetre decides."""
    limit_m = 30.0 if things is _well else 50.0

    assert [exactly, above, below] == [_row(things(limit_m + step), body).verdict for step in (0.0, 1e-5, -1e-5)]


def test_noise_of_the_arithmetic_decides_nothing():
    """The next number below 30 is 30: verdicts are settled to the micrometre, and no coarser."""
    assert MEETS is _row(_well(nextafter(30.0, 0.0)), AT_LEAST).verdict
    assert FAILS is _row(_well(nextafter(30.0, 99.0)), MORE_THAN).verdict
    assert FAILS is _row(_well(30.0 - 2e-6), AT_LEAST).verdict


@pytest.mark.parametrize(
    ("distance_m", "verdict"),
    [(31.65, MEETS), (31.64, TOO_CLOSE), (30.0, TOO_CLOSE), (28.36, TOO_CLOSE), (28.35, FAILS)],
)
def test_three_zones_lie_around_a_limit(distance_m, verdict):
    """Sigma 1 m, confidence 0.95: guard bands of 1.645 m (JCGM 106:2012, Table 1, from memory)."""
    assert verdict is _row(_well(distance_m, sigma_m=1.0), AT_LEAST).verdict


@pytest.mark.parametrize(("confidence", "verdict"), [(0.90, MEETS), (0.95, TOO_CLOSE)])
def test_the_confidence_asked_for_decides_how_wide_the_zones_are(confidence, verdict):
    """1.4 sigma above the limit is enough for 90 % (1.28) and not for 95 % (1.64)."""
    assert verdict is _row(_well(31.4, sigma_m=1.0), AT_LEAST, confidence=confidence).verdict


@pytest.mark.parametrize("sigma_m", [0.0, 0.1, 5.0])
def test_the_numbers_of_a_row_belong_together(sigma_m):
    """Margin is distance less required; sigma and probability go with it."""
    row = _row(_well(27.5, sigma_m=sigma_m), AT_LEAST)

    assert (27.5, 30.0, -2.5, sigma_m) == (row.distance_m, row.required_m, row.margin_m, row.sigma)
    assert (27.5, 30.0, -2.5, "m") == (row.value, row.required, row.margin, row.unit)
    assert row.probability <= 0.5
    assert ("new pit latrine", "Well", "distance") == (row.installation, row.feature, row.measure)


# --- distances ---


@pytest.mark.parametrize("pit", [disc(2.0), rectangle(2.0, 2.0)], ids=["round", "square"])
@pytest.mark.parametrize("thing", [shapely.box(-5, -5, 5, 5), Point(0.3, 0.0)], ids=["building", "point"])
def test_what_overlaps_is_at_no_distance_and_short_by_the_whole_limit(pit, thing):
    """However deep one lies in the other, the row says 0 m and a margin of minus the limit."""
    body = 'for = ["pit"]\nfrom = ["ward"]\nat_least_m = 30'
    row = _row([feature("ward", "Ward", thing)], body, installation=new(pit=pit))

    assert (0.0, -30.0, FAILS) == (row.distance_m, row.margin_m, row.verdict)
    assert "must stand 30.00 m farther from Ward" == row.action


@pytest.mark.parametrize(
    ("at", "distance_m", "verdict"),
    [
        ((20.0, 50.0), 20.0, MEETS),
        ((5.0, 50.0), 5.0, MEETS),
        ((4.0, 50.0), 4.0, FAILS),
        ((50.0, 50.0), -10.0, FAILS),
    ],
    ids=["well inside", "exactly", "too near the line", "in the hole"],
)
def test_a_distance_inside_is_to_the_line_and_negative_beyond_it(at, distance_m, verdict):
    """From the edge of the land, holes included; beyond it, how far back it is."""
    row = _row([plot(HOLED)], INSIDE, at)

    assert (pytest.approx(distance_m, abs=EXACT), verdict) == (row.distance_m, row.verdict)
    assert "Plot" == row.feature


def test_near_enough_names_the_nearest():
    """At most 50 m from any one ward: the nearest is named, whatever the order they were read in."""
    wards = [feature("ward", name, (x, 0.0)) for name, x in (("Far", 90.0), ("Near", 40.0), ("Beyond", 200.0))]
    row = _row(wards, AT_MOST)

    assert ("Near", 40.0, 10.0, MEETS) == (row.feature, row.distance_m, row.margin_m, row.verdict)


def test_near_enough_holds_each_feature_to_its_own_limit():
    """50 m from a ward that allows 10 m and 450 m from one that allows 100 m is near to neither."""
    by_beds = """
        for = ["pit"]
        from = ["ward"]
        at_most_m_by = { attribute = "feature.beds", points = [[0, 10], [100, 100]] }
    """
    small = feature("ward", "Small", (0.0, 0.0), attributes={"beds": 0})
    large = feature("ward", "Large", (500.0, 0.0), attributes={"beds": 100})

    assert FAILS is _row([small, large], by_beds, (50.0, 0.0)).verdict


def test_near_enough_is_not_near_itself():
    """A latrine within 50 m of another latrine is not its own neighbour."""
    latrines = [feature("pit latrine", name, (x, 0.0)) for name, x in (("A", 0.0), ("B", 70.0))]
    of, words = site(*latrines, survey=LOOKED), vocabulary()
    body = pack('for = ["pit latrine"]\nfrom = ["pit latrine"]\nat_most_m = 50')
    asked_ = demands(Question(site=of, packs=(body,), words=words), standing(of.named("A"), words))
    (row,) = judge(asked_, of.features, confidence=0.95, place=IN_PLACE)

    assert ("B", 70.0, FAILS) == (row.feature, row.distance_m, row.verdict)


def test_a_row_shows_the_shortest_line_and_its_bearing():
    """From the edge of the pit to the edge of the well, eastward."""
    row = _row(_well(40.0, radius_m=0.5), AT_LEAST, installation=new(pit=disc(2.0)))

    assert ((1.0, 0.0), (39.5, 0.0)) == (pytest.approx(row.start_xy), pytest.approx(row.end_xy))
    assert (pytest.approx(90.0), pytest.approx(38.5)) == (row.bearing_deg, row.distance_m)


def test_a_row_without_a_line_has_no_bearing():
    """What is the same everywhere points nowhere; what coincides neither."""
    fixed = _row([], 'for = ["pit"]\nmeasure = "attribute"\nrequire = { "installation.sealed" = true }')

    assert (None, None, None, "") == (fixed.bearing_deg, fixed.start_xy, fixed.distance_m, fixed.feature)
    assert _row(_well(0.0), AT_LEAST).bearing_deg is None


# --- what stands ---


@pytest.mark.parametrize(
    "drawn",
    [
        Point(30.0, 0.0).buffer(0.0001),
        shapely.box(30, -1, 32, 1),
        LineString([(30, -5), (30, 5)]),
        Point(30, 0),
    ],
    ids=["small polygon", "box", "line", "point"],
)
def test_what_stands_is_measured_where_it_is_drawn(drawn):
    """Point, line or polygon: 30 m from the well, wherever on the plan."""
    of, words = site(*_well(0.0), feature("pit latrine", "L", drawn), survey=LOOKED), vocabulary()
    asked_ = demands(Question(site=of, packs=(pack(AT_LEAST),), words=words), standing(of.named("L"), words))
    (row,) = judge(asked_, of.features, confidence=0.95)

    assert 30.0 == pytest.approx(row.distance_m, abs=0.001)
    assert ("L", "Well") == (row.installation, row.feature)


# --- one row a rule ---


def test_the_worst_feature_governs_and_the_others_are_counted():
    """Three wells too near: the nearest is shown and the row says that three fail."""
    wells = [feature("well", name, (x, 0.0)) for name, x in (("A", 25.0), ("B", 10.0), ("C", 20.0), ("D", 80.0))]
    row = _row(wells, AT_LEAST)

    assert ("B", 10.0) == (row.feature, row.distance_m)
    assert "3 features fail this rule; the worst is shown" in row.because


def test_the_least_likely_to_be_met_governs_and_not_the_nearest():
    """A sure 31 m is better than an unsure 33 m."""
    wells = [
        feature("well", "Sure", (31.0, 0.0)),
        feature("well", "Unsure", (0.0, 33.0), sigma_m=5.0),
    ]
    row = _row(wells, AT_LEAST)

    assert ("Unsure", TOO_CLOSE) == (row.feature, row.verdict)
    assert "fail this rule" not in row.because


def test_a_rule_with_two_limits_has_two_rows():
    """At least 6 m and at most 50 m: one row each."""
    of = site(feature("dwelling", "House", (3.0, 0.0)))
    rows = judged(of, pack('for = ["pit"]\nfrom = ["dwelling"]\nat_least_m = 6\nat_most_m = 50'), new())

    assert [("at_least", FAILS, -3.0), ("at_most", MEETS, 47.0)] == [
        (row.limit.relation, row.verdict, row.margin) for row in rows
    ]


# --- sides ---


@pytest.mark.parametrize(
    ("at", "distance_m", "margin_m", "verdict"),
    [
        ((-10.0, 0.0), 10.0, -20.0, FAILS),
        ((-29.0, 0.0), 29.0, -1.0, FAILS),
        ((-31.0, 0.0), 31.0, 1.0, MEETS),
        ((10.0, 0.0), 10.0, 10.0, MEETS),
    ],
    ids=["up-gradient", "near its end", "beyond it", "down-gradient"],
)
def test_a_rule_for_one_side_shows_the_distance_and_what_is_missing_of_it(at, distance_m, margin_m, verdict):
    """Water flows east. On the side it binds, margin is distance less limit; off it, the way back to it."""
    row = _row(site(*_well(0.0), ground=FALLS_EAST, survey=LOOKED), UP_GRADIENT, at)

    assert (pytest.approx(distance_m), verdict) == (row.distance_m, row.verdict)
    assert margin_m == pytest.approx(row.margin_m, abs=0.01)
    assert "applies up-gradient of Well" in row.because


@pytest.mark.parametrize("pit", [disc(2.0), rectangle(2.0, 2.0), rectangle(8.0, 0.5)], ids=str)
def test_no_outline_is_let_off_on_the_side_that_binds(pit):
    """10 m up-gradient of a well that asks for 30: fails, round or straight-edged."""
    row = _row(site(*_well(0.0), ground=FALLS_EAST, survey=LOOKED), UP_GRADIENT, (-10.0, 0.0), new(pit=pit))

    assert FAILS is row.verdict


def test_a_forbidden_side_says_which():
    """A side rule is put right by going round, not by going farther."""
    of = site(*_well(0.0), ground=FALLS_EAST, survey=LOOKED)
    row = _row(of, 'for = ["pit"]\nfrom = ["well"]\nmeasure = "side"\nnever = "up-gradient"', (-10.0, 0.0))

    assert (FAILS, "must not stand up-gradient of Well") == (row.verdict, row.action)


# --- what a row rests on ---


@pytest.mark.parametrize(("radius_m", "said"), [(None, True), (29.0, True), (30.0, False)])
def test_a_row_says_of_those_recorded_where_nobody_looked_far_enough(radius_m, said):
    """A recorded well does not prove that there is no nearer one."""
    row = _row(site(*_well(80.0), survey=Survey(radius_m=radius_m)), AT_LEAST)

    assert said is ("of those recorded" in row.because)


def test_a_row_says_what_counts_as_a_point_and_what_is_closed():
    """No size given; closed but still a hazard. With a size and in use, nothing is said."""
    bare = _row(_well(40.0, status=Status.CLOSED), AT_LEAST)
    sized = _row(_well(40.0, radius_m=0.6), AT_LEAST)

    assert "Well has no size given and counts as a point; Well is closed but stays a hazard" == bare.because
    assert "" == sized.because


# --- what to do ---


def test_what_meets_asks_for_nothing():
    """No action where nothing is wanting."""
    assert "" == _row(_well(40.0), AT_LEAST).action


@pytest.mark.parametrize(
    ("things", "body", "at", "action"),
    [
        (_well(27.004), AT_LEAST, (0.0, 0.0), "must stand 3.00 m farther from Well"),
        (_well(26.996), AT_LEAST, (0.0, 0.0), "must stand 3.01 m farther from Well"),
        ([plot(SQUARE)], INSIDE, (2.0, 50.0), "must stand 3.00 m farther inside Plot"),
        (_ward(53.2), AT_MOST, (0.0, 0.0), "must stand 3.20 m nearer to Ward"),
    ],
)
def test_what_fails_says_how_far_to_move_rounded_up(things, body, at, action):
    """To the centimetre, and never less than is missing."""
    assert action == _row(things, body, at).action


def test_what_is_too_close_says_which_length_to_tape_how_well_and_at_which_reading_it_is_settled():
    """Sigma 1 m, margin 0.5 m: settled by a sigma of 0.5 / 1.645 = 0.304 m, so to within 0.60 m at 95 %.

    A steel tape (0.02 m) meets from 30 + 1.645 x 0.02 = 30.04 m on.
    """
    row = _row(_well(30.5, sigma_m=1.0), AT_LEAST)

    assert (
        "tape new pit latrine to Well, nearest edges (about 30.50 m), to within 0.60 m; "
        "with a steel tape it meets at a reading of at least 30.04 m"
    ) == row.action


def test_the_tape_is_never_asked_for_more_than_it_can():
    """A margin of a millimetre is beyond any tape: 0.04 m at 95 % is the finest that is asked for."""
    assert "to within 0.04 m" in _row(_well(30.001, sigma_m=1.0), AT_LEAST).action


def test_near_enough_is_settled_by_a_reading_below_the_limit():
    """At most 50 m: 50 - 0.03 m is the largest reading that settles it."""
    of = [feature("ward", "Ward", (49.5, 0.0), sigma_m=1.0)]

    assert _row(of, AT_MOST).action.endswith("at a reading of at most 49.96 m")


def test_a_side_that_is_too_close_to_call_asks_which_side_it_is():
    """A few centimetres off the line between up- and down-gradient with a metre of uncertainty."""
    of = site(*_well(0.0, sigma_m=1.0), ground=FALLS_EAST, survey=LOOKED)
    row = _row(of, UP_GRADIENT, (0.5, 10.0))

    assert TOO_CLOSE is row.verdict
    assert row.action.startswith("settle on which side of Well it stands")


@pytest.mark.parametrize(
    ("body", "installation", "verdict", "action"),
    [
        (
            'for = ["pit"]\nmeasure = "attribute"\nrequire = { "installation.sealed" = true }',
            new(),
            FAILS,
            "needed: installation sealed is yes",
        ),
        ('for = ["pit"]\nmeasure = "depth"\nat_least_m = 2', new(depth_m=1.5), FAILS, "short by 0.50 m"),
        ('for = ["pit"]\nmeasure = "depth"\nat_most_m = 2', new(depth_m=2.5), FAILS, "over by 0.50 m"),
        ('for = ["pit"]\nmeasure = "depth"\nat_most_m = 2', new(depth_m=2.0), MEETS, ""),
    ],
)
def test_what_is_the_same_everywhere_says_what_is_needed(body, installation, verdict, action):
    """Attributes name what they have to be; depths how much is short or over."""
    row = _row([], body, installation=installation)

    assert (verdict, action) == (row.verdict, row.action)


# --- printing and the whole ---


@pytest.mark.parametrize(
    ("length_m", "down", "up"),
    [
        (29.999, "29.99", "30.00"),
        (30.0, "30.00", "30.00"),
        (0.1 + 0.2, "0.30", "0.30"),
        (-1.234, "-1.24", "-1.23"),
    ],
)
def test_lengths_are_rounded_so_that_they_never_flatter(length_m, down, up):
    """What is there is rounded down, what is missing up, and noise of the arithmetic moves neither."""
    assert (down, up) == (floored(length_m), ceiled(length_m))


@pytest.mark.parametrize(
    ("distance_m", "strength", "unassessed", "verdict"),
    [
        (40.0, "must", False, MEETS),
        (40.0, "must", True, Verdict.NOT_ASSESSED),
        (10.0, "must", True, FAILS),
        (10.0, "should", False, MEETS),
    ],
)
def test_the_gravest_must_decides_the_whole(distance_m, strength, unassessed, verdict):
    """Advice decides nothing; what was not assessed is worse than a pass and better than a failure."""
    rows = [_row(_well(distance_m), AT_LEAST + f'strength = "{strength}"')]

    assert verdict is overall(rows, unassessed=unassessed)


def test_every_site_of_the_zoo_is_judged(zoo_site, code, placenta_pit):
    """Rows come out wherever it is tried, with numbers in every one of them."""
    for row in judge(asked(zoo_site, code, placenta_pit), zoo_site.features, confidence=0.95, place=IN_PLACE):
        assert 0.0 <= row.probability <= 1.0
        assert row.margin == row.margin
        assert row.verdict is not Verdict.NOT_ASSESSED


def test_two_wells_of_two_sources_are_judged_by_their_own_errors():
    """In the zoo: 30 m from each; the well of the boundary's drawing is sharper than that of the receiver."""
    of = ZOO["two wells"]()
    drawn = judged(of, pack(AT_LEAST), new(), (52.0, 50.0))[0]

    assert ("Fixed well", TOO_CLOSE) == (drawn.feature, drawn.verdict)
