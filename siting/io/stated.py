"""What a site says of one of its files: a `[[source]]` table."""

from collections.abc import Mapping
from dataclasses import dataclass, field


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
