"""What a person reads of leave, rights and verdicts: findings, what settles them, whom to ask."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from registry import errors
from registry.domain.verdict.findings import Ask, Finding, Level, RecordKind, Settle, Unknown
from registry.wording.basics import day_words, joined
from registry.wording.problems import problem

CAUTION = (
    "A memory aid, not legal advice: the rights holder, the register and the local plant-health "
    "authority decide."
)


@dataclass(frozen=True, slots=True)
class Called:
    """What findings call things: codes and names by node, people by id, words by consent.

    Act and place are those of the question, for the commands that would settle a finding.
    """

    codes: Mapping[int, str]
    names: Mapping[int, str]
    people: Mapping[int, str]
    words: Mapping[int, str]
    act: str = "ACT"
    place: str = "PLACE"

    def code(self, node: int) -> str:
        """The code of a plant or lot."""
        return self.codes.get(node, str(node))

    def plant(self, node: int) -> str:
        """Code and own name, such as `26-0001-5 (red hydrangea)`."""
        name = self.names.get(node)
        return f"{self.code(node)} ({name})" if name else self.code(node)

    def person(self, person: int | None) -> str:
        """A name, or 'its owner'."""
        return self.people.get(person or 0, "its owner")


# --- findings ------------------------------------------------------------------------------------

_DOING = {
    "propagate": "propagating",
    "keep": "keeping",
    "give": "giving away",
    "swap": "swapping",
    "sell": "selling",
    "export": "exporting",
    "move": "moving",
    "end": "ending",
}

_KINDS = {
    "us-plant-patent": "US plant patent",
    "us-utility-patent": "US utility patent",
    "us-pvp": "US plant variety certificate",
    "eu-cpvr": "EU plant variety right",
    "uk-pbr": "UK plant breeders' right",
    "ca-pbr": "Canadian plant breeders' right",
    "au-pbr": "Australian plant breeder's right",
    "nz-pvr": "New Zealand plant variety right",
    "ch-pvr": "Swiss plant variety right",
    "other": "right",
}

_TEXTS: Mapping[str, str] = {
    # whose it is, and what they allowed
    "A1": "{plant} was the grower's own.",
    "A2": "{plant} is not recorded as the grower's own, and no leave is recorded.",
    "A2b": "{who} was asked about {plant} and has not answered.",
    "A3": "{who} allows it of {plant}{said}.",
    "A4": "{who} gave leave as the material of {plant} was taken{said}.",
    "A5": "{who} handed the cuttings of {plant} over for growing.",
    "A6": "{who} said no to this for {plant} and what is raised from it{said}.",
    "A7": "{who} did not say whether this is allowed with {plant}{said}.",
    "A9": "The leave of {who} for {plant} was not in force on that day.",
    "A10": "The leave of {who} for {plant} covers only part of the days that are possible.",
    "A12": "With this the number that {who} allowed of {plant} is reached: {limit} {unit}.",
    "A13": "{who} took the leave for {plant} back.",
    "A16": "{who} is not on record as owner of {plant} on that day, nor as acting for the owner.",
    "A17": "{plant} has changed hands since {who} gave leave.",
    "A18": "The leave of {who} for {plant} does not say that it reaches seedlings.",
    "A19": "{plant} gave the pollen only; no leave is asked for that.",
    "A20": "{plant} stands on public ground, and no leave of the body that keeps it is recorded.",
    "A21": "{plant} belongs to a group, and no leave of its committee is recorded.",
    # rights on the variety
    "B1": "{right} is in force, and no licence for this is recorded.",
    "B2": "{right} is in force: private use only; these copies may not be released while it lasts.",
    "B3": "{right} is in force, and a copy would change hands, if only privately.",
    "B4": "{right} is in force, and passing copies on needs a licence.",
    "B5": "{plant} was made privately under {right}.",
    "B6": "{plant} came as a copy from somebody with no licence on record under {right}.",
    "B7": "This very plant was bought with the holder's leave under {right}; carry its notice.",
    "B8": "Who supplied {plant}, and whether with a licence under {right}, is not recorded.",
    "B9": "{plant} was bought elsewhere; bringing it in may need leave under {right}.",
    "B11": "{plant} or its parent is protected by {right}; this is raised from its seed.",
    "B12": "A sport of what {right} protects may fall under it.",
    "B13": "An own seedling; {right} does not clearly reach it.",
    "B14": "A licence under {right} covers this.",
    "B16": "Made under a licence that has ended: what it says of selling off decides.",
    "B17": "A right was applied for or announced for {plant}; what became of it is not recorded.",
    "B18": "{right} was refused, withdrawn or abandoned.",
    "B19": "{plant} is older than the filing of {right}: the right may be for a newer selection.",
    "B20": "{right} is in force.",
    "B21": "{right} may have ended; the latest possible end has not passed.",
    "B22": "{right} has ended.",
    "B25": "{right} has ended, as its register or holder says.",
    "B26": "{right} lapsed for an unpaid fee; that it was not restored is not confirmed.",
    "B27": "{right} was surrendered or cancelled.",
    "B28": "{right} was annulled, as if never granted.",
    "B30": "{plant} was made while {right} was in force, with no licence on record.",
    "B31": "{plant} was renamed from a name that {right} protects.",
    "B32": "{right} is held in another territory only: a hint to look here.",
    "B34": "No right was found in {place_of} when the name of {plant} was looked up{looked_up}.",
    "B35": "The name of {plant} was looked up under a brand, not under its cultivar name.",
    "B36": "Whether {a_right} stands on the name of {plant} in {place_of} was never looked up.",
    "B37": "{plant} has been here or on sale since {since} ({source}), longer than a right lasts.",
    "B38": "How old {plant} is, is not recorded with its source, and its name was not looked up.",
    "B39": "Breeder or holder says that {plant} is free{pledge}.",
    "B40": "{plant} is a species raised from seed, or recorded as no cultivar.",
    "B41": "{plant} is known by its species alone; no cultivar is said.",
    "B42": "The label of {plant} forbids propagation; {no_right} is on record in {place_of}.",
    "B43": "A notice came with {plant} and must go with it: {notice}.",
    "B44": "In trade {plant} goes under its cultivar name; {brand} is a brand.",
    "B45": "Only a brand is known of {plant}, not its cultivar name.",
    "B46": "Keeping {plant} is in question.",
    # terms, origin, rules of a place, identity, holds
    "C1": "The grower agreed not to propagate {plant}.",
    "C2": "Terms against propagation were agreed for {plant} by an earlier holder.",
    "C3": "{plant} came with nothing said about propagating.",
    "C4": "{who} passed {plant} on with terms{said}.",
    "C5": "{plant} was bought at a garden or society sale.",
    "C7": "{plant} was collected in the wild, with leave recorded for this.",
    "C8": "{plant} was collected in the wild, and no permit or leave for this is recorded.",
    "C9": "Where {plant} first came from is recorded as not known.",
    "C10": "{plant} was grown from bought produce and is the grower's own.",
    "C11": "{plant} was once a named cultivar; its label is lost.",
    "C12": "What {plant} is, is not known well enough to look it up.",
    "C13": "A mix-up is recorded under the name of {plant}.",
    "C15": "A rule of {territory} lists {taxon}: {does}. {plant} is that.",
    "C16": "A rule of {territory} lists the species {taxon}: {does}. {plant} is of it.",
    "C17": "A rule of {territory} lists all of {taxon}: {does}. {plant} is one.",
    "C19": "Lists of invasive and protected plants of {place} were not looked at here.",
    "C20": "A plant-health order of {territory} covers where {plant} stands: {does}.",
    "C22": "Listing and certification duties of {place} for {plant} in trade are not on record.",
    "C23": "A hold lies on {held}: “{reason}”.",
    # crossing a line
    "E1": "{border}",
    "E2": "What {there} asks of seed that comes in is not recorded.",
    "E3": "Whether {plant} is listed under CITES is not recorded.",
    "E4": "{right} holds where the plants go.",
    "E5": "Plant passports and registration may be asked for: ask the authority.",
    "E6": "Plants going to another state may need a nursery certificate.",
    "E7": "Selling plants may need a licence of {place}: ask the office for agriculture there.",
}

_SPECIAL: Mapping[tuple[str, Level], str] = {
    ("C15", Level.UNKNOWN): (
        "A rule of {territory} lists {taxon}: {does}. {plant} may be that: only its genus is known."
    ),
    ("C16", Level.UNKNOWN): (
        "A rule of {territory} lists the species {taxon}: {does}. Whether it reaches {plant} is "
        "not known."
    ),
    ("C15", Level.CLEAR): "A rule of {territory} lists {taxon}, and leaves {plant} free by name.",
    ("C16", Level.CLEAR): "A rule of {territory} lists {taxon}, and leaves {plant} free by name.",
    ("C17", Level.CLEAR): "A rule of {territory} lists {taxon}, and leaves {plant} free by name.",
    ("C20", Level.CLEAR): (
        "A plant-health order of {territory} covers where {plant} stands, and it is no host."
    ),
    ("C22", Level.CONDITIONAL): "In trade {place} asks of {plant}: {asked}.",
    ("E2", Level.CONDITIONAL): "{there} asks of seed that comes in: {asked}. It travels with it.",
    ("A20", Level.BARRED): "{plant} stands in a national park: taking needs a permit.",
    ("A20", Level.CLEAR): "{plant} stands in a national park, and a permit is on record.",
    ("A11", Level.BARRED): (
        "{who} allows {limit} {unit} of {plant}, {left} of them left: this is more."
    ),
    ("A11", Level.UNKNOWN): (
        "{who} allows a number of {plant}, and how many were used is not known."
    ),
    (
        "A8",
        Level.CLEAR,
    ): "{who} gave leave for {plant} after it was taken, and it counts from then.",
    ("A8", Level.CONDITIONAL): (
        "{who} gave leave for {plant} after the taking: taken {taken}, leave {given}."
    ),
    ("A8", Level.UNKNOWN): (
        "{who} gave leave for {plant} only after the taking ({taken}, leave {given}), and not for "
        "what was taken before."
    ),
    ("A18", Level.CLEAR): "The leave of {who} for {plant} leaves its seedlings free.",
    ("B16", Level.CLEAR): (
        "{plant} was made under a licence that has ended; it may be sold off until {sell_off}."
    ),
    ("B5", Level.BARRED): "{plant} was made privately under {right}, which is still in force.",
    ("B5", Level.CLEAR): "{plant} was made privately under {right}, which has ended since.",
    ("B13", Level.CLEAR): "An own seedling: as to such rights it is the grower's own.",
    ("B11", Level.CLEAR): "Raised from seed: {right} reaches copies only.",
    ("B34", Level.CONDITIONAL): (
        "The look-up for {plant}{looked_up} {why}: look once more before relying on it."
    ),
    ("B42", Level.CONDITIONAL): (
        "The label of {plant} forbids propagation; {no_right} is on record in {place_of}: keep it "
        "private, or show the supplier's answer."
    ),
    ("C23", Level.CLEAR): (
        "A hold lies on {held}; it goes under the order “{order}”, with a witness named."
    ),
    ("E3", Level.BARRED): "{plant} is listed under CITES, and no permit is on record.",
    ("E3", Level.CONDITIONAL): "{plant} is listed under CITES: its permit travels with it.",
}

_HELD = {
    "plant": "{plant}",
    "line": "{plant}, from which it was raised",
    "batch": "its batch",
    "place": "the place where it stands",
}

_WHY = {
    "incomplete": "left out a register",
    "stale": "is more than two years old",
    "secret": "may have missed an application that is still secret",
}


def finding_text(finding: Finding, called: Called) -> str:
    """The sentence of a finding: what is on record, or is not, and on which plant."""
    template = (
        _by_facts(finding)
        or _SPECIAL.get((finding.row, finding.level))
        or _TEXTS.get(finding.row, "Row {row} decides about {plant}.")
    )
    text = template.format_map(_Words(finding, called))
    text = text[:1].upper() + text[1:]
    if finding.row not in ("A11", "A12"):
        text += _terms(finding)
    if not finding.certain:
        text += " (It is one of several plants that this may have come from.)"
    return text


def _by_facts(finding: Finding) -> str | None:
    """A sentence that depends on more than row and level."""
    if finding.row == "A1" and finding.field("raised"):
        return "{plant} was raised here; no other owner is recorded."
    if finding.row == "C23" and finding.field("order") and finding.level is Level.CONDITIONAL:
        return "A hold lies on {held}; the order “{order}” needs a witness as well: --witness."
    if finding.row == "E2" and finding.level is Level.UNKNOWN and finding.field("said"):
        return "{there} asks for an import permit for seed ({asked}), and none is on record."
    return None


class _Words(dict[str, str]):
    """The words that a sentence asks for, made as it asks."""

    def __init__(self, finding: Finding, called: Called) -> None:
        super().__init__()
        self._finding = finding
        self._called = called

    def __missing__(self, key: str) -> str:
        finding, called = self._finding, self._called
        match key:
            case "plant":
                return called.plant(finding.plant)
            case "who":
                return called.person(finding.person)
            case "said":
                return self._said()
            case "right":
                return right_words(
                    finding.field("kind"), finding.field("number"), finding.field("territory")
                )
            case "row":
                return finding.row
            case "looked_up":
                day = finding.field("looked_up")
                return f" ({day_words(day)})" if isinstance(day, date) else ""
            case "why":
                return _WHY.get(str(finding.field("why")), "is not complete")
            case "place_of":
                return str(finding.field("territory") or called.place)
            case "a_right":
                return "any other right" if finding.field("others") else "a right"
            case "no_right":
                return "no other right" if finding.field("others") else "no right"
            case "held":
                return _HELD[str(finding.field("on"))].format(plant=called.plant(finding.plant))
            case "pledge":
                pledge = finding.field("pledge")
                return f", on a promise to pass on with it: {pledge}" if pledge else ""
            case "taxon":  # kept in lower case
                return str(finding.field("taxon")).capitalize()
            case "does":
                return _does(finding)
            case "there":
                return str(finding.field("to") or "where it goes")
            case "asked":
                return str(finding.field("said")).rstrip(".")
            case "border":
                return _border(finding)
        value = finding.field(key)
        return day_words(value) if isinstance(value, date) else str(value)

    def _said(self) -> str:
        record = self._finding.record
        if record is None or record.kind is not RecordKind.CONSENT:
            return ""
        said = self._called.words.get(record.id)
        return f" (“{said}”)" if said else ""


def _does(finding: Finding) -> str:
    """What a rule does to which acts: `no selling or propagating; moving with a permit`."""
    bars = [_DOING.get(act, act) for act in str(finding.field("bars") or "").split()]
    permit = [_DOING.get(act, act) for act in str(finding.field("permit") or "").split()]
    parts = []
    if bars:
        parts.append(f"no {joined(bars, 'or')}")
    if permit:
        parts.append(f"{joined(permit)} with a permit")
    return "; ".join(parts) or "its acts are not on record"


def _border(finding: Finding) -> str:
    """E1: which papers travel, which are missing, and what the country asks if that was read."""
    needed = ["a plant-health certificate"]
    if finding.field("permit_asked"):
        needed.append("an import permit")
    missing = [
        paper
        for paper, ready in (
            ("certificate", finding.field("certificate")),
            ("import permit", finding.field("permit")),
        )
        if not ready
    ]
    travel = "travel" if len(needed) > 1 else "travels"
    text = f"Plants crossing a border need {joined(needed, 'and')} that {travel} with them"
    if missing:
        text += f"; no {joined(missing, 'or')} is on record"
    said = finding.field("said")
    if said:
        return f"{text}. {finding.field('to')} asks: {str(said).rstrip('.')}."
    return f"{text}. Whether an import permit is asked there is not on record."


def _terms(finding: Finding) -> str:
    """What a leave or licence asks for, and how many it leaves."""
    if not finding.fields:
        return ""
    parts = []
    royalty, notice = finding.field("royalty"), finding.field("notice")
    if royalty:
        parts.append(f"pay {royalty} each")
    if notice and finding.row != "B43":
        parts.append(f"carry the notice “{notice}”")
    credit, pledge = finding.field("credit"), finding.field("pledge")
    if credit:
        parts.append(f"give the credit “{credit}”")
    if pledge and finding.row != "B39":
        parts.append(f"have who gets it promise to pass on: {pledge}")
    left = finding.field("left_after")
    if left is None:
        left = finding.field("left")
    if left is not None:
        parts.append(f"{left} {finding.field('unit') or ''} left".replace("  ", " "))
    return f" Terms: {'; '.join(parts)}." if parts else ""


def right_words(kind: object, number: object, territory: object) -> str:
    """A right as people name it, such as `US plant patent PP9536`."""
    name = _KINDS.get(str(kind), "right")
    if name == "right" and territory:
        name = f"right in {territory}"
    return f"{name} {number}" if number else f"{name} (number not known)"


_SETTLES: Mapping[Settle, str] = {
    Settle.ASK_OWNER: (
        "ask, and record the answer: ortet consent add --from {giver} --plant {code} --may {act}"
    ),
    Settle.NEW_WORD: (
        "only a new word of {who} can change that: "
        "ortet consent add --from {giver} --plant {code} --may {act}"
    ),
    Settle.RECORD_OWNER: "record whose it is: ortet plant add --owner, or a consent --as heir",
    Settle.RECORD_LICENCE: (
        "get a licence, and record it: "
        "ortet licence add {number} --from HOLDER --may {act} --in {place}"
    ),
    Settle.LOOK_UP: (
        "look it up, and record what it says: "
        "ortet right lookup {name} --in {place} --where TEXT --found none"
    ),
    Settle.ASK_NONE: (
        "a dated answer that there is no right: ortet came {code} --no-right TEXT --on DAY"
    ),
    Settle.CONFIRM_END: (
        "read its end in the register, and record it: "
        "ortet right event {number} --status stated-ended --on DAY --source TEXT"
    ),
    Settle.CONFIRM_DAY: "find out the day",
    Settle.READ_TERMS: "read what was agreed",
    Settle.READ_CLAIMS: "read the claims of the patent",
    Settle.RECORD_SOURCE: (
        "record who supplied it: ortet came {code} --supplier licensed --bought-in PLACE"
    ),
    Settle.RECORD_OUTCOME: (
        "find out what became of the application, and record it: "
        "ortet right add KIND NUMBER --name {name}, or ortet right event"
    ),
    Settle.RECORD_DISTINCT: (
        "record it where it is clearly distinct and not derived: ortet came CODE --distinct TEXT"
    ),
    Settle.RECORD_NOT_THE_VARIETY: (
        "record it where it is not the variety: ortet came CODE --not-the-variety TEXT"
    ),
    Settle.DETERMINE: 'say what it is: ortet plant name {code} "NAME" --grounds TEXT',
    Settle.SECOND_LOOK: (
        'have it looked at a second time: ortet plant name {code} "NAME" --grounds TEXT'
    ),
    Settle.RECORD_ORIGIN: "record where it first came from",
    Settle.RECORD_PERMIT: (
        "record the permit or the landowner's leave: "
        "ortet consent add --from PERSON --as keeper --plant {code} --may {act}"
    ),
    Settle.GET_PERMIT: "get the permit that the rule asks for, and keep it with the plants",
    Settle.CITES_PERMIT: "get the CITES permit, and ask again with --papers cites",
    Settle.IMPORT_PERMIT: "get the import permit, and ask again with --papers import",
    Settle.NURSERY_CERTIFICATE: "ask which certificate the other state wants, and get it",
    Settle.LOAD_LIST: "read in a list of the place: ortet restriction import FILE",
    Settle.READ_ORDER: "read the order",
    Settle.ASK_DUTIES: "ask which duties apply, and note them",
    Settle.RECORD_DUTIES: (
        "ask which duties apply, and record them: "
        "ortet restriction asks {place} --of crop --taxon TAXON --said TEXT --source TEXT"
    ),
    Settle.CERTIFICATE: "get the certificate, and ask again with --papers phytosanitary",
    Settle.CITES_STATUS: (
        "find out whether it is listed, and record it: ortet came {code} --cites not-listed"
    ),
    Settle.SEED_RULE: (
        "find out what the country asks of seed, and record it: "
        "ortet restriction asks {there} --of seed --said TEXT --source TEXT"
    ),
    Settle.LIFT_HOLD: "lift the hold when its reason is over: ortet hold lift --number {record}",
    Settle.PAY: "pay the royalty",
    Settle.CREDIT: "give the credit",
    Settle.CARRY_NOTICE: "carry the notice",
    Settle.HAND_ON: "have who gets it promise the same",
    Settle.NAME_ORDER: (
        "lift the hold, or name an authority's order and a witness: "
        "ortet plant end {code} --how destroyed --order TEXT --witness PERSON"
    ),
    Settle.STAY_PRIVATE: "keep it private",
    Settle.USE_CULTIVAR_NAME: "use the cultivar name",
    Settle.SELL_AS_SPECIES: "pass it on as the species, once sure that no selection's name came",
    Settle.COUNT: "count what was used",
}


def settles(finding: Finding, called: Called) -> str | None:
    """What would settle a finding, or None where nothing would or needs to."""
    if finding.settle is None:
        return None
    named = called.people.get(finding.person or 0)
    shown = called.names.get(finding.plant)
    # Where the plant has changed hands the one who spoke is not the one to ask (A17).
    giver = f'"{named}"' if named and finding.row != "A17" else "PERSON"
    return _SETTLES[finding.settle].format(
        code=called.code(finding.plant),
        giver=giver,
        who=called.person(finding.person),
        name=f'"{shown}"' if shown and '"' not in shown else '"NAME"',
        number=finding.field("number") or "NUMBER",
        place=finding.field("territory") or called.place,
        there=finding.field("to") or "PLACE",
        act=called.act,
        record=finding.record.id if finding.record else "N",
    )


# What comes of a finding on the day on which a date on record changes it, by row.
_CHANGES: Mapping[str, str] = {
    "A8": "the leave counts for what is taken from {day} on",
    "B7": "{right} may have ended from {day} on",
    "B14": "the licence has ended from {day} on",
    "B16": "the time to sell it off is over from {day} on",
    "B17": "{right} is in force from {day} on",
    "B21": "{right} has ended from {day} on, whatever the register says",
    "B26": "{right} has ended from {day} on, restored or not",
    "B34": "the look-up counts as old from {day} on",
    "C23": "the hold is lifted from {day} on",
    **dict.fromkeys(("A3", "A4", "C4"), "the leave has ended from {day} on"),
    **dict.fromkeys(
        ("B35", "B36", "B38"), "it has been grown here longer than a right lasts from {day} on"
    ),
    **dict.fromkeys(("C15", "C16", "C17", "C20"), "the rule no longer holds from {day} on"),
    **dict.fromkeys(
        ("B1", "B2", "B3", "B4", "B5", "B6", "B8", "B9", "B11", "B12", "B13", "B19", "B31", "E4"),
        "{right} may have ended from {day} on: read the register then",
    ),
}


def change_text(finding: Finding, called: Called) -> str | None:
    """What a day on record changes about a finding, with that day; None where none does."""
    if finding.changes_on is None:
        return None
    template = _CHANGES.get(finding.row, "{plant}: it may be otherwise from {day} on")
    if finding.row == "A8" and finding.level is not Level.UNKNOWN:
        template = _CHANGES["A3"]
    words = _Words(finding, called)
    words["day"] = day_words(finding.changes_on)
    return template.format_map(words)


_ASK: Mapping[Ask, str] = {
    Ask.OWNER: "its owner",
    Ask.COMMITTEE: "the committee",
    Ask.KEEPER: "the body that keeps the place",
    Ask.HOLDER: "the rights holder",
    Ask.REGISTER: "the register of the place",
    Ask.SUPPLIER: "who supplied it",
    Ask.AUTHORITY: "the plant-health authority",
    Ask.EXPERT: "somebody who knows the genus",
}


def asks_whom(finding: Finding, called: Called) -> str | None:
    """Whom to ask, by name where a person is on record."""
    if finding.ask is None:
        return None
    named = called.people.get(finding.person or 0)
    if named and finding.ask in (Ask.OWNER, Ask.KEEPER, Ask.COMMITTEE, Ask.HOLDER, Ask.SUPPLIER):
        return named
    return _ASK[finding.ask]


# --- the verdict in one line ---------------------------------------------------------------------


def verdict_line(act: str, level: str, unknown: str | None, purpose: str, day: str) -> str:
    """The answer in one line, with its level.

    >>> verdict_line("sell", "barred", None, "trade", "14 May 2026")
    'BARRED: no, as far as is recorded. Selling, in trade, on 14 May 2026.'
    """
    how = "in trade" if purpose == "trade" else "privately"
    asked = f"{_DOING.get(act, act).capitalize()}, {how}, on {day}."
    return f"{level.upper()}: {_COMES_TO[level, unknown]} {asked}"


_COMES_TO = {
    ("clear", None): "yes, as far as is recorded.",
    ("conditional", None): "yes, on the conditions below.",
    ("unknown", Unknown.GAP.value): "not known yet; nobody has said or looked.",
    ("unknown", Unknown.SIGN.value): "not known, and something on record points against it.",
    ("barred", None): "no, as far as is recorded.",
}


def gone_line(gone: int, asked: int) -> str:
    """How many of the plants that were named are not there any more.

    >>> gone_line(3, 20)
    '3 of 20 are gone and were left out.'
    """
    verbs = ("is", "was") if gone == 1 else ("are", "were")
    return f"{gone} of {asked} {verbs[0]} gone and {verbs[1]} left out."


_SHORT: Mapping[str, str] = {
    "A2": "whether its owner allows it",
    "A7": "whether its owner allows this",
    "A10": "whether the leave covers the day",
    "A11": "how many were used of the number allowed",
    "A16": "whether who gave the leave is its owner",
    "A17": "whether the new owner allows it",
    "A18": "whether the leave reaches seedlings",
    "A20": "whether the body that keeps the place allows it",
    "A21": "whether the committee allows it",
    "B8": "whether it was supplied with a licence",
    "B11": "whether the patent's claims reach its seed",
    "B13": "whether it is distinct from its parent",
    "B21": "whether the right on it has ended",
    "B26": "whether the right on it was restored",
    "B36": "whether a right stands on its name",
    "B45": "its cultivar name",
    "C8": "whether it might be taken from the wild",
    "C9": "where it first came from",
    "C11": "which cultivar it was",
    "C12": "what it is",
    "C22": "which duties apply in trade",
    "E1": "whether a certificate is needed",
    "E2": "what is asked of seed there",
    "E3": "whether it is listed under CITES",
}


def in_short(row: str, text: str) -> str:
    """What is not known in a few words, or else the sentence of the finding.

    >>> in_short("C12", "…")
    'what it is'
    """
    return _SHORT.get(row, text.rstrip("."))


def not_known_question(gaps: tuple[str, ...]) -> str:
    """The one question that a terminal is asked about gaps.

    >>> not_known_question(("what it is",))
    'Not known: what it is. Record and leave open?'
    """
    return f"Not known: {'; '.join(dict.fromkeys(gaps))}. Record and leave open?"


def comes_up(act: str) -> str:
    """When an open question comes up again."""
    if act == "propagate":
        return "It comes up again when plants of it are given, swapped or sold."
    return "It comes up again when more of it leaves."


# --- what can be wrong ---------------------------------------------------------------------------


LEAVING = frozenset({"give", "swap", "sell", "export"})
"""Acts on plants that are on record, so that 'ortet may' can be asked about them."""


def refusal(error: errors.NotRecorded) -> tuple[str, ...]:
    """What is said when an act was not recorded: why, and what it takes, a line each."""
    answer: Any = error.answer
    if error.need == "open":
        gaps = (f"  {finding.text}" for finding in answer.gaps)
        last = "To record it and leave that open, add --open."
        return "Nothing was recorded, because it is not known yet:", *gaps, last
    first = {
        "barred": "Nothing was recorded: the answer is no, as far as is recorded.",
    }.get(answer.level, "Nothing was recorded: it is not known whether this may be.")
    against = (
        f"  {finding.text} ({finding.row})"
        for finding in answer.findings
        if finding.level in ("barred", "unknown")
    )
    last = 'If it is done all the same, write down why: --anyway "REASON".'
    if error.act not in LEAVING:
        return first, *against, last
    # The first of the plants that the answer holds of: all of them may be many.
    code = next((code for code, level in answer.plants if level == answer.level), "CODE")
    more = f"What would change it, and whom to ask: ortet may {error.act} {code}"
    return first, *against, more, last


@problem.register
def _(error: errors.NotRecorded) -> str:
    return " ".join(line.strip() for line in refusal(error))


@problem.register
def _(error: errors.NotAway) -> str:
    if error.how == "back already":
        return f"{error.code} is back already. 'ortet trace {error.code} --down' shows as what."
    return f"{error.code} had not left to anybody: it is {error.how}. It cannot come back."


@problem.register
def _(error: errors.MoreCameBack) -> str:
    return (
        f"{error.asked} cannot come back of {error.code}: {error.left} had left and are not back."
    )


@problem.register
def _(error: errors.PlantsGone) -> str:
    if len(error.gone) == 1:
        code, how, day = error.gone[0]
        when = f", {day_words(day)}" if day != date.max else ""
        return f"{code} is not there any more: {how}{when}. If that is wrong, use 'ortet correct'."
    return f"All {len(error.gone)} plants named are gone. Name plants that still stand."


@problem.register
def _(error: errors.BadLimit) -> str:
    match error.reason:
        case errors.LimitReason.OF_WHAT:
            return (
                f"'{error.typed}' of what? Say it: '12 cuttings' counts what is taken, '12 plants' "
                "what leaves; 'a year' may follow."
            )
        case errors.LimitReason.ZERO:
            return "A limit of none is a no: use --not with the act."
        case errors.LimitReason.NOT_ALLOWED:
            return (
                f"The limit '{error.typed}' counts an act that this leave does not allow. Cuttings "
                "and pieces count propagate; plants and pots count give, swap and sell."
            )
        case errors.LimitReason.SHAPE:
            return f"'{error.typed}' is not a limit. Write it like '12 cuttings a year'."


@problem.register
def _(error: errors.BadMoney) -> str:
    if error.reason is errors.MoneyReason.CURRENCY:
        return f"'{error.typed}' in which currency? Write it like '6 USD'."
    return f"'{error.typed}' is not an amount of money. Write it like '6 USD' or '0.35 EUR'."


@problem.register
def _(error: errors.UnknownWord) -> str:
    return f"'{error.typed}' is no {error.what}. Use {joined(error.known)}."


@problem.register
def _(error: errors.BadPlaceCode) -> str:
    return (
        f"'{error.typed}' is not a country. Write its two letters (ISO 3166) such as US, GB or DE, "
        "EU for the European Union, or a region such as US-OR."
    )


@problem.register
def _(error: errors.ActTwice) -> str:
    return (
        f"'{error.act}' is said to be allowed and not allowed at once. Record the two as two "
        "consents, each with its day."
    )


@problem.register
def _(error: errors.NoSubject) -> str:
    return f"{error.typed} names no single plant or lot that a {error.what} can be on. Name one."


@problem.register
def _(error: errors.RecordUnknown) -> str:
    near = f" Is it {joined(error.near)}?" if error.near else ""
    if error.what == "question":
        return f"No question is open on {error.typed}. 'ortet due --questions' shows all."
    return f"There is no {error.what} '{error.typed}'.{near} 'ortet {error.what} list' shows all."


@problem.register
def _(error: errors.AlreadyEnded) -> str:
    return f"The {error.what} {error.typed} ended before. Nothing was changed."


_DEMAND_FAULTS = {
    errors.DemandFault.PERMIT: "an import permit is asked of plants or seed, not of a crop",
    errors.DemandFault.TAXON: "'{typed}' is no species or genus; write 'Solanum tuberosum'",
    errors.DemandFault.TAXON_OF_CROP: "--taxon '{typed}' belongs to --of crop",
}


@problem.register
def _(error: errors.BadDemand) -> str:
    why = _DEMAND_FAULTS[error.fault].format(typed=error.typed)
    return f"It cannot be recorded: {why}."


@problem.register
def _(error: errors.OrderNotSaid) -> str:
    return (
        f"Under which order was {error.typed} surrendered? Add --order TEXT, and --witness PERSON. "
        "What went to anybody else was sold, given or swapped."
    )


@problem.register
def _(error: errors.OwnerNotSaid) -> str:
    return (
        f"Who said it? Nobody else is on record as owner of {error.typed}: name the person with "
        "--from PERSON."
    )


@problem.register
def _(error: errors.EndsBackwards) -> str:
    return f"It would end on {error.after}, before {error.before}. Check the days."


@problem.register
def _(error: errors.PledgeOfWhat) -> str:
    return f"--pledge belongs to --found free, not to --found {error.found}."


@problem.register
def _(error: errors.NothingSaid) -> str:
    return f"{error.option} is empty. Say it in words, or leave the option out."


@problem.register
def _(error: errors.LicenceElsewhere) -> str:
    return (
        f"{error.number} holds in {error.holds_in}, so a licence under it allows nothing in "
        f"{error.territory}. Say where with --in, or leave that out."
    )


@problem.register
def _(error: errors.NotALicence) -> str:
    return (
        f"{error.typed} is an owner's leave and no licence: 'ortet licence list' shows those. "
        "'ortet consent withdraw' takes leave back."
    )


@problem.register
def _(error: errors.SeveralRights) -> str:
    return f"{error.number} is on record in {joined(error.territories)}. Say which with --in."


@problem.register
def _(error: errors.RightExists) -> str:
    return (
        f"{error.number} is on record in {error.territory} already; there is one row for a right "
        "in a territory. Take the old one back first with 'ortet correct'."
    )


_RIGHT_PROBLEMS = {
    "granted before filed": "it is granted before it was filed",
    "end before grant": "it ends before it was granted",
    "earlier filing after filing": "its earlier filing lies after its filing",
    "number shape": "the number does not have the shape of that kind of right",
    "wrong territory": (
        "that kind of right does not hold in that territory, or not in it alone; a country's own "
        "right is of the kind 'other'"
    ),
    "negative adjustment": "an adjustment only adds days",
    "adjustment too long": "an adjustment cannot be as long as the patent itself",
    "after today": "a day of filing or grant lies after today",
    "event before filing": "that day lies before its filing",
    "no name": "no name is given; --name says which variety it is on",
    "no territory": "its territory is not said; --territory gives it",
}


@problem.register
def _(error: errors.BadRight) -> str:
    why = "; ".join(_RIGHT_PROBLEMS.get(each, each) for each in error.problems)
    return f"{error.number} cannot be recorded: {why}. Compare it with the register."


_RIGHT_WARNINGS = {
    "adjusted past delay": (
        "The days of adjustment are more than it took to be granted (35 USC 154(b)(2)(A))."
    ),
    "not a tuesday": "US patents are issued on Tuesdays, and the day of grant is none: check it.",
    "end not checked": "An end without its source is only an estimate; add --end-source.",
    "tuber plant patent": "Tubers such as potatoes cannot have a US plant patent (35 USC 161).",
    "territory not on sheet": "The law of that territory is not known here; dates count as given.",
}


def right_warning(warning: str) -> str:
    """The sentence for what looks wrong about a right."""
    return _RIGHT_WARNINGS.get(warning, warning)


def no_plant_named(names: tuple[str, ...], near: tuple[str, ...]) -> str:
    """That a right's names match no plant, with the nearest."""
    close = f" The nearest is {joined(near)}." if near else ""
    return f"No plant here goes by {joined(names)}.{close}"


@problem.register
def _(error: errors.NothingPotted) -> str:
    return f"{error.typed} has no potted plants that could leave. Pot up first, or name plants."


@problem.register
def _(error: errors.PotsShort) -> str:
    unsaid = (
        f", since {error.unsaid} left or died without a code being said" if error.unsaid else ""
    )
    left = "none is" if error.left < 1 else f"{error.left} {'is' if error.left == 1 else 'are'}"
    return (
        f"{error.asked} asked of {error.code}, but {left} left{unsaid}. Count them, or put an "
        "earlier entry right with 'ortet correct'."
    )


@problem.register
def _(error: errors.CountOfWhat) -> str:
    return f"--count says how many of a batch or lot; {error.typed} names single plants already."


_RULE_FAULTS = {
    errors.RuleFault.KIND: (
        "no kind of rule; use weed, quarantine, protected, eu invasive or other"
    ),
    errors.RuleFault.TAXON: "not a species or genus that can be read; write 'Buddleja davidii'",
    errors.RuleFault.CULTIVAR: (
        "a cultivar; a rule names its species or genus, and 'exempt' names cultivars left free"
    ),
    errors.RuleFault.RANK: "not the rank of that name; write species, genus, or leave it empty",
    errors.RuleFault.TERRITORY: (
        "not a country (ISO 3166, such as US or GB), EU, or a region such as US-OR"
    ),
    errors.RuleFault.ACTS: (
        "no list of acts; write 'sell propagate', 'sell=permit' where a permit allows it, or 'all'"
    ),
    errors.RuleFault.DAY: "not a day that can be read; write 2026-05-14 or 14 May 2026",
    errors.RuleFault.BACKWARDS: "before its first day",
    errors.RuleFault.CITATION: "say where the rule stands",
    errors.RuleFault.PRIVATE: "not yes or no",
    errors.RuleFault.SITE: (
        "no place on record; 'ortet place list' shows them, 'ortet place add' makes one"
    ),
    errors.RuleFault.SITE_OF_ORDER: "only a plant-health order names sites; its kind is quarantine",
    errors.RuleFault.NO_COLUMN: "missing in the line of column names",
    errors.RuleFault.COLUMN: "no column of a list",
    errors.RuleFault.COLUMN_TWICE: "twice in the line of column names",
    errors.RuleFault.NOT_CSV: "not readable as comma-separated values; save it as CSV in UTF-8",
    errors.RuleFault.EMPTY: "nothing: the list has no rows",
}


def _rule_fault(at: errors.RuleFaultAt) -> str:
    """One fault: the column, what stands there, and what is wrong with it."""
    if at.fault is errors.RuleFault.WIDTH:
        return f"{at.typed} cells, which is not as many as there are column names"
    if at.fault is errors.RuleFault.TWICE:
        return f"the same taxon, place and citation as in line {at.typed}"
    about_columns = at.fault in (
        errors.RuleFault.NO_COLUMN,
        errors.RuleFault.COLUMN,
        errors.RuleFault.COLUMN_TWICE,
    )
    if not at.column or about_columns:
        return f"{at.column}: {_RULE_FAULTS[at.fault]}".removeprefix(": ")
    typed = f"'{at.typed}'" if at.typed else "empty"
    return f"{at.column}: {typed} – {_RULE_FAULTS[at.fault]}"


@problem.register
def _(error: errors.BadRules) -> str:
    by_line: dict[int, list[str]] = {}
    for at in error.faults:
        by_line.setdefault(at.row, []).append(_rule_fault(at))
    lines = ["Nothing was stored. Put right and try again:"]
    for row, faults in sorted(by_line.items()):
        lines += [f"  line {row}"] if row else []
        lines += [f"{'    ' if row else '  '}{fault}" for fault in faults]
    return "\n".join(lines)
