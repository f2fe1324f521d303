"""What every test may use: a registry of its own, a clock that stands still, countable ids."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from functools import partial
from itertools import count
from pathlib import Path
from uuid import UUID

import pytest
from hypothesis import settings
from sqlalchemy import Engine

from registry.clock import Clock, fixed_clock
from registry.ids import NewId
from registry.location import Location
from registry.storage.engine import make_engine
from registry.storage.migrate import create, upgrade
from registry.storage.transaction import Recording, recording
from tests import homes
from tests.typed import Ortet

# A shared machine has slow moments, which are no fault of the code; and a run in continuous
# integration draws the same examples each time, so that it fails for a change and not by luck.
settings.register_profile("everywhere", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "everywhere")

MOMENT = datetime(2026, 5, 14, 10, 0, tzinfo=UTC)
"""The moment at which every test takes place, unless it says otherwise."""

Record = Callable[..., AbstractContextManager[Recording]]
"""Opens a recording: `with record("stick") as rec: …`."""


@pytest.fixture(scope="session", autouse=True)
def _utc() -> Iterator[None]:
    """A grower's day is the machine's day, so the machine stands in UTC."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()


@pytest.fixture(autouse=True)
def _clean_environment(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """No setting of the developer's reaches a test, and no test reaches the developer's files."""
    for name in [name for name in os.environ if name.startswith("ORTET_")]:
        monkeypatch.delenv(name)
    home = str(tmp_path_factory.getbasetemp() / "home")
    for name in ("HOME", "USERPROFILE", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, home)
    monkeypatch.setenv("COLUMNS", "1000")  # a table in a narrow terminal breaks its lines


@pytest.fixture(autouse=True)
def _no_registry_stays() -> Iterator[None]:
    """What a test made on the server goes after it; what several tests share is older."""
    before = homes.made()
    yield
    for name in set(homes.made()).difference(before):
        homes.gone(name)


@pytest.fixture(autouse=homes.SERVER is not None)
def _copies_in_a_folder_that_goes(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Copies of a registry on a server are put where one works: never among the sources."""
    monkeypatch.chdir(tmp_path_factory.mktemp("work"))


@pytest.fixture
def moment() -> datetime:
    """14 May 2026, ten o'clock UTC."""
    return MOMENT


@pytest.fixture
def clock() -> Clock:
    """A clock that stands still."""
    return fixed_clock(MOMENT)


@pytest.fixture
def new_id() -> NewId:
    """Identifiers 1, 2, 3 …, whatever the moment."""
    given = [0]

    def make(moment: datetime) -> UUID:
        given[0] += 1
        return UUID(int=given[0])

    return make


@pytest.fixture(scope="session")
def file_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty registry in a file with every table, migrated once for all tests: only copy it."""
    path = tmp_path_factory.mktemp("template") / "registry.ortet"
    create(path)
    return path


@pytest.fixture(scope="session")
def registry_template(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Location:
    """An empty registry with every table, migrated once for all tests: copy it, never open it."""
    if homes.SERVER is None:
        template: Path = request.getfixturevalue("file_template")
        return template
    location = homes.empty(tmp_path_factory.mktemp("template") / "registry.ortet")
    upgrade(make_engine(location))
    return location


@pytest.fixture
def registry_file(registry_template: Location, tmp_path: Path) -> Location:
    """A registry of the test's own, empty, with every table."""
    return homes.copied(registry_template, tmp_path / "registry.ortet")


@pytest.fixture
def engine(registry_file: Location) -> Engine:
    """The engine of the test's own registry."""
    return make_engine(registry_file)


@pytest.fixture
def record(engine: Engine, registry_file: Location, new_id: NewId) -> Record:
    """Opens recordings in the test's own registry, at the fixed moment."""
    return partial(recording, engine, registry_file, now=MOMENT, new_id=new_id)


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, new_id: NewId) -> Ortet:
    """The command in an empty folder, where no registry stands yet."""
    monkeypatch.chdir(tmp_path)
    return Ortet(homes.empty(tmp_path / "registry.sqlite"), MOMENT, new_id)


@pytest.fixture(scope="session")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Location:
    """Jo Field's registry in Oregon, made once for all tests: copy it, never open it."""
    location = homes.empty(tmp_path_factory.mktemp("begun") / "registry.sqlite")
    ortet = Ortet(location, MOMENT, lambda _: UUID(int=1))
    ortet('init --grower "Jo Field" --country US --region US-OR --began 2015-01-01')
    return ortet.path


@pytest.fixture(scope="module")
def shared_ortet(begun: Location, tmp_path_factory: pytest.TempPathFactory) -> Ortet:
    """Jo Field's registry for a whole module, whose tests only ask it, or are refused."""
    given = count(2)  # the registry has the first one
    location = homes.copied(begun, tmp_path_factory.mktemp("shared") / "registry.sqlite")
    return Ortet(location, MOMENT, lambda moment: UUID(int=next(given)))


@pytest.fixture
def ortet(begun: Location, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, new_id: NewId) -> Ortet:
    """The command in a folder where Jo Field's registry stands, with nothing in it yet."""
    monkeypatch.chdir(tmp_path)
    new_id(MOMENT)  # the registry has the first one
    return Ortet(homes.copied(begun, tmp_path / "registry.sqlite"), MOMENT, new_id)
