"""The page of the tables against a real database: none missing, none too many, no column without a meaning."""

from __future__ import annotations

import pytest

from pipeline.answers import open_last_run
from tests.finished_room import Finished
from tests.tables_page import PAGE, tables_page, unused_words


@pytest.fixture(scope="module")
def tables(finished: Finished) -> dict[str, dict[str, str]]:
    with open_last_run(finished.site) as store:
        return store.tables()


def test_the_page_is_that_of_the_database(tables: dict[str, dict[str, str]]) -> None:
    assert PAGE.read_text(encoding="utf-8") == tables_page(tables), "run python tests/tables_page.py SITE"


def test_every_word_is_of_a_column_that_is_there(tables: dict[str, dict[str, str]]) -> None:
    assert unused_words(tables) == set()


def test_a_column_or_a_table_that_nothing_describes_is_noticed(tables: dict[str, dict[str, str]]) -> None:
    with pytest.raises(KeyError, match="strange"):
        tables_page(tables | {"core_events": {**tables["core_events"], "strange": "VARCHAR"}})
    with pytest.raises(KeyError):
        tables_page(tables | {"strange_table": {"file": "VARCHAR"}})
    fewer = {name: columns for name, columns in tables.items() if name != "measure_case"}
    assert "measure_case" in unused_words(fewer)
    assert tables_page(fewer) != tables_page(tables)
