"""Screening gives every hazard its nearest receptor, every pair within its rule, and the verdict of a single site."""

import numpy as np
import pytest
import shapely
from conftest import WORDS, feature, pack, site
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from siting.assess import assess
from siting.frame import Frame
from siting.kinds import vocabulary
from siting.layer import Column, Layer, constant
from siting.screening.earth import SHORT_M, geocentric, geodesic_m
from siting.screening.screen import (
    FAILS,
    MEETS,
    NOT_ASSESSED,
    TOO_CLOSE,
    VERDICTS,
    Reason,
    lay_out,
    screen,
)
from siting.uncertainty import probability

pytest.importorskip("scipy")

GEOD = Geod(ellps="WGS84")
CENTIMETRE_M = 0.01
MILLIMETRE_M = 0.001
TENTH_MILLIMETRE_M = 1e-4
WELL_30 = pack('for = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 30')


def layer(lonlat, kind="well", *, sigma_m=0.0, radius_m=0.0, source="", **more):
    """Places (n, 2) of one kind, all known equally well unless told."""
    lonlat = np.atleast_2d(np.asarray(lonlat, dtype=float))
    n = len(lonlat)
    return Layer(
        lonlat=lonlat,
        kind=kind if isinstance(kind, Column) else constant(kind, n),
        sigma_m=np.broadcast_to(np.asarray(sigma_m, float), n).copy(),
        radius_m=np.broadcast_to(np.asarray(radius_m, float), n).copy(),
        source=source,
        **more,
    )


def column(*values):
    """A column of a few values; None says nothing."""
    different = tuple(dict.fromkeys(v for v in values if v is not None))
    code = [-1 if v is None else different.index(v) for v in values]
    return Column(values=different, code=np.array(code, dtype=np.int32))


def away(lon, lat, bearing_deg, distance_m):
    """The place at a distance and bearing from another, by the geodesic."""
    at_lon, at_lat, _ = GEOD.fwd(lon, lat, bearing_deg, distance_m)
    return at_lon, at_lat


def screened(hazards, receptors, by=WELL_30, *, confidence=0.95, **more):
    """A screening in one part."""
    packs = by if isinstance(by, tuple) else (by,)
    return screen(hazards, lay_out(receptors, packs, WORDS, **more), confidence=confidence)


# --- distances ---------------------------------------------------------------------------------------------------

PLACES = {
    "equator": (34.0, 0.0),
    "edge of a zone": (36.0, -13.0),
    "antimeridian": (180.0, -17.5),
    "sixty north": (12.0, 60.0),
    "near the pole": (-75.0, 89.99),
    "south pole": (0.0, -90.0),
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("distance_m", [0.02, 30.0, 999.0, 9_999.0, 10_050.0, 250_000.0])
def test_a_distance_is_the_geodesic_anywhere_on_earth(place, distance_m):
    """To a tenth of a millimetre in every direction, across the antimeridian and over a pole (Karney, by PROJ)."""
    lon, lat = PLACES[place]
    bearings = np.arange(0.0, 360.0, 15.0)
    ends = np.array([away(lon, lat, bearing, distance_m) for bearing in bearings])
    starts = np.tile([lon, lat], (len(ends), 1))
    chord = np.linalg.norm(geocentric(starts) - geocentric(ends), axis=1)

    assert distance_m == pytest.approx(geodesic_m(chord, starts, ends), abs=TENTH_MILLIMETRE_M)


def test_the_stated_bound_of_short_arcs_holds():
    """At 10 km the series is right to 0.012 mm where the earth is most and least curved (own, from the axes)."""
    curvatures = [(0.0, 0.0, 0.0), (0.0, 0.0, 90.0), (0.0, 89.0, 0.0)]
    for lon, lat, bearing in curvatures:
        start = np.array([[lon, lat]])
        end = np.array([away(lon, lat, bearing, SHORT_M - 0.01)])
        chord = np.linalg.norm(geocentric(start) - geocentric(end), axis=1)

        assert SHORT_M - 0.01 == pytest.approx(geodesic_m(chord, start, end)[0], abs=1.3e-5)


def brute_force(hazards, receptors):
    """Geodesics of all pairs, (hazards, receptors)."""
    n, m = len(hazards), len(receptors)
    a, b = np.repeat(hazards.lonlat, m, axis=0), np.tile(receptors.lonlat, (n, 1))
    return GEOD.inv(a[:, 0], a[:, 1], b[:, 0], b[:, 1])[2].reshape(n, m)


@pytest.mark.parametrize("place", ["equator", "antimeridian", "near the pole"])
def test_nearest_and_pairs_are_those_of_all_pairs(place):
    """300 latrines and 200 wells strewn over 400 m: the tree finds what reckoning every pair finds."""
    chance = np.random.default_rng(7)
    lon, lat = PLACES[place]
    spread = [
        away(lon, lat, b, d) for b, d in zip(chance.uniform(0, 360, 500), chance.uniform(0, 400, 500), strict=True)
    ]
    hazards, receptors = layer(spread[:300], "pit latrine", source="h"), layer(spread[300:], source="r")

    got = screened(hazards, receptors)
    lengths = brute_force(hazards, receptors)

    assert lengths.min(axis=1) == pytest.approx(got.distance_m, abs=TENTH_MILLIMETRE_M)
    assert lengths.argmin(axis=1).tolist() == got.nearest.tolist()
    assert sorted(zip(*np.nonzero(lengths < 30.0), strict=True)) == sorted(
        zip(got.pair_hazard, got.pair_receptor, strict=True)
    )


def test_a_far_nearest_is_chosen_by_the_geodesic():
    """Two wells 1,000 km off, the nearer by chord the farther by geodesic: the geodesic decides.

    At the equator the meridian is more curved than the equator, so an arc along it has the shorter chord (own).
    """
    lengths = {}
    east = away(0.0, 0.0, 90.0, 1_000_000.0)
    north = away(0.0, 0.0, 0.0, 1_000_000.0 + 5.0)
    for name, place in (("east", east), ("north", north)):
        lengths[name] = np.linalg.norm(geocentric(np.array([[0.0, 0.0]])) - geocentric(np.array([place])))
    got = screened(layer([(0.0, 0.0)], "pit latrine", source="h"), layer([east, north], source="r"))

    assert lengths["north"] < lengths["east"]
    assert [0] == got.nearest.tolist()
    assert 1_000_000.0 == pytest.approx(got.distance_m[0], abs=CENTIMETRE_M)


def test_parts_of_any_size_give_the_same():
    """Hazards one by one come to what they come to together."""
    chance = np.random.default_rng(3)
    spots = [
        away(34.0, -13.0, b, d) for b, d in zip(chance.uniform(0, 360, 80), chance.uniform(0, 100, 80), strict=True)
    ]
    laid = lay_out(layer(spots[40:], sigma_m=2.0, source="r"), (WELL_30,), WORDS)
    whole = screen(layer(spots[:40], "pit latrine", sigma_m=3.0, source="h"), laid, confidence=0.95)

    one_by_one = [screen(layer([s], "pit latrine", sigma_m=3.0, source="h"), laid, confidence=0.95) for s in spots[:40]]

    assert whole.nearest.tolist() == [int(one.nearest[0]) for one in one_by_one]
    assert whole.verdict.tolist() == [int(one.verdict[0]) for one in one_by_one]
    assert whole.probability.tolist() == [float(one.probability[0]) for one in one_by_one]


# --- discs, lines and areas ----------------------------------------------------------------------------------------


def test_discs_are_measured_from_edge_to_edge():
    """A latrine of radius 1 m, 32 m from a well of radius 0.5 m: 30.5 m; overlapping discs are no distance apart."""
    spots = [away(34.0, -13.0, 40.0, 32.0), away(34.0, -13.0, 40.0, 1.2)]
    got = screened(
        layer(spots, "pit latrine", radius_m=1.0, source="h"), layer([(34.0, -13.0)], radius_m=0.5, source="r")
    )

    assert [30.5, 0.0] == pytest.approx(got.distance_m, abs=TENTH_MILLIMETRE_M)
    assert [0.5, -30.0] == pytest.approx(got.margin_m, abs=TENTH_MILLIMETRE_M)


@pytest.mark.parametrize("radii", [(0.2, 9.0), tuple(0.2 + 0.8 * k for k in range(12))])
def test_the_nearest_edge_may_belong_to_a_farther_centre(radii):
    """Discs of two sizes, and of more sizes than have a tree each: the nearest is the one whose edge is."""
    rings = [away(34.0, -13.0, 30.0 * k, 50.0 + 0.5 * r) for k, r in enumerate(radii)]
    got = screened(layer([(34.0, -13.0)], "pit latrine", source="h"), layer(rings, radius_m=radii, source="r"))

    assert [len(radii) - 1] == got.nearest.tolist()
    assert 50.0 - 0.5 * radii[-1] == pytest.approx(got.distance_m[0], abs=TENTH_MILLIMETRE_M)


STREAM_15 = pack('for = ["pit latrine"]\nfrom = ["stream", "well"]\nat_least_m = 15')


def drawn(geometries, kind, lonlat, **more):
    """Lines and areas in degrees as a layer; None for a point."""
    shapes = np.full(len(geometries), None, dtype=object)
    shapes[:] = geometries
    return layer(lonlat, kind, shapes=shapes, **more)


@pytest.mark.parametrize("place", ["equator", "edge of a zone", "antimeridian", "sixty north"])
def test_a_stream_is_measured_at_its_nearest_point(place):
    """A line 40 m east of a latrine running north, and one 20 km off: to a millimetre, also across the antimeridian."""
    lon, lat = PLACES[place]
    near = shapely.LineString([away(*away(lon, lat, 90.0, 40.0), bearing, 500.0) for bearing in (0.0, 180.0)])
    west = away(lon, lat, 270.0, 12_000.0)
    far = shapely.LineString([away(*away(lon, lat, 270.0, 20_000.0), bearing, 500.0) for bearing in (0.0, 180.0)])
    hazards = layer([(lon, lat), west], "pit latrine", source="h")
    along = shapely.get_coordinates(shapely.segmentize(far, 1e-5))
    least_m = GEOD.inv(*np.tile(west, (len(along), 1)).T, *along.T)[2].min()

    got = screened(hazards, drawn([near, far], "stream", [(lon, lat)] * 2, source="r"), STREAM_15)

    assert [0, 1] == got.nearest.tolist()
    assert 40.0 == pytest.approx(got.distance_m[0], abs=MILLIMETRE_M)
    assert least_m == pytest.approx(got.distance_m[1], abs=CENTIMETRE_M)


def test_areas_points_and_lines_stand_in_one_table():
    """A hazard that is an area with a corner 10 m from a well; the well counts, not the stream 300 m away."""
    plane = Frame(lon=34.0, lat=-13.0)
    area = plane.geometry_to_world(shapely.box(0.0, 0.0, 20.0, 20.0))
    stream = plane.geometry_to_world(shapely.LineString([(320.0, -50.0), (320.0, 90.0)]))
    well = plane.to_world(np.array([[26.0, 28.0]]))[0]
    receptors = drawn([stream, None], column("stream", "well"), [(34.0, -13.0), well], source="r")

    got = screened(drawn([area], "pit latrine", [(34.0, -13.0)], source="h"), receptors, STREAM_15)

    assert [1] == got.nearest.tolist()
    assert 10.0 == pytest.approx(got.distance_m[0], abs=MILLIMETRE_M)
    assert [(0, 1)] == list(zip(got.pair_hazard, got.pair_receptor, strict=True))
    assert [FAILS] == got.verdict.tolist()


def test_inside_an_area_there_is_no_distance():
    """A latrine on a pond is 0 m from it."""
    plane = Frame(lon=34.0, lat=-13.0)
    pond = plane.geometry_to_world(shapely.box(-50.0, -50.0, 50.0, 50.0))
    by = pack('for = ["pit latrine"]\nfrom = ["pond"]\nat_least_m = 15')
    got = screened(layer([(34.0, -13.0)], "pit latrine", source="h"), drawn([pond], "pond", [(34.0, -13.0)]), by)

    assert ([0.0], [-15.0]) == (got.distance_m.tolist(), got.margin_m.tolist())


def test_beyond_the_last_window_a_line_is_nobodys_nearest():
    """A stream 300 km away is none; the hazard is judged by nothing, and says so."""
    far = shapely.LineString([away(34.0, -13.0, 90.0, d) for d in (300_000.0, 301_000.0)])
    got = screened(
        layer([(34.0, -13.0)], "pit latrine", source="h"), drawn([far], "stream", [(37.0, -13.0)]), STREAM_15
    )

    assert ([-1], [NOT_ASSESSED], [Reason.NO_RECEPTOR]) == (
        got.nearest.tolist(), got.verdict.tolist(), got.reason.tolist()
    )  # fmt: skip


def test_a_place_is_not_measured_to_itself():
    """One table on both sides: each well's latrine is another row, and a lone row has none."""
    by = pack('for = ["pit latrine"]\nfrom = ["pit latrine"]\nat_least_m = 5')
    spots = [(34.0, -13.0), away(34.0, -13.0, 90.0, 4.0), away(34.0, -13.0, 90.0, 60.0)]
    table = layer(spots, "pit latrine", source="t")

    got = screened(table, table, by, measured_to_itself=True)
    alone = screened(layer(spots[:1], "pit latrine"), layer(spots[:1], "pit latrine"), by, measured_to_itself=True)

    assert [1, 0, 1] == got.nearest.tolist()
    assert [4.0, 4.0, 56.0] == pytest.approx(got.distance_m, abs=TENTH_MILLIMETRE_M)
    assert [(0, 1), (1, 0)] == sorted(zip(got.pair_hazard.tolist(), got.pair_receptor.tolist(), strict=True))
    assert [-1] == alone.nearest.tolist()


# --- verdicts ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("distance_m", "verdict"), [(45.0, MEETS), (37.5, TOO_CLOSE), (30.0, TOO_CLOSE), (22.5, TOO_CLOSE), (15.0, FAILS)]
)
def test_two_phones_of_five_metres(distance_m, verdict):
    """Sigma of the separation 4.684 m, so 30 m is met from 37.70 m on and failed up to 22.30 m (own, JCGM 106)."""
    sigma = 3.312153
    hazard = layer([away(34.0, -13.0, 77.0, distance_m)], "pit latrine", sigma_m=sigma, source="h")
    got = screened(hazard, layer([(34.0, -13.0)], sigma_m=sigma, source="r"))

    assert VERDICTS[verdict] == VERDICTS[got.verdict[0]]
    assert 4.684092 == pytest.approx(got.sigma_m[0], abs=1e-5)
    assert probability(distance_m - 30.0, got.sigma_m[0]) == pytest.approx(got.probability[0], abs=1e-5)


def test_what_sources_share_counts_between_them_and_not_within():
    """A datum operation of 3 m a side adds to two tables and cancels in one."""
    spot = away(34.0, -13.0, 0.0, 33.0)
    apart = screened(
        layer([spot], "pit latrine", source="h", shared_sigma_m=3.0),
        layer([(34.0, -13.0)], source="r", shared_sigma_m=4.0),
    )
    together = screened(
        layer([spot], "pit latrine", source="t", shared_sigma_m=3.0),
        layer([(34.0, -13.0)], source="t", shared_sigma_m=3.0),
    )

    assert (5.0, TOO_CLOSE) == (apart.sigma_m[0], apart.verdict[0])
    assert (0.0, MEETS) == (together.sigma_m[0], together.verdict[0])


def test_the_most_doubtful_receptor_decides_and_the_nearest_is_still_named():
    """A well 31 m off known exactly, and one 34 m off known to 10 m: the second one leaves it open."""
    wells = [away(34.0, -13.0, 0.0, 31.0), away(34.0, -13.0, 90.0, 34.0)]
    got = screened(layer([(34.0, -13.0)], "pit latrine", source="h"), layer(wells, sigma_m=[0.0, 10.0], source="r"))

    assert (0, 1) == (got.nearest[0], got.governs[0])
    assert 31.0 == pytest.approx(got.distance_m[0], abs=TENTH_MILLIMETRE_M)
    assert 34.0 == pytest.approx(got.governs_m[0], abs=TENTH_MILLIMETRE_M)
    assert TOO_CLOSE == got.verdict[0]


def test_a_longer_rule_farther_away_decides():
    """20 m from a stream that asks for 15, 25 m from a well that asks for 30: the well fails it."""
    by = (pack('for = ["pit latrine"]\nfrom = ["stream"]\nat_least_m = 15'), WELL_30)
    receptors = layer(
        [away(34.0, -13.0, 0.0, 20.0), away(34.0, -13.0, 90.0, 25.0)], column("stream", "well"), source="r"
    )
    got = screened(layer([(34.0, -13.0)], "pit latrine", source="h"), receptors, by)

    assert (0, 1, FAILS, 30.0) == (got.nearest[0], got.governs[0], got.verdict[0], got.required_m[0])
    assert [1] == got.pair_receptor.tolist()


CASED = pack(
    'for = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 15\nwhen = { "feature.casing_m" = { at_least = 6 } }',
    'for = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 30\nwhen = { "feature.casing_m" = { below = 6 } }',
)
STRICT = pack(
    'for = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 30\nif_unknown = "strict"\n'
    'when = { "feature.casing_m" = { below = 6 } }',
)


@pytest.mark.parametrize(
    ("casing_m", "by", "verdict"),
    [
        (8.0, CASED, MEETS),
        (3.0, CASED, FAILS),
        (None, CASED, NOT_ASSESSED),
        (None, STRICT, FAILS),
        (8.0, STRICT, MEETS),
    ],
)
def test_attributes_of_a_well_choose_the_distance(casing_m, by, verdict):
    """20 m from a well: enough when it is cased, too near when not, not assessed when nobody recorded it."""
    wells = layer([(34.0, -13.0)], source="r", attributes={"casing_m": column(casing_m)})
    got = screened(layer([away(34.0, -13.0, 10.0, 20.0)], "pit latrine", source="h"), wells, by)

    assert VERDICTS[verdict] == VERDICTS[got.verdict[0]]
    assert (Reason.NOT_RECORDED if verdict == NOT_ASSESSED else Reason.NONE) == got.reason[0]


def test_what_is_not_recorded_matters_only_within_reach():
    """500 m from a well of unknown casing every branch of the rule is kept."""
    wells = layer([(34.0, -13.0)], source="r", attributes={"casing_m": column(None)})
    got = screened(layer([away(34.0, -13.0, 10.0, 500.0)], "pit latrine", source="h"), wells, CASED)

    assert MEETS == got.verdict[0]


def test_what_a_kind_takes_for_granted_holds_until_something_is_recorded():
    """A sharps pit counts as sealed unless its row says otherwise."""
    by = pack(
        'for = ["sharps pit"]\nfrom = ["well"]\nat_least_m = 30\nwhen = { "installation.sealed" = false }',
        'for = ["sharps pit"]\nfrom = ["well"]\nat_least_m = 10',
    )
    spots = [away(34.0, -13.0, 10.0, 20.0)] * 2
    hazards = layer(spots, "sharps pit", source="h", attributes={"sealed": column(None, False)})

    assert [MEETS, FAILS] == screened(hazards, layer([(34.0, -13.0)], source="r"), by).verdict.tolist()


UP = pack('for = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 50\nside = "up-gradient"')


@pytest.mark.parametrize("bearing_deg", range(0, 360, 30))
@pytest.mark.parametrize("distance_m", [20.0, 49.0, 52.0, 120.0])
def test_a_rule_for_one_side_is_the_same_as_on_a_single_site(bearing_deg, distance_m):
    """Groundwater flows south: margins to the ground up-gradient of a well are those of the engine for one site."""
    x, y = distance_m * np.sin(np.radians(bearing_deg)), distance_m * np.cos(np.radians(bearing_deg))
    plane = Frame(lon=34.0, lat=-13.0)
    place = plane.to_world(np.array([[x, y]]))[0]
    wells = layer([(34.0, -13.0)], source="r", attributes={"flow_towards_deg": column(180.0)})
    got = screened(layer([place], "pit latrine", sigma_m=2.0, source="h"), wells, UP)

    expected = assess(sloping_levels(x, y), (UP,), vocabulary()).separations[0]

    assert expected.verdict == VERDICTS[got.verdict[0]]
    assert expected.margin == pytest.approx(got.margin_m[0], abs=CENTIMETRE_M)


def sloping_levels(x, y):
    """A well, a latrine at (x, y), and three levels that fall to the south."""
    from siting.site import Ground, WaterLevel

    levels = tuple(
        WaterLevel(name=str(n), x_m=a, y_m=b, level_m=10.0 + 0.01 * b)
        for n, (a, b) in enumerate([(0.0, 0.0), (200.0, 0.0), (0.0, 200.0)])
    )
    return site(
        feature("well", "W", (0.0, 0.0)), feature("pit latrine", "L", (x, y), sigma_m=2.0),
        ground=Ground(levels=levels, levels_season="highest"),
    )  # fmt: skip


def test_a_side_that_nobody_recorded_is_not_assessed():
    """Within 50 m of a well without a direction of flow the rule for one side stays open; far off it is kept."""
    spots = [away(34.0, -13.0, 10.0, d) for d in (20.0, 200.0)]
    got = screened(layer(spots, "pit latrine", source="h"), layer([(34.0, -13.0)], source="r"), UP)

    assert [NOT_ASSESSED, MEETS] == got.verdict.tolist()


def test_near_enough_to_one_of_several_is_near_enough():
    """A rule that asks for a house within 50 m: 45 m from one and 200 m from another keeps it, 60 m does not."""
    by = pack('for = ["pit latrine"]\nfrom = ["dwelling"]\nat_most_m = 50')
    houses = layer([(34.0, -13.0), away(34.0, -13.0, 0.0, 300.0)], "dwelling", source="r")
    got = screened(layer([away(34.0, -13.0, 90.0, d) for d in (45.0, 60.0)], "pit latrine", source="h"), houses, by)

    assert [5.0, -10.0] == pytest.approx(got.margin_m, abs=TENTH_MILLIMETRE_M)
    assert [MEETS, FAILS] == got.verdict.tolist()


def test_a_kind_without_a_rule_and_a_table_without_receptors_are_not_assessed():
    """Nothing is passed because nothing was asked."""
    no_rule = screened(layer([(34.0, -13.0)], "incinerator", source="h"), layer([(34.0, -13.0)], source="r"))
    nothing = screened(layer([(34.0, -13.0)], "pit latrine", source="h"), layer([(34.0, -13.0)], "tree", source="r"))

    assert [(NOT_ASSESSED, Reason.NO_RULE), (NOT_ASSESSED, Reason.NO_RECEPTOR)] == [
        (one.verdict[0], one.reason[0]) for one in (no_rule, nothing)
    ]


def test_a_rule_that_only_advises_decides_nothing():
    """`should` is no verdict."""
    by = pack('for = ["pit latrine"]\nfrom = ["well"]\nat_least_m = 30\nstrength = "should"')
    got = screened(layer([(34.0, -13.0)], "pit latrine", source="h"), layer([(34.0, -13.0)], source="r"), by)

    assert ([NOT_ASSESSED], 0) == (got.verdict.tolist(), len(got.pair_m))


@given(
    east=st.floats(-60.0, 60.0), north=st.floats(-60.0, 60.0), sigma=st.floats(0.0, 8.0), other=st.floats(0.0, 8.0),
    radius=st.sampled_from([0.0, 0.75]),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_a_registry_and_a_single_site_say_the_same(east, north, sigma, other, radius):
    """One latrine and two wells, screened and assessed: distance, probability and verdict agree."""
    plane = Frame(lon=34.0, lat=-13.0)
    spots = plane.to_world(np.array([[east, north], [0.0, 0.0], [70.0, 15.0]]))
    got = screened(
        layer(spots[:1], "pit latrine", sigma_m=sigma, radius_m=radius, source="h"),
        layer(spots[1:], sigma_m=[other, other / 2.0], radius_m=0.5, source="r"),
    )
    where = site(
        feature("pit latrine", "L", (east, north), sigma_m=sigma, radius_m=radius, source="h"),
        feature("well", "W1", (0.0, 0.0), sigma_m=other, radius_m=0.5, source="r"),
        feature("well", "W2", (70.0, 15.0), sigma_m=other / 2.0, radius_m=0.5, source="r"),
    )

    expected = assess(where, (WELL_30,), vocabulary()).separations[0]

    assert expected.probability == pytest.approx(got.probability[0], abs=1e-3)
    assert expected.distance_m == pytest.approx(got.governs_m[0], abs=CENTIMETRE_M) or expected.probability > 0.999
    if min(abs(expected.probability - 0.95), abs(expected.probability - 0.05)) > 1e-3:
        assert expected.verdict == VERDICTS[got.verdict[0]]
