"""The separations that the sheet dimensions: of the first place, else of what was arranged or stands."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, Point

from siting.assess import Assessment
from siting.outputs.plan_sheet.marks import Room, beside, length_mm, letters_box, line, readable_deg, text
from siting.outputs.plan_sheet.paper import Sheet
from siting.separations import Separation, floored
from siting.uncertainty import Verdict

MOST = 10
SIZE_MM = 2.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """One measured line with the number that the table gives it."""

    number: int
    separation: Separation

    @property
    def words(self) -> str:
        """As written along the line; rounded down."""
        assert self.separation.distance_m is not None
        return f"{self.number}: {floored(self.separation.distance_m)} m"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimensioned:
    """What is dimensioned, and from where."""

    title: str
    dimensions: tuple[Dimension, ...]
    of_several: bool
    "Of more than one installation, so that each row has to name its own."
    more: int
    "Separations for which the sheet has no line."


def dimensioned(assessment: Assessment) -> Dimensioned:
    """The tightest separation to each feature, tightest first."""
    title, held, of_several = _chosen(assessment)
    tightest: dict[tuple[str, ...], Separation] = {}
    for s in sorted(held, key=_tightness):
        if s.distance_m is not None and s.start_xy is not None and s.end_xy is not None and s.feature:
            tightest.setdefault((s.installation, s.feature) if of_several else (s.feature,), s)
    rows = list(tightest.values())
    return Dimensioned(
        title=title,
        dimensions=tuple(Dimension(number=n, separation=s) for n, s in enumerate(rows[:MOST], start=1)),
        of_several=of_several,
        more=max(0, len(rows) - MOST),
    )


def _tightness(s: Separation) -> tuple[bool, float, str]:
    margin_m = s.margin_m if s.margin_m is not None else s.margin
    return not s.is_must, margin_m, s.rule.full_id


def _chosen(assessment: Assessment) -> tuple[str, Iterable[Separation], bool]:
    finding = assessment.finding
    if finding is not None and finding.placed:
        return f"From place {finding.placed[0].candidate.name}", finding.placed[0].separations, False
    if finding is not None and finding.conflict is not None:
        return "From the best compromise (not a place)", finding.conflict.separations, False
    if assessment.arrangement is not None and assessment.arrangement.stands:
        own = {s.installation.name for s in assessment.arrangement.stands}
        return "From what is proposed", [s for s in assessment.separations if s.installation in own], True
    doubtful = [s for s in assessment.separations if s.verdict in (Verdict.FAILS, Verdict.TOO_CLOSE)]
    return "Of what stands, not kept or too close to call", doubtful, True


def lines(dimensions: Iterable[Dimension], sheet: Sheet, room: Room) -> Iterator[str]:
    """Each measured line with strokes at its ends and its length along it; cut at the edge of the field."""
    for each in dimensions:
        assert each.separation.start_xy is not None and each.separation.end_xy is not None
        start, end = sheet.point(*each.separation.start_xy), sheet.point(*each.separation.end_xy)
        if length_mm(start, end) < 0.05:
            continue
        shown = LineString([start, end]).intersection(sheet.field.buffer(-0.4))
        if not isinstance(shown, LineString) or shown.is_empty:
            continue
        (x0, y0), (x1, y1) = shown.coords[0], shown.coords[-1]
        yield line((x0, y0), (x1, y1), weight_mm=0.22)
        for here in (start, end):
            if sheet.field.contains(Point(here)):
                yield line((here[0] - 0.7, here[1] + 0.7), (here[0] + 0.7, here[1] - 0.7), weight_mm=0.35)
        yield _length(each, (x0, y0), (x1, y1), room)


def _length(each: Dimension, start: tuple[float, float], end: tuple[float, float], room: Room) -> str:
    turn = readable_deg(start, end)
    shares = (0.6, 0.5, 0.7, 0.4, 0.8, 0.3, 0.9, 0.2)
    spots = [beside(start, end, along=share, off_mm=off) for share in shares for off in (0.7, -2.2)]
    boxes = [
        letters_box(*spot, each.words, size_mm=SIZE_MM, anchor="middle", turned_deg=turn, bold=True) for spot in spots
    ]
    at = room.first(boxes)
    if at is None:
        # A length is never left out: better over something else than nowhere.
        at = 0
        room.take(boxes[0])
    room.take(shapely.LineString([start, end]).buffer(0.15, cap_style="flat"))
    return text(*spots[at], each.words, size_mm=SIZE_MM, anchor="middle", turned_deg=turn, halo=True, bold=True)
