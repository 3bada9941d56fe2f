"""The [[feeds]] tables: what is read of them, and one plain line for whatever is not allowed."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from pipeline.errors import SiteError
from pipeline.ingest.mapping.feed_tables import SiteFeeds, read_site_feeds
from pipeline.settings import read_settings

FULL = r"""
date_order = "dmy"
reel_numbers = "normal"
[[feeds]]
kind = "events"
path = ["logs/VT*.log", "old/*.log"]
format = "csv"
timezone = "America/New_York"
date_order = "mdy"
numeric_times = "epoch_ms"
dates = "broadcast"
year = 2031
day = 2031-03-09
timecode_rate = 29.97
delimiter = ";"
quote = "'"
encoding = "windows-1252"
decimal = ","
thousands = "."
header_row = 3
sheet = "Log"
until = 2032-01-01
[feeds.columns]
"Datum" = "at"
"Zeit" = "at"
"Meldung" = ["event", "detail"]
[feeds.parts]
"Meldung" = '^(?P<value>[0-9]+)'
[feeds.constants]
machine = "VT1"
[feeds.words.event]
"LOCK OK" = "lock"
[feeds.begins.event]
"AL" = "alarm"
"ALM" = "clear"
[feeds.patterns.event]
'^OFS' = "offset"
[[renumbered]]
was = "VT3"
is = "VT9"
from = 2031-03-01
to = 2031-04-01
"""


def read(site, text: str, day_starts: str = "06:00") -> SiteFeeds:
    site.settings(day_starts=day_starts)
    toml = site.folder / "site.toml"
    toml.write_text(toml.read_text() + text)
    return read_site_feeds(site.folder, read_settings(site.folder))


def test_every_key_is_read(site) -> None:
    feeds = read(site, FULL)
    (table,) = feeds.tables
    assert (feeds.date_order, feeds.normal_reels) == ("dmy", True)
    assert (table.feed.name, table.paths, table.format) == ("events", ("logs/VT*.log", "old/*.log"), "csv")
    assert (table.zone.key, table.date_order, table.numeric_times) == ("America/New_York", "mdy", "epoch_ms")
    assert (table.is_broadcast, table.year, table.day, table.until) == (True, 2031, date(2031, 3, 9), date(2032, 1, 1))
    # SMPTE ST 12-1: 29.97 is written for 30000/1001
    assert table.timecode_rate == Fraction(30000, 1001)
    dialect = table.dialect
    assert (dialect.delimiter, dialect.quote, dialect.encoding, dialect.header_row) == (";", "'", "windows-1252", 3)
    assert (table.decimal, table.thousands, table.sheet) == (",", ".", "Log")
    mapping = table.mapping
    assert mapping.theirs("at") == ("Datum", "Zeit")
    assert mapping.part_names == ("value",)
    # of two beginnings the longer is tried first
    assert mapping.words[0].begins == (("alm", "clear"), ("al", "alarm"))
    assert mapping.words[0].exact == (("lock ok", "lock"),)


def test_renumbering_is_from_one_broadcast_day_to_another(site) -> None:
    """Days start at 06:00 in Stockholm: 05:00 UTC on 1 March 2031, 04:00 UTC on 1 April, in summer time."""
    (rule,) = read(site, FULL).renumbered
    assert [str(rule.started), str(rule.ended)] == ["2031-03-01 05:00:00", "2031-04-01 04:00:00"]


def test_without_tables_nothing_is_said(site) -> None:
    assert read(site, "") == SiteFeeds((), (), "", False)


@pytest.mark.parametrize(
    ("rate", "exact"),
    [("25", Fraction(25)), ("23.976", Fraction(24000, 1001)), ("59.94", Fraction(60000, 1001))],
)
def test_short_frame_rates_stand_for_ratios(site, rate: str, exact: Fraction) -> None:
    feeds = read(site, f'[[feeds]]\nkind = "events"\npath = "a.csv"\ntimecode_rate = {rate}\n')
    assert feeds.tables[0].timecode_rate == exact


ONE = '[[feeds]]\nkind = "events"\npath = "a.csv"\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            '[[feeds]]\nkind = "event"\n',
            r'table 1 \(event\), key kind: "event" is not allowed. Expected one of events, ',
        ),
        ("[[feeds]]\n", 'no key "kind"'),
        ('[[feeds]]\nkind = "events"\n', 'no key "path"'),
        (ONE + 'formt = "csv"\n', 'unknown key "formt". Did you mean format'),
        (ONE + 'format = "xml"\n', 'key format: "xml" is not allowed. Expected one of csv, excel'),
        (ONE + 'timezone = "Europe/Nowhere"\n', "key timezone"),
        (ONE + 'date_order = "day first"\n', "Expected one of ymd, dmy, mdy"),
        (ONE + 'delimiter = ";;"\n', "key delimiter"),
        (ONE + 'encoding = "latin-99"\n', 'key encoding: "latin-99" is not allowed'),
        (ONE + 'day = "2031-03-09"\n', "without quotes"),
        (ONE + "day = 2031-03-09T10:00:00\n", "without a time"),
        (ONE + "year = true\n", "key year"),
        (ONE + "header_row = -1\n", "key header_row"),
        (ONE + 'columns = "at"\n', r"expected a table, begun with a line \[feeds.columns\]"),
        (ONE + '[feeds.columns]\n"Zeit" = "when"\n', '"when" is no column of events'),
        (ONE + '[feeds.columns]\nat = "Zeit"\n', "Columns are written theirs = ours"),
        (ONE + '[feeds.words.event]\n"X" = "locked"\n', '"locked" is not allowed. Expected one of roll, stop'),
        (ONE + '[feeds.words]\n"X" = "lock"\n', '"X" is no column of events'),
        (ONE + "[feeds.patterns.event]\n'(' = \"lock\"\n", "a regular expression"),
        (ONE + "[feeds.parts]\nmsg = 'x'\n", "named groups"),
        (ONE + "[feeds.constants]\nmachine = true\n", "a text or a number"),
        (ONE + 'empty = "-"\n', "a list of cells that say nothing"),
        ('[[feeds]]\nkind = "events"\npath = "../a.csv"\n', "a path within the site folder"),
        ('[[feeds]]\nkind = "events"\npath = "/etc/passwd"\n', "a path within the site folder"),
        ('[[feeds]]\nkind = "events"\npath = "C:/logs"\n', "a path within the site folder"),
        ('[[feeds]]\nkind = "tickets"\nformat = "sql"\n', 'no key "connection"'),
        ("feeds = 3\n", "is no list of tables"),
        ('[[renumbered]]\nwas = "VT1"\n', "key is"),
        ('[[renumbered]]\nwas = "VT1"\nis = "VT2"\nfrom = 2031-03-02\nto = 2031-03-01\n', "a date after 2031-03-02"),
        ('reel_numbers = "short"\n', "Expected one of normal, as written"),
    ],
)
def test_what_is_not_allowed_is_refused_in_one_line(site, text: str, told: str) -> None:
    with pytest.raises(SiteError, match=told) as error:
        read(site, text)
    assert "\n" not in str(error.value)
