"""What water-bearing ground is made of: how fast it conducts water, and how much of it the water moves in."""

import difflib
from dataclasses import dataclass
from math import sqrt

from siting.errors import InputError

_BOUWER = "Bouwer, Groundwater Hydrology (1978), Table 2.1 (seen-2)"
_MORRIS = "Morris & Johnson (1967), in Woessner & Poeter (2020), Table 3 (seen-2)"
_JOHNSON = "specific yield, Johnson (1967), USGS WSP 1662-D (seen-2)"
_ARGOSS_K = "BGS CR/01/142 (2001), permeability table (seen-2)"
_ARGOSS_N = "BGS CR/01/142 (2001), porosity table (from memory)"
_DOMENICO = (
    "Domenico & Schwartz (1990), Table 3.2, silt or loess 1e-9 to 2e-5 m/s "
    "(values seen-2; the attribution is from memory)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One kind of ground, with the published ranges of its two numbers and where each was read."""

    name: str
    conductivity_m_per_day: tuple[float, float]
    conductivity_source: str
    porosity: tuple[float, float]
    "Effective porosity, as a share of 1."
    porosity_source: str
    distance_protects: bool = True
    "False where water runs in cracks: no distance can be relied on there."
    note: str = ""

    @property
    def middle_conductivity_m_per_day(self) -> float:
        """Geometric mean of the range: conductivity scatters by factors, not by sums (project judgement)."""
        low, high = self.conductivity_m_per_day
        return sqrt(low * high)

    @property
    def middle_porosity(self) -> float:
        """Arithmetic mean of the range (project judgement)."""
        return sum(self.porosity) / 2

    @property
    def fastest(self) -> tuple[float, float]:
        """Conductivity [m/day] and porosity that give the longest travel distance of the ranges."""
        return self.conductivity_m_per_day[1], self.porosity[0]


_CRACKS = "water runs in cracks at tens to hundreds of metres a day (BGS CR/01/142, from memory)"

MATERIALS: tuple[Material, ...] = (
    Material(
        name="clay",
        conductivity_m_per_day=(0.01, 0.2),
        conductivity_source=f"{_BOUWER}, clay soils near the surface",
        porosity=(0.01, 0.18),
        porosity_source=_MORRIS,
        note="dry clay cracks: what is said here holds for clay that stays moist (common practice)",
    ),
    Material(
        name="deep clay",
        conductivity_m_per_day=(1e-8, 1e-2),
        conductivity_source=f"{_BOUWER}, deep clay beds",
        porosity=(0.01, 0.18),
        porosity_source=_MORRIS,
    ),
    Material(
        name="loam",
        conductivity_m_per_day=(0.1, 1.0),
        conductivity_source=f"{_BOUWER}, loam soils near the surface",
        porosity=(0.03, 0.12),
        porosity_source=f"{_JOHNSON}, sandy clay",
    ),
    Material(
        name="silt",
        conductivity_m_per_day=(1e-9 * 86400, 2e-5 * 86400),
        conductivity_source=_DOMENICO,
        porosity=(0.01, 0.40),
        porosity_source=_MORRIS,
        note="BGS CR/01/142 gives 0.01 to 0.1 m/day (seen-2)",
    ),
    Material(
        name="fine silty sand",
        conductivity_m_per_day=(0.1, 10.0),
        conductivity_source=_ARGOSS_K,
        porosity=(0.1, 0.2),
        porosity_source=_ARGOSS_N,
    ),
    Material(
        name="fine sand",
        conductivity_m_per_day=(1.0, 5.0),
        conductivity_source=_BOUWER,
        porosity=(0.01, 0.46),
        porosity_source=_MORRIS,
    ),
    Material(
        name="medium sand",
        conductivity_m_per_day=(5.0, 20.0),
        conductivity_source=_BOUWER,
        porosity=(0.16, 0.46),
        porosity_source=_MORRIS,
        note="BGS CR/01/142 gives 10 to 100 m/day (seen-2)",
    ),
    Material(
        name="coarse sand",
        conductivity_m_per_day=(20.0, 100.0),
        conductivity_source=_BOUWER,
        porosity=(0.18, 0.43),
        porosity_source=_MORRIS,
    ),
    Material(
        name="sand and gravel",
        conductivity_m_per_day=(5.0, 100.0),
        conductivity_source=_BOUWER,
        porosity=(0.20, 0.35),
        porosity_source=f"{_JOHNSON}, gravelly sand",
        note="35 Illinois Administrative Code 671 App. A takes porosity 0.15 (seen)",
    ),
    Material(
        name="gravel",
        conductivity_m_per_day=(100.0, 1000.0),
        conductivity_source=_BOUWER,
        porosity=(0.13, 0.44),
        porosity_source=f"{_MORRIS}, fine to coarse gravel together",
    ),
    Material(
        name="till",
        conductivity_m_per_day=(0.001, 0.1),
        conductivity_source=f"{_BOUWER}, mixtures of clay, sand and gravel",
        porosity=(0.06, 0.16),
        porosity_source=f"{_JOHNSON}, silty and sandy till",
    ),
    Material(
        name="weathered rock",
        conductivity_m_per_day=(0.001, 10.0),
        conductivity_source=_BOUWER,
        porosity=(0.05, 0.2),
        porosity_source=f"{_ARGOSS_N}, weathered basement",
        note="only where it is soft and not cracked; BGS CR/01/142 gives 0.01 to 10 m/day (seen-2)",
    ),
    Material(
        name="sandstone",
        conductivity_m_per_day=(0.001, 1.0),
        conductivity_source=_BOUWER,
        porosity=(0.06, 0.18),
        porosity_source=(
            "35 Illinois Administrative Code 671 App. A, 0.06 (seen); "
            "Freeze & Cherry (1979), Table 2.4, middle 0.18 (seen-2)"
        ),
        distance_protects=False,
        note="joints carry water faster than the table says (project judgement)",
    ),
    Material(
        name="limestone",
        conductivity_m_per_day=(0.01, 1.0),
        conductivity_source=f"{_BOUWER}, carbonate rock with secondary porosity",
        porosity=(0.001, 0.36),
        porosity_source=f"{_MORRIS}, 0 to 0.36, with 0.001 in place of 0",
        distance_protects=False,
        note=_CRACKS,
    ),
    Material(
        name="fractured rock",
        conductivity_m_per_day=(0.001, 300.0),
        conductivity_source=_BOUWER,
        porosity=(0.01, 0.01),
        porosity_source=_ARGOSS_N,
        distance_protects=False,
        note=_CRACKS,
    ),
)
"""Published ranges of hydraulic conductivity and effective porosity."""


def material(name: str) -> Material:
    """The material of that name, whatever its case and spacing.

    >>> material("Medium Sand").conductivity_m_per_day
    (5.0, 20.0)
    """
    known = {entry.name: entry for entry in MATERIALS}
    wanted = " ".join(name.casefold().replace("-", " ").replace("_", " ").split())
    if wanted in known:
        return known[wanted]
    close = difflib.get_close_matches(wanted, known, n=1, cutoff=0.6)
    meant = f"did you mean {close[0]!r}? Else choose" if close else "choose"
    raise InputError.of(
        f"the material {name!r}",
        needed="a material of the table",
        do_next=f"{meant} one of: {', '.join(known)}; or give conductivity_m_per_day and porosity",
    )
