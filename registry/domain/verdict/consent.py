"""A. Owner's consent, up every edge to the plants that material was drawn from.

`propagate` of a plant is judged on the day of taking, every other act, and every act with a
descendant, by the same person's newest word for that act up to the day asked about.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from enum import Enum

from registry.domain.spans import ANY_DAY, LAST_DAY, Span, add_days
from registry.domain.verdict.facts import (
    RELEASES,
    Act,
    Consent,
    Ground,
    How,
    Limit,
    Lot,
    Outcome,
    Owner,
    Paper,
    Plant,
    Question,
    Role,
    Word,
)
from registry.domain.verdict.findings import (
    Ask,
    Finding,
    Level,
    Record,
    RecordKind,
    Settle,
    Unknown,
    Value,
)
from registry.domain.verdict.walk import ACQUIRED, Case, Manner, Reached, Subject

# Ways of arriving that make a plant the grower's own where no ownership is recorded (A1, C10).
OWN_BY_ARRIVAL = ACQUIRED | {How.WITH_HOUSE, How.PRODUCE, How.SEED}
ASKS_FOR_LEAVE = RELEASES | {Act.PROPAGATE}
ACTING_FOR_OWNER = frozenset({Role.AGENT, Role.KEEPER, Role.COMMITTEE, Role.GIVER})


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """The findings of rows A1 to A21, C4 and the consent part of B46."""
    act = case.dossier.question.act
    if act is Act.KEEP:
        yield from _asked_back(case, subject)
    if act not in ASKS_FOR_LEAVE:
        return
    plants, telling, grafted = case.dossier.plants, case.telling, case.came_grafted()
    for reached in subject.line:
        if reached.node not in plants and reached.node not in telling:
            continue  # a lot on which no leave was recorded
        if reached.node in grafted and _asked_of_the_tree(case, reached.node):
            continue
        yield from case.once(
            ("consent", reached),
            lambda r=reached: tuple(_of_reached(case, r)),  # type: ignore[misc]
        )


def _of_reached(case: Case, reached: Reached) -> Iterator[Finding]:
    for found in _on_source(case, reached):
        yield found if reached.certain else replace(found, certain=False)


def _asked_of_the_tree(case: Case, node: int) -> bool:
    """A rootstock that came with a tree: whose the tree is and what was said of it speaks for it.

    Unless somebody is on record as its owner, or said something of it.
    """
    plant = case.plant(node)
    return plant is not None and not plant.owners and not plant.consents


def _asked_back(case: Case, subject: Subject) -> Iterator[Finding]:
    """B46: keeping needs nothing, unless a consent asks the plant back."""
    for reached in subject.told:
        plant = case.plant(reached.node)
        for consent in plant.consents if plant else ():
            word = consent.word(Act.KEEP) if consent.words else None
            if word is not None and not word.allowed:
                yield _finding("B46", Level.BARRED, reached.node, consent, ask=Ask.OWNER)


# --- one source ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Source:
    """A plant that material was drawn from, and the days that matter."""

    reached: Reached
    act: Act
    day: Span  # on which the act is asked
    taken: Span  # on which material was drawn
    entry: int | None  # that recorded the taking
    taking: bool  # the question is the taking itself


def _on_source(case: Case, reached: Reached) -> Iterator[Finding]:
    plant, lot = case.plant(reached.node), case.lot(reached.lot)
    if plant is None:
        yield from _on_lot(case, reached)
        return
    if reached.manner is Manner.POLLEN:
        yield _finding("A19", Level.CLEAR, plant.id)
        return
    question = case.dossier.question
    taken = _taken(question, reached, lot)
    consents = plant.consents + (lot.consents if lot else ())
    own = _is_own(case, plant, taken)
    if own:
        raised = not plant.owners and plant.how is None
        yield _finding(
            "C10" if plant.how is How.PRODUCE else "A1",
            Level.CLEAR,
            plant.id,
            fields=(("raised", True),) if raised else (),
        )
        if not consents:  # as of nearly every plant that was raised here
            return
    source = _Source(
        reached=reached,
        act=question.act,
        day=question.day,
        taken=taken,
        entry=question.entry if reached.itself else lot.entry if lot else None,
        taking=reached.itself and question.act is Act.PROPAGATE,
    )
    if own:
        yield from _terms_of_giver(case, plant, source, consents)
    else:
        yield from _others(case, plant, source, consents)


def _taken(question: Question, reached: Reached, lot: Lot | None) -> Span:
    """The day of taking; a trunk that still carries its tops is part of them on the day asked."""
    if lot is not None:
        return lot.taken
    return question.day if reached.itself or reached.manner is Manner.STOCK else ANY_DAY


def _on_lot(case: Case, reached: Reached) -> Iterator[Finding]:
    """A5 and others where leave was recorded on a lot that has no plant above it."""
    lot = case.lot(reached.node)
    if lot is None or not lot.consents or case.makings(lot.id):
        return
    question = case.dossier.question
    source = _Source(reached, question.act, question.day, lot.taken, lot.entry, taking=False)
    yield from _by_person(case, Plant(lot.id), source, lot.consents)


def _is_own(case: Case, plant: Plant, taken: Span) -> bool:
    """A1: the grower's own on every possible day of the taking."""
    if plant.ground is not Ground.PRIVATE:
        return False
    if not plant.owners:
        if plant.how is None:
            return case.raised_here(plant.id)
        return plant.how in OWN_BY_ARRIVAL
    return any(o.person is None and _owns_through(o, taken) for o in plant.owners)


def _owns_through(owner: Owner, day: Span) -> bool:
    start = owner.since.first if owner.since.last == LAST_DAY else owner.since.last
    return start <= day.first and (owner.until is None or day.last <= owner.until.first)


def _terms_of_giver(
    case: Case, plant: Plant, source: _Source, consents: tuple[Consent, ...]
) -> Iterator[Finding]:
    """C4: of a plant of one's own, they bind like a consent."""
    from_giver = tuple(c for c in consents if c.role is Role.GIVER)
    if from_giver:
        yield from _by_person(case, plant, source, from_giver)


def _others(
    case: Case, plant: Plant, source: _Source, consents: tuple[Consent, ...]
) -> Iterator[Finding]:
    """A2 to A21 for a plant that is not the grower's own."""
    if plant.ground is Ground.US_NATIONAL_PARK and not _park_agreed(consents, source.act):
        yield _park(case, plant)
        return
    if source.reached.manner is Manner.SEED:
        consents, found = _reaching_seed(plant, consents)
        yield from found
        if found and not consents:
            return
    if consents or plant.how is How.HANDED_OVER:
        yield from _by_person(case, plant, source, consents)
    elif not _wild_with_leave(plant, source.act):
        yield _no_leave(plant)


def _park_agreed(consents: tuple[Consent, ...], act: Act) -> bool:
    """Whether the park itself said yes; its word is judged like any other then."""
    return any(
        c.role is Role.KEEPER and (word := c.word(act)) is not None and word.allowed
        for c in consents
    )


def _park(case: Case, plant: Plant) -> Finding:
    """A20: barred without a permit."""
    if Paper.PARK_PERMIT in case.dossier.question.papers:
        return _finding("A20", Level.CLEAR, plant.id, citation="36 CFR 2.1")
    return _finding("A20", Level.BARRED, plant.id, citation="36 CFR 2.1", ask=Ask.KEEPER)


def _wild_with_leave(plant: Plant, act: Act) -> bool:
    """C7 answers for the landowner where a permit or leave is recorded for the act."""
    return plant.origin is not None and act in plant.origin.allowed


def _no_leave(plant: Plant) -> Finding:
    """A2, or A20 and A21 by whose ground it is."""
    owner = next((o.person for o in reversed(plant.owners) if o.person is not None), None)
    row, ask = {
        Ground.PUBLIC: ("A20", Ask.KEEPER),
        Ground.US_NATIONAL_PARK: ("A20", Ask.KEEPER),
        Ground.GROUP: ("A21", Ask.COMMITTEE),
    }.get(plant.ground, ("A2", Ask.OWNER))
    return _gap(row, plant.id, ask=ask, person=owner)


def _reaching_seed(
    plant: Plant, consents: tuple[Consent, ...]
) -> tuple[tuple[Consent, ...], tuple[Finding, ...]]:
    """A18: only a consent that says so reaches plants raised from seed."""
    reaching = tuple(c for c in consents if c.seedlings)
    if reaching or not consents:
        return reaching, ()
    free = next((c for c in consents if c.seedlings is False), None)
    if free is not None:
        return (), (_finding("A18", Level.CLEAR, plant.id, free),)
    return (), (_gap("A18", plant.id, consents[-1], ask=Ask.OWNER),)


# --- each person's newest word -------------------------------------------------------------------


def _by_person(
    case: Case, plant: Plant, source: _Source, consents: tuple[Consent, ...]
) -> Iterator[Finding]:
    """A15: one owner's latest word counts; words of different people add up."""
    people: dict[object, list[Consent]] = {}
    for consent in consents:
        people.setdefault(consent.person or ("unnamed", consent.role), []).append(consent)
    spoken = [_of_person(case, plant, source, mine) for mine in people.values()]
    found = [f for f in spoken if f is not None]
    if found:
        yield from found
    elif plant.how is How.HANDED_OVER:
        yield _handed_over(plant, source, None)
    else:
        yield _no_leave(plant)


def _of_person(
    case: Case, plant: Plant, source: _Source, consents: list[Consent]
) -> Finding | None:
    """What one person's consents come to, or None where they say nothing by that day."""
    newest, older_no = _newest(consents, source.act, source.day)
    if newest is None:
        return _silent(case, plant, source, consents)
    word = newest.word(source.act)
    if word is None or not word.allowed:
        return _finding(
            _row(newest, "A6"),
            Level.BARRED,
            plant.id,
            newest,
            ask=_whom(newest),
            settle=Settle.NEW_WORD,
        )
    found = _leave(case, plant, source, newest, word)
    if older_no is not None:
        found = replace(found, fields=(*found.fields, ("older_no", older_no.id)))
    return found


def _newest(
    consents: Iterable[Consent], act: Act, day: Span
) -> tuple[Consent | None, Consent | None]:
    """The newest consent with a word for `act` that may count by `day`, and an older no."""
    spoken = sorted(
        (c for c in consents if c.word(act) is not None and c.starts.first <= day.last),
        key=lambda c: (c.starts.last, c.recorded, c.id),
    )
    if not spoken:
        return None, None
    noes = [c for c in spoken[:-1] if (word := c.word(act)) and not word.allowed]
    return spoken[-1], noes[-1] if noes else None


def _silent(case: Case, plant: Plant, source: _Source, consents: list[Consent]) -> Finding | None:
    """A2b, A5, A7, A8 and A9: no word for the act by that day."""
    if source.taking:
        late = _given_late(plant, source, consents)
        if late is not None:
            return late
    heard = [c for c in consents if c.starts.first <= source.day.last]
    asked_on_itself = source.taking or source.reached.itself
    made = None if asked_on_itself else _making(case, plant, source, consents)
    if made is not None and made.rank < (Level.UNKNOWN, 1):  # barred, or a sign
        return made
    no_answer = [c for c in heard if c.outcome is Outcome.NO_ANSWER]
    if no_answer:
        return _sign("A2b", plant.id, no_answer[-1], ask=_whom(no_answer[-1]))
    handed = [c for c in heard if c.outcome is Outcome.HANDED_OVER]
    if handed and source.act is Act.PROPAGATE:
        return _handed_over(plant, source, handed[-1])
    if heard:
        return _gap(_row(heard[-1], "A7"), plant.id, heard[-1], ask=_whom(heard[-1]))
    return None


def _handed_over(plant: Plant, source: _Source, consent: Consent | None) -> Finding:
    """A5: who hands cuttings over for growing has said yes to growing, and no more."""
    if source.act is Act.PROPAGATE:
        return _finding("A5", Level.CLEAR, plant.id, consent)
    return _gap("A7", plant.id, consent, ask=Ask.OWNER)


def _given_late(plant: Plant, source: _Source, consents: list[Consent]) -> Finding | None:
    """A8: leave given after the taking. A9: a leave whose start lies after it."""
    later = [
        c
        for c in consents
        if c.starts.first > source.day.last and (w := c.word(source.act)) is not None and w.allowed
    ]
    if not later:
        return None
    leave = min(later, key=lambda c: c.starts.last)
    days = (("taken", source.day.last), ("given", leave.starts.first))
    if leave.covers_taken:
        return _finding("A8", Level.CONDITIONAL, plant.id, leave, fields=days)
    return replace(
        _sign("A8", plant.id, leave, ask=_whom(leave)), fields=days, changes_on=leave.starts.last
    )


def _making(case: Case, plant: Plant, source: _Source, consents: list[Consent]) -> Finding | None:
    """The day it was made counts too: propagate, judged on the day of taking."""
    made = replace(source, act=Act.PROPAGATE, day=source.taken, taking=True)
    return _of_person(case, plant, made, consents)


# --- a yes ---------------------------------------------------------------------------------------


class Cover(Enum):
    """How far a consent covers the possible days."""

    ALL = "all"
    PART = "part"
    ENDED = "ended"


def cover(consent: Consent, day: Span) -> Cover:
    """How far `consent` is in force on the possible days of `day`, by its cautious bounds."""
    ended = consent.until
    if ended is not None and ended.last < day.first:
        return Cover.ENDED
    if consent.starts.last <= day.first and (ended is None or day.last <= ended.first):
        return Cover.ALL
    return Cover.PART


def _leave(case: Case, plant: Plant, source: _Source, consent: Consent, word: Word) -> Finding:
    """A3, A4, A8 to A13, A16 and A17: the newest word is yes."""
    if not _speaks_for_owner(plant, consent):
        if not plant.owners:  # whose it is was never said: no less known than with no leave at all
            return _gap("A16", plant.id, consent, settle=Settle.RECORD_OWNER, ask=Ask.OWNER)
        return _sign("A16", plant.id, consent, settle=Settle.RECORD_OWNER, ask=Ask.OWNER)
    if _is_withdrawn(consent, source.day):
        return _withdrawn(plant, source, consent)
    if source.taking and _changed_hands(plant, consent, source.day):
        return _gap("A17", plant.id, consent, ask=Ask.OWNER)
    with_taking = (
        consent.with_taking and consent.entry is not None and consent.entry == source.entry
    )
    held = cover(consent, source.day)
    if not (with_taking and source.taking):
        if held is Cover.ENDED:
            return _sign("A9", plant.id, consent, ask=_whom(consent))
        if held is Cover.PART:
            return _gap("A10", plant.id, consent, settle=Settle.CONFIRM_DAY, ask=_whom(consent))
    row = "A4" if with_taking else "A8" if _after_taking(source, consent) else "A3"
    return _within_limits(case, plant.id, source, consent, word, _row(consent, row))


def _after_taking(source: _Source, consent: Consent) -> bool:
    return not source.taking and consent.starts.first > source.taken.last


def _is_withdrawn(consent: Consent, day: Span) -> bool:
    return consent.withdrawn is not None and day.last >= consent.withdrawn.first


def _withdrawn(plant: Plant, source: _Source, consent: Consent) -> Finding:
    """A13: barred from the owner's plant; what was taken before is a sign."""
    ended = consent.withdrawn or source.day
    taken_after = source.taken.first >= ended.first and not source.taken.first < ended.last
    if source.taking or taken_after:
        return _finding("A13", Level.BARRED, plant.id, consent, ask=_whom(consent))
    return _sign("A13", plant.id, consent, settle=Settle.READ_TERMS, ask=_whom(consent))


def _speaks_for_owner(plant: Plant, consent: Consent) -> bool:
    """A16: an owner on record that day, or somebody recorded as acting for the owner."""
    if consent.role in ACTING_FOR_OWNER:
        return True
    return consent.person is not None and any(
        o.person == consent.person and _may_own(o, consent.starts) for o in plant.owners
    )


def _may_own(owner: Owner, day: Span) -> bool:
    return owner.since.first <= day.last and (owner.until is None or owner.until.last >= day.first)


def _changed_hands(plant: Plant, consent: Consent, day: Span) -> bool:
    """A17: the giver's ownership ended before that day."""
    rows = [o for o in plant.owners if o.person == consent.person]
    return bool(rows) and all(o.until is not None and o.until.last < day.first for o in rows)


# --- numbers and terms ---------------------------------------------------------------------------


def limit_of(consent: Consent, act: Act) -> Limit | None:
    """The tightest limit of a consent that counts `act`, on whichever act it was written."""
    limits = [w.limit for w in consent.words if w.limit is not None and act in w.limit.counted]
    return min(limits, key=lambda limit: limit.n, default=None)


def used_of(consent: Consent, limit: Limit, day: Span) -> int | None:
    """How much of a limit is used, in the fullest year that `day` can lie in; None: not known."""
    uses = [u for u in consent.uses if u.act in limit.counted]
    if not limit.per_year:
        return _total(u.n for u in uses)
    years = {y for u in uses for y in (u.on.first.year, u.on.last.year)}
    totals = [
        _total(u.n for u in uses if u.on.may_touch(date(year, 1, 1), date(year, 12, 31)))
        for year in years
        if day.may_touch(date(year, 1, 1), date(year, 12, 31))
    ]
    return None if None in totals else max((n for n in totals if n is not None), default=0)


def _total(numbers: Iterable[int | None]) -> int | None:
    known = list(numbers)
    return None if None in known else sum(n for n in known if n is not None)


def _within_limits(
    case: Case, node: int, source: _Source, consent: Consent, word: Word, row: str
) -> Finding:
    """A11 and A12 over the whole request (D2), else clear, or conditional where terms bind."""
    fields: list[tuple[str, Value]] = [("act", source.act.value)]
    if row == "A8":
        fields.append(("given", consent.starts.last))
    fields += word_terms(word)
    limit = limit_of(consent, source.act)
    same_act = source.act is case.dossier.question.act
    if limit is not None and same_act:
        used = used_of(consent, limit, source.day)
        asked = case.asked_from(RecordKind.CONSENT, node)
        if used is None:
            return _gap("A11", node, consent, settle=Settle.COUNT, fields=(("limit", limit.n),))
        left = max(0, limit.n - used)
        numbers = (("limit", limit.n), ("unit", limit.unit.value), ("left", left))
        if used >= limit.n or (asked is not None and used + asked > limit.n):
            return _finding("A11", Level.BARRED, node, consent, ask=_whom(consent), fields=numbers)
        fields += numbers
        if asked is not None and used + asked == limit.n:
            return _finding(
                "A12", Level.CONDITIONAL, node, consent, ask=_whom(consent), fields=tuple(fields)
            )
        if asked is not None:
            fields.append(("left_after", left - asked))
    binds = len(fields) > (2 if row == "A8" else 1)
    level = Level.CONDITIONAL if binds and source.act in RELEASES else Level.CLEAR
    settle = asks_for(word)
    ends = add_days(consent.until.first, 1) if consent.until else None
    return _finding(row, level, node, consent, fields=tuple(fields), changes_on=ends, settle=settle)


def asks_for(word: Word) -> Settle | None:
    """What a yes asks for in turn, the dearest first."""
    if word.royalty:
        return Settle.PAY
    if word.credit:
        return Settle.CREDIT
    if word.pledge:
        return Settle.HAND_ON
    return Settle.CARRY_NOTICE if word.notice else None


def word_terms(word: Word) -> list[tuple[str, Value]]:
    """The terms of one act that bind: royalty, credit, notice, a pledge to pass on."""
    terms: list[tuple[str, Value]] = []
    if word.royalty:
        terms.append(("royalty", word.royalty))
    if word.credit:
        terms.append(("credit", word.credit))
    if word.notice:
        terms.append(("notice", word.notice))
    if word.pledge:
        terms.append(("pledge", word.pledge))
    return terms


# --- making findings -----------------------------------------------------------------------------


def _row(consent: Consent, row: str) -> str:
    """C4 stands for a giver's terms; what they come to is as for an owner."""
    return "C4" if consent.role is Role.GIVER else row


def _whom(consent: Consent) -> Ask:
    return {
        Role.KEEPER: Ask.KEEPER,
        Role.COMMITTEE: Ask.COMMITTEE,
        Role.GIVER: Ask.SUPPLIER,
    }.get(consent.role, Ask.OWNER)


def _finding(
    row: str,
    level: Level,
    node: int,
    consent: Consent | None = None,
    *,
    unknown: Unknown | None = None,
    citation: str = "the law of property: material belongs to someone",
    settle: Settle | None = None,
    ask: Ask | None = None,
    person: int | None = None,
    changes_on: date | None = None,
    fields: tuple[tuple[str, Value], ...] = (),
) -> Finding:
    if consent is not None:
        fields = (*fields, ("typed", consent.recorded), ("person", consent.person))
    return Finding(
        row=row,
        level=level,
        plant=node,
        unknown=unknown,
        record=Record(RecordKind.CONSENT, consent.id) if consent else None,
        citation=citation,
        changes_on=changes_on,
        settle=settle,
        ask=ask,
        person=person if person is not None else consent.person if consent else None,
        fields=fields,
    )


def _gap(
    row: str,
    node: int,
    consent: Consent | None = None,
    *,
    settle: Settle = Settle.ASK_OWNER,
    ask: Ask | None = None,
    person: int | None = None,
    fields: tuple[tuple[str, Value], ...] = (),
) -> Finding:
    return _finding(
        row,
        Level.UNKNOWN,
        node,
        consent,
        unknown=Unknown.GAP,
        settle=settle,
        ask=ask,
        person=person,
        fields=fields,
    )


def _sign(
    row: str,
    node: int,
    consent: Consent | None = None,
    *,
    settle: Settle = Settle.ASK_OWNER,
    ask: Ask | None = None,
) -> Finding:
    return _finding(row, Level.UNKNOWN, node, consent, unknown=Unknown.SIGN, settle=settle, ask=ask)
