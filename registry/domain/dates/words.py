"""Reading a date from what people type."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from registry.domain.dates.edtf import Span, days_in, joined, month_span, read_edtf
from registry.domain.dates.value import (
    LIMITS,
    MONTHS,
    OPEN_ENDS,
    SEASONS,
    UNKNOWN,
    FuzzyDate,
    Hemisphere,
)
from registry.errors import AmbiguousDate, BadDate, DateNeedsYear, DateReason

_ONE_DAY = timedelta(days=1)
_A_WEEK = timedelta(days=7)
_LEAP_YEAR = 2000  # has every day that any year has
_NOT_KNOWN = frozenset({"xxxx", "?", "unknown", "not known", "date not known"})

_MONTH_NUMBERS = {name.casefold(): number for number, name in enumerate(MONTHS, 1)}
_MONTH_NUMBERS |= {name[:3]: number for name, number in _MONTH_NUMBERS.items()} | {"sept": 9}
_SEASON_NUMBERS = {name: number for number, name in SEASONS.items()} | {"fall": 23}
_PARTS = {
    "early": 0, "beginning of": 0, "start of": 0,
    "mid": 1, "middle of": 1,
    "late": 2, "end of": 2,
}  # fmt: skip
_MARKS = {
    "about": "~", "around": "~", "roughly": "~", "circa": "~", "ca": "~", "c": "~",
    "perhaps": "?", "maybe": "?", "probably": "?",
}  # fmt: skip
_SMALL_NUMBERS = {"a": 1, "one": 1, "two": 2, "three": 3}


def _any_of(words: dict[str, int] | dict[str, str]) -> str:
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))


_MONTH, _SEASON = _any_of(_MONTH_NUMBERS), _any_of(_SEASON_NUMBERS)
_DAY = r"(?P<day>[0-9]{1,2})(?P<nth>st|nd|rd|th)?"
_YEAR = r"(?P<year>[0-9]{4}|'?[0-9]{2})"
_DAY_MONTH = re.compile(rf"{_DAY}(?: of)?[ -]?(?P<month>{_MONTH})(?:[ -]{_YEAR})?")
_MONTH_DAY = re.compile(rf"(?P<month>{_MONTH}) {_DAY}(?: {_YEAR})?")
_MONTH_YEAR = re.compile(
    rf"(?:last |this )?(?P<month>{_MONTH})(?: (?:of )?(?P<year>[0-9]{{4}}|'[0-9]{{2}}))?"
)
_SEASON_YEAR = re.compile(
    rf"(?:last |this )?(?P<season>{_SEASON})"
    r"(?: (?:of )?(?P<year>[0-9]{4})(?:[/-](?P<turn>[0-9]{4}|[0-9]{2}))?)?"
)
_DECADE = re.compile(r"(?P<year>[0-9]{3}0)'?s")
_NUMBERS = re.compile(r"([0-9]{1,4}) ?[./-] ?([0-9]{1,2}) ?[./-] ?('?[0-9]{4}|'?[0-9]{1,2})")
_YEAR_MONTH = re.compile(r"(?P<year>[0-9]{4})[./-](?P<month>[0-9]{1,2})")
_NUMBER_YEAR = re.compile(r"(?P<month>[0-9]{1,2})[./-](?P<year>[0-9]{4})")
_TWO_NUMBERS = re.compile(r"[0-9]{1,2}[./-][0-9]{1,2}")
_YEARS = re.compile(r"([0-9]{4}) ?- ?([0-9]{4})")
_RANGE = re.compile(r"(?:from |between )?(.+?)(?: to | and | - )(.+)")
_DAYS_OF_MONTH = re.compile(r"(?P<first>[0-9]{1,2}) ?- ?(?P<last>[0-9]{1,2} ?(?:" + _MONTH + ").*)")
_ONLY_DAY = re.compile(r"[0-9]{1,2}(?:st|nd|rd|th)?\b")
_LIMIT = re.compile(r"(before|after|since|from|until|till|by) (.+)")
_MARK = re.compile(rf"({_any_of(_MARKS)}) (.+)")
_PART = re.compile(rf"({_any_of(_PARTS)})[ -](.+)")
_AGO = re.compile(r"([0-9]{1,3}|a|one|two|three) (day|week)s? ago")


def parse_date(
    text: str, *, today: date, hemisphere: Hemisphere, year: int | None = None
) -> FuzzyDate:
    """Read a date as people type it, or EDTF.

    Args:
        text: As typed.
        today: The day on which it is typed; `yesterday` and two-digit years go by it.
        hemisphere: Which way the seasons run.
        year: The year of words without one, where the context gives it.

    Raises:
        AmbiguousDate: if it can be read in two ways (`4/5/25`), with both.
        DateNeedsYear: if words have no year (`14 May`), with likely ones.
        BadDate: if the day does not exist, or it is no date at all.
    """
    typed = " ".join(unicodedata.normalize("NFKC", text).split())
    if typed.casefold() in _NOT_KNOWN:
        return replace(FuzzyDate.unknown(), said=None if typed == UNKNOWN else typed)
    span = read_edtf(typed.upper(), hemisphere, typed)
    if span is not None:
        return FuzzyDate(span.edtf, span.first, span.last)
    reader = _Reader(typed, today, hemisphere, year)
    plain = _plain(typed)
    limit = _LIMIT.fullmatch(plain)
    if limit and limit[1] in LIMITS:
        return reader.limited(limit[1], limit[2])
    span = reader.read(plain)
    return FuzzyDate(span.edtf, span.first, span.last, typed)


def _plain(typed: str) -> str:
    """Lower case, without commas, the dot after a word, and words that carry no meaning."""
    text = re.sub(r"[‐‑–—−]", "-", typed.casefold()).replace("’", "'").replace(",", " ")
    text = re.sub(r"^~", "about ", re.sub(r"(?<=[a-z])\.|(?<=[0-9])\.(?= [a-z])", " ", text))
    return " ".join(re.sub(r"\b(the|on|in) ", "", text).split())


def _iso(day: date) -> str:
    return day.isoformat()


@dataclass(frozen=True, slots=True)
class _Reader:
    """One typed text with what its words depend on."""

    typed: str
    today: date
    hemisphere: Hemisphere
    year: int | None

    def limited(self, word: str, rest: str) -> FuzzyDate:
        """`before X` and `after X`: X itself is left out."""
        span = self.read(rest)
        shown = f"{word} {FuzzyDate(span.edtf, span.first, span.last).display()}"
        if word == "before":
            if span.first is None:
                raise self._bad()
            last = span.first - _ONE_DAY
            return self._date(f"../{_coarse_end(last)}", shown)
        if span.last is None or span.last == date.max:
            raise self._bad()
        return self._date(f"{_coarse_start(span.last + _ONE_DAY)}/..", shown)

    def read(self, text: str) -> Span:
        """The span of any words but `before` and `after`."""
        ways: tuple[Callable[[str], Span | None], ...] = (
            self._edtf, self._relative, self._range, self._limit, self._mark, self._part,
            self._named, self._numeric,
        )  # fmt: skip
        for way in ways:
            span = way(text)
            if span is not None:
                return span
        raise self._bad()

    def _bad(self, reason: DateReason = DateReason.SHAPE) -> BadDate:
        return BadDate(self.typed, reason)

    def _edtf(self, text: str) -> Span | None:
        return read_edtf(text, self.hemisphere, self.typed)

    def _known(self, edtf: str) -> Span:
        """The span of EDTF that was put together here."""
        span = self._edtf(edtf)
        if span is None:
            raise self._bad()
        return span

    def _date(self, edtf: str, said: str) -> FuzzyDate:
        span = self._known(edtf)
        return FuzzyDate(span.edtf, span.first, span.last, said)

    # --- days counted from today ---

    def _relative(self, text: str) -> Span | None:
        today, monday = self.today, self.today - timedelta(days=self.today.weekday())
        last_month = today.replace(day=1) - _ONE_DAY
        known = {
            "today": _iso(today),
            "now": _iso(today),
            "yesterday": _iso(today - _ONE_DAY),
            "this week": _week(monday),
            "last week": _week(monday - _A_WEEK),
            "this month": f"{today:%Y-%m}",
            "last month": f"{last_month:%Y-%m}",
            "this year": f"{today.year}",
            "last year": f"{today.year - 1}",
        }
        if text in known:
            return self._known(known[text])
        match = _AGO.fullmatch(text)
        if not match:
            return None
        many = _SMALL_NUMBERS.get(match[1]) or int(match[1])
        if match[2] == "day":
            return self._known(_iso(today - timedelta(days=many)))
        return self._known(_week(monday - many * _A_WEEK))

    # --- spans and marks ---

    def _range(self, text: str) -> Span | None:
        years = _YEARS.fullmatch(text)
        if years:
            return self._known(f"{years[1]}/{years[2]}")
        match = _DAYS_OF_MONTH.fullmatch(text) or _RANGE.fullmatch(text)
        if not match:
            return None
        start, end = match[1], self.read(match[2])
        year = end.last.year if end.last is not None else None
        last_day = _ONLY_DAY.match(match[2])
        if last_day and _ONLY_DAY.fullmatch(start):  # "14 to 20 May 2026"
            start += match[2][last_day.end() :]
        begin = replace(self, year=year or self.year).read(start)
        return self._join(begin, end)

    def _join(self, begin: Span, end: Span) -> Span:
        if begin.start in OPEN_ENDS or end.end in OPEN_ENDS:
            raise self._bad()
        return joined(f"{begin.start}/{end.end}", begin.first, end.last, self.typed)

    def _limit(self, text: str) -> Span | None:
        match = _LIMIT.fullmatch(text)
        if not match or match[1] in LIMITS:
            return None
        span = self.read(match[2])
        if span.first is None or span.last is None:
            raise self._bad()
        if match[1] in ("since", "from"):
            return Span(f"{span.start}/..", span.first, None)
        return Span(f"../{span.end}", None, span.last)

    def _mark(self, text: str) -> Span | None:
        match = _MARK.fullmatch(text)
        if match:
            mark, rest = _MARKS[match[1]], match[2]
        elif text.endswith(("?", "~")):
            mark, rest = text[-1], text[:-1].rstrip()
        else:
            return None
        span = self.read(rest)
        ends = span.edtf.split("/")
        return self._known("/".join(end if end in OPEN_ENDS else _add(end, mark) for end in ends))

    def _part(self, text: str) -> Span | None:
        """`mid May 2025`, `late summer 2020`, `early 2019`."""
        match = _PART.fullmatch(text)
        if not match:
            return None
        whole, third = self.read(match[2]), _PARTS[match[1]]
        if whole.first is None or whole.last is None or "/" in whole.edtf:
            raise self._bad()
        first, last = whole.first, whole.last
        months = (last.year - first.year) * 12 + last.month - first.month + 1
        if whole.edtf[-1] in "~?%" or first == last:
            raise self._bad()
        if months == 1:
            days = [(1, 10), (11, 20), (21, last.day)][third]
            return self._known("/".join(_iso(first.replace(day=day)) for day in days))
        begin, end = month_span(first.year, first.month + third * months // 3, months // 3)
        return self._known(f"{begin:%Y-%m}" if months == 3 else f"{begin:%Y-%m}/{end:%Y-%m}")

    # --- months, seasons and years by name ---

    def _named(self, text: str) -> Span | None:
        match = _MONTH_YEAR.fullmatch(text)
        if match:
            return self._month(match["month"], match["year"])
        match = _DAY_MONTH.fullmatch(text)
        if match:
            return self._day(match["day"], match["month"], match["year"])
        match = _MONTH_DAY.fullmatch(text)
        if match:
            return self._month_and_number(match)
        match = _SEASON_YEAR.fullmatch(text)
        if match:
            return self._season(match["season"], match["year"], match["turn"])
        match = _DECADE.fullmatch(text)
        if match:
            return self._known(f"{match['year']}/{int(match['year']) + 9}")
        return None

    def _month(self, name: str, year: str | None) -> Span:
        month = _MONTH_NUMBERS[name]
        return self._known(f"{self._full_year(year, month, 1)}-{month:02d}")

    def _day(self, number: str, name: str, year: str | None) -> Span:
        month, day = _MONTH_NUMBERS[name], int(number)
        if year is None and not 1 <= day <= days_in(_LEAP_YEAR, month):
            raise BadDate(self.typed, DateReason.NO_SUCH_DAY, None, month)
        return self._known(f"{self._full_year(year, month, day)}-{month:02d}-{day:02d}")

    def _month_and_number(self, match: re.Match[str]) -> Span:
        """`May 14 2026`; without a year `May 14` may be a day, or a month of 2014."""
        name, number, year = match["month"], match["day"], match["year"]
        may_be_year = len(number) == 2 and 2000 + int(number) <= self.today.year
        if year is None and self.year is None and match["nth"] is None and may_be_year:
            month = MONTHS[_MONTH_NUMBERS[name] - 1]
            readings = [f"{month} 20{number}"]
            if 1 <= int(number) <= days_in(_LEAP_YEAR, _MONTH_NUMBERS[name]):
                years = self._likely_years(_MONTH_NUMBERS[name], int(number))
                readings = [f"{int(number)} {month} {likely}" for likely in years] + readings
            raise AmbiguousDate(self.typed, tuple(readings))
        return self._day(number, name, year)

    def _season(self, name: str, year: str | None, turn: str | None) -> Span:
        season = _SEASON_NUMBERS[name]
        first_month = self._known(f"2000-{season}").first
        begins = first_month.month if first_month else 1
        over_new_year = begins == 12
        if turn is not None:
            follows = str(int(year or 0) + 1)
            if not over_new_year or turn not in (follows, follows[2:]):
                raise self._bad()
            return self._known(f"{year}-{season}")
        full = self._full_year(year, begins, 1)
        if over_new_year and year is not None and date(full, begins, 1) > self.today:
            readings = (_turning(name, full - 1), _turning(name, full))
            raise AmbiguousDate(self.typed, readings)
        return self._known(f"{full}-{season}")

    def _full_year(self, typed: str | None, month: int, day: int) -> int:
        """The year in four digits.

        Raises:
            DateNeedsYear: if none is typed and the context gives none.
            BadDate: if two digits can not be of this century.
        """
        if typed is None:
            if self.year is None:
                raise DateNeedsYear(self.typed, self._likely_years(month, day))
            return self.year
        if len(typed) == 4:
            if int(typed) == 0:  # no calendar here has such a year
                raise self._bad(DateReason.YEAR)
            return int(typed)
        year = self.today.year // 100 * 100 + int(typed.strip("'"))
        if year > self.today.year + 1:
            raise self._bad(DateReason.SHORT_YEAR)
        return year

    def _likely_years(self, month: int, day: int) -> tuple[int, ...]:
        """The two latest years in which that day has been."""
        likely: list[int] = []
        year = self.today.year
        while len(likely) < 2:
            if day <= days_in(year, month) and date(year, month, day) <= self.today:
                likely.append(year)
            year -= 1
        return tuple(likely)

    # --- figures only ---

    def _numeric(self, text: str) -> Span | None:
        match = _YEAR_MONTH.fullmatch(text) or _NUMBER_YEAR.fullmatch(text)
        if match:
            if not 1 <= int(match["month"]) <= 12:
                raise self._bad(DateReason.NO_SUCH_MONTH)
            return self._known(f"{match['year']}-{int(match['month']):02d}")
        match = _NUMBERS.fullmatch(text)
        if match:
            return self._three_numbers(match[1], match[2], match[3])
        if _TWO_NUMBERS.fullmatch(text):
            raise self._bad(DateReason.NUMBERS)
        return None

    def _three_numbers(self, one: str, two: str, three: str) -> Span:
        if three.startswith("'") and (len(one) == 4 or len(three) == 2):
            raise self._bad()  # an apostrophe stands before a year of two digits alone
        if len(one) == 4:
            return self._known(f"{one}-{int(two):02d}-{int(three):02d}")
        if len(one) == 3 or len(three) == 1:
            raise self._bad()
        year = self._full_year(three, 1, 1)
        a, b = int(one), int(two)
        if a != b and 1 <= a <= 12 and 1 <= b <= 12:
            readings = (f"{a} {MONTHS[b - 1]} {year}", f"{b} {MONTHS[a - 1]} {year}")
            raise AmbiguousDate(self.typed, readings)
        day, month = (a, b) if b <= 12 else (b, a)
        return self._known(f"{year}-{month:02d}-{day:02d}")


def _week(monday: date) -> str:
    return f"{_iso(monday)}/{_iso(monday + _A_WEEK - _ONE_DAY)}"


def _turning(season: str, year: int) -> str:
    return f"{season} {year}/{(year + 1) % 100:02d}"


def _add(edtf: str, mark: str) -> str:
    """The EDTF date with one more mark; `~` and `?` together are `%`."""
    marks = {mark, edtf[-1]} & {"~", "?", "%"}
    return edtf.rstrip("~?%") + (mark if len(marks) == 1 else "%")


def _coarse_start(day: date) -> str:
    """The year or month that begins on this day, else the day."""
    if day.day != 1:
        return _iso(day)
    return _iso(day)[:4] if day.month == 1 else _iso(day)[:7]


def _coarse_end(day: date) -> str:
    """The year or month that ends on this day, else the day."""
    if day.day != days_in(day.year, day.month):
        return _iso(day)
    return _iso(day)[:4] if day.month == 12 else _iso(day)[:7]
