"""Finds the files of each feed in a site folder, in one order that no file system decides."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import file_digest, sha256
from pathlib import Path

from pipeline.errors import FeedError, missing_feed, unreadable
from pipeline.ingest.feeds import FEEDS, Feed
from pipeline.ingest.mapping.feed_tables import FeedTable
from pipeline.ingest.text.archives import zip_members

NAME = re.compile(r".*\.(?:(csv|jsonl)(?:\.(gz|zst|zip))?|(parquet)|(zip))", re.IGNORECASE | re.DOTALL)
PACKED = re.compile(r"(.*)\.(gz|zst|zip)", re.IGNORECASE | re.DOTALL)
CLEAN = re.compile(r"[^\x00-\x1f\x7f\ud800-\udfff]*")
FORMATS_BY_END = {
    **dict.fromkeys(("csv", "tsv", "tab", "txt"), "csv"),
    **dict.fromkeys(("xlsx", "xlsm", "xlsb", "xls", "ods"), "excel"),
    **dict.fromkeys(("jsonl", "ndjson"), "jsonl"),
    "parquet": "parquet",
    **dict.fromkeys(("log", "syslog"), "syslog"),
    **dict.fromkeys(("ics", "ical"), "calendar"),
}
UNPACKED_ONLY = ("parquet", "excel")
BLOCK = 1 << 20


@dataclass(frozen=True)
class FoundFile:
    """A feed file: where it is, its name within the site, how it is written, and the [[feeds]] table that names it.

    ``format`` is one of ``feed_tables.FORMATS``; ``packing`` is gz, zst, zip or empty; ``member`` is the file's name in
    a zip archive. A file without a table is written as the contract has it. A query has no path.
    """

    path: Path
    file: str
    feed: Feed
    format: str
    packing: str
    member: str = ""
    table: FeedTable | None = None

    @property
    def format_name(self) -> str:
        """Format and packing as one word, such as ``csv.gz``."""
        return f"{self.format}.{self.packing}" if self.packing else self.format


def find_files(site: Path, tables: Sequence[FeedTable] = ()) -> list[FoundFile]:
    """The files of all feeds, feed by feed, each sorted by path.

    A feed with [[feeds]] tables has the files that they name. Any other is found as ``<feed>.EXT``, in pieces as
    ``<feed>-*.EXT``, or in a folder as ``<feed>/*.EXT``, where EXT is csv, jsonl or parquet, the first two also with
    .gz, .zst or .zip. Names that begin with a dot or ``~$`` are passed over: they are what file systems, editors
    and office programs leave behind.

    Raises:
        FeedError: a required feed has no file, the folder cannot be listed, a file name is not UTF-8, a link leads out
            of the site, or two tables name one file.
    """
    found: list[FoundFile] = []
    for feed in FEEDS:
        own = [table for table in tables if table.feed is feed]
        files = find_files_of(site, feed, own)
        if feed.is_required and not files:
            raise missing_feed(feed.name, " or ".join(path for table in own for path in table.paths) or feed.pattern)
        found += files
    _check_named_once(found)
    return found


def find_files_of(site: Path, feed: Feed, tables: Sequence[FeedTable]) -> list[FoundFile]:
    """The files of one feed, sorted by path, none where there is none; ``tables`` are those of this feed.

    Raises:
        FeedError: see `find_files`.
    """
    return sorted(_of_tables(site, tables) if tables else _of_names(site, feed), key=lambda each: each.file)


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


def hash_start(found: FoundFile, size_bytes: int) -> tuple[str, int | None]:
    """The SHA-256 in hex of the first ``size_bytes`` of the file, and its lines; None if its last line is not ended.

    A line ends with LF, CR LF or CR, as the readers have it.

    Raises:
        FeedError: it cannot be read.
    """
    digest, lines, last = sha256(), 0, b""
    try:
        with found.path.open("rb") as stream:
            while size_bytes > 0 and (data := stream.read(min(size_bytes, BLOCK))):
                digest.update(data)
                size_bytes -= len(data)
                both = last + data  # a CR LF may lie across two blocks
                lines += data.count(b"\n") + data.count(b"\r") - both.count(b"\r\n")
                last = data[-1:]
    except OSError as error:
        raise unreadable(found.file, error) from None
    return digest.hexdigest(), lines if last == b"\n" else None


def _of_names(site: Path, feed: Feed) -> Iterator[FoundFile]:
    for path in _candidates(site, feed.name):
        match = NAME.fullmatch(path.name)
        if match and _is_file(path):
            text, packing, table, bundle = match.groups()
            file = _name_of(path, site)
            if bundle or (packing or "").lower() == "zip":
                yield from _members(path, file, feed, None)
            else:
                yield FoundFile(path, file, feed, (text or table).lower(), (packing or "").lower())


def _of_tables(site: Path, tables: Sequence[FeedTable]) -> Iterator[FoundFile]:
    for table in tables:
        if table.format == "sql":
            yield FoundFile(Path(), f"query {table.number}", table.feed, "sql", "", table=table)
        for pattern in table.paths if table.format != "sql" else ():
            for path in dict.fromkeys(_matching(site, pattern)):
                if _is_file(path):
                    yield from _of_path(path, _name_of(path, site), table)


def _of_path(path: Path, file: str, table: FeedTable) -> Iterator[FoundFile]:
    packed = PACKED.fullmatch(path.name)
    if packed and packed[2].lower() == "zip":
        yield from _members(path, file, table.feed, table)
        return
    form = table.format or format_of(packed[1] if packed else path.name)
    if packed and form in UNPACKED_ONLY:
        raise FeedError(f"{file}: a packed {form} file cannot be read. Unpack it and run again.")
    yield FoundFile(path, file, table.feed, form, packed[2].lower() if packed else "", table=table)


def _members(path: Path, file: str, feed: Feed, table: FeedTable | None) -> Iterator[FoundFile]:
    """The members of a zip archive that a table or their names say how to read; others are passed over."""
    for member in zip_members(path, file):
        form = (table.format if table else "") or FORMATS_BY_END.get(member.rpartition(".")[2].lower(), "")
        if form in UNPACKED_ONLY:
            raise FeedError(f"{file}: the {form} file {member} in it cannot be read there. Unpack the archive.")
        if form and (table or member.lower().endswith((".csv", ".jsonl"))):
            yield FoundFile(path, f"{file}/{member}", feed, form, "zip", member, table)


def format_of(name: str) -> str:
    """The format that a file's name says; delimited text where it says none."""
    return FORMATS_BY_END.get(name.rpartition(".")[2].lower(), "csv")


def _matching(site: Path, pattern: str) -> list[Path]:
    try:
        return sorted(site.glob(pattern))
    except (OSError, ValueError, NotImplementedError) as error:
        raise unreadable(pattern, error) from None


def _is_file(path: Path) -> bool:
    try:
        return not path.name.startswith((".", "~$")) and path.is_file()
    except (OSError, RuntimeError):  # a link that leads to itself
        return False


def _name_of(path: Path, site: Path) -> str:
    file = path.relative_to(site).as_posix()
    if not CLEAN.fullmatch(file):
        raise FeedError(f"{file!a} has a name that is not plain UTF-8 text. Rename it and run again.")
    if not path.resolve().is_relative_to(site.resolve()):
        raise FeedError(f'"{file}" is a link that leads out of the site folder. Put the file itself there.')
    return file


def _check_named_once(found: Iterable[FoundFile]) -> None:
    seen: dict[str, FoundFile] = {}
    for each in found:
        if each.file in seen:
            first = seen[each.file].table
            tables = " and ".join(table.where for table in (first, each.table) if table)
            raise FeedError(f'"{each.file}" is named twice, by {tables}. Let one of them name it.')
        seen[each.file] = each


def _candidates(site: Path, name: str) -> Iterator[Path]:
    try:
        for path in site.iterdir():
            if path.name == name and path.is_dir():
                yield from path.iterdir()
            elif path.name.startswith((f"{name}.", f"{name}-")):
                yield path
    except OSError as error:
        raise unreadable(str(getattr(error, "filename", None) or site), error) from None
