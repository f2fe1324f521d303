"""Rules of a place on plants: one at a time, or a place's own list from a file."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from registry.domain.dates import FuzzyDate, Hemisphere, parse_date
from registry.domain.names import calling_key, parse_name
from registry.domain.rules.countries import parse_place
from registry.domain.rules.territories import Place, covers
from registry.domain.verdict.facts import About, Act, Effect, RuleKind
from registry.errors import (
    BadDemand,
    BadPlaceCode,
    BadRules,
    DemandFault,
    NothingSaid,
    RegistryError,
    RuleFault,
    RuleFaultAt,
)
from registry.services import people
from registry.services.naming import names_of
from registry.storage.dossier import read_as_name
from registry.storage.models import (
    Demand,
    Question,
    Restriction,
    RestrictionAct,
    RestrictionList,
    RestrictionSite,
    VerdictGiven,
)
from registry.storage.models import Place as Site
from registry.storage.transaction import Recording

COLUMNS = (
    "taxon", "rank", "territory", "acts", "since", "until", "citation", "exempt", "kind", "private",
    "site",
)  # fmt: skip
"""The columns of a list; `taxon`, `territory`, `acts` and `citation` must be there."""

NEEDED = ("taxon", "territory", "acts", "citation")
EVERY_PLANT = "*"
ALL_ACTS = tuple(act for act in Act if act is not Act.END)
# An order whose acts were not recorded is row C20; what is protected in the wild is row C8.
ACTS_UNSAID = frozenset({RuleKind.QUARANTINE, RuleKind.PROTECTED})
_YES = frozenset({"", "yes", "y", "true", "1"})
_NO = frozenset({"no", "n", "false", "0"})


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of a place, as read.

    Attributes:
        kind: what kind of rule.
        taxon: the species or genus as printed; `*` is every plant.
        genus, species: lower case; empty where not said.
        rank: species, genus or all.
        place: where it holds, a region included.
        acts: what it does to each act that it lists; none is 'not recorded' (row C20).
        since: its first day.
        until: its last day.
        citation: where it stands.
        exempt: cultivars exempted by name; of an order, taxa that are no hosts.
        private_too: it reaches private growing.
        sites: of an order, the names of the places that it covers; none is all of the territory.
    """

    kind: RuleKind
    taxon: str
    genus: str
    species: str
    rank: str
    place: Place
    acts: tuple[tuple[Act, Effect], ...]
    since: FuzzyDate | None
    until: FuzzyDate | None
    citation: str
    exempt: tuple[str, ...] = ()
    private_too: bool = True
    sites: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RuleShown:
    """A rule on record: its number and what it says."""

    id: int
    rule: Rule


@dataclass(frozen=True, slots=True)
class Loaded:
    """What a list came to: rules that are new, that changed, and that were on record as they are.

    Attributes:
        name: of the file.
        territories: whose lists these are.
    """

    name: str
    territories: tuple[str, ...]
    added: int
    changed: int
    kept: int


# --- reading -------------------------------------------------------------------------------------


def read_rule(
    fields: Mapping[str, str],
    *,
    today: date,
    hemisphere: Hemisphere,
    sites: Collection[str] = (),
    row: int = 0,
) -> Rule:
    """A rule from words, by the names of `COLUMNS`; `sites` are the names of places on record.

    Acts are parted by commas, semicolons or blanks; `sell=permit` is allowed with a permit, `all`
    is every act. Exempt cultivars, and sites, are parted by semicolons.

    Raises:
        BadRules: with everything that is wrong.
    """
    faults: list[RuleFaultAt] = []

    def said(column: str) -> str:
        return (fields.get(column) or "").strip()

    def wrong(column: str, fault: RuleFault) -> None:
        faults.append(RuleFaultAt(row, column, said(column), fault))

    kind = _kind(said("kind"))
    if kind is None:
        wrong("kind", RuleFault.KIND)
        kind = RuleKind.OTHER
    taxon = _taxon(said("taxon"), said("rank").lower())
    if isinstance(taxon, RuleFault):
        wrong("rank" if taxon is RuleFault.RANK else "taxon", taxon)
        taxon = ("", "", "", "")
    place = _place(said("territory"))
    if place is None:
        wrong("territory", RuleFault.TERRITORY)
    acts = _acts(said("acts"))
    if acts is None or (not acts and kind not in ACTS_UNSAID):
        wrong("acts", RuleFault.ACTS)
    days: dict[str, FuzzyDate | None] = {}
    for column in ("since", "until"):
        try:
            days[column] = _day(said(column), today, hemisphere)
        except RegistryError:
            wrong(column, RuleFault.DAY)
    if _backwards(days.get("since"), days.get("until")):
        wrong("until", RuleFault.BACKWARDS)
    covered = _parted(said("site"))
    if covered and kind is not RuleKind.QUARANTINE:
        wrong("site", RuleFault.SITE_OF_ORDER)
    known = {calling_key(name) for name in sites}
    for name in covered:
        if calling_key(name) not in known:
            faults.append(RuleFaultAt(row, "site", name, RuleFault.SITE))
    if not said("citation"):
        wrong("citation", RuleFault.CITATION)
    private = said("private").lower()
    if private not in _YES | _NO:
        wrong("private", RuleFault.PRIVATE)
    if faults or place is None:
        raise BadRules(tuple(faults))
    return Rule(
        kind=kind,
        taxon=taxon[0],
        genus=taxon[1],
        species=taxon[2],
        rank=taxon[3],
        place=place,
        acts=acts or (),
        since=days["since"],
        until=days["until"],
        citation=said("citation"),
        exempt=_parted(said("exempt")),
        private_too=private in _YES,
        sites=covered,
    )


def _parted(said: str) -> tuple[str, ...]:
    """Names parted by semicolons, each once."""
    return tuple(dict.fromkeys(one.strip() for one in said.split(";") if one.strip()))


def read_list(
    text: str, *, today: date, hemisphere: Hemisphere, sites: Collection[str] = ()
) -> tuple[Rule, ...]:
    """The rules of a list, from the text of a CSV file with a line of column names.

    `sites` are the names of places on record. Cells are parted by commas, semicolons or tabs, as
    the line of column names shows.

    Raises:
        BadRules: with everything that is wrong, by the line of the file.
    """
    text = text.removeprefix("\ufeff")
    reader = csv.reader(io.StringIO(text), delimiter=_delimiter(text), strict=True)
    rules: list[Rule] = []
    faults: list[RuleFaultAt] = []
    at: dict[tuple[str, ...], int] = {}
    try:
        header = [column.strip().lower() for column in next(reader, [])]
        faults += [
            RuleFaultAt(1, column, "", RuleFault.NO_COLUMN)
            for column in NEEDED
            if column not in header
        ]
        faults += [
            RuleFaultAt(1, column, column, RuleFault.COLUMN)
            for column in header
            if column not in COLUMNS
        ]
        faults += [
            RuleFaultAt(1, column, "", RuleFault.COLUMN_TWICE)
            for column in COLUMNS
            if header.count(column) > 1
        ]
        if faults:
            raise BadRules(tuple(faults))
        for cells in reader:
            line = reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(header):
                faults.append(RuleFaultAt(line, "", str(len(cells)), RuleFault.WIDTH))
                continue
            try:
                rule = read_rule(
                    dict(zip(header, cells, strict=True)),
                    today=today,
                    hemisphere=hemisphere,
                    sites=sites,
                    row=line,
                )
            except BadRules as error:
                faults += error.faults
                continue
            key = _key(rule)
            if key in at:
                faults.append(RuleFaultAt(line, "taxon", str(at[key]), RuleFault.TWICE))
            at.setdefault(key, line)
            rules.append(rule)
    except csv.Error as error:
        raise BadRules(
            (*faults, RuleFaultAt(reader.line_num, "", str(error), RuleFault.NOT_CSV))
        ) from None
    if faults:
        raise BadRules(tuple(faults))
    if not rules:
        raise BadRules((RuleFaultAt(1, "", "", RuleFault.EMPTY),))
    return tuple(rules)


def _delimiter(text: str) -> str:
    """What parts the cells: a comma, or what table programs of some countries write instead."""
    names = text.partition("\n")[0]
    return max((",", ";", "\t"), key=names.count)


def _kind(said: str) -> RuleKind | None:
    try:
        return RuleKind(said.lower() or RuleKind.OTHER.value)
    except ValueError:
        return None


def _taxon(said: str, rank: str) -> tuple[str, str, str, str] | RuleFault:
    """Printed name, genus, species and rank; or what is wrong."""
    if rank not in ("", "species", "genus", "all"):
        return RuleFault.RANK
    if said == EVERY_PLANT:
        return (EVERY_PLANT, "", "", "all") if rank in ("", "all") else RuleFault.RANK
    name = parse_name(said).name
    if name is None or name.is_formula or name.is_doubtful:
        return RuleFault.TAXON
    if name.is_cultivar_named or name.is_brand_only:
        return RuleFault.CULTIVAR
    found = "species" if name.species else "genus"
    if rank not in ("", found):
        return RuleFault.RANK
    genus = name.genus.lower()
    return f"{name.genus} {name.species}".strip(), genus, name.species, found


def _place(said: str) -> Place | None:
    try:
        return parse_place(said)
    except BadPlaceCode:
        return None


def _acts(said: str) -> tuple[tuple[Act, Effect], ...] | None:
    found: dict[Act, Effect] = {}
    for word in said.lower().replace(",", " ").replace(";", " ").split():
        act, _, effect = word.partition("=")
        if effect not in ("", "permit"):
            return None
        does = Effect.PERMIT if effect else Effect.BARS
        if act == "all":
            found |= dict.fromkeys(ALL_ACTS, does)
            continue
        try:
            found[Act(act)] = does
        except ValueError:
            return None
    return tuple(sorted(found.items(), key=lambda pair: pair[0].value))


def _day(said: str, today: date, hemisphere: Hemisphere) -> FuzzyDate | None:
    return parse_date(said, today=today, hemisphere=hemisphere) if said else None


def _backwards(since: FuzzyDate | None, until: FuzzyDate | None) -> bool:
    return (
        since is not None
        and until is not None
        and since.first is not None
        and until.last is not None
        and until.last < since.first
    )


# --- recording -----------------------------------------------------------------------------------


def add_rule(rec: Recording, rule: Rule) -> RuleShown:
    """Write down one rule; the same rule said otherwise before is replaced."""
    row, _ = _write(rec, rule, _on_record(rec.session))
    rec.flush()
    return RuleShown(row.id, rule)


def load_list(rec: Recording, rules: Sequence[Rule], *, name: str, on: FuzzyDate) -> Loaded:
    """Write down a place's own list: what is on record as it is stays, and nothing doubles.

    Args:
        rec: the recording.
        rules: all of the list.
        name: of the file.
        on: the day of the list.
    """
    known = _on_record(rec.session)
    came = {"added": 0, "changed": 0, "kept": 0}
    for rule in rules:
        came[_write(rec, rule, known)[1]] += 1
    countries = sorted({rule.place.country for rule in rules})
    for before in lists(rec.session):
        if before.name == name and before.territory in countries:
            before.void_seq = rec.seq  # the same list, read again
    for country in countries:
        n = sum(rule.place.country == country for rule in rules)
        rec.add(RestrictionList(territory=country, name=name, rows=n, on=on))
    rec.flush()
    return Loaded(name, tuple(countries), came["added"], came["changed"], came["kept"])


@dataclass(frozen=True, slots=True)
class DemandShown:
    """What a country asks, as it was read.

    Attributes:
        id: of the record.
        about: plants or seed that come in, or a crop in trade.
        territory: whose rule it is.
        taxon: of a crop; None is every crop that needs a certificate.
        permit: an import permit is asked; None where that was not said.
        said: what it asks.
        source: where that was read.
        on: when.
        settled: open questions that it answered.
    """

    id: int
    about: About
    territory: str
    taxon: str | None
    permit: bool | None
    said: str
    source: str
    on: FuzzyDate | None
    settled: int = 0


def add_demand(
    rec: Recording,
    about: About,
    territory: str,
    *,
    said: str,
    source: str,
    permit: bool | None = None,
    taxon: str | None = None,
    on: FuzzyDate,
) -> DemandShown:
    """Write down what a country asks (rows E1, E2, C22); the newest word of each counts.

    Args:
        rec: the recording.
        about: what comes in, or a crop in trade.
        territory: a country, or EU.
        said: what it asks.
        source: where that was read, or who said so.
        permit: whether an import permit is asked.
        taxon: of a crop, its species or genus.
        on: when it was read.

    Raises:
        NothingSaid: what it asks, or where that was read, is empty.
        BadDemand: a crop with a permit, or a taxon that is none or of no crop.
    """
    for option, words in (("--said", said), ("--source", source)):
        if not words.strip():
            raise NothingSaid(option)
    if permit is not None and about is About.CROP:
        raise BadDemand(about.value, DemandFault.PERMIT)
    key = None
    if taxon is not None:
        read = _taxon(taxon, "")
        if about is not About.CROP:
            raise BadDemand(taxon, DemandFault.TAXON_OF_CROP)
        if isinstance(read, RuleFault) or read[0] == EVERY_PLANT:
            raise BadDemand(taxon, DemandFault.TAXON)
        key = f"{read[1]} {read[2]}".strip()
    row = rec.add(
        Demand(
            about=about.value,
            territory=territory,
            taxon=key,
            permit=permit,
            said=said.strip(),
            source=source.strip(),
            on=on,
        )
    )
    rec.flush()
    settled = _answered(rec.session, territory, key) if about is About.CROP else []
    for question in settled:
        question.settled_seq = rec.seq
        question.how = f"demand {row.id}"
    rec.flush()
    return replace(_demand_shown(row), settled=len(settled))


def _answered(session: Session, territory: str, taxon: str | None) -> list[Question]:
    """The open questions which duties a crop has in trade (C22), of the place and the taxon."""
    rows = session.execute(
        select(Question, VerdictGiven.place)
        .join(VerdictGiven, VerdictGiven.id == Question.verdict_id)
        .where(Question.row == "C22", Question.settled_seq.is_(None), Question.void_seq.is_(None))
        .order_by(Question.id)
    ).all()
    names = names_of(session, [question.node_id for question, _ in rows])
    found = []
    for question, place in rows:
        named = read_as_name(names[question.node_id].shown).taxon
        reached = taxon is None or taxon in {named.binomial, named.genus}
        if reached and covers(territory, parse_place(place).country):
            found.append(question)
    return found


def demands(session: Session) -> tuple[DemandShown, ...]:
    """What countries ask, as far as it was read, oldest first."""
    rows = session.scalars(select(Demand).where(Demand.void_seq.is_(None)).order_by(Demand.id))
    return tuple(_demand_shown(row) for row in rows)


def _demand_shown(row: Demand) -> DemandShown:
    return DemandShown(
        row.id,
        About(row.about),
        row.territory,
        row.taxon,
        row.permit,
        row.said,
        row.source,
        row.on,
    )


def rules(session: Session) -> tuple[RuleShown, ...]:
    """Every rule on record, by taxon."""
    found = [RuleShown(row.id, rule) for row, rule in _on_record(session).values()]
    return tuple(sorted(found, key=lambda one: (one.rule.taxon, one.id)))


def lists(session: Session) -> tuple[RestrictionList, ...]:
    """The lists that were read, newest first."""
    return tuple(
        session.scalars(
            select(RestrictionList)
            .where(RestrictionList.void_seq.is_(None))
            .order_by(RestrictionList.id.desc())
        )
    )


def _key(rule: Rule) -> tuple[str, ...]:
    """What makes two rules the same rule, whatever they say."""
    place = rule.place.region or rule.place.country
    return rule.kind.value, rule.genus, rule.species, place, rule.citation


def _on_record(session: Session) -> dict[tuple[str, ...], tuple[Restriction, Rule]]:
    acts: dict[int, list[tuple[Act, Effect]]] = {}
    for act in session.scalars(select(RestrictionAct).order_by(RestrictionAct.act)):
        acts.setdefault(act.restriction_id, []).append((Act(act.act), Effect(act.effect)))
    sites: dict[int, list[str]] = {}
    for rule_id, name in session.execute(
        select(RestrictionSite.restriction_id, Site.name)
        .join(Site, Site.id == RestrictionSite.place_id)
        .order_by(Site.id)
    ):
        sites.setdefault(rule_id, []).append(name)
    found = {}
    for row in session.scalars(
        select(Restriction).where(Restriction.void_seq.is_(None)).order_by(Restriction.id)
    ):
        rule = Rule(
            kind=RuleKind(row.kind),
            taxon=row.taxon,
            genus=row.genus,
            species=row.species,
            rank=row.rank,
            place=Place(row.territory, row.region),
            acts=tuple(acts.get(row.id, ())),
            since=row.since,
            until=row.until,
            citation=row.citation,
            exempt=tuple(row.exempt),
            private_too=row.private_too,
            sites=tuple(sites.get(row.id, ())),
        )
        found[_key(rule)] = (row, rule)
    return found


def _write(
    rec: Recording, rule: Rule, known: dict[tuple[str, ...], tuple[Restriction, Rule]]
) -> tuple[Restriction, str]:
    """The row of a rule and whether it was added, changed or kept."""
    before = known.get(_key(rule))
    if before is not None:
        if _said_alike(before[1], rule):
            return before[0], "kept"
        before[0].void_seq = rec.seq
    row = rec.add(
        Restriction(
            kind=rule.kind.value,
            taxon=rule.taxon,
            genus=rule.genus,
            species=rule.species,
            rank=rule.rank,
            territory=rule.place.country,
            region=rule.place.region,
            private_too=rule.private_too,
            citation=rule.citation,
            exempt=list(rule.exempt),
            since=rule.since,
            until=rule.until,
        )
    )
    rec.flush()
    for act, effect in rule.acts:
        rec.add(RestrictionAct(restriction_id=row.id, act=act.value, effect=effect.value))
    for place_id in sorted({people.place_named(rec, name) for name in rule.sites}):
        rec.add(RestrictionSite(restriction_id=row.id, place_id=place_id))
    known[_key(rule)] = (row, rule)
    return row, "changed" if before is not None else "added"


def _said_alike(one: Rule, other: Rule) -> bool:
    """The same in all that counts; how a day was typed does not."""

    def plain(rule: Rule) -> Rule:
        def bare(day: FuzzyDate | None) -> FuzzyDate | None:
            return replace(day, said=None) if day is not None else None

        sites = tuple(sorted(calling_key(name) for name in rule.sites))
        return replace(rule, since=bare(rule.since), until=bare(rule.until), sites=sites)

    return plain(one) == plain(other)
