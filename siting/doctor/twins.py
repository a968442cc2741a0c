"""Features that two files both know: a difference common to all of them is a datum, a rotation or a unit."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

from siting.finding import Finding, Sure, address, length
from siting.frame import bearing_deg
from siting.kinds import UNKNOWN, folded, vocabulary
from siting.site import Site
from siting.uncertainty import combined

TOLERANCE_M = 2.0
"Two surveys of one thing take different edges of it: project judgement."
UNSTATED_SIGMA_M = 3.3
"Of tables of levels, which state no accuracy: that of a phone of 5 m."
FARTHEST_M = 3_000.0
"Beyond this it is no datum but another place."
TURNED_DEG = 1.0
SCALED = 0.02
DATUMS = {
    4210: "Arc 1960", 4209: "Arc 1950", 4201: "Adindan", 4263: "Minna", 4168: "Accra", 4250: "Leigon",
    4297: "Tananarive 1925", 4222: "Cape", 4682: "Gulshan 303", 4245: "Kertau 1968", 4211: "Batavia", 4127: "Tete",
    4230: "ED50", 4322: "WGS 72", 4284: "Pulkovo 1942", 4240: "Indian 1975", 4229: "Egypt 1907",
}  # fmt: skip
"Datums that older maps and receivers are set to, by their EPSG code."
FITS_M = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    name: str
    kind: str
    source: str
    xy: tuple[float, float]
    sigma_m: float


def findings(site: Site) -> tuple[Finding, ...]:
    """Differences between files that know the same features."""
    known = _known(site)
    sources = list(dict.fromkeys(each.source for each in known))
    made: list[Finding] = []
    for n, one in enumerate(sources):
        for other in sources[n + 1 :]:
            made += _between(site, known, one, other)
    return tuple(made)


def _known(site: Site) -> list[_Known]:
    names = {feature.name for feature in site.features}
    known = [
        _Known(
            name=_bare(f.name, names),
            kind=f.kind,
            source=f.source,
            xy=_middle(f.geometry),
            sigma_m=combined(f.sigma_m, site.shared_sigma_m(f.source)),
        )
        for f in site.features
    ]
    known += [
        _Known(name=w.name, kind="", source="levels", xy=(w.x_m, w.y_m), sigma_m=UNSTATED_SIGMA_M)
        for w in site.ground.levels
    ]
    return [each for each in known if each.name]


def _middle(geometry: BaseGeometry) -> tuple[float, float]:
    middle = shapely.centroid(geometry)
    return float(middle.x), float(middle.y)


def _bare(name: str, names: set[str]) -> str:
    """The name as written: the number that told two of one name apart is taken off."""
    stem, _, number = name.rpartition(" ")
    return stem if number.isdigit() and stem in names else name


def _tells(name: str) -> bool:
    # "Latrine" in two files may be two latrines; "Kitchen latrine" is one
    return vocabulary().recognise(name) == UNKNOWN


def _between(site: Site, known: Sequence[_Known], one: str, other: str) -> Iterator[Finding]:
    first, second = _single(known, one), _single(known, other)
    common = sorted(
        name
        for name in first.keys() & second.keys()
        if first[name].kind == second[name].kind or "" in (first[name].kind, second[name].kind)
    )
    if not common or (len(common) == 1 and not _tells(common[0])):
        return
    a = np.array([first[name].xy for name in common])
    b = np.array([second[name].xy for name in common])
    steps = b - a
    sigma_m = max(combined(first[name].sigma_m, second[name].sigma_m) for name in common)
    step = np.median(steps, axis=0)
    off_m = float(np.hypot(*step))
    rest_m = float(np.hypot(*(steps - step).T).max())
    tolerance_m = TOLERANCE_M + 3.0 * sigma_m
    if max(off_m, rest_m) <= tolerance_m or off_m > FARTHEST_M:
        return
    turned = _turned(a, b, tolerance_m) if len(common) >= 3 else None
    if rest_m > tolerance_m and turned is not None:
        yield _of_turn(*turned, one, other, effect_m=float(np.hypot(*steps.T).max()), count=len(common))
    elif off_m > tolerance_m and rest_m <= max(tolerance_m, 0.2 * off_m):
        yield _of_shift(site, step, one, other, common)


def _single(known: Sequence[_Known], source: str) -> dict[str, _Known]:
    held = [each for each in known if each.source == source]
    names = [folded(each.name) for each in held]
    return {name: each for name, each in zip(names, held, strict=True) if names.count(name) == 1}


def _of_shift(site: Site, step: np.ndarray, one: str, other: str, common: Sequence[str]) -> Finding:
    off_m, towards = float(np.hypot(*step)), bearing_deg(float(step[0]), float(step[1]))
    datum = _datum(site, step)
    hint = f"; a datum left out would do that: {datum}" if datum else ""
    count = len(common)
    sure = Sure.LIKELY if count >= 2 else Sure.POSSIBLE
    return Finding(
        code="datum-shift",
        seen=f"{_count(count)} known in {one} and in {other} {'lie' if count > 1 else 'lies'} {length(off_m)} apart, "
        f"all the same way ({towards:.0f} degrees): {', '.join(common[:4])}{hint}",
        file=other if other != "levels" else one,
        value=f"{off_m:.1f} m towards {towards:.0f} degrees",
        sure=sure,
        effect_m=off_m,
        repair='find out which datum each was measured in, and write it as crs of its [[source]] (such as "EPSG:4210")',
        accept=address("shift", file=f"{one} and {other}"),
        stops=True,
    )


def _count(count: int) -> str:
    return "1 feature" if count == 1 else f"{count} features"


def _of_turn(angle_deg: float, scale: float, one: str, other: str, *, effect_m: float, count: int) -> Finding:
    turned = abs(angle_deg) >= TURNED_DEG
    what = f"turned by {abs(angle_deg):.1f} degrees" if turned else f"{scale:.4g} times as large"
    return Finding(
        code="turned" if turned else "scaled",
        seen=f"{other} is {what} against {one}, by {count} features that both know"
        + (" (magnetic or grid north taken for true north does that)" if turned else " (feet and metres do that)"),
        file=other if other != "levels" else one,
        value=f"{angle_deg:.2f} degrees, scale {scale:.4f}",
        sure=Sure.LIKELY,
        effect_m=effect_m,
        repair="survey or export one of the two again on the ground's own north and in metres",
        accept=address("turned" if turned else "scaled", file=f"{one} and {other}"),
        stops=True,
    )


def _turned(a: np.ndarray, b: np.ndarray, tolerance_m: float) -> tuple[float, float] | None:
    """Clockwise angle [deg] and scale of the similarity from a to b, where it fits and is one."""
    z, w = (complex_of(each - each.mean(axis=0)) for each in (a, b))
    spread = float((abs(z) ** 2).sum())
    if spread <= 0.0:
        return None
    factor = complex((z.conj() * w).sum() / spread)
    if float(abs(w - factor * z).max()) > tolerance_m:
        return None
    angle_deg, scale = -float(np.degrees(np.angle(factor))), abs(factor)
    return (angle_deg, scale) if abs(angle_deg) >= TURNED_DEG or abs(scale - 1.0) >= SCALED else None


def complex_of(xy: np.ndarray) -> np.ndarray:
    """Points (n, 2) as complex numbers."""
    return np.asarray(xy[:, 0] + 1j * xy[:, 1])


def _datum(site: Site, step: np.ndarray) -> str:
    """The datum whose shift at this place is the step, to within what its operation is good for."""
    if not site.frame.on_earth:
        return ""
    here = np.array([[site.frame.lon, site.frame.lat]], dtype=float)
    best = (FITS_M, "")
    for code, name in DATUMS.items():
        moved = np.column_stack(Transformer.from_crs(code, 4326, always_xy=True).transform(here[:, 0], here[:, 1]))
        shift = site.frame.to_local(moved)[0] - site.frame.to_local(here)[0]
        if np.hypot(*shift) < FITS_M:
            continue
        miss_m = float(min(np.hypot(*(shift - step)), np.hypot(*(shift + step))))
        if miss_m < best[0]:
            best = (miss_m, f"{name}, EPSG:{code}")
    return best[1]
