"""The views of a database: what they select is the program's own, so that a backup holds no more than their names."""

from __future__ import annotations

from collections.abc import Collection

from pipeline.errors import StoreError
from pipeline.ingest.event_rows import VIEW
from pipeline.ingest.feeds import EVENTS
from pipeline.keeping.holding import FRESH
from pipeline.sql_files import read_models
from pipeline.store import Store


def known_views() -> dict[str, str]:
    """By name what each view of this program selects, those that others read first."""
    return {EVENTS.table: VIEW} | {model.name: model.sql for model in read_models() if model.is_view}


def own_views(store: Store) -> tuple[str, ...]:
    """The names of the views of an open database.

    Raises:
        StoreError: one is not the program's own.
    """
    named = store.read(
        "select view_name from duckdb_views()"
        " where not internal and not temporary and database_name = current_database() order by all"
    )
    for view in named["view_name"]:
        if view not in known_views():
            raise StoreError(f"{store.path} holds the view {view}, which is not airhours' own. Take it away first.")
    return tuple(named["view_name"])


def make_views(store: Store, names: Collection[str]) -> None:
    """Make the views ``names`` in the attached draft, whose tables are there.

    One that this program does not know, or whose tables are another program's, is left to the next run, which makes all
    models anew then.
    """
    own = store.value("select current_database()")
    store.run(f"use {FRESH}")
    try:
        for name, select in known_views().items():
            if name in names and not _lacks(store, name):
                store.run(f'create view "{name}" as {select}')
    finally:
        store.run(f'use "{own}"')


def _lacks(store: Store, name: str) -> bool:
    """Whether a table or view that the view reads is not in the draft."""
    reads = {model.name: model.reads for model in read_models()}.get(name, ())
    return any(not store.value(PRESENT, [FRESH, table]) for table in reads)


PRESENT = """
    select count(*) from information_schema.tables where table_catalog = ? and table_name = ?
"""
