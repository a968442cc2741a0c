"""How large a wanted installation is when nobody says: defaults of the project, each with its reason, all inputs."""

from siting.installation import Dimensions
from siting.site import Request

PIT_DIAMETER_M = 1.0
"A concrete ring of about 1 m: placenta-pit specification, Health Care Without Harm / UNDP, document 575 (seen)."
PIT_WALL_M = 0.23
"One brick round the pit (*common practice*)."
ENCLOSURE_M = (4.0, 3.0)
"Room to stand beside the pit, open the door and turn (project judgement)."


def dimensions(request: Request) -> Dimensions:
    """The sizes of a wanted installation: what the request says, else the defaults above."""
    if request.pit_m is not None:
        length, width = request.pit_m
    else:
        length, width = request.pit_diameter_m or PIT_DIAMETER_M, None
    enclosure = request.enclosure_m or ENCLOSURE_M
    return Dimensions(
        pit_length_m=length,
        pit_width_m=width,
        wall_m=PIT_WALL_M if request.wall_m is None else request.wall_m,
        depth_m=request.pit_depth_m,
        enclosure_length_m=enclosure[0],
        enclosure_width_m=enclosure[1],
    )
