"""What to preserve, from rows made by hand: line ranges, both copies, the part taken out, the ticket."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from pipeline.render.preserve import to_preserve

T0 = datetime.fromisoformat("2031-03-14 19:00:00")
INCIDENT = {"incident": "one", "channel": "One", "started_at_utc": T0, "ended_at_utc": T0 + timedelta(seconds=8)}
PARTS = [{"channel": "One"}]


def booking(reel: str, role: str, channel: str = "One") -> dict[str, Any]:
    return {
        "booking": "B", "machine": f"T-{role}", "role": role, "channel": channel, "reel": reel, "recorded_on": "T7",
        "started_at_utc": T0 - timedelta(seconds=725), "ended_at_utc": T0 + timedelta(hours=1), "file": "bookings.csv",
        "line": 4 if role == "air" else 5, "label_file": "reels.csv", "label_line": 8,
    }  # fmt: skip


def event(line: int) -> dict[str, Any]:
    return {"machine": "T1", "event": "alive", "file": "events/T1.csv", "line": line}


TICKET = {"ticket": "K-1", "machine": "T1", "part": "demod board", "is_matched": True, "file": "tickets.csv", "line": 3}


def texts(around: dict[str, Any]) -> list[str]:
    files = [{"path": "events/T1.csv", "sha256": "ab12cd34ef56aa00"}]
    return [one.text for one in to_preserve(INCIDENT, PARTS, around, files)]


def test_the_very_lines_are_named_with_the_copy_that_was_read() -> None:
    takes = [{"to_machine": "T2", "file": "switches.csv", "line": 40}]
    told = texts({"events": [event(12), event(9), event(10)], "takes": takes})
    assert told[0] == (
        "events/T1.csv, lines 9 to 12 (the log of T1); the copy that was read has a SHA-256 beginning ab12cd34ef56."
    )
    assert told[1] == "switches.csv, line 40 (the selector’s log)."


def test_both_copies_are_named_and_no_other_reel() -> None:
    rows = [booking("K1A", "air"), booking("K1B", "protect"), booking("K9A", "air", "Two"), booking("K3", "record")]
    told = [text for text in texts({"booked": rows}) if text.startswith("Reel")]
    # Booked 725 s before it began: 12 min 05 s.
    assert told == [
        f"Reel {reel} (booked as {role} on T-{role}, recorded on T7): not wiped, nor played again before it is looked "
        "at; the spot is about 12 min 05 s into its booking."
        for reel, role in (("K1A", "air"), ("K1B", "protect"))
    ]


def test_the_part_and_the_ticket_are_kept_and_a_missing_ticket_is_asked_for() -> None:
    told = " ".join(texts({"tickets": [TICKET, TICKET | {"ticket": "K-9", "is_matched": False}]}))
    assert "The part that ticket K-1 names (demod board), taken out of T1: tagged" in told
    assert "Ticket K-1 as it was written" in told
    assert "K-9" not in told
    assert texts({})[-1].startswith("A ticket, for none belongs to it: open one")
