"""Every row of the sheet has a test that names it in its id."""

from __future__ import annotations

import re
from pathlib import Path

from tests.domain import test_verdict_rows
from tests.services import test_verdict_answers

LAST = {"A": 21, "B": 46, "C": 25, "D": 6, "E": 7}
"""The last row of each part."""

ROWS = frozenset(
    {f"{part}{n}" for part, last in LAST.items() for n in range(1, last + 1)} | {"A2b"}
)

MODULES = (test_verdict_rows, test_verdict_answers)


def ids() -> set[str]:
    """The ids of all cases of the modules, and the names of their tests."""
    found = set()
    tests = [each for module in MODULES for each in vars(module).items()]
    for name, test in tests:
        if not name.startswith("test_"):
            continue
        found.add(name)
        for mark in getattr(test, "pytestmark", ()):
            if mark.name != "parametrize":
                continue
            named = mark.kwargs.get("ids")
            for case in mark.args[1]:
                case_id = getattr(case, "id", None)
                if case_id is not None:
                    found.add(case_id)
                elif callable(named):
                    found.add(named(case))
    return found


def test_verdict_rows_each_have_a_case_that_names_them():
    named = {row for each in ids() for row in re.findall(r"verdict-([A-E]\d+b?)\b", each)}
    assert named - ROWS == set()
    assert ROWS - named == set()


def test_the_documents_name_every_row():
    page = (Path(__file__).parents[2] / "docs" / "verdict-rows.md").read_text(encoding="utf-8")
    told = set(re.findall(r"\b([A-E]\d+b?)\b", page))
    for first, last in re.findall(r"\b([A-E]\d+) to ([A-E]\d+)\b", page):
        told |= {f"{first[0]}{n}" for n in range(int(first[1:]), int(last[1:]) + 1)}
    assert {row for row in ROWS if not row.startswith("D")} - told == set()
