"""Ontario Building Code, Table 8.2.1.5, as printed.

Source: http://www.buildingcode.online/1158.html (seen).
"""

import pytest
from printed import cell, rules

PACK = "ontario-8-2-1-5"

TABLE_8_2_1_5 = """
system             cased  other  surface  line
pit latrine        15     30     15       3
vault latrine      10     15     10       3
greywater soakaway 10     15     15       3
cesspool           30     60     15       3
"""
"Metres; well with watertight casing to 6 m or more, potable spring or other well, surface water, line."

ROWS = [row.rsplit(maxsplit=4) for row in TABLE_8_2_1_5.strip().splitlines()[1:]]


@pytest.mark.parametrize(("kind", "cased", "other", "surface", "line"), ROWS)
def test_every_cell_is_as_printed(kind, cased, other, surface, line):
    """The four cells of each row stand in the pack, in metres."""
    assert f"{cased} m" == cell(PACK, kind, "borehole", feature__casing_m=6)
    assert f"{other} m" == cell(PACK, kind, "borehole", feature__casing_m=5.99)
    assert f"{surface} m" == cell(PACK, kind, "lake")
    assert f"{line} m" == cell(PACK, kind, "boundary")


@pytest.mark.parametrize(("kind", "cased", "other", "surface", "line"), ROWS)
def test_a_spring_is_drunk_from_unless_it_is_said_not_to_be(kind, cased, other, surface, line):
    """A spring takes the second column; one that is not potable takes the third."""
    assert f"{other} m" == cell(PACK, kind, "spring")
    assert f"{other} m" == cell(PACK, kind, "spring", feature__potable=True)
    assert f"{surface} m" == cell(PACK, kind, "spring", feature__potable=False)


@pytest.mark.parametrize("receptor", ["river", "pond", "stream", "reservoir"])
def test_the_third_column_names_every_surface_water(receptor):
    """Lake, river, pond, stream and reservoir share one column."""
    assert cell(PACK, "cesspool", "lake") == cell(PACK, "cesspool", receptor) == "15 m"


def test_an_unknown_casing_takes_the_stricter_column():
    """A well whose casing nobody recorded is treated as one without a deep watertight casing."""
    assert "30 m" == cell(PACK, "pit latrine", "well")


def test_exactly_at_the_value_complies():
    """The table gives least distances: none of its limits is strict."""
    kinds = [row[0] for row in ROWS]

    assert not any(limit.is_strict for kind in kinds for rule in rules(PACK, kind, "lake") for limit in rule.limits)


def test_privy_bottom_stands_clear_of_the_high_water_table():
    """An earth pit privy ends at least 0.9 m above the high water table.

    Source: http://www.buildingcode.online/1167.html (seen).
    """
    assert "0.9 m" == cell(PACK, "pit latrine", measure="above water table")
