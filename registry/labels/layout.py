"""A label's text to boxes: pure millimetres, no drawing.

Every kind of label is described in `DESIGNS`. Positions are from the top left corner of the label
as it is read; `Layout.turned` says that it is read with the page on its side (stakes, upright
strips). Type shrinks until all of it fits, never below the smallest size of its design. Where even
that has no room the symbol carries the code alone, then lines are left out from the last and
reported; a name or code without room is refused, never cut off.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import cos, pi, sin

from registry.errors import DoesNotFit, NoRoomForCounts
from registry.labels import fonts
from registry.labels.fonts import MM_PER_POINT, Face
from registry.labels.stocks import Buried, Kind, Stock
from registry.labels.symbol import (
    MM_PER_INCH,
    QUIET,
    Encoder,
    Symbol,
    largest_version,
    least_dots,
    module_dots,
)
from registry.labels.text import LabelKind, LabelText, LotRow, lot_line
from registry.labels.typeset import (
    STEPS,
    Block,
    Setting,
    Text,
    Word,
    name_words,
    row_width,
    separator,
    set_blocks,
    words,
)
from registry.wording.labels import COUNT_COLUMNS, SEPARATOR, from_source

Sizes = tuple[float, float]  # points, largest and smallest


@dataclass(frozen=True, slots=True)
class Design:
    """One kind of label: what stands from top to bottom, and how large.

    `edge` is the clear edge in mm, less on low labels. `symbol` is the largest share of the width
    that the symbol with its quiet zone may take.
    """

    order: tuple[str, ...]
    name: Sizes
    code: Sizes
    lines: Sizes
    heading: Sizes = (14, 7)
    edge: float = 1.6
    symbol: float = 0.42


DESIGNS = {
    LabelKind.PLANT: Design(
        ("name", "code", "lines", "notices"), name=(14, 5), code=(16, 6), lines=(9, 5)
    ),
    LabelKind.SALE: Design(
        ("name", "heading", "code", "lines", "notices"),
        name=(17, 5),
        code=(10, 6),
        lines=(9, 5),
        symbol=0.36,
    ),
    LabelKind.BLANK: Design(("code", "lines"), name=(14, 5), code=(20, 7), lines=(9, 5)),
    LabelKind.HOLD: Design(
        ("heading", "code", "name", "lines", "notices"),
        name=(11, 5),
        code=(14, 6),
        lines=(9, 5),
        heading=(26, 9),
    ),
    LabelKind.PASSPORT: Design(("name", "lines"), name=(11, 6), code=(9, 6), lines=(11, 6)),
    LabelKind.BATCH: Design(
        ("name", "code", "lines", "notices"), name=(14, 6), code=(18, 8), lines=(10, 6), symbol=0.3
    ),
}

BURIED_SHARE = 0.4  # of a stake: its lower third to half is in the soil (common practice)
POINT_SHARE = 0.14  # of a stake: the point itself
REPEAT_SIZE = 8.0  # pt, the code once more at the far end of a stake or strip
ROW_TO_WRITE = 6.0  # mm, the least that a pencil in a cold hand needs
FEWEST_ROWS, GOOD_ROWS, MOST_ROWS = 2, 4, 8
TABLE_HEAD = 3.6  # mm, the words above the ruled room
TABLE_TYPE = 7.0  # pt
FLAG_SHARE, FLAG_HEIGHT = 0.3, 9.0  # of the height inside the border; mm at most
PASSPORT_TITLE = (13.0, 7.0)  # pt, largest and smallest
SMALL_TYPE = 0.6 * STEPS  # from this step a smaller symbol is tried, so that type can grow


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a symbol goes: corner and side in mm with its quiet zone, `dots` for each module."""

    x: float
    y: float
    side: float
    dots: int
    symbol: Symbol


@dataclass(frozen=True, slots=True)
class Rule:
    """A ruled line, in mm."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class Shape:
    """A filled outline in mm, dark or light."""

    points: tuple[tuple[float, float], ...]
    dark: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """One label, laid out; `width` and `height` in mm as it is read.

    `reduced` says that the symbol carries the code alone, `no_symbol` that none had room;
    `left_out` are lines that had none.
    """

    width: float
    height: float
    turned: bool
    texts: tuple[Text, ...]
    spot: Spot | None = None
    rules: tuple[Rule, ...] = ()
    shapes: tuple[Shape, ...] = ()
    reduced: bool = False
    no_symbol: bool = False
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Box:
    x: float
    y: float
    width: float
    height: float

    @property
    def bottom(self) -> float:
        return self.y + self.height


@dataclass(frozen=True, slots=True)
class _Choice:
    """A symbol to try; without one, `side` is 0."""

    symbol: Symbol | None = None
    dots: int = 0
    side: float = 0.0
    reduced: bool = False


@dataclass(frozen=True, slots=True)
class _Fit:
    """Text that fits beside a symbol, at one step of the sizes."""

    choice: _Choice
    step: int
    column: _Box
    setting: Setting
    left_out: tuple[str, ...]


def lay_out(label: LabelText, stock: Stock, dpi: int, encoder: Encoder) -> Layout:
    """Boxes for one label on one cell of `stock`.

    Raises:
        DoesNotFit: name or code have no room.
        NotInFont: a character cannot be printed.
        NoRoomForCounts: a batch card leaves no room to write in.
        PayloadTooLong: no symbol holds the payload.
    """
    frame = _frame(stock)
    design = DESIGNS[label.kind]
    if label.kind is LabelKind.PASSPORT:
        return _passport(label, design, stock, frame)
    if label.kind is LabelKind.BATCH and not _is_long(stock):
        return _card(label, design, stock, frame, dpi, encoder)
    if label.kind is LabelKind.BATCH:  # a stake in a tray has no room for counts
        design = DESIGNS[LabelKind.PLANT]
        label = replace(label, lines=(*label.lines, *map(lot_line, label.lots)))
    edge = _edge(design, frame)
    area, repeats = _printed_area(label, stock, frame, edge)
    fit = _best_fit(label, design, stock, area, edge, _choices(label, design, area, dpi, encoder))
    texts, rules = _room_to_write(label, design, fit)
    return Layout(
        width=frame.width,
        height=frame.height,
        turned=is_turned(stock),
        texts=(*fit.setting.texts, *texts, *repeats),
        spot=_spot(fit.choice, stock, area, (area.height - fit.choice.side) / 2),
        rules=rules,
        reduced=fit.choice.reduced,
        no_symbol=label.payload is not None and fit.choice.symbol is None,
        left_out=fit.left_out,
    )


def is_turned(stock: Stock) -> bool:
    """Whether labels are read with the page on its side: stakes and strips that stand upright."""
    return stock.label_height > stock.label_width and _is_long(stock)


def _is_long(stock: Stock) -> bool:
    return stock.kind in (Kind.STAKE, Kind.STRIP)


def _frame(stock: Stock) -> _Box:
    if is_turned(stock):
        return _Box(0, 0, stock.label_height, stock.label_width)
    return _Box(0, 0, stock.label_width, stock.label_height)


def _edge(design: Design, frame: _Box) -> float:
    return min(design.edge, 0.06 * frame.height)


def _printed_area(
    label: LabelText, stock: Stock, frame: _Box, edge: float
) -> tuple[_Box, tuple[Text, ...]]:
    """The part above the soil, and the code once more at the far end of a stake or strip."""
    length = row_width(words(label.code, label.code, Face.CODE)) * REPEAT_SIZE
    if stock.kind is Kind.STAKE and stock.buried is not Buried.NONE:
        area = _Box(0, 0, frame.width * (1 - BURIED_SHARE), frame.height)
        x = frame.width * (1 - POINT_SHARE) - length
    elif stock.kind is Kind.STRIP and frame.width > 5 * length:
        area = _Box(0, 0, frame.width - length - 4 * edge, frame.height)
        x = frame.width - length - 2 * edge
    else:
        return frame, ()
    if x < area.width:
        return area, ()
    baseline = frame.height / 2 + REPEAT_SIZE * MM_PER_POINT / 3
    return area, (Text(x, baseline, REPEAT_SIZE, Face.CODE, label.code),)


def _choices(
    label: LabelText, design: Design, area: _Box, dpi: int, encoder: Encoder
) -> Iterator[tuple[_Choice, ...]]:
    """What to try in turn: the payload, then the code alone, each large and small; then nothing."""
    room = min(area.height, design.symbol * area.width)
    version = largest_version(room, dpi)
    if label.payload is not None and version:
        for text in dict.fromkeys((label.payload, label.code)):
            symbol = encoder.encode(text, version)
            if symbol is not None:
                most = module_dots(symbol.version, room, dpi)
                yield tuple(
                    _Choice(
                        symbol,
                        dots,
                        (symbol.side + 2 * QUIET) * dots * MM_PER_INCH / dpi,
                        text != label.payload,
                    )
                    for dots in range(most, least_dots(dpi) - 1, -1)
                )
    yield (_Choice(),)


def _best_fit(
    label: LabelText,
    design: Design,
    stock: Stock,
    area: _Box,
    edge: float,
    choices: Iterator[tuple[_Choice, ...]],
) -> _Fit:
    """The first choice beside which all text fits; else the last symbol, with lines left out."""
    *symbols, none = list(choices)
    lines = len(_all_lines(label))
    for sizes in symbols or [none]:
        fits = []
        for choice in sizes:
            fit = _fit(label, design, stock, choice, area, edge, lines)
            if fit is not None:
                fits.append(fit)
                if fit.step < SMALL_TYPE:
                    break
        if fits:
            return min(fits, key=lambda fit: fit.step)
    for sizes in (*symbols[-1:], none):
        for keep in range(lines, -1, -1):
            fit = _fit(label, design, stock, sizes[-1], area, edge, keep)
            if fit is not None:
                return fit
    smallest = min(design.name[1], design.code[1])
    raise DoesNotFit(label.code, _shown(label), stock.name, smallest)


def _fit(
    label: LabelText,
    design: Design,
    stock: Stock,
    choice: _Choice,
    area: _Box,
    edge: float,
    keep: int,
) -> _Fit | None:
    """Name, code and the first `keep` lines beside a symbol, as large as they fit."""
    beside = max(choice.side, edge)
    column = _Box(
        area.x + (beside if _is_long(stock) else edge),
        area.y + edge,
        area.width - beside - edge,
        area.height - 2 * edge,
    )
    height = column.height - (ROW_TO_WRITE if label.write_on else 0)
    blocks = _blocks(label, design, keep)

    def fits(step: int) -> bool:
        setting = set_blocks(blocks, step, 0, 0, column.width)
        return setting.fits and setting.bottom <= height + 1e-6

    step = bisect_left(range(STEPS + 1), True, key=fits)
    if step > STEPS:
        return None
    bottom = set_blocks(blocks, step, 0, 0, column.width).bottom
    top = column.y if label.write_on else column.y + (column.height - bottom) / 2
    setting = set_blocks(blocks, step, column.x, top, column.width)
    return _Fit(choice, step, column, setting, _all_lines(label)[keep:])


def _all_lines(label: LabelText) -> tuple[str, ...]:
    first = (from_source(label.source_code),) if label.source_code else ()
    return (*label.typed, *first, *label.lines)


def _blocks(label: LabelText, design: Design, keep: int) -> list[Block]:
    """The label's text from top to bottom, with the first `keep` of its lines."""
    lines = _all_lines(label)[:keep]
    parts = {
        "name": ([name_words(label.code, label.runs)], design.name),
        "code": ([words(label.code, label.code, Face.CODE)], design.code),
        "heading": ([words(label.code, label.heading, Face.CODE)], design.heading),
        "lines": ([words(label.code, line, Face.LINE) for line in lines], design.lines),
        "notices": ([words(label.code, line, Face.LINE) for line in label.notices], design.lines),
    }
    blocks = []
    for role in design.order:
        found, sizes = parts[role]
        kept = tuple(part for part in found if part)
        if kept:
            blocks.append(Block(kept, *sizes, separator=separator(SEPARATOR)))
    return blocks


def _spot(choice: _Choice, stock: Stock, area: _Box, y: float) -> Spot | None:
    """The symbol: at the end read first on stakes and strips, else at the right."""
    if choice.symbol is None:
        return None
    x = area.x if _is_long(stock) else area.x + area.width - choice.side
    return Spot(x, y, choice.side, choice.dots, choice.symbol)


def _room_to_write(
    label: LabelText, design: Design, fit: _Fit
) -> tuple[tuple[Text, ...], tuple[Rule, ...]]:
    """Ruled lines on a blank tag, each behind its word, as many as the height allows."""
    column, top = fit.column, fit.setting.bottom
    count = min(len(label.write_on), int((column.bottom - top) / ROW_TO_WRITE + 1e-6))
    texts, rules = [], []
    for index, word in enumerate(label.write_on[:count], start=1):
        y = top + index * (column.bottom - top) / count - 0.8
        width = row_width(words(label.code, word, Face.LINE)) * TABLE_TYPE
        texts.append(Text(column.x, y, TABLE_TYPE, Face.LINE, word))
        rules.append(Rule(column.x + width + 1, y, column.x + column.width, y))
    return tuple(texts), tuple(rules)


def _card(
    label: LabelText, design: Design, stock: Stock, frame: _Box, dpi: int, encoder: Encoder
) -> Layout:
    """A batch card: what and when on top, a row for each lot, ruled room to write below."""
    edge = _edge(design, frame)
    width = frame.width - 2 * edge
    blocks = _blocks(label, design, len(_all_lines(label)))
    lots = [_lot_block(label.code, row, design) for row in label.lots]
    top = _Box(0, 0, frame.width, 0.5 * frame.height)
    needed = frame.height
    tries = ((GOOD_ROWS, int(SMALL_TYPE)), (FEWEST_ROWS, STEPS))  # rows, and the smallest step
    for sizes in _choices(label, design, top, dpi, encoder):
        for (rows, last), choice in product(tries, sizes):
            table = TABLE_HEAD + rows * ROW_TO_WRITE
            for step in range(last + 1):
                body, needed = _card_text(blocks, lots, step, choice, frame.width, edge)
                needed += table + edge
                if body.fits and needed <= frame.height:
                    y = needed - table - edge
                    room = _Box(edge, y, width, frame.height - edge - y)
                    texts, rules = _count_table(label.code, room)
                    return Layout(
                        width=frame.width,
                        height=frame.height,
                        turned=is_turned(stock),
                        texts=(*body.texts, *texts),
                        spot=_spot(choice, stock, frame, 0.0),
                        rules=rules,
                        reduced=choice.reduced,
                        no_symbol=label.payload is not None and choice.symbol is None,
                    )
    raise NoRoomForCounts(label.code, stock.name, needed, frame.height)


def _card_text(
    blocks: list[Block],
    lots: list[Block],
    step: int,
    choice: _Choice,
    width: float,
    edge: float,
) -> tuple[Setting, float]:
    """Head and lots at one step, and how far down they and the symbol reach, in mm.

    The lots stand beside the symbol where that is lower, else below it across the card.
    """
    narrow = width - max(choice.side, edge) - edge
    together = set_blocks([*blocks, *lots], step, edge, edge, narrow)
    lowest = max(together.bottom, choice.side)
    head = set_blocks(blocks, step, edge, edge, narrow)
    below = set_blocks(lots, step, edge, max(head.bottom, choice.side) + edge / 2, width - 2 * edge)
    if together.fits and lowest <= below.bottom:
        return together, lowest
    return Setting(
        (*head.texts, *below.texts), below.bottom, head.fits and below.fits
    ), below.bottom


def _lot_block(code: str, row: LotRow, design: Design) -> Block:
    """One lot in a row or two: letter, count, what, from where, and how it was treated."""
    bold = " ".join(part for part in (row.letter, row.count) if part)
    lines = (from_source(row.source) if row.source else "", *row.details)
    parts = [
        words(code, bold, Face.CODE),
        name_words(code, row.runs),
        *(words(code, line, Face.LINE) for line in lines),
    ]
    return Block(tuple(part for part in parts if part), *design.lines, separator(SEPARATOR))


def _count_table(code: str, room: _Box) -> tuple[tuple[Text, ...], tuple[Rule, ...]]:
    """Ruled columns to write counts in by hand, with the words of a look above them."""
    space = room.height - TABLE_HEAD
    count = min(MOST_ROWS, int(space / ROW_TO_WRITE + 1e-6))
    height = space / count
    top = room.y + TABLE_HEAD
    step = room.width / len(COUNT_COLUMNS)
    rules = [
        Rule(room.x, top + row * height, room.x + room.width, top + row * height)
        for row in range(count + 1)
    ]
    rules += [
        Rule(room.x + column * step, top, room.x + column * step, room.bottom)
        for column in range(len(COUNT_COLUMNS) + 1)
    ]
    texts = [
        Text(room.x + column * step + 0.6, top - 0.9, TABLE_TYPE, Face.LINE, word)
        for column, word in enumerate(COUNT_COLUMNS)
    ]
    return tuple(texts), tuple(rules)


def _passport(label: LabelText, design: Design, stock: Stock, frame: _Box) -> Layout:
    """A plant passport: flag upper left, title upper right, elements below, inside a border.

    Regulation (EU) 2016/2031, Annex VII Part A; models in Regulation (EU) 2017/2313. The British
    form has no flag (S.I. 2020/1482). Everything on it is needed, so nothing is left out.
    """
    edge = 1.5 * _edge(design, frame)
    inner = _Box(2 * edge, 2 * edge, frame.width - 4 * edge, frame.height - 4 * edge)
    high = min(FLAG_SHARE * inner.height, FLAG_HEIGHT)
    shapes = _flag(inner.x, inner.y, high) if label.flag else ()
    left = inner.x + (1.5 * high + edge if label.flag else 0)
    room = inner.x + inner.width - left
    titles = [
        Block((words(label.code, row, Face.CODE),), *PASSPORT_TITLE)
        for row in label.heading.splitlines()
    ]
    name = Block((_lettered(label),), *design.name)
    below = [Block((words(label.code, line, Face.LINE),), *design.lines) for line in label.lines]
    for step in range(STEPS + 1):
        head = set_blocks(titles, step, left, inner.y, room)
        top = max(head.bottom, inner.y + high) + edge / 2
        body = set_blocks([name, *below], step, inner.x, top, inner.width)
        if head.fits and body.fits and body.bottom <= inner.bottom + 1e-6:
            return Layout(
                width=frame.width,
                height=frame.height,
                turned=is_turned(stock),
                texts=(*_to_the_right(head.texts, inner.x + inner.width), *body.texts),
                rules=_border(_Box(edge, edge, frame.width - 2 * edge, frame.height - 2 * edge)),
                shapes=shapes,
            )
    raise DoesNotFit(label.code, label.heading, stock.name, design.name[1])


def _lettered(label: LabelText) -> tuple[Word, ...]:
    """Element A: the botanical name behind its letter."""
    return (*words(label.code, "A", Face.LINE), *name_words(label.code, label.runs))


def _to_the_right(texts: tuple[Text, ...], edge: float) -> Iterator[Text]:
    """Rows of one piece each, moved to end at `edge`."""
    for text in texts:
        yield replace(text, x=edge - fonts.width(text.text, text.face) * text.size)


def _border(box: _Box) -> tuple[Rule, ...]:
    right, bottom = box.x + box.width, box.bottom
    return (
        Rule(box.x, box.y, right, box.y),
        Rule(right, box.y, right, bottom),
        Rule(right, bottom, box.x, bottom),
        Rule(box.x, bottom, box.x, box.y),
    )


def _flag(x: float, y: float, height: float) -> tuple[Shape, ...]:
    """The flag of the Union, white stars on black.

    Twelve stars upright on a circle of a third of the height, each in a circle of an eighteenth
    (proportions of the emblem's published description, from memory).
    """
    width = 1.5 * height
    field = Shape(((x, y), (x + width, y), (x + width, y + height), (x, y + height)), dark=True)
    stars = []
    for hour in range(12):
        angle = hour * pi / 6
        centre_x = x + width / 2 + height / 3 * sin(angle)
        centre_y = y + height / 2 - height / 3 * cos(angle)
        stars.append(Shape(tuple(_star(centre_x, centre_y, height / 18)), dark=False))
    return (field, *stars)


def _star(x: float, y: float, radius: float) -> Iterator[tuple[float, float]]:
    inner = radius * 0.381966  # of a five-pointed star: 1 / golden ratio squared
    for corner in range(10):
        reach, angle = (inner if corner % 2 else radius), corner * pi / 5
        yield x + reach * sin(angle), y - reach * cos(angle)


def _shown(label: LabelText) -> str:
    return "".join(run.text for run in label.runs) or label.code
