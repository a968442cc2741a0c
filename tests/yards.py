"""Small yards written as files, one for every answer a site can get, in a scenario of nobody's.

Each is a fenced plot of 100 m by 80 m with its south-west corner at (0, 0) of a plane centred nearby.
A well of radius 0.6 m stands at (10, 10); a latrine of radius 0.75 m stands east of it.
"""

import json
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Point, box

from siting.frame import Frame

CENTRE = Frame(lon=34.1, lat=-13.98)
WELL_RADIUS_M = 0.6
LATRINE_RADIUS_M = 0.75

CODE = """
id = "yard-code"
title = "Code of an invented district"
edition = "1"

[document.code]
title = "Code of an invented district"
publisher = "an invented district"
year = 2020
url = ""
read = "project judgement"

[[rule]]
id = "latrine-to-well"
for = ["pit latrine", "placenta pit"]
from = ["well"]
measure = "distance"
at_least_m = 30
outline = "pit"
strength = "must"
cite = { document = "code", clause = "1", says = "thirty metres from any well" }

[[rule]]
id = "latrine-to-ward"
for = ["pit latrine", "placenta pit"]
from = ["ward"]
measure = "distance"
at_least_m = 12
at_most_m = 60
where_marked = true
outline = "enclosure"
strength = "should"
cite = { document = "code", clause = "2", says = "twelve to sixty metres from a ward" }
"""


def feature(kind, name, geometry, **properties):
    """One GeoJSON feature from a geometry on the plane; exact unless told otherwise."""
    lonlat = CENTRE.geometry_to_world(geometry)
    rounded = shapely.transform(lonlat, lambda xy: np.round(xy, 9))
    return {
        "type": "Feature",
        "properties": {"kind": kind, "name": name, **properties},
        "geometry": json.loads(shapely.to_geojson(rounded)),
    }


def collection(*features):
    """The text of a GeoJSON file."""
    return json.dumps({"type": "FeatureCollection", "features": list(features)})


def fence(width_m=100.0, height_m=80.0):
    """The boundary of a yard."""
    return feature("boundary", "Fence", box(0.0, 0.0, width_m, height_m))


def well(name="Well", x_m=10.0, y_m=10.0):
    """A well."""
    return feature("well", name, Point(x_m, y_m), radius_m=WELL_RADIUS_M)


def latrine(gap_m, name="Latrine"):
    """A latrine whose nearest edge lies `gap_m` east of the well's."""
    x_m = 10.0 + WELL_RADIUS_M + gap_m + LATRINE_RADIUS_M
    return feature("pit latrine", name, Point(x_m, 10.0), radius_m=LATRINE_RADIUS_M)


def ward(name="Ward"):
    """A ward of 10 m by 8 m in the north-west."""
    return feature("ward", name, box(5.0, 60.0, 15.0, 68.0))


def write(folder: Path, *features, accuracy='accuracy_m = "exact"', name="Yard", more="") -> Path:
    """A folder with its `site.toml`, its code and one file of features."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "yard-code.toml").write_text(CODE)
    (folder / "yard.geojson").write_text(collection(*features), encoding="utf-8")
    (folder / "site.toml").write_text(
        f'name = {json.dumps(name)}\nrules = ["yard-code.toml"]\n{more}\n'
        f'[surveyed]\nradius_m = 60\n[[source]]\nfile = "yard.geojson"\n{accuracy}\n',
        encoding="utf-8",
    )
    return folder


PHONE = "accuracy_m = 5\naccuracy_level = 0.68"


def meeting(folder: Path) -> Path:
    """Everything recorded, everything far enough."""
    return write(folder, fence(), well(), latrine(40.0))


def failing(folder: Path) -> Path:
    """The latrine stands 20 m from the well."""
    return write(folder, fence(), well(), latrine(20.0), ward())


def close(folder: Path) -> Path:
    """The latrine stands 31 m from the well, walked with a phone."""
    return write(folder, fence(), well(), latrine(31.0), accuracy=PHONE)


def unlooked(folder: Path) -> Path:
    """Nobody recorded a well, and nobody says that there is none."""
    return write(folder, fence(), latrine(40.0))


def cramped(folder: Path) -> Path:
    """A plot of 20 m by 20 m with a well in it: no place for a pit."""
    return write(folder, fence(20.0, 20.0), well())


def assessed(site: Path, *, kind: str | None = None):
    """The assessment of a yard, as the commands make it."""
    from siting.assess import assess
    from siting.cli.options import read
    from siting.kinds import vocabulary
    from siting.site import Request
    from siting.sizes import size

    model, packs = read(site, (), None)
    if kind is None:
        return assess(model, packs, vocabulary())
    request = Request(kind=kind)
    return assess(model, packs, vocabulary(), request=request, size=size(request), count=2)
