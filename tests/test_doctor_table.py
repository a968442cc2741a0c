"""Wrong input made from the sample sites: each slip is caught under its own code, and clean samples give no finding.

The slips are those that survey data is known for: exchanged and mistyped coordinates, wrong zones, datums, units,
placeholders, doubles, stale surveys (field accounts and issue threads of general libraries).
The shift of Arc 1960 is the EPSG dataset's operation 1284 for Kenya: geocentric (-157, -2, -299) m, Clarke 1880 (RGS).
"""

import csv
import json
import math
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from siting.doctor.examine import findings
from siting.errors import SitingError
from siting.finding import Finding, FindingFault
from siting.io.packs import load
from siting.io.read import read_site

SAMPLES = Path(__file__).parents[1] / "sample_sites"
NAMES = ("marula-ridge", "kessa-hill", "old-market")
TO_ARC_1960 = Transformer.from_pipeline(
    "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +ellps=WGS84 "
    "+step +inv +proj=helmert +x=-157 +y=-2 +z=-299 +step +inv +proj=cart +ellps=clrk80 "
    "+step +proj=unitconvert +xy_in=rad +xy_out=deg"
)
ON = date(2026, 7, 1)

Row = dict[str, str]


@lru_cache(maxsize=1)
def packs():
    """The default pack, loaded once."""
    return (load("health-care-waste"),)


def seen(folder: Path, *, today: date | None = ON) -> tuple[Finding, ...]:
    """Every finding about a site, whether or not a site can be made of it."""
    try:
        return findings(read_site(folder), packs(), today=today)
    except SitingError as error:
        return tuple(fault.finding for fault in error.faults if isinstance(fault, FindingFault))


# --- a sample as a table and a boundary, so that each slip can be made in each sample -------------------------


@lru_cache(maxsize=3)
def tabled(name: str) -> tuple[tuple[Row, ...], str]:
    """Points of a sample, one row a feature, and its boundary as GeoJSON; drawn things as discs of their own width."""
    site = read_site(SAMPLES / name)
    rows = []
    for feature in site.features:
        if feature.kind in ("boundary", "unknown") or feature.geometry.geom_type == "LineString":
            continue
        middle = site.frame.geometry_to_world(shapely.centroid(feature.geometry))
        row = {
            "kind": feature.kind,
            "name": feature.name,
            "lat": f"{middle.y:.8f}",
            "lon": f"{middle.x:.8f}",
            "accuracy_m": "4",
            "radius_m": f"{_radius_m(feature):g}" if _radius_m(feature) else "",
            "pit_depth_m": str(feature.attributes.get("pit_depth_m", "")),
        }
        rows.append(row)
    world = site.frame.geometry_to_world(site.boundaries[0].geometry)
    ring = [[round(x, 9), round(y, 9)] for x, y in world.exterior.coords]
    ring[-1] = ring[0]
    return tuple(rows), json.dumps(collection(ring))


def collection(ring) -> dict:
    """A boundary as GeoJSON."""
    geometry = {"type": "Polygon", "coordinates": [ring]}
    return {
        "type": "FeatureCollection",
        "features": [{"type": "Feature", "properties": {"kind": "boundary", "name": "Fence"}, "geometry": geometry}],
    }


def _radius_m(feature) -> float | None:
    if feature.radius_m is not None:
        return feature.radius_m
    if feature.geometry.geom_type != "Polygon":
        return None
    corners = shapely.get_coordinates(shapely.oriented_envelope(feature.geometry))
    return round(float(np.hypot(*np.diff(corners, axis=0).T).min()) / 2.0, 2)


TOML = """
name = "Table of {name}"
rules = ["health-care-waste"]
[surveyed]
on = 2026-05-14
radius_m = 60
[[source]]
file = "points.csv"
[[source]]
file = "boundary.geojson"
accuracy_m = 1
[ground]
highest_water_depth_m = 5
"""


@dataclass
class Folder:
    """A site as files that a slip can be made in."""

    path: Path
    rows: list[Row]

    @property
    def toml(self) -> str:
        """The text of site.toml."""
        return (self.path / "site.toml").read_text()

    def say(self, old: str, new: str) -> None:
        """Change site.toml."""
        assert old in self.toml
        (self.path / "site.toml").write_text(self.toml.replace(old, new))

    def write(self, delimiter: str = ",", quoting: int = csv.QUOTE_MINIMAL) -> None:
        """Write points.csv."""
        headings = list(dict.fromkeys(key for row in self.rows for key in row))
        with (self.path / "points.csv").open("w", newline="") as text:
            writer = csv.DictWriter(text, headings, delimiter=delimiter, quoting=quoting)
            writer.writeheader()
            writer.writerows(self.rows)

    def each(self, change: Callable[[Row], None], only: int | None = None) -> None:
        """Change every row, or one, and write."""
        for number, row in enumerate(self.rows):
            if only is None or number == only:
                change(row)
        self.write()

    @property
    def middle(self) -> tuple[float, float]:
        """Latitude and longitude of the middle of all rows."""
        return tuple(float(np.mean([float(row[key]) for row in self.rows])) for key in ("lat", "lon"))

    def near(self) -> None:
        """Say where the facility is."""
        lat, lon = self.middle
        (self.path / "site.toml").write_text(f"near = {{ lat = {lat:.2f}, lon = {lon:.2f} }}\n" + self.toml)


def laid_out(name: str, path: Path) -> Folder:
    """The table form of a sample in a folder."""
    rows, boundary = tabled(name)
    path.mkdir(parents=True, exist_ok=True)
    (path / "boundary.geojson").write_text(boundary)
    (path / "site.toml").write_text(TOML.format(name=name))
    folder = Folder(path, [dict(row) for row in rows])
    folder.write()
    return folder


# --- slips -------------------------------------------------------------------------------------------------


def swap(row: Row) -> None:
    """Latitude and longitude exchanged."""
    row["lat"], row["lon"] = row["lon"], row["lat"]


def north(row: Row) -> None:
    """The minus sign of the south lost."""
    row["lat"] = row["lat"].lstrip("-")


def minutes(row: Row) -> None:
    """Degrees and decimal minutes typed as a decimal number."""
    for key in ("lat", "lon"):
        whole, part = _parts(row[key])
        row[key] = f"{'-' if '-' in row[key] else ''}{whole + part * 0.6:.7f}"


def seconds(row: Row) -> None:
    """Degrees, minutes and seconds typed as a decimal number."""
    for key in ("lat", "lon"):
        whole, part = _parts(row[key])
        least, rest = divmod(part * 60.0, 1.0)
        row[key] = f"{'-' if '-' in row[key] else ''}{whole:.0f}.{least:02.0f}{rest * 60.0 * 100.0:04.0f}"


def unmarked(row: Row) -> None:
    """Degrees, minutes and seconds without marks."""
    for key in ("lat", "lon"):
        whole, part = _parts(row[key])
        least, rest = divmod(part * 60.0, 1.0)
        row[key] = f"{'-' if '-' in row[key] else ''}{whole:.0f} {least:.0f} {rest * 60.0:.2f}"


def whole_seconds(row: Row) -> None:
    """Written to whole seconds of arc."""
    for key, letters in (("lat", "SN"), ("lon", "WE")):
        total = round(abs(float(row[key])) * 3600.0)
        letter = letters[0] if "-" in row[key] else letters[1]
        row[key] = f"{total // 3600}°{total // 60 % 60}'{total % 60}\"{letter}"


def _parts(text: str) -> tuple[float, float]:
    part, whole = math.modf(abs(float(text)))
    return whole, part


def few(decimals: int) -> Callable[[Row], None]:
    """Few decimals."""

    def change(row: Row) -> None:
        for key in ("lat", "lon"):
            row[key] = f"{float(row[key]):.{decimals}f}"

    return change


def moved(east_m: float, north_m: float) -> Callable[[Row], None]:
    """Moved by metres."""

    def change(row: Row) -> None:
        lat = float(row["lat"])
        row["lon"] = f"{float(row['lon']) + east_m / (111_320.0 * math.cos(math.radians(lat))):.8f}"
        row["lat"] = f"{lat + north_m / 110_600.0:.8f}"

    return change


def arc_1960_row(row: Row) -> None:
    """Measured in Arc 1960 and labelled WGS 84."""
    lon, lat = TO_ARC_1960.transform(float(row["lon"]), float(row["lat"]))
    row.update(lat=f"{lat:.8f}", lon=f"{lon:.8f}")


def put(**cells: str) -> Callable[[Row], None]:
    """Cells set."""
    return lambda row: row.update(cells)


def first_of(folder: Folder, *kinds: str) -> int:
    """The first row of a kind."""
    return next(n for n, row in enumerate(folder.rows) if row["kind"] in kinds)


def in_grid(folder: Folder, crs: str, *, by: float = 1.0) -> None:
    """The points in metres of UTM zone 37 south, under a CRS that may be another one, times a factor."""
    to_grid = Transformer.from_crs(4326, 32737, always_xy=True)
    for row in folder.rows:
        x, y = to_grid.transform(float(row.pop("lon")), float(row.pop("lat")))
        row["x"], row["y"] = f"{x * by:.3f}", f"{y * by:.3f}"
    folder.write()
    folder.say('file = "points.csv"', f'file = "points.csv"\ncrs = "{crs}"')


def known_in_both(folder: Folder, change: Callable[[Row], None]) -> None:
    """Three features stand in a second, right file as well, and the first file is changed."""
    some = [dict(row) for row in folder.rows[:4]]
    keep, folder.rows = folder.rows, some
    folder.write()
    (folder.path / "points.csv").rename(folder.path / "known.csv")
    folder.rows = keep
    folder.each(change)
    folder.say('file = "points.csv"', 'file = "points.csv"\n[[source]]\nfile = "known.csv"')


def turned(folder: Folder) -> Callable[[Row], None]:
    """Turned by fifteen degrees about its middle (magnetic for true north, say)."""
    lat0, lon0 = folder.middle
    across = math.cos(math.radians(lat0))
    sine, cosine = math.sin(math.radians(15.0)), math.cos(math.radians(15.0))

    def change(row: Row) -> None:
        x, y = (float(row["lon"]) - lon0) * across, float(row["lat"]) - lat0
        row["lon"] = f"{lon0 + (cosine * x + sine * y) / across:.8f}"
        row["lat"] = f"{lat0 + cosine * y - sine * x:.8f}"

    return change


def ring_of(folder: Folder) -> list:
    """The corners of the boundary."""
    return json.loads((folder.path / "boundary.geojson").read_text())["features"][0]["geometry"]["coordinates"][0]


def bound(folder: Folder, ring: list) -> None:
    """Another boundary."""
    (folder.path / "boundary.geojson").write_text(json.dumps(collection(ring)))


def decimal_commas(folder: Folder, *, quoted: bool) -> None:
    """Decimal commas in a table whose cells commas part."""
    for row in folder.rows:
        for key in ("lat", "lon"):
            row[key] = row[key].replace(".", ",")
    folder.write(quoting=csv.QUOTE_ALL)
    if not quoted:
        path = folder.path / "points.csv"
        path.write_text(path.read_text().replace('"', ""))


def twice(folder: Folder, change: Callable[[Row], None], name: str = "Seen again") -> None:
    """The first latrine entered again."""
    again = dict(folder.rows[first_of(folder, "pit latrine")], name=name)
    change(again)
    folder.rows.append(again)
    folder.write()


def swap_everything(folder: Folder) -> None:
    """Points and boundary exchanged alike: only where the facility is said to be tells."""
    folder.near()
    folder.each(swap)
    bound(folder, [[y, x] for x, y in ring_of(folder)])


def everything_north(folder: Folder) -> None:
    """The minus sign lost in every file."""
    folder.near()
    folder.each(north)
    bound(folder, [[x, -y] for x, y in ring_of(folder)])


def everything_elsewhere(folder: Folder) -> None:
    """A whole site a hundred kilometres from where it is said to be."""
    folder.near()
    folder.each(moved(100_000.0, 0.0))
    bound(folder, [[x + 0.9, y] for x, y in ring_of(folder)])


def ward_beyond_the_fence(folder: Folder) -> None:
    """A ward a hundred metres beyond the fence."""
    east = max(x for x, _ in ring_of(folder))
    row = folder.rows[first_of(folder, "ward")]
    row["lon"] = f"{east + 0.0009:.8f}"
    folder.write()


def nobody_looked(folder: Folder) -> None:
    """Nothing beyond the fence, and no word of who looked how far."""
    land = shapely.Polygon(ring_of(folder))
    folder.rows = [r for r in folder.rows if land.contains(shapely.Point(float(r["lon"]), float(r["lat"])))]
    folder.write()
    folder.say("radius_m = 60\n", "")


def neighbours_well_within(folder: Folder) -> None:
    """A neighbour's well in the middle of the ground."""
    middle = shapely.Polygon(ring_of(folder)).centroid
    folder.rows.append(
        {"kind": "well", "name": "Neighbour's well", "lat": f"{middle.y:.8f}", "lon": f"{middle.x:.8f}",
         "accuracy_m": "1", "radius_m": "0.6", "pit_depth_m": ""}
    )  # fmt: skip
    folder.write()


def well_in_a_ward(folder: Folder) -> None:
    """A well in the middle of a ward, both known to a metre."""
    ward = folder.rows[first_of(folder, "ward")]
    well = folder.rows[first_of(folder, "well", "borehole")]
    ward.update(accuracy_m="0.2")
    well.update(lat=ward["lat"], lon=ward["lon"], accuracy_m="0.2")
    folder.write()


def feet_heading(folder: Folder) -> None:
    """Radii in a column headed in feet."""
    for row in folder.rows:
        row["radius_ft"] = f"{float(row.pop('radius_m') or 1) / 0.3048:.1f}"
    folder.write()


def torn(folder: Folder) -> None:
    """A remark with a comma and no quotation marks."""
    path = folder.path / "points.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([lines[0], lines[1] + ",fenced,apron cracked", *lines[2:]]) + "\n")


def levels(folder: Folder, heights: list[float], water: list[float]) -> None:
    """Spot heights on a grid round the middle, and water levels of three wells."""
    lat, lon = folder.middle
    at = [(lat + i * 0.0004, lon + j * 0.0004) for i in (-1, 0, 1) for j in (-1, 0, 1)]
    spots = [f"{y:.8f},{x:.8f},{z}" for (y, x), z in zip(at, heights, strict=True)]
    (folder.path / "heights.csv").write_text("lat,lon,height_m\n" + "\n".join(spots) + "\n")
    wells = [f"Dip {n},{y:.8f},{x:.8f},{z}" for n, ((y, x), z) in enumerate(zip(at[::4], water, strict=True))]
    (folder.path / "levels.csv").write_text("name,lat,lon,level_m\n" + "\n".join(wells) + "\n")
    folder.say(
        "highest_water_depth_m = 5",
        'levels = "levels.csv"\nlevels_season = "highest"\nspot_heights = "heights.csv"',
    )


EVEN = [1100.0, 1100.5, 1101.0, 1100.2, 1100.7, 1101.2, 1100.4, 1100.9, 1101.4]
WATER = [1094.0, 1094.6, 1095.2]
SLIPPED = [*EVEN[:4], 110.07, *EVEN[5:]]

SLIPS: dict[str, tuple[str, Callable[[Folder], None]]] = {
    "columns exchanged": ("swapped", lambda f: f.each(swap)),
    "one row exchanged": ("swapped", lambda f: f.each(swap, only=2)),
    "exchanged in every file": ("swapped", swap_everything),
    "minus sign lost": ("wrong-hemisphere", lambda f: f.each(north)),
    "minus sign lost in a row": ("wrong-hemisphere", lambda f: f.each(north, only=1)),
    "minus sign lost everywhere": ("wrong-hemisphere", everything_north),
    "zone 36 for 37": ("wrong-zone", lambda f: in_grid(f, "EPSG:32736")),
    "zone 38 for 37": ("wrong-zone", lambda f: in_grid(f, "EPSG:32738")),
    "northern zone": ("wrong-hemisphere", lambda f: in_grid(f, "EPSG:32637")),
    "Arc 1960 left out": ("datum-shift", lambda f: known_in_both(f, arc_1960_row)),
    "turned": ("turned", lambda f: (f.each(put(accuracy_m="0.3")), known_in_both(f, turned(f)))),
    "minutes as decimals": ("minutes-as-decimals", lambda f: f.each(minutes)),
    "minutes as decimals in a row": ("minutes-as-decimals", lambda f: f.each(minutes, only=3)),
    "seconds as decimals": ("minutes-as-decimals", lambda f: f.each(seconds)),
    "degrees without marks": ("degrees-unmarked", lambda f: f.each(unmarked)),
    "decimal comma": ("decimal-comma", lambda f: decimal_commas(f, quoted=True)),
    "decimal comma, torn": ("decimal-comma", lambda f: decimal_commas(f, quoted=False)),
    "point lost": ("decimal-point", lambda f: f.each(lambda r: r.update(lat=r["lat"].replace(".", "")), only=2)),
    "point slipped": ("decimal-point", lambda f: f.each(lambda r: r.update(lon=f"{float(r['lon']) / 10:.8f}"), only=2)),
    "grid in feet": ("feet-as-metres", lambda f: in_grid(f, "EPSG:32737", by=1 / 0.3048)),
    "grid in millimetres": ("millimetres-as-metres", lambda f: in_grid(f, "EPSG:32737", by=1000.0)),
    "radius in feet": ("feet-as-metres", lambda f: f.each(put(radius_m="12 ft"), only=first_of(f, "ward"))),
    "depth in feet": ("feet-as-metres", lambda f: f.each(put(pit_depth_m="8 ft"), only=first_of(f, "pit latrine"))),
    "heading in feet": ("feet-as-metres", feet_heading),
    "depth in millimetres": ("size", lambda f: f.each(put(pit_depth_m="2500"), only=first_of(f, "pit latrine"))),
    "nought, nought": ("placeholder", lambda f: f.each(put(lat="0", lon="0"), only=1)),
    "all nines": ("placeholder", lambda f: f.each(put(lat="-99", lon="-99"), only=1)),
    "one fix for all": ("placeholder", lambda f: f.each(put(lat=f.rows[0]["lat"], lon=f.rows[0]["lon"]))),
    "three decimals": ("few-decimals", lambda f: f.each(few(3))),
    "four decimals": ("few-decimals", lambda f: f.each(few(4))),
    "four decimals in a row": ("few-decimals", lambda f: f.each(few(4), only=1)),
    "whole seconds": ("few-decimals", lambda f: f.each(whole_seconds)),
    "first fix": ("poor-fix", lambda f: f.each(put(accuracy_m="3000"), only=1)),
    "entered twice": ("duplicate", lambda f: twice(f, lambda row: None)),
    "nearly twice": ("near-duplicate", lambda f: twice(f, moved(0.5, 0.3))),
    "another town": ("far-from-the-rest", lambda f: f.each(moved(9_000.0, 4_000.0), only=1)),
    "another district": ("far-from-stated-place", everything_elsewhere),
    "ward of half a metre": ("size", lambda f: f.each(put(radius_m="0.25"), only=first_of(f, "ward"))),
    "ward of 500 m": ("size", lambda f: f.each(put(radius_m="250"), only=first_of(f, "ward"))),
    "well in a ward": ("overlap", well_in_a_ward),
    "ward beyond the fence": ("outside-boundary", ward_beyond_the_fence),
    "everything beyond the fence": ("outside-boundary", lambda f: f.each(moved(400.0, 0.0))),
    "neighbour's well within": ("inside-boundary", neighbours_well_within),
    "nobody looked beyond": ("nothing-beyond", nobody_looked),
    "ring open": ("boundary-open", lambda f: bound(f, ring_of(f)[:-1])),
    "ring crossed": ("crosses-itself", lambda f: bound(f, [(r := ring_of(f))[0], r[2], r[1], *r[3:]])),
    "old survey": ("survey-old", lambda f: f.say("on = 2026-05-14", "on = 2019-05-14")),
    "survey to come": ("date-in-future", lambda f: f.say("on = 2026-05-14", "on = 2062-05-14")),
    "depths exchanged": (
        "water-depths-exchanged",
        lambda f: f.say("highest_water_depth_m = 5", "highest_water_depth_m = 5\ndry_season_water_depth_m = 3"),
    ),
    "dry season only": ("dry-season-only", lambda f: f.say("highest_water", "dry_season_water")),
    "depths for levels": ("levels-as-depths", lambda f: levels(f, EVEN, [6.0, 6.1, 6.2])),
    "levels in feet": ("feet-as-metres", lambda f: levels(f, EVEN, [z / 0.3048 for z in WATER])),
    "water above the ground": ("level-above-ground", lambda f: levels(f, EVEN, [1094.0, 1104.6, 1095.2])),
    "height slipped": ("height-outlier", lambda f: levels(f, SLIPPED, WATER)),
    "moved on purpose": ("displaced-points", lambda f: f.each(put(DHSCLUST="17"), only=0)),
    "cells too many": ("cells-too-many", torn),
}


# --- slips in the samples' own formats -----------------------------------------------------------------------


def replaced(path: Path, pattern: str, new: str, count: int = 0) -> None:
    """A file with a pattern replaced."""
    text = path.read_text()
    changed = re.sub(pattern, new, text, count=count)
    assert changed != text
    path.write_text(changed)


def repacked(path: Path, change: Callable) -> None:
    """Every layer of the GeoPackage changed and written again."""
    import geopandas

    layers = {name: geopandas.read_file(path, layer=name) for name in geopandas.list_layers(path)["name"]}
    path.unlink()
    for name, frame in layers.items():
        change(frame).to_file(path, layer=name, driver="GPKG")


def flipped(frame):
    """Coordinates exchanged."""
    return frame.set_geometry(shapely.transform(frame.geometry.values, lambda xy: xy[:, ::-1]), crs=frame.crs)


def in_zone(code: int):
    """In UTM zone 37 south, labelled as another."""
    return lambda frame: frame.to_crs(32737).set_crs(code, allow_override=True)


def arc_1960(frame):
    """Measured in Arc 1960 and labelled WGS 84."""
    moved_ = shapely.transform(
        frame.geometry.values, lambda xy: np.column_stack(TO_ARC_1960.transform(xy[:, 0], xy[:, 1]))
    )
    return frame.set_geometry(moved_, crs=frame.crs)


TRACK_END = r'<trkpt lat="[^"]+" lon="[^"]+"/>\s*</trkseg>'
NATIVE: dict[str, tuple[str, str, Callable[[Path], None]]] = {
    "track open": ("marula-ridge", "boundary-open", lambda p: replaced(p / "boundary.gpx", TRACK_END, "</trkseg>")),
    "points exchanged": ("marula-ridge", "swapped", lambda p: replaced(
        p / "points.csv", r"(-12\.\d+),(37\.\d+)", r"\2,\1")),
    "feet for radii": ("marula-ridge", "feet-as-metres", lambda p: (p / "points.csv").write_text(re.sub(
        r"(37\.\d+,4),([\d.]+)", lambda m: f"{m[1]},{float(m[2]) / 0.3048:.1f}", (p / "points.csv").read_text()))),
    "track without minus": ("marula-ridge", "wrong-hemisphere", lambda p: replaced(
        p / "boundary.gpx", r'lat="-', 'lat="')),
    "package exchanged": ("kessa-hill", "swapped", lambda p: repacked(p / "plan.gpkg", flipped)),
    "package in zone 36": ("kessa-hill", "wrong-zone", lambda p: repacked(p / "plan.gpkg", in_zone(32736))),
    "package in the north": ("kessa-hill", "wrong-hemisphere", lambda p: repacked(p / "plan.gpkg", in_zone(32637))),
    "package in Arc 1960": ("kessa-hill", "datum-shift", lambda p: repacked(p / "plan.gpkg", arc_1960)),
    "levels exchanged": ("kessa-hill", "swapped", lambda p: replaced(
        p / "levels.csv", r"(-12\.\d+),(37\.\d+)", r"\2,\1")),
    "levels as depths": ("kessa-hill", "levels-as-depths", lambda p: replaced(p / "levels.csv", r",109\d\.", ",7.")),
    "a height in another unit": ("kessa-hill", "height-outlier", lambda p: replaced(
        p / "heights.csv", r"1099\.90", "3608.60")),
    "plan exchanged": ("old-market", "swapped", lambda p: (
        replaced(p / "plan.geojson", r"\[(37\.\d+), (-12\.\d+)\]", r"[\2, \1]"),
        replaced(p / "site.toml", r"^", "near = { lat = -12.36, lon = 37.47 }\n", count=1))),
    "a well exchanged": ("old-market", "swapped", lambda p: replaced(
        p / "plan.geojson", r"37\.470055169, -12\.359954802", "-12.359954802, 37.470055169")),
    "plan without minus": ("old-market", "wrong-hemisphere", lambda p: (
        replaced(p / "plan.geojson", "-12", "12"),
        replaced(p / "site.toml", r"^", "near = { lat = -12.36, lon = 37.47 }\n", count=1))),
    "wall open": ("old-market", "boundary-open", lambda p: replaced(
        p / "plan.geojson", r", \[37\.47, -12\.36\]\]\]", "]]")),
    "wall crossed": ("old-market", "crosses-itself", lambda p: replaced(
        p / "plan.geojson",
        r"(\[37\.470441355, -12\.36\]), (\[37\.470441355, -12\.359764972\])", r"\2, \1")),
}  # fmt: skip

CASES = [(sample, slip) for slip in SLIPS for sample in NAMES]


def caught(sample: str, slip: str, path: Path) -> tuple[str, set[str]]:
    """The code a slip should have, and the codes it has."""
    code, make = SLIPS[slip]
    make(laid_out(sample, path))
    return code, {finding.code for finding in seen(path)}


def caught_natively(slip: str, path: Path) -> tuple[str, set[str]]:
    """The same for a slip in a sample's own files."""
    sample, code, make = NATIVE[slip]
    shutil.copytree(SAMPLES / sample, path)
    make(path)
    return code, {finding.code for finding in seen(path)}


@pytest.mark.parametrize("sample", NAMES)
def test_clean_samples_give_no_finding(sample, tmp_path):
    """As they are, and as a table with a boundary: no false alarm."""
    shutil.copytree(SAMPLES / sample, tmp_path / "own")
    laid_out(sample, tmp_path / "table")

    assert () == seen(tmp_path / "own")
    assert () == seen(tmp_path / "table")


@pytest.mark.parametrize("sample", NAMES)
def test_clean_variants_give_no_finding(sample, tmp_path):
    """Semicolons, decimal commas between them, marks of degrees, a UTM grid in its right zone, levels and heights."""
    made = {name: laid_out(sample, tmp_path / name) for name in ("semicolons", "marks", "grid", "levels", "near")}
    made["semicolons"].rows = [
        {key: value.replace(".", ",") if key in ("lat", "lon") else value for key, value in row.items()}
        for row in made["semicolons"].rows
    ]
    made["semicolons"].write(";")
    made["marks"].each(_marked)
    in_grid(made["grid"], "EPSG:32737")
    levels(made["levels"], EVEN, WATER)
    made["near"].near()

    assert dict.fromkeys(made, ()) == {name: seen(folder.path) for name, folder in made.items()}


def _marked(row: Row) -> None:
    for key, letters in (("lat", "SN"), ("lon", "WE")):
        whole, part = _parts(row[key])
        least, rest = divmod(part * 60.0, 1.0)
        letter = letters[0] if "-" in row[key] else letters[1]
        row[key] = f"{whole:.0f}°{least:.0f}'{rest * 60.0:.3f}\"{letter}"


def test_every_slip_is_caught_under_its_code(tmp_path, capsys):
    """Each slip in each sample; the rates are printed."""
    missed = []
    for sample, slip in CASES:
        code, codes = caught(sample, slip, tmp_path / sample / re.sub(r"\W", "-", slip))
        if code not in codes:
            missed.append(f"{slip} in {sample}: {code} not in {sorted(codes)}")
    for slip in NATIVE:
        code, codes = caught_natively(slip, tmp_path / "own" / re.sub(r"\W", "-", slip))
        if code not in codes:
            missed.append(f"{slip} in {NATIVE[slip][0]}: {code} not in {sorted(codes)}")
    total = len(CASES) + len(NATIVE)
    clean = [seen(SAMPLES / name) for name in NAMES] + [seen(laid_out(n, tmp_path / f"c-{n}").path) for n in NAMES]
    alarms = sum(bool(found) for found in clean)
    with capsys.disabled():
        print(f"\ndoctor: {total - len(missed)} of {total} wrong inputs caught under their code, "
              f"{alarms} of {len(clean)} clean inputs with a false alarm")  # fmt: skip

    assert 60 <= total
    assert missed == []
    assert 0 == alarms
