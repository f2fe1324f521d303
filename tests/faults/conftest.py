"""A garden that several faults fall upon, made once."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults import hostile


@pytest.fixture(scope="session")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the registry of `hostile.garden`: copy it, never write in it."""
    folder = tmp_path_factory.mktemp("garden") / "garden"
    folder.mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        hostile.garden(folder)
    return folder
