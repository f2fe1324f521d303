"""The worklist of a recall on A4: what to look at, where it is, room to write what was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import BinaryIO

from registry.domain.recalls import Line, Recalled, Why, progress
from registry.papers.page import BOLD, PLAIN, SEMIBOLD, Face, Paper, Sheet, text_width, wrapped
from registry.wording import recall as wording

MARGIN = 12.0
TITLE_SIZE, HEAD_SIZE, TEXT_SIZE = 13.0, 8.0, 8.0
LEADING = TEXT_SIZE * 25.4 / 72 * 1.25
COLUMNS = (
    # head, width in millimetres
    ("", 9.0),
    ("code", 27.0),
    ("name", 46.0),
    ("what", 30.0),
    ("where, or who has it", 60.0),
    ("why", 56.0),
    ("found, by whom, when", 45.0),
)
ROW_PAD = 1.6


def worklist_pdf(recall: Recalled, out: BinaryIO) -> int:
    """Write the worklist as A4 pages, across; gives the number of pages.

    What needs work comes first, those who have plants after what stands here; what is settled by
    the record (dead, empty) is summed and not listed.
    """
    paper = Paper(out, across=True, title=wording.heading(recall))
    here = [line for line in recall.lines if line.to_do and line.to is None]
    away = [line for line in recall.lines if line.to_do and line.to is not None]
    rows: list[tuple[str, Line | None]] = [
        ("", line) for line in here if line.why is not Why.SOURCE
    ]
    sources = [line for line in here if line.why is Why.SOURCE]
    for title, lines in (
        (f"With others: {len(away)}", away),
        (f"Where it may have come from: {len(sources)}", sources),
    ):
        if lines:
            rows += [(title, None), *(("", line) for line in lines)]
    pages = list(_pages(rows, _opening(recall), paper))
    for number, page in enumerate(pages, 1):
        top = _head(paper, recall, number, len(pages))
        for title, line in page:
            sheet = paper.page(MARGIN, top)
            top += _title_row(sheet, title) if line is None else _row(sheet, _cells(line))
        paper.end_page()
    paper.close()
    return len(pages)


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
    if recall.finding is not None:
        words.append(f"Closed {recall.closed}: {recall.finding}")
    return words


def _pages(
    rows: Sequence[tuple[str, Line | None]], opening: Sequence[str], paper: Paper
) -> list[list[tuple[str, Line | None]]]:
    room = paper.height - 2 * MARGIN - 8
    pages: list[list[tuple[str, Line | None]]] = [[]]
    down = _head_height(paper, opening)
    for title, line in rows:
        height = 7.0 if line is None else _row_height(_cells(line))
        if down + height > room and pages[-1]:
            pages.append([])
            down = _head_height(paper, ())
        pages[-1].append((title, line))
        down += height
    return pages


def _head_height(paper: Paper, opening: Sequence[str]) -> float:
    width = paper.width - 2 * MARGIN
    lines = sum(len(wrapped(words, PLAIN, HEAD_SIZE, width)) for words in opening)
    return 16.0 + lines * LEADING


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
    x = 0.0
    for head, column in COLUMNS:
        sheet.text(x + 1, down + 3, head, SEMIBOLD, HEAD_SIZE)
        x += column
    sheet.path([(0, down + 4.4), (x, down + 4.4)], line=0.4, dashed=False)
    return MARGIN + down + 4.4


def _cells(line: Line) -> list[tuple[list[str], Face]]:
    texts = (
        (str(line.line), PLAIN),
        (line.code, BOLD),
        (line.name, PLAIN),
        (wording.what(line), PLAIN),
        (wording.where(line), PLAIN),
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


def _row(sheet: Sheet, cells: Sequence[tuple[list[str], Face]]) -> float:
    height = _row_height(cells)
    x = 0.0
    for (lines, face), (_, width) in zip(cells, COLUMNS, strict=True):
        for number, words in enumerate(lines):
            sheet.text(x + 1, ROW_PAD + (number + 0.8) * LEADING, words, face, TEXT_SIZE)
        x += width
    sheet.path([(0, height), (x, height)], line=0.15, dashed=False)
    return height


def _title_row(sheet: Sheet, title: str) -> float:
    sheet.text(1, 5, title, SEMIBOLD, TEXT_SIZE + 1)
    return 7.0
