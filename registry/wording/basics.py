"""What a person reads when a code, a date, a count or a lot's ledger is wrong."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from datetime import date

from registry.domain.codes import Code, CodeWidths
from registry.domain.dates import FuzzyDate
from registry.domain.dates.value import MONTHS
from registry.domain.methods import Caution, HeldLong
from registry.domain.rates import CHANCE, Rate
from registry.errors import (
    AmbiguousDate,
    BadCode,
    BadCount,
    BadDate,
    CodePart,
    CodeReason,
    CountReason,
    DateNeedsYear,
    DateReason,
    DayAhead,
    WidthUsedUp,
)
from registry.wording.problems import problem

MOST_SHOWN = 9


def day_words(day: date) -> str:
    """A day as people write it.

    >>> day_words(date(2026, 5, 14))
    '14 May 2026'
    """
    return FuzzyDate.of(day).display()


def edtf_words(edtf: str) -> str:
    """A date in EDTF as people write it.

    >>> edtf_words("2026-05")
    'May 2026'
    """
    return FuzzyDate(edtf, None, None).display()


def joined(words: Sequence[str], last: str = "or") -> str:
    """All of the words as people list them.

    >>> joined(("a", "b", "c")), joined(("a",)), joined(())
    ('a, b or c', 'a', '')
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def listed(words: tuple[str, ...], last: str = "or") -> str:
    """`a, b or c`; a long list is cut and says how many more there are.

    >>> listed(("a", "b", "c"))
    'a, b or c'
    """
    shown = words[:MOST_SHOWN]
    if len(words) > MOST_SHOWN:
        return f"{', '.join(shown)} {last} {len(words) - MOST_SHOWN} more"
    return joined(shown, last)


def _shapes(number: int, plant: int) -> str:
    widths = CodeWidths(number, plant)
    whole, lot, pot = Code(26, 14, widths=widths), Code(26, 14, "B", widths=widths), 7
    return (
        f"A code here looks like {whole} (a batch or a plant that came in), {lot} (a lot) "
        f"or {Code(26, 14, plant=pot, widths=widths)} (a plant)"
    )


@problem.register
def _(error: BadCode) -> str:
    typed = f"“{error.typed}”"
    match error.reason:
        case CodeReason.CHECK:
            offers = f" It may be {listed(error.candidates)}." if error.candidates else ""
            return (
                f"The code {typed} does not fit its last character, the check: something is "
                f"misread or mistyped.{offers} Compare it with the label and type it again."
            )
        case CodeReason.NO_CHECK:
            return (
                f"The code {typed} lacks its last character, the check. "
                f"Type {listed(error.candidates)}, or this year's short form such as 14 or 14:7."
            )
        case CodeReason.LOST:
            return f"The code {typed} is only half read. Ask `ortet read` which plants it could be."
        case CodeReason.TOO_MANY:
            return f"Too much of {typed} is lost to list what it could be. Give more characters."
        case CodeReason.SELECTION:
            return (
                f"The plants picked in {typed} cannot be read. Write numbers and ranges from low "
                "to high behind the colon, such as 14:1-7,9."
            )
        case CodeReason.NOT_A_BATCH:
            return (
                f"In {typed} plants are picked from what is not a batch. Plants are numbered "
                "through the batch: write the batch's number before the colon, such as 14:7."
            )
        case CodeReason.SHAPE:
            shapes = _shapes(error.number_width, error.plant_width)
            return (
                f"{typed} is not a code. {shapes}. This year's can be typed short: 14, 14B, 14:7."
            )


@problem.register
def _(error: WidthUsedUp) -> str:
    match error.part:
        case CodePart.NUMBER:
            return (
                f"The year's running numbers are used up: codes here end at {error.most}. "
                "Nothing was recorded. Go on next year, or start a registry with wider codes."
            )
        case CodePart.LOT:
            return f"A batch holds at most {error.most} lots. Stick the rest as a second batch."
        case CodePart.PLANT:
            return (
                f"A batch holds at most {error.most} plants and this one is full. "
                "Go on under a second batch number."
            )


DATE_EXAMPLES = "14 May 2026, May 2025, mid May 2025, summer 2020, 2018, before 2015 or 2026-05-14"


@problem.register
def _(error: BadDate) -> str:
    typed = f"“{error.typed}”"
    match error.reason:
        case DateReason.NO_SUCH_DAY:
            return f"There is no such day as {typed}: {_month_length(error)}. Check the day."
        case DateReason.NO_SUCH_MONTH:
            return f"There is no such month in {typed}. Write the month as a word: 14 May 2026."
        case DateReason.YEAR:
            return f"The year in {typed} cannot be kept: years run from 1000 to 9999."
        case DateReason.SHORT_YEAR:
            return f"Which century is meant in {typed}? Write the year with four digits."
        case DateReason.BACKWARDS:
            return (
                f"{typed} ends before it begins. Put the earlier date first, with a year to each "
                "if they differ."
            )
        case DateReason.NUMBERS:
            return (
                f"{typed} can be a day and a month or a month and a year. Write the month as a "
                "word, with its year: 14 May 2026."
            )
        case DateReason.SHAPE:
            return (
                f"{typed} is not a date that can be read. Write {DATE_EXAMPLES}; or ? for unknown."
            )


def _month_length(error: BadDate) -> str:
    if error.month is None:
        return "the calendar has none"
    days = monthrange(error.year or 2000, error.month)[1]
    year = f" {error.year}" if error.year is not None else ""
    most = "at most " if error.year is None and error.month == 2 else ""
    return f"{MONTHS[error.month - 1]}{year} has {most}{days} days"


@problem.register
def _(error: AmbiguousDate) -> str:
    return f"“{error.typed}” can be read in more than one way. Write {listed(error.readings)}."


@problem.register
def _(error: DateNeedsYear) -> str:
    offers = listed(tuple(f"“{error.typed} {year}”" for year in error.years))
    return f"“{error.typed}” has no year, and none is guessed. Write {offers}."


@problem.register
def _(error: DayAhead) -> str:
    return (
        f"“{error.typed}” is after today, {day_words(error.today)}, and only what has happened is "
        "recorded. Give the day it happened, or leave --on out for today."
    )


COUNT_EXAMPLES = "14, about 14, 12-13, 10+, or ? if it is not known"


@problem.register
def _(error: BadCount) -> str:
    typed = f"“{error.typed}”"
    match error.reason:
        case CountReason.NEGATIVE:
            return f"{typed} is less than nothing. Give what was there, or 0 for none."
        case CountReason.BACKWARDS:
            return f"In {typed} the first number is the greater. Write the lesser first: 12-13."
        case CountReason.TOO_MANY:
            return f"{typed} is more than can be counted here (9999999). Check the number."
        case CountReason.BY_LOT:
            return (
                f"{typed} cannot be read as counts by lot. Write each lot's letter with its "
                "count, such as A=8,B=2."
            )
        case CountReason.LOT_TWICE:
            return f"A lot stands twice in {typed}. Give each lot's letter once, such as A=8,B=2."
        case CountReason.SHAPE:
            return f"{typed} is not a count. Write {COUNT_EXAMPLES}."


def held_long(held: HeldLong) -> str:
    """The warning that pieces were held long before they were stuck."""
    unit = "day" if held.ordinary == 1 else "days"
    longer = ""
    if held.reported > held.ordinary:
        longer = f"; growers report up to {held.reported} days"
    return (
        f"Held {held.days} days between taking and sticking: long for {held.word} "
        f"(ordinary, kept cool: up to {held.ordinary} {unit}{longer})."
    )


CAUTIONS = {
    Caution.BLADES: (
        "Cut away from the hand. Clean blades between plants with alcohol or one part bleach to "
        "nine of water; never mix bleach with other cleaners."
    ),
    Caution.HORMONE: (
        "Read the hormone's label, wear gloves, and pour out what is needed: never dip into the "
        "stock jar. Alcohol dips are flammable."
    ),
    Caution.SAP: "Its sap can burn skin and eyes: wear gloves and eye cover.",
    Caution.HEAT: "A closed cover in the sun cooks cuttings within the hour: give shade.",
}
"""One line each, after extension texts (WSU Extension, FAO ad224e, eyewire.news)."""


def rate_text(rate: Rate) -> str:
    """`19 of 20 took (95 %; 76-99 %)`: a share with its 95 % interval.

    >>> from registry.domain.rates import rate
    >>> rate_text(rate(19, 20))
    '19 of 20 took (95 %; 76-99 %)'
    """
    low, high = round(100 * rate.low), round(100 * rate.high)
    return f"{rate.rooted} of {rate.of} took ({round(100 * rate.share)} %; {low}-{high} %)"


def chance_text(p: float) -> str:
    """Whether two lots differ, never said to be proved.

    >>> chance_text(0.07)
    'could easily be chance'
    """
    return "could easily be chance" if p >= CHANCE else "is hard to put down to chance"


def compared_lines(pairs: Sequence[tuple[str, str, float]]) -> list[str]:
    """What the rates of a batch's lots come to beside each other, pair by pair.

    Args:
        pairs: The letters of two lots, and how often chance alone parts them so far (0 to 1).

    >>> compared_lines([("A", "B", 0.07)])
    ['the difference between A and B could easily be chance']
    """
    lines = [
        f"the difference between {one} and {other} {chance_text(p)}" for one, other, p in pairs
    ]
    if len(pairs) > 1:
        lines.append(
            f"{len(pairs)} pairs: about one pair in twenty looks different by chance alone"
        )
    return lines


def span(first: FuzzyDate | None, last: FuzzyDate | None) -> str:
    """From one day until another; either may not be known."""
    until = f"until {last.display() if last is not None else '?'}"
    return until if first is None else f"{first.display()} {until}"
