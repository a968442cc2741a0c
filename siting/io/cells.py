"""Columns of a large table at once: numbers, words and statements of accuracy, and which rows hold none.

The same words and the same readings as for single cells (`values`, `angle`, `headings`), each different text once.
"""

from collections.abc import Callable
from typing import Any

import numpy as np

from siting import arrow
from siting.io.accuracy import EXACT, RECEIVER_LEVEL, radius_of
from siting.io.angle import NotAnAngle, angle
from siting.io.place import LOST_ZEROS
from siting.io.values import is_blank, refused_characters, share, status_of, typed
from siting.kinds import UNKNOWN, Vocabulary
from siting.layer import NONE, Column
from siting.site import Status
from siting.uncertainty import UNSTATED, sigma_from_radius

_PLAIN = r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$"

Wrong = dict[int, str]
"Row of a part to what is wrong there."


def numbers(cells: Any, heading: str, *, role: str, decimal_comma: bool, wrong: Wrong) -> np.ndarray:
    """A column as float (n,), nan where a row holds no number; what is wrong is added to `wrong`."""
    import pyarrow as pa

    if pa.types.is_dictionary(cells.type):
        cells = cells.dictionary_decode()
    if not (pa.types.is_string(cells.type) or pa.types.is_large_string(cells.type)):
        values = arrow.floats(cells)
    else:
        values = _of_texts(cells, heading, role=role, decimal_comma=decimal_comma, wrong=wrong)
    for row in np.flatnonzero(~np.isfinite(values)).tolist():
        held = cells[row].as_py()
        nothing = held is None or held == "" or held != held
        wrong.setdefault(row, f"nothing under {heading!r}" if nothing else f"{held} under {heading!r} is not finite")
    return values


def _of_texts(cells: Any, heading: str, *, role: str, decimal_comma: bool, wrong: Wrong) -> np.ndarray:
    import pyarrow as pa
    import pyarrow.compute as pc

    trimmed = pc.utf8_trim_whitespace(cells)
    if decimal_comma:
        trimmed = pc.replace_substring_regex(trimmed, r"^([+-]?\d+),(\d+)$", r"\1.\2")
    try:
        return arrow.floats(pc.cast(trimmed, pa.float64()))
    except pa.ArrowInvalid:
        pass
    plain = pc.fill_null(pc.match_substring_regex(trimmed, _PLAIN), False)
    kept = pc.if_else(plain, trimmed, None)
    values = arrow.floats(pc.cast(kept, pa.float64()))
    for row in np.flatnonzero(~arrow.values(plain)).tolist():
        text = trimmed[row].as_py()
        if not text:
            continue
        if role in ("lat", "lon"):
            try:
                values[row] = angle(text, axis=role)[0]
                continue
            except NotAnAngle as bad:
                wrong.setdefault(row, f"{text[:40]!r} under {heading!r}: {bad}")
        wrong.setdefault(row, f"{text[:40]!r} under {heading!r} is not a number")
    return values


def encoded(cells: Any) -> tuple[list[object], np.ndarray]:
    """The different values of a column and the position of each row's (n,), -1 for nothing."""
    import pyarrow as pa

    if not pa.types.is_dictionary(cells.type):
        cells = cells.dictionary_encode()
    if isinstance(cells, pa.ChunkedArray):
        cells = cells.unify_dictionaries().combine_chunks()
    code = np.where(arrow.there(cells.indices), arrow.values(cells.indices), NONE).astype(np.int32)
    return cells.dictionary.to_pylist(), code


def _mapped(cells: Any, read: Callable[[object], object]) -> Column:
    """A column with every different value read once; None becomes nothing."""
    values, code = encoded(cells)
    read_values = [None if is_blank(value) else read(value) for value in values]
    kept: dict[tuple[type, object], int] = {}
    to = np.array([NONE if v is None else kept.setdefault(_key(v), len(kept)) for v in read_values] + [NONE], np.int32)
    return Column(values=tuple(value for _, value in kept), code=to[code])


def _key(value: object) -> tuple[type, object]:
    # 1.0 and True are one key to a dictionary and two values to a rule.
    return type(value), value


def attribute(cells: Any) -> Column:
    """A free attribute: numbers, flags and words, as in a single site."""
    return _mapped(cells, typed)


def words_of(cells: Any) -> Column:
    """Words as they stand, such as the names of districts."""
    return _mapped(cells, lambda value: None if refused_characters(str(value)) else str(value).strip())


def status_column(cells: Any) -> tuple[Column, int]:
    """States, and in how many rows the word is not known and was taken as existing."""
    column = _mapped(cells, str)
    states = [status_of(value) for value in column.values]
    unknown = [number for number, state in enumerate(states) if state is None]
    values = tuple(str(state or Status.EXISTING) for state in states)
    return Column(values=values, code=column.code), int(np.isin(column.code, unknown).sum())


def kinds(cells: Any, words: Vocabulary, *, wrong: Wrong) -> Column:
    """Kinds by the vocabulary; rows whose word is not known, or that have none, are added to `wrong`."""
    said = _mapped(cells, str)
    names = [words.recognise(str(value)) for value in said.values]
    for number, (word, name) in enumerate(zip(said.values, names, strict=True)):
        if name == UNKNOWN:
            near = words.nearest(str(word))
            close = f" (nearest known: {', '.join(near)})" if near else ""
            for row in np.flatnonzero(said.code == number).tolist():
                wrong.setdefault(row, f"kind {str(word)[:60]!r} is not known{close}")
    for row in np.flatnonzero(said.code == NONE).tolist():
        wrong.setdefault(row, "no kind given")
    different = tuple(dict.fromkeys(names))
    to = np.array([different.index(name) for name in names] + [NONE], dtype=np.int32)
    return Column(values=different, code=to[said.code])


def sigmas_m(accuracy: Any, level: Any, *, count: int, wrong: Wrong) -> tuple[np.ndarray, int]:
    """Standard uncertainties per axis [m] (n,), and for how many rows none was stated.

    `accuracy` and `level` are the columns, None where the table has none.
    """
    radius_m, share_ = UNSTATED["receiver"]
    unstated_m = sigma_from_radius(radius_m, level=share_)
    if accuracy is None:
        return np.full(count, unstated_m), count
    levels, level_code = encoded(level) if level is not None else ([], np.full(count, NONE, dtype=np.int32))
    per_metre = np.array([*_read(levels, _per_metre, "accuracy level", level_code, wrong),
                          sigma_from_radius(1.0, level=RECEIVER_LEVEL)])  # fmt: skip
    radii = _radii(accuracy, wrong)
    unstated = np.isnan(radii)
    return np.where(unstated, unstated_m, radii * per_metre[level_code]), int(unstated.sum())


def _radii(accuracy: Any, wrong: Wrong) -> np.ndarray:
    import pyarrow as pa

    if pa.types.is_floating(accuracy.type) or pa.types.is_integer(accuracy.type):
        radii = arrow.floats(accuracy)
        # Zero or less means unknown, as in a single site.
        return np.where((radii > 0) & (radii < 1e7), radii, np.nan)
    values, code = encoded(accuracy)
    return np.array([*_read(values, _radius, "accuracy", code, wrong), np.nan])[code]


def _radius(value: object) -> float:
    if is_blank(value):
        return np.nan
    radius = radius_of(value)
    return 0.0 if radius == EXACT else np.nan if radius is None else float(radius)


def _per_metre(value: object) -> float:
    return sigma_from_radius(1.0, level=RECEIVER_LEVEL if is_blank(value) else share(value))


def _read(
    values: list[object], read: Callable[[object], float], what: str, code: np.ndarray, wrong: Wrong
) -> list[float]:
    found = []
    for number, value in enumerate(values):
        try:
            found.append(read(value))
        except ValueError as bad:
            found.append(np.nan)
            for row in np.flatnonzero(code == number).tolist():
                wrong.setdefault(row, f"{what}: {bad}")
    return found


def lengths_m(cells: Any, heading: str, *, decimal_comma: bool, wrong: Wrong) -> np.ndarray:
    """A column of lengths [m] (n,), zero where nothing stands; a length below zero is wrong."""
    blank: Wrong = {}
    values = numbers(cells, heading, role="length", decimal_comma=decimal_comma, wrong=blank)
    for row, said in blank.items():
        if not said.startswith("nothing"):
            wrong.setdefault(row, said)
    for row in np.flatnonzero(values < 0).tolist():
        wrong.setdefault(row, f"{values[row]:g} under {heading!r} is below zero")
    return np.where(np.isfinite(values), values, 0.0)


MOST_DECIMALS = 7
"So many say a place to the centimetre; more are not told apart."


def written_decimals(cells: Any, *, decimal_comma: bool) -> np.ndarray:
    """Decimal places (n,) of numbers as a text has them, nan where it is written otherwise."""
    import pyarrow.compute as pc

    text = pc.utf8_trim_whitespace(cells)
    mark = arrow.values(pc.find_substring(text, "," if decimal_comma else "."))
    length = arrow.values(pc.utf8_length(text))
    plain = arrow.values(pc.fill_null(pc.match_substring_regex(text, r"^[+-]?\d*[.,]?\d*$"), False))
    places = np.where(mark >= 0, length - mark - 1, 0).astype(float)
    return np.where(plain, np.minimum(places, MOST_DECIMALS), np.nan)


def decimals(lonlat: np.ndarray, *, most: int = MOST_DECIMALS) -> np.ndarray:
    """Fewest decimal places (n,) that give both coordinates back, `most` where more are needed."""
    places = np.full(len(lonlat), float(most))
    left = np.arange(len(lonlat))
    for count in range(most - 1, -1, -1):
        scaled = lonlat[left] * 10.0**count
        left = left[(np.abs(scaled - np.rint(scaled)) <= 1e-4).all(axis=1)]
        if not len(left):
            break
        places[left] = count
    # A number cell does not keep the zeros at its end.
    longest = places.max(initial=0.0)
    return np.where(longest - places <= LOST_ZEROS, longest, places)
