"""How big a pit must be for what goes into it, and the ground it takes.

Volumes in cubic metres, depths below ground in metres.
"""

from dataclasses import dataclass
from math import ceil, inf, pi, sqrt

from siting.errors import InputError
from siting.usual import checked, not_negative, positive

DAYS_PER_YEAR = 365.25
LITRES_PER_BIRTH = 4.6
"""Gross litres that one birth brings into a placenta pit: no published figure was found.

Calibrated, see `placenta_pit`; it is an input, to be replaced by what the facility measures.
"""
RETAINED_SHARE = 0.10
"""About 90 % is liquid and soaks away.

Source: Health Care Without Harm / UNDP GEF, *Technical Specifications: Placenta Pit*, doc. 575 (seen).
"""
REST_YEARS = 2.0
"Before a full placenta pit is opened again (same document, seen)."
FREEBOARD_M = 0.5
"Left free below the top: latrines are given up at that level (Wikipedia, Pit latrine, citing WHO; seen)."
PLACENTA_DIAMETER_M = 1.0
"A standard concrete ring (doc. 575, seen)."
MAX_DIAMETER_M = 1.5
"Wider hand-dug pits collapse more easily: Open University HEAT, latrine session (seen)."
MIN_PLACENTA_DEPTH_M = 1.5
"The least depth in use for the smallest facility (common practice)."
DEPTH_STEP_M = 0.5
"Depths are rounded up to steps, as people dig and as rings come (common practice)."
SLUDGE_M3_PER_PERSON_YEAR = 0.06
"autonopedia.org, Latrines (seen); WHO 1992, Table 5.3, degradable cleaning materials in a dry pit (from memory)."
MAX_COLLAR_M = 1.0
"A raised pit above this needs stairs to load it (project judgement)."


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """What a pit must be."""

    diameter_m: float
    "Internal."
    depth_m: float
    "From ground to bottom, freeboard included, rounded up."
    volume_m3: float
    "Kept by the time the pit is full."
    least_depth_m: float
    "Before rounding up and before the least depth in use."
    life_years: float
    because: tuple[str, ...] = ()
    "The numbers it rests on, each with where it comes from."


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """Another way to hold the same where the depth is limited."""

    what: str
    fits: bool
    diameter_m: float
    depth_m: float
    "Below ground."
    pits: int = 1
    collar_m: float = 0.0
    "Height of the pit's top above ground."
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """A depth from which one country's guidance wants the sides of an excavation held up or cut back."""

    depth_m: float
    from_exactly: bool
    "Whether the depth itself already counts."
    country: str
    source: str


SUPPORT: tuple[Support, ...] = (
    Support(
        depth_m=1.2,
        from_exactly=False,
        country="United Kingdom",
        source="Institution of Civil Engineers guidance on trial pits (seen-2)",
    ),
    Support(
        depth_m=1.2,
        from_exactly=False,
        country="Canada",
        source="house-building guide, back-slope above 1.2 m (seen)",
    ),
    Support(
        depth_m=1.5,
        from_exactly=False,
        country="New Zealand",
        source="WorkSafe, safety around excavations (seen)",
    ),
    Support(
        depth_m=1.52,
        from_exactly=True,
        country="United States",
        source="29 CFR 1926.652, 5 ft, and at any depth with signs of collapse (seen)",
    ),
)
"Shallower pits collapse too; these are the depths at which guidance stops leaving it to judgement."


def support_wanted(pit_depth_m: float) -> tuple[Support, ...]:
    """The guidance whose depth an excavation reaches: its sides are to be held up or cut back there."""
    positive(pit_depth_m=pit_depth_m)
    return tuple(
        rule for rule in SUPPORT if pit_depth_m > rule.depth_m or (rule.from_exactly and pit_depth_m == rule.depth_m)
    )


def cylinder_m3(diameter_m: float, *, depth_m: float) -> float:
    """Volume of a round pit [m3]."""
    positive(diameter_m=diameter_m)
    not_negative(depth_m=depth_m)
    return pi / 4 * diameter_m**2 * depth_m


def prismoid_m3(top_m2: float, *, middle_m2: float, base_m2: float, depth_m: float) -> float:
    """Volume of a pit with sloping sides [m3], h / 6 (A_top + 4 A_middle + A_base).

    Valid for: plane or ruled sides. Source: prismoidal formula (common practice).

    >>> round(prismoid_m3(6.0, middle_m2=3.75, base_m2=2.0, depth_m=2.0), 6)
    7.666667
    """
    not_negative(top_m2=top_m2, middle_m2=middle_m2, base_m2=base_m2, depth_m=depth_m)
    return depth_m / 6 * (top_m2 + 4 * middle_m2 + base_m2)


def kept_m3(litres: float, *, retained_share: float) -> float:
    """What stays in a pit [m3] of the litres that went in.

    Valid for: 0 < retained_share <= 1; ground that lets the rest soak away.
    """
    not_negative(litres=litres)
    if not 0 < retained_share <= 1:
        raise InputError.of(
            f"a retained share of {retained_share:g}",
            needed="a share above 0, at most 1",
            do_next="write 0.10 for ten percent",
        )
    return litres * retained_share / 1000.0


def placenta_pit(
    births_per_day: float,
    *,
    life_years: float = REST_YEARS,
    diameter_m: float = PLACENTA_DIAMETER_M,
    litres_per_birth: float = LITRES_PER_BIRTH,
    retained_share: float = RETAINED_SHARE,
    freeboard_m: float = FREEBOARD_M,
) -> Sizing:
    """Depth of a placenta pit: what is kept over its life, over the floor, plus freeboard, rounded up.

    depth = round up to 0.5 m of (births/day x 365.25 x life x litres x share / 1000 / floor + freeboard),
    at least 1.5 m.
    The life is at least the 2 years that a full pit rests, so that two pits can take turns.
    Derivation of the default litres: in use are, for an inside diameter of 1.0 m, depths of at least 1.5 m
    for 2 births a day, 3.5 m for 6, 4.5 m for 9 and 5.5 m for 11 (*common practice*).
    With a life of 2 years, 10 % retained and 0.5 m of freeboard, every value above 4.48 and up to 4.77 litres
    gives all four rows exactly; 4.6 lies in the middle of that range.
    It keeps 0.46 litres a birth, less than the mass of one placenta (545 g, s 107 g, Eur. J. Obstet. Gynecol.
    Reprod. Biol. 2006, doi 10.1016/j.ejogrb.2005.10.032; seen): decay over two years is counted in.
    Valid for: ground that lets the liquid soak away; tight clay or a lined pit keeps more (retained_share up
    to 1).

    >>> [placenta_pit(births).depth_m for births in (2, 6, 9, 11)]
    [1.5, 3.5, 4.5, 5.5]
    """
    litres = (
        checked("births_per_day", births_per_day)
        * DAYS_PER_YEAR
        * checked("life_years", life_years)
        * checked("litres_per_birth", litres_per_birth)
    )
    volume_m3 = kept_m3(litres, retained_share=retained_share)
    because = (
        f"{litres_per_birth:g} litres a birth"
        + (", calibrated on depths in use, no published source" if litres_per_birth == LITRES_PER_BIRTH else ""),
        f"{retained_share:.0%} of it stays, the rest soaks away (HCWH doc. 575)",
        f"{freeboard_m:g} m left free at the top",
        f"filled over {life_years:g} years; a full pit rests {REST_YEARS:g} years (HCWH doc. 575)",
    )
    return _round_pit(volume_m3, diameter_m, freeboard_m, life_years, MIN_PLACENTA_DEPTH_M, because)


def latrine_pit(
    users: float,
    *,
    life_years: float,
    diameter_m: float = 1.2,
    rate_m3_per_person_year: float = SLUDGE_M3_PER_PERSON_YEAR,
    freeboard_m: float = FREEBOARD_M,
) -> Sizing:
    """Depth of a pit latrine that is filled in `life_years`, V = N P R plus freeboard.

    N years, P users, R sludge rate [m3 per person and year].
    Valid for: lives of 2 years and more; for shorter ones the rate is half as much again (from memory).
    Source: Franceys, Pickford & Reed, *A guide to the development of on-site sanitation*, WHO 1992, ch. 5 and 8
    (from memory); rate 0.06 at autonopedia.org, Latrines (seen).
    """
    positive(rate_m3_per_person_year=rate_m3_per_person_year)
    volume_m3 = checked("life_years", life_years) * checked("users", users) * rate_m3_per_person_year
    because = (
        f"{rate_m3_per_person_year:g} m3 a person and year",
        f"{freeboard_m:g} m left free at the top",
    )
    return _round_pit(volume_m3, diameter_m, freeboard_m, life_years, 0.0, because)


def latrine_life_years(volume_m3: float, *, users: float, rate_m3_per_person_year: float) -> float:
    """Years until a latrine has taken up `volume_m3`: V / (P R)."""
    positive(volume_m3=volume_m3, rate_m3_per_person_year=rate_m3_per_person_year)
    return volume_m3 / (checked("users", users) * rate_m3_per_person_year)


def filled_pit(
    litres_per_month: float,
    *,
    life_years: float,
    diameter_m: float,
    retained_share: float = 1.0,
    freeboard_m: float = FREEBOARD_M,
) -> Sizing:
    """Depth of a sharps, ash or burial pit from what goes into it each month.

    litres_per_month: as it lies in the pit, soil or lime cover included.
    retained_share: 1 for what neither soaks away nor rots, such as sharps and ash.
    Source: volume over floor (own).
    """
    litres = checked("litres_per_month", litres_per_month) * 12 * checked("life_years", life_years)
    volume_m3 = kept_m3(litres, retained_share=retained_share)
    because = (f"{litres_per_month:g} litres a month", f"{freeboard_m:g} m left free at the top")
    return _round_pit(volume_m3, diameter_m, freeboard_m, life_years, 0.0, because)


def alternatives(
    size: Sizing,
    *,
    allowed_depth_m: float,
    freeboard_m: float = FREEBOARD_M,
    max_diameter_m: float = MAX_DIAMETER_M,
) -> tuple[Alternative, ...]:
    """Ways to hold the same where the water table allows no more than `allowed_depth_m` below ground.

    Wider and shallower, two pits side by side, and a pit raised above ground; each says whether it fits.
    Valid for: round pits; the collar of a raised pit must hold liquid.
    """
    positive(allowed_depth_m=allowed_depth_m)
    return (
        _wider(size, allowed_depth_m, freeboard_m, max_diameter_m),
        _two(size, allowed_depth_m, freeboard_m, max_diameter_m),
        _raised(size, allowed_depth_m),
    )


def _wider(size: Sizing, allowed_m: float, freeboard_m: float, widest_m: float) -> Alternative:
    diameter_m, fits = _diameter_for(size.volume_m3, allowed_m - freeboard_m, widest_m)
    return Alternative(
        what="wider and shallower",
        fits=fits,
        diameter_m=max(size.diameter_m, diameter_m),
        depth_m=min(size.depth_m, allowed_m),
        because=f"inside diameter at most {widest_m:g} m: wider hand-dug pits collapse more easily (HEAT)",
    )


def _two(size: Sizing, allowed_m: float, freeboard_m: float, widest_m: float) -> Alternative:
    diameter_m, fits = _diameter_for(size.volume_m3 / 2, allowed_m - freeboard_m, widest_m)
    return Alternative(
        what="two pits",
        fits=fits,
        diameter_m=max(size.diameter_m, diameter_m),
        depth_m=min(size.depth_m, allowed_m),
        pits=2,
        because="each holds half, and both rest together (own)",
    )


def _raised(size: Sizing, allowed_m: float) -> Alternative:
    collar_m = max(0.0, round(size.depth_m - allowed_m, 9))
    return Alternative(
        what="raised pit",
        fits=collar_m <= MAX_COLLAR_M,
        diameter_m=size.diameter_m,
        depth_m=min(size.depth_m, allowed_m),
        collar_m=collar_m,
        because=f"watertight collar at most {MAX_COLLAR_M:g} m above ground, so that it can be loaded "
        "(project judgement)",
    )


def _round_pit(
    volume_m3: float,
    diameter_m: float,
    freeboard_m: float,
    life_years: float,
    least_m: float,
    because: tuple[str, ...],
) -> Sizing:
    checked("freeboard_m", freeboard_m)
    floor_m2 = pi / 4 * checked("pit_diameter_m", diameter_m) ** 2
    needed_m = volume_m3 / floor_m2 + freeboard_m
    return Sizing(
        diameter_m=diameter_m,
        depth_m=max(least_m, _up(needed_m, DEPTH_STEP_M)),
        volume_m3=volume_m3,
        least_depth_m=needed_m,
        life_years=life_years,
        because=because,
    )


def _diameter_for(volume_m3: float, filled_m: float, widest_m: float) -> tuple[float, bool]:
    """Diameter [m] that holds a volume, in steps of 0.1 m, and whether it keeps the widest; else the widest."""
    needed_m = sqrt(4 * volume_m3 / (pi * filled_m)) if filled_m > 0 else inf
    if needed_m > widest_m:
        return widest_m, False
    return min(_up(needed_m, 0.1), widest_m), True


def _up(value_m: float, step_m: float) -> float:
    """Rounded up to whole steps; what lies above a step by rounding of the arithmetic only stays on it."""
    return round(ceil(value_m / step_m - 1e-9) * step_m, 9)
