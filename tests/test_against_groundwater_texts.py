"""Groundwater formulas against published examples and tables.

Each value names its source and whether it was read there (seen), read in a public file that quotes the
source (seen-2), known from memory, or computed for this project (own).
"""

import numpy as np
import pytest

from siting.groundwater import (
    downstream_distance_m,
    fit_levels,
    fixed_radius_m,
    half_width_at_well_m,
    half_width_m,
    material,
    seepage_velocity_m_per_day,
    stagnation_m,
    travel_days,
    travel_days_to_well,
    travel_distance_m,
    upstream_distance_m,
)

FOOT_M = 0.3048
US_GALLON_M3 = 0.003785411784

THREE_WELLS = {
    # US EPA On-line Tools for Site Assessment, "Three Point Gradient Calculator": inputs seen, answer own.
    "EPA": ([(190, 163), (138, 153), (217, 43)], [90.24, 90.27, 90.01], 0.00193775, 152.1145),
    # Heath, USGS Water-Supply Paper 2220 (1983), p. 11: heads and distances from memory, coordinates own.
    "Heath": (
        [(0, 0), (-40, 133), (91.867412, 194.384615)],
        [26.07, 26.20, 26.26],
        0.000977444,
        180.0,
    ),
    # Masters & Ela, Introduction to Environmental Engineering and Science, ch. 5 (attribution from memory):
    # wells 300 m apart, inputs seen; Well 1 stands at the origin and the other two north of it.
    "Masters & Ela": (
        [(0, 0), (-150, 259.80762), (150, 259.80762)],
        [100.0, 100.3, 100.3],
        0.00115470054,
        180.0,
    ),
    # Three wells on the plane h = -0.002 x - 0.001 y + 99.3, a teaching notebook: seen-2.
    "teaching plane": ([(0, 0), (100, 0), (0, 100)], [99.3, 99.1, 99.2], 0.00223607, 63.4349),
}


@pytest.mark.parametrize("case", THREE_WELLS)
def test_three_wells_give_gradient_and_direction(case):
    """The plane through three heads has the published gradient and flow direction."""
    points, heads, gradient, towards_deg = THREE_WELLS[case]
    plane = fit_levels(points, heads)
    assert gradient == pytest.approx(plane.gradient, abs=1e-8)
    assert towards_deg == pytest.approx(plane.flow_towards_deg, abs=1e-4)


def test_epa_plane_coefficients():
    """The EPA lesson's plane (inputs seen, answer own): a, b and c."""
    points, heads, _, _ = THREE_WELLS["EPA"]
    plane = fit_levels(points, heads)
    assert -0.000906298 == pytest.approx(plane.a, abs=1e-9)
    assert 0.001712750 == pytest.approx(plane.b, abs=1e-9)
    assert 90.133018 == pytest.approx(plane.c, abs=1e-6)


def test_heath_velocities():
    """Heath (1983), "Ground-Water Velocity", p. 25 (from memory): coarse sand and a clay bed."""
    sand = seepage_velocity_m_per_day(60.0, gradient=1 / 1000, porosity=0.20)
    clay = seepage_velocity_m_per_day(0.0001, gradient=1 / 10, porosity=0.50)
    assert 0.3 == pytest.approx(sand, rel=1e-12)
    assert 0.00002 == pytest.approx(clay, rel=1e-12)


def test_masters_and_ela_travel_time():
    """Masters & Ela (inputs seen): water crosses the triangle of wells in 51.75 days."""
    velocity = seepage_velocity_m_per_day(1000.0, gradient=0.00115470054, porosity=0.23)
    assert 5.02043712 == pytest.approx(velocity, rel=1e-8)
    assert 51.750 == pytest.approx(travel_days(259.80762, velocity_m_per_day=velocity), abs=1e-3)


@pytest.mark.parametrize(
    ("k", "n", "days", "distance_m"),
    [
        (30.0, 0.25, 25, 30.0),  # medium sand, 25 days: about 30 m, published (seen); K and gradient own
        (30.0, 0.25, 50, 60.0),  # own
        (100.0, 0.25, 25, 100.0),  # gravel, 25 days: more than 100 m, published (seen); K and gradient own
        (10.0, 0.15, 25, 16.667),  # fine silty sand, own
        (10.0, 0.15, 50, 33.333),  # own
        (10.0, 0.20, 50, 25.0),  # own
        (40.0, 0.20, 50, 100.0),  # own
    ],
)
def test_travel_distances_at_one_in_a_hundred(k, n, days, distance_m):
    """At a gradient of 0.01 (own) the distances quoted from BGS CR/01/142 (2001) come out."""
    velocity = seepage_velocity_m_per_day(k, gradient=0.01, porosity=n)
    assert distance_m == pytest.approx(travel_distance_m(days, velocity_m_per_day=velocity), abs=1e-3)


def test_epa_fixed_radius():
    """EPA 440/6-87-010 (1987), ch. 4, Florida example (from memory): 694.4 gpm for 5 years, 1138 ft."""
    pumping = 694.4 * 1440 * US_GALLON_M3
    radius_m = fixed_radius_m(pumping, days=5 * 365, porosity=0.2, thickness_m=300 * FOOT_M)
    assert 1138 == pytest.approx(radius_m / FOOT_M, abs=0.5)


def test_illinois_fixed_radius():
    """35 Illinois Administrative Code 671 App. A (formula seen, case own), to its constant rounded to 4524."""
    pumping = 1000 * FOOT_M**3
    radius_m = fixed_radius_m(pumping, days=2_628_000 / 1440, porosity=0.21, thickness_m=20 * FOOT_M)
    assert 371.900 == pytest.approx(radius_m / FOOT_M, abs=0.01)


@pytest.mark.parametrize(
    ("pumping", "days", "n", "thickness_m", "radius_m"),
    [(5, 50, 0.25, 10, 5.64190), (10, 50, 0.2, 10, 8.92062), (1000, 400, 0.25, 20, 159.57691)],  # own
)
def test_fixed_radius_metric(pumping, days, n, thickness_m, radius_m):
    """Fixed radius in metres (own)."""
    assert radius_m == pytest.approx(fixed_radius_m(pumping, days=days, porosity=n, thickness_m=thickness_m), abs=1e-5)


def test_kuo_capture_zone():
    """Kuo, *Practical Design Calculations*, 2nd ed., Example 6.6, p. 228 (seen): 9.6, 15 and 30 ft.

    The book rounds the first up, from 9.549.
    """
    flow = {
        "conductivity_m_per_day": 1000 * US_GALLON_M3 / FOOT_M**2,
        "thickness_m": 80 * FOOT_M,
        "gradient": 0.015,
    }
    pumping = 50 * 1440 * US_GALLON_M3
    # The example takes 7.48 gallons to the cubic foot in both, which cancels.
    assert 9.6 == pytest.approx(stagnation_m(pumping, **flow) / FOOT_M, abs=0.1)
    assert 15 == pytest.approx(half_width_at_well_m(pumping, **flow) / FOOT_M, abs=1e-6)
    assert 30 == pytest.approx(half_width_m(pumping, **flow) / FOOT_M, abs=1e-6)


def test_illinois_uniform_flow():
    """35 Illinois Administrative Code 671 App. C, X = 1.19 Q / (T i) and Y = 7.48 Q / (T i) (seen; case own)."""
    flow = {
        "conductivity_m_per_day": 50_000 * US_GALLON_M3 / FOOT_M / FOOT_M,
        "thickness_m": 1 * FOOT_M,
        "gradient": 0.005,
    }
    pumping = 10_000 * FOOT_M**3
    assert 47.6 == pytest.approx(stagnation_m(pumping, **flow) / FOOT_M, abs=0.05)
    # Q in ft3/day and T in gal/day/ft, hence 7.48 gallons to the cubic foot; Y is the whole width.
    assert 299.2 == pytest.approx(2 * half_width_m(pumping, **flow) / FOOT_M, abs=0.05)


@pytest.mark.parametrize(
    ("pumping", "k", "thickness_m", "gradient", "stagnation", "at_well", "far"),
    [
        (1000, 20, 20, 0.005, 79.57747, 125.0, 250.0),  # own
        (5, 10, 10, 0.01, 0.795775, 1.25, 2.5),  # own
        (272.549650, 40.745883, 24.384, 0.015, 2.910626, 4.572, 9.144),  # Kuo Example 6.6 in metres, own
    ],
)
def test_uniform_flow_metric(pumping, k, thickness_m, gradient, stagnation, at_well, far):
    """Stagnation and widths in metres."""
    flow = {"conductivity_m_per_day": k, "thickness_m": thickness_m, "gradient": gradient}
    assert stagnation == pytest.approx(stagnation_m(pumping, **flow), rel=2e-6)
    assert at_well == pytest.approx(half_width_at_well_m(pumping, **flow), rel=2e-6)
    assert far == pytest.approx(half_width_m(pumping, **flow), rel=2e-6)


TOWN_WELL = {
    "pumping_m3_per_day": 1000.0,
    "conductivity_m_per_day": 20.0,
    "thickness_m": 20.0,
    "gradient": 0.005,
    "porosity": 0.25,
}


def test_bear_and_jacobs_metric():
    """Time up the axis (own, equal to numerical integration): 100 m, and back for 50 and 400 days."""
    assert 88.084578 == pytest.approx(travel_days_to_well(100.0, **TOWN_WELL), abs=1e-6)
    assert 70.46932 == pytest.approx(upstream_distance_m(50, **TOWN_WELL), abs=1e-5)
    assert 280.023928 == pytest.approx(upstream_distance_m(400, **TOWN_WELL), abs=1e-6)
    nearly_flat = TOWN_WELL | {"gradient": 1e-9}
    assert 56.41896 == pytest.approx(upstream_distance_m(50, **nearly_flat), abs=1e-4)


@pytest.mark.parametrize(
    ("time", "upstream", "downstream", "ceric_haitjema", "error_percent"),
    [
        (0.1, 0.516221, 0.383183, 0.516219, 0.1),
        (0.2, 0.772250, 0.506761, 0.766550, 0.8),
        (0.5, 1.357677, 0.698290, 1.373250, 1.2),
        (1.0, 2.146193, 0.841406, 2.145080, 0.1),
        (1.5, 2.847397, 0.910203, 2.939428, 3.3),
        (2.0, 3.505241, 0.947531, 3.551445, 1.4),
        (2.85, 4.566825, 0.978252, 4.567087, 0.1),
        (3.0, 4.749031, 0.981339, 4.743668, 0.2),
        (5.0, 7.090717, 0.997515, 7.043592, 0.7),
    ],
)
def test_zones_in_units_of_stagnation(time, upstream, downstream, ceric_haitjema, error_percent):
    """Bear & Jacobs (own numbers); Ceric & Haitjema, *Ground Water* 43 (2005), eqs 5, 6, 14 (seen-2) stay close."""
    unit_m = 1000.0 / (2 * np.pi * 20.0 * 20.0 * 0.005)
    days = time * 0.25 * unit_m / (20.0 * 0.005)
    found = upstream_distance_m(days, **TOWN_WELL) / unit_m
    assert upstream == pytest.approx(found, abs=1e-6)
    assert downstream == pytest.approx(downstream_distance_m(days, **TOWN_WELL) / unit_m, abs=1e-6)
    assert ceric_haitjema == pytest.approx(found, rel=error_percent / 100)


@pytest.mark.parametrize(
    ("name", "conductivity", "porosity"),
    [
        # Bouwer (1978), Table 2.1 (seen-2), m/day; Morris & Johnson (1967) in Woessner & Poeter (2020) (seen-2)
        ("clay", (0.01, 0.2), (0.01, 0.18)),
        ("fine sand", (1, 5), (0.01, 0.46)),
        ("medium sand", (5, 20), (0.16, 0.46)),
        ("coarse sand", (20, 100), (0.18, 0.43)),
        ("gravel", (100, 1000), (0.13, 0.44)),
        # Bouwer again; porosity of BGS CR/01/142 (2001) (from memory)
        ("weathered rock", (0.001, 10), (0.05, 0.2)),
        # BGS CR/01/142 (2001) (seen-2; porosity from memory)
        ("fine silty sand", (0.1, 10), (0.1, 0.2)),
        # Domenico & Schwartz (1990), silt or loess 1e-9 to 2e-5 m/s (seen-2)
        ("silt", (8.64e-5, 1.728), (0.01, 0.40)),
    ],
)
def test_material_table_as_printed(name, conductivity, porosity):
    """The table holds the ranges as printed."""
    entry = material(name)
    assert conductivity == pytest.approx(entry.conductivity_m_per_day, rel=1e-12)
    assert porosity == pytest.approx(entry.porosity, rel=1e-12)
