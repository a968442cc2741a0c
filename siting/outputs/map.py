"""`map.html`: the map people work with, one file that opens with no network and asks for nothing.

Layers and geometry are drawn by folium on Leaflet; every text is set by autoescaped HTML or from data, never as
markup; a content policy in the page forbids it to fetch anything.
"""

from collections import Counter
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable

from siting.assess import Assessment
from siting.outputs.page import answers, rows, symbols
from siting.outputs.page.beneath import contours_of, flow_of, rose_drawing
from siting.outputs.page.data import embedded, page_data
from siting.outputs.page.drawing import bar, plan, symbol
from siting.outputs.page.layers import PREFIX, feature_style, hatches, is_point, map_parts
from siting.outputs.page.window import as_box, window
from siting.outputs.zones import Zone, zones
from siting.site import Feature, Status

POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; "
    "base-uri 'none'; form-action 'none'"
)
SCRIPTS = ("plane", "exchange", "furniture", "writing", "overlays", "tools", "trial", "sheet")
"In the order in which each needs those before it."
METHOD = (
    "Distances are horizontal, from nearest edge to nearest edge, and printed rounded down. "
    "A separation meets its limit when the probability that the true distance keeps it is at least the confidence "
    "asked for, fails when that is at most the complement, and is too close to call between. "
    "A rule whose kind of feature was neither recorded nor attested absent is not assessed."
)


def map_page(assessment: Assessment) -> str:
    """The whole page as text."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined
    from markupsafe import Markup

    folder = files("siting.outputs") / "page"
    numbers = rows.cited(assessment)
    groups = rows.groups(assessment, numbers)
    bounds = window(assessment)
    drawn = _zones(assessment)
    element, script = map_parts(assessment, drawn, bounds_m=bounds)
    environment = Environment(
        loader=FunctionLoader(lambda name: _text(folder / name)),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    finding = assessment.finding
    return environment.get_template("page.html").render(
        policy=POLICY,
        leaflet_css=Markup(_leaflet_css()),
        leaflet_js=Markup(_leaflet_js()),
        leaflet_licence=Markup(_text(files("siting.outputs") / "leaflet" / "LICENSE")),
        page_css=Markup(_text(folder / "page.css")),
        scripts=Markup("".join(_text(folder / f"{name}.js") for name in SCRIPTS)),
        map_element=Markup(element),
        map_script=Markup(script),
        hatches=Markup(symbols.patterns(PREFIX, hatches(assessment), scale=1.0)),
        data=Markup(embedded(page_data(assessment, groups, numbers, drawn))),
        plan=Markup(plan(assessment)),
        bar=bar(assessment),
        a=assessment,
        site=assessment.site,
        finding=finding,
        verdict=str(assessment.verdict),
        css=rows.CLASSES,
        marks=rows.MARKS,
        groups=groups,
        counts=_counts(groups),
        cited=tuple(numbers.values()),
        proposed=any(f.status is Status.PROPOSED for f in assessment.site.features),
        closed=any(f.status is Status.CLOSED for f in assessment.site.features),
        key=tuple(_key(assessment.site.features)),
        zones=[(number, z, _zone_text(z)) for number, z in enumerate(drawn)],
        places=[answers.place(p, assessment) for p in (finding.placed if finding else ())],
        compromise=answers.compromise(assessment),
        arrangement=answers.arrangement(assessment),
        size=answers.size(assessment),
        mendings=answers.mendings(assessment),
        terrain=answers.terrain(assessment),
        rose=Markup(rose_drawing(assessment.terrain.rose)) if assessment.terrain.rose else "",
        water=contours_of(assessment),
        flows=flow_of(assessment) is not None,
        heights=len(assessment.site.ground.spot_heights),
        enclosures=any(f.enclosure is not None for f in assessment.site.features),
        walked=finding is not None and any(p.route for p in finding.placed),
        reserved=finding is not None and any(p.reserve for p in finding.placed),
        closing=finding is not None and any(p.no_well for p in finding.placed),
        method=METHOD,
        weights=rows.WEIGHTS,
    )


def _text(file: Traversable) -> str:
    return file.read_text("utf-8")


def _leaflet_js() -> str:
    script = _text(files("siting.outputs") / "leaflet" / "leaflet.js")
    return script.partition("//# sourceMappingURL")[0]


def _leaflet_css() -> str:
    """The style sheet without its pictures, none of which this page shows."""
    import re

    sheet = _text(files("siting.outputs") / "leaflet" / "leaflet.css")
    return re.sub(r"url\([^)]*\)", "none", sheet)


def _zones(assessment: Assessment) -> tuple[Zone, ...]:
    if assessment.finding is None:
        return ()
    return zones(assessment.finding.demands.requirements, within=as_box(window(assessment)))


def _zone_text(zone: Zone) -> str:
    least, largest = zone.limits_m
    metres = f"{least:.4g} m" if least == largest else f"{least:.4g} to {largest:.4g} m"
    if zone.is_where_it_must_be:
        return f"{zone.rule.id}: within {metres}"
    return f"{zone.rule.id}: {metres}" if largest else zone.rule.id


def _counts(groups: tuple[rows.Group, ...]) -> list[tuple[str, str, str, int]]:
    """For each verdict: class, word, mark and how many rows."""
    held = Counter(line.verdict for group in groups for line in group.lines)
    return [(rows.CLASSES[v], str(v), rows.MARKS[v], held[v]) for v in rows.ORDER]


def _key(features: tuple[Feature, ...]) -> Iterator[dict[str, str]]:
    """What is on the map, class by class: a swatch, the label and the kinds it stands for."""
    from markupsafe import Markup

    present = {symbols.symbol_of(f.kind).key for f in features}
    for drawn in symbols.SYMBOLS:
        if drawn.key not in present:
            continue
        own = [f for f in features if symbols.symbol_of(f.kind) is drawn]
        yield {
            "swatch": Markup(_swatch(drawn, own)),
            "label": drawn.label,
            "kinds": ", ".join(sorted({f.kind for f in own})),
            "count": str(len(own)),
        }


def _swatch(drawn: symbols.Symbol, own: list[Feature]) -> str:
    """The symbol, the line or the hatched area as it stands on the map."""
    parts = []
    outlined = next((f for f in own if not is_point(f)), None)
    if outlined is not None:
        style = feature_style(outlined)
        areal = outlined.geometry.geom_type in ("Polygon", "MultiPolygon") and drawn.key != "boundary"
        fill = style.get("fillColor", "none") if drawn.hatch else "none"
        dash = f' stroke-dasharray="{drawn.dash}"' if drawn.dash else ""
        shape = "M2 3H30V19H2Z" if areal else "M2 11H30"
        parts.append(f'<path d="{shape}" fill="{fill}" stroke="{drawn.colour}" stroke-width="{drawn.weight}"{dash}/>')
    if any(is_point(f) for f in own):
        parts.append(symbol(drawn, 16.0 if outlined is None else 42.0, 11.0, 0.95))
    width = 32 if len(parts) < 2 else 54
    return f'<svg width="{width}" height="22" viewBox="0 0 {width} 22" aria-hidden="true">{"".join(parts)}</svg>'
