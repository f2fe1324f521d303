"""Counts as growers type them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.domain.counts import (
    Count,
    CountKind,
    parse_by_lot,
    parse_count,
    parse_counts,
)
from registry.errors import (
    BadCount,
    BadInput,
    CountReason,
)
from registry.wording import basics
from registry.wording.problems import problem


@pytest.mark.parametrize(
    ("text", "low", "high", "kind"),
    [
        ("14", 14, 14, CountKind.EXACT),
        ("0", 0, 0, CountKind.EXACT),
        ("007", 7, 7, CountKind.EXACT),
        ("１４", 14, 14, CountKind.EXACT),
        ("12-12", 12, 12, CountKind.EXACT),
        ("about 14", 14, None, CountKind.ABOUT),
        ("About 14", 14, None, CountKind.ABOUT),
        ("~14", 14, None, CountKind.ABOUT),
        ("c. 14", 14, None, CountKind.ABOUT),
        ("14 or so", 14, None, CountKind.ABOUT),
        ("12-13", 12, 13, CountKind.RANGE),
        ("12 – 13", 12, 13, CountKind.RANGE),
        ("12 to 13", 12, 13, CountKind.RANGE),
        ("12 or 13", 12, 13, CountKind.RANGE),
        ("between 12 and 13", 12, 13, CountKind.RANGE),
        ("up to 10", 0, 10, CountKind.RANGE),
        ("10+", 10, None, CountKind.AT_LEAST),
        ("10 or more", 10, None, CountKind.AT_LEAST),
        ("at least 10", 10, None, CountKind.AT_LEAST),
        ("?", None, None, CountKind.UNKNOWN),
        ("unknown", None, None, CountKind.UNKNOWN),
        ("9999999", 9_999_999, 9_999_999, CountKind.EXACT),
    ],
)
def test_counts(text, low, high, kind):
    count = parse_count(text)
    assert (count.low, count.high, count.kind) == (low, high, kind)
    assert (count.exact is not None) is (kind is CountKind.EXACT)


def test_a_count_is_kept_as_said():
    assert parse_count("  About  14 ").text == "About 14"
    assert str(parse_count("12–13")) == "12-13"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", CountReason.SHAPE),
        ("a dozen", CountReason.SHAPE),
        ("some", CountReason.SHAPE),
        ("1.5", CountReason.SHAPE),
        ("1,000", CountReason.SHAPE),
        ("14 cuttings", CountReason.SHAPE),
        ("½", CountReason.SHAPE),
        ("-3", CountReason.NEGATIVE),
        ("− 3", CountReason.NEGATIVE),
        ("13-12", CountReason.BACKWARDS),
        ("10000000", CountReason.TOO_MANY),
        ("9" * 5000, CountReason.TOO_MANY),
        ("1-99999999", CountReason.TOO_MANY),
    ],
)
def test_what_is_no_count(text, reason):
    with pytest.raises(BadCount) as caught:
        parse_count(text)
    assert caught.value.reason is reason
    assert problem(caught.value)


def test_every_example_offered_is_read():
    for example in ("14", "about 14", "12-13", "10+", "?"):
        assert example in basics.COUNT_EXAMPLES
        assert parse_count(example).text == example


@pytest.mark.parametrize(
    ("text", "surely", "against_limit"),
    [("14", 14, 14), ("about 14", 0, 14), ("12-13", 12, 13), ("10+", 10, 10), ("?", 0, None)],
)
def test_a_guess_promises_nothing_and_uses_up_what_it_says(text, surely, against_limit):
    count = parse_count(text)
    assert count.surely == surely
    assert count.against_limit == against_limit


def test_count_of():
    assert Count.of(3) == parse_count("3")
    with pytest.raises(ValueError, match="negative"):
        Count.of(-1)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A=8,B=2", {"A": "8", "B": "2"}),
        ("a = 8; aa = ?", {"A": "8", "AA": "?"}),
        ("A=8 B=about 2", {"A": "8", "B": "about 2"}),
        ("B=12-13", {"B": "12-13"}),
    ],
)
def test_counts_by_lot(text, expected):
    assert {lot: count.text for lot, count in parse_by_lot(text).items()} == expected
    assert parse_counts(text) == parse_by_lot(text)


def test_a_plain_count_has_no_lots():
    assert parse_counts("14") == parse_count("14")


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("A=8,A=2", CountReason.LOT_TWICE),
        ("A=8,B", CountReason.BY_LOT),
        ("1=8", CountReason.BY_LOT),
        ("CV=8", CountReason.BY_LOT),
        ("A=8,", CountReason.BY_LOT),
        ("=8", CountReason.BY_LOT),
        ("A=", CountReason.SHAPE),
        ("A=8=9", CountReason.SHAPE),
    ],
)
def test_what_is_no_count_by_lot(text, reason):
    with pytest.raises(BadCount) as caught:
        parse_counts(text)
    assert caught.value.reason is reason
    assert problem(caught.value)


@given(st.text(max_size=20) | st.text("0123456789-+~=,AB USD about?", max_size=15))
def test_any_text_is_read_or_refused(text):
    """Nothing that is typed is a crash, and every refusal has its sentence."""
    try:
        sentence = repr(parse_counts(text))
    except BadInput as error:
        sentence = problem(error)
    assert sentence
