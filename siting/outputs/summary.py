"""What the terminal shows: the answer first, then what fails, then what nobody looked at."""

from math import ceil, floor

from siting.arrangement import Arrangement
from siting.assess import Assessment, Finding
from siting.conflicts import WayOut
from siting.separations import Separation, ceiled, floored
from siting.uncertainty import Verdict

EXIT_STATUS = {Verdict.MEETS: 0, Verdict.FAILS: 1, Verdict.TOO_CLOSE: 3, Verdict.NOT_ASSESSED: 3}
_SHOWN = 8


def exit_status(assessment: Assessment) -> int:
    """The exit status of a command: the verdict as a number."""
    return EXIT_STATUS[assessment.verdict]


def text(assessment: Assessment, *, verbose: bool) -> str:
    """The summary, a few lines; every row when verbose."""
    lines = [f"{assessment.site.name}: {assessment.verdict}", *_found(assessment)]
    decisive = [s for s in assessment.separations if s.is_must]
    for verdict in (Verdict.FAILS, Verdict.TOO_CLOSE):
        lines += _group([s for s in decisive if s.verdict is verdict], verdict, verbose=verbose)
    lines += [
        f"  {m.installation} would meet {ceiled(m.moved_m)} m away, towards {m.bearing_deg:.0f} degrees"
        for m in assessment.mendings[: None if verbose else _SHOWN]
    ]
    advised = sum(1 for s in assessment.separations if not s.is_must and s.verdict is Verdict.FAILS)
    if advised:
        lines.append(f"{advised} advisory distances are not kept (see the table)")
    lines += _unlooked(assessment, verbose=verbose)
    lines += [f"note: {n.message}" for n in assessment.site.notices[: None if verbose else _SHOWN]]
    if verbose:
        lines += _group([s for s in decisive if s.verdict is Verdict.MEETS], Verdict.MEETS, verbose=True)
        lines += [
            f"{s.name}: {note}" for s in assessment.site.sources.values() for note in (*s.notes, s.operation) if note
        ]
    lines.append("The local code and licensed practice decide; see the cautions on the map.")
    return "\n".join(lines)


def _found(assessment: Assessment) -> list[str]:
    finding = assessment.finding
    if assessment.arrangement is not None:
        return _arranged(assessment, assessment.arrangement)
    if finding is None:
        return []
    what = finding.installation.kind
    if finding.conflict is not None:
        conflict = finding.conflict
        against = ", ".join(
            dict.fromkeys(f"{r.rule.id}{f' ({r.feature.name})' if r.feature else ''}" for r in conflict.requirements)
        )
        if conflict.shortfall_m > 0:
            return [
                f"no place for a {what}: the best compromise is {ceiled(conflict.shortfall_m)} m short "
                f"(proved: nowhere is better than {floored(-conflict.bound_m)} m short)",
                f"  cannot hold together: {against}",
                *(f"  way out: {way.change}: opens {_opened(way)}" for way in conflict.ways_out[:6]),
                *_sized(finding),
            ]
        return [f"no place for a {what}: {against}", *_sized(finding)]
    lines = [f"ground left for a {what}: {floor(finding.ground.nominal.area)} m2, "
             f"{floor(finding.ground.confident.area)} m2 of it at the confidence asked for"]  # fmt: skip
    for placed in finding.placed:
        c = placed.candidate
        walk = "" if placed.walk_m is None else f", {placed.walk_m:.0f} m from {finding.request.serve_from}"
        margin = f"margin {floored(c.margin_m)} m (proved bound {ceiled(c.bound_m)} m)"
        lines.append(f"  {c.name}  {_at(assessment, c.x_m, c.y_m)}  {margin}{walk}: {placed.verdict}")
        lines.append(f"     {placed.why}" + ("; a successor fits too" if placed.reserve else ""))
    reach = finding.placed[0].no_well
    if reach is not None:
        lines.append(
            f"once {finding.placed[0].candidate.name} stands, no well within {reach.radius_m:g} m of it "
            f"({ceil(reach.beyond_boundary_m2)} m2 of that beyond the boundary)"
        )
    return [*lines, *_sized(finding)]


def _arranged(assessment: Assessment, arrangement: Arrangement) -> list[str]:
    """The places of several installations, or which of them cannot stand together."""
    grid = f"grid step {arrangement.step_m:.1f} m" + ("" if arrangement.proved else "; search cut short, not proved")
    if not arrangement.stands:
        together = ", ".join(arrangement.conflict)
        proof = "" if arrangement.bound_m < 0.0 else " (on this grid; a finer one may do better)"
        return [f"no arrangement on the grid ({grid}): these cannot stand together{proof}: {together}"]
    lines = [
        f"arranged: smallest margin {floored(arrangement.margin_m)} m, "
        f"walks {ceiled(arrangement.walk_m)} m in all ({grid})"
    ]
    for s in arrangement.stands:
        walk = "" if s.walk_m is None else f", walk {s.walk_m:.0f} m"
        lines.append(f"  {s.installation.name}: {_at(assessment, s.x_m, s.y_m)}  margin {floored(s.margin_m)} m{walk}")
    return lines


def _opened(way: WayOut) -> str:
    return "a first place" if way.by_m is not None else _area(way.gains_m2)


def _area(area_m2: float) -> str:
    if area_m2 <= 0.0:
        return "no ground by itself"
    return f"{floor(area_m2)} m2" if area_m2 >= 1.0 else "less than 1 m2"


def _sized(finding: Finding) -> list[str]:
    """The size that was placed, and other pits where the water leaves too little depth."""
    d, sizing = finding.size.dimensions, finding.size.sizing
    across = f"{d.pit_length_m:g} m across" if d.pit_width_m is None else f"{d.pit_length_m:g} x {d.pit_width_m:g} m"
    deep = f", {d.depth_m:g} m deep" if d.depth_m else ", depth not stated"
    lines = [
        f"size: pit {across} inside{deep}, enclosure {d.enclosure_length_m:.2f} x {d.enclosure_width_m:.2f} m"
        + (f"; fills in {sizing.life_years:g} years" if sizing else "")
    ]
    for a in finding.alternatives:
        collar = f", collar {a.collar_m:g} m above ground" if a.collar_m else ""
        fits = "holds as much" if a.fits else "does not hold as much"
        lines.append(f"  instead: {a.what}, {a.diameter_m:.2f} m across, {a.depth_m:.2f} m deep{collar}: {fits}")
    return lines


def _at(assessment: Assessment, x_m: float, y_m: float) -> str:
    """Latitude and longitude, or metres of a plan that has no place on earth."""
    import numpy as np

    if not assessment.site.frame.on_earth:
        return f"x {x_m:.2f} m, y {y_m:.2f} m of the plan"
    lon, lat = assessment.site.frame.to_world(np.array([[x_m, y_m]]))[0]
    return f"{lat:.6f}, {lon:.6f}"


def _group(separations: list[Separation], verdict: Verdict, *, verbose: bool) -> list[str]:
    if not separations:
        return []
    shown = separations if verbose else separations[:_SHOWN]
    lines = [f"{verdict} ({len(separations)}):"]
    for s in shown:
        value = floored(s.value) if s.limit.is_minimum else ceiled(s.value)
        lines.append(
            f"  {s.installation} / {s.feature or s.measure}: {value} {s.unit}, "
            f"{s.limit.relation.replace('_', ' ')} {s.required:g} {s.unit} [{s.rule.full_id}]"
        )
        if s.action:
            lines.append(f"    {s.action}")
    if len(shown) < len(separations):
        lines.append(f"  and {len(separations) - len(shown)} more (-v shows all)")
    return lines


def _unlooked(assessment: Assessment, *, verbose: bool) -> list[str]:
    must = [(name, u) for name, u in assessment.unassessed if u.rule.strength == "must"]
    if not must:
        return []
    wanted: dict[str, float] = {}
    for _, u in must:
        wanted[u.look_for] = max(wanted.get(u.look_for, 0.0), u.radius_m or 0.0)
    items = [f"  look for {what}" + (f" within {radius:g} m" if radius else "") for what, radius in wanted.items()]
    more = [] if verbose or len(items) <= _SHOWN else [f"  and {len(items) - _SHOWN} more (-v shows all)"]
    return [f"not assessed ({len(must)} rows):", *(items if verbose else items[:_SHOWN]), *more]
