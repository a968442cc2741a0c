"""A table of items: latitude and longitude of a point of each, and its whole outline as well-known text."""

import csv
import io
from collections.abc import Sequence

import shapely

from siting.frame import Frame
from siting.outputs.exchange_formats.geojson import DIGITS, in_degrees
from siting.outputs.exchange_formats.items import Item, Value
from siting.outputs.table import CSV_FORMULA_STARTS

_FIRST = ("kind", "name", "lat", "lon")


def written(items: Sequence[Item], frame: Frame) -> bytes:
    """UTF-8 with a byte-order mark, so that spreadsheets read accents; text never becomes a formula."""
    text = io.StringIO(newline="")
    keys = dict.fromkeys(key for item in items for key in item.properties if key not in _FIRST)
    writer = csv.writer(text)
    several = len({item.layer for item in items}) > 1
    writer.writerow([*(["layer"] if several else []), *_FIRST, *keys, "wkt"])
    for item in items:
        moved = in_degrees(item.geometry, frame)
        at = moved if moved.geom_type == "Point" else shapely.point_on_surface(moved)
        wkt = "" if moved.geom_type == "Point" else shapely.to_wkt(moved, rounding_precision=DIGITS)
        kind = item.properties.get("kind", "")
        words = [*([item.layer] if several else []), kind, item.name]
        place = [f"{float(shapely.get_y(at)):.{DIGITS}f}", f"{float(shapely.get_x(at)):.{DIGITS}f}"]
        more = [_plain(item.properties.get(key, "")) for key in keys]
        writer.writerow([*map(_plain, words), *place, *more, wkt])
    return text.getvalue().encode("utf-8-sig")


def _plain(value: Value) -> Value:
    if isinstance(value, bool):
        return str(value).lower()
    return "'" + value if isinstance(value, str) and value.startswith(CSV_FORMULA_STARTS) else value
