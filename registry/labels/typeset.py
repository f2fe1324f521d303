"""Words to rows of type: measured, wrapped and set at a size. Millimetres, sizes in points.

Widths grow with the size, so every word is measured once, at one point.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from registry.domain.names.printing import Run, Style
from registry.errors import NotInFont
from registry.labels import fonts
from registry.labels.fonts import MM_PER_POINT, Face

LEADING = 1.12  # from baseline to baseline, in sizes
ASCENT = 0.80  # from the top of a row to its baseline, in sizes
SMALL_CAPITAL = 0.84  # height of a small capital, in capitals
GAP = 0.25  # between blocks, in sizes of the lower block
STEPS = 16  # from the largest to the smallest sizes


@dataclass(frozen=True, slots=True)
class Text:
    """A stretch of one face; `x` and `baseline` in mm, `size` in points."""

    x: float
    baseline: float
    size: float
    face: Face
    text: str


@dataclass(frozen=True, slots=True)
class Piece:
    """Letters of one face; `scale` is that of small capitals, `width` in mm at one point."""

    text: str
    face: Face
    scale: float
    width: float


@dataclass(frozen=True, slots=True)
class Word:
    """Pieces that are never parted; `width` and the `space` after it in mm at one point."""

    pieces: tuple[Piece, ...]
    width: float
    space: float


@dataclass(frozen=True, slots=True)
class Block:
    """Parts set one after another in rows, at sizes from `largest` to `smallest` points.

    A part that does not fit behind the one before starts a new row; only a part wider than the
    whole column is wrapped between its words. `separator` stands between two parts in one row.
    """

    parts: tuple[tuple[Word, ...], ...]
    largest: float
    smallest: float
    separator: Word | None = None

    def size(self, step: int) -> float:
        """The size at a step from 0, the largest, to STEPS, the smallest."""
        return self.smallest + (self.largest - self.smallest) * (STEPS - step) / STEPS


@dataclass(frozen=True, slots=True)
class Setting:
    """Blocks set one below another; `bottom` in mm; `fits` is False if a word is too wide."""

    texts: tuple[Text, ...]
    bottom: float
    fits: bool


def words(code: str, text: str, face: Face) -> tuple[Word, ...]:
    """The words of plain text.

    Raises:
        NotInFont: a character has no shape; `code` names the label.
    """
    return _joined(code, [(text, face, 1.0)])


def name_words(code: str, runs: Iterable[Run]) -> tuple[Word, ...]:
    """The words of a name in proper form: italic, upright and small capitals.

    Raises:
        NotInFont: a character has no shape; `code` names the label.
    """
    return _joined(code, [_styled(run) for run in runs])


def separator(mark: str) -> Word:
    """A mark that stands between two parts of one row, with a space before it."""
    text = f" {mark}"
    wide, space = fonts.width(text, Face.LINE), fonts.width(" ", Face.LINE)
    return Word((Piece(text, Face.LINE, 1.0, wide),), wide, space)


def set_blocks(blocks: Sequence[Block], step: int, x: float, y: float, width: float) -> Setting:
    """The blocks at one step of their sizes, from `y` downward in a column of `width` mm."""
    texts: list[Text] = []
    fits = True
    for index, block in enumerate(blocks):
        size = block.size(step)
        if index:
            y += GAP * size * MM_PER_POINT
        for row in _rows(block, width / size):
            texts.extend(_row_texts(row, x, y + ASCENT * size * MM_PER_POINT, size))
            y += LEADING * size * MM_PER_POINT
            fits = fits and row_width(row) * size <= width + 1e-6
    return Setting(tuple(texts), y, fits)


def row_width(row: Sequence[Word]) -> float:
    """Millimetres that a row takes at one point."""
    return sum(word.width for word in row) + sum(word.space for word in row[:-1])


def _styled(run: Run) -> tuple[str, Face, float]:
    if run.style is Style.SMALL_CAPS:
        return run.text.upper(), Face.NAME, SMALL_CAPITAL
    text = unicodedata.normalize("NFC", run.text)
    if run.style is Style.ITALIC and fonts.missing(text, Face.NAME_ITALIC) is None:
        return text, Face.NAME_ITALIC, 1.0
    return text, Face.NAME, 1.0  # the italic has no Greek and no Cyrillic, the upright has


def _joined(code: str, styled: Iterable[tuple[str, Face, float]]) -> tuple[Word, ...]:
    """Words across pieces of different type: `×` and what follows it without a space are one.

    So are a genus shortened to its initial and its epithet.
    """
    found: list[list[Piece]] = [[]]
    for text, face, scale in styled:
        normal = unicodedata.normalize("NFC", text)
        for index, part in enumerate(normal.split(" ")):
            if index and _is_initial(found[-1]):
                found[-1].append(_piece(code, normal, " ", face, scale))
            elif index:
                found.append([])
            if part:
                found[-1].append(_piece(code, normal, part, face, scale))
    return tuple(_word(pieces) for pieces in found if pieces)


def _is_initial(pieces: Sequence[Piece]) -> bool:
    text = "".join(piece.text for piece in pieces)
    return len(text) == 2 and text[0].isupper() and text[1] == "."


def _piece(code: str, whole: str, part: str, face: Face, scale: float) -> Piece:
    lacking = fonts.missing(part, face)
    if lacking is not None:
        raise NotInFont(code=code, text=whole.strip(), character=lacking)
    return Piece(part, face, scale, fonts.width(part, face) * scale)


def _word(pieces: Sequence[Piece]) -> Word:
    last = pieces[-1]
    space = fonts.width(" ", last.face) * last.scale
    return Word(tuple(pieces), sum(piece.width for piece in pieces), space)


def _rows(block: Block, width: float) -> Iterator[list[Word]]:
    """Rows no wider than `width` mm at one point, save where a single word is wider."""
    row: list[Word] = []
    for part in block.parts:
        joined = [*_followed(row, block.separator), *part]
        if row and row_width(joined) <= width:
            row = joined
            continue
        if row:
            yield row
            row = []
        for word in part:
            if row and row_width([*row, word]) > width:
                yield row
                row = []
            row = [*row, word]
    if row:
        yield row


def _followed(row: list[Word], separator: Word | None) -> list[Word]:
    """The row with the separator behind its last word."""
    if not row or separator is None:
        return row
    last = row[-1]
    pieces = (*last.pieces, *separator.pieces)
    return [*row[:-1], Word(pieces, last.width + separator.width, separator.space)]


def _row_texts(row: Sequence[Word], x: float, baseline: float, size: float) -> Iterator[Text]:
    """The row as few stretches; a space belongs to the stretch before it."""
    held, face, scale, start = "", Face.LINE, 1.0, x
    for index, word in enumerate(row):
        for piece in word.pieces:
            if held and (piece.face, piece.scale) != (face, scale):
                yield Text(start, baseline, size * scale, face, held)
                held, start = "", x
            held, face, scale = held + piece.text, piece.face, piece.scale
            x += piece.width * size
        if index < len(row) - 1:
            held += " "
            x += word.space * size
    if held:
        yield Text(start, baseline, size * scale, face, held)
