"""What a single word looks like: a genus, a Latin epithet, an author, everyday speech."""

from __future__ import annotations

import re

from registry.domain.names.scanning import Kind, Token
from registry.domain.names.tables import (
    AUTHOR_LINKS,
    AUTHOR_MARKS,
    AUTHOR_PARTICLES,
    AUTHORS,
    DOUBTS,
    LATIN_EPITHET,
    ODD_EPITHETS,
    ODD_GENERA,
    PLAIN_WORDS,
    QUALIFIERS,
    TERMS,
    TITLES,
    WORD_ENDS,
)

Tokens = tuple[Token, ...]

INITIAL = re.compile(r"[A-Z]\.?$")
_INITIALS = re.compile(r"(?:[A-Z]\.-?)+$")
_ABBREVIATED = re.compile(r"[^\W\d_][\w'.-]*\.,?$")
_INITIALS_AND_NAME = re.compile(r"(?:[A-Z]\w{0,3}\.-?)+[A-Z]\w+,?$")
_GENUS = re.compile(r"[A-Za-zëï][a-zëïo-]+$")
_EPITHET = re.compile(r"[a-zëï][a-zëï-]+$")
RUN_WORD = re.compile(r"[\w'.!-]+$")


def folded_word(token: Token) -> str:
    """The word in lower case without a trailing full stop."""
    return token.text.rstrip(".").lower()


def is_lower(token: Token) -> bool:
    """Whether the token is a word in lower case."""
    return token.kind is Kind.WORD and token.text[:1].islower()


def is_doubt(token: Token) -> bool:
    """Whether the token says that the identification is not sure."""
    return folded_word(token) in QUALIFIERS or folded_word(token) in DOUBTS


def is_latin(word: str) -> bool:
    """Whether `word` has the shape and ending of a Latin epithet."""
    shaped = _EPITHET.match(word) is not None
    return shaped and (LATIN_EPITHET.search(word) is not None or word in ODD_EPITHETS)


def is_loosely_latin(word: str) -> bool:
    """Whether `word` could be a Latin epithet, by its last letter at least."""
    return is_latin(word) or (_EPITHET.match(word) is not None and word[-1] in WORD_ENDS)


def is_genus(word: str) -> bool:
    """Whether `word` could be a genus: letters only, on an ending that genera have."""
    low = word.lower()
    ends = low[-1] in WORD_ENDS or low in ODD_GENERA
    return _GENUS.match(word) is not None and ends and low not in PLAIN_WORDS


def is_author_word(text: str) -> bool:
    """Whether `text` alone is seen to be an author: abbreviated, or in the table."""
    word = text.rstrip(",")
    if word.rstrip(".").lower() in TITLES | TERMS:
        return False
    dotted = (word[:1].isupper() and _ABBREVIATED.match(word)) or _INITIALS_AND_NAME.match(word)
    return bool(dotted) or word in AUTHORS or word in AUTHOR_MARKS


def is_capitals(words: list[str]) -> bool:
    """Whether all of `words` are in capitals and one is longer than a letter."""
    letters = [[c for c in word if c.isalpha()] for word in words]
    in_capitals = all(word == word.upper() for word in words)
    return in_capitals and any(len(found) > 1 for found in letters)


# --- authors


def author_end(tokens: Tokens, start: int) -> int:
    """Where the authors that begin at `start` end; `start` itself if none stand there."""
    end = start
    for index in range(start, len(tokens)):
        token = tokens[index]
        if token.kind is Kind.BRACKET:
            inner = token.inner
            solid = bool(inner) and author_end(inner, 0) == len(inner)
        elif token.kind is Kind.WORD:
            solid = is_author_word(token.text) or _follows_as_author(tokens, start, index)
            if not solid and _may_continue(tokens, start, index):
                continue
        else:
            break
        if not solid:
            break
        end = index + 1
    return end


def _follows_as_author(tokens: Tokens, start: int, index: int) -> bool:
    """Whether it is one by its place: `Koch` behind `W. D. J.`, `Forrest` behind `&`."""
    word = tokens[index].text
    if index == start:
        return False
    before = tokens[index - 1].text
    if word in ("f.", "fil.", "bis"):
        behind = tokens[index + 1] if index + 1 < len(tokens) else None
        return behind is None or not is_lower(behind) or behind.text in AUTHOR_LINKS
    if not word[:1].isupper() or word.rstrip(".").lower() in TITLES:
        return False
    if before in AUTHOR_LINKS or before in AUTHOR_PARTICLES:
        return True
    return bool(_INITIALS.match(before)) and before != "L."


def _may_continue(tokens: Tokens, start: int, index: int) -> bool:
    """Links between authors, and the particle of a name; whether an author follows is seen next."""
    word = tokens[index].text
    if word in AUTHOR_LINKS:
        return index > start and word != "f."
    behind = tokens[index + 1].text if index + 1 < len(tokens) else ""
    return word in AUTHOR_PARTICLES and (index > start or is_author_word(behind))
