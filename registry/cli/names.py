"""Commands for what a plant is: names and corrections, sports, mix-ups, orphans and marks."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App
from registry.cli.options import Written, common, day, examples, keep_with, pass_app, writes
from registry.cli.output import in_ranges, some, table

if TYPE_CHECKING:
    from registry.services.identity import Corrected, Opinion
    from registry.services.resolve import Target
    from registry.storage.transaction import Recording

MOST_TOLD = 10
"""How many labels, releases and verdicts are listed; the rest are counted."""

VERIFIED = click.Choice(("flower", "fruit", "compared", "tested", "no"))
VERIFIED_HELP = "flower, fruit, compared, tested or no; not said, the grounds tell."

_LEFT_BY = {"sell": "sold", "give": "given", "swap": "swapped"}


def choose_name(app: App, typed: str) -> str:
    """The name as typed or, in a terminal where it leaves a question, the offer that was picked.

    Raises:
        BadName: it cannot stand as a name.
    """
    from registry.domain.names import Outcome, read_name

    reading = read_name(typed)
    if reading.outcome is not Outcome.ASK or not reading.offers or not app.interactive:
        return typed
    from registry.wording.names import question

    click.echo(question(reading), err=True)
    for number, offer in enumerate(reading.offers, 1):
        click.echo(f"  {number}  {offer}", err=True)
    picked = click.prompt(
        "Which? 0 keeps it as typed",
        type=click.IntRange(0, len(reading.offers)),
        default=0,
        err=True,
    )
    return typed if picked == 0 else reading.offers[picked - 1]


def name_lines(typed: str, code: str) -> list[str]:
    """What is said of a name that was stored: how it was read, what is odd, what may be meant."""
    from registry.domain.names import Outcome, parse_name
    from registry.wording.names import notice, question

    reading = parse_name(typed)
    if reading.outcome is Outcome.ASK:
        settle = f"  Say which: ortet plant name {code} 'NAME'"
        return [f"  Kept as typed. {question(reading)}", settle]
    return [f"  {line}"] if (line := notice(reading)) else []


@click.command(
    "name",
    epilog=examples(
        "plant name 1:1 \"Salvia 'Hot Coral'\" --grounds flower",
    ),
)
@click.argument("code")
@click.argument("name", required=False)
@click.option("--grounds", metavar="TEXT", help="flower, fruit, label, the giver's word, a test …")
@click.option("--sure", metavar="TEXT", help="How sure, in words.")
@click.option("--said-by", metavar="PERSON", help="Whose opinion it is, if not yours.")
@click.option("--verified", metavar="HOW", type=VERIFIED, help=VERIFIED_HELP)
@click.option("--comes-true", is_flag=True, help="Seedlings that are their parent's cultivar.")
@click.option("--from-rootstock", is_flag=True, help="What grows is the rootstock.")
@click.option("--dry-run", is_flag=True, help="Show what it would change and record nothing.")
@common
@writes
@pass_app
def plant_name(
    app: App,
    code: str,
    name: str | None,
    grounds: str | None,
    sure: str | None,
    said_by: str | None,
    verified: str | None,
    comes_true: bool,
    from_rootstock: bool,
    dry_run: bool,
    written: Written,
) -> None:
    """Record what a plant is; all of its clone follows."""
    from registry.domain.names import GROUNDS
    from registry.errors import NameOrHow
    from registry.services import identity

    if (name is not None) + comes_true + from_rootstock != 1:
        raise NameOrHow(code)
    on = app.acted = day(app, written.on)
    chosen = choose_name(app, name) if name is not None else ""

    def opinion(rec: Recording, target: Target) -> Opinion:
        if comes_true:
            return identity.coming_true(rec, target, on)
        if from_rootstock:
            return identity.from_rootstock(rec, target, on)
        return identity.Opinion(
            chosen, on, grounds, sure, said_by, verified=GROUNDS.get(verified or "")
        )

    _correct(app, "plant name", code, opinion, written, dry_run=dry_run)


@click.command(
    "sport",
    epilog=examples(
        "plant sport 14:7 \"Salvia 'Pale Coral'\" --grounds flower",
    ),
)
@click.argument("code")
@click.argument("name")
@click.option("--grounds", metavar="TEXT", help="What was seen.")
@click.option("--said-by", metavar="PERSON", help="Whose opinion it is, if not yours.")
@click.option("--verified", metavar="HOW", type=VERIFIED, help=VERIFIED_HELP)
@click.option("--dry-run", is_flag=True, help="Show what it would change and record nothing.")
@common
@writes
@pass_app
def plant_sport(
    app: App,
    code: str,
    name: str,
    grounds: str | None,
    said_by: str | None,
    verified: str | None,
    dry_run: bool,
    written: Written,
) -> None:
    """A plant or a lot that sported: a line of its own begins, with its ancestry."""
    from registry.domain.names import GROUNDS
    from registry.services import identity

    on = app.acted = day(app, written.on)
    chosen = choose_name(app, name)
    how = GROUNDS.get(verified or "")

    def opinion(rec: Recording, target: Target) -> Opinion:
        return identity.Opinion(chosen, on, grounds, None, said_by, starts_line=True, verified=how)

    _correct(app, "plant sport", code, opinion, written, dry_run=dry_run)


def _correct(
    app: App,
    what: str,
    code: str,
    opinion: Callable[[Recording, Target], Opinion],
    written: Written,
    *,
    dry_run: bool,
) -> None:
    from registry.services.identity import correct_name
    from registry.services.resolve import resolve
    from registry.wording.labels import verification

    def act(*, keep: bool) -> tuple[Corrected, str]:
        with app.recording(what, by=written.by, keep=keep) as rec:
            target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
            held = opinion(rec, target)
            corrected = correct_name(rec, target, held)
            if keep:
                keep_with(app, rec, written, (corrected.code,))
        return corrected, held.name

    if dry_run or app.interactive:
        would, _ = act(keep=False)
        if dry_run:
            app.answer(
                {**_facts(would), "recorded": False},
                f"{would.code} would be {would.after} (is: {would.before}). Nothing is recorded.",
                *_effects(would),
            )
            return
        if effects := _effects(would):
            click.echo(
                "\n".join([f"{would.code}: {would.before} → {would.after}", *effects]), err=True
            )
            if not click.confirm("Record it?", default=True, err=True):
                app.answer({**_facts(would), "recorded": False}, "Nothing is recorded.")
                return
    corrected, typed = act(keep=True)
    # At a terminal they were read before it was recorded.
    effects = [] if app.interactive and not app.json else _effects(corrected)
    same = corrected.before == corrected.after
    was = "as before" if same else f"was: {corrected.before}"
    app.answer(
        {**_facts(corrected), "recorded": True},
        f"{corrected.code} is {corrected.after} ({was})",
        f"  {verification(corrected.verified).capitalize()}.",
        *effects,
        *name_lines(typed, corrected.code),
    )


def _facts(corrected: Corrected) -> dict[str, Any]:
    return {
        "code": corrected.code,
        "before": corrected.before,
        "after": corrected.after,
        "descendants": corrected.descendants,
        "keep_own": corrected.keep_own,
        "labels": [
            {"code": label.code, "stock": label.stock, "payload": label.payload}
            for label in corrected.labels
        ],
        "left": [
            {"code": one.code, "count": one.count, "act": one.kind,
             "on": one.on.edtf if one.on else None, "to": one.to}
            for one in corrected.left
        ],
        "verdicts": [
            {"code": one.code, "act": one.act, "before": one.before, "after": one.after}
            for one in corrected.verdicts
        ],
        "judged": corrected.judged,
        "living": corrected.of,
        "offers": list(corrected.asked),
        "verified": corrected.verified.value,
    }  # fmt: skip


def _effects(corrected: Corrected) -> list[str]:
    lines = []
    if corrected.descendants:
        lines.append(f"  {some(corrected.descendants, 'plant')} raised from it read the same.")
    if corrected.keep_own:
        lines.append(f"  {some(corrected.keep_own, 'plant')} raised from it keep their own names.")
    old = [label.code for label in corrected.labels]
    shown = in_ranges(old).split(", ") if old else []
    lines += _told("printed label", "bearing the old name", shown, len(old))
    lines += _told(
        "plant",
        "left under the old name",
        [
            f"{one.code}{f' ({one.count})' if one.count > 1 else ''}, {_LEFT_BY[one.kind]}, "
            f"{one.on.display() if one.on else 'day not said'}, to {one.to or 'not named'}"
            for one in corrected.left
        ],
        sum(one.count for one in corrected.left),
    )
    lines += _told(
        "verdict",
        "changed",
        _alike(corrected),
        len(corrected.verdicts),
    )
    if corrected.of > corrected.judged:
        lines.append(f"  (judged: the first {corrected.judged} of {corrected.of} living plants)")
    return lines


def _alike(corrected: Corrected) -> list[str]:
    """Each change of a verdict once, with the plants that it is of."""
    changes: dict[str, list[str]] = {}
    for one in corrected.verdicts:
        changes.setdefault(f"{one.act}: {one.before} → {one.after}", []).append(one.code)
    return [f"{change}: {in_ranges(codes)}" for change, codes in changes.items()]


def _told(one: str, what: str, listed: list[str], n: int | None = None) -> list[str]:
    """A heading with a number, that of the lines unless it is said, and the first of them."""
    if not listed:
        return []
    more = [f"    and {len(listed) - MOST_TOLD} more"] if len(listed) > MOST_TOLD else []
    heading = f"  {some(len(listed) if n is None else n, one)} {what}:"
    return [heading, *(f"    {x}" for x in listed[:MOST_TOLD]), *more]


# --- one plant or two ----------------------------------------------------------------------------


@click.command(
    "same",
    epilog=examples(
        "plant same 1:1 2:1",
    ),
)
@click.argument("one", metavar="CODE")
@click.argument("other", metavar="CODE")
@common
@writes
@pass_app
def plant_same(app: App, one: str, other: str, written: Written) -> None:
    """Two records may be of one plant: they are found together and stay two."""
    from registry.services.identity import note_same
    from registry.services.resolve import resolve

    on = app.acted = day(app, written.on)
    with app.recording("plant same", by=written.by) as rec:
        first, second = (
            resolve(rec.session, code, today=app.today, by_id=rec.by_id) for code in (one, other)
        )
        codes = note_same(rec, first, second, on)
        keep_with(app, rec, written, codes)
    app.answer(
        {"codes": list(codes)},
        f"{codes[0]} and {codes[1]} may be the same plant; a search for one finds both.",
    )


# --- mix-ups -------------------------------------------------------------------------------------


@click.command(
    "mixup",
    epilog=examples(
        "plant mixup 14:1-8 --confirmed 14:1-5 --contradicted 14:6",
        "plant mixup 14:1-8 --contradicted 14:6 --is \"Salvia 'Hot Coral'\"",
    ),
)
@click.argument("codes", nargs=-1, required=True)
@click.option("--confirmed", multiple=True, metavar="CODE", help="It is what it is called.")
@click.option("--contradicted", multiple=True, metavar="CODE", help="It is not.")
@click.option("--is", "name", metavar="NAME", help="What the contradicted ones are.")
@click.option("--or-from", multiple=True, metavar="CODE", help="The rest may come from this too.")
@click.option("--grounds", metavar="TEXT", help="flower, fruit, compared, a test …")
@click.option("--said-by", metavar="PERSON", help="Who looked, if not you.")
@click.option("--verified", metavar="HOW", type=VERIFIED, help=VERIFIED_HELP)
@common
@writes
@pass_app
def plant_mixup(
    app: App,
    codes: tuple[str, ...],
    confirmed: tuple[str, ...],
    contradicted: tuple[str, ...],
    name: str | None,
    or_from: tuple[str, ...],
    grounds: str | None,
    said_by: str | None,
    verified: str | None,
    written: Written,
) -> None:
    """Sort mixed-up plants: confirmed, contradicted, and the rest, which is unproven."""
    from registry.domain.names import GROUNDS
    from registry.errors import NothingStands
    from registry.services import identity
    from registry.services.resolve import resolve, resolve_all

    on = app.acted = day(app, written.on)
    chosen = choose_name(app, name) if name is not None else None
    with app.recording("plant mixup", by=written.by) as rec:

        def plants(texts: tuple[str, ...]) -> tuple[int, ...]:
            if not texts:
                return ()
            target = resolve_all(rec.session, texts, today=app.today, by_id=rec.by_id)
            return identity.living(rec.session, target)

        def one(code: str) -> Target:
            return resolve(rec.session, code, today=app.today, by_id=rec.by_id)

        group = plants(codes)
        if not group:
            raise NothingStands(" ".join(codes))
        done = identity.sort_mix_up(
            rec,
            identity.MixUp(
                group,
                plants(confirmed),
                plants(contradicted),
                on,
                grounds,
                said_by,
                chosen,
                tuple(identity.subject(one(code)) for code in or_from),
                GROUNDS.get(verified or ""),
            ),
        )
        keep_with(app, rec, written, (*done.confirmed, *done.contradicted, *done.unproven))
    rest = f", perhaps from {' or '.join(done.candidates)}" if done.candidates else ""
    app.answer(
        {
            "confirmed": list(done.confirmed),
            "contradicted": list(done.contradicted),
            "unproven": list(done.unproven),
            "name": done.name,
            "candidates": list(done.candidates),
        },
        *(
            f"{len(found)} {word}: {in_ranges(found)}{more}"
            for word, found, more in (
                ("confirmed", done.confirmed, ""),
                ("contradicted", done.contradicted, f", {done.name}"),
                ("unproven", done.unproven, rest),
            )
            if found
        ),
    )


# --- orphans -------------------------------------------------------------------------------------


@click.command(
    "orphan",
    epilog=examples(
        'plant orphan "red, without a tag" --place "mist bench"',
    ),
)
@click.argument("words")
@click.option("--tag", is_flag=True, help="A tag without its plant, and what it says.")
@click.option("--place", metavar="PLACE", help="Where it was found.")
@click.option("--from", "parents", multiple=True, metavar="CODE", help="Came from this, or one of.")
@common
@writes
@pass_app
def plant_orphan(
    app: App, words: str, tag: bool, place: str | None, parents: tuple[str, ...], written: Written
) -> None:
    """A pot without its tag, and what it looks like; or a tag without its pot."""
    from registry.services import matching
    from registry.services.resolve import resolve

    if tag and parents:
        raise click.UsageError("A tag comes from no plant; leave --from out.")
    on = app.acted = day(app, written.on)
    with app.recording("plant orphan", by=written.by) as rec:
        found = (matching.add_tag if tag else matching.add_pot)(rec, words, on=on, place=place)
        if parents:
            matching.parents_of_orphan(
                rec,
                resolve(rec.session, found.code, today=app.today),
                [resolve(rec.session, one, today=app.today, by_id=rec.by_id) for one in parents],
            )
        if not tag:
            keep_with(app, rec, written, (found.code,))
    app.answer(
        {"kind": found.kind, "code": found.code, "words": found.words, "place": found.place},
        f"{found.code}  {found.words}",
        f'"ortet plant match {found.code}" lists what it could belong to.',
    )


@click.command(
    "match",
    epilog=examples(
        "plant match",
        "plant match 20 --from 1:1",
    ),
)
@click.argument("what", nargs=-1)
@click.option("--from", "parents", multiple=True, metavar="CODE", help="It came from this.")
@click.option("--is", "plant", metavar="CODE", help="The plant that a tag belongs to.")
@common
@writes
@pass_app
def plant_match(
    app: App, what: tuple[str, ...], parents: tuple[str, ...], plant: str | None, written: Written
) -> None:
    """What an orphan could belong to; with --from or --is, what it does.

    Without a code all orphans are listed. Several --from mean that it came from one of them.
    """
    typed = " ".join(what)
    if not typed:
        _list_orphans(app)
    elif parents or plant:
        _settle_orphan(app, typed, parents, plant, written)
    else:
        _list_candidates(app, typed)


def _list_orphans(app: App) -> None:
    from registry.services.matching import orphans

    with app.reading() as session:
        found = orphans(session)
    app.answer(
        {"orphans": [
            {"kind": one.kind, "code": one.code, "words": one.words, "place": one.place,
             "on": one.on.edtf if one.on else None}
            for one in found
        ]},
        *(
            table(
                ("code", "found", "place", "what it is or says"),
                [(o.code, o.on.display() if o.on else "", o.place, o.words) for o in found],
            )
            or ["No pot and no tag is waiting."]
        ),
    )  # fmt: skip


def _list_candidates(app: App, typed: str) -> None:
    from registry.services import matching
    from registry.services.identity import subject
    from registry.services.resolve import resolve

    with app.reading() as session:
        tag = matching.stray_tag(session, typed)
        if tag is not None:
            found = matching.candidates_for_tag(session, tag)
        else:
            node_id = subject(resolve(session, typed, today=app.today))
            found = matching.candidates_for_pot(session, node_id)
    app.answer(
        {"candidates": [
            {"code": one.code, "name": one.name, "place": one.place, "why": list(one.why)}
            for one in found
        ]},
        *(
            table(
                ("code", "name", "place", "what speaks for it"),
                [(o.code, o.name, o.place, ", ".join(o.why)) for o in found],
            )
            or ["Nothing on record comes near."]
        ),
    )  # fmt: skip


def _settle_orphan(
    app: App, typed: str, parents: tuple[str, ...], plant: str | None, written: Written
) -> None:
    from registry.services import matching
    from registry.services.resolve import resolve

    app.acted = day(app, written.on)
    with app.recording("plant match", by=written.by) as rec:
        tag = matching.stray_tag(rec.session, typed)
        if (tag is None) != (plant is None) or (tag is not None and parents):
            raise click.UsageError("A pot comes --from something; a tag --is a plant's.")
        meant = [resolve(rec.session, x, today=app.today, by_id=rec.by_id) for x in parents]
        if tag is not None and plant is not None:
            target = resolve(rec.session, plant, today=app.today, by_id=rec.by_id)
            code = matching.bind_stray(rec, tag, target)
            said = f"{typed} is that of {code}."
        else:
            target = resolve(rec.session, typed, today=app.today, by_id=rec.by_id)
            code = matching.parents_of_orphan(rec, target, meant)
            one_of = "one of " if len(parents) > 1 else ""
            said = f"{code} came from {one_of}{' '.join(parents)}."
        keep_with(app, rec, written, (code,))
    app.answer({"code": code, "parents": list(parents)}, said)


# --- marks ---------------------------------------------------------------------------------------


@click.command(
    "mark",
    epilog=examples(
        "plant mark 1:1 --chimera",
    ),
)
@click.argument("code")
@click.option("--chimera", "kind", flag_value="chimera", help="Its layers differ, as in 'Adamii'.")
@click.option("--no-tag", "kind", flag_value="no tag", help="Its tag is gone.")
@click.option("--off", is_flag=True, help="It is not so any more.")
@common
@writes
@pass_app
def plant_mark(app: App, code: str, kind: str | None, off: bool, written: Written) -> None:
    """Mark a plant as a chimera, or as one whose tag is gone."""
    from registry.services import identity
    from registry.services.resolve import resolve

    if kind is None:
        raise click.UsageError("Say --chimera or --no-tag.")
    on = app.acted = day(app, written.on)
    with app.recording("plant mark", by=written.by) as rec:
        target = resolve(rec.session, code, today=app.today, by_id=rec.by_id)
        doubted: tuple[str, ...] = ()
        if off:
            identity.unmark(rec, target, kind)
        else:
            doubted = identity.mark(rec, target, kind, on)
        marked = (rec.last or [code])[0]
        keep_with(app, rec, written, (marked,))
    word = {"chimera": "a chimera", "no tag": "without its tag"}[kind]
    app.answer(
        {"code": marked, "mark": kind, "off": off, "doubted": list(doubted)},
        f"{marked} is {'not ' if off else ''}{word}{' any more' if off else ''}.",
        *(
            [f"  Not proven: {' '.join(doubted)}, raised by leaf or root cuttings."]
            if doubted
            else []
        ),
    )


OF_PLANT = (
    plant_name,
    plant_sport,
    plant_same,
    plant_mixup,
    plant_orphan,
    plant_match,
    plant_mark,
)
"""The commands here, all of the group `plant`."""
