"""Alberta private sewage standard, clearances, in metres.

Source: https://ijd.ca/faqs/private-sewage/ (seen, second hand).
"""

import pytest
from printed import cell

PACK = "alberta-private-sewage"
FIELD, MOUND = {"installation__mound": False}, {"installation__mound": True}
WITHOUT, WITH = {"feature__foundation": "none"}, {"feature__foundation": "permanent"}
BASEMENT = {"feature__foundation": "basement"}

TABLE = [
    ("1 m", "septic tank", "boundary", {}),
    ("1 m", "septic tank", "dwelling", {}),
    ("10 m", "septic tank", "well", {}),
    ("10 m", "holding tank", "river", {}),
    ("1.5 m", "drain field", "boundary", FIELD),
    ("10 m", "drain field", "dwelling", FIELD | BASEMENT),
    ("10 m", "drain field", "dwelling", FIELD),
    ("5 m", "drain field", "dwelling", FIELD | WITH),
    ("1 m", "drain field", "dwelling", FIELD | WITHOUT),
    ("15 m", "drain field", "well", FIELD),
    ("15 m", "drain field", "stream", FIELD),
    ("5 m", "drain field", "septic tank", FIELD),
    ("3 m", "drain field", "boundary", MOUND),
    ("10 m", "drain field", "dwelling", MOUND | WITHOUT),
    ("15 m", "drain field", "well", MOUND),
    ("15 m", "drain field", "stream", MOUND),
    ("3 m", "drain field", "septic tank", MOUND),
]


@pytest.mark.parametrize(("printed", "kind", "feature", "known"), TABLE)
def test_every_cell_is_as_restated(printed, kind, feature, known):
    """Tank, field and mound; the foundation of a building decides the field's distance."""
    assert printed == cell(PACK, kind, feature, **known)
