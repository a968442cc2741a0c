"""Features of all files onto one plane: the frame, boundaries closed, shapes checked, names told apart."""

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.frame import Frame, centred_on
from siting.io.faults import refuse
from siting.kinds import BOUNDARY
from siting.site import Feature, named_apart

LARGEST_SITE_M = 50_000.0
"Beyond this, points are of several sites or mistyped; project judgement."


def on_plane(features: Sequence[Feature]) -> tuple[Frame, tuple[Feature, ...]]:
    """The site's plane, and the features (given in degrees) on it; raises every fault of shape at once."""
    boundaries = [feature.geometry for feature in features if feature.kind == BOUNDARY]
    _near_each_other(features)
    lonlat = shapely.get_coordinates(np.array(boundaries or [f.geometry for f in features], dtype=object))
    frame = centred_on(lonlat)
    faults: list[Fault] = []
    moved = []
    for feature in features:
        geometry = frame.geometry_to_local(feature.geometry)
        if feature.kind == BOUNDARY:
            geometry = _closed(feature, geometry, faults)
        if not shapely.is_valid(geometry):
            faults.append(_invalid(feature, geometry, frame))
        moved.append(replace(feature, geometry=geometry))
    if faults:
        refuse(faults)
    return frame, named_apart(moved)


def _near_each_other(features: Sequence[Feature]) -> None:
    bounds = shapely.bounds(np.array([feature.geometry for feature in features], dtype=object))
    middle = np.column_stack([(bounds[:, 0] + bounds[:, 2]) / 2, (bounds[:, 1] + bounds[:, 3]) / 2])
    turned = (bounds[:, [0, 2]] - middle[0, 0] + 180.0) % 360.0 - 180.0
    west, east = turned[:, 0].min(), turned[:, 1].max()
    south, north = bounds[:, 1].min(), bounds[:, 3].max()
    geod = Geod(ellps="WGS84")
    _, _, extent_m = geod.inv(west, south, east, north)
    if extent_m <= LARGEST_SITE_M and east - west < 90.0:
        return
    heart = np.median(middle, axis=0)
    _, _, away_m = geod.inv(np.full(len(middle), heart[0]), np.full(len(middle), heart[1]), middle[:, 0], middle[:, 1])
    far = [index for index in np.argsort(-away_m, kind="stable")[:5] if away_m[index] > LARGEST_SITE_M / 10]
    shown = "; ".join(
        f"{features[i].name[:40] or features[i].kind} at {middle[i, 1]:.5f}, {middle[i, 0]:.5f} ({features[i].origin})"
        + _if_exchanged(middle[i], heart, geod)
        for i in far
    )
    raise InputError.of(
        f"features up to {extent_m / 1000:.0f} km apart; the farthest from the others: {shown}",
        needed=f"one site, within {LARGEST_SITE_M / 1000:.0f} km",
        do_next="look for exchanged or mistyped coordinates and wrong zones in these rows; "
        "give several sites one by one",
        file=features[far[0]].origin.file if far and features[far[0]].origin else None,
        row=features[far[0]].origin.row if far and features[far[0]].origin else None,
    )


def _if_exchanged(place: np.ndarray, heart: np.ndarray, geod: Geod) -> str:
    lon, lat = place
    if abs(lon) > 90.0:
        return ""
    _, _, away_m = geod.inv(heart[0], heart[1], lat, lon)
    return ", which fits when latitude and longitude are exchanged" if away_m <= LARGEST_SITE_M else ""


def _closed(feature: Feature, geometry: BaseGeometry, faults: list[Fault]) -> BaseGeometry:
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    if geometry.geom_type == "MultiLineString":
        geometry = shapely.line_merge(geometry)
    if geometry.geom_type == "LineString":
        if geometry.is_closed and len(geometry.coords) >= 4:
            return shapely.Polygon(geometry.coords)
        gap_m = shapely.distance(shapely.get_point(geometry, 0), shapely.get_point(geometry, -1))
        found = f"the boundary {feature.name!r} is not closed: its ends are {gap_m:.2f} m apart"
    else:
        found = f"the boundary {feature.name!r} is a {geometry.geom_type}"
    faults.append(
        _fault(
            feature,
            found,
            needed="a polygon, or one line that ends exactly where it starts",
            do_next="add the first corner again as the last one, or draw the boundary as a polygon",
        )
    )
    return geometry


def _invalid(feature: Feature, geometry: BaseGeometry, frame: Frame) -> Fault:
    reason = shapely.is_valid_reason(geometry)
    where = _where(reason, frame)
    if geometry.geom_type in ("LineString", "MultiLineString"):
        return _fault(
            feature,
            f"the line {feature.name!r} has no length",
            needed="two different points",
            do_next="correct the line, or make it a point",
        )
    if not reason.startswith("Self-intersection"):
        word = reason.partition("[")[0].strip().lower()
        return _fault(
            feature,
            f"the outline of {feature.kind} {feature.name!r} is not a polygon: {word}{where}",
            needed="rings that do not touch or overlap, holes inside",
            do_next="draw it again there",
        )
    linework = shapely.make_valid(geometry, method="linework").area
    structure = shapely.make_valid(geometry, method="structure", keep_collapsed=False).area
    return _fault(
        feature,
        f"the outline of {feature.kind} {feature.name!r} crosses itself{where}; mended by its lines it holds "
        f"{linework:.1f} m2, by its rings {structure:.1f} m2",
        needed="an outline that does not cross itself",
        do_next="put the corners there in the order in which one walks round; the right area is for you to say",
    )


def _where(reason: str, frame: Frame) -> str:
    found = re.search(r"\[(\S+) (\S+)\]", reason)
    if not found:
        return ""
    lon, lat = frame.to_world(np.array([[float(found[1]), float(found[2])]]))[0]
    return f" at latitude {lat:.6f}, longitude {lon:.6f}"


def _fault(feature: Feature, found: str, *, needed: str, do_next: str) -> Fault:
    origin = feature.origin
    return Fault(
        found=found,
        needed=needed,
        do_next=do_next,
        file=origin.file if origin else None,
        row=origin.row if origin else None,
    )
