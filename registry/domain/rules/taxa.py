"""Taxa that a rule names."""

from __future__ import annotations

# Seed that carries the mother's own make-up: plants raised from it are copies. Common knowledge
# of growers, from an excerpt of a public page; most Rubus, Sorbus micro-species and Citrus.
APOMICTIC_GENERA = frozenset({"citrus", "rubus", "sorbus"})

# Tuber-propagated plants cannot have a US plant patent: 35 USC 161; the office reads "tuber" as
# Irish potato and Jerusalem artichoke (MPEP 1601).
NO_PLANT_PATENT = frozenset({"solanum tuberosum", "helianthus tuberosus"})

# Seed potatoes and vegetables have certification duties of their own in the EU and Great Britain
# (marketing directives 2002/55/EC, 2002/56/EC, 2008/72/EC, from memory). By species or genus.
CERTIFIED_CROPS = frozenset(
    {
        "solanum tuberosum",
        "solanum lycopersicum",
        "solanum melongena",
        "capsicum annuum",
        "allium cepa",
        "allium porrum",
        "allium sativum",
        "asparagus officinalis",
        "beta vulgaris",
        "brassica oleracea",
        "brassica rapa",
        "cichorium intybus",
        "cucumis sativus",
        "cucumis melo",
        "cucurbita pepo",
        "cucurbita maxima",
        "cynara cardunculus",
        "daucus carota",
        "foeniculum vulgare",
        "lactuca sativa",
        "phaseolus vulgaris",
        "phaseolus coccineus",
        "pisum sativum",
        "raphanus sativus",
        "rheum rhabarbarum",
        "spinacia oleracea",
        "vicia faba",
        "zea mays",
    }
)
