"""B. Rights on record: what each comes to for the act, one finding per right and territory.

The first step that matches decides: licence, annulled, copy made without leave while in force,
very plant, seed and sport and own seedling, private exemption, in force, pending, ended.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from enum import Enum

from registry.domain.rights import RightFacts, Standing, State, standing
from registry.domain.rules import terms
from registry.domain.rules.kinds import (
    GRACE_YEARS,
    GRACE_YEARS_ABROAD,
    KINDS,
    PRIVATE_FREE,
    US_PATENTS,
    Group,
    Kind,
    KindRule,
    Listed,
    Private,
)
from registry.domain.rules.territories import Place, Regime, covers, regime
from registry.domain.spans import add_years
from registry.domain.verdict import licence
from registry.domain.verdict.facts import (
    RELEASES,
    Acquisition,
    Act,
    How,
    NameKind,
    Purpose,
    Right,
    Source,
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
from registry.domain.verdict.walk import Case, Relation, Subject, Tag

# States in which a right may still bind.
MAY_BIND = frozenset({State.IN_FORCE, State.OPEN_END, State.LAPSED})
MAY_COME = MAY_BIND | {State.PENDING}
TREES_AND_VINES = frozenset({Group.TREE, Group.ORNAMENTAL_TREE, Group.VINE})


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """Rows B1 to B33 for every right on a name of the line."""
    question = case.dossier.question
    if question.act not in RELEASES | {Act.PROPAGATE, Act.KEEP}:
        return
    for right, tag in _on_line(case, subject):
        found = _right(case, subject, right, tag)
        if found is not None:
            yield found if tag.certain else replace(found, certain=False)


def tags(case: Case, subject: Subject) -> tuple[Tag, ...]:
    """Every name on the line of the asked node, as it bears on the act.

    Of a tree that bears a sucker none: the sucker goes by its rootstock's, which is asked beside.
    """
    if subject.way is Way.SUCKER:
        return ()
    found = case.tags(subject.node, subject.way is None)
    if subject.way is Way.SEED:
        return tuple(replace(t, relation=max(t.relation, Relation.SEED)) for t in found)
    if subject.way is Way.POLLEN:
        return tuple(replace(t, relation=Relation.POLLEN) for t in found)
    return found


def _on_line(case: Case, subject: Subject) -> Iterator[tuple[Right, Tag]]:
    """Each right with the names by which it is reached; a right in force here by B33 as well."""
    place = case.dossier.question.place
    named = tags(case, subject) if case.dossier.rights else ()
    for right in case.dossier.rights:
        here = _in_the_uk(right) if lives_on_in_the_uk(right.facts, place) else right
        for tag in named:
            if tag.name.key in right.keys:
                yield here, tag


def lives_on_in_the_uk(facts: RightFacts, place: Place) -> bool:
    """B33: an EU right granted to 31 December 2020 stands in the UK too."""
    return (
        facts.kind is Kind.EU_CPVR
        and regime(place.country) is Regime.UK
        and facts.granted is not None
        and facts.granted.first <= terms.UK_COPIES_EU_UNTIL
    )


def _in_the_uk(right: Right) -> Right:
    return replace(right, facts=replace(right.facts, kind=Kind.UK_PBR, territory="GB"))


# --- one right -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Matter:
    """One right as it bears on one asked node by one name."""

    case: Case
    subject: Subject
    right: Right
    tag: Tag
    rule: KindRule
    standing: Standing
    relation: Relation

    @property
    def act(self) -> Act:
        """The act asked."""
        return self.case.dossier.question.act

    @property
    def private_free(self) -> bool:
        """The act is private and the regime frees private, non-commercial acts."""
        return self.subject.private and self.rule.private is Private.FREE

    @property
    def may_bind(self) -> bool:
        """The right is, or may still be, in force on the day."""
        return self.standing.state in MAY_BIND

    @property
    def patent(self) -> bool:
        """A US patent, which knows no private exemption."""
        return self.rule.kind in US_PATENTS


def _right(case: Case, subject: Subject, right: Right, tag: Tag) -> Finding | None:
    question = case.dossier.question
    rule = KINDS[right.facts.kind]
    if not covers(right.facts.territory or rule.regime.value, question.place.country):
        return _elsewhere(case, subject, right, tag)
    matter = Matter(
        case, subject, right, tag, rule, standing(right.facts, question.day), tag.relation
    )
    steps = _KEEP_STEPS if question.act is Act.KEEP else _STEPS
    return next((found for step in steps if (found := step(matter)) is not None), None)


def _elsewhere(case: Case, subject: Subject, right: Right, tag: Tag) -> Finding | None:
    """B32: held in another territory only; where plants go there, E4 judges it."""
    question = case.dossier.question
    if question.act is Act.KEEP or tag.relation is not Relation.CURRENT:
        return None
    if question.to is not None and covers(right.facts.territory, question.to.country):
        return None
    return Finding(
        row="B32",
        level=Level.CLEAR,
        plant=tag.node,
        record=Record(RecordKind.RIGHT, right.id),
        citation="rights are territorial",
        fields=licence.about(right.facts),
    )


def _licensed(m: Matter) -> Finding | None:
    """B14 to B16."""
    place = m.case.dossier.question.place
    found = licence.granted(m.case, m.subject, m.right, place)
    if found is None and m.may_bind and m.act in RELEASES:
        found = licence.made_under_ended(m.case, m.subject, m.right, place)
    return found


def _annulled(m: Matter) -> Finding | None:
    """B28, final; B18, no right came of it."""
    if m.standing.state in {State.ANNULLED, State.NONE}:
        return _finding(m, m.standing.row, Level.CLEAR)
    return None


def _renamed(m: Matter) -> Finding | None:
    """B31: renamed away with grounds; without grounds the old name counts as before."""
    if m.relation is not Relation.EARLIER or m.tag.replaced_by is None:
        return None
    if m.standing.state not in MAY_COME:
        return None
    if not m.tag.replaced_by.grounds:
        return None
    if m.tag.replaced_by.confirmed:
        return _finding(m, "B31", Level.CLEAR)
    return _sign(m, "B31", Settle.SECOND_LOOK, Ask.EXPERT)


def _made_without_leave(m: Matter) -> Finding | None:
    """B30: made while a right was in force, without licence or exemption; ended since."""
    if m.standing.state is not State.ENDED or m.relation > Relation.SPORT:
        return None
    made = [_made(m, lot) for lot in m.subject.makings]
    if not any(how is _Made.WITHOUT_LEAVE for how in made):
        return None
    if m.act in RELEASES:
        return _sign(m, "B30", Settle.RECORD_LICENCE, Ask.HOLDER)
    return _finding(m, "B30", Level.CLEAR)  # keeping it, or copies made after the end


class _Made(Enum):
    """How a copy was made as to a right."""

    FREELY = "freely"  # before, after or outside the right
    UNDER_LICENCE = "under licence"
    PRIVATELY = "privately"  # under an exemption
    WITHOUT_LEAVE = "without leave"


def _made(m: Matter, lot_id: int) -> _Made:
    """How the material of a lot was made, on the day of taking."""
    question = m.case.dossier.question
    lot = m.case.lot(lot_id)
    if lot is None:
        return _Made.FREELY
    place = lot.place or question.place
    here = covers(m.right.facts.territory or m.rule.regime.value, place.country)
    if not here or standing(m.right.facts, lot.taken).state is not State.IN_FORCE:
        return _Made.FREELY
    if licence.covering(m.right, Act.PROPAGATE, lot.taken, place) is not None:
        return _Made.UNDER_LICENCE
    trade = question.grower_trades or lot.for_release
    purpose = lot.purpose or (Purpose.TRADE if trade else Purpose.PRIVATE)
    if m.rule.private is Private.FREE and purpose is Purpose.PRIVATE:
        return _Made.PRIVATELY
    return _Made.WITHOUT_LEAVE


def _very_plant(m: Matter) -> Finding | None:
    """B7 to B9: the plant itself, not multiplied here, leaves; B6 treats a giver's copy as ours."""
    plant = m.subject.plant
    if m.act not in RELEASES or plant is None or m.case.raised_here(plant.id):
        return None
    if m.standing.state in {State.ENDED, State.PENDING}:
        return None
    bought = plant.acquired or Acquisition()
    if plant.how is How.SEED or _is_givers_copy(bought):
        return None
    home = m.right.facts.territory or m.rule.regime.value
    licensed = bought.source is Source.LICENSED
    at_home = bought.territory is not None and covers(home, bought.territory)
    if licensed and (at_home or m.patent):
        return _finding(m, "B7", Level.CLEAR, fields=(("notice", bought.notice),))
    if bought.territory is not None and not at_home:
        if m.subject.private:
            return _sign(m, "B9", Settle.RECORD_LICENCE, Ask.HOLDER)
        return _finding(m, "B9", Level.BARRED, settle=Settle.RECORD_LICENCE, ask=Ask.HOLDER)
    return _gap(m, "B8", Settle.RECORD_SOURCE, Ask.SUPPLIER)


def _is_givers_copy(bought: Acquisition) -> bool:
    return bought.copy is True and bought.source is not Source.LICENSED


def _copy_acquired(m: Matter) -> Finding | None:
    """B6: a copy from someone with no licence on record, under a US patent in force."""
    plant = m.subject.plant
    bought = plant.acquired if plant else None
    if not m.patent or bought is None or not _is_givers_copy(bought):
        return None
    if m.standing.state is not State.IN_FORCE:
        return None
    if m.act is Act.KEEP:
        return _sign(m, "B6", Settle.RECORD_LICENCE, Ask.HOLDER)
    return _finding(m, "B6", Level.BARRED, settle=Settle.RECORD_LICENCE, ask=Ask.HOLDER)


# --- seed, sports, own seedlings -----------------------------------------------------------------


def _seed_or_sport(m: Matter) -> Finding | None:
    """B11 to B13, while the right binds or may come to."""
    if m.standing.state not in MAY_COME:
        return None
    if m.relation is Relation.SPORT:
        return _sport(m)
    if m.relation in {Relation.SEED, Relation.POLLEN}:
        return _seedling(m)
    return None


def _sport(m: Matter) -> Finding:
    """B12: a sport may be essentially derived from its parent."""
    if m.private_free:
        return _private_only(m, "B12")
    return _sign(m, "B12", Settle.RECORD_DISTINCT, Ask.HOLDER)


def _seedling(m: Matter) -> Finding:
    """B11 raised from seed; B13 own selection, or the pollen of a protected plant."""
    selected = m.relation is Relation.POLLEN or _is_selection(m)
    row = "B13" if selected else "B11"
    if m.rule.kind is Kind.US_PLANT_PATENT:  # reaches asexual copies only, 35 USC 163
        return _finding(m, row, Level.CLEAR)
    if m.rule.kind is Kind.US_UTILITY_PATENT:
        return _gap(m, "B11", Settle.READ_CLAIMS, Ask.REGISTER)
    if _any_plant(m, "distinct" if selected else "not_the_variety"):
        return _finding(m, row, Level.CLEAR)
    if m.subject.private:
        return _private_only(m, row)
    settle = Settle.RECORD_DISTINCT if selected else Settle.RECORD_NOT_THE_VARIETY
    return _gap(m, row, settle, Ask.HOLDER)


def _is_selection(m: Matter) -> bool:
    """The line goes by a name that the grower gave to an own seedling."""
    return any(n.name.kind is NameKind.SELECTION for n in m.case.named(m.subject.node))


def _any_plant(m: Matter, flag: str) -> bool:
    """Whether a node of the same clone is recorded as distinct, or as not the variety."""
    for reached in m.subject.clonal:
        record = m.case.plant(reached.node) or m.case.lot(reached.node)
        if record is not None and getattr(record, flag, False):
            return True
    return False


# --- private exemption, in force -----------------------------------------------------------------


def _private_exemption(m: Matter) -> Finding | None:
    """B2: private propagation where the regime frees it."""
    if m.act is not Act.PROPAGATE or not m.may_bind or not m.subject.private:
        return None
    if m.rule.private is Private.FREE:
        return _private_only(m, "B2")
    if m.rule.private is Private.NOT_READ:
        return _gap(m, "B2", Settle.RECORD_LICENCE, Ask.HOLDER, m.rule.private_citation)
    return None


def _private_only(m: Matter, row: str) -> Finding:
    """Conditional: private only; the copies may not be released while the right lasts."""
    return _finding(
        m,
        row,
        Level.CONDITIONAL,
        citation=m.rule.private_citation,
        settle=Settle.STAY_PRIVATE,
    )


def _older_than_filing(m: Matter) -> Finding | None:
    """B19: here or on sale so long before filing that the right may be for a newer selection."""
    filed = m.right.facts.filed
    if filed is None or m.standing.state is not State.IN_FORCE:
        return None
    for known, territory in _known_since(m):
        at_home = territory is None or covers(m.right.facts.territory, territory)
        abroad = not at_home and m.right.facts.group in TREES_AND_VINES
        grace = GRACE_YEARS_ABROAD if abroad else GRACE_YEARS
        if add_years(known, grace) < filed.first:
            return _sign(m, "B19", Settle.SECOND_LOOK, Ask.REGISTER)
    return None


def _known_since(m: Matter) -> Iterator[tuple[date, str | None]]:
    """Days by which the line was acquired, stood or was on sale, and where."""
    for reached in m.subject.clonal:
        plant = m.case.plant(reached.node)
        if plant is None:
            continue
        if plant.acquired is not None and plant.acquired.on.last != date.max:
            yield plant.acquired.on.last, plant.acquired.territory
        for since in plant.since:
            if since.source:
                yield since.when.last, None


def _in_force(m: Matter) -> Finding | None:
    """B1, B3, B4 and B5."""
    if m.standing.state is not State.IN_FORCE:
        return None
    if m.act is Act.EXPORT and m.rule.lists_export is Listed.UNSAID:
        return _gap(m, "B1", Settle.RECORD_LICENCE, Ask.HOLDER)
    if m.act in {Act.GIVE, Act.SWAP} and m.subject.private:
        return _private_transfer(m)
    made_privately = any(_made(m, lot) is _Made.PRIVATELY for lot in m.subject.makings)
    if m.act in RELEASES and made_privately:
        return _barred(m, "B5")
    return _barred(m, "B4" if m.act in {Act.GIVE, Act.SWAP} else "B1")


def _private_transfer(m: Matter) -> Finding:
    """B3: a copy given or swapped privately."""
    listed = m.rule.private_gift if m.act is Act.GIVE else m.rule.private_swap
    if listed is Listed.YES:
        return _barred(m, "B3")
    return _sign(m, "B3", Settle.RECORD_LICENCE, Ask.HOLDER)


def _pending(m: Matter) -> Finding | None:
    """B17: asked for, outcome not recorded, or granted later than the day asked."""
    if m.standing.state is not State.PENDING:
        return None
    if m.subject.private and m.rule.regime in PRIVATE_FREE:
        return _private_only(m, "B17")
    return _sign(m, "B17", Settle.RECORD_OUTCOME, Ask.REGISTER)


def _open_end(m: Matter) -> Finding | None:
    """B21 after the earliest end; B26 lapsed, perhaps restored."""
    if m.standing.state in {State.OPEN_END, State.LAPSED}:
        return _gap(m, m.standing.row, Settle.CONFIRM_END, Ask.REGISTER)
    return None


def _ended(m: Matter) -> Finding | None:
    """B22, B25 to B27: clear as to that right only (B29); B5 says that the making was lawful."""
    if m.standing.state is not State.ENDED:
        return None
    privately = any(_made(m, lot) is _Made.PRIVATELY for lot in m.subject.makings)
    row = "B5" if privately and m.act in RELEASES else m.standing.row
    return _finding(m, row, Level.CLEAR)


def _keep_copy(m: Matter) -> Finding | None:
    """B46: keeping a copy made without licence under a US patent may be "using" it (s. 163)."""
    if not m.rule.keep_is_use or m.standing.state is not State.IN_FORCE:
        return None
    if m.relation <= Relation.EARLIER and any(
        _made(m, lot) is _Made.WITHOUT_LEAVE for lot in m.subject.makings
    ):
        return _sign(m, "B46", Settle.RECORD_LICENCE, Ask.HOLDER)
    return None


_Step = Callable[[Matter], Finding | None]
_STEPS: tuple[_Step, ...] = (
    _licensed,
    _annulled,
    _renamed,
    _made_without_leave,
    _very_plant,
    _copy_acquired,
    _seed_or_sport,
    _private_exemption,
    _older_than_filing,
    _in_force,
    _pending,
    _open_end,
    _ended,
)
_KEEP_STEPS: tuple[_Step, ...] = (
    _annulled,
    _copy_acquired,
    _keep_copy,
    _made_without_leave,
)


# --- making findings -----------------------------------------------------------------------------


def _finding(
    m: Matter,
    row: str,
    level: Level,
    *,
    unknown: Unknown | None = None,
    citation: str | None = None,
    settle: Settle | None = None,
    ask: Ask | None = None,
    fields: Iterable[tuple[str, Value]] = (),
) -> Finding:
    return Finding(
        row=row,
        level=level,
        plant=m.tag.node,
        unknown=unknown,
        record=Record(RecordKind.RIGHT, m.right.id),
        citation=citation or m.rule.citation,
        changes_on=m.standing.changes_on,
        settle=settle,
        ask=ask,
        fields=(*licence.about(m.right.facts), *fields),
    )


def _barred(m: Matter, row: str) -> Finding:
    return _finding(m, row, Level.BARRED, settle=Settle.RECORD_LICENCE, ask=Ask.HOLDER)


def _gap(m: Matter, row: str, settle: Settle, ask: Ask, citation: str | None = None) -> Finding:
    return _finding(
        m, row, Level.UNKNOWN, unknown=Unknown.GAP, citation=citation, settle=settle, ask=ask
    )


def _sign(m: Matter, row: str, settle: Settle, ask: Ask) -> Finding:
    return _finding(m, row, Level.UNKNOWN, unknown=Unknown.SIGN, settle=settle, ask=ask)
