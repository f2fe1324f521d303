"""The faces that labels are set in: Source Sans Pro, with × and Latin Extended.

reportlab reads the font files and makes the subsets that are embedded.
"""

from __future__ import annotations

from enum import Enum
from functools import cache

from font_source_sans_pro import font_files_ttf
from reportlab.pdfbase.ttfonts import TTFontFile

MM_PER_POINT = 25.4 / 72


class Face(Enum):
    """One font file, by the key that its package gives it."""

    LINE = "SourceSansPro"
    NAME = "SourceSansProSemibold"
    NAME_ITALIC = "SourceSansProSemiboldIt"
    CODE = "SourceSansProBold"


@cache
def font_file(face: Face) -> TTFontFile:
    """The parsed font; a font never changes, so it is read once."""
    return TTFontFile(font_files_ttf[face.value])


@cache
def _widths(face: Face) -> dict[str, float]:
    widths = font_file(face).charWidths
    return {chr(code): widths[code] * MM_PER_POINT / 1000 for code in font_file(face).charToGlyph}


def width(text: str, face: Face) -> float:
    """Millimetres that `text` takes at a size of one point.

    Raises:
        KeyError: the face lacks a character; ask `missing` first.
    """
    widths = _widths(face)
    return sum([widths[character] for character in text])


def missing(text: str, face: Face) -> str | None:
    """The first character that the face has no shape for, or None."""
    widths = _widths(face)
    return next((character for character in text if character not in widths), None)
