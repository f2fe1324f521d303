"""Commands for rules of a place, and for what came with a plant."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.app import App, Below
from registry.cli.options import (
    Written,
    common,
    day,
    examples,
    keep_with,
    pass_app,
    read_file,
    writes,
)
from registry.cli.output import some, table
from registry.errors import BadRules, RuleFault, RuleFaultAt

if TYPE_CHECKING:
    from registry.domain.dates import Hemisphere
    from registry.services.came import Fact, FactShown
    from registry.services.rules import DemandShown, RuleShown


@click.group("restriction", cls=Below)
def restriction_command() -> None:
    """Rules of a place on plants: invasive, weed, protected, quarantine."""


@restriction_command.command(
    "add",
    epilog=examples(
        "restriction add Fallopia --in US-OR --acts sell --citation list",
    ),
)
@click.argument("taxon")
@click.option("--in", "territory", required=True, metavar="PLACE", help="Where, such as US-OR.")
@click.option("--acts", default="", metavar="ACTS", help="sell propagate …; sell=permit; or all.")
@click.option("--citation", required=True, metavar="TEXT", help="Where the rule stands.")
@click.option("--kind", default="other", metavar="WORD", help="weed, quarantine, protected …")
@click.option("--rank", default="", metavar="WORD", help="species or genus, if it must be said.")
@click.option("--since", default="", metavar="DAY", help="Its first day.")
@click.option("--until", default="", metavar="DAY", help="Its last day.")
@click.option("--exempt", multiple=True, metavar="NAME", help="A cultivar that it leaves free.")
@click.option(
    "--site",
    "sites",
    multiple=True,
    metavar="PLACE",
    help="A place that an order covers; without any, all of the territory.",
)
@click.option("--trade-only", is_flag=True, help="It leaves private growing free.")
@writes
@common
@pass_app
def restriction_add(
    app: App,
    taxon: str,
    territory: str,
    acts: str,
    citation: str,
    kind: str,
    rank: str,
    since: str,
    until: str,
    exempt: tuple[str, ...],
    sites: tuple[str, ...],
    trade_only: bool,
    written: Written,
) -> None:
    """Write down a rule of a place on TAXON, a species or a genus; '*' is every plant."""
    from registry.services import rules

    rule = rules.read_rule(
        {
            "taxon": taxon,
            "territory": territory,
            "acts": acts,
            "citation": citation,
            "kind": kind,
            "rank": rank,
            "since": since,
            "until": until,
            "exempt": ";".join(exempt),
            "private": "no" if trade_only else "yes",
            "site": ";".join(sites),
        },
        today=app.today,
        hemisphere=_hemisphere(app),
        sites=_sites(app),
    )
    with app.recording("restriction", by=written.by) as rec:
        keep_with(app, rec, written, ())
        rec.happened = day(app, written.on).edtf
        shown = rules.add_rule(rec, rule)
    app.answer({"restrictions": [_rule_json(shown)]}, f"Rule {shown.id}: {_rule_line(shown)}")


@restriction_command.command(
    "import",
    epilog=examples(
        "restriction import list.csv",
    ),
)
@click.argument("file", type=click.Path(path_type=Path))
@writes
@common
@pass_app
def restriction_import(app: App, file: Path, written: Written) -> None:
    """Read a place's own list from a CSV file; reading it again doubles nothing.

    Columns: taxon, territory, acts, citation; and, where wanted, rank, since, until, exempt, kind,
    private, site. If a row is wrong none is stored, and all that is wrong is listed.
    """
    from registry.services import rules

    try:
        text = read_file(file).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadRules((RuleFaultAt(1, "", "", RuleFault.NOT_CSV),)) from None
    read = rules.read_list(text, today=app.today, hemisphere=_hemisphere(app), sites=_sites(app))
    with app.recording("restriction", by=written.by) as rec:
        keep_with(app, rec, written, ())
        on = day(app, written.on)
        rec.happened = on.edtf
        loaded = rules.load_list(rec, read, name=file.name, on=on)
    app.answer(
        {
            "territories": list(loaded.territories),
            "added": loaded.added,
            "changed": loaded.changed,
            "kept": loaded.kept,
        },
        f"{loaded.name}: {some(len(read), 'rule')} of {', '.join(loaded.territories)}: "
        f"{loaded.added} new, {loaded.changed} changed, {loaded.kept} as before.",
        "A list is as complete as its file: what it leaves out is not known here.",
    )


@restriction_command.command("list")
@common
@pass_app
def restriction_list(app: App) -> None:
    """List the rules on record and when lists were read."""
    from registry.services import rules

    with app.reading() as session:
        shown = rules.rules(session)
        read = [
            {"in": one.territory, "name": one.name, "rows": one.rows, "on": one.on.edtf}
            for one in rules.lists(session)
            if one.on is not None
        ]
        asked = rules.demands(session)
    rows = [
        (
            one.id,
            one.rule.taxon,
            one.rule.place.region or one.rule.place.country,
            _acts_words(one),
            one.rule.until.display() if one.rule.until else "",
            one.rule.citation,
        )
        for one in shown
    ]
    lines = table(("no.", "taxon", "in", "acts", "until", "where it stands"), rows) or [
        "No rules of places are recorded."
    ]
    lines += [f"Read on {one['on']}: {one['name']} ({one['in']})" for one in read]
    lines += [_demand_line(one) for one in asked]
    app.answer(
        {
            "restrictions": [_rule_json(one) for one in shown],
            "lists": read,
            "asks": [_demand_json(one) for one in asked],
        },
        *lines,
    )


@restriction_command.command(
    "asks",
    epilog=examples(
        'restriction asks CA --of seed --said "a list" --source "its office"',
    ),
)
@click.argument("place")
@click.option(
    "--of",
    "about",
    type=click.Choice(["plants", "seed", "crop"]),
    required=True,
    help="Plants or seed that come in; or a crop in trade there.",
)
@click.option("--said", required=True, metavar="TEXT", help="What it asks, in short.")
@click.option(
    "--source", required=True, metavar="TEXT", help="Where that was read, or who said it."
)
@click.option("--permit/--no-permit", default=None, help="Whether an import permit is asked.")
@click.option("--taxon", metavar="NAME", help="Of which crop; all that are certified if not said.")
@writes
@common
@pass_app
def restriction_asks(
    app: App,
    place: str,
    about: str,
    said: str,
    source: str,
    permit: bool | None,
    taxon: str | None,
    written: Written,
) -> None:
    """Write down what PLACE, a country or EU, asks of what comes in, or of a crop in trade."""
    from registry.domain.rules.countries import parse_territory
    from registry.domain.verdict.facts import About
    from registry.services import rules

    with app.recording("restriction", by=written.by) as rec:
        keep_with(app, rec, written, ())
        on = day(app, written.on)
        rec.happened = on.edtf
        shown = rules.add_demand(
            rec,
            About(about),
            parse_territory(place),
            said=said,
            source=source,
            permit=permit,
            taxon=taxon,
            on=on,
        )
    lines = [_demand_line(shown)]
    if shown.settled:
        lines.append(f"It answers {some(shown.settled, 'open question')}.")
    app.answer({"asks": [_demand_json(shown)], "settled": shown.settled}, *lines)


def _sites(app: App) -> list[str]:
    from registry.services.people import list_places

    with app.reading() as session:
        return [place.name for place in list_places(session)]


def _demand_line(shown: DemandShown) -> str:
    of = {"plants": "of plants that come in", "seed": "of seed that comes in"}.get(
        shown.about.value, f"of {shown.taxon or 'certified crops'} in trade"
    )
    permit = {None: "", True: "; an import permit", False: "; no import permit"}[shown.permit]
    return f"{shown.territory} asks {of}: {shown.said}{permit} ({shown.source})"


def _demand_json(shown: DemandShown) -> dict[str, Any]:
    return {
        "id": shown.id,
        "of": shown.about.value,
        "in": shown.territory,
        "taxon": shown.taxon,
        "permit": shown.permit,
        "said": shown.said,
        "source": shown.source,
        "on": shown.on.edtf if shown.on else None,
    }


def _hemisphere(app: App) -> Hemisphere:
    from registry.domain.dates import Hemisphere
    from registry.services.rows import registry_row

    with app.reading() as session:
        return Hemisphere(registry_row(session).hemisphere)


def _acts_words(shown: RuleShown) -> str:
    said = [
        act.value + (" with a permit" if effect.value == "permit" else "")
        for act, effect in shown.rule.acts
    ]
    return ", ".join(said) or "not recorded"


def _rule_line(shown: RuleShown) -> str:
    rule = shown.rule
    place = rule.place.region or rule.place.country
    exempt = f"; free: {', '.join(rule.exempt)}" if rule.exempt else ""
    at = f" at {', '.join(rule.sites)}" if rule.sites else ""
    return f"{rule.taxon} in {place}{at}: {_acts_words(shown)}{exempt} ({rule.citation})"


def _rule_json(shown: RuleShown) -> dict[str, Any]:
    rule = shown.rule
    return {
        "id": shown.id,
        "kind": rule.kind.value,
        "taxon": rule.taxon,
        "rank": rule.rank,
        "in": rule.place.region or rule.place.country,
        "acts": {act.value: effect.value for act, effect in rule.acts},
        "since": rule.since.edtf if rule.since else None,
        "until": rule.until.edtf if rule.until else None,
        "citation": rule.citation,
        "exempt": list(rule.exempt),
        "private": rule.private_too,
        "sites": list(rule.sites),
    }


# --- what came with a plant ----------------------------------------------------------------------


@click.command(
    "came",
    epilog=examples(
        "came 1:1",
        "came 1:1 --label-forbids",
    ),
)
@click.argument("codes", nargs=-1, required=True)
@click.option("--label-forbids", is_flag=True, help="Its label says: do not propagate.")
@click.option("--notice", metavar="TEXT", help="A notice that must go with it, in its words.")
@click.option("--pending", metavar="PLACE", help="Its label says PPAF or the like; which country.")
@click.option("--agreed", metavar="TEXT", help="What you agreed on when it came: no propagating.")
@click.option("--agreed-before", metavar="TEXT", help="The same, agreed by who had it before.")
@click.option("--no-copies", "release", flag_value="no-copies", help="No copy may leave either.")
@click.option("--copies-free", "release", flag_value="copies-free", help="Copies may leave.")
@click.option("--supplier", type=click.Choice(["licensed", "unlicensed"]), help="Who supplied it.")
@click.option("--bought-in", metavar="PLACE", help="The country it was bought in.")
@click.option("--giver-made", is_flag=True, help="It is a copy that its giver made.")
@click.option("--no-right", metavar="TEXT", help="Supplier or holder answered: no right. Who?")
@click.option("--ground", type=click.Choice(["public", "group", "us-national-park"]),
              help="It stands in a park or street, or belongs to a club.")  # fmt: skip
@click.option(
    "--cites", type=click.Choice(["listed", "not-listed"]), help="Whether CITES lists it."
)
@click.option("--distinct", metavar="TEXT", help="An own selection, clearly distinct. Why?")
@click.option("--not-the-variety", metavar="TEXT", help="A seedling, not the variety. Why?")
@click.option("--no-cultivar", metavar="TEXT", help="It is no cultivar. Why?")
@click.option("--apomictic", is_flag=True, help="Seed of this lot comes true as a copy.")
@click.option("--for-release", is_flag=True, help="Raised to be sold or given away.")
@writes
@common
@pass_app
def came_command(
    app: App,
    /,
    codes: tuple[str, ...],
    written: Written,
    release: str | None,
    pending: str | None,
    bought_in: str | None,
    no_right: str | None,
    **said: Any,
) -> None:
    """Write down what came with plants, or is known of them; without options, show it."""
    from registry.domain.rules.countries import parse_territory
    from registry.services import came
    from registry.services.resolve import resolve_all

    facts = _facts(said, release)
    for what, place in (("pending", pending), ("bought-in", bought_in)):
        if place is not None:
            facts.append(came.Fact(what, parse_territory(place)))
    if no_right is not None:
        on = day(app, written.on)
        facts.append(came.Fact("no-right", said=no_right, on=on))
    if release is not None and not any(fact.what.startswith("agreed") for fact in facts):
        raise click.UsageError("--no-copies and --copies-free belong to --agreed TEXT.")
    if not facts:
        with app.reading() as session:
            shown = came.known_facts(session, resolve_all(session, codes, today=app.today))
        app.answer(
            {"facts": [_fact_json(one) for one in shown]},
            *([_fact_line(one) for one in shown] or ["Nothing is recorded as come with it."]),
        )
        return
    with app.recording("came", by=written.by) as rec:
        rec.happened = day(app, written.on).edtf
        target = resolve_all(rec.session, codes, today=rec.today, by_id=rec.by_id)
        noted = came.note_facts(rec, target, facts)
        keep_with(app, rec, written, tuple(dict.fromkeys(one.code for one in noted.facts)))
    lines = [_fact_line(one) for one in noted.facts]
    if noted.settled:
        lines.append(f"It answers {some(noted.settled, 'open question')}.")
    app.answer(
        {"facts": [_fact_json(one) for one in noted.facts], "settled": noted.settled}, *lines
    )


def _facts(said: dict[str, Any], release: str | None) -> list[Fact]:
    """The facts of plain options: switches, fixed words, and texts."""
    from registry.services.came import Fact

    facts = []
    for option, given in said.items():
        what = option.replace("_", "-")
        if given is None or given is False:
            continue
        if given is True:
            facts.append(Fact(what))
        elif what in ("supplier", "ground", "cites"):
            facts.append(Fact(what, given))
        else:
            facts.append(Fact(what, release if what.startswith("agreed") else None, given))
    return facts


_FACTS = {
    "label-forbids": "its label forbids propagating",
    "notice": "a notice goes with it",
    "pending": "its label announces a right",
    "agreed": "you agreed",
    "agreed-before": "who had it before agreed",
    "supplier": "its supplier",
    "bought-in": "bought in",
    "giver-made": "a copy that its giver made",
    "no-right": "answered that there is no right",
    "ground": "ground",
    "cites": "CITES",
    "distinct": "clearly distinct",
    "not-the-variety": "not the variety",
    "no-cultivar": "no cultivar",
    "apomictic": "its seed comes true as a copy",
    "for-release": "raised to leave",
}


def _fact_line(shown: FactShown) -> str:
    fact = shown.fact
    words = [
        word
        for word in (fact.value, f"“{fact.said}”" if fact.said else None)
        if word is not None and word != ""
    ]
    more = f": {', '.join(words)}" if words else ""
    return f"{shown.code}  {_FACTS.get(fact.what, fact.what)}{more}"


def _fact_json(shown: FactShown) -> dict[str, Any]:
    return {
        "plant": shown.code,
        "what": shown.fact.what,
        "value": shown.fact.value,
        "said": shown.fact.said,
    }
