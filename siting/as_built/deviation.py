"""How far what was built stands from where it was planned, whether that is within a tolerance, and how it moved."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import asin, degrees, erf, hypot, pi, sqrt

import numpy as np

from siting.errors import InputError
from siting.frame import bearing_deg
from siting.uncertainty import DEFAULT_CONFIDENCE, Verdict, decide
from siting.usual import not_negative, positive

TOLERANCE_M = 0.15
"Half a foot, 0.152 m: what record drawings are held to by Washington State, WAC 246-272A-0265 (seen)."
SHORT_M = 4.0
MIRRORED_BY = 3.0
"A mirrored plan fits so many times better before it is said (project judgement)."

Point2 = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """One point: measured less planned."""

    name: str
    east_m: float
    north_m: float
    tolerance_m: float
    sigma_m: float
    probability: float
    "That it truly stands within the tolerance."
    verdict: Verdict

    @property
    def distance_m(self) -> float:
        """How far off it is."""
        return hypot(self.east_m, self.north_m)

    @property
    def bearing_deg(self) -> float | None:
        """Which way it is off; None when it is not."""
        return bearing_deg(self.east_m, self.north_m) if self.distance_m else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """How the whole has moved: a shift of its middle, a turn, and what is left."""

    east_m: float
    north_m: float
    turned_deg: float
    "Clockwise, -180 to 180."
    rms_m: float
    "Left after shift and turn."
    mirrored: bool
    "The plan turned over fits far better: it was set out as in a mirror."

    @property
    def distance_m(self) -> float:
        """How far the middle moved."""
        return hypot(self.east_m, self.north_m)


def deviations(
    planned: Mapping[str, Point2],
    measured: Mapping[str, Point2],
    *,
    tolerance_m: float = TOLERANCE_M,
    sigma_m: float | Mapping[str, float] = 0.0,
    confidence: float = DEFAULT_CONFIDENCE,
) -> tuple[Deviation, ...]:
    """Every measured point against its planned place, in the order of the plan.

    sigma_m: standard uncertainty of the measured points per axis, one for all or one for each name.
    Points that are not on the plan raise InputError; points not measured are left out.
    """
    positive(tolerance_m=tolerance_m)
    _refuse_unknown(planned, measured)
    found = []
    for name, (x, y) in planned.items():
        if name not in measured:
            continue
        east_m, north_m = measured[name][0] - x, measured[name][1] - y
        sigma = sigma_m if isinstance(sigma_m, int | float) else sigma_m[name]
        met = within(hypot(east_m, north_m), tolerance_m=tolerance_m, sigma_m=sigma)
        found.append(
            Deviation(
                name=name,
                east_m=east_m,
                north_m=north_m,
                tolerance_m=tolerance_m,
                sigma_m=sigma,
                probability=met,
                verdict=decide(met, confidence=confidence),
            )
        )
    return tuple(found)


def _refuse_unknown(planned: Mapping[str, Point2], measured: Mapping[str, Point2]) -> None:
    unknown = [name for name in measured if name not in planned]
    if unknown:
        raise InputError.of(
            f"measured points {', '.join(unknown)} are not on the plan",
            needed=f"names of pegs: {', '.join(planned)}",
            do_next="write the names as on the setting-out card",
        )


def within(distance_m: float, *, tolerance_m: float, sigma_m: float) -> float:
    """Probability that a point measured `distance_m` off is truly within the tolerance.

    Valid for: circular normal errors of sigma_m per axis; with none, the measured distance decides.
    Source: the normal density round the measured place, integrated over the disc of the tolerance (own).

    >>> round(within(0.0, tolerance_m=0.15, sigma_m=0.15), 6)   # 1 - exp(-1/2)
    0.393469
    """
    not_negative(distance_m=distance_m, sigma_m=sigma_m)
    if sigma_m == 0.0:
        return float(distance_m <= tolerance_m)
    # Strips across the line to the planned place, u = tolerance sin(angle), as far as the density reaches.
    low, high = (asin(max(-1.0, min(1.0, (distance_m + side * 9.0 * sigma_m) / tolerance_m))) for side in (-1.0, 1.0))
    nodes, weights = np.polynomial.legendre.leggauss(200)
    angle = (low + high) / 2.0 + (high - low) / 2.0 * nodes
    height = tolerance_m * np.cos(angle)
    density = np.exp(-0.5 * ((tolerance_m * np.sin(angle) - distance_m) / sigma_m) ** 2) / (sigma_m * sqrt(2.0 * pi))
    inside = np.array([erf(h / (sigma_m * sqrt(2.0))) for h in height])
    return float(min(1.0, (weights * density * inside * height).sum() * (high - low) / 2.0))


def position_tolerance_m(length_m: float, *, k_mm: float) -> float:
    """Permissible deviation [m] of a position point at `length_m` from a reference line: K times the root of it.

    k_mm: the constant for the kind of work, from the standard itself; none is given here.
    Valid for: as the standard says; up to 4 m the deviation stays that at 4 m.
    Source: form of ISO 4463-1:1989, from memory; not read, so compare with the standard before use.
    """
    positive(length_m=length_m, k_mm=k_mm)
    return k_mm * sqrt(max(length_m, SHORT_M)) / 1000.0


def shift(planned: Mapping[str, Point2], measured: Mapping[str, Point2]) -> Shift:
    """How what was built has moved as a whole against the plan, from points on both.

    Valid for: two points at least; whether the plan was mirrored needs three that do not stand on one line.
    Source: least squares in closed form, the turn being the argument of the sum of conj(p) m (own).
    """
    _refuse_unknown(planned, measured)
    names = [name for name in planned if name in measured]
    if len(names) < 2:
        raise InputError.of(
            f"{len(names)} point measured of those on the plan",
            needed="two points at least, to tell a shift from a turn",
            do_next="measure further pegs",
        )
    p, m = (np.array([complex(*of[name]) for name in names]) for of in (planned, measured))
    moved = m.mean() - p.mean()
    p, m = p - p.mean(), m - m.mean()
    straight, over = _left(p, m), _left(p.conj(), m)
    size = sqrt(float((np.abs(p) ** 2).mean()))
    return Shift(
        east_m=float(moved.real),
        north_m=float(moved.imag),
        turned_deg=float(-degrees(np.angle((p.conj() * m).sum()))),
        rms_m=straight,
        mirrored=straight > MIRRORED_BY * max(over, 0.01 * size),
    )


def _left(p: np.ndarray, m: np.ndarray) -> float:
    """Root mean square left after the best turn."""
    turn = np.exp(1j * np.angle((p.conj() * m).sum()))
    return sqrt(float((np.abs(m - turn * p) ** 2).mean()))
