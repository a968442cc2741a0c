"""What levels, heights and winds tell: planes, directions, material, and what a reader has to know of them."""

from math import sqrt

import pytest
from conftest import site

from siting.errors import InputError
from siting.site import Ground, SpotHeight, WaterLevel
from siting.terrain import LEVEL_SIGMA_M, Terrain, has_slope

CORNERS = ((0.0, 0.0), (100.0, 0.0), (0.0, 100.0), (100.0, 100.0))


def _levels(a, b, c=100.0, corners=CORNERS[:3]):
    """Water levels of a plane that rises by a eastward and b northward."""
    return tuple(
        WaterLevel(name=f"W{n}", x_m=x, y_m=y, level_m=a * x + b * y + c) for n, (x, y) in enumerate(corners, 1)
    )


def _heights(a, b, c=100.0):
    return tuple(SpotHeight(x_m=x, y_m=y, height_m=a * x + b * y + c) for x, y in CORNERS)


def _terrain(wind=None, **ground):
    return Terrain(site=site(ground=Ground(**ground), wind_from_percent=wind or {}))


def test_nothing_known_is_nothing_said():
    """Without levels, heights, wind and material there is no plane, no direction and no notice."""
    terrain = _terrain()

    assert (None,) * 6 == (
        terrain.water, terrain.heights, terrain.surface, terrain.rose, terrain.material, terrain.flow,
    )  # fmt: skip
    assert {"gradient": None, "slope": None, "wind": None} == terrain.towards
    assert () == terrain.notices


def test_each_direction_comes_from_its_own_readings():
    """Water falling east flows towards 90, ground falling south towards 180, wind from the west blows towards 90."""
    wind = {"N": 0, "NE": 0, "E": 10, "SE": 0, "S": 10, "SW": 10, "W": 60, "NW": 10}
    terrain = _terrain(wind, levels=_levels(-0.01, 0.0), spot_heights=_heights(0.0, 0.05))

    assert {"gradient": 90.0, "slope": 180.0, "wind": 90.0} == pytest.approx(dict(terrain.towards))


def test_a_slope_within_its_own_error_has_no_direction():
    """Three levels read to 5 cm over 100 m tell 1 in 200 from level water and not 1 in 2000 (own)."""
    sure, unsure, level = (_terrain(levels=_levels(-fall, 0.0)) for fall in (0.005, 0.0005, 0.0))

    # One pair of levels decides the fall along x: sqrt(2) of the error of a level over 100 m.
    assert sqrt(2.0) * LEVEL_SIGMA_M / 100.0 == pytest.approx(sure.water.gradient_sigma)
    assert 90.0 == pytest.approx(sure.towards["gradient"])
    assert unsure.towards["gradient"] is None
    assert level.towards["gradient"] is None
    assert [True, False, False] == [has_slope(t.water) for t in (sure, unsure, level)]


def test_better_readings_find_the_direction():
    """The same 1 in 2000 read to a millimetre has one."""
    terrain = _terrain(levels=_levels(-0.0005, 0.0), water_depth_sigma_m=0.001)

    assert 90.0 == pytest.approx(terrain.towards["gradient"])


def test_two_equal_winds_lead_nowhere():
    """With no single prevailing sector, downwind is not one side."""
    wind = {"N": 0, "NE": 0, "E": 40, "SE": 0, "S": 0, "SW": 20, "W": 40, "NW": 0}

    assert _terrain(wind).towards["wind"] is None


def test_stated_numbers_go_before_the_ranges_of_a_material():
    """Conductivity and porosity as stated; with a material alone, the fastest pair of its published ranges."""
    stated = _terrain(material="medium sand", conductivity_m_per_day=30.0, porosity=0.25)
    named = _terrain(material="medium sand")
    one_missing = _terrain(material="medium sand", conductivity_m_per_day=30.0)

    assert (30.0, 0.25, "conductivity and porosity as stated") == stated.flow
    # Bouwer (1978), Table 2.1 (seen-2): medium sand 5 to 20 m/day.
    assert 20.0 == named.flow[0]
    assert named.flow[1] == named.material.porosity[0]
    assert "medium sand: the fastest of the published ranges, 20 m/day" in named.flow[2]
    assert named.flow == one_missing.flow


def test_an_unknown_material_is_refused_with_near_ones():
    """Three parts with the nearest names."""
    with pytest.raises(InputError) as error:
        _ = _terrain(material="medium snad").material

    assert "medium sand" in error.value.faults[0].do_next


@pytest.mark.parametrize("count", [1, 2])
def test_fewer_than_three_levels_are_refused(count):
    """One or two wells leave the slope open."""
    with pytest.raises(InputError) as error:
        _ = _terrain(levels=_levels(-0.01, 0.0)[:count]).water

    assert f"levels of {count} wells" == error.value.faults[0].found


def test_wells_in_a_line_are_refused():
    """The slope across the line is not known."""
    line = ((0.0, 0.0), (50.0, 50.0), (100.0, 100.0))
    with pytest.raises(InputError) as error:
        _ = _terrain(levels=_levels(-0.01, 0.0, corners=line)).water

    assert "within a strip 141.4 m long" in error.value.faults[0].found
    assert "add a level at least 7.1 m to the side" in error.value.faults[0].do_next


@pytest.mark.parametrize(("season", "said"), [("dry", "dry"), ("", "season not stated"), ("highest", None)])
def test_levels_of_any_other_season_are_no_design_levels(season, said):
    """A dry-season reading gives the direction only, and that is said."""
    notices = _terrain(levels=_levels(-0.01, 0.0), levels_season=season).notices

    assert [] == [n.code for n in notices] if said is None else ["levels-not-highest"] == [n.code for n in notices]
    assert said is None or said in notices[0].message


def test_cracked_rock_is_warned_of():
    """Water runs in cracks: whatever the rows say, no distance can be relied on."""
    (notice,) = _terrain(material="fractured rock").notices

    assert "no-distance-protects" == notice.code
    assert "no distance can be relied on" in notice.message


def test_terrain_is_reckoned_once():
    """The planes are kept: every maker asks for them again and again."""
    terrain = _terrain(levels=_levels(-0.01, 0.0), spot_heights=_heights(0.0, 0.05))

    assert terrain.water is terrain.water
    assert terrain.surface is terrain.surface
