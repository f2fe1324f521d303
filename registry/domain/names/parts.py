"""What a plant name is made of, without its marks: quotes, ×, + and type are made in printing.

The International Code of Nomenclature (ICN) rules the Latin parts, the International Code of
Nomenclature for Cultivated Plants (ICNCP) the Group, grex and cultivar epithets. A trade
designation is a name under neither.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from registry.errors import NameReason


class Hybrid(Enum):
    """The sign that stands inside a single name (ICN Art. H.3; ICNCP for +)."""

    NONE = ""
    SPECIES = "nothospecies"
    GENUS = "nothogenus"
    GRAFT = "graft-chimaera"


class Join(Enum):
    """What joins the two parents of a formula (ICN Art. H.2)."""

    NONE = ""
    CROSS = "×"
    GRAFT = "+"


class Bunch(Enum):
    """What kind of named assemblage of cultivated plants stands in the name (ICNCP)."""

    NONE = ""
    GROUP = "Group"
    GREX = "gx"


class Qualifier(Enum):
    """Doubt about the identification; no part of the name."""

    NONE = ""
    CF = "cf."
    AFF = "aff."
    QUERY = "(?)"


class Level(Enum):
    """The part before which a qualifier stands."""

    GENUS = "genus"
    SPECIES = "species"
    INFRASPECIFIC = "infraspecific"


class Status(Enum):
    """What the name says is missing. The codes have no form for an unknown cultivar."""

    COMPLETE = ""
    ONE_SPECIES = "sp."
    SEVERAL_SPECIES = "spp."
    CULTIVAR_UNKNOWN = "(cultivar not known)"


@dataclass(frozen=True, slots=True)
class Aside:
    """What was typed beside the name and is no part of it."""

    authors: tuple[str, ...] = ()
    cultivar_author: str = ""
    marks: tuple[str, ...] = ()
    patents: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ParsedName:
    """The parts of one plant name; what is missing is empty.

    Attributes:
        genus: capitalised, without × or +.
        hybrid: the sign inside this name; see `join` for a formula.
        species: the species epithet, lower case.
        rank: the rank term of the infraspecific epithet as printed, e.g. ``subsp.``.
        infraspecific: the infraspecific epithet, lower case.
        bunch: whether `bunch_epithet` is that of a Group or of a grex.
        bunch_epithet: without the word Group or gx.
        cultivar: the cultivar epithet without quotes; an apostrophe is ``'``.
        trade: the trade designation, in capitals.
        qualifier: doubt, standing before the part at `qualifies`.
        status: what the name says is not known.
        join: how `second` is joined on.
        second: the other parent of a formula.
        aside: authors, marks and patent numbers; not compared.
    """

    genus: str
    hybrid: Hybrid = Hybrid.NONE
    species: str = ""
    rank: str = ""
    infraspecific: str = ""
    bunch: Bunch = Bunch.NONE
    bunch_epithet: str = ""
    cultivar: str = ""
    trade: str = ""
    qualifier: Qualifier = Qualifier.NONE
    qualifies: Level = Level.GENUS
    status: Status = Status.COMPLETE
    join: Join = Join.NONE
    second: ParsedName | None = None
    aside: Aside = field(default=Aside(), compare=False)

    @property
    def is_formula(self) -> bool:
        """Whether the name is that of a cross or graft of two named parents."""
        return self.second is not None

    @property
    def is_doubtful(self) -> bool:
        """Whether cf., aff. or a question mark stands anywhere in the name."""
        own = self.qualifier is not Qualifier.NONE
        return own or (self.second is not None and self.second.is_doubtful)

    @property
    def is_cultivar_named(self) -> bool:
        """Whether this plant's cultivar is named; a formula names only its parents."""
        return bool(self.cultivar) and not self.is_formula

    @property
    def is_brand_only(self) -> bool:
        """Whether a trade designation stands without the cultivar epithet."""
        return bool(self.trade) and not self.cultivar and not self.is_formula

    @property
    def is_cultivar_lost(self) -> bool:
        """Whether the name says that a cultivar was once named and is not known."""
        return self.status is Status.CULTIVAR_UNKNOWN


class Outcome(Enum):
    """What became of a typed name."""

    ACCEPTED = "accepted"
    NORMALISED = "normalised"
    ASK = "ask"
    WORDS = "words"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Remark:
    """One reason to refuse, ask about or flag a name, with the word at fault."""

    reason: NameReason
    word: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """A typed name as it was read.

    Attributes:
        typed: exactly as received.
        outcome: see `Outcome`; `WORDS` keeps the name as received, identity open.
        name: the parts; None for words and refusals. For `ASK` the most likely reading.
        remarks: reasons; with `ACCEPTED` or `NORMALISED` they are warnings.
        offers: printed alternatives, the most likely first; each reads without a question.
    """

    typed: str
    outcome: Outcome
    name: ParsedName | None = None
    remarks: tuple[Remark, ...] = ()
    offers: tuple[str, ...] = ()

    @property
    def is_name_unknown(self) -> bool:
        """Whether nothing of a botanical name was read."""
        return self.name is None
