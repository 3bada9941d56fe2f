"""What the tables were last made of: noted at each build, compared at the next.

``built_from`` is one word for the models' texts, this room's program and the site's settings. ``built_lines`` says of
each file of the machine logs, and each machine in it, which bytes they were, from which stamp on and up to which line.
``built_segments`` are the clocks as they were taken.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pipeline.digests import digest
from pipeline.source_seal import source_seal
from pipeline.sql_files import Model
from pipeline.store import Store

SEAL = "built_from"
LINES = "built_lines"
SEGMENTS = "built_segments"
FEED = "f.feed = 'events'"
LINES_OF = f"""
    select
        f.file, f.sha256, f.reading, e.machine,
        min(e.stamped_at_utc) as first_stamped_at_utc,
        max(e.line) as last_line,
        count(*) filter (e.event = 'alive') as alive_count,
        count(*) filter (e.event = 'lock') as lock_count
    from source_files as f
    inner join raw_events as e on f.file = e.file
    where {FEED}
    group by f.file, f.sha256, f.reading, e.machine
"""


def has_marks(store: Store, models: Iterable[Model]) -> bool:
    """Whether every table stands and was made by these models with these settings."""
    there = store.read("select distinct table_name from information_schema.tables where table_schema = 'main'")
    listed = tuple(models)
    wanted = {SEAL, LINES, SEGMENTS, *(model.name for model in listed)}
    return wanted <= set(there["table_name"]) and store.value(f"select seal from {SEAL}") == _seal_of(store, listed)


def note_lines(store: Store) -> None:
    """Bring ``built_lines`` up to date; of files that are as they were noted, nothing is read."""
    if not store.has(LINES):
        store.run(f"create table {LINES} as {LINES_OF} limit 0")
    left = "select 1 from source_files as f where f.file = b.file and f.sha256 = b.sha256 and f.reading = b.reading"
    store.run(f"delete from {LINES} as b where not exists ({left})")
    new = f"{FEED} and f.file not in (select file from {LINES})"
    store.run(f"insert into {LINES} {LINES_OF.replace(FEED, new)}")


def set_marks(store: Store, models: Iterable[Model]) -> None:
    """Note what the tables are made of now."""
    note_lines(store)
    store.run(f"create or replace table {SEGMENTS} as select * from raw_clock_segments")
    store.run(f"create or replace table {SEAL} as select ? as seal", [_seal_of(store, models)])


def forget_marks(store: Store) -> None:
    """Have the next build make every table anew."""
    store.run(f"drop table if exists {SEAL}")


def _seal_of(store: Store, models: Iterable[Model]) -> str:
    settings = store.read("select * from site_settings").rows()
    texts = sorted((model.name, model.sql, model.renewed) for model in models)
    builders = source_seal(Path(__file__).resolve().parent)
    return digest(repr((texts, settings, builders)))
