"""Which ticket says that a part had failed when the next of its kind was fitted.

A fitting does not say why. It is a failure where somebody wrote so: a ticket on that machine, opened not long before,
that names the part. Everything else counts as taken out, so that a part is never called failed without a paper.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import timedelta
from functools import lru_cache
from typing import Any

from pipeline.measure.causes import read_cause
from pipeline.settings import Settings
from pipeline.store import Store

LATE_H = 1.0  # a ticket is sometimes begun when the part is in already (common practice, no source)
HEAD = "head"
HEADS = "heads and tape path"
HEAD_SECONDS = ("", "worn", "mismatch or banding", "head failed")  # a clog is cleaned; the rest is not the head drum
NOT_A_FAULT = "not a fault"
HEAD_WORDS = {"head", "headwheel", "headdrum"}
OTHER_HEADS = {"sound", "audio", "control", "erase", "cue", "time", "code"}
DENIALS = {"not", "no", "ok", "okay", "good", "well", "checked", "tested", "never", "without", "ordered"}
WORDS = re.compile(r"[^\W_]+")
CLAUSE = re.compile(r"[.,;:()]|\bbut\b|\bthen\b")
TICKETS = """
select
    l.machine, l.kind, l.detail, l.started_at_utc, l.ended_at_utc, t.ticket, t.opened_at_utc, t.cause, t.symptom,
    t.action, t.part, min(c.top) as ruled_top, min(c.second) as ruled_second
from core_part_lives as l
inner join clean_tickets as t
    on l.machine = t.machine
    and t.opened_at_utc >= greatest(l.started_at_utc, l.ended_at_utc - to_microseconds(?))
    and t.opened_at_utc <= l.ended_at_utc + to_microseconds(?)
left join measure_causes as c on t.ticket = c.ticket and c.ruling is not null
where l.ended_by = 'next'
group by all
order by l.machine, l.kind, l.ended_at_utc, t.opened_at_utc, t.ticket
"""
_read = lru_cache(maxsize=4096)(read_cause)  # a room writes the same few notes over and over
Key = tuple[str, str, Any]  # machine, kind, started_at_utc of a life
Row = Mapping[str, Any]


def ticket_offers(store: Store, settings: Settings) -> list[Row]:
    """Each ticket that may say that a part had failed, with ``words`` by which it names it (None: it does not).

    Reads ``core_part_lives``, ``clean_tickets`` and ``measure_causes`` (where a person ruled the cause). A ticket may
    decide if it was opened on the machine while the part was in, at most ``ticket_window_h`` before the next of its
    kind was fitted, or up to ``LATE_H`` after that.
    """
    window = round(settings.ticket_window_h * 3_600_000_000)
    rows = store.read(TICKETS, [window, round(LATE_H * 3_600_000_000)]).iter_rows(named=True)
    return [{**row, "words": naming_words(row)} for row in rows]


def choose_tickets(offers: Sequence[Row]) -> dict[Key, tuple[str, str]]:
    """Of the offers that name the part, one ticket a life: a ticket decides one life of a kind, the next that ended.

    ``offers`` have machine, kind, started_at_utc, ended_at_utc, ticket, opened_at_utc, and words (None: does not name
    the part). Of several tickets for one life the one opened last before the fitting is given.
    """
    nearest: dict[tuple[str, str, str], Row] = {}
    for row in (row for row in offers if row["words"] is not None):
        key = (row["machine"], row["kind"], row["ticket"])
        if key not in nearest or _apart(row) < _apart(nearest[key]):
            nearest[key] = row
    chosen: dict[Key, Row] = {}
    for row in nearest.values():
        life = (row["machine"], row["kind"], row["started_at_utc"])
        if life not in chosen or _apart(row) < _apart(chosen[life]):
            chosen[life] = row
    return {life: (row["ticket"], row["words"]) for life, row in chosen.items()}


def _apart(row: Row) -> tuple[bool, timedelta, str]:
    apart = row["ended_at_utc"] - row["opened_at_utc"]
    return apart < timedelta(0), abs(apart), row["ticket"]


def naming_words(row: Row) -> str | None:
    """The words by which a ticket names a part that failed; None where it does not.

    ``row`` has kind, detail, cause, symptom, action, part, and ruled_top and ruled_second where a person ruled the
    cause. What reads as no fault (planned, a test, a precaution) names nothing. A head is named by the part cell, by
    its serial there, or by a cause that reads as heads and tape path and is not a clog, which cleaning cures, nor a
    guide, a sound or control head or the mechanism. Any other part is named by all words of its kind side by side, in
    the part cell, or in a clause of the action or the closing note that denies nothing.
    """
    if row["kind"] != HEAD:
        words = _names_kind(row)
        return words if words and _cause(row)[0] != NOT_A_FAULT else None
    top, second, words = _cause(row)
    if top == NOT_A_FAULT:
        return None
    if _is_video_head(row["part"]) or _holds(row["part"], words_of(row["detail"])):
        return f"part: {row['part']}"
    return words if top == HEADS and (second or "") in HEAD_SECONDS else None


def _cause(row: Row) -> tuple[str, str, str]:
    """The two levels of a ticket's cause, ruled or read, and how it was come by."""
    if row["ruled_top"] is not None:
        return row["ruled_top"], row["ruled_second"], "cause ruled"
    read = _read(row["cause"], row["symptom"], row["action"], row["part"])
    return read.top, read.second, f"read as {read.top}: {', '.join(read.words)}"


def _names_kind(row: Row) -> str | None:
    wanted = words_of(row["kind"])
    if _holds(row["part"], wanted):
        return f"part: {row['part']}"
    for cell in ("action", "cause"):
        for clause in CLAUSE.split((row[cell] or "").lower()):
            if _holds(clause, wanted) and not DENIALS & set(words_of(clause)):
                return f"{cell}: {clause.strip()}"
    return None


def _is_video_head(part: str | None) -> bool:
    words = set(words_of(part))
    return bool(words & HEAD_WORDS) and not words & OTHER_HEADS


def words_of(text: str | None) -> tuple[str, ...]:
    """The words of a text in small letters, a plural's s left out of words of more than three letters."""
    return tuple(
        word.removesuffix("s") if len(word) > 3 and not word.endswith("ss") else word
        for word in WORDS.findall((text or "").lower())
    )


def _holds(text: str | None, wanted: tuple[str, ...]) -> bool:
    """Whether the words ``wanted`` stand side by side in the text."""
    words = words_of(text)
    return bool(wanted) and any(
        words[place : place + len(wanted)] == wanted for place in range(len(words) - len(wanted) + 1)
    )
