"""The layered layout: nothing overlaps, lines run to the right, crossings stay low."""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from registry.papers.layout import Layout, lay_out

GAP = 5.0


def crossings(layout: Layout) -> int:
    """How many pairs of lines cross between two columns."""
    pieces: dict[int, list[tuple[float, float]]] = {}
    for (parent, child), bends in layout.ways.items():
        points = [
            (layout.layer[parent], layout.middle[parent]),
            *bends,
            (layout.layer[child], layout.middle[child]),
        ]
        for (column, start), (_, end) in pairwise(points):
            pieces.setdefault(column, []).append((start, end))
    return sum(_inversions(sorted(column)) for column in pieces.values())


def _inversions(pairs: list[tuple[float, float]]) -> int:
    return sum(
        1
        for index, (start, end) in enumerate(pairs)
        for other_start, other_end in pairs[index + 1 :]
        if start < other_start and end > other_end
    )


@st.composite
def graphs(draw):
    size = draw(st.integers(1, 14))
    pair = st.tuples(st.integers(1, size), st.integers(1, size)).filter(lambda p: p[0] != p[1])
    heights = {n: draw(st.floats(5, 30)) for n in range(1, size + 1)}
    return heights, draw(st.lists(pair, max_size=25, unique=True))


@given(graphs())
def test_boxes_of_a_column_never_overlap(graph):
    heights, lines = graph
    found = lay_out(heights, lines, GAP)
    for column in set(found.layer.values()):
        boxes = sorted(
            (found.middle[n] - heights[n] / 2, found.middle[n] + heights[n] / 2)
            for n in heights
            if found.layer[n] == column
        )
        for (_, end), (start, _) in pairwise(boxes):
            assert start - end >= GAP - 1e-6
        assert boxes[0][0] >= -1e-6


@given(graphs())
def test_a_line_runs_to_the_right_unless_it_closes_a_circle(graph):
    heights, lines = graph
    found = lay_out(heights, lines, GAP)
    inside = nx.DiGraph(lines)
    inside.add_nodes_from(heights)
    knot = {n: k for k, nodes in enumerate(nx.strongly_connected_components(inside)) for n in nodes}
    for parent, child in lines:
        if knot[parent] != knot[child]:
            assert found.layer[parent] < found.layer[child]


@given(st.integers(1, 40), st.randoms(use_true_random=False))
def test_a_tree_has_no_crossings(size, dice):
    """A tree can always be drawn without any (from memory: every layered tree is planar)."""
    lines = [(dice.randint(1, n - 1), n) for n in range(2, size + 1)]
    found = lay_out(dict.fromkeys(range(1, size + 1), 10.0), lines, GAP)
    assert crossings(found) == 0


def test_two_lines_that_need_not_cross_do_not():
    lines = [(1, 4), (2, 3)]
    found = lay_out(dict.fromkeys((1, 2, 3, 4), 10.0), lines, GAP)
    assert crossings(found) == 0


def test_a_complete_pair_of_columns_crosses_as_often_as_it_must():
    """Of the complete bipartite graph K(3,3) every order has nine crossings of two columns."""
    lines = [(a, b) for a in (1, 2, 3) for b in (4, 5, 6)]
    assert crossings(lay_out(dict.fromkeys(range(1, 7), 10.0), lines, GAP)) == 9


def test_nothing_has_a_layout_too():
    assert lay_out({}, [], GAP).depth == 0
