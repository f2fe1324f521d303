"""Sheets as a printer and a telephone would have them: rendered, read back, and their text."""

from dataclasses import replace
from io import BytesIO

import cv2
import numpy
import pypdf
import pypdfium2
import pytest
import zxingcpp

from registry.domain.names.printing import Run, Style
from registry.errors import BadResolution, DoesNotFit, NoLabels, NotInFont, StartBeyondSheet
from registry.labels.pdf import draw_sheet, draw_test_page
from registry.labels.stocks import STOCKS, Buried, Kind, find_stock, own_stock
from registry.labels.text import LabelKind


def drawn(labels, stock, **options):
    out = BytesIO()
    report = draw_sheet(labels, stock, out, **options)
    return out.getvalue(), report


def read_back(pdf, dpi):
    found = []
    with pypdfium2.PdfDocument(pdf) as document:
        for page in document:
            picture = page.render(scale=dpi / 72, grayscale=True).to_numpy()
            found += [symbol.text for symbol in zxingcpp.read_barcodes(picture)]
    return found


def page_text(pdf):
    with pypdfium2.PdfDocument(pdf) as document:
        return " ".join(page.get_textpage().get_text_bounded() for page in document)


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("payload", ["address", "plain"])
def test_every_symbol_of_a_sheet_is_read_back(dpi, payload, make_label):
    labels = [make_label(number, payload=payload) for number in range(1, 22)]
    pdf, report = drawn(labels, find_stock("a4-63.5x38.1"), dpi=dpi)
    assert report.reduced == report.no_symbol == []
    assert sorted(read_back(pdf, dpi)) == sorted(label.payload for label in labels)


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize(
    "stock", ["stake-16x125", "a4-25.4x10", "sheet-20x100", "letter-44.5x12.7", "a4-145x17"]
)
def test_the_smallest_symbols_are_read_back(dpi, stock, make_label):
    labels = [make_label(number, source_code=None, lines=()) for number in range(1, 6)]
    pdf, report = drawn(labels, find_stock(stock), dpi=dpi)
    lost = set(report.no_symbol)
    expected = [
        label.code if label.code in report.reduced else label.payload
        for label in labels
        if label.code not in lost
    ]
    assert sorted(read_back(pdf, dpi)) == sorted(expected)


@pytest.mark.parametrize(
    ("name", "dpi"),
    [(stock.name, dpi) for dpi in (203, 300) for stock in STOCKS]
    + [(stock.name, 600) for stock in STOCKS[::5]],  # large pictures, so only some
)
def test_two_readers_read_every_stock(name, dpi, make_label):
    """One label on each stock, rendered at the printer's resolution; the second is OpenCV."""
    stock = find_stock(name)
    single = replace(
        stock,
        page_width=stock.label_width + 4,
        page_height=stock.label_height + 4,
        columns=1,
        rows=1,
        left=2.0,
        top=2.0,
    )
    label = make_label(1)
    pdf, report = drawn([label], single, dpi=dpi)
    if report.no_symbol:
        assert min(stock.label_width, stock.label_height) < 12
        return
    said = label.code if report.reduced else label.payload
    with pypdfium2.PdfDocument(pdf) as document:
        picture = document[0].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()
    (found,) = zxingcpp.read_barcodes(picture)
    assert found.text == said
    assert said in [seen_by_opencv(around(found.position, picture), scale) for scale in (1, 2, 3)]


def around(position, picture):
    """The part of a picture with a symbol and its quiet zone."""
    corners = (position.top_left, position.bottom_right)
    left, right = sorted(corner.x for corner in corners)
    top, bottom = sorted(corner.y for corner in corners)
    edge = (right - left) // 5
    return picture[max(top - edge, 0) : bottom + edge, max(left - edge, 0) : right + edge]


def seen_by_opencv(picture, scale):
    larger = numpy.kron(picture, numpy.ones((scale, scale), dtype=picture.dtype))
    return cv2.QRCodeDetector().detectAndDecode(larger)[0]


def test_module_edges_fall_on_printer_dots(make_label):
    """Rendered at the printer's own resolution there is no grey in a symbol."""
    label = make_label(1, runs=(), source_code=None, lines=())
    whole_dots = own_stock("own", page=(101.6, 101.6), label=(63.5, 38.1), margins=(7.2, 15.15))
    pdf, _ = drawn([label], whole_dots, dpi=300)
    with pypdfium2.PdfDocument(pdf) as document:
        page = document[0].render(scale=300 / 72, grayscale=True).to_numpy()
    (symbol,) = zxingcpp.read_barcodes(page)
    left, top = symbol.position.top_left.x, symbol.position.top_left.y
    right, bottom = symbol.position.bottom_right.x, symbol.position.bottom_right.y
    inside = page[top:bottom, left:right]
    assert set(inside.ravel().tolist()) <= {0, 1, 254, 255}


def test_same_labels_same_bytes(make_label):
    labels = [make_label(number) for number in range(1, 30)]
    stock = find_stock("plain-a4")
    assert drawn(labels, stock)[0] == drawn(labels, stock)[0]


def test_the_text_can_be_copied_out_of_the_file(make_label):
    labels = [make_label(number) for number in range(4)]
    pdf, _ = drawn(labels, find_stock("a4-63.5x38.1"))
    for text in (page_text(pdf), pypdf.PdfReader(BytesIO(pdf)).pages[0].extract_text()):
        together = " ".join(text.split())
        for label in labels:
            assert label.code in together
            for run in label.runs:
                assert all(word in together for word in run.text.split())
        assert "with the owner’s leave" in together


def test_pages_start_cell_and_progress(make_label):
    counts: list[int] = []
    labels = [make_label(number) for number in range(1, 27)]
    pdf, report = drawn(labels, find_stock("plain-a4"), start=20, progress=counts.append)
    assert report.printed == 26
    assert report.pages == 3
    assert counts == [2, 23, 26]
    pages = pypdf.PdfReader(BytesIO(pdf)).pages
    assert len(pages) == 3
    assert "26-0014-002-2" in pages[0].extract_text()
    assert "26-0014-003-3" not in pages[0].extract_text()


def test_a_viewer_is_told_to_print_at_full_size(make_label):
    pdf, _ = drawn([make_label()], find_stock("letter-66.7x25.4"))
    reader = pypdf.PdfReader(BytesIO(pdf), strict=True)
    assert "'/PrintScaling': '/None'" in str(reader.root_object["/ViewerPreferences"])
    box = reader.pages[0].mediabox
    assert [float(box.width), float(box.height)] == pytest.approx([612, 792], abs=0.01)
    assert reader.metadata is not None
    assert reader.metadata.title == "Labels"


def test_labels_are_not_gathered_before_they_are_drawn(make_label):
    """Each page is written before the next is asked for, so memory does not grow."""
    out = BytesIO()
    seen = []

    def labels():
        for number in range(1, 100):
            seen.append(out.tell())
            yield make_label(number % 999)

    draw_sheet(labels(), find_stock("plain-a4"), out)
    assert seen[30] > seen[0]
    assert seen[90] > seen[30]


@pytest.mark.parametrize("buried", [Buried.START, Buried.END])
@pytest.mark.parametrize("size", [(16, 125), (125, 16)])
def test_a_stake_is_printed_at_the_end_out_of_the_soil(buried, size, make_label):
    stock = own_stock("my-stake", page=size, label=size, kind=Kind.STAKE, buried=buried)
    label = make_label(1)
    pdf, _ = drawn([label], stock)
    with pypdfium2.PdfDocument(pdf) as document:
        picture = document[0].render(scale=300 / 72, grayscale=True).to_numpy()
    (symbol,) = zxingcpp.read_barcodes(picture)
    assert symbol.text == label.payload
    middle = symbol.position.top_left.y if size[1] > size[0] else symbol.position.top_left.x
    length = max(picture.shape)
    assert (middle < length / 2) == (buried is Buried.END)
    assert label.code in page_text(pdf)


def test_what_a_stock_is_too_small_for_is_reported(make_label):
    labels = [make_label(number, payload="plain") for number in (1, 2)]
    _, report = drawn(labels, find_stock("letter-44.5x12.7"))
    assert report.reduced == ["26-0014-001-1", "26-0014-002-2"]
    _, report = drawn([make_label(3)], find_stock("a4-25.4x10"), dpi=203)
    assert report.no_symbol == ["26-0014-003-3"]
    assert report.left_out[0][0] == "26-0014-003-3"


def test_one_bad_label_stops_the_sheet_or_is_left_out(make_label):
    bad = make_label(2, runs=(Run("牡丹", Style.UPRIGHT),))
    labels = [make_label(1), bad, make_label(3)]
    with pytest.raises(NotInFont):
        drawn(labels, find_stock("plain-a4"))
    pdf, report = drawn(labels, find_stock("plain-a4"), skip_problems=True)
    assert report.printed == 2
    assert [problem.code for problem in report.problems] == ["26-0014-002-2"]
    assert bad.code not in page_text(pdf)
    with pytest.raises(NotInFont):
        drawn([bad], find_stock("plain-a4"), skip_problems=True)


@pytest.mark.parametrize(
    ("count", "options", "error"),
    [
        (0, {}, NoLabels),
        (1, {"start": 22}, StartBeyondSheet),
        (1, {"start": 0}, StartBeyondSheet),
        (1, {"dpi": 72}, BadResolution),
        (1, {"dpi": 0}, BadResolution),
        (1, {"dpi": 100_000}, BadResolution),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_before_anything_is_drawn(
    count, options, error, make_label
):
    with pytest.raises(error):
        drawn([make_label()] * count, find_stock("plain-a4"), **options)


def test_a_name_too_long_names_the_label(make_label):
    runs = (Run("x" * 300, Style.UPRIGHT),)
    with pytest.raises(DoesNotFit, match="26-0014-001-1"):
        drawn([make_label(1, runs=runs)], find_stock("plain-a4"))


def test_every_kind_of_label_is_drawn(make_label, make_card):
    labels = [
        make_label(1),
        make_label(2, kind=LabelKind.SALE, heading="£6.50"),
        make_label(3, kind=LabelKind.HOLD, heading="HOLD"),
        make_label(4, kind=LabelKind.BLANK, runs=(), source_code=None, write_on=("name",)),
        make_card(2),
    ]
    pdf, report = drawn(labels, find_stock("plain-a4-95x67"))
    assert report.printed == 5
    assert len(read_back(pdf, 300)) == 5
    assert "£6.50" in page_text(pdf)


@pytest.mark.parametrize("name", ["a4-63.5x38.1", "roll-57x32", "stake-16x125"])
def test_a_test_page_shows_every_cell_and_its_stock(name):
    out = BytesIO()
    stock = find_stock(name)
    draw_test_page(stock, out)
    page = pypdf.PdfReader(BytesIO(out.getvalue()), strict=True).pages[0]
    content = page.get_contents()
    assert content is not None
    assert content.get_data().count(b" re") == stock.cells
    assert name in page.extract_text()
