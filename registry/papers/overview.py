"""The whole registry by clone: a bar for each, parted by how its plants stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import BinaryIO

from registry.papers.charts import (
    FOOT,
    HEAD,
    MARGIN,
    NOTE_LEADING,
    NOTE_SIZE,
    TITLE_SIZE,
    WORD_SIZE,
    Surface,
    outline,
    svg_file,
)
from registry.papers.folding import Shape
from registry.papers.page import BOLD, MM_PER_POINT, PLAIN, SEMIBOLD, Paper, text_width, wrapped

ROW, THICK = 7.2, 5.0
CODES, NAMES, BARS, NUMBERS = 24.0, 58.0, 113.0, 78.0
WIDTH = CODES + NAMES + BARS + NUMBERS
LEADING = WORD_SIZE * MM_PER_POINT * 1.1
PARTS = (
    # what stands in the bar, the statuses it sums, its outline and its grey
    ("standing", ("alive", "unsure"), Shape.PLANT, 1.0),
    ("left", ("sold", "given", "swapped"), Shape.LEFT, 0.75),
    ("dead", ("died", "culled", "destroyed", "surrendered"), Shape.ENDED, 0.35),
)
TITLE = "Every clone, by the number of its plants"
KEY = (
    "A clone is all that was raised from one first plant without seed; its bar is as long as it "
    "has had plants. Plain: they stand here. Dashed: gone, and nobody said which. Pointed: left. "
    "Dark, with its corners cut off: died or destroyed. Seedlings of one sowing that have no name "
    "share a bar, though each is a clone of its own."
)


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a bar: what it is, how many plants, its outline and its grey."""

    what: str
    n: int
    shape: Shape
    shade: float
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """A clone: its first plant, the cuttings in the bench, its plants by status.

    `unsaid` of the plants that seem to stand left or died while nobody said which.
    """

    code: str
    name: str
    bench: int
    plants: Mapping[str, int]
    unsaid: int = 0

    def part(self, statuses: Sequence[str]) -> int:
        """How many plants have one of some statuses."""
        return sum(self.plants.get(status, 0) for status in statuses)

    def parts(self) -> list[Part]:
        """What the bar is made of, in its order."""
        standing, *gone = [
            Part(what, self.part(statuses), shape, shade) for what, statuses, shape, shade in PARTS
        ]
        return [
            replace(standing, n=standing.n - self.unsaid),
            Part("gone, not said which", self.unsaid, Shape.PLANT, 0.93, dashed=True),
            *gone,
        ]

    @property
    def total(self) -> int:
        """All that the bar shows."""
        return sum(self.part(statuses) for _, statuses, *_ in PARTS)


def overview_svg(bars: Sequence[Bar]) -> str:
    """All clones in one SVG."""
    most = max((bar.total for bar in bars), default=1)
    key = _key(WIDTH)
    height = len(bars) * ROW + 2 * MARGIN + HEAD + 4 + len(key) * NOTE_LEADING

    def draw(surface: Surface) -> None:
        surface.text(0, -8, TITLE, SEMIBOLD, TITLE_SIZE)
        for number, bar in enumerate(bars):
            _draw(surface, bar, number * ROW, most)
        for number, line in enumerate(key):
            surface.text(0, len(bars) * ROW + 4 + number * NOTE_LEADING, line, PLAIN, NOTE_SIZE)

    return svg_file(TITLE, WIDTH + 2 * MARGIN, height, draw)


def overview_pdf(bars: Sequence[Bar], out: BinaryIO) -> int:
    """All clones on A4 pages, across; gives the number of pages."""
    paper = Paper(out, across=True, title=TITLE)
    most = max((bar.total for bar in bars), default=1)
    key = _key(WIDTH)
    below = paper.height - 2 * MARGIN - HEAD
    fits = int((below - FOOT) // ROW)
    pages = [bars[start : start + fits] for start in range(0, len(bars), fits)] or [[]]
    for number, page in enumerate(pages, 1):
        sheet = paper.page(MARGIN, MARGIN + HEAD)
        sheet.text(0, -8, TITLE, SEMIBOLD, TITLE_SIZE)
        at = f"page {number} of {len(pages)}"
        if len(pages) > 1:
            right = paper.width - 2 * MARGIN - text_width(at, PLAIN, WORD_SIZE)
            sheet.text(right, -8, at, PLAIN, WORD_SIZE)
        for row, bar in enumerate(page):
            _draw(sheet, bar, row * ROW, most)
        for row, line in enumerate(key):
            sheet.text(0, below - (len(key) - 1 - row) * NOTE_LEADING, line, PLAIN, NOTE_SIZE)
        paper.end_page()
    paper.close()
    return len(pages)


def _key(room: float) -> list[str]:
    return wrapped(KEY, PLAIN, NOTE_SIZE, room)


def _draw(surface: Surface, bar: Bar, top: float, most: int) -> None:
    """One row: code and name, the bar, and the same in words."""
    middle = top + THICK / 2 + 0.9
    for said, face, left, room in (
        (bar.code, BOLD, 0.0, CODES - 2),
        (bar.name, PLAIN, CODES, NAMES - 6),
    ):
        lines = wrapped(said, face, WORD_SIZE, room)
        if len(lines) > 2:
            lines = [lines[0], f"{lines[1]} …"]
        for number, line in enumerate(lines):
            down = middle + (number - (len(lines) - 1) / 2) * LEADING
            surface.text(left, down, line, face, WORD_SIZE)
    x = CODES + NAMES
    words = []
    for part in bar.parts():
        if not part.n:
            continue
        right = x + BARS * part.n / max(most, 1)
        corners = outline(part.shape, x, top, right, THICK)
        surface.polygon(corners, shade=part.shade, line=0 if part.dashed else 0.25)
        if part.dashed:
            surface.path([*corners, corners[0]], line=0.25, dashed=True)
        x = right
        words.append(f"{part.n} {part.what}")
    if bar.bench:
        words.append(f"{bar.bench} in the bench")
    surface.text(x + 2, middle, " · ".join(words) or "none yet", PLAIN, WORD_SIZE)
