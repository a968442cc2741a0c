"""Everyday spellings of the columns a table or a set of properties may have.

English, French, Portuguese, Spanish and Swahili; case, accents and punctuation do not matter.
The first spelling found in a list wins, the others stay free attributes.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from siting.kinds import folded

PLACES = ("lat", "lon", "x", "y", "wkt")
"Roles that give a position; two columns for one of them are a fault, not a choice."

ROLES: Mapping[str, tuple[str, ...]] = {
    "kind": (
        "kind",
        "feature kind",
        "type",
        "feature type",
        "category",
        "class",
        "feature",
        "what",
        "genre",
        "categorie",
        "tipo",
        "categoria",
        "clase",
        "classe",
        "aina",
    ),
    "name": ("name", "nom", "nome", "nombre", "jina", "label", "title", "designation", "id", "no"),
    "lat": ("lat", "latitude", "latitud", "latitudo", "lat deg", "gps latitude", "latitude n"),
    "lon": ("lon", "long", "lng", "longitude", "longitud", "longitudo", "lon deg", "gps longitude", "longitude e"),
    "x": (
        "x",
        "x m",
        "easting",
        "eastings",
        "east",
        "est",
        "este",
        "leste",
        "mashariki",
        "abscisse",
        "easting m",
        "x coord",
        "x coordinate",
        "utm e",
        "utm x",
    ),
    "y": (
        "y",
        "y m",
        "northing",
        "northings",
        "north",
        "nord",
        "norte",
        "kaskazini",
        "ordonnee",
        "northing m",
        "y coord",
        "y coordinate",
        "utm n",
        "utm y",
    ),
    "wkt": ("wkt", "geometry", "geom", "geometry wkt", "wkt geom", "the geom"),
    "accuracy_m": (
        "accuracy m",
        "accuracy",
        "gps accuracy",
        "horizontal accuracy",
        "precision m",
        "precision",
        "precisao",
        "exactitude",
        "exactitud",
        "usahihi",
    ),
    # ten characters is all a shapefile keeps of a heading
    "accuracy_level": ("accuracy level", "accuracy l"),
    "status": ("status", "statut", "etat", "estado", "situacao", "hali"),
    "seen_on": (
        "seen on",
        "date seen",
        "date",
        "survey date",
        "surveyed on",
        "observed on",
        "vu le",
        "data",
        "fecha",
        "tarehe",
    ),
    "ground_level_m": (
        "ground level m",
        "ground lev",
        "ground level",
        "elevation m",
        "elevation",
        "altitude m",
        "altitude",
        "altitud",
    ),
    "radius_m": ("radius m", "radius", "rayon", "rayon m", "raio", "nusu kipenyo"),
    "level_m": ("level m", "water level m", "water level", "level", "niveau", "nivel"),
    "height_m": (
        "height m",
        "height",
        "z",
        "elevation m",
        "elevation",
        "ground level m",
        "ground level",
        "hauteur",
        "altura",
        "altitude",
    ),
}

FEATURE_ROLES = (
    "kind",
    "name",
    "lat",
    "lon",
    "x",
    "y",
    "wkt",
    "accuracy_m",
    "accuracy_level",
    "status",
    "seen_on",
    "ground_level_m",
    "radius_m",
)
PROPERTY_ROLES = tuple(role for role in FEATURE_ROLES if role not in PLACES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Headings:
    """Which heading is taken for what."""

    column: Mapping[str, str]
    "Role to the heading taken for it."
    doubled: Mapping[str, tuple[str, ...]]
    "Roles of position that more than one heading claims."

    @property
    def said(self) -> str:
        """What was taken for what, in words; nothing where every heading has its own name."""
        taken = [f"{heading!r} as {role}" for role, heading in self.column.items() if heading != role]
        return f"headings taken: {', '.join(taken)}" if taken else ""


def headings(names: Iterable[str], *, roles: tuple[str, ...] = FEATURE_ROLES) -> Headings:
    """The roles that headings play."""
    held: dict[str, list[str]] = {}
    for name in names:
        held.setdefault(folded(name), []).append(name)
    column: dict[str, str] = {}
    doubled: dict[str, tuple[str, ...]] = {}
    for role in roles:
        claims = [name for spelling in ROLES[role] for name in held.get(spelling, ())]
        claims = [name for name in claims if name not in column.values()]
        if claims:
            column[role] = claims[0]
        if len(claims) > 1 and role in PLACES:
            doubled[role] = tuple(claims)
    return Headings(column=column, doubled=doubled)


def attribute_name(heading: str) -> str:
    """The name a rule can ask for: lower case, words joined by underscores.

    >>> attribute_name("Casing (m)")
    'casing_m'
    """
    return re.sub(r"\W+", "_", heading.strip().lower()).strip("_")


def sorted_out(properties: Mapping[str, object], taken: Headings) -> dict[str, Any]:
    """Properties as the fields of a record: the roles by name, and `attributes` for the rest."""
    roles = {role: properties.get(heading) for role, heading in taken.column.items() if role not in PLACES}
    used = set(taken.column.values())
    free = {
        attribute_name(key): value
        for key, value in properties.items()
        if key not in used and value is not None and value != "" and attribute_name(key)
    }
    fields: dict[str, Any] = {**roles, "attributes": free}
    for role in ("kind", "name"):
        fields[role] = "" if fields.get(role) is None else word(fields[role])
    return fields


def word(value: object) -> str:
    """A cell as text; whole numbers without the point a spreadsheet adds.

    >>> word(7.0)
    '7'
    """
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip()
