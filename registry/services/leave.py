"""Leave and law: consents, licences, rights, look-ups, holds, and questions that stay unknown."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Any

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.domain.dealings import Royalty
from registry.domain.family import GONE
from registry.domain.names import near
from registry.domain.names.keys import distance
from registry.domain.rights import Ends, EventKind, RightFacts, check, ends
from registry.domain.rules.kinds import KINDS, Group, Kind
from registry.domain.rules.territories import Regime, covers
from registry.domain.spans import Span
from registry.domain.verdict.facts import (
    Act,
    Limit,
    Outcome,
    Stops,
)
from registry.errors import (
    ActTwice,
    AlreadyEnded,
    BadLimit,
    BadRight,
    EmptyName,
    EndsBackwards,
    LicenceElsewhere,
    LimitReason,
    NoSubject,
    NotALicence,
    NothingSaid,
    OwnerNotSaid,
    PledgeOfWhat,
    RecordUnknown,
    RightExists,
    SeveralRights,
    UnknownWord,
)
from registry.services import people
from registry.services.naming import names_of
from registry.services.permission import CANNOT
from registry.services.resolve import Target, accession_code
from registry.storage import blobs
from registry.storage.dossier import (
    SEEDLINGS,
    STATED_ENDED,
    read_as_name,
    says_what_it_is,
    variety_key,
)
from registry.storage.lineage_queries import IDS, as_parameter, descendant_ids
from registry.storage.models import (
    Attachment,
    Consent,
    ConsentAct,
    ConsentUse,
    Determination,
    Edge,
    Hold,
    Node,
    Ownership,
    PersonDetail,
    Place,
    Plant,
    Question,
    Right,
    RightEvent,
    RightLookup,
    RightName,
    VerdictGiven,
)
from registry.storage.transaction import Recording

UNASKED = "unasked"
"""The outcome of a consent that only says that nobody has asked yet; no verdict reads it."""

LEAVE = {
    "yes": Outcome.GIVEN,
    "no": Outcome.REFUSED,
    "handed-over": Outcome.HANDED_OVER,
    "unasked": None,
}
"""What `--leave` can say of a taking, and what came of asking."""

MOST_NEAR = 3


# --- consents ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Saying:
    """What somebody said, or did not say, when asked for leave.

    Attributes:
        may: the acts that are allowed.
        may_not: the acts that are not; what neither names, the consent says nothing about.
        outcome: what came of asking; None where nobody has asked.
        said: the words.
        by_word: spoken, written or sign.
        as_role: as what: owner, keeper, tenant or heir.
        limit: a number limit; cuttings count propagate, plants what leaves.
        on: from when it counts.
        until: its last day.
        covers_taken: it says that it covers what was taken before.
        seedlings: it reaches what is raised from seed, or leaves that free; None is silent (A18).
        credit: the words of the credit that must go with what leaves.
        pledge: what whoever gets a plant must promise to pass on in turn.
    """

    may: tuple[Act, ...] = ()
    may_not: tuple[Act, ...] = ()
    outcome: Outcome | None = Outcome.GIVEN
    said: str | None = None
    by_word: str | None = None
    as_role: str | None = None
    limit: Limit | None = None
    on: FuzzyDate | None = None
    until: FuzzyDate | None = None
    covers_taken: bool = False
    seedlings: bool | None = None
    credit: str | None = None
    pledge: str | None = None


@dataclass(frozen=True, slots=True)
class ConsentShown:
    """A consent or licence as it stands.

    Attributes:
        id: its number, for `withdraw`.
        subject: code of the plant or lot, or the right's number.
        person: who gave it.
        made: the person was not on record before.
        outcome: what came of asking.
        may: acts allowed, with their limits and prices.
        may_not: acts forbidden.
        said: the words.
        on, until, withdrawn: from when, to when, taken back when.
        used: (act, number) of what was used so far.
        credit: the credit to be given.
        pledge: what is to be promised in turn.
        notice: words that must go with each plant.
        sell_off: the last day to sell what was made under a licence that ended.
        settled: open questions that it answered.
    """

    id: int
    subject: str
    person: str | None
    made: bool
    outcome: str
    may: tuple[str, ...]
    may_not: tuple[str, ...]
    said: str | None
    on: str | None
    until: str | None
    withdrawn: str | None
    used: tuple[tuple[str, int], ...] = ()
    credit: str | None = None
    pledge: str | None = None
    notice: str | None = None
    sell_off: str | None = None
    settled: int = 0


def add_consent(
    rec: Recording,
    giver: str | None,
    saying: Saying,
    *,
    plant: Target | None,
    lot: Target | None = None,
) -> ConsentShown:
    """Write down what an owner said about a plant, or about a lot.

    Args:
        rec: the recording.
        giver: who said it; None is the owner on record.
        saying: what was said.
        plant: what it is about.
        lot: what it is about, instead.

    Raises:
        OwnerNotSaid: nobody was named, and nobody else is on record as owner.
        NoSubject: what was named is not one plant, or one lot.
        ActTwice: an act is both allowed and forbidden, or a refusal allows one.
        BadLimit: the limit counts an act that is not allowed.
    """
    _check_saying(saying)
    plant_id = _one(plant, plants=True) if plant is not None else None
    lot_id = _one(lot, plants=False) if lot is not None else None
    about = plant if plant is not None else lot
    if giver is None:
        giver = _owners_name(rec.session, plant_id, lot_id, about.text if about else "")
    person = people.owner_named(rec, giver)
    rec.flush()
    row = rec.add(
        Consent(
            person_id=person.person_id,
            as_role=saying.as_role,
            plant_id=plant_id,
            lot_id=lot_id,
            outcome=saying.outcome.value if saying.outcome else UNASKED,
            said=saying.said,
            by_word=saying.by_word,
            covers_taken=saying.covers_taken,
            credit=saying.credit,
            pledge=saying.pledge,
            from_=saying.on,
            until=saying.until,
        )
    )
    rec.flush()
    _add_words(rec, row, saying.may, saying.may_not, saying.limit, None)
    if saying.seedlings is not None:
        rec.add(ConsentAct(consent_id=row.id, act=SEEDLINGS, allowed=saying.seedlings))
    subject = plant_id if plant_id is not None else lot_id
    settled = 0
    if saying.outcome in (Outcome.GIVEN, Outcome.REFUSED):
        spoken = {act.value for act in (*saying.may, *saying.may_not)}
        settled = _settle_leave(rec, subject or 0, spoken, row.id)
    rec.flush()
    rec.last = [rec.session.get_one(Node, subject).code]
    return _consent_shown(rec.session, row, made=person.made, settled=settled)


def with_taking(
    rec: Recording,
    plant_id: int,
    *,
    outcome: str | None,
    said: str | None,
    person_id: int | None,
    on: FuzzyDate,
) -> int | None:
    """Leave as it was given, or not, with a taking: yes or no to propagate, silent on the rest.

    Args:
        rec: the recording of the taking.
        plant_id: the plant that material is drawn from.
        outcome: a word of `LEAVE`, or None where only `said` is known.
        said: the owner's words.
        person_id: who spoke; None is the owner on record, if there is one.
        on: the day of taking.

    Returns:
        The consent's id; None where nobody asked and nothing was said.
    """
    came = LEAVE[outcome] if outcome is not None else Outcome.GIVEN
    if came is None and said is None:
        return None
    row = rec.add(
        Consent(
            person_id=person_id if person_id is not None else _owner_of(rec.session, plant_id),
            as_role=None,
            plant_id=plant_id,
            outcome=came.value if came else UNASKED,
            said=said,
            by_word=None,
            with_taking=True,
            from_=on,
        )
    )
    rec.flush()
    if outcome in ("yes", "no"):
        rec.add(ConsentAct(consent_id=row.id, act=Act.PROPAGATE.value, allowed=outcome == "yes"))
        _settle_leave(rec, plant_id, {Act.PROPAGATE.value}, row.id)
    rec.flush()
    return row.id


def _owner_of(session: Session, plant_id: int) -> int | None:
    """Whom the plant belongs to as far as is recorded; None is the grower, or nobody."""
    return session.scalar(
        select(Ownership.person_id)
        .where(Ownership.node_id == plant_id, Ownership.void_seq.is_(None))
        .order_by(Ownership.id.desc())
        .limit(1)
    )


def _owners_name(session: Session, plant_id: int | None, lot_id: int | None, typed: str) -> str:
    """The name of the one person on record as owner of a plant, or of what a lot was taken from.

    Raises:
        OwnerNotSaid: nobody is, or several are, or it is the grower's own.
    """
    nodes = [plant_id] if plant_id is not None else _sources_of(session, lot_id)
    owners = {_owner_of(session, node) for node in nodes}
    person = owners.pop() if len(owners) == 1 else None
    if person is None:
        raise OwnerNotSaid(typed)
    return people.person_name(session, person)


def _sources_of(session: Session, lot_id: int | None) -> list[int]:
    """The plants that a lot's material was drawn from, through the lots before it."""
    found: list[int] = []
    front = [lot_id]
    while front:
        rows = session.execute(
            select(Node.id, Node.kind)
            .join(Edge, Edge.parent_id == Node.id)
            .where(Edge.child_id == front.pop(), Edge.void_seq.is_(None))
            .order_by(Node.id)
        ).all()
        found += [node for node, kind in rows if kind == "plant"]
        front += [node for node, kind in rows if kind == "lot"]
    return found


def withdraw(
    rec: Recording,
    consent_id: int,
    *,
    on: FuzzyDate,
    licence: bool = False,
    sell_off: FuzzyDate | None = None,
) -> ConsentShown:
    """Write down that a consent or licence was taken back; what was recorded stays.

    Args:
        rec: the recording.
        consent_id: its number.
        on: the day from which it does not count any more.
        licence: a licence is meant, and no owner's leave.
        sell_off: of a licence, the last day to sell what was made under it (row B16).

    Raises:
        NotALicence: a licence is meant, and it is an owner's leave.
        EndsBackwards: it is taken back before it began, or the sell-off time ends before that.
        RecordUnknown: there is no such consent.
        AlreadyEnded: it was taken back before.
    """
    what = "licence" if licence else "consent"
    row = rec.session.get(Consent, consent_id)
    if row is None or row.void_seq is not None:
        raise RecordUnknown(what, str(consent_id))
    if row.withdrawn is not None:
        raise AlreadyEnded(what, str(consent_id))
    if licence and row.right_id is None:
        raise NotALicence(str(consent_id))
    _check_days(row.from_, on, sell_off)
    row.withdrawn = on
    if sell_off is not None:
        row.sell_off = sell_off
    rec.flush()
    subject = row.plant_id or row.lot_id
    if subject is not None:
        rec.last = [rec.session.get_one(Node, subject).code]
    return _consent_shown(rec.session, row)


def attach_evidence(
    rec: Recording, consent_id: int, content: bytes, filename: str, kind: str
) -> None:
    """Keep a letter, a photo of a sign, or the like as evidence of a consent or licence.

    Args:
        rec: the recording.
        consent_id: of the consent.
        content: the file's bytes.
        filename: its name.
        kind: its media type.
    """
    sha256 = blobs.store(rec, content, kind)
    rec.add(Attachment(blob_sha256=sha256, filename=filename, consent_id=consent_id))
    rec.flush()


def consents(session: Session, target: Target | None = None) -> tuple[ConsentShown, ...]:
    """The consents on record, of all plants or of those named; oldest first."""
    query = select(Consent).where(Consent.void_seq.is_(None), Consent.right_id.is_(None))
    if target is not None:
        named = (*target.plants, *target.lots)
        query = query.where(Consent.plant_id.in_(named) | Consent.lot_id.in_(named))
    rows = session.scalars(query.order_by(Consent.id)).all()
    return tuple(_consent_shown(session, row) for row in rows)


def _refuse_empty(*said: tuple[str, str | None]) -> None:
    """Refuse words that were asked for and are blank; None was not asked for."""
    for option, words in said:
        if words is not None and not words.strip():
            raise NothingSaid(option)


def _check_saying(saying: Saying) -> None:
    _refuse_empty(("--credit", saying.credit), ("--pledge", saying.pledge))
    for act in saying.may:
        if act in saying.may_not or saying.outcome is not Outcome.GIVEN:
            raise ActTwice(act.value)
    _check_days(saying.on, saying.until, None)
    _check_limit(saying.limit, saying.may)


def _holds_in(right: str, territory: str) -> bool:
    """Whether a right of one territory holds in another, or in part of it.

    An EU right granted to the end of 2020 lives on in the UK (row B33).
    """
    return (
        covers(right, territory) or covers(territory, right) or (right, territory) == ("EU", "GB")
    )


def _check_days(on: FuzzyDate | None, until: FuzzyDate | None, sell_off: FuzzyDate | None) -> None:
    """Refuse a leave or licence whose days run backwards."""
    days = [day for day in (on, until, sell_off) if day is not None]
    for before, after in pairwise(days):
        if after.certainly_before(before):
            raise EndsBackwards(before.display(), after.display())


def _check_limit(limit: Limit | None, may: Sequence[Act]) -> None:
    if limit is not None and not limit.counted & set(may):
        raise BadLimit(f"{limit.n} {limit.unit.value}", LimitReason.NOT_ALLOWED)


def _one(target: Target, *, plants: bool) -> int:
    nodes = target.plants if plants else target.lots
    if len(nodes) != 1:
        raise NoSubject(target.text, "consent")
    return nodes[0]


def _add_words(
    rec: Recording,
    row: Consent,
    may: Iterable[Act],
    may_not: Iterable[Act],
    limit: Limit | None,
    royalty: Royalty | None,
) -> None:
    for act in may:
        limited = limit is not None and act in limit.counted
        paid = royalty is not None and (not royalty.acts or act in royalty.acts)
        rec.add(
            ConsentAct(
                consent_id=row.id,
                act=act.value,
                allowed=True,
                limit_n=limit.n if limit and limited else None,
                limit_unit=limit.unit.value if limit and limited else None,
                limit_per="year" if limit and limited and limit.per_year else None,
                royalty=str(royalty.money.amount) if royalty and paid else None,
                currency=royalty.money.currency if royalty and paid else None,
            )
        )
    for act in may_not:
        rec.add(ConsentAct(consent_id=row.id, act=act.value, allowed=False))


def _settle_leave(rec: Recording, node_id: int, acts: set[str], consent_id: int) -> int:
    """The open questions that asked this plant's owner about these acts are answered."""
    rows = rec.session.scalars(
        select(Question)
        .join(VerdictGiven, VerdictGiven.id == Question.verdict_id)
        .where(
            Question.node_id == node_id,
            Question.row.in_(("A2", "A2b", "A7")),
            Question.settled_seq.is_(None),
            Question.void_seq.is_(None),
            VerdictGiven.act.in_(acts),
        )
    ).all()
    return _settle(rec, rows, f"consent {consent_id}")


def _settle(rec: Recording, rows: Sequence[Question], how: str) -> int:
    for row in rows:
        row.settled_seq = rec.seq
        row.how = how
    return len(rows)


def _consent_shown(
    session: Session, row: Consent, *, made: bool = False, settled: int = 0
) -> ConsentShown:
    words = session.scalars(
        select(ConsentAct).where(ConsentAct.consent_id == row.id).order_by(ConsentAct.act)
    ).all()
    uses: dict[str, int] = {}
    for use in session.scalars(
        select(ConsentUse).where(ConsentUse.consent_id == row.id, ConsentUse.void_seq.is_(None))
    ):
        uses[use.act] = uses.get(use.act, 0) + (use.n or 0)
    person = session.get(PersonDetail, row.person_id) if row.person_id is not None else None
    return ConsentShown(
        id=row.id,
        subject=_subject(session, row),
        person=person.name if person else None,
        made=made,
        outcome=row.outcome,
        may=tuple(_allowed(word) for word in words if word.allowed),
        may_not=tuple(word.act for word in words if not word.allowed),
        said=row.said,
        on=row.from_.display() if row.from_ else None,
        until=row.until.display() if row.until else None,
        withdrawn=row.withdrawn.display() if row.withdrawn else None,
        used=tuple(sorted(uses.items())),
        credit=row.credit,
        pledge=row.pledge,
        notice=row.notice,
        sell_off=row.sell_off.display() if row.sell_off else None,
        settled=settled,
    )


def _allowed(word: ConsentAct) -> str:
    """An act with its number and its price, such as `sell (20 plants; 0.35 USD each)`."""
    terms = []
    if word.limit_n is not None:
        per = " a year" if word.limit_per else ""
        terms.append(f"{word.limit_n} {word.limit_unit}{per}")
    if word.royalty is not None:
        terms.append(f"{word.royalty} {word.currency} each")
    return f"{word.act} ({'; '.join(terms)})" if terms else word.act


def _subject(session: Session, row: Consent) -> str:
    if row.right_id is not None:
        return session.get_one(Right, row.right_id).number or "?"
    return session.get_one(Node, row.plant_id or row.lot_id).code


# --- licences ------------------------------------------------------------------------------------

LICENSABLE = (Act.PROPAGATE, Act.KEEP, Act.GIVE, Act.SWAP, Act.SELL, Act.EXPORT)
"""The acts that a right can reach; moving and ending a plant are its grower's own."""


def add_licence(
    rec: Recording,
    number: str,
    holder: str,
    may: tuple[Act, ...],
    *,
    territory: str | None,
    limit: Limit | None = None,
    royalty: Royalty | None = None,
    notice: str | None = None,
    said: str | None = None,
    on: FuzzyDate | None = None,
    until: FuzzyDate | None = None,
    sell_off: FuzzyDate | None = None,
) -> ConsentShown:
    """Write down what the holder of a right allows.

    Args:
        rec: the recording.
        number: of the right.
        holder: who gives it.
        may: the acts.
        territory: where; None is everywhere.
        limit: how many.
        royalty: what is paid for each.
        notice: words that must go with each plant.
        said: in the holder's words.
        on: its first day.
        until: its last day.
        sell_off: the last day to sell what was made under it, once it has ended (row B16).

    Raises:
        EndsBackwards: it ends before it begins, or the sell-off before the licence.
        LicenceElsewhere: the right does not hold in that place.
        NothingSaid: no act is named, or the notice or the holder's words are empty.
        RecordUnknown: no right has that number.
        SeveralRights: several have, and the territory does not tell them apart.
        BadLimit: the limit counts an act that is not licensed.
        UnknownWord: a right does not reach the act, so that no licence can cover it.
    """
    for act in may:
        if act not in LICENSABLE:
            raise UnknownWord(
                "act that a licence can cover", act.value, tuple(one.value for one in LICENSABLE)
            )
    if not may:
        raise NothingSaid("--may")
    _refuse_empty(("--notice", notice), ("--said", said))
    _check_days(on, until, sell_off)
    right = right_numbered(rec.session, number, territory)
    if territory is not None and not _holds_in(right.territory, territory):
        raise LicenceElsewhere(number, right.territory, territory)
    _check_limit(limit, may)
    person = people.owner_named(rec, holder)
    rec.flush()
    row = rec.add(
        Consent(
            person_id=person.person_id,
            as_role="holder",
            right_id=right.id,
            territory=territory,
            outcome=Outcome.GIVEN.value,
            said=said,
            by_word="written",
            notice=notice,
            from_=on,
            until=until,
            sell_off=sell_off,
        )
    )
    rec.flush()
    _add_words(rec, row, may, (), limit, royalty)
    rec.flush()
    return _consent_shown(rec.session, row, made=person.made)


def licences(session: Session) -> tuple[ConsentShown, ...]:
    """Every licence on record, oldest first."""
    rows = session.scalars(
        select(Consent)
        .where(Consent.void_seq.is_(None), Consent.right_id.is_not(None))
        .order_by(Consent.id)
    ).all()
    return tuple(_consent_shown(session, row) for row in rows)


# --- rights --------------------------------------------------------------------------------------

HOME: dict[Regime, str] = {regime: regime.value for regime in Regime if regime is not Regime.OTHER}


@dataclass(frozen=True, slots=True)
class RightAsked:
    """A right as typed.

    Attributes:
        kind: which kind.
        number: as the register writes it; None where nobody knows it.
        names: the names under which it protects.
        territory: where; None is the home of its kind.
        end_source: the register or holder that states `ends`.
    """

    kind: Kind
    number: str | None
    names: tuple[str, ...]
    territory: str | None = None
    filed: FuzzyDate | None = None
    earliest: FuzzyDate | None = None
    granted: FuzzyDate | None = None
    adjust_days: int | None = None
    disclaimed: FuzzyDate | None = None
    ends: FuzzyDate | None = None
    end_source: str | None = None
    group: Group | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class RightShown:
    """A right on record.

    Attributes:
        warnings: words of `RightWarning` for what looks wrong.
        plants: codes of plants that go by one of its names.
        near: names on record that come nearest, where no plant matches.
        counted: how its end comes out, of one just written down.
    """

    id: int
    kind: str
    number: str | None
    territory: str
    names: tuple[str, ...]
    filed: str | None
    granted: str | None
    ends: str | None
    warnings: tuple[str, ...] = ()
    plants: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    counted: Ends | None = None


def add_right(rec: Recording, asked: RightAsked) -> RightShown:
    """Write down a right on a variety.

    Raises:
        BadRight: the dates, the number or the territory cannot be right.
        NothingSaid: a source is empty.
        RightExists: it is on record already in that territory.
    """
    _refuse_empty(("--source", asked.source), ("--end-source", asked.end_source))
    territory = asked.territory or HOME.get(KINDS[asked.kind].regime)
    shown_number = asked.number or "?"
    if territory is None:
        raise BadRight(shown_number, ("no territory",))
    if not asked.names or not all(name.strip() for name in asked.names):
        raise BadRight(shown_number, ("no name",))
    facts = _facts(asked, territory)
    checked = check(facts, binomial=read_as_name(asked.names[0]).taxon.binomial)
    problems = [each.value for each in checked.problems]
    days = (asked.filed, asked.earliest, asked.granted)
    if any(day is not None and day.first is not None and day.first > rec.today for day in days):
        problems.append("after today")
    if problems:
        raise BadRight(shown_number, tuple(problems))
    _refuse_second(rec.session, asked, territory)
    row = rec.add(
        Right(
            kind=asked.kind.value,
            number=asked.number,
            territory=territory,
            filed=asked.filed,
            earliest=asked.earliest,
            granted=asked.granted,
            adjust_days=asked.adjust_days,
            disclaimed=asked.disclaimed,
            stated_end=asked.ends,
            end_source=asked.end_source,
            group=asked.group.value if asked.group else None,
            source=asked.source,
        )
    )
    rec.flush()
    for key, name in {variety_key(name): name for name in asked.names}.items():
        rec.add(RightName(right_id=row.id, key=key, name=name))
    rec.flush()
    plants, nearest = _plants_called(rec.session, asked.names)
    return replace(
        _right_shown(rec.session, row),
        warnings=tuple(each.value for each in checked.warnings),
        plants=plants,
        near=nearest,
        counted=ends(facts),
    )


def rights(session: Session) -> tuple[RightShown, ...]:
    """Every right on record, oldest first."""
    rows = session.scalars(select(Right).where(Right.void_seq.is_(None)).order_by(Right.id)).all()
    return tuple(_right_shown(session, row) for row in rows)


@dataclass(frozen=True, slots=True)
class EventShown:
    """A change of a right's status as recorded.

    Attributes:
        right: the right.
        what: what happened.
        on: when.
        final: it can't be undone any more.
        source: who says so.
        settled: open questions that it answered.
    """

    right: RightShown
    what: str
    on: str
    final: bool
    source: str | None
    settled: int


EVENTS = (
    *(kind.value for kind in EventKind if kind is not EventKind.ANNOUNCED),
    STATED_ENDED,
)
"""What can happen to a right; the last is the word of its register or holder that it has ended."""


def add_event(
    rec: Recording,
    number: str,
    what: str,
    *,
    on: FuzzyDate,
    source: str,
    final: bool = True,
    territory: str | None = None,
) -> EventShown:
    """Write down what became of a right or of an application for one.

    Args:
        rec: the recording.
        number: of the right.
        what: a word of `EVENTS`.
        on: when it happened; for `stated-ended` the last day of the right.
        source: the register, gazette or letter that says so.
        final: False while it can still be undone.
        territory: tells rights of the same number apart.

    Raises:
        RecordUnknown, SeveralRights: the number is of none, or of several.
        BadRight: it would end before it was granted.
        NothingSaid: the source is empty.
    """
    _refuse_empty(("--source", source))
    row = right_numbered(rec.session, number, territory)
    begun = row.granted or row.filed
    if begun is not None and Span.of(on).certainly_before(Span.of(begun)):
        raise BadRight(number, ("end before grant" if row.granted else "event before filing",))
    rec.add(RightEvent(right_id=row.id, what=what, final=final, source=source, on=on))
    rec.flush()
    shown = _right_shown(rec.session, row)
    plants, _ = _plants_called(rec.session, shown.names)
    settled = _settle_rows(rec, plants, ("B21", "B26"), f"right {what}") if final else 0
    return EventShown(shown, what, on.display(), final, source, settled)


def right_numbered(session: Session, number: str, territory: str | None = None) -> Right:
    """The right that has a number.

    Raises:
        RecordUnknown: none has it, naming those that come near.
        SeveralRights: several have it, in different territories.
    """
    rows = session.scalars(
        select(Right).where(Right.void_seq.is_(None), Right.number.is_not(None))
    ).all()
    found = [row for row in rows if _plain(row.number) == _plain(number)]
    if len(found) > 1 and territory is not None:
        found = [row for row in found if row.territory == territory] or found
    if len(found) > 1:
        raise SeveralRights(number, tuple(sorted(row.territory for row in found)))
    if not found:
        close = tuple(
            row.number
            for row in rows
            if row.number and distance(_plain(row.number), _plain(number), at_most=2) <= 2
        )
        raise RecordUnknown("right", number, close[:MOST_NEAR])
    return found[0]


def _plain(number: str | None) -> str:
    """A number without the marks that registers and growers write differently.

    >>> _plain("PP 9,536") == _plain("pp9536")
    True
    """
    return "".join(c for c in (number or "").upper() if c.isalnum())


def _facts(asked: RightAsked, territory: str) -> RightFacts:
    def span(day: FuzzyDate | None) -> Span | None:
        return Span.of(day) if day is not None else None

    return RightFacts(
        kind=asked.kind,
        number=asked.number,
        territory=territory,
        filed=span(asked.filed),
        earliest_claimed=span(asked.earliest),
        granted=span(asked.granted),
        adjust_days=asked.adjust_days,
        disclaimed=span(asked.disclaimed),
        stated_end=span(asked.ends),
        end_source=asked.end_source,
        end_checked=date.max if asked.end_source else None,
        group=asked.group,
    )


def _refuse_second(session: Session, asked: RightAsked, territory: str) -> None:
    if asked.number is None:
        return
    rows = session.scalars(
        select(Right.number).where(
            Right.kind == asked.kind.value,
            Right.territory == territory,
            Right.number.is_not(None),
            Right.void_seq.is_(None),
        )
    )
    if any(_plain(number) == _plain(asked.number) for number in rows):
        raise RightExists(asked.number, territory)


def _right_shown(session: Session, row: Right) -> RightShown:
    names = session.scalars(select(RightName.name).where(RightName.right_id == row.id)).all()
    return RightShown(
        id=row.id,
        kind=row.kind,
        number=row.number,
        territory=row.territory,
        names=tuple(names),
        filed=row.filed.display() if row.filed else None,
        granted=row.granted.display() if row.granted else None,
        ends=row.stated_end.display() if row.stated_end else None,
    )


def _plants_called(
    session: Session, names: Sequence[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Codes of plants that go by one of the names; if there are none, the nearest names."""
    keys = {variety_key(name) for name in names}
    called: dict[str, list[str]] = {}
    for code, name in _names_of_genera(session, names):
        called.setdefault(name, []).append(code)
    plants = [c for name, codes in called.items() if variety_key(name) in keys for c in codes]
    if plants:
        return tuple(dict.fromkeys(plants)), ()
    close = [name for name in called if any(near(name, wanted) for wanted in names)]
    return (), tuple(close[:MOST_NEAR] or list(called)[:MOST_NEAR])


def _names_of_genera(session: Session, names: Sequence[str]) -> list[tuple[str, str]]:
    """(code, name) of plants with a name of their own in the same genera."""
    found: list[tuple[str, str]] = []
    for genus in {read_as_name(name).taxon.genus for name in names} - {""}:
        # A range instead of LIKE, so that the index over the keys serves it.
        first, last = genus, f"{genus}!"
        found += _pairs(
            session,
            select(Node.code, Plant.received_as)
            .join(Plant, Plant.node_id == Node.id)
            .where(
                Plant.received_key >= first,
                Plant.received_key < last,
                Plant.void_seq.is_(None),
            ),
        )
        found += _pairs(
            session,
            select(Node.code, Determination.printed)
            .join(Determination, Determination.node_id == Node.id)
            .where(
                Determination.key >= first,
                Determination.key < last,
                Determination.void_seq.is_(None),
            ),
        )
    return found


def _pairs(session: Session, query: Any) -> list[tuple[str, str]]:
    return [(code, name) for code, name in session.execute(query)]


@dataclass(frozen=True, slots=True)
class LookedUp:
    """A search of the registers for one name.

    Attributes:
        name: as typed.
        found: none, something or unsure.
        plants: codes of plants with that name of their own.
        near: names on record that come nearest, where no plant matches.
        brand: the name is only a brand, so that the search answers nothing (row B35).
        settled: open questions that it answered.
    """

    name: str
    found: str
    plants: tuple[str, ...]
    near: tuple[str, ...]
    brand: bool
    settled: int


FREE = "free"
FOUND = ("none", "something", "unsure", FREE)
"""What a search of the registers can come to; `free` is breeder or holder saying that it is."""


def look_up(
    rec: Recording,
    names: Sequence[str],
    *,
    territory: str,
    where: str,
    found: str,
    complete: bool = True,
    pledge: str | None = None,
    first_sold: FuzzyDate | None = None,
    on: FuzzyDate,
) -> tuple[LookedUp, ...]:
    """Write down that a register was searched under some names, and what it found.

    Args:
        rec: the recording.
        names: one or several.
        territory: whose registers.
        where: which registers, in words.
        found: a word of `FOUND`.
        complete: all kinds of right of the place were searched, applications too.
        pledge: what must be passed on with it, where breeder or holder says that it is free (B39).
        first_sold: when the variety was first sold, if known.
        on: the day of the search.

    Raises:
        EmptyName: one of the names is empty.
        NothingSaid: where it was looked up, or the pledge, is empty.
        PledgeOfWhat: a pledge belongs to a word that it is free.
    """
    if pledge is not None and found != FREE:
        raise PledgeOfWhat(found)
    _refuse_empty(("--where", where), ("--pledge", pledge))
    results = []
    once: dict[str, str] = {}
    for name in names:
        once.setdefault(variety_key(name), name)
    for name in once.values():
        if not name.strip():
            raise EmptyName("a variety")
        read = read_as_name(name)
        rec.add(
            RightLookup(
                name=name,
                key=read.key,
                territory=territory,
                register_=where,
                found=found,
                complete=complete,
                pledge=pledge,
                first_sold=first_sold,
                on=on,
            )
        )
        plants, nearest = _plants_called(rec.session, (name,))
        answers = found in ("none", "free") and read.denomination
        settled = _settle_lookup(rec, plants) if answers else 0
        results.append(LookedUp(name, found, plants, nearest, not read.denomination, settled))
    rec.flush()
    return tuple(results)


def _settle_lookup(rec: Recording, codes: Sequence[str]) -> int:
    """Questions whether a right stands on the name of these plants are answered."""
    return _settle_rows(rec, codes, ("B35", "B36", "B38"), "looked up")


def _settle_rows(rec: Recording, codes: Sequence[str], asking: Sequence[str], how: str) -> int:
    """The open questions of some rows on some plants are answered."""
    if not codes:
        return 0
    rows = rec.session.scalars(
        select(Question)
        .join(Node, Node.id == Question.node_id)
        .where(
            Node.code.in_(codes),
            Question.row.in_(asking),
            Question.settled_seq.is_(None),
            Question.void_seq.is_(None),
        )
    ).all()
    return _settle(rec, rows, how)


def settle_name(rec: Recording, node_id: int) -> int:
    """The open questions what a plant is are answered, once its newest name says it.

    Returns:
        How many were answered; none where the name leaves it open.
    """
    newest = rec.session.scalars(
        select(Determination)
        .where(Determination.node_id == node_id, Determination.void_seq.is_(None))
        .order_by(Determination.id.desc())
    ).first()
    if newest is None or not says_what_it_is(newest.printed, newest.sure):
        return 0
    rows = rec.session.scalars(
        select(Question).where(
            Question.node_id == node_id,
            Question.row.in_(("B45", "C11", "C12")),
            Question.settled_seq.is_(None),
            Question.void_seq.is_(None),
        )
    ).all()
    return _settle(rec, rows, "named")


def lookups(session: Session) -> tuple[RightLookup, ...]:
    """Every search on record, newest first."""
    return tuple(
        session.scalars(
            select(RightLookup)
            .where(RightLookup.void_seq.is_(None))
            .order_by(RightLookup.id.desc())
        )
    )


# --- holds ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class HoldShown:
    """A hold as it stands; `subject` is a code or the name of a place."""

    id: int
    subject: str
    stops: tuple[str, ...]
    reason: str
    authority: str | None
    since: str | None
    lifted: str | None


def add_hold(
    rec: Recording,
    target: Target | None,
    *,
    place_id: int | None = None,
    reason: str,
    stops: Sequence[Stops] = (),
    authority: str | None = None,
    descent: bool = True,
    on: FuzzyDate,
) -> tuple[HoldShown, ...]:
    """Stop plants, a lot, a whole batch, or all that stands in a place.

    Args:
        rec: the recording.
        target: plants, a lot or a batch; None where a place is meant.
        place_id: the place.
        reason: why.
        stops: what is stopped; none is everything.
        authority: who ordered it.
        descent: what descends from it is stopped as well.
        on: from when.

    Raises:
        EmptyName: no reason is given.
    """
    if not reason.strip():
        raise EmptyName("a reason")
    subjects: list[dict[str, int]] = []
    if place_id is not None:
        subjects.append({"place_id": place_id})
    elif target is not None and target.lots and len(target.lots) > 1 and target.accession_id:
        subjects.append({"accession_id": target.accession_id})
    elif target is not None:
        subjects += [{"node_id": node} for node in target.plants or target.lots]
    rows = [
        rec.add(
            Hold(
                **subject,
                descent=descent,
                stops=[stop.value for stop in stops],
                reason=reason,
                authority=authority,
                from_=on,
            )
        )
        for subject in subjects
    ]
    rec.flush()
    shown = tuple(_hold_shown(rec.session, row) for row in rows)
    if place_id is None:
        rec.last = [one.subject for one in shown]
    return shown


def lift_hold(
    rec: Recording, *, hold_id: int | None = None, target: Target | None = None, on: FuzzyDate
) -> tuple[HoldShown, ...]:
    """Lift a hold by its number, or every hold that stands on what is named.

    Raises:
        RecordUnknown: there is no such hold, or none stands there.
        AlreadyEnded: it was lifted before.
    """
    if hold_id is not None:
        row = rec.session.get(Hold, hold_id)
        if row is None or row.void_seq is not None:
            raise RecordUnknown("hold", str(hold_id))
        if row.lifted_seq is not None:
            raise AlreadyEnded("hold", str(hold_id))
        rows: Sequence[Hold] = [row]
    else:
        rows = _standing_on(rec.session, target)
        if not rows:
            raise RecordUnknown("hold", target.text if target else "")
    for row in rows:
        row.lifted = on
        row.lifted_seq = rec.seq
    rec.flush()
    return tuple(_hold_shown(rec.session, row) for row in rows)


def holds(session: Session, *, all_: bool = False) -> tuple[HoldShown, ...]:
    """The holds that stand, or all that ever did."""
    query = select(Hold).where(Hold.void_seq.is_(None)).order_by(Hold.id)
    if not all_:
        query = query.where(Hold.lifted_seq.is_(None))
    return tuple(_hold_shown(session, row) for row in session.scalars(query))


def _standing_on(session: Session, target: Target | None) -> Sequence[Hold]:
    if target is None:
        return ()
    nodes = (*target.plants, *target.lots)
    return session.scalars(
        select(Hold).where(
            Hold.void_seq.is_(None),
            Hold.lifted_seq.is_(None),
            Hold.node_id.in_(nodes)
            | (Hold.accession_id.is_not(None) & (Hold.accession_id == target.accession_id)),
        )
    ).all()


def _hold_shown(session: Session, row: Hold) -> HoldShown:
    if row.node_id is not None:
        subject = session.get_one(Node, row.node_id).code
    elif row.accession_id is not None:
        subject = accession_code(session, row.accession_id)
    else:
        subject = session.get_one(Place, row.place_id).name
    return HoldShown(
        row.id,
        subject,
        tuple(row.stops) or tuple(stop.value for stop in Stops),
        row.reason,
        row.authority,
        row.from_.display() if row.from_ else None,
        row.lifted.display() if row.lifted else None,
    )


# --- open questions ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class QuestionShown:
    """A question that is open, or was settled: on which plant, which row asks, in words."""

    id: int
    plant: str
    row: str
    asks: str
    how: str | None


def settle_cannot(
    rec: Recording, target: Target, why: str, *, row: str | None = None
) -> tuple[QuestionShown, ...]:
    """Settle open questions of plants as never to be known: they leave the list, verdicts stay.

    Raises:
        EmptyName: no reason is given.
        RecordUnknown: no question is open there.
    """
    if not why.strip():
        raise EmptyName("a reason")
    query = select(Question).where(
        Question.node_id.in_((*target.plants, *target.lots)),
        Question.settled_seq.is_(None),
        Question.void_seq.is_(None),
    )
    if row is not None:
        query = query.where(Question.row == row)
    rows = rec.session.scalars(query.order_by(Question.id)).all()
    if not rows:
        raise RecordUnknown("question", f"{target.text} {row or ''}".strip())
    _settle(rec, rows, f"{CANNOT}{why}")
    rec.flush()
    return tuple(_question_shown(rec.session, each) for each in rows)


@dataclass(frozen=True, slots=True)
class Waiting:
    """An open question, for which act, and the living plants below what it is about, by code."""

    plant: str
    row: str
    act: str
    asks: str
    waiting: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class QuestionGroup:
    """Open questions that one answer may settle.

    Attributes:
        what: the name, the person, or the row.
        waiting: how many living plants wait for any of them.
        questions: the questions.
    """

    what: str
    waiting: int
    questions: tuple[Waiting, ...]


OF_THE_OWNER = frozenset({"A2", "A2b", "A7", "A9", "A10", "A16", "A17", "A18"})
OF_THE_REGISTER = frozenset({"B17", "B21", "B26", "B35", "B36", "B38"})


def questions_by(session: Session, what: str) -> tuple[QuestionGroup, ...]:
    """Open questions by the plant's `name`, the `person` to ask, or the `row`; most waiting first.

    A plant waits where it descends from the plant in question, or is that plant, and still stands.
    """
    asked_of = session.execute(
        select(Question, VerdictGiven.act)
        .join(VerdictGiven, VerdictGiven.id == Question.verdict_id)
        .where(Question.settled_seq.is_(None), Question.void_seq.is_(None))
        .order_by(Question.id)
    ).all()
    rows = [row for row, _ in asked_of]
    acts = {row.id: act for row, act in asked_of}
    nodes = {row.node_id for row in rows}
    below = {node: _standing_below(session, node) for node in nodes}
    named = as_parameter(nodes | {each for found in below.values() for each in found})
    codes = {row[0]: row[1] for row in session.connection().execute(_CODES, named)}
    names = names_of(session, list(nodes))
    groups: dict[str, list[Question]] = {}
    for row in rows:
        if what == "name":
            key = names[row.node_id].shown
        elif what == "row":
            key = row.row
        else:
            key = _whom(session, row)
        groups.setdefault(key, []).append(row)
    shown = [
        QuestionGroup(
            key,
            len({plant for row in asked for plant in below[row.node_id]}),
            tuple(
                Waiting(
                    codes[row.node_id],
                    row.row,
                    acts[row.id],
                    people.with_names(session, row.asks or ""),
                    tuple(codes[plant] for plant in sorted(below[row.node_id])),
                )
                for row in asked
            ),
        )
        for key, asked in groups.items()
    ]
    return tuple(sorted(shown, key=lambda group: (-group.waiting, group.what)))


_CODES = text(f"SELECT id, code FROM node WHERE id IN {IDS}")  # noqa: S608 - a constant of ours
_STANDING = text(
    f"SELECT node_id, status FROM plant WHERE node_id IN {IDS} AND void_seq IS NULL"  # noqa: S608 - a constant of ours
)


def _standing_below(session: Session, node: int) -> set[int]:
    """The plants that descend from a node, and itself, which still stand."""
    below = as_parameter(descendant_ids(session, [node]))
    rows = session.connection().execute(_STANDING, below)
    return {plant for plant, status in rows if status not in GONE}


def _whom(session: Session, row: Question) -> str:
    """Whom to ask: the owner by name where one is on record; else a register or somebody else."""
    if row.row in OF_THE_OWNER:
        person = _owner_of(session, row.node_id)
        detail = session.get(PersonDetail, person) if person is not None else None
        return detail.name if detail else "its owner, not on record"
    return "the registers" if row.row in OF_THE_REGISTER else "who knows the plant"


def _question_shown(session: Session, row: Question) -> QuestionShown:
    code = session.get_one(Node, row.node_id).code
    return QuestionShown(row.id, code, row.row, people.with_names(session, row.asks or ""), row.how)
