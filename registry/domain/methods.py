"""How plants are made from plants: methods, roles, what is inherited, wood, parts and cautions.

The words are those of extension texts and of common practice; a grower's own word is always kept
beside what it is understood as.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum


class Method(StrEnum):
    """How a lot is raised."""

    CUTTING = "cutting"
    GRAFT = "graft"  # budding too
    TOPWORK = "topwork"  # a top grafted on a standing plant
    LAYER = "layer"
    DIVISION = "division"
    OFFSET = "offset"  # pups, runners, suckers, bulbils, tubers
    TISSUE = "tissue"  # micropropagation
    SEED = "seed"


class Role(StrEnum):
    """What a parent is to its child in the lineage."""

    SOURCE = "source"
    SCION = "scion"
    ROOTSTOCK = "rootstock"
    INTERSTOCK = "interstock"
    SEED_PARENT = "seed parent"
    POLLEN_PARENT = "pollen parent"
    RAISED = "raised"  # a plant from its lot
    SPLIT = "split"
    MERGED = "merged"
    AGAIN = "again"  # the same pieces stuck a second time
    BACK = "came back"  # the same plant, or one of a lot, that had left and was received again
    PART_OF = "part of"  # a grafted top, of the plant it stands on
    SUCKER_OF = "sucker of"  # a sucker of its rootstock, of the grafted plant that bore it


class Name(Enum):
    """How much of a name travels along an edge."""

    WHOLE = "whole"  # the same clone
    SPECIES = "species"  # genus and species at most, unless recorded as coming true
    NONE = "none"


class Terms(Enum):
    """Which terms of consent, and which rights, travel along an edge."""

    ALL = "all"
    STOCK = "stock"  # only for acts on the rootstock itself
    SEED = "seed"  # rights that reach seed, consents that say so
    LEAVE = "leave"  # leave and what was agreed, no right
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Inherited:
    """What a child has from a parent in one role."""

    name: Name
    terms: Terms
    origin: bool = True
    health: bool = True


_SAME_MATERIAL = Inherited(Name.WHOLE, Terms.ALL)
_UNDER_THE_UNION = Inherited(Name.NONE, Terms.STOCK)
_SEXUAL = Inherited(Name.SPECIES, Terms.SEED)  # health: some diseases are seed-borne

INHERITED: dict[Role, Inherited] = {
    Role.SOURCE: _SAME_MATERIAL,
    Role.SCION: _SAME_MATERIAL,
    Role.ROOTSTOCK: _UNDER_THE_UNION,
    Role.INTERSTOCK: _UNDER_THE_UNION,
    Role.SEED_PARENT: _SEXUAL,
    Role.POLLEN_PARENT: _SEXUAL,
    Role.RAISED: _SAME_MATERIAL,
    Role.SPLIT: _SAME_MATERIAL,
    Role.MERGED: _SAME_MATERIAL,
    Role.AGAIN: _SAME_MATERIAL,
    Role.BACK: _SAME_MATERIAL,
    # The trunk's name, terms and origin reach a top through its lot's rootstock edge alone.
    Role.PART_OF: Inherited(Name.NONE, Terms.NONE, origin=False),
    # A sucker is its rootstock, by an edge of its own; it was cut from somebody's tree.
    Role.SUCKER_OF: Inherited(Name.NONE, Terms.LEAVE),
}
"""What travels along an edge, by the parent's role."""

_CLONAL_ROLES = frozenset(role for role, has in INHERITED.items() if has.name is Name.WHOLE)


def is_clonal(role: Role, method: Method) -> bool:
    """True if the child is the same clone as the parent, so that it bears the parent's name.

    >>> is_clonal(Role.SCION, Method.GRAFT), is_clonal(Role.ROOTSTOCK, Method.GRAFT)
    (True, False)
    """
    return role in _CLONAL_ROLES and method is not Method.SEED


# --- wood ----------------------------------------------------------------------------------------


class WoodStage(StrEnum):
    """How ripe the wood of a cutting was."""

    HERBACEOUS = "herbaceous"
    SOFTWOOD = "softwood"
    GREENWOOD = "greenwood"
    SEMI_HARDWOOD = "semi-hardwood"
    HARDWOOD = "hardwood"


_WOOD_WORDS = {
    "herbaceous": WoodStage.HERBACEOUS,
    "soft": WoodStage.SOFTWOOD,
    "softwood": WoodStage.SOFTWOOD,
    "green": WoodStage.GREENWOOD,
    "greenwood": WoodStage.GREENWOOD,
    # from here to semi-ripe: common practice, no source, save semi-ripe and semi-hardwood
    "firm": WoodStage.SEMI_HARDWOOD,
    "semifirm": WoodStage.SEMI_HARDWOOD,
    "halfripe": WoodStage.SEMI_HARDWOOD,
    "semi": WoodStage.SEMI_HARDWOOD,
    "semihard": WoodStage.SEMI_HARDWOOD,
    "semihardwood": WoodStage.SEMI_HARDWOOD,
    "semiripe": WoodStage.SEMI_HARDWOOD,
    "semiripewood": WoodStage.SEMI_HARDWOOD,
    "ripe": WoodStage.HARDWOOD,
    "hard": WoodStage.HARDWOOD,
    "hardwood": WoodStage.HARDWOOD,
    "dormant": WoodStage.HARDWOOD,
    "dormanthardwood": WoodStage.HARDWOOD,
}


def _bare(word: str) -> str:
    return "".join(character for character in word.casefold() if character.isalpha())


def wood_stage(word: str) -> WoodStage | None:
    """What a grower's word for the wood means, or None if it is not a known one.

    >>> wood_stage("Semi-ripe"), wood_stage("whippy")
    (<WoodStage.SEMI_HARDWOOD: 'semi-hardwood'>, None)
    """
    return _WOOD_WORDS.get(_bare(word))


@dataclass(frozen=True, slots=True)
class Holding:
    """How long pieces are ordinarily held between taking and sticking, in days.

    Attributes:
        warm: Not cooled.
        cooled: Cooled and sealed, as general advice.
        reported: The longest that growers commonly report to have worked.
    """

    warm: int
    cooled: int
    reported: int


HOLDING = {
    # An azalea guide in a growers' forum (growsonyou.com): no more than a day.
    WoodStage.HERBACEOUS: Holding(0, 1, 1),
    WoodStage.SOFTWOOD: Holding(0, 1, 1),
    WoodStage.GREENWOOD: Holding(0, 1, 1),  # as softwood: common practice, no source
    WoodStage.SEMI_HARDWOOD: Holding(1, 3, 7),  # from memory, after NC State HIL-8702
    # About six weeks at 33-40 F (gardenguides.com); fig growers report seven months and more.
    WoodStage.HARDWOOD: Holding(7, 42, 210),
}
"""By wood. Guidance only: a registry warns and never refuses."""


@dataclass(frozen=True, slots=True)
class HeldLong:
    """A warning: pieces were held longer than is ordinary for their wood."""

    word: str
    days: int
    ordinary: int
    reported: int


def held_long(word: str, days: int) -> HeldLong | None:
    """A warning if `days` between taking and sticking are long for wood of that word.

    Whether pieces were cooled is rarely recorded, so the longer figure counts. No warning where the
    word is not understood.

    >>> held_long("soft", 36).ordinary
    1
    >>> held_long("dormant", 36) is None
    True
    """
    stage = wood_stage(word)
    if stage is None or days <= HOLDING[stage].cooled:
        return None
    return HeldLong(word, days, HOLDING[stage].cooled, HOLDING[stage].reported)


# --- parts ---------------------------------------------------------------------------------------


class Part(StrEnum):
    """Which piece of a plant a cutting is (FAO ad224e and the UF/IFAS propagation glossary)."""

    TIP = "tip"
    STEM = "stem"
    BASAL = "basal"
    HEEL = "heel"
    MALLET = "mallet"
    NODAL = "nodal"
    INTERNODAL = "internodal"
    LEAF_BUD = "leaf-bud"
    LEAF = "leaf"
    ROOT = "root"


_PART_WORDS = {
    **{_bare(part): part for part in Part},
    "terminal": Part.TIP,
    "top": Part.TIP,
    "section": Part.STEM,
    "cane": Part.STEM,
    "straight": Part.STEM,
    "base": Part.BASAL,
    "node": Part.NODAL,
    "internode": Part.INTERNODAL,
    "singlenode": Part.LEAF_BUD,
    "roots": Part.ROOT,
    "leaves": Part.LEAF,
}


def part_of_plant(word: str) -> Part | None:
    """What a grower's word for the piece means, or None if it is not a known one.

    >>> part_of_plant("single node")
    <Part.LEAF_BUD: 'leaf-bud'>
    """
    return _PART_WORDS.get(_bare(word))


# --- cautions ------------------------------------------------------------------------------------


class Caution(Enum):
    """What is worth a line beside a task; said once, then silent."""

    BLADES = "blades"
    HORMONE = "hormone"
    SAP = "sap"
    HEAT = "heat"


IRRITANT_SAP = frozenset(
    {
        "Euphorbia",  # spurges, poinsettia (eyewire.news)
        "Nerium", "Brugmansia", "Aconitum", "Dieffenbachia", "Ficus", "Ruta",  # from memory
    }
)  # fmt: skip
"""Genera whose sap burns or poisons."""


def cautions(*, hormone: bool, covered: bool, genus: str | None) -> tuple[Caution, ...]:
    """The cautions that belong to taking and sticking, in the order of the work.

    Args:
        hormone: A rooting hormone is used.
        covered: The pieces stand under a closed cover.
        genus: Of the source plant, if known.
    """
    due = [Caution.BLADES]
    if genus is not None and genus.capitalize() in IRRITANT_SAP:
        due.append(Caution.SAP)
    if hormone:
        due.append(Caution.HORMONE)
    if covered:
        due.append(Caution.HEAT)
    return tuple(due)
