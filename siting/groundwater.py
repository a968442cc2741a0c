"""How fast and how far water in the ground carries what a pit lets out, and from where a well draws.

Lengths in metres, times in days, conductivity in metres a day.
Water is taken to move as one with what it carries, without decay, filtering or spreading.
"""

from math import inf, log1p, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from siting.errors import InputError
from siting.materials import MATERIALS, Material, material
from siting.plane import Plane, fit_levels
from siting.usual import checked, not_negative, positive

__all__ = [
    "MATERIALS",
    "Material",
    "Plane",
    "capture_outline",
    "check_conductivity",
    "downstream_distance_m",
    "fit_levels",
    "fixed_radius_m",
    "half_width_at_well_m",
    "half_width_m",
    "material",
    "seepage_velocity_m_per_day",
    "stagnation_m",
    "travel_days",
    "travel_days_to_well",
    "travel_distance_m",
    "upstream_distance_m",
    "water_level_m",
]

_SAMPLES = 2000
_TANGENTS = 180


def water_level_m(ground_level_m: float, *, depth_to_water_m: float) -> float:
    """Level of the water [m, datum of the ground level] from the depth to it below ground.

    Valid for: depth_to_water_m >= 0; water standing above ground is refused.
    """
    if not depth_to_water_m >= 0:
        raise InputError.of(
            f"a depth to water of {depth_to_water_m:g} m, which is above the ground",
            needed="the depth from the ground down to the water, zero or more",
            do_next="leave out the minus sign; where water does stand above ground, nothing may be dug",
        )
    return ground_level_m - depth_to_water_m


def check_conductivity(conductivity_m_per_day: float) -> float:
    """The value itself when it is usual for water-bearing ground; else an error that gives both readings.

    Valid for: typed values; gravel of more than 0.01 m/s typed in m/s cannot be told from silt in m/day.
    """
    return checked("conductivity_m_per_day", conductivity_m_per_day)


def seepage_velocity_m_per_day(conductivity_m_per_day: float, *, gradient: float, porosity: float) -> float:
    """Mean speed of the water itself [m/day], v = K i / n.

    conductivity_m_per_day: K; gradient: i [m per m], zero or more; porosity: n, effective, as a share of 1.
    Valid for: laminar flow through pores; in cracked rock the water is far faster.
    Source: Darcy's law; Heath, *Basic Ground-Water Hydrology*, USGS Water-Supply Paper 2220 (1983), p. 25
    (example from memory).

    >>> round(seepage_velocity_m_per_day(60.0, gradient=1 / 1000, porosity=0.20), 9)
    0.3
    """
    positive(conductivity_m_per_day=conductivity_m_per_day)
    not_negative(gradient=gradient)
    return conductivity_m_per_day * gradient / checked("porosity", porosity)


def travel_days(distance_m: float, *, velocity_m_per_day: float) -> float:
    """Time [days] that water takes over a distance; infinite where it stands still."""
    not_negative(distance_m=distance_m, velocity_m_per_day=velocity_m_per_day)
    return distance_m / velocity_m_per_day if velocity_m_per_day else inf


def travel_distance_m(days: float, *, velocity_m_per_day: float) -> float:
    """Distance [m] that water covers in a time.

    >>> travel_distance_m(25, velocity_m_per_day=1.2)
    30.0
    """
    not_negative(days=days, velocity_m_per_day=velocity_m_per_day)
    return days * velocity_m_per_day


def fixed_radius_m(pumping_m3_per_day: float, *, days: float, porosity: float, thickness_m: float) -> float:
    """Radius [m] of the cylinder of ground that holds what a well pumps in a time, r = sqrt(Q t / (pi n H)).

    Valid for: a flat water table; with natural flow it is too short upstream (13 % at T = 0.1, see
    `upstream_distance_m`).
    Source: US EPA, *Guidelines for Delineation of Wellhead Protection Areas*, EPA 440/6-87-010 (1987), ch. 4
    (from memory); 35 Illinois Administrative Code 671, Appendix A (seen).

    >>> round(fixed_radius_m(1000, days=50, porosity=0.25, thickness_m=20), 5)
    56.41896
    """
    positive(pumping_m3_per_day=pumping_m3_per_day, thickness_m=thickness_m)
    not_negative(days=days)
    return sqrt(pumping_m3_per_day * days / (pi * checked("porosity", porosity) * thickness_m))


def stagnation_m(
    pumping_m3_per_day: float, *, conductivity_m_per_day: float, thickness_m: float, gradient: float
) -> float:
    """Distance [m] downstream of a well beyond which it draws nothing, Q / (2 pi K b i).

    thickness_m: b, of the water-bearing layer; gradient: i, of the natural flow.
    Valid for: one steady well in uniform flow through an even layer; infinite for a flat water table.
    Source: Todd, as in 35 Illinois Administrative Code 671, Appendix C (seen).
    """
    return (
        half_width_m(
            pumping_m3_per_day,
            conductivity_m_per_day=conductivity_m_per_day,
            thickness_m=thickness_m,
            gradient=gradient,
        )
        / pi
    )


def half_width_at_well_m(
    pumping_m3_per_day: float, *, conductivity_m_per_day: float, thickness_m: float, gradient: float
) -> float:
    """Half the width [m], measured at the well, of the ground it draws from, Q / (4 K b i).

    Valid for and source: as `stagnation_m`.
    """
    return (
        half_width_m(
            pumping_m3_per_day,
            conductivity_m_per_day=conductivity_m_per_day,
            thickness_m=thickness_m,
            gradient=gradient,
        )
        / 2
    )


def half_width_m(
    pumping_m3_per_day: float, *, conductivity_m_per_day: float, thickness_m: float, gradient: float
) -> float:
    """Half the width [m], far upstream, of the ground that a well draws from, Q / (2 K b i).

    Valid for and source: as `stagnation_m`.
    """
    positive(
        pumping_m3_per_day=pumping_m3_per_day,
        conductivity_m_per_day=conductivity_m_per_day,
        thickness_m=thickness_m,
    )
    not_negative(gradient=gradient)
    if gradient == 0:
        return inf
    return pumping_m3_per_day / (2 * conductivity_m_per_day * thickness_m * gradient)


def travel_days_to_well(
    upstream_m: float,
    *,
    pumping_m3_per_day: float,
    conductivity_m_per_day: float,
    thickness_m: float,
    gradient: float,
    porosity: float,
) -> float:
    """Time [days] from a place straight upstream to the well, t = n / (K i) (x - r0 ln(1 + x / r0)).

    r0 is `stagnation_m`.
    Valid for: as `stagnation_m`, gradient >= 0; the well draws over its layer's whole thickness.
    Source: Bear & Jacobs, *Journal of Hydrology* 3 (1965), as given by Ceric & Haitjema, *Ground Water* 43
    (2005) (seen-2).
    """
    not_negative(upstream_m=upstream_m)
    checked("porosity", porosity)
    reach_m = stagnation_m(
        pumping_m3_per_day,
        conductivity_m_per_day=conductivity_m_per_day,
        thickness_m=thickness_m,
        gradient=gradient,
    )
    if reach_m == inf:
        return pi * porosity * thickness_m * upstream_m**2 / pumping_m3_per_day
    return porosity * reach_m / (conductivity_m_per_day * gradient) * _delay(upstream_m / reach_m)


def upstream_distance_m(
    days: float,
    *,
    pumping_m3_per_day: float,
    conductivity_m_per_day: float,
    thickness_m: float,
    gradient: float,
    porosity: float,
) -> float:
    """Distance [m] straight upstream from which water reaches the well in `days`.

    The inverse of `travel_days_to_well`, rounded up by less than 1 part in 1e12.
    """
    scale_m, time = _scales(days, pumping_m3_per_day, conductivity_m_per_day, thickness_m, gradient, porosity)
    if scale_m == inf:
        return fixed_radius_m(pumping_m3_per_day, days=days, porosity=porosity, thickness_m=thickness_m)
    return scale_m * _root(time, high=time + sqrt(2 * time))


def downstream_distance_m(
    days: float,
    *,
    pumping_m3_per_day: float,
    conductivity_m_per_day: float,
    thickness_m: float,
    gradient: float,
    porosity: float,
) -> float:
    """Distance [m] straight downstream from which water still reaches the well in `days`.

    It is less than `stagnation_m`, and rounded up. Source: as `travel_days_to_well`, with x below zero.
    """
    scale_m, time = _scales(days, pumping_m3_per_day, conductivity_m_per_day, thickness_m, gradient, porosity)
    if scale_m == inf:
        return fixed_radius_m(pumping_m3_per_day, days=days, porosity=porosity, thickness_m=thickness_m)
    return scale_m * _root(time, high=1.0, side=-1.0)


def capture_outline(
    days: float,
    *,
    pumping_m3_per_day: float,
    conductivity_m_per_day: float,
    thickness_m: float,
    gradient: float,
    porosity: float,
    flow_towards_deg: float | None,
    well: tuple[float, float] = (0.0, 0.0),
) -> NDArray[np.float64]:
    """Corners (n, 2) [m] of the ground from which water reaches a well within `days`, rounded outward.

    flow_towards_deg: bearing that the natural flow goes towards; well: its place [m].
    The true zone is convex, and each side of the outline is a tangent of it, so the zone lies wholly inside;
    the outline stands out by less than 1 % of the zone's width for zones up to 500 stagnation distances long.
    Without natural flow it is a polygon around the circle of `fixed_radius_m`.
    Valid for: as `travel_days_to_well`, days > 0; one well alone.
    Source: fronts of Bear & Jacobs (1965), exp(X - T) = cos Y + X sin Y / Y, in units of `stagnation_m`,
    X upstream and Y across (from memory; on the axis it is the formula of `travel_days_to_well`).
    """
    positive(days=days)
    scale_m, time = _scales(days, pumping_m3_per_day, conductivity_m_per_day, thickness_m, gradient, porosity)
    if scale_m == inf:
        radius_m = fixed_radius_m(pumping_m3_per_day, days=days, porosity=porosity, thickness_m=thickness_m)
        return np.array(well) + radius_m * _around_unit_circle()
    if flow_towards_deg is None:
        raise InputError.of(
            "natural flow in the ground without a direction",
            needed="the bearing that the groundwater flows towards",
            do_next="give levels of at least three wells, or the bearing",
        )
    along, across = (scale_m * _tangent_corners(time)).T
    bearing = np.radians(flow_towards_deg + 180.0)
    upstream = np.array([np.sin(bearing), np.cos(bearing)])
    right = np.array([np.cos(bearing), -np.sin(bearing)])
    return np.asarray(np.array(well) + along[:, None] * upstream + across[:, None] * right)


def _scales(
    days: float, pumping: float, conductivity: float, thickness: float, gradient: float, porosity: float
) -> tuple[float, float]:
    """The stagnation distance [m], and `days` as a multiple of the natural flow's time over it."""
    not_negative(days=days)
    scale_m = stagnation_m(pumping, conductivity_m_per_day=conductivity, thickness_m=thickness, gradient=gradient)
    checked("porosity", porosity)
    return scale_m, days * conductivity * gradient / (porosity * scale_m)


def _delay(x: float) -> float:
    """x - ln(1 + x), without the loss of digits near zero."""
    if abs(x) < 1e-4:
        return x * x * (0.5 - x / 3 + x * x / 4)
    return x - log1p(x) if x > -1 else inf


def _root(time: float, *, high: float, side: float = 1.0) -> float:
    """The distance, at most `high`, at which `_delay` reaches `time`; its upper bracket."""
    # exp(u) - 1 - u >= u^2 / 2 proves that upstream the root never exceeds time + sqrt(2 time).
    low = 0.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if _delay(side * middle) < time else (low, middle)
    return high


def _front(time: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points on the upper half of the front, from upstream round to downstream, with their outward normals.

    Along a ray from the well the travel time only grows, so one bisection finds the front.
    """
    # Cubed, because the far upstream end of a long zone is seen from the well under a tiny angle.
    angle = pi * np.linspace(0.0, 1.0, _SAMPLES) ** 3
    low = np.zeros_like(angle)
    with np.errstate(divide="ignore"):
        divide = np.where(angle < 1e-12, inf, (pi - angle) / np.sin(angle))
    divide[-1] = 1.0
    high = np.minimum(divide, time + sqrt(2 * time))
    for _ in range(100):
        radius = 0.5 * (low + high)
        x, y = radius * np.cos(angle), radius * np.sin(angle)
        gain = np.cos(y) + x * np.sinc(y / pi)
        late = gain <= np.exp(np.minimum(x - time, 700.0))
        low, high = np.where(late, low, radius), np.where(late, radius, high)
    x, y = high * np.cos(angle), high * np.sin(angle)
    near = np.abs(y) < 1e-3
    bend = np.where(near, -y / 3, (y * np.cos(y) - np.sin(y)) / np.where(near, 1.0, y) ** 2)
    normal = np.column_stack([np.exp(x - time) - np.sinc(y / pi), np.sin(y) - x * bend])
    normal[0], normal[-1] = (1.0, 0.0), (-1.0, 0.0)
    return np.column_stack([x, y]), normal / np.linalg.norm(normal, axis=1, keepdims=True)


def _tangent_corners(time: float) -> NDArray[np.float64]:
    """Corners of a polygon of tangents around the front, upstream along x, in stagnation distances."""
    if time < 1e-6:
        # Upstream the front then lies at sqrt(2 time) + 2 time / 3, and everywhere within this circle.
        return (sqrt(2 * time) + time) * _around_unit_circle()
    points, normals = _front(time)
    turned = np.unwrap(np.arctan2(normals[:, 1], normals[:, 0])) / pi
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    progress = turned + walked / walked[-1]
    picks = np.unique(np.searchsorted(progress, np.linspace(0.0, progress[-1], _TANGENTS // 2)))
    picks = np.unique(np.clip(np.append(picks, [0, _SAMPLES - 1]), 0, _SAMPLES - 1))
    mirror = np.array([1.0, -1.0])
    normal = np.vstack([normals[picks], (normals[picks] * mirror)[-2:0:-1]])
    point = np.vstack([points[picks], (points[picks] * mirror)[-2:0:-1]])
    # Outward by about 1e-8 of the zone's size, far more than the bisection and the arithmetic leave open.
    offset = np.einsum("ij,ij->i", normal, point) + 1e-8 * points[0, 0]
    after, offset_after = np.roll(normal, -1, axis=0), np.roll(offset, -1)
    cross = normal[:, 0] * after[:, 1] - normal[:, 1] * after[:, 0]
    return np.column_stack(
        [
            (offset * after[:, 1] - offset_after * normal[:, 1]) / cross,
            (offset_after * normal[:, 0] - offset * after[:, 0]) / cross,
        ]
    )


def _around_unit_circle() -> NDArray[np.float64]:
    angle = 2 * pi * np.arange(_TANGENTS) / _TANGENTS
    return np.asarray(np.column_stack([np.sin(angle), np.cos(angle)]) / np.cos(pi / _TANGENTS))
