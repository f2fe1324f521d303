"""The worklist of a recall on A4: what to look at, where it is, room to write what was found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import BinaryIO

from registry.domain.recalls import Line, Recalled, Why, progress
from registry.papers.page import BOLD, PLAIN, SEMIBOLD, Face, Paper, Sheet, text_width, wrapped
from registry.wording import recall as wording

MARGIN = 12.0
TITLE_SIZE, HEAD_SIZE, TEXT_SIZE = 13.0, 8.5, 8.5
LEADING = TEXT_SIZE * 25.4 / 72 * 1.25
TICK = 3.2
"""The side of the square to tick."""
SECTION = 9.0
"""The height of the heading of a place, or of who has some."""
COLUMNS = (
    # head, width in millimetres
    ("", 15.0),
    ("code", 28.0),
    ("what", 42.0),
    ("name", 50.0),
    ("why", 64.0),
    ("found, by whom, when", 74.0),
)
TABLE = sum(width for _, width in COLUMNS)
STARTS = [
    before - width + 1
    for before, (_, width) in zip(accumulate(width for _, width in COLUMNS), COLUMNS, strict=True)
]
"""Where the words of each column begin."""
ROW_PAD = 1.6


@dataclass(frozen=True, slots=True)
class _Section:
    """The heading above some lines: where they stand, or who has them."""

    title: str


def worklist_pdf(recall: Recalled, out: BinaryIO) -> int:
    """Write the worklist as A4 pages, across; gives the number of pages.

    What needs work comes first, place by place; then what is with others, by who has it. What is
    settled by the record (dead, empty) is summed and not listed.
    """
    paper = Paper(out, across=True, title=wording.heading(recall))
    pages = list(_pages(_rows(recall), _opening(recall), paper))
    for number, page in enumerate(pages, 1):
        top = _head(paper, recall, number, len(pages))
        for row in page:
            sheet = paper.page(MARGIN, top)
            top += _title(sheet, row.title) if isinstance(row, _Section) else _row(sheet, row)
        paper.end_page()
    paper.close()
    return len(pages)


def _rows(recall: Recalled) -> list[_Section | Line]:
    """The lines that need work under their headings."""
    work = [line for line in recall.lines if line.to_do]
    here = [line for line in work if line.to is None and line.why is not Why.SOURCE]
    sources = [line for line in work if line.to is None and line.why is Why.SOURCE]
    away = [line for line in work if line.to is not None]
    rows: list[_Section | Line] = []
    for place, lines in _together(here, wording.where):
        rows += [_Section(f"{place}: {len(lines)}"), *lines]
    for who, lines in _together(away, wording.holder):
        rows += [_Section(f"With others, {who}: {len(lines)}"), *lines]
    if sources:
        rows += [_Section(f"Where it may have come from: {len(sources)}"), *sources]
    return rows


def _together(
    lines: Sequence[Line], by: Callable[[Line], str]
) -> Iterable[tuple[str, Sequence[Line]]]:
    """Lines with the same words together, in the order in which those come first."""
    found: dict[str, list[Line]] = {}
    for line in lines:
        found.setdefault(by(line), []).append(line)
    return found.items()


def _opening(recall: Recalled) -> list[str]:
    """What the first page says above the list."""
    done = progress(recall.lines)
    words = [
        f"Started {recall.opened}. Contacts followed: {recall.steps}.",
        *wording.sum_lines(recall.sums),
        "Worked through: "
        + (", ".join(f"{n} {what}" for what, n in sorted(done.items())) or "nothing to do"),
        *(wording.lot_line(lot) for lot in recall.lots if lot.unexplained),
    ]
    if recall.since:
        words.append(wording.since(recall.id, recall.since))
    if recall.finding is not None:
        words.append(f"Closed {recall.closed}: {recall.finding}")
    return words


def _pages(
    rows: Sequence[_Section | Line], opening: Sequence[str], paper: Paper
) -> list[list[_Section | Line]]:
    room = paper.height - 2 * MARGIN
    pages: list[list[_Section | Line]] = [[]]
    down = _head_height(paper, opening)
    section: _Section | None = None
    for number, row in enumerate(rows):
        height = _height(row)
        # A heading is not left alone at the foot of a page.
        follows = _height(rows[number + 1]) if isinstance(row, _Section) else 0.0
        if down + height + follows > room and pages[-1]:
            pages.append([])
            down = _head_height(paper, ())
            if section is not None and not isinstance(row, _Section):
                pages[-1].append(_Section(f"{section.title}, continued"))
                down += SECTION
        if isinstance(row, _Section):
            section = row
        pages[-1].append(row)
        down += height
    return pages


def _height(row: _Section | Line) -> float:
    return SECTION if isinstance(row, _Section) else _row_height(_cells(row))


def _head_height(paper: Paper, opening: Sequence[str]) -> float:
    width = paper.width - 2 * MARGIN
    lines = sum(len(wrapped(words, PLAIN, HEAD_SIZE, width)) for words in opening)
    return 13.4 + lines * LEADING


def _head(paper: Paper, recall: Recalled, number: int, of: int) -> float:
    sheet = paper.page(MARGIN, MARGIN)
    width = paper.width - 2 * MARGIN
    at = f"page {number} of {of}"
    sheet.text(width - text_width(at, PLAIN, HEAD_SIZE), 4, at, PLAIN, HEAD_SIZE)
    title = wrapped(wording.heading(recall), SEMIBOLD, TITLE_SIZE, width - 25)[0]
    sheet.text(0, 4, title, SEMIBOLD, TITLE_SIZE)
    down = 9.0
    for words in _opening(recall) if number == 1 else ():
        for line in wrapped(words, PLAIN, HEAD_SIZE, width):
            sheet.text(0, down, line, PLAIN, HEAD_SIZE)
            down += LEADING
    for (head, _), x in zip(COLUMNS, STARTS, strict=True):
        sheet.text(x, down + 3, head, SEMIBOLD, HEAD_SIZE)
    sheet.path([(0, down + 4.4), (TABLE, down + 4.4)], line=0.4, dashed=False)
    return MARGIN + down + 4.4


def _cells(line: Line) -> list[tuple[list[str], Face]]:
    what = wording.what(line)
    if line.to is not None:
        what = f"{what}, {wording.went(line)}"
    texts = (
        (str(line.line), PLAIN),
        (line.code, BOLD),
        (what, PLAIN),
        (line.name, PLAIN),
        (wording.why(line), PLAIN),
        (wording.found(line), PLAIN),
    )
    return [
        (wrapped(words, face, TEXT_SIZE, width - 2), face)
        for (words, face), (_, width) in zip(texts, COLUMNS, strict=True)
    ]


def _row_height(cells: Sequence[tuple[list[str], Face]]) -> float:
    # At least as high as a line of handwriting.
    return max(max(len(lines) for lines, _ in cells) * LEADING + 2 * ROW_PAD, 8.0)


def _row(sheet: Sheet, line: Line) -> float:
    cells = _cells(line)
    height = _row_height(cells)
    _tick(sheet, ticked=line.settled)
    for (lines, face), x in zip(cells, (TICK + 3, *STARTS[1:]), strict=True):
        for number, words in enumerate(lines):
            sheet.text(x, ROW_PAD + (number + 0.8) * LEADING, words, face, TEXT_SIZE)
    sheet.path([(0, height), (TABLE, height)], line=0.15, dashed=False)
    return height


def _tick(sheet: Sheet, *, ticked: bool) -> None:
    """A square to tick, or ticked where the line is settled."""
    top = ROW_PAD
    corners = [(1.0, top), (1 + TICK, top), (1 + TICK, top + TICK), (1.0, top + TICK)]
    sheet.polygon(corners, shade=1.0, line=0.3)
    if ticked:
        middle = (1 + TICK * 0.42, top + TICK * 0.8)
        ways = [(1 + TICK * 0.15, top + TICK * 0.5), middle, (1 + TICK * 0.95, top - 0.3)]
        sheet.path(ways, line=0.5, dashed=False)


def _title(sheet: Sheet, title: str) -> float:
    sheet.text(1, 6.6, title, SEMIBOLD, TEXT_SIZE + 2)
    sheet.path([(0, SECTION), (TABLE, SECTION)], line=0.15, dashed=False)
    return SECTION
