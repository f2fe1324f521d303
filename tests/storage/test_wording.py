"""Everything that can be wrong with a registry or a file is said in a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry import errors
from registry.domain.soundness import Fault, Problem
from registry.wording import problem
from registry.wording.storage import fault, where

PATH = Path("/nursery/registry.ortet")
FACTS = {
    "path": PATH,
    "copy": Path("/nursery/copy.ortet"),
    "revision": "0008",
    "known": "0003",
    "said": "malformed",
    "location": "postgresql://nursery/ortet",
    "why": "Permission denied",
    "problems": 2,
    "first": "Entry 3 of the chain is missing.",
}

STORAGE = (
    errors.RegistryMissing,
    errors.RegistryExists,
    errors.NotARegistry,
    errors.RegistryFromNewerProgram,
    errors.RegistryNeedsMigrate,
    errors.RegistryReadOnly,
    errors.RegistryLocked,
    errors.RegistryDamaged,
    errors.RegistryUnsupported,
    errors.StorageFull,
    errors.FileUnwritable,
    errors.FileUnreadable,
    errors.FileInTheWay,
    errors.RegistryItself,
    errors.CopyUnsound,
    errors.MigrateUnsound,
)


@pytest.mark.parametrize("kind", STORAGE)
def test_a_sentence_says_where_and_what_to_do(kind):
    said = problem(kind(**{name: FACTS[name] for name in kind.fields}))
    assert "postgresql://" in said if kind is errors.RegistryUnsupported else str(PATH) in said
    assert said.endswith(".")
    assert len(said) > len(str(PATH)) + 30
    assert "{" not in said


@pytest.mark.parametrize("kind", Fault)
def test_every_fault_has_a_sentence_that_names_the_record_or_the_entry(kind):
    said = fault(Problem(kind, "26-0002A-1", 3, "in_bench", "16", "13"))
    assert "{" not in said
    assert said.endswith(".")
    of_the_whole = (Fault.DAMAGED, Fault.CHECK_STOPPED, Fault.INDEX_WRONG)
    assert "26-0002A-1" in said or "entry 3" in said.lower() or kind in of_the_whole


def test_what_is_empty_is_called_nothing():
    said = fault(Problem(Fault.CHANGED, "26-0002A-1", 3, "medium", "sand", ""))
    assert said == "26-0002A-1: medium is sand, but nothing was recorded (entry 3)."


def test_parts_of_the_check_are_said_in_words():
    assert where("state") == "the tables"
    assert where("chain") == "the chain"
