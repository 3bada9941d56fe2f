"""How the schema of each version becomes the next one's. A step is never changed once a version that has it is out.

A step is a function on the open database, inside the run's transaction. It keeps every row read, with file, line and
text, every entry of the ledger, what was withdrawn and what loads there were. To add one: raise ``VERSION``, write the
schema's file, name the step here, and put a database of the version before under tests/upgrade.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from pipeline.ingest import event_rows, ledger, repeats
from pipeline.store import Store

Step = Callable[[Store], None]
ROWS_AT_ONCE = 500_000  # of events, so that memory does not grow with the site


def hold_events_lean(store: Store) -> None:
    """To version 2: rows of events without what can be written again from the rest; repeats noted; the version stated.

    The rows go over in their order. ``raw_events`` becomes the view that writes them whole.
    """
    store.run("alter table raw_events rename to raw_events_before")
    fresh = (
        (event_rows.TABLE, event_rows.COLUMNS),
        (repeats.TABLE, repeats.COLUMNS),
        (ledger.TIMES, ledger.TIME_COLUMNS),
    )
    for table, columns in fresh:
        store.run(f"create table {table} ({', '.join(f'{name} {sql_type}' for name, sql_type in columns)})")
    count = store.value("select coalesce(max(rowid) + 1, 0) from raw_events_before")
    for first in range(0, count, ROWS_AT_ONCE):
        rows = store.read(
            "select * from raw_events_before where rowid >= ? and rowid < ? order by rowid",
            [first, first + ROWS_AT_ONCE],
        )
        if rows.height:
            store.append(event_rows.TABLE, event_rows.lean_rows(rows))
    store.run("drop table raw_events_before")
    event_rows.make_view(store)
    repeats.write_repeats(store)
    store.run("create table schema_version (version bigint)")  # filled once all steps are done


STEPS: Mapping[int, Step] = {2: hold_events_lean}
"""By the version that each leads to."""
