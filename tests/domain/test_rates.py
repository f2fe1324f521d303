"""Rates against published counts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.domain.rates import Rate, fisher, rate
from registry.wording import basics


def some_rate(rooted: int, of: int) -> Rate:
    found = rate(rooted, of)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("rooted", "of", "low", "high", "source"),
    [
        (156, 240, 58.77, 70.76, "plum root cuttings, A Handbook of Small Data Sets, set 19"),
        (84, 240, 29.24, 41.23, "the same, long, spring"),
        (107, 240, 38.43, 50.91, "the same, short, at once"),
        (31, 240, 9.25, 17.75, "the same, short, spring"),
        (138, 140, 94.94, 99.61, "apple micro-shoots, 8 h, conference data set of 1998"),
        (68, 130, 43.78, 60.70, "the same, 16 h"),
        (30, 30, 88.65, 100, "the same, one cell"),
        (38, 40, 83.50, 98.62, "the same, one cell"),
        (15, 30, 33.15, 66.85, "the same, one cell"),
        (19, 20, 76.39, 99.11, "fig cuttings, a grower's public trial, moss box"),
        (4, 19, 8.51, 43.33, "the same, cup"),
        (20, 25, 60.87, 91.14, "The Pruning-Book, apple, long roots"),
        (13, 25, 33.50, 69.97, "the same, tap root cut"),
        (21, 32, 48.31, 79.59, "stewartia after winter, HortScience 43(7), counts inferred"),
        (7, 32, 11.02, 38.75, "the same, no cold"),
        # computed edge checks
        (0, 8, 0, 32.44, "computed"),
        (8, 8, 67.56, 100, "computed"),
        (1, 1, 20.65, 100, "computed"),
        (0, 1, 0, 79.35, "computed"),
        (3, 5, 23.07, 88.24, "computed"),
        (8, 15, 30.12, 75.19, "computed"),
        (31, 50, 48.15, 74.14, "computed"),
    ],
)
def test_wilson_intervals(rooted, of, low, high, source):
    found = some_rate(rooted, of)
    assert round(100 * found.low, 2) == low, source
    assert round(100 * found.high, 2) == high, source
    assert found.share == rooted / of


@pytest.mark.parametrize(
    ("one", "other", "p", "source"),
    [
        ((156, 240), (84, 240), 6.61935e-11, "plum root cuttings, long, at once v spring"),
        ((107, 240), (31, 240), 1.16821e-14, "plum root cuttings, short"),
        ((138, 140), (68, 130), 9.33353e-22, "apple micro-shoots, 8 h v 16 h"),
        ((15, 30), (14, 30), 1, "apple micro-shoots, within 16 h"),
        ((19, 20), (4, 19), 2.20979e-06, "fig cuttings, moss box v cup"),
        ((20, 25), (13, 25), 0.0717674, "The Pruning-Book, lived"),
        ((17, 25), (12, 25), 0.25159, "The Pruning-Book, first class"),
        ((21, 32), (7, 32), 0.000891661, "stewartia after winter"),
        ((3, 3), (0, 3), 0.1, "computed: three against three never passes 0.05"),
        ((8, 10), (3, 10), 0.0697785, "computed"),
        ((10, 10), (0, 10), 1.08251e-05, "computed"),
    ],
)
def test_fisher_two_sided(one, other, p, source):
    assert fisher(some_rate(*one), some_rate(*other)) == pytest.approx(p, rel=2e-5), source
    assert fisher(some_rate(*other), some_rate(*one)) == pytest.approx(p, rel=2e-5), source


@st.composite
def rates(draw):
    of = draw(st.integers(1, 3000))
    return rate(draw(st.integers(0, of)), of)


@given(rates(), rates())
def test_rates_are_shares_and_chance_is_a_probability(one, other):
    assert 0 <= one.low <= one.share <= one.high <= 1
    assert 0 <= fisher(one, other) <= 1
    assert fisher(one, one) == pytest.approx(1)


def test_no_rate_of_nothing():
    assert rate(0, 0) is None
    for rooted, of in ((2, 1), (-1, 3), (0, -1)):
        with pytest.raises(ValueError, match="no rate"):
            rate(rooted, of)


def test_rates_in_words():
    assert basics.rate_text(some_rate(19, 20)) == "19 of 20 took (95 %; 76-99 %)"
    assert basics.chance_text(0.1) == "could easily be chance"
    assert basics.chance_text(0.001) == "is hard to put down to chance"
