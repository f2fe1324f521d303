"""A recall as it is worked through: what was exposed, why, where it is, what was found of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Why(StrEnum):
    """Why something counts as exposed."""

    START = "start"  # what the recall is about
    SOURCE = "source"  # what that came from: it may have come from there
    DESCENT = "descent"
    GRAFTED = "grafted"  # it grew together with something exposed
    BATCH = "batch"
    PLACE = "place"
    SUPPLIER = "supplier"
    TOOL = "tool"
    TRAY = "tray"
    RETURNED = "returned"  # it left, and came back


class Found(StrEnum):
    """What somebody found of an exposed plant."""

    SOUND = "sound"
    SICK = "sick"
    DESTROYED = "destroyed"
    REACHED = "reached"  # the receiver was told
    RETURNED = "returned"
    MISSING = "missing"  # looked for and not found


ANSWERED = frozenset(set(Found) - {Found.MISSING})
"""What settles a line; `missing` says that somebody looked, and leaves it open."""


class Widened(StrEnum):
    """A missing record that made the circle wider."""

    PARENT = "parent"  # the parent is one of several
    DAY = "day"  # the day it came to the place, or came in, is not recorded
    PLACE = "place"  # where it stood after potting is not recorded: its batch stood there
    WHICH = "which"  # pots left or died by count: which ones was not said
    CLEANED = "cleaned"  # that the tool or tray was disinfected in between is not recorded
    TRAY = "tray"  # when it left the tray is not recorded
    CUT = "cut"  # which of several plants was cut is not said
    SAME = "same"  # whether what came back is what had left is not recorded


@dataclass(frozen=True, slots=True)
class Tick:
    """What one person found on one day."""

    what: Found
    n: int | None
    on: str
    by: str
    note: str | None


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the worklist.

    Attributes:
        line: Its number in the recall.
        code: Of the plant or lot; of the lot or batch where pots left by count.
        kind: `plant`, `lot`, or `left by count`.
        name: What it is called.
        n: How many plants or cuttings it is; None where the count is not exact.
        status: How the record has it now.
        where: The place it stands in.
        to: Who has it now; None where it did not leave, empty where that was not named.
        contact: How to reach them.
        left_on: The day it left or ended.
        step: Contacts between it and what the recall is about.
        why: The reason.
        via: The code through which it is exposed.
        widened: The missing records that brought it in.
        ticks: What was found so far.
        to_do: Whether somebody has to go and look, or tell somebody.
        back_as: The code under which it came back, for what had left.
        of_share: It came back and had left by count, so that its old code still counts.
    """

    line: int
    code: str
    kind: str
    name: str
    n: int | None
    status: str
    where: str | None
    to: str | None
    contact: str | None
    left_on: str | None
    step: int
    why: Why
    via: str | None
    widened: tuple[Widened, ...]
    ticks: tuple[Tick, ...]
    to_do: bool
    back_as: str | None = None
    of_share: bool = False

    @property
    def settled(self) -> bool:
        """Whether the newest tick answers what became of it."""
        return bool(self.ticks) and self.ticks[-1].what in ANSWERED

    @property
    def open(self) -> bool:
        """Whether it is still to be worked through."""
        return self.to_do and not self.settled


@dataclass(frozen=True, slots=True)
class LotSum:
    """The count of one exposed lot, from its entries.

    Attributes:
        code: The lot.
        opening: What was stuck, as said.
        moved: How each kind of entry changed the count, signed.
        in_bench: The balance on record; None where it is not exact.
        pots: Its plants by status; those that may be of another lot are counted with each.
        unsaid: How many of its pots left or died by count.
        unsaid_ended: How many of those died.
        unexplained: The balance less what the entries come to; None where it cannot be said.
    """

    code: str
    opening: str
    moved: dict[str, int]
    in_bench: int | None
    pots: dict[str, int]
    unsaid: int
    unsaid_ended: int
    unexplained: int | None


@dataclass(frozen=True, slots=True)
class More:
    """What has come to be exposed since a recall was listed: plants, lots, pots left by count."""

    plants: int = 0
    lots: int = 0
    pots: int = 0

    def __bool__(self) -> bool:
        return bool(self.plants or self.lots or self.pots)


@dataclass(frozen=True, slots=True)
class Recalled:
    """A recall with its lines and sums."""

    id: int
    kind: str
    subject: str
    reason: str
    on: str | None
    opened: str
    closed: str | None
    finding: str | None
    steps: int
    back: bool
    lines: tuple[Line, ...]
    lots: tuple[LotSum, ...]
    holds: int
    overlaps: tuple[tuple[int, int], ...] = ()
    unplaced: int = 0
    since: More = More()

    @property
    def sums(self) -> Sums:
        """Where the exposed plants are."""
        return sums(self.lines, sum(lot.unsaid_ended for lot in self.lots))


@dataclass(frozen=True, slots=True)
class Sums:
    """Where the exposed plants are: the parts of `plants` add up to it.

    Attributes:
        plants: All exposed plants, those that share a pot counted each, each counted once.
        standing: By the record, here; `unsaid` of them left or died by count.
        ended: Died, culled, destroyed, surrendered to an authority.
        named: Left to somebody who is named.
        not_named: Left, and nobody said to whom.
        unsaid_named, unsaid_not_named: Left by count, to whom.
        unsaid_ended: Died by count.
        back: Left and came back: counted where they stand now, not where they had gone.
        back_unsaid: Left by count and came back; their old codes are among those standing.
        cuttings: In the bench, of lots whose count is exact.
        inexact: Lots whose count is not.
    """

    plants: int
    standing: int
    ended: int
    named: int
    not_named: int
    unsaid_named: int
    unsaid_not_named: int
    unsaid_ended: int
    back: int
    back_unsaid: int
    cuttings: int
    inexact: int

    @property
    def unsaid(self) -> int:
        """Pots that seem to stand and are gone."""
        return self.unsaid_named + self.unsaid_not_named + self.unsaid_ended

    @property
    def here(self) -> int:
        """Plants that must be here."""
        return self.standing - self.unsaid + self.back_unsaid


BY_COUNT = "left by count"
"""The kind of a line that is pots of a lot of which nobody said which."""

LEFT = frozenset({"sold", "given", "swapped"})
ENDED = frozenset({"died", "culled", "destroyed", "surrendered"})


def sums(lines: Iterable[Line], unsaid_ended: int = 0) -> Sums:
    """The sums of a recall's lines."""
    found: Counter[str] = Counter(unsaid_ended=unsaid_ended)
    for line in lines:
        if line.why is Why.SOURCE:
            continue  # to be looked at, not exposed through what the recall is about
        n = line.n or 0
        if line.kind == "plant" and line.back_as is not None:
            found["back"] += n
        elif line.kind == "plant" and line.of_share:
            found["back_unsaid"] += n if line.status not in LEFT | ENDED else 0
        elif line.kind == "plant":
            found["plants"] += n
            if line.status in LEFT:
                found["named" if line.to else "not_named"] += n
            else:
                found["ended" if line.status in ENDED else "standing"] += n
        elif line.kind == "lot":
            found["cuttings"] += n
            found["inexact"] += line.n is None
        else:
            found["unsaid_named" if line.to else "unsaid_not_named"] += n
    return Sums(**{name: found[name] for name in Sums.__dataclass_fields__})


def progress(lines: Iterable[Line]) -> dict[str, int]:
    """How many lines that need work were found how; `open` are those that nobody settled."""
    found: Counter[str] = Counter()
    for line in lines:
        if line.to_do:
            found[line.ticks[-1].what.value if line.ticks else "open"] += 1
    return dict(found)


def unaccounted(lines: Iterable[Line]) -> tuple[Line, ...]:
    """The lines that nobody has settled, and those that went to somebody not named."""
    return tuple(line for line in lines if line.open or (line.to == "" and not line.settled))


def still_away(line: Line) -> bool:
    """Whether somebody else has it, as far as is known: not what came back or was destroyed."""
    over = line.ticks and line.ticks[-1].what in (Found.RETURNED, Found.DESTROYED)
    return line.to is not None and line.to_do and not over
