"""What starting costs, as whole processes."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.timing import Ratio, pair, process


def environment(path: Path) -> dict[str, str]:
    """The surroundings of a process that uses the registry at `path` and keeps its bytecode."""
    env = {**os.environ, "ORTET_REGISTRY": str(path)}
    env.pop("PYTHONDONTWRITEBYTECODE", None)
    return env


def ortet_in(path: Path) -> Callable[..., object]:
    """Runs `ortet` on the registry at `path`."""
    return lambda *arguments: process("-m", "registry", *arguments, env=environment(path))()


def measure(folder: Path) -> list[Ratio]:
    """`--help` against importing click, a trace against importing click and the ORM."""
    path = folder / "small.sqlite"
    env = environment(path)
    ortet = ortet_in(path)
    ortet("init", "--grower", "Jo Field", "--country", "US")
    ortet(
        "stick",
        "red hydrangea, side gate",
        "--owner",
        "Nan Ashe",
        "--leave",
        "yes",
        "--lot",
        "10,soft",
        "--number",
        "N1",
        "--open",
    )
    ortet("pot-up", "N1", "--count", "8")
    return [
        pair(
            "ortet --help",
            process("-m", "registry", "--help", env=env),
            'python -c "import click"',
            process("-c", "import click", env=env),
            1.2,
        ),
        pair(
            "ortet trace, small registry",
            process("-m", "registry", "trace", "last", "--up", env=env),
            'python -c "import click, sqlalchemy.orm"',
            process("-c", "import click, sqlalchemy.orm", env=env),
            1.3,
        ),
    ]
