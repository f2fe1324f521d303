"""Calls that cannot be read: one plain sentence, exit code 2, nothing written."""

from __future__ import annotations

import pytest

from registry.cli.app import COMMANDS
from registry.cli.calls import MEANT


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("stik", "Did you mean 'ortet stick'?"),
        ("undo", "Did you mean 'ortet correct last'?"),
        ("orphan", "Did you mean 'ortet plant orphan'?"),
        ("add", "'ortet plant add'"),
        ("plant shw 1", "Did you mean 'ortet plant show'?"),
        ("frobnicate", "'ortet --help' lists those there are"),
        ("place demolish", "'ortet place --help' lists those there are"),
        ("--bogus", "'ortet' has no option --bogus"),
        ("look 1 --rootd 3", "Did you mean --rooted"),
        ("look 1 --zzzzz 3", "'ortet look --help' lists those there are"),
        ("recount 1 -2", "less than nothing"),
        ("stick fig --owner", "Nothing stands behind --owner"),
        ("stick fig --open=yes --count 3", "--open stands alone"),
        ("plant add", "NAME is missing. Type 'ortet plant add NAME'"),
        ("plant end", "CODE is missing. Type 'ortet plant end CODE ...'"),
        ("plant end 1", "--how is missing (died, culled or destroyed)"),
        ("graft --count 3", "--scion is missing: what the top is"),
        ("plant add red fig", "'fig' is too much"),
        ("plant add a b c", "'b c' is too much"),
        ("stick fig \N{EM DASH}count 3", "Type two hyphens: --count"),
        ("stick fig --leave maybe --count 3", "it takes yes, no, unasked or handed-over"),
        ("plant add fig --count none", "--count 'none' cannot be read: it takes a whole number, 1"),
        ("plant add fig --count 0", "a whole number, 1 or more"),
        ("init --grower Jo --country US --number-width 9", "a whole number from 4 to 6"),
        ("label print 1 --start x", "--start 'x' cannot be read: it takes a whole number."),
        ("hold add --reason sick", "Say what to hold"),
    ],
)
def test_a_call_that_cannot_be_read_says_in_one_sentence_what_to_do(ortet, line, said):
    answer = ortet.refused(line)
    assert said in answer
    assert "\n" not in answer
    assert answer.endswith((".", "?"))


@pytest.mark.parametrize("line", ["", "plant", "label"])
def test_a_group_without_a_command_shows_its_help_on_stderr(ortet, line):
    assert "Commands:" in ortet.refused(line)


def test_a_slip_in_a_file_is_told_with_its_line(ortet, tmp_path):
    file = tmp_path / "day.txt"
    file.write_text("person add Nan\nexpect-refusal stik fig\n")
    said = ortet.refused("bench", str(file))
    assert "Line 2" in said
    assert "Did you mean 'ortet stick'?" in said


def test_words_of_newcomers_stand_for_commands_that_there_are():
    for word, meant in MEANT.items():
        assert word not in COMMANDS
        assert meant.split()[0] in {*COMMANDS, "--help"}
