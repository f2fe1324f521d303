"""A lot's ledger against a plain model; rates against published counts."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from registry.domain.counts import Count, parse_count
from registry.domain.ledger import (
    Entry,
    EntryKind,
    Ledger,
    Outcome,
    Rate,
    fisher,
    look,
    rate,
)
from registry.errors import CountNotExact, LookBeyondCount, Overdrawn
from registry.wording import basics

LOT = "26-0014A-8"


def opened(text: str) -> Ledger:
    return Ledger(LOT, parse_count(text))


def some_rate(rooted: int, of: int) -> Rate:
    found = rate(rooted, of)
    assert found is not None
    return found


def test_the_ledger_adds_up():
    ledger = opened("16").take(EntryKind.LOST, 3).take(EntryKind.CULLED, 1)
    ledger = ledger.put(EntryKind.MOVED_IN, 4).recount(15).take(EntryKind.POTTED, 9)
    ledger = ledger.take(EntryKind.MOVED_OUT, 2).take(EntryKind.LEFT_AS_CUTTINGS, 1)
    assert ledger.left == 3
    assert ledger.total(EntryKind.RECOUNTED) == -1
    assert ledger.tried == 16 + 4 - 1 - 2
    gone = (EntryKind.POTTED, EntryKind.LOST, EntryKind.CULLED, EntryKind.LEFT_AS_CUTTINGS)
    assert ledger.tried == sum(map(ledger.total, gone)) + ledger.left


def test_taking_more_than_is_left_is_refused_with_what_is_left():
    ledger = opened("16").take(EntryKind.LOST, 14)
    assert ledger.may_take(2)
    assert not ledger.may_take(3)
    with pytest.raises(Overdrawn) as caught:
        ledger.take(EntryKind.POTTED, 3)
    assert (caught.value.code, caught.value.asked, caught.value.left) == (LOT, 3, 2)
    assert ledger.left == 2


@pytest.mark.parametrize(
    ("opening", "most"),
    [("12-13", 13), ("up to 10", 10), ("about 14", None), ("10+", None), ("?", None)],
)
def test_an_open_ledger_has_no_number_left_and_keeps_its_upper_bound(opening, most):
    ledger = opened(opening)
    assert ledger.is_open
    assert ledger.left is None
    assert ledger.tried is None
    assert ledger.at_most == most
    if most is None:
        assert ledger.take(EntryKind.POTTED, 1000).at_most is None
        return
    assert ledger.take(EntryKind.LOST, 4).at_most == most - 4
    with pytest.raises(Overdrawn):
        ledger.take(EntryKind.POTTED, most + 1)


def test_a_recount_closes_an_open_ledger():
    ledger = opened("12-13").take(EntryKind.LOST, 2).recount(10)
    assert not ledger.is_open
    assert ledger.left == 10
    assert ledger.take(EntryKind.POTTED, 9).left == 1
    assert ledger.tried is None
    with pytest.raises(Overdrawn):
        opened("12-13").take(EntryKind.LOST, 2).recount(12)
    with pytest.raises(ValueError, match="negative"):
        ledger.recount(-1)


def test_nought_changes_nothing():
    ledger = opened("3")
    assert ledger.take(EntryKind.LOST, 0) is ledger
    assert ledger.put(EntryKind.MOVED_IN, 0) is ledger
    assert ledger.recount(3) is ledger


@pytest.mark.parametrize(
    ("kind", "n"),
    [(EntryKind.POTTED, 1), (EntryKind.LOST, 0), (EntryKind.RECOUNTED, 0),
     (EntryKind.STUCK, -1), (EntryKind.MOVED_IN, -1), (EntryKind.MOVED_OUT, 2)],
)  # fmt: skip
def test_an_entry_runs_the_way_of_its_kind(kind, n):
    with pytest.raises(ValueError, match="cannot move"):
        Entry(kind, n)


def test_replay_stops_where_a_ledger_was_overdrawn():
    entries = [Entry(EntryKind.STUCK, 5), Entry(EntryKind.LOST, -3), Entry(EntryKind.POTTED, -3)]
    assert Ledger.replay(LOT, Count.of(0), entries[:2]).left == 2
    with pytest.raises(Overdrawn):
        Ledger.replay(LOT, Count.of(0), entries)


OUT = [EntryKind.POTTED, EntryKind.LOST, EntryKind.CULLED, EntryKind.LEFT_AS_CUTTINGS,
       EntryKind.MOVED_OUT]  # fmt: skip


class LedgerAgainstNumber(RuleBasedStateMachine):
    """The ledger and one plain number live through the same history."""

    def __init__(self):
        super().__init__()
        self.ledger, self.left = opened("20"), 20

    @rule(kind=st.sampled_from(OUT), n=st.integers(0, 12))
    def take(self, kind, n):
        assert self.ledger.may_take(n) is (n <= self.left)
        if n > self.left:
            with pytest.raises(Overdrawn):
                self.ledger.take(kind, n)
            return
        self.ledger = self.ledger.take(kind, n)
        self.left -= n

    @rule(n=st.integers(0, 8))
    def put(self, n):
        self.ledger = self.ledger.put(EntryKind.MOVED_IN, n)
        self.left += n

    @rule(found=st.integers(0, 30))
    def recount(self, found):
        self.ledger = self.ledger.recount(found)
        self.left = found

    @precondition(lambda self: self.left > 0)
    @rule(data=st.data())
    def look(self, data):
        died = data.draw(st.integers(0, self.left))
        rooted = data.draw(st.integers(0, self.left - died))
        seen = {Outcome.ROOTED: Count.of(rooted), Outcome.DIED: Count.of(died)}
        self.ledger = look(self.ledger, seen)
        self.left -= died

    @invariant()
    def agree(self):
        assert self.ledger.left == self.left >= 0
        replayed = Ledger.replay(LOT, self.ledger.opening, self.ledger.entries)
        assert replayed == self.ledger
        gone = sum(self.ledger.total(kind) for kind in OUT if kind is not EntryKind.MOVED_OUT)
        assert self.ledger.tried == gone + self.left


TestLedgerAgainstNumber = LedgerAgainstNumber.TestCase
TestLedgerAgainstNumber.settings = settings(max_examples=40, stateful_step_count=25)


# --- looks ---------------------------------------------------------------------------------------


def test_what_stands_is_observed_and_what_went_is_moved():
    ledger = look(
        opened("16"),
        {Outcome.ROOTED: Count.of(9), Outcome.UNSURE: Count.of(3), Outcome.DIED: Count.of(4)},
    )
    assert ledger.left == 12
    assert ledger.total(EntryKind.LOST) == 4


def test_more_standing_than_left_is_refused():
    with pytest.raises(LookBeyondCount) as caught:
        look(opened("16"), {Outcome.ROOTED: Count.of(13), Outcome.DIED: Count.of(4)})
    assert (caught.value.said, caught.value.left) == (13, 12)


def test_a_guess_of_what_stands_is_taken_as_said():
    assert look(opened("16"), {Outcome.ALIVE: parse_count("about 17")}).left == 16
    assert look(opened("?"), {Outcome.ALIVE: parse_count("17")}).left is None
    with pytest.raises(LookBeyondCount):
        look(opened("16"), {Outcome.ALIVE: parse_count("17+")})


def test_what_went_is_a_number():
    with pytest.raises(CountNotExact):
        look(opened("16"), {Outcome.DIED: parse_count("about 4")})


# --- rates ---------------------------------------------------------------------------------------


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
