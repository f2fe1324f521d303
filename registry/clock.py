"""The one place where the registry reads the time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

Clock = Callable[[], datetime]
"""Answers the present moment as an aware datetime in UTC."""


def system_clock() -> datetime:
    """The machine's time, aware, in UTC."""
    return datetime.now(UTC)  # noqa: TID251 - this is the edge where time enters


def local_day(moment: datetime) -> date:
    """The calendar day of `moment` where this machine stands: a grower's 'today'."""
    return moment.astimezone().date()


def fixed_clock(moment: datetime, step: timedelta = timedelta(0)) -> Clock:
    """A clock for rehearsals and tests: starts at `moment`, moves by `step` at each reading.

    >>> tick = fixed_clock(datetime(2026, 5, 14, tzinfo=UTC), timedelta(seconds=1))
    >>> tick().second, tick().second
    (0, 1)
    """
    if moment.tzinfo is None:
        raise ValueError("a clock needs an aware datetime")
    state = [moment - step]

    def read() -> datetime:
        state[0] += step
        return state[0]

    return read
