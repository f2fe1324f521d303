"""Seasons at random: the lineage against networkx, and the counts against a plain model.

Each step is a recording of its own, as a grower makes them. What the model cannot hold must be
refused, and what it can hold must be recorded.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

import networkx as nx
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    precondition,
    rule,
    run_state_machine_as_test,
)

from registry.domain.counts import Count
from registry.domain.methods import Method, Role
from registry.domain.verdict import Act
from registry.errors import (
    ClosesCircle,
    LookBeyondCount,
    NothingOpen,
    Overdrawn,
    PlantsGone,
    RegistryError,
    SourceMissing,
)
from registry.location import Location
from registry.services import answers, bench, counting, making, people, records, release
from registry.services.resolve import Target, TargetKind
from registry.storage.engine import make_engine, reading
from registry.storage.models import Batch, Lot, Node
from registry.storage.transaction import recording
from registry.storage.verify import verify
from tests import homes
from tests.services.garden import DAY, begin

MOMENT = datetime(2026, 5, 14, 10, 0, tzinfo=UTC)
few = st.integers(1, 6)


@dataclass
class ModelLot:
    """A lot in the plain model: what moved, by kind, and the batch that it stands in."""

    batch: int
    moved: Counter[str] = field(default_factory=Counter)

    @property
    def left(self) -> int:
        return sum(self.moved.values())


class Season(RuleBasedStateMachine):
    """Whatever a grower may do with cuttings, in any order."""

    plants = Bundle("plants")
    lots = Bundle("lots")
    template: Location

    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.path = homes.copied(self.template, Path(self.folder.name) / "registry.ortet")
        self.engine = make_engine(self.path)
        self.ids = iter(range(1, 1_000_000))
        self.graph = nx.DiGraph()
        self.model: dict[int, ModelLot] = {}
        self.unsaid: Counter[int] = Counter()
        self.gone: set[int] = set()

    def teardown(self):
        report = verify(self.engine, self.path)
        self.engine.dispose()
        homes.dropped(self.path)
        self.folder.cleanup()
        assert report.ok, report.problems

    # --- the two sides -------------------------------------------------------------------------

    @contextmanager
    def record(self, keep=True):
        with recording(
            self.engine,
            self.path,
            "test",
            now=MOMENT,
            new_id=lambda moment: UUID(int=next(self.ids)),
            keep=keep,
        ) as rec:
            yield rec

    @contextmanager
    def refused_unless(self, possible, *errors: type[RegistryError]):
        """A recording that must come to stand if it is possible, and else be refused whole."""
        if possible:
            with self.record() as rec:
                yield rec
        else:
            with pytest.raises(errors), self.record() as rec:
                yield rec

    def target(self, rec, lot, whole=False) -> Target:
        batch = self.model[lot].batch
        mates = tuple(other for other in self.model if self.model[other].batch == batch)
        code = rec.session.get_one(Node, lot).code
        if whole:
            return Target(TargetKind.BATCH, (), mates, batch, code)
        return Target(TargetKind.LOT, (), (lot,), batch, code)

    def batch_left(self, batch: int) -> int:
        lots = [lot for lot in self.model.values() if lot.batch == batch]
        return sum(lot.left for lot in lots) - self.unsaid[batch]

    def open_of(self, lot, whole) -> list[int]:
        """The lots that a grower means by a lot's or its batch's code."""
        batch = self.model[lot].batch
        named = [o for o in self.model if self.model[o].batch == batch] if whole else [lot]
        return [other for other in named if self.model[other].left]

    def most(self, lot: int) -> int:
        return min(self.model[lot].left, self.batch_left(self.model[lot].batch))

    def can_leave(self, lot: int, whole: bool, n: int) -> bool:
        standing = self.open_of(lot, whole)
        if len(standing) == 1:
            return n <= self.most(standing[0])
        return bool(standing) and n <= self.batch_left(self.model[lot].batch)

    def take_out(self, lot, whole, n, kind):
        standing = self.open_of(lot, whole)
        if len(standing) == 1:
            self.model[standing[0]].moved[kind] -= n
        else:
            self.unsaid[self.model[lot].batch] += n

    def came(self, done, source_edges) -> list[int]:
        """Put the lots that were made into the model."""
        for made in done.lots:
            self.model[made.node_id] = ModelLot(done.accession_id)
            for parent in source_edges:
                self.graph.add_edge(parent, made.node_id)
        return [made.node_id for made in done.lots]

    # --- what a grower does --------------------------------------------------------------------

    @initialize()
    def make(self):
        with self.record() as rec:
            begin(rec)

    @rule(target=plants)
    def add(self):
        with self.record() as rec:
            founder = records.Founder("red hydrangea", people.owner_named(rec, "me"), DAY)
            made = records.add_founder(rec, founder)
        self.graph.add_node(made.node_id)
        return made.node_id

    @rule(target=lots, plant=plants, counts=st.lists(few, min_size=1, max_size=3))
    def stick(self, plant, counts):
        if plant in self.gone:
            return multiple()
        with self.record() as rec:
            code = rec.session.get_one(Node, plant).code
            asked = bench.Sticking(
                Method.CUTTING,
                ((Role.SOURCE, code),),
                tuple(bench.LotAsked(Count.of(n)) for n in counts),
                DAY,
                open_=True,
            )
            done = bench.stick(rec, asked)
        made = self.came(done, [plant])
        for lot, n in zip(made, counts, strict=True):
            self.model[lot].moved["stuck"] = n
        return multiple(*made)

    @rule(lot=lots, whole=st.booleans(), died=st.integers(0, 4), rooted=st.integers(0, 4))
    def look(self, lot, whole, died, rooted):
        standing = self.open_of(lot, whole)
        batch_left = self.batch_left(self.model[lot].batch)
        most = self.most(standing[0]) if len(standing) == 1 else batch_left
        possible = bool(standing) and batch_left > 0 and died + rooted <= most
        with self.refused_unless(possible, NothingOpen, Overdrawn, LookBeyondCount) as rec:
            counting.look(
                rec,
                self.target(rec, lot, whole),
                on=DAY,
                stands={"rooted": Count.of(rooted)},
                went={"died": Count.of(died)},
            )
        if possible:
            self.take_out(lot, whole, died, "lost")

    @rule(target=plants, lot=lots, whole=st.booleans(), n=few)
    def pot_up(self, lot, whole, n):
        standing = self.open_of(lot, whole)
        possible = self.batch_left(self.model[lot].batch) > 0 and self.can_leave(lot, whole, n)
        with self.refused_unless(possible, NothingOpen, Overdrawn) as rec:
            potting = counting.Potting(Count.of(n))
            done = counting.pot_up(rec, self.target(rec, lot, whole), potting, on=DAY)
        if not possible:
            return multiple()
        self.take_out(lot, whole, n, "potted")
        for plant, _ in done.plants:
            for parent in standing:
                self.graph.add_edge(parent, plant)
        return multiple(*(plant for plant, _ in done.plants))

    @rule(target=lots, lot=lots, n=few, again=st.booleans())
    def move_on(self, lot, n, again):
        """Split some pieces off, or set them again."""
        possible = n <= self.most(lot)
        with self.refused_unless(possible, Overdrawn) as rec:
            where = self.target(rec, lot)
            if again:
                asked = bench.Sticking(Method.CUTTING, (), (), DAY)
                done = bench.stick_again(rec, where, Count.of(n), asked)
            else:
                done = bench.split(rec, where, [bench.LotAsked(Count.of(n))], on=DAY)
        if not possible:
            return multiple()
        self.model[lot].moved["moved_out"] -= n
        (made,) = self.came(done, [lot])
        self.model[made].moved["moved_in"] = n
        return made

    @rule(target=lots, one=lots, other=lots, n=few, m=few)
    def merge(self, one, other, n, m):
        same = self.model[one].batch == self.model[other].batch
        possible = one != other and n <= self.most(one) and m <= self.most(other)
        if possible and same:
            possible = n + m <= self.batch_left(self.model[one].batch)
        with self.refused_unless(possible, Overdrawn, SourceMissing) as rec:
            parts = [
                (self.target(rec, one), Count.of(n)),
                (self.target(rec, other), Count.of(m)),
            ]
            asked = bench.Sticking(Method.CUTTING, (), (), DAY)
            done = bench.merge(rec, parts, on=DAY, asked=asked)
        if not possible:
            return multiple()
        self.model[one].moved["moved_out"] -= n
        self.model[other].moved["moved_out"] -= m
        (made,) = self.came(done, [one, other])
        self.model[made].moved["moved_in"] = n + m
        return made

    @rule(lot=lots, found=st.integers(0, 8))
    def recount(self, lot, found):
        batch = self.model[lot].batch
        if self.unsaid[batch] or not self.model[lot].left:
            return
        with self.record() as rec:
            counting.recount(rec, self.target(rec, lot), Count.of(found), on=DAY, reason=None)
        self.model[lot].moved["recounted"] += found - self.model[lot].left

    @rule(plant=plants, sold=st.booleans())
    def leave(self, plant, sold):
        possible = plant not in self.gone
        with self.refused_unless(possible, PlantsGone) as rec:
            node = rec.session.get_one(Node, plant)
            where = Target(TargetKind.PLANT, (plant,), (), node.accession_id, node.code)
            act = Act.SELL if sold else Act.GIVE
            release.release(rec, where, release.Leaving(act, DAY, anyway="as it was"))
        self.gone.add(plant)

    @precondition(lambda self: len(self.graph) > 1)
    @rule(data=st.data())
    def join(self, data):
        """An edge that would close a circle is refused, and any other is not."""
        nodes = sorted(self.graph)
        parent, child = data.draw(st.sampled_from(nodes)), data.draw(st.sampled_from(nodes))
        if self.graph.has_edge(parent, child):
            return
        closes = parent == child or nx.has_path(self.graph, child, parent)
        with self.record(keep=False) as rec:
            if not closes:
                making.link(rec, parent, child, Role.PART_OF, choice=None, clonal=False)
                return
            with pytest.raises(ClosesCircle) as refused:
                making.link(rec, parent, child, Role.PART_OF, choice=None, clonal=False)
            codes = {node: rec.session.get_one(Node, node).code for node in (parent, child)}
        assert set(codes.values()) <= set(refused.value.codes)

    # --- what must hold ------------------------------------------------------------------------

    @invariant()
    def counts_add_up_and_are_never_negative(self):
        with reading(self.engine, self.path) as session:
            for node_id, lot in self.model.items():
                assert session.get_one(Lot, node_id).in_bench == lot.left >= 0
            for batch in {lot.batch for lot in self.model.values()}:
                left = self.batch_left(batch)
                assert counting.batch_left(session, batch) == left >= 0
                assert session.get_one(Batch, batch).unsaid == self.unsaid[batch]
                stands = counting.stands_of(session, batch)
                assert sum(s.lower for s in stands) <= left
                uppers = [s.upper for s in stands if s.upper is not None]
                assert len(uppers) == len(stands), "every opening count was exact"
                assert sum(uppers) >= left
                assert all(0 <= s.lower <= (s.upper or 0) for s in stands)

    @precondition(lambda self: len(self.graph) > 0)
    @rule(data=st.data())
    def trace(self, data):
        node = data.draw(st.sampled_from(sorted(self.graph)))
        with reading(self.engine, self.path) as session:
            asked = session.get_one(Node, node)
            where = (
                Target(TargetKind.LOT, (), (node,), asked.accession_id, asked.code)
                if node in self.model
                else Target(TargetKind.PLANT, (node,), (), asked.accession_id, asked.code)
            )
            up = answers.trace(session, where, up=True, down=False)
            down = answers.trace(session, where, up=False, down=True)
        above, below = nx.ancestors(self.graph, node), nx.descendants(self.graph, node)
        assert set(up.members) == above | {node}
        assert set(down.members) == below | {node}
        ties = {(tie.parent, tie.child) for tie in up.ties}
        assert ties == set(self.graph.subgraph(above | {node}).edges)
        ties = {(tie.parent, tie.child) for tie in down.ties}
        assert ties == set(self.graph.subgraph(below | {node}).edges)


def test_a_season_at_random_keeps_its_lineage_and_its_counts(registry_template):
    Season.template = registry_template
    run_state_machine_as_test(
        Season,
        settings=settings(
            max_examples=12,
            stateful_step_count=20,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
