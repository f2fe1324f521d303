"""Text to the dark and light modules of a QR symbol (ISO/IEC 18004:2024).

The codewords come from the `qrcode` library. It draws each of the eight masks module by module,
which takes most of its time; a symbol is the exclusive-or of its placed codewords with a pattern
that depends on version, level and mask alone, so an `Encoder` draws each such pattern once and
scores masks on whole numbers that hold one bit for each module.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from math import ceil

from qrcode import util
from qrcode.main import QRCode

from registry.errors import PayloadTooLong

QUIET = 4  # modules of light on every side, clause 6.3.8
SMALLEST_MODULE = 0.33  # mm, from about 4 dots at 300 dpi
LARGEST_MODULE = 0.76  # mm; larger adds nothing at arm's length (common practice, no source)
MM_PER_INCH = 25.4

_ALPHANUMERIC_RUN = re.compile(r"[0-9A-Z $%*+\-./:]+")
_GAP = 4  # the widest look beyond the edge: the light area beside a finder-like pattern
_SWITCH_AT_END = 6  # characters from which an alphanumeric run at either end saves bits
_SWITCH_INSIDE = 11  # the same, between two byte segments


class Level(IntEnum):
    """Error correction that we print, with the number each has in the format information."""

    M = 0
    Q = 3


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of text and the mode that stores it: `byte` (UTF-8) or `alphanumeric`."""

    text: str
    mode: str

    def data(self) -> util.QRData:
        """The segment as the library takes it."""
        mode = util.MODE_8BIT_BYTE if self.mode == "byte" else util.MODE_ALPHA_NUM
        return util.QRData(self.text.encode(), mode=mode, check_data=False)


@dataclass(frozen=True, slots=True)
class Symbol:
    """A finished symbol; `rows` are its modules as 0 and 1 from the top, without quiet zone."""

    text: str
    version: int
    level: Level
    mask: int
    rows: tuple[str, ...]

    @property
    def side(self) -> int:
        """Modules on one side, without the quiet zone."""
        return len(self.rows)

    def rectangles(self) -> Iterator[tuple[int, int, int, int]]:
        """The dark modules as few rectangles: left, top, width, height in modules.

        Equal runs in rows below each other become one, so that no seam shows between them.
        """
        above: dict[tuple[int, int], int] = {}
        for top, row in enumerate(self.rows):
            runs = [match.span() for match in _DARK.finditer(row)]
            here = {run: above.pop(run, top) for run in runs}
            for (start, end), first in above.items():
                yield start, first, end - start, top - first
            above = here
        for (start, end), first in above.items():
            yield start, first, end - start, self.side - first


_DARK = re.compile("1+")


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Everything of a version and level that does not depend on the text.

    A number holds the module of row r and column c at bit r * (side + _GAP) + c. `cells` has, in
    order of placement, the number of each single bit of the codewords; `trial` and `final` are
    by mask, without and with the format information.
    """

    side: int
    cells: tuple[int, ...]
    trial: tuple[int, ...]
    final: tuple[int, ...]


class Encoder:
    """Makes symbols; keeps what symbols of one size share for as long as it lives.

    `one_segment` never switches the mode inside a text, as a printer that makes the symbol itself
    may not: its symbol is never larger than this one.
    """

    def __init__(self, *, one_segment: bool = False) -> None:
        self._one_segment = one_segment
        self._patterns: dict[tuple[int, Level], _Pattern] = {}
        self._grids: dict[int, _Grid] = {}

    def encode(self, text: str, largest_version: int = 40) -> Symbol | None:
        """The smallest symbol for `text`, at level Q where that costs no size, else M.

        Returns None if it would be larger than `largest_version`.

        Raises:
            PayloadTooLong: no version holds the text.
        """
        segments = split_segments(text)
        if self._one_segment and len(segments) > 1:
            segments = (Segment(text, "byte"),)
        version = smallest_version(segments, Level.M)
        if version is None:
            raise PayloadTooLong(code=text.splitlines()[0], length=len(text.encode()))
        if version > largest_version:
            return None
        fits_q = bits(segments, version) <= util.BIT_LIMIT_TABLE[Level.Q][version]
        return self.draw(text, segments, version, Level.Q if fits_q else Level.M)

    def draw(
        self,
        text: str,
        segments: tuple[Segment, ...],
        version: int,
        level: Level,
        mask: int | None = None,
    ) -> Symbol:
        """The symbol of a given version and level; without `mask`, the one of least penalty."""
        codewords = util.create_data(version, level, [s.data() for s in segments])
        pattern = self._pattern(version, level)
        grid = self._grids.setdefault(version, _Grid(pattern.side))
        placed = 0
        for cell, bit in zip(
            pattern.cells, "".join(f"{word:08b}" for word in codewords), strict=False
        ):
            if bit == "1":
                placed |= cell
        if mask is None:  # clause 7.8.3: all eight are scored, the least penalty is kept
            penalties = [grid.penalty(trial ^ placed) for trial in pattern.trial]
            mask = penalties.index(min(penalties))
        return Symbol(text, version, level, mask, grid.rows(pattern.final[mask] ^ placed))

    def _pattern(self, version: int, level: Level) -> _Pattern:
        key = (version, level)
        if key not in self._patterns:
            self._patterns[key] = _make_pattern(version, level)
        return self._patterns[key]


def split_segments(text: str) -> tuple[Segment, ...]:
    """Byte and alphanumeric segments for `text`, switching only where that saves bits.

    >>> [(s.mode, s.text) for s in split_segments("http://192.168.1.20/P/26-0014-X")]
    [('byte', 'http'), ('alphanumeric', '://192.168.1.20/P/26-0014-X')]
    """
    segments: list[Segment] = []
    done = 0
    for run in _ALPHANUMERIC_RUN.finditer(text):
        start, end = run.span()
        alone = start == 0 and end == len(text)
        at_end = start == 0 or end == len(text)
        needed = 1 if alone else _SWITCH_AT_END if at_end else _SWITCH_INSIDE
        if end - start < needed:
            continue
        if start > done:
            segments.append(Segment(text[done:start], "byte"))
        segments.append(Segment(run[0], "alphanumeric"))
        done = end
    if done < len(text):
        segments.append(Segment(text[done:], "byte"))
    return tuple(segments)


def bits(segments: tuple[Segment, ...], version: int) -> int:
    """How many data bits the segments take in a symbol of `version` (clause 7.4)."""
    total = 0
    for segment in segments:
        if segment.mode == "byte":
            total += 4 + (8 if version < 10 else 16) + 8 * len(segment.text.encode())
        else:
            count = 9 if version < 10 else 11 if version < 27 else 13
            pairs, odd = divmod(len(segment.text), 2)
            total += 4 + count + 11 * pairs + 6 * odd
    return total


def smallest_version(segments: tuple[Segment, ...], level: Level) -> int | None:
    """The smallest version that holds the segments at `level`, or None."""
    limits = util.BIT_LIMIT_TABLE[level]
    return next((v for v in range(1, 41) if bits(segments, v) <= limits[v]), None)


def module_dots(version: int, side: float, dpi: int) -> int:
    """Printer dots per module, so that the symbol and its quiet zone fit into `side` mm.

    A module is a whole number of dots and never below 0.33 mm; 0 means that there is no room.

    >>> module_dots(2, 15.9, 300)  # a stake of 15.9 mm takes version 2 at 5 dots, 0.42 mm
    5
    """
    dot = MM_PER_INCH / dpi
    modules = 17 + 4 * version + 2 * QUIET
    dots = min(int(side / modules / dot + 1e-6), max(int(LARGEST_MODULE / dot), least_dots(dpi)))
    return dots if dots >= least_dots(dpi) else 0


def least_dots(dpi: int) -> int:
    """The fewest printer dots that make a module of 0.33 mm.

    >>> least_dots(203), least_dots(300), least_dots(600)
    (3, 4, 8)
    """
    return ceil(SMALLEST_MODULE * dpi / MM_PER_INCH)


def largest_version(side: float, dpi: int) -> int:
    """The largest version that `side` mm can hold with its quiet zone; 0 for none."""
    return max((v for v in range(1, 41) if module_dots(v, side, dpi)), default=0)


def _make_pattern(version: int, level: Level) -> _Pattern:
    side = 17 + 4 * version
    trial, final = (
        tuple(_drawn(version, level, mask, is_trial) for mask in range(8))
        for is_trial in (True, False)
    )
    return _Pattern(side, _placement(version), trial, final)


def _drawn(version: int, level: Level, mask: int, is_trial: bool) -> int:
    """All modules for no codewords; a trial leaves the format information light (clause 7.8)."""
    code = QRCode(version=version, error_correction=level, mask_pattern=mask)
    code.data_cache = []
    code.makeImpl(is_trial, mask)
    return _number(code.modules)


def _number(modules: list[list[bool]]) -> int:
    stride = len(modules) + _GAP
    return sum(
        1 << r * stride + c for r, row in enumerate(modules) for c, dark in enumerate(row) if dark
    )


def _placement(version: int) -> tuple[int, ...]:
    """Where each bit of the codewords goes: pairs of columns, up and down (clause 7.7.3)."""
    code = QRCode(version=version, mask_pattern=0)
    side = code.modules_count = 17 + 4 * version
    code.modules = [[None] * side for _ in range(side)]
    code.setup_position_probe_pattern(0, 0)
    code.setup_position_probe_pattern(side - 7, 0)
    code.setup_position_probe_pattern(0, side - 7)
    code.setup_position_adjust_pattern()
    code.setup_timing_pattern()
    code.setup_type_info(True, 0)
    if version >= 7:
        code.setup_type_number(True)
    cells = []
    upward = True
    for right in range(side - 1, 0, -2):
        column = right - 1 if right <= 6 else right  # column 6 is the timing pattern
        for row in range(side - 1, -1, -1) if upward else range(side):
            for c in (column, column - 1):
                if code.modules[row][c] is None:
                    cells.append(1 << row * (side + _GAP) + c)
        upward = not upward
    return tuple(cells)


class _Grid:
    """Penalties of clause 7.8.3.1, table 11, on a whole number with one bit for each module.

    Rows stand `_GAP` bits apart, so that no shift carries a module into the next row.
    """

    def __init__(self, side: int) -> None:
        self.side = side
        self.stride = side + _GAP
        row = (1 << side) - 1
        self.all = sum(row << r * self.stride for r in range(side))
        self.pairs = self._columns(side - 1), self._rows(side - 1)
        self.finders = self._columns(side - 6), self._rows(side - 6)

    def _columns(self, count: int) -> int:
        return sum(((1 << count) - 1) << r * self.stride for r in range(self.side))

    def _rows(self, count: int) -> int:
        return sum(((1 << self.side) - 1) << r * self.stride for r in range(count))

    def rows(self, number: int) -> tuple[str, ...]:
        """The modules as rows of 0 and 1."""
        row = (1 << self.side) - 1
        return tuple(
            f"{(number >> r * self.stride) & row:0{self.side}b}"[::-1] for r in range(self.side)
        )

    def penalty(self, dark: int) -> int:
        """The sum of the four features of table 11."""
        light = dark ^ self.all
        total = 0
        same_next = []
        for step, valid, starts in zip((1, self.stride), self.pairs, self.finders, strict=True):
            same = ~(dark ^ (dark >> step)) & valid
            same_next.append(same)
            total += self._runs(same, step)
            total += self._finders(dark, light, step, starts)
        across, down = same_next
        blocks = across & (across >> self.stride) & down
        total += 3 * blocks.bit_count()
        percent = 100 * dark.bit_count() / self.side**2
        return total + 10 * int(abs(percent - 50) / 5)

    @staticmethod
    def _runs(same: int, step: int) -> int:
        """Runs of five and more of one colour: 3 and 1 for each further module."""
        two = same & (same >> step)
        five = two & (two >> 2 * step)
        first = five & ~(five << step)
        return five.bit_count() + 2 * first.bit_count()

    def _finders(self, dark: int, light: int, step: int, starts: int) -> int:
        """1:1:3:1:1 with four light modules on a side: 40; beyond the edge is light."""
        pattern = (
            dark
            & (light >> step)
            & (dark >> 2 * step)
            & (dark >> 3 * step)
            & (dark >> 4 * step)
            & (light >> 5 * step)
            & (dark >> 6 * step)
            & starts
        )
        if not pattern:
            return 0
        before = (dark << step) | (dark << 2 * step)
        before |= before << 2 * step
        after = (dark >> 7 * step) | (dark >> 8 * step)
        after |= after >> 2 * step
        return 40 * (pattern & ~(before & after)).bit_count()
