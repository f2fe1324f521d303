"""The words by which a typed plant name is read, as tables.

Rank terms, banned words and signs follow the ICN and the ICNCP (9th edition, 2016) as cited at
each table. Word lists without a citation are common practice, no source: they decide only
whether a question is asked, never what a name is.
"""

from __future__ import annotations

import re

from registry.domain.names.parts import Bunch, Qualifier, Status


def _words(text: str) -> frozenset[str]:
    """The words of a table, which is easier to read and to add to without quotes."""
    return frozenset(text.split())


# ICN Art. 24 and H.3.1; the printed forms follow RHS, Recommended style for printing plant
# names (2004): subsp., not ssp., which is too near spp.
RANKS: dict[str, str] = {
    "subsp": "subsp.",
    "ssp": "subsp.",
    "subspecies": "subsp.",
    "convar": "convar.",
    "convariety": "convar.",
    "var": "var.",
    "variety": "var.",
    "varietas": "var.",
    "subvar": "subvar.",
    "f": "f.",
    "fo": "f.",
    "forma": "f.",
    "form": "f.",
    "subf": "subf.",
    "subforma": "subf.",
    "nothosubsp": "nothosubsp.",
    "nothossp": "nothosubsp.",
    "nsubsp": "nothosubsp.",
    "nssp": "nothosubsp.",
    "nothovar": "nothovar.",
    "nvar": "nothovar.",
    "nothof": "nothof.",
    "nothoforma": "nothof.",
}
NOTHO_RANKS = {"subsp.": "nothosubsp.", "var.": "nothovar.", "f.": "nothof."}
OFFERED_RANKS = ("subsp.", "var.", "f.")

CULTIVAR_MARKERS = frozenset({"cv", "cvs", "cultivar"})  # obsolete: ICNCP wants quotes

BUNCHES: dict[str, Bunch] = {
    "group": Bunch.GROUP,
    "gp": Bunch.GROUP,
    "grex": Bunch.GREX,
    "gx": Bunch.GREX,
}

QUALIFIERS: dict[str, Qualifier] = {
    "cf": Qualifier.CF,
    "aff": Qualifier.AFF,
    "?": Qualifier.QUERY,
    "??": Qualifier.QUERY,
}
# Abbreviations that are no authors; f. may be one (filius).
TERMS = (set(RANKS) | CULTIVAR_MARKERS | set(BUNCHES) | set(QUALIFIERS)) - {"f"}
DOUBTS = frozenset({"probably", "prob", "possibly", "perhaps", "maybe"})

SPECIES_STATUS: dict[str, Status] = {
    "sp": Status.ONE_SPECIES,
    "spec": Status.ONE_SPECIES,
    "species": Status.ONE_SPECIES,
    "spp": Status.SEVERAL_SPECIES,
}

# Said of the cultivar, behind a genus or species. Compared in lower case without brackets.
CULTIVAR_UNKNOWN = frozenset(
    {
        "unknown",
        "unnamed",
        "noid",
        "no id",
        "not known",
        "unknown cultivar",
        "unknown cv",
        "unknown variety",
        "unnamed cultivar",
        "cultivar unknown",
        "cultivar not known",
        "cv unknown",
        "cv. unknown",
        "variety unknown",
        "variety not known",
        "unknown cv.",
        "name unknown",
        "name not known",
        "name lost",
        "label lost",
    }
)

# In a wide or narrow sense, sexes, and an award, which is no part of a name.
NOTES = frozenset({"agg.", "s.l.", "s.lat.", "s.str.", "s.s.", "♀", "♂", "AGM"})

MARK = re.compile(r"®|™|©|\((?:R|TM|C)\)")
BRAND_MARKS = frozenset({"®", "™", "(R)", "(TM)"})
RIGHT_NOTES = frozenset({"PBR", "PVR", "PPAF", "EPBR"})

# Small linking words keep their lower case inside an epithet (ICNCP; FAO, rules for Populus
# cultivars, 1995). From memory: the words in each language.
LINKING_WORDS = _words(
    """
    a an and as at by for from in nor of on or the to up with
    à au aux d de des du en et la le les l sur sous
    am an auf aus bei dem den der die das im in und vom von vor zu zum zur
    de den der en het in op te ten ter van voor 't
    al da de degli dei del della delle di do dos das e el il las lo los na no o por y
    af av det ett i og och på til till
    w z do od ze nad pod
    """
)  # English, French, German, Dutch, southern Romance and Japanese, Scandinavian, Polish

# ICNCP, as summarised by the RHS for grex epithets (2017); "variety" from memory.
BANNED_WORDS = _words(
    """
    cultivar form grex group hybrid maintenance mixture selection series sport strain variety
    improved transformed
    """
)
# ICNCP: no superlatives of merit after 1 January 1959. The words: common practice, no source.
SUPERLATIVES = _words(
    """
    best finest greatest largest biggest earliest latest prettiest sweetest perfect
    """
)
# ICNCP: at most 30 characters from 1 January 1996, spaces and quotes not counted.
LONGEST_EPITHET = 30
# ICNCP: apostrophe, comma, full stop, hyphen, / and \, and up to two exclamation marks that
# do not stand side by side.
ALLOWED_SIGNS = frozenset("',.-/\\! ")
NOT_EPITHETS = frozenset(
    {"unknown", "unnamed", "noid", "no id", "not known", "name unknown", "?", "??", "n/a", "none"}
)

# The Madrid Code (2025) respells caffra and kin.
RESPELT: dict[str, str] = {
    "caffra": "afra",
    "caffrum": "afrum",
    "caffer": "afer",
    "caffrorum": "afrorum",
    "caffrarum": "afrarum",
}

# First halves of species epithets of two words, which ICN Art. 23.1 wants joined.
# From memory: the epithets.
FIRST_HALVES = _words(
    """
    barba bursa caput capillus cauda corona crus dens ficus filix flos lacryma lingua nidus noli
    novae novi oculus pes rosa ruta sancti spina uva vitis aqua crista
    """
)

# Epithets that begin with a Greek or other x of their own: no glued hybrid sign.
OWN_X = re.compile(r"x(?:a(?:nth|lap)|e(?:n|r)|i(?:ph|men)|ylo|yri|ys|uth)")

# The letters on which genera and species epithets end; exceptions below. From memory.
WORD_ENDS = frozenset("aeilmnorsux")
LATIN_EPITHET = re.compile(
    r"(?:[ai]|ae|[aeiouy]s|[nprb]s|um|[aoei]n|o|[aeouy]r|x"
    r"|ns[ei]|[aeiu]le|[aeu]re|stre|nne|une|ene|orme|[au]ve|[ei]ste|uce|ume)$"
)
ODD_GENERA = frozenset({"manihot", "lablab", "ceterach", "cajan"})
ODD_EPITHETS = frozenset({"manihot", "bonduc", "moly", "ceterach", "cajan", "exul"})

# Authors who may stand without a full stop; only names that no cultivar is likely to bear.
# From memory: standard forms of authors' names in common use.
AUTHORS = _words(
    """
    Adans Aiton Andersson Aubl Baill Boiss Borkh Broerse Bunge Carrière Cav Danser Decne Delile
    Desf Diels Dippel Dode Engl Engler Fedde Forrest Franch Franchet Gaertn Handel-Mazz Harms
    Hartweg Hayata Hemsl Hiern Hooker Houtt Hutch Iljin Jacq Jungh Kanehira Karst Kellogg Kitam
    Koehne Koch Kunth Kuntze Kurz Lavallée Ledeb Lemaire Lindley Linnaeus Loudon Makino Mattf
    Maxim Medik Michx Miq Moench Muhl Nakai Nutt Ohwi Pampan Parl Planch Poiret Prain Pursh Regel
    Rehder Rothm Roxb Ruprecht Salm-Dyck Schidlay Schltr Schott Schur Siebold Spach Sprague Stapf
    Steud Thunb Torr Turcz Turrill Vahl Vatke Veitch Vilm Wallich Wangenh Zabel Zucc
    """
)
AUTHOR_LINKS = frozenset({"&", "et", "ex", "in", "f.", "fil.", "bis", "non"})
AUTHOR_PARTICLES = frozenset({"de", "van", "von", "der", "den", "ter", "du", "la", "le"})
AUTHOR_MARKS = frozenset({"hort.", "auct."})

# Titles and abbreviations, spelled out for searching; as titles they are no authors.
SPELLED_OUT: dict[str, str] = {
    "mme": "madame",
    "mlle": "mademoiselle",
    "mons": "monsieur",
    "st": "saint",
    "ste": "sainte",
    "dr": "doctor",
    "doct": "doctor",
    "docteur": "doctor",
    "doktor": "doctor",
    "prof": "professor",
    "capt": "captain",
    "col": "colonel",
    "gen": "general",
    "jr": "junior",
    "sr": "senior",
    "mt": "mount",
    "rev": "reverend",
    "sgt": "sergeant",
    "lt": "lieutenant",
}
TITLES = frozenset(SPELLED_OUT) | {"mr", "mrs", "ms", "no", "nr", "hon"}

# A first word from this list, in any case, or a lower-case one further on, is everyday speech:
# the text is words, not a botanical name.
PLAIN_WORDS = _words(
    """
    a an the this that these those some any my mine our ours her hers his their your one
    two three from by near beside behind under over at on off in into with without and or
    of for is was not no maybe bought given found seen
    red blue white pink yellow orange purple brown black green grey gray cream mauve
    lilac-coloured crimson scarlet golden silver gold variegated striped double single
    dark light pale bright hot cold
    big small tall short tiny dwarf giant large little low high old new young early late
    wild weeping climbing creeping trailing hardy tender sweet sour bitter upright bushy
    evergreen common garden flowering scented fragrant edible seedless unknown unnamed
    lost mystery seedling cutting cuttings sport
    gate fence wall hedge shed house cottage porch drive path steps bed border bench tray
    pot pots tub corner side front back left right top bottom north south east west yard
    lawn pond greenhouse polytunnel stall fair market shop nursery church school road
    street lane allotment label tag plant plants tree trees shrub bush bushes vine flower
    flowers leaf leaves berry berries fruit creeper climber neighbour neighbor friend aunt
    aunts uncle mum mother grandma granny grandmother dad
    der die das ein eine mein meine rot rote blau blaue weiss weiß weisse weiße gelb gelbe
    schwarz schwarze rosa-farben vom von unbekannt
    le la les un une mon ma rouge bleu bleue blanc blanche jaune noir noire inconnu inconnue
    el los las rojo roja azul blanco blanca amarillo amarilla desconocido
    het een rood rode wit witte geel gele blauw blauwe onbekend
    """
)

# English names that stand unambiguously for one genus (ICNCP allows them before an epithet).
# From memory.
COMMON_NAMES: dict[str, str] = {
    "apple": "Malus",
    "apricot": "Prunus",
    "ash": "Fraxinus",
    "azalea": "Rhododendron",
    "bamboo": "Phyllostachys",
    "beech": "Fagus",
    "birch": "Betula",
    "blackberry": "Rubus",
    "blackcurrant": "Ribes",
    "blueberry": "Vaccinium",
    "box": "Buxus",
    "boxwood": "Buxus",
    "catmint": "Nepeta",
    "cherry": "Prunus",
    "chestnut": "Castanea",
    "chilli": "Capsicum",
    "chives": "Allium",
    "currant": "Ribes",
    "daffodil": "Narcissus",
    "daylily": "Hemerocallis",
    "dogwood": "Cornus",
    "elder": "Sambucus",
    "elderberry": "Sambucus",
    "elm": "Ulmus",
    "fig": "Ficus",
    "foxglove": "Digitalis",
    "gooseberry": "Ribes",
    "grape": "Vitis",
    "grapevine": "Vitis",
    "hawthorn": "Crataegus",
    "hazel": "Corylus",
    "heather": "Calluna",
    "holly": "Ilex",
    "honeysuckle": "Lonicera",
    "hop": "Humulus",
    "hops": "Humulus",
    "ivy": "Hedera",
    "juniper": "Juniperus",
    "laurel": "Prunus",
    "lavender": "Lavandula",
    "lemon": "Citrus",
    "lilac": "Syringa",
    "lily": "Lilium",
    "lime": "Tilia",
    "maple": "Acer",
    "mint": "Mentha",
    "mulberry": "Morus",
    "oak": "Quercus",
    "olive": "Olea",
    "peach": "Prunus",
    "pear": "Pyrus",
    "peony": "Paeonia",
    "pine": "Pinus",
    "plum": "Prunus",
    "pomegranate": "Punica",
    "poplar": "Populus",
    "poppy": "Papaver",
    "potato": "Solanum",
    "primrose": "Primula",
    "privet": "Ligustrum",
    "quince": "Cydonia",
    "raspberry": "Rubus",
    "redcurrant": "Ribes",
    "rhubarb": "Rheum",
    "rose": "Rosa",
    "rosemary": "Salvia",
    "rowan": "Sorbus",
    "sage": "Salvia",
    "snowdrop": "Galanthus",
    "spruce": "Picea",
    "stonecrop": "Sedum",
    "strawberry": "Fragaria",
    "tarragon": "Artemisia",
    "thyme": "Thymus",
    "tomato": "Solanum",
    "tulip": "Tulipa",
    "walnut": "Juglans",
    "willow": "Salix",
    "yarrow": "Achillea",
    "yew": "Taxus",
}

# Said instead of any name at all.
NAME_UNKNOWN = frozenset(
    (
        "unknown",
        "noid",
        "no id",
        "no name",
        "nameless",
        "not known",
        "name unknown",
        "name not known",
        "name lost",
        "label lost",
        "lost label",
        "label gone",
        "unnamed",
        "unidentified",
        "mystery",
        "mystery plant",
        "unknown plant",
        "unbekannt",
        "inconnu",
        "desconocido",
        "onbekend",
    )
)

# Grounds with one of these verify nothing: what has not been done, or is somebody else's word.
# Common practice, no source. As `keys.search_keys` has them, without apostrophes.
DENIALS = _words(
    """
    not never no none nobody nothing neither nor without cannot cant untested unseen unflowered
    hasnt hadnt havent didnt doesnt dont isnt wasnt werent wont couldnt
    yet until till before await awaits awaiting wait waits waiting pending due
    will would shall should could might must if when once next soon later plan planned want
    needs need needed try
    says said say told tells claims claimed according hearsay word heard
    label labels tag picture pictures catalogue catalog advert shop stall market
    """
)
