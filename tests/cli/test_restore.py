"""What is said of the registry that stood where a copy is brought back."""

from __future__ import annotations

from dataclasses import replace

from tests import homes


def test_a_copy_that_went_another_way_or_is_of_another_registry_is_told(ortet, tmp_path):
    copy = tmp_path / "copy.ortet"
    ortet("person add 'Nan Ashe'")
    ortet(f"backup {copy}")
    ortet(f"restore {copy} --replace")
    ortet("person add 'Ann Lee'")
    ortet(f"backup {tmp_path}/other.ortet")
    assert "It was newer" in ortet(f"restore {copy} --replace").out
    ortet("person add 'Ben Rowe'")
    said = ortet(f"restore {tmp_path}/other.ortet --replace").out
    assert "different ways after entry 2: what it has after that (2 entries) is in" in said
    begun = replace(ortet, path=homes.empty(tmp_path / "begun.ortet"))
    begun("init --grower 'Jo Field' --country US")
    said = begun(f"restore {copy} --replace").out
    assert "They are two registries: nothing in the one was recorded in the other." in said
    assert begun.ask(f"restore {copy} --replace")["shared"] == 2
