"""The ground that a pit takes: its walls, its enclosure with room to work, its apron, and the strip to dig from."""

from dataclasses import dataclass

from siting.usual import checked, not_negative


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundTaken:
    """Outer sizes of a round pit and of the rectangle around it."""

    pit_outer_diameter_m: float
    apron_diameter_m: float
    enclosure_length_m: float
    "Outside, along the line from the door to the pit."
    enclosure_width_m: float
    "Outside, across it."
    working_length_m: float
    "With the strip to dig and build from on both sides."
    working_width_m: float
    reasons: tuple[str, ...]


def outline_dimensions(
    internal_diameter_m: float,
    *,
    wall_m: float = 0.23,
    enclosure_wall_m: float = 0.15,
    door_m: float = 0.9,
    standing_m: float = 1.2,
    passage_m: float = 0.5,
    apron_m: float = 0.5,
    working_strip_m: float = 1.0,
) -> GroundTaken:
    """Outer sizes [m] of a pit and its enclosure, with the reason of every allowance.

    wall_m: of the pit, one brick long (*common practice*);
    enclosure_wall_m: a block wall (*common practice*);
    door_m: clear width of the door, which swings inward (project judgement);
    standing_m: between door side and pit, for one person with a bucket who turns (project judgement);
    the door's own swing counts where it is wider;
    passage_m: beside and behind the pit, for a person sideways (project judgement);
    apron_m: paved round the pit so that rain and splashes run off (project judgement);
    working_strip_m: outside the enclosure, for spoil and digging; 0.61 m is kept free of spoil in the
    United States (29 CFR 1926.651, seen-2), the rest is room to walk (project judgement).
    Source: addition (own).
    """
    pit_m = checked("pit_diameter_m", internal_diameter_m) + 2 * checked("wall_m", wall_m)
    checked("wall_m", enclosure_wall_m)
    checked("door_m", door_m)
    not_negative(standing_m=standing_m, passage_m=passage_m, apron_m=apron_m, working_strip_m=working_strip_m)
    front_m = max(standing_m, door_m)
    # The apron lies inside the enclosure, so the passages are at least as broad as it.
    side_m = max(passage_m, apron_m)
    length_m = 2 * enclosure_wall_m + max(front_m, apron_m) + pit_m + side_m
    width_m = 2 * enclosure_wall_m + max(pit_m + 2 * side_m, door_m)
    return GroundTaken(
        pit_outer_diameter_m=pit_m,
        apron_diameter_m=pit_m + 2 * apron_m,
        enclosure_length_m=length_m,
        enclosure_width_m=width_m,
        working_length_m=length_m + 2 * working_strip_m,
        working_width_m=width_m + 2 * working_strip_m,
        reasons=(
            f"pit wall {wall_m:g} m and enclosure wall {enclosure_wall_m:g} m (common practice if not given)",
            f"{front_m:g} m from the door to the pit: standing room {standing_m:g} m, door swing {door_m:g} m",
            f"{side_m:g} m beside and behind the pit: passage {passage_m:g} m, apron {apron_m:g} m",
            f"strip of {working_strip_m:g} m outside, for spoil and digging",
        ),
    )
