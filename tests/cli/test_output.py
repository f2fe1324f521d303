"""Tables on a terminal: they fit it, and nothing is cut off."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.cli.output import NARROWEST, in_ranges, table

WORDS = st.lists(st.text("abcdeß株", min_size=1, max_size=9), max_size=8).map(" ".join)


@pytest.fixture
def columns(monkeypatch):
    """Sets how wide the terminal is."""
    return lambda number: monkeypatch.setenv("COLUMNS", str(number))


def test_the_widest_column_gives_way_and_codes_stay_whole(columns):
    columns(60)
    lines = table(
        ["code", "where", "name"],
        [["26-0029-001-3", "given 14 September 2025 to Tom Birch", "Hydrangea macrophylla"]],
    )
    assert lines == [
        "code           where               name",
        "26-0029-001-3  given 14 September  Hydrangea macrophylla",
        "               2025 to Tom Birch",
    ]


def test_in_a_file_every_row_is_a_line(monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    program = (
        "from registry.cli.output import table; print(*table(['a'], [['long ' * 99]]), sep='|')"
    )
    said = subprocess.run(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, text=True, check=True
    )
    assert said.stdout.count("|") == 1


def test_a_column_that_holds_nothing_is_left_out(columns):
    columns(80)
    assert table(["code", "place", "name"], [["a", None, "fig"], ["b", "", "ivy"]]) == [
        "code  name", "a     fig", "b     ivy",
    ]  # fmt: skip
    assert table(["code"], []) == []


@given(st.lists(st.tuples(WORDS, WORDS, WORDS), min_size=1, max_size=4))
def test_no_word_is_lost_and_what_can_fit_fits(rows):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "80")
        lines = table(["one", "two", "three"], rows)
    assert sorted("".join(lines[1:]).replace(" ", "")) == sorted(
        "".join("".join(row) for row in rows).replace(" ", "")
    )
    assert 3 * max(NARROWEST, 18) + 4 <= 80, "three columns of the longest words fit"
    assert all(len(line) <= 80 for line in lines)


@pytest.mark.parametrize(
    ("codes", "line"),
    [
        ([], ""),
        (["26-0002-001-3", "26-0002-002-1"], "26-0002-001-3, 26-0002-002-1"),
        (["26-0002-009-9", "26-0002-010-1", "26-0002-011-X"], "26-0002-009-9 to 26-0002-011-X"),
        (["26-0002-001-3", "26-0003-002-7"], "26-0002-001-3, 26-0003-002-7"),
        (["26-0002-7", "26-0003-5", "26-0004-3"], "26-0002-7, 26-0003-5, 26-0004-3"),
        (["26-0002A-1", "26-0002B-X"], "26-0002A-1, 26-0002B-X"),
    ],
)
def test_plants_in_a_row_are_said_as_first_and_last_and_batches_never(codes, line):
    assert in_ranges(codes) == line
