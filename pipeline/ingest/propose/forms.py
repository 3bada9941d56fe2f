"""Tells what a file is by its first bytes, and by its name only where those say nothing: names are often wrong."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from pipeline.errors import FeedError, unreadable
from pipeline.ingest.find import PACKED, UNPACKED_ONLY, format_of
from pipeline.ingest.text.archives import open_packed, zip_members
from pipeline.ingest.text.encodings import decoded

HEAD_BYTES = 1 << 16
GZIP, ZSTD, ZIP, PARQUET = b"\x1f\x8b", b"\x28\xb5\x2f\xfd", b"PK\x03\x04", b"PAR1"
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
# A workbook is a zip archive with one of these members: OOXML (ECMA-376 part 2), OpenDocument 1.3 part 2.
WORKBOOK_MEMBERS = ("[Content_Types].xml", "content.xml")
ENDS = {"gz": "gzip", "zst": "Zstandard", "zip": "zip"}
MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
# Begins as RFC 5424 or RFC 3164 has it, or as daemons write them to a file: a priority, or a time, a host and a tag.
SYSLOG = re.compile(
    rf"<[0-9]{{1,3}}>\S|1 [0-9]{{4}}-\S+ \S+ \S+ \S+ \S+ [\[-]|(?:{MONTHS}) [ 0-3]?[0-9] (?:[0-9]{{4}} )?[0-9:.]{{8,}} "
    r"|[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.,]{8,}(?:Z|[+-][0-9:]{4,6}) \S+ [^ :;,\t]+:"
)
CONTROL = re.compile(r"[\x00-\x08\x0e-\x1a\x1c-\x1f]")
MOST_CONTROL = 0.02  # share of control characters above which a file is no text
LINES_LOOKED_AT = 200
MOST_OF = 0.5


@dataclass(frozen=True)
class Form:
    """What a file is: ``format`` and ``packing`` as ``FoundFile`` has them, and why.

    Of an archive one ``member`` is looked at; ``member_count`` is how many it has.
    """

    format: str
    packing: str
    member: str
    why: str
    member_count: int = 0


def recognise_form(path: Path, file: str) -> Form:
    """What the file ``path`` is; ``file`` is its name in messages.

    Raises:
        FeedError: it is empty, no file, packed otherwise than its name says, or nothing that can be read.
    """
    head = _head(path, file)
    packing, members = _packing(path, file, head)
    member = members[0] if members else ""
    if packing:
        with open_packed(path, file, packing, member) as stream:
            head = stream.read(HEAD_BYTES)
    kind, why = _kind(head, member or path.name.removesuffix(f".{packing}"), file)
    if packing and kind in UNPACKED_ONLY:
        raise FeedError(f"{file}: a packed {kind} file cannot be read. Unpack it.")
    return Form(kind, packing, member, why, len(members))


def _head(path: Path, file: str) -> bytes:
    try:
        if path.exists() and not path.is_file():
            raise FeedError(f'"{file}" is no file. Expected one export of the room.')
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
    except (OSError, ValueError) as error:
        raise unreadable(file, error) from None
    if not head.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        raise FeedError(f'"{file}" is empty. Expected an export that holds rows.')
    return head


def _packing(path: Path, file: str, head: bytes) -> tuple[str, list[str]]:
    """How the file is packed, and the members of an archive; none for a workbook, which is one inside."""
    packed = PACKED.fullmatch(path.name)
    said = packed[2].lower() if packed else ""
    found = "gz" if head.startswith(GZIP) else "zst" if head.startswith(ZSTD) else ""
    if head.startswith(ZIP):
        members = zip_members(path, file)
        if any(member in WORKBOOK_MEMBERS for member in members):
            if said:
                raise FeedError(f'"{file}" is a workbook. Rename it so that it ends in .xlsx or .ods.')
            return "", []
        found = "zip"
    if found and said != found:
        raise FeedError(f'"{file}" is packed with {ENDS[found]}, but its name does not say so. Let it end in .{found}.')
    return said, _usable(members, file) if found == "zip" else []


def _usable(members: list[str], file: str) -> list[str]:
    usable = [member for member in members if not member.rpartition("/")[2].startswith(".")]
    if not usable:
        raise FeedError(f'"{file}" is an archive without a file in it. Pack the export again.')
    return usable


def _kind(head: bytes, name: str, file: str) -> tuple[str, str]:
    if head.startswith(PARQUET):
        return "parquet", "it begins as Parquet does"
    if head.startswith((OLD_WORKBOOK, ZIP)):
        return "excel", "it begins as a workbook does"
    text = text_head(head)
    if len(CONTROL.findall(text)) > MOST_CONTROL * len(text):
        raise FeedError(f'"{file}" is no text, workbook or Parquet file. Export it as one of these.')
    if text.lstrip()[:15].upper() == "BEGIN:VCALENDAR":
        return "calendar", "it begins with BEGIN:VCALENDAR"
    return _kind_of_lines([line for line in text.splitlines() if line.strip()][:LINES_LOOKED_AT], name, file)


def _kind_of_lines(lines: list[str], name: str, file: str) -> tuple[str, str]:
    whole = lines[:-1] or lines  # the last one may be cut off
    objects = sum(_is_object(line) for line in whole)
    if objects > MOST_OF * len(whole):
        return "jsonl", f"{objects} of the first {len(whole)} lines are JSON objects"
    if whole and whole[0].lstrip().startswith("[") and "{" in "".join(whole[:2]) and '"' in "".join(whole[:5]):
        raise FeedError(f'"{file}" is one JSON array. Export it as JSON Lines, an object a line, or as CSV.')
    messages = sum(SYSLOG.match(line) is not None for line in whole)
    if messages > MOST_OF * len(whole):
        return "syslog", f"{messages} of the first {len(whole)} lines begin as syslog does"
    said = format_of(name)
    return "csv", "delimited text" if said == "csv" else f"delimited text, although the name says {said}"


def text_head(head: bytes) -> str:
    """``head`` as text, whatever its encoding; a letter cut off at its end is lost."""
    with decoded(BytesIO(head)) as stream:
        return stream.read().decode("utf-8", "replace").removeprefix("\ufeff")


def _is_object(line: str) -> bool:
    if not line.lstrip().startswith("{"):
        return False
    try:
        return isinstance(json.loads(line), dict)
    except (ValueError, RecursionError):
        return False
