"""Coordinates as figures: too few of them, placeholders, one position for many, fixes of a receiver not yet settled."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from siting.doctor.fix import Fix, is_geographic, lonlat
from siting.doctor.places import addressed
from siting.finding import Change, Finding, Sure, address, length

COARSE_DECIMALS = 4
"Four decimals of a degree are up to 5.6 m off (own: half of 1e-4 degrees), as much as a phone is; fewer spoil it."
DEGREE_M = 111_320.0
SHORTER_BY = 3
"Zeros at the end are lost once in ten thousand rows for two places, so three are no accident (`io.place` alike)."
POOR_FIX_M = 30.0
"A receiver that says more than this has not settled: project judgement."
MANY = 3
"Features at one very position: two may be a double entry, three share a default."
_STAND_INS = frozenset({1.0, 9.0, 99.0, 999.0, 9999.0, 99999.0})


def findings(fixes: Sequence[Fix]) -> tuple[Finding, ...]:
    """What the figures tell."""
    real = [fix for fix in fixes if not is_placeholder(fix)]
    rounded = tuple(_few_decimals(real))
    # positions rounded to the same figures are told as that
    others = [fix for fix in real if all(fix.file != finding.file for finding in rounded)]
    return (*rounded, *_placeholders(fixes), *_one_position(others), *_poor_fixes(fixes))


def is_placeholder(fix: Fix) -> bool:
    """Whether a position in degrees stands for an empty cell."""
    if not is_geographic(fix.crs) or fix.geometry.geom_type != "Point":
        return False
    lon, lat = fix.middle
    return (abs(lon) < 0.01 and abs(lat) < 0.01) or (lon == lat) or {abs(lon), abs(lat)} <= _STAND_INS


def _placeholders(fixes: Sequence[Fix]) -> Iterator[Finding]:
    for fix in fixes:
        if is_placeholder(fix):
            lon, lat = fix.middle
            # two equal numbers may be a place; nought, and nine again and again, are none
            sure = Sure.LIKELY if lon == lat and abs(lat) > 0.01 and abs(lat) not in _STAND_INS else Sure.CERTAIN
            yield Finding(
                code="placeholder",
                seen=f"{fix.name or fix.kind or 'a feature'} at latitude {lat:g}, longitude {lon:g}, "
                "which stands for an empty cell",
                file=fix.file,
                row=fix.row or None,
                layer=fix.layer,
                rows=(fix.row,),
                value=f"{lat:g}, {lon:g}",
                sure=sure,
                repair="fill in where it stands, or remove the row if there is no such thing",
                accept=address("leave out", file=fix.file, layer=_layer(fixes, fix), rows=(fix.row,)),
                stops=True,
                change=Change(what="leave out"),
            )


def _layer(fixes: Sequence[Fix], one: Fix) -> str:
    layers = {fix.layer for fix in fixes if fix.file == one.file and fix.row == one.row}
    return one.layer if len(layers) > 1 else ""


def _few_decimals(fixes: Sequence[Fix]) -> Iterator[Finding]:
    degrees = [i for i, fix in enumerate(fixes) if is_geographic(fix.crs)]
    if not degrees:
        return
    places = decimals([fixes[i] for i in degrees])
    for file in dict.fromkeys(fixes[i].file for i in degrees):
        held = [(i, places[n]) for n, i in enumerate(degrees) if fixes[i].file == file]
        longest = max(d for _, d in held)
        short = [(i, d) for i, d in held if is_coarse(d, longest)]
        if not short:
            continue
        fewest = min(d for _, d in short)
        half_step_m = DEGREE_M * 10.0**-fewest / 2.0
        for layer, rows, some in addressed(fixes, [i for i, _ in short]):
            first = fixes[some[0]]
            yield Finding(
                code="few-decimals",
                seen=f"{_all(some)} written to {_figures(fewest)} of a degree: up to {length(half_step_m)} off",
                file=file,
                layer=layer,
                row=first.row or None,
                rows=rows,
                value="{1:.10g}, {0:.10g}".format(*first.middle),
                sure=Sure.CERTAIN,
                effect_m=half_step_m,
                repair="copy the coordinates again with six decimals; until then the rounding counts in sigma",
                accept=address("few decimals", file=file, layer=layer, rows=rows),
                stops=False,
            )


def _figures(places: float) -> str:
    return f"{places:.0f} decimals" if places == int(places) else "whole minutes or seconds"


def _all(some: Sequence[int]) -> str:
    return "a position is" if len(some) == 1 else f"{len(some)} positions are"


def is_coarse(own: float, longest: float) -> bool:
    """Whether a position has too few figures, and zeros lost at the end of it do not tell why."""
    return own <= COARSE_DECIMALS and (longest <= COARSE_DECIMALS or longest - own >= SHORTER_BY)


def decimals(fixes: Sequence[Fix]) -> list[float]:
    """Decimal places of each position as written; read off the numbers where the file does not say."""
    xy, at = shapely.get_coordinates(np.array([fix.geometry for fix in fixes], dtype=object), return_index=True)
    places = np.full(len(xy), COARSE_DECIMALS + SHORTER_BY + 2.0)
    for figures in range(COARSE_DECIMALS + SHORTER_BY + 1, -1, -1):
        scaled = xy * 10.0**figures
        with np.errstate(invalid="ignore"):
            places[np.abs(scaled - np.rint(scaled)).max(axis=1) <= 1e-4] = figures
    own = np.zeros(len(fixes))
    np.maximum.at(own, at, places)
    return [float(o) if fix.decimals is None else float(fix.decimals) for o, fix in zip(own, fixes, strict=True)]


def _one_position(fixes: Sequence[Fix]) -> Iterator[Finding]:
    held: dict[tuple[str, float, float], list[int]] = {}
    for i, fix in enumerate(fixes):
        if fix.geometry.geom_type == "Point" and not np.isnan(lonlat(np.array([fix.middle]), fix.crs)).any():
            held.setdefault((fix.file, *fix.middle), []).append(i)
    for (file, lon, lat), some in held.items():
        if len(some) < MANY:
            continue
        rows = tuple(fixes[i].row for i in some)
        names = ", ".join(fixes[i].name or fixes[i].kind for i in some[:4])
        yield Finding(
            code="placeholder",
            seen=f"{len(some)} features stand at the very same position ({names}): "
            "a default of the form, or one fix for all",
            file=file,
            row=rows[0] or None,
            rows=rows,
            value=f"{lat:.8g}, {lon:.8g}",
            sure=Sure.LIKELY,
            repair="measure where each of them stands",
            accept=address("same position", file=file, rows=rows),
            stops=True,
        )


def _poor_fixes(fixes: Sequence[Fix]) -> Iterator[Finding]:
    poor = [i for i, fix in enumerate(fixes) if fix.accuracy_m is not None and fix.accuracy_m > POOR_FIX_M]
    for file in dict.fromkeys(fixes[i].file for i in poor):
        for layer, rows, some in addressed(fixes, [i for i in poor if fixes[i].file == file]):
            worst = max(some, key=lambda i: fixes[i].accuracy_m or 0.0)
            accuracy_m = fixes[worst].accuracy_m or 0.0
            yield Finding(
                code="poor-fix",
                seen=f"{fixes[worst].name or fixes[worst].kind}: the receiver says {accuracy_m:g} m, "
                "a first fix taken before it had settled",
                file=file,
                layer=layer,
                row=fixes[worst].row or None,
                rows=rows,
                value=f"{accuracy_m:g}",
                sure=Sure.CERTAIN,
                effect_m=accuracy_m,
                repair="go back and wait until the receiver says a few metres; until then it counts in sigma",
                accept=address("poor fix", file=file, layer=layer, rows=rows),
                stops=False,
            )
