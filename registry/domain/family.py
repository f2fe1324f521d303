"""The part of a lineage that answers a question: its plants and lots, and how they hang together.

What a trace fetches, what a chart draws and what an exchange file holds are all this one value.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date as Day  # noqa: N812 - a member has a date of its own
from enum import StrEnum

from registry.domain.methods import Role

GONE = frozenset({"died", "culled", "destroyed", "surrendered", "sold", "given", "swapped"})
"""What a plant's status says when it is not there any more."""


@dataclass(frozen=True, slots=True)
class Member:
    """A plant or lot of a family.

    Attributes:
        id, code: The node.
        kind: `plant` or `lot`.
        name: What it is called.
        date: When it began, as EDTF text.
        status: A plant's status; what is left of a lot.
        first, last: The possible days on which it began.
        standing: Whether it is there: a plant that lives, a lot with something in the bench.
        place: Where it stands.
        went: How it left or ended (`sold`, `died` …), None where it did neither.
        went_on: The day of that, as EDTF text.
        went_to: Who got it, where that was said.
        count: How many plants share the pot, or how many cuttings are in the bench.
        unsaid: How many of a lot's pots left or died while nobody said which.
        how: A lot's method.
        opening: How many were stuck, as said.
    """

    id: int
    code: str
    kind: str
    name: str
    date: str | None
    status: str
    first: Day | None = None
    last: Day | None = None
    standing: bool = True
    place: str | None = None
    went: str | None = None
    went_on: str | None = None
    went_to: str | None = None
    count: int | None = None
    unsaid: int = 0
    how: str | None = None
    opening: str | None = None

    @property
    def released(self) -> bool:
        """Whether it went to somebody."""
        return self.went in RELEASED


RELEASED = frozenset({"sold", "given", "swapped"})
"""Ways of leaving in which somebody else has the plant now."""


@dataclass(frozen=True, slots=True)
class Tie:
    """A parent and a child; not certain where the parent is one of several."""

    parent: int
    child: int
    role: str
    certain: bool
    clonal: bool = True


@dataclass(frozen=True, slots=True)
class Family:
    """The part of the lineage that answers a trace.

    Attributes:
        roots: The nodes that were asked about, as ids.
        members: Every node of the answer, by id.
        ties: Every edge of the answer, from parent to child.
    """

    roots: tuple[int, ...]
    members: Mapping[int, Member]
    ties: tuple[Tie, ...]

    def only(self, ids: Collection[int]) -> Family:
        """The family of some of its members, with the ties among them."""
        kept = set(ids)
        return replace(
            self,
            roots=tuple(root for root in self.roots if root in kept),
            members={node: member for node, member in self.members.items() if node in kept},
            ties=tuple(tie for tie in self.ties if tie.parent in kept and tie.child in kept),
        )


@dataclass(frozen=True, slots=True)
class Position:
    """How far a member is from what was asked about; negative is above, positive below.

    Attributes:
        depth: Edges, by the shortest way.
        generation: Steps from plant to plant, whatever lots lie between. A lot counts with the
            plants that are raised from it.
        roles: What the members on its ways to the root are to it or it to them.
        certain: False where the only ways there go over one of several parents.
    """

    depth: int
    generation: int
    roles: tuple[str, ...]
    certain: bool


def positions(family: Family) -> dict[int, Position]:
    """Where each member stands, seen from the roots.

    >>> plant = Member(1, "a", "plant", "", None, "")
    >>> lot, pot = replace(plant, id=2, kind="lot"), replace(plant, id=3)
    >>> ties = (Tie(1, 2, "source", True), Tie(2, 3, "raised", True))
    >>> found = positions(Family((1,), {1: plant, 2: lot, 3: pot}, ties))
    >>> [(found[node].depth, found[node].generation) for node in (1, 2, 3)]
    [(0, 0), (1, 1), (2, 1)]
    """
    found = {root: Position(0, 0, (), True) for root in family.roots}
    for upward in (True, False):
        for node, place in _one_way(family, upward).items():
            found.setdefault(node, place)
    return found


def _one_way(family: Family, upward: bool) -> dict[int, Position]:
    onward: dict[int, list[tuple[int, Tie]]] = {}
    for tie in family.ties:
        here, there = (tie.child, tie.parent) if upward else (tie.parent, tie.child)
        onward.setdefault(here, []).append((there, tie))
    depth = _cheapest(family, onward, lambda tie: 1)
    generation = _cheapest(family, onward, lambda tie: _crossed(family, tie))
    sure = _sure(family, onward)
    roles: dict[int, dict[str, None]] = {}
    for node in depth:
        for there, tie in onward.get(node, ()):
            roles.setdefault(there, {})[tie.role] = None
    sign = -1 if upward else 1
    return {
        node: Position(
            sign * depth[node], sign * generation[node], tuple(roles.get(node, ())), node in sure
        )
        for node in depth
    }


def _crossed(family: Family, tie: Tie) -> int:
    """1 where a tie leads to the next generation: not to a part of a plant, nor to itself."""
    drawn = tie.role not in (Role.PART_OF, Role.BACK)
    return int(family.members[tie.parent].kind == "plant" and drawn)


def _cheapest(
    family: Family, onward: Mapping[int, list[tuple[int, Tie]]], price: Callable[[Tie], int]
) -> dict[int, int]:
    """The least cost of a way from a root to each node; a tie costs nothing or one."""
    cost = dict.fromkeys(family.roots, 0)
    queue = deque(family.roots)
    while queue:
        node = queue.popleft()
        for there, tie in onward.get(node, ()):
            step = price(tie)
            if there not in cost or cost[node] + step < cost[there]:
                cost[there] = cost[node] + step
                if step:
                    queue.append(there)
                else:
                    queue.appendleft(there)
    return cost


def _sure(family: Family, onward: Mapping[int, list[tuple[int, Tie]]]) -> set[int]:
    seen = set(family.roots)
    stack = list(family.roots)
    while stack:
        for there, tie in onward.get(stack.pop(), ()):
            if tie.certain and there not in seen:
                seen.add(there)
                stack.append(there)
    return seen


def on_the_way(family: Family, wanted: Iterable[int]) -> set[int]:
    """The wanted members, the roots, and everything on a way between them."""
    kept: set[int] = set(family.roots)
    for upward in (True, False):
        reached = _one_way(family, upward)
        back: dict[int, list[int]] = {}
        for tie in family.ties:
            here, there = (tie.child, tie.parent) if upward else (tie.parent, tie.child)
            if here in reached and there in reached:
                back.setdefault(there, []).append(here)
        stack = [node for node in wanted if node in reached]
        seen = set(stack)
        while stack:
            for node in back.get(stack.pop(), ()):
                if node not in seen:
                    seen.add(node)
                    stack.append(node)
        kept |= seen
    return kept


class Part(StrEnum):
    """What somebody did with a member of a family."""

    DID = "did"  # drew it, stuck it, potted it, by the entry that recorded it
    GAVE = "giver"  # it came from them
    OWNED = "owner"  # it was theirs
    SENT = "sender"  # recorded that it left
    GOT = "receiver"  # has it now


@dataclass(frozen=True, slots=True)
class Involved:
    """Somebody's part in one member.

    Attributes:
        node: The member.
        person: Their number on record.
        name: What they are called; None where they did not agree to be named.
        part: What they did.
        on: The day, as EDTF text, where it has one.
    """

    node: int
    person: int
    name: str | None
    part: Part
    on: str | None = None
