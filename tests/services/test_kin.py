"""Kin, common ancestors, generations and circles, each held against networkx on random graphs."""

from __future__ import annotations

import random
from datetime import date

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import func, select

from registry.domain.family import Family, Member, Tie, on_the_way, positions
from registry.domain.methods import Role
from registry.errors import PlaceUnknown
from registry.services import answers, kin, making
from registry.services.kin import Wanted
from registry.storage import lineage_queries as lineage
from registry.storage.engine import reading
from registry.storage.models import Edge, Loss, Lot, Plant
from tests.services.garden import DAY, Garden, begin, day


@st.composite
def edges(draw, circles=False):
    """Random lineages of up to a dozen nodes; without circles unless asked for."""
    size = draw(st.integers(2, 12))
    pairs = st.tuples(st.integers(1, size), st.integers(1, size)).filter(lambda p: p[0] != p[1])
    found = draw(st.lists(pairs, max_size=24, unique=True))
    return found if circles else sorted({(min(p), max(p)) for p in found})


def family_of(pairs, root=1, uncertain=frozenset()):
    nodes = {root} | {n for pair in pairs for n in pair}
    members = {n: Member(n, str(n), "plant", "", None, "alive") for n in nodes}
    ties = tuple(Tie(a, b, "source", (a, b) not in uncertain) for a, b in pairs)
    return Family((root,), members, ties)


@given(edges(), st.integers(1, 12))
def test_generations_are_the_shortest_ways_of_networkx(pairs, root):
    """With plants alone a generation is an edge, so both numbers are networkx's distance."""
    found = positions(family_of(pairs, root))
    graph = nx.DiGraph(pairs)
    graph.add_node(root)
    below = nx.single_source_shortest_path_length(graph, root)
    above = nx.single_source_shortest_path_length(graph.reverse(), root)
    expected = {n: -d for n, d in above.items()} | below
    assert {n: place.generation for n, place in found.items()} == expected
    assert {n: place.depth for n, place in found.items()} == expected


@given(edges(circles=True), st.integers(1, 12))
def test_positions_end_on_circles_too(pairs, root):
    found = positions(family_of(pairs, root))
    graph = nx.DiGraph(pairs)
    graph.add_node(root)
    assert set(found) == {root} | nx.descendants(graph, root) | nx.ancestors(graph, root)


@given(edges(), st.data())
def test_what_is_on_the_way_lies_between_the_root_and_the_wanted(pairs, data):
    family = family_of(pairs)
    wanted = data.draw(st.sets(st.sampled_from(sorted(family.members))))
    graph = nx.DiGraph(pairs)
    graph.add_nodes_from(family.members)
    expected = {1}
    for node in wanted:
        for first, last in ((1, node), (node, 1)):
            if nx.has_path(graph, first, last):
                between = nx.descendants(graph, first) & nx.ancestors(graph, last)
                expected |= {first, last} | between
    assert on_the_way(family, wanted) == expected


@given(edges(circles=True))
def test_a_circle_is_found_where_networkx_finds_one(pairs):
    found = kin.circles(family_of(pairs))
    graph = nx.DiGraph(pairs)
    assert bool(found) is not nx.is_directed_acyclic_graph(graph)
    for knot in found:
        for parent, child in zip(knot, (*knot[1:], knot[0]), strict=True):
            assert graph.has_edge(parent, child)


@pytest.fixture
def garden(record):
    with record("test") as rec:
        begin(rec)
    with record("test") as rec:
        yield Garden(rec)


def _graph_in_the_tables(record, pairs, size):
    """The pairs as plants and edges in the tables; gives the node of each number."""
    with record("test") as rec:
        garden = Garden(rec)
        nodes = {n: garden.founder(f"plant {n}") for n in range(1, size + 1)}
        for parent, child in pairs:
            rec.add(
                Edge(
                    parent_id=nodes[parent],
                    child_id=nodes[child],
                    role=Role.SEED_PARENT,
                    choice=None,
                    clonal=False,
                )
            )
        rec.flush()
        yield rec.session, nodes


SAMPLES = [
    [(1, 2), (1, 3), (2, 4), (3, 4), (4, 5), (3, 6)],
    [(1, 3), (2, 3), (1, 4), (2, 4), (3, 5), (4, 5), (4, 6), (5, 7), (6, 7)],
    [(1, 2), (3, 4)],
    [(1, 2), (2, 3), (3, 4), (4, 5), (1, 5)],
]


@pytest.mark.parametrize("pairs", SAMPLES)
def test_ancestors_descendants_and_nearest_common_ancestors_are_those_of_networkx(record, pairs):
    with record("begin") as rec:
        begin(rec)
    size = max(n for pair in pairs for n in pair)
    graph = nx.DiGraph(pairs)
    for session, nodes in _graph_in_the_tables(record, pairs, size):
        back = {node: n for n, node in nodes.items()}
        for number, node in nodes.items():
            up = {back[n] for n in lineage.ancestor_ids(session, [node])}
            down = {back[n] for n in lineage.descendant_ids(session, [node])}
            assert up == {number} | nx.ancestors(graph, number)
            assert down == {number} | nx.descendants(graph, number)
        for one in nodes:
            for other in nodes:
                if one >= other:
                    continue
                found = {back[n] for n in kin.shared(session, nodes[one], nodes[other]).nearest}
                common = ({one} | nx.ancestors(graph, one)) & ({other} | nx.ancestors(graph, other))
                nearest = {n for n in common if not common & nx.descendants(graph, n)}
                assert found == nearest
                lowest = nx.lowest_common_ancestor(graph, one, other)
                assert (lowest in nearest) if lowest is not None else not nearest


def test_the_clone_stands_wherever_it_stands_and_seedlings_are_not_of_it(garden):
    mother = garden.founder("red hydrangea")
    first, second = garden.raised(mother, 2)
    third = garden.raised(first, 1)[0]
    seedling = garden.founder("seedling")
    making.link(garden.rec, mother, seedling, Role.SEED_PARENT, choice=None, clonal=False)
    found = kin.clone(garden.rec.session, garden.target(third))
    plants = {n for n, m in found.members.items() if m.kind == "plant"}
    assert plants == {mother, first, second, third}


def test_a_dead_plant_has_living_kin(garden):
    """Where the mother died, what lives of her clone is what a grower asks for (design: kin)."""
    mother = garden.founder("red hydrangea")
    first, second = garden.raised(mother, 2)
    garden.rec.session.get_one(Plant, mother).status = "died"
    garden.rec.session.get_one(Plant, first).status = "died"
    garden.rec.flush()
    session = garden.rec.session
    family = kin.detailed(session, kin.clone(session, garden.target(mother)))
    living = kin.chosen(session, family, Wanted(alive=True))
    assert {n for n in living if family.members[n].kind == "plant"} == {second}


def test_two_pots_of_one_plant_are_one_clone_and_meet_in_their_lot(garden):
    mother = garden.founder("red hydrangea")
    lot = garden.batch(mother)[0]
    one, other = garden.pots(lot, 2)
    found = kin.shared(garden.rec.session, one, other)
    assert (found.nearest, found.clone) == ((lot,), "yes")


def test_strangers_have_nothing_in_common(garden):
    one, other = garden.founder("fig"), garden.founder("rose")
    found = kin.shared(garden.rec.session, one, other)
    assert (found.nearest, found.clone) == ((), "no")


def test_where_the_parent_is_one_of_several_they_may_be_one_clone(garden):
    one, other = garden.founder("rose A"), garden.founder("rose B")
    lot = garden.batch(one)[0]
    pot = garden.pots(lot, 1)[0]
    edge = next(e for e in garden.rec.session.query(Edge) if e.child_id == lot)
    edge.choice = 1
    garden.rec.flush()
    making.link(garden.rec, other, lot, Role.SOURCE, choice=1, clonal=True)
    assert kin.shared(garden.rec.session, pot, one).clone == "maybe"


def test_a_trace_is_narrowed_to_what_is_asked_and_the_ways_to_it(garden):
    session = garden.rec.session
    mother = garden.founder("red hydrangea")
    early = garden.raised(mother, 2, taken=day(2024, 6, 1))
    late = garden.raised(mother, 1, taken=day(2025, 6, 1))
    garden.rec.session.get_one(Plant, early[0]).status = "sold"
    garden.rec.flush()
    family = answers.trace(session, garden.target(mother), up=False, down=True)
    family = kin.detailed(session, family)
    narrow, asked = kin.narrowed(session, family, Wanted(released=True))
    assert asked == {early[0]}
    assert mother in narrow.members
    assert early[1] not in narrow.members
    _, asked = kin.narrowed(session, family, Wanted(first=date(2025, 1, 1)))
    assert late[0] in asked
    assert not asked & set(early)
    with pytest.raises(PlaceUnknown):
        kin.narrowed(session, family, Wanted(place="nowhere"))


def test_a_circle_written_behind_the_back_is_named_and_not_looped_on(garden):
    session = garden.rec.session
    mother = garden.founder("red hydrangea")
    lot = garden.batch(mother)[0]
    pot = garden.pots(lot, 1)[0]
    garden.rec.add(Edge(parent_id=pot, child_id=mother, role="source", choice=None, clonal=True))
    garden.rec.flush()
    family = answers.trace(session, garden.target(mother), up=True, down=True)
    knots = kin.circles(family)
    assert [set(knot) for knot in knots] == [{mother, lot, pot}]
    assert kin.shared(session, mother, pot).nearest


def test_a_plant_without_any_record_up_stands_alone(garden):
    plant = garden.founder("found by the road", owner=None)
    family = answers.trace(garden.rec.session, garden.target(plant), up=True, down=False)
    assert set(family.members) == {plant}
    assert family.ties == ()


def test_the_overview_counts_each_clone(garden):
    mother, other = garden.founder("red hydrangea"), garden.founder("fig")
    pots = garden.raised(mother, 3)
    garden.rec.session.get_one(Plant, pots[0]).status = "sold"
    garden.rec.flush()
    found = {one.code: one for one in kin.clones(garden.rec.session)}
    assert dict(found[garden.code(mother)].plants) == {"alive": 3, "sold": 1}
    assert dict(found[garden.code(other)].plants) == {"alive": 1}


def one_of(garden, first, *others):
    """Cuttings that came from one of several plants, and a pot of them."""
    lot = garden.batch(first)[0]
    if others:
        garden.rec.session.scalars(select(Edge).where(Edge.child_id == lot)).one().choice = 1
    for parent in others:
        making.link(garden.rec, parent, lot, Role.SOURCE, choice=1, clonal=True)
    return garden.pots(lot, 1)[0]


def nameless(garden):
    """A plant of which nobody said a name."""
    accession = making.next_accession(garden.rec, "founder")
    return making.make_plant(garden.rec, accession).node_id


def test_what_may_be_of_a_clone_without_a_name_is_not_counted_with_the_other(garden):
    fig, found, rose = garden.founder("fig"), nameless(garden), garden.founder("rose")
    either = one_of(garden, fig, found)
    garden.raised(either, 2)  # the doubt goes on
    one_of(garden, either, rose)
    lines = {one.code: dict(one.plants) for one in kin.clones(garden.rec.session)}
    codes = [garden.code(node) for node in (fig, found, rose)]
    assert lines == {
        codes[0]: {"alive": 1},
        codes[1]: {"alive": 1},
        codes[2]: {"alive": 1},
        f"{codes[0]} or {codes[1]}": {"alive": 3},
        f"{codes[0]} or one of 2 more": {"alive": 1},
    }


def test_what_may_be_of_very_many_is_said_in_short(garden):
    mothers = [garden.founder(name) for name in ("fig", "rose", "sage", "vine", "hop")]
    one_of(garden, *mothers)
    line = next(one for one in kin.clones(garden.rec.session) if " or " in one.code)
    assert line.code == f"{garden.code(mothers[0])} or one of 4 more"
    assert line.name == "fig or one of 4 more"


@pytest.mark.parametrize("seed", range(12))
def test_the_overview_counts_every_plant_and_lot_once(garden, seed):
    """Whatever came of what, named or not: nothing is left out, and nothing counts twice."""
    dice = random.Random(seed)  # noqa: S311 - the same draws each time
    session = garden.rec.session
    plants = [garden.founder("fig"), nameless(garden), nameless(garden)]
    for _ in range(15):
        pot = one_of(garden, *dice.sample(plants, dice.choice((1, 1, 2, 3))))
        session.get_one(Plant, pot).plants = dice.choice((1, 3))
        if dice.random() < 0.3:  # a name of its own
            session.get_one(Plant, pot).received_as = "rose"
            garden.rec.flush()
            making.rebuild_lines(garden.rec, [pot])
        plants.append(pot)
        sown = garden.batch(dice.choice(plants))[0]
        edge = session.scalars(select(Edge).where(Edge.child_id == sown)).one()
        edge.role, edge.clonal = Role.SEED_PARENT, False
        garden.rec.flush()
        making.rebuild_lines(garden.rec, [sown])
        plants += garden.pots(sown, 2)
    garden.rec.flush()
    lines = kin.clones(session)
    assert sum(n for one in lines for n in one.plants.values()) == session.scalar(
        select(func.sum(Plant.plants))
    )
    assert sum(one.lots for one in lines) == session.scalar(select(func.count(Lot.node_id)))


def test_pots_that_went_by_count_are_counted_in_plants(garden):
    """Four pots of three plants: two pots died, so six plants; of the lot of single pots one."""
    mother = garden.founder("bugle")
    threes, ones = garden.batch(mother)[0], garden.batch(mother)[0]
    for pot in garden.pots(threes, 4):
        garden.rec.session.get_one(Plant, pot).plants = 3
    garden.pots(ones, 5)
    garden.rec.add(Loss(lot_id=threes, how="died", n=2, on=DAY))
    garden.rec.add(Loss(lot_id=ones, how="died", n=1, on=DAY))
    garden.rec.flush()
    (line,) = kin.clones(garden.rec.session)
    assert (line.plants["alive"], line.unsaid) == (1 + 12 + 5, 6 + 1)


def test_reading_needs_no_recording(engine, registry_file, record):
    with record("begin") as rec:
        begin(rec)
        garden = Garden(rec)
        mother = garden.founder("fig")
        target = garden.target(mother)
    with reading(engine, registry_file) as session:
        assert set(kin.clone(session, target).members) == {mother}
