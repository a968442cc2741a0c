"""How long one unit of a drawing is: what the drawing says, what the site says, and one known length."""

from collections.abc import Callable, Mapping

from siting.control_points import UNITS_M, likely_unit
from siting.errors import Fault, InputError
from siting.io.records import Document

INSUNITS: Mapping[int, tuple[str, float]] = {
    1: ("inches", 0.0254),
    2: ("feet", 0.3048),
    3: ("miles", 1609.344),
    4: ("millimetres", 0.001),
    5: ("centimetres", 0.01),
    6: ("metres", 1.0),
    7: ("kilometres", 1000.0),
    8: ("microinches", 0.0254e-6),
    9: ("thousandths of an inch", 0.0254e-3),
    10: ("yards", 0.9144),
    11: ("angstroms", 1e-10),
    12: ("nanometres", 1e-9),
    13: ("micrometres", 1e-6),
    14: ("decimetres", 0.1),
    15: ("decametres", 10.0),
    16: ("hectometres", 100.0),
    17: ("gigametres", 1e9),
    18: ("astronomical units", 149_597_870_700.0),
    19: ("light years", 9.460_730_472_580_8e15),
    20: ("parsecs", 3.085_677_581_491_367e16),
    21: ("US survey feet", 1200.0 / 3937.0),
    22: ("US survey inches", 100.0 / 3937.0),
    23: ("US survey yards", 3600.0 / 3937.0),
    24: ("US survey miles", 6_336_000.0 / 3937.0),
}
"""Header variable $INSUNITS to its unit and metres (codes: documentation of ezdxf, *DXF Units*, seen-2).

A US survey foot is 1200/3937 m; astronomical unit, light year and parsec after the IAU (all from memory).
"""

SPELLINGS: Mapping[str, float] = {
    **UNITS_M,
    **dict.fromkeys(("metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), 0.001),
    **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters"), 0.01),
    **dict.fromkeys(("inch", "inches"), 0.0254),
    **dict.fromkeys(("foot", "feet"), 0.3048),
    "us-ft": 1200.0 / 3937.0,
}
AGREEMENT = 0.02
"A length drawn and the same length measured agree within this share; project judgement (paced 1:100, drawn 1:200)."


def metres_per_unit(
    document: Document,
    *,
    insunits: int,
    extent: Callable[[], tuple[float, float]],
    unit: str | None,
    known_length: tuple[float, float] | None,
) -> tuple[float, tuple[str, ...]]:
    """Metres of one drawing unit, and notes; raises InputError where the drawing and the site leave a doubt.

    `insunits`: header variable of the drawing, 0 where it says nothing.
    `extent`: asked for width and height of all that is drawn, in drawing units, when there is a doubt.
    `unit`: what the site says of the drawing.
    `known_length`: one length as drawn [drawing units], and as measured on the ground [m].
    """
    said = INSUNITS.get(insunits)
    stated_m = None if unit is None else _stated(document, unit)
    if stated_m is None and said is None:
        raise InputError(_unstated(document, insunits, extent(), known_length))
    size_m = stated_m if stated_m is not None else said[1] if said else 0.0
    known_m = _known(document, known_length)
    if known_m is not None and abs(known_m / size_m - 1.0) > AGREEMENT:
        raise InputError(_denied(document, size_m, known_m, known_length))
    if stated_m is not None and said is not None and abs(stated_m / said[1] - 1.0) > 1e-4:
        if known_m is None:
            raise InputError(_contradicted(document, str(unit), stated_m, said, extent()))
        return stated_m, (f"unit {unit}, as site.toml and the known length say, although the drawing says {said[0]}",)
    if said is not None and (stated_m is None or abs(stated_m / said[1] - 1.0) <= 1e-4):
        return said[1], (f"drawn in {said[0]} (as the drawing says{', and site.toml' if unit else ''})",)
    return size_m, (f"drawn in {unit}, as site.toml says; the drawing itself does not tell",)


def _stated(document: Document, unit: str) -> float:
    found = SPELLINGS.get(unit.strip().casefold())
    if found is None:
        raise InputError(
            document.fault(
                f"unit = {unit[:40]!r}",
                needed=f"one of {', '.join(UNITS_M)}, us-ft",
                do_next="correct the unit of this drawing in site.toml",
            )
        )
    return found


def _known(document: Document, known_length: tuple[float, float] | None) -> float | None:
    if known_length is None:
        return None
    drawn, measured_m = known_length
    if not (0 < drawn < float("inf") and 0 < measured_m < float("inf")):
        raise InputError(
            document.fault(
                f"a known length of {drawn:g} drawn and {measured_m:g} m measured",
                needed="two lengths above zero",
                do_next="measure one side of a building in the drawing and on the ground",
            )
        )
    return measured_m / drawn


def _sizes(extent: tuple[float, float]) -> str:
    width, height = extent
    return "; ".join(
        f'in "{unit}" it is {width * UNITS_M[unit]:.4g} m by {height * UNITS_M[unit]:.4g} m'
        for unit in ("mm", "cm", "ft", "m")
    )


_ASK = (
    'write unit = "mm" (or "m", "cm", "ft", ...) for this file in site.toml, with one length measured in both: '
    "known_length = { drawn = 12000, metres = 12.0 }"
)


def _unstated(
    document: Document, insunits: int, extent: tuple[float, float], known_length: tuple[float, float] | None
) -> Fault:
    known_m = _known(document, known_length)
    guess = likely_unit(known_m) if known_m else None
    said = f'; by the known length one unit is {known_m:g} m (unit = "{guess}"?)' if known_m and guess else ""
    return document.fault(
        f"the drawing does not say its unit ($INSUNITS is {insunits}); all that is drawn is {extent[0]:.6g} by "
        f"{extent[1]:.6g} units: {_sizes(extent)}{said}",
        needed="the unit of length of the drawing",
        do_next=_ASK,
    )


def _contradicted(
    document: Document, unit: str, stated_m: float, said: tuple[str, float], extent: tuple[float, float]
) -> Fault:
    return document.fault(
        f'unit = "{unit}" in site.toml, but the drawing says {said[0]} ($INSUNITS): all that is drawn would be '
        f"{extent[0] * stated_m:.4g} m by {extent[1] * stated_m:.4g} m, or {extent[0] * said[1]:.4g} m by "
        f"{extent[1] * said[1]:.4g} m",
        needed="one unit, or one known length that decides between the two",
        do_next=f"remove the wrong one; or {_ASK}",
    )


def _denied(document: Document, size_m: float, known_m: float, known_length: tuple[float, float] | None) -> Fault:
    drawn, measured_m = known_length or (0.0, 0.0)
    unit = likely_unit(known_m)
    return document.fault(
        f"the known length of {measured_m:g} m is drawn {drawn:g} units long, which would be {drawn * size_m:g} m",
        needed=f"lengths that agree within {AGREEMENT:.0%}",
        do_next=(f'write unit = "{unit}", or ' if unit else "") + "measure that length again, in the drawing too",
    )
