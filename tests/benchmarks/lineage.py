"""The questions of a trace and a recall, timed against every other way of asking them.

Each is held against its own statements on the bare driver, in the same run; against networkx with
the whole graph loaded beforehand; and against a workbook of the same rows walked with openpyxl, as
a grower does it today. Answers of one size are timed in registries of every size: they should take
as long.
"""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import networkx as nx
import openpyxl
from sqlalchemy import Engine, event
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate
from registry.location import Server
from registry.papers.charts import chart_svg
from registry.papers.folding import Box, Chart, Link, Shape
from registry.papers.layout import lay_out
from registry.services import exposure
from registry.storage import lineage_queries as lineage
from registry.storage import postgres
from registry.storage.engine import door, make_engine
from registry.storage.migrate import in_the_making
from registry.storage.transaction import together
from tests.benchmarks.grow import GENERATIONS, Place, Planted, copy_to, grow, set_in
from tests.benchmarks.timing import Ratio, pair

SIZES = (1_000, 100_000, 1_000_000, 3_000_000)
ANSWERS = (100, 20_000, 200_000)
BENCHES = (200, 2_000)
WORKBOOK_MOST = 100_000
"""A sheet holds a million rows at most; reading a larger one tells nothing new."""

BOXES = 2_000
AIM, SMALL, FEW, FEW_SECONDS = 2.0, 1_000, 100, 0.001
"""From so many rows on the ratio is held to its aim; below, the answer to a millisecond."""

FLAT = 1.5
"""How much longer the largest registry may take than the smallest, for an answer of one size."""

DAY = FuzzyDate.of(date(2025, 6, 1))


@dataclass(frozen=True, slots=True)
class Question:
    """Something that is asked of a registry.

    Attributes:
        what: In words, with the size of the answer.
        rows: How many rows the answer has.
        ask: Asks it.
        graph: Asks the same of a networkx graph, where it can.
        book: Asks the same of a workbook, where it can.
        bound: Whether an answer of few rows has its bound: one statement or two do.
    """

    what: str
    rows: int
    ask: Callable[[], object]
    graph: Callable[[nx.DiGraph[int]], object] | None = None
    book: Callable[[Workbook], object] | None = None
    bound: bool = True


@dataclass(frozen=True, slots=True)
class Memory:
    """What an answer took at its height, in bytes that Python allotted.

    `smallest` is what the same answer took in the smallest registry that could give it.
    """

    what: str
    plants: int
    rows: int
    peak: int
    smallest: int


@dataclass(frozen=True, slots=True)
class Measured:
    """All tables of one engine."""

    ratios: tuple[Ratio, ...]
    flat: tuple[Ratio, ...]
    memory: tuple[Memory, ...]


def measure(
    folder: Path, most: int = 100_000, url: str | None = None, say: Callable[[str], None] = print
) -> Measured:
    """Time every question in registries of up to `most` plants.

    Args:
        folder: Where the files are grown; about 650 bytes a plant.
        most: The largest registry.
        url: An empty PostgreSQL database that the rows are copied into and asked in; None asks the
            files themselves.
        say: Tells how far it is.
    """
    ratios: list[Ratio] = []
    flat: list[Ratio] = []
    memory: list[Memory] = []
    first: dict[str, float] = {}
    least: dict[str, int] = {}
    for size in sizes(most):
        path = folder / f"lineage-{size}.sqlite"
        answers = [n for n in ANSWERS if n <= size]
        benches = [n for n in BENCHES if n * 2 <= size]
        say(f"growing {size:,} plants")
        apart = sum(n * 10 // 11 for n in answers) + sum(benches)
        grow(path, max(size - apart - GENERATIONS, 100))
        planted = set_in(path, answers, benches)
        with _engine(path, url) as engine, Session(engine) as session:
            ways = _Others(session, folder / "plants.xlsx", size)
            for question in questions(session, planted):
                say(f"asking {size:,} plants: {question.what}")
                found = list(_against_others(session, question, size, ways))
                ratios += found
                peak = _peak(question)
                smallest = least.setdefault(question.what, peak)
                memory.append(Memory(question.what, size, question.rows, peak, smallest))
                flat += _flatness(question, size, found[0], first)
        path.unlink()
    return Measured(tuple(ratios), tuple(flat), tuple(memory))


def sizes(most: int) -> list[int]:
    """The registries that are grown up to a largest, which is one of them."""
    return [*(size for size in SIZES if size < most), most]


@contextmanager
def _engine(path: Path, url: str | None) -> Iterator[Engine]:
    """The file's engine, or that of a database which has its rows while it is asked."""
    if url is None:
        engine = make_engine(path, mode="ro")
        yield engine
        engine.dispose()
        return
    server = Server(url)
    with in_the_making(server):
        pass
    engine = make_engine(server)
    try:
        copy_to(path, engine)
        yield engine
    finally:
        with together(engine, server) as connection, door(connection):
            postgres.take_tables_away(connection)
        engine.dispose()


def questions(session: Session, planted: Planted) -> Iterator[Question]:
    """Up, down to answers of every size, kin, and the recall of a place on a day."""
    deep = planted.deep
    yield Question(
        f"up from a plant {GENERATIONS} generations deep, {2 * GENERATIONS} edges",
        2 * GENERATIONS,
        lambda: lineage.edges_above(session, [deep]),
        lambda graph: nx.ancestors(graph, deep),
        lambda book: book.reached([deep], upward=True),
    )
    for n, founder in planted.families.items():
        yield from _of_a_family(session, n, founder)
    for n, place in planted.places.items():
        yield from _of_a_place(session, n, place)


def _of_a_family(session: Session, n: int, founder: int) -> Iterator[Question]:
    yield Question(
        f"down to an answer of {n:,}",
        n,
        lambda: lineage.descendant_ids(session, [founder]),
        lambda graph: nx.descendants(graph, founder),
        lambda book: book.reached([founder], upward=False),
    )
    yield Question(
        f"down to an answer of {n:,}, each edge as a frozen value",
        n,
        lambda: lineage.edges_below(session, [founder]),
    )
    yield Question(
        f"kin, a clone of {n:,}",
        n,
        lambda: lineage.clone_ids_below(session, lineage.clone_ids_above(session, [founder])),
        lambda graph: nx.descendants(graph, founder) | nx.ancestors(graph, founder),
        lambda book: book.reached(book.reached([founder], upward=True), upward=False),
    )


def _of_a_place(session: Session, n: int, place: Place) -> Iterator[Question]:
    yield Question(
        f"what stood in a place on a day, {n:,} plants",
        n,
        lambda: exposure.stood_in(session, [place.id], DAY),
    )
    stood = [one.node for one in exposure.stood_in(session, [place.id], DAY)]
    if len(stood) != n:
        raise RuntimeError(f"{len(stood)} plants stand in {place.name}, not {n}")

    def walked(graph: nx.DiGraph[int]) -> set[int]:
        return set(stood).union(
            *(nx.descendants(graph, node) | nx.ancestors(graph, node) for node in stood)
        )

    def read(book: Workbook) -> set[int]:
        there = book.standing(place.id)
        return book.reached(there, upward=True) | book.reached(there, upward=False)

    yield Question(
        f"recall of a place on a day, the whole circle, {n:,} plants",
        n,
        lambda: exposure.circle(
            session, exposure.place_start(session, place.name, DAY), day=DAY, steps=0
        ),
        walked,
        read,
        bound=False,
    )


def _against_others(
    session: Session, question: Question, size: int, others: _Others
) -> Iterator[Ratio]:
    small, few = question.rows < SMALL, question.rows <= FEW
    what = f"{question.what}, {size:,} plants"
    rounds = 31 if small else 7
    yield pair(
        what,
        question.ask,
        "the same statements on the bare driver",
        _bare(session, question.ask),
        None if few or (small and not question.bound) else AIM,
        rounds=rounds,
        below=FEW_SECONDS if few and question.bound else None,
    )
    if question.graph is not None:
        graph, ask = others.graph, question.graph
        yield pair(
            what,
            question.ask,
            "networkx, the graph already loaded",
            lambda: ask(graph),
            None,
            rounds=rounds,
        )
    if question.book is not None and size <= WORKBOOK_MOST:
        path, read = others.book, question.book

        def by_hand() -> object:
            with Workbook(path) as book:
                return read(book)

        yield pair(what, question.ask, "a workbook, openpyxl", by_hand, 1.0, rounds=1)


def _bare(session: Session, ask: Callable[[], object]) -> Callable[[], object]:
    """The statements of a question again, straight through the driver, their rows fetched."""
    told: list[tuple[str, Any]] = []

    def note(connection: Any, cursor: Any, statement: str, parameters: Any, *rest: Any) -> None:
        told.append((statement, parameters))

    ask()  # the transaction is open from here on
    engine = session.get_bind()
    event.listen(engine, "after_cursor_execute", note)
    ask()
    event.remove(engine, "after_cursor_execute", note)
    driver: Any = session.connection().connection.driver_connection

    def replay() -> None:
        for statement, parameters in told:
            with closing(driver.cursor()) as cursor:
                cursor.execute(statement, parameters)
                cursor.fetchall()

    return replay


class _Others:
    """The same lineage as others keep it, made when it is first asked for."""

    def __init__(self, session: Session, path: Path, size: int) -> None:
        self._session, self._path, self._size = session, path, size

    @cached_property
    def graph(self) -> nx.DiGraph[int]:
        """The whole lineage in memory."""
        graph: nx.DiGraph[int] = nx.DiGraph()
        graph.add_edges_from(self._rows("SELECT parent_id, child_id FROM edge"))
        return graph

    @cached_property
    def book(self) -> Path:
        """A workbook with a row for each edge, and one for each plant and where it stands."""
        book = openpyxl.Workbook(write_only=True)
        for title, statement in (
            ("edges", "SELECT parent_id, child_id FROM edge"),
            ("places", "SELECT node_id, place_id FROM stay"),
        ):
            sheet = book.create_sheet(title)
            for row in self._rows(statement):
                sheet.append(row)
        book.save(self._path)
        return self._path

    def _rows(self, statement: str) -> Iterator[tuple[int, int]]:
        rows = self._session.connection().exec_driver_sql(f"{statement} WHERE void_seq IS NULL")
        return ((one, other) for one, other in rows)


class Workbook:
    """A workbook that is opened for one question, and read as often as it takes."""

    def __init__(self, path: Path) -> None:
        self._book = openpyxl.load_workbook(path, read_only=True)

    def __enter__(self) -> Workbook:
        return self

    def __exit__(self, *raised: object) -> None:
        self._book.close()

    def reached(self, start: Iterable[int], *, upward: bool) -> set[int]:
        """The nodes above or below some, and these."""
        onward: dict[int, list[int]] = {}
        for parent, child in self._rows("edges"):
            here, there = (child, parent) if upward else (parent, child)
            onward.setdefault(here, []).append(there)
        seen = set(start)
        stack = list(seen)
        while stack:
            fresh = [one for one in onward.get(stack.pop(), ()) if one not in seen]
            seen.update(fresh)
            stack += fresh
        return seen

    def standing(self, place: int) -> set[int]:
        """The plants that stand in a place."""
        return {node for node, there in self._rows("places") if there == place}

    def _rows(self, title: str) -> Iterator[tuple[int, int]]:
        rows = self._book[title].iter_rows(values_only=True)
        return ((int(str(one)), int(str(other))) for one, other in rows)


def _peak(question: Question) -> int:
    tracemalloc.start()
    question.ask()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def _flatness(question: Question, size: int, found: Ratio, first: dict[str, float]) -> list[Ratio]:
    """The answer here against the same in the smallest registry that could give it."""
    if question.what not in first:
        first[question.what] = found.ours
        return []
    other = first[question.what]
    return [
        replace(
            found,
            against="the smallest registry with it",
            theirs=other,
            ratio=found.ours / other,
            aim=FLAT,
            below=None,
        )
    ]


def chart() -> Ratio:
    """A chart of two thousand boxes against its layout alone."""
    boxes = {
        n: Box(n, Shape.PLANT, f"26-{n:05}", "Hydrangea macrophylla ‘Ashe Red’", ("standing",))
        for n in range(1, BOXES + 1)
    }
    links = tuple(Link(n // 4 or 1, n) for n in range(2, BOXES + 1))
    drawn = Chart("What came of it", boxes, links)
    heights = dict.fromkeys(boxes, 20.0)
    lines = [(link.parent, link.child) for link in links]
    return pair(
        f"a chart of {BOXES:,} boxes",
        lambda: chart_svg(drawn),
        "its layout alone",
        lambda: lay_out(heights, lines, 5.5),
        10.0,
        rounds=3,
    )
