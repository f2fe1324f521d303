"""Formulas and shouted names: what is read before and around the single name of `reader`."""

from __future__ import annotations

from dataclasses import replace

from registry.domain.names.parts import Join, ParsedName
from registry.domain.names.reader import Found, NameReader, Question, Refused
from registry.domain.names.scanning import Kind, Token
from registry.domain.names.shapes import (
    Tokens,
    folded_word,
    is_author_word,
    is_doubt,
    is_latin,
    is_lower,
)
from registry.domain.names.tables import LINKING_WORDS, PLAIN_WORDS, RANKS
from registry.errors import NameReason


def read_tokens(tokens: Tokens) -> Found:
    """The name, formula or not, that `tokens` make up.

    Raises:
        Unread: they are no botanical name.
        Refused: they cannot be one.
    """
    whole = _split_queries(tokens)
    if shouted := _is_shouted(whole):
        whole = _lowered(whole)
    return _read(whole, first_genus="", shouted=shouted)


def speaks_plainly(tokens: Tokens) -> bool:
    """Whether a lower-case everyday word stands among the tokens."""
    said = {t.text for t in tokens if is_lower(t)}
    return bool(said & (PLAIN_WORDS - LINKING_WORDS))


def _read(tokens: Tokens, first_genus: str, *, shouted: bool) -> Found:
    if tokens and tokens[-1].kind in (Kind.TIMES, Kind.PLUS):
        if tokens[:-1]:  # words that end in a sign are words
            _read(tokens[:-1], first_genus, shouted=shouted)
        raise Refused(NameReason.SIGN_LAST, tokens[-1].text)
    at = _joiner(tokens)
    if at is None:
        return NameReader(tokens, first_genus, shouted=shouted).read()
    join = Join.CROSS if tokens[at].kind is Kind.TIMES else Join.GRAFT
    left = NameReader(tokens[:at], first_genus, shouted=shouted).read()
    right_tokens = tokens[at + 1 :]
    lacks_genus = _lacks_genus(right_tokens, left.name.genus)
    if lacks_genus:
        genus = Token(Kind.WORD, left.name.genus, right_tokens[0].start, right_tokens[0].start)
        right_tokens = (genus, *right_tokens)
    right = _read(right_tokens, left.name.genus, shouted=shouted)
    return _joined(left, join, right, lacks_genus=lacks_genus)


def _joined(left: Found, join: Join, right: Found, *, lacks_genus: bool) -> Found:
    """Two parents as one formula, with the questions of both."""
    first, second = left.name, right.name
    turned = join is Join.GRAFT and second.genus < first.genus and not second.is_formula
    if turned:  # ICNCP: the parts of a graft-chimaera stand in alphabetical order
        left, right, first, second = right, left, second, first

    def formula(one: ParsedName, other: ParsedName) -> ParsedName:
        return replace(one, join=join, second=other)

    name = formula(first, second)
    questions = [
        replace(q, variants=tuple(formula(v, second) for v in q.variants)) for q in left.questions
    ]
    questions += [
        replace(q, variants=tuple(formula(first, v) for v in q.variants)) for q in right.questions
    ]
    if lacks_genus:
        word = second.species or second.cultivar
        questions.insert(0, Question(NameReason.SECOND_PARENT_WITHOUT_GENUS, word, (name,)))
    return Found(name, tuple(questions), left.author_spans + right.author_spans)


def _joiner(tokens: Tokens) -> int | None:
    """Where a × or + joins two parents; None if each sign belongs to a single name."""
    for index, token in enumerate(tokens):
        if token.kind not in (Kind.TIMES, Kind.PLUS):
            continue
        if index and not _is_own_sign(tokens, index):
            return index
    return None


def _is_own_sign(tokens: Tokens, index: int) -> bool:
    """Whether the sign at `index` belongs to the name behind it, not between two parents."""
    before = [t for t in tokens[:index] if not is_doubt(t)]
    if not before:
        return True
    if tokens[index].kind is not Kind.TIMES:
        return False
    if before[-1].kind is Kind.WORD and folded_word(before[-1]) in RANKS:
        return True
    following = next((t for t in tokens[index + 1 :] if not is_doubt(t)), tokens[index])
    words = [t for t in before if t.kind is Kind.WORD]
    only_genus = len(words) == 1 and all(t.kind is not Kind.QUOTED for t in before)
    return only_genus and (following.kind is Kind.QUOTED or is_lower(following))


def _lacks_genus(tokens: Tokens, genus: str) -> bool:
    """Whether a second parent starts with its epithet (wrong by ICN Art. H.2 Ex. 2)."""
    told = [t for t in tokens if not is_doubt(t)]
    if not told or told[0].kind is Kind.QUOTED:
        return bool(told)
    if not is_lower(told[0]) or folded_word(told[0]) == genus.lower():
        return False
    return not (len(told) > 1 and is_lower(told[1]) and is_latin(told[1].text))


def _is_shouted(tokens: Tokens) -> bool:
    """Whether everything outside quotes is in capitals: QUERCUS ROBUR L."""
    words = [t.text for t in tokens if t.kind is Kind.WORD]
    return bool(words) and len(words[0]) > 2 and all(w == w.upper() for w in words)


def _lowered(tokens: Tokens) -> Tokens:
    """Shouted words in lower case, the genus first with a capital; abbreviated authors kept."""

    def lower(token: Token) -> Token:
        if token.kind is not Kind.WORD or is_author_word(token.text):
            return token
        return replace(token, text=token.text.lower())

    return tuple(lower(token) for token in tokens)


def _split_queries(tokens: Tokens) -> Tokens:
    """Question marks behind a word as words of their own."""
    out: list[Token] = []
    for token in tokens:
        bare = token.text.rstrip("?")
        if token.kind is Kind.WORD and bare and bare != token.text:
            middle = token.start + len(bare)
            out.append(replace(token, text=bare, end=middle))
            out.append(Token(Kind.WORD, "?", middle, token.end))
        else:
            out.append(token)
    return tuple(out)
