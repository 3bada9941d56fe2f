"""Which version of the schema a database has, and what the tables of the loading were in each.

The schema is that of what cannot be made again without the exports: rows, ledger, withdrawals and the history of the
loads. Models and figures are made anew by every program, so that they need no version.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from pipeline.errors import StoreError
from pipeline.store import Store

VERSION = 2
"""The version of the schema that this program writes."""
FIRST = 1
"""That of the databases which state none."""
TABLE = "schema_version"
LEDGER = {"file", "feed", "format", "sha256", "size_bytes", "read_count"}  # of every version's source_files
SCHEMAS = Path(__file__).resolve().parent / "schemas"

Schema = dict[str, dict[str, str]]  # table → column → type


def version_of(store: Store) -> int | None:
    """The version of the schema of an open database; None where it has no ledger, being new or another program's."""
    if not LEDGER.issubset(store.columns("source_files")):
        return None
    if set(store.columns(TABLE)) != {"version"}:
        return FIRST
    stated = store.value(f"select max(version) from {TABLE}")
    return FIRST if stated is None else int(stated)


def refuse_newer(store: Store) -> None:
    """Refuse a database that a newer program made: what it holds beyond our tables would be lost or misread.

    Raises:
        StoreError: it is one.
    """
    version = version_of(store)
    if version is not None and version > VERSION:
        raise StoreError(
            f"{store.path} was made by a newer version of airhours: its schema is version {version}, and this program"
            f" knows those up to {VERSION}. Install the newer airhours, or name another file with --database."
        )


def state_version(store: Store) -> None:
    """Have the database state this program's version; nothing is written where it does."""
    if version_of(store) != VERSION or not store.has(TABLE):
        store.run(f"create or replace table {TABLE} as select cast({VERSION} as bigint) as version")


@cache
def schema_of(version: int) -> Schema:
    """The tables of the loading as they were in ``version``."""
    told: Schema = tomllib.loads((SCHEMAS / f"version_{version}.toml").read_text(encoding="utf-8"))
    return told


def has_schema(store: Store, version: int) -> bool:
    """Whether the tables of the loading are, column by column, those of ``version``, and none of them a view."""
    there, wanted = store.tables(), schema_of(version)
    views = store.read("select table_name from information_schema.tables where table_type = 'VIEW'")["table_name"]
    if not wanted.keys().isdisjoint(views):
        return False
    return all(there.get(table) == columns for table, columns in wanted.items())
