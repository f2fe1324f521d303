"""Every finding of every case of the rows can be told, without a hole in its sentence."""

import re

import pytest

from registry.domain.verdict import Level, judge
from registry.wording.leave import Called, asks_whom, finding_text, settles
from tests.domain.test_verdict_rows import CONSENT, LINES, NO_RIGHT, RIGHTS, TERMS

CASES = [case for part in (CONSENT, RIGHTS, NO_RIGHT, TERMS, LINES) for case in part]
CALLED = Called({1: "25-0001-5"}, {1: "red mint"}, {7: "Jane"}, {100: "take what you like"})
HOLE = re.compile(r"[{}]|\bNone\b|\bTrue\b|  |Row [A-E]\d+ decides")


@pytest.mark.parametrize("asked", [pytest.param(c.values[0], id=c.id) for c in CASES])
def test_every_finding_is_a_whole_sentence(asked):
    for finding in judge(asked).findings:
        text = finding_text(finding, CALLED)
        assert not HOLE.search(text), (finding.row, text)
        assert text[0].isupper() or text[0].isdigit()
        assert text.endswith((".", ")"))


@pytest.mark.parametrize("asked", [pytest.param(c.values[0], id=c.id) for c in CASES])
def test_every_unknown_says_what_would_settle_it_and_whom_to_ask(asked):
    for finding in judge(asked).findings:
        if finding.level is Level.UNKNOWN:
            assert settles(finding, CALLED)
            assert asks_whom(finding, CALLED) or finding.row in {"A11"}, finding.row
