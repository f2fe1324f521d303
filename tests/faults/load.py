"""Growers who record one act after another at random, as they would in a busy week."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.places import Place, Said

TOO_LATE = (
    "left in it. Give what was really there",
    "Nothing is left in the bench of",
    "has no potted plants that could leave",
    "left or died without a code being said",
    "and did not finish within five",
)
"""What somebody is told who comes too late: what was there is used up by now."""


@dataclass
class Grower:
    """One who works at a registry with others.

    Attributes:
        name: stands in every own number, so that growers are told apart.
        dice: decides what is done.
        scratch: a folder for a picture to attach.
        batches: batches that may be counted, others' as well.
        codes: every code that was given to this grower.
        totals: what was recorded, by what was acknowledged.
        refused: which of `TOO_LATE` was said, how often.
    """

    place: Place
    name: str
    dice: random.Random
    scratch: Path
    batches: list[str] = field(default_factory=list)
    founders: list[str] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)
    totals: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    _made: int = 0

    def act(self) -> Said:
        """Record one act, whichever comes up.

        Raises:
            AssertionError: it was refused, and not for coming too late.
        """
        said = self.dice.choices(*_CHOICES)[0](self)
        if said.exit == 0:
            self.totals["entries"] += 1
        else:
            assert said.exit == 2, said
            told = next((words for words in TOO_LATE if words in said.err), None)
            assert told, said.err
            self.refused[told] += 1
        return said

    def _run(self, *words: str) -> tuple[Said, dict[str, list[dict[str, str]]]]:
        said = self.place.run(*words, "--json")
        return said, json.loads(said.out) if said.exit == 0 and said.out else {}

    def _number(self) -> str:
        self._made += 1
        return f"{self.name}{self._made}"

    def add_plant(self) -> Said:
        """A stock plant of somebody's."""
        number = self._number()
        said, made = self._run(
            "plant", "add", f"Rosa ‘{number}’", "--owner", "me", "--number", number
        )
        self.codes += [row["code"] for row in made.get("made", []) if row["code"]]
        if said.exit == 0:
            self.founders.append(number)
        return said

    def stick(self) -> Said:
        """A batch of a new plant."""
        number, n = self._number(), self.dice.randint(5, 40)
        said, made = self._run(
            "stick", f"Hydrangea ‘{number}’", "--owner", "me", "--count", str(n), "--open",
            "--number", number,
        )  # fmt: skip
        if said.exit == 0:
            self.batches.append(number)
            self.totals["stuck"] += n
            self.codes += [row["code"] for row in made["lots"]]
            self.codes += [row["code"] for row in made["made"]]
        return said

    def look(self) -> Said:
        """Some of a batch rooted, some died."""
        died = self.dice.randint(1, 3)
        said, _ = self._run("look", self._batch(), "--died", str(died))
        if said.exit == 0:
            self.totals["lost in the bench"] += died
        return said

    def pot_up(self) -> Said:
        """Some of a batch move into pots."""
        n = self.dice.randint(1, 8)
        said, made = self._run("pot-up", self._batch(), "--count", str(n))
        if said.exit == 0:
            self.totals["potted"] += n
            self.codes += [row["code"] for row in made["plants"]]
        return said

    def give(self) -> Said:
        """A pot of a batch is given away; which one is not said."""
        said, _ = self._run(
            "give", self._batch(), "--count", "1", "--to", self.dice.choice(("Ann", "Bob")),
            "--purpose", "private", "--open",
        )  # fmt: skip
        if said.exit == 0:
            self.totals["given"] += 1
        return said

    def note(self) -> Said:
        """Words about a batch."""
        return self._run("note", self._batch(), "looked well, “strong” ×")[0]

    def attach(self) -> Said:
        """A picture of a few hundred kilobytes, so that some writes take their time."""
        picture = self.scratch / f"{self.name}.jpg"
        picture.write_bytes(self.dice.randbytes(self.dice.randint(1_000, 400_000)))
        return self._run("attach", self._batch(), str(picture))[0]

    def name_plant(self) -> Said:
        """An opinion about a plant; it may be another's turn next."""
        if not self.founders:
            return self.add_plant()
        return self._run(
            "plant", "name", self.dice.choice(self.founders), f"Rosa ‘Number {self._number()}’"
        )[0]

    def _batch(self) -> str:
        return self.dice.choice(self.batches)


_ACTS: dict[Callable[[Grower], Said], int] = {
    Grower.add_plant: 2,
    Grower.stick: 3,
    Grower.look: 4,
    Grower.pot_up: 4,
    Grower.give: 2,
    Grower.note: 2,
    Grower.attach: 2,
    Grower.name_plant: 1,
}
_CHOICES = (list(_ACTS), list(_ACTS.values()))
