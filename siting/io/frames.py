"""GeoDataFrames as tables and as sites: what is in memory already goes the same way as a file."""

import json
from pathlib import Path
from typing import Any

import shapely

from siting.errors import InputError, SitingError
from siting.io.read import SITE_FILE, _examined_site, _taken_apart
from siting.io.records import Document
from siting.io.rows import GEOMETRY, PART_ROWS, Rows, needs
from siting.io.site_file import parsed
from siting.io.stated import Stated
from siting.site import Site


def rows_of_frame(frame: Any, name: str) -> Rows:
    """A GeoDataFrame as an open table; its geometries are in its own CRS."""
    try:
        import pyarrow as pa
    except ImportError as error:
        raise needs("screen", error) from None
    crs = _crs(frame, name)
    plain = frame.drop(columns=frame.geometry.name)
    columns = {str(key): _texts_or_numbers(plain[key], pa) for key in plain.columns}
    table = pa.table(columns) if columns else None
    geometry = pa.array(shapely.to_wkb(frame.geometry.to_numpy()), pa.binary())
    table = pa.table({GEOMETRY: geometry}) if table is None else table.append_column(GEOMETRY, geometry)
    return Rows(
        name=name, headings=tuple(columns), crs=crs, geometry=GEOMETRY,
        parts=iter(table.to_batches(max_chunksize=PART_ROWS)),
    )  # fmt: skip


def _texts_or_numbers(column: Any, pa: Any) -> Any:
    try:
        return pa.array(column, from_pandas=True)
    except (pa.ArrowInvalid, pa.ArrowTypeError, pa.ArrowNotImplementedError):
        return pa.array([None if value is None or value != value else str(value) for value in column], pa.string())


def _crs(frame: Any, name: str) -> str:
    if frame.crs is None:
        raise InputError.of(
            f"the frame of {name} has no crs",
            needed="the coordinate reference system of its geometries",
            do_next="set it with frame.set_crs(...)",
        )
    authority = frame.crs.to_authority()
    if authority in (("OGC", "CRS84"), ("EPSG", "4326")):
        return "EPSG:4326"
    return ":".join(authority) if authority else str(frame.crs.to_wkt())


def site_of_frame(frame: Any, name: str) -> Site:
    """The features of one site, a row each; raises InputError with every fault at once."""
    crs = _crs(frame, name)
    kept = [str(key) for key in frame.columns if key != frame.geometry.name]
    features = [
        {
            "type": "Feature",
            "properties": {key: _plain(cell) for key, cell in zip(kept, cells, strict=True)},
            "geometry": None if shape is None else json.loads(shapely.to_geojson(shape)),
        }
        for cells, shape in zip(
            frame.drop(columns=frame.geometry.name).itertuples(index=False, name=None), frame.geometry, strict=True
        )
    ]  # fmt: skip
    whole: dict[str, Any] = {"type": "FeatureCollection", "features": features}
    if crs != "EPSG:4326":
        whole["crs"] = {"type": "name", "properties": {"name": crs}}
    document = Document(path=Path(f"{name}.geojson"), name=name, data=json.dumps(whole).encode())
    opened = _taken_apart(document, Stated(file=name))
    return _examined_site([opened], {}, list[SitingError](), name=name, said=parsed("", file=SITE_FILE))


def _plain(cell: Any) -> Any:
    if cell is None or cell != cell:
        return None
    if isinstance(cell, bool | int | float | str):
        return cell
    item = getattr(cell, "item", None)
    return item() if item is not None else str(cell)
