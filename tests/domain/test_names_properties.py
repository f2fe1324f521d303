"""What holds of every plant name: print and parse are inverse, keys ignore accents and case."""

import unicodedata
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from registry.domain.names import (
    Bunch,
    Hybrid,
    Join,
    Level,
    Outcome,
    ParsedName,
    Qualifier,
    Status,
    matching_key,
    near,
    parse_name,
    plain,
    runs,
    search_keys,
)
from registry.domain.names.keys import distance
from registry.domain.names.tables import (
    COMMON_NAMES,
    LINKING_WORDS,
    NOT_EPITHETS,
    OWN_X,
    PLAIN_WORDS,
    RANKS,
    RESPELT,
    TERMS,
)

WITHOUT_QUESTION = (Outcome.ACCEPTED, Outcome.NORMALISED)

# --- names in proper form ----------------------------------------------------------------------

SYLLABLES = """
    al ar be bra ca cha cor de di el fa fla ga gra he il ja ki la li lo ma mi mo na ne no o pa phi
    pla qui ra ri ro sa si so spi sti ta te tri u va ve vi ya ze xy
"""
syllables = st.sampled_from(SYLLABLES.split())
stems = st.lists(syllables, min_size=2, max_size=4).map("".join)


def latin(endings: str):
    """Words on Latin endings that mean nothing else to the parser."""
    made = st.builds(lambda stem, end: stem + end, stems, st.sampled_from(endings.split()))
    meaning = PLAIN_WORDS | TERMS | set(COMMON_NAMES) | set(RESPELT)  # asked about, or words
    return made.filter(lambda w: w not in meaning and (w[0] != "x" or OWN_X.match(w)))


genera = latin("a us um is on ia anthus ella").map(str.capitalize)
simple_epithets = latin("a us um is ensis ii ae oides flora folius orum ans")
joined_epithets = st.tuples(simple_epithets, simple_epithets).map("-".join)  # ICN Art. 23.1
epithets = simple_epithets | joined_epithets

initial = st.sampled_from(
    "ABCDEFGHIJKLMNOPQRSTUVWYZÀÉÖØŁŠÞĀČĐĞĪŃŐŘŞŪŽÆŒÑ"
)  # no X: alone it is a sign
rest = st.text(
    "abcdefghijklmnopqrstuvwxyzàéöøłšßþāčđğīıńőřşūžæœñ'-", min_size=2, max_size=9
).filter(lambda w: w[-1].isalpha() and "''" not in w)
capital_words = st.builds(lambda a, b: a + b, initial, rest)
linked = st.tuples(capital_words, st.sampled_from(sorted(LINKING_WORDS - {"'t"})), capital_words)
cultivars = (
    st.lists(capital_words, min_size=1, max_size=3).map(" ".join)
    | linked.map(" ".join)
    | st.sampled_from(
        """I-214;M26;Shojo-no-mai;Tarn Jr.;Jules d'Asnières;Wow! Now!;X 26;Cv. Red;F. Alba
        Rock 'n' Roll;Gardeners';Ladies' Choice;O'Neill's Best;'Tis Time;Group Captain;Gx 7
        Sp. Nova;Var. Red;No. 5;Mr X;A & B;A/B;A\\B;Salt, Pepper;Rosa;Alba;L.;Müller F.
        Vier-und-Zwanzig;Saint-Rémy-de-Provence;Ō-sakazuki;Ñandú;Unknown Soldier;5th Avenue
        X Marks the Spot;Plus + Minus;Peace;Red? Blue;U.S. Grant;D'Or;L'Été;Æro;PBR Rose
        Hot Pink;Little Old Lady;Best Red Hybrid;Cultivar Nine;(Bracket);Oui = Si""".replace(
            "\n        ", ";"
        ).split(";")
    )
).filter(lambda c: c.lower() not in NOT_EPITHETS)  # these say that none is known
bunches = st.lists(stems.map(str.capitalize), min_size=1, max_size=2).map(
    " ".join
) | st.sampled_from(["Mme Hardy", "Saint-Rémy", "O'Neill", "B 52", "Crème", "Double"])
# Not CV, NOID and the like, which say something else in any case.
trades = st.lists(
    st.text("ABDEFGHIJKLMNORSTUWYZÉÖ", min_size=3, max_size=8).filter(
        lambda w: w.lower() not in NOT_EPITHETS | set(RANKS)
    ),
    min_size=1,
    max_size=3,
).map(" ".join) | st.sampled_from(
    [
        "SKY'S-THE LIMIT",
        "ROCK & ROLL",
        "L'ÉTÉ",
        "NO. 5",
        "WOW!",
        "R2D2",
        "BLUE 2ND",
        "ŁÓDŹ",
        "DE LUXE",
    ]
)


@st.composite
def single_names(draw):
    """A name without a second parent, in proper form."""
    hybrid = draw(st.sampled_from(Hybrid))
    name = ParsedName(draw(genera), hybrid)
    with_species = hybrid is not Hybrid.GRAFT and (hybrid is Hybrid.SPECIES or draw(st.booleans()))
    if with_species:
        name = replace(name, species=draw(epithets))
        assume(name.species != name.genus.lower())  # a tautonym is asked about
        if draw(st.booleans()):
            rank = draw(st.sampled_from(sorted(set(RANKS.values()))))
            name = replace(name, rank=rank, infraspecific=draw(epithets))
    if draw(st.booleans()):
        bunch = draw(st.sampled_from([Bunch.GROUP, Bunch.GREX]))
        name = replace(name, bunch=bunch, bunch_epithet=draw(bunches))
    if draw(st.booleans()):
        name = replace(name, cultivar=draw(cultivars))
    if draw(st.booleans()):
        name = replace(name, trade=draw(trades))
    return draw(with_doubt(draw(with_status(name))))


@st.composite
def with_status(draw, name):
    """`name`, or `name` saying what it lacks."""
    fitting = [Status.COMPLETE]
    if not name.species and name.hybrid is not Hybrid.GRAFT:
        fitting += [Status.ONE_SPECIES, Status.SEVERAL_SPECIES]
    if not name.cultivar:
        fitting.append(Status.CULTIVAR_UNKNOWN)
    return replace(name, status=draw(st.sampled_from(fitting)))


@st.composite
def with_doubt(draw, name):
    """`name`, or `name` with cf., aff. or (?) where one can stand."""
    qualifier = draw(st.sampled_from(Qualifier))
    levels = [Level.GENUS]
    if qualifier in (Qualifier.CF, Qualifier.AFF):
        levels += [Level.SPECIES] * bool(name.species)
        levels += [Level.INFRASPECIFIC] * bool(name.infraspecific)
    return replace(name, qualifier=qualifier, qualifies=draw(st.sampled_from(levels)))


@st.composite
def names(draw):
    """A name in proper form, one in three a formula, and of those some of three parents."""
    name = draw(single_names())
    if draw(st.integers(0, 2)):
        return name
    join, other = draw(st.sampled_from([Join.CROSS, Join.GRAFT])), draw(single_names())
    first, second = name, other
    if join is Join.CROSS and draw(st.booleans()):
        second = replace(second, join=Join.CROSS, second=draw(single_names()))
    if join is Join.GRAFT and second.genus < first.genus:  # parts stand in alphabetical order
        first, second = second, first
    return replace(first, join=join, second=second)


@given(names())
@settings(max_examples=400)
def test_what_is_printed_reads_as_the_same_name(name):
    reading = parse_name(plain(name))
    assert reading.outcome is Outcome.ACCEPTED, reading
    assert reading.name == name


@given(names())
def test_runs_join_to_the_plain_text_and_alternate_in_style(name):
    printed = runs(name)
    assert "".join(run.text for run in printed) == plain(name)
    assert all(one.style is not two.style for one, two in pairwise(printed))


@given(names(), st.sampled_from(["NFC", "NFD"]))
def test_the_way_of_typing_does_not_change_the_name(name, form):
    typed = plain(name).replace("‘", "'").replace("’", "'").replace(" ", "  ")
    assert parse_name(unicodedata.normalize(form, typed)).name == name


@given(names())
def test_straight_quotes_and_x_have_the_same_key(name):
    typed = plain(name).replace("‘", "'").replace("’", "'").replace("×", "x ")
    assert matching_key(typed) == matching_key(plain(name))


# --- whatever is typed -------------------------------------------------------------------------

WORDS = """
    Rosa rosa QUERCUS Quercus S. P robur alba xalba xanthina caffra peace capillus veneris x X × +
    ×alba xRosa ×Rosa = ( ) (?) ? ?? ' " ‘ ’ '' ‘Peace’ 'red robin' "Peace" 'Oxbril® 'R' '12'
    'unknown' subsp. ssp var. var f. f forma cv. cv Group group Gp gx grex (Capitata sp. spp
    species cf. aff. aff agg. L. (L.) Koch & ex Hook. W. D. J. Mme. de of and Peace OXBOW LIGHT
    Light® ® ™ (R) PBR PP99001 PP99,002 unknown cultivar NOID apple Fig red gate Aunt's lavender
    no. 5 M26 , a, - / 't d'Or ♀ ♂ 薔薇 é
"""
PIECES = WORDS.split()
typed_texts = st.lists(st.sampled_from(PIECES), max_size=8).map(" ".join)


@given(typed_texts | st.text(max_size=60))
@settings(max_examples=300)
@example("Rosa 'a' 'b' 'c'")
@example("× × ×")
@example("Rosa NOID ‘Peace’")
@example("cf. cf. Rosa")
def test_any_text_is_read_and_what_is_printed_stays_as_it_is(text):
    reading = parse_name(text)
    assert reading.typed == text
    if reading.name is not None and reading.outcome in WITHOUT_QUESTION:
        again = parse_name(plain(reading.name))
        assert again.name == reading.name
        assert again.outcome is Outcome.ACCEPTED
    assert reading.outcome not in WITHOUT_QUESTION or reading.name is not None
    assert reading.outcome is not Outcome.ASK or reading.remarks
    assert reading.outcome is not Outcome.REFUSED or reading.name is None


@given(typed_texts)
@settings(max_examples=300)
@example("Rosa P ''")
@example(",")
@example("salvia sp. nova alba")
def test_no_offer_needs_another_question(text):
    reading = parse_name(text)
    for offer in reading.offers:
        assert parse_name(offer).outcome in WITHOUT_QUESTION, (offer, reading)


# --- keys --------------------------------------------------------------------------------------

LETTERS = [
    chr(point)
    for point in range(0x41, 0x2FA20)
    if unicodedata.category(chr(point))[0] == "L" and not 0x3400 <= point <= 0xD7A3
]


def test_keys_ignore_the_accents_that_unicode_takes_apart():
    """For every Latin, Greek and Cyrillic letter that is a base letter with diacritical marks."""
    seen = 0
    for letter in LETTERS:
        base, *marks = tuple(unicodedata.normalize("NFD", letter))
        if marks and all("\u0300" <= mark <= "\u036f" and mark != "\u0345" for mark in marks):
            seen += 1
            assert matching_key(f"a{letter}") == matching_key(f"a{base}"), hex(ord(letter))
    assert seen > 700


def test_keys_ignore_case_in_every_script():
    """Upper, lower and folded forms meet, as Unicode's own case mappings make them."""
    for letter in LETTERS:
        keys = {matching_key("a" + form(letter)) for form in (str, str.upper, str.lower)}
        assert keys == {matching_key("a" + letter.casefold())}, hex(ord(letter))


@given(st.text())
@example("ÑF")
def test_a_key_is_its_own_key(text):
    assert matching_key(matching_key(text)) == matching_key(text)


@given(st.text())
def test_search_keys_hold_no_space_and_no_capital(text):
    for word in search_keys(text):
        assert word == word.casefold()
        assert word.split() == [word]


# --- nearness ----------------------------------------------------------------------------------

short_words = st.text("abc", max_size=6)


def reference_distance(one: str, other: str) -> int:
    """Damerau-Levenshtein by its definition (adjacent swaps not edited again)."""
    if not one or not other:
        return len(one) + len(other)
    best = min(
        reference_distance(one[1:], other) + 1,
        reference_distance(one, other[1:]) + 1,
        reference_distance(one[1:], other[1:]) + (one[0] != other[0]),
    )
    if one[:2] == other[1::-1] and len(one) > 1 and len(other) > 1:
        best = min(best, reference_distance(one[2:], other[2:]) + 1)
    return best


@given(short_words, short_words)
def test_distance_agrees_with_its_definition(one, other):
    assert distance(one, other, at_most=2) == min(reference_distance(one, other), 3)
    assert distance(one, other, at_most=9) == reference_distance(one, other)


@given(short_words, short_words)
def test_nearness_is_mutual(one, other):
    assert near(one, other) == near(other, one)
    assert near(one, one)


@pytest.mark.parametrize("marks", ["'", "‘’", "…", "×"])
def test_a_text_without_letters_has_no_key(marks):
    assert matching_key(marks) == ""
