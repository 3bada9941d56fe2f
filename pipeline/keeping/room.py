"""How much disk a site's database takes, and how much of it a line of a machine's log."""

from __future__ import annotations

from typing import Any

from pipeline.archived_parts import PARTS
from pipeline.store import Store


def event_lines(store: Store) -> int:
    """How many readable lines of the machines' logs the database holds, repeats among them."""
    return int(store.value("select count(*) from raw_events"))


def room_taken(store: Store) -> dict[str, Any]:
    """``database_bytes`` of the file, ``archive_bytes`` of the parts beside it, ``free_bytes``, ``event_lines``.

    ``free_bytes`` are those of the file that compacting gives back. ``bytes_per_event_line`` = (database_bytes +
    archive_bytes) ÷ event_lines: all that is stored, models and figures too, shared out over the lines of the machines'
    logs; null where there is none.
    """
    file_bytes, lines = store.path.stat().st_size, event_lines(store)
    parts = store.value(f"select cast(sum(size_bytes) as bigint) from {PARTS}") if store.has(PARTS) else None
    archived = int(parts or 0)
    free = store.read("select block_size * free_blocks as free_bytes from pragma_database_size()")["free_bytes"][0]
    return {
        "database_bytes": file_bytes,
        "archive_bytes": archived,
        "free_bytes": int(free),
        "event_lines": lines,
        "bytes_per_event_line": (file_bytes + archived) / lines if lines else None,
    }


def told_room(room: dict[str, Any]) -> str:
    """The same in a line."""
    each = room["bytes_per_event_line"]
    a_line = f", {each:.0f} bytes an event line ({room['event_lines']} lines)" if each is not None else ""
    beside = f" and {megabytes(room['archive_bytes'])} archived" if room["archive_bytes"] else ""
    free = f"; {megabytes(room['free_bytes'])} of it free for airhours compact" if room["free_bytes"] else ""
    return f"{megabytes(room['database_bytes'])}{beside}{a_line}{free}"


def megabytes(count: int) -> str:
    """Bytes as decimal megabytes (SI), to a tenth."""
    return f"{count / 1e6:.1f} MB"
