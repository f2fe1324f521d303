"""Labels that were ordered, printed and replaced; blank tags; which labels are out of date.

An act and the labels it orders are one transaction; the file is drawn afterwards from what was
ordered, and a second small transaction says that it was printed. A label's exact text is kept.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar, cast

from sqlalchemy import Table, func, select
from sqlalchemy.orm import Session

from registry.domain.codes import ByCode, CodeKind, parse_reference
from registry.domain.names import matching_key
from registry.domain.payload import PayloadKind
from registry.errors import NotATag, TagBound
from registry.labels.stocks import Buried, Kind, Stock, default_stock, find_stock, own_stock
from registry.labels.text import (
    LabelKind,
    LabelText,
    label_from_json,
    label_to_json,
    pencil_lines,
)
from registry.services import making
from registry.services.label_text import Subject, Wanted, label_texts
from registry.services.naming import names_of
from registry.services.resolve import Target, TargetKind, accession_code, widths
from registry.services.rows import registry_row
from registry.storage import lineage_queries as lineage
from registry.storage.models import Accession, Alias, LabelPrint, Lot, Node, Plant
from registry.storage.transaction import Recording
from registry.wording.labels import look_again

T = TypeVar("T")

ORDERED, PRINTED, REPLACED = "ordered", "printed", "replaced"
STANDING = {"alive", "unsure", "rootstock"}
"""What a plant is while a label on it makes sense."""

NO_SYMBOL = "none"
AT_ONCE = 1000
"""How many labels are read or written together, so that memory stays flat."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """Labels as they would be printed, of which nothing is recorded yet.

    Attributes:
        subjects: What each stands on.
        labels: Their texts, in the same order.
        stock: The stock they are for.
        payload: What their symbols carry, as a word.
        left_out: Codes of plants that are no longer here, which get none.
    """

    subjects: tuple[Subject, ...]
    labels: tuple[LabelText, ...]
    stock: Stock
    payload: str
    left_out: tuple[str, ...] = ()

    def sorted_by(self, order: str) -> Prepared:
        """The same labels as given, or by `code`, or by `name` and then code."""
        if order == "given":
            return self
        pairs = sorted(
            zip(self.subjects, self.labels, strict=True),
            key=lambda pair: (_name_key(pair[1]) if order == "name" else "", pair[1].code),
        )
        return replace(
            self,
            subjects=tuple(subject for subject, _ in pairs),
            labels=tuple(label for _, label in pairs),
        )


@dataclass(frozen=True, slots=True)
class Ordered:
    """Labels that were ordered, to be drawn now or later.

    Attributes:
        ids: Of the `label_print` rows, in the order of printing.
        labels: Their texts, in the same order.
        stock: The stock they are drawn on.
        left_out: Codes of plants that are no longer here, which got none.
    """

    ids: tuple[int, ...]
    labels: tuple[LabelText, ...]
    stock: Stock
    left_out: tuple[str, ...] = ()

    def without(self, codes: Collection[str]) -> Ordered:
        """The same order without the labels of some codes."""
        kept = [
            (row_id, label)
            for row_id, label in zip(self.ids, self.labels, strict=True)
            if label.code not in codes
        ]
        return replace(
            self,
            ids=tuple(row_id for row_id, _ in kept),
            labels=tuple(label for _, label in kept),
        )


@dataclass(frozen=True, slots=True)
class Stale:
    """A label that would say something else today: the lines that it has and should have."""

    id: int
    code: str
    stock: str
    payload: str
    gone: tuple[str, ...]
    come: tuple[str, ...]


def _name_key(label: LabelText) -> str:
    return matching_key("".join(run.text for run in label.runs))


def subjects_of(
    session: Session, targets: Sequence[Target]
) -> tuple[tuple[Subject, ...], tuple[str, ...]]:
    """What gets a label: a plant its own, a batch or lot one card, a group one each.

    Of several plants those that are no longer here get none; their codes are the second answer.
    """
    found: dict[Subject, None] = {}
    left_out: dict[str, None] = {}
    rows = lineage.nodes(session, {node for target in targets for node in target.plants})
    for target in targets:
        if target.kind is TargetKind.BATCH:
            found[Subject(accession_id=target.accession_id)] = None
            continue
        if not target.plants and not target.lots and target.accession_id is not None:
            found[Subject(accession_id=target.accession_id)] = None  # a tag set aside
        for node_id in target.plants:
            if len(target.plants) > 1 and rows[node_id].status not in STANDING:
                left_out[rows[node_id].code] = None
            else:
                found[Subject(node_id)] = None
        for node_id in target.lots:
            found[_card_of(session, node_id, target.lots)] = None
    return tuple(found), tuple(left_out)


def _card_of(session: Session, lot_id: int, lots: Collection[int]) -> Subject:
    """A lot's own card, or that of its batch where all of the batch was named or is the lot."""
    batch_id = session.get_one(Lot, lot_id).batch_id
    all_lots = session.scalars(
        select(Lot.node_id).where(Lot.batch_id == batch_id, Lot.void_seq.is_(None))
    ).all()
    whole = set(all_lots) <= set(lots)
    return Subject(accession_id=batch_id) if whole else Subject(lot_id)


def prepare_labels(
    session: Session,
    targets: Sequence[Target],
    wanted: Wanted | None = None,
    *,
    stock: str | None = None,
) -> Prepared:
    """The labels of some targets as they would be printed today; nothing is recorded.

    Args:
        session: Open on the registry.
        targets: What they are for.
        wanted: What is asked beside the record; plain payload if nothing.
        stock: The name of the stock; the usual one of the registry's country if not said.

    Raises:
        UnknownStock: there is none of that name.
        SiteMissing, BadSite: addresses are asked for and the settings have no fit site.
    """
    subjects, left_out = subjects_of(session, targets)
    return _prepared(session, subjects, wanted or Wanted(), stock, left_out)


def order_labels(
    rec: Recording,
    targets: Sequence[Target],
    wanted: Wanted | None = None,
    *,
    stock: str | None = None,
) -> Ordered:
    """Prepare labels and order them at once, for an act that makes plants; see `prepare_labels`."""
    rec.flush()
    prepared = prepare_labels(rec.session, targets, wanted, stock=stock)
    return order_prepared(rec, prepared)


def order_prepared(rec: Recording, prepared: Prepared) -> Ordered:
    """Write down the exact text of each label, to be drawn when this is committed."""
    first = (rec.session.scalar(select(func.max(LabelPrint.id))) or 0) + 1
    ids = tuple(range(first, first + len(prepared.labels)))
    for some in _chunks(tuple(zip(ids, prepared.subjects, prepared.labels, strict=True))):
        rows = []
        for row_id, subject, label in some:
            text = label_to_json(label)
            rows.append(
                {
                    "id": row_id,
                    "node_id": subject.node_id,
                    "accession_id": subject.accession_id,
                    "stock": prepared.stock.name,
                    "payload": prepared.payload,
                    "text": text,
                    "text_hash": hashlib.sha256(text.encode()).hexdigest(),
                    "status": ORDERED,
                }
            )
        rec.bulk(cast("Table", LabelPrint.__table__), rows)
    return Ordered(ids, prepared.labels, prepared.stock, prepared.left_out)


def _prepared(
    session: Session,
    subjects: Sequence[Subject],
    wanted: Wanted,
    stock: str | None,
    left_out: tuple[str, ...] = (),
) -> Prepared:
    labels: list[LabelText] = []
    for some in _chunks(subjects):
        labels += label_texts(session, some, wanted)
    cards = any(label.kind is LabelKind.BATCH for label in labels)
    return Prepared(
        tuple(subjects),
        tuple(labels),
        choose_stock(session, stock, cards=cards),
        wanted.payload.value if wanted.payload else NO_SYMBOL,
        left_out,
    )


def waiting(session: Session, *, stock: str | None = None) -> list[Ordered]:
    """Labels that were ordered and never drawn, by stock, as they were ordered.

    Args:
        session: Open on the registry.
        stock: Draw them on another stock than they were ordered on.
    """
    rows = session.scalars(
        select(LabelPrint)
        .where(LabelPrint.status == ORDERED, LabelPrint.void_seq.is_(None))
        .order_by(LabelPrint.id)
    ).all()
    by_stock: dict[str, list[LabelPrint]] = {}
    for row in rows:
        by_stock.setdefault(stock or row.stock, []).append(row)
    return [
        Ordered(
            tuple(row.id for row in some),
            tuple(label_from_json(row.text) for row in some),
            choose_stock(session, name, cards=False),
        )
        for name, some in by_stock.items()
    ]


def mark_printed(rec: Recording, ids: Sequence[int]) -> int:
    """Say that labels were drawn; earlier ones of the same kind on the same thing are replaced.

    Returns:
        How many earlier labels are replaced.
    """
    replaced = 0
    for some in _chunks(ids):
        rows = rec.session.scalars(select(LabelPrint).where(LabelPrint.id.in_(some))).all()
        for row in rows:
            row.status = PRINTED
        nodes = {row.node_id for row in rows if row.node_id is not None}
        accessions = {row.accession_id for row in rows if row.accession_id is not None}
        earlier = rec.session.scalars(
            select(LabelPrint).where(
                (LabelPrint.node_id.in_(nodes)) | (LabelPrint.accession_id.in_(accessions)),
                LabelPrint.status != REPLACED,
                LabelPrint.void_seq.is_(None),
            )
        ).all()
        newest = {_place(row): row.id for row in sorted(rows, key=lambda row: row.id)}
        for row in earlier:
            if row.id < newest.get(_place(row), 0):
                row.status = REPLACED
                replaced += 1
        rec.flush()
    return replaced


def _place(row: LabelPrint) -> tuple[int | None, int | None, LabelKind]:
    """What a label stands on and what for: a newer one there takes its place."""
    return row.node_id, row.accession_id, label_from_json(row.text).kind


def stale_labels(session: Session) -> list[Stale]:
    """Printed labels of what is still here that would say something else today.

    Prices and lines that were typed for one printing stay as they were typed.
    """
    rows = session.scalars(
        select(LabelPrint)
        .outerjoin(Plant, Plant.node_id == LabelPrint.node_id)
        .where(
            LabelPrint.status == PRINTED,
            LabelPrint.void_seq.is_(None),
            (Plant.node_id.is_(None)) | (Plant.status.in_(STANDING)),
        )
        .order_by(LabelPrint.id)
    ).all()
    groups: dict[tuple[LabelKind, str], list[tuple[LabelPrint, LabelText]]] = {}
    for row in rows:
        label = label_from_json(row.text)
        groups.setdefault((label.kind, row.payload), []).append((row, label))
    found: list[Stale] = []
    for (kind, payload), some in groups.items():
        if kind in (LabelKind.BLANK, LabelKind.PASSPORT):  # a passport is never changed
            continue
        wanted = Wanted(payload=_payload(payload), kind=kind)
        for chunk in _chunks(some):
            subjects = [Subject(row.node_id, row.accession_id) for row, _ in chunk]
            now = label_texts(session, subjects, wanted)
            for (row, then), label in zip(chunk, now, strict=True):
                found += _compared(row, then, label)
    return sorted(found, key=lambda stale: stale.id)


def _compared(row: LabelPrint, then: LabelText, now: LabelText) -> list[Stale]:
    before, after = _recorded_lines(then), _recorded_lines(now)
    gone = tuple(line for line in before if line not in after)
    come = tuple(line for line in after if line not in before)
    if not gone and not come:
        return []
    return [Stale(row.id, then.code, row.stock, row.payload, gone, come)]


def _recorded_lines(label: LabelText) -> tuple[str, ...]:
    """What a label says from the record, without what was typed for one printing.

    A next look moves from week to week; a card is not out of date for that.
    """
    lines = tuple(line for line in label.lines if not line.startswith(look_again("")))
    return pencil_lines(replace(label, heading="", typed=(), lines=lines))


def _payload(word: str) -> PayloadKind | None:
    return None if word == NO_SYMBOL else PayloadKind(word)


# --- blank tags ----------------------------------------------------------------------------------


def reserve_tags(
    rec: Recording, count: int, wanted: Wanted | None = None, *, stock: str | None = None
) -> Ordered:
    """Set numbers aside and order their tags, for a bench without a signal.

    Raises:
        WidthUsedUp: the year has not that many numbers left.
    """
    ids = [making.next_accession(rec, "blank").id for _ in range(count)]
    subjects = [Subject(accession_id=i) for i in ids]
    prepared = _prepared(rec.session, subjects, wanted or Wanted(), stock)
    return order_prepared(rec, prepared)


@dataclass(frozen=True, slots=True)
class Bound:
    """A tag and what it stands on now, with its name."""

    tag: str
    code: str
    name: str


def bind_tag(rec: Recording, tag: str, target: Target) -> Bound:
    """Say which plant, lot or batch a tag written ahead stands on; its number becomes an alias.

    Args:
        rec: The recording.
        tag: The tag's number, whole or in short.
        target: What it stands on.

    Raises:
        NotATag: the number is no blank tag's, or the target means several things.
        TagBound: the tag stands on something already.
    """
    session = rec.session
    code = _blank_tag(session, tag, rec.today)
    bound = bound_to(session, code)
    if bound is not None:
        raise TagBound(code, bound)
    node_ids = target.plants or target.lots
    if target.kind is TargetKind.BATCH and target.accession_id is not None:
        making.alias(rec, code, accession_id=target.accession_id)
        on = accession_code(session, target.accession_id)
        node_ids = target.lots
    elif len(node_ids) == 1:
        making.alias(rec, code, node_id=node_ids[0])
        on = session.get_one(Node, node_ids[0]).code
    else:
        raise NotATag(target.text)
    rec.flush()
    rec.last = [on]
    names = dict.fromkeys(name.shown for name in names_of(session, node_ids).values())
    return Bound(code, on, " / ".join(names))


def _blank_tag(session: Session, tag: str, today: date) -> str:
    """The whole code of a blank tag."""
    reference = parse_reference(tag, widths(session), today.year)
    if not isinstance(reference, ByCode) or reference.code.kind is not CodeKind.ACCESSION:
        raise NotATag(tag)
    code = reference.code
    known = session.scalar(
        select(Accession.id).where(
            Accession.year % 100 == code.year,
            Accession.number == code.number,
            Accession.kind == "blank",
        )
    )
    if known is None:
        raise NotATag(tag)
    return code.text


def bound_to(session: Session, tag: str) -> str | None:
    """The code of what a tag stands on, or None."""
    row = session.scalars(select(Alias).where(Alias.text == tag, Alias.void_seq.is_(None))).first()
    if row is None:
        return None
    if row.node_id is not None:
        return session.get_one(Node, row.node_id).code
    return accession_code(session, row.accession_id or 0)


# --- stocks --------------------------------------------------------------------------------------


def choose_stock(session: Session, name: str | None, *, cards: bool) -> Stock:
    """The stock of that name, the grower's own or ours; without a name the usual one.

    Raises:
        UnknownStock: there is none of that name.
    """
    registry = registry_row(session)
    if name is None:
        return default_stock(registry.country, cards=cards)
    own = {stock.name: stock for stock in own_stocks(session)}
    return own.get(name.strip().lower()) or find_stock(name, tuple(own))


def own_stocks(session: Session) -> tuple[Stock, ...]:
    """The stocks that the grower has described."""
    kept = registry_row(session).settings.get("stocks", {})
    return tuple(_kept_stock(name, numbers) for name, numbers in sorted(kept.items()))


def keep_stock(rec: Recording, stock: Stock) -> None:
    """Keep a stock of the grower's own; one of the same name is replaced."""
    registry = registry_row(rec.session)
    numbers = {
        "page": [stock.page_width, stock.page_height],
        "label": [stock.label_width, stock.label_height],
        "grid": [stock.columns, stock.rows],
        "margins": [stock.left, stock.top],
        "pitch": [stock.pitch_x, stock.pitch_y],
        "kind": stock.kind.value,
        "buried": stock.buried.value,
        "cut_lines": stock.cut_lines,
    }
    stocks = {**registry.settings.get("stocks", {}), stock.name: numbers}
    registry.settings = {**registry.settings, "stocks": stocks}
    rec.flush()


def _kept_stock(name: str, numbers: dict[str, object]) -> Stock:
    kept = dict(numbers)
    kind, buried = Kind(kept.pop("kind")), Buried(kept.pop("buried"))
    pairs = {key: tuple(value) if isinstance(value, list) else value for key, value in kept.items()}
    return own_stock(name, kind=kind, buried=buried, **pairs)  # type: ignore[arg-type]  # as kept


def _chunks(items: Sequence[T]) -> Iterator[Sequence[T]]:
    for start in range(0, len(items), AT_ONCE):
        yield items[start : start + AT_ONCE]
