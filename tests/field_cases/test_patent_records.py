"""Six United States plant patents, typed as rights and asked about around their last day.

Filing and grant dates are from the patents' front pages as public patent index pages show them.
Their ends are worked out, not read there: 35 U.S.C. 154(a)(2), twenty years from filing; and
154(c)(1), the longer of that and seventeen years from grant for a patent that was in force on, or
filed before, 8 June 1995. No adjustment, no disclaimer assumed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import pytest


@dataclass(frozen=True)
class Record:
    """A patent as its front page has it, its last day, and what the case shows."""

    number: str
    name: str
    filed: str
    granted: str
    last: date
    shows: str
    adjust: str = ""


RECORDS = (
    Record("PP4044", "Rosa 'Lane Four'", "1976-03-29", "1977-04-26", date(1994, 4, 26),
           "over before 8 June 1995: 17 years from grant, never the longer term"),
    Record("PP7197", "Malus 'Honeycrisp'", "1988-11-07", "1990-03-27", date(2008, 11, 7),
           "20 years from filing are longer than 17 from grant"),
    Record("PP8839", "Rosa 'Meipelta'", "1993-09-10", "1994-07-19", date(2013, 9, 10),
           "the longer of the two, near the change of the law"),
    Record("PP9536", "Rosa 'Meichonar'", "1995-06-19", "1996-05-07", date(2015, 6, 19),
           "filed eleven days after the change: 20 years from filing only",
           adjust="--adjust-days 0"),
    Record("PP19767", "Fragaria 'Monterey'", "2008-01-25", "2009-02-24", date(2028, 1, 25),
           "the front page says 0 days of adjustment", adjust="--adjust-days 0"),
    Record("PP36097", "Rosa 'Altsecret'", "2023-09-22", "2024-09-10", date(2043, 9, 22),
           "the adjustment was not read"),
)  # fmt: skip
"""The name of the first variety is invented; the index page did not show it."""

BEFORE, AFTER = timedelta(days=-1), timedelta(days=1)


@pytest.fixture(scope="module")
def patents(shared_ortet):
    for record in RECORDS:
        shared_ortet(
            f"right add us-plant-patent {record.number} --filed {record.filed}"
            f" --granted {record.granted} {record.adjust} --source 'front page'",
            "--name",
            record.name,
        )
        shared_ortet(f"plant add --owner me --number {record.number}-1", record.name)
    return shared_ortet


def asked(ortet, record, day):
    """The verdict and its rows, for propagating the plant on a day."""
    line = f"may propagate {record.number}-1 --on {day.isoformat()}"
    answer = ortet.ask(line, expect=1)
    return answer["verdict"], {finding["row"]: finding for finding in answer["findings"]}


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.number)
@pytest.mark.parametrize("by", [BEFORE, timedelta(0)], ids=["the day before", "the last day"])
def test_a_patent_bars_to_its_last_day_and_says_when_that_changes(patents, record, by):
    verdict, rows = asked(patents, record, record.last + by)
    assert verdict == "barred"
    assert rows["B1"]["changes_on"] == (record.last + AFTER).isoformat()
    assert "35 USC 161" in rows["B1"]["citation"]


@pytest.mark.parametrize("record", RECORDS[:-1], ids=lambda record: record.number)
def test_a_patent_bars_no_more_on_the_day_after(patents, record):
    verdict, rows = asked(patents, record, record.last + AFTER)
    assert "B1" not in rows
    assert rows["B22"]["level"] == "clear"
    assert verdict == "unknown", "nobody has looked whether another right stands on the name"
    assert rows["B36"]["unknown"] == "gap"


def test_a_patent_whose_adjustment_was_not_read_may_run_on(patents):
    # 35 U.S.C. 154(b): days are added for delays of the office, so 20 years may not be the end.
    record = RECORDS[-1]
    verdict, rows = asked(patents, record, record.last + AFTER)
    assert verdict == "unknown"
    assert rows["B21"]["unknown"] == "gap"
    assert date.fromisoformat(rows["B21"]["changes_on"]) > record.last + AFTER


def test_a_search_that_found_nothing_else_clears_the_rest(ortet):
    record = RECORDS[1]
    ortet(
        f"right add us-plant-patent {record.number} --filed {record.filed}"
        f" --granted {record.granted}",
        "--name",
        record.name,
    )
    ortet("plant add --owner me --number OWN-1", record.name)
    ortet("right lookup --in US --where 'patents and certificates' --found none", record.name)
    assert ortet.ask("may propagate OWN-1")["verdict"] == "clear"
