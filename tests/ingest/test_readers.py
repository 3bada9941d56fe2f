"""Every format, by way of its [[feeds]] table, ends in the same rows as the canonical file."""

from __future__ import annotations

import gzip
import json
import sqlite3
import zipfile
from datetime import datetime
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipeline.errors import FeedError

# Two events of an invented room: 20:00:00.250 in Stockholm in winter is 19:00:00.250 UTC.
WANTED = [
    {"at": "19:00:00.250", "machine": "VT1", "event": "roll", "value": None, "detail": None},
    {"at": "19:00:01.000", "machine": "VT2", "event": "offset", "value": -0.013, "detail": "VT1"},
]
ROWS = "select strftime(stamped_at_utc, '%H:%M:%S.%g') as at, machine, event, value, detail from raw_events order by 1"
COLUMNS = """
[feeds.columns]
"Datum" = "at"
"Tid" = "at"
"Band" = "machine"
"Läge" = "event"
"Värde" = "value"
"Not" = "detail"
[feeds.words.event]
"SNURR" = "roll"
[feeds.begins.event]
"AVV" = "offset"
"""
HEADER = ["Datum", "Tid", "Band", "Läge", "Värde", "Not"]
CELLS = [
    ["01.03.2031", "20:00:00,250", "VT1", "snurr", "", ""],
    ["01.03.2031", "20:00:01", "VT2", "Avvik", "-0,013", "VT1"],
]


def table(site, name: str, content: str | bytes, keys: str, columns: str = COLUMNS) -> None:
    (site.folder / "events/a.csv").unlink(missing_ok=True)
    if content:
        site.write(name, content)
    toml = site.folder / "site.toml"
    path = f'path = "{name}"\n' if content else ""
    toml.write_text(f'{toml.read_text()}[[feeds]]\nkind = "events"\n{path}{keys}\n{columns}', encoding="utf-8")


def text(mark: str = ";") -> str:
    lines = ["Maskinlogg, påhittad", "", mark.join(HEADER), *(mark.join(row) for row in CELLS)]
    return "\n".join([*lines, mark.join(["Summa", "2", "", "", "", ""]), "Utskriven av ingen"]) + "\n"


@pytest.mark.parametrize("encoding", ["windows-1252", "utf-16", "utf-8"])
@pytest.mark.parametrize("packing", ["", ".gz", ".zip"])
def test_delimited_text_in_any_dialect(site, encoding: str, packing: str, tmp_path: Path) -> None:
    data = text().encode(encoding)
    if packing == ".gz":
        data = gzip.compress(data)
    elif packing == ".zip":
        with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
            archive.writestr("inner.txt", data)
        data = (tmp_path / "a.zip").read_bytes()
    table(site, f"log/a.txt{packing}" if packing != ".zip" else "log/a.zip", data, 'date_order = "dmy"\ndecimal = ","')
    site.load()
    assert site.rows(ROWS) == WANTED
    # the title is above the header and no row; the sum and the note under the table are rows, and set aside
    aside = site.rows("select line, text from raw_set_aside order by line")
    assert [row["line"] for row in aside] == [6, 7]
    assert aside[1]["text"] == "Utskriven av ingen"


def test_a_workbook_with_real_dates(site, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Maskinlogg"])
    sheet.append(HEADER)
    sheet.append([datetime(2031, 3, 1), "20:00:00.250", "VT1", "SNURR", None, None])  # noqa: DTZ001 - wall time
    sheet.append([datetime(2031, 3, 1, 20, 0, 1), None, "VT2", "AVVIK", -0.013, "VT1"])  # noqa: DTZ001
    book.save(tmp_path / "a.xlsx")
    table(site, "log/a.xlsx", (tmp_path / "a.xlsx").read_bytes(), "")
    site.load()
    assert site.rows(ROWS) == WANTED
    assert [row["line"] for row in site.rows("select line from raw_events order by line")] == [3, 4]


def test_syslog_with_parts(site) -> None:
    lines = [
        '<134>1 2031-03-01T19:00:00.250Z VT1 deck - - [timeQuality isSynced="0"][meta sequenceId="1"] snurr',
        '<134>1 2031-03-01T19:00:01Z VT2 deck - - [meta sequenceId="7"] avvik -0.013 mot VT1',
        '<134>1 2031-03-01T19:00:02Z VT2 deck - - [meta sequenceId="9"] pratar',
        "    at line 3 of something",
    ]
    columns = """
[feeds.columns]
"host" = "machine"
[feeds.parts]
"msg" = ['^(?P<event>avvik) (?P<value>\\S+) mot (?P<detail>\\S+)$', '^(?P<event>.+)$']
[feeds.words.event]
"snurr" = "roll"
"avvik" = "offset"
"pratar" = ""
"""
    table(site, "log/a.log", "\n".join(lines) + "\n", "", columns)
    site.load()
    assert site.rows(ROWS) == WANTED
    reasons = [row["reason"] for row in site.rows("select reason from raw_set_aside order by line")]
    assert reasons[0].startswith("of no interest: ")
    assert reasons[1].startswith("The line is no syslog message.")
    findings = site.rows("select line, kind, what from raw_findings order by line, kind")
    assert [(row["line"], row["kind"]) for row in findings] == [(1, "unsynchronised"), (3, "gap")]
    assert findings[1]["what"] == "VT2 deck numbered 7, then 9: 1 line of this sender is missing."


def test_older_syslog_takes_its_year_from_the_name_of_the_file(site) -> None:
    """RFC 3164 stamps have no year and no zone; from December to January the year goes on."""
    lines = ["Dec 31 23:59:58 VT1 deck: roll", "Jan  1 00:00:01 VT1 deck: stop"]
    table(
        site,
        "log/vt1_2031-12-31.log",
        "\n".join(lines) + "\n",
        "",
        '[feeds.columns]\n"host" = "machine"\n"msg" = "event"\n',
    )
    site.load()
    stamps = site.rows("select cast(stamped_at_utc as varchar) as at from raw_events order by line")
    assert [row["at"] for row in stamps] == ["2031-12-31 22:59:58", "2031-12-31 23:00:01"]


def test_json_lines_and_parquet_in_their_own_columns(site, tmp_path: Path) -> None:
    rows = [dict(zip(HEADER, row, strict=True)) for row in CELLS]
    table(site, "log/a.jsonl", "".join(json.dumps(row) + "\n" for row in rows), 'date_order = "dmy"\ndecimal = ","')
    site.load()
    assert site.rows(ROWS) == WANTED
    site.settings()
    (site.folder / "log/a.jsonl").unlink()
    pl.DataFrame(rows).write_parquet(tmp_path / "a.parquet")
    table(site, "log/a.parquet", (tmp_path / "a.parquet").read_bytes(), 'date_order = "dmy"\ndecimal = ","')
    site.load()
    assert site.rows(ROWS) == WANTED


def test_a_query_is_asked_each_time_and_loaded_when_its_answer_changes(site, tmp_path: Path) -> None:
    base = sqlite3.connect(tmp_path / "room.db")
    base.execute("create table log (Datum text, Tid text, Band text, Läge text, Värde real, [Not] text)")
    base.executemany("insert into log values (?, ?, ?, ?, ?, ?)", [[*row[:4], float(row[4].replace(",", ".") or 0) or None, row[5]] for row in CELLS])  # fmt: skip # noqa: E501
    base.commit()
    keys = (
        f'date_order = "dmy"\nformat = "sql"\nconnection = "sqlite://{tmp_path}/room.db"\nquery = "select * from log"\n'
    )
    table(site, "", "", keys)
    site.load()
    assert site.rows(ROWS) == WANTED
    assert not site.load().is_changed
    base.execute("delete from log where Band = 'VT2'")
    base.commit()
    changed = [load for load in site.load().files if load.action != "unchanged"]
    assert [(load.file, load.action, load.rows) for load in changed] == [("query 1", "changed", 1)]
    base.close()


def test_a_password_is_looked_for_in_the_environment_only(site, monkeypatch) -> None:
    monkeypatch.delenv("ROOM_WORD", raising=False)
    keys = 'format = "sql"\nconnection = "postgresql://reader@localhost/room"\nquery = "select 1"\n'
    table(site, "", "", f'{keys}password_from = "ROOM_WORD"\n')
    with pytest.raises(FeedError, match=r'^"query 1" cannot be read: the environment variable ROOM_WORD is not set'):
        site.load()


def test_a_calendar_of_bookings(site) -> None:
    """A weekly programme of three, one moved; Stockholm is an hour ahead of UTC in winter, two in summer."""
    calendar = "\r\n".join(
        [
            "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//invented//EN",
            "BEGIN:VEVENT", "UID:news", "DTSTAMP:20310201T000000Z", "DTSTART;TZID=Europe/Stockholm:20310316T200000",
            "DURATION:PT30M", "RRULE:FREQ=WEEKLY;COUNT=3", "SUMMARY:Harbour News / One", "LOCATION:VT1",
            "CATEGORIES:SÄNDNING", "END:VEVENT",
            "BEGIN:VEVENT", "UID:news", "DTSTAMP:20310201T000000Z",
            "RECURRENCE-ID;TZID=Europe/Stockholm:20310323T200000", "DTSTART;TZID=Europe/Stockholm:20310323T210000",
            "DURATION:PT30M", "SUMMARY:Harbour News / One", "LOCATION:VT2", "CATEGORIES:SÄNDNING", "END:VEVENT",
            "BEGIN:VEVENT", "UID:off", "DTSTAMP:20310201T000000Z", "DTSTART:20310301T200000Z", "DURATION:PT30M",
            "STATUS:CANCELLED", "SUMMARY:Gone / One", "LOCATION:VT1", "CATEGORIES:SÄNDNING", "END:VEVENT",
            "END:VCALENDAR", "",
        ]
    )  # fmt: skip
    (site.folder / "bookings.csv").unlink()
    site.write("book.ics", calendar)
    keys = """[[feeds]]
kind = "bookings"
path = "book.ics"
[feeds.columns]
"location" = "machine"
"categories" = "role"
"booking" = ["booking", "transmission"]
[feeds.parts]
"summary" = '^(?P<programme>.+) / (?P<channel>.+)$'
[feeds.words.role]
"sändning" = "air"
"""
    toml = site.folder / "site.toml"
    toml.write_text(toml.read_text() + keys, encoding="utf-8")
    site.load()
    rows = site.rows(
        "select booking, channel, programme, machine, role, cast(started_at_utc as varchar) as starts, "
        "date_diff('second', started_at_utc, ended_at_utc) as length from raw_bookings order by started_at_utc"
    )
    assert [(row["booking"], row["machine"], row["starts"]) for row in rows] == [
        ("news/20310316T190000Z", "VT1", "2031-03-16 19:00:00"),
        ("news/20310323T190000Z", "VT2", "2031-03-23 20:00:00"),
        ("news/20310330T180000Z", "VT1", "2031-03-30 18:00:00"),
    ]
    assert {(row["channel"], row["programme"], row["role"], row["length"]) for row in rows} == {
        ("One", "Harbour News", "air", 1800)
    }
    (aside,) = site.rows("select reason from raw_set_aside")
    assert aside["reason"].startswith("cancelled: ")
