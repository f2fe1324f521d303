"""`verify`, `backup`, `restore` and `migrate` as they are typed."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import pytest
from click.testing import CliRunner

from registry.cli.app import App, main_command
from registry.clock import Clock
from registry.storage.engine import make_engine
from tests import homes
from tests.storage.makers import add_garden


class Said(NamedTuple):
    code: int
    out: str
    err: str

    @property
    def json(self):
        return json.loads(self.out)


@pytest.fixture
def garden(record, registry_file):
    add_garden(record)
    return registry_file


@pytest.fixture
def ortet(clock: Clock, registry_file: Path):
    """Runs a command on the test's own registry, at the fixed moment."""

    def run(*words: object) -> Said:
        result = CliRunner().invoke(
            main_command, [str(word) for word in words], obj=App(registry_file, clock=clock)
        )
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Said(result.exit_code, result.stdout, result.stderr)

    return run


def tamper(path: Path, statement: str = "UPDATE lot SET in_bench = 16") -> None:
    homes.edit(path, statement)


def test_a_sound_registry_verifies(garden, ortet):
    said = ortet("verify")
    assert said.code == 0
    assert "All is as it was recorded: 3 entries" in said.out
    assert said.err == ""
    assert ortet("verify", "--json").json["ok"] is True


def test_a_count_changed_behind_the_back_is_told_with_its_lot_and_entry(garden, ortet):
    tamper(garden)
    said = ortet("verify")
    assert said.code == 1
    assert "26-0002A-1: in_bench is 16, but 13 was recorded (entry 3)." in said.out
    assert "In the tables:" in said.out
    assert "its movements come to 13" in said.out
    assert said.err == ""


def test_what_is_wrong_has_documented_keys(garden, ortet):
    tamper(garden)
    said = ortet("verify", "--json")
    assert said.code == 1
    assert said.json["ok"] is False
    assert said.json["more"] == 0
    assert said.json["problems"][0] == {
        "where": "state",
        "what": "changed",
        "record": "26-0002A-1",
        "entry": 3,
        "column": "in_bench",
        "found": "16",
        "expected": "13",
        "says": "26-0002A-1: in_bench is 16, but 13 was recorded (entry 3).",
    }


@homes.in_a_file
def test_a_copy_gets_a_dated_name_beside_the_registry_or_in_a_folder(garden, ortet, tmp_path):
    assert ortet("backup", "--json").json["copy"] == str(
        garden.with_name("registry.backup-20260514T100000Z.ortet")
    )
    folder = tmp_path / "stick"
    folder.mkdir()
    said = ortet("backup", folder)
    assert said.code == 0
    assert said.out.startswith(f"Copied to {folder / 'registry.backup-20260514T100000Z.ortet'} (")
    assert "3 entries" in said.out


@homes.in_a_file
def test_only_the_newest_copies_of_this_registry_stay(garden, ortet, tmp_path):
    folder = tmp_path / "stick"
    folder.mkdir()
    ours = [folder / f"registry.backup-2026050{day}T100000Z.ortet" for day in (1, 2, 3)]
    others = [folder / "registry2.backup-20260501T100000Z.ortet", folder / "photo.jpg"]
    for file in ours + others:
        file.touch()
    said = ortet("backup", folder, "--keep", 2, "--json")
    assert said.json["removed"] == [str(ours[0]), str(ours[1])]
    assert ours[2].exists()
    assert all(file.exists() for file in others)


def dated_copies(folder, *days):
    folder.mkdir()
    copies = [folder / f"registry.backup-202605{day:02}T100000Z.ortet" for day in days]
    for copy in copies:
        copy.touch()
    return copies


@homes.in_a_file
def test_copies_are_kept_by_their_age(garden, ortet, tmp_path):
    """Today is 14 May 2026, ten o'clock; a copy of that hour seven days ago just stays."""
    old, week, fresh = dated_copies(tmp_path / "stick", 6, 7, 13)
    said = ortet("backup", tmp_path / "stick", "--keep-days", 7, "--json")
    assert said.json["removed"] == [str(old)]
    assert week.exists()
    assert fresh.exists()


@homes.in_a_file
def test_a_copy_stays_that_either_rule_keeps(garden, ortet, tmp_path):
    copies = dated_copies(tmp_path / "stick", 1, 2, 3, 13)
    said = ortet("backup", tmp_path / "stick", "--keep", 3, "--keep-days", 5, "--json")
    assert said.json["removed"] == [str(copy) for copy in copies[:2]]
    assert ortet("backup", tmp_path / "stick", "--keep", 1, "--keep-days", 9999).code == 0
    assert copies[2].exists()


def test_no_older_copy_goes_for_one_in_which_something_is_amiss(garden, ortet, tmp_path):
    (old,) = dated_copies(tmp_path / "stick", 1)
    tamper(garden, "UPDATE chain_head SET seq = 2")
    said = ortet("backup", tmp_path / "stick", "--keep", 1)
    assert said.code == 1
    assert "No older copy was taken away" in said.out
    assert old.exists()


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM line",
        "INSERT INTO line (node_id, root_id) VALUES (2, 2)",
        "DELETE FROM name_search",
        "UPDATE name_search SET shown = 'Rosa'",
    ],
)
def test_lists_that_follow_from_the_records_are_made_anew(garden, ortet, statement):
    tamper(garden, statement)
    said = ortet("verify")
    assert said.code == 1
    assert "'ortet repair' makes these lists anew" in said.out
    mended = ortet("repair")
    assert mended.code == 0, mended
    assert "All is as it was recorded: 3 entries" in mended.out


def test_repairing_hides_nothing_else(garden, ortet):
    tamper(garden)
    tamper(garden, "DELETE FROM line")
    said = ortet("repair")
    assert said.code == 1
    assert "in_bench is 16, but 13 was recorded (entry 3)" in said.out
    assert "inherited names" not in said.out


def test_a_registry_that_was_brought_back_says_so(garden, ortet, tmp_path):
    ortet("backup", tmp_path / "copy.ortet")
    said = ortet("restore", tmp_path / "copy.ortet", "--replace")
    assert said.code == 0
    assert "newer" not in said.out
    with make_engine(garden).connect() as connection:
        header = connection.exec_driver_sql(
            "SELECT header FROM chain_entry WHERE seq = 4"
        ).scalar_one()
    assert json.loads(header)["what"] == "restore"
    assert json.loads(header)["more"] == {"from": "copy.ortet", "instead_of": 3}
    assert ortet("verify").code == 0


def test_what_is_missing_from_an_older_copy_is_told_as_it_is_brought_back(garden, ortet, tmp_path):
    ortet("backup", tmp_path / "copy.ortet")
    ortet("restore", tmp_path / "copy.ortet", "--replace")  # which is an entry more
    said = ortet("restore", tmp_path / "copy.ortet", "--replace")
    assert (
        "It was newer: what was recorded after entry 3 (1 entry) is in that file alone." in said.out
    )


@homes.in_a_file
@pytest.mark.skipif(shutil.which("sqlite3") is None, reason="the sqlite3 shell is not installed")
def test_a_count_edited_with_the_shell_of_sqlite_is_told_with_its_record_and_entry(garden, ortet):
    subprocess.run(["sqlite3", garden, "UPDATE lot SET in_bench = 12"], check=True)
    said = ortet("verify")
    assert said.code == 1
    assert "26-0002A-1: in_bench is 12, but 13 was recorded (entry 3)." in said.out


def test_a_file_is_written_over_only_when_asked(garden, ortet, tmp_path):
    target = tmp_path / "copy.ortet"
    assert ortet("backup", target).code == 0
    said = ortet("backup", target)
    assert (said.code, said.out) == (2, "")
    assert "stands there already" in said.err
    assert ortet("backup", target, "--replace").code == 0


def test_a_copy_of_a_changed_chain_is_made_and_told(garden, ortet, tmp_path):
    tamper(garden, "UPDATE chain_head SET seq = 2")
    said = ortet("backup", tmp_path / "copy.ortet")
    assert said.code == 1
    assert "The chain ends at entry 3, but its head says otherwise" in said.out
    assert (tmp_path / "copy.ortet").exists()


def test_a_copy_comes_back(garden, ortet, tmp_path):
    ortet("backup", tmp_path / "copy.ortet")
    tamper(garden)
    refused = ortet("restore", tmp_path / "copy.ortet")
    assert (refused.code, refused.out) == (2, "")
    said = ortet("restore", tmp_path / "copy.ortet", "--replace")
    assert said.code == 0
    assert "is kept as" in said.out
    assert ortet("verify").code == 0


def test_a_copy_that_does_not_check_out_comes_back_only_anyway(garden, ortet, tmp_path):
    copy = tmp_path / "copy.ortet"
    ortet("backup", copy)
    tamper(copy)
    refused = ortet("restore", copy, "--replace")
    assert (refused.code, refused.out) == (2, "")
    assert "2 things are wrong, first: 26-0002A-1: in_bench is 16" in refused.err
    assert "--anyway" in refused.err
    said = ortet("restore", copy, "--replace", "--anyway", "--json")
    assert said.code == 0
    assert said.json["ok"] is False


def test_a_registry_of_today_needs_no_migration(garden, ortet):
    said = ortet("migrate")
    assert said.code == 0
    assert "nothing to do" in said.out
    assert ortet("migrate", "--json").json["copy"] is None


@pytest.mark.parametrize("command", ["verify", "backup", "migrate"])
@homes.in_a_file
def test_there_must_be_a_registry(ortet, registry_file, command):
    registry_file.unlink()
    said = ortet(command)
    assert (said.code, said.out) == (2, "")
    assert f"There is no registry at {registry_file}" in said.err


@pytest.mark.parametrize("command", ["verify", "backup", "restore", "migrate"])
def test_each_has_help(ortet, command):
    said = ortet(command, "--help")
    assert said.code == 0
    assert "--registry" in said.out
    assert "--json" in said.out
