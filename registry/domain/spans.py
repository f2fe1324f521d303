"""A day known between bounds: from the first day it can be to the last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Protocol

FIRST_DAY = date.min
LAST_DAY = date.max


class Bounded(Protocol):
    """Anything with a first and a last possible day; None is an open bound."""

    @property
    def first(self) -> date | None: ...  # noqa: D102
    @property
    def last(self) -> date | None: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Span:
    """The days on which something may have happened, both ends included.

    >>> Span.on(date(2025, 5, 14)).certainly_before(Span.on(date(2025, 5, 15)))
    True
    """

    first: date = FIRST_DAY
    last: date = LAST_DAY

    @classmethod
    def on(cls, day: date) -> Span:
        """The span of one day."""
        return cls(day, day)

    @classmethod
    def of(cls, when: Bounded | None) -> Span:
        """The span of a date from elsewhere; None and open bounds are open."""
        if when is None:
            return cls()
        return cls(when.first or FIRST_DAY, when.last or LAST_DAY)

    def certainly_before(self, other: Span) -> bool:
        """Whether every possible day lies before every possible day of `other`."""
        return self.last < other.first

    def may_touch(self, first: date, last: date) -> bool:
        """Whether some possible day lies in the period, both ends included."""
        return self.first <= last and first <= self.last


ANY_DAY = Span()


def add_years(day: date, years: int) -> date:
    """The same calendar day `years` on; 29 February becomes 1 March in a common year.

    The later day is the cautious choice; no statute read settles it.

    >>> add_years(date(2004, 2, 29), 17)
    datetime.date(2021, 3, 1)
    """
    if day.year + years > LAST_DAY.year:
        return LAST_DAY
    if day.year + years < FIRST_DAY.year:
        return FIRST_DAY
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def add_months(day: date, months: int) -> date:
    """The same day of the month `months` on, or the first of the next where there is none.

    >>> add_months(date(2024, 1, 31), 1)
    datetime.date(2024, 3, 1)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    try:
        return date(year, month + 1, day.day)
    except ValueError:
        year, month = divmod(year * 12 + month + 1, 12)
        return date(year, month + 1, 1)


def add_days(day: date, days: int) -> date:
    """`days` later, held inside the calendar that Python knows."""
    if days >= 0 and (LAST_DAY - day).days < days:
        return LAST_DAY
    return day + timedelta(days=days)
