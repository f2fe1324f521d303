"""When rights end: published records, and sums from the statutes.

The dates of filing and grant of the US rows stand on the front pages of the patents; a US end
assumes no disclaimer and, unless said, zero days of adjustment.
"""

from datetime import date

import pytest

from registry.domain.rights import (
    EventKind,
    RightEvent,
    RightFacts,
    RightProblem,
    RightWarning,
    State,
    check,
    ends,
    standing,
)
from registry.domain.rules.kinds import Group, Kind
from registry.domain.spans import ANY_DAY, Span, add_years


def day(text):
    return Span.on(date.fromisoformat(text))


def plant_patent(filed, granted, kind=Kind.US_PLANT_PATENT, adjust=0):
    return RightFacts(
        kind, territory="US", filed=day(filed), granted=day(granted), adjust_days=adjust
    )


FRONT_PAGES = [
    # over by 17 years from grant before 8 June 1995: no uplift
    ("PP4044 floribunda rose", "1976-03-29", "1977-04-26", "1994-04-26"),
    # 35 USC 154(c)(1), the greater is 20 years from filing
    ("PP5413 plum", "1983-02-11", "1985-03-12", "2003-02-11"),
    ("PP7149 geranium", "1988-09-12", "1990-02-13", "2008-09-12"),
    ("PP7169 Early Elegant Lady", "1988-10-20", "1990-02-27", "2008-10-20"),
    ("PP7197 Honeycrisp", "1988-11-07", "1990-03-27", "2008-11-07"),
    ("PP8839 Meipelta", "1993-09-10", "1994-07-19", "2013-09-10"),
    # filed on or after 8 June 1995: 20 years from filing, 35 USC 154(a)(2)
    ("PP9536 Meichonar", "1995-06-19", "1996-05-07", "2015-06-19"),
    ("PP9836 Matinee", "1996-01-03", "1997-03-25", "2016-01-03"),
    ("PP11077 Huaguan", "1997-12-02", "1999-10-05", "2017-12-02"),
    ("PP13813 Pelargonium", "2001-11-21", "2003-05-13", "2021-11-21"),
    ("PP19767 Monterey", "2008-01-25", "2009-02-24", "2028-01-25"),
    # foreign priority 2008-03-17 does not count, 35 USC 154(a)(3)
    ("PP21135 ASFCOT0409", "2009-03-09", "2010-07-06", "2029-03-09"),
    ("PP21612 Meiswetdom", "2009-09-17", "2011-01-11", "2029-09-17"),
    ("PP25125 shrub rose", "2012-10-09", "2014-12-02", "2032-10-09"),
    ("PP31741 GRAzest", "2019-02-06", "2020-05-12", "2039-02-06"),
    ("PP33270 GRApstg", "2020-02-24", "2021-07-20", "2040-02-24"),
    ("PP36097 ALTsecret", "2023-09-22", "2024-09-10", "2043-09-22"),
]


@pytest.mark.parametrize(
    ("filed", "granted", "end"),
    [case[1:] for case in FRONT_PAGES],
    ids=[case[0] for case in FRONT_PAGES],
)
def test_us_plant_patents_end_as_their_front_pages_say(filed, granted, end):
    found = ends(plant_patent(filed, granted))
    assert (found.earliest, found.latest) == (date.fromisoformat(end),) * 2


def test_the_board_took_17_years_from_grant_as_the_greater():
    """US 5,531,715, Board of Patent Appeals, appeal 1999-0610."""
    found = ends(plant_patent("1993-05-12", "1996-07-02", Kind.US_UTILITY_PATENT))
    assert (found.earliest, found.latest) == (date(2013, 7, 2),) * 2


def test_an_adjustment_not_read_leaves_the_latest_end_at_20_years_from_grant():
    """PP25125: slow grant, adjustment not read (35 USC 154(b)(2)(A), cautious reading)."""
    found = ends(plant_patent("2012-10-09", "2014-12-02", adjust=None))
    assert (found.earliest, found.latest) == (date(2032, 10, 9), date(2034, 12, 2))


def test_an_adjustment_not_read_adds_nothing_to_an_application_before_june_1995():
    """PP8839: terms of patents filed before 8 June 1995 carry no adjustment (154(c)(1))."""
    assert ends(plant_patent("1993-09-10", "1994-07-19", adjust=None)).latest == date(2013, 9, 10)


def granted(kind, on, group=None, **more):
    return RightFacts(kind, granted=day(on), group=group, **more)


def stated(kind, on, end, checked="2026-01-01", **more):
    return granted(
        kind,
        on,
        stated_end=day(end),
        end_source="register",
        end_checked=date.fromisoformat(checked),
        **more,
    )


REGISTERS = [
    # certificate counts from issue, not filing: 7 USC 2483(b)(1)
    (
        "US PVP 200000290",
        granted(Kind.US_CERTIFICATE, "2002-05-02", Group.OTHER),
        "2022-05-02",
    ),
    # General Court T-737/18: cut under Art. 116(4), as registered; not a year-end
    ("CPVR Siberia", stated(Kind.EU_CPVR, "1996-08-02", "2018-02-01"), "2018-02-01"),
    # the same without the register: Art. 19(1), base rule
    ("CPVR Siberia base rule", granted(Kind.EU_CPVR, "1996-08-02", Group.OTHER), "2021-12-31"),
    # C-176/18: tree, 31 December after the year of grant
    ("CPVR Nadorcott", granted(Kind.EU_CPVR, "2004-10-04", Group.TREE), "2034-12-31"),
    # C-546/12 P: herbaceous
    ("CPVR Lemon Symphony", granted(Kind.EU_CPVR, "1999-04-06", Group.OTHER), "2024-12-31"),
    # Reg (EU) 2021/1873 Art. 1 on a right alive on 15 November 2021 (made-up grant)
    (
        "CPVR woody ornamental of 1997",
        granted(Kind.EU_CPVR, "1997-05-05", Group.WOODY_ORNAMENTAL),
        "2027-12-31",
    ),
    # CFIA register, certificate 2305: the old 18-year term
    ("CA Bailmer", stated(Kind.CA_PBR, "2005-11-28", "2023-11-28"), "2023-11-28"),
    # grant 979 under the 1987 Act, woody
    (
        "NZ Noaschnee",
        granted(Kind.NZ_PVR, "1995-06-30", Group.WOODY_ORNAMENTAL),
        "2018-06-30",
    ),
    # Swiss federal variety register: ended early, as the register says
    ("CH Kornemark", stated(Kind.CH_PVR, "1989-06-30", "2003-12-31"), "2003-12-31"),
    ("CH Keipunes", stated(Kind.CH_PVR, "2007-03-31", "2014-12-31"), "2014-12-31"),
    ("CH PEPS 7016", stated(Kind.CH_PVR, "2019-06-30", "2019-07-31"), "2019-07-31"),
]


@pytest.mark.parametrize(
    ("right", "end"), [case[1:] for case in REGISTERS], ids=[case[0] for case in REGISTERS]
)
def test_rights_end_as_registers_and_courts_say(right, end):
    found = ends(right)
    assert (found.earliest, found.latest) == (date.fromisoformat(end),) * 2


def test_the_swiss_register_shows_2049_at_the_latest():
    """CH potato 'Jacky', 24.3167: live, maximum 25 years, granted 2024-07-31."""
    found = ends(granted(Kind.CH_PVR, "2024-07-31", Group.POTATO))
    assert found.latest == date(2049, 12, 31)
    assert found.earliest == date(2044, 7, 31)


STATUTES = [
    # Plant Varieties Act 1997 s. 11(1)(b): 25 years, same day
    ("UK 25", granted(Kind.UK_PBR, "2001-07-01", Group.BULB), "2026-07-01"),
    # s. 11(1)(a): potatoes, trees and vines 30
    ("UK 30 potato", granted(Kind.UK_PBR, "2001-07-01", Group.POTATO), "2031-07-01"),
    # Reg (EC) 2470/96 Art. 1(1): potatoes 30
    ("EU potato", granted(Kind.EU_CPVR, "2003-02-02", Group.POTATO), "2033-12-31"),
    # Reg (EU) 2021/1873 Art. 1: flower bulbs 30, right alive
    ("EU bulb", granted(Kind.EU_CPVR, "2000-01-01", Group.BULB), "2030-12-31"),
    # the same right granted in 1995 was over on 31 December 2020: not revived
    ("EU bulb of 1995", granted(Kind.EU_CPVR, "1995-09-01", Group.BULB), "2020-12-31"),
    # 7 USC 2483(b)(1): tree or vine 25
    ("US certificate vine", granted(Kind.US_CERTIFICATE, "2010-03-01", Group.VINE), "2035-03-01"),
    # 7 USC 2483 notes: issued before 4 April 1995, 18 years
    (
        "US certificate of 1990",
        granted(Kind.US_CERTIFICATE, "1990-03-01", Group.OTHER),
        "2008-03-01",
    ),
    # Plant Breeders' Rights Act (Canada) s. 6: 20 years; tree 25
    ("CA 20", granted(Kind.CA_PBR, "2016-05-01", Group.OTHER), "2036-05-01"),
    ("CA tree", granted(Kind.CA_PBR, "2016-05-01", Group.TREE), "2041-05-01"),
    # PVR Act 2022 (New Zealand) s. 19: woody 25
    ("NZ 2022 Act", granted(Kind.NZ_PVR, "2024-02-01", Group.WOODY_ORNAMENTAL), "2049-02-01"),
    # 29 February and 25 years: 1 March, the cautious choice
    ("UK leap day", granted(Kind.UK_PBR, "2004-02-29", Group.OTHER), "2029-03-01"),
    # 35 USC 154(a)(2): counted from the earlier filing claimed under s. 120
    (
        "US continuation",
        RightFacts(
            Kind.US_PLANT_PATENT,
            filed=day("2010-06-01"),
            earliest_claimed=day("2008-06-02"),
            granted=day("2012-01-03"),
            adjust_days=0,
        ),
        "2028-06-02",
    ),
    # 35 USC 154(b): adjustment days printed on the front page
    ("US adjusted", plant_patent("2010-06-01", "2013-01-01", adjust=31), "2030-07-02"),
    # 154(b)(2)(B): an adjustment cannot run past a disclaimed date
    (
        "US disclaimed",
        RightFacts(
            Kind.US_UTILITY_PATENT,
            filed=day("2010-06-01"),
            granted=day("2013-01-01"),
            adjust_days=400,
            disclaimed=day("2029-01-01"),
        ),
        "2029-01-01",
    ),
]


@pytest.mark.parametrize(
    ("right", "end"), [case[1:] for case in STATUTES], ids=[case[0] for case in STATUTES]
)
def test_ends_by_the_statutes(right, end):
    found = ends(right)
    assert (found.earliest, found.latest) == (date.fromisoformat(end),) * 2


def test_a_group_not_recorded_leaves_a_range():
    found = ends(granted(Kind.EU_CPVR, "2003-02-02"))
    assert (found.earliest, found.latest) == (date(2028, 12, 31), date(2038, 12, 31))


def test_partly_known_dates_give_the_earliest_and_the_latest_end():
    grant = Span(date(2001, 1, 1), date(2001, 12, 31))
    found = ends(RightFacts(Kind.UK_PBR, granted=grant, group=Group.OTHER))
    assert (found.earliest, found.latest) == (date(2026, 1, 1), date(2026, 12, 31))


def test_a_predicted_end_is_only_an_input_to_the_earliest():
    """A register page read in 2010 cannot know that the right lasted until 2014."""
    right = stated(Kind.CH_PVR, "2007-03-31", "2014-12-31", checked="2010-01-01")
    found = ends(right)
    assert found.earliest == date(2014, 12, 31)
    assert found.latest == date(2037, 12, 31)
    assert standing(right, day("2015-01-01")).state is State.OPEN_END


def test_an_estimate_that_names_no_register_or_holder_clears_nothing():
    right = RightFacts(
        Kind.UK_PBR,
        granted=day("2010-01-01"),
        group=Group.OTHER,
        stated_end=day("2015-01-01"),
        end_checked=date(2016, 1, 1),
    )
    assert standing(right, day("2020-01-01")).state is State.OPEN_END


def test_only_a_filing_day_bounds_the_grant_by_ten_years():
    found = ends(RightFacts(Kind.US_PLANT_PATENT, number="PP1", filed=day("2010-06-01")))
    assert (found.earliest, found.latest) == (date(2030, 6, 1), date(2040, 6, 1))


def test_only_a_grant_day_bounds_the_filing_by_ten_years():
    right = RightFacts(Kind.US_PLANT_PATENT, number="PP1", granted=day("2010-06-01"))
    found = ends(right)
    assert (found.earliest, found.latest) == (date(2020, 6, 1), date(2030, 6, 1))


def test_a_number_alone_stays_in_force():
    right = RightFacts(Kind.US_PLANT_PATENT, number="PP12345")
    assert standing(right, day("2090-01-01")).state is State.IN_FORCE


def with_event(what, on, *, final=True):
    return RightFacts(
        Kind.UK_PBR,
        number="1",
        granted=day("2010-01-01"),
        group=Group.OTHER,
        events=(RightEvent(what, day(on), final),),
    )


@pytest.mark.parametrize(
    ("right", "on", "state", "row"),
    [
        pytest.param(
            granted(Kind.UK_PBR, "2010-01-01", Group.OTHER),
            "2035-01-01",
            State.IN_FORCE,
            "B20",
            id="the end day is protected",
        ),
        pytest.param(
            granted(Kind.UK_PBR, "2010-01-01", Group.OTHER),
            "2035-01-02",
            State.ENDED,
            "B22",
            id="the day after is not",
        ),
        pytest.param(
            granted(Kind.UK_PBR, "2010-01-01"), "2037-01-01", State.OPEN_END, "B21", id="range"
        ),
        pytest.param(
            with_event(EventKind.SURRENDERED, "2020-05-05"),
            "2020-05-05",
            State.IN_FORCE,
            "B20",
            id="in force to the day of surrender",
        ),
        pytest.param(
            with_event(EventKind.SURRENDERED, "2020-05-05"),
            "2020-05-06",
            State.ENDED,
            "B27",
            id="ended from the next",
        ),
        pytest.param(
            with_event(EventKind.LAPSED, "2020-05-05", final=False),
            "2020-05-06",
            State.LAPSED,
            "B26",
            id="a lapse may be restored",
        ),
        pytest.param(
            with_event(EventKind.LAPSED, "2020-05-05", final=False),
            "2035-01-02",
            State.ENDED,
            "B22",
            id="after the latest end it cannot",
        ),
        pytest.param(
            with_event(EventKind.LAPSED, "2020-05-05"),
            "2020-05-06",
            State.ENDED,
            "B26",
            id="confirmed not restored",
        ),
        pytest.param(
            with_event(EventKind.ANNULLED, "2020-05-05"),
            "2015-01-01",
            State.ANNULLED,
            "B28",
            id="annulled: as if never granted",
        ),
        pytest.param(
            with_event(EventKind.ANNULLED, "2020-05-05", final=False),
            "2021-01-01",
            State.IN_FORCE,
            "B20",
            id="an annulment not final changes nothing",
        ),
        pytest.param(
            RightFacts(Kind.UK_PBR, number="1", events=(RightEvent(EventKind.ANNOUNCED, ANY_DAY),)),
            "2021-01-01",
            State.PENDING,
            "B17",
            id="announced",
        ),
        pytest.param(
            RightFacts(
                Kind.UK_PBR,
                number="1",
                filed=day("2018-01-01"),
                events=(RightEvent(EventKind.REFUSED, day("2020-01-01")),),
            ),
            "2021-01-01",
            State.NONE,
            "B18",
            id="refused",
        ),
        pytest.param(
            granted(Kind.UK_PBR, "2010-01-01"), "2009-06-01", State.PENDING, "B17", id="not yet"
        ),
    ],
)
def test_how_a_right_stands(right, on, state, row):
    found = standing(right, day(on))
    assert (found.state, found.row) == (state, row)


def test_an_open_day_counts_at_its_cautious_end():
    right = granted(Kind.UK_PBR, "2010-01-01", Group.OTHER)
    some_day = Span(date(2034, 6, 1), date(2036, 6, 1))
    assert standing(right, some_day).state is State.IN_FORCE


def test_a_restored_right_is_in_force():
    lapse = RightEvent(EventKind.LAPSED, day("2020-05-05"), final=False)
    back = RightEvent(EventKind.RESTORED, day("2020-09-09"))
    right = RightFacts(
        Kind.US_UTILITY_PATENT,
        number="5531715",
        filed=day("2010-01-05"),
        granted=day("2012-01-03"),
        events=(lapse, back),
    )
    assert standing(right, day("2021-01-01")).state is State.IN_FORCE


@pytest.mark.parametrize(
    ("right", "problem"),
    [
        (plant_patent("2010-01-01", "2009-01-06"), RightProblem.GRANTED_BEFORE_FILED),
        (
            stated(Kind.UK_PBR, "2010-01-01", "2009-01-01"),
            RightProblem.END_BEFORE_GRANT,
        ),
        (RightFacts(Kind.US_PLANT_PATENT, number="EU 123456"), RightProblem.NUMBER_SHAPE),
        (RightFacts(Kind.US_PLANT_PATENT, territory="NL"), RightProblem.WRONG_TERRITORY),
        (
            RightFacts(
                Kind.US_PLANT_PATENT, filed=day("2010-01-01"), earliest_claimed=day("2011-01-01")
            ),
            RightProblem.CLAIMED_AFTER_FILED,
        ),
        (
            RightFacts(Kind.US_PLANT_PATENT, adjust_days=-1),
            RightProblem.NEGATIVE_ADJUSTMENT,
        ),
    ],
)
def test_what_cannot_be_right_is_named(right, problem):
    assert problem in check(right).problems


@pytest.mark.parametrize("number", ["PP9536", "US PP9,536 P2", "9536", "PP31741 P3"])
def test_plant_patent_numbers_are_read_as_people_write_them(number):
    assert check(RightFacts(Kind.US_PLANT_PATENT, number=number)).problems == ()


def test_a_us_patent_granted_on_a_wednesday_is_warned_about():
    """US patents issue on Tuesdays: every front page above is one."""
    assert RightWarning.NOT_A_TUESDAY in check(plant_patent("1995-06-19", "1996-05-08")).warnings
    for _, filed, on, _ in FRONT_PAGES:
        assert check(plant_patent(filed, on)).warnings == ()


def test_a_potato_cannot_have_a_us_plant_patent():
    """35 USC 161; MPEP 1601 reads tuber as Irish potato and Jerusalem artichoke."""
    warned = check(RightFacts(Kind.US_PLANT_PATENT), binomial="solanum tuberosum").warnings
    assert RightWarning.TUBER_PLANT_PATENT in warned


def test_years_are_held_inside_the_calendar():
    assert add_years(date(9999, 1, 1), 20) == date.max
