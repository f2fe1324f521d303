"""What a verdict says: levels, findings, and what they come to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import Enum, IntEnum

from registry.domain.verdict.facts import Act, Ended, Purpose


class Level(IntEnum):
    """From worst to best, so that the worst is the least."""

    BARRED = 0
    UNKNOWN = 1
    CONDITIONAL = 2
    CLEAR = 3


class Unknown(Enum):
    """The two kinds of not knowing; a sign needs more than a gap to go on."""

    GAP = "gap"  # nobody has looked, asked or said
    SIGN = "sign"  # something recorded points against


class Settle(Enum):
    """What would settle a finding."""

    ASK_OWNER = "ask the owner"
    NEW_WORD = "a new word of who said no"
    RECORD_OWNER = "record the owner"
    RECORD_LICENCE = "record a licence"
    LOOK_UP = "look up the registers"
    ASK_NONE = "ask for a dated answer that there is no right"
    CONFIRM_END = "confirm the end"
    CONFIRM_DAY = "confirm the day"
    READ_TERMS = "read the terms"
    READ_CLAIMS = "read the claims"
    RECORD_SOURCE = "record who supplied it"
    RECORD_OUTCOME = "record what became of the application"
    RECORD_DISTINCT = "record that it is distinct"
    RECORD_NOT_THE_VARIETY = "record that it is not the variety"
    DETERMINE = "determine it"
    SECOND_LOOK = "a second determination"
    RECORD_ORIGIN = "record the origin"
    RECORD_PERMIT = "record the permit"
    GET_PERMIT = "get the permit"
    CITES_PERMIT = "get the cites permit"
    IMPORT_PERMIT = "get the import permit"
    NURSERY_CERTIFICATE = "get the nursery certificate"
    LOAD_LIST = "load the list"
    READ_ORDER = "read the order"
    ASK_DUTIES = "ask which duties apply"
    RECORD_DUTIES = "record the duties"
    CERTIFICATE = "get the certificate"
    CITES_STATUS = "record the cites status"
    SEED_RULE = "record the seed rule"
    LIFT_HOLD = "lift the hold"
    PAY = "pay the royalty"
    CREDIT = "give the credit"
    CARRY_NOTICE = "carry the notice"
    HAND_ON = "hand the terms on"
    NAME_ORDER = "name the order and a witness"
    STAY_PRIVATE = "keep it private"
    USE_CULTIVAR_NAME = "use the cultivar name"
    SELL_AS_SPECIES = "sell it as the species"
    COUNT = "count what was used"


class Ask(Enum):
    """Whom to ask."""

    OWNER = "owner"
    COMMITTEE = "committee"
    KEEPER = "keeper"
    HOLDER = "holder"
    REGISTER = "register"
    SUPPLIER = "supplier"
    AUTHORITY = "authority"
    EXPERT = "expert"


class RecordKind(Enum):
    """What kind of record decided."""

    CONSENT = "consent"
    RIGHT = "right"
    LICENCE = "licence"
    LOOKUP = "lookup"
    STATEMENT = "statement"
    RESTRICTION = "restriction"
    HOLD = "hold"
    TERMS = "terms"
    DEMAND = "demand"
    DETERMINATION = "determination"


@dataclass(frozen=True, slots=True)
class Record:
    """The record that decided a finding."""

    kind: RecordKind
    id: int


Value = str | int | bool | date | None


@dataclass(frozen=True, slots=True)
class Finding:
    """One reason for or against the act.

    Attributes:
        row: id of the deciding row, e.g. ``A6``.
        level: how it ranks.
        plant: node id on which the deciding record, or the lack of one, sits.
        unknown: gap or sign where the level is unknown, else None.
        record: what decided it; None where a missing record decides.
        citation: statute, article or clause; or "cautious reading".
        changes_on: the day from which it would change, where a date on record decides it.
        settle: what would settle it.
        ask: whom to ask.
        person: the person to ask, where one is on record.
        certain: False where the plant is one of several possible ancestors (C24).
        fields: further facts for the wording, by name.
    """

    row: str
    level: Level
    plant: int
    unknown: Unknown | None = None
    record: Record | None = None
    citation: str = ""
    changes_on: date | None = None
    settle: Settle | None = None
    ask: Ask | None = None
    person: int | None = None
    certain: bool = True
    fields: tuple[tuple[str, Value], ...] = ()

    def field(self, name: str) -> Value:
        """A further fact by name; None where it is not there."""
        return dict(self.fields).get(name)

    def __hash__(self) -> int:
        # Two findings seldom share these, and hashing all fields would cost more than it tells.
        return hash((self.row, self.plant))

    @property
    def rank(self) -> tuple[int, int]:
        """Sorts from worst to best; among unknowns a sign stands before a gap."""
        return self.level, 0 if self.unknown is Unknown.SIGN else 1


@dataclass(frozen=True, slots=True)
class PlantVerdict:
    """The findings on one asked node, worst first."""

    node: int
    level: Level
    unknown: Unknown | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Gone:
    """An asked plant left out of a group because it has ended (C25)."""

    node: int
    label: str
    ended: Ended


@dataclass(frozen=True, slots=True)
class Verdict:
    """What all the findings come to.

    Attributes:
        act: what was asked.
        purpose: the purpose under which it was judged: trade if any plant counts as trade.
        level: the worst of the plants.
        unknown: whether a sign or only gaps stand behind an unknown.
        findings: every finding of every plant once, worst first.
        plants: one verdict for each asked node that still stands, in the order asked.
        gone: asked plants that have ended.
    """

    act: Act
    purpose: Purpose
    level: Level
    unknown: Unknown | None
    findings: tuple[Finding, ...]
    plants: tuple[PlantVerdict, ...]
    gone: tuple[Gone, ...] = ()


class Need(Enum):
    """What it takes to record an act under a verdict."""

    GOES_ON = "goes on"
    NOTE_OPEN = "note open"  # an open question is noted
    REASON = "reason"  # a written reason
