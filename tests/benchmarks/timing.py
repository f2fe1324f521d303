"""Two ways timed in turn, so that a machine whose speed drifts does not decide between them."""

from __future__ import annotations

import gc
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ratio:
    """What a pair came to: medians in seconds, and the median of the pairwise ratios."""

    what: str
    against: str
    ours: float
    theirs: float
    ratio: float
    aim: float | None
    below: float | None = None

    def line(self) -> str:
        """A row of the table; an answer of few rows has a bound in seconds and no ratio to meet."""
        aims, met = [], True
        if self.aim is not None:
            aims.append(f"{self.aim:g}")
            met = self.ratio <= self.aim
        if self.below is not None:
            aims.append(f"under {self.below * 1000:g} ms")
            met = met and self.ours < self.below
        aim = ", ".join(aims)
        verdict = ("met" if met else "not met") if aims else ""
        return (
            f"| {self.what} | {self.against} | {self.ours * 1000:.2f} | {self.theirs * 1000:.2f} "
            f"| {self.ratio:.2f} | {aim} | {verdict} |"
        )


HEADING = "| what | against | ms | ms of the other | ratio | aim | |\n|---|---|---|---|---|---|---|"


def pair(
    what: str,
    ours: Callable[[], object],
    against: str,
    theirs: Callable[[], object],
    aim: float | None,
    rounds: int = 15,
    below: float | None = None,
) -> Ratio:
    """Time `ours` and `theirs` in turn, after one warm-up of each.

    Args:
        what: What is timed.
        ours: Our way.
        against: What it is held against.
        theirs: The other way.
        aim: The ratio that is hoped for; None where `below` says it.
        rounds: How many pairs are counted.
        below: The seconds that ours should stay under.
    """
    ours()
    theirs()
    a: list[float] = []
    b: list[float] = []
    # What lies in memory already, such as a graph of millions, is not Python's to look through
    # whenever an answer is large: that would be counted as the answer's.
    gc.freeze()
    for _ in range(rounds):
        a.append(_seconds(ours))
        b.append(_seconds(theirs))
    gc.unfreeze()
    ratios = [x / y for x, y in zip(a, b, strict=True)]
    return Ratio(
        what,
        against,
        statistics.median(a),
        statistics.median(b),
        statistics.median(ratios),
        aim,
        below,
    )


def process(*arguments: str, env: dict[str, str] | None = None) -> Callable[[], object]:
    """A whole process of this Python, its output thrown away."""

    def run() -> object:
        return subprocess.run(
            [sys.executable, *arguments], check=True, capture_output=True, env=env
        )

    return run


def _seconds(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start
