"""Rights on a variety: when they end and how they stand on a day.

The formulas and their sources stand in `registry.domain.rules.terms`. A computed end is only as
good as its inputs: every end is given as the earliest and the latest day that the recorded facts
allow, and an end stated by the register or by the holder after the event replaces both.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import Enum

from registry.domain.rules.kinds import Group, Kind
from registry.domain.spans import Span


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
        end_source: who states it.
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
