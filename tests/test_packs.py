"""Every pack that comes with the package, as data."""

import tomllib
from importlib.resources import files

import pytest

from siting.io.packs import load, names
from siting.kinds import vocabulary
from siting.rules import Measure, Read

LONGEST_DISTANCE_M = 1000.0
"No document read asks for a separation of more than a kilometre."
LONGEST_HEIGHT_M = 5.0
"No document read asks for more between a pit and the water."

PACKS = names()
RULES = [(pack, rule) for pack in PACKS for rule in load(pack).rules]
EACH_PACK = pytest.mark.parametrize("pack", PACKS)
EACH_RULE = pytest.mark.parametrize("rule", [rule for _, rule in RULES], ids=[rule.full_id for _, rule in RULES])


def _table(pack: str) -> dict:
    return tomllib.loads(files("siting").joinpath("packs", f"{pack}.toml").read_text("utf-8"))


@EACH_PACK
def test_a_pack_loads_under_its_own_name(pack):
    """The id inside a file is the name of the file, and every rule written in it is loaded."""
    assert pack == load(pack).id
    assert len(_table(pack)["rule"]) == len(load(pack).rules) > 0


@EACH_PACK
def test_rule_ids_are_unique(pack):
    """No two rules of a pack share a name."""
    ids = [rule.id for rule in load(pack).rules]

    assert sorted(set(ids)) == sorted(ids)


@EACH_PACK
def test_every_document_is_cited_and_can_be_found(pack):
    """A document has a publisher or an address, and some rule cites it."""
    cited = {rule.citation.document.key for rule in load(pack).rules}

    assert cited == {document.key for document in load(pack).documents}
    assert all(document.publisher or document.url for document in load(pack).documents)


@EACH_RULE
def test_every_rule_says_where_it_stands_and_what_it_means(rule):
    """A citation has a clause, its sense in our words, and how far it was followed."""
    assert rule.citation.clause
    assert rule.citation.says
    assert rule.citation.read in tuple(Read)


def test_no_number_recalled_decides():
    """A value that nobody read in a document may advise; the musts that rest on memory are counted here."""
    recalled = {rule.full_id for _, rule in RULES if rule.citation.read is Read.RECALLED and rule.strength == "must"}

    assert set() == recalled


@EACH_RULE
def test_kinds_are_ones_that_can_be_placed_and_met(rule):
    """A rule sites installations, from features of the vocabulary."""
    words = vocabulary()

    assert rule.for_kinds
    assert all(words.is_installation(kind) for kind in rule.for_kinds)
    assert rule.from_kinds <= set(words.kinds)


@EACH_RULE
def test_limits_are_of_a_size_that_documents_ask_for(rule):
    """A slip of the decimal point or of the unit makes a limit that nobody would ask for."""
    largest = {Measure.DISTANCE: LONGEST_DISTANCE_M, Measure.ABOVE_WATER: LONGEST_HEIGHT_M}.get(rule.measure)
    for limit in rule.limits if largest else ():
        values = [limit.constant] if limit.constant is not None else [y for _, y in limit.points]
        assert all(0.0 <= value <= largest for value in values)


@EACH_RULE
def test_a_judgement_is_the_project_s_own(rule):
    """What the project adds is never shown as if a document had said it."""
    is_own = rule.citation.document.publisher == "the siting project"

    assert is_own == (rule.citation.read is Read.JUDGEMENT)


def _analogue_ids(pack: str) -> set[str]:
    return {rule.id for rule in load(pack).rules if rule.note.startswith("analogue")}


def test_every_distance_of_a_placenta_pit_in_the_default_is_marked_as_an_analogue():
    """No document read gives a horizontal distance for a placenta pit, so no row may look as if one did."""
    default = load("health-care-waste")
    of_placenta_pit = {
        rule.id
        for rule in default.for_kind("placenta pit")
        if rule.measure is Measure.DISTANCE and rule.citation.read is not Read.JUDGEMENT
    }

    assert set() == of_placenta_pit - _analogue_ids("health-care-waste")
    assert any("placenta pit" in note for note in default.notes)
