"""Writes a generated room as a site folder, so that the product can be run on just what the second reader was given."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from random import Random
from typing import Any

Row = Mapping[str, Any]

COLUMNS = {
    "events": ["at", "machine", "event", "value", "detail"],
    "switches": ["at", "action", "channel", "from_machine", "to_machine", "reason", "by"],
    "tickets": [
        "ticket", "machine", "opened", "restored", "closed", "symptom", "cause", "action", "part", "labour_hours",
        "parts_cost", "reel", "written_by",
    ],
    "bookings": [
        "booking", "transmission", "channel", "programme", "show", "reel", "machine", "role", "starts", "ends",
    ],
    "machines": ["machine", "kind", "pair", "group", "installed", "retired", "replacement_cost"],
}  # fmt: skip


@dataclass(frozen=True)
class Room:
    """A room as kept after loading: rows as dicts, stamps naive UTC, settings by their names in site.toml."""

    settings: dict[str, Any]
    events: tuple[Row, ...]
    switches: tuple[Row, ...]
    bookings: tuple[Row, ...]
    machines: tuple[Row, ...]
    rulings: tuple[Row, ...] = ()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return value.isoformat() + "Z" if isinstance(value, datetime) else str(value)


def _lines(feed: str, rows: Sequence[Row]) -> list[list[str]]:
    return [[_cell(row.get(column)) for column in COLUMNS[feed]] for row in rows]


def _write(path: Path, feed: str, lines: Sequence[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(COLUMNS[feed])
        writer.writerows(lines)


def _toml(settings: Mapping[str, Any]) -> str:
    words = {k: f'"{v}"' if isinstance(v, str) else str(v) for k, v in settings.items() if v is not None}
    return "".join(f"{k} = {v}\n" for k, v in words.items())


def write_site(room: Room, folder: Path, rng: Random | None = None, *, split: int = 1, repeats: int = 0) -> Path:
    """Write the room into a folder and return it.

    With `rng` the lines of every feed are shuffled. Events go over `split` files; `repeats` lines of events and as
    many of switches come again, an event perhaps in another file. Stamps are UTC with a Z; tickets are a header only.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "events").mkdir(exist_ok=True)
    (folder / "site.toml").write_text(_toml(room.settings), encoding="utf-8")
    dice = rng or Random(0)
    feeds = {name: _lines(name, getattr(room, name)) for name in ("events", "switches", "bookings", "machines")}
    for name in ("events", "switches"):
        if feeds[name]:
            feeds[name] += [dice.choice(feeds[name]) for _ in range(repeats)]
    if rng:
        for lines in feeds.values():
            rng.shuffle(lines)
    for number in range(split):
        _write(folder / "events" / f"log_{number + 1}.csv", "events", feeds["events"][number::split])
    for name in ("switches", "bookings", "machines"):
        _write(folder / f"{name}.csv", name, feeds[name])
    _write(folder / "tickets.csv", "tickets", [])
    return folder
