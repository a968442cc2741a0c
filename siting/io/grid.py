"""The grid that a site states for its coordinates, and places on it: the operation of reading, turned round."""

from pathlib import Path

import numpy as np
from pyproj import Transformer

from siting.io.crs import horizontal_crs, to_wgs84
from siting.io.records import WGS84
from siting.io.site_file import parsed

ROUNDS = 4
"The two operations differ by nearly the same step everywhere, so two rounds already settle below a millimetre."


def stated_grid(site: Path) -> str | None:
    """The grid that a folder's `site.toml` states for all its files or for one of them; None where it states none."""
    file = site / "site.toml" if site.is_dir() else site
    if file.name != "site.toml":
        return None
    said = parsed(file.read_text("utf-8-sig"), file=file.name)
    return next((crs for crs in (said.crs, *(s.crs for s in said.sources)) if crs and is_grid(crs)), None)


def is_grid(crs: str) -> bool:
    """Whether a CRS has lengths rather than degrees; raises InputError for an unknown one."""
    return bool(horizontal_crs(crs).is_projected)


def on_grid(crs: str, lonlat: np.ndarray) -> np.ndarray:
    """Places (n, 2) given as lon, lat on WGS 84 in a grid, in its own unit, east first.

    Raises DatumError where only a guess leads there.
    """
    near = Transformer.from_crs(WGS84, horizontal_crs(crs), always_xy=True)

    def roughly(places: np.ndarray) -> np.ndarray:
        return np.column_stack(near.transform(places[:, 0], places[:, 1]))

    found = roughly(lonlat)
    operation = to_wgs84(crs, found)
    for _ in range(ROUNDS):
        found = found + roughly(lonlat) - roughly(operation.to_lonlat(found))
    return found
