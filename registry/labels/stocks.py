"""Label stock as data, named by its dimensions only.

Grids were read from an open-source label-layout project's templates; makers differ by 0.1 to
0.5 mm, so a stock can be nudged and a ruled test page drawn. Single stakes are the sizes commonly
sold (common practice, no source). Every measure is in millimetres.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from difflib import get_close_matches
from enum import Enum

from registry.errors import (
    BadMeasure,
    BadStockName,
    LabelsOverlap,
    StartBeyondSheet,
    StockTooBig,
    UnknownStock,
)

DEFAULT_STOCK = "plain-a4"
DEFAULT_CARD_STOCK = "plain-a4-95x67"

LETTER_COUNTRIES = frozenset(  # Unicode CLDR, paperSize US-Letter; from memory
    ("BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE")
)

LARGEST_PAGE = 1200.0
SMALLEST_LABEL = 8.0
LARGEST_NUDGE = 10.0
_ROUNDING = 0.06  # makers round their measures to 0.1 mm
_NAME = re.compile(r"[a-z0-9][a-z0-9.-]{0,39}")


class Kind(Enum):
    """What the stock is, which decides how a label is laid on it."""

    SHEET = "sheet"
    STRIP = "strip"
    STAKE = "stake"
    ROLL = "roll"


class Buried(Enum):
    """Which end of a stake goes into the soil, as it lies on the page.

    START is the top of an upright stake and the left of a lying one, END the other.
    """

    NONE = "none"
    START = "start"
    END = "end"


@dataclass(frozen=True, slots=True)
class Stock:
    """One kind of page with labels in a regular grid; all measures in millimetres.

    `left` and `top` are the outer margins, `pitch_x` and `pitch_y` the step from one label to the
    next. `cut_lines` are printed on plain paper to cut along.
    """

    name: str
    page_width: float
    page_height: float
    label_width: float
    label_height: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    pitch_x: float = 0.0
    pitch_y: float = 0.0
    kind: Kind = Kind.SHEET
    buried: Buried = Buried.NONE
    cut_lines: bool = False

    @property
    def cells(self) -> int:
        """How many labels a page holds."""
        return self.columns * self.rows

    def corner(self, cell: int) -> tuple[float, float]:
        """Left and top edge of a cell, from the page's top left corner.

        Cells count from 1, along the rows.

        >>> find_stock("a4-63.5x38.1").corner(5)
        (73.24, 53.25)
        """
        row, column = divmod(cell - 1, self.columns)
        return (
            round(self.left + column * self.pitch_x, 4),
            round(self.top + row * self.pitch_y, 4),
        )

    def check_start(self, start: int) -> None:
        """Refuse a first cell that is not on the sheet.

        Raises:
            StartBeyondSheet: `start` is below 1 or above the number of cells.
        """
        if not 1 <= start <= self.cells:
            raise StartBeyondSheet(start=start, cells=self.cells, stock=self.name)

    def nudged(self, right: float = 0.0, down: float = 0.0) -> Stock:
        """The same grid moved on the page, in steps of 0.1 mm; negative is left and up.

        Raises:
            BadMeasure: by more than 10 mm, or not a multiple of 0.1 mm.
        """
        for what, value in (("nudge right", right), ("nudge down", down)):
            if not abs(value) <= LARGEST_NUDGE or abs(value * 10 - round(value * 10)) > 1e-6:
                raise BadMeasure(what, value, -LARGEST_NUDGE, LARGEST_NUDGE)
        return replace(self, left=self.left + right, top=self.top + down)


def own_stock(
    name: str,
    *,
    page: tuple[float, float],
    label: tuple[float, float],
    grid: tuple[int, int] = (1, 1),
    margins: tuple[float, float] = (0.0, 0.0),
    pitch: tuple[float, float] | None = None,
    kind: Kind = Kind.SHEET,
    buried: Buried = Buried.NONE,
    cut_lines: bool = False,
) -> Stock:
    """A grower's own stock from a few numbers: (across, down) in millimetres, grid in labels.

    `pitch` is the step from label to label; without it labels touch.

    Raises:
        BadStockName: the name holds other than small letters, digits, `.` and `-`, or is ours.
        BadMeasure: a number is out of range.
        LabelsOverlap: the step is smaller than the label.
        StockTooBig: the labels reach beyond the page.
    """
    if _NAME.fullmatch(name) is None or name in _BY_NAME:
        raise BadStockName(name=name, taken=name in _BY_NAME)
    step = pitch or label
    for what, value, low, high in (
        ("page width", page[0], SMALLEST_LABEL, LARGEST_PAGE),
        ("page height", page[1], SMALLEST_LABEL, LARGEST_PAGE),
        ("label width", label[0], SMALLEST_LABEL, LARGEST_PAGE),
        ("label height", label[1], SMALLEST_LABEL, LARGEST_PAGE),
        ("columns", grid[0], 1, 100),
        ("rows", grid[1], 1, 100),
        ("left margin", margins[0], 0, LARGEST_PAGE),
        ("top margin", margins[1], 0, LARGEST_PAGE),
        ("step across", step[0], 0, LARGEST_PAGE),
        ("step down", step[1], 0, LARGEST_PAGE),
    ):
        if not low <= value <= high:
            raise BadMeasure(what, value, low, high)
    for axis, direction in enumerate(("across", "down")):
        if grid[axis] > 1 and step[axis] < label[axis] - _ROUNDING:
            raise LabelsOverlap(name, direction, step[axis], label[axis])
        needed = margins[axis] + (grid[axis] - 1) * step[axis] + label[axis]
        if needed > page[axis] + _ROUNDING:
            raise StockTooBig(name, direction, needed, page[axis])
    return Stock(name, *page, *label, *grid, *margins, *step, kind, buried, cut_lines)


def default_stock(country: str, *, cards: bool) -> Stock:
    """Plain paper to cut, of the size that a country uses; larger pieces for batch cards.

    >>> default_stock("US", cards=False).name, default_stock("NL", cards=True).name
    ('plain-letter', 'plain-a4-95x67')
    """
    if country in LETTER_COUNTRIES:
        return _BY_NAME["plain-letter-95x64" if cards else "plain-letter"]
    return _BY_NAME[DEFAULT_CARD_STOCK if cards else DEFAULT_STOCK]


def find_stock(name: str, own: tuple[str, ...] = ()) -> Stock:
    """The stock of this name; `own` are further names to offer where there is none.

    Raises:
        UnknownStock: there is none; names like it are offered.
    """
    key = name.strip().lower()
    if key not in _BY_NAME:
        raise UnknownStock(name=name, near=tuple(get_close_matches(key, (*own, *_BY_NAME), 3, 0.5)))
    return _BY_NAME[key]


def all_stocks() -> tuple[Stock, ...]:
    """Every stock that we describe, plain paper first."""
    return STOCKS


_A4 = (210.0, 297.0)
_LETTER = (215.9, 279.4)


def _grid(
    name: str,
    page: tuple[float, float],
    label: tuple[float, float],
    grid: tuple[int, int],
    margins: tuple[float, float],
    pitch_x: float,
    pitch_y: float | None = None,
    kind: Kind = Kind.SHEET,
    buried: Buried = Buried.NONE,
    cut_lines: bool = False,
) -> Stock:
    down = label[1] if pitch_y is None else pitch_y
    return Stock(name, *page, *label, *grid, *margins, pitch_x, down, kind, buried, cut_lines)


def _single(name: str, width: float, height: float, kind: Kind) -> Stock:
    buried = Buried.END if kind is Kind.STAKE else Buried.NONE
    return Stock(name, width, height, width, height, kind=kind, buried=buried)


STOCKS: tuple[Stock, ...] = (
    # Plain paper, cut with scissors: our own sizes, clear of a printer's unprinted edge.
    _grid("plain-a4", _A4, (63, 38), (3, 7), (10.5, 15.5), 63, cut_lines=True),
    _grid("plain-a4-95x67", _A4, (95, 67), (2, 4), (10, 14.5), 95, cut_lines=True),
    _grid("plain-letter", _LETTER, (63, 37), (3, 7), (13.45, 10.2), 63, cut_lines=True),
    _grid("plain-letter-95x64", _LETTER, (95, 64), (2, 4), (12.95, 11.7), 95, cut_lines=True),
    # A4 sheets.
    _grid("a4-25.4x10", _A4, (25.4, 10.0), (7, 27), (8.5, 13.5), 27.94),
    _grid("a4-38.1x21.2", _A4, (38.1, 21.2), (5, 13), (4.75, 10.9), 40.6),
    _grid("a4-38x21.2", _A4, (38.0, 21.2), (5, 13), (10.0, 10.7), 38.0),
    _grid("a4-45.7x21.2", _A4, (45.7, 21.2), (4, 12), (9.7, 21.3), 48.3),
    _grid("a4-48.5x25.4", _A4, (48.5, 25.4), (4, 10), (8.0, 21.5), 48.5),
    _grid("a4-52.5x29.7", _A4, (52.5, 29.7), (4, 10), (0, 0), 52.5),
    _grid("a4-63.5x29.6", _A4, (63.5, 29.6), (3, 9), (7.25, 15.3), 66.0),
    _grid("a4-63.5x33.9", _A4, (63.5, 33.9), (3, 8), (7.2, 12.9), 66.04),
    _grid("a4-64.6x33.8", _A4, (64.6, 33.8), (3, 8), (8.1, 13.3), 64.6),
    _grid("a4-63.5x38.1", _A4, (63.5, 38.1), (3, 7), (7.2, 15.15), 66.04),
    _grid("a4-63.5x46.6", _A4, (63.5, 46.6), (3, 6), (7.2, 8.7), 66.04),
    _grid("a4-63.5x72", _A4, (63.5, 72.0), (3, 4), (7.2, 4.5), 66.0),
    _grid("a4-70x16.9", _A4, (70, 16.9), (3, 17), (0, 4.8), 70),
    _grid("a4-70x25.4", _A4, (70, 25.4), (3, 11), (0, 8.8), 70),
    _grid("a4-70x32", _A4, (70, 32), (3, 9), (0, 4.5), 70),
    _grid("a4-70x36", _A4, (70, 36), (3, 8), (0, 4.5), 70),
    _grid("a4-70x37", _A4, (70, 37), (3, 8), (0, 0.5), 70),
    _grid("a4-99.1x33.9", _A4, (99.1, 33.9), (2, 8), (4.63, 12.9), 101.64),
    _grid("a4-99.1x38.1", _A4, (99.1, 38.1), (2, 7), (4.63, 15.15), 101.64),
    _grid("a4-99.1x42.3", _A4, (99.1, 42.3), (2, 6), (4.63, 21.6), 101.64),
    _grid("a4-99.1x67.7", _A4, (99.1, 67.7), (2, 4), (4.63, 13.1), 101.64),
    _grid("a4-145x17", _A4, (145, 17), (1, 16), (32.5, 14), 145, kind=Kind.STRIP),
    _grid("a4-210x19", _A4, (210, 19), (1, 14), (0, 0), 210, kind=Kind.STRIP),
    # Stick-in labels on a sheet; one end of each goes into the soil.
    _grid(
        "sheet-20x100",
        (210, 261),
        (20, 100),
        (10, 2),
        (5, 5),
        20,
        130,
        kind=Kind.STAKE,
        buried=Buried.END,
    ),
    # US Letter sheets.
    _grid("letter-44.5x12.7", _LETTER, (44.45, 12.7), (4, 20), (7.14, 12.7), 52.39),
    _grid("letter-44.5x16.9", _LETTER, (44.45, 16.92), (4, 15), (7.81, 12.83), 51.94),
    _grid("letter-38.1x25.4", _LETTER, (38.1, 25.4), (5, 10), (12.7, 12.7), 38.1),
    _grid("letter-50.8x25.4", _LETTER, (50.8, 25.4), (4, 10), (6.35, 12.7), 50.8),
    _grid("letter-44.5x31.8", _LETTER, (44.45, 31.75), (4, 8), (11.9, 12.7), 49.21),
    _grid("letter-66.7x25.4", _LETTER, (66.67, 25.4), (3, 10), (4.76, 12.7), 69.85),
    _grid("letter-101.6x25.4", _LETTER, (101.6, 25.4), (2, 10), (3.97, 12.7), 106.36),
    _grid("letter-101.6x50.8", _LETTER, (101.6, 50.8), (2, 5), (4.13, 12.7), 106.36),
    _grid("letter-101.6x33.9", _LETTER, (101.6, 33.87), (2, 7), (3.97, 21.17), 106.36),
    _grid("letter-87.3x16.9", _LETTER, (87.3, 16.9), (2, 15), (13.5, 12.7), 101.6),
    _grid("letter-146x16.9", _LETTER, (146, 16.9), (1, 15), (34.9, 12.7), 146, kind=Kind.STRIP),
    _grid(
        "letter-127x12.7",
        _LETTER,
        (127, 12.7),
        (1, 16),
        (44.45, 6.35),
        127,
        16.93,
        kind=Kind.STRIP,
    ),
    # Stakes fed one at a time, the point at the bottom.
    _single("stake-12.7x102", 12.7, 101.6, Kind.STAKE),
    _single("stake-16x100", 16, 100, Kind.STAKE),
    _single("stake-16x125", 16, 125, Kind.STAKE),
    _single("stake-16x150", 16, 150, Kind.STAKE),
    _single("stake-16x178", 15.9, 177.8, Kind.STAKE),
    _single("stake-19x100", 19, 100, Kind.STAKE),
    _single("stake-19x125", 19, 125, Kind.STAKE),
    _single("stake-19x152", 19.05, 152.4, Kind.STAKE),
    _single("stake-25x102", 25.4, 101.6, Kind.STAKE),
    _single("stake-25x150", 25, 150, Kind.STAKE),
    # Wrap-around strips, fed one at a time.
    _single("strip-12.7x178", 12.7, 177.8, Kind.STRIP),
    _single("strip-25x216", 25.4, 215.9, Kind.STRIP),
    # Rolls for thermal printers: one label is one page.
    _single("roll-32x32", 31.75, 31.75, Kind.ROLL),
    _single("roll-51x25", 50.8, 25.4, Kind.ROLL),
    _single("roll-51x32", 50.8, 31.75, Kind.ROLL),
    _single("roll-57x32", 57, 32, Kind.ROLL),
    _single("roll-76x51", 76.2, 50.8, Kind.ROLL),
    _single("roll-80x40", 80, 40, Kind.ROLL),
    _single("roll-102x51", 101.6, 50.8, Kind.ROLL),
    _single("roll-102x152", 101.6, 152.4, Kind.ROLL),
    _single("roll-127x127", 127, 127, Kind.ROLL),
)

_BY_NAME = {stock.name: stock for stock in STOCKS}
