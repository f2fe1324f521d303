"""The command that follows a lineage: up, down, across, and where two lines meet."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App
from registry.cli.options import common, examples, parse_day, pass_app
from registry.cli.output import table
from registry.domain.dates import FuzzyDate
from registry.errors import BadOption, CallUnclear
from registry.wording.basics import edtf_words

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from registry.domain.family import Family, Involved, Member, Tie
    from registry.services.kin import Wanted
    from registry.services.resolve import Target

ACTS = ("propagate", "keep", "give", "swap", "sell")
FORMS = ("tree", "table", "csv", "graphml", "dot", "prov")
NOTHING = "Nothing on record answers that."
HEADS = ("gen", "depth", "code", "role", "what", "place", "status", "name")


@click.command(
    "trace",
    epilog=examples(
        "trace 14:7 --up",
        "trace 1:1 --down --alive",
        "trace 1:1 --chart family.pdf --may sell",
    ),
)
@click.argument("code", required=False)
@click.option("--up", is_flag=True, help="Only where it came from.")
@click.option("--down", is_flag=True, help="Only what came of it.")
@click.option("--kin", "across", is_flag=True, help="All of the same clone, wherever it stands.")
@click.option("--with", "other", metavar="CODE", help="Where its line meets that of another.")
@click.option("--alive", is_flag=True, help="Only what stands.")
@click.option("--released", is_flag=True, help="Only what went to somebody.")
@click.option("--place", metavar="PLACE", help="Only what stands there.")
@click.option("--from", "first", metavar="DAY", help="Only what began on that day or later.")
@click.option("--to", "last", metavar="DAY", help="Only what began on that day or before.")
@click.option("--as", "form", type=click.Choice(FORMS), default="tree", help="In which form.")
@click.option(
    "--chart",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw it to an .svg or .pdf.",
)
@click.option(
    "--may", type=click.Choice(ACTS), help="Show in the chart whether each plant may be sold …"
)
@click.option("--clones", is_flag=True, help="The whole registry, a line for each clone.")
@common
@pass_app
def trace_command(
    app: App,
    code: str | None,
    up: bool,
    down: bool,
    across: bool,
    other: str | None,
    form: str,
    chart: Path | None,
    may: str | None,
    clones: bool,
    alive: bool,
    released: bool,
    place: str | None,
    first: str | None,
    last: str | None,
) -> None:
    """Where a plant came from, and what came of it.

    Generations count from plant to plant: -1 is the parent, 1 what was raised from it. In a chart
    and in every list, 'one of several' stands where the parent is not certain.
    """
    from registry.services.kin import Wanted
    from registry.services.resolve import resolve

    narrowed = {
        "--alive": alive, "--released": released, "--place": place, "--from": first, "--to": last,
    }  # fmt: skip
    if clones:
        _refuse("--clones", {
            "--up": up, "--down": down, "--kin": across, "--with": other, "--may": may,
            "--as": form != "tree", **narrowed,
        })  # fmt: skip
        _clones(app, code, chart)
        return
    if may is not None and chart is None:
        raise BadOption("--may", may, "--chart FILE beside it; 'ortet may' asks of one plant")
    if other is not None:
        _refuse("--with", {"--may": may, **narrowed})
    if code is None:
        raise BadOption("CODE", "", "a code, or --clones for the whole registry")
    if across + (other is not None) + (up or down) > 1:
        raise BadOption("trace", code, "one of --up and --down, --kin, or --with")
    begins = parse_day(app, first).first if first else None
    ends = parse_day(app, last).last if last else None
    if begins is not None and ends is not None and begins > ends:
        raise BadOption("--to", last or "", "a day that is not before --from")
    wanted = Wanted(alive, released, place, begins, ends)
    with app.reading() as session:
        target = resolve(session, code, today=app.today)
        if other is not None:
            _meeting(app, session, target, other, form, chart)
            return
        both = up == down
        _answer(
            app,
            session,
            _family(session, target, up=up or both, down=down or both, across=across),
            wanted,
            form,
            chart,
            ways=(False,) if across else tuple(way for way, on in ((True, up), (False, down))
                                               if on or both),
            about=_about(up=up, down=down, across=across),
            may=may,
            across=across,
        )  # fmt: skip


def _refuse(option: str, others: dict[str, object]) -> None:
    """Refuse options that say nothing beside another."""
    for other, given in others.items():
        if given:
            raise CallUnclear(
                "ortet trace", f"{option} and {other} do not go together: leave one of the two out."
            )


def _family(session: Session, target: Target, *, up: bool, down: bool, across: bool) -> Family:
    from registry.services.answers import trace
    from registry.services.kin import clone

    return clone(session, target) if across else trace(session, target, up=up, down=down)


def _answer(
    app: App,
    session: Session,
    family: Family,
    wanted: Wanted,
    form: str,
    chart: Path | None,
    *,
    ways: tuple[bool, ...],
    about: str,
    may: str | None = None,
    across: bool = False,
    lines: tuple[str, ...] = (),
    facts: dict[str, Any] | None = None,
) -> None:
    """Say a family in the form that was asked for; what is off in it goes to stderr."""
    from registry.services import kin

    family = kin.detailed(session, family)
    family, asked = kin.narrowed(session, family, wanted)
    knots = kin.circles(family)
    for knot in knots:
        click.echo(circle_line(family, knot), err=True)
    if chart is not None:
        from registry.cli.drawing import draw_family

        levels = _verdicts(app, session, family, may)
        lines = (*lines, *draw_family(family, chart, about, levels, may))
    elif form == "tree":
        tops = _tops(family) if across else family.roots
        lines = (*lines, *(_trees(family, ways, tops, asked) if asked else (NOTHING,)))
    elif form == "table":
        lines = (*lines, *_table(family, asked))
    if form in ("csv", "graphml", "dot", "prov") and not app.json and chart is None:
        from registry.services.rows import registry_row

        people = kin.involved(session, family) if form == "prov" else ()
        content = _exported(family, asked, form, registry_row(session).uuid, people)
        app.say(content.rstrip("\n"))
        return
    app.answer((facts or {}) | _facts(family, asked, knots), *lines)


def _about(*, up: bool, down: bool, across: bool) -> str:
    if across:
        return "The clone of {}"
    if up == down:
        return "Where {} came from, and what came of it"
    return "Where {} came from" if up else "What came of {}"


def _verdicts(app: App, session: Session, family: Family, may: str | None) -> dict[str, str] | None:
    """The level of a verdict for each plant that stands, by code."""
    from registry.domain.verdict.facts import Act
    from registry.services.permission import judge_plants

    standing = [m.id for m in family.members.values() if m.kind == "plant" and m.standing]
    if may is None or not standing:
        return None
    today = app.today
    found = judge_plants(session, Act(may), standing, day=FuzzyDate.of(today), today=today)
    return dict(found.plants)


def _exported(
    family: Family, asked: set[int], form: str, registry: Any, people: Sequence[Involved]
) -> str:
    from registry.exchange.graphs import as_csv, as_dot, as_graphml
    from registry.exchange.provenance import as_prov

    match form:
        case "csv":
            return as_csv(family, asked)
        case "graphml":
            return as_graphml(family)
        case "dot":
            return as_dot(family)
        case _:
            return as_prov(family, registry, people)


def _facts(family: Family, asked: set[int], knots: tuple[tuple[int, ...], ...]) -> dict[str, Any]:
    from registry.domain.family import positions

    places = positions(family)
    members = family.members
    return {
        "roots": [members[root].code for root in family.roots],
        "nodes": [
            {
                "code": m.code,
                "kind": m.kind,
                "name": m.name,
                "date": m.date,
                "status": m.status,
                "depth": places[m.id].depth if m.id in places else None,
                "generation": places[m.id].generation if m.id in places else None,
                "certain": places[m.id].certain if m.id in places else None,
                "place": m.place,
                "went_on": m.went_on,
                "went_to": m.went_to,
                "gone_not_said": m.unsaid,
                "asked_for": m.id in asked,
            }
            for m in members.values()
        ],
        "edges": [
            {
                "from": members[t.parent].code,
                "to": members[t.child].code,
                "role": t.role,
                "certain": t.certain,
            }
            for t in family.ties
        ],
        "circles": [[members[node].code for node in knot] for knot in knots],
    }


def circle_line(family: Family, knot: tuple[int, ...]) -> str:
    """What is said of a circle that was written behind the tool's back."""
    codes = [family.members[node].code for node in (*knot, knot[0])]
    return (
        f"This cannot be: {' comes before '.join(codes)}. The record was changed from outside; "
        "'ortet verify' names the rows."
    )


def _meeting(
    app: App, session: Session, target: Target, other: str, form: str, chart: Path | None
) -> None:
    """Where the lines of two plants meet, and whether they are one clone."""
    from registry.services import kin
    from registry.services.resolve import resolve

    second = resolve(session, other, today=app.today)
    ends = []
    for one, typed in ((target, target.text), (second, other)):
        nodes = one.plants or one.lots
        if len(nodes) != 1:
            raise BadOption("--with", typed, "one plant or one lot on either side")
        ends.append(nodes[0])
    if ends[0] == ends[1]:
        raise BadOption("--with", other, "another plant or lot than the one before it")
    found = kin.shared(session, *ends)
    members = found.family.members
    codes = [members[node].code for node in found.nearest]
    said = {
        "yes": "They are one clone.",
        "no": "They are not one clone, as far as is recorded.",
        "maybe": "They may be one clone: a parent is one of several.",
    }[found.clone]
    lines = (
        ("They have no ancestor in common on record.",)
        if not codes
        else tuple(f"They meet in {members[n].code}  {members[n].name}" for n in found.nearest)
    )
    if found.clone == "yes" and len({members[node].name for node in ends}) > 1:
        said = "They are one clone, and each has a name of its own: one is a sport or was renamed."
    _answer(
        app,
        session,
        found.family,
        kin.Wanted(),
        form,
        chart,
        ways=(True,),
        about="Where {} meet",
        lines=(*lines, said, ""),
        facts={"nearest": codes, "one_clone": found.clone},
    )


def _clones(app: App, code: str | None, chart: Path | None) -> None:
    """The whole registry, a line for each clone."""
    from registry.services.kin import clones

    if code is not None:
        raise BadOption("--clones", code, "no code: it is about the whole registry")
    with app.reading() as session:
        found = clones(session)
    drawn: tuple[str, ...] = ()
    if chart is not None:
        from registry.cli.drawing import draw_clones

        drawn = draw_clones(found, chart)
    rows = [
        (
            one.code,
            sum(one.plants.values()),
            one.plants.get("alive", 0) - one.unsaid,
            one.bench or "",
            ", ".join(
                [f"{n} {status}" for status, n in one.plants.items() if status != "alive"]
                + ([f"{one.unsaid} gone, not said which"] if one.unsaid else [])
            ),
            one.name,
        )
        for one in found
    ]
    app.answer(
        {
            "clones": [
                {
                    "code": one.code,
                    "name": one.name,
                    "lots": one.lots,
                    "in_bench": one.bench,
                    "plants": dict(one.plants),
                    "gone_not_said": one.unsaid,
                }
                for one in found
            ]
        },
        *(
            drawn
            or table(("first plant", "plants", "alive", "in the bench", "else", "name"), rows)
            or ("Nothing is on record yet.",)
        ),
    )


# --- lists and trees -----------------------------------------------------------------------------


def _table(family: Family, asked: set[int]) -> list[str]:
    from registry.domain.family import positions

    rows = []
    places = positions(family)
    for node, place in sorted(places.items(), key=lambda pair: (pair[1].generation, pair[0])):
        if node not in asked:
            continue
        member = family.members[node]
        role = " / ".join(place.roles) + ("" if place.certain else " (one of several)")
        rows.append(
            (
                f"{place.generation:+d}" if place.generation else "0",
                place.depth,
                member.code,
                role,
                member.kind,
                member.place,
                _whereabouts(member),
                member.name,
            )
        )
    return table(HEADS, rows) or [NOTHING]


def _whereabouts(member: Member) -> str:
    """Status, and where it went; of a lot, how many of its pots went while nobody said which."""
    if member.went is None:
        gone = f"{member.unsaid} of its pots gone, not said which" if member.unsaid else ""
        return ", ".join(filter(None, (member.status, gone)))
    words = [member.went]
    if member.went_to is not None:
        words.append(f"to {member.went_to}" if member.went_to != "not named" else "to not named")
    if member.went_on is not None:
        words.append(edtf_words(member.went_on))
    return " ".join(words)


def _tops(family: Family) -> tuple[int, ...]:
    """The members without a parent in the family; of a knot of circles, the asked about."""
    children = {tie.child for tie in family.ties}
    return tuple(node for node in family.members if node not in children) or family.roots


def _trees(
    family: Family, ways: tuple[bool, ...], tops: tuple[int, ...], asked: Collection[int]
) -> list[str]:
    lines: list[str] = []
    for upward in ways:
        if lines:
            lines.append("")
        lines += tree(family, upward=upward, tops=tops, asked=asked)
    return lines


def tree(
    family: Family,
    *,
    upward: bool,
    tops: tuple[int, ...] | None = None,
    asked: Collection[int] | None = None,
) -> list[str]:
    """A family as indented lines; siblings alike are one line with their number.

    What was not asked for, and only leads to what was, is said to be on the way.

    What was shown above is named again by its code and not opened a second time.
    """
    next_to: dict[int, list[tuple[int, Tie]]] = {}
    for tie in family.ties:
        here, there = (tie.child, tie.parent) if upward else (tie.parent, tie.child)
        next_to.setdefault(here, []).append((there, tie))
    from registry.domain.family import positions

    places = positions(family)
    shown: set[int] = set()
    lines: list[str] = []
    groups = _alike(
        [(root, None) for root in (family.roots if tops is None else tops)], next_to, family, asked
    )
    stack = [(group, 0, 0) for group in reversed(groups)]
    while stack:
        (ids, by), depth, before = stack.pop()
        first = ids[0]
        generation = places[first].generation if first in places else before
        step = generation if generation != before else None
        way = asked is not None and first not in asked
        lines.append(_line(family, ids, by, depth, upward, step, again=first in shown, way=way))
        if first in shown:
            continue
        shown.update(ids)
        below = _alike(next_to.get(first, []), next_to, family, asked)
        stack.extend((group, depth + 1, generation) for group in reversed(below))
    return lines


def _alike(
    items: Sequence[tuple[int, Tie | None]],
    next_to: dict[int, list[tuple[int, Tie]]],
    family: Family,
    asked: Collection[int] | None,
) -> list[tuple[list[int], Tie | None]]:
    """Nodes grouped: those of one kind, name, place, status and day that lead on the same way."""
    groups: dict[object, tuple[list[int], Tie | None]] = {}
    for node, tie in items:
        member = family.members[node]
        onward = tuple(sorted(other for other, _ in next_to.get(node, [])))
        sure = tie.certain if tie else True
        role = tie.role if tie else ""
        way = asked is not None and node not in asked
        # "From one code to another" reads as a row of one batch.
        batch = member.code.rsplit("-", 2)[0]
        key = (
            member.kind, member.name, member.status, member.date, role, sure, onward,
            member.place, batch, way,
        )  # fmt: skip
        if member.kind == "lot":
            key = (node,)  # type: ignore[assignment]  # a lot always has a line of its own
        groups.setdefault(key, ([], tie))[0].append(node)
    return list(groups.values())


_UPWARD = {
    "raised": "from lot",
    "source": "taken from",
    "part of": "part of",
    "came back": "left as",
}


def _line(
    family: Family,
    ids: list[int],
    tie: Tie | None,
    depth: int,
    upward: bool,
    step: int | None,
    *,
    again: bool,
    way: bool,
) -> str:
    """A line of the tree; `step` is the generation where it is not that of the line above."""
    member: Member = family.members[ids[0]]
    role = "" if tie is None else _UPWARD.get(tie.role, tie.role) if upward else tie.role
    if role == "raised":
        role = ""
    words = [f"{role}:" if role else "", _codes(family, ids), member.name]
    if member.kind == "lot":
        words[2] = f"{member.name} (lot)"
    details = [
        FuzzyDate(member.date, member.first, member.last).display() if member.date else "",
        _whereabouts(member) if member.status != "alive" else "",
        member.place if member.place and member.standing else "",
    ]
    if step is not None:
        details.append(f"generation {step:+d}" if step else "generation 0")
    if tie is not None and not tie.certain:
        details.append("one of several")
    if way:
        details.append("on the way")
    tail = ", ".join(filter(None, details))
    line = "  " * depth + "  ".join(filter(None, [*words, tail]))
    return f"{line}  (as above)" if again else line


def _codes(family: Family, ids: list[int]) -> str:
    first, last = family.members[ids[0]].code, family.members[ids[-1]].code
    if len(ids) == 1:
        return first
    return f"{len(ids)} plants {first} to {last}"
