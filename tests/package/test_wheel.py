"""What is built and sent out is whole: it upgrades a registry without the checkout beside it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from registry.storage.revision import HEAD

CHECKOUT = Path(__file__).parents[2]

BUILD = "import sys; from hatchling.build import build_wheel; print(build_wheel(sys.argv[1]))"

USE = """
import json
import sys
from pathlib import Path
import registry
from registry.storage.engine import open_registry
from registry.storage.migrate import create, migrations_folder
create(Path(sys.argv[1]))
opened = open_registry(Path(sys.argv[1]))
print(json.dumps({
    "package": registry.__file__,
    "migrations": str(migrations_folder()),
    "revision": opened.revision,
}))
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built by the backend itself: no network, no environment of its own."""
    folder = tmp_path_factory.mktemp("wheel")
    built = subprocess.run(
        [sys.executable, "-c", BUILD, str(folder)],
        cwd=CHECKOUT,
        check=True,
        capture_output=True,
        text=True,
    )
    return folder / built.stdout.split()[-1]


@pytest.fixture(scope="module")
def unpacked(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel's files, away from the checkout."""
    folder = tmp_path_factory.mktemp("unpacked")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


def tracked(*folders: str) -> set[str]:
    """The files of the checkout that git knows or would take."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", *folders],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=True,
    )
    return {name for name in listed.stdout.splitlines() if (CHECKOUT / name).exists()}


def test_every_migration_is_shipped_and_nothing_else_beside_them(unpacked):
    shipped = {
        f"migrations/{file.relative_to(unpacked / 'registry' / 'migrations').as_posix()}"
        for file in (unpacked / "registry" / "migrations").rglob("*")
        if file.is_file()
    }
    assert shipped == tracked("migrations")


def test_the_package_is_shipped_whole_with_no_tests_in_it(unpacked):
    shipped = {
        file.relative_to(unpacked).as_posix()
        for file in unpacked.rglob("*")
        if file.is_file() and not file.relative_to(unpacked).parts[0].endswith(".dist-info")
    }
    shipped = {name for name in shipped if not name.startswith("registry/migrations/")}
    assert shipped == tracked("registry")
    assert "registry/py.typed" in shipped


def test_a_registry_is_made_and_opened_from_the_wheel_alone(unpacked, tmp_path):
    environment = {**os.environ, "PYTHONPATH": str(unpacked)}
    used = subprocess.run(
        [sys.executable, "-c", USE, str(tmp_path / "registry.ortet")],
        cwd=tmp_path,
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    said = json.loads(used.stdout)
    assert said["package"] == str(unpacked / "registry" / "__init__.py")
    assert said["migrations"] == str(unpacked / "registry" / "migrations")
    assert said["revision"] == HEAD


def test_the_licence_and_the_command_are_in_the_wheel(unpacked):
    (about,) = unpacked.glob("*.dist-info")
    assert "ortet = registry.cli:main" in (about / "entry_points.txt").read_text()
    assert list(about.rglob("LICENSE*"))
