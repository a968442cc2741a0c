"""A zoo of six small sites that every layer is tried on, and builders that write a case in a line."""

import os
import re
from collections.abc import Iterable

import numpy as np
import pytest
import shapely
from hypothesis import settings
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from siting import pack_text
from siting.clearance import one_place
from siting.demands import demands
from siting.frame import Frame
from siting.installation import Installation, Outline, rectangle
from siting.kinds import vocabulary
from siting.requirements import Demands, Question
from siting.rules import Pack
from siting.separations import Separation, judge
from siting.site import Feature, Ground, Site, Source, SpotHeight

# CI draws the same cases every time: it tells of the change, not of luck. At the desk they differ from run to run.
settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")


WORDS = vocabulary()
POINT = Outline(geometry=Point(0.0, 0.0))
"An outline without size: its margins are those of the place itself."

HEAD = """
id = "{id}"
title = "A code for tests"
edition = "1"
[document.code]
title = "A code for tests"
read = "project judgement"
"""
CITE = 'cite = { document = "code", clause = "1", says = "made up" }'

LIMITS_30 = """
    id = "well"
    for = ["pit"]
    from = ["water source"]
    at_least_m = 30
"""
LIMITS_10 = """
    id = "building"
    for = ["pit"]
    from = ["building"]
    outline = "enclosure"
    at_least_m = 10
"""
ON_THE_LAND = """
    id = "land"
    for = ["pit"]
    from = ["boundary"]
    outline = "enclosure"
    at_least_m = 5
"""


def feature(
    kind: str, name: str, where: BaseGeometry | tuple[float, float], *, source: str = "survey", **more: object
) -> Feature:
    """A feature at a point (x, y) or of a geometry."""
    geometry = Point(where) if isinstance(where, tuple) else where
    return Feature(kind=kind, name=name, geometry=geometry, source=source, **more)


def plot(land: Polygon, name: str = "Plot", **more: object) -> Feature:
    """A boundary."""
    return feature("boundary", name, land, **more)


def site(*features: Feature, shared_m: dict[str, float] | None = None, **more: object) -> Site:
    """A site of features, with what each of their sources shares."""
    sources = {name: Source(name=name, shared_sigma_m=sigma) for name, sigma in (shared_m or {}).items()}
    frame = Frame(lon=34.0, lat=-13.0)
    return Site(name="Test plot", frame=frame, features=tuple(features), sources=sources, **more)


def pack(*bodies: str, id: str = "code") -> Pack:
    """A pack from the bodies of its rules; a body without an id or a citation is given one."""
    text = HEAD.format(id=id) + "\n".join(_rule(number, body) for number, body in enumerate(bodies, 1))
    return pack_text.parse(text, WORDS, file=f"{id}.toml")


def _rule(number: int, body: str) -> str:
    name = "" if re.search(r"^\s*id\s*=", body, re.M) else f'id = "rule-{number}"'
    cite = "" if re.search(r"^\s*cite\s*=", body, re.M) else CITE
    return f"[[rule]]\n{name}\n{body}\n{cite}"


def new(
    kind: str = "pit latrine",
    *,
    pit: Outline = POINT,
    enclosure: Outline = POINT,
    depth_m: float | None = None,
    orientation_deg: float | None = None,
    **attributes: object,
) -> Installation:
    """Something wanted, without size unless it is given one."""
    known = {**WORDS.kinds[kind].assumed, "kind": kind, "status": "proposed", **attributes}
    return Installation(
        kind=kind, name=f"new {kind}", pit=pit, enclosure=enclosure, depth_m=depth_m,
        orientation_deg=orientation_deg, attributes=known,
    )  # fmt: skip


def asked(of: Site, by: Pack | Iterable[Pack], installation: Installation) -> Demands:
    """What packs ask of an installation on a site."""
    packs = (by,) if isinstance(by, Pack) else tuple(by)
    return demands(Question(site=of, packs=packs, words=WORDS), installation)


def judged(
    of: Site, by: Pack | Iterable[Pack], installation: Installation, at: tuple[float, ...] = (0.0, 0.0)
) -> tuple[Separation, ...]:
    """The rows of an installation at a place (x, y) or (x, y, orientation)."""
    return judge(asked(of, by, installation), of.features, confidence=of.confidence, place=one_place(*at))


def grid(land: BaseGeometry, step_m: float) -> np.ndarray:
    """Points (n, 2) of a grid on land."""
    west, south, east, north = shapely.bounds(land)
    half_m = step_m / 2.0
    x, y = np.meshgrid(np.arange(west, east + half_m, step_m), np.arange(south, north + half_m, step_m))
    points = np.column_stack([x.ravel(), y.ravel()])
    return points[shapely.intersects_xy(land, points[:, 0], points[:, 1])]


@pytest.fixture(scope="session")
def code() -> Pack:
    """Three plain distances: water, buildings, boundary."""
    return pack(LIMITS_30, LIMITS_10, ON_THE_LAND)


@pytest.fixture(scope="session")
def placenta_pit() -> Installation:
    """A round pit of 1.5 m in an enclosure of 4 by 3 m that is free to turn."""
    pit = Outline(geometry=Point(0.0, 0.0), radius_m=0.75)
    return new("placenta pit", pit=pit, enclosure=rectangle(4.0, 3.0), depth_m=3.0)


SQUARE = shapely.box(0.0, 0.0, 100.0, 100.0)
HOLED = Polygon(SQUARE.exterior, [shapely.box(40.0, 40.0, 70.0, 60.0).exterior.coords])


def square_plot() -> Site:
    """A hundred metres by a hundred, a well near one corner, a ward near another."""
    ward = feature("ward", "Ward", shapely.box(70.0, 70.0, 90.0, 80.0), sigma_m=0.1)
    return site(plot(SQUARE), feature("well", "Well", (20.0, 20.0), radius_m=0.6, sigma_m=0.1), ward)


def plot_with_a_hole() -> Site:
    """The same with a neighbour's ground inside it."""
    return site(plot(HOLED), feature("well", "Well", (20.0, 20.0), radius_m=0.6))


def sloping_plot() -> Site:
    """The ground falls to the east by one metre in ten."""
    at = (0.0, 50.0, 100.0)
    heights = tuple(SpotHeight(x_m=x, y_m=y, height_m=50.0 - 0.1 * x) for x in at for y in at)
    well = feature("well", "Well", (50.0, 50.0))
    return site(plot(SQUARE), well, ground=Ground(spot_heights=heights))


def no_boundary() -> Site:
    """A well and a ward on ground that nobody has bounded."""
    ward = feature("ward", "Ward", shapely.box(50.0, 0.0, 60.0, 10.0))
    return site(feature("well", "Well", (0.0, 0.0)), ward)


def two_wells() -> Site:
    """One well from a drawing, one from a receiver, which share an error of their own each."""
    drawn = feature("well", "Drawn well", (20.0, 50.0), source="drawing", sigma_m=0.2)
    fixed = feature("well", "Fixed well", (80.0, 50.0), source="receiver", sigma_m=3.0)
    land = plot(SQUARE, source="drawing", sigma_m=0.2)
    return site(land, drawn, fixed, shared_m={"drawing": 2.0, "receiver": 1.0})


def impossible_plot() -> Site:
    """Thirty metres by thirty with a well in the middle: no corner is 30 m from it."""
    return site(plot(shapely.box(0.0, 0.0, 30.0, 30.0)), feature("well", "Well", (15.0, 15.0)))


ZOO = {
    "square plot": square_plot,
    "plot with a hole": plot_with_a_hole,
    "sloping": sloping_plot,
    "no boundary": no_boundary,
    "two wells": two_wells,
    "impossible": impossible_plot,
}


@pytest.fixture(params=ZOO, ids=str)
def zoo_site(request: pytest.FixtureRequest) -> Site:
    """Each site of the zoo in turn."""
    return ZOO[request.param]()
