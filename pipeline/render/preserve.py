"""What to put aside before it is gone: the very lines of each log, both copies, the part taken out, the ticket.

Logs rotate, reels are wiped and parts are thrown away within days; whoever asks later has only what was kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.witness import AIR_ROLES
from pipeline.render.words import duration, listed

SHOWN_DIGITS = 12  # of a file's SHA-256, enough to tell two copies apart by eye


def to_preserve(
    incident: Row, parts: Rows, around: Mapping[str, Rows], files: Sequence[Mapping[str, Any]]
) -> list[Sentence]:
    """Sentences on what to keep. ``files`` are those of figures.json, whose SHA-256 says which copy was read."""
    sums = {file["path"]: file["sha256"] for file in files}
    found = [_range(file, rows, sums) for file, rows in _by_file(around).items()]
    found += [_copy(row, incident) for row in _copies(incident, parts, around)]
    tickets = [row for row in around.get("tickets", []) if row["is_matched"]]
    for ticket in tickets:
        if ticket["part"]:
            text = (
                f"The part that ticket {ticket['ticket']} names ({ticket['part']}), taken out of {ticket['machine']}: "
                "tagged with machine, date and ticket, not cleaned, not thrown away."
            )
            found.append(Sentence(text, refs(ticket)))
        found.append(
            Sentence(
                f"Ticket {ticket['ticket']} as it was written, with this page attached: add to it, overwrite nothing.",
                refs(ticket),
            )
        )
    if not tickets:
        found.append(
            Sentence("A ticket, for none belongs to it: open one, and write down what was seen and by which role.")
        )
    return found


def _by_file(around: Mapping[str, Rows]) -> dict[str, Rows]:
    """The rows of the window by file: machines' logs first, then the selector's, then bookings."""
    found: dict[str, Rows] = {}
    for table in ("events", "others_events", "last_takes", "takes", "booked"):
        for row in around.get(table, []):
            if row["line"] is not None:
                found.setdefault(row["file"], []).append(row)
    return found


def _range(file: str, rows: Rows, sums: Mapping[str, str]) -> Sentence:
    numbers = sorted({row["line"] for row in rows})
    lines = f"line {numbers[0]}" if len(numbers) == 1 else f"lines {numbers[0]} to {numbers[-1]}"
    kinds = dict.fromkeys(_kind(row) for row in rows)
    digest = f"; the copy that was read has a SHA-256 beginning {sums[file][:SHOWN_DIGITS]}" if sums.get(file) else ""
    return Sentence(f"{file}, {lines} ({listed(list(kinds))}){digest}.")


def _kind(row: Row) -> str:
    if "booking" in row:
        return "bookings"
    return "the selector’s log" if "to_machine" in row else f"the log of {row['machine']}"


def _copies(incident: Row, parts: Rows, around: Mapping[str, Rows]) -> Rows:
    """The bookings whose reels ran on the incident's channels as it began, one a reel."""
    channels = {part["channel"] for part in parts} or {incident["channel"]}
    rows = {
        row["reel"]: row
        for row in around.get("booked", [])
        if row["reel"] and row["channel"] in channels and row["role"] in AIR_ROLES
        if row["started_at_utc"] <= incident["ended_at_utc"] and row["ended_at_utc"] > incident["started_at_utc"]
    }
    return list(rows.values())


def _copy(row: Row, incident: Row) -> Sentence:
    into = max((incident["started_at_utc"] - row["started_at_utc"]).total_seconds(), 0.0)
    made = f", recorded on {row['recorded_on']}" if row["recorded_on"] else ", with no record of where it was made"
    text = (
        f"Reel {row['reel']} (booked as {row['role']} on {row['machine']}{made}): not wiped, nor played again before "
        f"it is looked at; the spot is about {duration(into)} into its booking."
    )
    return Sentence(text, refs(row, {"file": row["label_file"], "line": row["label_line"]}))
