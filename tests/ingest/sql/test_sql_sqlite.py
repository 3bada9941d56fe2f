"""Answers of SQLite databases that Python's own library wrote."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

import pytest

from pipeline.errors import FeedError
from pipeline.ingest.sql import sql_sqlite
from pipeline.ingest.sql.sql_reader import read_query, read_sql


@pytest.fixture
def database(tmp_path: Path) -> Path:
    path = tmp_path / "room #1?.db"
    with closing(sqlite3.connect(path)) as made:
        made.execute("create table faults (ticket integer, opened text, h real, told, photo blob)")
        rows = [
            (2, "2031-03-09 21:04:00", 1.5, "grön", None),
            (1, "2031-03-09", 3.0, 7, b"\xff"),
            (9_223_372_036_854_775_807, None, 1e20, b"bytes", b"ok"),
        ]
        made.executemany("insert into faults values (?, ?, ?, ?, ?)", rows)
        made.execute("insert into faults values (4, cast(x'ff41' as text), null, 'not UTF-8', null)")
        made.commit()
    return path


def _address(path: Path) -> str:
    return f"sqlite://{quote(str(path))}"


def test_cells_of_every_type_sorted(database: Path) -> None:
    (batch,) = read_query("query 1", _address(database), "select ticket, opened, h, told from faults", None)
    assert batch.headers == ("ticket", "opened", "h", "told")
    assert batch.rows.drop("text").rows() == [
        (1, "1", "2031-03-09", "3", "7"),
        (2, "2", "2031-03-09 21:04:00", "1.5", "grön"),
        (4, "9223372036854775807", None, "1e+20", "bytes"),
    ]
    assert batch.rows["text"][0] == '{"ticket":"1","opened":"2031-03-09","h":"3","told":"7"}'
    assert [(line, text, reason[:29]) for line, text, reason in batch.aside.iter_rows()] == [
        (3, '{"ticket":"4","opened":"\\\\xffA","h":null,"told":"not UTF-8"}', "The row holds bytes that are ")
    ]


def test_an_answer_without_rows_has_its_headers(database: Path) -> None:
    (batch,) = read_query("query 1", _address(database), "select ticket as a from faults where false", None)
    assert (batch.headers, batch.read_count) == (("a",), 0)


@pytest.mark.parametrize(
    ("query", "why"),
    [
        ("select * from nope", 'its query names the table "nope" that is not there'),
        ("select nope from faults", 'its query names the column "nope" that is not there'),
        ("select nope(1)", 'its query names the function "nope" that is not there'),
        ("select 1 as a, 2 as a", 'its query gives two columns "a". Name one of them anew with as'),
        ("select from", "the database refuses its query. Write it as SQLite expects it"),
        ("with a as (select 1) delete from faults", "its query would do more than read the database"),
        ("select * from pragma_database_list", "its query would do more than read the database"),
    ],
)
def test_a_query_that_is_refused(database: Path, query: str, why: str) -> None:
    with pytest.raises(FeedError) as error:
        read_sql("query 1", _address(database), query, None)
    assert str(error.value) == f'"query 1" cannot be read: {why}.'
    with closing(sqlite3.connect(database)) as kept:
        assert kept.execute("select count(*) from faults").fetchone() == (4,)


def test_what_is_no_database(tmp_path: Path) -> None:
    (tmp_path / "a.db").write_text("ticket;machine\n" * 100)
    for name, why in (
        ("a.db", "it is no SQLite database"),
        ("b.db", "the database is not there, or you may not read it. Expected sqlite:/// and its whole path"),
    ):
        with pytest.raises(FeedError) as error:
            read_sql("query 1", _address(tmp_path / name), "select 1 from t", None)
        assert str(error.value) == f'"query 1" cannot be read: {why}.'
    assert not (tmp_path / "b.db").exists()


def test_bounds(database: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    endless = "with recursive n(k) as (select 1 union all select k + 1 from n) select k from n"
    monkeypatch.setattr(sql_sqlite, "MOST_ROWS", 100_000)
    with pytest.raises(FeedError, match=r"its query gives more than 100,000 rows. Ask for less"):
        read_sql("query 1", _address(database), endless, None)
    monkeypatch.setattr(sql_sqlite, "LONGEST_S", 0.2)
    with pytest.raises(FeedError, match=r"the database takes more than 300 seconds. Ask for less in the query"):
        read_sql("query 1", _address(database), f"select count(*) from ({endless})", None)
