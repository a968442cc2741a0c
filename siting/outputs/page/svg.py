"""Pieces of an SVG drawing in metres, x east and y south."""

from html import escape

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from siting.outputs.page.symbols import INK


def path(geometry: BaseGeometry) -> str:
    """A line or an area as SVG path data, north up, to the centimetre."""
    parts = []
    for part in shapely.get_parts(geometry):
        rings = [part.exterior, *part.interiors] if isinstance(part, Polygon) else [part]
        close = "Z" if isinstance(part, Polygon) else ""
        for ring in rings:
            if isinstance(ring, LineString):
                xy = shapely.get_coordinates(ring)[: -1 if close else None]
                parts.append("M" + "L".join(f"{x:.2f} {-y:.2f}" for x, y in xy) + close)
    return "".join(parts)


def text(
    x: float, y: float, words: str, *, size: float, bold: bool = False, anchor: str = "start", colour: str = INK
) -> str:
    """Words that stay readable over lines."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.3f}" text-anchor="{anchor}"{weight} fill="{colour}" '
        f'stroke="#fff" stroke-width="{0.22 * size:.3f}" paint-order="stroke" stroke-linejoin="round">'
        f"{escape(words)}</text>"
    )
