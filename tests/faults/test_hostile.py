"""Hostile text through every command: a few of what the command tries at length."""

from __future__ import annotations

import random

import pytest

from tests.faults import hostile

SOME = 30


@pytest.fixture
def place(garden, tmp_path, monkeypatch):
    """The garden of the test's own, in a folder with nothing beside it."""
    return hostile.copied(garden, tmp_path / "box", monkeypatch.chdir)


def test_the_calls_are_of_commands_that_there_are():
    assert set(hostile.CALLS) <= {name for name, _ in hostile.commands()}


@pytest.mark.parametrize("name", hostile.UNFIT)
def test_a_sign_that_steers_a_terminal_is_refused_everywhere(place, name):
    for slot in random.sample(hostile.every_slot(), 3):
        hostile.tried(place, slot, hostile.UNFIT[name])


def test_hostile_text_is_words_like_any_other(garden, tmp_path, monkeypatch):
    tried = [(slot, text) for slot in hostile.every_slot() for text in hostile.FIT]
    for slot, text in random.sample(tried, SOME):
        place = hostile.copied(garden, tmp_path / "box", monkeypatch.chdir)
        try:
            hostile.tried(place, slot, hostile.FIT[text])
        except BaseException as error:
            error.add_note(f"{slot.name}: {text}")
            raise
