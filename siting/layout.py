"""Several wanted installations on one site: arranged, then checked like any plan that is handed in."""

from collections.abc import Sequence
from dataclasses import replace

from siting.arrangement import STRIP_M, Wanted, arrange
from siting.assess import Assessment, assess, walks_from
from siting.demands import demands
from siting.errors import NoPlaceError
from siting.installation import Installation, as_feature, wanted
from siting.kinds import Vocabulary
from siting.requirements import Demands, Question, Sense
from siting.rules import Pack, Strength
from siting.site import Request, Site, named_apart
from siting.sizes import size


def lay_out_site(
    site: Site,
    packs: Sequence[Pack],
    words: Vocabulary,
    requests: Sequence[Request],
    *,
    strip_m: float = STRIP_M,
    keep_m: float | None = None,
) -> Assessment:
    """Arrange everything that is wanted, reserves included, and check the result against every rule in force.

    Raises NoPlaceError without a boundary, or with nothing to arrange.
    """
    question = Question(site=site, packs=tuple(packs), words=words)
    if question.land is None or not requests:
        raise NoPlaceError.of(
            f"{site.name}: " + ("no boundary is drawn" if question.land is None else "nothing is wanted"),
            needed="the outline of the facility's own ground, and two or more [[place]] in site.toml",
            do_next="draw the boundary (kind: boundary), and say with [[place]] what is to be placed",
        )
    asked = [_wanted(request, name, question) for request, name in _copies(requests)]
    arrangement = arrange(asked, question, strip_m=strip_m, keep_m=keep_m)
    stands = [
        as_feature(
            stand.installation, name=stand.installation.name, source=question.home, x_m=stand.x_m, y_m=stand.y_m,
            orientation_deg=stand.orientation_deg,
        )
        for stand in arrangement.stands
    ]  # fmt: skip
    planned = replace(site, features=named_apart((*site.features, *stands)))
    return replace(assess(planned, packs, words), arrangement=arrangement)


def _copies(requests: Sequence[Request]) -> list[tuple[Request, str]]:
    """Each request with a name of its own, and once more as its reserve where one is to be kept."""
    named: list[tuple[Request, str]] = []
    for request in requests:
        same = sum(1 for one, _ in named if one.kind == request.kind)
        name = f"new {request.kind}" + (f" {same + 1}" if same else "")
        named.append((request, name))
        if request.keep_reserve:
            named.append((request, f"reserve of {name}"))
    return named


def _wanted(request: Request, name: str, question: Question) -> Wanted:
    installation: Installation = wanted(request, size(request).dimensions, question.words, name=name)
    return Wanted(demands=_zone_counts(demands(question, installation)), walks=walks_from(question, request))


def _zone_counts(asked: Demands) -> Demands:
    """A marked waste zone is kept to when a whole zone is laid out, although its rule only advises."""
    return replace(
        asked,
        requirements=tuple(
            replace(r, rule=replace(r.rule, strength=Strength.MUST)) if r.sense is Sense.INSIDE else r
            for r in asked.requirements
        ),
    )
