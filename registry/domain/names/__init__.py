"""What a plant is called: from what a grower types to parts, and from parts to print.

`parse_name` reads, `plain`, `html` and `runs` print, `matching_key` and its kin compare.
"""

from registry.domain.names.darwin_core import darwin_core, taxon_rank
from registry.domain.names.epithets import WARNINGS
from registry.domain.names.keys import (
    calling_key,
    denomination_key,
    genus_key,
    is_name_unknown,
    matching_key,
    near,
    received,
    search_keys,
    species_key,
    taxa,
    trade_key,
)
from registry.domain.names.parsing import parse_name, read_name
from registry.domain.names.parts import (
    Aside,
    Bunch,
    Hybrid,
    Join,
    Level,
    Outcome,
    ParsedName,
    Qualifier,
    Reading,
    Remark,
    Status,
)
from registry.domain.names.printing import Run, Style, as_received, html, plain, runs, runs_html
from registry.domain.names.verification import GROUNDS, Verified, status, strongest, verified

__all__ = [
    "GROUNDS",
    "WARNINGS",
    "Aside",
    "Bunch",
    "Hybrid",
    "Join",
    "Level",
    "Outcome",
    "ParsedName",
    "Qualifier",
    "Reading",
    "Remark",
    "Run",
    "Status",
    "Style",
    "Verified",
    "as_received",
    "calling_key",
    "darwin_core",
    "denomination_key",
    "genus_key",
    "html",
    "is_name_unknown",
    "matching_key",
    "near",
    "parse_name",
    "plain",
    "read_name",
    "received",
    "runs",
    "runs_html",
    "search_keys",
    "species_key",
    "status",
    "strongest",
    "taxa",
    "taxon_rank",
    "trade_key",
    "verified",
]
