"""What Hypothesis draws from: shapes, features, places, rules and whole sites, all of a size one can walk."""

from collections.abc import Callable

import shapely
from conftest import SQUARE, feature, new, plot, site
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from siting.installation import Outline, rectangle

QUICK, THOROUGH = 20, 400
"Cases of a property in the quick suite, and under `slow`."


def held(**drawn: st.SearchStrategy) -> Callable:
    """A property that runs on few cases; its `thorough` runs on many."""

    def decorate(check: Callable) -> Callable:
        quick = settings(max_examples=QUICK, deadline=None)(given(**drawn)(check))
        quick.thorough = settings(max_examples=THOROUGH, deadline=None)(given(**drawn)(check))
        return quick

    return decorate


coordinates_m = st.floats(0.0, 100.0).map(lambda x: round(x, 2))
sizes_m = st.floats(0.5, 25.0).map(lambda x: round(x, 2))
bearings_deg = st.floats(0.0, 360.0).map(lambda x: round(x, 1))
spots = st.tuples(coordinates_m, coordinates_m)
points = spots.map(Point)
boxes = st.builds(
    lambda at, length, width, turn: affinity.rotate(
        shapely.box(at[0], at[1], at[0] + length, at[1] + width), turn, origin="centroid"
    ),
    spots, sizes_m, sizes_m, bearings_deg,
)  # fmt: skip
lines = st.builds(
    lambda at, one, two: LineString([at, (at[0] + one, at[1] + two), (at[0] + 2 * one, at[1] + one)]),
    spots, sizes_m, sizes_m,
)  # fmt: skip


def _hook(at: tuple[float, float], arm_m: float, thick_m: float) -> Polygon:
    x, y = at
    far = arm_m + thick_m
    corners = [(0, 0), (far, 0), (far, thick_m), (thick_m, thick_m), (thick_m, far), (0, far)]
    return Polygon([(x + east, y + north) for east, north in corners])


hooks = st.builds(_hook, spots, sizes_m, sizes_m)
shapes = st.one_of(points, boxes, lines, hooks)

discs = st.floats(0.0, 3.0).map(lambda r: Outline(geometry=Point(0.0, 0.0), radius_m=round(r, 2)))
rectangles = st.builds(rectangle, st.floats(0.5, 8.0), st.floats(0.5, 5.0))
outlines = st.one_of(discs, rectangles)
places = st.tuples(coordinates_m, coordinates_m, bearings_deg)

wells = st.builds(lambda at, r: ("well", Point(at), r), spots, st.sampled_from([None, 0.6, 1.5]))
wards = boxes.map(lambda box: ("ward", box, None))
streams = lines.map(lambda line: ("stream", line, None))
latrines = st.one_of(points, boxes).map(lambda shape: ("pit latrine", shape, None))
standing = st.lists(st.one_of(wells, wards, streams, latrines), min_size=1, max_size=6)
sigmas_m = st.sampled_from([0.0, 0.02, 0.5, 3.0])
lands = st.one_of(
    st.just(SQUARE),
    st.just(Polygon(SQUARE.exterior, [shapely.box(40.0, 40.0, 70.0, 60.0).exterior.coords])),
    st.just(Polygon([(0, 0), (100, 10), (80, 100), (60, 55), (10, 90)])),
)


@st.composite
def sites(draw: st.DrawFn, **more: object):
    """A plot of a hectare with up to six things on it, each with an error of its own."""
    things = [
        feature(kind, f"{kind} {number}", shape, radius_m=radius_m, sigma_m=draw(sigmas_m))
        for number, (kind, shape, radius_m) in enumerate(draw(standing), start=1)
    ]
    return site(plot(draw(lands)), *things, **more)


@st.composite
def rule_bodies(draw: st.DrawFn) -> str:
    """A plain rule of distance from some kind, from one outline or the other, exactly enough or not."""
    kind = draw(st.sampled_from(["well", "ward", "stream", "pit latrine", "boundary"]))
    limit_m = draw(st.integers(0, 30))
    relation = draw(st.sampled_from(["at_least", "more_than"]))
    outline = draw(st.sampled_from(["pit", "enclosure"]))
    return f'for = ["pit"]\nfrom = ["{kind}"]\n{relation}_m = {limit_m}\noutline = "{outline}"'


@st.composite
def wanted(draw: st.DrawFn, **more: object):
    """A pit latrine to be placed: a round or rectangular pit in an enclosure, free to turn or not."""
    return new(
        pit=draw(outlines), enclosure=draw(rectangles),
        orientation_deg=draw(st.sampled_from([None, 0.0, 30.0, 135.0])), **more,
    )  # fmt: skip
