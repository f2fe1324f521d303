"""Dates as people type them, and EDTF."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.domain.dates import FuzzyDate, Hemisphere, parse_date
from registry.errors import AmbiguousDate, BadDate, BadInput, DateNeedsYear, DateReason
from registry.wording import basics
from registry.wording.problems import problem

TODAY = date(2026, 11, 25)  # a Wednesday
N, S = Hemisphere.NORTH, Hemisphere.SOUTH


def read(text: str, hemisphere: Hemisphere = N, year: int | None = None) -> FuzzyDate:
    return parse_date(text, today=TODAY, hemisphere=hemisphere, year=year)


def bounds(text: str, hemisphere: Hemisphere = N) -> tuple[str | None, ...]:
    found = read(text, hemisphere)
    return tuple(day.isoformat() if day else None for day in (found.first, found.last))


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        # The examples of the EDTF specification (loc.gov/standards/datetime), levels 0 and 1,
        # whose bounds follow from the calendar.
        ("1985-04-12", "1985-04-12", "1985-04-12"),
        ("1985-04", "1985-04-01", "1985-04-30"),
        ("1985", "1985-01-01", "1985-12-31"),
        ("1964/2008", "1964-01-01", "2008-12-31"),
        ("2004-06/2006-08", "2004-06-01", "2006-08-31"),
        ("2004-02-01/2005-02-08", "2004-02-01", "2005-02-08"),
        ("2004-02-01/2005-02", "2004-02-01", "2005-02-28"),
        ("2004-02-01/2005", "2004-02-01", "2005-12-31"),
        ("2005/2006-02", "2005-01-01", "2006-02-28"),
        ("2001-21", "2001-03-01", "2001-05-31"),
        ("1984?", "1984-01-01", "1984-12-31"),
        ("1985-04-12/..", "1985-04-12", None),
        ("1985-04/..", "1985-04-01", None),
        ("1985/..", "1985-01-01", None),
        ("../1985-04-12", None, "1985-04-12"),
        ("../1985-04", None, "1985-04-30"),
        ("../1985", None, "1985-12-31"),
        ("1985-04-12/", "1985-04-12", None),
        ("/1985", None, "1985-12-31"),
        # `~` widens by one unit of the precision: our rule.
        ("2004-06~", "2004-05-01", "2004-07-31"),
        ("2004-06-11%", "2004-06-10", "2004-06-12"),
        ("1984~", "1983-01-01", "1985-12-31"),
        ("1984~/2004-06", "1983-01-01", "2004-06-30"),
        ("2001-21~", "2000-12-01", "2001-08-31"),
        ("2020-12~", "2020-11-01", "2021-01-31"),
        ("2024-02-29~", "2024-02-28", "2024-03-01"),
        ("9999~", "9998-01-01", "9999-12-31"),
        ("9999-12-31~", "9999-12-30", "9999-12-31"),
    ],
)
def test_edtf(text, first, last):
    assert bounds(text) == (first, last)
    assert read(text).edtf == text
    assert read(text).said is None


@pytest.mark.parametrize(
    ("text", "north", "south"),
    [
        ("2020-21", ("2020-03-01", "2020-05-31"), ("2020-09-01", "2020-11-30")),
        ("2020-22", ("2020-06-01", "2020-08-31"), ("2020-12-01", "2021-02-28")),
        ("2020-23", ("2020-09-01", "2020-11-30"), ("2020-03-01", "2020-05-31")),
        ("2020-24", ("2020-12-01", "2021-02-28"), ("2020-06-01", "2020-08-31")),
    ],
)
def test_seasons_go_by_the_hemisphere(text, north, south):
    assert bounds(text, N) == north
    assert bounds(text, S) == south


@pytest.mark.parametrize(
    ("text", "edtf"),
    [
        ("14 May 2026", "2026-05-14"),
        ("14th May 2026", "2026-05-14"),
        ("the 14th of May, 2026", "2026-05-14"),
        ("on 14 may 26", "2026-05-14"),
        ("May 14, 2026", "2026-05-14"),
        ("14-May-2026", "2026-05-14"),
        ("14. Sept. 2026", "2026-09-14"),
        ("May 2025", "2025-05"),
        ("Feb 2024", "2024-02"),
        ("may '25", "2025-05"),
        ("in May of 2025", "2025-05"),
        ("2018", "2018"),
        ("10/2018", "2018-10"),
        ("2018/10", "2018-10"),
        ("14.5.2026", "2026-05-14"),
        ("5/14/2026", "2026-05-14"),
        ("14/5/26", "2026-05-14"),
        ("5/5/26", "2026-05-05"),
        ("2026/5/14", "2026-05-14"),
        ("2026-5-14", "2026-05-14"),
        ("mid May 2025", "2025-05-11/2025-05-20"),
        ("early May 2025", "2025-05-01/2025-05-10"),
        ("late Feb 2024", "2024-02-21/2024-02-29"),
        ("end of June 2025", "2025-06-21/2025-06-30"),
        ("mid-May 2025", "2025-05-11/2025-05-20"),
        ("late summer 2020", "2020-08"),
        ("early 2019", "2019-01/2019-04"),
        ("summer 2020", "2020-22"),
        ("fall 2020", "2020-23"),
        ("winter 2020/21", "2020-24"),
        ("winter 2020-2021", "2020-24"),
        ("winter 2020", "2020-24"),
        ("before 2015", "../2014"),
        ("before May 2025", "../2025-04"),
        ("before 14 May 2025", "../2025-05-13"),
        ("after 2015", "2016/.."),
        ("after 14 May 2025", "2025-05-15/.."),
        ("since 2018", "2018/.."),
        ("until mid May 2025", "../2025-05-20"),
        ("about May 2025", "2025-05~"),
        ("~May 2025", "2025-05~"),
        ("c. 2015", "2015~"),
        ("ca 2015", "2015~"),
        ("May 2025?", "2025-05?"),
        ("perhaps about 2015", "2015%"),
        ("~2015?", "2015%"),
        ("about mid May 2025", "2025-05-11~/2025-05-20~"),
        ("May to June 2025", "2025-05/2025-06"),
        ("between 2018 and 2020", "2018/2020"),
        ("2018-2020", "2018/2020"),
        ("14 to 20 May 2026", "2026-05-14/2026-05-20"),
        ("14-20 May 2026", "2026-05-14/2026-05-20"),
        ("the 1990s", "1990/1999"),
        ("today", "2026-11-25"),
        ("Yesterday", "2026-11-24"),
        ("3 days ago", "2026-11-22"),
        ("last week", "2026-11-16/2026-11-22"),
        ("two weeks ago", "2026-11-09/2026-11-15"),
        ("this month", "2026-11"),
        ("last month", "2026-10"),
        ("last year", "2025"),
        ("?", "XXXX"),
        ("unknown", "XXXX"),
    ],
)
def test_words(text, edtf):
    found = read(text)
    assert found.edtf == edtf
    assert found.said == text or text == edtf
    plain = read(edtf)
    assert (found.first, found.last) == (plain.first, plain.last)


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("4/5/25", ("4 May 2025", "5 April 2025")),
        ("4.5.2025", ("4 May 2025", "5 April 2025")),
        ("May 25", ("25 May 2026", "25 May 2025", "May 2025")),
        ("winter 2026", ("winter 2025/26", "winter 2026/27")),
        ("before 4/5/25", ("4 May 2025", "5 April 2025")),
    ],
)
def test_two_readings_are_asked_about(text, readings):
    with pytest.raises(AmbiguousDate) as caught:
        read(text)
    assert caught.value.readings == readings
    assert all(reading in problem(caught.value) for reading in readings)
    assert len({read(reading).edtf for reading in readings}) == len(readings)


def test_southern_summer_of_this_year_is_asked_about_before_december():
    with pytest.raises(AmbiguousDate):
        read("summer 2026", S)
    assert read("summer 2025", S).edtf == "2025-22"


@pytest.mark.parametrize(
    ("text", "years"),
    [
        ("14 May", (2026, 2025)),
        ("mid May", (2026, 2025)),
        ("30 November", (2025, 2024)),
        ("29 Feb", (2024, 2020)),
        ("summer", (2026, 2025)),
        ("last winter", (2025, 2024)),
        ("about May", (2026, 2025)),
        ("before 14 May", (2026, 2025)),
        ("May to June", (2026, 2025)),
    ],
)
def test_words_without_a_year_are_asked_about(text, years):
    with pytest.raises(DateNeedsYear) as caught:
        read(text)
    assert caught.value.years == years
    assert f"{text} {years[0]}" in problem(caught.value)
    assert read(f"{text} {years[0]}").edtf == read(text, year=years[0]).edtf


def test_a_year_from_the_context():
    assert read("14 May", year=2024).edtf == "2024-05-14"
    assert read("May 14", year=2024).edtf == "2024-05-14"
    with pytest.raises(BadDate):
        read("29 Feb", year=2025)


@pytest.mark.parametrize(
    ("text", "reason", "said"),
    [
        ("31 June 2026", DateReason.NO_SUCH_DAY, "June 2026 has 30 days"),
        ("31 June", DateReason.NO_SUCH_DAY, "June has 30 days"),
        ("29 Feb 2025", DateReason.NO_SUCH_DAY, "February 2025 has 28 days"),
        ("30 Feb", DateReason.NO_SUCH_DAY, "February has at most 29 days"),
        ("2025-02-29", DateReason.NO_SUCH_DAY, "February 2025 has 28 days"),
        ("1900-02-29", DateReason.NO_SUCH_DAY, "February 1900 has 28 days"),
        ("2025-05-00", DateReason.NO_SUCH_DAY, "May 2025 has 31 days"),
        ("2025-13", DateReason.NO_SUCH_MONTH, "month"),
        ("2025-00-10", DateReason.NO_SUCH_MONTH, "month"),
        ("2025-21-10", DateReason.NO_SUCH_MONTH, "month"),
        ("22/2025", DateReason.NO_SUCH_MONTH, "month"),
        ("14/13/2025", DateReason.NO_SUCH_MONTH, "month"),
        ("0999", DateReason.YEAR, "1000"),
        ("14 May 98", DateReason.SHORT_YEAR, "four digits"),
        ("14/5", DateReason.NUMBERS, "month as a word"),
        ("2020/2019", DateReason.BACKWARDS, "earlier date first"),
        ("November to February 2026", DateReason.BACKWARDS, "earlier date first"),
        ("before 1000", DateReason.YEAR, "1000"),
        ("", DateReason.SHAPE, "14 May 2026"),
        ("soon", DateReason.SHAPE, "14 May 2026"),
        ("14", DateReason.SHAPE, "14 May 2026"),
        ("../..", DateReason.SHAPE, "14 May 2026"),
        ("2026-05-14T10:00:00", DateReason.SHAPE, "14 May 2026"),
        ("summer 2020/21", DateReason.SHAPE, "14 May 2026"),
        ("2022-12-'2", DateReason.SHAPE, "14 May 2026"),
        ("winter 0000", DateReason.YEAR, "1000 to 9999"),
        ("4/5/'2", DateReason.SHAPE, "14 May 2026"),
        ("before before 2015", DateReason.SHAPE, "14 May 2026"),
        ("early 14 May 2026", DateReason.SHAPE, "14 May 2026"),
        ("2026-05-14-", DateReason.SHAPE, "14 May 2026"),
        ("14 to May 2026", DateReason.SHAPE, "14 May 2026"),
        ("after since 2015", DateReason.SHAPE, "14 May 2026"),
    ],
)
def test_what_is_no_date(text, reason, said):
    with pytest.raises(BadDate) as caught:
        read(text)
    assert caught.value.reason is reason
    assert caught.value.typed == text
    assert said in problem(caught.value)


def test_every_example_offered_is_read():
    for example in basics.DATE_EXAMPLES.replace(" or ", ", ").split(", "):
        assert read(example).first or read(example).last


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("2026-05-14", "14 May 2026"),
        ("2025-05", "May 2025"),
        ("2018", "2018"),
        ("2025-05~", "about May 2025"),
        ("2025-05?", "perhaps May 2025"),
        ("2025-05%", "perhaps about May 2025"),
        ("2020-22", "summer 2020"),
        ("2020-24", "winter 2020/21"),
        ("2020-24~", "about winter 2020/21"),
        ("mid may 2025", "mid May 2025"),
        ("21-28 Feb 2025", "late February 2025"),
        ("before  2015", "before 2015"),
        ("before 14/5/2015", "before 14 May 2015"),
        ("../2014", "until 2014"),
        ("2018/", "since 2018"),
        ("2018-05/2020-24", "May 2018 to winter 2020/21"),
        ("XXXX", "date not known"),
    ],
)
def test_display(text, shown):
    assert read(text).display() == shown
    assert str(read(text)) == shown


DAYS = st.dates(date(1002, 1, 1), date(9990, 12, 31))
SIMPLE = st.builds(
    lambda day, form, mark: day.strftime(form).rjust(4, "0") + mark,
    DAYS,
    st.sampled_from(["%Y-%m-%d", "%Y-%m", "%Y", "%Y-21", "%Y-22", "%Y-23", "%Y-24"]),
    st.sampled_from(["", "", "~", "?", "%"]),
)
EDTF = st.one_of(
    SIMPLE,
    st.builds("{}/..".format, SIMPLE),
    st.builds("../{}".format, SIMPLE),
    st.builds("{}/{}".format, SIMPLE, SIMPLE),
)


@given(EDTF, st.sampled_from(Hemisphere), st.sampled_from(["", "before ", "after "]))
def test_display_is_read_back_and_bounds_are_ordered(edtf, hemisphere, limit):
    try:
        found = read(limit + (read(edtf, hemisphere).display() if limit else edtf), hemisphere)
    except BadDate:
        return  # an interval that runs backwards, or nothing before an open end
    again = read(found.display(), hemisphere)
    assert (again.first, again.last) == (found.first, found.last)
    assert again.edtf == found.edtf
    assert again.display() == found.display()
    assert found.first is None or found.last is None or found.first <= found.last


@given(DAYS)
def test_marks_widen_and_never_narrow(day):
    for form in ("%Y-%m-%d", "%Y-%m", "%Y", "%Y-22"):
        plain, about = read(day.strftime(form)), read(day.strftime(form) + "~")
        assert plain.first
        assert plain.last
        assert about.first
        assert about.last
        unit = plain.last - plain.first + timedelta(days=1)
        few = timedelta(days=3)  # months, seasons and years differ by as much
        assert abs(plain.first - about.first - unit) <= few
        assert abs(about.last - plain.last - unit) <= few


@given(st.text(max_size=25) | st.text("0123456789/-.~ May to before", max_size=20))
def test_any_text_is_read_or_refused(text):
    """Nothing that is typed is a crash, and every refusal has its sentence."""
    try:
        sentence = read(text).display()
    except BadInput as error:
        sentence = problem(error)
    assert sentence


def test_comparisons_are_certain_or_not():
    may, june, year = read("May 2025"), read("June 2025"), read("2025")
    unknown, before = FuzzyDate.unknown(), read("before 2015")
    assert may.certainly_before(june)
    assert not june.certainly_before(may)
    assert not may.certainly_before(year)
    assert may.certainly_before(date(2025, 6, 1))
    assert not may.certainly_before(date(2025, 5, 31))
    assert not unknown.certainly_before(may)
    assert before.certainly_before(may)
    assert not may.certainly_before(before)


def test_within_needs_both_bounds():
    first, last = date(2025, 1, 1), date(2025, 12, 31)
    assert read("2025").within(first, last)
    assert not read("2025~").within(first, last)
    assert not read("since 2025").within(first, last)
    assert not read("winter 2025/26").within(first, last)


def test_a_day():
    day = FuzzyDate.of(TODAY)
    assert day == read("2026-11-25")
    assert day.exact
    assert not read("2026-11").exact
    assert not FuzzyDate.unknown().exact


def test_bounds_out_of_order_are_refused():
    with pytest.raises(ValueError, match="after"):
        FuzzyDate("2020", date(2021, 1, 1), date(2020, 1, 1))
