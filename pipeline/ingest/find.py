"""Finds the files of each feed in a site folder, in one order that no file system decides."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import file_digest
from pathlib import Path

from pipeline.errors import FeedError, missing_feed
from pipeline.ingest.feeds import FEEDS, Feed

NAME = re.compile(r".*\.(?:(csv|jsonl)(?:\.(gz|zst))?|(parquet))", re.IGNORECASE | re.DOTALL)

CLEAN = re.compile(r"[^\x00-\x1f\x7f\ud800-\udfff]*")


@dataclass(frozen=True)
class FoundFile:
    """A feed file: where it is, its name within the site, and how it is written.

    ``format`` is csv, jsonl or parquet; ``packing`` is gz, zst or empty.
    """

    path: Path
    file: str
    feed: Feed
    format: str
    packing: str

    @property
    def format_name(self) -> str:
        """Format and packing as one word, such as ``csv.gz``."""
        return f"{self.format}.{self.packing}" if self.packing else self.format


def find_files(site: Path) -> list[FoundFile]:
    """The files of all feeds, feed by feed, each sorted by path.

    A feed is found as ``<feed>.EXT``, in pieces as ``<feed>-*.EXT``, or in a folder as ``<feed>/*.EXT``, where EXT is
    csv, jsonl or parquet, the first two also with .gz or .zst. Names that begin with a dot are passed over: they are
    what file systems and editors leave behind.

    Raises:
        FeedError: a required feed has no file, the folder cannot be listed, or a file name is not UTF-8.
    """
    found: list[FoundFile] = []
    for feed in FEEDS:
        files = sorted(_files_of(site, feed), key=lambda each: each.file)
        if feed.is_required and not files:
            raise missing_feed(feed.name, feed.pattern)
        found += files
    return found


def hash_file(found: FoundFile) -> tuple[str, int]:
    """The SHA-256 in hex, and the size in bytes, of the file as stored.

    Raises:
        FeedError: it cannot be read.
    """
    try:
        with found.path.open("rb") as stream:
            return file_digest(stream, "sha256").hexdigest(), stream.tell()
    except OSError as error:
        raise unreadable(found.file, error) from None


def unreadable(file: str, error: Exception | str) -> FeedError:
    """The error for a file that cannot be opened, unpacked or read as what its name says."""
    why = " ".join(str(getattr(error, "strerror", None) or error).split()) or type(error).__name__
    return FeedError(f'"{file}" cannot be read: {why[:200]}. Export it again, or move it out of the site folder.')


def _files_of(site: Path, feed: Feed) -> Iterator[FoundFile]:
    for path in _candidates(site, feed.name):
        match = NAME.fullmatch(path.name)
        if match and not path.name.startswith(".") and path.is_file():
            text, packing, table = match.groups()
            file = path.relative_to(site).as_posix()
            if not CLEAN.fullmatch(file):
                raise FeedError(f"{file!a} has a name that is not plain UTF-8 text. Rename it and run again.")
            yield FoundFile(path, file, feed, (text or table).lower(), (packing or "").lower())


def _candidates(site: Path, name: str) -> Iterator[Path]:
    try:
        for path in site.iterdir():
            if path.name == name and path.is_dir():
                yield from path.iterdir()
            elif path.name.startswith((f"{name}.", f"{name}-")):
                yield path
    except OSError as error:
        raise unreadable(str(getattr(error, "filename", None) or site), error) from None
