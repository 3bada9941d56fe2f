"""Packed files, against Python's gzip and zipfile and the Zstandard library as packers, and RFC 8878 by hand."""

from __future__ import annotations

import gzip
import io
import re
import stat
import tracemalloc
import zipfile
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, cast

import pytest
import zstandard
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pipeline.errors import FeedError
from pipeline.ingest.text import archives
from pipeline.ingest.text.archives import open_packed, zip_members

TEXT = b'at,machine\r\n\r\n"x\r\ny"\n \x1f\x00z\xe9' + "é\n".encode() * 300
PLAIN_WORDS = re.compile(
    r'"a\.\w+" cannot be read: (?:'
    r"its packed data end too early|its packed data are damaged or end too early|"
    r"it is not packed with (?:gzip|Zstandard|zip) as its name says|"
    r'it holds no "a\.csv"|"[^\n]*" in it is packed by a method other than deflate|'
    r"it is a folder|it is not there any more|you have no right to read it|the disk gave an error|"
    r"it unpacks to more than [0-9,]+ times its size, as no log does|it unpacks to more than \d+ GiB|"
    r"it holds 10,001 files, more than 10,000"
    r")\. Export it again, or move it out of the site folder\."
)


def _zip(members: Iterable[tuple[str | zipfile.ZipInfo, bytes]], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return out.getvalue()


def _zstd(data: bytes, level: int = 3) -> bytes:
    return zstandard.ZstdCompressor(level=level, write_checksum=True).compress(data)


def _raw_zstd(data: bytes) -> bytes:
    """A frame of raw blocks, RFC 8878 section 3.1.1: descriptor 0xA0 is content size in four bytes, single segment.

    A block's header is the last flag, type 0 and size << 3, in three bytes.
    """
    parts = [data[k : k + 100_000] for k in range(0, len(data), 100_000)] or [b""]
    blocks = [((len(part) << 3) | (k == len(parts) - 1)).to_bytes(3, "little") + part for k, part in enumerate(parts)]
    return b"\x28\xb5\x2f\xfd\xa0" + len(data).to_bytes(4, "little") + b"".join(blocks)


SKIPPED = b"\x5a\x2a\x4d\x18\x03\x00\x00\x00abc"  # a skippable frame of three bytes, RFC 8878 section 3.1.2
PACKERS: dict[str, Callable[[bytes], bytes]] = {
    "": bytes,
    "gz": gzip.compress,
    "zst": _zstd,
    "zip": lambda data: _zip([("a.csv", data)]),
}


def _packer(packing: str, out: io.BytesIO) -> BinaryIO:
    packer = gzip.open(out, "wb") if packing == "gz" else zstandard.open(out, "wb", closefd=False)  # noqa: SIM115
    return cast("BinaryIO", packer)


def _put(folder: Path, packing: str, packed: bytes) -> Path:
    path = folder / f"a.{packing or 'csv'}"
    path.write_bytes(packed)
    return path


def _read(path: Path, packing: str, member: str = "a.csv") -> bytes:
    with open_packed(path, path.name, packing, member) as stream:
        return stream.read()


def _said(path: Path, packing: str) -> bytes | str:
    """What the file holds, or why it cannot be read."""
    try:
        return _read(path, packing)
    except FeedError as error:
        return str(error)


def _drain(path: Path, packing: str) -> None:
    with open_packed(path, path.name, packing, "a.csv") as stream:
        while stream.read(1 << 20):
            pass


def _refusal(path: Path, packing: str, member: str = "a.csv") -> str:
    with pytest.raises(FeedError) as caught:
        _read(path, packing, member)
    return str(caught.value)


@pytest.mark.parametrize("packing", PACKERS)
@pytest.mark.parametrize("data", [b"", b"x", TEXT, bytes(300_000)])
def test_a_packed_file_gives_the_bytes_that_went_in(tmp_path: Path, packing: str, data: bytes) -> None:
    assert _read(_put(tmp_path, packing, PACKERS[packing](data)), packing) == data


@pytest.mark.parametrize(
    ("packing", "packed"),
    [
        ("gz", gzip.compress(TEXT) + gzip.compress(b"") + gzip.compress(TEXT)),
        ("gz", gzip.compress(TEXT) + gzip.compress(TEXT) + bytes(512)),  # filled up with zeros, as tapes have it
        ("zst", _zstd(TEXT) + _zstd(TEXT)),
        ("zst", SKIPPED + _zstd(TEXT) + SKIPPED + _zstd(b"") + _raw_zstd(TEXT) + SKIPPED),
    ],
)
def test_several_members_or_frames_are_read_one_after_the_other(tmp_path: Path, packing: str, packed: bytes) -> None:
    assert _read(_put(tmp_path, packing, packed), packing) == TEXT + TEXT


def test_frames_longer_than_a_piece_and_blocks_by_the_hundred(tmp_path: Path) -> None:
    data = b"".join(f"{k * 7919 % 100_003}\n".encode() for k in range(200_000))
    for packed in (_raw_zstd(data), _zstd(data), _zstd(data, level=19)):
        assert _read(_put(tmp_path, "zst", packed), "zst") == data


def test_a_zip_gives_each_member_also_of_an_archive_without_compression(tmp_path: Path) -> None:
    members = [("logs/b.csv", b"2"), ("a.csv", b"1"), ("A.csv", b"0"), ("Störung\xa03.csv", b"3")]
    for method in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        path = _put(tmp_path, "zip", _zip(members, method))
        assert [(name, _read(path, "zip", name)) for name in zip_members(path, "a.zip")] == [
            ("A.csv", b"0"),
            ("Störung\xa03.csv", b"3"),
            ("a.csv", b"1"),
            ("logs/b.csv", b"2"),
        ]


def test_only_an_unpacked_file_can_be_sought_in(tmp_path: Path) -> None:
    with open_packed(_put(tmp_path, "", b"abcdef"), "a.csv", "") as stream:
        stream.seek(4)
        assert stream.read() == b"ef"
    with open_packed(_put(tmp_path, "gz", gzip.compress(b"x")), "a.gz", "gz") as stream:
        assert not stream.seekable()


@pytest.mark.parametrize("packing", ["gz", "zst", "zip"])
def test_a_file_cut_anywhere_is_refused_in_plain_words(tmp_path: Path, packing: str) -> None:
    whole = PACKERS[packing](TEXT)
    for length in range(1, len(whole)):
        assert PLAIN_WORDS.fullmatch(_refusal(_put(tmp_path, packing, whole[:length]), packing)), length


@pytest.mark.parametrize("packing", ["gz", "zst"])
def test_an_empty_file_holds_nothing(tmp_path: Path, packing: str) -> None:
    assert _read(_put(tmp_path, packing, b""), packing) == b""


@pytest.mark.parametrize("packing", ["gz", "zst", "zip"])
def test_a_file_with_any_byte_changed_gives_its_bytes_or_plain_words(tmp_path: Path, packing: str) -> None:
    # All three carry a checksum, so that a change is either of no account (a time stamp) or noticed.
    whole = PACKERS[packing](TEXT)
    refused = 0
    for place in range(len(whole)):
        changed = whole[:place] + bytes([whole[place] ^ 0x41]) + whole[place + 1 :]
        said = _said(_put(tmp_path, packing, changed), packing)
        refused += said != TEXT
        assert said == TEXT or PLAIN_WORDS.fullmatch(str(said)) or '" in it ' in str(said), (place, said)
    assert refused > len(whole) // 2


MAGIC = {"gz": b"\x1f\x8b\x08", "zst": b"\x28\xb5\x2f\xfd", "zip": b"PK\x03\x04"}


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(st.sampled_from(["gz", "zst", "zip"]), st.booleans(), st.binary(max_size=80))
@example("zip", True, b"PK\x05\x06" + bytes(18))  # an archive of nothing, PKWARE's APPNOTE section 4.3.16
def test_random_bytes_are_refused_in_plain_words(tmp_path: Path, packing: str, is_begun: bool, data: bytes) -> None:
    path = _put(tmp_path, packing, MAGIC[packing] * is_begun + data)
    said = _said(path, packing)
    assert isinstance(said, bytes) or PLAIN_WORDS.fullmatch(said)
    with suppress(FeedError):
        zip_members(path, path.name)


@pytest.mark.parametrize("packing", ["gz", "zst", "zip"])
def test_a_file_that_is_not_packed_as_its_name_says(tmp_path: Path, packing: str) -> None:
    for content in (b"at,machine\n", PACKERS["zst" if packing == "gz" else "gz"](TEXT)):
        assert "as its name says" in _refusal(_put(tmp_path, packing, content), packing)


def test_what_follows_a_packed_file_is_no_part_of_it_and_not_passed_over(tmp_path: Path) -> None:
    for packing in ("gz", "zst"):
        assert "damaged" in _refusal(_put(tmp_path, packing, PACKERS[packing](TEXT) + b"at,machine\n"), packing)


@pytest.mark.parametrize("packing", ["", "gz", "zst", "zip"])
def test_a_file_that_cannot_be_opened_or_read(tmp_path: Path, packing: str) -> None:
    (tmp_path / "folder").mkdir()
    places = {
        tmp_path / "folder": "it is a folder",
        tmp_path / "none": "it is not there any more",
        # Page 0 of a process is never mapped, so that reading it is an input/output error, proc(5).
        Path("/proc/self/mem"): "the disk gave an error",
    }
    for path, words in places.items():
        for size in (10, -1):
            with (
                pytest.raises(FeedError, match=f'^"a.x" cannot be read: {words}. Export'),
                open_packed(path, "a.x", packing) as stream,
            ):
                stream.read(size)


def test_a_file_one_may_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(path: Path, _file: str) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(archives, "_File", locked)
    assert "you have no right to read it" in _refusal(tmp_path / "a", "")


@pytest.mark.parametrize("packing", ["gz", "zst", "zip"])
def test_an_archive_made_to_explode_is_stopped_and_memory_stays_small(tmp_path: Path, packing: str) -> None:
    # Zeros pack about 1,029 to 1 with deflate (RFC 1951 allows 1,032) and over 30,000 to 1 with Zstandard.
    zeros = bytes(1 << 20)
    out = io.BytesIO()
    if packing == "zip":
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("a.csv", "w") as packer:
            for _ in range(160):
                packer.write(zeros)
    else:
        with _packer(packing, out) as packer:
            for _ in range(160 if packing == "gz" else 600):
                packer.write(zeros)
    path = _put(tmp_path, packing, out.getvalue())
    tracemalloc.start()
    with pytest.raises(FeedError, match="times its size") as caught:
        _drain(path, packing)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert PLAIN_WORDS.fullmatch(str(caught.value))
    assert peak < 80 << 20


def test_what_unpacks_to_little_is_read_whatever_its_ratio(tmp_path: Path) -> None:
    data = bytes(60 << 20)
    for packing in ("gz", "zst"):
        path = _put(tmp_path, packing, PACKERS[packing](data))
        assert path.stat().st_size * archives.MOST_TIMES[packing] < len(data)
        assert _read(path, packing) == data


def test_no_file_may_unpack_to_more_than_the_absolute_bound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MOST_BYTES", 1 << 30)
    monkeypatch.setattr(archives, "FREE_BYTES", 2 << 30)
    path = _put(tmp_path, "zst", _zstd(bytes(1 << 20)) * 1025)
    with pytest.raises(FeedError, match="it unpacks to more than 1 GiB"):
        _drain(path, "zst")


def _link(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.external_attr = (stat.S_IFLNK | 0o777) << 16  # the upper half is the Unix mode
    return info


def test_folders_and_links_in_a_zip_are_passed_over(tmp_path: Path) -> None:
    path = _put(tmp_path, "zip", _zip([("logs/", b""), (_link("link.csv"), b"/etc/hosts"), ("logs/a.csv", b"x")]))
    assert zip_members(path, "a.zip") == ["logs/a.csv"]
    assert 'it holds no "link.csv"' in _refusal(path, "zip", "link.csv")


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["../a.csv"], '"../a.csv" in it leads out of the archive'),
        (["logs/../../a.csv"], "leads out"),
        (["..\\a.csv"], "leads out"),
        (["/a.csv"], "leads out"),
        (["\\a.csv"], "leads out"),
        (["C:\\a.csv"], "leads out"),
        (["C:a.csv"], "leads out"),  # relative to where drive C happens to be
        (["a.csv", "./a.csv"], '"./a.csv" in it comes twice'),
        (["logs/a.csv", "logs//a.csv"], "comes twice"),
        (["a\nb.csv"], r"'a\\nb.csv' in it has a name that is not plain text"),
        (["\u202egnp.csv"], "not plain text"),
    ],
)
def test_names_in_a_zip_that_are_refused(tmp_path: Path, names: list[str], words: str) -> None:
    path = _put(tmp_path, "zip", _zip([(name, b"x") for name in names]))
    with pytest.raises(FeedError, match=f'^"a.zip" cannot be read: [^\n]*{words}'):
        zip_members(path, "a.zip")


def test_a_member_without_a_name_is_refused(tmp_path: Path) -> None:
    # The lengths of name and extra field are at bytes 28 and 30 of a central header (PKWARE's APPNOTE, section 4.3.12).
    packed = bytearray(_zip([("a", b"x")]))
    at = packed.index(b"PK\x01\x02")
    packed[at + 28], packed[at + 30] = 0, 1
    with pytest.raises(FeedError, match='"" in it has a name that is not plain text'):
        zip_members(_put(tmp_path, "zip", bytes(packed)), "a.zip")


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_the_same_name_twice_is_refused(tmp_path: Path) -> None:
    path = _put(tmp_path, "zip", _zip([("a.csv", b"1"), ("a.csv", b"2")]))
    with pytest.raises(FeedError, match=r'"a\.csv" in it comes twice'):
        zip_members(path, "a.zip")


def test_an_encrypted_member_is_refused(tmp_path: Path) -> None:
    # The general purpose flag is at byte 6 of a local header and 8 of a central one; bit 0 says encrypted (PKWARE's
    # APPNOTE, sections 4.3 and 4.4.4).
    packed = bytearray(_zip([("a.csv", b"x")]))
    packed[6] |= 1
    packed[packed.index(b"PK\x01\x02") + 8] |= 1
    path = _put(tmp_path, "zip", bytes(packed))
    with pytest.raises(FeedError, match=r'"a\.csv" in it is encrypted\. Pack it without a password'):
        zip_members(path, "a.zip")


def test_a_method_without_a_bound_is_refused(tmp_path: Path) -> None:
    path = _put(tmp_path, "zip", _zip([("a.csv", b"x" * 100)], zipfile.ZIP_BZIP2))
    assert zip_members(path, "a.zip") == ["a.csv"]
    assert '"a.csv" in it is packed by a method other than deflate' in _refusal(path, "zip")


def test_members_that_share_their_bytes_are_refused(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("a.csv", bytes(5000))
        for name in ("b.csv", "c.csv"):
            twin = zipfile.ZipInfo(name)
            twin.compress_size = twin.file_size = 5000
            twin.header_offset, twin.CRC = archive.infolist()[0].header_offset, archive.infolist()[0].CRC
            archive.filelist.append(twin)
    path = _put(tmp_path, "zip", out.getvalue())
    with pytest.raises(FeedError, match="damaged"):
        zip_members(path, "a.zip")


def test_ten_thousand_members_and_no_more(tmp_path: Path) -> None:
    names = [f"{k:05}.csv" for k in range(10_001)]
    path = _put(tmp_path, "zip", _zip([(name, b"") for name in names[:-1]]))
    assert zip_members(path, "a.zip") == names[:-1]
    path = _put(tmp_path, "zip", _zip([(name, b"") for name in names]))
    with pytest.raises(FeedError, match="it holds 10,001 files, more than 10,000"):
        zip_members(path, "a.zip")
