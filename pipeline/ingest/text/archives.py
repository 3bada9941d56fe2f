"""Unpacks gzip, Zstandard and zip a piece at a time, and stops at archives made to explode.

Nothing is written to disk, and what is held in memory does not grow with the file.
"""

from __future__ import annotations

import gzip
import io
import os
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING, BinaryIO

import zstandard

from pipeline.errors import FeedError, unreadable
from pipeline.ingest.text.byte_stream import pieces_of, stream_of

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

# Measured: half a million `alive` lines a second apart pack 13 to 1 with deflate and 1,271 to 1 with Zstandard's level
# 19; the same line over and over 412 to 1 with deflate, which reaches 1,032 to 1 only with a single byte repeated (258
# bytes in two bits, RFC 1951 section 3.2.5). Files that unpack to little are let pass whatever their ratio.
MOST_TIMES = {"gz": 1_000, "zip": 1_000, "zst": 5_000}
FREE_BYTES = 64 << 20
MOST_BYTES = 64 << 30
MOST_MEMBERS = 10_000

# A block of four bytes may stand for 128 KiB (RFC 8878, section 3.1.1.2), so 1 KiB for 32 MiB and never for more.
ZSTD_PIECE_BYTES = 1 << 10
MAGIC = {
    "gzip": re.compile(rb"\x1f\x8b"),
    "Zstandard": re.compile(rb"\x28\xb5\x2f\xfd|[\x50-\x5f]\x2a\x4d\x18"),
    "zip": re.compile(rb"PK"),
}
ENCRYPTED = 0x1
UNCLEAN = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202e]")  # what would break or turn round a line of a message

CUT_SHORT = "its packed data end too early"
DAMAGED = "its packed data are damaged or end too early"
BROKEN = (OSError, zlib.error, zstandard.ZstdError, zipfile.BadZipFile, struct.error, RuntimeError, ValueError)


@contextmanager
def open_packed(path: Path, file: str, packing: str, member: str = "") -> Iterator[BinaryIO]:
    """The bytes of a file, unpacked; ``packing`` is gz, zst, zip (then ``member`` names the file in it) or empty.

    Only a file that is not packed can be sought in. ``file`` is its name in messages.

    Raises:
        FeedError: it cannot be opened or read, is not packed as its name says, is damaged, or unpacks to more than
            64 MiB and 1,000 times its size (Zstandard: 5,000 times), or to 64 GiB; also while the stream is read.
    """
    with _opened(path, file) as packed:
        yield stream_of(_unpacked(packed, file, packing, member)) if packing else packed


def zip_members(path: Path, file: str) -> list[str]:
    """The names of the regular files in a zip archive, sorted; folders and links are passed over.

    Raises:
        FeedError: it cannot be read, or a member is encrypted, comes twice, or has a name that leads out of the
            archive.
    """
    with _opened(path, file) as packed, _plain_words(file), _unzip(packed, file) as archive:
        return sorted(_members(archive, file, os.fstat(packed.fileno()).st_size))


class _File(io.FileIO):
    """A file that says in plain words why it cannot be read."""

    def __init__(self, path: Path, file: str) -> None:
        super().__init__(path, "rb")
        self._file = file

    def readinto(self, buffer: WriteableBuffer, /) -> int | None:
        with _why(self._file):
            return super().readinto(buffer)

    def readall(self) -> bytes:
        with _why(self._file):
            return super().readall() or b""


def _opened(path: Path, file: str) -> io.BufferedReader:
    with _why(file):
        return io.BufferedReader(_File(path, file))


@contextmanager
def _why(file: str) -> Iterator[None]:
    words = {
        PermissionError: "you have no right to read it",
        FileNotFoundError: "it is not there any more",
        IsADirectoryError: "it is a folder",
    }
    try:
        yield
    except OSError as error:
        raise unreadable(file, words.get(type(error), "the disk gave an error")) from None


def _unpacked(packed: io.BufferedReader, file: str, packing: str, member: str) -> Iterator[bytes]:
    packed_bytes, count = os.fstat(packed.fileno()).st_size, 0
    with _plain_words(file):
        for piece in UNPACK[packing](packed, file, member):
            count += len(piece)
            if count > max(FREE_BYTES, packed_bytes * MOST_TIMES[packing]):
                raise unreadable(
                    file, f"it unpacks to more than {MOST_TIMES[packing]:,} times its size, as no log does"
                )
            if count > MOST_BYTES:
                raise unreadable(file, f"it unpacks to more than {MOST_BYTES >> 30} GiB")
            yield piece


@contextmanager
def _plain_words(file: str) -> Iterator[None]:
    try:
        yield
    except EOFError:
        raise unreadable(file, CUT_SHORT) from None
    except BROKEN:
        raise unreadable(file, DAMAGED) from None


def _check_magic(packed: io.BufferedReader, file: str, kind: str) -> None:
    if not MAGIC[kind].match(packed.peek(4)):
        raise unreadable(file, f"it is not packed with {kind} as its name says")


def _gunzip(packed: io.BufferedReader, file: str, _member: str) -> Iterator[bytes]:
    if packed.peek(1):
        _check_magic(packed, file, "gzip")
    with gzip.GzipFile(fileobj=packed) as stream:
        yield from pieces_of(stream)  # type: ignore[arg-type]


def _unzstd(packed: io.BufferedReader, file: str, _member: str) -> Iterator[bytes]:
    if packed.peek(1):
        _check_magic(packed, file, "Zstandard")
    unpacker = zstandard.ZstdDecompressor()
    frame = None
    while piece := packed.read(ZSTD_PIECE_BYTES):
        while piece:
            if frame is None or frame.eof:
                frame = unpacker.decompressobj()
            yield frame.decompress(piece)
            piece = frame.unused_data
    if frame is not None and not frame.eof:
        raise EOFError


def _unzip_member(packed: io.BufferedReader, file: str, member: str) -> Iterator[bytes]:
    with _unzip(packed, file) as archive:
        info = _members(archive, file, os.fstat(packed.fileno()).st_size).get(member)
        if info is None:
            raise unreadable(file, f"it holds no {_quoted(member)}")
        if info.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
            # Others unpack as much at once as they like.
            raise unreadable(file, f"{_quoted(member)} in it is packed by a method other than deflate")
        with archive.open(info) as stream:
            yield from pieces_of(stream)  # type: ignore[arg-type]


UNPACK: dict[str, Callable[[io.BufferedReader, str, str], Iterator[bytes]]] = {
    "gz": _gunzip,
    "zst": _unzstd,
    "zip": _unzip_member,
}


def _unzip(packed: io.BufferedReader, file: str) -> zipfile.ZipFile:
    _check_magic(packed, file, "zip")
    return zipfile.ZipFile(packed)


def _members(archive: zipfile.ZipFile, file: str, packed_bytes: int) -> dict[str, zipfile.ZipInfo]:
    infos = archive.infolist()
    if len(infos) > MOST_MEMBERS:
        raise unreadable(file, f"it holds {len(infos):,} files, more than {MOST_MEMBERS:,}")
    if sum(info.compress_size for info in infos) > packed_bytes:  # members that share bytes are made to explode
        raise unreadable(file, DAMAGED)
    members: dict[str, zipfile.ZipInfo] = {}
    for info in filter(_is_regular, infos):
        path = PureWindowsPath(info.filename)  # it knows both kinds of slash, and drives
        problem = "comes twice. Pack each file once." if path.as_posix() in members else _problem(path, info)
        if problem:
            raise FeedError(f'"{file}" cannot be read: {_quoted(info.filename)} in it {problem}')
        members[path.as_posix()] = info
    return {info.filename: info for info in members.values()}


def _is_regular(info: zipfile.ZipInfo) -> bool:
    kind = stat.S_IFMT(info.external_attr >> 16)
    return not info.filename.endswith("/") and kind in {0, stat.S_IFREG}


def _problem(path: PureWindowsPath, info: zipfile.ZipInfo) -> str:
    if path.drive or path.root or ".." in path.parts:
        return "leads out of the archive. Pack the files again with names within one folder."
    if not info.filename or UNCLEAN.search(info.filename):
        return "has a name that is not plain text. Rename it and pack again."
    if info.flag_bits & ENCRYPTED:
        return "is encrypted. Pack it without a password."
    return ""


def _quoted(name: str) -> str:
    return f"{name[:60]!a}" if UNCLEAN.search(name) else f'"{name[:60]}"'
