"""What stood behind air, told from the lines: covered just before, when again, and what protect did when needed."""

from __future__ import annotations

from pipeline.render.language import say
from pipeline.render.moments import air_back, begun, covered_again, length_margin, of_event, onset, other_faults, taken
from pipeline.render.reading import Row, Rows
from pipeline.render.sentences import Sentence, refs
from pipeline.render.told_times import logged_at, offset_words, told, told_events
from pipeline.render.witness import BAD, FAULTS, Witness
from pipeline.render.words import Local, duration, listed


def just_before(part: Row, witness: Witness, local: Local) -> Sentence:
    """The state of air just before the part, and which machine covered, or why none did."""
    spans = [
        row
        for row in witness.rows("spans")
        if row["channel"] == part["channel"]
        and row["ended_at_utc"] == part["started_at_utc"]
        and row["state"] != "lost"
    ]
    if not spans:
        edges = witness.booked(part["started_at_utc"], channel=part["channel"])
        return Sentence(say("No air of this room came just before it, so nothing was covered."), refs(*edges))
    span = spans[-1] | {"feed": spans[-1].get("feed") or part["machine"]}
    if span["state"] == "covered":
        return _covered(part, span, witness, local)
    on_air = witness.on_air(part["channel"], span["feed"], part["started_at_utc"], is_before=True)
    not_covered = {
        "unproved": say("A protect was there until then, but nothing logged proves that it covered."),
        "unknown": say("What was on air until then is not known."),
    }
    if span["state"] in not_covered:
        booked = witness.booked(part["started_at_utc"], channel=part["channel"])
        words = witness.words(span["feed"], part["started_at_utc"], is_before=True).values()
        return Sentence(not_covered[span["state"]], refs(*on_air, *booked, *words))
    return _exposed(part, span, witness, local)


def _covered(part: Row, span: Row, witness: Witness, local: Local) -> Sentence:
    covers = list(witness.covers(span["feed"], part["started_at_utc"], is_before=True))
    behind = []
    for cover in covers:
        if cover.offset is not None:
            words = say(
                "{machine} was good, and the last offset between it and {feed} was {offset}, at {time}",
                machine=cover.machine, feed=span["feed"], offset=offset_words(cover.offset),
                time=told(of_event("", cover.offset), part, local),
            )  # fmt: skip
            behind.append(words)
    text = say("Air had been covered until then.")
    if behind:
        text = say("Air had been covered until then: {how}.", how="; ".join(behind))
    return Sentence(text, refs(*[row for cover in covers for row in cover.rows]))


def _exposed(part: Row, span: Row, witness: Witness, local: Local) -> Sentence:
    """Why air was exposed, with the words of each machine that should have stood behind it."""
    at_utc, feed, why = part["started_at_utc"], span["feed"], span["exposed_why"]
    booked = witness.booked(at_utc, channel=part["channel"])
    others = dict.fromkeys(row["machine"] for row in booked if row["machine"] != feed)
    found: list[tuple[str, Rows]] = []
    for machine in others:
        if why == "not good":
            bad = witness.bad_words(machine, at_utc, is_before=True)
            found += [(f"{machine}: {told_events(bad, part, local)}", bad)] if bad else []
        elif why == "out of step" and (row := witness.offset(feed, machine, at_utc, is_before=True)) is not None:
            words = say(
                "the last offset between {machine} and {feed} was {offset}, at {time}",
                machine=machine, feed=feed, offset=offset_words(row), time=told(of_event("", row), part, local),
            )  # fmt: skip
            found.append((words, [row]))
    rows = [row for _, proof in found for row in proof] or booked
    how = f" ({'; '.join(words for words, _ in found)})" if found else ""
    return Sentence(say("Air had been exposed until then: {why}.", why=_why(why) + how), refs(*rows))


def _why(exposed_why: str | None) -> str:
    known = {
        "none booked": say("no protect was booked"),
        "not good": say("protect was not good"),
        "out of step": say("protect was out of step"),
    }
    return known.get(exposed_why or "", say("no cover"))


def told_cover(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """When air was covered again, or covered at all where it had not been before."""
    again = covered_again(part, witness)
    booked = witness.booked(part["started_at_utc"], channel=part["channel"])
    if again is None and not part["was_covered"]:
        return None
    if again is None:
        return Sentence(say("Air was not covered again before the window or the data ended."), refs(*booked))
    feed = _feed(part, witness, again.at_utc)
    proof = [row for cover in witness.covers(feed, again.at_utc) for row in cover.rows]
    if not proof:  # a machine that was brought in after the incident: its words until then
        named = {feed, *(row.get("machine") for row in again.rows)}
        words = [row for row in witness.rows("again_words") if row["event_key"] == part.get("event_key")]
        proof = [row for row in words if row["machine"] in named]
    if not part["was_covered"]:
        text = say("Air was covered from {time} on.", time=told(again, part, local))
        return Sentence(text, refs(*again.rows, *proof))
    if part["interruption_no"] is None and again.at_utc == part["ended_at_utc"]:
        return Sentence(say("Air was covered before and after the take."), refs(*again.rows, *proof))
    first, at = onset(part, witness), told(again, part, local)
    text = say("Air was covered again at {time}.", time=at)
    if part["to_cover_s"] is not None and first is not None:
        length = duration(part["to_cover_s"]) + length_margin(first, again)
        text = say("Air was covered again at {time}, {length} after the onset.", time=at, length=length)
    return Sentence(text, refs(*again.rows, *proof))


def _feed(part: Row, witness: Witness, at_utc: object) -> str:
    feeds = [
        row["feed"]
        for row in witness.rows("feeds")
        if row["channel"] == part["channel"] and row["started_at_utc"] <= at_utc < row["ended_at_utc"]
    ]
    return str(feeds[-1] if feeds else part["to_machine"] or part["machine"])


def protect_word(part: Row, witness: Witness) -> Sentence | None:
    """What protect did when it was needed."""
    if not part["is_demand"]:
        return None
    start, back, take = begun(part, witness), air_back(part, witness), taken(part, witness)
    rows = [*start.rows, *(take.rows if take else ()), *(back.rows if back else ())]
    if part["is_met"]:
        covers = witness.covers(part["machine"], part["started_at_utc"], is_before=True)
        offsets = [cover.offset for cover in covers if cover.offset is not None]
        return Sentence(say("Protect was needed and met the need."), refs(*rows, *offsets))
    absent = say("; no protect was there") if part["is_unprotected"] else ""
    rows += witness.booked(part["started_at_utc"], channel=part["channel"]) if absent else []
    if part["is_healed"] and take:
        text = say(
            "Protect was needed, and no take brought air back, it came by itself{absent}: neither met nor failed.",
            absent=absent,
        )
    elif part["is_healed"]:
        text = say(
            "Protect was needed, and air came back by itself before any take{absent}: neither met nor failed.",
            absent=absent,
        )
    else:
        text = say("Protect was needed and did not meet the need{absent}.", absent=absent)
    return Sentence(text, refs(*rows))


def others_signs(part: Row, witness: Witness, local: Local) -> Sentence | None:
    """Trouble logged on other machines of the window while air was lost, where protect did not meet the need."""
    if not part["is_demand"] or part["is_met"]:
        return None
    at_once = {moment.rows[0]["line"] for moment in other_faults(part, witness)}  # told by themselves
    signs = [
        row
        for row in witness.rows("events")
        if row["event"] in BAD | FAULTS and row["machine"] != part["machine"] and row["line"] not in at_once
        if part["started_at_utc"] <= row["at_utc"] < part["ended_at_utc"]
    ]
    words = [logged_at(of_event("", row), part, local) for row in signs]
    return Sentence(say("While air was lost, {events}.", events=listed(words)), refs(*signs)) if words else None
