"""What came with a plant, or is known of it, that a verdict reads: label, terms, supplier."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.errors import NoSubject
from registry.services.resolve import Target
from registry.storage.models import Node, Particular, Question
from registry.storage.transaction import Recording

ANSWERS = {
    "supplier": ("B8",),
    "distinct": ("B13",),
    "not-the-variety": ("B11",),
    "cites": ("E3",),
    "no-cultivar": ("B36", "C12"),
}
"""The open questions that a particular answers, by row."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One particular: `what` it is, a fixed word, and what was said.

    The words: `label-forbids`, `notice`, `pending` (territory), `agreed` and `agreed-before`
    (`no-copies`, `copies-free` or nothing), `supplier` (`licensed`, `unlicensed`), `bought-in`
    (territory), `giver-made`, `no-right` (who answered so, on a day), `ground` (`public`, `group`,
    `us-national-park`), `cites` (`listed`, `not-listed`), `distinct`, `not-the-variety`,
    `no-cultivar`, `apomictic`, `for-release`.
    """

    what: str
    value: str | None = None
    said: str | None = None
    on: FuzzyDate | None = None


@dataclass(frozen=True, slots=True)
class FactShown:
    """A particular on record, and on which plant or lot."""

    code: str
    fact: Fact


@dataclass(frozen=True, slots=True)
class Noted:
    """What was written down, and how many open questions that answered."""

    facts: tuple[FactShown, ...]
    settled: int


def note_facts(rec: Recording, target: Target, facts: Sequence[Fact]) -> Noted:
    """Write particulars down on the plants named, or on lots; the newest word of each counts.

    Raises:
        NoSubject: what was named is neither plant nor lot.
    """
    nodes = target.plants or target.lots
    if not nodes:
        raise NoSubject(target.text, "fact")
    for node in nodes:
        for fact in facts:
            rec.add(
                Particular(
                    node_id=node, what=fact.what, value=fact.value, said=fact.said, on=fact.on
                )
            )
    rows = {row for fact in facts for row in ANSWERS.get(fact.what, ())}
    questions = rec.session.scalars(
        select(Question).where(
            Question.node_id.in_(nodes),
            Question.row.in_(rows),
            Question.settled_seq.is_(None),
            Question.void_seq.is_(None),
        )
    ).all()
    for question in questions:
        question.settled_seq = rec.seq
        question.how = "recorded"
    rec.flush()
    codes = {node: rec.session.get_one(Node, node).code for node in nodes}
    rec.last = list(codes.values())
    shown = tuple(FactShown(codes[node], fact) for node in nodes for fact in facts)
    return Noted(shown, len(questions))


def known_facts(session: Session, target: Target) -> tuple[FactShown, ...]:
    """The particulars on record of what is named, oldest first."""
    rows = session.execute(
        select(Node.code, Particular)
        .join(Particular, Particular.node_id == Node.id)
        .where(Node.id.in_((*target.plants, *target.lots)), Particular.void_seq.is_(None))
        .order_by(Particular.id)
    ).all()
    return tuple(FactShown(code, Fact(row.what, row.value, row.said, row.on)) for code, row in rows)
