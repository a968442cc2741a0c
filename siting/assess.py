"""One site, from model to answers: what stands is checked, what is wanted is placed."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite

from siting import candidates, clearance, conflicts, feasible, mending, pits, ranking, separations
from siting.arrangement import Arrangement
from siting.candidates import DEFAULT_GAP_M, Candidate
from siting.conflicts import WayOut
from siting.demands import demands as demands_of
from siting.errors import InputError, NoPlaceError
from siting.facts import Facts, facts
from siting.feasible import Ground
from siting.installation import Installation, as_feature, standing, wanted
from siting.kinds import Vocabulary
from siting.mending import Mending
from siting.no_well_ground import NoWellGround, no_well_ground
from siting.pits import Alternative
from siting.ranking import Ranked
from siting.requirements import Attested, Demands, Question, Requirement, Unassessed
from siting.routes import Route
from siting.rules import Measure, Pack
from siting.separations import Separation
from siting.site import Feature, Request, Site
from siting.sizes import Size
from siting.terrain import Terrain
from siting.uncertainty import Verdict, gravest
from siting.walking import Walks

CAUTIONS = (
    "A distance kept is no proof that water stays clean: fractured rock, coarse ground, or a shallow or rising "
    "water table override it.",
    "This is a screening aid. The local code and a licensed engineer, surveyor or environmental health officer decide.",
    "Digging: walls collapse without warning. Support or slope the sides as the local code demands, keep spoil back "
    "from the edge, and let nobody work alone.",
    "Never enter a used pit: gas and lack of air kill, and most of those who die are rescuers.",
    "Before digging, locate buried services, old pits and graves: plans are incomplete. Ask long-serving staff.",
    "Guard an open hole, fence and lock a finished one: children and animals come near.",
    "Sharps and infectious waste are handled by trained staff with protection.",
    "Smoke of small incinerators and open burning is harmful, and the wind changes with the season.",
    "Plans and household wells are private: nothing here leaves this machine by itself.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A candidate with everything that is said of it."""

    candidate: Candidate
    separations: tuple[Separation, ...]
    walk_m: float | None
    "From the feature served, on foot; None when nobody said which, or no way leads there."
    route: Route | None
    why: str
    "One sentence: why it is on the list."
    installation: Installation
    facts: Facts
    verdict: Verdict
    reserve: Candidate | None = None
    "Where the successor fits, when a reserve was asked for."
    no_well: NoWellGround | None = None
    "Ground closed to wells once it stands here."

    @property
    def probability(self) -> float:
        """The smallest probability of meeting a requirement that must hold."""
        return min((s.probability for s in self.separations if s.is_must), default=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Why there is no place: how many metres are missing at the best compromise, and what stands against what."""

    shortfall_m: float
    bound_m: float
    x_m: float
    y_m: float
    requirements: tuple[Requirement, ...]
    separations: tuple[Separation, ...]
    ways_out: tuple[WayOut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The answer to one wanted place."""

    request: Request
    demands: Demands
    ground: Ground
    placed: tuple[Placed, ...]
    conflict: Conflict | None
    size: Size
    alternatives: tuple[Alternative, ...] = ()
    "Other pits that hold the same, where the water table allows less depth than is wanted."

    @property
    def installation(self) -> Installation:
        """What was to be placed."""
        return self.demands.installation


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """Everything the outputs show: a renderer adds nothing to it."""

    site: Site
    packs: tuple[Pack, ...]
    separations: tuple[Separation, ...]
    unassessed: tuple[tuple[str, Unassessed], ...]
    "With the name of the installation."
    attested: tuple[tuple[str, Attested], ...]
    finding: Finding | None
    mendings: tuple[Mending, ...]
    "For each standing installation that fails: the nearest place where it would meet."
    terrain: Terrain
    arrangement: Arrangement | None = None
    "How several wanted installations were placed; they then stand on the plan as proposed."
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def verdict(self) -> Verdict:
        """Of what stands, and of whether there is a place for what is wanted."""
        verdicts = [s.verdict for s in self.separations if s.is_must]
        if any(u.rule.strength == "must" for _, u in self.unassessed):
            verdicts.append(Verdict.NOT_ASSESSED)
        if self.finding is not None:
            placed = self.finding.placed
            verdicts.append(placed[0].verdict if placed else Verdict.FAILS)
        if self.arrangement is not None and not self.arrangement.stands:
            verdicts.append(Verdict.FAILS)
        return gravest(verdicts or [Verdict.MEETS])


def assess(
    site: Site,
    packs: Sequence[Pack],
    words: Vocabulary,
    *,
    request: Request | None = None,
    size: Size | None = None,
    count: int = 5,
    spacing_m: float = 5.0,
    gap_m: float = DEFAULT_GAP_M,
) -> Assessment:
    """Check what stands on a site; with a request, also find where it may go.

    Raises NoPlaceError when a place is wanted and no boundary is drawn.
    """
    question = Question(site=site, packs=tuple(packs), words=words)
    checked = [
        demands_of(question, standing(feature, words))
        for feature in site.features
        if words.is_installation(feature.kind)
    ]
    finding = None
    if request is not None:
        assert size is not None
        finding = _find(question, request, size, count=count, spacing_m=spacing_m, gap_m=gap_m)
        checked_names = [*checked, finding.demands]
    else:
        checked_names = checked
    rows = [separations.judge(demands, site.features, confidence=site.confidence) for demands in checked]
    return Assessment(
        site=replace(site, notices=(*site.notices, *question.terrain.notices)),
        packs=tuple(packs),
        separations=tuple(row for of_one in rows for row in of_one),
        unassessed=tuple((d.installation.name, u) for d in checked_names for u in _once(d.unassessed)),
        attested=tuple((d.installation.name, a) for d in checked_names for a in d.attested),
        finding=finding,
        mendings=tuple(_mendings(zip(checked, rows, strict=True), question)),
        terrain=question.terrain,
    )


def _mendings(judged: Iterable[tuple[Demands, tuple[Separation, ...]]], question: Question) -> Iterator[Mending]:
    """Where what fails would meet; nothing is said of what stands beyond the boundary."""
    for demands, rows in judged:
        if question.land is None or question.is_a_neighbours(demands.installation):
            continue
        if any(row.is_must and row.verdict is Verdict.FAILS for row in rows):
            place = mending.nearest_place(demands, question.land)
            if place is not None:
                yield place


def _once(unassessed: Sequence[Unassessed]) -> list[Unassessed]:
    """One row a rule: what is missing of several features is gathered."""
    gathered: dict[str, Unassessed] = {}
    for row in unassessed:
        held = gathered.get(row.rule.full_id)
        if held is None:
            gathered[row.rule.full_id] = row
        elif row.look_for not in held.look_for:
            gathered[row.rule.full_id] = replace(
                held, reason=f"{held.reason}; {row.reason}", look_for=f"{held.look_for}; {row.look_for}"
            )
    return list(gathered.values())


def _find(question: Question, request: Request, size: Size, *, count: int, spacing_m: float, gap_m: float) -> Finding:
    if question.land is None:
        raise NoPlaceError.of(
            f"{question.site.name}: no boundary is drawn",
            needed="the outline of the facility's own ground, to know where a place may be looked for",
            do_next="add a closed line or polygon of kind 'boundary'; `siting check` works without one",
        )
    installation = wanted(request, size.dimensions, question.words)
    demands = demands_of(question, installation)
    found = candidates.best_places(
        demands.requirements, installation, question.land, count=count, spacing_m=spacing_m, gap_m=gap_m
    )
    unmet = [r for r in demands.requirements if not r.in_plan and r.is_must and separations.fixed_margin(r) < 0]
    conflict = _conflict(demands, found[0], unmet, question) if found[0].margin_m < 0.0 or unmet else None
    placed: tuple[Placed, ...] = ()
    if conflict is None:
        walks = walks_from(question, request)
        placed = tuple(
            _placed(demands, one, question, walks)
            for one in ranking.ranked(
                found, demands.requirements, installation, question.land, confidence=question.site.confidence,
                spacing_m=spacing_m, walks=walks,
            )
        )  # fmt: skip
        if request.keep_reserve:
            placed, conflict = _with_reserves(placed, question, request)
    return Finding(
        request=request,
        demands=demands,
        ground=feasible.feasible_ground(
            demands.requirements,
            installation,
            question.land,
            confidence=question.site.confidence,
            orientations_deg=feasible.with_orientations(c.orientation_deg for c in found),
        ),
        placed=placed,
        conflict=conflict,
        size=size,
        alternatives=_alternatives(unmet, size),
    )


def _alternatives(unmet: Sequence[Requirement], size: Size) -> tuple[Alternative, ...]:
    """Pits that hold the same in the depth that the highest water leaves."""
    short = [separations.fixed_margin(r) for r in unmet if r.rule.measure is Measure.ABOVE_WATER]
    if not short or size.sizing is None or size.dimensions.depth_m is None:
        return ()
    allowed_m = size.dimensions.depth_m + min(short)
    return pits.alternatives(size.sizing, allowed_depth_m=allowed_m) if allowed_m > 0 else ()


def _judged(demands: Demands, candidate: Candidate, question: Question) -> tuple[Separation, ...]:
    place = clearance.one_place(candidate.x_m, candidate.y_m, candidate.orientation_deg)
    site = question.site
    return separations.judge(demands, site.features, confidence=site.confidence, place=place)


def _placed(demands: Demands, ranked: Ranked, question: Question, walks: Walks | None) -> Placed:
    candidate = ranked.candidate
    rows = _judged(demands, candidate, question)
    unknown = any(u.rule.strength == "must" for u in demands.unassessed)
    installation = demands.installation
    return Placed(
        candidate=candidate,
        separations=rows,
        walk_m=ranked.walk_m if ranked.walk_m is not None and isfinite(ranked.walk_m) else None,
        route=walks.route_to(candidate.x_m, candidate.y_m) if walks else None,
        why=ranked.why,
        installation=installation,
        facts=facts(
            question.site,
            question.terrain,
            question.words,
            kind=installation.kind,
            x_m=candidate.x_m,
            y_m=candidate.y_m,
            served=walks.served if walks else None,
        ),
        verdict=separations.overall(rows, unassessed=unknown),
        no_well=no_well_ground(
            [rule for pack in question.packs for rule in pack.rules],
            installation,
            installation.pit.drawn_at(candidate.x_m, candidate.y_m, candidate.orientation_deg),
            question.land,
        ),
    )


def _with_reserves(
    placed: Sequence[Placed], question: Question, request: Request
) -> tuple[tuple[Placed, ...], Conflict | None]:
    """The places beside which a successor fits: it has to keep every rule with the first one standing."""
    kept, without = [], None
    for one in placed:
        demands, candidate = _successor(one, question)
        assert question.land is not None
        reserve = candidates.any_place(
            [r for r in demands.requirements if r.is_must], demands.installation, question.land
        )
        if reserve is not None:
            kept.append(replace(one, reserve=reserve))
        elif without is None:
            without = (demands, candidate)
    if kept or without is None:
        return tuple(kept), None
    demands, installation = without
    assert question.land is not None
    best = candidates.best_places(demands.requirements, installation, question.land, count=1)[0]
    return (), _conflict(demands, best, (), question)


def _successor(first: Placed, question: Question) -> tuple[Demands, Installation]:
    """What is asked of a second one of the same make, with the first standing at its place."""
    candidate, site = first.candidate, question.site
    installation = first.installation
    stands = as_feature(
        installation, name=f"{installation.name} at {candidate.name}", source=question.home, x_m=candidate.x_m,
        y_m=candidate.y_m, orientation_deg=candidate.orientation_deg,
    )  # fmt: skip
    second = replace(installation, name=f"successor of {installation.name}")
    asked = Question(site=replace(site, features=(*site.features, stands)), packs=question.packs, words=question.words)
    return demands_of(asked, second), second


def walks_from(question: Question, request: Request) -> Walks | None:
    """The ways from the feature served; None when nobody said which, or there is no land to walk on."""
    served = _served(question.site, request)
    if served is None or question.land is None:
        return None
    return Walks(served=served, site=question.site, land=question.land, words=question.words)


def _served(site: Site, request: Request) -> Feature | None:
    """The feature that staff walk from; None when nobody said which."""
    if request.serve_from is None:
        return None
    try:
        return site.named(request.serve_from)
    except KeyError:
        raise InputError.of(
            f"serve_from = {request.serve_from!r}: no feature has that name",
            needed="the name of the feature that staff walk from",
            do_next=f"use one of {', '.join(sorted(f.name for f in site.features)[:12])}",
        ) from None


def _conflict(demands: Demands, best: Candidate, unmet: Sequence[Requirement], question: Question) -> Conflict:
    rows = _judged(demands, best, question)
    installation, site = demands.installation, question.site
    assert question.land is not None
    must = [r for r in demands.requirements if r.is_must]
    against: tuple[Requirement, ...] = ()
    ways: tuple[WayOut, ...] = ()
    if best.margin_m < 0.0:
        against = conflicts.irreducible(must, installation, question.land, best)
        ways = conflicts.ways_out(
            against, must, installation, question.land, question.words, confidence=site.confidence
        )
    return Conflict(
        shortfall_m=max(0.0, -best.margin_m),
        bound_m=best.bound_m,
        x_m=best.x_m,
        y_m=best.y_m,
        requirements=(*unmet, *against),
        separations=rows,
        ways_out=ways,
    )
