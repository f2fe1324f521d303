"""A family folded into the boxes of a chart: the pots of a lot in one, more where it is large.

Nothing is left out without a word: what is summed is counted in the box that stands for it, and
what is not drawn is said at the foot of the chart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from registry.domain.dates import FuzzyDate
from registry.domain.family import Family, Member, Tie, positions
from registry.domain.methods import Role

FEW = 3
"""So many pots of a lot, or batches of a plant, still have a box each."""

MOST_BOXES = 400
"""A chart with more boxes is folded further."""

_METHODS = {
    "cutting": "cuttings",
    "graft": "grafts",
    "topwork": "grafts",
    "layer": "layers",
    "division": "divisions",
    "offset": "offsets",
    "tissue": "plants in tissue culture",
    "seed": "seeds",
}
_STATUS = {"alive": "standing", "unsure": "standing, not sure", "rootstock": "used as rootstock"}


_ONWARD = {
    "scion": "scion of",
    "rootstock": "rootstock of",
    "interstock": "interstock of",
    "seed parent": "seed parent of",
    "pollen parent": "pollen parent of",
    "split": "split into",
    "merged": "merged into",
    "again": "set again as",
    "came back": "came back as",
    "part of": "bears",
}
"""What a parent is to its child, said in the parent's box; a plain source needs no word."""


class Shape(Enum):
    """What a box is, told by its outline as well as by its words."""

    PLANT = "plant"
    LOT = "lot"
    LEFT = "left"
    ENDED = "ended"
    MANY = "many"  # batches
    PLANTS = "plants"  # several, alike


@dataclass(frozen=True, slots=True)
class Box:
    """One box of a chart.

    Attributes:
        id: Of the node it stands for, or of the first of several.
        shape: Its outline.
        code: What it is headed with: the first and the last code where it stands for several.
        name: What it is called; empty where the box before it says the same.
        words: What there is to say below, line by line.
        asked: Whether the chart is about it.
        verdict, act: An answer to `may`, where it was asked for: a level, and for which act.
    """

    id: int
    shape: Shape
    code: str
    name: str
    words: tuple[str, ...]
    asked: bool = False
    verdict: str | None = None
    act: str | None = None


@dataclass(frozen=True, slots=True)
class Link:
    """A line from box to box; not certain where the parent is one of several."""

    parent: int
    child: int
    certain: bool = True


@dataclass(frozen=True, slots=True)
class Chart:
    """What is drawn.

    Attributes:
        title: What the chart is about.
        boxes: By the id of each.
        links: From left to right.
        foot: What a reader should know: what was summed or not drawn.
    """

    title: str
    boxes: Mapping[int, Box]
    links: tuple[Link, ...]
    foot: tuple[str, ...] = ()


def fold(
    family: Family,
    title: str,
    *,
    verdicts: Mapping[str, str] | None = None,
    act: str | None = None,
    most: int = MOST_BOXES,
) -> Chart:
    """The chart of a detailed family, with at most about `most` boxes.

    Args:
        family: What to draw.
        title: What the chart is about.
        verdicts: Levels of a verdict by code, to be shown with the boxes.
        act: Of which act.
        most: When to sum up more than the pots of a lot.
    """
    folder = _Folder(family, verdicts or {}, act)
    folder.sum_alike()
    folder.sum_pots(FEW)
    if len(folder.kept) > most:
        folder.sum_pots(0)
    if len(folder.kept) > most:
        folder.sum_lots()
    if len(folder.kept) > most:
        folder.cut(most)
    return folder.chart(title)


@dataclass(slots=True)
class _Sum:
    """What a box stands for besides itself."""

    pots: Counter[str] = field(default_factory=Counter)
    beyond: int = 0


class _Folder:
    def __init__(self, family: Family, verdicts: Mapping[str, str], act: str | None) -> None:
        self.family = family
        self.verdicts, self.act = verdicts, act
        self.kept = set(family.members)
        self.sums: dict[int, _Sum] = {}
        self.many: dict[int, list[int]] = {}
        self.foot: list[str] = []
        self.above: dict[int, list[Tie]] = {}
        self.below: dict[int, list[Tie]] = {}
        for tie in family.ties:
            self.above.setdefault(tie.child, []).append(tie)
            self.below.setdefault(tie.parent, []).append(tie)

    def _sum(self, node: int) -> _Sum:
        return self.sums.setdefault(node, _Sum())

    def _leaf(self, node: int) -> bool:
        return node not in self.family.roots and not any(
            tie.child in self.kept for tie in self.below.get(node, ())
        )

    def sum_pots(self, few: int) -> None:
        """Pots that lead no further are counted in the box of the lot that raised them."""
        for node in [n for n in self.kept if self.family.members[n].kind == "lot"]:
            pots = [
                tie.child
                for tie in self.below.get(node, ())
                if tie.child in self.kept
                and self.family.members[tie.child].kind == "plant"
                and self._leaf(tie.child)
                and len(self.above[tie.child]) == 1
            ]
            if len(pots) <= few:
                continue
            for pot in pots:
                member = self.family.members[pot]
                self._sum(node).pots[standing_words(member)] += member.count or 1
            self.kept.difference_update(pots)

    def sum_alike(self) -> None:
        """Plants alike that nothing is known above of, and that lead to the same, are one box."""
        groups: dict[tuple[object, ...], list[int]] = {}
        for node in sorted(self.kept):
            member = self.family.members[node]
            if member.kind == "plant" and node not in self.family.roots and node not in self.above:
                onward = frozenset((t.child, t.role, t.certain) for t in self.below.get(node, ()))
                key = (member.name, standing_words(member), member.place, member.went_on, onward)
                groups.setdefault(key, []).append(node)
        for plants in groups.values():
            if len(plants) > FEW:
                first, *others = plants
                self.many[first] = plants
                self.kept.difference_update(others)

    def sum_lots(self) -> None:
        """Lots that lead no further, of the same parents, stand in one box together."""
        groups: dict[tuple[tuple[int, str], ...], list[int]] = {}
        for node in sorted(self.kept):
            if self.family.members[node].kind == "lot" and self._leaf(node):
                parents = tuple(sorted((t.parent, t.role) for t in self.above.get(node, ())))
                groups.setdefault(parents, []).append(node)
        for lots in groups.values():
            if len(lots) <= FEW:
                continue
            first, *others = lots
            total = self._sum(first)
            for lot in others:
                total.pots.update(self.sums.get(lot, _Sum()).pots)
            self.many[first] = lots
            self.kept.difference_update(others)
        if any(self.family.members[first].kind == "lot" for first in self.many):
            self.foot.append("Batches of one plant that lead no further stand in one box, summed.")

    def cut(self, most: int) -> None:
        """Draw the generations nearest to what was asked; count the rest where they begin."""
        places = positions(self.family)
        near = sorted(self.kept, key=lambda node: (abs(places[node].depth), node))
        edge = abs(places[near[most]].depth) if len(near) > most else 0
        drawn = {node for node in near if abs(places[node].depth) < edge} or set(near[:1])
        if edge <= 1:
            drawn |= set(near[:most])
        cut = self.kept - drawn
        lots = sum(len(self.many.get(n, (n,))) for n in cut if self.family.members[n].kind == "lot")
        plants = sum(
            sum(self.family.members[one].count or 1 for one in self.many.get(n, (n,)))
            for n in cut
            if self.family.members[n].kind == "plant"
        ) + sum(sum(self.sums[n].pots.values()) for n in cut if n in self.sums)
        for node in drawn:
            further = [t.child for t in self.below.get(node, ()) if t.child in cut]
            self._sum(node).beyond = len(further)
        self.kept = drawn
        self.foot.append(
            f"Not drawn, for want of room: {plants:,} more plants in {lots:,} batches further on. "
            "A box that says 'goes on' leads to them; 'ortet trace --as csv' lists them all."
        )

    def chart(self, title: str) -> Chart:
        """The boxes and lines that are left."""
        boxes = {node: self._box(node) for node in sorted(self.kept)}
        links = tuple(
            Link(tie.parent, tie.child, tie.certain)
            for tie in self.family.ties
            if tie.parent in self.kept and tie.child in self.kept
        )
        return Chart(title, boxes, links, tuple(self.foot))

    def _box(self, node: int) -> Box:
        member = self.family.members[node]
        total = self.sums.get(node, _Sum())
        several = self.many.get(node)
        words: list[str]
        if several is not None and member.kind == "lot":
            words, shape = [f"{len(several)} batches"], Shape.MANY
        elif several is not None:
            words, shape = [f"{len(several)} plants", *_plant_words(member)], Shape.PLANTS
        elif member.kind == "lot":
            words, shape = _lot_words(member), Shape.LOT
        else:
            words, shape = _plant_words(member), _shape(member)
        if total.pots:
            words += _pot_words(total.pots, self._pots_drawn(node))
        if member.unsaid and member.kind == "lot":
            words.append(f"{member.unsaid} of them gone, not said which")
        words += self._onward(node, several is not None)
        if total.beyond:
            words.append(f"goes on: {total.beyond} more")
        if node in self.family.roots:
            words.insert(0, "the chart is about this one")
        return Box(
            node,
            shape,
            f"{member.code} to {self.family.members[several[-1]].code}" if several else member.code,
            "" if self._said_before(member) else member.name,
            tuple(words),
            node in self.family.roots,
            self.verdicts.get(member.code),
            self.act,
        )

    def _pots_drawn(self, lot: int) -> int:
        """How many plants of a lot have a box of their own."""
        return sum(
            self.family.members[tie.child].count or 1
            for tie in self.below.get(lot, ())
            if tie.role == Role.RAISED and tie.child in self.kept
        )

    def _onward(self, node: int, several: bool) -> list[str]:
        """What a box is to those after it, where that is not plain."""
        found: dict[str, list[str]] = {}
        for tie in self.below.get(node, ()):
            words = _ONWARD.get(tie.role, "" if tie.certain else "perhaps parent of")
            if words and tie.child in self.kept:
                if not tie.certain and several:
                    words = f"one of them {_ONWARD.get(tie.role, 'parent of')}"
                elif not tie.certain and tie.role in _ONWARD:
                    words = f"perhaps {words}"
                found.setdefault(words, []).append(self.family.members[tie.child].code)
        return [
            f"{words} {codes[0] if len(codes) == 1 else f'{len(codes)} others'}"
            for words, codes in found.items()
        ]

    def _said_before(self, member: Member) -> bool:
        """A lot is called what its parents are: the boxes before it say so."""
        parents = [t.parent for t in self.above.get(member.id, ()) if t.parent in self.kept]
        return member.kind == "lot" and any(
            self.family.members[parent].name == member.name for parent in parents
        )


def standing_words(member: Member) -> str:
    """How a plant stands, in a word or two: the key by which pots are counted together."""
    return member.went or _STATUS.get(member.status, member.status)


def _shape(member: Member) -> Shape:
    if member.went is None:
        return Shape.PLANT
    return Shape.LEFT if member.released else Shape.ENDED


def _plant_words(member: Member) -> list[str]:
    words = []
    if member.date:
        words.append(f"raised {_day(member.date, member)}")
    if member.went is not None:
        when = f" {_day(member.went_on)}" if member.went_on else ""
        words.append(f"{member.went}{when}")
    else:
        words.append(_STATUS.get(member.status, member.status))
        if member.place:
            words.append(f"at: {member.place}")
    if (member.count or 1) > 1:
        words.append(f"{member.count} in one pot")
    return words


def _lot_words(member: Member) -> list[str]:
    what = _METHODS.get(member.how or "", "pieces")
    words = [f"{member.opening} {what}" if member.opening else what]
    if member.date:
        words[0] += f", {_day(member.date, member)}"
    if member.count:
        words.append(f"{member.count} still in the bench")
    elif member.status == "taken, not stuck":
        words.append("not stuck yet")
    return words


def _pot_words(pots: Counter[str], drawn: int) -> list[str]:
    total = sum(pots.values())
    order = sorted(pots.items(), key=lambda part: (part[0] not in _STATUS.values(), part[0]))
    parts = ", ".join(f"{n} {status}" for status, n in order)
    shown = f", {drawn} shown beside" if drawn else ""
    return [f"{total + drawn} potted: {parts}{shown}"]


def _day(edtf: str, member: Member | None = None) -> str:
    bounds = (member.first, member.last) if member else (None, None)
    return FuzzyDate(edtf, *bounds).display()
