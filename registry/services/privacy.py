"""What is held of a person: shown, handed over, and emptied where the law lets them ask for it.

Name and contact, texts marked private and files kept with a person stand outside the chain, which
holds their salted hashes. Emptying takes the value and its salt, and the record goes on without a
name. What somebody typed into other words stands in the chain for good, and is told.
"""

from __future__ import annotations

import base64
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import String, cast, func, or_, select
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.rules.retention import Dealing, Dealt, Keep, must_keep
from registry.errors import EmptyName, GrowerStays, MustBeKept
from registry.services import history
from registry.services.rows import registry_row
from registry.storage import chain
from registry.storage.base import Base
from registry.storage.models import (
    Attachment,
    Blanking,
    Blob,
    ChainEntry,
    Line,
    Node,
    Note,
    Particular,
    Person,
    PersonDetail,
    Plant,
    Receipt,
    ReceiptItem,
    Release,
    ReleaseItem,
    Sealed,
)
from registry.storage.sealing import BLANKED
from registry.storage.transaction import Recording

NO_NAME = "(name blanked)"
"""What stands where a name was."""

_SHORTEST = 3  # a shorter name would be found in every other word


@dataclass(frozen=True, slots=True)
class Held:
    """What is held of a person, apart from who they are.

    Attributes:
        occurs: (what, column, how many) of every kind of record that names them.
        entries: how many entries they recorded.
        notes: texts kept with them.
        files: names of files kept with them.
        mentions: (record, column, words) where their name stands in other words.
        keep: what must be kept, and until when.
    """

    occurs: tuple[tuple[str, str, int], ...]
    entries: int
    notes: tuple[str, ...]
    files: tuple[str, ...]
    mentions: tuple[tuple[str, str, str], ...]
    keep: tuple[Keep, ...]

    @property
    def until(self) -> date | None:
        """The last day on which something must be kept, where every term runs."""
        days = [one.until for one in self.keep]
        return max((day for day in days if day), default=None) if None not in days else None


@dataclass(frozen=True, slots=True)
class Blanked:
    """What was emptied: a person's details, and how many texts and files."""

    name: str
    texts: int
    files: int
    mentions: tuple[tuple[str, str, str], ...]


def held_of(session: Session, person_id: int, today: date) -> Held:
    """What is held of a person."""
    occurs: Counter[tuple[str, str]] = Counter()
    for table, column in history.pointing_to_people():
        if table.name in ("person", "registry"):
            continue
        live = [table.c.void_seq.is_(None)] if "void_seq" in table.columns else []
        count = session.scalar(
            select(func.count()).select_from(table).where(column == person_id, *live)
        )
        if count:
            occurs[table.name, column.name] += count
    entries = session.scalar(
        select(func.count()).select_from(ChainEntry).where(ChainEntry.by_id == person_id)
    )
    return Held(
        tuple((table, column, n) for (table, column), n in sorted(occurs.items())),
        entries or 0,
        tuple(words for _, words in _texts(session, person_id)),
        tuple(name for name, _ in _files(session, person_id)),
        tuple(_mentions(session, session.get_one(PersonDetail, person_id).name)),
        tuple(_kept(session, person_id, today)),
    )


def _texts(session: Session, person_id: int) -> Iterator[tuple[Note, str]]:
    """Notes kept with a person, with their words."""
    rows = session.execute(
        select(Note, Sealed.value)
        .outerjoin(Sealed, Sealed.id == Note.sealed_id)
        .where(Note.person_id == person_id)
        .order_by(Note.id)
    )
    for note, value in rows:
        if words := note.text or value:
            yield note, words


def _files(session: Session, person_id: int) -> list[tuple[str, Blob]]:
    """Files kept with a person, that still hold something."""
    rows = session.execute(
        select(Attachment.filename, Blob)
        .join(Blob, Blob.sha256 == Attachment.blob_sha256)
        .where(Attachment.person_id == person_id, ~Blob.blanked)
        .order_by(Attachment.id)
    )
    return [(filename, blob) for filename, blob in rows]


def _mentions(session: Session, name: str) -> Iterator[tuple[str, str, str]]:
    """Where a name stands in the words of a record, which the chain holds."""
    if len(name) < _SHORTEST or name == NO_NAME:
        return
    pattern = f"%{_literal(name.lower())}%"
    for table in Base.metadata.sorted_tables:
        columns = [
            column
            for column in chain.chained_columns(table)
            if _is_words(column) and not column.foreign_keys
        ]
        if not columns:
            continue
        as_text = [cast(column, String) for column in columns]
        rows = session.execute(
            select(*table.primary_key, *as_text)
            .where(or_(*(func.lower(text).like(pattern, escape="\\") for text in as_text)))
            .order_by(*table.primary_key)
        )
        keys = len(table.primary_key)
        for row in rows:
            record = f"{table.name.replace('_', ' ')} {' '.join(str(key) for key in row[:keys])}"
            for column, words in zip(columns, row[keys:], strict=True):
                if words is not None and name.lower() in words.lower():
                    yield record, column.name, words


def _is_words(column: Any) -> bool:
    kind = type(column.type).__name__
    derived = ("_edtf", "_hash", "sha256", "key")
    return kind in ("String", "JSON") and not column.name.endswith(derived)


def _literal(text: str) -> str:
    return text.replace("\\", "\\\\").replace("%", r"\%").replace("_", r"\_")


# --- what must be kept ---------------------------------------------------------------------------


def _kept(session: Session, person_id: int, today: date) -> Iterator[Keep]:
    registry = registry_row(session)
    for dealing in _dealings(session, person_id):
        if keep := must_keep(dealing, registry.country, today):
            yield keep


def _dealings(session: Session, person_id: int) -> Iterator[Dealing]:
    person = session.get_one(Person, person_id)
    sells = bool(registry_row(session).settings.get("trade"))
    for release in session.scalars(
        select(Release)
        .where(Release.person_id == person_id, Release.void_seq.is_(None))
        .order_by(Release.id)
    ):
        trade = person.trade and (sells or release.purpose == "trade")
        about = _left_with(session, release.id)
        yield Dealing(Dealt.WENT_TO, about, release.on, _day_of(session, release.seq), trade)
    for node_id, on, seq in _came_from(session, person_id):
        code = session.get_one(Node, node_id).code
        yield Dealing(Dealt.CAME_FROM, code, on, _day_of(session, seq), sells)
    yield from _agreed(session, person_id)


def _left_with(session: Session, release_id: int) -> str:
    codes = session.scalars(
        select(Node.code)
        .join(ReleaseItem, or_(ReleaseItem.node_id == Node.id, ReleaseItem.lot_id == Node.id))
        .where(ReleaseItem.release_id == release_id)
        .order_by(Node.id)
    ).all()
    return " ".join(codes) or f"release {release_id}"


def _came_from(session: Session, person_id: int) -> Iterator[tuple[int, FuzzyDate | None, int]]:
    """(plant, day, entry) of what came from a person."""
    received = session.execute(
        select(ReceiptItem.node_id, Receipt)
        .join(Receipt, Receipt.id == ReceiptItem.receipt_id)
        .where(Receipt.person_id == person_id, Receipt.void_seq.is_(None))
        .order_by(ReceiptItem.node_id)
    )
    told = set()
    for node_id, receipt in received:
        told.add(node_id)
        yield node_id, receipt.on, receipt.seq
    for plant in session.scalars(
        select(Plant)
        .where(Plant.source_id == person_id, Plant.void_seq.is_(None))
        .order_by(Plant.node_id)
    ):
        if plant.node_id not in told:
            yield plant.node_id, plant.got, plant.seq


def _agreed(session: Session, person_id: int) -> Iterator[Dealing]:
    """What came from a person under agreed terms, with what was raised from it."""
    plants = session.execute(
        select(Plant.node_id, Particular.seq)
        .join(Particular, Particular.node_id == Plant.node_id)
        .where(
            Plant.source_id == person_id,
            Particular.what.in_(("agreed", "agreed-before")),
            Particular.void_seq.is_(None),
        )
        .order_by(Plant.node_id)
    )
    for node_id, seq in plants:
        clone = session.scalars(
            select(Plant)
            .join(Line, Line.node_id == Plant.node_id)
            .where(Line.root_id == node_id, Plant.void_seq.is_(None))
        ).all()
        lasts = any(plant.status in ("alive", "unsure") for plant in clone)
        ends = [plant.ended for plant in clone if plant.ended is not None]
        last = max(ends, key=lambda on: on.last or date.max, default=None)
        code = session.get_one(Node, node_id).code
        recorded = _day_of(session, seq)
        yield Dealing(Dealt.TERMS, code, last, recorded, lasts=lasts)


def _day_of(session: Session, seq: int) -> date:
    header = session.scalars(select(ChainEntry.header).where(ChainEntry.seq == seq)).one()
    return datetime.fromisoformat(json.loads(header)["recorded"]).date()


# --- handing over, emptying ----------------------------------------------------------------------


def export_of(session: Session, person_id: int, today: date) -> dict[str, Any]:
    """Everything that is held of a person, for a program (Reg (EU) 2016/679 Art. 15 and 20)."""
    person = session.get_one(Person, person_id)
    detail = session.get_one(PersonDetail, person_id)
    held = held_of(session, person_id, today)
    past = history.past_of(session, history.of_person(person_id))
    return {
        "kind": "ortet person",
        "version": 1,
        "person": {
            "id": str(person.uuid),
            "name": detail.name,
            "contact": detail.contact,
            "trade": person.trade,
            "share": detail.share,
        },
        "records": [
            {"table": table, "taken_back_by": void, **values}
            for table, void, values in history.rows_shown(session, history.of_person(person_id))
        ],
        "entries": [
            {"entry": one.seq, "what": one.what, "recorded": one.recorded, "by": one.by}
            for one in past
        ],
        "recorded": [
            {"entry": seq, "what": facts["what"], "recorded": facts["recorded"]}
            for seq, facts in _recorded_by(session, person_id)
        ],
        "notes": list(held.notes),
        "files": [
            {
                "name": name,
                "type": blob.type,
                "sha256": blob.sha256,
                "bytes": base64.b64encode(blob.content or b"").decode(),
            }
            for name, blob in _files(session, person_id)
        ],
        "mentions": [
            {"record": record, "column": column, "words": words}
            for record, column, words in held.mentions
        ],
        "kept": [
            {
                "what": keep.dealing.dealt.value,
                "about": keep.dealing.about,
                "until": keep.until.isoformat() if keep.until else None,
                "citation": keep.citation,
            }
            for keep in held.keep
        ],
    }


def _recorded_by(session: Session, person_id: int) -> Iterator[tuple[int, dict[str, Any]]]:
    rows = session.execute(
        select(ChainEntry.seq, ChainEntry.header)
        .where(ChainEntry.by_id == person_id)
        .order_by(ChainEntry.seq)
    )
    for seq, header in rows:
        yield seq, json.loads(header)


def blank(rec: Recording, person_id: int, reason: str) -> Blanked:
    """Empty what is held of a person outside the chain; their name is nowhere else of our making.

    The caller must have the engine forget what it held, when this stands: `storage.wiping`.

    Raises:
        EmptyName: no reason is given.
        GrowerStays: it is the grower, whose registry this is.
        MustBeKept: an authority may still ask for it.
    """
    if not reason.strip():
        raise EmptyName("a reason")
    session = rec.session
    detail = session.get_one(PersonDetail, person_id)
    if registry_row(session).grower_id == person_id:
        raise GrowerStays(detail.name)
    held = held_of(session, person_id, rec.today)
    if held.keep:
        raise MustBeKept(detail.name, held.until, held.keep)
    name = detail.name
    texts = 0
    for note, _ in list(_texts(session, person_id)):
        if note.sealed_id is not None:
            sealed = session.get_one(Sealed, note.sealed_id)
            sealed.value, sealed.salt = "", BLANKED
            rec.add(Blanking(note_id=note.id, reason=reason))
            texts += 1
    files = 0
    for _, blob in _files(session, person_id):
        if not _also_elsewhere(session, blob.sha256, person_id):
            blob.content, blob.blanked = None, True
            files += 1
    detail.name, detail.key, detail.contact, detail.salt = NO_NAME, "", None, BLANKED
    rec.add(Blanking(person_id=person_id, reason=reason))
    rec.flush()
    return Blanked(name, texts, files, held.mentions)


def _also_elsewhere(session: Session, sha256: str, person_id: int) -> bool:
    """Whether a file is kept with something else as well."""
    other = select(Attachment.id).where(
        Attachment.blob_sha256 == sha256,
        Attachment.void_seq.is_(None),
        or_(Attachment.person_id.is_(None), Attachment.person_id != person_id),
    )
    return session.scalar(other.limit(1)) is not None
