"""What was built, for programs, for the file and for the register of pits."""

from collections.abc import Iterable, Mapping, Sequence
from math import log, sqrt

import numpy as np
import shapely

from siting.as_built.circle import Circle
from siting.as_built.deviation import Deviation
from siting.as_built.survey import Built
from siting.frame import Frame
from siting.outputs.setout import DEGREE_DIGITS, as_table
from siting.uncertainty import Verdict, gravest

REGISTER_COLUMNS = (
    "name", "kind", "status", "opened", "closed", "contents", "lat", "lon", "radius_m", "pit_depth_m", "accuracy_m",
    "accuracy_level", "ties", "wkt",
)  # fmt: skip
LEVEL = 0.68
"The share of places that `accuracy_m` of the register holds."


def stands_as_planned(built: Built) -> Verdict:
    """Whether pit and enclosure stand within the tolerance; offset pegs are marks only."""
    return gravest([d.verdict for d in built.deviations if not d.name.startswith("O")])


def block(built: Built, frame: Frame, *, candidate: str, cautions: Sequence[str]) -> dict[str, object]:
    """The `as_built` block of the results."""
    pit = built.pit
    shape: dict[str, object]
    if isinstance(pit, Circle):
        shape = {
            "shape": "circle", "radius_m": round(pit.radius_m, 4), "radius_sigma_m": round(pit.radius_sigma_m, 4),
            "rms_m": round(pit.rms_m, 4), "arc_deg": round(pit.arc_deg, 1), "agrees": pit.agrees,
        }  # fmt: skip
    else:
        shape = {"shape": "rectangle", "length_m": round(pit.length_m, 4), "width_m": round(pit.width_m, 4)}
    enclosure = built.enclosure
    return {
        "candidate": candidate,
        "name": built.feature.name,
        "within_tolerance": str(stands_as_planned(built)),
        "pit": {
            **shape,
            "lon_lat": _lonlat(frame, (pit.x_m, pit.y_m)),
            "east_m": round(pit.x_m, 3) + 0.0,
            "north_m": round(pit.y_m, 3) + 0.0,
            "sigma_m": round(built.feature.sigma_m, 4),
            "residuals_m": [round(r, 4) + 0.0 for r in pit.residuals_m],
        },
        "enclosure": None
        if enclosure is None
        else {
            "length_m": round(enclosure.length_m, 4),
            "width_m": round(enclosure.width_m, 4),
            "orientation_deg": round(enclosure.orientation_deg, 3),
            "diagonals_m": [round(d, 4) for d in enclosure.diagonals_m],
            "residuals_m": [round(r, 4) for r in enclosure.residuals_m],
        },
        "pegs": [
            {
                "name": p.name,
                "east_m": round(p.x_m, 3) + 0.0,
                "north_m": round(p.y_m, 3) + 0.0,
                "lon_lat": _lonlat(frame, p.xy),
                "sigma_m": round(p.sigma_m, 4),
                "residuals_m": [round(r, 4) + 0.0 for r in p.residuals_m],
                "agrees": p.agrees,
                "wrong": p.wrong or None,
                "off_m": None if p.off_m is None else round(p.off_m, 4),
            }
            for p in built.positions
        ],
        "deviations": [_deviation(d) for d in built.deviations],
        "shift": None
        if built.shift is None
        else {
            "east_m": round(built.shift.east_m, 3) + 0.0,
            "north_m": round(built.shift.north_m, 3) + 0.0,
            "turned_deg": round(built.shift.turned_deg, 3) + 0.0,
            "rms_m": round(built.shift.rms_m, 4),
            "mirrored": built.shift.mirrored,
        },
        "cautions": list(cautions),
    }


def _deviation(d: Deviation) -> dict[str, object]:
    return {
        "name": d.name,
        "east_m": round(d.east_m, 3) + 0.0,
        "north_m": round(d.north_m, 3) + 0.0,
        "distance_m": round(d.distance_m, 4),
        "bearing_deg": None if d.bearing_deg is None else round(d.bearing_deg, 1) % 360.0,
        "tolerance_m": d.tolerance_m,
        "sigma_m": round(d.sigma_m, 4),
        "probability": np.floor(d.probability * 1e6) / 1e6,
        "verdict": str(d.verdict),
    }


def _lonlat(frame: Frame, xy: tuple[float, float]) -> list[float] | None:
    if not frame.on_earth:
        return None
    return [round(float(v), DEGREE_DIGITS) for v in frame.to_world(np.array([xy]))[0]]


def pegs_csv(built: Built) -> bytes:
    """One row a peg: where it was found, how surely, and how far off the plan."""
    off = {d.name: d for d in built.deviations}
    columns = (
        "peg", "east_m", "north_m", "sigma_m", "residuals_m", "wrong", "off_plan_east_m", "off_plan_north_m",
        "off_plan_m", "tolerance_m", "result",
    )  # fmt: skip
    places = {p.name: (p.x_m, p.y_m, p.sigma_m, p.residuals_m, p.wrong) for p in built.positions}
    fitted = (built.pit.x_m, built.pit.y_m, off["P"].sigma_m, (), "")
    rows = []
    for name, (x, y, sigma, residuals, wrong) in {**places, "P": fitted}.items():
        d = off.get(name)
        against = (
            ("", "", "", "", "")
            if d is None
            else (_mm(d.east_m), _mm(d.north_m), _mm(d.distance_m), f"{d.tolerance_m:g}", str(d.verdict))
        )
        rows.append((name, _mm(x), _mm(y), _mm(sigma), " ".join(map(_mm, residuals)), wrong, *against))
    return as_table(columns, rows)


def _mm(length_m: float) -> str:
    return f"{round(length_m, 3) + 0.0:.3f}"


def register_row(
    built: Built, frame: Frame, *, opened: str, closed: str, contents: str, ties: str
) -> dict[str, str] | None:
    """What the register says of a pit; None on a plan without a place on earth."""
    lonlat = _lonlat(frame, (built.pit.x_m, built.pit.y_m))
    if lonlat is None:
        return None
    feature = built.feature
    depth = feature.attributes.get("pit_depth_m")
    round_pit = isinstance(built.pit, Circle)
    outline = shapely.to_wkt(frame.geometry_to_world(feature.geometry), rounding_precision=DEGREE_DIGITS)
    return {
        "name": feature.name,
        "kind": feature.kind,
        "status": "closed" if closed else "existing",
        "opened": opened,
        "closed": closed,
        "contents": contents,
        "lat": f"{lonlat[1]:.{DEGREE_DIGITS}f}",
        "lon": f"{lonlat[0]:.{DEGREE_DIGITS}f}",
        "radius_m": f"{built.pit.radius_m:.3f}" if isinstance(built.pit, Circle) else "",
        "pit_depth_m": f"{depth:g}" if isinstance(depth, int | float) else "",
        "accuracy_m": f"{feature.sigma_m * sqrt(-2.0 * log(1.0 - LEVEL)):.3f}",
        "accuracy_level": f"{LEVEL:g}",
        "ties": ties,
        "wkt": "" if round_pit else outline,
    }


def register(rows: Iterable[Mapping[str, str]], new: Mapping[str, str]) -> bytes:
    """The register with a pit added, or its row replaced; what it says of opening, closing and contents is kept."""
    held = {row["name"]: dict(row) for row in rows}
    before = held.get(new["name"], {})
    told = {key: value for key, value in new.items() if value or key not in ("opened", "closed", "contents")}
    merged = {**before, **told}
    merged["status"] = "closed" if merged.get("closed") else "existing"
    held[new["name"]] = merged
    more = dict.fromkeys(key for row in held.values() for key in row if key not in REGISTER_COLUMNS)
    columns = (*REGISTER_COLUMNS, *more)
    return as_table(columns, [[row.get(column, "") for column in columns] for row in held.values()])
