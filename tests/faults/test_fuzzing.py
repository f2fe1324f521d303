"""No parser answers with an error that is not ours."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from tests.faults import fuzzing


@pytest.mark.parametrize("target", fuzzing.TARGETS)
def test_a_parser_reads_or_refuses_whatever_it_is_given(target):
    @settings(max_examples=60)
    @given(fuzzing.texts(target))
    def one(text):
        fuzzing.given_to(target, text)

    one()


@pytest.mark.parametrize("target", fuzzing.SEEDS)
def test_what_it_starts_from_is_read(target):
    assert any(fuzzing.given_to(target, text) for text in fuzzing.SEEDS[target])
