"""What no text may hold, and numbers within what a registry can hold."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.domain.numbers import LARGEST, whole
from registry.domain.signs import INSTEAD, shown, unfit
from registry.errors import SignUnfit
from registry.wording import problem


@pytest.mark.parametrize(
    "sign",
    [
        "\x00",
        "\x07",
        "\x1b",
        "\r",
        "\x7f",
        "\x9b",
        "\u2028",
        "\u202e",
        "\u2066",
        "\ud800",
        "\uffff",
    ],
)
def test_a_sign_that_steers_instead_of_being_read_is_unfit(sign):
    text = f"red{sign}rose"
    assert unfit(text) == sign
    assert shown(text) == f"red{INSTEAD}rose"
    said = problem(SignUnfit(text, sign))
    assert f"U+{ord(sign):04X}" in said
    assert sign not in said


@pytest.mark.parametrize(
    "text",
    ["two\nlines", "a\ttab", "×Cuprocyparis", "نص", "e\u0301", "क्\u200dष", "a\u00ad", "\U0001f339"],
)
def test_what_people_type_is_fit(text):
    assert unfit(text) is None
    assert shown(text) == text


@given(st.text())
def test_what_is_shown_steers_nothing_and_can_be_written(text):
    assert unfit(shown(text)) is None
    shown(text).encode()


@given(st.integers(0, LARGEST))
def test_a_whole_number_is_read_as_it_is(number):
    assert whole(f" {number} ") == number
    assert whole(f"00{number}") == number


@pytest.mark.parametrize(
    "typed", ["", "-1", "1.0", "²", "٣", "1_000", "9" * 5000, str(LARGEST + 1)]
)
def test_what_a_registry_cannot_hold_is_no_number(typed):
    assert whole(typed) is None
