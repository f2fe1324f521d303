"""The one gate: whether an act may be done, and what it takes to record it.

The verdict itself is worked out by the domain; here its facts are fetched, what it asks for is
checked (`--open`, a reason), and verdict, open questions and used-up numbers are written down.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TypedDict

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from registry.domain.counts import Count
from registry.domain.dates import FuzzyDate
from registry.domain.family import GONE
from registry.domain.methods import Method, Role
from registry.domain.rules.countries import parse_place
from registry.domain.rules.territories import Place
from registry.domain.spans import FIRST_DAY, LAST_DAY, Span
from registry.domain.verdict import judge, needs
from registry.domain.verdict.facts import Act, Asked, Goods, Paper, Purpose, Question, Way
from registry.domain.verdict.findings import (
    Finding,
    Gone,
    Level,
    Need,
    RecordKind,
    Unknown,
    Verdict,
)
from registry.errors import BadPlaceCode, NotRecorded
from registry.services.naming import in_print
from registry.services.people import mark_of, with_names
from registry.services.resolve import Target, accession_code
from registry.services.rootstock import rootstocks
from registry.services.rows import Home, home
from registry.storage.dossier import Fetched, fetch
from registry.storage.models import (
    ConsentUse,
    Edge,
    Lot,
    Node,
    Plant,
    Release,
    ReleaseItem,
    VerdictGiven,
)
from registry.storage.models import Question as QuestionRow
from registry.storage.transaction import Recording
from registry.wording.leave import Called, asks_whom, change_text, finding_text, settles

CANNOT = "cannot: "
"""How a question that can't be known was settled; it is never asked again, the verdict stays."""


@dataclass(frozen=True, slots=True)
class Told:
    """A finding in words, with what a screen, a paper or a program needs of it.

    Attributes:
        level: barred, unknown, conditional or clear.
        unknown: gap or sign, where the level is unknown.
        row: id of the deciding row.
        plant: code of the plant or lot on which the deciding record, or the lack of one, sits.
        node: its node id.
        record: what decided it, such as `consent 3`.
        citation: where the rule stands.
        changes_on: the day from which it would change, ISO 8601.
        changes: what changes then.
        text: the sentence.
        settle: what would settle it.
        ask: whom to ask.
        certain: False where the plant is one of several possible ancestors.
        kept: the sentence as the chain keeps it: marks stand for people, whose names can go.
        stands_for: of how many asked plants it is said: those that are judged alike are one.
    """

    level: str
    unknown: str | None
    row: str
    plant: str
    node: int
    record: str | None
    citation: str
    changes_on: str | None
    text: str
    settle: str | None
    ask: str | None
    certain: bool
    changes: str | None = None
    kept: str = ""
    stands_for: int = 1

    def as_kept(self) -> dict[str, object]:
        """What is kept of it with a verdict: what was found, not what to do about it."""
        return {
            "level": self.level,
            "unknown": self.unknown,
            "row": self.row,
            "plant": self.plant,
            "record": self.record,
            "citation": self.citation,
            "changes_on": self.changes_on,
            "text": self.kept,
        }

    def as_json(self) -> dict[str, object]:
        """The documented keys."""
        return {
            **self.as_kept(),
            "text": self.text,
            "certain": self.certain,
            "changes": self.changes,
            "settle": self.settle,
            "ask": self.ask,
        }


@dataclass(frozen=True, slots=True)
class GonePlant:
    """A plant left out because it has ended: its code, how and when."""

    code: str
    how: str
    on: str | None


@dataclass(frozen=True, slots=True)
class Answer:
    """A verdict in words.

    Attributes:
        act: what was asked.
        day: for which day.
        place: code of the country or region.
        purpose: private or trade.
        level: barred, unknown, conditional or clear.
        unknown: gap or sign, where the level is unknown.
        findings: worst first.
        plants: each asked plant or lot by code, with its level.
        gone: those left out.
    """

    act: str
    day: FuzzyDate
    place: str
    purpose: str
    level: str
    unknown: str | None
    findings: tuple[Told, ...]
    plants: tuple[tuple[str, str], ...]
    gone: tuple[GonePlant, ...] = ()

    @property
    def gaps(self) -> tuple[Told, ...]:
        """What nobody has looked at, asked or said."""
        return tuple(f for f in self.findings if f.unknown == Unknown.GAP.value)

    @property
    def allowed(self) -> bool:
        """Whether the act may go on as far as is recorded: clear or conditional."""
        return self.level in (_word(Level.CLEAR), _word(Level.CONDITIONAL))


@dataclass(frozen=True, slots=True)
class Given:
    """A verdict under which an act is recorded.

    Attributes:
        answer: the verdict.
        verdict_id: of the row that keeps it; None where several lots had verdicts of their own.
        questions: the gaps that stay open.
        history: the act was before the registry began: nothing is refused or asked.
        anyway: the reason written against it.
        judged: node ids that were judged, without those that have ended.
        uses: node id to the consents that the act draws on.
    """

    answer: Answer
    verdict_id: int | None
    questions: tuple[Told, ...] = ()
    history: bool = False
    anyway: str | None = None
    judged: frozenset[int] = frozenset()
    uses: Mapping[int, tuple[int, ...]] = field(default_factory=dict)

    @property
    def level(self) -> str:
        """Barred, unknown, conditional or clear."""
        return self.answer.level

    @property
    def unknown(self) -> str | None:
        """Gap or sign, where the level is unknown."""
        return self.answer.unknown


@dataclass(frozen=True, slots=True)
class Going:
    """Where plants go, to whom, and what travels with them.

    Attributes:
        to: the country, and region where it was said; None is the same country.
        to_trader: who gets them trades in plants.
        by_post: agreed by post, telephone or screen.
        papers: what stands ready, such as a plant-health certificate.
        seed: seed goes, not plants.
    """

    to: Place | None = None
    to_trader: bool = False
    by_post: bool = False
    papers: frozenset[Paper] = frozenset()
    seed: bool = False

    def asked(self) -> _Whither:
        """The same as fields of a question."""
        return {
            "to": self.to,
            "to_trader": self.to_trader,
            "at_distance": self.by_post,
            "papers": self.papers,
            "goods": Goods.SEED if self.seed else Goods.PLANTS,
        }


class _Whither(TypedDict):
    to: Place | None
    to_trader: bool
    at_distance: bool
    papers: frozenset[Paper]
    goods: Goods


HERE = Going()
"""By hand, to somebody in the same country who is no trader."""


@dataclass(frozen=True, slots=True)
class Order:
    """An authority's order under which plants end, None for none; whether a witness is named."""

    words: str | None = None
    witness: bool = False


NO_ORDER = Order()


@dataclass(frozen=True, slots=True)
class _Judged:
    verdict: Verdict
    answer: Answer
    uses: Mapping[int, tuple[int, ...]]


def judge_plants(
    session: Session,
    act: Act,
    node_ids: Collection[int],
    *,
    day: FuzzyDate,
    today: date,
    purpose: Purpose | None = None,
    place: Place | None = None,
    going: Going = HERE,
    entry: int | None = None,
    sucker: bool = False,
    n: Mapping[int, int | None] | None = None,
) -> Answer:
    """Whether an act may be done with some plants, and why; nothing is stored.

    Args:
        session: open on the registry.
        act: what is asked.
        node_ids: plants, and lots whose pots are meant.
        day: for which day; for `propagate` the day of taking.
        today: the grower's day.
        purpose: private or trade, None where nobody said.
        place: of the act; None is the registry's own.
        going: where plants go, to whom, and with which papers.
        entry: the chain entry that records the act.
        sucker: suckers of their rootstocks are meant, for `propagate`.
        n: how many pieces or plants, by node; one of each where it says nothing.

    Raises:
        PlantsGone: nothing of what was asked about stands any more (row C25).
    """
    way = Way.SUCKER if sucker else Way.CLONAL
    asked = [Asked(node, (n or {}).get(node, 1), way) for node in node_ids]
    if sucker:  # and the rootstocks, whose copies suckers are
        stocks = {stock for node in node_ids for stock in rootstocks(session, node)}
        asked += [Asked(stock, (n or {}).get(stock, 1)) for stock in sorted(stocks)]
    question = _question(home(session), act, day, today, purpose, place, going, entry=entry)
    return _judged(session, question, asked, day, today).answer


@dataclass(frozen=True, slots=True)
class When:
    """From which day an act may be, as far as days on record decide it.

    Attributes:
        asked: the answer for the day asked about.
        day: the first day on which it may be, ISO 8601; None where no day on record brings it.
        then: the answer for that day.
        steps: (day, level) of every day in between on which the level changes.
    """

    asked: Answer
    day: str | None
    then: Answer | None
    steps: tuple[tuple[str, str], ...] = ()


MOST_STEPS = 60
"""How many days on which something changes are looked at before giving up."""


def when(
    session: Session,
    act: Act,
    node_ids: Collection[int],
    *,
    day: FuzzyDate,
    today: date,
    purpose: Purpose | None = None,
    place: Place | None = None,
    going: Going = HERE,
) -> When:
    """From which day an act may be done with some plants, if nothing else becomes known.

    The facts are fetched once; every day on which a finding would change is judged in turn.

    Args:
        session: open on the registry.
        act: what is asked.
        node_ids: plants, and lots whose pots are meant.
        day: from which day to look.
        today: the grower's day.
        purpose: private or trade, None where nobody said.
        place: of the act; None is the registry's own.
        going: where plants go, to whom, and with which papers.

    Raises:
        PlantsGone: nothing of what was asked about stands any more (row C25).
    """
    question = _question(home(session), act, day, today, purpose, place, going)
    fetched = fetch(session, question, [Asked(node) for node in node_ids], today=today)
    judged = _of_fetched(fetched, day)
    asked, at = judged.answer, question.day.last
    steps: list[tuple[str, str]] = []
    for _ in range(MOST_STEPS):
        if judged.answer.allowed:
            return When(asked, at.isoformat(), judged.answer, tuple(steps[:-1]))
        changes = [f.changes_on for f in judged.verdict.findings if f.changes_on is not None]
        later = [change for change in changes if change > at]
        if not later:
            break
        at = min(later)
        moved = replace(fetched.dossier, question=replace(question, day=Span(at, at)))
        judged = _of_fetched(replace(fetched, dossier=moved), FuzzyDate.of(at))
        if judged.answer.level != (steps[-1][1] if steps else asked.level):
            steps.append((at.isoformat(), judged.answer.level))
    return When(asked, None, None, tuple(steps))


# --- verdicts as they were given ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Again:
    """A verdict as it was given, beside what the same question comes to today.

    Attributes:
        about: code of the lot that was taken, or of what left; of a batch where nobody said which
            lot's pots left.
        given: the verdict as it was kept.
        now: the answer to the same question with what is known now.
        added: findings that the kept verdict did not have.
        dropped: findings that it had and that do not stand any more.
        anyway: the reason written against it.
    """

    about: str
    given: Answer
    now: Answer
    added: tuple[Told, ...]
    dropped: tuple[Told, ...]
    anyway: str | None

    @property
    def changed(self) -> bool:
        """Whether anything that counts is otherwise now."""
        return bool(self.added or self.dropped) or self.given.level != self.now.level


def again(session: Session, target: Target, *, today: date) -> tuple[Again, ...]:
    """The verdicts under which plants were taken or left, asked once more with what is known now.

    Args:
        session: open on the registry.
        target: plants, lots or a batch.
        today: the grower's day.
    """
    plants, lots, pooled = set(target.plants), set(target.lots), set(target.lots)
    for lot, status in session.execute(
        select(Edge.parent_id, Plant.status)
        .join(Plant, Plant.node_id == Edge.child_id)
        .where(Edge.child_id.in_(plants), Edge.role == Role.RAISED, Edge.void_seq.is_(None))
    ):
        lots.add(lot)
        if status not in GONE:  # it may be one of those that left by count
            pooled.add(lot)
    found = []
    for lot, verdict in session.execute(
        select(Lot.node_id, VerdictGiven)
        .join(VerdictGiven, VerdictGiven.id == Lot.verdict_id)
        .where(Lot.node_id.in_(lots), Lot.void_seq.is_(None))
        .order_by(Lot.node_id)
    ).all():
        sources = session.execute(
            select(Edge.parent_id, Edge.role).where(Edge.child_id == lot, Edge.void_seq.is_(None))
        ).all()
        method = Method(session.get_one(Lot, lot).method)
        asked = {parent: way_of(Role(role), method) for parent, role in sources}
        code = session.get_one(Node, lot).code
        found.append(_again(session, code, verdict, asked, HERE, today))
    left = session.execute(
        select(ReleaseItem, Release, VerdictGiven)
        .join(Release, Release.id == ReleaseItem.release_id)
        .join(VerdictGiven, VerdictGiven.id == ReleaseItem.verdict_id)
        .where(
            or_(
                ReleaseItem.node_id.in_(plants),
                ReleaseItem.lot_id.in_(pooled),
                ReleaseItem.batch_id.in_(select(Lot.batch_id).where(Lot.node_id.in_(pooled))),
            ),
            ReleaseItem.void_seq.is_(None),
        )
        .order_by(ReleaseItem.id)
    ).all()
    for item, release, verdict in left:
        going = Going(to=_kept_place(release.to_place))
        one = item.node_id if item.node_id is not None else item.lot_id
        if one is not None:
            nodes, about = [one], session.get_one(Node, one).code
        else:  # nobody said of which lot the pots were: any of them it may be
            nodes = _potted_lots(session, item.batch_id or 0)
            about = accession_code(session, item.batch_id or 0)
        asked = dict.fromkeys(nodes, Way.CLONAL)
        found.append(_again(session, about, verdict, asked, going, today))
    return tuple(found)


def _potted_lots(session: Session, batch_id: int) -> list[int]:
    """The lots of a batch of which plants were raised."""
    return list(
        session.scalars(
            select(Lot.node_id)
            .join(Edge, Edge.parent_id == Lot.node_id)
            .where(Lot.batch_id == batch_id, Edge.role == Role.RAISED, Edge.void_seq.is_(None))
            .distinct()
            .order_by(Lot.node_id)
        )
    )


def _kept_place(kept: str | None) -> Place | None:
    """The place of law of a release; words that name none say nothing of it."""
    try:
        return parse_place(kept) if kept else None
    except BadPlaceCode:
        return None


def _again(
    session: Session,
    about: str,
    row: VerdictGiven,
    asked: Mapping[int, Way],
    going: Going,
    today: date,
) -> Again:
    day = row.on or FuzzyDate.of(today)
    question = _question(
        home(session),
        Act(row.act),
        day,
        today,
        Purpose(row.purpose),
        parse_place(row.place),
        going,
        entry=row.seq,
    )
    # None of each: what this act itself used of a limit is among the uses already.
    nodes = [Asked(node, 0, way) for node, way in asked.items()]
    fetched = fetch(session, question, nodes, today=today)
    standing = {n: replace(p, ended=None) for n, p in fetched.dossier.plants.items()}
    then = replace(fetched.dossier, plants=standing)
    now = _of_fetched(replace(fetched, dossier=then), day).answer
    kept = _kept(row, session)
    before = {(f.row, f.plant, f.level) for f in kept.findings}
    after = {(f.row, f.plant, f.level) for f in now.findings}
    return Again(
        about=about,
        given=kept,
        now=now,
        added=tuple(f for f in now.findings if (f.row, f.plant, f.level) not in before),
        dropped=tuple(f for f in kept.findings if (f.row, f.plant, f.level) not in after),
        anyway=row.anyway,
    )


def _kept(row: VerdictGiven, session: Session) -> Answer:
    """A verdict as it was kept, in words."""
    codes = {finding["plant"] for finding in row.findings}
    nodes = dict(session.execute(select(Node.code, Node.id).where(Node.code.in_(codes))).all())
    return Answer(
        row.act,
        row.on or FuzzyDate.unknown(),
        row.place,
        row.purpose,
        row.level,
        row.unknown,
        tuple(_told_again(session, finding, nodes) for finding in row.findings),
        (),
    )


def require(
    rec: Recording,
    act: Act,
    node_ids: Collection[int],
    *,
    day: FuzzyDate,
    purpose: Purpose | None = None,
    open_: bool = False,
    anyway: str | None = None,
    n: Mapping[int, int | None] | None = None,
    place: Place | None = None,
    going: Going = HERE,
    ways: Mapping[int, Way] | None = None,
    order: Order = NO_ORDER,
) -> Given:
    """Judge an act that is being recorded, and write down its verdict and open questions.

    Args:
        rec: the recording of the act.
        act: what is done.
        node_ids: plants, and lots whose pots leave by count.
        day: when; for `propagate` the day of taking.
        purpose: private or trade, None where nobody said.
        open_: gaps may stay open.
        anyway: the reason written against a no or a sign.
        n: how many pieces or plants, by node; one of each where it says nothing.
        place: of the act; None is the registry's own.
        going: where plants go, to whom, and with which papers.
        ways: how each plant serves, for `propagate`; by a cutting where it says nothing.
        order: an authority's order under which plants end (row C23).

    Raises:
        NotRecorded: the verdict asks for `--open` or for a written reason.
        PlantsGone: nothing of what was asked about stands any more (row C25).
    """
    rec.flush()
    # One call whatever the ways, so that numbers are counted over the whole request (row D2).
    asked = [
        Asked(node, (n or {}).get(node, 1), (ways or {}).get(node, Way.CLONAL)) for node in node_ids
    ]
    here = home(rec.session)
    question = _question(
        here, act, day, rec.today, purpose, place, going, entry=rec.seq, order=order
    )
    judged = _judged(rec.session, question, asked, day, rec.today)
    answer, verdict = judged.answer, judged.verdict
    history = day.last is not None and day.last < here.began
    need = needs(verdict.level, verdict.unknown, act, verdict.purpose, history=history)
    noted = _noted(rec.session, answer.gaps)
    if need is Need.NOTE_OPEN and all((f.node, f.row) in noted for f in answer.gaps):
        need = Need.GOES_ON
    reason = (anyway or "").strip() or None
    if need is Need.REASON and reason is None:
        raise NotRecorded(act.value, "reason", _refused(rec, question, asked, day))
    if need is Need.NOTE_OPEN and not open_ and reason is None:
        raise NotRecorded(act.value, "open", _refused(rec, question, asked, day))
    row = rec.add(
        VerdictGiven(
            act=act.value,
            on=day,
            place=answer.place,
            purpose=answer.purpose,
            level=answer.level,
            unknown=answer.unknown,
            findings=[finding.as_kept() for finding in answer.findings],
            anyway=reason if need is not Need.GOES_ON else None,
            history=history,
        )
    )
    rec.flush()
    for gap in answer.gaps:
        if (gap.node, gap.row) not in noted:
            noted.add((gap.node, gap.row))
            rec.add(QuestionRow(node_id=gap.node, verdict_id=row.id, row=gap.row, asks=gap.kept))
    rec.flush()
    return Given(
        answer,
        row.id,
        answer.gaps,
        history,
        row.anyway,
        frozenset(plant.node for plant in verdict.plants),
        judged.uses,
    )


def _refused(rec: Recording, question: Question, asked: list[Asked], day: FuzzyDate) -> Answer:
    """The verdict as it is said when nothing is recorded.

    A plant that the same act would have made goes by its name: its code will never stand.
    """
    fetched = fetch(rec.session, question, asked, today=rec.today)
    made = rec.session.scalars(select(Node.id).where(Node.seq == rec.seq, Node.kind == "plant"))
    codes, names = dict(fetched.codes), dict(fetched.names)
    for node in made:
        if node in codes and node in names:
            codes[node] = in_print(names.pop(node))[0]
    return _of_fetched(replace(fetched, codes=codes, names=names), day).answer


def freest(
    rec: Recording, act: Act, node_ids: Collection[int], n: int, *, day: FuzzyDate, order: Order
) -> list[int]:
    """The `n` of some plants that an act may most be done with, where nobody said which they were.

    Who ends some pots of a batch takes those that no hold stops, as far as there are enough.

    Args:
        rec: the recording of the act.
        act: what is done.
        node_ids: all that it may have been.
        n: how many it was.
        day: when.
        order: an authority's order under which plants end.
    """
    rec.flush()
    question = _question(home(rec.session), act, day, rec.today, None, None, HERE, order=order)
    asked = [Asked(node) for node in node_ids]
    plants = _judged(rec.session, question, asked, day, rec.today).verdict.plants
    best = sorted(plants, key=lambda plant: plant.level, reverse=True)
    return [plant.node for plant in best[:n]]


def use(
    rec: Recording,
    given: Given,
    plant_id: int,
    node_id: int,
    n: Count | int | None,
    on: FuzzyDate,
) -> None:
    """Write down what an act used of the consents it drew on.

    Args:
        rec: the recording of the act.
        given: its verdict.
        plant_id: the plant or lot that was judged.
        node_id: the lot that was made from it, or what left.
        n: how many; of a range the most, None where nobody counted.
        on: the day.
    """
    number = n.against_limit if isinstance(n, Count) else n
    for consent_id in given.uses.get(plant_id, ()):
        rec.add(
            ConsentUse(
                consent_id=consent_id, act=given.answer.act, node_id=node_id, n=number, on=on
            )
        )


def given_for_lots(session: Session, lot_ids: Collection[int]) -> Given:
    """The verdict under which material was taken, read back; of several the worst."""
    rows = session.scalars(
        select(VerdictGiven)
        .join(Lot, Lot.verdict_id == VerdictGiven.id)
        .where(Lot.node_id.in_(lot_ids))
        .distinct()
    ).all()
    if not rows:
        place = place_code(home(session).place)
        none = Answer(
            Act.PROPAGATE.value,
            FuzzyDate.unknown(),
            place,
            "private",
            _word(Level.CLEAR),
            None,
            (),
            (),
        )
        return Given(none, None)
    worst = min(rows, key=lambda row: (Level[row.level.upper()], row.unknown != "sign"))
    nodes = dict(
        session.execute(
            select(Node.code, Node.id).where(
                Node.code.in_({finding["plant"] for row in rows for finding in row.findings})
            )
        ).all()
    )
    findings = tuple(
        dict.fromkeys(
            _told_again(session, finding, nodes) for row in rows for finding in row.findings
        )
    )
    answer = Answer(
        worst.act,
        worst.on or FuzzyDate.unknown(),
        worst.place,
        worst.purpose,
        worst.level,
        worst.unknown,
        findings,
        (),
    )
    only = worst.id if len(rows) == 1 else None
    return Given(answer, only, answer.gaps, worst.history, worst.anyway)


_WAYS = {
    Role.SEED_PARENT: Way.SEED,
    Role.POLLEN_PARENT: Way.POLLEN,
    Role.SUCKER_OF: Way.SUCKER,
}
_DIVIDES = frozenset({Method.DIVISION, Method.OFFSET, Method.LAYER})


def way_of(role: Role, method: Method) -> Way:
    """How a plant in `role` serves when material is raised by `method`."""
    return _WAYS.get(role) or (Way.DIVISION if method in _DIVIDES else Way.CLONAL)


def nodes_meant(session: Session, target: Target) -> tuple[int, ...]:
    """What a code stands for in a verdict: the plants named; of a batch or lot those potted.

    A lot of which nothing is potted stands for itself.
    """
    if target.plants or not target.lots:
        return target.plants
    raised = session.scalars(
        select(Edge.child_id)
        .where(Edge.parent_id.in_(target.lots), Edge.role == Role.RAISED, Edge.void_seq.is_(None))
        .distinct()
        .order_by(Edge.child_id)
    ).all()
    return tuple(raised) or target.lots


def place_code(place: Place) -> str:
    """The code of the region, or else of the country."""
    return place.region or place.country


# --- judging -------------------------------------------------------------------------------------


def _question(
    here: Home,
    act: Act,
    day: FuzzyDate,
    today: date,
    purpose: Purpose | None,
    place: Place | None,
    going: Going,
    *,
    entry: int | None = None,
    order: Order = NO_ORDER,
) -> Question:
    """What is asked, with what the registry's own row says of place and trade."""
    return Question(
        act=act,
        day=_closed(day, today),
        place=place or here.place,
        purpose=purpose,
        grower_trades=here.trades,
        recorded=today,
        entry=entry,
        order=order.words,
        witness=order.witness,
        **going.asked(),
    )


def _judged(
    session: Session, question: Question, asked: list[Asked], day: FuzzyDate, today: date
) -> _Judged:
    return _of_fetched(fetch(session, question, asked, today=today), day)


def _of_fetched(fetched: Fetched, day: FuzzyDate) -> _Judged:
    question = fetched.dossier.question
    verdict = judge(fetched.dossier)
    place = place_code(question.place)
    names = {node: in_print(words)[0] for node, words in fetched.names.items()}
    called = Called(fetched.codes, names, fetched.people, fetched.words, question.act.value, place)
    alike = _alike(verdict)
    answer = Answer(
        act=question.act.value,
        day=day,
        place=place,
        purpose=verdict.purpose.value,
        level=_word(verdict.level),
        unknown=verdict.unknown.value if verdict.unknown else None,
        findings=tuple(_told(f, called, alike.get(f.plant, 1)) for f in verdict.findings),
        plants=tuple((fetched.codes[p.node], _word(p.level)) for p in verdict.plants),
        gone=tuple(_gone(one) for one in verdict.gone),
    )
    return _Judged(verdict, answer, _uses(verdict, fetched, question.act))


def _closed(day: FuzzyDate, today: date) -> Span:
    """The day as a span: what has passed is no later than today, if nothing else was said."""
    first = day.first or FIRST_DAY
    if day.last is not None:
        return Span(first, day.last)
    return Span(first, max(first, today) if day.first is None or day.first <= today else LAST_DAY)


def _word(level: Level) -> str:
    return level.name.lower()


def _gone(gone: Gone) -> GonePlant:
    on = gone.ended.on
    day = on.last.isoformat() if on.first == on.last else None
    return GonePlant(gone.label, gone.ended.how, day)


def _alike(verdict: Verdict) -> dict[int, int]:
    """How many asked plants share their findings with each: the judge names one of them."""
    sharing = Counter(id(plant.findings) for plant in verdict.plants)
    return {plant.node: sharing[id(plant.findings)] for plant in verdict.plants}


def _told(finding: Finding, called: Called, stands_for: int) -> Told:
    record = finding.record
    marked = replace(called, people={person: mark_of(person) for person in called.people})
    return Told(
        level=_word(finding.level),
        unknown=finding.unknown.value if finding.unknown else None,
        row=finding.row,
        plant=called.code(finding.plant),
        node=finding.plant,
        record=f"{record.kind.value} {record.id}" if record else None,
        citation=finding.citation,
        changes_on=finding.changes_on.isoformat() if finding.changes_on else None,
        text=finding_text(finding, called),
        settle=settles(finding, called),
        ask=asks_whom(finding, called),
        certain=finding.certain,
        changes=change_text(finding, called),
        kept=finding_text(finding, marked),
        stands_for=stands_for,
    )


def _told_again(session: Session, kept: Mapping[str, str], nodes: Mapping[str, int]) -> Told:
    """A finding as it was kept with a verdict."""
    return Told(
        level=kept["level"],
        unknown=kept["unknown"],
        row=kept["row"],
        plant=kept["plant"],
        node=nodes.get(kept["plant"], 0),
        record=kept["record"],
        citation=kept["citation"],
        changes_on=kept["changes_on"],
        text=with_names(session, kept["text"]),
        settle=None,
        ask=None,
        certain=True,
    )


def _noted(session: Session, gaps: Iterable[Told]) -> set[tuple[int, str]]:
    """The (node, row) of gaps that are open questions already, or settled as never to be known."""
    nodes = {gap.node for gap in gaps}
    if not nodes:
        return set()
    rows = session.execute(
        select(QuestionRow.node_id, QuestionRow.row).where(
            QuestionRow.node_id.in_(nodes),
            QuestionRow.void_seq.is_(None),
            or_(QuestionRow.settled_seq.is_(None), QuestionRow.how.startswith(CANNOT)),
        )
    ).all()
    return {(node, row) for node, row in rows}


def _uses(verdict: Verdict, fetched: Fetched, act: Act) -> dict[int, tuple[int, ...]]:
    """The consents and licences with a yes for the act, by the node that was judged."""
    dossier = fetched.dossier
    consents = [c for plant in dossier.plants.values() for c in plant.consents]
    consents += [c for lot in dossier.lots.values() for c in lot.consents]
    consents += [c for right in dossier.rights for c in right.licences]
    yes = {c.id for c in consents if (word := c.word(act)) is not None and word.allowed}
    found: dict[int, tuple[int, ...]] = {}
    if not yes:
        return found
    drawn: dict[int, tuple[int, ...]] = {}  # by findings, which siblings share
    for plant in verdict.plants:
        if id(plant.findings) not in drawn:
            drawn[id(plant.findings)] = _drawn_on(plant.findings, yes)
        if drawn[id(plant.findings)]:
            found[plant.node] = drawn[id(plant.findings)]
    return found


def _drawn_on(findings: Iterable[Finding], yes: Collection[int]) -> tuple[int, ...]:
    """Those of the consents and licences that findings rest on, once each."""
    ids = [
        f.record.id
        for f in findings
        if f.record and f.record.kind in (RecordKind.CONSENT, RecordKind.LICENCE)
    ]
    return tuple(dict.fromkeys(i for i in ids if i in yes))
