"""Plant names as typed, against published examples.

The letter at the end of each row names its source:

C  the ICNCP explained: cross-krishna.blogspot.com 2007/12; hortax.org.uk, plant names in print;
   practicalplants and omicsgroup on cultivar-groups; Spencer et al., Plant Names; treeterms.co.uk
D  TDWG, Darwin Core list of terms (versions of 2026-05-26)
F  FAO forestry, rules for Populus cultivars (after the code of 1995)
G  test data of gnames/gnparser and of gbif/name-parser
I  iapt-taxon.org, Shenzhen Code Art. 23, 24, 46, 60, H.2; Tokyo Code Art. H.3 (bgbm)
M  iaptglobal.org, Madrid Code
O  RHS summary of the ICNCP's rules for grex epithets, 2017
P2 Plant naming, from the ICNCP, 9th edition
R  RHS, Recommended style for printing plant names, January 2004
T  trade names: markwatchplants.com; perennialandnurserynews 2009; treeterms; robinswrite
X  CRAN, taxify vignette
m  from memory

Trade designations, the epithets beside them and patent numbers are made up in the published
shapes: no brand of a real firm stands here. Outcomes: A accepted, N normalised, Q asked.
"""

import re
import unicodedata
from typing import NamedTuple

import pytest

from registry.domain.names import (
    WARNINGS,
    Hybrid,
    Join,
    Outcome,
    ParsedName,
    Style,
    as_received,
    darwin_core,
    denomination_key,
    genus_key,
    html,
    is_name_unknown,
    matching_key,
    near,
    parse_name,
    plain,
    read_name,
    received,
    runs,
    search_keys,
    species_key,
    taxa,
    trade_key,
)
from registry.errors import BadName, NameReason
from registry.wording.names import notice, question, sentence
from registry.wording.problems import problem


class Row(NamedTuple):
    """One published name; what is left out is empty. Italics of `printed` stand in asterisks."""

    number: int
    typed: str
    genus: str
    outcome: str
    printed: str
    source: str
    hybrid: str = ""
    species: str = ""
    ranked: str = ""
    bunch: str = ""
    cultivar: str = ""
    trade: str = ""
    second: str = ""
    authors: tuple[str, ...] = ()
    cultivar_author: str = ""
    marks: tuple[str, ...] = ()
    patents: tuple[str, ...] = ()
    qualifier: str = ""
    status: str = ""


READ = [
    Row(1, "quercus robur", "Quercus", "N", "*Quercus robur*", "C", species="robur"),
    Row(
        2,
        "QUERCUS ROBUR L.",
        "Quercus",
        "N",
        "*Quercus robur*",
        "m",
        species="robur",
        authors=("L.",),
    ),
    Row(3, " Fagus   sylvatica ", "Fagus", "N", "*Fagus sylvatica*", "I", species="sylvatica"),
    Row(
        4,
        "Adiantum capillus-veneris",
        "Adiantum",
        "A",
        "*Adiantum capillus-veneris*",
        "I",
        species="capillus-veneris",
    ),
    Row(
        5,
        "Brassica nigra (L.) W. D. J. Koch",
        "Brassica",
        "A",
        "*Brassica nigra*",
        "I",
        species="nigra",
        authors=("(L.) W. D. J. Koch",),
    ),
    Row(6, "Rosa xanthina", "Rosa", "A", "*Rosa xanthina*", "m", species="xanthina"),
    Row(
        7,
        "Xanthoceras sorbifolium",
        "Xanthoceras",
        "A",
        "*Xanthoceras sorbifolium*",
        "m",
        species="sorbifolium",
    ),
    Row(
        8,
        "Primula vulgaris ssp. sibthorpii",
        "Primula",
        "N",
        "*Primula vulgaris* subsp. *sibthorpii*",
        "R",
        species="vulgaris",
        ranked="subsp. sibthorpii",
    ),
    Row(
        9,
        "Primula vulgaris subsp sibthorpii (Hoffmanns.) W.W.Sm. & Forrest",
        "Primula",
        "N",
        "*Primula vulgaris* subsp. *sibthorpii*",
        "R,m",
        species="vulgaris",
        ranked="subsp. sibthorpii",
        authors=("(Hoffmanns.) W.W.Sm. & Forrest",),
    ),
    Row(
        10,
        "Sarcococca hookeriana var digyna",
        "Sarcococca",
        "N",
        "*Sarcococca hookeriana* var. *digyna*",
        "R",
        species="hookeriana",
        ranked="var. digyna",
    ),
    Row(
        11,
        "Pimelea prostrata forma parvifolia",
        "Pimelea",
        "N",
        "*Pimelea prostrata* f. *parvifolia*",
        "R",
        species="prostrata",
        ranked="f. parvifolia",
    ),
    Row(
        12,
        "Euphorbia characias subsp. wulfenii",
        "Euphorbia",
        "A",
        "*Euphorbia characias* subsp. *wulfenii*",
        "C",
        species="characias",
        ranked="subsp. wulfenii",
    ),
    Row(
        13,
        "Rosa gallica L. var. gallica",
        "Rosa",
        "A",
        "*Rosa gallica* var. *gallica*",
        "I",
        species="gallica",
        ranked="var. gallica",
        authors=("L.",),
    ),
    Row(
        14,
        "Rosa gallica var. versicolor L.",
        "Rosa",
        "A",
        "*Rosa gallica* var. *versicolor*",
        "I",
        species="gallica",
        ranked="var. versicolor",
        authors=("L.",),
    ),
    Row(
        15,
        "Saxifraga aizoon subf. surculosa Engl. & Irmsch.",
        "Saxifraga",
        "A",
        "*Saxifraga aizoon* subf. *surculosa*",
        "I",
        species="aizoon",
        ranked="subf. surculosa",
        authors=("Engl. & Irmsch.",),
    ),
    Row(
        16,
        "Mentha x piperita",
        "Mentha",
        "N",
        "*Mentha* ×*piperita*",
        "X",
        hybrid="sp",
        species="piperita",
    ),
    Row(
        17,
        "Aesculus X carnea 'Briotii'",
        "Aesculus",
        "N",
        "*Aesculus* ×*carnea* ‘Briotii’",
        "m",
        hybrid="sp",
        species="carnea",
        cultivar="Briotii",
    ),
    Row(
        18,
        "Camellia xwilliamsii 'Donation'",
        "Camellia",
        "Q",
        "*Camellia* ×*williamsii* ‘Donation’",
        "m",
        hybrid="sp",
        species="williamsii",
        cultivar="Donation",
    ),
    Row(
        19,
        "Photinia x fraseri 'red robin'",
        "Photinia",
        "N",
        "*Photinia* ×*fraseri* ‘Red Robin’",
        "m",
        hybrid="sp",
        species="fraseri",
        cultivar="Red Robin",
    ),
    Row(
        20,
        "Abelia × grandiflora ‘Kaleidoscope’",
        "Abelia",
        "N",
        "*Abelia* ×*grandiflora* ‘Kaleidoscope’",
        "m",
        hybrid="sp",
        species="grandiflora",
        cultivar="Kaleidoscope",
    ),
    Row(
        21,
        "Magnolia x soulangeana Soul.-Bod. 'Rustica Rubra'",
        "Magnolia",
        "N",
        "*Magnolia* ×*soulangeana* ‘Rustica Rubra’",
        "m",
        hybrid="sp",
        species="soulangeana",
        cultivar="Rustica Rubra",
        authors=("Soul.-Bod.",),
    ),
    Row(
        22,
        "Salix ×capreola Andersson",
        "Salix",
        "A",
        "*Salix* ×*capreola*",
        "I",
        hybrid="sp",
        species="capreola",
        authors=("Andersson",),
    ),
    Row(
        23,
        "Erica x darleyensis f. albiflora 'White Glow'",
        "Erica",
        "N",
        "*Erica* ×*darleyensis* f. *albiflora* ‘White Glow’",
        "m",
        hybrid="sp",
        species="darleyensis",
        ranked="f. albiflora",
        cultivar="White Glow",
    ),
    Row(
        24,
        "xCuprocyparis leylandii 'Castlewellan'",
        "Cuprocyparis",
        "N",
        "×*Cuprocyparis leylandii* ‘Castlewellan’",
        "C,m",
        hybrid="gen",
        species="leylandii",
        cultivar="Castlewellan",
    ),
    Row(
        25,
        "x Heucherella tiarelloides",
        "Heucherella",
        "N",
        "×*Heucherella tiarelloides*",
        "G",
        hybrid="gen",
        species="tiarelloides",
    ),
    Row(
        26,
        "X Fatshedera lizei",
        "Fatshedera",
        "N",
        "×*Fatshedera lizei*",
        "m",
        hybrid="gen",
        species="lizei",
    ),
    Row(
        27,
        "×Agropogon littoralis (Sm.) C. E. Hubb.",
        "Agropogon",
        "A",
        "×*Agropogon littoralis*",
        "I,D",
        hybrid="gen",
        species="littoralis",
        authors=("(Sm.) C. E. Hubb.",),
    ),
    Row(
        28,
        "Polypodium vulgare nothosubsp. mantoniae",
        "Polypodium",
        "A",
        "*Polypodium vulgare* nothosubsp. *mantoniae*",
        "I",
        species="vulgare",
        ranked="nothosubsp. mantoniae",
    ),
    Row(
        29,
        "Salix aurita x S. caprea",
        "Salix",
        "N",
        "*Salix aurita* × *S. caprea*",
        "I",
        hybrid="formula",
        species="aurita",
        second="Salix caprea",
    ),
    Row(
        30,
        "Agrostis stolonifera L. × Polypogon monspeliensis (L.) Desf.",
        "Agrostis",
        "A",
        "*Agrostis stolonifera* × *Polypogon monspeliensis*",
        "I",
        hybrid="formula",
        species="stolonifera",
        second="Polypogon monspeliensis",
        authors=("L.", "(L.) Desf."),
    ),
    Row(
        31,
        "Sarracenia alata 'Black Tube' x Sarracenia leucophylla",
        "Sarracenia",
        "N",
        "*Sarracenia alata* ‘Black Tube’ × *S. leucophylla*",
        "G",
        hybrid="formula",
        species="alata",
        cultivar="Black Tube",
        second="Sarracenia leucophylla",
    ),
    Row(
        32,
        "+ Laburnocytisus 'Adamii'",
        "Laburnocytisus",
        "N",
        "+*Laburnocytisus* ‘Adamii’",
        "C",
        hybrid="graft",
        cultivar="Adamii",
    ),
    Row(
        33,
        "+Crataegomespilus 'Jules d'Asnières'",
        "Crataegomespilus",
        "A",
        "+*Crataegomespilus* ‘Jules d’Asnières’",
        "C",
        hybrid="graft",
        cultivar="Jules d'Asnières",
    ),
    Row(
        34,
        "Cytisus purpureus + Laburnum anagyroides",
        "Cytisus",
        "A",
        "*Cytisus purpureus* + *Laburnum anagyroides*",
        "G",
        hybrid="graft-formula",
        species="purpureus",
        second="Laburnum anagyroides",
    ),
    Row(
        35,
        "Syringa 'Correlata'",
        "Syringa",
        "A",
        "*Syringa* ‘Correlata’",
        "C",
        cultivar="Correlata",
    ),
    Row(
        36,
        'Cryptomeria japonica "Elegans"',
        "Cryptomeria",
        "N",
        "*Cryptomeria japonica* ‘Elegans’",
        "C",
        species="japonica",
        cultivar="Elegans",
    ),
    Row(
        37,
        "Berberis thunbergii cv. 'Crimson Pygmy'",
        "Berberis",
        "N",
        "*Berberis thunbergii* ‘Crimson Pygmy’",
        "C",
        species="thunbergii",
        cultivar="Crimson Pygmy",
    ),
    Row(
        38,
        "Rhododendron cv. Cilpinense",
        "Rhododendron",
        "N",
        "*Rhododendron* ‘Cilpinense’",
        "G",
        cultivar="Cilpinense",
    ),
    Row(
        39,
        "Sarracenia `Vintner's Treasure`",
        "Sarracenia",
        "N",
        "*Sarracenia* ‘Vintner’s Treasure’",
        "G",
        cultivar="Vintner's Treasure",
    ),
    Row(
        40,
        "Anthurium 'ace of spades'",
        "Anthurium",
        "N",
        "*Anthurium* ‘Ace of Spades’",
        "G",
        cultivar="Ace of Spades",
    ),
    Row(
        41,
        "Hylotelephium ’Herbstfreude’",
        "Hylotelephium",
        "N",
        "*Hylotelephium* ‘Herbstfreude’",
        "m",
        cultivar="Herbstfreude",
    ),
    Row(
        42,
        unicodedata.normalize("NFD", "Rosa 'Madame Alfred Carrière'"),
        "Rosa",
        "N",
        "*Rosa* ‘Madame Alfred Carrière’",
        "m",
        cultivar="Madame Alfred Carrière",
    ),
    Row(
        43,
        "Camellia 'Shojo-no-mai'",
        "Camellia",
        "A",
        "*Camellia* ‘Shojo-no-mai’",
        "C",
        cultivar="Shojo-no-mai",
    ),
    Row(44, "Populus 'I-214'", "Populus", "A", "*Populus* ‘I-214’", "F", cultivar="I-214"),
    Row(
        45,
        "Solanum tuberosum 'King Edward'",
        "Solanum",
        "A",
        "*Solanum tuberosum* ‘King Edward’",
        "D",
        species="tuberosum",
        cultivar="King Edward",
    ),
    Row(
        46,
        "Acer palmatum var. dissectum 'Crimson Queen'",
        "Acer",
        "A",
        "*Acer palmatum* var. *dissectum* ‘Crimson Queen’",
        "m",
        species="palmatum",
        ranked="var. dissectum",
        cultivar="Crimson Queen",
    ),
    Row(
        47,
        "Berberis thunbergii f. atropurpurea 'Rose Glow'",
        "Berberis",
        "A",
        "*Berberis thunbergii* f. *atropurpurea* ‘Rose Glow’",
        "m",
        species="thunbergii",
        ranked="f. atropurpurea",
        cultivar="Rose Glow",
    ),
    Row(
        48,
        "Ginkgo biloba L. 'Autumn Gold'",
        "Ginkgo",
        "A",
        "*Ginkgo biloba* ‘Autumn Gold’",
        "m",
        species="biloba",
        cultivar="Autumn Gold",
        authors=("L.",),
    ),
    Row(
        49,
        "Acer campestre L. 'Elsrijk' Broerse",
        "Acer",
        "A",
        "*Acer campestre* ‘Elsrijk’",
        "G",
        species="campestre",
        cultivar="Elsrijk",
        authors=("L.",),
        cultivar_author="Broerse",
    ),
    Row(
        50,
        "Spathiphyllum Schott “Mauna Loa”",
        "Spathiphyllum",
        "N",
        "*Spathiphyllum* ‘Mauna Loa’",
        "G",
        cultivar="Mauna Loa",
        authors=("Schott",),
    ),
    Row(
        51,
        "Hydrangea paniculata Limelight",
        "Hydrangea",
        "Q",
        "*Hydrangea paniculata* ‘Limelight’",
        "m",
        species="paniculata",
        cultivar="Limelight",
    ),
    Row(
        52,
        "Brassica oleracea Capitata Group",
        "Brassica",
        "A",
        "*Brassica oleracea* Capitata Group",
        "C",
        species="oleracea",
        bunch="Capitata Group",
    ),
    Row(
        53,
        "Brassica oleracea capitata group",
        "Brassica",
        "N",
        "*Brassica oleracea* Capitata Group",
        "C",
        species="oleracea",
        bunch="Capitata Group",
    ),
    Row(
        54,
        "Brassica oleracea (Capitata Gp) 'January King'",
        "Brassica",
        "N",
        "*Brassica oleracea* (Capitata Group) ‘January King’",
        "m",
        species="oleracea",
        bunch="Capitata Group",
        cultivar="January King",
    ),
    Row(
        55,
        "Fagus sylvatica 'Riversii' (Atropunicea Group)",
        "Fagus",
        "N",
        "*Fagus sylvatica* (Atropunicea Group) ‘Riversii’",
        "C",
        species="sylvatica",
        bunch="Atropunicea Group",
        cultivar="Riversii",
    ),
    Row(
        56,
        "Rhododendron boothii Mishmiense Group",
        "Rhododendron",
        "A",
        "*Rhododendron boothii* Mishmiense Group",
        "D",
        species="boothii",
        bunch="Mishmiense Group",
    ),
    Row(
        57,
        "Solanum tuberosum (Maincrop Group) 'Desiree'",
        "Solanum",
        "A",
        "*Solanum tuberosum* (Maincrop Group) ‘Desiree’",
        "C",
        species="tuberosum",
        bunch="Maincrop Group",
        cultivar="Desiree",
    ),
    Row(
        58,
        "Hosta fortunei group",
        "Hosta",
        "Q",
        "*Hosta* Fortunei Group",
        "C",
        bunch="Fortunei Group",
    ),
    Row(
        59,
        "Paphiopedilum Atlantis grex",
        "Paphiopedilum",
        "N",
        "*Paphiopedilum* Atlantis gx",
        "D",
        bunch="Atlantis gx",
    ),
    Row(
        60,
        "Pleione Shantung gx 'Muriel Harberd'",
        "Pleione",
        "A",
        "*Pleione* Shantung gx ‘Muriel Harberd’",
        "m",
        bunch="Shantung gx",
        cultivar="Muriel Harberd",
    ),
    Row(
        61,
        "Rosa OXBOW LIGHT ('Oxbril')",
        "Rosa",
        "N",
        "*Rosa* ‘Oxbril’ OXBOW LIGHT",
        "T",
        cultivar="Oxbril",
        trade="OXBOW LIGHT",
    ),
    Row(
        62,
        "Rosa Marlow Fen = 'Marlofen'",
        "Rosa",
        "N",
        "*Rosa* ‘Marlofen’ MARLOW FEN",
        "T",
        cultivar="Marlofen",
        trade="MARLOW FEN",
    ),
    Row(
        63,
        "Rosa 'Hedlon' Long Hedge®",
        "Rosa",
        "N",
        "*Rosa* ‘Hedlon’ LONG HEDGE",
        "T",
        cultivar="Hedlon",
        trade="LONG HEDGE",
        marks=("®",),
    ),
    Row(
        64,
        "Acer rubrum 'Tarn Jr.' PP99001 Tarnspire®",
        "Acer",
        "N",
        "*Acer rubrum* ‘Tarn Jr.’ TARNSPIRE",
        "T",
        species="rubrum",
        cultivar="Tarn Jr.",
        trade="TARNSPIRE",
        marks=("®",),
        patents=("PP99001",),
    ),
    Row(
        65,
        "Hydrangea macrophylla ‘Skerwyn’ Skerry Blue(R) The Original",
        "Hydrangea",
        "N",
        "*Hydrangea macrophylla* ‘Skerwyn’ SKERRY BLUE THE ORIGINAL",
        "T",
        species="macrophylla",
        cultivar="Skerwyn",
        trade="SKERRY BLUE THE ORIGINAL",
        marks=("(R)",),
    ),
    Row(
        66,
        "Salvia nemorosa 'Fennarc' PP99,002 LITTLE FEN™",
        "Salvia",
        "N",
        "*Salvia nemorosa* ‘Fennarc’ LITTLE FEN",
        "T",
        species="nemorosa",
        cultivar="Fennarc",
        trade="LITTLE FEN",
        marks=("™",),
        patents=("PP99002",),
    ),
    Row(
        67,
        "Syringa vulgaris LUDWIG SPAETH ('Andenken an Ludwig Späth')",
        "Syringa",
        "N",
        "*Syringa vulgaris* ‘Andenken an Ludwig Späth’ LUDWIG SPAETH",
        "T",
        species="vulgaris",
        cultivar="Andenken an Ludwig Späth",
        trade="LUDWIG SPAETH",
    ),
    Row(
        68,
        "Malus domestica 'Cripps Pink' ROSE FEN",
        "Malus",
        "A",
        "*Malus domestica* ‘Cripps Pink’ ROSE FEN",
        "T",
        species="domestica",
        cultivar="Cripps Pink",
        trade="ROSE FEN",
    ),
    Row(
        69,
        "Choisya ternata Fengold ('Fengol') (PBR)",
        "Choisya",
        "N",
        "*Choisya ternata* ‘Fengol’ FENGOLD",
        "m",
        species="ternata",
        cultivar="Fengol",
        trade="FENGOLD",
        marks=("PBR",),
    ),
    Row(70, "Salvia species", "Salvia", "N", "*Salvia* sp.", "C", status="sp."),
    Row(
        71,
        "Quercus cf robur",
        "Quercus",
        "N",
        "*Quercus* cf. *robur*",
        "m",
        species="robur",
        qualifier="cf.",
    ),
    Row(
        72,
        "Quercus aff. agrifolia var. oxyadenia",
        "Quercus",
        "A",
        "*Quercus* aff. *agrifolia* var. *oxyadenia*",
        "D",
        species="agrifolia",
        ranked="var. oxyadenia",
        qualifier="aff.",
    ),
    Row(
        73,
        "Aesculus cf. × hybrida",
        "Aesculus",
        "N",
        "*Aesculus* cf. ×*hybrida*",
        "G",
        hybrid="sp",
        species="hybrida",
        qualifier="cf.",
    ),
    Row(
        74,
        "Hosta (unknown cultivar)",
        "Hosta",
        "N",
        "*Hosta* (cultivar not known)",
        "m",
        status="(cultivar not known)",
    ),
    Row(
        75,
        "Harpephyllum caffrum",
        "Harpephyllum",
        "Q",
        "*Harpephyllum afrum*",
        "M",
        species="caffrum",
    ),
]
by_number = pytest.mark.parametrize("row", READ, ids=lambda row: f"{row.number}-{row.typed}")

OUTCOMES = {"A": Outcome.ACCEPTED, "N": Outcome.NORMALISED, "Q": Outcome.ASK}
SIGNS = {
    Hybrid.NONE: "",
    Hybrid.SPECIES: "sp",
    Hybrid.GENUS: "gen",
    Hybrid.GRAFT: "graft",
}
JOINS = {Join.CROSS: "formula", Join.GRAFT: "graft-formula"}


def name_of(text: str) -> ParsedName:
    name = parse_name(text).name
    assert name is not None
    return name


@by_number
def test_the_parts_are_those_of_the_published_name(row):
    name = name_of(row.typed)
    assert name.genus == row.genus
    assert JOINS.get(name.join, SIGNS[name.hybrid]) == row.hybrid
    assert name.species == row.species
    assert f"{name.rank} {name.infraspecific}".strip() == row.ranked
    assert f"{name.bunch_epithet} {name.bunch.value}".strip() == row.bunch
    assert (name.cultivar, name.trade) == (row.cultivar, row.trade)


@by_number
def test_what_is_no_part_of_the_name_is_set_aside(row):
    name = name_of(row.typed)
    parents = taxa(name)
    assert sum((parent.aside.authors for parent in parents), ()) == row.authors
    assert name.aside.cultivar_author == row.cultivar_author
    assert name.aside.marks == row.marks
    assert name.aside.patents == row.patents
    assert (name.qualifier.value, name.status.value) == (row.qualifier, row.status)
    assert [f"{p.genus} {p.species}" for p in parents[1:]] == ([row.second] if row.second else [])


@by_number
def test_the_outcome_says_whether_anything_was_changed(row):
    assert parse_name(row.typed).outcome is OUTCOMES[row.outcome]


@by_number
def test_the_printed_form_is_the_published_one(row):
    """For a name that is asked about, the first offer is."""
    reading = parse_name(row.typed)
    if row.outcome == "Q":
        assert reading.offers[0] == row.printed.replace("*", "")
        return
    name = name_of(row.typed)
    assert plain(name) == row.printed.replace("*", "")
    expected = re.sub(r"\*(.*?)\*", r"<i>\1</i>", row.printed)
    shown = re.sub(r'<span class="small-caps">(.*?)</span>', r"\1", html(name))
    assert shown == expected


@by_number
def test_every_offer_reads_without_a_question(row):
    for offer in parse_name(row.typed).offers:
        assert parse_name(offer).outcome in (Outcome.ACCEPTED, Outcome.NORMALISED), offer


# --- refused (X), asked about (F), flagged only (W) --------------------------------------------

HELD_UP = [
    (1, "", "X", NameReason.EMPTY, ()),
    (1, "   ", "X", NameReason.EMPTY, ()),
    (2, "Quercus robur x", "X", NameReason.SIGN_LAST, ()),
    (3, "× 'Donation'", "X", NameReason.SIGN_WITHOUT_NAME, ()),
    (
        4,
        "Salix aurita x caprea",  # I, Art. H.2 Ex. 2
        "F",
        NameReason.SECOND_PARENT_WITHOUT_GENUS,
        ("Salix aurita × S. caprea",),
    ),
    (5, "Linaria linaria", "F", NameReason.TAUTONYM, ("Linaria sp.",)),  # I, Art. 23.4
    (
        6,
        "Adiantum capillus veneris",  # I, Art. 23.1
        "F",
        NameReason.UNJOINED,
        ("Adiantum capillus-veneris",),
    ),
    (
        7,
        "Hydrangea paniculata 'Limelight",
        "X",
        NameReason.QUOTE_OPEN,
        ("Hydrangea paniculata ‘Limelight’", "Hydrangea paniculata LIMELIGHT"),
    ),
    (
        8,
        "Rosa 'Oxbril' 'Oxbow Light'",
        "F",
        NameReason.TWO_QUOTED,
        ("Rosa ‘Oxbril’ OXBOW LIGHT", "Rosa ‘Oxbow Light’ OXBRIL"),
    ),
    (9, "Rosa 'Oxbow Light®'", "F", NameReason.MARK_IN_QUOTES, ("Rosa OXBOW LIGHT",)),
    (
        10,
        "Acer palmatum var. 'Bloodgood'",
        "F",
        NameReason.RANK_BEFORE_CULTIVAR,
        ("Acer palmatum ‘Bloodgood’",),
    ),
    (11, "Quercus robur var.", "X", NameReason.RANK_LAST, ()),
    (
        12,
        "Malva sylvestris mauritanica",  # I, Art. 24.1
        "F",
        NameReason.NO_RANK,
        (
            "Malva sylvestris subsp. mauritanica",
            "Malva sylvestris var. mauritanica",
            "Malva sylvestris f. mauritanica",
            "Malva sylvestris ‘Mauritanica’",
        ),
    ),
    (
        13,
        "Pleione Fujiyama 'Teal'",
        "F",
        NameReason.UNMARKED_BEFORE_CULTIVAR,
        (
            "Pleione Fujiyama gx ‘Teal’",
            "Pleione (Fujiyama Group) ‘Teal’",
            "Pleione ‘Teal’ FUJIYAMA",
        ),
    ),
    (14, "Brassica oleracea Group", "X", NameReason.GROUP_WITHOUT_EPITHET, ()),
    (
        15,
        "+Laburnocytisus adamii",  # C
        "F",
        NameReason.CHIMAERA_SPECIES,
        ("+Laburnocytisus ‘Adamii’",),
    ),
    (16, "P. vulgaris", "X", NameReason.GENUS_INITIAL, ()),
    (
        17,
        "Heuchera 'Unknown'",
        "F",
        NameReason.NOT_AN_EPITHET,
        ("Heuchera (cultivar not known)",),
    ),
    (
        18,
        "apple 'Cripps Pink' ROSE FEN",  # C
        "F",
        NameReason.COMMON_NAME,
        ("Malus ‘Cripps Pink’ ROSE FEN",),
    ),
    (19, "Rosa 'R'", "F", NameReason.ONE_LETTER, ()),  # P2, O
    (19, "Rosa '1234'", "F", NameReason.ONLY_NUMERALS, ()),  # P2, O
    (20, "Dahlia 'Red Hybrid'", "W", NameReason.BANNED_WORD, ()),  # O
    (
        21,
        "Rosa 'Souvenir du Docteur Albert Jamain Rouge'",  # P2, O
        "W",
        NameReason.TOO_LONG,
        (),
    ),
    (22, "Pinus 'Best of All'", "W", NameReason.SUPERLATIVE, ()),  # P2
    (22, "Hosta 'Hosta Queen'", "W", NameReason.REPEATS_GENUS, ()),  # P2
    (23, "\N{CYRILLIC CAPITAL LETTER A}cer palmatum", "X", NameReason.MIXED_SCRIPTS, ()),
    (24, "Rosa\t=1+1", "X", NameReason.CONTROL, ()),
    (24, "<b>Rosa</b>", "X", NameReason.MARKUP, ()),
    (
        25,
        "Quercus robur 'Fastigiata' var. alba",
        "F",
        NameReason.RANK_AFTER_CULTIVAR,
        ("Quercus robur var. alba ‘Fastigiata’", "Quercus robur ‘Fastigiata’"),
    ),
]
HELD_UP_OUTCOMES = {
    "X": Outcome.REFUSED,
    "F": Outcome.ASK,
    "W": Outcome.ACCEPTED,  # older epithets are exempt: said, not asked
}


@pytest.mark.parametrize(("number", "typed", "outcome", "reason", "offers"), HELD_UP)
def test_a_name_against_the_codes_is_refused_asked_or_flagged(
    number, typed, outcome, reason, offers
):
    reading = parse_name(typed)
    assert reading.outcome is HELD_UP_OUTCOMES[outcome], number
    assert [remark.reason for remark in reading.remarks] == [reason]
    assert reading.offers == offers
    assert (reason in WARNINGS) is (outcome == "W")


@pytest.mark.parametrize("typed", [row[1] for row in HELD_UP if row[2] == "F"])
def test_what_is_offered_instead_reads_without_a_question(typed):
    for offer in parse_name(typed).offers:
        assert parse_name(offer).outcome in (Outcome.ACCEPTED, Outcome.NORMALISED), offer


@pytest.mark.parametrize("typed", [row[1] for row in HELD_UP if row[2] == "X"])
def test_reading_for_storage_raises_only_for_refused_names(typed):
    with pytest.raises(BadName) as caught:
        read_name(typed)
    assert caught.value.typed == typed


def test_reading_for_storage_lets_words_and_questions_through():
    assert read_name("blue hydrangea by her fence").outcome is Outcome.WORDS
    assert read_name("Hydrangea paniculata Limelight").outcome is Outcome.ASK


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Linaria linaria", "Linaria linaria"),
        ("Rosa 'R'", "Rosa ‘R’"),
        ("Harpephyllum caffrum", "Harpephyllum caffrum"),
        ("Camellia xwilliamsii 'Donation'", "Camellia ×williamsii ‘Donation’"),
        ("Malva sylvestris mauritanica", None),  # without a rank it is no name
        ("Rosa 'Oxbril' 'Oxbow Light'", None),
    ],
)
def test_a_question_says_what_would_be_kept_if_nothing_is_answered(typed, kept):
    reading = parse_name(typed)
    assert reading.outcome is Outcome.ASK
    assert (reading.name and plain(reading.name)) == kept


# --- words -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "typed",
    [
        "red hydrangea, side gate",
        "blue hydrangea by her fence",
        "Fig, brown, S wall - from Aunt's old tree",
        "white",
        "white?",
        "Red hydrangea",
        "thyme, lemon",
        "rosemary, upright",
        "salvia hot coral?? (pot)",
        "weeping willow",
        "Weeping Willow",
        "gardeners' garters",
        "Hydrangea by the gate",
        "Winter Green / M9 interstem / seedling",
        "Early Red onto old tree in corner",
        "Johannisbeere schwarz",
        "old rose x",
        "lavender x sage",
        "=1+1",
        "()",
        "(Rosa",
        "''",
        "?",
        "バラ",
        "Роза",
        "Acer palmatum 紅葉",
        "ورد\u200c",  # a joiner that Arabic spelling needs
        "a" * 400,
        "Rosa " + "'" * 300,
    ],
)
def test_words_are_kept_as_received_and_never_refused(typed):
    reading = parse_name(typed)
    assert reading.outcome is Outcome.WORDS
    assert reading.name is None
    assert reading.typed == typed
    assert reading.is_name_unknown


@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        ("Lavender", ("Lavandula",)),
        ("fig", ("Ficus",)),
        ("Salvia 'Hotcoral' front gate", ("Salvia ‘Hotcoral’",)),
        ('Salvia "Hot Coral" - steps bed - plant fair stall', ("Salvia ‘Hot Coral’",)),
        ("Prunus 'Kanzan' (syn. 'Sekiyama')", ("Prunus ‘Kanzan’",)),
        ("Acer palmatum'Osakazuki'", ("Acer palmatum ‘Osakazuki’",)),  # no space before it
        ("Rosa“Peace”", ("Rosa ‘Peace’",)),
        ("rosa mme alfred carrière", ("Rosa ‘Mme Alfred Carrière’",)),
        ("ROSA MME ALFRED CARRIÈRE", ("Rosa ‘Mme Alfred Carrière’",)),
        ("rosa souvenir de la malmaison", ("Rosa ‘Souvenir de la Malmaison’",)),
        ("rose mme alfred carrière", ("Rosa ‘Mme Alfred Carrière’",)),
        ("rosa by the gate", ()),
        ("salvia hot pink thing", ()),
        ("salvia sp. nova alba", ()),
        ("Japanese maple", ()),  # the second word is no epithet
        ("Peace rose", ()),
        ("Guelder rose", ()),  # no Rosa at all
    ],
)
def test_words_offer_the_name_that_can_be_seen_in_them(typed, offers):
    reading = parse_name(typed)
    assert reading.outcome is Outcome.WORDS
    assert reading.offers == offers


@pytest.mark.parametrize("typed", ["unknown", "NOID", "No ID", "name not known", "?", "Lost label"])
def test_words_that_only_say_that_there_is_no_name(typed):
    assert is_name_unknown(typed)
    assert parse_name(typed).outcome is Outcome.WORDS


@pytest.mark.parametrize("typed", ["white", "Hosta", "blue hydrangea"])
def test_other_words_are_a_name_of_sorts(typed):
    assert not is_name_unknown(typed)


# --- more ways of typing, common practice, no source -------------------------------------------


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("hosta", "Hosta"),
        ("ROSA 'PEACE'", "Rosa ‘Peace’"),
        ("QUERCUS ROBUR VAR. ALBA", "Quercus robur var. alba"),
        ("salix aurita x salix caprea", "Salix aurita × S. caprea"),
        ("Laburnum anagyroides + Cytisus purpureus", "Cytisus purpureus + Laburnum anagyroides"),
        ("Polypodium vulgare subsp. × mantoniae", "Polypodium vulgare nothosubsp. mantoniae"),
        ("Rosa gallica var. versicolor f. plena", "Rosa gallica f. plena"),
        ('Salvia greggii "Hot Coral" (?)', "Salvia greggii ‘Hot Coral’ (?)"),
        ("Rosa 'Hot Coral?'", "Rosa ‘Hot Coral’ (?)"),
        ("probably Salvia greggii", "Salvia greggii (?)"),
        ("cf. Quercus robur", "cf. Quercus robur"),
        ("Quercus agrifolia cf. var. oxyadenia", "Quercus agrifolia cf. var. oxyadenia"),
        ("Hosta NOID", "Hosta (cultivar not known)"),
        ("Hosta unknown cultivar", "Hosta (cultivar not known)"),
        ("Rosa cv.", "Rosa (cultivar not known)"),
        ("Rubus fruticosus agg.", "Rubus fruticosus"),
        ("Rosa 'Oxbril' (OXBOW LIGHT)", "Rosa ‘Oxbril’ OXBOW LIGHT"),
        ("Rosa 'Oxbril' = Oxbow Light", "Rosa ‘Oxbril’ OXBOW LIGHT"),
        ("Rosa Oxbow Light®", "Rosa OXBOW LIGHT"),
        ("Rosa OXBOW LIGHT", "Rosa OXBOW LIGHT"),
        ("Hydrangea macrophylla (Thunb.) Ser.", "Hydrangea macrophylla"),
        ("Salix alba Hook. f. & Thomson ex Koch", "Salix alba"),
        ("Rosa 'Ladies' Choice'", "Rosa ‘Ladies’ Choice’"),
        ("Rosa 'Rock 'n' Roll'", "Rosa ‘Rock ’n’ Roll’"),
        ("Primula Border Auricula Group", "Primula Border Auricula Group"),  # G
        ("Sorbus hupehensis C.K.Schneid. cv. 'November pink'", "Sorbus hupehensis ‘November Pink’"),
        ("Symphoricarpos albus (L.) S.F.Blake cv. 'Turesson'", "Symphoricarpos albus ‘Turesson’"),
        ("Xanthorrhoea xerophila", "Xanthorrhoea xerophila"),
        ("Rosa 'Peace'.", "Rosa ‘Peace’"),
        ("Rosa 'Peace' ;;", "Rosa ‘Peace’"),
        ("Hydrangea paniculata,", "Hydrangea paniculata"),
        ("Rosa ''Peace''", "Rosa ‘Peace’"),  # two single quotes for a double one
        ("Rosa 'Gardeners''", "Rosa ‘Gardeners’’"),
        ("Acer palmatum 'Osakazuki' AGM", "Acer palmatum ‘Osakazuki’"),  # an award
        ("Acer palmatum 'Osakazuki' (AGM)", "Acer palmatum ‘Osakazuki’"),
        ("Acer\u00a0palmatum\u2003'Osakazuki'", "Acer palmatum ‘Osakazuki’"),
        ("SALVIA X JAMENSIS 'HOT LIPS'", "Salvia ×jamensis ‘Hot Lips’"),
    ],
)
def test_a_grower_s_way_of_typing_is_put_into_proper_form(typed, printed):
    reading = parse_name(typed)
    assert reading.outcome in (Outcome.ACCEPTED, Outcome.NORMALISED)
    assert plain(name_of(typed)) == printed
    assert parse_name(printed).outcome is Outcome.ACCEPTED


@pytest.mark.parametrize(
    ("typed", "reason", "offers"),
    [
        (
            "Quercus Robur",
            NameReason.UNQUOTED,
            ("Quercus robur", "Quercus ‘Robur’", "Quercus ROBUR"),
        ),
        ("Rosa Mme. Hardy", NameReason.UNQUOTED, ("Rosa ‘Mme. Hardy’", "Rosa MME. HARDY")),
        (
            "Rosa Graham Koch",  # a surname that is also an author's
            NameReason.UNQUOTED,
            ("Rosa ‘Graham Koch’", "Rosa GRAHAM KOCH"),
        ),
        ("rosa peace", NameReason.SPECIES_OR_CULTIVAR, ("Rosa ‘Peace’",)),
        (
            "Rosa 'Oxbril' Oxbow Light",
            NameReason.UNMARKED_AFTER_CULTIVAR,
            ("Rosa ‘Oxbril’ OXBOW LIGHT",),
        ),
        (
            "Acer palmatum var. Dissectum",
            NameReason.RANK_BEFORE_CULTIVAR,
            ("Acer palmatum ‘Dissectum’", "Acer palmatum var. dissectum"),
        ),
        ("Erica f. albiflora", NameReason.RANK_WITHOUT_SPECIES, None),
        ("Abelia x 'Briotii'", NameReason.SIGN_BEFORE_CULTIVAR, ("Abelia ‘Briotii’",)),
        (
            "Rosa 'Briotii' x 'Iceberg'",
            NameReason.SECOND_PARENT_WITHOUT_GENUS,
            ("Rosa ‘Briotii’ × R. ‘Iceberg’",),
        ),
        ("Photinia xintermedia", NameReason.GLUED_SIGN, ("Photinia ×intermedia",)),
        ("Rose Peace", NameReason.COMMON_NAME, ("Rosa ‘Peace’",)),
    ],
)
def test_what_may_mean_two_things_is_asked(typed, reason, offers):
    reading = parse_name(typed)
    assert reading.outcome is Outcome.ASK
    assert reading.remarks[0].reason is reason
    if offers is not None:
        assert reading.offers == offers
    for offer in reading.offers:
        assert parse_name(offer).outcome in (Outcome.ACCEPTED, Outcome.NORMALISED), offer


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("Rosa\nalba", NameReason.CONTROL),
        ("Rosa\u202ealba", NameReason.CONTROL),  # turns the reading direction round
        ("Rosa\ufeff", NameReason.CONTROL),
        ("Rosa &times; alba", NameReason.MARKUP),
        ("Rosa αlba", NameReason.MIXED_SCRIPTS),
        ("Rosa 'Красная'", NameReason.MIXED_SCRIPTS),
        ("x", NameReason.SIGN_LAST),
        ("Rosa group", NameReason.GROUP_WITHOUT_EPITHET),
        ("Salix aurita × P. caprea", NameReason.GENUS_INITIAL),
    ],
)
def test_more_names_that_are_refused(typed, reason):
    reading = parse_name(typed)
    assert reading.outcome is Outcome.REFUSED
    assert reading.remarks[0].reason is reason


def test_several_flags_can_stand_on_one_epithet():
    reading = parse_name("Hosta 'Best Hosta Hybrid #1'")
    assert reading.outcome is Outcome.ACCEPTED
    assert {r.reason for r in reading.remarks} == {
        NameReason.SUPERLATIVE,
        NameReason.REPEATS_GENUS,
        NameReason.BANNED_WORD,
        NameReason.ODD_SIGN,
    }


@pytest.mark.parametrize("epithet", ["Wow!!", "A!b!c!d"])
def test_exclamation_marks_are_flagged_side_by_side_or_beyond_two(epithet):
    """O: up to two, not side by side."""
    reasons = [r.reason for r in parse_name(f"Rosa '{epithet}'").remarks]
    assert NameReason.ODD_SIGN in reasons
    assert parse_name("Rosa 'Wow! Now!'").remarks == ()


# --- print -------------------------------------------------------------------------------------


def test_runs_name_the_type_of_each_stretch():
    name = name_of("Choisya ternata var. alba 'Fengol' FENGOLD")
    assert [(run.text, run.style) for run in runs(name)] == [
        ("Choisya ternata", Style.ITALIC),
        (" var. ", Style.UPRIGHT),
        ("alba", Style.ITALIC),
        (" ‘Fengol’ ", Style.UPRIGHT),
        ("FENGOLD", Style.SMALL_CAPS),
    ]


def test_html_sets_the_trade_designation_in_small_capitals_and_escapes():
    name = ParsedName("Rosa", cultivar="Salt & <Pepper>", trade="R & D")
    assert html(name) == (
        '<i>Rosa</i> ‘Salt &amp; &lt;Pepper&gt;’ <span class="small-caps">R &amp; D</span>'
    )


def test_words_print_upright_as_they_came():
    (run,) = as_received("blue hydrangea")
    assert (run.text, run.style) == ("blue hydrangea", Style.UPRIGHT)


# --- what a verdict asks of a name -------------------------------------------------------------

ASKED = ("doubtful", "cultivar_named", "brand_only", "cultivar_lost")


@pytest.mark.parametrize(
    ("typed", "true"),
    [
        ("Salvia", set()),
        ("Salvia sp.", set()),
        ("Salvia NOID", {"cultivar_lost"}),
        ("Salvia greggii", set()),
        ("Mentha × piperita", set()),
        ("Acer palmatum var. dissectum", set()),
        ("Quercus cf. robur", {"doubtful"}),
        ("Salvia 'Hot Coral' (?)", {"cultivar_named", "doubtful"}),
        ("Salvia greggii 'Hot Coral'", {"cultivar_named"}),
        ("Rosa 'Oxbril' OXBOW LIGHT", {"cultivar_named"}),
        ("Rosa OXBOW LIGHT", {"brand_only"}),
        ("Brassica oleracea Capitata Group", set()),
        ("Sarracenia alata 'Black Tube' × S. leucophylla", set()),
        ("Salix aurita × S. cf. caprea", {"doubtful"}),
    ],
)
def test_what_a_verdict_asks_of_a_name(typed, true):
    name = name_of(typed)
    assert {ask for ask in ASKED if getattr(name, f"is_{ask}")} == true


# --- keys --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Mentha × piperita", "mentha x piperita"),  # I, Art. H.3.3
        ("Mentha × piperita", "Mentha piperita"),
        ("×Cuprocyparis leylandii", "xCuprocyparis leylandii"),
        ("Polypodium vulgare nothosubsp. mantoniae", "Polypodium vulgare ssp mantoniae"),
        ("Primula vulgaris subsp. sibthorpii", "primula  vulgaris SSP sibthorpii"),
        ("Rosa ‘Madame Alfred Carrière’", 'rosa "madame alfred carriere"'),
        ("Sarracenia ‘Vintner’s Treasure’", "Sarracenia Vintners Treasure"),
        ("Berberis thunbergii cv. Crimson Pygmy", "Berberis thunbergii ‘Crimson Pygmy’"),
        ("Paphiopedilum Atlantis grex", "Paphiopedilum Atlantis gx"),
        ("Brassica (Capitata Gp)", "Brassica Capitata Group"),
        ("Salix ‘Łódź’", "salix lodz"),
        ("Rosa ‘Ærø’", "rosa aero"),
        ("Rosa ‘Weiße Wolke’", "ROSA WEISSE WOLKE"),
        ("Adiantum capillus-veneris", "Adiantum capillus veneris"),
    ],
)
def test_names_that_are_typed_differently_have_one_matching_key(one, other):
    assert matching_key(one) == matching_key(other) != ""


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Salvia 'Hot Coral'", "Salvia 'Hot Lips'"),
        ("Fig 1", "Fig 2"),
        ("Mentha piperita", "Mentha piperata"),
        ("かき", "がき"),  # in other scripts the marks are letters of their own
    ],
)
def test_different_names_have_different_matching_keys(one, other):
    assert matching_key(one) != matching_key(other)


def test_search_keys_spell_abbreviations_out():
    assert search_keys("Rosa 'Mme A. Meilland'") == ("rosa", "madame", "a", "meilland")
    assert search_keys("Saintpaulia 'St. Ives'") == ("saintpaulia", "saint", "ives")
    assert search_keys("Salt & Pepper") == search_keys("salt and pepper")


def test_a_patent_s_number_is_found_with_commas_and_without():
    assert search_keys("Rosa PP99,002") == search_keys("rosa pp99002") == ("rosa", "pp99002")
    assert search_keys("figs 1,2") == ("figs", "1", "2")


def test_an_award_is_kept_aside():
    assert name_of("Acer palmatum 'Osakazuki' AGM").aside.notes == ("AGM",)


def test_what_was_received_is_kept_to_the_byte_in_composed_form():
    """Unicode Standard Annex 15: NFC."""
    typed = " Rosa  ‘Carrie\u0300re’\u00a0? "
    assert received(typed) == " Rosa  ‘Carri\u00e8re’\u00a0? "
    assert received(received(typed)) == received(typed)


def test_a_denomination_meets_its_plant_whatever_the_species():
    keys = {
        denomination_key(name_of(typed))
        for typed in (
            "Salvia greggii 'Hot Coral'",
            "salvia 'hot coral'",
            "Salvia × jamensis 'Hot Coral'",
        )
    }
    assert len(keys) == 1
    assert denomination_key(name_of("Rosa 'Hot Coral'")) not in keys


def test_keys_of_what_is_not_named_are_empty():
    species = name_of("Salvia greggii")
    formula = name_of("Sarracenia alata 'Black Tube' × S. leucophylla")
    assert denomination_key(species) == trade_key(species) == species_key(name_of("Salvia")) == ""
    assert denomination_key(formula) == ""


def test_keys_of_a_part_are_told_apart():
    name = name_of("Rosa gallica 'Gallica' GALLICA")
    keys = {genus_key(name), species_key(name), denomination_key(name), trade_key(name)}
    assert len(keys) == 4


def test_a_formula_gives_each_parent_s_keys():
    name = name_of("Agrostis stolonifera × Polypogon monspeliensis")
    assert [species_key(parent) for parent in taxa(name)] == [
        "agrostis stolonifera",
        "polypogon monspeliensis",
    ]


@pytest.mark.parametrize(
    ("one", "other", "is_near"),
    [
        ("Salvia 'Hot Coral'", "salvia hotcoral", True),
        ("Rosa 'Peace'", "Rosa 'Paece'", True),
        ("Rosa 'Peace'", "Rosa 'Peaxyz'", False),
        ("abcd", "ab", True),
        ("abcd", "a", False),
        ("abc", "abcdef", False),
        ("Fig 1", "Fig 2", False),
        ("Fig 1", "Figg 1", True),
    ],
)
def test_names_are_near_up_to_two_letters(one, other, is_near):
    assert near(one, other) is is_near
    assert near(other, one) is is_near


# --- Darwin Core -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "expected"),
    [  # D: the examples of cultivarEpithet, infraspecificEpithet, identificationQualifier
        (
            "Solanum tuberosum 'King Edward'",
            {"cultivarEpithet": "King Edward", "taxonRank": "cultivar"},
        ),
        (
            "Rhododendron boothii Mishmiense Group",
            {"cultivarEpithet": "Mishmiense", "taxonRank": "cultivar group"},
        ),
        ("Paphiopedilum Atlantis grex", {"cultivarEpithet": "Atlantis", "taxonRank": "grex"}),
        (
            "Quercus aff. agrifolia var. oxyadenia",
            {
                "identificationQualifier": "aff. agrifolia var. oxyadenia",
                "specificEpithet": "agrifolia",
                "infraspecificEpithet": "oxyadenia",
            },
        ),
        (
            "Quercus agrifolia cf. var. oxyadenia",
            {"identificationQualifier": "cf. var. oxyadenia"},
        ),
        (
            "Quercus agrifolia var. oxyadenia (Torr.) J.T. Howell",
            {
                "scientificName": "Quercus agrifolia var. oxyadenia",
                "scientificNameAuthorship": "(Torr.) J.T. Howell",
                "genus": "Quercus",
                "specificEpithet": "agrifolia",
                "infraspecificEpithet": "oxyadenia",
                "verbatimTaxonRank": "var.",
                "taxonRank": "variety",
            },
        ),
        (
            "Cheilanthes hirta f. laxa",
            {"infraspecificEpithet": "laxa", "taxonRank": "form", "verbatimTaxonRank": "f."},
        ),
        (
            "Indigofera charlieriana subsp. sessilis var. scaberrima",
            {"infraspecificEpithet": "scaberrima", "taxonRank": "variety"},
        ),
    ],
)
def test_darwin_core_terms_are_split_as_its_list_does(typed, expected):
    terms = darwin_core(name_of(typed))
    assert {term: terms[term] for term in expected} == expected


def test_darwin_core_writes_the_hybrid_sign_and_no_empty_term():
    """D: U+00D7 rather than x where possible."""
    assert darwin_core(name_of("Mentha x piperita L.")) == {
        "scientificName": "Mentha ×piperita",
        "genus": "Mentha",
        "specificEpithet": "piperita",
        "taxonRank": "nothospecies",
        "scientificNameAuthorship": "L.",
    }


def test_darwin_core_keeps_a_formula_whole():
    assert darwin_core(name_of("Salix aurita × S. caprea")) == {
        "scientificName": "Salix aurita × S. caprea",
        "genus": "Salix",
    }


# --- wording -----------------------------------------------------------------------------------


@pytest.mark.parametrize("reason", NameReason)
def test_every_reason_has_a_sentence(reason):
    said = problem(BadName("Rosa ×", reason, "×", ("Rosa", "Rosa sp.")))
    assert said.startswith("The name 'Rosa ×': ")
    assert said.endswith("Perhaps Rosa or Rosa sp.")
    assert "{" not in said


def test_a_question_names_the_word_and_the_offers():
    said = question(parse_name("Hydrangea paniculata Limelight"))
    assert "'Limelight'" in said
    assert "Hydrangea paniculata ‘Limelight’ or Hydrangea paniculata LIMELIGHT" in said


def test_a_notice_says_how_a_name_was_written_and_what_is_odd_about_it():
    assert notice(parse_name("Quercus robur")) == ""
    assert "Quercus robur" in notice(parse_name("quercus robur"))
    assert "Lavandula" in notice(parse_name("lavender"))
    odd = parse_name("Dahlia 'Red Hybrid'")
    assert notice(odd) == sentence(odd.remarks[0])
