"""Questions about a lineage that was fetched: who comes from whom, how far, in which order.

Nodes are plants and lots by their ids; edges run from parent to child. The functions work on the
edges they are given, one after another, so a deep line never exhausts the stack.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from registry.domain.methods import Role


@dataclass(frozen=True, slots=True)
class Edge:
    """Parent to child.

    Attributes:
        parent: The id of the plant or lot above.
        child: The id of the one below.
        role: What the parent is to the child.
        choice: None if certain; edges of one child with the same number are "one of these".
        clonal: True if the child is the same clone.
    """

    parent: int
    child: int
    role: Role
    choice: int | None = None
    clonal: bool = True

    @property
    def certain(self) -> bool:
        """True if no other parent could be meant."""
        return self.choice is None


def ancestors(edges: Iterable[Edge], of: Iterable[int]) -> frozenset[int]:
    """All that the nodes come from, candidates included, without the nodes themselves.

    >>> line = [Edge(1, 2, Role.SOURCE), Edge(2, 3, Role.RAISED)]
    >>> sorted(ancestors(line, [3])), sorted(ancestors(line, [1]))
    ([1, 2], [])
    """
    return _reached(_above(edges), of)


def descendants(edges: Iterable[Edge], of: Iterable[int]) -> frozenset[int]:
    """All that comes from the nodes, possibly too, without the nodes themselves."""
    return _reached(_below(edges), of)


def generations_up(edges: Iterable[Edge], of: int) -> dict[int, int]:
    """How many edges each ancestor is above the node, by the shortest way; the node itself is 0."""
    return _steps(_above(edges), of)


def generations_down(edges: Iterable[Edge], of: int) -> dict[int, int]:
    """How many edges each descendant is below the node, by the shortest way; itself is 0."""
    return _steps(_below(edges), of)


def in_order(edges: Iterable[Edge]) -> tuple[int, ...]:
    """All nodes, each after its parents; of those that may come next, the lowest id first.

    Raises:
        ValueError: if the edges hold a circle.
    """
    below = _below(edges)
    waiting: dict[int, int] = dict.fromkeys(below, 0)
    for children in below.values():
        for child in children:
            waiting[child] = waiting.get(child, 0) + 1
    ready = [node for node, parents in waiting.items() if parents == 0]
    heapq.heapify(ready)
    ordered: list[int] = []
    while ready:
        node = heapq.heappop(ready)
        ordered.append(node)
        for child in below.get(node, ()):
            waiting[child] -= 1
            if waiting[child] == 0:
                heapq.heappush(ready, child)
    if len(ordered) < len(waiting):
        raise ValueError("a circle has no order")
    return tuple(ordered)


def find_circle(edges: Iterable[Edge]) -> tuple[int, ...] | None:
    """One circle, each node a parent of the next and the last of the first; None if there is none.

    >>> find_circle([Edge(1, 2, Role.SOURCE), Edge(2, 1, Role.RAISED)])
    (1, 2)
    """
    below = _below(edges)
    done: set[int] = set()
    for start in sorted(below):
        path: dict[int, None] = {}  # in order, and quick to ask whether a node is on it
        branches = [iter((start,))]
        while branches:
            node = next(branches[-1], None)
            if node is None:
                branches.pop()
                if path:
                    done.add(path.popitem()[0])
            elif node in path:
                nodes = list(path)
                return tuple(nodes[nodes.index(node) :])
            elif node not in done:
                path[node] = None
                branches.append(iter(sorted(below.get(node, ()))))
    return None


def closed_circle(edges: Iterable[Edge], new: Edge) -> tuple[int, ...] | None:
    """The circle that one more edge would close, from its child round to its parent; else None.

    Args:
        edges: Lineage without a circle: at least all descendants of the new edge's child.
        new: The edge that is to be added.
    """
    came_from: dict[int, int | None] = {new.child: None}
    below = _below(edges)
    queue = deque([new.child])
    while queue:
        node = queue.popleft()
        if node == new.parent:
            return _way(came_from, node)
        for child in sorted(below.get(node, ())):
            if child not in came_from:
                came_from[child] = node
                queue.append(child)
    return None


def _way(came_from: Mapping[int, int | None], end: int) -> tuple[int, ...]:
    way = [end]
    while (before := came_from[way[-1]]) is not None:
        way.append(before)
    return tuple(reversed(way))


def _below(edges: Iterable[Edge]) -> dict[int, set[int]]:
    below: dict[int, set[int]] = {}
    for edge in edges:
        below.setdefault(edge.parent, set()).add(edge.child)
    return below


def _above(edges: Iterable[Edge]) -> dict[int, set[int]]:
    above: dict[int, set[int]] = {}
    for edge in edges:
        above.setdefault(edge.child, set()).add(edge.parent)
    return above


def _reached(neighbours: Mapping[int, set[int]], of: Iterable[int]) -> frozenset[int]:
    starts = frozenset(of)
    seen: set[int] = set(starts)
    stack = list(starts)
    while stack:
        for node in neighbours.get(stack.pop(), ()):
            if node not in seen:
                seen.add(node)
                stack.append(node)
    return frozenset(seen) - starts


def _steps(neighbours: Mapping[int, set[int]], of: int) -> dict[int, int]:
    steps = {of: 0}
    queue = deque([of])
    while queue:
        node = queue.popleft()
        for other in neighbours.get(node, ()):
            if other not in steps:
                steps[other] = steps[node] + 1
                queue.append(other)
    return steps
