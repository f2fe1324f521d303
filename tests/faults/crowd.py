"""Many at once: totals are exact, codes never clash, nothing is taken twice."""

from __future__ import annotations

import json
import os
import random
from collections import Counter
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.faults.killing import forked
from tests.faults.load import Grower
from tests.faults.places import ENGINES_OWN, Place, anywhere
from tests.faults.table import Row

SHARED = 6
"""Batches that everybody counts, so that some come too late."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What a grower's process has to say at the end."""

    codes: list[str]
    totals: Counter[str]
    refused: Counter[str]


def run(folder: Path, processes: int, acts: int, seed: int = 8) -> Row:
    """Have `processes` growers record `acts` acts each, at once, in a registry in `folder`."""
    dice = random.Random(seed)
    place = anywhere(folder)
    owner = Grower(place, "shared", dice, folder)
    while len(owner.batches) < SHARED:
        assert owner.stick().exit == 0
    told = _work_at_once(place, folder, owner.batches, processes, acts, dice)
    totals, refused = Counter(owner.totals), Counter[str]()
    for one in told:
        totals += one.totals
        refused += one.refused
    codes = [*owner.codes, *(code for one in told for code in one.codes)]
    assert len(codes) == len(set(codes)), "a code was given twice"
    # `stick` of the shared batches is not counted as an act; the first entry is `init`.
    assert len(place.hashes()) == 1 + SHARED + totals["entries"]
    _check_tally(place, totals)
    place.check()
    return Row(
        f"{processes} processes with {acts} mixed acts each, at once",
        processes * acts,
        f"{totals['entries']} recorded, {refused.total()} too late and told so in a sentence; "
        f"{len(codes)} codes given, none twice",
        "every total of `tally` is the sum of what was acknowledged; no lot below zero; "
        f"`verify`, {ENGINES_OWN}",
    )


def _work_at_once(
    place: Place, folder: Path, shared: list[str], processes: int, acts: int, dice: random.Random
) -> list[_Told]:
    answers = [folder / f"{number}.json" for number in range(processes)]
    children = [
        forked(partial(_work, place, answer, shared, acts, dice.randrange(1_000_000)))
        for answer in answers
    ]
    ends = [os.waitpid(child, 0)[1] for child in children]
    assert ends == [0] * processes, "a grower's process failed; what it said stands above"
    return [
        _Told(told["codes"], Counter(told["totals"]), Counter(told["refused"]))
        for told in (json.loads(answer.read_text()) for answer in answers)
    ]


def _work(place: Place, answer: Path, shared: list[str], acts: int, seed: int) -> None:
    grower = Grower(
        place,
        f"p{answer.stem}n",
        random.Random(seed),
        answer.parent,
        list(shared),
    )
    for _ in range(acts):
        grower.act()
    told = {"codes": grower.codes, "totals": grower.totals, "refused": grower.refused}
    answer.write_text(json.dumps(told))


def _check_tally(place: Place, totals: Counter[str]) -> None:
    tally: Counter[str] = Counter()
    for row in json.loads(place.run("tally", "--json").out)["rows"]:
        tally[row["act"]] += row["count"]
    for act in ("stuck", "lost in the bench", "potted", "given"):
        assert tally[act] == totals[act], act
    batches = json.loads(place.run("batch", "list", "--all", "--json").out)["batches"]
    left = [batch["left"] for batch in batches]
    assert min(left) >= 0
    assert sum(left) == totals["stuck"] - totals["lost in the bench"] - totals["potted"]
