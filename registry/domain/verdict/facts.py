"""What is on record, as the verdict reads it: the question and the dossier.

A dossier holds the asked nodes and everything above them: `plants` and `lots` by node id and the
edges between them as stored. Facts hang where they were recorded; nothing is copied down the line.
Void records are left out. Days are `Span`s with open bounds filled in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from enum import Enum
from operator import attrgetter

from registry.domain.rights import RightFacts
from registry.domain.rules.territories import Place
from registry.domain.spans import ANY_DAY, Span

# --- the question --------------------------------------------------------------------------------


class Act(Enum):
    """What is asked about; `move` and `end` are judged under holds and rules of the place."""

    PROPAGATE = "propagate"
    KEEP = "keep"
    GIVE = "give"
    SWAP = "swap"
    SELL = "sell"
    EXPORT = "export"
    MOVE = "move"
    END = "end"


RELEASES = frozenset({Act.GIVE, Act.SWAP, Act.SELL, Act.EXPORT})
TRANSFERS = frozenset({Act.GIVE, Act.SWAP, Act.SELL})


class Purpose(Enum):
    """Private and non-commercial, nobody pays; or all else."""

    PRIVATE = "private"
    TRADE = "trade"


class Way(Enum):
    """How new plants are made when `propagate` is asked.

    Of a grafted plant the top is meant. For a sucker of its rootstock two plants are asked: the
    tree that bears it, which is somebody's and may be on hold, and the rootstock, which it is.
    """

    CLONAL = "clonal"  # cuttings, grafts of the top, layers, tissue
    DIVISION = "division"  # division, offsets, runners, bulblets, suckers on own roots
    SUCKER = "sucker"  # a sucker of its rootstock is cut from a grafted plant
    SEED = "seed"
    POLLEN = "pollen"


class Goods(Enum):
    """What crosses a line."""

    PLANTS = "plants"
    SEED = "seed"


class Paper(Enum):
    """A document that stands ready for this act."""

    PHYTOSANITARY = "phytosanitary certificate"
    IMPORT_PERMIT = "import permit"
    PASSPORT = "plant passport"
    CITES_PERMIT = "cites permit"
    PARK_PERMIT = "park permit"


@dataclass(frozen=True, slots=True)
class Question:
    """An act, on a day, at a place, for a purpose.

    Attributes:
        act: what is asked.
        day: when; for `propagate` the day of taking. Close open bounds before asking (a day that
            has passed is no later than the day of recording).
        place: where the grower acts.
        purpose: as stated for this act; None where nobody said. See `judge.purpose_of`.
        grower_trades: the registry's setting; it makes propagate and keep trade.
        recorded: the day on which the question is put or the act is typed.
        entry: number of the chain entry that records this act; a consent recorded with it carries
            the same number. None for a mere question.
        to: where plants go; None is the same country as `place`.
        to_trader: the recipient is a trader.
        at_distance: agreed by post, telephone or screen.
        goods: plants (also cuttings, bulbs, tubers) or seed.
        papers: what stands ready.
        order: the authority's order under which plants are destroyed or handed over.
        witness: a witness of the destruction is named.
    """

    act: Act
    day: Span
    place: Place
    purpose: Purpose | None = None
    grower_trades: bool = False
    recorded: date | None = None
    entry: int | None = None
    to: Place | None = None
    to_trader: bool = False
    at_distance: bool = False
    goods: Goods = Goods.PLANTS
    papers: frozenset[Paper] = frozenset()
    order: str | None = None
    witness: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """A node asked about and a number.

    Attributes:
        node: a plant, or a lot where pots leave by count.
        n: for `propagate` the pieces to be taken, None where not counted; else plants that leave.
        way: how it serves, for `propagate`; one request may ask several in different ways.
    """

    node: int
    n: int | None = 1
    way: Way = Way.CLONAL


# --- consents and licences -----------------------------------------------------------------------


class Outcome(Enum):
    """What came of asking."""

    GIVEN = "given"
    REFUSED = "refused"
    NO_ANSWER = "no answer"
    HANDED_OVER = "handed over"  # the owner gave the cuttings for growing


class Role(Enum):
    """As what a person spoke."""

    OWNER = "owner"
    AGENT = "agent"  # acting for the owner
    KEEPER = "keeper"  # the body that keeps a park, street, churchyard or office bed
    COMMITTEE = "committee"  # of a club or shared garden
    GIVER = "giver"  # who gave or swapped the plant with terms, or signed its statement
    HOLDER = "holder"  # of a right, or acting for the holder


class Unit(Enum):
    """What a limit counts."""

    CUTTINGS = "cuttings"
    PIECES = "pieces"
    PLANTS = "plants"
    POTS = "pots"


PIECE_UNITS = frozenset({Unit.CUTTINGS, Unit.PIECES})


@dataclass(frozen=True, slots=True)
class Limit:
    """At most `n` of `unit`, in all or in each calendar year."""

    n: int
    unit: Unit
    per_year: bool = False

    @property
    def counted(self) -> frozenset[Act]:
        """Cuttings and pieces count propagate; plants and pots give, swap and sell together."""
        return frozenset({Act.PROPAGATE}) if self.unit in PIECE_UNITS else TRANSFERS


@dataclass(frozen=True, slots=True)
class Word:
    """What a consent says about one act.

    Attributes:
        act: the act.
        allowed: yes or no.
        limit: how many.
        royalty: what is paid for each.
        credit: the words of the credit to be given.
        notice: words that must go with each plant.
        pledge: what whoever gets a plant must promise in turn.
    """

    act: Act
    allowed: bool
    limit: Limit | None = None
    royalty: str | None = None
    credit: str | None = None
    notice: str | None = None
    pledge: str | None = None


@dataclass(frozen=True, slots=True)
class Use:
    """A number of a consent used up; `n` None where nobody counted. May be summed by year."""

    act: Act
    n: int | None
    on: Span


@dataclass(frozen=True, slots=True)
class Consent:
    """What an owner, or on a right its holder, said.

    Attributes:
        id: of the record.
        person: who spoke; None where not named.
        role: as what.
        outcome: what came of asking.
        given: from when it counts (the day it was given, or a later start); open if not said.
        recorded: the day it was typed; it was given no later.
        until: its last day; None has no end.
        withdrawn: when it was taken back; None if never.
        words: what it says, one for each act; a refusal without words refuses every act.
        uses: what was used of its limits.
        entry: chain entry that recorded it.
        with_taking: it was recorded together with a taking ("she said yes, then I cut").
        covers_taken: it says that it covers what was taken before.
        seedlings: True reaches plants raised from seed, False leaves them free, None is silent.
        territory: of a licence; None is everywhere.
        sell_off: last day to sell what was made under a licence that ended.
    """

    id: int
    person: int | None
    role: Role = Role.OWNER
    outcome: Outcome = Outcome.GIVEN
    given: Span = ANY_DAY
    recorded: date = date.max
    until: Span | None = None
    withdrawn: Span | None = None
    words: tuple[Word, ...] = ()
    uses: tuple[Use, ...] = ()
    entry: int | None = None
    with_taking: bool = False
    covers_taken: bool = False
    seedlings: bool | None = None
    territory: str | None = None
    sell_off: date | None = None

    def word(self, act: Act) -> Word | None:
        """What it says about `act`: its own word, or no to everything for a bare refusal."""
        for word in self.words:
            if word.act is act:
                return word
        if self.outcome is Outcome.REFUSED and not self.words:
            return Word(act, allowed=False)
        return None

    @property
    def starts(self) -> Span:
        """From when it counts, no later than the day it was typed if nothing else was said."""
        if self.given.last == date.max and self.recorded >= self.given.first:
            return Span(self.given.first, self.recorded)
        return self.given


@dataclass(frozen=True, slots=True)
class Owner:
    """Whose a plant was, from when until when; `person` None is the grower."""

    person: int | None
    since: Span = ANY_DAY
    until: Span | None = None


# --- plants and lots -----------------------------------------------------------------------------


class How(Enum):
    """How a founder came; None on a plant is 'not said'."""

    STANDING = "standing"  # it stands where the material is drawn, here or elsewhere
    BOUGHT = "bought"
    SOCIETY_SALE = "society sale"  # botanic garden or plant society
    GIVEN = "given"
    SWAPPED = "swapped"
    STATEMENT = "statement"  # with a signed statement of origin
    INHERITED = "inherited"
    WITH_HOUSE = "with the house"
    PRODUCE = "produce"  # grown from bought fruit, vegetables or cut flowers
    SEED = "seed"  # own seedling
    HANDED_OVER = "handed over"  # cuttings given by their owner for growing
    WILD = "wild"


class Source(Enum):
    """What is known of who supplied an acquired plant."""

    NOT_RECORDED = "not recorded"
    LICENSED = "licensed"  # the holder, or with the holder's leave
    UNLICENSED = "no licence on record"  # stall, swap, hobby seller


class Ground(Enum):
    """Whose ground a plant stands on, where that changes who may give leave."""

    PRIVATE = "private"
    PUBLIC = "public"  # park, street, churchyard, office bed
    US_NATIONAL_PARK = "us national park"
    GROUP = "group"  # club, allotment society, shared garden


class Identity(Enum):
    """How far a name says what the plant is."""

    CULTIVAR = "cultivar"  # a named cultivar
    SPECIES = "species"  # species or botanical variety, no cultivar said
    GENUS = "genus"  # genus alone
    DOUBTFUL = "doubtful"  # cf., aff., "probably"
    BRAND = "brand"  # only a trade designation
    LABEL_LOST = "label lost"  # once a named cultivar
    MIX_UP = "mix-up"  # a mix-up is recorded under this name
    UNKNOWN = "unknown"


class NameKind(Enum):
    """Why a node has a name of its own."""

    RECEIVED = "received"
    DETERMINED = "determined"
    SPORT = "sport"  # a mutation of its parent: the name starts a new line
    SELECTION = "selection"  # an own seedling kept and named


@dataclass(frozen=True, slots=True)
class Taxon:
    """The botanical part of a name, lower case; empty where not said.

    Attributes:
        genus: the genus.
        species: the species epithet.
        infraspecific: the epithet of a subspecies, botanical variety or form.
        hybrid: a hybrid, by sign or formula.
        parents: "genus species" of each parent of a hybrid, where the name or record says.
        key: the matching key of the full name, for rules that exempt a cultivar by name.
    """

    genus: str = ""
    species: str = ""
    hybrid: bool = False
    parents: tuple[str, ...] = ()
    key: str = ""
    infraspecific: str = ""

    @property
    def binomial(self) -> str:
        """Genus and species, or the genus alone."""
        return f"{self.genus} {self.species}".strip()


@dataclass(frozen=True, slots=True)
class Name:
    """A name that a node has or had, as received or determined, with what it says.

    Attributes:
        key: matching key of the denomination, the same as in right and look-up records.
        identity: how far it says what the plant is.
        id: of the determination; None for the name as received.
        taxon: its botanical part.
        kind: why the node has it.
        grounds: grounds are recorded for it.
        confirmed: a second look agrees.
        denomination: known to be the cultivar name, not a brand.
        no_cultivar: recorded as no cultivar, with grounds.
        from_seed: recorded as raised from seed.
        brand: the trade designation beside it.
    """

    key: str
    identity: Identity
    id: int | None = None
    taxon: Taxon = Taxon()
    kind: NameKind = NameKind.DETERMINED
    grounds: bool = False
    confirmed: bool = False
    denomination: bool = True
    no_cultivar: bool = False
    from_seed: bool = False
    brand: str | None = None


@dataclass(frozen=True, slots=True)
class Since:
    """A year since which a plant stood, and whose word that is."""

    when: Span
    source: str | None


@dataclass(frozen=True, slots=True)
class Acquisition:
    """How, when and where an acquired plant was bought, given or swapped.

    Attributes:
        on: the day.
        source: what is known of the supplier's licence.
        territory: country of the purchase; None where not recorded.
        copy: it is a copy that its giver made; None where not recorded.
        notice: a statutory notice that came with it (7 USC 2541(a)(6)).
        do_not_propagate: its label forbids propagation.
        pending_mark: its label says that a right was applied for ("PPAF"); the territory.
        none_answered: day of a supplier's or holder's dated answer that there is no right.
    """

    on: Span = ANY_DAY
    source: Source = Source.NOT_RECORDED
    territory: str | None = None
    copy: bool | None = None
    notice: str | None = None
    do_not_propagate: bool = False
    pending_mark: str | None = None
    none_answered: date | None = None


class Provenance(Enum):
    """Where material first came from; C6 reads 'nothing said' as cultivated."""

    CULTIVATED = "cultivated"
    WILD = "wild"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Origin:
    """The origin recorded on a founder.

    Attributes:
        provenance: cultivated, wild or not known.
        allowed: acts for which a permit or the landowner's leave is recorded.
        permit: its number or words.
        protected: the taxon is listed as protected where it was collected; citation of the list.
    """

    provenance: Provenance
    allowed: frozenset[Act] = frozenset()
    permit: str | None = None
    protected: str | None = None


@dataclass(frozen=True, slots=True)
class Terms:
    """Terms against propagation that came with a plant (order, contract, collection agreement).

    Attributes:
        id: of the record.
        agreed: True the grower agreed, False only an earlier holder did.
        release: True also bars the release of copies, False leaves it free, None is silent.
        agreement: a material transfer agreement.
    """

    id: int | None
    agreed: bool
    release: bool | None = None
    agreement: str | None = None


class Cites(Enum):
    """Whether the taxon is listed under CITES."""

    NOT_RECORDED = "not recorded"
    LISTED = "listed"
    NOT_LISTED = "not listed"


@dataclass(frozen=True, slots=True)
class Ended:
    """That a plant is gone: how (died, culled, sold …) and when."""

    how: str
    on: Span


@dataclass(frozen=True, slots=True)
class Plant:
    """What is recorded on one plant.

    Attributes:
        id: node id.
        label: its code, for messages only.
        accession: its accession, for holds on a batch.
        places: the place where it stands and every place around that.
        how: how it came; None for a plant raised here, or not said.
        ground: whose ground it stands on.
        acquired: facts of the purchase, gift or swap.
        origin: recorded origin; None where nothing was said.
        owners: ownership rows; none is 'not recorded'.
        consents: on this plant.
        names: oldest first; the last one is the node's current name.
        since: since when it, or its cultivar, is known.
        terms: agreed terms that came with it.
        not_the_variety: a seedling recorded as not the protected variety.
        distinct: an own selection recorded as clearly distinct and not derived.
        for_release: marked for release, which makes propagate and keep trade.
        cites: CITES status of the taxon.
        ended: set when the plant is gone.
    """

    id: int
    label: str = ""
    accession: int | None = None
    places: tuple[int, ...] = ()
    how: How | None = None
    ground: Ground = Ground.PRIVATE
    acquired: Acquisition | None = None
    origin: Origin | None = None
    owners: tuple[Owner, ...] = ()
    consents: tuple[Consent, ...] = ()
    names: tuple[Name, ...] = ()
    since: tuple[Since, ...] = ()
    terms: tuple[Terms, ...] = ()
    not_the_variety: bool = False
    distinct: bool = False
    for_release: bool = False
    cites: Cites = Cites.NOT_RECORDED
    ended: Ended | None = None


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot: the taking of material, and what consents were recorded on it.

    Attributes:
        id: node id.
        taken: the day of taking; close an open last day with the day of recording.
        label: its code, for messages only.
        accession: its batch, for holds.
        places: where it stands and every place around that.
        recorded: the day the taking was typed.
        entry: chain entry that recorded the taking.
        purpose: the purpose stored with the taking; None where not stored.
        place: where it was taken; None is the place of the question.
        consents: on this lot (owner handed it over).
        names: names of its own, as for a plant.
        apomictic: True if its seed is known to be apomictic or nucellar.
        not_the_variety: recorded as not the protected variety, for a sowing.
        for_release: marked for release.
    """

    id: int
    taken: Span = ANY_DAY
    label: str = ""
    accession: int | None = None
    places: tuple[int, ...] = ()
    recorded: date = date.max
    entry: int | None = None
    purpose: Purpose | None = None
    place: Place | None = None
    consents: tuple[Consent, ...] = ()
    names: tuple[Name, ...] = ()
    apomictic: bool = False
    not_the_variety: bool = False
    for_release: bool = False


_EVERY_PLANT_HAS = frozenset({"id", "label", "accession", "places"})
_EVERY_LOT_HAS = _EVERY_PLANT_HAS | {"taken", "recorded", "entry", "purpose", "place"}
_facts_of_plant = attrgetter(*(f.name for f in fields(Plant) if f.name not in _EVERY_PLANT_HAS))
_facts_of_lot = attrgetter(*(f.name for f in fields(Lot) if f.name not in _EVERY_LOT_HAS))
_NO_FACTS_OF_PLANT = _facts_of_plant(Plant(id=0))
_NO_FACTS_OF_LOT = _facts_of_lot(Lot(id=0))


def is_silent(record: Plant | Lot) -> bool:
    """Whether nothing is recorded but what every plant has, or every lot: most have no more.

    >>> is_silent(Plant(1, places=(4,))), is_silent(Plant(1, for_release=True))
    (True, False)
    """
    if isinstance(record, Plant):
        return bool(_facts_of_plant(record) == _NO_FACTS_OF_PLANT)
    return bool(_facts_of_lot(record) == _NO_FACTS_OF_LOT)


class EdgeRole(Enum):
    """How material passed from parent to child."""

    SOURCE = "source"
    SCION = "scion"
    ROOTSTOCK = "rootstock"
    INTERSTOCK = "interstock"
    SEED_PARENT = "seed parent"
    POLLEN_PARENT = "pollen parent"
    RAISED = "raised"
    SPLIT = "split"
    MERGED = "merged"
    AGAIN = "again"
    BACK = "came back"
    PART_OF = "part of"
    SUCKER_OF = "sucker of"


@dataclass(frozen=True, slots=True)
class Edge:
    """Parent to child. Edges of one child with the same `choice` are 'one of these'."""

    parent: int
    child: int
    role: EdgeRole
    choice: int | None = None


# --- rights, restrictions, holds -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Right:
    """A right on record, the matching keys of the names it protects, and licences under it."""

    id: int
    facts: RightFacts
    keys: frozenset[str]
    licences: tuple[Consent, ...] = ()


@dataclass(frozen=True, slots=True)
class LookUp:
    """A search of the registers of a place that found no right.

    Attributes:
        id: of the record.
        key: matching key of the name searched.
        territory: whose registers.
        on: the day (its first possible day counts).
        complete: all kinds of right of the place were searched, applications too.
        by_denomination: searched by a name known to be the denomination.
        first_sold: when the cultivar was first sold, if recorded.
    """

    id: int
    key: str
    territory: str
    on: Span
    complete: bool = True
    by_denomination: bool = True
    first_sold: Span | None = None


@dataclass(frozen=True, slots=True)
class FreeStatement:
    """A breeder's or holder's dated statement that a cultivar is free."""

    id: int
    key: str
    on: Span
    pledge: str | None = None  # what must be passed on with it
    territory: str | None = None  # None is everywhere


class RuleKind(Enum):
    """What kind of rule of a place a restriction is."""

    EU_INVASIVE = "eu invasive"  # Reg (EU) 1143/2014
    WEED = "weed"
    PROTECTED = "protected"
    QUARANTINE = "quarantine"
    OTHER = "other"


class Effect(Enum):
    """What a restriction does to an act that it lists."""

    BARS = "bars"
    PERMIT = "permit"


@dataclass(frozen=True, slots=True)
class Restriction:
    """A rule of a place on a taxon, or a crop-health order on a site.

    Attributes:
        id: of the record.
        kind: what kind of rule.
        genus: lower case; empty for an order on all plants.
        species: lower case; empty for the whole genus.
        territory: country or EU.
        region: narrows the territory.
        places: for an order, the places that it covers; none is the whole territory or region.
        acts: what it does, by act; none for an order whose acts were not recorded.
        private_too: it reaches private growing.
        since: first day in force.
        until: last day; None has no end.
        citation: where it stands.
        exempt: matching keys of cultivars exempted by name.
        hosts: "genus species" (or genus) of the hosts; none is not recorded.
        not_hosts: the same for taxa recorded as no host.
    """

    id: int
    kind: RuleKind
    genus: str = ""
    species: str = ""
    territory: str = ""
    region: str | None = None
    places: frozenset[int] = frozenset()
    acts: tuple[tuple[Act, Effect], ...] = ()
    private_too: bool = True
    since: Span = ANY_DAY
    until: Span | None = None
    citation: str = ""
    exempt: frozenset[str] = frozenset()
    hosts: frozenset[str] = frozenset()
    not_hosts: frozenset[str] = frozenset()


class About(Enum):
    """What a demand of a country is about."""

    PLANTS = "plants"  # plants, cuttings, tubers, bulbs that come in
    SEED = "seed"  # seed that comes in
    CROP = "crop"  # listing and certification of a crop in trade


@dataclass(frozen=True, slots=True)
class Demand:
    """What a country asks, as it was read (rows E1, E2, C22).

    Attributes:
        id: of the record.
        about: what comes in, or a crop in trade.
        territory: country or EU.
        said: what it asks.
        source: where that was read.
        permit: an import permit is asked; None where that was not said.
        taxon: "genus species" or genus, lower case, of a crop.
    """

    id: int
    about: About
    territory: str
    said: str
    source: str
    permit: bool | None = None
    taxon: str = ""


class Stops(Enum):
    """What a hold stops."""

    LEAVING = "leaving"
    MOVING = "moving"
    PROPAGATING = "propagating"
    ENDING = "ending"


@dataclass(frozen=True, slots=True)
class Hold:
    """A stop on a plant or lot, on a batch, or on a place; exactly one of the three is set."""

    id: int
    node: int | None = None
    accession: int | None = None
    place: int | None = None
    descent: bool = True
    stops: frozenset[Stops] = frozenset(Stops)
    since: Span = ANY_DAY
    lifted: Span | None = None
    authority: str | None = None
    reason: str = ""


# --- the dossier ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Dossier:
    """All that a verdict on any number of plants needs, ancestors shared between them.

    Attributes:
        question: what is asked.
        asked: the nodes asked about.
        plants: every asked plant and every ancestor plant, by node id.
        lots: every lot between them.
        edges: every edge above the asked nodes, of every role.
        rights: rights whose keys match a name on the line.
        lookups: look-ups that found none, for those names.
        free: statements that a cultivar is free.
        restrictions: rules on the taxa or sites, wherever they hold.
        lists: when the restriction lists of a territory were last loaded, in full; None where the
            registry keeps none.
        holds: on the nodes above, their batches and places.
        demands: what countries ask, newest last.
    """

    question: Question
    asked: tuple[Asked, ...]
    plants: Mapping[int, Plant] = field(default_factory=dict)
    lots: Mapping[int, Lot] = field(default_factory=dict)
    edges: tuple[Edge, ...] = ()
    rights: tuple[Right, ...] = ()
    lookups: tuple[LookUp, ...] = ()
    free: tuple[FreeStatement, ...] = ()
    restrictions: tuple[Restriction, ...] = ()
    lists: Mapping[str, date] | None = field(default_factory=dict)
    holds: tuple[Hold, ...] = ()
    demands: tuple[Demand, ...] = ()
