"""What a file is, by its content before its name."""

from __future__ import annotations

import gzip
import io
import zipfile
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from pipeline.errors import FeedError
from pipeline.ingest.propose.forms import recognise_form

# RFC 5424 section 6.5, example 1; RFC 3164 section 5.4, example 1.
NEW = "<34>1 2003-10-11T22:14:15.003Z mymachine.example.com su - ID47 - 'su root' failed on /dev/pts/8\n"
OLD = "<34>Oct 11 22:14:15 mymachine su: 'su root' failed on /dev/pts/8\n"
WRITTEN = "Oct 11 22:14:15 mymachine su[3]: failed\n", "2031-03-09T21:04:11.123456+01:00 vt1 card: ROLL\n"


def _form(path: Path, content: bytes) -> tuple[str, str, str]:
    path.write_bytes(content)
    form = recognise_form(path, path.name)
    return form.format, form.packing, form.member


@pytest.mark.parametrize(
    ("content", "form"),
    [
        (NEW.encode() * 3, "syslog"),
        (OLD.encode() * 3, "syslog"),
        *((line.encode() * 3, "syslog") for line in WRITTEN),
        (b"Mar  9 was fine\nso was Mar 10\n", "csv"),
        (b"at,machine\n1,2\n", "csv"),
        (b'{"a": 1}\n{"a": 2}\n', "jsonl"),
        (b"\xef\xbb\xbfBEGIN:VCALENDAR\r\nVERSION:2.0\r\n", "calendar"),
        ("at;machine\n1;2\n".encode("utf-16"), "csv"),
        ("at;machine\n1;2\n".encode("utf-16-le"), "csv"),
    ],
)
@pytest.mark.parametrize("name", ["a.csv", "a.log", "a.ics", "a"])
def test_content_decides(tmp_path: Path, content: bytes, form: str, name: str) -> None:
    assert _form(tmp_path / name, content) == (form, "", "")


def test_workbooks_and_parquet_by_their_first_bytes(tmp_path: Path) -> None:
    book = io.BytesIO()
    openpyxl.Workbook().save(book)
    assert _form(tmp_path / "a.csv", book.getvalue()) == ("excel", "", "")
    table = io.BytesIO()
    pl.DataFrame({"a": [1]}).write_parquet(table)
    assert _form(tmp_path / "b.csv", table.getvalue()) == ("parquet", "", "")
    with pytest.raises(FeedError, match="is a workbook"):
        _form(tmp_path / "a.zip", book.getvalue())


def test_packed_files_are_looked_into(tmp_path: Path) -> None:
    assert _form(tmp_path / "a.log.gz", gzip.compress(OLD.encode() * 3)) == ("syslog", "gz", "")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("logs/a.txt", NEW * 3)
    assert _form(tmp_path / "a.zip", packed.getvalue()) == ("syslog", "zip", "logs/a.txt")
    with pytest.raises(FeedError, match=r"Let it end in \.zip"):
        _form(tmp_path / "a.csv", packed.getvalue())
