"""What the chain costs: a look and a potting-up of a hundred, with it and without."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from registry.domain.counts import parse_count
from registry.domain.dates import FuzzyDate
from registry.ids import uuid7
from registry.services.counting import Potting, look, pot_up
from registry.services.resolve import resolve
from registry.storage import transaction
from registry.storage.engine import open_registry
from registry.storage.transaction import Recording, recording
from tests.benchmarks.startup import ortet_in
from tests.benchmarks.timing import Ratio, pair

NOW = datetime(2026, 5, 14, 10, tzinfo=UTC)
DAY = FuzzyDate.of(NOW.date())


def measure(folder: Path) -> list[Ratio]:
    """The same service on two registries, one of which does not write its entries down."""
    return [
        _pair(folder, "a look", lambda rec: _look(rec)),
        _pair(folder, "a potting-up of 100", lambda rec: _pot_up(rec)),
    ]


def _look(rec: Recording) -> object:
    target = resolve(rec.session, "N1", today=NOW.date())
    return look(rec, target, on=DAY, stands={"rooted": parse_count("5")}, went={})


def _pot_up(rec: Recording) -> object:
    target = resolve(rec.session, "N1", today=NOW.date())
    return pot_up(rec, target, Potting(parse_count("100")), on=DAY)


def _pair(folder: Path, what: str, act: Callable[[Recording], object]) -> Ratio:
    path = folder / f"{what.replace(' ', '-')}.sqlite"
    ortet = ortet_in(path)
    ortet("init", "--grower", "Jo Field", "--country", "US", "--plant-width", "4")
    ortet(
        "stick", "red hydrangea", "--owner", "me", "--count", "100000", "--number", "N1", "--open",
        "--on", "2026-01-05",
    )  # fmt: skip
    opened = open_registry(path)

    def run() -> None:
        with recording(opened.engine, path, "look", now=NOW, new_id=uuid7) as rec:
            act(rec)

    def without() -> None:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(transaction, "_added", lambda state: None)
            patch.setattr(transaction, "_changed", lambda state: None)
            patch.setattr(transaction.Recording, "_seal", lambda recording, previous: None)
            run()

    return pair(what, run, "the same without the chain", without, 1.3, rounds=9)
