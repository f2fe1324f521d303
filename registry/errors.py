"""Every way in which a call can be wrong, as types with fields.

    RegistryError                     exit code 2
    ├── BadInput                      what was typed cannot be read
    │   ├── BadCode, BadDate, BadCount, BadName, …
    ├── NotFound                      what was named is not in the registry
    ├── Conflict                      what was asked contradicts what is recorded
    └── Unusable                      the registry or a file cannot be opened, read or written

An error carries facts; the sentence a person reads is made in `registry.wording.problems`,
so that the command line, a page and a label say it the same way and tests match types.
"""

from __future__ import annotations

from datetime import date
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, dataclass_transform

if TYPE_CHECKING:
    from registry.location import Location


@dataclass_transform(eq_default=False)
class RegistryError(Exception):
    """The base of all that a caller can put right.

    A subclass names its fields as a dataclass does, and is called in the same way. They are bound
    here and not by `dataclass`, which would write and compile a method for each of the many errors
    at every start of the program.
    """

    fields: ClassVar[tuple[str, ...]] = ()
    """The names of an error's fields, in order."""

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        own = (n for n in cls.__dict__.get("__annotations__", {}) if n[0] != "_")  # noqa: RUF063 - inspect is slow to load
        cls.fields = (*cls.fields, *own)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args)
        given = {**dict(zip(self.fields, args, strict=False)), **kwargs}
        missing = [n for n in self.fields if n not in given and not hasattr(type(self), n)]
        if missing or len(args) > len(self.fields) or not given.keys() <= set(self.fields):
            raise TypeError(
                f"{type(self).__name__} takes {self.fields}, was given {args}, {kwargs}"
            )
        for name, value in given.items():
            setattr(self, name, value)

    def __str__(self) -> str:
        shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.fields)
        return f"{type(self).__name__}({shown})"


class BadInput(RegistryError):
    """What was typed cannot be read as what it should be."""


class NotFound(RegistryError):
    """What was named is not in the registry."""


class Conflict(RegistryError):
    """What was asked contradicts what is recorded."""


class Unusable(RegistryError):
    """The registry or a file cannot be opened, read or written."""


# --- the call itself ------------------------------------------------------------------------------


class BadCall(BadInput):
    """A call that cannot be read: a slip in the way it was typed. `command` is what was called."""

    command: str


class SignUnfit(BadInput):
    """A text holds a sign that steers a terminal or a page, or cannot be stored; `sign` is it."""

    text: str
    sign: str


class CommandUnknown(BadCall):
    """There is no such command below `command`; `near` are calls that may be meant."""

    typed: str
    near: tuple[str, ...] = ()


class OptionUnknown(BadCall):
    """A command has no such option; `near` are options of its own like it."""

    typed: str
    near: tuple[str, ...] = ()


class WordMissing(BadCall):
    """A word that a command cannot do without; `usage` is how it is called.

    `what` is the option or the place of the word, `about` what it is for, `known` the words that it
    may be.
    """

    what: str
    usage: str
    about: str = ""
    known: tuple[str, ...] = ()


class ValueMissing(BadCall):
    """An option was typed last, and the word that belongs behind it is missing."""

    option: str


class ValueTooMany(BadCall):
    """A word was tied to an option that stands alone."""

    option: str


class WordsTooMany(BadCall):
    """More words than a command takes; `typed` are those left over."""

    typed: tuple[str, ...]
    usage: str


class NoSuchChoice(BadCall):
    """A word that is none of those that an option takes."""

    option: str
    typed: str
    known: tuple[str, ...]


class NotANumber(BadCall):
    """A word where an option takes a whole number, between `low` and `high` where they are said."""

    option: str
    typed: str
    low: int | None = None
    high: int | None = None


class CallUnclear(BadCall):
    """Words that do not go together; `said` is the sentence."""

    said: str


# --- names ----------------------------------------------------------------------------------------


class NameReason(Enum):
    """Why a plant name is refused, asked about or flagged."""

    # refused
    EMPTY = "empty"
    CONTROL = "control"
    MARKUP = "markup"
    MIXED_SCRIPTS = "mixed scripts"
    SIGN_LAST = "sign last"
    SIGN_WITHOUT_NAME = "sign without name"
    QUOTE_OPEN = "quote open"
    RANK_LAST = "rank last"
    GROUP_WITHOUT_EPITHET = "group without epithet"
    GENUS_INITIAL = "genus initial"
    # asked
    GLUED_SIGN = "glued sign"
    UNQUOTED = "unquoted"
    UNMARKED_BEFORE_CULTIVAR = "unmarked before cultivar"
    UNMARKED_AFTER_CULTIVAR = "unmarked after cultivar"
    SPECIES_OR_CULTIVAR = "species or cultivar"
    GROUP_OR_SPECIES = "group or species"
    RESPELT = "respelt"
    SECOND_PARENT_WITHOUT_GENUS = "second parent without genus"
    TAUTONYM = "tautonym"
    UNJOINED = "unjoined"
    TWO_QUOTED = "two quoted"
    MARK_IN_QUOTES = "mark in quotes"
    RANK_BEFORE_CULTIVAR = "rank before cultivar"
    RANK_AFTER_CULTIVAR = "rank after cultivar"
    RANK_WITHOUT_SPECIES = "rank without species"
    NO_RANK = "no rank"
    CHIMAERA_SPECIES = "chimaera species"
    SIGN_BEFORE_CULTIVAR = "sign before cultivar"
    NOT_AN_EPITHET = "not an epithet"
    COMMON_NAME = "common name"
    ONE_LETTER = "one letter"
    ONLY_NUMERALS = "only numerals"
    # only flagged: older epithets are exempt
    BANNED_WORD = "banned word"
    TOO_LONG = "too long"
    SUPERLATIVE = "superlative"
    REPEATS_GENUS = "repeats genus"
    ODD_SIGN = "odd sign"


class BadName(BadInput):
    """A name that cannot be stored; `word` is the part at fault, `offers` what may be meant."""

    typed: str
    reason: NameReason
    word: str = ""
    offers: tuple[str, ...] = ()


# --- codes ----------------------------------------------------------------------------------------


class CodeReason(Enum):
    """Why a text is not a code."""

    SHAPE = "shape"
    CHECK = "check"
    NO_CHECK = "no check"
    LOST = "lost"
    TOO_MANY = "too many"
    SELECTION = "selection"
    NOT_A_BATCH = "not a batch"


class CodePart(Enum):
    """A part of a code that has a width of its own."""

    NUMBER = "running"
    LOT = "lot"
    PLANT = "plant"


class BadCode(BadInput):
    """A text that is not a code of this registry; `candidates` are codes that may be meant."""

    typed: str
    reason: CodeReason
    number_width: int
    plant_width: int
    candidates: tuple[str, ...] = ()


class WidthUsedUp(Conflict):
    """The next number no longer fits its place in a code; `most` is the last that does."""

    part: CodePart
    value: int
    most: int


# --- dates ----------------------------------------------------------------------------------------


class DateReason(Enum):
    """Why a text is not a date."""

    SHAPE = "shape"
    NO_SUCH_DAY = "no such day"
    NO_SUCH_MONTH = "no such month"
    YEAR = "year"
    SHORT_YEAR = "short year"
    BACKWARDS = "backwards"
    NUMBERS = "numbers"


class BadDate(BadInput):
    """A text that is no date, or a day that does not exist (in `month` of `year`)."""

    typed: str
    reason: DateReason
    year: int | None = None
    month: int | None = None


class AmbiguousDate(BadInput):
    """A date that can be read in more than one way."""

    typed: str
    readings: tuple[str, ...]


class DateNeedsYear(BadInput):
    """Words without a year; `years` are likely ones, the latest first."""

    typed: str
    years: tuple[int, ...]


class DayAhead(BadInput):
    """An act dated wholly after today: what has not happened yet is not recorded."""

    typed: str
    today: date


# --- counts ---------------------------------------------------------------------------------------


class CountReason(Enum):
    """Why a text is not a count."""

    SHAPE = "shape"
    NEGATIVE = "negative"
    BACKWARDS = "backwards"
    TOO_MANY = "too many"
    BY_LOT = "by lot"
    LOT_TWICE = "lot twice"


class BadCount(BadInput):
    """A text that is no count."""

    typed: str
    reason: CountReason


# --- the registry file ----------------------------------------------------------------------------


class RegistryMissing(Unusable):
    """There is no registry at the path."""

    path: Location


class RegistryExists(Unusable):
    """A registry already stands where one was to be made."""

    path: Location


class NotARegistry(Unusable):
    """The file is something else than a registry."""

    path: Location


class RegistryFromNewerProgram(Unusable):
    """The registry was written by a newer program."""

    path: Location
    revision: str
    known: str


class RegistryNeedsMigrate(Unusable):
    """The registry was written by an older program and has to be brought up to date."""

    path: Location
    revision: str
    known: str


class RegistryReadOnly(Unusable):
    """The registry can be read but not written."""

    path: Location


class RegistryLocked(Unusable):
    """Another process is writing and did not finish in time."""

    path: Location


class RegistryDamaged(Unusable):
    """The engine finds the file or its pages damaged."""

    path: Location
    said: str


class RegistryUnsupported(Unusable):
    """The registry is named by a URL that is not of a server we know, or cannot be read."""

    location: str


class ServerSilent(Unusable):
    """The server does not answer, does not let us in, or broke off."""

    server: Location
    said: str


class ServerSupportMissing(Unusable):
    """A registry on a server needs a driver that is not installed."""

    location: str


class StorageFull(Unusable):
    """The disk is full or failing."""

    path: Location


class FileUnwritable(Unusable):
    """A file that was asked for cannot be written."""

    path: Path
    why: str


class FileUnreadable(Unusable):
    """A file that was named cannot be read."""

    path: Path
    why: str


class AnswerUnwritten(Unusable):
    """An answer could not be written to where it was sent; what was recorded stands."""

    why: str


class FileTooBig(Unusable):
    """A file is larger than can be kept with a record; sizes in bytes."""

    path: Path
    size: int
    most: int


class FileInTheWay(Unusable):
    """A file, or a registry on a server, stands where a copy was to go."""

    path: Location


class RegistryItself(Unusable):
    """A registry is named as its own copy."""

    path: Location


class CopyUnsound(Unusable):
    """A copy does not hold what was recorded: `problems` were found, `first` is the first."""

    path: Path
    problems: int
    first: str


class MigrateUnsound(Unusable):
    """A registry did not check out after migrating and was put back as it was."""

    path: Location
    copy: Path
    problems: int
    first: str


# Labels


class BadSite(BadInput):
    """The site's address cannot stand in a label's symbol."""

    site: str


class UnknownStock(NotFound):
    """No label stock has this name; `near` are names like it."""

    name: str
    near: tuple[str, ...] = ()


class BadStockName(BadInput):
    """A grower's own stock has a name that cannot be typed, or one that is already ours."""

    name: str
    taken: bool = False


class BadMeasure(BadInput):
    """A measure of label stock is out of range; millimetres, or a count for columns and rows."""

    what: str
    value: float
    low: float
    high: float


class StockTooBig(BadInput):
    """The labels together reach beyond their page, `across` or `down`; millimetres."""

    name: str
    direction: str
    needed: float
    page: float


class LabelsOverlap(BadInput):
    """The step from label to label is smaller than the label; millimetres."""

    name: str
    direction: str
    step: float
    label: float


class StartBeyondSheet(BadInput):
    """The first cell to print is not on the sheet; cells count from 1."""

    start: int
    cells: int
    stock: str


class BadResolution(BadInput):
    """The printer's dots per inch are out of range."""

    dpi: int
    low: int
    high: int


class NoLabels(BadInput):
    """There is nothing to print."""


class LabelProblem(Conflict):
    """One label cannot be drawn as asked; `code` says which."""

    code: str


class DoesNotFit(LabelProblem):
    """Text that must be on the label has no room there, even at the smallest size in points."""

    text: str
    stock: str
    smallest: float


class NoRoomForCounts(LabelProblem):
    """A batch card has too little height for its lots and for writing; millimetres."""

    stock: str
    needed: float
    height: float


class NotInFont(LabelProblem):
    """The label's font has no shape for a character."""

    text: str
    character: str


class PayloadTooLong(LabelProblem):
    """A text is longer than any symbol can hold."""

    length: int


class SiteMissing(BadInput):
    """An address was asked for in symbols, and the settings have no site."""


class PaperNotDrawn(RegistryError):
    """An act was recorded and its labels ordered, but the file could not be made."""

    path: Path
    why: str


class NotATag(Conflict):
    """A code that is to be bound is no blank tag's."""

    code: str


class TagBound(Conflict):
    """A blank tag stands on something already."""

    code: str
    on: str


class TagNotBound(NotFound):
    """A blank tag that stands on nothing yet."""

    code: str


class NotALabel(NotFound):
    """A scanned text that is no label's of ours."""

    text: str


class NoOperator(BadInput):
    """A plant passport was asked for, and the settings have no registration number."""

    form: str


class NotOneLabel(BadInput):
    """A kind of file that holds single labels was asked for on a sheet, or for several."""

    stock: str
    ending: str


class PreviewNotInstalled(Unusable):
    """The optional library that renders a preview is missing."""


class NoPassportHere(BadInput):
    """A plant passport was asked for as ZPL, in which its flag and type cannot stand."""


class NotABotanicalName(Conflict):
    """A plant passport needs a botanical name, and the plant has none on record."""

    code: str
    name: str


# Pictures of labels


class PhotosNotInstalled(Unusable):
    """The optional libraries that read pictures are missing."""


class NotAPicture(Unusable):
    """A file is not there, is not a picture, or is a broken or enormous one."""

    path: str


class NoSymbolInPicture(NotFound):
    """A picture was read, but no symbol was found in it."""

    path: str


class BadHead(BadInput):
    """A text holds no head of a chain; `group` is the first of its groups that does not agree."""

    typed: str
    group: int | None = None


class HeadOfAnother(Conflict):
    """A head was taken of another registry."""

    path: Path
    registry: str


class HeadForged(Conflict):
    """A signed head was changed after it was signed."""

    path: Path


class KeyMissing(Unusable):
    """There is no key at the path to sign with."""

    path: Path


class KeyUnreadable(Unusable):
    """The file is no key of ours, or the passphrase does not open it."""

    path: Path
    locked: bool = False


class KeyExists(Unusable):
    """A key stands at the path already."""

    path: Path


class SigningNotInstalled(Unusable):
    """The library that signs is an optional part and is not there."""


# --- what a grower names, and the counts at the bench ---------------------------------------------


class CodeUnknown(NotFound):
    """No record has this code or number; `near` are recorded codes one slip away."""

    typed: str
    near: tuple[str, ...] = ()
    problem: BadInput | None = None


class SeveralMeant(Conflict):
    """A half-read tag or a shared number could mean several records, or none that is recorded."""

    typed: str
    codes: tuple[str, ...]


class NothingLast(NotFound):
    """`last` was typed before this person recorded anything."""


class NothingOpen(Conflict):
    """Nothing is left in the bench of what was named."""

    typed: str


class NotABatch(Conflict):
    """An act at the bench was asked of a plant.

    Attributes:
        typed: As it was typed.
        batch: The batch that the plants were potted from, where it is one.
    """

    typed: str
    batch: str | None = None


class LetterUnknown(NotFound):
    """A count names a lot's letter that is not open in the batch."""

    typed: str
    letter: str
    letters: tuple[str, ...]


class LettersNeeded(Conflict):
    """An act needs one lot where a batch with several open lots was named."""

    typed: str
    letters: tuple[str, ...]


class EachLotNeeded(Conflict):
    """Something went without a lot being said, so that one lot cannot be dealt with alone."""

    code: str
    unsaid: int
    letters: tuple[str, ...]


class StuckBeforeTaken(BadInput):
    """The day of sticking lies wholly before the day of taking."""

    stuck: str
    taken: str


class CountNotExact(Conflict):
    """A movement needs a number; what was said is a range or unknown."""

    what: str
    said: str


class Overdrawn(Conflict):
    """More was asked out of a lot or batch than is left in it."""

    code: str
    asked: int
    left: int


class LookBeyondCount(Conflict):
    """More is said to stand in the bench than can be there."""

    code: str
    said: int
    left: int


class PiecesFewer(Conflict):
    """Fewer cuttings than plants, of material where one cutting makes one plant."""

    pieces: int
    plants: int


class AlreadyStuck(Conflict):
    """A lot that stands in the bench cannot be stuck for the first time."""

    code: str


class NotStuckYet(Conflict):
    """A lot that was taken and lies in its bag still cannot be potted."""

    code: str


class NothingToPot(BadInput):
    """A potting of no plants at all."""

    typed: str


class NotPottedYet(Conflict):
    """A lot was named as a source, but none of its plants is potted yet."""

    typed: str


class SourceMissing(BadInput):
    """An act on material does not say where it comes from, or names the wrong kind of record."""

    act: str


class EntryUnknown(NotFound):
    """No entry of the record has this number."""

    typed: str


class NothingToPutRight(Conflict):
    """Nobody has recorded anything yet that could be taken back."""


class NotTakenBack(Conflict):
    """An entry is of a kind that is put right in another way than by taking it back."""

    seq: int
    what: str


class AlreadyTakenBack(Conflict):
    """An entry was taken back before, by another."""

    seq: int
    by: int


class WhyMissing(BadInput):
    """Something is taken back, and the reason that was given for it is empty."""


class LeansOnIt(Conflict):
    """Later entries build on the one that was to be taken back."""

    seq: int
    later: tuple[int, ...]
    ended: tuple[str, ...]


# --- leave, rights, and what leaves ---------------------------------------------------------------


class LimitReason(Enum):
    """Why a number limit cannot be kept."""

    SHAPE = "shape"
    OF_WHAT = "of what"
    ZERO = "zero"
    NOT_ALLOWED = "not allowed"


class BadLimit(BadInput):
    """A number limit that does not say how many of what, or limits nothing that is allowed."""

    typed: str
    reason: LimitReason


class MoneyReason(Enum):
    """Why an amount of money cannot be kept."""

    SHAPE = "shape"
    CURRENCY = "currency"


class BadMoney(BadInput):
    """A price or royalty that cannot be read."""

    typed: str
    reason: MoneyReason


class UnknownWord(BadInput):
    """A word that is not one of those that stand for something here."""

    what: str
    typed: str
    known: tuple[str, ...]


class BadPlaceCode(BadInput):
    """A place of law that is not a country (ISO 3166-1), its region, or the European Union."""

    typed: str


class ActTwice(BadInput):
    """An act is both allowed and forbidden in one breath, or a refusal also allows something."""

    act: str


class NoSubject(BadInput):
    """What was named holds no plant or lot that a record of this kind can be on."""

    typed: str
    what: str


class RecordUnknown(NotFound):
    """No consent, right, hold or question has this number."""

    what: str
    typed: str
    near: tuple[str, ...] = ()


class AlreadyEnded(Conflict):
    """A consent was withdrawn, or a hold lifted, before."""

    what: str
    typed: str


class DemandFault(Enum):
    """What is wrong with what a country is said to ask."""

    PERMIT = "permit"
    TAXON = "taxon"
    TAXON_OF_CROP = "taxon of crop"


class BadDemand(BadInput):
    """What a country is said to ask cannot be kept so."""

    typed: str
    fault: DemandFault


class OrderNotSaid(BadInput):
    """Plants are said to be surrendered, and under which authority's order is not."""

    typed: str


class OwnerNotSaid(BadInput):
    """Who gave leave was not said, and no one person is on record as owner of the plant."""

    typed: str


class EndsBackwards(BadInput):
    """Something would end before it begins."""

    before: str
    after: str


class PledgeOfWhat(BadInput):
    """A pledge was given with a search; it belongs to the word that a variety is free."""

    found: str


class NothingSaid(BadInput):
    """An option was given without words."""

    option: str


class LicenceElsewhere(BadInput):
    """A licence was given for a place in which its right does not hold."""

    number: str
    holds_in: str
    territory: str


class NotALicence(BadInput):
    """An owner's leave where a licence is meant; only that has a sell-off time."""

    typed: str


class SeveralRights(Conflict):
    """Several rights have the number; `territories` tell them apart."""

    number: str
    territories: tuple[str, ...]


class RightExists(Conflict):
    """The right is on record already: there is one row for a right in a territory."""

    number: str
    territory: str


class BadRight(BadInput):
    """A right that cannot be as typed; `problems` are the words of the rule that it breaks."""

    number: str
    problems: tuple[str, ...]


class RuleFault(Enum):
    """What is wrong with a rule of a place."""

    KIND = "kind"
    TAXON = "taxon"
    CULTIVAR = "cultivar"
    RANK = "rank"
    TERRITORY = "territory"
    ACTS = "acts"
    DAY = "day"
    BACKWARDS = "backwards"
    CITATION = "citation"
    PRIVATE = "private"
    SITE = "site"
    SITE_OF_ORDER = "site of order"
    NO_COLUMN = "no column"
    COLUMN = "column"
    COLUMN_TWICE = "column twice"
    WIDTH = "width"
    TWICE = "twice"
    NOT_CSV = "not csv"
    EMPTY = "empty"


class RuleFaultAt(NamedTuple):
    """A fault, the line of the file (0 where there is none), the column, and what stands there."""

    row: int
    column: str
    typed: str
    fault: RuleFault


class BadRules(BadInput):
    """Rules of a place that cannot be kept, each fault with its line; none of them was stored."""

    faults: tuple[RuleFaultAt, ...]


class NothingPotted(Conflict):
    """What was named has no potted plants that could leave."""

    typed: str


class PotsShort(Conflict):
    """More pots were asked for than are left, once those gone without a code are taken off."""

    code: str
    asked: int
    left: int
    unsaid: int


class NotAway(Conflict):
    """A plant cannot come back that had not left, or is back already; `how` says where it is."""

    code: str
    how: str


class MoreCameBack(Conflict):
    """More plants would come back of a lot or batch than had left and are not back."""

    code: str
    asked: int
    left: int


class CountOfWhat(BadInput):
    """A count was given, but no batch or lot that it could be taken from."""

    typed: str


class NotRecorded(RegistryError):
    """An act was not recorded because of its verdict; `need` is `open` or `reason`.

    `answer` is the verdict with its findings in words, as the services made it.
    """

    act: str
    need: str
    answer: Any


# --- verdicts -------------------------------------------------------------------------------------


class PlantsGone(Conflict):
    """Every plant asked about has ended; `gone` holds code, how, and the last possible day."""

    gone: tuple[tuple[str, str, date], ...]


class ClosesCircle(Conflict):
    """A plant would become its own ancestor; `codes` is the circle."""

    codes: tuple[str, ...]


class ChildBeforeParent(Conflict):
    """A child's last possible day lies before its parent's first."""

    child: str
    child_day: str
    parent: str
    parent_day: str


class BeforeItWas(Conflict):
    """Something is said to have happened to a plant or lot before it was there."""

    code: str
    day: str
    since: str


# --- people, places and plants --------------------------------------------------------------------


class EmptyName(BadInput):
    """A name without a letter or digit."""

    of: str


class PersonUnknown(NotFound):
    """Nobody has this name; `near` are people with a word of it."""

    name: str
    near: tuple[str, ...] = ()


class PersonsAlike(Conflict):
    """Two people share a name; their contacts, in order, tell them apart."""

    name: str
    contacts: tuple[str, ...]


class PlaceUnknown(NotFound):
    """There is no place of this name."""

    name: str


class ToolUnknown(NotFound):
    """There is no tool or tray of this name; `kind` is `tool` or `tray`."""

    name: str
    kind: str
    known: tuple[str, ...]


class PlaceExists(Conflict):
    """There is a place of this name already."""

    name: str


class NearMatch(Conflict):
    """A name is nearly that of plants on record: (code, name) of each."""

    typed: str
    plants: tuple[tuple[str, str], ...]


class NotAPlant(Conflict):
    """An act on plants was asked of something that has none, or has several where one is meant."""

    typed: str


class NumberTaken(Conflict):
    """A number that another record has already: `by` gave it, None is the grower."""

    number: str
    code: str
    by: str | None = None


class PlantGone(Conflict):
    """A plant that ended cannot end again."""

    code: str
    how: str
    on: str | None


class NotThatMany(Conflict):
    """Fewer plants stand than were said to leave or end."""

    typed: str
    asked: int
    there: int


class SettingUnknown(NotFound):
    """There is no setting of this name."""

    key: str
    known: tuple[str, ...]


class SettingValue(BadInput):
    """A setting cannot have this value."""

    key: str
    value: str
    wanted: str


class BadOption(BadInput):
    """An option's words cannot be read; `wanted` says what it takes."""

    option: str
    typed: str
    wanted: str


class GrowerStays(Conflict):
    """The grower's own details are not emptied."""

    name: str


class MustBeKept(Conflict):
    """What is held of a person must be kept for an authority; `keep` says what and why.

    `until` is the last day, None where a term has not begun to run.
    """

    name: str
    until: date | None
    keep: tuple[Any, ...]


# --- names put right ------------------------------------------------------------------------------


class NoNameToTake(Conflict):
    """A name was to be taken from elsewhere in the lineage, where there is none, or several."""

    typed: str
    why: str
    names: tuple[str, ...] = ()


class NotInTheMixUp(Conflict):
    """A plant was said to be confirmed or contradicted that is not one of the group."""

    code: str


class SaidTwice(Conflict):
    """A plant was said to be confirmed and contradicted."""

    code: str


class SamePlantTwice(Conflict):
    """Two references mean one record, or were noted as the same before."""

    one: str
    other: str


class TagUnknown(NotFound):
    """No tag of that number is waiting for its plant."""

    typed: str


class NameOrHow(BadInput):
    """A name was typed and where to take it from as well, or neither."""

    code: str


# --- files of commands ----------------------------------------------------------------------------


class BenchStopped(RegistryError):
    """A line of a file of commands could not be carried out; `why` is the sentence for it.

    `refused` is true where its verdict stood in the way, and not the way it was written.
    """

    line: int
    command: str
    why: str
    refused: bool = False


class NothingStands(Conflict):
    """None of the plants that were named is still there."""

    typed: str


class KeptAlready(Conflict):
    """The same file is kept with a record already, byte for byte."""

    filename: str
    code: str


class NothingToKeepWith(BadInput):
    """A note or a photo was given with an act that is about nothing it could be kept with."""

    act: str


# --- recalls --------------------------------------------------------------------------------------


class RecallEmpty(Conflict):
    """Nothing on record is exposed through what was named."""

    subject: str
    on: str | None


class RecallClosed(Conflict):
    """A closed recall stays as it is."""

    number: int
    on: str


class RecallComplete(Conflict):
    """All that is exposed has its line in a recall."""

    number: int


class RecallOutdated(Conflict):
    """More has come to be exposed since a recall was listed: plants, lots, pots by count."""

    number: int
    plants: int
    lots: int
    pots: int


class NotInRecall(NotFound):
    """What was named is not one of the lines of a recall."""

    number: int
    typed: str


class TickOfSeveral(BadInput):
    """A number is given for several lines of a recall at once."""

    number: int
    n: int
    lines: int


class MoreThanLine(BadInput):
    """More were found than a line of a recall has."""

    number: int
    line: int
    n: int
    most: int


class RecallNotSaid(BadInput):
    """A recall needs to know what it is about; `what` is `place`, `tool`, `tick` or `nothing`."""

    what: str
    typed: str
