"""GeoPackage 1.2 in WGS 84: a table a layer and sort of geometry."""

import tempfile
from collections.abc import Sequence
from pathlib import Path

from siting.frame import Frame
from siting.outputs.exchange_formats.geojson import in_degrees
from siting.outputs.exchange_formats.items import Item, Value

_SORTS = {"Point": "points", "LineString": "lines", "Polygon": "areas"}
MOMENT = "2000-01-01T00:00:00.000Z"
"Of the last change, which the format demands: fixed, so that the same input gives the same bytes."


def written(items: Sequence[Item], frame: Frame) -> bytes:
    """The items as one database."""
    import geopandas
    import pyogrio

    tables: dict[str, list[Item]] = {}
    for item in items:
        sort = _SORTS[item.geometry.geom_type.removeprefix("Multi")]
        tables.setdefault(f"{item.layer}_{sort}", []).append(item)
    before = pyogrio.get_gdal_config_option("OGR_CURRENT_DATE")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": MOMENT})
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "site.gpkg"
            for name, held in tables.items():
                frame_of_data = geopandas.GeoDataFrame(
                    _columns(held), geometry=[in_degrees(item.geometry, frame) for item in held], crs="EPSG:4326"
                )
                kind = {item.geometry.geom_type for item in held}
                promote = len(kind) > 1 or any(each.startswith("Multi") for each in kind)
                pyogrio.write_dataframe(frame_of_data, path, layer=name, driver="GPKG", promote_to_multi=promote)
            return path.read_bytes()
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": before})


def _columns(items: Sequence[Item]) -> dict[str, list[Value | None]]:
    keys = dict.fromkeys(["name", *(key for item in items for key in item.properties)])
    columns: dict[str, list[Value | None]] = {}
    for key in keys:
        cells: list[Value | None] = [item.name if key == "name" else item.properties.get(key) for item in items]
        known = [cell for cell in cells if cell is not None]
        # A column has one type: numbers beside words become words.
        if any(isinstance(cell, str) for cell in known):
            cells = [None if cell is None else str(cell) for cell in cells]
        elif any(isinstance(cell, bool) for cell in known) and None in cells:
            cells = [None if cell is None else str(cell).lower() for cell in cells]
        columns[key] = cells
    return columns
