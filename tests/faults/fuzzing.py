"""Every parser is given what nobody would type: it reads it, or says so with an error of ours.

Hypothesis draws text in the suite; by command atheris, which watches which branches a text takes,
looks for ten minutes: `python -m tests.faults --only fuzz`.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path

from hypothesis import strategies as st

from registry.cli.bench import parse_lot
from registry.cli.bench_file import Line, _words
from registry.domain import codes, counts, dealings, heads, methods, names, payload
from registry.domain.codes import CodeWidths
from registry.domain.dates import Hemisphere, parse_date
from registry.domain.dates.edtf import read_edtf
from registry.domain.names import Reading, keys, printing
from registry.domain.names.darwin_core import darwin_core
from registry.domain.rules import countries
from registry.errors import RegistryError
from registry.exchange import heads as kept
from registry.location import scheme
from registry.services.rules import read_list
from registry.storage import chain
from tests.faults.table import Row

TODAY = date(2026, 5, 14)
WIDTHS = CodeWidths()


def _name(read: Callable[[str], Reading], text: str) -> None:
    """A name, and everything that is made of one."""
    name = read(text).name
    if name is not None:
        for make in (printing.plain, printing.html, darwin_core, keys.genus_key, keys.species_key,
                     keys.taxa, keys.trade_key, keys.denomination_key):  # fmt: skip
            make(name)


def _keys(text: str) -> None:
    for make in (keys.matching_key, keys.search_keys, keys.is_name_unknown):
        make(text)
    keys.near(text, text[::-1])


def _day(year: int | None, hemisphere: Hemisphere) -> Callable[[str], object]:
    return partial(parse_date, today=TODAY, hemisphere=hemisphere, year=year)


def _part(text: str) -> None:
    try:
        list(chain.unpack(text.encode("utf-8", "surrogatepass")))
    except ValueError:  # what it says of a damaged part
        return


def _rules(text: str) -> None:
    read_list(text, today=TODAY, hemisphere=Hemisphere.NORTH)


TARGETS: dict[str, tuple[Callable[[str], object], ...]] = {
    "code": (
        codes.looks_like_code,
        partial(codes.parse_reference, widths=WIDTHS, this_year=26),
        partial(codes.half_read, widths=WIDTHS),
        partial(codes.Code.parse, widths=WIDTHS),
    ),
    "name": (partial(_name, names.parse_name), partial(_name, names.read_name), _keys),
    "day": (
        _day(None, Hemisphere.NORTH),
        _day(2025, Hemisphere.SOUTH),
        lambda text: read_edtf(text, Hemisphere.NORTH, text),
    ),
    "count": (counts.parse_counts,),
    "lot": (parse_lot,),
    "limit": (dealings.parse_limit,),
    "money": (dealings.parse_money, partial(dealings.parse_money, currency="USD")),
    "royalty": (dealings.parse_royalty,),
    "country": (countries.parse_territory,),
    "place": (countries.parse_place,),
    "wood": (methods.wood_stage,),
    "payload": (payload.read_payload,),
    "head": (heads.read_head,),
    "kept head": (kept.read,),
    "list of rules": (_rules,),
    "line of a bench file": (lambda text: _words(Line(1, text)),),
    "part of the chain": (_part,),
    "address": (scheme,),
}
"""Every parser, by what it reads."""

SEEDS: dict[str, tuple[str, ...]] = {
    "code": ("26-0014-007-X", "26-0_14-007-X", "26-00[38]4-007", "26-0014-X:1-7,9", "14B", "14:7"),
    "name": ("Hydrangea macrophylla ‘Nikko Blue’", "×Cuprocyparis leylandii", "+Laburnocytisus",
             "Rosa [Iceberg] = ‘Korbin’ PBR", "Quercus ×hispanica (Lucombe Group)"),
    "day": ("14 May 2026", "mid May 2025", "2026-05~", "2022-12/2023-02", "before 2015", "4/5/25"),
    "count": ("14", "about 14", "12-13", "10+", "?", "A=8,B=2"),
    "lot": ("10,soft,tip", "from=26-0001-X,count=8,wood=softwood,ppm=3000"),
    "limit": ("12 cuttings a year",),
    "money": ("4.50 EUR", "USD 6"),
    "royalty": ("0.35 USD a plant sold",),
    "country": ("US-OR", "EU", "GB"),
    "place": ("US-OR", "DE"),
    "wood": ("softwood",),
    "payload": ("26-0014-007-X\nFicus carica\nfrom 26-0001-001-8", "HTTPS://EXAMPLE.ORG/P/26-1"),
    "list of rules": ("taxon,territory,acts,citation\nRosa,US,sell,a law\n",),
    "line of a bench file": ('stick "red hydrangea" --count 3',),
    "address": ("postgresql://jo@bench/ortet",),
}  # fmt: skip
"""What each is usually given, as somewhere to start from."""


def texts(target: str) -> st.SearchStrategy[str]:
    """Any text; and what is usually typed, cut, joined and with other signs in it."""
    usual = [*SEEDS.get(target, ()), "", "9" * 30, "-", "²", "٣", "\x00", "\ud800", "ﬁ", "İ"]
    bits = st.lists(
        st.one_of(
            st.sampled_from(usual),
            st.sampled_from(usual).flatmap(_cut),
            st.text(max_size=4),
            st.sampled_from(list("-/:,;=~?%[](){}'\"‘’×+._ 0123456789\n")),
        ),
        max_size=6,
    )
    return st.one_of(st.text(max_size=40), bits.map("".join))


def _cut(text: str) -> st.SearchStrategy[str]:
    return st.integers(0, len(text)).map(lambda at: text[:at])


def given_to(target: str, text: str) -> bool:
    """Whether any parser of the target reads a text; an error that is not ours is raised."""
    read = False
    for parser in TARGETS[target]:
        try:
            parser(text)
        except RegistryError:
            continue
        read = True
    return read


def run(folder: Path, seconds: int) -> Row:
    """Have atheris give texts to all parsers in turn, for `seconds` in all."""
    each = max(seconds // len(TARGETS), 1)
    tried = 0
    start = time.monotonic()
    for target in TARGETS:
        corpus = folder / target.replace(" ", "-")
        corpus.mkdir()
        for number, seed in enumerate(SEEDS.get(target, ())):
            (corpus / str(number)).write_text(seed)
        done = subprocess.run(
            [sys.executable, "-m", "tests.faults.atheris_run", target, str(corpus),
             f"-max_total_time={each}", "-max_len=200", "-verbosity=0", "-print_final_stats=1"],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, f"{target}: {done.stderr[-3000:]}"
        for line in done.stderr.splitlines():
            if line.startswith("stat::number_of_executed_units:"):
                tried += int(line.rpartition(" ")[2])
    return Row(
        f"texts given to the parsers of {len(TARGETS)} kinds of things typed, by atheris, which is "
        "led by the branches that a text takes",
        tried,
        f"read, or refused with an error of ours; {(time.monotonic() - start) / 60:.0f} minutes",
        "no other error",
    )
