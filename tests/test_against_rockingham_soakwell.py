"""Rockingham (Western Australia), rain soakwells.

Source: https://rockingham.wa.gov.au/planning-and-building/building-and-renovating/soakwells (seen).
"""

import pytest
from printed import cell

PACK = "rockingham-soakwell"


@pytest.mark.parametrize("feature", ["building", "boundary"])
@pytest.mark.parametrize(("depth_m", "printed"), [(1.2, "1.2 m"), (1.8, "1.8 m")])
def test_as_far_as_it_is_deep(feature, depth_m, printed):
    """Not less than the depth of the soakwell."""
    assert printed == cell(PACK, "rain soakaway", feature, installation__pit_depth_m=depth_m)
