"""How the site folder stands against the database: what the next run would load, and what site.toml names in vain.

Nothing is written, and no query is put to another database: what it would answer shows when it is run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from pipeline.ingest.archived import archived_files
from pipeline.ingest.feeds import FEEDS
from pipeline.ingest.find import FoundFile, find_files_of, hash_file
from pipeline.ingest.ledger import Entry, read_ledger, read_withdrawn
from pipeline.ingest.mapping.feed_tables import FeedTable, read_site_feeds
from pipeline.ingest.unread import Look, is_as_it_was, read_looks
from pipeline.settings import read_settings
from pipeline.store import Store


@dataclass(frozen=True)
class FileStanding:
    """A file that the next run would treat otherwise than the last one left it: new, changed (or grown), or gone."""

    file: str
    feed: str
    standing: str


@dataclass(frozen=True)
class Wanting:
    """A feed that no file brings: named by the [[feeds]] table of that number, or, number 0, by its usual name."""

    feed: str
    table: int
    paths: tuple[str, ...]
    is_required: bool


@dataclass(frozen=True)
class Standing:
    """The files that are not loaded as they lie there, and the feeds without a file."""

    files: tuple[FileStanding, ...]
    wanting: tuple[Wanting, ...]


def site_standing(site: Path, store: Store) -> Standing:
    """Compare the folder ``site`` with the ledger of ``store``; a file is read as a whole only if its size is the same
    and its time is not.

    Raises:
        SiteError: site.toml cannot be used.
        FeedError: a file cannot be read.
    """
    tables = read_site_feeds(site, read_settings(site)).tables
    found = {feed.name: find_files_of(site, feed, [table for table in tables if table.feed is feed]) for feed in FEEDS}
    files = [each for own in found.values() for each in own]
    return Standing(tuple(_differing(store, files)), tuple(_wanting(tables, found)))


def _differing(store: Store, found: list[FoundFile]) -> Iterator[FileStanding]:
    known, withdrawn, looks = read_ledger(store), read_withdrawn(store), read_looks(store)
    for each in found:
        entry = known.get(each.file)
        if each.format != "sql" and not _is_left(each, entry, withdrawn, looks):
            yield FileStanding(each.file, each.feed.name, "changed" if entry is not None else "new")
    there = {each.file for each in found} | archived_files(store)
    yield from (FileStanding(file, entry.feed, "gone") for file, entry in known.items() if file not in there)


def _is_left(found: FoundFile, entry: Entry | None, withdrawn: set[tuple[str, str]], looks: Mapping[str, Look]) -> bool:
    """Whether the next run leaves the file as it is: its bytes are those that were loaded, or that were withdrawn."""
    if entry is not None and is_as_it_was(found, looks):
        return True
    may_be_same = entry is not None and found.path.stat().st_size == entry.size_bytes
    if not may_be_same and all(file != found.file for file, _ in withdrawn):
        return False
    sha256 = hash_file(found)[0]
    return (entry is not None and entry.sha256 == sha256) or (found.file, sha256) in withdrawn


def _wanting(tables: tuple[FeedTable, ...], found: dict[str, list[FoundFile]]) -> Iterator[Wanting]:
    for feed in FEEDS:
        own = [table for table in tables if table.feed is feed]
        if not own and not found[feed.name]:
            yield Wanting(feed.name, 0, (feed.pattern,), feed.is_required)
        used = {each.table.number for each in found[feed.name] if each.table is not None}
        yield from (
            Wanting(feed.name, table.number, table.paths, feed.is_required) for table in own if table.number not in used
        )
