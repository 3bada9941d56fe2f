"""A page that looks as it did when it was written is not read again, unless its look may deceive."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline import page_times
from pipeline.digests import digest, digest_file
from pipeline.outputs import is_intact, write_manifest, write_text
from pipeline.page_times import NONE, Noted, read_notes, sum_files, write_notes
from pipeline.store import Store

SECOND_NS = 1_000_000_000
PAGE = "index.html"


@pytest.fixture
def summed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The files that were summed, in order."""
    names: list[str] = []

    def note(path: Path) -> str:
        names.append(path.name)
        return digest_file(path)

    monkeypatch.setattr(page_times, "digest_file", note)
    return names


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "a.duckdb") as opened:
        yield opened


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """An out folder with a page that was written a minute ago."""
    folder = tmp_path / "out"
    (folder / "data").mkdir(parents=True)
    write_text(folder / PAGE, "abc")
    _date(folder / PAGE, 60 * SECOND_NS)
    return folder


def _date(path: Path, before_ns: int) -> None:
    """Have the file changed so long before now, at no whole second."""
    at_ns = (time.time_ns() - before_ns) // 1000 * 1000 + 1
    os.utime(path, ns=(at_ns, at_ns))


def test_a_page_that_looks_as_it_did_is_believed(out: Path, summed: list[str]) -> None:
    notes = write_manifest(out, "seal")
    assert summed == [PAGE]
    assert is_intact(out, "seal", notes)
    assert summed == [PAGE]
    assert is_intact(out, "seal")  # nothing is believed
    assert summed == [PAGE, PAGE]


def test_other_bytes_of_the_same_size_are_noticed_by_their_time(out: Path) -> None:
    notes = write_manifest(out, "seal")
    (out / PAGE).write_text("abd", encoding="utf-8")
    assert not is_intact(out, "seal", notes)


def test_the_same_bytes_written_again_are_the_same_page(out: Path, summed: list[str]) -> None:
    notes = write_manifest(out, "seal")
    (out / PAGE).write_text("abc", encoding="utf-8")
    assert is_intact(out, "seal", notes)
    assert summed == [PAGE, PAGE]


def test_a_change_that_keeps_size_and_time_is_seen_where_nothing_is_believed(out: Path) -> None:
    notes, stat = write_manifest(out, "seal"), (out / PAGE).stat()
    (out / PAGE).write_text("abd", encoding="utf-8")
    os.utime(out / PAGE, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert is_intact(out, "seal", notes)
    assert not is_intact(out, "seal")


def test_a_manifest_with_another_sum_is_not_believed(out: Path) -> None:
    notes = write_manifest(out, "seal")
    manifest = out / "data" / "manifest.json"
    manifest.write_text(manifest.read_text(encoding="utf-8").replace(digest("abc"), digest("abd")), encoding="utf-8")
    assert not is_intact(out, "seal", notes)


def test_a_page_that_is_gone_is_missed(out: Path) -> None:
    notes = write_manifest(out, "seal")
    (out / PAGE).unlink()
    assert not is_intact(out, "seal", notes)


@pytest.mark.parametrize(
    ("before_ns", "is_noted"), [(60 * SECOND_NS, True), (SECOND_NS // 2, True), (0, False), (-60 * SECOND_NS, False)]
)
def test_a_time_that_a_later_change_might_have_too_is_not_noted(out: Path, before_ns: int, is_noted: bool) -> None:
    """A tenth of a second is longer than any tick; one in the future is of another clock."""
    _date(out / PAGE, before_ns)
    sums, notes = sum_files(out, [PAGE])
    assert sums == {PAGE: digest("abc")}
    assert (PAGE in notes) == is_noted


@pytest.mark.parametrize(("seconds", "is_noted"), [(3, True), (1, False)])
def test_a_whole_second_may_be_one_of_fat(out: Path, seconds: int, is_noted: bool) -> None:
    """FAT dates changes to two seconds: one a second ago may be dated as the next one will be."""
    at_ns = (time.time_ns() // SECOND_NS - seconds) * SECOND_NS
    os.utime(out / PAGE, ns=(at_ns, at_ns))
    assert (PAGE in sum_files(out, [PAGE])[1]) == is_noted


def test_a_link_is_never_believed(out: Path) -> None:
    (out / PAGE).rename(out / "elsewhere")
    (out / PAGE).symlink_to(out / "elsewhere")
    sums, notes = sum_files(out, [PAGE])
    assert (sums, notes) == ({PAGE: digest("abc")}, {})
    look = (out / PAGE).lstat()
    (out / "elsewhere").write_text("abd", encoding="utf-8")
    assert page_times.sum_file(out / PAGE, Noted(look.st_size, look.st_mtime_ns, digest("abc"))) == digest("abd")


def test_a_page_that_changes_while_it_is_summed_is_not_noted(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def slow(path: Path) -> str:
        found = digest_file(path)
        path.write_text("abd", encoding="utf-8")
        return found

    monkeypatch.setattr(page_times, "digest_file", slow)
    assert sum_files(out, [PAGE])[1] == {}


def test_what_is_noted_is_read_again(store: Store) -> None:
    assert read_notes(store) == NONE
    notes = {"b.html": Noted(3, 7, digest("b")), "a.html": Noted(0, 1 << 60, digest("a"))}
    write_notes(store, notes)
    assert read_notes(store) == notes
    write_notes(store, {})
    assert read_notes(store) == {}


def test_a_table_of_another_shape_tells_nothing(store: Store) -> None:
    store.run("create table page_times (file varchar, size_bytes bigint)")
    assert read_notes(store) == NONE
