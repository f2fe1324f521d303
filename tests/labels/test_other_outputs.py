"""Labels as ZPL, SVG and PNG: the symbol is the printer's own, or reads back."""

import re
from io import BytesIO
from xml.etree import ElementTree

import numpy
import pytest
import segno
import zxingcpp
from PIL import Image

from registry.domain.names.printing import Run, Style
from registry.errors import BadResolution, DoesNotFit, NoLabels, NoPassportHere, NotOneLabel
from registry.labels.layout import lay_out
from registry.labels.pdf import draw_sheet
from registry.labels.preview import draw_preview
from registry.labels.stocks import find_stock
from registry.labels.svg import draw_svg
from registry.labels.symbol import Encoder
from registry.labels.text import LabelKind
from registry.labels.zpl import draw_zpl, escaped

SVG = "{http://www.w3.org/2000/svg}"
ROLL = find_stock("roll-57x32")


def zpl(labels, stock=ROLL, dpi=203):
    out = BytesIO()
    report = draw_zpl(labels, stock, out, dpi=dpi)
    return out.getvalue().decode("utf-8"), report


def fields(text):
    """Every field: place, command, data with its hexadecimal bytes resolved."""
    found = []
    for x, y, command, data in re.findall(r"\^FO(\d+),(\d+)(\^[^\n]*?)\^FH\^FD([^\n]*)\^FS", text):
        raw = re.sub(r"_([0-9A-F]{2})", lambda hexed: chr(int(hexed[1], 16)), data)
        found.append((int(x), int(y), command, raw.encode("latin-1").decode("utf-8")))
    return found


@pytest.mark.parametrize("payload", ["plain", "address"])
@pytest.mark.parametrize("dpi", [203, 300])
def test_the_symbol_is_the_printers_own_and_says_the_payload(make_label, payload, dpi):
    """^BQ, not a picture (^GF); automatic mode after the level and a comma (^FD of ^BQ)."""
    label = make_label(payload=payload)
    text, report = zpl([label], dpi=dpi)
    assert "^GF" not in text
    assert report.reduced == report.no_symbol == []
    ((x, y, command, data),) = [field for field in fields(text) if "^BQ" in field[2]]
    level, said = data[:3], data[3:]
    assert level in ("MA,", "QA,")
    assert said == label.payload
    magnification = int(command.rsplit(",", 1)[1])
    assert magnification * 25.4 / dpi >= 0.33
    # A second encoder shows that the symbol which the printer makes fits with its quiet zone.
    side = segno.make(said, error=level[0], boost_error=False, micro=False).symbol_size(border=0)[0]
    width, height = round(ROLL.page_width * dpi / 25.4), round(ROLL.page_height * dpi / 25.4)
    assert f"^PW{width}^LL{height}" in text
    assert x + (side + 4) * magnification <= width + magnification
    assert y + (side + 4) * magnification <= height + magnification
    assert min(x, y) >= 4 * magnification - magnification


def test_every_line_of_the_label_is_there_in_utf_8(make_label):
    label = make_label(runs=(Run("Dvořák ×^~_", Style.UPRIGHT),))
    text, _ = zpl([label, make_label(2)])
    assert text.count("^XA^CI28") == text.count("^XZ") == 2
    said = " ".join(data for _, _, _, data in fields(text))
    for part in ("Dvořák ×^~_", label.code, "from 19-0003-4", "26-0014-002-2"):
        assert part in said
    assert text.isascii()


def test_a_stake_is_turned(make_label):
    text, _ = zpl([make_label()], find_stock("stake-16x125"), 300)
    assert "^A0R," in text
    assert "^A0N," not in text
    for x, y, _, _ in fields(text):
        assert x < 16 / 25.4 * 300
        assert y < 125 / 25.4 * 300


def test_a_blank_tags_lines_are_drawn(make_label):
    label = make_label(
        kind=LabelKind.BLANK, runs=(), source_code=None, lines=(), write_on=("name", "from")
    )
    assert zpl([label])[0].count("^GB") == 2


@pytest.mark.parametrize(
    ("count", "stock", "dpi", "error"),
    [
        (1, "plain-a4", 203, NotOneLabel),
        (1, "roll-57x32", 72, BadResolution),
        (0, "roll-57x32", 203, NoLabels),
    ],
)
def test_what_no_thermal_printer_can_do_is_refused(make_label, count, stock, dpi, error):
    with pytest.raises(error):
        zpl([make_label()] * count, find_stock(stock), dpi)


def test_signs_of_commands_are_escaped():
    assert escaped("a^b~c_d\\e\n") == "a_5Eb_7Ec_5Fd_5Ce_0A"


@pytest.mark.parametrize("stock", ["roll-57x32", "plain-a4", "stake-16x125"])
def test_an_svg_is_well_formed_and_its_symbol_is_read_back(make_label, stock):
    label = make_label(payload="address")
    out = BytesIO()
    layout = draw_svg(label, find_stock(stock), out, dpi=300)
    root = ElementTree.fromstring(out.getvalue())  # noqa: S314 - our own file
    assert root.get("width") == f"{layout.width:g}mm"
    words = " ".join(element.text or "" for element in root.iter(f"{SVG}text"))
    assert label.code in words
    (symbol,) = [e for e in root.iter(f"{SVG}path") if e.get("transform")]
    assert layout.spot is not None
    side = layout.spot.symbol.side
    modules = numpy.full((side + 8, side + 8), 255, dtype=numpy.uint8)
    for x, y, width, height in re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)", symbol.get("d") or ""):
        x, y = int(x) + 4, int(y) + 4
        modules[y : y + int(height), x : x + int(width)] = 0
    (read,) = zxingcpp.read_barcodes(numpy.kron(modules, numpy.ones((4, 4), dtype=numpy.uint8)))
    assert read.text == layout.spot.symbol.text


@pytest.fixture
def passport(make_label):
    """An EU plant passport, elements A to C."""
    return make_label(
        kind=LabelKind.PASSPORT,
        payload=None,
        source_code=None,
        lines=("B NL – 123456789", "C 26-0014-X"),
        heading="Plant Passport",
        flag=True,
    )


def test_a_passport_has_its_flag_at_the_upper_left_and_its_title_at_the_right(passport):
    """Regulation (EU) 2016/2031, Annex VII Part A (1): flag upper left, title upper right."""
    layout = lay_out(passport, find_stock("plain-a4"), 300, Encoder())
    field, *stars = layout.shapes
    assert (field.dark, len(stars), {star.dark for star in stars}) == (True, 12, {False})
    right, bottom = (max(values) for values in zip(*field.points, strict=True))
    assert right < layout.width / 2
    assert bottom < layout.height / 2
    assert (right - field.points[0][0]) / (bottom - field.points[0][1]) == pytest.approx(1.5)
    title = next(text for text in layout.texts if text.text == "Plant Passport")
    assert title.x > layout.width / 2 - 10
    assert title.baseline < layout.height / 2
    letters = [text.text[0] for text in layout.texts if text is not title]
    assert [letter for letter in letters if letter in "ABC"][:1] == ["A"]
    assert len(layout.rules) == 4, "set apart by a border"
    assert layout.spot is None


def test_a_passport_is_drawn_whole_or_not_at_all(passport):
    out = BytesIO()
    assert draw_sheet([passport], find_stock("plain-a4"), out).printed == 1
    with pytest.raises(DoesNotFit):
        draw_sheet([passport], find_stock("a4-25.4x10"), BytesIO())
    with pytest.raises(NoPassportHere):
        zpl([passport])
    svg = BytesIO()
    draw_svg(passport, ROLL, svg, dpi=300)
    assert svg.getvalue().count(b"<polygon") == 13


def test_a_preview_is_a_picture_of_the_first_page(make_label):
    sheet, picture = BytesIO(), BytesIO()
    draw_sheet([make_label(n) for n in range(1, 25)], find_stock("plain-a4"), sheet)
    draw_preview(sheet.getvalue(), picture)
    with Image.open(picture) as image:
        assert image.size[0] == pytest.approx(210 / 25.4 * 200, abs=2)
        assert len(zxingcpp.read_barcodes(image)) == 21
