"""From what a row or a file says of its accuracy to a standard uncertainty."""

from dataclasses import dataclass, field

from siting.io.records import Record
from siting.io.stated import Stated
from siting.io.values import is_blank, length_m, share
from siting.uncertainty import UNSTATED, combined, sigma_from_radius, sigma_from_step

RECEIVER_LEVEL = 0.68
"The share that phones mean by their accuracy radius, where nothing else is said (Android documentation, seen-2)."
EXACT = "exact"


@dataclass(slots=True)
class Accuracy:
    """The accuracy of one file's features; counts what had to be assumed."""

    stated: Stated
    default: str
    "Key of `UNSTATED`: what kind of source it is."
    unstated: int = 0
    not_positive: int = field(default=0)

    def sigma_m(self, record: Record, *, step_m: float) -> float:
        """Standard uncertainty per axis [m] of one record whose coordinates are written in steps of `step_m`.

        Raises ValueError when the record's own statement cannot be read.
        """
        radius, level = self._radius(record)
        if radius == EXACT:
            return 0.0
        return combined(sigma_from_radius(float(radius), level=level), sigma_from_step(step_m))

    def _radius(self, record: Record) -> tuple[float | str, float]:
        level = self.stated.accuracy_level or RECEIVER_LEVEL
        if not is_blank(record.accuracy_m):
            own = radius_of(record.accuracy_m)
            if own is not None:
                return own, level if is_blank(record.accuracy_level) else share(record.accuracy_level)
            self.not_positive += 1
        if self.stated.accuracy_m is not None:
            return self.stated.accuracy_m, level
        self.unstated += 1
        return UNSTATED[self.default]

    @property
    def notes(self) -> tuple[str, ...]:
        """What was assumed, in words."""
        said = []
        if self.not_positive:
            said.append(f"accuracy of 0 or less means unknown: {self.not_positive} features")
        if self.unstated:
            radius_m, level = UNSTATED[self.default]
            said.append(
                f"accuracy not stated for {self.unstated} features: taken as {radius_m:g} m holding "
                f"{level:.0%} of fixes ({_SORT[self.default]})"
            )
        return tuple(said)


_SORT = {
    "imagery": "points picked from imagery",
    "receiver": "phone or handheld receiver",
    "drawing": "half a millimetre at 1:500",
}


def radius_of(value: object) -> float | str | None:
    """A radius in metres, the word `exact`, or None where the value says that it is not known."""
    if isinstance(value, str) and value.strip().lower() == EXACT:
        return EXACT
    radius_m = length_m(value)
    return radius_m if radius_m > 0 else None
