"""Which CRS holds where a format does not carry its own."""

from collections.abc import Sequence

from shapely.geometry.base import BaseGeometry

from siting.errors import Fault, InputError
from siting.io.crs import horizontal_crs
from siting.io.records import WGS84, Document


def crs_of_plain(
    document: Document, geometries: Sequence[BaseGeometry], *, named: str | None = None, degrees: bool = False
) -> tuple[str, tuple[str, ...]]:
    """The CRS of coordinates that may be degrees or metres, and notes.

    What the site says of this file wins, then what the file says (`named`), then WGS 84 if the numbers
    can be degrees, then what the site says of all its files.
    `degrees`: the headings said latitude and longitude.
    """
    if document.stated_crs:
        return _stated(document, named=named, degrees=degrees)
    if named:
        return named, (f"crs from the file: {named}",)
    assumed = document.assumed_crs
    if degrees or not _beyond_degrees(geometries):
        if assumed and horizontal_crs(assumed).is_geographic:
            return assumed, (f"crs {assumed}, as the site says for files that name none",)
        return WGS84, ("crs not stated: taken as WGS 84",) if not degrees else ()
    if assumed:
        return assumed, (f"crs {assumed}, as the site says for files that name none",)
    raise InputError(crs_missing(document, "coordinates too large for degrees, and no crs"))


def _stated(document: Document, *, named: str | None, degrees: bool) -> tuple[str, tuple[str, ...]]:
    stated = document.stated_crs or WGS84
    if degrees and not horizontal_crs(stated).is_geographic:
        raise InputError(
            document.fault(
                f"columns of latitude and longitude, but crs = {stated!r} is a plane grid",
                needed="degrees with a geographic crs, or metres under the headings x and y",
                do_next="correct the crs of this source in site.toml, or the headings",
            )
        )
    if named and named != stated:
        return stated, (f"crs {stated} from site.toml, although the file says {named[:60]}",)
    return stated, (f"crs {stated} from site.toml",)


def _beyond_degrees(geometries: Sequence[BaseGeometry]) -> bool:
    return any(abs(bound) > 360.0 for geometry in geometries for bound in geometry.bounds)


def crs_missing(document: Document, found: str) -> Fault:
    """The fault of a file whose coordinates have no known system."""
    return document.fault(
        found,
        needed="the coordinate reference system of the coordinates",
        do_next='write crs = "EPSG:..." for this file in site.toml, or give --assume-crs EPSG:...',
    )
