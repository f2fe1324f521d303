"""Pages of a large chart: nothing is lost, a page holds what fits, a branch goes on elsewhere."""

from __future__ import annotations

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from registry.papers.paging import cut


@st.composite
def charts(draw):
    size = draw(st.integers(1, 30))
    pair = st.tuples(st.integers(1, size), st.integers(1, size)).filter(lambda p: p[0] < p[1])
    lines = draw(st.lists(pair, max_size=40, unique=True))
    return list(range(1, size + 1)), lines, draw(st.integers(2, 9))


@given(charts())
def test_every_box_has_a_page_and_no_page_more_than_fits(chart):
    boxes, lines, room = chart
    pages = cut(boxes, lines, [1], lambda nodes: len(nodes) <= room)
    assert {box for page in pages for box in page} == set(boxes)
    for page in pages:
        assert len(page) == len(set(page)) <= room


@given(charts())
def test_a_page_has_something_that_no_page_before_had(chart):
    boxes, lines, room = chart
    seen: set[int] = set()
    for page in cut(boxes, lines, [1], lambda nodes: len(nodes) <= room):
        assert set(page) - seen
        seen |= set(page)


@given(st.integers(2, 40), st.integers(3, 9), st.randoms(use_true_random=False))
def test_every_line_of_a_tree_is_drawn_on_some_page(size, room, dice):
    lines = [(dice.randint(1, n - 1), n) for n in range(2, size + 1)]
    pages = cut(range(1, size + 1), lines, [1], lambda nodes: len(nodes) <= room)
    assert pages[0][0] == 1
    for parent, child in lines:
        assert any(parent in page and child in page for page in pages)


@given(charts())
def test_what_fits_one_page_is_on_one(chart):
    boxes, lines, _ = chart
    (page,) = cut(boxes, lines, [1], lambda nodes: True)
    assert sorted(page) == boxes


def test_nothing_fits_and_all_is_there_all_the_same():
    graph = nx.balanced_tree(3, 3, create_using=nx.DiGraph)
    pages = cut(graph.nodes, list(graph.edges), [0], lambda nodes: False)
    assert {box for page in pages for box in page} == set(graph.nodes)
    assert max(map(len, pages)) == 2


def test_no_boxes_have_no_pages():
    assert cut([], [], [], lambda nodes: True) == []
