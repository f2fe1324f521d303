"""A name as the terms of Darwin Core (TDWG, list of terms)."""

from __future__ import annotations

from registry.domain.names.parts import Bunch, Hybrid, Level, ParsedName, Qualifier
from registry.domain.names.printing import plain

_RANK_NAMES = {
    "subsp.": "subspecies",
    "convar.": "convariety",
    "var.": "variety",
    "subvar.": "subvariety",
    "f.": "form",
    "subf.": "subform",
    "nothosubsp.": "nothosubspecies",
    "nothovar.": "nothovariety",
    "nothof.": "nothoform",
}


def darwin_core(name: ParsedName) -> dict[str, str]:
    """The Darwin Core terms that `name` fills; those it leaves empty are left out.

    `cultivarEpithet` holds a Group's or grex's epithet where no cultivar is named, and
    `taxonRank` says which it is. A formula fills `scientificName` and `genus` only.
    """
    terms = {
        "scientificName": plain(name),
        "genus": name.genus,
    }
    if not name.is_formula:
        terms |= {
            "specificEpithet": name.species,
            "infraspecificEpithet": name.infraspecific,
            "cultivarEpithet": name.cultivar or name.bunch_epithet,
            "taxonRank": taxon_rank(name),
            "verbatimTaxonRank": name.rank,
            "scientificNameAuthorship": name.aside.authors[-1] if name.aside.authors else "",
            "identificationQualifier": _qualifier(name),
        }
    return {term: value for term, value in terms.items() if value}


def taxon_rank(name: ParsedName) -> str:
    """The rank of the most specific epithet, in Darwin Core's words."""
    if name.cultivar:
        return "cultivar"
    if name.bunch is not Bunch.NONE:
        return "grex" if name.bunch is Bunch.GREX else "cultivar group"
    if name.rank:
        return _RANK_NAMES[name.rank]
    if name.species:
        return "nothospecies" if name.hybrid is Hybrid.SPECIES else "species"
    return "nothogenus" if name.hybrid is Hybrid.GENUS else "genus"


def _qualifier(name: ParsedName) -> str:
    """The qualifier with what it stands before: ``aff. agrifolia var. oxyadenia``."""
    if name.qualifier is Qualifier.NONE:
        return ""
    if name.qualifier is Qualifier.QUERY:
        return "?"
    below = f"{name.rank} {name.infraspecific}".strip()
    sign = "×" if name.hybrid is Hybrid.SPECIES else ""
    told = {
        Level.GENUS: f"{name.genus} {sign}{name.species} {below}",
        Level.SPECIES: f"{sign}{name.species} {below}",
        Level.INFRASPECIFIC: below,
    }[name.qualifies]
    return " ".join(f"{name.qualifier.value} {told}".split())
