"""The account of an incident: sentences built from what is recorded, each with the lines that prove it and every ±."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.render.incident_cause import KINDS, cause_words, joined, machine_back, ruled_switch
from pipeline.render.incident_cover import just_before, others_signs, protect_word, told_cover
from pipeline.render.incident_together import together
from pipeline.render.moments import Moment, air_back, begun, length_margin, of_event, onset, stamped, taken
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.strip_scene import event_words
from pipeline.render.told_times import told, told_events
from pipeline.render.witness import BAD, FAULTS, Witness
from pipeline.render.words import Local, capital, duration, listed

SIGNS = BAD | FAULTS
SETTLED_S = 0.05  # a length that differs by less from another is not told beside it


def account(part: Row, around: Mapping[str, Rows], local: Local, *, is_first: bool = True) -> list[Sentence]:
    """The sentences of one part: onset, take, air back, cover, what protect did, what else failed, machine back, cause.

    ``around`` holds the rows of the incident's window by table; instants naive UTC, shown local. The first sign is told
    with the first part only.
    """
    witness = Witness(around)
    if part["recovery_no"] is None:
        return rescue(part, witness, local)
    sentences = [first_sign(part, witness, local)] if is_first else []
    if part["interruption_no"] is None:
        sentences += [*switch_alone(part, witness, local), told_take(part, witness, local)]
    else:
        sentences += [loss(part, witness, local), just_before(part, witness, local)]
        sentences += [told_take(part, witness, local), back(part, witness, local)]
    sentences += [ruled_switch(part, witness, local), told_cover(part, witness, local), protect_word(part, witness)]
    sentences += [others_signs(part, witness, local), *together(part, witness, local)]
    sentences += [*machine_back(part, witness, local), *cause_words(part, witness, local)]
    sentences.append(joined(part, witness, local))
    return [sentence for sentence in sentences if sentence is not None]


def rescue(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """Another source in the room's place."""
    start = begun(part, witness)
    left = stamped("", part["ended_at_utc"], witness.takes_at(part["channel"], part["ended_at_utc"]), [])
    lasted = duration((part["ended_at_utc"] - part["started_at_utc"]).total_seconds())
    text = (
        f"{local.when(part['started_at_utc'])} ({start.margin}): another source, not of this room, was taken on "
        f"channel {part['channel']} in place of {part['machine'] or 'standby'}{_stated(start, 'other', '')}; it "
        f"stayed for {lasted}{length_margin(start, left)}."
    )
    why = "The room was off air: this is no air time, and it counts as a failed demand on protect."
    return [Sentence(text, refs(*start.rows, *left.rows)), Sentence(why, refs(*start.rows))]


def first_sign(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """The earliest trouble logged on the part's machines before air was lost or taken; None where there is none."""
    sign = next((row for row in witness.rows("events") if is_sign(row, part)), None)
    if sign is None:
        return None
    start, moment = begun(part, witness), of_event("", sign)
    before = duration((part["started_at_utc"] - sign["at_utc"]).total_seconds()) + length_margin(moment, start)
    at = told(moment, part, local)
    text = f"The first sign in the window was on {sign['machine']}, {event_words(sign)}, at {at}, {before} before."
    return Sentence(text, refs(sign, *start.rows))


def is_sign(event: Row, part: Row) -> bool:
    """Whether an event is a sign of trouble ahead of the part; a protect machine that stops has only been stopped."""
    if event["event"] not in SIGNS or event["at_utc"] >= part["started_at_utc"]:
        return False
    is_stop = event["event"] == "stop"
    return event["machine"] == part["machine"] or (event["machine"] == part["to_machine"] and not is_stop)


def loss(part: Row, witness: Witness, local: Local) -> Sentence:
    """How air was lost."""
    at_utc, machine, start = part["started_at_utc"], part["machine"], begun(part, witness)
    logged = [row for row in witness.events_at(machine, at_utc) if row["event"] in SIGNS]
    on_air = witness.on_air(part["channel"], machine, at_utc)
    if logged:
        how, rows = f"{machine}, on air, logged {listed([event_words(row) for row in logged])}", [*logged, *on_air]
    elif machine is None or part["is_demand"] is False:
        selector = None if any("to_machine" in row for row in start.rows) else witness.selector(part["channel"], at_utc)
        how = f"the selector was on standby{_stated(start, 'standby', 'taken ')}"
        rows = [*start.rows, *([selector] if selector else [])]
    else:
        bad = witness.bad_words(machine, at_utc)
        said = f": {told_events(bad, part, local)}" if bad else ""
        how, rows = f"{machine}, on air, was not good{said}", [*start.rows, *bad, *on_air]
    text = f"{local.when(at_utc)} ({start.margin}): air on channel {part['channel']} was lost; {how}."
    return Sentence(text, refs(*rows))


def _stated(start: Moment, target: str, verb: str) -> str:
    """The reason of the take to ``target`` that began it, if one did; ``verb`` where it has not been said yet."""
    begun_by = [row for row in start.rows if row.get("to_machine") == target]
    if not begun_by:
        return ""
    reason = begun_by[0]["reason"]
    return f", {verb}with the reason {reason}" if reason else f", {verb}with no reason stated"


def switch_alone(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """A switch with no loss of air."""
    start, at_utc = begun(part, witness), part["started_at_utc"]
    kind = KINDS.get(part["kind"] or "", "a switch")
    stated = f"the stated reason is {part['reason']}" if part["reason"] else "no reason is stated"
    text = (
        f"{local.when(at_utc)} ({start.margin}): on channel {part['channel']} {part['to_machine']} was taken in "
        f"place of {part['machine']}, {kind}; {stated}."
    )
    words = [word for name in (part["machine"], part["to_machine"]) for word in witness.words(name, at_utc).values()]
    quiet = Sentence("No loss of air is logged for it.", refs(*start.rows, *words))
    return [Sentence(text, refs(*start.rows)), quiet]


def told_take(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """The first take away from the machine, measured from the onset; where that was to standby, both are told."""
    first, take = onset(part, witness), taken(part, witness)
    if part["to_take_s"] is None:
        if part["onset_at_utc"] is not None or part["interruption_no"] is not None:
            return None
        words = witness.words(part["machine"], part["started_at_utc"]).values()
        return Sentence("No fault and no alarm is logged before the take: it has no onset.", refs(*words))
    if not part["is_taken"] or take is None or first is None:
        booked = witness.booked(part["started_at_utc"], channel=part["channel"])
        after = f"{duration(part['to_take_s'])} after the onset"
        rows = first.rows if first else ()
        return Sentence(f"No take came: the window or the data ended {after}.", refs(*rows, *booked))
    after = f"at {told(take, part, local)}, {duration(part['to_take_s'])}{length_margin(first, take)} after the onset"
    rows = (*take.rows, *first.rows)
    if part["interruption_no"] is None:
        return Sentence(f"The take came {after}.", refs(*rows))
    kind, source = KINDS.get(part["kind"] or "", "a take"), part["to_machine"] or "another source"
    if any(row["to_machine"] == "standby" for row in witness.takes_at(part["channel"], take.at_utc)):
        on = [row for row in witness.rows("takes") if _is_on(row, part, take)]
        return Sentence(f"Standby was taken {after}, and from there {source}: {kind}.", refs(*rows, *on[:1]))
    return Sentence(f"{capital(source)} was taken {after}, {kind}.", refs(*rows))


def _is_on(row: Row, part: Row, take: Moment) -> bool:
    """Whether a take leads on to the machine taken in the end."""
    is_later = row["channel"] == part["channel"] and row["at_utc"] >= take.at_utc
    return bool(is_later and row["to_machine"] == part["to_machine"])


def back(part: Row, witness: Witness, local: Local) -> Sentence:
    """When air came back."""
    start, again = begun(part, witness), air_back(part, witness)
    if again is None:
        booked = witness.booked(part["ended_at_utc"], channel=part["channel"])
        text = f"Air did not come back before the window or the data ended, {duration(part['to_air_s'])} later."
        return Sentence(text, refs(*start.rows, *booked))
    lost_s, to_air_s = part["lost_s"] or 0.0, part["to_air_s"] or 0.0
    margin = length_margin(start, again)
    rest = "" if abs(lost_s - to_air_s) < SETTLED_S else f", {duration(to_air_s)} after it went"
    text = f"Air was back at {told(again, part, local)}{rest}; {duration(lost_s)} of air lost{margin}."
    return Sentence(text, refs(*again.rows, *start.rows))
