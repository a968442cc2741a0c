"""Worked cases of published setbacks, run through the real engine: a plan goes in, a verdict comes out.

Each case names its document; the sources and read marks stand in the packs and in the test of each document.
Distances are edge to edge in plan, between nearest points, and a value exactly at an inclusive limit meets it.
"""

import pytest
from shapely.geometry import LineString, Point, Polygon, box

from siting.assess import Assessment, assess
from siting.frame import Frame
from siting.io.packs import load
from siting.kinds import vocabulary
from siting.site import Feature, Ground, Site, SpotHeight

CENTIMETRE = 0.01
OUTWARD = 3e-4
"Ground on one side of a feature is drawn with straight pieces outside the true arc, by up to 3 mm in 10 m."
FOOT_M = 0.3048
MEETS, FAILS = "meets", "fails"

NORTH_IS_UPHILL = tuple(
    SpotHeight(x_m=x, y_m=y, height_m=0.02 * y) for x in (-2000.0, 2000.0) for y in (-2000.0, 2000.0)
)
"Ground that falls by two in a hundred towards the south."
WIND_FROM_NORTH = {"N": 60.0, "NE": 5.0, "E": 5.0, "SE": 5.0, "S": 5.0, "SW": 5.0, "W": 5.0, "NW": 10.0}


def thing(kind: str, x_m: float = 0.0, y_m: float = 0.0, **attributes: object) -> Feature:
    """A point, or what can be dug as a square of 1 m whose side nearest the origin passes through (x, y)."""
    dug = vocabulary().is_installation(kind) and (x_m, y_m) != (0.0, 0.0)
    return shaped(kind, _square(x_m, y_m) if dug else Point(x_m, y_m), **attributes)


def _square(x_m: float, y_m: float) -> Polygon:
    if x_m:
        return box(x_m, y_m - 0.5, x_m + 1.0, y_m + 0.5)
    return box(-0.5, y_m, 0.5, y_m + 1.0) if y_m > 0 else box(-0.5, y_m - 1.0, 0.5, y_m)


def shaped(kind: str, geometry: object, *, radius_m: float | None = None, **attributes: object) -> Feature:
    """A feature of any shape, named for its kind."""
    return Feature(kind=kind, name=kind, geometry=geometry, source="plan", radius_m=radius_m, attributes=attributes)


def assessed(pack: str, *features: Feature, ground: Ground | None = None, wind: dict | None = None) -> Assessment:
    """What one pack says of a plan without uncertainty."""
    site = Site(
        name="case",
        frame=Frame(lon=34.0, lat=-14.0),
        features=features,
        ground=ground or Ground(),
        wind_from_percent=wind or {},
    )
    return assess(site, [load(pack)], vocabulary())


def verdicts(assessment: Assessment, feature: str = "") -> dict[str, str]:
    """Rule to verdict, of the rows measured to one feature (of all rows when none is named)."""
    return {s.rule.id: str(s.verdict) for s in assessment.separations if feature in ("", s.feature)}


def verdict(assessment: Assessment, feature: str) -> str:
    """The worst verdict of all rows measured to a feature."""
    found = set(verdicts(assessment, feature).values())
    assert found, f"no row was measured to {feature}"
    return FAILS if FAILS in found else MEETS if found == {MEETS} else str(found)


def worst(assessment: Assessment, rule_id: str) -> str:
    """The worst verdict of all rows of one rule, its two limits among them."""
    found = {str(s.verdict) for s in assessment.separations if s.rule.id == rule_id}
    assert found, f"no row of {rule_id}"
    return FAILS if FAILS in found else MEETS if found == {MEETS} else str(found)


def at(distance_m: float, pack: str, kind: str, receptor: Feature, **about: object) -> str:
    """The verdict of an installation that stands so far east of a receptor at the origin."""
    return verdict(assessed(pack, thing(kind, distance_m, **about), receptor), receptor.name)


def just_at_and_short_of(limit_m: float, pack: str, kind: str, receptor: Feature, **about: object) -> tuple[str, str]:
    """Verdicts exactly at a limit and one centimetre short of it."""
    return (
        at(limit_m, pack, kind, receptor, **about),
        at(limit_m - CENTIMETRE, pack, kind, receptor, **about),
    )


@pytest.mark.parametrize(
    ("limit_m", "kind", "receptor"),
    [
        (15, "pit latrine", thing("well", casing_m=6)),
        (30, "pit latrine", thing("well", casing_m=5)),
        (15, "pit latrine", thing("lake")),
        (10, "vault latrine", thing("well", casing_m=6)),
        (15, "vault latrine", thing("spring")),
        (10, "vault latrine", thing("pond")),
        (15, "greywater soakaway", thing("well", casing_m=2)),
        (30, "cesspool", thing("borehole", casing_m=10)),
        (60, "cesspool", thing("spring")),
        (15, "cesspool", thing("river")),
    ],
)
def test_ontario_is_inclusive_at_exactly_the_value(limit_m, kind, receptor):
    """Table 8.2.1.5 gives least distances: at the value it meets, a centimetre short it fails."""
    assert (MEETS, FAILS) == just_at_and_short_of(limit_m, "ontario-8-2-1-5", kind, receptor)


@pytest.mark.parametrize("kind", ["pit latrine", "vault latrine", "greywater soakaway", "cesspool"])
def test_ontario_property_line(kind):
    """Every system keeps 3 m from the property line."""
    plot = shaped("boundary", box(0, 0, 100, 100))

    assert (MEETS, FAILS) == just_at_and_short_of(3, "ontario-8-2-1-5", kind, plot, y_m=50)


@pytest.mark.parametrize(
    ("limit_ft", "sensitive", "pathological", "flow"),
    [
        (50, False, False, 500),
        (100, True, False, 500),
        (150, False, True, 500),
        (300, True, True, 500),
        (300, False, False, 20000),
        (600, True, False, 20000),
    ],
)
def test_minnesota_doubles_at_a_sensitive_well(limit_ft, sensitive, pathological, flow):
    """50, 150 and 300 ft become 100, 300 and 600 ft."""
    well = thing("well", sensitive=sensitive)
    found = just_at_and_short_of(
        limit_ft * FOOT_M, "minnesota-4725-4450", "drain field", well,
        pathological=pathological, flow_gal_per_day=flow,
    )  # fmt: skip

    assert (MEETS, FAILS) == found


def test_minnesota_does_not_double_a_watertight_tank():
    """A septic tank keeps 50 ft from a sensitive well."""
    found = just_at_and_short_of(50 * FOOT_M, "minnesota-4725-4450", "septic tank", thing("well", sensitive=True))

    assert (MEETS, FAILS) == found


def test_minnesota_measures_to_the_vertical_projection():
    """A pit that is wider below ground than at its mouth counts with its whole outline in plan."""
    belled = Polygon([(50 * FOOT_M - CENTIMETRE, -2), (50 * FOOT_M + 5, -2), (50 * FOOT_M + 5, 2)])
    found = assessed(
        "minnesota-4725-4450",
        shaped("drain field", belled, pathological=False, flow_gal_per_day=500),
        thing("well", y_m=-2, sensitive=False),
    )

    assert FAILS == verdicts(found, "well")["dispersal-to-well"]


@pytest.mark.parametrize(("thickness_m", "limit_m"), [(1.2, 40), (2.1, 35), (3.0, 30)])
def test_ireland_reads_between_two_thicknesses(thickness_m, limit_m):
    """1.2 m of soil asks for 40 m, 3.0 m for 30 m; 2.1 m lies half-way and asks for 35 m (arithmetic ours)."""
    ground = Ground(attributes={"soil_thickness_m": thickness_m})
    found = [
        verdict(
            assessed("ireland-percolation", thing("drain field", x_m), thing("well"), ground=ground), "well"
        )
        for x_m in (limit_m, limit_m - CENTIMETRE)
    ]  # fmt: skip

    assert [MEETS, FAILS] == found


@pytest.mark.parametrize(
    ("y_m", "expected"),
    [
        (6.0 * (1.0 + OUTWARD), MEETS),
        (5.99, FAILS),
        (3.01, FAILS),
        (-3.0, MEETS),
        (-2.99, FAILS),
        (-5.0, MEETS),
    ],
)
def test_victoria_asks_for_more_up_slope_of_a_building(y_m, expected):
    """The same field 6 m up-slope or 3 m down-slope of a building."""
    found = assessed(
        "victoria-891",
        thing("drain field", 0.0, y_m, treatment="primary"),
        thing("building"),
        ground=Ground(spot_heights=NORTH_IS_UPHILL),
    )

    assert expected == verdict(found, "building")


@pytest.mark.parametrize(
    ("y_m", "expected"),
    [(299.9, FAILS), (300.1, MEETS), (-19.9, FAILS), (-20.0, MEETS)],
)
def test_victoria_potable_channel(y_m, expected):
    """300 m up-slope and 20 m down-slope of a channel that supplies drinking water."""
    found = assessed(
        "victoria-891",
        thing("drain field", 0.0, y_m, treatment="primary"),
        shaped("canal", LineString([(-1500, 0), (1500, 0)]), potable=True),
        ground=Ground(spot_heights=NORTH_IS_UPHILL),
    )

    assert expected == verdict(found, "canal")


@pytest.mark.parametrize(
    ("limit_m", "receptor"),
    [
        (250, thing("well", potable=True)),
        (50, thing("well", potable=False)),
        (30, thing("river")),
        (10, thing("field drain")),
    ],
)
def test_environment_agency_2022(limit_m, receptor):
    """250, 50, 30 and 10 m."""
    assert (MEETS, FAILS) == just_at_and_short_of(limit_m, "england-burial-2022", "grave", receptor)


def test_two_editions_of_the_environment_agency_differ_on_a_well_nobody_drinks_from():
    """At 40 m from such a well a grave passes the withdrawn page, which has no row for it, and fails April 2022."""
    plan = (thing("grave", 40), thing("well", potable=False))
    withdrawn = verdicts(assessed("england-burial-withdrawn", *plan), "well")

    assert ({}, FAILS) == (withdrawn, verdict(assessed("england-burial-2022", *plan), "well"))


def test_el_dorado_cut_of_two_and_a_half_metres():
    """4 x 2.5 m = 10 m (arithmetic ours)."""
    assert (MEETS, FAILS) == just_at_and_short_of(10, "el-dorado", "drain field", thing("cut", cut_height_m=2.5))


@pytest.mark.parametrize(
    ("water_m", "depth_m", "depth", "above"),
    [(2.5, 1.0, MEETS, MEETS), (2.3, 0.9, MEETS, FAILS), (2.3, 0.8, FAILS, MEETS), (4.0, 1.6, FAILS, MEETS)],
)
def test_msf_depth_and_water_table_together(water_m, depth_m, depth, above):
    """With water at 2.5 m a depth of 1.0 m holds; at 2.3 m only 0.8 m is left, less than the 0.9 m asked for."""
    found = assessed(
        "msf-excreta-pit", thing("pit latrine", pit_depth_m=depth_m), ground=Ground(highest_water_depth_m=water_m)
    )

    assert (depth, above) == (worst(found, "depth"), worst(found, "above-water-table"))


@pytest.mark.parametrize(("distance_m", "expected"), [(5.9, FAILS), (6.0, MEETS), (50.0, MEETS), (50.1, FAILS)])
def test_two_sided_latrine(distance_m, expected):
    """Not nearer than 6 m to a house and not farther than 50 m."""
    found = assessed("latrine-two-sided", thing("pit latrine", distance_m), thing("dwelling"))

    assert expected == worst(found, "to-house")


def test_two_sided_latrine_needs_one_near_house_only():
    """Being within 50 m of one house is enough; being too near is judged for every house."""
    far = Feature(kind="dwelling", name="far house", geometry=Point(-90, 0), source="plan", radius_m=0.0)
    found = assessed("latrine-two-sided", thing("pit latrine", 20), thing("dwelling"), far)

    assert MEETS == worst(found, "to-house")


def test_edges_not_centres():
    """A pit of 1 m diameter centred 30.4 m from a well of radius 0.1 m has 29.8 m between edges: less than 30 m."""
    pit, well = shaped("pit latrine", Point(30.4, 0), radius_m=0.5), shaped("well", Point(0, 0), radius_m=0.1)
    found = assessed("who-unicef-2014-latrine", pit, well)
    (row,) = (s for s in found.separations if s.rule.id == "to-groundwater-source")

    assert FAILS == str(row.verdict)
    assert pytest.approx(29.8, abs=1e-9) == row.distance_m


@pytest.mark.parametrize(
    ("pack", "rule_id", "metres"),
    [
        ("clark-county-iv", "tank-to-well", 15.24),  # 50 ft
        ("new-york-5b", "absorption-to-well", 30.48),  # 100 ft
        ("new-york-5b", "seepage-pit-to-well", 45.72),  # 150 ft
        ("new-york-5b", "landfill-to-well", 91.44),  # 300 ft
        ("connecticut-22-324a-2", "to-well-or-spring", 22.86),  # 75 ft
        ("connecticut-22-324a-2", "above-water-table", 0.4572),  # 18 in
    ],
)
def test_feet_and_inches_are_exact(pack, rule_id, metres):
    """The international foot, 0.3048 m."""
    (rule,) = (rule for rule in load(pack).rules if rule.id == rule_id)

    assert pytest.approx(metres, abs=1e-9) == rule.limits[0].constant


@pytest.mark.parametrize(("crops_y_m", "expected"), [(-250, FAILS), (250, MEETS), (-301, MEETS)])
def test_crops_count_downwind_of_an_incinerator(crops_y_m, expected):
    """With the wind from the north, crops 250 m south fail and crops 250 m north pass."""
    found = assessed("small-incinerator", thing("incinerator"), thing("crops", 0, crops_y_m), wind=WIND_FROM_NORTH)

    assert expected == verdicts(found, "crops")["crops-downwind"]


@pytest.mark.parametrize(
    ("distance_m", "receptor", "expected"),
    [
        (22.9, thing("well"), MEETS),
        (22.8, thing("well"), FAILS),
        (7.7, thing("stream", feeds_reservoir=False), MEETS),
        (7.6, thing("stream", feeds_reservoir=False), FAILS),
        (7.7, thing("stream"), FAILS),
    ],
)
def test_connecticut_distances(distance_m, receptor, expected):
    """75 ft from a well; 25 ft from a stream, 50 ft where it feeds a reservoir or nobody knows."""
    assert expected == at(distance_m, "connecticut-22-324a-2", "animal burial pit", receptor)


@pytest.mark.parametrize(("distance_m", "approved", "expected"), [(3.0, False, FAILS), (3.05, False, MEETS)])
def test_connecticut_lot_line(distance_m, approved, expected):
    """10 ft = 3.048 m from a lot line."""
    plot = shaped("boundary", box(0, 0, 100, 100))
    pit = {"y_m": 50, "allowed_by_health_director": approved}

    assert expected == at(distance_m, "connecticut-22-324a-2", "animal burial pit", plot, **pit)


def test_connecticut_approval_lifts_the_lot_line():
    """With the health director's approval no row is left for the lot line."""
    plan = (thing("animal burial pit", 3, 50, allowed_by_health_director=True), shaped("boundary", box(0, 0, 99, 99)))
    found = verdicts(assessed("connecticut-22-324a-2", *plan), "boundary")

    assert {} == found


@pytest.mark.parametrize(("water_m", "expected"), [(2.46, MEETS), (2.45, FAILS)])
def test_connecticut_vertical(water_m, expected):
    """18 in = 0.4572 m between a pit 2.0 m deep and the highest water."""
    found = assessed(
        "connecticut-22-324a-2",
        thing("animal burial pit", pit_depth_m=2.0),
        ground=Ground(highest_water_depth_m=water_m),
    )

    assert expected == verdicts(found)["above-water-table"]


@pytest.mark.parametrize(
    ("kind", "public", "limit_ft"),
    [
        ("vault latrine", False, 50),
        ("pit latrine", False, 100),
        ("vault latrine", True, 100),
        ("pit latrine", True, 100),
    ],
)
def test_montana_privies(kind, public, limit_ft):
    """Sealed 50 ft, unsealed 100 ft; both 100 ft at a public well."""
    found = just_at_and_short_of(limit_ft * FOOT_M, "montana-setbacks", kind, thing("well", public=public))

    assert (MEETS, FAILS) == found


@pytest.mark.parametrize(
    ("feet", "receptor", "expected"),
    [(50, "kitchen", MEETS), (49, "kitchen", FAILS), (200, "dwelling", MEETS), (201, "dwelling", FAILS)],
)
def test_20_cfr_654_is_two_sided(feet, receptor, expected):
    """A privy not closer than 50 ft to a kitchen, a toilet within 200 ft of a living unit."""
    assert expected == at(feet * FOOT_M, "us-20-cfr-654-411", "pit latrine", thing(receptor))


def test_mississippi_kitchen_and_sleeping_area_differ():
    """199 ft from the kitchen fails while 50 ft from the sleeping area passes, at the same pit."""
    found = assessed(
        "mississippi-15-11-55", thing("pit latrine"), thing("kitchen", 199 * FOOT_M), thing("ward", -50 * FOOT_M)
    )

    assert (FAILS, MEETS) == (verdict(found, "kitchen"), verdict(found, "ward"))


@pytest.mark.parametrize(("centres_m", "expected"), [(7.75, MEETS), (7.74, FAILS)])
def test_ramsey_spacing_is_edge_to_edge(centres_m, expected):
    """Pits of 1.5 m and 2.0 m diameter need 6.0 m between edges: 7.75 m between centres (arithmetic ours)."""
    found = assessed(
        "ramsey-seepage-pits",
        Feature(kind="seepage pit", name="pit A", geometry=Point(0, 0), source="plan", radius_m=0.75,
                attributes={"pit_diameter_m": 1.5}),
        Feature(kind="seepage pit", name="pit B", geometry=Point(centres_m, 0), source="plan", radius_m=1.0,
                attributes={"pit_diameter_m": 2.0}),
    )  # fmt: skip

    assert expected == worst(found, "pit-to-pit")


@pytest.mark.parametrize(
    ("distance_ft", "clear_ft", "expected"),
    [(100, 4, (MEETS, MEETS)), (99, 4, (FAILS, MEETS)), (100, 3.9, (MEETS, FAILS))],
)
def test_ohio_porous_privy_needs_both(distance_ft, clear_ft, expected):
    """100 ft from water and high water at least 4 ft below the vault; it fails if either fails."""
    depth_m = 1.5
    found = assessed(
        "ohio-3701-29-15",
        thing("pit latrine", distance_ft * FOOT_M, pit_depth_m=depth_m),
        thing("well"),
        ground=Ground(highest_water_depth_m=depth_m + clear_ft * FOOT_M),
    )
    rows = verdicts(found)

    assert expected == (verdict(found, "well"), rows["unsealed-above-water-table"])


@pytest.mark.parametrize("depth_m", [0.5, 1.2, 3.0])
@pytest.mark.parametrize(("water_m", "expected"), [(1.2, MEETS), (1.19, FAILS)])
def test_quebec_privy_counts_from_the_surface(depth_m, water_m, expected):
    """Water at 1.2 m passes whatever the depth of the pit."""
    found = assessed(
        "quebec-privy",
        thing("pit latrine", pit_depth_m=depth_m),
        ground=Ground(highest_water_depth_m=water_m),
    )

    assert expected == verdicts(found)["privy-water-below-surface"]


def test_whitehall_treats_two_facilities_differently():
    """499 ft from a road fails for a carcass; 20 ft from a street passes for a privy."""
    carcass = just_at_and_short_of(500 * FOOT_M, "whitehall-913", "animal burial pit", thing("road"))
    privy = just_at_and_short_of(20 * FOOT_M, "whitehall-913", "vault latrine", thing("road"))

    assert ((MEETS, FAILS), (MEETS, FAILS)) == (carcass, privy)


@pytest.mark.parametrize(
    ("confined", "expected"), [(True, {}), (False, {"pit-to-bore": FAILS}), (None, {"pit-to-bore": FAILS})]
)
def test_marlborough_confined_layer(confined, expected):
    """30 m from a bore passes where the bore taps a confined layer, and fails otherwise."""
    known = {} if confined is None else {"confined_aquifer": confined}
    found = assessed("marlborough", thing("refuse pit", 30), thing("borehole", **known))

    assert expected == verdicts(found, "borehole")


@pytest.mark.parametrize(("ownership", "expected"), [("same", {}), ("other", {"pit-to-neighbour": FAILS})])
def test_marlborough_line_between_two_lots_of_one_owner_imposes_nothing(ownership, expected):
    """Only a boundary with land in different ownership counts."""
    plot = shaped("boundary", box(0, 0, 100, 100), ownership=ownership)

    assert expected == verdicts(assessed("marlborough", thing("refuse pit", 5, 50), plot), "boundary")


@pytest.mark.parametrize(
    ("y_m", "near", "uphill"),
    [
        (25.0, MEETS, FAILS),
        (-25.0, MEETS, MEETS),
        (-10.0, FAILS, MEETS),
        (-10.01, MEETS, MEETS),
    ],
)
def test_who_forms_flag_what_is_near_or_uphill(y_m, near, uphill):
    """25 m away but uphill still raises a flag; downhill at exactly 10.0 m counts as within 10 m."""
    found = assessed(
        "who-inspection-forms",
        thing("pit latrine", 0, y_m),
        thing("borehole", mechanised=False),
        ground=Ground(spot_heights=NORTH_IS_UPHILL),
    )
    rows = verdicts(found)

    assert (near, uphill) == (rows["latrine-near-well"], rows["latrine-uphill-of-well"])


@pytest.mark.parametrize(("foundation", "limit_m"), [("basement", 10), ("permanent", 5), ("none", 1)])
def test_alberta_foundation_decides(foundation, limit_m):
    """A field keeps 10, 5 or 1 m from a building by its foundation."""
    building = thing("building", foundation=foundation)
    found = just_at_and_short_of(limit_m, "alberta-private-sewage", "drain field", building, mound=False)

    assert (MEETS, FAILS) == found


@pytest.mark.parametrize(
    ("water_m", "y_m", "expected"),
    [
        (5.0, 50, MEETS),
        (5.0, -49.9, FAILS),
        (3.0, -299.9, FAILS),
        (3.0, -300.1, MEETS),
        (3.0, 999.9, FAILS),
        (3.0, 1000.0 * (1.0 + OUTWARD), MEETS),
    ],
)
def test_philippines_shallow_water_triggers_longer_distances(water_m, y_m, expected):
    """At 5 m the water asks for nothing more than 50 m; at 3 m for 300 m downhill and 1,000 m uphill."""
    found = assessed(
        "philippines-burial",
        thing("grave", 0, y_m),
        thing("well"),
        ground=Ground(highest_water_depth_m=water_m, spot_heights=NORTH_IS_UPHILL),
    )

    assert expected == verdict(found, "well")


@pytest.mark.parametrize(
    ("feet", "kind", "expected"),
    [
        (49, "vault latrine", FAILS),
        (50, "vault latrine", MEETS),
        (299, "pit latrine", FAILS),
        (301, "pit latrine", MEETS),
        (200, "vault latrine", MEETS),
    ],
)
def test_manhasset_bands(feet, kind, expected):
    """Nothing at 49 ft, sealed only from 50 to 300 ft, anything beyond."""
    assert expected == at(feet * FOOT_M, "manhasset-127-64", kind, thing("well", public=True))


def test_what_the_plan_does_not_say_is_not_a_pass():
    """A compost pit in soil nobody described is not assessed on soil, and says what to look for."""
    found = assessed("marlborough", thing("refuse pit"))
    looked_for = {row.rule.id: row.look_for for _, row in found.unassessed}

    assert "material" in looked_for["pit-not-in-free-draining-soil"]
