"""What the room's other machines were doing when an incident began, and what was known of its own before it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from pipeline.render.language import say, say_counted
from pipeline.render.moments import of_event
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.strip_scene import event_words
from pipeline.render.table_words import role_word
from pipeline.render.told_times import offset_words
from pipeline.render.witness import FAULTS
from pipeline.render.words import Local, duration, listed

MOST_FAULTS = 3
HISTORY = 8
QUIET = frozenset({"alive", "hours", "clock"})


def room_rows(around: Mapping[str, Rows], incident: Row, local: Local, *, carry_s: float) -> Rows:
    """One row a machine that is not of the incident: machine, doing, booked, faults, and the lines that prove it.

    A machine is believed to roll for ``carry_s`` after its last word; after that it is not known. A stop stands until
    the next roll.
    """
    rows = []
    for machine in dict.fromkeys(row["machine"] for row in around.get("others_last", [])):
        last = {row["kind"]: row for row in around["others_last"] if row["machine"] == machine}
        state = next((row["state"] for row in around["others_states"] if _holds(row, machine, incident)), None)
        booked = [row for row in around["booked"] if row["machine"] == machine and _overlaps(row, incident)]
        faults = [row for row in around["others_events"] if row["machine"] == machine and row["event"] in FAULTS]
        nearest = sorted(faults, key=lambda row: abs(row["at_utc"] - incident["started_at_utc"]))[:MOST_FAULTS]
        rows.append(
            {
                "machine": machine,
                "doing": _doing(last, state, incident["started_at_utc"], local, carry_s),
                "booked": listed([_booked(row) for row in booked]) or say("nothing"),
                "faults": listed([_apart(row, incident) for row in nearest]) or say("none logged"),
                "lines": refs(*_said(last), *booked, *nearest),
            }
        )
    return rows


def _holds(row: Row, machine: str, incident: Row) -> bool:
    at_utc, ended = incident["started_at_utc"], row["ended_at_utc"]
    return bool(row["machine"] == machine and row["started_at_utc"] <= at_utc and (ended is None or ended > at_utc))


def _overlaps(row: Row, incident: Row) -> bool:
    return bool(row["started_at_utc"] <= incident["ended_at_utc"] and row["ended_at_utc"] > incident["started_at_utc"])


def _said(last: Mapping[str, Row]) -> Rows:
    return [row for kind in ("motion", "word") if (row := last.get(kind)) and row["event"] and row["event"] != "alive"]


def _doing(last: Mapping[str, Row], state: str | None, at_utc: datetime, local: Local, carry_s: float) -> str:
    motion, word = last.get("motion"), last.get("word")
    if word is None or word["event"] is None:
        return say("not known: not a word from it before")
    heard = duration((at_utc - word["at_utc"]).total_seconds())
    if motion is None or motion["event"] is None:
        return say("not known: no roll and no stop before; last heard from {heard} before", heard=heard)
    moved = of_event("", motion)
    since = f"{local.stamp(motion['at_utc'])} ({moved.margin})"
    if motion["event"] == "stop":
        return say("stopped, since {since}", since=since)
    if state == "silent" or (at_utc - word["at_utc"]).total_seconds() > carry_s:
        return say("not known: rolled at {since}, last heard from {heard} before", since=since, heard=heard)
    if state == "good":
        return say("rolling since {since}, good; last heard from {heard} before", since=since, heard=heard)
    return say("rolling since {since}, not good; last heard from {heard} before", since=since, heard=heard)


def _booked(row: Row) -> str:
    names = [row["programme"], row["show"], row["reel"] and say("reel {reel}", reel=row["reel"])]
    what = ", ".join(str(name) for name in names if name)
    role = role_word(str(row["role"])).replace("_", " ")
    booked = say("{role} on {channel}", role=role, channel=row["channel"]) if row["channel"] else role
    return f"{booked}{': ' if what else ''}{what}"


def _apart(row: Row, incident: Row) -> str:
    apart_s = (row["at_utc"] - incident["started_at_utc"]).total_seconds()
    event, apart = event_words(row), f"{duration(abs(apart_s))} ({of_event('', row).margin})"
    if apart_s >= 0:
        return say("{event} {apart} after it began", event=event, apart=apart)
    return say("{event} {apart} before it began", event=event, apart=apart)


def head_rows(around: Mapping[str, Rows], incident: Row, parts: Rows) -> Rows:
    """One row a machine whose head is logged: serial, fitted when, where else it sat, and its earlier events.

    ``parts`` are those of the whole room; an event is a head's if it began on the machine in which the head then sat.
    """
    rows = []
    stays = around.get("head_stays", [])
    for machine in dict.fromkeys(row["sits_in"] for row in stays):
        own = [row for row in stays if row["sits_in"] == machine]
        now = [row for row in own if row["machine"] == machine][-1]
        elsewhere = [row for row in own if row["machine"] != machine]
        earlier = [part for part in parts if is_of_heads(own, part, incident)]
        rows.append(
            {
                "machine": machine,
                "serial": now["detail"] or say("not recorded"),
                "fitted_at_utc": now["at_utc"],
                "elsewhere": elsewhere,
                "count": len(earlier),
                "latest": earlier[::-1][:HISTORY],
                "lines": refs(now, *elsewhere),
            }
        )
    return rows


def is_of_heads(stays: Rows, part: Row, incident: Row) -> bool:
    """Whether a part is of an earlier incident and began on a machine in which one of the heads then sat."""
    is_earlier = part["started_at_utc"] < incident["started_at_utc"] and part["incident"] != incident["incident"]
    return is_earlier and any(_sat(row, part) for row in stays)


def _sat(stay: Row, part: Row) -> bool:
    until = stay["until_utc"]
    return bool(
        part["machine"] == stay["machine"]
        and stay["at_utc"] <= part["started_at_utc"]
        and (until is None or part["started_at_utc"] < until)
    )


def fault_rows(around: Mapping[str, Rows]) -> Rows:
    """One row a machine of the incident: how many faults it had logged before the window, and the last three."""
    rows = []
    faults = around.get("faults_before", [])
    for machine in dict.fromkeys(row["machine"] for row in faults):
        own = [row for row in faults if row["machine"] == machine]
        latest = [{"at_utc": row["at_utc"], "what": event_words(row), "lines": refs(row)} for row in own]
        rows.append({"machine": machine, "count": own[0]["faults_count"], "latest": latest, "lines": refs(*own)})
    return rows


def lead_up(around: Mapping[str, Rows], incident: Row, local: Local, *, lead_s: float) -> list[Sentence]:
    """For each machine of the incident what it logged in the lead before it: its faults, or that all was routine."""
    begin = incident["started_at_utc"] - timedelta(seconds=lead_s)
    outside = {(row["file"], row["line"]) for row in around["offsets"] if not row["is_within"] and row.get("line")}
    sentences = []
    for machine in dict.fromkeys(row["machine"] for row in around["machines"]):
        said = [
            row
            for row in around["events"]
            if row["machine"] == machine and begin <= row["at_utc"] < incident["started_at_utc"]
            if row["event"] not in QUIET
        ]
        telling = [row for row in said if row["event"] in FAULTS or (row["file"], row["line"]) in outside]
        words = listed([_lead_words(row, local) for row in telling])
        sentences.append(Sentence(_lead_text(machine, duration(lead_s), words, len(said)), refs(*(telling or said))))
    return sentences


def _lead_text(machine: str, lead: str, events: str, lines_count: int) -> str:
    if events:
        return say("In the {lead} before it {machine} logged {events}.", lead=lead, machine=machine, events=events)
    if not lines_count:
        return say("In the {lead} before it {machine} logged nothing.", lead=lead, machine=machine)
    return say_counted(
        "In the {lead} before it {machine} logged {n} line, none of them a fault.",
        "In the {lead} before it {machine} logged {n} lines, none of them a fault.",
        lines_count, lead=lead, machine=machine,
    )  # fmt: skip


def _lead_words(row: Row, local: Local) -> str:
    value = f" {offset_words(row)}" if row["event"] == "offset" and row["value"] is not None else ""
    time = f"{local.time(row['at_utc'])} ({of_event('', row).margin})"
    return say("{event} at {time}", event=f"{event_words(row)}{value}", time=time)
