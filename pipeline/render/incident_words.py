"""The short account of an incident: sentences built from what is recorded, each with its ± where it has one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from pipeline.render.reading import Row, Rows
from pipeline.render.strip_scene import event_words
from pipeline.render.words import Local, capital, duration, listed, within

SIGNS = frozenset({"alarm", "unlock", "picture_lost", "sound_lost", "stop"})
KINDS = {
    "forced": "a forced switch",
    "precaution": "a switch made as a precaution",
    "unexplained": "a switch that nothing explains",
    "planned": "a planned switch",
    "return": "a return",
}
BEFORE = {
    "covered": "Air had been covered until then.",
    "unproved": "A protect was there until then, but nothing logged proves that it covered.",
    "unknown": "What was on air until then is not known.",
}
VERBS = {"stated": "states", "proved by swap": "shows", "guessed from words": "suggests"}
EXPOSED = {
    "none booked": "no protect was booked",
    "not good": "protect was not good",
    "out of step": "protect was out of step",
}


def account(part: Row, around: Mapping[str, Rows], local: Local, *, is_first: bool = True) -> list[str]:
    """The sentences of one part: onset, take, air back, covered again, what protect did, cause and ticket.

    ``around`` holds the rows of the incident's window by table; instants naive UTC, shown local. The first sign is told
    with the first part only.
    """
    if part["recovery_no"] is None:
        return [rescue(part, around["takes"], local)]
    sentences = [first_sign(part, around["events"], local)] if is_first else []
    if part["interruption_no"] is None:
        sentences += [switch_alone(part, local), taken(part, around["takes"])]
    else:
        sentences += [loss(part, around, local), taken(part, around["takes"]), back(part, local)]
    sentences += [covered_again(part, local), protect_word(part), others_signs(part, around["events"], local)]
    sentences.append(cause_word(part, around.get("tickets", [])))
    return [sentence for sentence in sentences if sentence]


def rescue(part: Row, takes: Rows, local: Local) -> str:
    """Another source in the room's place."""
    lasted = duration((part["ended_at_utc"] - part["started_at_utc"]).total_seconds())
    return (
        f"{local.when(part['started_at_utc'])}: another source, not of this room, was taken on channel "
        f"{part['channel']} in place of {part['machine'] or 'standby'}{_stated(part, takes, 'other', '')}; it "
        f"stayed for {lasted}. The room was off air: this is no air time, and it counts as a failed demand on protect."
    )


def first_sign(part: Row, events: Rows, local: Local) -> str:
    """The earliest trouble logged on the part's machines before air was lost or taken; none where there is none."""
    sign = next((row for row in events if is_sign(row, part)), None)
    if sign is None:
        return ""
    before = duration((part["started_at_utc"] - sign["at_utc"]).total_seconds())
    when = f"{local.time(sign['at_utc'])} ({within(sign['within_s'])}), {before} before"
    return f"The first sign in the window was on {sign['machine']}, {event_words(sign)}, at {when}."


def is_sign(event: Row, part: Row) -> bool:
    """Whether an event is a sign of trouble ahead of the part; a protect machine that stops has only been stopped."""
    if event["event"] not in SIGNS or event["at_utc"] >= part["started_at_utc"]:
        return False
    is_stop = event["event"] == "stop"
    return event["machine"] == part["machine"] or (event["machine"] == part["to_machine"] and not is_stop)


def loss(part: Row, around: Mapping[str, Rows], local: Local) -> str:
    """How air was lost, and what stood behind it just before."""
    at_utc, machine = part["started_at_utc"], part["machine"]
    here = [row for row in around["events"] if row["machine"] == machine and row["at_utc"] == at_utc]
    logged = [row for row in here if row["event"] in SIGNS]
    if logged:
        said = listed([event_words(row) for row in logged])
        how = f"{machine}, on air, logged {said} ({within(logged[0]['within_s'])})"
    elif machine is None or part["is_demand"] is False:
        how = f"the selector was on standby{_stated(part, around['takes'], 'standby')}"
    else:
        how = f"{machine}, on air, was not good"
    return (
        f"{local.when(at_utc)}: air on channel {part['channel']} was lost; {how}. {just_before(part, around['spans'])}"
    )


def _stated(part: Row, takes: Rows, target: str, verb: str = "taken ") -> str:
    """The reason of the take to ``target`` that began it, if one did; ``verb`` where it has not been said yet."""
    begun = [row for row in takes if row["at_utc"] == part["started_at_utc"] and row["to_machine"] == target]
    if not begun:
        return ""
    reason = begun[0]["reason"]
    return f", {verb}with the reason {reason}" if reason else f", {verb}with no reason stated"


def just_before(part: Row, spans: Rows) -> str:
    """The state of air just before the part."""
    before = [
        row
        for row in spans
        if row["channel"] == part["channel"]
        and row["ended_at_utc"] == part["started_at_utc"]
        and row["state"] != "lost"
    ]
    if not before:
        return "No air of this room came just before it, so nothing was covered."
    state, why = before[-1]["state"], before[-1]["exposed_why"]
    return BEFORE.get(state, f"Air had been exposed until then: {EXPOSED.get(why, 'no cover')}.")


def switch_alone(part: Row, local: Local) -> str:
    """A switch with no loss of air."""
    kind = KINDS.get(part["kind"] or "", "a switch")
    stated = f"the stated reason is {part['reason']}" if part["reason"] else "no reason is stated"
    return (
        f"{local.when(part['started_at_utc'])}: on channel {part['channel']} {part['to_machine']} was taken in place "
        f"of {part['machine']}, {kind}; {stated}. No loss of air is logged for it."
    )


def taken(part: Row, takes: Rows) -> str:
    """The first take away from the machine, measured from the onset; where that was to standby, both are told."""
    if part["to_take_s"] is None:
        is_plain = part["onset_at_utc"] is None and part["interruption_no"] is None
        return "No fault and no alarm is logged before the take: it has no onset." if is_plain else ""
    after = f"{duration(part['to_take_s'])} after the onset"
    if not part["is_taken"]:
        return f"No take came: the window or the data ended {after}."
    if part["interruption_no"] is None:
        return f"The take came {after}."
    kind, source = KINDS.get(part["kind"] or "", "a take"), part["to_machine"] or "another source"
    if _is_by_way_of_standby(part, takes):
        return f"Standby was taken {after}, and from there {source}: {kind}."
    return f"{capital(source)} was taken {after}, {kind}."


def _is_by_way_of_standby(part: Row, takes: Rows) -> bool:
    return any(
        row["at_utc"] == part["take_at_utc"] and row["channel"] == part["channel"] and row["to_machine"] == "standby"
        for row in takes
    )


def back(part: Row, local: Local) -> str:
    """When air came back."""
    if not part["is_back"]:
        return f"Air did not come back before the window or the data ended, {duration(part['to_air_s'])} later."
    lost_s, to_air_s = part["lost_s"] or 0.0, part["to_air_s"] or 0.0
    rest = "" if abs(lost_s - to_air_s) < 0.05 else f", {duration(to_air_s)} after it went"
    return f"Air was back at {_clock(part['ended_at_utc'], part, local)}{rest}; {duration(lost_s)} of air lost."


def _clock(at_utc: datetime, part: Row, local: Local) -> str:
    """A time of the account; with its zone where that is not the one the account began in."""
    zone = local.zone_name(at_utc)
    return local.time(at_utc) + (f" {zone}" if zone != local.zone_name(part["started_at_utc"]) else "")


def covered_again(part: Row, local: Local) -> str:
    """When air was covered again; only where it had been covered before."""
    if not part["was_covered"]:
        return ""
    if not part["is_covered_again"] or part["covered_again_at_utc"] is None:
        return "Air was not covered again before the window or the data ended."
    if part["interruption_no"] is None and part["covered_again_at_utc"] == part["ended_at_utc"]:
        return "Air was covered before and after the take."
    after = f", {duration(part['to_cover_s'])} after the onset" if part["to_cover_s"] is not None else ""
    return f"Air was covered again at {_clock(part['covered_again_at_utc'], part, local)}{after}."


def protect_word(part: Row) -> str:
    """What protect did when it was needed."""
    if not part["is_demand"]:
        return ""
    if part["is_met"]:
        return "Protect was needed and met the need."
    absent = "; no protect was there" if part["is_unprotected"] else ""
    if part["is_healed"]:
        return f"Protect was needed, and air came back by itself before any take{absent}: neither met nor failed."
    return f"Protect was needed and did not meet the need{absent}."


def others_signs(part: Row, events: Rows, local: Local) -> str:
    """Trouble logged on other machines of the window while air was lost, where protect did not meet the need."""
    if not part["is_demand"] or part["is_met"]:
        return ""
    signs = [
        row
        for row in events
        if row["event"] in SIGNS and row["machine"] != part["machine"]
        if part["started_at_utc"] <= row["at_utc"] < part["ended_at_utc"]
    ]
    clocks = [f"{_clock(row['at_utc'], part, local)} ({within(row['within_s'])})" for row in signs]
    told = [f"{row['machine']} logged {event_words(row)} at {at}" for row, at in zip(signs, clocks, strict=True)]
    return f"While air was lost, {listed(told)}." if told else ""


def cause_word(part: Row, tickets: Rows) -> str:
    """The cause as the ticket gives it, with its evidence; a ticket on another machine than the one left is said so."""
    if part["ticket"] is None:
        return "No ticket belongs to it; its cause is unknown."
    words = f": {part['words']}" if part["words"] else ""
    second = f", {part['second']}" if part["second"] else ""
    evidence = f"{part['grade'] or 'no evidence'}{words}"
    on = next((row["machine"] for row in tickets if row["ticket"] == part["ticket"]), None) or part["machine"]
    named = f"Ticket {part['ticket']}" + (f" (on {on}, not on {part['machine']})" if on != part["machine"] else "")
    if part["grade"] == "none" or part["top"] in (None, "unknown"):
        why = f": {part['second']}" if part["second"] else ""
        return f"{named} leaves the cause unknown{why}."
    verb = VERBS.get(part["grade"] or "", "gives")
    return f"{named} {verb} the cause: {capital(part['top'] or 'unknown')}{second} ({evidence})."
