"""What an invented export is: how it is written, and what its author says that every column of it is.

A label is one of ours, several of ours, ``NONE`` (none of ours), or ``OPEN`` (nobody could tell from the file alone).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

NONE, OPEN = "none of ours", "left open"
START = datetime(2031, 3, 9, 20, 0, 0)  # noqa: DTZ001 - wall times of an invented room


@dataclass(frozen=True)
class Export:
    """One file and its labels; ``settings`` are keys that its table must have, ``words`` must be proposed by column."""

    name: str
    write: Callable[[Path], None]
    kind: str
    columns: dict[str, str | tuple[str, ...]]
    settings: dict[str, object] = field(default_factory=dict)
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    asked: tuple[str, ...] = ()
    undecided: tuple[str, ...] = ()
    parts: dict[str, tuple[str, ...]] = field(default_factory=dict)
    asked_kind: str = ""


def text(content: str, encoding: str = "utf-8") -> Callable[[Path], None]:
    def write(path: Path) -> None:
        path.write_bytes(content.encode(encoding))

    return write


def lines(rows: list[str], encoding: str = "utf-8", end: str = "\n") -> Callable[[Path], None]:
    return text(end.join(rows) + end, encoding)


def at(seconds: float, notation: str) -> str:
    return (START + timedelta(seconds=seconds)).strftime(notation)


def day(days: int) -> str:
    return at(days * 86400, "%Y-%m-%d")


def cycle(*values: str, count: int = 40) -> list[str]:
    return [values[k % len(values)] for k in range(count)]
