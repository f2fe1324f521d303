"""Which line each plant's name comes from: the derived table against the definition."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select, text

from registry.domain.methods import Role
from registry.services import making, putright
from registry.services.identity import Opinion, correct_name
from registry.services.naming import names_of
from registry.storage.engine import make_engine
from registry.storage.models import Determination, Edge, Line
from registry.storage.transaction import recording
from tests import homes
from tests.conftest import MOMENT
from tests.services.garden import DAY, Garden, begin

PLANTS = 12


def by_definition(session) -> set[tuple[int, int]]:
    """(node, root): own names end the way up; else every clonal parent is followed."""
    rows = session.execute(
        text(
            """
            WITH RECURSIVE named(id) AS (
                SELECT node_id FROM plant WHERE received_as IS NOT NULL AND void_seq IS NULL
                UNION SELECT node_id FROM determination WHERE void_seq IS NULL
            ), way(start, at) AS (
                SELECT id, id FROM node
                UNION
                SELECT way.start, edge.parent_id FROM way
                JOIN edge ON edge.child_id = way.at AND edge.clonal AND edge.void_seq IS NULL
                WHERE way.at NOT IN (SELECT id FROM named)
            )
            SELECT start, at FROM way WHERE at IN (SELECT id FROM named)
            """
        )
    )
    return {(start, at) for start, at in rows}


def as_it_stands(session) -> set[tuple[int, int]]:
    return {(row.node_id, row.root_id) for row in session.scalars(select(Line))}


steps = st.lists(
    st.one_of(
        st.tuples(st.just("name"), st.integers(0, PLANTS - 1)),
        st.tuples(
            st.just("link"), st.integers(0, PLANTS - 1), st.integers(0, PLANTS - 1), st.booleans()
        ),
        st.tuples(st.just("unname"), st.integers(0, PLANTS - 1)),
    ),
    max_size=25,
)


@given(steps)
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_lines_are_those_of_the_recursive_query_after_any_steps(registry_template, tmp_path, steps):
    """Names given and taken back, and parents certain or one of several, in any order."""
    path = homes.copied(registry_template, tmp_path / "registry.ortet")
    given_ids = iter(range(1, 10_000))
    record = partial(
        recording, make_engine(path), path, now=MOMENT, new_id=lambda _: UUID(int=next(given_ids))
    )
    with record("test", keep=False) as rec:
        begin(rec)
        accession = making.next_accession(rec, "founder")
        plants = [making.make_plant(rec, accession).node_id for _ in range(PLANTS)]
        for what, *values in steps:
            node = plants[values[0]]
            if what == "name":
                rec.add(Determination(node_id=node, typed="a", parts={}, printed="a", key="a"))
            elif what == "unname":
                for row in rec.session.scalars(
                    select(Determination).where(Determination.node_id == node)
                ):
                    row.void_seq = rec.seq
            else:
                parent, child = sorted(values[:2])
                known = rec.session.scalar(
                    select(Edge.id).where(
                        Edge.parent_id == plants[parent], Edge.child_id == plants[child]
                    )
                )
                if parent == child or known:
                    continue
                node = plants[child]
                making.link(
                    rec, plants[parent], node, Role.SOURCE, choice=1 if values[2] else None,
                    clonal=True,
                )  # fmt: skip
            making.rebuild_lines(rec, [node])
            assert as_it_stands(rec.session) == by_definition(rec.session)


def test_a_correction_at_the_stock_plant_writes_no_line(record):
    with record("test", keep=False) as rec:
        begin(rec)
        garden = Garden(rec)
        stock = garden.founder("Salvia 'Hot Coral'")
        pots = garden.raised(stock, 3)
        before = as_it_stands(rec.session)
        correct_name(rec, garden.target(stock), Opinion("Salvia 'Moth Night'", DAY))
        assert as_it_stands(rec.session) == before
        shown = {name.shown for name in names_of(rec.session, pots).values()}
        assert shown == {"Salvia ‘Moth Night’"}


def test_a_name_taken_back_gives_the_clone_its_old_name_again(record, engine):
    with record("plant add") as rec:
        begin(rec)
        garden = Garden(rec)
        stock = garden.founder("Salvia 'Hot Coral'")
        lot = garden.batch(stock)[0]
        first, second = garden.pots(lot, 2)
        rec.last = [garden.code(first)]
    with record("plant name") as rec:
        correct_name(rec, Garden(rec).target(first), Opinion("Salvia 'Cerro Potosi'", DAY))
    with record("correct") as rec:
        assert names_of(rec.session, [first])[first].shown == "Salvia ‘Cerro Potosi’"
        putright.take_back(rec, putright.entry_of(rec.session, "last", None), "wrong pot")
        names = names_of(rec.session, [first, second])
        assert {name.shown for name in names.values()} == {"Salvia ‘Hot Coral’"}
        assert as_it_stands(rec.session) == by_definition(rec.session)
