"""Invented sites for the tests of the map: one with places, one without any, one only checked."""

from dataclasses import replace
from datetime import date

import shapely
from conftest import pack

from siting.assess import Assessment, assess
from siting.frame import Frame
from siting.io import packs
from siting.kinds import vocabulary
from siting.layout import lay_out_site
from siting.site import (
    Feature,
    Ground,
    Notice,
    Origin,
    Request,
    Site,
    Source,
    SpotHeight,
    Status,
    Survey,
    WaterLevel,
)
from siting.sizes import size

FRAME = Frame(lon=34.5, lat=-13.25)
HOSTILE = (
    "<img src=x onerror=window.struck=1>",
    "</script><script>window.struck=1</script>",
    "${window.struck=1}`'\"",
    "<!--<script>",
    "]]>&lt;b&gt;",
)
"Names that would run as script, or break the page, wherever a text is taken for markup."


def _feature(kind: str, name: str, geometry: shapely.Geometry, **more: object) -> Feature:
    return Feature(
        kind=kind, name=name, geometry=geometry, source="plan.geojson", sigma_m=0.3,
        origin=Origin(file="plan.geojson", row=1), **more,
    )  # fmt: skip


def features(names: dict[str, str] | None = None) -> tuple[Feature, ...]:
    """A facility of 120 m by 100 m with a well, wards, latrines, a stream beyond the fence, and one thing unknown."""
    called = names or {}
    made = (
        ("boundary", "Grounds", shapely.box(0, 0, 120, 100), {}),
        ("ward", "Ward", shapely.Polygon([(15, 60), (40, 60), (40, 75), (28, 75), (28, 68), (15, 68)]), {}),
        ("kitchen", "Kitchen", shapely.box(48, 70, 56, 78), {}),
        ("well", "Well", shapely.Point(30, 20), {"radius_m": 0.6}),
        ("borehole", "Borehole", shapely.Point(14, 44), {}),
        ("pit latrine", "Latrines", shapely.box(18, 36, 24, 39), {}),
        ("placenta pit", "Old pit", shapely.Point(80, 80), {"status": Status.CLOSED}),
        ("store", "New store", shapely.box(64, 82, 70, 88), {"status": Status.PROPOSED}),
        ("stream", "Stream", shapely.LineString([(-30, -18), (60, -12), (160, -24)]), {}),
        ("unknown", "Mill", shapely.Point(106, 92), {}),
    )
    return tuple(_feature(kind, called.get(name, name), shape, **more) for kind, name, shape, more in made)


def site(name: str = "Two Fields Clinic", *, names: dict[str, str] | None = None, frame: Frame = FRAME) -> Site:
    """The facility of `features`, surveyed and warned about."""
    return Site(
        name=name,
        frame=frame,
        features=features(names),
        sources={"plan.geojson": Source(name="plan.geojson", sha256="ab" * 32, notes=("read as metres",))},
        survey=Survey(on=date(2026, 5, 14), by="District office", radius_m=60.0),
        absent={"drain": "none within the fence"},
        notices=(Notice(code="unknown-kind", message="one kind is not known", file="plan.geojson", row=10),),
    )


def found(model: Site | None = None, *, kind: str = "placenta pit", serve_from: str | None = "Ward") -> Assessment:
    """With a place wanted."""
    request = Request(kind=kind, births_per_day=2, serve_from=serve_from, pit_depth_m=2.5)
    return assess(
        model or site(), packs.in_force(("health-care-waste",)), vocabulary(), request=request, size=size(request),
        count=3,
    )  # fmt: skip


LEVELS = {"Well": (30, 20, 101.2), "Borehole": (14, 44, 101.9), "Augered": (110, 10, 99.6), "Shaft": (100, 95, 101.9)}
"Levels of the water in four wells: it falls south-east."
BREEZE_8 = {"N": 5, "NE": 30, "E": 22, "SE": 9, "S": 6, "SW": 8, "W": 5, "NW": 3, "calm": 12}
BREEZE_16 = {
    "N": 2, "NNE": 4, "NE": 16, "ENE": 14, "E": 12, "ESE": 8, "SE": 5, "SSE": 3, "S": 2, "SSW": 4, "SW": 5, "WSW": 4,
    "W": 3, "WNW": 3, "NW": 2, "NNW": 1, "calm": 12,
}  # fmt: skip
SLOPE = 'id = "gentle"\nfor = ["pit"]\nmeasure = "slope"\nat_most_percent = 11'
SMOKE = 'id = "smoke"\nfor = ["pit"]\nfrom = ["ward"]\nmeasure = "downwind"\nat_most_percent = 10'


def hilly(wind: dict[str, float] | None = None, *, reserve: bool = True) -> Assessment:
    """The same facility on uneven ground, with water levels, a wind, and rules on slope and smoke besides."""
    grid = [(x, y) for x in range(-10, 131, 20) for y in range(-10, 111, 20)]
    heights = tuple(SpotHeight(x_m=x, y_m=y, height_m=104 + 0.02 * x + 0.01 * y + (x * y % 7) / 3) for x, y in grid)
    levels = tuple(WaterLevel(name=n, x_m=x, y_m=y, level_m=level) for n, (x, y, level) in LEVELS.items())
    model = replace(
        site("Hill Clinic"),
        ground=Ground(spot_heights=heights, levels=levels, levels_season="highest", material="fine sand"),
        wind_from_percent=BREEZE_8 if wind is None else wind,
    )
    request = Request(kind="placenta pit", births_per_day=2, serve_from="Ward", pit_depth_m=2.0, keep_reserve=reserve)
    rules = (*packs.in_force(("health-care-waste",)), pack(SLOPE, SMOKE))
    return assess(model, rules, vocabulary(), request=request, size=size(request), count=3)


def arranged() -> Assessment:
    """Two pits placed together, the second with a reserve."""
    wishes = (
        Request(kind="placenta pit", births_per_day=2, pit_depth_m=2.5, serve_from="Ward"),
        Request(kind="ash pit", pit_depth_m=2.0, pit_diameter_m=1.0, keep_reserve=True),
    )
    return lay_out_site(site("Shared Field"), packs.in_force(("health-care-waste",)), vocabulary(), wishes)


def checked() -> Assessment:
    """Only what stands."""
    return assess(site(), packs.in_force(("health-care-waste",)), vocabulary())


def hopeless() -> Assessment:
    """A yard so small that every place in it is too near the well and the houses."""
    shapes = (
        _feature("boundary", "Yard", shapely.box(0, 0, 26, 22)),
        _feature("well", "Yard well", shapely.Point(4, 4)),
        _feature("dwelling", "Houses", shapely.box(0, 24, 26, 30)),
    )
    return found(Site(name="Small Yard", frame=FRAME, features=shapes), serve_from=None)


def crowded(count: int = 300) -> Assessment:
    """As many features as the page has to bear."""
    kinds = ("ward", "kitchen", "dwelling", "store", "office", "pit latrine", "store", "tree", "dwelling", "office")
    shapes = [_feature("boundary", "Grounds", shapely.box(0, 0, 600, 600))]
    for n in range(count - 1):
        x, y = 12.0 + 30.0 * (n % 20), 12.0 + 38.0 * (n // 20)
        kind = "well" if n % 75 == 40 else kinds[n % 10]
        point = kind in ("well", "tree") or (kind == "pit latrine" and n % 20 < 10)
        shapes.append(_feature(kind, f"{kind} {n}", shapely.Point(x, y) if point else shapely.box(x, y, x + 7, y + 5)))
    return found(Site(name="Great Camp", frame=FRAME, features=tuple(shapes)), serve_from=None)
