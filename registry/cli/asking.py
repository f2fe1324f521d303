"""One question where something is not known: record it all the same, and leave it open?"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import click

from registry.cli.app import App
from registry.errors import NotRecorded

T = TypeVar("T")


def with_questions(app: App, act: Callable[[bool], T], *, open_: bool) -> T:
    """Run `act`; where only gaps stand in the way and somebody can be asked, ask once and go on.

    Args:
        app: The command's surroundings.
        act: The whole recording; takes whether open questions may stay open.
        open_: Whether `--open` was given.

    Raises:
        NotRecorded: the answer was no, nobody could be asked, or a reason is needed.
    """
    try:
        return act(open_)
    except NotRecorded as refused:
        if refused.need != "open" or not app.interactive:
            raise
        from registry.services.permission import Answer
        from registry.wording.leave import not_known_question

        answer = refused.answer
        texts = tuple(told.text for told in answer.gaps) if isinstance(answer, Answer) else ()
        if not click.confirm(not_known_question(texts), default=True, err=True):
            raise
        return act(True)
