"""What a site says of one of its files: a `[[source]]` table."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from siting.io.plan import Control


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """Accuracy, CRS and kinds that hold for every feature of a file that says nothing itself."""

    file: str
    accuracy_m: float | str | None = None
    "A radius, the word `exact`, or None."
    accuracy_level: float | None = None
    "The share of fixes that the radius holds."
    crs: str | None = None
    kind: str | None = None
    kinds: Mapping[str, str] = field(default_factory=dict)
    "Folded word or layer to kind."
    unit: str | None = None
    "Length of a drawing unit, as a word."
    known_length: tuple[float, float] | None = None
    "One length as drawn [drawing units], and as measured [m]."
    control: tuple[Control, ...] = ()
    "Points known on the drawing and on the ground."
