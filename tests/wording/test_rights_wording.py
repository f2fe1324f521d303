from datetime import date

import pytest

from registry.domain.rights import Ends, RightFacts, Step, StepKind, ends
from registry.domain.rules.kinds import Kind
from registry.domain.spans import Span
from registry.wording.rights import end_lines


def test_the_sum_of_an_end_is_told_line_by_line():
    """PP9536 'Meichonar': filed 1995-06-19, granted 1996-05-07, no days of adjustment."""
    rose = RightFacts(
        Kind.US_PLANT_PATENT,
        filed=Span.on(date(1995, 6, 19)),
        granted=Span.on(date(1996, 5, 7)),
        adjust_days=0,
    )
    assert end_lines(ends(rose)) == (
        "20 years from filing: 19 June 2015 (35 USC 154(a)(2)).",
        "The recorded days of adjustment are added: 19 June 2015 (35 USC 154(b)).",
    )


def test_a_range_is_told_as_a_range():
    """Reg (EC) 2100/94 Art. 19(1), group not recorded."""
    right = RightFacts(Kind.EU_CPVR, granted=Span.on(date(2003, 2, 2)))
    assert "31 December 2028 to 31 December 2038" in end_lines(ends(right))[0]


@pytest.mark.parametrize("what", StepKind)
def test_every_step_has_its_line(what):
    step = Step(what, "citation", date(2020, 1, 1), None, 20)
    (line,) = end_lines(Ends(None, None, (step,)))
    assert line.endswith("(citation).")
    assert "{" not in line
