"""GeoJSON (RFC 7946): WGS 84, longitude first, a feature an item."""

import json
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.frame import Frame
from siting.outputs.exchange_formats.items import Item

DIGITS = 9
"A tenth of a millimetre."


def written(items: Sequence[Item], frame: Frame) -> bytes:
    """The items as a FeatureCollection, keys in a fixed order."""
    several = len({item.layer for item in items}) > 1
    held = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": json.loads(shapely.to_geojson(in_degrees(item.geometry, frame))),
                "properties": {"name": item.name, **item.properties, **({"layer": item.layer} if several else {})},
            }
            for item in items
        ],
    }
    return (json.dumps(held, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode()


def in_degrees(geometry: BaseGeometry, frame: Frame) -> BaseGeometry:
    """A geometry of the plane in longitude and latitude; rings turn as RFC 7946 wants them."""
    moved = frame.geometry_to_world(shapely.force_2d(geometry))
    turned = shapely.orient_polygons(moved, exterior_cw=False)
    return shapely.transform(turned, lambda xy: np.round(xy, DIGITS) + 0.0)
