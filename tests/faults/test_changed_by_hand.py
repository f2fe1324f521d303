"""A value that no command records stops an answer with a sentence that names it, not a crash."""

from __future__ import annotations

import pytest

from tests import homes

pytestmark = homes.in_a_file  # a server keeps every column to its type


@pytest.mark.parametrize(
    ("statement", "command", "named"),
    [
        ("UPDATE lot SET in_bench = 'many'", "due", "in_bench is many, but 10 was recorded"),
        (
            "UPDATE lot SET stuck_edtf = 'soon', stuck_first = 'soon'",
            "batch show N26",
            "stuck_edtf is soon",
        ),
        ("UPDATE registry SET settings = '['", "person list", "settings is ["),
        ("UPDATE registry SET uuid = 'one'", "head", "uuid is one"),
        ("DELETE FROM registry", "due", "registry 1 was recorded"),
        ("UPDATE chain_entry SET header = '{}' WHERE seq = 2", "correct --list", "Entry 2"),
        (
            "UPDATE chain_entry SET header = printf('%.*c', 100000, '[') WHERE seq = 2",
            "correct --list",
            "Entry 2",
        ),
        ("UPDATE chain_part SET body = 'words'", "plant show NAN-1 --history", "entry 1"),
        ("UPDATE chain_head SET seq = 'x'", "look N26 --died 1", "its head says otherwise"),
    ],
)
def test_a_value_of_another_kind_is_named(ortet, statement, command, named):
    ortet('plant add "Rosa rugosa" --owner "Nan Ashe" --number NAN-1')
    ortet("stick NAN-1 --count 12 --number N26 --open")
    ortet("look N26 --died 2")
    homes.edit(ortet.path, statement)
    told = ortet.refused(command)
    assert "is damaged" in told
    assert named in told
    assert "ortet restore" in told


def test_a_slip_of_the_program_is_not_laid_to_the_registry(ortet, monkeypatch):
    ortet("due")
    monkeypatch.setattr("registry.cli.app.App.answer", lambda *a, **k: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        ortet("due", expect=1)
