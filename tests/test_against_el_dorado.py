"""El Dorado County (California), minimum setbacks of septic systems, as printed, in feet.

Source: https://www.edcgov.us/Government/emd/environmentalhealth/Pages/
septic_system_minimum_setback_requirements.aspx (seen).
"""

import pytest
from printed import cell

PACK = "el-dorado"

SETBACKS = [
    ("5 ft", "septic tank", "dwelling", {}),
    ("5 ft", "septic tank", "tree", {}),
    ("5 ft", "septic tank", "boundary", {}),
    ("5 ft", "septic tank", "road", {}),
    ("50 ft", "septic tank", "stream", {}),
    ("50 ft", "septic tank", "lake", {}),
    ("100 ft", "septic tank", "well", {}),
    ("50 ft", "drain field", "stream", {"feature__seasonal": True}),
    ("100 ft", "drain field", "stream", {"feature__seasonal": False}),
    ("100 ft", "drain field", "stream", {}),
    ("100 ft", "drain field", "well", {}),
    ("100 ft", "drain field", "spring", {}),
    ("100 ft", "drain field", "lake", {}),
    ("100 ft", "drain field", "pond", {}),
    ("200 ft", "drain field", "reservoir", {"feature__potable": True}),
    ("100 ft", "drain field", "reservoir", {"feature__potable": False}),
    ("5 ft", "drain field", "tree", {}),
    ("10 ft", "drain field", "boundary", {}),
    ("10 ft", "drain field", "road", {}),
    ("10 ft", "drain field", "dwelling", {}),
    ("150 ft", "seepage pit", "well", {}),
    ("150 ft", "cesspool", "well", {}),
]


@pytest.mark.parametrize(("printed", "kind", "feature", "known"), SETBACKS)
def test_every_setback_is_as_printed(printed, kind, feature, known):
    """Tank, field, seepage pit and cesspool."""
    assert printed == cell(PACK, kind, feature, **known)


@pytest.mark.parametrize(("height_m", "distance_m"), [(2.5, 10), (1.0, 4), (0.0, 0)])
def test_a_cut_asks_for_four_times_its_height(height_m, distance_m):
    """4 x the height of a cut or fill; 2.5 m of cut gives 10 m."""
    assert f"{distance_m} m" == cell(PACK, "drain field", "cut", feature__cut_height_m=height_m)
