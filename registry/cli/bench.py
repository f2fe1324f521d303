"""Commands of the bench: taking, sticking, looking, potting, and batches as they stand."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App, Below
from registry.cli.asking import ask_owner, given_facts, given_lines, is_that_plant, with_questions
from registry.cli.options import (
    COUNT,
    COUNTS,
    ROW,
    F,
    Whole,
    Written,
    common,
    day,
    day_or_none,
    examples,
    handles,
    history,
    keep_with,
    new_tools,
    pass_app,
    writes,
)
from registry.cli.output import in_ranges, past, some, table
from registry.domain.counts import Count, parse_count
from registry.domain.methods import Method, Role
from registry.domain.numbers import whole
from registry.errors import BadOption, NearMatch

if TYPE_CHECKING:
    from registry.services.batches import Seen
    from registry.services.bench import LotAsked, Sticking, Stuck
    from registry.services.counting import Counted, LotStand
    from registry.services.tools import Handling, ToolShown

LOT_KEYS = ("count", "from", "wood", "part", "medium", "hormone", "ppm", "cover")
HOW_MANY = "how many there are: --count 12, or --lot 10,soft --lot 6,firm"
LOT_ORDER = ("count", "wood", "part")
LOT_WANTED = (
    "a count and then wood and part (10,soft,tip), or words with names "
    "(from=CODE,count=8,wood=softwood,part=tip,hormone=powder)"
)


def parse_lot(text: str) -> LotAsked:
    """A lot as it is typed: `count,wood[,part]`, or `name=value` pairs, or both.

    >>> parse_lot("10,soft").wood
    'soft'
    >>> parse_lot("from=26-0001-X,count=8,hormone=powder 0.1 %").hormone
    'powder 0.1 %'

    Raises:
        BadOption: it has no count, or a word of no meaning.
        BadCount: the count cannot be read.
    """
    from registry.services.bench import LotAsked

    values: dict[str, str] = {}
    for place, piece in enumerate(text.split(",")):
        name, equals, value = piece.partition("=")
        name = name.strip().casefold()
        if equals and name in LOT_KEYS:
            values[name] = value.strip()
        elif equals or place >= len(LOT_ORDER):
            raise BadOption("--lot", text, LOT_WANTED)
        else:
            values[LOT_ORDER[place]] = piece.strip()
    ppm = whole(values["ppm"]) if "ppm" in values else None
    if "count" not in values or ("ppm" in values and ppm is None):
        raise BadOption("--lot", text, LOT_WANTED)
    return LotAsked(
        parse_count(values["count"]),
        source=values.get("from"),
        wood=values.get("wood") or None,
        part=values.get("part") or None,
        medium=values.get("medium"),
        hormone=values.get("hormone"),
        ppm=ppm,
        cover=values.get("cover"),
    )


def _material(function: F) -> F:
    """The options of everything that makes lots."""
    for option in reversed(
        (
            click.option("--count", "count", type=COUNT, help="How many, all treated alike."),
            click.option("--lot", "lots", multiple=True, metavar="COUNT,WOOD[,PART]",
                         help="One treatment; may be given several times."),
            click.option("--owner", metavar="me|unknown|PERSON", help="Whose the plant is."),
            click.option("--leave", type=click.Choice(["yes", "no", "unasked", "handed-over"]),
                         help="What its owner said."),
            click.option("--said", metavar="TEXT", help="The owner's words."),
            click.option("--new", is_flag=True, help="Another plant than one of like name."),
            click.option("--number", metavar="TEXT", help="Your own number for it."),
            click.option("--wood", metavar="TEXT", help="soft, firm, semi-ripe, hardwood …"),
            click.option("--part", metavar="TEXT", help="tip, heel, basal, leaf, root …"),
            click.option("--taken", metavar="DAY", help="When it was cut, if on another day."),
            click.option("--medium", metavar="TEXT", help="perlite, moss, water …"),
            click.option("--hormone", metavar="TEXT", help="Rooting powder or the like, or none."),
            click.option("--ppm", type=Whole(0), help="The hormone's strength."),
            click.option("--cover", metavar="TEXT", help="bag, lid, mist …"),
            click.option("--container", metavar="TEXT", help="What it stands in."),
            click.option("--place", metavar="PLACE", help="Where it stands."),
            click.option("--open", "open_", is_flag=True, help="Leave open what is not known."),
            click.option("--anyway", metavar="REASON", help="Why it is done against the answer."),
        )
    ):  # fmt: skip
        function = option(function)
    return handles(function)


_sucker = click.option(
    "--from-rootstock", "sucker", is_flag=True, help="Suckers of its rootstock, not of the top."
)


def _shared(said: Mapping[str, Any]) -> dict[str, Any]:
    """What was said of the treatment for all lots."""
    return {key: said[key] for key in ("wood", "part", "medium", "hormone", "ppm", "cover")}


def _lots(said: Mapping[str, Any]) -> tuple[LotAsked, ...]:
    """The lots that were asked for, what was said for all filled in where a lot is silent."""
    from dataclasses import replace

    from registry.services.bench import LotAsked

    if said["count"] is not None and said["lots"]:
        raise BadOption("--count", said["count"].text, "either --count or --lot, not both")
    shared = _shared(said)
    if said["count"] is not None:
        return (LotAsked(said["count"], **shared),)
    lots = [parse_lot(text) for text in said["lots"]]
    return tuple(
        replace(lot, **{k: v for k, v in shared.items() if getattr(lot, k) is None}) for lot in lots
    )


def _sticking(
    app: App, said: Mapping[str, Any], written: Written, method: Method, **more: Any
) -> Sticking:
    from registry.services.bench import Sticking

    lots = more.pop("lots", None) or _lots(said)
    if any(lot.count is not None and lot.count.high == 0 for lot in lots):
        raise BadOption("--count", "0", "one or more, or ? if nobody counted")
    return Sticking(
        method=method,
        lots=lots,
        on=day(app, written.on),
        taken=day_or_none(app, said["taken"]),
        owner=said["owner"],
        leave=said["leave"],
        said=said["said"],
        new=said["new"],
        sucker=said.get("sucker", False),
        number=said["number"],
        container=said["container"],
        place=said["place"],
        anyway=said["anyway"],
        handling=said["handling"],
        **more,
    )


def _record(
    app: App,
    what: str,
    written: Written,
    asked: Sticking,
    act: Callable[[Any, Any], Stuck] | None = None,
) -> None:
    """Record a sticking, with one question where something is not known."""
    from dataclasses import replace

    from registry.services.bench import stick

    if not asked.lots:
        raise BadOption("--count", "", HOW_MANY)

    sources = [text for _, text in asked.parents] + [x.source for x in asked.lots if x.source]
    asked = replace(asked, owner=ask_owner(app, asked.owner, sources))

    def once(open_: bool) -> Stuck:
        with app.recording(what, by=written.by) as rec:
            done = (act or stick)(rec, replace(asked, open_=open_))
            keep_with(app, rec, written, (done.batch,))
            return done

    while True:
        try:
            done = with_questions(app, once, open_=bool(asked.open_))
        except NearMatch as near:
            asked = _meant(asked, near.typed, is_that_plant(app, near))
        else:
            break
    _show_stuck(app, done, what)


def _meant(asked: Sticking, typed: str, code: str | None) -> Sticking:
    """What was asked with the plant that is meant in a name's place, or with the name as new."""
    from dataclasses import replace

    if code is None:
        return replace(asked, new=True)
    return replace(
        asked,
        parents=tuple((role, code if text == typed else text) for role, text in asked.parents),
        lots=tuple(replace(x, source=code) if x.source == typed else x for x in asked.lots),
    )


_DONE = {
    "stick": "stuck",
    "take": "taken, not stuck yet,",
    "graft": "grafted",
    "sow": "sown",
    "divide": "divided",
    "layer": "layered",
    "split": "split",
    "merge": "joined",
}


_NO_HORMONE = re.compile(r"(?:none|no|nothing|without)\b", re.IGNORECASE)


def _show_stuck(app: App, done: Stuck, what: str) -> None:
    from registry.domain.methods import Caution
    from registry.wording.basics import CAUTIONS, held_long
    from registry.wording.recall import called

    lines = [f"{done.batch}  {_DONE[what]} {done.on.display()}"]
    for lot in done.lots:
        treated = ", ".join(filter(None, [lot.wood, lot.part, lot.hormone]))
        more = f"  ({treated})" if treated else ""
        lines.append(f"  {lot.letter}  {lot.count:>5}  {lot.source}{more}")
    for one in done.made:
        words = filter(None, [called(one.kind, one.name)] if one.kind in ("tool", "tray") else
                       [one.kind, one.code, one.name])  # fmt: skip
        lines.append(f"  new on record: {' '.join(words)}")
    lines += [f"  {held_long(warning)}" for warning in done.warnings]
    if any(lot.hormone and not _NO_HORMONE.match(lot.hormone) for lot in done.lots):
        lines.append(f"  {CAUTIONS[Caution.HORMONE]}")
    if done.asked:
        # Pieces that only move on were asked about when they were taken.
        lines += given_lines(done.given)
    app.answer(
        {
            "batch": done.batch,
            "lots": [{"code": x.code, "letter": x.letter, "count": x.count} for x in done.lots],
            "made": [{"kind": x.kind, "code": x.code, "name": x.name} for x in done.made],
            **given_facts(done.given),
        },
        *lines,
    )
    app.hint("Its card: ortet label print last --out card.pdf")


@click.command(
    "stick",
    epilog=examples(
        'stick "red hydrangea" --owner "Nan Ashe" --leave yes --count 16',
        "stick 1:1 --lot 10,soft --lot 6,firm,heel --medium perlite",
    ),
)
@click.argument("what", required=False)
@click.option("--again", metavar="LOT", help="Set the pieces of this lot a second time.")
@_sucker
@_material
@common
@writes
@pass_app
def stick_command(
    app: App, /, what: str | None, again: str | None, written: Written, **said: Any
) -> None:
    """Record cuttings that were stuck.

    WHAT is a plant's code, a lot that was taken before, or the name as you were given it: then the
    source plant and its owner are put on record by the way.
    """
    from registry.errors import SourceMissing
    from registry.services import bench
    from registry.services.resolve import resolve

    if again is None and (said["count"] is not None or said["lots"]):
        # Each lot may name a source of its own; one that names none needs the one in front.
        sources = ((Role.SOURCE, what),) if what is not None else ()
        asked = _sticking(app, said, written, Method.CUTTING, parents=sources, open_=said["open_"])
        return _record(app, "stick", written, asked)
    if what is None and again is None:
        raise SourceMissing("stick")
    # Without a count it is about pieces that have their number already.
    treated = bench.LotAsked(Count.of(1), **_shared(said))
    asked = _sticking(app, said, written, Method.CUTTING, parents=(), lots=(treated,))

    def once_more(rec: Any, asked: Sticking) -> Stuck:
        target = resolve(rec.session, again or what or "", today=app.today, by_id=rec.by_id)
        if again is not None:
            return bench.stick_again(rec, target, said["count"], asked)
        if not target.lots:
            raise BadOption("--count", "", HOW_MANY)
        return bench.stick_taken(rec, target, asked)

    return _record(app, "stick", written, asked, once_more)


@click.command(
    "take",
    epilog=examples(
        'take "brown fig" --owner "Lil Farrow" --leave yes --count 12',
    ),
)
@click.argument("what")
@_sucker
@_material
@common
@writes
@pass_app
def take_command(app: App, /, what: str, written: Written, **said: Any) -> None:
    """Record material that was cut and lies in a bag; `stick LOT` sticks it later."""
    asked = _sticking(
        app, said, written, Method.CUTTING, parents=((Role.SOURCE, what),), stick=False,
        open_=said["open_"],
    )  # fmt: skip
    _record(app, "take", written, asked)


@click.command(
    "graft",
    epilog=examples(
        'graft --scion 3:1 --rootstock "Malus M26" --count 6',
    ),
)
@click.option("--scion", required=True, metavar="CODE|NAME", help="What the top is.")
@click.option("--rootstock", metavar="CODE|NAME", help="What it is set on.")
@click.option("--onto", metavar="TREE", help="A standing plant that it becomes part of.")
@click.option("--interstock", metavar="CODE|NAME", help="A piece between the two.")
@_material
@common
@writes
@pass_app
def graft_command(
    app: App,
    /,
    scion: str,
    rootstock: str | None,
    onto: str | None,
    interstock: str | None,
    written: Written,
    **said: Any,
) -> None:
    """Record grafts that were made."""
    from registry.errors import SourceMissing

    stock = onto or rootstock
    if stock is None:
        raise SourceMissing("graft")
    parents = [(Role.SCION, scion), (Role.ROOTSTOCK, stock)]
    if interstock is not None:
        parents.append((Role.INTERSTOCK, interstock))
    method = Method.TOPWORK if onto is not None else Method.GRAFT
    asked = _sticking(app, said, written, method, parents=tuple(parents), open_=said["open_"])
    _record(app, "graft", written, asked)


@click.command(
    "sow",
    epilog=examples(
        "sow --seed-parent 1:1 --count 30",
    ),
)
@click.option(
    "--seed-parent", required=True, metavar="CODE|NAME", help="The plant that bore the seed."
)
@click.option("--pollen-parent", metavar="CODE|NAME", help="The plant whose pollen it was.")
@_material
@common
@writes
@pass_app
def sow_command(
    app: App, /, seed_parent: str, pollen_parent: str | None, written: Written, **said: Any
) -> None:
    """Record seed that was sown: new plants, not the same clone."""
    parents = [(Role.SEED_PARENT, seed_parent)]
    if pollen_parent is not None:
        parents.append((Role.POLLEN_PARENT, pollen_parent))
    asked = _sticking(app, said, written, Method.SEED, parents=tuple(parents), open_=said["open_"])
    _record(app, "sow", written, asked)


@click.command(
    "divide",
    epilog=examples(
        "divide 1:1 --count 6",
    ),
)
@click.argument("what")
@_sucker
@_material
@common
@writes
@pass_app
def divide_command(app: App, /, what: str, written: Written, **said: Any) -> None:
    """Record a plant that was divided."""
    asked = _sticking(
        app, said, written, Method.DIVISION, parents=((Role.SOURCE, what),), open_=said["open_"]
    )
    _record(app, "divide", written, asked)


@click.command(
    "layer",
    epilog=examples(
        "layer 1:1 --count 3",
    ),
)
@click.argument("what")
@_sucker
@_material
@common
@writes
@pass_app
def layer_command(app: App, /, what: str, written: Written, **said: Any) -> None:
    """Record shoots that were layered."""
    asked = _sticking(
        app, said, written, Method.LAYER, parents=((Role.SOURCE, what),), open_=said["open_"]
    )
    _record(app, "layer", written, asked)


@click.command(
    "split",
    epilog=examples(
        'split 14A --into "10,hormone=none" --into "6,hormone=powder 0.1 %"',
    ),
)
@click.argument("lot")
@click.option(
    "--into",
    "parts",
    multiple=True,
    required=True,
    metavar="COUNT[,hormone=...]",
    help="One part; may be given several times.",
)
@click.option(
    "--number",
    "numbers",
    multiple=True,
    metavar="TEXT",
    help="Your own number for a part, in the same order.",
)
@common
@writes
@pass_app
def split_command(
    app: App, /, lot: str, parts: tuple[str, ...], numbers: tuple[str, ...], written: Written
) -> None:
    """Part a lot into several that are treated differently."""
    from registry.services.bench import split
    from registry.services.resolve import resolve

    asked = [parse_lot(part) for part in parts]
    on = day(app, written.on)
    with app.recording("split", by=written.by) as rec:
        target = resolve(rec.session, lot, today=app.today, by_id=rec.by_id)
        done = split(rec, target, asked, on=on, numbers=numbers)
        keep_with(app, rec, written, (done.batch,))
    _show_stuck(app, done, "split")


@click.command(
    "merge",
    epilog=examples(
        "merge 14A=4 14B=3",
    ),
)
@click.argument("parts", nargs=-1, required=True, metavar="LOT=COUNT...")
@click.option("--number", metavar="TEXT", help="Your own number for the joined lot.")
@click.option("--container", metavar="TEXT", help="What they stand in together.")
@click.option("--place", metavar="PLACE", help="Where they stand.")
@common
@writes
@pass_app
def merge_command(
    app: App,
    /,
    parts: tuple[str, ...],
    number: str | None,
    container: str | None,
    place: str | None,
    written: Written,
) -> None:
    """Join leftovers of several lots: P12A=4 P14B=5."""
    from registry.services.bench import Sticking, merge
    from registry.services.resolve import resolve

    named = [part.partition("=") for part in parts]
    counts = [(code, parse_count(count) if equals else None) for code, equals, count in named]
    on = day(app, written.on)
    asked = Sticking(Method.CUTTING, (), (), on, number=number, container=container, place=place)
    with app.recording("merge", by=written.by) as rec:
        targets = [
            (resolve(rec.session, code, today=app.today, by_id=rec.by_id), count)
            for code, count in counts
        ]
        done = merge(rec, targets, on=on, asked=asked)
        keep_with(app, rec, written, (done.batch,))
    _show_stuck(app, done, "merge")


# --- looking and potting -------------------------------------------------------------------------

_SEEN = (
    ("rooted", "have roots"),
    ("callused", "have callus, no roots"),
    ("alive", "are alive"),
    ("unsure", "may be dead or alive"),
)
_GONE = (("died", "died since the last look"), ("culled", "were thrown away"))


def _looks(function: F) -> F:
    for name, words in reversed((*_SEEN, *_GONE)):
        function = click.option(
            f"--{name}", type=COUNTS, metavar="N|A=N,B=N", help=f"How many {words}."
        )(function)
    return function


@click.command(
    "look",
    epilog=examples(
        "look 14 --rooted A=8,B=2 --died A=2",
        'look last --rooted "about 9"',
    ),
)
@click.argument("code")
@_looks
@click.option("--reason", metavar="TEXT", help="Why some died or were thrown away.")
@handles
@common
@writes
@pass_app
def look_command(
    app: App,
    /,
    code: str,
    reason: str | None,
    handling: Handling,
    written: Written,
    **seen: Any,
) -> None:
    """Record a look: what stands in the bench now, and what went since the last one."""
    from registry.services.counting import look
    from registry.services.resolve import resolve
    from registry.services.tools import handled

    on = day(app, written.on)
    with app.recording("look", by=written.by) as rec:
        target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
        done = look(
            rec,
            target,
            on=on,
            stands={name: seen[name] for name, _ in _SEEN if seen[name] is not None},
            went={name: seen[name] for name, _ in _GONE if seen[name] is not None},
            reason=reason,
        )
        made = handled(rec, handling, [lot.node_id for lot in done.lots], on=on)
        keep_with(app, rec, written, (done.batch,))
    _show_counted(app, done, f"looked at {on.display()}", made)


@click.command(
    "recount",
    epilog=examples(
        'recount 14 12 --reason "counted by hand"',
        "recount 14 A=5,B=2",
    ),
)
@click.argument("code")
@click.argument("count", type=COUNTS, metavar="N|A=N,B=N")
@click.option("--reason", metavar="TEXT", help="Why the count was off.")
@common
@writes
@pass_app
def recount_command(
    app: App, /, code: str, count: Any, reason: str | None, written: Written
) -> None:
    """Put the number in the bench right."""
    from registry.services.counting import recount
    from registry.services.resolve import resolve

    on = day(app, written.on)
    with app.recording("recount", by=written.by) as rec:
        target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
        done = recount(rec, target, count, on=on, reason=reason)
        keep_with(app, rec, written, (done.batch,))
    _show_counted(app, done, f"counted again {on.display()}")


@click.command(
    "pot-up",
    epilog=examples(
        'pot-up 14 --count A=8,B=2 --pot "9 cm" --labels pots.pdf',
    ),
)
@click.argument("code")
@click.option(
    "--count", "count", type=COUNTS, required=True, metavar="N|A=N,B=N", help="How many plants."
)
@click.option("--pieces", type=COUNTS, metavar="N|A=N,B=N", help="Cuttings that went into them.")
@click.option("--per-pot", type=ROW, default=1, help="How many share a pot.")
@click.option("--pot", metavar="TEXT", help="The pot, in your words.")
@click.option("--place", metavar="PLACE", help="Where they stand now.")
@click.option("--number", metavar="TEXT", help="Your own number; -1, -2 … are added for several.")
@click.option(
    "--labels",
    type=click.Path(path_type=Path),
    metavar="FILE.pdf",
    help="Print their labels into this file.",
)
@handles
@common
@writes
@pass_app
def pot_up_command(
    app: App,
    /,
    code: str,
    count: Any,
    pieces: Any,
    per_pot: int,
    pot: str | None,
    place: str | None,
    number: str | None,
    labels: Path | None,
    handling: Handling,
    written: Written,
) -> None:
    """Rooted cuttings move into pots of their own: each gets a code."""
    from registry.services.counting import Potting, pot_up
    from registry.services.people import place_named
    from registry.services.resolve import resolve
    from registry.services.tools import handled

    on = day(app, written.on)
    made: list[ToolShown] = []

    def act(rec: Any) -> Counted:
        target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
        place_id = place_named(rec, place) if place is not None else None
        potting = Potting(count, pieces, per_pot, pot, place_id, number)
        done = pot_up(rec, target, potting, on=on)
        made.extend(handled(rec, handling, [node for node, _ in done.plants], on=on))
        keep_with(app, rec, written, (done.batch,))
        return done

    if labels is None:
        with app.recording("pot-up", by=written.by) as rec:
            done = act(rec)
        _show_counted(app, done, f"potted {on.display()}", made)
        app.hint("Their labels: ortet label print last --out pots.pdf")
        return
    from registry.cli.labels import draw_labels, open_paper
    from registry.services.labels import order_labels

    # The paper is opened first: where it cannot be written, nothing is recorded.
    with open_paper(labels) as paper:
        with app.recording("pot-up", by=written.by) as rec:
            done = act(rec)
            potted = [resolve(rec.session, one, today=app.today) for _, one in done.plants]
            ordered = order_labels(rec, potted)
        _show_counted(app, done, f"potted {on.display()}", made)
        draw_labels(app, ordered, paper)
    if not app.json:
        app.say(f"  {some(len(ordered.labels), 'label')} in {labels}")


@click.command(
    "pot-on",
    epilog=examples(
        'pot-on 14:1-8 --pot "2 litre"',
    ),
)
@click.argument("codes", nargs=-1, required=True)
@click.option("--pot", metavar="TEXT", required=True, help="The new pot, in your words.")
@click.option("--place", metavar="PLACE", help="Where they stand now.")
@click.option("--anyway", metavar="REASON", help="Why they are moved though a hold stops it.")
@handles
@common
@writes
@pass_app
def pot_on_command(
    app: App,
    /,
    codes: tuple[str, ...],
    pot: str,
    place: str | None,
    anyway: str | None,
    handling: Handling,
    written: Written,
) -> None:
    """Plants move into larger pots."""
    from registry.services.counting import pot_on
    from registry.services.resolve import resolve_all
    from registry.services.tools import handled

    on = day(app, written.on)
    with app.recording("pot-on", by=written.by) as rec:
        target = resolve_all(rec.session, codes, today=app.today, by_id=rec.by_id)
        plants = pot_on(rec, target, pot, place, on=on, anyway=anyway)
        made = handled(rec, handling, [node for node, _ in plants], on=on)
        moved = tuple(code for _, code in plants)
        keep_with(app, rec, written, moved)
    app.answer(
        {"plants": [{"code": one} for one in moved], "pot": pot},
        f"{some(len(moved), 'plant')} in {pot}, {on.display()}: {in_ranges(moved)}",
        *new_tools(made),
    )


def _left(stand: LotStand) -> str:
    return "number left not known" if stand.text == "?" else f"{stand.text} left"


def _show_counted(app: App, done: Counted, what: str, made: Sequence[ToolShown] = ()) -> None:
    lines = [f"{done.batch}  {what}"]
    for lot in done.lots:
        seen = [f"{text} {word}" for word, letter, text in done.said if letter == lot.letter]
        stuck = f" of {lot.opening}" if lot.text != "?" else ""
        lines.append(f"  {lot.letter}  {', '.join([*seen, _left(lot)])}{stuck}")
    together = [f"{text} {word}" for word, letter, text in done.said if not letter]
    if together:
        left = f", {done.left} left" if done.left is not None else ""
        lines.append(f"  all  {', '.join(together)}{left} (not said which lot)")
    if done.plants:
        codes = [code for _, code in done.plants]
        lines.append(f"  {some(len(codes), 'pot')}: {in_ranges(codes)}")
    app.answer(
        {
            "batch": done.batch,
            "left": done.left,
            "lots": [
                {"code": lot.code, "letter": lot.letter, "left": lot.left, "left_text": lot.text}
                for lot in done.lots
            ],
            "plants": [{"code": code} for _, code in done.plants],
        },
        *lines,
        *new_tools(made),
    )


# --- batches and what is due ---------------------------------------------------------------------


@click.group("batch", cls=Below)
def batch_command() -> None:
    """Batches: show, list, close."""


def _moved(what: str, n: int) -> str:
    """A movement of a lot's count; `n` is what it took out.

    >>> _moved("moved_in", -5), _moved("recounted", -2), _moved("lost", 1)
    ('5 moved in', '2 more at a recount', '1 lost')
    """
    if what == "recounted":
        return f"{abs(n)} {'less' if n > 0 else 'more'} at a recount"
    words = {
        "moved_in": "moved in",
        "moved_out": "moved on",
        "left_as_cuttings": "left as cuttings",
    }
    return f"{abs(n)} {words.get(what, what)}"


def _seen_words(seen: Sequence[Seen]) -> str:
    """What was seen, each day behind what was seen on it: an older look may be of the same pieces.

    `6 callused (12 June 2024), 8 rooted, 2 alive (20 July 2024)`.
    """
    counted = [one for one in seen if one.text]
    days = [
        (day, ", ".join(f"{one.text} {one.what}" for one in those))
        for day, those in groupby(counted, key=lambda one: one.on.display() if one.on else "")
    ]
    return ", ".join(f"{words} ({day})" if day else words for day, words in days)


@batch_command.command(
    "show",
    epilog=examples(
        "batch show 14",
    ),
)
@click.argument("code")
@history
@common
@pass_app
def batch_show(app: App, code: str, history: bool) -> None:
    """One batch as it stands; or the past of a batch or of one of its lots."""
    from registry.services.batches import show_batch
    from registry.services.history import of_batch, of_plant
    from registry.services.resolve import TargetKind, resolve
    from registry.wording.basics import compared_lines, day_words, rate_text, span

    with app.reading() as session:
        target = resolve(session, code, today=app.today)
        if target.accession_id is None or not target.lots:
            raise BadOption("CODE", code, "a batch or one of its lots")
        shown = show_batch(session, target.accession_id)
        if history:
            # A batch of one lot may be named by either; where it stood is said of the batch.
            alone = target.kind is TargetKind.LOT and len(shown.lots) > 1
            about = (
                of_plant(session, target.lots[0])
                if alone
                else of_batch(session, target.accession_id)
            )
            past(app, session, about, {"batch": shown.code}, shown.code)
            return
    lines = [f"{shown.code}  {', '.join(shown.numbers)}".rstrip()]
    if shown.stuck:
        where = f", {shown.place}" if shown.place and not shown.stood else ""
        lines.append(f"  stuck {shown.stuck.display()}{where}")
    if shown.stood:
        lines += [f"  stood in {one.place}, {span(one.from_, one.until)}" for one in shown.stood]
        lines.append(f"  place {shown.place}")
    for lot in shown.lots:
        treated = ", ".join(filter(None, [lot.wood, lot.part, lot.medium, lot.hormone, lot.cover]))
        lines.append(
            f"  {' '.join([lot.stand.letter, *lot.numbers])}  {lot.stand.opening} of {lot.source}"
            f" ({lot.source_code})"
        )
        if treated:
            lines.append(f"     {treated}")
        if seen := _seen_words(lot.seen):
            lines.append(f"     seen: {seen}")
        gone = [_moved(what, n) for what, n in lot.gone if what != "stuck" and n]
        lines.append(f"     {', '.join([*gone, _left(lot.stand)])}")
        if lot.took is not None:
            over = f", over {lot.attempts} attempts" if lot.attempts > 1 else ""
            lines.append(f"     {rate_text(lot.took)}{over}")
    compared = [(pair.one, pair.other, pair.p) for pair in shown.compared]
    lines += [f"  {line}" for line in compared_lines(compared)]
    together = [seen] if (seen := _seen_words(shown.seen)) else []
    if shown.unsaid:
        together += [_moved(what, n) for what, n in shown.gone if what != "recounted" and n]
    if together:
        left = f"; {shown.left} left in all" if shown.left is not None else ""
        lines.append(f"  not said of which lot: {', '.join(together)}{left}")
    if shown.plants:
        lines.append(f"  {some(len(shown.plants), 'pot')}: {in_ranges(shown.plants)}")
    if shown.next_look:
        lines.append(f"  look again about {day_words(shown.next_look)}")
    app.answer(
        {
            "batch": shown.code,
            "numbers": list(shown.numbers),
            "stuck": shown.stuck.edtf if shown.stuck else None,
            "place": shown.place,
            "stood": [
                {
                    "place": one.place,
                    "from": one.from_.edtf if one.from_ else None,
                    "until": one.until.edtf if one.until else None,
                }
                for one in shown.stood
            ],
            "left": shown.left,
            "seen": {one.what: one.text for one in shown.seen},
            "gone": dict(shown.gone),
            "lots": [
                {
                    "code": lot.stand.code,
                    "letter": lot.stand.letter,
                    "numbers": list(lot.numbers),
                    "count": lot.stand.opening,
                    "left": lot.stand.left,
                    "left_text": lot.stand.text,
                    "source": lot.source_code,
                    "wood": lot.wood,
                    "part": lot.part,
                    "hormone": lot.hormone,
                    "attempt": lot.attempt,
                    "seen": {one.what: one.text for one in lot.seen},
                    "gone": dict(lot.gone),
                    "took": {"potted": lot.took.rooted, "of": lot.took.of} if lot.took else None,
                }
                for lot in shown.lots
            ],
            "compared": [{"lots": [pair.one, pair.other], "p": pair.p} for pair in shown.compared],
            "plants": [{"code": one} for one in shown.plants],
            "next_look": shown.next_look.isoformat() if shown.next_look else None,
            "closed": shown.closed,
        },
        *lines,
    )


@batch_command.command("list")
@click.option("--all", "everything", is_flag=True, help="Finished ones too.")
@common
@pass_app
def batch_list(app: App, everything: bool) -> None:
    """The batches with something in the bench, newest first."""
    from registry.services.batches import list_batches

    with app.reading() as session:
        batches = list_batches(session, only_open=not everything)
    sources = ["; ".join(dict.fromkeys(lot.source for lot in one.lots)) for one in batches]
    rows = [
        (
            one.code,
            ", ".join(one.numbers),
            one.stuck.display() if one.stuck else "not stuck",
            "?" if one.left is None else one.left,
            len(one.plants),
            of,
        )
        for one, of in zip(batches, sources, strict=True)
    ]
    app.answer(
        {"batches": [
            {"batch": one.code, "numbers": list(one.numbers),
             "stuck": one.stuck.edtf if one.stuck else None, "left": one.left,
             "pots": len(one.plants), "name": of}
            for one, of in zip(batches, sources, strict=True)
        ]},
        *(table(("batch", "number", "stuck", "left", "pots", "of"), rows)
          or ["Nothing stands in the bench."]),
    )  # fmt: skip


@batch_command.command(
    "close",
    epilog=examples(
        "batch close 14 --rest lost",
    ),
)
@click.argument("code")
@click.option(
    "--rest",
    type=click.Choice(["lost", "culled", "left-as-cuttings"]),
    required=True,
    help="What became of all that is left.",
)
@click.option("--reason", metavar="TEXT", help="Why, such as mould or frost.")
@common
@writes
@pass_app
def batch_close(app: App, code: str, rest: str, reason: str | None, written: Written) -> None:
    """Say what became of the rest, and close the batch."""
    from registry.services.batches import close_batch
    from registry.services.resolve import resolve

    on = day(app, written.on)
    with app.recording("batch close", by=written.by) as rec:
        target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
        closed = close_batch(rec, target, rest.replace("-", "_"), on=on, reason=reason)
        keep_with(app, rec, written, (closed.code,))
    now = "is closed" if closed.closed else f"{closed.left} left in other lots"
    app.answer(
        {"batch": closed.code, "left": closed.left, "closed": closed.closed},
        f"{closed.code}  the rest {rest.replace('-', ' ')} {on.display()}; {now}",
    )


def _questions_by(app: App, by_what: str) -> None:
    """Open questions in groups that one look-up or one answer may settle, with who waits."""
    from registry.services.leave import questions_by
    from registry.wording.leave import in_short

    with app.reading() as session:
        groups = questions_by(session, by_what)
    lines = []
    for group in groups:
        lines.append(f"{group.what}: {some(group.waiting, 'plant')} waiting")
        for asked in group.questions:
            short = in_short(asked.row, asked.asks)
            lines.append(f"  {asked.plant}  {asked.act}: {short} ({asked.row})")
            if asked.waiting:
                more = f" and {len(asked.waiting) - 5} more" if len(asked.waiting) > 5 else ""
                lines.append(f"    waits: {', '.join(asked.waiting[:5])}{more}")
    app.answer(
        {"by": by_what, "groups": [
            {"what": group.what, "waiting": group.waiting, "questions": [
                {"row": q.row, "plant": q.plant, "act": q.act, "asks": q.asks,
                 "waiting": list(q.waiting)}
                for q in group.questions
            ]} for group in groups
        ]},
        *(lines or ["Nothing is left open."]),
    )  # fmt: skip


@click.command(
    "due",
    epilog=examples(
        "due",
        "due --questions",
    ),
)
@click.option("--questions", is_flag=True, help="What is not known yet.")
@click.option(
    "--by",
    "by_what",
    type=click.Choice(["name", "person", "row"]),
    help="Questions by plant name, by whom to ask, or by row; who waits for each.",
)
@common
@pass_app
def due_command(app: App, /, questions: bool, by_what: str | None) -> None:
    """What is to be done at the bench, and what is not known yet."""
    from registry.services.batches import due, open_questions
    from registry.wording.basics import day_words

    if by_what is not None:
        _questions_by(app, by_what)
        return
    with app.reading() as session:
        if questions:
            asked = open_questions(session)
            app.answer(
                {"questions": [
                    {"row": q.row, "plant": q.code, "name": q.name, "act": q.act, "asks": q.asks}
                    for q in asked
                ]},
                *(table(("plant", "name", "act", "not known yet"),
                        [(q.code, q.name, q.act, q.asks or q.row) for q in asked])
                  or ["Nothing is left open."]),
                *(["What would settle one, and whom to ask: ortet may ACT PLANT"] if asked else []),
            )  # fmt: skip
            return
        found = due(session, app.today)
        waiting = len(open_questions(session))
    rows = [
        (day_words(one.on) if one.on else "", one.what + (" (late)" if one.late else ""), one.code,
         one.about)
        for one in found
    ]  # fmt: skip
    lines = table(("from", "what", "code", "of"), rows) or ["Nothing is due."]
    if waiting:
        lines.append(f"{some(waiting, 'question')} open: ortet due --questions")
    app.answer(
        {"due": [
            {"on": one.on.isoformat() if one.on else None, "what": one.what, "code": one.code,
             "name": one.about, "late": one.late}
            for one in found
        ], "questions": waiting},
        *lines,
    )  # fmt: skip
