"""From typed text to tokens: refuse what no name can hold, tidy, set marks aside, pair quotes."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from registry.domain.names.tables import BRAND_MARKS, MARK, RIGHT_NOTES
from registry.errors import NameReason

QUOTES = "'‘’‚‛′`´“”„‟″\"«»"
DOUBLE_QUOTES = frozenset('“”„‟″"«»')
PROPER_PAIRS = frozenset({("'", "'"), ("‘", "’")})


class Kind(Enum):
    """What a token is."""

    WORD = "word"
    QUOTED = "quoted"
    TIMES = "×"
    PLUS = "+"
    EQUALS = "="
    BRACKET = "bracket"


@dataclass(frozen=True, slots=True)
class Token:
    """A word, a quoted epithet, a sign, or a bracket with its inner tokens.

    Attributes:
        kind: see `Kind`.
        text: the word; the inside of the quotes or brackets.
        start: where it begins in the tidied text.
        end: where it ends there.
        marked: whether a trade mark sign stands in or directly behind it.
        inner: the tokens of a bracket.
    """

    kind: Kind
    text: str
    start: int
    end: int
    marked: bool = False
    inner: tuple[Token, ...] = ()


@dataclass(frozen=True, slots=True)
class Scan:
    """The tokens of a text with what was set aside.

    Attributes:
        text: the tidied text that the token positions refer to.
        tokens: in order, marks and patent numbers left out.
        marks: as typed, e.g. ``®``, ``PBR``.
        patents: plant patent numbers without commas, e.g. ``PP99001``.
        quotes_pair: whether every quote found its other half.
    """

    text: str
    tokens: tuple[Token, ...]
    marks: tuple[str, ...] = ()
    patents: tuple[str, ...] = ()
    quotes_pair: bool = True


# --- what no name can hold ---------------------------------------------------------------------

_MARKUP = re.compile(r"<[A-Za-z/!?][^<>]*>|&(?:[A-Za-z]{2,8}|#x?[0-9A-Fa-f]+);")
_JOINERS = "\u200c\u200d"  # written inside words of Indic and Arabic scripts
_UNFIT_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_LOOK_ALIKES = frozenset({"LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "COPTIC"})
_WRITTEN_TOGETHER = {
    "HIRAGANA": "CJK",
    "KATAKANA": "CJK",
    "KATAKANA-HIRAGANA": "CJK",
    "BOPOMOFO": "CJK",
    "HANGUL": "CJK",
    "IDEOGRAPHIC": "CJK",
}
_NO_SCRIPT = frozenset({"MODIFIER", "FEMININE", "MASCULINE", "MICRO"})


def unfit(text: str) -> tuple[NameReason, str] | None:
    """Why `text` can be no name of any kind, with the part at fault; None if it can."""
    if not text.strip():
        return NameReason.EMPTY, ""
    for char in text:
        if unicodedata.category(char) in _UNFIT_CATEGORIES and char not in _JOINERS:
            return NameReason.CONTROL, f"U+{ord(char):04X}"
    if markup := _MARKUP.search(text):
        return NameReason.MARKUP, markup[0]
    return _mixed(unicodedata.normalize("NFC", text))


def _mixed(text: str) -> tuple[NameReason, str] | None:
    """Letters of two scripts that look alike, or of more than two scripts.

    Unicode Technical Standard 39, restriction levels (from memory): Latin may stand beside one
    other script, but not beside Cyrillic or Greek, whose letters pass for Latin ones.
    """
    found = scripts(text)
    if len(found & _LOOK_ALIKES) <= 1 and len(found) <= 2:
        return None
    words = (word for word in re.split(r"\W+", text) if scripts(word) - {"LATIN"})
    return NameReason.MIXED_SCRIPTS, next(words, "")


def scripts(text: str) -> frozenset[str]:
    """The scripts of the letters in `text`, by the first word of their Unicode names.

    >>> sorted(scripts("Rosa 薔薇"))
    ['CJK', 'LATIN']
    """
    found = set()
    for char in text:
        if unicodedata.category(char)[0] != "L":
            continue
        words = unicodedata.name(char, "UNNAMED").split()
        script = words[1] if words[0] in ("FULLWIDTH", "HALFWIDTH") else words[0]
        if script not in _NO_SCRIPT:
            found.add(_WRITTEN_TOGETHER.get(script, script))
    return frozenset(found)


# --- tokens ------------------------------------------------------------------------------------


_TWICE = re.compile(r"(?<!\S)''(?=[^\s'])(.*?[^\s'])''(?!\w)")  # ''Peace'', for double quotes
_TAIL = re.compile(rf"(?:(?<=[{re.escape(QUOTES)})])\s*[.,;:]+|[\s,;:]+)$")


def tidy(text: str) -> str:
    """NFC, white space collapsed and trimmed, as are commas and the like behind the last word."""
    spaced = " ".join(unicodedata.normalize("NFC", text).split())
    return _TAIL.sub("", _TWICE.sub(r'"\1"', spaced))


def scan(text: str) -> Scan:
    """The tokens of a tidied text."""
    spans, pair = _pair_quotes(text)
    aside = _Aside()
    flat: list[Token] = []
    position = 0
    for start, end in spans:
        flat.extend(_loose(text, position, start, aside, flat))
        inside = text[start + 1 : end - 1]
        if marks := MARK.findall(inside):
            aside.marks.extend(marks)
        marked = any(mark in BRAND_MARKS for mark in marks)
        flat.append(Token(Kind.QUOTED, _quoted_text(inside), start, end, marked))
        position = end
    flat.extend(_loose(text, position, len(text), aside, flat))
    tokens = tuple(_bracketed(_merge_signs(flat)))
    return Scan(text, tokens, tuple(aside.marks), tuple(aside.patents), pair)


@dataclass(slots=True)
class _Aside:
    marks: list[str]
    patents: list[str]

    def __init__(self) -> None:
        self.marks, self.patents = [], []


def _quoted_text(inside: str) -> str:
    """The epithet in quotes, inner quote marks as apostrophes, marks dropped."""
    unmarked = MARK.sub("", inside)
    return " ".join("".join("'" if c in QUOTES else c for c in unmarked).split())


def restyled(text: str, token: Token) -> str:
    """How the quoted `token` of `text` prints if its quotes are a proper single pair."""
    raw = text[token.start : token.end]
    if (raw[0], raw[-1]) not in PROPER_PAIRS:
        return raw
    return "‘" + raw[1:-1].replace("'", "’") + "’"


def _pair_quotes(text: str) -> tuple[list[tuple[int, int]], bool]:
    """The spans of quoted epithets, outermost quotes first, and whether all quotes paired.

    A quote opens behind a space or bracket and closes before one; any other is an apostrophe.
    It closes at the last place before another opens, so an inner apostrophe survives.
    """
    opens = [i for i, c in enumerate(text) if c in QUOTES and _opens(text, i)]
    closes = [i for i, c in enumerate(text) if c in QUOTES and _closes(text, i)]
    spans: list[tuple[int, int]] = []
    paired = True
    after = 0
    for index, start in enumerate(opens):
        if start < after:
            continue
        ends = [c for c in closes if c > start + 1]
        later = [o for o in opens[index + 1 :] if ends and o > ends[0]]
        inner = [c for c in ends if not later or c < later[0]]
        if not inner:
            paired = False
            break
        spans.append((start, inner[-1] + 1))
        after = inner[-1] + 1
    inside = {c for s, e in spans for c in range(s, e)}
    strays = [c for c in closes if c not in inside and not _is_possessive(text, c)]
    return spans, paired and not strays


def _opens(text: str, index: int) -> bool:
    before = text[index - 1] if index else " "
    following = text[index + 1] if index + 1 < len(text) else " "
    return before in " (×+=/" and following != " "


def _closes(text: str, index: int) -> bool:
    before = text[index - 1] if index else " "
    following = text[index + 1] if index + 1 < len(text) else " "
    return before not in " (" and (following in " ),;:./?=®™©" or text.startswith("(", index + 1))


def _is_possessive(text: str, index: int) -> bool:
    """The apostrophe of a plural possessive: ``gardeners' garters``."""
    single = text[index] not in DOUBLE_QUOTES
    return single and text[index - 1] in "sSxXzZ" and index + 1 < len(text)


_PATENT = re.compile(r"(?:\bUS\s?)?\bPP\s?#?\s?([0-9]{1,3}(?:,[0-9]{3})+|[0-9]{3,6})\b")
_LOOSE = re.compile(
    r"(?P<patent>" + _PATENT.pattern + r")"
    r"|(?P<right>\((?:" + "|".join(RIGHT_NOTES) + r")\)|\b(?:" + "|".join(RIGHT_NOTES) + r")\b)"
    r"|(?P<mark>" + MARK.pattern + r")"
    r"|(?P<sign>[×+=()])"
    r"|(?P<word>[^\s×+=()®™©]+)"
)
_SIGN_KINDS = {"×": Kind.TIMES, "+": Kind.PLUS, "=": Kind.EQUALS}


def _loose(text: str, start: int, end: int, aside: _Aside, before: list[Token]) -> Iterator[Token]:
    """Tokens outside quotes, brackets still as single words ``(`` and ``)``."""
    found: list[Token] = []
    for match in _LOOSE.finditer(text, start, end):
        if match["patent"]:
            aside.patents.append("PP" + match[2].replace(",", ""))
        elif match["right"]:
            aside.marks.append(match["right"].strip("()"))
        elif match["mark"]:
            aside.marks.append(match["mark"])
            if match["mark"] in BRAND_MARKS:
                _mark_last(found or before)
        else:
            found.append(_loose_token(match))
    yield from found


def _mark_last(tokens: list[Token]) -> None:
    if tokens:
        last = tokens[-1]
        tokens[-1] = Token(last.kind, last.text, last.start, last.end, True, last.inner)


def _loose_token(match: re.Match[str]) -> Token:
    text = match[0]
    if text in _SIGN_KINDS:
        return Token(_SIGN_KINDS[text], text, *match.span())
    tidied = "".join("'" if c in QUOTES else c for c in text)
    return Token(Kind.WORD, tidied, *match.span())


_GLUED_TO_CAPITAL = re.compile(r"[xX](?=[A-Z][a-z])")


def _merge_signs(tokens: list[Token]) -> Iterator[Token]:
    """X or X alone, or directly before a capital, is the hybrid sign (from memory: ICN H.3A.2)."""
    for token in tokens:
        if token.kind is Kind.WORD and token.text in ("x", "X"):
            yield Token(Kind.TIMES, token.text, token.start, token.end)
        elif token.kind is Kind.WORD and _GLUED_TO_CAPITAL.match(token.text):
            middle = token.start + 1
            yield Token(Kind.TIMES, token.text[0], token.start, middle)
            yield Token(Kind.WORD, token.text[1:], middle, token.end, token.marked)
        else:
            yield token


def _bracketed(tokens: Iterator[Token]) -> Iterator[Token]:
    """Brackets with their contents as one token; a bracket without its other half as a word."""
    stack: list[list[Token]] = [[]]
    opened: list[Token] = []
    for token in tokens:
        if token.kind is Kind.WORD and token.text == "(":
            opened.append(token)
            stack.append([])
        elif token.kind is Kind.WORD and token.text == ")" and opened:
            inner = tuple(stack.pop())
            start = opened.pop().start
            text = " ".join(t.text for t in inner)
            stack[-1].append(Token(Kind.BRACKET, text, start, token.end, False, inner))
        else:
            stack[-1].append(token)
    while opened:  # never closed
        inner_tokens = stack.pop()
        stack[-1].extend([opened.pop(), *inner_tokens])
    yield from stack[0]
