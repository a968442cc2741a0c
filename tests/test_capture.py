"""The zone of a pumped well, as a zone and as rows of a site."""

import numpy as np
import pytest
from conftest import SQUARE, feature, judged, new, plot, site
from shapely.geometry import Point

from siting.capture import capture
from siting.io.packs import load
from siting.site import Ground, WaterLevel
from siting.terrain import Terrain

FALLING_EAST = tuple(
    WaterLevel(name=name, x_m=x, y_m=y, level_m=50.0 - 0.005 * x)
    for name, x, y in (("a", 0.0, 0.0), ("b", 400.0, 0.0), ("c", 0.0, 400.0))
)
"Water that falls by 0.005 towards the east."
PUMPED = {"pumping_m3_per_day": 1000.0, "aquifer_thickness_m": 20.0}


def _ground(*levels):
    return Ground(levels=levels, water_depth_sigma_m=0.001, conductivity_m_per_day=20.0, porosity=0.25)


def _owned(attributes):
    return {f"feature.{name}": value for name, value in attributes.items()}


def test_uniform_flow_reaches_as_far_upstream_as_worked_out():
    """Q 1000, K 20, b 20, i 0.005, n 0.25: 50 days reach 70.469 m upstream (own; exact form of Bear & Jacobs 1965)."""
    terrain = Terrain(site=site(plot(SQUARE), ground=_ground(*FALLING_EAST)))

    drawn = capture(Point(200.0, 200.0), terrain, _owned(PUMPED), days=50.0)

    assert 70.46932 == pytest.approx(drawn.reach_m, abs=1e-3)
    west, _, east, _ = drawn.zone.bounds
    assert 70.46931 <= 200.0 - west <= 70.46932 * 1.01
    assert east - 200.0 < 200.0 - west


def test_without_flow_a_fixed_radius_is_taken():
    """Q 1000, 50 days, n 0.25, b 20: r = sqrt(Q t / (pi n b)) = 56.419 m (own, methods of EPA 440/6-87-010)."""
    terrain = Terrain(site=site(plot(SQUARE), ground=_ground()))

    drawn = capture(Point(200.0, 200.0), terrain, _owned(PUMPED), days=50.0)

    assert 56.41896 == pytest.approx(drawn.reach_m, abs=1e-4)
    assert np.pi * 56.41896**2 <= drawn.zone.area <= np.pi * 56.41896**2 * 1.005


def test_a_well_that_does_not_say_what_it_pumps_has_no_such_zone():
    """Pumping and thickness are both needed."""
    terrain = Terrain(site=site(plot(SQUARE), ground=_ground(*FALLING_EAST)))

    assert capture(Point(0.0, 0.0), terrain, _owned({"pumping_m3_per_day": 5.0}), days=50.0) is None
    assert capture(Point(0.0, 0.0), terrain, _owned({"aquifer_thickness_m": 5.0}), days=50.0) is None


@pytest.mark.parametrize(("x_m", "expected"), [(131.0, "fails"), (129.0, "meets"), (260.0, "meets")])
def test_rows_follow_the_zone(x_m, expected):
    """A pit 69 m upstream of the pumped well fails fifty days, one 71 m upstream meets, one far downstream meets."""
    of = site(
        plot(Point(200.0, 200.0).buffer(190.0)),
        feature("borehole", "Pump", (200.0, 200.0), radius_m=0.0, **{"attributes": PUMPED}),
        ground=_ground(*FALLING_EAST),
    )
    rows = judged(of, load("groundwater-travel-time"), new("pit latrine", depth_m=2.0), (x_m, 200.0, 0.0))
    (row,) = [row for row in rows if row.rule.id == "fifty-days"]

    assert expected == str(row.verdict)
    assert "uniform flow" in row.because
