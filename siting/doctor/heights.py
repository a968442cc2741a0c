"""Heights, water levels and depths against each other."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from siting.finding import Finding, Sure, length
from siting.site import Site

OUTLIER_M = 5.0
"A spot height this far off the even ground through the others, and eight times their usual step: project judgement."
OUTLIER_STEPS = 8.0
DEPTH_AT_MOST_M = 60.0
"A level below this, where the ground is far higher, is a depth."
PLAIN_M = 100.0
ABOVE_GROUND_M = 0.5
"Water may stand a little above the ground at a spring; more needs a second look: project judgement."
FOOT_M = 0.3048
LEVEL_M = 30.0
"Receivers' heights are good to some tens of metres (*common practice*)."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """Even ground through spot heights."""

    a: float
    b: float
    c: float

    def at(self, x_m: float, y_m: float) -> float:
        return self.a * x_m + self.b * y_m + self.c


def findings(site: Site) -> tuple[Finding, ...]:
    """What the heights, levels and depths of a site contradict each other in."""
    plane = _plane(site)
    return (*_depths(site), *_outliers(site), *(_levels(site, plane) if plane else ()))


def _plane(site: Site) -> _Plane | None:
    spots = site.ground.spot_heights
    if len(spots) < 3:
        return None
    x, y, z = (np.array([getattr(s, name) for s in spots]) for name in ("x_m", "y_m", "height_m"))
    matrix = np.column_stack([x, y, np.ones_like(x)])
    weights = np.ones_like(z)
    # three rounds with less weight for what lies off: one slipped figure must not tilt the ground
    for _ in range(10):
        found, *_ = np.linalg.lstsq(matrix * weights[:, None], z * weights, rcond=None)
        off = np.abs(z - matrix @ found)
        weights = 1.0 / np.sqrt(np.maximum(off, max(float(np.median(off)), 1e-3)))
    return _Plane(a=float(found[0]), b=float(found[1]), c=float(found[2]))


def _outliers(site: Site) -> Iterator[Finding]:
    plane, spots = _plane(site), site.ground.spot_heights
    if plane is None or len(spots) < 5:
        return
    off = np.array([s.height_m - plane.at(s.x_m, s.y_m) for s in spots])
    step = float(np.median(np.abs(off)))
    for n in np.flatnonzero(np.abs(off) > max(OUTLIER_M, OUTLIER_STEPS * step)):
        yield _finding(
            "height-outlier",
            f"spot height {n + 1} of {len(spots)}, {spots[n].height_m:g} m, lies {length(abs(float(off[n])))} "
            f"{'above' if off[n] > 0 else 'below'} the ground through the others",
            value=f"{spots[n].height_m:g}",
            effect_m=abs(float(off[n])),
            repair="correct the height: look for a lost decimal point or two figures exchanged",
            accept=f"spot height {n + 1}",
            stops=True,
        )


def _levels(site: Site, plane: _Plane) -> Iterator[Finding]:
    levels = site.ground.levels
    above = [(w, w.level_m - plane.at(w.x_m, w.y_m)) for w in levels]
    ground = [plane.at(w.x_m, w.y_m) for w in levels]
    feet = [w for w, z in zip(levels, ground, strict=True) if _is_feet(w.level_m, z)]
    if levels and len(feet) == len(levels):
        yield _in_feet(levels[0].level_m, ground[0])
        return
    if levels and all(0.0 <= w.level_m < DEPTH_AT_MOST_M and up < -PLAIN_M for w, up in above):
        yield _finding(
            "levels-as-depths",
            f"the water levels are {min(w.level_m for w in levels):g} to {max(w.level_m for w in levels):g} m where "
            f"the ground is at {ground[0]:.0f} m: depths below the ground, not levels, so the water would flow "
            "the wrong way",
            value=f"{levels[0].level_m:g}",
            effect_m=abs(above[0][1]),
            repair="write level_m as the height of the water: ground height less depth",
            accept="levels as they are",
            stops=True,
        )
        return
    for level, up_m in above:
        if up_m > ABOVE_GROUND_M:
            yield _finding(
                "level-above-ground",
                f"the water in {level.name or 'a well'} stands at {level.level_m:g} m, {length(up_m)} above the ground",
                value=f"{level.level_m:g}",
                effect_m=up_m,
                repair="correct the level or the spot heights: both above one datum",
                accept=f"water above the ground: {level.name}",
                stops=True,
            )
    for feature in site.features:
        own = feature.attributes.get("ground_level_m")
        x, y = feature.geometry.centroid.x, feature.geometry.centroid.y
        if isinstance(own, float) and abs(own - plane.at(x, y)) > LEVEL_M:
            off_m = abs(own - plane.at(x, y))
            yield _finding(
                "ground-level",
                f"{feature.name!r} has a ground level of {own:g} m, {length(off_m)} from the spot heights",
                value=f"{own:g}",
                effect_m=off_m,
                repair="correct ground_level_m, or leave the receiver's own height out",
                accept=f"ground level: {feature.name}",
                stops=False,
            )


def _is_feet(level: float, ground: float) -> bool:
    """Whether one of the two is in feet: they differ by that factor to within a twentieth."""
    if ground <= 0.0 or level <= 0.0:
        return False
    ratio = level / ground
    return abs(ratio * FOOT_M - 1.0) < 0.05 or abs(ratio / FOOT_M - 1.0) < 0.05


def _in_feet(level: float, ground: float) -> Finding:
    which = "levels" if level > ground else "spot heights"
    return _finding(
        "feet-as-metres",
        f"water at {level:g} and ground at {ground:.0f}: the {which} are in feet",
        value=f"{level:g}",
        effect_m=max(level, ground) * (1.0 - FOOT_M),
        repair=f"write the {which} in metres (feet times 0.3048)",
        accept=f"{which} as they are",
        stops=True,
    )


def _depths(site: Site) -> Iterator[Finding]:
    ground = site.ground
    highest, dry = ground.highest_water_depth_m, ground.dry_season_water_depth_m
    if highest is not None and dry is not None and dry < highest:
        yield _finding(
            "water-depths-exchanged",
            f"water {dry:g} m down in the dry season but {highest:g} m at its highest",
            value=f"{highest:g}, {dry:g}",
            effect_m=highest - dry,
            repair="exchange the two: the highest water is the one nearer to the ground",
            accept="water depths as they are",
            stops=True,
            file="site.toml",
        )
    if highest is None and (dry is not None or (ground.levels and ground.levels_season != "highest")):
        said = "the water is known in the dry season only" if dry is not None else "the levels are of no stated season"
        yield _finding(
            "dry-season-only",
            said,
            repair='ask for the highest level anybody remembers; levels_season = "highest" says that it is that',
            accept="season of the water",
            sure=Sure.POSSIBLE,
            stops=False,
            file="site.toml",
        )


def _finding(
    code: str,
    seen: str,
    *,
    repair: str,
    accept: str,
    stops: bool,
    value: str = "",
    effect_m: float | None = None,
    sure: Sure = Sure.LIKELY,
    file: str | None = None,
) -> Finding:
    return Finding(
        code=code, seen=seen, value=value, effect_m=effect_m, repair=repair, accept=accept, stops=stops, sure=sure,
        file=file,
    )  # fmt: skip
