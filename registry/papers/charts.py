"""Charts of a lineage as SVG and PDF: parents on the left, what was raised from them on the right.

A box tells what it is by its outline and in words; shade only helps. Sizes are in millimetres, and
the type is never smaller than 6 points on A4.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import BinaryIO, Protocol
from xml.sax.saxutils import escape  # nosec B406

from registry.papers.folding import Box, Chart, Link, Shape
from registry.papers.layout import Layout, lay_out
from registry.papers.page import (
    BOLD,
    MM_PER_POINT,
    PLAIN,
    SEMIBOLD,
    Face,
    Paper,
    Sheet,
    text_width,
    wrapped,
)

ROW_GAP = 5.5
PAD = 2.0
CODE_SIZE, NAME_SIZE, WORD_SIZE, NOTE_SIZE, TITLE_SIZE = 9.0, 8.5, 7.5, 6.5, 13.0
FAMILY = "Source Sans Pro, Source Sans 3, Arial, Helvetica, sans-serif"
MARGIN, HEAD, FOOT = 12.0, 14.0, 13.0
SHADES = {
    Shape.PLANT: 1.0,
    Shape.LOT: 0.95,
    Shape.MANY: 0.95,
    Shape.LEFT: 0.9,
    Shape.ENDED: 0.82,
}
VERDICTS = {
    "clear": "yes",
    "conditional": "yes, with conditions",
    "unknown": "not known",
    "barred": "no",
}
"""What a verdict says in a box; its sign says the same by its shape."""

KEY = (
    "Read from left to right: each line leads from a plant to what was raised from it. "
    "A pointed box has left, a box with cut corners is dead, a box on a tray is a batch. "
    "A dashed line: one of several possible parents."
)


class Surface(Protocol):
    """What a chart is drawn on; y runs down, all in millimetres, sizes of type in points."""

    def polygon(self, points: Sequence[tuple[float, float]], *, shade: float, line: float) -> None:
        """A closed outline, filled with a grey."""

    def path(self, points: Sequence[tuple[float, float]], *, line: float, dashed: bool) -> None:
        """An open line."""

    def text(self, x: float, y: float, words: str, face: Face, size: float) -> None:
        """Words from a point on their baseline."""


@dataclass(frozen=True, slots=True)
class Grid:
    """How wide boxes and the gaps between them are, and how many go side by side on a page."""

    width: float
    gap: float
    columns: int

    @property
    def step(self) -> float:
        """From one box to the next."""
        return self.width + self.gap


WIDE, NARROW = Grid(56.0, 13.0, 4), Grid(46.0, 10.5, 5)
"""Four generations of an A4 page across, or five where there are more."""


@dataclass(frozen=True, slots=True)
class _Placed:
    box: Box
    x: float
    width: float
    top: float
    height: float
    texts: tuple[tuple[str, Face, float], ...]

    @property
    def middle(self) -> float:
        """How far down its lines meet it."""
        return self.top + self.height / 2


@dataclass(frozen=True, slots=True)
class _Plan:
    placed: dict[int, _Placed]
    layout: Layout
    grid: Grid
    links: tuple[Link, ...]


def _texts(box: Box, width: float) -> tuple[tuple[str, Face, float], ...]:
    room = width - 2 * PAD - (4 if box.verdict else 0)
    found: list[tuple[str, Face, float]] = [(box.code, BOLD, CODE_SIZE)]
    if box.asked:
        found.append(("asked about", PLAIN, WORD_SIZE))
    for line in wrapped(box.name, SEMIBOLD, NAME_SIZE, room) if box.name else ():
        found.append((line, SEMIBOLD, NAME_SIZE))
    words = (*box.words, f"{box.act}: {VERDICTS[box.verdict]}") if box.verdict else box.words
    for word in words:
        found += [(line, PLAIN, WORD_SIZE) for line in wrapped(word, PLAIN, WORD_SIZE, room)]
    return tuple(found)


def _height(texts: Iterable[tuple[str, Face, float]]) -> float:
    return sum(size * MM_PER_POINT * 1.25 for _, _, size in texts) + 2 * PAD


def _plan(chart: Chart, page: float | None = None) -> _Plan:
    """Where everything goes; a chart that is higher than a page is set to be read from the top."""
    grid = WIDE
    texts = {node: _texts(box, grid.width) for node, box in chart.boxes.items()}
    heights = {node: _height(lines) for node, lines in texts.items()}
    lines = [(link.parent, link.child) for link in chart.links]
    layout = lay_out(heights, lines, ROW_GAP)
    if max(layout.layer.values(), default=0) >= WIDE.columns:
        grid = NARROW
        texts = {node: _texts(box, grid.width) for node, box in chart.boxes.items()}
        heights = {node: _height(words) for node, words in texts.items()}
        layout = lay_out(heights, lines, ROW_GAP)
    if page is not None and layout.depth > page:
        layout = lay_out(heights, lines, ROW_GAP, level=True)
    placed = {
        node: _Placed(
            box,
            layout.layer[node] * grid.step,
            grid.width,
            layout.middle[node] - heights[node] / 2,
            heights[node],
            texts[node],
        )
        for node, box in chart.boxes.items()
    }
    return _Plan(placed, layout, grid, chart.links)


# --- SVG -----------------------------------------------------------------------------------------


def chart_svg(chart: Chart) -> str:
    """The chart as one SVG (Scalable Vector Graphics 1.1), as large as it needs to be."""
    plan = _plan(chart)
    columns = max(plan.layout.layer.values(), default=0) + 1
    width = max(columns * plan.grid.step - plan.grid.gap + 2 * MARGIN, 150.0)
    foot = _foot_lines(chart, width - 2 * MARGIN)
    height = plan.layout.depth + 2 * MARGIN + HEAD + len(foot) * 3.2 + 4

    def draw(surface: Surface) -> None:
        _title(surface, chart.title, width - 2 * MARGIN)
        for link in plan.links:
            _line(surface, plan, link)
        for placed in plan.placed.values():
            _box(surface, placed)
        for number, line in enumerate(foot):
            surface.text(0, plan.layout.depth + 7 + number * 3.2, line, PLAIN, NOTE_SIZE)

    return svg_file(chart.title, width, height, draw)


def svg_file(title: str, width: float, height: float, draw: Callable[[Surface], None]) -> str:
    """An SVG of some millimetres, drawn by `draw` within the margins."""
    surface = _Svg(MARGIN, MARGIN + HEAD)
    draw(surface)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.1f}mm" height="{height:.1f}mm" '
        f'viewBox="0 0 {width:.1f} {height:.1f}" role="img">\n'
        f"<title>{escape(title)}</title>\n"
        f'<rect width="{width:.1f}" height="{height:.1f}" fill="#fff"/>\n'
        + "\n".join(surface.parts)
        + "\n</svg>\n"
    )


class _Svg:
    def __init__(self, left: float, top: float) -> None:
        self.left, self.top = left, top
        self.parts: list[str] = []

    def _points(self, points: Sequence[tuple[float, float]]) -> str:
        return " ".join(f"{x + self.left:.2f},{y + self.top:.2f}" for x, y in points)

    def polygon(self, points: Sequence[tuple[float, float]], *, shade: float, line: float) -> None:
        grey = f"#{round(shade * 255):02x}" + f"{round(shade * 255):02x}" * 2
        self.parts.append(
            f'<polygon points="{self._points(points)}" fill="{grey}" stroke="#222" '
            f'stroke-width="{line}"/>'
        )

    def path(self, points: Sequence[tuple[float, float]], *, line: float, dashed: bool) -> None:
        dash = ' stroke-dasharray="1.6 1.2"' if dashed else ""
        self.parts.append(
            f'<polyline points="{self._points(points)}" fill="none" stroke="#555" '
            f'stroke-width="{line}"{dash}/>'
        )

    def text(self, x: float, y: float, words: str, face: Face, size: float) -> None:
        # The length is said, so that a reader without the font still fits the words in the box.
        length = text_width(words, face, size)
        self.parts.append(
            f'<text x="{x + self.left:.2f}" y="{y + self.top:.2f}" '
            f'font-family="{FAMILY}" font-weight="{face.weight}" '
            f'font-size="{size * MM_PER_POINT:.2f}" textLength="{length:.2f}" '
            f'lengthAdjust="spacingAndGlyphs" xml:space="preserve">{escape(words)}</text>'
        )


# --- PDF -----------------------------------------------------------------------------------------


def chart_pdf(chart: Chart, out: BinaryIO) -> int:
    """Write the chart as A4 pages, across; gives the number of pages.

    A page holds four or five boxes side by side. What does not fit goes on overleaf, and the
    boxes where it does say on which page.
    """
    paper = Paper(out, across=True, title=chart.title)
    room = _room(paper)
    plan = _paged(_plan(chart, room), room)
    pages = sorted({_page(plan, placed, room) for placed in plan.placed.values()}) or [(0, 0)]
    numbers = {page: number for number, page in enumerate(pages, 1)}
    foot = _foot_lines(chart, paper.width - 2 * MARGIN)
    for page in pages:
        row, group = page
        sheet = paper.page(
            MARGIN - group * plan.grid.columns * plan.grid.step, MARGIN + HEAD - row * room
        )
        here = {n for n, placed in plan.placed.items() if _page(plan, placed, room) == page}
        for link in plan.links:
            if link.parent in here and link.child in here:
                _line(sheet, plan, link)
        for node in here:
            _box(sheet, plan.placed[node])
        _elsewhere(sheet, plan, here, numbers, room)
        top = paper.page(MARGIN, MARGIN + HEAD)
        words = chart.title if len(pages) == 1 else f"{chart.title}   "
        _title(top, words, paper.width - 2 * MARGIN - (25 if len(pages) > 1 else 0))
        if len(pages) > 1:
            at = f"page {numbers[page]} of {len(pages)}"
            right = paper.width - 2 * MARGIN - text_width(at, PLAIN, WORD_SIZE)
            top.text(right, -8, at, PLAIN, WORD_SIZE)
        for number, line in enumerate(foot):
            below = paper.height - 2 * MARGIN - HEAD + 3.5 - (len(foot) - 1 - number) * 3.0
            top.text(0, below, line, PLAIN, NOTE_SIZE)
        paper.end_page()
    paper.close()
    return len(pages)


def _room(paper: Paper) -> float:
    return paper.height - 2 * MARGIN - HEAD - FOOT


def _page(plan: _Plan, placed: _Placed, room: float) -> tuple[int, int]:
    column = plan.layout.layer[placed.box.id]
    return int((placed.top + 0.01) // room), column // plan.grid.columns


def _paged(plan: _Plan, room: float) -> _Plan:
    """The plan with no box on the edge between two pages: what would be is moved down."""
    layers: dict[int, list[_Placed]] = {}
    for node, placed in plan.placed.items():
        layers.setdefault(plan.layout.layer[node], []).append(placed)
    moved: dict[int, _Placed] = {}
    for column in layers.values():
        shift = 0.0
        for placed in sorted(column, key=lambda one: one.top):
            top = placed.top + shift
            if int(top // room) != int((top + placed.height) // room) and placed.height < room:
                down = (int(top // room) + 1) * room - top
                shift, top = shift + down, top + down
            moved[placed.box.id] = replace(placed, top=top)
    return _Plan(moved, plan.layout, plan.grid, plan.links)


def _elsewhere(
    sheet: Sheet,
    plan: _Plan,
    here: set[int],
    numbers: dict[tuple[int, int], int],
    room: float,
) -> None:
    """Say beside boxes of a page where their lines come from and go to."""
    before: dict[int, list[str]] = {}
    after: dict[int, set[int]] = {}
    for link in plan.links:
        if link.parent in here and link.child not in here:
            page = numbers[_page(plan, plan.placed[link.child], room)]
            after.setdefault(link.parent, set()).add(page)
        elif link.child in here and link.parent not in here:
            page = numbers[_page(plan, plan.placed[link.parent], room)]
            code = plan.placed[link.parent].box.code
            before.setdefault(link.child, []).append(f"{code}, page {page}")
    for node, pages in after.items():
        placed = plan.placed[node]
        words = "goes on: page " + ", ".join(str(page) for page in sorted(pages))
        sheet.text(placed.x + 1, placed.top + placed.height + 2.6, words, PLAIN, NOTE_SIZE)
    for node, sources in before.items():
        placed = plan.placed[node]
        words = "from " + "; ".join(sources)
        for number, line in enumerate(wrapped(words, PLAIN, NOTE_SIZE, plan.grid.width)[:1]):
            sheet.text(placed.x + 1, placed.top - 0.9 - number * 2.6, line, PLAIN, NOTE_SIZE)


# --- what both draw ------------------------------------------------------------------------------


def _foot_lines(chart: Chart, room: float) -> list[str]:
    return [line for words in (KEY, *chart.foot) for line in wrapped(words, PLAIN, NOTE_SIZE, room)]


def _title(surface: Surface, title: str, room: float) -> None:
    size = TITLE_SIZE
    while size > 8 and text_width(title, SEMIBOLD, size) > room:
        size -= 0.5
    surface.text(0, -8, title, SEMIBOLD, size)


def _line(surface: Surface, plan: _Plan, link: Link) -> None:
    """A line from the right edge of a box to the left edge of the next, in steps."""
    start, end = plan.placed[link.parent], plan.placed[link.child]
    right = start.x + start.width
    gap, step = plan.grid.gap, plan.grid.step
    points = [(right, start.middle)]
    for layer, middle in plan.layout.ways.get((link.parent, link.child), ()):
        x = layer * step
        points += [(x - gap / 2, points[-1][1]), (x - gap / 2, middle)]
        points.append((x + plan.grid.width, middle))
    if link.certain:
        bend = end.x - gap / 2
        points += [(bend, points[-1][1]), (bend, end.middle), (end.x, end.middle)]
    else:  # slanting, so that dashes do not fall on the line of another
        points += [(points[-1][0] + 1.5, points[-1][1]), (end.x - 2, end.middle)]
        points.append((end.x, end.middle))
    surface.path(points, line=0.35, dashed=not link.certain)
    surface.path(
        [(end.x - 1.6, end.middle - 0.9), (end.x, end.middle), (end.x - 1.6, end.middle + 0.9)],
        line=0.35,
        dashed=False,
    )


def _box(surface: Surface, placed: _Placed) -> None:
    x, top, height = placed.x, placed.top, placed.height
    shape = placed.box.shape
    line = 0.8 if placed.box.asked else 0.3
    if shape is Shape.MANY:  # a second sheet looks out behind the first
        surface.polygon(
            _outline(Shape.LOT, x + 1.2, top - 1.2, x + 1.2 + placed.width, height),
            shade=1.0,
            line=0.3,
        )
    surface.polygon(
        _outline(shape, x, top, x + placed.width, height), shade=SHADES[shape], line=line
    )
    if shape in (Shape.LOT, Shape.MANY):  # a tray: a thick lower edge
        base = top + height
        surface.path([(x, base), (x + placed.width, base)], line=1.2, dashed=False)
    down = top + PAD
    for words, face, size in placed.texts:
        down += size * MM_PER_POINT * 1.25
        surface.text(x + PAD, down - size * MM_PER_POINT * 0.3, words, face, size)
    if placed.box.verdict:
        _sign(surface, placed.box.verdict, x + placed.width - 5, top + 4.2)


def _outline(
    shape: Shape, x: float, top: float, right: float, height: float
) -> list[tuple[float, float]]:
    base = top + height
    if shape is Shape.LEFT:  # pointed to the right: it went
        return [
            (x, top),
            (right - 3, top),
            (right, top + height / 2),
            (right - 3, base),
            (x, base),
        ]
    if shape is Shape.ENDED:  # corners cut off
        cut = 2.5
        return [
            (x + cut, top),
            (right - cut, top),
            (right, top + cut),
            (right, base - cut),
            (right - cut, base),
            (x + cut, base),
            (x, base - cut),
            (x, top + cut),
        ]
    return [(x, top), (right, top), (right, base), (x, base)]


def _sign(surface: Surface, verdict: str, x: float, y: float) -> None:
    """A tick, a tick on a line, an open ring of six sides, or a cross."""
    if verdict in ("clear", "conditional"):
        surface.path([(x - 1.6, y), (x - 0.4, y + 1.3), (x + 1.8, y - 1.6)], line=0.7, dashed=False)
        if verdict == "conditional":
            surface.path([(x - 1.8, y + 2.4), (x + 1.8, y + 2.4)], line=0.7, dashed=False)
    elif verdict == "unknown":
        ring = [(-1.7, 0), (-0.85, 1.5), (0.85, 1.5), (1.7, 0), (0.85, -1.5), (-0.85, -1.5)]
        surface.polygon([(x + dx, y + dy) for dx, dy in ring], shade=1.0, line=0.6)
    else:
        for ends in (((-1.5, -1.5), (1.5, 1.5)), ((-1.5, 1.5), (1.5, -1.5))):
            surface.path([(x + dx, y + dy) for dx, dy in ends], line=0.9, dashed=False)
