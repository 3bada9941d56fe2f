"""Brings a database of an older version to this one's schema, so that nothing need be read again for it."""

from __future__ import annotations

import re

from pipeline.archived_parts import PARTS
from pipeline.errors import StoreError
from pipeline.store import Store
from pipeline.upgrade.steps import STEPS
from pipeline.upgrade.versions import VERSION, has_schema, refuse_newer, state_version, version_of

MADE_ANEW = re.compile(r"(clean|core|metric|measure|check)_\w+")  # by every run of another program


def bring_up(store: Store) -> tuple[str, ...]:
    """Bring ``store`` to this program's schema, inside a transaction; returns what was done, in sentences.

    A new database is left to whoever makes its tables, and one whose tables are those of no known version to the
    loading, which makes them anew from the exports.

    Raises:
        StoreError: a newer program made it.
    """
    refuse_newer(store)
    version = version_of(store)
    if version is not None and store.has(PARTS) and not has_schema(store, VERSION):
        raise StoreError(
            f"{store.path} has an archive and is of another version, which cannot be brought up as long as it has. Take"
            " the archive in again with airhours archive --back of the version that made it."
        )
    if version is None or version == VERSION or not has_schema(store, version):
        return ()
    for step in range(version + 1, VERSION + 1):
        STEPS[step](store)
    state_version(store)
    _drop_what_is_made_anew(store)
    return (f"the database was of schema version {version} and is now of version {VERSION}; its rows are kept",)


def _drop_what_is_made_anew(store: Store) -> None:
    """Models of the older program, of which this one may have fewer, or others by the same name."""
    kinds = store.read("select table_name, table_type from information_schema.tables order by all")
    for table, kind in kinds.iter_rows():
        if MADE_ANEW.fullmatch(table):
            store.run(f"drop {'view' if kind == 'VIEW' else 'table'} {table}")
