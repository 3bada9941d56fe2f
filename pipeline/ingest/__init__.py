"""Files to raw tables: every row read is kept or set aside with a reason, and nothing is lost on the way.

The room has one door, `load_site`. After it the database holds what the folder holds: files that are new are loaded,
changed ones loaded anew, those gone taken out, all others left as they are.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl

from pipeline.errors import FeedError, empty_feed
from pipeline.ingest.calendar import write_calendar
from pipeline.ingest.clock_tables import write_clock_tables
from pipeline.ingest.feeds import BOOKINGS, EVENTS, FEEDS, SWITCHES
from pipeline.ingest.find import FoundFile, find_files, hash_file
from pipeline.ingest.ledger import Entry, check_arrivals, enter, has_rows, open_tables, read_ledger, take_out
from pipeline.ingest.loading import load_file
from pipeline.ingest.take_order import write_take_order
from pipeline.results import FileLoad, LoadResult
from pipeline.settings import Settings
from pipeline.store import Store

__all__ = ["load_site"]

NEW_ZONE = "The time zone was {}, now {}: all files are read again."


def load_site(site: Path, settings: Settings, store: Store) -> LoadResult:
    """Make the raw tables of ``store`` equal to the feeds in the folder ``site``.

    To be called inside a transaction, so that an error leaves the database as it was. Writes ``source_files``, a
    ``raw_*`` table a feed, ``raw_set_aside``, and, when anything changed, ``raw_take_order``, ``raw_clock_segments``,
    ``raw_clock_pairs``, ``site_settings``, ``site_months`` and ``site_days``.

    Raises:
        FeedError: a required feed is missing or empty, a file cannot be read, lacks a column, or no row is usable.
        StoreError: rows read did not arrive in the database.
    """
    found = find_files(site)
    open_tables(store)
    before = store.read("select * from site_settings").row(0, named=True) if store.has("site_settings") else {}
    is_moved = bool(before) and before["timezone"] != settings.timezone
    known = read_ledger(store)
    gone = [_take_out_gone(store, entry) for entry in known.values() if entry.file not in {each.file for each in found}]
    loads = [_load(store, each, known, settings, is_moved=is_moved) for each in found]
    check_arrivals(store)
    _check_usable(store, found)
    is_changed = bool(gone) or any(load.action != "unchanged" for load in loads) or before != settings.row()
    if is_changed:
        _write_derived(store, settings)
    notes = (NEW_ZONE.format(before["timezone"], settings.timezone),) if is_moved else ()
    return LoadResult((*loads, *gone), is_changed, notes)


def _load(store: Store, found: FoundFile, known: dict[str, Entry], settings: Settings, *, is_moved: bool) -> FileLoad:
    sha256, size_bytes = hash_file(found)
    entry = known.get(found.file)
    if entry is not None and entry.sha256 == sha256 and entry.feed == found.feed.name and not is_moved:
        return FileLoad(found.file, entry.feed, sha256, "unchanged", entry.read_count)
    if entry is not None:
        take_out(store, entry)
    fresh = load_file(store, found, sha256, size_bytes, zone=settings.zone)
    enter(store, found, size_bytes, fresh)
    return FileLoad(found.file, fresh.feed, sha256, "reloaded" if entry else "loaded", fresh.read_count)


def _take_out_gone(store: Store, entry: Entry) -> FileLoad:
    take_out(store, entry)
    return FileLoad(entry.file, entry.feed, entry.sha256, "gone", entry.read_count)


def _check_usable(store: Store, found: list[FoundFile]) -> None:
    entries = read_ledger(store)
    for feed in FEEDS:
        files = [each.file for each in found if each.feed is feed]
        if feed.is_required and all(entries[file].missing_columns is None for file in files):
            raise empty_feed(files[0], feed.required)
    for feeds in ((EVENTS, SWITCHES), (BOOKINGS,)):
        if not has_rows(store, *feeds):
            raise FeedError(_no_rows(store, " or ".join(feed.name for feed in feeds)))


def _no_rows(store: Store, feeds: str) -> str:
    reason = store.read(
        "select file, line, reason from raw_set_aside where list_contains(string_split(?, ' or '), feed) "
        "order by file, line limit 1",
        [feeds],
    )
    first = "".join(f" The first was set aside: {file}, line {line}: {why}" for file, line, why in reason.iter_rows())
    return f"No row of {feeds} is usable.{first or ' The files hold a header and no rows.'}"


def _write_derived(store: Store, settings: Settings) -> None:
    store.write("site_settings", pl.DataFrame([settings.row()]))
    write_calendar(store, settings)
    write_take_order(store)
    write_clock_tables(store, settings.start_delay_s)
