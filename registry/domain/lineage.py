"""Circles in a lineage: there must be none, and one that is there is shown."""

from __future__ import annotations

from collections.abc import Iterable
from graphlib import CycleError, TopologicalSorter


def find_circle(steps: Iterable[tuple[int, int]]) -> tuple[int, ...] | None:
    """One circle, each node a parent of the next and the last of the first; None if there is none.

    A deep line does not exhaust the stack.

    Args:
        steps: (parent, child) of each edge, as ids of plants and lots.

    >>> find_circle([(1, 2), (2, 3)])
    >>> sorted(find_circle([(1, 2), (2, 1)]))
    [1, 2]
    """
    sorter: TopologicalSorter[int] = TopologicalSorter()
    for parent, child in steps:
        sorter.add(child, parent)
    try:
        sorter.prepare()
    except CycleError as error:
        return tuple(error.args[1][1:])  # its first node stands at both ends
    return None
