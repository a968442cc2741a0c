"""Positions that are not where the rest of the site is, and the slip that would explain each.

Slips are told apart by where a repair would bring the position: to the rest of the site, or to the place
that somebody states for the facility.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from siting.doctor.changes import changed
from siting.doctor.fix import Fix, apart_m, is_geographic, lonlat, middles, system
from siting.finding import Change, Finding, Sure, address, length

CELL_DEG = 0.01
"Features closer than about two kilometres belong together: project judgement."
NEAR_KM = 5.0
"How far from its stated place a facility may be: a register's coordinates are often rounded (project judgement)."
FAR_M = 5_000.0
"A feature this far from the rest is of no use to any rule, so it is taken for a slip: project judgement."
FITS_M = 2_500.0
"A repair explains a position when it brings it this near to the rest."
FEET = (0.3048, 0.3048)
MILLIMETRES = (0.001, 0.001)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One way in which coordinates go wrong, and what undoes it."""

    code: str
    said: str
    "What would then be true."
    words: str
    "What accepting does."
    repair: str
    change: Change


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """Where the facility is by other knowledge than its survey."""

    lon: float
    lat: float
    within_km: float = NEAR_KM


def findings(fixes: Sequence[Fix], *, near: Near | None = None) -> tuple[Finding, ...]:
    """What is out of place, each with the slip that explains it where there is one."""
    if not fixes:
        return ()
    raw, at = middles(fixes), _located(fixes)
    off = np.flatnonzero(np.isnan(at).any(axis=1))
    groups = _groups(at)
    if not len(off) and len(groups) == 1 and (near is None or _is_near(at, near)):
        return ()
    if near is not None:
        return _against(fixes, raw, at, _near_ones(groups, at, near), near=near)
    if not groups:
        return _without_rest(fixes, raw)
    return _against(fixes, raw, at, _anchor(fixes, raw, at, groups), near=None)


def _located(fixes: Sequence[Fix]) -> np.ndarray:
    at, raw = np.full((len(fixes), 2), np.nan), middles(fixes)
    for crs in dict.fromkeys(fix.crs for fix in fixes):
        held = np.array([fix.crs == crs for fix in fixes])
        at[held] = lonlat(raw[held], crs)
    return at


def _is_near(at: np.ndarray, near: Near) -> bool:
    return bool((apart_m(at, np.array([near.lon, near.lat])) <= near.within_km * 1000.0).any())


def _groups(at: np.ndarray) -> list[np.ndarray]:
    """Indices of positions that lie together, largest group first; positions without a place are in none."""
    cells: dict[tuple[int, int], list[int]] = {}
    for index, (lon, lat) in enumerate(at):
        if lon == lon:
            cells.setdefault((int(lon // CELL_DEG), int(lat // CELL_DEG)), []).append(index)
    groups = []
    round_the_earth = round(360.0 / CELL_DEG)
    half = round_the_earth // 2
    while cells:
        first, members = cells.popitem()
        waiting, found = [first], list(members)
        while waiting:
            x, y = waiting.pop()
            for east in (-1, 0, 1):
                for north in (-1, 0, 1):
                    key = ((x + east + half) % round_the_earth - half, y + north)
                    if key in cells:
                        found += cells.pop(key)
                        waiting.append(key)
        groups.append(np.array(sorted(found)))
    return sorted(groups, key=lambda group: (-len(group), int(group[0])))


def _near_ones(groups: list[np.ndarray], at: np.ndarray, near: Near) -> np.ndarray:
    held = [group for group in groups if _is_near(at[group], near)]
    return np.concatenate(held) if held else np.empty(0, int)


def _anchor(fixes: Sequence[Fix], raw: np.ndarray, at: np.ndarray, groups: list[np.ndarray]) -> np.ndarray:
    """The group that is right: one that others can be brought to, of the most trusted files; else the largest."""
    ordered = sorted(groups, key=lambda group: min(fixes[i].trust for i in group))
    for group in ordered:
        others = np.setdiff1d(np.arange(len(fixes)), group)
        if len(others) and _explained(fixes, raw, others, at[group]):
            return group
    return groups[0]


def _explained(fixes: Sequence[Fix], raw: np.ndarray, odd: np.ndarray, to: np.ndarray) -> dict[int, tuple[Slip, int]]:
    """For each odd position the slip that explains it best, and how many slips come into question."""
    found: dict[int, tuple[Slip, int]] = {}
    for file, crs in dict.fromkeys((fixes[i].file, fixes[i].crs) for i in odd):
        held = np.array([i for i in odd if (fixes[i].file, fixes[i].crs) == (file, crs)])
        ranked = []
        for slip in _slips(crs):
            moved = _repaired(raw[held], slip, crs)
            away = _away_m(moved, to)
            fits = away <= FITS_M
            if fits.any():
                # minutes and seconds may both come near: the one nearer to the middle of the rest is meant
                to_middle = float(apart_m(moved[fits], to.mean(axis=0)).mean())
                ranked.append((-int(fits.sum()), to_middle, slip, fits))
        for _, _, slip, fits in sorted(ranked, key=lambda each: each[:2]):
            for index in held[fits]:
                found.setdefault(int(index), (slip, len(ranked)))
    return found


def _repaired(raw: np.ndarray, slip: Slip, crs: str) -> np.ndarray:
    return lonlat(changed(raw, slip.change), slip.change.crs or crs)


def _away_m(places: np.ndarray, to: np.ndarray) -> np.ndarray:
    """How far places lie from the box round the others; infinite for no place."""
    away = apart_m(places, np.clip(places, to.min(axis=0), to.max(axis=0)))
    return np.where(np.isnan(away), np.inf, away)


def _slips(crs: str) -> Iterator[Slip]:
    if is_geographic(crs):
        yield from _DEGREE_SLIPS
        return
    yield Slip(
        code="swapped",
        said="fits when x and y are exchanged",
        words="swap x/y",
        repair="exchange the two columns",
        change=Change(what="swap"),
    )
    yield from _zones(crs)
    yield _scale("feet-as-metres", "when the numbers are feet, not metres", "feet", FEET)
    yield _scale("millimetres-as-metres", "when the numbers are millimetres, not metres", "millimetres", MILLIMETRES)


def _scale(code: str, when: str, words: str, by: tuple[float, float]) -> Slip:
    return Slip(
        code=code,
        said=f"fits {when}",
        words=words,
        repair="write the coordinates in metres",
        change=Change(what="scale", by=by),
    )


def _zones(crs: str) -> Iterator[Slip]:
    found = system(crs)
    name = re.fullmatch(r"(.*UTM zone )(\d+)([NS])", found.name) if found else None
    if not name:
        return
    zone, other = int(name[2]), "N" if name[3] == "S" else "S"
    for number, letter in [(zone, other)] + [(zone + k, h) for k in (-1, 1, -2, 2) for h in (name[3], other)]:
        number = (number - 1) % 60 + 1
        text = f"{name[1]}{number}{letter}"
        if system(text) is None:
            continue
        yield Slip(
            code="wrong-zone" if number != zone else "wrong-hemisphere",
            said=f"fits in UTM zone {number}{letter} instead of {zone}{name[3]}",
            words=f"UTM zone {number}{letter}",
            repair=f'write the crs of zone {number}{letter} ("{text}") for this file',
            change=Change(what="crs", crs=text),
        )


def _sign(axis: str, by: tuple[float, float], letters: str) -> Slip:
    return Slip(
        code="wrong-hemisphere",
        said=f"fits with the other sign of the {axis} ({letters})",
        words=f"other sign of {axis}",
        repair=f"write the {axis} with its sign: south and west are negative",
        change=Change(what="scale", by=by),
    )


def _point(k: int, axis: str) -> Slip:
    factor = 10.0**k
    by = {"longitude": (factor, 1.0), "latitude": (1.0, factor), "both": (factor, factor)}[axis]
    coordinate = "both coordinates" if axis == "both" else f"the {axis}"
    return Slip(
        code="decimal-point",
        said=f"fits when the decimal point of {coordinate} is moved by {abs(k)}",
        words=f"{axis} times 1e{k}",
        repair=f"put the decimal point of {coordinate} where it belongs",
        change=Change(what="scale", by=by),
    )


_DEGREE_SLIPS = (
    Slip(
        code="swapped",
        said="fits when latitude and longitude are exchanged",
        words="swap lat/lon",
        repair="exchange latitude and longitude",
        change=Change(what="swap"),
    ),
    _sign("latitude", (1.0, -1.0), "north or south"),
    _sign("longitude", (-1.0, 1.0), "east or west"),
    _sign("latitude and longitude", (-1.0, -1.0), "north or south, east or west"),
    Slip(
        code="minutes-as-decimals",
        said="fits when the decimals are minutes (12.1834 for 12 degrees 18.34 minutes)",
        words="degrees and minutes",
        repair="divide the minutes by 60, or write them with their marks",
        change=Change(what="minutes"),
    ),
    Slip(
        code="minutes-as-decimals",
        said="fits when the decimals are minutes and seconds (12.1834 for 12 degrees 18 minutes 34 seconds)",
        words="degrees, minutes and seconds",
        repair="write degrees, minutes and seconds with their marks, or as decimal degrees",
        change=Change(what="seconds"),
    ),
    *(_point(k, axis) for k in (-8, -7, -6, -5, -4, -3, -2, -1, 1, 2) for axis in ("latitude", "longitude", "both")),
)


def _against(
    fixes: Sequence[Fix], raw: np.ndarray, at: np.ndarray, anchor: np.ndarray, *, near: Near | None
) -> tuple[Finding, ...]:
    stated = np.array([[near.lon, near.lat]]) if near else np.empty((0, 2))
    to = np.vstack([at[anchor], stated])
    odd = np.setdiff1d(np.arange(len(fixes)), anchor)
    explained = _explained(fixes, raw, odd, to)
    made: list[Finding] = []
    for file, slip in dict.fromkeys((fixes[i].file, explained[i][0]) for i in sorted(explained)):
        held = [i for i in sorted(explained) if fixes[i].file == file and explained[i][0] is slip]
        several = max(explained[i][1] for i in held) > 1
        sure = Sure.CERTAIN if near else Sure.LIKELY if not several and len(anchor) > 1 else Sure.POSSIBLE
        made += _slipped(fixes, held, slip, raw, at, to, sure=sure)
    return (*made, *_unexplained(fixes, at, [i for i in odd if int(i) not in explained], to, near=near))


def _slipped(
    fixes: Sequence[Fix],
    held: list[int],
    slip: Slip,
    raw: np.ndarray,
    at: np.ndarray,
    to: np.ndarray,
    *,
    sure: Sure,
) -> Iterator[Finding]:
    moved = _repaired(raw[held], slip, fixes[held[0]].crs)
    moves = apart_m(at[held], moved)
    rest = to.mean(axis=0)
    for layer, rows, some in addressed(fixes, held):
        first = fixes[some[0]]
        way = moves[[held.index(i) for i in some]]
        effect_m = None if np.isnan(way).all() else float(np.nanmax(way))
        place = f"{at[some[0], 1]:.5f}, {at[some[0], 0]:.5f}"
        off = np.isnan(at[some[0]]).any()
        away = (
            "is no place on earth"
            if off
            else f"lies {length(float(apart_m(at[some[0]], rest)))} from the site's other points"
        )
        value = _written(raw[some[0]], first.crs) if off else place
        whole = f"and {len(some) - 1} more " if len(some) > 1 else ""
        yield Finding(
            code=slip.code,
            seen=f"{first.name or first.kind or 'a feature'} {whole}at {value} {away}, which {slip.said}",
            file=first.file,
            layer=layer,
            row=first.row or None,
            rows=rows,
            value=value,
            sure=sure,
            effect_m=effect_m,
            repair=slip.repair,
            accept=address(slip.words, file=first.file, layer=layer, rows=rows),
            stops=True,
            change=slip.change,
        )


def _written(xy: np.ndarray, crs: str) -> str:
    if is_geographic(crs):
        return f"latitude {xy[1]:g}, longitude {xy[0]:g}"
    return f"x {xy[0]:.1f}, y {xy[1]:.1f}"


def addressed(fixes: Sequence[Fix], held: Sequence[int]) -> Iterator[tuple[str, tuple[int, ...], list[int]]]:
    """Layer and rows that name some fixes of one file, and those fixes: no rows where it is the whole file."""
    file = fixes[held[0]].file
    of_file = [i for i, fix in enumerate(fixes) if fix.file == file]
    if len(of_file) == len(held) and len(held) > 1:
        yield "", (), list(held)
        return
    layers = dict.fromkeys(fixes[i].layer for i in of_file)
    by_layer = len({fixes[i].row for i in of_file}) < len({(fixes[i].layer, fixes[i].row) for i in of_file})
    for layer in layers if by_layer else [None]:
        some = [i for i in held if layer is None or fixes[i].layer == layer]
        if some:
            yield layer or "", tuple(dict.fromkeys(fixes[i].row for i in some)), some


def _unexplained(
    fixes: Sequence[Fix], at: np.ndarray, odd: Sequence[int], to: np.ndarray, *, near: Near | None
) -> Iterator[Finding]:
    held = [int(i) for i in odd if not np.isnan(at[i]).any()]
    for file in dict.fromkeys(fixes[i].file for i in held):
        of_file = [i for i in held if fixes[i].file == file]
        for layer, rows, some in addressed(fixes, of_file):
            away_m = _away_m(at[some], to)
            worst = some[int(np.argmax(away_m))]
            far_m = float(away_m.max())
            first = fixes[worst]
            whole = f"and {len(some) - 1} more " if len(some) > 1 else ""
            from_what = "the place stated under near" if near else "the site's other points"
            yield Finding(
                code="far-from-stated-place" if near else "far-from-the-rest",
                seen=f"{first.name or first.kind or 'a feature'} {whole}at {at[worst, 1]:.5f}, {at[worst, 0]:.5f} "
                f"lies {length(far_m)} from {from_what}, and no common slip explains it",
                file=file,
                layer=layer,
                row=first.row or None,
                rows=rows,
                value=f"{at[worst, 1]:.5f}, {at[worst, 0]:.5f}",
                sure=Sure.LIKELY if far_m > FAR_M else Sure.POSSIBLE,
                effect_m=far_m,
                repair="correct the coordinates (look at the crs too), or remove what is not of this site",
                accept=address("far", file=file, layer=layer, rows=rows),
                stops=far_m > FAR_M,
            )


def _without_rest(fixes: Sequence[Fix], raw: np.ndarray) -> tuple[Finding, ...]:
    """Nothing has a place on earth: a slip that gives all of a file one place explains it by itself."""
    made: list[Finding] = []
    for file, crs in dict.fromkeys((fix.file, fix.crs) for fix in fixes):
        held = [i for i, fix in enumerate(fixes) if (fix.file, fix.crs) == (file, crs)]
        for slip in _slips(crs):
            moved = _repaired(raw[held], slip, crs)
            if slip.code == "decimal-point" or np.isnan(moved).any() or len(_groups(moved)) > 1:
                continue
            first = fixes[held[0]]
            value = _written(raw[held[0]], crs)
            then = "exchanged they would fit" if slip.code == "swapped" else f"it {slip.said}"
            made.append(
                Finding(
                    code=slip.code,
                    seen=f"{first.name or first.kind or 'a feature'} at {value} is no place on earth: {then}",
                    file=file,
                    row=first.row or None,
                    value=value,
                    sure=Sure.CERTAIN if slip.code == "swapped" else Sure.LIKELY,
                    repair=slip.repair,
                    accept=address(slip.words, file=file),
                    stops=True,
                    change=slip.change,
                )
            )
            break
    return tuple(made)
