"""How the end of a right was found, in lines that can be checked against the register."""

from __future__ import annotations

from datetime import date

from registry.domain.dates import FuzzyDate
from registry.domain.rights import Ends, Step, StepKind

_LINES = {
    StepKind.YEARS_FROM_FILING: "{years} years from filing",
    StepKind.YEARS_FROM_GRANT: "{years} years from grant",
    StepKind.GREATER_OF: "the later of the two counts",
    StepKind.OVER_BY_1995: "it was over before 8 June 1995, so only the years from grant count",
    StepKind.ADJUSTED: "the recorded days of adjustment are added",
    StepKind.ADJUSTMENT_NOT_RECORDED: (
        "days of adjustment are not recorded: at most 20 years from grant"
    ),
    StepKind.DISCLAIMED: "a disclaimer cuts it short",
    StepKind.YEAR_END: "the last day of the year, counted from the year of grant",
    StepKind.GROUP_NOT_RECORDED: "the group of plants is not recorded, so the end is a range",
    StepKind.STATED: "stated by the register or the holder",
    StepKind.PREDICTED: "an end was predicted; it may still change",
    StepKind.GIVEN_UP: "surrendered or cancelled",
    StepKind.NOTHING_TO_COUNT_FROM: "no day is recorded to count from: it counts as in force",
    StepKind.NO_LONGEST_TERM: "no longest term is known for that place",
}


def end_lines(found: Ends) -> tuple[str, ...]:
    """One line for each step of the sum, with its days and where the rule stands."""
    return tuple(_line(step) for step in found.steps)


def _line(step: Step) -> str:
    said = _LINES[step.what].format(years=step.years)
    days = _days(step.earliest, step.latest)
    return f"{said[:1].upper()}{said[1:]}{days} ({step.citation})."


def _days(earliest: date | None, latest: date | None) -> str:
    if earliest is None:
        return ""
    first = FuzzyDate.of(earliest).display()
    if latest is None:
        return f": {first} at the earliest"
    if latest == earliest:
        return f": {first}"
    return f": {first} to {FuzzyDate.of(latest).display()}"
