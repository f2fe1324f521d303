"""The pages that growers read name every command there is."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click

from registry.cli.app import COMMANDS, App, main_command

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


def found(words: tuple[str, ...]) -> click.Command:
    """The command that is called by these words."""
    command: click.Command = main_command
    for word in words:
        assert isinstance(command, click.Group)
        below = command.get_command(click.Context(command), word)
        assert below is not None
        command = below
    return command


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


def test_every_page_can_be_found_from_the_readme_and_no_link_is_dead():
    """From page to page: by a link, or by a path in the README and DEVELOPERS.md."""
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md"]
    for page in pages:
        text = page.read_text(encoding="utf-8")
        links = [page.parent / link for link in re.findall(r"\]\((?!http)([^)#]+)", text)]
        named = [ROOT / name for name in re.findall(r"`((?:docs|demo|tests)/[\w./-]+\.\w+)`", text)]
        for path in [*links, *named]:
            assert path.is_file(), f"{page.name}: {path}"
            if path.suffix == ".md" and path.resolve() not in pages:
                pages.append(path.resolve())
    assert {path.resolve() for path in DOCS.glob("*.md")} <= set(pages)


def test_the_developers_page_names_rooms_and_files_that_there_are():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = re.findall(r"`((?:registry|storage|tests|docs)/[\w/.]*)`", text)
    assert len(named) > 12
    for name in named:
        assert (ROOT / name).exists() or (ROOT / "registry" / name).exists(), name


def test_an_option_that_a_page_shows_is_one_of_the_program():
    """Every option in the table of commands, and every call in a block of a page."""
    known = {"--help", "--registry", "--json", "--version"}
    for words in commands():
        command = found(words)
        known |= {one for param in command.params for one in (*param.opts, *param.secondary_opts)}
    shown: set[str] = set()
    for page in (DOCS / "commands.md", DOCS / "labels.md", DOCS / "permission.md"):
        shown |= set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", page.read_text(encoding="utf-8")))
    assert len(shown) > 80
    assert shown - known == set()


def test_the_examples_of_each_help_can_be_read(tmp_path):
    """As click reads them: options there are, with values they take; nothing is recorded."""
    examples = 0
    for words in commands():
        context = click.Context(main_command, info_name="ortet", obj=App(tmp_path / "none.sqlite"))
        command = found(words)
        for line in re.findall(r"^  ortet (.+)$", command.epilog or "", re.MULTILINE):
            typed = shlex.split(line)
            assert tuple(typed[: len(words)]) == words
            command.make_context(words[-1], typed[len(words) :], parent=context)
            examples += 1
    assert examples >= 100


def test_every_option_says_what_it_is_for():
    bare = [
        (" ".join(words), one.opts[0])
        for words in commands()
        for one in found(words).params
        if isinstance(one, click.Option) and not one.hidden and not one.help
    ]
    assert bare == []


def test_every_help_of_a_command_that_wants_something_ends_with_a_call():
    """A list needs no example; whoever must give a value sees one given."""
    bare = []
    for words in commands():
        command = found(words)
        wants = [one for one in command.params if isinstance(one, click.Argument) or one.required]
        if wants and "For example:" not in (command.epilog or ""):
            bare.append(" ".join(words))
    assert bare == []


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
