"""`ortet head`, `key` and `verify --against` as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests import homes

STICK = 'stick "red hydrangea" --owner me --count 16 --number B --open'


@pytest.fixture
def bench(ortet, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path.with_name(f"keys-of-{tmp_path.name}")))
    ortet(STICK)
    return ortet


def test_a_head_is_read_aloud_and_held_against_the_chain_later(bench):
    said = bench.ask("head")
    assert said["entry"] == 2
    assert said["head"] in bench("head").out
    bench("look B --died 2")
    answer = bench("verify --against", said["head"])
    assert (
        "The chain goes through the head that was kept: entry 2, and 1 entry since." in answer.out
    )


def test_a_slip_heard_wrong_is_told_by_its_group(bench):
    head = bench.ask("head")["head"]
    wrong = head[:-3] + ("0" if head[-3] != "0" else "1") + head[-2:]
    assert "Group 6 of the head" in bench.refused("verify --against", wrong)
    assert "There is no head in 'nothing'" in bench.refused("verify --against nothing")


@pytest.mark.parametrize("ending", ["txt", "json"])
def test_a_cut_tail_is_told_from_a_file_that_a_friend_keeps(bench, tmp_path, ending):
    older = homes.copied(bench.path, tmp_path / "older.sqlite")
    bench("look B --died 2")
    bench(f"head --out friend.{ending}")
    homes.copied(older, bench.path)
    assert bench("verify").exit == 0
    answer = bench(f"verify --against friend.{ending}", expect=1)
    assert "The chain ends at entry 2, but the head that was kept is of entry 3" in answer.out
    assert "1 are gone" not in answer.out


def test_a_record_written_anew_is_told(bench, tmp_path):
    bench("look B --died 2")
    older = homes.copied(bench.path, tmp_path / "older.sqlite")
    bench("look B --died 1")
    bench("head --out friend.txt")
    homes.copied(older, bench.path)
    bench("look B --rooted 9")
    answer = bench("verify --fast --against friend.txt", expect=1)
    assert "Entry 4 is not the one that stood there when the head was taken" in answer.out
    assert bench.ask("verify --against friend.txt", expect=1)["problems"][0]["what"] == "rewritten"


def test_a_signed_head_names_its_key(bench):
    made = bench.ask("key make --no-passphrase --key mine.pem")
    assert made["key"] == bench.ask("key show --key mine.pem")["key"]
    bench("head --out friend.json --key mine.pem")
    answer = bench("verify --against friend.json")
    assert f"It is signed with {made['kid']}, a key that is not the one kept here" in answer.out
    document = json.loads((bench.folder / "friend.json").read_text())
    document["statement"]["entry"] = 1
    (bench.folder / "friend.json").write_text(json.dumps(document))
    assert "was changed after it was signed" in bench.refused("verify --against friend.json")


@homes.in_a_file
def test_the_usual_key_stands_apart_from_the_registry(bench):
    """A copy of the registry's folder does not carry it along."""
    made = bench.ask("key make --no-passphrase")
    assert not Path(made["file"]).is_relative_to(bench.folder)
    bench("head --out friend.json --sign")
    assert "your own key" in bench("verify --against friend.json").out
    assert b"PRIVATE KEY" not in bench.path.read_bytes()
    assert "stands at" in bench.refused("key make --no-passphrase")


def test_a_sealed_key_is_opened_by_its_passphrase(bench, monkeypatch):
    assert "--no-passphrase" in bench.refused("key make --key mine.pem")
    monkeypatch.setenv("ORTET_PASSPHRASE", "correct horse")
    bench("key make --key mine.pem")
    bench("head --out friend.json --key mine.pem")
    monkeypatch.setenv("ORTET_PASSPHRASE", "wrong")
    assert "does not open the key" in bench.refused("head --out other.json --key mine.pem")
    assert not (bench.folder / "other.json").exists()


def test_a_passphrase_is_asked_for_in_a_terminal(bench, monkeypatch):
    bench("key make --key mine.pem", terminal="apple\napple\n")
    bench("head --out friend.json --key mine.pem", terminal="apple\n")
    bench("head --out friend.json --key mine.pem", terminal="pear\n", expect=2)


def test_a_head_of_another_registry_is_refused(bench):
    bench("head --out friend.json")
    path = bench.folder / "friend.json"
    document = json.loads(path.read_text())
    document["statement"]["registry"] = "0190a5e2-0000-7000-8000-000000000001"
    path.write_text(json.dumps(document))
    assert "the head of another registry" in bench.refused("verify --against friend.json")


def test_a_slip_is_printed_twice_on_one_page(bench):
    bench("head --out slip.pdf")
    (page,) = PdfReader(bench.folder / "slip.pdf").pages
    text = " ".join(page.extract_text().split())
    assert text.count(bench.ask("head")["head"]) >= 2


@pytest.mark.parametrize(
    "line", ["head --out head.doc", "head --sign", "head --out head.pdf --sign", "key show",
             "head --out head.json --sign", "verify --fast --rebuild"]
)  # fmt: skip
def test_what_cannot_be_done_is_refused(bench, line):
    bench.refused(line)


def test_a_fast_check_says_what_it_did_not_look_at(bench):
    everything = bench("verify --fast").out
    assert "There was no whole check to go on from" in everything
    bench("look B --died 2")
    said = bench("verify --fast").out
    assert "Since the whole check of 14 May 2026, 10:00 UTC (entry 2): 1 entry" in said
    assert "Not looked at" in said
    assert bench.ask("verify --fast")["since"] == 2
    assert bench.ask("verify")["since"] is None
