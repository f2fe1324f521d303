"""A4 paper to draw and write on, in millimetres from its upper left corner."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import BinaryIO

from font_source_sans_pro import font_files_ttf
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

MM_PER_POINT = 25.4 / 72
A4 = (210.0, 297.0)
Point = tuple[float, float]


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

    An epithet in its quotation marks stays together where it fits a line.

    >>> wrapped("one two", PLAIN, 10, 9)
    ['one', 'two']
    >>> wrapped("Malus ‘Long Keeper’", PLAIN, 10, 22)
    ['Malus', '‘Long Keeper’']
    """
    lines = [""]
    for word in _pieces(words, face, size, room):
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


_PIECE = re.compile(r"‘[^’]*’\S*|\S+")


def _pieces(words: str, face: Face, size: float, room: float) -> Iterator[str]:
    for piece in _PIECE.findall(words):
        if text_width(piece, face, size) <= room:
            yield piece
        else:
            yield from piece.split()


class Sheet:
    """A part of a page with its own corner, and smaller or larger if need be; y runs down."""

    def __init__(
        self, canvas: Canvas, height: float, left: float, top: float, scale: float = 1.0
    ) -> None:
        self._canvas = canvas
        self._height, self._left, self._top, self._scale = height, left, top, scale

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return (
            (x * self._scale + self._left) / MM_PER_POINT,
            (self._height - y * self._scale - self._top) / MM_PER_POINT,
        )

    def polygon(self, points: Sequence[Point], *, shade: float, line: float) -> None:
        """A closed outline, filled with a grey; a line of no width is none."""
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        path.close()
        self._canvas.setFillGray(shade)
        self._pen(line, 0.13, dashed=False)
        self._canvas.drawPath(path, stroke=int(line > 0), fill=1)

    def path(self, points: Sequence[Point], *, line: float, dashed: bool) -> None:
        """An open line."""
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        self._pen(line, 0.33, dashed=dashed)
        self._canvas.drawPath(path, stroke=1, fill=0)

    def curve(self, points: Sequence[Point], *, line: float, dashed: bool) -> None:
        """An open line that leaves every point level."""
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for one, other in pairwise(points):
            first, second = bends(one, other)
            path.curveTo(*self._at(*first), *self._at(*second), *self._at(*other))
        self._pen(line, 0.33, dashed=dashed)
        self._canvas.drawPath(path, stroke=1, fill=0)

    def text(self, x: float, y: float, words: str, face: Face, size: float) -> None:
        """Words from a point on their baseline."""
        self._canvas.setFillGray(0)
        self._canvas.setFont(_name(face), size * self._scale)
        self._canvas.drawString(*self._at(x, y), words)

    def _pen(self, line: float, grey: float, *, dashed: bool) -> None:
        self._canvas.setStrokeGray(grey)
        self._canvas.setLineWidth(line * self._scale / MM_PER_POINT)
        self._canvas.setDash([4.5 * self._scale, 3.4 * self._scale] if dashed else [])


def bends(one: Point, other: Point) -> tuple[Point, Point]:
    """The control points of a curve between two points that is level at both."""
    middle = (one[0] + other[0]) / 2
    return (middle, one[1]), (middle, other[1])


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

    def page(self, left: float, top: float, scale: float = 1.0) -> Sheet:
        """The page that is being drawn, with a corner and a scale of one's own."""
        return Sheet(self._canvas, self.height, left, top, scale)

    def end_page(self) -> None:
        """Go on to the next page."""
        self._canvas.showPage()

    def close(self) -> None:
        """Write the file."""
        self._canvas.save()
