"""The short identifiers: made, checked, read back from a label, and typed in short.

A code is digits of fixed length and one check character (ISO/IEC 7064 MOD 11-2):

    26-0014-X       an accession: a founder or a batch
    26-0014B-0      a lot of that batch
    26-0014-007-4   a plant, numbered through the batch

Year and running number with a qualifier is common practice for accession numbers; the check
character is ours. How wide number and plant are is chosen once for a registry (`CodeWidths`).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from itertools import product
from math import prod

from registry.domain.numbers import whole
from registry.errors import BadCode, CodePart, CodeReason, WidthUsedUp

MOST_YEAR = 99
MOST_LOTS = 99  # a lot's letters count as two digits
MOST_READINGS = 10_000  # four lost digits; beyond that a list helps nobody

_A = ord("A")
_LETTERS = 26
_CHECK_CHARACTERS = "0123456789X"  # ISO/IEC 7064: X stands for ten
_DIGITS = "0123456789"
_ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_LOST = "_"
_LOOK_ALIKES = {"O": "0", "I": "1", "L": "1"}  # read as digits where only a digit can stand
_DASHES = dict.fromkeys(map(ord, "‐‑‒–—―−­"), "-")  # phones turn hyphens into dashes


@dataclass(frozen=True, slots=True)
class CodeWidths:
    """How many digits a registry's codes have; chosen at `init`, never changed.

    Raises:
        ValueError: if `number` is not 4 to 6, or `plant` not 3 to 4.
    """

    number: int = 4
    plant: int = 3

    def __post_init__(self) -> None:
        if not 4 <= self.number <= 6:
            raise ValueError(f"a running number has 4 to 6 digits, not {self.number}")
        if not 3 <= self.plant <= 4:
            raise ValueError(f"a plant number has 3 or 4 digits, not {self.plant}")

    @property
    def most_numbers(self) -> int:
        """The last running number of a year."""
        return int(10**self.number) - 1

    @property
    def most_plants(self) -> int:
        """The last plant number of a batch."""
        return int(10**self.plant) - 1


class CodeKind(Enum):
    """What a code names."""

    ACCESSION = "accession"
    LOT = "lot"
    PLANT = "plant"


def check_character(digits: str) -> str:
    """The check character of `digits`: ISO/IEC 7064 MOD 11-2, `0`-`9` or `X`.

    >>> check_character("0794"), check_character("079")
    ('0', 'X')

    Raises:
        ValueError: if anything but ASCII digits is given.
    """
    if not re.fullmatch("[0-9]+", digits):
        raise ValueError(f"not digits: {digits!r}")
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2 % 11
    return _CHECK_CHARACTERS[(12 - total) % 11]


def lot_letters(index: int) -> str:
    """The letters of a batch's lot: 1 is `A`, 26 is `Z`, 27 is `AA`, 99 is `CU`.

    Raises:
        WidthUsedUp: past 99, since the letters count as two digits in the check.
        ValueError: below 1.
    """
    if index < 1:
        raise ValueError("lots are counted from 1")
    if index > MOST_LOTS:
        raise WidthUsedUp(CodePart.LOT, index, MOST_LOTS)
    high, low = divmod(index - 1, _LETTERS)
    return (chr(_A + high - 1) if high else "") + chr(_A + low)


def lot_index(letters: str) -> int:
    """The number behind a lot's letters, the inverse of `lot_letters`.

    >>> lot_index("A"), lot_index("AA")
    (1, 27)

    Raises:
        ValueError: if the letters are not those of a lot.
    """
    if not re.fullmatch("[A-Z]{1,2}", letters):
        raise ValueError(f"not the letters of a lot: {letters!r}")
    index = 0
    for letter in letters:
        index = index * _LETTERS + ord(letter) - _A + 1
    if index > MOST_LOTS:
        raise ValueError(f"past the last lot: {letters!r}")
    return index


@dataclass(frozen=True, slots=True)
class Code:
    """One code: an accession, or with `lot` a lot of it, or with `plant` a plant of it.

    Attributes:
        year: The last two digits of the year of recording, 0 to 99.
        number: The running number of that year, from 1.
        lot: The lot's letters, `A` to `CU`.
        plant: The plant's number in the batch, from 1.
        widths: How the numbers are padded.

    Raises:
        WidthUsedUp: if a number is past what its width holds.
        ValueError: if a number is below its first, or both lot and plant are given.
    """

    year: int
    number: int
    lot: str | None = None
    plant: int | None = None
    widths: CodeWidths = CodeWidths()

    def __post_init__(self) -> None:
        if not 0 <= self.year <= MOST_YEAR:
            raise ValueError(f"a code's year has two digits, not {self.year}")
        _in_width(CodePart.NUMBER, self.number, self.widths.most_numbers)
        if self.lot is not None:
            lot_index(self.lot)
        if self.plant is not None:
            _in_width(CodePart.PLANT, self.plant, self.widths.most_plants)
            if self.lot is not None:
                raise ValueError("plants are numbered through the batch, not by lot")

    @property
    def kind(self) -> CodeKind:
        """What the code names."""
        if self.plant is not None:
            return CodeKind.PLANT
        return CodeKind.ACCESSION if self.lot is None else CodeKind.LOT

    @property
    def digits(self) -> str:
        """The digits under the check; a lot's letters count as two.

        A wrong digit or a swap of neighbours is always caught; a wrong lot letter nearly
        always: a few, such as B and J, eight letters apart, have the same check character.
        """
        text = f"{self.year:02d}{self.number:0{self.widths.number}d}"
        if self.lot is not None:
            text += f"{lot_index(self.lot):02d}"
        if self.plant is not None:
            text += f"{self.plant:0{self.widths.plant}d}"
        return text

    @property
    def check(self) -> str:
        """The check character."""
        return check_character(self.digits)

    @property
    def text(self) -> str:
        """The code as written, stamped and carried by a symbol: upper case, with hyphens.

        >>> Code(26, 14, plant=7).text
        '26-0014-007-4'
        """
        text = f"{self.year:02d}-{self.number:0{self.widths.number}d}{self.lot or ''}"
        if self.plant is not None:
            text += f"-{self.plant:0{self.widths.plant}d}"
        return f"{text}-{self.check}"

    def __str__(self) -> str:
        return self.text

    @property
    def accession(self) -> Code:
        """The accession that this code belongs to; itself if it names one."""
        return Code(self.year, self.number, widths=self.widths)

    @classmethod
    def parse(cls, text: str, widths: CodeWidths) -> Code:
        """Read a whole code with its check character.

        Case does not matter, nor do spaces or dashes for hyphens; hyphens may be left out
        altogether. O is read as 0, and I and L as 1, where only a digit can stand.

        Raises:
            BadCode: with its reason. `NO_CHECK` offers the code with its check character,
                `CHECK` every code that one wrong character or one swap of neighbours explains.
        """
        typed = _tidy(text)
        if _LOST in typed or "[" in typed:
            raise _bad(text, CodeReason.LOST, widths)
        readings = list(_readings([frozenset(c) for c in typed], typed, widths, check=True))
        for code, check in readings:
            if code.check == check:
                return code
        unchecked = [c for c, _ in _readings([frozenset(c) for c in typed], typed, widths, False)]
        if unchecked:
            raise _bad(text, CodeReason.NO_CHECK, widths, unchecked)
        if _match_any(typed, widths):
            raise _bad(text, CodeReason.CHECK, widths, _one_slip_away(typed, widths))
        raise _bad(text, CodeReason.SHAPE, widths)


def half_read(text: str, widths: CodeWidths) -> list[Code]:
    """The codes that a half-read tag could be, in order, whether or not they were ever given.

    `_` stands for a lost character, `[38]` for one of several; the check character may be
    missing. One lost digit leaves one code, two about nine, three 91.

    >>> [code.text for code in half_read("26-00[38]4-007", CodeWidths())]
    ['26-0034-007-6', '26-0084-007-0']

    Raises:
        BadCode: `SHAPE` if it fits no code, `TOO_MANY` if so much is lost that more than
            10,000 readings would have to be tried.
    """
    characters = _characters(_tidy(text))
    if characters is None:
        raise _bad(text, CodeReason.SHAPE, widths)
    shown = "".join(next(iter(c)) if len(c) == 1 else _LOST for c in characters)
    if not _match_any(shown, widths) and not _match_any(shown, widths, check=False):
        raise _bad(text, CodeReason.SHAPE, widths)
    if prod(min(len(c), len(_DIGITS)) for c in characters) > MOST_READINGS:
        raise _bad(text, CodeReason.TOO_MANY, widths)
    found = {
        code
        for check in (True, False)
        for code, seen in _readings(characters, shown, widths, check)
        if seen in ("", code.check)
    }
    return sorted(found, key=lambda code: code.text)


# --- what a grower types -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Last:
    """`last`: what this person's latest recording made or was about."""


@dataclass(frozen=True, slots=True)
class ByCode:
    """A code, typed whole or in short.

    Attributes:
        typed: As typed; a short form may also be somebody's own number.
        code: What it stands for.
        plants: The plants picked with `:`, ascending; empty if none were picked.
        short: True if only the number was typed, so that this year was understood.
    """

    typed: str
    code: Code
    plants: tuple[int, ...] = ()
    short: bool = False

    @property
    def codes(self) -> tuple[Code, ...]:
        """The code, or the codes of the plants that were picked."""
        return tuple(_plant_of(self.code, plant) for plant in self.plants) or (self.code,)


@dataclass(frozen=True, slots=True)
class HalfRead:
    """A tag of which characters are lost, with all that it could be."""

    typed: str
    codes: tuple[Code, ...]


@dataclass(frozen=True, slots=True)
class ByText:
    """Neither a code nor a short form: an alias, or a name.

    Attributes:
        typed: As typed, outer blanks gone.
        shaped: True if it looks like a code, so that it is never a name.
        problem: What is wrong with it as a code, to be raised when no alias matches.
    """

    typed: str
    shaped: bool
    problem: BadCode | None = None


Reference = Last | ByCode | HalfRead | ByText

_SELECTION = re.compile(r"(?P<base>[^:]*):\s*(?P<plants>[0-9][0-9,\-\s]*)")
_SHORT = re.compile(r"(?P<number>[0-9]{1,6})\s?(?P<lot>[A-Za-z]{1,2})?")
_SPACED_CODE = re.compile(r"[0-9]{2}[\s-]+[0-9OIL]{4,6}\s?[A-Z]{0,2}([\s-]+[0-9OIL]{1,4}|[\s-]+X)*")
_DIGITS_ONLY = re.compile(r"[\d\s.,:/-]+")


def parse_reference(text: str, widths: CodeWidths, this_year: int) -> Reference:
    """What a grower typed where a plant, a lot or a batch is meant.

    `last`; a whole code; a code with plants picked (`26-0014-X:1-7,9`); a short form for this
    year (`14`, `14B`, `14:7`); a half-read code; or any other text. A code whose check character
    is missing or wrong comes back as text with its problem, since it may still be an alias.

    Args:
        text: As typed.
        widths: The registry's.
        this_year: The year of recording, in full or its last two digits.

    Raises:
        BadCode: if plants are picked from something else than a batch, or badly.
    """
    typed = text.strip()
    if typed.casefold() == "last":
        return Last()
    selection = _SELECTION.fullmatch(typed.translate(_DASHES))
    base = selection["base"].strip() if selection else typed
    found = _whole_or_short(base, widths, this_year % 100)
    if isinstance(found, BadCode):
        return ByText(typed, shaped=looks_like_code(typed), problem=found)
    if isinstance(found, HalfRead):
        return ByText(typed, shaped=True) if selection else HalfRead(typed, found.codes)
    if not selection:
        return ByCode(typed, found.code, short=found.short)
    if found.code.kind is not CodeKind.ACCESSION:
        raise _bad(typed, CodeReason.NOT_A_BATCH, widths)
    return ByCode(typed, found.code, _picked(typed, selection["plants"], widths), found.short)


def looks_like_code(text: str) -> bool:
    """True if `text` can never be a plant's name: shaped like a code, or one word with a digit.

    >>> looks_like_code("26 0014 X"), looks_like_code("P2"), looks_like_code("Salvia 'Hot Coral'")
    (True, True, False)
    """
    typed = _upper(text).strip()
    if typed == "LAST":
        return True
    if not any(character.isdigit() for character in typed):
        return False
    if len(typed.split()) == 1 or _DIGITS_ONLY.fullmatch(typed):
        return True
    return bool(_SHORT.fullmatch(typed) or _SPACED_CODE.fullmatch(typed))


# --- inside --------------------------------------------------------------------------------------


def _in_width(part: CodePart, value: int, most: int) -> None:
    if value < 1:
        raise ValueError(f"a {part.value} number starts at 1, not {value}")
    if value > most:
        raise WidthUsedUp(part, value, most)


def _plant_of(code: Code, plant: int) -> Code:
    return Code(code.year, code.number, plant=plant, widths=code.widths)


def _bad(
    typed: str, reason: CodeReason, widths: CodeWidths, candidates: list[Code] | None = None
) -> BadCode:
    texts = tuple(code.text for code in candidates or ())
    return BadCode(typed.strip(), reason, widths.number, widths.plant, texts)


def _upper(text: str) -> str:
    """Compatibility forms folded (full-width digits), dashes made hyphens, upper case."""
    return unicodedata.normalize("NFKC", text).translate(_DASHES).upper()


def _tidy(text: str) -> str:
    """Upper case with hyphens only: where none is typed, blanks stand for them."""
    typed = _upper(text).strip().replace("?", _LOST)
    if "-" in typed:
        return re.sub(r"\s+", "", typed)
    return re.sub(r"\s+", "-", typed)


def _characters(typed: str) -> list[frozenset[str]] | None:
    """One set of possible characters for each place; None if the brackets do not fit."""
    parts = re.findall(r"\[([0-9A-Z]+)\]|([0-9A-Z_-])", typed)
    length = sum(len(several) + 2 if several else 1 for several, _ in parts)
    if length != len(typed):
        return None
    lost = frozenset(_DIGITS + _ALPHABET)
    return [
        frozenset(several) if several else lost if one == _LOST else frozenset(one)
        for several, one in parts
    ]


@lru_cache(maxsize=64)
def _pattern(widths: CodeWidths, kind: CodeKind, check: bool, hyphens: bool) -> re.Pattern[str]:
    """The shape of one kind of code, `_` standing for any lost character."""
    digit, hyphen = "[0-9OIL_]", "-" if hyphens else ""
    shape = f"(?P<year>{digit}{{2}}){hyphen}(?P<number>{digit}{{{widths.number}}})"
    if kind is CodeKind.LOT:
        shape += "(?P<lot>[A-Z_]{1,2})"
    if kind is CodeKind.PLANT:
        shape += f"{hyphen}(?P<plant>{digit}{{{widths.plant}}})"
    if check:
        # Without a hyphen before it, a trailing O, I or L is more likely a lot's letter.
        shape += f"{hyphen}(?P<check>[0-9XOIL_])" if hyphens else "(?P<check>[0-9X_])"
    return re.compile(shape)


def _matches(shown: str, widths: CodeWidths, check: bool) -> Iterator[re.Match[str]]:
    for kind in CodeKind:
        match = _pattern(widths, kind, check, "-" in shown).fullmatch(shown)
        if match:
            yield match


def _match_any(shown: str, widths: CodeWidths, check: bool = True) -> bool:
    return any(True for _ in _matches(shown, widths, check))


def _readings(
    characters: list[frozenset[str]], shown: str, widths: CodeWidths, check: bool
) -> Iterator[tuple[Code, str]]:
    """Every code that fits the places, with the check character seen ('' if none was)."""
    for match in _matches(shown, widths, check):
        names = [name for name, value in match.groupdict().items() if value is not None]
        places = [_part(name, characters[slice(*match.span(name))]) for name in names]
        for values in product(*places):
            code = _code(dict(zip(names, values, strict=True)), widths)
            if code is not None:
                yield code, values[-1] if check else ""


def _part(name: str, places: list[frozenset[str]]) -> list[str]:
    """All texts that one part of a code can be."""
    allowed = {"lot": _ALPHABET, "check": _CHECK_CHARACTERS}.get(name, _DIGITS)
    options = []
    for place in places:
        read = place if name == "lot" else {_LOOK_ALIKES.get(c, c) for c in place}
        options.append(sorted(c for c in read if c in allowed))
    return ["".join(choice) for choice in product(*options)]


def _code(parts: dict[str, str], widths: CodeWidths) -> Code | None:
    """The code of these parts, or None where it would be number nought or past the last lot."""
    number, plant, lot = int(parts["number"]), parts.get("plant"), parts.get("lot")
    if number == 0 or (plant is not None and int(plant) == 0):
        return None
    try:
        return Code(int(parts["year"]), number, lot, None if plant is None else int(plant), widths)
    except ValueError:
        return None


def _one_slip_away(typed: str, widths: CodeWidths) -> list[Code]:
    """The codes from which one wrong character or one swap of neighbours leads to `typed`."""
    hyphens = {place for place, character in enumerate(typed) if character == "-"}
    bare = [character for character in typed if character != "-"]
    variants = {
        "".join([*bare[:i], other, *bare[i + 1 :]])
        for i in range(len(bare))
        for other in (_ALPHABET if bare[i].isalpha() and i < len(bare) - 1 else _CHECK_CHARACTERS)
    }
    variants |= {
        "".join([*bare[:i], bare[i + 1], bare[i], *bare[i + 2 :]]) for i in range(len(bare) - 1)
    }
    found = set()
    for variant in variants:
        text = _with_hyphens(variant, hyphens)
        for code, check in _readings([frozenset(c) for c in text], text, widths, check=True):
            if code.check == check:
                found.add(code)
    return sorted(found, key=lambda code: code.text)


def _with_hyphens(bare: str, places: set[int]) -> str:
    characters = iter(bare)
    return "".join("-" if i in places else next(characters) for i in range(len(bare) + len(places)))


def _whole_or_short(base: str, widths: CodeWidths, year: int) -> ByCode | HalfRead | BadCode:
    short = _SHORT.fullmatch(base)
    if short and len(short["number"]) <= widths.number and int(short["number"]) > 0:
        lot = short["lot"].upper() if short["lot"] else None
        try:
            return ByCode(base, Code(year, int(short["number"]), lot, widths=widths), short=True)
        except ValueError:
            return _bad(base, CodeReason.SHAPE, widths)
    try:
        return ByCode(base, Code.parse(base, widths))
    except BadCode as error:
        if error.reason is not CodeReason.LOST:
            return error
    try:
        return HalfRead(base, tuple(half_read(base, widths)))
    except BadCode as error:
        return error


def _picked(typed: str, plants: str, widths: CodeWidths) -> tuple[int, ...]:
    """The plant numbers of `1-7,9`, ascending and each once."""
    picked: set[int] = set()
    for part in plants.split(","):
        match = re.fullmatch(r"\s*([0-9]+)\s*(?:-\s*([0-9]+)\s*)?", part)
        if not match:
            raise _bad(typed, CodeReason.SELECTION, widths)
        first, last = whole(match[1]) or 0, whole(match[2] or match[1]) or 0
        if not 1 <= first <= last <= widths.most_plants:
            raise _bad(typed, CodeReason.SELECTION, widths)
        picked.update(range(first, last + 1))
    return tuple(sorted(picked))
