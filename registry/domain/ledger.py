"""A lot's ledger: what went in, what went out, what is left; and the rates that come of it.

    stuck + moved in ± recounted =
        potted + lost + culled + left as cuttings + moved out + still in the bench

What is left is never negative. A lot whose opening count is not exact has an open ledger: what is
left is not a number, but never above what the opening count can be at most.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from math import exp, lgamma, sqrt
from statistics import NormalDist

from registry.domain.counts import Count, CountKind
from registry.errors import CountNotExact, LookBeyondCount, Overdrawn


class EntryKind(StrEnum):
    """What moved a lot's count."""

    STUCK = "stuck"
    MOVED_IN = "moved_in"
    RECOUNTED = "recounted"
    POTTED = "potted"
    LOST = "lost"
    CULLED = "culled"
    LEFT_AS_CUTTINGS = "left_as_cuttings"
    MOVED_OUT = "moved_out"


INWARD = frozenset({EntryKind.STUCK, EntryKind.MOVED_IN})
EITHER_WAY = frozenset({EntryKind.RECOUNTED})


@dataclass(frozen=True, slots=True)
class Entry:
    """One movement: `n` is above nought into the lot, below nought out of it.

    Raises:
        ValueError: if `n` is nought, or runs against its kind.
    """

    kind: EntryKind
    n: int

    def __post_init__(self) -> None:
        inward = self.n > 0
        if self.n == 0 or (self.kind not in EITHER_WAY and inward is not (self.kind in INWARD)):
            raise ValueError(f"{self.kind.value} cannot move {self.n}")


@dataclass(frozen=True, slots=True)
class Ledger:
    """The ledger of a lot; every change gives a new one.

    Attributes:
        lot: The lot's code, for what is said when a change is refused.
        opening: What was stuck. Nought for a lot that begins with movements.
        entries: What happened since, in order.
        counted: For an open ledger that was counted later: how many entries stood before that
            count, and the number found.
    """

    lot: str
    opening: Count
    entries: tuple[Entry, ...] = ()
    counted: tuple[int, int] | None = None

    @classmethod
    def replay(cls, lot: str, opening: Count, entries: Iterable[Entry]) -> Ledger:
        """The ledger after all `entries`.

        Raises:
            Overdrawn: at the first entry that takes more than was left.
        """
        ledger = cls(lot, opening)
        for entry in entries:
            ledger = ledger.add(entry)
        return ledger

    @property
    def is_open(self) -> bool:
        """True if what is left is not a number."""
        return self.opening.kind is not CountKind.EXACT and self.counted is None

    @property
    def left(self) -> int | None:
        """What is in the bench; None for an open ledger."""
        return None if self.is_open else self.at_most

    @property
    def at_most(self) -> int | None:
        """What can be in the bench at most; None where nothing bounds it.

        >>> Ledger("26-0014A-8", Count(12, 13, "12-13", CountKind.RANGE)).at_most
        13
        """
        since, start = self.counted or (0, self.opening.high)
        return None if start is None else start + sum(entry.n for entry in self.entries[since:])

    @property
    def tried(self) -> int | None:
        """The pieces that a rate is of: stuck, moved in and recounted, less what moved on.

        None for an open ledger, and for one that was counted only later.
        """
        if self.opening.exact is None:
            return None
        counted = {EntryKind.STUCK, EntryKind.MOVED_IN, EntryKind.RECOUNTED, EntryKind.MOVED_OUT}
        return self.opening.exact + sum(e.n for e in self.entries if e.kind in counted)

    def total(self, kind: EntryKind) -> int:
        """What moved by entries of one kind, without its sign; recounts keep theirs."""
        moved = sum(entry.n for entry in self.entries if entry.kind is kind)
        return moved if kind in EITHER_WAY else abs(moved)

    def may_take(self, n: int) -> bool:
        """True if `n` can leave the bench."""
        return self.at_most is None or n <= self.at_most

    def add(self, entry: Entry) -> Ledger:
        """The ledger with one more entry.

        Raises:
            Overdrawn: if it takes more than is left.
        """
        if not self.may_take(-entry.n):
            raise Overdrawn(self.lot, -entry.n, self.at_most or 0)
        return replace(self, entries=(*self.entries, entry))

    def take(self, kind: EntryKind, n: int) -> Ledger:
        """The ledger after `n` pieces went out; unchanged if none did.

        Raises:
            Overdrawn: if more are asked than are left.
        """
        return self.add(Entry(kind, -n)) if n else self

    def put(self, kind: EntryKind, n: int) -> Ledger:
        """The ledger after `n` pieces came in; unchanged if none did."""
        return self.add(Entry(kind, n)) if n else self

    def recount(self, found: int) -> Ledger:
        """The ledger after all were counted anew; an open one is a number from here on.

        Raises:
            Overdrawn: if more are found than an open lot can hold.
            ValueError: if `found` is negative.
        """
        if found < 0:
            raise ValueError(f"a count is never negative: {found}")
        if self.left is not None:
            change = found - self.left
            return self.add(Entry(EntryKind.RECOUNTED, change)) if change else self
        if not self.may_take(found):
            raise Overdrawn(self.lot, found, self.at_most or 0)
        return replace(self, counted=(len(self.entries), found))


# --- a look --------------------------------------------------------------------------------------


class Outcome(StrEnum):
    """What a look finds: what stands is observed, what went is moved."""

    ROOTED = "rooted"
    CALLUSED = "callused"
    ALIVE = "alive"
    UNSURE = "unsure"
    DIED = "died"
    CULLED = "culled"

    @property
    def went_as(self) -> EntryKind | None:
        """The ledger entry that it makes; None for what still stands."""
        return {Outcome.DIED: EntryKind.LOST, Outcome.CULLED: EntryKind.CULLED}.get(self)


def look(ledger: Ledger, seen: Mapping[Outcome, Count]) -> Ledger:
    """The ledger after a look: what went is taken out, then what stands must fit what is left.

    Raises:
        CountNotExact: if what went is not a number.
        Overdrawn: if more went than were there.
        LookBeyondCount: if more surely stands than can be left.
    """
    for outcome, count in seen.items():
        kind = outcome.went_as
        if kind is None:
            continue
        if count.exact is None:
            raise CountNotExact(outcome.value, count.text)
        ledger = ledger.take(kind, count.exact)
    stands = sum(count.surely for outcome, count in seen.items() if outcome.went_as is None)
    if not ledger.may_take(stands):
        raise LookBeyondCount(ledger.lot, stands, ledger.at_most or 0)
    return ledger


# --- rates ---------------------------------------------------------------------------------------

_Z = NormalDist().inv_cdf(0.975)  # 95 %, two-sided
_SAME = 1e-7  # tables as likely as the one seen, for rounding
CHANCE = 0.05


@dataclass(frozen=True, slots=True)
class Rate:
    """`rooted` of `of`, with Wilson's 95 % interval as shares from 0 to 1."""

    rooted: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share, 0 to 1."""
        return self.rooted / self.of


def rate(rooted: int, of: int) -> Rate | None:
    """The rate with Wilson's 95 % interval; None if there is nothing to be a rate of.

    >>> rate(19, 20).low > 0.76
    True

    Raises:
        ValueError: if more rooted than were tried, or a number is negative.
    """
    if not 0 <= rooted <= of:
        raise ValueError(f"{rooted} of {of} is no rate")
    if of == 0:
        return None
    share, squared = rooted / of, _Z * _Z
    middle = (share + squared / (2 * of)) / (1 + squared / of)
    half = _Z * sqrt(share * (1 - share) / of + squared / (4 * of * of)) / (1 + squared / of)
    # At the ends the interval touches them exactly, which rounding may miss by a hair.
    low = 0.0 if rooted == 0 else middle - half
    high = 1.0 if rooted == of else middle + half
    return Rate(rooted, of, low, high)


def fisher(one: Rate, other: Rate) -> float:
    """Fisher's exact test, two-sided: how often chance alone parts two lots at least so far.

    Sums the tables that are no likelier than the one seen.
    """
    rooted, tried = one.rooted + other.rooted, one.of + other.of

    def log_likelihood(k: int) -> float:
        return (
            _log_choose(one.of, k) + _log_choose(other.of, rooted - k) - _log_choose(tried, rooted)
        )

    seen = log_likelihood(one.rooted)
    possible = range(max(0, rooted - other.of), min(rooted, one.of) + 1)
    likelihoods = (log_likelihood(k) for k in possible)
    return min(1.0, sum(exp(each) for each in likelihoods if each <= seen + _SAME))


def _log_choose(n: int, k: int) -> float:
    return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1)
