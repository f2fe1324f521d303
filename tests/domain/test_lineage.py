"""Lineage on fetched edges, compared with networkx on random graphs."""

from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.domain.lineage import (
    Edge,
    ancestors,
    closed_circle,
    descendants,
    find_circle,
    generations_down,
    generations_up,
    in_order,
)
from registry.domain.methods import Role

NODES = st.integers(0, 12)
PAIRS = st.lists(st.tuples(NODES, NODES).filter(lambda pair: pair[0] != pair[1]), max_size=30)


def edges_of(pairs: list[tuple[int, int]]) -> list[Edge]:
    return [Edge(parent, child, Role.SOURCE) for parent, child in pairs]


def downward(pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The same pairs without circles: parents always have the lower number."""
    return [(min(pair), max(pair)) for pair in pairs]


@given(PAIRS, NODES)
def test_ancestors_and_descendants_agree_with_networkx(pairs, node):
    """Even with a circle, which a broken registry may hold."""
    graph = nx.DiGraph(pairs)
    graph.add_node(node)
    assert ancestors(edges_of(pairs), [node]) == nx.ancestors(graph, node)
    assert descendants(edges_of(pairs), [node]) == nx.descendants(graph, node)


@given(PAIRS, st.sets(NODES))
def test_a_set_of_nodes_is_asked_at_once(pairs, nodes):
    graph = nx.DiGraph(pairs)
    graph.add_nodes_from(nodes)
    union = set().union(*(nx.ancestors(graph, node) for node in nodes))
    assert ancestors(edges_of(pairs), nodes) == union - nodes


@given(PAIRS, NODES)
def test_generations_agree_with_networkx(pairs, node):
    graph = nx.DiGraph(pairs)
    graph.add_node(node)
    down = nx.single_source_shortest_path_length(graph, node)
    up = nx.single_source_shortest_path_length(graph.reverse(), node)
    assert generations_down(edges_of(pairs), node) == down
    assert generations_up(edges_of(pairs), node) == up


@given(PAIRS)
def test_a_circle_is_found_if_there_is_one(pairs):
    circle = find_circle(edges_of(pairs))
    assert (circle is None) is nx.is_directed_acyclic_graph(nx.DiGraph(pairs))
    if circle is not None:
        assert len(set(circle)) == len(circle) > 1
        closed = zip(circle, circle[1:] + circle[:1], strict=True)
        assert set(closed) <= set(pairs)


@given(PAIRS)
def test_order_puts_parents_first(pairs):
    graph = nx.DiGraph(downward(pairs))
    assert list(in_order(edges_of(downward(pairs)))) == list(
        nx.lexicographical_topological_sort(graph)
    )


def test_a_circle_has_no_order():
    with pytest.raises(ValueError, match="circle"):
        in_order(edges_of([(1, 2), (2, 3), (3, 2)]))


@given(PAIRS, NODES, NODES)
def test_a_closing_edge_is_known_before_it_is_added(pairs, parent, child):
    lineage = downward(pairs)
    circle = closed_circle(edges_of(lineage), Edge(parent, child, Role.SOURCE))
    closes = parent == child or not nx.is_directed_acyclic_graph(
        nx.DiGraph([*lineage, (parent, child)])
    )
    assert (circle is not None) is closes
    if circle is not None:
        assert (circle[0], circle[-1]) == (child, parent)
        assert set(pairwise(circle)) <= set(lineage)


def test_a_node_is_not_its_own_ancestor():
    line = edges_of([(1, 2), (2, 3)])
    assert ancestors(line, [3, 2]) == {1}
    assert descendants(line, [9]) == frozenset()


def test_a_deep_line_does_not_exhaust_the_stack():
    line = edges_of([(n, n + 1) for n in range(20_000)])
    assert len(descendants(line, [0])) == 20_000
    assert find_circle(line) is None
    assert generations_up(line, 20_000)[0] == 20_000
    assert in_order(line)[-1] == 20_000


def test_one_of_several_is_not_certain():
    assert Edge(1, 2, Role.SOURCE).certain
    assert not Edge(1, 2, Role.SOURCE, choice=1).certain
