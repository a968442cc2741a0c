"""Rules made concrete: which requirements a site makes of an installation, and what cannot be assessed."""

from math import hypot

import pytest
import shapely
from conftest import HOLED, LIMITS_30, POINT, SQUARE, ZOO, asked, feature, new, pack, plot, site, two_wells
from shapely.geometry import LineString, Point

from siting.demands import demands
from siting.installation import rectangle, standing
from siting.kinds import vocabulary
from siting.requirements import Question, Sense
from siting.rules import Strength
from siting.site import Ground, SpotHeight, Status, Survey, WaterLevel

EXACT = 1e-9
WELL_30 = 'for = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 30\n'
LOOKED = Survey(radius_m=100.0)
FALLS_EAST = tuple(
    WaterLevel(name=name, x_m=x, y_m=y, level_m=10.0 - 0.01 * x)
    for name, x, y in (("a", 0.0, 0.0), ("b", 100.0, 0.0), ("c", 0.0, 100.0))
)


def _well(name: str = "Well", at: tuple[float, float] = (50.0, 50.0), **more):
    return feature("well", name, at, **more)


def _only(outcomes):
    (outcome,) = outcomes
    return outcome


def _of(of, body: str, installation=None):
    return asked(of, pack(body), installation or new())


def _as_it_stands(of, name: str, *packs):
    words = vocabulary()
    return demands(Question(site=of, packs=packs, words=words), standing(of.named(name), words))


# --- distances ---


def test_a_distance_is_kept_from_every_feature_of_its_kinds():
    """One requirement a feature, with its geometry, radius and position error; others are left alone."""
    ward = feature("ward", "Ward", shapely.box(0, 0, 5, 5))
    of = site(_well("W1", radius_m=0.6, sigma_m=0.3), _well("W2", (9.0, 9.0)), ward)
    one, two = _of(of, WELL_30).requirements

    assert [("W1", 0.6, 0.3), ("W2", 0.0, 0.0)] == [(r.feature.name, r.gap_m, r.sigma) for r in (one, two)]
    assert [(Sense.OUTSIDE, 30.0, 30.0, Point(50, 50)), (Sense.OUTSIDE, 30.0, 30.0, Point(9, 9))] == [
        (r.sense, r.limit_m, r.required, r.geometry) for r in (one, two)
    ]
    assert one.in_plan and one.is_must


def test_an_installation_keeps_no_distance_from_itself():
    """A latrine that stands is measured from the others only."""
    of = site(feature("pit latrine", "L1", (0.0, 0.0)), feature("pit latrine", "L2", (5.0, 0.0)))
    body = 'for = ["pit latrine"]\nfrom = ["pit latrine"]\nat_least_m = 3'

    assert ["L2"] == [r.feature.name for r in _as_it_stands(of, "L1", pack(body)).requirements]


def test_advice_does_not_decide():
    """A rule that only advises makes a requirement that is no must."""
    requirement = _only(_of(site(_well()), WELL_30 + 'strength = "should"').requirements)

    assert Strength.SHOULD is requirement.rule.strength
    assert not requirement.is_must


def test_a_rule_for_another_kind_asks_nothing():
    """Neither a requirement nor a row that is not assessed."""
    nothing = _of(site(_well()), WELL_30, new("ash pit"))

    assert ((), (), ()) == (nothing.requirements, nothing.unassessed, nothing.attested)


def test_a_distance_from_the_boundary_is_kept_inside_it():
    """Three metres from the boundary means three metres within the land, holes left out."""
    body = 'for = ["pit"]\nfrom = ["boundary"]\nat_least_m = 3\noutline = "enclosure"'
    requirement = _only(_of(site(plot(HOLED)), body).requirements)

    assert (Sense.INSIDE, 3.0) == (requirement.sense, requirement.limit_m)
    assert requirement.geometry.equals(HOLED)


def test_two_plots_are_one_land():
    """A boundary drawn in two parts is no line to keep away from where they meet."""
    halves = [plot(shapely.box(0, 0, 50, 100), "West"), plot(shapely.box(50, 0, 100, 100), "East")]
    body = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"'

    assert _only(_of(site(*halves), body).requirements).geometry.equals(SQUARE)


def test_a_zone_may_be_any_one_of_several():
    """Inside a waste zone means inside any of them: one requirement over their union."""
    zones = [feature("waste zone", n, shapely.box(x, 0, x + 10, 10)) for n, x in (("A", 0), ("B", 50))]
    requirement = _only(_of(site(*zones), 'for = ["pit"]\nfrom = ["waste zone"]\nmeasure = "inside"').requirements)

    assert 200.0 == requirement.geometry.area
    assert (Sense.INSIDE, 0.0) == (requirement.sense, requirement.limit_m)


def test_at_most_is_met_by_the_nearest_of_several():
    """One requirement over all of them; with one alone, it is named."""
    body = 'for = ["pit latrine"]\nfrom = ["ward"]\nat_most_m = 50'
    wards = [feature("ward", n, shapely.box(x, 0, x + 5, 5), sigma_m=s) for n, x, s in (("A", 0, 0.1), ("B", 90, 0.4))]
    both, alone = (_only(_of(site(*some), body).requirements) for some in (wards, wards[:1]))

    assert (Sense.WITHIN, None, 50.0, 0.4) == (both.sense, both.feature, both.limit_m, both.sigma)
    assert ("A", 0.1) == (alone.feature.name, alone.sigma)
    assert 0.0 == shapely.distance(both.geometry, Point(92, 2))


def test_a_least_and_a_most_are_two_requirements():
    """At least 6 m from every dwelling, at most 50 m from one of them."""
    dwellings = [feature("dwelling", n, (x, 0.0)) for n, x in (("A", 0.0), ("B", 40.0))]
    body = 'for = ["pit latrine"]\nfrom = ["dwelling"]\nat_least_m = 6\nat_most_m = 50'

    assert [Sense.OUTSIDE, Sense.OUTSIDE, Sense.WITHIN] == [r.sense for r in _of(site(*dwellings), body).requirements]


# --- conditions ---


@pytest.mark.parametrize(
    ("line", "casing_m", "asks", "unknown"),
    [
        ('when = { "feature.casing_m" = { below = 6 } }', 3, 1, 0),
        ('when = { "feature.casing_m" = { below = 6 } }', 8, 0, 0),
        ('when = { "feature.casing_m" = { below = 6 } }', None, 0, 1),
        ('unless = { "feature.casing_m" = { below = 6 } }', 3, 0, 0),
        ('unless = { "feature.casing_m" = { below = 6 } }', 8, 1, 0),
        ('unless = { "feature.casing_m" = { below = 6 } }', None, 0, 1),
        ('when = { "feature.casing_m" = { below = 6 } }\nif_unknown = "strict"', None, 1, 0),
        ('unless = { "feature.casing_m" = { below = 6 } }\nif_unknown = "strict"', None, 1, 0),
        ('when = { "feature.casing_m" = { below = 6 } }\nif_unknown = "strict"', 8, 0, 0),
    ],
)
def test_a_condition_puts_a_rule_in_force_out_of_it_or_in_doubt(line, casing_m, asks, unknown):
    """True applies, false does not; unknown is not assessed unless the rule takes its stricter branch."""
    of = site(_well(attributes={} if casing_m is None else {"casing_m": casing_m}))
    demanded = _of(of, WELL_30 + line)

    assert (asks, unknown, 0) == (
        len(demanded.requirements),
        len(demanded.unassessed),
        len(demanded.attested),
    )


def test_what_is_missing_is_named_with_whose_it_is():
    """The row says what to look for; the strict branch says what it took for granted."""
    doubt = _only(_of(site(_well()), WELL_30 + 'when = { "feature.casing_m" = { below = 6 } }').unassessed)
    strict = _of(site(_well()), WELL_30 + 'when = { "feature.casing_m" = { below = 6 } }\nif_unknown = "strict"')

    assert ("casing_m of Well not recorded", "casing_m of Well") == (doubt.reason, doubt.look_for)
    assert "casing_m not recorded: the stricter branch applies" == _only(strict.requirements).because


def test_conditions_ask_site_and_installation_too():
    """An attribute is looked up at its owner: the site's ground, what is wanted, the feature."""
    body = WELL_30 + 'when = { "site.material" = "sand", "installation.sealed" = false, "feature.status" = "existing" }'
    sand, clay = (site(_well(), ground=Ground(material=m)) for m in ("sand", "clay"))

    assert [1, 0] == [len(_of(of, body).requirements) for of in (sand, clay)]
    assert 0 == len(_of(sand, body, new(sealed=True)).requirements)
    assert 0 == len(_of(site(_well(status=Status.CLOSED), ground=sand.ground), body).requirements)


def test_the_attributes_of_each_feature_count_for_itself():
    """A cased well is exempt while the open one beside it is not."""
    body = WELL_30 + 'unless = { "feature.casing_m" = { at_least = 6 } }'
    of = site(_well("Cased", attributes={"casing_m": 9}), _well("Open", (9.0, 9.0), attributes={"casing_m": 2}))

    assert ["Open"] == [r.feature.name for r in _of(of, body).requirements]


# --- limits that depend on something ---

BY_SOIL = """
    for = ["pit latrine"]
    from = ["well"]
    at_least_m_by = { attribute = "site.soil_m", points = [[1, 40], [3, 30]] }
"""


@pytest.mark.parametrize(("soil_m", "required_m"), [(0.5, 40.0), (1.0, 40.0), (1.5, 37.5), (3.0, 30.0), (9.0, 30.0)])
def test_a_limit_over_an_attribute_runs_in_straight_lines_and_stays_level_beyond_its_ends(soil_m, required_m):
    """Between points by proportion (own arithmetic), beyond them the end value."""
    of = site(_well(), ground=Ground(attributes={"soil_m": soil_m}))

    assert required_m == pytest.approx(_only(_of(of, BY_SOIL).requirements).required, abs=EXACT)


def test_a_limit_over_an_unknown_attribute_is_not_assessed_or_the_strictest():
    """Nobody knows the soil: a row to fill, or the largest distance where the rule says so."""
    of = site(_well())
    doubt, strict = _of(of, BY_SOIL), _of(of, BY_SOIL + 'if_unknown = "strict"')

    assert "soil_m" in _only(doubt.unassessed).look_for
    assert () == doubt.requirements
    assert 40.0 == _only(strict.requirements).required


@pytest.mark.parametrize(
    ("attributes", "required_m"),
    [({"cut_m": 2.0}, 8.0), ({"cut_m": 2.0, "bank_m": 3.0}, 12.0), ({"cut_m": 2.0, "off_m": 0.5}, 6.0),
     ({"cut_m": 2.0, "off_m": 5.0}, 0.0)],
)  # fmt: skip
def test_a_multiple_is_of_the_largest_less_what_is_taken_off(attributes, required_m):
    """Four times the larger height, less an offset that never makes it negative (own arithmetic)."""
    both = '"feature.cut_m", "feature.bank_m"' if "bank_m" in attributes else '"feature.cut_m"'
    body = f"""
        for = ["pit latrine"]
        from = ["cut"]
        at_least_m_times = {{ times = 4, of = [{both}], less = "feature.off_m", less_if_unknown = 0 }}
    """
    of = site(feature("cut", "Cut", LineString([(0, 0), (9, 0)]), attributes=attributes))

    assert required_m == pytest.approx(_only(_of(of, body).requirements).required, abs=EXACT)


def test_a_multiple_of_what_nobody_measured_is_not_assessed():
    """The missing height is named; so is an offset without a default."""
    cut = site(feature("cut", "Cut", (0.0, 0.0)))
    body = 'for = ["pit latrine"]\nfrom = ["cut"]\nat_least_m_times = {{ times = 4, of = "feature.cut_m"{} }}'
    plain, less = (_of(cut, body.format(more)) for more in ("", ', less = "feature.off_m"'))

    assert "cut_m of Cut not recorded" == _only(plain.unassessed).reason
    assert "cut_m, off_m of Cut not recorded" == _only(less.unassessed).reason


# --- rules without a feature ---


@pytest.mark.parametrize(("sealed", "value"), [(True, 1.0), (False, 0.0)])
def test_an_attribute_rule_is_kept_or_not_wherever_it_stands(sealed, value):
    """It is the same everywhere: 1 where the attribute is as required, 0 where it is not."""
    body = 'for = ["pit"]\nmeasure = "attribute"\nrequire = { "installation.sealed" = true }'
    requirement = _only(_of(site(), body, new(sealed=sealed)).requirements)

    assert (Sense.FIXED, value, 1.0) == (requirement.sense, requirement.value, requirement.required)
    assert not requirement.in_plan
    assert "installation sealed is yes" == requirement.limit.as_written


def test_an_attribute_nobody_recorded_is_not_assessed_or_counts_as_wanting():
    """Unknown is a row to fill; where the rule is strict it fails and says why."""
    body = 'for = ["pit"]\nmeasure = "attribute"\nrequire = { "installation.lined" = true }\n'
    doubt, strict = _of(site(), body), _of(site(), body + 'if_unknown = "strict"')

    assert "lined of new pit latrine not recorded" == _only(doubt.unassessed).reason
    assert (0.0, "lined not recorded") == (
        _only(strict.requirements).value,
        _only(strict.requirements).because,
    )


def test_a_depth_rule_measures_the_pit():
    """At least and at most a depth; a pit of no known depth is not assessed."""
    body = 'for = ["pit"]\nmeasure = "depth"\nat_least_m = 2\nat_most_m = 4'
    least, most = _of(site(), body, new(depth_m=3.0)).requirements

    assert [(3.0, 2.0, True), (3.0, 4.0, False)] == [(r.value, r.required, r.limit.is_minimum) for r in (least, most)]
    assert "pit_depth_m of new pit latrine not recorded" == _only(_of(site(), body).unassessed).reason


# --- sides ---

UP_30 = WELL_30 + 'side = "up-gradient"\n'


def test_a_rule_for_one_side_keeps_off_that_side_only():
    """Water flows east: up-gradient of a well is west of it, out to the limit and its radius."""
    of = site(_well(radius_m=1.0), ground=Ground(levels=FALLS_EAST))
    requirement = _only(_of(of, UP_30).requirements)

    assert (0.0, 30.0, 0.0, True) == (
        requirement.limit_m, requirement.required, requirement.gap_m, requirement.sided,
    )  # fmt: skip
    assert requirement.geometry.covers(Point(50 - 31, 50))
    assert not requirement.geometry.covers(Point(50 - 31.01, 50))
    assert not requirement.geometry.covers(Point(50.1, 50))


def test_a_side_nobody_knows_is_not_assessed_or_holds_all_round():
    """Without levels there is no up-gradient; the strict branch holds on every side and says so."""
    doubt, strict = _of(site(_well()), UP_30), _of(site(_well()), UP_30 + 'if_unknown = "strict"')

    row = _only(doubt.unassessed)
    assert ("which way is up-gradient is not known", 30.0) == (row.reason, row.radius_m)
    assert "water levels in three wells or more" == row.look_for
    assert (30.0, False) == (_only(strict.requirements).limit_m, _only(strict.requirements).sided)
    assert "taken as if on every side" in _only(strict.requirements).because


@pytest.mark.parametrize(
    ("line", "forbidden", "allowed"),
    [('never = "up-slope"', (20, 50), (80, 50)), ('must_be = "up-slope"', (80, 50), (20, 50)),
     ('never = "up-slope"\nat_least_m = 40', (20, 50), (5, 50))],
)  # fmt: skip
def test_a_side_may_be_forbidden_or_demanded(line, forbidden, allowed):
    """The ground falls east: west is up-slope; `must_be` forbids the other side; a reach ends it."""
    heights = tuple(
        SpotHeight(x_m=x, y_m=y, height_m=9.0 - 0.1 * x) for x, y in ((0.0, 0.0), (100.0, 0.0), (0.0, 100.0))
    )
    of = site(_well(), ground=Ground(spot_heights=heights))
    requirement = _only(_of(of, f'for = ["pit latrine"]\nfrom = ["well"]\nmeasure = "side"\n{line}').requirements)

    assert requirement.geometry.covers(Point(forbidden))
    assert not requirement.geometry.covers(Point(allowed))
    assert requirement.sided


def test_a_side_rule_without_a_slope_is_not_assessed():
    """One row, whatever the number of features, saying what tells the direction."""
    body = 'for = ["pit latrine"]\nfrom = ["well"]\nmeasure = "side"\nnever = "up-slope"'
    row = _only(_of(site(_well("A"), _well("B", (0.0, 0.0))), body).unassessed)

    assert ("which way is up-slope is not known", "spot heights") == (row.reason, row.look_for)


# --- read the other way round ---


def test_a_new_well_keeps_what_latrines_keep_from_wells():
    """The same line that sites a latrine sites a well among latrines."""
    of = site(feature("pit latrine", "L1", (0.0, 0.0), radius_m=0.8), feature("pit latrine", "L2", (80.0, 0.0)))
    requirements = _of(of, WELL_30, new("well")).requirements

    assert [("L1", 30.0, 0.8), ("L2", 30.0, 0.0)] == [(r.feature.name, r.limit_m, r.gap_m) for r in requirements]


def test_what_stands_is_not_read_the_other_way_round():
    """The row of a well and a latrine that both stand belongs to the latrine alone."""
    of = site(_well(), feature("pit latrine", "L", (0.0, 0.0)))

    assert ["Well"] == [r.feature.name for r in _as_it_stands(of, "L", pack(WELL_30)).requirements]
    assert () == _as_it_stands(of, "Well", pack(WELL_30)).requirements


def test_attributes_change_places_when_a_rule_is_read_the_other_way_round():
    """`feature.casing_m` is then that of the new well, `installation.sealed` that of the standing latrine."""
    body = WELL_30 + 'when = { "feature.casing_m" = { below = 6 }, "installation.sealed" = false }'
    latrines = [
        feature("pit latrine", "Open", (0.0, 0.0)),
        feature("pit latrine", "Sealed", (9.0, 0.0), attributes={"sealed": True}),
    ]

    assert ["Open"] == [r.feature.name for r in _of(site(*latrines), body, new("well", casing_m=3)).requirements]
    assert () == _of(site(*latrines), body, new("well", casing_m=9)).requirements
    assert "casing_m" in _of(site(*latrines), body, new("well")).unassessed[0].look_for


def test_a_side_changes_when_a_rule_is_read_the_other_way_round():
    """No latrine up-gradient of a well: no new well down-gradient (east) of a latrine."""
    of = site(feature("pit latrine", "L", (50.0, 50.0)), ground=Ground(levels=FALLS_EAST))
    geometry = _only(_of(of, UP_30, new("well")).requirements).geometry

    assert geometry.covers(Point(70, 50))
    assert not geometry.covers(Point(40, 50))


def test_a_limit_nobody_can_tell_is_not_assessed_the_other_way_round_either():
    """The soil is not known: a row, and no silence."""
    of = site(feature("pit latrine", "L", (0.0, 0.0)))

    assert "soil_m" in _only(_of(of, BY_SOIL, new("well")).unassessed).look_for


def test_a_kind_on_both_ends_of_a_rule_is_asked_once():
    """Latrine from latrine: forward only, not a second time in reverse."""
    body = 'for = ["pit latrine"]\nfrom = ["pit latrine", "well"]\nat_least_m = 3'

    assert 1 == len(_of(site(feature("pit latrine", "L", (0.0, 0.0))), body).requirements)


def test_at_most_is_not_read_the_other_way_round():
    """A latrine near a ward does not make a new ward stand near latrines."""
    body = 'for = ["pit latrine"]\nfrom = ["ward"]\nat_most_m = 50'
    demanded = _of(site(feature("pit latrine", "L", (0.0, 0.0))), body, new("ward"))

    assert ((), ()) == (demanded.requirements, demanded.unassessed)


# --- nothing recorded ---


def test_nothing_recorded_is_not_a_pass():
    """No well drawn and nobody says there is none: not assessed, with what to look for and how far."""
    row = _only(_of(site(), WELL_30).unassessed)

    assert ("no well recorded, and nobody attests that there is none", "well", 30.0) == (
        row.reason, row.look_for, row.radius_m,
    )  # fmt: skip


def test_attested_absent_far_enough_out_is_met():
    """Somebody walked 30 m or more and says so; the statement goes with it."""
    of = site(absent={"well": "walked it"}, survey=Survey(radius_m=30.0))
    demanded = _of(of, WELL_30)

    assert ("walked it", 30.0) == (_only(demanded.attested).statement, _only(demanded.attested).radius_m)
    assert ((), ()) == (demanded.requirements, demanded.unassessed)


@pytest.mark.parametrize(
    ("radius_m", "reason"),
    [
        (None, "well attested absent, but how far was looked is not stated"),
        (29.9, "well attested absent, but looked only 29.9 m out"),
    ],
)
def test_attested_absent_not_far_enough_out_is_not_assessed(radius_m, reason):
    """A search that does not reach as far as the rule proves nothing."""
    row = _only(_of(site(absent={"well": "x"}, survey=Survey(radius_m=radius_m)), WELL_30).unassessed)

    assert (reason, 30.0) == (row.reason, row.radius_m)


def test_every_kind_of_a_rule_has_to_be_attested():
    """Wells are attested absent, springs and boreholes are not: the row names what is left."""
    looked = Survey(radius_m=50.0)
    body = 'for = ["pit latrine"]\nfrom = ["water source"]\nat_least_m = 30'
    part = _only(_of(site(absent={"well": "x"}, survey=looked), body).unassessed)
    whole = _of(site(absent={"water source": "x"}, survey=looked), body)

    assert "borehole or spring" == part.look_for
    assert "x" == _only(whole.attested).statement


def test_how_far_to_look_is_the_farthest_the_rule_may_reach():
    """Of a limit over an attribute, its largest value."""
    assert 40.0 == _only(_of(site(), BY_SOIL).unassessed).radius_m


@pytest.mark.parametrize("more", ["where_marked = true", 'when = { "installation.sealed" = true }'])
def test_a_rule_that_does_not_hold_leaves_nothing_to_look_for(more):
    """Only where marked, or out of force for what is wanted: no row."""
    demanded = _of(site(), WELL_30 + more)

    assert ((), (), ()) == (demanded.requirements, demanded.unassessed, demanded.attested)


def test_a_condition_on_the_feature_waits_for_the_feature():
    """Nothing recorded: what casing an unrecorded well has is not asked, whether it is there is."""
    line = 'when = { "feature.casing_m" = { below = 6 } }'

    assert _only(_of(site(), WELL_30 + line).unassessed).reason.startswith("no well recorded")
    assert 1 == len(_of(site(absent={"well": "x"}, survey=LOOKED), WELL_30 + line).attested)


def test_an_exemption_of_the_feature_waits_for_the_feature():
    """Attested absent is attested absent, whatever exemption wells might have had."""
    of = site(absent={"well": "x"}, survey=LOOKED)

    assert 1 == len(_of(of, WELL_30 + 'unless = { "feature.lined" = true }').attested)


@pytest.mark.parametrize(("radius_m", "of_those"), [(None, True), (29.9, True), (30.0, False), (100.0, False)])
def test_a_recorded_feature_is_the_nearest_only_of_those_recorded(radius_m, of_those):
    """One well drawn does not prove that there is no nearer one, unless somebody looked far enough."""
    of = site(_well(), survey=Survey(radius_m=radius_m))

    assert of_those is _only(_of(of, WELL_30).requirements).of_those_recorded


# --- beyond the boundary ---

LAND_3 = 'for = ["pit"]\nfrom = ["boundary"]\nat_least_m = 3'
INSIDE = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"'


@pytest.mark.parametrize("body", [LAND_3, INSIDE])
@pytest.mark.parametrize(
    ("where", "asks"),
    [(shapely.box(110, 0, 112, 2), 0), (shapely.box(99, 0, 101, 2), 1), (shapely.box(50, 50, 52, 52), 1)],
    ids=["beyond", "across", "within"],
)
def test_a_neighbours_latrine_is_bound_to_no_boundary_of_ours(body, where, asks):
    """Wholly beyond the line it is a neighbour's; across it or within it, the line binds."""
    of = site(plot(SQUARE), feature("pit latrine", "L", where))

    assert asks == len(_as_it_stands(of, "L", pack(body)).requirements)


def test_a_neighbours_latrine_still_keeps_its_distance_from_our_well():
    """Only the line is ours alone; water is not."""
    of = site(plot(SQUARE), feature("pit latrine", "L", (110.0, 50.0)), _well())

    assert ["Well"] == [r.feature.name for r in _as_it_stands(of, "L", pack(WELL_30, LAND_3)).requirements]


def test_no_boundary_is_nothing_recorded():
    """A rule about the line on a site without one is not assessed; a neighbour has no such row."""
    assert _only(_of(ZOO["no boundary"](), INSIDE).unassessed).reason.startswith("no boundary recorded")


# --- errors that are shared ---


def test_errors_shared_by_a_source_count_between_sources_only():
    """Between two drawings each one's shift counts; within one drawing it moves both ends and cancels."""
    drawn, fixed = asked(two_wells(), pack(LIMITS_30), new()).requirements

    assert 0.2 == pytest.approx(drawn.sigma, abs=EXACT)  # the new place is drawn on the boundary's drawing
    assert hypot(hypot(3.0, 2.0), 1.0) == pytest.approx(fixed.sigma, abs=EXACT)


def test_what_stands_brings_its_own_error():
    """Of one source: their own errors; of two: the shared ones too (root sum of squares)."""
    shared = {"drawing": 2.0, "receiver": 1.0}
    ends = [
        _well("Near", source="drawing", sigma_m=0.3),
        _well("Far", (0.0, 0.0), source="receiver", sigma_m=0.3),
    ]
    of = site(feature("pit latrine", "L", (9.0, 9.0), source="drawing", sigma_m=0.4), *ends, shared_m=shared)
    near, far = _as_it_stands(of, "L", pack(WELL_30)).requirements

    assert 0.5 == pytest.approx(near.sigma, abs=EXACT)
    assert (0.25 + 4.0 + 1.0) ** 0.5 == pytest.approx(far.sigma, abs=EXACT)


def test_without_a_boundary_a_new_place_is_drawn_on_the_first_source():
    """Somewhere it has to be drawn: on what was read first."""
    of = site(_well("A", source="drawing", sigma_m=0.3), shared_m={"drawing": 2.0})

    assert 0.3 == _only(_of(of, WELL_30).requirements).sigma


# --- many packs, every site ---


def test_packs_in_force_add_up_in_their_order():
    """Every rule of every pack asks for itself; the strictest governs the ground by being there."""
    of = site(_well())
    both = asked(of, [pack(WELL_30, id="one"), pack(WELL_30.replace("30", "50"), id="two")], new())

    assert [("one/rule-1", 30.0), ("two/rule-1", 50.0)] == [(r.rule.full_id, r.required) for r in both.requirements]


def test_every_site_of_the_zoo_can_be_asked(zoo_site, code):
    """Nothing a small site lacks ends in anything but rows; every rule comes back as something."""
    demanded = asked(zoo_site, code, new("placenta pit", pit=POINT, enclosure=rectangle(4.0, 3.0)))
    answered = {o.rule.full_id for o in (*demanded.requirements, *demanded.unassessed, *demanded.attested)}

    assert {rule.full_id for rule in code.rules} == answered
