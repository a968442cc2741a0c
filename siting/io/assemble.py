"""Features of all files onto one plane: the frame, boundaries closed, shapes checked, names told apart."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.finding import Finding, FindingFault, Sure, accepts, address, fault
from siting.frame import Frame, centred_on
from siting.io.faults import refuse
from siting.kinds import BOUNDARY
from siting.site import Feature, Origin, named_apart

LARGEST_SITE_M = 50_000.0
"Beyond this, points are of several sites or mistyped; project judgement."


CLOSE = "close"
BY_LINES = "mended by its lines"
BY_RINGS = "mended by its rings"
TOO_WIDE = "site-too-wide"


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """Features on the site's plane, and the repairs of shape that somebody accepts."""

    frame: Frame
    features: tuple[Feature, ...]
    findings: tuple[Finding, ...]


def on_plane(features: Sequence[Feature], *, accept: tuple[str, ...] = (), plan: str | None = None) -> Laid:
    """The site's plane, and the features (given in degrees) on it; raises every fault of shape at once.

    `plan`: the one source whose features are given in metres of a plan with no known place on earth.
    """
    if plan is None:
        frame = _frame(features)
    else:
        _refuse_beside(plan, features)
        frame = Frame(lon=None, lat=None)
    faults: list[Fault] = []
    mended: list[Finding] = []
    moved = []
    for feature in features:
        geometry = frame.geometry_to_local(feature.geometry)
        if feature.kind == BOUNDARY:
            geometry = _closed(feature, geometry, faults, mended, accept)
        if not shapely.is_valid(geometry):
            geometry = _mended(feature, geometry, mended, accept) or geometry
        if not shapely.is_valid(geometry):
            faults.append(_invalid(feature, geometry, frame))
        moved.append(replace(feature, geometry=geometry))
    if faults:
        refuse(faults)
    return Laid(frame=frame, features=named_apart(moved), findings=tuple(mended))


def _frame(features: Sequence[Feature]) -> Frame:
    boundaries = [feature.geometry for feature in features if feature.kind == BOUNDARY]
    _near_each_other(features)
    return centred_on(shapely.get_coordinates(np.array(boundaries or [f.geometry for f in features], dtype=object)))


def _refuse_beside(plan: str, features: Sequence[Feature]) -> None:
    others = [source for source in dict.fromkeys(feature.source for feature in features) if source != plan]
    if others:
        raise InputError.of(
            f"the drawing has no place on earth, and stands beside {', '.join(others[:10])}",
            needed="control points that tie the drawing to the ground, or the drawing alone",
            do_next="add two points or more, known on both, to its [[source]] in site.toml: "
            "control = [{ plan = [0, 0], lonlat = [33.9, -13.5] }, ...]",
            file=plan,
        )


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
    origin = features[far[0]].origin if far else None
    found = f"features up to {extent_m / 1000:.0f} km apart; the farthest from the others: {shown}"
    raise InputError(
        _doubt(
            TOO_WIDE,
            found,
            origin,
            needed=f"one site, within {LARGEST_SITE_M / 1000:.0f} km",
            do_next="look for exchanged or mistyped coordinates and wrong zones in these rows; "
            "give several sites one by one",
            effect_m=float(extent_m),
        )
    )


def _if_exchanged(place: np.ndarray, heart: np.ndarray, geod: Geod) -> str:
    lon, lat = place
    if abs(lon) > 90.0:
        return ""
    _, _, away_m = geod.inv(heart[0], heart[1], lat, lon)
    return ", which fits when latitude and longitude are exchanged" if away_m <= LARGEST_SITE_M else ""


def _closed(
    feature: Feature, geometry: BaseGeometry, faults: list[Fault], mended: list[Finding], accept: tuple[str, ...]
) -> BaseGeometry:
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    if geometry.geom_type == "MultiLineString":
        geometry = shapely.line_merge(geometry)
    if geometry.geom_type == "LineString":
        if geometry.is_closed and len(geometry.coords) >= 4:
            return shapely.Polygon(geometry.coords)
        gap_m = shapely.distance(shapely.get_point(geometry, 0), shapely.get_point(geometry, -1))
        found = f"the boundary {feature.name!r} is not closed: its ends are {gap_m:.2f} m apart"
        if len(geometry.coords) >= 3:
            whole = shapely.Polygon(geometry.coords)
            text = _address(CLOSE, feature)
            if accepts(accept, text):
                mended.append(_done("boundary-open", f"{found}; closed by a straight line", feature, text))
                return whole
            faults.append(
                _doubt(
                    "boundary-open",
                    f"{found}; closed by a straight line it holds {whole.area:.1f} m2",
                    feature.origin,
                    needed="a polygon, or one line that ends exactly where it starts",
                    do_next="add the first corner again as the last one, or draw the boundary as a polygon",
                    effect_m=float(gap_m),
                    accept=text,
                )
            )
            return whole if shapely.is_valid(whole) else geometry
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
    linework, structure = _by_lines(geometry).area, _by_rings(geometry).area
    return _doubt(
        "crosses-itself",
        f"the outline of {feature.kind} {feature.name!r} crosses itself{where}; mended by its lines it holds "
        f"{linework:.1f} m2, by its rings {structure:.1f} m2",
        feature.origin,
        needed="an outline that does not cross itself",
        do_next="put the corners there in the order in which one walks round; the right area is for you to say",
        accept=_address(BY_LINES, feature),
        instead=_address(BY_RINGS, feature),
    )


def _by_lines(geometry: BaseGeometry) -> BaseGeometry:
    return _polygons(shapely.make_valid(geometry, method="linework"))


def _by_rings(geometry: BaseGeometry) -> BaseGeometry:
    return _polygons(shapely.make_valid(geometry, method="structure", keep_collapsed=False))


def _polygons(geometry: BaseGeometry) -> BaseGeometry:
    # whiskers of the linework hold no ground
    areas = [part for part in shapely.get_parts(geometry) if part.geom_type in ("Polygon", "MultiPolygon")]
    return shapely.union_all(areas)


def _mended(
    feature: Feature, geometry: BaseGeometry, mended: list[Finding], accept: tuple[str, ...]
) -> BaseGeometry | None:
    """The outline mended in the way that somebody accepts."""
    if geometry.geom_type not in ("Polygon", "MultiPolygon"):
        return None
    for words, mend in ((BY_LINES, _by_lines), (BY_RINGS, _by_rings)):
        text = _address(words, feature)
        if accepts(accept, text):
            whole = mend(geometry)
            said = (
                f"the outline of {feature.kind} {feature.name!r} crosses itself: {words}, it holds {whole.area:.1f} m2"
            )
            mended.append(_done("crosses-itself", said, feature, text))
            return None if whole.is_empty else whole
    return None


def _address(words: str, feature: Feature) -> str:
    origin = feature.origin
    if origin is None:
        return f"{words}: {feature.name}"
    rows = () if origin.row is None else (origin.row,)
    return address(words, file=origin.file, layer=origin.layer, rows=rows)


def _done(code: str, seen: str, feature: Feature, text: str) -> Finding:
    origin = feature.origin
    return Finding(
        code=code,
        seen=f"{seen}, as accepted in site.toml",
        file=origin.file if origin else None,
        row=origin.row if origin else None,
        repair="draw the outline again",
        accept=text,
        stops=False,
        accepted=True,
    )


def _doubt(
    code: str,
    found: str,
    origin: Origin | None,
    *,
    needed: str,
    do_next: str,
    effect_m: float | None = None,
    accept: str = "",
    instead: str = "",
) -> FindingFault:
    held = Finding(
        code=code,
        seen=found,
        file=origin.file if origin else None,
        row=origin.row if origin else None,
        sure=Sure.CERTAIN,
        effect_m=effect_m,
        repair=do_next,
        accept=accept,
        instead=instead,
        stops=True,
    )
    return replace(fault(held), found=found, needed=needed)


def _where(reason: str, frame: Frame) -> str:
    found = re.search(r"\[(\S+) (\S+)\]", reason)
    if not found:
        return ""
    if not frame.on_earth:
        return f" at x {float(found[1]):.3f} m, y {float(found[2]):.3f} m of the plan"
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
