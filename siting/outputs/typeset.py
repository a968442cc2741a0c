"""PDF through typst: no system library, the same bytes for the same input, letters without a font reported."""

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec

from siting.errors import OutputError

BASE = set(map(chr, range(0x20, 0x180))) | set("′–—‘’“”…±×·°²³−≥≤→−")
"Letters that the font that comes with typst has: nothing to ask for them."
SHAPED = frozenset(
    ("Devanagari", "Bengali", "Gurmukhi", "Gujarati", "Oriya", "Tamil", "Telugu", "Kannada", "Malayalam", "Sinhala",
     "Myanmar", "Khmer", "Thai", "Lao", "Tibetan")
)  # fmt: skip
"""Scripts whose letters join and change places.

A font with the letters alone, such as the mathematical one that comes with typst, sets them wrongly: they count as
missing unless a font made for them is there.
"""
NOWHERE = "\U0010fffd"
"A place of no letter: whatever is drawn for it is what is drawn for a letter that no font has."


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A PDF, and what a reader of it has to be told."""

    data: bytes
    notes: tuple[str, ...] = ()


def refuse_without_typst(name: str, *, instead: str) -> None:
    """Raises OutputError where the extra that writes PDF is not installed."""
    if find_spec("typst") is None:
        raise OutputError.of(
            f"{name} cannot be written: the library that sets PDF is not installed",
            needed="the extra [pdf]",
            do_next=f"pip install 'siting[pdf]', or {instead}",
        )


def typeset(template: str, *, data: Mapping[str, object], drawings: Mapping[str, str], name: str) -> Printed:
    """A document from a template, its data and its drawings (SVG), all of them text.

    The template finds them as `sys.inputs.data` (JSON) and under the names of the drawings, and in `fonts` of the
    data the families that its letters need.
    Letters that no font has are replaced by the name of their script, in brackets, and noted.
    """
    refuse_without_typst(name, instead="leave the PDF out")
    import typst

    said = "".join(_texts(data)) + "".join(drawings.values())
    strange = "".join(sorted(set(said) - BASE - {"\n", "\t"}))
    # Without the machine's own fonts as long as none is needed: the bytes are then the same on every machine.
    own_only = not _without_glyph(strange, ignore_system_fonts=True)
    needed = tuple(sorted({script(letter) for letter in strange} & SHAPED))
    families = _families(needed)
    own_only = own_only and not families
    missing = frozenset(_without_glyph(strange, ignore_system_fonts=own_only)) | {
        letter for letter in strange if script(letter) in SHAPED and script(letter) not in families
    }
    fonts = ["Libertinus Serif", *families.values()]
    inputs = {"data": json.dumps({**data, "fonts": fonts}, ensure_ascii=False, sort_keys=True), **drawings}
    if missing:
        inputs = {key: _replaced(text, missing) for key, text in inputs.items()}
    inputs = {key: text if key == "data" else _in_their_fonts(text, families) for key, text in inputs.items()}
    pdf, warnings = typst.compile_with_warnings(
        template.encode(), sys_inputs=inputs, timestamp=0, ignore_system_fonts=own_only
    )
    notes = [f"{name}: {w.message}" for w in warnings]
    if missing:
        notes.insert(0, _told(name, missing))
    return Printed(data=pdf, notes=tuple(notes))


def _texts(value: object) -> Iterable[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for each in value.values():
            yield from _texts(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _texts(each)


@lru_cache(maxsize=8)
def _families(scripts: tuple[str, ...]) -> dict[str, str]:
    """The font made for each script, where this machine has one."""
    if not scripts:
        return {}
    import typst

    there = typst.Fonts().families()
    made = {name: [family for family in there if name in family.split()] for name in scripts}
    return {name: sorted(held, key=len)[0] for name, held in made.items() if held}


def _in_their_fonts(drawing: str, families: Mapping[str, str]) -> str:
    """A drawing whose letters of such scripts name their font: its reader would take any that has them."""
    for name, family in families.items():
        run = re.compile("([^<>]*)</text>")

        def spelled(found: re.Match[str], name: str = name, family: str = family) -> str:
            words = found[1].split(" ")
            marked = [
                f"<tspan font-family=\"'{family}'\">{word}</tspan>" if any(script(c) == name for c in word) else word
                for word in words
            ]
            return " ".join(marked) + "</text>"

        drawing = run.sub(spelled, drawing)
    return drawing


_ASK = b"""#set page(width: 10cm, height: auto, margin: 0pt)
#set text(font: "Libertinus Serif", size: 8pt)
#for letter in sys.inputs.letters.codepoints() [#block(height: 12pt, text(letter))]
"""


@lru_cache(maxsize=32)
def _without_glyph(letters: str, *, ignore_system_fonts: bool) -> str:
    """Those of the letters that no font has."""
    import typst

    if not letters:
        return ""
    missing = []
    marks = [letter for letter in letters if not unicodedata.category(letter).startswith(("Cc", "Cf", "Z"))]
    # Each letter beside the one that is nowhere: typst draws the same sign for both where it has no font.
    for start in range(0, len(marks), 200):
        part = marks[start : start + 200]
        drawn = typst.compile(
            _ASK, format="svg", sys_inputs={"letters": NOWHERE + "".join(part)}, ignore_system_fonts=ignore_system_fonts
        )
        glyphs = re.findall(r'<use[^>]*href="#(g[0-9A-F]+)"', drawn.decode())
        if len(glyphs) != len(part) + 1:
            # Some letter took none or several signs: asked one by one.
            missing += [each for each in part if _alone(each, ignore_system_fonts=ignore_system_fonts)]
        else:
            missing += [each for each, glyph in zip(part, glyphs[1:], strict=True) if glyph == glyphs[0]]
    return "".join(missing)


def _alone(letter: str, *, ignore_system_fonts: bool) -> bool:
    import typst

    drawn = typst.compile(
        _ASK, format="svg", sys_inputs={"letters": NOWHERE + letter}, ignore_system_fonts=ignore_system_fonts
    )
    glyphs = re.findall(r'<use[^>]*href="#(g[0-9A-F]+)"', drawn.decode())
    return glyphs[0] in glyphs[1:]


def script(letter: str) -> str:
    """The script a letter is of, as Unicode names it.

    >>> script("አ"), script("न")
    ('Ethiopic', 'Devanagari')
    """
    return unicodedata.name(letter, "unknown").split()[0].split("-")[0].capitalize()


def _replaced(text: str, missing: frozenset[str]) -> str:
    run = re.compile(f"[{re.escape(''.join(missing))}](?:[{re.escape(''.join(missing))}]|\\W(?=[^\\x00-\\x7f]))*")

    def named(found: re.Match[str]) -> str:
        scripts = sorted({script(c) for c in found[0] if c in missing})
        return f"[{' and '.join(scripts)} letters]"

    return run.sub(named, text)


def _told(name: str, missing: frozenset[str]) -> str:
    scripts = ", ".join(sorted({script(letter) for letter in missing}))
    shown = " ".join(sorted(missing)[:12])
    return (
        f"{name}: no font on this machine has {len(missing)} of its letters ({scripts}: {shown}); names in them are "
        "shown by their script only. Install a font of that script (such as the Noto fonts) and write it again; "
        "plan.svg, map.html and results.json hold the names whole"
    )
