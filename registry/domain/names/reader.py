"""One name, read from its tokens left to right, a named step for each thing that may stand in it.

What does not fit raises `Unread` (the text is words) or `Refused`; what may mean two things
becomes a `Question` beside the most likely reading.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from registry.domain.names.epithets import capitalised
from registry.domain.names.parts import (
    Aside,
    Bunch,
    Hybrid,
    Level,
    ParsedName,
    Qualifier,
    Status,
)
from registry.domain.names.scanning import Kind, Token
from registry.domain.names.shapes import (
    INITIAL,
    RUN_WORD,
    Tokens,
    author_end,
    folded_word,
    is_author_word,
    is_capitals,
    is_doubt,
    is_genus,
    is_latin,
    is_loosely_latin,
    is_lower,
)
from registry.domain.names.tables import (
    BUNCHES,
    COMMON_NAMES,
    CULTIVAR_MARKERS,
    CULTIVAR_UNKNOWN,
    DOUBTS,
    FIRST_HALVES,
    LINKING_WORDS,
    NOT_EPITHETS,
    NOTES,
    NOTHO_RANKS,
    OFFERED_RANKS,
    OWN_X,
    PLAIN_WORDS,
    QUALIFIERS,
    RANKS,
    RESPELT,
    SPECIES_STATUS,
)
from registry.errors import NameReason


class Unread(Exception):
    """The tokens are no botanical name; they are words."""


class Refused(Exception):
    """The tokens begin like a botanical name and cannot be one."""

    def __init__(self, reason: NameReason, word: str = "") -> None:
        super().__init__(reason, word)
        self.reason, self.word = reason, word


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, and the readings that are offered; the likeliest first."""

    reason: NameReason
    word: str
    variants: tuple[ParsedName, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A name as read, the questions it raises, and where its authors stand in the text."""

    name: ParsedName
    questions: tuple[Question, ...]
    author_spans: tuple[tuple[int, int], ...]


_Variant = Callable[[ParsedName], ParsedName]


class NameReader:
    """Reads the tokens of one parent, left to right."""

    def __init__(self, tokens: Tokens, first_genus: str, *, shouted: bool) -> None:
        self.tokens, self.first_genus, self.shouted = tokens, first_genus, shouted
        self.at = 0
        self.name = ParsedName("")
        self.asked: list[tuple[NameReason, str, tuple[_Variant, ...]]] = []
        self.spans: list[tuple[int, int]] = []
        self.after_equals = False

    def read(self) -> Found:
        """All of the tokens as one name."""
        self._doubt_in_front()
        self._genus()
        while self.at < len(self.tokens):
            self._next_part()
        self._species_as_a_whole()
        questions = tuple(
            Question(reason, word, tuple(make(self.name) for make in variants))
            for reason, word, variants in self.asked
        )
        return Found(self.name, questions, tuple(self.spans))

    # --- moving on

    def _peek(self, ahead: int = 0) -> Token | None:
        index = self.at + ahead
        return self.tokens[index] if index < len(self.tokens) else None

    def _take(self) -> Token:
        token = self._peek()
        if token is None:
            raise Unread
        self.at += 1
        return token

    def _set(self, **parts: object) -> None:
        self.name = replace(self.name, **parts)  # type: ignore[arg-type]  # checked by the tests

    def _ask(self, reason: NameReason, word: str, *variants: _Variant) -> None:
        self.asked.append((reason, word, variants))

    # --- in front

    def _doubt_in_front(self) -> None:
        """`cf. Quercus robur`, `probably Salvia greggii`."""
        while (token := self._peek()) is not None and token.kind is Kind.WORD:
            if (found := QUALIFIERS.get(folded_word(token))) is not None:
                self._set(qualifier=found, qualifies=Level.GENUS)
            elif folded_word(token) in DOUBTS:
                self._set(qualifier=Qualifier.QUERY)
            else:
                return
            self.at += 1

    def _genus(self) -> None:
        signed = self._sign()
        token = self._take()
        if token.kind is not Kind.WORD:
            raise Refused(NameReason.SIGN_WITHOUT_NAME) if signed else Unread()
        if INITIAL.match(token.text):
            self._set(genus=self._from_initial(token))
        elif not signed and token.text.lower() in COMMON_NAMES:
            self._common_name(token)
        elif is_genus(token.text):
            self._set(genus=token.text.capitalize())
        else:
            raise Unread

    def _sign(self) -> bool:
        """× before a nothogenus, + before a graft-chimaera."""
        token = self._peek()
        if token is None or token.kind not in (Kind.TIMES, Kind.PLUS):
            return False
        self._set(hybrid=Hybrid.GENUS if token.kind is Kind.TIMES else Hybrid.GRAFT)
        self.at += 1
        return True

    def _from_initial(self, token: Token) -> str:
        """The first parent's genus, if its initial stands for the second's."""
        if self.first_genus[:1] == token.text[0]:
            return self.first_genus
        following = self._peek()
        if following is not None and is_lower(following) and is_latin(following.text):
            raise Refused(NameReason.GENUS_INITIAL, token.text)
        raise Unread

    def _common_name(self, token: Token) -> None:
        """ICNCP: a common name may stand for the genus if it is unambiguous. The genus is asked."""
        rest = self.tokens[self.at :]
        named = all(t.kind is not Kind.WORD or not t.text[:1].islower() for t in rest)
        if not rest or not named or any(is_author_word(t.text) for t in rest):
            raise Unread
        self._set(genus=COMMON_NAMES[token.text.lower()])
        self._ask(NameReason.COMMON_NAME, token.text, _same)

    # --- behind the genus

    def _next_part(self) -> None:
        token = self._take()
        match token.kind:
            case Kind.QUOTED:
                self._quoted(token)
            case Kind.BRACKET:
                self._bracket(token)
            case Kind.EQUALS:
                self.after_equals = True
            case Kind.TIMES:
                self._species_sign(token)
            case Kind.WORD:
                self._one_word(token)
            case Kind.PLUS:
                raise Unread

    def _one_word(self, token: Token) -> None:
        word = folded_word(token)
        if self._cultivar_unknown(token) or self._authors(self.at - 1):
            return
        if token.text in NOTES:
            self._put_aside(notes=(*self.name.aside.notes, token.text))
        elif not self.name.species and word in SPECIES_STATUS and is_lower(token):
            self._set(status=SPECIES_STATUS[word])
        elif word in QUALIFIERS:
            self._qualifier(token)
        elif word in CULTIVAR_MARKERS:
            self._marked_cultivar()
        elif word in RANKS and is_lower(token):
            self._rank(token)
        elif self._is_bunch_word(token):
            raise Refused(NameReason.GROUP_WITHOUT_EPITHET, token.text)
        elif is_lower(token):
            self._lower_word(token)
        elif token.text[:1].isupper():
            self._capital_words()
        else:
            raise Unread

    def _is_bunch_word(self, token: Token | None) -> bool:
        if token is None or token.kind is not Kind.WORD:
            return False
        in_capitals = token.text == token.text.upper() and not self.shouted
        return folded_word(token) in BUNCHES and not in_capitals

    def _cultivar_unknown(self, token: Token) -> bool:
        """`Hosta NOID`, `Hosta unknown cultivar`: all that is left says that it is not known."""
        rest = " ".join(t.text for t in self.tokens[self.at - 1 :] if t.kind is Kind.WORD)
        if len(self.tokens) - self.at + 1 != len(rest.split()):
            return False
        if rest.lower() not in CULTIVAR_UNKNOWN:
            return False
        self._set(status=Status.CULTIVAR_UNKNOWN)
        self.at = len(self.tokens)
        return True

    def _qualifier(self, token: Token) -> None:
        qualifier = QUALIFIERS[folded_word(token)]
        if qualifier is Qualifier.QUERY:
            self._set(qualifier=qualifier)
            return
        following = self._peek()
        if following is None or not (following.kind is Kind.TIMES or is_lower(following)):
            raise Unread
        level = Level.INFRASPECIFIC if folded_word(following) in RANKS else Level.SPECIES
        if (level is Level.SPECIES) is bool(self.name.species):
            raise Unread
        self._set(qualifier=qualifier, qualifies=level)

    # --- Latin epithets

    def _species_sign(self, sign: Token) -> None:
        """ICN Art. H.3.1: × before the epithet of a nothospecies."""
        following = self._take()
        if following.kind is Kind.QUOTED:
            self._quoted(following)
            self._ask(NameReason.SIGN_BEFORE_CULTIVAR, sign.text, _same)
            return
        taken = self.name.species or self.name.hybrid is not Hybrid.NONE
        if taken or not is_loosely_latin(following.text):
            raise Unread
        self._set(hybrid=Hybrid.SPECIES, species=following.text)

    def _lower_word(self, token: Token) -> None:
        if token.text in PLAIN_WORDS:
            raise Unread
        if self._lower_bunch(token):
            return
        if self.name.infraspecific or self.name.cultivar or self.name.trade:
            raise Unread
        if self.name.species:
            self._third_word(token)
        elif self.name.hybrid is Hybrid.GRAFT:
            self._set(cultivar=capitalised(token.text))
            self._ask(NameReason.CHIMAERA_SPECIES, token.text, _same)
        else:
            self._species(token)

    def _species(self, token: Token) -> None:
        word = token.text
        if word[0] == "x" and not OWN_X.match(word) and is_loosely_latin(word[1:]):
            self._set(hybrid=Hybrid.SPECIES, species=word[1:])
            self._ask(NameReason.GLUED_SIGN, word, _same)
            return
        undetermined = self.name.status in SPECIES_STATUS.values()
        if undetermined or word in COMMON_NAMES or not is_loosely_latin(word):
            raise Unread  # `sp. nova`, `Peace rose`
        self._set(species=word)
        if not is_latin(word):
            as_cultivar = _with(species="", cultivar=capitalised(word))
            self._ask(NameReason.SPECIES_OR_CULTIVAR, word, as_cultivar)

    def _third_word(self, token: Token) -> None:
        """A lower-case third word without rank is never guessed (ICN Art. 23.1, 24.1)."""
        word, species = token.text, self.name.species
        if not is_loosely_latin(word):
            raise Unread
        ranked = [_with(rank=rank, infraspecific=word) for rank in OFFERED_RANKS]
        as_cultivar = _with(rank="", infraspecific="", cultivar=capitalised(word))
        if species in FIRST_HALVES:
            joined = _with(species=f"{species}-{word}", rank="", infraspecific="")
            self._ask(NameReason.UNJOINED, word, joined)
        else:
            self._ask(NameReason.NO_RANK, word, *ranked, as_cultivar)

    def _rank(self, token: Token) -> None:
        rank = RANKS[folded_word(token)]
        following = self._peek()
        if following is None:
            raise Refused(NameReason.RANK_LAST, token.text)
        if following.kind is Kind.TIMES:
            self.at += 1
            rank, following = NOTHO_RANKS.get(rank, rank), self._peek()
        if following is None or following.kind in (Kind.BRACKET, Kind.EQUALS):
            raise Unread
        if following.kind is Kind.QUOTED:
            self._ask(NameReason.RANK_BEFORE_CULTIVAR, token.text, _same)
        elif is_lower(following):
            self._ranked(rank, self._take().text)
        else:
            self._rank_before_capital(rank, token.text)

    def _ranked(self, rank: str, epithet: str) -> None:
        if epithet in PLAIN_WORDS or not is_loosely_latin(epithet):
            raise Unread
        if not self.name.species:
            self._set(species=epithet)
            as_cultivar = _with(species="", cultivar=capitalised(epithet))
            self._ask(NameReason.RANK_WITHOUT_SPECIES, rank, _same, as_cultivar)
            return
        if self.name.cultivar:
            without = _with(rank="", infraspecific="")
            self._ask(NameReason.RANK_AFTER_CULTIVAR, f"{rank} {epithet}", _same, without)
        # ICN Art. 24.1: of a chain of ranks the name keeps only the last.
        self._set(rank=rank, infraspecific=epithet)

    def _rank_before_capital(self, rank: str, typed: str) -> None:
        words = self._run()
        self._set(cultivar=" ".join(words))
        epithet = words[0].lower()
        as_ranked = _with(rank=rank, infraspecific=epithet, cultivar="")
        fits = len(words) == 1 and is_latin(epithet) and self.name.species
        self._ask(NameReason.RANK_BEFORE_CULTIVAR, typed, _same, *((as_ranked,) if fits else ()))

    def _species_as_a_whole(self) -> None:
        genus, species = self.name.genus, self.name.species
        if species and species == genus.lower():  # ICN Art. 23.4
            as_sp = _with(species="", status=Status.ONE_SPECIES, rank="", infraspecific="")
            self._ask(NameReason.TAUTONYM, species, as_sp)
        respelt = {
            part: RESPELT[word]
            for part, word in (("species", species), ("infraspecific", self.name.infraspecific))
            if word in RESPELT
        }
        if respelt:  # Madrid Code (2025)
            self._ask(NameReason.RESPELT, next(iter(respelt.values())), _with(**respelt))

    # --- Group and grex

    def _lower_bunch(self, token: Token) -> bool:
        """`capitata group`: the epithet was typed in lower case."""
        words = [token.text]
        while (following := self._peek(len(words) - 1)) is not None and is_lower(following):
            if self._is_bunch_word(following):
                break
            words.append(following.text)
        if not self._is_bunch_word(following) or following is None:
            return False
        if not self.name.species and (following.text[0].isupper() or len(words) > 1):
            return False
        self.at += len(words)
        self._bunch(words, following)
        if not self.name.species:
            as_species = _with(species=words[0], bunch=Bunch.NONE, bunch_epithet="")
            fits = is_latin(words[0])
            variants = (_same, as_species) if fits else (_same,)
            self._ask(NameReason.GROUP_OR_SPECIES, words[0], *variants)
        return True

    def _bunch(self, words: list[str], term: Token) -> None:
        if self.name.bunch is not Bunch.NONE:
            raise Unread
        epithet = capitalised(" ".join(words))
        self._set(bunch=BUNCHES[folded_word(term)], bunch_epithet=epithet)

    # --- cultivar epithet and trade designation

    def _quoted(self, token: Token) -> None:
        text = token.text.rstrip("? ")
        if text.lower() in NOT_EPITHETS or not text:
            self._set(status=Status.CULTIVAR_UNKNOWN)
            self._ask(NameReason.NOT_AN_EPITHET, token.text, _same)
            return
        if text != token.text:
            self._set(qualifier=Qualifier.QUERY)
        epithet = capitalised(text, shouted=self.shouted)
        if token.marked:
            self._trade([text])
            self._ask(NameReason.MARK_IN_QUOTES, text, _same)
        elif self.name.cultivar:
            first = self.name.cultivar
            self._trade([text])
            turned = _with(cultivar=epithet, trade=first.upper())
            self._ask(NameReason.TWO_QUOTED, f"{first}, {text}", _same, turned)
        else:
            self._set(cultivar=epithet)

    def _marked_cultivar(self) -> None:
        """`cv.` before an epithet, obsolete: quotes say it."""
        following = self._peek()
        if following is None:
            self._set(status=Status.CULTIVAR_UNKNOWN)
        elif following.kind is Kind.WORD and not self.name.cultivar:
            words = self._run() if not is_lower(following) else [self._take().text]
            self._set(cultivar=capitalised(" ".join(words)))
        elif following.kind is not Kind.QUOTED:
            raise Unread

    def _capital_words(self) -> None:
        """Capitalised words without quotes: Group, grex, trade designation, or asked."""
        self.at -= 1
        start = self.at
        words = self._run()
        marked = any(t.marked for t in self.tokens[start : self.at])
        following = self._peek()
        if following is not None and self._is_bunch_word(following):
            self.at += 1
            self._bunch(words, following)
        elif marked or self.after_equals or is_capitals(words) or self._cultivar_explains():
            self._trade(words)
        elif self.name.cultivar:
            self._trade(words)
            self._ask(NameReason.UNMARKED_AFTER_CULTIVAR, " ".join(words), _same)
        elif following is not None and following.kind is Kind.QUOTED:
            self._unmarked_before_cultivar(" ".join(words))
        elif following is None or following.kind is not Kind.WORD or is_doubt(following):
            self._unquoted(" ".join(words))
        else:
            raise Unread

    def _run(self) -> list[str]:
        """Capitalised words in a row, with the linking words between them."""
        words: list[str] = []
        while (token := self._peek()) is not None and token.kind is Kind.WORD:
            joins = token.marked or self._links(words)
            if not (token.text[:1].isupper() or joins or (words and token.text[:1].isdigit())):
                break
            if self._is_bunch_word(token):
                break
            if token.text != "&" and not RUN_WORD.match(token.text):
                raise Unread
            words.append(token.text)
            self.at += 1
        if not words:
            raise Unread
        return words

    def _links(self, words: list[str]) -> bool:
        """Whether the word at hand is a linking word with a capital somewhere behind it."""
        ahead = 0
        while (token := self._peek(ahead)) is not None and token.kind is Kind.WORD:
            if token.text[:1].isupper():
                return bool(words) and ahead > 0
            if token.text not in LINKING_WORDS and token.text != "&":
                return False
            ahead += 1
        return False

    def _cultivar_explains(self) -> bool:
        """Whether ``('Epithet')`` or ``= 'Epithet'`` follows: what stands before is the trade's."""
        token = self._peek()
        if token is None or self.name.cultivar:
            return False
        if token.kind is Kind.BRACKET:
            return len(token.inner) == 1 and token.inner[0].kind is Kind.QUOTED
        behind = self._peek(1)
        return token.kind is Kind.EQUALS and behind is not None and behind.kind is Kind.QUOTED

    def _trade(self, words: list[str]) -> None:
        trade = " ".join(words)
        if self.name.trade or trade.lower() in CULTIVAR_UNKNOWN:
            raise Unread
        self._set(trade=trade.upper())

    def _unmarked_before_cultivar(self, words: str) -> None:
        grex = _with(bunch=Bunch.GREX, bunch_epithet=words)
        group = _with(bunch=Bunch.GROUP, bunch_epithet=words)
        trade = _with(trade=words.upper())
        if self.name.bunch is not Bunch.NONE or self.name.trade:
            raise Unread
        self._ask(NameReason.UNMARKED_BEFORE_CULTIVAR, words, grex, group, trade)

    def _unquoted(self, words: str) -> None:
        low = words.lower()
        self._set(cultivar=words)
        fits = not self.name.species and is_latin(low) and low != self.name.genus.lower()
        as_species = _with(cultivar="", species=low)
        as_trade = _with(cultivar="", trade=words.upper())
        variants: list[_Variant] = [as_species, _same] if fits else [_same]
        if is_capitals([words.upper()]):  # a single letter does not show that it is a capital
            variants.append(as_trade)
        self._ask(NameReason.UNQUOTED, words, *variants)

    # --- brackets and what is set aside

    def _bracket(self, token: Token) -> None:
        inner = token.inner
        if not inner:  # a patent number or mark stood in it
            return
        if len(inner) == 1 and inner[0].kind is Kind.QUOTED:
            self._quoted(inner[0])
        elif token.text.lower() in CULTIVAR_UNKNOWN:
            self._set(status=Status.CULTIVAR_UNKNOWN)
        elif token.text in ("?", "??"):
            self._set(qualifier=Qualifier.QUERY)
        elif token.text in NOTES:
            self._put_aside(notes=(*self.name.aside.notes, token.text))
        elif self._authors(self.at - 1):
            return
        elif self._is_bunch_word(inner[-1]) and len(inner) > 1:
            self._bunch([t.text for t in inner[:-1]], inner[-1])
        else:
            self._trade_in_brackets(inner)

    def _trade_in_brackets(self, inner: Tokens) -> None:
        words = [t.text for t in inner]
        if not self.name.cultivar or not all(RUN_WORD.match(word) for word in words):
            raise Unread
        if any(t.kind is not Kind.WORD for t in inner) or not words[0][:1].isupper():
            raise Unread
        self._trade(words)
        if not (is_capitals(words) or any(t.marked for t in inner)):
            self._ask(NameReason.UNMARKED_AFTER_CULTIVAR, " ".join(words), _same)

    def _put_aside(self, **kept: object) -> None:
        aside: Aside = replace(self.name.aside, **kept)  # type: ignore[arg-type]  # as in _set
        self._set(aside=aside)

    def _authors(self, start: int) -> bool:
        """Set the authors that begin at `start` aside; False if none do."""
        end = author_end(self.tokens, start)
        if end == start or self._is_bunch_word(self._at(end)):
            return False
        first, last = self.tokens[start], self.tokens[end - 1]
        undotted = all("." not in t.text for t in self.tokens[start:end])
        if undotted and self._begins_run(end):
            return False
        pieces = [_shown(t) for t in self.tokens[start:end]]
        if self.name.cultivar:
            self._put_aside(cultivar_author=" ".join(pieces))
        else:
            self._put_aside(authors=(*self.name.aside.authors, " ".join(pieces)))
        self.spans.append((first.start, last.end))
        self.at = end
        return True

    def _at(self, index: int) -> Token | None:
        return self.tokens[index] if index < len(self.tokens) else None

    def _begins_run(self, index: int) -> bool:
        """Whether a capitalised word follows that makes the undotted one part of a longer name."""
        token = self._at(index)
        if token is None or token.kind is not Kind.WORD:
            return False
        return token.text[:1].isupper() and not is_capitals([token.text])


def _shown(token: Token) -> str:
    return f"({token.text})" if token.kind is Kind.BRACKET else token.text


def _same(name: ParsedName) -> ParsedName:
    return name


def _with(**parts: object) -> _Variant:
    """A reading that differs in `parts`."""
    return lambda name: replace(name, **parts)  # type: ignore[arg-type]  # as in _Reader._set
