"""The engine's sentences in our words: what a user can mend is told, what only we can is not called anything else."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.store_words import why_not_done, why_not_open

DATABASE = Path("room.duckdb")

# What DuckDB 2.0.1 said, noted down when each was brought about.
SAID = {
    'IO Error: Could not write file "room.duckdb": No space left on device': "The disk is full",
    'TransactionContext Error: Failed to commit: Could not write file "a.wal": File too large': "The disk is full",
    "Out of Memory Error: failed to offload data block of size 96.0 KiB (928.0 KiB/976.5 KiB used).\n"
    "This limit was set by the 'max_temp_directory_size' setting.": "The disk is full",
    "Out of Memory Error: could not allocate block of size 256.0 KiB (19.9 MiB/19.0 MiB used)": "does not suffice",
    "Corrupt database file: computed checksum 1 does not match stored checksum 2 in block at location 3": "is damaged",
    'IO Error: Could not read enough bytes from file "": attempted to read 4095 bytes from location 1': "is damaged",
    'Failure while replaying WAL file "a.wal": Corrupt WAL file: entry at byte position 4': "is damaged",
}


@pytest.mark.parametrize("said", SAID)
def test_what_a_user_can_mend_is_told_in_one_line(said: str) -> None:
    told = why_not_done(DATABASE, said, is_changed=False)
    assert told is not None
    assert SAID[said] in told
    assert str(DATABASE) in told
    assert len(told.splitlines()) == 1
    assert "run again" in told


def test_a_mistake_of_ours_has_no_such_line() -> None:
    assert why_not_done(DATABASE, 'Binder Error: Referenced column "n" not found', is_changed=False) is None


def test_what_was_committed_before_is_not_called_unchanged() -> None:
    said = "IO Error: No space left on device"
    assert "nothing was changed" in str(why_not_done(DATABASE, said, is_changed=False))
    assert "what was loaded before stays" in str(why_not_done(DATABASE, said, is_changed=True))


def test_a_file_of_another_version_and_one_that_is_none(tmp_path: Path) -> None:
    """A database file begins with a sum of 8 bytes and DUCK (DuckDB's documentation, "Storage Versions and Format")."""
    path = tmp_path / "room.duckdb"
    path.write_bytes(b"\0" * 8 + b"DUCK" + b"\0" * 4_084)
    said = "IO Error: Trying to read a database file with version number 99, but we can only read 64 to 70."
    assert "written by another version of DuckDB" in why_not_open(path, said)
    path.write_bytes(b"\0" * 4_096)
    assert "is not an airhours database" in why_not_open(path, said)


def test_no_right_to_read_it_is_said_as_it_is(tmp_path: Path) -> None:
    told = why_not_open(tmp_path / "room.duckdb", 'IO Error: Cannot open file "": Permission denied')
    assert "cannot be opened" in told
    assert "Permission denied. Check the folder's rights" in told
