"""Files for other programs: what stands (`site.*`) and the answer (`places.*`), in open formats.

They are apart so that the first can be read again as a site: a place that is only proposed must not count as standing.
"""

from collections.abc import Iterable
from importlib import import_module

from siting.assess import Assessment
from siting.errors import OutputError
from siting.outputs.exchange_formats.items import place_items, site_items

FORMATS = ("geojson", "gpkg", "kml", "gpx", "dxf", "csv")
WITHOUT_EARTH = ("dxf",)
"Formats for plans that have no place on earth; the others hold longitude and latitude."


def exchange_files(assessment: Assessment, formats: Iterable[str]) -> dict[str, bytes]:
    """The contents of the files, by name; a format without anything to say of places writes the site alone.

    Raises OutputError where a format needs an extra that is not installed, or a place on earth.
    """
    made: dict[str, bytes] = {}
    frame = assessment.site.frame
    standing, answer = site_items(assessment), place_items(assessment)
    for each in dict.fromkeys(formats):
        if not frame.on_earth and each not in WITHOUT_EARTH:
            raise OutputError.of(
                f"{each} holds longitude and latitude, and this plan has no place on earth",
                needed="control points for the plan, or a format in metres",
                do_next=f"add control points in site.toml, or export {' or '.join(WITHOUT_EARTH)}",
            )
        writer = import_module(f"siting.outputs.exchange_formats.{each}")
        made[f"site.{each}"] = writer.written(standing, frame)
        if answer:
            made[f"places.{each}"] = writer.written(answer, frame)
    return made
