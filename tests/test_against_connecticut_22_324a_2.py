"""Connecticut, Regulations of State Agencies 22-324a-2, disposal pit for dead poultry, as printed.

Source: https://d1tvxue8o4w0fl.cloudfront.net/regulation/connecticut-administrative-code/
title-22-agriculture-domestic-animals/disposal-of-dead-poultry/section-22-324a-2-acceptable-methods (seen).
"""

import pytest
from printed import cell, rules

PACK = "connecticut-22-324a-2"

APPROVED = {"installation__allowed_by_health_director": True}
PLAIN = {"feature__feeds_reservoir": False}
LINES = [
    ("75 ft", "well", {}),
    ("75 ft", "spring", {}),
    ("50 ft", "dwelling", {}),
    ("50 ft", "ward", {}),
    ("50 ft", "stream", {"feature__feeds_reservoir": True}),
    ("50 ft", "drain", {"feature__feeds_reservoir": True}),
    ("50 ft", "stream", {}),
    ("25 ft", "stream", PLAIN),
    ("25 ft", "pond", {}),
    ("25 ft", "lake", {}),
    ("25 ft", "sea", {}),
    (None, "stream", PLAIN | APPROVED),
    ("10 ft", "boundary", {}),
    (None, "boundary", APPROVED),
    ("18 in", "", {"measure": "above water table"}),
]


@pytest.mark.parametrize("kind", ["animal burial pit", "placenta pit", "burial pit"])
@pytest.mark.parametrize(("printed", "feature", "known"), LINES)
def test_every_line_is_as_printed(printed, feature, known, kind):
    """The rule holds for pits in which animal tissue decomposes, and by analogy for other tissue."""
    assert printed == cell(PACK, kind, feature, **known)


def test_approval_does_not_shorten_what_cannot_be_waived():
    """Wells, habitations and reservoir tributaries keep their distance whoever approves."""
    printed = ("75 ft", "50 ft", "50 ft")

    assert printed == tuple(cell(PACK, "animal burial pit", f, **APPROVED) for f in ("well", "dwelling", "river"))


def test_every_row_of_another_pit_says_that_it_is_an_analogue():
    """The rule was written for poultry."""
    rows = rules(PACK, "placenta pit") + rules(PACK, "placenta pit", measure="above water table")

    assert [] == [rule.id for rule in rows if not rule.note.startswith("analogue")]
