"""A drawing with its blocks spelled out: every shape and every writing once, where it stands in model space."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import floor, hypot, inf, log2
from typing import Any

import numpy as np

from siting.io.dxf_curves import Piece, Text, piece, text

DEEPEST = 16
"Blocks within blocks; deeper ones are left out and said so. Project judgement: real plans nest three or four."
_WRITING = ("TEXT", "MTEXT")
_SILENT = ("ATTDEF", "SEQEND", "VIEWPORT")
"They draw nothing of their own."
IDENTITY = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


class TooMany(Exception):
    """More shapes than allowed once all blocks are spelled out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One thing drawn, in drawing units."""

    piece: Piece
    sort: str
    "The type of the entity."
    layer: str
    "The layer that counts: things on layer 0 of a block lie on the layer of the insert."
    row: int
    "Position in model space, counted from 1, of the entity that brought it."
    parent: int | None = None
    "Index of the insert that brought it."
    block: str = ""
    "Name of the block, for an insert."
    attributes: Mapping[str, str] = field(default_factory=dict)
    "Of an insert, in the order of the drawing."


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """All of model space; an insert stands before what it brings."""

    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...]
    lost: Counter[tuple[str, str]]
    "How many of which layer and sort could not be used."
    external: tuple[str, ...]
    "Names of other drawings that are only referred to."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Insert:
    block: str
    affine: np.ndarray
    attributes: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    layer: str
    sort: str
    row: int
    held: Piece | Text | _Insert


def spelled_out(document: Any, *, sagitta: float, most: int) -> Drawn:
    """Everything drawn in the model space of an opened drawing; chords within `sagitta` drawing units.

    Raises TooMany beyond `most` shapes and writings.
    """
    walk = _Walk(document=document, sagitta=sagitta, most=most)
    walk.place(walk.items(document.modelspace(), sagitta), affine=IDENTITY, parent=None, layer="0", row=None, depth=0)
    return Drawn(
        shapes=tuple(walk.shapes),
        texts=tuple(walk.texts),
        lost=walk.lost,
        external=tuple(sorted(walk.external)),
    )


@dataclass(slots=True)
class _Walk:
    document: Any
    sagitta: float
    most: int
    shapes: list[Shape] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    lost: Counter[tuple[str, str]] = field(default_factory=Counter)
    external: set[str] = field(default_factory=set)
    known: dict[tuple[str, int], list[_Item]] = field(default_factory=dict)

    def place(
        self, items: list[_Item], *, affine: np.ndarray, parent: int | None, layer: str, row: int | None, depth: int
    ) -> None:
        """Put the items of a block where an insert has them."""
        for item in items:
            if len(self.shapes) + len(self.texts) >= self.most:
                raise TooMany
            own = layer if item.layer == "0" and depth else item.layer
            place = item.row if row is None else row
            if isinstance(item.held, Text):
                self.texts.append(_moved(item.held, affine, own))
            elif isinstance(item.held, Piece):
                moved = item.held.moved(affine, self.sagitta) if depth else item.held
                self.shapes.append(Shape(piece=moved, sort=item.sort, layer=own, row=place, parent=parent))
            else:
                self._insert(item.held, affine=affine, parent=parent, layer=own, row=place, depth=depth)

    def _insert(
        self, insert: _Insert, *, affine: np.ndarray, parent: int | None, layer: str, row: int, depth: int
    ) -> None:
        whole = _after(affine, insert.affine)
        base = self.document.blocks.get(insert.block)
        where = np.array([(base.block.dxf.base_point.x, base.block.dxf.base_point.y)]) @ whole[:, :2].T + whole[:, 2]
        self.shapes.append(
            Shape(
                piece=Piece(sort="point", rings=(where,)),
                sort="INSERT",
                layer=layer,
                row=row,
                parent=parent,
                block=insert.block,
                attributes=insert.attributes,
            )
        )
        if depth >= DEEPEST:
            self.lost[layer, f"blocks nested deeper than {DEEPEST}"] += 1
            return
        size = max(hypot(*whole[:, 0]), hypot(*whole[:, 1]))
        # one level of fineness for each doubling of the scale, so that a block is taken apart only a few times
        fineness = self.sagitta / size if size > 0 else 1.0
        level = floor(log2(fineness)) if 0.0 < fineness < inf else 0
        key = (insert.block, level)
        if key not in self.known:
            self.known[key] = self.items(base, 2.0**level)
        self.place(self.known[key], affine=whole, parent=len(self.shapes) - 1, layer=layer, row=row, depth=depth + 1)

    def items(self, layout: Iterable[Any], sagitta: float) -> list[_Item]:
        """A block, or model space, taken apart in its own plane."""
        found: list[_Item] = []
        for row, entity in enumerate(layout, start=1):
            sort, layer = entity.dxftype(), entity.dxf.layer
            if sort in _SILENT:
                continue
            if len(found) > self.most:
                raise TooMany
            if sort == "INSERT":
                found += [_Item(layer=layer, sort=sort, row=row, held=held) for held in self._inserts(entity)]
                continue
            held = text(entity) if sort in _WRITING else piece(entity, sagitta)
            if held is not None:
                found.append(_Item(layer=layer, sort=sort, row=row, held=held))
            elif sort not in _WRITING:
                self.lost[layer, sort] += 1
        return found

    def _inserts(self, entity: Any) -> list[_Insert]:
        block = entity.block()
        if block is None:
            self.lost[entity.dxf.layer, "INSERT of a block that is missing"] += 1
            return []
        if block.block.is_xref or block.block.is_xref_overlay:
            self.external.add(entity.dxf.name)
            return []
        if entity.mcount > self.most:
            raise TooMany
        attributes = _attributes(entity)
        each = entity.multi_insert() if entity.mcount > 1 else (entity,)
        return [_Insert(block=entity.dxf.name, affine=_affine(one.matrix44()), attributes=attributes) for one in each]


def _attributes(entity: Any) -> dict[str, str]:
    found: dict[str, str] = {}
    for attribute in entity.attribs:
        words = " ".join(str(attribute.plain_text()).split())
        if words:
            found.setdefault(attribute.dxf.tag, words)
    return found


def _affine(matrix: Any) -> np.ndarray:
    rows = np.array(list(matrix.rows()))
    return np.column_stack([rows[0, :2], rows[1, :2], rows[3, :2]])


def _after(outer: np.ndarray, inner: np.ndarray) -> np.ndarray:
    return np.column_stack([outer[:, :2] @ inner[:, :2], outer[:, :2] @ inner[:, 2] + outer[:, 2]])


def _moved(writing: Text, affine: np.ndarray, layer: str) -> Text:
    ends = writing.ends @ affine[:, :2].T + affine[:, 2]
    return Text(ends=ends, words=writing.words, height=writing.height * hypot(*affine[:, 1]), layer=layer)
