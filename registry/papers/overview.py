"""The whole registry by clone: a bar for each, parted by how its plants stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import BinaryIO

from registry.papers.charts import (
    FOOT,
    HEAD,
    MARGIN,
    NOTE_SIZE,
    TITLE_SIZE,
    WORD_SIZE,
    Surface,
    svg_file,
)
from registry.papers.page import BOLD, PLAIN, SEMIBOLD, Paper, text_width, wrapped

ROW = 9.0
NAMES, BARS, NUMBERS = 78.0, 120.0, 75.0
PARTS = (
    # what stands in the bar, the statuses it sums, its grey
    ("standing", ("alive", "unsure"), 1.0),
    ("left", ("sold", "given", "swapped"), 0.75),
    ("ended", ("died", "culled", "destroyed", "surrendered"), 0.35),
)
TITLE = "Every clone, by the number of its plants"
KEY = (
    "Each bar is as long as the clone has had plants: white stands here, pale grey went by count, "
    "grey has left by code, dark grey has died or was destroyed. The numbers beside say the same."
)


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

    def parts(self) -> list[tuple[str, int, float]]:
        """What the bar is made of, each with its number and its grey."""
        found = [(what, self.part(statuses), shade) for what, statuses, shade in PARTS]
        what, n, shade = found[0]
        return [
            (what, n - self.unsaid, shade),
            ("gone by count, not said which", self.unsaid, 0.88),
            *found[1:],
        ]

    @property
    def total(self) -> int:
        """All that the bar shows."""
        return sum(self.part(statuses) for _, statuses, _ in PARTS)


def overview_svg(bars: Sequence[Bar]) -> str:
    """All clones in one SVG."""
    most = max((bar.total for bar in bars), default=1)
    height = len(bars) * ROW + 2 * MARGIN + HEAD + 8

    def draw(surface: Surface) -> None:
        surface.text(0, -8, TITLE, SEMIBOLD, TITLE_SIZE)
        for number, bar in enumerate(bars):
            _draw(surface, bar, number * ROW, most)
        surface.text(0, len(bars) * ROW + 4, KEY, PLAIN, NOTE_SIZE)

    return svg_file(TITLE, NAMES + BARS + NUMBERS + 2 * MARGIN, height, draw)


def overview_pdf(bars: Sequence[Bar], out: BinaryIO) -> int:
    """All clones on A4 pages, across; gives the number of pages."""
    paper = Paper(out, across=True, title=TITLE)
    most = max((bar.total for bar in bars), default=1)
    fits = int((paper.height - 2 * MARGIN - HEAD - FOOT) // ROW)
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
        sheet.text(0, paper.height - 2 * MARGIN - HEAD + 3.5, KEY, PLAIN, NOTE_SIZE)
        paper.end_page()
    paper.close()
    return len(pages)


def _draw(surface: Surface, bar: Bar, top: float, most: int) -> None:
    """One row: code and name, the bar, and the same in words."""
    surface.text(0, top + 3.4, bar.code, BOLD, WORD_SIZE)
    name = wrapped(bar.name, PLAIN, WORD_SIZE, NAMES - 4)
    for number, line in enumerate(name[:1]):
        more = " …" if len(name) > 1 else ""
        surface.text(0, top + 6.8 + number * 3, line + more, PLAIN, WORD_SIZE)
    x = NAMES
    words = []
    for what, n, shade in bar.parts():
        if not n:
            continue
        width = BARS * n / max(most, 1)
        surface.polygon(
            [(x, top + 1), (x + width, top + 1), (x + width, top + 6.5), (x, top + 6.5)],
            shade=shade,
            line=0.25,
        )
        x += width
        words.append(f"{n} {what}")
    if bar.bench:
        words.append(f"{bar.bench} in the bench")
    surface.text(max(x, NAMES) + 2, top + 4.8, ", ".join(words) or "none yet", PLAIN, WORD_SIZE)
