"""The account of an incident: sentences built from what is recorded, each with the lines that prove it and every ±."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.render.incident_cause import cause_words, joined, machine_back, ruled_switch, switch_kind
from pipeline.render.incident_cover import just_before, others_signs, protect_word, told_cover
from pipeline.render.incident_together import together
from pipeline.render.language import say
from pipeline.render.moments import Moment, air_back, begun, length_margin, of_event, onset, stamped, taken
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.strip_scene import event_words
from pipeline.render.table_words import reason_word
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
    reason = _stated(start, "other")
    stated = "" if reason is None else f", {say('with the reason {reason}', reason=reason)}"
    if reason == "":
        stated = f", {say('with no reason stated')}"
    text = say(
        "{when} ({margin}): another source, not of this room, was taken on channel {channel} in place of "
        "{machine}{stated}; it stayed for {lasted}.",
        when=local.when(part["started_at_utc"]), margin=start.margin, channel=part["channel"], stated=stated,
        machine=part["machine"] or say("standby"), lasted=lasted + length_margin(start, left),
    )  # fmt: skip
    why = say("The room was off air: this is no air time, and it counts as a failed demand on protect.")
    return [Sentence(text, refs(*start.rows, *left.rows)), Sentence(why, refs(*start.rows))]


def first_sign(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """The earliest trouble logged on the part's machines before air was lost or taken; None where there is none."""
    sign = next((row for row in witness.rows("events") if is_sign(row, part)), None)
    if sign is None:
        return None
    start, moment = begun(part, witness), of_event("", sign)
    before = duration((part["started_at_utc"] - sign["at_utc"]).total_seconds()) + length_margin(moment, start)
    at = told(moment, part, local)
    text = say(
        "The first sign in the window was on {machine}, {event}, at {time}, {before} before.",
        machine=sign["machine"], event=event_words(sign), time=at, before=before,
    )  # fmt: skip
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
        events = listed([event_words(row) for row in logged])
        how = say("{machine}, on air, logged {events}", machine=machine, events=events)
        rows = [*logged, *on_air]
    elif machine is None or part["is_demand"] is False:
        selector = None if any("to_machine" in row for row in start.rows) else witness.selector(part["channel"], at_utc)
        how = _standby(_stated(start, "standby"))
        rows = [*start.rows, *([selector] if selector else [])]
    else:
        bad = witness.bad_words(machine, at_utc)
        how = say("{machine}, on air, was not good", machine=machine)
        how += f": {told_events(bad, part, local)}" if bad else ""
        rows = [*start.rows, *bad, *on_air]
    text = say(
        "{when} ({margin}): air on channel {channel} was lost; {how}.",
        when=local.when(at_utc), margin=start.margin, channel=part["channel"], how=how,
    )  # fmt: skip
    return Sentence(text, refs(*rows))


def _stated(start: Moment, target: str) -> str | None:
    """The reason of the take to ``target`` that began it, empty if it states none; None if no such take did."""
    begun_by = [row for row in start.rows if row.get("to_machine") == target]
    return reason_word(begun_by[0]["reason"] or "") if begun_by else None


def _standby(reason: str | None) -> str:
    if reason is None:
        return say("the selector was on standby")
    if reason:
        return say("the selector was on standby, taken with the reason {reason}", reason=reason)
    return say("the selector was on standby, taken with no reason stated")


def switch_alone(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """A switch with no loss of air."""
    start, at_utc = begun(part, witness), part["started_at_utc"]
    stated = say("no reason is stated")
    if part["reason"]:
        stated = say("the stated reason is {reason}", reason=reason_word(part["reason"]))
    text = say(
        "{when} ({margin}): on channel {channel} {taken} was taken in place of {left}, {kind}; {stated}.",
        when=local.when(at_utc), margin=start.margin, channel=part["channel"], taken=part["to_machine"],
        left=part["machine"], kind=switch_kind(part["kind"]), stated=stated,
    )  # fmt: skip
    words = [word for name in (part["machine"], part["to_machine"]) for word in witness.words(name, at_utc).values()]
    quiet = Sentence(say("No loss of air is logged for it."), refs(*start.rows, *words))
    return [Sentence(text, refs(*start.rows)), quiet]


def told_take(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """The first take away from the machine, measured from the onset; where that was to standby, both are told."""
    first, take = onset(part, witness), taken(part, witness)
    if part["to_take_s"] is None:
        if part["onset_at_utc"] is not None or part["interruption_no"] is not None:
            return None
        words = witness.words(part["machine"], part["started_at_utc"]).values()
        return Sentence(say("No fault and no alarm is logged before the take: it has no onset."), refs(*words))
    if not part["is_taken"] or take is None or first is None:
        booked = witness.booked(part["started_at_utc"], channel=part["channel"])
        text = say(
            "No take came: the window or the data ended {length} after the onset.", length=duration(part["to_take_s"])
        )
        return Sentence(text, refs(*(first.rows if first else ()), *booked))
    length = duration(part["to_take_s"]) + length_margin(first, take)
    after = say("at {time}, {length} after the onset", time=told(take, part, local), length=length)
    return _taken_after(part, witness, take, (after, (*take.rows, *first.rows)))


def _taken_after(part: Row, witness: Witness, take: Moment, onset_told: tuple[str, tuple[Row, ...]]) -> Sentence:
    after, rows = onset_told
    if part["interruption_no"] is None:
        return Sentence(say("The take came {after}.", after=after), refs(*rows))
    kind, source = switch_kind(part["kind"], otherwise=say("a take")), part["to_machine"] or say("another source")
    if any(row["to_machine"] == "standby" for row in witness.takes_at(part["channel"], take.at_utc)):
        on = [row for row in witness.rows("takes") if _is_on(row, part, take)]
        text = say("Standby was taken {after}, and from there {source}: {kind}.", after=after, source=source, kind=kind)
        return Sentence(text, refs(*rows, *on[:1]))
    text = say("{source} was taken {after}, {kind}.", source=capital(source), after=after, kind=kind)
    return Sentence(text, refs(*rows))


def _is_on(row: Row, part: Row, take: Moment) -> bool:
    """Whether a take leads on to the machine taken in the end."""
    is_later = row["channel"] == part["channel"] and row["at_utc"] >= take.at_utc
    return bool(is_later and row["to_machine"] == part["to_machine"])


def back(part: Row, witness: Witness, local: Local) -> Sentence:
    """When air came back."""
    start, again = begun(part, witness), air_back(part, witness)
    if again is None:
        booked = witness.booked(part["ended_at_utc"], channel=part["channel"])
        text = say(
            "Air did not come back before the window or the data ended, {length} later.",
            length=duration(part["to_air_s"]),
        )
        return Sentence(text, refs(*start.rows, *booked))
    lost_s, to_air_s = part["lost_s"] or 0.0, part["to_air_s"] or 0.0
    margin = length_margin(start, again)
    at, lost = told(again, part, local), duration(lost_s)
    if abs(lost_s - to_air_s) < SETTLED_S:
        text = say("Air was back at {time}; {lost} of air lost{margin}.", time=at, lost=lost, margin=margin)
    else:
        text = say(
            "Air was back at {time}, {length} after it went; {lost} of air lost{margin}.",
            time=at, length=duration(to_air_s), lost=lost, margin=margin,
        )  # fmt: skip
    return Sentence(text, refs(*again.rows, *start.rows))
