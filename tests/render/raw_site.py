"""A site's files read plainly, row by row, with nothing of the program: what a reader with the folder would see.

States are replayed here from the rules of the trade's contract (a roll starts afresh, a stop ends, what is lost stays
lost until it is back), so that a sentence can be held against the rows and not against the program's own tables.
"""

from __future__ import annotations

import csv
import gzip
import json
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

RANK = {
    "stop": 1,
    "roll": 2,
    "unlock": 3,
    "lock": 4,
    "picture_lost": 5,
    "sound_lost": 5,
    "picture_back": 6,
    "sound_back": 6,
}
FAULTS = ("alarm", "unlock", "picture_lost", "sound_lost")
WORDS = frozenset(RANK) | {"offset", "alarm", "clear", "clean", "lineup", "head_fitted", "part_fitted", "alive"}
LEAD = timedelta(seconds=600)


@dataclass(frozen=True)
class Fact:
    """One row of a file: its kind, cells, and its instant in naive UTC by the house clock."""

    kind: str
    place: tuple[str, int]
    row: dict[str, Any]
    at: datetime

    @property
    def words(self) -> str:
        """An event as an account writes it."""
        detail = self.row.get("detail")
        return str(self.row["event"]).replace("_", " ") + (f": {detail}" if detail else "")


class RawSite:
    """Every row of a site's files by file and line. ``fast_s``: how far a machine's clock runs ahead of the house."""

    def __init__(self, site: Path, zone: str, fast_s: dict[str, float] | None = None) -> None:
        self.zone, self.fast = ZoneInfo(zone), fast_s or {}
        self.facts: dict[tuple[str, int], Fact] = {}
        for path in sorted(site.rglob("*")):
            name = path.relative_to(site).as_posix()
            if path.is_file() and path.suffix in (".csv", ".gz", ".jsonl", ".parquet"):
                for line, row in read_rows(path):
                    fact = self._fact((name, line), row)
                    if fact is not None:
                        self.facts[name, line] = fact
        self.kinds: dict[str, list[Fact]] = {}
        for fact in self.facts.values():
            self.kinds.setdefault(fact.kind, []).append(fact)
        self.replayed: dict[str, tuple[list[datetime], list[bool]]] = {}
        self.events: dict[str, list[Fact]] = {}
        for fact in self.of("event"):
            self.events.setdefault(fact.row["machine"], []).append(fact)
        for found in self.events.values():
            found.sort(key=lambda fact: (fact.at, RANK.get(fact.row["event"], 7)))
        self.no_lock = {name for name, found in self.events.items() if not any(f.row["event"] == "lock" for f in found)}

    def of(self, kind: str) -> list[Fact]:
        return self.kinds.get(kind, [])

    @cached_property
    def last_at(self) -> datetime:
        """The latest stamp of any log."""
        return max(fact.at for fact in (*self.of("event"), *self.of("take")))

    def utc(self, text: str) -> datetime:
        at = datetime.fromisoformat(text)
        at = at.replace(tzinfo=self.zone) if at.tzinfo is None else at
        return at.astimezone(UTC).replace(tzinfo=None)

    def _fact(self, place: tuple[str, int], row: dict[str, Any]) -> Fact | None:
        kinds = (
            ("rules", "at"),
            ("event", "at"),
            ("action", "at"),
            ("ticket", "opened"),
            ("booking", "starts"),
            ("reel", "recorded_at"),
        )
        kind, cell = next(((kind, cell) for kind, cell in kinds if kind in row and cell in row), ("", ""))
        if kind == "event" and (row["event"] not in WORDS or not row["machine"]):
            return None
        try:
            at = self.utc(row[cell])
        except (ValueError, KeyError, TypeError):
            return None
        if kind == "event":
            at -= timedelta(seconds=self.fast.get(row["machine"], 0.0))
        kind = "start" if kind == "action" and row["action"] == "start" else "take" if kind == "action" else kind
        return Fact(kind, place, row, at)

    def is_good(self, machine: str, at: datetime, *, before: bool = False) -> bool:
        """Whether a machine rolled, locked, with picture and sound, by its own last words."""
        if machine not in self.replayed:
            self.replayed[machine] = self._replay(machine)
        instants, goods = self.replayed[machine]
        place = bisect_left(instants, at) if before else bisect_right(instants, at)
        return goods[place - 1] if place else False

    def _replay(self, machine: str) -> tuple[list[datetime], list[bool]]:
        """The instants of a machine's lines, and whether it was good after each."""
        rolling, locked, lost = False, False, set()
        instants, goods = [], []
        for fact in self.events.get(machine, []):
            word = fact.row["event"]
            if word == "stop":
                rolling, locked = False, False
            elif word == "roll" and not rolling:
                rolling, locked, lost = True, False, set()
            elif word in ("lock", "unlock"):
                locked = word == "lock"
            elif word.endswith("_lost"):
                lost.add(word[:5])
            elif word.endswith("_back"):
                lost.discard(word[:5])
            instants.append(fact.at)
            goods.append(rolling and not lost and (locked or (machine in self.no_lock and word != "unlock")))
        return instants, goods

    def last_offset(self, one: str, other: str, at: datetime, *, before: bool = False) -> Fact | None:
        """The last offset that one of two machines logged of the other, or without naming a partner."""
        found = [
            fact
            for pair in ((one, other), (other, one))
            for fact in self.events.get(pair[0], [])
            if fact.row["event"] == "offset" and (fact.row.get("detail") or pair[1]) == pair[1]
            if fact.at < at or (fact.at == at and not before)
        ]
        return max(found, key=lambda fact: fact.at, default=None)

    def in_step(self, one: str, other: str, at: datetime, *, before: bool = False, within_s: float = 0.04) -> bool:
        """Whether both are good and the last offset between them, since both were, is within the tolerance."""
        offset = self.last_offset(one, other, at, before=before)
        if offset is None or not all(self.is_good(name, at, before=before) for name in (one, other)):
            return False
        since = max(self._since(name, at, before) for name in (one, other))
        return offset.at >= since and abs(float(offset.row["value"])) <= within_s + 1e-9

    def _since(self, machine: str, at: datetime, before: bool) -> datetime:
        marks = [
            fact.at
            for fact in self.events[machine]
            if fact.row["event"] in ("roll", "lock") and (fact.at < at or (fact.at == at and not before))
        ]
        return max(marks)

    def selector(self, channel: str, at: datetime, *, before: bool = False) -> str | None:
        takes = [
            fact
            for fact in self.of("take")
            if fact.row["channel"] == channel and (fact.at < at or (fact.at == at and not before))
        ]
        return str(max(takes, key=lambda fact: fact.at).row["to_machine"]) if takes else None

    def booked(self, channel: str, at: datetime) -> list[Fact]:
        """Air and protect bookings of a channel that hold at an instant; of an id that comes again the last row."""
        last: dict[str, Fact] = {}
        for fact in self.of("booking"):
            last[fact.row["booking"]] = fact
        return [
            fact
            for fact in last.values()
            if fact.row["channel"] == channel and fact.row["role"] in ("air", "protect")
            if fact.at <= at <= self.utc(fact.row["ends"])
        ]


def read_rows(path: Path) -> list[tuple[int, dict[str, Any]]]:
    """(line, cells) of each row: lines as an editor counts them, rows of Parquet from 1; empty cells are None."""
    if path.suffix == ".parquet":
        return list(enumerate(pl.read_parquet(path).to_dicts(), 1))
    raw = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    text = raw.decode("utf-8-sig", errors="replace")
    if path.suffix == ".jsonl":
        return [(line, json.loads(one)) for line, one in enumerate(text.splitlines(), 1) if one.strip().endswith("}")]
    reader = csv.reader(text.splitlines(), skipinitialspace=True)
    header, rows = next(reader), []
    for cells in reader:
        if len(cells) == len(header):
            row = {name: cell.strip() or None for name, cell in zip(header, cells, strict=True)}
            rows.append((reader.line_num, row))
    return rows
