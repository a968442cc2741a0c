"""How large a wanted installation is: sized from what goes into it, the rest defaults of the project, all inputs."""

from dataclasses import dataclass

from siting import pits
from siting.errors import InputError
from siting.ground_taken import outline_dimensions
from siting.installation import Dimensions
from siting.kinds import Vocabulary
from siting.pits import Sizing
from siting.site import Request
from siting.usual import checked

PIT_DIAMETER_M = 1.0
"A concrete ring of about 1 m: placenta-pit specification, Health Care Without Harm / UNDP, document 575 (seen)."
PIT_WALL_M = 0.23
"One brick round the pit (*common practice*)."
LATRINE_YEARS = 5.0
"Life a latrine pit is sized for: 3 to 5 years, Open University HEAT, latrine session (seen)."
WELL_DIAMETER_M = 1.2
"A dug well wide enough for a person to work in (*common practice*)."
_WATER_POINTS = ("well", "borehole")


def can_be_placed(kind: str, words: Vocabulary) -> bool:
    """Whether a place can be looked for: an installation, or a well or borehole among installations."""
    return words.is_installation(kind) or kind in _WATER_POINTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """The sizes of a wanted installation, how its depth came about, and why the ground it takes is what it is."""

    dimensions: Dimensions
    sizing: Sizing | None
    reasons: tuple[str, ...]


def size(request: Request) -> Size:
    """Sizes of a wanted installation: what the request says, else from its use, else the defaults above.

    Raises InputError for sizes that nobody digs, with the reading that was probably meant.
    """
    for quantity in ("pit_diameter_m", "pit_depth_m", "wall_m", "births_per_day"):
        if (value := getattr(request, quantity)) is not None:
            checked(quantity, value)
    for quantity in ("pit_m", "enclosure_m"):
        for each_m in getattr(request, quantity) or ():
            checked(quantity, each_m)
    sizing = _sizing(request)
    length_m, width_m = request.pit_m or (request.pit_diameter_m or _diameter(request, sizing), None)
    wall_m = _wall(request)
    taken = outline_dimensions(max(length_m, width_m or 0.0), wall_m=wall_m or PIT_WALL_M)
    enclosure = request.enclosure_m or (taken.enclosure_length_m, taken.enclosure_width_m)
    _refuse_to_stick_out(enclosure, (length_m + 2.0 * wall_m, (width_m or length_m) + 2.0 * wall_m))
    depth_m = request.pit_depth_m if request.pit_depth_m is not None else sizing.depth_m if sizing else None
    return Size(
        dimensions=Dimensions(
            pit_length_m=length_m,
            pit_width_m=width_m,
            wall_m=wall_m,
            depth_m=depth_m,
            enclosure_length_m=enclosure[0],
            enclosure_width_m=enclosure[1],
        ),
        sizing=sizing,
        reasons=(*(sizing.because if sizing else ()), *(taken.reasons if request.enclosure_m is None else ())),
    )


def _refuse_to_stick_out(enclosure_m: tuple[float, float], pit_m: tuple[float, float]) -> None:
    if all(outer >= inner for outer, inner in zip(sorted(enclosure_m), sorted(pit_m), strict=True)):
        return
    raise InputError.of(
        f"an enclosure of {enclosure_m[0]:g} x {enclosure_m[1]:g} m round a pit of {pit_m[0]:g} x {pit_m[1]:g} m "
        "with its walls",
        needed="an enclosure that holds the pit",
        do_next="give enclosure_m as length and width over all, in metres, or leave it out",
    )


def _sizing(request: Request) -> Sizing | None:
    """What the use of the pit asks of it; None where the request does not tell the use."""
    across = {"diameter_m": request.pit_diameter_m} if request.pit_diameter_m is not None else {}
    if request.kind == "placenta pit" and request.births_per_day is not None:
        return pits.placenta_pit(request.births_per_day, **across)
    if request.kind == "pit latrine" and request.users is not None:
        return pits.latrine_pit(request.users, life_years=LATRINE_YEARS, **across)
    return None


def _diameter(request: Request, sizing: Sizing | None) -> float:
    if request.kind in _WATER_POINTS:
        return WELL_DIAMETER_M
    return sizing.diameter_m if sizing else PIT_DIAMETER_M


def _wall(request: Request) -> float:
    if request.wall_m is not None:
        return request.wall_m
    return 0.0 if request.kind in _WATER_POINTS else PIT_WALL_M
