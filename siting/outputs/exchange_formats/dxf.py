"""DXF for drawing programs and total stations: metres of the site's own plane, a layer a kind, closed polylines.

Points are inserts of a block with all that is known of them as attributes; outlines are closed polylines with their
name as writing beside them, and nothing else: what a drawing cannot say of an outline (accuracy, status, depth) is in
the other formats.
The layer CONTROL holds four points with their latitude and longitude, and the plane as PROJ text, so that the drawing
can be put on the ground anywhere.
"""

import io
import re
from collections.abc import Sequence
from importlib import import_module
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from siting.errors import OutputError
from siting.frame import Frame
from siting.outputs.exchange_formats.items import Item

VERSION = "R2010"
METRES = 6
"$INSUNITS of a drawing in metres."
LETTERS_M = 0.8
BLOCK = "SITE_POINT"
TAGS = ("NAME", "KIND", "STATUS", "ACCURACY_M", "ACCURACY_LEVEL", "RADIUS_M", "SEEN_ON")


def written(items: Sequence[Item], frame: Frame) -> bytes:
    """The items as a drawing in true metres.

    Raises OutputError where the extra [dxf] is not installed.
    """
    try:
        # As a value: the library does not say which of its names are meant for others.
        ezdxf: Any = import_module("ezdxf")
    except ImportError:
        raise OutputError.of(
            "a drawing cannot be written: the library for DXF is not installed",
            needed="the extra [dxf]",
            do_next="pip install 'siting[dxf]', or export another format",
        ) from None
    before = ezdxf.options.write_fixed_meta_data_for_testing
    # Dates and identifiers of a drawing are made up at random otherwise: the same input has to give the same bytes.
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        made = ezdxf.new(VERSION, units=METRES)
        _block(made)
        space = made.modelspace()
        for item in items:
            _draw(item, made, space)
        _control(items, frame, made, space)
        stream = io.StringIO()
        made.write(stream)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return stream.getvalue().encode(made.output_encoding, errors="dxfreplace")


def layer_of(item: Item) -> str:
    """The layer of an item: its kind where it is a feature of the site, else what it is part of."""
    words = str(item.properties.get("kind") or item.layer)
    if item.layer != "site":
        words = f"plan {item.layer} {item.properties.get('outline', '')}"
        if item.layer in ("zones", "ground"):
            words = f"plan {item.layer} {item.name}"
    plain = re.sub(r"[^0-9A-Za-z\u00c0-\uffff]+", "-", words).strip("-").upper()
    return plain[:200] or "UNKNOWN"


def _layer(made: Any, name: str) -> str:
    if name not in made.layers:
        made.layers.add(name)
    return name


def _block(made: Any) -> None:
    """A cross half a metre wide; its attributes say what stands there."""
    block = made.blocks.new(BLOCK)
    for start, end in (((-0.25, 0.0), (0.25, 0.0)), ((0.0, -0.25), (0.0, 0.25))):
        block.add_line(start, end)
    for index, tag in enumerate(TAGS):
        block.add_attdef(tag, (0.4, -0.4 * index), dxfattribs={"height": 0.3, "flags": 0 if tag == "NAME" else 1})


def _draw(item: Item, made: Any, space: Any) -> None:
    layer = _layer(made, layer_of(item))
    for part in shapely.get_parts(item.geometry):
        if isinstance(part, Point):
            _point(item, part, layer, space)
        elif isinstance(part, Polygon):
            _line(part.exterior, layer, space, close=True)
            for hole in part.interiors:
                _line(hole, _layer(made, f"{layer}-HOLE"), space, close=True)
        else:
            _line(part, layer, space, close=False)
    if item.geometry.geom_type != "Point" and item.layer == "site":
        at = shapely.point_on_surface(item.geometry)
        space.add_text(item.name, height=LETTERS_M, dxfattribs={"layer": layer}).set_placement((at.x, at.y))


def _point(item: Item, point: Point, layer: str, space: Any) -> None:
    insert = space.add_blockref(BLOCK, (point.x, point.y), dxfattribs={"layer": layer})
    held = {key.upper(): str(value) for key, value in item.properties.items()} | {"NAME": item.name}
    insert.add_auto_attribs({tag: held[tag] for tag in TAGS if held.get(tag)})
    for tag in sorted(held.keys() - set(TAGS)):
        more = insert.add_attrib(re.sub(r"[^0-9A-Z_]", "_", tag), held[tag], (point.x, point.y))
        more.is_invisible = True


def _line(line: BaseGeometry, layer: str, space: Any, *, close: bool) -> None:
    xy = shapely.get_coordinates(line)
    space.add_lwpolyline(xy[:-1] if close else xy, close=close, dxfattribs={"layer": layer})


def _control(items: Sequence[Item], frame: Frame, made: Any, space: Any) -> None:
    if not frame.on_earth or not items:
        return
    layer = _layer(made, "CONTROL")
    west, south, east, north = shapely.total_bounds(np.array([item.geometry for item in items], dtype=object))
    corners = np.array([(west, south), (east, south), (east, north), (west, north)])
    for (x, y), (lon, lat) in zip(corners.tolist(), frame.to_world(corners).tolist(), strict=True):
        space.add_point((x, y), dxfattribs={"layer": layer})
        words = f"{lat:.8f} {lon:.8f}"
        space.add_text(words, height=LETTERS_M, dxfattribs={"layer": layer}).set_placement((x, y))
    words = proj(frame)
    space.add_text(words, height=LETTERS_M, dxfattribs={"layer": layer}).set_placement((west, south - 3.0))


def proj(frame: Frame) -> str:
    """The plane of the drawing as PROJ text with its datum, to be given as the crs of the file."""
    return f"+proj=tmerc +lat_0={frame.lat:.12g} +lon_0={frame.lon:.12g} +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m"
