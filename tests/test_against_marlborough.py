"""Marlborough (New Zealand) Environment Plan, volume two, in metres.

Sources (seen): http://v3au.zone-secure.net/drive/5063/347587/index-321.html and .../index-96.html.
"""

import pytest
from printed import cell, requirement

PACK = "marlborough"
CONFINED = {"feature__confined_aquifer": True}

LINES = [
    ("50 m", "refuse pit", "borehole", {"feature__confined_aquifer": False}),
    ("50 m", "refuse pit", "borehole", {}),
    (None, "refuse pit", "borehole", CONFINED),
    ("20 m", "refuse pit", "river", {}),
    ("20 m", "refuse pit", "lake", {}),
    ("20 m", "refuse pit", "wetland", {}),
    ("20 m", "refuse pit", "drain", {}),
    ("10 m", "refuse pit", "boundary", {"feature__ownership": "other"}),
    ("10 m", "refuse pit", "boundary", {}),
    (None, "refuse pit", "boundary", {"feature__ownership": "same"}),
    ("50 m", "drain field", "borehole", {}),
    ("50 m", "animal burial pit", "borehole", {}),
    (None, "animal burial pit", "borehole", CONFINED),
]


@pytest.mark.parametrize(("printed", "kind", "feature", "known"), LINES)
def test_every_line_is_as_printed(printed, kind, feature, known):
    """50 m from a bore unless its layer is confined, 20 m from water, 10 m from another owner's land."""
    assert printed == cell(PACK, kind, feature, **known)


@pytest.mark.parametrize(("material", "allowed"), [("loess", False), ("gravel", False), ("clay", True), (None, None)])
def test_soil(material, allowed):
    """Not on free-draining or loess soils; unknown soil is no answer."""
    assert allowed is requirement(PACK, "refuse pit", "pit-not-in-free-draining-soil", site__material=material)
