"""Says at the end how many published names were held against the reading of names."""

from __future__ import annotations

from typing import Any

_OF_VECTORS = (
    "tests/domain/test_names.py::test_the_printed_form_is_the_published_one[",
    "tests/domain/test_names.py::test_a_name_against_the_codes_is_refused_asked_or_flagged[",
)
"""The tests that run once for each row of the two tables of published names."""


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Count the rows whose tests passed; nothing is said where none ran."""
    passed = terminalreporter.stats.get("passed", [])
    vectors = sum(report.nodeid.startswith(_OF_VECTORS) for report in passed)
    if vectors:
        terminalreporter.write_line(f"{vectors} published names were read as they should be")
