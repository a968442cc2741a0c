"""What the page says of the answer: places, the best compromise, the size, the ground; as texts ready to be set."""

from collections.abc import Iterator

import numpy as np

from siting.assess import Assessment, Placed
from siting.outputs.page import rows
from siting.outputs.page.beneath import contours_of, rose_text
from siting.separations import ceiled, floored


def coordinates(assessment: Assessment, x_m: float, y_m: float) -> str:
    """Latitude and longitude to 7 digits (a centimetre), or metres on the plan where it has no place on earth."""
    frame = assessment.site.frame
    if not frame.on_earth:
        return f"x {x_m:.2f} m, y {y_m:.2f} m"
    lon, lat = frame.to_world(np.array([[x_m, y_m]]))[0]
    return f"{lat:.7f}, {lon:.7f}"


def place(placed: Placed, assessment: Assessment) -> dict[str, str]:
    """A proposed place for the list."""
    c, finding = placed.candidate, assessment.finding
    assert finding is not None
    return {
        "name": c.name,
        "verdict": str(placed.verdict),
        "css": rows.CLASSES[placed.verdict],
        "mark": rows.MARKS[placed.verdict],
        "margin": rows.signed(c.margin_m),
        "bound": ceiled(c.bound_m),
        "binding": c.binding.rule.id + (f", {c.binding.feature.name}" if c.binding.feature else ""),
        "probability": rows.probability_text(placed.probability),
        "walk": "" if placed.walk_m is None else f"{placed.walk_m:.0f} m from {finding.request.serve_from}",
        "at": coordinates(assessment, c.x_m, c.y_m),
        "orientation": f"long side {c.orientation_deg:.1f}° from north" if placed.installation.turns else "",
        "why": placed.why,
        "reserve": _reserve(placed, assessment),
        "no_well": _no_well(placed),
        "facts": "; ".join(_facts(placed, finding.request.serve_from)),
    }


def _reserve(placed: Placed, assessment: Assessment) -> str:
    if placed.reserve is None:
        return ""
    at = coordinates(assessment, placed.reserve.x_m, placed.reserve.y_m)
    return f"its successor fits at {placed.candidate.name}\N{PRIME}, {at}"


def _facts(placed: Placed, served: str | None) -> Iterator[str]:
    """What people weigh beside distances, as far as the plan tells it."""
    known = placed.facts
    if known.slope_percent is not None:
        yield f"slope {known.slope_percent:.1f} %"
    if known.fall_m is not None:
        lower = "lower" if known.fall_m >= 0 else "higher"
        yield f"{abs(known.fall_m):.1f} m {lower} than {served}"
    if known.public_m is not None:
        yield f"{floored(known.public_m)} m to the nearest place of the public"
        hidden = "out of sight from places of the public (trees and walls not counted)"
        yield f"in sight from {rows.some(known.seen_from)}" if known.seen_from else hidden
    if known.vehicle_m is not None:
        yield f"{known.vehicle_m:.0f} m to the nearest road or parking, for emptying"


def _no_well(placed: Placed) -> str:
    ground = placed.no_well
    if ground is None:
        return ""
    beyond = f", {ground.beyond_boundary_m2:.0f} m² of it beyond the boundary" if ground.beyond_boundary_m2 >= 1 else ""
    return f"once it stands, no well within {ground.radius_m:.4g} m{beyond}"


def compromise(assessment: Assessment) -> dict[str, object] | None:
    """Why there is no place, with the proof and the ways out."""
    finding = assessment.finding
    if finding is None or finding.conflict is None:
        return None
    conflict = finding.conflict
    against = dict.fromkeys(
        f"{r.rule.id}{f' ({r.feature.name})' if r.feature else ''}: {rows.limit_text(r.limit, r.required)}"
        for r in conflict.requirements
    )
    return {
        "short": ceiled(conflict.shortfall_m),
        "is_short": conflict.shortfall_m > 0,
        "bound": floored(-conflict.bound_m),
        "against": list(against),
        "at": coordinates(assessment, conflict.x_m, conflict.y_m),
        "ways_out": [f"{way.change}: opens {_area(way.gains_m2)}" for way in conflict.ways_out],
    }


def _area(area_m2: float) -> str:
    if area_m2 <= 0.0:
        return "no ground by itself"
    return f"{area_m2:.0f} m²" if area_m2 >= 1.0 else "less than 1 m²"


def size(assessment: Assessment) -> list[str]:
    """What was placed: its measures, where they come from, and other pits that hold as much."""
    finding = assessment.finding
    if finding is None:
        return []
    d, sizing = finding.size.dimensions, finding.size.sizing
    across = f"{d.pit_length_m:g} m across" if d.pit_width_m is None else f"{d.pit_length_m:g} by {d.pit_width_m:g} m"
    deep = f"{d.depth_m:g} m deep" if d.depth_m else "depth not stated"
    fills = f"; fills in {sizing.life_years:g} years" if sizing else ""
    made = [
        f"pit {across} inside, wall {d.wall_m:g} m, {deep}{fills}",
        f"enclosure {d.enclosure_length_m:.2f} by {d.enclosure_width_m:.2f} m over all",
        *finding.size.reasons,
    ]
    for a in finding.alternatives:
        collar = f", its top {a.collar_m:g} m above ground" if a.collar_m else ""
        fits = "holds as much" if a.fits else "does not hold as much"
        made.append(f"instead: {a.what}, {a.diameter_m:.2f} m across, {a.depth_m:.2f} m deep{collar}: {fits}")
    return made


def mendings(assessment: Assessment) -> list[str]:
    """Where what fails would meet."""
    return [
        f"{m.installation} would keep every rule that must hold {ceiled(m.moved_m)} m away, on bearing "
        f"{m.bearing_deg:.0f}°, at {coordinates(assessment, m.x_m, m.y_m)}"
        for m in assessment.mendings
    ]


def terrain(assessment: Assessment) -> list[str]:
    """Which way water, ground and wind go."""
    ground, found = assessment.terrain, []
    water, heights, rose = ground.water, ground.heights, ground.rose
    if water is not None and water.flow_towards_deg is not None:
        found.append(
            f"groundwater flows towards {water.flow_towards_deg:.0f}° (± {water.flow_sigma_deg:.0f}°), falling "
            f"{water.gradient * 1000:.2g} m in a kilometre, from {water.n} levels"
        )
    lines = contours_of(assessment)
    if lines:
        found.append(f"level lines of the water across the grounds: {', '.join(line.text for line in lines)}")
    if heights is not None and heights.flow_towards_deg is not None:
        found.append(
            f"the ground falls towards {heights.flow_towards_deg:.0f}°, {heights.gradient * 100:.2g} % on the whole, "
            f"from {heights.n} spot heights"
        )
    if rose is not None:
        found.append(f"the wind blows most from {' and '.join(rose.prevailing)}; {rose_text(rose)}")
    return found


def directions(assessment: Assessment) -> Iterator[tuple[str, float]]:
    """Bearings that water, ground and wind lead to, for the arrows on the map."""
    towards = assessment.terrain.towards
    for word, key in (("water", "gradient"), ("slope", "slope"), ("wind", "wind")):
        bearing = towards.get(key)
        if bearing is not None:
            yield word, round(bearing, 1)


def arrangement(assessment: Assessment) -> dict[str, object] | None:
    """Several installations at once: where they stand, or which cannot stand together."""
    made = assessment.arrangement
    if made is None:
        return None
    return {
        "stands": [
            f"{s.installation.name}: {coordinates(assessment, s.x_m, s.y_m)}, margin {rows.signed(s.margin_m)} m"
            + ("" if s.walk_m is None else f", walk {s.walk_m:.0f} m")
            for s in made.stands
        ],
        "margin": rows.signed(made.margin_m),
        "walk": f"{made.walk_m:.0f}",
        "step": f"{made.step_m:.1f}",
        "proved": made.proved,
        "conflict": list(made.conflict),
    }
