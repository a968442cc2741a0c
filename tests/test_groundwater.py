"""Water in the ground: what follows from what, whatever the numbers."""

from itertools import pairwise
from math import inf, pi

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from siting.errors import InputError
from siting.groundwater import (
    MATERIALS,
    capture_outline,
    check_conductivity,
    downstream_distance_m,
    fixed_radius_m,
    half_width_m,
    material,
    seepage_velocity_m_per_day,
    stagnation_m,
    travel_days,
    travel_days_to_well,
    travel_distance_m,
    upstream_distance_m,
    water_level_m,
)

OUTWARD = 0.01
"How far an outline may stand out, as a share of the zone's width."

SANDY = {
    "pumping_m3_per_day": 5.0,
    "conductivity_m_per_day": 10.0,
    "thickness_m": 10.0,
    "gradient": 0.01,
    "porosity": 0.25,
}

wells = st.fixed_dictionaries(
    {
        "pumping_m3_per_day": st.floats(0.5, 2000),
        "conductivity_m_per_day": st.floats(0.05, 500),
        "thickness_m": st.floats(1, 100),
        "gradient": st.floats(1e-5, 0.1),
        "porosity": st.floats(0.01, 0.5),
    }
)


@given(k=st.floats(0.01, 2000), i=st.floats(0, 0.5), n=st.floats(0.01, 0.5), days=st.floats(1, 400))
def test_twice_the_conductivity_is_twice_the_distance(k, i, n, days):
    """Travel distance is proportional to conductivity."""
    once = seepage_velocity_m_per_day(k, gradient=i, porosity=n)
    twice = seepage_velocity_m_per_day(2 * k, gradient=i, porosity=n)
    assert 2 * travel_distance_m(days, velocity_m_per_day=once) == pytest.approx(
        travel_distance_m(days, velocity_m_per_day=twice), rel=1e-12
    )


def test_water_that_stands_still_never_arrives():
    """A gradient of zero gives velocity zero, and time without end."""
    velocity = seepage_velocity_m_per_day(10.0, gradient=0.0, porosity=0.2)
    assert velocity == 0.0
    assert inf == travel_days(30.0, velocity_m_per_day=velocity)


@given(well=wells, days=st.floats(0.01, 5000))
def test_distance_and_time_are_inverses(well, days):
    """The time from the upstream distance of `days` is `days`, and never less."""
    distance_m = upstream_distance_m(days, **well)
    assert days == pytest.approx(travel_days_to_well(distance_m, **well), rel=1e-6)


@given(well=wells, days=st.floats(0.1, 5000))
def test_natural_flow_stretches_the_zone_upstream(well, days):
    """Upstream lies farther than the plain circle, downstream nearer, and never past stagnation."""
    circle_m = fixed_radius_m(
        well["pumping_m3_per_day"], days=days, porosity=well["porosity"], thickness_m=well["thickness_m"]
    )
    flow = {key: value for key, value in well.items() if key not in ("porosity", "pumping_m3_per_day")}
    limit_m = stagnation_m(well["pumping_m3_per_day"], **flow)
    downstream_m = downstream_distance_m(days, **well)
    assert upstream_distance_m(days, **well) > circle_m * (1 - 1e-9)
    assert downstream_m < circle_m * (1 + 1e-9)
    assert downstream_m <= limit_m * (1 + 1e-12)


def test_without_natural_flow_all_distances_are_the_circle():
    """With gradient zero, upstream, downstream and outline are the fixed radius, and nothing stagnates."""
    still = SANDY | {"gradient": 0.0}
    radius_m = fixed_radius_m(5.0, days=50, porosity=0.25, thickness_m=10.0)
    assert radius_m == upstream_distance_m(50, **still) == downstream_distance_m(50, **still)
    assert 50.0 == pytest.approx(travel_days_to_well(radius_m, **still), rel=1e-12)
    corners = capture_outline(50, **still, flow_towards_deg=None, well=(3.0, 4.0))
    ring = shapely.Polygon(corners).exterior
    assert radius_m == pytest.approx(shapely.distance(ring, shapely.Point(3.0, 4.0)), rel=1e-9)
    assert inf == half_width_m(5.0, conductivity_m_per_day=10.0, thickness_m=10.0, gradient=0.0)


@settings(max_examples=25)
@given(well=wells, days=st.floats(0.01, 5000), towards_deg=st.floats(0, 360))
def test_the_outline_reaches_upstream_and_downstream(well, days, towards_deg):
    """Along the flow the outline ends at both distances: never short of them, and by little beyond."""
    corners = capture_outline(days, **well, flow_towards_deg=towards_deg)
    zone = shapely.Polygon(corners)
    assert zone.is_valid
    bearing = np.radians(towards_deg)
    along = corners @ np.array([np.sin(bearing), np.cos(bearing)])
    upstream_m, downstream_m = upstream_distance_m(days, **well), downstream_distance_m(days, **well)
    assert -along.min() >= upstream_m * (1 - 1e-12)
    assert along.max() >= downstream_m * (1 - 1e-9)
    assert upstream_m == pytest.approx(-along.min(), rel=2e-3)
    assert downstream_m == pytest.approx(along.max(), rel=5e-3, abs=1e-6 * upstream_m)


@settings(max_examples=25)
@given(well=wells, days=st.floats(0.01, 5000), towards_deg=st.floats(0, 360))
def test_the_outline_holds_what_the_well_pumps(well, days, towards_deg):
    """Water in the zone's pores is what is pumped in that time, so its area is Q t / (n H), rounded up."""
    zone = shapely.Polygon(capture_outline(days, **well, flow_towards_deg=towards_deg, well=(200.0, -50.0)))
    pumped_m3 = well["pumping_m3_per_day"] * days
    area_m2 = pumped_m3 / (well["porosity"] * well["thickness_m"])
    assert area_m2 < zone.area
    flow = {key: value for key, value in well.items() if key not in ("porosity", "pumping_m3_per_day")}
    limit_m = stagnation_m(well["pumping_m3_per_day"], **flow)
    assume(upstream_distance_m(days, **well) < 500 * limit_m)
    assert zone.area < area_m2 * (1 + OUTWARD)
    assert zone.contains(shapely.Point(200.0, -50.0))


@pytest.mark.parametrize("days", [0.5, 5, 50, 400, 5000])
def test_every_place_whose_water_arrives_in_time_lies_inside(days):
    """Places are followed to the well step by step (own check, fourth-order steps); those in time lie inside."""
    unit_m = 5.0 / (2 * pi * 10.0 * 10.0 * 0.01)
    zone = shapely.Polygon(capture_outline(days, **SANDY, flow_towards_deg=270.0))
    # Flow goes west, so upstream is east: the front is drawn backwards from the well, against the flow.
    time = days * 10.0 * 0.01 / (0.25 * unit_m)
    start = 1e-3
    bearings = np.linspace(0.02, 2 * pi - 0.02, 90)
    place = start * np.column_stack([np.cos(bearings), np.sin(bearings)])
    steps = 1000
    span = np.log(max(time, 1e-6) / (start**2 / 2))
    for step in range(steps):
        # Steps grow with the time gone, because close to the well the water runs.
        gone = start**2 / 2 * np.exp(span * step / steps)
        h = start**2 / 2 * np.exp(span * (step + 1) / steps) - gone
        k1 = _backwards(place)
        k2 = _backwards(place + h / 2 * k1)
        k3 = _backwards(place + h / 2 * k2)
        k4 = _backwards(place + h * k3)
        place = place + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
    inside = shapely.Point(0, 0).union(shapely.MultiPoint(place * unit_m * (1 - 2e-3)))
    assert zone.covers(inside)


def _backwards(place):
    """Velocity against the flow, in units where natural flow is 1: away from the well, and east."""
    return place / (place**2).sum(axis=1, keepdims=True) + np.array([1.0, 0.0])


def test_more_days_never_draw_from_less_ground():
    """The zone of a longer time covers that of a shorter one."""
    zones = [
        shapely.Polygon(capture_outline(days, **SANDY, flow_towards_deg=30.0))
        for days in (1e-5, 1e-3, 0.1, 1, 10, 50, 100, 400)
    ]
    # The two may share a side downstream, where each stands out by its own small amount.
    for smaller, larger in pairwise(zones):
        assert shapely.hausdorff_distance(smaller, smaller.intersection(larger)) < OUTWARD * 2.5


def test_the_outline_needs_a_direction_where_water_flows():
    """A gradient without a bearing is refused."""
    with pytest.raises(InputError, match="without a direction"):
        capture_outline(50, **SANDY, flow_towards_deg=None)


def test_water_is_measured_down_from_the_ground():
    """The level is ground minus depth; a negative depth, water above ground, is refused."""
    assert 94.5 == water_level_m(100.0, depth_to_water_m=5.5)
    assert 100.0 == water_level_m(100.0, depth_to_water_m=0.0)
    for depth_m in (-0.1, float("nan")):
        with pytest.raises(InputError, match="depth to water"):
            water_level_m(100.0, depth_to_water_m=depth_m)


def test_conductivity_in_the_wrong_unit_is_told_with_both_readings():
    """0.0002 is told as m/day and as m/s; 17 m/day passes."""
    assert 17.0 == check_conductivity(17.0)
    with pytest.raises(InputError) as caught:
        check_conductivity(0.0002)
    assert "0.0002 m/day" in caught.value.faults[0].found
    assert "17.28 m/day" in caught.value.faults[0].do_next


@pytest.mark.parametrize(
    "values",
    [
        {"conductivity_m_per_day": 0.0, "gradient": 0.01, "porosity": 0.2},
        {"conductivity_m_per_day": 10.0, "gradient": -0.01, "porosity": 0.2},
        {"conductivity_m_per_day": 10.0, "gradient": 0.01, "porosity": 20.0},
        {"conductivity_m_per_day": 10.0, "gradient": 0.01, "porosity": 0.0},
    ],
)
def test_what_cannot_be_is_refused(values):
    """No conductivity, a gradient uphill, or porosity outside its range gives no velocity."""
    with pytest.raises(InputError):
        seepage_velocity_m_per_day(
            values["conductivity_m_per_day"], gradient=values["gradient"], porosity=values["porosity"]
        )


@pytest.mark.parametrize("entry", MATERIALS, ids=lambda entry: entry.name)
def test_every_material_is_usable_and_sourced(entry):
    """Ranges are ordered and possible, both numbers carry a source and a mark, cracked rock is flagged."""
    low, high = entry.conductivity_m_per_day
    assert 0 < low < high
    assert 0 < entry.porosity[0] <= entry.porosity[1] < 1
    assert low < entry.middle_conductivity_m_per_day < high
    for source in (entry.conductivity_source, entry.porosity_source):
        assert any(mark in source for mark in ("(seen)", "seen-2", "from memory"))
    assert (entry.conductivity_m_per_day[1], entry.porosity[0]) == entry.fastest
    assert entry.distance_protects == (entry.name not in {"sandstone", "limestone", "fractured rock"})
    assert entry is material(f" {entry.name.title()} ".replace(" and ", "-and-"))


def test_an_unknown_material_names_the_nearest():
    """A misspelt material is answered with the nearest one and the whole list."""
    with pytest.raises(InputError, match="did you mean 'medium sand'"):
        material("medum sand")
    with pytest.raises(InputError, match="fractured rock"):
        material("cheese")
