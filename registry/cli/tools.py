"""Knives, secateurs and trays: what each was used on, and when it was disinfected."""

from __future__ import annotations

import click

from registry.cli.app import App, Below
from registry.cli.options import (
    Written,
    common,
    day,
    examples,
    history,
    keep_apart,
    pass_app,
    writes,
)
from registry.cli.output import past, some, table

_TRAY = click.option("--tray", is_flag=True, help="The tray of that name, not the tool.")


@click.group("tool", cls=Below)
def tool_command() -> None:
    """Knives, secateurs and trays: what was cut with each, and when it was disinfected."""


def _kind(tray: bool) -> str | None:
    return "tray" if tray else None


@tool_command.command("list")
@common
@pass_app
def tool_list(app: App) -> None:
    """Every tool and tray that an act named."""
    from registry.services.tools import tools

    with app.reading() as session:
        found = tools(session)
    app.answer(
        {
            "tools": [
                {
                    "name": one.name,
                    "kind": one.kind,
                    "uses": one.uses,
                    "used": one.used,
                    "cleaned": one.cleaned,
                }
                for one in found
            ]
        },
        *(
            table(
                ("what", "name", "acts", "last used", "last disinfected"),
                [
                    (one.kind, one.name, one.uses, one.used, one.cleaned or "not recorded")
                    for one in found
                ],
            )
            or ["No act has named a tool or a tray yet: stick, take, graft … take --tool NAME."]
        ),
    )


@tool_command.command(
    "show",
    epilog=examples(
        'tool show "red secateurs"',
    ),
)
@click.argument("name")
@_TRAY
@history
@common
@pass_app
def tool_show(app: App, name: str, tray: bool, history: bool) -> None:
    """What one was used on and when it was disinfected, the newest first."""
    from registry.services.history import of_tool
    from registry.services.tools import tool_named, uses_of

    with app.reading() as session:
        found = uses_of(session, name, _kind(tray))
        if history:
            tool = tool_named(session, name, _kind(tray))
            past(app, session, of_tool(tool.id), {"name": tool.name}, tool.name)
            return
    rows = [
        (
            one.on,
            ("disinfected, then " if one.cleaned else "") + _codes(one.codes)
            if one.codes
            else "disinfected",
        )
        for one in found
    ]
    app.answer(
        {
            "name": name,
            "uses": [
                {"on": one.on, "codes": list(one.codes), "cleaned": one.cleaned} for one in found
            ],
        },
        *(table(("day", "what"), rows) or [f"Every act with {name} was taken back."]),
    )


def _codes(codes: tuple[str, ...]) -> str:
    more = f" and {len(codes) - 6} more" if len(codes) > 6 else ""
    return " ".join(codes[:6]) + more


@tool_command.command(
    "clean",
    epilog=examples(
        'tool clean "red secateurs"',
        'tool clean "tray 4" --tray',
    ),
)
@click.argument("name")
@_TRAY
@writes
@common
@pass_app
def tool_clean(app: App, name: str, tray: bool, written: Written) -> None:
    """A tool or tray was disinfected: what it carried ends there."""
    from registry.services.tools import clean

    on = day(app, written.on)
    with app.recording("tool clean", by=written.by) as rec:
        done = clean(rec, name, _kind(tray), on=on)
        keep_apart(app, rec, written)
    app.answer(
        {"name": done.name, "kind": done.kind, "on": on.edtf},
        f"{done.name}  disinfected {on.display()}; {some(done.uses, 'act')} with it on record.",
    )
