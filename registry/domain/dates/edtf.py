"""EDTF: the bounds of what is written (ISO 8601-2:2019 annex A, level 0 and parts of level 1)."""

from __future__ import annotations

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta

from registry.domain.dates.value import OPEN_ENDS, SEASONS, Hemisphere
from registry.errors import BadDate, DateReason

FIRST_YEAR, LAST_YEAR = 1000, 9999
MONTHS_IN = {"year": 12, "season": 3, "month": 1}

_DATE = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?([~?%])?")
_FIRST_MONTHS = {  # meteorological seasons, whole months
    Hemisphere.NORTH: {21: 3, 22: 6, 23: 9, 24: 12},
    Hemisphere.SOUTH: {21: 9, 22: 12, 23: 3, 24: 6},
}


@dataclass(frozen=True, slots=True)
class Span:
    """EDTF text with its first and last possible day; None is an open end."""

    edtf: str
    first: date | None
    last: date | None

    @property
    def start(self) -> str:
        """The EDTF date at which it starts."""
        return self.edtf.partition("/")[0]

    @property
    def end(self) -> str:
        """The EDTF date at which it ends."""
        return self.edtf.rpartition("/")[2]


def read_edtf(text: str, hemisphere: Hemisphere, typed: str) -> Span | None:
    """The span of EDTF text, or None if it is something else.

    Raises:
        BadDate: naming `typed`, if it is EDTF but no such day exists, or it runs backwards.
    """
    start, slash, end = text.partition("/")
    if not slash:
        return _read_date(text, hemisphere, typed)
    spans = [_read_end(part, hemisphere, typed) for part in (start, end)]
    if spans[0] is None or spans[1] is None or (start in OPEN_ENDS and end in OPEN_ENDS):
        return None
    return joined(text, spans[0].first, spans[1].last, typed)


def joined(edtf: str, first: date | None, last: date | None, typed: str) -> Span:
    """An interval.

    Raises:
        BadDate: if it runs backwards.
    """
    if first is not None and last is not None and first > last:
        raise BadDate(typed, DateReason.BACKWARDS)
    return Span(edtf, first, last)


def days_in(year: int, month: int) -> int:
    """How many days the month has."""
    return monthrange(year, month)[1]


def month_span(year: int, month: int, months: int, widened: bool = False) -> tuple[date, date]:
    """First and last day of `months` months from the given one, or of thrice that around them."""
    start = year * 12 + month - 1 - (months if widened else 0)
    end = year * 12 + month - 2 + months * (2 if widened else 1)
    return _month_start(start), _month_end(end)


def _month_start(count: int) -> date:
    return date(count // 12, count % 12 + 1, 1)


def _month_end(count: int) -> date:
    if count // 12 > LAST_YEAR:
        return date.max
    return date(count // 12, count % 12 + 1, days_in(count // 12, count % 12 + 1))


def _read_end(text: str, hemisphere: Hemisphere, typed: str) -> Span | None:
    return Span(text, None, None) if text in OPEN_ENDS else _read_date(text, hemisphere, typed)


def _read_date(text: str, hemisphere: Hemisphere, typed: str) -> Span | None:
    match = _DATE.fullmatch(text)
    if not match:
        return None
    year, month, day = (int(part) if part else None for part in match.groups()[:3])
    widened = match[4] in ("~", "%")
    if year is None or year < FIRST_YEAR:
        raise BadDate(typed, DateReason.YEAR)
    if month is None:
        return Span(text, *month_span(year, 1, MONTHS_IN["year"], widened))
    if month in SEASONS and day is None:
        begins = _FIRST_MONTHS[hemisphere][month]
        return Span(text, *month_span(year, begins, MONTHS_IN["season"], widened))
    if not 1 <= month <= 12:
        raise BadDate(typed, DateReason.NO_SUCH_MONTH)
    if day is None:
        return Span(text, *month_span(year, month, MONTHS_IN["month"], widened))
    if not 1 <= day <= days_in(year, month):
        raise BadDate(typed, DateReason.NO_SUCH_DAY, year, month)
    exact = date(year, month, day)
    if not widened:
        return Span(text, exact, exact)
    slack = timedelta(days=1)
    return Span(text, exact - slack, exact if exact == date.max else exact + slack)
