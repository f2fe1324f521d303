"""Charts of a lineage as SVG and PDF: parents on the left, what was raised from them on the right.

A box tells what it is by its outline and in words; shade only helps. Sizes are in millimetres, and
the type is never smaller than 6 points on A4.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import BinaryIO, Protocol
from xml.sax.saxutils import escape  # nosec B406

from registry.papers.folding import Box, Chart, Link, Shape
from registry.papers.layout import Layout, lay_out
from registry.papers.page import (
    A4,
    BOLD,
    MM_PER_POINT,
    PLAIN,
    SEMIBOLD,
    Face,
    Paper,
    Sheet,
    bends,
    text_width,
    wrapped,
)
from registry.papers.paging import cut

ROW_GAP, PAGED_GAP = 5.5, 8.0
"""Between two boxes; on several pages the words about other pages stand there."""
PAD = 2.0
CODE_SIZE, NAME_SIZE, WORD_SIZE, NOTE_SIZE, TITLE_SIZE = 9.0, 8.5, 7.5, 7.0, 13.0
FAMILY = "Source Sans Pro, Source Sans 3, Arial, Helvetica, sans-serif"
MARGIN, HEAD, FOOT = 12.0, 14.0, 10.0
NOTE_LEADING = 3.1
BESIDE = PAGED_GAP / 2
SHADES = {
    Shape.PLANT: 1.0,
    Shape.LOT: 0.95,
    Shape.MANY: 0.95,
    Shape.LEFT: 0.9,
    Shape.ENDED: 0.82,
    Shape.PLANTS: 1.0,
}
DONE = {
    "propagate": "propagated",
    "keep": "kept",
    "give": "given away",
    "swap": "swapped",
    "sell": "sold",
}
VERDICTS = {
    "clear": "may be {}",
    "conditional": "may be {}, with conditions",
    "unknown": "not known whether it may be {}",
    "barred": "may not be {}",
}
"""What a verdict says in a box; its sign says the same by its shape."""

KEY = "Read from left to right: each line leads from a plant or batch to what was raised from it."
KEYS = (
    # what a chart has to have in it, and what is said of that
    ({Shape.LOT, Shape.MANY}, "A box on a tray is a batch."),
    ({Shape.LEFT}, "A pointed box has left."),
    ({Shape.ENDED}, "A box with its corners cut off is dead or gone."),
)
DOUBT = "A dashed line comes from one of several possible parents."
SMALLEST, PAGED, LARGEST = 0.8, 0.85, 1.25
"""How far a chart is drawn smaller or larger to fill a page, or over several: its type has then 6
points or more."""


class Surface(Protocol):
    """What a chart is drawn on; y runs down, all in millimetres, sizes of type in points."""

    def polygon(self, points: Sequence[tuple[float, float]], *, shade: float, line: float) -> None:
        """A closed outline, filled with a grey."""

    def path(self, points: Sequence[tuple[float, float]], *, line: float, dashed: bool) -> None:
        """An open line."""

    def curve(self, points: Sequence[tuple[float, float]], *, line: float, dashed: bool) -> None:
        """An open line that leaves every point level."""

    def text(self, x: float, y: float, words: str, face: Face, size: float) -> None:
        """Words from a point on their baseline."""


@dataclass(frozen=True, slots=True)
class Grid:
    """How wide boxes and the gaps between them are."""

    width: float
    gap: float

    @property
    def step(self) -> float:
        """From one box to the next."""
        return self.width + self.gap

    def columns(self, room: float) -> int:
        """How many boxes go side by side."""
        return int((room + self.gap) // self.step)


WIDE, NARROW = Grid(54.0, 19.0), Grid(43.5, 13.5)
"""Four columns on an A4 page across, or five where there are more."""


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

    @property
    def width(self) -> float:
        """From the left edge of the first column to the right edge of the last."""
        return (max(self.layout.layer.values(), default=0) + 1) * self.grid.step - self.grid.gap


def _texts(box: Box, width: float) -> tuple[tuple[str, Face, float], ...]:
    room = width - 2 * PAD
    beside = room - (4 if box.verdict else 0)
    found = [(line, BOLD, CODE_SIZE) for line in wrapped(box.code, BOLD, CODE_SIZE, beside)]
    if box.name:
        name = wrapped(box.name, SEMIBOLD, NAME_SIZE, room)
        found += [(line, SEMIBOLD, NAME_SIZE) for line in name]
    for words in (*box.words, *_verdict_words(box)):
        found += [(line, PLAIN, WORD_SIZE) for line in wrapped(words, PLAIN, WORD_SIZE, room)]
    return tuple(found)


def _verdict_words(box: Box) -> tuple[str, ...]:
    if box.verdict is None or box.act is None:
        return ()
    return (VERDICTS[box.verdict].format(DONE[box.act]),)


def _height(texts: Iterable[tuple[str, Face, float]]) -> float:
    return sum(size * MM_PER_POINT * 1.25 for _, _, size in texts) + 2 * PAD


def _plan(chart: Chart, grid: Grid, gap: float = ROW_GAP) -> _Plan:
    """Where everything goes."""
    texts = {node: _texts(box, grid.width) for node, box in chart.boxes.items()}
    heights = {node: _height(lines) for node, lines in texts.items()}
    lines = [(link.parent, link.child) for link in chart.links]
    layout = lay_out(heights, lines, gap)
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
    plan = _plan(chart, WIDE)
    width = max(plan.width + 2 * MARGIN, 150.0)
    foot = _foot_lines(chart, width - 2 * MARGIN)
    height = plan.layout.depth + 2 * MARGIN + HEAD + len(foot) * NOTE_LEADING + 4

    def draw(surface: Surface) -> None:
        _title(surface, chart.title, width - 2 * MARGIN)
        _draw_plan(surface, plan)
        for number, line in enumerate(foot):
            down = plan.layout.depth + 7 + number * NOTE_LEADING
            surface.text(0, down, line, PLAIN, NOTE_SIZE)

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
        stroke = f'stroke="#222" stroke-width="{line}"' if line else 'stroke="none"'
        self.parts.append(f'<polygon points="{self._points(points)}" fill="{grey}" {stroke}/>')

    def path(self, points: Sequence[tuple[float, float]], *, line: float, dashed: bool) -> None:
        dash = ' stroke-dasharray="1.6 1.2"' if dashed else ""
        self.parts.append(
            f'<polyline points="{self._points(points)}" fill="none" stroke="#555" '
            f'stroke-width="{line}"{dash}/>'
        )

    def curve(self, points: Sequence[tuple[float, float]], *, line: float, dashed: bool) -> None:
        way = [f"M{self._points(points[:1])}"]
        for one, other in pairwise(points):
            way.append(f"C{self._points((*bends(one, other), other))}")
        dash = ' stroke-dasharray="1.6 1.2"' if dashed else ""
        self.parts.append(
            f'<path d="{" ".join(way)}" fill="none" stroke="#555" stroke-width="{line}"{dash}/>'
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
    """Write the chart as A4 pages; gives the number of pages.

    The page lies or stands, whichever shows it larger, and what nearly fits is drawn smaller. What
    does not go on one page goes on overleaf, and the boxes where it does say on which page.
    """
    whole = _whole(chart)
    if whole is None:
        return _over_pages(chart, out)
    plan, across, scale = whole
    paper = Paper(out, across=across, title=chart.title)
    _draw_plan(paper.page(MARGIN, MARGIN + HEAD, scale), plan)
    _page_words(paper, chart, "")
    paper.end_page()
    paper.close()
    return 1


def _whole(chart: Chart) -> tuple[_Plan, bool, float] | None:
    """The plan, the way of the paper and the scale that show it largest on one page, if any."""
    found = [
        (min(_across(paper) / plan.width, _down(paper, chart) / plan.layout.depth), paper, plan)
        for plan in (_plan(chart, WIDE), _plan(chart, NARROW))
        for paper in (A4[::-1], A4)
        if plan.layout.depth
    ]
    scale, paper, plan = max(found, key=lambda one: one[0], default=(0.0, A4, None))
    if plan is None or scale < SMALLEST:
        return None
    return plan, paper != A4, min(scale, LARGEST)


def _across(paper: tuple[float, float]) -> float:
    return paper[0] - 2 * MARGIN


def _down(paper: tuple[float, float], chart: Chart) -> float:
    """The room that a chart has on a page, between its title and what is said at the foot."""
    foot = len(_foot_lines(chart, _across(paper))) * NOTE_LEADING
    return paper[1] - 2 * MARGIN - HEAD - max(foot + 4, FOOT)


def _over_pages(chart: Chart, out: BinaryIO) -> int:
    """A chart of three columns stands upright; what has more lies across."""
    whole = _plan(chart, WIDE)
    upright = whole.width * PAGED <= _across(A4)
    size, grid = (A4, WIDE) if upright else (A4[::-1], NARROW)
    width, depth = _across(size) / PAGED, (_down(size, chart)) / PAGED - 2 * BESIDE

    def fits(nodes: Sequence[int]) -> bool:
        part = _plan(_part(chart, nodes), grid, PAGED_GAP)
        return part.width <= width and part.layout.depth <= depth

    asked = [node for node, box in chart.boxes.items() if box.asked]
    pages = cut(chart.boxes, [(link.parent, link.child) for link in chart.links], asked, fits)
    paper = Paper(out, across=not upright, title=chart.title)
    for number, nodes in enumerate(pages, 1):
        sheet = paper.page(MARGIN, MARGIN + HEAD + BESIDE * PAGED, PAGED)
        plan = _plan(_part(chart, nodes), grid, PAGED_GAP)
        _draw_plan(sheet, plan)
        _elsewhere(sheet, plan, chart, pages, number)
        _page_words(paper, chart, f"page {number} of {len(pages)}")
        paper.end_page()
    paper.close()
    return len(pages)


def _part(chart: Chart, nodes: Collection[int]) -> Chart:
    here = set(nodes)
    links = [link for link in chart.links if link.parent in here and link.child in here]
    return replace(chart, boxes={node: chart.boxes[node] for node in nodes}, links=tuple(links))


def _page_words(paper: Paper, chart: Chart, at: str) -> None:
    """The title, which page it is, and what is said at the foot."""
    sheet = paper.page(MARGIN, MARGIN + HEAD)
    width = paper.width - 2 * MARGIN
    _title(sheet, chart.title, width - (25 if at else 0))
    sheet.text(width - text_width(at, PLAIN, WORD_SIZE), -8, at, PLAIN, WORD_SIZE)
    foot = _foot_lines(chart, width)
    for number, line in enumerate(foot):
        below = paper.height - 2 * MARGIN - HEAD - (len(foot) - 1 - number) * NOTE_LEADING
        sheet.text(0, below, line, PLAIN, NOTE_SIZE)


def _elsewhere(
    sheet: Sheet, plan: _Plan, chart: Chart, pages: Sequence[Collection[int]], number: int
) -> None:
    """Say beside the boxes of a page where their lines come from and go to."""
    onto: dict[int, set[int]] = {}
    notes: dict[int, list[str]] = {}
    standing: dict[int, set[int]] = {}
    for page, nodes in enumerate(pages, 1):
        for node in nodes:
            standing.setdefault(node, set()).add(page)
    for node in plan.placed:
        if min(standing[node]) < number:
            notes[node] = [f"as on page {min(standing[node])}"]
    for link in chart.links:
        both = standing[link.parent] & standing[link.child]
        if number in both:
            continue
        if link.parent in plan.placed:
            onto.setdefault(link.parent, set()).add(min(both or standing[link.child]))
        if link.child in plan.placed and min(standing[link.child]) == number:
            page = min(both or standing[link.parent])
            code = chart.boxes[link.parent].code
            notes.setdefault(link.child, []).append(f"from {code}, page {page}")
    for node, words in notes.items():
        one = plan.placed[node]
        more = f" and {len(words) - 1} more" if len(words) > 1 else ""
        sheet.text(one.x + 1, one.top - 1.2, f"{words[0]}{more}", PLAIN, NOTE_SIZE)
    for node, numbers in onto.items():
        one = plan.placed[node]
        words_ = f"{'goes on' if min(numbers) > number else 'more'}: page {_spans(sorted(numbers))}"
        sheet.text(one.x + 1, one.top + one.height + 3.3, words_, PLAIN, NOTE_SIZE)


def _spans(numbers: Sequence[int]) -> str:
    """Numbers in order, those that follow each other as one span.

    >>> _spans([2, 3, 4, 7])
    '2-4, 7'
    """
    spans: list[list[int]] = []
    for number in numbers:
        if spans and spans[-1][-1] == number - 1:
            spans[-1][1:] = [number]
        else:
            spans.append([number])
    return ", ".join("-".join(map(str, span)) for span in spans)


# --- what both draw ------------------------------------------------------------------------------


def _foot_lines(chart: Chart, room: float) -> list[str]:
    shapes = {box.shape for box in chart.boxes.values()}
    key = [KEY, *(words for found, words in KEYS if found & shapes)]
    if not all(link.certain for link in chart.links):
        key.append(DOUBT)
    texts = (" ".join(key), *chart.foot)
    return [line for words in texts for line in wrapped(words, PLAIN, NOTE_SIZE, room)]


def _draw_plan(surface: Surface, plan: _Plan, here: Collection[int] | None = None) -> None:
    """The boxes of a plan, or those of one page, and the lines between them."""
    for link in plan.links:
        if here is None or (link.parent in here and link.child in here):
            _line(surface, plan, link)
    for node, placed in plan.placed.items():
        if here is None or node in here:
            _box(surface, placed)


def _title(surface: Surface, title: str, room: float) -> None:
    size = TITLE_SIZE
    while size > 8 and text_width(title, SEMIBOLD, size) > room:
        size -= 0.5
    surface.text(0, -8, title, SEMIBOLD, size)


def _line(surface: Surface, plan: _Plan, link: Link) -> None:
    """A line from the right edge of a box to the left edge of the next, level at both."""
    start, end = plan.placed[link.parent], plan.placed[link.child]
    points = [(start.x + start.width, start.middle)]
    for layer, middle in plan.layout.ways.get((link.parent, link.child), ()):
        x = layer * plan.grid.step
        points += [(x, middle), (x + plan.grid.width, middle)]
    points.append((end.x, end.middle))
    surface.curve(points, line=0.35, dashed=not link.certain)
    surface.path(
        [(end.x - 1.6, end.middle - 0.9), (end.x, end.middle), (end.x - 1.6, end.middle + 0.9)],
        line=0.35,
        dashed=False,
    )


def _box(surface: Surface, placed: _Placed) -> None:
    x, top, height = placed.x, placed.top, placed.height
    shape = placed.box.shape
    line = 0.8 if placed.box.asked else 0.3
    if shape in (Shape.MANY, Shape.PLANTS):  # a second sheet looks out behind the first
        surface.polygon(
            outline(Shape.LOT, x + 1.2, top - 1.2, x + 1.2 + placed.width, height),
            shade=1.0,
            line=0.3,
        )
    surface.polygon(
        outline(shape, x, top, x + placed.width, height), shade=SHADES[shape], line=line
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


def outline(
    shape: Shape, x: float, top: float, right: float, height: float
) -> list[tuple[float, float]]:
    """The corners of a box of a shape."""
    base = top + height
    if shape is Shape.LEFT:  # pointed to the right: it went
        tip = min(3.0, (right - x) / 2)
        return [
            (x, top),
            (right - tip, top),
            (right, top + height / 2),
            (right - tip, base),
            (x, base),
        ]
    if shape is Shape.ENDED:  # corners cut off
        cut = min(2.5, (right - x) / 3, height / 3)
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
