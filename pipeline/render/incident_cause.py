"""Why it happened, as far as a ticket says, on which side that lies, when the machine was back, and what was ruled."""

from __future__ import annotations

from pipeline.render.cause_names import cause_word
from pipeline.render.language import say
from pipeline.render.moments import good_again, length_margin, onset, restored
from pipeline.render.reading import Row
from pipeline.render.sentences import Sentence, refs
from pipeline.render.strip_scene import event_words
from pipeline.render.table_words import grade_word
from pipeline.render.told_times import told
from pipeline.render.witness import Witness
from pipeline.render.words import Local, capital, duration

# Where a cause lies, by both levels or by the first; what is not listed is told by no ticket.
SIDES = {
    ("tape and recording", "recorded wrong"): "record",
    ("tape and recording", "interchange"): "between",
    ("tape and recording", ""): "tape",
    ("heads and tape path", ""): "play",
    ("signal electronics", ""): "play",
    ("servo and time base", "reference lost"): "reference",
    ("servo and time base", ""): "play",
    ("cooling, air and power", "mains"): "mains",
    ("cooling, air and power", "room"): "room",
    ("cooling, air and power", ""): "play",
    ("routing and feeds", ""): "way",
}


def switch_kind(kind: str | None, *, otherwise: str = "") -> str:
    """A kind of switch in a sentence; ``otherwise``, or "a switch", where it has none."""
    known = {
        "forced": say("a forced switch"),
        "precaution": say("a switch made as a precaution"),
        "unexplained": say("a switch that nothing explains"),
        "planned": say("a planned switch"),
        "return": say("a return"),
    }
    return known.get(kind or "", otherwise or say("a switch"))


def cause_words(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """The cause as the ticket gives it, with its evidence; a ticket on another machine than the one left is said so."""
    ticket = next((row for row in witness.rows("tickets") if row["ticket"] == part["ticket"]), None)
    if part.get("cause_ruling"):
        return [_ruled(part, ticket, witness, local)]
    if part["ticket"] is None:
        return [Sentence(say("No ticket belongs to it; its cause is unknown."))]
    if part["grade"] == "none" or part["top"] in (None, "unknown"):
        why = f": {cause_word(part['second'])}" if part["second"] else ""
        text = say("{ticket} leaves the cause unknown{why}.", ticket=_named(part, ticket), why=why)
        return [Sentence(text, refs(ticket))]
    return [Sentence(_given(part, _named(part, ticket)), refs(ticket)), *_side(part, ticket)]


def _named(part: Row, ticket: Row | None) -> str:
    """The part's ticket; with both machines where it was written on another than the one left."""
    on = (ticket or {}).get("machine") or part["machine"]
    if on == part["machine"]:
        return say("Ticket {ticket}", ticket=part["ticket"])
    return say("Ticket {ticket} (on {on}, not on {left})", ticket=part["ticket"], on=on, left=part["machine"])


def _given(part: Row, ticket: str) -> str:
    """The cause a ticket gives, in the word that its evidence bears, and the ticket's own words."""
    cause = _cause(part["top"], part["second"])
    words = f": {part['words']}" if part["words"] else ""
    evidence = (grade_word(part["grade"]) if part["grade"] else say("no evidence")) + words
    told = {
        "stated": say(
            "{ticket} states the cause: {cause} ({evidence}).", ticket=ticket, cause=cause, evidence=evidence
        ),
        "proved by swap": say(
            "{ticket} shows the cause: {cause} ({evidence}).", ticket=ticket, cause=cause, evidence=evidence
        ),
        "guessed from words": say(
            "{ticket} suggests the cause: {cause} ({evidence}).", ticket=ticket, cause=cause, evidence=evidence
        ),
    }
    otherwise = say("{ticket} gives the cause: {cause} ({evidence}).", ticket=ticket, cause=cause, evidence=evidence)
    return told.get(part["grade"] or "", otherwise)


def _side(part: Row, ticket: Row | None) -> list[Sentence]:
    """On which side the cause lies, and what the fault followed where a swap proved it."""
    lies = SIDES.get((part["top"], part["second"] or "")) or SIDES.get((part["top"], ""))
    if lies is None:
        return []
    side = _side_words((ticket or {}).get("machine") or part["machine"])[lies]
    if part["grade"] == "proved by swap":
        text = say("A swap proved it: the fault went with what those words name, {side}.", side=side)
        return [Sentence(text, refs(ticket))]
    return [Sentence(say("By that it lies {side}.", side=side), refs(ticket))]


def _side_words(machine: str) -> dict[str, str]:
    return {
        "record": say("on the record side, with the machine that made the recording"),
        "between": say("between the machine that recorded and {machine}", machine=machine),
        "tape": say("with the tape or its recording, not with {machine}", machine=machine),
        "play": say("on the play side, with {machine}", machine=machine),
        "reference": say("outside the machine, in the reference"),
        "mains": say("outside the machine, in the mains"),
        "room": say("outside the machine, in the room"),
        "way": say("outside the machine, in the way of the signal"),
    }


def _ruled(part: Row, ticket: Row | None, witness: Witness, local: Local) -> Sentence:
    """A cause that a person ruled, and what the program had found."""
    by, rows = ruling_words(part, part["cause_ruling"], witness, local)
    found = _cause(part.get("found_top"), part.get("found_second"))
    found += f" ({grade_word(part['found_grade'])})" if part.get("found_grade") not in (None, "none") else ""
    cause = _cause(part["top"], part["second"])
    text = say("The cause was ruled to be {cause}{by}; the program found {found}.", cause=cause, by=by, found=found)
    return Sentence(text, refs(*rows, ticket))


def _cause(top: str | None, second: str | None) -> str:
    return capital(cause_word(top or "unknown")) + (f", {cause_word(second)}" if second else "")


def ruling_words(part: Row, ruling: str, witness: Witness, local: Local) -> tuple[str, list[Row]]:
    """In brackets a ruling's id, when it was decided and why, and its rows."""
    rows = [
        row for row in witness.rows("ruled") if row["ruling"] == ruling and row["event_key"] == part.get("event_key")
    ]
    why = f": {rows[0]['why']}" if rows and rows[0]["why"] else ""
    if rows and rows[0]["decided_at_utc"]:
        decided = local.stamp(rows[0]["decided_at_utc"])
        return say(" (ruling {ruling}, decided {decided}{why})", ruling=ruling, decided=decided, why=why), rows
    return say(" (ruling {ruling}{why})", ruling=ruling, why=why), rows


def ruled_switch(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """What a person ruled the switch to be, and what the program had found."""
    if not part.get("switch_ruling") or part.get("found_kind") is None:
        return None
    by, rows = ruling_words(part, part["switch_ruling"], witness, local)
    ruled, found = switch_kind(part["kind"]), switch_kind(part["found_kind"])
    text = say("It was ruled to be {ruled}{by}; the program found {found}.", ruled=ruled, by=by, found=found)
    return Sentence(text, refs(*rows))


def joined(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """That a person ruled the part to belong to this incident, which the program had found to be another's."""
    if not part.get("joined_by"):
        return None
    by, rows = ruling_words(part, part["joined_by"], witness, local)
    found = part.get("found_incident")
    if found and found != part.get("incident"):
        text = say(
            "It was ruled to belong to this incident{by}; the program found it to be incident {found}.",
            by=by, found=found,
        )  # fmt: skip
    else:
        text = say("It was ruled to belong to this incident{by}.", by=by)
    return Sentence(text, refs(*rows))


def machine_back(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """When the machine left was back: by its own line, by the ticket's word, or that neither says so."""
    again, mended, first = good_again(part, witness), restored(part, witness), onset(part, witness)
    found = []
    if again is not None and first is not None:
        since = max(first.at_utc, part["started_at_utc"]) if part["interruption_no"] is not None else first.at_utc
        length = duration((again.at_utc - since).total_seconds()) + length_margin(first, again)
        is_onset = since == first.at_utc
        after = (
            say("{length} after the onset", length=length)
            if is_onset
            else say("{length} after air was lost", length=length)
        )
        text = say(
            "{machine} was logged good again at {time}, {after}, by the line {event}.",
            machine=part["machine"], time=told(again, part, local), after=after, event=event_words(again.rows[0]),
        )  # fmt: skip
        found.append(Sentence(text, refs(*again.rows, *first.rows)))
    if mended is not None:
        machine, at_utc = mended.rows[0]["machine"] or say("the machine"), mended.at_utc
        text = say(
            "Ticket {ticket} says that {machine} was restored on {date} at {time} {zone} (as the ticket says).",
            ticket=part["ticket"], machine=machine, date=local.date(at_utc), time=local.time(at_utc),
            zone=local.zone_name(at_utc),
        )  # fmt: skip
        found.append(Sentence(text, refs(*mended.rows)))
    if not found and first is not None and part["machine"]:
        text = say("No line and no ticket says when {machine} was good again.", machine=part["machine"])
        found.append(Sentence(text, refs(*first.rows)))
    return found
