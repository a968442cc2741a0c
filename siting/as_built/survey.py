"""From measured pegs to what stands: how far off each is, the outlines, and the feature that rules are asked of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from siting.as_built.built import Measured, built_feature
from siting.as_built.circle import POINT_SIGMA_M, Circle, fit_circle
from siting.as_built.deviation import TOLERANCE_M, Deviation, Shift, deviations, shift
from siting.as_built.position import Position
from siting.as_built.rectangle import Rectangle, fit_rectangle
from siting.errors import InputError
from siting.installation import Installation
from siting.site import Feature
from siting.uncertainty import Verdict, coverage_factor

Point2 = tuple[float, float]
CORNERS = ("E1", "E2", "E3", "E4")


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What stands, as measured."""

    positions: tuple[Position, ...]
    pit: Measured
    enclosure: Rectangle | None
    "None where its corners were not measured; it is then taken as planned, round the measured pit."
    deviations: tuple[Deviation, ...]
    "Of the pit's middle as fitted, and of every other peg on the plan but those of the rim."
    shift: Shift | None
    feature: Feature
    cautions: tuple[str, ...]


def built(
    positions: Sequence[Position],
    planned: Mapping[str, Point2],
    installation: Installation,
    *,
    name: str,
    source: str,
    confidence: float,
    tolerance_m: float = TOLERANCE_M,
) -> Built:
    """The pit and the enclosure as built, from positions of their pegs.

    positions: rim points are called R1, R2, ... (as many as were measured), corners E1 to E4.
    planned: pegs of the plan by name; installation: as planned, turned as planned.
    Raises InputError where the rim was not measured, or a point is not on the plan.
    """
    at = {p.name: p for p in positions}
    rim = [p for p in positions if p.name[:1] == "R" and p.name[1:].isdigit()]
    pit = _pit(rim, installation)
    corners = [at[name] for name in CORNERS if name in at]
    enclosure = _rectangle(corners) if len(corners) == len(CORNERS) else None
    outside = {p.name: p.xy for p in positions if p not in rim and p.name != "P"}
    measured = {"P": (pit.x_m, pit.y_m), **outside}
    # One receiver, one morning, one corner: what pegs share does not average out over them.
    sigmas = {**{p.name: p.sigma_m for p in positions}, "P": max(pit.sigma_m, *(p.sigma_m for p in rim))}
    off = tuple(
        _shown(one, confidence)
        for one in deviations(planned, measured, tolerance_m=tolerance_m, sigma_m=sigmas, confidence=confidence)
    )
    feature = built_feature(installation, name=name, source=source, pit=pit, enclosure=enclosure)
    feature = replace(feature, sigma_m=max(feature.sigma_m, *(p.sigma_m for p in (*rim, *corners))))
    moved = shift(planned, measured) if len(measured) > 1 else None
    return Built(
        positions=tuple(positions),
        pit=pit,
        enclosure=enclosure,
        deviations=off,
        shift=moved,
        feature=feature,
        cautions=(*_cautions(positions, pit, enclosure, moved), *_coarse(off)),
    )


def _shown(off: Deviation, confidence: float) -> Deviation:
    """A point is called off only where it was measured so; a coarse measurement shows neither that it is nor is not.

    The chance that a coarse place lies within a small tolerance is small wherever the peg truly stands.
    """
    seen_off = off.distance_m - off.tolerance_m >= coverage_factor(confidence) * off.sigma_m
    return off if off.verdict is not Verdict.FAILS or seen_off else replace(off, verdict=Verdict.TOO_CLOSE)


def _coarse(off: Sequence[Deviation]) -> tuple[str, ...]:
    unsure = [d for d in off if d.verdict is Verdict.TOO_CLOSE]
    if not unsure:
        return ()
    worst = max(unsure, key=lambda d: d.sigma_m)
    return (
        f"{', '.join(d.name for d in unsure)}: known to {worst.sigma_m:.2f} m (standard uncertainty), too coarse to "
        f"tell whether they stand within {worst.tolerance_m:g} m; tape them from corners of the plan",
    )


def _pit(rim: Sequence[Position], installation: Installation) -> Measured:
    sigma_m = max((p.sigma_m for p in rim), default=0.0) or POINT_SIGMA_M
    needed = 3 if installation.pit.is_disc else 4
    if len(rim) < needed:
        raise InputError.of(
            f"{len(rim)} points of the pit's rim",
            needed=f"{needed} at least, called R1, R2, ..., to know where the pit is",
            do_next="measure further points round the rim; four or more show a wrong one"
            if needed == 3
            else "measure all four corners of the pit",
        )
    points = [p.xy for p in rim]
    return fit_circle(points, sigma_m=sigma_m) if installation.pit.is_disc else fit_rectangle(points, sigma_m=sigma_m)


def _rectangle(corners: Sequence[Position]) -> Rectangle:
    sigma_m = max(p.sigma_m for p in corners) or POINT_SIGMA_M
    return fit_rectangle([p.xy for p in corners], sigma_m=sigma_m)


def _cautions(
    positions: Sequence[Position], pit: Measured, enclosure: Rectangle | None, moved: Shift | None
) -> tuple[str, ...]:
    cautions = [caution for p in positions for caution in p.cautions]
    if isinstance(pit, Circle):
        cautions += [f"pit rim: {caution}" for caution in pit.cautions]
    if enclosure is None:
        cautions.append("the enclosure's corners were not all measured: it is taken as planned, round the measured pit")
    if moved is not None and moved.mirrored:
        cautions.append("the pegs stand as in a mirror: they were set out with left and right exchanged")
    return tuple(cautions)
