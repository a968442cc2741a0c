"""What was built as a feature that stands, so that the rules are asked again of what is there."""

from siting.as_built.circle import Circle
from siting.as_built.rectangle import Rectangle
from siting.installation import Installation
from siting.site import Feature, Status

Measured = Circle | Rectangle


def built_feature(
    planned: Installation, *, name: str, source: str, pit: Measured, enclosure: Measured | None = None
) -> Feature:
    """The planned installation where it was measured; `installation.standing` makes it one that rules are asked of.

    source: the source whose plan the measured places belong to; what it shares stays with its features.
    enclosure: when none was measured, the planned one round the measured pit, turned as planned; where the plan left
    its direction free it has to be measured.
    Its uncertainty is the larger of those of the two outlines.
    """
    if enclosure is None and planned.turns:
        raise ValueError("an enclosure whose direction the plan leaves free has to be measured")
    round_it = (
        enclosure.outline.drawn_at(0.0, 0.0, 0.0)
        if enclosure
        else planned.enclosure.drawn_at(pit.x_m, pit.y_m, planned.orientation_deg or 0.0)
    )
    return Feature(
        kind=planned.kind,
        name=name,
        geometry=pit.outline.geometry,
        radius_m=pit.outline.radius_m or None,
        enclosure=round_it,
        source=source,
        sigma_m=max(pit.sigma_m, enclosure.sigma_m if enclosure else 0.0),
        status=Status.EXISTING,
        attributes={key: value for key, value in planned.attributes.items() if key not in ("kind", "status")},
    )
