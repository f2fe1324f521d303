"""Rights on a variety: when they end and how they stand on a day.

The formulas and their sources stand in `registry.domain.rules.terms`. A computed end is only as
good as its inputs: every end is given as the earliest and the latest day that the recorded facts
allow, and an end stated by the register or by the holder after the event replaces both.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import Enum

from registry.domain.rules import terms
from registry.domain.rules.kinds import KINDS, PENDENCY_YEARS, US_PATENTS, Group, Kind
from registry.domain.rules.taxa import NO_PLANT_PATENT
from registry.domain.rules.territories import EU, Regime, country_code, regime
from registry.domain.spans import ANY_DAY, Span, add_days, add_years


class EventKind(Enum):
    """A dated change of a right's status."""

    ANNOUNCED = "announced"  # on a label: PPAF, PVRAF, patent pending
    APPLIED = "applied"
    GRANTED = "granted"
    REFUSED = "refused"
    WITHDRAWN = "withdrawn"
    ABANDONED = "abandoned"
    LAPSED = "lapsed"  # a fee was not paid
    RESTORED = "restored"
    SURRENDERED = "surrendered"
    CANCELLED = "cancelled"
    ANNULLED = "annulled"


@dataclass(frozen=True, slots=True)
class RightEvent:
    """What happened to a right, when; `final` False while it can still be undone."""

    what: EventKind
    on: Span
    final: bool = True


@dataclass(frozen=True, slots=True)
class RightFacts:
    """What is recorded of one right in one territory.

    Attributes:
        kind: which kind of right.
        number: as the register writes it.
        territory: ISO 3166-1 alpha-2 code, or EU.
        filed: day of filing.
        earliest_claimed: the earliest earlier filing that counts towards the term (35 USC
            154(a)(2)); foreign and provisional priority never does.
        granted: day of grant or issue.
        adjust_days: days of patent term adjustment or extension; None where not recorded.
        disclaimed: a terminal disclaimer's date.
        stated_end: an end stated by the register or, in writing, by the holder.
        end_source: the register or holder that states it; an estimate by others has none.
        end_checked: the day on which that was read or said.
        group: the group of plants on which a term depends; None where not recorded.
        events: dated changes of status.
    """

    kind: Kind
    number: str | None = None
    territory: str = ""
    filed: Span | None = None
    earliest_claimed: Span | None = None
    granted: Span | None = None
    adjust_days: int | None = None
    disclaimed: Span | None = None
    stated_end: Span | None = None
    end_source: str | None = None
    end_checked: date | None = None
    group: Group | None = None
    events: tuple[RightEvent, ...] = ()


# --- when it ends --------------------------------------------------------------------------------


class StepKind(Enum):
    """A step of the sum by which an end is found; the wording makes a line of each."""

    YEARS_FROM_FILING = "years from filing"
    YEARS_FROM_GRANT = "years from grant"
    GREATER_OF = "the greater of the two"
    OVER_BY_1995 = "over by 8 June 1995"
    ADJUSTED = "adjustment added"
    ADJUSTMENT_NOT_RECORDED = "adjustment not recorded"
    DISCLAIMED = "disclaimed"
    YEAR_END = "31 December after the year of grant"
    GROUP_NOT_RECORDED = "group not recorded"
    STATED = "stated"
    PREDICTED = "predicted"
    GIVEN_UP = "surrendered or cancelled"
    NOTHING_TO_COUNT_FROM = "nothing to count from"
    NO_LONGEST_TERM = "no longest term known"


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what was counted, under which rule, and the days that came of it."""

    what: StepKind
    citation: str
    earliest: date | None = None
    latest: date | None = None
    years: int | None = None


@dataclass(frozen=True, slots=True)
class Ends:
    """The earliest and the latest last day of a right, and how they were found.

    None as `earliest` means that nothing recorded bounds it: it counts as in force until shown
    otherwise. None as `latest` means that no day is known after which it must have ended.
    """

    earliest: date | None
    latest: date | None
    steps: tuple[Step, ...]
    stated: bool = False


def ends(right: RightFacts) -> Ends:
    """When a right ends, from what is recorded (rows B20, B23 to B25, B27).

    >>> rose = RightFacts(
    ...     Kind.US_PLANT_PATENT,
    ...     filed=Span.on(date(1995, 6, 19)),
    ...     granted=Span.on(date(1996, 5, 7)),
    ...     adjust_days=0,
    ... )
    >>> ends(rose).latest
    datetime.date(2015, 6, 19)
    """
    found = _us_patent(right) if right.kind in US_PATENTS else _from_grant(right)
    return _given_up(right, _stated(right, found))


def _us_patent(right: RightFacts) -> Ends:
    """B23: 20 years from filing, or 17 from grant for older ones, and the adjustment."""
    filed, granted = _filed_and_granted(right)
    if filed is None or granted is None:
        return Ends(None, None, (Step(StepKind.NOTHING_TO_COUNT_FROM, "35 USC 154"),))
    counted = right.earliest_claimed or filed
    twenty = _years_on(counted, (terms.US_TERM, terms.US_TERM))
    seventeen = _years_on(granted, (terms.US_OLD_TERM, terms.US_OLD_TERM))
    steps = [Step(StepKind.YEARS_FROM_FILING, "35 USC 154(a)(2)", twenty.first, twenty.last, 20)]
    outcomes = []  # two where the filing may lie on either side of 8 June 1995
    if filed.first < terms.US_TWENTY_YEARS_FROM:
        steps.append(
            Step(StepKind.YEARS_FROM_GRANT, "35 USC 154(c)(1)", seventeen.first, seventeen.last, 17)
        )
        outcomes.append(_older_us_patent(twenty, seventeen))
    if filed.last >= terms.US_TWENTY_YEARS_FROM:
        outcomes.append(_adjusted(right, twenty, granted))
    first = min(span.first for span, _ in outcomes)
    last = max(span.last for span, _ in outcomes)
    steps += [step for _, step in outcomes]
    return _disclaimed(right, Ends(first, last, tuple(steps)))


def _older_us_patent(twenty: Span, seventeen: Span) -> tuple[Span, Step]:
    """35 USC 154(c)(1): the greater term, for a patent still in force on 8 June 1995."""
    if seventeen.last < terms.US_TWENTY_YEARS_FROM:
        return _step(StepKind.OVER_BY_1995, "35 USC 154(c)(1)", seventeen)
    first = max(twenty.first, seventeen.first)
    if seventeen.first < terms.US_TWENTY_YEARS_FROM:  # it may have been over already
        first = seventeen.first
    greater = Span(first, max(twenty.last, seventeen.last))
    return _step(StepKind.GREATER_OF, "35 USC 154(c)(1)", greater)


def _adjusted(right: RightFacts, twenty: Span, granted: Span) -> tuple[Span, Step]:
    """Days of adjustment if recorded; else no later than 20 years after grant.

    An adjustment cannot exceed the delay in issuing: 35 USC 154(b)(2)(A), cautious reading.
    """
    if right.adjust_days is not None:
        days = right.adjust_days
        added = Span(add_days(twenty.first, days), add_days(twenty.last, days))
        return _step(StepKind.ADJUSTED, "35 USC 154(b)", added)
    longest = max(twenty.last, add_years(granted.last, terms.US_TERM))
    return _step(
        StepKind.ADJUSTMENT_NOT_RECORDED,
        "35 USC 154(b)(2)(A), cautious reading",
        Span(twenty.first, longest),
    )


def _step(what: StepKind, citation: str, span: Span) -> tuple[Span, Step]:
    return span, Step(what, citation, span.first, span.last)


def _filed_and_granted(right: RightFacts) -> tuple[Span | None, Span | None]:
    """Both days; one that is missing lies within ten years of the other (cautious sum)."""
    filed, granted = right.filed or right.earliest_claimed, right.granted
    if filed is None and granted is not None:
        filed = Span(add_years(granted.first, -PENDENCY_YEARS), granted.last)
    if granted is None and filed is not None:
        granted = Span(filed.first, add_years(filed.last, PENDENCY_YEARS))
    return filed, granted


def _disclaimed(right: RightFacts, found: Ends) -> Ends:
    """A terminal disclaimer only shortens (35 USC 154(b)(2)(B), 253)."""
    if right.disclaimed is None or found.earliest is None or found.latest is None:
        return found
    first = min(found.earliest, right.disclaimed.first)
    last = min(found.latest, right.disclaimed.last)
    step = Step(StepKind.DISCLAIMED, "35 USC 154(b)(2)(B)", first, last)
    return Ends(first, last, (*found.steps, step))


def _from_grant(right: RightFacts) -> Ends:
    """B24: so many years from grant, by group; the longest group not excluded for the latest."""
    citation = terms.TERM_CITATION[right.kind]
    if right.granted is None:
        return Ends(None, None, (Step(StepKind.NOTHING_TO_COUNT_FROM, citation),))
    if right.kind is Kind.OTHER:
        first = add_years(right.granted.first, terms.OTHER_FEWEST)
        return Ends(first, None, (Step(StepKind.NO_LONGEST_TERM, citation, first, None),))
    years = _years(right)
    if right.kind is Kind.EU_CPVR:
        span, what = _year_ends(right.granted, years), StepKind.YEAR_END
    elif right.kind is Kind.CH_PVR:
        span = Span(add_years(right.granted.first, years[0]), _year_ends(right.granted, years).last)
        what = StepKind.YEARS_FROM_GRANT
    else:
        span, what = _years_on(right.granted, years), StepKind.YEARS_FROM_GRANT
    steps = [Step(what, citation, span.first, span.last, years[1])]
    if right.group is None:
        steps.append(Step(StepKind.GROUP_NOT_RECORDED, citation, span.first, span.last))
    return Ends(span.first, span.last, tuple(steps))


def _years(right: RightFacts) -> terms.Years:
    """The fewest and the most years that the kind, the group and the day of grant allow."""
    granted = right.granted or ANY_DAY
    table = _tables(right, granted)
    return (
        min(years[right.group][0] for years in table),
        max(years[right.group][1] for years in table),
    )


def _tables(right: RightFacts, granted: Span) -> tuple[Mapping[Group | None, terms.Years], ...]:
    """The tables that may apply; two where the day of grant lies on either side of a change."""
    if right.kind is Kind.US_CERTIFICATE:
        return _certificate_tables(right, granted)
    if right.kind is Kind.EU_CPVR:
        alive = _year_ends(granted, terms.EU_CPVR_BEFORE_2021[right.group])
        return _either(
            alive.first < terms.EU_EXTENSION_FROM,
            terms.EU_CPVR_BEFORE_2021,
            alive.last >= terms.EU_EXTENSION_FROM,
            terms.EU_CPVR,
        )
    if right.kind is Kind.CA_PBR:
        old = {group: (terms.CA_OLD_TERM, years[1]) for group, years in terms.CA_PBR.items()}
        return _either(
            granted.first < terms.CA_NEW_TERM_FROM,
            old,  # what the new term does to older grants was not read: the latest stays long
            granted.last >= terms.CA_NEW_TERM_FROM,
            terms.CA_PBR,
        )
    if right.kind is Kind.NZ_PVR:
        return _either(
            granted.first < terms.NZ_NEW_ACT_FROM,
            terms.NZ_PVR_1987,
            granted.last >= terms.NZ_NEW_ACT_FROM,
            terms.NZ_PVR,
        )
    return (_PLAIN_TABLES[right.kind],)


_PLAIN_TABLES: Mapping[Kind, Mapping[Group | None, terms.Years]] = {
    Kind.UK_PBR: terms.UK_PBR,
    Kind.AU_PBR: terms.AU_PBR,
    Kind.CH_PVR: terms.CH_PVR,
}


def _either(
    old: bool,
    old_table: Mapping[Group | None, terms.Years],
    new: bool,
    new_table: Mapping[Group | None, terms.Years],
) -> tuple[Mapping[Group | None, terms.Years], ...]:
    """The tables on the sides of a change on which the day may lie."""
    return tuple(table for holds, table in ((old, old_table), (new, new_table)) if holds)


def _certificate_tables(
    right: RightFacts, granted: Span
) -> tuple[Mapping[Group | None, terms.Years], ...]:
    """Old and new Act (7 USC 2483 notes): refiling is not recorded, so both may apply."""
    old_years = (
        terms.US_CERTIFICATE_OLDEST
        if granted.first < terms.US_CERTIFICATE_18_YEARS_FROM
        else terms.US_CERTIFICATE_OLD
    )
    old = dict.fromkeys((*Group, None), old_years)
    if granted.last < terms.US_CERTIFICATE_NEW_ACT:
        return (old,)
    pending_then = right.filed is not None and right.filed.first < terms.US_CERTIFICATE_NEW_ACT
    if pending_then or granted.first < terms.US_CERTIFICATE_NEW_ACT:
        return (old, terms.US_CERTIFICATE)
    return (terms.US_CERTIFICATE,)


def _years_on(span: Span, years: terms.Years) -> Span:
    """The same day so many years on: the fewest on the first, the most on the last."""
    return Span(add_years(span.first, years[0]), add_years(span.last, years[1]))


def _year_ends(granted: Span, years: terms.Years) -> Span:
    """31 December of the n-th calendar year after the year of grant (Art. 19(1))."""
    return Span(_last_of(granted.first.year + years[0]), _last_of(granted.last.year + years[1]))


def _last_of(year: int) -> date:
    return date(min(year, date.max.year), 12, 31)


def _stated(right: RightFacts, found: Ends) -> Ends:
    """B25: an end stated on or after the event decides; one predicted is only an input."""
    if right.stated_end is None:
        return found
    stated = right.stated_end
    seen_after = right.end_checked is not None and right.end_checked >= stated.last
    if seen_after and right.end_source:
        step = Step(StepKind.STATED, "row B25", stated.first, stated.last)
        return Ends(stated.first, stated.last, (*found.steps, step), stated=True)
    latest = None if found.latest is None else max(found.latest, stated.last)
    step = Step(StepKind.PREDICTED, "row B25", stated.first, latest)
    return Ends(stated.first, latest, (*found.steps, step))


def _given_up(right: RightFacts, found: Ends) -> Ends:
    """B27: surrendered or cancelled on a day, in force to that day."""
    given_up = [e for e in right.events if e.what in _GIVEN_UP and e.final]
    if not given_up:
        return found
    event = min(given_up, key=lambda e: e.on.last)
    first = event.on.first if found.earliest is None else min(found.earliest, event.on.first)
    last = event.on.last if found.latest is None else min(found.latest, event.on.last)
    step = Step(StepKind.GIVEN_UP, "row B27", first, last)
    return Ends(first, last, (*found.steps, step), stated=found.stated)


_GIVEN_UP = frozenset({EventKind.SURRENDERED, EventKind.CANCELLED})


# --- how it stands -------------------------------------------------------------------------------


class State(Enum):
    """How a right stands on a day."""

    IN_FORCE = "in force"
    OPEN_END = "open end"  # after the earliest, up to the latest end (B21)
    LAPSED = "lapsed"  # a fee was not paid, not confirmed final (B26)
    PENDING = "pending"  # asked for, or granted later than the day (B17)
    ENDED = "ended"
    ANNULLED = "annulled"  # as if never granted (B28)
    NONE = "none"  # refused, withdrawn or abandoned application (B18)


@dataclass(frozen=True, slots=True)
class Standing:
    """The state of a right on a day, the row that says so, and when that changes by itself."""

    state: State
    row: str
    changes_on: date | None = None


def standing(right: RightFacts, day: Span) -> Standing:
    """How `right` stands on `day`; where the day is open, the cautious end of it counts.

    >>> certificate = RightFacts(Kind.UK_PBR, granted=Span.on(date(2000, 3, 1)), group=Group.BULB)
    >>> standing(certificate, Span.on(date(2025, 3, 1))).state
    <State.IN_FORCE: 'in force'>
    >>> standing(certificate, Span.on(date(2025, 3, 2))).state
    <State.ENDED: 'ended'>
    """
    if _happened(right, EventKind.ANNULLED):
        return Standing(State.ANNULLED, "B28")
    if _is_application(right):
        return _application(right)
    if right.granted is not None and day.last < right.granted.first:
        return Standing(State.PENDING, "B17", right.granted.first)
    return _after_grant(right, day)


def _happened(right: RightFacts, *what: EventKind) -> bool:
    return any(e.what in what and e.final for e in right.events)


def _is_application(right: RightFacts) -> bool:
    """Asked for and, as far as recorded, never granted."""
    if right.granted is not None or any(e.what is EventKind.GRANTED for e in right.events):
        return False
    asked = {EventKind.APPLIED, EventKind.ANNOUNCED, EventKind.REFUSED}
    asked |= {EventKind.WITHDRAWN, EventKind.ABANDONED}
    return right.number is None or any(e.what in asked for e in right.events)


def _application(right: RightFacts) -> Standing:
    """B18 after a final refusal, withdrawal or abandonment; else B17."""
    if _happened(right, EventKind.REFUSED, EventKind.WITHDRAWN, EventKind.ABANDONED):
        return Standing(State.NONE, "B18")
    return Standing(State.PENDING, "B17")


def _after_grant(right: RightFacts, day: Span) -> Standing:
    """B20 to B22 and B25 to B27, by the end dates and a lapse."""
    found = ends(right)
    row_ended = "B25" if found.stated else "B27" if _happened(right, *_GIVEN_UP) else "B22"
    lapse = _lapse(right)
    if lapse is not None and day.first > lapse.on.last:
        if lapse.final:
            return Standing(State.ENDED, "B26")
        if found.latest is None or day.first <= found.latest:
            return Standing(State.LAPSED, "B26", _next_day(found.latest))
    if found.latest is not None and day.first > found.latest:
        return Standing(State.ENDED, row_ended)
    if found.earliest is not None and day.first > found.earliest:
        return Standing(State.OPEN_END, "B21", _next_day(found.latest))
    return Standing(State.IN_FORCE, "B20", _next_day(found.earliest))


def _next_day(day: date | None) -> date | None:
    return None if day is None else add_days(day, 1)


def _lapse(right: RightFacts) -> RightEvent | None:
    """The newest lapse that no restoration follows."""
    lapses = [e for e in right.events if e.what is EventKind.LAPSED]
    if not lapses:
        return None
    lapse = max(lapses, key=lambda e: e.on.last)
    restored = any(
        e.what is EventKind.RESTORED and e.on.last >= lapse.on.first for e in right.events
    )
    return None if restored else lapse


# --- checks of what was typed --------------------------------------------------------------------


class RightProblem(Enum):
    """What cannot be right about a record; refused."""

    GRANTED_BEFORE_FILED = "granted before filed"
    END_BEFORE_GRANT = "end before grant"
    CLAIMED_AFTER_FILED = "earlier filing after filing"
    NUMBER_SHAPE = "number shape"
    WRONG_TERRITORY = "wrong territory"
    NEGATIVE_ADJUSTMENT = "negative adjustment"
    ADJUSTMENT_TOO_LONG = "adjustment too long"


class RightWarning(Enum):
    """What looks wrong or cannot be relied on; said, not refused."""

    ADJUSTED_PAST_DELAY = "adjusted past delay"  # 35 USC 154(b)(2)(A), cautious reading
    NOT_A_TUESDAY = "not a tuesday"  # US patents are issued on Tuesdays
    END_NOT_CHECKED = "end not checked"
    TUBER_PLANT_PATENT = "tuber plant patent"
    TERRITORY_NOT_ON_SHEET = "territory not on sheet"


@dataclass(frozen=True, slots=True)
class RightCheck:
    """The problems and warnings of one record."""

    problems: tuple[RightProblem, ...]
    warnings: tuple[RightWarning, ...]


LONGEST_ADJUSTMENT = 365 * terms.US_TERM
"""Days; no patent was ever adjusted by as long as it lasts."""

_NUMBER_SHAPES: Mapping[Kind, re.Pattern[str]] = {
    Kind.US_PLANT_PATENT: re.compile(
        r"(US)?\s*(PP|Plant\s*Pat\.?)?\s*[\d,]{1,6}\s*(P[123]?)?", re.I
    ),
    Kind.US_UTILITY_PATENT: re.compile(r"(US)?\s*[\d,]{6,10}\s*([AB]\d?)?", re.I),
    Kind.US_CERTIFICATE: re.compile(r"(PVP?)?\s*\d{7,9}", re.I),
}


def check(right: RightFacts, *, binomial: str = "") -> RightCheck:
    """What is wrong, or looks wrong, about a record.

    Args:
        right: as typed.
        binomial: genus and species in lower case, if known, for the tuber rule (35 USC 161).

    >>> late = RightFacts(Kind.US_PLANT_PATENT, "PP9536", "US", granted=Span.on(date(1996, 5, 8)))
    >>> check(late).warnings
    (<RightWarning.NOT_A_TUESDAY: 'not a tuesday'>,)
    """
    return RightCheck(tuple(_problems(right)), tuple(_warnings(right, binomial)))


def _problems(right: RightFacts) -> Iterator[RightProblem]:
    filed, granted = right.filed, right.granted
    if filed and granted and granted.certainly_before(filed):
        yield RightProblem.GRANTED_BEFORE_FILED
    if filed and right.earliest_claimed and filed.certainly_before(right.earliest_claimed):
        yield RightProblem.CLAIMED_AFTER_FILED
    if granted and right.stated_end and right.stated_end.certainly_before(granted):
        yield RightProblem.END_BEFORE_GRANT
    shape = _NUMBER_SHAPES.get(right.kind)
    if right.number and shape and not shape.fullmatch(right.number.strip()):
        yield RightProblem.NUMBER_SHAPE
    home = KINDS[right.kind].regime
    if right.territory and home is not Regime.OTHER:
        part = home is Regime.EU and country_code(right.territory) != EU
        if part or regime(right.territory) is not home:  # an EU right holds in all of it
            yield RightProblem.WRONG_TERRITORY
    if right.adjust_days is not None and right.adjust_days < 0:
        yield RightProblem.NEGATIVE_ADJUSTMENT
    if right.adjust_days is not None and right.adjust_days > LONGEST_ADJUSTMENT:
        yield RightProblem.ADJUSTMENT_TOO_LONG


def _warnings(right: RightFacts, binomial: str) -> Iterator[RightWarning]:
    granted = right.granted
    one_day = granted is not None and granted.first == granted.last
    if right.kind in US_PATENTS and granted and one_day and granted.first.weekday() != 1:
        yield RightWarning.NOT_A_TUESDAY
    waited = (granted.last - right.filed.first).days if granted and right.filed else None
    if right.adjust_days and waited is not None and right.adjust_days > waited:
        yield RightWarning.ADJUSTED_PAST_DELAY
    if right.stated_end is not None and right.end_checked is None:
        yield RightWarning.END_NOT_CHECKED
    if right.kind is Kind.US_PLANT_PATENT and binomial in NO_PLANT_PATENT:
        yield RightWarning.TUBER_PLANT_PATENT
    if right.kind is Kind.OTHER and regime(right.territory) is Regime.OTHER:
        yield RightWarning.TERRITORY_NOT_ON_SHEET
