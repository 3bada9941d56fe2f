"""A file that looks as it did is not read again, unless its look may deceive or a person wants it verified."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from pipeline.ingest import load_site, unread
from pipeline.ingest.feeds import EVENTS
from pipeline.ingest.find import FoundFile
from pipeline.settings import read_settings
from pipeline.store import Store

MORE = "at,machine,event,value,detail\n2031-03-01T20:00:00,VT2,roll,,\n"


@pytest.fixture
def hashed(monkeypatch) -> list[str]:
    """The files that were hashed, in order."""
    names: list[str] = []
    whole = unread.hash_file

    def hash_file(found: FoundFile) -> tuple[str, int]:
        names.append(found.file)
        return whole(found)

    monkeypatch.setattr(unread, "hash_file", hash_file)
    return names


def _age(site, seconds: float) -> None:
    """Make every file of the site changed so many seconds before now."""
    at = time.time_ns() - int(seconds * 1e9)
    for path in site.folder.rglob("*.csv"):
        os.utime(path, ns=(at, at))


def _load(site, *, verify: bool = False) -> list[str]:
    with Store(site.database) as store, store.transaction():
        result = load_site(site.folder, read_settings(site.folder), store, verify=verify)
    return [load.action for load in result.files]


def test_a_file_that_looks_as_it_did_is_believed_unless_verified(site, hashed: list[str]) -> None:
    _age(site, 60)
    _load(site)
    assert len(hashed) == 4
    hashed.clear()
    assert _load(site) == ["unchanged"] * 4
    assert hashed == []
    assert _load(site, verify=True) == ["unchanged"] * 4
    assert len(hashed) == 4


def test_a_change_that_keeps_size_and_time_is_seen_by_verifying_only(site) -> None:
    _age(site, 60)
    _load(site)
    path = site.folder / "events/a.csv"
    stat = path.stat()
    path.write_text(path.read_text().replace("VT1", "VT3"))
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert _load(site) == ["unchanged"] * 4
    assert _load(site, verify=True) == ["changed", *["unchanged"] * 3]


def test_a_file_written_just_before_it_was_read_is_read_next_time_too(site, hashed: list[str]) -> None:
    """A write within the grain of the clock leaves size and time as they were: it must be noticed."""
    _age(site, 0.5)
    stat = (site.folder / "events/a.csv").stat()
    _load(site)
    path = site.folder / "events/a.csv"
    path.write_text(path.read_text().replace("VT1", "VT3"))
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    hashed.clear()
    assert _load(site) == ["changed", *["unchanged"] * 3]
    assert len(hashed) == 4


def test_a_file_dated_in_the_future_is_never_believed(site, hashed: list[str]) -> None:
    _age(site, -3600)
    _load(site)
    hashed.clear()
    _load(site)
    assert len(hashed) == 4


def test_the_looks_are_renewed_when_something_else_changes(site, hashed: list[str]) -> None:
    _age(site, 0.5)
    _load(site)
    _age(site, 60)
    site.write("events/b.csv", MORE)
    _load(site)
    hashed.clear()
    assert _load(site) == ["unchanged"] * 5
    assert hashed == ["events/b.csv"]


def test_a_file_that_changes_while_it_is_read_is_not_believed(tmp_path: Path, monkeypatch) -> None:
    path = tmp_path / "a.csv"
    path.write_text("one")
    os.utime(path, ns=(1, 1))
    whole = unread.hash_file

    def slow(found: FoundFile) -> tuple[str, int]:
        answer = whole(found)
        os.utime(path, ns=(5, 5))
        return answer

    monkeypatch.setattr(unread, "hash_file", slow)
    assert unread.know_file(FoundFile(path, "a.csv", EVENTS, "csv", ""), None, {}).modified_ns is None


def test_nothing_is_written_when_nothing_is_new(site) -> None:
    _age(site, 0.5)
    _load(site)
    before = site.database.read_bytes()
    _age(site, 60)
    _load(site)
    assert site.database.read_bytes() == before
