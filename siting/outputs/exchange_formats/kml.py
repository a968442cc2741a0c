"""KML 2.2: a folder a layer, properties as untyped data."""

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from siting.frame import Frame
from siting.outputs.exchange_formats.geojson import DIGITS, in_degrees
from siting.outputs.exchange_formats.items import Item
from siting.outputs.exchange_formats.markup import attribute, text


def written(items: Sequence[Item], frame: Frame) -> bytes:
    """The items as placemarks, outlines without fill so that the ground shows."""
    folders = "".join(
        f"<Folder><name>{text(layer)}</name>\n"
        + "".join(_placemark(item, frame) for item in items if item.layer == layer)
        + "</Folder>\n"
        for layer in dict.fromkeys(item.layer for item in items)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">\n<Document>\n'
        '<Style id="line"><LineStyle><width>2</width></LineStyle><PolyStyle><fill>0</fill></PolyStyle></Style>\n'
        f"{folders}</Document>\n</kml>\n"
    ).encode()


def _placemark(item: Item, frame: Frame) -> str:
    data = "".join(
        f"<Data name={attribute(key)}><value>{text(value)}</value></Data>" for key, value in item.properties.items()
    )
    return (
        f"<Placemark><name>{text(item.name)}</name><styleUrl>#line</styleUrl>"
        f"<ExtendedData>{data}</ExtendedData>{_geometry(in_degrees(item.geometry, frame))}</Placemark>\n"
    )


def _geometry(geometry: BaseGeometry) -> str:
    parts = [_part(part) for part in shapely.get_parts(geometry)]
    return parts[0] if len(parts) == 1 else f"<MultiGeometry>{''.join(parts)}</MultiGeometry>"


def _part(part: BaseGeometry) -> str:
    if isinstance(part, Point):
        return f"<Point><coordinates>{_places(part)}</coordinates></Point>"
    if isinstance(part, Polygon):
        outer = f"<outerBoundaryIs>{_ring(part.exterior)}</outerBoundaryIs>"
        return f"<Polygon>{outer}{''.join(_inner(part.interiors))}</Polygon>"
    return f"<LineString><tessellate>1</tessellate><coordinates>{_places(part)}</coordinates></LineString>"


def _inner(rings: Iterable[LineString]) -> Iterable[str]:
    return (f"<innerBoundaryIs>{_ring(ring)}</innerBoundaryIs>" for ring in rings)


def _ring(ring: BaseGeometry) -> str:
    return f"<LinearRing><coordinates>{_places(ring)}</coordinates></LinearRing>"


def _places(line: BaseGeometry) -> str:
    return " ".join(f"{lon:.{DIGITS}f},{lat:.{DIGITS}f}" for lon, lat in shapely.get_coordinates(line))
