"""The setting-out card as data: a table of pegs, a table of checks, waypoints, and plain values for programs.

Lengths are rounded to the nearest millimetre, degrees to about a millimetre: a peg has to stand where it is meant.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from siting.assess import Assessment, Placed
from siting.outputs.table import CSV_FORMULA_STARTS
from siting.setting_out.card import SettingOut
from siting.setting_out.points import TiePoint

DEGREE_DIGITS = 8
"About 1 mm on the ground."
TIES, STATIONS = 3, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A place with all that goes to the ground, and what it is part of."""

    assessment: Assessment
    placed: Placed
    out: SettingOut
    grid: str = ""
    "CRS of the site's own grid, where it states one."
    grid_xy: tuple[tuple[float, float], ...] = ()
    "Each peg on that grid."

    @property
    def title(self) -> str:
        """What is set out where."""
        return f"{self.assessment.site.name}: {self.placed.installation.kind}, place {self.placed.candidate.name}"

    @property
    def lonlat(self) -> np.ndarray | None:
        """Each peg as lon, lat (n, 2); None on a plan without a place on earth."""
        frame = self.assessment.site.frame
        return frame.to_world(np.array([p.xy for p in self.out.pegs])) if frame.on_earth else None

    @property
    def points(self) -> dict[str, TiePoint]:
        """What pegs are measured from, under short names: T1, T2, ... tie points, S1 and S2 the stations."""
        tied = {t.point.name: t.point for of_peg in self.out.ties for t in of_peg.ties}
        named = {f"T{number}": tied[name] for number, name in enumerate(sorted(tied), 1)}
        return named | {f"S{number}": station for number, station in enumerate(self.out.stations, 1)}

    @property
    def accuracy(self) -> str:
        """How well the pegs have to stand, in words."""
        tolerance = self.out.tolerance
        least = f"{tolerance.rule} from {tolerance.feature}" if tolerance.feature else tolerance.rule
        words = (
            f"Pegs within {tolerance.within_m:.2f} m of their places: every rule that now meets still does then"
            if tolerance.within_m
            else "The place leaves no room for pegs to be off"
        )
        if least and np.isfinite(tolerance.allowed_m):
            words += f" (the least to spare is {_down(tolerance.allowed_m)} m, {least})"
        if tolerance.unsettled:
            words += f". No peg settles {', '.join(tolerance.unsettled)}"
        return words + "."


def _down(length_m: float) -> str:
    return f"{np.floor(length_m * 100.0 + 1e-6) / 100.0:.2f}"


def pegs_csv(card: Card) -> bytes:
    """One row a peg: where it is four ways over, three tape lengths, and blanks to be filled in on the ground."""
    grid = ["grid_crs", "grid_east", "grid_north"] if card.grid else []
    columns = [
        "peg", "part", "east_m", "north_m", "lat", "lon", *grid,
        *(f"{what}_{n}{unit}" for n in range(1, STATIONS + 1) for what, unit in (
            ("station", ""), ("distance", "_m"), ("bearing", "_deg"), ("turned", "_deg"), ("along_slope_station", "_m"),
        )),
        *(f"{what}_{n}{unit}" for n in range(1, TIES + 1) for what, unit in (
            ("tie", ""), ("length", "_m"), ("along_slope_tie", "_m"), ("measured_tie", "_m"),
        )),
        "ties_sigma_m", "within_m", "caution", "measured_lat", "measured_lon", "set_by", "checked_by", "remarks",
    ]  # fmt: skip
    lonlat = card.lonlat
    rows: list[Sequence[object]] = []
    for index, (peg, ties) in enumerate(zip(card.out.pegs, card.out.ties, strict=True)):
        world = ("", "") if lonlat is None else (_degrees(lonlat[index, 1]), _degrees(lonlat[index, 0]))
        on_grid = [card.grid, *map(_metres, card.grid_xy[index])] if card.grid else []
        rays = [r for r in card.out.rays if r.peg == peg.name]
        seen = [
            (r.station, _metres(r.distance_m), _angle(r.bearing_deg), _angle(r.turned_deg), _metres(r.along_slope_m))
            for r in rays
        ]
        tied = [(t.point.name, _metres(t.distance_m), _metres(t.along_slope_m), "") for t in ties.ties]
        rows.append([
            peg.name, peg.part, _metres(peg.x_m), _metres(peg.y_m), *world, *on_grid,
            *_filled(seen, STATIONS, 5), *_filled(tied, TIES, 4),
            _metres(ties.sigma_m) if np.isfinite(ties.sigma_m) else "",
            f"{card.out.tolerance.within_m:.2f}",
            "; ".join((*((f"falls in {peg.stands_in}",) if peg.stands_in else ()), *ties.cautions)),
            "", "", "", "", "",
        ])  # fmt: skip
    return as_table(columns, rows)


def _filled(groups: Sequence[Sequence[str]], count: int, wide: int) -> list[str]:
    cells = [cell for group in groups[:count] for cell in group]
    return cells + [""] * (count * wide - len(cells))


def checks_csv(card: Card) -> bytes:
    """Sides, diagonals, strings and 3-4-5 triangles, each with blanks for what was measured and by whom."""
    rows = [(c.what, c.start, c.end, _metres(c.length_m), "", "", "") for c in card.out.checks]
    for square in card.out.squares:
        sides = f"{square.one_m:.2f}, {square.other_m:.2f} and across"
        rows.append((f"3-4-5 at the corner: {sides}", square.corner, "", _metres(square.across_m), "", "", ""))
    return as_table(["check", "from", "to", "length_m", "measured_m", "set_by", "checked_by"], rows)


def as_table(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """UTF-8 with a byte-order mark, so that spreadsheets read accents."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_inert(cell) for cell in row])
    return text.getvalue().encode("utf-8-sig")


def _inert(cell: object) -> object:
    """Names never become formulas; numbers may be negative."""
    if isinstance(cell, str) and cell.startswith(CSV_FORMULA_STARTS) and not _is_number(cell):
        return "'" + cell
    return cell


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _metres(length_m: float | None) -> str:
    return "" if length_m is None else f"{length_m + 0.0:.3f}".replace("-0.000", "0.000")


def _degrees(angle_deg: float) -> str:
    return f"{angle_deg:.{DEGREE_DIGITS}f}"


def _angle(angle_deg: float | None) -> str:
    return "" if angle_deg is None else f"{round(angle_deg, 3) % 360.0:.3f}"


def gpx(card: Card) -> bytes | None:
    """The pegs as waypoints under their names, for a receiver; None on a plan without a place on earth."""
    lonlat = card.lonlat
    if lonlat is None:
        return None
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="siting" xmlns="http://www.topografix.com/GPX/1/1">',
        f"<metadata><name>{_xml(card.title)}</name></metadata>",
        *(
            f'<wpt lat="{_degrees(lat)}" lon="{_degrees(lon)}"><name>{peg.name}</name>'
            f"<desc>{_xml(peg.part)}</desc></wpt>"
            for peg, (lon, lat) in zip(card.out.pegs, lonlat, strict=True)
        ),
        "</gpx>",
    ]
    return ("\n".join(lines) + "\n").encode()


def _xml(words: str) -> str:
    return escape("".join(c if c.isprintable() else " " for c in words), quote=False)


def block(card: Card) -> dict[str, object]:
    """The `setout` block for programs."""
    out, lonlat = card.out, card.lonlat
    tolerance = out.tolerance
    return {
        "candidate": card.placed.candidate.name,
        "kind": card.placed.installation.kind,
        "orientation_deg": round(card.placed.candidate.orientation_deg, 3) % 360.0,
        "verdict": str(card.placed.verdict),
        "accuracy": card.accuracy,
        "within_m": tolerance.within_m,
        "unsettled": list(tolerance.unsettled),
        "grid": card.grid or None,
        "points": [
            {"short": short, "name": p.name, "east_m": round(p.x_m, 3), "north_m": round(p.y_m, 3)}
            for short, p in card.points.items()
        ],
        "pegs": [
            {
                "name": peg.name,
                "part": peg.part,
                "east_m": round(peg.x_m, 3) + 0.0,
                "north_m": round(peg.y_m, 3) + 0.0,
                "lon_lat": None if lonlat is None else [round(float(v), DEGREE_DIGITS) for v in lonlat[index]],
                "on_grid": [round(v, 3) for v in card.grid_xy[index]] if card.grid else None,
                "stands_in": peg.stands_in,
                "ties": [
                    {
                        "from": t.point.name,
                        "distance_m": round(t.distance_m, 3),
                        "along_slope_m": _rounded(t.along_slope_m),
                    }
                    for t in ties.ties
                ],
                "sigma_m": round(ties.sigma_m, 3) if np.isfinite(ties.sigma_m) else None,
            }
            for index, (peg, ties) in enumerate(zip(out.pegs, out.ties, strict=True))
        ],
        "rays": [
            {
                "station": r.station,
                "peg": r.peg,
                "distance_m": round(r.distance_m, 3),
                "bearing_deg": round(r.bearing_deg, 3) % 360.0,
                "turned_deg": None if r.turned_deg is None else round(r.turned_deg, 3) % 360.0,
                "along_slope_m": _rounded(r.along_slope_m),
            }
            for r in out.rays
        ],
        "checks": [
            {"what": c.what, "from": c.start, "to": c.end, "length_m": round(c.length_m, 3)} for c in out.checks
        ],
        "squares": [
            {"corner": s.corner, "one_m": s.one_m, "other_m": s.other_m, "across_m": s.across_m} for s in out.squares
        ],
        "cautions": list(out.cautions),
    }


def _rounded(length_m: float | None) -> float | None:
    return None if length_m is None else round(length_m, 3)
