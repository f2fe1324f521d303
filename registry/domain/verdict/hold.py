"""C23: a hold on the plant, its line, its batch or its place."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from registry.domain.spans import Span
from registry.domain.verdict.facts import RELEASES, Act, Hold, Question, Stops
from registry.domain.verdict.findings import (
    Ask,
    Finding,
    Level,
    Record,
    RecordKind,
    Settle,
)
from registry.domain.verdict.walk import Case, Reached, Subject

_STOPS_ACT = {
    Act.PROPAGATE: Stops.PROPAGATING,
    Act.MOVE: Stops.MOVING,
    Act.END: Stops.ENDING,
    **dict.fromkeys(RELEASES, Stops.LEAVING),
}


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """Every hold in force that reaches the asked node."""
    question = case.dossier.question
    for hold in case.dossier.holds:
        if not _in_force(hold, question.day):
            continue
        reached = next((r for r in subject.line if _reaches(case, hold, r)), None)
        if reached is not None:
            found = _finding(question, subject, hold, reached)
            if found is not None:
                yield found


def _in_force(hold: Hold, day: Span) -> bool:
    return hold.since.first <= day.last and (hold.lifted is None or day.first < hold.lifted.last)


def _reaches(case: Case, hold: Hold, reached: Reached) -> bool:
    """Whether a hold lies on this node of the line; only with `descent` on an ancestor."""
    if not reached.itself and not hold.descent:
        return False
    record = case.plant(reached.node) or case.lot(reached.node)
    if hold.node is not None:
        return hold.node == reached.node
    if record is None:
        return False
    if hold.accession is not None:
        return hold.accession == record.accession
    return reached.itself and hold.place in record.places


def _finding(question: Question, subject: Subject, hold: Hold, reached: Reached) -> Finding | None:
    level, changes = Level.BARRED, None
    if question.act is Act.KEEP:  # B46: what a hold says of keeping is up to its authority
        level = Level.CONDITIONAL
    elif _STOPS_ACT[question.act] not in hold.stops:
        return None
    elif question.act is Act.END and question.order:  # destruction under an order
        level = Level.CLEAR if question.witness else Level.CONDITIONAL
    if hold.lifted is not None and hold.lifted.last != date.max:
        changes = hold.lifted.last
    return Finding(
        row="C23",
        level=level,
        plant=reached.node if hold.node is not None else subject.seat,
        record=Record(RecordKind.HOLD, hold.id),
        citation=hold.authority or "the grower's own hold",
        changes_on=changes,
        settle=Settle.NAME_ORDER if question.act is Act.END else Settle.LIFT_HOLD,
        ask=Ask.AUTHORITY if hold.authority else None,
        certain=reached.certain,
        fields=(
            ("order", question.order),
            ("authority", hold.authority),
            ("reason", hold.reason),
            ("on", _lies_on(hold, reached)),
        ),
    )


def _lies_on(hold: Hold, reached: Reached) -> str:
    """What a hold lies on, as seen from the asked plant: itself, its line, its batch, its place."""
    if hold.place is not None:
        return "place"
    if hold.accession is not None:
        return "batch"
    return "plant" if reached.itself else "line"
