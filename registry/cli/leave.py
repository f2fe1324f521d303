"""Commands for leave and law: consents, licences, rights, holds, `may` and `settle`."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App, Below
from registry.cli.asking import going_option
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
    keep_with,
    pass_app,
    read_file,
    writes,
)
from registry.cli.output import some, table
from registry.domain.numbers import LARGEST
from registry.errors import BadLimit, LimitReason, NothingSaid, UnknownWord

if TYPE_CHECKING:
    from registry.domain.verdict.facts import Act, Limit
    from registry.services.leave import ConsentShown, HoldShown, RightShown
    from registry.services.permission import Again, Answer, Going, Told, When


# --- as typed ------------------------------------------------------------------------------------


def acts(typed: str | None, option: str = "--may") -> tuple[Act, ...]:
    """Acts as typed, with commas between.

    Raises:
        NothingSaid: the option was given without any.
        UnknownWord: one is none.
    """
    from registry.domain.verdict.facts import Act

    found = []
    for word in (typed or "").replace(" ", ",").split(","):
        if not word:
            continue
        try:
            found.append(Act(word.strip().lower()))
        except ValueError:
            raise UnknownWord("act", word, tuple(act.value for act in Act)) from None
    if typed is not None and not found:
        raise NothingSaid(option)
    return tuple(dict.fromkeys(found))


def _limit(app: App, typed: str | None) -> Limit | None:
    """A limit; a bare number is asked about in a terminal."""
    from registry.domain.dealings import parse_limit

    if typed is None:
        return None
    try:
        return parse_limit(typed)
    except BadLimit as error:
        if error.reason is not LimitReason.OF_WHAT or not app.interactive:
            raise
        what = click.prompt(f"{typed} of what? (cuttings, plants)", err=True)
        return parse_limit(f"{typed.split()[0]} {what}")


# --- consents ------------------------------------------------------------------------------------


@click.group("consent", cls=Below)
def consent_command() -> None:
    """What an owner allows, refuses or did not say."""


@consent_command.command(
    "add",
    epilog=examples(
        'consent add --from "Nan Ashe" --plant 1:1 --may propagate,give',
        'consent add --plant 1:1 --not sell --said "but don\'t sell them"',
    ),
)
@click.option("--from", "giver", metavar="PERSON", help="Who said it; its owner if not said.")
@click.option("--plant", metavar="CODE", help="The plant that it is about.")
@click.option(
    "--for", "lots", multiple=True, metavar="LOT", help="A lot, instead; may be repeated."
)
@click.option("--may", metavar="ACTS", help="What is allowed: propagate, give, swap, sell …")
@click.option("--not", "may_not", metavar="ACTS", help="What is not.")
@click.option("--said", metavar="TEXT", help="In their words.")
@click.option(
    "--by-word", type=click.Choice(["spoken", "written", "sign"]), help="How it was said."
)
@click.option(
    "--as",
    "as_role",
    type=click.Choice(["owner", "keeper", "tenant", "heir"]),
    help="As what they said it.",
)
@click.option("--refused", "outcome", flag_value="refused", help="Asked, and the answer is no.")
@click.option("--no-answer", "outcome", flag_value="no answer", help="Asked, not answered.")
@click.option("--unasked", "outcome", flag_value="unasked", help="Nobody has asked yet.")
@click.option("--limit", metavar="TEXT", help="How many of what, such as '12 cuttings a year'.")
@click.option("--covers-taken", is_flag=True, help="It covers what was taken before as well.")
@click.option("--seedlings/--not-seedlings", default=None, help="Whether it reaches seedlings.")
@click.option("--credit", metavar="TEXT", help="The credit that must go with what leaves.")
@click.option("--pledge", metavar="TEXT", help="What who gets one must promise to pass on.")
@click.option("--until", metavar="DAY", help="Its last day.")
@click.option("--evidence", type=click.Path(path_type=Path), help="A letter or photo to keep.")
@writes
@common
@pass_app
def consent_add(
    app: App,
    giver: str | None,
    plant: str | None,
    lots: tuple[str, ...],
    may: str | None,
    may_not: str | None,
    said: str | None,
    by_word: str | None,
    as_role: str | None,
    outcome: str | None,
    limit: str | None,
    covers_taken: bool,
    seedlings: bool | None,
    credit: str | None,
    pledge: str | None,
    until: str | None,
    evidence: Path | None,
    written: Written,
) -> None:
    """Write down what an owner said: what it does not name, it says nothing about."""
    from registry.domain.verdict.facts import Outcome
    from registry.services import leave
    from registry.services.resolve import resolve

    if (plant is None) == (not lots):
        raise click.UsageError("Say what it is about: --plant CODE, or --for LOT.")
    if not any((may, may_not, said, outcome, evidence)):
        raise click.UsageError(
            'Say what the owner said: --may propagate, --not sell, --said "TEXT", --refused …'
        )
    came = None if outcome == "unasked" else Outcome(outcome or "given")
    saying = leave.Saying(
        may=acts(may),
        may_not=acts(may_not, "--not"),
        outcome=came,
        said=said,
        by_word=by_word,
        as_role=as_role,
        limit=_limit(app, limit),
        # A day that nobody typed stays open: it was said by now, and perhaps long ago.
        on=day_said(app, written.on),
        until=day_or_none(app, until),
        covers_taken=covers_taken,
        seedlings=seedlings,
        credit=credit,
        pledge=pledge,
    )
    content = read_file(evidence) if evidence is not None else None
    with app.recording("consent", by=written.by) as rec:
        rec.happened = saying.on.edtf if saying.on else None
        about = [
            resolve(rec.session, one, today=rec.today, by_id=rec.by_id)
            for one in (lots or (plant or "",))
        ]
        all_shown = [
            leave.add_consent(
                rec,
                giver,
                saying,
                plant=target if plant is not None else None,
                lot=target if plant is None else None,
            )
            for target in about
        ]
        if content is not None and evidence is not None:
            for shown in all_shown:
                leave.attach_evidence(rec, shown.id, content, evidence.name, file_type(evidence))
        subjects = tuple(shown.subject for shown in all_shown)
        keep_with(app, rec, written, subjects)
        rec.last = list(subjects)
    more = [_consent_json(shown) for shown in all_shown]
    app.answer(
        {**more[0], "consents": more} if len(more) > 1 else more[0],
        *(line for shown in all_shown for line in _consent_lines(shown)),
    )


@consent_command.command("list", epilog=examples("consent list", "consent list 1:1"))
@click.argument("code", required=False)
@common
@pass_app
def consent_list(app: App, code: str | None) -> None:
    """List what owners said, of all plants or of one."""
    from registry.services import leave
    from registry.services.resolve import resolve

    with app.reading() as session:
        target = resolve(session, code, today=app.today) if code is not None else None
        shown = leave.consents(session, target)
    lines = _consent_table(shown) or ["No consents are recorded."]
    app.answer({"consents": [_consent_json(one) for one in shown]}, *lines)


@consent_command.command(
    "withdraw",
    epilog=examples(
        "consent withdraw 1 --on 2026-05-14",
    ),
)
@click.argument("number", type=ROW)
@writes
@common
@pass_app
def consent_withdraw(app: App, number: int, written: Written) -> None:
    """Write down that a consent was taken back; `consent list` shows its number."""
    from registry.services import leave

    with app.recording("consent", by=written.by) as rec:
        on = day(app, written.on)
        rec.happened = on.edtf
        shown = leave.withdraw(rec, number, on=on)
        keep_with(app, rec, written, (shown.subject,))
    app.answer(
        _consent_json(shown),
        f"Consent {shown.id} on {shown.subject} is taken back from {shown.withdrawn} on.",
    )


def _consent_json(shown: ConsentShown) -> dict[str, Any]:
    return {
        "id": shown.id,
        "about": shown.subject,
        "from": shown.person,
        "outcome": shown.outcome,
        "may": list(shown.may),
        "not": list(shown.may_not),
        "said": shown.said,
        "on": shown.on,
        "until": shown.until,
        "withdrawn": shown.withdrawn,
        "used": dict(shown.used),
        "credit": shown.credit,
        "pledge": shown.pledge,
        "notice": shown.notice,
        "sell_off": shown.sell_off,
        "made": [{"kind": "person", "code": None, "name": shown.person}] if shown.made else [],
    }


def _consent_lines(shown: ConsentShown) -> list[str]:
    lines = [f"Consent {shown.id}: {shown.person or 'somebody'} on {shown.subject}"]
    if shown.made:
        lines.append(f"  {shown.person} was not on record and is now.")
    if shown.outcome != "given":
        lines.append(f"  {shown.outcome}")
    if shown.may:
        lines.append(f"  allowed: {', '.join(shown.may)}")
    if shown.may_not:
        lines.append(f"  not allowed: {', '.join(shown.may_not)}")
    if shown.said:
        lines.append(f"  said: “{shown.said}”")
    if shown.credit:
        lines.append(f"  credit to be given: “{shown.credit}”")
    if shown.pledge:
        lines.append(f"  who gets one promises: {shown.pledge}")
    if shown.settled:
        lines.append(f"  It answers {some(shown.settled, 'open question')}.")
    if shown.may or shown.may_not:
        lines.append("What is not named here stays unsaid: ask before doing it.")
    return lines


def _consent_table(shown: tuple[ConsentShown, ...]) -> list[str]:
    rows = [
        (
            one.id,
            one.subject,
            one.person or "",
            one.outcome,
            ", ".join(one.may),
            ", ".join(one.may_not),
            one.withdrawn or one.until or "",
        )
        for one in shown
    ]
    return table(("no.", "about", "from", "outcome", "may", "not", "until"), rows)


# --- licences ------------------------------------------------------------------------------------


@click.group("licence", cls=Below)
def licence_command() -> None:
    """What the holder of a right allows."""


@licence_command.command(
    "add",
    epilog=examples(
        'licence add PP30001 --from "Lamp Plants Inc" --may propagate,sell',
    ),
)
@click.argument("number")
@click.option("--from", "holder", required=True, metavar="PERSON", help="Holder, or its agent.")
@click.option("--may", required=True, metavar="ACTS", help="What is licensed.")
@click.option("--in", "territory", metavar="PLACE", help="Where; everywhere if not said.")
@click.option("--limit", metavar="TEXT", help="How many of what, such as '200 plants a year'.")
@click.option("--royalty", metavar="TEXT", help="Such as '0.35 USD a plant sold'.")
@click.option("--notice", metavar="TEXT", help="Words that must go with each plant.")
@click.option("--said", metavar="TEXT", help="In the holder's words.")
@click.option("--until", metavar="DAY", help="Its last day.")
@click.option("--sell-off", metavar="DAY", help="Last day to sell what was made, once it ended.")
@click.option("--evidence", type=click.Path(path_type=Path), help="The paper to keep.")
@writes
@common
@pass_app
def licence_add(
    app: App,
    number: str,
    holder: str,
    may: str,
    territory: str | None,
    limit: str | None,
    royalty: str | None,
    notice: str | None,
    said: str | None,
    until: str | None,
    sell_off: str | None,
    evidence: Path | None,
    written: Written,
) -> None:
    """Write down a licence under the right NUMBER."""
    from registry.domain.dealings import parse_royalty
    from registry.domain.rules.countries import parse_territory
    from registry.services import leave

    content = read_file(evidence) if evidence is not None else None
    with app.recording("licence", by=written.by) as rec:
        on = day_said(app, written.on)
        rec.happened = on.edtf if on else None
        shown = leave.add_licence(
            rec,
            number,
            holder,
            acts(may),
            territory=parse_territory(territory) if territory is not None else None,
            limit=_limit(app, limit),
            royalty=parse_royalty(royalty) if royalty is not None else None,
            notice=notice,
            said=said,
            on=on,
            until=day_or_none(app, until),
            sell_off=day_or_none(app, sell_off),
        )
        if content is not None and evidence is not None:
            leave.attach_evidence(rec, shown.id, content, evidence.name, file_type(evidence))
        keep_with(app, rec, written, ())
    lines = [f"Licence {shown.id} under {shown.subject}: {', '.join(shown.may)}"]
    if shown.made:
        lines.append(f"  {shown.person} was not on record and is now.")
    app.answer(_consent_json(shown), *lines)


@licence_command.command(
    "end",
    epilog=examples(
        "licence end 1 --on 2026-05-14 --sell-off 2026-12-31",
    ),
)
@click.argument("number", type=ROW)
@click.option("--sell-off", metavar="DAY", help="Last day to sell what was made under it.")
@writes
@common
@pass_app
def licence_end(app: App, number: int, sell_off: str | None, written: Written) -> None:
    """Write down that a licence ended early; `licence list` shows its number."""
    from registry.services import leave

    with app.recording("licence", by=written.by) as rec:
        on = day(app, written.on)
        rec.happened = on.edtf
        ended = day_or_none(app, sell_off)
        shown = leave.withdraw(rec, number, on=on, licence=True, sell_off=ended)
        keep_with(app, rec, written, ())
    until = f"; what was made may be sold off until {shown.sell_off}" if shown.sell_off else ""
    app.answer(
        _consent_json(shown),
        f"Licence {shown.id} under {shown.subject} counts no more from {shown.withdrawn}{until}.",
    )


@licence_command.command("list")
@common
@pass_app
def licence_list(app: App) -> None:
    """List the licences."""
    from registry.services import leave

    with app.reading() as session:
        shown = leave.licences(session)
    lines = _consent_table(shown) or ["No licences are recorded."]
    app.answer({"licences": [_consent_json(one) for one in shown]}, *lines)


# --- rights --------------------------------------------------------------------------------------


@click.group("right", cls=Below)
def right_command() -> None:
    """Plant patents and variety rights."""


@right_command.command(
    "add",
    epilog=examples(
        "right add us-plant-patent PP30001 --name \"Salvia 'Hot Coral'\"",
    ),
)
@click.argument("kind")
@click.argument("number")
@click.option("--name", "names", multiple=True, metavar="NAME", help="The variety it is on.")
@click.option("--filed", metavar="DAY", help="When it was applied for.")
@click.option("--earliest", metavar="DAY", help="The earliest filing that it claims.")
@click.option("--granted", metavar="DAY", help="When it was granted or issued.")
@click.option("--ends", metavar="DAY", help="When it ends, as somebody says.")
@click.option("--end-source", metavar="TEXT", help="The register or holder that says so.")
@click.option(
    "--adjust-days",
    type=Whole(-LARGEST),
    metavar="N",
    help="Days of patent term adjustment.",
)
@click.option("--disclaimed", metavar="DAY", help="The date of a terminal disclaimer.")
@click.option("--group", metavar="TEXT", help="The group of plants that its term depends on.")
@click.option("--territory", metavar="PLACE", help="Where it holds, if not where its kind does.")
@click.option("--source", metavar="TEXT", help="Where this was read.")
@writes
@common
@pass_app
def right_add(
    app: App,
    kind: str,
    number: str,
    names: tuple[str, ...],
    filed: str | None,
    earliest: str | None,
    granted: str | None,
    ends: str | None,
    end_source: str | None,
    adjust_days: int | None,
    disclaimed: str | None,
    group: str | None,
    territory: str | None,
    source: str | None,
    written: Written,
) -> None:
    """Write down a right of a KIND such as us-plant-patent; its NUMBER may be ?."""
    from registry.domain.rules.countries import parse_territory
    from registry.domain.rules.kinds import Group, Kind
    from registry.services import leave
    from registry.wording.leave import no_plant_named, right_warning, right_words
    from registry.wording.rights import end_lines

    asked = leave.RightAsked(
        kind=_one_of(Kind, "kind of right", kind),
        number=None if number.strip() == "?" else number.strip(),
        names=names,
        territory=parse_territory(territory) if territory is not None else None,
        filed=day_or_none(app, filed),
        earliest=day_or_none(app, earliest),
        granted=day_or_none(app, granted),
        adjust_days=adjust_days,
        disclaimed=day_or_none(app, disclaimed),
        ends=day_or_none(app, ends),
        end_source=end_source,
        group=_one_of(Group, "group of plants", group) if group is not None else None,
        source=source,
    )
    with app.recording("right", by=written.by) as rec:
        shown = leave.add_right(rec, asked)
        keep_with(app, rec, written, shown.plants)
    called = right_words(shown.kind, shown.number, shown.territory)
    lines = [f"{called[:1].upper()}{called[1:]} in {shown.territory}: {', '.join(shown.names)}"]
    lines += [f"  {line}" for line in end_lines(shown.counted)] if shown.counted else []
    lines += [f"  Check: {right_warning(warning)}" for warning in shown.warnings]
    if shown.plants:
        lines.append(f"  It reaches {', '.join(shown.plants)} and what is raised from it.")
    else:
        lines.append(f"  {no_plant_named(shown.names, shown.near)}")
    app.answer(_right_json(shown), *lines)


@right_command.command(
    "event",
    epilog=examples(
        'right event PP30001 --status lapsed --source "the office\'s register"',
    ),
)
@click.argument("number")
@click.option("--status", required=True, metavar="WORD", help="refused, lapsed, annulled …")
@click.option("--source", required=True, metavar="TEXT", help="The register or letter it is from.")
@click.option("--in", "territory", metavar="PLACE", help="Where, if the number is of several.")
@click.option("--not-final", is_flag=True, help="It can still be undone, as by an appeal.")
@writes
@common
@pass_app
def right_event(
    app: App,
    number: str,
    status: str,
    source: str,
    territory: str | None,
    not_final: bool,
    written: Written,
) -> None:
    """Write down what became of the right NUMBER, or of an application.

    Status: applied, granted, refused, withdrawn, abandoned, lapsed, restored, surrendered,
    cancelled, annulled; or stated-ended, where the register or holder says that it has ended.
    """
    from registry.domain.rules.countries import parse_territory
    from registry.services import leave

    what = status.strip().lower()
    if what not in leave.EVENTS:
        raise UnknownWord("status of a right", status, leave.EVENTS)
    with app.recording("right", by=written.by) as rec:
        on = day(app, written.on)
        rec.happened = on.edtf
        shown = leave.add_event(
            rec,
            number,
            what,
            on=on,
            source=source,
            final=not not_final,
            territory=parse_territory(territory) if territory is not None else None,
        )
        keep_with(app, rec, written, ())
    open_still = "" if shown.final else "; it can still be undone, so it changes nothing yet"
    lines = [
        f"{shown.right.number} in {shown.right.territory}: {shown.what}, {shown.on} "
        f"({shown.source}){open_still}"
    ]
    if shown.settled:
        lines.append(f"  It answers {some(shown.settled, 'open question')}.")
    facts = {"number": shown.right.number, "territory": shown.right.territory}
    app.answer(
        {**facts, "status": shown.what, "on": on.edtf, "final": shown.final,
         "settled": shown.settled},
        *lines,
    )  # fmt: skip


@right_command.command("kinds")
@common
@pass_app
def right_kinds(app: App) -> None:
    """Every kind of right: how long it lasts, what needs leave, private use, and where it says."""
    from registry.domain.rules.kinds import KINDS
    from registry.domain.rules.terms import TERM_CITATION
    from registry.wording.rights import kinds_page

    facts = [
        {
            "kind": rule.kind.value,
            "in": rule.regime.value,
            "private": rule.private.value,
            "citations": [rule.citation, rule.private_citation, TERM_CITATION[rule.kind]],
        }
        for rule in KINDS.values()
    ]
    app.answer({"kinds": facts}, kinds_page())


@right_command.command("list")
@common
@pass_app
def right_list(app: App) -> None:
    """List the rights and the searches on record."""
    from registry.services import leave

    with app.reading() as session:
        shown = leave.rights(session)
        searches = [
            {
                "name": row.name,
                "in": row.territory,
                "where": row.register_,
                "found": row.found,
                "on": row.on.edtf if row.on else None,
            }
            for row in leave.lookups(session)
        ]
    rows = [
        (one.kind, one.number or "?", one.territory, ", ".join(one.names), one.granted or "")
        for one in shown
    ]
    lines = table(("kind", "number", "in", "names", "granted"), rows) or ["No rights are recorded."]
    if searches:
        found = [(s["name"], s["in"], s["found"], s["on"] or "", s["where"]) for s in searches]
        lines += ["", *table(("looked up", "in", "found", "on", "where"), found)]
    app.answer({"rights": [_right_json(one) for one in shown], "lookups": searches}, *lines)


@right_command.command(
    "lookup",
    epilog=examples(
        "right lookup \"Rosa 'Ispahan'\" --in US --where register --found none",
    ),
)
@click.argument("names", nargs=-1, required=True)
@click.option("--in", "territory", required=True, metavar="PLACE", help="Whose registers.")
@click.option("--where", required=True, metavar="TEXT", help="Which registers were searched.")
@click.option(
    "--found",
    required=True,
    type=click.Choice(["none", "something", "unsure", "free"]),
    help="none, something, unsure; or free: breeder or holder says so.",
)
@click.option("--partly", is_flag=True, help="A kind of right, or applications, were left out.")
@click.option("--pledge", metavar="TEXT", help="With free: what must be passed on with it.")
@click.option("--first-sold", metavar="DAY", help="When the variety was first sold.")
@writes
@common
@pass_app
def right_lookup(
    app: App,
    names: tuple[str, ...],
    territory: str,
    where: str,
    found: str,
    partly: bool,
    pledge: str | None,
    first_sold: str | None,
    written: Written,
) -> None:
    """Write down that NAMES were searched in the registers, and what that found."""
    from registry.domain.rules.countries import parse_territory
    from registry.services import leave
    from registry.wording.leave import no_plant_named

    with app.recording("lookup", by=written.by) as rec:
        on = day(app, written.on)
        rec.happened = on.edtf
        results = leave.look_up(
            rec,
            names,
            territory=parse_territory(territory),
            where=where,
            found=found,
            complete=not partly,
            pledge=pledge,
            first_sold=day_or_none(app, first_sold),
            on=on,
        )
        found_on = dict.fromkeys(code for one in results for code in one.plants)
        keep_with(app, rec, written, tuple(found_on))
    lines = []
    for one in results:
        lines.append(f"Looked up in {territory.upper()}: {one.name}: found {one.found}")
        if one.brand:
            lines.append("  This is a brand; search its cultivar name, this answers nothing.")
        elif not one.plants:
            lines.append(f"  {no_plant_named((one.name,), one.near)}")
        if one.settled:
            lines.append(f"  It answers {some(one.settled, 'open question')}.")
    facts = [
        {"name": one.name, "found": one.found, "plants": list(one.plants), "settled": one.settled}
        for one in results
    ]
    app.answer({"lookups": facts}, *lines)


def _right_json(shown: RightShown) -> dict[str, Any]:
    return {
        "kind": shown.kind,
        "number": shown.number,
        "territory": shown.territory,
        "names": list(shown.names),
        "filed": shown.filed,
        "granted": shown.granted,
        "ends": shown.ends,
        "warnings": list(shown.warnings),
        "plants": list(shown.plants),
    }


def _one_of(words: Any, what: str, typed: str) -> Any:
    try:
        return words(typed.strip().lower())
    except ValueError:
        raise UnknownWord(what, typed, tuple(word.value for word in words)) from None


# --- holds ---------------------------------------------------------------------------------------


@click.group("hold", cls=Below)
def hold_command() -> None:
    """Stop plants where they are."""


@hold_command.command(
    "add",
    epilog=examples(
        'hold add 14:7 --reason "leaf spot"',
        'hold add --place "mist bench" --reason mould',
    ),
)
@click.argument("code", required=False)
@click.option("--place", metavar="NAME", help="All that stands in a place, instead.")
@click.option("--reason", required=True, metavar="TEXT", help="Why.")
@click.option("--stops", metavar="WORDS", help="leaving, moving, propagating, ending; all if none.")
@click.option("--authority", metavar="TEXT", help="Whose order it is.")
@click.option("--only-these", is_flag=True, help="Not what descends from them.")
@writes
@common
@pass_app
def hold_add(
    app: App,
    code: str | None,
    place: str | None,
    reason: str,
    stops: str | None,
    authority: str | None,
    only_these: bool,
    written: Written,
) -> None:
    """Put a hold on a plant, a lot, a batch or a place."""
    from registry.domain.verdict.facts import Stops
    from registry.services import leave, people
    from registry.services.resolve import resolve

    if (code is None) == (place is None):
        raise click.UsageError("Say what to hold: a CODE, or --place NAME.")
    words = [word for word in (stops or "").replace(" ", ",").split(",") if word]
    with app.recording("hold", by=written.by) as rec:
        on = day(app, written.on)
        rec.happened = on.edtf
        target = resolve(rec.session, code, today=rec.today, by_id=rec.by_id) if code else None
        shown = leave.add_hold(
            rec,
            target,
            place_id=people.place_named(rec, place) if place is not None else None,
            reason=reason,
            stops=[_one_of(Stops, "thing a hold can stop", word) for word in words],
            authority=authority,
            descent=not only_these,
            on=on,
        )
        keep_with(app, rec, written, (code,) if code else ())
    lines = [f"Hold {one.id} on {one.subject}: {', '.join(one.stops)} stopped" for one in shown]
    app.answer({"holds": [_hold_json(one) for one in shown]}, *lines)


@hold_command.command(
    "lift",
    epilog=examples(
        "hold lift 14:7",
        "hold lift --number 1",
    ),
)
@click.argument("code", required=False)
@click.option("--number", type=ROW, metavar="N", help="One hold, by its number.")
@writes
@common
@pass_app
def hold_lift(app: App, code: str | None, number: int | None, written: Written) -> None:
    """Lift every hold on CODE, or the one with a number."""
    from registry.services import leave
    from registry.services.resolve import resolve

    if (code is None) == (number is None):
        raise click.UsageError("Say which: a CODE, or --number N.")
    with app.recording("hold", by=written.by) as rec:
        on = day(app, written.on)
        rec.happened = on.edtf
        target = resolve(rec.session, code, today=rec.today, by_id=rec.by_id) if code else None
        shown = leave.lift_hold(rec, hold_id=number, target=target, on=on)
        keep_with(app, rec, written, (code,) if code else ())
    lines = [f"Hold {one.id} on {one.subject} is lifted from {one.lifted} on." for one in shown]
    app.answer({"holds": [_hold_json(one) for one in shown]}, *lines)


@hold_command.command("list")
@click.option("--all", "all_", is_flag=True, help="Those that were lifted as well.")
@common
@pass_app
def hold_list(app: App, all_: bool) -> None:
    """List the holds that stand."""
    from registry.services import leave

    with app.reading() as session:
        shown = leave.holds(session, all_=all_)
    rows = [
        (one.id, one.subject, ", ".join(one.stops), one.since, one.lifted or "", one.reason)
        for one in shown
    ]
    lines = table(("no.", "on", "stops", "from", "lifted", "why"), rows) or ["Nothing is on hold."]
    app.answer({"holds": [_hold_json(one) for one in shown]}, *lines)


def _hold_json(shown: HoldShown) -> dict[str, Any]:
    return {
        "id": shown.id,
        "on": shown.subject,
        "stops": list(shown.stops),
        "reason": shown.reason,
        "authority": shown.authority,
        "since": shown.since,
        "lifted": shown.lifted,
    }


# --- may, settle ---------------------------------------------------------------------------------


@click.command(
    "may",
    epilog=examples(
        "may sell 14:7",
        "may give last --when",
    ),
)
@click.argument("act")
@click.argument("codes", nargs=-1)
@click.option("--when", "when_", is_flag=True, help="From which day it may be, as far as recorded.")
@click.option(
    "--again", is_flag=True, help="ortet may CODE --again: what changed since it was done."
)
@click.option("--on", metavar="DAY", help="For which day; today if not said.")
@click.option("--in", "place", metavar="PLACE", help="Where, such as US-OR; here if not said.")
@click.option("--purpose", type=click.Choice(["private", "trade"]), help="What it is for.")
@click.option(
    "--from-rootstock", "sucker", is_flag=True, help="Suckers of its rootstock are meant."
)
@going_option
@common
@pass_app
def may_command(
    app: App,
    act: str,
    codes: tuple[str, ...],
    going: Going,
    when_: bool,
    again: bool,
    on: str | None,
    place: str | None,
    purpose: str | None,
    sucker: bool,
) -> None:
    """Ask whether an act may be, and why: propagate, keep, give, swap, sell, export, move, end.

    Nothing is stored. Exit code 0 is yes, 1 is no or not known.
    """
    from registry.domain.rules.countries import parse_place
    from registry.domain.verdict.facts import Act, Purpose
    from registry.services import permission
    from registry.services.resolve import resolve_all

    if again:
        _may_again(app, (act, *codes))
        return
    asked: Act = _one_of(Act, "act", act)
    if not codes:
        raise click.UsageError("Say of which plants: ortet may ACT CODE ...")
    if sucker and (asked is not Act.PROPAGATE or when_):
        raise click.UsageError("--from-rootstock belongs to: ortet may propagate CODE ...")
    where = parse_place(place) if place is not None else None
    # A question may be about a day to come; an act may not.
    when = day_or_none(app, on) or day(app, None)
    with app.reading() as session:
        target = resolve_all(session, codes, today=app.today)
        nodes = permission.nodes_meant(session, target)
        given = Purpose(purpose) if purpose is not None else None
        if when_:
            found = permission.when(
                session, asked, nodes, day=when, today=app.today, purpose=given, place=where,
                going=going,
            )  # fmt: skip
            answer = found.then or found.asked
            app.answer(_when_json(found), *_when_lines(found))
        else:
            answer = permission.judge_plants(
                session, asked, nodes, day=when, today=app.today, purpose=given, place=where,
                going=going, sucker=sucker,
            )  # fmt: skip
            app.answer(answer_json(answer), *answer_lines(answer))
    if given is None and asked in (Act.GIVE, Act.SWAP) and answer.purpose == "trade":
        app.hint(f"By hand to somebody you know, unpaid: ortet may {act} … --purpose private")
    if not answer.allowed:
        app.flush()
        click.get_current_context().exit(1)


def _when_json(found: When) -> dict[str, Any]:
    return {
        "verdict": found.asked.level,
        "from": found.day,
        "then": answer_json(found.then) if found.then else None,
        "steps": [{"on": on, "verdict": level} for on, level in found.steps],
    }


def _when_lines(found: When) -> list[str]:
    from registry.wording.basics import day_words
    from registry.wording.leave import CAUTION

    if found.day is None or found.then is None:
        lines = ["No day on record from which it may be: what stands in the way has no known end."]
        lines += [
            f"  {level} from {day_words(date.fromisoformat(on))} on" for on, level in found.steps
        ]
        return [*lines, *answer_lines(found.asked)]
    first = day_words(date.fromisoformat(found.day))
    if found.asked.allowed:
        return [f"From {first} on: it may be, as far as is recorded.", *answer_lines(found.then)]
    return [
        f"From {first} on, as far as is recorded and if nothing else becomes known.",
        *(
            f"  {f.text} ({f.row})"
            for f in found.asked.findings
            if f.level in ("barred", "unknown")
        ),
        "On that day:",
        *(f"  {line}" for line in answer_lines(found.then) if line != CAUTION),
        CAUTION,
    ]


def _may_again(app: App, codes: tuple[str, ...]) -> None:
    """What has changed since plants were taken or left."""
    from registry.services import permission
    from registry.services.resolve import resolve_all

    with app.reading() as session:
        target = resolve_all(session, codes, today=app.today)
        found = permission.again(session, target, today=app.today)
    app.answer({"again": [_again_json(one) for one in found]}, *_again_lines(found))
    if not all(one.now.allowed for one in found):
        app.flush()
        click.get_current_context().exit(1)


def _again_json(one: Again) -> dict[str, Any]:
    return {
        "about": one.about,
        "act": one.given.act,
        "on": one.given.day.edtf,
        "verdict": one.given.level,
        "now": one.now.level,
        "anyway": one.anyway,
        "added": [finding.as_json() for finding in one.added],
        "dropped": [finding.as_json() for finding in one.dropped],
    }


def _again_lines(found: tuple[Again, ...]) -> list[str]:
    from registry.wording.leave import CAUTION

    if not found:
        return ["No verdict is kept there: nothing was taken or left under one."]
    lines = []
    for one in found:
        was = f"{one.given.act} on {one.given.day.display()}: {one.given.level} then"
        now = "the same now" if not one.changed else f"{one.now.level} now"
        lines.append(f"{one.about}  {was}, {now}")
        if one.anyway:
            lines.append(f"  done with the reason: {one.anyway}")
        lines += [f"  new: {finding.text} ({finding.row})" for finding in one.added]
        lines += [f"  no longer: {finding.text} ({finding.row})" for finding in one.dropped]
    return [*lines, "", CAUTION]


def answer_json(answer: Answer) -> dict[str, Any]:
    """The documented keys of a verdict."""
    from registry.wording.leave import CAUTION

    return {
        "verdict": answer.level,
        "unknown": answer.unknown,
        "act": answer.act,
        "day": answer.day.display(),
        "in": answer.place,
        "purpose": answer.purpose,
        "findings": [finding.as_json() for finding in answer.findings],
        "plants": [{"code": code, "verdict": level} for code, level in answer.plants],
        "gone": [{"code": one.code, "how": one.how, "on": one.on} for one in answer.gone],
        "caution": CAUTION,
    }


def answer_lines(answer: Answer) -> list[str]:
    """A verdict top-down: the answer, why, what would change it, whom to ask, the caution."""
    from registry.wording.leave import CAUTION, gone_line, verdict_line

    lines = [
        verdict_line(answer.act, answer.level, answer.unknown, answer.purpose, answer.day.display())
    ]
    if answer.gone:
        lines.append(gone_line(len(answer.gone), len(answer.gone) + len(answer.plants)))
    lines += _by_level(answer)
    lines += ["", "Why:", *_why(answer)]
    changes = _changes(answer)
    if changes:
        lines += ["", "What would change it:", *changes]
    unsure = [f for f in answer.findings if f.level != "clear"]
    asks = dict.fromkeys(finding.ask for finding in unsure if finding.ask)
    if asks:
        lines += ["", f"Ask: {', '.join(asks)}"]
    return [*lines, "", CAUTION]


def _by_level(answer: Answer) -> list[str]:
    """Where plants come to different answers: how many each, and the call without the worst."""
    groups: dict[str, list[str]] = {}
    for code, level in answer.plants:
        groups.setdefault(level, []).append(code)
    if len(groups) < 2:
        return []
    lines = [
        f"  {level}: {len(codes)} ({_shortened(codes)})" for level, codes in sorted(groups.items())
    ]
    others = groups.get("clear", []) + groups.get("conditional", [])
    if others:
        lines.append(f"  Without the others: ortet {answer.act} {' '.join(others)}")
    return lines


def _shortened(codes: list[str]) -> str:
    return ", ".join(codes[:5]) + (f" and {len(codes) - 5} more" if len(codes) > 5 else "")


def _why(answer: Answer) -> list[str]:
    lines = []
    against = {(f.text, f.row): f for f in answer.findings if f.level != "clear"}
    for finding in against.values():  # what holds in two places in the same words is said once
        lines.append(f"  {finding.level}: {finding.text}")
        source = "; ".join(part for part in (finding.record, finding.citation) if part)
        lines.append(f"    row {finding.row}{f', {source}' if source else ''}")
    clear: dict[str, list[Told]] = {}
    for finding in answer.findings:
        if finding.level == "clear":
            clear.setdefault(finding.row, []).append(finding)
    for row, found in clear.items():
        others = sum({one.plant: one.stands_for for one in found}.values()) - 1
        more = f" Clear for {others} more as well." if others else ""
        lines.append(f"  clear: {found[0].text}{more} ({row})")
    return lines or ["  Nothing on record speaks against it."]


def _changes(answer: Answer) -> list[str]:
    lines = []
    for finding in answer.findings:
        if finding.settle is not None and finding.level != "clear":
            lines.append(f"  {finding.row}: {finding.settle}")
        if finding.changes is not None:
            lines.append(f"  {finding.row}: {finding.changes}")
    return list(dict.fromkeys(lines))


@click.command(
    "settle",
    epilog=examples(
        'settle 1:1 --cannot "the owner died" --row A2',
    ),
)
@click.argument("codes", nargs=-1, required=True)
@click.option("--cannot", required=True, metavar="TEXT", help="Why it can never be known.")
@click.option("--row", metavar="ROW", help="Only this question, such as A2.")
@writes
@common
@pass_app
def settle_command(
    app: App, codes: tuple[str, ...], cannot: str, row: str | None, written: Written
) -> None:
    """Close questions that can never be answered: they leave the list, the verdict stays."""
    from registry.services import leave
    from registry.services.resolve import resolve_all

    with app.recording("settle", by=written.by) as rec:
        target = resolve_all(rec.session, codes, today=rec.today, by_id=rec.by_id)
        settled = leave.settle_cannot(rec, target, cannot, row=row.upper() if row else None)
        keep_with(app, rec, written, codes)
    lines = [f"Closed as never to be known: {one.plant}: {one.asks}" for one in settled]
    facts = [{"plant": one.plant, "row": one.row, "text": one.asks} for one in settled]
    app.answer({"settled": facts}, *lines)
