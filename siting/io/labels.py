"""Which writing on a drawing belongs to which thing drawn."""

import re
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

LONGEST = 60
"Characters of a name; longer writing is a remark."
_NUMBERS_ONLY = re.compile(r"[\d\s.,:;/x×*+\-'\"°%()=]*(m|mm|cm|ft|m2|m²|sqm)?", re.IGNORECASE)


def is_name(words: str) -> bool:
    """Whether writing can be a name: not a dimension or a level, and not a remark; a bare whole number can.

    >>> [is_name(words) for words in ("Ward 2", "7", "12.50", "4.0 x 6.0 m", "x" * 80)]
    [True, True, False, False, False]
    """
    if len(words) > LONGEST:
        return False
    return words.isdigit() or not _NUMBERS_ONLY.fullmatch(words)


def nearest_labels(
    things: Sequence[BaseGeometry],
    labels: Sequence[BaseGeometry],
    *,
    kinds: Sequence[str],
    meant: Sequence[str | None],
    heights: Sequence[float],
    within: float,
) -> dict[int, int]:
    """Index of a thing to the index of its label, at most one each, nearest first.

    Inside two outlines, writing belongs to the smaller one; of several in one, the tallest is its name.
    `kinds` of the things, and the kind that a label itself is a word for: "Latrine" is no name of a ward.
    `heights` are those of the letters; all lengths in one unit.
    """
    if not things or not labels:
        return {}
    shapes, words = np.array(things, dtype=object), np.array(labels, dtype=object)
    label_at, thing_at = shapely.STRtree(shapes).query(words, predicate="dwithin", distance=within)
    fits = np.array([meant[a] in (None, kinds[b]) for a, b in zip(label_at, thing_at, strict=True)], dtype=bool)
    label_at, thing_at = label_at[fits], thing_at[fits]
    apart = shapely.distance(shapes[thing_at], words[label_at])
    areas, tall = shapely.area(shapes)[thing_at], np.asarray(heights, float)[label_at]
    owner: dict[int, int] = {}
    for pair in np.lexsort((thing_at, areas, apart)):
        owner.setdefault(int(label_at[pair]), int(thing_at[pair]))
    found: dict[int, int] = {}
    for pair in np.lexsort((label_at, -tall, apart)):
        label, thing = int(label_at[pair]), int(thing_at[pair])
        if owner[label] == thing:
            found.setdefault(thing, label)
    return found
