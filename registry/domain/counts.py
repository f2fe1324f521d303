"""Counts as growers say them, limits with their unit, and sums of money.

Blank, zero, "not yet", "about" and "unknown" are five different things: blank and "not yet" are no
count at all, the others are kinds of `Count`, kept as said. Only exact counts enter statistics.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from registry.domain.codes import lot_index
from registry.errors import (
    BadCount,
    BadLimit,
    BadMoney,
    BadRoyalty,
    CountReason,
    LimitNeedsUnit,
    MoneyReason,
)

MOST = 9_999_999  # more than any nursery sticks; keeps sums far from a database's bounds


class CountKind(StrEnum):
    """How sure a count is."""

    EXACT = "exact"
    ABOUT = "about"
    RANGE = "range"
    AT_LEAST = "at least"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Count:
    """A number as said.

    Attributes:
        low: The least it can be; for `about` the number said; None if unknown.
        high: The most it can be; None where nothing bounds it (about, at least, unknown).
        text: As typed, blanks tidied.
        kind: How sure it is.
    """

    low: int | None
    high: int | None
    text: str
    kind: CountKind

    @classmethod
    def of(cls, n: int) -> Count:
        """The exact count of `n`.

        Raises:
            ValueError: if `n` is negative.
        """
        if n < 0:
            raise ValueError(f"a count is never negative: {n}")
        return cls(n, n, str(n), CountKind.EXACT)

    @property
    def exact(self) -> int | None:
        """The number if it is exact, else None."""
        return self.low if self.kind is CountKind.EXACT else None

    @property
    def surely(self) -> int:
        """What there is at the very least; `about` promises nothing."""
        return 0 if self.kind is CountKind.ABOUT or self.low is None else self.low

    @property
    def against_limit(self) -> int | None:
        """What is used of a limit: the most it can be, else the number said, None if none was."""
        return self.low if self.high is None else self.high

    def __str__(self) -> str:
        return self.text


ByLot = dict[str, Count]

_N = r"([0-9]+)"
_RANGE = re.compile(rf"(?:between )?{_N} ?(?:-|to|or|and) ?{_N}")
_ABOUT = re.compile(rf"(?:~|about |around |roughly |circa |ca\.? |c\.? ?) ?{_N}|{_N} ?(?:~|or so)")
_AT_LEAST = re.compile(rf"{_N} ?(?:\+|or more|and more|plus)|at least {_N}")
_AT_MOST = re.compile(rf"(?:at most |up to ){_N}")
_NOT_KNOWN = frozenset({"?", "unknown", "not known"})


def parse_count(text: str) -> Count:
    """Read `14`, `about 14`, `12-13`, `10+` or `?`, and the like in words.

    >>> parse_count("12-13")
    Count(low=12, high=13, text='12-13', kind=<CountKind.RANGE: 'range'>)

    Raises:
        BadCount: if it is none of these, runs backwards, or is past 9,999,999.
    """
    typed = _tidy(text)
    said = typed.casefold()
    if said in _NOT_KNOWN:
        return Count(None, None, typed, CountKind.UNKNOWN)
    if re.fullmatch(_N, said):
        n = _number(said, typed)
        return Count(n, n, typed, CountKind.EXACT)
    if match := _RANGE.fullmatch(said):
        low, high = (_number(part, typed) for part in match.groups())
        if low > high:
            raise BadCount(typed, CountReason.BACKWARDS)
        return Count(low, high, typed, CountKind.EXACT if low == high else CountKind.RANGE)
    if match := _AT_MOST.fullmatch(said):
        return Count(0, _number(match[1], typed), typed, CountKind.RANGE)
    if match := _ABOUT.fullmatch(said):
        return Count(_number(match[1] or match[2], typed), None, typed, CountKind.ABOUT)
    if match := _AT_LEAST.fullmatch(said):
        return Count(_number(match[1] or match[2], typed), None, typed, CountKind.AT_LEAST)
    negative = re.fullmatch(r"- ?[0-9]+", said) is not None
    raise BadCount(typed, CountReason.NEGATIVE if negative else CountReason.SHAPE)


def parse_by_lot(text: str) -> ByLot:
    """Read counts given by lot.

    >>> {lot: count.text for lot, count in parse_by_lot("A=8, b=about 2").items()}
    {'A': '8', 'B': 'about 2'}

    Raises:
        BadCount: if a part is not `LETTER=COUNT`, or a letter stands twice.
    """
    typed = _tidy(text)
    counts: ByLot = {}
    for part in re.split(r"\s*[,;]\s*|\s+(?=[A-Za-z]{1,2}\s*=)", typed):
        letters, equals, count = (piece.strip() for piece in part.partition("="))
        letters = letters.upper()
        if not equals or not _is_lot(letters):
            raise BadCount(typed, CountReason.BY_LOT)
        if letters in counts:
            raise BadCount(typed, CountReason.LOT_TWICE)
        counts[letters] = parse_count(count)
    return counts


def parse_counts(text: str) -> Count | ByLot:
    """Read a plain count, or counts by lot if there is an equals sign.

    Raises:
        BadCount: as `parse_count` and `parse_by_lot`.
    """
    return parse_by_lot(text) if "=" in text else parse_count(text)


# --- limits --------------------------------------------------------------------------------------


class Unit(StrEnum):
    """What a limit or a royalty counts."""

    CUTTINGS = "cuttings"
    PIECES = "pieces"
    PLANTS = "plants"
    POTS = "pots"

    @property
    def one(self) -> str:
        """The word for one of them."""
        return self.value[:-1]


@dataclass(frozen=True, slots=True)
class Limit:
    """At most `n` of `unit`, in all or in each calendar year."""

    n: int
    unit: Unit
    per_year: bool = False

    def __str__(self) -> str:
        unit = self.unit.one if self.n == 1 else self.unit.value
        return f"{self.n} {unit}{' a year' if self.per_year else ''}"


_UNITS = {unit.one: unit for unit in Unit} | {unit.value: unit for unit in Unit}
_LIMIT = re.compile(
    rf"{_N} ?(?P<unit>{'|'.join(sorted(_UNITS, key=len, reverse=True))})?"
    r"(?P<year> (?:a|per|each|every) (?:calendar )?year| ?/ ?year| yearly)?"
)


def parse_limit(text: str) -> Limit:
    """Read `12 cuttings`, `20 plants` or `5 cuttings a year`.

    >>> print(parse_limit("5 cuttings per year"))
    5 cuttings a year

    Raises:
        LimitNeedsUnit: if only a number is given: "12 of what?".
        BadLimit: if it is none of these, or nought.
    """
    typed = _tidy(text)
    match = _LIMIT.fullmatch(typed.casefold())
    if not match or len(match[1]) > len(str(MOST)):
        raise BadLimit(typed, zero=False)
    n = int(match[1])
    if n == 0:
        raise BadLimit(typed, zero=True)
    if match["unit"] is None:
        raise LimitNeedsUnit(typed, n)
    return Limit(n, _UNITS[match["unit"]], per_year=match["year"] is not None)


# --- money ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Money:
    """A sum in a currency, by its alphabetic code (ISO 4217); only the code's shape is checked."""

    amount: Decimal
    currency: str

    def __str__(self) -> str:
        return f"{self.amount} {self.currency}"


class RoyaltyOn(StrEnum):
    """What makes a royalty due."""

    SOLD = "sold"
    RELEASED = "released"  # sold, given or swapped
    MADE = "made"


@dataclass(frozen=True, slots=True)
class Royalty:
    """A sum due for each of a unit, when it is sold, released or made."""

    money: Money
    unit: Unit
    on: RoyaltyOn = RoyaltyOn.SOLD

    def __str__(self) -> str:
        return f"{self.money} a {self.unit.one} {self.on.value}"


_MONEY = re.compile(
    r"(?:(?P<before>[A-Za-z]{3}) ?)?(?P<amount>[0-9]{1,12}(?:[.,][0-9]{1,3})?)"
    r"(?: ?(?P<after>[A-Za-z]{3}))?"
)
_SIGNS = "$€£¥₹"
_ROYALTY = re.compile(
    r"(?P<money>.+?) ?(?: a| an| per| each| for each| for every|/) ?"
    rf"(?P<unit>{'|'.join(unit.one for unit in Unit)})(?: (?P<on>{'|'.join(RoyaltyOn)}))?",
    re.IGNORECASE,
)


def parse_money(text: str, currency: str | None = None) -> Money:
    """Read `6 USD`, `USD 6` or `6.50 EUR`; a comma with one or two digits is a decimal comma.

    Args:
        text: As typed.
        currency: What a bare number is in, if the registry has a currency set.

    Raises:
        BadMoney: if the currency is missing or a sign such as `$`, or the number is none.
    """
    typed = _tidy(text)
    if any(sign in typed for sign in _SIGNS):
        raise BadMoney(typed, MoneyReason.SIGN)
    match = _MONEY.fullmatch(typed)
    if not match or (match["before"] and match["after"]):
        raise BadMoney(typed, MoneyReason.SHAPE)
    amount = match["amount"]
    if re.search(r",[0-9]{3}$", amount):
        raise BadMoney(typed, MoneyReason.COMMA)
    code = match["after"] or match["before"] or currency
    if code is None:
        raise BadMoney(typed, MoneyReason.NO_CURRENCY)
    return Money(Decimal(amount.replace(",", ".")), code.upper())


def parse_royalty(text: str, currency: str | None = None) -> Royalty:
    """Read `0.35 USD a plant sold`; without a last word it is due on what is sold.

    Raises:
        BadRoyalty: if it does not say for each what it is due.
        BadMoney: if the sum cannot be read.
    """
    typed = _tidy(text)
    match = _ROYALTY.fullmatch(typed)
    if not match:
        raise BadRoyalty(typed)
    on = RoyaltyOn((match["on"] or RoyaltyOn.SOLD).casefold())
    unit = _UNITS[match["unit"].casefold()]
    return Royalty(parse_money(match["money"], currency), unit, on)


# --- inside --------------------------------------------------------------------------------------


def _tidy(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text)
    return " ".join(re.sub("[‐‑–—−]", "-", folded).split())


def _number(digits: str, typed: str) -> int:
    if len(digits) > len(str(MOST)):
        raise BadCount(typed, CountReason.TOO_MANY)
    return int(digits)


def _is_lot(letters: str) -> bool:
    try:
        lot_index(letters)
    except ValueError:
        return False
    return True
