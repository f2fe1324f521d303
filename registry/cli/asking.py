"""The verdict around an act: one question before it is recorded, and what is said after."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from registry.cli.app import App
from registry.domain.codes import looks_like_code
from registry.errors import NearMatch, NotRecorded

if TYPE_CHECKING:
    from registry.domain.verdict.facts import Paper
    from registry.services.permission import Given

T = TypeVar("T")
F = TypeVar("F", bound=Callable[..., Any])


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
        from registry.wording.leave import in_short, not_known_question

        answer = refused.answer
        gaps = answer.gaps if isinstance(answer, Answer) else ()
        question = not_known_question(tuple(in_short(gap.row, gap.text) for gap in gaps))
        if not click.confirm(question, default=True, err=True):
            raise
        return act(True)


def ask_owner(app: App, owner: str | None, names: Sequence[str]) -> str | None:
    """The owner of plants that are new by name: asked where nobody said and somebody can be asked.

    Without a terminal nothing is filled in: the owner is then not recorded.
    """
    from registry.services.records import is_known_number

    new = [name for name in names if not looks_like_code(name)]
    if owner is not None or not app.interactive or not new:
        return owner
    with app.reading() as session:
        if all(is_known_number(session, name) for name in new):
            return None
    typed: str = click.prompt(
        "Whose is it? (me, a name, or Enter if nobody knows)",
        default="",
        show_default=False,
        err=True,
    )
    return typed.strip() or "unknown"


def is_that_plant(app: App, near: NearMatch) -> str | None:
    """Ask whether a plant on record is meant by a name like its own; its code, or None for no.

    Raises:
        NearMatch: nobody can be asked.
    """
    if not app.interactive:
        raise near
    for code, name in near.plants:
        if click.confirm(f"'{near.typed}': is it {code} ({name})?", default=True, err=True):
            return code
    return None


def given_lines(given: Given) -> list[str]:
    """What stands behind a recorded act: reasons, conditions, then what is not known yet."""
    from registry.wording.leave import comes_up, in_short

    lines = []
    if given.history:
        lines.append("Before the registry began: kept as history, whatever the answer is.")
    if given.anyway:
        against = "against a no" if given.level == "barred" else "though it is not known"
        lines.append(f"Recorded {against}, with the reason: {given.anyway}")
    told = given.answer.findings
    if given.level in ("barred", "unknown"):
        against_it = [
            f for f in told if f.level == "barred" or (f.level == "unknown" and f.unknown == "sign")
        ]
        lines += [f"  {finding.text} ({finding.row})" for finding in against_it]
    lines += [f"Mind: {finding.text}" for finding in told if finding.level == "conditional"]
    if given.questions:
        lines.append("Not known yet:")
        asked = (f"  {in_short(gap.row, gap.text)} – {gap.plant}" for gap in given.questions)
        lines += dict.fromkeys(asked)  # two consents can leave the same question
        lines.append(f"{comes_up(given.answer.act)} 'ortet due --questions' lists what is open.")
    return lines


def given_facts(given: Given) -> dict[str, Any]:
    """The documented keys of an act's verdict."""
    return {
        "verdict": given.level,
        "questions": [
            {"row": gap.row, "plant": gap.plant, "text": gap.text} for gap in given.questions
        ],
    }


def going_option(function: F) -> F:
    """Adds where plants go and what goes with them, handed over as one `going`."""

    def gather(
        *args: Any, to_place: Any, by_post: Any, to_trader: Any, papers: Any, seed: Any, **rest: Any
    ) -> Any:
        from registry.domain.rules.countries import parse_place
        from registry.services.permission import Going

        going = Going(
            to=parse_place(to_place) if to_place is not None else None,
            to_trader=to_trader,
            by_post=by_post,
            papers=_papers(papers),
            seed=seed,
        )
        return function(*args, going=going, **rest)

    gather.__doc__ = function.__doc__
    gather.__name__ = function.__name__
    gather.__click_params__ = getattr(function, "__click_params__", [])  # type: ignore[attr-defined]  # click's own
    wrapped: Any = gather
    for option in (
        click.option("--seed", is_flag=True, help="Seed goes, not plants."),
        click.option(
            "--papers", multiple=True, metavar="WORD", help="What goes with them: phytosanitary …"
        ),
        click.option("--to-trader", is_flag=True, help="Who gets them trades in plants."),
        click.option("--by-post", is_flag=True, help="Agreed by post, telephone or screen."),
        click.option("--to-place", metavar="PLACE", help="The country or state that they go to."),
    ):
        wrapped = option(wrapped)
    result: F = wrapped
    return result


def _papers(words: tuple[str, ...]) -> frozenset[Paper]:
    """Papers by the first word of their name: phytosanitary, import, plant, cites, park.

    Raises:
        UnknownWord: one is none.
    """
    from registry.domain.verdict.facts import Paper
    from registry.errors import UnknownWord

    known = {paper.value.split()[0]: paper for paper in Paper}
    known["passport"] = known.pop("plant")
    found = set()
    for word in words:
        paper = known.get(word.strip().lower().split(" ")[0])
        if paper is None:
            raise UnknownWord("paper", word, tuple(known))
        found.add(paper)
    return frozenset(found)
