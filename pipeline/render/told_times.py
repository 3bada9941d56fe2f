"""How an account writes its times: none without its ±, and the day or the zone where it is not the one it began in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from pipeline.render.language import localised, say
from pipeline.render.moments import Moment, of_event
from pipeline.render.reading import Row
from pipeline.render.strip_scene import event_words
from pipeline.render.words import Local, listed


def clock(at_utc: datetime, part: Row, local: Local) -> str:
    """A time; with its zone where that is another one than at the beginning, with its date on another day."""
    start = part["started_at_utc"]
    if local.date(at_utc) != local.date(start):
        date, zone = local.date(at_utc), local.zone_name(at_utc)
        return say("{date} at {time} {zone}", about="another day", date=date, time=local.time(at_utc), zone=zone)
    zone = local.zone_name(at_utc)
    return local.time(at_utc) + (f" {zone}" if zone != local.zone_name(start) else "")


def told(moment: Moment, part: Row, local: Local) -> str:
    """A moment's time with its ±, such as "20:41:15 (± 0.25 s)"."""
    return f"{clock(moment.at_utc, part, local)} ({moment.margin})"


def told_event(row: Row, part: Row, local: Local) -> str:
    """A machine's line, such as "unlock at 20:41:15 (± 0.25 s)"."""
    return say("{event} at {time}", event=event_words(row), time=told(of_event("", row), part, local))


def logged_at(moment: Moment, part: Row, local: Local) -> str:
    """A machine's line with its name, such as "T3 logged unlock at 20:41:15 (± 0.25 s)"."""
    row = moment.rows[0]
    return say(
        "{machine} logged {event} at {time}",
        machine=row["machine"], event=event_words(row), time=told(moment, part, local),
    )  # fmt: skip


def told_events(rows: Sequence[Row], part: Row, local: Local) -> str:
    """Several of them in a row."""
    return listed([told_event(row, part, local) for row in rows])


def offset_words(row: Row) -> str:
    """An offset such as "+12 ms"."""
    return localised(f"{row['value'] * 1000:+.0f}") + " ms"
