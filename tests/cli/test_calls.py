"""Calls that cannot be read: one plain sentence, exit code 2, nothing written."""

from __future__ import annotations

import pytest

from registry.cli.app import COMMANDS
from registry.cli.calls import MEANT
from registry.cli.options import MOST_BYTES


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
        ("batch close 1", "(lost, culled or left-as-cuttings)"),
        ("graft --count 3", "--scion is missing: what the top is"),
        ("plant add red fig", "'fig' is too much"),
        ("plant add a b c", "'b c' is too much"),
        ("stick fig \N{EM DASH}count 3", "Type two hyphens: --count"),
        ("stick fig --leave maybe --count 3", "it takes yes, no, unasked or handed-over"),
        ("plant add fig --count none", "--count 'none' cannot be read: it takes a whole number, 1"),
        ("plant add fig --count 0", "a whole number, 1 or more"),
        ("init --grower Jo --country US --number-width 9", "a whole number from 4 to 6"),
        ("label print 1 --start x", "--start 'x' cannot be read: it takes a whole number"),
        ("hold add --reason sick", "Say what to hold"),
        ("init --grower Jo", "--country is missing: ISO 3166"),
        ("plant list --most 0", "a whole number, 1 or more."),
        ("plant same F1", "CODE is missing. Type 'ortet plant same CODE CODE'"),
        ("merge", "LOT=COUNT is missing"),
        ("trace", "CODE is missing. Give a code"),
    ],
)
def test_a_call_that_cannot_be_read_says_in_one_sentence_what_to_do(ortet, line, said):
    answer = ortet.refused(line)
    assert said in answer
    assert "\n" not in answer
    assert answer.endswith((".", "?"))


@pytest.mark.parametrize("line", ["", "plant", "label"])
def test_a_group_without_a_command_shows_its_help_on_stderr(ortet, line):
    assert ("Commands:" if line else "At the bench:") in ortet.refused(line)


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


@pytest.fixture
def fig(ortet):
    """A fig, F1, on record."""
    ortet("plant add fig --owner me --number F1")
    return ortet


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("place add shelf --country Oregon", "'Oregon' is not a country"),
        ("place add shelf --country US --region GB-ENG", "a region of US"),
        ("plant add pear --stood-since 3000", "a day that is not after today"),
        ("plant add pear --number ''", "What was typed for a number is empty"),
        ("plant name F1 Rosa --said-by ''", "What was typed for a person is empty"),
        ("note F1 ''", "What was typed for a note is empty"),
        ("plant show 'fig tree'", 'ortet plant list --name "fig tree"'),
        ("pot-up F1 --count 3", "is a plant, and nothing of it stands in a bench"),
        ("look F1 --rooted 3", "ortet batch list"),
    ],
)
def test_words_that_make_no_sense_are_refused_with_what_to_do(fig, line, said):
    answer = fig.refused(line)
    assert said in answer
    assert "\n" not in answer


# --- files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("none.jpg", "No such file"),
        (".", "Is a directory"),
        ("/dev/zero", "it is no file"),
        ("empty.jpg", "it is empty"),
        ("huge.jpg", "at most 200 MB can be kept"),
    ],
)
def test_a_file_that_cannot_be_kept_leaves_nothing_recorded(fig, tmp_path, name, said):
    (tmp_path / "empty.jpg").touch()
    with (tmp_path / "huge.jpg").open("wb") as huge:
        huge.truncate(MOST_BYTES + 1)  # a hole, which takes no room
    for line in ("attach F1", "plant add pear --owner me --photo", "note F1 seen --photo"):
        assert said in fig.refused(line, str(tmp_path / name))


def test_a_file_is_kept_once_whatever_it_is_called(fig, tmp_path):
    """Any file may be kept, a picture or not: a scan, a letter, a recording of what was said."""
    (tmp_path / "one.jpg").write_bytes(b"no picture")
    (tmp_path / "two.jpg").write_bytes(b"no picture")
    fig("attach F1", str(tmp_path / "one.jpg"))
    assert "already, as one.jpg" in fig.refused("attach F1", str(tmp_path / "two.jpg"))
    fig("note F1 seen --photo", str(tmp_path / "two.jpg"))
    assert fig.ask("plant show F1")["files"] == ["one.jpg"]


def test_settings_people_and_places_do_not_move_last(fig):
    for line in ("settings set currency USD", "person add Nan", "place add bed", "label text F1"):
        fig(line)
    assert fig.ask("plant show last")["code"] == fig.ask("plant show F1")["code"]
