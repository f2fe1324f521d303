"""Labels for thermal printers in ZPL II, an open, published command set; the printer draws.

Text is set in the printer's own scalable font, so names stand upright; the symbol is the printer's
own as well (`^BQ`), with the module size that the layout found room for. Commands are cited from
the published programming guide, from memory.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import BinaryIO

from registry.errors import BadResolution, NoLabels, NoPassportHere, NotOneLabel
from registry.labels import fonts
from registry.labels.fonts import MM_PER_POINT
from registry.labels.layout import Layout, Rule, Spot, lay_out
from registry.labels.pdf import HIGHEST_DPI, LOWEST_DPI, Place, SheetReport
from registry.labels.stocks import Buried, Stock
from registry.labels.symbol import MM_PER_INCH, QUIET, Encoder
from registry.labels.text import LabelKind, LabelText
from registry.labels.typeset import ASCENT, Text

LARGEST_MAGNIFICATION = 10  # ^BQ, parameter c
HAIRLINE = 0.2  # mm


def draw_zpl(labels: Iterable[LabelText], stock: Stock, out: BinaryIO, *, dpi: int) -> SheetReport:
    """Write one format (`^XA` to `^XZ`) for each label.

    Raises:
        NotOneLabel: the stock is a sheet of several.
        NoPassportHere: a plant passport needs its own type and flag.
        BadResolution: `dpi` is out of range.
        NoLabels: there is none.
        LabelProblem: a label cannot be laid out.
    """
    if stock.cells != 1:
        raise NotOneLabel(stock.name, ".zpl")
    if not LOWEST_DPI <= dpi <= HIGHEST_DPI:
        raise BadResolution(dpi, LOWEST_DPI, HIGHEST_DPI)
    report = SheetReport()
    encoder = Encoder(one_segment=True)
    for label in labels:
        if label.kind is LabelKind.PASSPORT:
            raise NoPassportHere
        layout = lay_out(label, stock, dpi, encoder)
        out.write(_Format(stock, layout, dpi).text().encode("utf-8"))
        report.note(label.code, layout)
        report.pages += 1
    if not report.printed:
        raise NoLabels
    return report


class _Format:
    """One label as commands; everything in printer dots from the upper left corner."""

    def __init__(self, stock: Stock, layout: Layout, dpi: int) -> None:
        self.layout = layout
        self.stock = stock
        self.dpi = dpi
        self.place = Place(stock, layout, *stock.corner(1))

    def text(self) -> str:
        """The format: UTF-8 (`^CI28`), page width and label length, then the fields."""
        fields = [
            "^XA^CI28",
            f"^PW{self._dots(self.stock.page_width)}^LL{self._dots(self.stock.page_height)}",
            *(self._line(text) for text in self.layout.texts),
            *(self._rule(rule) for rule in self.layout.rules),
        ]
        if self.layout.spot is not None:
            fields.append(self._symbol(self.layout.spot))
        return "\n".join([*fields, "^XZ", ""])

    def _line(self, text: Text) -> str:
        size = text.size * MM_PER_POINT
        top, width = text.baseline - ASCENT * size, fonts.width(text.text, text.face) * text.size
        x, y = self._corner(text.x, top, width, size)
        turned = {(True, False): "R", (True, True): "B", (False, True): "I"}
        way = turned.get((self.layout.turned, self.stock.buried is Buried.START), "N")
        height = self._dots(size)
        return f"^FO{x},{y}^A0{way},{height},{height}^FH^FD{escaped(text.text)}^FS"

    def _rule(self, rule: Rule) -> str:
        x, y = self._corner(rule.x1, rule.y1, rule.x2 - rule.x1, rule.y2 - rule.y1)
        thick = max(1, self._dots(HAIRLINE))
        ends = self.place.on_page(rule.x1, rule.y1), self.place.on_page(rule.x2, rule.y2)
        width, height = (max(thick, self._dots(abs(a - b))) for a, b in zip(*ends, strict=True))
        return f"^FO{x},{y}^GB{width},{height},{thick}^FS"

    def _symbol(self, spot: Spot) -> str:
        """The printer's own symbol: model 2, module of so many dots, level and automatic mode."""
        x, y = self._corner(spot.x, spot.y, spot.side, spot.side)
        quiet = QUIET * spot.dots
        dots = min(spot.dots, LARGEST_MAGNIFICATION)
        data = f"{spot.symbol.level.name}A,{escaped(spot.symbol.text)}"
        return f"^FO{x + quiet},{y + quiet}^BQN,2,{dots}^FH^FD{data}^FS"

    def _corner(self, x: float, y: float, width: float, height: float) -> tuple[int, int]:
        """The upper left corner of a box as it lies on the page."""
        ends = self.place.on_page(x, y), self.place.on_page(x + width, y + height)
        left, top = (min(pair) for pair in zip(*ends, strict=True))
        return self._dots(left), self._dots(top)

    def _dots(self, mm: float) -> int:
        return round(mm * self.dpi / MM_PER_INCH)


def escaped(text: str) -> str:
    """Field data under `^FH`: what is no plain ASCII, or a command's sign, as hexadecimal bytes.

    >>> escaped("Ficus ‘X’^")
    'Ficus _E2_80_98X_E2_80_99_5E'
    """
    plain = {byte for byte in range(0x20, 0x7F) if chr(byte) not in "^~_\\"}
    return "".join(chr(byte) if byte in plain else f"_{byte:02X}" for byte in text.encode("utf-8"))
