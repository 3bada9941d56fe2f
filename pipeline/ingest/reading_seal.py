"""One word for how a file is read, so that a mended [[feeds]] table, a new zone or a new reader reads it again."""

from __future__ import annotations

from pathlib import Path

from pipeline.digests import digest
from pipeline.ingest.find import FoundFile
from pipeline.ingest.mapping.feed_tables import SiteFeeds
from pipeline.settings import Settings
from pipeline.source_seal import source_seal


def reading_seal(found: FoundFile, settings: Settings, feeds: SiteFeeds) -> str:
    """The sha256 of all that decides what the bytes of ``found`` become: its table, zone, renumberings and readers.

    The place of the table in site.toml does not count, so that another table before it reads nothing again.
    """
    table = None if found.table is None else {**vars(found.table), "number": 0, "feed": found.feed.name}
    site = (settings.timezone, settings.day_starts, feeds.renumbered, feeds.date_order, feeds.normal_reels)
    return digest(repr((table, site, readers_seal())))


def readers_seal() -> str:
    """The sha256 of this program's readers."""
    return source_seal(Path(__file__).resolve().parent)
