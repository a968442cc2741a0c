"""Degrees written with marks or letters: 1°17'30.5"S, S 1 17.5, 36.8172 E."""

import re
from math import log10

_SIGN = {"lat": {"N": 1, "S": -1}, "lon": {"E": 1, "W": -1}}
_ANGLE = re.compile(
    r"""(?P<before>[NSEW])?\s*
    (?P<sign>[+-])?(?P<deg>\d{1,3}(?:\.\d+)?)\s*[°º]?\s*
    (?:(?P<min>\d{1,2}(?:\.\d+)?)\s*['’′]?\s*)?
    (?:(?P<sec>\d{1,2}(?:\.\d+)?)\s*(?:"|”|″|'')?\s*)?
    (?P<after>[NSEW])?""",
    re.VERBOSE | re.ASCII,
)


class NotAnAngle(ValueError):
    """The text is not an angle; the message says why."""


def is_unmarked(text: str) -> bool:
    """Whether a text is two or three figures without marks.

    >>> is_unmarked("-12 18 34.6"), is_unmarked("12.18")
    (True, False)
    """
    return re.fullmatch(r"[+-]?\d{1,3}[ :]\d{1,2}([ :]\d{1,2})?([.]\d+)?", text.strip(), re.ASCII) is not None


def angle(text: str, *, axis: str, unmarked: bool = False) -> tuple[float, float]:
    """Degrees, and the decimal places of degrees that the last figure written stands for.

    `axis` is `lat` or `lon`.
    Marks or a letter of the compass are needed, unless somebody says (`unmarked`) that figures in a row are
    degrees, minutes and seconds: alone they could mean several things.

    >>> degrees, decimals = angle("1°17'30\\"S", axis="lat")
    >>> round(degrees, 6), round(decimals, 2)
    (-1.291667, 3.56)
    """
    found = _ANGLE.fullmatch(text.strip().upper())
    if not found or not (unmarked or re.search(r"[°º'’′\"”″NSEW]", text.upper())):
        raise NotAnAngle("not a number of degrees")
    letter = found["before"] or found["after"] or ""
    if (found["before"] and found["after"]) or (letter and found["sign"]):
        raise NotAnAngle("two signs for one angle")
    if letter and letter not in _SIGN[axis]:
        raise NotAnAngle(f"the letter {letter} belongs to the other coordinate")
    parts = [part for part in (found["deg"], found["min"], found["sec"]) if part is not None]
    if any("." in part for part in parts[:-1]) or any(float(part) >= 60 for part in parts[1:]):
        raise NotAnAngle("minutes and seconds must be below 60, and only the last figure may have decimals")
    degrees = sum(float(part) / 60**power for power, part in enumerate(parts))
    sign = _SIGN[axis].get(letter, 1) * (-1 if found["sign"] == "-" else 1)
    decimals = len(parts[-1].partition(".")[2]) + log10(60 ** (len(parts) - 1))
    return sign * degrees, decimals
