"""Recalls: everything exposed is listed, held, worked through by several people, and closed."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.recalls import (
    BY_COUNT,
    ENDED,
    LEFT,
    Found,
    Line,
    LotSum,
    More,
    Pool,
    Recalled,
    Tick,
    Why,
    Widened,
    unaccounted,
)
from registry.errors import (
    EmptyName,
    MoreThanLine,
    NotInRecall,
    RecallClosed,
    RecallComplete,
    RecallEmpty,
    RecallNotSaid,
    RecallOutdated,
    RecordUnknown,
    TickOfSeveral,
)
from registry.services import exposure, people, tools
from registry.services.exposure import Exposed
from registry.services.naming import names_of
from registry.services.records import living_plants
from registry.services.resolve import Target, accession_code
from registry.storage import lineage_queries as lineage
from registry.storage.models import (
    Hold,
    Lot,
    Node,
    Place,
    Recall,
    RecallHold,
    RecallItem,
    RecallTick,
)
from registry.storage.transaction import Recording

HELD = ("leaving", "moving", "propagating")
"""What a recall's hold stops; what is found sick can still be destroyed."""


@dataclass(frozen=True, slots=True)
class Starting:
    """What a recall begins with: exactly one of the first five.

    Attributes:
        target: Plants, a lot or a batch.
        place: The name of a place; `on` is needed.
        supplier: The name of a person.
        tool, tray: The grower's name for a knife or a tray; `on` is needed.
        on: The day of exposure.
        reason: Why it is started.
        steps: How many contacts are followed.
        back: Follow what the start came from, with all that came of it.
        hold: Lay a hold on everything that stands.
    """

    reason: str
    target: Target | None = None
    place: str | None = None
    supplier: str | None = None
    tool: str | None = None
    tray: str | None = None
    on: FuzzyDate | None = None
    steps: int = 1
    back: bool = False
    hold: bool = False


# --- starting ------------------------------------------------------------------------------------


def start(rec: Recording, starting: Starting) -> Recalled:
    """Record a recall with everything that is exposed, and lay its holds.

    Raises:
        RecallEmpty: nothing on record is exposed.
        PlaceUnknown, PersonUnknown, ToolUnknown: there is no such place, person, tool or tray.
        RecallNotSaid: it is not said what it is about, or on which day.
        EmptyName: no reason is given.
    """
    if not starting.reason.strip():
        raise EmptyName("a reason")
    kind, subject, place_id, person_id, begins = _begins(rec.session, starting)
    if not begins:
        raise RecallEmpty(subject, starting.on.display() if starting.on else None)
    circle = exposure.circle(
        rec.session, begins, steps=starting.steps, back=starting.back, day=starting.on
    )
    row = rec.add(
        Recall(
            uuid=rec.new_id(),
            kind=kind,
            subject=subject,
            place_id=place_id,
            person_id=person_id,
            on=starting.on,
            steps=starting.steps,
            back=starting.back,
            reason=starting.reason,
            opened=FuzzyDate.of(rec.today),
        )
    )
    rec.flush()
    exposed = _in_order(circle.exposed.values())
    _write_items(rec, row.id, exposed, _left_by_count(rec.session, exposed, back=row.back))
    if starting.hold:
        _lay_holds(rec, row, exposed)
    places_asked = starting.place is not None or starting.steps > 0
    unplaced = circle.unplaced if places_asked else 0
    found = replace(recalled(rec.session, row.id), unplaced=unplaced)
    rec.last = _begun_with(found)
    return found


def _begins(
    session: Session, starting: Starting
) -> tuple[str, str, int | None, int | None, list[Exposed]]:
    if starting.target is not None:
        target = starting.target
        nodes = (*target.plants, *target.lots)
        begins = [Exposed(node, 0, Why.START) for node in nodes]
        return target.kind.value, target.text, None, None, begins
    if starting.place is not None:
        if starting.on is None:
            raise RecallNotSaid("place", starting.place)
        begins = exposure.place_start(session, starting.place, starting.on)
        return "place", starting.place, people.find_place(session, starting.place), None, begins
    if starting.supplier is not None:
        person = people.person_named(session, starting.supplier)
        begins = exposure.supplier_start(session, person, starting.on)
        return "supplier", starting.supplier, None, person, begins
    for kind, name in ((tools.TOOL, starting.tool), (tools.TRAY, starting.tray)):
        if name is not None:
            if starting.on is None:
                raise RecallNotSaid("tool", name)
            begins = exposure.tool_start(session, kind, name, starting.on)
            return kind, tools.tool_named(session, name, kind).name, None, None, begins
    raise RecallNotSaid("nothing", "")


def _in_order(exposed: Iterable[Exposed]) -> list[Exposed]:
    return sorted(exposed, key=lambda one: (one.why is Why.SOURCE, one.step, one.node))


def _write_items(
    rec: Recording,
    recall_id: int,
    exposed: Sequence[Exposed],
    shares: Sequence[tuple[int, Exposed, Why]],
) -> None:
    key = int(rec.session.scalar(select(func.coalesce(func.max(RecallItem.id), 0))) or 0)
    last = int(
        rec.session.scalar(
            select(func.coalesce(func.max(RecallItem.line), 0)).where(
                RecallItem.recall_id == recall_id
            )
        )
        or 0
    )
    rows: list[dict[str, Any]] = []
    for one in exposed:
        rows.append(
            {
                "node_id": one.node,
                "release_item_id": None,
                "step": one.step,
                "why": one.why.value,
                "via_id": one.via,
                "widened": [word.value for word in one.widened],
            }
        )
    for item, one, why in shares:
        rows.append(
            {
                "node_id": None,
                "release_item_id": item,
                "step": one.step,
                "why": why.value,
                "via_id": one.node,
                "widened": [Widened.WHICH.value],
            }
        )
    for number, row in enumerate(rows, 1):
        row |= {"id": key + number, "recall_id": recall_id, "line": last + number}
    rec.bulk(RecallItem.__table__, rows)  # type: ignore[arg-type]  # a mapped class has a table


_BY_COUNT = text(
    f"""
    WITH near(lot_id, pot_id) AS (
        SELECT lot.node_id, NULL FROM lot WHERE lot.node_id IN {lineage.IDS}
        UNION ALL
        SELECT edge.parent_id, min(edge.child_id) FROM edge
        JOIN plant ON plant.node_id = edge.child_id AND plant.void_seq IS NULL
            AND plant.status NOT IN ({lineage.GONE_SQL})
        WHERE edge.child_id IN {lineage.IDS} AND edge.role = 'raised' AND edge.void_seq IS NULL
        GROUP BY edge.parent_id
    )
    SELECT item.id, near.lot_id, near.pot_id FROM near
    JOIN release_item item ON item.lot_id = near.lot_id AND item.void_seq IS NULL
    UNION ALL
    SELECT item.id, near.lot_id, near.pot_id FROM near
    JOIN lot ON lot.node_id = near.lot_id
    JOIN release_item item ON item.batch_id = lot.batch_id AND item.void_seq IS NULL
    WHERE near.pot_id IS NOT NULL
    ORDER BY 1, 2, 3
    """  # noqa: S608 - a constant of ours
)
"""What left by count of exposed lots, and of lots and batches with exposed pots that stand."""


def _left_by_count(
    session: Session, exposed: Iterable[Exposed], *, back: bool
) -> list[tuple[int, Exposed, Why]]:
    """Shares that left by count, each with a lot or pot through which it is exposed.

    Of an exposed lot all came; else an exposed pot that stands by its code may be among them.
    """
    nodes = {one.node: one for one in exposed if back or one.why is not Why.SOURCE}
    found: dict[int, tuple[Exposed, Why]] = {}
    for item, lot, pot in session.connection().execute(_BY_COUNT, lineage.as_parameter(nodes)):
        if lot in nodes:
            found.setdefault(item, (nodes[lot], Why.DESCENT))
        elif pot in nodes:
            found.setdefault(item, (nodes[pot], Why.AMONG))
    return [(item, one, why) for item, (one, why) in found.items()]


def _lay_holds(rec: Recording, recall: Recall, exposed: Sequence[Exposed]) -> int:
    """One hold for each batch of which all that stands is exposed, one for each other plant.

    What a hold of the recall lies on already gets no other. Gives how many were laid.
    """
    nodes = {one.node for one in exposed if recall.back or one.why is not Why.SOURCE}
    standing = [
        (node, accession)
        for node, accession, status, left in rec.session.connection().execute(
            _STANDING, lineage.as_parameter(nodes)
        )
        if status not in LEFT | ENDED and left != 0
    ]
    whole = _whole_batches(rec.session, nodes)
    subjects: list[dict[str, int]] = [
        {"accession_id": accession}
        for accession in sorted({accession for _, accession in standing} & whole)
    ]
    subjects += [{"node_id": node} for node, accession in standing if accession not in whole]
    held = rec.session.execute(
        select(Hold.accession_id, Hold.node_id)
        .join(RecallHold, RecallHold.hold_id == Hold.id)
        .where(RecallHold.recall_id == recall.id, Hold.lifted_seq.is_(None))
    ).all()
    before = {(one, None) for one, _ in held if one} | {(None, one) for _, one in held if one}
    subjects = [
        one for one in subjects if (one.get("accession_id"), one.get("node_id")) not in before
    ]
    for subject in subjects:
        hold = rec.add(
            Hold(
                **subject,
                descent=True,
                stops=list(HELD),
                reason=f"recall {recall.id}: {recall.reason}",
                from_=FuzzyDate.of(rec.today),
            )
        )
        rec.flush()
        rec.add(RecallHold(recall_id=recall.id, hold_id=hold.id))
    rec.flush()
    return len(subjects)


_STANDING = text(
    f"""
    SELECT node.id, node.accession_id, plant.status, lot.in_bench FROM node
    LEFT JOIN plant ON plant.node_id = node.id LEFT JOIN lot ON lot.node_id = node.id
    WHERE node.id IN {lineage.IDS} AND coalesce(plant.status, '') <> 'rootstock'
    ORDER BY node.id
    """  # noqa: S608 - a constant of ours
)
_WHOLE = text(
    f"""
    SELECT node.accession_id, count(*),
           count(CASE WHEN node.id IN {lineage.IDS} THEN 1 END) FROM node
    JOIN accession ON accession.id = node.accession_id AND accession.kind = 'batch'
    LEFT JOIN plant ON plant.node_id = node.id LEFT JOIN lot ON lot.node_id = node.id
    WHERE node.accession_id IN (SELECT accession_id FROM node WHERE id IN {lineage.IDS})
      AND coalesce(plant.status, '') NOT IN ({lineage.GONE_SQL}) AND coalesce(lot.in_bench, 1) <> 0
    GROUP BY node.accession_id
    """  # noqa: S608 - a constant of ours
)


def _whole_batches(session: Session, nodes: Collection[int]) -> set[int]:
    rows = session.connection().execute(_WHOLE, lineage.as_parameter(nodes))
    return {accession for accession, all_, inside in rows if all_ == inside}


_OVERLAPS = text(
    """
    SELECT other.recall_id, count(DISTINCT other.node_id) FROM recall_item mine
    JOIN recall_item other ON other.node_id = mine.node_id AND other.recall_id <> mine.recall_id
    JOIN recall ON recall.id = other.recall_id
    WHERE mine.recall_id = :recall AND other.void_seq IS NULL AND recall.void_seq IS NULL
      AND recall.closed_seq IS NULL
    GROUP BY other.recall_id ORDER BY other.recall_id
    """
)


def _overlaps(session: Session, recall_id: int) -> tuple[tuple[int, int], ...]:
    """Other open recalls that list some of the same plants and lots, and how many."""
    rows = session.connection().execute(_OVERLAPS, {"recall": recall_id})
    return tuple((other, n) for other, n in rows)


# --- what has come to be exposed since -----------------------------------------------------------


def more(rec: Recording, recall_id: int, *, hold: bool) -> Recalled:
    """List what has come to be exposed since a recall was listed, on lines after those it has.

    What was potted, cut or sold of it since, what came back, and what a later entry tells of the
    time before. Where holds of the recall stand, or with `hold`, what stands is held.

    Raises:
        RecordUnknown: there is no such recall.
        RecallClosed: it is closed.
        RecallComplete: there is nothing to list, and nothing to hold.
    """
    row = _open(rec.session, recall_id)
    exposed, shares, all_ = _unlisted(rec.session, row)
    held = rec.session.scalar(
        select(Hold.id)
        .join(RecallHold, RecallHold.hold_id == Hold.id)
        .where(RecallHold.recall_id == recall_id, Hold.lifted_seq.is_(None))
        .limit(1)
    )
    _write_items(rec, recall_id, exposed, shares)
    laid = _lay_holds(rec, row, all_) if hold or (exposed and held is not None) else 0
    if not exposed and not shares and not laid:
        raise RecallComplete(recall_id)
    found = recalled(rec.session, recall_id)
    new = {one.node for one in exposed}
    rec.last = [
        node.code for node in rec.session.scalars(select(Node).where(Node.id.in_(new)))
    ] or _begun_with(found)
    return found


def _unlisted(
    session: Session, row: Recall
) -> tuple[list[Exposed], list[tuple[int, Exposed, Why]], list[Exposed]]:
    """Nodes and shares that are exposed and have no line yet; and all that is exposed."""
    listed = session.execute(
        select(RecallItem.node_id, RecallItem.release_item_id, RecallItem.why).where(
            RecallItem.recall_id == row.id, RecallItem.void_seq.is_(None)
        )
    ).all()
    nodes = {node for node, _, _ in listed}
    items = {item for _, item, _ in listed}
    begins = [Exposed(node, 0, Why.START) for node, _, why in listed if node and why == Why.START]
    if row.place_id is not None and row.on is not None:
        name = session.get_one(Place, row.place_id).name
        begins = exposure.place_start(session, name, row.on)
    elif row.person_id is not None:
        begins = exposure.supplier_start(session, row.person_id, row.on)
    elif row.kind in (tools.TOOL, tools.TRAY) and row.on is not None:
        begins = exposure.tool_start(session, row.kind, row.subject, row.on)
    circle = exposure.circle(session, begins, steps=row.steps, back=row.back, day=row.on)
    all_ = _in_order(circle.exposed.values())
    exposed = [one for one in all_ if one.node not in nodes]
    shares = [
        share for share in _left_by_count(session, all_, back=row.back) if share[0] not in items
    ]
    return exposed, shares, all_


def _more(session: Session, row: Recall) -> More:
    """How much has come to be exposed since; nothing where no entry has been made but findings."""
    if row.closed_seq is not None or not _entries_since(session, row.id):
        return More()
    exposed, shares, _ = _unlisted(session, row)
    kinds = lineage.nodes(session, {one.node for one in exposed})
    lots = sum(node.kind == "lot" for node in kinds.values())
    pots = (
        session.execute(_HOW_MANY, lineage.as_parameter(item for item, _, _ in shares)).scalar()
        or 0
    )
    return More(len(kinds) - lots, lots, int(pots))


_HOW_MANY = text(
    f"SELECT sum(item.n) FROM release_item item WHERE item.id IN {lineage.IDS}"  # noqa: S608 - a constant of ours
)
_SINCE = text(
    """
    SELECT EXISTS (
        SELECT 1 FROM chain_entry entry WHERE entry.seq > (
            SELECT max(item.seq) FROM recall_item item WHERE item.recall_id = :recall)
        AND NOT EXISTS (SELECT 1 FROM recall_tick tick WHERE tick.seq = entry.seq))
    """
)


def _entries_since(session: Session, recall_id: int) -> bool:
    return bool(session.connection().execute(_SINCE, {"recall": recall_id}).scalar())


# --- working through it --------------------------------------------------------------------------


def tick(
    rec: Recording,
    recall_id: int,
    what: Found,
    *,
    targets: Sequence[Target] = (),
    lines: Sequence[int] = (),
    n: int | None = None,
    note: str | None = None,
    on: FuzzyDate,
) -> tuple[Line, ...]:
    """Write down what was found of some lines; earlier findings stay beside.

    Raises:
        RecordUnknown: there is no such recall.
        RecallClosed: it is closed.
        NotInRecall: a plant or a line is not in it.
        TickOfSeveral: a number is given for several lines.
        MoreThanLine: the number is more than the line has.
    """
    recall = _open(rec.session, recall_id)
    items = _items_meant(rec.session, recall, targets, lines)
    if n is not None:
        _check_number(rec.session, recall_id, items, n)
    for item in items:
        rec.add(RecallTick(item_id=item.id, what=what.value, n=n, note=note, on=on))
    rec.flush()
    numbers = {item.line for item in items}
    shown = tuple(one for one in recalled(rec.session, recall_id).lines if one.line in numbers)
    rec.last = list(dict.fromkeys(line.code for line in shown))
    return shown


def _check_number(session: Session, recall_id: int, items: Sequence[RecallItem], n: int) -> None:
    if len(items) > 1:
        raise TickOfSeveral(recall_id, n, len(items))
    line = items[0].line
    most = next(one.n for one in recalled(session, recall_id).lines if one.line == line)
    if most is not None and n > most:
        raise MoreThanLine(recall_id, line, n, most)


def _items_meant(
    session: Session, recall: Recall, targets: Sequence[Target], lines: Sequence[int]
) -> list[RecallItem]:
    found: dict[int, RecallItem] = {}
    base = select(RecallItem).where(
        RecallItem.recall_id == recall.id, RecallItem.void_seq.is_(None)
    )
    for target in targets:
        nodes = (*target.plants, *target.lots)
        if target.lots and target.accession_id is not None and not target.plants:
            # A batch or lot stands for what is left of it here, in the bench and in pots: what
            # somebody else has, they did not look at.
            nodes = (*_in_bench(session, target.lots), *living_plants(session, target))
        items = session.scalars(base.where(RecallItem.node_id.in_(nodes))).all()
        if not items:
            raise NotInRecall(recall.id, target.text)
        found |= {item.id: item for item in items}
    for number in lines:
        one = session.scalars(base.where(RecallItem.line == number)).one_or_none()
        if one is None:
            raise NotInRecall(recall.id, f"line {number}")
        found[one.id] = one
    if not found:
        raise RecallNotSaid("tick", str(recall.id))
    return list(found.values())


def _in_bench(session: Session, lots: Collection[int]) -> list[int]:
    return [node for node in lots if session.get_one(Lot, node).in_bench != 0]


@dataclass(frozen=True, slots=True)
class Closing:
    """What closing a recall said: the recall, what is unaccounted for, the holds lifted."""

    recall: Recalled
    unaccounted: tuple[Line, ...]
    lifted: int


def close(rec: Recording, recall_id: int, *, finding: str, on: FuzzyDate, lift: bool) -> Closing:
    """Close a recall with what was found; what is unaccounted for is named, not tidied away.

    Raises:
        RecordUnknown: there is no such recall.
        RecallClosed: it was closed before.
        EmptyName: nothing is said of what was found.
        RecallOutdated: more has come to be exposed, and is not listed.
    """
    if not finding.strip():
        raise EmptyName("a finding")
    recall = _open(rec.session, recall_id)
    since = _more(rec.session, recall)
    if since:
        raise RecallOutdated(recall_id, since.plants, since.lots, since.pots)
    recall.closed, recall.closed_seq, recall.finding = on, rec.seq, finding
    rec.flush()
    lifted = 0
    if lift:
        holds = rec.session.scalars(
            select(Hold)
            .join(RecallHold, RecallHold.hold_id == Hold.id)
            .where(RecallHold.recall_id == recall_id, Hold.lifted_seq.is_(None))
        ).all()
        for hold in holds:
            hold.lifted, hold.lifted_seq = on, rec.seq
        lifted = len(holds)
        rec.flush()
    shown = recalled(rec.session, recall_id)
    rec.last = _begun_with(shown)
    return Closing(shown, unaccounted(shown.lines), lifted)


def _begun_with(recall: Recalled) -> list[str]:
    """The codes that a recall is about."""
    return [line.code for line in recall.lines if line.why is Why.START and line.kind != BY_COUNT]


def _open(session: Session, recall_id: int) -> Recall:
    row = _row(session, recall_id)
    if row.closed_seq is not None:
        raise RecallClosed(recall_id, row.closed.display() if row.closed else "")
    return row


def _row(session: Session, recall_id: int) -> Recall:
    row = session.get(Recall, recall_id)
    if row is None or row.void_seq is not None:
        raise RecordUnknown("recall", str(recall_id))
    return row


# --- showing -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RecallLine:
    """A recall as a list shows it."""

    id: int
    kind: str
    subject: str
    on: str | None
    reason: str
    opened: str
    closed: str | None
    lines: int


def recalls(session: Session) -> tuple[RecallLine, ...]:
    """Every recall, the newest first."""
    rows = session.execute(
        select(Recall, func.count(RecallItem.id))
        .join(RecallItem, RecallItem.recall_id == Recall.id, isouter=True)
        .where(Recall.void_seq.is_(None))
        .group_by(Recall.id)
        .order_by(Recall.id.desc())
    )
    return tuple(
        RecallLine(
            row.id,
            row.kind,
            row.subject,
            row.on.display() if row.on else None,
            row.reason,
            row.opened.display() if row.opened else "",
            row.closed.display() if row.closed else None,
            n,
        )
        for row, n in rows
    )


_ITEMS = text(
    """
    SELECT item.id, item.line, item.node_id, node.kind, node.code, item.step, item.why, via.code,
           item.widened, plant.status, plant.plants, lot.in_bench, lot.opening_kind,
           coalesce(own.name, (
               SELECT place.name FROM stay JOIN place ON place.id = stay.place_id
               WHERE stay.accession_id = node.accession_id AND stay.void_seq IS NULL
                 AND stay.until_edtf IS NULL ORDER BY stay.id DESC LIMIT 1)),
           plant.ended_edtf, share.id, share.n, share.lot_id, share.batch_id, release.kind,
           release.on_edtf, detail.name, detail.contact, item.via_id
    FROM recall_item item
    LEFT JOIN node ON node.id = item.node_id
    LEFT JOIN node via ON via.id = item.via_id
    LEFT JOIN plant ON plant.node_id = item.node_id
    LEFT JOIN lot ON lot.node_id = item.node_id
    LEFT JOIN place own ON own.id = plant.place_id
    LEFT JOIN release_item share ON share.void_seq IS NULL AND
        (share.id = item.release_item_id OR share.node_id = item.node_id)
    LEFT JOIN release ON release.id = share.release_id AND release.void_seq IS NULL
    LEFT JOIN person_detail detail ON detail.person_id = release.person_id
    WHERE item.recall_id = :recall AND item.void_seq IS NULL
      AND (item.node_id IS NOT NULL OR share.id IS NOT NULL)  -- a sale may be taken back
    ORDER BY item.line
    """
)
_KIND = {"sell": "sold", "give": "given", "swap": "swapped"}


def recalled(session: Session, recall_id: int) -> Recalled:
    """A recall with every line, as the record stands now.

    Raises:
        RecordUnknown: there is no such recall.
    """
    row = _row(session, recall_id)
    items = session.connection().execute(_ITEMS, {"recall": recall_id}).all()
    ticks = _ticks(session, recall_id)
    nodes = [item[2] for item in items if item[2] is not None]
    lots_of_shares = [item[-1] for item in items if item[2] is None]
    names = names_of(session, [*nodes, *lots_of_shares])
    lines = _with_back(
        session, nodes, [_line(session, item, names, ticks.get(item[0], ())) for item in items]
    )
    counted = [
        item for item in items if item[2] is not None and (row.back or item[6] != Why.SOURCE)
    ]
    lots = [item[2] for item in counted if item[3] == "lot"]
    holds = session.scalar(
        select(func.count())
        .select_from(RecallHold)
        .join(Hold, Hold.id == RecallHold.hold_id)
        .where(RecallHold.recall_id == recall_id, Hold.lifted_seq.is_(None))
    )
    return Recalled(
        row.id,
        row.kind,
        row.subject,
        row.reason,
        row.on.display() if row.on else None,
        row.opened.display() if row.opened else "",
        row.closed.display() if row.closed else None,
        row.finding,
        row.steps,
        row.back,
        lines,
        lot_sums(session, lots),
        int(holds or 0),
        _overlaps(session, recall_id) if row.closed_seq is None else (),
        since=_more(session, row),
        pools=pools(session, [item[2] for item in counted]),
    )


_BACK = text(
    f"""
    SELECT parent.code, parent.kind, child.code FROM edge
    JOIN node parent ON parent.id = edge.parent_id JOIN node child ON child.id = edge.child_id
    WHERE edge.child_id IN {lineage.IDS} AND edge.role = 'came back' AND edge.void_seq IS NULL
    ORDER BY edge.id
    """  # noqa: S608 - a constant of ours
)


def _with_back(session: Session, nodes: Collection[int], lines: Sequence[Line]) -> tuple[Line, ...]:
    """The lines, those told that had left and came back: they stand under another code."""
    rows = session.connection().execute(_BACK, lineage.as_parameter(nodes)).all()
    back_as = {left: back for left, kind, back in rows if kind == "plant"}
    of_share = {back for _, kind, back in rows if kind == "lot"}
    return tuple(
        replace(line, back_as=back_as[line.code], to_do=False)
        if line.code in back_as and line.kind == "plant"
        else replace(line, of_share=True)
        if line.code in of_share
        else line
        for line in lines
    )


def _line(session: Session, item: Any, names: Any, ticks: Sequence[Tick]) -> Line:
    (_, number, node, kind, code, step, why, via, widened, status, plants, in_bench, _, place,
     ended, share, n, lot, batch, left, left_on, person, contact, via_id) = item  # fmt: skip
    words = tuple(Widened(word) for word in _json(widened))
    to = (person or "") if share is not None else None
    if node is None:
        code = (
            session.get_one(Node, lot).code if lot is not None else accession_code(session, batch)
        )
        return Line(
            number, code, BY_COUNT, names[via_id].shown, n, _KIND.get(left, left), None, to,
            contact, left_on, step, Why(why), via, words, tuple(ticks), True,
        )  # fmt: skip
    if kind == "lot":
        standing = "in the bench" if in_bench is None or in_bench > 0 else "done"
        return Line(
            number, code, "lot", names[node].shown, in_bench, standing,
            place if standing != "done" else None, None, None, None, step, Why(why), via, words,
            tuple(ticks), standing != "done",
        )  # fmt: skip
    here = status not in LEFT | ENDED and status != "rootstock"
    return Line(
        number, code, "plant", names[node].shown, plants, status, place if here else None, to,
        contact, left_on or ended, step, Why(why), via, words, tuple(ticks),
        here or status in LEFT,
    )  # fmt: skip


def _json(stored: Any) -> list[str]:
    return list(json.loads(stored)) if isinstance(stored, str) else list(stored or [])


_TICKS = text(
    """
    SELECT tick.item_id, tick.what, tick.n, tick.on_edtf, tick.note, entry.by_id
    FROM recall_tick tick
    JOIN recall_item item ON item.id = tick.item_id
    LEFT JOIN chain_entry entry ON entry.seq = tick.seq
    WHERE item.recall_id = :recall AND tick.void_seq IS NULL ORDER BY tick.id
    """
)


def _ticks(session: Session, recall_id: int) -> dict[int, list[Tick]]:
    found: dict[int, list[Tick]] = {}
    named: dict[int | None, str] = {}
    for item, what, n, on, note, by_id in session.connection().execute(
        _TICKS, {"recall": recall_id}
    ):
        if by_id not in named:
            named[by_id] = people.person_name(session, by_id)
        found.setdefault(item, []).append(Tick(Found(what), n, on or "", named[by_id], note))
    return found


# --- reconciling ---------------------------------------------------------------------------------

_LEDGER = text(
    f"""
    SELECT entry.lot_id, entry.kind, sum(entry.n) FROM ledger_entry entry
    WHERE entry.lot_id IN {lineage.IDS} AND entry.void_seq IS NULL
    GROUP BY entry.lot_id, entry.kind
    """  # noqa: S608 - a constant of ours
)
_POTS = text(
    f"""
    SELECT edge.parent_id, plant.status, sum(plant.plants) FROM edge
    JOIN plant ON plant.node_id = edge.child_id AND plant.void_seq IS NULL
    WHERE edge.parent_id IN {lineage.IDS} AND edge.role = 'raised' AND edge.void_seq IS NULL
    GROUP BY edge.parent_id, plant.status
    """  # noqa: S608 - a constant of ours
)
_UNSAID = text(
    f"""
    SELECT gone.lot_id, sum(gone.n), sum(gone.ended) FROM (
        SELECT item.lot_id, item.n, 0 AS ended FROM release_item item
        WHERE item.lot_id IN {lineage.IDS} AND item.void_seq IS NULL
        UNION ALL
        SELECT loss.lot_id, loss.n, loss.n FROM loss
        WHERE loss.lot_id IN {lineage.IDS} AND loss.void_seq IS NULL) gone
    GROUP BY gone.lot_id
    """  # noqa: S608 - a constant of ours
)
_LOTS = text(
    f"""
    SELECT lot.node_id, node.code, lot.opening_text, lot.opening_kind, lot.in_bench, batch.unsaid
    FROM lot JOIN node ON node.id = lot.node_id
    JOIN batch ON batch.accession_id = lot.batch_id
    WHERE lot.node_id IN {lineage.IDS} ORDER BY lot.node_id
    """  # noqa: S608 - a constant of ours
)


def lot_sums(session: Session, lots: Collection[int]) -> tuple[LotSum, ...]:
    """The counts of some lots, from their entries; what does not come out is `unexplained`."""
    parameter = lineage.as_parameter(lots)
    connection = session.connection()
    moved: dict[int, dict[str, int]] = {}
    for lot, kind, n in connection.execute(_LEDGER, parameter):
        moved.setdefault(lot, {})[kind] = n
    pots: dict[int, dict[str, int]] = {}
    for lot, status, n in connection.execute(_POTS, parameter):
        pots.setdefault(lot, {})[status] = n
    unsaid = {lot: (n, dead) for lot, n, dead in connection.execute(_UNSAID, parameter)}
    found = []
    for lot, code, opening, kind, left, batch_unsaid in connection.execute(_LOTS, parameter):
        entries = moved.get(lot, {})
        exact = left is not None and kind == "exact" and not batch_unsaid
        found.append(
            LotSum(
                code,
                opening,
                entries,
                left,
                pots.get(lot, {}),
                *unsaid.get(lot, (0, 0)),
                left - sum(entries.values()) if exact else None,
            )
        )
    return tuple(found)


# --- pots that are gone, and nobody said which ---------------------------------------------------

_GONE_BY_COUNT = text(
    f"""
    SELECT gone.batch_id, gone.lot_id, sum(gone.n), sum(gone.ended) FROM (
        SELECT item.batch_id, NULL AS lot_id, item.n, 0 AS ended FROM release_item item
        WHERE item.batch_id IN {lineage.IDS} AND item.void_seq IS NULL
        UNION ALL
        SELECT lot.batch_id, lot.node_id, item.n, 0 FROM lot
        JOIN release_item item ON item.lot_id = lot.node_id AND item.void_seq IS NULL
        WHERE lot.batch_id IN {lineage.IDS} AND lot.void_seq IS NULL
        UNION ALL
        SELECT lot.batch_id, lot.node_id, loss.n, loss.n FROM lot
        JOIN loss ON loss.lot_id = lot.node_id AND loss.void_seq IS NULL
        WHERE lot.batch_id IN {lineage.IDS} AND lot.void_seq IS NULL) gone
    GROUP BY gone.batch_id, gone.lot_id ORDER BY gone.batch_id, gone.lot_id
    """  # noqa: S608 - a constant of ours
)
_BATCHES = text(
    f"""
    SELECT DISTINCT node.accession_id FROM node
    JOIN batch ON batch.accession_id = node.accession_id WHERE node.id IN {lineage.IDS}
    """  # noqa: S608 - a constant of ours
)
_STAND_BY_CODE = text(
    f"""
    SELECT lot.batch_id, plant.node_id, plant.plants, edge.parent_id FROM lot
    JOIN edge ON edge.parent_id = lot.node_id AND edge.role = 'raised' AND edge.void_seq IS NULL
    JOIN plant ON plant.node_id = edge.child_id AND plant.void_seq IS NULL
    WHERE lot.batch_id IN {lineage.IDS} AND lot.void_seq IS NULL
        AND plant.status NOT IN ({lineage.GONE_SQL})
    ORDER BY plant.node_id, edge.parent_id
    """  # noqa: S608 - a constant of ours
)


def pools(session: Session, exposed: Collection[int]) -> tuple[Pool, ...]:
    """The lots and batches of exposed plants and lots that lost pots by count.

    By lot, where it was said each time of which lot they went and each pot is of one; else by
    batch.
    """
    connection = session.connection()
    among = set(exposed)
    batches = connection.execute(_BATCHES, lineage.as_parameter(among)).scalars().all()
    gone: dict[int, dict[int | None, tuple[int, int]]] = {}
    counted: list[tuple[int | None, int, int]]
    for batch, lot, n, ended in connection.execute(_GONE_BY_COUNT, lineage.as_parameter(batches)):
        gone.setdefault(batch, {})[lot] = (int(n), int(ended))
    pots: dict[int, dict[int, int]] = {}
    of: dict[int, set[int]] = {}
    for batch, node, n, lot in connection.execute(_STAND_BY_CODE, lineage.as_parameter(gone)):
        pots.setdefault(batch, {})[node] = n
        of.setdefault(node, set()).add(lot)
    found = []
    for batch, by_lot in gone.items():
        standing = pots.get(batch, {})
        counted = [(lot, n, ended) for lot, (n, ended) in by_lot.items()]
        if None in by_lot or any(len(of[node]) > 1 for node in standing):
            counted = [(None, sum(n for _, n, _ in counted), sum(dead for _, _, dead in counted))]
        for lot, n, ended in counted:
            these = [node for node in standing if lot is None or lot in of[node]]
            mine = tuple(standing[node] for node in these if node in among)
            if mine or lot in among:
                code = accession_code(session, batch)
                if lot is not None:
                    code = session.get_one(Node, lot).code
                found.append(Pool(code, lot is None, mine, len(these) - len(mine), n, ended))
    return tuple(found)
