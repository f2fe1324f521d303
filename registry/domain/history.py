"""What became of a record, entry by entry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Change:
    """One row that an entry added or changed.

    Attributes:
        table: of the row.
        values: what it says, by column, with codes and names for what it points to; what it does
            not say is left out. Dates stand under their name alone.
        changed: (column, before, after) of what was changed; nothing where the row was added.
        taken_back_by: the entry that took the row back later.
        takes_back: the entry whose row is taken back here.
    """

    table: str
    values: Mapping[str, str]
    changed: tuple[tuple[str, str, str], ...] = ()
    taken_back_by: int | None = None
    takes_back: int | None = None


@dataclass(frozen=True, slots=True)
class Past:
    """One entry that touched a record.

    Attributes:
        seq: its number.
        what: the act, as a word.
        recorded: the moment (ISO 8601).
        happened: the day of the act as EDTF text, where it has one.
        by: who recorded it.
        why: the reason, where one was written down with it.
        changes: what it said of the record.
    """

    seq: int
    what: str
    recorded: str
    happened: str | None
    by: str
    why: str | None
    changes: tuple[Change, ...]
