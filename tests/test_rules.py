"""The language of a pack: what it reads, and that the rest is refused by file, rule, key and nearest word."""

import pytest
from conftest import CITE, HEAD, WORDS, pack

from siting import pack_text
from siting.errors import PackError
from siting.rules import Measure, Read, Strength

FILE = "mine.toml"
FOR_FROM = 'id = "pit-to-well"\nfor = ["pit latrine"]\nfrom = ["well"]\n'
PLAIN = FOR_FROM + "at_least_m = 30\n"
EXACT = 1e-12


def _text(body: str, cite: str = CITE, head: str = HEAD) -> str:
    return f"{head.format(id='mine')}\n[[rule]]\n{body}\n{cite}\n"


def _faults(text: str):
    with pytest.raises(PackError) as error:
        pack_text.parse(text, WORDS, file=FILE)
    assert {FILE} == {fault.file for fault in error.value.faults}
    assert all(fault.found and fault.needed and fault.do_next for fault in error.value.faults)
    return error.value.faults


def _fault(text: str):
    (fault,) = _faults(text)
    return fault


def _limit(body: str):
    (limit,) = pack(f'for = ["pit latrine"]\nfrom = ["well"]\n{body}').rules[0].limits
    return limit


# --- what it reads ---


def test_a_plain_rule_reads_with_its_defaults():
    """Distance from the pit outline, a must, in force everywhere, cited and marked as it was read."""
    (rule,) = pack_text.parse(_text(PLAIN), WORDS, file=FILE).rules

    assert "mine/pit-to-well" == rule.full_id
    assert (frozenset({"pit latrine"}), frozenset({"well"}), ("well",)) == (
        rule.for_kinds, rule.from_kinds, rule.from_words,
    )  # fmt: skip
    assert (Measure.DISTANCE, "pit", Strength.MUST) == (rule.measure, rule.outline, rule.strength)
    assert (None, None, None, "", "", "") == (
        rule.when, rule.unless, rule.require, rule.side, rule.never, rule.must_be,
    )  # fmt: skip
    assert (False, False, False) == (rule.strict_if_unknown, rule.where_marked, rule.flag)
    assert ("1", "made up", Read.JUDGEMENT) == (rule.citation.clause, rule.citation.says, rule.citation.read)
    assert "A code for tests, 1 [project judgement]" == str(rule.citation)


def test_a_group_stands_for_its_kinds():
    """`water source` is every kind in that group; people are shown the word of the pack."""
    (rule,) = pack('for = ["pit"]\nfrom = ["water source"]\nat_least_m = 30').rules

    assert {"well", "borehole", "spring"} <= rule.from_kinds
    assert "placenta pit" in rule.for_kinds
    assert ("water source",) == rule.from_words


@pytest.mark.parametrize(
    ("key", "value_m", "written"),
    [
        ("at_least_m = 30", 30.0, "30 m"),
        ("at_least_ft = 50", 50 * 0.3048, "50 ft"),
        ("more_than_in = 12", 0.3048, "12 in"),
        ("at_most_yd = 100", 91.44, "100 yd"),
        ("less_than_m = 0.5", 0.5, "0.5 m"),
    ],
)
def test_lengths_are_reckoned_in_metres_and_shown_as_written(key, value_m, written):
    """The international foot of 0.3048 m, exact since 1959 (*common practice*); 3 ft a yard, 12 in a foot."""
    limit = _limit(key)

    assert value_m == pytest.approx(limit.constant, abs=EXACT)
    assert ("m", written) == (limit.unit, limit.as_written)


@pytest.mark.parametrize(
    ("relation", "minimum", "strict"),
    [
        ("at_least", True, False),
        ("more_than", True, True),
        ("at_most", False, False),
        ("less_than", False, True),
    ],
)
def test_four_relations_say_which_way_and_whether_exactly_is_enough(relation, minimum, strict):
    """Only the strict ones fail exactly at the limit."""
    limit = _limit(f"{relation}_m = 30")

    assert (relation, minimum, strict) == (limit.relation, limit.is_minimum, limit.is_strict)


def test_a_limit_over_an_attribute_keeps_its_points_in_metres():
    """The attribute is in its own unit, the limit in metres."""
    limit = _limit('at_least_ft_by = { attribute = "site.soil_m", points = [[1.2, 100], [3.0, 50]] }')

    assert ("site.soil_m",) == limit.needs
    assert ((1.2, 30.48), (3.0, 15.24)) == tuple((x, pytest.approx(y)) for x, y in limit.points)


def test_a_limit_that_multiplies_says_what_it_needs():
    """One attribute or several; what is taken off is needed unless the pack says what holds without it."""
    alone = _limit('at_least_m_times = { times = 4, of = "feature.cut_m" }')
    less = _limit('at_least_m_times = { times = 2, of = ["site.a", "site.b"], less = "site.c" }')
    known = _limit('at_least_m_times = { times = 2, of = "site.a", less = "site.c", less_if_unknown = 0 }')

    assert (4.0, ("feature.cut_m",), ("feature.cut_m",)) == (alone.times, alone.of, alone.needs)
    assert ("site.a", "site.b", "site.c") == less.needs
    assert (("site.a",), 0.0) == (known.needs, known.less_if_unknown)


def test_a_rule_may_have_a_least_and_a_most():
    """At least 6 m and at most 50 m: two limits of one rule."""
    (rule,) = pack('for = ["pit latrine"]\nfrom = ["dwelling"]\nat_least_m = 6\nat_most_m = 50').rules

    assert [("at_least", 6.0), ("at_most", 50.0)] == [(limit.relation, limit.constant) for limit in rule.limits]


def test_inside_needs_no_number():
    """Inside a boundary means by at least nothing, unless the pack asks for more."""
    body = 'for = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\n'

    assert [0.0, 3.0] == [pack(body + more).rules[0].limits[0].constant for more in ("", "at_least_m = 3")]


@pytest.mark.parametrize(
    ("body", "degrees"),
    [('side = "upwind"', 90.0), ('side = "up-slope"', 180.0), ('side = "downwind"\nsector_deg = 60', 60.0)],
)
def test_a_side_is_a_half_turn_or_a_quarter_for_the_wind(body, degrees):
    """The sector of a side unless the rule states its own (project judgement)."""
    assert degrees == pack(PLAIN + body).rules[0].sector_deg


def test_a_citation_may_say_how_it_was_read_itself():
    """Beside the number stands how that number was followed, which may differ from its document."""
    cite = 'cite = { document = "code", clause = "2", says = "x", read = "recalled" }'

    assert Read.RECALLED is pack_text.parse(_text(PLAIN, cite), WORDS, file=FILE).rules[0].citation.read


def test_the_checksum_is_that_of_the_text():
    """A pack with one space more is another pack; its rules for a kind are found."""
    one, two = (pack_text.parse(_text(PLAIN) + more, WORDS, file=FILE) for more in ("", " "))

    assert one.sha256 != two.sha256
    assert one.rules == one.for_kind("pit latrine")
    assert () == one.for_kind("ash pit")


# --- what it refuses ---

UNKNOWN_KEYS = [
    (_text(PLAIN + "strenght = 1"), "rule 'pit-to-well': unknown key 'strenght'", "did you mean 'strength'?"),
    (
        _text(PLAIN + "xyzzy = 1"),
        "rule 'pit-to-well': unknown key 'xyzzy'",
        "remove the key or mend its spelling",
    ),
    ('titel = "x"\n' + _text(PLAIN), "top level: unknown key 'titel'", "did you mean 'title'?"),
    (
        _text(PLAIN, head=HEAD + 'publishr = "x"'),
        "document 'code': unknown key 'publishr'",
        "did you mean 'publisher'?",
    ),
    (
        _text(PLAIN, 'cite = { document = "code", clause = "1", say = "x" }'),
        "rule 'pit-to-well': cite: unknown key 'say'",
        "did you mean 'says'?",
    ),
]


@pytest.mark.parametrize(("text", "found", "do_next"), UNKNOWN_KEYS, ids=[found for _, found, _ in UNKNOWN_KEYS])
def test_an_unknown_key_is_named_with_the_nearest_spelling(text, found, do_next):
    """At every level: top, document, rule, citation; the keys allowed there are listed."""
    fault = _fault(text)

    assert (found, do_next) == (fault.found, fault.do_next)
    assert fault.needed.startswith("one of ")


CHOICES = [
    ('measure = "distanse"', "measure: 'distanse'", "did you mean 'distance'?"),
    ('strength = "mst"', "strength: 'mst'", "did you mean 'must'?"),
    ('outline = "enclosures"', "outline: 'enclosures'", "did you mean 'enclosure'?"),
    ('outline = "fence"', "outline: 'fence'", "choose one of them"),
    ('side = "up-gradiant"', "side: 'up-gradiant'", "did you mean 'up-gradient'?"),
    ('datum = "pit botom"', "datum: 'pit botom'", "did you mean 'pit bottom'?"),
    ('if_unknown = "strickt"', "if_unknown: 'strickt'", "did you mean 'strict'?"),
]


@pytest.mark.parametrize(("line", "found", "do_next"), CHOICES, ids=[found for _, found, _ in CHOICES])
def test_a_word_outside_the_choices_is_named_with_the_nearest(line, found, do_next):
    """Measure, strength, outline, side, datum and the choice for the unknown."""
    fault = _fault(_text(PLAIN + line))

    assert (f"rule 'pit-to-well': {found}", do_next) == (fault.found, fault.do_next)
    assert fault.needed.startswith("one of ")


@pytest.mark.parametrize(
    ("body", "found", "do_next"),
    [
        ('for = ["pit latrin"]\nfrom = ["well"]', "for: unknown kind or group 'pit latrin'", "'pit latrine'"),
        ('for = ["pit latrine"]\nfrom = ["boundry"]', "from: unknown kind or group 'boundry'", "'boundary'"),
        ('for = ["pit latrine"]\nfrom = ["water sources"]', "from: unknown kind or group", "'water source'"),
        (
            'for = ["pit latrine"]\nfrom = ["qqqq"]',
            "from: unknown kind or group 'qqqq'",
            "siting rules --kinds",
        ),
        ('for = "pit latrine"\nfrom = ["well"]', "for: 'pit latrine'", '["pit latrine"]'),
        ('from = ["well"]', "for: None", '["pit latrine"]'),
    ],
)
def test_an_unknown_kind_is_named_with_the_nearest(body, found, do_next):
    """Kinds and groups are those of the vocabulary, in a list."""
    fault = _fault(_text(f'id = "r"\nat_least_m = 1\n{body}'))

    assert f"rule 'r': {found}" in fault.found
    assert do_next in fault.do_next


def test_an_unknown_document_is_named_with_the_nearest():
    """A citation names a document of the pack."""
    fault = _fault(_text(PLAIN, 'cite = { document = "coed", clause = "1", says = "x" }'))

    assert "rule 'pit-to-well': cites unknown document 'coed'" == fault.found
    assert ("one of code", "did you mean 'code'?") == (fault.needed, fault.do_next)


@pytest.mark.parametrize(
    "cite",
    [
        "",
        'cite = "table 1"',
        'cite = { document = "code" }',
        'cite = { clause = "1" }',
        'cite = { document = "code", clause = "" }',
    ],
)
def test_a_number_without_its_own_citation_does_not_load(cite):
    """No citation, or one without document or clause, stops the pack."""
    fault = _fault(_text(PLAIN, cite))

    assert "rule 'pit-to-well': no citation of its own" == fault.found
    assert "a number without a source does not load" in fault.do_next


def test_how_a_document_was_read_has_to_be_one_of_four():
    """`read` is printed beside every number: it cannot be missing or something else."""
    bad = _fault(_text(PLAIN, head=HEAD.replace("project judgement", "sean")))
    none = _fault(_text(PLAIN, head=HEAD.replace('read = "project judgement"', "")))

    assert ("document 'code': read: 'sean'", "did you mean 'seen'?") == (bad.found, bad.do_next)
    assert "document 'code': read: None" == none.found
    assert "one of seen, second-hand, recalled, project judgement" == none.needed


def test_a_document_needs_a_title():
    """What is cited has a name."""
    head = HEAD.replace('title = "A code for tests"\nread', "read")

    assert "document 'code': no title" == _fault(_text(PLAIN, head=head)).found


@pytest.mark.parametrize("key", ["id", "title", "edition"])
def test_a_pack_says_what_it_is(key):
    """Identity, title and edition stand at the top."""
    lines = _text(PLAIN).splitlines()
    del lines[next(number for number, line in enumerate(lines) if line.startswith(f"{key} ="))]

    assert f"no '{key}'" == _fault("\n".join(lines)).found


@pytest.mark.parametrize("measure", ["distance", "depth", "above water table", "travel time", "slope", "downwind"])
def test_a_rule_without_a_limit_does_not_load(measure):
    """Measures that need a number say so, with an example of one."""
    fault = _fault(_text(FOR_FROM + f'measure = "{measure}"'))

    assert "rule 'pit-to-well': no limit" == fault.found
    assert "at_least_m = 30" in fault.needed


@pytest.mark.parametrize("key", ["at_least", "at_least_km", "at_least_meters", "atleast_m"])
def test_a_limit_without_a_known_unit_is_no_limit(key):
    """The key with the odd unit is named, and so is the lack of a limit."""
    odd, lack = _faults(_text(FOR_FROM + f"{key} = 30"))

    assert f"rule 'pit-to-well': unknown key '{key}'" == odd.found
    assert "rule 'pit-to-well': no limit" == lack.found


@pytest.mark.parametrize("value", ["-1", '"30"', "true", "nan", "inf", "1e6"])
def test_a_limit_is_a_number_zero_or_more(value):
    """No text, no negative, nothing that is not a number or that no site is as large as."""
    (odd,) = _faults(_text(FOR_FROM + f"at_least_m = {value}"))

    assert odd.found.startswith("rule 'pit-to-well': at_least_m = ")
    assert "a number, zero or more" == odd.needed


@pytest.mark.parametrize(
    ("body", "needed"),
    [
        ('measure = "travel time"\nat_least_m = 50', "a limit in days for measure travel time"),
        ('measure = "slope"\nat_most_m = 5', "a limit in % for measure slope"),
        ('measure = "downwind"\nat_most_days = 5', "a limit in % for measure downwind"),
        ("at_least_days = 50", "a limit in m for measure distance"),
        ('measure = "above water table"\nat_least_deg = 5', "a limit in m for measure above water table"),
    ],
)
def test_a_limit_in_the_wrong_unit_is_refused(body, needed):
    """Days for a time of travel, percent or degrees for a slope, a length for the rest."""
    assert needed == _fault(_text(FOR_FROM + body)).needed


@pytest.mark.parametrize(
    ("body", "needed"),
    [
        ('measure = "travel time"\nat_most_days = 50', "at_least or more_than"),
        ('measure = "slope"\nat_least_deg = 5', "at_most or less_than"),
        ('measure = "downwind"\nmore_than_percent = 5', "at_most or less_than"),
    ],
)
def test_a_limit_the_wrong_way_round_is_refused(body, needed):
    """A longer time is better, a steeper slope or more wind is worse."""
    assert needed == _fault(_text(FOR_FROM + body)).needed


@pytest.mark.parametrize("measure", ["distance", "inside", "side", "travel time", "downwind"])
def test_a_measure_between_two_things_needs_the_other_thing(measure):
    """Without `from` there is nothing to measure to."""
    body = f'id = "r"\nfor = ["pit"]\nmeasure = "{measure}"\n'
    limit = {"travel time": "at_least_days = 1", "downwind": "at_most_percent = 1"}.get(measure, "at_least_m = 1")

    assert "rule 'r': no 'from'" in [fault.found for fault in _faults(_text(f"{body}{limit}"))]


def test_an_attribute_rule_says_what_it_requires_and_a_side_rule_which_side():
    """`require` for an attribute, `never` or `must_be` for a side."""
    assert "rule 'pit-to-well': no 'require'" == _fault(_text(FOR_FROM + 'measure = "attribute"')).found
    assert "rule 'pit-to-well': no side" == _fault(_text(FOR_FROM + 'measure = "side"')).found


@pytest.mark.parametrize(
    "table",
    [
        "30",
        '{ attribute = "site.a" }',
        '{ attribute = "site.a", points = [[1, 2]] }',
        '{ attribute = "site.a", points = [[2, 20], [1, 10]] }',
        '{ attribute = "site.a", points = [[1, 20], [1, 10]] }',
        '{ attribute = "a", points = [[1, 2], [2, 3]] }',
        '{ attribute = "site.a", points = [[1, 2], [2, 3, 4]] }',
        '{ attribute = "site.a", points = [[1, 2], [2, 3]], more = 1 }',
    ],
)
def test_a_limit_over_an_attribute_needs_rising_points(table):
    """Two points or more, attribute with owner, nothing else; the form is shown."""
    (odd,) = _faults(_text(FOR_FROM + f"at_least_m_by = {table}"))

    assert odd.found.startswith("rule 'pit-to-well': at_least_m_by: ")
    assert "points = [[1.2, 40], [3.0, 30]]" in odd.needed


@pytest.mark.parametrize(
    "table",
    ["4", "{ times = 4 }", '{ of = "site.a" }', '{ times = 4, of = "a" }', '{ times = "x", of = "site.a" }',
     '{ times = 4, of = "site.a", minus = "site.b" }', '{ times = 4, of = "site.a", less = "b" }'],
)  # fmt: skip
def test_a_limit_that_multiplies_needs_its_two_keys(table):
    """`times` and `of`, and of what is taken off only what the language knows."""
    (odd,) = _faults(_text(FOR_FROM + f"at_least_m_times = {table}"))

    assert odd.found.startswith("rule 'pit-to-well': at_least_m_times: ")
    assert "times = 4" in odd.needed


@pytest.mark.parametrize("key", ["when", "unless"])
def test_a_condition_that_cannot_be_read_is_named_with_its_key(key):
    """The parts of the condition's own error, behind rule and key."""
    fault = _fault(_text(PLAIN + f'{key} = {{ "feature.casing_m" = {{ bellow = 6 }} }}'))

    assert f"rule 'pit-to-well': {key}: comparison 'bellow'" == fault.found
    assert "did you mean 'below'?" == fault.do_next


def test_two_rules_of_one_name_are_refused():
    """Outputs name rules: a name used twice would hide one."""
    again = f"[[rule]]\n{PLAIN}\n{CITE}"

    assert "rule 'pit-to-well': id used twice" == _fault(_text(PLAIN) + again).found


def test_a_rule_without_a_name_is_counted():
    """It is called by its place in the file."""
    body = PLAIN.replace('id = "pit-to-well"\n', "")

    assert "rule 1: no id" == _fault(_text(body)).found


def test_text_that_is_not_toml_is_refused_with_the_line():
    """The reader's own words for where it broke."""
    fault = _fault('id = "a"\ntitle = \n')

    assert fault.found.startswith("not TOML: ")
    assert "line 2" in fault.found


def test_every_fault_of_a_pack_is_told_at_once():
    """Three faults in two rules: one error, so that the file is mended in one go."""
    text = _text('id = "a"\nfor = ["pitt"]\nfrom = ["wel"]\nat_least_m = 1') + _text(
        'id = "b"\nfor = ["pit"]\nfrom = ["well"]', cite="", head=""
    )

    assert [
        "rule 'a': for: unknown kind or group 'pitt'",
        "rule 'a': from: unknown kind or group 'wel'",
        "rule 'b': no citation of its own",
        "rule 'b': no limit",
    ] == sorted(fault.found for fault in _faults(text))


def test_an_error_reads_in_three_parts_behind_the_name_of_the_file():
    """Found and where, needed, do next."""
    with pytest.raises(PackError) as error:
        pack_text.parse(_text(PLAIN + "strenght = 1"), WORDS, file=FILE)
    found, needed, do_next = str(error.value).splitlines()

    assert "mine.toml: rule 'pit-to-well': unknown key 'strenght'" == found
    assert needed.startswith("  needed: one of ")
    assert "  do next: did you mean 'strength'?" == do_next


_NEGATIVE = '{ attribute = "site.a", points = [[1, -5], [2, 3]] }'
_NO_NUMBER = '{ attribute = "site.a", points = [[1, nan], [2, 3]] }'
_INSIDE = 'id = "r"\nfor = ["pit"]\nfrom = ["boundary"]\nmeasure = "inside"\n'
_SIDE = 'id = "r"\nfor = ["pit"]\nfrom = ["well"]\nmeasure = "side"\n'
_TOP = 'id = "a"\ntitle = "a"\nedition = "1"\n'
BROKEN_SHAPES = [
    ("a single [rule]", f"{HEAD.format(id='mine')}\n[rule]\n{PLAIN}{CITE}"),
    ("a number among the rules", f"rule = [1]\n{HEAD.format(id='mine')}"),
    ("[document] without a key", f'{_TOP}[document]\ntitle = "x"\nread = "seen"'),
    ("a document that is text", f'{_TOP}document = "x"'),
    ("a sector that is a word", _text(PLAIN + 'side = "upwind"\nsector_deg = "wide"')),
    ("a sector of more than half a turn", _text(PLAIN + 'side = "upwind"\nsector_deg = 270')),
    ("a flag that is a word", _text(PLAIN + 'flag = "no"')),
    ("points below zero", _text(FOR_FROM + f"at_least_m_by = {_NEGATIVE}")),
    ("points that are no number", _text(FOR_FROM + f"at_least_m_by = {_NO_NUMBER}")),
    ("a multiple of nothing", _text(FOR_FROM + "at_least_m_times = { times = 4, of = [] }")),
    ("a negative multiple", _text(FOR_FROM + 'at_least_m_times = { times = -4, of = "site.a" }')),
    ("inside by at most", _text(_INSIDE + "at_most_m = 3")),
    ("nothing it is for", _text('id = "r"\nfor = []\nfrom = ["well"]\nat_least_m = 3')),
    ("never and must_be together", _text(_SIDE + 'never = "upwind"\nmust_be = "downwind"')),
]


@pytest.mark.parametrize("text", [text for _, text in BROKEN_SHAPES], ids=[name for name, _ in BROKEN_SHAPES])
def test_shapes_that_mean_nothing_are_refused(text):
    """A slip in the shape of a pack is a PackError: no traceback, no pack that says less than was meant."""
    _faults(text)
