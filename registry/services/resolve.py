"""From what a grower types to the records that it means.

A code, a short form, `last`, an own number, or a half-read tag: each comes to a `Target`, which
says what stands behind it. What then counts (open lots, living plants) is for the act to say.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from registry.domain.codes import (
    ByCode,
    ByText,
    Code,
    CodeKind,
    CodeWidths,
    HalfRead,
    Last,
    lot_index,
    parse_reference,
)
from registry.domain.names import matching_key
from registry.errors import CodeUnknown, NothingLast, SeveralMeant
from registry.storage.models import Accession, Alias, Batch, ChainEntry, Lot, Node, Registry


class TargetKind(Enum):
    """What a reference stands for."""

    PLANT = "plant"
    LOT = "lot"
    BATCH = "batch"
    GROUP = "group"  # a founder accession with several plants, picked plants, or several codes


@dataclass(frozen=True, slots=True)
class Target:
    """The records behind a reference.

    Attributes:
        kind: What it stands for.
        plants: Node ids of the plants that it names itself.
        lots: Node ids of the lots that it names, open or not.
        accession_id: Of the batch, lot or single plant.
        text: As typed, or the code.
    """

    kind: TargetKind
    plants: tuple[int, ...]
    lots: tuple[int, ...]
    accession_id: int | None
    text: str


def registry_row(session: Session) -> Registry:
    """The registry's own row."""
    return session.get_one(Registry, 1)


def widths(session: Session) -> CodeWidths:
    """The widths chosen at `init`."""
    row = registry_row(session)
    return CodeWidths(row.number_width, row.plant_width)


def resolve(session: Session, text: str, *, today: date, by_id: int | None = None) -> Target:
    """What `text` stands for.

    Raises:
        CodeUnknown: no such code or number, with the recorded codes one slip away.
        SeveralMeant: a half-read tag, or a number that several records have.
        NothingLast: `last` before anything was recorded.
    """
    chosen = widths(session)
    reference = parse_reference(text, chosen, today.year)
    match reference:
        case Last():
            return _last(session, chosen, today, by_id)
        case HalfRead(typed, codes):
            recorded = _recorded(session, codes)
            if len(recorded) == 1:
                return _by_code(session, recorded[0], recorded[0].text)
            raise SeveralMeant(typed, tuple(code.text for code in recorded))
        case ByCode():
            return _typed_code(session, reference)
        case ByText(typed, _, problem):
            owners = _aliased(session, typed)
            if len(owners) == 1:
                return owners[0]
            if owners:
                raise SeveralMeant(typed, tuple(codes_of(session, owner) for owner in owners))
            slips = problem.candidates if problem else ()
            near = _recorded(session, [Code.parse(code, chosen) for code in slips])
            raise CodeUnknown(typed, tuple(code.text for code in near), problem)


def resolve_all(
    session: Session, texts: Sequence[str], *, today: date, by_id: int | None = None
) -> Target:
    """Several references as one target; a single one keeps its kind."""
    targets = [resolve(session, text, today=today, by_id=by_id) for text in texts]
    if len(targets) == 1:
        return targets[0]
    plants = tuple(dict.fromkeys(p for target in targets for p in target.plants))
    lots = tuple(dict.fromkeys(lot for target in targets for lot in target.lots))
    return Target(TargetKind.GROUP, plants, lots, None, " ".join(texts))


def accession_code(session: Session, accession_id: int) -> str:
    """The code of an accession: a batch's or a founder's number."""
    row = session.get_one(Accession, accession_id)
    return Code(row.year % 100, row.number, widths=widths(session)).text


def batch_of(session: Session, lot: Lot) -> Batch:
    """The batch that a lot stands in."""
    return session.get_one(Batch, lot.batch_id)


def lots_of_batch(session: Session, accession_id: int) -> list[Lot]:
    """Every lot of a batch, in the order of their letters."""
    rows = session.scalars(
        select(Lot).where(Lot.batch_id == accession_id, Lot.void_seq.is_(None))
    ).all()
    return sorted(rows, key=lambda lot: lot_index(lot.letter))


def codes_of(session: Session, target: Target) -> str:
    """The code that a target is best named by."""
    if target.kind is TargetKind.PLANT and target.plants:
        return session.get_one(Node, target.plants[0]).code
    if target.kind is TargetKind.LOT and target.lots:
        return session.get_one(Node, target.lots[0]).code
    return accession_code(session, target.accession_id) if target.accession_id else target.text


def target_of_node(session: Session, node: Node) -> Target:
    """The target that is this one plant or lot."""
    if node.kind == "lot":
        return Target(TargetKind.LOT, (), (node.id,), node.accession_id, node.code)
    return Target(TargetKind.PLANT, (node.id,), (), node.accession_id, node.code)


def target_of_accession(session: Session, accession: Accession, text: str) -> Target:
    """What an accession stands for: its batch, its one plant, or its plants together."""
    if accession.kind == "batch":
        lots = tuple(lot.node_id for lot in lots_of_batch(session, accession.id))
        return Target(TargetKind.BATCH, (), lots, accession.id, text)
    plants = tuple(
        session.scalars(
            select(Node.id)
            .where(Node.accession_id == accession.id, Node.kind == "plant")
            .order_by(Node.id)
        )
    )
    kind = TargetKind.PLANT if len(plants) == 1 else TargetKind.GROUP
    return Target(kind, plants, (), accession.id, text)


def _typed_code(session: Session, reference: ByCode) -> Target:
    if reference.short:
        aliased = _aliased(session, reference.typed)
        by_number = _accession(session, reference.code) is not None
        if aliased and not by_number:
            if len(aliased) == 1:
                return aliased[0]
            raise SeveralMeant(
                reference.typed, tuple(codes_of(session, target) for target in aliased)
            )
    found = [_by_code(session, code, reference.typed) for code in reference.codes]
    if len(found) == 1:
        return found[0]
    plants = tuple(target.plants[0] for target in found)
    return Target(TargetKind.GROUP, plants, (), found[0].accession_id, reference.typed)


def _by_code(session: Session, code: Code, typed: str) -> Target:
    if code.kind is CodeKind.ACCESSION:
        accession = _accession(session, code)
        if accession is None:
            raise CodeUnknown(typed, (), None)
        bound = _aliased(session, code.text) if accession.kind == "blank" else []
        return bound[0] if bound else target_of_accession(session, accession, code.text)
    node = session.scalars(select(Node).where(Node.code == code.text)).one_or_none()
    if node is None:
        raise CodeUnknown(typed, (), None)
    return target_of_node(session, node)


def _accession(session: Session, code: Code) -> Accession | None:
    # The code carries two digits of the year; the century is the newest that has such a number.
    rows = session.scalars(
        select(Accession)
        .where(Accession.year % 100 == code.year, Accession.number == code.number)
        .order_by(Accession.year.desc())
    )
    return rows.first()


def _recorded(session: Session, codes: Sequence[Code]) -> list[Code]:
    """Those of `codes` that the registry has."""
    found = []
    for code in codes:
        if code.kind is CodeKind.ACCESSION:
            known = _accession(session, code) is not None
        else:
            known = session.scalar(select(Node.id).where(Node.code == code.text)) is not None
        if known:
            found.append(code)
    return found


def _aliased(session: Session, typed: str) -> list[Target]:
    """The records that have `typed` as a number of their own, from whoever gave it."""
    rows = session.scalars(
        select(Alias).where(Alias.key == matching_key(typed), Alias.void_seq.is_(None))
    ).all()
    targets: dict[tuple[int | None, int | None], Target] = {}
    for row in rows:
        if row.node_id is not None:
            target = target_of_node(session, session.get_one(Node, row.node_id))
        else:
            accession = session.get_one(Accession, row.accession_id)
            target = target_of_accession(session, accession, typed)
            if target.kind is TargetKind.BATCH and len(target.lots) == 1:
                target = Target(TargetKind.LOT, (), target.lots, target.accession_id, typed)
        targets[row.node_id, row.accession_id] = target
    return list(targets.values())


def _last(session: Session, chosen: CodeWidths, today: date, by_id: int | None) -> Target:
    """What this person's latest recording made or, if it made nothing, was about."""
    newest = session.execute(
        select(ChainEntry.header)
        .where(
            ChainEntry.by_id.is_(None) if by_id is None else ChainEntry.by_id == by_id,
            func.json_extract(ChainEntry.header, "$.last").is_not(None),
        )
        .order_by(ChainEntry.seq.desc())
        .limit(1)
    ).scalar()
    if newest is None:
        raise NothingLast
    codes: list[str] = json.loads(newest)["last"]
    targets = [_by_code(session, Code.parse(code, chosen), code) for code in codes]
    if len(targets) == 1:
        return targets[0]
    plants = tuple(dict.fromkeys(p for target in targets for p in target.plants))
    lots = tuple(dict.fromkeys(lot for target in targets for lot in target.lots))
    accession_ids = {target.accession_id for target in targets}
    one = accession_ids.pop() if len(accession_ids) == 1 else None
    return Target(TargetKind.GROUP, plants, lots, one, "last")
