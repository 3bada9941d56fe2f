"""What the database answers without a run: the figures of the last one, what is loaded, what was set aside and why."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.archived_parts import require_whole
from pipeline.errors import BusyStoreError, StoreError
from pipeline.outputs import DATA, FIGURES, program_seal
from pipeline.places import DATABASE, REPORTS
from pipeline.settings import Settings, settings_of_row
from pipeline.store import Store
from pipeline.upgrade.versions import refuse_newer

FILES = """
    with stamps as (
        select file, min(stamped_at_utc) as first_at_utc, max(stamped_at_utc) as last_at_utc
        from raw_events group by file
        union all
        select file, min(at_utc), max(at_utc) from raw_switches group by file
        union all
        select file, min(opened_at_utc), max(opened_at_utc) from raw_tickets group by file
        union all
        select file, min(started_at_utc), max(ended_at_utc) from raw_bookings group by file
    )
    select
        f.file, f.feed, f.format, f.sha256, f.size_bytes,
        f.read_count, f.kept_count, f.repeat_count, f.set_aside_count, s.first_at_utc, s.last_at_utc
    from core_files as f
    left join stamps as s on f.file = s.file
    order by f.feed, f.file
"""
SET_ASIDE = """
    select feed, file, line, reason, text from core_set_aside
    where (? = '' or feed = ?) and (? = '' or file = ?) and contains(lower(reason), lower(?))
    order by feed, file, line
"""
HISTORY = """
    select load_no, loaded_at_utc, action, file, feed, rows_count, sha256, was_sha256
    from load_history order by load_no, file
"""
WITHDRAWN = "select file, sha256 from withdrawn_files order by file, sha256"


def read_figures(site: Path, database: Path | None = None) -> dict[str, Any]:
    """The figures of the last run of ``site``; while another run is at work, those that stand in its pages.

    Raises:
        StoreError: there was none yet, or a run is at work and there are no pages.
    """
    try:
        with open_last_run(site, database) as store:
            return figures_of(store)
    except BusyStoreError:
        published = site / REPORTS / DATA / FIGURES
        if database is not None or not published.is_file():
            raise
        figures: dict[str, Any] = json.loads(published.read_text(encoding="utf-8"))
        return figures


def read_files(site: Path, database: Path | None = None) -> pl.DataFrame:
    """One row a loaded file: its account, and its first and last stamp in naive UTC (null where the feed has none).

    Raises:
        StoreError: there was no run yet.
    """
    with open_last_run(site, database) as store:
        return store.read(FILES)


def read_history(site: Path, database: Path | None = None) -> pl.DataFrame:
    """One row a file of each load that changed anything; ``loaded_at_utc`` is when, by the clock of the computer.

    Raises:
        StoreError: there was no run yet.
    """
    with open_last_run(site, database) as store:
        return store.read(HISTORY)


def read_withdrawn(site: Path, database: Path | None = None) -> pl.DataFrame:
    """File and sha256 of what a person took out.

    Raises:
        StoreError: there was no run yet.
    """
    with open_last_run(site, database) as store:
        return store.read(WITHDRAWN)


def read_set_aside(
    site: Path, database: Path | None = None, *, feed: str = "", file: str = "", reason: str = ""
) -> pl.DataFrame:
    """One row a row set aside: feed, file, line, reason and its text, of one feed, file or part of a reason if named.

    Raises:
        StoreError: there was no run yet.
    """
    with open_last_run(site, database) as store:
        return store.read(SET_ASIDE, [feed, feed, file, file, reason])


def open_last_run(site: Path, database: Path | None = None) -> Store:
    """The database of ``site`` as its last run left it, open for reading only.

    Raises:
        StoreError: there was no run yet, or another process holds the file.
    """
    path = database if database is not None else site / DATABASE
    if not path.is_file():
        raise StoreError(f"{path} does not exist. Run airhours run {site} first.")
    store = Store(path, read_only=True)
    try:
        refuse_newer(store)
        require_whole(store)
    except StoreError:
        store.close()
        raise
    if not store.has("run_seal") or not store.has("load_history"):
        store.close()
        raise StoreError(f"{path} holds no finished run of this version. Run airhours run {site} first.")
    return store


def open_own_run(site: Path, database: Path | None = None) -> Store:
    """The same, of a run of this very program: for an answer that reads the tables behind the figures.

    Raises:
        StoreError: there was no run yet, or it was made by another version.
    """
    store = open_last_run(site, database)
    if store.value("select seal from run_seal") != program_seal():
        store.close()
        raise StoreError(f"{store.path} was made by another version of airhours. Run airhours run {site} first.")
    return store


def settings_of(store: Store) -> Settings:
    """The settings of the last run: site.toml may say something else by now, and the figures were made by these."""
    return settings_of_row(store.read("select * from site_settings").row(0, named=True))


def figures_of(store: Store) -> dict[str, Any]:
    """The figures of the last run, from its open database."""
    figures: dict[str, Any] = json.loads(store.value("select figures from run_seal"))
    return figures
