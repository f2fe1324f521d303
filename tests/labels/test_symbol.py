"""Symbols against the tables of ISO/IEC 18004 and against segno, a second encoder."""

import random
from typing import Any

import pytest
from segno import consts, make_qr
from segno.encoder import mask_scores

from registry.errors import PayloadTooLong
from registry.labels.symbol import (
    QUIET,
    Encoder,
    Level,
    Segment,
    least_dots,
    module_dots,
    smallest_version,
    split_segments,
)

# ISO/IEC 18004:2024 table 7: characters that versions 1 to 6 hold at levels M and Q.
CAPACITY = [
    (1, 20, 16, 14, 11),
    (2, 38, 29, 26, 20),
    (3, 61, 47, 42, 32),
    (4, 90, 67, 62, 46),
    (5, 122, 87, 84, 60),
    (6, 154, 108, 106, 74),
]


def payloads(count):
    chosen = random.Random(18004)  # noqa: S311 -- a fixed sample, no secret
    for _ in range(count):
        number, plant = chosen.randrange(10_000), chosen.randrange(1000)
        code = f"26-{number:04}-{plant:03}-{chosen.choice('0123456789X')}"
        yield chosen.choice(
            [
                code,
                f"https://POTS.EXAMPLE.ORG/P/{code}",
                f"http://192.168.1.20:8000/P/{code}",
                f"{code}\nRosa 'Zéphirine Drouhin'\nfrom 19-{number:04}-4\nstuck May 2026",
            ]
        )


def encoded(text, encoder=None):
    symbol = (encoder or Encoder()).encode(text)
    assert symbol is not None
    return symbol


def reference(segments, symbol, mask=None):
    parts: Any = [  # segno's hints know no segments
        (part.text, consts.MODE_BYTE, "utf-8")
        if part.mode == "byte"
        else (part.text, consts.MODE_ALPHANUMERIC)
        for part in segments
    ]
    return make_qr(  # its hints know no segments
        parts, version=symbol.version, error=symbol.level.name, mask=mask, boost_error=False
    )


@pytest.mark.parametrize(("version", "alnum_m", "alnum_q", "byte_m", "byte_q"), CAPACITY)
def test_capacity_is_that_of_table_7(version, alnum_m, alnum_q, byte_m, byte_q):
    for mode, level, holds in [
        ("alphanumeric", Level.M, alnum_m),
        ("alphanumeric", Level.Q, alnum_q),
        ("byte", Level.M, byte_m),
        ("byte", Level.Q, byte_q),
    ]:
        assert smallest_version((Segment("A" * holds, mode),), level) == version
        assert smallest_version((Segment("A" * (holds + 1), mode),), level) == version + 1


def test_modules_are_those_of_a_second_encoder():
    encoder = Encoder()
    for text in payloads(60):
        symbol = encoded(text, encoder)
        matrix = reference(split_segments(text), symbol, symbol.mask).matrix
        assert symbol.rows == tuple("".join(map(str, row)) for row in matrix)


@pytest.mark.parametrize("version", [1, 2, 6, 7, 10, 14, 27, 40])
def test_every_size_is_that_of_a_second_encoder(version):
    """Version 7 brings the version information, 14 a third row of alignment patterns.

    Twelve characters, because segno pads by a byte too many where the data end at a codeword.
    """
    segments = (Segment("A" * 12, "alphanumeric"),)
    symbol = Encoder().draw("A" * 12, segments, version, Level.M, mask=3)
    matrix = reference(segments, symbol, mask=3).matrix
    assert symbol.rows == tuple("".join(map(str, row)) for row in matrix)


def test_the_mask_is_that_of_a_second_encoder():
    """Save where two finder-like patterns overlap, which segno counts as one."""
    encoder = Encoder()
    texts = list(payloads(60))
    same = 0
    for text in texts:
        symbol = encoded(text, encoder)
        same += reference(split_segments(text), symbol).mask == symbol.mask
    assert same >= 0.95 * len(texts)


def test_penalties_are_those_of_a_second_encoder():
    encoder = Encoder()
    symbol = encoded("https://POTS.EXAMPLE.ORG/P/26-0014-007-X", encoder)
    grid = encoder._grids[symbol.version]  # the scoring alone, on a finished symbol
    number = sum(
        1 << (r * grid.stride + c)
        for r, row in enumerate(symbol.rows)
        for c, dark in enumerate(row)
        if dark == "1"
    )
    matrix = tuple(bytearray(int(dark) for dark in row) for row in symbol.rows)
    assert grid.penalty(number) == sum(mask_scores(matrix, symbol.side, symbol.side))


def test_the_scheme_alone_is_a_byte_segment():
    """Same version as all upper case (computed with segno): 2 for an address of this length."""
    text = "http://192.168.1.20:8000/P/7KX4M"
    assert [part.mode for part in split_segments(text)] == ["byte", "alphanumeric"]
    assert encoded(text).version == 2


def test_level_q_where_it_costs_no_size():
    assert encoded("A" * 16).level is Level.Q
    assert encoded("A" * 17).level is Level.M
    assert encoded("A" * 17).version == 1


def test_too_large_for_the_room_is_none_and_for_any_symbol_an_error():
    encoder = Encoder()
    assert encoder.encode("A" * 50, largest_version=2) is None
    with pytest.raises(PayloadTooLong):
        encoder.encode("a" * 3000)


def test_rectangles_cover_the_dark_modules_once():
    symbol = encoded("https://POTS.EXAMPLE.ORG/P/26-0014-007-X")
    covered = [
        (left + x, top + y)
        for left, top, width, height in symbol.rectangles()
        for x in range(width)
        for y in range(height)
    ]
    dark = {(x, y) for y, row in enumerate(symbol.rows) for x, bit in enumerate(row) if bit == "1"}
    assert len(covered) == len(dark)
    assert set(covered) == dark


# Sides with quiet zone in mm, computed from 17 + 4 x version + 8 modules; 300 dpi.
@pytest.mark.parametrize(
    ("version", "side", "dpi", "dots"),
    [
        (2, 15.9, 300, 5),
        (1, 12.7, 300, 5),
        (2, 12.7, 300, 4),
        (3, 25.4, 300, 8),
        (1, 9.0, 300, 0),
        (1, 14.5, 203, 3),
        (1, 14.6, 203, 4),
        (1, 100, 300, 8),
    ],
)
def test_a_module_is_whole_dots(version, side, dpi, dots):
    assert module_dots(version, side, dpi) == dots


@pytest.mark.parametrize("dpi", [150, 180, 203, 300, 360, 600, 1200, 2400])
def test_a_module_is_never_below_a_third_of_a_millimetre(dpi):
    assert least_dots(dpi) * 25.4 / dpi >= 0.33
    for side in range(8, 60):
        dots = module_dots(1, side, dpi)
        assert dots == 0 or dots >= least_dots(dpi)
        assert (21 + 2 * QUIET) * dots * 25.4 / dpi <= side + 1e-6
