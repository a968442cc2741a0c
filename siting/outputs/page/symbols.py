"""How a kind of feature is drawn: by letter, shape, hatch and line, so that a photocopy still tells them apart.

Colours only help; nothing is told by colour alone.
"""

from dataclasses import dataclass

from siting.kinds import BOUNDARY, Kind, vocabulary

INK = "#22282b"
WATER = "#1b4f72"
WASTE = "#7c2f1b"
HOUSE = "#4d4a45"
GROUND = "#2d6048"
QUIET = "#6d675d"


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """One class of features on the map and in its key."""

    key: str
    label: str
    letter: str
    shape: str
    "Of a point: circle, square, diamond, triangle, hexagon."
    colour: str
    hatch: str = ""
    "Of an area: the name of a pattern; empty leaves it open."
    dash: str = ""
    "Of a line, in pixels on and off."
    weight: float = 1.4


SYMBOLS = (
    Symbol(key="boundary", label="boundary of the grounds", letter="", shape="square", colour=INK, dash="16 4 2 4",
           weight=2.6),
    Symbol(key="source", label="well, borehole, spring", letter="W", shape="circle", colour=WATER, hatch="rings"),
    Symbol(key="stored", label="tank or tap", letter="T", shape="circle", colour=WATER, hatch="rings"),
    Symbol(key="surface", label="open water", letter="~", shape="hexagon", colour=WATER, hatch="waves", weight=2.0),
    Symbol(key="drain", label="drain", letter="D", shape="hexagon", colour=WATER, dash="8 3 1 3"),
    Symbol(key="latrine", label="latrine", letter="L", shape="square", colour=WASTE, hatch="crosses"),
    Symbol(key="sewage", label="tank or soakaway for sewage", letter="S", shape="square", colour=WASTE,
           hatch="crosses"),
    Symbol(key="pit", label="pit or grave", letter="P", shape="diamond", colour=WASTE, hatch="crosses"),
    Symbol(key="burner", label="incinerator or burning place", letter="F", shape="triangle", colour=WASTE,
           hatch="crosses"),
    Symbol(key="beds", label="building where people sleep", letter="B", shape="square", colour=HOUSE, hatch="rising"),
    Symbol(key="food", label="kitchen or place for food", letter="K", shape="square", colour=HOUSE, hatch="lattice"),
    Symbol(key="occupied", label="building in use", letter="H", shape="square", colour=HOUSE, hatch="level"),
    Symbol(key="building", label="other building", letter="G", shape="square", colour=HOUSE, hatch="grey"),
    Symbol(key="public", label="where the public waits or gathers", letter="A", shape="hexagon", colour=HOUSE,
           hatch="dots"),
    Symbol(key="way", label="road, path, parking", letter="R", shape="hexagon", colour=QUIET, dash="12 4", weight=1.8),
    Symbol(key="gate", label="gate", letter="O", shape="diamond", colour=INK),
    Symbol(key="barrier", label="fence or wall", letter="I", shape="square", colour=QUIET, dash="1 4", weight=2.2),
    Symbol(key="zone", label="waste zone", letter="Z", shape="square", colour=WASTE, dash="3 3"),
    Symbol(key="service", label="buried pipe or cable", letter="U", shape="diamond", colour=INK, dash="2 3 8 3"),
    Symbol(key="plants", label="tree or crops", letter="V", shape="circle", colour=GROUND, hatch="tufts"),
    Symbol(key="excluded", label="ground to keep off", letter="X", shape="hexagon", colour=QUIET, hatch="falling",
           dash="6 3"),
    Symbol(key="landform", label="cut, rock, sinkhole", letter="Y", shape="triangle", colour=QUIET, hatch="falling"),
    Symbol(key="unknown", label="kind not recognised", letter="?", shape="hexagon", colour=INK, hatch="", dash="2 2"),
)  # fmt: skip
_BY_KEY = {symbol.key: symbol for symbol in SYMBOLS}

_BY_GROUP = (
    ("water source", "source"),
    ("water store", "stored"),
    ("water point", "stored"),
    ("surface water", "surface"),
    ("drain", "drain"),
    ("latrine", "latrine"),
    ("excreta pit", "latrine"),
    ("sewage system", "sewage"),
    ("greywater system", "sewage"),
    ("rainwater system", "sewage"),
    ("burner", "burner"),
    ("buried waste", "pit"),
    ("pit", "pit"),
    ("installation", "pit"),
    ("food place", "food"),
    ("sleeping place", "beds"),
    ("public area", "public"),
    ("occupied building", "occupied"),
    ("building", "building"),
    ("way", "way"),
    ("opening", "gate"),
    ("barrier", "barrier"),
    ("zone", "zone"),
    ("service", "service"),
    ("vegetation", "plants"),
    ("excluded land", "excluded"),
    ("landform", "landform"),
)
"The first group a kind belongs to decides."


def symbol_of(kind: str) -> Symbol:
    """How a kind is drawn; one that nobody knows is drawn as unknown."""
    if kind == BOUNDARY:
        return _BY_KEY["boundary"]
    known: Kind | None = vocabulary().kinds.get(kind)
    groups = known.groups if known else ()
    key = next((key for group, key in _BY_GROUP if group in groups), "unknown")
    return _BY_KEY[key]


OUTLINES = {
    "circle": "M8 0A8 8 0 1 1 -8 0A8 8 0 1 1 8 0Z",
    "square": "M-7 -7H7V7H-7Z",
    "diamond": "M0 -9.5L9.5 0L0 9.5L-9.5 0Z",
    "triangle": "M0 -10L9.5 7.5H-9.5Z",
    "hexagon": "M-8.5 0L-4.5 -7.5H4.5L8.5 0L4.5 7.5H-4.5Z",
}
"Shapes of points, drawn round the origin, about 17 units across."

HATCHES: dict[str, tuple[int, str]] = {
    "rings": (8, '<circle cx="4" cy="4" r="2" fill="none"/>'),
    "waves": (12, '<path d="M0 4Q3 1 6 4T12 4M0 10Q3 7 6 10T12 10" fill="none"/>'),
    "crosses": (8, '<path d="M2 2L6 6M6 2L2 6" fill="none"/>'),
    "rising": (6, '<path d="M-1 7L7 -1M-1 1L1 -1M5 7L7 5" fill="none"/>'),
    "falling": (10, '<path d="M-1 -1L11 11M-1 9L1 11M9 -1L11 1" fill="none"/>'),
    "lattice": (7, '<path d="M0 3.5H7M3.5 0V7" fill="none"/>'),
    "level": (7, '<path d="M0 3.5H7" fill="none"/>'),
    "grey": (4, '<path d="M0 0H4V4H0Z" stroke="none" fill-opacity="0.16"/>'),
    "dots": (7, '<circle cx="2" cy="2" r="0.9" stroke="none"/><circle cx="5.5" cy="5.5" r="0.9" stroke="none"/>'),
    "tufts": (12, '<path d="M3 6V2M1 3L3 6L5 3M9 12V8M7 9L9 12L11 9" fill="none"/>'),
    "ground": (14, '<path d="M-1 15L15 -1M-1 1L1 -1M13 15L15 13" fill="none"/>'),
    "ground-sure": (7, '<path d="M-1 8L8 -1M-1 1L1 -1M6 8L8 6" fill="none"/>'),
    "keep-out": (9, '<path d="M-1 -1L10 10M-1 8L1 10M8 -1L10 1" fill="none"/>'),
}
"Patterns of areas: the side of their tile, and what is drawn in it."


def pattern_id(prefix: str, hatch: str, colour: str) -> str:
    """The id of a pattern in one drawing."""
    return f"{prefix}-{hatch}-{colour.removeprefix('#')}"


def patterns(prefix: str, wanted: tuple[tuple[str, str], ...], *, scale: float) -> str:
    """SVG definitions of the hatches and colours wanted, `scale` user units to one pattern unit."""
    parts = []
    for hatch, colour in sorted(set(wanted)):
        side, drawn = HATCHES[hatch]
        parts.append(
            f'<pattern id="{pattern_id(prefix, hatch, colour)}" width="{side}" height="{side}" '
            f'patternUnits="userSpaceOnUse" patternTransform="scale({scale:.4f})">'
            f'<g stroke="{colour}" fill="{colour}" stroke-width="0.9">{drawn}</g></pattern>'
        )
    return f"<defs>{''.join(parts)}</defs>"
