"""The line above the asked plants: who was drawn from, how, and what they are called.

Every node is walked once: what was found above it is kept and shared by all that descend from it.
Material of a graft's top carries nothing of its rootstock: edges to a rootstock are followed only
while the whole plant is meant (row D3).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from enum import IntEnum
from graphlib import TopologicalSorter
from typing import TypeVar, cast

from registry.domain.rules.taxa import APOMICTIC_GENERA
from registry.domain.verdict.facts import (
    RELEASES,
    Act,
    Asked,
    Dossier,
    Edge,
    EdgeRole,
    Ground,
    How,
    Identity,
    Lot,
    Name,
    NameKind,
    Plant,
    Purpose,
    Taxon,
    Way,
)
from registry.domain.verdict.findings import RecordKind

T = TypeVar("T")

STOCK_ROLES = frozenset({EdgeRole.ROOTSTOCK, EdgeRole.INTERSTOCK})
CLONAL_ROLES = frozenset(
    {
        EdgeRole.SOURCE,
        EdgeRole.SCION,
        EdgeRole.RAISED,
        EdgeRole.SPLIT,
        EdgeRole.MERGED,
        EdgeRole.AGAIN,
    }
)


class Manner(IntEnum):
    """How material of an ancestor reaches the asked plant, from closest to loosest."""

    SELF = 0
    CLONE = 1
    STOCK = 2
    BEARER = 3  # a sucker of its rootstock was cut from it
    SEED = 4
    POLLEN = 5


_MANNER_OF_ROLE = {
    EdgeRole.ROOTSTOCK: Manner.STOCK,
    EdgeRole.INTERSTOCK: Manner.STOCK,
    EdgeRole.SUCKER_OF: Manner.BEARER,
    EdgeRole.SEED_PARENT: Manner.SEED,
    EdgeRole.POLLEN_PARENT: Manner.POLLEN,
}

_MANNER_OF_WAY = {Way.SUCKER: Manner.BEARER, Way.SEED: Manner.SEED, Way.POLLEN: Manner.POLLEN}


@dataclass(frozen=True, slots=True)
class Reached:
    """An ancestor, the lot by which material was drawn from it, and how that reaches down.

    `lot` is None for the asked plant itself, and where parent and child are joined without a lot.
    """

    node: int
    lot: int | None
    manner: Manner
    certain: bool = True
    itself: bool = False  # the asked node


class Relation(IntEnum):
    """How a name on the line bears on the asked plant, from closest to loosest."""

    CURRENT = 0
    EARLIER = 1  # a later name was given to the same clone
    SPORT = 2  # the name of what it is a sport of
    SEED = 3  # the name of a seed parent
    POLLEN = 4


@dataclass(frozen=True, slots=True)
class Tag:
    """A name on the line: where it sits, how it bears, and what replaced it."""

    node: int
    name: Name
    relation: Relation
    certain: bool = True
    replaced_by: Name | None = None


@dataclass(frozen=True, slots=True)
class Named:
    """A name that an asked plant goes by, and the node on which it sits."""

    node: int
    name: Name
    certain: bool = True
    seedling: bool = False  # taken over from a seed parent, never as a cultivar


@dataclass(frozen=True, slots=True)
class Subject:
    """One asked node with its line, nearest first; plants that share all of it share one subject.

    Attributes:
        node: the asked node; for a plant raised here without facts of its own, one of several.
        plant: its facts; None for a lot.
        line: itself and every ancestor.
        purpose: under which it is judged.
        seat: the node on which a finding of the whole plant sits: where its name stands.
        makings: the lots in which it, or the material it was raised from, was made.
        way: how it serves, where `propagate` is asked; None for every other act.
    """

    node: int
    plant: Plant | None
    line: tuple[Reached, ...]
    purpose: Purpose
    seat: int
    makings: tuple[int, ...]
    way: Way | None = None

    @property
    def private(self) -> bool:
        """Whether the act counts as private and non-commercial."""
        return self.purpose is Purpose.PRIVATE

    @property
    def clonal(self) -> tuple[Reached, ...]:
        """Itself and the ancestors of which it is a copy."""
        return tuple(r for r in self.line if r.manner <= Manner.CLONE)


@dataclass(slots=True)
class Case:
    """A dossier being judged, with what was already found on it."""

    dossier: Dossier
    parents: dict[int, list[Edge]] = field(default_factory=lambda: defaultdict(list))
    asked_of: dict[tuple[RecordKind, int], int | None] = field(default_factory=dict)
    _kept: dict[tuple[object, ...], object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Index the edges by child, and walk every ancestor once, parents first."""
        for edge in self.dossier.edges:
            self.parents[edge.child].append(edge)
        above = {edge.parent for edge in self.dossier.edges}
        order = TopologicalSorter(
            {child: [e.parent for e in edges] for child, edges in self.parents.items()}
        )
        for node in order.static_order():
            if node in above:  # so that no walk is deeper than one generation
                self.above(node, whole=False)
                self.tags(node, whole=False)
                self.named(node)
                self.makings(node)
                self.from_seed(node)

    def asked_from(self, kind: RecordKind, record: int) -> int | None:
        """D2: how many pieces or plants of the whole request fall under one record."""
        return self.asked_of.get((kind, record), 1)

    def once(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """`make()`, kept under `key` for the rest of this judgement."""
        if key not in self._kept:
            self._kept[key] = make()
        return cast("T", self._kept[key])

    def plant(self, node: int) -> Plant | None:
        """The plant of that id; None for a lot."""
        return self.dossier.plants.get(node)

    def lot(self, node: int | None) -> Lot | None:
        """The lot of that id; None for a plant."""
        return None if node is None else self.dossier.lots.get(node)

    def came_grafted(self) -> frozenset[int]:
        """Rootstocks that came with their trees: part of somebody's tree, not plants by themselves.

        Joined to the tree without a lot between, they were not drawn from a plant that stood.
        """
        return self.once(
            ("came grafted",),
            lambda: frozenset(
                edge.parent
                for edge in self.dossier.edges
                if edge.role in STOCK_ROLES and edge.child in self.dossier.plants
            ),
        )

    def raised_here(self, node: int) -> bool:
        """Whether the node has a recorded parent."""
        return any(e.role is not EdgeRole.PART_OF for e in self.parents.get(node, ()))

    # --- ancestors ---

    def above(self, node: int, whole: bool) -> tuple[Reached, ...]:
        """Every ancestor of `node`, nearest first, each (node, lot, manner) once."""
        return self.once(("above", node, whole), lambda: self._above(node, whole))

    def _above(self, node: int, whole: bool) -> tuple[Reached, ...]:
        found: dict[tuple[int, int | None, Manner], Reached] = {}
        for edge in self.parents.get(node, ()):
            for reached in self._over(edge, whole):
                key = (reached.node, reached.lot, reached.manner)
                known = found.get(key)
                if known is None or (reached.certain and not known.certain):
                    found[key] = reached
        return tuple(found.values())

    def _over(self, edge: Edge, whole: bool) -> Iterable[Reached]:
        """The parent of an edge and all above it, as they reach the child."""
        if edge.role is EdgeRole.PART_OF or (edge.role in STOCK_ROLES and not whole):
            return
        manner = _MANNER_OF_ROLE.get(edge.role, Manner.CLONE)
        certain = edge.choice is None
        drawn = edge.parent in self.dossier.plants
        lot = edge.child if drawn and edge.child in self.dossier.lots else None
        yield Reached(edge.parent, lot, manner, certain)
        if manner is Manner.BEARER:  # what its top came from is nothing to a sucker
            return
        above = self.above(edge.parent, whole if not drawn else manner is Manner.STOCK)
        if certain and manner is Manner.CLONE:  # nothing above is closer: it reaches as it is
            yield from above
            return
        for reached in above:
            yield Reached(
                reached.node,
                reached.lot,
                max(manner, reached.manner),
                certain and reached.certain,
                reached.itself,
            )

    def makings(self, node: int) -> tuple[int, ...]:
        """The lots in which `node` was made: where material left a plant for the last time."""
        return self.once(("makings", node), lambda: self._makings(node))

    def _makings(self, node: int) -> tuple[int, ...]:
        edges = self.parents.get(node, ())
        if node in self.dossier.lots and any(e.parent in self.dossier.plants for e in edges):
            return (node,)
        found: list[int] = []
        for edge in edges:
            if edge.role in CLONAL_ROLES and edge.parent in self.dossier.lots:
                found += self.makings(edge.parent)
        return tuple(dict.fromkeys(found))

    def from_seed(self, node: int) -> bool:
        """Whether a node, or what it is a copy of, was raised from seed by the grower."""
        return self.once(("from seed", node), lambda: self._from_seed(node))

    def _from_seed(self, node: int) -> bool:
        plant = self.plant(node)
        edges = self.parents.get(node, ())
        return (
            (plant is not None and plant.how is How.SEED)
            or any(e.role is EdgeRole.SEED_PARENT for e in edges)
            or any(e.role in CLONAL_ROLES and self.from_seed(e.parent) for e in edges)
        )

    # --- names ---

    def names(self, node: int) -> tuple[Name, ...]:
        """The names that sit on a node itself, oldest first."""
        plant = self.plant(node)
        if plant is not None:
            return plant.names
        lot = self.lot(node)
        return lot.names if lot is not None else ()

    def named(self, node: int) -> tuple[Named, ...]:
        """What a node is called: its own name, else its line's, else that of its seed parents."""
        return self.once(("named", node), lambda: self._named(node))

    def _named(self, node: int) -> tuple[Named, ...]:
        own = self.names(node)
        if own:
            return (Named(node, own[-1]),)
        edges = self.parents.get(node, ())
        clonal = [e for e in edges if e.role in CLONAL_ROLES]
        found = [
            replace(name, certain=name.certain and edge.choice is None)
            for edge in clonal
            for name in self.named(edge.parent)
        ]
        if not clonal:
            found = [
                _seedling(name, edge)
                for edge in edges
                if edge.role is EdgeRole.SEED_PARENT
                for name in self.named(edge.parent)
            ]
        return tuple(dict.fromkeys(found))

    def tags(self, node: int, whole: bool) -> tuple[Tag, ...]:
        """Every name on the line and how it bears on `node`."""
        return self.once(("tags", node, whole), lambda: self._tags(node, whole))

    def _tags(self, node: int, whole: bool) -> tuple[Tag, ...]:
        own = self.names(node)
        current = own[-1] if own else None
        found = [
            Tag(node, name, Relation.EARLIER, replaced_by=current)
            for name in own[:-1]
            if current is None or name.key != current.key
        ]
        if current is not None:
            found.append(Tag(node, current, Relation.CURRENT))
        for edge in self.parents.get(node, ()):
            found += self._tags_over(edge, whole, current)
        return tuple(dict.fromkeys(found))

    def _tags_over(self, edge: Edge, whole: bool, current: Name | None) -> Iterable[Tag]:
        if edge.role in {EdgeRole.PART_OF, EdgeRole.SUCKER_OF}:
            return
        if edge.role in STOCK_ROLES and not whole:
            return
        drawn = edge.parent in self.dossier.plants
        stock = edge.role in STOCK_ROLES
        for tag in self.tags(edge.parent, stock if drawn else whole):
            over = replace(tag, certain=tag.certain and edge.choice is None)
            if edge.role is EdgeRole.POLLEN_PARENT:
                yield replace(over, relation=Relation.POLLEN)
            elif edge.role is EdgeRole.SEED_PARENT:
                yield over if self._true_copy(edge, tag) else _loosen(over, Relation.SEED)
            elif current is None or stock:
                yield over
            else:
                yield _renamed(over, current)

    def _true_copy(self, edge: Edge, tag: Tag) -> bool:
        """B11: apomictic or nucellar seed carries the mother's own make-up."""
        lot = self.lot(edge.child)
        return (lot is not None and lot.apomictic) or tag.name.taxon.genus in APOMICTIC_GENERA

    # --- purpose and subjects ---

    def subject(self, asked: Asked) -> Subject:
        """The asked node with its line; siblings without facts of their own share one."""
        plant = self.plant(asked.node)
        edges = self.parents.get(asked.node, ())
        way = asked.way if self.dossier.question.act is Act.PROPAGATE else None
        if plant is None or not edges or not _plain(plant):
            return self.once(("subject", asked.node, way), lambda: self._subject(asked.node, way))
        signature = tuple((e.parent, e.role, e.choice) for e in edges)
        key = ("subject", signature, plant.accession, plant.places, way)
        return self.once(key, lambda: self._subject(asked.node, way))

    def _subject(self, node: int, way: Way | None) -> Subject:
        whole = way is None
        own = Manner.SELF if way is None else _MANNER_OF_WAY.get(way, Manner.SELF)
        above = () if way is Way.SUCKER else self.above(node, whole)
        line = (
            Reached(node, None, own, itself=True),
            *(replace(r, manner=max(own, r.manner)) for r in above),
        )
        named = self.named(node)
        return Subject(
            node=node,
            plant=self.plant(node),
            line=line,
            purpose=self._purpose(line),
            seat=named[0].node if named else next((r.node for r in line[1:]), node),
            makings=self.makings(node),
            way=way,
        )

    def _purpose(self, line: tuple[Reached, ...]) -> Purpose:
        """Section 0: sell is trade; give and swap are unless stated; a group is never private."""
        question = self.dossier.question
        if question.act is Act.SELL:
            return Purpose.TRADE
        if question.act in RELEASES:
            return question.purpose or Purpose.TRADE
        asked = self.plant(line[0].node)
        if asked is not None and asked.ground is Ground.GROUP:  # row A21
            return Purpose.TRADE
        for_release = any(self._for_release(r.node) for r in line[:2])
        if question.grower_trades or for_release:
            return Purpose.TRADE
        return question.purpose or Purpose.PRIVATE

    def _for_release(self, node: int) -> bool:
        record = self.plant(node) or self.lot(node)
        return record is not None and record.for_release


def _seedling(name: Named, edge: Edge) -> Named:
    """A seedling takes genus and species of its seed parent at most, never the cultivar."""
    taxon = name.name.taxon
    identity = Identity.SPECIES if taxon.species and not taxon.hybrid else Identity.GENUS
    bare = Taxon(taxon.genus, taxon.species, taxon.hybrid, taxon.parents, taxon.binomial)
    return Named(
        name.node,
        Name(key=bare.key, identity=identity, taxon=bare, from_seed=True),
        certain=name.certain and edge.choice is None,
        seedling=True,
    )


def _loosen(tag: Tag, relation: Relation) -> Tag:
    return replace(tag, relation=max(tag.relation, relation))


def _renamed(tag: Tag, current: Name) -> Tag:
    """How a name further up bears on a node that has a name of its own."""
    if tag.relation > Relation.EARLIER or tag.name.key == current.key:
        return tag
    if current.kind is not NameKind.DETERMINED and current.kind is not NameKind.RECEIVED:
        return _loosen(tag, Relation.SPORT)  # a line of its own inside the same clone
    return replace(tag, relation=Relation.EARLIER, replaced_by=current)


_PLAIN = Plant(id=0)


def _plain(plant: Plant) -> bool:
    """Whether a plant has no facts of its own but where it stands and its code."""
    return plant == replace(
        _PLAIN, id=plant.id, label=plant.label, accession=plant.accession, places=plant.places
    )


ACQUIRED = frozenset(
    {How.BOUGHT, How.SOCIETY_SALE, How.GIVEN, How.SWAPPED, How.STATEMENT, How.INHERITED}
)
