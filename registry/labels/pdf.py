"""Labels to PDF: vector symbols snapped to printer dots, embedded fonts, the same bytes twice.

Sheets are drawn for printing at 100 % and say so to the viewer. Rectangles of a symbol are written
in printer dots, so that every edge of a module falls on one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import BinaryIO

from registry.errors import BadResolution, LabelProblem, NoLabels
from registry.labels.fonts import Face
from registry.labels.layout import Layout, Rule, Shape, Spot, lay_out
from registry.labels.pdffile import POINTS_PER_MM, PdfFile
from registry.labels.stocks import Buried, Stock
from registry.labels.symbol import QUIET, Encoder
from registry.labels.text import LabelText

LOWEST_DPI, HIGHEST_DPI = 150, 2400
DEFAULT_DPI = 300
HAIRLINE = 0.4  # points


@dataclass(slots=True)
class SheetReport:
    """What became of the labels of a sheet, each named by its code.

    `reduced` have a symbol with the code alone, `no_symbol` none; `left_out` lists the lines that
    had no room; `problems` are labels that were not printed, only where that was asked for.
    """

    printed: int = 0
    pages: int = 0
    reduced: list[str] = field(default_factory=list)
    no_symbol: list[str] = field(default_factory=list)
    left_out: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)
    problems: list[LabelProblem] = field(default_factory=list)

    def note(self, code: str, layout: Layout) -> None:
        """Take down what the layout of one label had to give up."""
        self.printed += 1
        if layout.reduced:
            self.reduced.append(code)
        if layout.no_symbol:
            self.no_symbol.append(code)
        if layout.left_out:
            self.left_out.append((code, layout.left_out))


def draw_sheet(
    labels: Iterable[LabelText],
    stock: Stock,
    out: BinaryIO,
    *,
    start: int = 1,
    dpi: int = DEFAULT_DPI,
    progress: Callable[[int], None] | None = None,
    skip_problems: bool = False,
) -> SheetReport:
    """Write a PDF of labels in order, from cell `start` (counted from 1) of the first page.

    `progress` is called with the number of labels drawn after each page. With `skip_problems` a
    label that cannot be drawn leaves no gap and is reported; without, it stops the sheet.

    Raises:
        BadResolution: `dpi` is out of range.
        StartBeyondSheet: the sheet has no cell `start`.
        NoLabels: there is none.
        LabelProblem: a label cannot be drawn, and `skip_problems` is False.
    """
    if not LOWEST_DPI <= dpi <= HIGHEST_DPI:
        raise BadResolution(dpi, LOWEST_DPI, HIGHEST_DPI)
    stock.check_start(start)
    report = SheetReport()
    pen = _Pen(stock, out, dpi)
    encoder = Encoder()
    cell = start
    for label in labels:
        try:
            layout = lay_out(label, stock, dpi, encoder)
        except LabelProblem as problem:
            if not skip_problems:
                raise
            report.problems.append(problem)
            continue
        if cell > stock.cells:
            pen.end_page()
            report.pages += 1
            cell = 1
            if progress is not None:
                progress(report.printed)
        pen.label(layout, cell)
        report.note(label.code, layout)
        cell += 1
    if report.printed == 0:
        if report.problems:
            raise report.problems[0]
        raise NoLabels
    pen.end_page()
    report.pages += 1
    if progress is not None:
        progress(report.printed)
    pen.close()
    return report


def draw_test_page(stock: Stock, out: BinaryIO) -> None:
    """Write one page with the outline of every cell and rulers, to hold against empty stock.

    Rulers of 100 mm (10 mm on small pages) across and down show whether the printer kept the size.
    """
    width, height = stock.page_width * POINTS_PER_MM, stock.page_height * POINTS_PER_MM
    file = PdfFile(out, width, height, "Test page")
    file.draw(_outlines(stock))
    length = 100 if min(stock.page_width, stock.page_height) > 120 else 10
    x, y = stock.page_width / 2 - length / 2, stock.page_height / 2
    file.draw(_ruler(stock, x, y, length, across=True))
    file.draw(_ruler(stock, stock.page_width / 2, y - length / 2, length, across=False))
    text = f"{stock.name} · {length} mm"
    left, down = (x + 1) * POINTS_PER_MM, height - (y + 5) * POINTS_PER_MM
    file.text(f"1 0 0 1 {left:.2f} {down:.2f}", Face.LINE, 7, text)
    file.end_page()
    file.close()


def _outlines(stock: Stock) -> str:
    boxes = []
    for cell in range(1, stock.cells + 1):
        left, top = stock.corner(cell)
        bottom = stock.page_height - top - stock.label_height
        numbers = (left, bottom, stock.label_width, stock.label_height)
        boxes.append(" ".join(f"{number * POINTS_PER_MM:.2f}" for number in numbers) + " re")
    return f"{HAIRLINE} w {' '.join(boxes)} S"


def _ruler(stock: Stock, x: float, y: float, length: int, *, across: bool) -> str:
    """A ruler of `length` mm from a point on the page; every fifth tick is longer."""
    lines = []
    for tick in range(length + 1):
        size = 3 if tick % 10 == 0 else 2 if tick % 5 == 0 else 1
        start = (x + tick, y) if across else (x, y + tick)
        end = (x + tick, y - size) if across else (x - size, y + tick)
        ends = [
            (a * POINTS_PER_MM, (stock.page_height - b) * POINTS_PER_MM) for a, b in (start, end)
        ]
        lines.append("{:.2f} {:.2f} m {:.2f} {:.2f} l".format(*ends[0], *ends[1]))
    return f"{HAIRLINE} w {' '.join(lines)} S"


class _Pen:
    """Draws laid-out labels on the pages of one PDF."""

    def __init__(self, stock: Stock, out: BinaryIO, dpi: int) -> None:
        self.stock = stock
        self.dot = 72 / dpi
        width, height = stock.page_width * POINTS_PER_MM, stock.page_height * POINTS_PER_MM
        self.file = PdfFile(out, width, height, "Labels")
        self._start_page()

    def end_page(self) -> None:
        """Finish a page; the next begins with the next label."""
        self.file.end_page()
        self._start_page()

    def close(self) -> None:
        """Write the file's end."""
        self.file.close()

    def label(self, layout: Layout, cell: int) -> None:
        """Draw one label into a cell of the page."""
        place = Place(self.stock, layout, *self.stock.corner(cell))
        if layout.shapes:
            shapes = " ".join(_filled(shape, place) for shape in layout.shapes)
            self.file.draw(f"q {shapes} Q")
        for text in layout.texts:
            x, y = place.point(text.x, text.baseline)
            matrix = f"{place.turn} {x:.3f} {y:.3f}"
            self.file.text(matrix, text.face, text.size, text.text)
        if layout.rules:
            self.file.draw(" ".join(_rule(rule, place) for rule in layout.rules))
        if layout.spot is not None:
            self._symbol(layout.spot, place)

    def _symbol(self, spot: Spot, place: Place) -> None:
        """Dark modules as rectangles, in units of one module, from a corner on a printer's dot."""
        ends = [place.point(spot.x, spot.y), place.point(spot.x + spot.side, spot.y + spot.side)]
        quiet = QUIET * spot.dots
        left, bottom = (
            (round(min(values) / self.dot + 1e-6) + quiet) * self.dot
            for values in zip(*ends, strict=True)
        )
        module = spot.dots * self.dot
        side = spot.symbol.side
        rectangles = " ".join(
            f"{x} {side - y - height} {width} {height} re"
            for x, y, width, height in spot.symbol.rectangles()
        )
        self.file.draw(
            f"q {module:.6f} 0 0 {module:.6f} {left:.5f} {bottom:.5f} cm {rectangles} f Q"
        )

    def _start_page(self) -> None:
        if self.stock.cut_lines:
            self.file.draw(_cut_lines(self.stock))


class Place:
    """Where a label's millimetres lie on the page.

    `turn` is the text matrix's a, b, c, d.
    """

    def __init__(self, stock: Stock, layout: Layout, left: float, top: float) -> None:
        self._page = stock.page_height
        self._box = left, top, stock.label_width, stock.label_height
        self._turned = layout.turned
        self._from_end = stock.buried is Buried.START
        right = 0 if layout.turned else 1
        down = 1 if layout.turned else 0
        if self._from_end:
            right, down = -right, -down
        self.turn = f"{right} {-down} {down} {right}"

    def on_page(self, x: float, y: float) -> tuple[float, float]:
        """A point of the label as it is read, in mm from the page's upper left corner."""
        left, top, width, height = self._box
        across, down = (width - y, x) if self._turned else (x, y)
        if self._from_end:
            across, down = width - across, height - down
        return left + across, top + down

    def point(self, x: float, y: float) -> tuple[float, float]:
        """The same in points from the page's lower left corner."""
        across, down = self.on_page(x, y)
        return across * POINTS_PER_MM, (self._page - down) * POINTS_PER_MM


def _rule(rule: Rule, place: Place) -> str:
    (x1, y1), (x2, y2) = place.point(rule.x1, rule.y1), place.point(rule.x2, rule.y2)
    return f"{HAIRLINE} w {x1:.2f} {y1:.2f} m {x2:.2f} {y2:.2f} l S"


def _filled(shape: Shape, place: Place) -> str:
    (x, y), *rest = (place.point(*point) for point in shape.points)
    lines = " ".join(f"{a:.3f} {b:.3f} l" for a, b in rest)
    return f"{0 if shape.dark else 1} g {x:.3f} {y:.3f} m {lines} h f"


def _cut_lines(stock: Stock) -> str:
    """Dashed lines to cut along, right across the page."""
    across = sorted(
        {
            edge
            for column in range(stock.columns)
            for edge in _edges(stock.left + column * stock.pitch_x, stock.label_width)
        }
    )
    down = sorted(
        {
            edge
            for row in range(stock.rows)
            for edge in _edges(stock.top + row * stock.pitch_y, stock.label_height)
        }
    )
    width, height = stock.page_width * POINTS_PER_MM, stock.page_height * POINTS_PER_MM
    lines = [f"{x * POINTS_PER_MM:.2f} 0 m {x * POINTS_PER_MM:.2f} {height:.2f} l" for x in across]
    lines += [
        f"0 {height - y * POINTS_PER_MM:.2f} m {width:.2f} {height - y * POINTS_PER_MM:.2f} l"
        for y in down
    ]
    return f"q 0.55 G {HAIRLINE} w [1.5 3] 0 d {' '.join(lines)} S Q"


def _edges(start: float, length: float) -> tuple[float, float]:
    return round(start, 3), round(start + length, 3)
