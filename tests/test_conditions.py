"""Conditions on attributes: true, false or unknown, and refused when they cannot be read."""

import pytest

from siting.conditions import ConditionError, holds, missing, parse_condition

OPERATORS = [
    ({"is": "Sand"}, " sand ", "clay"),
    ({"is": True}, True, False),
    ({"is_not": "sand"}, "clay", "SAND"),
    ({"in": ["sand", "gravel"]}, "Gravel", "clay"),
    ({"not_in": ["sand", "gravel"]}, "clay", "sand"),
    ({"below": 6}, 5.999, 6),
    ({"at_most": 6}, 6, 6.001),
    ({"above": 6}, 6.001, 6),
    ({"at_least": 6}, 6, 5.999),
]


@pytest.mark.parametrize(("wanted", "yes", "no"), OPERATORS, ids=lambda value: str(value))
def test_every_comparison_tells_yes_from_no(wanted, yes, no):
    """Each comparison holds for one value, not for its neighbour, and takes numbers written as text."""
    condition = parse_condition({"feature.x": wanted})

    assert holds(condition, {"feature.x": yes}) is True
    assert holds(condition, {"feature.x": no}) is False
    if not isinstance(yes, bool | str):
        assert holds(condition, {"feature.x": f" {yes} "}) is True


@pytest.mark.parametrize("wanted", [wanted for wanted, _, _ in OPERATORS], ids=str)
def test_what_nobody_recorded_is_unknown_and_never_false(wanted):
    """An attribute that is missing, or recorded as nothing, leaves every comparison unknown, `is_not` too."""
    condition = parse_condition({"feature.x": wanted})

    assert holds(condition, {}) is None
    assert holds(condition, {"feature.x": None}) is None


@pytest.mark.parametrize("operator", ["below", "at_most", "above", "at_least"])
def test_a_word_where_a_number_belongs_tells_nothing(operator):
    """`casing_m = deep` is neither above nor below anything."""
    assert holds(parse_condition({"feature.casing_m": {operator: 6}}), {"feature.casing_m": "deep"}) is None


def test_a_bare_value_means_is():
    """{"installation.sealed" = true} is short for {is = true}."""
    sealed = parse_condition({"installation.sealed": True})

    assert parse_condition({"installation.sealed": {"is": True}}) == sealed


@pytest.mark.parametrize(
    ("first", "second", "both", "either"),
    [
        (True, True, True, True),
        (True, False, False, True),
        (False, False, False, False),
        (True, None, None, True),
        (False, None, False, None),
        (None, None, None, None),
    ],
)
def test_unknown_spreads_only_where_it_decides(first, second, both, either):
    """Three-valued and, or: a false test settles a list, a true alternative settles a condition."""
    known = {"site.a": first, "site.b": second}

    assert holds(parse_condition({"site.a": True, "site.b": True}), known) is both
    assert holds(parse_condition([{"site.a": True}, {"site.b": True}]), known) is either


def test_two_comparisons_of_one_attribute_make_a_range():
    """Both ends of a range have to hold."""
    deep = parse_condition({"feature.casing_m": {"at_least": 6, "below": 12}})

    assert [False, True, True, False] == [holds(deep, {"feature.casing_m": v}) for v in (5, 6, 11.9, 12)]


def test_missing_names_what_to_ask_for():
    """Every attribute the condition looks at and nobody recorded, in alphabetical order, once."""
    condition = parse_condition([{"site.b": 1, "feature.a": 2}, {"site.b": 3, "site.c": 4}])

    assert ("feature.a", "site.b") == missing(condition, {"site.c": 9, "feature.a": None})
    assert frozenset({"feature.a", "site.b", "site.c"}) == condition.attributes


def test_a_condition_reads_as_a_sentence():
    """It is printed for people, with yes and no for true and false."""
    shallow = {"feature.casing_m": {"below": 6}, "installation.sealed": False}
    condition = parse_condition([shallow, {"site.soil": "clay"}])

    assert "feature casing m is below 6 and installation sealed is no or site soil is clay" == str(condition)
    assert "site soil is one of clay, loam" == str(parse_condition({"site.soil": {"in": ["clay", "loam"]}}))


@pytest.mark.parametrize(
    ("value", "found", "do_next"),
    [
        ({}, "{}", "write it in that form"),
        ([], "[]", "write it in that form"),
        ("deep", "'deep'", "write it in that form"),
        ([{"site.a": 1}, {}], "[{'site.a': 1}, {}]", "write it in that form"),
        ({"casing_m": 6}, "attribute 'casing_m'", "say whose attribute it is"),
        ({"well.casing_m": 6}, "attribute 'well.casing_m'", "say whose attribute it is"),
        ({"feature.casing_m": {"bellow": 6}}, "comparison 'bellow'", "did you mean 'below'?"),
        ({"feature.casing_m": {"<": 6}}, "comparison '<'", "use one of them"),
        ({"feature.casing_m": {"below": "6 m"}}, "below = '6 m'", "write the number without a unit"),
        ({"site.soil": {"in": "clay"}}, "in = 'clay'", "write in = [...]"),
    ],
    ids=str,
)
def test_a_condition_that_cannot_be_read_says_why(value, found, do_next):
    """Found, needed and what to do next, with the nearest spelling of a comparison."""
    with pytest.raises(ConditionError) as error:
        parse_condition(value)

    assert found == error.value.found
    assert error.value.needed
    assert do_next == error.value.do_next
