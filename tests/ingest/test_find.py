"""Which files are found, and in which order."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.errors import FeedError
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile, find_files, hash_file


def test_files_come_feed_by_feed_sorted_by_path(site) -> None:
    for name in (
        "events/b.jsonl",
        "events/Z.CSV.GZ",
        "events-2031-02.parquet",
        "switches-2031-02.csv",
        "switches/x.csv",
    ):
        site.write(name, "x")
    for name in ("events/.a.csv", "events/notes.txt", "eventsx.csv", "events/a.parquet.gz", "other/events.csv"):
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
