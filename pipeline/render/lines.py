"""The lines behind an incident in one order of time: machines, selector, tickets and what else the account rests on.

Every line has a number on its page, so that a sentence can point at the lines that prove it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import pairwise

from pipeline.render.language import localised, say
from pipeline.render.moments import BOOKING, HOUSE, TICKET, take_margin
from pipeline.render.quality_words import rules_word, says_word
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Ref
from pipeline.render.strip_scene import event_words
from pipeline.render.table_words import reason_word, role_word, source_word
from pipeline.render.words import duration

# Tables that hold lines of machines from outside the window, which an account may rest on.
OF_MACHINES = (
    "standing", "again", "again_words", "good_again", "care", "head_stays", "faults_before", "others_last",
    "others_events",
)  # fmt: skip


def order_lines(
    events: Rows,
    takes: Rows,
    tickets: Rows,
    *,
    around: datetime,
    most: int,
    more: Sequence[Row] = (),
    keep: frozenset[Ref] = frozenset(),
) -> tuple[Rows, int]:
    """Lines in order of corrected time, the ``most`` nearest to ``around``, and how many were left out.

    Those that ``keep`` names are always among them, and of ``more`` (lines from outside the window) only those.
    A line has at_utc (corrected), stamp (as written), within_s, source, clock, what, file, line, number (from 1),
    is_take and is_order_unknown: its distance to the line above is less than the sum of both ±, and their clocks
    differ. ``alive`` lines say nothing and are not among them.
    """
    lines = [event_line(row) for row in events if row["event"] != "alive"]
    lines += [take_line(row) for row in takes]
    lines += [_ticket_line(row) for row in tickets if row["opened_at_utc"] is not None]
    nearest = sorted(lines, key=lambda line: abs((line["at_utc"] - around).total_seconds()))[:most]
    kept = {(line["file"], line["line"]) for line in nearest} | keep
    here = {(line["file"], line["line"]) for line in lines}
    outside = {(line["file"], line["line"]): line for line in more if (line["file"], line["line"]) in keep - here}
    listed = [line for line in lines if (line["file"], line["line"]) in kept]
    ordered = sorted([*listed, *outside.values()], key=lambda line: (line["at_utc"], line["is_take"]))
    for above, line in pairwise(ordered):
        line["is_order_unknown"] = _is_order_unknown(above, line)
    for number, line in enumerate(ordered, 1):
        line["number"] = number
    return ordered, len(lines) - len(listed)


def line_numbers(lines: Rows) -> dict[Ref, int]:
    """The number on the page of each line; of two rows that one line gave, the first."""
    return {(line["file"], line["line"]): line["number"] for line in reversed(lines)}


def outside_lines(around: Mapping[str, Rows]) -> Rows:
    """The lines from outside the window that an account may rest on: words that stood, bookings, labels, takes."""
    found = [event_line(row) for row in _logged(around)]
    found += [take_line(row) for row in around.get("last_takes", [])]
    found += [_ruling_line(row) for row in around.get("ruled", [])]
    for row in around.get("booked", []):
        found.append(_booking_line(row))
        if row["label_line"] is not None:
            found.append(_label_line(row))
    return found


def _logged(around: Mapping[str, Rows]) -> Iterator[Row]:
    for table in OF_MACHINES:
        yield from (row | {"value": row.get("value")} for row in around.get(table, []) if row["line"] is not None)


def _is_order_unknown(above: Row, line: Row) -> bool:
    if above["clock"] == line["clock"] or above["within_s"] is None or line["within_s"] is None:
        return False
    return bool((line["at_utc"] - above["at_utc"]).total_seconds() < above["within_s"] + line["within_s"])


def event_line(row: Row) -> Row:
    """The line of a machine's event."""
    return {
        "at_utc": row["at_utc"], "stamp": row["at_text"] or "", "within_s": row["within_s"], "source": row["machine"],
        "clock": row["machine"], "what": f"{event_words(row)}{_value(row)}", "file": row["file"], "line": row["line"],
        "is_take": False, "is_order_unknown": False,
    }  # fmt: skip


def _value(row: Row) -> str:
    if row["value"] is None:
        return ""
    if row["event"] == "offset":
        thousandths = f"{row['value'] * 1000:+.0f}"
        return f" {localised(thousandths)} ms"
    return f" {row['value']:g}".replace(".", localised("."))


def take_line(row: Row) -> Row:
    """The line of a take or a start command; its ± is what its stamp leaves out."""
    what = _take(row) if row["action"] == "take" else _start(row)
    return {
        "at_utc": row["at_utc"], "stamp": row["at_text"] or "", "within_s": take_margin(row["at_text"]), "clock": HOUSE,
        "source": say("selector, {channel}", channel=row["channel"]), "what": what, "file": row["file"],
        "line": row["line"], "is_take": row["action"] == "take", "is_order_unknown": False,
    }  # fmt: skip


def _take(row: Row) -> str:
    taken, left = source_word(row["to_machine"]), row["from_machine"]
    text = say("take from {left} to {to}", left=source_word(left), to=taken) if left else say("take to {to}", to=taken)
    if not row["reason"]:
        return say("{take}, no reason stated", take=text)
    return say("{take}, reason {reason}", take=text, reason=reason_word(row["reason"]))


def _start(row: Row) -> str:
    taken, left = source_word(row["to_machine"]), row["from_machine"]
    if not left:
        return say("start command to {to}", to=taken)
    return say("start command from {left} to {to}", left=source_word(left), to=taken)


def _ticket_line(row: Row) -> Row:
    what = say("ticket {ticket} opened", ticket=row["ticket"])
    if row["restored_at_utc"] is not None and row["restored_at_utc"] >= row["opened_at_utc"]:
        took = duration((row["restored_at_utc"] - row["opened_at_utc"]).total_seconds())
        what = say("ticket {ticket} opened, restored {time} later", ticket=row["ticket"], time=took)
    source = say("ticket on {machine}", machine=row["machine"]) if row["machine"] else say("ticket on no machine")
    return _other_line(row, row["opened_at_utc"], source, what, TICKET)


def _booking_line(row: Row) -> Row:
    lasts = duration((row["ended_at_utc"] - row["started_at_utc"]).total_seconds())
    parts = [
        row["transmission"],
        say("channel {channel}", channel=row["channel"]) if row["channel"] else None,
        row["programme"],
        row["show"],
    ]
    reel = say("reel {reel}", reel=row["reel"]) if row["reel"] else None
    what = ", ".join(str(part) for part in [*parts, reel, say("for {time}", time=lasts)] if part)
    source = say("booking of {machine}", machine=row["machine"])
    return _other_line(row, row["started_at_utc"], source, f"{role_word(row['role'])}: {what}", BOOKING)


def _label_line(row: Row) -> Row:
    what = say("label of reel {reel}", reel=row["reel"])
    if row["recorded_on"]:
        what = say("label of reel {reel}, recorded on {machine}", reel=row["reel"], machine=row["recorded_on"])
    place = {"file": row["label_file"], "line": row["label_line"]}
    at_utc = row["recorded_at_utc"] or row["started_at_utc"]
    return _other_line(place, at_utc, say("label"), what, "label")


def _ruling_line(row: Row) -> Row:
    why = f": {row['why']}" if row["why"] else ""
    says = f" {says_word(row['says'])}" if row["says"] else ""
    told = f"{rules_word(row['rules'])}{says}{why}"
    what = say("ruling {ruling} says {says}", ruling=row["ruling"], says=told)
    return _other_line(row, row["decided_at_utc"] or row["at_utc"], say("ruling"), what, "ruling")


def _other_line(row: Row, at_utc: datetime, source: str, what: str, clock: str) -> Row:
    return {
        "at_utc": at_utc, "stamp": "", "within_s": None, "source": source, "clock": clock, "what": what,
        "file": row["file"], "line": row["line"], "is_take": False, "is_order_unknown": False,
    }  # fmt: skip
