"""What to put aside before it is gone: the very lines of each log, both copies, the part taken out, the ticket.

Logs rotate, reels are wiped and parts are thrown away within days; whoever asks later has only what was kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.render.language import say
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.table_words import role_word
from pipeline.render.witness import AIR_ROLES
from pipeline.render.words import duration, listed

SHOWN_DIGITS = 12  # of a file's SHA-256, enough to tell two copies apart by eye


def to_preserve(
    incident: Row, parts: Rows, around: Mapping[str, Rows], files: Sequence[Mapping[str, Any]]
) -> list[Sentence]:
    """Sentences on what to keep. ``files`` are those of figures.json, whose SHA-256 says which copy was read."""
    sums = {file["path"]: file["sha256"][:SHOWN_DIGITS] for file in files}
    found = [_range(file, rows, sums) for file, rows in _by_file(around).items()]
    found += [_copy(row, incident) for row in _copies(incident, parts, around)]
    tickets = [row for row in around.get("tickets", []) if row["is_matched"]]
    for ticket in tickets:
        if ticket["part"]:
            text = say(
                "The part that ticket {ticket} names ({part}), taken out of {machine}: tagged with machine, date and "
                "ticket, not cleaned, not thrown away.",
                ticket=ticket["ticket"], part=ticket["part"], machine=ticket["machine"],
            )  # fmt: skip
            found.append(Sentence(text, refs(ticket)))
        text = say(
            "Ticket {ticket} as it was written, with this page attached: add to it, overwrite nothing.",
            ticket=ticket["ticket"],
        )
        found.append(Sentence(text, refs(ticket)))
    if not tickets:
        text = say("A ticket, for none belongs to it: open one, and write down what was seen and by which role.")
        found.append(Sentence(text))
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
    kinds = listed(list(dict.fromkeys(_kind(row) for row in rows)))
    text = say("{file}, line {line} ({kinds})", file=file, line=numbers[0], kinds=kinds)
    if len(numbers) > 1:
        text = say(
            "{file}, lines {first} to {last} ({kinds})", file=file, first=numbers[0], last=numbers[-1], kinds=kinds
        )
    if sums.get(file):
        text = say("{lines}; the copy that was read has a SHA-256 beginning {digest}", lines=text, digest=sums[file])
    return Sentence(f"{text}.")


def copies_read(
    around: Mapping[str, Rows], files: Sequence[Mapping[str, Any]]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is printed of the SHA-256 of each copy, and the sentence it is printed in with a NUL in its place.

    A file grows from day to day, and nothing else that is said of the lines in it need change for that.
    """
    sums = {file["path"]: file["sha256"][:SHOWN_DIGITS] for file in files}
    own = {file: rows for file, rows in _by_file(around).items() if sums.get(file)}
    told = tuple(_range(file, rows, {file: "\0"}).text for file, rows in own.items())
    return tuple(sums[file] for file in own), told


def _kind(row: Row) -> str:
    if "booking" in row:
        return say("bookings")
    return say("the selector’s log") if "to_machine" in row else say("the log of {machine}", machine=row["machine"])


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
    made = say("with no record of where it was made")
    if row["recorded_on"]:
        made = say("recorded on {machine}", machine=row["recorded_on"])
    text = say(
        "Reel {reel} (booked as {role} on {machine}, {made}): not wiped, nor played again before it is looked at; the "
        "spot is about {into} into its booking.",
        reel=row["reel"], role=role_word(row["role"]), machine=row["machine"], made=made, into=duration(into),
    )  # fmt: skip
    return Sentence(text, refs(row, {"file": row["label_file"], "line": row["label_line"]}))
