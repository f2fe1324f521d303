"""A damaged page, or a log that was cut: named in a sentence, and what is whole is read out."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest
from sqlalchemy import text

from registry.storage.engine import make_engine
from tests import homes
from tests.faults.places import Place, fresh

pytestmark = homes.in_a_file

PAGE = 4096
ASKED = (
    ("plant", "list"), ("plant", "show", "F1"), ("trace", "F1", "--as", "csv"), ("tally",),
    ("batch", "list", "--all"), ("verify",),
)  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A small registry, laid by without a log."""
    place = fresh(tmp_path_factory.mktemp("whole"))
    for line in (
        "plant add Rosa --owner me --number F1",
        "stick F1 --count 20 --number B1 --open",
        "pot-up B1 --count 3",
    ):
        assert place.run(*line.split()).exit == 0
    with make_engine(place.file).connect() as connection:
        connection.execute(text("PRAGMA wal_checkpoint(TRUNCATE)"))
    return place.file


def test_a_damaged_page_is_told_in_a_sentence_and_the_rest_is_read_out(whole, tmp_path):
    place, answered = Place(tmp_path / "registry.sqlite"), 0
    pages = whole.stat().st_size // PAGE
    for page in random.sample(range(1, pages), 8):
        shutil.copy(whole, place.file)
        with place.file.open("r+b") as file:
            file.seek(page * PAGE)
            file.write(b"\xa5" * PAGE)
        for words in ASKED:
            said = place.run(*words)
            assert said.exit in (0, 1, 2), (page, said)
            assert "Traceback" not in said.err, (page, said)
            assert said.exit == 0 or (said.out + said.err).strip(), (page, words)
            answered += said.exit == 0
        assert said.exit != 0, f"page {page} was damaged, and the check found nothing"
    assert answered > len(ASKED), "hardly anything was read out"


@pytest.mark.parametrize("part", [0, 0.1, 0.5, 0.9, 0.999])
def test_a_log_that_was_cut_loses_whole_entries_at_its_end_and_no_other(whole, tmp_path, part):
    place = Place(tmp_path / "open.sqlite")
    shutil.copy(whole, place.file)
    with make_engine(place.file).connect() as reader:  # so that nobody empties the log
        reader.execute(text("SELECT count(*) FROM plant"))
        for number in range(5):
            assert place.run("note", "F1", f"note {number}").exit == 0
        cut = Place(tmp_path / "cut.sqlite")
        shutil.copy(place.file, cut.file)
        log = Path(f"{place.file}-wal").read_bytes()
    Path(f"{cut.file}-wal").write_bytes(log[: int(len(log) * part)])
    checked = cut.run("verify")
    assert checked.exit == 0, checked
    stands = cut.run("plant", "show", "F1").out
    kept = [number for number in range(5) if f"note {number}" in stands]
    assert kept == list(range(len(kept)))
    assert (4 if part > 0.9 else 0) <= len(kept) < 5
