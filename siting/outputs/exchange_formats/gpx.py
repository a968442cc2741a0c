"""GPX 1.1 for receivers: waypoints for points, tracks for lines and outlines; ground and zones are left to others."""

from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from siting.frame import Frame
from siting.outputs.exchange_formats.geojson import DIGITS, in_degrees
from siting.outputs.exchange_formats.items import Item
from siting.outputs.exchange_formats.markup import tag_name, text

OWN = "urn:siting:1"
"Namespace of the extensions."
_LEFT_OUT = ("ground", "zones")


def written(items: Sequence[Item], frame: Frame) -> bytes:
    """Waypoints first, then tracks, as the schema wants them; properties as extensions."""
    points: list[str] = []
    tracks: list[str] = []
    for item in items:
        if item.layer in _LEFT_OUT:
            continue
        moved = in_degrees(item.geometry, frame)
        if moved.geom_type in ("Point", "MultiPoint"):
            points += [f"<wpt {_at(lon, lat)}>{_about(item)}</wpt>\n" for lon, lat in shapely.get_coordinates(moved)]
        else:
            tracks += [f"<trk>{_about(item)}{''.join(_segments(moved))}</trk>\n"]
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="siting" '
        f'xmlns="http://www.topografix.com/GPX/1/1" xmlns:s="{OWN}">\n{"".join(points)}{"".join(tracks)}</gpx>\n'
    ).encode()


def _at(lon: float, lat: float) -> str:
    return f'lat="{lat:.{DIGITS}f}" lon="{lon:.{DIGITS}f}"'


def _about(item: Item) -> str:
    kind = f"<type>{text(item.properties['kind'])}</type>" if "kind" in item.properties else ""
    held = "".join(
        f"<s:{tag_name(key)}>{text(value)}</s:{tag_name(key)}>"
        for key, value in item.properties.items()
        if key != "name" and value != ""
    )
    return f"<name>{text(item.name)}</name>{kind}<extensions>{held}</extensions>"


def _segments(geometry: BaseGeometry) -> Iterator[str]:
    for part in shapely.get_parts(geometry):
        for ring in (part.exterior, *part.interiors) if isinstance(part, Polygon) else (part,):
            places = "".join(f"<trkpt {_at(lon, lat)}/>" for lon, lat in shapely.get_coordinates(ring))
            yield f"<trkseg>{places}</trkseg>"
