"""Writes the machines' logs as syslog: RFC 5424 from three cards, RFC 3164 on wall time from the old one.

Weekly files, cut at local midnight. The old card writes neither year nor offset, so in the night of the clock change
only the order of its lines tells the first pass of the doubled hour from the second.
"""

from __future__ import annotations

import zlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from sample_logs.foreign.house import DOUBLED_HOUR, FIRST_DAY, WHOLE_SECONDS
from sample_logs.foreign.phrases import Said, say
from sample_logs.foreign.spellings import host, machine_now
from sample_logs.foreign.strays import Strays
from sample_logs.room.instants import DAY, HOUR, MINUTE, as_local, local
from sample_logs.room.logbook import Event
from sample_logs.room.plant import FAST_CLOCK

GROUPS = {"norr": ("VT6",), "soder": ("VT7", "VT8")}
WEEK_DAYS = 7
PACKED = "maskinlogg/soder_2031-10-09.log.gz"
ELEMENT = "kort@32473"  # 32473 is the enterprise number for examples, RFC 5612
FACILITY = 16 * 8  # local0
MARK = "\ufeff"  # RFC 5424, 6.4: what says that the text is UTF-8
MONTHS = ("", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class Line:
    """A line of a machine's log before it is spelled: the card's own time, and what it says."""

    at: int
    machine: str
    said: Said


def write_machine_logs(events: list[Event], strays: Strays) -> dict[str, bytes]:
    """Every log file by its path; what is only chatter is noted among the strays."""
    lines = sorted((*map(_line, events), *_chatter(events)), key=lambda line: line.at)
    sent: Counter[str] = Counter()
    files = {}
    for start in _weeks(max(line.at for line in lines)):
        week = [line for line in lines if start <= line.at < _end_of_week(start)]
        first = as_local(start).date()
        for group, machines in GROUPS.items():
            path = f"maskinlogg/{group}_{first}.log"
            files[path] = [_numbered(line, sent) for line in week if line.machine in machines]
            _note(strays, path, [line for line in week if line.machine in machines])
        path = f"maskinlogg/bm5_{first}.log"
        files[path] = [_old_style(line) for line in week if line.machine == WHOLE_SECONDS]
        _note(strays, path, [line for line in week if line.machine == WHOLE_SECONDS])
    return dict(_packed(path, "".join(f"{text}\n" for text in texts).encode()) for path, texts in files.items())


def _line(row: Event) -> Line:
    return Line(row.at, row.machine, say(row))


def _chatter(events: list[Event]) -> Iterator[Line]:
    """The tape counter before every stop, temperatures after cleaning and, of the old card, all through one night."""
    for row in events:
        if row.event == "stop":
            yield Line(row.at - 2000, row.machine, Said(f"BANDRÄKNARE {row.at // 1000 % 7200:05d}"))
        if row.event == "clean":
            yield Line(row.at + MINUTE, row.machine, Said(f"TEMPERATUR {28 + row.at // 1000 % 9} grader"))
    for at in range(DOUBLED_HOUR - 20 * MINUTE, DOUBLED_HOUR + 2 * HOUR + 10 * MINUTE, 10 * MINUTE):
        yield Line(at + 3000, WHOLE_SECONDS, Said(f"TEMPERATUR {31 + at // MINUTE % 7} grader"))


def _weeks(last: int) -> Iterator[int]:
    start = FIRST_DAY
    while local(start, 0) <= last:
        yield local(start, 0)
        start = date.fromordinal(start.toordinal() + WEEK_DAYS)


def _end_of_week(start: int) -> int:
    return local(date.fromordinal(as_local(start + DAY // 2).date().toordinal() + WEEK_DAYS), 0)


def _numbered(line: Line, sent: Counter[str]) -> str:
    """A line by RFC 5424, numbered by its sender: section 7.1 timeQuality, 7.3 meta."""
    sender = host(machine_now(line.machine, line.at))
    sent[sender] += 1
    synced = 0 if line.machine == FAST_CLOCK else 1
    elements = f'[timeQuality tzKnown="1" isSynced="{synced}"][meta sequenceId="{sent[sender]}"]'
    if line.said.fields:
        elements += f"[{ELEMENT} " + " ".join(f'{name}="{text}"' for name, text in line.said.fields) + "]"
    stamp = as_local(line.at).isoformat(timespec="milliseconds")
    return f"<{FACILITY + line.said.severity}>1 {stamp} {sender} bandkort - - {elements} {MARK}{line.said.text}"


def _old_style(line: Line) -> str:
    """A line as RFC 3164 describes it: wall time without year, fraction or offset."""
    wall = as_local(line.at)
    stamp = f"{MONTHS[wall.month]} {wall.day:2d} {wall:%H:%M:%S}"
    return f"<{FACILITY + line.said.severity}>{stamp} {host(line.machine)} bandkort: {line.said.in_words()}"


def _note(strays: Strays, path: str, lines: list[Line]) -> None:
    path = f"{path}.gz" if f"{path}.gz" == PACKED else path
    for line in lines:
        if line.said.is_chatter:
            strays.note(path, f"`{line.said.text.split()[0]} ...`", "chatter: of no interest")


def _packed(path: str, content: bytes) -> tuple[str, bytes]:
    """The file, and one of them as gzip; stored, so that no packer's version changes the bytes (RFC 1952)."""
    if f"{path}.gz" != PACKED:
        return path, content
    packer = zlib.compressobj(0, zlib.DEFLATED, -zlib.MAX_WBITS)
    body = packer.compress(content) + packer.flush()
    tail = zlib.crc32(content).to_bytes(4, "little") + len(content).to_bytes(4, "little")
    return PACKED, b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff" + body + tail
