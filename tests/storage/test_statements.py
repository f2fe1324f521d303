"""Statements that say beforehand how many columns their rows have."""

import pytest
from sqlalchemy import TextualSelect, text

from registry.services import rows
from registry.storage import dossier

STATEMENTS = {
    f"{module.__name__}.{name}": value
    for module in (dossier, rows)
    for name, value in vars(module).items()
    if isinstance(value, TextualSelect)
}
NONE = dict.fromkeys(("ids", "words", "rights", "accessions"), "[]")


@pytest.mark.parametrize("name", STATEMENTS)
def test_a_statement_has_the_columns_that_it_says(engine, name):
    told = STATEMENTS[name]
    with engine.connect() as connection:
        found = connection.execute(text(str(told.element)), NONE)
        assert len(found.keys()) == len(told.selected_columns)


def test_the_statements_are_those_of_a_verdict():
    assert len(STATEMENTS) == 12
