"""The value: a date with its first and last possible day."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from enum import Enum

UNKNOWN = "XXXX"  # EDTF level 1: a year of which no digit is specified
OPEN_ENDS = ("..", "")  # EDTF level 1: an open end, an unknown end
LIMITS = ("before", "after")

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
SEASONS = {21: "spring", 22: "summer", 23: "autumn", 24: "winter"}  # EDTF level 1
_MARKS = {"~": "about ", "?": "perhaps ", "%": "perhaps about "}
_THIRDS = ("early", "mid", "late")


class Hemisphere(Enum):
    """Which half of the earth the registry stands on; seasons go by it."""

    NORTH = "north"
    SOUTH = "south"


@dataclass(frozen=True, slots=True)
class FuzzyDate:
    """A date with what is not known about it.

    Attributes:
        edtf: The date in EDTF; `XXXX` if nothing is known.
        first: The first possible day, None if there is no earliest.
        last: The last possible day, None if there is no latest.
        said: The words that were typed, None if EDTF was typed.

    Raises:
        ValueError: if `first` is after `last`.
    """

    edtf: str
    first: date | None
    last: date | None
    said: str | None = None

    def __post_init__(self) -> None:
        if self.first is not None and self.last is not None and self.first > self.last:
            raise ValueError(f"{self.edtf}: {self.first} is after {self.last}")

    @classmethod
    def of(cls, day: date) -> FuzzyDate:
        """The date of which the day is known."""
        return cls(day.isoformat(), day, day)

    @classmethod
    def unknown(cls) -> FuzzyDate:
        """The date of which nothing is known."""
        return cls(UNKNOWN, None, None)

    @property
    def exact(self) -> bool:
        """True if it can be one day only."""
        return self.first is not None and self.first == self.last

    def certainly_before(self, other: FuzzyDate | date) -> bool:
        """True if even the last possible day is before the other's first.

        >>> day = FuzzyDate.of(date(2026, 5, 14))
        >>> day.certainly_before(date(2026, 5, 15)), day.certainly_before(FuzzyDate.unknown())
        (True, False)
        """
        first = other.first if isinstance(other, FuzzyDate) else other
        return self.last is not None and first is not None and self.last < first

    def within(self, first: date, last: date) -> bool:
        """True if both bounds are known and fall into the period, its ends included."""
        return (
            self.first is not None
            and self.last is not None
            and first <= self.first
            and self.last <= last
        )

    def display(self) -> str:
        """The date for people; `parse_date` reads it back to the same date.

        >>> FuzzyDate.of(date(2026, 5, 14)).display()
        '14 May 2026'
        """
        if self.edtf == UNKNOWN:
            return "date not known"
        if self.said is not None and self.said.split(" ")[0] in LIMITS:
            return self.said
        start, slash, end = self.edtf.partition("/")
        starts = _shown(start, _turns(self.first, 12, 3 if _marked(start) else 0))
        if not slash:
            return starts
        ends = _shown(end, _turns(self.last, 2, -3 if _marked(end) else 0))
        if start in OPEN_ENDS:
            return f"until {ends}"
        if end in OPEN_ENDS:
            return f"since {starts}"
        return _third(start, end) or f"{starts} to {ends}"

    def __str__(self) -> str:
        return self.display()


def _marked(edtf: str) -> bool:
    """True if the date's bounds were widened."""
    return edtf.endswith(("~", "%"))


def _turns(bound: date | None, month: int, shift: int) -> bool:
    """True if a season with this bound, its widening taken back, runs over New Year."""
    return bound is not None and (bound.month + shift - 1) % 12 + 1 == month


def _shown(edtf: str, over_new_year: bool) -> str:
    """One EDTF date, no interval, in words."""
    if edtf in OPEN_ENDS:
        return ""
    mark = _MARKS.get(edtf[-1], "")
    parts = [int(part) for part in edtf.rstrip("~?%").split("-")]
    year = parts[0]
    if len(parts) == 1:
        return f"{mark}{year}"
    if parts[1] in SEASONS:
        turn = f"/{(year + 1) % 100:02d}" if over_new_year else ""
        return f"{mark}{SEASONS[parts[1]]} {year}{turn}"
    day = f"{parts[2]} " if len(parts) == 3 else ""
    return f"{mark}{day}{MONTHS[parts[1] - 1]} {year}"


def _third(start: str, end: str) -> str | None:
    """`mid May 2025` where the interval is just that third of a month."""
    if start[:7] != end[:7] or len(start) != 10 or len(end) != 10:
        return None
    year, month = int(start[:4]), int(start[5:7])
    thirds = [("01", "10"), ("11", "20"), ("21", str(monthrange(year, month)[1]))]
    days = (start[8:], end[8:])
    if days not in thirds:
        return None
    return f"{_THIRDS[thirds.index(days)]} {MONTHS[month - 1]} {year}"
