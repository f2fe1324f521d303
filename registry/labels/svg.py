"""One label as SVG 1.1, in millimetres, as it is read: for a web page or another program."""

from __future__ import annotations

from typing import BinaryIO
from xml.sax.saxutils import escape  # nosec B406

from registry.labels import fonts
from registry.labels.fonts import MM_PER_POINT, Face
from registry.labels.layout import Layout, Spot, lay_out
from registry.labels.stocks import Stock
from registry.labels.symbol import QUIET, Encoder
from registry.labels.text import LabelText
from registry.labels.typeset import Text

_WEIGHTS = {Face.LINE: 400, Face.NAME: 600, Face.NAME_ITALIC: 600, Face.CODE: 700}
_FAMILY = "Source Sans Pro, Source Sans 3, sans-serif"


def draw_svg(label: LabelText, stock: Stock, out: BinaryIO, *, dpi: int) -> Layout:
    """Write one label; text is given its measured width, so that another font takes no more room.

    Raises:
        LabelProblem: the label cannot be laid out.
    """
    layout = lay_out(label, stock, dpi, Encoder())
    size = f"{layout.width:g} {layout.height:g}"
    width, height = size.split()
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {size}" font-family="{_FAMILY}">',
        f'<rect width="{width}" height="{height}" fill="#fff"/>',
        *(
            '<polygon fill="#{}" points="{}"/>'.format(
                "000" if shape.dark else "fff",
                " ".join(f"{x:.3f},{y:.3f}" for x, y in shape.points),
            )
            for shape in layout.shapes
        ),
        *(_text(text) for text in layout.texts),
        *(
            f'<path d="M{rule.x1:.3f} {rule.y1:.3f}L{rule.x2:.3f} {rule.y2:.3f}" '
            'stroke="#000" stroke-width="0.14"/>'
            for rule in layout.rules
        ),
    ]
    if layout.spot is not None:
        parts.append(_symbol(layout.spot))
    out.write("\n".join([*parts, "</svg>", ""]).encode("utf-8"))
    return layout


def _text(text: Text) -> str:
    size = text.size * MM_PER_POINT
    width = fonts.width(text.text.rstrip(), text.face) * text.size
    slant = ' font-style="italic"' if text.face is Face.NAME_ITALIC else ""
    return (
        f'<text x="{text.x:.3f}" y="{text.baseline:.3f}" font-size="{size:.3f}" '
        f'font-weight="{_WEIGHTS[text.face]}"{slant} textLength="{width:.3f}" '
        f'lengthAdjust="spacingAndGlyphs">{escape(text.text.rstrip())}</text>'
    )


def _symbol(spot: Spot) -> str:
    """The dark modules as one path, in units of one module."""
    module = spot.side / (spot.symbol.side + 2 * QUIET)
    path = "".join(
        f"M{x} {y}h{width}v{height}h-{width}z" for x, y, width, height in spot.symbol.rectangles()
    )
    left, top = spot.x + QUIET * module, spot.y + QUIET * module
    return (
        f'<path transform="translate({left:.4f} {top:.4f}) scale({module:.5f})" '
        f'shape-rendering="crispEdges" d="{path}"/>'
    )
