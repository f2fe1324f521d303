"""Cultivar epithets: their capitals, and what the ICNCP says against them."""

from __future__ import annotations

from collections.abc import Iterator

from registry.domain.names.parts import Remark
from registry.domain.names.tables import (
    ALLOWED_SIGNS,
    BANNED_WORDS,
    LINKING_WORDS,
    LONGEST_EPITHET,
    SUPERLATIVES,
)
from registry.errors import NameReason

WARNINGS = frozenset(
    {
        NameReason.BANNED_WORD,
        NameReason.TOO_LONG,
        NameReason.SUPERLATIVE,
        NameReason.REPEATS_GENUS,
        NameReason.ODD_SIGN,
    }
)


def capitalised(epithet: str, *, shouted: bool = False) -> str:
    """`epithet` with a capital on each word, save linking words and parts after a hyphen (ICNCP).

    Args:
        epithet: without quotes.
        shouted: whether the whole name was typed in capitals, so that they mean nothing.

    >>> capitalised("ace of spades")
    'Ace of Spades'
    >>> capitalised("Jules d'Asnières")
    "Jules d'Asnières"
    """
    words = epithet.split()
    if shouted:
        words = [word if any(c.isdigit() for c in word) else word.lower() for word in words]
    return " ".join(_capital(word, first=index == 0) for index, word in enumerate(words))


def _capital(word: str, *, first: bool) -> str:
    kept = word != word.lower() or word[1:2] == "'" or (word in LINKING_WORDS and not first)
    return word if kept else word[0].title() + word[1:]  # ß has no capital of one letter


def objections(genus: str, epithet: str) -> Iterator[Remark]:
    """What the ICNCP says against `epithet`.

    One letter and only numerals are asked about; the rest, in `WARNINGS`, is only said, because
    epithets from before 1959 (banned words, superlatives) or 1996 (length) stay as they are.
    """
    letters = [c for c in epithet if c.isalpha()]
    compact = epithet.replace(" ", "")
    if compact.isdigit():
        yield Remark(NameReason.ONLY_NUMERALS, epithet)
    elif len(compact) == 1 and letters:
        yield Remark(NameReason.ONE_LETTER, epithet)
    for word in epithet.casefold().replace("-", " ").split():
        if word in BANNED_WORDS:
            yield Remark(NameReason.BANNED_WORD, word)
        elif word in SUPERLATIVES:
            yield Remark(NameReason.SUPERLATIVE, word)
        elif word == genus.casefold():
            yield Remark(NameReason.REPEATS_GENUS, word)
    if len(compact) > LONGEST_EPITHET:
        yield Remark(NameReason.TOO_LONG, str(len(compact)))
    odd = [c for c in epithet if not (c.isalnum() or c in ALLOWED_SIGNS)]
    if odd or "!!" in epithet or epithet.count("!") > 2:
        yield Remark(NameReason.ODD_SIGN, odd[0] if odd else "!")
