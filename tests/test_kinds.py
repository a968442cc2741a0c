"""The vocabulary: every kind in five languages, and the way from a word on a field sheet to a kind.

The words are common practice, written from memory; no published list stands behind them.
"""

import pytest

from siting import kinds

LANGUAGES = ("en", "fr", "pt", "es", "sw")
TRANSLATIONS = LANGUAGES[1:]
MOST_SPELLINGS = 8
"A translated list longer than this is a dictionary, not the words of a field sheet."

FIELD_WORDS = {
    # English
    "Bore hole": "borehole",
    "hand pump": "borehole",
    "hand-dug wells": "well",
    "VIP": "pit latrine",
    "Long drop": "pit latrine",
    "soak-away": "soakaway",
    "Placenta-pit": "placenta pit",
    "theatre": "treatment room",
    "OPD": "treatment room",
    "labour ward": "ward",
    "compound wall": "wall",
    "staff quarters": "dwelling",
    "cemeteries": "grave",
    # French
    "Puits": "well",
    "forages": "borehole",
    "FOSSE A PLACENTA": "placenta pit",
    "fosses à cendres": "ash pit",
    "fosse septique": "septic tank",
    "latrines": "pit latrine",
    "puisard": "soakaway",
    "centre de sante": "clinic",
    "château d’eau": "water tank",
    "mur de clôture": "wall",
    # Portuguese
    "poços": "well",
    "furo de agua": "borehole",
    "fossas de placenta": "placenta pit",
    "fossa séptica": "septic tank",
    "fossa negra": "cesspool",
    "enfermarias": "ward",
    "portões": "gate",
    "machamba": "crops",
    # Spanish
    "Pozos": "well",
    "pozos perforados": "borehole",
    "fosa de punzocortantes": "sharps pit",
    "letrinas de hoyo": "pit latrine",
    "pozo ciego": "cesspool",
    "manantiales": "spring",
    "rio": "river",
    # Swahili
    "kisima": "well",
    "Visima": "well",
    "vyoo": "pit latrine",
    "shimo la kondo la nyuma": "placenta pit",
    "kichomea taka": "incinerator",
    "nyumba za watumishi": "dwelling",
    "makaburi": "grave",
}

AMBIGUOUS = (
    "pit",
    "fosse",
    "fossé",
    "fossa",
    "fosa",
    "shimo",
    "fosse d'aisance",
    "pozo séptico",
    "sumidero",
    "point d'eau",
    "mfereji",
    "bomba la maji",
    "wadi",
    "magasin",
    "depósito",
    "campo",
)

MAY_DRAIN_ELSEWHERE = ("toilet block", "flush toilet", "WC", "bathroom", "baño", "casa de banho")


@pytest.fixture(scope="module")
def words():
    """The vocabulary that comes with the package."""
    return kinds.vocabulary()


def entry(*spellings, groups=("building",)):
    """A kind as `kinds.toml` holds it."""
    return {"groups": list(groups), "en": list(spellings)}


@pytest.mark.parametrize("name", kinds.vocabulary().kinds)
def test_every_kind_speaks_five_languages(words, name):
    """Each kind has exactly the five languages, each with a few distinct spellings and a tidy label first."""
    spellings = words.kinds[name].spellings

    assert set(LANGUAGES) == set(spellings)
    for language in LANGUAGES:
        keys = [kinds.folded(word) for word in spellings[language]]
        assert len(set(keys)) == len(keys), f"{language}: a spelling is listed twice"
        assert "" not in keys
        assert all(word == word.strip() for word in spellings[language])
    assert all(2 <= len(spellings[language]) <= MOST_SPELLINGS for language in TRANSLATIONS)


def test_every_listed_spelling_leads_to_its_own_kind(words):
    """A name, a label or a spelling of a kind is recognised as that kind, and so is it with a plural s."""
    for kind in words.kinds.values():
        for spelling in (kind.name, *(word for listed in kind.spellings.values() for word in listed)):
            assert kind.name == words.recognise(spelling)
            assert kind.name == words.recognise(f"{spelling}s")


def test_no_spelling_loses_its_final_s_into_another_kind(words):
    """Where dropping a final s gives another listed spelling, both mean the same kind."""
    clashes = {
        key: (kind, words.words[key.removesuffix("s")])
        for key, kind in words.words.items()
        if words.words.get(key.removesuffix("s"), kind) != kind
    }

    assert {} == clashes


def test_one_spelling_for_two_kinds_is_refused():
    """A table in which a folded spelling means two kinds raises, naming the spelling and both kinds."""
    table = {"fence": entry("fence", "clôture"), "wall": entry("wall", "CLOTURE")}

    with pytest.raises(ValueError, match="'CLOTURE' means both 'fence' and 'wall'"):
        kinds.parse(table)


def test_one_spelling_in_two_languages_of_one_kind_is_allowed():
    """Languages may share a word as long as it means one kind."""
    table = {"river": {"groups": [], "en": ["river"], "pt": ["rio"], "es": ["río"]}}

    assert "river" == kinds.parse(table).recognise("Rio")


@pytest.mark.parametrize(("word", "kind"), FIELD_WORDS.items())
def test_words_of_field_sheets_are_recognised(words, word, kind):
    """A word as people write it, in any of the five languages, leads to its kind."""
    assert kind == words.recognise(word)


@pytest.mark.parametrize(
    "word",
    [
        "fosse à placenta",
        "FOSSE À PLACENTA",
        "Fosse a placenta",
        "  fosse-à  placenta. ",
        "fosse a\u0300 placenta",
    ],
)
def test_case_accents_punctuation_and_spaces_do_not_matter(words, word):
    """One spelling is recognised however it is typed, with composed or separate accents."""
    assert "placenta pit" == words.recognise(word)


@pytest.mark.parametrize(
    ("singular", "plural"),
    [
        ("borehole", "boreholes"),
        ("cemetery", "cemeteries"),
        ("château d'eau", "châteaux d'eau"),
        ("fosse septique", "fosses septiques"),
        ("armazém", "armazéns"),
        ("incinerador", "incineradores"),
        ("árbol", "árboles"),
        ("kijito", "vijito"),
        ("choo cha shimo", "vyoo vya shimo"),
    ],
)
def test_plural_means_what_the_singular_means(words, singular, plural):
    """A plural, regular or not, leads to the kind of its singular."""
    assert kinds.UNKNOWN != words.recognise(singular)
    assert words.recognise(singular) == words.recognise(plural)


@pytest.mark.parametrize("word", AMBIGUOUS)
def test_a_word_of_two_meanings_is_unknown(words, word):
    """A word that may mean two kinds is not guessed at, in the singular or the plural."""
    assert kinds.UNKNOWN == words.recognise(word)
    assert kinds.UNKNOWN == words.recognise(f"{word}s")


@pytest.mark.parametrize("word", MAY_DRAIN_ELSEWHERE)
def test_a_flushed_or_shared_toilet_is_not_taken_for_a_pit(words, word):
    """A toilet that may drain to a sewer or to a tank is unknown."""
    assert kinds.UNKNOWN == words.recognise(word)


@pytest.mark.parametrize("word", ["toilet", "toilettes", "choo"])
def test_a_bare_toilet_is_read_as_a_pit_latrine(words, word):
    """A toilet of which nothing more is said gets the stricter reading."""
    assert "pit latrine" == words.recognise(word)


@pytest.mark.parametrize("word", ["", "   ", "?!", "s", "helipad", "水井"])
def test_what_is_not_in_the_vocabulary_is_unknown(words, word):
    """An empty, foreign or unlisted word is `unknown`, which is itself no kind."""
    assert kinds.UNKNOWN == words.recognise(word)
    assert kinds.UNKNOWN not in words.kinds


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("borhole", "borehole"),
        ("placenta pitt", "placenta pit"),
        ("fosse a plasenta", "placenta pit"),
        ("letrna", "pit latrine"),
        ("kissima", "well"),
        ("incinerateure", "incinerator"),
    ],
)
def test_a_misspelt_word_is_not_recognised_but_its_kind_is_proposed_first(words, word, kind):
    """A slip of the pen stays unknown, and the kind it was meant for is the first proposal."""
    assert kinds.UNKNOWN == words.recognise(word)
    assert kind == words.nearest(word)[0]


def test_proposals_are_few_and_distinct(words):
    """At most `count` kinds are proposed, each once; nothing is proposed for a word like no other."""
    two = words.nearest("fosse a", count=2)
    same = words.nearest("placentas pit", count=3)

    assert 2 == len(set(two)) == len(two)
    assert 1 == same.count("placenta pit")
    assert () == words.nearest("xqzxqzxqz")


def test_a_group_expands_to_its_kinds(words):
    """A group stands for all its kinds, a kind for itself, and both may be mixed."""
    assert frozenset({"well", "borehole", "spring"}) == words.expand(["groundwater source"])
    assert frozenset({"stream", "river", "canal", "well"}) == words.expand(["watercourse", "well"])
    assert frozenset() == words.expand([])


def test_a_name_that_is_a_kind_and_a_group_expands_to_both(words):
    """`building` is a kind and a group: expanding it takes in the wards as well."""
    assert {"building", "ward", "store"} <= words.expand(["building"])


@pytest.mark.parametrize("name", ["puits", "water sources", "unknown"])
def test_expanding_what_is_neither_kind_nor_group_names_it(words, name):
    """Rules name kinds and groups exactly; anything else raises KeyError with the name."""
    with pytest.raises(KeyError) as raised:
        words.expand(["well", name])

    assert (name,) == raised.value.args


def test_installations_are_what_can_be_placed(words):
    """A placenta pit can be placed, a well cannot, and an unknown kind is not an installation."""
    assert words.is_installation("placenta pit")
    assert not words.is_installation("well")
    assert not words.is_installation(kinds.UNKNOWN)


def test_groups_are_those_of_all_kinds(words):
    """Every group of every kind is listed, and nothing else."""
    table = {"a": entry("a", groups=["x", "y"]), "b": entry("b", groups=["y"])}

    assert frozenset({"x", "y"}) == kinds.parse(table).groups
    assert kinds.INSTALLATION in words.groups


def test_a_label_is_the_first_word_with_its_accents(words):
    """A label keeps its accents, and a language that is missing falls back to English."""
    pit = words.kinds["placenta pit"]

    assert "fosse à placenta" == pit.label("fr")
    assert "shimo la kondo la nyuma" == pit.label("sw")
    assert "placenta pit" == pit.label("am")


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_two_kinds_share_a_label(words, language):
    """A legend in one language never shows one word for two kinds."""
    labels = [kind.label(language) for kind in words.kinds.values()]

    assert len(set(labels)) == len(labels)


def test_assumed_attributes_are_read_and_missing_ones_are_empty(words):
    """What is taken for granted comes with the kind; a kind without it takes nothing for granted."""
    assert {"sealed": True} == words.kinds["sharps pit"].assumed
    assert {"sealed": False} == words.kinds["pit latrine"].assumed
    assert {} == words.kinds["well"].assumed
