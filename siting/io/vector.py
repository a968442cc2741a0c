"""GeoPackage, shapefile and FlatGeobuf, through GDAL with every other driver switched off."""

import os
import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from siting.errors import Fault, InputError
from siting.io.headings import PROPERTY_ROLES, headings, sorted_out
from siting.io.plain import crs_missing
from siting.io.records import Document, Reading, Record

# GDAL takes drivers by content, not by name: a text that describes another file, or an address, would be followed.
# Skipping works only before pyogrio is first imported in a process.
# Where somebody imported it before, a file is still only opened once its first bytes are those of its format.
_SKIPPED = (
    "ADBC,AIVector,AVCBin,AVCE00,AmigoCloud,CSV,CSW,Carto,DGN,DXF,EDIGEO,EEDA,ESRIJSON,Elasticsearch,"
    "GDALG,GML,GPSBabel,GPX,GTFS,GeoJSON,GeoJSONSeq,GeoRSS,HTTP,Idrisi,JML,JSONFG,KML,LIBKML,LVBAG,"
    "MBTiles,MEM,MVT,MapML,MiraMonVector,NGW,OAPIF,ODS,OGCAPI,OGR_GMT,OGR_PDS,OGR_VRT,OSM,"
    "OpenFileGDB,PCIDSK,PDF,PDS4,PGDUMP,PLSCENES,PMTiles,S57,SQLite,SXF,Selafin,TopoJSON,VDV,VFK,"
    "VICAR,WAsP,WFS,XLSX,MapInfo File"
)


def _pyogrio() -> Any:
    before = os.environ.get("OGR_SKIP")
    os.environ["OGR_SKIP"] = _SKIPPED
    try:
        import pyogrio
        import pyogrio.raw
    finally:
        if before is None:
            del os.environ["OGR_SKIP"]
        else:
            os.environ["OGR_SKIP"] = before
    return pyogrio


def read(document: Document) -> Reading:
    """The records of all layers that have geometries."""
    pyogrio = _pyogrio()
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        try:
            layers = [_layer(document, pyogrio, str(name), kind) for name, kind in pyogrio.list_layers(document.path)]
        except _failures(pyogrio.errors) as error:
            reason = str(error).splitlines()[0][:160] if str(error) else "no reason given"
            raise InputError(
                document.fault(
                    f"the file cannot be read: {reason}",
                    needed="a whole GeoPackage, shapefile (with .shx and .dbf beside it) or FlatGeobuf",
                    do_next="copy all of its files again, or export it again",
                )
            ) from None
    notes = [note for layer in layers for note in layer.notes] + [f"GDAL says: {each.message}"[:200] for each in said]
    return Reading(
        records=tuple(record for layer in layers for record in layer.records),
        notes=tuple(dict.fromkeys(notes)),
        faults=tuple(fault for layer in layers for fault in layer.faults),
    )


def _failures(errors: Any) -> tuple[type[Exception], ...]:
    return (
        errors.DataSourceError,
        errors.DataLayerError,
        errors.FeatureError,
        errors.FieldError,
        errors.GeometryError,
        errors.CRSError,
        UnicodeDecodeError,
    )


def _layer(document: Document, pyogrio: Any, layer: str, kind: str | None) -> Reading:
    if kind is None:
        return Reading(notes=(f"layer {layer!r} has no geometries and was not read",))
    if pyogrio.read_info(document.path, layer=layer)["features"] > document.limits.features:
        raise InputError(_too_many(document, layer))
    meta, _, geometry, columns = pyogrio.raw.read(document.path, layer=layer)
    crs, notes = _crs(document, layer, meta["crs"])
    taken = headings(list(meta["fields"]), roles=PROPERTY_ROLES)
    notes += [f"layer {layer!r}: {taken.said}"] if taken.said else []
    rows = _rows(meta["fields"], columns, len(geometry))
    shapes = shapely.from_wkb(geometry, on_invalid="ignore")
    records: list[Record] = []
    faults: list[Fault] = []
    for row, (shape, properties) in enumerate(zip(shapes, rows, strict=True), start=1):
        if shape is None or shape.is_empty:
            faults.append(_no_shape(document, layer, row))
            continue
        fields = sorted_out(properties, taken)
        records.extend(
            Record(geometry=part, crs=crs, layer=layer, row=row, hints=(layer,), **fields) for part in _parts(shape)
        )
    return Reading(records=tuple(records), notes=tuple(notes), faults=tuple(faults))


def _crs(document: Document, layer: str, held: str | None) -> tuple[str, list[str]]:
    if document.stated_crs:
        if held and held != document.stated_crs:
            return document.stated_crs, [f"crs {document.stated_crs} from site.toml, although the file has its own"]
        return document.stated_crs, [f"crs {document.stated_crs} from site.toml"]
    if held:
        return held, []
    if document.assumed_crs:
        return document.assumed_crs, [f"crs {document.assumed_crs}, as the site says for files that name none"]
    raise InputError(crs_missing(document, f"layer {layer!r} names no coordinate reference system"))


def _rows(names: Any, columns: list[np.ndarray], count: int) -> Iterator[dict[str, object]]:
    for row in range(count):
        yield {
            str(name): value
            for name, column in zip(names, columns, strict=True)
            if (value := _plain(column[row])) is not None
        }


def _plain(value: object) -> object:
    """A cell as a Python value; None for nothing."""
    if isinstance(value, np.datetime64):
        return None if np.isnat(value) else str(value)
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or value != value or value == "":
        return None
    return value if isinstance(value, bool | int | float | str) else str(value)


def _parts(shape: Any) -> Iterator[Any]:
    if shape.geom_type != "GeometryCollection":
        yield shape
        return
    for part in shape.geoms:
        yield from _parts(part)


def _no_shape(document: Document, layer: str, row: int) -> Fault:
    return document.fault(
        f"layer {layer!r}: feature {row} has no geometry that can be used",
        needed="a point, line or polygon",
        do_next="draw it again or remove it",
        row=row,
    )


def _too_many(document: Document, layer: str) -> Fault:
    return document.fault(
        f"more than {document.limits.features} features in layer {layer!r}",
        needed=f"at most {document.limits.features} features in one file",
        do_next="cut out the part around the site, or raise Limits.features",
    )
