"""Why it happened, as far as a ticket says, on which side that lies, when the machine was back, and what was ruled."""

from __future__ import annotations

from pipeline.render.moments import good_again, length_margin, onset, restored
from pipeline.render.reading import Row
from pipeline.render.sentences import Sentence, refs
from pipeline.render.strip_scene import event_words
from pipeline.render.told_times import told
from pipeline.render.witness import Witness
from pipeline.render.words import Local, capital, duration

KINDS = {
    "forced": "a forced switch",
    "precaution": "a switch made as a precaution",
    "unexplained": "a switch that nothing explains",
    "planned": "a planned switch",
    "return": "a return",
}
VERBS = {"stated": "states", "proved by swap": "shows", "guessed from words": "suggests"}
PLAYED = "on the play side, with {machine}"
RECORDED = "on the record side, with the machine that made the recording"
# Where a cause lies, by both levels or by the first; what is not listed is told by no ticket.
SIDES = {
    ("tape and recording", "recorded wrong"): RECORDED,
    ("tape and recording", "interchange"): "between the machine that recorded and {machine}",
    ("tape and recording", ""): "with the tape or its recording, not with {machine}",
    ("heads and tape path", ""): PLAYED,
    ("signal electronics", ""): PLAYED,
    ("servo and time base", "reference lost"): "outside the machine, in the reference",
    ("servo and time base", ""): PLAYED,
    ("cooling, air and power", "mains"): "outside the machine, in the mains",
    ("cooling, air and power", "room"): "outside the machine, in the room",
    ("cooling, air and power", ""): PLAYED,
    ("routing and feeds", ""): "outside the machine, in the way of the signal",
}


def cause_words(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """The cause as the ticket gives it, with its evidence; a ticket on another machine than the one left is said so."""
    ticket = next((row for row in witness.rows("tickets") if row["ticket"] == part["ticket"]), None)
    if part.get("cause_ruling"):
        return [_ruled(part, ticket, witness, local)]
    if part["ticket"] is None:
        return [Sentence("No ticket belongs to it; its cause is unknown.")]
    words = f": {part['words']}" if part["words"] else ""
    second = f", {part['second']}" if part["second"] else ""
    on = (ticket or {}).get("machine") or part["machine"]
    named = f"Ticket {part['ticket']}" + (f" (on {on}, not on {part['machine']})" if on != part["machine"] else "")
    if part["grade"] == "none" or part["top"] in (None, "unknown"):
        why = f": {part['second']}" if part["second"] else ""
        return [Sentence(f"{named} leaves the cause unknown{why}.", refs(ticket))]
    verb = VERBS.get(part["grade"] or "", "gives")
    text = f"{named} {verb} the cause: {capital(part['top'])}{second} ({part['grade'] or 'no evidence'}{words})."
    return [Sentence(text, refs(ticket)), *_side(part, ticket)]


def _side(part: Row, ticket: Row | None) -> list[Sentence]:
    """On which side the cause lies, and what the fault followed where a swap proved it."""
    side = SIDES.get((part["top"], part["second"] or "")) or SIDES.get((part["top"], ""))
    if side is None:
        return []
    side = side.format(machine=(ticket or {}).get("machine") or part["machine"])
    if part["grade"] == "proved by swap":
        return [Sentence(f"A swap proved it: the fault went with what those words name, {side}.", refs(ticket))]
    return [Sentence(f"By that it lies {side}.", refs(ticket))]


def _ruled(part: Row, ticket: Row | None, witness: Witness, local: Local) -> Sentence:
    """A cause that a person ruled, and what the program had found."""
    by, rows = ruling_words(part, part["cause_ruling"], witness, local)
    found = _cause(part.get("found_top"), part.get("found_second"))
    grade = f" ({part['found_grade']})" if part.get("found_grade") not in (None, "none") else ""
    text = f"The cause was ruled to be {_cause(part['top'], part['second'])}{by}; the program found {found}{grade}."
    return Sentence(text, refs(*rows, ticket))


def _cause(top: str | None, second: str | None) -> str:
    return capital(top or "unknown") + (f", {second}" if second else "")


def ruling_words(part: Row, ruling: str, witness: Witness, local: Local) -> tuple[str, list[Row]]:
    """In brackets a ruling's id, when it was decided and why, and its rows."""
    rows = [
        row for row in witness.rows("ruled") if row["ruling"] == ruling and row["event_key"] == part.get("event_key")
    ]
    decided = f", decided {local.stamp(rows[0]['decided_at_utc'])}" if rows and rows[0]["decided_at_utc"] else ""
    why = f": {rows[0]['why']}" if rows and rows[0]["why"] else ""
    return f" (ruling {ruling}{decided}{why})", rows


def ruled_switch(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """What a person ruled the switch to be, and what the program had found."""
    if not part.get("switch_ruling") or part.get("found_kind") is None:
        return None
    by, rows = ruling_words(part, part["switch_ruling"], witness, local)
    ruled, found = KINDS.get(part["kind"] or "", "a switch"), KINDS.get(part["found_kind"], "a switch")
    return Sentence(f"It was ruled to be {ruled}{by}; the program found {found}.", refs(*rows))


def joined(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """That a person ruled the part to belong to this incident, which the program had found to be another's."""
    if not part.get("joined_by"):
        return None
    by, rows = ruling_words(part, part["joined_by"], witness, local)
    found = part.get("found_incident")
    apart = f"; the program found it to be incident {found}" if found and found != part.get("incident") else ""
    return Sentence(f"It was ruled to belong to this incident{by}{apart}.", refs(*rows))


def machine_back(part: Row, witness: Witness, local: Local) -> list[Sentence]:
    """When the machine left was back: by its own line, by the ticket's word, or that neither says so."""
    again, mended, first = good_again(part, witness), restored(part, witness), onset(part, witness)
    found = []
    if again is not None and first is not None:
        since = max(first.at_utc, part["started_at_utc"]) if part["interruption_no"] is not None else first.at_utc
        after = f"{duration((again.at_utc - since).total_seconds())}{length_margin(first, again)} after "
        after += "the onset" if since == first.at_utc else "air was lost"
        text = f"{part['machine']} was logged good again at {told(again, part, local)}, {after}, by the line"
        found.append(Sentence(f"{text} {event_words(again.rows[0])}.", refs(*again.rows, *first.rows)))
    if mended is not None:
        machine = mended.rows[0]["machine"] or "the machine"
        at = f"{local.date(mended.at_utc)} at {local.time(mended.at_utc)} {local.zone_name(mended.at_utc)}"
        text = f"Ticket {part['ticket']} says that {machine} was restored on {at} (as the ticket says)."
        found.append(Sentence(text, refs(*mended.rows)))
    if not found and first is not None and part["machine"]:
        found.append(Sentence(f"No line and no ticket says when {part['machine']} was good again.", refs(*first.rows)))
    return found
