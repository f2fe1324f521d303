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
    AMONG = "among"  # pots left by count, and it may be among them


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
        """Whether the ticks answer what became of all of it.

        A tick without a number is of the whole line. Numbers add up, and what can be the same
        plants counts once: those found sick and later destroyed, those told of and then looked at.
        """
        if not self.ticks or self.ticks[-1].what not in ANSWERED:
            return False
        since = 0
        for number, tick in enumerate(self.ticks):
            if tick.what not in ANSWERED:
                since = number + 1
        if any(self._of_all(tick) for tick in self.ticks[since:]):
            return True
        n = self._counted
        looked = n[Found.SOUND] + max(n[Found.SICK], n[Found.DESTROYED])
        return max(n[Found.REACHED], n[Found.RETURNED], looked) >= (self.n or 0)

    def _of_all(self, tick: Tick) -> bool:
        return tick.n is None or self.n is None or tick.n >= self.n

    @property
    def _counted(self) -> Counter[Found]:
        found: Counter[Found] = Counter()
        for tick in self.ticks:
            found[tick.what] += tick.n or 0
        return found

    @property
    def newest(self) -> tuple[Tick, ...]:
        """The newest tick; where it is of some of the line, all those that are."""
        if not self.ticks or self._of_all(self.ticks[-1]):
            return self.ticks[-1:]
        return tuple(tick for tick in self.ticks if not self._of_all(tick))

    @property
    def before(self) -> Tick | None:
        """The newest tick of sickness, where what was ticked last is that it is sound."""
        if not self.ticks or self.ticks[-1].what is not Found.SOUND:
            return None
        shown = self.newest  # parts of a line stand side by side
        sick = [
            tick
            for tick in self.ticks
            if tick.what in (Found.SICK, Found.DESTROYED) and tick not in shown
        ]
        return sick[-1] if sick else None

    @property
    def over(self) -> bool:
        """Whether all of it came back or was destroyed, by the newest tick."""
        ended = (Found.RETURNED, Found.DESTROYED)
        if not self.ticks or self.ticks[-1].what not in ended:
            return False
        most = max(self._counted[what] for what in ended)
        return self._of_all(self.ticks[-1]) or most >= (self.n or 0)

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
class Pool:
    """Pots of a lot or batch, of which some are gone and nobody said which.

    Attributes:
        code: Of the lot; of the batch, where nobody said of which lot they went.
        whole: Whether it is a batch.
        exposed: How many plants each exposed pot has that stands by its code.
        others: How many other pots stand by their codes.
        gone: How many pots left or died by count.
        ended: How many of those died.
    """

    code: str
    whole: bool
    exposed: tuple[int, ...]
    others: int
    gone: int
    ended: int

    @property
    def least(self) -> int:
        """So many exposed plants at least stand by their codes and are gone."""
        pots = max(0, min(self.gone - self.others, len(self.exposed)))
        return sum(sorted(self.exposed)[:pots])

    @property
    def most(self) -> int:
        """So many at most."""
        pots = min(self.gone, len(self.exposed))
        return sum(sorted(self.exposed, reverse=True)[:pots])


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
    pools: tuple[Pool, ...] = ()

    @property
    def sums(self) -> Sums:
        """Where the exposed plants are."""
        return sums(self.lines, self.pools, back=self.back)


@dataclass(frozen=True, slots=True)
class Sums:
    """Where the exposed plants are: the parts of `plants` add up to it.

    Attributes:
        plants: All exposed plants, those that share a pot counted each, each counted once.
        standing: By the record, here; some left or died by count, `paper` to `paper_most` of them.
        ended: Died, culled, destroyed, surrendered to an authority.
        named: Left to somebody who is named.
        not_named: Left, and nobody said to whom.
        unsaid_named, unsaid_not_named: Pots that left by count, to whom.
        unsaid_ended: Pots that died by count.
        paper, paper_most: So many plants stand by their codes alone: at least, at most. The two
            differ where not all pots of a lot are exposed, or not all have the same number.
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
    paper: int
    paper_most: int
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
        """Plants that must be here, at least."""
        return self.standing - self.paper_most + self.back_unsaid

    @property
    def here_most(self) -> int:
        """Plants that can be here, at most."""
        return self.standing - self.paper + self.back_unsaid


BY_COUNT = "left by count"
"""The kind of a line that is pots of a lot of which nobody said which."""

LEFT = frozenset({"sold", "given", "swapped"})
ENDED = frozenset({"died", "culled", "destroyed", "surrendered"})


def sums(lines: Iterable[Line], pools: Iterable[Pool] = (), *, back: bool = False) -> Sums:
    """The sums of a recall's lines, and of the pots that are gone by count.

    Where the recall does not go `back`, what it came from is to be looked at and does not count.
    """
    found: Counter[str] = Counter()
    for pool in pools:
        found["unsaid_ended"] += pool.ended
        found["paper"] += pool.least
        found["paper_most"] += pool.most
    for line in lines:
        if line.why is Why.SOURCE and not back:
            continue
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
            told = line.settled or (line.ticks and line.ticks[-1].what not in ANSWERED)
            found[line.ticks[-1].what.value if told else "open"] += 1
    return dict(found)


def unaccounted(lines: Iterable[Line]) -> tuple[Line, ...]:
    """The lines that nobody has settled, and those that went to somebody not named."""
    return tuple(line for line in lines if line.open or (line.to == "" and not line.settled))


def still_away(line: Line) -> bool:
    """Whether somebody else has it, as far as is known: not what came back or was destroyed."""
    return line.to is not None and line.to_do and not line.over
