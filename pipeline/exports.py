"""Every table of a database as a person may read it or carry it away: in a settled order, persons as pseudonyms.

Persons stand in four columns of the feeds. Unless site.toml shows persons they read "person 1", "person 2" …, one
number a person in all tables of a database, and the text of the source rows, which names them too, is left empty.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from pipeline.errors import OutputError, QuestionError, StoreError
from pipeline.sql_files import read_models
from pipeline.store import Store

PERSONS = ("recorded_by", "ruled_by", "taken_by", "written_by")
ROW_TEXT = "text"
SPAN = "INTERVAL"  # no type of Parquet's that frames can hold: written as seconds
PSEUDONYMS = "person_numbers"
Tables = Mapping[str, Mapping[str, str]]
NUMBERED = f"""
    create or replace temp table {PSEUDONYMS} as
    with persons as (
        select taken_by as name from raw_switches
        union select written_by from raw_tickets
        union select recorded_by from raw_reels
        union select ruled_by from raw_rulings
    )
    select name, 'person ' || row_number() over (order by name) as pseudonym from persons where name is not null
"""


def readable_tables(store: Store) -> Tables:
    """The tables and their columns; makes the temporary table of pseudonyms that `table_select` reads beside them.

    ``store`` may be open for reading only.
    """
    tables = store.tables()
    store.run(NUMBERED)
    return {name: columns for name, columns in tables.items() if name != PSEUDONYMS}


def table_select(tables: Tables, table: str, *, shows_persons: bool) -> str:
    """The select that reads ``table``, ordered by its key; ``tables`` as `readable_tables` gives them.

    Raises:
        QuestionError: there is no such table.
    """
    columns = tables.get(table)
    if columns is None:
        raise QuestionError(f'There is no table "{table[:60]}". docs/tables.md describes those there are.')
    replaced = [f"epoch(t.{name}) as {name}" for name, sql_type in columns.items() if sql_type == SPAN]
    replaced += [] if shows_persons else [*map(_pseudonym, filter(PERSONS.__contains__, columns))]
    if not shows_persons and ROW_TEXT in columns:
        replaced.append(f"cast(null as varchar) as {ROW_TEXT}")
    shown = f"* replace ({', '.join(replaced)})" if replaced else "*"
    return f"select {shown} from {table} as t order by {_order(table)}"


def export_tables(store: Store, tables: Tables, folder: Path, *, shows_persons: bool) -> tuple[Path, ...]:
    """Write each of ``tables`` to ``folder``/TABLE.parquet, each whole or not at all; same database, same bytes.

    Raises:
        OutputError: the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return tuple(
            _write(store, folder / f"{table}.parquet", table_select(tables, table, shows_persons=shows_persons))
            for table in sorted(tables)
        )
    except (OSError, StoreError) as error:
        raise OutputError(f"The folder {folder} cannot be written: {_why(error)}. Name another, or mend it.") from None


def _write(store: Store, path: Path, select: str) -> Path:
    draft = path.with_name(f"{path.name}.part")
    try:
        store.copy_out(select, draft)
        os.replace(draft, path)  # noqa: PTH105 - one move, whole or not at all
    finally:
        with suppress(OSError):
            draft.unlink(missing_ok=True)
    return path


def _pseudonym(column: str) -> str:
    known = f"(select p.pseudonym from {PSEUDONYMS} as p where p.name = t.{column})"
    return f"case when t.{column} is not null then coalesce({known}, 'person') end as {column}"


def _order(table: str) -> str:
    """The key of a model; of any other table all its columns."""
    keys = {model.name: model.key for model in read_models()}
    return ", ".join(f"t.{name}" for name in keys.get(table, ())) or "all"


def _why(error: OSError | StoreError) -> str:
    return ((error.strerror if isinstance(error, OSError) else None) or str(error)).lower().rstrip(".")
