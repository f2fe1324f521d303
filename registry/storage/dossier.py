"""The facts behind a verdict: fetched for any number of plants in at most twelve queries.

Every query takes its set of ids in one parameter, so that their number does not grow with the
plants; each ancestor is fetched once, however many descend from it.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, TextualSelect
from sqlalchemy.orm import Session

from registry.clock import local_day
from registry.domain.family import GONE
from registry.domain.names import (
    ParsedName,
    denomination_key,
    matching_key,
    parse_name,
    plain,
    taxa,
    trade_key,
)
from registry.domain.names.parts import Hybrid
from registry.domain.rights import EventKind, RightEvent, RightFacts
from registry.domain.rules.kinds import Group, Kind
from registry.domain.rules.territories import covers
from registry.domain.spans import ANY_DAY, FIRST_DAY, Span
from registry.domain.verdict.facts import (
    About,
    Acquisition,
    Act,
    Asked,
    Cites,
    Consent,
    Demand,
    Dossier,
    Edge,
    EdgeRole,
    Effect,
    Ended,
    FreeStatement,
    Ground,
    Hold,
    How,
    Identity,
    Limit,
    LookUp,
    Lot,
    Name,
    NameKind,
    Origin,
    Outcome,
    Owner,
    Plant,
    Provenance,
    Purpose,
    Question,
    Restriction,
    Right,
    Role,
    RuleKind,
    Since,
    Source,
    Stops,
    Taxon,
    Terms,
    Unit,
    Use,
    Word,
)
from registry.storage.lineage_queries import ANCESTRY, IDS, as_parameter
from registry.storage.statements import statement

STATED_ENDED = "stated-ended"
"""The word of an entry by which register or holder says, afterwards, that a right has ended."""

SEEDLINGS = "seedlings"
"""The word by which a consent says whether it reaches what is raised from seed (row A18)."""

SURE = frozenset({"", "sure", "certain", "yes"})
"""How sure a determination is said to be, where that leaves no doubt."""


@dataclass(frozen=True, slots=True)
class Fetched:
    """A dossier, and what its findings call things.

    Attributes:
        dossier: what the verdict is judged on.
        codes: node id to code, of everything in it.
        names: node id to the newest name of its own; nodes without one are left out.
        people: person id to name, of everybody in it.
        words: consent id to what its giver said.
    """

    dossier: Dossier
    codes: Mapping[int, str]
    names: Mapping[int, str]
    people: Mapping[int, str]
    words: Mapping[int, str]


# --- the queries ---------------------------------------------------------------------------------

_ANCESTRY = statement(5, ANCESTRY.text)
_PLANTS = statement(
    17,
    f"""
    SELECT node.id, node.code, node.accession_id, plant.received_as, plant.how, plant.origin,
           plant.since_edtf, plant.since_first, plant.since_last, plant.since_source,
           plant.got_edtf, plant.got_first, plant.got_last, plant.ended_edtf,
           plant.ended_first, plant.ended_last, plant.status
    FROM node JOIN plant ON plant.node_id = node.id
    WHERE node.id IN {IDS} AND plant.void_seq IS NULL
    """,  # noqa: S608 - a constant of ours
)
_LOTS = statement(
    9,
    f"""
    SELECT node.id, node.code, node.accession_id, lot.seq, lot.taken_edtf, lot.taken_first,
           lot.taken_last, given.purpose, json_extract(entry.header, '$.recorded')
    FROM node JOIN lot ON lot.node_id = node.id
    LEFT JOIN verdict_given given ON given.id = lot.verdict_id
    LEFT JOIN chain_entry entry ON entry.seq = lot.seq
    WHERE node.id IN {IDS} AND lot.void_seq IS NULL
    """,  # noqa: S608 - a constant of ours
)
_OWNERS = statement(
    14,
    f"""
    SELECT 'owner' AS what, own.id, own.seq, own.node_id, own.person_id, own.from_edtf,
           own.from_first, own.from_last, own.until_edtf, own.until_first, own.until_last,
           detail.name, NULL, NULL
    FROM ownership own LEFT JOIN person_detail detail ON detail.person_id = own.person_id
    WHERE own.node_id IN {IDS} AND own.void_seq IS NULL
    UNION ALL
    SELECT what, id, seq, node_id, NULL, on_edtf, on_first, on_last, NULL, NULL, NULL, NULL,
           value, said
    FROM particular WHERE node_id IN {IDS} AND void_seq IS NULL
    UNION ALL
    SELECT 'check', id, seq, node_id, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, outcome, NULL
    FROM identity_check WHERE node_id IN {IDS} AND void_seq IS NULL
    ORDER BY 3, 2
    """,  # noqa: S608 - a constant of ours
)
_DETERMINATIONS = statement(
    7,
    f"""
    SELECT id, node_id, printed, grounds, sure, starts_line, seq FROM determination
    WHERE node_id IN {IDS} AND void_seq IS NULL
    ORDER BY coalesce(on_last, '0001-01-01'), id
    """,  # noqa: S608 - a constant of ours
)
_RIGHTS = statement(
    31,
    """
    SELECT r.id, r.kind, r.number, r.territory, r.filed_edtf, r.filed_first, r.filed_last,
           r.earliest_edtf, r.earliest_first, r.earliest_last, r.granted_edtf, r.granted_first,
           r.granted_last, r.adjust_days, r.disclaimed_edtf, r.disclaimed_first,
           r.disclaimed_last, r.stated_end_edtf, r.stated_end_first, r.stated_end_last,
           r.end_source, r."group", json_extract(entry.header, '$.recorded'),
           (SELECT json_group_array(key) FROM right_name WHERE right_id = r.id),
           event.what, event.final, event.source, json_extract(told.header, '$.recorded'),
           event.on_edtf, event.on_first, event.on_last
    FROM "right" r LEFT JOIN chain_entry entry ON entry.seq = r.seq
    LEFT JOIN right_event event ON event.right_id = r.id AND event.void_seq IS NULL
    LEFT JOIN chain_entry told ON told.seq = event.seq
    WHERE r.void_seq IS NULL AND r.id IN
        (SELECT right_id FROM right_name WHERE key IN (SELECT value FROM json_each(:words)))
    ORDER BY r.id, event.id
    """,
)
_LOOKUPS = statement(
    13,
    """
    SELECT id, key, territory, on_edtf, on_first, on_last, complete, name, first_sold_edtf,
           first_sold_first, first_sold_last, found, pledge
    FROM right_lookup
    WHERE key IN (SELECT value FROM json_each(:words)) AND found IN ('none', 'free')
        AND void_seq IS NULL
    ORDER BY id
    """,
)
_CONSENT = """
    SELECT consent.id, consent.plant_id, consent.lot_id, consent.right_id, consent.person_id,
           consent.as_role, consent.territory, consent.outcome, consent.said,
           consent.covers_taken, consent.with_taking, consent.notice, consent.seq,
           consent.from_edtf, consent.from_first, consent.from_last, consent.until_edtf,
           consent.until_first, consent.until_last, consent.withdrawn_edtf,
           consent.withdrawn_first, consent.withdrawn_last,
           json_extract(entry.header, '$.recorded'), detail.name,
           word.act, word.allowed, word.limit_n, word.limit_unit, word.limit_per, word.royalty,
           word.currency, CASE WHEN word.limit_n IS NULL THEN NULL ELSE (
               SELECT json_group_array(json_array(act, n, unknown, first, last)) FROM (
                   SELECT act, sum(n) AS n, count(*) - count(n) AS unknown, min(on_first) AS first,
                          max(on_last) AS last
                   FROM consent_use used
                   WHERE used.consent_id = consent.id AND used.void_seq IS NULL
                   GROUP BY act, substr(CAST(on_first AS VARCHAR), 1, 4),
                       substr(CAST(on_last AS VARCHAR), 1, 4)) AS year) END,
           consent.credit, consent.pledge, consent.sell_off_edtf, consent.sell_off_first,
           consent.sell_off_last
    FROM consent LEFT JOIN consent_act word ON word.consent_id = consent.id
    LEFT JOIN chain_entry entry ON entry.seq = consent.seq
    LEFT JOIN person_detail detail ON detail.person_id = consent.person_id
    WHERE consent.void_seq IS NULL AND consent.outcome <> 'unasked' AND consent.{subject} IN
        (SELECT value FROM json_each(:{ids}))
"""
_CONSENTS = statement(
    37,
    " UNION ALL ".join(
        _CONSENT.format(subject=subject, ids=ids)
        for subject, ids in (("plant_id", "ids"), ("lot_id", "ids"), ("right_id", "rights"))
    ),
)
_HOLD = """
    SELECT id, node_id, accession_id, place_id, descent, stops, authority, from_edtf, from_first,
           from_last, lifted_edtf, lifted_first, lifted_last, reason
    FROM hold WHERE void_seq IS NULL AND {which}
"""
_HOLDS = statement(
    14,
    " UNION ALL ".join(
        _HOLD.format(which=which)
        for which in (
            f"node_id IN {IDS}",
            "accession_id IN (SELECT value FROM json_each(:accessions))",
            "place_id IS NOT NULL",
        )
    ),
)
_PLACES = statement(
    3,
    """
    WITH RECURSIVE around(kind, start, id) AS (
        SELECT 'plant', node_id, place_id FROM plant
        WHERE node_id IN (SELECT value FROM json_each(:ids)) AND place_id IS NOT NULL
        UNION
        SELECT 'batch', accession_id, place_id FROM stay
        WHERE accession_id IN (SELECT value FROM json_each(:accessions))
            AND until_edtf IS NULL AND void_seq IS NULL
        UNION
        SELECT around.kind, around.start, place.parent_id FROM around
        JOIN place ON place.id = around.id AND place.parent_id IS NOT NULL
    )
    SELECT kind, start, id FROM around
    """,
)
_RESTRICTIONS = statement(
    18,
    """
    SELECT 'rule', id, kind, genus, species, territory, region, private_too, citation, exempt,
           since_edtf, since_first, since_last, until_edtf, until_first, until_last,
           (SELECT json_group_array(json_array(act, effect)) FROM restriction_act
            WHERE restriction_id = restriction.id),
           (SELECT json_group_array(place_id) FROM restriction_site
            WHERE restriction_id = restriction.id)
    FROM restriction
    WHERE void_seq IS NULL AND (kind = 'quarantine' OR genus = ''
        OR genus IN (SELECT value FROM json_each(:words)))
    UNION ALL
    SELECT 'list', NULL, NULL, NULL, NULL, territory, NULL, NULL, NULL, NULL,
           NULL, max(on_first), NULL, NULL, NULL, NULL, NULL, NULL
    FROM restriction_list WHERE void_seq IS NULL GROUP BY territory
    UNION ALL
    SELECT 'demand', id, about, taxon, said, territory, NULL, permit, source, NULL,
           NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL
    FROM demand WHERE void_seq IS NULL
    """,
)


def fetch(session: Session, question: Question, asked: Sequence[Asked], *, today: date) -> Fetched:
    """All that a verdict on the asked plants and lots needs.

    Args:
        session: open on the registry.
        question: what is asked.
        asked: the plants, and lots from which pots leave by count.
        today: the day of recording of what this transaction itself has added.
    """
    session.flush()  # what was just recorded counts
    return _Fetch(session.connection(), question, tuple(asked), today).fetched()


@dataclass(frozen=True, slots=True)
class _Known:
    """The newest word on one particular of a plant: a fixed word, text, and its day."""

    value: str | None
    said: str | None
    on: Span | None


@dataclass(slots=True)
class _Fetch:
    """One fetching in progress: the parts as they come in."""

    connection: Connection
    question: Question
    asked: tuple[Asked, ...]
    today: date
    people: dict[int, str] = field(default_factory=dict)
    words: dict[int, str] = field(default_factory=dict)
    shown: dict[int, str] = field(default_factory=dict)
    known: dict[int, dict[str, _Known]] = field(default_factory=lambda: defaultdict(dict))
    checks: dict[int, tuple[int, str]] = field(default_factory=dict)
    days: dict[str, date] = field(default_factory=dict)

    def fetched(self) -> Fetched:
        asked = {one.node for one in self.asked}
        edges = self._all(_ANCESTRY, as_parameter(sorted(asked)))
        ids = asked | {row[0] for row in edges} | {row[1] for row in edges}
        parameter = as_parameter(sorted(ids))
        plants = self._all(_PLANTS, parameter)
        lots = self._all(_LOTS, parameter)
        owners = self._owners(parameter)
        names = self._names(plants, parameter)
        rules, lists, demands = self._rules(names)
        keys = sorted({name.key for given in names.values() for name in given if name.key})
        rights = self._rights(keys)
        consents = self._consents(parameter, [right.id for right in rights])
        accessions = {row[2] for row in plants} | {row[2] for row in lots}
        holds = self._holds(parameter, accessions)
        on_site = any(h.place for h in holds) or any(rule.places for rule in rules)
        places = self._places(parameter, lots) if on_site else {}
        searched, free = self._lookups(keys)
        dossier = Dossier(
            question=self.question,
            asked=self.asked,
            plants={
                row[0]: self._plant(
                    row, owners, names, consents, places.get(("plant", row[0]), ()), rules
                )
                for row in plants
            },
            lots={
                row[0]: self._lot(row, names, consents, places.get(("lot", row[0]), ()))
                for row in lots
            },
            edges=tuple(
                Edge(parent, child, _EDGE_ROLES[role], choice)
                for parent, child, role, choice, _ in edges
            ),
            rights=tuple(
                replace(right, licences=tuple(consents.get(("right", right.id), ())))
                for right in rights
            ),
            lookups=searched,
            free=free,
            # What is protected in the wild is asked of wild plants alone (row C8).
            restrictions=tuple(rule for rule in rules if rule.kind is not RuleKind.PROTECTED),
            lists=lists,
            holds=holds,
            demands=demands,
        )
        codes = {row[0]: row[1] for row in (*plants, *lots)}
        return Fetched(dossier, codes, self.shown, self.people, self.words)

    def _all(self, statement: TextualSelect, parameter: Mapping[str, str]) -> Sequence[Any]:
        return self.connection.execute(statement, parameter).all()

    def _recorded(self, moment: str | None) -> date:
        """The grower's day of a moment of recording; this transaction's own is not sealed yet."""
        if moment is None:
            return self.today
        if moment not in self.days:  # many rows are of one transaction
            self.days[moment] = local_day(datetime.fromisoformat(moment))
        return self.days[moment]

    # --- whose it is, what it is called ---

    def _owners(self, parameter: Mapping[str, str]) -> dict[int, list[Owner]]:
        found: dict[int, list[Owner]] = defaultdict(list)
        for what, _, seq, node, person, *days, name, value, said in self._all(_OWNERS, parameter):
            if what == "owner":
                found[node].append(Owner(person, _span(days[:3]) or ANY_DAY, _span(days[3:])))
                self._met(person, name)
            elif what == "check":
                self.checks[node] = (seq, value)
            else:
                self.known[node][what] = _Known(value, said, _span(days[:3]))
        return found

    def _met(self, person: int | None, name: str | None) -> None:
        if person is not None and name is not None:
            self.people[person] = name

    def _names(
        self, plants: Sequence[Any], parameter: Mapping[str, str]
    ) -> dict[int, tuple[Name, ...]]:
        found: dict[int, list[Name]] = defaultdict(list)
        for row in plants:
            node, received, how = row[0], row[3], row[4]
            if received is not None:
                self.shown[node] = received
                name = read_as_name(received)
                found[node].append(replace(name, kind=NameKind.RECEIVED, from_seed=how == "seed"))
        newest: dict[int, int] = {}
        for row in self._all(_DETERMINATIONS, parameter):
            node = row[1]
            self.shown[node] = row[2]
            newest[node] = max(newest.get(node, 0), row[6])
            found[node].append(_determined(row, found[node]))
        for node, given in found.items():
            given[-1] = self._looked_at(node, given[-1], newest.get(node, 0))
        return {node: tuple(given) for node, given in found.items()}

    def _looked_at(self, node: int, name: Name, named: int) -> Name:
        """A name with what was found when the plant was compared with it, since it was given."""
        known = self.known.get(node, {})
        if "no-cultivar" in known:
            name = replace(name, no_cultivar=True, grounds=True)
        seq, outcome = self.checks.get(node, (0, ""))
        if seq < named:
            return name
        if outcome == "contradicted":
            return replace(name, identity=Identity.MIX_UP)
        return replace(name, confirmed=name.confirmed or outcome == "confirmed")

    # --- rules of places ---

    def _rules(
        self, names: Mapping[int, tuple[Name, ...]]
    ) -> tuple[tuple[Restriction, ...], dict[str, date] | None, tuple[Demand, ...]]:
        """The rules that may reach what these plants are, when lists were loaded, and demands."""
        genera = {
            genus
            for given in names.values()
            for name in given
            for genus in (name.taxon.genus, *(p.split(" ")[0] for p in name.taxon.parents))
            if genus
        }
        rules: list[Restriction] = []
        lists: dict[str, date] = {}
        demands: list[Demand] = []
        for row in self._all(_RESTRICTIONS, {"words": json.dumps(sorted(genera))}):
            if row[0] == "list":
                lists[row[5]] = _day(row[11]) or FIRST_DAY
            elif row[0] == "demand":
                demands.append(_demand(row))
            else:
                rules.append(_rule(row))
        return tuple(rules), lists or None, tuple(sorted(demands, key=lambda one: one.id))

    # --- rights and look-ups ---

    def _rights(self, keys: Sequence[str]) -> list[Right]:
        if not keys:
            return []
        found: dict[int, Right] = {}
        for row in self._all(_RIGHTS, {"words": json.dumps(keys)}):
            if row[0] not in found:
                facts = _right_facts(row, self._recorded(row[22]))
                found[row[0]] = Right(row[0], facts, frozenset(json.loads(row[23])))
            what, final, source, told, *day = row[24:]
            if what is not None:
                right, on = found[row[0]], _span(day) or ANY_DAY
                if what == STATED_ENDED:
                    facts = replace(
                        right.facts,
                        stated_end=on,
                        end_source=source,
                        end_checked=self._recorded(told) if source else None,
                    )
                else:
                    event = RightEvent(EventKind(what), on, bool(final))
                    facts = replace(right.facts, events=(*right.facts.events, event))
                found[row[0]] = replace(right, facts=facts)
        return list(found.values())

    def _lookups(self, keys: Sequence[str]) -> tuple[tuple[LookUp, ...], tuple[FreeStatement, ...]]:
        """Searches that found none, and statements of breeder or holder that a variety is free."""
        if not keys:
            return (), ()
        searched: list[LookUp] = []
        free: list[FreeStatement] = []
        for row in self._all(_LOOKUPS, {"words": json.dumps(keys)}):
            on = _span(row[3:6]) or ANY_DAY
            if row[11] == "free":
                free.append(FreeStatement(row[0], row[1], on, row[12], territory=row[2]))
                continue
            searched.append(
                LookUp(
                    id=row[0],
                    key=row[1],
                    territory=row[2],
                    on=on,
                    complete=bool(row[6]),
                    by_denomination=read_as_name(row[7]).denomination,
                    first_sold=_span(row[8:11]),
                )
            )
        return tuple(searched), tuple(free)

    # --- consents and licences ---

    def _consents(
        self, parameter: Mapping[str, str], rights: Sequence[int]
    ) -> dict[tuple[str, int], list[Consent]]:
        """Consents by what they are on: ('plant' | 'lot' | 'right', id)."""
        rows = self._all(_CONSENTS, {**parameter, "rights": json.dumps(list(rights))})
        subjects: dict[int, tuple[str, int]] = {}
        found: dict[int, Consent] = {}
        for row in rows:
            consent_id, plant, lot, right = row[:4]
            if consent_id not in found:
                kind, subject = next(
                    (kind, subject)
                    for kind, subject in (("plant", plant), ("lot", lot), ("right", right))
                    if subject is not None
                )
                subjects[consent_id] = (kind, subject)
                found[consent_id] = self._consent(row)
            consent = found[consent_id]
            if row[24] == SEEDLINGS:
                found[consent_id] = replace(consent, seedlings=bool(row[25]))
            elif row[24] is not None:
                uses = consent.uses or self._uses(row[31])
                found[consent_id] = replace(consent, words=(*consent.words, _word(row)), uses=uses)
        by_subject: dict[tuple[str, int], list[Consent]] = defaultdict(list)
        for consent_id in sorted(found):
            by_subject[subjects[consent_id]].append(found[consent_id])
        return by_subject

    def _consent(self, row: Any) -> Consent:
        consent_id, person, role, said, name = row[0], row[4], row[5], row[8], row[23]
        self._met(person, name)
        if said:
            self.words[consent_id] = said
        return Consent(
            id=consent_id,
            person=person,
            role=_ROLES.get(role or "", Role.OWNER),
            outcome=Outcome(row[7]),
            given=_span(row[13:16]) or ANY_DAY,
            recorded=self._recorded(row[22]),
            until=_span(row[16:19]),
            withdrawn=_span(row[19:22]),
            entry=row[12],
            with_taking=bool(row[10]),
            covers_taken=bool(row[9]),
            territory=row[6],
            sell_off=sell_off.first if (sell_off := _span(row[34:37])) is not None else None,
        )

    def _uses(self, used: str | None) -> tuple[Use, ...]:
        """What was used of a limit, summed by act and year; `used` is None where there is none."""
        return tuple(
            Use(
                Act(act),
                None if unknown else n,
                Span(_day(first) or FIRST_DAY, _day(last) or self.today),
            )
            for act, n, unknown, first, last in json.loads(used or "[]")
        )

    # --- holds and places ---

    def _holds(self, parameter: Mapping[str, str], accessions: Iterable[int]) -> tuple[Hold, ...]:
        rows = self._all(_HOLDS, {**parameter, "accessions": json.dumps(sorted(accessions))})
        return tuple(
            Hold(
                id=row[0],
                node=row[1],
                accession=row[2],
                place=row[3],
                descent=bool(row[4]),
                stops=frozenset(Stops(stop) for stop in json.loads(row[5])) or frozenset(Stops),
                authority=row[6],
                since=_span(row[7:10]) or ANY_DAY,
                lifted=_span(row[10:13]),
                reason=row[13],
            )
            for row in rows
        )

    def _places(
        self, parameter: Mapping[str, str], lots: Sequence[Any]
    ) -> dict[tuple[str, int], tuple[int, ...]]:
        """Where each plant and lot stands, and every place around that."""
        batches = json.dumps(sorted({row[2] for row in lots}))
        around: dict[tuple[str, int], list[int]] = defaultdict(list)
        for kind, start, place in self._all(_PLACES, {**parameter, "accessions": batches}):
            around[kind, start].append(place)
        found = {key: tuple(places) for key, places in around.items() if key[0] == "plant"}
        found |= {("lot", row[0]): tuple(around.get(("batch", row[2]), ())) for row in lots}
        return found

    # --- plants and lots ---

    def _plant(
        self,
        row: Any,
        owners: Mapping[int, list[Owner]],
        names: Mapping[int, tuple[Name, ...]],
        consents: Mapping[tuple[str, int], list[Consent]],
        places: tuple[int, ...],
        rules: Sequence[Restriction],
    ) -> Plant:
        node, code, accession = row[:3]
        told = node in owners or node in names or node in self.known or ("plant", node) in consents
        if not told and row[3:] == _NOTHING_SAID:  # as of nearly every plant that was raised here
            return Plant(node, code, accession, places)
        how = _HOW.get(row[4] or "")
        own, given = tuple(owners.get(node, ())), tuple(consents.get(("plant", node), ()))
        since, known = _span(row[6:9]), self.known.get(node, {})
        origin = _origin(row[5], how, own, given)
        if origin is not None and origin.provenance is Provenance.WILD:
            protects = _protecting(rules, names.get(node, ()), self.question)
            origin = replace(origin, protected=protects)
        return Plant(
            id=node,
            label=code,
            accession=accession,
            places=places,
            how=how,
            ground=_GROUNDS.get(_value(known, "ground"), Ground.PRIVATE),
            acquired=_acquired(how, _span(row[10:13]), known),
            origin=origin,
            owners=own,
            consents=given,
            names=names.get(node, ()),
            since=(Since(since, row[9]),) if since else (),
            terms=_agreed(node, known),
            not_the_variety="not-the-variety" in known,
            distinct="distinct" in known,
            for_release="for-release" in known,
            cites=_CITES.get(_value(known, "cites"), Cites.NOT_RECORDED),
            ended=self._ended(row[16], _span(row[13:16])),
        )

    def _ended(self, status: str, on: Span | None) -> Ended | None:
        """That a plant was gone on the day asked about, if it may have been."""
        if status not in GONE or (on is not None and self.question.day.last < on.first):
            return None
        return Ended(status, on or Span(last=self.today))

    def _lot(
        self,
        row: Any,
        names: Mapping[int, tuple[Name, ...]],
        consents: Mapping[tuple[str, int], list[Consent]],
        places: tuple[int, ...],
    ) -> Lot:
        node, recorded, known = row[0], self._recorded(row[8]), self.known.get(row[0], ())
        return Lot(
            id=node,
            taken=_closed(_span(row[4:7]), recorded),
            label=row[1],
            accession=row[2],
            places=places,
            recorded=recorded,
            entry=row[3],
            purpose=Purpose(row[7]) if row[7] else None,
            consents=tuple(consents.get(("lot", node), ())),
            names=names.get(node, ()),
            apomictic="apomictic" in known,
            not_the_variety="not-the-variety" in known,
            for_release="for-release" in known,
        )


# --- values from columns -------------------------------------------------------------------------


def _day(stored: str | date | None) -> date | None:
    # SQLite gives text where a statement declares no column types.
    return date.fromisoformat(stored) if isinstance(stored, str) else stored


def _span(columns: Sequence[Any]) -> Span | None:
    """The span of a date kept as EDTF text, first and last day; None where nothing was said."""
    edtf, first, last = columns
    if edtf is None:
        return None
    return Span(_day(first) or FIRST_DAY, _day(last) or date.max)


def _closed(when: Span | None, recorded: date) -> Span:
    """A day that has passed is no later than the day on which it was typed."""
    when = when or ANY_DAY
    if when.last == date.max:
        return Span(when.first, max(recorded, when.first))
    return when


_NOTHING_SAID = (None, None, "unsaid", *[None] * 10, "alive")
"""What the rows of `_PLANTS` hold from the third column on where nothing is said of a plant."""

_GROUNDS = {
    "public": Ground.PUBLIC,
    "us-national-park": Ground.US_NATIONAL_PARK,
    "group": Ground.GROUP,
}
_CITES = {"listed": Cites.LISTED, "not-listed": Cites.NOT_LISTED}
_SOURCES = {"licensed": Source.LICENSED, "unlicensed": Source.UNLICENSED}


def _value(known: Mapping[str, _Known], what: str) -> str:
    return (known[what].value or "") if what in known else ""


def _acquired(how: How | None, on: Span | None, known: Mapping[str, _Known]) -> Acquisition | None:
    """How a plant was got, with what came with it: label, notice, supplier, place."""
    came = {"label-forbids", "notice", "pending", "supplier", "bought-in", "giver-made"}
    if how not in _ACQUIRED and not came & known.keys():
        return None
    answered = known["no-right"].on if "no-right" in known else None
    return Acquisition(
        on=on or ANY_DAY,
        source=_SOURCES.get(_value(known, "supplier"), Source.NOT_RECORDED),
        territory=_value(known, "bought-in") or None,
        copy=True if "giver-made" in known else None,
        notice=known["notice"].said if "notice" in known else None,
        do_not_propagate="label-forbids" in known,
        pending_mark=_value(known, "pending") or None,
        none_answered=answered.last if answered is not None else None,
    )


def _agreed(node: int, known: Mapping[str, _Known]) -> tuple[Terms, ...]:
    """Terms against propagating that the grower agreed, or an earlier holder did."""
    releases = {"no-copies": True, "copies-free": False}
    return tuple(
        Terms(None, what == "agreed", releases.get(_value(known, what)), known[what].said)
        for what in ("agreed", "agreed-before")
        if what in known
    )


def _rule(row: Any) -> Restriction:
    kind, genus, species = RuleKind(row[2]), row[3], row[4]
    taxon = f"{genus} {species}".strip()
    exempt = json.loads(row[9])
    order = kind is RuleKind.QUARANTINE
    return Restriction(
        id=row[1],
        kind=kind,
        genus=genus,
        species=species,
        territory=row[5],
        region=row[6],
        places=frozenset(json.loads(row[17])),
        acts=tuple((Act(act), Effect(effect)) for act, effect in json.loads(row[16])),
        private_too=bool(row[7]),
        since=_span(row[10:13]) or ANY_DAY,
        until=_span(row[13:16]),
        citation=row[8],
        exempt=frozenset() if order else _exempt_keys(taxon, exempt),
        hosts=frozenset({taxon} if order and taxon else ()),
        not_hosts=frozenset(one.lower() for one in exempt) if order else frozenset(),
    )


def _demand(row: Any) -> Demand:
    return Demand(
        id=row[1],
        about=About(row[2]),
        territory=row[5],
        said=row[4],
        source=row[8],
        permit=None if row[7] is None else bool(row[7]),
        taxon=row[3] or "",
    )


def _exempt_keys(taxon: str, names: Iterable[str]) -> frozenset[str]:
    """Keys of cultivars exempted by name, with the species and with the genus alone."""
    keys = set()
    for name in names:
        epithet = parse_name(name).name
        if epithet is not None and epithet.is_cultivar_named:
            keys.add(read_as_name(name).taxon.key)
        else:
            for of in (taxon, taxon.split(" ")[0]):
                keys.add(read_as_name(f"{of.capitalize()} '{name}'").taxon.key)
    return frozenset(keys - {""})


def _protecting(
    rules: Sequence[Restriction], names: Sequence[Name], question: Question
) -> str | None:
    """Where a rule of the place lists what a wild plant is as protected: its citation."""
    taxa = {name.taxon.binomial for name in names} | {name.taxon.genus for name in names}
    for rule in rules:
        listed = f"{rule.genus} {rule.species}".strip()
        if rule.kind is not RuleKind.PROTECTED or listed not in taxa:
            continue
        here = rule.region is None or rule.region == question.place.region
        if here and covers(rule.territory, question.place.country):
            return rule.citation
    return None


def _word(row: Any) -> Word:
    act, allowed, limit_n, unit, per, royalty, currency = row[24:31]
    limit = Limit(limit_n, Unit(unit), per == "year") if limit_n is not None else None
    pays = " ".join(part for part in (royalty, currency) if part) or None
    return Word(
        Act(act), bool(allowed), limit, pays, credit=row[32], notice=row[11], pledge=row[33]
    )


_EDGE_ROLES = {role.value: role for role in EdgeRole}
_ROLES = {
    "owner": Role.OWNER,
    "keeper": Role.KEEPER,
    # Who speaks for the one on record as owner; a tenant does not, unless recorded as owner.
    "heir": Role.AGENT,
    "agent": Role.AGENT,
    "tenant": Role.OWNER,
    "committee": Role.COMMITTEE,
    "giver": Role.GIVER,
    "holder": Role.HOLDER,
}
_HOW = {
    "bought": How.BOUGHT,
    "given": How.GIVEN,
    "swap": How.SWAPPED,
    "seed": How.SEED,
    "wild": How.WILD,
    "found": How.STANDING,
    "lent": How.STANDING,
    "inherited": How.INHERITED,
    "house": How.WITH_HOUSE,
    "society": How.SOCIETY_SALE,
    "produce": How.PRODUCE,
    "handed-over": How.HANDED_OVER,
    "statement": How.STATEMENT,
}
_ACQUIRED = frozenset({How.BOUGHT, How.GIVEN, How.SWAPPED, How.SOCIETY_SALE, How.STATEMENT})
_ORIGINS = {
    "cultivated": Provenance.CULTIVATED,
    "wild": Provenance.WILD,
    "unknown": Provenance.NOT_KNOWN,
}


def _origin(
    said: str, how: How | None, owners: tuple[Owner, ...], consents: tuple[Consent, ...]
) -> Origin | None:
    """The recorded origin; the leave of the ground's owner is what row C7 looks for."""
    provenance = _ORIGINS.get(said) or (Provenance.WILD if how is How.WILD else None)
    if provenance is None:
        return None
    people = {owner.person for owner in owners}
    allowed = frozenset(
        word.act
        for consent in consents
        if consent.outcome is Outcome.GIVEN and consent.withdrawn is None
        if consent.person in people or consent.role is Role.KEEPER
        for word in consent.words
        if word.allowed
    )
    return Origin(provenance, allowed)


def _right_facts(row: Any, recorded: date) -> RightFacts:
    return RightFacts(
        kind=Kind(row[1]),
        number=row[2],
        territory=row[3],
        filed=_span(row[4:7]),
        earliest_claimed=_span(row[7:10]),
        granted=_span(row[10:13]),
        adjust_days=row[13],
        disclaimed=_span(row[14:17]),
        stated_end=_span(row[17:20]),
        end_source=row[20],
        # What a register said was read no later than it was typed.
        end_checked=recorded if row[20] else None,
        group=Group(row[21]) if row[21] else None,
    )


# --- names ---------------------------------------------------------------------------------------


def variety_key(typed: str) -> str:
    """The key under which a name, a right and a look-up of one variety meet.

    Genus and cultivar epithet, whatever the species; a brand by itself; else the whole name.

    >>> variety_key("Salvia nemorosa 'Caradonna'") == variety_key("Salvia ‘Caradonna’")
    True
    """
    return read_as_name(typed).key


@lru_cache(maxsize=4096)
def read_as_name(typed: str) -> Name:
    """What a name says of a plant, as far as its words can be read."""
    parsed = parse_name(typed).name
    if parsed is None:
        return Name(key=matching_key(typed), identity=Identity.UNKNOWN)
    printed = plain(parsed)
    return Name(
        key=denomination_key(parsed) or trade_key(parsed) or matching_key(printed),
        identity=_identity(parsed),
        taxon=_taxon(parsed, matching_key(printed)),
        denomination=not parsed.is_brand_only,
        brand=parsed.trade or None,
    )


def says_what_it_is(printed: str, sure: str | None) -> bool:
    """Whether a determination leaves no doubt what a plant is: cultivar or species, and sure.

    >>> says_what_it_is("Salvia nemorosa", None), says_what_it_is("Salvia nemorosa", "likely")
    (True, False)
    """
    known = read_as_name(printed).identity in (Identity.CULTIVAR, Identity.SPECIES)
    return known and (sure or "").casefold() in SURE


def _identity(name: ParsedName) -> Identity:
    if name.is_doubtful:
        return Identity.DOUBTFUL
    if name.is_cultivar_lost:
        return Identity.LABEL_LOST
    if name.is_cultivar_named:
        return Identity.CULTIVAR
    if name.is_brand_only:
        return Identity.BRAND
    # A hybrid formula says as much as a species does: the cultivar is not said.
    return Identity.SPECIES if name.species or name.is_formula else Identity.GENUS


def _taxon(name: ParsedName, key: str) -> Taxon:
    parents = taxa(name) if name.is_formula else ()
    return Taxon(
        genus=name.genus.lower(),
        species="" if name.is_formula else name.species,
        hybrid=name.is_formula or name.hybrid is not Hybrid.NONE,
        parents=tuple(f"{parent.genus.lower()} {parent.species}".strip() for parent in parents),
        key=key,
    )


def _determined(row: Any, earlier: Sequence[Name]) -> Name:
    """A determination as a name: doubtful if said so, confirmed if an earlier one agrees."""
    determination_id, _, printed, grounds, sure, starts_line, _ = row
    name = read_as_name(printed)
    doubtful = (sure or "").casefold() not in SURE and name.identity is not Identity.UNKNOWN
    return replace(
        name,
        id=determination_id,
        identity=Identity.DOUBTFUL if doubtful else name.identity,
        kind=NameKind.SELECTION if starts_line else NameKind.DETERMINED,
        grounds=bool(grounds),
        confirmed=any(other.id is not None and other.key == name.key for other in earlier),
        from_seed=any(other.from_seed for other in earlier),
    )
