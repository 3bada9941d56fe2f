"""The [[feeds]] tables of site.toml: how a room's own files are written, checked before any of them is opened."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path, PurePosixPath
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.errors import SiteError, refuse_unknown, wrong_setting
from pipeline.ingest.dialect import Dialect
from pipeline.ingest.feeds import FEEDS, Feed
from pipeline.ingest.mapping.mapping import Mapping
from pipeline.ingest.mapping.mapping_tables import read_mapping
from pipeline.ingest.mapping.renumbering import Renumbered, read_renumbered
from pipeline.ingest.text.encodings import is_encoding
from pipeline.settings import FILE, Settings, read_toml

FORMATS = ("csv", "excel", "jsonl", "parquet", "syslog", "calendar", "sql")
DATE_ORDERS = ("ymd", "dmy", "mdy")
NUMERIC_TIMES = ("epoch_s", "epoch_ms", "epoch_us", "serial_1900", "serial_1904")
MAPPING_KEYS = ("columns", "parts", "constants", "words", "begins", "patterns")
KEYS = (
    *("kind", "path", "format", "timezone", "date_order", "numeric_times", "dates", "year", "day", "timecode_rate"),
    *("delimiter", "quote", "encoding", "decimal", "thousands", "header_row", "sheet", "until"),
    *("connection", "query", "password_from", "empty", *MAPPING_KEYS),
)
# Frame rates that are written short for a ratio with 1001, SMPTE ST 12-1.
SHORT_RATES = {"23.976": 24, "23.98": 24, "29.97": 30, "47.95": 48, "59.94": 60}
NEEDED_BY_SQL = ("connection", "query")
NO_MARKS = ("\n", "\r", "\x00")  # never a delimiter nor a quote
MOST_LINES_ABOVE = 10_000  # a header further down would have all lines above it held in memory


@dataclass(frozen=True)
class FeedTable:
    """One [[feeds]] table. ``number`` is its place in site.toml, from 1; an empty text or None is "not said"."""

    number: int
    feed: Feed
    paths: tuple[str, ...]
    format: str
    zone: ZoneInfo
    date_order: str
    numeric_times: str
    is_broadcast: bool
    year: int | None
    day: date | None
    timecode_rate: Fraction
    dialect: Dialect
    decimal: str
    thousands: str
    sheet: str
    until: date | None
    connection: str
    query: str
    password_from: str
    mapping: Mapping

    @property
    def where(self) -> str:
        """The table as a message names it."""
        return place(self.number, self.feed.name)


@dataclass(frozen=True)
class SiteFeeds:
    """All that site.toml says of the files: its tables, machines that changed their number, and two defaults."""

    tables: tuple[FeedTable, ...]
    renumbered: tuple[Renumbered, ...]
    date_order: str
    normal_reels: bool


def read_site_feeds(site: Path, settings: Settings) -> SiteFeeds:
    """What the site.toml of ``site`` says of its files.

    Raises:
        SiteError: an unknown key, or a value that is not allowed: which table, key and value, and what is allowed.
    """
    values = read_toml(site)
    tables = values.get("feeds", [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise SiteError(f'{FILE}: "feeds" is no list of tables. Begin each with a line [[feeds]].')
    order = _word(values, "date_order", FILE, DATE_ORDERS)
    reels = _word(values, "reel_numbers", FILE, ("normal", "as written"))
    return SiteFeeds(
        tuple(_table(table, number, settings) for number, table in enumerate(tables, start=1)),
        read_renumbered(values.get("renumbered", []), settings),
        order,
        reels == "normal",
    )


def place(number: int, kind: str) -> str:
    """How messages name the [[feeds]] table with that place and kind."""
    return f"{FILE}, [[feeds]] table {number} ({kind})"


def _table(values: dict[str, Any], number: int, settings: Settings) -> FeedTable:
    where = place(number, str(values.get("kind", "no kind")))
    refuse_unknown(values, KEYS, where)
    kinds = {feed.name: feed for feed in FEEDS}
    kind = _word(values, "kind", where, tuple(kinds))
    if not kind:
        raise SiteError(f'{where} has no key "kind". Expected one of {", ".join(kinds)}.')
    feed = kinds[kind]
    table = FeedTable(
        number=number,
        feed=feed,
        paths=_paths(values, where),
        format=_word(values, "format", where, FORMATS),
        zone=_zone(values, where, settings),
        date_order=_word(values, "date_order", where, DATE_ORDERS),
        numeric_times=_word(values, "numeric_times", where, NUMERIC_TIMES),
        is_broadcast=_word(values, "dates", where, ("calendar", "broadcast")) == "broadcast",
        year=_whole(values, "year", where, range(1900, 2200)),
        day=_date(values, "day", where),
        timecode_rate=_rate(values, where, settings),
        dialect=_dialect(values, where),
        decimal=_word(values, "decimal", where, (".", ",")),
        thousands=_text(values, "thousands", where),
        sheet=str(values.get("sheet", "")),
        until=_date(values, "until", where),
        connection=_text(values, "connection", where),
        query=_text(values, "query", where),
        password_from=_text(values, "password_from", where),
        mapping=read_mapping(values, feed, where),
    )
    _check_source(table)
    return table


def _check_source(table: FeedTable) -> None:
    if table.format == "sql":
        for key in NEEDED_BY_SQL:
            if not getattr(table, key):
                raise SiteError(f'{table.where} has format "sql" and no key "{key}". It needs one.')
    elif not table.paths:
        raise SiteError(f'{table.where} has no key "path". Expected one such as "logs/*.csv".')


def _paths(values: dict[str, Any], where: str) -> tuple[str, ...]:
    given = values.get("path", [])
    paths = [given] if isinstance(given, str) else given
    if not isinstance(paths, list) or not all(isinstance(path, str) and path.strip() for path in paths):
        raise wrong_setting(
            where, "path", given, 'a path within the site folder such as "logs/*.csv", or a list of them'
        )
    for path in paths:
        pure = PurePosixPath(path)
        if pure.is_absolute() or ".." in pure.parts or "\\" in path or re.match(r"[A-Za-z]:", path) or "\x00" in path:
            raise wrong_setting(where, "path", path, 'a path within the site folder, with "/" between folders')
    return tuple(paths)


def _zone(values: dict[str, Any], where: str, settings: Settings) -> ZoneInfo:
    name = values.get("timezone", settings.timezone)
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        raise wrong_setting(where, "timezone", name, 'a zone of the IANA list, such as "Europe/Stockholm"') from None


def _rate(values: dict[str, Any], where: str, settings: Settings) -> Fraction:
    value = values.get("timecode_rate", settings.frame_rate)
    if isinstance(value, bool) or not isinstance(value, int | float) or not 1 <= value <= 1000:
        raise wrong_setting(where, "timecode_rate", value, "frames per second such as 25 or 29.97")
    short = SHORT_RATES.get(f"{value:.3f}".rstrip("0"), SHORT_RATES.get(f"{value:.2f}"))
    return Fraction(short * 1000, 1001) if short else Fraction(value).limit_denominator(1001)


def _dialect(values: dict[str, Any], where: str) -> Dialect:
    delimiter, quote = _text(values, "delimiter", where), values.get("quote", '"')
    if len(delimiter) > 1 or delimiter in NO_MARKS or delimiter == quote:
        raise wrong_setting(where, "delimiter", delimiter, 'one character such as ";" or "\\t"')
    if not isinstance(quote, str) or len(quote) > 1 or quote in NO_MARKS:
        raise wrong_setting(where, "quote", quote, "one character, or an empty text for none")
    encoding = _text(values, "encoding", where)
    if encoding and not is_encoding(encoding):
        raise wrong_setting(where, "encoding", encoding, 'one such as "utf-8", "utf-16", "windows-1252" or "mixed"')
    return Dialect(delimiter, quote, encoding, _whole(values, "header_row", where, range(MOST_LINES_ABOVE)))


def _word(values: dict[str, Any], key: str, where: str, allowed: Iterable[str]) -> str:
    value = values.get(key, "")
    if value and value not in (words := tuple(allowed)):
        raise wrong_setting(where, key, value, f"one of {', '.join(words)}")
    return _text(values, key, where)


def _text(values: dict[str, Any], key: str, where: str) -> str:
    return str(_typed(values, key, where, str, "a text") or "")


def _date(values: dict[str, Any], key: str, where: str) -> date | None:
    value: date | None = _typed(values, key, where, date, "a date such as 2031-03-09, without quotes")
    if isinstance(value, datetime):
        raise wrong_setting(where, key, value, "a date such as 2031-03-09, without a time")
    return value


def _whole(values: dict[str, Any], key: str, where: str, allowed: range) -> int | None:
    value: int | None = _typed(values, key, where, int, "a whole number")
    if value is not None and (isinstance(value, bool) or value not in allowed):
        raise wrong_setting(where, key, value, f"a whole number from {allowed.start} to {allowed.stop - 1}")
    return value


def _typed(values: dict[str, Any], key: str, where: str, kind: Callable[..., Any], allowed: str) -> Any:
    value = values.get(key)
    if value is not None and not isinstance(value, kind):  # type: ignore[arg-type]
        raise wrong_setting(where, key, value, allowed)
    return value
