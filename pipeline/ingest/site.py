"""The door of the room: makes the raw tables of the database equal to what the site folder holds.

Files that are new are loaded, those that grew have their tail loaded, changed ones are loaded anew, those gone or
withdrawn are taken out, all others left as they are.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from pipeline.errors import FeedError, empty_feed
from pipeline.ingest.archived import leave_archived
from pipeline.ingest.arrivals import Arrivals
from pipeline.ingest.calendar import write_calendar
from pipeline.ingest.clocks.clock_tables import write_clock_tables
from pipeline.ingest.feeds import BOOKINGS, EVENTS, FEEDS, SWITCHES
from pipeline.ingest.find import FoundFile, find_files, hash_start
from pipeline.ingest.ledger import (
    Entry,
    check_arrivals,
    has_rows,
    open_tables,
    read_ledger,
    read_withdrawn,
    take_out,
    write_history,
)
from pipeline.ingest.loading import Loader
from pipeline.ingest.mapping.feed_tables import read_site_feeds
from pipeline.ingest.readers import Tail, forget_answers, query_size
from pipeline.ingest.reading_seal import reading_seal
from pipeline.ingest.repeats import spans_of, write_repeats
from pipeline.ingest.rising import Rising, Span
from pipeline.ingest.take_order import write_take_order
from pipeline.ingest.unread import Known, Look, know_file, read_looks, write_looks
from pipeline.machine import core_count
from pipeline.results import FileLoad, LoadResult
from pipeline.settings import Settings
from pipeline.store import Store

NEW_ZONE = "The time zone was {}, now {}: all files are read again."
Progress = Callable[[str, int, int, int], None]  # file, bytes before it, bytes in all, rows of it so far


def load_site(
    site: Path,
    settings: Settings,
    store: Store,
    *,
    again: Collection[str] = (),
    verify: bool = False,
    progress: Progress | None = None,
) -> LoadResult:
    """Make the raw tables of ``store`` equal to the feeds in the folder ``site``.

    To be called inside a transaction, so that an error leaves the database as it was. Writes ``source_files``, a
    ``raw_*`` table a feed, ``raw_set_aside``, ``raw_findings``, ``load_history``, and, when anything changed,
    ``raw_take_order``, ``raw_clock_segments``, ``raw_clock_pairs``, ``site_settings``, ``site_months`` and
    ``site_days``. Files named in ``again`` are read again though they did not change. A file with the size and the time
    of change that it was loaded with is believed to be unchanged, unless ``verify``.

    Raises:
        SiteError: a [[feeds]] table cannot be used.
        FeedError: a required feed is missing or empty, a file cannot be read, lacks a column, or no row is usable.
        StoreError: rows read did not arrive in the database.
    """
    feeds = read_site_feeds(site, settings)
    found = find_files(site, feeds.tables)
    forget_answers()
    open_tables(store)
    before = store.read("select * from site_settings").row(0, named=True) if store.has("site_settings") else {}
    known, withdrawn = read_ledger(store), read_withdrawn(store)
    looks = {} if verify else read_looks(store)
    with ThreadPoolExecutor(core_count()) as pool:  # a file is hashed without a hold on the others
        seen = list(
            pool.map(lambda each: _seen(each, reading_seal(each, settings, feeds), known.get(each.file), looks), found)
        )
    kept = [each for each in seen if (each.found.file, each.fresh.sha256) not in withdrawn]
    gone = leave_archived(store, _gone(known, seen, {each.found.file for each in kept}))
    spans = spans_of(store, _leaving(known, kept, again))
    for load in gone:
        take_out(store, known[load.file])
    with Arrivals(store) as arrivals:
        loader = Loader(store, settings, feeds, _told(progress, kept), arrivals)
        loads = [_load(loader, each, known.get(each.found.file), is_again=each.found.file in again) for each in kept]
        arrivals.flush()
    check_arrivals(store)
    _check_usable(store, [each.found for each in kept])
    is_changed = any(load.action != "unchanged" for load in (*loads, *gone)) or before != settings.row()
    if is_changed:
        write_looks(store, {each.found.file: each.known for each in kept if each.known is not None})
        others = {load.file for load in loads if load.action != "unchanged"} - arrivals.rising.files.keys()
        spans += spans_of(store, sorted(others))
        write_derived(store, settings, spans, arrivals.rising)
        write_history(store, (*loads, *gone))
    is_moved = bool(before) and before["timezone"] != settings.timezone
    notes = (NEW_ZONE.format(before["timezone"], settings.timezone),) if is_moved else ()
    return LoadResult((*loads, *gone), is_changed, notes)


@dataclass(frozen=True)
class _Seen:
    """A file as it lies in the folder, and the entry it will have."""

    found: FoundFile
    fresh: Entry
    known: Known | None


def _told(progress: Progress | None, files: list[_Seen]) -> Callable[[str, int], None]:
    """Tells ``progress`` of rows read of a file, with the bytes that stand before it."""
    before: dict[str, int] = {}
    whole = 0
    for each in files:
        before[each.found.file] = whole
        whole += each.fresh.size_bytes
    return lambda file, rows: progress(file, before[file], whole, rows) if progress else None


def _seen(found: FoundFile, seal: str, entry: Entry | None, looks: Mapping[str, Look]) -> _Seen:
    known = None if found.format == "sql" else know_file(found, entry.sha256 if entry else None, looks)
    sha256, size_bytes = query_size(found) if known is None else (known.sha256, known.size_bytes)
    is_mapped = found.table is not None
    fresh = Entry(found.file, found.feed.name, found.format_name, sha256, size_bytes, 0, None, seal, None, is_mapped)
    return _Seen(found, fresh, known)


def _gone(known: dict[str, Entry], seen: list[_Seen], kept: set[str]) -> list[FileLoad]:
    """Files of the ledger that are no longer in the folder, and those that a person withdrew."""
    there = {each.found.file for each in seen}
    return [
        FileLoad(file, entry.feed, entry.sha256, "withdrawn" if file in there else "gone", entry.read_count)
        for file, entry in known.items()
        if file not in kept
    ]


def _load(loader: Loader, seen: _Seen, entry: Entry | None, *, is_again: bool) -> FileLoad:
    found, fresh = seen.found, seen.fresh
    is_same = entry is not None and (entry.sha256, entry.feed) == (fresh.sha256, fresh.feed)
    if entry is not None and is_same and entry.reading == fresh.reading and not is_again:
        return FileLoad(found.file, entry.feed, fresh.sha256, "unchanged", entry.read_count)
    tail = _tail(found, entry, fresh) if entry is not None and not is_again else None
    if entry is not None and tail is not None:
        start = replace(fresh, read_count=entry.read_count, missing_columns=entry.missing_columns)
        loaded = loader.load(found, start, tail)
        loader.arrivals.enter(loaded)
        return FileLoad(
            found.file, fresh.feed, fresh.sha256, "grown", loaded.read_count - entry.read_count, entry.sha256
        )
    if entry is not None:
        take_out(loader.arrivals.settled(), entry)
    loaded = loader.load(found, fresh)
    loader.arrivals.enter(loaded)
    if entry is None:
        return FileLoad(found.file, fresh.feed, fresh.sha256, "loaded", loaded.read_count)
    action = "read again" if is_same else "changed"
    return FileLoad(found.file, fresh.feed, fresh.sha256, action, loaded.read_count, entry.sha256)  # type: ignore[arg-type]


def _tail(found: FoundFile, entry: Entry, fresh: Entry) -> Tail | None:
    """Where what was appended begins, if the file holds all that it held and what follows can be read alone."""
    if entry.headers is None or entry.reading != fresh.reading or not 0 < entry.size_bytes < fresh.size_bytes:
        return None
    sha256, lines = hash_start(found, entry.size_bytes)
    if sha256 != entry.sha256 or lines is None:
        return None
    return Tail(entry.size_bytes, lines + 1, tuple(json.loads(entry.headers)))


def _check_usable(store: Store, found: list[FoundFile]) -> None:
    entries = read_ledger(store)
    for feed in FEEDS:
        files = [each.file for each in found if each.feed is feed]
        if feed.is_required and all(entries[file].missing_columns is None for file in files):
            if not files:
                raise FeedError(f"Every file of {feed.name} was withdrawn. Put one back: airhours withdraw --back.")
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


def _leaving(known: dict[str, Entry], kept: list[_Seen], again: Collection[str]) -> list[str]:
    """Files of which rows may be taken out, or be joined by others."""
    fresh = {each.found.file: (each.fresh.sha256, each.fresh.feed, each.fresh.reading) for each in kept}
    return [
        file
        for file, entry in known.items()
        if file in again or fresh.get(file) != (entry.sha256, entry.feed, entry.reading)
    ]


def write_derived(
    store: Store, settings: Settings, spans: list[Span] | None = None, rising: Rising | None = None
) -> None:
    """Write what follows from the rows and the settings; without ``spans`` all rows are looked through for repeats."""
    write_repeats(store, spans, rising)
    store.write("site_settings", pl.DataFrame([settings.row()]))
    write_calendar(store, settings)
    write_take_order(store)
    write_clock_tables(store, settings.start_delay_s)
