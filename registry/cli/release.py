"""Commands for what leaves and what comes: sell, give, swap, receive."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

import click

from registry.cli.app import App
from registry.cli.asking import given_facts, given_lines, going_option, with_questions
from registry.cli.options import (
    COUNTS,
    Whole,
    Written,
    common,
    day,
    examples,
    keep_with,
    pass_app,
    writes,
)
from registry.cli.output import in_ranges, some
from registry.errors import BadOption, CountNotExact

if TYPE_CHECKING:
    from registry.domain.counts import Count
    from registry.services.permission import Going
    from registry.services.release import Came, Leaving, Left
    from registry.services.resolve import Target
    from registry.storage.transaction import Recording

F = TypeVar("F", bound=Callable[..., Any])

_DONE = {"sell": "Sold", "give": "Given", "swap": "Swapped"}


def _leaving(function: F) -> F:
    """The options of everything that leaves."""
    for option in (
        click.option("--anyway", metavar="REASON", help="Why it is done all the same."),
        click.option("--in", "place", metavar="PLACE", help="Where, such as US-OR; here if not."),
        going_option,
        click.option("--at", "event", metavar="TEXT", help="A fair, market or open day."),
        click.option("--to", metavar="PERSON", help="Who gets them."),
        click.option("--count", type=COUNTS, metavar="N", help="How many, or A=8,B=2 by lot."),
        click.argument("codes", nargs=-1, required=True),
    ):
        function = option(function)
    return function


_purpose = click.option(
    "--purpose", type=click.Choice(["private", "trade"]), help="Private: nobody pays or profits."
)
_open = click.option("--open", "open_", is_flag=True, help="What is not known may stay open.")


@click.command(
    "sell",
    epilog=examples(
        'sell 14:1-3 --to "Bo Reed" --price 18',
        "sell 14 --count 12 --price 4 --each",
    ),
)
@_leaving
@click.option("--price", metavar="MONEY", help="Such as '6 USD'.")
@click.option("--each/--total", default=True, help="The price is for each, or for all together.")
@writes
@common
@pass_app
def sell_command(
    app: App,
    codes: tuple[str, ...],
    count: Any,
    to: str | None,
    event: str | None,
    place: str | None,
    going: Going,
    anyway: str | None,
    price: str | None,
    each: bool,
    written: Written,
) -> None:
    """Record plants that were sold; selling is always trade."""
    from registry.domain.dealings import parse_money
    from registry.domain.verdict.facts import Act, Purpose
    from registry.services.release import Leaving
    from registry.services.rows import registry_row

    money = None
    if price is not None:
        with app.reading() as session:
            money = parse_money(price, currency=registry_row(session).currency)
    leaving = Leaving(
        Act.SELL,
        day(app, written.on),
        to=to,
        count=_number(count),
        purpose=Purpose.TRADE,
        price=money,
        total=not each,
        event=event,
        place=_place(place),
        going=going,
        anyway=anyway,
    )
    _release(app, codes, leaving, written)


@click.command(
    "give",
    epilog=examples(
        'give 14:7 --to "Bo Reed" --purpose private',
    ),
)
@_leaving
@_purpose
@_open
@writes
@common
@pass_app
def give_command(
    app: App,
    codes: tuple[str, ...],
    count: Any,
    to: str | None,
    event: str | None,
    place: str | None,
    going: Going,
    anyway: str | None,
    purpose: str | None,
    open_: bool,
    written: Written,
) -> None:
    """Record plants that were given away."""
    from registry.domain.verdict.facts import Act
    from registry.services.release import Leaving

    leaving = Leaving(
        Act.GIVE,
        day(app, written.on),
        to=to,
        count=_number(count),
        purpose=_asked_purpose(app, codes, purpose),
        event=event,
        place=_place(place),
        going=going,
        open_=open_,
        anyway=anyway,
    )
    _release(app, codes, leaving, written)


@click.command(
    "swap",
    epilog=examples(
        'swap 14:8 --got "Hosta \'Halcyon\'" --to "Ann Vale"',
    ),
)
@_leaving
@click.option("--got", "got", multiple=True, required=True, metavar="NAME", help="What came back.")
@_purpose
@_open
@writes
@common
@pass_app
def swap_command(
    app: App,
    codes: tuple[str, ...],
    count: Any,
    to: str | None,
    event: str | None,
    place: str | None,
    going: Going,
    anyway: str | None,
    got: tuple[str, ...],
    purpose: str | None,
    open_: bool,
    written: Written,
) -> None:
    """Record a swap: what left and what came in one line."""
    from registry.domain.verdict.facts import Act
    from registry.services.release import Leaving

    leaving = Leaving(
        Act.SWAP,
        day(app, written.on),
        to=to,
        count=_number(count),
        purpose=_asked_purpose(app, codes, purpose),
        event=event,
        place=_place(place),
        going=going,
        got=got,
        open_=open_,
        anyway=anyway,
    )
    _release(app, codes, leaving, written)


@click.command(
    "receive",
    epilog=examples(
        'receive "white hosta" --from "Ann Vale"',
        'receive --back 14:7 --from "Bo Reed"',
    ),
)
@click.argument("names", nargs=-1)
@click.option("--back", multiple=True, metavar="CODE", help="What had left and came back.")
@click.option("--count", type=Whole(), help="How many came back of a lot or batch.")
@click.option("--from", "source", metavar="PERSON", help="Who they came from.")
@click.option(
    "--how",
    type=click.Choice(["bought", "given", "swap"]),
    default="given",
    show_default=True,
    help="How they came to you.",
)
@click.option("--number", metavar="TEXT", help="A number of your own, or the giver's.")
@click.option("--place", metavar="NAME", help="Where they stand now.")
@writes
@common
@pass_app
def receive_command(
    app: App,
    names: tuple[str, ...],
    back: tuple[str, ...],
    count: int | None,
    source: str | None,
    how: str,
    number: str | None,
    place: str | None,
    written: Written,
) -> None:
    """Record plants that arrived, each under the NAME it came with.

    What had left and came back needs no name: --back with the code it left under, or with that of
    its lot or batch and --count, where nobody can say which it was.
    """
    from registry.services import people, release

    if not names and not back:
        raise BadOption("NAME", "", "the names they came with, or --back CODE")

    with app.recording("receive", by=written.by) as rec:
        on = day(app, written.on)
        rec.happened = on.edtf
        came = release.receive(
            rec,
            names,
            how=how,
            source=source,
            on=on,
            number=number,
            place_id=people.place_named(rec, place) if place is not None else None,
            back=[release.Back(one, count) for one in _came_back(rec, back, count)],
        )
        keep_with(app, rec, written, tuple(one.code for one in came))
    lines = [f"Received {one.code}  {one.name}" for one in came[: len(names)]]
    lines += [f"Came back as {one.code}  {one.name}" for one in came[len(names) :]]
    app.answer({"made": _made(came), "plants": [{"code": one.code} for one in came]}, *lines)


def _came_back(rec: Recording, codes: tuple[str, ...], count: int | None) -> list[Target]:
    from registry.services.resolve import resolve

    found = [resolve(rec.session, code, today=rec.today, by_id=rec.by_id) for code in codes]
    for target in found:
        if not target.plants and count is None:
            raise BadOption("--count", "", f"how many of {target.text} came back")
    return found


def _release(app: App, codes: tuple[str, ...], leaving: Leaving, written: Written) -> None:
    from registry.services import release
    from registry.services.resolve import resolve_all

    def act(leave_open: bool) -> Left:
        with app.recording(leaving.act.value, by=written.by) as rec:
            rec.happened = leaving.on.edtf
            target = resolve_all(rec.session, codes, today=rec.today, by_id=rec.by_id)
            left = release.release(rec, target, replace(leaving, open_=leave_open))
            about = (*left.plants, *(code for code, _ in left.unsaid))
            keep_with(app, rec, written, about)
            return left

    left = with_questions(app, act, open_=leaving.open_)
    app.answer(_left_json(left), *_left_lines(left))


def _number(count: Any) -> int | dict[str, int] | None:
    """How many, whole or by lot; what leaves is a number."""
    if count is None:
        return None
    if isinstance(count, dict):
        return {letter: _exact(one) for letter, one in count.items()}
    return _exact(count)


def _exact(count: Count) -> int:
    if count.exact is None:
        raise CountNotExact("pots", count.text)
    return count.exact


def _place(typed: str | None) -> Any:
    from registry.domain.rules.countries import parse_place

    return parse_place(typed) if typed is not None else None


def _asked_purpose(app: App, codes: tuple[str, ...], typed: str | None) -> Any:
    """As typed; in a terminal one question asks it, once the plants are found; else trade."""
    from registry.domain.verdict.facts import Purpose

    if typed is None and app.interactive:
        from registry.services.resolve import resolve_all

        with app.reading() as session:
            resolve_all(session, codes, today=app.today)
        private = click.confirm(
            "Is it private: by hand, to household or a person you know, nobody pays?",
            default=False,
            err=True,
        )
        return Purpose.PRIVATE if private else Purpose.TRADE
    return Purpose(typed or "trade")


def _left_lines(left: Left) -> list[str]:
    from registry.wording.labels import verification

    to = f" to {left.person}" if left.person else ""
    lines = [f"{_DONE[left.act]}{to} on {left.on.display()}: {some(left.count, 'pot')}"]
    if left.person_made:
        lines.append(f"  {left.person} was not on record and is now.")
    lines += [f"  {one.n} {one.name}: {verification(one.verified)}" for one in left.names]
    if left.plants:
        lines.append(f"  {in_ranges(left.plants)}")
    lines += [f"  {n} of {code}, which ones is not said" for code, n in left.unsaid]
    if left.price is not None:
        lines.append(f"  {left.price} in all")
    lines += [f"  came back: {one.code}  {one.name}" for one in left.came]
    gone = left.given.answer.gone
    if gone:
        from registry.wording.leave import gone_line

        lines.append(f"  {gone_line(len(gone), len(gone) + len(left.plants))}")
    return [*lines, *given_lines(left.given)]


def _left_json(left: Left) -> dict[str, Any]:
    return {
        "act": left.act,
        "on": left.on.edtf,
        "to": left.person,
        "count": left.count,
        "plants": [{"code": code} for code in left.plants],
        "unsaid": [{"code": code, "n": n} for code, n in left.unsaid],
        "names": [
            {"name": one.name, "verified": one.verified.value, "count": one.n} for one in left.names
        ],
        "price": str(left.price.amount) if left.price else None,
        "currency": left.price.currency if left.price else None,
        "gone": [{"code": one.code, "how": one.how} for one in left.given.answer.gone],
        "made": [
            *([{"kind": "person", "code": None, "name": left.person}] if left.person_made else []),
            *_made(left.came),
        ],
        **given_facts(left.given),
    }


def _made(came: tuple[Came, ...]) -> list[dict[str, Any]]:
    return [{"kind": "plant", "code": one.code, "name": one.name} for one in came]
