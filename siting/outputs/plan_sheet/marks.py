"""Lines and letters on paper, in millimetres, black on white; and room for letters that keep clear of one another."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape
from math import cos, hypot, radians, sin

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

BLACK = "#000"
FONTS = "'Libertinus Serif', 'Linux Libertine', Georgia, 'Times New Roman', serif"
LETTER_WIDTH = 0.44
"Of the height of the text, on the average of the sheet's own font."
BOLD_WIDER = 1.08

Point2 = tuple[float, float]


def path_data(geometry: BaseGeometry) -> str:
    """A line or an area on the paper as SVG path data, to a thousandth of a millimetre."""
    parts = []
    for part in shapely.get_parts(geometry):
        close = "Z" if isinstance(part, Polygon) else ""
        rings = [part.exterior, *part.interiors] if isinstance(part, Polygon) else [part]
        for ring in rings:
            if isinstance(ring, LineString):
                xy = shapely.get_coordinates(ring)[: -1 if close else None]
                parts.append("M" + "L".join(f"{number(x)} {number(y)}" for x, y in xy) + close)
    return "".join(parts)


def number(value: float) -> str:
    """A length on the paper, as short as a thousandth of a millimetre allows.

    >>> number(12.0), number(-0.0001), number(3.14159)
    ('12', '0', '3.142')
    """
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")


def outline(geometry: BaseGeometry, *, weight_mm: float, dash: str = "", fill: str = "none") -> str:
    """A line, or an area with its edge; nothing for nothing."""
    data = path_data(geometry)
    if not data:
        return ""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="{data}" fill="{fill}" fill-rule="evenodd" stroke="{BLACK}" stroke-width="{number(weight_mm)}"'
        f"{dashes}/>"
    )


def line(start: Point2, end: Point2, *, weight_mm: float = 0.18, dash: str = "") -> str:
    """A straight line."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{number(start[0])} {number(start[1])}L{number(end[0])} {number(end[1])}" fill="none" '
        f'stroke="{BLACK}" stroke-width="{number(weight_mm)}"{dashes}/>'
    )


def text(
    x: float, y: float, words: str, *, size_mm: float, bold: bool = False, anchor: str = "start",
    turned_deg: float = 0.0, halo: bool = False, italic: bool = False,
) -> str:  # fmt: skip
    """Words that start, end or are centred at a place; `halo` keeps lines behind them off the letters."""
    more = ' font-weight="bold"' if bold else ""
    more += ' font-style="italic"' if italic else ""
    more += f' text-anchor="{anchor}"' if anchor != "start" else ""
    turn = f' transform="rotate({number(turned_deg)} {number(x)} {number(y)})"' if turned_deg else ""
    behind = ""
    if halo:
        # A white card: a white edge round the letters is drawn letter by letter and eats its left neighbour.
        wide = width_mm(words, size_mm, bold=bold) * 1.02
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * wide
        behind = (
            f'<rect x="{number(left)}" y="{number(y - 0.75 * size_mm)}" width="{number(wide)}" '
            f'height="{number(0.95 * size_mm)}" fill="#fff" fill-opacity="0.85"{turn}/>'
        )
    return (
        f'{behind}<text x="{number(x)}" y="{number(y)}" font-size="{number(size_mm)}"{more}{turn}>'
        f"{escape(words)}</text>"
    )


def width_mm(words: str, size_mm: float, *, bold: bool = False) -> float:
    """About how wide words are."""
    wide = sum(1.5 if c in "mwMW@%" else 1.25 if c.isupper() or ord(c) > 0x2E80 else 1.0 for c in words)
    return LETTER_WIDTH * size_mm * wide * (BOLD_WIDER if bold else 1.0)


def wrapped(words: str, *, wide_mm: float, size_mm: float, most: int = 99) -> list[str]:
    """Lines no wider than a column; what does not fit into `most` lines ends with an ellipsis."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, size_mm) <= wide_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], cut(" ".join(lines[most - 1 :]), wide_mm=wide_mm, size_mm=size_mm)]


def cut(words: str, *, wide_mm: float, size_mm: float) -> str:
    """Words that fit into a cell, ending with an ellipsis where some are left out."""
    if width_mm(words, size_mm) <= wide_mm:
        return words
    while words and width_mm(words + "…", size_mm) > wide_mm:
        words = words[:-1]
    return words.rstrip() + "…"


@dataclass(slots=True)
class Room:
    """Where letters stand already, so that the next ones keep clear of them."""

    within: Polygon
    taken: list[Polygon] = field(default_factory=list)

    def take(self, area: BaseGeometry) -> None:
        """Keep letters off an area."""
        self.taken += [part for part in shapely.get_parts(area) if isinstance(part, Polygon)]

    def fits(self, area: Polygon) -> bool:
        """Whether an area lies in the field and clear of everything there."""
        if not self.within.contains(area):
            return False
        return not (self.taken and bool(shapely.intersects(np.array(self.taken, dtype=object), area).any()))

    def first(self, areas: Iterable[Polygon]) -> int | None:
        """The number of the first area that fits, which is then taken; None where none does."""
        for index, area in enumerate(areas):
            if self.fits(area):
                self.taken.append(area)
                return index
        return None


def letters_box(
    x: float, y: float, words: str, *, size_mm: float, anchor: str = "start", turned_deg: float = 0.0,
    bold: bool = False,
) -> Polygon:  # fmt: skip
    """The area that words cover, `y` being the line they stand on."""
    wide = width_mm(words, size_mm, bold=bold)
    left = {"start": 0.0, "middle": -wide / 2.0, "end": -wide}[anchor]
    corners = np.array([(left, -0.8), (left + wide, -0.8), (left + wide, 0.25), (left, 0.25)])
    corners[:, 1] *= size_mm
    c, s = cos(radians(turned_deg)), sin(radians(turned_deg))
    return Polygon(corners @ np.array([[c, s], [-s, c]]) + (x, y))


def readable_deg(start: Point2, end: Point2) -> float:
    """How far words along a line are turned so that nobody has to stand on the head, -90 to 90."""
    angle = float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])))
    return angle - 180.0 if angle > 90.0 else angle + 180.0 if angle <= -90.0 else angle


def beside(start: Point2, end: Point2, *, along: float, off_mm: float) -> Point2:
    """A place beside a line: `along` of the way from its start, `off_mm` above it as the reader sees it."""
    turn = radians(readable_deg(start, end))
    x = start[0] + (end[0] - start[0]) * along + sin(turn) * off_mm
    y = start[1] + (end[1] - start[1]) * along - cos(turn) * off_mm
    return x, y


def length_mm(start: Point2, end: Point2) -> float:
    """From one point of the paper to another."""
    return hypot(end[0] - start[0], end[1] - start[1])
