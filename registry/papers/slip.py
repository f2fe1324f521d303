"""A head of the chain on paper: the same slip twice, one to keep and one to give."""

from __future__ import annotations

from typing import BinaryIO

from registry.domain.heads import Statement
from registry.papers.page import A4, PLAIN, SEMIBOLD, Paper, Sheet, wrapped
from registry.wording import heads as wording

MARGIN = 20.0
COLUMN = 34.0
TITLE_SIZE, SIZE, HEAD_SIZE = 16.0, 11.0, 17.0
LEADING = 6.0


def slip_pdf(said: Statement, out: BinaryIO) -> int:
    """Draw the slip to `out`; gives the number of pages."""
    paper = Paper(out, across=False, title=f"Head {said.entry} of {said.grower}'s registry")
    half = A4[1] / 2
    for top in (0.0, half):
        _draw(paper.page(MARGIN, top + MARGIN), said)
    paper.page(0, half).path([(0, 0), (A4[0], 0)], line=0.3, dashed=True)
    paper.end_page()
    paper.close()
    return 1


def _draw(sheet: Sheet, said: Statement) -> None:
    width = A4[0] - 2 * MARGIN
    sheet.text(0, 4, "The head of a plant registry", SEMIBOLD, TITLE_SIZE)
    down = 16.0
    for what, words in wording.slip(said):
        if what == "Head":  # the line that is read aloud
            down += 2
            sheet.text(0, down, what, PLAIN, SIZE)
            sheet.text(COLUMN, down, words, SEMIBOLD, HEAD_SIZE)
            down += LEADING + 3
            continue
        sheet.text(0, down, what, PLAIN, SIZE)
        for line in wrapped(words, PLAIN, SIZE, width - COLUMN) or [""]:
            sheet.text(COLUMN, down, line, PLAIN, SIZE)
            down += LEADING
    down += 4
    for words in wording.advice(said):
        for line in wrapped(words, PLAIN, SIZE, width):
            sheet.text(0, down, line, PLAIN, SIZE)
            down += LEADING
