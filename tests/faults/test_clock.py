"""The clock goes backwards, a day that comes every four years, and growers all round the earth."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta

import pytest

from registry.domain.spans import add_years
from registry.ids import uuid7
from tests.conftest import MOMENT
from tests.typed import Ortet

LEAP_DAY = datetime(2028, 2, 29, 9, 0, tzinfo=UTC)


@pytest.fixture
def ticking(ortet):
    """The command with identifiers made of the moment, as outside the tests."""
    return Ortet(ortet.path, MOMENT, uuid7)


@pytest.fixture
def standing_in(monkeypatch):
    """Puts the machine into another zone of time (IANA Time Zone Database)."""

    def stand(zone):
        monkeypatch.setenv("TZ", zone)
        time.tzset()

    yield stand
    monkeypatch.undo()
    time.tzset()


# --- backwards -----------------------------------------------------------------------------------


@pytest.mark.parametrize("back", [timedelta(seconds=1), timedelta(days=1), timedelta(days=500)])
def test_a_clock_that_went_back_loses_nothing_and_gives_no_code_twice(ticking, back):
    def stick(ortet, name):
        answer = ortet.ask(f"stick '{name}' --owner me --count 5 --open")
        return [lot["code"] for lot in answer["lots"]] + [row["code"] for row in answer["made"]]

    earlier = ticking.at(MOMENT - back)
    codes = [*stick(ticking, "ash"), *stick(earlier, "oak"), *stick(ticking, "elm")]
    assert len(set(codes)) == len(codes) == 6
    earlier("look last --rooted 2")
    (looked_at,) = ticking.ask("batch show last")["lots"]
    assert looked_at["code"] == codes[4]
    ticking("verify")


def test_the_newest_entry_is_the_last_one_whatever_the_clock_says(ticking):
    ticking("stick ash --owner me --count 5 --open")
    earlier = ticking.at(MOMENT - timedelta(days=3))
    earlier("place add 'Cold frame'")
    earlier("note last 'after the clock was set'")
    earlier("correct last --void slip")
    ticking("verify")


def test_a_day_that_the_clock_has_not_reached_again_is_not_taken(ticking):
    ticking("stick ash --owner me --count 5 --number B --open")
    earlier = ticking.at(MOMENT - timedelta(days=3))
    assert "2026-05-14" in earlier.refused("look B --rooted 2 --on 2026-05-14")


# --- every four years ----------------------------------------------------------------------------


def test_a_leap_day_is_a_day_like_any_other(ticking):
    leap = ticking.at(LEAP_DAY)
    leap('stick "red hydrangea" --owner "Nan Ashe" --leave yes --count 9 --number B --open')
    leap("look B --rooted 4 --on '29 Feb 2028'")
    terms = "--may give --limit '3 plants a year' --until '29 Feb 2032'"
    leap(f"consent add --from 'Nan Ashe' --plant 28-0001-0 {terms}")
    leap("pot-up B --count 4")
    assert leap.ask("tally --from 2028-02-29 --to 2028-02-29")["rows"]
    leap("due")
    year_on = ticking.at(LEAP_DAY.replace(year=2029, month=3, day=1))
    year_on("give B --count 2 --to Bob --purpose private --open")
    year_on("may sell last --when", expect=1)
    year_on("verify")


@pytest.mark.parametrize("day", ["29 Feb 2026", "2027-02-29", "29 February 2100", "30 Feb 2028"])
def test_a_leap_day_of_another_year_is_none(ticking, day):
    ticking("stick ash --owner me --count 5 --number B --open")
    assert day in ticking.refused(f"look B --rooted 2 --on '{day}'")


@pytest.mark.parametrize(
    ("years", "day"), [(1, date(2029, 3, 1)), (4, date(2032, 2, 29)), (20, date(2048, 2, 29))]
)
def test_a_term_from_a_leap_day_ends_on_the_same_date_or_the_next_day(years, day):
    """The later day is the cautious one; no statute read settles it."""
    assert add_years(LEAP_DAY.date(), years) == day


# --- round the earth -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "moment", "day"),
    [
        ("Pacific/Kiritimati", datetime(2026, 5, 14, 11, 0, tzinfo=UTC), "2026-05-15"),
        ("Pacific/Auckland", datetime(2026, 5, 14, 12, 30, tzinfo=UTC), "2026-05-15"),
        ("America/Los_Angeles", datetime(2026, 5, 15, 6, 59, tzinfo=UTC), "2026-05-14"),
        ("America/Los_Angeles", datetime(2026, 5, 15, 7, 0, tzinfo=UTC), "2026-05-15"),
        ("Asia/Kathmandu", datetime(2026, 12, 31, 18, 15, tzinfo=UTC), "2027-01-01"),
        # the night in which Oregon's clocks go forward (Energy Policy Act of 2005, section 110)
        ("America/Los_Angeles", datetime(2026, 3, 8, 10, 0, tzinfo=UTC), "2026-03-08"),
    ],
)
def test_a_growers_day_is_the_day_where_she_stands(ticking, standing_in, zone, moment, day):
    standing_in(zone)
    here = ticking.at(moment)
    here("plant add Ash --owner me --number F")
    batch = here.ask("stick F --count 5 --number B --open")["batch"]
    assert batch[:2] == day[2:4]
    assert here.ask("batch show B")["stuck"] == day
    tomorrow = datetime.fromisoformat(day) + timedelta(days=1)
    here.refused(f"look B --rooted 2 --on {tomorrow:%Y-%m-%d}")


def test_a_registry_is_the_same_in_another_zone(ticking, standing_in):
    standing_in("America/Los_Angeles")
    ticking("stick ash --owner me --count 5 --number B --open")
    before = ticking.ask("batch show B")
    standing_in("Pacific/Auckland")
    assert ticking.ask("batch show B") == before
    ticking("verify")
