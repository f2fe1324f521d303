"""C15 to C20 and C22: rules of a place on a taxon, and crop-health orders on a site."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from registry.domain.rules.kinds import LIST_MONTHS
from registry.domain.rules.taxa import CERTIFIED_CROPS
from registry.domain.rules.territories import (
    Place,
    Regime,
    country_code,
    covers,
    plant_health_area,
    regime,
)
from registry.domain.spans import Span, add_days, add_months
from registry.domain.verdict.facts import (
    RELEASES,
    About,
    Act,
    Demand,
    Effect,
    Identity,
    Restriction,
    RuleKind,
    Taxon,
    Way,
)
from registry.domain.verdict.findings import (
    Ask,
    Finding,
    Level,
    Record,
    RecordKind,
    Settle,
    Unknown,
)
from registry.domain.verdict.walk import Case, Named, Subject

CERTIFICATION = frozenset({Regime.EU, Regime.UK})


def findings(case: Case, subject: Subject) -> Iterator[Finding]:
    """What the rules of the place, and of where plants go, come to."""
    named = _taxa(case, subject)
    for place in _places(case):
        for rule in case.dossier.restrictions:
            if not _holds(rule, place, case.dossier.question.day):
                continue
            if rule.kind is RuleKind.QUARANTINE:
                yield from _order(case, subject, named, rule)
            else:
                yield from _rule(case, subject, named, rule)
        yield from _lists(case, subject, place)
    yield from _certification(case, subject, named)


def _taxa(case: Case, subject: Subject) -> tuple[Named, ...]:
    """The names of every part of the plant, rootstock too."""
    if subject.way is Way.SUCKER:  # its rootstock is asked beside
        return ()
    found = list(case.named(subject.node))
    for reached in subject.stocks:
        found += case.named(reached.node)
    return tuple(dict.fromkeys(found))


def _places(case: Case) -> tuple[Place, ...]:
    """C18: where it is done, and for a release where plants go, as if there."""
    question = case.dossier.question
    if question.act in RELEASES | {Act.MOVE} and question.to not in {None, question.place}:
        return question.place, question.to
    return (question.place,)


def _holds(rule: Restriction, place: Place, day: Span) -> bool:
    """Whether the rule holds in the place on some possible day."""
    if not covers(rule.territory, place.country):
        return False
    if rule.region is not None and rule.region != place.region:
        return False
    return rule.since.first <= day.last and (rule.until is None or rule.until.last >= day.first)


# --- rules on taxa -------------------------------------------------------------------------------


def _rule(
    case: Case, subject: Subject, named: tuple[Named, ...], rule: Restriction
) -> Iterator[Finding]:
    effect = dict(rule.acts).get(case.dossier.question.act)
    if effect is None or (subject.private and not rule.private_too):
        return
    for name in named:
        matched = _match(name, rule)
        if matched is None:
            continue
        row, level = matched
        if level is Level.BARRED and effect is Effect.PERMIT:
            level = Level.CONDITIONAL
        yield _finding(rule, row, level, name)


def _match(named: Named, rule: Restriction) -> tuple[str, Level] | None:
    """The row by which a rule reaches a name, and how far; None where it does not."""
    taxon = named.name.taxon
    cultivated = named.name.identity is Identity.CULTIVAR
    if not rule.species:
        if rule.genus in _genera(taxon):  # C17: a genus reaches all its species
            return "C17", _unless_exempt(taxon, rule)
        return None
    species = f"{rule.genus} {rule.species}"
    if species in taxon.parents:  # C16: hybrids
        level = Level.BARRED if rule.kind is RuleKind.EU_INVASIVE else Level.UNKNOWN
        return "C16", _unless_exempt(taxon, rule, level)
    if taxon.binomial == species:
        return "C16" if cultivated or taxon.infraspecific else "C15", _unless_exempt(taxon, rule)
    if taxon.genus == rule.genus and not taxon.species:
        # The genus alone is known, or a cultivar without its species: it may be the listed one.
        row = "C16" if cultivated else "C15"
        return row, _unless_exempt(taxon, rule, Level.UNKNOWN)
    return None


def _genera(taxon: Taxon) -> set[str]:
    return {taxon.genus, *(parent.split(" ")[0] for parent in taxon.parents)}


def _unless_exempt(taxon: Taxon, rule: Restriction, level: Level = Level.BARRED) -> Level:
    return Level.CLEAR if taxon.key and taxon.key in rule.exempt else level


# --- orders on a site ----------------------------------------------------------------------------


def _order(
    case: Case, subject: Subject, named: tuple[Named, ...], rule: Restriction
) -> Iterator[Finding]:
    """C20: a quarantine or crop-health order covers the site."""
    act = case.dossier.question.act
    if rule.places and not rule.places.intersection(_standing(case, subject)):
        return
    if subject.private and not rule.private_too:
        return
    level = _order_level(act, rule)
    if level is None:
        return
    for name in named or (None,):
        taxon = name.name.taxon if name is not None else Taxon()
        if _listed(taxon, rule.not_hosts):
            yield _finding(rule, "C20", Level.CLEAR, name, subject.seat)
        elif not rule.hosts or _listed(taxon, rule.hosts) or not taxon.genus:
            yield _finding(rule, "C20", level, name, subject.seat)


def _standing(case: Case, subject: Subject) -> tuple[int, ...]:
    record = subject.plant or case.lot(subject.node)
    return record.places if record is not None else ()


def _listed(taxon: Taxon, taxa: frozenset[str]) -> bool:
    return bool(taxon.genus) and (taxon.binomial in taxa or taxon.genus in taxa)


def _order_level(act: Act, rule: Restriction) -> Level | None:
    """As it lists acts; where none were recorded, release is barred and propagate not known."""
    if rule.acts:
        effect = dict(rule.acts).get(act)
        if effect is None:
            return None
        return Level.BARRED if effect is Effect.BARS else Level.CONDITIONAL
    if act in RELEASES | {Act.MOVE}:
        return Level.BARRED
    return Level.UNKNOWN if act is Act.PROPAGATE else None


# --- lists and certification ---------------------------------------------------------------------


def _lists(case: Case, subject: Subject, place: Place) -> Iterator[Finding]:
    """C19: no list of the place loaded within 24 months; shown, no level, where none are kept."""
    question = case.dossier.question
    if question.act not in RELEASES:
        return
    lists = case.dossier.lists
    loaded = [on for where, on in (lists or {}).items() if covers(where, place.country)]
    if loaded and add_months(max(loaded), LIST_MONTHS) >= question.day.last:
        return
    yield Finding(
        row="C19",
        level=Level.CLEAR if subject.private or lists is None else Level.CONDITIONAL,
        plant=subject.seat,
        citation="cautious reading",
        settle=Settle.LOAD_LIST,
        ask=Ask.AUTHORITY,
        fields=(("place", country_code(place.country)), ("loaded", max(loaded, default=None))),
    )


def _certification(case: Case, subject: Subject, named: tuple[Named, ...]) -> Iterator[Finding]:
    """C22: seed potatoes and vegetables in trade, EU and GB; on record they are duties to meet."""
    question = case.dossier.question
    if subject.private:
        return
    if question.act not in RELEASES | {Act.PROPAGATE}:
        return
    if regime(question.place.country) not in CERTIFICATION:
        return
    for name in named:
        if name.name.taxon.binomial not in CERTIFIED_CROPS:
            continue
        known = demand(case, About.CROP, question.place, name.name.taxon)
        yield Finding(
            row="C22",
            level=Level.UNKNOWN if known is None else Level.CONDITIONAL,
            plant=name.node,
            unknown=Unknown.GAP if known is None else None,
            record=None if known is None else Record(RecordKind.DEMAND, known.id),
            citation=(
                "seed and vegetable marketing directives (from memory)"
                if known is None
                else known.source
            ),
            settle=Settle.RECORD_DUTIES if known is None else None,
            ask=Ask.AUTHORITY,
            certain=name.certain,
            fields=(
                ("place", country_code(question.place.country)),
                ("said", None if known is None else known.said),
            ),
        )


def demand(case: Case, about: About, place: Place, taxon: Taxon | None = None) -> Demand | None:
    """The newest demand of a place on record, or of the plant-health area that it belongs to."""
    area = plant_health_area(place)
    held = [
        one
        for one in case.dossier.demands
        if one.about is about
        and (covers(one.territory, place.country) or country_code(one.territory) == area)
        and (not one.taxon or taxon is None or one.taxon in {taxon.binomial, taxon.genus})
    ]
    return held[-1] if held else None


def _acts(rule: Restriction, effect: Effect) -> str:
    """The acts on which a rule has an effect, by their words, with blanks between."""
    return " ".join(act.value for act, does in rule.acts if does is effect)


def _finding(
    rule: Restriction, row: str, level: Level, named: Named | None, seat: int | None = None
) -> Finding:
    ends = rule.until.last if rule.until is not None else None
    unknown = Unknown.GAP if level is Level.UNKNOWN else None
    settle = None
    if level is Level.CONDITIONAL:
        settle = Settle.GET_PERMIT
    elif level is Level.UNKNOWN:
        settle = Settle.READ_ORDER if row == "C20" else Settle.DETERMINE
    found = Finding(
        row=row,
        level=level,
        plant=named.node if named is not None else seat if seat is not None else 0,
        unknown=unknown,
        record=Record(RecordKind.RESTRICTION, rule.id),
        citation=rule.citation,
        changes_on=add_days(ends, 1) if ends else None,
        settle=settle,
        ask=Ask.AUTHORITY,
        fields=(
            ("taxon", f"{rule.genus} {rule.species}".strip()),
            ("territory", rule.region or rule.territory),
            ("bars", _acts(rule, Effect.BARS)),
            ("permit", _acts(rule, Effect.PERMIT)),
        ),
    )
    return found if named is None or named.certain else replace(found, certain=False)
