"""DXF drawings, R12 to current, as text or binary, through ezdxf.

Only what has a kind is taken: by its block, its layer, or writing beside it.
Everything else is counted by layer and said.
"""

import io
import logging
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from siting.errors import Fault, InputError
from siting.io.crs import horizontal_crs
from siting.io.drawing_units import metres_per_unit
from siting.io.dxf_blocks import Drawn, TooMany, spelled_out
from siting.io.dxf_features import Found, Sorting, Words, fields_of
from siting.io.plan import PLAN
from siting.io.records import Document, Reading, Record
from siting.kinds import vocabulary
from siting.site import Notice

LABEL_M = 3.0
"How near writing has to stand to be the name of something: project judgement, a name at 1:500 is 1 m tall."
SAGITTA_M = 0.001
"Arcs are drawn by chords this near to them."
LARGEST_M, SMALLEST_M = 20_000.0, 1.0
"A plan larger or smaller than this is in another unit; project judgement."
SHOWN = 30
"Layers told by name in one sentence."


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What a drawing gave, and how long its unit is."""

    reading: Reading
    "Records in metres of the plan (`crs` is `plan`), or in the units of the crs stated for the file."
    unit_m: float
    "Metres of one drawing unit: the control points of the plan are given in drawing units."


def read(document: Document) -> Reading:
    """The records of a drawing that says its own unit and needs no mapping of layers."""
    return read_drawing(document).reading


def read_drawing(
    document: Document,
    *,
    unit: str | None = None,
    known_length: tuple[float, float] | None = None,
    kinds: Mapping[str, str] | None = None,
    kind: str | None = None,
    label_m: float = LABEL_M,
) -> Drawing:
    """The records of a drawing, with what the site says of it.

    `unit`: length of a drawing unit as a word, where the drawing does not say.
    `known_length`: one length as drawn [drawing units], and as measured [m]; decides between drawing and site.
    `kinds`: folded layer, block or writing to kind. `kind`: of everything in model space whose layer tells none.
    `label_m`: how near [m] writing has to stand to be a name.
    Raises InputError.
    """
    opened, notes = _opened(document)
    insunits = int(opened.header.get("$INSUNITS", 0) or 0)
    unit_m, said = metres_per_unit(
        document,
        insunits=insunits,
        extent=lambda: _extent(_drawn(document, opened, sagitta=float("inf"))),
        unit=unit,
        known_length=known_length,
    )
    drawn = _drawn(document, opened, sagitta=SAGITTA_M / unit_m)
    sorting = Sorting(drawn=drawn, words=Words(stated=kinds or {}, otherwise=kind), unit_m=unit_m, label_m=label_m)
    sorting.run()
    if not sorting.found:
        raise InputError(_nothing(document, sorting))
    faults = _faults(document, sorting.found)
    if not faults and known_length is None:
        _refuse_size(document, sorting.found)
    crs, factor, about_crs = _crs(document, unit_m)
    reading = Reading(
        records=tuple(_record(each, crs, factor) for each in sorting.found),
        notes=(*notes, *said, *about_crs, *_notes(sorting, opened)),
        notices=_notices(document, sorting),
        faults=faults,
    )
    return Drawing(reading=reading, unit_m=unit_m)


def _opened(document: Document) -> tuple[Any, list[str]]:
    try:
        import ezdxf
    except ImportError:
        raise InputError(
            document.fault(
                "a drawing, and the library that reads drawings is not installed",
                needed="the extra [dxf]",
                do_next="pip install 'siting[dxf]', or export the layers as GeoJSON, GeoPackage or shapefile",
            )
        ) from None
    reporter = logging.getLogger("ezdxf")
    if not reporter.handlers:
        # what the library thinks of a file belongs into notes, not onto the screen
        reporter.addHandler(logging.NullHandler())
    _refuse_crowd(document)
    try:
        opened, notes = _loaded(document, ezdxf)
    except InputError:
        raise
    except Exception as error:  # a file from a stranger may break a parser in any way
        raise InputError(_damaged(document, error)) from None
    return opened, notes


def _loaded(document: Document, ezdxf: Any) -> tuple[Any, list[str]]:
    data = document.data
    if b" Binary DXF\r\n\x1a\x00" in data[:40]:
        from ezdxf.document import Drawing as Opened
        from ezdxf.lldxf.tagger import binary_tags_loader

        opened = Opened.load(binary_tags_loader(data, errors="replace"))
        return opened, [f"binary drawing of version {opened.acad_release}"]
    from ezdxf.filemanagement import dxf_stream_info

    info = dxf_stream_info(io.StringIO(data[:200_000].decode("latin-1")))
    encoding, said = _encoding(data, info.encoding, is_old=info.version < "AC1021")
    # errors="replace": one bad letter in a name must not hide the wells
    opened = ezdxf.read(io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="replace"))
    return opened, [f"drawing of version {opened.acad_release}, letters as {encoding}{said}"]


def _encoding(data: bytes, stated: str, *, is_old: bool) -> tuple[str, str]:
    if data.isascii():
        return stated, ""
    if is_old and _decodes(data, "utf-8"):
        return "utf-8", f", although the drawing says {stated}: all of it reads as utf-8"
    if _decodes(data, stated):
        return stated, ""
    return stated, ", as the drawing says; letters that are none there are shown as �"


def _decodes(data: bytes, encoding: str) -> bool:
    try:
        data.decode(encoding)
    except UnicodeDecodeError:
        return False
    return True


_START = re.compile(rb"(?:\n[ \t]*0[ \t]*\r?\n|\0\0)([A-Z][A-Z0-9_]+)(?=[\r\n\0])")


def _refuse_crowd(document: Document) -> None:
    # counted before the whole file becomes objects: a name after the group code 0 starts an entity
    found = _START.finditer(document.data)
    sorts = Counter(match[1] == b"VERTEX" for match in found)
    entities, vertices = sorts[False], sorts[True]
    if entities > 2 * document.limits.features or vertices > document.limits.vertices:
        raise InputError(_too_many(document, f"{entities} entities and {vertices} vertices"))


def _too_many(document: Document, found: str) -> Fault:
    return document.fault(
        found,
        needed=f"at most {document.limits.features} things drawn, blocks spelled out",
        do_next="delete what does not belong to the site plan, or raise Limits.features",
    )


def _damaged(document: Document, error: Exception) -> Fault:
    reason = " ".join(str(error).split())[:120] or type(error).__name__
    return document.fault(
        f"the drawing cannot be read: {reason}",
        needed="a whole DXF file, R12 or later",
        do_next="open it in a drawing program, let it check and repair the drawing, and save it as DXF again",
    )


def _drawn(document: Document, opened: Any, *, sagitta: float) -> Drawn:
    try:
        return spelled_out(opened, sagitta=sagitta, most=document.limits.features)
    except TooMany:
        raise InputError(_too_many(document, f"more than {document.limits.features} things drawn")) from None
    except Exception as error:  # as above: entities are loaded lazily
        raise InputError(_damaged(document, error)) from None


def _extent(drawn: Drawn) -> tuple[float, float]:
    rings = [
        ring + side
        for shape in drawn.shapes
        for ring in shape.piece.rings
        for side in ((-shape.piece.radius, shape.piece.radius) if shape.piece.radius else (0.0,))
        if len(ring)
    ]
    if not rings:
        return 0.0, 0.0
    points = np.vstack(rings)
    points = points[np.isfinite(points).all(axis=1)]
    return (float(np.ptp(points[:, 0])), float(np.ptp(points[:, 1]))) if len(points) else (0.0, 0.0)


def _crs(document: Document, unit_m: float) -> tuple[str, float, tuple[str, ...]]:
    """The crs of the records, by what to divide metres for it, and notes."""
    if document.stated_crs:
        crs = horizontal_crs(document.stated_crs)
        if crs.is_geographic:
            raise InputError(
                document.fault(
                    f"crs = {document.stated_crs!r} for a drawing",
                    needed="a plane grid, or no crs and control points",
                    do_next="correct the crs: drawings hold lengths, not degrees",
                )
            )
        factor = float(crs.axis_info[0].unit_conversion_factor)
        return document.stated_crs, factor, (f"crs {document.stated_crs} from site.toml",)
    if document.assumed_crs:
        return PLAN, 1.0, (f"crs {document.assumed_crs} of the site not applied: a drawing has its own grid",)
    return PLAN, 1.0, ()


def _record(found: Found, crs: str, factor: float) -> Record:
    geometry = found.geometry if factor == 1.0 else shapely.transform(found.geometry, lambda xy: xy / factor)
    fields = fields_of(found.shape)
    if found.radius_m is not None:
        fields["radius_m"] = found.radius_m
    return Record(
        geometry=geometry,
        crs=crs,
        layer=found.shape.layer,
        row=found.shape.row,
        name=found.name,
        kind=found.kind,
        **fields,
    )


def _faults(document: Document, found: list[Found]) -> tuple[Fault, ...]:
    return tuple(
        document.fault(
            f"{each.kind} on layer {each.shape.layer!r}: a coordinate that is not a finite number",
            needed="numbers",
            do_next="draw it again or delete it",
            row=each.shape.row,
        )
        for each in found
        if not np.isfinite(shapely.get_coordinates(each.geometry)).all()
    )


def _refuse_size(document: Document, found: list[Found]) -> None:
    if len(found) < 2:
        return
    west, south, east, north = shapely.total_bounds(np.array([each.geometry for each in found], dtype=object))
    size_m = max(east - west, north - south)
    if not SMALLEST_M <= size_m <= LARGEST_M:
        raise InputError(
            document.fault(
                f"all {len(found)} features together are {size_m:.4g} m across",
                needed=f"a site of {SMALLEST_M:g} m to {LARGEST_M:g} m",
                do_next="correct the unit of the drawing, and state one length measured in both: "
                "known_length = { drawn = 12000, metres = 12.0 }; or delete things drawn far away",
            )
        )


def _by_layer(counted: Counter[tuple[str, str]]) -> list[str]:
    layers: dict[str, Counter[str]] = {}
    for (layer, sort), count in counted.items():
        layers.setdefault(layer, Counter())[sort] += count
    order = sorted(layers, key=lambda layer: (-layers[layer].total(), layer))
    told = [
        f"{layer!r}: " + ", ".join(f"{count} {sort}" for sort, count in sorted(layers[layer].items()))
        for layer in order[:SHOWN]
    ]
    rest = [layers[layer].total() for layer in order[SHOWN:]]
    return [*told, f"{len(rest)} more layers: {sum(rest)}"] if rest else told


def _nothing(document: Document, sorting: Sorting) -> Fault:
    blocks = sorted({shape.block for shape in sorting.drawn.shapes if shape.block})[:SHOWN]
    held = "; ".join(_by_layer(sorting.left_over())) or "no drawing in model space"
    return document.fault(
        f"no layer, block or writing of the drawing is a known kind (layers: {held}; "
        f"blocks: {', '.join(blocks) or 'none'})",
        needed="what the layers or blocks are",
        do_next=f"write for this file in site.toml: kinds = {{ {_mapping(sorting)} }}",
    )


def _mapping(sorting: Sorting) -> str:
    layers = dict.fromkeys(sorting.drawn.shapes[at].layer for at in sorting.left)
    asked = [(layer, kind) for layer in layers if (kind := sorting.words.suggested(layer))]
    return ", ".join(f'"{layer}" = "{kind}"' for layer, kind in asked[:10]) or '"<layer or block>" = "<kind>"'


def _notes(sorting: Sorting, opened: Any) -> list[str]:
    notes = [f"{count} {kind} by {word}" for (word, kind), count in sorted(sorting.by_word().items())]
    if sorting.labelled:
        notes.append(f"{sorting.labelled} names from writing within {sorting.label_m:g} m")
    if sorting.joined:
        notes.append(f"{sorting.joined} outlines closed from lines whose ends meet")
    if sorting.repeated:
        notes.append(f"{sorting.repeated} things drawn twice in one place taken once")
    notes += [f"left out on layer {each}" for each in _by_layer(sorting.left_over())]
    paper = {layout.name: len(layout) for layout in opened.layouts if layout.name != "Model"}
    notes += [f"paper space {name!r} left out: {count} entities" for name, count in paper.items() if count]
    used = {each.shape.layer for each in sorting.found}
    hidden = sorted(x.dxf.name for x in opened.layers if x.dxf.name in used and (x.is_off() or x.is_frozen()))
    if hidden:
        notes.append(f"layers that are switched off or frozen were read all the same: {', '.join(hidden)}")
    notes.append(f"arcs as chords within {SAGITTA_M * 1000:g} mm, heights ignored")
    return notes


def _notices(document: Document, sorting: Sorting) -> tuple[Notice, ...]:
    said: list[tuple[str, str, int | None]] = []
    if sorting.left:
        layers = Counter(sorting.drawn.shapes[at].layer for at in sorting.left)
        told = ", ".join(repr(layer) for layer, _ in layers.most_common(SHOWN))
        more = f" and {len(layers) - SHOWN} more" if len(layers) > SHOWN else ""
        asked = _mapping(sorting)
        said.append(
            (
                "layers-left-out",
                f"{len(sorting.left)} things drawn on layers {told}{more} have no known kind and were left out: "
                f"where one of them matters write kinds = {{ {asked} }}",
                None,
            )
        )
    for (layer, sort), count in sorted(sorting.drawn.lost.items()):
        if sorting.words.kind(layer):
            said.append(("not-usable", f"{count} {sort} on layer {layer!r} cannot be used", None))
    said += [
        ("external-drawing", f"the drawing {name!r} is only referred to: what it holds was not looked at", None)
        for name in sorting.drawn.external
    ]
    said += [
        ("kind-from-writing", f"{each.kind} from the writing {words!r} beside it", each.shape.row)
        for words, each in sorting.by_writing
    ]
    said += [
        (
            "writing-alone",
            f"the writing {text.words!r} at {text.ends[0][0]:.6g}, {text.ends[0][1]:.6g} (drawing units) stands by "
            "nothing that could be it: no feature was made",
            None,
        )
        for text in sorting.alone
    ]
    said += [
        ("outline-open", f"{each.kind} on layer {each.shape.layer!r} is drawn as an open line: it has no inside",
         each.shape.row)
        for each in sorting.found
        if "building" in vocabulary().kinds[each.kind].groups and each.geometry.geom_type == "LineString"
    ]  # fmt: skip
    return tuple(Notice(code=code, message=message, file=document.name, row=row) for code, message, row in said)
