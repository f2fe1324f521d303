"""Circles in a lineage, compared with networkx on random graphs."""

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from registry.domain.lineage import find_circle

NODES = st.integers(0, 12)
PAIRS = st.lists(st.tuples(NODES, NODES), max_size=30)


@given(PAIRS)
def test_a_circle_is_found_if_there_is_one(pairs):
    circle = find_circle(pairs)
    assert (circle is None) is nx.is_directed_acyclic_graph(nx.DiGraph(pairs))
    if circle is not None:
        assert len(set(circle)) == len(circle) > 0
        closed = zip(circle, circle[1:] + circle[:1], strict=True)
        assert set(closed) <= set(pairs)


def test_a_node_that_is_its_own_parent_is_a_circle():
    assert find_circle([(1, 2), (2, 2)]) == (2,)


def test_a_deep_line_does_not_exhaust_the_stack():
    line = [(n, n + 1) for n in range(20_000)]
    assert find_circle(line) is None
    assert set(find_circle([*line, (20_000, 0)]) or ()) == set(range(20_001))
