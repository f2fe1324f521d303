"""Counts as growers say them.

Blank, zero, "not yet", "about" and "unknown" are five different things: blank and "not yet" are no
count at all, the others are kinds of `Count`, kept as said. Only exact counts enter statistics.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum

from registry.domain.codes import lot_index
from registry.errors import (
    BadCount,
    CountReason,
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
