"""Many places on one page: data first, then a map and a list of them without any network."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files

from siting.uncertainty import Verdict

POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; "
    "base-uri 'none'; form-action 'none'"
)
REFUSED = "refused"
"A place that could not be judged at all."
LOOKS = {
    Verdict.FAILS: ("fails", "✕", "#7c2f1b", 6.0),
    Verdict.TOO_CLOSE: ("close", "?", "#7a5a00", 5.0),
    Verdict.NOT_ASSESSED: ("unlooked", "–", "#4d4a45", 4.0),
    Verdict.MEETS: ("meets", "✓", "#2d6048", 3.5),
    REFUSED: ("refused", "!", "#22282b", 4.0),
}
"Class, mark, colour, and radius in pixels: size and mark tell verdicts apart without colour."
ORDER = tuple(LOOKS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place on the page."""

    lon: float | None
    lat: float | None
    verdict: str
    cells: tuple[str, ...]
    "What the list shows, the name first."


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """Counts of one area by verdict, and how much of its data is suspect."""

    name: str
    counts: Mapping[str, int]
    suspect: int

    @property
    def count(self) -> int:
        """How many in all."""
        return sum(self.counts.values())

    @property
    def suspect_text(self) -> str:
        """The share of suspect data in words."""
        return f"{self.suspect} ({100.0 * self.suspect / self.count:.1f} %)" if self.count else "0"


def page(
    title: str, subtitle: str, *, columns: Sequence[str], places: Sequence[Place], areas: Sequence[Area],
    texts: Sequence[str], cautions: Sequence[str],
) -> str:  # fmt: skip
    """The whole page as text; the first area is the total of all."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    folder, leaflet = files("siting.outputs") / "overview", files("siting.outputs") / "leaflet"
    shown = [v for v in ORDER if areas[0].counts.get(v) or any(p.verdict == v for p in places)]
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    text = folder.joinpath("page.html").read_text("utf-8")
    return environment.from_string(text).render(
        policy=POLICY,
        title=title,
        subtitle=subtitle,
        columns=columns,
        texts=texts,
        cautions=cautions,
        verdicts=[
            {"word": str(v), "css": LOOKS[v][0], "mark": LOOKS[v][1], "count": areas[0].counts.get(v, 0)} for v in shown
        ],
        areas=[
            {
                "name": area.name,
                "counts": [area.counts.get(v, 0) for v in shown],
                "all": area.count,
                "suspect": area.suspect_text,
            }
            for area in areas
        ],
        data=Markup(_embedded(_data(shown, columns, places))),
        leaflet_css=Markup(_without_pictures(leaflet.joinpath("leaflet.css").read_text("utf-8"))),
        leaflet_js=Markup(leaflet.joinpath("leaflet.js").read_text("utf-8").partition("//# sourceMappingURL")[0]),
        licence=Markup(leaflet.joinpath("LICENSE").read_text("utf-8").replace("--", "- -")),
        css=Markup(folder.joinpath("page.css").read_text("utf-8")),
        script=Markup(folder.joinpath("page.js").read_text("utf-8")),
    )


def _data(shown: Sequence[str], columns: Sequence[str], places: Sequence[Place]) -> dict[str, object]:
    return {
        "verdicts": [[LOOKS[v][0], LOOKS[v][1], str(v), LOOKS[v][2], LOOKS[v][3]] for v in shown],
        "columns": list(columns),
        "rows": [
            [
                None if p.lon is None else round(p.lon, 6),
                None if p.lat is None else round(p.lat, 6),
                shown.index(p.verdict),
                *p.cells,
            ]
            for p in places
        ],
    }


def _embedded(value: object) -> str:
    from siting.outputs.page.data import embedded

    return embedded(value)


def _without_pictures(sheet: str) -> str:
    import re

    return re.sub(r"url\([^)]*\)", "none", sheet)
