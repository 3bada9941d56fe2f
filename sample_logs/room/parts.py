"""Which file each machine's log lines are in: rotation, stamps, format, and the day by which rotated files overlap."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from sample_logs.room.instants import DAY, local, stamp_micros, stamp_naive, stamp_offset, stamp_utc
from sample_logs.room.logbook import Event

COLUMNS = ("at", "machine", "event", "value", "detail")
MONTHS = (("2031-02", date(2031, 2, 1)), ("2031-03", date(2031, 3, 1)), ("2031-04", date(2031, 4, 1)))
HALVES = tuple(
    (f"{month}{half}", first.replace(day=day)) for month, first in MONTHS for half, day in (("a", 1), ("b", 16))
)
STAMPS: dict[str, Callable[[int], str]] = {
    "utc": stamp_utc,
    "naive": stamp_naive,
    "offset": stamp_offset,
    "micros": stamp_micros,
}


@dataclass(frozen=True)
class Part:
    """One events file: the lines of a machine stamped from `start` to `end`, None for no limit."""

    path: str
    machine: str
    start: int | None
    end: int | None
    stamp: str = "utc"
    columns: tuple[str, ...] = COLUMNS
    newline: str = "\n"
    byte_order_mark: bool = False

    def holds(self, event: Event) -> bool:
        """Whether the file has this line."""
        after = self.start is None or event.at >= self.start
        return event.machine == self.machine and after and (self.end is None or event.at < self.end)


def write_parts() -> list[Part]:
    """Every events file, in order of its path."""
    parts = [
        *_rotate("VT1", MONTHS, overlap=DAY),
        *_rotate("VT2", HALVES, stamp="naive"),
        *_rotate("VT3", MONTHS, stamp="offset"),
        *_rotate("VT4", MONTHS, stamp="naive"),
        *_rotate("VT5", MONTHS),
        *_rotate("VT6", MONTHS, overlap=DAY),
        *_rotate("VT7", HALVES, overlap=DAY),
        *_rotate("VT8", MONTHS, stamp="offset"),
    ]
    return sorted((_odd(part) for part in parts), key=lambda part: part.path)


def _rotate(machine: str, cuts: tuple[tuple[str, date], ...], *, stamp: str = "utc", overlap: int = 0) -> list[Part]:
    starts = [local(first, 0) for _, first in cuts]
    return [
        Part(
            f"events/{machine}_{name}.csv",
            machine,
            starts[k] - overlap if k else None,
            starts[k + 1] if k + 1 < len(cuts) else None,
            stamp,
        )
        for k, (name, _) in enumerate(cuts)
    ]


def _odd(part: Part) -> Part:
    """The files that differ from the rest."""
    swapped = ("machine", "event", "at", "detail", "value")
    wider = (*COLUMNS, "tension_mv", "reader")
    changes: dict[str, dict[str, object]] = {
        "events/VT2_2031-03b.csv": {"columns": wider},
        "events/VT3_2031-03.csv": {"path": "events/VT3_2031-03.jsonl"},
        "events/VT3_2031-04.csv": {"stamp": "micros", "newline": "\r\n"},
        "events/VT4_2031-04.csv": {"columns": swapped},
        "events/VT5_2031-02.csv": {"path": "events/VT5_2031-02.csv.gz"},
        "events/VT5_2031-03.csv": {"byte_order_mark": True},
        "events/VT8_2031-04.csv": {"path": "events/VT8_2031-04.parquet"},
    }
    return Part(**{**part.__dict__, **changes.get(part.path, {})})
