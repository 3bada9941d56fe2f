"""Which files are found, and in which order."""

from __future__ import annotations

import hashlib
import zipfile
from pathlib import Path

import pytest

from pipeline.errors import FeedError
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile, find_files, hash_file, hash_start
from pipeline.ingest.mapping.feed_tables import read_site_feeds
from pipeline.settings import read_settings


def test_files_come_feed_by_feed_sorted_by_path(site) -> None:
    for name in (
        "events/b.jsonl",
        "events/Z.CSV.GZ",
        "events-2031-02.parquet",
        "switches-2031-02.csv",
        "switches/x.csv",
    ):
        site.write(name, "x")
    for name in (
        "events/.a.csv",
        "events/~$a.csv",
        "events/notes.txt",
        "eventsx.csv",
        "events/a.parquet.gz",
        "other/events.csv",
    ):
        site.write(name, "x")
    (site.folder / "events" / "folder.csv").mkdir()
    found = find_files(site.folder)
    assert [each.file for each in found] == [
        "events-2031-02.parquet",
        "events/Z.CSV.GZ",
        "events/a.csv",
        "events/b.jsonl",
        "switches-2031-02.csv",
        "switches.csv",
        "switches/x.csv",
        "tickets.csv",
        "bookings.csv",
    ]
    assert [each.format_name for each in found[:4]] == ["parquet", "csv.gz", "csv", "jsonl"]


@pytest.mark.parametrize(
    ("file", "feed"), [("events/a.csv", "events"), ("switches.csv", "switches"), ("bookings.csv", "bookings")]
)
def test_a_missing_required_feed_is_named(site, file: str, feed: str) -> None:
    (site.folder / file).unlink()
    with pytest.raises(FeedError, match=f"No {feed} found: the site has no file {feed}"):
        find_files(site.folder)


def test_registers_may_be_missing(site) -> None:
    assert {each.feed.name for each in find_files(site.folder)} == {"events", "switches", "tickets", "bookings"}


def test_a_name_that_would_break_a_line_of_a_report_is_refused(site) -> None:
    site.write("events/a\nb.csv", "x")
    with pytest.raises(FeedError, match="not plain UTF-8 text"):
        find_files(site.folder)


def test_hash_is_sha_256(tmp_path: Path) -> None:
    path = tmp_path / "abc.csv"
    path.write_bytes(b"abc")
    # FIPS 180-4 example: SHA-256 of the three letters "abc".
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hash_file(FoundFile(path, "abc.csv", EVENTS, "csv", "")) == (expected, 3)


def tables(site, *texts: str):
    toml = site.folder / "site.toml"
    toml.write_text(toml.read_text() + "".join(f"[[feeds]]\n{text}\n" for text in texts))
    return read_site_feeds(site.folder, read_settings(site.folder)).tables


def test_a_feed_with_tables_has_what_they_name_and_no_more(site) -> None:
    for name in ("logs/VT2.log", "logs/VT1.log", "logs/old/VT1.log.gz", "logs/notes.md", "book.ICS"):
        site.write(name, "x")
    found = find_files(
        site.folder,
        tables(
            site, 'kind = "events"\npath = "logs/**/*.log*"', 'kind = "bookings"\npath = "*.ICS"\nformat = "calendar"'
        ),
    )
    named = [(each.file, each.format_name) for each in found if each.table]
    assert named == [
        ("logs/VT1.log", "syslog"),
        ("logs/VT2.log", "syslog"),
        ("logs/old/VT1.log.gz", "syslog.gz"),
        ("book.ICS", "calendar"),
    ]
    assert [each.file for each in found if not each.table] == ["switches.csv", "tickets.csv"]


def test_tables_that_find_nothing_or_the_same_are_refused(site) -> None:
    with pytest.raises(FeedError, match=r"No tickets found: the site has no file book/\*.xlsx"):
        find_files(site.folder, tables(site, 'kind = "tickets"\npath = "book/*.xlsx"'))
    site.settings()
    both = tables(site, 'kind = "tickets"\npath = "t*.csv"', 'kind = "machines"\npath = "tickets.csv"')
    with pytest.raises(
        FeedError, match=r'^"tickets.csv" is named twice, by .*table 1 \(tickets\) and .*table 2 \(machines\)'
    ):
        find_files(site.folder, both)


def test_members_of_a_zip_archive_are_files_of_their_own(site) -> None:
    (site.folder / "events/a.csv").unlink()
    with zipfile.ZipFile(site.folder / "events/march.zip", "w") as archive:
        archive.writestr("b.csv", "x")
        archive.writestr("sub/a.csv", "x")
        archive.writestr("notes.txt", "x")
    found = [each for each in find_files(site.folder) if each.feed is EVENTS]
    assert [(each.file, each.member, each.packing) for each in found] == [
        ("events/march.zip/b.csv", "b.csv", "zip"),
        ("events/march.zip/sub/a.csv", "sub/a.csv", "zip"),
    ]


def test_a_link_out_of_the_site_is_refused_and_one_within_is_followed(site) -> None:
    outside = site.folder.parent / "outside.csv"
    outside.write_text("x")
    (site.folder / "events/c.csv").symlink_to(site.folder / "events/a.csv")
    assert "events/c.csv" in [each.file for each in find_files(site.folder)]
    (site.folder / "events/d.csv").symlink_to(outside)
    with pytest.raises(FeedError, match=r'^"events/d.csv" is a link that leads out of the site folder'):
        find_files(site.folder)
    (site.folder / "events/d.csv").unlink()
    (site.folder / "events/d.csv").symlink_to("d.csv")
    assert "events/d.csv" not in [each.file for each in find_files(site.folder)]


@pytest.mark.parametrize(
    ("data", "cut", "lines"),
    [(b"a\nb\nc", 4, 2), (b"a\r\nb\r\n", 6, 2), (b"a\rb\n", 4, 2), (b"a\nb", 3, None), (b"a\r\nb", 2, None)],
)
def test_the_start_of_a_file_is_hashed_and_its_lines_counted(site, data: bytes, cut: int, lines: int | None) -> None:
    path = site.write("x.csv", data)
    found = FoundFile(path, "x.csv", EVENTS, "csv", "")
    assert hash_start(found, cut) == (hashlib.sha256(data[:cut]).hexdigest(), lines)
