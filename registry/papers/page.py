"""A4 paper to draw and write on, in millimetres from its upper left corner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import BinaryIO

from font_source_sans_pro import font_files_ttf
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

MM_PER_POINT = 25.4 / 72
A4 = (210.0, 297.0)


@dataclass(frozen=True, slots=True)
class Face:
    """A font by the key that its package gives it, and the weight that CSS calls it by."""

    key: str
    weight: str


PLAIN = Face("SourceSansPro", "400")
SEMIBOLD = Face("SourceSansProSemibold", "600")
BOLD = Face("SourceSansProBold", "700")


@cache
def _name(face: Face) -> str:
    """The font's name in reportlab, registered when it is first asked for."""
    pdfmetrics.registerFont(TTFont(face.key, font_files_ttf[face.key]))
    return face.key


def text_width(words: str, face: Face, size: float) -> float:
    """Millimetres that words take at a size in points."""
    return float(pdfmetrics.stringWidth(words, _name(face), size)) * MM_PER_POINT


def wrapped(words: str, face: Face, size: float, room: float) -> list[str]:
    """Words in lines of at most `room` millimetres; a word that is too long is broken.

    >>> wrapped("one two", PLAIN, 10, 9)
    ['one', 'two']
    """
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if text_width(longer, face, size) <= room:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        while text_width(word, face, size) > room and len(word) > 1:
            fits = next(
                n
                for n in range(len(word) - 1, 0, -1)
                if n == 1 or text_width(word[:n], face, size) <= room
            )
            lines[-1] = word[:fits]
            lines.append("")
            word = word[fits:]
        lines[-1] = word
    return lines


class Sheet:
    """A part of a page with its own corner; y runs down."""

    def __init__(self, canvas: Canvas, height: float, left: float, top: float) -> None:
        self._canvas = canvas
        self._height, self._left, self._top = height, left, top

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return (
            (x + self._left) / MM_PER_POINT,
            (self._height - y - self._top) / MM_PER_POINT,
        )

    def polygon(self, points: Sequence[tuple[float, float]], *, shade: float, line: float) -> None:
        """A closed outline, filled with a grey."""
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        path.close()
        self._canvas.setFillGray(shade)
        self._canvas.setStrokeGray(0.13)
        self._canvas.setLineWidth(line / MM_PER_POINT)
        self._canvas.setDash()
        self._canvas.drawPath(path, stroke=1, fill=1)

    def path(self, points: Sequence[tuple[float, float]], *, line: float, dashed: bool) -> None:
        """An open line."""
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        self._canvas.setStrokeGray(0.33)
        self._canvas.setLineWidth(line / MM_PER_POINT)
        self._canvas.setDash([4.5, 3.4] if dashed else [])
        self._canvas.drawPath(path, stroke=1, fill=0)

    def text(self, x: float, y: float, words: str, face: Face, size: float) -> None:
        """Words from a point on their baseline."""
        self._canvas.setFillGray(0)
        self._canvas.setFont(_name(face), size)
        self._canvas.drawString(*self._at(x, y), words)


class Paper:
    """A PDF of A4 pages, written to `out` when it is closed."""

    def __init__(self, out: BinaryIO, *, across: bool, title: str) -> None:
        self.width, self.height = (A4[1], A4[0]) if across else A4
        self._canvas = Canvas(
            out,
            pagesize=(self.width / MM_PER_POINT, self.height / MM_PER_POINT),
            invariant=1,
            pageCompression=1,
        )
        self._canvas.setTitle(title)

    def page(self, left: float, top: float) -> Sheet:
        """The page that is being drawn, with a corner of one's own."""
        return Sheet(self._canvas, self.height, left, top)

    def end_page(self) -> None:
        """Go on to the next page."""
        self._canvas.showPage()

    def close(self) -> None:
        """Write the file."""
        self._canvas.save()
