"""Quebec, Q-2, r. 22, sections 47 (privy) and 32 (seepage pit).

Sources (seen): https://www.legisquebec.gouv.qc.ca/fr/version/rc/q-2,%20r.%2022?code=se:47&historique=20260305 ;
http://legisquebec.gouv.qc.ca/en/showversion/cr/Q-2,%20r.%2022?code=se:32&pointInTime=20170303 .
"""

import pytest
from printed import cell, requirement, rules

PACK = "quebec-privy"


@pytest.mark.parametrize(("kind", "printed"), [("pit latrine", "1.2 m"), ("seepage pit", "3 m")])
def test_water_is_counted_from_the_surface_of_the_ground(kind, printed):
    """At least 1.2 m (privy) or 3 m (seepage pit) below the surface, whatever the depth of the pit."""
    (rule,) = rules(PACK, kind, measure="above water table")

    assert "ground surface" == rule.datum
    assert printed == cell(PACK, kind, measure="above water table")


@pytest.mark.parametrize(
    ("kind", "rule", "depth_m"), [("pit latrine", "privy", 1.2), ("seepage pit", "seepage-pit", 3)]
)
def test_rock_lies_as_deep(kind, rule, depth_m):
    """Rock and impermeable layers are counted like groundwater."""
    answers = [
        requirement(PACK, kind, f"{rule}-rock-below-surface", site__rock_depth_m=d) for d in (depth_m - 0.01, depth_m)
    ]

    assert [False, True] == answers


@pytest.mark.parametrize("kind", ["pit latrine", "seepage pit"])
def test_slope(kind):
    """Less than 30 percent."""
    printed = "< 30 percent"

    assert printed == cell(PACK, kind, measure="slope")
