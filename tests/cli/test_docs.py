"""The pages that growers read name every command there is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import click

from registry.cli.app import COMMANDS, main_command

DOCS = Path(__file__).parents[2] / "docs"
ROOT = Path(__file__).parents[2]


def commands() -> Iterator[tuple[str, ...]]:
    """Every command that can be called, as its words."""
    context = click.Context(main_command)
    for name in COMMANDS:
        command = main_command.get_command(context, name)
        if isinstance(command, click.Group):
            yield from ((name, sub) for sub in command.commands)
        else:
            yield (name,)


def test_every_command_has_a_line():
    page = (DOCS / "commands.md").read_text(encoding="utf-8")
    missing = []
    for words in commands():
        # Subcommands of one group may share a line: `person add/show/list`.
        pattern = rf"`{words[0]}\b[^`]*" + (rf"\b{re.escape(words[1])}\b" if words[1:] else "")
        if not re.search(pattern, page):
            missing.append(" ".join(words))
    assert missing == []


def test_the_readme_shows_calls_that_there_are():
    page = (ROOT / "README.md").read_text(encoding="utf-8")
    calls = re.findall(r"^\$ ortet (\S+)", page, re.MULTILINE)
    assert len(calls) >= 7
    assert set(calls) <= set(COMMANDS)


def test_pages_that_the_readme_names_are_there():
    page = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in re.findall(r"`(docs/[\w.-]+)`", page):
        assert (ROOT / name).is_file(), name


def test_the_readme_shows_what_each_call_answers(nowhere, tmp_path, monkeypatch):
    """Every answer in the README is what the program says, on 14 May 2026; `...` is left out."""
    monkeypatch.chdir(tmp_path)
    page = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```\n(.*?)^```", page, re.MULTILINE | re.DOTALL)
    calls = [part for block in blocks for part in re.split(r"^\$ ortet ", block, flags=re.M)[1:]]
    assert len(calls) == 7
    for call in calls:
        line, _, shown = call.partition("\n")
        answer = nowhere(line, expect=1 if line.startswith("may") else 0)
        expected = [text for text in shown.strip().splitlines() if text != "..."]
        said = answer.out.splitlines()
        for text in filter(None, expected):
            assert text in said, f"ortet {line}: {text}"
