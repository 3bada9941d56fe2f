"""The lines behind an incident in one order of time: machines, selector and tickets, each with its file and line."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise

from pipeline.render.reading import Row, Rows
from pipeline.render.strip_scene import event_words
from pipeline.render.words import duration


def order_lines(events: Rows, takes: Rows, tickets: Rows, *, around: datetime, most: int) -> tuple[Rows, int]:
    """Lines in order of corrected time, the ``most`` nearest to ``around``, and how many were left out.

    A line has at_utc (corrected), stamp (as written), within_s, source, clock, what, file, line, is_take and
    is_order_unknown: its distance to the line above is less than the sum of both ±, and their clocks differ. ``alive``
    lines say nothing and are not among them.
    """
    lines = [_event_line(row) for row in events if row["event"] != "alive"]
    lines += [_take_line(row) for row in takes]
    lines += [_ticket_line(row) for row in tickets if row["opened_at_utc"] is not None]
    nearest = sorted(lines, key=lambda line: abs((line["at_utc"] - around).total_seconds()))[:most]
    kept = {(line["file"], line["line"]) for line in nearest}
    ordered = sorted((line for line in lines if (line["file"], line["line"]) in kept), key=lambda line: line["at_utc"])
    for above, line in pairwise(ordered):
        line["is_order_unknown"] = _is_order_unknown(above, line)
    return ordered, len(lines) - len(ordered)


def _is_order_unknown(above: Row, line: Row) -> bool:
    if above["clock"] == line["clock"] or above["within_s"] is None or line["within_s"] is None:
        return False
    return bool((line["at_utc"] - above["at_utc"]).total_seconds() < above["within_s"] + line["within_s"])


def _event_line(row: Row) -> Row:
    value = (
        ""
        if row["value"] is None
        else f" {row['value'] * 1000:+.0f} ms".replace("-", "−")
        if row["event"] == "offset"
        else f" {row['value']:g}"
    )
    return {
        "at_utc": row["at_utc"], "stamp": row["at_text"] or "", "within_s": row["within_s"], "source": row["machine"],
        "clock": row["machine"], "what": f"{event_words(row)}{value}", "file": row["file"], "line": row["line"],
        "is_take": False, "is_order_unknown": False,
    }  # fmt: skip


def _take_line(row: Row) -> Row:
    verb = "take" if row["action"] == "take" else "start command"
    source = f" from {row['from_machine']}" if row["from_machine"] else ""
    reason = f", reason {row['reason']}" if row["reason"] else ", no reason stated"
    what = f"{verb}{source} to {row['to_machine']}{reason if row['action'] == 'take' else ''}"
    return {
        "at_utc": row["at_utc"], "stamp": row["at_text"] or "", "within_s": 0.0, "clock": "house",
        "source": f"selector, {row['channel']}", "what": what, "file": row["file"], "line": row["line"],
        "is_take": row["action"] == "take", "is_order_unknown": False,
    }  # fmt: skip


def _ticket_line(row: Row) -> Row:
    took = ""
    if row["restored_at_utc"] is not None and row["restored_at_utc"] >= row["opened_at_utc"]:
        took = f", restored {duration((row['restored_at_utc'] - row['opened_at_utc']).total_seconds())} later"
    source = f"ticket on {row['machine'] or 'no machine'}"
    return {
        "at_utc": row["opened_at_utc"], "stamp": "", "within_s": None, "source": source, "clock": "ticket",
        "what": f"ticket {row['ticket']} opened{took}", "file": row["file"], "line": row["line"],
        "is_take": False, "is_order_unknown": False,
    }  # fmt: skip
