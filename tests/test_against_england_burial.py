"""Environment Agency on burials: the withdrawn page and the list of April 2022.

Sources: https://www.gov.uk/guidance/cemeteries-and-burials-prevent-groundwater-pollution (seen, withdrawn);
https://thecdsgroup.co.uk/changes-to-the-minimum-good-practice-groundwater-protection-requirements-a-cds-review
(seen, second hand); https://www.gov.uk/guidance/low-environmental-risk-cemeteries-exemption-conditions (seen).
"""

import pytest
from printed import cell

WITHDRAWN, APRIL_2022 = "england-burial-withdrawn", "england-burial-2022"

TABLE = [
    # receptor, withdrawn page, April 2022
    ("well", {"feature__potable": True}, "250 m", "250 m"),
    ("well", {}, "250 m", "250 m"),
    ("borehole", {"feature__potable": False}, None, "50 m"),
    ("spring", {"feature__potable": True}, "250 m", "250 m"),
    ("spring", {"feature__potable": False}, "30 m", "50 m"),
    ("river", {}, "30 m", "30 m"),
    ("field drain", {}, "10 m", "10 m"),
    ("", {"measure": "above water table"}, "1 m", "1 m"),
    ("flood-prone land", {}, "> 0 m", "> 0 m"),
]


@pytest.mark.parametrize(("feature", "known", "withdrawn", "april_2022"), TABLE)
def test_both_editions_are_as_printed(feature, known, withdrawn, april_2022):
    """250, 30 and 10 m on the withdrawn page; 250, 50, 30 and 10 m in April 2022."""
    assert withdrawn == cell(WITHDRAWN, "grave", feature, **known)
    assert april_2022 == cell(APRIL_2022, "grave", feature, **known)
