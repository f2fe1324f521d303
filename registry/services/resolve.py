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
from typing import Any

from sqlalchemy import Row, text
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


def widths(session: Session) -> CodeWidths:
    """The widths chosen at `init`, which stay: a session asks for them once."""
    known: CodeWidths | None = session.info.get(widths)
    if known is None:
        row = session.execute(_WIDTHS).one()
        known = session.info[widths] = CodeWidths(row.number_width, row.plant_width)
    return known


def resolve(session: Session, typed: str, *, today: date, by_id: int | None = None) -> Target:
    """What `typed` stands for.

    Raises:
        CodeUnknown: no such code or number, with the recorded codes one slip away.
        SeveralMeant: a half-read tag, or a number that several records have.
        NothingLast: `last` before anything was recorded.
    """
    chosen = widths(session)
    reference = parse_reference(typed, chosen, today.year)
    match reference:
        case Last():
            return _last(session, chosen, by_id)
        case HalfRead(codes=codes):
            recorded = _recorded(session, codes)
            if len(recorded) == 1:
                return _by_code(session, recorded[0], recorded[0].text)
            raise SeveralMeant(typed, tuple(code.text for code in recorded))
        case ByCode():
            return _typed_code(session, reference)
        case ByText(problem=problem):
            owners = _aliased(session, typed)
            if len(owners) == 1:
                return owners[0]
            if owners:
                raise SeveralMeant(typed, tuple(codes_of(session, owner) for owner in owners))
            slips = problem.candidates if problem else ()
            near = _recorded(session, [Code.parse(code, chosen) for code in slips])
            _, colon, picked = typed.partition(":")
            raise CodeUnknown(
                typed,
                # What was picked of a batch stays picked.
                tuple(
                    f"{code.text}{colon}{picked}" if code.kind is CodeKind.ACCESSION else code.text
                    for code in near
                ),
                problem,
            )


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
    """The code of an accession: a batch's or a founder's number. It never changes."""
    known = _codes_known(session)
    if accession_id not in known:
        row = session.execute(_ACCESSION_BY_ID, {"id": accession_id}).one()
        known[accession_id] = _code_of(session, row)
    return known[accession_id]


def _codes_known(session: Session) -> dict[int, str]:
    """The codes of accessions that a session was told already."""
    known: dict[int, str] = session.info.setdefault(accession_code, {})
    return known


def _code_of(session: Session, accession: Row[Any]) -> str:
    return Code(accession.year % 100, accession.number, widths=widths(session)).text


def codes_of(session: Session, target: Target) -> str:
    """The code that a target is best named by."""
    single = {TargetKind.PLANT: target.plants, TargetKind.LOT: target.lots}.get(target.kind)
    if single:
        return str(session.execute(_CODE_OF_NODE, {"id": single[0]}).scalar_one())
    return accession_code(session, target.accession_id) if target.accession_id else target.text


# Plain statements, not mapped rows: an answer needs no mapper, and mapping is slow to load.
_WIDTHS = text("SELECT number_width, plant_width FROM registry WHERE id = 1")
_ACCESSION_BY_ID = text("SELECT id, year, number, kind FROM accession WHERE id = :id")
_ACCESSION_BY_NUMBER = text(
    "SELECT id, year, number, kind FROM accession"
    " WHERE year % 100 = :year AND number = :number ORDER BY year DESC LIMIT 1"
)
_CODE_OF_NODE = text("SELECT code FROM node WHERE id = :id")
_NODE_BY_CODE = text("SELECT id, kind, code, accession_id FROM node WHERE code = :code")
_LOTS_OF_BATCH = text(
    "SELECT node_id, letter, EXISTS (SELECT 1 FROM edge WHERE edge.child_id = lot.node_id"
    " AND edge.role = 'split' AND edge.void_seq IS NULL) AS split_off"
    " FROM lot WHERE batch_id = :accession AND void_seq IS NULL"
)
_PLANTS_OF_ACCESSION = text(
    "SELECT id FROM node WHERE accession_id = :accession AND kind = 'plant' ORDER BY id"
)
_ALIASES = text(
    "SELECT alias.node_id, coalesce(node.id, accession.id) AS id,"
    " coalesce(node.kind, accession.kind) AS kind, node.code, node.accession_id,"
    " accession.year, accession.number FROM alias"
    " LEFT JOIN node ON node.id = alias.node_id"
    " LEFT JOIN accession ON accession.id = alias.accession_id"
    " WHERE alias.key = :key AND alias.void_seq IS NULL ORDER BY alias.id"
)
_LAST_BY_GROWER = text(
    "SELECT header FROM chain_entry WHERE by_id IS NULL"
    " AND json_extract(header, '$.last') IS NOT NULL ORDER BY seq DESC LIMIT 1"
)
_LAST_BY_PERSON = text(
    "SELECT header FROM chain_entry WHERE by_id = :by"
    " AND json_extract(header, '$.last') IS NOT NULL ORDER BY seq DESC LIMIT 1"
)


def _node_target(node: Row[Any]) -> Target:
    """The target that is this one plant or lot."""
    if node.kind == "lot":
        return Target(TargetKind.LOT, (), (node.id,), node.accession_id, node.code)
    return Target(TargetKind.PLANT, (node.id,), (), node.accession_id, node.code)


def _accession_target(
    session: Session, accession: Row[Any], typed: str, *, first: bool = False
) -> Target:
    """What an accession stands for: its batch, its one plant, or its plants together.

    `first` means the first lot of a batch: a number given to a batch of one lot stays that lot's,
    when others were split off since.
    """
    given = {"accession": accession.id}
    _codes_known(session)[accession.id] = _code_of(session, accession)
    if accession.kind == "batch":
        rows = session.execute(_LOTS_OF_BATCH, given).all()
        whole = [row.node_id for row in rows if not row.split_off]
        if first and len(whole) == 1:
            return Target(TargetKind.LOT, (), tuple(whole), accession.id, typed)
        lots = tuple(row.node_id for row in sorted(rows, key=lambda row: lot_index(row.letter)))
        return Target(TargetKind.BATCH, (), lots, accession.id, typed)
    plants = tuple(session.execute(_PLANTS_OF_ACCESSION, given).scalars())
    kind = TargetKind.PLANT if len(plants) == 1 else TargetKind.GROUP
    return Target(kind, plants, (), accession.id, typed)


def _typed_code(session: Session, reference: ByCode) -> Target:
    if reference.short and _accession(session, reference.code) is None:
        aliased = _aliased(session, reference.typed)
        if len(aliased) == 1:
            return aliased[0]
        if aliased:
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
        # A tag that was numbered ahead stands for what it was bound to.
        bound = _aliased(session, code.text) if accession.kind == "blank" else []
        return bound[0] if bound else _accession_target(session, accession, code.text)
    node = session.execute(_NODE_BY_CODE, {"code": code.text}).one_or_none()
    if node is None:
        raise CodeUnknown(typed, (), None)
    return _node_target(node)


def _accession(session: Session, code: Code) -> Row[Any] | None:
    # The code carries two digits of the year; the century is the newest that has such a number.
    given = {"year": code.year, "number": code.number}
    return session.execute(_ACCESSION_BY_NUMBER, given).one_or_none()


def _recorded(session: Session, codes: Sequence[Code]) -> list[Code]:
    """Those of `codes` that the registry has."""
    found = []
    for code in codes:
        if code.kind is CodeKind.ACCESSION:
            known = _accession(session, code) is not None
        else:
            known = session.execute(_NODE_BY_CODE, {"code": code.text}).first() is not None
        if known:
            found.append(code)
    return found


def _aliased(session: Session, typed: str) -> list[Target]:
    """The records that have `typed` as a number of their own, from whoever gave it."""
    rows = session.execute(_ALIASES, {"key": matching_key(typed)}).all()
    targets: dict[tuple[bool, int], Target] = {}
    for row in rows:
        if row.node_id is not None:
            target = _node_target(row)
        else:
            target = _accession_target(session, row, typed, first=True)
        targets[row.node_id is None, row.id] = target
    return list(targets.values())


def _last(session: Session, chosen: CodeWidths, by_id: int | None) -> Target:
    """What this person's latest recording made or, if it made nothing, was about."""
    newest = (
        session.execute(_LAST_BY_GROWER)
        if by_id is None
        else session.execute(_LAST_BY_PERSON, {"by": by_id})
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
