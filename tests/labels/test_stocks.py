import pytest

from registry.errors import (
    BadMeasure,
    BadStockName,
    LabelsOverlap,
    StartBeyondSheet,
    StockTooBig,
    UnknownStock,
)
from registry.labels.stocks import Buried, Kind, all_stocks, find_stock, own_stock


@pytest.mark.parametrize("stock", all_stocks(), ids=lambda stock: stock.name)
def test_labels_lie_on_their_page_and_not_on_each_other(stock):
    left, top = stock.corner(stock.cells)
    assert left + stock.label_width <= stock.page_width + 0.06  # makers round to 0.1 mm
    assert top + stock.label_height <= stock.page_height + 0.06
    assert stock.columns == 1 or stock.pitch_x >= stock.label_width
    assert stock.rows == 1 or stock.pitch_y >= stock.label_height


def test_names_are_dimensions_and_unique():
    names = [stock.name for stock in all_stocks()]
    assert len(set(names)) == len(names) >= 30
    for stock in all_stocks():
        if stock.name in ("plain-a4", "plain-letter"):
            continue
        across, _, down = stock.name.rpartition("-")[2].partition("x")
        assert float(across) == pytest.approx(stock.label_width, abs=0.5)
        assert float(down) == pytest.approx(stock.label_height, abs=0.5)


# Grids as read from an open-source label-layout project's templates.
@pytest.mark.parametrize(
    ("name", "cells", "last_corner"),
    [
        ("a4-63.5x38.1", 21, (139.28, 243.75)),
        ("a4-25.4x10", 189, (176.14, 273.5)),
        ("letter-66.7x25.4", 30, (144.46, 241.3)),
        ("sheet-20x100", 20, (185, 135)),
    ],
)
def test_published_grids(name, cells, last_corner):
    stock = find_stock(name)
    assert stock.cells == cells
    assert stock.corner(cells) == pytest.approx(last_corner)


def test_stakes_say_which_end_is_buried():
    for stock in all_stocks():
        assert (stock.buried is not Buried.NONE) == (stock.kind is Kind.STAKE)


def test_an_unknown_stock_offers_names_like_it():
    with pytest.raises(UnknownStock) as caught:
        find_stock("a4-63x38")
    assert "a4-63.5x38.1" in caught.value.near


def test_nudged_by_tenths_of_a_millimetre():
    moved = find_stock("a4-70x37").nudged(0.3, -0.1)
    assert moved.corner(1) == pytest.approx((0.3, 0.4))


@pytest.mark.parametrize("by", [0.05, 10.1, -11, float("nan"), float("inf")])
def test_a_nudge_out_of_range_is_refused(by):
    with pytest.raises(BadMeasure):
        find_stock("plain-a4").nudged(by)


@pytest.mark.parametrize("start", [0, -1, 22])
def test_a_start_beyond_the_sheet_is_refused(start):
    with pytest.raises(StartBeyondSheet) as caught:
        find_stock("a4-63.5x38.1").check_start(start)
    assert caught.value.cells == 21


def test_own_stock_from_numbers():
    stock = own_stock(
        "bench-50x30", page=(210, 297), label=(50, 30), grid=(4, 9), margins=(2, 5), pitch=(52, 31)
    )
    assert stock.corner(6) == (54, 36)


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"label": (211, 30)}, StockTooBig),
        ({"grid": (5, 1)}, StockTooBig),
        ({"grid": (1, 10)}, StockTooBig),
        ({"margins": (161, 0)}, StockTooBig),
        ({"grid": (2, 1), "pitch": (40, 30)}, LabelsOverlap),
        ({"label": (0, 30)}, BadMeasure),
        ({"label": (-50, 30)}, BadMeasure),
        ({"label": (float("nan"), 30)}, BadMeasure),
        ({"page": (210, 5000)}, BadMeasure),
        ({"grid": (0, 1)}, BadMeasure),
        ({"margins": (-1, 0)}, BadMeasure),
        ({"name": "Bench 1"}, BadStockName),
        ({"name": "plain-a4"}, BadStockName),
    ],
)
def test_own_stock_that_cannot_be_is_refused(change, error):
    numbers = {"name": "own", "page": (210, 297), "label": (50, 30)} | change
    with pytest.raises(error):
        own_stock(numbers.pop("name"), **numbers)
