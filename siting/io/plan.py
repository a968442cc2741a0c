"""Records of a plan brought to the ground by control points, or left on the plan's own plane."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
import shapely
from pyproj import Transformer

from siting.control_points import Fit, checked_fit, fit, scale_sigma
from siting.errors import Fault, InputError
from siting.frame import Frame, centred_on
from siting.io.crs import Operation
from siting.io.place import Placed
from siting.io.records import Document, Record
from siting.site import Notice
from siting.uncertainty import UNSTATED, combined, sigma_from_radius

PLAN = "plan"
"The `crs` of records that lie on a plan's own plane, in metres."
NO_PLACE = "the plan's own metres, no place on earth"


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """A point known on the plan and on the ground."""

    plan: tuple[float, float]
    "In the units of the drawing, as a drawing program shows it."
    lonlat: tuple[float, float]
    "Degrees, WGS 84."
    name: str = ""
    accuracy_m: float | None = None
    "Radius that holds `accuracy_level` of the fixes of the ground point; None where nobody says."
    accuracy_level: float = 0.68


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnGround:
    """Stands where a datum operation would: plan metres in, degrees out."""

    fitted: Fit
    frame: Frame

    def transform(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        lonlat = self.frame.to_world(self.fitted.to_ground_m(np.column_stack([x, y])))
        return lonlat[:, 0], lonlat[:, 1]


@dataclass(frozen=True, slots=True, kw_only=True)
class OnEarth:
    """A plan's records, placed."""

    places: tuple[Placed, ...]
    "In degrees; in the plan's own metres where it has no control points."
    notices: tuple[Notice, ...] = ()
    fitted: Fit | None = None
    frame: Frame = field(default_factory=lambda: Frame(lon=None, lat=None))


def placed(
    records: Sequence[Record],
    control: Sequence[Control],
    *,
    document: Document,
    unit_m: float,
    is_scale_known: bool = True,
) -> OnEarth:
    """The records of a plan [m] on the ground by its control points; without any, where they are.

    `unit_m`: metres of one unit of the drawing, in which the control points' plan coordinates are given.
    `is_scale_known`: keep the plan's own lengths (a drawing to scale) and let the control points only check them;
    False takes the scale from the points (a scan or a sketch).
    Raises InputError when the control points do not belong together, or not to this plan.
    """
    if not control:
        return _unplaced(records)
    lonlat = np.array([point.lonlat for point in control], float)
    _refuse_off_earth(control, lonlat, document)
    frame = centred_on(lonlat)
    drawn = np.array([point.plan for point in control], float)
    plan_m = drawn * unit_m
    ground_m = frame.to_local(lonlat)
    sigma_m, unstated = _control_sigma_m(control)
    names = [point.name for point in control] if all(point.name for point in control) else ()
    try:
        # in drawing units, so that a message about the unit names that of the drawing
        scale = unit_m if is_scale_known else None
        checked_fit(drawn, ground_m, names=names, scale=scale, control_sigma_m=sigma_m)
    except InputError as error:
        raise InputError(*(document.fault(f.found, needed=f.needed, do_next=f.do_next) for f in error.faults)) from None
    fitted = fit(plan_m, ground_m, scale=1.0 if is_scale_known else None)
    shared_m = _shared_sigma_m(records, fitted, sigma_m)
    operation = _operation(fitted, frame, shared_m, unstated=unstated)
    shapes = np.array([record.geometry for record in records], dtype=object)
    moved = shapely.transform(shapely.force_2d(shapes), operation.to_lonlat) if len(records) else ()
    return OnEarth(
        places=tuple(
            Placed(record=record, lonlat=geometry, step_m=0.0, operation=operation)
            for record, geometry in zip(records, moved, strict=True)
        ),
        notices=_said(document, fitted, fit(plan_m, ground_m), sigma_m, records, shared_m),
        fitted=fitted,
        frame=frame,
    )


def _unplaced(records: Sequence[Record]) -> OnEarth:
    nowhere = Operation(name=NO_PLACE, accuracy_m=0.0, is_geographic=False, unit_m=1.0)
    return OnEarth(
        places=tuple(
            Placed(record=record, lonlat=shapely.force_2d(record.geometry), step_m=0.0, operation=nowhere)
            for record in records
        )
    )


def _refuse_off_earth(control: Sequence[Control], lonlat: np.ndarray, document: Document) -> None:
    faults: list[Fault] = []
    for number, (lon, lat) in enumerate(lonlat, start=1):
        if not (abs(lon) <= 360.0 and abs(lat) <= 84.0) or (lon == 0.0 and lat == 0.0):
            fits = " (exchanged they would fit)" if abs(lon) <= 84.0 < abs(lat) <= 180.0 else ""
            faults.append(
                document.fault(
                    f"control point {number} lies at longitude {lon:g}, latitude {lat:g}{fits}",
                    needed="lonlat = [longitude, latitude] in degrees, WGS 84",
                    do_next=f"correct lonlat of control point {number} in site.toml",
                )
            )
    if faults:
        raise InputError(*faults)


def _control_sigma_m(control: Sequence[Control]) -> tuple[float, int]:
    """Root mean square of the control points' standard uncertainties [m], and how many state none."""
    radius_m, level = UNSTATED["receiver"]
    sigmas = [
        sigma_from_radius(radius_m, level=level)
        if point.accuracy_m is None
        else sigma_from_radius(point.accuracy_m, level=point.accuracy_level)
        for point in control
    ]
    return combined(*sigmas) / sqrt(len(sigmas)), sum(point.accuracy_m is None for point in control)


def _shared_sigma_m(records: Sequence[Record], fitted: Fit, sigma_m: float) -> float:
    # One number stands for the whole plan, so it is that of its least certain corner.
    corners = shapely.get_coordinates(np.array([record.geometry for record in records], dtype=object))
    if not len(corners):
        return 0.0
    return float(fitted.sigma_at_m(corners, control_sigma_m=sigma_m).max())


def _operation(fitted: Fit, frame: Frame, shared_m: float, *, unstated: int) -> Operation:
    scale = "scale kept" if fitted.is_scale_fixed else f"scale {fitted.scale:.6f}"
    left = (
        "two points, no check"
        if fitted.sigma0_m is None
        else f"residuals up to {fitted.largest_residual_m:.2f} m, standard error {fitted.sigma0_m:.2f} m"
    )
    radius_m, level = UNSTATED["receiver"]
    assumed = (
        f"accuracy not stated for {unstated} of its control points: taken as {radius_m:g} m "
        f"holding {level:.0%} of fixes"
    )
    return Operation(
        name=f"fit of {fitted.n} control points ({scale}, plan up is bearing {fitted.plan_up_bearing_deg:.2f} deg, "
        f"{left})",
        # an operation states the root mean square of the distance, which is sqrt(2) of one axis
        accuracy_m=round(shared_m * sqrt(2.0), 4),
        is_geographic=False,
        unit_m=1.0,
        notes=(assumed,) if unstated else (),
        _transformer=_as_transformer(_OnGround(fitted=fitted, frame=frame)),
    )


def _as_transformer(step: _OnGround) -> Transformer:
    # An operation only asks its transformer for `transform(x, y)`.
    return step  # type: ignore[return-value]  # it has the one method that is called


def _said(
    document: Document, fitted: Fit, free: Fit, sigma_m: float, records: Sequence[Record], shared_m: float
) -> tuple[Notice, ...]:
    said = []
    if fitted.sigma0_m is None or fitted.n == 2:
        said.append(
            ("control-unchecked", "two control points only: one typed wrongly would not show; add a third and a fourth")
        )
    if fitted.sigma0_m is not None and fitted.sigma0_m > 3.0 * sigma_m:
        worst = max(range(fitted.n), key=lambda index: np.hypot(*fitted.residuals_m[index]))
        said.append(
            (
                "control-residuals",
                f"control points fit within {fitted.largest_residual_m:.2f} m only (point {worst + 1}), more than "
                f"their accuracy of {sigma_m:.2f} m per axis explains; all of the plan carries {shared_m:.2f} m",
            )
        )
    off = abs(free.scale - 1.0)
    if fitted.is_scale_fixed and off > max(1e-3, 3.0 * scale_sigma(free, control_sigma_m=sigma_m)):
        said.append(
            (
                "control-scale",
                f"by its control points the plan is {off:.1%} too {'small' if free.scale > 1 else 'large'}; "
                "its own lengths were kept: check one of them with a tape",
            )
        )
    points = shapely.get_coordinates(np.array([record.geometry for record in records], dtype=object))
    reach = np.sqrt(fitted.spread / fitted.n)
    far = np.hypot(*(points - fitted.centre).T).max(initial=0.0) if len(points) else 0.0
    if far > 5.0 * reach:
        said.append(
            (
                "control-far",
                f"the plan reaches {far:.0f} m from the middle of control points that lie {reach:.0f} m around it: "
                f"its far end is known to {shared_m:.1f} m per axis only",
            )
        )
    return tuple(Notice(code=code, message=message, file=document.name) for code, message in said)
