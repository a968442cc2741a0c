"""The map itself: a Leaflet map without tiles on the site's own plane, x east and y north in metres."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from siting.assess import Assessment
from siting.outputs.page.symbols import GROUND, INK, WASTE, pattern_id, symbol_of
from siting.outputs.page.thinning import thinned_inward, thinned_outward, thinned_to, tolerance_m
from siting.outputs.zones import Zone
from siting.site import Feature, Status

PREFIX = "h"
"Of the ids of the hatches that the map uses."
MIN_ZOOM = -6
"A pixel is 64 m."
MAX_ZOOM = 7
"128 pixels a metre; a web map reaches this between its levels 24 and 25."
EXACT_DIGITS = 4
"Of the metres that the page reckons with: a tenth of a millimetre."
MOST_CORNERS = 7000
"Of the ground left, and of all zones together: about 120 kB of the page each."
_PANES = (
    ("zones", 410), ("ground", 415), ("water", 417), ("features", 420), ("walks", 425), ("places", 430), ("lines", 440)
)  # fmt: skip


def hatches(assessment: Assessment) -> tuple[tuple[str, str], ...]:
    """Every hatch and colour on this map."""
    used = {(s.hatch, s.colour) for s in (symbol_of(f.kind) for f in assessment.site.features) if s.hatch}
    return tuple(sorted(used | {("ground", GROUND), ("ground-sure", GROUND), ("keep-out", WASTE)}))


def map_parts(
    assessment: Assessment, zones: Sequence[Zone], *, bounds_m: tuple[float, float, float, float]
) -> tuple[str, str]:
    """The element that holds the map, and the script that fills it."""
    import folium
    from branca.element import MacroElement
    from jinja2 import Template

    class Sheet(folium.Map):
        """A map without anything fetched: no tiles, no scripts, no style sheets from elsewhere."""

        default_js = []  # noqa: RUF012  # the library declares it so
        default_css = []  # noqa: RUF012  # as above

    # Spelt otherwise these two would be of the tiles, of which there are none.
    levels: Any = {"minZoom": MIN_ZOOM, "maxZoom": MAX_ZOOM}
    x, y = bounds_m[:2]
    by_m = tolerance_m(bounds_m)
    page_map = Sheet(
        location=[y, x], zoom_start=0, tiles=None, crs="Simple", zoom_control=False,
        zoom_snap=0.1, zoom_delta=0.5, wheel_px_per_zoom_level=120, zoom_animation=False, fade_animation=False,
        marker_zoom_animation=False, inertia=False, attribution_control=False,
        **levels,
    )  # fmt: skip
    for name, height in _PANES:
        folium.map.CustomPane(name, z_index=height).add_to(page_map)
    names: dict[str, str] = {}
    layers = (
        ("zones", _collection(_zones(zones, by_m)), False),
        ("ground", _collection(_ground(assessment, by_m)), True),
        ("features", _collection(_features(assessment), digits=EXACT_DIGITS), True),
        ("places", _collection(_places(assessment)), True),
    )
    held = {}
    for name, data, shown in layers:
        group = folium.FeatureGroup(name=name, show=shown).add_to(page_map)
        held[name] = folium.GeoJson(data, name=name, pane=name, smooth_factor=0).add_to(group)

    mount: Any = MacroElement()  # type: ignore[no-untyped-call]  # branca has no types
    mount._template = Template(
        "{% macro script(this, kwargs) %}siting.mount({{ this._parent.get_name() }}, "
        "{ {% for key, name in this.names.items() %}{{ key }}: {{ name }}, {% endfor %} });{% endmacro %}"
    )
    mount._name = "mount"
    page_map.add_child(mount)
    root: Any = page_map.get_root()
    # The library names its elements at random; the same input has to give the same bytes.
    for number, element in enumerate(_walk(root)):
        element._id = f"{number}"
    names |= {key: layer.get_name() for key, layer in held.items()}
    mount.names = names
    root.render()
    return root.html.render(), root.script.render()


def _walk(element: Any) -> Iterator[Any]:
    yield element
    for child in element._children.values():
        yield from _walk(child)


_Part = tuple[BaseGeometry, dict[str, object]]


def _collection(parts: Iterable[_Part], *, digits: int = 2) -> dict[str, object]:
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "geometry": rounded_geojson(geometry, digits=digits), "properties": properties}
            for geometry, properties in parts
        ],
    }


def rounded_geojson(geometry: BaseGeometry, *, digits: int) -> dict[str, object]:
    """A geometry of the plane as GeoJSON in metres."""
    import json

    import numpy as np

    return json.loads(shapely.to_geojson(shapely.transform(geometry, lambda xy: np.round(xy, digits) + 0.0)))


def _hatched(hatch: str, colour: str) -> dict[str, object]:
    return {"fill": True, "fillColor": f"url(#{pattern_id(PREFIX, hatch, colour)})", "fillOpacity": 1.0}


def is_point(feature: Feature) -> bool:
    """Whether a feature is drawn by its symbol rather than by its outline."""
    return feature.geometry.geom_type in ("Point", "MultiPoint")


def _features(assessment: Assessment) -> Iterator[_Part]:
    """Areas first and lines over them; points are drawn by their symbols."""
    numbered = [(i, f) for i, f in enumerate(assessment.site.features) if not is_point(f)]
    for number, feature in sorted(numbered, key=lambda pair: (-pair[1].geometry.area, pair[0])):
        yield feature.geometry, {"i": number, "style": feature_style(feature)}


def feature_style(feature: Feature) -> dict[str, object]:
    """How the outline of a feature is drawn: hatched by its class, dashed by its status."""
    symbol = symbol_of(feature.kind)
    dash = symbol.dash
    if feature.status is Status.PROPOSED:
        dash = "7 4"
    elif feature.status is Status.CLOSED:
        dash = "2 4"
    style: dict[str, object] = {"color": symbol.colour, "weight": symbol.weight, "opacity": 1.0}
    if dash:
        style["dashArray"] = dash
    areal = feature.geometry.geom_type in ("Polygon", "MultiPolygon")
    if areal and symbol.hatch:
        style |= _hatched(symbol.hatch, symbol.colour)
    elif areal and symbol.key != "boundary":
        style |= {"fill": True, "fillColor": symbol.colour, "fillOpacity": 0.04}
    else:
        style |= {"fill": False}
    return style


def _ground(assessment: Assessment, by_m: float) -> Iterator[_Part]:
    if assessment.finding is None:
        return
    ground = assessment.finding.ground
    drawn = thinned_to((ground.nominal, ground.confident), thinned_inward, by_m=by_m, most_corners=MOST_CORNERS)
    for name, geometry, hatch, dash in zip(
        ("nominal", "confident"), drawn, ("ground", "ground-sure"), ("5 4", ""), strict=True
    ):
        if not geometry.is_empty:
            outline = {"color": GROUND, "weight": 1.0, "opacity": 0.9, "interactive": False}
            style = outline | _hatched(hatch, GROUND) | ({"dashArray": dash} if dash else {})
            yield geometry, {"ground": name, "style": style}


def _places(assessment: Assessment) -> Iterator[_Part]:
    finding = assessment.finding
    if finding is None:
        return
    for number, placed in enumerate(finding.placed):
        c, drawn = placed.candidate, placed.installation
        for outline, style in (
            (drawn.enclosure, {"weight": 1.4, "dashArray": "6 3", "fillColor": "#fff", "fillOpacity": 0.7}),
            (drawn.pit, {"weight": 1.6, "fillColor": INK, "fillOpacity": 0.75}),
        ):
            yield outline.drawn_at(c.x_m, c.y_m, c.orientation_deg), {"place": number, "style": {"color": INK, **style}}


def _zones(zones: Sequence[Zone], by_m: float) -> Iterator[_Part]:
    forbidden = [z for z in zones if not z.is_where_it_must_be]
    drawn = thinned_to([z.geometry for z in forbidden], thinned_outward, by_m=by_m, most_corners=MOST_CORNERS)
    outlines = dict(zip(map(id, forbidden), drawn, strict=True))
    for number, zone in enumerate(zones):
        colour, hatch = (GROUND, "ground") if zone.is_where_it_must_be else (WASTE, "keep-out")
        style = {"color": colour, "weight": 1.2, "dashArray": "3 4", "opacity": 0.9} | _hatched(hatch, colour)
        yield outlines.get(id(zone), zone.geometry), {"zone": number, "style": style}
