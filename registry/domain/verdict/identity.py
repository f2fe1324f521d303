"""B34 to B45, C11 to C13: what the name and the look-ups say where no right is on record.

Read only for kinds of right that have no record of their own (B29). The first that matches:
label notice, a holder's statement, look-up, long in cultivation, species, never looked up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from registry.domain.rules.kinds import (
    KINDS_OF,
    LONG_IN_CULTIVATION,
    LOOKUP_MONTHS,
    PRIVATE_FREE,
    PRIVATE_UNSEARCHED,
    SECRET_YEARS,
    Kind,
)
from registry.domain.rules.taxa import NO_PLANT_PATENT
from registry.domain.rules.territories import Place, Regime, country_code, covers, regime
from registry.domain.spans import add_days, add_months, add_years
from registry.domain.verdict import variety
from registry.domain.verdict.facts import (
    RELEASES,
    Act,
    FreeStatement,
    Identity,
    LookUp,
    Name,
    NameKind,
    Plant,
    Way,
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
from registry.domain.verdict.walk import Case, Manner, Named, Subject

CAUTIOUS = "cautious reading"
NOT_A_NAME = frozenset(
    {Identity.UNKNOWN, Identity.GENUS, Identity.DOUBTFUL, Identity.BRAND, Identity.LABEL_LOST}
)
_ROW_OF_NO_NAME = {Identity.BRAND: "B45", Identity.LABEL_LOST: "C11"}


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """The findings of every name of the asked node, in every place that the act touches."""
    question = case.dossier.question
    if question.act not in RELEASES | {Act.PROPAGATE}:
        return
    for place in touched(case):
        for named, line in _names(case, subject):
            found = _no_right(case, subject, named, line, place)
            if found is not None:
                yield found if named.certain else replace(found, certain=False)
    if question.act in RELEASES:
        yield from _on_release(case, subject)


def touched(case: Case) -> tuple[Place, ...]:
    """The places whose rights the act touches: where it is done, and where plants go."""
    question = case.dossier.question
    if question.act in RELEASES and question.to is not None:
        here, there = country_code(question.place.country), country_code(question.to.country)
        same = regime(here) is regime(there) and regime(here) is not Regime.OTHER
        if here != there and not same:
            return question.place, question.to
    return (question.place,)


def _names(case: Case, subject: Subject) -> Iterator[tuple[Named, tuple[Plant, ...]]]:
    """The names of the plant, and of a rootstock where the whole plant is meant (D3)."""
    own = _plants(case, subject, {Manner.SELF, Manner.CLONE})
    named = _effective(case, subject.node) or (Named(subject.seat, _UNKNOWN),)
    if subject.way is Way.SUCKER:
        above = case.above(subject.node, whole=True)
        if all(r.manner is not Manner.STOCK for r in above):  # its rootstock is not on record
            yield Named(subject.node, _UNKNOWN), ()
        return
    if subject.way is Way.SEED:
        return  # a sowing makes seedlings, not copies: B11 and B13 speak for them
    for name in named:
        yield name, own
    stock = _plants(case, subject, {Manner.STOCK})
    seen = {name.node for name in named}
    for reached in subject.stocks:
        if case.plant(reached.node) is None:
            continue
        unknown = () if case.raised_here(reached.node) else (Named(reached.node, _UNKNOWN),)
        for name in case.named(reached.node) or unknown:
            if name.node not in seen:
                seen.add(name.node)
                yield replace(name, certain=name.certain and reached.certain), stock


_UNKNOWN = Name(key="", identity=Identity.UNKNOWN)


def _effective(case: Case, node: int) -> tuple[Named, ...]:
    """The names to look up: for a sport those of what it sported from (B12)."""
    found: list[Named] = []
    for named in case.named(node):
        starts_line = named.name.kind in {NameKind.SPORT, NameKind.SELECTION}
        if starts_line and not case.from_seed(named.node):
            parents = [
                n
                for edge in case.parents.get(named.node, ())
                for n in _effective(case, edge.parent)
            ]
            found += parents or [named]
        else:
            found.append(named)
    return tuple(dict.fromkeys(found))


def _plants(case: Case, subject: Subject, manners: set[Manner]) -> tuple[Plant, ...]:
    reached = (case.plant(r.node) for r in subject.told if r.manner in manners)
    return tuple(plant for plant in reached if plant is not None)


# --- one name in one place -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Matter:
    """One name in one place, with the plants of its clone."""

    case: Case
    subject: Subject
    named: Named
    line: tuple[Plant, ...]
    place: Place
    regime: Regime
    unrecorded: tuple[Kind, ...]  # kinds of right that have no record for this name

    @property
    def act(self) -> Act:
        """The act asked."""
        return self.case.dossier.question.act

    @property
    def private(self) -> bool:
        """Whether the act counts as private."""
        return self.subject.private


def _no_right(
    case: Case, subject: Subject, named: Named, line: tuple[Plant, ...], place: Place
) -> Finding | None:
    here = regime(place.country)
    unrecorded = _kinds_without_record(case, named, place, here)
    matter = Matter(case, subject, named, line, place, here, unrecorded)
    if named.name.identity is Identity.MIX_UP:
        return _sign(matter, "C13", Settle.DETERMINE, Ask.EXPERT)
    if not unrecorded:
        return None
    return next((found for step in _STEPS if (found := step(matter)) is not None), None)


def _kinds_without_record(case: Case, named: Named, place: Place, here: Regime) -> tuple[Kind, ...]:
    """The kinds of right of the place that have no record for this name (B29, C21)."""
    on_name = [right.facts for right in case.dossier.rights if named.name.key in right.keys]
    recorded = {facts.kind for facts in on_name if covers(facts.territory, place.country)}
    if any(variety.lives_on_in_the_uk(facts, place) for facts in on_name):
        recorded.add(Kind.UK_PBR)
    if named.name.taxon.binomial in NO_PLANT_PATENT:
        recorded.add(Kind.US_PLANT_PATENT)
    return tuple(kind for kind in KINDS_OF[here] if kind not in recorded)


def _pending_mark(m: Matter) -> Finding | None:
    """B17: announced on a label, nothing else recorded."""
    for plant in m.line:
        mark = plant.acquired.pending_mark if plant.acquired else None
        if mark is not None and covers(mark, m.place.country):
            if m.private and m.regime in PRIVATE_FREE:
                return _finding(
                    m, "B17", Level.CONDITIONAL, node=plant.id, settle=Settle.STAY_PRIVATE
                )
            return _sign(m, "B17", Settle.RECORD_OUTCOME, Ask.REGISTER, plant.id)
    return None


def _label_notice(m: Matter) -> Finding | None:
    """B42: the label forbids, no right was found."""
    for plant in m.line:
        label = plant.acquired
        if label is None or not label.do_not_propagate:
            continue
        answered = label.none_answered
        statement = _statement(m)
        if answered is not None or statement is not None:
            day = answered or (statement.on.last if statement else None)
            return _finding(m, "B42", Level.CONDITIONAL, node=plant.id, fields=(("answered", day),))
        if m.private and m.regime in PRIVATE_FREE:
            return _finding(m, "B42", Level.CONDITIONAL, node=plant.id, settle=Settle.STAY_PRIVATE)
        return _sign(m, "B42", Settle.ASK_NONE, Ask.SUPPLIER, plant.id)
    return None


def _statement(m: Matter) -> FreeStatement | None:
    """The newest statement for this name and place."""
    held = [
        s
        for s in m.case.dossier.free
        if s.key == m.named.name.key
        and (s.territory is None or covers(s.territory, m.place.country))
    ]
    return max(held, key=lambda s: (s.on.last, s.id), default=None)


def _stated_free(m: Matter) -> Finding | None:
    """B39: breeder's or holder's dated statement; a pledge is carried on."""
    statement = _statement(m)
    if statement is None:
        return None
    record = Record(RecordKind.STATEMENT, statement.id)
    if statement.pledge:
        return _finding(
            m,
            "B39",
            Level.CONDITIONAL,
            record=record,
            settle=Settle.CARRY_NOTICE,
            fields=(("pledge", statement.pledge),),
        )
    return _finding(m, "B39", Level.CLEAR, record=record)


def _looked_up(m: Matter) -> Finding | None:
    """B34: a look-up by the denomination found none. B35: any other look-up counts for nothing."""
    if m.named.name.identity is not Identity.CULTIVAR or not m.named.name.denomination:
        return None
    held = [k for k in _looks(m) if k.key == m.named.name.key and k.by_denomination]
    if not held:
        return None
    return min((_as_found(m, look) for look in held), key=lambda f: -f.level)


def _looks(m: Matter) -> Iterator[LookUp]:
    """The look-ups of the place made by the day asked about."""
    for look in m.case.dossier.lookups:
        here = covers(look.territory, m.place.country)
        if here and look.on.first <= m.case.dossier.question.day.last:
            yield look


def _as_found(m: Matter, look: LookUp) -> Finding:
    day = m.case.dossier.question.day
    stale_from = add_months(look.on.first, LOOKUP_MONTHS)
    record = Record(RecordKind.LOOKUP, look.id)
    fields: tuple[tuple[str, Value], ...] = (("looked_up", look.on.first),)
    secret = (
        m.regime is Regime.US
        and look.first_sold is not None
        and look.on.first < add_years(look.first_sold.last, SECRET_YEARS)
    )
    why = None
    if not look.complete:
        why = "incomplete"
    elif day.last > stale_from:
        why = "stale"
    elif secret:
        why = "secret"
    if why is None:
        changes = add_days(stale_from, 1)
        return _finding(m, "B34", Level.CLEAR, record=record, changes=changes, fields=fields)
    return _finding(
        m,
        "B34",
        Level.CONDITIONAL,
        record=record,
        settle=Settle.LOOK_UP,
        ask=Ask.REGISTER,
        fields=(*fields, ("why", why)),
    )


def _long_in_cultivation(m: Matter) -> Finding | None:
    """B37: standing, or on sale, since long enough; a year without its source is B38."""
    reached = _reaches_back(m)
    if reached is None:
        return None
    since, source, node, day = reached
    if m.case.dossier.question.day.first < day:
        return None
    years = LONG_IN_CULTIVATION[m.regime]
    return _finding(
        m,
        "B37",
        Level.CLEAR,
        node=node,
        fields=(("since", since.year), ("source", source), ("years", years)),
    )


def _reaches_back(m: Matter) -> tuple[date, str, int, date] | None:
    """The oldest sourced year of the line: its last day, source, node and when the sum is full."""
    years = LONG_IN_CULTIVATION[m.regime]
    known = [
        (since.when.last, since.source, plant.id)
        for plant in m.line
        for since in plant.since
        if since.source
    ]
    if not known:
        return None
    day, source, node = min(known)
    return day, source, node, add_years(day, years)


def _name_unknown(m: Matter) -> Finding | None:
    """C12, C11, B45: no name that could be looked up."""
    name = m.named.name
    if name.identity not in NOT_A_NAME and name.denomination:
        return None
    if m.named.seedling or name.from_seed or _own_selection(m):
        return None
    row = _ROW_OF_NO_NAME.get(name.identity, "C12")
    if name.identity is Identity.CULTIVAR:  # not known to be the denomination
        row = "B45"
    us_cutting = m.regime is Regime.US and m.act is Act.PROPAGATE
    if not m.private or us_cutting:
        return _gap(m, row, Settle.DETERMINE, Ask.EXPERT)
    return _finding(m, row, Level.CONDITIONAL, settle=Settle.STAY_PRIVATE)


def _own_selection(m: Matter) -> bool:
    """The grower's own seedling, kept and named."""
    return m.named.name.kind is NameKind.SELECTION and m.case.from_seed(m.named.node)


def _species(m: Matter) -> Finding | None:
    """B40 and B41; B13 for the grower's own seedlings and selections."""
    name = m.named.name
    if _own_selection(m) or (m.named.seedling and name.identity is Identity.GENUS):
        return _finding(m, "B13", Level.CLEAR, citation=CAUTIOUS)
    if name.identity is Identity.GENUS and name.from_seed:
        return _finding(m, "B13", Level.CLEAR, citation=CAUTIOUS)
    if name.identity is not Identity.SPECIES:
        return None
    if name.from_seed or name.no_cultivar:
        return _finding(m, "B40", Level.CLEAR)
    if m.private:
        return _finding(m, "B41", Level.CLEAR)
    return _finding(m, "B41", Level.CONDITIONAL, settle=Settle.SELL_AS_SPECIES, ask=Ask.SUPPLIER)


def _never_looked_up(m: Matter) -> Finding | None:
    """B36, B35 and B38: nobody has looked, or not under the right name."""
    row = "B36"
    if any(look.key == m.named.name.key and not look.by_denomination for look in _looks(m)):
        row = "B35"
    elif any(since.source is None for plant in m.line for since in plant.since):
        row = "B38"
    reached = _reaches_back(m)
    changes = reached[3] if reached is not None else None
    private = m.private and m.regime in PRIVATE_UNSEARCHED
    return _finding(
        m,
        row,
        Level.CONDITIONAL if private else Level.UNKNOWN,
        unknown=None if private else Unknown.GAP,
        settle=Settle.STAY_PRIVATE if private else Settle.LOOK_UP,
        ask=None if private else Ask.REGISTER,
        changes=changes,
    )


_STEPS: tuple[Callable[[Matter], Finding | None], ...] = (
    _pending_mark,
    _label_notice,
    _stated_free,
    _looked_up,
    _long_in_cultivation,
    _name_unknown,
    _species,
    _never_looked_up,
)


# --- what a release carries ----------------------------------------------------------------------


def _on_release(case: Case, subject: Subject) -> Iterator[Finding]:
    """B43: the notice that came with it. B44: in trade, under the cultivar name."""
    for reached in subject.clonal:
        plant = case.plant(reached.node)
        notice = plant.acquired.notice if plant and plant.acquired else None
        if plant is not None and notice:
            yield Finding(
                row="B43",
                level=Level.CONDITIONAL,
                plant=plant.id,
                citation="7 USC 2541(a)(6)",
                settle=Settle.CARRY_NOTICE,
                certain=reached.certain,
                fields=(("notice", notice),),
            )
    if subject.private:
        return
    for named in case.named(subject.node):
        name = named.name
        if name.brand and name.identity is Identity.CULTIVAR:
            yield Finding(
                row="B44",
                level=Level.CONDITIONAL,
                plant=named.node,
                citation="Reg (EC) 2100/94 Art. 17-18; 15 USC 1114, 1125",
                settle=Settle.USE_CULTIVAR_NAME,
                certain=named.certain,
                fields=(("brand", name.brand),),
            )


# --- making findings -----------------------------------------------------------------------------


def _finding(
    m: Matter,
    row: str,
    level: Level,
    *,
    node: int | None = None,
    unknown: Unknown | None = None,
    citation: str = CAUTIOUS,
    record: Record | None = None,
    changes: date | None = None,
    settle: Settle | None = None,
    ask: Ask | None = None,
    fields: tuple[tuple[str, Value], ...] = (),
) -> Finding:
    name = m.named.name
    if record is None and name.id is not None:
        record = Record(RecordKind.DETERMINATION, name.id)
    return Finding(
        row=row,
        level=level,
        plant=m.named.node if node is None else node,
        unknown=unknown,
        record=record,
        citation=citation,
        changes_on=changes,
        settle=settle,
        ask=ask,
        fields=(
            ("territory", m.regime.value if m.regime is not Regime.OTHER else m.place.country),
            ("identity", name.identity.value),
            ("others", len(m.unrecorded) < len(KINDS_OF[m.regime])),
            *fields,
        ),
    )


def _gap(m: Matter, row: str, settle: Settle, ask: Ask) -> Finding:
    return _finding(m, row, Level.UNKNOWN, unknown=Unknown.GAP, settle=settle, ask=ask)


def _sign(m: Matter, row: str, settle: Settle, ask: Ask, node: int | None = None) -> Finding:
    return _finding(m, row, Level.UNKNOWN, node=node, unknown=Unknown.SIGN, settle=settle, ask=ask)
