"""What of a drawing is a feature: kinds by block, layer and writing; outlines of blocks, joined lines, names."""

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from siting.io.dxf_blocks import Drawn, Shape
from siting.io.dxf_curves import Text
from siting.io.headings import PROPERTY_ROLES, Headings, headings, sorted_out
from siting.io.labels import is_name, nearest_labels
from siting.kinds import BOUNDARY, UNKNOWN, folded, vocabulary

JOIN_M = 0.001
"Ends of lines this near meet: the rounding of drawings, not a gap. Project judgement."


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One feature of a drawing, in metres of the plan."""

    kind: str
    geometry: BaseGeometry
    shape: Shape
    radius_m: float | None = None
    word: str = ""
    "What told the kind: a block, a layer or writing."
    name: str = ""


@dataclass(slots=True)
class Words:
    """The kind a word of the drawing means: as the site says, else by everyday spelling."""

    stated: Mapping[str, str]
    "Folded layer, block or writing to kind."
    otherwise: str | None = None
    "Kind of everything on layers that tell none."
    _known: dict[str, str | None] = field(default_factory=dict)

    def kind(self, word: str) -> str | None:
        """The kind, or None."""
        if word not in self._known:
            self._known[word] = self._look_up(word)
        return self._known[word]

    def _look_up(self, word: str) -> str | None:
        for each in (word, re.sub(r"[\s_-]*(\d+|\b[A-Za-z])$", "", word)):
            kind = self.stated.get(folded(each)) or vocabulary().recognise(each)
            if each and kind != UNKNOWN:
                return kind
        return None

    def suggested(self, word: str) -> str | None:
        """A kind that one part of a word names; too little to act on, enough to ask."""
        kinds = [vocabulary().recognise(part) for part in folded(word).split()]
        return next((kind for kind in reversed(kinds) if kind != UNKNOWN), None)


@dataclass(slots=True)
class Sorting:
    """Sorts the shapes of a drawing into features and what is left over."""

    drawn: Drawn
    words: Words
    unit_m: float
    label_m: float
    found: list[Found] = field(default_factory=list)
    left: list[int] = field(default_factory=list)
    "Indices of shapes that belong to no feature."
    joined: int = 0
    repeated: int = 0
    by_writing: list[tuple[str, Found]] = field(default_factory=list)
    "Writing that told a kind, and the feature made of what stands by it."
    alone: list[Text] = field(default_factory=list)
    "Writing that names a kind and stands by nothing."
    labelled: int = 0

    def run(self) -> None:
        """All steps, in order."""
        self._take()
        self._join_lines()
        self._drop_repeated()
        self._by_writing()
        self._name()

    def _take(self) -> None:
        shapes = self.drawn.shapes
        holder: list[int | None] = []
        taken: dict[int, str] = {}
        word: dict[int, str] = {}
        outlines: dict[int, list[int]] = {}
        for index, shape in enumerate(shapes):
            above = None
            if shape.parent is not None:
                above = shape.parent if shape.parent in taken else holder[shape.parent]
            holder.append(above)
            if above is not None and self._is_part(shape, shapes[above], taken[above]):
                if shape.piece.sort in ("area", "circle") and self.words.kind(shape.layer) == taken[above]:
                    outlines.setdefault(above, []).append(index)
                continue
            kind, by = self._kind(shape)
            if kind is None:
                self.left.append(index)
            else:
                taken[index], word[index] = kind, by
        for index, kind in taken.items():
            made = self._made(index, kind, word[index], outlines.get(index, []))
            if made is None:
                self.drawn.lost[shapes[index].layer, f"{shapes[index].sort} without length or area"] += 1
            else:
                self.found.append(made)

    def _is_part(self, shape: Shape, holder: Shape, kind: str) -> bool:
        own = self.words.kind(shape.block) if shape.sort == "INSERT" else None
        if own is None and shape.layer != holder.layer:
            own = self.words.kind(shape.layer)
        return own is None or own == kind

    def _kind(self, shape: Shape) -> tuple[str | None, str]:
        if shape.sort == "INSERT":
            written = sorted_out(shape.attributes, taken_from(tuple(shape.attributes)))["kind"]
            for said, where in ((shape.block, "block"), (written, "attribute")):
                if said and (kind := self.words.kind(said)):
                    return kind, f"{where} {said!r}"
        kind = self.words.kind(shape.layer)
        if kind is None and shape.parent is None:
            kind = self.words.otherwise
            return kind, "the kind stated for the whole file"
        return kind, f"layer {shape.layer!r}"

    def _made(self, index: int, kind: str, word: str, outlines: list[int]) -> Found | None:
        shape = self.drawn.shapes[index]
        if not outlines:
            return self._plain(shape, kind, word)
        parts = [self._plain(self.drawn.shapes[each], kind, word) for each in outlines]
        solid = [part for part in parts if part is not None]
        if len(solid) == 1:
            return replace(solid[0], shape=shape)
        discs = [
            part.geometry if part.radius_m is None else part.geometry.buffer(part.radius_m, quad_segs=64)
            for part in solid
        ]
        if not discs:
            return self._plain(shape, kind, word)
        return Found(kind=kind, geometry=shapely.union_all(discs), shape=shape, word=word)

    def _plain(self, shape: Shape, kind: str, word: str) -> Found | None:
        geometry = shape.piece.geometry()
        if geometry is None:
            return None
        radius_m = None if shape.piece.radius is None else shape.piece.radius * self.unit_m
        return Found(kind=kind, geometry=self._metres(geometry), shape=shape, radius_m=radius_m, word=word)

    def _metres(self, geometry: BaseGeometry) -> BaseGeometry:
        return shapely.transform(geometry, lambda xy: xy * self.unit_m)

    def _join_lines(self) -> None:
        """Lines of one kind on one layer that end where the next begins are one line; a closed one is an outline."""
        groups: dict[tuple[str, str], list[Found]] = {}
        for each in self.found:
            if each.geometry.geom_type == "LineString":
                groups.setdefault((each.kind, each.shape.layer), []).append(each)
        for parts in groups.values():
            lines = np.array([part.geometry for part in parts], dtype=object)
            merged = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(_meeting(lines))))
            if len(merged) == len(lines) and not shapely.is_closed(merged).any():
                continue
            first = _first_of(merged, lines)
            ids = {id(part) for part in parts}
            self.found = [each for each in self.found if id(each) not in ids]
            for line, start in zip(merged, first, strict=True):
                is_ring = shapely.is_closed(line) and len(line.coords) > 3 and shapely.Polygon(line.coords).area > 0
                geometry = shapely.Polygon(line.coords) if is_ring else line
                self.found.append(replace(parts[start], geometry=geometry))
                self.joined += int(is_ring)
        self.found.sort(key=lambda each: each.shape.row)

    def _drop_repeated(self) -> None:
        kept: dict[tuple[object, ...], Found] = {}
        for each in self.found:
            around = tuple(np.round(each.geometry.bounds, 3))
            size = round(each.geometry.area, 3), round(each.geometry.length, 3), round(each.radius_m or 0.0, 3)
            key = (each.kind, each.geometry.geom_type, _own_name(each.shape), *around, *size)
            held = kept.setdefault(key, each)
            self.repeated += held is not each
        self.found = list(kept.values())

    def _by_writing(self) -> None:
        """Unclaimed shapes that a writing beside or inside them calls by a kind."""
        said = [(text, kind) for text in self.drawn.texts if (kind := self.words.kind(text.words))]
        if not said:
            return
        open_ = [(index, made) for index in self.left if (made := self._open(index)) is not None]
        known = [each for each in self.found if each.kind != BOUNDARY]
        every = _Beside(things=[*known, *(made for _, made in open_)], within=self.label_m)
        claims: dict[int, list[tuple[Text, str]]] = {}
        for text, kind in said:
            at = every.thing(self._line(text), kind)
            if at is None:
                self.alone.append(text)
            elif at >= len(known):
                claims.setdefault(at, []).append((text, kind))
        for at, claimed in claims.items():
            index, made = open_[at - len(known)]
            if len({kind for _, kind in claimed}) > 1:
                # a frame around half the drawing: what stands in it is named, not the frame
                self.alone.extend(text for text, _ in claimed)
                continue
            text, kind = claimed[0]
            self.left.remove(index)
            feature = replace(made, kind=kind, word=f"writing {text.words!r}")
            self.found.append(feature)
            self.by_writing.append((text.words, feature))

    def _open(self, index: int) -> Found | None:
        shape = self.drawn.shapes[index]
        return None if shape.piece.sort == "line" else self._plain(shape, UNKNOWN, "")

    def _line(self, text: Text) -> BaseGeometry:
        return shapely.LineString(text.ends * self.unit_m)

    def _name(self) -> None:
        named = [replace(each, name=_own_name(each.shape)) for each in self.found]
        texts = [text for text in self.drawn.texts if is_name(text.words)]
        open_ = [index for index, each in enumerate(named) if not each.name and each.kind != BOUNDARY]
        labels = nearest_labels(
            [_solid(named[index]) for index in open_],
            [self._line(text) for text in texts],
            kinds=[named[index].kind for index in open_],
            meant=[self.words.kind(text.words) for text in texts],
            heights=[text.height for text in texts],
            within=self.label_m,
        )
        for at, label in labels.items():
            named[open_[at]] = replace(named[open_[at]], name=texts[label].words)
        self.labelled = len(labels)
        self.found = sorted(named, key=lambda each: each.shape.row)

    def by_word(self) -> Counter[tuple[str, str]]:
        """What told the kind, and the kind, to how many."""
        return Counter((each.word, each.kind) for each in self.found)

    def left_over(self) -> Counter[tuple[str, str]]:
        """Layer and sort to how many shapes were not taken; those that could not be used are among them."""
        counted = Counter((self.drawn.shapes[at].layer, self.drawn.shapes[at].sort) for at in self.left)
        return counted + self.drawn.lost


@lru_cache(maxsize=1000)
def taken_from(tags: tuple[str, ...]) -> Headings:
    """Which attribute of a block plays which role."""
    return headings(tags, roles=PROPERTY_ROLES)


def fields_of(shape: Shape) -> dict[str, Any]:
    """The attributes of an insert as fields of a record, without kind and name."""
    fields = sorted_out(shape.attributes, taken_from(tuple(shape.attributes)))
    fields.pop("name")
    if shape.block:
        written = fields["kind"]
        fields["attributes"] |= {"block": shape.block} | ({"kind_as_written": written} if written else {})
    fields.pop("kind")
    return fields


def _own_name(shape: Shape) -> str:
    if not shape.attributes:
        return ""
    fields = sorted_out(shape.attributes, taken_from(tuple(shape.attributes)))
    return fields["name"] or next((str(value) for value in fields["attributes"].values() if is_name(str(value))), "")


def _solid(found: Found) -> BaseGeometry:
    return found.geometry if not found.radius_m else found.geometry.buffer(found.radius_m)


class _Beside:
    """The things drawn, asked which of them a writing that names a kind belongs to."""

    def __init__(self, *, things: list[Found], within: float):
        self.kinds = [each.kind for each in things]
        self.within = within
        self.solids = [_solid(each) for each in things]
        self.areas = [solid.area for solid in self.solids]
        self.tree = shapely.STRtree(self.solids)

    def thing(self, line: BaseGeometry, kind: str) -> int | None:
        """Index of a thing of that kind, or of none yet: a building is around its name, a well beside it."""
        middle = line.interpolate(0.5, normalized=True)
        around = [int(at) for at in self.tree.query(middle, predicate="intersects") if self.areas[at] > 0]
        near = [int(at) for at in self.tree.query(line, predicate="dwithin", distance=self.within) if at not in around]
        inside = min(self._fitting(around, kind), key=lambda at: (self.areas[at], at), default=None)
        beside = min(self._fitting(near, kind), key=lambda at: (self.solids[at].distance(line), at), default=None)
        first, second = (inside, beside) if "building" in vocabulary().kinds[kind].groups else (beside, inside)
        return first if first is not None else second

    def _fitting(self, candidates: list[int], kind: str) -> list[int]:
        return [at for at in candidates if self.kinds[at] in (kind, UNKNOWN)]


def _meeting(lines: np.ndarray) -> np.ndarray:
    """The same lines with ends that nearly meet brought together."""
    ends = np.vstack([shapely.get_coordinates(shapely.get_point(lines, at)) for at in (0, -1)])
    corners = np.array(shapely.points(ends), dtype=object)
    one, other = shapely.STRtree(corners).query(corners, predicate="dwithin", distance=JOIN_M)
    lowest = np.arange(len(ends))
    np.minimum.at(lowest, one, other)
    moved = ends[lowest]
    made = []
    for at, line in enumerate(lines):
        points = np.array(line.coords)[:, :2]
        points[0], points[-1] = moved[at], moved[at + len(lines)]
        made.append(shapely.LineString(points))
    return np.array(made, dtype=object)


def _first_of(merged: np.ndarray, lines: np.ndarray) -> list[int]:
    tree = shapely.STRtree(list(merged))
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    at = tree.nearest(middles)
    return [int(np.flatnonzero(at == index)[0]) if (at == index).any() else 0 for index in range(len(merged))]
