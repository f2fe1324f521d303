"""Tallies: the sums of a grower's sales sheet, and periods with vague days."""

from datetime import date

from registry.domain.tallies import Movement, tally

ORDER = {"stuck": 0, "sold": 1, "given": 2}


def sold(group, n, first, last=None, high="same"):
    last = last or first
    return Movement("sold", group, first, last, n, n if high == "same" else high)


def test_an_unknown_number_is_neither_zero_nor_skipped():
    """A grower's sheet says 'lots' of mint: the sum is what is known, and an unknown number."""
    rows = tally(
        [sold("Mint", 10, date(2024, 5, 3)), sold("Mint", 0, date(2024, 4, 2), high=None)],
        ORDER,
        date(2024, 1, 1),
        date(2024, 12, 31),
    )
    assert [(row.low, row.text) for row in rows] == [(10, "10 and an unknown number")]


def test_a_day_that_may_lie_outside_has_a_row_of_its_own():
    rows = tally(
        [
            sold("Sage", 2, date(2024, 3, 1), date(2024, 3, 31)),
            sold("Sage", 5, date(2024, 4, 3)),
            sold("Sage", 7, date(2023, 4, 3)),
        ],
        ORDER,
        date(2024, 3, 15),
        date(2024, 12, 31),
    )
    assert [(row.low, row.unsure_day) for row in rows] == [(5, False), (2, True)]


def test_acts_come_in_the_order_of_a_season():
    day = date(2024, 5, 1)
    rows = tally(
        [
            Movement("given", "Fig", day, day, 1, 1),
            sold("Fig", 1, day),
            Movement("stuck", "Fig", day, day, 12, 13),
        ],
        ORDER,
        None,
        None,
    )
    assert [(row.act, row.text) for row in rows] == [
        ("stuck", "12-13"),
        ("sold", "1"),
        ("given", "1"),
    ]


def test_what_left_against_a_no_is_counted_apart():
    day = date(2024, 5, 1)
    rows = tally(
        [
            sold("Fig", 3, day),
            Movement("sold", "Fig", day, day, 2, 2, "against a no"),
        ],
        ORDER,
        None,
        None,
    )
    assert [(row.low, row.standing) for row in rows] == [(3, ""), (2, "against a no")]
