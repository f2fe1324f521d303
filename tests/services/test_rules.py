"""Rules of a place from the command line and from its own list, and what they come to."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from registry.domain.dates import Hemisphere
from registry.errors import BadRules, RuleFault
from registry.services.rules import read_list
from tests.conftest import MOMENT
from tests.typed import Ortet

LIST = """\
taxon,rank,territory,acts,since,until,citation,exempt,kind,private
Buddleja davidii,species,US-OR,sell propagate,2010-01-01,,row 1,Lane Haze; Weir Mist,weed,yes
Cytisus,genus,US-OR,all,2004-01-01,2030-12-31,row 2,,weed,yes
Trillium ovatum,,US-OR,,1999-01-01,,row 3,,protected,
Hedera helix,,US-OR,sell=permit,,,row 4,,weed,no
*,,CA,,2026-01-01,,order 5,Salix,quarantine,
"""


@pytest.fixture
def listed(ortet: Ortet) -> Ortet:
    (Path.cwd() / "list.csv").write_text(LIST)
    ortet("restriction import list.csv")
    return ortet


def verdict(ortet: Ortet, line: str) -> Any:
    """What `may` answers, whether it is a yes (exit 0) or not (exit 1)."""
    try:
        return ortet.ask(line)
    except AssertionError:
        return ortet.ask(line, expect=1)


def rows(ortet: Ortet, line: str) -> dict[str, str]:
    return {finding["row"]: finding["level"] for finding in verdict(ortet, line)["findings"]}


def test_a_list_is_read_again_without_doubling(listed):
    again = listed("restriction import list.csv --json").json
    assert (again["added"], again["changed"], again["kept"]) == (0, 0, 5)
    (Path.cwd() / "list.csv").write_text(LIST.replace("2030-12-31", "2031-12-31"))
    changed = listed("restriction import list.csv --json").json
    assert (changed["added"], changed["changed"], changed["kept"]) == (0, 1, 4)
    shown = listed("restriction list --json").json
    assert len(shown["restrictions"]) == 5
    assert {one["in"] for one in shown["lists"]} == {"US", "CA"}
    assert len(shown["lists"]) == 2


@pytest.mark.parametrize(
    ("name", "row", "level"),
    [
        pytest.param("Buddleja davidii", "C15", "barred", id="C15-the-listed-species"),
        pytest.param("Buddleja davidii 'Royal Red'", "C16", "barred", id="C16-its-cultivar"),
        pytest.param("Buddleja 'Lane Haze'", "C16", "clear", id="C16-exempt-by-name"),
        pytest.param("Buddleja davidii 'Lane Haze'", "C16", "clear", id="C16-exempt-with-species"),
        pytest.param("Buddleja 'Royal Red'", "C16", "unknown", id="C16-species-not-said"),
        pytest.param("Buddleja", "C15", "unknown", id="C15-genus-alone"),
        pytest.param("Cytisus scoparius", "C17", "barred", id="C17-its-genus"),
        pytest.param("Hedera helix", "C15", "conditional", id="C15-with-a-permit"),
    ],
)
def test_a_rule_of_the_place_reaches_what_it_lists(listed, name, row, level):
    listed("plant add --owner me --how bought --number P-1", name)
    assert rows(listed, "may sell P-1")[row] == level


def test_a_rule_of_another_place_says_nothing_here(listed):
    """C18."""
    listed('plant add "Buddleja davidii" --owner me --how bought --number P-1')
    elsewhere = rows(listed, "may sell P-1 --in US-CA")
    assert not {"C15", "C16", "C17"} & elsewhere.keys()


def test_an_order_whose_acts_are_not_recorded_bars_release(listed):
    """C20, and taxa recorded as no hosts."""
    listed('plant add "Rosa canina" --owner me --how bought --number P-1')
    listed('plant add "Salix alba" --owner me --how bought --number P-2')
    assert rows(listed, "may give P-1 --in CA")["C20"] == "barred"
    assert rows(listed, "may give P-2 --in CA")["C20"] == "clear"


def test_what_is_protected_in_the_wild_binds_wild_plants_only(listed):
    """C8: taking and trade barred; a cultivated one is free of it."""
    listed('plant add "Trillium ovatum" --origin wild --owner me --number WILD-1')
    listed('plant add "Trillium ovatum" --how bought --owner me --number GARDEN-1 --new')
    assert rows(listed, "may propagate WILD-1")["C8"] == "barred"
    garden = rows(listed, "may sell GARDEN-1")
    assert not {"C8", "C15"} & garden.keys()


def test_a_place_whose_lists_were_not_read_is_conditional_in_trade(listed):
    """C19, once a registry keeps lists."""
    listed('plant add "Fuchsia magellanica" --owner me --how bought --number P-1')
    assert "C19" not in rows(listed, "may sell P-1")
    assert rows(listed, "may sell P-1 --in NZ")["C19"] == "conditional"
    assert rows(listed, "may sell P-1 --on 2029-01-01")["C19"] == "conditional"


def test_an_end_gives_the_day_from_which_it_would_change(listed):
    """D4."""
    listed('plant add "Cytisus scoparius" --owner me --how bought --number P-1')
    found = verdict(listed, "may propagate P-1")["findings"]
    changes = {f["row"]: f["changes_on"] for f in found}
    assert changes["C17"] == "2031-01-01"
    after = rows(listed, "may propagate P-1 --on 2031-01-01")
    assert "C17" not in after


def test_one_rule_by_hand_replaces_what_it_said_before(ortet):
    line = "restriction add 'Hedera helix' --in US-OR --citation 'OAR 603' --json --acts "
    ortet(line + "sell")
    ortet(line + "'sell give'", "--exempt", "Baltica")
    (rule,) = ortet("restriction list --json").json["restrictions"]
    assert (sorted(rule["acts"]), rule["exempt"]) == (["give", "sell"], ["Baltica"])


WRONG = """\
taxon,territory,acts,citation,until,since
%%%,US,sell,a,,
Rosa 'Peace',US,sell,b,,
Rosa,ZZ,sell,c,,
Rosa,US,fly,d,,
Rosa,US,sell,,,
Rosa,US,sell,e,whenever,
Rosa,US,sell,f,2001-01-01,2002-01-01
Rosa,US,sell
Rosa,US,sell,g,,
Rosa,US,give,g,,
"""


def test_a_list_with_bad_rows_stores_none_and_names_them_all(ortet):
    (Path.cwd() / "bad.csv").write_text(WRONG)
    refused = ortet("restriction import bad.csv", expect=2)
    assert refused.out == ""
    for line in (2, 3, 4, 5, 6, 7, 8, 9, 11):
        assert f"\n  line {line}\n    " in refused.err
    assert "\n  line 10\n" not in refused.err
    assert "the same taxon, place and citation as in line 10" in refused.err
    assert ortet("restriction list --json").json["restrictions"] == []


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", RuleFault.NO_COLUMN),
        ("taxon,territory,acts,citation\n", RuleFault.EMPTY),
        ("taxon,territory,acts,citation,colour\n", RuleFault.COLUMN),
        ("taxon,territory,acts,citation,taxon\nRosa,US,sell,a,Rubus\n", RuleFault.COLUMN_TWICE),
        ('taxon,territory,acts,citation\n"Rosa"x,US,sell,a\n', RuleFault.NOT_CSV),
        ("taxon,territory,acts,citation,rank\nRosa,US,sell,a,species\n", RuleFault.RANK),
        ("taxon,territory,acts,citation,kind\nRosa,US,sell,a,bad\n", RuleFault.KIND),
        ("taxon,territory,acts,citation,private\nRosa,US,sell,a,maybe\n", RuleFault.PRIVATE),
    ],
)
def test_what_is_wrong_with_a_list_is_told_apart(text, fault):
    with pytest.raises(BadRules) as wrong:
        read_list(text, today=MOMENT.date(), hemisphere=Hemisphere.NORTH)
    assert fault in {at.fault for at in wrong.value.faults}


@pytest.mark.parametrize("part", [",", ";", "\t"])
def test_cells_may_be_parted_as_table_programs_do(part):
    lines = (
        ("taxon", "territory", "acts", "citation", "exempt"),
        ("Rosa", "US", "sell", "list a", '"Lane Haze; Weir Mist"'),
    )
    text = "\n".join(part.join(cells) for cells in lines)
    (rule,) = read_list(text, today=MOMENT.date(), hemisphere=Hemisphere.NORTH)
    assert (rule.taxon, rule.citation, rule.exempt) == (
        "Rosa",
        "list a",
        ("Lane Haze", "Weir Mist"),
    )


def test_a_file_that_is_no_text_is_refused(ortet):
    (Path.cwd() / "list.csv").write_bytes(b"\xff\xfe\x00")
    assert "CSV" in ortet("restriction import list.csv", expect=2).err
    ortet("restriction import missing.csv", expect=2)
