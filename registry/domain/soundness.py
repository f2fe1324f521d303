"""What can be wrong with a registry as it is kept: the ways in which a check finds it unsound."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Fault(Enum):
    """One way in which a registry is not what was recorded; the text is its name in JSON."""

    # the chain
    ENTRY_MISSING = "entry missing"
    LINK_BROKEN = "link broken"
    HASH_WRONG = "hash wrong"
    HEADER_UNREADABLE = "header unreadable"
    PARTS_WRONG = "parts wrong"
    PART_UNREADABLE = "part unreadable"
    PART_WITHOUT_ENTRY = "part without entry"
    WRITER_WRONG = "writer wrong"
    REQUEST_WRONG = "request wrong"
    HEAD_WRONG = "head wrong"
    REVISION_UNKNOWN = "revision unknown"
    ROW_IMPOSSIBLE = "row impossible"
    # the chain against what was kept elsewhere
    TAIL_CUT = "tail cut"
    REWRITTEN = "rewritten"
    CHECK_GONE = "check gone"
    # the tables against the chain
    CHANGED = "changed"
    ADDED = "added"
    GONE = "gone"
    # values that stand outside the chain
    DETAILS_CHANGED = "details changed"
    DETAILS_GONE = "details gone"
    SEALED_CHANGED = "sealed text changed"
    SEALED_GONE = "sealed text gone"
    EMPTIED = "emptied"
    FILE_CHANGED = "file changed"
    FILE_GONE = "file gone"
    # the tables themselves
    STRANGE = "strange"
    OTHERWISE = "made otherwise"
    # what the records say together
    COUNT_WRONG = "count wrong"
    UNSAID_WRONG = "unsaid count wrong"
    CIRCLE = "circle"
    NO_PARENT = "no parent"
    WRONG_KIND = "wrong kind"
    REFERENCE = "reference"
    CODE_WRONG = "code wrong"
    NUMBER_AHEAD = "number ahead"
    LINE_WRONG = "line wrong"
    SEARCH_WRONG = "search wrong"
    INDEX_WRONG = "index wrong"
    DAMAGED = "damaged"
    CHECK_STOPPED = "check stopped"

    @property
    def where(self) -> str:
        """The part of the check that finds it."""
        return next(where for where, faults in _WHERE.items() if self in faults)


_WHERE = {
    "chain": (
        Fault.ENTRY_MISSING,
        Fault.LINK_BROKEN,
        Fault.HASH_WRONG,
        Fault.HEADER_UNREADABLE,
        Fault.PARTS_WRONG,
        Fault.PART_UNREADABLE,
        Fault.PART_WITHOUT_ENTRY,
        Fault.WRITER_WRONG,
        Fault.REQUEST_WRONG,
        Fault.HEAD_WRONG,
        Fault.REVISION_UNKNOWN,
        Fault.ROW_IMPOSSIBLE,
    ),
    "head": (Fault.TAIL_CUT, Fault.REWRITTEN, Fault.CHECK_GONE),
    "state": (Fault.CHANGED, Fault.ADDED, Fault.GONE),
    "sealed": (
        Fault.DETAILS_CHANGED,
        Fault.DETAILS_GONE,
        Fault.SEALED_CHANGED,
        Fault.SEALED_GONE,
        Fault.EMPTIED,
    ),
    "schema": (Fault.STRANGE, Fault.OTHERWISE),
    "attachments": (Fault.FILE_CHANGED, Fault.FILE_GONE),
    "ledger": (Fault.COUNT_WRONG, Fault.UNSAID_WRONG),
    "lineage": (
        Fault.CIRCLE,
        Fault.NO_PARENT,
        Fault.WRONG_KIND,
        Fault.LINE_WRONG,
        Fault.SEARCH_WRONG,
        Fault.INDEX_WRONG,
    ),
    "references": (Fault.REFERENCE,),
    "codes": (Fault.CODE_WRONG, Fault.NUMBER_AHEAD),
    "file": (Fault.DAMAGED, Fault.CHECK_STOPPED),
}


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that a check found.

    Attributes:
        fault: what is wrong.
        record: the record that it is about, by its code where it has one; empty for the chain.
        seq: the entry of the chain that last wrote the record, or that is itself at fault.
        column: the column that differs, if it is one.
        found: what stands in the registry, as text.
        expected: what should stand there, as text.
    """

    fault: Fault
    record: str = ""
    seq: int | None = None
    column: str = ""
    found: str = ""
    expected: str = ""

    @property
    def where(self) -> str:
        """The part of the check that found it."""
        return self.fault.where


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a whole check ended: the newest entry then, its hash, and the moment (ISO 8601)."""

    seq: int
    hash: str
    at: str


@dataclass(frozen=True, slots=True)
class Report:
    """What a check of a whole registry came to.

    Attributes:
        problems: what was found, in the order of the check; the first `MOST` of each part.
        more: how many were found beyond those.
        entries: entries of the chain that were read.
        rows: rows that they recorded or changed.
        head: the newest entry's hash, to keep somewhere else and compare one day.
        seq: the newest entry's number.
        since: the check from which this one went on; None is a check of everything.
    """

    problems: tuple[Problem, ...]
    more: int
    entries: int
    rows: int
    head: str
    seq: int
    since: Mark | None = None

    @property
    def ok(self) -> bool:
        """Whether nothing was found."""
        return not self.problems


MOST = 100
"""How many problems of each part of the check are told; the others are counted."""

DERIVED = frozenset({Fault.LINE_WRONG, Fault.SEARCH_WRONG, Fault.INDEX_WRONG})
"""What can be made anew from the records, since it only follows from them."""
