"""A small garden for tests: plants, lots and pots made without the bench's services."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from registry.domain.counts import Count
from registry.domain.dates import FuzzyDate
from registry.domain.methods import Method, Role
from registry.services import making, people
from registry.services.resolve import Target, TargetKind
from registry.storage.models import Accession, Batch, Lot, Node, Plant, Registry
from registry.storage.transaction import Recording

DAY = FuzzyDate.of(date(2026, 5, 14))


def day(year: int, month: int, of_month: int) -> FuzzyDate:
    return FuzzyDate.of(date(year, month, of_month))


def begin(rec: Recording, *, began: date = date(2020, 1, 1), **row: Any) -> None:
    """A registry in Oregon whose grower is Jo Field."""
    grower = people.add_person(rec, "Jo Field")
    values: dict[str, Any] = {
        "uuid": rec.new_id(),
        "format": 1,
        "number_width": 4,
        "plant_width": 3,
        "grower_id": grower,
        "country": "US",
        "region": "US-OR",
        "hemisphere": "north",
        "currency": None,
        "began": began,
        "settings": {},
    }
    rec.add(Registry(id=1, **(values | row)))
    rec.flush()


@dataclass
class Garden:
    """Makes records in one recording."""

    rec: Recording
    made: list[int] = field(default_factory=list)

    def founder(self, name: str, owner: str | None = "me", **facts: Any) -> int:
        accession = making.next_accession(self.rec, "founder")
        plant = making.make_plant(self.rec, accession, received_as=name, **facts)
        found = people.owner_named(self.rec, owner)
        if found.known:
            making.own(self.rec, plant.node_id, found.person_id, None)
        self.rec.flush()
        return plant.node_id

    def batch(
        self,
        *sources: int,
        n: int = 10,
        opening: Count | None = None,
        taken: FuzzyDate = DAY,
        **facts: Any,
    ) -> list[int]:
        """A batch with one lot for each source, of `n` pieces or of a count as said."""
        accession = making.next_accession(self.rec, "batch")
        self.rec.add(Batch(accession_id=accession.id, stuck=taken))
        self.rec.flush()
        lots = []
        for source in sources:
            lot = making.make_lot(
                self.rec,
                accession,
                method=Method.CUTTING,
                opening=opening or Count.of(n),
                taken=taken,
                stuck=taken,
                **facts,
            )
            making.link(self.rec, source, lot.node_id, Role.SOURCE, choice=None, clonal=True)
            lots.append(lot.node_id)
        return lots

    def pots(self, lot: int, n: int, on: FuzzyDate = DAY) -> list[int]:
        """Plants raised from a lot."""
        accession_id = self.rec.session.get_one(Lot, lot).batch_id
        accession = self.rec.session.get_one(Accession, accession_id)
        nodes = []
        for _ in range(n):
            plant = making.make_plant(self.rec, accession, born=on)
            making.link(self.rec, lot, plant.node_id, Role.RAISED, choice=None, clonal=True)
            nodes.append(plant.node_id)
        return nodes

    def raised(self, source: int, n: int = 1, taken: FuzzyDate = DAY) -> list[int]:
        """Pots of one lot of one source."""
        return self.pots(self.batch(source, taken=taken)[0], n, taken)

    def target(self, *plants: int) -> Target:
        kind = TargetKind.PLANT if len(plants) == 1 else TargetKind.GROUP
        accession = self.rec.session.get_one(Node, plants[0]).accession_id
        return Target(kind, plants, (), accession, self.code(plants[0]))

    def lots(self, *lots: int) -> Target:
        """One lot, or a batch with several."""
        kind = TargetKind.LOT if len(lots) == 1 else TargetKind.BATCH
        accession = self.rec.session.get_one(Lot, lots[0]).batch_id
        return Target(kind, (), lots, accession, self.code(lots[0]))

    def code(self, node: int) -> str:
        return self.rec.session.get_one(Node, node).code

    def status(self, node: int) -> str:
        return self.rec.session.get_one(Plant, node).status
