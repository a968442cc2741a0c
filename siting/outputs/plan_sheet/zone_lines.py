"""The edges of the ground that rules forbid, drawn as numbered lines: rules with one edge share one line."""

from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from siting.assess import Assessment
from siting.outputs.plan_sheet.ground import along
from siting.outputs.plan_sheet.marks import Room, outline
from siting.outputs.plan_sheet.paper import Sheet
from siting.outputs.zones import Zone, zones
from siting.rules import Strength

MOST = 9
"More lines than this cannot be told apart on one sheet."
DASHES = ("3 0.7", "1.6 0.7", "0.8 0.6", "3 0.6 0.8 0.6", "1.6 0.6 0.5 0.6", "3 0.6 0.5 0.6 0.5 0.6", "0.4 0.5",
          "5 0.8", "5 0.6 1.6 0.6")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneLine:
    """One line on the sheet with the rules whose ground it bounds."""

    key: str
    rules: tuple[Zone, ...]
    edge: BaseGeometry
    "On the paper [mm]."
    dash: str

    @property
    def words(self) -> str:
        """What the legend says of it."""
        least, largest = self.rules[0].limits_m
        metres = f"{least:.4g} m" if least == largest else f"{least:.4g} to {largest:.4g} m"
        within = "within " if self.rules[0].is_where_it_must_be else ""
        names = ", ".join(zone.rule.id for zone in self.rules)
        return f"{within}{metres}: {names}" if largest else names


def zone_lines(assessment: Assessment, sheet: Sheet) -> tuple[tuple[ZoneLine, ...], int]:
    """The lines of the rules that bind a place, must before should; and how many more there are."""
    if assessment.finding is None:
        return (), 0
    held = zones(assessment.finding.demands.requirements, within=sheet.ground_m)
    groups: dict[bytes, list[Zone]] = {}
    for zone in sorted(held, key=lambda zone: zone.rule.strength is not Strength.MUST):
        edge_key = shapely.to_wkb(shapely.normalize(shapely.set_precision(zone.geometry, 1e-3)))
        groups.setdefault(edge_key, []).append(zone)
    inner = sheet.field.buffer(-0.05)
    lines: list[ZoneLine] = []
    for group in groups.values():
        edge = shapely.intersection(shapely.boundary(sheet.drawn(group[0].geometry)), inner)
        # The ground under a building itself needs no second line around the building.
        if group[0].limits_m[1] > 0.0 and not edge.is_empty:
            number = len(lines)
            dash = DASHES[number % len(DASHES)]
            lines.append(ZoneLine(key=f"Z{number + 1}", rules=tuple(group), edge=edge, dash=dash))
    return tuple(lines[:MOST]), max(0, len(lines) - MOST)


def drawn(lines: tuple[ZoneLine, ...]) -> list[str]:
    """The lines themselves."""
    return [outline(shapely.simplify(each.edge, 0.01), weight_mm=0.2, dash=each.dash) for each in lines]


def labelled(lines: tuple[ZoneLine, ...], room: Room) -> list[str]:
    """Their keys, written along them."""
    return [along(shapely.line_merge(each.edge), each.key, room, size_mm=2.0, italic=True) for each in lines]
