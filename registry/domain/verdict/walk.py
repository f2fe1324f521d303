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
from typing import Any, TypeVar

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
    is_silent,
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
        EdgeRole.BACK,
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
        told: those of the line on which something is recorded.
        stocks: those of the line that are there as a rootstock.
        way: how it serves, where `propagate` is asked; None for every other act.
    """

    node: int
    plant: Plant | None
    line: tuple[Reached, ...]
    purpose: Purpose
    seat: int
    makings: tuple[int, ...]
    told: tuple[Reached, ...]
    stocks: tuple[Reached, ...]
    way: Way | None = None

    @property
    def private(self) -> bool:
        """Whether the act counts as private and non-commercial."""
        return self.purpose is Purpose.PRIVATE

    @property
    def clonal(self) -> tuple[Reached, ...]:
        """Those of which it is a copy, itself too, and on which something is recorded."""
        return tuple(r for r in self.told if r.manner <= Manner.CLONE)


@dataclass(slots=True)
class Case:
    """A dossier being judged, with what was already found on it.

    Attributes:
        dossier: what is on record.
        parents: the edges above each node.
        links: the edge of each node that has one parent, for certain, of which it is a piece.
        telling: nodes on which something is recorded; most say no more than that they exist.
        asked_of: how much of the request falls under a record (D2).
    """

    dossier: Dossier
    parents: dict[int, list[Edge]] = field(default_factory=lambda: defaultdict(list))
    links: dict[int, Edge] = field(default_factory=dict)
    telling: set[int] = field(default_factory=set)
    asked_of: dict[tuple[RecordKind, int], int | None] = field(default_factory=dict)
    _kept: dict[tuple[object, ...], Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Index the edges by child, and walk every ancestor with several parents, oldest first."""
        for edge in self.dossier.edges:
            self.parents[edge.child].append(edge)
        for node, edges in self.parents.items():
            if len(edges) == 1 and edges[0].choice is None and edges[0].role in CLONAL_ROLES:
                self.links[node] = edges[0]
        for records in (self.dossier.plants, self.dossier.lots):
            self.telling |= {node for node, one in records.items() if not is_silent(one)}
        above = {edge.parent for edge in self.dossier.edges}
        for node in self._parents_first():
            # So that no walk is deeper than one generation; a link is climbed without walking.
            if node in above and (node not in self.links or node in self.telling):
                self.above(node, whole=False)
                self.tags(node, whole=False)
                self.named(node)

    def _parents_first(self) -> Iterable[int]:
        """Every node, each after its parents.

        Raises:
            ValueError: the edges hold a circle.
        """
        done: dict[int, None] = {}
        opened: set[int] = set()
        stack = list(self.parents)
        while stack:
            node = stack[-1]
            waiting = [e.parent for e in self.parents.get(node, ()) if e.parent not in done]
            if node in done or not waiting:
                done[node] = None
                stack.pop()
            elif node in opened:
                raise ValueError("a circle has no order")
            else:
                opened.add(node)
                stack += waiting
        return done

    def asked_from(self, kind: RecordKind, record: int) -> int | None:
        """D2: how many pieces or plants of the whole request fall under one record."""
        return self.asked_of.get((kind, record), 1)

    def once(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """`make()`, kept under `key` for the rest of this judgement."""
        kept: T | None = self._kept.get(key)
        if kept is None:  # nothing that is made is None
            kept = self._kept[key] = make()
        return kept

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
                for child, edges in self.parents.items()
                if child not in self.links and child in self.dossier.plants
                for edge in edges
                if edge.role in STOCK_ROLES
            ),
        )

    def held(self) -> frozenset[int]:
        """The nodes on which a hold lies that is on them and not on a batch or place."""
        return self.once(
            ("held",),
            lambda: frozenset(h.node for h in self.dossier.holds if h.node is not None),
        )

    def raised_here(self, node: int) -> bool:
        """Whether the node has a recorded parent."""
        return any(e.role is not EdgeRole.PART_OF for e in self.parents.get(node, ()))

    # --- ancestors ---

    def above(self, node: int, whole: bool) -> tuple[Reached, ...]:
        """Every ancestor of `node`, nearest first, each (node, lot, manner) once."""
        return self.once(("above", node, whole), lambda: self._above(node, whole))

    def _above(self, node: int, whole: bool) -> tuple[Reached, ...]:
        climbed: list[Reached] = []
        while (link := self.links.get(node)) is not None:
            drawn = link.parent in self.dossier.plants
            lot = node if drawn and node in self.dossier.lots else None
            climbed.append(Reached(link.parent, lot, Manner.CLONE))
            whole = whole and not drawn
            node = link.parent
        if climbed:  # by links alone, so nothing is met twice, and all reaches down as it is
            return (*climbed, *self.above(node, whole))
        found: dict[tuple[int, int | None, Manner], Reached] = {}
        for edge in self.parents.get(node, ()):
            for reached in self._over(edge, whole):
                key = (reached.node, reached.lot, reached.manner)
                known = found.get(key)
                if known is None or (reached.certain and not known.certain):
                    found[key] = reached
        return tuple(found.values())

    def _parent(self, edge: Edge) -> Reached:
        """The parent of an edge, as it reaches the child."""
        drawn = edge.parent in self.dossier.plants
        lot = edge.child if drawn and edge.child in self.dossier.lots else None
        manner = _MANNER_OF_ROLE.get(edge.role, Manner.CLONE)
        return Reached(edge.parent, lot, manner, edge.choice is None)

    def _still_whole(self, edge: Edge, whole: bool) -> bool:
        """Whether the whole parent is meant: of a plant drawn from, only where it is the stock."""
        drawn = edge.parent in self.dossier.plants
        return edge.role in STOCK_ROLES if drawn else whole

    def _over(self, edge: Edge, whole: bool) -> Iterable[Reached]:
        """The parent of an edge and all above it, as they reach the child."""
        if edge.role is EdgeRole.PART_OF or (edge.role in STOCK_ROLES and not whole):
            return
        parent = self._parent(edge)
        yield parent
        if parent.manner is Manner.BEARER:  # what its top came from is nothing to a sucker
            return
        for reached in self.above(edge.parent, self._still_whole(edge, whole)):
            yield Reached(
                reached.node,
                reached.lot,
                max(parent.manner, reached.manner),
                parent.certain and reached.certain,
                reached.itself,
            )

    def makings(self, node: int) -> tuple[int, ...]:
        """The lots in which `node` was made: where material left a plant for the last time."""
        found: dict[int, None] = {}
        seen: set[int] = set()
        waiting = [node]
        while waiting:
            at = waiting.pop()
            if at in seen:
                continue
            seen.add(at)
            edges = self.parents.get(at, ())
            if at in self.dossier.lots and any(e.parent in self.dossier.plants for e in edges):
                found[at] = None
                continue
            lots = [e.parent for e in edges if e.role in CLONAL_ROLES]
            waiting += [lot for lot in reversed(lots) if lot in self.dossier.lots]
        return tuple(found)

    def from_seed(self, node: int) -> bool:
        """Whether a node, or what it is a copy of, was raised from seed by the grower."""
        waiting, seen = [node], {node}
        while waiting:
            at = waiting.pop()
            plant, edges = self.plant(at), self.parents.get(at, ())
            if plant is not None and plant.how is How.SEED:
                return True
            if any(e.role is EdgeRole.SEED_PARENT for e in edges):
                return True
            fresh = [e.parent for e in edges if e.role in CLONAL_ROLES and e.parent not in seen]
            seen.update(fresh)
            waiting += fresh
        return False

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
        while node in self.links and node not in self.telling:
            node = self.links[node].parent
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
        while node in self.links and node not in self.telling:
            link = self.links[node]
            node, whole = link.parent, whole and link.parent not in self.dossier.plants
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
        alone = asked.node in self.telling or asked.node in self.held()
        if plant is None or not edges or alone:
            return self.once(("subject", asked.node, way), lambda: self._subject(asked.node, way))
        signature = tuple((e.parent, e.role, e.choice) for e in edges)
        key = ("subject", signature, plant.accession, plant.places, way)
        return self.once(key, lambda: self._subject(asked.node, way))

    def _subject(self, node: int, way: Way | None) -> Subject:
        whole = way is None
        own = Manner.SELF if way is None else _MANNER_OF_WAY.get(way, Manner.SELF)
        above = () if way is Way.SUCKER else self.above(node, whole)
        if own is not Manner.SELF:
            above = tuple(replace(r, manner=max(own, r.manner)) for r in above)
        line = (Reached(node, None, own, itself=True), *above)
        named = self.named(node)
        return Subject(
            node=node,
            plant=self.plant(node),
            line=line,
            purpose=self._purpose(line),
            seat=named[0].node if named else next((r.node for r in line[1:]), node),
            makings=self.makings(node),
            told=tuple(r for r in line if r.node in self.telling),
            stocks=tuple(r for r in line if r.manner is Manner.STOCK),
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


ACQUIRED = frozenset(
    {How.BOUGHT, How.SOCIETY_SALE, How.GIVEN, How.SWAPPED, How.STATEMENT, How.INHERITED}
)
