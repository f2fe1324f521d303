"""A chart too large for one page, cut into pages that each can be read alone.

A page has a box to begin with and what hangs on it, branch by branch, as far as it has room; where
a branch goes on, its box stands again at the beginning of a later page.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence

Fits = Callable[[Sequence[int]], bool]
"""Whether some boxes, with the lines between them, go on one page."""


def cut(
    boxes: Iterable[int], lines: Iterable[tuple[int, int]], starts: Iterable[int], fits: Fits
) -> list[list[int]]:
    """The boxes of each page; one stands on several where its branches go on.

    Args:
        boxes: All of the chart.
        lines: From which box to which.
        starts: What the chart is about: what the first pages begin with.
        fits: What goes on a page. A page has a box and one more all the same.
    """
    near: dict[int, list[int]] = {box: [] for box in boxes}
    for parent, child in lines:
        near[parent].append(child)
        near[child].append(parent)
    return _Cutter(near, fits).pages(dict.fromkeys([*starts, *near]))


class _Cutter:
    def __init__(self, near: Mapping[int, list[int]], fits: Fits) -> None:
        self.near, self.fits = near, fits
        self.placed: set[int] = set()

    def pages(self, heads: Iterable[int]) -> list[list[int]]:
        """The boxes of each page, beginning with some."""
        waiting = deque(heads)
        onward: deque[int] = deque()  # before anything new is begun
        found: list[list[int]] = []
        here: list[int] = []
        while onward or waiting:
            head = (onward or waiting).popleft()
            unit, _ = self._next(head)
            if head in self.placed and not unit:
                continue
            if here and (head in here or not self.fits([*here, head, *unit])):
                found.append(here)
                here = []
            here.append(head)
            self.placed.add(head)
            onward.extend(self._grow(head, here))
        return [*found, here] if here else found

    def _fresh(self, box: int) -> list[int]:
        return [one for one in dict.fromkeys(self.near[box]) if one not in self.placed]

    def _leaves(self, box: int, before: int | None = None) -> list[int]:
        """What hangs on a box and on nothing else that is still to be placed."""
        return [
            one
            for one in self._fresh(box)
            if one != before and not set(self._fresh(one)) - {box, before}
        ]

    def _next(self, box: int) -> tuple[list[int], int | None]:
        """What is added to a box at once, and the box among it that a branch goes on from.

        All that ends there comes together; a branch comes with what ends at its first box.
        """
        if leaves := self._leaves(box):
            return leaves, None
        if fresh := self._fresh(box):
            return [fresh[0], *self._leaves(fresh[0], box)], fresh[0]
        return [], None

    def _grow(self, head: int, here: list[int]) -> list[int]:
        """Add to a page what hangs on a box; gives the boxes that must go on elsewhere."""
        later: list[int] = []
        stack = [head]
        alone = len(here) == 1
        while stack:
            box = stack[-1]
            unit, onward = self._next(box)
            if not unit:
                stack.pop()
                continue
            if not self.fits([*here, *unit]):
                if not alone:
                    later.append(stack.pop())
                    continue
                unit = self._some(here, unit)
            alone = False
            here += unit
            self.placed.update(unit)
            if onward is not None:
                stack.append(onward)
        return later

    def _some(self, here: Sequence[int], unit: Sequence[int]) -> list[int]:
        """As many of some boxes as go on a page with nothing else, and one at least."""
        n = len(unit)
        while n > 1 and not self.fits([*here, *unit[:n]]):
            n -= 1
        return list(unit[:n])
