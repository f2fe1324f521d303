"""Commands for the registry itself, people, places, plants, notes and files."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App, Below
from registry.cli.asking import ask_owner, is_that_plant
from registry.cli.names import OF_PLANT, choose_name, name_lines
from registry.cli.options import (
    ROW,
    Whole,
    Written,
    common,
    day,
    day_or_none,
    day_said,
    examples,
    file_type,
    history,
    keep_apart,
    keep_with,
    pass_app,
    read_file,
    writes,
)
from registry.cli.output import in_ranges, past, some, table
from registry.cli.privacy import OF_PERSON, held_facts, held_lines
from registry.errors import BadOption, NearMatch

if TYPE_CHECKING:
    from registry.domain.dates import FuzzyDate
    from registry.services.records import NameGiven

# --- the registry --------------------------------------------------------------------------------


@click.command(
    "init",
    epilog=examples(
        'init --grower "Jo Field" --country US --region US-OR',
        'init --grower "Ann Vale" --country GB --began 2019',
    ),
)
@click.option("--grower", required=True, metavar="NAME", help="Whose registry it is.")
@click.option("--country", required=True, metavar="CODE", help="ISO 3166, such as US or GB.")
@click.option("--region", metavar="CODE", help="ISO 3166-2, such as US-OR.")
@click.option("--began", metavar="DAY", help="Acts before this day are history; today if not said.")
@click.option("--hemisphere", type=click.Choice(["north", "south"]), help="Whose seasons count.")
@click.option("--currency", metavar="CODE", help="Of your prices, such as USD.")
@click.option(
    "--number-width",
    type=Whole(4, 6),
    metavar="N",
    default=4,
    show_default=True,
    help="Digits of the running number in codes: 4 to 6, for good.",
)
@click.option(
    "--plant-width",
    type=Whole(3, 4),
    metavar="N",
    default=3,
    show_default=True,
    help="Digits of a plant's number in its batch: 3 or 4, for good.",
)
@common
@pass_app
def init_command(
    app: App,
    /,
    grower: str,
    country: str,
    region: str | None,
    began: str | None,
    hemisphere: str | None,
    currency: str | None,
    number_width: int,
    plant_width: int,
) -> None:
    """Make a registry."""
    from registry.domain.codes import CodeWidths
    from registry.domain.dates import Hemisphere, parse_date
    from registry.errors import BadDate, DateReason, DayAhead
    from registry.services.setup import NewRegistry, init
    from registry.wording.basics import day_words

    first = None
    if began is not None:
        half = Hemisphere(hemisphere or "north")
        first = parse_date(began, today=app.today, hemisphere=half).first
        if first is None:
            raise BadDate(began, DateReason.SHAPE)
        if first > app.today:
            raise DayAhead(began, app.today)
    app.make_folder()
    made = init(
        app.path,
        NewRegistry(
            grower, country, region, first, hemisphere, currency,
            CodeWidths(number_width, plant_width),
        ),
        now=app.clock(),
        today=app.today,
        new_id=app.new_id,
        within=app.outer,
    )  # fmt: skip
    app.has_made()
    place = f"{made.country}{f', {made.region}' if made.region else ''}"
    app.answer(
        {"registry": str(app.called or app.path), "grower": made.grower, "country": made.country,
         "region": made.region, "began": made.began.isoformat()},
        f"{made.grower}'s registry ({place}) is in {app.called or app.path}",
        f"Acts before {day_words(made.began)} are recorded as history.",
        "Next: ortet stick \"NAME OF THE PLANT\" --owner \"WHOSE IT IS\" --count N",
    )  # fmt: skip


@click.group("settings", cls=Below)
def settings_command() -> None:
    """Show or set the registry's own settings."""


@settings_command.command("show")
@history
@common
@pass_app
def settings_show(app: App, history: bool) -> None:
    """Every setting, its value, and what it is for."""
    from registry.services.history import of_registry
    from registry.services.setup import SETTINGS, show_settings

    with app.reading() as session:
        shown = show_settings(session)
        if history:
            past(app, session, of_registry(), {"grower": shown.grower}, shown.grower)
            return
    facts: dict[str, Any] = {
        "grower": shown.grower,
        "country": shown.country,
        "region": shown.region,
        "began": shown.began.isoformat(),
        "hemisphere": shown.hemisphere,
        "currency": shown.currency,
    }
    facts |= {key: shown.settings.get(key) for key in SETTINGS if key not in facts}
    said = {True: "yes", False: "no"}
    rows = [(key, said.get(value, value), SETTINGS.get(key)) for key, value in facts.items()]
    app.answer(facts, *table(("setting", "value", "what it is for"), rows))


@settings_command.command(
    "set",
    epilog=examples(
        'settings set seller "Hollow Lane Nursery"',
    ),
)
@click.argument("key")
@click.argument("value")
@common
@writes
@pass_app
def settings_set(app: App, key: str, value: str, written: Written) -> None:
    """Set one; 'ortet settings show' lists them, with what each is for."""
    from registry.services.setup import set_setting

    with app.recording("settings", by=written.by) as rec:
        set_setting(rec, key, value)
        keep_apart(app, rec, written)
    app.answer({"key": key, "value": value}, f"{key} is now {value}.")


# --- people and places ---------------------------------------------------------------------------


@click.group("person", cls=Below)
def person_command() -> None:
    """People: add, show, list, export, blank. Their details stay private."""


@person_command.command(
    "add",
    epilog=examples(
        'person add "Nan Ashe" --contact "over the fence"',
        'person add "Bo Reed" --trade',
    ),
)
@click.argument("name")
@click.option("--contact", metavar="TEXT", help="How to reach them.")
@click.option("--trade", is_flag=True, help="They deal in plants.")
@click.option("--share", is_flag=True, help="They agreed to be named in files for others.")
@common
@writes
@pass_app
def person_add(
    app: App, name: str, contact: str | None, trade: bool, share: bool, written: Written
) -> None:
    """Record a person."""
    from registry.services.people import add_person, list_people

    with app.recording("person add", by=written.by) as rec:
        add_person(rec, name, contact=contact, trade=trade, share=share)
        alike = list_people(rec.session, of_name=name)
        shown = alike[-1]
        keep_apart(app, rec, written, person_id=shown.id)
    lines = [f"{shown.called} is on record."]
    if len(alike) > 1:
        lines.append(
            f"  {alike[0].called} goes by that name too. If it is the same person: "
            'ortet correct last --void "on record already"'
        )
    app.answer({"name": shown.called}, *lines)


@person_command.command("list")
@common
@pass_app
def person_list(app: App) -> None:
    """Everybody on record."""
    from registry.services.people import list_people

    with app.reading() as session:
        people = list_people(session)
    app.answer(
        {
            "people": [
                {"name": p.called, "contact": p.contact, "trade": p.trade, "grower": p.grower}
                for p in people
            ]
        },
        *table(
            ("name", "contact", ""),
            [
                (p.called, p.contact, "you" if p.grower else "trade" if p.trade else "")
                for p in people
            ],
        ),
    )


@person_command.command(
    "show",
    epilog=examples(
        'person show "Nan Ashe"',
    ),
)
@click.argument("name")
@history
@common
@pass_app
def person_show(app: App, name: str, history: bool) -> None:
    """One person: what is theirs, and where on record they come in."""
    from registry.services.history import of_person
    from registry.services.people import person_named, person_shown
    from registry.services.privacy import held_of

    with app.reading() as session:
        person_id = person_named(session, name)
        shown = person_shown(session, person_id)
        if history:
            past(app, session, of_person(person_id), {"name": shown.name}, shown.name)
            return
        held = held_of(session, person_id, app.today)
    app.answer(
        {"name": shown.name, "contact": shown.contact, "trade": shown.trade,
         "plants": [{"code": code, "name": plant} for code, plant in shown.plants],
         **held_facts(held)},
        shown.name + (f", {shown.contact}" if shown.contact else ""),
        *table(("plant", "name"), shown.plants),
        *held_lines(held),
    )  # fmt: skip


for _command in OF_PERSON:
    person_command.add_command(_command)


@click.group("place", cls=Below)
def place_command() -> None:
    """Benches, beds and gardens: add, list, rename."""


@place_command.command(
    "add",
    epilog=examples(
        'place add "mist bench"',
        'place add "north end" --in "mist bench"',
    ),
)
@click.argument("name")
@click.option("--in", "within", metavar="PLACE", help="The place that it is in.")
@click.option("--country", metavar="CODE", help="ISO 3166, such as US.")
@click.option("--region", metavar="CODE", help="ISO 3166-2, such as US-OR.")
@click.option("--hidden", is_flag=True, help="Never printed anywhere.")
@common
@writes
@pass_app
def place_add(
    app: App,
    name: str,
    within: str | None,
    country: str | None,
    region: str | None,
    hidden: bool,
    written: Written,
) -> None:
    """Record a place."""
    from registry.domain.rules.countries import parse_place
    from registry.services.people import add_place

    state = parse_place(country) if country is not None else None
    part = parse_place(region) if region is not None else state
    if state is not None and part is not None and part.country != state.country:
        raise BadOption("--region", region or "", f"a region of {state.country}")
    with app.recording("place add", by=written.by) as rec:
        place_id = add_place(
            rec,
            name,
            within=within,
            country=part.country if part is not None else None,
            region=part.region if part is not None else None,
            hidden=hidden,
        )
        keep_apart(app, rec, written, place_id=place_id)
    app.answer({"place": name.strip(), "hidden": hidden}, f"{name.strip()} is on record.")


@place_command.command("list")
@common
@pass_app
def place_list(app: App) -> None:
    """Every place."""
    from registry.services.people import list_places

    with app.reading() as session:
        places = list_places(session)
    app.answer(
        {"places": [{"name": p.name, "in": p.within, "hidden": p.hidden} for p in places]},
        *table(
            ("place", "in", ""),
            [(p.name, p.within, "never printed" if p.hidden else "") for p in places],
        ),
    )


@place_command.command(
    "rename",
    epilog=examples(
        'place rename "mist bench" "old mist bench"',
    ),
)
@click.argument("name")
@click.argument("new")
@common
@writes
@pass_app
def place_rename(app: App, name: str, new: str, written: Written) -> None:
    """Give a place another name."""
    from registry.services.people import rename_place

    with app.recording("place rename", by=written.by) as rec:
        place_id = rename_place(rec, name, new)
        keep_apart(app, rec, written, place_id=place_id)
    app.answer({"place": new.strip()}, f"{name} is now called {new.strip()}.")


# --- plants --------------------------------------------------------------------------------------


@click.group("plant", cls=Below)
def plant_command() -> None:
    """Stock plants and pots: what they are, where they came from, what became of them."""


for _command in OF_PLANT:
    plant_command.add_command(_command)


@plant_command.command(
    "add",
    epilog=examples(
        "plant add \"Fuchsia 'Lane Ember'\" --how bought --number F1",
        'plant add "brown fig" --owner "Lil Farrow" --place "her south wall"',
    ),
)
@click.argument("name", required=False)
@click.option("--owner", metavar="me|unknown|PERSON", help="Whose it is.")
@click.option(
    "--how",
    type=click.Choice(["bought", "given", "found", "swap", "seed", "wild", "lent", "inherited"]),
    help="How it came.",
)
@click.option("--source", metavar="PERSON", help="Who it came from.")
@click.option(
    "--origin",
    type=click.Choice(["cultivated", "wild", "unknown"]),
    help="Where its kind first came from.",
)
@click.option("--stood-since", metavar="YEAR", help="Since when it has stood there.")
@click.option("--since-source", metavar="TEXT", help="Whose word that is.")
@click.option("--number", metavar="TEXT", help="Its own number.")
@click.option("--number-by", metavar="NAME", help="Who gave that number.")
@click.option("--rootstock", metavar="NAME", help="What it is grafted on.")
@click.option(
    "--from",
    "parents",
    multiple=True,
    metavar="CODE",
    help="It came from this; several mean that it came from one of them.",
)
@click.option("--part-of", metavar="CODE", help="The plant it is a grafted part of.")
@click.option("--sucker-of", metavar="CODE", help="The plant whose rootstock sent it up.")
@click.option("--position", metavar="TEXT", help="Where on that plant.")
@click.option(
    "--alive",
    type=click.Choice(["yes", "no", "unsure"]),
    default="yes",
    help="Whether it still lives.",
)
@click.option("--until", metavar="DAY", help="When a lent plant goes back.")
@click.option("--count", type=ROW, default=1, help="How many came together.")
@click.option("--place", metavar="PLACE", help="Where it stands.")
@click.option("--new", is_flag=True, help="It is another plant than one of like name.")
@common
@writes
@pass_app
def plant_add(app: App, /, name: str | None, written: Written, **said: Any) -> None:
    """Record a plant that came from outside, yours or somebody's.

    NAME is what it was called when it came. A plant that came from one of several on record needs
    none: 'ortet plant add --from FIG-1 --from FIG-2' is then called after both.
    """
    from registry.errors import WordMissing
    from registry.services.people import owner_named
    from registry.services.records import Founder, FounderMade, add_founder

    got = app.acted = day_said(app, written.on)
    since = day_or_none(app, said["stood_since"])
    if since is not None and since.first is not None and since.first > app.today:
        raise BadOption("--stood-since", said["stood_since"], "a day that is not after today")
    until = day_or_none(app, said["until"])
    if until is not None and said["how"] != "lent":
        raise BadOption("--until", said["until"], "the day a lent plant goes back: add --how lent")
    if name is None and not said["parents"] and not said["sucker_of"]:
        raise WordMissing("ortet plant add", "NAME", "ortet plant add NAME")
    name = choose_name(app, name) if name is not None else None
    # How a plant came often says whose it is; only where it does not is anybody asked.
    new = [] if said["how"] or said["parents"] or name is None else [name]
    owner_said = ask_owner(app, said["owner"], new)

    def once(new: bool) -> FounderMade:
        with app.recording("plant add", by=written.by) as rec:
            owner = owner_named(rec, owner_said)
            made = add_founder(
                rec,
                Founder(
                    name,
                    owner,
                    got,
                    how=said["how"],
                    source=said["source"],
                    origin=said["origin"] or "unsaid",
                    since=since,
                    since_source=said["since_source"],
                    number=said["number"],
                    number_by=said["number_by"],
                    rootstock=said["rootstock"],
                    part_of=said["part_of"],
                    sucker_of=said["sucker_of"],
                    position=said["position"],
                    alive=said["alive"],
                    lent_until=until,
                    count=said["count"],
                    place=said["place"],
                    new=new,
                    parents=said["parents"],
                ),
            )
            keep_with(app, rec, written, (made.code,))
            return made

    try:
        made = once(said["new"])
    except NearMatch as near:
        code = is_that_plant(app, near)
        if code is not None:
            app.answer({"code": code, "made": []}, f"It is {code}; nothing new was recorded.")
            return
        made = once(True)
    lines = [f"{made.code}  {made.name}"]
    if len(made.codes) > 1:
        lines.append(f"  {some(len(made.codes), 'plant')}: {made.codes[0]} to {made.codes[-1]}")
    lines += [f"  {person} is on record now." for person in made.people]
    if made.rootstock:
        lines.append(f"  on the rootstock {made.rootstock}")
    lines += name_lines(name, made.code) if name is not None else []
    app.answer(
        {"made": [{"kind": "plant", "code": code, "name": made.name} for code in made.codes]
         + [{"kind": "person", "code": None, "name": person} for person in made.people],
         "code": made.code},
        *lines,
    )  # fmt: skip


def _name_given(one: NameGiven) -> str:
    """An opinion in one line: what, whose clone, on what grounds, how sure, by whom, when."""
    said = [
        "a sport" if one.sport else "",
        one.grounds or "grounds not said",
        one.sure or "",
        f"says {one.by}" if one.by else "",
        str(one.on or "day not said"),
    ]
    on = f" at {one.of}" if one.of else ""
    return f"{one.name}{on} ({', '.join(filter(None, said))})"


def edtf(day: FuzzyDate | None) -> str | None:
    """A day as programs read it; None where none was said."""
    return None if day is None else day.edtf


@plant_command.command(
    "show",
    epilog=examples(
        "plant show 14:7",
        "plant show last --history",
    ),
)
@click.argument("code")
@history
@common
@pass_app
def plant_show(app: App, code: str, history: bool) -> None:
    """One plant: what it is, where it came from, and what is on record about it."""
    from dataclasses import asdict, fields

    from registry.errors import NotAPlant
    from registry.services.history import of_plant
    from registry.services.records import show_plant
    from registry.services.resolve import resolve
    from registry.wording.basics import span

    with app.reading() as session:
        target = resolve(session, code, today=app.today)
        if len(target.plants) != 1:
            raise NotAPlant(code)
        shown = show_plant(session, target.plants[0])
        if history:
            of = of_plant(session, target.plants[0])
            past(app, session, of, {"code": shown.code}, f"{shown.code}  {shown.name.shown}")
            return
    facts = {
        **{one.name: getattr(shown, one.name) for one in fields(shown) if one.name != "node_id"},
        "name": shown.name.shown,
        "parents": [asdict(parent) for parent in shown.parents],
        "stood": [
            {"place": one.place, "from": edtf(one.from_), "until": edtf(one.until)}
            for one in shown.stood
        ],
        "names": [
            {
                "name": one.name,
                "grounds": one.grounds,
                "on": edtf(one.on),
                "sure": one.sure,
                "verified": one.verified,
                "by": one.by,
                "sport": one.sport,
                "of": one.of,
            }
            for one in shown.names
        ],
        **{name: edtf(getattr(shown, name)) for name in ("got", "since", "lent_until", "ended")},
    }
    raised_here = shown.batch or (shown.parents and shown.received_as is None)
    rows = [
        ("status", shown.status + (f", {shown.ended}" if shown.ended else "")),
        ("under", shown.order),
        ("witness", shown.witness),
        ("received as", shown.received_as),
        ("verified", shown.verified),
        ("marked", ", ".join(shown.marks)),
        ("perhaps", " ".join(shown.same)),
        ("came back as", " ".join(shown.back_as)),
        ("own numbers", ", ".join(shown.numbers)),
        ("owner", shown.owner or ("raised here" if raised_here else "not recorded")),
        ("how", shown.how),
        ("from", shown.source),
        ("got", shown.got),
        ("origin", "" if shown.origin in ("unsaid", shown.how) else shown.origin),
        ("stood since", " ".join(filter(None, [str(shown.since or ""), shown.since_source]))),
        ("plants", shown.plants if shown.plants > 1 else ""),
        ("position", shown.position),
        ("goes back", shown.lent_until),
        ("batch", shown.batch),
        ("pot", shown.pot),
        ("place", shown.place),
        *(("stood", f"{one.place}, {span(one.from_, one.until)}") for one in shown.stood),
        *(
            (parent.role.replace("_", " "), f"{parent.code}  {parent.name}"
             + ("" if parent.certain else "  (one of several)"))
            for parent in shown.parents
        ),
        *(("name" if one.of is None else "named", _name_given(one)) for one in shown.names),
        *(("against a no", words) for words in shown.overrides),
        *(("note", note) for note in shown.notes),
        *(("file", file) for file in shown.files),
    ]  # fmt: skip
    lines = [f"  {head:<12} {value}" for head, value in rows if value]
    app.answer(facts, f"{shown.code}  {shown.name.shown}", *lines)


@plant_command.command(
    "list",
    epilog=examples(
        "plant list --name fig",
    ),
)
@click.option("--name", metavar="TEXT", help="Words of a name, a number or a code.")
@click.option("--status", metavar="WORD", help="alive, sold, died …")
@click.option("--most", type=ROW, default=200, show_default=True, help="How many lines at most.")
@common
@pass_app
def plant_list(app: App, name: str | None, status: str | None, most: int) -> None:
    """All plants, or those that answer to a name; those alike in a row stand in one line."""
    from registry.services.finding import list_plants

    with app.reading() as session:
        lines = list_plants(session, name=name, status=status, most=most)
    app.answer(
        {"plants": [
            {"code": line.code, "name": line.name, "status": line.status, "place": line.place,
             "numbers": list(line.numbers)}
            for line in lines
        ]},
        *(
            table(
                ("code", "name", "status", "place", "own number"),
                [
                    (codes, *rest)
                    for rest, alike in groupby(
                        lines, lambda x: (x.name, x.status, x.place, ", ".join(x.numbers))
                    )
                    for codes in in_ranges([x.code for x in alike]).split(", ")
                ],
            )
            or ["No plant answers to that." if name else "No plant is on record yet."]
        ),
    )  # fmt: skip


@plant_command.command(
    "move",
    epilog=examples(
        'plant move 14:1-8 --to "cold frame"',
    ),
)
@click.argument("codes", nargs=-1, required=True)
@click.option("--to", "place", required=True, metavar="PLACE", help="Where they stand now.")
@click.option("--anyway", metavar="REASON", help="Why it is done though a hold stops it.")
@common
@writes
@pass_app
def plant_move(
    app: App, codes: tuple[str, ...], place: str, anyway: str | None, written: Written
) -> None:
    """Plants stand somewhere else now; of a batch, its cuttings too."""
    from registry.services.records import move_plants
    from registry.services.resolve import resolve_all

    on = day(app, written.on)
    with app.recording("plant move", by=written.by) as rec:
        target = resolve_all(rec.session, codes, today=app.today, by_id=rec.by_id)
        moved = move_plants(rec, target, place, on=on, anyway=anyway)
        kept = (*moved.codes, *([moved.batch] if moved.batch else []))
        keep_with(app, rec, written, kept)
    app.answer(
        {"plants": [{"code": code} for code in moved.codes], "batch": moved.batch,
         "place": moved.place},
        f"At {moved.place} from {on.display()}: {in_ranges(kept)}",
    )  # fmt: skip


@plant_command.command(
    "end",
    epilog=examples(
        "plant end 14:7 --how died --reason frost",
        "plant end 14 --count 3 --how culled",
    ),
)
@click.argument("codes", nargs=-1, required=True)
@click.option("--how", type=click.Choice(["died", "culled", "destroyed", "surrendered"]),
              required=True, help="What became of it; surrendered is to an authority.")  # fmt: skip
@click.option("--count", type=ROW, help="How many of a batch, not saying which.")
@click.option("--reason", metavar="TEXT", help="Of what, or why.")
@click.option("--order", metavar="TEXT", help="The authority's order under which it was done.")
@click.option("--witness", metavar="PERSON", help="Who saw it destroyed or handed over.")
@click.option("--anyway", metavar="REASON", help="Why it is done though a hold stops it.")
@common
@writes
@pass_app
def plant_end(
    app: App,
    codes: tuple[str, ...],
    how: str,
    count: int | None,
    reason: str | None,
    order: str | None,
    witness: str | None,
    anyway: str | None,
    written: Written,
) -> None:
    """Plants are no more."""
    from registry.services.records import end_plants
    from registry.services.resolve import resolve_all

    on = day(app, written.on)
    with app.recording("plant end", by=written.by) as rec:
        target = resolve_all(rec.session, codes, today=app.today, by_id=rec.by_id)
        ended = end_plants(
            rec, target, how, on=on, count=count, reason=reason, order=order, witness=witness,
            anyway=anyway,
        )  # fmt: skip
        keep_with(app, rec, written, ended.codes or tuple(rec.last or ()))
    which = (
        f"{ended.count} of {' '.join(codes)}, not said which"
        if ended.not_said
        else in_ranges(ended.codes)
    )
    app.answer(
        {"plants": [{"code": code} for code in ended.codes], "how": how, "count": ended.count},
        f"{how}: {which}, {on.display()}" + (f", under {order}." if order else "."),
    )


# --- notes and files -----------------------------------------------------------------------------


@click.command(
    "note",
    epilog=examples(
        'note 14:7 "leaves paler than the rest"',
    ),
)
@click.argument("code")
@click.argument("text")
@click.option("--private", is_flag=True, help="Kept so that it can be emptied one day.")
@common
@writes
@pass_app
def note_command(app: App, /, code: str, text: str, private: bool, written: Written) -> None:
    """Keep words with a plant, lot or batch."""
    from registry.services.records import add_note
    from registry.services.resolve import resolve

    on = day(app, written.on)
    with app.recording("note", by=written.by) as rec:
        target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
        kept = add_note(rec, target, text, on=on, private=private)
        rec.last = [kept]
        keep_with(app, rec, replace(written, note=None), (kept,))
    app.answer({"code": kept, "note": text}, f"Kept with {kept}.")


@click.command(
    "attach",
    epilog=examples(
        "attach 14:7 flower.jpg",
    ),
)
@click.argument("code")
@click.argument("file", type=click.Path(path_type=Path))
@common
@writes
@pass_app
def attach_command(app: App, /, code: str, file: Path, written: Written) -> None:
    """Keep a file with a plant, lot or batch."""
    from registry.services.records import attach_file
    from registry.services.resolve import resolve

    content = read_file(file)
    with app.recording("attach", by=written.by) as rec:
        target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
        kept = attach_file(rec, target, content, file.name, file_type(file))
        rec.last = [kept]
        keep_with(app, rec, written, (kept,))
    app.answer(
        {"code": kept, "file": file.name, "bytes": len(content)},
        f"{file.name} ({len(content):,} bytes) is kept with {kept}.",
    )
