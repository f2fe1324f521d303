"""Where the boxes of a chart stand: generations side by side, crossings kept low.

A layered layout after Sugiyama, Tagawa and Toda (1981): layers by the longest way from a box
without parents, long lines led through places of their own, order within a layer by the barycentre
of the neighbours, swept to and fro. networkx gives the layers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

SWEEPS = 8
"""How often the order is swept to and fro; the best order seen is kept."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Places of boxes.

    Attributes:
        layer: The column of each box, from 0.
        middle: How far down the middle of each box is, in the unit of the heights.
        ways: For each line the points that it bends at between its ends, as (layer, middle).
        depth: The lower edge of the lowest box.
    """

    layer: Mapping[int, int]
    middle: Mapping[int, float]
    ways: Mapping[tuple[int, int], tuple[tuple[int, float], ...]]
    depth: float


Spot = tuple[int, ...]
"""A box as (id,), or a place on a long line as (parent, child, layer)."""


def lay_out(
    heights: Mapping[int, float],
    lines: Sequence[tuple[int, int]],
    gap: float,
) -> Layout:
    """Places for boxes of some heights with lines from left to right.

    Lines that close a circle are left out of the ordering and drawn straight.

    Args:
        heights: The height of each box, by its id.
        lines: From which box to which.
        gap: The least distance between two boxes.
    """
    graph = _without_circles(heights, lines)
    layer = _layers(graph)
    columns, neighbours = _with_bends(graph, layer)
    order = _ordered(columns, neighbours)
    middles = _placed(order, neighbours, heights, gap)
    top = min((middles[spot] - _height(spot, heights) / 2 for spot in middles), default=0.0)
    middle = {spot[0]: at - top for spot, at in middles.items() if len(spot) == 1}
    ways = {}
    for parent, child in graph.edges:
        between = range(layer[parent] + 1, layer[child])
        ways[parent, child] = tuple((n, middles[parent, child, n] - top) for n in between)
    depth = max((middle[box] + heights[box] / 2 for box in heights), default=0.0)
    return Layout(layer, middle, ways, depth)


def _without_circles(
    heights: Mapping[int, float], lines: Sequence[tuple[int, int]]
) -> nx.DiGraph[int]:
    graph: nx.DiGraph[int] = nx.DiGraph()
    graph.add_nodes_from(sorted(heights))
    graph.add_edges_from(sorted(set(lines)))
    for knot in [k for k in nx.strongly_connected_components(graph) if len(k) > 1]:
        inside = graph.subgraph(knot)
        first = min(knot)
        seen = dict(nx.bfs_successors(inside, first))
        kept = {(a, b) for a, children in seen.items() for b in children}
        graph.remove_edges_from([edge for edge in inside.edges if edge not in kept])
    return graph


def _layers(graph: nx.DiGraph[int]) -> dict[int, int]:
    """Columns by the longest way; founders then move up to just before their first child."""
    layer = {
        node: number
        for number, generation in enumerate(nx.topological_generations(graph))
        for node in generation
    }
    for node in reversed(list(nx.topological_sort(graph))):
        children = [layer[child] for child in graph.successors(node)]
        if children and not list(graph.predecessors(node)):
            layer[node] = min(children) - 1
    return layer


def _with_bends(
    graph: nx.DiGraph[int], layer: Mapping[int, int]
) -> tuple[list[list[Spot]], dict[Spot, tuple[list[Spot], list[Spot]]]]:
    """Every column with its boxes and the places of long lines; before and after of each."""
    columns: list[list[Spot]] = [[] for _ in range(max(layer.values(), default=-1) + 1)]
    around: dict[Spot, tuple[list[Spot], list[Spot]]] = {}
    # Depth first, so that what hangs together starts out together.
    for node in nx.dfs_preorder_nodes(graph):
        if (node,) not in around:
            columns[layer[node]].append((node,))
            around[(node,)] = ([], [])
    for parent, child in graph.edges:
        before: Spot = (parent,)
        for number in range(layer[parent] + 1, layer[child]):
            bend: Spot = (parent, child, number)
            columns[number].append(bend)
            around[bend] = ([], [])
            around[before][1].append(bend)
            around[bend][0].append(before)
            before = bend
        around[before][1].append((child,))
        around[child,][0].append(before)
    return columns, around


def _ordered(
    columns: list[list[Spot]], around: Mapping[Spot, tuple[list[Spot], list[Spot]]]
) -> list[list[Spot]]:
    place = {spot: float(n) for column in columns for n, spot in enumerate(column)}
    best, fewest = [list(column) for column in columns], _count(columns, around)
    for sweep in range(SWEEPS):
        if not fewest:
            break
        side = sweep % 2
        for column in columns if side == 0 else reversed(columns):
            keys = {}
            for spot in column:
                near = around[spot][side]
                keys[spot] = sum(place[one] for one in near) / len(near) if near else place[spot]
            column.sort(key=lambda spot: keys[spot])
            for n, spot in enumerate(column):
                place[spot] = float(n)
        now = _count(columns, around)
        if now < fewest:
            best, fewest = [list(column) for column in columns], now
    return best


def _count(columns: list[list[Spot]], around: Mapping[Spot, tuple[list[Spot], list[Spot]]]) -> int:
    """Crossings of an order, column by column, with a Fenwick tree."""
    total = 0
    for column, following in pairwise(columns):
        at = {spot: n for n, spot in enumerate(following)}
        ends = [n for spot in column for n in sorted(at[one] for one in around[spot][1])]
        total += _inverted(ends, len(following))
    return total


def _inverted(ends: list[int], size: int) -> int:
    tree = [0] * (size + 1)
    found = 0
    for seen, end in enumerate(ends):
        at, not_after = end + 1, 0
        while at:
            not_after += tree[at]
            at &= at - 1
        found += seen - not_after
        at = end + 1
        while at <= size:
            tree[at] += 1
            at += at & -at
    return found


def _height(spot: Spot, heights: Mapping[int, float]) -> float:
    return heights[spot[0]] if len(spot) == 1 else 0.0


def _placed(
    order: list[list[Spot]],
    around: Mapping[Spot, tuple[list[Spot], list[Spot]]],
    heights: Mapping[int, float],
    gap: float,
) -> dict[Spot, float]:
    """How far down each spot is: near the middle of its neighbours, never closer than the gap."""
    middle: dict[Spot, float] = {}
    for column in order:
        down = 0.0
        for spot in column:
            height = _height(spot, heights)
            middle[spot] = down + height / 2
            down += height + gap
    for round_ in range(SWEEPS):
        side = round_ % 2
        for column in order if side == 0 else reversed(order):
            wishes = []
            for spot in column:
                near = around[spot][side] or around[spot][1 - side]
                wish = sum(middle[one] for one in near) / len(near) if near else middle[spot]
                wishes.append(wish)
            _settle(column, wishes, middle, heights, gap)
    return middle


def _settle(
    column: list[Spot],
    wishes: list[float],
    middle: dict[Spot, float],
    heights: Mapping[int, float],
    gap: float,
) -> None:
    """Put a column's spots as near to their wishes as the gaps allow (least squares, in blocks).

    The pool adjacent violators algorithm: spots that would overlap become a block that stands at
    the mean of what its spots wish.
    """
    blocks: list[list[float]] = []  # where the first stands, how many, index of the first
    offsets = [0.0]
    for before, spot in pairwise(column):
        apart = (_height(before, heights) + _height(spot, heights)) / 2 + gap
        offsets.append(offsets[-1] + apart)
    for index, wish in enumerate(wishes):
        blocks.append([wish - offsets[index], 1, index])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            at, n, _ = blocks.pop()
            before_at, before_n, first = blocks.pop()
            total = before_n + n
            blocks.append([(before_at * before_n + at * n) / total, total, first])
    for at, n, first in blocks:
        for index in range(int(first), int(first + n)):
            middle[column[index]] = at + offsets[index]
