"""Sums over dated acts: how many were stuck, potted, lost, sold, given, in a period.

A period counts an act if both its possible days fall inside; acts that may or may not fall inside
stand in rows of their own, and acts whose number is not exact say so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Movement:
    """One dated act with its number.

    Attributes:
        act: The act, such as `stuck`, `potted`, `sold`.
        group: What the tally is by: a name, a source, a recipient.
        first, last: The possible days; None is an open bound.
        low, high: The number, or its bounds; `high` None is open.
        standing: How it left: `''`, `open question` or `against a no`.
    """

    act: str
    group: str
    first: date | None
    last: date | None
    low: int
    high: int | None
    standing: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a tally.

    Attributes:
        low, high: The sum's bounds; equal where every number was exact, `high` None where one was
            open above.
        unsure_day: True for acts that may lie in the period or outside it.
    """

    act: str
    group: str
    low: int
    high: int | None
    standing: str
    unsure_day: bool

    @property
    def text(self) -> str:
        """The sum as it is read aloud.

        >>> Row("sold", "Mint", 85, None, "", False).text
        '85 and an unknown number'
        """
        if self.high is None:
            return f"{self.low} and an unknown number" if self.low else "an unknown number"
        return str(self.low) if self.low == self.high else f"{self.low}-{self.high}"


def tally(
    movements: Iterable[Movement], order: dict[str, int], first: date | None, last: date | None
) -> list[Row]:
    """The rows of a tally, sorted by act and then by group.

    Args:
        movements: What happened.
        order: The place of each act in the list.
        first: The period's first day; None is open.
        last: Its last day, included; None is open.
    """
    sums: dict[tuple[str, str, str, bool], tuple[int, int | None]] = {}
    for movement in movements:
        inside = _inside(movement, first, last)
        if inside is False:
            continue
        key = (movement.act, movement.group, movement.standing, inside is None)
        low, high = sums.get(key, (0, 0))
        top = None if high is None or movement.high is None else high + movement.high
        sums[key] = (low + movement.low, top)
    rows = [
        Row(act, group, low, high, standing, unsure)
        for (act, group, standing, unsure), (low, high) in sums.items()
    ]
    return sorted(
        rows,
        key=lambda row: (
            order.get(row.act, len(order)),
            row.act,
            row.unsure_day,
            row.group.casefold(),
            row.standing,
        ),
    )


def _inside(movement: Movement, first: date | None, last: date | None) -> bool | None:
    """True if surely in the period, False if surely not, None if nobody can say."""
    begins, ends = movement.first or date.min, movement.last or date.max
    opens, closes = first or date.min, last or date.max
    if ends < opens or begins > closes:
        return False
    if opens <= begins and ends <= closes:
        return True
    return None
