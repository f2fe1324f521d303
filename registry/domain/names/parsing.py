"""A typed plant name, read: accepted, normalised, asked about, kept as words, or refused.

The order of the steps: refuse what no name can hold; tidy; set marks aside; pair quotes; signs;
rank terms; and never guess at a lower-case third word or a bare capitalised word.

Words or a name? The first word decides: everyday words (``red``, ``my``), words on an ending
that no genus has (``Fig``), and text with commas, numbers or places in it are words. A
lower-case first word is a genus when it has a genus's ending and all else reads as a name
(``quercus robur``). A common name (``apple``) before an epithet is asked about; alone it is words.
"""

from __future__ import annotations

import re
from dataclasses import replace

from registry.domain.names.epithets import WARNINGS, capitalised, objections
from registry.domain.names.grammar import read_tokens, speaks_plainly
from registry.domain.names.keys import matching_key
from registry.domain.names.parts import Outcome, ParsedName, Reading, Remark
from registry.domain.names.printing import plain
from registry.domain.names.reader import Found, Question, Refused, Unread
from registry.domain.names.scanning import (
    QUOTES,
    Kind,
    Scan,
    Token,
    restyled,
    scan,
    scripts,
    tidy,
    unfit,
)
from registry.domain.names.shapes import is_genus
from registry.domain.names.tables import (
    COMMON_NAMES,
    LINKING_WORDS,
    NAME_UNKNOWN,
    PLAIN_WORDS,
    SPECIES_STATUS,
    TERMS,
)
from registry.errors import BadName, NameReason

LONGEST_NAME = 300  # characters; a longer text is words

DEEPEST = 3  # questions that one offer answers at once

# Questions after which the name may still be kept as it was read.
KEEPABLE = frozenset(
    {
        NameReason.GLUED_SIGN,
        NameReason.UNQUOTED,
        NameReason.SPECIES_OR_CULTIVAR,
        NameReason.GROUP_OR_SPECIES,
        NameReason.RESPELT,
        NameReason.TAUTONYM,
        NameReason.ONE_LETTER,
        NameReason.ONLY_NUMERALS,
    }
)


def parse_name(text: str) -> Reading:
    """Read a typed name; never raises.

    >>> parse_name("quercus robur").outcome
    <Outcome.NORMALISED: 'normalised'>
    >>> parse_name("blue hydrangea by her fence").outcome
    <Outcome.WORDS: 'words'>
    >>> parse_name("Hydrangea paniculata Limelight").offers
    ('Hydrangea paniculata ‘Limelight’', 'Hydrangea paniculata LIMELIGHT')
    """
    return _parse(text, depth=0)


def _parse(text: str, *, depth: int) -> Reading:
    if (why := unfit(text)) is not None:
        return Reading(text, Outcome.REFUSED, remarks=(Remark(*why),))
    scanned = scan(tidy(text))
    if _is_no_name(scanned.text):
        return Reading(text, Outcome.WORDS)
    try:
        found = read_tokens(_without_stray_quotes(scanned))
    except Unread:
        return _as_words(text, scanned, depth)
    except Refused as refused:
        if speaks_plainly(scanned.tokens):
            return _as_words(text, scanned, depth)
        return Reading(text, Outcome.REFUSED, remarks=(Remark(refused.reason, refused.word),))
    return _judged(text, scanned, found, depth)


def _is_no_name(text: str) -> bool:
    """Whether `text` is words at first sight: another script, too long, or 'unknown'."""
    foreign = bool(scripts(text) - {"LATIN"})
    return foreign or len(text) > LONGEST_NAME or matching_key(text) in NAME_UNKNOWN


def read_name(text: str) -> Reading:
    """Read a typed name that must be fit to store, if only as words.

    Raises:
        BadName: `text` is refused.
    """
    reading = parse_name(text)
    if reading.outcome is Outcome.REFUSED:
        remark = reading.remarks[0]
        raise BadName(text, remark.reason, remark.word, reading.offers)
    return reading


def _judged(typed: str, scanned: Scan, found: Found, depth: int) -> Reading:
    """The outcome for a name that was read."""
    name = _with_marks(found.name, scanned)
    questions = [*found.questions, *_epithet_questions(name)]
    remarks = tuple(Remark(q.reason, q.word) for q in questions)
    if not scanned.quotes_pair:
        unclosed = Question(NameReason.QUOTE_OPEN, "", (name,))
        offers = _offers(questions[:1] or [unclosed], depth)
        return Reading(typed, Outcome.REFUSED, None, (Remark(unclosed.reason),), offers)
    offers = _offers(questions, depth)
    if any(remark.reason not in WARNINGS for remark in remarks):
        kept = name if all(r.reason in KEEPABLE | WARNINGS for r in remarks) else None
        return Reading(typed, Outcome.ASK, kept, remarks, offers)
    as_typed = typed == scanned.text and _as_printed(scanned, found) == plain(name)
    outcome = Outcome.ACCEPTED if as_typed else Outcome.NORMALISED
    return Reading(typed, outcome, name, remarks)


def _offers(questions: list[Question], depth: int) -> tuple[str, ...]:
    """What answers the first question; where that raises another, what answers both."""
    offers: dict[str, None] = {}
    for variant in questions[0].variants if questions and depth < DEEPEST else ():
        reading = _parse(plain(variant), depth=depth + 1)
        if reading.outcome is Outcome.ASK:
            offers.update(dict.fromkeys(reading.offers))
        elif reading.name is not None:
            offers[plain(reading.name)] = None
    return tuple(offers)


def _epithet_questions(name: ParsedName) -> list[Question]:
    """What the ICNCP says against the cultivar epithets, with nothing to offer instead."""
    parents = (name,) if name.second is None else (name, name.second)
    return [
        Question(remark.reason, remark.word, ())
        for parent in parents
        for remark in objections(parent.genus, parent.cultivar)
    ]


def _with_marks(name: ParsedName, scanned: Scan) -> ParsedName:
    return replace(name, aside=replace(name.aside, marks=scanned.marks, patents=scanned.patents))


def _as_printed(scanned: Scan, found: Found) -> str:
    """The text without authors, proper quotes restyled: as printed if nothing else changed."""
    text = list(scanned.text)
    for token in _quoted(scanned.tokens):
        text[token.start : token.end] = list(restyled(scanned.text, token))
    for start, end in found.author_spans:
        text[start:end] = [""] * (end - start)
    return " ".join("".join(text).replace("'", "’").split())


def _quoted(tokens: tuple[Token, ...]) -> list[Token]:
    """Quoted tokens, also those in brackets."""
    found = [t for t in tokens if t.kind is Kind.QUOTED]
    return found + [q for t in tokens if t.inner for q in _quoted(t.inner)]


def _without_stray_quotes(scanned: Scan) -> tuple[Token, ...]:
    """The tokens; where a quote was never closed, without it, to see what would be meant."""
    if scanned.quotes_pair:
        return scanned.tokens
    bare = (replace(t, text=t.text.strip("'")) for t in scanned.tokens)
    return tuple(t for t in bare if t.text)


def _as_words(typed: str, scanned: Scan, depth: int) -> Reading:
    """Words, with the name that may be meant by a common name or by what leads up to an epithet."""
    if (genus := COMMON_NAMES.get(scanned.text.lower())) is not None:
        remark = Remark(NameReason.COMMON_NAME, scanned.text)
        return Reading(typed, Outcome.WORDS, remarks=(remark,), offers=(genus,))
    quoted = _quoted(scanned.tokens)
    if quoted and quoted[0].end < len(scanned.text):
        leading = parse_name(scanned.text[: quoted[0].end])
        if leading.outcome in (Outcome.ACCEPTED, Outcome.NORMALISED) and leading.name:
            return Reading(typed, Outcome.WORDS, offers=(plain(leading.name),))
        return Reading(typed, Outcome.WORDS, offers=leading.offers)
    offers = _offered(scanned.text) if depth < DEEPEST else ()
    return Reading(typed, Outcome.WORDS, offers=offers)


# A quote stuck to the word before it: Rosa'Peace'.
_QUOTE = f"[{re.escape(QUOTES)}]"
_STUCK = re.compile(rf"(?<=[a-z])(?={_QUOTE}[^\W\d_][^{re.escape(QUOTES)}]*{_QUOTE}$)")
_PLAIN_TEXT = re.compile(r"[^\W\d_][\w'.-]*(?: [^\W\d_][\w'.-]*){2,6}$")


def _offered(text: str) -> tuple[str, ...]:
    """What words may mean: a quote without its space, or a name all in one case, without quotes."""
    apart = _STUCK.sub(" ", text)
    if apart == text:
        apart = _quoted_epithet(text)
    if apart == text or len(text) > LONGEST_NAME:
        return ()
    reading = _parse(apart, depth=DEEPEST)  # whose own offers are of no use
    settled = reading.outcome in (Outcome.ACCEPTED, Outcome.NORMALISED)
    return (plain(reading.name),) if reading.name is not None and settled else ()


def _quoted_epithet(text: str) -> str:
    """`rosa mme alfred carriere` as genus and quoted epithet; everyday words as they are."""
    low = text.lower()
    if text not in (low, text.upper()) or not _PLAIN_TEXT.match(text):
        return text
    genus, *words = low.split()
    terms = {word.rstrip(".") for word in words} & (TERMS | set(SPECIES_STATUS))
    everyday = set(words) & (PLAIN_WORDS - LINKING_WORDS)
    if terms or everyday or not is_genus(genus):
        return text
    botanical = COMMON_NAMES.get(genus, genus.capitalize())
    return f"{botanical} '{capitalised(' '.join(words))}'"
