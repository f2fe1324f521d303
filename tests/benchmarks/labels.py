"""Sheets of labels: against the documented use of two libraries, and with the symbols given."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from io import BytesIO

import qrcode
from font_source_sans_pro import font_files_ttf
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from registry.domain.names.printing import Run, Style
from registry.domain.payload import address_payload, plain_payload
from registry.labels.pdf import draw_sheet
from registry.labels.stocks import Stock, find_stock
from registry.labels.symbol import Encoder, Symbol
from registry.labels.text import LabelKind, LabelText
from tests.benchmarks.timing import Ratio, pair

SHEET = "a4-63.5x33.9"  # 24 labels
PLAIN_USE_AIM = 0.33
FLOOR_AIM = 1.5
DPI = 300
DOTS = 4


def measure() -> list[Ratio]:
    """One sheet of 24 labels and ten of them, with either payload."""
    for face in ("SourceSansPro", "SourceSansProSemiboldIt", "SourceSansProBold"):
        pdfmetrics.registerFont(TTFont(face, font_files_ttf[face]))
    stock = find_stock(SHEET)
    rows: list[Ratio] = []
    for payload in ("plain", "address"):
        for count in (24, 240):
            labels = make_labels(count, payload)
            encoder = Encoder()
            symbols = [encoder.encode(label.payload or "") for label in labels]
            rows.append(
                pair(
                    f"{count} labels, {payload} payload",
                    ours(labels, stock),
                    "qrcode and reportlab as documented",
                    plain_use(labels, stock),
                    PLAIN_USE_AIM,
                    rounds=5 if count > 24 else 9,
                )
            )
            rows.append(
                pair(
                    f"{count} labels, {payload} payload",
                    ours(labels, stock),
                    "reportlab with the symbols given",
                    symbols_given(labels, [s for s in symbols if s is not None], stock),
                    FLOOR_AIM,
                    rounds=9 if count > 24 else 21,
                )
            )
    return rows


def make_labels(count: int, payload: str) -> list[LabelText]:
    """Labels of one batch, each with its own code."""
    name = "Hydrangea paniculata ‘Limelight’"
    runs = (Run("Hydrangea paniculata", Style.ITALIC), Run(" ‘Limelight’", Style.UPRIGHT))
    labels = []
    for number in range(1, count + 1):
        code = f"26-0014-{number:03}-{number % 10}"
        text = (
            address_payload("https://pots.example.org", code)
            if payload == "address"
            else plain_payload(code, name, "19-0003-4", ["stuck 14 May 2026"], "26-0014-X")
        )
        lines = ("stuck 14 May 2026", "with the owner’s leave")
        labels.append(LabelText(LabelKind.PLANT, code, runs, "19-0003-4", lines, payload=text))
    return labels


def ours(labels: Sequence[LabelText], stock: Stock) -> Callable[[], object]:
    """The sheet as the program draws it."""

    def run() -> bytes:
        out = BytesIO()
        draw_sheet(labels, stock, out, dpi=DPI)
        return out.getvalue()

    return run


def plain_use(labels: Sequence[LabelText], stock: Stock) -> Callable[[], object]:
    """A symbol as a picture from qrcode's documentation, set on a reportlab canvas."""

    def run() -> bytes:
        out = BytesIO()
        canvas = Canvas(out, pagesize=(stock.page_width * mm, stock.page_height * mm))
        for index, label in enumerate(labels):
            x, y = _cell(canvas, stock, index)
            code = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_M)
            code.add_data(label.payload)
            code.make(fit=True)
            picture = ImageReader(code.make_image().get_image())
            _words(canvas, label, x, y)
            canvas.drawImage(picture, x + 35 * mm, y + 3 * mm, 26 * mm, 26 * mm)
        canvas.save()
        return out.getvalue()

    return run


def symbols_given(
    labels: Sequence[LabelText], symbols: Sequence[Symbol], stock: Stock
) -> Callable[[], object]:
    """The same page with symbols that cost nothing to make: reportlab's own share, as vector."""
    module = DOTS * 72 / DPI
    drawn = [list(symbol.rectangles()) for symbol in symbols]

    def run() -> bytes:
        out = BytesIO()
        canvas = Canvas(out, pagesize=(stock.page_width * mm, stock.page_height * mm))
        for index, (label, rectangles) in enumerate(zip(labels, drawn, strict=True)):
            x, y = _cell(canvas, stock, index)
            _words(canvas, label, x, y)
            path = canvas.beginPath()
            for left, top, width, height in rectangles:
                path.rect(
                    x + 35 * mm + left * module,
                    y + 29 * mm - (top + height) * module,
                    width * module,
                    height * module,
                )
            canvas.drawPath(path, stroke=0, fill=1)
        canvas.save()
        return out.getvalue()

    return run


def _cell(canvas: Canvas, stock: Stock, index: int) -> tuple[float, float]:
    """The lower left corner of a label, on a new page where one is full."""
    cell = index % stock.cells
    if index and cell == 0:
        canvas.showPage()
    left, top = stock.corner(cell + 1)
    return left * mm, (stock.page_height - top - stock.label_height) * mm


def _words(canvas: Canvas, label: LabelText, x: float, y: float) -> None:
    lines = [
        ("SourceSansProSemiboldIt", 11, label.runs[0].text),
        ("SourceSansPro", 11, label.runs[1].text),
        ("SourceSansProBold", 12, label.code),
        ("SourceSansPro", 8, f"from {label.source_code}"),
        *(("SourceSansPro", 8, line) for line in label.lines),
    ]
    for row, (face, size, text) in enumerate(lines):
        canvas.setFont(face, size)
        canvas.drawString(x + 2 * mm, y + 29 * mm - row * 4.2 * mm, text)
