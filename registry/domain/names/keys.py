"""Keys under which names meet: what is typed without accents finds what is printed with them."""

from __future__ import annotations

import re
import unicodedata

from registry.domain.names.parts import ParsedName
from registry.domain.names.scanning import QUOTES
from registry.domain.names.tables import NAME_UNKNOWN, NOTHO_RANKS, RANKS, SPELLED_OUT

# Letters that Unicode does not take apart into a letter and an accent.
_UNDECOMPOSED = str.maketrans(
    {
        "ł": "l",
        "ø": "o",
        "đ": "d",
        "ð": "d",
        "ħ": "h",
        "ŧ": "t",
        "ı": "i",
        "æ": "ae",
        "œ": "oe",
        "þ": "th",
    }
)
_ACCENTS = re.compile("[\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe20-\ufe2f]")
_APOSTROPHES = re.compile(f"[{re.escape(QUOTES)}\u02bc]")
_GLUED_SIGN = re.compile(r"(?<!\w)[xX×](?=[A-Z][a-z])")
_LEFT_OUT = frozenset({"x", "cv", "cvs"})
_HYBRID_RANKS = {hybrid: rank for rank, hybrid in NOTHO_RANKS.items()}
_SPELT_ALIKE = {
    "gp": "group",
    "grex": "gx",
    **{
        term: _HYBRID_RANKS.get(rank, rank).rstrip(".")
        for term, rank in RANKS.items()
        if term not in ("form", "variety")  # also everyday words
    },
}

NEAR = 2  # letters that two names of one owner may differ in and still be asked about


def received(text: str) -> str:
    """A name as it is stored for ever: what was typed, in Unicode's composed form (NFC).

    >>> len("e\u0301"), len(received("e\u0301"))
    (2, 1)
    """
    return unicodedata.normalize("NFC", text)


def matching_key(text: str) -> str:
    """The letters and digits of `text` that tell names apart.

    Case, accents, quotes, ×, +, notho-, ``cv.`` and punctuation are ignored, rank terms are
    spelt one way, and white space is collapsed. By ICN Art. H.3.3 the hybrid sign does not tell
    two names apart. A text without letters or digits has an empty key.

    >>> matching_key("Mentha × piperita ssp. citrata ‘Tête d’Or’")
    'mentha piperita subsp citrata tete dor'
    """
    words = _words(_GLUED_SIGN.sub("", text))
    return " ".join(_SPELT_ALIKE.get(w, w) for w in words if w not in _LEFT_OUT)


def calling_key(text: str) -> str:
    """The key of what a grower calls a person, place or tool.

    It is the `matching_key`, except that X by itself is a name there and no hybrid sign.

    >>> calling_key("X"), calling_key("Nan Ashé")
    ('x', 'nan ashe')
    """
    return matching_key(text) or " ".join(_words(text))


def _words(text: str) -> list[str]:
    bare = _APOSTROPHES.sub("", _folded(text))
    return re.sub(r"[\W_]+", " ", bare).split()


def _folded(text: str) -> str:
    """`text` without case and accents; NFC again, so that other scripts stay as written."""
    folded = unicodedata.normalize("NFKD", text).casefold()
    apart = unicodedata.normalize("NFKD", folded).translate(_UNDECOMPOSED)
    return unicodedata.normalize("NFC", _ACCENTS.sub("", apart))


_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")


def search_keys(text: str) -> tuple[str, ...]:
    """The words of `text` to search by, abbreviations spelled out, long numbers without commas.

    >>> search_keys("Rosa ‘Mme Alfred Carrière’")
    ('rosa', 'madame', 'alfred', 'carriere')
    """
    plain = _THOUSANDS.sub("", text.replace("&", " and "))
    return tuple(SPELLED_OUT.get(word, word) for word in matching_key(plain).split())


def is_name_unknown(text: str) -> bool:
    """Whether `text` only says that there is no name: ``unknown``, ``NOID``, ``?``."""
    return matching_key(text) in NAME_UNKNOWN | {""}


def taxa(name: ParsedName) -> tuple[ParsedName, ...]:
    """The name itself, or all the parents of a formula."""
    if name.second is None:
        return (name,)
    return (name, *taxa(name.second))


def genus_key(name: ParsedName) -> str:
    """The genus; of a formula, the first parent's (see `taxa`)."""
    return matching_key(name.genus)


def species_key(name: ParsedName) -> str:
    """Genus and species, empty without a species; of a formula, the first parent's."""
    return f"{genus_key(name)} {matching_key(name.species)}" if name.species else ""


def denomination_key(name: ParsedName) -> str:
    """Genus and cultivar epithet, whatever the species: under it a right meets a plant.

    Empty where no cultivar is named. A formula's cultivars are its parents', not its own.

    >>> denomination_key(ParsedName("Rosa", cultivar="Oxbril"))
    "rosa 'oxbril"
    """
    return f"{genus_key(name)} '{matching_key(name.cultivar)}" if name.is_cultivar_named else ""


def trade_key(name: ParsedName) -> str:
    """Genus and trade designation, empty where there is none."""
    return f"{genus_key(name)} ={matching_key(name.trade)}" if name.trade else ""


def near(one: str, other: str) -> bool:
    """Whether two names are the same or differ in at most two letters.

    Letters left out, added, changed or swapped with their neighbour count one each, on the
    matching keys. Numbers must agree: ``Fig 1`` is not ``Fig 2``.

    >>> near("Salvia 'Hot Coral'", "salvia hotcoral")
    True
    >>> near("Fig 1", "Fig 2")
    False
    """
    a, b = matching_key(one), matching_key(other)
    if re.findall(r"\d+", a) != re.findall(r"\d+", b):
        return False
    return distance(a, b, at_most=NEAR) <= NEAR


def distance(one: str, other: str, *, at_most: int) -> int:
    """The Damerau-Levenshtein distance (adjacent swaps), or `at_most` + 1 if it is more.

    >>> distance("acer", "aecr", at_most=2)
    1
    """
    if abs(len(one) - len(other)) > at_most:
        return at_most + 1
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        earlier, before, row = before, row, [i]
        for j, b in enumerate(other, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and b == one[i - 2]:
                cost = min(cost, earlier[j - 2] + 1)
            row.append(cost)
        if min(row) > at_most:
            return at_most + 1
    return min(row[-1], at_most + 1)
