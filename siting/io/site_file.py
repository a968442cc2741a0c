"""`site.toml`: what somebody says of a site beside its files."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

from siting.doctor.places import NEAR_KM, Near
from siting.errors import Fault, InputError
from siting.io.accuracy import EXACT, RECEIVER_LEVEL
from siting.io.faults import refuse
from siting.io.plan import Control
from siting.io.stated import Stated
from siting.io.toml_table import TomlTable, is_number
from siting.kinds import UNKNOWN, folded, vocabulary
from siting.site import STALE_AFTER_YEARS, Ground, Request, Survey
from siting.uncertainty import DEFAULT_CONFIDENCE
from siting.usual import USUAL, checked

SECTORS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")
MOST_PERCENT = 101.0
"Percentages rounded one by one may add up to a little more than the whole."


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFile:
    """The contents of a `site.toml`, checked; files are named, not yet read."""

    name: str | None
    rules: tuple[str, ...]
    confidence: float
    crs: str | None
    survey: Survey
    absent: Mapping[str, str]
    sources: tuple[Stated, ...]
    requests: tuple[Request, ...]
    ground: Ground
    levels_file: str | None
    spot_heights_file: str | None
    wind_from_percent: Mapping[str, float]
    accept: tuple[str, ...] = ()
    "Findings of the doctor that somebody accepts."
    near: Near | None = None
    "Where the facility is by other knowledge than its survey."


def parsed(text: str, *, file: str) -> SiteFile:
    """The contents of a `site.toml`; raises every fault of it at once."""
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"at line (\d+)", str(error))
        raise InputError.of(
            f"not TOML: {error}",
            needed='lines such as name = "Marula Ridge"',
            do_next="correct that line; text needs quotation marks, dates and numbers none",
            file=file,
            row=int(line[1]) if line else None,
        ) from None
    faults: list[Fault] = []
    top = TomlTable(values, path="", file=file, faults=faults)
    ground = top.table("ground")
    site = SiteFile(
        name=top.text("name"),
        rules=top.texts("rules"),
        confidence=top.number("confidence", above=0.5, below=1.0) or DEFAULT_CONFIDENCE,
        crs=top.text("crs"),
        survey=_survey(top.table("surveyed")),
        absent=_absent(top.table("absent")),
        sources=tuple(source for table in top.tables("source") if (source := _source(table))),
        requests=tuple(request for table in top.tables("place") if (request := _request(table))),
        levels_file=ground.text("levels"),
        spot_heights_file=ground.text("spot_heights"),
        ground=_ground(ground),
        wind_from_percent=_wind(top.table("wind")),
        accept=top.texts("accept"),
        near=_near(top.table("near")),
    )
    _named_once(site.sources, top)
    top.close()
    if faults:
        refuse(faults)
    return site


def _survey(table: TomlTable) -> Survey:
    survey = Survey(
        on=table.day("on"),
        by=table.text("by") or "",
        radius_m=table.number("radius_m", at_least=0),
        stale_after_years=table.number("stale_after_years", above=0) or STALE_AFTER_YEARS,
    )
    table.close()
    return survey


def _near(table: TomlTable) -> Near | None:
    lat, lon = table.number("lat", at_least=-90, at_most=90), table.number("lon", at_least=-180, at_most=180)
    within_km = table.number("within_km", above=0) or NEAR_KM
    if (lat is None) != (lon is None):
        table.blame(table.path, dict(table.values), needed="lat and lon, both in degrees")
    table.close()
    return None if lat is None or lon is None else Near(lon=lon, lat=lat, within_km=within_km)


def _kind(table: TomlTable, key: str, word: object, *, groups: bool = False) -> str | None:
    """The kind (or group) a word means; a fault where it means none."""
    known = vocabulary()
    if isinstance(word, str):
        if groups and folded(word) in known.groups:
            return folded(word)
        kind = known.recognise(word)
        if kind != UNKNOWN:
            return kind
    nearest = known.nearest(word) if isinstance(word, str) else ()
    table.blame(
        table.named(key),
        word,
        needed="a known kind" + (" or group of kinds" if groups else ""),
        do_next=f"write one of {', '.join(nearest)}" if nearest else "look the kinds up in the documentation",
    )
    return None


def _absent(table: TomlTable) -> dict[str, str]:
    said = {}
    for word in table.values:
        statement = table.text(word)
        name = _kind(table, word, word, groups=True)
        if statement and name:
            said[name] = statement
    return said


def _source(table: TomlTable) -> Stated | None:
    file = table.text("file")
    if file is None:
        table.blame(table.named("file"), "", needed="the name of a file beside site.toml")
    radius = table.values.get("accuracy_m")
    accuracy: float | str | None
    if isinstance(radius, str) and radius.strip().lower() == EXACT:
        accuracy = EXACT
        table.raw("accuracy_m")
    else:
        # zero or less stands for unknown in what receivers write, so it is no accuracy here either
        held = table.number("accuracy_m")
        accuracy = held if held is not None and held > 0 else None
    word = table.text("kind")
    kinds = table.table("kinds")
    mapped = {folded(key): kind for key, value in kinds.values.items() if (kind := _kind(kinds, key, value))}
    stated = Stated(
        file=file or "",
        accuracy_m=accuracy,
        accuracy_level=table.number("accuracy_level", above=0, below=1),
        crs=table.text("crs"),
        kind=_kind(table, "kind", word) if word else None,
        kinds=mapped,
        unit=table.text("unit"),
        known_length=_known_length(table),
        control=tuple(point for each in table.tables("control") if (point := _control(each))),
    )
    _for_drawings(table, stated)
    table.close()
    return stated if file else None


def _known_length(table: TomlTable) -> tuple[float, float] | None:
    if "known_length" not in table.values:
        # asked for, so that it is among the keys that are known
        table.raw("known_length")
        return None
    inner = table.table("known_length")
    drawn, metres = inner.number("drawn", above=0), inner.number("metres", above=0)
    for key in ("drawn", "metres"):
        if key not in inner.values:
            inner.blame(inner.named(key), "", needed="{ drawn = 12000, metres = 12.0 }")
    inner.close()
    return None if drawn is None or metres is None else (drawn, metres)


def _control(table: TomlTable) -> Control | None:
    plan = table.pair("plan", needed="[x, y] in drawing units")
    lonlat = table.pair("lonlat", needed="[longitude, latitude] in degrees, WGS 84")
    point = Control(
        plan=plan or (0.0, 0.0),
        lonlat=lonlat or (0.0, 0.0),
        name=table.text("name") or "",
        accuracy_m=table.number("accuracy_m", above=0),
        accuracy_level=table.number("accuracy_level", above=0, below=1) or RECEIVER_LEVEL,
    )
    table.close()
    return point if plan and lonlat else None


def _for_drawings(table: TomlTable, stated: Stated) -> None:
    """Blame what only a drawing has, and a place on earth that is given twice."""
    given = [key for key in ("unit", "known_length", "control") if key in table.values]
    if given and stated.file and not stated.file.lower().endswith(".dxf"):
        table.blame(
            table.named(given[0]),
            stated.file,
            needed="a DXF drawing where unit, known_length or control are given",
            do_next=f"remove {', '.join(given)}, or correct the name of the file",
        )
    if stated.crs and stated.control:
        table.blame(
            table.named("crs"),
            stated.crs,
            needed="either the crs of the drawing's own grid or control points, not both",
            do_next="remove the crs if the drawing has a grid of its own, else the control points",
        )


def _named_once(sources: tuple[Stated, ...], top: TomlTable) -> None:
    names = [source.file for source in sources]
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            top.blame("file", name, needed="one [[source]] for each file", do_next="put what is said of it together")


def _request(table: TomlTable) -> Request | None:
    word = table.raw("kind")
    kind = _kind(table, "kind", word) if word is not None else None
    if word is None:
        table.blame(table.named("kind"), "", needed="the kind of installation that is wanted")
    request = Request(
        kind=kind or UNKNOWN,
        births_per_day=table.number("births_per_day", above=0),
        users=table.number("users", above=0),
        serve_from=table.text("serve_from"),
        keep_reserve=table.flag("keep_reserve"),
        pit_diameter_m=table.number("pit_diameter_m", above=0),
        pit_m=table.sizes("pit_m"),
        pit_depth_m=table.number("pit_depth_m", above=0),
        wall_m=table.number("wall_m", above=0),
        enclosure_m=table.sizes("enclosure_m"),
        orientation_deg=table.number("orientation_deg", at_least=0, at_most=360),
        attributes=table.free("attributes"),
    )
    _usual(table, births_per_day=request.births_per_day, users=request.users, wall_m=request.wall_m)
    _usual(table, pit_diameter_m=request.pit_diameter_m, pit_depth_m=request.pit_depth_m)
    for name, sizes in (("pit_m", request.pit_m), ("enclosure_m", request.enclosure_m)):
        for size_m in sizes or ():
            # The key is blamed once, though both of its numbers may be odd.
            if _usual(table, **{name: size_m}):
                break
    _usual(table.table("attributes"), **{n: v for n, v in request.attributes.items() if isinstance(v, float)})
    table.close()
    return request


def _ground(table: TomlTable) -> Ground:
    ground = Ground(
        highest_water_depth_m=table.number("highest_water_depth_m", at_least=0),
        water_depth_sigma_m=table.number("water_depth_sigma_m", at_least=0),
        dry_season_water_depth_m=table.number("dry_season_water_depth_m", at_least=0),
        levels_season=table.text("levels_season") or "",
        material=table.text("material"),
        conductivity_m_per_day=table.number("conductivity_m_per_day", above=0),
        porosity=table.number("porosity", above=0),
        height_sigma_m=table.number("height_sigma_m", at_least=0),
        attributes=table.free("attributes"),
    )
    _usual(table, conductivity_m_per_day=ground.conductivity_m_per_day, porosity=ground.porosity)
    table.close()
    return ground


def _usual(table: TomlTable, **values: float | None) -> bool:
    """Blame every value outside the usual range of its quantity, with the readings that would fit; true if any is."""
    blamed = False
    for name, value in values.items():
        if value is None or name not in USUAL:
            continue
        try:
            checked(name, value)
        except InputError as error:
            told, blamed = error.faults[0], True
            do_next = f"correct the value: {told.do_next}"
            table.blame(table.named(name), table.values[name], needed=told.needed, do_next=do_next)
    return blamed


def _wind(table: TomlTable) -> dict[str, float]:
    rose = table.table("from")
    calm = table.number("calm", at_least=0, at_most=100)
    table.close()
    percent: dict[str, float] = {}
    for sector, value in rose.values.items():
        if sector.upper() not in SECTORS:
            rose.blame(rose.named(sector), value, needed=f"one of the sectors {' '.join(SECTORS)}")
        elif not is_number(value) or not 0 <= value <= 100:
            rose.blame(rose.named(sector), value, needed="percent of all hours, 0 to 100")
        else:
            percent[sector.upper()] = float(value)
    if calm is not None:
        percent["calm"] = calm
    if sum(percent.values()) > MOST_PERCENT:
        rose.blame(rose.path, f"{sum(percent.values()):g} percent in all", needed="100 percent or less, calm included")
    return percent
