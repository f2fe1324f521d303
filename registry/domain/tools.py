"""What a knife or a tray carried from one plant to another, from the record of its uses.

A tool carries forward: what was cut with it on the same day, and later until it was disinfected.
That tools are disinfected between plants is the advice of extension services; a record that says
nothing of it is no record that it was done, so such contacts count and say so. A tray joins what
stood in it together, and what was set in it afterwards, before it was washed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from registry.domain.recalls import Widened


@dataclass(frozen=True, slots=True)
class Touched:
    """A plant or lot that was cut with a tool or set in a tray.

    Attributes:
        node: The plant or lot.
        sure: False where it is one of several that may have been meant.
        left: The last day on which it can have stood in the tray; None is not recorded.
        stands: Whether the record says that it stands there until `left`, or still.
    """

    node: int
    sure: bool = True
    left: date | None = None
    stands: bool = False


@dataclass(frozen=True, slots=True)
class Use:
    """One act in which a tool or tray was used, or disinfected.

    Attributes:
        first, last: The possible days.
        order: Which was recorded first: two acts of one exact day happened in this order.
        touched: What it was used on; nothing where it was disinfected.
        cleaned: It was disinfected just before.
    """

    first: date | None
    last: date | None
    order: int
    touched: tuple[Touched, ...] = ()
    cleaned: bool = False

    @property
    def one_day(self) -> bool:
        """Whether its day is known exactly."""
        return self.first is not None and self.first == self.last


@dataclass(frozen=True, slots=True)
class Contact:
    """What a tool or tray brought into the circle.

    Attributes:
        node: The plant or lot.
        via: Through which; None where the tool itself is asked about.
        since: The day of the contact; None is not known.
        widened: The missing records without which it would not be in.
    """

    node: int
    via: int | None
    since: date | None
    widened: tuple[Widened, ...] = ()


def contacts(
    uses: Sequence[Use],
    cleanings: Iterable[Use],
    exposed: Mapping[int, date | None],
    *,
    tray: bool,
) -> list[Contact]:
    """What one tool or tray carried from some plants and lots to others.

    Args:
        uses: Every use of it.
        cleanings: Every time it was disinfected.
        exposed: Nodes that may carry something, and from which day; None from the beginning.
        tray: It is a tray.
    """
    cleaned = _Cleaned(uses, cleanings)
    sources = [
        (_from(use, since), touched)
        for use in uses
        for touched in use.touched
        if touched.node in exposed
        for since in (exposed[touched.node],)
        if _carries(use, touched, since, cleaned, tray)
    ]
    return _reached(uses, cleaned, sources, exposed, tray)


def used_on(
    uses: Sequence[Use],
    cleanings: Iterable[Use],
    first: date | None,
    last: date | None,
    *,
    tray: bool,
) -> list[Contact]:
    """What a tool was used on, or stood in a tray, on a day; and what it met until disinfected."""
    day = Use(first, last, -1, (Touched(0),))  # before whatever was recorded of that day
    cleaned = _Cleaned(uses, cleanings)
    found: dict[int, Contact] = {}
    sources: list[tuple[Use, Touched]] = [(day, day.touched[0])]
    for use in uses:
        for touched in use.touched:
            widened = _on(use, touched, day, cleaned, tray)
            if widened is None:
                continue
            doubt = () if touched.sure else (Widened.CUT,)
            keep(found, Contact(touched.node, None, first, (*widened, *doubt)))
            sources.append((_from(use, first), touched))
    for one in _reached(uses, cleaned, sources, found, tray):
        found[one.node] = Contact(one.node, None, one.since, one.widened)
    return list(found.values())


def keep(found: dict[int, Contact], one: Contact) -> None:
    """Keep a contact, unless the node has one that leans on fewer missing records."""
    before = found.get(one.node)
    if before is None or len(one.widened) < len(before.widened):
        found[one.node] = one


def _carries(use: Use, touched: Touched, since: date | None, cleaned: _Cleaned, tray: bool) -> bool:
    """Whether a use of something exposed since a day can have carried anything on."""
    if not _before(use.last, since):
        return True
    stood = tray and not _before(touched.left, since)
    return stood and not cleaned.between(use, Use(since, since, -1))


def _from(use: Use, since: date | None) -> Use:
    """A use as it counts from a day on."""
    if since is None or (use.first is not None and use.first >= since):
        return use
    last = use.last if use.last is None else max(use.last, since)
    return Use(since, last, use.order, use.touched, use.cleaned)


def _on(
    use: Use, touched: Touched, day: Use, cleaned: _Cleaned, tray: bool
) -> tuple[Widened, ...] | None:
    """What is missing for a use to count for a day; None where it does not count."""
    if not _before(use.last, day.first) and not _before(day.last, use.first):
        return () if use.one_day else (Widened.DAY,)
    stood = tray and _before(use.last, day.first) and not _before(touched.left, day.first)
    if not stood or cleaned.between(use, day):
        return None
    return () if touched.stands else (Widened.TRAY,)


def _reached(
    uses: Sequence[Use],
    cleaned: _Cleaned,
    sources: Sequence[tuple[Use, Touched]],
    known: Mapping[int, object],
    tray: bool,
) -> list[Contact]:
    found: dict[int, Contact] = {}
    for use in uses:
        fresh = [touched for touched in use.touched if touched.node not in known]
        for source, carrier in sources if fresh else ():
            for touched in fresh:
                widened = _way(source, carrier, use, touched, cleaned, tray)
                if widened is None:
                    continue
                doubt = () if touched.sure and carrier.sure else (Widened.CUT,)
                since = _later(source.first, use.first)
                keep(found, Contact(touched.node, carrier.node, since, (*widened, *doubt)))
    return list(found.values())


def _way(
    source: Use, carrier: Touched, use: Use, touched: Touched, cleaned: _Cleaned, tray: bool
) -> tuple[Widened, ...] | None:
    """What is missing for something to have come from one use to another; None if it cannot."""
    if source.order == use.order:
        return ()  # one act
    if _settled(source, use):
        if cleaned.between(source, use):
            return None
        if not _before(source.last, use.first):
            return ()
        together = tray and carrier.stands and not _before(carrier.left, use.first)
        return () if together else (Widened.CLEANED,)
    if _settled(use, source):
        if cleaned.between(use, source) or _before(touched.left, source.first):
            return None
        if not _before(use.last, source.first):
            return ()
        if not tray:
            return None  # a tool carries forward
        return () if touched.stands else (Widened.TRAY,)
    return (Widened.DAY,)


class _Cleaned:
    """When a tool was disinfected, asked for two uses."""

    def __init__(self, uses: Iterable[Use], cleanings: Iterable[Use]) -> None:
        # Twice the order leaves room for a cleaning just before a use.
        self._all = [Use(one.first, one.last, 2 * one.order) for one in cleanings]
        self._all += [Use(one.first, one.last, 2 * one.order - 1) for one in uses if one.cleaned]
        self._next: dict[Use, Use | None] = {}

    def between(self, one: Use, other: Use) -> bool:
        """Whether it was certainly disinfected after one use and before the other."""
        first = Use(one.first, one.last, 2 * one.order)
        if first not in self._next:
            after = [c for c in self._all if c.last is not None and _settled(first, c)]
            self._next[first] = min(after, key=lambda c: (c.last, c.order), default=None)
        cleaning = self._next[first]
        then = Use(other.first, other.last, 2 * other.order)
        return cleaning is not None and _settled(cleaning, then)


def _settled(one: Use, other: Use) -> bool:
    """Whether one certainly came before the other."""
    if _before(one.last, other.first):
        return True
    return one.one_day and other.one_day and one.first == other.first and one.order < other.order


def _before(one: date | None, other: date | None) -> bool:
    return one is not None and other is not None and one < other


def _later(one: date | None, other: date | None) -> date | None:
    return max(one, other) if one is not None and other is not None else None
