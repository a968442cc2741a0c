"""What all rules in force ask of one installation: every rule handed to the maker of its measure."""

from collections.abc import Iterable, Mapping

from siting import ground_rules, plan_rules
from siting.applicability import nobody_looked
from siting.installation import Installation
from siting.plan_rules import reversed_distance
from siting.requirements import Attested, Demands, Maker, Outcome, Question, Requirement, Unassessed
from siting.rules import Measure, Rule

MAKERS: Mapping[Measure, Maker] = {**plan_rules.MAKERS, **ground_rules.MAKERS}


def demands(question: Question, installation: Installation) -> Demands:
    """What every rule in force asks of one installation.

    Rules are read in both directions for something that is still to be placed: a rule for a latrine near a well
    sites a new latrine among wells and a new well among latrines.
    """
    outcomes: list[Outcome] = []
    for pack in question.packs:
        for rule in pack.rules:
            if installation.kind in rule.for_kinds:
                outcomes += _made(question, rule, installation)
            if installation.stands_as is None and installation.kind in rule.from_kinds:
                outcomes += reversed_distance(question, rule, installation)
    return Demands(
        installation=installation,
        requirements=tuple(o for o in outcomes if isinstance(o, Requirement)),
        unassessed=tuple(o for o in outcomes if isinstance(o, Unassessed)),
        attested=tuple(o for o in outcomes if isinstance(o, Attested)),
    )


def _made(question: Question, rule: Rule, installation: Installation) -> Iterable[Outcome]:
    maker = MAKERS.get(rule.measure)
    if maker is None:
        return [nobody_looked(rule, f"nothing on this site tells {rule.measure}", str(rule.measure))]
    return maker(question, rule, installation)
