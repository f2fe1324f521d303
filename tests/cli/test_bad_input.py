"""Bad input: exit code 2, one clear sentence on stderr, nothing on stdout, nothing recorded."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from registry.services import making
from registry.storage import engine as engines
from tests import homes

STICK = 'stick "red hydrangea" --owner "Nan Ashe" --leave yes --count 10 --number B --open'


@pytest.fixture
def season(ortet):
    """A plant 1:1, and a batch B of ten of it, of which three are potted."""
    ortet(STICK)
    ortet("pot-up B --count 3")
    return ortet


def refused(ortet, line):
    """What is said about a line, which must leave everything as it was."""
    before = ortet.head()
    files = sorted(path.name for path in ortet.folder.iterdir())
    answer = ortet(line, expect=2)
    assert answer.out == ""
    assert ortet.head() == before
    assert sorted(path.name for path in ortet.folder.iterdir()) == files
    assert "\n" not in answer.err.strip()
    assert answer.err.strip().endswith((".", "?"))
    return answer.err


def code(ortet, reference):
    return ortet.ask(f"plant show {reference}")["code"]


# --- codes ---------------------------------------------------------------------------------------


def test_a_code_with_a_wrong_digit_says_which_plant_it_could_be(season):
    right = code(season, "2:1")
    for place in (0, 3, 6, 10, len(right) - 1):
        wrong = right[:place] + ("1" if right[place] != "1" else "7") + right[place + 1 :]
        said = refused(season, f"trace {wrong}")
        assert wrong in said
        assert right in said


def test_a_code_one_slip_from_nothing_recorded_names_no_plant(season):
    said = refused(season, "trace 26-0777-001-3")
    assert "26-0777-001-3" in said
    assert "plant list --name" in said


@pytest.mark.parametrize("unknown", ["99", "99:1", "Z9", "26-0099-1"])
def test_a_code_or_number_that_nothing_has_is_named(season, unknown):
    assert f"'{unknown}'" in refused(season, f"look {unknown} --rooted 3")


def test_a_word_with_a_digit_is_never_taken_for_a_name(season):
    assert "'P99'" in refused(season, "stick P99 --count 3 --open")


# --- counts --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    ["look B --rooted -3", "look B --died -1", "pot-up B --count -1", "recount B -- -2"],
)
def test_a_count_below_zero_is_refused(season, line):
    assert "less than nothing" in refused(season, line)


def test_potting_more_than_is_left_says_how_many_are(season):
    said = refused(season, "pot-up B --count 8")
    assert "8 asked" in said
    assert "only 7 are left" in said


def test_more_died_or_stand_than_there_were(season):
    assert "only 7 are left" in refused(season, "look B --died 8")
    assert "7 are left" in refused(season, "look B --rooted 5 --callused 3")


def test_a_lot_that_is_not_there_is_named_with_those_that_are(season):
    said = refused(season, "look B --rooted Z=3")
    assert "Z" in said
    assert "A" in said


def test_a_plant_without_a_count_is_asked_for_it(season):
    assert "--count" in refused(season, "stick 2:1 --open")


def test_one_lot_is_not_joined_with_itself(season):
    assert "two lots" in refused(season, "merge B=1 B=2")


# --- days ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("day", ["31 June 2026", "2026-02-30", "29 Feb 2026"])
def test_a_day_that_does_not_exist_is_refused(season, day):
    said = refused(season, f'look B --rooted 3 --on "{day}"')
    assert day in said


@pytest.mark.parametrize("day", ["4/5/25", "14 May"])
def test_a_day_that_is_not_clear_is_never_guessed(season, day):
    assert day in refused(season, f'look B --rooted 3 --on "{day}"')


def test_a_child_wholly_before_its_parent_is_refused(season):
    said = refused(season, "pot-up B --count 1 --on 2020-02-03")
    assert "3 February 2020" in said
    assert "14 May 2026" in said
    assert code(season, "2:1") in refused(season, "stick 2:1 --count 3 --taken 2020 --open")


def test_a_child_that_may_be_younger_than_its_parent_is_not(season):
    season("pot-up B --count 1 --on 2026-05~")


def test_sticking_before_taking_is_refused(season):
    said = refused(season, "stick 1:1 --count 3 --taken 2026-05-14 --on 2026-05-13 --open")
    assert "before it was taken" in said


# --- names ---------------------------------------------------------------------------------------


def test_a_name_that_two_people_share_is_asked_about(season):
    season('person add "Bram Holt"')
    season('person add "Bram Holt" --contact bram@example.org')
    said = refused(season, 'stick "blue aster" --owner "Bram Holt" --count 3 --open')
    assert "Bram Holt #1" in said
    assert "Bram Holt #2" in said
    season('stick "blue aster" --owner "Bram Holt #2" --count 3 --open')


@pytest.mark.parametrize(
    "line",
    [
        'plant add ""',
        'plant add " "',
        'stick "" --count 3 --owner me --open',
        'person add ""',
        'place add " "',
        'plant name 2:1 ""',
    ],
)
def test_an_empty_name_is_refused(season, line):
    said = refused(season, line)
    assert "empty" in said or "nothing to name" in said


def test_a_grower_needs_a_name_and_nothing_is_left_of_the_call(nowhere):
    answer = nowhere('init --grower "" --country US', expect=2)
    assert "empty" in answer.err
    assert list(nowhere.folder.iterdir()) == []


def test_a_name_nearly_that_of_a_plant_is_refused_with_its_code(season):
    said = refused(season, 'stick "red hydranga" --owner "Nan Ashe" --count 3 --open')
    assert code(season, "1:1") in said
    assert "--new" in said


# --- the registry --------------------------------------------------------------------------------


def test_a_registry_is_not_made_where_one_stands(season):
    assert str(season.path) in refused(season, 'init --grower "Jo Field" --country US')


@pytest.mark.parametrize("line", ["plant list", STICK])
@homes.in_a_file
def test_a_registry_that_is_missing_is_named(nowhere, line):
    answer = nowhere(line, expect=2)
    assert str(nowhere.path) in answer.err
    assert answer.out == ""
    assert not nowhere.path.exists()


@pytest.mark.parametrize("line", ["plant list", STICK])
@homes.in_a_file
def test_a_file_that_is_not_a_registry_is_left_alone(nowhere, line):
    nowhere.path.write_text("Dear diary", encoding="utf-8")
    answer = nowhere(line, expect=2)
    assert str(nowhere.path) in answer.err
    assert answer.out == ""
    assert nowhere.path.read_text(encoding="utf-8") == "Dear diary"


@pytest.mark.parametrize("line", ["plant list", "pot-up B --count 1"])
def test_a_registry_newer_than_the_program_is_left_alone(season, line):
    homes.edit(season.path, "UPDATE alembic_version SET version_num = '9999'")
    assert "newer" in refused(season, line)


@homes.in_a_file
def test_a_read_only_registry_answers_and_is_not_written(season, monkeypatch):
    # Permissions would not stop the superuser, whom tests may run as.
    monkeypatch.setattr(engines, "_writable", lambda path: False)
    answer = season("plant list")
    assert "red hydrangea" in answer.out
    assert "read but not written" in answer.err
    before = season.head()
    written = season("pot-up B --count 1", expect=2)
    assert written.out == ""
    assert season.head() == before
    season("may give 2:1", expect=1)
    assert season.head() == before


@homes.in_a_file
def test_a_registry_that_another_process_holds_is_waited_for_and_then_refused(season, monkeypatch):
    monkeypatch.setattr(engines, "LOCK_WAIT_MS", 50)
    with closing(sqlite3.connect(season.path)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = season("pot-up B --count 1", expect=2)
        other.rollback()
    assert answer.out == ""
    assert str(season.path) in answer.err
    season("pot-up B --count 1")


def test_a_registry_at_an_address_of_another_kind_is_not_understood(season):
    said = refused(season, "plant list --registry mysql://host/registry")
    assert "mysql://host/registry" in said


# --- papers and interruptions --------------------------------------------------------------------


@pytest.mark.parametrize("line", ["pot-up B --count 2 --labels", "label print B --out"])
@pytest.mark.parametrize("where", ["nowhere/pots.pdf", "."])
def test_a_paper_that_cannot_be_written_leaves_nothing_recorded(season, line, where):
    assert where in refused(season, f"{line} {where}")


@pytest.mark.parametrize("labels", ["", " --labels pots.pdf"])
def test_an_interruption_in_the_middle_of_a_pot_up_leaves_nothing(season, monkeypatch, labels):
    made: list[None] = []
    whole = making.make_plant

    def interrupted(*args, **kwargs):
        if len(made) == 2:
            raise KeyboardInterrupt
        made.append(None)
        return whole(*args, **kwargs)

    with monkeypatch.context() as patch:
        patch.setattr(making, "make_plant", interrupted)
        said = refused(season, f"pot-up B --count 4{labels}")
    assert "nothing was recorded" in said
    assert season.ask("batch show B")["left"] == 7
    season("pot-up B --count 7")


# --- files of the wrong kind ---------------------------------------------------------------------

COLUMNS = "taxon,territory,acts,citation\n"
FILES = {
    "folder": None,
    "empty": b"",
    "bytes": bytes(range(256)) * 4,
    "utf16": (COLUMNS + "Rosa,US,sell,a law\n").encode("utf-16"),
    "windows-1252": (COLUMNS + "Rosa,US,sell,l\N{LATIN SMALL LETTER E WITH ACUTE}gal\n").encode(
        "cp1252"
    ),
    "open quote": (COLUMNS + '"Rosa,US,sell,a law\n').encode(),
    "short": (COLUMNS + "Rosa\n").encode(),
    "other columns": b"a,b\n1,2\n",
    "deep": b"[" * 50_000,
}


def laid(name):
    """A file, or a folder, of the wrong kind, in the folder where the command is given."""
    place, content = Path("wrong"), FILES[name]
    if content is None:
        place.mkdir()
    else:
        place.write_bytes(content)
    return place


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(
    "line", ["bench", "restriction import", "verify --against", "restore --replace", "read"]
)
def test_a_file_of_the_wrong_kind_is_named_and_nothing_is_recorded(season, name, line):
    laid(name)
    said = season.refused(f"{line} wrong")
    assert "wrong" in said or said.lower().startswith(("line 1", "nothing was stored"))
    assert len(said) < 600


@pytest.mark.parametrize("name", ["folder", "empty"])
def test_an_attachment_that_is_no_file_is_refused(season, name):
    laid(name)
    assert "wrong" in refused(season, "attach 1:1 wrong")
    assert "wrong" in refused(season, 'look B --rooted 2 --photo "wrong"')


@pytest.mark.parametrize(
    "line",
    [
        "hold add 1:1 --reason",
        "recall start 1:1 --reason",
        'person blank "Nan Ashe" --reason',
        "settle 1:1 --cannot",
        "correct last --void",
    ],
)
@pytest.mark.parametrize("empty", ["", "  "])
def test_a_reason_that_is_asked_for_is_not_empty(season, line, empty):
    assert "empty" in season.refused(line, empty)


def test_labels_are_drawn_to_no_file_of_another_kind(season):
    assert ".pdf, .png, .svg or .zpl" in refused(season, "label print 2:1 --out pots.doc")
    assert ".svg or .pdf" in refused(season, "trace 1:1 --chart pots.gif")
    assert ".svg or .pdf" in refused(season, "trace 1:1 --chart .")


def test_a_span_of_days_that_ends_before_it_begins_is_refused(season):
    for line in ("trace 1:1 --from 2026 --to 2020", "tally --from 2026 --to 2020"):
        assert "not before --from" in refused(season, line)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@homes.in_a_file
def test_an_answer_that_cannot_be_written_says_so_and_the_act_stands(season):
    before = season.head()[0]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "registry", "note", "1:1", "seen",
             "--registry", str(season.path)],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.startswith("The answer could not be written out: ")
    assert done.stderr.count("\n") == 1
    assert season.head()[0] == before + 1


@pytest.mark.parametrize(
    "line", ["backup {}", "restore {} --replace", "label print B --out {}", "bench {}"]
)
def test_a_file_whose_name_is_too_long_is_told(season, line):
    said = refused(season, line.format("a" * 300))
    assert "name too long" in said
    assert len(said) < 300


@pytest.mark.parametrize(
    "line",
    [
        "correct last --void typed",
        "restriction add Fuchsia --in US --acts sell --citation list",
        "restriction import FILE",
        "restriction asks CA --of seed --said list --source office",
    ],
)
def test_words_that_there_is_nothing_to_keep_with_are_refused_not_dropped(ortet, tmp_path, line):
    rules = tmp_path / "rules.csv"
    rules.write_text((Path(__file__).parents[2] / "demo" / "restrictions.csv").read_text())
    before = len(ortet.ask("correct --list")["entries"])
    said = ortet.refused(f"{line.replace('FILE', str(rules))} --note 'seen in the paper'")
    assert "nothing here that a note or photo could be kept with" in said
    assert len(ortet.ask("correct --list")["entries"]) == before
