"""What the label of each plant, lot and batch says, from what is recorded.

A label leaves with its plant, so no person and no hidden place is ever printed. What is asked for
many labels at once is fetched for all of them together.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from operator import attrgetter

from sqlalchemy import TextClause, or_, select, text
from sqlalchemy.orm import Session

from registry.domain.codes import Code, CodeWidths
from registry.domain.dates import FuzzyDate
from registry.domain.methods import Caution, Role, cautions
from registry.domain.names import Run, Style, as_received, matching_key
from registry.domain.names.verification import Verified
from registry.domain.payload import PayloadKind, address_payload, plain_payload
from registry.errors import NoOperator, NotABotanicalName, SiteMissing
from registry.labels.text import LabelKind, LabelText, LotRow
from registry.services.batches import next_look
from registry.services.naming import NameShown, names_of, verified_of
from registry.services.resolve import widths
from registry.services.rows import lots_of_batch, registry_row
from registry.storage import lineage_queries as lineage
from registry.storage.dossier import variety_key
from registry.storage.models import (
    Accession,
    Alias,
    Consent,
    Hold,
    Lot,
    Node,
    Particular,
    PersonDetail,
    Place,
    Plant,
    RightLookup,
    VerdictGiven,
)
from registry.wording import labels as wording

_WITH_LEAVE = {"A3", "A4"}
_PASSES = {"clear", "conditional"}
_SIDEWAYS = {Role.ROOTSTOCK, Role.INTERSTOCK, Role.PART_OF}
NAMES_NOT_COMPARED = frozenset({"", matching_key(wording.NAME_NOT_KNOWN)})
"""Keys of what stands in a name's place where none is printed."""

_POSSESSIVE = re.compile(r"['’]s\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Subject:
    """What a label stands on: a plant or a lot by `node_id`, a batch or a tag by `accession_id`."""

    node_id: int | None = None
    accession_id: int | None = None


@dataclass(frozen=True, slots=True)
class Passport:
    """What the grower says of a plant passport.

    Attributes:
        form: `eu` (Regulation (EU) 2016/2031, Annex VII) or `gb` (S.I. 2020/1482).
        local: Its title in another official language of the Union.
        zone: The pest of a protected zone, by name or code.
        origin: Where the plants are from, where that must be said.
    """

    form: str
    local: str = ""
    zone: str = ""
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of a label beside what the record says.

    Attributes:
        payload: What its symbol carries; None leaves the symbol out.
        kind: What a plant's label is for; lots and batches have cards.
        heading: The price of a sale label.
        lines: Lines of the grower's own.
        verified: Whether a label says how far its name was verified; a sale label always does.
        passport: The form of a plant passport, for labels of that kind.
    """

    payload: PayloadKind | None = PayloadKind.PLAIN
    kind: LabelKind = LabelKind.PLANT
    heading: str = ""
    lines: tuple[str, ...] = ()
    verified: bool = False
    passport: Passport | None = None


def label_texts(
    session: Session, subjects: Sequence[Subject], wanted: Wanted
) -> tuple[LabelText, ...]:
    """The text of a label on each subject, in order.

    Raises:
        SiteMissing: addresses are asked for, and the settings have no site.
        NoOperator: a plant passport is asked for, and the settings have no registration number.
        NotABotanicalName: a plant passport is asked for a plant without one.
        BadSite: the site in the settings cannot stand in a symbol.
    """
    site = registry_row(session).settings.get("site")
    if wanted.payload is PayloadKind.ADDRESS and not site:
        raise SiteMissing
    operator = None
    if wanted.passport is not None:
        operator = registry_row(session).settings.get(f"operator-{wanted.passport.form}")
        if not operator:
            raise NoOperator(wanted.passport.form)
    facts = _fetch(session, subjects)
    seller = registry_row(session).settings.get("seller", "")
    writer = _Writer(facts, wanted, site, operator or "", seller)
    return tuple(writer.write(subject) for subject in subjects)


@dataclass(frozen=True, slots=True)
class _Facts:
    """What the labels of some subjects are made of, by node or accession."""

    widths: CodeWidths
    secrets: tuple[str, ...]
    parents: dict[int, list[lineage.EdgeRow]]
    points: dict[int, lineage.NodeRow]
    nodes: dict[int, Node]
    plants: dict[int, Plant]
    lots: dict[int, Lot]
    cards: dict[int, list[Lot]]
    accessions: dict[int, Accession]
    names: dict[int, NameShown]
    verified: dict[int, Verified]
    numbers: dict[tuple[int | None, int | None], list[str]]
    verdicts: dict[int, list[dict[str, str]]]
    consents: list[Consent]
    came: dict[int, str | None]
    pledges: dict[str, str | None]
    holds: list[Hold]
    looks: dict[int, date | None]
    printable: dict[str, bool] = field(default_factory=dict)


def _fetch(session: Session, subjects: Sequence[Subject]) -> _Facts:
    accession_ids = {s.accession_id for s in subjects if s.accession_id is not None}
    cards = {i: lots_of_batch(session, i) for i in accession_ids}
    asked = {s.node_id for s in subjects if s.node_id is not None}
    asked |= {lot.node_id for lots in cards.values() for lot in lots}
    parents: dict[int, list[lineage.EdgeRow]] = {}
    for edge in sorted(lineage.edges_above(session, asked), key=attrgetter("parent")):
        parents.setdefault(edge.child, []).append(edge)
    above = {edge.parent for edges in parents.values() for edge in edges} | asked
    points = lineage.nodes(session, above)
    nodes = {n.id: n for n in session.scalars(select(Node).where(_among("node.id", asked)))}
    lots = {
        lot.node_id: lot for lot in session.scalars(select(Lot).where(_among("lot.node_id", above)))
    }
    batches = {lots[i].batch_id for i in asked if i in lots} | accession_ids
    accession_ids |= {node.accession_id for node in nodes.values()} | batches
    verdict_ids = {lot.verdict_id for lot in lots.values() if lot.verdict_id is not None}
    return _Facts(
        widths=widths(session),
        secrets=_secrets(session),
        parents=parents,
        points=points,
        nodes=nodes,
        plants={
            plant.node_id: plant
            for plant in session.scalars(select(Plant).where(_among("plant.node_id", asked)))
        },
        lots=lots,
        cards=cards,
        accessions={
            row.id: row
            for row in session.scalars(
                select(Accession).where(_among("accession.id", accession_ids))
            )
        },
        names=names_of(session, asked),
        verified=verified_of(session, asked),
        numbers=_numbers(session, asked, accession_ids),
        verdicts={
            row.id: row.findings
            for row in session.scalars(
                select(VerdictGiven).where(_among("verdict_given.id", verdict_ids))
            )
        },
        consents=list(
            session.scalars(
                select(Consent).where(
                    or_(
                        Consent.notice.is_not(None),
                        Consent.credit.is_not(None),
                        Consent.pledge.is_not(None),
                    ),
                    Consent.void_seq.is_(None),
                    Consent.withdrawn_edtf.is_(None),  # type: ignore[attr-defined]  # of the composite
                )
            )
        ),
        came=_came(session, points),
        pledges=_pledges(session),
        holds=list(
            session.scalars(select(Hold).where(Hold.void_seq.is_(None), Hold.lifted_seq.is_(None)))
        ),
        looks={batch: next_look(session, batch) for batch in batches if _is_batch(cards, batch)},
    )


def _came(session: Session, nodes: Collection[int]) -> dict[int, str | None]:
    """The notice that came with each plant, the newest word of it."""
    rows = session.execute(
        select(Particular.node_id, Particular.said)
        .where(
            _among("particular.node_id", nodes),
            Particular.what == "notice",
            Particular.void_seq.is_(None),
        )
        .order_by(Particular.id)
    ).all()
    return {row.node_id: row.said for row in rows}


def _pledges(session: Session) -> dict[str, str | None]:
    """What is to be passed on with a variety that is said to be free, by its key."""
    rows = session.execute(
        select(RightLookup.key, RightLookup.pledge)
        .where(RightLookup.pledge.is_not(None), RightLookup.void_seq.is_(None))
        .order_by(RightLookup.id)
    ).all()
    return {row.key: row.pledge for row in rows}


def _is_batch(cards: dict[int, list[Lot]], accession_id: int) -> bool:
    return bool(cards.get(accession_id, True))


def _among(column: str, ids: Collection[int]) -> TextClause:
    """SQL that is true where `column` is one of `ids`, however many."""
    # The name is made of ours alone, the ids are a parameter of their own.
    name = column.replace(".", "_")
    clause = text(f"{column} IN (SELECT value FROM json_each(:{name}))")  # noqa: S608
    return clause.bindparams(**{name: lineage.as_parameter(ids)["ids"]})


def _secrets(session: Session) -> tuple[str, ...]:
    """The matching keys of every person and every hidden place, with those that lie inside one."""
    keys = set(session.scalars(select(PersonDetail.key).where(PersonDetail.key != "")).all())
    places = {place.id: place for place in session.scalars(select(Place))}
    for place in places.values():
        outer: Place | None = place
        seen: set[int] = set()
        while outer is not None and outer.id not in seen:
            if outer.hidden:
                keys.add(place.key)
            seen.add(outer.id)
            outer = places.get(outer.parent_id or 0)
    return tuple(sorted(keys - {""}))


def _numbers(
    session: Session, node_ids: Collection[int], accession_ids: Collection[int]
) -> dict[tuple[int | None, int | None], list[str]]:
    """The grower's own numbers of each node and accession; those of others stay off the label."""
    own = Alias.void_seq.is_(None), Alias.issuer.is_(None)
    found: dict[tuple[int | None, int | None], list[str]] = {}
    for column, ids in (("alias.node_id", node_ids), ("alias.accession_id", accession_ids)):
        for row in session.scalars(select(Alias).where(*own, _among(column, ids))):
            found.setdefault((row.node_id, row.accession_id), []).append(row.text)
    return found


class _Writer:
    """Writes labels from fetched facts."""

    def __init__(
        self, facts: _Facts, wanted: Wanted, site: str | None, operator: str, seller: str
    ) -> None:
        self.seller = seller
        self.facts = facts
        self.wanted = wanted
        self.site = site
        self.operator = operator

    def write(self, subject: Subject) -> LabelText:
        """The label on one subject."""
        if subject.accession_id is not None:
            accession = self.facts.accessions[subject.accession_id]
            code = self._accession_code(accession.id)
            if accession.kind == "blank":
                return self._tag(code)
            return self._card(code, accession.id, self.facts.cards[accession.id])
        node_id = subject.node_id or 0
        node = self.facts.nodes[node_id]
        if node.kind == "lot":
            lot = self.facts.lots[node_id]
            return self._card(node.code, lot.batch_id, [lot], node_id)
        if self.wanted.passport is not None:
            return self._passport(node, self.wanted.passport)
        return self._plant(node)

    def _plant(self, node: Node) -> LabelText:
        facts, wanted = self.facts, self.wanted
        lots = [
            facts.lots[e.parent] for e in facts.parents.get(node.id, []) if e.parent in facts.lots
        ]
        runs = self._runs(node.id)
        dates = self._dates(node, lots)
        batch = self._batch(node) if lots else None
        source = self._source([node.id])
        lines: list[str] = []
        if wanted.kind is LabelKind.HOLD:
            lines += self._held(node)
        if wanted.kind is LabelKind.SALE or wanted.verified:
            lines.append(wording.verification(facts.verified[node.id]))
        if wanted.kind is LabelKind.SALE:
            lines += self._for_a_buyer(node.id)
        lines += dates
        if lots and all(self._had_leave(lot) for lot in lots):
            lines.append(wording.WITH_LEAVE)
        lines += self._rootstocks([node.id])
        lines += self._also(node.id, None)
        if batch is not None:
            lines.append(wording.in_batch(batch))
        return LabelText(
            kind=wanted.kind,
            code=node.code,
            runs=runs,
            source_code=source,
            lines=tuple(lines),
            typed=self.wanted.lines,
            notices=self._notices([node.id]),
            payload=self._payload(node.code, runs, source, dates, batch),
            heading=wording.HOLD if wanted.kind is LabelKind.HOLD else wanted.heading,
        )

    def _for_a_buyer(self, node_id: int) -> list[str]:
        """What a buyer should know: that its sap can hurt, and who raised it, if that is set."""
        genera = {name.split()[0].lstrip("×+") for name in self.facts.names[node_id].candidates}
        due = [
            Caution.SAP
            for genus in genera
            if Caution.SAP in cautions(hormone=False, covered=False, genus=genus)
        ]
        lines = [wording.SAP_CAUTION] if due else []
        return [*lines, *([wording.raised_by(self.seller)] if self.seller else [])]

    def _passport(self, node: Node, passport: Passport) -> LabelText:
        """Elements A to D (E) of a plant passport; C is the batch, or the plant itself."""
        runs = self._runs(node.id)
        if not any(run.style is Style.ITALIC for run in runs):
            raise NotABotanicalName(node.code, "".join(run.text for run in runs))
        lines = [f"B {self._operator(passport.form)}", f"C {self._batch(node) or node.code}"]
        if passport.form == "gb" and passport.origin.upper() == "GB(NI)":
            lines.append(f"E {passport.origin}")
        elif passport.origin:
            lines.append(f"D {passport.origin}")
        return LabelText(
            LabelKind.PASSPORT,
            node.code,
            runs,
            lines=tuple(lines),
            heading=wording.passport_title(passport.form, passport.local, passport.zone),
            flag=passport.form == "eu",
        )

    def _operator(self, form: str) -> str:
        """Element B: in the Union the Member State's code, a dash, the number."""
        state, dash, number = re.sub("[–—]", "-", self.operator).partition("-")
        if form == "eu" and dash and len(state.strip()) == 2:
            return f"{state.strip().upper()} – {number.strip()}"
        return self.operator

    def _card(
        self, code: str, batch_id: int, lots: Sequence[Lot], node_id: int | None = None
    ) -> LabelText:
        ids = [lot.node_id for lot in lots]
        names = [self._runs(i) for i in ids]
        sources = [self._source([i]) or "" for i in ids]
        one_name, one_source = len(set(names)) == 1, len(set(sources)) == 1
        dates = _same(lots)
        look = self.facts.looks.get(batch_id)
        lines = [*dates]
        if look is not None:
            lines.append(wording.look_again(FuzzyDate.of(look).display()))
        if lots and all(self._had_leave(lot) for lot in lots):
            lines.append(wording.WITH_LEAVE)
        lines += self._also(node_id, None if node_id is not None else batch_id)
        if node_id is not None:
            lines.append(wording.in_batch(self._accession_code(batch_id)))
        several = len(lots) > 1
        rows = tuple(
            LotRow(
                letter=lot.letter if several else "",
                runs=() if one_name else runs,
                source="" if one_source else source,
                count=lot.opening_text,
                details=self._details(lot),
            )
            for lot, runs, source in zip(lots, names, sources, strict=True)
        )
        runs = names[0] if one_name and names else ()
        source = sources[0] if one_source and sources else ""
        return LabelText(
            kind=LabelKind.BATCH,
            code=code,
            runs=runs,
            source_code=source or None,
            lines=tuple(lines),
            typed=self.wanted.lines,
            notices=self._notices(ids),
            payload=self._payload(code, runs, source or None, dates, None),
            lots=rows,
        )

    def _tag(self, code: str) -> LabelText:
        """A tag with a number set aside: room to write, and the code alone in its symbol."""
        payload = self.wanted.payload
        carried = self._payload(code, (), None, (), None) if payload else None
        return LabelText(LabelKind.BLANK, code, payload=carried, write_on=wording.WRITE_ON)

    def _payload(
        self,
        code: str,
        runs: tuple[Run, ...],
        source: str | None,
        dates: Sequence[str],
        batch: str | None,
    ) -> str | None:
        match self.wanted.payload:
            case None:
                return None
            case PayloadKind.CODE:
                return code
            case PayloadKind.ADDRESS:
                return address_payload(self.site or "", code)
            case PayloadKind.PLAIN:
                name = "".join(run.text for run in runs)
                return plain_payload(code, name, source, dates, batch)

    # --- what each line comes from ---------------------------------------------------------------

    def _runs(self, node_id: int) -> tuple[Run, ...]:
        """The name in proper form; what is no botanical name upright as it was received.

        Words as received may hold a person or a hidden place: then the label says that the name
        is not known, and the code finds the rest.
        """
        name = self.facts.names[node_id]
        if name.determined and any(run.style is Style.ITALIC for run in name.runs):
            return name.runs
        as_given = name.received is not None and name.certain and not name.determined
        words = name.received if as_given and name.received else name.shown
        return as_received(words if self._printable(words) else wording.NAME_NOT_KNOWN)

    def _printable(self, words: str) -> bool:
        """Whether `words` hold no recorded person and no hidden place, as whole words."""
        known = self.facts.printable
        if words not in known:
            bare = _POSSESSIVE.sub("", words)
            texts = {matching_key(words), matching_key(bare)}
            texts.add(" ".join(re.findall(r"\w+", bare.casefold())))  # somebody may be called X
            known[words] = not any(
                f" {secret} " in f" {text} " for secret in self.facts.secrets for text in texts
            )
        return known[words]

    def _source(self, node_ids: Iterable[int]) -> str | None:
        """The code of the plant that material was drawn from; of several possible, each."""
        own: dict[str, None] = {}
        pollen: dict[str, None] = {}
        for parent, role in self._drawn_from(node_ids):
            code = self.facts.points[parent].code
            if role == Role.POLLEN_PARENT:
                pollen[code] = None
            elif role not in _SIDEWAYS:
                own[code] = None
        if not own:
            return None
        source = wording.one_of(tuple(own))
        return f"{source} × {wording.one_of(tuple(pollen))}" if pollen else source

    def _drawn_from(self, node_ids: Iterable[int]) -> Iterable[tuple[int, str]]:
        """The nearest plants above, through lots however often they were parted and joined."""
        front, seen = list(node_ids), set()
        while front:
            node = front.pop(0)
            for edge in self.facts.parents.get(node, []):
                if self.facts.points[edge.parent].kind == "plant":
                    yield edge.parent, edge.role
                elif edge.parent not in seen:
                    seen.add(edge.parent)
                    front.append(edge.parent)

    def _rootstocks(self, node_ids: Iterable[int]) -> list[str]:
        stocks = (Role.ROOTSTOCK, Role.INTERSTOCK)
        codes = [
            self.facts.points[p].code for p, role in self._drawn_from(node_ids) if role in stocks
        ]
        return [wording.on_rootstock(wording.one_of(tuple(dict.fromkeys(codes))))] if codes else []

    def _dates(self, node: Node, lots: Sequence[Lot]) -> list[str]:
        if not lots:
            got = self.facts.plants[node.id].got
            return _dated(wording.received, got)
        return [*_same(lots), *_dated(wording.potted, node.born)]

    def _batch(self, node: Node) -> str | None:
        kind = self.facts.accessions[node.accession_id].kind
        return self._accession_code(node.accession_id) if kind == "batch" else None

    def _accession_code(self, accession_id: int) -> str:
        row = self.facts.accessions[accession_id]
        return Code(row.year % 100, row.number, widths=self.facts.widths).text

    def _also(self, node_id: int | None, accession_id: int | None) -> list[str]:
        numbers = self.facts.numbers.get((node_id, accession_id), [])
        shown = tuple(number for number in numbers if self._printable(number))
        return [wording.also_numbered(shown)] if shown else []

    def _details(self, lot: Lot) -> tuple[str, ...]:
        hormone = " ".join(
            part for part in (lot.hormone or "", f"{lot.ppm} ppm" if lot.ppm else "") if part
        )
        details = (lot.wood, lot.part, hormone, lot.medium, lot.cover)
        return tuple(detail for detail in details if detail and self._printable(detail))

    def _held(self, node: Node) -> list[str]:
        above = self._above([node.id], clonal=False)
        lines = []
        for hold in self.facts.holds:
            on_it = hold.node_id == node.id or hold.accession_id == node.accession_id
            if not on_it and not (hold.descent and hold.node_id in above):
                continue
            if self._printable(hold.reason):
                lines.append(hold.reason)
            lines += _dated(wording.held_since, hold.from_)
        return list(dict.fromkeys(lines))

    def _had_leave(self, lot: Lot) -> bool:
        """Whether the verdict of the taking rests on the owner's leave (rows A3 and A4)."""
        if lot.verdict_id is None:
            return False
        above = self._above([lot.node_id], clonal=False)
        codes = {self.facts.points[node].code for node in above}
        levels = {
            finding["row"]: finding["level"]
            for finding in self.facts.verdicts.get(lot.verdict_id, [])
            if finding["row"].startswith("A") and finding["plant"] in codes
        }
        return bool(_WITH_LEAVE & levels.keys()) and set(levels.values()) <= _PASSES

    def _notices(self, node_ids: Sequence[int]) -> tuple[str, ...]:
        """What every label of the clone must carry: what a consent or a licence obliges to.

        And the notice that came with a plant (row B43, 7 USC 2541(a)(6)), and what breeder or
        holder asks to pass on where they say that it is free (row B39).
        """
        above = self._above(node_ids, clonal=True)
        drawn = {
            finding["record"]
            for node in above
            if node in self.facts.lots
            for finding in self.facts.verdicts.get(self.facts.lots[node].verdict_id or 0, [])
        }
        found = [self.facts.came.get(node) for node in sorted(above)]
        found += [self.facts.pledges.get(variety_key(self.facts.names[n].shown)) for n in node_ids]
        for consent in self.facts.consents:
            if (
                consent.plant_id in above
                or consent.lot_id in above
                or f"licence {consent.id}" in drawn
            ):
                found += [consent.notice, consent.credit, consent.pledge]
        return tuple(dict.fromkeys(notice for notice in found if notice))

    def _above(self, node_ids: Iterable[int], *, clonal: bool) -> set[int]:
        """The nodes and all above them; rootstocks are another plant's story."""
        reached = set(node_ids)
        front = list(reached)
        while front:
            for edge in self.facts.parents.get(front.pop(), []):
                if edge.role == Role.SUCKER_OF:  # the tree itself, not what its top came from
                    reached.add(edge.parent)
                    continue
                if edge.role in _SIDEWAYS or (clonal and not edge.clonal):
                    continue
                if edge.parent not in reached:
                    reached.add(edge.parent)
                    front.append(edge.parent)
        return reached


def _dated(say: Callable[[str], str], day: FuzzyDate | None) -> list[str]:
    """The line of a day, or none where nobody knows it."""
    if day is None or (day.first is None and day.last is None):
        return []
    return [say(day.display())]


def _same(lots: Sequence[Lot]) -> list[str]:
    """When the material was stuck, or taken where it is not stuck yet, if all lots agree."""
    for day_of, say in ((_stuck, wording.stuck), (_taken, wording.taken)):
        days = {day_of(lot) for lot in lots}
        line = _dated(say, days.pop()) if len(days) == 1 else []
        if line:
            return line
    return []


def _stuck(lot: Lot) -> FuzzyDate | None:
    return lot.stuck


def _taken(lot: Lot) -> FuzzyDate | None:
    return lot.taken
